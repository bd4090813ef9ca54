"""Kinds of readings that people can take of a front end: one entry each, with its columns, its usual error and what a car would show."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import asin, hypot, radians, sin

import numpy as np

from sim.bench.as_built import HOME, LINE, ROD_LEFT, ROD_RIGHT, TAPE, ZERO_HAND, ZERO_LEFT, ZERO_RIGHT, Built
from sim.keys import MILLIMETRE
from sim.linkages.centre_arm import DropArm
from sim.linkages.front_end import MOST_HAND_DEG
from sim.linkages.pivots import LEFT, RIGHT

MOST_ANGLE_DEG = 80.0  # a wheel that stands further across is a slip of the pen
MOST_TURNS = 200  # of both ends of a rod together; no thread of a rod end is so long
# Rims are measured at their edges, about so much of the wheel's outer diameter apart; taken where rim_mm is not given.  Judgement. [-]
RIM_SHARE = 0.8
# How well a straight lath lies on each of those two places, where the distance is measured at its ends instead.  Judgement. [m]
LATH_SEATED = 0.3 * MILLIMETRE
# A hand wheel is set to its mark, and a dial or a protractor read, to about so much.  Judgement. [rad]
USUAL_ANGLE_ERROR = radians(0.5)
# Where the hand angle is a wheel's own there is no mark: the wheels are set straight ahead by eye.  Judgement. [rad]
BY_EYE = radians(3.0)
# Wheels that a string or a tape shows further across than this were not set straight ahead. [-]
MOST_ACROSS = sin(radians(20))


@dataclass(frozen=True)
class Column:
    """A column of the table.

    name : with the unit at its end: _deg, _mm, or none for turns
    low, high : of what a cell may hold [the column's unit]
    """

    name: str
    low: float
    high: float

    @property
    def unit(self) -> str:
        """ "deg", "mm" or "turns"."""
        return next((unit for unit in ("deg", "mm") if self.name.endswith(f"_{unit}")), "turns")

    @property
    def size(self) -> float:
        """Of its unit in SI [rad, m or turns]."""
        return {"deg": radians(1.0), "mm": MILLIMETRE, "turns": 1.0}[self.unit]


@dataclass(frozen=True, eq=False)
class Shown:
    """A car at which readings are taken.

    plan : Built; errors : (p,) that it was built and is measured with [turns, rad or m]
    steer : (n, 2) of both wheels [rad]; hand : (n,) true hand angles [rad]
    """

    plan: Built
    errors: np.ndarray
    steer: np.ndarray
    hand: np.ndarray


def _always(plan: Built) -> bool:
    """That every set-up has it.  plan : Built.  Returns True [-]."""
    return True


@dataclass(frozen=True)
class Kind:
    """One kind of reading.

    name : in words
    columns : what is written down; where there are two, the reading is the first less the second, over the rim where `over_rim`
    usual_error : of each column, one standard deviation, where the table states none [rad, m or turns]
    ground : of that error
    shown : Shown to what a car would give, (n,) [rad, m, turns or -]
    turns : whether it depends on where the hand wheel stands
    at_mark : whether the hand wheel is at its mark, or set straight ahead by eye, where no hand angle is written beside it
    over_rim : whether it is over the distance between the two places on the rim
    fits : whether a set-up has it
    """

    name: str
    columns: tuple[Column, ...]
    usual_error: float
    ground: str
    shown: Callable[[Shown], np.ndarray]
    turns: bool = True
    at_mark: bool = False
    over_rim: bool = False
    fits: Callable[[Built], bool] = _always

    @property
    def unit(self) -> str:
        """Of its columns: "deg", "mm" or "turns"."""
        return self.columns[0].unit

    def value(self, cells: Mapping[str, float], rim: float) -> float:
        """The reading in SI.  cells : by column, nan where empty [the column's unit]; rim : [m].  Returns it [rad, m, turns or -]."""
        values = [cells.get(one.name, np.nan) * one.size for one in self.columns]
        value = values[0] - values[1] if len(values) == 2 else values[0]
        return value / rim if self.over_rim else value

    def error(self, each: float, rim: float) -> float:
        """The reading's error.  each : of each column [rad, m or turns]; rim : [m].  Returns it [rad, m, turns or -]."""
        error = hypot(*[each] * len(self.columns))
        return error / rim if self.over_rim else error


def usual_rim(wheel_radius: float) -> float:
    """Distance between the places on a rim where nobody has measured it.  wheel_radius : of the car [m].  Returns it [m]."""
    return 2 * RIM_SHARE * wheel_radius


def toe_by_tape(wider: float, rim: float) -> float:
    """Toe-in of each front wheel by a tape between the rims, both alike.

    wider : by how much further apart the rims are behind the axle than in front [m]; rim : between the two places on each, above 0 [m]
    Returns the toe-in [rad].  Raises ValueError where no wheels stand so.  Source: geometry, the way back from what KINDS says that a tape
    between the rims shows.
    """
    return asin(wider / (2 * rim))


def lath_error(rim: float, wheel_radius: float) -> float:
    """What a lath along a rim adds to the error of its direction.

    rim : between the places where the distance is measured; wheel_radius : of the car, nan where it is not known [m]
    Returns the error, 0 where the places are on the wheel itself [rad].  Source: the two places on which the lath lies, each off by
    LATH_SEATED.
    """
    return hypot(LATH_SEATED, LATH_SEATED) / usual_rim(wheel_radius) if rim > 2 * wheel_radius else 0.0


def _wheel(side: int, zero: int) -> Callable[[Shown], np.ndarray]:
    return lambda car: car.steer[:, side] + car.errors[zero]


def _string(side: int) -> Callable[[Shown], np.ndarray]:
    """The string lies outside the wheel, so that what is turned to the left is nearer to the left string in front."""
    return lambda car: np.sin(car.steer[:, side] + car.errors[LINE])


def _rod(place: int) -> Callable[[Shown], np.ndarray]:
    def shown(car: Shown) -> np.ndarray:
        plan, side = car.plan, place - ROD_LEFT
        return np.full(len(car.hand), plan.rod_lengths[side] + car.errors[place] * plan.pitch + car.errors[TAPE])

    return shown


def _threads(place: int) -> Callable[[Shown], np.ndarray]:
    """Turns of both ends of a rod together, out from fully home."""

    def shown(car: Shown) -> np.ndarray:
        plan = car.plan
        planned = plan.rod_lengths[place - ROD_LEFT] - plan.home_length
        return np.full(len(car.hand), (planned - car.errors[HOME]) / plan.pitch + car.errors[place])

    return shown


def _two(plan: Built) -> bool:
    return not plan.one_rod


def _one(plan: Built) -> bool:
    return plan.one_rod


def _hangs(plan: Built) -> bool:
    return isinstance(plan.front.own, DropArm)


_RULE = "a steel rule or tape read to a millimetre, as in the simulation that chose the plan"
_EYES = "the middle of each eye marked, the tape read to half a millimetre, as in that simulation"
_COUNTED = "counted to a quarter turn, as in that simulation"
_HALF = "a printed protractor or dial read to half a degree"
_PLUMB = "a plumb bob beside the arm, read to half a degree"
_EACH = MILLIMETRE / 2**0.5  # two such make a difference good to 1 mm


def _mm(name: str, low: float, high: float) -> Column:
    return Column(f"{name}_mm", low, high)


def _deg(name: str, most: float) -> Column:
    return Column(f"{name}_deg", -most, most)


# Each entry is a column of every array of readings.
KINDS = (
    Kind("left wheel's angle", (_deg("left", MOST_ANGLE_DEG),), USUAL_ANGLE_ERROR, _HALF, _wheel(LEFT, ZERO_LEFT)),
    Kind("right wheel's angle", (_deg("right", MOST_ANGLE_DEG),), USUAL_ANGLE_ERROR, _HALF, _wheel(RIGHT, ZERO_RIGHT)),
    Kind("hand wheel's angle", (_deg("hand", MOST_HAND_DEG),), USUAL_ANGLE_ERROR, _HALF,
         lambda car: car.hand + car.errors[ZERO_HAND]),
    Kind("string at the left wheel", (_mm("string_left_rear", 0, 1000), _mm("string_left_front", 0, 1000)), _EACH, _RULE, _string(LEFT),
         at_mark=True, over_rim=True),
    Kind("string at the right wheel", (_mm("string_right_front", 0, 1000), _mm("string_right_rear", 0, 1000)), _EACH, _RULE,
         _string(RIGHT), at_mark=True, over_rim=True),
    Kind("tape between the rims", (_mm("toe_rear", 50, 4000), _mm("toe_front", 50, 4000)), _EACH, _RULE,
         lambda car: np.sin(car.steer[:, RIGHT]) - np.sin(car.steer[:, LEFT]), at_mark=True, over_rim=True),
    Kind("drop arm beside a plumb line", (_deg("drop_arm", 60.0),), USUAL_ANGLE_ERROR, _PLUMB, lambda car: car.hand, at_mark=True,
         fits=_hangs),
    Kind("left rod, eye to eye", (_mm("rod_left", 1, 4000),), 0.5 * MILLIMETRE, _EYES, _rod(ROD_LEFT), turns=False, fits=_two),
    Kind("right rod, eye to eye", (_mm("rod_right", 1, 4000),), 0.5 * MILLIMETRE, _EYES, _rod(ROD_RIGHT), turns=False, fits=_two),
    Kind("rod, eye to eye", (_mm("rod", 1, 4000),), 0.5 * MILLIMETRE, _EYES, _rod(ROD_LEFT), turns=False, fits=_one),
    Kind("left rod's threads", (Column("threads_left", 0, MOST_TURNS),), 0.25, _COUNTED, _threads(ROD_LEFT), turns=False, fits=_two),
    Kind("right rod's threads", (Column("threads_right", 0, MOST_TURNS),), 0.25, _COUNTED, _threads(ROD_RIGHT), turns=False, fits=_two),
    Kind("rod's threads", (Column("threads", 0, MOST_TURNS),), 0.25, _COUNTED, _threads(ROD_LEFT), turns=False, fits=_one),
)  # fmt: skip
WHEEL_LEFT, WHEEL_RIGHT, DIAL = 0, 1, 2  # places in KINDS
# Readings that are only taken together: one without the other is a slip.
TOGETHER = ((WHEEL_LEFT, WHEEL_RIGHT),)
RIM = Column("rim_mm", 50, 1500)
# Errors that a row may state for all of its readings in one unit.
ERROR_COLUMNS = {
    "deg": Column("reading_error_deg", 0.001, 10.0), "mm": Column("reading_error_mm", 0.01, 20.0),
    "turns": Column("reading_error_turns", 0.01, 5.0),
}  # fmt: skip
COLUMNS = (*(column for kind in KINDS for column in kind.columns), RIM, *ERROR_COLUMNS.values())


def place_of(column: str) -> int:
    """The place in KINDS of the kind that a column belongs to.  column : its name.  Returns it [-]."""
    return next(place for place, kind in enumerate(KINDS) if any(one.name == column for one in kind.columns))


def shown_by(car: Shown) -> np.ndarray:
    """What a car would give of every kind.

    car : Shown
    Returns (n, kinds) [rad, m, turns or -]; 0 of kinds that the set-up does not have.
    """
    nothing = np.zeros(len(car.hand))
    return np.stack([kind.shown(car) if kind.fits(car.plan) else nothing for kind in KINDS], axis=1)
