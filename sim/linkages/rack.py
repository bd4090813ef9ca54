"""Rack: the hand wheel shifts a bar sideways, with a rod from each of its ends to a wheel."""

from dataclasses import dataclass
from math import radians

import numpy as np

from sim.keys import Dial, Share, Shown, Step
from sim.linkages.front_end import MOST_HAND_DEG, FrontEnd, millimetres
from sim.linkages.kind import Hand, Kind
from sim.linkages.parts import Guide, TwoRods, joint_height, two_rods
from sim.linkages.pivots import SIGNS

HAND_LIMIT = radians(450)
FARTHEST = radians(MOST_HAND_DEG)
ALONG = "rack_behind_front_axle_mm"


@dataclass(frozen=True)
class Bar:
    """What is its own.

    behind_front_axle : of its joints [m]
    length : between its joints [m]
    travel : sideways for each radian of the hand wheel [m/rad]
    """

    behind_front_axle: float = millimetres(ALONG, -1500, 1500, "the rack's joints behind the front axle", needed=True,
                                      usual=107.0, search=Step(60.0), dial=Dial("rack behind axle", "mm", 1.0), common=(-300.0, 300.0),
                                      measure="front axle's line back to the rack's joints, seen from above; ahead is below 0",
                                      shown=Shown("corner", "axle", "back"))  # fmt: skip
    length: float = millimetres("rack_length_mm", 10, 2000, "the rack's length between its joints", needed=True, usual=240.0,
                           search=Share(0.7, 1.3), dial=Dial("rack length", "mm", 1.0), common=(60.0, 800.0),
                           measure="the rack, from the middle of one end's joint to that of the other",
                           shown=Shown("behind", "inner", "inside"))  # fmt: skip
    travel: float = millimetres("rack_mm_per_turn", 1, 1000, "the rack's travel in one turn of the hand wheel", needed=True, usual=90.0,
                           words="rack travel a turn", common=(30.0, 300.0),
                           measure="how far the rack moves while the hand wheel turns once round")  # fmt: skip


def build(front: FrontEnd) -> TwoRods:
    """Fit both rods with the rack in the middle, its ends as high as the arms' joints.

    front : FrontEnd with arms and a Bar
    Returns the linkage; its hand angle is the hand wheel's [rad].  Raises UnbuildableError.
    """
    bar: Bar = front.own
    left, right = (np.array([-bar.behind_front_axle, side * (bar.length / 2), joint_height(front)]) for side in SIGNS)
    return two_rods(front, (left, right), lambda direction: Guide(slide=(0.0, direction * bar.travel, 0.0)), HAND_LIMIT, FARTHEST)


KIND = Kind("rack", build, Hand.HAND_WHEEL, own=Bar, rods=True, common_ratio=(2.0, 15.0), along=ALONG)
