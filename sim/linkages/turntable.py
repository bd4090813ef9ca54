"""Turntable axle: no linkage between the wheels, they swing together."""

from dataclasses import dataclass
from math import radians

import numpy as np

from sim.linkages.closed_form import ROWS, turn_by_hand
from sim.linkages.front_end import FrontEnd
from sim.linkages.kind import Hand, Kind
from sim.linkages.parts import EVEN_SCAN, WithoutRods


@dataclass(frozen=True)
class Turntable(WithoutRods):
    """Both wheels swing with the axle."""

    hand_limit: float = radians(60)
    steps: int = EVEN_SCAN

    def swings(self, hand: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        swing = np.stack([hand, hand], axis=1)
        return swing, np.ones_like(swing)

    def turning(self, hand: np.ndarray) -> np.ndarray:
        turns = np.empty((2, ROWS, len(hand)))
        for turn in turns:
            turn_by_hand(hand, turn)
        return turns


def build(front: FrontEnd) -> Turntable:
    """The axle itself.

    front : FrontEnd with both wheels on the axle
    Returns the linkage; its hand angle is the axle's swing [rad].
    """
    return Turntable()


KIND = Kind("turntable", build, Hand.AXLE)
