"""The steady turn: sideslip, steer and drive force that keep a car on a radius at a speed."""

from dataclasses import dataclass
from math import asin, atan, cos, sin, sqrt

import numpy as np

from sim.cells import cell_of, cubic
from sim.chassis import GRAVITY, Car, contact_velocity, tip_limit
from sim.compiled import kernel
from sim.lap import Hands, front_pose, hands_of
from sim.motion import ACCEL_X, ACCEL_Y, ACCEL_YAW, BODY_COLUMNS, LATERAL, LIFTED, LOAD, LONGITUDINAL, WHEEL_COLUMNS, car_motion
from sim.steering.table import HAND, SteerTable

# Largest miss of the three balances, as a share of the weight (and weight x wheelbase): four digits above rounding.
BALANCED = 1e-12
NEWTON_STEPS = 60
DIFFERENCE = 1e-6  # step of the differences that make the Jacobian; central, so their error is near 1e-11 of a slope
SPEED_RAMP = 24  # steps in which a speed is approached from walking pace where the direct way fails


@dataclass(frozen=True)
class SteadyTurn:
    """A steady turn of one set-up; arrays are (4, ...) in the order of `chassis.WHEELS`."""

    converged: bool
    reason: str  # why there is no equilibrium, empty where there is one
    hand: float  # [rad]
    sideslip: float  # [rad]
    drive_force: float  # [N]
    steers: np.ndarray  # [rad]
    slips: np.ndarray  # [rad]
    wheels: np.ndarray  # columns of `sim.motion`
    body: np.ndarray


@kernel
def turn_misses(car, hands, speed, curvature, unknown, misses, steers, slips, wheels, body):
    """How far a guess is from a steady turn.

    car : Car; hands : Hands
    speed : of the mass centre [m/s]; curvature : of its path, positive to the left [1/m]
    unknown : (3,) sideslip [rad], equivalent steer [rad], drive force as a share of the weight
    misses : (3,) written: accelerations as shares of gravity, and the yaw moment's as a share of weight x wheelbase
    steers, slips, wheels, body : written
    Source: the equations of `sim.motion` with all rates zero; steady slip a = -v_y / |v_x|.
    """
    vx, vy, yaw_rate = speed * cos(unknown[0]), speed * sin(unknown[0]), speed * curvature
    rates, x, y, cambers = np.empty(4), np.empty(4), np.empty(4), np.empty(4)
    front_pose(hands, car, unknown[1], 0.0, steers, rates, x, y, cambers)
    for i in range(4):
        forward, side = contact_velocity(vx, vy, yaw_rate, x[i], y[i], cos(steers[i]), sin(steers[i]))
        slips[i] = -side / max(abs(forward), 1e-9)
    force = unknown[2] * car.mass * GRAVITY
    car_motion(car, vx, vy, yaw_rate, slips, steers, rates, x, y, cambers, 0.0, 0.0, 0.0, 0.0, False, force, 0.0, wheels, body)
    misses[0] = body[ACCEL_X] / GRAVITY
    misses[1] = body[ACCEL_Y] / GRAVITY
    misses[2] = body[ACCEL_YAW] * car.yaw_inertia / (car.mass * GRAVITY * car.wheelbase)


@kernel
def solve_three(matrix, right, solution):
    """Three linear equations by Cramer's rule; the library's solver would load a linear algebra package for them.

    matrix : (3, 3); right : (3,); solution : (3,) written [any unit]
    Returns False where the matrix is singular.  Source: textbook.
    """
    across = np.empty((3, 3))
    for i in range(3):
        a, b = matrix[(i + 1) % 3], matrix[(i + 2) % 3]
        across[i, 0] = a[1] * b[2] - a[2] * b[1]
        across[i, 1] = a[2] * b[0] - a[0] * b[2]
        across[i, 2] = a[0] * b[1] - a[1] * b[0]
    determinant = (matrix[0] * across[0]).sum()
    if not abs(determinant) > 1e-300:
        return False
    for k in range(3):
        solution[k] = (right * across[:, k]).sum() / determinant
    return True


@kernel
def find_turn(car, hands, speed, curvature, unknown, steers, slips, wheels, body):
    """Newton's method with halved steps from a guess.

    car, hands, speed, curvature, steers, slips, wheels, body : as for `turn_misses` [m/s], [1/m]
    unknown : (3,) guess, changed in place to the solution (see `turn_misses`)
    Returns the largest miss [-]; at most BALANCED where it converged.
    """
    misses, plus, minus, trial, step = np.zeros(3), np.zeros(3), np.zeros(3), np.zeros(3), np.zeros(3)
    jacobian = np.zeros((3, 3))
    turn_misses(car, hands, speed, curvature, unknown, misses, steers, slips, wheels, body)
    miss = np.abs(misses).max()
    for _ in range(NEWTON_STEPS):
        if miss <= BALANCED:
            break
        for k in range(3):
            trial[:] = unknown
            trial[k] += DIFFERENCE
            turn_misses(car, hands, speed, curvature, trial, plus, steers, slips, wheels, body)
            trial[k] -= 2.0 * DIFFERENCE
            turn_misses(car, hands, speed, curvature, trial, minus, steers, slips, wheels, body)
            jacobian[:, k] = (plus - minus) / (2.0 * DIFFERENCE)
        if not solve_three(jacobian, misses, step):
            break
        # No more than a tenth of a radian at once: beyond it the wheels' slips leave what the tyre's law is meant for.
        share = -min(1.0, 0.1 / max(np.abs(step).max(), 1e-300))
        better = False
        for _ in range(12):
            trial[:] = unknown + share * step
            trial[1] = min(max(trial[1], hands.least), hands.most)
            turn_misses(car, hands, speed, curvature, trial, plus, steers, slips, wheels, body)
            there = np.abs(plus).max()
            if there < miss:
                better = True
                break
            share *= 0.5
        if not better:
            break
        unknown[:] = trial
        misses[:] = plus
        miss = there
    turn_misses(car, hands, speed, curvature, unknown, misses, steers, slips, wheels, body)
    return np.abs(misses).max()


def rolling_guess(car: Car, hands: Hands, curvature: float) -> np.ndarray:
    """A guess for `find_turn`: the rolling bicycle, its steer inside the lock, hardly any drive.

    car : Car; hands : Hands; curvature : of the mass centre's path [1/m]
    Returns (3,): sideslip [rad], equivalent steer [rad], drive force as a share of the weight [-].
    """
    sine = min(max((car.wheelbase - car.front_arm) * curvature, -0.98), 0.98)
    steer = atan(car.wheelbase * curvature / sqrt(1 - sine * sine))
    return np.array([asin(sine), min(max(steer, hands.least), hands.most), 0.01])


def steady_turn(car: Car, table: SteerTable, radius: float, speed: float) -> SteadyTurn:
    """The steady turn of a set-up.

    car : Car; table : SteerTable
    radius : of the mass centre's path, positive to the left, not 0 [m]; speed : above 0 [m/s]
    Returns a SteadyTurn; `converged` is False where there is no equilibrium, and `reason` says which limit was met.
    Raises ValueError for a radius of 0 or a speed that is not above 0.
    """
    if radius == 0 or not speed > 0:
        raise ValueError("a steady turn needs a radius that is not 0 and a speed above 0")
    hands, curvature = hands_of(table), 1.0 / radius
    steers, slips = np.empty(4), np.empty(4)
    wheels, body = np.zeros((4, WHEEL_COLUMNS)), np.zeros(BODY_COLUMNS)

    def solve(pace: float, unknown: np.ndarray) -> bool:
        miss = find_turn(car, hands, pace, curvature, unknown, steers, slips, wheels, body)
        return bool(miss <= 10 * BALANCED and body[LIFTED] < 1.5)

    unknown = rolling_guess(car, hands, curvature)
    found = solve(speed, unknown)
    if not found:
        unknown, reason = rolling_guess(car, hands, curvature), ""
        wheels[:] = 0.0  # what the direct way left there is no turn
        # From walking pace up: each turn found is the guess for the next, and the last one tells which limit was met.
        for pace in np.linspace(min(0.5, 0.05 * speed), speed, SPEED_RAMP):
            last, before = (steers.copy(), wheels.copy()), unknown.copy()
            found = solve(pace, unknown)
            if not found:
                reason = _limit(car, hands, curvature, pace, before, unknown, last[1])
                break
        if not found:
            return SteadyTurn(False, reason, np.nan, np.nan, np.nan, steers, slips, wheels, body)
    index, t = cell_of(unknown[1] - hands.first, hands.spacing, len(hands.cells))
    hand = cubic(hands.cells[index, HAND], t)
    force = unknown[2] * car.mass * GRAVITY
    return SteadyTurn(True, "", float(hand), float(unknown[0]), float(force), steers, slips, wheels, body)


def _limit(car: Car, hands: Hands, curvature: float, pace: float, before: np.ndarray, unknown: np.ndarray,
           wheels: np.ndarray) -> str:  # fmt: skip
    """Which limit ends the steady turns of a radius, told from the last turn found and the failed one."""
    steers, rates, x, y, cambers = (np.empty(4) for _ in range(5))
    front_pose(hands, car, before[1], 0.0, steers, rates, x, y, cambers)
    tip = tip_limit(x, y, car.height, curvature > 0)
    wanted = pace * pace * abs(curvature)
    at_lock = min(unknown[1] - hands.least, hands.most - unknown[1]) < 1e-6
    used = np.hypot(wheels[:, LATERAL], wheels[:, LONGITUDINAL])
    friction = np.array([car.front_tyre.friction] * 2 + [car.rear_tyre.friction] * 2)
    sliding = bool(np.any((used > 0.97 * friction * wheels[:, LOAD]) & (wheels[:, LOAD] > 0)))
    grip = friction.max() * GRAVITY
    if tip < grip and wanted > 0.93 * tip:
        return "tips over"
    if at_lock and not sliding:
        return "the lock is too small for this radius"
    if sliding or wanted > 0.8 * grip:
        return "not enough grip"
    return "the lock is too small for this radius" if at_lock else "no equilibrium was found"
