"""A set-up's steer table as kernels read it, and the pose of the wheels at a steer."""

from typing import NamedTuple

import numpy as np

from sim.kernels.compiled import inlined, kernel
from sim.kernels.cubics import cell_at, cubic_at, slope_at
from sim.steering.table import COLUMNS, LEFT_CAMBER, LEFT_STEER, LEFT_X, LEFT_Y, RIGHT_CAMBER, RIGHT_STEER, RIGHT_X, RIGHT_Y, SteerTable

POSE = LEFT_STEER  # first column of a steer table that the car's motion reads; the hand angle before it is for people
POSES = COLUMNS - POSE


class SteerCells(NamedTuple):
    """A set-up's steering as kernels read it."""

    first: float
    density: float  # cells per equivalent steer [1/rad]
    cells: np.ndarray  # (n, 4 * POSES), ordered as a Road's; columns of `sim.steering.table`
    least: float
    most: float


def hands_of(table: SteerTable) -> SteerCells:
    """The steer table as kernels read it.  table : SteerTable [rad], [m]."""
    cells = table.cells[:, POSE:].transpose(0, 2, 1).reshape(-1, 4 * POSES)
    return SteerCells(table.first, 1.0 / table.spacing, cells, table.lock_right, table.lock_left)


@inlined
def pose_of(cells, row, t, density):
    """The front wheels' pose in one cell of a set-up's table.

    cells : of SteerCells; row : of the cell; t : place in it, 0 to 1 [-]; density : cells per steer [1/rad]
    Returns pairs (left, right): steers [rad], their rates with the equivalent steer [-], x, y [m], cambers [rad].
    """
    return (
        (pose_at(cells, row, LEFT_STEER, t), pose_at(cells, row, RIGHT_STEER, t)),
        (
            slope_at(cells, row, LEFT_STEER - POSE, POSES, t) * density, slope_at(cells, row, RIGHT_STEER - POSE, POSES, t) * density,
        ),
        (pose_at(cells, row, LEFT_X, t), pose_at(cells, row, RIGHT_X, t)),
        (pose_at(cells, row, LEFT_Y, t), pose_at(cells, row, RIGHT_Y, t)),
        (pose_at(cells, row, LEFT_CAMBER, t), pose_at(cells, row, RIGHT_CAMBER, t)),
    )  # fmt: skip


@inlined
def pose_at(cells, row, column, t):
    """Value of one column of a steer table.  cells : of SteerCells; row, t : as for `pose_of` [-]; column : of `sim.steering.table`."""
    return cubic_at(cells, row, column - POSE, POSES, t)


@kernel
def front_pose(hands, car, steer, rate, steers, steer_rates, x, y, cambers):
    """Pose of the wheels at an equivalent steer.

    hands : SteerCells; car : Car
    steer, rate : equivalent single-track steer [rad] and its rate [rad/s]
    steers, steer_rates, x, y, cambers : (4,) written [rad], [rad/s], [m] from the mass centre, [rad]
    Source: the set-up's sampled steering; rear wheels stand still.
    """
    index, t = cell_at((steer - hands.first) * hands.density, len(hands.cells))
    turned, slopes, forth, aside, leaning = pose_of(hands.cells, index, t, hands.density)
    steers[0], steers[1], steers[2], steers[3] = turned[0], turned[1], 0.0, 0.0
    steer_rates[0], steer_rates[1], steer_rates[2], steer_rates[3] = slopes[0] * rate, slopes[1] * rate, 0.0, 0.0
    x[0], x[1], x[2], x[3] = wheel_x(car, forth)
    y[0], y[1], y[2], y[3] = wheel_y(car, aside)
    cambers[0], cambers[1], cambers[2], cambers[3] = leaning[0], leaning[1], 0.0, 0.0


@inlined
def wheel_x(car, front):
    """Contact points ahead of the mass centre.  car : Car; front : (2,) of the front wheels from their axle [m].  Returns (4,) [m]."""
    rear = car.front_arm - car.wheelbase
    return car.front_arm + front[0], car.front_arm + front[1], rear, rear


@inlined
def wheel_y(car, front):
    """Contact points left of the mass centre.  car : Car; front : (2,) of the front wheels [m].  Returns (4,) [m]."""
    return front[0], front[1], 0.5 * car.rear_track, -0.5 * car.rear_track
