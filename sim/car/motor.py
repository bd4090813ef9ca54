"""The motor: permanent-magnet direct current, through a gear, behind a controller with a current limit.

Figures are seen from the driven wheels' treads: force and peripheral speed in, current and power out.
"""

from math import sqrt
from typing import NamedTuple

from sim.kernels.compiled import kernel


class Motor(NamedTuple):
    """A motor with its gear and controller, SI; a named tuple because kernels read its fields by name."""

    winding_resistance: float  # R [ohm]
    torque_constant: float  # k_t, equal to the voltage constant [N m/A = V s/rad]
    no_load_current: float  # I_0 [A]
    current_limit: float  # of the controller [A]
    gear: float  # motor speed over peripheral speed: gear ratio / wheel radius [rad/m]
    efficiency: float  # of gear and chain [-]
    regenerates: bool  # the motor brakes the driven wheels
    freewheel: bool = True  # the wheels roll free of the motor while it neither drives nor brakes


NO_MOTOR = Motor(0.0, 0.0, 0.0, 0.0, 0.0, 1.0, False)


@kernel
def motor_current(motor, force):
    """Motor current for a force at the treads, I = T / k_t + I_0.

    motor : Motor; force : of the driven wheels, below 0 when the motor brakes [N]
    Returns the current, below 0 when it feeds back [A].  Source: permanent-magnet motor, T = k_t (I - I_0); motor makers'
    catalogues (formula from memory).  The gear takes its share in the direction of the flow.
    """
    share = 1.0 / motor.efficiency if force > 0.0 else motor.efficiency
    return force * share / (motor.gear * motor.torque_constant) + motor.no_load_current


@kernel
def idle_current(motor, braking):
    """Current that keeps a motor without a freewheel turning with wheels that it does not drive.

    motor : Motor; braking : force with which the brakes hold the driven wheels; the motor's drag does a part of it [N]
    Returns the current, 0 or more [A].  Source: `motor_current` for the force -braking, down to where the drag does it alone.
    """
    return max(motor.no_load_current - braking * motor.efficiency / (motor.gear * motor.torque_constant), 0.0)


@kernel
def motor_power(motor, current, speed):
    """Electrical power that the motor takes, (I R + k_t w) I.

    motor : Motor; current [A]; speed : peripheral speed of the driven wheels [m/s]
    Returns the power, below 0 when it feeds back [W].  Source: V = I R + k_t w, as for `motor_current`.
    """
    return (current * motor.winding_resistance + motor.torque_constant * motor.gear * speed) * current


@kernel
def most_force(motor, open_voltage, internal_resistance, speed):
    """Most drive force that current limit and battery voltage allow.

    motor : Motor; open_voltage : of the battery [V]; internal_resistance : of the battery [ohm]; speed : peripheral speed [m/s]
    Returns the force, 0 or more [N].  Source: at full opening the battery's current is the motor's: V_0 - I R_i = I R + k_t w.
    """
    reach = (open_voltage - motor.torque_constant * motor.gear * speed) / (motor.winding_resistance + internal_resistance)
    current = min(motor.current_limit, reach)
    return max((current - motor.no_load_current) * motor.torque_constant * motor.gear * motor.efficiency, 0.0)


@kernel
def most_braking(motor, speed):
    """Most force with which the motor can brake the driven wheels; none where the wheels turn too slowly to feed anything back.

    motor : Motor; speed : peripheral speed [m/s]
    Returns the force, 0 or more [N].  Source: current limit, and no more than what still feeds back: I R + k_t w above 0.
    """
    if not motor.regenerates or motor.torque_constant == 0.0:
        return 0.0
    # Feeding back means I < 0 with I R + k_t w > 0; half of k_t w / R is where the power fed back is greatest.
    current = min(motor.current_limit, 0.5 * motor.torque_constant * motor.gear * max(speed, 0.0) / motor.winding_resistance)
    return (current + motor.no_load_current) * motor.torque_constant * motor.gear / motor.efficiency if current > 0.0 else 0.0


def steady_force(motor: Motor, current: float) -> float:
    """Drive force of a motor current, 0 or more [N].  motor : Motor; current [A].  Source: `motor_current` turned round."""
    return max(current - motor.no_load_current, 0.0) * motor.torque_constant * motor.gear * motor.efficiency


def stall_current(motor: Motor, voltage: float) -> float:
    """Current of the motor held still, V / R [A].  motor : Motor; voltage [V].  Source: Ohm's law."""
    return voltage / motor.winding_resistance


def best_efficiency(motor: Motor, voltage: float) -> tuple[float, float]:
    """Best efficiency of the motor without its gear at a voltage, and the current at which it stands.

    motor : Motor; voltage [V]
    Returns (efficiency [-], current [A]).  Source: (1 - sqrt(I_0 / I_stall))^2 at sqrt(I_0 I_stall), motor makers' catalogues
    (from memory; the maximum of (I - I_0)(V - I R) / (V I), derived here).
    """
    stall = stall_current(motor, voltage)
    return (1 - sqrt(motor.no_load_current / stall)) ** 2, sqrt(motor.no_load_current * stall)
