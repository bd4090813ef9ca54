"""The right-hand side and Runge-Kutta step of many cars side by side, in the lanes of a processor.

The tables are read in loops over the lanes, each of which keeps copies of the cells in which it stands; the arithmetic is done in another,
which has neither branches nor calls, so that the compiler works on several cars at once.  All are the one car's own text: the functions
`look`, `front_wheels`, `driver_demand`, `motion`.  What is rare (a wheel that slides or lifts) is marked by the arithmetic and worked out
again: sliding for all lanes, the rest by that lane alone.
"""

from math import sqrt

from sim.car.battery import charge_rate
from sim.car.drivetrain import electric_flow, motor_limit
from sim.car.motion import Velocity, motion
from sim.car.traction import COMMON, PLAIN, SLIDING
from sim.car.tyre import LINEAR
from sim.kernels.compiled import inlined, inlined_no_refcount, no_refcount
from sim.lap.equations import driver_demand, lap_motion, stage_sum, state_motion, write_flow, write_four, write_rates
from sim.lap.lockstep.lanes import (
    LANES,
    Count,
    Figure,
    Held,
    Input,
    Output,
    Place,
    float_car,
    lane_driver,
    lane_four,
    lane_front_pieces,
    lane_piece,
    lane_road,
    lane_road_pieces,
    lane_steering,
    lane_values,
    whole_car,
)  # fmt: skip
from sim.lap.state import FLOW, LEDGER, STATES, State
from sim.pace.road import ROADS, Road, RoadColumn, look, road_cell, wind_in_car
from sim.steering.cells import POSES, SteerCells, front_wheels, steer_cell


@inlined_no_refcount
def place_lanes(lanes, state, work):
    """In which cells of its tables every lane stands.

    lanes : Lanes; state : flat [SI]; work : LaneWork, its rows and places written
    """
    figures, counts, rows, places = lanes.figures, lanes.counts, work.rows, work.places
    lead = lanes.driver.lead
    for lane in range(LANES):
        length, closed = figures[Figure.LENGTH * LANES + lane], counts[Count.CLOSED * LANES + lane] != 0
        density, count = figures[Figure.ROAD_DENSITY * LANES + lane], counts[Count.ROAD_COUNT * LANES + lane]
        row, station = counts[Count.ROAD_ROW * LANES + lane], state[State.STATION * LANES + lane]
        index, places[Place.ROAD * LANES + lane] = road_cell(station, length, closed, density, count)
        rows[Place.ROAD * LANES + lane] = row + index
        ahead = station + lead * state[State.VX * LANES + lane]
        index, places[Place.ROAD_AHEAD * LANES + lane] = road_cell(ahead, length, closed, density, count)
        rows[Place.ROAD_AHEAD * LANES + lane] = row + index
        index, places[Place.STEER * LANES + lane] = steer_cell(
            state[State.STEER * LANES + lane], figures[Figure.STEER_FIRST * LANES + lane], figures[Figure.STEER_DENSITY * LANES + lane],
            counts[Count.STEER_COUNT * LANES + lane],
        )  # fmt: skip
        rows[Place.STEER * LANES + lane] = counts[Count.STEER_ROW * LANES + lane] + index


@inlined_no_refcount
def hold_lanes(lanes, work):
    """Fetch the cells that lanes have come into: a lane stays in a cell for some steps.

    lanes : Lanes [SI]; work : LaneWork, what it holds is written [SI]
    """
    rows, held_rows, held, moved = work.rows, work.held_rows, work.held, work.moved
    for lane in range(LANES):
        moved[lane] = (
            (rows[Place.ROAD * LANES + lane] ^ held_rows[Place.ROAD * LANES + lane])
            | (rows[Place.ROAD_AHEAD * LANES + lane] ^ held_rows[Place.ROAD_AHEAD * LANES + lane])
            | (rows[Place.STEER * LANES + lane] ^ held_rows[Place.STEER * LANES + lane])
        )
    for lane in range(LANES):
        if moved[lane] != 0:
            row = rows[Place.ROAD * LANES + lane]
            if row != held_rows[Place.ROAD * LANES + lane]:
                for column in range(ROADS):
                    for k in range(4):
                        held[(Held.ROAD + 4 * column + k) * LANES + lane] = lanes.road_cells[row, k * ROADS + column]
                held_rows[Place.ROAD * LANES + lane] = row
            row = rows[Place.ROAD_AHEAD * LANES + lane]
            if row != held_rows[Place.ROAD_AHEAD * LANES + lane]:
                for k in range(4):
                    held[(Held.ROAD_AHEAD + k) * LANES + lane] = lanes.road_cells[row, k * ROADS + RoadColumn.CURVATURE]
                held_rows[Place.ROAD_AHEAD * LANES + lane] = row
            row = rows[Place.STEER * LANES + lane]
            if row != held_rows[Place.STEER * LANES + lane]:
                for column in range(POSES):
                    for k in range(4):
                        held[(Held.STEER + 4 * column + k) * LANES + lane] = lanes.steer_cells[row, k * POSES + column]
                held_rows[Place.STEER * LANES + lane] = row


@inlined_no_refcount
def look_lanes(lanes, work):
    """What every lane reads from its cells.  lanes : Lanes [SI]; work : LaneWork, its inputs written [SI]."""
    figures, held, places, inputs = lanes.figures, work.held, work.places, work.inputs
    for lane in range(LANES):
        curvature, slope, plan, plan_slope, ahead = look(
            lane_road_pieces(held, lane), places[Place.ROAD * LANES + lane], lane_four(held, Held.ROAD_AHEAD, lane),
            places[Place.ROAD_AHEAD * LANES + lane], figures[Figure.ROAD_DENSITY * LANES + lane],
        )  # fmt: skip
        inputs[Input.CURVATURE * LANES + lane], inputs[Input.AHEAD * LANES + lane] = curvature, ahead
        inputs[Input.SLOPE * LANES + lane] = slope
        inputs[Input.PLAN * LANES + lane], inputs[Input.PLAN_SLOPE * LANES + lane] = plan, plan_slope
        front = front_wheels(
            lane_front_pieces(held, lane), places[Place.STEER * LANES + lane], figures[Figure.STEER_DENSITY * LANES + lane]
        )
        inputs[Input.LEFT_STEER * LANES + lane], inputs[Input.RIGHT_STEER * LANES + lane] = front.steers
        inputs[Input.LEFT_RATE * LANES + lane], inputs[Input.RIGHT_RATE * LANES + lane] = front.steer_slopes
        inputs[Input.LEFT_X * LANES + lane], inputs[Input.RIGHT_X * LANES + lane] = front.x
        inputs[Input.LEFT_Y * LANES + lane], inputs[Input.RIGHT_Y * LANES + lane] = front.y
        inputs[Input.LEFT_CAMBER * LANES + lane], inputs[Input.RIGHT_CAMBER * LANES + lane] = front.cambers


@inlined_no_refcount
def wind_lanes(lanes, state, work):
    """The wind in every car's axes.  lanes : Lanes; state : flat [SI]; work : LaneWork, its inputs written."""
    figures, places, inputs = lanes.figures, work.places, work.inputs
    for lane in range(LANES):
        inputs[Input.AIR_X * LANES + lane], inputs[Input.AIR_Y * LANES + lane] = wind_in_car(
            lane_piece(work.held, Held.ROAD, RoadColumn.DIRECTION, lane), places[Place.ROAD * LANES + lane],
            state[State.HEADING * LANES + lane], figures[Figure.WIND_X * LANES + lane], figures[Figure.WIND_Y * LANES + lane],
        )  # fmt: skip


@inlined_no_refcount
def motor_lanes(lanes, state, work):
    """Most drive force of every motor.  lanes : Lanes; state : flat [SI]; work : LaneWork, its inputs written."""
    for lane in range(LANES):
        car = float_car(lanes.figures, lane, LINEAR)
        vx, vy = state[State.VX * LANES + lane], state[State.VY * LANES + lane]
        work.inputs[Input.MOTOR_FORCE * LANES + lane] = motor_limit(car, sqrt(vx * vx + vy * vy))


@inlined
def write_outputs(outputs, lane, motion):
    """What later steps want of a lane beside its rates.  outputs : flat, written [SI]; lane [-]; motion : Motion."""
    write_four(outputs, Output.LOADS, LANES, lane, motion.load)
    outputs[Output.LIFTED * LANES + lane], outputs[Output.FORCE * LANES + lane] = motion.lifted, motion.drive_force
    outputs[Output.FORCE_POWER * LANES + lane] = motion.drive_power
    outputs[Output.BRAKING * LANES + lane], outputs[Output.BRAKED * LANES + lane] = motion.driven_braking, motion.driven_braked
    outputs[Output.ROLLED * LANES + lane] = motion.driven_speed


@inlined
def move_lane(lanes, state, rate, work, lane, cases):
    """The arithmetic of one lane.

    lanes : Lanes; state : flat [SI]; rate : flat, written; work : LaneWork, its outputs written; lane [-]
    cases : PLAIN, COMMON or SLIDING
    """
    figures, outputs = lanes.figures, work.outputs
    car = float_car(figures, lane, lanes.kinds.brush)
    velocity = Velocity(state[State.VX * LANES + lane], state[State.VY * LANES + lane], state[State.YAW_RATE * LANES + lane])
    error, values = state[State.ERROR * LANES + lane], lane_values(work.inputs, lane)
    slips = (
        state[State.SLIPS * LANES + lane], state[(State.SLIPS + 1) * LANES + lane], state[(State.SLIPS + 2) * LANES + lane],
        state[(State.SLIPS + 3) * LANES + lane],
    )  # fmt: skip
    demand = driver_demand(
        car, lane_driver(figures, lanes.driver, lane), figures[Figure.LEAST * LANES + lane], figures[Figure.MOST * LANES + lane],
        figures[Figure.POWER * LANES + lane], values, velocity, state[State.STEER * LANES + lane], error,
        state[State.HEADING * LANES + lane],
    )  # fmt: skip
    found = motion(car, velocity, slips, demand.pose, demand.pull, values.wind, demand.force, demand.most, cases)
    write_rates(rate, LANES, lane, error, lap_motion(demand, values.curvature, velocity.yaw, found))
    write_outputs(outputs, lane, found)
    outputs[Output.RARE * LANES + lane] = 1.0 if found.rare else 0.0


@inlined_no_refcount
def move_plain_lanes(lanes, state, rate, work):
    """The arithmetic of all lanes where no wheel slides and no axle is solid.  lanes, state, rate, work : as for `move_lane` [SI]."""
    for lane in range(LANES):
        move_lane(lanes, state, rate, work, lane, PLAIN)


@inlined_no_refcount
def move_lanes(lanes, state, rate, work):
    """The arithmetic of all lanes where no wheel slides.  lanes, state, rate, work : as for `move_lane` [SI]."""
    for lane in range(LANES):
        move_lane(lanes, state, rate, work, lane, COMMON)


@no_refcount
def move_sliding_lanes(lanes, state, rate, work):
    """The arithmetic of all lanes with wheels that slide altogether.  lanes, state, rate, work : as for `move_lane` [SI]."""
    for lane in range(LANES):
        move_lane(lanes, state, rate, work, lane, SLIDING)


@no_refcount
def move_alone(lanes, state, rate, work, lane):
    """One lane by the one-car text with all that is rare.

    lanes : Lanes; state : flat [SI]; rate : flat, written; work : LaneWork, its outputs written; lane [-]
    """
    figures, counts, alone = lanes.figures, lanes.counts, work.alone
    for k in range(LEDGER):
        alone[0, k] = state[k * LANES + lane]
    steer_cells = SteerCells(lanes.steer_cells, *lane_steering(figures, counts, lane))
    road = Road(lanes.road_cells, *lane_road(figures, counts, lane))
    car, driver = whole_car(figures, lane, lanes.kinds.brush), lane_driver(figures, lanes.driver, lane)
    found = state_motion(car, steer_cells, road, driver, alone[0])
    write_rates(rate, LANES, lane, alone[0, State.ERROR], found)
    write_outputs(work.outputs, lane, found.motion)


@inlined_no_refcount
def lanes_flow(figures, outputs, rate):
    """Motor and battery of all lanes.  figures, outputs : flat [SI]; rate : flat, written."""
    for lane in range(LANES):
        car = float_car(figures, lane, LINEAR)
        flow = electric_flow(
            car, outputs[Output.FORCE * LANES + lane], outputs[Output.FORCE_POWER * LANES + lane], outputs[Output.BRAKING * LANES + lane],
            outputs[Output.BRAKED * LANES + lane], outputs[Output.ROLLED * LANES + lane],
        )  # fmt: skip
        write_flow(rate, LANES, lane, flow)
    for lane in range(LANES):
        car = float_car(figures, lane, LINEAR)
        rate[State.USED_CHARGE * LANES + lane] = charge_rate(car.battery, rate[State.CHARGE * LANES + lane])


@inlined_no_refcount
def any_rare(outputs, live):
    """Whether something was left out in a lane that counts.  outputs : flat; live : (LANES,) [-]."""
    found = 0
    for lane in range(LANES):
        found |= live[lane] if outputs[Output.RARE * LANES + lane] != 0.0 else 0
    return found != 0


@no_refcount
def move_rare(lanes, state, rate, work):
    """What `move_lanes` left out in a lane that counts.  lanes, state, rate, work : as for `lanes_rate` [SI]."""
    move_sliding_lanes(lanes, state, rate, work)
    for lane in range(LANES):
        if lanes.live[lane] != 0 and work.outputs[Output.RARE * LANES + lane] != 0.0:
            move_alone(lanes, state, rate, work, lane)


@inlined_no_refcount
def read_tables(lanes, state, work):
    """All that the lanes read before the arithmetic.  lanes, state, work : as for `lanes_rate` [SI]."""
    place_lanes(lanes, state, work)
    hold_lanes(lanes, work)
    look_lanes(lanes, work)
    if lanes.kinds.windy:
        wind_lanes(lanes, state, work)
    if lanes.kinds.electric:
        motor_lanes(lanes, state, work)


@no_refcount
def lanes_rate(lanes, state, rate, work):
    """Right-hand side of all lanes.

    lanes : Lanes; state : flat [SI]; rate : flat, written [SI/s]; work : LaneWork, written
    """
    read_tables(lanes, state, work)
    if lanes.kinds.solid:
        move_lanes(lanes, state, rate, work)
    else:
        move_plain_lanes(lanes, state, rate, work)
    if any_rare(work.outputs, lanes.live):
        move_rare(lanes, state, rate, work)
    if lanes.kinds.electric:
        lanes_flow(lanes.figures, work.outputs, rate)


@inlined
def write_step(parts, step, lane):
    """A lane's step in the parts in which a Runge-Kutta step wants it.

    parts : three written: a sixth of it (LANES,), half and the whole (LEDGER * LANES,), beside every quantity that the rates depend on,
        so that such a sum over all lanes is one loop [s]
    step [s]; lane [-]
    """
    sixth, half, whole = parts
    sixth[lane] = step / 6.0
    for k in range(LEDGER):
        half[k * LANES + lane], whole[k * LANES + lane] = 0.5 * step, step


@no_refcount
def axpy(base, part, rate, total):
    """total = base + part x rate for all that the rates depend on.  base, part, rate : flat [SI]; total : flat, written."""
    for i in range(LEDGER * LANES):
        total[i] = base[i] + part[i] * rate[i]


@no_refcount
def sum_stages(base, part, first, second, third, fourth, count, total):
    """A Runge-Kutta step's sum, `sim.lap.equations.stage_sum`, one by one.

    base, first, second, third, fourth : flat [SI]; part : (LANES,) a sixth of the step [s]; count : of quantities
    total : flat, written
    """
    for k in range(count):
        for lane in range(LANES):
            i = k * LANES + lane
            total[i] = base[i] + part[lane] * stage_sum(first[i], second[i], third[i], fourth[i])


@no_refcount
def advance_lanes(lanes, parts, state, first, new, trial, rates, work):
    """One Runge-Kutta step of all lanes whose first rate is known: `sim.lap.drive.advance` lane by lane.

    lanes : Lanes; parts : of `write_step` [s]; state, first : flat, before the step [SI]; new : flat, written
    trial : flat, rates : three, flat, work : LaneWork; work space
    """
    sixth, half, whole = parts
    second, third, fourth = rates
    axpy(state, half, first, trial)
    lanes_rate(lanes, trial, second, work)
    axpy(state, half, second, trial)
    lanes_rate(lanes, trial, third, work)
    axpy(state, whole, third, trial)
    lanes_rate(lanes, trial, fourth, work)
    # What motors and batteries do stands last.
    count = STATES if lanes.kinds.electric else FLOW
    sum_stages(state, sixth, first, second, third, fourth, count, new)
