"""How rough the heights of a file are: the steps in which it writes them, and how far they scatter from point to point."""

from __future__ import annotations

import numpy as np

MOST_DECIMALS = 6  # a file with more writes computed heights: no rounding is seen in them
WHOLE = 1e-4  # a height is a whole number of steps to this part of one: what the rounding of a double leaves of nine digits
OFF_GRID = 0.1  # a recorder's steps, printed with two decimals, are multiples of one step to this part of it
COUNTED_STEPS = 5.5  # differences of more steps than this say nothing about a grid
FEWEST_DIFFERENCES = 6  # different heights; fewer fall on a grid by chance
EVEN_RAMP = 0.5  # part of the rises that repeat the rise before on an even ramp, at least ...
TAKEN_BACK = 0.75  # ... and part of the changes of the rise that the next change takes back on a rounded slope, at least
ROUNDING_DEVIATION = 1.0 / np.sqrt(12.0)  # of a step: root mean square of an error that is even between -1/2 and 1/2
ORDERS = (2, 4, 6)  # of the differences that show scatter
NORMAL_MEDIAN = 0.6745  # median of the size of a normal error of deviation 1
FEWEST_WINDOWS = 8
KEPT_PART, KEPT_DEVIATION = 0.9, 0.789  # of normal errors the smaller nine tenths have this deviation


def rounding_step(height: np.ndarray) -> float:
    """Step in which a file writes its heights.

    height : in driving order, as written, shape (n,) [m]
    Returns the step, 0 where none is seen [m]: the place of the last decimal, or a recorder's own coarser step (feet, or the
    resolution of its pressure cell). An even ramp, whose points rise by the same amount each, is not taken for rounding.
    """
    written = next((10.0**-places for places in range(MOST_DECIMALS + 1) if _whole(height * 10.0**places)), 0.0)
    if _is_ramp(height, 1e-6):
        return 0.0
    apart = np.diff(np.unique(np.round(height, MOST_DECIMALS)))
    least = float(apart.min())
    count = apart / least
    near = count[count < COUNTED_STEPS]
    on_grid = len(near) >= FEWEST_DIFFERENCES and np.abs(near - np.round(near)).max() < OFF_GRID
    return least if on_grid and least > written and not _is_ramp(height, 1.5 * written) else written


def _is_ramp(height: np.ndarray, same: float) -> bool:
    """Whether heights are points of even ramps: most rises repeat the rise before, to within same [m]; level stretches do not count.

    So do most rises of a rounded slope; but there each change from rise to rise is soon taken back.
    """
    rise = np.diff(height)
    rising = np.flatnonzero(np.abs(rise[:-1]) > same)
    bend = np.diff(rise)
    if len(rising) < 2 or float(np.mean(np.abs(bend[rising]) <= same)) <= EVEN_RAMP:
        return len(rising) < 2
    bend = bend[np.abs(bend) > same]
    return len(bend) < FEWEST_DIFFERENCES or float(np.mean(np.abs(bend[1:] + bend[:-1]) <= same)) < TAKEN_BACK


def _whole(number: np.ndarray) -> bool:
    return bool(np.abs(number - np.round(number)).max() < WHOLE)


def jumps(station: np.ndarray, height: np.ndarray, steepest: float) -> float:
    """Deviation of heights whose rises no road makes.

    station : increasing, shape (n,) [m]
    height : there, shape (n,) [m]
    steepest : slope of the steepest road [-]
    Returns the root mean square of what the rises from point to point exceed that slope by [m].  Source: derived here.
    """
    excess = np.abs(np.diff(height)) - steepest * np.diff(station)
    return float(np.sqrt(np.mean(np.maximum(excess, 0.0) ** 2)))


def scatter(station: np.ndarray, height: np.ndarray, step: float) -> float:
    """Deviation of heights that scatter independently from point to point.

    station : increasing, shape (n,) [m]
    height : there, shape (n,) [m]
    step : in which heights are written, see `rounding_step` [m]
    Returns the deviation [m]; 0 with too few points.
    Divided differences of neighbouring heights, with weights whose squares add up to 1, so that each has the variance of one height;
    what the road itself leaves in them makes them larger, so the least of several orders is taken: a low order does not see a
    crest between straight slopes, a high one no wave. Scatter that hangs together over many points is not seen.
    Source: difference-based estimates of a variance (from memory); derived here.
    """
    return min(_scatter(station, height, step, order) for order in ORDERS)


def _scatter(station: np.ndarray, height: np.ndarray, step: float, order: int) -> float:
    """The deviation by the differences of one order.

    The median of their sizes does not see the windows that hold a sharp crest. Where heights are written in steps as coarse as their
    scatter the median is one of few values, and the root mean square of the smaller ones is taken.
    """
    windows = len(height) - order
    if windows < FEWEST_WINDOWS:
        return 0.0
    place = np.lib.stride_tricks.sliding_window_view(station, order + 1)
    apart = place[:, :, None] - place[:, None, :] + np.eye(order + 1)
    # logarithms: products of distances of very different sizes
    size = -np.sum(np.log(np.abs(apart)), axis=2)
    weight = np.exp(size - size.max(axis=1, keepdims=True)) * np.where(np.arange(order + 1) % 2, -1.0, 1.0)
    weight /= np.sqrt(np.sum(weight**2, axis=1))[:, None]
    values = np.lib.stride_tricks.sliding_window_view(height, order + 1)
    found = np.sort(np.abs(np.sum(weight * (values - values[:, :1]), axis=1)))
    middle = float(np.median(found)) / NORMAL_MEDIAN
    if middle > step:
        return middle
    return float(np.sqrt(np.mean(found[: int(KEPT_PART * windows)] ** 2))) / KEPT_DEVIATION
