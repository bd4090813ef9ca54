"""A car's steering put together: from the hand wheel to the pose of both front wheels, and how far it goes."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import degrees, radians

import numpy as np

from sim.errors import InputError
from sim.linkages import ideal
from sim.linkages.catalogue import KINDS
from sim.linkages.front_end import ARM_ANGLE, LEAST_ROD_ANGLE, TOE_IN, RodEnds, in_si
from sim.linkages.kind import Kind
from sim.linkages.mechanism import standing_wheels
from sim.linkages.parts import Linkage, UnbuildableError, turned_key
from sim.linkages.pivots import LEFT, RIGHT, SIDES, SIGNS, FrontWheel
from sim.linkages.rolling import equivalent_steer
from sim.scenario.car import CarTable
from sim.scenario.setup import SetupTable
from sim.steering.front_end import front_end
from sim.steering.sampling import PARTS, REFINEMENTS, first_fault, range_of

HAND_LIMIT = "hand wheel limit"
NEARLY_IN_LINE = "the {side} arm and its rod come within {least:g} degrees of one line"
NO_FURTHER = "the wheels turn no further"
TURNS_BACK = "the {side} wheel turns no further"
SQUARE_ACROSS = "the {side} wheel stands square across the car"
TURNS_ON_ITS_REAR_AXLE = "the car turns about the middle of its rear axle"
# In words, by `Fault`.
CAUSES = (
    "", *[NEARLY_IN_LINE.replace("{side}", side) for side in SIDES], NO_FURTHER,
    *[cause.format(side=side) for side in SIDES for cause in (TURNS_BACK, SQUARE_ACROSS)], TURNS_ON_ITS_REAR_AXLE,
)  # fmt: skip

# A wheel whose axis meets the middle of the rear axle asks for a turn of no radius, and beyond it for one to the other
# side.  At 85 degrees the radius is a twelfth of the wheelbase, tighter than anyone drives. [rad]
STEEPEST = radians(85)
# How far beyond a lock a hand angle may be and still mean it: what degrees and back may cost. [rad]
LOCK_SLACK = 1e-12
# A steering that locks sooner than this is a sketch gone wrong, not one to drive with. [rad]
LEAST_RANGE = radians(1)
# At a lock the hand angle's rate with steer is 0 or without bound; a set-up's table ends this share of its range before. [-]
LOCK_MARGIN = 0.002
BLOCK = 1000  # hand angles that are looked at together, from straight ahead on: most locks are met before the limit


@dataclass(frozen=True)
class FrontWheels:
    """Where the front wheels stand; each (n, 2), column 0 left, 1 right."""

    swing: np.ndarray  # about the axis, left positive [rad]
    steer: np.ndarray  # of the wheel's line on the ground, left positive [rad]
    camber: np.ndarray  # lean of the top to the left of the car, for both wheels [rad]
    x: np.ndarray  # contact point ahead of the front axle line [m]
    y: np.ndarray  # contact point left of the centre line [m]
    rise: np.ndarray  # how much the car must rise there [m]


@dataclass(frozen=True, eq=False)
class Steering:
    """A set-up's steering.

    name : of the set-up
    linkage : the name of its kind
    lock_left, lock_right : hand angle at the end of the usable range, in a left turn (above 0) and a right one (below 0) [rad]
    lock_left_cause, lock_right_cause : why it ends there, in plain words
    kingpin_offset : contact point outside the kingpin axis at the ground [m]
    least_rod_angle : between a rod and its arm, at which the range ends [rad]
    kingpin_y : (2,) the kingpin axes at the ground, left of the centre line; 0 for a turntable [m]
    wheels : the left and the right wheel on their axes
    mechanism : the linkage
    own_limit : hand angle of the stop that the set-up writes, None where it writes none [rad]
    """

    name: str
    linkage: str
    lock_left: float
    lock_right: float
    lock_left_cause: str
    lock_right_cause: str
    kingpin_offset: float
    least_rod_angle: float
    kingpin_y: np.ndarray
    wheels: tuple[FrontWheel, FrontWheel]
    mechanism: Linkage
    own_limit: float | None = None

    @property
    def kind(self) -> Kind:
        """The kind of its linkage."""
        return KINDS[self.linkage]

    def front_wheels(self, hand: np.ndarray) -> FrontWheels:
        """Where both wheels stand.

        hand : (n,) hand angle, positive steers left [rad]
        Returns FrontWheels.  Raises ValueError outside the range from lock to lock.
        """
        hand = np.asarray(hand, dtype=float)
        if not np.all((hand >= self.lock_right - LOCK_SLACK) & (hand <= self.lock_left + LOCK_SLACK)):
            raise ValueError(f"hand angle outside {self.lock_right:.6f} .. {self.lock_left:.6f} rad")
        return _stand(self.mechanism, self.wheels, hand)


def _stand(mechanism: Linkage, wheels: tuple[FrontWheel, FrontWheel], hand: np.ndarray) -> FrontWheels:
    """Where both wheels stand; beyond their reach where they come nearest to it."""
    if mechanism.numbers is not None:
        return FrontWheels(*standing_wheels(mechanism.numbers, np.ascontiguousarray(hand)))
    swing, _ = mechanism.swings(hand)
    left, right = wheels[LEFT].pose(swing[:, LEFT]), wheels[RIGHT].pose(swing[:, RIGHT])
    return FrontWheels(swing, *np.stack([left, right], axis=-1))


def ideal_setup(name: str = "ideal steering, no toe") -> SetupTable:
    """The reference that a set-up's geometry cost is measured against.

    name : of the set-up
    Returns the set-up: ideal steering on upright kingpins, no toe.
    """
    return SetupTable(name=name, pivot="stub axles", linkage=ideal.KIND.name)


def assemble(setup: SetupTable, car: CarTable) -> Steering:
    """Put a set-up's steering together; its locks are the hand wheel's limits, where rods and wheels may end it sooner.

    setup, car : what the user wrote
    Returns Steering [rad], [m].  Raises UnbuildableError where it cannot be put together straight ahead.
    """
    front = front_end(setup, car)
    mechanism = setup.kind.build(front)
    limit = mechanism.hand_limit if front.stance.hand_limit is None else front.stance.hand_limit
    return Steering(
        name=setup.name,
        linkage=setup.kind.name,
        lock_left=limit,
        lock_right=-limit,
        lock_left_cause=HAND_LIMIT,
        lock_right_cause=HAND_LIMIT,
        kingpin_offset=(car.front_track - front.kingpin_track) / 2,
        least_rod_angle=front.ends.least_angle,
        kingpin_y=np.array([front.kingpin_track / 2, -front.kingpin_track / 2]),
        wheels=front.wheels,
        mechanism=mechanism,
        own_limit=front.stance.hand_limit,
    )


def build_steering(setup: SetupTable, car: CarTable, source: str, place: str) -> Steering:
    """Put a set-up's steering together and find how far it goes.

    setup, car : what the user wrote
    source, place : where, for an error's text, such as "quay.toml" and 'setup "kinked arms"'
    Returns Steering.  Raises InputError where it cannot be built or does not steer straight ahead.
    """
    try:
        return with_locks(assemble(setup, car), car.wheelbase)
    except RangeError as fault:
        key, remedy = _to_blame(setup, fault)
        raise InputError(source, f"{place}.{key}", str(fault), remedy) from None
    except UnbuildableError as fault:
        raise InputError(source, f"{place}.{fault.key}", fault.problem, fault.remedy) from None


def with_locks(whole: Steering, wheelbase: float) -> Steering:
    """A steering with the range in which it works.

    whole : Steering as `assemble` gives it, whatever its locks are; wheelbase : of the car [m]
    Returns Steering with its own locks and their causes [rad].  Raises RangeError where that is no range to drive in.
    """
    limit = whole.mechanism.hand_limit if whole.own_limit is None else whole.own_limit
    span = _Range(whole.mechanism, whole.wheels, whole.least_rod_angle, whole.kingpin_y, wheelbase)
    (left, left_cause), (right, right_cause) = span.locks(limit)
    return replace(whole, lock_left=left, lock_right=right, lock_left_cause=left_cause, lock_right_cause=right_cause)


def is_danger(cause: str) -> bool:
    """Whether a range ends because a rod lies too nearly in line with its arm.  cause : of a lock, in words.  Returns it [-]."""
    return NEARLY_IN_LINE.split("{side}")[1].split("{least")[0] in cause


class RangeError(Exception):
    """A steering that can be put together but not driven with; its text says why.  rods : whether a rod lies too nearly in line."""

    def __init__(self, text: str, cause: str):
        super().__init__(text)
        self.rods = is_danger(cause)


def _to_blame(setup: SetupTable, fault: RangeError) -> tuple[str, str]:
    """The key that most likely spoils a steering that can be put together, and the remedy."""
    usual = SetupTable.model_fields[LEAST_ROD_ANGLE].default
    if fault.rods and (setup.value_of(LEAST_ROD_ANGLE) or 0.0) > usual:
        return LEAST_ROD_ANGLE, f"choose a smaller one; {usual:g} is usual"
    ends = in_si(RodEnds, setup.value_of)
    if any(ends.turns):
        return turned_key(LEFT, ends), "turn the rod ends less"
    if setup.toe_in:
        return TOE_IN, "choose less toe"
    if setup.kind.rods:
        return ARM_ANGLE, "change the arms' angle or length"
    return "linkage", "choose another"


@dataclass(frozen=True, eq=False)
class _Range:
    """The search for the hand angles at which the steering still works."""

    mechanism: Linkage
    wheels: tuple[FrontWheel, FrontWheel]
    least_rod_angle: float  # [rad]
    kingpin_y: np.ndarray  # (2,) [m]
    wheelbase: float  # [m]

    def locks(self, limit: float) -> tuple[tuple[float, str], tuple[float, str]]:
        """Both ends of the range, left and right, and their causes; raises RangeError if it is no range to drive in."""
        numbers, shares = self.mechanism.numbers, self.kingpin_y / self.wheelbase
        found: tuple[int, float, int, float, float, int, float]
        if numbers is None:
            found = self._found(limit)
        else:
            found = range_of(numbers, shares, self.least_rod_angle, STEEPEST, limit, self.mechanism.steps)
        fault, left, left_fault, left_steer, right, right_fault, right_steer = found
        if fault:
            cause = self._cause(fault)
            raise RangeError(f"the steering does not work straight ahead: {cause}", cause)
        ends = (left, self._cause(left_fault) or HAND_LIMIT), (right, self._cause(right_fault) or HAND_LIMIT)
        for (hand, cause), side in zip(ends, SIDES, strict=True):
            if abs(hand) < min(LEAST_RANGE, limit):
                at = f"{abs(degrees(hand)):.2f} degrees of the hand wheel"
                raise RangeError(f"to the {side} the steering locks at {at}: {cause}", cause)
        for end, side, sign, (_, cause) in zip((left_steer, right_steer), SIDES, SIGNS, ends, strict=True):
            if sign * end <= 0:
                raise RangeError(f"with the hand wheel hard over to the {side} the car still turns the other way", cause)
            if cause != HAND_LIMIT and sign * end <= LOCK_MARGIN * (left_steer - right_steer):  # a table would end before straight ahead
                raise RangeError(f"with the hand wheel hard over to the {side} the car hardly turns that way: {cause}", cause)
        return ends

    def _cause(self, fault: int) -> str:
        """A Fault's value in words; nothing for none."""
        return CAUSES[fault].format(least=round(degrees(self.least_rod_angle), 9))

    def _found(self, limit: float) -> tuple[int, float, int, float, float, int, float]:
        """What `range_of` finds, for a linkage that has to be asked how it turns."""
        rows = np.stack([wheel.row for wheel in self.wheels])

        def at(hand: np.ndarray) -> tuple[int, int]:
            # Where a rod reaches no further it lies in line with its arm, so only a law runs out of reach.
            return first_fault(rows, self.mechanism.turning(hand), self.kingpin_y / self.wheelbase, self.least_rod_angle, STEEPEST)

        if fault := at(np.zeros(1))[1]:
            return fault, 0.0, fault, 0.0, 0.0, fault, 0.0
        (left, left_fault), (right, right_fault) = (last_before(way * limit, at, self.mechanism.steps) for way in SIGNS)
        steer = _stand(self.mechanism, self.wheels, np.array([left, right])).steer
        left_steer, right_steer = equivalent_steer(steer, self.kingpin_y, self.wheelbase)
        return 0, left, left_fault, left_steer, right, right_fault, right_steer


def last_before(limit: float, first: Callable[[np.ndarray], tuple[int, int]], steps: int) -> tuple[float, int]:
    """The last hand angle from straight ahead towards a limit at which nothing fails.

    limit : hand angle, to either side [rad]
    first : hand angles (n,) [rad] to the index of the first at which something fails, and what, above 0; (n, 0) where nothing does
    steps : from straight ahead to the limit [-]
    Returns (hand angle [rad], what fails); (the limit, 0) where nothing does.
    """
    near, far, cause = 0.0, limit, 0
    for parts in (steps, *[PARTS] * REFINEMENTS):
        hand = np.linspace(near, far, parts + 1)
        for start in range(1, parts + 1, BLOCK):
            index, found = first(hand[start : start + BLOCK])
            if found:
                cause = found
                near, far = float(hand[start + index - 1]), float(hand[start + index])
                break
        else:
            break
        if abs(far - near) <= np.spacing(max(abs(near), abs(far))):
            break
    return (near, cause) if cause else (limit, 0)
