"""Many cars in lock step: the lap of `sim.lap.drive.integrate` in the lanes of a processor, bit for bit what each car drives alone."""

from typing import NamedTuple

import numpy as np

from sim.car.chassis import GRAVITY, SOLID_AXLE
from sim.car.motion import BODY_COLUMNS, WHEEL_COLUMNS
from sim.kernels.compiled import inlined, kernel, no_refcount
from sim.lap.drive import Ended, Work, cut_at_line, ending
from sim.lap.lockstep.lanes import (
    ALONE,
    COUNTS,
    FIGURES,
    HELDS,
    INPUTS,
    LANES,
    OUTPUTS,
    PLACES,
    Count,
    Figure,
    Input,
    Kinds,
    Lanes,
    LaneWork,
    Output,
    lane_driver,
    lane_road,
    lane_steering,
    whole_car,
)  # fmt: skip
from sim.lap.lockstep.rates import advance_lanes, lanes_rate, write_step
from sim.lap.state import EXTREMES, LEDGER, STATES, Extreme, State
from sim.pace.road import Road
from sim.steering.cells import SteerCells

LINE = 8  # numbers in a line of the processor's cache, as far as processors are built today


class Results(NamedTuple):
    """What cars have come to in their last laps; the meaning of each array is that of the field of `sim.lap.drive.Lap` with its name."""

    ended: np.ndarray  # (n,) `Ended`
    time: np.ndarray  # (n,) [s]
    rounds: np.ndarray  # (n,) laps completed
    start: np.ndarray  # (n, STATES) [SI]
    end: np.ndarray  # (n, STATES) [SI]
    extremes: np.ndarray  # (n, EXTREMES) [SI]


@kernel
def lane_floats(count):
    """Zeros for the quantities of all lanes, (count * LANES,), at the beginning of a cache line, lest each access meets two.  count [-]."""
    room = np.zeros(count * LANES + LINE)
    skip = -(room.ctypes.data // 8) % LINE
    return room[skip : skip + count * LANES]


@kernel
def lane_counts(count):
    """`lane_floats` for whole numbers.  count [-]."""
    room = np.zeros(count * LANES + LINE, np.int64)
    skip = -(room.ctypes.data // 8) % LINE
    return room[skip : skip + count * LANES]


@no_refcount
def write_extremes(state, outputs, extremes):
    """Extremes of all lanes in their present state, as `sim.lap.drive.integrate` keeps them.

    state, outputs : flat [SI]; extremes : flat, changed in place
    """
    for lane in range(LANES):
        extremes[Extreme.FARTHEST * LANES + lane] = max(extremes[Extreme.FARTHEST * LANES + lane], abs(state[State.ERROR * LANES + lane]))
    for i in range(4):
        for lane in range(LANES):
            least = extremes[Extreme.LEAST_LOAD * LANES + lane]
            extremes[Extreme.LEAST_LOAD * LANES + lane] = min(least, outputs[(Output.LOADS + i) * LANES + lane])
            slip, peak = state[(State.SLIPS + i) * LANES + lane], extremes[(Extreme.PEAK_SLIP + i) * LANES + lane]
            extremes[(Extreme.PEAK_SLIP + i) * LANES + lane] = slip if abs(slip) > abs(peak) else peak


@no_refcount
def write_travel(figures, first, extremes):
    """Add the hands' way in the step that begins.  figures, first : flat [SI]; extremes : flat, changed in place."""
    for lane in range(LANES):
        extremes[Extreme.TRAVEL * LANES + lane] += abs(first[State.STEER * LANES + lane]) * figures[Figure.STEP * LANES + lane]


@no_refcount
def any_ended(lanes, state, first, outputs, steps, codes):
    """Why each lane's lap ends in its present state, by `sim.lap.drive.ending`, and whether any does that counts.

    lanes : Lanes; state, first, outputs : flat [SI]; steps : (LANES,) since the lap's start; codes : (LANES,) written, `Ended`
    """
    figures, found = lanes.figures, 0
    for lane in range(LANES):
        total = 0.0
        for k in range(STATES):
            total += first[k * LANES + lane]
        late = steps[lane] * figures[Figure.STEP * LANES + lane] > figures[Figure.LONGEST * LANES + lane]
        code = ending(outputs[Output.LIFTED * LANES + lane], state[State.ERROR * LANES + lane], late, state[State.VX * LANES + lane], total)
        codes[lane] = code if lanes.live[lane] != 0 else Ended.FINISHED
        found |= codes[lane]
    return found != Ended.FINISHED


@no_refcount
def any_at_line(lanes, new, steps):
    """Count a step of each lane, and tell whether any has come to the line that counts.

    lanes : Lanes; new : flat, after the step [SI]; steps : (LANES,) since the lap's start, changed in place
    """
    found = 0
    for lane in range(LANES):
        steps[lane] += 1
        found |= lanes.live[lane] if new[State.STATION * LANES + lane] >= lanes.figures[Figure.LENGTH * LANES + lane] else 0
    return found != 0


@inlined
def begin_lap(state, start, extremes, mass, lane):
    """Make a lane ready for a lap from its present state: ledger and extremes at their beginning.

    state, start, extremes : flat, written [SI]; mass [kg]; lane [-]
    """
    for k in range(STATES):
        if k >= LEDGER:
            state[k * LANES + lane] = 0.0
        start[k * LANES + lane] = state[k * LANES + lane]
    for k in range(EXTREMES):
        extremes[k * LANES + lane] = 0.0
    extremes[Extreme.LEAST_LOAD * LANES + lane] = mass * GRAVITY


@no_refcount
def cut_lane(lanes, state, first, new, work, one, lane):
    """Cut a lane's step at the finish line by `sim.lap.drive.cut_at_line`.

    lanes : Lanes; state, first : flat, before the step [SI]; new : flat, after the whole step, changed to the state on the line
    work : LaneWork and one : Work of a car alone, written; lane [-]
    Returns the length of the cut step [s].
    """
    figures, counts, alone = lanes.figures, lanes.counts, work.alone
    for k in range(STATES):
        alone[0, k], alone[1, k], alone[2, k] = state[k * LANES + lane], first[k * LANES + lane], new[k * LANES + lane]
    steer_cells = SteerCells(lanes.steer_cells, *lane_steering(figures, counts, lane))
    road = Road(lanes.road_cells, *lane_road(figures, counts, lane))
    car, driver = whole_car(figures, lane, lanes.kinds.brush), lane_driver(figures, lanes.driver, lane)
    cut = cut_at_line(car, steer_cells, road, driver, alone[0], alone[1], figures[Figure.STEP * LANES + lane], alone[2], one)
    for k in range(STATES):
        new[k * LANES + lane] = alone[2, k]
    return cut


@kernel
def integrate_lanes(cars, whole, begin, steer_cells, road_cells, driver, results, brush):
    """Drive cars in lock step; a lane whose car has ended takes the next one.

    cars : (n, FIGURES) [SI]; whole : (n, COUNTS); begin : (n, STATES) states on the line; n at least 1
    steer_cells, road_cells : of all set-ups and roads, as in `SteerCells` and `Road`; driver : Driver, its habits
    results : Results, written
    brush : LINEAR or BRUSH, the law of all cars' tyres
    Source: `sim.lap.drive.integrate`, which drives one car; the same bit for bit.
    """
    figures, counts = lane_floats(FIGURES), lane_counts(COUNTS)
    state, start, first, new = lane_floats(STATES), lane_floats(STATES), lane_floats(STATES), lane_floats(STATES)
    rates, trial = (lane_floats(STATES), lane_floats(STATES), lane_floats(STATES)), lane_floats(STATES)
    parts = lane_floats(1), lane_floats(LEDGER), lane_floats(LEDGER)
    extremes, codes, live = lane_floats(EXTREMES), lane_counts(1), lane_counts(1)
    who, steps, done = lane_counts(1), lane_counts(1), lane_counts(1)
    work = LaneWork(
        lane_counts(PLACES), lane_counts(PLACES), lane_floats(HELDS), lane_counts(1), lane_floats(PLACES), lane_floats(INPUTS),
        lane_floats(OUTPUTS), np.zeros((ALONE, STATES)),
    )  # fmt: skip
    work.held_rows[:] = -1
    work.inputs[Input.MOTOR_FORCE * LANES : (Input.MOTOR_FORCE + 1) * LANES] = np.inf
    one_car = Work(np.zeros(STATES), np.zeros((3, STATES)), np.zeros((4, WHEEL_COLUMNS)), np.zeros(BODY_COLUMNS))
    windy = electric = solid = False
    for i in range(len(cars)):
        windy = windy or cars[i, Figure.WIND_X] != 0.0 or cars[i, Figure.WIND_Y] != 0.0
        electric, solid = electric or cars[i, Figure.MOTOR + 1] != 0.0, solid or cars[i, Figure.DRIVE] == SOLID_AXLE
    lanes = Lanes(figures, counts, steer_cells, road_cells, driver, Kinds(windy, electric, solid, brush), live)
    free, vacant, waiting, running = np.ones(LANES, np.bool_), True, 0, 0
    while True:
        for lane in range(LANES if vacant else 0):
            if free[lane] and (waiting < len(cars) or figures[Figure.MASS * LANES + lane] == 0.0):
                # A lane without a car of its own drives the first one along, unseen.
                one = waiting if waiting < len(cars) else 0
                for k in range(FIGURES):
                    figures[k * LANES + lane] = cars[one, k]
                for k in range(COUNTS):
                    counts[k * LANES + lane] = whole[one, k]
                for k in range(STATES):
                    state[k * LANES + lane] = begin[one, k]
                live[lane] = 1 if waiting < len(cars) else 0
                free[lane] = False
                who[lane], steps[lane], done[lane] = one, 0, 0
                running += live[lane]
                waiting += 1
                write_step(parts, figures[Figure.STEP * LANES + lane], lane)
                begin_lap(state, start, extremes, figures[Figure.MASS * LANES + lane], lane)
        vacant = False
        if running == 0:
            return
        lanes_rate(lanes, state, first, work)
        write_extremes(state, work.outputs, extremes)
        if any_ended(lanes, state, first, work.outputs, steps, codes):
            for lane in range(LANES):
                if codes[lane] != Ended.FINISHED:
                    time = steps[lane] * figures[Figure.STEP * LANES + lane]
                    store_result(who[lane], lane, codes[lane], time, done[lane], start, state, extremes, results)
                    live[lane], free[lane], vacant = 0, True, True
                    running -= 1
            continue  # the next car's first rate has yet to be worked out; the others' comes out the same again
        write_travel(lanes.figures, first, extremes)
        advance_lanes(lanes, parts, state, first, new, trial, rates, work)
        for lane in range(LANES if any_at_line(lanes, new, steps) else 0):
            if live[lane] != 0 and new[State.STATION * LANES + lane] >= figures[Figure.LENGTH * LANES + lane]:
                before = (steps[lane] - 1) * figures[Figure.STEP * LANES + lane]
                time = before + cut_lane(lanes, state, first, new, work, one_car, lane)
                done[lane] += 1
                steps[lane] = 0
                if done[lane] == counts[Count.ROUNDS * LANES + lane]:
                    store_result(who[lane], lane, Ended.FINISHED, time, done[lane], start, new, extremes, results)
                    live[lane], free[lane], vacant = 0, True, True
                    running -= 1
                else:
                    new[State.STATION * LANES + lane] -= figures[Figure.LENGTH * LANES + lane]
                    begin_lap(new, start, extremes, figures[Figure.MASS * LANES + lane], lane)
        state, new = new, state


@inlined
def store_result(one, lane, ended, time, done, start, end, extremes, results):
    """Keep what a lane has come to.

    one : the car's place; lane [-]; ended : Ended; time : of the last lap [s]; done : laps completed
    start, end, extremes : flat [SI]; results : Results, written
    """
    results.ended[one], results.time[one], results.rounds[one] = ended, time, done
    for k in range(STATES):
        results.start[one, k], results.end[one, k] = start[k * LANES + lane], end[k * LANES + lane]
    for k in range(EXTREMES):
        results.extremes[one, k] = extremes[k * LANES + lane]
