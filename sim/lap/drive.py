"""A lap in time: the car's equations along the course, fourth-order Runge-Kutta, the energy ledger integrated with the state.

The state is kept in path coordinates (station, lateral error, heading error), so that no position has to be searched for.
"""

from dataclasses import dataclass, replace
from enum import IntEnum
from math import ceil, cos, sin, sqrt
from typing import NamedTuple

import numpy as np

from sim.car.chassis import GRAVITY, Car, axle_stiffnesses, kinematic_steer
from sim.car.motion import BODY_COLUMNS, WHEEL_COLUMNS, BodyColumn, WheelColumn
from sim.course.centreline import Course
from sim.kernels.compiled import inlined, kernel, no_refcount
from sim.lap.equations import lap_rate, stage_sum
from sim.lap.ledger import WORST_RESIDUAL, ledger_between
from sim.lap.state import EXTREMES, LEDGER, STATES, Extreme, State
from sim.lap.weave import planned_steers, planned_travel, weaves
from sim.pace.driver import Driver, PacePlan, driver_of
from sim.pace.road import Road, RoadColumn, road_of
from sim.steering.cells import SteerCells, steer_cells_of
from sim.steering.table import SteerTable

LONGEST_STEP = 0.010  # [s]; at 10 ms a lap's drive work and scrub are within 0.1 % of a step four times finer
ROW_TIME = 0.020  # [s] between rows of the trace: 50 Hz
OFF_COURSE = 2.0  # [m] from the line: the set-up cannot follow
ROLLING_BACK = -0.05  # [m/s]: a car that rolls back this fast has come to a halt on a hill
SWING_STEP = 0.8  # of the car's quickest swing on its tyre springs, in radians; above about 2.8 a step makes it grow
# A lap whose ledger leaves more than this share of the drive work open is driven again with half the step; smooth laps leave 1e-9, laps
# with long slides 1e-7.  After the last halving, or at the least step, which is what a lap of minutes can be waited for,
# one that leaves more than `sim.lap.ledger.WORST_RESIDUAL` has no figures.
FINE_RESIDUAL, MOST_HALVINGS, LEAST_STEP = 1e-6, 3, 5e-5  # [-], [-], [s]
FINISH_TOLERANCE = 1e-10  # [m] at the finish line; a lap time to better than 1e-9 s


class Ended(IntEnum):
    """How a lap ended; the kernels' `ending` tells the first five."""

    FINISHED = 0  # and, while a lap is driven, that it goes on
    TIPPED = 1  # fewer than three wheels on the ground
    OFF_COURSE = 2  # farther than OFF_COURSE from the line
    STALLED = 3  # rolled back, or its time was over
    NOT_FINITE = 4  # a rate that is no number
    WEAVED = 5  # it came round, see `sim.lap.weave`
    LEAKED = 6  # it came round, but its energy ledger does not close


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


class Work(NamedTuple):
    """Work space of a Runge-Kutta step."""

    trial: np.ndarray  # (STATES,)
    rates: np.ndarray  # (3, STATES)
    wheels: np.ndarray  # (4, WHEEL_COLUMNS)
    body: np.ndarray  # (BODY_COLUMNS,)


@no_refcount
def advance(car, steer_cells, road, driver, state, first, step, new, work):
    """One classical Runge-Kutta step whose first rate is known.

    car, steer_cells, road, driver : as for `lap_rate`
    state : (STATES,) before; first : (STATES,) its rate; step [s]
    new : (STATES,) written: the state after the step
    work : Work, written
    Source: the classical fourth-order rule.
    """
    # No rate depends on the ledger, so that its sums need no place in the stages.
    before = first
    for stage in range(3):
        part = step if stage == 2 else 0.5 * step
        for i in range(LEDGER):
            work.trial[i] = state[i] + part * before[i]
        before = work.rates[stage]
        lap_rate(car, steer_cells, road, driver, work.trial, before, work.wheels, work.body)
    sixth = step / 6.0
    for i in range(STATES):
        new[i] = state[i] + sixth * stage_sum(first[i], work.rates[0, i], work.rates[1, i], work.rates[2, i])


@no_refcount
def cut_at_line(car, steer_cells, road, driver, state, first, step, new, work):
    """Cut a step that crosses the finish line at the line.

    car, steer_cells, road, driver, state, first, step, work : as for `advance` [SI]
    new : (STATES,) the state after the whole step, changed in place to the one on the line
    Returns the length of the cut step [s].  Source: Newton's method on its length, the station's own rate as the slope.
    """
    cut = step
    for _ in range(30):
        past = new[State.STATION] - road.length
        if abs(past) <= FINISH_TOLERANCE:
            break
        cut = min(max(cut - past / max(first[State.STATION], 1e-3), 0.0), step)
        advance(car, steer_cells, road, driver, state, first, cut, new, work)
    return cut


@inlined
def ending(lifted, error, late, vx, total):
    """Why a lap ends in a state, FINISHED where it goes on.

    lifted : LIFTED of the motion; error : lateral error [m]; late : whether its time is over; vx : forward speed [m/s]
    total : sum of all rates, finite where each of them is
    Returns Ended.
    """
    broken = Ended.FINISHED if total - total == 0.0 else Ended.NOT_FINITE
    stalled = Ended.STALLED if late or vx < ROLLING_BACK else broken
    off_course = Ended.OFF_COURSE if abs(error) > OFF_COURSE else stalled
    return Ended.TIPPED if lifted > 1.5 else off_course


@kernel
def integrate(car, steer_cells, road, driver, state, step, every, laps, longest, rows):
    """Drive `laps` laps from a state and keep the last.

    car, steer_cells, road, driver : as for `lap_rate`
    state : (STATES,) start, changed in place to the end of the last lap
    step : [s]; every : steps between rows; laps : to drive in all; longest : time after which a lap counts as stalled [s]
    rows : (n, STATES) written: the last lap's trace
    Returns (Ended, number of rows, time of the last lap [s], laps completed, (STATES,) start of the last lap, (EXTREMES,)).
    """
    first, new, wheels, body = np.zeros(STATES), np.zeros(STATES), np.zeros((4, WHEEL_COLUMNS)), np.zeros(BODY_COLUMNS)
    work = Work(np.zeros(STATES), np.zeros((3, STATES)), wheels, body)
    start, extremes = state.copy(), np.zeros(EXTREMES)
    code, count, time = Ended.FINISHED, 0, 0.0
    for done in range(laps):
        state[LEDGER:] = 0.0
        start[:] = state
        extremes[:] = 0.0
        extremes[Extreme.LEAST_LOAD] = car.mass * GRAVITY
        count, time, steps = 0, 0.0, 0
        while True:
            lap_rate(car, steer_cells, road, driver, state, first, wheels, body)
            total = 0.0
            for i in range(STATES):
                total += first[i]
            code = ending(body[BodyColumn.LIFTED], state[State.ERROR], time > longest, state[State.VX], total)
            extremes[Extreme.FARTHEST] = max(extremes[Extreme.FARTHEST], abs(state[State.ERROR]))
            for i in range(4):
                extremes[Extreme.LEAST_LOAD] = min(extremes[Extreme.LEAST_LOAD], wheels[i, WheelColumn.LOAD])
                if abs(state[State.SLIPS + i]) > abs(extremes[Extreme.PEAK_SLIP + i]):
                    extremes[Extreme.PEAK_SLIP + i] = state[State.SLIPS + i]
            if steps % every == 0 and count < len(rows):
                rows[count] = state
                count += 1
            if code != Ended.FINISHED:
                return code, count, time, done, start, extremes
            extremes[Extreme.TRAVEL] += abs(first[State.STEER]) * step
            advance(car, steer_cells, road, driver, state, first, step, new, work)
            if new[State.STATION] >= road.length:
                time += cut_at_line(car, steer_cells, road, driver, state, first, step, new, work)
                state[:] = new
                break
            state[:] = new
            steps += 1
            time = steps * step
        if done + 1 < laps:
            state[State.STATION] -= road.length
    return code, count, time, laps, start, extremes


@kernel
def observe(car, steer_cells, road, driver, rows, wheels, bodies):
    """Forces and powers along a trace.

    car, steer_cells, road, driver : as for `lap_rate`
    rows : (n, STATES) [SI]
    wheels : (n, 4, WHEEL_COLUMNS), bodies : (n, BODY_COLUMNS) written, see `sim.car.motion.car_motion`
    """
    rate = np.empty(STATES)
    for i in range(len(rows)):
        lap_rate(car, steer_cells, road, driver, rows[i], rate, wheels[i], bodies[i])


def swing_rate(car: Car) -> float:
    """Circular frequency of the car's quickest swing on its tyres' side springs.

    car : Car
    Returns it [rad/s].  Source: two axle springs C/s under a rigid body, the larger root of its two lateral motions; mechanics.
    """
    front_arm, rear_arm = car.front_arm, car.wheelbase - car.front_arm
    stiff_front, stiff_rear = axle_stiffnesses(car)
    front, rear = stiff_front / car.front_tyre.relaxation_length, stiff_rear / car.rear_tyre.relaxation_length
    side = (front + rear) / car.mass
    turn = (front_arm**2 * front + rear_arm**2 * rear) / car.yaw_inertia
    mixed = (front_arm * front - rear_arm * rear) ** 2 / (car.mass * car.yaw_inertia)
    return sqrt(0.5 * (side + turn) + sqrt(0.25 * (side - turn) ** 2 + mixed))


def time_step(car: Car, plan: PacePlan) -> float:
    """Step of a lap: at most LONGEST_STEP, at most the time in which the fastest wheel rolls its relaxation length, at most SWING_STEP.

    car : Car; plan : PacePlan
    Returns a whole fraction of ROW_TIME [s].  Source: the slip's pole |v|/s is well damped there, and the swing of `swing_rate` is
    followed; stability of the Runge-Kutta rule ends near 2.8 of either.
    """
    length = min(car.front_tyre.relaxation_length, car.rear_tyre.relaxation_length)
    longest = max(min(LONGEST_STEP, length / float(np.max(plan.speed)), SWING_STEP / swing_rate(car)), LEAST_STEP)
    return ROW_TIME / ceil(ROW_TIME / longest - 1e-9)


def finer(ended: int, step: float, car: Car, start: np.ndarray, end: np.ndarray) -> bool:
    """Whether a lap is to be driven again with half the step.

    ended : `Ended`; step : that it was driven with [s]; car : Car; start, end : (STATES,) of the lap [SI]
    """
    return ended == Ended.FINISHED and step >= 2 * LEAST_STEP and not abs(ledger_between(car, start, end).residual) <= FINE_RESIDUAL


def start_state(car: Car, road: Road, steer_cells: SteerCells) -> np.ndarray:
    """The car on the line at the planned speed, turning as a rolling bicycle would.

    car : Car; road : Road; steer_cells : SteerCells
    Returns (STATES,) [SI].
    """
    state = np.zeros(STATES)
    curvature, speed = road.cells[0, RoadColumn.CURVATURE], sqrt(road.cells[0, RoadColumn.PLAN])
    try:
        steer, sideslip = kinematic_steer(curvature, car)
    except ValueError:
        steer, sideslip = 0.0, 0.0
    state[State.VX], state[State.VY], state[State.YAW_RATE] = speed * cos(sideslip), speed * sin(sideslip), speed * curvature
    state[State.STEER], state[State.HEADING] = min(max(steer, steer_cells.least), steer_cells.most), -sideslip
    return state


def longest_lap(plan: PacePlan) -> float:
    """Time after which a lap counts as stalled [s].  plan : PacePlan."""
    return 3.0 * plan.time + 30.0


def distance_of(course: Course, ended: Ended, done: int, end: np.ndarray) -> float:
    """Distance driven in all, the run-in lap left out.

    course : Course; ended : how the last lap ended; done : laps completed, the run-in lap with them; end : (STATES,) at the end
    Returns [m].
    """
    run_in = 1 if course.closed else 0
    part = 0.0 if ended == Ended.FINISHED or done < run_in else float(end[State.STATION])
    return max(done - run_in, 0) * course.length + part


def judged(lap: Lap, car: Car, planned: float, length: float) -> Ended:
    """How a lap ended, once it is known whether its figures mean anything.

    lap : as the kernel drove it; car : Car; planned : way of the hands, of `sim.lap.weave.planned_travel` [rad]; length : of the course [m]
    """
    if lap.ended != Ended.FINISHED:
        return lap.ended
    if not abs(ledger_between(car, lap.start, lap.end).residual) <= WORST_RESIDUAL:
        return Ended.LEAKED
    return Ended.WEAVED if weaves(float(lap.extremes[Extreme.TRAVEL]), planned, length) else Ended.FINISHED


def drive_lap(car: Car, table: SteerTable, course: Course, plan: PacePlan, *, laps: int = 1, driver: Driver | None = None,
              step: float | None = None) -> Lap:  # fmt: skip
    """Drive a set-up round a course in time.

    car, table, course, plan : what is driven, where and how fast
    laps : timed laps; on a closed course a run-in lap comes before them
    driver : habits, the usual ones where None; step : [s], kept whatever the ledger leaves; None for the usual one, halved as needed
    Returns the last timed Lap.  A set-up that cannot follow ends with its reason; that is a result, not an error.
    """
    driver = driver or driver_of(car)
    road, steer_cells = road_of(course, plan), steer_cells_of(table)
    longest = longest_lap(plan)
    rows = np.empty((ceil(longest / ROW_TIME) + 2, STATES))
    run_in = 1 if course.closed else 0
    tried = step or time_step(car, plan)
    for _ in range(1 if step else 1 + MOST_HALVINGS):
        state = start_state(car, road, steer_cells)
        every = max(round(ROW_TIME / tried), 1)
        code, count, time, done, start, extremes = integrate(
            car, steer_cells, road, driver, state, tried, every, laps + run_in, longest, rows
        )
        used, tried = tried, 0.5 * tried
        if not finer(code, used, car, start, state):
            break
    lap = Lap(Ended(code), time, distance_of(course, Ended(code), done, state), start, state, rows[:count].copy(), extremes, used)
    planned = planned_travel(planned_steers(car, course, plan, driver), table)
    return replace(lap, ended=judged(lap, car, planned, course.length))
