"""Right-hand side and Runge-Kutta step of many cars side by side, in the lanes of a processor.

The tables are read in one loop over the lanes and the arithmetic is done in a second, which has neither branches nor calls, so that
the compiler works on several cars at once.  Both are the one car's own text: the pieces `look`, `pose_of`, `lap_motion`, `note_rates`.
What is rare (a wheel that slides or lifts) is told by the arithmetic and worked out again: sliding for all lanes, the rest by that lane
alone.
"""

from sim.battery import charge_rate
from sim.cells import cell_of
from sim.compiled import kernel
from sim.inlined import piece
from sim.lanes import (
    AHEAD, BEND, BRAKED, BRAKING, CLOSED, DIRECTION, DRIVE, FORCE, FORCE_POWER, HANDS_COUNT, HANDS_FIRST, HANDS_ROW, HANDS_SPACING,
    LANES, LEAST, LEFT_CAMBER, LEFT_RATE, LEFT_STEER, LEFT_X, LEFT_Y, LENGTH, LIFTED, LOADS, MOST, MOTOR, PLAN, PLAN_SLOPE, POWER, RARE,
    RIGHT_CAMBER, RIGHT_RATE, RIGHT_STEER, RIGHT_X, RIGHT_Y, ROAD_COUNT, ROAD_ROW, ROAD_SPACING, SLOPE, WIND_X, WIND_Y, lane_car,
    lane_sight, whole_car, whole_hands, whole_road,
)  # fmt: skip
from sim.lap_equations import lap_motion, note_flow, note_four, note_rates, state_motion
from sim.lap_state import CHARGE, ERROR, HEADING, LEDGER, SLIPS, STATES, STATION, STEER, USED_CHARGE, VX, VY, YAW_RATE
from sim.lap_tables import look, pose_of, road_cell
from sim.motor_flow import electric_flow
from sim.sharing import COMMON, SLIDING


@kernel
def look_lanes(figures, counts, hands_cells, road_cells, lead, state, seen):
    """What every lane reads from its tables.

    figures, counts, state : flat [SI]; hands_cells, road_cells : of all set-ups and roads
    lead : time by which the driver looks ahead [s]; seen : flat, written
    """
    for lane in range(LANES):
        length, closed = figures[LENGTH * LANES + lane], counts[CLOSED * LANES + lane] != 0
        spacing, count, row = figures[ROAD_SPACING * LANES + lane], counts[ROAD_COUNT * LANES + lane], counts[ROAD_ROW * LANES + lane]
        station = state[STATION * LANES + lane]
        index, t = road_cell(station, length, closed, spacing, count)
        ahead, u = road_cell(station + lead * state[VX * LANES + lane], length, closed, spacing, count)
        windy = figures[WIND_X * LANES + lane] != 0.0 or figures[WIND_Y * LANES + lane] != 0.0
        bend, slope, plan, plan_slope, direction, bend_ahead = look(road_cells, row + index, t, row + ahead, u, spacing, windy)
        seen[BEND * LANES + lane], seen[SLOPE * LANES + lane], seen[PLAN * LANES + lane] = bend, slope, plan
        seen[PLAN_SLOPE * LANES + lane], seen[DIRECTION * LANES + lane], seen[AHEAD * LANES + lane] = plan_slope, direction, bend_ahead
        first, spacing = figures[HANDS_FIRST * LANES + lane], figures[HANDS_SPACING * LANES + lane]
        cell, t = cell_of(state[STEER * LANES + lane] - first, spacing, counts[HANDS_COUNT * LANES + lane])
        steers, slopes, x, y, cambers = pose_of(hands_cells, counts[HANDS_ROW * LANES + lane] + cell, t, spacing)
        seen[LEFT_STEER * LANES + lane], seen[RIGHT_STEER * LANES + lane] = steers
        seen[LEFT_RATE * LANES + lane], seen[RIGHT_RATE * LANES + lane] = slopes
        seen[LEFT_X * LANES + lane], seen[RIGHT_X * LANES + lane] = x
        seen[LEFT_Y * LANES + lane], seen[RIGHT_Y * LANES + lane] = y
        seen[LEFT_CAMBER * LANES + lane], seen[RIGHT_CAMBER * LANES + lane] = cambers


@piece
def note_told(told, lane, motion):
    """What later steps want of a lane beside its rates.  told : flat, written [SI]; lane [-]; motion : Motion."""
    note_four(told, LOADS, LANES, lane, motion.load)
    told[LIFTED * LANES + lane], told[FORCE * LANES + lane] = motion.lifted, motion.drive_force
    told[FORCE_POWER * LANES + lane] = motion.drive_power
    told[BRAKING * LANES + lane], told[BRAKED * LANES + lane] = motion.driven_braking, motion.driven_braked


@piece
def move_lane(figures, driver, seen, state, rate, told, lane, effort):
    """The arithmetic of one lane.

    figures, seen, state : flat [SI]; driver : Driver; rate, told : flat, written; lane [-]; effort : COMMON or SLIDING
    """
    car = lane_car(figures, lane, figures[DRIVE * LANES + lane], figures[(MOTOR + 6) * LANES + lane])
    error = state[ERROR * LANES + lane]
    slips = (
        state[SLIPS * LANES + lane], state[(SLIPS + 1) * LANES + lane], state[(SLIPS + 2) * LANES + lane],
        state[(SLIPS + 3) * LANES + lane],
    )  # fmt: skip
    found = lap_motion(
        car, driver, figures[LEAST * LANES + lane], figures[MOST * LANES + lane], figures[POWER * LANES + lane],
        figures[WIND_X * LANES + lane], figures[WIND_Y * LANES + lane], lane_sight(seen, lane), state[VX * LANES + lane],
        state[VY * LANES + lane], state[YAW_RATE * LANES + lane], slips, state[STEER * LANES + lane], error,
        state[HEADING * LANES + lane], effort,
    )  # fmt: skip
    note_rates(rate, LANES, lane, error, found)
    note_told(told, lane, found.motion)
    told[RARE * LANES + lane] = 1.0 if found.motion.rare else 0.0


@kernel
def move_lanes(figures, driver, seen, state, rate, told):
    """The arithmetic of all lanes where no wheel slides.  figures, driver, seen, state, rate, told : as for `move_lane` [SI]."""
    for lane in range(LANES):
        move_lane(figures, driver, seen, state, rate, told, lane, COMMON)


@kernel
def move_sliding_lanes(figures, driver, seen, state, rate, told):
    """The arithmetic of all lanes with the friction circle.  figures, driver, seen, state, rate, told : as for `move_lane` [SI]."""
    for lane in range(LANES):
        move_lane(figures, driver, seen, state, rate, told, lane, SLIDING)


@kernel
def move_alone(figures, counts, hands_cells, road_cells, driver, state, rate, told, lane, alone):
    """One lane by the one-car text with all that is rare.

    figures, counts, hands_cells, road_cells, driver, state : as for `lanes_rate` [SI]; rate, told : flat, written; lane [-]
    alone : (STATES,) work space
    """
    for k in range(LEDGER):
        alone[k] = state[k * LANES + lane]
    car = whole_car(figures, lane)
    hands, road = whole_hands(figures, counts, hands_cells, lane), whole_road(figures, counts, road_cells, lane)
    found = state_motion(car, hands, road, driver, alone)
    note_rates(rate, LANES, lane, alone[ERROR], found)
    note_told(told, lane, found.motion)


@kernel
def lanes_flow(figures, told, rate):
    """Motor and battery of all lanes.  figures, told : flat [SI]; rate : flat, written."""
    for lane in range(LANES):
        car = lane_car(figures, lane, figures[DRIVE * LANES + lane], figures[(MOTOR + 6) * LANES + lane])
        at = lane
        flow = electric_flow(
            car, told[FORCE * LANES + at], told[FORCE_POWER * LANES + at], told[BRAKING * LANES + at], told[BRAKED * LANES + at]
        )
        note_flow(rate, LANES, lane, flow)
    for lane in range(LANES):
        car = lane_car(figures, lane, figures[DRIVE * LANES + lane], figures[(MOTOR + 6) * LANES + lane])
        rate[USED_CHARGE * LANES + lane] = charge_rate(car.battery, rate[CHARGE * LANES + lane])


@kernel
def lanes_rate(figures, counts, hands_cells, road_cells, driver, electric, live, state, seen, rate, told, alone):
    """Right-hand side of all lanes.

    figures, counts : flat, of the lanes' cars [SI]; hands_cells, road_cells : of all set-ups and roads; driver : Driver
    electric : whether any car has a motor; live : (LANES,) which lanes count
    state : flat; seen, rate, told : flat, written; alone : (STATES,) work space
    """
    look_lanes(figures, counts, hands_cells, road_cells, driver.lead, state, seen)
    move_lanes(figures, driver, seen, state, rate, told)
    if any_rare(told, live):
        move_sliding_lanes(figures, driver, seen, state, rate, told)
        if any_rare(told, live):
            for lane in range(LANES):
                if live[lane] and told[RARE * LANES + lane] != 0.0:
                    move_alone(figures, counts, hands_cells, road_cells, driver, state, rate, told, lane, alone)
    if electric:
        lanes_flow(figures, told, rate)


@piece
def any_rare(told, live):
    """Whether something was left out in a lane that counts.  told : flat; live : (LANES,) [-]."""
    found = False
    for lane in range(LANES):
        found = found | (live[lane] & (told[RARE * LANES + lane] != 0.0))
    return found


@piece
def note_step(shares, step, lane):
    """A lane's step in the parts in which a Runge-Kutta step wants it.

    shares : (4, STATES * LANES) written: a sixth, a third, half and the whole of the step [s] beside every quantity, so that the sums
        over all lanes are one loop
    step [s]; lane [-]
    """
    for k in range(STATES):
        at = k * LANES + lane
        shares[0, at], shares[1, at], shares[2, at], shares[3, at] = step / 6.0, step / 3.0, 0.5 * step, step


@kernel
def add_share(base, share, rate, count, total):
    """total = base + share x rate, one by one.  base, share, rate : flat [SI]; count : of quantities; total : flat, written."""
    for i in range(count):
        total[i] = base[i] + share[i] * rate[i]


@kernel
def grow(total, share, rate, count):
    """total += share x rate, one by one; by itself, since arrays that may be one and the same are not worked on side by side.

    total : flat [SI], changed in place; share, rate : flat [SI]; count : of quantities
    """
    for i in range(count):
        total[i] += share[i] * rate[i]


@kernel
def advance_lanes(
    figures, counts, hands_cells, road_cells, driver, electric, live, shares, state, first, new, trial, seen, rate, told, alone
):
    """One Runge-Kutta step of all lanes whose first rate is known: `sim.lap.advance` lane by lane.

    figures, counts, hands_cells, road_cells, driver, electric, live : as for `lanes_rate` [SI]; shares : of `note_step`
    state, first : flat, before the step; new : flat, written; trial, seen, rate, told, alone : work space
    """
    sixth, third, half, whole = shares[0], shares[1], shares[2], shares[3]
    add_share(state, sixth, first, STATES * LANES, new)
    add_share(state, half, first, LEDGER * LANES, trial)
    for stage in range(3):
        lanes_rate(figures, counts, hands_cells, road_cells, driver, electric, live, trial, seen, rate, told, alone)
        grow(new, sixth if stage == 2 else third, rate, STATES * LANES)
        if stage < 2:
            add_share(state, whole if stage == 1 else half, rate, LEDGER * LANES, trial)
