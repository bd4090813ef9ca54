"""Words on the page and on the bench: all of each is seen, and none stands on another."""

from itertools import combinations
from re import fullmatch

import numpy as np
import pytest

from sim.linkages import catalogue
from viz.replay.bench.help import draw_bench_help
from viz.replay.bench.model import KINDS, SPEED
from viz.replay.bench.window import Bench
from viz.replay.panels import SEEN
from viz.replay.pens import Ink, NotePen, text_width, wrapped
from viz.replay.player import Player
from viz.replay.stage import Stage
from viz.replay.view import Rect

REAL_KINDS = [name for name, kind in catalogue.KINDS.items() if kind.rods]

SIZES = ((1280, 720), (960, 600))
ALL = {"lines", "trails", "slip", "loads", "numbers"}


def cut_off(surface):
    return [words for words, rect, clip in surface.lines if not clip.contains(rect)]


def on_each_other(surface):
    """Pairs of words whose rectangles, less the empty rim above and below letters, meet."""
    rects = [(words, rect.inflate(-2, -6)) for words, rect, _ in surface.lines]
    return [(one, other) for (one, a), (other, b) in combinations(rects, 2) if a.colliderect(b)]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("station", [3.0, 11.6, 26.7])
def test_loads_are_read_whole(car_park, noted, size, station):
    """Of "0.2° 404 N" only "0.2° 40" was seen at the right of each picture."""
    player = Player.opened(car_park, [0, 1])
    player.jump(station)
    player.shows = ALL
    surface = noted(size)
    Stage(car_park).draw(surface, player)
    loads = [words for words, _, _ in surface.lines if fullmatch(r"\d+ N", words)]
    wanted = [f"{load:.0f} N" for i, row in zip(player.chosen, player.rows, strict=True) for load in car_park.drives[i].at(row).load]
    assert sorted(loads) == sorted(wanted)
    assert cut_off(surface) == []
    assert on_each_other(surface) == []


@pytest.mark.parametrize(("size", "text"), [((800, 600), 1.0), ((800, 600), 1.25), ((1280, 720), 1.0), ((1280, 720), 1.5)])
def test_no_word_of_the_page_stands_on_another_or_is_cut(car_park, noted, size, text):
    """In every scene of the story."""
    player, stage = Player.opened(car_park), Stage(car_park)
    player.text, player.shows = text, ALL
    player.tell()
    for index, scene in enumerate(player.story.scenes):
        player.told = player.story.begins(index) + 0.6 * scene.seconds
        player.clock = player.story.clock_at(player.told)
        surface = noted(size)
        stage.draw(surface, player)
        assert cut_off(surface) == []
        assert on_each_other(surface) == []
        shown = " ".join(words for words, _, _ in surface.lines)
        assert player.words.split(" ")[-1] in shown


@pytest.mark.parametrize("size", [(800, 600), (1280, 720), (1920, 1080)])
def test_the_help_fits_on_one_screen(replay, noted, size):
    player = Player.opened(replay)
    player.help = True
    surface = noted(size)
    stage = Stage(replay)
    stage.draw(surface, player)
    first = next(place for place, (words, _, _) in enumerate(surface.lines) if words.startswith(SEEN[0][:10]))
    surface.lines = surface.lines[first:]
    assert len(surface.lines) > 60
    whole = surface.get_rect()
    assert [words for words, rect, _ in surface.lines if not whole.contains(rect)] == []
    assert on_each_other(surface) == []


@pytest.mark.slow
@pytest.mark.parametrize("size", [*SIZES, (800, 600), (2560, 1440)])
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("hand", [0.0, 0.4, -0.4, 10.0, -10.0])
def test_words_of_the_bench(car_park, noted, size, kind, hand):
    """The words "dashed: before" stood on the graph's title, "439 mm to the edge" on the border."""
    bench = Bench(car_park)
    bench.model.choose_kind(kind)
    if kind in REAL_KINDS:
        bench.model.change({"arm_angle_deg": 16.0})
    bench.model.turn_hand(hand - bench.model.hand)
    surface = noted(size)
    bench.draw(surface)
    shown = [words for words, _, _ in surface.lines]
    assert any("before" in words.split(" ") for words in shown) == (kind in REAL_KINDS)
    assert "edge" in " ".join(shown)
    assert [words.partition(" ")[0] for words in shown if fullmatch(r"(left|right) [\d.]+°", words)] == ["left", "right"]
    assert cut_off(surface) == []
    assert on_each_other(surface) == []


def test_the_help_of_the_bench_fits_on_its_sheet():
    pen = NotePen()
    draw_bench_help(pen, Rect(0.0, 0.0, *map(float, SIZES[1])))
    (left, top), _, (right, bottom), _ = pen.calls[0][1]
    assert top >= 0
    assert bottom <= SIZES[1][1]
    words = [(place, text, ink) for kind, place, text, ink in (call for call in pen.calls if call[0] == "text")]
    columns = sorted({place[0] for place, text, _ in words if not text.isspace()})
    for (x, y), text, ink in words:
        beside = [column for column in columns if column > x and any(place == (column, y) for place, _, _ in words)]
        assert x + text_width(text, ink) < min([right - 10, *beside])
        assert left < x
        assert top < y < bottom


def test_words_are_wrapped_at_their_width():
    ink = Ink(size=18.0)
    lines = wrapped("the rod and the arm stand nearly in line here", ink, 120.0).split("\n")
    assert " ".join(lines) == "the rod and the arm stand nearly in line here"
    assert len(lines) > 2
    assert max(text_width(line, ink) for line in lines) <= 120.0


@pytest.mark.slow
def test_words_of_the_bench_at_drawn_moments(car_park, noted):
    """Any linkage, dial, hand angle, speed and size: no word is cut off or stands on another, none is smaller than may be."""
    rng = np.random.default_rng(14)
    for _ in range(250):
        bench = Bench(car_park, first=int(rng.integers(len(car_park.scenario.setup))))
        for _ in range(int(rng.integers(0, 3))):
            bench.model.choose_kind(KINDS[int(rng.integers(len(KINDS)))])
        for _ in range(int(rng.integers(0, 4))):
            dials = bench.model.dials
            bench.model.turn_dial(dials[int(rng.integers(len(dials)))], float(rng.choice([-30, -3, -1, 1, 3, 30])))
        bench.model.problem = ""
        steering = bench.model.built.steering
        bench.model.turn_hand(rng.uniform(steering.lock_right, steering.lock_left) - bench.model.hand)
        bench.model.turn_dial(SPEED, float(rng.integers(-10, 40)))
        size = (int(rng.integers(800, 2000)), int(rng.integers(600, 1300)))
        surface = noted(size)
        bench.draw(surface)
        case = size, bench.model.built.setup, bench.model.hand, bench.model.speed
        assert cut_off(surface) == [], case
        assert on_each_other(surface) == [], case
        turn = bench.model.turn
        assert np.isfinite(turn.curvature) == turn.own.converged
        assert turn.own.converged or turn.own.reason
