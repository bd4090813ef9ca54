"""Forces on the four wheels, the accelerations that they cause, and where the power goes.

The steady turn and the lap read the same text: one evaluation of all forces.
"""

from enum import IntEnum
from math import sqrt
from typing import NamedTuple

from sim.car.battery import charge_rate
from sim.car.chassis import (
    GRAVITY,
    ONE_WHEEL_LEFT,
    ONE_WHEEL_RIGHT,
    contact_velocity,
    least_load,
    loads_without_lifted,
    plate_loads,
    plate_shares,
)  # fmt: skip
from sim.car.drivetrain import STILL, electric_flow, motor_limit, power_limit
from sim.car.laws import share_by_law, side_forces, side_of, sliding_before
from sim.car.rear_axle import CRAWL
from sim.car.traction import ALL, BETWEEN, COMMON, FIRST, LAST, NONE, LoadPass, Shared, limited
from sim.car.tyre import NOTHING, relaxation_rate
from sim.kernels.compiled import inlined, kernel
from sim.kernels.trigonometry import sine_cosine


class WheelColumn(IntEnum):
    """Columns of the wheels' results, one row a wheel."""

    LOAD = 0  # [N]
    LONGITUDINAL = 1  # force [N]
    LATERAL = 2  # force [N]
    DRIVE_SLIP = 3  # [-]
    SLIP_RATE = 4  # [rad/s]
    LATERAL_LOSS = 5  # [W]
    LONGITUDINAL_LOSS = 6  # [W]
    RUB_SPEED = 7  # [m/s]
    PERIPHERAL = 8  # speed of the tread [m/s]
    ALIGNING = 9  # moment that turns the wheel [N m]


class BodyColumn(IntEnum):
    """Places of the body's results."""

    ACCEL_X = 0  # dvx/dt [m/s2]
    ACCEL_Y = 1  # dvy/dt [m/s2]
    ACCEL_YAW = 2  # [rad/s2]
    DRIVE_FORCE = 3  # [N]
    DRIVE_POWER = 4  # powers [W]
    AIR_POWER = 5
    ROLLING_POWER = 6
    BRAKE_POWER = 7
    HEIGHT_POWER = 8
    ALIGNING_POWER = 9
    HAND_POWER = 10
    STORED_POWER = 11
    LIFTED = 12  # 0 on four wheels, 1 on three, 2 tips over
    REGENERATED_POWER = 13
    BATTERY_POWER = 14
    COPPER_POWER = 15
    NO_LOAD_POWER = 16
    GEAR_POWER = 17
    BATTERY_HEAT = 18
    BATTERY_CURRENT = 19  # [A]
    CHARGE_RATE = 20  # at which the rated charge is used up [A]


WHEEL_COLUMNS, BODY_COLUMNS = len(WheelColumn), len(BodyColumn)


class Velocity(NamedTuple):
    """Velocity of the mass centre in car axes."""

    x: float  # [m/s]
    y: float  # [m/s]
    yaw: float  # yaw velocity r [rad/s]


class Pose(NamedTuple):
    """How the wheels stand under the car; rear wheels stand straight and upright."""

    steers: tuple  # of the front wheels [rad]
    steer_rates: tuple  # of the front wheels [rad/s]
    x: tuple  # (4,) contact points from the mass centre [m]
    y: tuple
    cambers: tuple  # of the front wheels, tops to the left [rad]


class Pull(NamedTuple):
    """Gravity's part along the road, car axes [N]."""

    x: float
    y: float


class Wind(NamedTuple):
    """Velocity of the air over the ground, car axes [m/s]."""

    x: float
    y: float


class ForceDemand(NamedTuple):
    """What the driver asks of drive and brakes."""

    tracking: bool  # whether it is an acceleration that is wanted, or a force of the driven wheels, below 0 of the brakes
    wanted: float  # along the path [m/s2], or [N]


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
def motion(car, velocity, slips, pose, pull, wind, demand, most, cases):
    """Forces, accelerations and powers of the car in one state; see `car_motion`, whose text this is.

    car : Car; velocity : Velocity; slips : (4,) lateral [rad]; pose : Pose; pull : Pull; wind : Wind; demand : ForceDemand
    most : most drive force [N], read when tracking
    cases : PLAIN, COMMON, SLIDING or ALL of `sim.car.traction`: what is worked out beside the common case; where something was left
        out, `rare` says so
    Returns Motion.
    """
    vx, vy, yaw_rate = velocity
    x, y = pose.x, pose.y
    mass, front, rear = car.mass, car.front_tyre, car.rear_tyre
    speed = sqrt(vx * vx + vy * vy)
    # Where the car stands, its own nose gives the direction of travel.
    still, per = speed < STILL, 1.0 / max(speed, STILL)
    ux, uy = 1.0 if still else vx * per, 0.0 if still else vy * per
    through_x, through_y = vx - wind.x, vy - wind.y
    drag = 0.5 * car.air_density * car.drag_area * sqrt(through_x * through_x + through_y * through_y)
    air_x, air_y = -drag * through_x, -drag * through_y
    shares = plate_shares(x, y, -1, mass * GRAVITY, car.height)
    v0, w0, c0, s0, t0 = wheel_directions(vx, vy, yaw_rate, ux, uy, pose.steers[0], x[0], y[0])
    v1, w1, c1, s1, t1 = wheel_directions(vx, vy, yaw_rate, ux, uy, pose.steers[1], x[1], y[1])
    v2, w2, v3, w3 = vx - yaw_rate * y[2], vy + yaw_rate * x[2], vx - yaw_rate * y[3], vy + yaw_rate * x[3]
    forward, cosines, sines, towards = (v0, v1, v2, v3), (c0, c1), (s0, s1), (t0, t1)
    # Each wheel's resistance per load.
    rolls = (
        -front.rolling_resistance * limited(v0 * (1.0 / CRAWL), 1.0), -front.rolling_resistance * limited(v1 * (1.0 / CRAWL), 1.0),
        -rear.rolling_resistance * limited(v2 * (1.0 / CRAWL), 1.0), -rear.rolling_resistance * limited(v3 * (1.0 / CRAWL), 1.0),
    )  # fmt: skip
    given = Given(
        slips, x, y, pose.cambers, shares, forward, cosines, sines, towards, rolls, air_x, air_y, ux, uy,
        (air_x + pull.x) * ux + (air_y + pull.y) * uy,
    )  # fmt: skip
    # Loads need the accelerations that they cause.  The start is the turn's own acceleration, exact in a steady turn; each pass
    # shrinks what is left by about a hundred, so that three leave a lap's lateral loss wrong by 1e-7 to 2e-6 (a solid axle with toe
    # is the worst).
    ahead, left = -mass * yaw_rate * vy, mass * yaw_rate * vx
    first = load_pass(car, ahead, left, given, demand, most, LoadPass(FIRST, NONE, NONE), cases)
    shared = first.shared
    second = load_pass(car, first.ahead, first.left, given, demand, most, LoadPass(BETWEEN, shared.along, shared.sliding), cases)
    shared = second.shared
    third = load_pass(car, second.ahead, second.left, given, demand, most, LoadPass(LAST, shared.along, shared.sliding), cases)
    shared, rolling = third.shared, third.rolling
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
    hand_power = q0 * pose.steer_rates[0] + q1 * pose.steer_rates[1]
    return Motion(
        accel_x=(third.ahead + pull.x) * (1.0 / mass) + yaw_rate * vy,
        accel_y=(third.left + pull.y) * (1.0 / mass) - yaw_rate * vx,
        accel_yaw=moment / car.yaw_inertia,
        drive_force=shared.delivered,
        drive_power=drive_power,
        brake_power=brake_power,
        air_power=-(air_x * vx + air_y * vy),
        rolling_power=-(rolling[0] * v0 + rolling[1] * v1 + rolling[2] * v2 + rolling[3] * v3),
        height_power=-(pull.x * vx + pull.y * vy),
        aligning_power=(q0 + q1 + q2 + q3) * yaw_rate + hand_power,
        hand_power=hand_power,
        stored_power=front.relaxation_length * (lateral[0] * r0 + lateral[1] * r1)
        + rear.relaxation_length * (lateral[2] * r2 + lateral[3] * r3),
        lifted=third.lifted,
        driven_braking=-(of_left + of_right),
        driven_braked=of_left * tread[2] + of_right * tread[3],
        driven_speed=treads,
        load=third.loads,
        longitudinal=lengthwise,
        lateral=lateral,
        drive_slip=shared.slip,
        slip_rate=(r0, r1, r2, r3),
        lateral_loss=(l0, l1, l2, l3),
        longitudinal_loss=(g0, g1, g2, g3),
        rub_speed=(b0, b1, b2, b3),
        peripheral=tread,
        aligning=(-q0, -q1, -q2, -q3),
        rare=first.rare | second.rare | third.rare,
    )


class Given(NamedTuple):
    """What every pass over the loads is given; fours in the order of `chassis.WHEELS`, pairs of the front wheels."""

    slips: tuple  # (4,) lateral [rad]
    x: tuple  # (4,) contact points from the mass centre [m]
    y: tuple
    cambers: tuple  # (2,) [rad]
    shares: tuple  # of `chassis.plate_shares`
    forward: tuple  # (4,) speeds of the contact points along their wheels [m/s]
    cosines: tuple  # (2,) of the steers [-]
    sines: tuple
    towards: tuple  # (2,) the direction of travel's part along the wheel [-]
    rolls: tuple  # (4,) rolling resistance per load [-]
    air_x: float  # [N]
    air_y: float
    ux: float  # direction of travel [-]
    uy: float
    pull_along: float  # air and slope along the path [N]


class Loaded(NamedTuple):
    """What a pass over the loads comes to; fours in the order of `chassis.WHEELS`."""

    lifted: float  # LIFTED
    loads: tuple  # [N]
    rolling: tuple  # resistances [N]
    shared: Shared
    ahead: float  # force that the ground gives [N]
    left: float
    rare: bool  # something was left out


@inlined
def load_pass(car, ahead, left, given, demand, most, before, cases):
    """One pass: loads from the forces on the ground, and the forces that come of them.

    car : Car; ahead, left : force that the ground gives [N]; given : Given; demand : ForceDemand; most : as for `motion` [N]
    before : LoadPass; cases : as for `motion`
    Returns Loaded.
    """
    weight = car.mass * GRAVITY
    front, rear, quarter = car.front_tyre, car.rear_tyre, 0.25 * weight
    brush = front.brush
    lifted, rare = 0.0, False
    loads = plate_loads(given.shares, ahead, left)
    if cases == ALL:
        if least_load(loads) < 0.0:
            lifted, loads = loads_without_lifted(given.x, given.y, weight, ahead, left, car.height)
    else:
        rare = least_load(loads) < 0.0
    n0, n1, n2, n3 = loads
    limit = front.friction * n0, front.friction * n1, rear.friction * n2, rear.friction * n3
    sides = (
        side_of(brush, front, n0, quarter, given.slips[0], given.cambers[0]),
        side_of(brush, front, n1, quarter, given.slips[1], given.cambers[1]),
        side_of(brush, rear, n2, quarter, given.slips[2], 0.0), side_of(brush, rear, n3, quarter, given.slips[3], 0.0),
    )  # fmt: skip
    before = LoadPass(before.stage, before.along, sliding_before(brush, before.sliding, sides, before.stage))
    rolling = given.rolls[0] * n0, given.rolls[1] * n1, given.rolls[2] * n2, given.rolls[3] * n3
    if demand.tracking:
        cut = side_forces(brush, sides, limit, before.sliding, cases)
        rest_x, rest_y = on_ground(rolling, cut, given.cosines, given.sines)
        needed = car.mass * demand.wanted - (given.pull_along + (rest_x * given.ux + rest_y * given.uy))
        # A car that moves exactly sideways has no force ahead along its way.
        drive = min(needed * (1.0 / (given.ux + NOTHING)), most) if needed > 0.0 else 0.0
        brake = needed / (n0 * given.towards[0] + n1 * given.towards[1] + (n2 + n3) * given.ux + NOTHING) if needed < 0.0 else 0.0
    else:
        drive, brake = max(demand.wanted, 0.0), min(demand.wanted, 0.0) / (n0 + n1 + n2 + n3)
    shared = share_by_law(brush, car, drive, brake, loads, given.forward, sides, limit, before, cases)
    rest_x, rest_y = on_ground(rolling, shared.lateral, given.cosines, given.sines)
    f = shared.longitudinal
    push_x = (f[0] * given.cosines[0] + f[1] * given.cosines[1]) + (f[2] + f[3])
    push_y = f[0] * given.sines[0] + f[1] * given.sines[1]
    return Loaded(lifted, loads, rolling, shared, (given.air_x + rest_x) + push_x, (given.air_y + rest_y) + push_y, rare | shared.rare)


@kernel
def rare_motion(car, velocity, slips, pose, pull, wind, demand, most):
    """Motion with all that is rare: wheels that slide or lift.

    car, velocity, slips, pose, pull, wind, demand, most : as for `motion` [SI]
    Returns Motion.
    """
    return motion(car, velocity, slips, pose, pull, wind, demand, most, ALL)


@inlined
def whole_motion(car, velocity, slips, pose, pull, wind, demand, most):
    """Motion of any state: the common case by itself, so that it runs without branches, and again where something rare turned up.

    car, velocity, slips, pose, pull, wind, demand, most : as for `motion` [SI]
    Returns Motion.
    """
    found = motion(car, velocity, slips, pose, pull, wind, demand, most, COMMON)
    if found.rare:
        found = rare_motion(car, velocity, slips, pose, pull, wind, demand, most)
    return found


@inlined
def write_motion(found, flow, charge, wheels, body):
    """Write a motion, and what motor and battery do in it, into arrays.

    found : Motion; flow : ElectricFlow; charge : rate at which the rated charge is used up [A]
    wheels : (4, WHEEL_COLUMNS), body : (BODY_COLUMNS,) written, see `car_motion` [N], [W]
    """
    body[BodyColumn.ACCEL_X], body[BodyColumn.ACCEL_Y], body[BodyColumn.ACCEL_YAW] = found.accel_x, found.accel_y, found.accel_yaw
    body[BodyColumn.DRIVE_FORCE], body[BodyColumn.DRIVE_POWER] = found.drive_force, found.drive_power
    body[BodyColumn.BRAKE_POWER] = found.brake_power - flow.regenerated
    body[BodyColumn.AIR_POWER], body[BodyColumn.ROLLING_POWER] = found.air_power, found.rolling_power
    body[BodyColumn.HEIGHT_POWER], body[BodyColumn.ALIGNING_POWER] = found.height_power, found.aligning_power
    body[BodyColumn.HAND_POWER], body[BodyColumn.STORED_POWER] = found.hand_power, found.stored_power
    body[BodyColumn.LIFTED] = found.lifted
    body[BodyColumn.REGENERATED_POWER], body[BodyColumn.BATTERY_POWER] = flow.regenerated, flow.battery
    body[BodyColumn.COPPER_POWER], body[BodyColumn.NO_LOAD_POWER], body[BodyColumn.GEAR_POWER] = flow.copper, flow.no_load, flow.gear
    body[BodyColumn.BATTERY_HEAT], body[BodyColumn.BATTERY_CURRENT] = flow.heat, flow.current
    body[BodyColumn.CHARGE_RATE] = charge
    write_wheels(wheels, WheelColumn.LOAD, found.load)
    write_wheels(wheels, WheelColumn.LONGITUDINAL, found.longitudinal)
    write_wheels(wheels, WheelColumn.LATERAL, found.lateral)
    write_wheels(wheels, WheelColumn.DRIVE_SLIP, found.drive_slip)
    write_wheels(wheels, WheelColumn.SLIP_RATE, found.slip_rate)
    write_wheels(wheels, WheelColumn.LATERAL_LOSS, found.lateral_loss)
    write_wheels(wheels, WheelColumn.LONGITUDINAL_LOSS, found.longitudinal_loss)
    write_wheels(wheels, WheelColumn.RUB_SPEED, found.rub_speed)
    write_wheels(wheels, WheelColumn.PERIPHERAL, found.peripheral)
    write_wheels(wheels, WheelColumn.ALIGNING, found.aligning)


@inlined
def write_wheels(wheels, column, values):
    """One column of the wheels' results.  wheels : (4, WHEEL_COLUMNS) written; column : its place; values : (4,) [any unit]."""
    wheels[0, column], wheels[1, column], wheels[2, column], wheels[3, column] = values


@kernel
def car_motion(car, velocity, slips, pose, pull, wind, demand, power, wheels, body):
    """Forces, accelerations and powers of the car in one state.

    car : Car
    velocity : Velocity
    slips : (4,) lateral slips [rad]
    pose : Pose
    pull : Pull
    wind : Wind
    demand : ForceDemand; an acceleration is reached by drive up to `power` or by brakes
    power : most drive power [W], read when tracking
    wheels : (4, WHEEL_COLUMNS) written, see `WheelColumn` [SI]
    body : (BODY_COLUMNS,) written, see `BodyColumn` [SI]
    Source: Newton's and Euler's equations in car axes with the tyre of `sim.car.tyre` and the loads of `sim.car.chassis`;
    textbook.  Air drag acts against the velocity through the air.  The loads follow the force that the ground gives beside gravity's
    pull along the slope.
    """
    speed = sqrt(velocity.x * velocity.x + velocity.y * velocity.y)
    # With all that is rare at once: it gives the same, a little later, and there is less to compile.
    most = min(power_limit(power, speed), motor_limit(car, speed))
    found = rare_motion(car, velocity, slips, pose, pull, wind, demand, most)
    flow = electric_flow(car, found.drive_force, found.drive_power, found.driven_braking, found.driven_braked, found.driven_speed)
    write_motion(found, flow, charge_rate(car.battery, flow.current), wheels, body)
