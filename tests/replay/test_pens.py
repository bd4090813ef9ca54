"""Pens: dashes, cuts, ribbons, words; and the notes of one."""

from math import hypot

import numpy as np
import pygame
import pytest

from viz.replay.pens import SMALLEST_TEXT, Ink, NotePen, PygamePen, clipped, dashes, ribbon, shortened, text_width
from viz.replay.view import Rect, View

BOX = pygame.Rect(0, 0, 100, 50)


def test_dashes_fill_half_a_long_path():
    pieces = dashes([(0.0, 0.0), (30.0, 40.0), (100.0, 40.0)], 5.0)
    assert sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in pieces) == pytest.approx(60.0, rel=0, abs=1e-3)


def test_dashes_stand_still_while_the_seen_part_grows():
    whole = dashes([(0.0, 0.0), (100.0, 0.0)], 7.0)
    part = dashes([(33.0, 0.0), (100.0, 0.0)], 7.0, done=33.0)
    assert [b[0] for _, b in part] == pytest.approx([b[0] for _, b in whole if b[0] > 33.0], rel=0, abs=1e-3)


@pytest.mark.parametrize(
    ("a", "b", "seen"),
    [
        ((-100, 25), (200, 25), ((0, 25), (100, 25))), ((10, 10), (20, 20), ((10, 10), (20, 20))), ((-10, 60), (110, 60), None),
        ((50, -1000), (50, 1000), ((50, 0), (50, 50))), ((-50, -25), (50, 25), ((0, 0), (50, 25))),
    ],
)  # fmt: skip
def test_lines_are_cut_at_the_rectangle(a, b, seen):
    found = clipped(a, b, BOX)
    assert (found is None) == (seen is None)
    if seen is not None:
        assert np.array(found) == pytest.approx(np.array(seen, dtype=float), rel=0, abs=1e-9)


def test_ribbon_is_as_broad_as_asked():
    outline = ribbon(np.array([(0.0, 0.0), (10.0, 0.0), (20.0, 0.0)]), 9.0)
    assert np.ptp(outline[:, 1]) == pytest.approx(8.0, rel=1e-12, abs=0)  # and the library adds half a pixel on each side


def test_nothing_is_drawn_outside_its_part_of_the_page():
    surface = pygame.Surface((100, 60))
    pen = PygamePen(surface, View.page(1.0), Rect(20, 20, 30, 20))
    for ink in (Ink("#FFFFFF", 9.0), Ink("#FFFFFF", 3.0, dash=4.0)):
        pen.line((0.0, 0.0), (100.0, 60.0), ink)
    pen.disc((35.0, 30.0), 40.0, Ink("#FFFFFF", 2.0, fill="#FFFFFF"))
    pen.text((0.0, 30.0), "words that are much too long", Ink("#FFFFFF"))
    seen = np.argwhere(pygame.surfarray.array3d(surface).any(axis=2))
    assert seen.min(axis=0).tolist() == [20, 20]
    assert seen.max(axis=0).tolist() == [49, 39]


def test_words_are_shortened_to_their_room():
    ink = Ink(size=15.0)
    short = shortened("a set-up with a very long name", ink, 100.0)
    assert short.endswith("…")
    assert text_width(short, ink) <= 100.0
    assert shortened("short", ink, 100.0) == "short"


def test_notes_are_rounded_and_without_minus_zero():
    pen = NotePen()
    pen.line((-1e-9, 0.00004), (1.23456, 2.0), Ink())
    assert pen.calls == [("line", (0.0, 0.0), (1.2346, 2.0), Ink())]
    assert str(pen.calls[0][1]) == "(0.0, 0.0)"


def test_no_ink_has_letters_that_are_too_small(replay):
    """Every word of the page and of the bench at its smallest is at least 14 pixels high."""
    from viz.replay import pens
    from viz.replay.bench.window import Bench
    from viz.replay.player import Player
    from viz.replay.stage import Stage

    sizes = []
    real = pens._letters

    def noted(words, size, bold, colour):
        sizes.append(size)
        return real(words, size, bold, colour)

    surface = pygame.Surface((960, 600))
    player = Player.opened(replay)
    player.help, player.message = True, "a message"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pens, "_letters", noted)
        Stage(replay).draw(surface, player)
        Bench(replay).draw(surface)
    assert len(sizes) > 50
    assert min(sizes) >= SMALLEST_TEXT


def test_many_at_once_are_the_same_marks():
    """Lines and trails far inside, across the edge, outside and far beyond what the library draws."""
    spread = np.random.default_rng(11)
    inks = (
        Ink("#FFFFFF", 3.0),
        Ink("#FF0000", breadth=0.05),
        Ink("#00FF00", 1.0),
        Ink("#0000FF", 2.0, dash=5.0),
        Ink("#888888", plain=True),
    )
    for scale in (20.0, 100.0, 2000.0):
        view = View.ground((50.0, 30.0), (0.0, 0.0), scale, 1.0, 0.4)
        at_once, one_by_one = (PygamePen(pygame.Surface((100, 60)), view, Rect(10, 5, 80, 50)) for _ in range(2))
        places = np.cumsum(spread.normal(0.0, 0.3, (40, 2)), axis=0)
        places[1] = -places[0]  # across the middle of the picture
        for ink in inks:
            at_once.lines(places.reshape(20, 2, 2), ink)
            for a, b in places.reshape(20, 2, 2):
                one_by_one.line(tuple(a), tuple(b), ink)
        pieces = [(first, last, inks[first % 3]) for first, last in ((0, 1), (1, 4), (4, 20), (20, 22), (22, 39))]
        at_once.trails(places, pieces)
        for first, last, ink in pieces:
            one_by_one.path(places[first : last + 1], ink)
        assert pygame.surfarray.array3d(at_once.surface).any(), scale
        assert pygame.image.tobytes(at_once.surface, "RGB") == pygame.image.tobytes(one_by_one.surface, "RGB"), scale
