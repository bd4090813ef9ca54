"""What a power and a motor can pull, and where the power goes between the battery and the driven wheels."""

from math import inf
from typing import NamedTuple

from sim.car.battery import battery_current
from sim.car.motor import idle_current, most_braking, most_force, motor_current, motor_power
from sim.kernels.compiled import inlined

STILL = 1e-9  # [m/s]; below it the car stands
CREEP = 0.5  # [m/s]; below it a power gives no more force


class ElectricFlow(NamedTuple):
    """Powers [W] and the battery's current [A] of one state."""

    regenerated: float
    battery: float
    copper: float
    no_load: float
    gear: float
    heat: float
    current: float


@inlined
def power_limit(power, speed):
    """Most drive force of a power.  power : at the driven wheels [W]; speed [m/s].  Returns it [N]."""
    return power * min(1.0 / max(speed, STILL), 1.0 / CREEP)


@inlined
def motor_limit(car, speed):
    """Most drive force of the motor, without bound where there is none.  car : Car; speed [m/s].  Returns it [N]."""
    if car.motor.torque_constant > 0.0:
        return most_force(car.motor, car.battery.open_voltage, car.battery.internal_resistance, speed)
    return inf


@inlined
def electric_flow(car, force, power, braking, braked, rolled):
    """Powers in motor and battery for the drive or brake forces of a state; nothing where the car has no motor.

    car : Car
    force : of the driven wheels, 0 or more [N]; power : what they are driven with [W]
    braking : force with which the brakes hold the driven wheels, 0 or more [N]; braked : its power, below 0 [W]
    rolled : peripheral speed of the driven wheels [m/s]
    Returns ElectricFlow.  Source: `sim.car.motor` and `sim.car.battery`; copper I^2 R, no load I_0 k_t w, gear the rest, battery R_i I_b^2.
    With a freewheel the motor takes nothing while it neither drives nor brakes.  Without one it turns with the wheels: the battery pays
    its no-load drag, less what the brakes would have to hold anyway, which stays in the brakes' power.
    """
    motor, battery = car.motor, car.battery
    if motor.torque_constant == 0.0:
        return ElectricFlow(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    regenerated = 0.0
    if force == 0.0:
        held = 0.0
        speed = rolled
        if braking > 0.0 and braked < 0.0:
            speed = -braked / braking
            held = min(braking, most_braking(motor, speed))
        if held == 0.0:
            if motor.freewheel or rolled <= 0.0:
                return ElectricFlow(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
            current = idle_current(motor, braking)
            drawn = battery_current(battery, motor_power(motor, current, rolled))
            return ElectricFlow(
                0.0, battery.open_voltage * drawn, motor.winding_resistance * current * current,
                motor.torque_constant * motor.gear * rolled * current, 0.0, battery.internal_resistance * drawn * drawn, drawn,
            )  # fmt: skip
        force = -held
        power = force * speed
        regenerated = -power
    speed = power / force
    current = motor_current(motor, force)
    taken = motor_power(motor, current, speed)
    drawn = battery_current(battery, taken)
    copper = motor.winding_resistance * current * current
    no_load = motor.no_load_current * motor.torque_constant * motor.gear * speed
    shaft = (current - motor.no_load_current) * motor.torque_constant * motor.gear * speed
    heat = battery.internal_resistance * drawn * drawn
    return ElectricFlow(regenerated, battery.open_voltage * drawn, copper, no_load, shaft - power, heat, drawn)
