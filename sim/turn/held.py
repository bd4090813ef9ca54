"""The steady turn that a held hand wheel makes at a speed: its radius is what comes out."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import hypot, tan

import numpy as np

from sim.car.chassis import Car
from sim.steering.table import SteerColumn, SteerTable
from sim.turn.causes import MORE_LOCK, Cause, widened
from sim.turn.steady import SteadyTurn, steady_turn

# The hand angle is met this nearly: a thousandth of what a picture shows, ten thousand times what `BALANCED` leaves of it. [rad]
HELD = 1e-8
SECANTS = 12  # of the quick way; four are usual
FIRST_CHANGE = 1e-4  # of the curvature, from which the first slope comes [1/m]
# Where the quick way fails: shares of the rolling car's curvature, among which the turn is looked for, and how often their gap is halved;
# a turn in the last thousandths before turns end is not looked for.
SHARES, HALVINGS, ENDED = (0.25, 0.5, 0.75, 1.0, 1.25, 1.6, 2.0, 4.0), 50, 3e-3
LEAST_REACH = 0.05  # in place of the rolling car's curvature where that is less: one driven wheel turns a car by itself [1/m]


@dataclass(frozen=True)
class HeldTurn:
    """A steady turn at a hand angle.

    curvature : of the mass centre's path, positive to the left; NaN where there is no turn [1/m]
    turn : SteadyTurn; where it has not converged its `reason` says which limit was met
    """

    curvature: float
    turn: SteadyTurn


def held_turn(car: Car, table: SteerTable, hand: float, speed: float) -> HeldTurn:
    """The steady turn in which the hand wheel stands at an angle.

    car : Car; table : SteerTable
    hand : positive to the left; beyond the table's ends it is taken as standing there [rad]
    speed : of the mass centre, above 0 [m/s]
    Returns HeldTurn: of several turns the one that grows out of wider ones.  Source: `steady_turn`, whose hand angle is met by secants,
    from the curvature of a rolling bicycle on, k = tan(d) / hypot(l, b tan(d)), b the mass centre's distance from the rear axle; where
    they fail, by halving.  Raises ValueError for a speed that is not above 0.
    """
    nodes = np.append(table.cells[:, SteerColumn.HAND, 0], table.cells[-1, SteerColumn.HAND].sum())
    hand = min(max(hand, float(nodes[0])), float(nodes[-1]))
    steer = float(np.interp(hand, nodes, table.first + table.spacing * np.arange(len(nodes))))
    rolling = tan(steer) / hypot(car.wheelbase, (car.wheelbase - car.front_arm) * tan(steer))
    free = widened(table, MORE_LOCK)  # so that a turn just beyond the lock is still found on the way to one just before it

    def at(curvature: float) -> SteadyTurn:
        return steady_turn(car, free, 1 / curvature if curvature else np.inf, speed)

    reach = max(abs(rolling), LEAST_REACH)
    return _by_secants(at, rolling, SHARES[-1] * reach, hand) or _by_halving(at, reach, hand)


def _by_secants(at: Callable[[float], SteadyTurn], rolling: float, most: float, hand: float) -> HeldTurn | None:
    """None where a turn on the way is not found, or the way leads elsewhere."""
    before, curvature = None, rolling
    for _ in range(SECANTS):
        turn = at(curvature)
        if not turn.converged:
            return None
        miss = turn.hand - hand
        if abs(miss) <= HELD:
            return HeldTurn(curvature, turn)
        if before is None:
            step = FIRST_CHANGE
        elif miss == before[1]:
            return None
        else:
            step = -miss * (curvature - before[0]) / (miss - before[1])
        before, curvature = (curvature, miss), curvature + step
        if abs(curvature) > most:
            return None
    return None


def _by_halving(at: Callable[[float], SteadyTurn], reach: float, hand: float) -> HeldTurn:
    """From wider turns to tighter ones, up to the first in which the hand wheel stands as far, or to where turns end."""
    turn = at(0.0)
    if not turn.converged:
        return HeldTurn(np.nan, turn)
    side = 1.0 if hand >= turn.hand else -1.0
    low = high = 0.0
    for share in SHARES:
        low, high = high, side * share * reach
        turn = at(high)
        if not turn.converged or side * (turn.hand - hand) >= 0:
            break
    beyond = turn
    for _ in range(HALVINGS):
        if not beyond.converged and abs(high - low) <= ENDED * reach:
            break
        middle = (low + high) / 2
        turn = at(middle)
        if turn.converged and abs(turn.hand - hand) <= HELD:
            return HeldTurn(middle, turn)
        if turn.converged and side * (turn.hand - hand) < 0:
            low = middle
        else:
            high, beyond = middle, turn
    # A car that follows the tightest of these turns with less hand than that slides at its rear axle.
    return HeldTurn(np.nan, beyond if not beyond.converged else replace(beyond, converged=False, reason=Cause.REAR))
