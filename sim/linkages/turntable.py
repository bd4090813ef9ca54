"""Turntable axle: no linkage between the wheels, they swing together."""

from dataclasses import dataclass
from math import radians

import numpy as np

from sim.scenario.car import CarTable
from sim.scenario.setup import SetupTable
from sim.linkages.parts import WithoutRods
from sim.linkages.pivots import FrontWheel


@dataclass(frozen=True)
class Turntable(WithoutRods):
    """Both wheels swing with the axle."""

    hand_limit: float = radians(60)

    def swings(self, hand):
        swing = np.stack([hand, hand], axis=1)
        return swing, np.ones_like(swing)


def build(setup: SetupTable, car: CarTable, wheels: tuple[FrontWheel, FrontWheel]) -> Turntable:
    """The axle itself.

    setup, car : SetupTable, CarTable
    wheels : the left and the right wheel, on the axle
    Returns the linkage; its hand angle is the axle's swing [rad].
    """
    return Turntable()
