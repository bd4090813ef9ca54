"""The bars of a run: what takes the energy."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from viz.shared.bars import FRONT_SCRUB, LENGTHWISE_SCRUB, REAR_SCRUB, rule_joules, stack_bars, write_key, write_sums
from viz.shared.figures import INK, LINE, MARGIN, SMALL, WIDTH, WORDS, axes_at, folded, new_sheet, tenth_of_joules, text_width, write_lines

if TYPE_CHECKING:
    from sim.lap.ledger import Ledger
    from sim.study.compare import Comparison

# Order of the bars and of the legend.  Each: the four of its look, and how to find it in a ledger.
Cause = tuple[str, str, str, str, Callable[["Ledger"], float]]
CAUSES: tuple[Cause, ...] = (
    ("air drag", "#56B4E9", "0.1", "", lambda one: one.air),
    ("rolling resistance", "#0072B2", "white", "..", lambda one: one.rolling),
    ("brakes", "#009E73", "white", "xxx", lambda one: one.brakes),
    ("tyres resist being turned (aligning)", "#CC79A7", "0.1", "---", lambda one: one.aligning),
    (*FRONT_SCRUB, lambda one: float(one.lateral[:2].sum())),
    (*REAR_SCRUB, lambda one: float(one.lateral[2:].sum())),
    (*LENGTHWISE_SCRUB, lambda one: float(one.longitudinal.sum())),
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
    braked = " and gave back to its battery" if any(one.electric and one.electric.regenerated for one in ledgers) else ""
    rule_joules(axes, f"Energy lost {where} [J]: drive work and driver's hands, less what the car gained in speed{braked}")
    write_key(figure, [cause[:4] for cause in causes])
    return figure


def _draw_bars(axes: Axes, centres: list[float], ledgers: list[Ledger], causes: Sequence[Cause]) -> None:
    parts = np.array([[part(ledger) for *_, part in causes] for ledger in ledgers])
    below, above = stack_bars(axes, centres, parts, [cause[:4] for cause in causes], 0.27)
    axes.set_xlim(float(below.min()), max(float(above.max()), 1e-3 * float(-below.min()), 1e-9))
    write_sums(axes, centres, above, above + below)


def _draw_reference(axes: Axes, total: float) -> None:
    """A broken line where the bar of ideal steering would end."""
    low, high = axes.get_xlim()
    high = max(high, total)
    axes.set_xlim(low, high)
    axes.axvline(total, color=INK, linewidth=1.2, linestyle=(0, (5, 3)), zorder=2, clip_on=False)
    side = "right" if total > 0.5 * (low + high) else "left"
    axes.annotate(
        f"same car with ideal steering: {tenth_of_joules(total)}", (total, 1.0), xycoords=("data", "axes fraction"),
        xytext=(0, 4), textcoords="offset points", ha=side, **WORDS,
    )  # fmt: skip
