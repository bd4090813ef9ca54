"""What the watcher's choices do to the replay's state."""

import numpy as np
import pytest

from viz.replay.looks import TEXT_SIZES
from viz.replay.player import ACTIONS, LARGER, SPEEDS, TIME, Player
from viz.replay.window import KEYS, SHIFTED
from viz.shared.telling import TOLD_OVER, mean_over


@pytest.fixture
def player(replay):
    made = Player.opened(replay)
    made.do("start")
    return made


def test_it_opens_playing_with_the_reference_and_the_costliest(replay):
    player = Player.opened(replay)
    assert player.chosen == [0, 1]
    assert player.playing
    assert sorted([*player.chosen, *player.others]) == [0, 1, 2, 3, 4]
    costs = [float(replay.drives[i].work[-1]) for i in player.within]
    assert costs == sorted(costs, reverse=True)


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
    assert player.rows == pytest.approx([2.0] * 2, rel=0, abs=1e-9)
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


def test_any_set_up_takes_a_large_place(player):
    player.jump(7.0)
    player.choose(4)
    assert player.chosen == [0, 4]
    player.choose(3, 0)
    assert player.chosen == [3, 4]
    player.choose(3)  # it is large already: they change places
    assert player.chosen == [4, 3]
    player.choose(99)
    assert player.chosen == [4, 3]
    assert player.station == pytest.approx(7.0, rel=0, abs=1e-6)
    assert sorted(player.others) == [0, 1, 2]


def test_tab_goes_through_all_others_and_back(player):
    seen = []
    for _ in range(4):
        player.do("next set-up")
        seen.append(player.chosen[-1])
    assert sorted(seen) == [1, 2, 3, 4]
    assert player.chosen == [0, 1]
    player.do("set-up before")
    assert player.chosen[-1] == seen[-2]


def test_tab_shows_one_alone_after_the_other(replay):
    player = Player.opened(replay, [2])
    assert player.chosen == [2]
    player.within = [1, 2]
    player.do("next set-up")
    assert player.chosen == [1]


def test_the_story_goes_from_scene_to_scene_and_then_round_its_bend(car_park):
    player = Player.opened(car_park)
    player.tell()
    names, clocks = [], []
    for _ in range(int(player.story.seconds * 10) + 200):
        if player.scene is not None and player.scene.name not in names:
            names.append(player.scene.name)
        if player.scene is None:
            clocks.append(player.clock)
            assert player.words == player.story.finding
        player.advance(0.1)
    assert len(names) == 6
    begin, end = player.story.stretch
    assert min(clocks) == pytest.approx(begin, rel=0, abs=0.1)
    assert max(clocks) == pytest.approx(end, rel=0, abs=0.1)
    assert player.playing
    player.do("play")  # the stretch is driven until a key is pressed
    assert player.story is None
    assert not player.playing


@pytest.mark.parametrize("action", ["back", "end", "telling", "leave story", "in step"])
def test_who_takes_over_leaves_the_story(car_park, action):
    player = Player.opened(car_park)
    player.tell()
    player.do(action)
    assert player.story is None


def test_pages_turn_the_story_and_hold_its_scene(car_park):
    player = Player.opened(car_park)
    player.do("next scene")
    assert player.scene.name == "approach"
    for name in ("lines appear", "meet or miss"):
        player.do("next scene")
        assert player.scene.name == name
        player.advance(20.0)
        assert player.scene.name == name
    player.do("last scene")
    assert player.scene.name == "lines appear"
    for _ in range(9):
        player.do("next scene")
    assert player.scene is None
    assert player.story is not None
    player.do("play")
    player.do("last scene")
    assert player.scene is None  # a remote that goes back finds the bend that is driven round


def test_a_pause_stops_the_story(car_park):
    player = Player.opened(car_park)
    player.tell()
    player.advance(1.0)
    player.do("play")
    told = player.told
    player.advance(1.0)
    assert player.told == told
    assert player.story is not None


def test_another_set_up_gets_a_story_of_its_own(car_park):
    player = Player.opened(car_park)
    player.tell()
    first = player.story
    player.choose(2)
    assert player.story is not first
    assert "kinked arms" in player.story.finding


def test_a_loop_from_a_to_b(player):
    player.jump(3.0)
    player.do("loop")
    assert "press G" in player.message
    player.jump(6.0)
    player.do("loop")
    begin, end = player.loop
    assert (begin, end) == pytest.approx((2.0, 4.0), rel=0, abs=1e-6)
    for _ in range(100):
        player.advance(0.05)
        assert begin - 1e-9 <= player.clock < end
    player.do("loop")
    assert player.loop is None


def test_a_loop_with_b_before_a(player):
    player.jump(6.0)
    player.do("loop")
    player.do("loop")
    assert player.loop is None  # nothing lies between
    player.do("loop")
    player.jump(3.0)
    player.do("loop")
    assert player.loop == pytest.approx((2.0, 4.0), rel=0, abs=1e-6)


def test_text_has_three_sizes(player):
    seen = []
    for _ in TEXT_SIZES:
        player.do("text")
        seen.append(player.text)
    assert seen == [*TEXT_SIZES[1:], TEXT_SIZES[0]]


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
    means = [(one.station, mean_over(one.station, one.total, TOLD_OVER, True)) for one in car_park.drives]
    spread = np.ptp([np.interp(stations, *one) for one in means], axis=0)
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
    assert set(ACTIONS) == set(KEYS.values()) | set(SHIFTED.values())
    assert all(one.words or "Shift" in one.key for one in ACTIONS.values())
