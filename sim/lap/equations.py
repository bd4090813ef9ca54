"""The right-hand side of a lap: the car's motion in path coordinates, the driver's hands, and the powers of the ledger."""

from math import sqrt
from typing import NamedTuple

from sim.car.battery import charge_rate
from sim.car.chassis import GRAVITY
from sim.car.drivetrain import electric_flow, motor_limit, power_limit
from sim.car.motion import Motion, whole_motion, write_motion
from sim.kernels.compiled import inlined, no_refcount
from sim.kernels.cubics import cell_at
from sim.kernels.trigonometry import sine_cosine
from sim.lap.state import (
    AIR, ALIGNING, BATTERY, BATTERY_WARMTH, BRAKES, CHARGE, COPPER, DRIVE_WORK, ERROR, ERROR_SQUARED, GEAR, HAND_WORK, HEADING, HEIGHT,
    LATERAL, LONGITUDINAL, NO_LOAD, REGENERATED, ROLLING, RUB, SLIPS, STATION, STEER, STORED, USED_CHARGE, VX, VY, YAW_RATE,
)  # fmt: skip
from sim.pace.driver import heading_off, preview_distance, steer_demand, understeer_factor
from sim.pace.road import look, road_cell, wind_in_car
from sim.steering.hands import pose_of, wheel_x, wheel_y


class TableValues(NamedTuple):
    """What a car in one state reads from its tables; pairs are (left, right) front wheel."""

    curvature: float  # of the line [1/m]
    slope: float  # of the road [-]
    plan: float  # square of the planned speed [m2/s2]
    plan_slope: float  # its rate with the station [m/s2]
    ahead: float  # curvature a little ahead [1/m]
    wind_x: float  # in the car's axes [m/s]
    wind_y: float
    motor: float  # most drive force of the motor [N]
    steers: tuple  # [rad]
    steer_slopes: tuple  # rate with the equivalent steer [-]
    x: tuple  # behind the front axle, backwards negative [m]
    y: tuple  # [m]
    cambers: tuple  # [rad]


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
    steer_rates: tuple  # of the front wheels [rad/s]
    x: tuple  # (4,) contact points [m]
    y: tuple
    pull_x: float  # gravity along the road, car axes [N]
    pull_y: float
    wanted: float  # acceleration along the path [m/s2]
    most: float  # most drive force [N]


@inlined
def driver_demand(car, driver, least, most, power, sight, vx, vy, steer, error, heading):
    """What driver and road ask of the car; see `lap_rate`, whose text this is.

    car : Car; driver : Driver; least, most : steer at the locks [rad]; power : most [W]; sight : TableValues
    vx, vy, steer, error, heading : of the state [m/s], [rad], [m]
    Returns Demand.
    """
    sine, cosine = sine_cosine(heading)
    along, across = cosine * vx - sine * vy, sine * vx + cosine * vy
    # Beyond the bend's centre the station has no meaning; the lap has ended as off course long before.
    stretch = 1.0 / max(1.0 - error * sight.curvature, 0.1)
    speed = sqrt(vx * vx + vy * vy)
    wanted = 0.5 * sight.plan_slope + driver.speed_gain * (sqrt(max(sight.plan, 0.0)) - speed)
    square, rear_arm = speed * speed, car.wheelbase - car.front_arm
    factor = understeer_factor(driver, square)
    preview = preview_distance(driver, speed, square, factor)
    off = heading_off(sine, sight.ahead, square, rear_arm, driver.drift)
    demand = min(max(steer_demand(sight.ahead, error, off, preview, factor, car.wheelbase, rear_arm), least), most)
    turning = min(max((demand - steer) * (1.0 / driver.hand_lag), -driver.hand_rate), driver.hand_rate)
    fall = -car.mass * GRAVITY * sight.slope * stretch
    return Demand(
        turning, along * stretch, across, (sight.steer_slopes[0] * turning, sight.steer_slopes[1] * turning), wheel_x(car, sight.x),
        wheel_y(car, sight.y), fall * cosine, -fall * sine, wanted, min(power_limit(power, speed), sight.motor),
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
    rate[VX * stride + lane], rate[VY * stride + lane], rate[YAW_RATE * stride + lane] = body.accel_x, body.accel_y, body.accel_yaw
    rate[STEER * stride + lane], rate[STATION * stride + lane] = found.turning, found.progress
    rate[ERROR * stride + lane], rate[HEADING * stride + lane] = found.across, found.heading_rate
    rate[DRIVE_WORK * stride + lane], rate[AIR * stride + lane] = body.drive_power, body.air_power
    rate[ROLLING * stride + lane], rate[BRAKES * stride + lane] = body.rolling_power, body.brake_power
    rate[HEIGHT * stride + lane], rate[ALIGNING * stride + lane] = body.height_power, body.aligning_power
    rate[HAND_WORK * stride + lane], rate[STORED * stride + lane] = body.hand_power, body.stored_power
    rate[ERROR_SQUARED * stride + lane] = error * error * found.progress
    write_four(rate, SLIPS, stride, lane, body.slip_rate)
    write_four(rate, LATERAL, stride, lane, body.lateral_loss)
    write_four(rate, LONGITUDINAL, stride, lane, body.longitudinal_loss)
    write_four(rate, RUB, stride, lane, body.rub_speed)


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
    rate[BRAKES * stride + lane] -= flow.regenerated
    rate[BATTERY * stride + lane], rate[COPPER * stride + lane] = flow.battery, flow.copper
    rate[NO_LOAD * stride + lane], rate[GEAR * stride + lane] = flow.no_load, flow.gear
    rate[BATTERY_WARMTH * stride + lane], rate[REGENERATED * stride + lane] = flow.heat, flow.regenerated
    rate[CHARGE * stride + lane] = flow.current


@inlined
def state_motion(car, hands, road, driver, state):
    """Right-hand side of a lap as a LapMotion.  car, hands, road, driver, state : as for `lap_rate` [SI]."""
    station, vx, vy, heading, error = state[STATION], state[VX], state[VY], state[HEADING], state[ERROR]
    index, t = road_cell(station, road.length, road.closed, road.density, len(road.cells))
    ahead, u = road_cell(station + driver.lead * vx, road.length, road.closed, road.density, len(road.cells))
    row, w = cell_at((state[STEER] - hands.first) * hands.density, len(hands.cells))
    bend, slope, plan, plan_slope, bend_ahead = look(road.cells, index, t, ahead, u, road.density)
    steers, slopes, x, y, cambers = pose_of(hands.cells, row, w, hands.density)
    wind_x = wind_y = 0.0
    if road.wind_x != 0.0 or road.wind_y != 0.0:
        wind_x, wind_y = wind_in_car(road.cells, index, t, heading, road.wind_x, road.wind_y)
    motor = motor_limit(car, sqrt(vx * vx + vy * vy))
    sight = TableValues(bend, slope, plan, plan_slope, bend_ahead, wind_x, wind_y, motor, steers, slopes, x, y, cambers)
    slips = state[SLIPS], state[SLIPS + 1], state[SLIPS + 2], state[SLIPS + 3]
    wish = driver_demand(car, driver, hands.least, hands.most, road.power, sight, vx, vy, state[STEER], error, heading)
    found = whole_motion(
        car, vx, vy, state[YAW_RATE], slips, steers, wish.steer_rates, wish.x, wish.y, cambers, wish.pull_x, wish.pull_y, wind_x, wind_y,
        True, wish.wanted, wish.most,
    )  # fmt: skip
    return lap_motion(wish, bend, state[YAW_RATE], found)


@inlined
def lap_motion(wish, curvature, yaw_rate, motion):
    """A state's wish and motion as a LapMotion.  wish : Demand; curvature : of the line [1/m]; yaw_rate [rad/s]; motion : Motion."""
    return LapMotion(wish.turning, wish.progress, wish.across, yaw_rate - curvature * wish.progress, motion)


@no_refcount
def lap_rate(car, hands, road, driver, state, rate, wheels, body):
    """Right-hand side of a lap.

    car, hands, road, driver : what is driven, where and how
    state : (STATES,) [SI]
    rate : (STATES,) written: its rate of change [SI/s]
    wheels, body : written, see `sim.car.motion.car_motion`
    Source: `car_motion` in path coordinates, ds/dt = v_t / (1 - e k), de/dt = v_n, d(heading error)/dt = r - k ds/dt (derived
    here).  Gravity's pull is the slope of a height that depends on the station alone, so that a closed lap gives all of it back.
    """
    found = state_motion(car, hands, road, driver, state)
    body_motion = found.motion
    flow = electric_flow(
        car, body_motion.drive_force, body_motion.drive_power, body_motion.driven_braking, body_motion.driven_braked,
        body_motion.driven_speed,
    )  # fmt: skip
    charge = charge_rate(car.battery, flow.current)
    write_rates(rate, 1, 0, state[ERROR], found)
    write_flow(rate, 1, 0, flow)
    rate[USED_CHARGE] = charge
    write_motion(body_motion, flow, charge, wheels, body)
