"""What a sample of draws says: intervals, chances, and the shares of the inputs in a figure's variance, each with its sampling error.

Sampling errors are those of draws that had been drawn independently of each other.  Draws that are spread evenly over their ranges are
at least as good, so that the errors are on the safe side.  All of it takes time in proportion to the draws and, beside the figures
themselves, memory that does not grow with them: nothing is drawn again, for what a bootstrap would find is known in closed form
(a quantile's error), and what a jackknife would find follows from one solution (a mean's and a share's).
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from math import sqrt
from typing import Protocol

import numpy as np

LEVELS = (0.025, 0.5, 0.975)  # ends and middle of every interval
NORMAL_95 = 1.96  # standard deviations
POWERS = 3  # of each input in the additive fit
DRAWS_A_TERM = 3  # that the additive fit needs at least; with fewer it would fit the noise
# Of the largest: an eigenvalue of the additive fit's normal equations that counts as 0, well above their rounding and well below what
# any input that moves has.  Powers of an input that never changes, or that is one of two values, say the same and are fitted once.
COLLINEAR = 1e-10
CHUNK = 1024  # draws of which all terms of the fit are in memory together
FAR = 9.0  # standard deviations of a quantile's rank beyond which its weights are below rounding (1e-18)
# Of a figure's scale: a variance below this, squared, is rounding of the figure itself.
ROUNDING = 1e-12


class Rows(Protocol):
    """Rows of inputs that are read where they are sliced; an array is such."""

    def __getitem__(self, rows: slice, /) -> np.ndarray: ...


@dataclass(frozen=True)
class Estimate:
    """A figure of a sample.

    value, error : with the half width of its 95 % interval from sampling alone [the figure's unit]
    """

    value: float
    error: float


@dataclass(frozen=True)
class Interval:
    """Where a figure lies.

    low, middle, high : 95 % of the draws lie between low and high, half of them below the middle [the figure's unit]
    """

    low: Estimate
    middle: Estimate
    high: Estimate


@lru_cache(64)
def _rank_weights(draws: int, level: float) -> tuple[int, np.ndarray]:
    """How often a resampled quantile is each of the sorted draws: the place of the first that counts, and the shares from there on [-].

    draws : in the sample; level : of the quantile [-]
    """
    from scipy.special import betainc

    rank = min(max(draws * level + 0.5, 1.0), float(draws))
    reach = FAR * sqrt(draws * level * (1 - level)) + FAR**2
    first, behind = max(int(rank - reach), 0), min(int(rank + reach) + 1, draws)
    return first, np.diff(betainc(rank, draws - rank + 1, np.arange(first, behind + 1) / draws))


def interval_of(values: np.ndarray) -> Interval:
    """Ends and middle of a figure.

    values : (draws,) finite [any unit]
    Returns the Interval.  Source: quantiles halfway between the draws' own ranks, as evenly spread draws want them (Hazen); their errors
    are the standard deviations over all resamples with replacement, in closed form: Maritz and Jarrett, J. Am. Stat. Assoc. 73 (1978)
    194 (from memory), here also for a rank that is no whole number.
    """
    ranked = np.sort(values)
    found = np.quantile(ranked, LEVELS, method="hazen")
    parts = []
    for level, value in zip(LEVELS, found, strict=True):
        first, weights = _rank_weights(len(ranked), level)
        apart = ranked[first : first + len(weights)] - value
        mean = weights @ apart
        parts.append(Estimate(float(value), NORMAL_95 * sqrt(max(weights @ apart**2 - mean**2, 0.0))))
    return Interval(*parts)


def chance_below(first: np.ndarray, second: np.ndarray) -> Estimate:
    """The chance that one figure is below another.

    first, second : (draws,) in the same draws [any unit]
    Returns the Estimate [-]; equal ones count half.  Where (nearly) all draws agree, the draws' own scatter says nothing; then the error
    is that of the rule of three: what never happened in n draws has a chance below 3 / n.
    """
    below = (first < second) + 0.5 * (first == second)
    return Estimate(float(below.mean()), max(NORMAL_95 * float(below.std()) / sqrt(len(below)), 3 / len(below)))


class _Jackknife:
    """A figure of a sample and its scatter when each draw in turn is left out.

    value : (p,) of the whole sample; draws : in it [any unit]
    Source: the delete-one jackknife, whose variance is on the safe side on average: Efron and Stein, Ann. Statist. 9 (1981) 586, from
    memory.
    """

    def __init__(self, value: np.ndarray, draws: int):
        self.value, self.draws = value, draws
        self.sum, self.squares = np.zeros_like(value), np.zeros_like(value)

    def leave_out(self, values: np.ndarray) -> None:
        """Count in some draws.  values : (p, n) the figure with each of them left out."""
        apart = values - self.value[:, None]
        self.sum += apart.sum(axis=1)
        self.squares += (apart**2).sum(axis=1)

    def estimates(self) -> list[Estimate]:
        """The figure with its errors."""
        scatter = (self.squares - self.sum**2 / self.draws) * (self.draws - 1) / self.draws
        return [Estimate(float(one), NORMAL_95 * sqrt(max(part, 0.0))) for one, part in zip(self.value, scatter, strict=True)]


def additive_shares(inputs: Rows, values: np.ndarray) -> list[Estimate]:
    """Share of each input on its own in a figure's variance, from any sample of independent inputs.

    inputs : (draws, p), or what gives such rows when sliced [any unit]; values : (draws,) finite, not all equal [any unit]
    Returns p Estimates [-]; what is missing to 1 comes from inputs that work together, and from what is rougher than a cubic.
    Source: least squares of a sum of cubics, one an input; first-order indices are the variances of its parts; derived here.  What the
    fit is without a draw follows from its leverage (Sherman and Morrison's formula).
    """
    draws = len(values)
    values = values - values.mean()
    middle, scale = _scales(inputs, draws)
    count = 1 + POWERS * len(middle)
    moments, product = np.zeros((count, count)), np.zeros(count)
    for start, terms in _terms(inputs, draws, middle, scale):
        moments += terms @ terms.T
        product += terms @ values[start : start + CHUNK]
    inverse = np.linalg.pinv(moments, rcond=COLLINEAR, hermitian=True)
    fitted = inverse @ product
    square = float(values @ values)
    parts = [slice(1 + POWERS * i, 1 + POWERS * (i + 1)) for i in range(len(middle))]

    def shares(weights: np.ndarray, left_out: np.ndarray, out: np.ndarray, n: int) -> np.ndarray:
        """(p, m) with (count, m) weights of a fit to the n draws that are left, (count, m) terms and (m,) values of those that are not."""
        variance = (square - out**2) / n - (out / n) ** 2  # the mean of all is 0
        found = np.empty((len(parts), weights.shape[1]))
        for i, part in enumerate(parts):
            w, t = weights[part], left_out[part]
            own = (w * t).sum(axis=0)
            found[i] = (((moments[part, part] @ w) * w).sum(axis=0) - own**2) / n - ((moments[0, part] @ w - own) / n) ** 2
        return found / np.where(variance > 0, variance, np.inf)

    whole = shares(fitted[:, None], np.zeros((count, 1)), np.zeros(1), draws)
    jackknife = _Jackknife(whole[:, 0], draws)
    for start, terms in _terms(inputs, draws, middle, scale):
        out = values[start : start + CHUNK]
        turned = inverse @ terms
        leverage = (turned * terms).sum(axis=0)
        miss = (out - fitted @ terms) / np.maximum(1 - leverage, ROUNDING)
        jackknife.leave_out(shares(fitted[:, None] - turned * miss, terms, out, draws - 1))
    return jackknife.estimates()


def _scales(inputs: Rows, draws: int) -> tuple[np.ndarray, np.ndarray]:
    """Mean and standard deviation of each input, 1 for one that stands still [the inputs' units]."""
    chunks = range(0, draws, CHUNK)
    middle = sum(inputs[start : start + CHUNK].sum(axis=0) for start in chunks) / draws
    deviation = np.sqrt(sum(((inputs[start : start + CHUNK] - middle) ** 2).sum(axis=0) for start in chunks) / draws)
    return middle, np.where(deviation > ROUNDING * np.abs(middle), deviation, 1.0)


def _terms(inputs: Rows, draws: int, middle: np.ndarray, scale: np.ndarray) -> Iterator[tuple[int, np.ndarray]]:
    """The additive fit's terms, CHUNK draws at a time: where these begin, and (1 + POWERS p, m) [-]."""
    for start in range(0, draws, CHUNK):
        z = ((inputs[start : start + CHUNK] - middle) / scale).T
        terms = np.ones((len(z), POWERS, z.shape[1]))
        terms *= z[:, None]
        yield start, np.concatenate([np.ones((1, z.shape[1])), np.cumprod(terms, axis=1).reshape(-1, z.shape[1])])


def sobol_shares(first: np.ndarray, second: np.ndarray, swapped: Iterable[np.ndarray]) -> tuple[list[Estimate], list[Estimate]]:
    """Sobol indices of a figure from a Saltelli design.

    first, second : (draws,) at two independent sets of points [any unit]
    swapped : for each input (draws,) at the first set with this input taken from the second [any unit]
    Returns (first order, total), an Estimate an input each [-].
    Source: Saltelli et al., Comput. Phys. Commun. 181 (2010) 259, table 2: Jansen's total; of the two first orders that of Saltelli
    for an input of small total and Jansen's for one of large total, for each is exact where the other is roughest; from memory.
    """
    draws, middle = len(first), first.mean()  # no index changes with a shift
    first, second = first - middle, second - middle
    alone, total = [], []
    for column in swapped:
        change, rest = column - middle - first, column - middle - second
        means = np.stack([(first + second) / 2, (first**2 + second**2) / 2, change, change**2, second * change, rest**2])
        whole = means.mean(axis=1, keepdims=True)
        kind = 0 if _indices(whole)[2, 0] < 0.5 else 1
        jackknife = _Jackknife(_indices(whole)[[kind, 2], 0], draws)
        jackknife.leave_out(_indices((draws * whole - means) / (draws - 1))[[kind, 2]])
        one, both = jackknife.estimates()
        alone.append(one)
        total.append(both)
    return alone, total


def _indices(means: np.ndarray) -> np.ndarray:
    """(3, n): Saltelli's first order, Jansen's first order and total, from (6, n) means over a design, see `sobol_shares`."""
    mean, square, change, changed, product, rest = means
    variance = square - mean**2
    variance = np.where(variance > 0, variance, np.inf)
    return np.stack([(product - mean * change) / variance, 1 - rest / (2 * variance), changed / (2 * variance)])
