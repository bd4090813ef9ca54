"""SteerTable: the steering as the kernels read it, over the equivalent single-track steer; they know no linkage."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum
from functools import lru_cache

import numpy as np

from sim.errors import InputError
from sim.kernels.roots import bracketed_roots
from sim.kernels.splines import even_pieces
from sim.scenario.car import CarTable
from sim.scenario.setup import SetupTable
from sim.steering.arrangement import HAND_LIMIT, LOCK_MARGIN, FrontWheels, Steering, build_steering
from sim.steering.sampling import MOST_STEPS, NEAR, first_hands, mean_tangents, step_to_tangents, table_nodes


class SteerColumn(IntEnum):
    """Columns of a steer table; x and y are of the contact points, behind the front axle negative."""

    HAND = 0  # [rad]
    LEFT_STEER = 1  # [rad]
    RIGHT_STEER = 2
    LEFT_X = 3  # [m]
    RIGHT_X = 4
    LEFT_Y = 5  # [m]
    RIGHT_Y = 6
    LEFT_CAMBER = 7  # [rad]
    RIGHT_CAMBER = 8


COLUMNS = len(SteerColumn)

# A cubic spline then errs by less than 1e-7 rad or m inside 95 % of the range.  Even, so that straight ahead is a node
# in a symmetric set-up.
CELLS = 400
ROUNDING = 1e-13  # a target this near to the measure at a lock means the lock; rounding alone makes 1e-15 [rad or m]
STEERED = ("wheelbase_mm", "front_track_mm", "kingpin_track_mm", "wheel_radius_mm")  # what a set-up's steering reads of its car
KEPT = 512  # steerings with their tables, 0.1 MB each
# Samples from -1 to 1, closer towards the ends, between which the hand angles of a table's nodes are then sought.
LOOKS = np.sin(np.linspace(-np.pi / 2, np.pi / 2, 192))
BRACKETS = 2000  # samples from lock to lock, closer towards the locks, between which a hand angle is then sought


@dataclass(frozen=True, eq=False)
class SteerTable:
    """Cubic pieces over the equivalent single-track steer.

    first : steer at the first node [rad]
    spacing : of the nodes [rad]
    cells : (n_cells, COLUMNS, 4) value = c0 + t (c1 + t (c2 + t c3)), t = (steer - node) / spacing;
        hand angle, steer angles and cambers [rad], contact points [m]
    lock_left, lock_right : largest and smallest steer in the table [rad]
    """

    first: float
    spacing: float
    cells: np.ndarray
    lock_left: float
    lock_right: float


def hand_where(steering: Steering, measure: Callable[[FrontWheels], np.ndarray], targets: np.ndarray) -> np.ndarray:
    """Hand angles at which a measure that rises with the hand angle takes given values.

    steering : Steering
    measure : of FrontWheels (n, 2) to (n,), rising from lock to lock [rad or m]
    targets : (n,) [as the measure]
    Returns the hand angles (n,) [rad]; nan where no hand angle inside the range gives the value.
    """
    middle, half = (steering.lock_left + steering.lock_right) / 2, (steering.lock_left - steering.lock_right) / 2
    hand = middle + half * np.sin(np.linspace(-np.pi / 2, np.pi / 2, BRACKETS + 1))
    hand[0], hand[-1] = steering.lock_right, steering.lock_left
    values = measure(steering.front_wheels(hand))
    targets = np.asarray(targets, dtype=float)
    result = np.full(targets.shape, np.nan)
    for end in (0, -1):
        result[np.abs(targets - values[end]) <= ROUNDING] = hand[end]
    inside = (targets > values[0] + ROUNDING) & (targets < values[-1] - ROUNDING)
    # One sample wider on each side, so that rounding cannot set a target just outside its bracket.
    above = np.searchsorted(values, targets[inside])
    result[inside] = bracketed_roots(
        lambda angle, target: measure(steering.front_wheels(angle)) - target,
        hand[np.maximum(above - 2, 0)], hand[np.minimum(above + 1, BRACKETS)], targets[inside], absolute=1e-16, relative=4e-16,
    )  # fmt: skip
    return result


def steer_table(steering: Steering, wheelbase: float, least: float = -np.inf, most: float = np.inf, cells: int = CELLS) -> SteerTable:
    """Sample a steering.

    steering : Steering
    wheelbase : l [m]
    least, most : equivalent steers beyond which nobody asks [rad]; cells : of the table [-]
    Returns SteerTable.  The columns are exact at the nodes and a cubic spline between them; where the range ends at
    something else than the hand wheel's limit the table ends LOCK_MARGIN of its range before, for a square root may
    wait there.
    """
    steer, values = np.empty(cells + 1), np.empty((cells + 1, COLUMNS))
    shares = steering.kingpin_y / wheelbase
    right, left = steering.lock_right, steering.lock_left
    spares = [LOCK_MARGIN if cause != HAND_LIMIT else 0.0 for cause in (steering.lock_right_cause, steering.lock_left_cause)]
    numbers = steering.mechanism.numbers
    if numbers is None:
        _sample(steering, shares, spares, least, most, steer, values)
    else:
        table_nodes(numbers, shares, right, left, spares[0], spares[1], least, most, LOOKS, steer, values)
    low, high = float(steer[0]), float(steer[-1])
    return SteerTable(low, (high - low) / cells, even_pieces(values), lock_left=high, lock_right=low)


def _sample(
    steering: Steering, shares: np.ndarray, spares: list[float], least: float, most: float, steer: np.ndarray, values: np.ndarray
) -> None:  # fmt: skip
    """What `table_nodes` does, for a linkage that has to be asked how it turns."""
    rows = np.stack([wheel.row for wheel in steering.wheels])

    def tangents(hand: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return mean_tangents(rows, steering.mechanism.turning(hand), shares)

    middle, half = (steering.lock_left + steering.lock_right) / 2, (steering.lock_left - steering.lock_right) / 2
    look = middle + half * LOOKS
    look[0], look[-1] = steering.lock_right, steering.lock_left
    seen, rate = tangents(look)
    smallest, largest = np.arctan(seen[[0, -1]])
    span = largest - smallest
    steer[:] = np.linspace(max(smallest + spares[0] * span, least), min(largest - spares[1] * span, most), len(steer))
    wanted = np.tan(steer)
    hand, low, high = np.empty((3, len(steer)))
    first_hands(wanted, look, seen, rate, hand, low, high)
    for _ in range(MOST_STEPS):
        if step_to_tangents(wanted, *tangents(hand), low, high, hand) <= NEAR:
            break
    wheels = steering.front_wheels(hand)
    values[:, SteerColumn.HAND] = hand
    for place, part in zip((SteerColumn.LEFT_STEER, SteerColumn.LEFT_X, SteerColumn.LEFT_Y, SteerColumn.LEFT_CAMBER),
                           (wheels.steer, wheels.x, wheels.y, wheels.camber), strict=True):  # fmt: skip
        values[:, place : place + 2] = part


@dataclass(frozen=True, eq=False)
class Sampled:
    """A set-up's steering, and its table."""

    steering: Steering
    table: SteerTable


def sampled(setup: SetupTable, car: CarTable, source: str, place: str) -> Sampled:
    """A set-up's steering put together and sampled; the last ones are kept, for a study asks for the same ones again and again.

    setup, car : what the user wrote
    source, place : where, for an error's text, such as "quay.toml" and 'setup "kinked arms"'
    Returns Sampled.  Raises InputError where it cannot be built or does not steer straight ahead.
    """
    try:
        return _kept(setup, *(getattr(car, key) for key in STEERED))
    except InputError as fault:
        raise InputError(source, place + fault.place, fault.problem, fault.remedy) from None


@lru_cache(KEPT)
def _kept(setup: SetupTable, *lengths: float) -> Sampled:
    """A set-up's steering in a car that has no other keys than STEERED, so that none that is missing there can be read."""
    car = CarTable.model_construct(set(STEERED), **dict(zip(STEERED, lengths, strict=True)))
    steering = build_steering(setup, car, "", "")
    return Sampled(steering, steer_table(steering, car.wheelbase))


def merged_table(table: SteerTable) -> SteerTable:
    """The table of a single-track car: both wheels in the middle of the front axle, upright, at the equivalent steer.

    table : SteerTable
    Returns SteerTable with the same hand angles.
    """
    cells = np.zeros_like(table.cells)
    cells[:, SteerColumn.HAND] = table.cells[:, SteerColumn.HAND]
    for column in (SteerColumn.LEFT_STEER, SteerColumn.RIGHT_STEER):
        cells[:, column, 0] = table.first + table.spacing * np.arange(len(cells))
        cells[:, column, 1] = table.spacing
    return SteerTable(table.first, table.spacing, cells, table.lock_left, table.lock_right)
