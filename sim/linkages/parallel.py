"""Parallel steering: both wheels always at one angle."""

import numpy as np

from sim.linkages.front_end import FrontEnd
from sim.linkages.kind import Hand, Kind
from sim.linkages.parts import SteerLaw


def alike(hand: np.ndarray) -> np.ndarray:
    """Angles of both wheels before toe.

    hand : (n,) [rad]
    Returns (n, 2), left and right [rad].
    """
    return np.stack([hand, hand], axis=1)


def build(front: FrontEnd) -> SteerLaw:
    """Wheels that turn alike.

    front : FrontEnd
    Returns the law; its hand angle is the angle of both wheels before toe [rad].
    """
    return SteerLaw(front.wheels, alike, front.stance.toe_in, even=True)


KIND = Kind("parallel", build, Hand.STEER)
