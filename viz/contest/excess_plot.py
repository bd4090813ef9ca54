"""The bars of a contest: what each entry needs beyond ideal steering, for bars from zero on all look alike."""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from viz.contest.words import place_words
from viz.shared.bars import FRONT_SCRUB, LENGTHWISE_SCRUB, REAR_SCRUB, Look, rule_joules, stack_bars, write_key, write_sums
from viz.shared.figures import INK, LINE, MARGIN, SMALL, WIDTH, axes_at, folded, new_sheet, text_width, write_lines
from viz.shared.rounding import shown_less

if TYPE_CHECKING:
    from pathlib import Path

    from sim.contest.results import ContestEntry, ContestResult

# Each: its look, and the figure of a lap.
PARTS: tuple[tuple[Look, str | None], ...] = (
    (FRONT_SCRUB, "front_scrub_J"),
    (REAR_SCRUB, "rear_scrub_J"),
    (LENGTHWISE_SCRUB, "lengthwise_scrub_J"),
    (("all else: brakes, rolling, air", "0.7", "0.1", ".."), None),
)
LOOKS = [look for look, _ in PARTS]
PLACE_WIDTH, NAMES_WIDTH = 0.85, 2.6  # [in]


def excess_parts(entry: ContestEntry) -> np.ndarray | None:
    """What an entry's drive work beyond ideal steering on its car is made of, in the order of PARTS; None where that is not known [J]."""
    ideal = entry.ideal
    if entry.drive_work_J is None or ideal.drive_work_J is None:
        return None
    parts = [getattr(entry, key) - getattr(ideal, key) for _, key in PARTS if key]
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
    known = [(float(centre), part, one) for centre, part, one in zip(centres, parts, entries, strict=True) if part is not None]
    if not known:
        axes.set_axis_off()
        return figure
    # The figures are those of the class's table, whose works are taken from each other as they are printed.
    sums = np.array([shown_less(one.drive_work_J or 0.0, one.ideal.drive_work_J or 0.0) for *_, one in known])
    _draw_bars(axes, [centre for centre, *_ in known], np.array([part for _, part, _ in known]), sums)
    around = "a lap" if result.course.closed else "from start to finish"
    rule_joules(axes, f"Drive work {around} beyond that of the same car with ideal steering and no toe [J]")
    write_key(figure, LOOKS)
    return figure


def _draw_bars(axes: Axes, centres: list[float], parts: np.ndarray, sums: np.ndarray) -> None:
    """Bars of (entries, PARTS) joules.  sums : of each, to be written beside it [J]"""
    below, above = stack_bars(axes, centres, parts, LOOKS, 0.2)
    axes.set_xlim(float(below.min()), max(float(above.max()), 1e-3))
    axes.axvline(0.0, color=INK, linewidth=1.2, zorder=4, clip_on=False)
    write_sums(axes, centres, above, sums, zorder=5)


def write_excess_plot(result: ContestResult, path: Path) -> None:
    """Draw the excess.  result : of the contest; path : a PNG file.  The same result gives the same bytes."""
    picture = BytesIO()
    FigureCanvasAgg(excess_figure(result)).print_png(picture, metadata={"Software": None})
    path.write_bytes(picture.getvalue())
