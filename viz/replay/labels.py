"""A pen that remembers where its marks are, and puts words where none of them is."""

from dataclasses import dataclass, field
from functools import cached_property
from math import ceil, hypot
from typing import NamedTuple

import numpy as np

from viz.replay.looks import LABEL
from viz.replay.pens import LINE_STEP, Ink, Place, PygamePen, text_width
from viz.replay.quiet import pygame
from viz.replay.view import Rect, View

CELL = 4.0  # [px] of the page for one cell of the map of marks
FAR_FROM_IT = 12.0  # [points] between a mark and its words, from which a thin line joins them
BESIDE_IT = 48.0  # [points] within which words are sought at their own size before they yield
LETTERS = 1.05  # height of a line of letters with the rim that is seen, in sizes
LEADER = Ink("#1A1A1A", 1.0)


class Put(NamedTuple):
    """Where a word was put."""

    aside: tuple[float, float]  # middle of the word, from what it names [px]
    size: float  # of its letters [points]
    flat: bool  # whether its lines stand side by side


@dataclass
class Placed:
    """Where the words of a picture were put, so that the next pictures of a film need not look for the same places again."""

    words: list[Put | None] = field(default_factory=list)  # None for one that was left out
    corner: int = -1  # of the window on a meeting point; -1 where there was none
    known: bool = False  # whether they have been put


class MarkPen(PygamePen):
    """Draws marks at once and words at the end: each as near to its place as no mark and no other word is under it.

    Words that find room nowhere, however small, are left out.
    placed : where the last picture's words were put; known ones are put there again, and marks need not be looked at
    """

    def __init__(self, surface: pygame.Surface, view: View, inside: Rect, placed: Placed | None = None) -> None:
        super().__init__(surface, view, inside)
        self.placed = placed if placed is not None else Placed()
        self.looks = not self.placed.known  # for places without a mark
        p = view.point
        # A window on the page that begins where the part of it does, in cells.
        a, b = ([one / CELL for one in line] for line in view.matrix)
        origin = (view.origin[0] - self.clip.left) / CELL, (view.origin[1] - self.clip.top) / CELL
        size = max(ceil(self.clip.width / CELL), 1), max(ceil(self.clip.height / CELL), 1)
        self.shadow = PygamePen(pygame.Surface(size), View(view.centre, origin, ((a[0], a[1]), (b[0], b[1])), p / CELL))
        self.wanted: list[tuple[tuple[float, float], str, Ink]] = []
        self.boxes: list[pygame.Rect] = []  # [px] of the words that were put

    def line(self, a: Place, b: Place, ink: Ink) -> None:
        super().line(a, b, ink)
        if self.looks:
            self.shadow.line(a, b, _shadow(ink))

    def path(self, places: np.ndarray, ink: Ink) -> None:
        super().path(places, ink)
        if self.looks and len(places) > 1:
            corners = self.shadow.view.screens(places).tolist()
            if ink.fill:
                pygame.draw.polygon(self.shadow.surface, "#FFFFFF", corners)
            breadth = (ink.breadth * self.view.scale if ink.breadth else ink.width * self.view.point) / CELL
            pygame.draw.lines(self.shadow.surface, "#FFFFFF", bool(ink.fill), corners, max(1, ceil(breadth)))

    def disc(self, centre: Place, radius: float, ink: Ink) -> None:
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

    def keep_free(self, rect: pygame.Rect) -> None:
        """Let no words stand in a part of the page.  rect : [px]."""
        left, top = max(int((rect.left - self.clip.left) / CELL), 0), max(int((rect.top - self.clip.top) / CELL), 0)
        self.taken[left : left + ceil(rect.width / CELL) + 1, top : top + ceil(rect.height / CELL) + 1] = True

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
            for at, words, ink in self.wanted:
                self._put(page, at, words, ink)
            self.placed.known = True
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

    def _write(self, page: PygamePen, at: tuple[float, float], words: str, ink: Ink, box: pygame.Rect) -> tuple[float, float]:
        """Put words in a box, with a line to what they name where that is far.  Returns where the box is nearest to it [px]."""
        p = self.view.point
        self.boxes.append(box)
        near = min(max(at[0], box.left), box.right), min(max(at[1], box.top), box.bottom)
        page.clip = self.clip
        if hypot(near[0] - at[0], near[1] - at[1]) > FAR_FROM_IT * p:
            page.line((at[0] / p, at[1] / p), (near[0] / p, near[1] / p), LEADER)
        page.text((box.centerx / p, box.centery / p), words, ink._replace(anchor="middle"))
        return near

    def _put(self, page: PygamePen, at: tuple[float, float], words: str, ink: Ink) -> None:
        p = self.view.point
        # Where there is no room near by: on one line; then no larger than usual; then both.
        shapes = [(one, size) for size in (ink.size, min(ink.size, LABEL)) for one in (words, words.replace("\n", " "))]
        tried = list[tuple[int, float, pygame.Rect, str, float]]()
        for one, size in dict.fromkeys(shapes):
            wide, high = self._room(one, ink._replace(size=size))
            covered, box = self._free(at, wide, high, ink.anchor)
            near = min(max(at[0], box.left), box.right), min(max(at[1], box.top), box.bottom)
            tried.append((covered, hypot(near[0] - at[0], near[1] - at[1]), box, one, size))
            if not covered and tried[-1][1] < BESIDE_IT * p:
                break
        covered, _, box, shown, size = min(tried, key=lambda one: one[:2])
        if covered:
            self.placed.words.append(None)
            return  # in a small window with the largest letters and all figures; a word on a mark would spoil both
        self.keep_free(box)
        near = self._write(page, at, shown, ink._replace(size=size), box)
        self.placed.words.append(Put((box.centerx - at[0], box.centery - at[1]), size, shown != words))
        if hypot(near[0] - at[0], near[1] - at[1]) > FAR_FROM_IT * p:
            steps = int(hypot(near[0] - at[0], near[1] - at[1]) / CELL) + 2
            columns, rows = (((np.linspace(a, b, steps) - edge) / CELL).astype(int)
                             for a, b, edge in ((at[0], near[0], self.clip.left), (at[1], near[1], self.clip.top)))  # fmt: skip
            self.taken[np.clip(columns, 0, self.taken.shape[0] - 1), np.clip(rows, 0, self.taken.shape[1] - 1)] = True

    def _free(self, at: tuple[float, float], wide: float, high: float, side: str) -> tuple[int, pygame.Rect]:
        """The nearest part of the picture without a mark that holds words [px], after how many cells of it marks cover all the same.

        at : what they name; wide, high : of the words [px]
        side : "right" or "left" of the words should be next to it
        """
        taken = self.taken
        across, down = min(ceil(wide / CELL), taken.shape[0]), min(ceil(high / CELL), taken.shape[1])
        sums = np.zeros((taken.shape[0] + 1, taken.shape[1] + 1), dtype=np.int32)
        np.cumsum(np.cumsum(taken, axis=0), axis=1, out=sums[1:, 1:])
        covered = sums[across:, down:] - sums[:-across, down:] - sums[across:, :-down] + sums[:-across, :-down]
        left = self.clip.left + CELL * np.arange(covered.shape[0])[:, None]
        top = self.clip.top + CELL * np.arange(covered.shape[1])[None, :]
        dx = np.maximum(np.maximum(left - at[0], at[0] - left - wide), 0.0)
        dy = np.maximum(np.maximum(top - at[1], at[1] - top - high), 0.0)
        towards = {"left": -1.0, "right": 1.0}.get(side, 0.0)
        # Of places as near as each other the one on the wished side, or the one whose middle is nearest.
        far = np.hypot(dx, dy) + 0.1 * np.hypot(left + wide / 2 - at[0], top + high / 2 - at[1]) + 0.15 * towards * (left - at[0])
        column, row = np.unravel_index(np.argmin(far + 1e4 * covered), far.shape)
        box = pygame.Rect(round(float(left[column, 0])), round(float(top[0, row])), ceil(wide), ceil(high))
        return int(covered[column, row]), box


def _shadow(ink: Ink) -> Ink:
    """The same mark, whole and seen whatever its colour."""
    return ink._replace(colour="#FFFFFF", fill="#FFFFFF" if ink.fill else "", dash=0.0)
