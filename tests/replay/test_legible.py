"""Read from the back row: sizes, contrasts, and words that never lie over a mark."""

from functools import partialmethod
from itertools import combinations, pairwise, product

import numpy as np
import pygame
import pytest

from viz.replay import cards, labels, pens, scene
from viz.replay.looks import CARD, HUES, INK, PAPER, POWER_COLOURS, SOFT
from viz.replay.panels import PRESSED, SHADE, TRACK
from viz.replay.pens import Ink
from viz.replay.player import Player
from viz.replay.stage import Stage
from viz.replay.view import Rect, View

SIZE = (1280, 720)
ALL = {"lines", "trails", "slip", "loads", "numbers"}


def luminance(colours):
    """Relative luminance of sRGB colours 0 .. 255, (..., 3).  Source: the contrast ratio of WCAG 2 (from memory)."""
    share = np.asarray(colours, dtype=float) / 255
    linear = np.where(share <= 0.03928, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    return linear @ (0.2126, 0.7152, 0.0722)


def contrast(one, other):
    dark, light = sorted((float(luminance(one)), float(luminance(other))))
    return (light + 0.05) / (dark + 0.05)


def rgb(colour):
    return pygame.Color(colour)[:3]


@pytest.mark.parametrize("behind", [CARD, PAPER, SHADE, TRACK])
def test_words_stand_out(behind):
    assert contrast(rgb(INK), rgb(behind)) >= 4.5


def test_words_on_dark_stand_out():
    assert contrast(rgb(CARD), rgb(INK)) >= 4.5
    assert contrast(rgb(CARD), rgb(PRESSED)) >= 4.5


@pytest.mark.parametrize("colour", [*HUES, *POWER_COLOURS, SOFT])
@pytest.mark.parametrize("behind", [CARD, PAPER])
def test_marks_stand_out(colour, behind):
    """The lightest trail was 1.4 : 1."""
    assert contrast(rgb(colour), rgb(behind)) >= 3.0


def test_more_power_is_a_darker_grey():
    greys = [rgb(colour) for colour in POWER_COLOURS]
    assert all(len(set(grey)) == 1 for grey in greys)
    assert all(luminance(one) > luminance(other) for one, other in pairwise(greys))


@pytest.fixture
def sized(monkeypatch):
    """Sizes of letters that are drawn [px], by their words."""
    sizes, real = {}, pens._letters

    def letters(words, size, bold, colour):
        sizes[words] = size
        return real(words, size, bold, colour)

    monkeypatch.setattr(pens, "_letters", letters)
    return sizes


@pytest.mark.parametrize(("size", "text", "times"), [(SIZE, 1.0, 1.0), (SIZE, 1.5, 1.5), ((2560, 1440), 1.0, 2.0)])
def test_sizes_of_letters(car_park, sized, size, text, times):
    player = Player.opened(car_park)
    player.text, player.shows = text, ALL
    player.tell()
    player.told = player.story.begins(3) + 1.0
    player.clock = player.story.clock_at(player.told)
    Stage(car_park).draw(pygame.Surface(size), player)
    assert min(sized.values()) >= 18 * times / text  # where there is no room for larger ones at the wheels, they are as usual
    now = car_park.drives[1].at(player.rows[1])
    assert sized[f"{now.power.sum():.0f}\u00a0W"] == 36 * times
    assert all(size == 24 * times for words, size in sized.items() if words.startswith(("wheels disagree", "At a fifth")))
    assert sized["rubbing"] == sized["Rubbed away so far"] == 18 * times


@pytest.mark.slow
def test_labels_of_a_drawing_have_one_size(car_park):
    """Some were as large as asked, others in the same drawing as usual, where room was scarce."""
    seen = set()
    for player, size in moments(car_park, 24):
        player.leave()
        player.text = 1.5
        stage = Stage(car_park)
        stage.draw(pygame.Surface(size), player)
        sizes = {word.size for placed in stage.placed.values() for word in placed.words if word is not None}
        sizes |= {placed.window[2] for placed in stage.placed.values() if placed.window is not None}
        assert len(sizes) == 1, (player.chosen, player.station, size, sizes)
        seen |= sizes
    assert len(seen) > 1  # there were drawings with room for larger ones, and others


def test_a_numbered_place_is_said_where_the_strip_has_given_way(car_park, noted):
    player, surface = Player.opened(car_park), noted((800, 600))
    player.text = 2.0
    player.do("telling")
    stage = Stage(car_park)
    stage.draw(surface, player)
    assert stage.strip is None
    assert any(words.startswith("Place 1: ") for words, _, _ in surface.lines)


def test_numbers_on_the_strip_cover_no_curve(car_park):
    """They stood at its foot, where a curve that is nearly zero goes."""
    for size in (SIZE, (1600, 1200)):
        player, stage = Player.opened(car_park), Stage(car_park)
        stage.draw(pygame.Surface(size), player)
        strip = stage.strip
        foot = (strip.plot.y - strip.rect.y) * strip.point + 2 * 0.62 * stage.layout.type.label * strip.point
        for curve in strip.curves.values():
            assert min(strip.view.screen(tuple(place))[1] for place in curve) > foot + 2, size


def test_each_word_is_read_from_the_back_row(car_park, noted):
    """The frame at a third of its size, where a letter of 18 pixels has 6: its words still stand out."""
    player, stage = Player.opened(car_park), Stage(car_park)
    player.shows = ALL
    player.tell()
    for index in (0, 3, 5):
        player.told = player.story.begins(index) + 1.0
        player.clock = player.story.clock_at(player.told)
        surface = noted(SIZE)
        stage.draw(surface, player)
        pixels = pygame.surfarray.array3d(surface).astype(float)
        third = pixels[: SIZE[0] // 3 * 3, : SIZE[1] // 3 * 3].reshape(SIZE[0] // 3, 3, SIZE[1] // 3, 3, 3).mean(axis=(1, 3))
        assert len(surface.lines) > 25
        for words, rect, _ in surface.lines:
            assert rect.height >= 18
            if not words.strip() or len(words) == 1:  # a sign alone, such as − on a button, is thinner than a letter
                continue
            whole = luminance(pixels[rect.left : rect.right, rect.top : rect.bottom])
            small = luminance(third[rect.left // 3 : rect.right // 3 + 1, rect.top // 3 : rect.bottom // 3 + 1])
            for seen, least in ((whole, 4.5), (small, 3.0)):
                assert (seen.max() + 0.05) / (seen.min() + 0.05) >= least, words


def moments(replay, count):
    """Drawn at random: pairs or one alone, places, scenes, sizes of window and of text, closeness."""
    random = np.random.default_rng(20)
    for number in range(count):
        chosen = random.permutation(len(replay.drives))[: random.integers(1, 3)].tolist()
        player = Player.opened(replay, chosen)
        player.shows = ALL if number % 3 else ALL - {"loads"}
        player.text, player.zoom = float(random.choice([1.0, 1.5, 2.0])), float(random.choice([0.7, 1.0, 1.0, 1.7]))
        if number % 4 == 0:
            player.tell()
            player.told = float(random.uniform(0.0, player.story.seconds))
            player.clock = player.story.clock_at(player.told)
        else:
            player.jump(float(random.uniform(0.0, replay.course.length)))
        yield player, [(1280, 720), (800, 600), (2560, 1440)][number % 3]


def words_over_marks(replay, noted, count):
    """Of large pictures at drawn moments, where a word lies on a mark, where two run together, and how many words there were."""
    over, close, seen, real = [], [], 0, labels.MarkPen.place_words
    for player, size in moments(replay, count):
        stage = Stage(replay)
        stage._keep(size, player)
        layout, kind, p = stage.layout, stage.layout.type, stage.layout.point
        frame = cards.frame_of(layout.cards[0], player, player.rows, p, kind)
        surfaces, lettering = [], {}

        def place_words(pen, boxes):
            real(pen)
            boxes.append(pen.boxes)

        for words in (True, False):
            surface = noted(size)
            with pytest.MonkeyPatch.context() as patch:
                if words:
                    put = []
                    patch.setattr(labels.MarkPen, "place_words", partialmethod(place_words, put))
                else:  # the marks alone
                    patch.setattr(pens.PygamePen, "text", lambda *_: None)
                    patch.setattr(labels.MarkPen, "text", lambda *_: None)
                    patch.setattr(scene, "draw_ground", lambda *_: None)
                for place, (rect, row) in enumerate(zip(layout.cards, player.rows, strict=True)):
                    station = replay.drives[player.chosen[place]].at(row).station
                    reach = tuple(float(np.interp(station, replay.course.station, side)) for side in stage.reach.T)
                    placed = labels.Placed()
                    if not words:  # letters of a window on a meeting point as large as among the words
                        placed.most = lettering[place].most
                    cards.draw_card(surface, rect, player, place, row, reach, frame, p, kind, placed)
                    lettering[place] = placed
            surfaces.append(surface)
        lettered, bare = surfaces
        marks = (np.abs(pygame.surfarray.array3d(bare).astype(int) - 255) > 3).any(axis=2)
        top, bottom = (layout.cards[0].y + frame[0]) * p, (layout.cards[0].y + layout.cards[0].height - frame[1]) * p
        for words, rect, _ in lettered.lines:
            if rect.top >= top and rect.bottom <= bottom:
                seen += 1
                box = rect.inflate(-2, -4)  # the empty rim round letters
                if marks[box.left : box.right, box.top : box.bottom].any():
                    over.append((words, player.chosen, player.station, size))
        close += [(one, other, player.chosen, player.station, size)
                  for boxes in put for one, other in combinations(boxes, 2) if gap(one, other) < 5 * p]  # fmt: skip
    return over, close, seen


def gap(one, other):
    """Between two words, the larger of that across and that up and down [px]; words with a gap of a few pixels read as one."""
    across = max(one.left, other.left) - min(one.right, other.right)
    return max(across, max(one.top, other.top) - min(one.bottom, other.bottom))


@pytest.mark.slow
def test_no_word_lies_over_a_mark_or_runs_into_another(car_park, noted):
    over, close, seen = words_over_marks(car_park, noted, 6)
    assert seen > 30
    assert over == []
    assert close == []


@pytest.mark.parametrize("height", range(200, 204))
def test_the_edge_pushes_no_word_on_to_a_mark(noted, height):
    """Of a place that the edge cut the words were pushed on to the ring above it."""
    ring, count = Ink("#000000", 3.0), 0
    for below, radius in product(np.arange(36.0, 50.0, 0.5).tolist(), (21.0, 22.0, 23.0, 23.9)):
        surface, bare = noted((240, height)), noted((240, height))
        for one in (surface, bare):
            one.fill("#FFFFFF")
            pen = labels.MarkPen(one, View.page(1.0), Rect(0.0, 0.0, 240.0, float(height)))
            pen.path(np.array([(0.0, 0.0), (240.0, 0.0), (240.0, height - below), (0.0, height - below)]), Ink("#000000", fill="#000000"))
            pen.disc((120.0, height - below), radius, ring)
            if one is surface:
                pen.text((120.0, height - below), "lines meet", Ink(size=18.0, bold=True, anchor="middle"))
                pen.place_words()
        marks = (pygame.surfarray.array3d(bare) < 250).any(axis=2)
        for _, rect, _ in surface.lines:
            count += 1
            box = rect.inflate(-2, -4)
            assert not marks[box.left : box.right, box.top : box.bottom].any(), (below, radius)
    assert count > 15


@pytest.mark.slow
def test_no_word_lies_over_a_mark_or_runs_into_another_at_200_moments(car_park, noted):
    over, close, seen = words_over_marks(car_park, noted, 200)
    assert seen > 1500
    assert over == []
    assert close == []
