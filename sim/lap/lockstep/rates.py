"""Right-hand side and Runge-Kutta step of many cars side by side, in the lanes of a processor.

The tables are read in one loop over the lanes and the arithmetic is done in a second, which has neither branches nor calls, so that
the compiler works on several cars at once.  Both are the one car's own text: the pieces `look`, `pose_of`, `lap_wish`, `motion`.
What is rare (a wheel that slides or lifts) is told by the arithmetic and worked out again: sliding for all lanes, the rest by that lane
alone.
"""

from math import sqrt

from sim.car.battery import charge_rate
from sim.car.drivetrain import electric_flow, motor_limit
from sim.car.motion import motion
from sim.car.traction import COMMON, PLAIN, SLIDING
from sim.car.tyre import LINEAR
from sim.kernels.compiled import borrower, piece
from sim.kernels.cubics import cell_at
from sim.lap.equations import lap_motion, lap_wish, note_flow, note_four, note_rates, stage_sum, state_motion
from sim.lap.lockstep.lanes import (
    AHEAD, AIR_X, AIR_Y, BEND, BRAKED, BRAKING, CLOSED, FORCE, FORCE_POWER, FURTHER, HANDS_COUNT, HANDS_DENSITY, HANDS_FIRST, HANDS_ROW,
    HERE, LANES, LEAST, LEFT_CAMBER, LEFT_RATE, LEFT_STEER, LEFT_X, LEFT_Y, LENGTH, LIFTED, LOADS, MOST, MOTOR_FORCE, PLAN, PLAN_SLOPE,
    POSE_CELL, POWER, RARE, RIGHT_CAMBER, RIGHT_RATE, RIGHT_STEER, RIGHT_X, RIGHT_Y, ROAD_COUNT, ROAD_DENSITY, ROAD_ROW, ROLLED, SLOPE,
    WIND_X, WIND_Y, float_car, lane_driver, lane_sight, whole_car, whole_hands, whole_road,
)  # fmt: skip
from sim.lap.state import CHARGE, ERROR, FLOW, HEADING, LEDGER, SLIPS, STATES, STATION, STEER, USED_CHARGE, VX, VY, YAW_RATE
from sim.pace.road import look, road_cell, wind_in_car
from sim.steering.hands import pose_of


@borrower
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


@borrower
def look_lanes(figures, hands_cells, road_cells, rows, places, seen):
    """What every lane reads from its tables.

    figures : flat [SI]; hands_cells, road_cells : of all set-ups and roads; rows, places : of `place_lanes`; seen : flat, written
    """
    for lane in range(LANES):
        bend, slope, plan, plan_slope, bend_ahead = look(
            road_cells, rows[HERE * LANES + lane], places[HERE * LANES + lane], rows[FURTHER * LANES + lane],
            places[FURTHER * LANES + lane], figures[ROAD_DENSITY * LANES + lane],
        )  # fmt: skip
        seen[BEND * LANES + lane], seen[SLOPE * LANES + lane], seen[PLAN * LANES + lane] = bend, slope, plan
        seen[PLAN_SLOPE * LANES + lane], seen[AHEAD * LANES + lane] = plan_slope, bend_ahead
        steers, slopes, x, y, cambers = pose_of(
            hands_cells, rows[POSE_CELL * LANES + lane], places[POSE_CELL * LANES + lane], figures[HANDS_DENSITY * LANES + lane]
        )
        seen[LEFT_STEER * LANES + lane], seen[RIGHT_STEER * LANES + lane] = steers
        seen[LEFT_RATE * LANES + lane], seen[RIGHT_RATE * LANES + lane] = slopes
        seen[LEFT_X * LANES + lane], seen[RIGHT_X * LANES + lane] = x
        seen[LEFT_Y * LANES + lane], seen[RIGHT_Y * LANES + lane] = y
        seen[LEFT_CAMBER * LANES + lane], seen[RIGHT_CAMBER * LANES + lane] = cambers


@borrower
def wind_lanes(figures, road_cells, rows, places, state, seen):
    """The wind in every car's axes.  figures, state : flat [SI]; road_cells, rows, places, seen : as for `look_lanes`."""
    for lane in range(LANES):
        seen[AIR_X * LANES + lane], seen[AIR_Y * LANES + lane] = wind_in_car(
            road_cells, rows[HERE * LANES + lane], places[HERE * LANES + lane], state[HEADING * LANES + lane],
            figures[WIND_X * LANES + lane], figures[WIND_Y * LANES + lane],
        )  # fmt: skip


@borrower
def motor_lanes(figures, state, seen):
    """Most drive force of every motor.  figures, state : flat [SI]; seen : flat, written."""
    for lane in range(LANES):
        car = float_car(figures, lane, LINEAR)
        vx, vy = state[VX * LANES + lane], state[VY * LANES + lane]
        seen[MOTOR_FORCE * LANES + lane] = motor_limit(car, sqrt(vx * vx + vy * vy))


@piece
def note_told(told, lane, motion):
    """What later steps want of a lane beside its rates.  told : flat, written [SI]; lane [-]; motion : Motion."""
    note_four(told, LOADS, LANES, lane, motion.load)
    told[LIFTED * LANES + lane], told[FORCE * LANES + lane] = motion.lifted, motion.drive_force
    told[FORCE_POWER * LANES + lane] = motion.drive_power
    told[BRAKING * LANES + lane], told[BRAKED * LANES + lane] = motion.driven_braking, motion.driven_braked
    told[ROLLED * LANES + lane] = motion.driven_speed


@piece
def move_lane(brush, figures, driver, seen, state, rate, told, lane, effort):
    """The arithmetic of one lane.

    brush : the tyres' law; figures, seen, state : flat [SI]; driver : Driver, its habits; rate, told : flat, written; lane [-]
    effort : PLAIN, COMMON or SLIDING
    """
    car = float_car(figures, lane, brush)
    vx, vy, yaw_rate = state[VX * LANES + lane], state[VY * LANES + lane], state[YAW_RATE * LANES + lane]
    error, sight = state[ERROR * LANES + lane], lane_sight(seen, lane)
    slips = (
        state[SLIPS * LANES + lane], state[(SLIPS + 1) * LANES + lane], state[(SLIPS + 2) * LANES + lane],
        state[(SLIPS + 3) * LANES + lane],
    )  # fmt: skip
    wish = lap_wish(
        car, lane_driver(figures, driver, lane), figures[LEAST * LANES + lane], figures[MOST * LANES + lane],
        figures[POWER * LANES + lane], sight, vx, vy,
        state[STEER * LANES + lane], error, state[HEADING * LANES + lane],
    )  # fmt: skip
    found = motion(
        car, vx, vy, yaw_rate, slips, sight.steers, wish.steer_rates, wish.x, wish.y, sight.cambers, wish.pull_x, wish.pull_y,
        sight.wind_x, sight.wind_y, True, wish.wanted, wish.most, effort,
    )  # fmt: skip
    note_rates(rate, LANES, lane, error, lap_motion(wish, sight.curvature, yaw_rate, found))
    note_told(told, lane, found)
    told[RARE * LANES + lane] = 1.0 if found.rare else 0.0


@borrower
def move_plain_lanes(brush, figures, driver, seen, state, rate, told):
    """The arithmetic of all lanes where no wheel slides and no axle is solid.

    brush, figures, driver, seen, state, rate, told : as for `move_lane` [SI]
    """
    for lane in range(LANES):
        move_lane(brush, figures, driver, seen, state, rate, told, lane, PLAIN)


@borrower
def move_lanes(brush, figures, driver, seen, state, rate, told):
    """The arithmetic of all lanes where no wheel slides.

    brush, figures, driver, seen, state, rate, told : as for `move_lane` [SI]
    """
    for lane in range(LANES):
        move_lane(brush, figures, driver, seen, state, rate, told, lane, COMMON)


@borrower
def move_sliding_lanes(brush, figures, driver, seen, state, rate, told):
    """The arithmetic of all lanes with wheels that slide altogether.

    brush, figures, driver, seen, state, rate, told : as for `move_lane` [SI]
    """
    for lane in range(LANES):
        move_lane(brush, figures, driver, seen, state, rate, told, lane, SLIDING)


@borrower
def move_alone(brush, figures, counts, hands_cells, road_cells, driver, state, rate, told, lane, alone):
    """One lane by the one-car text with all that is rare.

    brush : the tyres' law; figures, counts, hands_cells, road_cells, driver, state : as for `lanes_rate` [SI]
    rate, told : flat, written; lane [-]
    alone : work space, its first row used
    """
    for k in range(LEDGER):
        alone[0, k] = state[k * LANES + lane]
    car = whole_car(figures, lane, brush)
    hands, road = whole_hands(figures, counts, hands_cells, lane), whole_road(figures, counts, road_cells, lane)
    found = state_motion(car, hands, road, lane_driver(figures, driver, lane), alone[0])
    note_rates(rate, LANES, lane, alone[0, ERROR], found)
    note_told(told, lane, found.motion)


@borrower
def lanes_flow(figures, told, rate):
    """Motor and battery of all lanes.  figures, told : flat [SI]; rate : flat, written."""
    for lane in range(LANES):
        car = float_car(figures, lane, LINEAR)
        at = lane
        flow = electric_flow(
            car, told[FORCE * LANES + at], told[FORCE_POWER * LANES + at], told[BRAKING * LANES + at], told[BRAKED * LANES + at],
            told[ROLLED * LANES + at],
        )  # fmt: skip
        note_flow(rate, LANES, lane, flow)
    for lane in range(LANES):
        car = float_car(figures, lane, LINEAR)
        rate[USED_CHARGE * LANES + lane] = charge_rate(car.battery, rate[CHARGE * LANES + lane])


@borrower
def any_rare(told, live):
    """Whether something was left out in a lane that counts.  told : flat; live : (LANES,) [-]."""
    found = False
    for lane in range(LANES):
        found = found | (live[lane] & (told[RARE * LANES + lane] != 0.0))
    return found


@borrower
def move_rare(figures, counts, hands_cells, road_cells, driver, kinds, live, state, seen, rate, told, alone):
    """What `move_lanes` left out in a lane that counts.

    figures, counts, hands_cells, road_cells, driver, kinds, live, state, seen, rate, told, alone : as for `lanes_rate` [SI]
    """
    move_sliding_lanes(kinds.brush, figures, driver, seen, state, rate, told)
    for lane in range(LANES):
        if live[lane] and told[RARE * LANES + lane] != 0.0:
            move_alone(kinds.brush, figures, counts, hands_cells, road_cells, driver, state, rate, told, lane, alone)


@borrower
def see_lanes(figures, counts, hands_cells, road_cells, lead, kinds, state, rows, places, seen):
    """All that the lanes read before the arithmetic.

    figures, counts, hands_cells, road_cells, kinds, state, rows, places, seen : as for `lanes_rate` [SI]
    lead : time by which the driver looks ahead [s]
    """
    place_lanes(figures, counts, lead, state, rows, places)
    look_lanes(figures, hands_cells, road_cells, rows, places, seen)
    if kinds.windy:
        wind_lanes(figures, road_cells, rows, places, state, seen)
    if kinds.electric:
        motor_lanes(figures, state, seen)


@borrower
def lanes_rate(figures, counts, hands_cells, road_cells, driver, kinds, live, state, rows, places, seen, rate, told, alone):
    """Right-hand side of all lanes.

    figures, counts : flat, of the lanes' cars [SI]; hands_cells, road_cells : of all set-ups and roads; driver : Driver, its habits
    kinds : Kinds; live : (LANES,) which lanes count
    state : flat; rows, places, seen, rate, told : flat, written; alone : work space
    """
    see_lanes(figures, counts, hands_cells, road_cells, driver.lead, kinds, state, rows, places, seen)
    if kinds.solid:
        move_lanes(kinds.brush, figures, driver, seen, state, rate, told)
    else:
        move_plain_lanes(kinds.brush, figures, driver, seen, state, rate, told)
    if any_rare(told, live):
        move_rare(figures, counts, hands_cells, road_cells, driver, kinds, live, state, seen, rate, told, alone)
    if kinds.electric:
        lanes_flow(figures, told, rate)


@piece
def note_step(parts, step, lane):
    """A lane's step in the parts in which a Runge-Kutta step wants it.

    parts : (3, STATES * LANES) written: a sixth, half and the whole of the step [s] beside every quantity, so that the sums over all
        lanes are one loop
    step [s]; lane [-]
    """
    for k in range(STATES):
        at = k * LANES + lane
        parts[0, at], parts[1, at], parts[2, at] = step / 6.0, 0.5 * step, step


@borrower
def reach(base, part, rate, total):
    """total = base + part x rate for all that the rates depend on.  base, part, rate : flat [SI]; total : flat, written."""
    for i in range(LEDGER * LANES):
        total[i] = base[i] + part[i] * rate[i]


@borrower
def sum_stages(base, part, first, second, third, fourth, count, total):
    """A Runge-Kutta step's sum, `sim.lap.drive.stage_sum`, one by one.

    base, first, second, third, fourth : flat [SI]; part : a sixth of the step [s]; count : of quantities; total : flat, written
    """
    for i in range(count):
        total[i] = base[i] + part[i] * stage_sum(first[i], second[i], third[i], fourth[i])


@borrower
def advance_lanes(
    figures, counts, hands_cells, road_cells, driver, kinds, live, parts, state, first, new, trial, rows, places, seen, rates,
    told, alone,
):
    """One Runge-Kutta step of all lanes whose first rate is known: `sim.lap.drive.advance` lane by lane.

    figures, counts, hands_cells, road_cells, driver, kinds, live : as for `lanes_rate` [SI]; parts : of `note_step`
    state, first : flat, before the step; new : flat, written; trial, rows, places, seen, rates, told, alone : work space
    """
    sixth, half, whole = parts[0], parts[1], parts[2]
    second, third, fourth = rates[0], rates[1], rates[2]
    reach(state, half, first, trial)
    lanes_rate(figures, counts, hands_cells, road_cells, driver, kinds, live, trial, rows, places, seen, second, told, alone)
    reach(state, half, second, trial)
    lanes_rate(figures, counts, hands_cells, road_cells, driver, kinds, live, trial, rows, places, seen, third, told, alone)
    reach(state, whole, third, trial)
    lanes_rate(figures, counts, hands_cells, road_cells, driver, kinds, live, trial, rows, places, seen, fourth, told, alone)
    # What motors and batteries do stands last.
    count = STATES if kinds.electric else FLOW
    sum_stages(state, sixth, first, second, third, fourth, count * LANES, new)
