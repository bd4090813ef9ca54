"""Why steady turns end: one function names the limit from the last turn that was found and the next that was not."""

from enum import StrEnum
from typing import NamedTuple

import numpy as np

from sim.car.chassis import DIFFERENTIAL, ONE_WHEEL_LEFT, ONE_WHEEL_RIGHT, Car, tip_limit
from sim.car.motion import WheelColumn
from sim.car.traction import GRIP_SHARE
from sim.steering.table import SteerTable

# How near to tipping the turn that failed must be, as a share: a turn and the next lie 1e-4 of the way apart, and drag tilts the load
# point by less than this.
AT_TIPPING = 1e-3
MORE_LOCK = 0.03  # [rad] by which the lock is widened to see whether it is what ends the turns


class Cause(StrEnum):
    """What ends a car's steady turns."""

    NONE = ""
    TOO_TIGHT = "the turn is tighter than the rear axle can follow"
    LOCK = "the lock is too small for this radius"
    TIPS = "tips over"
    SPINS = "not enough grip to drive: a driven wheel spins"
    FRONT = "not enough grip at the front wheels"
    REAR = "not enough grip at the rear wheels"


class Ending(NamedTuple):
    """Where turns end: the last that was found, and the next that was not, on the way to the one that was asked for."""

    asked: float  # curvature that was asked for, positive to the left [1/m]
    speed: float  # of the turn that failed [m/s]
    curvature: float  # of its path, likewise [1/m]
    sideslip: float  # of the last turn [rad]
    drive: float  # wanted force of its driven wheels [N]
    x: np.ndarray  # (4,) its contact points from the mass centre [m]
    y: np.ndarray
    wheels: np.ndarray  # its wheels, columns of `sim.car.motion`
    steers_on: bool  # whether the very turn that failed is found with a wider lock


def widened(table: SteerTable, more: float) -> SteerTable:
    """A steer table that goes on beyond both locks as straight as it ends there.

    table : SteerTable; more : steer to either side, at least [rad]
    Returns SteerTable [rad], [m].
    """
    count = int(np.ceil(more / table.spacing))
    first, last = table.cells[0], table.cells[-1]
    begin, end = first[:, 0], last.sum(axis=1)
    slopes = first[:, 1], last[:, 1] + 2 * last[:, 2] + 3 * last[:, 3]
    cells = np.zeros((len(table.cells) + 2 * count, *first.shape))
    cells[count:-count] = table.cells
    for k in range(count):
        cells[k, :, 0], cells[k, :, 1] = begin - (count - k) * slopes[0], slopes[0]
        cells[-count + k, :, 0], cells[-count + k, :, 1] = end + k * slopes[1], slopes[1]
    reach = count * table.spacing
    return SteerTable(table.first - reach, table.spacing, cells, table.lock_left + reach, table.lock_right - reach)


def drive_share(car: Car, drive: float, loads: np.ndarray) -> float:
    """How much of what its driven wheels can give a car asks for.

    car : Car; drive : wanted force [N]; loads : (4,) of the wheels [N]
    Returns the share, 1 where they give no more [-].  Source: as `sim.car.traction.share_force` limits it.
    """
    left, right = (car.rear_tyre.friction * float(load) for load in loads[2:])
    both = 2 * min(left, right) if car.drive == DIFFERENTIAL else left + right
    most = GRIP_SHARE * {ONE_WHEEL_LEFT: left, ONE_WHEEL_RIGHT: right}.get(car.drive, both)
    return drive / most if most > 0 else np.inf


def grip_shares(car: Car, wheels: np.ndarray) -> tuple[float, float]:
    """How much of its grip each axle uses.

    car : Car; wheels : columns of `sim.car.motion` [N]
    Returns (front, rear), 1 where both wheels of an axle slide [-].
    """
    used, load = np.hypot(wheels[:, WheelColumn.LATERAL], wheels[:, WheelColumn.LONGITUDINAL]), wheels[:, WheelColumn.LOAD]
    front, rear = (used[axle].sum() / max(load[axle].sum(), 1e-12) for axle in (slice(0, 2), slice(2, 4)))
    return float(front / car.front_tyre.friction), float(rear / car.rear_tyre.friction)


def cause_of(car: Car, end: Ending) -> Cause:
    """The limit that ends a car's steady turns.

    car : Car; end : Ending
    Returns the Cause: the geometry where no car could roll so; the lock where more of it would go on; tipping where the turn that
    failed asks for more than the tip limit; else whichever uses most of its grip: the driven wheels' drive, the front or the rear axle.
    """
    if abs(end.asked) * (car.wheelbase - car.front_arm) >= 1:
        return Cause.TOO_TIGHT
    if end.steers_on:
        return Cause.LOCK
    # A single-track car has no width to tip over, and its loads know no roll.
    limit = tip_limit(end.x, end.y, car.height, end.curvature > 0, end.sideslip) if np.ptp(end.y) > 0 else np.inf
    if end.speed**2 * abs(end.curvature) >= (1 - AT_TIPPING) * limit:
        return Cause.TIPS
    front, rear = grip_shares(car, end.wheels)
    used = {Cause.SPINS: drive_share(car, end.drive, end.wheels[:, WheelColumn.LOAD]), Cause.FRONT: front, Cause.REAR: rear}
    return max(used, key=lambda cause: used[cause])
