"""Rendered frames: tests that a picture with a wheel turned the wrong way, or a trail on the wrong side, would not pass."""

from dataclasses import replace
from math import pi, radians

import numpy as np
import pygame
import pytest

from viz.replay import cards, panels, scene
from viz.replay.captions import caption
from viz.replay.layout import Type
from viz.replay.looks import CARD, LOOKS, POWER_COLOURS, level, looks_of
from viz.replay.pens import Ink, NotePen, PygamePen
from viz.replay.player import Player
from viz.replay.stage import Stage
from viz.replay.story import verdict_of
from viz.replay.view import Rect, View

IDEAL, PARALLEL, KINKED, TURNTABLE, HALF = range(5)
SIZE = (1280, 720)
DARK = POWER_COLOURS[-1]


def car_box(where, surface, card):
    """Left, right, top and bottom of the car's body; the outermost hundredths are left out, where smooth edges share its colour."""
    body = where(surface, "#F4F2EC", card)
    (left, right), (top, bottom) = (np.percentile(side, (4, 96)) for side in body.T)
    return left, right, top, bottom


def page(replay, setups, station=12.0, size=SIZE, **state):
    player = Player.opened(replay, setups)
    player.playing = False
    player.jump(station)
    for key, value in state.items():
        setattr(player, key, value)
    surface, stage = pygame.Surface(size), Stage(replay)
    stage.draw(surface, player)
    return surface, stage, player


def view_of(stage, player, now, place=0):
    """The view of a large picture."""
    course = player.replay.course
    reach = tuple(float(np.interp(now.station, course.station, side)) for side in stage.reach.T)
    return cards.close_up_view(stage.pictures[place], now, reach, player.zoom, stage.layout.point)


@pytest.mark.parametrize(("steer_deg", "side"), [(25, -1), (-25, 1)])
def test_a_wheel_that_is_steered_left_leans_left_on_the_screen(steer_deg, side, where):
    surface = pygame.Surface((100, 100))
    view = View.ground((50.0, 50.0), (0.0, 0.0), 150.0, 1.0, pi / 3)
    PygamePen(surface, view).wheel((0.0, 0.0), pi / 3 + radians(steer_deg), 0.5, 0.08, Ink(fill="#FFFFFF"))
    seen = where(surface, "#FFFFFF")
    upper, lower = seen[seen[:, 1] < 40], seen[seen[:, 1] > 60]
    assert side * (upper[:, 0].mean() - lower[:, 0].mean()) > 10


def test_front_wheels_of_a_left_turn_lean_left_in_the_close_up(replay, where):
    """Of each front wheel's dark pixels the upper ones lie further left; the rear wheels stand upright."""
    surface, stage, player = page(replay, [IDEAL], shows=set())
    now = replay.drives[IDEAL].at(player.rows[0])
    view = view_of(stage, player, now)
    for wheel, leans in ((0, True), (1, True), (2, False), (3, False)):
        x, y = view.screen(tuple(replay.drives[IDEAL].ground[round(player.rows[0]), wheel]))
        box = (x - 14, y - 30, 28, 60)
        seen = where(surface, "#3A3A3A", box)
        assert len(seen) > 60
        lean = seen[seen[:, 1] < y - 4][:, 0].mean() - seen[seen[:, 1] > y + 4][:, 0].mean()
        assert (lean < -4) if leans else abs(lean) < 2


def test_parallel_wheels_rub_a_dark_trail_on_the_outside_and_behind(replay, where):
    surface, stage, player = page(replay, [PARALLEL], shows={"trails"})
    card = stage.pictures[0]
    trail = where(surface, DARK, card)
    assert len(trail) > 300
    # In this left turn the outer front wheel rubs most: its trail begins at the right of the car and lies behind the front axle.
    _, right, top, bottom = car_box(where, surface, card)
    beside = trail[(trail[:, 1] > top) & (trail[:, 1] < bottom)]
    assert len(beside) > 50
    assert beside[:, 0].min() > right
    now = replay.drives[PARALLEL].at(player.rows[0])
    wheel = view_of(stage, player, now).screen(tuple(scene.wheel_places(now)[1]))
    assert trail[:, 1].min() > wheel[1] - 6  # half a trail's breadth, turned
    assert trail[:, 1].max() > bottom


def test_ideal_wheels_rub_no_dark_trail(replay, where):
    surface, stage, _ = page(replay, [IDEAL], shows={"trails"})
    assert len(where(surface, DARK, stage.pictures[0])) == 0
    assert len(where(surface, POWER_COLOURS[0], stage.pictures[0])) > 60


def test_a_ring_where_lines_meet_and_a_bar_where_they_miss(replay):
    """Pixels at the places that geometry gives: black all along the bar, and between the ring and the turning centre none."""
    surface, stage, player = page(replay, [IDEAL, PARALLEL], shows={"lines"})
    pixels = pygame.surfarray.array3d(surface).astype(int).sum(axis=2)
    for place, index in enumerate((IDEAL, PARALLEL)):
        now = replay.drives[index].at(player.rows[place])
        view, found = view_of(stage, player, now, place), scene.crossing(now)
        for side in np.linspace(found.left, found.right, 9) if index == PARALLEL else (found.left + 0.132, found.left - 0.132):
            x, y = view.screen(tuple(scene.to_ground(now, float(now.wheel_x[2]), side)))
            assert pixels[round(x) - 1 : round(x) + 2, round(y) - 1 : round(y) + 2].min() < 200
        between = (found.left + found.right) / 2 + 0.1  # [m] inside the ring, on the bar
        x, y = (round(one) for one in view.screen(tuple(scene.to_ground(now, float(now.wheel_x[2]) + 0.02, between))))
        assert (pixels[x, y] < 200) == (index == PARALLEL)


def test_hues_are_of_set_ups_and_of_nothing_else(replay):
    """Without the looks' own pixels the page is grey: red, green and blue differ by no more than the page's warm tint."""
    surface, _, _ = page(replay, [IDEAL, PARALLEL], shows={"lines", "trails", "slip", "loads", "numbers"})
    pixels = pygame.surfarray.array3d(surface).astype(int)
    strong = np.ptp(pixels, axis=2) > 40
    hues = np.array([pygame.Color(look.colour)[:3] for look in LOOKS])
    # A soft edge mixes a hue with what lies beside it, so its direction from grey is compared.
    tint = pixels[strong] - pixels[strong].mean(axis=1, keepdims=True)
    own = hues - hues.mean(axis=1, keepdims=True)
    alike = (tint / np.linalg.norm(tint, axis=1, keepdims=True)) @ (own / np.linalg.norm(own, axis=1, keepdims=True)).T
    assert strong.sum() > 500
    assert alike.max(axis=1).min() > 0.9


def test_equal_joules_are_equal_bars_with_and_without_a_small_picture(replay):
    """Rows beside a small picture had shorter bars that began elsewhere."""
    one = replay.drives[PARALLEL]
    same = replace(replay, drives=tuple(replace(drive, work=one.work, time=one.time) for drive in replay.drives))
    player, pen = Player.opened(same, [IDEAL, PARALLEL]), NotePen()
    player.within = list(range(5))
    player.jump(12.0)
    _, small = panels.draw_board(pen, Rect(8.0, 100.0, 316.0, 500.0), player, 1.0, Type.enlarged(1.0))
    paths = [(np.array(call[1]), call[2].fill) for call in pen.calls if call[0] == "path"]
    tracks = [places[:, 0] for places, fill in paths if fill == panels.TRACK]
    bars = [places[:, 0] for places, fill in paths if fill in {look.colour for look in player.looks} and np.ptp(places[:, 0]) > 20]
    strokes = [call[1][0] for call in pen.calls if call[0] == "line"]
    assert (len(small), len(tracks), len(bars), len(strokes)) == (3, 5, 5, 5)
    for kind in (tracks, bars):
        assert len({(one.min(), one.max()) for one in kind}) == 1
    assert set(strokes) == {tracks[0].max()}


def test_every_show_changes_the_picture(replay):
    bare = pygame.surfarray.array3d(page(replay, [PARALLEL], shows=set())[0])
    card = page(replay, [PARALLEL])[1].pictures[0]
    area = tuple(slice(round(at), round(at + size)) for at, size in ((card.x, card.width), (card.y, card.height)))
    for show in ("lines", "trails", "slip", "loads", "numbers"):
        pixels = pygame.surfarray.array3d(page(replay, [PARALLEL], shows={show})[0])
        assert (pixels[area] != bare[area]).any(axis=2).sum() > 100, show


def test_zoom_brings_the_car_closer(replay, where):
    near, stage, _ = page(replay, [IDEAL], zoom=2.0, shows=set())
    far, _, _ = page(replay, [IDEAL], zoom=1.0, shows=set())
    card = stage.pictures[0]
    assert len(where(near, "#F4F2EC", card)) > 2.5 * len(where(far, "#F4F2EC", card))


def test_the_course_is_coloured_as_far_as_the_car_has_come(replay, where):
    dark = [len(where(*_map_of(replay, station))) for station in (3.0, 12.0, 24.0)]
    assert dark[0] > 10
    assert dark[0] < 0.4 * dark[1] < 0.3 * dark[2]


def _map_of(replay, station):
    surface, stage, _ = page(replay, [PARALLEL], station)
    return surface, DARK, stage.layout.course


@pytest.mark.slow
def test_the_course_has_the_colours_of_the_key(car_park, where):
    """The car with ideal steering rubs 1 W, and its course was navy, which the key says is 33 W of one wheel."""
    surface, stage, _ = page(car_park, [IDEAL], 30.0)
    assert car_park.top > 30
    assert len(where(surface, POWER_COLOURS[0], stage.layout.course)) > 200
    assert len(where(surface, DARK, stage.layout.course)) == 0
    lane = stage.map.lanes[0]
    assert (lane.levels <= level(car_park.drives[IDEAL].power.max(), car_park.top)).all()
    surface, stage, _ = page(car_park, [PARALLEL], 30.0)
    assert len(where(surface, DARK, stage.layout.course)) > 200


def test_the_head_tells_the_course_and_not_the_path_of_the_car(car_park):
    """A bend of 3 m was called one of 2.9 m, which is what the car's speed and turning made of it."""
    player = Player.opened(car_park)
    player.jump(7.0)  # the car still turns into the bend
    now = player.lead.at(player.rows[0])
    assert abs(1 / now.curve[0] - 3.0) > 0.05
    pen = NotePen()
    panels.draw_head(pen, Rect(8, 8, 308, 86), player, 1.0, Type.enlarged(1.0))
    assert "left bend, 3.0\u00a0m radius" in pen.calls[-1][2]
    player.jump(3.0)
    panels.draw_head(pen, Rect(8, 8, 308, 86), player, 1.0, Type.enlarged(1.0))
    assert "on a straight" in pen.calls[-1][2]


def test_going_back_leaves_no_trace_on_the_course(replay):
    """The layer that is only added to is made anew; pieces that were added in other portions differ by a few soft pixels at most."""
    player = Player.opened(replay)
    player.jump(5.0)
    surface, stage = pygame.Surface(SIZE), Stage(replay)
    stage.draw(surface, player)
    first = pygame.surfarray.array3d(surface)
    for station in (6.0, 9.0, 20.0, 5.0):
        player.jump(station)
        stage.draw(surface, player)
    assert (pygame.surfarray.array3d(surface) == first).all()
    for part in np.arange(0.0, 5.01, 0.5):
        player.jump(part)
        stage.draw(surface, player)
    assert (pygame.surfarray.array3d(surface) != first).any(axis=2).mean() < 0.002


def test_the_same_state_gives_the_same_picture(replay):
    one, other = (pygame.image.tobytes(page(replay, [0, 1, 2, 3])[0], "RGB") for _ in range(2))
    assert one == other


SIZES = [(size, shown) for size in ((800, 600), (960, 600), (1280, 720), (1500, 620), (1000, 1400)) for shown in (1, 2)]
SIZES += [((2560, 1440), 2)]


@pytest.mark.slow
@pytest.mark.parametrize("text", [1.0, 1.5])
@pytest.mark.parametrize(("size", "shown"), SIZES)
def test_any_window_and_any_size_of_text(replay, size, shown, text, where):
    surface, stage, player = page(replay, list(range(shown)), size=size, text=text)
    player.within = list(range(5))
    player.tell()
    stage.draw(surface, player)
    layout = stage.layout
    assert len(layout.cards) == shown
    assert (stage.strip is not None) or text > 1.0  # the largest letters take its place
    below = (layout.course, layout.strip) if stage.strip is not None else ()
    for rect in (*layout.cards, *stage.pictures, *below, layout.board, layout.banner, layout.bar):
        assert rect.width > 60
        assert rect.height > 30
        assert rect.x >= 0
        assert rect.x + rect.width <= layout.page.width + 1e-6
        assert rect.y + rect.height <= layout.page.height + 1e-6
    for picture in stage.pictures:  # the car is seen whole in each
        pixels = Rect(*(side * layout.point for side in picture))
        assert len(where(surface, "#3A3A3A", pixels)) > 30
        assert len(where(surface, CARD, pixels)) > 1000


def test_looks_stay_with_their_set_up():
    assert looks_of(8, (0, 1)) == looks_of(8, (0,))
    for count in (2, 8, 40):
        for pair in ([0, 1], [0, count - 1]):
            looks = looks_of(count, tuple(pair))
            one, other = (looks[i] for i in pair)
            assert one.shape != other.shape
            assert one.colour != other.colour
    assert len(set(looks_of(30, (0,)))) == 30
    assert looks_of(40, (2, 32))[2] == looks_of(40, (2,))[2]


@pytest.mark.slow
def test_a_set_up_that_did_not_finish_says_why(replay):
    drive = replay.drives[IDEAL]
    cut = replace(drive, reason="tips over after 3 s", **{
        name: getattr(drive, name)[:150] for name in
        ("time", "station", "x", "y", "heading", "speed", "steer", "drift", "load", "power", "wheel_x", "wheel_y", "curve", "rub", "work",
         "slip", "lateral", "drive_force")
    })  # fmt: skip
    short = replace(replay, drives=(cut, replay.drives[PARALLEL]))
    player = Player.opened(short, [0, 1])
    player.jump(20.0)
    assert player.rows[0] == pytest.approx(149, rel=0, abs=1e-9)
    assert player.station == pytest.approx(20.0, rel=0, abs=1e-6)
    surface, stage = pygame.Surface(SIZE), Stage(short)
    stage.draw(surface, player)
    assert caption(short, 0, player.rows[0]) == ("Tips over after 3 s", "cross")
    player.tell()
    for told in np.arange(0.0, player.story.seconds + 20, 0.7):
        player.told = float(told)
        player.clock = player.story.clock_at(player.told)
        stage.draw(surface, player)


@pytest.mark.slow
def test_forty_set_ups_are_all_reached_and_none_is_cut(replay, noted):
    """By Tab; names of any length wrap or are broken, and whole rows alone are seen."""
    setups, drives = [], []
    for number in range(40):
        name = f"team {number} " + ("with a long name of many words " * (number % 3)).strip()
        setups.append(replay.scenario.setup[number % 5].model_copy(update={"name": name}))
        one = replay.drives[number % 5]
        drives.append(replace(one, name=name, power=one.power + number, work=one.work + number * one.time))
    many = replace(replay, scenario=replay.scenario.model_copy(update={"setup": setups}), drives=tuple(drives))
    player, stage, surface = Player.opened(many), Stage(many), noted(SIZE)
    assert player.chosen[0] == 0
    seen, shown, both = set(), set(), 0
    for _ in range(39):
        player.do("next set-up")
        shown.add(player.chosen[-1])
        player.scroll = len(shown) - 1
        surface.lines = []
        stage.draw(surface, player)
        board = stage.layout.board
        rows = [rect for rect, name in stage.hits if name.startswith("choose ")]
        assert all(board.y <= rect.y and rect.y + rect.height <= board.y + board.height for rect in rows)
        seen |= {name for _, name in stage.hits if name.startswith("choose ")}
        both += {f"choose {index}" for index in player.chosen} <= {name for _, name in stage.hits}
        told = " ".join(words.replace("\n", " ") for words, _, _ in surface.lines)
        # Rows never crowd out whether it matters; long names do what they say of whom.
        assert any(verdict_of(many, player.chosen, brief) in told for brief in (False, True))
        assert [words for words, rect, clip in surface.lines if not clip.contains(rect)] == []
    assert both >= 20  # of 39; where names take too much room they leave one of them out
    assert shown == set(range(1, 40))
    assert seen == {f"choose {number}" for number in range(40)}
