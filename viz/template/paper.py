"""Paper at true size: pages in millimetres, their check lines, and drawings cut into sheets that are joined again.

Nothing on a page is scaled: a millimetre here is a millimetre on paper.  Lines are cut at a sheet's window by
computation, not by the printer, so that what stands in the file is what is meant to be seen.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from itertools import pairwise
from math import ceil
from typing import IO, Any

import matplotlib
import numpy as np
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from matplotlib.path import Path as Outline

from viz.shared.figures import FONT, folded, plain, text_width

PAPERS: dict[str, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4), "a3": (297.0, 420.0)}  # [mm] wide, high
NARROWEST = min(wide for wide, _ in PAPERS.values())  # [mm]
INCH = 25.4  # [mm]
MARGIN = 10.0  # [mm] printers can't print to the edge
SMALL, NORMAL, LARGE = 8.0, 9.0, 13.0  # [pt]
LEADING = 1.3 / 72 * INCH  # [mm] from line to line for each point of size
HAIR, FINE, BOLD = 0.15, 0.25, 0.9  # [mm] breadth of lines
HEADER, FOOTER, SIDE = 15.0, 17.0, 9.0  # [mm] strips inside the margins for heading, check line and its upright twin
NAMES_LINE, NAMES_FOOT = 5.0, 1.0  # [mm] of the strip below the heading that says whose sheet it is: one line, and what is left below
FILL_IN = ("team", "date")  # what a team writes into it
BLANK, BLANK_BESIDE = 60.0, 34.0  # [mm] from such a word to the end of its blank, below each other and side by side
CHECK = 100.0  # [mm] the check lines' length
CHECK_WORDS = (
    'Measure both 100 mm lines. If one is not 100 mm, do not use this sheet: print it again at 100 % ("actual size", '
    'not "fit to page"). If it is still wrong, use another printer.'
)
# That neighbouring sheets share [mm].  One of them is cut along the joint in its middle and laid on the other, so half of a number that the
# joint runs through comes from each: hardly a number is longer than half of it, so that both sheets hold such a one whole.
OVERLAP = 20.0
MOST_MORE = 3  # sheets beyond the fewest, where those would cut a word
CROSS_INSET, CROSS_ARM = 12.0, 4.0  # [mm] register crosses: from the window's edge; half their size
NAME_BESIDE, CLEAR = 2.2, 3.0  # [mm] a joint's name: from its line; from other marks

Dash = tuple[float, float] | None  # [mm] of line and of gap


@dataclass(frozen=True, eq=False)
class Stroke:
    """A line through points.

    points : (n, 2) to the right and up [mm]
    width : of the pen [mm]
    dash : line and gap [mm], or None
    """

    points: np.ndarray
    width: float = FINE
    dash: Dash = None


@dataclass(frozen=True)
class Word:
    """A short text about its middle: `right`, `up` [mm], size [pt], turn to the left [degrees]."""

    text: str
    right: float
    up: float
    size: float = SMALL
    weight: str = "normal"
    turn: float = 0.0


@dataclass(frozen=True)
class Box:
    """An upright rectangle [mm]."""

    left: float
    bottom: float
    right: float
    top: float

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def height(self) -> float:
        return self.top - self.bottom


class Page:
    """One page in millimetres from its lower left corner, with the check lines already on it where it must print at true size."""

    def __init__(self, paper: str, heading: str, below: str, aside: str = "", *, names: tuple[str, str] | None = None,
                 landscape: bool = False, true_size: bool = True):  # fmt: skip
        """paper : a key of PAPERS; heading, below : at the top; aside : beside the heading; landscape : turned on its side;
        names : whose sheet it is, in two lines beside blanks to fill in, or None;
        true_size : whether anything on it is measured, so that it bears check lines
        """
        short, long = PAPERS[paper]
        self.width, self.height = (long, short) if landscape else (short, long)
        self.figure = Figure(figsize=(self.width / INCH, self.height / INCH), facecolor="white")
        self.axes = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.axes.set(xlim=(0.0, self.width), ylim=(0.0, self.height))
        self.axes.axis("off")
        self.window = window_of(paper, landscape, true_size)
        self.text(MARGIN, self.height - MARGIN, heading, size=LARGE, weight="bold", va="top")
        used = text_width(heading, LARGE, "bold") * INCH + 6.0
        name = folded(aside, (self.width - 2 * MARGIN - used) / INCH, SMALL, most=1)[0]
        self.text(self.width - MARGIN, self.height - MARGIN - 1.0, name, ha="right", va="top")
        top = self.height - MARGIN - 7.0
        if names is not None:
            self._names(top, names, landscape)
            top -= names_height(landscape)
        self.paragraph(MARGIN, top, below, self.width - 2 * MARGIN, most=2)
        if true_size:
            self._check_lines()

    def lines(self, pieces: Sequence[np.ndarray], width: float = FINE, dash: Dash = None) -> None:
        """Lines of one kind.  pieces : each (n, 2) [mm]; width, dash [mm]."""
        pieces = [piece for piece in pieces if len(piece) > 1]
        if not pieces:
            return
        codes = np.concatenate([[Outline.MOVETO, *[Outline.LINETO] * (len(piece) - 1)] for piece in pieces])
        points = width / INCH * 72
        style: Any = "solid" if dash is None else (0.0, tuple(part / INCH * 72 for part in dash))
        self.axes.add_patch(PathPatch(
            Outline(np.concatenate(pieces), codes), fill=False, edgecolor="black", linewidth=points, linestyle=style,
            capstyle="butt", joinstyle="round", clip_on=False,
        ))  # fmt: skip

    def line(self, *points: tuple[float, float], width: float = FINE, dash: Dash = None) -> None:
        """One line through points [mm]."""
        self.lines([np.array(points)], width, dash)

    def text(self, x: float, y: float, words: str, *, size: float = SMALL, weight: str = "normal", ha: str = "left",
             va: str = "baseline", turn: float = 0.0, cleared: bool = False) -> None:  # fmt: skip
        """One line of text at a place [mm], size [pt]; `cleared` whitens the paper behind it."""
        self.axes.text(
            x, y, plain(words), size=size, weight=weight, family=FONT, color="black", ha=ha, va=va, rotation=turn,
            rotation_mode="anchor", parse_math=False, clip_on=False,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0} if cleared else None,
        )  # fmt: skip

    def paragraph(self, x: float, top: float, words: str, width: float, *, size: float = SMALL, weight: str = "normal",
                  most: int | None = None) -> float:  # fmt: skip
        """Text in lines no wider than `width`; returns the height below it [mm]."""
        for line in folded(words, width / INCH, size, weight, most) if words else []:
            self.text(x, top, line, size=size, weight=weight, va="top")
            top -= LEADING * size
        return top

    def _names(self, top: float, names: tuple[str, str], landscape: bool) -> None:
        """Whose sheet it is, and where a team writes its own name and the day: side by side on a broad sheet."""
        blanks = BLANK_BESIDE if landscape else BLANK
        size = (self.width - 2 * MARGIN) / (2 if landscape else 1) - blanks
        for index, (words, blank) in enumerate(zip(names, FILL_IN, strict=True)):
            foot = top - NAMES_LINE * ((0 if landscape else index) + 0.8)
            left = MARGIN + (index * (size + blanks) if landscape else 0.0)
            start = left + size
            letters = NORMAL if text_width(plain(words), NORMAL) * INCH <= size - 4.0 else SMALL
            self.text(left, foot, folded(words, (size - 4.0) / INCH, letters, most=1)[0], size=letters)
            self.text(start, foot, blank, size=NORMAL)
            self.line((start + 10.0, foot - 0.5), (start + blanks - 4.0 * (landscape and not index), foot - 0.5), width=HAIR)

    def _check_lines(self) -> None:
        """A line of 100 mm along the foot, one up the right side, and what to do if they do not measure so."""
        left, foot = MARGIN + 1.0, MARGIN + 3.0
        side, low = self.width - MARGIN - 3.0, MARGIN + FOOTER + 8.0
        tick = 2.5
        pieces = [np.array(ends) for ends in (
            [(left, foot), (left + CHECK, foot)], [(left, foot - tick), (left, foot + tick)],
            [(left + CHECK, foot - tick), (left + CHECK, foot + tick)],
            [(side, low), (side, low + CHECK)], [(side - tick, low), (side + tick, low)],
            [(side - tick, low + CHECK), (side + tick, low + CHECK)],
        )]  # fmt: skip
        self.lines(pieces, FINE)
        self.text(left + CHECK / 2, foot + 1.5, "this line is 100 mm long", ha="center")
        self.text(side - 1.5, low + CHECK / 2, "this line is 100 mm long", ha="center", turn=90.0)
        start = left + CHECK + 6.0
        self.paragraph(start, MARGIN + 13.5, CHECK_WORDS, self.width - MARGIN - start)


def names_height(landscape: bool) -> float:
    """Of the strip that says whose sheet it is [mm].  landscape : the sheet is turned on its side."""
    return NAMES_LINE * (1 if landscape else 2) + NAMES_FOOT


def window_of(paper: str, landscape: bool, true_size: bool = True) -> Box:
    """The part of a page that is free for a drawing.  paper : a key of PAPERS; true_size : it bears check lines.  Returns Box [mm]."""
    short, long = PAPERS[paper]
    width, height = (long, short) if landscape else (short, long)
    foot, side = (FOOTER, SIDE) if true_size else (0.0, 0.0)
    return Box(MARGIN, MARGIN + foot, width - MARGIN - side, height - MARGIN - HEADER - names_height(landscape))


@dataclass(frozen=True)
class Tile:
    """One sheet of a drawing.

    column, row : its place, from the left and from the bottom
    box : the part of the drawing that it shows [mm]
    """

    column: int
    row: int
    box: Box


@dataclass(frozen=True)
class Tiling:
    """How a drawing is cut into sheets.

    landscape : the sheets are turned on their sides
    columns, rows : of sheets
    tiles : row by row from the top, each from the left, the order in which they are printed
    """

    landscape: bool
    columns: int
    rows: int
    tiles: tuple[Tile, ...]

    def joints(self, tile: Tile) -> Iterator[tuple[int, bool, float]]:
        """The joints that a sheet takes part in: number, whether the line is upright, and where it stands [mm].

        Upright joints are numbered before level ones, from the left and from the bottom, starting with 0.
        """
        box = tile.box
        for number, place in ((tile.column - 1, box.left), (tile.column, box.right - OVERLAP)):
            if 0 <= number < self.columns - 1:
                yield number, True, place + OVERLAP / 2
        for number, place in ((tile.row - 1, box.bottom), (tile.row, box.top - OVERLAP)):
            if 0 <= number < self.rows - 1:
                yield self.columns - 1 + number, False, place + OVERLAP / 2

    @property
    def joint_count(self) -> int:
        return self.columns + self.rows - 2


def tile(drawing: Box, keep: Sequence[Box], paper: str) -> Tiling:
    """Cut a drawing into the fewest sheets, upright ones where both ways need as many.

    drawing : its size [mm]; keep : parts of it that the joints keep clear of where they can; paper : a key of PAPERS
    """
    grids = [_grid(drawing, keep, paper, landscape) for landscape in (False, True)]
    return min(grids, key=lambda one: len(one.tiles))


def _grid(drawing: Box, keep: Sequence[Box], paper: str, landscape: bool) -> Tiling:
    window = window_of(paper, landscape)
    across = _cuts(drawing.left, drawing.right, window.width, np.array([(box.left, box.right) for box in keep]))
    up = _cuts(drawing.bottom, drawing.top, window.height, np.array([(box.bottom, box.top) for box in keep]))
    tiles = tuple(
        Tile(column, row, Box(left, bottom, left + window.width, bottom + window.height))
        for row, bottom in reversed(list(enumerate(up))) for column, left in enumerate(across)
    )  # fmt: skip
    return Tiling(landscape, len(across), len(up), tiles)


def _cuts(low: float, high: float, size: float, keep: np.ndarray) -> list[float]:
    """Where the sheets begin along one direction: the drawing near their middle, the joints through as little as can be.

    low, high : ends of the drawing; size : of a sheet; keep : ends of what is to be kept whole (n, 2) [mm]
    """
    fewest = max(1, ceil((high - low - OVERLAP) / (size - OVERLAP) - 1e-9))
    found = (_best_start(low, high, size, keep, count) for count in range(fewest, fewest + 1 + MOST_MORE))
    _, count, start = min(found, key=lambda one: one[:2])
    return [start + index * (size - OVERLAP) for index in range(count)]


def _best_start(low: float, high: float, size: float, keep: np.ndarray, count: int) -> tuple[int, int, float]:
    """With so many sheets: parts that lie in pieces at best when the sheets are joined, the sheets, and where the first begins [mm]."""
    spare = count * size - (count - 1) * OVERLAP - (high - low)
    starts = low - spare / 2 + spare * np.array([0.0, *(side * part for part in np.linspace(0.025, 0.475, 19) for side in (1, -1))])

    def spoilt(start: float) -> tuple[int, int]:
        """How many parts lie in pieces when the sheets are joined, and how many a joint runs through at all."""
        begins = start + (size - OVERLAP) * np.arange(count)[:, None]
        whole = (begins <= keep[:, 0]) & (keep[:, 1] <= begins + size)
        joints = begins[1:] + OVERLAP / 2
        through = (keep[:, 0] < joints) & (joints < keep[:, 1])
        cut = (through & ~(whole[:-1] & whole[1:])).any(axis=0) | ~whole.any(axis=0)
        return int(cut.sum()), int(through.sum())

    best = min(starts, key=spoilt)  # of equals the one nearest to the middle
    return spoilt(best)[0], count, float(best)


def cut_to(points: np.ndarray, box: Box) -> list[np.ndarray]:
    """The parts of a line that lie inside a box.

    points : (n, 2) [mm]
    Returns the parts, each (m, 2) [mm].  Source: Liang and Barsky's way of clipping, piece by piece.
    """
    parts: list[list[np.ndarray]] = []
    joined = False
    for start, end in pairwise(points):
        step = end - start
        first, last = 0.0, 1.0
        for axis, low, high in ((0, box.left, box.right), (1, box.bottom, box.top)):
            if step[axis] == 0:
                if not low <= start[axis] <= high:
                    last = -1.0
                continue
            ends = sorted(((low - start[axis]) / step[axis], (high - start[axis]) / step[axis]))
            first, last = max(first, ends[0]), min(last, ends[1])
        if first >= last:
            joined = False
            continue
        if not joined or first > 0:
            parts.append([start + first * step])
        parts[-1].append(start + last * step)
        joined = last == 1.0
    return [np.array(part) for part in parts]


def draw_tile(page: Page, tile: Tile, strokes: Sequence[Stroke], words: Sequence[Word]) -> None:
    """Put a sheet's part of a drawing into a page's window: lines are cut at its edge, words are whole or left out."""
    move = np.array([page.window.left - tile.box.left, page.window.bottom - tile.box.bottom])
    for look in dict.fromkeys((stroke.width, stroke.dash) for stroke in strokes):
        pieces = [part for stroke in strokes if (stroke.width, stroke.dash) == look for part in cut_to(stroke.points, tile.box)]
        page.lines([piece + move for piece in pieces], *look)
    for word in words:
        if _holds(tile.box, word):
            page.text(word.right + move[0], word.up + move[1], word.text, size=word.size, weight=word.weight, ha="center",
                      va="center", turn=word.turn)  # fmt: skip


def _holds(box: Box, word: Word) -> bool:
    inner = word_box(word)
    return box.left <= inner.left and inner.right <= box.right and box.bottom <= inner.bottom and inner.top <= box.top


def word_box(word: Word) -> Box:
    """The paper that a word takes, turned or not [mm]; a turn is by right angles."""
    wide, high = text_width(word.text, word.size, word.weight) * INCH / 2, word.size / 72 * INCH / 2
    if round(word.turn / 90) % 2:
        wide, high = high, wide
    return Box(word.right - wide, word.up - high, word.right + wide, word.up + high)


def draw_joints(page: Page, tiling: Tiling, tile: Tile, strokes: Sequence[Stroke], words: Sequence[Word], first_number: int) -> None:
    """Crop marks at the window's corners, and where this sheet meets others a line to join along, with two crosses.

    strokes, words : the drawing, whose marks a joint's name keeps clear of
    first_number : what the first joint of this drawing is called
    """
    if len(tiling.tiles) == 1:
        return
    window, arm = page.window, CROSS_ARM
    for x, inwards in ((window.left, 1), (window.right, -1)):
        for y, upwards in ((window.bottom, 1), (window.top, -1)):
            page.line((x + inwards * arm, y), (x, y), (x, y + upwards * arm), width=HAIR)
    taken = _taken(strokes, words)
    for number, upright, place in tiling.joints(tile):
        box = tile.box
        ends = (box.bottom, box.top) if upright else (box.left, box.right)
        points = [(place, along) if upright else (along, place) for along in (ends[0], ends[1])]
        move = np.array([window.left - box.left, window.bottom - box.bottom])
        page.lines([np.array(points) + move], HAIR, (3.0, 2.0))
        for along in (ends[0] + CROSS_INSET, ends[1] - CROSS_INSET):
            _cross(page, *(np.array((place, along) if upright else (along, place)) + move))
        name = f"join {first_number + number} to {first_number + number}"
        turn = 90.0 if upright else 0.0
        spots: list[Word] = []
        for along in np.linspace(ends[0] + 30.0, ends[1] - 30.0, 25):
            for beside in (place - NAME_BESIDE, place + NAME_BESIDE):
                right, up = (beside, along) if upright else (along, beside)
                spots.append(Word(name, float(right), float(up), turn=turn))
        spot = min(spots, key=lambda word: _crowding(word, taken))
        page.text(spot.right + move[0], spot.up + move[1], name, ha="center", va="center", turn=spot.turn)


def _taken(strokes: Sequence[Stroke], words: Sequence[Word]) -> np.ndarray:
    """Points of a drawing close enough to each other that a name can't slip between those of one line (n, 2) [mm]."""
    points = [np.array([(word.right, word.up)]) for word in words]
    for stroke in strokes:
        for start, end in pairwise(stroke.points):
            points.append(np.linspace(start, end, 2 + int(np.hypot(*(end - start)))))
    return np.concatenate(points)


def _crowding(word: Word, taken: np.ndarray) -> int:
    """How many points of a drawing a word would cover."""
    box = word_box(word)
    inside = (np.array([box.left, box.bottom]) - CLEAR < taken) & (taken < np.array([box.right, box.top]) + CLEAR)
    return int(inside.all(axis=1).sum())


def _cross(page: Page, x: float, y: float) -> None:
    page.lines([np.array([(x - CROSS_ARM, y), (x + CROSS_ARM, y)]), np.array([(x, y - CROSS_ARM), (x, y + CROSS_ARM)])], FINE)


@contextmanager
def plain_settings() -> Iterator[None]:
    """The plotting library's settings that pages are drawn and written with, whatever the user's own are."""
    settings: Any = {
        "pdf.fonttype": 42, "pdf.compression": 6, "pdf.use14corefonts": False, "pdf.inheritcolor": False, "savefig.bbox": None,
        "path.simplify": False, "path.snap": False, "path.sketch": None, "path.effects": [], "text.usetex": False,
        "figure.autolayout": False, "figure.constrained_layout.use": False,
    }  # fmt: skip
    with matplotlib.rc_context(settings):
        yield


def write_pdf(stream: IO[bytes], pages: Sequence[Page], title: str) -> None:
    """Write pages as one PDF: true size, letters embedded as outlines, the same bytes for the same pages.

    stream : to write to; title : of the document.  Call it, and make the pages, inside `plain_settings`.
    """
    about = {"Title": plain(title), "Creator": "Scrubwise", "Producer": None, "CreationDate": None}
    with BytesIO() as whole:  # a drive that is full in the middle of it ends in an error of the library's packer
        with PdfPages(whole, metadata=about) as pdf:
            for page in pages:
                pdf.savefig(page.figure)
        stream.write(whole.getvalue())
