"""Cross rod: one rod joins the arms of the two wheels, and the hand turns the left wheel."""

from dataclasses import dataclass
from math import radians

import numpy as np

from sim.scenario import CarTable, SetupTable
from sim.steering.linkages.parts import RODS_IN_LINE, Rod, arm_joint, fitted_rod, static_swing
from sim.steering.pivots import LEFT, RIGHT, FrontWheel, rotated


@dataclass(frozen=True, eq=False)
class CrossRod:
    """The left arm's joint moves the rod, the rod swings the right wheel.

    left : the left wheel
    joint : (3,) its arm's joint at swing 0 [m]
    rod : to the right wheel
    """

    left: FrontWheel
    joint: np.ndarray
    rod: Rod
    hand_limit: float = radians(60)
    stuck: str = RODS_IN_LINE

    def swings(self, hand):
        swing, reach = self.rod.swing(_moved(self.left, self.joint, hand))
        return np.stack([hand, swing], axis=1), np.stack([np.ones_like(reach), reach], axis=1)


def _moved(wheel: FrontWheel, joint: np.ndarray, swing: np.ndarray) -> np.ndarray:
    return wheel.axis_point + rotated(joint - wheel.axis_point, wheel.axis, swing)


def build(setup: SetupTable, car: CarTable, wheels: tuple[FrontWheel, FrontWheel]) -> CrossRod:
    """Fit the rod with both wheels at their static toe, then turn both its ends.

    setup, car : SetupTable, CarTable
    wheels : the left and the right wheel
    Returns the linkage; its hand angle is the left wheel's swing from straight ahead [rad].  Raises UnbuildableError.
    """
    left, right = wheels
    joint = arm_joint(setup, LEFT, left)
    point = _moved(left, joint, np.array([static_swing(LEFT, left, setup.toe_in)]))[0]
    turns = setup.rod_turns_left + setup.rod_turns_right
    swing = static_swing(RIGHT, right, setup.toe_in)
    return CrossRod(left, joint, fitted_rod(RIGHT, right, arm_joint(setup, RIGHT, right), swing, point, turns, setup))
