"""Ideal (Ackermann) steering: both wheels' axes always meet on the rear axle's line."""

from dataclasses import dataclass

import numpy as np

from sim.scenario.car import CarTable
from sim.scenario.setup import SetupTable
from sim.scenario.tables import MILLIMETRE
from sim.linkages.parts import SteerLaw
from sim.linkages.rolling import rolling_steer
from sim.linkages.pivots import SIGNS, FrontWheel


@dataclass(frozen=True)
class Ideal:
    """The law cot d_outer - cot d_inner = kingpin track / wheelbase.

    half_track : half the kingpin track [m]
    wheelbase : [m]
    """

    half_track: float
    wheelbase: float

    def __call__(self, hand: np.ndarray) -> np.ndarray:
        """Angles of both wheels before toe.

        hand : (n,) [rad]
        Returns (n, 2), left and right [rad].
        """
        return np.stack([rolling_steer(hand, side * self.half_track, self.wheelbase) for side in SIGNS], axis=1)


def build(setup: SetupTable, car: CarTable, wheels: tuple[FrontWheel, FrontWheel]) -> SteerLaw:
    """Wheels that follow the ideal law.

    setup, car : SetupTable, CarTable
    wheels : the left and the right wheel
    Returns the law; its hand angle is the equivalent single-track steer angle [rad].
    """
    law = Ideal(car.kingpin_track_mm * MILLIMETRE / 2, car.wheelbase_mm * MILLIMETRE)
    return SteerLaw(wheels, law, setup.toe_in)
