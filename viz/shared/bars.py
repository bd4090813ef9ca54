"""Stacked bars of joules: their looks, their sums in figures, their axis and their key, alike in a run's picture and a contest's."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator

from viz.shared.figures import INK, LABEL, MARGIN, ROUND_STEPS, SMALL, WIDTH, WORDS, font_of, plain_ticks, tenth_of_joules

# Name, fill, ink of the hatching, hatching.  Colours after Okabe and Ito (2008); warm ones are the scrub.
Look = tuple[str, str, str, str]
FRONT_SCRUB: Look = ("front tyres slip sideways", "#D55E00", "white", "//")
REAR_SCRUB: Look = ("rear tyres slip sideways", "#E69F00", "0.1", "\\\\")
LENGTHWISE_SCRUB: Look = ("tyres slip lengthwise", "#F0E442", "0.1", "|||")


def stack_bars(axes: Axes, centres: list[float], parts: np.ndarray, looks: Sequence[Look], height: float) -> tuple[np.ndarray, np.ndarray]:
    """Draw bars, each part beyond the ones before it, to its own side of zero.

    centres : of the bars; parts : (bars, looks) [J]; looks : of the parts; height : of a bar, as the centres
    Returns where each bar ends below zero and above it [J].
    """
    above, below = np.zeros(len(parts)), np.zeros(len(parts))
    for (name, fill, ink, hatch), values in zip(looks, parts.T, strict=True):
        starts = np.where(values < 0.0, below, above)
        axes.barh(
            centres, values, left=starts, height=height, color=fill, edgecolor=ink, hatch=hatch, linewidth=0.0, zorder=3, label=name,
        )  # fmt: skip
        above, below = above + np.maximum(values, 0.0), below + np.minimum(values, 0.0)
    return below, above


def write_sums(axes: Axes, centres: list[float], ends: np.ndarray, sums: np.ndarray, **ways: Any) -> None:
    """Write each bar's sum behind its end, in the tenths of the tables.

    centres : of the bars; ends : where they end [J]; sums : of their parts [J]
    """
    box = {"facecolor": "white", "edgecolor": "none", "pad": 1.0}
    for centre, end, total in zip(centres, ends, sums, strict=True):
        axes.annotate(
            tenth_of_joules(total), (float(end), centre), xytext=(5, 0), textcoords="offset points", va="center_baseline",
            annotation_clip=False, bbox=box, **WORDS, **ways,
        )  # fmt: skip


def rule_joules(axes: Axes, words: str) -> None:
    """The axis of joules.  words : what they are."""
    axes.set_xlabel(words, **LABEL)
    axes.xaxis.set_major_locator(MaxNLocator(8, steps=ROUND_STEPS))
    axes.grid(axis="x", color="0.88", linewidth=0.8)
    axes.set_axisbelow(True)
    plain_ticks(axes)


def write_key(figure: Figure, looks: Sequence[Look]) -> None:
    """Name the parts at the head of a picture, row by row.  looks : of the parts."""
    columns = 4
    signs = [Patch(fc=fill, ec=ink, hatch=hatch, linewidth=0.0, label=name) for name, fill, ink, hatch in looks]
    by_row = [sign for column in range(columns) for sign in signs[column::columns]]  # a legend fills column by column
    figure.legend(
        handles=by_row, loc="upper left", bbox_to_anchor=(MARGIN / WIDTH, 1.0 - 0.12 / figure.get_figheight()),
        ncols=columns, frameon=False, prop=font_of(SMALL), labelcolor=INK, borderpad=0.0, borderaxespad=0.0,
        handlelength=2.2, handleheight=1.2, columnspacing=1.6,
    )  # fmt: skip
