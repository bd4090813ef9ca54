"""Right-hand side and Runge-Kutta step of many cars side by side, in the lanes of a processor.

The tables are read in one loop over the lanes and the arithmetic is done in a second, which has neither branches nor calls, so that
the compiler works on several cars at once.  Both are the one car's own text: the pieces `look`, `pose_of`, `driver_demand`, `motion`.
What is rare (a wheel that slides or lifts) is told by the arithmetic and worked out again: sliding for all lanes, the rest by that lane
alone.
"""

from math import sqrt

from sim.car.battery import charge_rate
from sim.car.drivetrain import electric_flow, motor_limit
from sim.car.motion import motion
from sim.car.traction import COMMON, PLAIN, SLIDING
from sim.car.tyre import LINEAR
from sim.kernels.compiled import inlined, no_refcount
from sim.kernels.cubics import cell_at
from sim.lap.equations import driver_demand, lap_motion, stage_sum, state_motion, write_flow, write_four, write_rates
from sim.lap.lockstep.lanes import (
    AHEAD, AIR_X, AIR_Y, BEND, BRAKED, BRAKING, CLOSED, FORCE, FORCE_POWER, FURTHER, HANDS_COUNT, HANDS_DENSITY, HANDS_FIRST, HANDS_ROW,
    HERE, LANES, LEAST, LEFT_CAMBER, LEFT_RATE, LEFT_STEER, LEFT_X, LEFT_Y, LENGTH, LIFTED, LOADS, MOST, MOTOR_FORCE, PLAN, PLAN_SLOPE,
    POSE_CELL, POWER, RARE, RIGHT_CAMBER, RIGHT_RATE, RIGHT_STEER, RIGHT_X, RIGHT_Y, ROAD_COUNT, ROAD_DENSITY, ROAD_ROW, ROLLED, SLOPE,
    WIND_X, WIND_Y, float_car, lane_driver, lane_sight, whole_car, whole_hands, whole_road,
)  # fmt: skip
from sim.lap.state import CHARGE, ERROR, FLOW, HEADING, LEDGER, SLIPS, STATES, STATION, STEER, USED_CHARGE, VX, VY, YAW_RATE
from sim.pace.road import look, road_cell, wind_in_car
from sim.steering.hands import pose_of


@no_refcount
def place_lanes(figures, counts, lead, state, rows, places):
    """In which cells of its tables every lane stands.

    figures, counts, state : flat [SI]; lead : time by which the driver looks ahead [s]
    rows : flat, written: the cells, among all set-ups and roads; places : flat, written: the place in each, 0 to 1 [-]
    """
    for lane in range(LANES):
        length, closed = figures[LENGTH * LANES + lane], counts[CLOSED * LANES + lane] != 0
        density, count, row = figures[ROAD_DENSITY * LANES + lane], counts[ROAD_COUNT * LANES + lane], counts[ROAD_ROW * LANES + lane]
        station = state[STATION * LANES + lane]
        index, places[HERE * LANES + lane] = road_cell(station, length, closed, density, count)
        rows[HERE * LANES + lane] = row + index
        index, places[FURTHER * LANES + lane] = road_cell(station + lead * state[VX * LANES + lane], length, closed, density, count)
        rows[FURTHER * LANES + lane] = row + index
        scaled = (state[STEER * LANES + lane] - figures[HANDS_FIRST * LANES + lane]) * figures[HANDS_DENSITY * LANES + lane]
        index, places[POSE_CELL * LANES + lane] = cell_at(scaled, counts[HANDS_COUNT * LANES + lane])
        rows[POSE_CELL * LANES + lane] = counts[HANDS_ROW * LANES + lane] + index


@no_refcount
def look_lanes(figures, hands_cells, road_cells, rows, places, inputs):
    """What every lane reads from its tables.

    figures : flat [SI]; hands_cells, road_cells : of all set-ups and roads; rows, places : of `place_lanes`; inputs : flat, written
    """
    for lane in range(LANES):
        bend, slope, plan, plan_slope, bend_ahead = look(
            road_cells, rows[HERE * LANES + lane], places[HERE * LANES + lane], rows[FURTHER * LANES + lane],
            places[FURTHER * LANES + lane], figures[ROAD_DENSITY * LANES + lane],
        )  # fmt: skip
        inputs[BEND * LANES + lane], inputs[SLOPE * LANES + lane], inputs[PLAN * LANES + lane] = bend, slope, plan
        inputs[PLAN_SLOPE * LANES + lane], inputs[AHEAD * LANES + lane] = plan_slope, bend_ahead
        steers, slopes, x, y, cambers = pose_of(
            hands_cells, rows[POSE_CELL * LANES + lane], places[POSE_CELL * LANES + lane], figures[HANDS_DENSITY * LANES + lane]
        )
        inputs[LEFT_STEER * LANES + lane], inputs[RIGHT_STEER * LANES + lane] = steers
        inputs[LEFT_RATE * LANES + lane], inputs[RIGHT_RATE * LANES + lane] = slopes
        inputs[LEFT_X * LANES + lane], inputs[RIGHT_X * LANES + lane] = x
        inputs[LEFT_Y * LANES + lane], inputs[RIGHT_Y * LANES + lane] = y
        inputs[LEFT_CAMBER * LANES + lane], inputs[RIGHT_CAMBER * LANES + lane] = cambers


@no_refcount
def wind_lanes(figures, road_cells, rows, places, state, inputs):
    """The wind in every car's axes.  figures, state : flat [SI]; road_cells, rows, places, inputs : as for `look_lanes`."""
    for lane in range(LANES):
        inputs[AIR_X * LANES + lane], inputs[AIR_Y * LANES + lane] = wind_in_car(
            road_cells, rows[HERE * LANES + lane], places[HERE * LANES + lane], state[HEADING * LANES + lane],
            figures[WIND_X * LANES + lane], figures[WIND_Y * LANES + lane],
        )  # fmt: skip


@no_refcount
def motor_lanes(figures, state, inputs):
    """Most drive force of every motor.  figures, state : flat [SI]; inputs : flat, written."""
    for lane in range(LANES):
        car = float_car(figures, lane, LINEAR)
        vx, vy = state[VX * LANES + lane], state[VY * LANES + lane]
        inputs[MOTOR_FORCE * LANES + lane] = motor_limit(car, sqrt(vx * vx + vy * vy))


@inlined
def write_outputs(outputs, lane, motion):
    """What later steps want of a lane beside its rates.  outputs : flat, written [SI]; lane [-]; motion : Motion."""
    write_four(outputs, LOADS, LANES, lane, motion.load)
    outputs[LIFTED * LANES + lane], outputs[FORCE * LANES + lane] = motion.lifted, motion.drive_force
    outputs[FORCE_POWER * LANES + lane] = motion.drive_power
    outputs[BRAKING * LANES + lane], outputs[BRAKED * LANES + lane] = motion.driven_braking, motion.driven_braked
    outputs[ROLLED * LANES + lane] = motion.driven_speed


@inlined
def move_lane(brush, figures, driver, inputs, state, rate, outputs, lane, effort):
    """The arithmetic of one lane.

    brush : the tyres' law; figures, inputs, state : flat [SI]; driver : Driver, its habits; rate, outputs : flat, written; lane [-]
    effort : PLAIN, COMMON or SLIDING
    """
    car = float_car(figures, lane, brush)
    vx, vy, yaw_rate = state[VX * LANES + lane], state[VY * LANES + lane], state[YAW_RATE * LANES + lane]
    error, sight = state[ERROR * LANES + lane], lane_sight(inputs, lane)
    slips = (
        state[SLIPS * LANES + lane], state[(SLIPS + 1) * LANES + lane], state[(SLIPS + 2) * LANES + lane],
        state[(SLIPS + 3) * LANES + lane],
    )  # fmt: skip
    wish = driver_demand(
        car, lane_driver(figures, driver, lane), figures[LEAST * LANES + lane], figures[MOST * LANES + lane],
        figures[POWER * LANES + lane], sight, vx, vy,
        state[STEER * LANES + lane], error, state[HEADING * LANES + lane],
    )  # fmt: skip
    found = motion(
        car, vx, vy, yaw_rate, slips, sight.steers, wish.steer_rates, wish.x, wish.y, sight.cambers, wish.pull_x, wish.pull_y,
        sight.wind_x, sight.wind_y, True, wish.wanted, wish.most, effort,
    )  # fmt: skip
    write_rates(rate, LANES, lane, error, lap_motion(wish, sight.curvature, yaw_rate, found))
    write_outputs(outputs, lane, found)
    outputs[RARE * LANES + lane] = 1.0 if found.rare else 0.0


@no_refcount
def move_plain_lanes(brush, figures, driver, inputs, state, rate, outputs):
    """The arithmetic of all lanes where no wheel slides and no axle is solid.

    brush, figures, driver, inputs, state, rate, outputs : as for `move_lane` [SI]
    """
    for lane in range(LANES):
        move_lane(brush, figures, driver, inputs, state, rate, outputs, lane, PLAIN)


@no_refcount
def move_lanes(brush, figures, driver, inputs, state, rate, outputs):
    """The arithmetic of all lanes where no wheel slides.

    brush, figures, driver, inputs, state, rate, outputs : as for `move_lane` [SI]
    """
    for lane in range(LANES):
        move_lane(brush, figures, driver, inputs, state, rate, outputs, lane, COMMON)


@no_refcount
def move_sliding_lanes(brush, figures, driver, inputs, state, rate, outputs):
    """The arithmetic of all lanes with wheels that slide altogether.

    brush, figures, driver, inputs, state, rate, outputs : as for `move_lane` [SI]
    """
    for lane in range(LANES):
        move_lane(brush, figures, driver, inputs, state, rate, outputs, lane, SLIDING)


@no_refcount
def move_alone(brush, figures, counts, hands_cells, road_cells, driver, state, rate, outputs, lane, alone):
    """One lane by the one-car text with all that is rare.

    brush : the tyres' law; figures, counts, hands_cells, road_cells, driver, state : as for `lanes_rate` [SI]
    rate, outputs : flat, written; lane [-]
    alone : work space, its first row used
    """
    for k in range(LEDGER):
        alone[0, k] = state[k * LANES + lane]
    car = whole_car(figures, lane, brush)
    hands, road = whole_hands(figures, counts, hands_cells, lane), whole_road(figures, counts, road_cells, lane)
    found = state_motion(car, hands, road, lane_driver(figures, driver, lane), alone[0])
    write_rates(rate, LANES, lane, alone[0, ERROR], found)
    write_outputs(outputs, lane, found.motion)


@no_refcount
def lanes_flow(figures, outputs, rate):
    """Motor and battery of all lanes.  figures, outputs : flat [SI]; rate : flat, written."""
    for lane in range(LANES):
        car = float_car(figures, lane, LINEAR)
        flow = electric_flow(
            car, outputs[FORCE * LANES + lane], outputs[FORCE_POWER * LANES + lane], outputs[BRAKING * LANES + lane],
            outputs[BRAKED * LANES + lane], outputs[ROLLED * LANES + lane],
        )  # fmt: skip
        write_flow(rate, LANES, lane, flow)
    for lane in range(LANES):
        car = float_car(figures, lane, LINEAR)
        rate[USED_CHARGE * LANES + lane] = charge_rate(car.battery, rate[CHARGE * LANES + lane])


@no_refcount
def any_rare(outputs, live):
    """Whether something was left out in a lane that counts.  outputs : flat; live : (LANES,) [-]."""
    found = False
    for lane in range(LANES):
        found = found | (live[lane] & (outputs[RARE * LANES + lane] != 0.0))
    return found


@no_refcount
def move_rare(figures, counts, hands_cells, road_cells, driver, kinds, live, state, inputs, rate, outputs, alone):
    """What `move_lanes` left out in a lane that counts.

    figures, counts, hands_cells, road_cells, driver, kinds, live, state, inputs, rate, outputs, alone : as for `lanes_rate` [SI]
    """
    move_sliding_lanes(kinds.brush, figures, driver, inputs, state, rate, outputs)
    for lane in range(LANES):
        if live[lane] and outputs[RARE * LANES + lane] != 0.0:
            move_alone(kinds.brush, figures, counts, hands_cells, road_cells, driver, state, rate, outputs, lane, alone)


@no_refcount
def see_lanes(figures, counts, hands_cells, road_cells, lead, kinds, state, rows, places, inputs):
    """All that the lanes read before the arithmetic.

    figures, counts, hands_cells, road_cells, kinds, state, rows, places, inputs : as for `lanes_rate` [SI]
    lead : time by which the driver looks ahead [s]
    """
    place_lanes(figures, counts, lead, state, rows, places)
    look_lanes(figures, hands_cells, road_cells, rows, places, inputs)
    if kinds.windy:
        wind_lanes(figures, road_cells, rows, places, state, inputs)
    if kinds.electric:
        motor_lanes(figures, state, inputs)


@no_refcount
def lanes_rate(figures, counts, hands_cells, road_cells, driver, kinds, live, state, rows, places, inputs, rate, outputs, alone):
    """Right-hand side of all lanes.

    figures, counts : flat, of the lanes' cars [SI]; hands_cells, road_cells : of all set-ups and roads; driver : Driver, its habits
    kinds : Kinds; live : (LANES,) which lanes count
    state : flat; rows, places, inputs, rate, outputs : flat, written; alone : work space
    """
    see_lanes(figures, counts, hands_cells, road_cells, driver.lead, kinds, state, rows, places, inputs)
    if kinds.solid:
        move_lanes(kinds.brush, figures, driver, inputs, state, rate, outputs)
    else:
        move_plain_lanes(kinds.brush, figures, driver, inputs, state, rate, outputs)
    if any_rare(outputs, live):
        move_rare(figures, counts, hands_cells, road_cells, driver, kinds, live, state, inputs, rate, outputs, alone)
    if kinds.electric:
        lanes_flow(figures, outputs, rate)


@inlined
def write_step(parts, step, lane):
    """A lane's step in the parts in which a Runge-Kutta step wants it.

    parts : (3, STATES * LANES) written: a sixth, half and the whole of the step [s] beside every quantity, so that the sums over all
        lanes are one loop
    step [s]; lane [-]
    """
    for k in range(STATES):
        at = k * LANES + lane
        parts[0, at], parts[1, at], parts[2, at] = step / 6.0, 0.5 * step, step


@no_refcount
def axpy(base, part, rate, total):
    """total = base + part x rate for all that the rates depend on.  base, part, rate : flat [SI]; total : flat, written."""
    for i in range(LEDGER * LANES):
        total[i] = base[i] + part[i] * rate[i]


@no_refcount
def sum_stages(base, part, first, second, third, fourth, count, total):
    """A Runge-Kutta step's sum, `sim.lap.drive.stage_sum`, one by one.

    base, first, second, third, fourth : flat [SI]; part : a sixth of the step [s]; count : of quantities; total : flat, written
    """
    for i in range(count):
        total[i] = base[i] + part[i] * stage_sum(first[i], second[i], third[i], fourth[i])


@no_refcount
def advance_lanes(
    figures, counts, hands_cells, road_cells, driver, kinds, live, parts, state, first, new, trial, rows, places, inputs, rates,
    outputs, alone,
):
    """One Runge-Kutta step of all lanes whose first rate is known: `sim.lap.drive.advance` lane by lane.

    figures, counts, hands_cells, road_cells, driver, kinds, live : as for `lanes_rate` [SI]; parts : of `write_step`
    state, first : flat, before the step; new : flat, written; trial, rows, places, inputs, rates, outputs, alone : work space
    """
    sixth, half, whole = parts[0], parts[1], parts[2]
    second, third, fourth = rates[0], rates[1], rates[2]
    axpy(state, half, first, trial)
    lanes_rate(figures, counts, hands_cells, road_cells, driver, kinds, live, trial, rows, places, inputs, second, outputs, alone)
    axpy(state, half, second, trial)
    lanes_rate(figures, counts, hands_cells, road_cells, driver, kinds, live, trial, rows, places, inputs, third, outputs, alone)
    axpy(state, whole, third, trial)
    lanes_rate(figures, counts, hands_cells, road_cells, driver, kinds, live, trial, rows, places, inputs, fourth, outputs, alone)
    # What motors and batteries do stands last.
    count = STATES if kinds.electric else FLOW
    sum_stages(state, sixth, first, second, third, fourth, count * LANES, new)
