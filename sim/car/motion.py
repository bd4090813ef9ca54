"""Forces on the four wheels, the accelerations that they cause, and where the power goes.

The steady turn and the lap read the same text: one evaluation of all forces.
"""

from math import sqrt
from typing import NamedTuple

from sim.car.battery import charge_rate
from sim.car.brush_traction import BETWEEN, FIRST, LAST
from sim.car.chassis import (
    GRAVITY, ONE_WHEEL_LEFT, ONE_WHEEL_RIGHT, contact_velocity, least_load, loads_without_lifted, plate_loads, plate_shares,
)  # fmt: skip
from sim.car.drivetrain import STILL, electric_flow, motor_limit, power_limit
from sim.car.laws import share_by_law, side_forces, side_of, sliding_before
from sim.car.rear_axle import CRAWL
from sim.car.traction import ALL, COMMON, NONE, limited
from sim.car.tyre import relaxation_rate
from sim.kernels.compiled import inlined, no_refcount
from sim.kernels.trigonometry import sine_cosine

# Columns of the wheels' results, one row a wheel
(LOAD, LONGITUDINAL, LATERAL, DRIVE_SLIP, SLIP_RATE, LATERAL_LOSS, LONGITUDINAL_LOSS, RUB_SPEED, PERIPHERAL, ALIGNING) = range(10)
WHEEL_COLUMNS = 10
# Places of the body's results
(ACCEL_X, ACCEL_Y, ACCEL_YAW, DRIVE_FORCE, DRIVE_POWER, AIR_POWER, ROLLING_POWER, BRAKE_POWER, HEIGHT_POWER, ALIGNING_POWER,
 HAND_POWER, STORED_POWER, LIFTED, REGENERATED_POWER, BATTERY_POWER, COPPER_POWER, NO_LOAD_POWER, GEAR_POWER, BATTERY_HEAT,
 BATTERY_CURRENT, CHARGE_RATE) = range(21)  # fmt: skip
BODY_COLUMNS = 21


class Motion(NamedTuple):
    """Forces, accelerations and powers of one state; fours in the order of `chassis.WHEELS`, names as the columns and places above."""

    accel_x: float
    accel_y: float
    accel_yaw: float
    drive_force: float
    drive_power: float
    brake_power: float
    air_power: float
    rolling_power: float
    height_power: float
    aligning_power: float
    hand_power: float
    stored_power: float
    lifted: float
    driven_braking: float  # force with which the brakes hold the driven wheels [N]
    driven_braked: float  # its power, below 0 [W]
    driven_speed: float  # peripheral, of the driven wheels [m/s]
    load: tuple
    longitudinal: tuple
    lateral: tuple
    drive_slip: tuple
    slip_rate: tuple
    lateral_loss: tuple
    longitudinal_loss: tuple
    rub_speed: tuple
    peripheral: tuple
    aligning: tuple
    rare: bool


@inlined
def wheel_directions(vx, vy, yaw_rate, ux, uy, steer, x, y):
    """A front wheel's contact point and directions.

    vx, vy, yaw_rate : of the car [m/s], [rad/s]; ux, uy : direction of travel [-]; steer [rad]; x, y : contact point [m]
    Returns (forward, side) speed [m/s], (cosine, sine) of the steer and the direction of travel's part along the wheel [-].
    """
    sine, cosine = sine_cosine(steer)
    forward, side = contact_velocity(vx, vy, yaw_rate, x, y, cosine, sine)
    return forward, side, cosine, sine, cosine * ux + sine * uy


@inlined
def on_ground(along, across, cosines, sines):
    """Sum of forces along and across the wheels, in the car's axes; rear wheels stand straight.

    along, across : (4,) [N]; cosines, sines : of the front wheels' steers [-]
    Returns (ahead, left) [N].
    """
    return (
        (along[0] * cosines[0] - across[0] * sines[0]) + (along[1] * cosines[1] - across[1] * sines[1]) + (along[2] + along[3]),
        (along[0] * sines[0] + across[0] * cosines[0]) + (along[1] * sines[1] + across[1] * cosines[1]) + (across[2] + across[3]),
    )


@inlined
def wheel_rates(tyre, lateral, longitudinal, peripheral, slip, forward, side):
    """What one wheel does with its forces.

    tyre : Tyre; lateral, longitudinal : forces [N]; peripheral, forward, side : speeds [m/s]; slip : lateral [rad]
    Returns (rate of the slip [rad/s], lateral loss [W], longitudinal loss [W], rub speed [m/s]).  Source: `sim.car.tyre`; force times slip
    speed.
    """
    along, across = peripheral - forward, slip * forward
    rate = relaxation_rate(slip, forward, side, tyre.relaxation_length)
    return rate, lateral * slip * abs(forward), longitudinal * along, sqrt(across * across + along * along)


@inlined
def motion(car, vx, vy, yaw_rate, slips, steers, steer_rates, x, y, cambers, pull_x, pull_y, wind_x, wind_y, tracking, wanted, most,
           effort):  # fmt: skip
    """Forces, accelerations and powers of the car in one state; see `car_motion`, whose text this is.

    car, vx, vy, yaw_rate, pull_x, pull_y, wind_x, wind_y, tracking, wanted : as there [m/s], [rad/s], [N]
    slips, x, y : (4,) as there; steers, steer_rates, cambers : (2,) of the front wheels, as there
    most : most drive force [N], read when tracking
    effort : PLAIN, COMMON, SLIDING or ALL: what is worked out beside the common case; where something was left out, `rare` says so
    Returns Motion.
    """
    mass, front, rear = car.mass, car.front_tyre, car.rear_tyre
    speed = sqrt(vx * vx + vy * vy)
    # Where the car stands, its own nose gives the direction of travel.
    still, per = speed < STILL, 1.0 / max(speed, STILL)
    ux, uy = 1.0 if still else vx * per, 0.0 if still else vy * per
    through_x, through_y = vx - wind_x, vy - wind_y
    drag = 0.5 * car.air_density * car.drag_area * sqrt(through_x * through_x + through_y * through_y)
    air_x, air_y = -drag * through_x, -drag * through_y
    shares = plate_shares(x, y, -1, mass * GRAVITY, car.height)
    v0, w0, c0, s0, t0 = wheel_directions(vx, vy, yaw_rate, ux, uy, steers[0], x[0], y[0])
    v1, w1, c1, s1, t1 = wheel_directions(vx, vy, yaw_rate, ux, uy, steers[1], x[1], y[1])
    v2, w2, v3, w3 = vx - yaw_rate * y[2], vy + yaw_rate * x[2], vx - yaw_rate * y[3], vy + yaw_rate * x[3]
    forward, cosines, sines, towards = (v0, v1, v2, v3), (c0, c1), (s0, s1), (t0, t1)
    # Each wheel's resistance per load.
    rolls = (
        -front.rolling_resistance * limited(v0 * (1.0 / CRAWL), 1.0), -front.rolling_resistance * limited(v1 * (1.0 / CRAWL), 1.0),
        -rear.rolling_resistance * limited(v2 * (1.0 / CRAWL), 1.0), -rear.rolling_resistance * limited(v3 * (1.0 / CRAWL), 1.0),
    )  # fmt: skip
    pull_along = (air_x + pull_x) * ux + (air_y + pull_y) * uy
    # Loads need the accelerations that they cause.  The start is the turn's own acceleration, exact in a steady turn; each pass
    # shrinks what is left by about a hundred, so that three leave a lap's lateral loss wrong by 1e-7 to 2e-6 (a solid axle with toe
    # is the worst).
    ahead, left = -mass * yaw_rate * vy, mass * yaw_rate * vx
    _, _, _, shared, ahead, left, rare = load_pass(
        car, ahead, left, shares, x, y, slips, cambers, forward, cosines, sines, towards, rolls, pull_along, air_x, air_y, ux, uy, most,
        tracking, wanted, NONE, NONE, FIRST, effort,
    )  # fmt: skip
    _, _, _, shared, ahead, left, second = load_pass(
        car, ahead, left, shares, x, y, slips, cambers, forward, cosines, sines, towards, rolls, pull_along, air_x, air_y, ux, uy, most,
        tracking, wanted, shared.along, shared.sliding, BETWEEN, effort,
    )  # fmt: skip
    lifted, loads, rolling, shared, ahead, left, third = load_pass(
        car, ahead, left, shares, x, y, slips, cambers, forward, cosines, sines, towards, rolls, pull_along, air_x, air_y, ux, uy, most,
        tracking, wanted, shared.along, shared.sliding, LAST, effort,
    )  # fmt: skip
    want, tread, lengthwise, lateral = shared.want, shared.peripheral, shared.longitudinal, shared.lateral
    p0, p1 = lengthwise[0] + rolling[0], lengthwise[1] + rolling[1]
    q0, q1 = front.pneumatic_trail * shared.twisting[0], front.pneumatic_trail * shared.twisting[1]
    q2, q3 = rear.pneumatic_trail * shared.twisting[2], rear.pneumatic_trail * shared.twisting[3]
    moment = (
        (x[0] * (p0 * s0 + lateral[0] * c0) - y[0] * (p0 * c0 - lateral[0] * s0))
        + (x[1] * (p1 * s1 + lateral[1] * c1) - y[1] * (p1 * c1 - lateral[1] * s1))
        + (x[2] * lateral[2] - y[2] * (lengthwise[2] + rolling[2])) + (x[3] * lateral[3] - y[3] * (lengthwise[3] + rolling[3]))
        - (q0 + q1 + q2 + q3)
    )  # fmt: skip
    held = want[0] * tread[0] + want[1] * tread[1] + want[2] * tread[2] + want[3] * tread[3]
    one_left, one_right = car.drive == ONE_WHEEL_LEFT, car.drive == ONE_WHEEL_RIGHT
    treads = tread[2] if one_left else (tread[3] if one_right else 0.5 * (tread[2] + tread[3]))
    drive_power = shared.delivered * treads if shared.delivered > 0.0 else 0.0
    brake_power = 0.0 if shared.delivered > 0.0 else -held
    of_left, of_right = 0.0 if one_right else want[2], 0.0 if one_left else want[3]
    r0, l0, g0, b0 = wheel_rates(front, lateral[0], lengthwise[0], tread[0], slips[0], v0, w0)
    r1, l1, g1, b1 = wheel_rates(front, lateral[1], lengthwise[1], tread[1], slips[1], v1, w1)
    r2, l2, g2, b2 = wheel_rates(rear, lateral[2], lengthwise[2], tread[2], slips[2], v2, w2)
    r3, l3, g3, b3 = wheel_rates(rear, lateral[3], lengthwise[3], tread[3], slips[3], v3, w3)
    hands = q0 * steer_rates[0] + q1 * steer_rates[1]
    return Motion(
        accel_x=(ahead + pull_x) * (1.0 / mass) + yaw_rate * vy,
        accel_y=(left + pull_y) * (1.0 / mass) - yaw_rate * vx,
        accel_yaw=moment / car.yaw_inertia,
        drive_force=shared.delivered,
        drive_power=drive_power,
        brake_power=brake_power,
        air_power=-(air_x * vx + air_y * vy),
        rolling_power=-(rolling[0] * v0 + rolling[1] * v1 + rolling[2] * v2 + rolling[3] * v3),
        height_power=-(pull_x * vx + pull_y * vy),
        aligning_power=(q0 + q1 + q2 + q3) * yaw_rate + hands,
        hand_power=hands,
        stored_power=front.relaxation_length * (lateral[0] * r0 + lateral[1] * r1)
        + rear.relaxation_length * (lateral[2] * r2 + lateral[3] * r3),
        lifted=lifted,
        driven_braking=-(of_left + of_right),
        driven_braked=of_left * tread[2] + of_right * tread[3],
        driven_speed=treads,
        load=loads,
        longitudinal=lengthwise,
        lateral=lateral,
        drive_slip=shared.slip,
        slip_rate=(r0, r1, r2, r3),
        lateral_loss=(l0, l1, l2, l3),
        longitudinal_loss=(g0, g1, g2, g3),
        rub_speed=(b0, b1, b2, b3),
        peripheral=tread,
        aligning=(-q0, -q1, -q2, -q3),
        rare=rare | second | third,
    )


@inlined
def load_pass(car, ahead, left, shares, x, y, slips, cambers, forward, cosines, sines, towards, rolls, pull_along, air_x, air_y, ux, uy,
              most, tracking, wanted, along, sliding, stage, effort):  # fmt: skip
    """One pass: loads from the forces on the ground, and the forces that come of them.

    car : Car; ahead, left : force that the ground gives [N]; shares : of `plate_shares`
    x, y, slips : (4,) [m], [rad]; cambers : (2,) [rad]
    forward : (4,), cosines, sines, towards : (2,) of `wheel_directions`; rolls : (4,) rolling resistance per load [-]
    pull_along : air and slope along the path [N]; air_x, air_y [N]; ux, uy : direction of travel [-]
    most : most drive force [N]; tracking, wanted, effort : as for `motion`
    along, sliding, stage : as for `sim.car.brush_traction.share_brush`, of the pass before [-]
    Returns (LIFTED, loads, rolling resistances, Shared, ahead, left [N], whether something was left out).
    """
    weight = car.mass * GRAVITY
    front, rear, quarter = car.front_tyre, car.rear_tyre, 0.25 * weight
    brush = front.brush
    lifted, rare = 0.0, False
    loads = plate_loads(shares, ahead, left)
    if effort == ALL:
        if least_load(loads) < 0.0:
            lifted, loads = loads_without_lifted(x, y, weight, ahead, left, car.height)
    else:
        rare = least_load(loads) < 0.0
    n0, n1, n2, n3 = loads
    limit = front.friction * n0, front.friction * n1, rear.friction * n2, rear.friction * n3
    sides = (
        side_of(brush, front, n0, quarter, slips[0], cambers[0]), side_of(brush, front, n1, quarter, slips[1], cambers[1]),
        side_of(brush, rear, n2, quarter, slips[2], 0.0), side_of(brush, rear, n3, quarter, slips[3], 0.0),
    )  # fmt: skip
    sliding = sliding_before(brush, sliding, sides, stage)
    rolling = rolls[0] * n0, rolls[1] * n1, rolls[2] * n2, rolls[3] * n3
    if tracking:
        cut = side_forces(brush, sides, limit, sliding, effort)
        rest_x, rest_y = on_ground(rolling, cut, cosines, sines)
        needed = car.mass * wanted - (pull_along + (rest_x * ux + rest_y * uy))
        drive = min(needed * (1.0 / ux), most) if needed > 0.0 else 0.0
        brake = needed / (n0 * towards[0] + n1 * towards[1] + (n2 + n3) * ux) if needed < 0.0 else 0.0
    else:
        drive, brake = max(wanted, 0.0), min(wanted, 0.0) / (n0 + n1 + n2 + n3)
    shared = share_by_law(brush, car, drive, brake, loads, forward, sides, limit, along, sliding, stage, effort)
    rest_x, rest_y = on_ground(rolling, shared.lateral, cosines, sines)
    f = shared.longitudinal
    push_x, push_y = (f[0] * cosines[0] + f[1] * cosines[1]) + (f[2] + f[3]), f[0] * sines[0] + f[1] * sines[1]
    return lifted, loads, rolling, shared, (air_x + rest_x) + push_x, (air_y + rest_y) + push_y, rare | shared.rare


@no_refcount
def rare_motion(car, vx, vy, yaw_rate, slips, steers, steer_rates, x, y, cambers, pull_x, pull_y, wind_x, wind_y, tracking, wanted,
                most):  # fmt: skip
    """Motion with all that is rare: wheels that slide or lift.

    car, vx, vy, yaw_rate, slips, steers, steer_rates, x, y, cambers, pull_x, pull_y, wind_x, wind_y, tracking, wanted, most : as for
        `motion` [SI]
    Returns Motion.
    """
    return motion(
        car, vx, vy, yaw_rate, slips, steers, steer_rates, x, y, cambers, pull_x, pull_y, wind_x, wind_y, tracking, wanted, most, ALL
    )


@inlined
def whole_motion(car, vx, vy, yaw_rate, slips, steers, steer_rates, x, y, cambers, pull_x, pull_y, wind_x, wind_y, tracking, wanted,
                 most):  # fmt: skip
    """Motion of any state: the common case by itself, so that it runs without branches, and again where something rare turned up.

    car, vx, vy, yaw_rate, slips, steers, steer_rates, x, y, cambers, pull_x, pull_y, wind_x, wind_y, tracking, wanted, most : as for
        `motion` [SI]
    Returns Motion.
    """
    found = motion(
        car, vx, vy, yaw_rate, slips, steers, steer_rates, x, y, cambers, pull_x, pull_y, wind_x, wind_y, tracking, wanted, most, COMMON
    )
    if found.rare:
        found = rare_motion(
            car, vx, vy, yaw_rate, slips, steers, steer_rates, x, y, cambers, pull_x, pull_y, wind_x, wind_y, tracking, wanted, most
        )
    return found


@inlined
def four(values):
    """The four values of an array.  values : (4,) [any unit]."""
    return values[0], values[1], values[2], values[3]


@inlined
def write_motion(found, flow, charge, wheels, body):
    """Write a motion, and what motor and battery do in it, into arrays.

    found : Motion; flow : ElectricFlow; charge : rate at which the rated charge is used up [A]
    wheels : (4, WHEEL_COLUMNS), body : (BODY_COLUMNS,) written, see `car_motion` [N], [W]
    """
    body[ACCEL_X], body[ACCEL_Y], body[ACCEL_YAW] = found.accel_x, found.accel_y, found.accel_yaw
    body[DRIVE_FORCE], body[DRIVE_POWER], body[BRAKE_POWER] = found.drive_force, found.drive_power, found.brake_power - flow.regenerated
    body[AIR_POWER], body[ROLLING_POWER], body[HEIGHT_POWER] = found.air_power, found.rolling_power, found.height_power
    body[ALIGNING_POWER], body[HAND_POWER], body[STORED_POWER] = found.aligning_power, found.hand_power, found.stored_power
    body[LIFTED], body[REGENERATED_POWER], body[BATTERY_POWER] = found.lifted, flow.regenerated, flow.battery
    body[COPPER_POWER], body[NO_LOAD_POWER], body[GEAR_POWER] = flow.copper, flow.no_load, flow.gear
    body[BATTERY_HEAT], body[BATTERY_CURRENT] = flow.heat, flow.current
    body[CHARGE_RATE] = charge
    write_wheels(wheels, LOAD, found.load)
    write_wheels(wheels, LONGITUDINAL, found.longitudinal)
    write_wheels(wheels, LATERAL, found.lateral)
    write_wheels(wheels, DRIVE_SLIP, found.drive_slip)
    write_wheels(wheels, SLIP_RATE, found.slip_rate)
    write_wheels(wheels, LATERAL_LOSS, found.lateral_loss)
    write_wheels(wheels, LONGITUDINAL_LOSS, found.longitudinal_loss)
    write_wheels(wheels, RUB_SPEED, found.rub_speed)
    write_wheels(wheels, PERIPHERAL, found.peripheral)
    write_wheels(wheels, ALIGNING, found.aligning)


@inlined
def write_wheels(wheels, column, values):
    """One column of the wheels' results.  wheels : (4, WHEEL_COLUMNS) written; column : its place; values : (4,) [any unit]."""
    wheels[0, column], wheels[1, column], wheels[2, column], wheels[3, column] = values


@no_refcount
def car_motion(car, vx, vy, yaw_rate, slips, steers, steer_rates, x, y, cambers, pull_x, pull_y, wind_x, wind_y,
               tracking, wanted, power, wheels, body):  # fmt: skip
    """Forces, accelerations and powers of the car in one state.

    car : Car
    vx, vy, yaw_rate : velocity of the mass centre in car axes [m/s], yaw velocity [rad/s]
    slips : (4,) lateral slips [rad]
    steers, steer_rates : (4,) steer angles [rad] and their rates [rad/s]; of the front wheels, for rear wheels stand straight
    x, y : (4,) contact points from the mass centre [m]
    cambers : (4,) lean of the wheel's top to the left [rad]; of the front wheels, for rear wheels stand upright
    pull_x, pull_y : gravity's part along the road, car axes [N]
    wind_x, wind_y : velocity of the air over the ground, car axes [m/s]
    tracking : True: `wanted` is the acceleration along the path [m/s2], reached by drive up to `power` or by brakes;
        False: `wanted` is the force of the driven wheels, below 0 of the brakes [N]
    power : most drive power [W], read when tracking
    wheels : (4, WHEEL_COLUMNS) written: forces [N], slips, losses [W], speeds [m/s], moments that turn the wheel [N m]
    body : (BODY_COLUMNS,) written: dvx/dt, dvy/dt [m/s2], dr/dt [rad/s2], DRIVE_FORCE [N], powers [W], LIFTED (0, 1; 2 tips over)
    Source: Newton's and Euler's equations in car axes with the tyre of `sim.car.tyre` and the loads of `sim.car.chassis`;
    textbook.  Air drag acts against the velocity through the air.  The loads follow the force that the ground gives beside gravity's
    pull along the slope.
    """
    speed = sqrt(vx * vx + vy * vy)
    # With all that is rare at once: it gives the same, a little later, and there is less to compile.
    found = rare_motion(
        car, vx, vy, yaw_rate, four(slips), (steers[0], steers[1]), (steer_rates[0], steer_rates[1]), four(x), four(y),
        (cambers[0], cambers[1]), pull_x, pull_y, wind_x, wind_y, tracking, wanted,
        min(power_limit(power, speed), motor_limit(car, speed)),
    )  # fmt: skip
    flow = electric_flow(
        car, found.drive_force, found.drive_power, found.driven_braking, found.driven_braked, found.driven_speed
    )
    write_motion(found, flow, charge_rate(car.battery, flow.current), wheels, body)
