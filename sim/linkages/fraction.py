"""A share of ideal steering: the difference of the wheels' angles is p times the ideal one at the same mean angle."""

from dataclasses import dataclass

from sim.keys import Dial, Span
from sim.linkages.front_end import FrontEnd, number
from sim.linkages.kind import Hand, Kind
from sim.linkages.laws import ShareLaw
from sim.linkages.parts import SteerLaw


@dataclass(frozen=True)
class Share:
    """What is its own: the share of the ideal difference [-]."""

    share: float = number("fraction", -2, 2, "0 is parallel, 1 ideal, below 0 reversed", needed=True, usual=0.5, search=Span(-0.5, 1.5),
                          dial=Dial("share of ideal", "", 0.05))  # fmt: skip


def build(front: FrontEnd) -> SteerLaw:
    """Wheels that follow a fraction of ideal steering.

    front : FrontEnd with a Share
    Returns the law; its hand angle is the equivalent single-track steer angle before toe [rad].
    """
    law = ShareLaw(front.own.share, front.kingpin_track / 2 / front.wheelbase)
    return SteerLaw(front.wheels, law, front.stance.toe_in, law.end, even=True)


KIND = Kind("fraction", build, Hand.STEER, own=Share, yardstick=True)
