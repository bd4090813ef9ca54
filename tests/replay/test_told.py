"""Places, labels and windows that tell what the stored arrays say, at any size of window and of text."""

from dataclasses import replace

import numpy as np
import pygame
import pytest

from viz.replay import cards
from viz.replay.costs import bends_of, places_of, slight, story_bend
from viz.replay.looks import HUES, looks_of
from viz.replay.pens import NotePen, PygamePen
from viz.replay.player import Player
from viz.replay.scene import draw_numbers
from viz.replay.stage import Stage
from viz.replay.story import story_of
from viz.replay.view import View
from viz.report.page import steerings_of
from viz.report.words import pair_of, place_chosen_words
from viz.shared.telling import TOLD_OVER, mean_over, telling_stations

IDEAL, PARALLEL = 0, 1
SIZES = [(800, 600), (1280, 720), (2560, 1440)]


def test_a_twitch_of_power_is_no_telling_place():
    """100 W for 5 cm are less than 20 W for two metres."""
    station = np.arange(0.0, 50.0, 0.05)
    power = np.where(station == station[200], 100.0, np.where(np.abs(station - 30) < 1.0, 20.0, 0.0))
    (first, *_) = telling_stations([(station, power), (station, 0 * power)], closed=False)
    assert first == pytest.approx(30.0, rel=0, abs=0.6)


def test_the_mean_over_a_piece_of_path():
    """A ramp keeps its value away from the ends; round a closed path the sum stays what it was."""
    station = np.linspace(0.0, 20.0, 401)
    assert mean_over(station, 3 * station, TOLD_OVER, False)[20:-20] == pytest.approx(3 * station[20:-20], rel=1e-9, abs=1e-9)
    step = (station < 0.5).astype(float)
    around = mean_over(station, step, TOLD_OVER, True)
    assert around[-1] == pytest.approx(0.5, rel=0, abs=0.06)
    assert mean_over(station, step, TOLD_OVER, False)[-1] == 0.0


def test_place_1_is_the_storys_and_places_that_tell_nothing_have_no_number(car_park):
    pair = [IDEAL, PARALLEL]
    places, bend = places_of(car_park, pair), story_bend(car_park, pair)
    assert bend.begin <= places[0] <= bend.end
    story = story_of(car_park, pair, car_park.drives[IDEAL])
    told = np.interp(story.scenes[1].begin, car_park.drives[IDEAL].time, car_park.drives[IDEAL].station)
    assert told == pytest.approx(places[0], rel=0, abs=0.02)
    assert story.scenes[0].words.startswith("Place 1, ")
    one, least = car_park.drives[PARALLEL], slight(car_park)
    weak = replace(one, power=car_park.drives[IDEAL].power[:1] * 0 + np.where(one.station > places[0], 0.2, 0.1)[:, None] * least / 4)
    flat = replace(car_park.drives[IDEAL], power=0 * car_park.drives[IDEAL].power)
    assert len(places_of(replace(car_park, drives=(flat, weak, *car_park.drives[2:])), pair)) == 1


def made_of(replay, power):
    """The car park with made powers: ideal steering rubs nothing, parallel steering what a function of the station tells [W]."""
    flat, one = (replace(replay.drives[i], power=0 * replay.drives[i].power, work=0 * replay.drives[i].work) for i in (IDEAL, PARALLEL))
    told = power(one.station)
    work = np.concatenate([[0.0], np.cumsum(0.5 * (told[1:] + told[:-1]) * np.diff(one.time))])
    return replace(replay, drives=(flat, replace(one, power=told[:, None] * [1.0, 0.0, 0.0, 0.0], work=work), *replay.drives[2:]))


def test_the_page_shows_place_1(car_park, car_park_compared):
    """A page told of 29 m and the window of 13.8 m: whoever had both before them had no figure in common."""
    pair = pair_of(car_park_compared, steerings_of(car_park_compared))
    assert [pair.better.name, pair.worse.name] == [car_park.drives[i].name for i in (IDEAL, PARALLEL)]
    assert pair.station == pytest.approx(places_of(car_park, [IDEAL, PARALLEL])[0], rel=0, abs=0.01)
    assert place_chosen_words(pair, car_park_compared).endswith("`scrubwise watch` has it as place 1 of these two.")


def test_the_highest_top_has_a_number_too(car_park):
    """Toe rubs all round the lap, so that the whole of it is one hill: its top stood on the strip without a number."""
    pair, bends = [IDEAL, PARALLEL], [bend for bend in bends_of(car_park) if bend.end - bend.begin > 3]
    long, other = bends[0], bends[1]
    middle = (other.begin + other.end) / 2

    def power(station):
        inside = (station >= long.begin) & (station <= long.end)
        return 100.0 + 20.0 * inside + 60.0 * (np.abs(station - middle) < 0.8)

    made = made_of(car_park, power)
    first, *others = places_of(made, pair)
    assert long.begin <= first <= long.end
    assert len(others) == 1
    assert others[0] == pytest.approx(middle, rel=0, abs=0.9)
    # Where place 1 is as high as can be told apart, there is no second.
    level = made_of(car_park, lambda station: 100.0 + slight(car_park) / 2 * (np.abs(station - middle) < 0.8))
    assert len(places_of(level, pair)) == 1


def test_beside_a_long_name_the_strip_still_says_what_place_1_is(car_park, monkeypatch):
    """Of race day's names the title left it out, and 1 and 2 stood on the strip unexplained."""
    said, real = set(), PygamePen.text
    monkeypatch.setattr(PygamePen, "text", lambda pen, place, words, ink: said.add(words) or real(pen, place, words, ink))
    for name in ("parallel", "the same with 1 degree of toe-in"):
        said.clear()
        made = replace(car_park, drives=(car_park.drives[IDEAL], replace(car_park.drives[PARALLEL], name=name), *car_park.drives[2:]))
        Stage(made).draw(pygame.Surface(SIZES[1]), Player.opened(made, [IDEAL, PARALLEL]))
        assert name in said
        assert [words for words in said if "1: " in words and "most joules" in words and words.endswith("(key J)")], name


def test_the_figure_at_a_wheel_is_the_stored_slip(car_park):
    """It was the angle of its motion, from which a tyre's slip lags."""
    now = car_park.drives[PARALLEL].at(100)._replace(slip=np.radians([1.23, -4.56, 0.7, 0.0]), drift=np.zeros(4))
    pen = NotePen()
    draw_numbers(pen, now, loads=False)
    assert [call[2] for call in pen.calls] == ["1.2°", "4.6°", "0.7°", "0.0°"]


@pytest.mark.parametrize("pair", [[0, 6], [0, 5], [3, 7], [1, 6]])
def test_no_two_set_ups_of_a_run_share_a_hue(pair):
    """Two of the quay loop's eight were orange."""
    looks = looks_of(len(HUES), tuple(pair))
    assert len({one.colour for one in looks}) == len(HUES)
    assert looks[pair[0]].shape != looks[pair[1]].shape


def test_the_mark_on_the_strip_stands_at_the_cursor(car_park, monkeypatch):
    """It stood at the curve's peak."""
    player, stage, surface = Player.opened(car_park), Stage(car_park), pygame.Surface((1280, 720))
    stage.draw(surface, player)
    seen = []
    monkeypatch.setattr("viz.replay.maps.sign", lambda page, look, x, y, *_: seen.append((x, y)))
    for station in (5.0, 12.0, 25.0):
        player.jump(station)
        seen.clear()
        stage.strip.draw(surface, player)
        ((x, y),) = seen
        plot = stage.strip.plot
        assert x == pytest.approx(plot.x + plot.width * station / car_park.course.length, rel=0, abs=0.1)
        curve = stage.strip.curves[PARALLEL]
        high = np.interp(station, *curve.T)
        top = stage.strip.view.world(0.0, (y - stage.strip.rect.y) * stage.strip.point)[1]
        assert top == pytest.approx(high, rel=0, abs=0.05)


def windows_on_cars(replay, count):
    """At drawn moments: windows that cover a car's wheels, dots without their words, and how many windows there were."""
    random, covered, seen = np.random.default_rng(4), [], 0
    for number in range(count):
        player, size = Player.opened(replay, random.permutation(len(replay.drives))[:2].tolist()), SIZES[number % 3]
        player.text = (1.0, 1.5, 2.0)[number // 3 % 3]
        player.jump(float(random.uniform(0.0, replay.course.length)))
        stage = Stage(replay)
        stage.draw(pygame.Surface(size), player)
        for place, rect in enumerate(stage.pictures):
            window = stage.placed[place].window
            if window is None:
                continue
            seen += 1
            now = replay.drives[player.chosen[place]].at(player.rows[place])
            reach = tuple(float(np.interp(now.station, replay.course.station, side)) for side in stage.reach.T)
            view = cards.close_up_view(rect, now, reach, player.zoom, stage.layout.point)
            car, at = cards.car_box(view, now, replay.body), window[0]
            across = min(at.x + at.width, car.x + car.width) - max(at.x, car.x)
            inside = rect.x <= at.x and at.x + at.width <= rect.x + rect.width and at.y + at.height <= rect.y + rect.height
            if across > 0 or not inside:
                covered.append((size, player.text, player.station, player.chosen))
    return covered, seen


def test_no_window_on_a_meeting_point_covers_the_car(car_park):
    covered, seen = windows_on_cars(car_park, 9)
    assert seen > 0
    assert covered == []


@pytest.mark.slow
def test_what_a_window_says_is_not_said_again_beside_it(car_park, noted):
    """At the edge of a picture "lines meet" stood under half a ring, and beside it in the window."""
    both = 0
    for station in np.arange(0.0, car_park.course.length, 0.4).tolist():
        player, stage = Player.opened(car_park, [IDEAL, PARALLEL]), Stage(car_park)
        player.jump(station)
        surface = noted(SIZES[1])
        stage.draw(surface, player)
        for place in (0, 1):
            if stage.placed[place].window is None:
                continue
            both += 1
            card, p = stage.layout.cards[place], stage.layout.point
            said = [words for words, rect, _ in surface.lines
                    if card.x * p <= rect.left < (card.x + card.width) * p and words.startswith(("lines meet", "miss by"))]  # fmt: skip
            assert len(said) <= 1, (station, place)
    assert both > 5


@pytest.mark.slow
def test_no_window_on_a_meeting_point_covers_the_car_at_200_moments(car_park):
    covered, seen = windows_on_cars(car_park, 200)
    assert seen > 20
    assert covered == []


def test_a_small_picture_has_no_dot_without_a_name(car_park):
    pen = NotePen()
    cards.scene.draw_axle_lines(pen, car_park.drives[IDEAL].at(300), named=False)
    assert not [call for call in pen.calls if call[0] == "text" or (call[0] == "disc" and call[3].fill == call[3].colour)]


def test_wheels_with_toe_are_said_to_aim_at_different_centres(car_park):
    """A window said "miss by 12.5 m"."""
    now = car_park.drives[IDEAL].at(300)._replace(steer=np.array([0.05, 0.085, 0.0, 0.0]))
    rect = cards.Rect(0.0, 0.0, 400.0, 300.0)
    pen = PygamePen(pygame.Surface((400, 300)), View.ground((200.0, 150.0), (now.x, now.y), 60.0, 1.0, now.heading))
    words, sides = cards._far(pen, rect, now, np.radians(1.0))
    assert words.startswith("toe: the front wheels aim at different centres")
    assert len(sides) == 2
    straight = now._replace(steer=np.array([-0.017, 0.017, 0.0, 0.0]))
    assert cards._far(pen, rect, straight, 0.017)[0] == "toe: the front wheels aim at different centres, left and right"
    assert cards._far(pen, rect, straight, 0.0) is None
