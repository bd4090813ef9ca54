"""How far bench readings lie from a car: each pair against the nearest point of the curve left -> right.

The hand angle of a pair is rarely known, so it is an unknown of its own; the nearest point, every reading weighed by its
error, eliminates it (with a hand angle read: the curve left, right, hand).
"""

from dataclasses import dataclass
from math import inf

import numpy as np

from sim.bench.as_built import ZERO_LEFT, Built, largest_sizes, usual_sizes
from sim.bench.readings import Readings
from sim.linkages.parts import UnbuildableError
from sim.steering.arrangement import Steering

DIFFERENCE = 1e-5  # step of central differences, as a share of USUAL: errs by its square, rounding leaves ten digits
HAND_STEP = 1e-6  # of the hand angle's central difference [rad]
GRID = 240  # hand angles among which the nearest point of the curve is first sought
PROJECTIONS = 30  # steps that then refine it; two or three suffice for readings near the curve
SETTLED = 1e-11  # change of the hand angle at which they end [rad]
FOLLOWED = 0.2  # longest of these steps [rad]
# Where the solver ends, relative to values, misfit and slope: a robust fit only finds the far readings and a place to start.
FINE = {"xtol": 1e-11, "ftol": 1e-13, "gtol": 1e-12}
ROUGH = {"xtol": 1e-4, "ftol": 1e-5, "gtol": 1e-5}
UNREACHED = 1e3  # misfit of a car that cannot be put together [standard deviations]


@dataclass(frozen=True, eq=False)
class Misses:
    """How far readings lie from a car, in standard deviations of their errors."""

    hand: np.ndarray  # (n,) hand angles of the nearest points [rad]
    miss: np.ndarray  # (n, 3) car less reading: left, right, hand; 0 where none was read [-]
    along: np.ndarray  # (n, 3) of length one: the direction in which a pair's hand angle moves it; 0 at a lock [-]

    @property
    def distance(self) -> np.ndarray:
        """(n,) of each pair from the car [-]."""
        return np.sqrt((self.miss**2).sum(axis=1))


class Misfit:
    """Readings beside a plan: misfits and slopes for any errors.

    plan : Built
    readings : Readings
    kept : (n,) which pairs count; all unless given
    """

    def __init__(self, plan: Built, readings: Readings, kept: np.ndarray | None = None):
        self.plan = plan
        self.kept = np.ones(len(readings), dtype=bool) if kept is None else kept
        hand = readings.hand if plan.hand_tells else np.full(len(readings), np.nan)
        self.read = np.stack([readings.left, readings.right, np.nan_to_num(hand)], axis=1)
        self.weight = np.stack([1 / readings.error, 1 / readings.error, np.where(np.isfinite(hand), 1 / readings.error, 0.0)], axis=1)
        self.hand_read = bool(np.isfinite(hand).any())
        self._hand: np.ndarray | None = None  # where the last search for nearest points ended: only a first guess

    def shown_by(self, steering: Steering, errors: np.ndarray, hand: np.ndarray) -> np.ndarray:
        """What the protractors of a car show.

        steering, errors : the car as built, and the errors that it was built with [turns and rad]
        hand : (m,) true hand angles [rad]
        Returns (m, 3): left, right, hand [rad].
        """
        return np.column_stack([steering.front_wheels(hand).steer, hand]) + errors[ZERO_LEFT:]

    def misses(self, errors: np.ndarray) -> Misses:
        """The nearest point of the car to each pair.

        errors : (ERRORS,) [turns and rad]
        Returns Misses.  Raises UnbuildableError.  Source: Gauss-Newton steps in each pair's own hand angle; derived here.
        """
        steering = self.plan.built(errors)
        low, high = self.plan.hand_range
        least, most = low + HAND_STEP, high - HAND_STEP
        hand = self._first_hand(steering, errors) if self._hand is None else self._hand
        count = len(hand)
        for _ in range(PROJECTIONS):
            shown = self.shown_by(steering, errors, np.concatenate([hand, hand + HAND_STEP, hand - HAND_STEP]))
            miss = self.weight * (shown[:count] - self.read)
            slope = self.weight * (shown[count : 2 * count] - shown[2 * count :]) / (2 * HAND_STEP)
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
        return Misses(hand, miss, along)

    def _first_hand(self, steering: Steering, errors: np.ndarray) -> np.ndarray:
        low, high = self.plan.hand_range
        grid = np.linspace(low + HAND_STEP, high - HAND_STEP, GRID)
        shown = self.shown_by(steering, errors, grid)
        apart = (self.weight[:, None] * (shown[None] - self.read[:, None])) ** 2
        return grid[np.argmin(apart.sum(axis=2), axis=1)]

    def slopes(self, errors: np.ndarray, misses: Misses, basis: np.ndarray) -> np.ndarray:
        """How the misses move with each combination of errors, the hand angles following.

        errors : (ERRORS,) [turns and rad]
        misses : at these errors
        basis : (ERRORS, p) the combinations [turns and rad for each unit]
        Returns (n, 3, p) [per turn or rad].  Source: variable projection: what a hand angle can take up is taken off.
        """
        slopes = np.zeros((*misses.miss.shape, basis.shape[1]))
        for index, (column, usual) in enumerate(zip(basis.T, usual_sizes(basis), strict=True)):
            if not column[:ZERO_LEFT].any():  # a zero moves its readings and nothing else
                slopes[:, :, index] = self.weight * column[ZERO_LEFT:]
                continue
            step = DIFFERENCE * usual
            up, down = (self.shown_by(self.plan.built(e), e, misses.hand) for e in (errors + step * column, errors - step * column))
            slopes[:, :, index] = self.weight * (up - down) / (2 * step)
        along = misses.along[:, :, None]
        return slopes - along * (along * slopes).sum(axis=1, keepdims=True)

    def solve(self, basis: np.ndarray, start: np.ndarray, robust: bool) -> np.ndarray:
        """Least squares in some combinations of errors.

        basis : (ERRORS, p) the combinations [turns and rad for each unit]
        start : (p,) where to begin [turns or rad]
        robust : whether far readings pull with a bounded force
        Returns the combinations' values (p,) [turns or rad], inside their bounds.
        """
        from scipy.optimize import least_squares

        if not basis.shape[1]:
            return start
        bounds = largest_sizes(basis)

        last: dict[bytes, Misses] = {}  # the solver asks for the slopes where it has just asked for the misses

        def misses(values: np.ndarray) -> Misses:
            if values.tobytes() not in last:
                found = self.misses(basis @ values)
                last.clear()
                last[values.tobytes()] = found
            return last[values.tobytes()]

        def miss(values: np.ndarray) -> np.ndarray:
            try:
                return misses(values).miss[self.kept].ravel()
            except UnbuildableError:
                return np.full(3 * int(self.kept.sum()), UNREACHED)

        def slope(values: np.ndarray) -> np.ndarray:
            return self.slopes(basis @ values, misses(values), basis)[self.kept].reshape(-1, basis.shape[1])

        start = np.clip(start, -0.9 * bounds, 0.9 * bounds)
        self._hand = None
        return least_squares(
            miss, start, slope, bounds=(-bounds, bounds), x_scale=usual_sizes(basis), loss="soft_l1" if robust else "linear",
            **(ROUGH if robust else FINE),
        ).x  # fmt: skip
