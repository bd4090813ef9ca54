"""Forces on the four wheels, the accelerations that they cause, and where the power goes.

The steady turn and the lap read the same text: one evaluation of all forces.
"""

from math import cos, sin, sqrt

import numpy as np

from sim.battery import battery_current, charge_rate
from sim.chassis import (
    DIFFERENTIAL, GRAVITY, ONE_WHEEL_LEFT, ONE_WHEEL_RIGHT, SOLID_AXLE, contact_velocity, plate_inverse, spread_load, wheel_loads,
)  # fmt: skip
from sim.compiled import kernel
from sim.motor import most_braking, most_force, motor_current, motor_power
from sim.tyre import force_before_limit, friction_scale, lateral_force, relaxation_rate

# Loads need the accelerations that they cause.  The start is the turn's own acceleration, exact in a steady turn; each pass shrinks
# what is left by about a hundred, so that three leave a lap's lateral loss wrong by 1e-7 to 2e-6 (a solid axle with toe is the worst).
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
 HAND_POWER, STORED_POWER, LIFTED, REGENERATED_POWER, BATTERY_POWER, COPPER_POWER, NO_LOAD_POWER, GEAR_POWER, BATTERY_HEAT,
 BATTERY_CURRENT, CHARGE_RATE) = range(21)  # fmt: skip
BODY_COLUMNS = 21


@kernel
def limited(force, limit):
    """A force cut to a limit.  force : [N]; limit : its largest size [N]."""
    return min(max(force, -limit), limit)


@kernel
def axle_force(peripheral, drive_stiffness, loads, speed, lateral, limit):
    """Force of a solid axle's two wheels after the friction limit, and how fast it grows.

    peripheral : speed V of both treads [m/s]
    drive_stiffness, loads, speed, lateral, limit : as for `axle_peripheral_speed`
    Returns (force [N], slope by V [N s/m]).  Source: on the circle d/dF (F m / hypot(F, L)) = m L^2 / hypot^3.
    """
    force = slope = 0.0
    for i in range(2):
        stiffness = drive_stiffness * loads[i] / max(abs(speed[i]), CRAWL)
        before = stiffness * (peripheral - speed[i])
        scale = friction_scale(before, lateral[i], limit[i])
        force += before * scale
        slope += stiffness * (scale if scale == 1.0 else scale * lateral[i] ** 2 / (before**2 + lateral[i] ** 2))
    return force, slope


@kernel
def axle_peripheral_speed(wanted, drive_stiffness, loads, speed, lateral, limit):
    """Peripheral speed V of a solid axle whose wheels' forces after the friction limit add up to the wanted force.

    wanted : force of both wheels, inside what they can hold [N]
    drive_stiffness : force per load and drive slip [-]; loads : (2,) [N]
    speed : (2,) forward speeds of the contact points [m/s]
    lateral : (2,) lateral forces before the limit [N]
    limit : (2,) mu N [N]
    Returns V [m/s].  Source: balance of one spin speed, derived here.  Newton's method inside a bracket; the sum grows with V.
    """
    total = rolling = 0.0
    for i in range(2):
        stiffness = drive_stiffness * loads[i] / max(abs(speed[i]), CRAWL)  # dF/dV before the limit [N s/m]
        total += stiffness
        rolling += stiffness * speed[i]
    if total == 0.0:  # both wheels in the air
        return 0.5 * (speed[0] + speed[1])
    low = high = 0.0
    peripheral = (wanted + rolling) / total
    bracketed = False
    for _ in range(AXLE_SOLVE_STEPS):
        force, slope = axle_force(peripheral, drive_stiffness, loads, speed, lateral, limit)
        miss = force - wanted
        if abs(miss) <= 1e-13 * (limit[0] + limit[1]):
            break
        if not bracketed:
            # Without the limits the sum moves by `total` a m/s; the limits only slow it, so the bracket grows until it holds.
            reach = abs(miss) / total
            low, high = peripheral - reach, peripheral + reach
            for _ in range(AXLE_SOLVE_STEPS):
                edge = high if miss < 0 else low
                there, _ = axle_force(edge, drive_stiffness, loads, speed, lateral, limit)
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
def share_force(car, drive, brake, loads, speed, lateral, limit, want, wheels):
    """Longitudinal forces of the wheels after the friction limit, for the wanted drive and brake force.

    car : Car
    drive : wanted force of the driven wheels, 0 or more [N]
    brake : wanted force of all brakes, 0 or less, shared by load [N]; one of the two is 0
    loads, speed, lateral : (4,) load [N], forward speed of the contact point [m/s], lateral force before the limit [N]
    limit : (4,) mu N [N]
    want : (4,) written: each wheel's part of the wanted force, inside its grip [N]
    wheels : (4, WHEEL_COLUMNS) written: LONGITUDINAL, LATERAL, DRIVE_SLIP and PERIPHERAL
    Returns the drive force delivered [N].  Source: equal torques of a differential and one spin speed of a solid axle are
    textbook statics.
    """
    weight = loads[0] + loads[1] + loads[2] + loads[3]
    delivered = 0.0
    for i in range(4):
        want[i] = 0.0 if brake == 0.0 else limited(brake * loads[i] / weight, GRIP_SHARE * limit[i])
    if drive > 0.0:
        if car.drive == ONE_WHEEL_LEFT:
            delivered = want[2] = min(drive, GRIP_SHARE * limit[2])
        elif car.drive == ONE_WHEEL_RIGHT:
            delivered = want[3] = min(drive, GRIP_SHARE * limit[3])
        else:
            grip = 2.0 * min(limit[2], limit[3]) if car.drive == DIFFERENTIAL else limit[2] + limit[3]
            delivered = min(drive, GRIP_SHARE * grip)
            want[2] = want[3] = 0.5 * delivered
    axle = 0.0
    if car.drive == SOLID_AXLE:
        axle = axle_peripheral_speed(want[2] + want[3], car.rear_tyre.drive_stiffness, loads[2:], speed[2:], lateral[2:], limit[2:])
    for i in range(4):
        stiff = (car.front_tyre if i < 2 else car.rear_tyre).drive_stiffness * loads[i]
        rolling = max(abs(speed[i]), CRAWL)
        if i >= 2 and car.drive == SOLID_AXLE:  # also of a wheel in the air: it hangs on the same axle
            slip = (axle - speed[i]) / rolling
            before = stiff * slip
        elif want[i] == 0.0:
            before, slip = 0.0, 0.0
        else:
            before = force_before_limit(want[i], lateral[i], limit[i])
            slip = before / stiff
        scale = friction_scale(before, lateral[i], limit[i])
        wheels[i, LONGITUDINAL] = before * scale
        wheels[i, LATERAL] = lateral[i] * scale
        wheels[i, DRIVE_SLIP] = slip
        wheels[i, PERIPHERAL] = speed[i] + slip * rolling
    return delivered


@kernel
def drive_and_brake_power(car, delivered, want, wheels):
    """Power of the motor and of the brakes at the wheels' treads.

    car : Car
    delivered : drive force [N]; want : (4,) each wheel's part of the drive or brake force [N]
    wheels : (4, WHEEL_COLUMNS), PERIPHERAL read [m/s]
    Returns (drive [W], brakes [W]).  Source: force times peripheral speed; equal torques on both wheels of a driven axle.
    """
    if delivered == 0.0:
        brakes = 0.0
        for i in range(4):
            brakes -= want[i] * wheels[i, PERIPHERAL]
        return 0.0, brakes
    if car.drive == ONE_WHEEL_LEFT:
        return delivered * wheels[2, PERIPHERAL], 0.0
    if car.drive == ONE_WHEEL_RIGHT:
        return delivered * wheels[3, PERIPHERAL], 0.0
    return 0.5 * delivered * (wheels[2, PERIPHERAL] + wheels[3, PERIPHERAL]), 0.0


@kernel
def electric_powers(car, want, wheels, body):
    """Powers in motor and battery for the drive or brake forces of a state; nothing where the car has no motor.

    car : Car; want : (4,) each wheel's part of the drive or brake force [N]
    wheels : (4, WHEEL_COLUMNS), PERIPHERAL read [m/s]
    body : (BODY_COLUMNS,) DRIVE_FORCE [N] and the drive and brake power [W] read; the electrical places written [W], [A], and the brake
        power lessened by what the motor brakes
    Source: `sim.motor` and `sim.battery`; copper I^2 R, no load I_0 k_t w, gear the rest, battery R_i I_b^2.  The motor is free of the
    wheels, and takes nothing, while it neither drives nor brakes.
    """
    for place in range(REGENERATED_POWER, CHARGE_RATE + 1):
        body[place] = 0.0
    motor, battery = car.motor, car.battery
    if motor.torque_constant == 0.0:
        return
    force, power = body[DRIVE_FORCE], body[DRIVE_POWER]
    if force == 0.0:
        braking = 0.0
        for i in range(2, 4):
            if (i == 2 and car.drive != ONE_WHEEL_RIGHT) or (i == 3 and car.drive != ONE_WHEEL_LEFT):
                braking -= want[i]
                power += want[i] * wheels[i, PERIPHERAL]
        if braking <= 0.0 or power >= 0.0:
            return
        speed = -power / braking
        force = -min(braking, most_braking(motor, speed))
        if force == 0.0:
            return
        power = force * speed
        body[REGENERATED_POWER] = -power
        body[BRAKE_POWER] += power
    speed = power / force
    current = motor_current(motor, force)
    taken = motor_power(motor, current, speed)
    body[BATTERY_CURRENT] = battery_current(battery, taken)
    body[BATTERY_POWER] = battery.open_voltage * body[BATTERY_CURRENT]
    body[BATTERY_HEAT] = battery.internal_resistance * body[BATTERY_CURRENT] ** 2
    body[COPPER_POWER] = motor.winding_resistance * current * current
    body[NO_LOAD_POWER] = motor.no_load_current * motor.torque_constant * motor.gear * speed
    shaft = (current - motor.no_load_current) * motor.torque_constant * motor.gear * speed
    body[GEAR_POWER] = shaft - power
    body[CHARGE_RATE] = charge_rate(battery, body[BATTERY_CURRENT])


@kernel
def car_motion(car, vx, vy, yaw_rate, slips, steers, steer_rates, x, y, cambers, pull_x, pull_y, wind_x, wind_y,
               tracking, wanted, power, wheels, body):  # fmt: skip
    """Forces, accelerations and powers of the car in one state.

    car : Car
    vx, vy, yaw_rate : velocity of the mass centre in car axes [m/s], yaw velocity [rad/s]
    slips : (4,) lateral slips [rad]
    steers, steer_rates : (4,) steer angles [rad] and their rates [rad/s]
    x, y : (4,) contact points from the mass centre [m]
    cambers : (4,) lean of the wheel's top to the left [rad]
    pull_x, pull_y : gravity's part along the road, car axes [N]
    wind_x, wind_y : velocity of the air over the ground, car axes [m/s]
    tracking : True: `wanted` is the acceleration along the path [m/s2], reached by drive up to `power` or by brakes;
        False: `wanted` is the force of the driven wheels, below 0 of the brakes [N]
    power : most drive power [W], read when tracking
    wheels : (4, WHEEL_COLUMNS) written: forces [N], slips, losses [W], speeds [m/s]
    body : (BODY_COLUMNS,) written: dvx/dt, dvy/dt [m/s2], dr/dt [rad/s2], DRIVE_FORCE [N], powers [W], LIFTED (0, 1; 2 tips over)
    Source: Newton's and Euler's equations in car axes with the tyre of `sim.tyre` and the loads of `sim.chassis`;
    textbook.  Air drag acts against the velocity through the air.  The loads follow the force that the ground gives beside gravity's
    pull along the slope.
    """
    mass, weight = car.mass, car.mass * GRAVITY
    speed = sqrt(vx * vx + vy * vy)
    # Where the car stands, its own nose gives the direction of travel.
    travel = sqrt((vx + 1e-9) ** 2 + vy * vy)
    ux, uy = (vx + 1e-9) / travel, vy / travel
    through_x, through_y = vx - wind_x, vy - wind_y
    drag = 0.5 * car.air_density * car.drag_area * sqrt(through_x * through_x + through_y * through_y)
    air_x, air_y = -drag * through_x, -drag * through_y
    # One piece of memory for all work space: asking for memory is what costs most in a kernel of this size.
    work = np.empty((11, 4))
    loads, lateral, forward, side, cosine, sine = work[0], work[1], work[2], work[3], work[4], work[5]
    rolling, towards, across, limit, want = work[6], work[7], work[8], work[9], work[10]
    ahead, left = -mass * yaw_rate * vy, mass * yaw_rate * vx
    inverse = plate_inverse(x, y, -1)
    most = power / max(speed, 0.5)
    if car.motor.torque_constant > 0.0:
        most = min(most, most_force(car.motor, car.battery.open_voltage, car.battery.internal_resistance, speed))
    for i in range(4):
        cosine[i], sine[i] = (1.0, 0.0) if steers[i] == 0.0 else (cos(steers[i]), sin(steers[i]))
        forward[i], side[i] = contact_velocity(vx, vy, yaw_rate, x[i], y[i], cosine[i], sine[i])
        # The wheel's own directions, along and across, seen from the direction of travel.
        towards[i], across[i] = cosine[i] * ux + sine[i] * uy, cosine[i] * uy - sine[i] * ux
    for _ in range(LOAD_PASSES):
        body[LIFTED] = 0.0
        if spread_load(x, y, inverse, -1, weight, ahead, left, car.height, loads) >= 0:
            body[LIFTED] = wheel_loads(x, y, weight, ahead, left, car.height, loads)
        along = (air_x + pull_x) * ux + (air_y + pull_y) * uy
        braking = 0.0
        for i in range(4):
            tyre = car.front_tyre if i < 2 else car.rear_tyre
            limit[i] = tyre.friction * loads[i]
            lateral[i] = lateral_force(tyre, loads[i], 0.25 * weight, slips[i], cambers[i])
            rolling[i] = -tyre.rolling_resistance * loads[i] * forward[i] / max(abs(forward[i]), CRAWL)
            along += rolling[i] * towards[i] + limited(lateral[i], limit[i]) * across[i]
            braking += loads[i] * towards[i]
        if tracking:
            needed = mass * wanted - along
            drive = min(needed / ux, most) if needed > 0.0 else 0.0
            brake = needed * (loads[0] + loads[1] + loads[2] + loads[3]) / braking if needed < 0.0 else 0.0
        else:
            drive, brake = max(wanted, 0.0), min(wanted, 0.0)
        body[DRIVE_FORCE] = share_force(car, drive, brake, loads, forward, lateral, limit, want, wheels)
        ahead, left, moment = air_x, air_y, 0.0
        for i in range(4):
            pull = wheels[i, LONGITUDINAL] + rolling[i]
            fx = pull * cosine[i] - wheels[i, LATERAL] * sine[i]
            fy = pull * sine[i] + wheels[i, LATERAL] * cosine[i]
            ahead += fx
            left += fy
            trail = car.front_tyre.pneumatic_trail if i < 2 else car.rear_tyre.pneumatic_trail
            moment += x[i] * fy - y[i] * fx - trail * wheels[i, LATERAL]
    body[ACCEL_X] = (ahead + pull_x) / mass + yaw_rate * vy
    body[ACCEL_Y] = (left + pull_y) / mass - yaw_rate * vx
    body[ACCEL_YAW] = moment / car.yaw_inertia
    body[AIR_POWER] = -(air_x * vx + air_y * vy)
    body[HEIGHT_POWER] = -(pull_x * vx + pull_y * vy)
    body[DRIVE_POWER], body[BRAKE_POWER] = drive_and_brake_power(car, body[DRIVE_FORCE], want, wheels)
    electric_powers(car, want, wheels, body)
    body[ROLLING_POWER] = body[ALIGNING_POWER] = body[HAND_POWER] = body[STORED_POWER] = 0.0
    for i in range(4):
        tyre = car.front_tyre if i < 2 else car.rear_tyre
        rate = relaxation_rate(slips[i], forward[i], side[i], tyre.relaxation_length)
        torque = tyre.pneumatic_trail * wheels[i, LATERAL]
        wheels[i, LOAD] = loads[i]
        wheels[i, SLIP_RATE] = rate
        wheels[i, LATERAL_LOSS] = wheels[i, LATERAL] * slips[i] * abs(forward[i])
        wheels[i, LONGITUDINAL_LOSS] = wheels[i, LONGITUDINAL] * (wheels[i, PERIPHERAL] - forward[i])
        wheels[i, RUB_SPEED] = sqrt((slips[i] * forward[i]) ** 2 + (wheels[i, PERIPHERAL] - forward[i]) ** 2)
        body[ROLLING_POWER] -= rolling[i] * forward[i]
        body[ALIGNING_POWER] += torque * (yaw_rate + steer_rates[i])
        body[HAND_POWER] += torque * steer_rates[i]
        body[STORED_POWER] += tyre.relaxation_length * wheels[i, LATERAL] * rate
