"""The car as a rigid body: wheel loads, tip margin, and the single-track formulas."""

from itertools import combinations
from math import asin, atan, cos, inf, sin, sqrt
from typing import NamedTuple

import numpy as np

from sim.car.battery import NO_BATTERY, Battery
from sim.car.motor import NO_MOTOR, Motor
from sim.car.tyre import Tyre, cornering_stiffness
from sim.kernels.compiled import inlined, kernel

GRAVITY = 9.81  # [m/s2]
WHEELS = ("front_left", "front_right", "rear_left", "rear_right")
DRIVES = ("one wheel left", "one wheel right", "differential", "solid axle")
CORNER = 1e-12  # share of a line between two wheels by which a crossing may miss its ends: rounding alone makes 1e-15
ONE_WHEEL_LEFT, ONE_WHEEL_RIGHT, DIFFERENTIAL, SOLID_AXLE = range(4)


class Car(NamedTuple):
    """The car with its driver, SI; a named tuple because kernels read its fields by name."""

    mass: float  # [kg]
    wheelbase: float  # l [m]
    front_track: float  # between contact points straight ahead [m]
    rear_track: float  # [m]
    front_arm: float  # mass centre behind the front axle [m]
    height: float  # of the mass centre [m]
    yaw_inertia: float  # [kg m2]
    drag_area: float  # [m2]
    air_density: float  # [kg/m3]
    drive: int  # index into DRIVES
    front_tyre: Tyre
    rear_tyre: Tyre
    motor: Motor = NO_MOTOR
    battery: Battery = NO_BATTERY


def single_track(car: Car) -> Car:
    """The car with both wheels of each axle merged in its middle: rung two of the ladder of models.

    car : Car
    Returns the car with tracks of 0 [m] and a differential, since one wheel alone would pull sideways.
    """
    return car._replace(front_track=0.0, rear_track=0.0, drive=DIFFERENTIAL)


def with_law(car: Car, brush: bool | None) -> Car:
    """The same car on tyres of a law.  car : Car; brush : LINEAR or BRUSH of `sim.car.tyre`."""
    return car._replace(front_tyre=car.front_tyre._replace(brush=brush), rear_tyre=car.rear_tyre._replace(brush=brush))


@inlined
def plate_inverse(x, y, dropped):
    """Inverse of the matrix that gives a plate's pose from its load: what the geometry of the contact points alone decides.

    x, y : (4,) contact points from the mass centre [m]
    dropped : index of a wheel that carries nothing, -1 for none
    Returns its six different elements, row by row.  Source: inverse of a symmetric 3 x 3 matrix by cofactors.
    """
    a, b = 0.0 if dropped == 0 else 1.0, 0.0 if dropped == 1 else 1.0
    c, d = 0.0 if dropped == 2 else 1.0, 0.0 if dropped == 3 else 1.0
    n = a + b + c + d
    ax, bx, cx, dx = a * x[0], b * x[1], c * x[2], d * x[3]
    ay, by, cy, dy = a * y[0], b * y[1], c * y[2], d * y[3]
    sx, sy = ax + bx + cx + dx, ay + by + cy + dy
    sxx = ax * x[0] + bx * x[1] + cx * x[2] + dx * x[3]
    sxy = ax * y[0] + bx * y[1] + cx * y[2] + dx * y[3]
    syy = ay * y[0] + by * y[1] + cy * y[2] + dy * y[3]
    # A single-track car has no width to carry a roll moment on; c_2 then multiplies zeros and any value serves.
    syy = 1.0 if syy == 0.0 else syy
    m0, m1, m2 = sxx * syy - sxy * sxy, sy * sxy - sx * syy, sx * sxy - sy * sxx
    share = 1.0 / (n * m0 + sx * m1 + sy * m2)
    return m0 * share, m1 * share, m2 * share, (n * syy - sy * sy) * share, (sx * sy - n * sxy) * share, (n * sxx - sx * sx) * share


@inlined
def plate_share(x, y, inverse, drops, carried, height):
    """What one wheel carries at rest, and by how much a force ahead and one to the left relieve it.

    x, y : of its contact point [m]; inverse : of `plate_inverse`; drops : whether it carries nothing; carried [N]; height [m]
    Returns (load at rest [N], relief per force ahead [-], relief per force to the left [-]).
    """
    rest = inverse[0] + inverse[1] * x + inverse[2] * y
    ahead, left = inverse[1] + inverse[3] * x + inverse[4] * y, inverse[2] + inverse[4] * x + inverse[5] * y
    return 0.0 if drops else carried * rest, 0.0 if drops else height * ahead, 0.0 if drops else height * left


@inlined
def plate_shares(x, y, dropped, carried, height):
    """`plate_share` of each wheel: all that decides the loads beside the forces on the ground.

    x, y : (4,) [m]; dropped : as for `plate_inverse`; carried [N]; height [m]
    Returns a share for each wheel.
    """
    inverse = plate_inverse(x, y, dropped)
    return (
        plate_share(x[0], y[0], inverse, dropped == 0, carried, height), plate_share(x[1], y[1], inverse, dropped == 1, carried, height),
        plate_share(x[2], y[2], inverse, dropped == 2, carried, height), plate_share(x[3], y[3], inverse, dropped == 3, carried, height),
    )  # fmt: skip


@inlined
def plate_loads(shares, ahead, left):
    """Loads of the wheels on the ground, whatever their sign; see `wheel_loads`.

    shares : of `plate_shares`; ahead, left [N]
    Returns the four loads [N].
    """
    a, b, c, d = shares
    return (
        a[0] - ahead * a[1] - left * a[2], b[0] - ahead * b[1] - left * b[2], c[0] - ahead * c[1] - left * c[2],
        d[0] - ahead * d[1] - left * d[2],
    )  # fmt: skip


@inlined
def least_load(loads):
    """Least of four wheel loads.  loads : (4,) [N]."""
    return min(min(loads[0], loads[1]), min(loads[2], loads[3]))


@kernel
def loads_without_lifted(x, y, carried, ahead, left, height):
    """Wheel loads with lifted wheels dropped; see `wheel_loads`.

    x, y : (4,) [m]; carried [N]; ahead, left [N]; height [m]
    Returns (0, 1 or 2 as there, the four loads [N]).
    """
    dropped, loads = -1, (0.0, 0.0, 0.0, 0.0)
    for lifted in range(2):
        loads = plate_loads(plate_shares(x, y, dropped, carried, height), ahead, left)
        least = least_load(loads)
        if not least < 0.0:
            return lifted, loads
        dropped = 0 if loads[0] == least else 1 if loads[1] == least else 2 if loads[2] == least else 3
    return 2, (max(loads[0], 0.0), max(loads[1], 0.0), max(loads[2], 0.0), max(loads[3], 0.0))


@kernel
def wheel_loads(x, y, carried, ahead, left, height, loads):
    """Loads of a rigid car on equal vertical springs, N_i = c_0 + c_1 x_i + c_2 y_i, with lifted wheels dropped.

    x, y : (4,) contact points from the mass centre [m]
    carried : weight m g [N]
    ahead, left : force m a_x and m a_y that the ground must give [N]
    height : of the mass centre [m]
    loads : (4,) written: the wheel loads, none negative [N]
    Returns 0 on four wheels, 1 on three, 2 where fewer than three are left (tip-over; the loads are then not in balance).
    Source: statics of a plate on equal springs, sum N = m g, sum N x = -m a_x h, sum N y = -m a_y h; derived here.
    """
    lifted, found = loads_without_lifted(x, y, carried, ahead, left, height)
    loads[0], loads[1], loads[2], loads[3] = found
    return lifted


def support_reach(x: np.ndarray, y: np.ndarray, ahead: float, left: float) -> float:
    """How far the ground on which a car stands reaches from below its mass centre in a direction.

    x, y : (4,) contact points from the mass centre, order of WHEELS [m]
    ahead, left : the direction, of length one [-]
    Returns the distance to the edge of the contact points' hull, 0 where the mass centre is not above it [m].  Source: where a line
    crosses those that join the contact points two by two; plane geometry.
    """
    crossings = []
    for i, j in combinations(range(4), 2):
        along_x, along_y = x[j] - x[i], y[j] - y[i]
        crossed = ahead * along_y - left * along_x
        if crossed != 0.0:
            share = (left * x[i] - ahead * y[i]) / crossed
            if -CORNER <= share <= 1.0 + CORNER:
                crossings.append((x[i] * along_y - y[i] * along_x) / crossed)
    return float(max(crossings)) if crossings and min(crossings) <= 0.0 <= max(crossings) else 0.0


def tip_limit(x: np.ndarray, y: np.ndarray, height: float, turn_left: bool = True, sideslip: float = 0.0) -> float:
    """Steady acceleration towards a turn's centre at which the car would tip over, tyres gripping.

    x, y : (4,) contact points from the mass centre, order of WHEELS [m]
    height : of the mass centre [m]
    turn_left : the turn's direction
    sideslip : direction of travel of the mass centre, whose centre lies square to it; 0 judges square to the car [rad]
    Returns the acceleration, positive [m/s2].  Source: statics: the load point moves by h a / g away from the centre until it leaves
    the contact points' hull; for equal tracks and no sideslip it is g t / (2 h), the static stability factor (49 CFR 575, NHTSA rollover
    rating).
    """
    outwards = 1.0 if turn_left else -1.0
    reach = support_reach(x, y, outwards * sin(sideslip), -outwards * cos(sideslip))
    return GRAVITY * reach / height if height > 0 else inf


def lift_limit(x: np.ndarray, y: np.ndarray, mass: float, height: float, sideslip: float = 0.0) -> tuple[float, np.ndarray]:
    """Steady acceleration towards the centre of a left turn at which the first wheel lifts, and the loads at rest.

    x, y : (4,) contact points from the mass centre, order of WHEELS [m]; mass [kg]; height : of the mass centre [m]
    sideslip : as for `tip_limit` [rad]
    Returns (acceleration [m/s2], loads (4,) [N]).  Source: loads of `wheel_loads` are linear in the acceleration while all are carried.
    """
    shares = plate_shares(x, y, -1, mass * GRAVITY, height)
    at_rest = np.array(plate_loads(shares, 0.0, 0.0))
    by_acceleration = mass * np.array([ahead * sin(sideslip) - left * cos(sideslip) for _, ahead, left in shares])
    falling = by_acceleration < 0
    return (float(np.min(-at_rest[falling] / by_acceleration[falling])) if falling.any() else inf), at_rest


def kinematic_steer(curvature: float, car: Car) -> tuple[float, float]:
    """Steer and sideslip of a rolling bicycle whose mass centre follows a curvature.

    curvature : of the mass centre's path, positive to the left [1/m]
    car : Car
    Returns (steer, sideslip) [rad].  Raises ValueError where the radius is below the mass centre's distance from the rear axle.
    Source: sin b = b_r k, tan d = l k / sqrt(1 - (b_r k)^2); geometry, derived here; e.g. Jazar, Vehicle Dynamics, ch. 7 (memory).
    """
    sine = (car.wheelbase - car.front_arm) * curvature
    if not abs(sine) < 1:
        raise ValueError("the radius is smaller than the mass centre's distance from the rear axle")
    return atan(car.wheelbase * curvature / sqrt(1 - sine * sine)), asin(sine)


def axle_loads(car: Car) -> tuple[float, float]:
    """Static loads of the front and the rear axle.

    car : Car
    Returns (front, rear) [N].  Source: statics.
    """
    weight = car.mass * GRAVITY
    return weight * (1 - car.front_arm / car.wheelbase), weight * car.front_arm / car.wheelbase


def axle_stiffnesses(car: Car) -> tuple[float, float]:
    """Cornering stiffness of both wheels of the front and of the rear axle at their static loads.

    car : Car
    Returns (front, rear) [N/rad].  Source: `sim.car.tyre.cornering_stiffness`.
    """
    nominal = car.mass * GRAVITY / 4
    front, rear = axle_loads(car)
    return (
        2 * cornering_stiffness(car.front_tyre, front / 2, nominal), 2 * cornering_stiffness(car.rear_tyre, rear / 2, nominal),
    )  # fmt: skip


def understeer_gradient(car: Car) -> float:
    """Understeer gradient K = F_zf / C_f - F_zr / C_r at the static loads, small angles.

    car : Car
    Returns K, above 0 for an understeering car [rad per g].  Source: Gillespie, Fundamentals of Vehicle Dynamics, ch. 6;
    Wong, Theory of Ground Vehicles, ch. 5 (both from memory).
    """
    nominal = car.mass * GRAVITY / 4
    gradient = 0.0
    for load, tyre, sign in zip(axle_loads(car), (car.front_tyre, car.rear_tyre), (1, -1), strict=True):
        # F_z / C: the load cancels, so that a neutral car is neutral to the last digit.
        gradient += sign / (tyre.cornering_stiffness * (1 - tyre.load_sensitivity * (load / 2 / nominal - 1)))
    return gradient


def yaw_velocity_gain(car: Car, speed: float) -> float:
    """Steady yaw velocity per steer angle, V / (l + K V^2 / g), small angles.

    car : Car
    speed : V [m/s]
    Returns the gain [1/s].  Source: as for `understeer_gradient`.
    """
    return speed / (car.wheelbase + understeer_gradient(car) * speed * speed / GRAVITY)


def characteristic_speed(car: Car) -> float:
    """Speed sqrt(g l / K) at which an understeering car's yaw gain is greatest; for K < 0 the critical speed sqrt(-g l / K).

    car : Car
    Returns the speed [m/s], infinite for a neutral car.  Source: as for `understeer_gradient`.
    """
    gradient = understeer_gradient(car)
    return inf if gradient == 0 else sqrt(GRAVITY * car.wheelbase / abs(gradient))


@inlined
def contact_velocity(vx, vy, yaw_rate, x, y, cosine, sine):
    """Velocity of a contact point in its wheel's axes.

    vx, vy : velocity of the mass centre, car axes [m/s]
    yaw_rate : r [rad/s]
    x, y : contact point from the mass centre, car axes [m]
    cosine, sine : of the wheel's steer angle [-]
    Returns (forward, side) [m/s].  Source: rigid-body kinematics.
    """
    ahead, left = vx - yaw_rate * y, vy + yaw_rate * x
    return ahead * cosine + left * sine, left * cosine - ahead * sine
