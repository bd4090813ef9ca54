"""A set-up's steer table as kernels read it, and the pose of the wheels at a steer."""

from typing import NamedTuple

import numpy as np

from sim.car.motion import Pose
from sim.kernels.compiled import inlined, kernel
from sim.kernels.cubics import cell_at, cubic, cubic_slope, piece_at
from sim.steering.table import COLUMNS, SteerColumn, SteerTable

POSE = int(SteerColumn.LEFT_STEER)  # first column of a steer table that the car's motion reads; the hand angle before it is for people
POSES = COLUMNS - POSE


class SteerCells(NamedTuple):
    """A set-up's steering as kernels read it."""

    cells: np.ndarray  # (n, 4 * POSES), ordered as a Road's; columns of `SteerColumn`; set-ups side by side share one array
    row: int  # of the first cell
    size: int  # number of cells
    first: float  # steer where the first cell begins [rad]
    density: float  # cells per equivalent steer [1/rad]
    least: float  # steer at the right lock [rad]
    most: float  # at the left one


class FrontPose(NamedTuple):
    """What a steer table holds at one steer; pairs are (left, right) front wheel."""

    steers: tuple  # [rad]
    steer_slopes: tuple  # rate with the equivalent steer [-]
    x: tuple  # ahead of the front axle [m]
    y: tuple  # left of the middle [m]
    cambers: tuple  # [rad]


def steer_cells_of(table: SteerTable) -> SteerCells:
    """The steer table as kernels read it.  table : SteerTable [rad], [m]."""
    cells = table.cells[:, POSE:].transpose(0, 2, 1).reshape(-1, 4 * POSES)
    return SteerCells(cells, 0, len(cells), table.first, 1.0 / table.spacing, table.lock_right, table.lock_left)


@inlined
def steer_cell(steer, first, density, count):
    """Cell and coordinate of a steer.

    steer : equivalent [rad]; first, density, count : of SteerCells, its size [rad], [1/rad]
    Returns (index among the set-up's cells, t), t in [0, 1].
    """
    return cell_at((steer - first) * density, count)


class FrontPieces(NamedTuple):
    """The cubics of a steer table's cell; pairs are (left, right) front wheel."""

    steers: tuple
    x: tuple
    y: tuple
    cambers: tuple


@inlined
def front_pieces(cells, row):
    """The cubics of a steer table's cell.  cells : of SteerCells; row : of the cell [-]."""
    return FrontPieces(
        (pose_piece(cells, row, SteerColumn.LEFT_STEER), pose_piece(cells, row, SteerColumn.RIGHT_STEER)),
        (pose_piece(cells, row, SteerColumn.LEFT_X), pose_piece(cells, row, SteerColumn.RIGHT_X)),
        (pose_piece(cells, row, SteerColumn.LEFT_Y), pose_piece(cells, row, SteerColumn.RIGHT_Y)),
        (pose_piece(cells, row, SteerColumn.LEFT_CAMBER), pose_piece(cells, row, SteerColumn.RIGHT_CAMBER)),
    )  # fmt: skip


@inlined
def pose_piece(cells, row, column):
    """One column's cubic of a steer table.  cells, row : as for `front_pieces` [-]; column : of `SteerColumn`."""
    return piece_at(cells, row, column - POSE, POSES)


@inlined
def front_wheels(pieces, t, density):
    """The front wheels in one cell of a set-up's table.

    pieces : FrontPieces; t : place in the cell, 0 to 1 [-]; density : cells per steer [1/rad]
    Returns FrontPose.
    """
    left, right = pieces.steers
    return FrontPose(
        (cubic(left, t), cubic(right, t)), (cubic_slope(left, t) * density, cubic_slope(right, t) * density),
        (cubic(pieces.x[0], t), cubic(pieces.x[1], t)), (cubic(pieces.y[0], t), cubic(pieces.y[1], t)),
        (cubic(pieces.cambers[0], t), cubic(pieces.cambers[1], t)),
    )  # fmt: skip


@inlined
def car_pose(car, front, turning):
    """How a car's wheels stand.

    car : Car; front : FrontPose; turning : rate of the equivalent steer [rad/s]
    Returns Pose.  Source: the set-up's sampled steering; rear wheels stand still.
    """
    rates = front.steer_slopes[0] * turning, front.steer_slopes[1] * turning
    return Pose(front.steers, rates, wheel_x(car, front.x), wheel_y(car, front.y), front.cambers)


@inlined
def pose_of(steer_cells, car, steer, turning):
    """How a car's wheels stand at an equivalent steer.

    steer_cells : SteerCells; car : Car; steer : equivalent single-track steer [rad]; turning : its rate [rad/s]
    Returns Pose.
    """
    index, t = steer_cell(steer, steer_cells.first, steer_cells.density, steer_cells.size)
    return car_pose(car, front_wheels(front_pieces(steer_cells.cells, steer_cells.row + index), t, steer_cells.density), turning)


@kernel
def front_pose(steer_cells, car, steer, turning, steers, steer_rates, x, y, cambers):
    """`pose_of` in arrays of all four wheels.

    steer_cells, car, steer, turning : as there [rad], [rad/s]
    steers, steer_rates, x, y, cambers : (4,) written [rad], [rad/s], [m] from the mass centre, [rad]
    """
    pose = pose_of(steer_cells, car, steer, turning)
    steers[0], steers[1], steers[2], steers[3] = pose.steers[0], pose.steers[1], 0.0, 0.0
    steer_rates[0], steer_rates[1], steer_rates[2], steer_rates[3] = pose.steer_rates[0], pose.steer_rates[1], 0.0, 0.0
    x[0], x[1], x[2], x[3] = pose.x
    y[0], y[1], y[2], y[3] = pose.y
    cambers[0], cambers[1], cambers[2], cambers[3] = pose.cambers[0], pose.cambers[1], 0.0, 0.0


@inlined
def wheel_x(car, front):
    """Contact points ahead of the mass centre.  car : Car; front : (2,) of the front wheels from their axle [m].  Returns (4,) [m]."""
    rear = car.front_arm - car.wheelbase
    return car.front_arm + front[0], car.front_arm + front[1], rear, rear


@inlined
def wheel_y(car, front):
    """Contact points left of the mass centre.  car : Car; front : (2,) of the front wheels [m].  Returns (4,) [m]."""
    return front[0], front[1], 0.5 * car.rear_track, -0.5 * car.rear_track
