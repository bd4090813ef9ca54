"""What the wheels' angles say: error against ideal, turning circles, steering ratio."""

from dataclasses import dataclass

import numpy as np

from sim.linkages.pivots import RIGHT, SIGNS
from sim.linkages.rolling import equivalent_steer, rolling_steer
from sim.scenario.car import CarTable
from sim.steering.arrangement import FrontWheels, Steering
from sim.steering.table import hand_where

MOST_ROWS = 25  # of a readable grid, beside the locks
RATIO_BASE = 1e-4  # half the base of the steering ratio's difference, as a share of the range: errs by its square, 1e-8


@dataclass(frozen=True)
class AngleRows:
    """Wheel angles over hand angles; each (n,) [rad], positive to the left, so all are negative in a right turn."""

    hand: np.ndarray
    left: np.ndarray
    right: np.ndarray
    ideal_inner: np.ndarray  # ideal angle of the inner wheel for the outer wheel's angle
    error: np.ndarray  # inner wheel less its ideal


def angle_rows(steering: Steering, car: CarTable, hands: np.ndarray) -> AngleRows:
    """The wheels' angles and their error against ideal steering.

    steering, car : Steering, CarTable
    hands : (n,) hand angles [rad]
    Returns AngleRows [rad]; a row is a left turn where the curvatures that the wheels ask for are to the left,
    in the mean.  Raises ValueError outside the range.
    """
    hands = np.asarray(hands, dtype=float)
    steer = steering.front_wheels(hands).steer
    turns_left = equivalent_steer(steer, steering.kingpin_y, car.wheelbase) >= 0
    left, right = steer.T
    inner, outer = np.where(turns_left, left, right), np.where(turns_left, right, left)
    track = float(steering.kingpin_y[0] - steering.kingpin_y[1])
    # Not ideal_inner, which takes the turn's direction from the outer wheel: with toe it can still point the other way.
    ideal = rolling_steer(outer, np.where(turns_left, track, -track), car.wheelbase)
    return AngleRows(hands, left, right, ideal, inner - ideal)


def hands_for_outer(steering: Steering, outer: np.ndarray) -> np.ndarray:
    """Hand angles at which the outer wheel of a left turn, the right one, stands at given angles.

    steering : Steering
    outer : (n,) of the right wheel [rad]
    Returns the hand angles (n,) [rad]; nan beyond the locks.
    """
    return hand_where(steering, lambda wheels: wheels.steer[:, RIGHT], outer)


def hand_range(steering: Steering) -> np.ndarray:
    """A readable grid of hand angles: the multiples of a round number of degrees from lock to lock, and both locks.

    steering : Steering
    Returns the hand angles (n,), rising [rad].
    """
    low, high = np.degrees([steering.lock_right, steering.lock_left])
    # The next round step is at most 2.5 times as large, so there are 11 rows or more.
    steps = (round_number * 10.0**power for power in range(-3, 4) for round_number in (1, 2, 5))
    step = next(step for step in steps if np.floor(high / step) - np.ceil(low / step) < MOST_ROWS)
    counts = np.arange(np.ceil(low / step), np.floor(high / step) + 1)
    apart = 1e-6  # of a step: a multiple that the lock falls on is the lock
    between = counts[(counts * step > low + apart * step) & (counts * step < high - apart * step)] * step
    return np.concatenate([[steering.lock_right], np.radians(between), [steering.lock_left]])


@dataclass(frozen=True)
class TurningCircle:
    """Diameters of the tightest turn [m]."""

    kerb: float  # of the outermost contact point's path
    wall: float  # of the outermost tyre edge's path


def turning_circle(steering: Steering, car: CarTable) -> TurningCircle:
    """The turning circle at the tighter of both locks, rolling without slip.

    steering, car : Steering, CarTable
    Returns TurningCircle [m].  Source: derived here: the turn's centre is on the rear axle's line, l / tan(steer) from
    its middle, with the equivalent single-track steer; for ideal steering on upright kingpins the radius at the kerb is
    l / sin(outer) + kingpin offset.
    """
    wheelbase, half_width = car.wheelbase, car.tyre_width / 2
    wheels = steering.front_wheels(np.array([steering.lock_left, steering.lock_right]))
    to_centre = wheelbase / np.tan(equivalent_steer(wheels.steer, steering.kingpin_y, wheelbase))
    rear_track = car.rear_track
    circles = [_circle(wheels, row, centre, wheelbase, rear_track, half_width) for row, centre in enumerate(to_centre)]
    return min(circles, key=lambda circle: circle.kerb)


def _circle(wheels: FrontWheels, row: int, centre: float, wheelbase: float, rear_track: float, half_width: float) -> TurningCircle:
    """The circles about a point on the rear axle's line, `centre` to the left of its middle [m]."""
    x = np.array([*wheels.x[row], -wheelbase, -wheelbase])
    y = np.array([*wheels.y[row], *(side * rear_track / 2 for side in SIGNS)])
    steer = np.array([*wheels.steer[row], 0.0, 0.0])
    reach = [
        np.hypot(x - edge * np.sin(steer) + wheelbase, y + edge * np.cos(steer) - centre).max() for edge in (0.0, half_width, -half_width)
    ]
    return TurningCircle(kerb=2 * float(reach[0]), wall=2 * float(max(reach)))


def steering_ratio(steering: Steering, car: CarTable) -> float:
    """Hand angle for each radian of equivalent single-track steer, straight ahead.

    steering, car : Steering, CarTable
    Returns the ratio [-].  Source: central difference about hand angle 0.
    """
    base = RATIO_BASE * min(steering.lock_left, -steering.lock_right)
    steer = equivalent_steer(steering.front_wheels(np.array([base, -base])).steer, steering.kingpin_y, car.wheelbase)
    return 2 * base / float(steer[0] - steer[1])
