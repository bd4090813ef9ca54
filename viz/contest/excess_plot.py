"""The bars of a contest: what each entry needs beyond ideal steering, for bars from zero on all look alike."""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator

from viz.contest.words import place_words
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
    from pathlib import Path

    from sim.contest.results import ContestEntry, ContestResult

# Colours and hatching as in a run's picture of what takes the energy.  Each: name, fill, ink of the hatching, hatching, figure of a lap.
PARTS = (
    ("front tyres slip sideways", "#D55E00", "white", "//", "front_scrub_J"),
    ("rear tyres slip sideways", "#E69F00", "0.1", "\\\\", "rear_scrub_J"),
    ("tyres slip lengthwise", "#F0E442", "0.1", "|||", "lengthwise_scrub_J"),
    ("all else: brakes, rolling, air", "0.7", "0.1", "..", None),
)
PLACE_WIDTH, NAMES_WIDTH = 0.85, 2.6  # [in]


def excess_parts(entry: ContestEntry) -> np.ndarray | None:
    """What an entry's drive work beyond ideal steering on its car is made of, in the order of PARTS; None where that is not known [J]."""
    ideal = entry.ideal
    if entry.drive_work_J is None or ideal.drive_work_J is None:
        return None
    parts = [getattr(entry, key) - getattr(ideal, key) for *_, key in PARTS if key]
    return np.array([*parts, entry.drive_work_J - ideal.drive_work_J - sum(parts)])


def excess_figure(result: ContestResult) -> Figure:
    """A stacked bar for each entry that finished, in the order of their places, the reason in words for each that did not.

    result : of the contest
    Returns the Figure.  Zero is ideal steering on the same car; what a set-up saves against it stands left of zero, and the figure beside
    the bar is the sum of all parts.
    """
    entries = result.entries
    names = [folded(one.team, NAMES_WIDTH, SMALL, most=2) for one in entries]
    left = MARGIN + PLACE_WIDTH + max((text_width(line, SMALL) for name in names for line in name), default=0.0) + 0.15
    width = WIDTH - left - 1.0  # room for the figure beside the longest bar
    parts = [excess_parts(one) for one in entries]
    reasons = [
        folded("no place" if one.finished else f"did not finish: {one.reason}", width + 0.6, SMALL) if part is None else []
        for one, part in zip(entries, parts, strict=True)
    ]
    heights = [max(0.32, LINE * max(len(a), len(b)) + 0.14) for a, b in zip(names, reasons, strict=True)]
    centres = np.cumsum(heights) - 0.5 * np.array(heights)
    header, footer = 0.55, 0.65
    figure = new_sheet(header + sum(heights) + footer)
    axes = axes_at(figure, left, header, width, max(sum(heights), 0.1))
    axes.set_ylim(max(sum(heights), 0.1), 0.0)
    axes.yaxis.set_visible(False)
    axes.spines[["left", "right", "top"]].set_visible(False)
    for one, name, reason, centre in zip(entries, names, reasons, centres, strict=True):
        middle = header + float(centre) + 0.5 * LINE
        write_lines(figure, MARGIN, middle - 0.5 * LINE, ["" if one.place is None else place_words(one)], va="center")
        write_lines(figure, left - 0.12, middle - 0.5 * LINE * len(name), name, ha="right", va="center")
        write_lines(figure, left + 0.08, middle - 0.5 * LINE * len(reason), reason, va="center", style="italic")
    known = [(float(centre), part) for centre, part in zip(centres, parts, strict=True) if part is not None]
    if not known:
        axes.set_axis_off()
        return figure
    _draw_bars(axes, [centre for centre, _ in known], np.array([part for _, part in known]))
    around = "a lap" if result.course.closed else "from start to finish"
    axes.set_xlabel(f"Drive work {around} beyond that of the same car with ideal steering and no toe [J]", **LABEL)
    axes.xaxis.set_major_locator(MaxNLocator(8, steps=ROUND_STEPS))
    axes.grid(axis="x", color="0.88", linewidth=0.8)
    axes.set_axisbelow(True)
    plain_ticks(axes)
    signs = [Patch(fc=fill, ec=ink, hatch=hatch, linewidth=0.0, label=name) for name, fill, ink, hatch, _ in PARTS]
    figure.legend(
        handles=signs, loc="upper left", bbox_to_anchor=(MARGIN / WIDTH, 1.0 - 0.12 / figure.get_figheight()), ncols=len(PARTS),
        frameon=False, prop=font_of(SMALL), labelcolor=INK, borderpad=0.0, borderaxespad=0.0, handlelength=2.2, handleheight=1.2,
        columnspacing=1.6,
    )  # fmt: skip
    return figure


def _draw_bars(axes: Any, centres: list[float], parts: np.ndarray) -> None:
    """Bars of (entries, PARTS) joules, each part beyond the ones before it, to its own side of zero."""
    above, below = np.zeros(len(parts)), np.zeros(len(parts))
    for (_, fill, ink, hatch, _), values in zip(PARTS, parts.T, strict=True):
        starts = np.where(values < 0.0, below, above)
        axes.barh(centres, values, left=starts, height=0.2, color=fill, edgecolor=ink, hatch=hatch, linewidth=0.0, zorder=3)
        above, below = above + np.maximum(values, 0.0), below + np.minimum(values, 0.0)
    low, high = float(below.min()), max(float(above.max()), 1e-3)
    axes.set_xlim(low, high)
    axes.axvline(0.0, color=INK, linewidth=1.2, zorder=4, clip_on=False)
    for centre, end, total in zip(centres, above, parts.sum(axis=1), strict=True):
        axes.annotate(
            joules(total), (float(end), centre), xytext=(5, 0), textcoords="offset points", va="center_baseline",
            annotation_clip=False, zorder=5, bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0}, **WORDS,
        )  # fmt: skip


def write_excess_plot(result: ContestResult, path: Path) -> None:
    """Draw the excess.  result : of the contest; path : a PNG file.  The same result gives the same bytes."""
    picture = BytesIO()
    FigureCanvasAgg(excess_figure(result)).print_png(picture, metadata={"Software": None})
    path.write_bytes(picture.getvalue())
