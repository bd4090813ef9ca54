"""Many roots at once, each within its own bracket.

SciPy finds them alike, and the tests hold this against it; see `splines.py` for why it is not asked.
"""

from collections.abc import Callable

import numpy as np

MOST_STEPS = 200  # halving alone comes from any bracket to the last bit in about 60


def bracketed_roots(
    function: Callable[[np.ndarray, np.ndarray], np.ndarray], low: np.ndarray, high: np.ndarray, targets: np.ndarray, *,
    absolute: float, relative: float,
) -> np.ndarray:  # fmt: skip
    """Where function(x, target) is 0, for each target.

    function : elementwise, of x (k,) and as many of the targets
    low, high : (n,) ends of the brackets, at which the function has different signs [any unit]; targets : (n,) handed on
    absolute, relative : a bracket no wider than absolute + relative |x| is an answer [the unit of x], [-]
    Returns the roots (n,); nan where the ends of a bracket have the same sign.
    Source: Chandrupatla, Adv. Eng. Softw. 28, 1997, 145-149: inverse quadratic steps where they are safe, halving else.
    """
    result = np.full(len(low), np.nan)
    index = np.arange(len(low))
    x1, x2 = np.array(low, dtype=float), np.array(high, dtype=float)
    f1, f2 = function(x1, targets), function(x2, targets)
    x3, f3 = x2, f2  # no third point yet: the first step halves
    for step in range(MOST_STEPS):
        nearer = np.abs(f1) < np.abs(f2)
        best = np.where(nearer, x1, x2)
        exact = np.where(nearer, f1, f2) == 0
        width, tolerance = np.abs(x2 - x1), np.abs(best) * relative + absolute
        lost = (np.sign(f1) == np.sign(f2)) & ~exact | ~np.isfinite(width) | np.isnan(f1) & np.isnan(f2)
        done = exact | lost | (width < tolerance)
        result[index[done]] = np.where(lost, np.nan, best)[done]
        left = ~done
        if not left.any():
            break
        index, x1, x2, x3, f1, f2, f3, width, tolerance = (one[left] for one in (index, x1, x2, x3, f1, f2, f3, width, tolerance))
        part = _next_part(x1, x2, x3, f1, f2, f3, 0.5 * tolerance / width) if step else np.full(len(x1), 0.5)
        x = x1 + part * (x2 - x1)
        f = function(x, targets[index])
        same = np.sign(f) == np.sign(f1)
        x3, f3 = np.where(same, x1, x2), np.where(same, f1, f2)
        x2, f2 = np.where(same, x2, x1), np.where(same, f2, f1)
        x1, f1 = x, f
    return result


def _next_part(
    x1: np.ndarray, x2: np.ndarray, x3: np.ndarray, f1: np.ndarray, f2: np.ndarray, f3: np.ndarray, least: np.ndarray
) -> np.ndarray:
    """Which part of the bracket to go: by the inverse parabola through three points where it is one-to-one, else half."""
    place = (x1 - x2) / (x3 - x2)
    with np.errstate(divide="ignore", invalid="ignore"):
        level = (f1 - f2) / (f3 - f2)
        share = (x3 - x1) / (x2 - x1)
        safe = ((1 - np.sqrt(1 - place)) < level) & (level < np.sqrt(place))
        parabola = f1 / (f1 - f2) * f3 / (f3 - f2) - share * f1 / (f3 - f1) * f2 / (f2 - f3)
    return np.clip(np.where(safe, parabola, 0.5), least, 1 - least)
