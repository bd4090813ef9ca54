"""The right-hand side of a lap: the car's motion in path coordinates, the driver's hands, and the powers of the ledger."""

from math import sqrt
from typing import NamedTuple

from sim.car.battery import charge_rate
from sim.car.chassis import GRAVITY
from sim.car.drivetrain import electric_flow, motor_limit, power_limit
from sim.car.motion import ForceDemand, Motion, Pose, Pull, Velocity, Wind, whole_motion, write_motion
from sim.kernels.compiled import inlined, kernel
from sim.kernels.cubics import piece_at
from sim.kernels.trigonometry import sine_cosine
from sim.lap.state import State
from sim.pace.driver import heading_off, preview_distance, steer_demand, understeer_factor
from sim.pace.road import ROADS, RoadColumn, look, road_cell, road_pieces, wind_in_car
from sim.steering.cells import FrontPose, car_pose, front_pieces, front_wheels, steer_cell


class TableValues(NamedTuple):
    """What a car in one state reads from its tables."""

    curvature: float  # of the line [1/m]
    slope: float  # of the road [-]
    plan: float  # square of the planned speed [m2/s2]
    plan_slope: float  # its rate with the station [m/s2]
    ahead: float  # curvature a little ahead [1/m]
    wind: Wind
    motor: float  # most drive force of the motor [N]
    front: FrontPose


class LapMotion(NamedTuple):
    """Rates of the state in path coordinates, and the car's motion."""

    turning: float  # rate of the steer [rad/s]
    progress: float  # of the station [m/s]
    across: float  # of the lateral error [m/s]
    heading_rate: float  # of the heading error [rad/s]
    motion: Motion


class Demand(NamedTuple):
    """What a state asks of the car, before its forces are known."""

    turning: float  # rate of the steer [rad/s]
    progress: float  # of the station [m/s]
    across: float  # of the lateral error [m/s]
    pose: Pose
    pull: Pull
    force: ForceDemand
    most: float  # most drive force [N]


@inlined
def driver_demand(car, driver, least, most, power, values, velocity, steer, error, heading):
    """What driver and road ask of the car; see `lap_rate`, whose text this is.

    car : Car; driver : Driver; least, most : steer at the locks [rad]; power : most [W]; values : TableValues
    velocity : Velocity; steer, error, heading : of the state [rad], [m]
    Returns Demand.
    """
    sine, cosine = sine_cosine(heading)
    along, across = cosine * velocity.x - sine * velocity.y, sine * velocity.x + cosine * velocity.y
    # Beyond the bend's centre the station has no meaning; the lap has ended as off course long before.
    stretch = 1.0 / max(1.0 - error * values.curvature, 0.1)
    speed = sqrt(velocity.x * velocity.x + velocity.y * velocity.y)
    wanted = 0.5 * values.plan_slope + driver.speed_gain * (sqrt(max(values.plan, 0.0)) - speed)
    square, rear_arm = speed * speed, car.wheelbase - car.front_arm
    factor = understeer_factor(driver, square)
    preview = preview_distance(driver, speed, square, factor)
    off = heading_off(sine, values.ahead, square, rear_arm, driver.drift)
    demand = min(max(steer_demand(values.ahead, error, off, preview, factor, car.wheelbase, rear_arm), least), most)
    turning = min(max((demand - steer) * (1.0 / driver.hand_lag), -driver.hand_rate), driver.hand_rate)
    fall = -car.mass * GRAVITY * values.slope * stretch
    return Demand(
        turning, along * stretch, across, car_pose(car, values.front, turning), Pull(fall * cosine, -fall * sine),
        ForceDemand(True, wanted), min(power_limit(power, speed), values.motor),
    )  # fmt: skip


@inlined
def stage_sum(first, second, third, fourth):
    """Six times the mean rate of a step.  first, second, third, fourth : rates of its stages [SI/s].

    Source: the classical fourth-order Runge-Kutta rule.
    """
    return (first + fourth) + 2.0 * (second + third)


@inlined
def write_rates(rate, stride, lane, error, found):
    """Write the rates of a state, but for motor and battery, which `write_flow` writes.

    rate : flat, written; quantity k of a lane stands at k * stride + lane [SI/s]; stride is 1 for a car alone
    error : lateral error [m]; found : LapMotion
    """
    body = found.motion
    rate[State.VX * stride + lane], rate[State.VY * stride + lane] = body.accel_x, body.accel_y
    rate[State.YAW_RATE * stride + lane] = body.accel_yaw
    rate[State.STEER * stride + lane], rate[State.STATION * stride + lane] = found.turning, found.progress
    rate[State.ERROR * stride + lane], rate[State.HEADING * stride + lane] = found.across, found.heading_rate
    rate[State.DRIVE_WORK * stride + lane], rate[State.AIR * stride + lane] = body.drive_power, body.air_power
    rate[State.ROLLING * stride + lane], rate[State.BRAKES * stride + lane] = body.rolling_power, body.brake_power
    rate[State.HEIGHT * stride + lane], rate[State.ALIGNING * stride + lane] = body.height_power, body.aligning_power
    rate[State.HAND_WORK * stride + lane], rate[State.STORED * stride + lane] = body.hand_power, body.stored_power
    rate[State.ERROR_SQUARED * stride + lane] = error * error * found.progress
    write_four(rate, State.SLIPS, stride, lane, body.slip_rate)
    write_four(rate, State.LATERAL, stride, lane, body.lateral_loss)
    write_four(rate, State.LONGITUDINAL, stride, lane, body.longitudinal_loss)
    write_four(rate, State.RUB, stride, lane, body.rub_speed)


@inlined
def write_four(rate, place, stride, lane, values):
    """Four values of a lane.  rate : flat, written; stride, lane : as for `write_rates`; place : of the first; values : (4,) [SI/s]."""
    rate[place * stride + lane], rate[(place + 1) * stride + lane] = values[0], values[1]
    rate[(place + 2) * stride + lane], rate[(place + 3) * stride + lane] = values[2], values[3]


@inlined
def write_flow(rate, stride, lane, flow):
    """Write the rates of what motor and battery do, but for the charge by the rate law.

    rate, stride, lane : as for `write_rates` [SI/s]; flow : sim.car.drivetrain.ElectricFlow
    """
    rate[State.BRAKES * stride + lane] -= flow.regenerated
    rate[State.BATTERY * stride + lane], rate[State.COPPER * stride + lane] = flow.battery, flow.copper
    rate[State.NO_LOAD * stride + lane], rate[State.GEAR * stride + lane] = flow.no_load, flow.gear
    rate[State.BATTERY_WARMTH * stride + lane], rate[State.REGENERATED * stride + lane] = flow.heat, flow.regenerated
    rate[State.CHARGE * stride + lane] = flow.current


@inlined
def state_motion(car, steer_cells, road, driver, state):
    """Right-hand side of a lap as a LapMotion.  car, steer_cells, road, driver, state : as for `lap_rate` [SI]."""
    velocity = Velocity(state[State.VX], state[State.VY], state[State.YAW_RATE])
    station, heading, error = state[State.STATION], state[State.HEADING], state[State.ERROR]
    index, t = road_cell(station, road.length, road.closed, road.density, road.size)
    ahead, u = road_cell(station + driver.lead * velocity.x, road.length, road.closed, road.density, road.size)
    cell, w = steer_cell(state[State.STEER], steer_cells.first, steer_cells.density, steer_cells.size)
    pieces = road_pieces(road.cells, road.row + index)
    piece_ahead = piece_at(road.cells, road.row + ahead, RoadColumn.CURVATURE, ROADS)
    curvature, slope, plan, plan_slope, bend_ahead = look(pieces, t, piece_ahead, u, road.density)
    wind = Wind(0.0, 0.0)
    if road.wind_x != 0.0 or road.wind_y != 0.0:
        wind = wind_in_car(pieces.direction, t, heading, road.wind_x, road.wind_y)
    motor = motor_limit(car, sqrt(velocity.x * velocity.x + velocity.y * velocity.y))
    front = front_wheels(front_pieces(steer_cells.cells, steer_cells.row + cell), w, steer_cells.density)
    values = TableValues(curvature, slope, plan, plan_slope, bend_ahead, wind, motor, front)
    slips = state[State.SLIPS], state[State.SLIPS + 1], state[State.SLIPS + 2], state[State.SLIPS + 3]
    demand = driver_demand(
        car, driver, steer_cells.least, steer_cells.most, road.power, values, velocity, state[State.STEER], error, heading
    )
    found = whole_motion(car, velocity, slips, demand.pose, demand.pull, wind, demand.force, demand.most)
    return lap_motion(demand, curvature, velocity.yaw, found)


@inlined
def lap_motion(demand, curvature, yaw_rate, motion):
    """A state's demand and motion as a LapMotion.  demand : Demand; curvature : of the line [1/m]; yaw_rate [rad/s]; motion : Motion."""
    return LapMotion(demand.turning, demand.progress, demand.across, yaw_rate - curvature * demand.progress, motion)


@kernel
def lap_rate(car, steer_cells, road, driver, state, rate, wheels, body):
    """Right-hand side of a lap.

    car, steer_cells, road, driver : what is driven, where and how
    state : (STATES,) [SI]
    rate : (STATES,) written: its rate of change [SI/s]
    wheels, body : written, see `sim.car.motion.car_motion`
    Source: `car_motion` in path coordinates, ds/dt = v_t / (1 - e k), de/dt = v_n, d(heading error)/dt = r - k ds/dt (derived
    here).  Gravity's pull is the slope of a height that depends on the station alone, so that a closed lap gives all of it back.
    """
    found = state_motion(car, steer_cells, road, driver, state)
    body_motion = found.motion
    flow = electric_flow(
        car, body_motion.drive_force, body_motion.drive_power, body_motion.driven_braking, body_motion.driven_braked,
        body_motion.driven_speed,
    )  # fmt: skip
    charge = charge_rate(car.battery, flow.current)
    write_rates(rate, 1, 0, state[State.ERROR], found)
    write_flow(rate, 1, 0, flow)
    rate[State.USED_CHARGE] = charge
    write_motion(body_motion, flow, charge, wheels, body)
