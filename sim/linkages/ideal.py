"""Ideal (Ackermann) steering: both wheels' axes always meet on the rear axle's line."""

from dataclasses import dataclass

import numpy as np

from sim.linkages.front_end import FrontEnd
from sim.linkages.kind import Hand, Kind
from sim.linkages.parts import SteerLaw
from sim.linkages.pivots import SIGNS
from sim.linkages.rolling import rolling_steer


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

    def motion(self, hand: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Angles of both wheels, and their rate with the hand angle.

        hand : (n,) [rad]
        Returns both, (n, 2) each [rad], [-].  Source: derivative of the law.
        """
        sine, cosine = np.sin(hand), np.cos(hand)
        squares = [sine**2 + (cosine - side * self.half_track / self.wheelbase * sine) ** 2 for side in SIGNS]
        return self(hand), 1 / np.stack(squares, axis=1)


def build(front: FrontEnd) -> SteerLaw:
    """Wheels that follow the ideal law.

    front : FrontEnd
    Returns the law; its hand angle is the equivalent single-track steer angle [rad].
    """
    return SteerLaw(front.wheels, Ideal(front.kingpin_track / 2, front.wheelbase), front.stance.toe_in, even=True)


KIND = Kind("ideal", build, Hand.STEER, yardstick=True)
