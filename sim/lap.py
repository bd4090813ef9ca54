"""A lap in time: the car's equations along the course, fourth-order Runge-Kutta, the energy ledger integrated with the state.

The state is kept in path coordinates (station, lateral error, heading error), so that no position has to be searched for.
"""

from dataclasses import dataclass
from enum import IntEnum
from math import ceil, cos, sin, sqrt
from typing import NamedTuple

import numpy as np

from sim.cells import cell_of, cubic, cubic_cells, cubic_slope
from sim.chassis import GRAVITY, Car, kinematic_steer
from sim.compiled import kernel
from sim.course import Course
from sim.driver import Driver, PacePlan, steer_demand
from sim.lap_state import (
    AIR, ALIGNING, BATTERY, BATTERY_WARMTH, BRAKES, CHARGE, COPPER, DRIVE_WORK, ERROR, ERROR_SQUARED, EXTREMES, FARTHEST, GEAR,
    HANDS, HEADING, HEIGHT, LATERAL, LEAST_LOAD, LEDGER, LONGITUDINAL, NO_LOAD, PEAK_SLIP, REGENERATED, ROLLING, RUB, SLIPS,
    STATES, STATION, STEER, STORED, USED_CHARGE, VX, VY, YAW_RATE,
)  # fmt: skip
from sim.motion import (
    ACCEL_X, ACCEL_Y, ACCEL_YAW, AIR_POWER, ALIGNING_POWER, BATTERY_CURRENT, BATTERY_HEAT, BATTERY_POWER, BODY_COLUMNS, BRAKE_POWER,
    CHARGE_RATE, COPPER_POWER, DRIVE_POWER, GEAR_POWER, HAND_POWER, HEIGHT_POWER, LATERAL_LOSS, LIFTED, LOAD, LONGITUDINAL_LOSS,
    NO_LOAD_POWER, REGENERATED_POWER, ROLLING_POWER, RUB_SPEED, SLIP_RATE, STORED_POWER, WHEEL_COLUMNS, car_motion,
)  # fmt: skip
from sim.steering.table import LEFT_CAMBER, LEFT_STEER, LEFT_X, LEFT_Y, RIGHT_CAMBER, RIGHT_STEER, RIGHT_X, RIGHT_Y, SteerTable

LONGEST_STEP = 0.010  # [s]; at 10 ms a lap's drive work and scrub are within 0.1 % of a step four times finer
ROW_TIME = 0.020  # [s] between rows of the trace: 50 Hz
OFF_COURSE = 2.0  # [m] from the line: the set-up cannot follow
ROLLING_BACK = -0.05  # [m/s]: a car that rolls back this fast has come to a halt on a hill
FINISH_TOLERANCE = 1e-10  # [m] at the finish line; a lap time to better than 1e-9 s

CURVATURE, SLOPE, PLAN, DIRECTION = 0, 1, 2, 3


class Ended(IntEnum):
    """How a lap ended."""

    FINISHED = 0
    TIPPED = 1
    OFF_COURSE = 2
    STALLED = 3
    NOT_FINITE = 4


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


@dataclass(frozen=True)
class Lap:
    """One driven lap of one set-up."""

    ended: Ended
    time: float  # of the last timed lap, or until the end [s]
    distance: float  # driven in all, run-in lap left out [m]
    start: np.ndarray  # (STATES,) when the lap began
    end: np.ndarray  # (STATES,) when it ended
    rows: np.ndarray  # (n, STATES) every ROW_TIME from the lap's start
    extremes: np.ndarray  # (EXTREMES,)
    step: float  # [s]


def road_of(course: Course, plan: PacePlan) -> Road:
    """The course and its pace plan as cubic cells.

    course : Course; plan : PacePlan on its stations [m], [m/s]
    Returns a Road.  Curvature and slope by a cubic spline, the square of the speed by a monotone one that keeps its limits.
    """
    from scipy.interpolate import CubicSpline, PchipInterpolator

    grid = course.station
    ends = "periodic" if course.closed else "not-a-knot"

    def spline(values):
        values = values.copy()
        if course.closed:
            values[-1] = values[0]
        return cubic_cells(CubicSpline(grid, values, bc_type=ends), grid)

    pace = cubic_cells(PchipInterpolator(grid, plan.speed**2), grid)
    direction = cubic_cells(CubicSpline(grid, course.heading), grid)
    cells = np.ascontiguousarray(np.stack([spline(course.curvature), spline(course.slope), pace, direction], axis=1))
    return Road(course.length, course.closed, course.length / (len(grid) - 1), cells, plan.power, *plan.wind)


def hands_of(table: SteerTable) -> Hands:
    """The steer table as kernels read it.  table : SteerTable [rad], [m]."""
    return Hands(table.first, table.spacing, table.cells, table.lock_right, table.lock_left)


@kernel
def front_pose(hands, car, steer, rate, steers, steer_rates, x, y, cambers):
    """Pose of the wheels at an equivalent steer.

    hands : Hands; car : Car
    steer, rate : equivalent single-track steer [rad] and its rate [rad/s]
    steers, steer_rates, x, y, cambers : (4,) written [rad], [rad/s], [m] from the mass centre, [rad]
    Source: the set-up's sampled steering; rear wheels stand still.
    """
    index, t = cell_of(steer - hands.first, hands.spacing, len(hands.cells))
    cells = hands.cells[index]
    steers[0], steers[1] = cubic(cells[LEFT_STEER], t), cubic(cells[RIGHT_STEER], t)
    steer_rates[0] = cubic_slope(cells[LEFT_STEER], t) / hands.spacing * rate
    steer_rates[1] = cubic_slope(cells[RIGHT_STEER], t) / hands.spacing * rate
    x[0], x[1] = car.front_arm + cubic(cells[LEFT_X], t), car.front_arm + cubic(cells[RIGHT_X], t)
    y[0], y[1] = cubic(cells[LEFT_Y], t), cubic(cells[RIGHT_Y], t)
    cambers[0], cambers[1] = cubic(cells[LEFT_CAMBER], t), cubic(cells[RIGHT_CAMBER], t)
    for i in range(2, 4):
        steers[i] = steer_rates[i] = cambers[i] = 0.0
        x[i] = car.front_arm - car.wheelbase
    y[2], y[3] = 0.5 * car.rear_track, -0.5 * car.rear_track


@kernel
def road_at(road, station):
    """Cell and coordinate of a station below two rounds; a closed course goes round.  road : Road; station [m]."""
    if road.closed and station >= road.length:
        station -= road.length
    return cell_of(station, road.spacing, len(road.cells))


@kernel
def lap_rate(car, hands, road, driver, state, rate, wheels, body):
    """Right-hand side of a lap.

    car, hands, road, driver : what is driven, where and how
    state : (STATES,) [SI]
    rate : (STATES,) written: its rate of change [SI/s]
    wheels, body : written, see `sim.motion.car_motion`
    Source: `car_motion` in path coordinates, ds/dt = v_t / (1 - e k), de/dt = v_n, d(heading error)/dt = r - k ds/dt (derived
    here).  Gravity's pull is the slope of a height that depends on the station alone, so that a closed lap gives all of it back.
    """
    vx, vy, yaw_rate = state[VX], state[VY], state[YAW_RATE]
    index, t = road_at(road, state[STATION])
    curvature = cubic(road.cells[index, CURVATURE], t)
    cosine, sine = cos(state[HEADING]), sin(state[HEADING])
    along, across = cosine * vx - sine * vy, sine * vx + cosine * vy
    # Beyond the bend's centre the station has no meaning; the lap has ended as off course long before.
    stretch = 1.0 / max(1.0 - state[ERROR] * curvature, 0.1)
    progress = along * stretch
    plan = max(cubic(road.cells[index, PLAN], t), 0.0)
    planned = sqrt(plan)
    speed = sqrt(vx * vx + vy * vy)
    wanted = 0.5 * cubic_slope(road.cells[index, PLAN], t) / road.spacing + driver.speed_gain * (planned - speed)

    ahead, u = road_at(road, state[STATION] + driver.lead * vx)
    drift = across / max(speed, 0.1)
    rear_arm = car.wheelbase - car.front_arm
    preview = max(driver.preview * speed, driver.least_preview * rear_arm)
    demand = steer_demand(cubic(road.cells[ahead, CURVATURE], u), state[ERROR], drift, preview, car.wheelbase, rear_arm)
    demand = min(max(demand, hands.least), hands.most)
    turning = min(max((demand - state[STEER]) / driver.hand_lag, -driver.hand_rate), driver.hand_rate)

    pose = np.empty((5, 4))
    steers, steer_rates, x, y, cambers = pose[0], pose[1], pose[2], pose[3], pose[4]
    front_pose(hands, car, state[STEER], turning, steers, steer_rates, x, y, cambers)
    wind_x = wind_y = 0.0
    if road.wind_x != 0.0 or road.wind_y != 0.0:
        heading = cubic(road.cells[index, DIRECTION], t) + state[HEADING]
        wind_x = cos(heading) * road.wind_x + sin(heading) * road.wind_y
        wind_y = cos(heading) * road.wind_y - sin(heading) * road.wind_x
    fall = -car.mass * GRAVITY * cubic(road.cells[index, SLOPE], t) * stretch
    car_motion(
        car, vx, vy, yaw_rate, state[SLIPS : SLIPS + 4], steers, steer_rates, x, y, cambers,
        fall * cosine, -fall * sine, wind_x, wind_y, True, wanted, road.power, wheels, body,
    )  # fmt: skip
    rate[VX], rate[VY], rate[YAW_RATE] = body[ACCEL_X], body[ACCEL_Y], body[ACCEL_YAW]
    rate[STEER] = turning
    rate[STATION], rate[ERROR], rate[HEADING] = progress, across, yaw_rate - curvature * progress
    rate[DRIVE_WORK], rate[AIR], rate[ROLLING] = body[DRIVE_POWER], body[AIR_POWER], body[ROLLING_POWER]
    rate[BRAKES], rate[HEIGHT], rate[ALIGNING] = body[BRAKE_POWER], body[HEIGHT_POWER], body[ALIGNING_POWER]
    rate[HANDS], rate[STORED] = body[HAND_POWER], body[STORED_POWER]
    rate[BATTERY], rate[COPPER], rate[NO_LOAD] = body[BATTERY_POWER], body[COPPER_POWER], body[NO_LOAD_POWER]
    rate[GEAR], rate[BATTERY_WARMTH], rate[REGENERATED] = body[GEAR_POWER], body[BATTERY_HEAT], body[REGENERATED_POWER]
    rate[CHARGE], rate[USED_CHARGE] = body[BATTERY_CURRENT], body[CHARGE_RATE]
    rate[ERROR_SQUARED] = state[ERROR] ** 2 * progress
    for i in range(4):
        rate[SLIPS + i] = wheels[i, SLIP_RATE]
        rate[LATERAL + i] = wheels[i, LATERAL_LOSS]
        rate[LONGITUDINAL + i] = wheels[i, LONGITUDINAL_LOSS]
        rate[RUB + i] = wheels[i, RUB_SPEED]


@kernel
def advance(car, hands, road, driver, state, first, step, new, trial, rates, wheels, body):
    """One classical Runge-Kutta step whose first rate is known.

    car, hands, road, driver : as for `lap_rate`
    state : (STATES,) before; first : (STATES,) its rate; step [s]
    new : (STATES,) written: the state after the step
    trial, rates, wheels, body : work space
    Source: the classical fourth-order rule.
    """
    for i in range(STATES):
        new[i] = state[i] + step / 6.0 * first[i]
        trial[i] = state[i] + 0.5 * step * first[i]
    for stage in range(3):
        lap_rate(car, hands, road, driver, trial, rates, wheels, body)
        weight = step / 6.0 if stage == 2 else step / 3.0
        reach = step if stage == 1 else 0.5 * step
        for i in range(STATES):
            new[i] += weight * rates[i]
            trial[i] = state[i] + reach * rates[i]


@kernel
def integrate(car, hands, road, driver, state, step, every, laps, longest, rows):
    """Drive `laps` laps from a state and keep the last.

    car, hands, road, driver : as for `lap_rate`
    state : (STATES,) start, changed in place to the end of the last lap
    step : [s]; every : steps between rows; laps : to drive in all; longest : time after which a lap counts as stalled [s]
    rows : (n, STATES) written: the last lap's trace
    Returns (code, number of rows, time of the last lap [s], laps completed, (STATES,) start of the last lap, (EXTREMES,)).
    """
    first, new, trial, rates = np.zeros(STATES), np.zeros(STATES), np.zeros(STATES), np.zeros(STATES)
    wheels, body = np.zeros((4, WHEEL_COLUMNS)), np.zeros(BODY_COLUMNS)
    start, extremes = state.copy(), np.zeros(EXTREMES)
    code, count, time = 0, 0, 0.0
    for done in range(laps):
        state[LEDGER:] = 0.0
        start[:] = state
        extremes[:] = 0.0
        extremes[LEAST_LOAD] = car.mass * GRAVITY
        count, time, steps = 0, 0.0, 0
        while True:
            lap_rate(car, hands, road, driver, state, first, wheels, body)
            if body[LIFTED] > 1.5:
                code = 1
            elif abs(state[ERROR]) > OFF_COURSE:
                code = 2
            elif time > longest or state[VX] < ROLLING_BACK:
                code = 3
            elif not np.isfinite(first.sum()):
                code = 4
            extremes[FARTHEST] = max(extremes[FARTHEST], abs(state[ERROR]))
            for i in range(4):
                extremes[LEAST_LOAD] = min(extremes[LEAST_LOAD], wheels[i, LOAD])
                if abs(state[SLIPS + i]) > abs(extremes[PEAK_SLIP + i]):
                    extremes[PEAK_SLIP + i] = state[SLIPS + i]
            if steps % every == 0 and count < len(rows):
                rows[count] = state
                count += 1
            if code != 0:
                return code, count, time, done, start, extremes
            advance(car, hands, road, driver, state, first, step, new, trial, rates, wheels, body)
            if new[STATION] >= road.length:
                # Cut the step at the finish line: Newton's method on its length, the station's own rate as the slope.
                cut = step
                for _ in range(30):
                    past = new[STATION] - road.length
                    if abs(past) <= FINISH_TOLERANCE:
                        break
                    cut = min(max(cut - past / max(first[STATION], 1e-3), 0.0), step)
                    advance(car, hands, road, driver, state, first, cut, new, trial, rates, wheels, body)
                state[:] = new
                time += cut
                break
            state[:] = new
            steps += 1
            time = steps * step
        if done + 1 < laps:
            state[STATION] -= road.length
    return code, count, time, laps, start, extremes


@kernel
def observe(car, hands, road, driver, rows, wheels, bodies):
    """Forces and powers along a trace.

    car, hands, road, driver : as for `lap_rate`
    rows : (n, STATES) [SI]
    wheels : (n, 4, WHEEL_COLUMNS), bodies : (n, BODY_COLUMNS) written, see `sim.motion.car_motion`
    """
    rate = np.empty(STATES)
    for i in range(len(rows)):
        lap_rate(car, hands, road, driver, rows[i], rate, wheels[i], bodies[i])


def time_step(car: Car, plan: PacePlan) -> float:
    """Step of a lap: at most LONGEST_STEP, at most the time in which the fastest wheel rolls its relaxation length.

    car : Car; plan : PacePlan
    Returns a whole fraction of ROW_TIME [s].  Source: the slip's pole |v|/s is well damped there; stability ends near 2.8.
    """
    length = min(car.front_tyre.relaxation_length, car.rear_tyre.relaxation_length)
    return ROW_TIME / ceil(ROW_TIME / min(LONGEST_STEP, length / float(np.max(plan.speed))) - 1e-9)


def start_state(car: Car, road: Road, hands: Hands) -> np.ndarray:
    """The car on the line at the planned speed, turning as a rolling bicycle would.

    car : Car; road : Road; hands : Hands
    Returns (STATES,) [SI].
    """
    state = np.zeros(STATES)
    curvature, speed = road.cells[0, CURVATURE, 0], sqrt(road.cells[0, PLAN, 0])
    try:
        steer, sideslip = kinematic_steer(curvature, car)
    except ValueError:
        steer, sideslip = 0.0, 0.0
    state[VX], state[VY], state[YAW_RATE] = speed * cos(sideslip), speed * sin(sideslip), speed * curvature
    state[STEER], state[HEADING] = min(max(steer, hands.least), hands.most), -sideslip
    return state


def drive_lap(car: Car, table: SteerTable, course: Course, plan: PacePlan, *, laps: int = 1, driver: Driver | None = None,
              step: float | None = None) -> Lap:  # fmt: skip
    """Drive a set-up round a course in time.

    car, table, course, plan : what is driven, where and how fast
    laps : timed laps; on a closed course a run-in lap comes before them
    driver : habits, the usual ones where None; step : [s], the usual one where None
    Returns the last timed Lap.  A set-up that cannot follow ends with its reason; that is a result, not an error.
    """
    driver, step = driver or Driver(), step or time_step(car, plan)
    road, hands = road_of(course, plan), hands_of(table)
    state = start_state(car, road, hands)
    longest = 3.0 * plan.time + 30.0
    rows = np.empty((ceil(longest / ROW_TIME) + 2, STATES))
    every = max(round(ROW_TIME / step), 1)
    run_in = 1 if course.closed else 0
    code, count, time, done, start, extremes = integrate(
        car, hands, road, driver, state, step, every, laps + run_in, longest, rows
    )
    distance = max(done - run_in, 0) * course.length + (0.0 if code == 0 or done < run_in else state[STATION])
    return Lap(Ended(code), time, float(distance), start, state, rows[:count].copy(), extremes, step)
