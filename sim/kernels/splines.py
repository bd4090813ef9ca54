"""Cubic pieces through given points: twice smooth, or monotone between the points.

SciPy makes the same, and the tests hold these against it; to import its interpolation takes longer than a whole lap with all that belongs
to it, and every start of a command would pay for that.
"""

import numpy as np

from sim.kernels.compiled import kernel


@kernel
def solve_tridiagonal(lower: np.ndarray, diagonal: np.ndarray, upper: np.ndarray, right: np.ndarray) -> None:
    """Solve a tridiagonal system in place, with the rows' order changed where the diagonal is the smaller.

    lower, upper : (n - 1,) beside the diagonal; diagonal : (n,); all three are overwritten [any unit]
    right : (n, m) right-hand sides, overwritten by the solutions [any unit]
    Source: Gaussian elimination with partial pivoting.
    """
    n, m = right.shape
    for i in range(n - 1):
        if abs(diagonal[i]) >= abs(lower[i]):
            factor = lower[i] / diagonal[i]
            diagonal[i + 1] -= factor * upper[i]
            for k in range(m):
                right[i + 1, k] -= factor * right[i, k]
            lower[i] = 0.0
        else:
            factor = diagonal[i] / lower[i]
            diagonal[i], held = lower[i], diagonal[i + 1]
            diagonal[i + 1] = upper[i] - factor * held
            lower[i] = 0.0
            if i < n - 2:
                lower[i] = upper[i + 1]  # from here on what stands two places right of the diagonal
                upper[i + 1] = -factor * lower[i]
            upper[i] = held
            for k in range(m):
                right[i, k], right[i + 1, k] = right[i + 1, k], right[i, k] - factor * right[i + 1, k]
    for k in range(m):
        right[n - 1, k] /= diagonal[n - 1]
        right[n - 2, k] = (right[n - 2, k] - upper[n - 2] * right[n - 1, k]) / diagonal[n - 2]
        for i in range(n - 3, -1, -1):
            right[i, k] = (right[i, k] - upper[i] * right[i + 1, k] - lower[i] * right[i + 2, k]) / diagonal[i]


def spline_pieces(x: np.ndarray, y: np.ndarray, *, closed: bool = False) -> np.ndarray:
    """The cubic spline through points.

    x : (n,) rising, n at least 4 [any unit]; y : (n,) or (n, m) [any unit]
    closed : whether the ends meet, so that value, slope and bend go on from the last point to the first; else the third derivative goes on
        across the second and the last but one point
    Returns the pieces (4, n - 1) or (4, n - 1, m), factors of the third to the zeroth power of x less its node.
    Source: continuity of the second derivative; closed: the last unknown eliminated.
    """
    values = y.reshape(len(y), -1)
    step = np.diff(x)
    wide = step[:, None]
    slope = np.diff(values, axis=0) / wide
    diagonal = np.zeros(len(x))
    diagonal[1:-1] = 2 * (step[:-1] + step[1:])
    upper, lower = np.append(0.0, step[:-1]), np.append(step[1:], 0.0)
    right = np.empty_like(values)
    right[1:-1] = 3 * (wide[1:] * slope[:-1] + wide[:-1] * slope[1:])
    if closed:
        rates = _closed_rates(step, slope, diagonal[:-1], upper, lower, right[:-1])
    else:
        first, last = x[2] - x[0], x[-1] - x[-3]
        diagonal[0], upper[0], diagonal[-1], lower[-1] = step[1], first, step[-2], last
        right[0] = ((wide[0] + 2 * first) * wide[1] * slope[0] + wide[0] ** 2 * slope[1]) / first
        right[-1] = (wide[-1] ** 2 * slope[-2] + (2 * last + wide[-1]) * wide[-2] * slope[-1]) / last
        solve_tridiagonal(lower, diagonal, upper, right)
        rates = right
    return _pieces(wide, values, slope, rates).reshape(4, len(x) - 1, *y.shape[1:])


@kernel
def even_pieces(values: np.ndarray) -> np.ndarray:
    """The spline of `spline_pieces` through many columns over nodes one apart, in the cells' own order: bit for bit the same.

    values : (n, m) at the nodes 0, 1, 2 ..., n at least 4 [any unit]
    Returns the pieces (n - 1, m, 4), factors of the zeroth to the third power of the place in the cell.
    Source: `spline_pieces` for steps of 1.
    """
    n, m = values.shape
    slope, right = values[1:] - values[:-1], np.empty((n, m))
    lower, diagonal, upper = np.ones(n - 1), np.full(n, 4.0), np.ones(n - 1)
    diagonal[0], upper[0], diagonal[-1], lower[-1] = 1.0, 2.0, 1.0, 2.0
    for k in range(m):
        right[0, k] = (5.0 * slope[0, k] + slope[1, k]) / 2.0
        right[n - 1, k] = (slope[n - 3, k] + 5.0 * slope[n - 2, k]) / 2.0
    for i in range(1, n - 1):
        for k in range(m):
            right[i, k] = 3.0 * (slope[i - 1, k] + slope[i, k])
    solve_tridiagonal(lower, diagonal, upper, right)
    pieces = np.empty((n - 1, m, 4))
    for i in range(n - 1):
        for k in range(m):
            bend = right[i, k] + right[i + 1, k] - 2.0 * slope[i, k]
            pieces[i, k, 0], pieces[i, k, 1], pieces[i, k, 2], pieces[i, k, 3] = (
                values[i, k],
                right[i, k],
                slope[i, k] - right[i, k] - bend,
                bend,
            )
    return pieces


def _closed_rates(
    step: np.ndarray, slope: np.ndarray, diagonal: np.ndarray, upper: np.ndarray, lower: np.ndarray, right: np.ndarray
) -> np.ndarray:
    """Rates at the nodes of a closed spline: the system without its last unknown is solved twice, and that one from both."""
    wide = step[:, None]
    diagonal[0], upper[0] = 2 * (step[-1] + step[0]), step[-1]
    right[0] = 3 * (wide[0] * slope[-1] + wide[-1] * slope[0])
    right[-1] = 3 * (wide[-1] * slope[-2] + wide[-2] * slope[-1])
    known, unit = right[:-1].copy(), np.zeros_like(right[:-1])
    unit[0], unit[-1] = -step[0], -step[-3]
    for one in (known, unit):
        solve_tridiagonal(lower[: len(one) - 1].copy(), diagonal[:-1].copy(), upper[: len(one) - 1].copy(), one)
    end = (right[-1] - step[-2] * known[0] - step[-1] * known[-1]) / (2 * (step[-1] + step[-2]) + step[-2] * unit[0] + step[-1] * unit[-1])
    rates = np.concatenate([known + end * unit, [end]])
    return np.concatenate([rates, rates[:1]])


def _pieces(wide: np.ndarray, values: np.ndarray, slope: np.ndarray, rates: np.ndarray) -> np.ndarray:
    """Pieces from values and rates at their ends.  Source: Hermite's cubic."""
    bend = (rates[:-1] + rates[1:] - 2 * slope) / wide
    return np.stack([bend / wide, (slope - rates[:-1]) / wide - bend, rates[:-1], values[:-1]])


def monotone_pieces(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Cubics through points that rise and fall only where the points do.

    x : (n,) rising, n at least 2 [any unit]; y : (n,) [any unit]
    Returns the pieces (4, n - 1), as `spline_pieces`.
    Source: Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5, 1984 (from memory): the rate at a node is the weighted harmonic mean of the
    slopes beside it, and 0 where they differ in sign; at the ends from three points, held to the nearest slope.
    """
    step = np.diff(x)
    slope = np.diff(y) / step
    rates = np.empty(len(x))
    if len(x) == 2:
        rates[:] = slope[0]
    else:
        before, after = 2 * step[1:] + step[:-1], step[1:] + 2 * step[:-1]
        even = (np.sign(slope[1:]) == np.sign(slope[:-1])) & (slope[1:] != 0) & (slope[:-1] != 0)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            mean = (before / slope[:-1] + after / slope[1:]) / (before + after)
        rates[1:-1] = 0.0
        rates[1:-1][even] = 1.0 / mean[even]
        for end, beside in ((0, 1), (-1, -2)):
            rates[end] = _end_rate(step[end], step[beside], slope[end], slope[beside])
    return _pieces(step[:, None], y[:, None], slope[:, None], rates[:, None])[:, :, 0]


def _end_rate(step: float, beside: float, slope: float, further: float) -> float:
    """Rate at an end from three points, not against the nearest slope and, where the slopes part, at most three times as steep."""
    rate = ((2 * step + beside) * slope - step * further) / (step + beside)
    if np.sign(rate) != np.sign(slope):
        return 0.0
    if np.sign(slope) != np.sign(further) and abs(rate) > 3.0 * abs(slope):
        return 3.0 * slope
    return rate


def value_at(pieces: np.ndarray, x: np.ndarray, place: float) -> float:
    """Value of cubics through points at one place, the end pieces going on beyond them.

    pieces : (4, n - 1), as `spline_pieces`; x : (n,) their nodes; place : [the unit of x]
    Returns the value.  Source: sum of powers.
    """
    index = min(max(int(np.searchsorted(x, place, side="right")) - 1, 0), len(x) - 2)
    t = place - x[index]
    third, second, first, value = pieces[:, index]
    return float(value + first * t + second * (t * t) + third * (t * t * t))
