"""The steady turn: sideslip, steer and drive force that keep a car on a radius at a speed."""

from dataclasses import dataclass
from math import asin, atan, cos, sin, sqrt

import numpy as np

from sim.car.chassis import GRAVITY, Car, contact_velocity
from sim.car.motion import BODY_COLUMNS, WHEEL_COLUMNS, BodyColumn, ForceDemand, Pull, Velocity, WheelColumn, Wind, car_motion
from sim.kernels.compiled import kernel
from sim.kernels.cubics import cell_of, cubic
from sim.steering.cells import SteerCells, front_pose, pose_of, steer_cells_of
from sim.steering.table import SteerColumn, SteerTable
from sim.turn.causes import MORE_LOCK, Cause, Ending, cause_of, widened

# Largest miss of the three balances, as a share of the weight (and weight x wheelbase): four digits above rounding.
BALANCED = 1e-12
NEWTON_STEPS = 60
DIFFERENCE = 1e-6  # step of the differences that make the Jacobian; central, so their error is near 1e-11 of a slope
# Where the direct way fails, a turn is approached by others: the first step, and the least, as shares of the way [-].  The last turn
# found is then so near to where turns end that its wheels tell why they do.
FIRST_STEP, LEAST_STEP = 1 / 24, 1e-4
# Beyond the grip there can be a second turn at the same speed, in which the rear wheels slide: no driver holds it.  Two turns that far
# apart in any unknown do not follow one from the other. [rad, share of the weight]
JUMP = 0.03
SLIDING_SHARE = 1 - 1e-9  # of a wheel's grip, from which it counts as sliding: the friction circle cuts the force exactly to the grip
CRAWL, WIDE = 0.05, 0.05  # where the ways begin: shares of the wanted speed and of the wanted curvature [-]


@dataclass(frozen=True)
class SteadyTurn:
    """A steady turn of one set-up; arrays are (4, ...) in the order of `chassis.WHEELS`."""

    converged: bool
    reason: Cause  # why there is no equilibrium, NONE where there is one
    hand: float  # [rad]
    sideslip: float  # [rad]
    drive_force: float  # [N]
    place: np.ndarray  # (3,) of `turn_misses`, whence a turn near this one is found
    steers: np.ndarray  # [rad]
    slips: np.ndarray  # [rad]
    wheels: np.ndarray  # columns of `sim.car.motion`
    body: np.ndarray


@kernel
def turn_misses(car, steer_cells, speed, curvature, unknown, misses, steers, slips, wheels, body):
    """How far a guess is from a steady turn.

    car : Car; steer_cells : SteerCells
    speed : of the mass centre [m/s]; curvature : of its path, positive to the left [1/m]
    unknown : (3,) sideslip [rad], equivalent steer [rad], drive force as a share of the weight
    misses : (3,) written: accelerations as shares of gravity, and the yaw moment's as a share of weight x wheelbase
    steers, slips, wheels, body : written
    Source: the equations of `sim.car.motion` with all rates zero; steady slip a = -v_y / |v_x|.
    """
    vx, vy, yaw_rate = speed * cos(unknown[0]), speed * sin(unknown[0]), speed * curvature
    pose = pose_of(steer_cells, car, unknown[1], 0.0)
    steers[0], steers[1], steers[2], steers[3] = pose.steers[0], pose.steers[1], 0.0, 0.0
    for i in range(4):
        forward, side = contact_velocity(vx, vy, yaw_rate, pose.x[i], pose.y[i], cos(steers[i]), sin(steers[i]))
        slips[i] = -side / max(abs(forward), 1e-9)
    force = unknown[2] * car.mass * GRAVITY
    steady = slips[0], slips[1], slips[2], slips[3]
    demand = ForceDemand(False, force)
    car_motion(car, Velocity(vx, vy, yaw_rate), steady, pose, Pull(0.0, 0.0), Wind(0.0, 0.0), demand, 0.0, wheels, body)
    misses[0] = body[BodyColumn.ACCEL_X] / GRAVITY
    misses[1] = body[BodyColumn.ACCEL_Y] / GRAVITY
    misses[2] = body[BodyColumn.ACCEL_YAW] * car.yaw_inertia / (car.mass * GRAVITY * car.wheelbase)


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
def find_turn(car, steer_cells, speed, curvature, unknown, steers, slips, wheels, body):
    """Newton's method with halved steps from a guess.

    car, steer_cells, speed, curvature, steers, slips, wheels, body : as for `turn_misses` [m/s], [1/m]
    unknown : (3,) guess, changed in place to the solution (see `turn_misses`)
    Returns the largest miss [-]; at most BALANCED where it converged.
    """
    misses, plus, minus, trial, step = np.zeros(3), np.zeros(3), np.zeros(3), np.zeros(3), np.zeros(3)
    jacobian = np.zeros((3, 3))
    turn_misses(car, steer_cells, speed, curvature, unknown, misses, steers, slips, wheels, body)
    miss = np.abs(misses).max()
    for _ in range(NEWTON_STEPS):
        if miss <= BALANCED:
            break
        for k in range(3):
            trial[:] = unknown
            trial[k] += DIFFERENCE
            turn_misses(car, steer_cells, speed, curvature, trial, plus, steers, slips, wheels, body)
            trial[k] -= 2.0 * DIFFERENCE
            turn_misses(car, steer_cells, speed, curvature, trial, minus, steers, slips, wheels, body)
            jacobian[:, k] = (plus - minus) / (2.0 * DIFFERENCE)
        if not solve_three(jacobian, misses, step):
            break
        # No more than a tenth of a radian at once: beyond it the wheels' slips leave what the tyre's law is meant for.
        share = -min(1.0, 0.1 / max(np.abs(step).max(), 1e-300))
        better = False
        for _ in range(12):
            trial[:] = unknown + share * step
            trial[1] = min(max(trial[1], steer_cells.least), steer_cells.most)
            turn_misses(car, steer_cells, speed, curvature, trial, plus, steers, slips, wheels, body)
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
    turn_misses(car, steer_cells, speed, curvature, unknown, misses, steers, slips, wheels, body)
    return np.abs(misses).max()


@kernel
def slides_or_lifts(car, wheels, body):
    """What the wheels do in a turn: 0 all carry and grip, 1 one lifts, 2 one has no grip left.

    car : Car; wheels, body : as written by `sim.car.motion.car_motion` [N]
    """
    for i in range(4):
        grip = (car.front_tyre if i < 2 else car.rear_tyre).friction * wheels[i, WheelColumn.LOAD]
        if grip > 0.0 and np.hypot(wheels[i, WheelColumn.LATERAL], wheels[i, WheelColumn.LONGITUDINAL]) >= SLIDING_SHARE * grip:
            return 2
    return 1 if body[BodyColumn.LIFTED] > 0.5 else 0


def rolling_guess(car: Car, steer_cells: SteerCells, curvature: float) -> np.ndarray:
    """A guess for `find_turn`: the rolling bicycle, its steer inside the lock, hardly any drive.

    car : Car; steer_cells : SteerCells; curvature : of the mass centre's path [1/m]
    Returns (3,): sideslip [rad], equivalent steer [rad], drive force as a share of the weight [-].
    """
    sine = min(max((car.wheelbase - car.front_arm) * curvature, -0.98), 0.98)
    steer = atan(car.wheelbase * curvature / sqrt(1 - sine * sine))
    return np.array([asin(sine), min(max(steer, steer_cells.least), steer_cells.most), 0.01])


class _Solver:
    """The solver at one car and set-up, with what it found last."""

    def __init__(self, car: Car, table: SteerTable) -> None:
        self.car, self.table, self.steer_cells = car, table, steer_cells_of(table)
        self.steers, self.slips = np.empty(4), np.empty(4)
        self.wheels, self.body = np.zeros((4, WHEEL_COLUMNS)), np.zeros(BODY_COLUMNS)
        self.failed = 0.0, 0.0  # speed and curvature of the last turn that was sought on a way and not found

    def turn(self, speed: float, curvature: float, unknown: np.ndarray) -> bool:
        """Whether a turn is found from a guess, which is changed to it.  speed [m/s]; curvature [1/m]; unknown : see `turn_misses`."""
        miss = find_turn(self.car, self.steer_cells, speed, curvature, unknown, self.steers, self.slips, self.wheels, self.body)
        return bool(miss <= 10 * BALANCED and self.body[BodyColumn.LIFTED] < 1.5)

    def follow(self, begin: tuple[float, float], end: tuple[float, float], unknown: np.ndarray) -> float:
        """Turns from one speed and curvature towards another, each the guess for the next; steps are halved until one is found.

        begin, end : speed [m/s] and curvature [1/m]; unknown : (3,) guess, changed to the last turn found
        Returns how far it came, 1 at the end and -1 where not even the beginning is found.
        """
        self.failed = begin
        if not self.turn(*begin, unknown):
            return -1.0
        place, step, here = 0.0, FIRST_STEP, begin
        while place < 1 and step >= LEAST_STEP:
            ahead, trial = min(place + step, 1.0), unknown.copy()
            there = end if ahead == 1 else (begin[0] + ahead * (end[0] - begin[0]), begin[1] + ahead * (end[1] - begin[1]))
            if self.turn(*there, trial) and np.abs(trial - unknown).max() <= JUMP:
                place, here, unknown[:] = ahead, there, trial
                step *= 1.5
            else:
                self.failed = there
                step *= 0.5
        self.turn(*here, unknown)  # so that the wheels are those of the last turn found
        return place

    def cause(self, asked: float, unknown: np.ndarray) -> Cause:
        """Why the turns that were followed end.  asked : curvature of the turn that was asked for [1/m]; unknown : (3,) of the last."""
        steers, rates, x, y, cambers = (np.empty(4) for _ in range(5))
        front_pose(self.steer_cells, self.car, unknown[1], 0.0, steers, rates, x, y, cambers)
        drive = float(unknown[2]) * self.car.mass * GRAVITY
        return cause_of(self.car, Ending(asked, *self.failed, float(unknown[0]), drive, x, y, self.wheels, self._steers_on(unknown)))

    def _steers_on(self, unknown: np.ndarray) -> bool:
        """Whether the very turn that failed is found with a wider lock."""
        if min(unknown[1] - self.steer_cells.least, self.steer_cells.most - unknown[1]) > JUMP:
            return False
        freer, trial = _Solver(self.car, widened(self.table, MORE_LOCK)), unknown.copy()
        return bool(freer.turn(*self.failed, trial) and np.abs(trial - unknown).max() <= JUMP)


def steady_turn(car: Car, table: SteerTable, radius: float, speed: float) -> SteadyTurn:
    """The steady turn of a set-up.

    car : Car; table : SteerTable
    radius : of the mass centre's path, positive to the left, not 0 [m]; speed : above 0 [m/s]
    Returns a SteadyTurn; `converged` is False where there is no equilibrium, and `reason` says which limit was met.
    Raises ValueError for a radius of 0 or a speed that is not above 0.
    """
    if radius == 0 or not speed > 0:
        raise ValueError("a steady turn needs a radius that is not 0 and a speed above 0")
    solver, curvature = _Solver(car, table), 1.0 / radius
    unknown = rolling_guess(car, solver.steer_cells, curvature)
    # Where all wheels grip there is one turn; where one slides it is the one that grows out of slower ones.
    if not solver.turn(speed, curvature, unknown) or slides_or_lifts(car, solver.wheels, solver.body) != 0:
        cause = _approach(solver, speed, curvature, unknown)
        if cause:
            none = np.nan, np.nan, np.nan
            return SteadyTurn(False, cause, *none, unknown, solver.steers, solver.slips, solver.wheels, solver.body)
    index, t = cell_of(unknown[1] - table.first, table.spacing, len(table.cells))
    hand = cubic(table.cells[index, SteerColumn.HAND], t)
    force = unknown[2] * car.mass * GRAVITY
    return SteadyTurn(
        True, Cause.NONE, float(hand), float(unknown[0]), float(force), unknown, solver.steers, solver.slips, solver.wheels, solver.body
    )


def _approach(solver: _Solver, speed: float, curvature: float, unknown: np.ndarray) -> Cause:
    """Find a turn from slower or from wider ones; returns why there is none, NONE where there is one, which `unknown` then holds."""
    slow, wide = min(0.5, CRAWL * speed), WIDE * curvature
    unknown[:] = rolling_guess(solver.car, solver.steer_cells, curvature)
    place = solver.follow((slow, curvature), (speed, curvature), unknown)
    if place < 0:
        # A linkage that disagrees with a tight bend slides even at a crawl, where the rolling car is no good guess.
        unknown[:] = rolling_guess(solver.car, solver.steer_cells, 0.0)
        place = solver.follow((slow, 0.0), (slow, curvature), unknown)
        if place == 1:
            place = solver.follow((slow, curvature), (speed, curvature), unknown)
    if place == 1:
        return Cause.NONE
    cause = solver.cause(curvature, unknown)
    # What stops a slower car, such as the lock, need not stop this one.
    unknown[:] = rolling_guess(solver.car, solver.steer_cells, wide)
    return Cause.NONE if solver.follow((speed, wide), (speed, curvature), unknown) == 1 else cause
