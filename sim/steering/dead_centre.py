"""Where a rod and its arm come in line: beyond the usable lock the steering can snap over or jam, so a stop belongs before it."""

from dataclasses import dataclass

import numpy as np

from sim.linkages.closed_form import Turn
from sim.linkages.pivots import SIDES, SIGNS
from sim.steering.arrangement import Steering, last_before

# Angle that counts as in line: where a rod no longer reaches, rounding leaves some 1e-16 of either sign. [rad]
IN_LINE = 1e-9


@dataclass(frozen=True)
class DeadCentre:
    """A place where a rod turns its wheel no more."""

    hand: float  # angle of the hand wheel, below 0 to the right [rad]
    side: str  # whose arm it is, "left" or "right"
    stop: float  # hand angle at the usable lock before it, where a stop has to hold the hand wheel [rad]


def dead_centres(steering: Steering) -> tuple[DeadCentre | None, DeadCentre | None]:
    """The first dead centre that the hand wheel meets to the left and to the right, also beyond the locks.

    steering : Steering
    Returns (to the left, to the right) [rad]; None where no rod comes in line within `farthest` of the linkage.  Source: the hand angle
    at which the transmission angle of `Rod.angle` falls to 0, by a search.
    """

    def in_line(hand: np.ndarray) -> tuple[int, int]:
        turns = steering.mechanism.turning(hand)
        found = turns[:, Turn.PRESS] <= IN_LINE * np.abs(turns[:, Turn.ALONG])
        first = int(np.argmax(np.append(found.any(axis=0), True)))
        return first, 0 if first == len(hand) else 1 + int(np.argmax(found[:, first]))

    found = []
    for sign, lock in zip(SIGNS, (steering.lock_left, steering.lock_right), strict=True):
        hand, side = last_before(sign * steering.mechanism.farthest, in_line, steering.mechanism.steps)
        found.append(DeadCentre(hand, SIDES[side - 1], lock) if side else None)
    return found[0], found[1]
