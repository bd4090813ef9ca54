"""What a car reads from its tables on the way: the road under it and ahead, and the pose of its wheels at a steer."""

from typing import NamedTuple

import numpy as np

from sim.course.centreline import Course
from sim.inlined import piece
from sim.kernels.compiled import kernel
from sim.kernels.cubics import cell_at, cubic_cells
from sim.kernels.trigonometry import sine_cosine
from sim.pace.driver import PacePlan
from sim.steering.table import COLUMNS, LEFT_CAMBER, LEFT_STEER, LEFT_X, LEFT_Y, RIGHT_CAMBER, RIGHT_STEER, RIGHT_X, RIGHT_Y, SteerTable

CURVATURE, SLOPE, PLAN, DIRECTION = 0, 1, 2, 3
ROADS = 4  # columns of a road
POSE = LEFT_STEER  # first column of a steer table that the car's motion reads; the hand angle before it is for people
POSES = COLUMNS - POSE


class Road(NamedTuple):
    """The course and its pace as kernels read them."""

    length: float
    closed: bool
    density: float  # cells per length [1/m]
    # (n, 4 * ROADS): curvature [1/m], slope [-], square of the planned speed [m2/s2], heading [rad]; the constants of a cell's four
    # cubics, then the factors of t, of t^2 and of t^3: what is read together stands together
    cells: np.ndarray
    power: float  # most at the driven wheels [W]
    wind_x: float  # velocity of the air, the course's axes [m/s]
    wind_y: float


class Hands(NamedTuple):
    """A set-up's steering as kernels read it."""

    first: float
    density: float  # cells per equivalent steer [1/rad]
    cells: np.ndarray  # (n, 4 * POSES), ordered as a Road's; columns of `sim.steering.table`
    least: float
    most: float


class Sight(NamedTuple):
    """What a car in one state reads from its tables; pairs are (left, right) front wheel."""

    curvature: float  # of the line [1/m]
    slope: float  # of the road [-]
    plan: float  # square of the planned speed [m2/s2]
    plan_slope: float  # its rate with the station [m/s2]
    ahead: float  # curvature a little ahead [1/m]
    wind_x: float  # in the car's axes [m/s]
    wind_y: float
    motor: float  # most drive force of the motor [N]
    steers: tuple  # [rad]
    steer_slopes: tuple  # rate with the equivalent steer [-]
    x: tuple  # behind the front axle, backwards negative [m]
    y: tuple  # [m]
    cambers: tuple  # [rad]


def course_cells(course: Course) -> np.ndarray:
    """Curvature [1/m], slope [-] and heading [rad] of a course as cubic cells (n, 3, 4), by cubic splines.  course : Course."""
    from scipy.interpolate import CubicSpline

    grid = course.station
    ends = "periodic" if course.closed else "not-a-knot"

    def spline(values):
        values = values.copy()
        if course.closed:
            values[-1] = values[0]
        return cubic_cells(CubicSpline(grid, values, bc_type=ends), grid)

    direction = cubic_cells(CubicSpline(grid, course.heading), grid)
    return np.stack([spline(course.curvature), spline(course.slope), direction], axis=1)


def road_of(course: Course, plan: PacePlan, cells: np.ndarray | None = None) -> Road:
    """The course and its pace plan as cubic cells.

    course : Course; plan : PacePlan on its stations [m], [m/s]
    cells : of `course_cells`, where they are at hand
    Returns a Road.  Curvature and slope by a cubic spline, the square of the speed by a monotone one that keeps its limits.
    """
    from scipy.interpolate import PchipInterpolator

    pace = cubic_cells(PchipInterpolator(course.station, plan.speed**2), course.station)
    fixed = course_cells(course) if cells is None else cells
    cells = np.stack([fixed[:, 0], fixed[:, 1], pace, fixed[:, 2]], axis=2).reshape(-1, 4 * ROADS)
    return Road(course.length, course.closed, (len(course.station) - 1) / course.length, cells, plan.power, *plan.wind)


def hands_of(table: SteerTable) -> Hands:
    """The steer table as kernels read it.  table : SteerTable [rad], [m]."""
    cells = table.cells[:, POSE:].transpose(0, 2, 1).reshape(-1, 4 * POSES)
    return Hands(table.first, 1.0 / table.spacing, cells, table.lock_right, table.lock_left)


@piece
def cubic_at(cells, row, column, columns, t):
    """Value of one column in a cell.

    cells : as in `Hands` and `Road`; row; column, columns : which of how many; t : place in the cell, 0 to 1 [-]
    Returns it [the column's unit].  Source: Horner's scheme.
    """
    linear, square, cube = columns + column, 2 * columns + column, 3 * columns + column
    return cells[row, column] + t * (cells[row, linear] + t * (cells[row, square] + t * cells[row, cube]))


@piece
def slope_at(cells, row, column, columns, t):
    """Derivative by t of one column in a cell.  cells, row, column, columns, t : as for `cubic_at` [-].  Source: Horner's scheme."""
    linear, square, cube = columns + column, 2 * columns + column, 3 * columns + column
    return cells[row, linear] + t * (2.0 * cells[row, square] + t * 3.0 * cells[row, cube])


@piece
def pose_of(cells, row, t, density):
    """The front wheels' pose in one cell of a set-up's table.

    cells : of Hands; row : of the cell; t : place in it, 0 to 1 [-]; density : cells per steer [1/rad]
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


@piece
def pose_at(cells, row, column, t):
    """Value of one column of a steer table.  cells : of Hands; row, t : as for `pose_of` [-]; column : of `sim.steering.table`."""
    return cubic_at(cells, row, column - POSE, POSES, t)


@kernel
def front_pose(hands, car, steer, rate, steers, steer_rates, x, y, cambers):
    """Pose of the wheels at an equivalent steer.

    hands : Hands; car : Car
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


@piece
def wheel_x(car, front):
    """Contact points ahead of the mass centre.  car : Car; front : (2,) of the front wheels from their axle [m].  Returns (4,) [m]."""
    rear = car.front_arm - car.wheelbase
    return car.front_arm + front[0], car.front_arm + front[1], rear, rear


@piece
def wheel_y(car, front):
    """Contact points left of the mass centre.  car : Car; front : (2,) of the front wheels [m].  Returns (4,) [m]."""
    return front[0], front[1], 0.5 * car.rear_track, -0.5 * car.rear_track


@piece
def road_cell(station, length, closed, density, count):
    """Cell and coordinate of a station below two rounds; a closed course goes round.

    station, length : [m]; closed : whether the course is; density : cells per length [1/m]; count : of its cells
    Returns (index, t), t in [0, 1].
    """
    around = station - length if closed and station >= length else station
    return cell_at(around * density, count)


@piece
def look(cells, row, t, ahead, u, density):
    """What the road holds at one place and a little ahead.

    cells : of a Road; row, t : cell and coordinate of the car; ahead, u : of the place that the driver looks at
    density : cells per length [1/m]
    Returns (curvature [1/m], slope [-], square of the plan [m2/s2], its rate [m/s2], curvature ahead [1/m]).
    """
    return (
        cubic_at(cells, row, CURVATURE, ROADS, t), cubic_at(cells, row, SLOPE, ROADS, t), cubic_at(cells, row, PLAN, ROADS, t),
        slope_at(cells, row, PLAN, ROADS, t) * density, cubic_at(cells, ahead, CURVATURE, ROADS, u),
    )  # fmt: skip


@piece
def wind_in_car(cells, row, t, heading, wind_x, wind_y):
    """The wind in the car's axes.

    cells, row, t : as for `look`; heading : error [rad]; wind_x, wind_y : in the course's axes [m/s]
    Returns (ahead, left) [m/s].
    """
    sine, cosine = sine_cosine(cubic_at(cells, row, DIRECTION, ROADS, t) + heading)
    return cosine * wind_x + sine * wind_y, cosine * wind_y - sine * wind_x
