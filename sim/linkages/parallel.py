"""Parallel steering: both wheels always at one angle."""

from sim.linkages.front_end import FrontEnd
from sim.linkages.kind import Hand, Kind
from sim.linkages.laws import ShareLaw
from sim.linkages.parts import SteerLaw


def build(front: FrontEnd) -> SteerLaw:
    """Wheels that turn alike.

    front : FrontEnd
    Returns the law; its hand angle is the angle of both wheels before toe [rad].
    """
    return SteerLaw(front.wheels, ShareLaw(0.0, front.kingpin_track / 2 / front.wheelbase), front.stance.toe_in, even=True)


KIND = Kind("parallel", build, Hand.STEER)
