"""What is wrong with a front end as it was built: rods, arms and drawn lengths, and what it was measured with, fitted to all readings.

Each of them is an unknown with a usual spread; what the readings do not tell stays as unsure as it was.
"""

from dataclasses import dataclass, replace

import numpy as np

from sim.bench.as_built import Built
from sim.bench.kinds import KINDS
from sim.bench.misfit import Misfit, hands_as_set
from sim.bench.readings import Readings
from sim.errors import InputError
from sim.linkages.parts import UnbuildableError

OUTLIER = 3.5  # times the scatter: one good reading in two thousand lies so far out
ROUNDS = 4  # of flagging and refitting
FEWEST_SPARE = 4  # spare readings below which none can be called an outlier
MOST_FLAGGED = 0.25  # share of the rows; with more it is not the odd slip
NORMAL_MAD = 1.4826  # standard deviation over median absolute deviation of a normal scatter
UNLIKELY = 0.01  # chance below which scatter is called too large for the stated error
NORMAL_95 = 1.959964  # standard errors to either side of a 95 % interval
REPLICATES = 200  # of the bootstrap: the ends of a 95 % interval then scatter by about a tenth of its half width


@dataclass(frozen=True, eq=False)
class BenchFit:
    """What is wrong with the car, as far as the readings tell.

    plan, readings : what was fitted to what
    errors, covariance : (p,) and (p, p) after the readings; the readings' errors are widened where they scatter more than stated
        [turns, rad or m]
    outliers : indices of the rows that were left out
    distance, equivalent : (n,) of each row from the car [standard deviations], and what that would be of one spare reading [-]
    hand : (n,) its hand angle [rad]
    spare : readings in excess of what they tell of the car [-]
    chi_square, freedom : sum of the squared misses and of the squared errors over their spreads; what it is about on average [-]
    chance : of at least such a chi_square if readings and cars scatter as stated; nan without spare readings
    widened : factor on the readings' errors [-]
    """

    plan: Built
    readings: Readings
    errors: np.ndarray
    covariance: np.ndarray
    outliers: tuple[int, ...]
    distance: np.ndarray
    equivalent: np.ndarray
    hand: np.ndarray
    spare: float
    chi_square: float
    freedom: int
    chance: float
    widened: float

    @property
    def sure(self) -> np.ndarray:
        """(p,) standard error of each error [turns, rad or m]."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def kept(self) -> np.ndarray:
        """(n,) which rows count [-]."""
        return ~np.isin(np.arange(len(self.readings)), self.outliers)


def covariance_of(slopes: np.ndarray, spreads: np.ndarray) -> np.ndarray:
    """Covariance of errors after readings.

    slopes : (m, p) of misses in standard deviations [per unit]
    spreads : (p,) before the readings, 0 for what does not exist [units]
    Returns (p, p) [units squared].  Source: linear theory of normal errors with normal priors, (J'J + S^-2)^-1, scaled by the spreads.
    """
    scaled = slopes * spreads
    inner = np.linalg.inv(scaled.T @ scaled + np.eye(len(spreads)))
    return inner * np.outer(spreads, spreads)


def fit_readings(plan: Built, readings: Readings) -> BenchFit:
    """Fit a car's errors to bench readings; far readings are flagged and left out.

    plan : Built
    readings : Readings, checked against the plan
    Returns BenchFit.  Raises InputError where a car could not even be put together as planned.
    """
    try:
        bench, errors = _settled(plan, readings, 1.0)
        fit = _described(bench, readings, errors, 1.0)
        if fit.chance < UNLIKELY and fit.spare >= FEWEST_SPARE:
            widened = float(np.sqrt(fit.chi_square / fit.freedom))
            bench = Misfit(plan, readings, fit.kept, widened)
            errors = bench.solve(errors, robust=False)
            slopes = _slopes(bench, errors)
            fit = replace(fit, errors=errors, covariance=covariance_of(slopes, plan.spreads), widened=widened)
    except UnbuildableError as fault:
        raise InputError(readings.source, "", f"no such car can be put together: {fault.problem}", "check the scenario's lengths") from None
    return fit


def _slopes(bench: Misfit, errors: np.ndarray) -> np.ndarray:
    """Slopes of the readings that count, (m, p)."""
    return bench.slopes(errors)[bench.kept].reshape(-1, len(errors))


def _settled(plan: Built, readings: Readings, widened: float) -> tuple[Misfit, np.ndarray]:
    """Which rows count, and the errors fitted to them: robustly first, then without the rows that lie too far out."""
    bench = Misfit(plan, readings, None, widened)
    start = np.zeros(len(plan.spreads))
    if bench.spare.sum() < FEWEST_SPARE:
        return bench, bench.solve(start, robust=False)
    errors = bench.solve(start, robust=True)
    for _ in range(ROUNDS):
        kept = _near(bench, errors)
        if not np.array_equal(kept, bench.kept):
            bench = Misfit(plan, readings, kept, widened)
        errors = bench.solve(errors, robust=False)
        if np.array_equal(_near(bench, errors), kept):
            break
    return bench, errors


def _equivalents(distance: np.ndarray, pull: np.ndarray, spare: np.ndarray) -> np.ndarray:
    """Distances as they would be of one spare reading each; each is judged by what it leaves of its own pull."""
    from scipy.special import gammaincc, ndtri

    freedom = np.maximum(spare, 1)
    far = distance / np.sqrt(np.clip(1 - pull / freedom, 0.1, 1.0))
    chance = gammaincc(freedom / 2, far**2 / 2)
    return np.where(freedom == 1, far, -ndtri(np.clip(chance, 1e-300, 1.0) / 2))


def _pull(bench: Misfit, errors: np.ndarray, slopes: np.ndarray) -> np.ndarray:
    """(n,) how much of its spare readings each row that counts decides itself."""
    pull = np.zeros(len(bench.kept))
    covariance = covariance_of(slopes[bench.kept].reshape(-1, len(errors)), bench.plan.spreads)
    pull[bench.kept] = np.einsum("nki,ij,nkj->n", slopes[bench.kept], covariance, slopes[bench.kept])
    return pull


def _near(bench: Misfit, errors: np.ndarray) -> np.ndarray:
    """Which rows lie no further out than the scatter explains."""
    misses = bench.misses(errors)
    far = _equivalents(misses.distance, _pull(bench, errors, bench.slopes(errors)), bench.spare)
    judged = bench.spare > 0
    scatter = max(1.0, NORMAL_MAD * float(np.median(far[bench.kept & judged]))) if (bench.kept & judged).any() else 1.0
    near = ~judged | (far <= OUTLIER * scatter)
    return near if (~near).mean() <= MOST_FLAGGED else np.ones_like(near)


def _described(bench: Misfit, readings: Readings, errors: np.ndarray, widened: float) -> BenchFit:
    from scipy.special import gammaincc

    plan, kept = bench.plan, bench.kept
    misses = bench.misses(errors)
    slopes = bench.slopes(errors)
    covariance = covariance_of(slopes[kept].reshape(-1, len(errors)), plan.spreads)
    free = bench.free
    told = float((1 - np.diag(covariance)[free] / plan.spreads[free] ** 2).sum())
    freedom = int(bench.spare[kept].sum())
    chi_square = float((misses.distance[kept] ** 2).sum() + ((errors[free] / plan.spreads[free]) ** 2).sum())
    chance = float(gammaincc(freedom / 2, chi_square / 2)) if freedom > 0 else float("nan")
    return BenchFit(
        plan=plan, readings=readings, errors=errors, covariance=covariance, outliers=tuple(int(i) for i in np.flatnonzero(~kept)),
        distance=misses.distance, equivalent=_equivalents(misses.distance, _pull(bench, errors, slopes), bench.spare), hand=misses.hand,
        spare=max(freedom - told, 0.0), chi_square=chi_square, freedom=freedom, chance=chance, widened=widened,
    )  # fmt: skip


def repeated_fits(fit: BenchFit, replicates: int = REPLICATES) -> np.ndarray:
    """The fit repeated with readings, and cars expected, that differ from those at hand by their errors: curvature included.

    fit : BenchFit
    replicates : how often
    Returns (replicates, p) errors [turns, rad or m].  Source: parametric bootstrap of a fit with priors, in which their middles are drawn
    like the readings; with straight lines the errors then scatter by exactly the stated covariance.  Seeded.
    """
    random = np.random.default_rng(20)
    plan = fit.plan
    value, error = hands_as_set(plan, fit.readings)
    readings = replace(fit.readings, value=value, error=error)
    found = np.empty((replicates, len(fit.errors)))
    for index in range(replicates):
        noise = fit.widened * readings.error * random.normal(size=readings.value.shape)
        made = replace(readings, value=readings.value + np.where(readings.read, noise, 0.0))
        expected = plan.spreads * random.normal(size=len(fit.errors))
        found[index] = Misfit(plan, made, fit.kept, fit.widened).solve(fit.errors, robust=False, expected=expected)
    return found


def read_kinds(readings: Readings) -> list[int]:
    """Places in KINDS of what was read at all.  readings : Readings.  Returns them [-]."""
    return [place for place in range(len(KINDS)) if readings.read[:, place].any()]
