"""Maps of the steady turn: every set-up over radius and speed, and where turns end."""

from dataclasses import dataclass
from enum import IntEnum
from math import floor, inf

import numpy as np

from sim.car.chassis import Car
from sim.car.motion import BODY_COLUMNS, WHEEL_COLUMNS, BodyColumn, WheelColumn
from sim.judgements import TELL_APART
from sim.kernels.compiled import kernel
from sim.steering.cells import SteerCells, steer_cells_of
from sim.steering.table import SteerTable
from sim.turn.causes import Cause
from sim.turn.steady import BALANCED, JUMP, find_turn, rolling_guess, slides_or_lifts, steady_turn

SHARPNESS = 1e-4  # [m/s] of the speeds at which turns, or grip, end
LIMIT_STEP = 0.01  # [m/s] to which a limit that is told is rounded down


class State(IntEnum):
    """What a car does at a radius and a speed."""

    ROLLS = 0  # all four wheels carry and grip
    LIFTED = 1  # one wheel is off the ground
    SLIDES = 2  # a wheel has no grip left, but the turn is held
    NO_GRIP = 3  # the grip does not hold this turn
    TIPS = 4
    LOCKED = 5  # the lock is too small for the radius
    SPINS = 6  # a driven wheel has not grip enough to drive
    TOO_TIGHT = 7  # the rear axle is farther from the mass centre than the turn's centre


# The state that stands for each cause: in a map, which axle slides is too fine.
ENDS_OF = {
    Cause.TIPS: State.TIPS, Cause.FRONT: State.NO_GRIP, Cause.REAR: State.NO_GRIP, Cause.SPINS: State.SPINS, Cause.LOCK: State.LOCKED,
    Cause.TOO_TIGHT: State.TOO_TIGHT,
}  # fmt: skip


@dataclass(frozen=True)
class TurnMap:
    """One set-up's steady turns; arrays are (radii, speeds), NaN where there is no such turn."""

    scrub: np.ndarray  # lateral and longitudinal slip loss [W]
    drive: np.ndarray  # power of the driven wheels [W]
    state: np.ndarray  # State of each
    grips_to: np.ndarray  # (radii,) speed up to which all wheels carry and grip, 0 where at none, infinite beyond the speeds [m/s]
    ends_at: np.ndarray  # (radii,) speed at which the turns that begin with the slowest end, likewise [m/s]


@kernel
def sweep(car, steer_cells, curvature, speeds, first, start, places, scrub, drive, state):
    """Steady turns of one radius at rising speeds, each begun from the one before, until there is none.

    car : Car; steer_cells : SteerCells; curvature : of the path [1/m]; speeds : (n,) rising, above 0 [m/s]
    first : index of the speed to begin with; start : (3,) guess there, see `sim.turn.steady.turn_misses`
    places : (n, 3), scrub, drive : (n,) written while turns are found [W]; state : (n,) written, State
    Returns the index of the first speed without a turn, n where there is none.
    """
    steers, slips, unknown = np.empty(4), np.empty(4), start.copy()
    wheels, body = np.zeros((4, WHEEL_COLUMNS)), np.zeros(BODY_COLUMNS)
    for j in range(first, len(speeds)):
        miss = 1.0
        if j > first + 1:  # goes on as the last two did, evenly in the square of the speed
            ahead = (speeds[j] ** 2 - speeds[j - 1] ** 2) / (speeds[j - 1] ** 2 - speeds[j - 2] ** 2)
            unknown[:] = places[j - 1] + ahead * (places[j - 1] - places[j - 2])
            unknown[1] = min(max(unknown[1], steer_cells.least), steer_cells.most)
            miss = find_turn(car, steer_cells, speeds[j], curvature, unknown, steers, slips, wheels, body)
        if not miss <= 10.0 * BALANCED:
            unknown[:] = places[j - 1] if j > first else start
            miss = find_turn(car, steer_cells, speeds[j], curvature, unknown, steers, slips, wheels, body)
        if not miss <= 10.0 * BALANCED or body[BodyColumn.LIFTED] > 1.5 or (j > first and np.abs(unknown - places[j - 1]).max() > JUMP):
            return j
        places[j] = unknown
        scrub[j] = 0.0
        for i in range(4):
            scrub[j] += wheels[i, WheelColumn.LATERAL_LOSS] + wheels[i, WheelColumn.LONGITUDINAL_LOSS]
        drive[j] = body[BodyColumn.DRIVE_POWER]
        state[j] = slides_or_lifts(car, wheels, body)
    return len(speeds)


@kernel
def edge(car, steer_cells, curvature, low, high, place, grips):
    """The speed at which turns end, between one with a turn and one without, by steps that are halved.

    car : Car; steer_cells : SteerCells; curvature : of the path [1/m]; low, high : speeds [m/s]; place : (3,) the turn at `low`
    grips : whether turns in which a wheel lifts or slides count as none
    Returns the highest speed that was found to have a turn, at most SHARPNESS below the end [m/s].
    """
    steers, slips, last, unknown = np.empty(4), np.empty(4), place.copy(), place.copy()
    wheels, body = np.zeros((4, WHEEL_COLUMNS)), np.zeros(BODY_COLUMNS)
    step = 0.5 * (high - low)
    while step > 0.5 * SHARPNESS:
        unknown[:] = last
        miss = find_turn(car, steer_cells, low + step, curvature, unknown, steers, slips, wheels, body)
        turns = miss <= 10.0 * BALANCED and body[BodyColumn.LIFTED] < 1.5 and np.abs(unknown - last).max() <= JUMP
        if low + step < high and turns and not (grips and slides_or_lifts(car, wheels, body) != 0):
            low, last[:] = low + step, unknown
        else:
            step *= 0.5
    return low


def turn_map(car: Car, table: SteerTable, radii: np.ndarray, speeds: np.ndarray) -> TurnMap:
    """A set-up's steady turns over radius and speed.

    car : Car; table : SteerTable
    radii : (n,) of the mass centre's path, positive to the left, none 0 [m]; speeds : (m,) rising, above 0 [m/s]
    Returns a TurnMap.  Where the turns of a radius end, `sim.turn.steady.steady_turn` has the last word and names the limit; at higher
    speeds the limit is taken to be the same, but for turns near those of the next wider radius, or near rolling beyond a small lock.
    Raises ValueError for a radius of 0 or speeds that do not rise from above 0.
    """
    radii, speeds = np.asarray(radii, dtype=float), np.asarray(speeds, dtype=float)
    if not (np.all(radii != 0) and speeds[0] > 0 and np.all(np.diff(speeds) > 0)):
        raise ValueError("a map needs radii that are not 0 and speeds that rise from above 0")
    shape = len(radii), len(speeds)
    made = TurnMap(
        np.full(shape, np.nan), np.full(shape, np.nan), np.full(shape, int(State.TOO_TIGHT)), np.zeros(len(radii)), np.zeros(len(radii))
    )
    wider = {sign: np.full((len(speeds), 3), np.nan) for sign in (-1.0, 1.0)}
    for i in np.argsort(-np.abs(radii), kind="stable"):
        wider[np.sign(radii[i])] = _turns_of(car, table, float(radii[i]), speeds, wider[np.sign(radii[i])], made, i)
    return made


def _turns_of(car: Car, table: SteerTable, radius: float, speeds: np.ndarray, wider: np.ndarray, made: TurnMap, i: int) -> np.ndarray:
    """Fill row i of a map; wider : (n, 3) places of a wider radius.  Returns the places of this one's turns; NaN where none."""
    steer_cells, curvature, places = steer_cells_of(table), 1 / radius, np.full((len(speeds), 3), np.nan)
    scrub, drive, state = made.scrub[i], made.drive[i], made.state[i]

    def run(first: int, start: np.ndarray, behind: int) -> int:
        return int(sweep(car, steer_cells, curvature, speeds[:behind], first, start, places, scrub, drive, state))

    rolling = rolling_guess(car, steer_cells, curvature)
    first, start = 0, rolling
    while (first := run(first, start, len(speeds))) < len(speeds):
        turn = steady_turn(car, table, radius, float(speeds[first]))
        if turn.converged:  # the thorough way found what the sweep did not
            start = turn.place
            continue
        state[first:] = ENDS_OF[turn.reason]
        # Faster turns may be there all the same: a car that oversteers needs less lock the faster it goes.
        for later in range(first + 1, len(speeds)):
            guess = wider[later] if np.isfinite(wider[later, 0]) else rolling
            tried = np.isfinite(wider[later, 0]) or state[first] == State.LOCKED
            if tried and run(later, guess, later + 1) > later:
                turn = steady_turn(car, table, radius, float(speeds[later]))
                if turn.converged:
                    first, start = later, turn.place
                    break
                places[later] = scrub[later] = drive[later] = np.nan
                state[later] = state[first]
        else:
            break
    made.grips_to[i] = _end_of(car, steer_cells, curvature, speeds, places, state == State.ROLLS, grips=True)
    made.ends_at[i] = _end_of(car, steer_cells, curvature, speeds, places, np.isfinite(scrub), grips=False)
    return places


def _end_of(
    car: Car, steer_cells: SteerCells, curvature: float, speeds: np.ndarray, places: np.ndarray, held: np.ndarray, *, grips: bool,
) -> float:  # fmt: skip
    """Where the first turns that are held end, see `TurnMap`.  held : (n,) whether each is."""
    if not held.any():
        return 0.0
    first = int(np.argmax(held))
    behind = first + int(np.argmin(np.append(held[first:], False)))
    return inf if behind == len(speeds) else float(
        edge(car, steer_cells, curvature, speeds[behind - 1], speeds[behind], places[behind - 1], grips)
    )  # fmt: skip


@dataclass(frozen=True)
class Limits:
    """How fast one radius can be driven; speeds are rounded down to LIMIT_STEP, infinite beyond those that were tried."""

    grips_to: float  # up to here all wheels carry and grip, 0 where at no speed [m/s]
    holds_to: float  # up to here there is a turn, likewise [m/s]
    ends_by: State | None  # what ends the turns, None where they do not end


def limits_of(car: Car, table: SteerTable, radius: float, speeds: np.ndarray) -> Limits:
    """How fast a radius can be driven.

    car : Car; table : SteerTable; radius : of the mass centre's path, positive to the left, not 0 [m]
    speeds : (n,) rising, above 0, the last as fast as is looked [m/s]
    Returns Limits.  Source: steps that are halved to SHARPNESS; at `holds_to` itself `sim.turn.steady.steady_turn` finds a turn.
    Raises ValueError as `turn_map`.
    """
    row = turn_map(car, table, np.array([radius]), speeds)
    ended = np.flatnonzero(~np.isfinite(row.scrub[0]) & (speeds > row.ends_at[0]))
    steps = {}
    for name, speed in (("grips", row.grips_to[0]), ("holds", row.ends_at[0])):
        # A whole number of steps, so that the figure as printed is the speed that was tried.
        count = floor(speed / LIMIT_STEP) if np.isfinite(speed) else 0
        while count > 0 and not steady_turn(car, table, radius, round(count * LIMIT_STEP, 9)).converged:
            count -= 1
        steps[name] = round(count * LIMIT_STEP, 9) if np.isfinite(speed) else inf
    return Limits(steps["grips"], steps["holds"], State(row.state[0, ended[0]]) if len(ended) else None)


def level_with_best(maps: list[TurnMap]) -> np.ndarray:
    """Which set-ups need no more drive power than the best, as far as they can be told apart.

    maps : one a set-up, all over the same radii and speeds
    Returns (set-ups, radii, speeds), True where the set-up drives the turn and needs at most TELL_APART more than the least power [-].
    """
    drive, least = _drive_and_least(maps)
    return np.isfinite(drive) & (drive <= (1 + TELL_APART) * least)


def above_best(maps: list[TurnMap]) -> np.ndarray:
    """How much more drive power each set-up needs than the one that needs least in the same turn.

    maps : one a set-up, all over the same radii and speeds
    Returns (set-ups, radii, speeds), NaN where the set-up has no such turn [W].
    """
    drive, least = _drive_and_least(maps)
    return np.where(np.isfinite(drive), drive - np.where(np.isfinite(least), least, 0.0), np.nan)


def _drive_and_least(maps: list[TurnMap]) -> tuple[np.ndarray, np.ndarray]:
    """Drive power of each set-up, infinite where it has no turn, and the least of them [W]."""
    drive = np.stack([np.where(np.isnan(one.drive), np.inf, one.drive) for one in maps])
    return drive, drive.min(axis=0)
