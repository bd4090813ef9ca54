"""Centre arm: a drop arm on the steering column swings across the car and moves a rod to each wheel."""

from dataclasses import dataclass
from math import radians

import numpy as np

from sim.keys import MILLIMETRE, Dial, Share, Step
from sim.linkages.closed_form import ROWS, Circle, carried, turn_by_hand
from sim.linkages.front_end import FrontEnd, millimetres
from sim.linkages.kind import Hand, Kind
from sim.linkages.parts import TwoRods, UnbuildableError, joint_height, two_rods
from sim.linkages.pivots import SIGNS

HAND_LIMIT = radians(90)  # where the drop arm stands straight out; beyond it the rods come back


PIVOT_HEIGHT = "drop_arm_pivot_height_mm"


@dataclass(frozen=True)
class DropArm:
    """What is its own; straight ahead the arm hangs down.

    length : from the column's axis to the rods' joints [m]
    behind_front_axle : of the joints [m]
    joint_spacing : between the two rods' joints [m]
    pivot_height : of the column's axis there [m]; None brings the joints level with those of the arms on the wheels
    """

    length: float = millimetres("drop_arm_length_mm", 5, 800, "the drop arm from column axis to joint", needed=True, usual=70.0,
                           search=Share(0.6, 1.6), dial=Dial("drop arm", "mm", 1.0))  # fmt: skip
    behind_front_axle: float = millimetres("drop_arm_behind_front_axle_mm", -1500, 1500, "the drop arm's joint behind the front axle",
                                      needed=True, usual=107.0, search=Step(60.0),
                                      dial=Dial("drop arm behind axle", "mm", 1.0))  # fmt: skip
    joint_spacing: float = millimetres("drop_arm_joint_spacing_mm", 0, 1000, "the distance between the two rods' joints", 0.0)
    pivot_height: float | None = millimetres(PIVOT_HEIGHT, 1, 2000, "the height of the drop arm's pivot")


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
        return self.motion(hand)[0]

    def motion(self, hand: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Displacement of the joint, and its rate with the hand angle.

        hand : (n,) [rad]
        Returns both, (n, 3) each [m], [m/rad].
        """
        up, aside = (0.0, 0.0, self.length), (0.0, self.direction * self.length, 0.0)
        turn, places, speeds = np.empty((ROWS, len(hand))), np.empty((len(hand), 3)), np.empty((len(hand), 3))
        turn_by_hand(hand, turn)
        carried(Circle(up, (0.0, 0.0, -self.length), aside), turn, places, speeds)
        return places, speeds


def build(front: FrontEnd) -> TwoRods:
    """Fit both rods with the drop arm hanging straight down.

    front : FrontEnd with arms and a DropArm
    Returns the linkage; its hand angle is the column's [rad].  Raises UnbuildableError.
    """
    arm: DropArm = front.own
    height = joint_height(front) if arm.pivot_height is None else arm.pivot_height - arm.length
    if height <= 0:
        raise UnbuildableError(
            PIVOT_HEIGHT,
            f"the drop arm would reach {-height / MILLIMETRE:.0f} mm into the ground",
            "raise the pivot or shorten the drop arm",
        )
    left, right = (np.array([-arm.behind_front_axle, side * (arm.joint_spacing / 2), height]) for side in SIGNS)
    return two_rods(front, (left, right), lambda direction: Swing(arm.length, direction), HAND_LIMIT, HAND_LIMIT)


KIND = Kind("centre arm", build, Hand.HAND_WHEEL, own=DropArm, rods=True, hangs=True)
