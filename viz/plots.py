"""The plots of a comparison: where the tyres scrub, what takes the energy, how the wheels slip.

Every figure is laid out in inches from its top left corner, so that names of any length find room before anything is
drawn. Text is never read as a formula, and only signs that the plotting library's own font holds are drawn, so that
the same result gives the same picture wherever it is made.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from io import BytesIO
from math import ceil, cos, floor, isfinite, log10, sin
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, cast
from unicodedata import category

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import LineCollection
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.patches import Patch
from matplotlib.ticker import FuncFormatter, MaxNLocator

if TYPE_CHECKING:
    from sim.course import Course
    from sim.energy import Ledger
    from sim.study import Comparison, SetupResult
    from sim.trace import Trace

WIDTH, MARGIN, DPI = 10.0, 0.25, 110  # [in], [in], dots an inch
FONT, SMALL, NAME = "DejaVu Sans", 9.0, 10.0  # comes with the plotting library; sizes in points
LINE, NAME_LINE = 0.165, 0.19  # [in] from one line of text to the next
INK = "0.1"
WORDS: dict[str, Any] = {"fontsize": SMALL, "family": FONT, "color": INK, "parse_math": False}
LABEL: dict[str, Any] = {"fontsize": NAME, "family": FONT, "color": INK}
ROUND_STEPS = [1, 2, 5, 10]  # between ticks
MOST_POINTS = 1500  # of a curve; a picture is about 1000 dots wide
MOST_DRAWN = 6  # set-ups that still can be told apart on one page
HINTING = 1.05  # fitting letters to whole dots widens a line by up to 4 % at these sizes, measured
ANY_SIGN = "\N{WHITE SQUARE}"  # stands for a sign that the font lacks

POWER_COLOURS = "cividis_r"  # published as safe for colour-blind readers; reversed: much is dark on white paper
ROAD, KERB = 4.6, 6.2  # [pt] breadth of the coloured line, and with its outline
MAP_PAD, TALLEST_MAPS, GAP = 0.28, 8.0, 0.25  # [in]

# Colours after Okabe and Ito (2008); order of the bars and of the legend.  Warm colours are the scrub.
# Each: name, fill, ink of the hatching, hatching, and how to find it in a ledger.
Cause = tuple[str, str, str, str, Callable[["Ledger"], float]]
CAUSES: tuple[Cause, ...] = (
    ("air drag", "#56B4E9", "0.1", "", lambda one: one.air),
    ("rolling resistance", "#0072B2", "white", "..", lambda one: one.rolling),
    ("brakes", "#009E73", "white", "xxx", lambda one: one.brakes),
    ("tyres resist being turned (aligning)", "#CC79A7", "0.1", "---", lambda one: one.aligning),
    ("front tyres slip sideways", "#D55E00", "white", "//", lambda one: float(one.lateral[:2].sum())),
    ("rear tyres slip sideways", "#E69F00", "0.1", "\\\\", lambda one: float(one.lateral[2:].sum())),
    ("tyres slip lengthwise", "#F0E442", "0.1", "|||", lambda one: float(one.longitudinal.sum())),
)
CLIMBING: Cause = ("climbing (left of zero: given back)", "#000000", "0.1", "", lambda one: one.height)

# Side by hue and line, axle by lightness and breadth: grey print or colour-blind eyes lose one cue, never both.
WHEEL_LOOKS: tuple[tuple[str, str, Any, float], ...] = (
    ("front left", "#0072B2", "solid", 1.6),
    ("front right", "#D55E00", (0, (4.0, 1.4)), 1.6),
    ("rear left", "#56B4E9", "solid", 1.1),
    ("rear right", "#E69F00", (0, (4.0, 1.4)), 1.1),
)


def write_plots(comparison: Comparison, folder: Path) -> list[Path]:
    """Write course.png, losses.png and slip.png.

    comparison : the run; folder : an existing one
    Returns the files' paths.  The same comparison gives the same bytes.  Raises OSError where a file can't be written.
    """
    paths = []
    for name, draw in (("course.png", course_figure), ("losses.png", losses_figure), ("slip.png", slip_figure)):
        picture = BytesIO()
        FigureCanvasAgg(draw(comparison)).print_png(picture, metadata={"Software": None})
        path = folder / name
        path.write_bytes(picture.getvalue())
        paths.append(path)
    return paths


# --- The course ------------------------------------------------------------------------------------------------------


class _Way(NamedTuple):
    """Where a car went."""

    segments: np.ndarray  # (n, 2, 2) [m]
    power: np.ndarray  # (n,) most scrub power on each segment [W]


class _Caption(NamedTuple):
    """Words above a map."""

    name: list[str]
    words: list[str]

    @property
    def height(self) -> float:
        return NAME_LINE * len(self.name) + LINE * len(self.words)


class _MapPlan(NamedTuple):
    """How maps of one size share a page."""

    columns: int
    width: float  # of a map [in]
    height: float  # of a map [in]
    scale: float  # [in] of paper for a metre
    captions: list[_Caption]

    def rows(self) -> list[float]:
        """Height of each row, captions and all [in]."""
        starts = range(0, len(self.captions), self.columns)
        return [max(one.height for one in self.captions[i : i + self.columns]) + self.height for i in starts]


def course_figure(comparison: Comparison) -> Figure:
    """The course seen from above, coloured by scrub power: one map a set-up, all at one scale.

    comparison : the run; of more than six set-ups, six are drawn, see `drawn_results`
    Returns the Figure.  A set-up that did not finish shows how far it came, with a cross where it ended; the colours'
    scale is that of the set-ups that finished, if any did.
    """
    course, shown = comparison.course, drawn_results(comparison)
    plan = _arrange_maps(shown, float(np.ptp(course.x)), float(np.ptp(course.y)))
    ways = [_way(one.trace) for one in shown]
    peaks = [float(way.power.max(initial=0.0)) for way in ways]
    top = max([peak for peak, one in zip(peaks, shown, strict=True) if one.finished] or peaks) or 1.0
    header, key, note = 0.85, 0.55, _note_height(comparison)
    figure = _sheet(header + sum(plan.rows()) + GAP * (len(plan.rows()) - 1) + key + note)
    norm = Normalize(0.0, top, clip=True)
    below = header
    for index, (one, way, caption) in enumerate(zip(shown, ways, plan.captions, strict=True)):
        row, column = divmod(index, plan.columns)
        left = MARGIN + column * (plan.width + GAP)
        if column == 0:
            below += plan.rows()[row] + (GAP if row else 0.0)
        place = below - plan.rows()[row]
        _lines(figure, left, place, caption.name, step=NAME_LINE, size=NAME, weight="bold")
        _lines(figure, left, place + NAME_LINE * len(caption.name), caption.words)
        axes = _axes(figure, left, below - plan.height, plan.width, plan.height)
        axes.set_label("map")
        roads = _draw_map(axes, course, way, plan, norm)
        if not one.finished and len(way.segments):
            _end_mark(axes, *way.segments[-1, -1])
    _lines(figure, MARGIN, 0.2, ["Power that the tyres lose by slipping,", "all wheels together [W]"])
    scale = figure.colorbar(
        roads, cax=_axes(figure, 3.6, 0.22, WIDTH - MARGIN - 3.8, 0.2), orientation="horizontal",
        extend="max" if max(peaks) > top else "neither",
    )  # fmt: skip
    scale.ax.xaxis.set_major_locator(MaxNLocator(8, steps=ROUND_STEPS))
    _plain_ticks(scale.ax)
    _map_key(figure, comparison, below, plan.scale)
    _write_note(figure, comparison)
    return figure


def _way(trace: Trace) -> _Way:
    """Where a trace went; every segment keeps the greatest power of the rows that it spans."""
    power = trace.slip_loss.sum(axis=1)
    known = np.isfinite(trace.x) & np.isfinite(trace.y) & np.isfinite(power)
    x, y, power = trace.x[known], trace.y[known], power[known]
    every = _strided(len(x))
    points = np.column_stack([x[every], y[every]])
    segments = np.stack([points[:-1], points[1:]], axis=1)
    if len(segments) == 0:
        return _Way(segments, np.zeros(0))
    most = np.maximum.reduceat(power, every[:-1])
    most[-1] = max(most[-1], power[-1])
    return _Way(segments, most)


def _strided(rows: int) -> np.ndarray:
    """At most MOST_POINTS indices of so many rows, evenly, with the first and the last."""
    return np.unique(np.linspace(0, rows - 1, min(rows, MOST_POINTS)).astype(int))


def _arrange_maps(shown: Sequence[SetupResult], wide: float, high: float) -> _MapPlan:
    """The number of columns that gives the largest maps of a course `wide` and `high` [m]."""
    plans = []
    for columns in range(1, min(len(shown), 3) + 1):
        width = (WIDTH - 2 * MARGIN - (columns - 1) * GAP) / columns
        captions = [_caption_of(one, width) for one in shown]
        room = TALLEST_MAPS / ceil(len(shown) / columns) - max(one.height for one in captions) - 2 * MAP_PAD
        # A course along one axis has no size across it.
        scale = min((width - 2 * MAP_PAD) / max(wide, 1e-3), max(room, 0.5) / max(high, 1e-3))
        plans.append(_MapPlan(columns, width, high * scale + 2 * MAP_PAD, scale, captions))
    return max(plans, key=lambda plan: plan.scale)


def _caption_of(one: SetupResult, width: float) -> _Caption:
    words = f"did not finish: {one.reason}" if one.ledger is None else f"{_joules(one.ledger.scrub)} lost by slipping"
    return _Caption(folded(one.name, width, NAME, "bold", most=2), folded(words, width, SMALL, most=3))


def _draw_map(axes: Axes, course: Course, way: _Way, plan: _MapPlan, norm: Normalize) -> LineCollection:
    inch = 1.0 / plan.scale  # [m] of ground
    x, y = 0.5 * (course.x.min() + course.x.max()), 0.5 * (course.y.min() + course.y.max())
    axes.set_xlim(x - 0.5 * plan.width * inch, x + 0.5 * plan.width * inch)
    axes.set_ylim(y - 0.5 * plan.height * inch, y + 0.5 * plan.height * inch)
    axes.set_aspect("equal", adjustable="datalim")
    axes.set_axis_off()
    every = _strided(len(course.x))
    for breadth, colour in ((KERB, "0.45"), (ROAD, "white")):
        axes.plot(course.x[every], course.y[every], color=colour, linewidth=breadth, solid_capstyle="round")
    roads = LineCollection(
        list(way.segments), array=way.power, cmap=POWER_COLOURS, norm=norm, capstyle="round", linewidths=ROAD, zorder=3
    )
    axes.add_collection(roads, autolim=False)
    inner = (x - course.x[0]) * -sin(course.heading[0]) + (y - course.y[0]) * cos(course.heading[0])
    _start_mark(axes, course.x[0], course.y[0], course.heading[0], inch, side=-1 if inner > 0 else 1)
    if isfinite(course.smallest_radius):
        place = [np.interp(course.smallest_radius_station, course.station, line) for line in (course.x, course.y)]
        _bend_mark(axes, *place)
    return roads


def _start_mark(axes: Axes, x: float, y: float, heading: float, inch: float, side: int) -> None:
    """A bar across the line and an arrow beside it.

    inch : of paper, in the axes' units; side : of the arrow, 1 left, -1 right
    """
    along = np.array([cos(heading), sin(heading)]) * inch
    across = np.array([-sin(heading), cos(heading)]) * inch * side
    bar = np.array([x, y]) + np.array([-0.08 * across, 0.22 * across])
    tail = np.array([x, y]) + 0.15 * across
    axes.plot(bar[:, 0], bar[:, 1], color=INK, linewidth=2.0, solid_capstyle="butt", zorder=5)
    arrow = {"arrowstyle": "-|>", "color": INK, "linewidth": 1.4, "shrinkA": 0, "shrinkB": 0, "mutation_scale": 11}
    axes.annotate("", tuple(tail + 0.32 * along), tuple(tail), annotation_clip=False, zorder=5, arrowprops=arrow)


def _bend_mark(axes: Axes, x: float, y: float) -> None:
    axes.plot([x], [y], "o", markersize=15, markerfacecolor="none", markeredgecolor=INK, markeredgewidth=1.4, zorder=4)


def _end_mark(axes: Axes, x: float, y: float) -> None:
    axes.plot([x], [y], "X", markersize=10, markerfacecolor="white", markeredgecolor=INK, markeredgewidth=1.2, zorder=6)


def _map_key(figure: Figure, comparison: Comparison, top: float, scale: float) -> None:
    """The row of signs under the maps: start, tightest bend, end of a drive, length."""
    course = comparison.course
    axes = _axes(figure, 0.0, top + 0.1, WIDTH, 0.4)
    axes.set_xlim(0.0, WIDTH)
    axes.set_ylim(-0.2, 0.2)
    axes.set_axis_off()
    at = MARGIN + 0.05

    def words(text: str) -> None:
        nonlocal at
        axes.text(at, 0.0, text, va="center_baseline", **WORDS)
        at += text_width(text, SMALL) + 0.4

    _start_mark(axes, at, -0.07, 0.0, 1.0, side=1)
    at += 0.45
    words("start and direction")
    if isfinite(course.smallest_radius):
        _bend_mark(axes, at, 0.0)
        at += 0.2
        radius = f"{course.smallest_radius:.{1 if course.smallest_radius < 100 else 0}f} m"
        words(f"tightest bend: radius {radius}, {_grouped(round(course.smallest_radius_station))} m after the start")
    if not all(one.finished for one in drawn_results(comparison)):
        _end_mark(axes, at, 0.0)
        at += 0.17
        words("ended here")
    length = round_length(1.4 / scale)
    end = at + length * scale
    axes.plot([at, end], [0.0, 0.0], color=INK, linewidth=2.0, solid_capstyle="butt", label="scale bar")
    for x in (at, end):
        axes.plot([x, x], [-0.05, 0.05], color=INK, linewidth=1.2)
    at = end + 0.1
    words(f"{_grouped(length)} m")


def round_length(most: float) -> float:
    """The greatest of 1, 2, 5, 10, 20, ... (and of 0.5, 0.2, ...) that is not above `most` [any unit]."""
    power = 10.0 ** floor(log10(most))
    return max(step * power for step in (1.0, 2.0, 5.0) if step == 1.0 or step * power <= most)


# --- The losses ------------------------------------------------------------------------------------------------------


def losses_figure(comparison: Comparison) -> Figure:
    """What took the energy: a stacked bar for each set-up that finished, the reason in words for each that did not.

    comparison : the run
    Returns the Figure.  Climbing counts on an open course alone: on a closed one it is nothing.  A negative part
    (height given back) stands left of zero; the figure at the bar's end is the sum of all parts.
    """
    results, closed = comparison.results, comparison.course.closed
    ledgers = [one.ledger for one in results if one.ledger is not None]
    causes = CAUSES if closed or all(ledger.height == 0.0 for ledger in ledgers) else (*CAUSES, CLIMBING)
    names = [folded(one.name, 2.6, SMALL) for one in results]
    left = MARGIN + max(text_width(line, SMALL) for name in names for line in name) + 0.15
    width = WIDTH - left - 1.15  # room for the figure at the longest bar's end
    reasons = [
        folded(f"did not finish: {one.reason}", width + 0.8, SMALL) if one.ledger is None else [] for one in results
    ]
    heights = [max(0.42, LINE * max(len(a), len(b)) + 0.14) for a, b in zip(names, reasons, strict=True)]
    centres = np.cumsum(heights) - 0.5 * np.array(heights)
    header, footer = (0.9, 0.65) if ledgers else (0.15, 0.15)
    figure = _sheet(header + sum(heights) + footer)
    axes = _axes(figure, left, header, width, sum(heights))
    axes.set_ylim(sum(heights), 0.0)
    axes.yaxis.set_visible(False)
    axes.spines[["left", "right", "top"]].set_visible(False)
    for name, reason, centre in zip(names, reasons, centres, strict=True):
        top = header + float(centre) + 0.5 * LINE
        _lines(figure, left - 0.12, top - 0.5 * LINE * len(name), name, ha="right", va="center")
        # The white ground keeps the reference line off the words.
        box = {"facecolor": "white", "edgecolor": "none", "pad": 1.5}
        _lines(figure, left + 0.08, top - 0.5 * LINE * len(reason), reason, va="center", style="italic", bbox=box)
    if not ledgers:
        axes.set_axis_off()
        return figure
    _draw_bars(axes, [float(y) for y, one in zip(centres, results, strict=True) if one.ledger], ledgers, causes)
    if comparison.reference.ledger is not None:
        _draw_reference(axes, sum(part(comparison.reference.ledger) for *_, part in causes))
    axes.set_xlabel(f"Energy lost {'on one lap' if closed else 'from start to finish'} [J]", **LABEL)
    axes.xaxis.set_major_locator(MaxNLocator(8, steps=ROUND_STEPS))
    axes.grid(axis="x", color="0.88", linewidth=0.8)
    axes.set_axisbelow(True)
    _plain_ticks(axes)
    _losses_key(figure, causes)
    return figure


def _draw_bars(axes: Axes, centres: list[float], ledgers: list[Ledger], causes: Sequence[Cause]) -> None:
    above, below = np.zeros(len(ledgers)), np.zeros(len(ledgers))
    for name, fill, ink, hatch, part in causes:
        values = np.array([part(ledger) for ledger in ledgers])
        starts = np.where(values < 0.0, below, above)
        looks: dict[str, Any] = {"color": fill, "edgecolor": ink, "hatch": hatch, "linewidth": 0.0, "zorder": 3}
        axes.barh(centres, values, left=starts, height=0.27, label=name, **looks)
        above, below = above + np.maximum(values, 0.0), below + np.minimum(values, 0.0)
    axes.set_xlim(float(below.min()), max(float(above.max()), 1e-3 * float(-below.min()), 1e-9))
    box = {"facecolor": "white", "edgecolor": "none", "pad": 1.0}
    for centre, end, total in zip(centres, above, above + below, strict=True):
        axes.annotate(
            _joules(total), (float(end), centre), xytext=(5, 0), textcoords="offset points", va="center_baseline",
            annotation_clip=False, zorder=5, bbox=box, **WORDS,
        )  # fmt: skip


def _draw_reference(axes: Axes, total: float) -> None:
    """A broken line where the bar of ideal steering would end."""
    low, high = axes.get_xlim()
    high = max(high, total)
    axes.set_xlim(low, high)
    axes.axvline(total, color=INK, linewidth=1.2, linestyle=(0, (5, 3)), zorder=2, clip_on=False)
    side = "right" if total > 0.5 * (low + high) else "left"
    axes.annotate(
        f"same car with ideal steering: {_joules(total)}", (total, 1.0), xycoords=("data", "axes fraction"),
        xytext=(0, 4), textcoords="offset points", ha=side, **WORDS,
    )  # fmt: skip


def _losses_key(figure: Figure, causes: Sequence[Cause]) -> None:
    columns = 4
    signs = [Patch(fc=fill, ec=ink, hatch=hatch, linewidth=0.0, label=name) for name, fill, ink, hatch, _ in causes]
    by_row = [sign for column in range(columns) for sign in signs[column::columns]]  # a legend fills column by column
    figure.legend(
        handles=by_row, loc="upper left", bbox_to_anchor=(MARGIN / WIDTH, 1.0 - 0.12 / figure.get_figheight()),
        ncols=columns, frameon=False, prop=_font(SMALL), labelcolor=INK, borderpad=0.0, borderaxespad=0.0,
        handlelength=2.2, handleheight=1.2, columnspacing=1.6,
    )  # fmt: skip


# --- The slip angles -------------------------------------------------------------------------------------------------


def slip_figure(comparison: Comparison) -> Figure:
    """Slip angle of the four wheels along the lap: one row a set-up, to one scale, the course's bends above them.

    comparison : the run; of more than six set-ups, six are drawn, see `drawn_results`
    Returns the Figure.  The scale is that of the set-ups that finished, if any did; others may run off it.
    """
    course, shown = comparison.course, drawn_results(comparison)
    left = 1.0
    width = WIDTH - left - 0.4
    names = [one.name if one.finished else f"{one.name}: did not finish, {one.reason}" for one in shown]
    captions = [folded(name, width, SMALL, "bold", most=2) for name in names]
    bends = bool(np.any(np.abs(course.curvature) > 1e-9))  # [1/m]; rounding of a straight course lies below it
    header, strip, footer, note = 0.5, 0.6 if bends else 0.0, 0.6, _note_height(comparison)
    tall, space = (1.15 if len(shown) > 3 else 1.6), 0.17
    blocks = [LINE * len(caption) + 0.05 + tall + space for caption in captions]
    figure = _sheet(header + strip + sum(blocks) - space + footer + note)
    reaches = [_slip_reach(one.trace) for one in shown]
    finished = [value for value, one in zip(reaches, shown, strict=True) if one.finished]
    reach = max(1.1 * max(finished or reaches), 1.0)  # [deg]
    if bends:
        _draw_bends(figure, course, left, header - 0.02, width, 0.5)
    top = header + strip
    for one, caption, block in zip(shown, captions, blocks, strict=True):
        _lines(figure, left, top, caption, weight="bold")
        axes = _axes(figure, left, top + block - space - tall, width, tall)
        axes.set_label("slip")
        axes.set_xlim(0.0, course.length)
        axes.set_ylim(-reach, reach)
        axes.yaxis.set_major_locator(MaxNLocator(4, steps=ROUND_STEPS))
        axes.tick_params(labelbottom=one is shown[-1])
        _plain_ticks(axes)
        _draw_slips(axes, one.trace)
        top += block
    axes.set_xlabel("Distance from the start [m]", **LABEL)
    middle = 1.0 - (header + strip + 0.5 * sum(blocks)) / figure.get_figheight()
    words = "Slip angle of each wheel [degrees]"
    figure.text(0.3 / WIDTH, middle, words, rotation=90, ha="center", va="center", **LABEL)
    _slip_key(figure, left)
    _write_note(figure, comparison)
    return figure


def _slip_reach(trace: Trace) -> float:
    """Greatest slip angle of a trace [deg]."""
    angles = np.abs(np.degrees(np.arctan(trace.slip)))
    return float(np.max(angles, initial=0.0, where=np.isfinite(angles)))


def _draw_slips(axes: Axes, trace: Trace) -> None:
    axes.axhline(0.0, color="0.5", linewidth=0.8, zorder=1)
    axes.grid(color="0.9", linewidth=0.7)
    axes.spines[["right", "top"]].set_visible(False)
    for wheel in (2, 3, 0, 1):  # the front wheels over the rear ones: they are what the set-ups differ by
        name, colour, line, breadth = WHEEL_LOOKS[wheel]
        angles = np.degrees(np.arctan(trace.slip[:, wheel]))
        known = np.isfinite(angles) & np.isfinite(trace.station)
        station, angles = trace.station[known], angles[known]
        kept = peaks_kept(angles, MOST_POINTS)
        axes.plot(station[kept], angles[kept], color=colour, linestyle=line, linewidth=breadth, label=name)


def peaks_kept(values: np.ndarray, most: int) -> np.ndarray:
    """Indices that thin a curve and keep its peaks: of each of many equal stretches, the least and the greatest value.

    values : finite, shape (n,) [any unit]; most : of them to keep, at least 4 [-]
    Returns the indices, rising, with the first and the last.
    """
    n = len(values)
    if n <= most:
        return np.arange(n)
    size = ceil(n / (most // 2 - 1))
    stretches = np.pad(values, (0, -n % size), mode="edge").reshape(-1, size)
    starts = np.arange(len(stretches)) * size
    kept = [[0, n - 1], starts + stretches.argmin(axis=1), starts + stretches.argmax(axis=1)]
    return np.unique(np.minimum(np.concatenate(kept), n - 1))


def _draw_bends(figure: Figure, course: Course, left: float, top: float, width: float, height: float) -> None:
    """The strip that says where the course bends: the taller, the tighter."""
    axes = _axes(figure, left, top, width, height)
    kept = peaks_kept(course.curvature, MOST_POINTS)
    tightest = float(np.abs(course.curvature).max())
    axes.fill_between(course.station[kept], course.curvature[kept] / tightest, color="0.6", linewidth=0.0)
    axes.axhline(0.0, color="0.5", linewidth=0.8)
    axes.set_xlim(0.0, course.length)
    axes.set_ylim(-1.05, 1.05)
    axes.set_axis_off()
    for words, share in (("bends left", 0.27), ("bends right", 0.73)):
        _lines(figure, left - 0.1, top + share * height, [words], ha="right", va="center")


def _slip_key(figure: Figure, left: float) -> None:
    axes = _axes(figure, 0.0, 0.12, WIDTH, 0.3)
    axes.set_xlim(0.0, WIDTH)
    axes.set_ylim(-1.0, 1.0)
    axes.set_axis_off()
    for name, colour, line, breadth in WHEEL_LOOKS:
        axes.plot([left, left + 0.5], [0.0, 0.0], color=colour, linestyle=line, linewidth=breadth + 0.4)
        axes.text(left + 0.58, 0.0, name, va="center_baseline", **WORDS)
        left += 0.58 + text_width(name, SMALL) + 0.3
    words = "above zero: the tyre pushes to the left"
    axes.text(WIDTH - 0.4, 0.0, words, va="center_baseline", ha="right", **WORDS)


# --- What is drawn ---------------------------------------------------------------------------------------------------


def drawn_results(comparison: Comparison) -> list[SetupResult]:
    """The set-ups that the maps and the slip angles show, in the scenario's order.

    comparison : the run
    Returns all up to six; of more, six picked evenly by rank from the least scrub to the most, the best and the worst
    among them; those that did not finish rank last.
    """
    results = comparison.results
    if len(results) <= MOST_DRAWN:
        return list(results)
    scrubs = [one.ledger.scrub if one.ledger is not None else np.inf for one in results]
    ranked = sorted(range(len(results)), key=lambda index: scrubs[index])
    picked = {ranked[round(step * (len(results) - 1) / (MOST_DRAWN - 1))] for step in range(MOST_DRAWN)}
    return [results[index] for index in sorted(picked)]


def _note_height(comparison: Comparison) -> float:
    return 0.25 if len(comparison.results) > MOST_DRAWN else 0.0


def _write_note(figure: Figure, comparison: Comparison) -> None:
    """Say it where not every set-up is drawn."""
    count = len(comparison.results)
    if count > MOST_DRAWN:
        words = f"Drawn: {MOST_DRAWN} of {count} set-ups, from the one that loses least by slipping to the worst."
        _lines(figure, MARGIN, figure.get_figheight() - 0.27, [words])


# --- Sheets and text -------------------------------------------------------------------------------------------------


def _sheet(height: float) -> Figure:
    """An empty figure of the common width.  height [in]."""
    return Figure(figsize=(WIDTH, height), dpi=DPI, facecolor="white")


def _axes(figure: Figure, left: float, top: float, width: float, height: float) -> Axes:
    """Axes at a place in inches from the top left corner."""
    tall = figure.get_figheight()
    place = (left / WIDTH, 1.0 - (top + height) / tall, width / WIDTH, height / tall)
    return figure.add_axes(place, facecolor="none")


def _font(size: float, weight: str = "normal", style: Any = "normal") -> FontProperties:
    return FontProperties(family=FONT, size=size, weight=weight, style=style)


def _lines(
    figure: Figure, left: float, top: float, lines: list[str], *, step: float = LINE, size: float = SMALL,
    weight: str = "normal", style: Any = "normal", **looks: Any,
) -> None:  # fmt: skip
    """Lines of text at a place in inches from the top left corner."""
    looks = {"ha": "left", "va": "top", "color": INK} | looks
    for index, line in enumerate(lines):
        x, y = left / WIDTH, 1.0 - (top + step * index) / figure.get_figheight()
        figure.text(x, y, line, fontproperties=_font(size, weight, style), parse_math=False, **looks)


def _plain_ticks(axes: Axes) -> None:
    axes.tick_params(labelsize=SMALL, labelfontfamily=FONT, labelcolor=INK, color="0.5")
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(FuncFormatter(lambda value, _: _grouped(value)))
    for spine in axes.spines.values():
        spine.set_edgecolor("0.5")


def _grouped(value: float) -> str:
    """A number with its thousands set apart by a thin space."""
    return f"{value:,.10g}".replace(",", "\N{THIN SPACE}").replace("-", "\N{MINUS SIGN}")


def _joules(value: float) -> str:
    """Energy with at least two digits, but none that say nothing."""
    digits = 0 if abs(value) >= 100 else 1 if abs(value) >= 10 else 2
    return f"{_grouped(round(float(value), digits) + 0.0)} J"


@lru_cache(maxsize=1)
def _signs() -> frozenset[str]:
    """The signs that the font holds in every style used here, without those that have no shape, such as joiners."""
    fonts = [_font(SMALL), _font(SMALL, "bold"), _font(SMALL, style="italic")]
    held = [set(get_font(findfont(font)).get_charmap()) for font in fonts]
    signs = map(chr, set.intersection(*held))
    return frozenset(sign for sign in signs if sign.isprintable() or category(sign) == "Zs")


def plain(words: str) -> str:
    """The words with a white square for each sign that can't be drawn, so that nothing warns.  words : any text."""
    return "".join(sign if sign in _signs() else ANY_SIGN for sign in words)


@lru_cache(maxsize=4096)
def _advance(sign: str, size: float, weight: str) -> float:
    """Width that one sign takes in a line [in]."""
    font = get_font(findfont(_font(size, weight)))
    font.set_size(size, 72)
    return cast(float, font.load_char(ord(sign)).linearHoriAdvance) / 65536 / 72  # 16.16 fixed point, in points


def text_width(words: str, size: float, weight: str = "normal") -> float:
    """Width that one line of text needs at most [in].  words : as `plain` gives them; size [pt]; weight : of the font."""
    return HINTING * sum(_advance(sign, size, weight) for sign in words)


def folded(words: str, width: float, size: float, weight: str = "normal", most: int | None = None) -> list[str]:
    """Words, made drawable, in lines no wider than `width`; a word that is too long by itself is broken.

    words : any text; width [in]; size [pt]; weight : of the font
    most : lines to keep, the last of them then ends in an ellipsis; None for all
    Returns the lines, at least one.
    """
    lines = [""]
    for word in filter(None, plain(words).split(" ")):
        joined = f"{lines[-1]} {word}".lstrip()
        if text_width(joined, size, weight) <= width:
            lines[-1] = joined
            continue
        if lines[-1]:
            lines.append("")
        for sign in word:
            if lines[-1] and text_width(lines[-1] + sign, size, weight) > width:
                lines.append("")
            lines[-1] += sign
    if most is not None and len(lines) > most:
        last = f"{lines[most - 1]} {lines[most]}"
        while text_width(f"{last}…", size, weight) > width:
            last = last[:-1]
        lines = [*lines[: most - 1], f"{last.rstrip()}…"]
    return lines
