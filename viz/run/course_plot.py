"""The map of a run: where the tyres scrub, and where a set-up leaves the course."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, cos, floor, isfinite, log10, sin
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from viz.run.drawn import drawn_results
from viz.shared.figures import (
    INK,
    LINE,
    MARGIN,
    MOST_POINTS,
    NAME,
    NAME_LINE,
    ROUND_STEPS,
    SMALL,
    WIDTH,
    WORDS,
    axes_at,
    folded,
    grouped,
    joules,
    new_sheet,
    note_height,
    plain_ticks,
    text_width,
    write_lines,
    write_note,
)  # fmt: skip

if TYPE_CHECKING:
    from sim.course.centreline import Course
    from sim.lap.trace import Trace
    from sim.study.compare import Comparison, SetupResult

POWER_COLOURS = "cividis_r"  # published as safe for colour-blind readers; reversed: much is dark on white paper
ROAD, KERB = 4.6, 6.2  # [pt] breadth of the coloured line, and with its outline
MAP_PAD, TALLEST_MAPS, GAP = 0.28, 8.0, 0.25  # [in]


class Way(NamedTuple):
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
    ways = [way_of(one.trace) for one in shown]
    top = top_power(shown, ways)
    header, key, note = 0.85, 0.55, note_height(comparison)
    figure = new_sheet(header + sum(plan.rows()) + GAP * (len(plan.rows()) - 1) + key + note)
    norm = Normalize(0.0, top, clip=True)
    below = header
    for index, (one, way, caption) in enumerate(zip(shown, ways, plan.captions, strict=True)):
        row, column = divmod(index, plan.columns)
        left = MARGIN + column * (plan.width + GAP)
        if column == 0:
            below += plan.rows()[row] + (GAP if row else 0.0)
        place = below - plan.rows()[row]
        write_lines(figure, left, place, caption.name, step=NAME_LINE, size=NAME, weight="bold")
        write_lines(figure, left, place + NAME_LINE * len(caption.name), caption.words)
        axes = axes_at(figure, left, below - plan.height, plan.width, plan.height)
        axes.set_label("map")
        roads = _draw_map(axes, course, way, plan, norm)
        if not one.finished and len(way.segments):
            _end_mark(axes, *way.segments[-1, -1])
    write_lines(figure, MARGIN, 0.2, ["Power that the tyres lose by slipping,", "all wheels together [W]"])
    scale = figure.colorbar(
        roads, cax=axes_at(figure, 3.6, 0.22, WIDTH - MARGIN - 3.8, 0.2), orientation="horizontal",
        extend="max" if max(float(way.power.max(initial=0.0)) for way in ways) > top else "neither",
    )  # fmt: skip
    scale.ax.xaxis.set_major_locator(MaxNLocator(8, steps=ROUND_STEPS))
    plain_ticks(scale.ax)
    _map_key(figure, comparison, below, plan.scale)
    write_note(figure, comparison)
    return figure


def way_of(trace: Trace, most: int = MOST_POINTS) -> Way:
    """Where a trace went; every segment keeps the greatest power of the rows that it spans.  trace : Trace; most : points of the line."""
    power = trace.slip_loss.sum(axis=1)
    known = np.isfinite(trace.x) & np.isfinite(trace.y) & np.isfinite(power)
    x, y, power = trace.x[known], trace.y[known], power[known]
    every = _strided(len(x), most)
    points = np.column_stack([x[every], y[every]])
    segments = np.stack([points[:-1], points[1:]], axis=1)
    if len(segments) == 0:
        return Way(segments, np.zeros(0))
    greatest = np.maximum.reduceat(power, every[:-1])
    greatest[-1] = max(greatest[-1], power[-1])
    return Way(segments, greatest)


def top_power(shown: Sequence[SetupResult], ways: Sequence[Way]) -> float:
    """Top of the colours' scale: the most power of those that finished, of all where none did [W].  shown : set-ups; ways : theirs."""
    peaks = [float(way.power.max(initial=0.0)) for way in ways]
    return max([peak for peak, one in zip(peaks, shown, strict=True) if one.finished] or peaks) or 1.0


def map_figure(course: Course, one: SetupResult | None, way: Way, top: float, width: float, most: int) -> Figure:
    """The map of one set-up without words.

    course : that was driven; one, way : a set-up and where it went, None and no segments for the course alone
    top : of the colours' scale [W]; width : of the map [in]
    most : points of the course's line
    """
    wide, high = max(float(np.ptp(course.x)), 1e-3), max(float(np.ptp(course.y)), 1e-3)
    scale = min((width - 2 * MAP_PAD) / wide, (width - 2 * MAP_PAD) / high)
    plan = _MapPlan(1, width, high * scale + 2 * MAP_PAD, scale, [])
    figure = Figure(figsize=(plan.width, plan.height))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    _draw_map(axes, course, way, plan, Normalize(0.0, top, clip=True), most)
    if one is not None and not one.finished and len(way.segments):
        _end_mark(axes, *way.segments[-1, -1])
    return figure


def _strided(rows: int, most: int = MOST_POINTS) -> np.ndarray:
    """At most so many indices of so many rows, evenly, with the first and the last."""
    return np.unique(np.linspace(0, rows - 1, min(rows, most)).astype(int))


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
    words = f"did not finish: {one.reason}" if one.ledger is None else f"{joules(one.ledger.scrub)} lost by slipping"
    return _Caption(folded(one.name, width, NAME, "bold", most=2), folded(words, width, SMALL, most=3))


def _draw_map(
    axes: Axes, course: Course, way: Way, plan: _MapPlan, norm: Normalize, most: int = MOST_POINTS
) -> LineCollection:  # fmt: skip
    inch = 1.0 / plan.scale  # [m] of ground
    x, y = 0.5 * (course.x.min() + course.x.max()), 0.5 * (course.y.min() + course.y.max())
    axes.set_xlim(x - 0.5 * plan.width * inch, x + 0.5 * plan.width * inch)
    axes.set_ylim(y - 0.5 * plan.height * inch, y + 0.5 * plan.height * inch)
    axes.set_aspect("equal", adjustable="datalim")
    axes.set_axis_off()
    every = _strided(len(course.x), most)
    for breadth, colour in ((KERB, "0.45"), (ROAD, "white")):
        axes.plot(course.x[every], course.y[every], color=colour, linewidth=breadth, solid_capstyle="round")
    roads = LineCollection(list(way.segments), array=way.power, cmap=POWER_COLOURS, norm=norm, capstyle="round", linewidths=ROAD, zorder=3)
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
    axes = axes_at(figure, 0.0, top + 0.1, WIDTH, 0.4)
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
        words(f"tightest bend: radius {radius}, {grouped(round(course.smallest_radius_station))} m after the start")
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
    words(f"{grouped(length)} m")


def round_length(most: float) -> float:
    """The greatest of 1, 2, 5, 10, 20, ... (and of 0.5, 0.2, ...) that is not above `most` [any unit]."""
    power = 10.0 ** floor(log10(most))
    return max(step * power for step in (1.0, 2.0, 5.0) if step == 1.0 or step * power <= most)
