"""Cross rod: one rod joins the arms of the two wheels, and the hand turns the left wheel."""

from dataclasses import dataclass
from functools import cached_property
from math import radians

import numpy as np

from sim.linkages.closed_form import Number, write_circle
from sim.linkages.front_end import FrontEnd
from sim.linkages.kind import Hand, Kind
from sim.linkages.mechanism import By
from sim.linkages.parts import SCAN, ByTurning, Drawing, Rod, arm_joint, fitted_rod, moved_joint, static_swing
from sim.linkages.pivots import LEFT, RIGHT, FrontWheel


@dataclass(frozen=True, eq=False)
class CrossRod(ByTurning):
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
    def rods(self) -> tuple[Rod, ...]:
        """The one rod."""
        return (self.rod,)

    @property
    def rod_lengths(self) -> dict[str, float]:
        """The one rod's [m]."""
        return {"cross rod": self.rod.length}

    def rod_angles(self, hand: np.ndarray, swing: np.ndarray) -> np.ndarray:
        near = moved_joint(self.left, self.joint, swing[:, LEFT])
        far = moved_joint(self.rod.wheel, self.rod.joint, swing[:, RIGHT])
        return np.stack([self.back.angle(far, swing[:, LEFT]), self.rod.angle(near, swing[:, RIGHT])], axis=1)

    @property
    def steps(self) -> int:
        """To the hand wheel's limit in the search for a lock [-]."""
        return SCAN

    @cached_property
    def numbers(self) -> np.ndarray:  # type: ignore[override]
        """The left wheel, which the hand turns and the rod ties, and the right one with its rod, as kernels read them [m or -]."""
        numbers = np.stack([self.back.row, self.rod.row])
        left, right = numbers
        left[Number.BY], left[Number.TIED] = By.HAND, 1.0
        for row, other in ((left, self.rod), (right, self.back)):
            wheel = other.wheel
            write_circle(row, Number.PATH.value, other.joint - wheel.axis_point, wheel.axis, wheel.axis_point)
        return numbers

    def drawn(self, hand: float, swing: np.ndarray) -> Drawing:
        wheels, places = (self.left, self.rod.wheel), (self.joint, self.rod.joint)
        joints = np.array([moved_joint(wheels[side], places[side], swing[[side]])[0, :2] for side in (LEFT, RIGHT)])
        return Drawing(joints, ((joints[LEFT], joints[RIGHT]),))


def build(front: FrontEnd) -> CrossRod:
    """Fit the rod with both wheels at their static toe, then turn both its ends.

    front : FrontEnd with arms, which may differ
    Returns the linkage; its hand angle is the left wheel's swing from straight ahead [rad].  Raises UnbuildableError.
    """
    wheels, sides = front.wheels, (LEFT, RIGHT)
    turns = front.ends.turns[LEFT] + front.ends.turns[RIGHT]
    joints = [arm_joint(front, side) for side in sides]
    swings = [static_swing(side, wheels[side], front.stance.toe_in) for side in sides]
    places = [moved_joint(wheels[side], joints[side], np.array([swings[side]]))[0] for side in sides]
    rod, back = (fitted_rod(side, wheels[side], joints[side], swings[side], places[1 - side], turns, front.ends) for side in (RIGHT, LEFT))
    return CrossRod(wheels[LEFT], joints[LEFT], rod, back)


KIND = Kind("cross rod", build, Hand.LEFT_WHEEL, rods=True)
