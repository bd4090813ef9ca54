"""From fitted errors to what a builder does: which rod end, how many half turns, what comes of it, and which part is to blame."""

from dataclasses import dataclass, replace
from itertools import product
from math import radians

import numpy as np

from sim.bench.as_built import HAND_ZERO, KNOWN, ROD, ROD_LEFT, ROD_RIGHT, WORTH, ZERO_HAND, Built, parts_of
from sim.bench.fit import NORMAL_95, BenchFit
from sim.bench.readings import difference_at
from sim.car.chassis import Car, axle_loads
from sim.errors import InputError
from sim.linkages.parts import UnbuildableError
from sim.linkages.pivots import LEFT, RIGHT
from sim.linkages.rolling import equivalent_steer
from sim.steering.arrangement import HAND_LIMIT, Steering
from sim.steering.table import hand_where, steer_table
from sim.turn.rolling import rolling_turn

# A rod end whose eye must lie flat turns by halves.  Common practice, no source. [turns]
STEP = 0.5
MIDDLE = 0.5  # share of the planned lock within which a car runs straight ahead, however its rods are set [-]
ROUND_OFF = 1e-9  # [turns]
GRADIENT_STEP = 1e-3  # of central differences, as a share of the spread: errs by its square
# Total toe whose 95 % interval is this wide to both sides is told well enough to turn a rod by it.  Judgement. [rad]
TOE_TOLD = radians(0.25)
TOE_NEAR = radians(0.2)  # of total toe: nearer to the plan nobody need set it.  Judgement. [rad]
# How far apart the needs of the two rods may be unsure and each still be turned by its own. [turns]
APART_TOLD = 0.7
SURE = 0.95  # probability above which a part is blamed [-]
LIKELY = 0.8  # above which the hand wheel's mark is moved, which takes a minute and breaks nothing.  Judgement. [-]
CURE_STEPS = 12  # of Newton's method, each of which squares the miss: three or four suffice unless a rod hardly reaches
CURE_BASE = 0.01  # turns; base of its slope
CURE_SETTLED = 1e-10  # miss at which it ends [rad]
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

    @property
    def total(self) -> float:
        """Of all rod ends, whichever way [turns]."""
        return abs(self.left) + abs(self.right) + abs(self.either)

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
class Blame:
    """How far a part is off, and how sure that is.

    part : its name; place : in a vector of errors [-]
    off, sure : with its standard error, longer or more kink positive [turns or rad]
    probability : that it is off, to that side, by more than is worth mending [-]
    known : whether it is known well enough to be blamed at all
    serves : whether the car runs as planned with it all the same: it takes up what something else is off, as turns of the bench's own do
    """

    part: str
    place: int
    off: float
    sure: float
    probability: float
    known: bool
    serves: bool = False

    @property
    def told(self) -> bool:
        """Whether the readings tell that it is off, and something is the worse for it."""
        return self.known and self.probability > SURE and not self.serves


@dataclass(frozen=True, eq=False)
class Advice:
    """What to turn and what comes of it.

    mark : by how much the hand wheel's mark moves first, to the left positive; 0 unless the readings tell that it is off [rad]
    turns : Turns that are left after it; all 0 where nothing gets better by half a turn
    needed, needed_covariance : turns of each rod that then make the car run straight with the hand wheel at its mark and its planned toe,
        (r,) and (r, r) [turns]
    apart_told : whether the readings tell what each rod needs by itself
    near : probability that every rod is then within half a turn of what it needs [-]
    planned, now, after : Outcome of the plan, of the car as fitted, of the car with the turns made
    toe_error : standard error of each wheel's toe-in, before and after alike [rad]
    toe_told : whether the readings pin the toe, or at least show that it is not the planned one
    rolling : rolling resistance of the whole car [N]
    lengths, length_errors : of each rod from eye to eye with the turns made, (r,) each [m]
    longer : of these against the drawing [turns]
    parts : how far each part is off
    changed : (p,) errors of the car with the mark moved and the turns made [turns, rad or m]
    slopes : of toe and turns needed, as `gradients` gives them for the car as fitted [rad or turns, per turn, rad or m]
    """

    mark: float
    turns: Turns
    needed: np.ndarray
    needed_covariance: np.ndarray
    apart_told: bool
    near: float
    planned: Outcome
    now: Outcome
    after: Outcome
    toe_error: float
    toe_told: bool
    rolling: float
    lengths: np.ndarray
    length_errors: np.ndarray
    longer: np.ndarray
    parts: tuple[Blame, ...]
    changed: np.ndarray
    slopes: tuple[np.ndarray, np.ndarray]


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


def rods_needed(plan: Built, errors: np.ndarray) -> np.ndarray:
    """How many turns each rod is from what a car with errors needs to run straight, with the hand wheel at its mark and its planned toe.

    plan : Built
    errors : as in `sim.bench.as_built` [turns, rad or m]
    Returns (r,) turns, longer positive, of the left and the right rod or of the one, which has no mark to keep [turns].
    Raises InputError where no turns do it.  Source: Newton's method on the wheels' angles; derived here.
    """
    whole = plan.whole(errors)
    rods = [ROD_LEFT] if plan.one_rod else [ROD_LEFT, ROD_RIGHT]
    mark = np.array([-whole[ZERO_HAND]])
    planned = plan.steering.front_wheels(np.zeros(1)).steer[0]

    def miss(turns: np.ndarray) -> np.ndarray:
        made = whole.copy()
        made[rods] += turns
        if plan.one_rod:
            return np.array([running_straight(plan, made)[1] - plan.front.stance.toe_in])
        return plan.built(made).front_wheels(mark).steer[0] - planned

    turns = np.zeros(len(rods))
    try:
        for _ in range(CURE_STEPS):
            here = miss(turns)
            if np.abs(here).max() < CURE_SETTLED:
                return turns
            slope = miss(turns + CURE_BASE) - here  # each wheel follows its own rod
            if not slope.all():  # a rod that does not reach moves nothing
                break
            turns = turns - here * CURE_BASE / slope
    except (UnbuildableError, ValueError):
        pass
    problem = f'no turns of its rods make "{plan.setup.name}" run straight'
    raise InputError("readings", "", problem, "check the set-up's name and the signs")


def gradients(plan: Built, errors: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """How toe and the rods' needs move with each error.

    plan : Built
    errors : as in `sim.bench.as_built` [turns, rad or m]
    Returns (toe-in of each wheel (p,), turns needed (r, p)) [rad or turns, per turn, rad or m].  Raises InputError as `running_straight`.
    """
    count = len(plan.spreads)
    toe, needed = np.zeros(count), np.zeros((1 if plan.one_rod else 2, count))
    for index in np.flatnonzero(plan.spreads):
        step = np.zeros(count)
        step[index] = GRADIENT_STEP * plan.spreads[index]
        up, down = errors + step, errors - step
        toe[index] = (running_straight(plan, up)[1] - running_straight(plan, down)[1]) / (2 * step[index])
        needed[:, index] = (rods_needed(plan, up) - rods_needed(plan, down)) / (2 * step[index])
    return toe, needed


def within(size: float, covariance: np.ndarray, middle: np.ndarray | None = None) -> float:
    """Probability that normal errors are all smaller than a size.

    size : of each; covariance : (r, r), r of 1 or 2; middle : (r,) their means, 0 unless given [the same unit, or its square]
    Returns it [-].  Source: the normal distribution, as SciPy has it.
    """
    from scipy.stats import multivariate_normal

    middle = np.zeros(len(covariance)) if middle is None else middle
    ends = np.full(len(covariance), size)
    return float(multivariate_normal.cdf(ends, middle, covariance, allow_singular=True, lower_limit=-ends))


def blame(part: str, place: int, kind: str, off: float, sure: float) -> Blame:
    """How sure it is that a part is off.

    part, place, kind : its name, its place in a vector of errors [-], and its word of `sim.bench.as_built`
    off, sure : with its standard error [turns or rad]
    Returns Blame.  Source: the normal distribution; a part counts as off beyond WORTH.
    """
    from scipy.special import ndtr

    probability = float(ndtr((abs(off) - WORTH[kind]) / sure)) if sure > 0 else float(abs(off) > WORTH[kind])
    return Blame(part, place, off, sure, probability, sure <= KNOWN[kind])


def mark_to_move(fit: BenchFit, spread: np.ndarray) -> float:
    """By how much the hand wheel's mark is to be moved, to the left positive, before a rod is turned.

    fit : BenchFit; spread : (r, r) covariance of the turns needed [turns squared]
    Returns the angle by which the mark is off by more than is worth it, where the readings tell that, or where it is likely and the rods
    are then turned no more than without; else 0 [rad].  Rods that took it up would be unlike for ever, and nobody could tell a bent arm
    from them; a car that runs straight at its mark is left alone.
    """
    off, sure = float(fit.errors[ZERO_HAND]), float(fit.sure[ZERO_HAND])
    if fit.plan.one_rod or sure == 0:  # there is no mark
        return 0.0
    found = blame("hand wheel's mark", ZERO_HAND, HAND_ZERO, off, sure)
    if found.told:
        return off
    if not found.known or found.probability <= LIKELY:
        return 0.0
    stays, moves = (_turns(rods_needed(fit.plan, errors), spread).total for errors in (fit.errors, moved_mark(fit, off)))
    return off if moves <= stays else 0.0


def moved_mark(fit: BenchFit, by: float) -> np.ndarray:
    """The errors once the hand wheel's mark is moved.  fit : BenchFit; by : to the left [rad].  Returns (p,) [turns, rad or m]."""
    marked = fit.errors.copy()
    marked[ZERO_HAND] -= by
    return marked


def advise(fit: BenchFit, car: Car) -> Advice:
    """What to turn so that the car runs straight with the hand wheel at its mark and has its planned toe, and what that brings.

    fit : BenchFit
    car : in SI units
    Returns Advice.  Raises InputError as `running_straight` and `rods_needed`.
    """
    plan = fit.plan
    toe_slopes, slopes = gradients(plan, fit.errors)
    spread = slopes @ fit.covariance @ slopes.T
    mark = mark_to_move(fit, spread)
    marked = moved_mark(fit, mark)
    needed = rods_needed(plan, marked)
    turns = _turns(needed, spread)
    made = np.array(turns.shared())[: len(needed)]
    changed = marked.copy()
    rods = [ROD_LEFT, ROD_RIGHT][: len(needed)]
    changed[rods] += made
    now, planned = outcome(plan, fit.errors, car), outcome(plan, np.zeros(len(fit.errors)), car)
    toe_error = float(np.sqrt(toe_slopes @ fit.covariance @ toe_slopes))
    total = 2 * NORMAL_95 * toe_error
    served = not any((turns.left, turns.right, turns.either))
    parts = [(part, place, plan.unknowns[place].kind) for part, place in parts_of(plan).items()]
    return Advice(
        mark=mark, turns=turns, needed=needed, needed_covariance=spread, apart_told=_apart(spread) < APART_TOLD,
        near=within(STEP, spread, made - needed), planned=planned, now=now, after=outcome(plan, changed, car),
        toe_error=toe_error, toe_told=total <= TOE_TOLD or 2 * abs(now.toe_in - planned.toe_in) > total,
        rolling=rolling_resistance(car), lengths=plan.rod_lengths + changed[rods] * plan.pitch,
        length_errors=fit.sure[rods] * plan.pitch, longer=changed[rods],
        parts=tuple(replace(blame(part, place, kind, float(fit.errors[place]), float(fit.sure[place])), serves=served and kind == ROD)
                    for part, place, kind in parts),
        changed=changed, slopes=(toe_slopes, slopes),
    )  # fmt: skip


def _apart(covariance: np.ndarray) -> float:
    """Standard error of how far the needs of two rods lie apart; 0 for one rod."""
    return 0.0 if len(covariance) == 1 else float(np.sqrt(max(covariance[0, 0] + covariance[1, 1] - 2 * covariance[0, 1], 0.0)))


def _turns(needed: np.ndarray, covariance: np.ndarray) -> Turns:
    """Half turns that bring the toe nearest to the plan, and then the hand wheel nearest to its mark."""
    if len(needed) == 1:
        return Turns(STEP * round(float(needed[0]) / STEP) + 0.0, 0.0, 0.0)
    # What nobody knows how to share is shared alike.
    wrong = -(needed if _apart(covariance) < APART_TOLD else np.full(2, needed.mean()))
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
