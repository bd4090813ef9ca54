"""Maps of the steady turn: every set-up over radius and speed, and where turns end."""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from sim.chassis import GRAVITY, Car
from sim.compiled import kernel
from sim.cornering import BALANCED, find_turn, rolling_guess, steady_turn
from sim.lap import hands_of
from sim.motion import (
    BODY_COLUMNS, DRIVE_POWER, LATERAL, LATERAL_LOSS, LIFTED, LOAD, LONGITUDINAL, LONGITUDINAL_LOSS, WHEEL_COLUMNS,
)  # fmt: skip
from sim.race import TELL_APART
from sim.steering import SteerTable

SLIDING_SHARE = 1 - 1e-9  # of a wheel's grip, from which it counts as sliding: the friction circle cuts the force exactly to the grip


class State(IntEnum):
    """What a car does at a radius and a speed."""

    ROLLS = 0  # all four wheels carry and grip
    LIFTED = 1  # one wheel is off the ground
    SLIDES = 2  # a wheel has no grip left, but the turn is held
    NO_GRIP = 3  # the grip does not hold this turn
    TIPS = 4
    LOCKED = 5  # the lock is too small for the radius
    UNKNOWN = 6  # no equilibrium was found, for none of these reasons


_REASONS = {"tips over": State.TIPS, "not enough grip": State.NO_GRIP, "the lock is too small for this radius": State.LOCKED}


@dataclass(frozen=True)
class TurnMap:
    """One set-up's steady turns; arrays are (radii, speeds), NaN where there is no such turn."""

    scrub: np.ndarray  # lateral and longitudinal slip loss [W]
    drive: np.ndarray  # power of the driven wheels [W]
    state: np.ndarray  # State of each


@kernel
def sweep(car, hands, curvature, speeds, start, scrub, drive, state):
    """Steady turns of one radius at rising speeds, each begun from the one before, until there is none.

    car : Car; hands : Hands; curvature : of the path [1/m]; speeds : (n,) rising, above 0 [m/s]
    start : (3,) guess at the lowest speed, see `sim.cornering.turn_misses`
    scrub, drive : (n,) written while turns are found [W]; state : (n,) written, State
    Returns how many were found.
    """
    steers, slips, unknown, before = np.empty(4), np.empty(4), start.copy(), start.copy()
    wheels, body = np.zeros((4, WHEEL_COLUMNS)), np.zeros(BODY_COLUMNS)
    for j in range(len(speeds)):
        begun = unknown.copy()
        if j > 1:  # goes on as the last two did, evenly in the square of the speed
            ahead = (speeds[j] ** 2 - speeds[j - 1] ** 2) / (speeds[j - 1] ** 2 - speeds[j - 2] ** 2)
            unknown += ahead * (unknown - before)
            unknown[1] = min(max(unknown[1], hands.least), hands.most)
        miss = find_turn(car, hands, speeds[j], curvature, unknown, steers, slips, wheels, body)
        if not miss <= 10.0 * BALANCED:
            unknown[:] = begun
            miss = find_turn(car, hands, speeds[j], curvature, unknown, steers, slips, wheels, body)
        if not miss <= 10.0 * BALANCED or body[LIFTED] > 1.5:
            return j
        before[:] = begun
        scrub[j] = drive[j] = 0.0
        state[j] = 1 if body[LIFTED] > 0.5 else 0
        for i in range(4):
            grip = (car.front_tyre if i < 2 else car.rear_tyre).friction * wheels[i, LOAD]
            if grip > 0.0 and np.hypot(wheels[i, LATERAL], wheels[i, LONGITUDINAL]) >= SLIDING_SHARE * grip:
                state[j] = 2
            scrub[j] += wheels[i, LATERAL_LOSS] + wheels[i, LONGITUDINAL_LOSS]
        drive[j] = body[DRIVE_POWER]
    return len(speeds)


def turn_map(car: Car, table: SteerTable, radii: np.ndarray, speeds: np.ndarray) -> TurnMap:
    """A set-up's steady turns over radius and speed.

    car : Car; table : SteerTable
    radii : (n,) of the mass centre's path, positive to the left, none 0 [m]; speeds : (m,) rising, above 0 [m/s]
    Returns a TurnMap.  Where the turns of a radius end, `sim.cornering.steady_turn` names the limit, once a radius; at higher speeds
    it is taken to be the same.  Raises ValueError for a radius of 0 or speeds that do not rise from above 0.
    """
    radii, speeds = np.asarray(radii, dtype=float), np.asarray(speeds, dtype=float)
    if not (np.all(radii != 0) and speeds[0] > 0 and np.all(np.diff(speeds) > 0)):
        raise ValueError("a map needs radii that are not 0 and speeds that rise from above 0")
    hands, shape = hands_of(table), (len(radii), len(speeds))
    scrub, drive, state = np.full(shape, np.nan), np.full(shape, np.nan), np.full(shape, int(State.UNKNOWN))
    for i, radius in enumerate(radii):
        start = rolling_guess(car, hands, 1 / radius)
        found = sweep(car, hands, 1 / radius, speeds, start, scrub[i], drive[i], state[i])
        while found < len(speeds):
            # The thorough way decides; where it finds a turn after all, the sweep goes on behind it.
            turn = steady_turn(car, table, float(radius), float(speeds[found]))
            if not turn.converged:
                state[i, found:] = _REASONS.get(turn.reason, State.UNKNOWN)
                break
            start = np.array([turn.sideslip, 0.5 * (turn.steers[0] + turn.steers[1]), turn.drive_force / (car.mass * GRAVITY)])
            more = sweep(car, hands, 1 / radius, speeds[found:], start, scrub[i, found:], drive[i, found:], state[i, found:])
            if more == 0:
                state[i, found:] = State.UNKNOWN
                break
            found += more
    return TurnMap(scrub, drive, state)


def level_with_best(maps: list[TurnMap]) -> np.ndarray:
    """Which set-ups need no more drive power than the best, as far as they can be told apart.

    maps : one a set-up, all over the same radii and speeds
    Returns (set-ups, radii, speeds), True where the set-up drives the turn and needs at most TELL_APART more than the least power [-].
    """
    drive = np.stack([np.where(np.isnan(one.drive), np.inf, one.drive) for one in maps])
    return np.isfinite(drive) & (drive <= (1 + TELL_APART) * drive.min(axis=0))
