"""What the watcher's choices do to the replay's state."""

import numpy as np
import pytest

from viz.replay.player import ACTIONS, LARGER, SPEEDS, TIME, Player
from viz.replay.window import KEYS


@pytest.fixture
def player(replay):
    made = Player.opened(replay)
    made.do("start")
    return made


def test_it_opens_playing_with_four_set_ups(replay):
    player = Player.opened(replay)
    assert player.chosen == [0, 1, 2, 3]
    assert player.playing


def test_it_goes_as_fast_as_it_was_driven(player):
    player.advance(2.0)
    assert player.clock == pytest.approx(2.0, rel=1e-12, abs=0)
    assert player.station == pytest.approx(3.0, rel=0, abs=1e-6)
    player.do("faster")
    player.advance(1.0)
    assert player.clock == pytest.approx(4.0, rel=1e-12, abs=0)
    player.do("play")
    player.advance(1.0)
    assert player.clock == pytest.approx(4.0, rel=1e-12, abs=0)


def test_speeds_end_at_a_tenth_and_at_twenty(player):
    for action, last in (("slower", 0.1), ("faster", 20.0)):
        for _ in range(len(SPEEDS) + 2):
            player.do(action)
        assert player.speed == last


def test_it_stops_at_the_end_and_begins_anew(player):
    player.speed = 20.0
    player.advance(10.0)
    assert player.ended
    assert not player.playing
    player.do("play")
    assert player.clock == 0.0
    assert player.playing


def test_one_stored_sample_at_a_time(player):
    player.do("step")
    player.do("step")
    assert not player.playing
    assert player.rows == pytest.approx([2.0] * 4, rel=0, abs=1e-9)
    player.clock += 0.007
    player.do("step back")
    assert player.rows[0] == pytest.approx(2.0, rel=0, abs=1e-9)


def test_jumps_by_a_metre_and_to_the_ends(player):
    player.do("forth")
    assert player.station == pytest.approx(1.0, rel=0, abs=1e-9)
    player.do("back")
    player.do("back")
    assert player.station == 0.0
    player.do("end")
    assert player.ended


def test_in_step_by_distance_or_by_time(replay):
    """A drive at half the pace stands at the same place in step by distance, and at half the way in step by time."""
    from dataclasses import replace

    slow = replace(replay.drives[1], time=2 * replay.drives[1].time)
    both = replace(replay, drives=(replay.drives[0], slow))
    player = Player.opened(both)
    player.jump(6.0)

    def stations():
        return [both.drives[i].at(row).station for i, row in zip(player.chosen, player.rows, strict=True)]

    assert stations() == pytest.approx([6.0, 6.0], rel=1e-6, abs=0)
    player.do("in step")
    assert player.in_step == TIME
    player.clock = 4.0
    assert stations() == pytest.approx([6.0, 3.0], rel=1e-6, abs=0)
    assert player.last == pytest.approx(float(slow.time[-1]), rel=1e-12, abs=0)


def test_set_ups_come_and_go_but_never_more_than_four_or_none(player):
    player.jump(7.0)
    player.choose(4)
    assert player.chosen == [0, 1, 2, 3]
    assert "4 at once" in player.message
    player.choose(0)
    player.choose(4)
    assert player.chosen == [1, 2, 3, 4]
    assert player.message == ""
    for index in (1, 2, 3, 4, 99):
        player.choose(index)
    assert player.chosen == [4]
    assert player.station == pytest.approx(7.0, rel=0, abs=1e-6)


def test_shows_and_angles(player):
    for show in ("lines", "loads"):
        before = show in player.shows
        player.do(show)
        assert (show in player.shows) != before
    seen = {player.larger}
    for _ in LARGER:
        player.do("larger")
        seen.add(player.larger)
    assert seen == set(LARGER)


def test_zoom_has_ends(player):
    for _ in range(50):
        player.do("zoom in")
    assert player.zoom == pytest.approx(6.0, rel=1e-12, abs=0)
    player.do("zoom auto")
    assert player.zoom == 1.0


def test_opens_where_set_ups_differ_most(replay):
    """The made powers are the same all round, so there is one place, anywhere on the course."""
    for chosen in ([0, 1], [1]):
        (place,) = replay.telling(chosen)
        assert 0 <= place <= replay.course.length


def test_j_goes_to_the_largest_difference_and_then_to_the_next(car_park):
    """It went to 8.1 m, where the difference is 19 W: the place less the seconds by which a replay opens before it."""
    stations = car_park.drives[0].station
    spread = np.ptp([np.interp(stations, one.station, one.total) for one in car_park.drives], axis=0)
    bends = [(stations > low) & (stations < high) for low, high in ((6.0, 15.5), (21.5, 30.7))]
    player = Player.opened(car_park)
    assert 5 < player.station < 31  # before or in one of the two bends
    places = []
    for _ in range(3):
        player.do("telling")
        assert not player.playing
        places.append(player.station)
    assert np.interp(places[0], stations, spread) == pytest.approx(spread.max(), rel=1e-9, abs=0)
    assert spread.max() > 40
    best = [float(stations[bend][np.argmax(spread[bend])]) for bend in bends]
    assert sorted(places[:2]) == pytest.approx(best, rel=0, abs=0.05)
    assert places[2] == pytest.approx(places[0], rel=0, abs=1e-6)


def test_every_action_has_a_key_and_words():
    assert set(KEYS.values()) <= set(ACTIONS)
    assert set(ACTIONS) == set(KEYS.values())
    assert all(one.words for one in ACTIONS.values())
