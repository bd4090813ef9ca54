"""Forces on the four wheels, the accelerations that they cause, and where the power goes.

The steady turn and the lap read the same text: one evaluation of design section 3.2 to 3.4.
"""

from math import cos, hypot, sin

import numpy as np

from sim.chassis import DIFFERENTIAL, GRAVITY, ONE_WHEEL_LEFT, ONE_WHEEL_RIGHT, SOLID_AXLE, contact_velocity, wheel_loads
from sim.compiled import kernel
from sim.tyre import force_before_limit, friction_scale, lateral_force, relaxation_rate

# Loads need the accelerations that they cause.  The start is the turn's own acceleration; each pass shrinks what is left by
# about a hundred, so that three leave the lateral loss wrong by less than 1e-7.
LOAD_PASSES = 3
# Below this forward speed [m/s] rolling resistance and drive slip are taken as proportional to speed, so that both stay finite.
CRAWL = 0.02
# The part of a wheel's grip that the driver may ask for along the wheel; at the whole of it the drive slip would be unbounded.
GRIP_SHARE = 0.98
AXLE_SOLVE_STEPS = 60  # bisection would need 52 to reach the last bit; Newton's steps inside the bracket need far fewer

# Columns of the wheels' results, one row a wheel
LOAD, LONGITUDINAL, LATERAL, DRIVE_SLIP, SLIP_RATE, LATERAL_LOSS, LONGITUDINAL_LOSS, RUB_SPEED, PERIPHERAL = range(9)
WHEEL_COLUMNS = 9
# Places of the body's results
(ACCEL_X, ACCEL_Y, ACCEL_YAW, DRIVE_FORCE, DRIVE_POWER, AIR_POWER, ROLLING_POWER, BRAKE_POWER, HEIGHT_POWER, ALIGNING_POWER,
 HAND_POWER, STORED_POWER, LIFTED) = range(13)  # fmt: skip
BODY_COLUMNS = 13


@kernel
def limited(force, limit):
    """A force cut to +-limit [N]."""
    return min(max(force, -limit), limit)


@kernel
def axle_peripheral_speed(wanted, stiffness, speed, lateral, limit):
    """Peripheral speed V of a solid axle whose wheels' forces after the friction limit add up to the wanted force.

    wanted : force of both wheels, inside what they can hold [N]
    stiffness : (2,) drive stiffness times load over forward speed, dF/dV before the limit [N s/m]
    speed : (2,) forward speeds of the contact points [m/s]
    lateral : (2,) lateral forces before the limit [N]
    limit : (2,) mu N [N]
    Returns V [m/s].  Source: balance of one spin speed, derived here.  Newton's method inside a bracket; the sum grows with V.
    """
    total = stiffness[0] + stiffness[1]
    low = high = 0.0
    peripheral = (wanted + stiffness[0] * speed[0] + stiffness[1] * speed[1]) / total
    bracketed = False
    for _ in range(AXLE_SOLVE_STEPS):
        force = slope = 0.0
        for i in range(2):
            before = stiffness[i] * (peripheral - speed[i])
            scale = friction_scale(before, lateral[i], limit[i])
            force += before * scale
            # On the circle d/dF (F limit / hypot(F, L)) = limit L^2 / hypot^3.
            slope += stiffness[i] * (scale if scale == 1.0 else scale * lateral[i] ** 2 / (before**2 + lateral[i] ** 2))
        miss = force - wanted
        if abs(miss) <= 1e-13 * (limit[0] + limit[1]):
            break
        if not bracketed:
            # Without the limits the sum moves by `total` a m/s; the limits only slow it, so the bracket grows until it holds.
            reach = abs(miss) / total
            low, high = peripheral - reach, peripheral + reach
            for _ in range(AXLE_SOLVE_STEPS):
                edge = high if miss < 0 else low
                there = 0.0
                for i in range(2):
                    before = stiffness[i] * (edge - speed[i])
                    there += before * friction_scale(before, lateral[i], limit[i])
                if (there - wanted) * miss <= 0:
                    break
                reach *= 2.0
                if miss < 0:
                    high = peripheral + reach
                else:
                    low = peripheral - reach
            bracketed = True
        if miss < 0:
            low = peripheral
        else:
            high = peripheral
        step = peripheral - miss / slope if slope > 0 else low
        peripheral = step if low < step < high else 0.5 * (low + high)
    return peripheral


@kernel
def share_force(car, drive, brake, loads, speed, lateral, wheels):
    """Longitudinal forces of the wheels after the friction limit, for the wanted drive and brake force.

    car : Car
    drive : wanted force of the driven wheels, 0 or more [N]
    brake : wanted force of all brakes, 0 or less, shared by load [N]
    loads, speed, lateral : (4,) load [N], forward speed of the contact point [m/s], lateral force before the limit [N]
    wheels : (4, WHEEL_COLUMNS) written: LONGITUDINAL, LATERAL, DRIVE_SLIP and PERIPHERAL
    Returns (drive force delivered [N], drive power [W], brake power [W]).  Source: design; equal torques of a differential and one
    spin speed of a solid axle are textbook statics.
    """
    weight = loads[0] + loads[1] + loads[2] + loads[3]
    brakes = np.zeros(4)
    force = np.zeros(4)
    limit = np.zeros(4)
    for i in range(4):
        mu = car.front_tyre.friction if i < 2 else car.rear_tyre.friction
        limit[i] = mu * loads[i]
        brakes[i] = limited(brake * loads[i] / weight, GRIP_SHARE * limit[i])
        force[i] = brakes[i]
    if car.drive == ONE_WHEEL_LEFT:
        drive = limited(drive, GRIP_SHARE * limit[2] if brake == 0.0 else 0.0)
        force[2] += drive
    elif car.drive == ONE_WHEEL_RIGHT:
        drive = limited(drive, GRIP_SHARE * limit[3] if brake == 0.0 else 0.0)
        force[3] += drive
    else:
        grip = 2.0 * min(limit[2], limit[3]) if car.drive == DIFFERENTIAL else limit[2] + limit[3]
        drive = limited(drive, GRIP_SHARE * grip if brake == 0.0 else 0.0)
        force[2] += 0.5 * drive
        force[3] += 0.5 * drive
    drive_power = brake_power = 0.0
    axle = 0.0
    if car.drive == SOLID_AXLE:
        stiffness = np.zeros(2)
        for i in range(2):
            stiffness[i] = car.rear_tyre.drive_stiffness * loads[2 + i] / max(abs(speed[2 + i]), CRAWL)
        axle = axle_peripheral_speed(force[2] + force[3], stiffness, speed[2:], lateral[2:], limit[2:])
    for i in range(4):
        tyre = car.front_tyre if i < 2 else car.rear_tyre
        stiff = tyre.drive_stiffness * loads[i]
        rolling = max(abs(speed[i]), CRAWL)
        if stiff == 0.0:
            before, slip = 0.0, 0.0
        elif car.drive == SOLID_AXLE and i >= 2:
            slip = (axle - speed[i]) / rolling
            before = stiff * slip
        else:
            before = force_before_limit(force[i], lateral[i], limit[i])
            slip = before / stiff
        scale = friction_scale(before, lateral[i], limit[i])
        peripheral = speed[i] + slip * rolling
        wheels[i, LONGITUDINAL] = before * scale
        wheels[i, LATERAL] = lateral[i] * scale
        wheels[i, DRIVE_SLIP] = slip
        wheels[i, PERIPHERAL] = peripheral
        brake_power -= brakes[i] * peripheral
    if car.drive == ONE_WHEEL_LEFT:
        drive_power = drive * wheels[2, PERIPHERAL]
    elif car.drive == ONE_WHEEL_RIGHT:
        drive_power = drive * wheels[3, PERIPHERAL]
    else:
        drive_power = 0.5 * drive * (wheels[2, PERIPHERAL] + wheels[3, PERIPHERAL])
    return drive, drive_power, brake_power


@kernel
def car_motion(car, vx, vy, yaw_rate, slips, steers, steer_rates, x, y, cambers, pull_x, pull_y, tracking, wanted, power, wheels, body):
    """Forces, accelerations and powers of the car in one state.

    car : Car
    vx, vy, yaw_rate : velocity of the mass centre in car axes [m/s], yaw velocity [rad/s]
    slips : (4,) lateral slips [rad]
    steers, steer_rates : (4,) steer angles [rad] and their rates [rad/s]
    x, y : (4,) contact points from the mass centre [m]
    cambers : (4,) lean of the wheel's top to the left [rad]
    pull_x, pull_y : gravity's part along the road, car axes [N]
    tracking : True: `wanted` is the acceleration along the path [m/s2], reached by drive up to `power` or by brakes;
        False: `wanted` is the force of the driven wheels, below 0 of the brakes [N]
    power : most drive power [W], read when tracking
    wheels : (4, WHEEL_COLUMNS) written: forces [N], slips, losses [W], speeds [m/s]
    body : (BODY_COLUMNS,) written: dvx/dt, dvy/dt [m/s2], dr/dt [rad/s2], DRIVE_FORCE [N], powers [W], LIFTED (0, 1; 2 is a tip-over)
    Source: Newton's and Euler's equations in car axes with the tyre of `sim.tyre` and the loads of `sim.chassis`; design 3.2 to 3.4.
    Air drag acts against the velocity.  The loads follow the force that the ground gives beside gravity's pull along the slope.
    """
    mass, weight = car.mass, car.mass * GRAVITY
    speed = hypot(vx, vy)
    # Where the car stands, its own nose gives the direction of travel.
    travel = hypot(vx + 1e-9, vy)
    ux, uy = (vx + 1e-9) / travel, vy / travel
    air = 0.5 * car.air_density * car.drag_area * speed
    loads = np.empty(4)
    lateral = np.empty(4)
    forward = np.empty(4)
    side = np.empty(4)
    rolling = np.empty(4)
    ahead, left = -mass * yaw_rate * vy, mass * yaw_rate * vx
    for i in range(4):
        forward[i], side[i] = contact_velocity(vx, vy, yaw_rate, x[i], y[i], steers[i])
    for _ in range(LOAD_PASSES):
        body[LIFTED] = wheel_loads(x, y, weight, ahead, left, car.height, loads)
        along = -air * speed + pull_x * ux + pull_y * uy
        braking = 0.0
        for i in range(4):
            tyre = car.front_tyre if i < 2 else car.rear_tyre
            lateral[i] = lateral_force(tyre, loads[i], 0.25 * weight, slips[i], cambers[i])
            rolling[i] = -tyre.rolling_resistance * loads[i] * forward[i] / max(abs(forward[i]), CRAWL)
            c, s = cos(steers[i]), sin(steers[i])
            held = limited(lateral[i], tyre.friction * loads[i])
            along += rolling[i] * (c * ux + s * uy) + held * (c * uy - s * ux)
            braking += loads[i] * (c * ux + s * uy)
        if tracking:
            needed = mass * wanted - along
            drive = min(needed / ux, power / max(speed, 0.5)) if needed > 0.0 else 0.0
            brake = needed * (loads[0] + loads[1] + loads[2] + loads[3]) / braking if needed < 0.0 else 0.0
        else:
            drive, brake = max(wanted, 0.0), min(wanted, 0.0)
        body[DRIVE_FORCE], body[DRIVE_POWER], body[BRAKE_POWER] = share_force(car, drive, brake, loads, forward, lateral, wheels)
        ahead, left, moment = -air * vx, -air * vy, 0.0
        for i in range(4):
            tyre = car.front_tyre if i < 2 else car.rear_tyre
            c, s = cos(steers[i]), sin(steers[i])
            pull = wheels[i, LONGITUDINAL] + rolling[i]
            fx, fy = pull * c - wheels[i, LATERAL] * s, pull * s + wheels[i, LATERAL] * c
            ahead += fx
            left += fy
            moment += x[i] * fy - y[i] * fx - tyre.pneumatic_trail * wheels[i, LATERAL]
    body[ACCEL_X] = (ahead + pull_x) / mass + yaw_rate * vy
    body[ACCEL_Y] = (left + pull_y) / mass - yaw_rate * vx
    body[ACCEL_YAW] = moment / car.yaw_inertia
    body[AIR_POWER] = air * speed * speed
    body[HEIGHT_POWER] = -(pull_x * vx + pull_y * vy)
    body[ROLLING_POWER] = body[ALIGNING_POWER] = body[HAND_POWER] = body[STORED_POWER] = 0.0
    for i in range(4):
        tyre = car.front_tyre if i < 2 else car.rear_tyre
        rate = relaxation_rate(slips[i], forward[i], side[i], tyre.relaxation_length)
        torque = tyre.pneumatic_trail * wheels[i, LATERAL]
        wheels[i, LOAD] = loads[i]
        wheels[i, SLIP_RATE] = rate
        wheels[i, LATERAL_LOSS] = wheels[i, LATERAL] * slips[i] * abs(forward[i])
        wheels[i, LONGITUDINAL_LOSS] = wheels[i, LONGITUDINAL] * (wheels[i, PERIPHERAL] - forward[i])
        wheels[i, RUB_SPEED] = hypot(slips[i] * abs(forward[i]), wheels[i, PERIPHERAL] - forward[i])
        body[ROLLING_POWER] -= rolling[i] * forward[i]
        body[ALIGNING_POWER] += torque * (yaw_rate + steer_rates[i])
        body[HAND_POWER] += torque * steer_rates[i]
        body[STORED_POWER] += tyre.relaxation_length * wheels[i, LATERAL] * rate
