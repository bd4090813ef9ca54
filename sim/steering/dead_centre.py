"""Where a rod and its arm come in line: beyond the usable lock the steering can snap over or jam, so a stop belongs before it."""

from collections.abc import Callable
from dataclasses import dataclass
from math import tan

import numpy as np

from sim.linkages.closed_form import Turn
from sim.linkages.pivots import SIDES, SIGNS
from sim.steering.arrangement import Steering, is_danger, last_before

# Angle that counts as in line: where a rod no longer reaches, rounding leaves some 1e-16 of either sign. [rad]
IN_LINE = 1e-9


@dataclass(frozen=True)
class DeadCentre:
    """A place where a rod turns its wheel no more."""

    hand: float  # angle of the hand wheel, below 0 to the right [rad]
    side: str  # whose arm it is, "left" or "right"
    stop: float  # hand angle at the usable lock before it, where a stop has to hold the hand wheel [rad]
    danger: float  # hand angle at which the angle of rod and arm falls to the least: the lock, but for a stop that stands before it [rad]


def dead_centres(steering: Steering) -> tuple[DeadCentre | None, DeadCentre | None]:
    """The first dead centre that the hand wheel meets to the left and to the right, also beyond the locks.

    steering : Steering
    Returns (to the left, to the right) [rad]; None where no rod comes in line within `farthest` of the linkage.  Source: the hand angles
    at which the transmission angle of `Rod.angle` falls to 0, and to the set-up's least, by a search.
    """

    def falls_to(slope: float) -> Callable[[np.ndarray], tuple[int, int]]:
        def first(hand: np.ndarray) -> tuple[int, int]:
            turns = steering.mechanism.turning(hand)
            found = turns[:, Turn.PRESS] <= slope * np.abs(turns[:, Turn.ALONG])
            first = int(np.argmax(np.append(found.any(axis=0), True)))
            return first, 0 if first == len(hand) else 1 + int(np.argmax(found[:, first]))

        return first

    found = []
    locks = (steering.lock_left, steering.lock_left_cause), (steering.lock_right, steering.lock_right_cause)
    for sign, (lock, cause) in zip(SIGNS, locks, strict=True):
        limit, steps = sign * steering.mechanism.farthest, steering.mechanism.steps
        hand, side = last_before(limit, falls_to(IN_LINE), steps)
        # Where the range ends for that very reason it has been sought already.
        danger = lock if is_danger(cause) else last_before(limit, falls_to(tan(steering.least_rod_angle)), steps)[0]
        found.append(DeadCentre(hand, SIDES[side - 1], lock, sign * max(abs(lock), abs(danger))) if side else None)
    return found[0], found[1]
