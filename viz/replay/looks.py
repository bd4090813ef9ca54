"""Colours, shapes and sizes of the replay.

A hue means a set-up and nothing else; its shape is the second cue.  Power is a grey, and the breadth of its line; axle lines, arrows
and verdicts are black on white, told apart by their line and by tick and cross.  Hues after Okabe and Ito (2008), published as safe for
colour-blind readers, darkened until they stand out 3 : 1 from the page.
"""

from functools import lru_cache
from typing import NamedTuple

import numpy as np

PAPER, CARD, INK, SOFT, FAINT, GRID = "#ECEAE4", "#FFFFFF", "#1A1A1A", "#55534D", "#A9A69D", "#E6E4DD"
BLUE = "#0072B2"

WATTS, CAPTION, LABEL = 36.0, 24.0, 18.0  # sizes of type [points], before the watcher enlarges them
TEXT_SIZES = (1.0, 1.25, 1.5, 2.0)  # by which `T` enlarges it, as far as the window holds it


class Look(NamedTuple):
    """How a set-up is told from the others."""

    colour: str
    shape: str
    dash: float  # of its curve [points]


HUES = (BLUE, "#C25500", "#007F5C", "#A64D83", "#8A6400", "#B3203C", "#6A3FB5", "#4F7A00")  # as many as the largest shipped run has set-ups
SHAPES = ("disc", "square", "triangle", "diamond", "hexagon")
DASHES = (0.0, 9.0, 5.0, 2.5, 14.0)
LOOKS = tuple(Look(HUES[i % len(HUES)], SHAPES[i % len(SHAPES)], DASHES[i % len(DASHES)]) for i in range(len(HUES) * len(SHAPES)))
MOST_NAMED = 4  # set-ups that a command can name


@lru_cache(maxsize=64)
def looks_of(count: int, pair: tuple[int, ...]) -> tuple[Look, ...]:
    """A look for each set-up, the same whatever is shown large.

    Of as many set-ups as there are hues none shares its hue.  Where two that are shown large would have one shape the second takes another,
    and where they would have one hue, of more set-ups, another hue too.

    count : of all set-ups; pair : indices of those that are shown large
    """
    looks = [LOOKS[i % len(LOOKS)] for i in range(count)]
    for place, index in enumerate(pair[1:], 1):
        hues, shapes = {looks[one].colour for one in pair[:place]}, {looks[one].shape for one in pair[:place]}
        own, form = HUES.index(looks[index].colour), SHAPES.index(looks[index].shape)
        while HUES[own] in hues:
            own = (own + 1) % len(HUES)
        while SHAPES[form] in shapes:
            form = (form + 1) % len(SHAPES)
        looks[index] = Look(HUES[own], SHAPES[form], DASHES[form])
    return tuple(looks)


# Greys of even steps; the lightest stands out 3 : 1 from the page.
POWER_COLOURS = ("#848484", "#747474", "#646464", "#535353", "#424242", "#303030", "#202020", "#000000")
LEVELS = len(POWER_COLOURS)
SHARE_OF_TYRE = np.linspace(0.3, 2.0, LEVELS)  # breadth of a trail, in tyre widths: the more power, the broader, as the key says


def level(power: np.ndarray | float, top: float) -> np.ndarray:
    """The grey of a power, 0 .. LEVELS - 1; by its root, so that small powers differ too.

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
        "hexagon": [(-1.0, 0.0), (-0.5, -0.9), (0.5, -0.9), (1.0, 0.0), (0.5, 0.9), (-0.5, 0.9)],
    }[shape]
    return np.array(corners) * size + (x, y)
