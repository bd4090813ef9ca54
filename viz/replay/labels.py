"""A pen that remembers where its marks are, and puts words where none of them is."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import ceil, hypot, inf
from typing import NamedTuple

import numpy as np

from viz.replay.looks import LABEL
from viz.replay.pens import EDGE, LINE_STEP, Ink, Place, PygamePen, text_width
from viz.replay.quiet import pygame
from viz.replay.view import Rect, View

CELL = 4.0  # [px] of the page for one cell of the map of marks
FAR_FROM_IT = 12.0  # [points] between a mark and its words, from which a thin line joins them
BESIDE_IT = 48.0  # [points] within which words are sought at their own size before they yield
NEAR_BY = 120.0  # [points] within which a place for words is looked for first
SURELY = 0.7  # of that: what is nearer, all that counts taken together, nothing further away betters
OTHER_SIDE = 80.0  # [points] that words go further rather than stand wholly on the side where those of another wheel belong
LETTERS = 1.05  # height of a line of letters with the rim that is seen, in sizes
RIM = 0.06  # of the font's own line above and below that part, in sizes: an edge keeps the whole line inside
LEADER = Ink("#1A1A1A", 1.0)
APART = 5.0  # [points] that words keep from each other, or two figures would read as one


class Put(NamedTuple):
    """Where a word was put."""

    aside: tuple[float, float]  # middle of the word, from what it names [px]
    size: float  # of its letters [points]
    flat: bool  # whether its lines stand side by side


class _Found(NamedTuple):
    """A place that was found for a word."""

    covered: int  # cells of it under which marks lie all the same
    far: float  # from what it names [px]
    box: pygame.Rect  # [px]
    words: str
    size: float  # of its letters [points]


@dataclass
class Placed:
    """Where the words of a picture were put, so that the next pictures of a film need not look for the same places again."""

    words: list[Put | None] = field(default_factory=list)  # None for one that was left out
    window: tuple[Rect, float, float] | None = None  # on a meeting point: where it was, its picture's height, size of its letters [points]
    known: bool = False  # whether they have been put
    most: float = inf  # size of letters that none may exceed, for all of a drawing have one [points]

    @property
    def alike(self) -> bool:
        """Whether the window's letters and those beside the marks have one size."""
        return self.window is None or (self.most <= LABEL) == (self.window[2] <= LABEL)

    def smaller(self) -> None:
        """Let all words be looked at again, none larger than usual."""
        self.words.clear()
        self.window, self.known, self.most = None, False, LABEL


class MarkPen(PygamePen):
    """Draws marks at once and words at the end: each as near to its place as no mark and no other word is under it.

    Where one finds no room near by at its own size, all are as large as usual; those that find none even then are left out.
    placed : where the last picture's words were put; known ones are put there again, and marks need not be looked at
    dots : whether a filled dot says something without words too
    """

    def __init__(self, surface: pygame.Surface, view: View, inside: Rect, placed: Placed | None = None, dots: bool = False) -> None:
        super().__init__(surface, view, inside)
        self.placed = placed if placed is not None else Placed()
        self.alone = dots
        self.looks = not self.placed.known  # for places without a mark
        p = view.point
        # A window on the page that begins where the part of it does, in cells.
        a, b = ([one / CELL for one in line] for line in view.matrix)
        origin = (view.origin[0] - self.clip.left) / CELL, (view.origin[1] - self.clip.top) / CELL
        size = max(ceil(self.clip.width / CELL), 1), max(ceil(self.clip.height / CELL), 1)
        self.shadow = PygamePen(pygame.Surface(size), View(view.centre, origin, ((a[0], a[1]), (b[0], b[1])), p / CELL))
        self.wanted: list[tuple[tuple[float, float], str, Ink]] = []
        self.boxes: list[pygame.Rect] = []  # [px] of the words that were put
        self.dots: dict[tuple[float, float], tuple[Place, float, Ink]] = {}  # by where they are [px]; each is drawn if its words are

    def line(self, a: Place, b: Place, ink: Ink) -> None:
        super().line(a, b, ink)
        if self.looks:
            self.shadow.line(a, b, _shadow(ink))

    def lines(self, ends: np.ndarray, ink: Ink) -> None:
        super().lines(ends, ink)
        if self.looks:
            self.shadow.lines(ends, _shadow(ink))

    def trails(self, places: np.ndarray, pieces: Sequence[tuple[int, int, Ink]]) -> None:
        super().trails(places, pieces)
        if self.looks:
            for corners, ink in self.shadow.seen(places, pieces):
                self._cover(corners.tolist(), ink)

    def path(self, places: np.ndarray, ink: Ink) -> None:
        super().path(places, ink)
        if self.looks and len(places) > 1:
            corners = self.shadow.view.screens(places).tolist()
            if ink.fill:
                pygame.draw.polygon(self.shadow.surface, "#FFFFFF", corners)
            self._cover(corners, ink)

    def _cover(self, corners: list[list[float]], ink: Ink) -> None:
        breadth = (ink.breadth * self.view.scale if ink.breadth else ink.width * self.view.point) / CELL
        pygame.draw.lines(self.shadow.surface, "#FFFFFF", bool(ink.fill), corners, max(1, ceil(breadth)))

    def disc(self, centre: Place, radius: float, ink: Ink) -> None:
        if ink.fill == ink.colour and not self.alone:  # a dot alone says nothing
            self.dots[self.view.screen(centre)] = (centre, radius, ink)
        else:
            super().disc(centre, radius, ink)
        if self.looks:
            self.shadow.disc(centre, radius, _shadow(ink))

    def wheel(self, centre: Place, heading: float, length: float, breadth: float, ink: Ink) -> None:
        super().wheel(centre, heading, length, breadth, ink)
        if self.looks:
            self.shadow.wheel(centre, heading, length, breadth, _shadow(ink))

    def text(self, place: Place, words: str, ink: Ink) -> None:
        at = self.view.screen(place)
        if words and self.clip.collidepoint(at):  # what they name is in the picture
            self.wanted.append((at, words, ink))

    def forget(self, words: str) -> None:
        """Leave out words that were asked for.  words : as they were asked for."""
        self.wanted = [one for one in self.wanted if one[1] != words]

    def keep_free(self, rect: pygame.Rect) -> None:
        """Let no words stand in a part of the page.  rect : [px]."""
        if not self.looks:
            return  # no word looks for a place
        left, top = max(int((rect.left - self.clip.left) / CELL), 0), max(int((rect.top - self.clip.top) / CELL), 0)
        right, bottom = ceil((rect.right - self.clip.left) / CELL) + 1, ceil((rect.bottom - self.clip.top) / CELL) + 1
        self.taken[left : max(right, 0), top : max(bottom, 0)] = True

    def crowd(self, rect: pygame.Rect) -> float:
        """Share of a part of the page that marks cover.  rect : [px]."""
        left, top = int((rect.left - self.clip.left) / CELL), int((rect.top - self.clip.top) / CELL)
        return float(self.taken[left : left + int(rect.width / CELL), top : top + int(rect.height / CELL)].mean())

    @cached_property
    def taken(self) -> np.ndarray:
        """Cells with a mark in them or beside them, (columns, rows), when all marks are drawn; words that are put join them."""
        marks = pygame.surfarray.array_green(self.shadow.surface) > 0
        across = marks.copy()
        across[1:] |= marks[:-1]
        across[:-1] |= marks[1:]
        wide = across.copy()
        wide[:, 1:] |= across[:, :-1]
        wide[:, :-1] |= across[:, 1:]
        return wide

    def place_words(self) -> None:
        """Put the words that were asked for, in the order in which they were."""
        page = PygamePen(self.surface, View.page(self.view.point))
        if self.looks:
            self._put_all(page)
        else:
            for (at, words, ink), put in zip(self.wanted, self.placed.words, strict=True):
                if put is not None:
                    self._put_again(page, at, words, ink, put)
        self.wanted.clear()

    @property
    def fits(self) -> bool:
        """Whether the known places are those of the words that were asked for."""
        return self.looks or len(self.wanted) == len(self.placed.words)

    def _put_again(self, page: PygamePen, at: tuple[float, float], words: str, ink: Ink, put: Put) -> None:
        words, ink = words.replace("\n", " ") if put.flat else words, ink._replace(size=put.size)
        wide, high = self._room(words, ink)
        x, y = at[0] + put.aside[0] - wide / 2, at[1] + put.aside[1] - high / 2
        self._write(page, at, words, ink, pygame.Rect(round(x), round(y), ceil(wide), ceil(high)).clamp(self.clip))

    def _room(self, words: str, ink: Ink) -> tuple[float, float]:
        """Breadth and height of words [px]."""
        p, lines = self.view.point, words.split("\n")
        wide = max(text_width(line, ink, p) for line in lines) * p + 4 * p
        return wide, (LETTERS + LINE_STEP * (len(lines) - 1)) * ink.size * p

    def _write(self, page: PygamePen, at: tuple[float, float], words: str, ink: Ink, box: pygame.Rect) -> None:
        """Put words in a box, with a line to what they name where that is far."""
        p = self.view.point
        self.boxes.append(box)
        near = min(max(at[0], box.left), box.right), min(max(at[1], box.top), box.bottom)
        page.clip = self.clip
        if hypot(near[0] - at[0], near[1] - at[1]) > FAR_FROM_IT * p:
            page.line((at[0] / p, at[1] / p), (near[0] / p, near[1] / p), LEADER)
        page.text((box.centerx / p, box.centery / p), words, ink._replace(anchor="middle"))
        if at in self.dots:
            super().disc(*self.dots[at])

    def _put_all(self, page: PygamePen) -> None:
        free, ways = self.taken, list[tuple[tuple[int, int], list[_Found]]]()
        larger = any(ink.size > LABEL for _, _, ink in self.wanted)
        for most in dict.fromkeys((self.placed.most, LABEL) if larger else (LABEL,)):
            self.taken = free.copy()
            found = [self._find(at, words, ink, min(ink.size, most)) for at, words, ink in self.wanted]
            lost = sum(one.covered > 0 for one in found)
            ways.append(((lost, sum(one.far >= BESIDE_IT * self.view.point for one in found)), found))
            if ways[-1][0] == (0, 0):
                break
        _, found = min(ways, key=lambda way: way[0])
        for (at, words, ink), one in zip(self.wanted, found, strict=True):
            if one.covered:  # in a small window with the largest letters and all figures; a word on a mark would spoil both
                self.placed.words.append(None)
                continue
            self._write(page, at, one.words, ink._replace(size=one.size), one.box)
            self.placed.words.append(Put((one.box.centerx - at[0], one.box.centery - at[1]), one.size, one.words != words))
            if one.size < ink.size:
                self.placed.most = LABEL
        self.placed.known = True

    def _find(self, at: tuple[float, float], words: str, ink: Ink, size: float) -> _Found:
        """Where words stand, on one line where there is no room near by otherwise; no others may stand there."""
        p, tried = self.view.point, list[_Found]()
        for one in dict.fromkeys((words, words.replace("\n", " "))):
            covered, box = self._free(at, *self._room(one, ink._replace(size=size)), ink.anchor, size)
            x, y = min(max(at[0], box.left), box.right), min(max(at[1], box.top), box.bottom)
            tried.append(_Found(covered, hypot(x - at[0], y - at[1]), box, one, size))
            if not covered and tried[-1].far < BESIDE_IT * p:
                break
        best = min(tried, key=lambda one: (one.covered, one.far))
        if best.covered:
            return best
        self.keep_free(best.box.inflate(2 * APART * p, 2 * APART * p))
        if best.far > FAR_FROM_IT * p:
            x, y = min(max(at[0], best.box.left), best.box.right), min(max(at[1], best.box.top), best.box.bottom)
            steps = int(best.far / CELL) + 2
            columns, rows = (((np.linspace(a, b, steps) - edge) / CELL).astype(int)
                             for a, b, edge in ((at[0], x, self.clip.left), (at[1], y, self.clip.top)))  # fmt: skip
            self.taken[np.clip(columns, 0, self.taken.shape[0] - 1), np.clip(rows, 0, self.taken.shape[1] - 1)] = True
        return best

    def _free(self, at: tuple[float, float], wide: float, high: float, side: str, size: float) -> tuple[int, pygame.Rect]:
        """The nearest part of the picture without a mark that holds words [px], after how many cells of it marks cover all the same.

        at : what they name; wide, high : of the words [px]
        side : "right" or "left" of the words should be next to it; size : of the letters [points]
        """
        # Near by first, which is a small part of a large picture; further away it is worse whatever is free there.
        reach = NEAR_BY * self.view.point
        near = self._best(at, wide, high, side, size, reach)
        if near is not None and not near[0] and near[1] < SURELY * reach:
            return near[0], near[2]
        covered, _, box = self._best(at, wide, high, side, size, inf) or (1, inf, pygame.Rect(self.clip.topleft, (ceil(wide), ceil(high))))
        return covered, box

    def _best(
        self, at: tuple[float, float], wide: float, high: float, side: str, size: float, reach: float
    ) -> tuple[int, float, pygame.Rect] | None:  # fmt: skip
        """As `_free`, among the parts within a reach of what the words name [px], with how good it is [px]; None where none holds them."""
        first, last, begin, end = 0, self.taken.shape[0], 0, self.taken.shape[1]
        if reach < inf:
            first = max(int((at[0] - self.clip.left - reach - wide) / CELL), 0)
            last = min(ceil((at[0] - self.clip.left + reach + wide) / CELL), last)
            begin = max(int((at[1] - self.clip.top - reach - high) / CELL), 0)
            end = min(ceil((at[1] - self.clip.top + reach + high) / CELL), end)
        taken = self.taken[first:last, begin:end]
        across, down = min(ceil(wide / CELL), self.taken.shape[0]), min(ceil(high / CELL), self.taken.shape[1])
        if taken.shape[0] < across or taken.shape[1] < down:
            return None
        sums = np.zeros((taken.shape[0] + 1, taken.shape[1] + 1), dtype=np.int32)
        np.cumsum(np.cumsum(taken, axis=0), axis=1, out=sums[1:, 1:])
        covered = sums[across:, down:] - sums[:-across, down:] - sums[across:, :-down] + sums[:-across, :-down]
        left = self.clip.left + CELL * np.arange(first, first + covered.shape[0])[:, None]
        top = self.clip.top + CELL * np.arange(begin, begin + covered.shape[1])[None, :]
        # The edge would push words off a place that it cuts, and on to the mark beside it.
        inside, rim = self.clip.inflate(-EDGE * self.view.point, 0), RIM * size * self.view.point
        cut = (left < inside.left) | (left + wide > inside.right) | (top < inside.top + rim) | (top + high > inside.bottom - rim)
        covered = np.where(cut, across * down, covered)
        dx = np.maximum(np.maximum(left - at[0], at[0] - left - wide), 0.0)
        dy = np.maximum(np.maximum(top - at[1], at[1] - top - high), 0.0)
        towards = {"left": -1.0, "right": 1.0}.get(side, 0.0)
        # Of places as near as each other the one on the wished side, or the one whose middle is nearest.
        far = np.hypot(dx, dy) + 0.1 * np.hypot(left + wide / 2 - at[0], top + high / 2 - at[1]) + 0.15 * towards * (left - at[0])
        wrong = {"left": left + wide < at[0], "right": left > at[0]}.get(side)
        if wrong is not None:
            far = far + OTHER_SIDE * self.view.point * wrong
        column, row = np.unravel_index(np.argmin(far + 1e4 * covered), far.shape)
        box = pygame.Rect(round(float(left[column, 0])), round(float(top[0, row])), ceil(wide), ceil(high))
        return int(covered[column, row]), float(far[column, row]), box


def _shadow(ink: Ink) -> Ink:
    """The same mark, whole and seen whatever its colour."""
    return ink._replace(colour="#FFFFFF", fill="#FFFFFF" if ink.fill else "", dash=0.0)
