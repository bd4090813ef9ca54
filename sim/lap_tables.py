"""What a car reads from its tables on the way: the road under it and ahead, and the pose of its wheels at a steer."""

from typing import NamedTuple

import numpy as np

from sim.cells import cell_of, cubic, cubic_cells, cubic_slope
from sim.compiled import kernel
from sim.course import Course
from sim.driver import PacePlan
from sim.inlined import piece
from sim.steering.table import LEFT_CAMBER, LEFT_STEER, LEFT_X, LEFT_Y, RIGHT_CAMBER, RIGHT_STEER, RIGHT_X, RIGHT_Y, SteerTable

CURVATURE, SLOPE, PLAN, DIRECTION = 0, 1, 2, 3


class Road(NamedTuple):
    """The course and its pace as kernels read them."""

    length: float
    closed: bool
    spacing: float
    cells: np.ndarray  # (n, 4, 4): curvature [1/m], slope [-], square of the planned speed [m2/s2], heading [rad]
    power: float  # most at the driven wheels [W]
    wind_x: float  # velocity of the air, the course's axes [m/s]
    wind_y: float


class Hands(NamedTuple):
    """A set-up's steering as kernels read it."""

    first: float
    spacing: float
    cells: np.ndarray  # (n, columns, 4), see `sim.steering.table`
    least: float
    most: float


class Sight(NamedTuple):
    """What a car in one state reads from its tables; pairs are (left, right) front wheel."""

    curvature: float  # of the line [1/m]
    slope: float  # of the road [-]
    plan: float  # square of the planned speed [m2/s2]
    plan_slope: float  # its rate with the station [m/s2]
    direction: float  # heading of the line [rad], 0 without wind
    ahead: float  # curvature a little ahead [1/m]
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
    cells = np.ascontiguousarray(np.stack([fixed[:, 0], fixed[:, 1], pace, fixed[:, 2]], axis=1))
    return Road(course.length, course.closed, course.length / (len(course.station) - 1), cells, plan.power, *plan.wind)


def hands_of(table: SteerTable) -> Hands:
    """The steer table as kernels read it.  table : SteerTable [rad], [m]."""
    return Hands(table.first, table.spacing, table.cells, table.lock_right, table.lock_left)


@piece
def pose_of(cells, row, t, spacing):
    """The front wheels' pose in one cell of a set-up's table.

    cells : (n, columns, 4); row : of the cell; t : place in it, 0 to 1 [-]; spacing : of the nodes [rad]
    Returns pairs (left, right): steers [rad], their rates with the equivalent steer [-], x, y [m], cambers [rad].
    """
    return (
        (cubic(cells[row, LEFT_STEER], t), cubic(cells[row, RIGHT_STEER], t)),
        (cubic_slope(cells[row, LEFT_STEER], t) / spacing, cubic_slope(cells[row, RIGHT_STEER], t) / spacing),
        (cubic(cells[row, LEFT_X], t), cubic(cells[row, RIGHT_X], t)),
        (cubic(cells[row, LEFT_Y], t), cubic(cells[row, RIGHT_Y], t)),
        (cubic(cells[row, LEFT_CAMBER], t), cubic(cells[row, RIGHT_CAMBER], t)),
    )


@kernel
def front_pose(hands, car, steer, rate, steers, steer_rates, x, y, cambers):
    """Pose of the wheels at an equivalent steer.

    hands : Hands; car : Car
    steer, rate : equivalent single-track steer [rad] and its rate [rad/s]
    steers, steer_rates, x, y, cambers : (4,) written [rad], [rad/s], [m] from the mass centre, [rad]
    Source: the set-up's sampled steering; rear wheels stand still.
    """
    index, t = cell_of(steer - hands.first, hands.spacing, len(hands.cells))
    turned, slopes, forth, aside, leaning = pose_of(hands.cells, index, t, hands.spacing)
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
def road_cell(station, length, closed, spacing, count):
    """Cell and coordinate of a station below two rounds; a closed course goes round.

    station, length, spacing : [m]; closed : whether the course is; count : of its cells
    Returns (index, t), t in [0, 1].
    """
    if closed and station >= length:
        station -= length
    return cell_of(station, spacing, count)


@piece
def look(cells, row, t, ahead, u, spacing, windy):
    """What the road holds at one place and a little ahead.

    cells : (n, 4, 4) of a Road; row, t : cell and coordinate of the car; ahead, u : of the place that the driver looks at
    spacing : of the stations [m]; windy : whether the direction is wanted
    Returns (curvature [1/m], slope [-], square of the plan [m2/s2], its rate [m/s2], heading [rad], curvature ahead [1/m]).
    """
    direction = cubic(cells[row, DIRECTION], t) if windy else 0.0
    return (
        cubic(cells[row, CURVATURE], t), cubic(cells[row, SLOPE], t), cubic(cells[row, PLAN], t),
        cubic_slope(cells[row, PLAN], t) / spacing, direction, cubic(cells[ahead, CURVATURE], u),
    )  # fmt: skip
