"""How far bench readings lie from a car: each setting of the hand wheel against the nearest point of what the car would show.

Where the hand wheel truly stood is never known exactly and often not at all, so it is an unknown of each row of its own; the nearest
point, every reading weighed by its error, eliminates it.
"""

from dataclasses import dataclass
from math import inf

import numpy as np

from sim.bench.as_built import ARM_RIGHT, ERRORS, Built
from sim.bench.kinds import BY_EYE, DIAL, KINDS, USUAL_ANGLE_ERROR, Shown, shown_by
from sim.bench.readings import Readings
from sim.linkages.parts import UnbuildableError
from sim.steering.arrangement import Steering

DIFFERENCE = 1e-5  # step of central differences, as a share of the spread: errs by its square, rounding leaves ten digits
HAND_STEP = 1e-6  # of the hand angle's central difference [rad]
GRID = 240  # hand angles among which the nearest point of the curve is first sought
PROJECTIONS = 30  # steps that then refine it; two or three suffice for readings near the curve
SETTLED = 1e-11  # change of the hand angle at which they end [rad]
FOLLOWED = 0.2  # longest of these steps [rad]
# Where the solver ends, relative to values, misfit and slope: a robust fit only finds the far readings and a place to start.
FINE = {"xtol": 1e-10, "ftol": 1e-12, "gtol": 1e-9}
ROUGH = {"xtol": 1e-4, "ftol": 1e-5, "gtol": 1e-5}
UNREACHED = 1e3  # misfit of a car that cannot be put together [standard deviations]


@dataclass(frozen=True, eq=False)
class Misses:
    """How far readings lie from a car, in standard deviations of their errors."""

    hand: np.ndarray  # (n,) hand angles of the nearest points [rad]
    miss: np.ndarray  # (n, kinds) car less reading; 0 where none was read [-]
    along: np.ndarray  # (n, kinds) of length one: the direction in which a row's hand angle moves it; 0 where it moves nothing [-]

    @property
    def distance(self) -> np.ndarray:
        """(n,) of each row from the car [-]."""
        return np.sqrt((self.miss**2).sum(axis=1))


class Misfit:
    """Readings beside a plan: misfits and slopes for any errors.

    plan : Built
    readings : Readings
    kept : (n,) which rows count; all unless given
    widened : factor on every reading's error [-]
    """

    def __init__(self, plan: Built, readings: Readings, kept: np.ndarray | None = None, widened: float = 1.0):
        self.plan = plan
        self.kept = np.ones(len(readings), dtype=bool) if kept is None else kept
        value, error = hands_as_set(plan, readings)
        read = np.isfinite(value)
        self.read = np.where(read, value, 0.0)
        self.weight = np.where(read, 1 / (widened * error), 0.0)
        self.turns = np.array([kind.turns for kind in KINDS])
        self.count = read.sum(axis=1)  # readings in each row, a mark or an eye for the hand angle counted
        # A hand angle that nobody read takes one of them up.
        self.spare = self.count - (self.turns & read).any(axis=1)
        # Errors that this linkage has and that these readings could feel.
        self.free = np.flatnonzero(plan.spreads > 0)
        self._hand: np.ndarray | None = None  # where the last search for nearest points ended: only a first guess
        # What was found for the errors that were asked for last: slopes are mostly asked for where misses have just been.
        self._last_misses: tuple[bytes, Misses] | None = None
        self._last_slopes: tuple[bytes, np.ndarray] | None = None

    def shown_by(self, steering: Steering, errors: np.ndarray, hand: np.ndarray) -> np.ndarray:
        """What a car would give of every kind of reading.

        steering, errors : the car as built, and the errors that it was built with [turns, rad or m]
        hand : (m,) true hand angles [rad]
        Returns (m, kinds) [rad, m, turns or -].
        """
        return shown_by(Shown(self.plan, self.plan.whole(errors), steering.front_wheels(hand).steer, hand))

    def misses(self, errors: np.ndarray) -> Misses:
        """The nearest point of the car to each row.

        errors : (p,) [turns, rad or m]
        Returns Misses.  Raises UnbuildableError.  Source: Gauss-Newton steps in each row's own hand angle; derived here.
        """
        if self._last_misses is not None and self._last_misses[0] == errors.tobytes():
            return self._last_misses[1]
        steering = self.plan.built(errors)
        low, high = self.plan.hand_range
        least, most = low + HAND_STEP, high - HAND_STEP
        hand = self._first_hand(steering, errors) if self._hand is None else self._hand
        count = len(hand)
        for _ in range(PROJECTIONS):
            shown = self.shown_by(steering, errors, np.concatenate([hand, hand + HAND_STEP, hand - HAND_STEP]))
            miss = self.weight * (shown[:count] - self.read)
            slope = self.weight * (shown[count : 2 * count] - shown[2 * count :]) / (2 * HAND_STEP) * self.turns
            size = (slope**2).sum(axis=1)
            step = np.clip(-(miss * slope).sum(axis=1) / np.where(size > 0, size, inf), -FOLLOWED, FOLLOWED)
            moved = np.clip(hand + step, least, most)
            change = float(np.abs(moved - hand).max())
            hand = moved
            if change < SETTLED:
                break
        self._hand = hand
        free = (hand > least) & (hand < most) & (size > 0)
        along = np.where(free[:, None], slope / np.sqrt(np.where(size > 0, size, 1.0))[:, None], 0.0)
        found = Misses(hand, miss, along)
        self._last_misses = errors.tobytes(), found
        return found

    def _first_hand(self, steering: Steering, errors: np.ndarray) -> np.ndarray:
        low, high = self.plan.hand_range
        grid = np.linspace(low + HAND_STEP, high - HAND_STEP, GRID)
        shown = self.shown_by(steering, errors, grid)
        apart = [(((shown - row) * weight) ** 2).sum(axis=1) for row, weight in zip(self.read, self.weight, strict=True)]
        return grid[np.argmin(apart, axis=1)]

    def slopes(self, errors: np.ndarray) -> np.ndarray:
        """How the misses move with each error, the hand angles following.

        errors : (p,) [turns, rad or m]
        Returns (n, kinds, p) [per turn, rad or m]; 0 for errors that this linkage does not have.
        Source: variable projection: what a hand angle can take up is taken off.
        """
        errors = self.plan.whole(errors)
        if self._last_slopes is not None and self._last_slopes[0] == errors.tobytes():
            return self._last_slopes[1]
        misses = self.misses(errors)
        slopes = np.zeros((*misses.miss.shape, len(errors)))
        steering = self.plan.built(errors)
        for index in self.free:
            step = np.zeros(len(errors))
            step[index] = DIFFERENCE * self.plan.spreads[index]
            moves = index <= ARM_RIGHT or index >= ERRORS  # what is measured with moves no wheel
            up, down = (self.shown_by(self.plan.built(e) if moves else steering, e, misses.hand) for e in (errors + step, errors - step))
            slopes[:, :, index] = self.weight * (up - down) / (2 * step[index])
        along = misses.along[:, :, None]
        slopes = slopes - along * (along * slopes).sum(axis=1, keepdims=True)
        self._last_slopes = errors.tobytes(), slopes
        return slopes

    def solve(self, start: np.ndarray, robust: bool, expected: np.ndarray | None = None) -> np.ndarray:
        """The likeliest errors: least squares of misses and of the errors over their spreads.

        start : (p,) where to begin [turns, rad or m]
        robust : whether far readings pull with a bounded force
        expected : (p,) what is expected before anything is read, nothing unless given [turns, rad or m]
        Returns (p,) [turns, rad or m].  Source: Bayes' rule for normal errors with normal priors; solver of SciPy.
        """
        from scipy.optimize import least_squares

        spread = self.plan.spreads[self.free]
        middle = np.zeros(len(spread)) if expected is None else expected[self.free] / spread

        def whole(values: np.ndarray) -> np.ndarray:
            errors = np.zeros(len(self.plan.spreads))
            errors[self.free] = values * spread
            return errors

        def miss(values: np.ndarray) -> np.ndarray:
            try:
                return np.concatenate([self.misses(whole(values)).miss[self.kept].ravel(), values - middle])
            except UnbuildableError:
                return np.full(self.kept.sum() * len(KINDS) + len(values), UNREACHED)

        def slope(values: np.ndarray) -> np.ndarray:
            slopes = self.slopes(whole(values))[self.kept][:, :, self.free] * spread
            return np.concatenate([slopes.reshape(-1, len(spread)), np.eye(len(spread))])

        self._hand = None
        first = start[self.free] / spread
        return whole(least_squares(miss, first, slope, loss="soft_l1" if robust else "linear", **(ROUGH if robust else FINE)).x)


def hands_as_set(plan: Built, readings: Readings) -> tuple[np.ndarray, np.ndarray]:
    """Readings with the hand wheel's mark where it was set to that: a dial that shows 0.

    plan : Built
    readings : Readings
    Returns (value, error), (n, kinds) each, nan where there is no reading [rad, m, turns or -].
    """
    value, error = readings.value.copy(), readings.error.copy()
    marked = np.array([kind.at_mark for kind in KINDS])
    dial = np.isfinite(value[:, DIAL]) & plan.hand_tells
    at_mark = np.isfinite(value[:, marked]).any(axis=1) & ~dial
    value[~dial, DIAL] = np.nan
    value[at_mark, DIAL] = 0.0
    error[at_mark, DIAL] = USUAL_ANGLE_ERROR if plan.hand_tells else BY_EYE
    return value, error
