"""From fitted errors to what a builder does: which rod end, how many half turns, what toe and what drag result."""

from dataclasses import dataclass, replace
from itertools import product
from math import ceil, radians

import numpy as np

from sim.bench.as_built import ROD_LEFT, ROD_RIGHT, Built, Combination
from sim.bench.fit import BenchFit
from sim.bench.readings import difference_at
from sim.car.chassis import Car, axle_loads
from sim.errors import InputError
from sim.linkages.parts import Linkage
from sim.linkages.pivots import LEFT, RIGHT, SIGNS
from sim.linkages.rolling import equivalent_steer
from sim.steering.arrangement import HAND_LIMIT, Steering
from sim.steering.table import hand_where, steer_table
from sim.turn.rolling import rolling_turn

# A rod end whose eye must lie flat turns by halves.  Common practice, no source. [turns]
STEP = 0.5
MIDDLE = 0.5  # share of the planned lock within which a car runs straight ahead, however its rods are set [-]
ROUND_OFF = 1e-9  # [turns]
TOE_STEP = 1e-4  # of the toe's central differences, in turns or rad
# Half a turn of two rods leaves up to 0.1 degree of toe; with this standard error beside it the toe comes within about 0.2. [rad]
WANTED_TOE_ERROR = radians(0.075)
CURVE_SHARE, CURVE_POINTS = 0.8, 41  # of the planned lock, over which the wheels are compared with the plan
# Rods that end up this much longer than drawn deserve a look at what thread is left.  Judgement. [turns]
UNSCREWED = 2.0


@dataclass(frozen=True)
class Turns:
    """Turns of the rod ends on their right-hand threads; positive unscrews and lengthens the rod.

    left, right : of each rod; those of one that joins both wheels stand in `left`
    either : half a turn more or less on one of the two rods, whichever is handier
    """

    left: float
    right: float
    either: float

    def shared(self) -> tuple[float, float]:
        """Turns of (left, right) with the odd half shared, which gives the same toe [turns]."""
        return self.left + self.either / 2, self.right + self.either / 2


@dataclass(frozen=True)
class Outcome:
    """A car that runs straight ahead.

    toe_in : of each wheel [rad]
    hand : angle of the hand wheel [rad]
    drag : that toe adds to rolling [N]
    miss : the largest difference between the wheels, against the planned one at the same mean angle, toe included [rad]
    """

    toe_in: float
    hand: float
    drag: float
    miss: float


@dataclass(frozen=True)
class Advice:
    """What to turn and what comes of it.

    turns : Turns; all 0 where nothing gets better by half a turn
    planned, now, after : Outcome of the plan, of the car as fitted, of the car with the turns made
    toe_error : standard error of the toe-in, before and after alike [rad]
    toe_unseen : what errors of the usual size that the readings do not tell would do to it [rad]
    rolling : rolling resistance of the whole car [N]
    longer : rods of the car with the turns made, against the drawing, left and right (or the one) [turns]
    pairs_wanted : pairs of readings, spread like these, that would pin the toe to about 0.15 degrees; 0 where these do
    """

    turns: Turns
    planned: Outcome
    now: Outcome
    after: Outcome
    toe_error: float
    toe_unseen: float
    rolling: float
    longer: tuple[float, ...]
    pairs_wanted: int


def _middle(plan: Built, errors: np.ndarray) -> Steering:
    """The steering with errors in it, about straight ahead, where it works and its angles rise."""
    planned = plan.steering
    return replace(
        plan.built(errors), lock_left=MIDDLE * planned.lock_left, lock_right=MIDDLE * planned.lock_right,
        lock_left_cause=HAND_LIMIT, lock_right_cause=HAND_LIMIT,
    )  # fmt: skip


def running_straight(plan: Built, errors: np.ndarray) -> tuple[float, float]:
    """How a car with errors runs straight ahead.

    plan : Built
    errors : as in `sim.bench.fit` [turns and rad]
    Returns (hand angle, toe-in of each wheel) [rad]: where the two wheels ask for opposite curvatures, both toe in alike.
    Raises InputError where that takes more than half the lock.
    """
    steering, wheelbase = _middle(plan, errors), plan.car.wheelbase
    hand = hand_where(steering, lambda wheels: equivalent_steer(wheels.steer, steering.kingpin_y, wheelbase), np.zeros(1))
    if not np.isfinite(hand[0]):
        raise InputError(
            "readings", "", f'the car that they show would run straight only with "{plan.setup.name}" far off centre',
            "check the set-up's name, the signs and the scenario's lengths",
        )  # fmt: skip
    left, right = steering.front_wheels(hand).steer[0]
    return float(hand[0]), float(right - left) / 2


def rolling_resistance(car: Car) -> float:
    """Rolling resistance of a car on straight wheels.

    car : Car
    Returns the force [N].  Source: coefficient times load, by axle.
    """
    front, rear = axle_loads(car)
    return car.front_tyre.rolling_resistance * front + car.rear_tyre.rolling_resistance * rear


def outcome(plan: Built, errors: np.ndarray, car: Car) -> Outcome:
    """What a car with errors does straight ahead, and how far its wheels miss the plan in turns.

    plan : Built
    errors : as in `sim.bench.fit` [turns and rad]
    car : in SI units
    Returns Outcome.  Raises InputError as `running_straight`.
    """
    hand, toe_in = running_straight(plan, errors)
    drag = rolling_turn(car, steer_table(_middle(plan, errors), car.wheelbase), 0.0).scrub
    locks = CURVE_SHARE * plan.steering.lock_right, CURVE_SHARE * plan.steering.lock_left
    mean = plan.steering.front_wheels(np.linspace(*locks, CURVE_POINTS)).steer.mean(axis=1)
    built = replace(plan.built(errors), lock_right=plan.steering.lock_right, lock_left=plan.steering.lock_left)
    miss = difference_at(built, mean) - difference_at(plan.steering, mean)
    return Outcome(toe_in, hand, drag, float(np.nanmax(np.abs(miss))))


def advise(fit: BenchFit, car: Car) -> Advice | None:
    """What to turn so that the car gets its planned toe, and what that brings.

    fit : BenchFit
    car : in SI units
    Returns Advice, None where the readings tell nothing about the rods.  Raises InputError as `running_straight`.
    """
    plan = fit.plan
    rods = Combination.ROD if plan.one_rod else Combination.BOTH_RODS
    if rods not in fit.names:
        return None
    turns = _turns(fit)
    changed = fit.errors.copy()
    left, right = turns.shared()
    changed[ROD_LEFT] += left
    changed[ROD_RIGHT] += right
    gradient = _toe_gradient(fit)
    toe_error = float(np.sqrt(gradient @ fit.covariance @ gradient))
    counted = len(fit.readings) - len(fit.outliers)
    wanted = ceil(counted * (toe_error / WANTED_TOE_ERROR) ** 2)
    return Advice(
        turns=turns, planned=outcome(plan, np.zeros_like(changed), car),
        now=outcome(plan, fit.errors, car), after=outcome(plan, changed, car),
        toe_error=toe_error, toe_unseen=float(np.sqrt(((gradient @ fit.unseen_effect) ** 2).sum())),
        rolling=rolling_resistance(car), longer=_longer(plan, changed), pairs_wanted=wanted if wanted > counted else 0,
    )  # fmt: skip


def _turns(fit: BenchFit) -> Turns:
    """Half turns that bring the toe nearest to the plan, and then the hand wheel nearest to its middle."""
    if fit.plan.one_rod:
        return Turns(-STEP * round(fit.errors[ROD_LEFT] / STEP), 0.0, 0.0)
    wrong = fit.errors[[ROD_LEFT, ROD_RIGHT]]
    nearest = -STEP * np.round(wrong / STEP)
    choices = [nearest + STEP * np.array(shift) for shift in product((-1, 0, 1), repeat=2)]

    def left_over(choice: np.ndarray) -> tuple[float, float]:
        rest = wrong + choice
        return round(abs(rest.sum()) / ROUND_OFF), round(float(np.abs(rest).max()) / ROUND_OFF)

    best = min(map(left_over, choices))
    equal = [choice for choice in choices if left_over(choice) == best]
    if len(equal) == 1:
        return Turns(float(equal[0][LEFT]) + 0.0, float(equal[0][RIGHT]) + 0.0, 0.0)
    # Two equally good choices differ by half a turn on one rod or the other: that half is the builder's to place.
    together = np.min(np.abs(equal), axis=0) * np.sign(np.sum(equal, axis=0))
    either = float((equal[0] - together).sum())
    return Turns(float(together[LEFT]) + 0.0, float(together[RIGHT]) + 0.0, either)


def static_toe(fit: BenchFit) -> tuple[np.ndarray, np.ndarray] | None:
    """Toe-in of each wheel with the hand wheel in its middle.

    fit : BenchFit
    Returns (toe-in, standard error), (2,) each, left and right [rad]; None where the readings do not tell the rods one by one, or
    one rod joins the wheels, whose hand angle is the left wheel's own.
    """
    if Combination.RODS_APART not in fit.names:
        return None

    def toe(errors: np.ndarray) -> np.ndarray:
        return fit.plan.built(errors).front_wheels(np.zeros(1)).steer[0] * -np.array(SIGNS)

    slopes = np.array([(toe(fit.errors + step) - toe(fit.errors - step)) / (2 * TOE_STEP) for step in TOE_STEP * fit.basis.T]).T
    return toe(fit.errors), np.sqrt(np.diag(slopes @ fit.covariance @ slopes.T))


def _toe_gradient(fit: BenchFit) -> np.ndarray:
    """Toe-in per unit of each fitted value, (p,) [rad per turn or rad]."""
    steps = TOE_STEP * fit.basis.T
    return np.array([
        (running_straight(fit.plan, fit.errors + step)[1] - running_straight(fit.plan, fit.errors - step)[1]) / (2 * TOE_STEP)
        for step in steps
    ])  # fmt: skip


def _longer(plan: Built, errors: np.ndarray) -> tuple[float, ...]:
    """How much longer the rods are than drawn [turns]."""
    pitch = plan.front.ends.pitch

    def lengths(mechanism: Linkage) -> np.ndarray:
        return np.array([rod.length for rod in mechanism.rods])

    return tuple(float(turns) for turns in (lengths(plan.mechanism(errors)) - lengths(plan.steering.mechanism)) / pitch)
