"""The bars of a run: what takes the energy."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator

from viz.shared.figures import (
    INK,
    LABEL,
    LINE,
    MARGIN,
    ROUND_STEPS,
    SMALL,
    WIDTH,
    WORDS,
    axes_at,
    folded,
    font_of,
    joules,
    new_sheet,
    plain_ticks,
    text_width,
    write_lines,
)  # fmt: skip

if TYPE_CHECKING:
    from sim.lap.ledger import Ledger
    from sim.study.compare import Comparison

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
    reasons = [folded(f"did not finish: {one.reason}", width + 0.8, SMALL) if one.ledger is None else [] for one in results]
    heights = [max(0.42, LINE * max(len(a), len(b)) + 0.14) for a, b in zip(names, reasons, strict=True)]
    centres = np.cumsum(heights) - 0.5 * np.array(heights)
    header, footer = (0.9, 0.65) if ledgers else (0.15, 0.15)
    figure = new_sheet(header + sum(heights) + footer)
    axes = axes_at(figure, left, header, width, sum(heights))
    axes.set_ylim(sum(heights), 0.0)
    axes.yaxis.set_visible(False)
    axes.spines[["left", "right", "top"]].set_visible(False)
    for name, reason, centre in zip(names, reasons, centres, strict=True):
        top = header + float(centre) + 0.5 * LINE
        write_lines(figure, left - 0.12, top - 0.5 * LINE * len(name), name, ha="right", va="center")
        # The white ground keeps the reference line off the words.
        box = {"facecolor": "white", "edgecolor": "none", "pad": 1.5}
        write_lines(figure, left + 0.08, top - 0.5 * LINE * len(reason), reason, va="center", style="italic", bbox=box)
    if not ledgers:
        axes.set_axis_off()
        return figure
    _draw_bars(axes, [float(y) for y, one in zip(centres, results, strict=True) if one.ledger], ledgers, causes)
    if comparison.reference.ledger is not None:
        _draw_reference(axes, sum(part(comparison.reference.ledger) for *_, part in causes))
    where = "on one lap" if closed else "from start to finish"
    axes.set_xlabel(f"Energy lost {where} [J]; the drive work is this and what the car gained in speed", **LABEL)
    axes.xaxis.set_major_locator(MaxNLocator(8, steps=ROUND_STEPS))
    axes.grid(axis="x", color="0.88", linewidth=0.8)
    axes.set_axisbelow(True)
    plain_ticks(axes)
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
            joules(total), (float(end), centre), xytext=(5, 0), textcoords="offset points", va="center_baseline",
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
        f"same car with ideal steering: {joules(total)}", (total, 1.0), xycoords=("data", "axes fraction"),
        xytext=(0, 4), textcoords="offset points", ha=side, **WORDS,
    )  # fmt: skip


def _losses_key(figure: Figure, causes: Sequence[Cause]) -> None:
    columns = 4
    signs = [Patch(fc=fill, ec=ink, hatch=hatch, linewidth=0.0, label=name) for name, fill, ink, hatch, _ in causes]
    by_row = [sign for column in range(columns) for sign in signs[column::columns]]  # a legend fills column by column
    figure.legend(
        handles=by_row, loc="upper left", bbox_to_anchor=(MARGIN / WIDTH, 1.0 - 0.12 / figure.get_figheight()),
        ncols=columns, frameon=False, prop=font_of(SMALL), labelcolor=INK, borderpad=0.0, borderaxespad=0.0,
        handlelength=2.2, handleheight=1.2, columnspacing=1.6,
    )  # fmt: skip
