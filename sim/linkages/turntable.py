"""Turntable axle: no linkage between the wheels, they swing together."""

from dataclasses import dataclass
from functools import cached_property
from math import radians

import numpy as np

from sim.linkages.front_end import FrontEnd
from sim.linkages.kind import Hand, Kind
from sim.linkages.parts import EVEN_SCAN, WithoutRods
from sim.linkages.pivots import FrontWheel


@dataclass(frozen=True, eq=False)
class Turntable(WithoutRods):
    """Both wheels swing with the axle.

    wheels : the left and the right wheel
    """

    wheels: tuple[FrontWheel, FrontWheel]
    hand_limit: float = radians(60)
    steps: int = EVEN_SCAN

    @cached_property
    def numbers(self) -> np.ndarray:  # type: ignore[override]
        """Both wheels, turned by the hand itself, as kernels read it [m or -]."""
        return np.stack([wheel.row for wheel in self.wheels])


def build(front: FrontEnd) -> Turntable:
    """The axle itself.

    front : FrontEnd with both wheels on the axle
    Returns the linkage; its hand angle is the axle's swing [rad].
    """
    return Turntable(front.wheels)


KIND = Kind("turntable", build, Hand.AXLE)
