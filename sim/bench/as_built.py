"""A front end as it was built: the planned set-up with errors in its rods, its arms and the protractors beside it."""

from dataclasses import dataclass, replace
from functools import cached_property
from math import degrees, radians

import numpy as np

from sim.errors import InputError
from sim.linkages.catalogue import kinds_with_rods
from sim.linkages.front_end import ARM_ANGLE, FrontEnd
from sim.linkages.kind import Hand
from sim.linkages.parts import Linkage
from sim.scenario.car import CarTable
from sim.scenario.setup import SetupTable
from sim.steering.arrangement import Steering, build_steering
from sim.steering.front_end import arms_of, front_end

# Errors of the car as built, in the order of every vector here; a rod that joins both wheels is ROD_LEFT, and there is no ROD_RIGHT.
# Rods in turns, longer positive, against the length that gives the planned toe with the arms as they are; arms in rad,
# more kink positive; zeros in rad: what a protractor shows when its wheel, or the hand wheel, stands straight ahead.
ROD_LEFT, ROD_RIGHT, ARM_LEFT, ARM_RIGHT, ZERO_LEFT, ZERO_RIGHT, ZERO_HAND = range(7)
ERRORS = 7
KINDS = ("rod", "rod", "arm", "arm", "zero", "zero", "hand zero")
# How far off such things usually are.  An error counts as told when its 95 % interval is narrower than that to both
# sides.  Judgement, no source. [turns or rad]
USUAL = {"rod": 2.0, "arm": radians(2), "zero": radians(0.5), "hand zero": radians(2)}
# Bounds of the fit; beyond them the drawing is another car's. [turns or rad]
MOST = {"rod": 15.0, "arm": radians(12), "zero": radians(6), "hand zero": radians(25)}
BEYOND = 0.1  # the nearest point is sought this share of the range beyond the planned locks, for a wrong rod moves them


class Combination:
    """Names of the combinations of errors that are fitted, in the order in which they are tried."""

    BOTH_RODS, ROD, BOTH_ARMS, RODS_APART, ARMS_APART = "both rods", "rod", "both arms", "rods apart", "arms apart"
    HAND, ZEROS_APART, BOTH_ZEROS = "hand zero", "zeros apart", "both zeros"


def _vector(*entries: tuple[int, float]) -> np.ndarray:
    vector = np.zeros(ERRORS)
    for index, value in entries:
        vector[index] = value
    return vector


_PAIRS = {
    Combination.BOTH_ARMS: _vector((ARM_LEFT, 1), (ARM_RIGHT, 1)),
    Combination.RODS_APART: _vector((ROD_LEFT, 1), (ROD_RIGHT, -1)),
    Combination.ARMS_APART: _vector((ARM_LEFT, 1), (ARM_RIGHT, -1)),
    Combination.HAND: _vector((ZERO_HAND, 1)),
    Combination.ZEROS_APART: _vector((ZERO_LEFT, 1), (ZERO_RIGHT, -1)),
    Combination.BOTH_ZEROS: _vector((ZERO_LEFT, 1), (ZERO_RIGHT, 1)),
}


@dataclass(frozen=True, eq=False)
class Built:
    """A set-up with rods as it was planned, ready to be built wrong.

    setup, car : SetupTable, CarTable
    steering : of the set-up as planned
    """

    setup: SetupTable
    car: CarTable
    steering: Steering

    @property
    def one_rod(self) -> bool:
        """Whether one rod joins both wheels."""
        return len(self.steering.mechanism.rods) == 1

    @property
    def hand_tells(self) -> bool:
        """Whether hand angles tell anything: not where they are a wheel's own."""
        return self.setup.kind.hand is not Hand.LEFT_WHEEL

    @cached_property
    def front(self) -> FrontEnd:
        """The planned front end in SI units."""
        return front_end(self.setup, self.car)

    @cached_property
    def hand_range(self) -> tuple[float, float]:
        """Hand angles (low, high) between which a wrongly built car is looked at [rad]."""
        beyond = BEYOND * (self.steering.lock_left - self.steering.lock_right)
        return self.steering.lock_right - beyond, self.steering.lock_left + beyond

    def combinations(self, hand_read: bool) -> dict[str, np.ndarray]:
        """The combinations that mean something for this linkage, in the order in which they are tried.

        hand_read : whether hand angles were read
        Returns name to (ERRORS,) the errors that one unit of it makes [turns or rad].
        """
        rods = {Combination.ROD: _vector((ROD_LEFT, 1))} if self.one_rod else {
            Combination.BOTH_RODS: _vector((ROD_LEFT, 1), (ROD_RIGHT, 1))
        }  # fmt: skip
        without = {Combination.RODS_APART} if self.one_rod else set()
        if not (hand_read and self.hand_tells):
            without.add(Combination.HAND)
        return rods | {name: vector for name, vector in _PAIRS.items() if name not in without}

    def mechanism(self, errors: np.ndarray) -> Linkage:
        """The linkage with the errors in it.

        errors : (ERRORS,) [turns and rad]
        Returns the linkage.  Raises UnbuildableError.
        """
        setup, ends = self.setup, self.front.ends
        angle = setup.value_of(ARM_ANGLE)
        assert angle is not None  # the scenario has checked
        left, right = (arms_of(setup.model_copy(update={ARM_ANGLE: angle + degrees(errors[error])})) for error in (ARM_LEFT, ARM_RIGHT))
        turned = replace(ends, turns_left=ends.turns_left + errors[ROD_LEFT], turns_right=ends.turns_right + errors[ROD_RIGHT])
        return setup.kind.build(replace(self.front, arms=(left, right), ends=turned))

    def built(self, errors: np.ndarray) -> Steering:
        """The steering with the errors in it, over `hand_range`.

        errors : (ERRORS,) [turns and rad]
        Returns Steering; where a rod does not reach, it stands at its nearest approach.  Raises UnbuildableError.
        """
        low, high = self.hand_range
        return replace(self.steering, mechanism=self.mechanism(errors), lock_left=high, lock_right=low)


def make_plan(setup: SetupTable, car: CarTable, source: str, place: str) -> Built:
    """The plan that readings are held against.

    setup, car : what the user wrote
    source, place : where, for an error's text
    Returns Built.  Raises InputError where the set-up has no rods or cannot be built.
    """
    if not setup.kind.rods:
        what = f'linkage "{setup.linkage}" is a formula' if setup.linkage else "a turntable axle"
        problem = f'"{setup.name}" has no rods and arms to set: {what}'
        key = "linkage" if setup.linkage else "pivot"
        raise InputError(source, f"{place}.{key}", problem, f"choose a set-up with {kinds_with_rods()}")
    return Built(setup, car, build_steering(setup, car, source, place))


def basis_of(combinations: dict[str, np.ndarray], names: list[str]) -> np.ndarray:
    """Some combinations side by side.

    combinations : of `Built.combinations`
    names : which
    Returns (ERRORS, p) [turns or rad for each unit].
    """
    return np.column_stack([np.zeros((ERRORS, 0)), *(combinations[name] for name in names)])


def kinds_of(basis: np.ndarray) -> list[str]:
    """What each combination is made of.

    basis : (ERRORS, p) [turns or rad for each unit]
    Returns a word of KINDS for each.
    """
    return [KINDS[int(np.argmax(column != 0))] for column in basis.T]


def usual_sizes(basis: np.ndarray) -> np.ndarray:
    """How far off combinations usually are.

    basis : (ERRORS, p) [turns or rad for each unit]
    Returns (p,) [turns or rad].
    """
    return np.array([USUAL[kind] for kind in kinds_of(basis)])


def largest_sizes(basis: np.ndarray) -> np.ndarray:
    """Bounds of combinations.

    basis : (ERRORS, p) [turns or rad for each unit]
    Returns (p,), the same to both sides [turns or rad].
    """
    return np.array([MOST[kind] for kind in kinds_of(basis)])
