"""The slip angles of a run, wheel by wheel."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from viz.run.drawn import drawn_results
from viz.shared.figures import (
    LABEL,
    LINE,
    MOST_POINTS,
    ROUND_STEPS,
    SMALL,
    WIDTH,
    WORDS,
    axes_at,
    folded,
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
    from sim.study.compare import Comparison

# Side by hue and line, axle by lightness and breadth: grey print or colour-blind eyes lose one cue, never both.
WHEEL_LOOKS: tuple[tuple[str, str, Any, float], ...] = (
    ("front left", "#0072B2", "solid", 1.6),
    ("front right", "#D55E00", (0, (4.0, 1.4)), 1.6),
    ("rear left", "#56B4E9", "solid", 1.1),
    ("rear right", "#E69F00", (0, (4.0, 1.4)), 1.1),
)


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
    header, strip, footer, note = 0.5, 0.6 if bends else 0.0, 0.6, note_height(comparison)
    tall, space = (1.15 if len(shown) > 3 else 1.6), 0.17
    blocks = [LINE * len(caption) + 0.05 + tall + space for caption in captions]
    figure = new_sheet(header + strip + sum(blocks) - space + footer + note)
    reaches = [_slip_reach(one.trace) for one in shown]
    finished = [value for value, one in zip(reaches, shown, strict=True) if one.finished]
    reach = max(1.1 * max(finished or reaches), 1.0)  # [deg]
    if bends:
        _draw_bends(figure, course, left, header - 0.02, width, 0.5)
    top = header + strip
    for one, caption, block in zip(shown, captions, blocks, strict=True):
        write_lines(figure, left, top, caption, weight="bold")
        axes = axes_at(figure, left, top + block - space - tall, width, tall)
        axes.set_label("slip")
        axes.set_xlim(0.0, course.length)
        axes.set_ylim(-reach, reach)
        axes.yaxis.set_major_locator(MaxNLocator(4, steps=ROUND_STEPS))
        axes.tick_params(labelbottom=one is shown[-1])
        plain_ticks(axes)
        _draw_slips(axes, one.trace)
        top += block
    axes.set_xlabel("Distance from the start [m]", **LABEL)
    middle = 1.0 - (header + strip + 0.5 * sum(blocks)) / figure.get_figheight()
    words = "Slip angle of each wheel [degrees]"
    figure.text(0.3 / WIDTH, middle, words, rotation=90, ha="center", va="center", **LABEL)
    _slip_key(figure, left)
    write_note(figure, comparison)
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
    axes = axes_at(figure, left, top, width, height)
    kept = peaks_kept(course.curvature, MOST_POINTS)
    tightest = float(np.abs(course.curvature).max())
    axes.fill_between(course.station[kept], course.curvature[kept] / tightest, color="0.6", linewidth=0.0)
    axes.axhline(0.0, color="0.5", linewidth=0.8)
    axes.set_xlim(0.0, course.length)
    axes.set_ylim(-1.05, 1.05)
    axes.set_axis_off()
    for words, share in (("bends left", 0.27), ("bends right", 0.73)):
        write_lines(figure, left - 0.1, top + share * height, [words], ha="right", va="center")


def _slip_key(figure: Figure, left: float) -> None:
    axes = axes_at(figure, 0.0, 0.12, WIDTH, 0.3)
    axes.set_xlim(0.0, WIDTH)
    axes.set_ylim(-1.0, 1.0)
    axes.set_axis_off()
    for name, colour, line, breadth in WHEEL_LOOKS:
        axes.plot([left, left + 0.5], [0.0, 0.0], color=colour, linestyle=line, linewidth=breadth + 0.4)
        axes.text(left + 0.58, 0.0, name, va="center_baseline", **WORDS)
        left += 0.58 + text_width(name, SMALL) + 0.3
    words = "above zero: the tyre pushes to the left"
    axes.text(WIDTH - 0.4, 0.0, words, va="center_baseline", ha="right", **WORDS)
