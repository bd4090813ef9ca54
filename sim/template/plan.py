"""What a template shows, as plain figures: scales, target marks, and where the sheets lie under the car.

Paper is the edge of the program, so everything here is in millimetres and degrees, positive to the left.
"""

from dataclasses import dataclass
from math import ceil, degrees, hypot, radians, tan

import numpy as np

from sim.linkages.kind import Hand
from sim.linkages.pivots import LEFT, RIGHT, SIDES, SIGNS
from sim.linkages.rolling import equivalent_steer
from sim.scenario.car import CarTable
from sim.scenario.tables import MILLIMETRE
from sim.steering.angles import angle_rows
from sim.steering.arrangement import Steering
from sim.steering.table import hand_where
from sim.study.dangers import Dangers, dangers_of

LETTERS = "ABCDEFG"
OUTER_STEP_DEG, MOST_OUTER_DEG, MOST_INNER_DEG = 5, 35, 45
# One end of the ruler reads more than the mean, the other less: by 4 degrees when it lies 10 mm further out than planned.
# So far a scale goes on beyond the last angle that is read on it.
SLACK_DEG = 4.0
# Half the distance between the two readings along the ruler: a degree is 2.6 mm there.  It grows with a ruler far beside
# its pivot, for the two scales would run into each other; between their ends at least this gap remains.
SCALE_AT_MM, GAP_DEG = 150.0, 16.0
# Above this a scale would fill a floor, not some sheets; a wheel so far outside its kingpin is a slip in a key. [mm]
MOST_BESIDE_MM = 200.0


@dataclass(frozen=True)
class Pair:
    """One pair of target angles.

    letter : its name on the sheets
    turn : "left" or "right"
    hand_deg : hand angle that gives it
    outer_deg, inner_deg : planned angles of the outer and the inner wheel
    ideal_inner_deg : what the inner wheel should have for that outer angle
    """

    letter: str
    turn: str
    hand_deg: float
    outer_deg: float
    inner_deg: float
    ideal_inner_deg: float

    @property
    def wheels_deg(self) -> tuple[float, float]:
        """Planned angles of the left and the right wheel."""
        return (self.inner_deg, self.outer_deg) if self.turn == "left" else (self.outer_deg, self.inner_deg)


@dataclass(frozen=True)
class Row:
    """One row of a worksheet that is only compared with the plan: a setting at which both wheels are read.

    name : what to set, such as "A, left", or "S" for straight ahead
    turn : "left", "right", or "" straight ahead
    hand_deg, wheels_deg : planned angles of the hand wheel and of the left and the right wheel
    ideal_inner_deg : what the inner wheel should have; None straight ahead
    """

    name: str
    turn: str
    hand_deg: float
    wheels_deg: tuple[float, float]
    ideal_inner_deg: float | None


@dataclass(frozen=True)
class Mark:
    """A letter at an angle of a scale."""

    letter: str
    angle_deg: float


@dataclass(frozen=True)
class Protractor:
    """One scale about one pivot.

    name : what turns, such as "left front wheel"
    pivot : what stands in the middle, "kingpin" or "pivot"
    left_mm : the pivot at hub height, left of the car's centre line; it stands on the front axle's line
    beside_mm : the ruler's edge, straight ahead, to the left of the pivot
    along_deg : the ruler's direction straight ahead: 0 fore and aft, 90 across the car
    low_deg, high_deg : ends of the scale
    scale_at_mm : where the scales are, along the ruler from the foot of the pivot's perpendicular, both ways
    planned, ideal : target marks
    """

    name: str
    pivot: str
    left_mm: float
    beside_mm: float
    along_deg: float
    low_deg: int
    high_deg: int
    scale_at_mm: float
    planned: tuple[Mark, ...]
    ideal: tuple[Mark, ...]


@dataclass(frozen=True)
class Placing:
    """Distances on the floor that put the sheets in their place; of a turntable both distances to the rear are equal."""

    pivots_apart_mm: float
    to_rear_mm: float  # from a pivot to the middle of the rear tyre on its side
    diagonal_mm: float  # ... and on the other side


@dataclass(frozen=True)
class SheetPlan:
    """All that a template shows.

    title, setup : names
    turntable : one scale for the axle instead of one for each wheel
    has_rods : `bench` can fit readings of this set-up
    straight_deg : planned angles of both wheels straight ahead
    pairs : targets, left turns first
    beyond_deg : outer angles for which there is no pair, each with its turn
    dials : whether the hand angle is the hand wheel's or its column's, so that a dial on it shows it
    hand_range_deg : the hand wheel's usable range, to the right and to the left
    dangers : where a stop has to hold the hand wheel
    examples : numbers of the scenario that are still examples, not measured [-]
    """

    title: str
    setup: str
    turntable: bool
    has_rods: bool
    straight_deg: tuple[float, float]
    pairs: tuple[Pair, ...]
    beyond_deg: tuple[tuple[str, int], ...]
    dials: bool
    hand_range_deg: tuple[float, float]
    protractors: tuple[Protractor, ...]
    placing: Placing
    dangers: Dangers
    examples: int = 0


def plan_template(title: str, steering: Steering, car: CarTable) -> SheetPlan:
    """The figures of a set-up's template.

    title : of the scenario
    steering : the set-up's
    car : the scenario's
    Returns SheetPlan.
    """
    turntable = steering.kind.axle
    pairs, beyond = _pairs(steering, car)
    straight = np.degrees(steering.front_wheels(np.zeros(1)).steer[0])
    straight_deg = (float(straight[LEFT]) + 0.0, float(straight[RIGHT]) + 0.0)
    locks = np.degrees(steering.front_wheels(np.array([steering.lock_right, steering.lock_left])).steer)
    # The straight edge is held at hub height.  There a leaning kingpin stands elsewhere than on the floor, and it is that
    # point about which the edge turns.
    points = [wheel.axis_at(wheel.centre[2]) / MILLIMETRE for wheel in steering.wheels]
    if turntable:
        hands = [degrees(steering.lock_right), degrees(steering.lock_left)]
        planned = (Mark("S", 0.0), *(Mark(pair.letter, pair.hand_deg) for pair in pairs))
        protractors = [_protractor("front axle", "pivot", points[LEFT], 0.0, 90.0, hands, planned, ())]
    else:
        beside = (car.front_track_mm + car.tyre_width_mm) / 2 - abs(float(points[LEFT][1]))
        protractors = []
        for side, name in enumerate(SIDES):
            planned = (Mark("S", straight_deg[side]), *(Mark(pair.letter, pair.wheels_deg[side]) for pair in pairs))
            ideal = tuple(Mark(pair.letter, pair.ideal_inner_deg) for pair in pairs if pair.turn == name)
            scale = _protractor(
                f"{name} front wheel", "kingpin", points[side], SIGNS[side] * beside, 0.0, list(locks[:, side]), planned, ideal
            )
            protractors.append(scale)
    half, rear = abs(points[LEFT][1]), car.rear_track_mm / 2
    placing = Placing(
        pivots_apart_mm=2 * float(half), to_rear_mm=hypot(car.wheelbase_mm, half - rear), diagonal_mm=hypot(car.wheelbase_mm, half + rear)
    )
    return SheetPlan(
        title=title, setup=steering.name, turntable=turntable, has_rods=steering.kind.rods, straight_deg=straight_deg, pairs=pairs,
        beyond_deg=beyond, dials=steering.kind.hand is Hand.HAND_WHEEL,
        hand_range_deg=(degrees(steering.lock_right), degrees(steering.lock_left)), protractors=tuple(protractors), placing=placing,
        dangers=dangers_of(steering),
    )  # fmt: skip


def rows_to_compare(plan: SheetPlan) -> tuple[Row, ...]:
    """The rows of a worksheet of which nothing is fitted: each setting once, straight ahead first.

    plan : SheetPlan
    Returns Rows [degrees].
    """
    straight = Row("S", "", 0.0, plan.straight_deg, None)
    turns = (Row(f"{one.letter}, {one.turn}", one.turn, one.hand_deg, one.wheels_deg, one.ideal_inner_deg) for one in plan.pairs)
    return (straight, *turns)


def _pairs(steering: Steering, car: CarTable) -> tuple[tuple[Pair, ...], tuple[tuple[str, int], ...]]:
    """The pairs of both turns, and the outer angles that have none."""
    outers = list(range(OUTER_STEP_DEG, MOST_OUTER_DEG + 1, OUTER_STEP_DEG))
    wheelbase = car.wheelbase
    pairs, beyond = [], []
    for turn, sign, outer_side in (("left", 1, RIGHT), ("right", -1, LEFT)):
        hands = hand_where(steering, lambda wheels, side=outer_side: wheels.steer[:, side], sign * np.radians(outers))  # type: ignore[misc]
        for letter, outer, hand in zip(LETTERS, outers, hands, strict=True):
            if not np.isfinite(hand):
                beyond.append((turn, outer))
                continue
            rows = angle_rows(steering, car, np.array([hand]))
            steers = np.array([[rows.left[0], rows.right[0]]])
            # With much toe-in a wheel can point into a turn that the car does not take.
            turns_so = sign * equivalent_steer(steers, steering.kingpin_y, wheelbase)[0] > 0
            inner = (rows.left if turn == "left" else rows.right)[0]
            steepest = max(sign * inner, sign * rows.ideal_inner[0])
            if not turns_so or steepest > radians(MOST_INNER_DEG):
                beyond.append((turn, outer))
                continue
            pairs.append(Pair(letter, turn, degrees(hand), float(sign * outer), degrees(inner), degrees(rows.ideal_inner[0])))
    return tuple(pairs), tuple(beyond)


def _protractor(
    name: str, pivot: str, point: np.ndarray, beside_mm: float, along_deg: float, locks_deg: list[float],
    planned: tuple[Mark, ...], ideal: tuple[Mark, ...],
) -> Protractor:  # fmt: skip
    """A scale as long as its marks ask for, and its locks where they are in reach."""

    def end(sign: int, lock: float) -> int:
        ends = [sign * mark.angle_deg + SLACK_DEG for mark in planned] + [sign * mark.angle_deg + 1.0 for mark in ideal]
        return 5 * ceil(max(*ends, lock if lock <= MOST_INNER_DEG else 0.0, 5.0) / 5)

    low, high = -end(-1, -min(locks_deg)), end(1, max(locks_deg))
    # Straight ahead the forward reading is this much further round the pivot than the ruler's direction, the rear one less.
    widest = (180.0 - GAP_DEG - (high - low)) / 2
    scale_at = max(SCALE_AT_MM, abs(beside_mm) / tan(radians(widest)))
    return Protractor(name, pivot, float(point[1]), beside_mm, along_deg, low, high, scale_at, planned, ideal)
