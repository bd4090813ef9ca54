"""Rack: the hand wheel shifts a bar sideways, with a rod from each of its ends to a wheel."""

from dataclasses import dataclass
from math import pi, radians

import numpy as np

from sim.scenario.car import CarTable
from sim.scenario.setup import SetupTable
from sim.scenario.tables import MILLIMETRE
from sim.linkages.parts import TwoRods, joint_height, two_rods
from sim.linkages.pivots import LEFT, SIGNS, FrontWheel

HAND_LIMIT = radians(450)
FARTHEST = radians(1080)  # three turns, the most that a scenario can give the hand wheel


@dataclass(frozen=True)
class Shift:
    """The rack moves sideways.

    travel : to the left for each radian of the hand wheel [m/rad]
    """

    travel: float

    def __call__(self, hand: np.ndarray) -> np.ndarray:
        """Displacement of the rack.

        hand : (n,) [rad]
        Returns (n, 3) [m].
        """
        return np.stack([np.zeros_like(hand), self.travel * hand, np.zeros_like(hand)], axis=1)


def build(setup: SetupTable, car: CarTable, wheels: tuple[FrontWheel, FrontWheel]) -> TwoRods:
    """Fit both rods with the rack in the middle, its ends as high as the arms' joints.

    setup, car : SetupTable, CarTable
    wheels : the left and the right wheel
    Returns the linkage; its hand angle is the hand wheel's [rad].  Raises UnbuildableError.
    """
    # the scenario has checked
    assert setup.rack_behind_front_axle_mm is not None
    assert setup.rack_length_mm is not None
    assert setup.rack_mm_per_turn is not None
    x, half_length = -setup.rack_behind_front_axle_mm * MILLIMETRE, setup.rack_length_mm * MILLIMETRE / 2
    left, right = (np.array([x, side * half_length, joint_height(setup, wheels[LEFT])]) for side in SIGNS)
    travel = setup.rack_mm_per_turn * MILLIMETRE / (2 * pi)
    return two_rods(setup, wheels, (left, right), lambda direction: Shift(travel * direction), HAND_LIMIT, FARTHEST)
