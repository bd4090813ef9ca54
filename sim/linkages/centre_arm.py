"""Centre arm: a drop arm on the steering column swings across the car and moves a rod to each wheel."""

from dataclasses import dataclass
from math import radians

import numpy as np

from sim.keys import MILLIMETRE, Dial, Share, Shown, Step
from sim.linkages.front_end import FrontEnd, millimetres
from sim.linkages.kind import Hand, Hanging, Kind
from sim.linkages.parts import Guide, TwoRods, UnbuildableError, joint_height, two_rods
from sim.linkages.pivots import SIGNS

HAND_LIMIT = radians(90)  # where the drop arm stands straight out; beyond it the rods come back


ALONG = "drop_arm_behind_front_axle_mm"
PIVOT_HEIGHT = "drop_arm_pivot_height_mm"
T_SHAPED = ". Not for a T-shaped arm, which turns: at 40 mm 1.7 deg a wheel off, hand at 30"


@dataclass(frozen=True)
class DropArm:
    """What is its own; straight ahead the arm hangs down.

    length : from the column's axis to the rods' joints [m]
    behind_front_axle : of the joints [m]
    joint_spacing : between the two rods' joints [m]
    pivot_height : of the column's axis there [m]; None brings the joints level with those of the arms on the wheels
    """

    length: float = millimetres("drop_arm_length_mm", 5, 800, "the drop arm from column axis to joint", needed=True, usual=70.0,
                           search=Share(0.6, 1.6), dial=Dial("drop arm", "mm", 1.0), common=(30.0, 200.0),
                           measure="the drop arm: axis of the steering column to the middle of the rods' joint",
                           shown=Shown("behind", "inner", "up"))  # fmt: skip
    behind_front_axle: float = millimetres(ALONG, -1500, 1500, "the drop arm's joint behind the front axle",
                                      needed=True, usual=107.0, search=Step(60.0),
                                      dial=Dial("drop arm behind axle", "mm", 1.0), common=(-300.0, 300.0),
                                      measure="front axle's line back to the drop arm's joint, from above; ahead is below 0",
                                      shown=Shown("corner", "axle", "back"))  # fmt: skip
    joint_spacing: float = millimetres("drop_arm_joint_spacing_mm", 0, 1000, "the distance between the two rods' joints", 0.0,
                                  common=(0.0, 200.0),
                                  measure="between the two rods' joints on the drop arm; 0 where both share a bolt" + T_SHAPED,
                                  shown=Shown("behind", "inner", "inside"))  # fmt: skip
    pivot_height: float | None = millimetres(PIVOT_HEIGHT, 1, 2000, "the height of the drop arm's pivot", common=(100.0, 900.0),
                                        measure="ground to the axis of the steering column, at the drop arm",
                                        left_out="so high that the drop arm's joint is level with those of the arms",
                                        shown=Shown("behind", "ground", "up"))  # fmt: skip


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

    def swing(direction: float) -> Guide:
        """Across the car: length x sin(hand) sideways, length x (1 - cos(hand)) up."""
        return Guide((0.0, 0.0, -arm.length), (0.0, direction * arm.length, 0.0))

    return two_rods(front, (left, right), swing, HAND_LIMIT, HAND_LIMIT)


def hanging(arm: DropArm) -> Hanging:
    """arm : of a set-up.  Returns the arm and its joints as a builder sees them hang."""
    return Hanging(arm.length, arm.joint_spacing)


KIND = Kind("centre arm", build, Hand.HAND_WHEEL, own=DropArm, rods=True, hangs=hanging, also_called=("drop arm",), along=ALONG)
