"""A lap as a sum of steady turns: no integration in time, for studies that try hundreds of set-ups.

At each station the car is in the steady turn of the planned speed and the line's curvature; the equations are those of
`sim.turn.steady`.  What the plan's acceleration and the slope ask for acts as an added pull along the path, so that drive, brakes,
motor and battery carry the forces that they carry on the road.

When it may be used: to rank set-ups of one car on one course and pace, where curvature changes over more than a few relaxation
lengths and the lateral acceleration leaves every wheel well inside its grip (the usual 3 m/s2 does).  It leaves out what needs time:
the tyre's relaxation and the yaw inertia at a bend's ends, the driver's corrections, load transfer by braking, and a car that cannot
keep the plan.  A bend that begins at once, as a written arc does, is turned into by no car in time; there the sum errs most.  Check
what it picks with a lap in time.
"""

from dataclasses import dataclass
from enum import IntEnum
from math import inf, nan
from typing import NamedTuple

import numpy as np

from sim.car.chassis import GRAVITY, ONE_WHEEL_LEFT, ONE_WHEEL_RIGHT, Car, axle_loads
from sim.car.motion import BODY_COLUMNS, WHEEL_COLUMNS, BodyColumn, WheelColumn
from sim.course.centreline import Course
from sim.kernels.compiled import kernel
from sim.pace.driver import LEAST_CRUISE, PacePlan, resistance
from sim.steering.cells import SteerCells, steer_cells_of
from sim.steering.table import SteerTable
from sim.turn.steady import find_turn, rolling_guess, turn_misses

# Pieces of a course; within each all is taken as constant.  With 160 the scrub of the shipped courses is within 1 % of the sum over
# every single station, and the difference between two set-ups is nearer still.
PIECES = 160
# Largest miss of the balances, as a share of the weight: 1e-6 N of a tyre force, far below what the pieces cost.  A figure that is kept
# and compared asks for `sim.turn.steady.BALANCED`: where the solver stops would else be seen in its eighth digit.
SETTLED = 1e-9
QUICK_STEPS = 12  # of the quick solver before the thorough one is asked
# Of the driven wheels' static grip, what a steady turn may pull with.  At a standing start the plan's power asks for more than tyres
# hold; in time the car then falls behind the plan and makes it up later.  The sum counts that work as drive without slip.
GRIP_USED = 0.6


class Sum(IntEnum):
    """Places of a lap's sums; fours stand for the first of them, in the order of `chassis.WHEELS`."""

    DRIVE = 0  # work and losses [J]
    BRAKES = 1
    ROLLING = 2
    ALIGNING = 3
    BATTERY = 4
    CHARGE = 5  # used, by the rate law [A s]
    LEAST_LOAD = 6  # [N]
    FAILED = 7  # distance without a turn [m]
    LATERAL = 8  # four
    LONGITUDINAL = 12  # four
    RUB = 16  # four [m]


SUMS = 20


class Stations(NamedTuple):
    """A course and its pace in pieces, those of like turns next to each other; each (n,)."""

    length: np.ndarray  # [m]
    curvature: np.ndarray  # mean of the piece [1/m]
    speed: np.ndarray  # root of the mean square [m/s]
    pull: np.ndarray  # against the motion along the path: air drag, slope and the plan's acceleration [N]
    guess: np.ndarray  # (n, 3) the rolling bicycle's turn, see `sim.turn.steady.rolling_guess`
    air: float  # loss of the whole lap to air drag [J]
    beyond: float  # work that the plan asks for where it asks more than GRIP_USED [J]
    time: float  # that the plan takes [s]


@dataclass(frozen=True)
class StationSum:
    """Losses of a lap; arrays are (4,) in the order of `chassis.WHEELS`.  NaN where the lap has a turn without equilibrium."""

    feasible: bool
    failed: float  # distance whose steady turn does not exist: locked, sliding or tipping [m]
    time: float  # [s]
    drive_work: float  # [J]
    air: float
    rolling: float
    brakes: float
    aligning: float
    lateral: np.ndarray
    longitudinal: np.ndarray
    rub: np.ndarray  # slip distance [m]
    battery: float  # given by the battery's cells; NaN without one [J]
    used_charge: float  # by the rate law; NaN without a battery [A s]
    least_load: float  # of any wheel [N]

    @property
    def scrub(self) -> float:
        """Lateral and longitudinal slip loss of all wheels [J]."""
        return float(self.lateral.sum() + self.longitudinal.sum())


def stations_of(course: Course, car: Car, plan: PacePlan, pieces: int | None = PIECES) -> Stations:
    """Cut a course into pieces, short where curvature, sideways acceleration or drive force change and long where they do not.

    course : Course; car : Car, whose mass and air drag make the pull; plan : PacePlan on the course's stations [m/s]
    pieces : about so many, None for every single station [-]
    Returns Stations.  Source: the squares' mean error of a step function is least where each step holds the same part of the integral
    of |slope|^(2/3) (equidistribution, derived here); cuts also stand where driving turns to braking.
    """
    step = np.diff(course.station)
    square = np.maximum(plan.speed, LEAST_CRUISE) ** 2
    mean_square, curvature = _middle(square), _middle(course.curvature)
    drag = 0.5 * car.air_density * car.drag_area * _air_push(course, plan)
    pull = drag + car.mass * (0.5 * np.diff(square) / step + GRAVITY * np.diff(course.height) / step)
    hold = GRIP_USED * car.rear_tyre.friction * axle_loads(car)[1] * (0.5 if car.drive in (ONE_WHEEL_LEFT, ONE_WHEEL_RIGHT) else 1.0)
    beyond = float((np.maximum(pull - hold, 0.0) * step).sum())
    pull = np.minimum(pull, hold)
    if pieces is None:
        first = np.arange(len(step))
    else:
        needed = pull + resistance(car, 0.0, 0.0)
        density = np.full(len(step), 1e-12)
        for quantity in (curvature, curvature * mean_square, pull):
            scale = max(float(np.sqrt(np.average(quantity**2, weights=step))), 1e-9)
            change = np.abs(np.gradient(quantity)) / scale
            density += change ** (2 / 3) * step ** (1 / 3)
        share = np.cumsum(density)
        share /= share[-1]  # by a sum of another order the last one may be 1 or just less, and processors then differ by a cut
        turned = (needed[1:] > 0) != (needed[:-1] > 0)
        cut = (np.floor(share[1:] * pieces) != np.floor(share[:-1] * pieces)) | turned
        first = np.concatenate([[0], 1 + np.flatnonzero(cut)])
    length = np.add.reduceat(step, first)

    def mean(values: np.ndarray) -> np.ndarray:
        return np.add.reduceat(values * step, first) / length

    parts = length, mean(curvature), np.sqrt(mean(mean_square)), mean(pull)
    order = np.lexsort((parts[1], parts[3] < 0))
    length, curvature, speed, pull = (np.ascontiguousarray(part[order]) for part in parts)
    free = SteerCells(np.empty((0, 0)), 0, 0, 0.0, 1.0, -inf, inf)  # no lock: each set-up brings its own
    guess = np.array([rolling_guess(car, free, float(one)) for one in curvature])
    return Stations(length, curvature, speed, pull, guess, air=float((drag * step).sum()), beyond=beyond, time=plan.time)


def _middle(values: np.ndarray) -> np.ndarray:
    """Means of neighbours."""
    return 0.5 * (values[1:] + values[:-1])


def _air_push(course: Course, plan: PacePlan) -> np.ndarray:
    """Speed through the air times its part along the path, between stations [m2/s2]."""
    speed = plan.speed
    wind_x, wind_y = plan.wind
    along = np.cos(course.heading) * wind_x + np.sin(course.heading) * wind_y
    across = np.cos(course.heading) * wind_y - np.sin(course.heading) * wind_x
    return _middle(np.hypot(speed - along, across) * (speed - along))


@kernel
def settle(car, steer_cells, speed, curvature, settled, unknown, inverse, misses, steers, slips, wheels, body):
    """Broyden's method from a neighbour's turn and its inverse Jacobian: one evaluation a step where Newton's takes seven.

    car, steer_cells, speed, curvature, unknown, misses, steers, slips, wheels, body : as for `sim.turn.steady.turn_misses` [m/s], [1/m]
    settled : miss at which it stops [-]; inverse : (3, 3) of the Jacobian, changed in place [-]
    Returns the largest miss [-].  Source: Broyden's "good" update, textbook.
    """
    step, moved, change = np.empty(3), np.empty(3), np.empty(3)
    turn_misses(car, steer_cells, speed, curvature, unknown, misses, steers, slips, wheels, body)
    miss = np.abs(misses).max()
    for _ in range(QUICK_STEPS):
        if not miss > settled:
            break
        for i in range(3):
            step[i] = -(inverse[i, 0] * misses[0] + inverse[i, 1] * misses[1] + inverse[i, 2] * misses[2])
            change[i] = misses[i]
        for i in range(3):
            unknown[i] += min(max(step[i], -0.1), 0.1)
        unknown[1] = min(max(unknown[1], steer_cells.least), steer_cells.most)
        turn_misses(car, steer_cells, speed, curvature, unknown, misses, steers, slips, wheels, body)
        miss = np.abs(misses).max()
        for i in range(3):
            change[i] = misses[i] - change[i]
        for i in range(3):
            moved[i] = inverse[i, 0] * change[0] + inverse[i, 1] * change[1] + inverse[i, 2] * change[2]
        along = step[0] * moved[0] + step[1] * moved[1] + step[2] * moved[2]
        if not abs(along) > 1e-300:
            break
        for k in range(3):
            change[k] = (step[0] * inverse[0, k] + step[1] * inverse[1, k] + step[2] * inverse[2, k]) / along
        for i in range(3):
            for k in range(3):
                inverse[i, k] += (step[i] - moved[i]) * change[k]
    return miss


@kernel
def fresh_inverse(car, steer_cells, speed, curvature, unknown, inverse, misses, steers, slips, wheels, body):
    """Inverse Jacobian of a steady turn by differences.

    car, steer_cells, speed, curvature, unknown, steers, slips, wheels, body : as for `sim.turn.steady.turn_misses` [m/s], [1/m]
    inverse : (3, 3) written [-]; misses : (3,) work space
    Source: inverse of a 3 x 3 matrix by cofactors.  A singular one gives no step, and the thorough solver is asked.
    """
    jacobian, plus = np.empty((3, 3)), np.empty(3)
    turn_misses(car, steer_cells, speed, curvature, unknown, misses, steers, slips, wheels, body)
    for k in range(3):
        kept = unknown[k]
        unknown[k] = kept + 1e-6
        turn_misses(car, steer_cells, speed, curvature, unknown, plus, steers, slips, wheels, body)
        unknown[k] = kept
        for i in range(3):
            jacobian[i, k] = (plus[i] - misses[i]) / 1e-6
    for i in range(3):
        p, q = (i + 1) % 3, (i + 2) % 3
        for k in range(3):
            r, s = (k + 1) % 3, (k + 2) % 3
            inverse[k, i] = jacobian[p, r] * jacobian[q, s] - jacobian[p, s] * jacobian[q, r]
    determinant = jacobian[0, 0] * inverse[0, 0] + jacobian[0, 1] * inverse[1, 0] + jacobian[0, 2] * inverse[2, 0]
    if determinant == 0.0:
        inverse[:] = 0.0
    else:
        inverse /= determinant


@kernel
def pulled(car, force, speed):
    """A car whose air drag at a speed is a given force.

    car : Car; force : against the motion, below 0 for a push [N]; speed : above 0 [m/s]
    Returns the Car.  Source: rho CdA v^2 / 2 solved for CdA.
    """
    return Car(
        car.mass, car.wheelbase, car.front_track, car.rear_track, car.front_arm, car.height, car.yaw_inertia,
        2.0 * force / (car.air_density * speed * speed), car.air_density, car.drive, car.front_tyre, car.rear_tyre, car.motor, car.battery,
    )  # fmt: skip


@kernel
def sum_turns(car, steer_cells, length, curvature, speed, pull, guess, settled, sums):
    """Steady turns of all pieces.

    car, steer_cells : as kernels read them
    length, curvature, speed, pull : (n,) of `Stations` [m], [1/m], [m/s], [N]
    guess : (n, 3) of `Stations`; a turn is begun from the one before, moved as far as the rolling bicycle moves [rad], [rad], [-]
    settled : largest miss of the balances, as a share of the weight [-]; sums : (SUMS,) written, see `Sum`
    """
    steers, slips, misses, unknown, inverse = np.empty(4), np.empty(4), np.empty(3), np.empty(3), np.empty((3, 3))
    wheels, body = np.zeros((4, WHEEL_COLUMNS)), np.zeros(BODY_COLUMNS)
    sums[:] = 0.0
    sums[Sum.LEAST_LOAD] = car.mass * GRAVITY
    warm = False
    for i in range(len(length)):
        v = speed[i]
        one = pulled(car, pull[i], v)
        found = False
        for _ in range(2):  # a second time from the rolling bicycle, with a Jacobian of its own
            for k in range(3):
                unknown[k] = unknown[k] + guess[i, k] - guess[i - 1, k] if warm else guess[i, k]
            unknown[1] = min(max(unknown[1], steer_cells.least), steer_cells.most)
            if not warm:
                fresh_inverse(one, steer_cells, v, curvature[i], unknown, inverse, misses, steers, slips, wheels, body)
            found = settle(one, steer_cells, v, curvature[i], settled, unknown, inverse, misses, steers, slips, wheels, body) <= settled
            if found:
                break
            warm = False
        if not found:
            unknown[:] = guess[i]
            unknown[1] = min(max(unknown[1], steer_cells.least), steer_cells.most)
            miss = find_turn(one, steer_cells, v, curvature[i], unknown, steers, slips, wheels, body)
            found = miss <= settled
        if not found or body[BodyColumn.LIFTED] > 1.5:
            sums[Sum.FAILED] += length[i]
            warm = False
            continue
        warm = True
        share = length[i] / v
        sums[Sum.DRIVE] += body[BodyColumn.DRIVE_POWER] * share
        sums[Sum.BRAKES] += body[BodyColumn.BRAKE_POWER] * share
        sums[Sum.ROLLING] += body[BodyColumn.ROLLING_POWER] * share
        sums[Sum.ALIGNING] += body[BodyColumn.ALIGNING_POWER] * share
        sums[Sum.BATTERY] += body[BodyColumn.BATTERY_POWER] * share
        sums[Sum.CHARGE] += body[BodyColumn.CHARGE_RATE] * share
        for k in range(4):
            sums[Sum.LATERAL + k] += wheels[k, WheelColumn.LATERAL_LOSS] * share
            sums[Sum.LONGITUDINAL + k] += wheels[k, WheelColumn.LONGITUDINAL_LOSS] * share
            sums[Sum.RUB + k] += wheels[k, WheelColumn.RUB_SPEED] * share
            sums[Sum.LEAST_LOAD] = min(sums[Sum.LEAST_LOAD], wheels[k, WheelColumn.LOAD])


def station_sum(car: Car, table: SteerTable, stations: Stations, settled: float = SETTLED) -> StationSum:
    """A lap's losses as the sum of its steady turns.

    car : Car; table : SteerTable of the set-up; stations : Stations of this car's course and pace [SI]
    settled : largest miss of the balances, as a share of the weight [-]
    Returns a StationSum; the module's text says when it may be used.  Source: the equations of `sim.turn.steady`, summed over the distance;
    the balance of energy is that of `sim.car.motion`, so drive work = air + rolling + brakes + slip + aligning + what the pull stores.
    """
    steer_cells, sums = steer_cells_of(table), np.empty(SUMS)
    sum_turns(car, steer_cells, stations.length, stations.curvature, stations.speed, stations.pull, stations.guess, settled, sums)
    failed = float(sums[Sum.FAILED])
    if failed > 0:
        sums[:] = nan
    electric = car.motor.torque_constant > 0
    return StationSum(
        feasible=failed == 0, failed=failed, time=stations.time, drive_work=float(sums[Sum.DRIVE]) + stations.beyond, air=stations.air,
        rolling=float(sums[Sum.ROLLING]), brakes=float(sums[Sum.BRAKES]), aligning=float(sums[Sum.ALIGNING]),
        lateral=sums[Sum.LATERAL : Sum.LATERAL + 4], longitudinal=sums[Sum.LONGITUDINAL : Sum.LONGITUDINAL + 4],
        rub=sums[Sum.RUB : Sum.RUB + 4],
        battery=float(sums[Sum.BATTERY]) if electric else nan, used_charge=float(sums[Sum.CHARGE]) if electric else nan,
        least_load=float(sums[Sum.LEAST_LOAD]),
    )  # fmt: skip
