"""Ideal (Ackermann) steering: both wheels' axes always meet on the rear axle's line."""

from sim.linkages.front_end import FrontEnd
from sim.linkages.kind import Hand, Kind
from sim.linkages.laws import ShareLaw
from sim.linkages.parts import SteerLaw


def build(front: FrontEnd) -> SteerLaw:
    """Wheels that follow the ideal law, cot d_outer - cot d_inner = kingpin track / wheelbase.

    front : FrontEnd
    Returns the law; its hand angle is the equivalent single-track steer angle [rad].
    """
    return SteerLaw(front.wheels, ShareLaw(1.0, front.kingpin_track / 2 / front.wheelbase), front.stance.toe_in, even=True)


KIND = Kind("ideal", build, Hand.STEER, yardstick=True)
