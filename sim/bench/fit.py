"""What is wrong with a front end as it was built: rods, arms and protractors fitted to pairs of measured wheel angles.

Errors that the readings cannot tell are left as planned, and it is said what they could do to the rest.
"""

from dataclasses import dataclass, field, replace
from math import radians

import numpy as np

from sim.bench.as_built import (
    ERRORS,
    KINDS,
    ROD_RIGHT,
    USUAL,
    ZERO_HAND,
    Built,
    Combination,
    basis_of,
    kinds_of,
    largest_sizes,
    usual_sizes,
)  # fmt: skip
from sim.bench.misfit import Misfit
from sim.bench.readings import Readings
from sim.errors import InputError
from sim.linkages.parts import UnbuildableError

# Standard errors that serve a builder: a rod to half a turn at 95 %, an arm to a degree.  Telling one error more may not
# spoil one already told beyond this, unless it grows by less than GROWTH.  Judgement. [turns or rad]
USEFUL = {"rod": 0.25, "arm": radians(0.5), "zero": radians(0.25), "hand zero": radians(0.5)}
GROWTH = 2.0
BOUND_SHARE = 1e-3  # of a bound's size: nearer than this counts as hit
OUTLIER = 3.5  # times the scatter: one good reading in two thousand lies so far out
ROUNDS = 4  # of flagging and refitting
FEWEST_SPARE = 4  # spare readings below which none can be called an outlier
MOST_FLAGGED = 0.25  # share of the pairs; with more it is not the odd slip
NORMAL_MAD = 1.4826  # standard deviation over median absolute deviation of a normal scatter
UNLIKELY = 0.01  # chance below which scatter is called too large (or too small) for the stated error
NORMAL_95 = 1.959964  # standard errors to either side of a 95 % interval
# A direction of the errors that the readings pin worse than half its usual size is one that they cannot see. [-]
UNSEEN = 2.0
TOGETHER = 0.15  # share that two errors must have in a direction that is not seen to be joined by it [-]
REPLICATES = 200  # of the bootstrap: the ends of a 95 % interval then scatter by about a tenth of its half width
# These look much like rods apart, so none is blamed while rods apart may be at work.
LIKE_RODS_APART = (Combination.ARMS_APART, Combination.BOTH_ZEROS)


def told(slopes: np.ndarray, combinations: dict[str, np.ndarray]) -> list[str]:
    """Which combinations of errors the readings can tell: each is tried in turn and must not spoil those before.

    slopes : (m, ERRORS) of the misses that count [per turn or rad]
    combinations : of `Built.combinations`
    Returns their names.  Source: derived here, from the linear theory of errors; the limits are USUAL, USEFUL and GROWTH.
    """
    names: list[str] = []
    before = np.zeros(0)
    for name in combinations:
        if name in LIKE_RODS_APART and Combination.RODS_APART in combinations and Combination.RODS_APART not in names:
            continue
        trial = [*names, name]
        basis = basis_of(combinations, trial)
        kinds = kinds_of(basis)
        covariance = covariance_of(slopes @ basis, usual_sizes(basis))
        if covariance is None:
            continue
        error = np.sqrt(np.diag(covariance))
        limits = [max(USEFUL[kind], GROWTH * old) for kind, old in zip(kinds[:-1], before, strict=True)]
        if 2 * error[-1] <= USUAL[kinds[-1]] and np.all(error[:-1] <= limits):
            names, before = trial, error
    return names


def covariance_of(slopes: np.ndarray, scale: np.ndarray) -> np.ndarray | None:
    """Covariance of fitted values.

    slopes : (m, p) of misses in standard deviations [per unit]
    scale : (p,) usual sizes [units]
    Returns (p, p) [units squared], None where the misses do not decide.  Source: linear least squares, (J'J)^-1 by singular values.
    """
    _, sizes, rows = np.linalg.svd(slopes * scale, full_matrices=False)
    if len(slopes) < slopes.shape[1] or (len(sizes) and sizes[-1] <= 1e-9 * max(sizes[0], 1.0)):
        return None
    return (rows.T / sizes**2) @ rows * np.outer(scale, scale)


@dataclass(frozen=True, eq=False)
class BenchFit:
    """What is wrong with the car, as far as the readings tell.

    plan, readings : what was fitted to what
    names : of the combinations that the readings tell
    values, covariance : of these, (p,) and (p, p); the covariance is widened where the readings scatter more than stated
        [turns and rad]
    at_bound : (p,) whether a value ended at its bound
    untold : names of the combinations that the readings do not tell; they are taken as planned
    unseen : (p,) what errors of the usual size that the readings do not tell would do to each value, root of squares summed
    confused : groups of errors (indices) that the readings cannot tell apart, and one by one those that they do not tell at all
    errors : (ERRORS,) the car as fitted [turns and rad]
    outliers : indices of the pairs that were left out
    distance : (n,) of each pair from the car [standard deviations]
    hand : (n,) its hand angle [rad]
    spare : readings in excess of what was fitted
    chi_square : sum of the squared misses of the pairs that count [-]
    chance : of at least such a chi_square if the readings scatter as stated; nan without spare readings
    """

    plan: Built
    readings: Readings
    names: list[str]
    values: np.ndarray
    covariance: np.ndarray
    at_bound: np.ndarray
    untold: list[str]
    unseen: np.ndarray
    confused: list[list[int]]
    errors: np.ndarray
    outliers: list[int]
    distance: np.ndarray
    hand: np.ndarray
    spare: int
    chi_square: float
    chance: float
    basis: np.ndarray = field(repr=False)
    unseen_effect: np.ndarray = field(repr=False)  # (p, u) of each error of usual size that is not told [units]

    @property
    def scatter(self) -> float:
        """Scatter of the readings over their stated error; nan without spare readings [-]."""
        return float(np.sqrt(self.chi_square / self.spare)) if self.spare > 0 else float("nan")

    @property
    def natural_covariance(self) -> np.ndarray:
        """(ERRORS, ERRORS) of `errors` [turns and rad, squared]."""
        return self.basis @ self.covariance @ self.basis.T


def fit_readings(plan: Built, readings: Readings) -> BenchFit:
    """Fit what can be told of a car's errors to bench readings; far readings are flagged and left out.

    plan : Built
    readings : Readings, checked against the plan
    Returns BenchFit.  Raises InputError where nothing can be fitted.
    Source: weighted orthogonal distance regression with the hand angles as incidental parameters; derived here.
    """
    try:
        return _fitted(plan, readings)
    except UnbuildableError as fault:
        problem = f"the nearest car that these readings show can't be put together: {fault.problem}"
        raise InputError(readings.source, "", problem, "check the readings, and that they are of this set-up") from None


def _fitted(plan: Built, readings: Readings) -> BenchFit:
    combinations = plan.combinations(hand_read=bool(np.isfinite(readings.hand).any()))
    names = told(_counted(Misfit(plan, readings), np.zeros(ERRORS)), combinations)
    kept, values = _settled(plan, readings, basis_of(combinations, names))
    bench = Misfit(plan, readings, kept)
    again = told(_counted(bench, basis_of(combinations, names) @ values), combinations)
    if again != names:  # the fitted car, or the pairs left out, tell another set of errors
        names = again
        kept, values = _settled(plan, readings, basis_of(combinations, names))
        bench = Misfit(plan, readings, kept)
    return _described(bench, readings, combinations, names, values)


def _counted(bench: Misfit, errors: np.ndarray) -> np.ndarray:
    """Slopes of the pairs that count, (m, ERRORS)."""
    return bench.slopes(errors, bench.misses(errors), np.eye(ERRORS))[bench.kept].reshape(-1, ERRORS)


def _spare(bench: Misfit, fitted: int) -> int:
    """Readings that count, less a hand angle for each pair and the values fitted."""
    return int((bench.weight[bench.kept] > 0).sum() - bench.kept.sum()) - fitted


def _settled(plan: Built, readings: Readings, basis: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Which pairs count, and the values fitted to them: robustly first, then without the pairs that lie too far out."""
    bench = Misfit(plan, readings)
    start = np.zeros(basis.shape[1])
    if _spare(bench, basis.shape[1]) < FEWEST_SPARE:
        return bench.kept, bench.solve(basis, start, robust=False)
    values = bench.solve(basis, start, robust=True)
    for _ in range(ROUNDS):
        kept = _near(bench, basis, values)
        bench = Misfit(plan, readings, kept)
        values = bench.solve(basis, values, robust=False)
        if np.array_equal(_near(bench, basis, values), kept):
            break
    return bench.kept, values


def _near(bench: Misfit, basis: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Which pairs lie no further out than the scatter explains; each is judged by what it leaves of its own pull."""
    misses = bench.misses(basis @ values)
    slopes = bench.slopes(basis @ values, misses, basis)
    frame = np.linalg.qr(slopes[bench.kept].reshape(-1, basis.shape[1]))[0] if basis.shape[1] else np.zeros((0, 0))
    pull = np.zeros(len(bench.kept))
    if basis.shape[1]:
        pull[bench.kept] = (frame.reshape(-1, 3, basis.shape[1]) ** 2).sum(axis=(1, 2))
    distance = misses.distance / np.sqrt(np.clip(1 - pull, 0.1, 1.0))
    scatter = max(1.0, NORMAL_MAD * float(np.median(distance[bench.kept])))
    near = distance <= OUTLIER * scatter
    return near if (~near).mean() <= MOST_FLAGGED else np.ones_like(near)


def _described(
    bench: Misfit, readings: Readings, combinations: dict[str, np.ndarray], names: list[str], values: np.ndarray
) -> BenchFit:  # fmt: skip
    from scipy.special import gammaincc

    basis = basis_of(combinations, names)
    errors = basis @ values
    misses = bench.misses(errors)
    slopes = bench.slopes(errors, misses, np.eye(ERRORS))[bench.kept].reshape(-1, ERRORS)
    covariance = covariance_of(slopes @ basis, usual_sizes(basis))
    assert covariance is not None  # `told` has seen to that
    chi_square = float((misses.distance[bench.kept] ** 2).sum())
    spare = _spare(bench, len(names))
    chance = float(gammaincc(spare / 2, chi_square / 2)) if spare > 0 else float("nan")
    rest = basis_of(combinations, [name for name in combinations if name not in names])
    effect = covariance @ (slopes @ basis).T @ (slopes @ rest) * usual_sizes(rest)
    widening = chi_square / spare if spare > 0 and chance < UNLIKELY else 1.0
    return BenchFit(
        plan=bench.plan, readings=readings, names=names, values=values, covariance=covariance * widening,
        at_bound=np.abs(values) > (1 - BOUND_SHARE) * largest_sizes(basis), untold=[name for name in combinations if name not in names],
        unseen=np.sqrt((effect**2).sum(axis=1)), confused=_confused(slopes, bench.plan, bench.hand_read, basis), errors=errors,
        outliers=[int(index) for index in np.flatnonzero(~bench.kept)], distance=misses.distance, hand=misses.hand, spare=spare,
        chi_square=chi_square, chance=chance, basis=basis, unseen_effect=effect,
    )  # fmt: skip


def _confused(slopes: np.ndarray, plan: Built, hand_read: bool, basis: np.ndarray) -> list[list[int]]:
    """Groups of errors that the readings cannot tell apart: those that share a direction which moves no reading enough; and one by
    one the errors that have no part in what is told nor in a group.

    Source: singular values of the slopes, scaled by the usual size of each error and by the reading errors.
    """
    absent = ({ROD_RIGHT} if plan.one_rod else set()) | (set() if hand_read else {ZERO_HAND})
    present = [index for index in range(ERRORS) if index not in absent]
    scaled = slopes[:, present] * np.array([USUAL[KINDS[index]] for index in present])
    # Rows of zeros below, so that there are as many directions as errors even where there are fewer readings.
    _, sizes, rows = np.linalg.svd(np.concatenate([scaled, np.zeros((len(present), len(present)))]), full_matrices=False)
    weak = rows[sizes < UNSEEN]
    # Errors belong together where they move together in what is not seen.
    together = weak.T @ weak
    groups: list[set[int]] = []
    for one in range(len(present)):
        joined = {other for other in range(len(present)) if abs(together[one, other]) > TOGETHER}
        if one not in joined:
            continue
        for group in [group for group in groups if group & joined]:
            groups.remove(group)
            joined |= group
        groups.append(joined)
    shared = [sorted(present[index] for index in group) for group in groups if len(group) > 1]
    return shared + [[index] for index in present if not basis[index].any() and not any(index in group for group in shared)]


def repeated_fits(fit: BenchFit, replicates: int = REPLICATES) -> np.ndarray:
    """The fit repeated with readings made from the fitted car: how far the values scatter, curvature and bounds included.

    fit : BenchFit
    replicates : how often
    Returns (replicates, p) values [turns and rad].  Source: parametric bootstrap with the stated errors (widened where the
    readings scatter more); seeded, so the same readings give the same answer.
    """
    random = np.random.default_rng(20)
    readings, plan = fit.readings, fit.plan
    kept = np.ones(len(readings), dtype=bool)
    kept[fit.outliers] = False
    widening = fit.scatter if fit.spare > 0 and fit.chance < UNLIKELY else 1.0
    shown = Misfit(plan, readings).shown_by(plan.built(fit.errors), fit.errors, fit.hand)
    values = np.empty((replicates, len(fit.names)))
    for index in range(replicates):
        noise = random.normal(size=shown.shape) * (readings.error * widening)[:, None]
        left, right, hand = (shown + noise).T
        made = replace(readings, left=left, right=right, hand=np.where(np.isfinite(readings.hand), hand, np.nan))
        values[index] = Misfit(plan, made, kept).solve(fit.basis, fit.values, robust=False)
    return values
