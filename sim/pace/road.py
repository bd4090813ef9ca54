"""The road under a car and a little ahead of it, as kernels read it."""

from enum import IntEnum
from typing import NamedTuple

import numpy as np

from sim.car.motion import Wind
from sim.course.centreline import Course
from sim.kernels.compiled import inlined
from sim.kernels.cubics import cell_at, cubic, cubic_cells, cubic_slope, piece_at
from sim.kernels.splines import monotone_pieces, spline_pieces
from sim.kernels.trigonometry import sine_cosine
from sim.pace.driver import PacePlan


class RoadColumn(IntEnum):
    """Columns of a road."""

    CURVATURE = 0  # [1/m]
    SLOPE = 1  # [-]
    PLAN = 2  # square of the planned speed [m2/s2]
    DIRECTION = 3  # heading [rad]


ROADS = len(RoadColumn)


class Road(NamedTuple):
    """The course and its pace as kernels read them."""

    # (n, 4 * ROADS), columns of `RoadColumn`; the constants of a cell's four cubics, then the factors of t, of t^2 and of t^3: what is
    # read together stands together.  Roads side by side share one array.
    cells: np.ndarray
    row: int  # of the first cell
    size: int  # number of cells
    length: float
    closed: bool
    density: float  # cells per length [1/m]
    power: float  # most at the driven wheels [W]
    wind_x: float  # velocity of the air, the course's axes [m/s]
    wind_y: float


def course_cells(course: Course) -> np.ndarray:
    """Curvature [1/m], slope [-] and heading [rad] of a course as cubic cells (n, 3, 4), by cubic splines.  course : Course."""
    grid = course.station

    def spline(values: np.ndarray) -> np.ndarray:
        values = values.copy()
        if course.closed:
            values[-1] = values[0]
        return cubic_cells(spline_pieces(grid, values, closed=course.closed), grid)

    direction = cubic_cells(spline_pieces(grid, course.heading), grid)
    return np.stack([spline(course.curvature), spline(course.slope), direction], axis=1)


def road_of(course: Course, plan: PacePlan, cells: np.ndarray | None = None) -> Road:
    """The course and its pace plan as cubic cells.

    course : Course; plan : PacePlan on its stations [m], [m/s]
    cells : of `course_cells`, where they are at hand
    Returns a Road.  Curvature and slope by a cubic spline, the square of the speed by a monotone one that keeps its limits.
    """
    pace = cubic_cells(monotone_pieces(course.station, plan.speed**2), course.station)
    fixed = course_cells(course) if cells is None else cells
    cells = np.stack([fixed[:, 0], fixed[:, 1], pace, fixed[:, 2]], axis=2).reshape(-1, 4 * ROADS)
    return Road(cells, 0, len(cells), course.length, course.closed, (len(course.station) - 1) / course.length, plan.power, *plan.wind)


@inlined
def road_cell(station, length, closed, density, count):
    """Cell and coordinate of a station below two rounds; a closed course goes round.

    station, length : [m]; closed : whether the course is; density : cells per length [1/m]; count : of its cells
    Returns (index, t), t in [0, 1].
    """
    around = station - length if closed and station >= length else station
    return cell_at(around * density, count)


class RoadPieces(NamedTuple):
    """The cubics of a road's cell, in the order of `RoadColumn`."""

    curvature: tuple
    slope: tuple
    plan: tuple
    direction: tuple


@inlined
def road_pieces(cells, row):
    """The cubics of a road's cell.  cells : of a Road; row : of the cell [-]."""
    return RoadPieces(
        piece_at(cells, row, RoadColumn.CURVATURE, ROADS), piece_at(cells, row, RoadColumn.SLOPE, ROADS),
        piece_at(cells, row, RoadColumn.PLAN, ROADS), piece_at(cells, row, RoadColumn.DIRECTION, ROADS),
    )  # fmt: skip


@inlined
def look(pieces, t, ahead, u, density):
    """What the road holds at one place and a little ahead.

    pieces, t : RoadPieces and coordinate of the car; ahead, u : curvature's cubic and coordinate where the driver looks
    density : cells per length [1/m]
    Returns (curvature [1/m], slope [-], square of the plan [m2/s2], its rate [m/s2], curvature ahead [1/m]).
    """
    return (
        cubic(pieces.curvature, t), cubic(pieces.slope, t), cubic(pieces.plan, t), cubic_slope(pieces.plan, t) * density, cubic(ahead, u)
    )  # fmt: skip


@inlined
def wind_in_car(direction, t, heading, wind_x, wind_y):
    """The wind in the car's axes.

    direction, t : the road's cubic and the car's coordinate; heading : error [rad]; wind_x, wind_y : in the course's axes [m/s]
    Returns Wind.
    """
    sine, cosine = sine_cosine(cubic(direction, t) + heading)
    return Wind(cosine * wind_x + sine * wind_y, cosine * wind_y - sine * wind_x)
