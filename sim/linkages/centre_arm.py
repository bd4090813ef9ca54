"""Centre arm: a drop arm on the steering column swings across the car and moves a rod to each wheel."""

from dataclasses import dataclass
from math import radians

import numpy as np

from sim.scenario.car import CarTable
from sim.scenario.setup import SetupTable
from sim.scenario.tables import MILLIMETRE
from sim.linkages.parts import TwoRods, UnbuildableError, joint_height, two_rods
from sim.linkages.pivots import LEFT, SIGNS, FrontWheel

HAND_LIMIT = radians(90)  # where the drop arm stands straight out; beyond it the rods come back


@dataclass(frozen=True)
class Swing:
    """The drop arm's joint swings across the car: length x sin(hand) sideways, length x (1 - cos(hand)) up.

    length : of the drop arm [m]
    direction : +1 where a positive hand angle moves the joint to the left, else -1 [-]
    """

    length: float
    direction: float

    def __call__(self, hand: np.ndarray) -> np.ndarray:
        """Displacement of the joint.

        hand : (n,) [rad]
        Returns (n, 3) [m].
        """
        return self.length * np.stack([np.zeros_like(hand), self.direction * np.sin(hand), 1 - np.cos(hand)], axis=1)


def build(setup: SetupTable, car: CarTable, wheels: tuple[FrontWheel, FrontWheel]) -> TwoRods:
    """Fit both rods with the drop arm hanging straight down.

    setup, car : SetupTable, CarTable
    wheels : the left and the right wheel
    Returns the linkage; its hand angle is the column's [rad].  Raises UnbuildableError.
    """
    # the scenario has checked
    assert setup.drop_arm_length_mm is not None
    assert setup.drop_arm_behind_front_axle_mm is not None
    length = setup.drop_arm_length_mm * MILLIMETRE
    height = joint_height(setup, wheels[LEFT])
    if setup.drop_arm_pivot_height_mm is not None:
        height = setup.drop_arm_pivot_height_mm * MILLIMETRE - length
    if height <= 0:
        raise UnbuildableError(
            "drop_arm_pivot_height_mm",
            f"the drop arm would reach {-height / MILLIMETRE:.0f} mm into the ground",
            "raise the pivot or shorten the drop arm",
        )
    x = -setup.drop_arm_behind_front_axle_mm * MILLIMETRE
    half_spacing = setup.drop_arm_joint_spacing_mm * MILLIMETRE / 2
    left, right = (np.array([x, side * half_spacing, height]) for side in SIGNS)

    return two_rods(setup, wheels, (left, right), lambda direction: Swing(length, direction), HAND_LIMIT, HAND_LIMIT)
