"""Pens: five verbs that every picture of the replay is drawn with, two of them for many at once too.

One pen draws, another only writes the calls down.
"""

from collections.abc import Sequence
from functools import lru_cache
from importlib.util import find_spec
from itertools import pairwise
from math import cos, hypot, sin
from pathlib import Path
from typing import Any, NamedTuple, Protocol

import numpy as np

from viz.replay.quiet import pygame
from viz.replay.view import Rect, View

Place = tuple[float, float]
SMALLEST_TEXT = 14.0  # [points]
LINE_STEP = 1.15  # from line to line, in sizes of letters
EDGE = 4.0  # [points] that words keep from the edge of their picture
FEW = 16  # places, up to which plain numbers are quicker than arrays
FAR_OUT = 4000.0  # [px]; lines that reach further are cut first: far outside the surface the library draws them slowly or not at all


class Ink(NamedTuple):
    """How a mark looks.  Lengths are layout points unless they say otherwise."""

    colour: str = "#1A1A1A"
    width: float = 1.5  # of a line; 0 draws no outline
    fill: str = ""  # colour inside, or behind words; empty for none
    dash: float = 0.0  # length of a dash and of the gap after it, 0 for a whole line
    breadth: float = 0.0  # of a line on the ground, in place of `width` [m]
    size: float = 15.0  # of letters
    bold: bool = False
    anchor: str = "left"  # "left", "middle" or "right" of the words stands at the place; their middle line always does
    plain: bool = False  # whole pixels without a smooth rim, a tenth of the time: for pale lines that lie behind everything


class Pen(Protocol):
    """What a scene draws with; places and lengths are in the world's unit of the pen's view."""

    def line(self, a: Place, b: Place, ink: Ink) -> None:
        """A line from a to b."""

    def lines(self, ends: np.ndarray, ink: Ink) -> None:
        """Many lines, (n, 2, 2): line, end, place."""

    def path(self, places: np.ndarray, ink: Ink) -> None:
        """An open line through places (n, 2); with `ink.fill` a closed shape."""

    def trails(self, places: np.ndarray, pieces: Sequence[tuple[int, int, Ink]]) -> None:
        """Many open whole lines through places (n, 2): of each the first place, the last one, and the ink."""

    def disc(self, centre: Place, radius: float, ink: Ink) -> None:
        """A circle; filled with `ink.fill`."""

    def wheel(self, centre: Place, heading: float, length: float, breadth: float, ink: Ink) -> None:
        """A wheel from above: length along its heading [rad], breadth across."""

    def text(self, place: Place, words: str, ink: Ink) -> None:
        """Words, a line each where they hold line ends; a pen with an edge leaves them out where the place is beyond it."""


class NotePen:
    """Writes the calls down, to four decimals: a tenth of a millimetre on the ground."""

    def __init__(self) -> None:
        self.calls: list[tuple[Any, ...]] = []

    def line(self, a: Place, b: Place, ink: Ink) -> None:
        self.calls.append(("line", _noted(a), _noted(b), ink))

    def lines(self, ends: np.ndarray, ink: Ink) -> None:
        for a, b in ends:
            self.line(a, b, ink)

    def path(self, places: np.ndarray, ink: Ink) -> None:
        self.calls.append(("path", tuple(_noted(place) for place in places), ink))

    def trails(self, places: np.ndarray, pieces: Sequence[tuple[int, int, Ink]]) -> None:
        for first, last, ink in pieces:
            self.path(places[first : last + 1], ink)

    def disc(self, centre: Place, radius: float, ink: Ink) -> None:
        self.calls.append(("disc", _noted(centre), round(float(radius), 4), ink))

    def wheel(self, centre: Place, heading: float, length: float, breadth: float, ink: Ink) -> None:
        self.calls.append(("wheel", _noted(centre), *(round(float(one), 4) for one in (heading, length, breadth)), ink))

    def text(self, place: Place, words: str, ink: Ink) -> None:
        self.calls.append(("text", _noted(place), words, ink))


def _noted(place: Sequence[float] | np.ndarray) -> Place:
    return round(float(place[0]), 4) + 0.0, round(float(place[1]), 4) + 0.0


class PygamePen:
    """Draws on a surface through a view, inside a part of the page."""

    def __init__(self, surface: pygame.Surface, view: View, inside: Rect | None = None) -> None:
        self.surface, self.view = surface, view
        p = view.point
        whole = surface.get_rect()
        self.clip = whole if inside is None else pygame.Rect(*(round(side * p) for side in inside)).clip(whole)

    def line(self, a: Place, b: Place, ink: Ink) -> None:
        (ax, ay), (bx, by) = a, b = self.view.screen(a), self.view.screen(b)
        thick = self._thickness(ink)
        left, right, top, bottom = (ax, bx, ay, by) if ax < bx else (bx, ax, ay, by)
        if top > bottom:
            top, bottom = bottom, top
        if not self._near(left, right, top, bottom, thick):
            return
        if ink.dash or left < -FAR_OUT or top < -FAR_OUT or right > FAR_OUT or bottom > FAR_OUT:
            self._stroke([a, b], ink)
        else:
            self.surface.set_clip(self.clip)
            self._straight(a, b, thick, ink)

    def lines(self, ends: np.ndarray, ink: Ink) -> None:
        thick, clip = self._thickness(ink), self.clip
        first, last, high, low = clip.left - thick, clip.right + thick, clip.top - thick, clip.bottom + thick
        places = iter(self.view.screen_list(ends.reshape(-1, 2)))
        self.surface.set_clip(clip)
        for a, b in zip(places, places, strict=True):
            (ax, ay), (bx, by) = a, b
            if (ax < first and bx < first) or (ax > last and bx > last) or (ay < high and by < high) or (ay > low and by > low):
                continue
            if ink.dash or max(ax, ay, bx, by) > FAR_OUT or min(ax, ay, bx, by) < -FAR_OUT:
                self._stroke([a, b], ink)
            else:
                self._straight(a, b, thick, ink)

    def path(self, places: np.ndarray, ink: Ink) -> None:
        if len(places) < 2:
            return
        edge = self._thickness(ink)
        if len(places) <= FEW:
            some = self.view.screen_list(np.asarray(places))
            xs, ys = [place[0] for place in some], [place[1] for place in some]
            if not self._near(min(xs), max(xs), min(ys), max(ys), edge):
                return  # as most of what lies around a close-up
            if ink.fill:
                self._shape(some, ink)
                return
            if len(some) == 2 and not ink.dash and max(map(abs, (*xs, *ys))) <= FAR_OUT:
                self.surface.set_clip(self.clip)
                self._straight(some[0], some[1], edge, ink)
                return
            if ink.dash or edge <= 1 or len(some) == 2:
                self._stroke(some, ink)
                return
            self.surface.set_clip(self.clip)
            self._ribbon(np.array(some), edge, ink)
            return
        on_screen = self.view.screens(places)
        (left, top), (right, bottom) = on_screen.min(axis=0).tolist(), on_screen.max(axis=0).tolist()
        if not self._near(left, right, top, bottom, edge):
            return
        if ink.fill:
            self._shape(on_screen.tolist(), ink)
        elif ink.dash or edge <= 1:
            self._stroke(on_screen.tolist(), ink)
        else:
            self.surface.set_clip(self.clip)
            self._ribbon(on_screen, edge, ink)

    def trails(self, places: np.ndarray, pieces: Sequence[tuple[int, int, Ink]]) -> None:
        for corners, ink in self.seen(places, pieces):
            thick = self._thickness(ink)
            if len(corners) == 2 or thick <= 1:
                self._stroke(corners.tolist(), ink)
            else:
                self._ribbon(corners, thick, ink)

    def seen(self, places: np.ndarray, pieces: Sequence[tuple[int, int, Ink]]) -> list[tuple[np.ndarray, Ink]]:
        """Of many lines those that come near the part that is drawn on, their places on the screen [px].  Arguments as for `trails`."""
        on_screen, clip = self.view.screens(places), self.clip
        widest = max(self._thickness(ink) for _, _, ink in pieces)
        x, y = on_screen.T
        # On which side of the picture a place lies, as bits: a line whose places have one in common is not seen.
        sides = 1 * (x < clip.left - widest) + 2 * (x > clip.right + widest) + 4 * (y < clip.top - widest) + 8 * (y > clip.bottom + widest)
        found, sides = list[tuple[np.ndarray, Ink]](), sides.tolist()
        for first, last, ink in pieces:
            common = sides[first]
            for one in sides[first + 1 : last + 1]:
                if not common:
                    break
                common &= one
            if not common:
                found.append((on_screen[first : last + 1], ink))
        self.surface.set_clip(clip)
        return found

    def disc(self, centre: Place, radius: float, ink: Ink) -> None:
        x, y = self.view.screen(centre)
        size = radius * self.view.scale
        if not self._near(x, x, y, y, size):
            return
        self.surface.set_clip(self.clip)
        if ink.fill:
            pygame.draw.aacircle(self.surface, ink.fill, (x, y), max(size, 1.0))
        if ink.width:
            pygame.draw.aacircle(self.surface, ink.colour, (x, y), max(size, 1.0), max(1, round(ink.width * self.view.point)))

    def wheel(self, centre: Place, heading: float, length: float, breadth: float, ink: Ink) -> None:
        thick = breadth * self.view.scale
        if thick < 2:
            self.path(wheel_outline(centre, heading, length, breadth), ink)
            return
        half = np.array([cos(heading), sin(heading)]) * length / 2
        ends = self.view.screens(np.array([centre + half, centre - half])).tolist()
        self.surface.set_clip(self.clip)
        pygame.draw.aaline(self.surface, ink.fill or ink.colour, ends[0], ends[1], round(thick))

    def text(self, place: Place, words: str, ink: Ink) -> None:
        if not words:
            return
        p = self.view.point
        pictures = [_letters(line, max(round(ink.size * p), 1), ink.bold, ink.colour) for line in words.split("\n")]
        step, margin, clip = LINE_STEP * ink.size * p, EDGE * p, self.clip
        x, y = self.view.screen(place)
        if not clip.collidepoint(x, y):
            return  # what they name is not in the picture
        # The edge does not cut them off either.
        half = ((len(pictures) - 1) * step + pictures[0].get_height()) / 2
        y = max(min(y, clip.bottom - half), clip.top + half)
        self.surface.set_clip(clip)
        for index, picture in enumerate(pictures):
            wide = picture.get_width()
            left = x - {"left": 0.0, "middle": 0.5, "right": 1.0}[ink.anchor] * wide
            left = max(min(left, clip.right - margin - wide), clip.left + margin)
            middle = y + (index - (len(pictures) - 1) / 2) * step
            if ink.fill:
                behind = picture.get_rect(x=round(left), centery=round(middle)).inflate(round(4 * p), -round(2 * p))
                self.surface.fill(ink.fill, behind)
            self.surface.blit(picture, (round(left), round(middle - picture.get_height() / 2)))

    def _near(self, left: float, right: float, top: float, bottom: float, size: float) -> bool:
        clip = self.clip
        return left <= clip.right + size and right >= clip.left - size and top <= clip.bottom + size and bottom >= clip.top - size

    def _thickness(self, ink: Ink) -> int:
        return max(1, round(ink.breadth * self.view.scale if ink.breadth else ink.width * self.view.point))

    def _stroke(self, places: list, ink: Ink) -> None:
        self.surface.set_clip(self.clip)
        thick = self._thickness(ink)
        if len(places) == 2 and (ink.dash or max(map(abs, (*places[0], *places[1]))) > FAR_OUT):
            a, b = places
            ends = clipped(a, b, self.clip.inflate(2 * thick, 2 * thick))
            if ends is None:
                return
            if not ink.dash:
                self._straight(ends[0], ends[1], thick, ink)
            else:  # the dashes do not creep while the seen part of the line changes
                for c, d in dashes(list(ends), ink.dash * self.view.point, hypot(ends[0][0] - a[0], ends[0][1] - a[1])):
                    pygame.draw.aaline(self.surface, ink.colour, c, d, thick)
            return
        if not ink.dash and thick <= 1 and len(places) > 2:  # of two places alone the library draws the ends now so, now so
            pygame.draw.aalines(self.surface, ink.colour, False, places)
            return
        if not ink.dash and len(places) > 2:
            self._ribbon(np.array(places), thick, ink)
            return
        for a, b in dashes(places, ink.dash * self.view.point) if ink.dash else [places]:
            self._straight(a, b, thick, ink)

    def _straight(self, a: Place, b: Place, thick: int, ink: Ink) -> None:
        if ink.plain:
            pygame.draw.line(self.surface, ink.colour, (round(a[0]), round(a[1])), (round(b[0]), round(b[1])), thick)
        else:
            pygame.draw.aaline(self.surface, ink.colour, a, b, thick)

    def _ribbon(self, places: np.ndarray, thick: int, ink: Ink) -> None:
        outline = ribbon(places, thick)
        pygame.draw.polygon(self.surface, ink.colour, np.rint(outline).tolist())
        pygame.draw.aalines(self.surface, ink.colour, True, outline.tolist())

    def _shape(self, places: list, ink: Ink) -> None:
        self.surface.set_clip(self.clip)
        if len(places) == 4 and places[0][1] == places[1][1] and places[1][0] == places[2][0]:
            self._rectangle(places, ink)
            return
        # The library's shapes are whole pixels: a hair smaller, they stay behind their smooth rim.
        inside = places
        if ink.width:
            x, y = sum(place[0] for place in places) / len(places), sum(place[1] for place in places) / len(places)
            inside = []
            for px, py in places:
                keep = 1 - 0.6 / max(hypot(px - x, py - y), 0.6)
                inside.append((x + keep * (px - x), y + keep * (py - y)))
        pygame.draw.polygon(self.surface, ink.fill, [(round(px), round(py)) for px, py in inside])
        rim = ink.colour if ink.width else ink.fill
        if ink.width * self.view.point > 1.5:
            self._stroke([*places, places[0]], ink._replace(fill="", breadth=0.0))
        else:
            pygame.draw.aalines(self.surface, rim, True, places)

    def _rectangle(self, places: list, ink: Ink) -> None:
        (left, top), (right, bottom) = places[0], places[2]
        left, right, top, bottom = (round(one) for one in (min(left, right), max(left, right), min(top, bottom), max(top, bottom)))
        rect = pygame.Rect(left, top, right - left, bottom - top)
        self.surface.fill(ink.fill, rect)
        if ink.width:
            pygame.draw.rect(self.surface, ink.colour, rect, max(1, round(ink.width * self.view.point)))


def wheel_outline(centre: Place, heading: float, length: float, breadth: float) -> np.ndarray:
    """The corners of a wheel seen from above, cut a little, (8, 2): front left first, then clockwise.

    centre : [m]; heading : counter-clockwise from x [rad]; length, breadth : [m]
    """
    half, side = length / 2, breadth / 2
    cut = 0.3 * breadth
    corners = np.array([(half, side - cut), (half, cut - side), (half - cut, -side), (cut - half, -side),
                        (-half, cut - side), (-half, side - cut), (cut - half, side), (half - cut, side)])  # fmt: skip
    c, s = cos(heading), sin(heading)
    along, across = corners.T
    return np.stack([centre[0] + c * along - s * across, centre[1] + s * along + c * across], axis=1)


def ribbon(places: np.ndarray, breadth: float) -> np.ndarray:
    """The outline of a line with breadth, (2 n, 2).  places : (n, 2) of its middle, n above 1 [px]; breadth : [px]."""
    ahead = np.empty_like(places)
    ahead[1:-1] = places[2:] - places[:-2]
    ahead[0], ahead[-1] = places[1] - places[0], places[-1] - places[-2]
    # The library's polygons reach half a pixel beyond their corners on each side.
    ahead *= (max((breadth - 1) / 2, 0.2) / np.maximum(np.hypot(ahead[:, 0], ahead[:, 1]), 1e-9))[:, None]
    outline = np.empty((2 * len(places), 2))
    left, right = outline[: len(places)], outline[: len(places) - 1 : -1]
    left[:, 0], left[:, 1] = places[:, 0] - ahead[:, 1], places[:, 1] + ahead[:, 0]
    right[:, 0], right[:, 1] = places[:, 0] + ahead[:, 1], places[:, 1] - ahead[:, 0]
    return outline


def clipped(a: Place, b: Place, inside: pygame.Rect) -> tuple[Place, Place] | None:
    """The part of a line inside a rectangle, None where there is none.  a, b, inside : [px].  Source: Liang and Barsky (1984)."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    first, last = 0.0, 1.0
    for step, room in ((-dx, a[0] - inside.left), (dx, inside.right - a[0]), (-dy, a[1] - inside.top), (dy, inside.bottom - a[1])):
        if step == 0:
            if room < 0:
                return None
        elif step < 0:
            first = max(first, room / step)
        else:
            last = min(last, room / step)
    if first >= last:
        return None
    return (a[0] + first * dx, a[1] + first * dy), (a[0] + last * dx, a[1] + last * dy)


def dashes(places: list, length: float, done: float = 0.0) -> list[tuple[Place, Place]]:
    """A path cut into dashes as long as their gaps.

    places : (n, 2) [px]; length : of a dash [px]; done : of the path before the first place [px]
    Returns (a, b) for each piece of a dash.
    """
    pieces = []
    for (ax, ay), (bx, by) in pairwise(places):
        whole = hypot(bx - ax, by - ay)
        if whole == 0:
            continue
        at = 0.0
        while at < whole:
            phase = (done + at) % (2 * length)
            upto = min(whole, at + (length - phase if phase < length else 2 * length - phase) + 1e-6)
            if phase < length:
                f, g = at / whole, upto / whole
                pieces.append(((ax + f * (bx - ax), ay + f * (by - ay)), (ax + g * (bx - ax), ay + g * (by - ay))))
            at = upto
        done += whole
    return pieces


@lru_cache(maxsize=64)
def _font(size: int, bold: bool) -> pygame.font.Font:
    """The font that comes with the plotting library, so that pictures look alike wherever they are made."""
    if not pygame.font.get_init():
        pygame.font.init()
    found = find_spec("matplotlib")
    folder = Path(found.origin).parent if found is not None and found.origin else Path()
    file = folder / "mpl-data" / "fonts" / "ttf" / ("DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf")
    return pygame.font.Font(file if file.is_file() else None, size)


@lru_cache(maxsize=2048)
def _letters(words: str, size: int, bold: bool, colour: str) -> pygame.Surface:
    return _font(size, bold).render(words, True, colour)


def text_width(words: str, ink: Ink, point: float = 1.0) -> float:
    """Width of words [points].  words, ink : as for `Pen.text`; point : size of a layout point [px]."""
    return _width(words, max(round(ink.size * point), 1), ink.bold) / point


@lru_cache(maxsize=8192)
def _width(words: str, size: int, bold: bool) -> int:
    return _font(size, bold).size(words)[0]


@lru_cache(maxsize=1024)
def wrapped(words: str, ink: Ink, width: float, point: float = 1.0) -> str:
    """Words with line ends put in so that no line is wider.  words, ink, point : as for `text_width`; width : [points]."""
    lines = [""]
    for word in words.split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if text_width(longer, ink, point) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return "\n".join(line for line in lines if line)


def shortened(words: str, ink: Ink, width: float, point: float = 1.0) -> str:
    """Words cut with an ellipsis so that they are no wider.  words, ink, point : as for `text_width`; width : [points]."""
    if text_width(words, ink, point) <= width:
        return words
    while words and text_width(f"{words}…", ink, point) > width:
        words = words[:-1]
    return f"{words.rstrip()}…"
