"""Many cars in lock step: the lap of `sim.lap.drive.integrate` in the lanes of a processor, bit for bit what each car drives alone."""

import numpy as np

from sim.car.chassis import GRAVITY, SOLID_AXLE
from sim.car.motion import BODY_COLUMNS, WHEEL_COLUMNS
from sim.kernels.compiled import inlined, kernel, no_refcount
from sim.lap.drive import cut_at_line, ending
from sim.lap.lockstep.lanes import (
    CELLS, COUNTS, DRIVE, FIGURES, INPUTS, LANES, LENGTH, LIFTED, LOADS, LONGEST, MASS, MOTOR, MOTOR_FORCE, OUTPUTS, ROUNDS, STEP, WIND_X,
    WIND_Y, Kinds, lane_driver, whole_car, whole_hands, whole_road,
)  # fmt: skip
from sim.lap.lockstep.rates import advance_lanes, lanes_rate, write_step
from sim.lap.state import ERROR, EXTREMES, FARTHEST, LEAST_LOAD, LEDGER, PEAK_SLIP, SLIPS, STATES, STATION, STEER, TRAVEL, VX


ALONE = 7  # rows of work space of a car that is driven alone: state, rate and next state of its step, and four of its stages


@no_refcount
def write_extremes(state, outputs, extremes):
    """Extremes of all lanes in their present state, as `sim.lap.drive.integrate` keeps them.

    state, outputs : flat [SI]; extremes : flat, changed in place
    """
    for lane in range(LANES):
        extremes[FARTHEST * LANES + lane] = max(extremes[FARTHEST * LANES + lane], abs(state[ERROR * LANES + lane]))
    for i in range(4):
        for lane in range(LANES):
            least = extremes[LEAST_LOAD * LANES + lane]
            extremes[LEAST_LOAD * LANES + lane] = min(least, outputs[(LOADS + i) * LANES + lane])
            slip, peak = state[(SLIPS + i) * LANES + lane], extremes[(PEAK_SLIP + i) * LANES + lane]
            extremes[(PEAK_SLIP + i) * LANES + lane] = slip if abs(slip) > abs(peak) else peak


@no_refcount
def note_travel(figures, first, extremes):
    """Add the hands' way in the step that begins.  figures, first : flat [SI]; extremes : flat, changed in place."""
    for lane in range(LANES):
        extremes[TRAVEL * LANES + lane] += abs(first[STEER * LANES + lane]) * figures[STEP * LANES + lane]


@no_refcount
def sum_rates(first, totals):
    """Sum of each lane's rates, in the order of the one-car kernel.  first : flat [SI/s]; totals : (LANES,) written."""
    for lane in range(LANES):
        totals[lane] = 0.0
    for k in range(STATES):
        for lane in range(LANES):
            totals[lane] += first[k * LANES + lane]


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
    extremes[LEAST_LOAD * LANES + lane] = mass * GRAVITY


@no_refcount
def cut_lane(brush, figures, counts, hands_cells, road_cells, driver, state, first, new, alone, lane, wheels, body):
    """Cut a lane's step at the finish line by `sim.lap.drive.cut_at_line`.

    brush : the tyres' law; figures, counts, hands_cells, road_cells, driver : as for `lanes_rate` [SI]
    state, first : flat, before the step; new : flat, after the whole step, changed to the state on the line; lane [-]
    alone : (ALONE, STATES), wheels, body : work space
    Returns the length of the cut step [s].
    """
    for k in range(STATES):
        alone[0, k], alone[1, k], alone[2, k] = state[k * LANES + lane], first[k * LANES + lane], new[k * LANES + lane]
    cut = cut_at_line(
        whole_car(figures, lane, brush), whole_hands(figures, counts, hands_cells, lane), whole_road(figures, counts, road_cells, lane),
        lane_driver(figures, driver, lane), alone[0], alone[1], figures[STEP * LANES + lane], alone[2], alone[3], alone[4:], wheels, body,
    )  # fmt: skip
    for k in range(STATES):
        new[k * LANES + lane] = alone[2, k]
    return cut


@kernel
def integrate_lanes(cars, whole, begin, hands_cells, road_cells, driver, codes, times, rounds, starts, ends, most, brush):
    """Drive cars in lock step; a lane whose car has ended takes the next one.

    cars : (n, FIGURES) [SI]; whole : (n, COUNTS); begin : (n, STATES) states on the line; n at least 1
    hands_cells, road_cells : of all set-ups and roads, as in `SteerCells` and `Road`; driver : Driver, its habits
    codes, times, rounds : (n,) written: `Ended`, time of the last lap [s], laps completed
    starts, ends : (n, STATES), most : (n, EXTREMES) written: of the last lap
    brush : LINEAR or BRUSH, the law of all cars' tyres
    Source: `sim.lap.drive.integrate`, which drives one car; the same bit for bit.
    """
    figures, counts = np.zeros(FIGURES * LANES), np.zeros(COUNTS * LANES, np.int64)
    state, start, first, new = np.zeros(STATES * LANES), np.zeros(STATES * LANES), np.zeros(STATES * LANES), np.zeros(STATES * LANES)
    rates, trial, inputs = np.zeros((3, STATES * LANES)), np.zeros(STATES * LANES), np.zeros(INPUTS * LANES)
    rows, places = np.zeros(CELLS * LANES, np.int64), np.zeros(CELLS * LANES)
    inputs[MOTOR_FORCE * LANES :] = np.inf
    outputs, extremes, totals = np.zeros(OUTPUTS * LANES), np.zeros(EXTREMES * LANES), np.zeros(LANES)
    live, who, steps, done = np.zeros(LANES, np.bool_), np.zeros(LANES, np.int64), np.zeros(LANES, np.int64), np.zeros(LANES, np.int64)
    parts = np.zeros((3, STATES * LANES))
    alone = np.zeros((ALONE, STATES))
    wheels, body = np.zeros((4, WHEEL_COLUMNS)), np.zeros(BODY_COLUMNS)
    windy = electric = solid = False
    for i in range(len(cars)):
        windy = windy or cars[i, WIND_X] != 0.0 or cars[i, WIND_Y] != 0.0
        electric, solid = electric or cars[i, MOTOR + 1] != 0.0, solid or cars[i, DRIVE] == SOLID_AXLE
    kinds = Kinds(windy, electric, solid, brush)
    free, waiting, running = np.ones(LANES, np.bool_), 0, 0
    while True:
        for lane in range(LANES):
            if free[lane] and (waiting < len(cars) or figures[MASS * LANES + lane] == 0.0):
                # A lane without a car of its own drives the first one along, unseen.
                one = waiting if waiting < len(cars) else 0
                for k in range(FIGURES):
                    figures[k * LANES + lane] = cars[one, k]
                for k in range(COUNTS):
                    counts[k * LANES + lane] = whole[one, k]
                for k in range(STATES):
                    state[k * LANES + lane] = begin[one, k]
                live[lane] = waiting < len(cars)
                free[lane] = False
                who[lane], steps[lane], done[lane] = one, 0, 0
                running += 1 if live[lane] else 0
                waiting += 1
                write_step(parts, figures[STEP * LANES + lane], lane)
                begin_lap(state, start, extremes, figures[MASS * LANES + lane], lane)
        if running == 0:
            return
        lanes_rate(figures, counts, hands_cells, road_cells, driver, kinds, live, state, rows, places, inputs, first, outputs, alone)
        write_extremes(state, outputs, extremes)
        sum_rates(first, totals)
        stopped = False
        for lane in range(LANES):
            step = figures[STEP * LANES + lane]
            code = ending(
                outputs[LIFTED * LANES + lane], state[ERROR * LANES + lane], steps[lane] * step > figures[LONGEST * LANES + lane],
                state[VX * LANES + lane], totals[lane],
            )  # fmt: skip
            if live[lane] and code != 0:
                time = steps[lane] * step
                store_result(who[lane], lane, code, time, done[lane], start, state, extremes, codes, times, rounds, starts, ends, most)
                live[lane], free[lane], stopped = False, True, True
                running -= 1
        if stopped:
            continue  # the next car's first rate has yet to be worked out; the others' comes out the same again
        note_travel(figures, first, extremes)
        advance_lanes(
            figures, counts, hands_cells, road_cells, driver, kinds, live, parts, state, first, new, trial, rows, places, inputs, rates,
            outputs, alone,
        )  # fmt: skip
        for lane in range(LANES):
            steps[lane] += 1
            if live[lane] and new[STATION * LANES + lane] >= figures[LENGTH * LANES + lane]:
                time = (steps[lane] - 1) * figures[STEP * LANES + lane] + cut_lane(
                    brush, figures, counts, hands_cells, road_cells, driver, state, first, new, alone, lane, wheels, body
                )
                done[lane] += 1
                steps[lane] = 0
                if done[lane] == counts[ROUNDS * LANES + lane]:
                    store_result(who[lane], lane, 0, time, done[lane], start, new, extremes, codes, times, rounds, starts, ends, most)
                    live[lane], free[lane] = False, True
                    running -= 1
                else:
                    new[STATION * LANES + lane] -= figures[LENGTH * LANES + lane]
                    begin_lap(new, start, extremes, figures[MASS * LANES + lane], lane)
        state, new = new, state


@inlined
def store_result(one, lane, code, time, done, start, end, extremes, codes, times, rounds, starts, ends, most):
    """Keep what a lane has come to.

    one : the car's place; lane [-]; code : `Ended`; time : of the last lap [s]; done : laps completed
    start, end, extremes : flat [SI]; codes, times, rounds, starts, ends, most : written, as for `integrate_lanes`
    """
    codes[one], times[one], rounds[one] = code, time, done
    for k in range(STATES):
        starts[one, k], ends[one, k] = start[k * LANES + lane], end[k * LANES + lane]
    for k in range(EXTREMES):
        most[one, k] = extremes[k * LANES + lane]
