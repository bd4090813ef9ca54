"""Where the power goes between the battery and the driven wheels, for one state of a car with a motor."""

from typing import NamedTuple

from sim.battery import battery_current
from sim.inlined import piece
from sim.motor import most_braking, motor_current, motor_power


class ElectricFlow(NamedTuple):
    """Powers [W] and the battery's current [A] of one state."""

    regenerated: float
    battery: float
    copper: float
    no_load: float
    gear: float
    heat: float
    current: float


@piece
def electric_flow(car, force, power, braking, braked):
    """Powers in motor and battery for the drive or brake forces of a state; nothing where the car has no motor.

    car : Car
    force : of the driven wheels, 0 or more [N]; power : what they are driven with [W]
    braking : force with which the brakes hold the driven wheels, 0 or more [N]; braked : its power, below 0 [W]
    Returns ElectricFlow.  Source: `sim.motor` and `sim.battery`; copper I^2 R, no load I_0 k_t w, gear the rest, battery R_i I_b^2.
    The motor is free of the wheels, and takes nothing, while it neither drives nor brakes.
    """
    motor, battery = car.motor, car.battery
    if motor.torque_constant == 0.0:
        return ElectricFlow(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    regenerated = 0.0
    if force == 0.0:
        if braking <= 0.0 or braked >= 0.0:
            return ElectricFlow(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
        speed = -braked / braking
        force = -min(braking, most_braking(motor, speed))
        if force == 0.0:
            return ElectricFlow(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
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
