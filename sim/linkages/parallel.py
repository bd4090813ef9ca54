"""Parallel steering: both wheels always at one angle."""

import numpy as np

from sim.scenario.car import CarTable
from sim.scenario.setup import SetupTable
from sim.linkages.parts import SteerLaw
from sim.linkages.pivots import FrontWheel


def alike(hand: np.ndarray) -> np.ndarray:
    """Angles of both wheels before toe.

    hand : (n,) [rad]
    Returns (n, 2), left and right [rad].
    """
    return np.stack([hand, hand], axis=1)


def build(setup: SetupTable, car: CarTable, wheels: tuple[FrontWheel, FrontWheel]) -> SteerLaw:
    """Wheels that turn alike.

    setup, car : SetupTable, CarTable
    wheels : the left and the right wheel
    Returns the law; its hand angle is the angle of both wheels before toe [rad].
    """
    return SteerLaw(wheels, alike, setup.toe_in)
