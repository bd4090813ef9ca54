"""Cross rod: one rod joins the arms of the two wheels, and the hand turns the left wheel."""

from dataclasses import dataclass
from math import radians

import numpy as np

from sim.scenario.car import CarTable
from sim.scenario.setup import SetupTable
from sim.linkages.parts import Rod, arm_joint, fitted_rod, static_swing
from sim.linkages.pivots import LEFT, RIGHT, FrontWheel, rotated


@dataclass(frozen=True, eq=False)
class CrossRod:
    """The left arm's joint moves the rod, the rod swings the right wheel.

    left : the left wheel
    joint : (3,) its arm's joint at swing 0 [m]
    rod : to the right wheel
    back : the same rod as the left arm holds it, for the road turns either wheel
    """

    left: FrontWheel
    joint: np.ndarray
    rod: Rod
    back: Rod
    hand_limit: float = radians(60)
    farthest: float = radians(90)  # the left wheel then stands square across the car

    @property
    def rod_lengths(self) -> dict[str, float]:
        """The one rod's [m]."""
        return {"cross rod": self.rod.length}

    def rod_angles(self, hand, swing):
        near = _moved(self.left, self.joint, swing[:, LEFT])
        far = _moved(self.rod.wheel, self.rod.joint, swing[:, RIGHT])
        return np.stack([self.back.angle(far, swing[:, LEFT]), self.rod.angle(near, swing[:, RIGHT])], axis=1)

    def swings(self, hand):
        swing, reach = self.rod.swing(_moved(self.left, self.joint, hand))
        return np.stack([hand, swing], axis=1), np.stack([np.ones_like(reach), reach], axis=1)


def _moved(wheel: FrontWheel, joint: np.ndarray, swing: np.ndarray) -> np.ndarray:
    return wheel.axis_point + rotated(joint - wheel.axis_point, wheel.axis, swing)


def joined(setups: tuple[SetupTable, SetupTable], wheels: tuple[FrontWheel, FrontWheel]) -> CrossRod:
    """Fit the rod between two arms that may differ.

    setups : SetupTable whose arm the left and the right wheel has; toe, turns and thread are those of the first
    wheels : the left and the right wheel
    Returns the linkage; its hand angle is the left wheel's swing from straight ahead [rad].  Raises UnbuildableError.
    """
    toe_in, turns = setups[LEFT].toe_in, setups[LEFT].rod_turns_left + setups[LEFT].rod_turns_right
    joints = [arm_joint(setups[side], side, wheels[side]) for side in (LEFT, RIGHT)]
    swings = [static_swing(side, wheels[side], toe_in) for side in (LEFT, RIGHT)]
    places = [_moved(wheels[side], joints[side], np.array([swings[side]]))[0] for side in (LEFT, RIGHT)]
    rod, back = (
        fitted_rod(side, wheels[side], joints[side], swings[side], places[1 - side], turns, setups[LEFT]) for side in (RIGHT, LEFT)
    )
    return CrossRod(wheels[LEFT], joints[LEFT], rod, back)


def build(setup: SetupTable, car: CarTable, wheels: tuple[FrontWheel, FrontWheel]) -> CrossRod:
    """Fit the rod with both wheels at their static toe, then turn both its ends.

    setup, car : SetupTable, CarTable
    wheels : the left and the right wheel
    Returns the linkage; its hand angle is the left wheel's swing from straight ahead [rad].  Raises UnbuildableError.
    """
    return joined((setup, setup), wheels)
