"""What a sample of draws says: intervals, chances, and the shares of the inputs in a figure's variance, each with its sampling error.

Sampling errors come from a seeded bootstrap of the draws, as if these had been drawn independently of each other.  Draws that are
spread evenly over their ranges are at least as good, so that the errors are on the safe side.
"""

from dataclasses import dataclass

import numpy as np

LEVELS = (0.025, 0.5, 0.975)  # ends and middle of every interval
RESAMPLES = 200  # of the bootstrap: a sampling error is then itself known to 5 %
NORMAL_95 = 1.96  # standard deviations
POWERS = 3  # of each input in the additive fit
DRAWS_A_TERM = 3  # that the additive fit needs at least; with fewer it would fit the noise
# Added to the additive fit's normal equations, as a share of their mean diagonal: an input that never changes then has a share of 0.
RIDGE = 1e-10


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


class Resamples:
    """A sample drawn again from itself, with what stands for the sample as it is.

    draws : in the sample, above 0; seed : of the drawing [-]
    """

    def __init__(self, draws: int, seed: int):
        self.chosen = np.random.default_rng([seed, draws]).integers(0, draws, (RESAMPLES, draws))
        counts = np.zeros((RESAMPLES, draws))
        np.add.at(counts, (np.arange(RESAMPLES)[:, None], self.chosen), 1.0)
        self.weights = np.concatenate([np.ones((1, draws)), counts]) / draws  # the first row is the sample itself


def estimate(values: np.ndarray) -> Estimate:
    """A figure of the sample and of its resamples.  values : (RESAMPLES + 1,), the sample's own first [any unit]."""
    return Estimate(float(values[0]), NORMAL_95 * float(np.std(values[1:], ddof=1)))


def interval_of(values: np.ndarray, resamples: Resamples) -> Interval:
    """Ends and middle of a figure.

    values : (draws,) finite [any unit]; resamples : of as many draws
    Returns the Interval.  Source: quantiles halfway between the draws' own ranks, as evenly spread draws want them (Hazen).
    """
    found = np.quantile(values, LEVELS, method="hazen")[:, None]
    again = np.quantile(values[resamples.chosen], LEVELS, axis=1, method="hazen")
    return Interval(*(estimate(row) for row in np.concatenate([found, again], axis=1)))


def chance_below(first: np.ndarray, second: np.ndarray, resamples: Resamples) -> Estimate:
    """The chance that one figure is below another.

    first, second : (draws,) in the same draws [any unit]; resamples : of as many draws
    Returns the Estimate [-]; equal ones count half.  Where (nearly) all draws agree, the bootstrap sees nothing; then the error is that
    of the rule of three: what never happened in n draws has a chance below 3 / n.
    """
    found = estimate(resamples.weights @ ((first < second) + 0.5 * (first == second)))
    return Estimate(found.value, max(found.error, 3 / len(first)))


def additive_shares(inputs: np.ndarray, values: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Share of each input on its own in a figure's variance, from any sample of independent inputs.

    inputs : (draws, p) [any unit]; values : (draws,) finite, not all equal [any unit]
    weights : (r, draws) of the draws, each row with the sum 1 [-]
    Returns (r, p) [-]; what is missing to 1 comes from inputs that work together, and from what is rougher than a cubic.
    Source: least squares of a sum of cubics, one an input; first-order indices are the variances of its parts; derived here.
    """
    deviation = inputs.std(axis=0)
    z = (inputs - inputs.mean(axis=0)) / np.where(deviation > 0, deviation, 1.0)
    terms = np.column_stack([np.ones(len(z)), *(z[:, i] ** power for i in range(z.shape[1]) for power in range(1, POWERS + 1))])
    values = values - values.mean()
    shares = np.empty((len(weights), z.shape[1]))
    for row, weight in enumerate(weights):
        moments = (terms.T * weight) @ terms
        ridge = RIDGE * np.trace(moments) / len(moments)
        fitted = np.linalg.solve(moments + ridge * np.eye(len(moments)), terms.T @ (weight * values))
        variance = weight @ values**2 - (weight @ values) ** 2
        for i in range(z.shape[1]):
            part = slice(1 + POWERS * i, 1 + POWERS * (i + 1))
            spread = moments[part, part] - np.outer(moments[0, part], moments[0, part])
            shares[row, i] = fitted[part] @ spread @ fitted[part] / variance
    return shares


def sobol_shares(first: np.ndarray, second: np.ndarray, swapped: np.ndarray, weights: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Sobol indices of a figure from a Saltelli design.

    first, second : (draws,) at two independent sets of points [any unit]
    swapped : (p, draws) at the first set with one input each taken from the second [any unit]
    weights : (r, draws) of the draws, each row with the sum 1 [-]
    Returns (first order, total), (r, p) each [-].
    Source: Saltelli et al., Comput. Phys. Commun. 181 (2010) 259, table 2: Jansen's total; of the two first orders that of Saltelli
    for an input of small total and Jansen's for one of large total, for each is exact where the other is roughest; from memory.
    """
    mean = (weights @ (first + second) / 2)[:, None]
    variance = (weights @ (first**2 + second**2) / 2)[:, None] - mean**2
    change, rest = (swapped - first).T, (swapped - second).T
    total = weights @ change**2 / (2 * variance)
    small = (weights @ (second[:, None] * change) - mean * (weights @ change)) / variance
    large = 1 - weights @ rest**2 / (2 * variance)
    return np.where(total[0] < 0.5, small, large), total
