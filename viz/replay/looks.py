"""Colours, shapes and sizes of the replay.

Colours after Okabe and Ito (2008); the power scale is cividis, reversed (Nuñez, Anderton and Renslow, 2018): both published as safe
for colour-blind readers.  Every colour has a second cue: a set-up its shape and dash, a power the breadth of its line.
"""

from typing import NamedTuple

import numpy as np

PAPER, CARD, INK, SOFT, FAINT, GRID = "#ECEAE4", "#FFFFFF", "#1A1A1A", "#55534D", "#A9A69D", "#E6E4DD"
GOOD, BAD = "#006B4E", "#B34A00"  # bluish green and vermilion, darkened for text on white
BLUE, VERMILION, GREEN, PURPLE, ORANGE, SKY = "#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9"


class Look(NamedTuple):
    """How a set-up is told from the others."""

    colour: str
    shape: str
    dash: float  # of its curve [points]


LOOKS = (Look(BLUE, "disc", 0.0), Look(VERMILION, "square", 9.0), Look(GREEN, "triangle", 5.0), Look(PURPLE, "diamond", 2.5))
MOST_SHOWN = len(LOOKS)


def looks_of(chosen: list[int]) -> list[Look]:
    """A look for each set-up that is shown, the same whatever else is shown wherever that is possible.

    chosen : up to MOST_SHOWN indices of set-ups
    """
    free, given = list(LOOKS), {}
    for index in sorted(chosen, key=lambda one: one >= MOST_SHOWN):
        look = LOOKS[index % MOST_SHOWN]
        given[index] = look if look in free else free[0]
        free.remove(given[index])
    return [given[index] for index in chosen]


# cividis_r at eight even places from 0.06 to 1
POWER_COLOURS = ("#F0D846", "#CBB965", "#A69C74", "#858279", "#676A71", "#47516C", "#1E3A6F", "#00224E")
LEVELS = len(POWER_COLOURS)
SHARE_OF_TYRE = np.linspace(0.35, 1.5, LEVELS)  # breadth of a trail, in tyre widths


def level(power: np.ndarray | float, top: float) -> np.ndarray:
    """The colour of a power, 0 .. LEVELS - 1; by its root, so that small powers differ too.

    power, top : top of the scale, above 0 [W]
    """
    share = np.sqrt(np.clip(np.nan_to_num(np.asarray(power, dtype=float) / top), 0.0, 1.0))
    return np.minimum((share * LEVELS).astype(int), LEVELS - 1)


def shape_outline(shape: str, x: float, y: float, size: float) -> np.ndarray:
    """Corners of a set-up's sign, (n, 2).  shape : of a Look, not "disc"; x, y : middle; size : half its width [points]."""
    corners = {
        "square": [(-0.85, -0.85), (0.85, -0.85), (0.85, 0.85), (-0.85, 0.85)],
        "triangle": [(0.0, -1.1), (1.05, 0.8), (-1.05, 0.8)],
        "diamond": [(0.0, -1.2), (1.0, 0.0), (0.0, 1.2), (-1.0, 0.0)],
    }[shape]
    return np.array(corners) * size + (x, y)
