"""The driver: a pace plan that is the same for every set-up, and hands that follow the line."""

from dataclasses import dataclass
from math import sqrt
from typing import NamedTuple

import numpy as np

from sim.car.chassis import GRAVITY, Car, axle_stiffnesses
from sim.car.motor import most_force, steady_force
from sim.course.centreline import Course
from sim.kernels.compiled import inlined, kernel
from sim.kernels.trigonometry import arc_tangent

# A driver cannot plan slower than this on a standing start; the car would never leave.
LEAST_CRUISE = 0.3  # [m/s]
LIFTING = -1.0  # in the place of a braking limit: the driver lifts before a bend and coasts downhill
# Share of rolling and air drag by which a car that coasts downhill is planned slower than it rolls: as much as a plan in steps misses
# the car by.  Were it planned faster, the motor would run for a hundredth of a newton and pay its no-load current all the way.
COAST_MARGIN = 5e-3
FASTEST = 20.0  # [m/s]; no scenario asks for more, and a car that coasts downhill is held there
# A steady current settles over several laps; each round goes on from the one before, and they end when nothing changes any more.
ROUNDS = 200


class Driver(NamedTuple):
    """A steady driver's habits, and how he has learnt that his car answers; a named tuple because kernels read its fields by name.

    The second half is the car's, see `driver_of`; left at 0 it is that of a car whose tyres answer at once.
    """

    lead: float = 0.12  # looks this far ahead for the bend, to make up for hand and tyre lag [s]
    preview: float = 0.45  # aims at the line this far ahead [s]
    hand_lag: float = 0.10  # time constant of the hands [s]
    hand_rate: float = 1.2  # most that the hands turn, as equivalent single-track steer [rad/s]
    speed_gain: float = 2.0  # answers a speed error by this acceleration per m/s [1/s]
    nearest: float = 0.0  # never aims at the line nearer than this [m] ...
    settling: float = 0.0  # ... nor than this times the square of the speed, for the quicker of the car's own motions [s2/m] ...
    turning_in: float = 0.0  # ... nor than this times it over the understeer factor, for the slower one [s2/m]
    understeer: float = 0.0  # steer grows by this share per square of the speed [s2/m2]
    drift: float = 0.0  # slip of the rear axle in a steady turn, per curvature and square of the speed [s2/m]


# What the linear study of car, tyre and hands asks of the preview distance, so that the driver answers his line and never his own
# steering; `tests/lap/test_weave.py` shows the margin that they leave over the whole range of keys.
REAR_ARMS = 2.2  # distances of the mass centre from the rear axle: steering moves it sideways at once by that share of the wheelbase
RELAXATION_LENGTHS = 2.5  # of both axles together: a tyre's force builds up over a distance, and its swing is damped over one
UNLIKE_LENGTHS = 5.0  # ... and of their difference, which makes one axle answer before the other
SWINGS = 16.0  # time constants of the quicker of the car's own two motions, drift and yaw, as far as they come at that speed
TURNS_IN = 4.0  # ... and of the slower one
# The understeer factor that the driver makes up for: below the first a car is about to spin of its own, above the second hands would
# have to be so quick that they shake the car.
LEAST_FACTOR, MOST_FACTOR = 0.05, 3.0


def driver_of(car: Car) -> Driver:
    """The usual driver, used to this car.

    car : Car
    Returns a Driver.  Source: the single-track car of two motions, drift and yaw, whose characteristic equation has the sum of roots
    -(N / (m I v)) and the product (P + v^2 Q) / (m I v^2) with N = I (C_f + C_r) + m (a a' C_f + b b' C_r), P = the yaw moments of
    drift and turning, Q = m (b' C_r - a' C_f), the arms with a dash shortened or lengthened by the pneumatic trail (textbook, e.g.
    Mitschke; Gillespie, ch. 6, both from memory; written out here).  Slow time constant N v / (P + v^2 Q), quick one m I v / N.
    """
    front_arm, rear_arm = car.front_arm, car.wheelbase - car.front_arm
    stiff_front, stiff_rear = axle_stiffnesses(car)
    # Side forces act behind the middle of a tyre.
    front_lever, rear_lever = front_arm - car.front_tyre.pneumatic_trail, rear_arm + car.rear_tyre.pneumatic_trail
    damping = front_arm * front_lever * stiff_front + rear_arm * rear_lever * stiff_rear
    total = car.yaw_inertia * (stiff_front + stiff_rear) + car.mass * damping
    steady = (stiff_front + stiff_rear) * damping - (front_lever * stiff_front - rear_lever * stiff_rear) * (
        front_arm * stiff_front - rear_arm * stiff_rear
    )
    turns = steady > 0.0  # where it does not, the trails are longer than the arms and the car turns away from its steer
    front_length, rear_length = car.front_tyre.relaxation_length, car.rear_tyre.relaxation_length
    build_up = RELAXATION_LENGTHS * (front_length + rear_length) + UNLIKE_LENGTHS * abs(front_length - rear_length)
    return Driver(
        nearest=max(REAR_ARMS * rear_arm, build_up),
        settling=SWINGS * car.mass * car.yaw_inertia / total,
        turning_in=TURNS_IN * total / steady if turns else 0.0,
        understeer=car.mass * (rear_lever * stiff_rear - front_lever * stiff_front) / steady if turns else 0.0,
        drift=car.mass * front_lever / ((front_lever + rear_lever) * stiff_rear),
    )


@dataclass(frozen=True)
class PacePlan:
    """Planned speed along the course."""

    station: np.ndarray  # (n,) [m]
    speed: np.ndarray  # (n,) [m/s]
    power: float  # most power at the driven wheels [W]
    wind: tuple[float, float] = (0.0, 0.0)  # velocity of the air over the ground, the course's axes [m/s]

    @property
    def time(self) -> float:
        """Time that the plan takes [s]: each step at constant acceleration."""
        return float(np.sum(2 * np.diff(self.station) / (self.speed[1:] + self.speed[:-1])))


@dataclass(frozen=True)
class Pace:
    """What the driver wants and what holds the car back."""

    target: float  # speed on the straights [m/s]
    lateral_limit: float  # [m/s2]
    braking_limit: float  # [m/s2]
    power: float  # most power at the driven wheels [W]
    start: float | None = None  # speed at the start of an open course, None for rolling [m/s]
    policy: str = "limits"  # or "lift", "steady speed", "steady current"
    current: float | None = None  # motor current of a steady current [A]
    wind: tuple[float, float] = (0.0, 0.0)  # velocity of the air over the ground, the course's axes [m/s]


def plan_pace(course: Course, car: Car, pace: Pace) -> PacePlan:
    """The speed that a driver of this car plans for a course.

    course : Course; car : Car; its mass, air drag, rolling resistance and motor limit what can be done
    pace : Pace [m/s], [m/s2], [W]
    Returns a PacePlan on the course's stations.  Source: v^2 <= a_lat / |k| at each point, then a sweep against the direction of
    travel with the braking limit (or, for a driver who lifts, with what rolling, air and slope take) and one along it
    with the power; the usual two-sweep construction, derived here.  A driver who lifts lets the car roll faster than the target
    where it does so by itself, up to what the bends allow and FASTEST; the brakes hold it there.
    """
    lifting = pace.policy == "lift"
    with np.errstate(divide="ignore"):
        cap = np.minimum(FASTEST if lifting else pace.target, np.sqrt(pace.lateral_limit / np.abs(course.curvature)))
    if pace.policy == "steady speed":
        cap[:] = cap.min()
    if course.closed:
        cap[0] = cap[-1] = min(cap[0], cap[-1])
    else:
        cap[0] = min(cap[0], pace.target, np.inf if pace.start is None else pace.start)
    spacing = course.station[1] - course.station[0]
    braking = LIFTING if lifting else pace.braking_limit
    steady = 0.0
    if pace.policy == "steady current":
        assert pace.current is not None  # the scenario has checked
        steady = steady_force(car.motor, pace.current)
    ahead, left = np.cos(course.heading), np.sin(course.heading)
    tail, across = pace.wind[0] * ahead + pace.wind[1] * left, pace.wind[1] * ahead - pace.wind[0] * left
    speed = limit_speed(cap, pace.target, course.slope, tail, across, spacing, car, braking, pace.power, steady, course.closed)
    return PacePlan(course.station, speed, pace.power, pace.wind)


@kernel
def resistance(car, speed, slope, tail=0.0, across=0.0):
    """Rolling, air and slope resistance of a car that rolls straight [N].

    car : Car; speed [m/s]; slope : of the road [-]; tail, across : wind along the direction of travel and across it [m/s]
    Source: C_rr m g + rho CdA |u| u_x / 2 + m g slope, u the car's velocity through the air; textbook.
    """
    front, rear = car.front_arm / car.wheelbase, 1.0 - car.front_arm / car.wheelbase
    coefficient = rear * car.front_tyre.rolling_resistance + front * car.rear_tyre.rolling_resistance
    through = speed - tail
    drag = 0.5 * car.air_density * car.drag_area * sqrt(through * through + across * across)
    return drag * through + car.mass * GRAVITY * (coefficient + slope)


@kernel
def limit_speed(cap, target, slope, tail, across, spacing, car, braking_limit, power, steady, closed):
    """Lower a speed profile until braking and driving can follow it.

    cap : (n,) speeds that are never passed: of the bends, and of the target unless the driver lifts [m/s]
    target : speed up to which a driver who lifts drives, read for no other [m/s]
    slope : (n,) of the road [-]; tail, across : (n,) wind along the direction of travel and across it [m/s]
    spacing : of the stations [m]
    car : Car; braking_limit [m/s2], LIFTING for a driver who lifts; power [W]
    steady : drive force of a steady current, 0 for a driver who uses the power [N]
    closed : the last station is the first again, so both sweeps go round until nothing changes
    Returns (n,) speeds [m/s]; doing it again changes nothing.  Source: as for `plan_pace`.
    """
    n = len(cap)
    square = cap * cap
    rounds = ROUNDS if closed else 1
    for _ in range(rounds):
        changed = False
        for i in range(n - 2, -1, -1):
            slowing = braking_limit
            if braking_limit == LIFTING:
                # Down a hill that speeds it up the car is held by its brakes where a bend's limit asks for it, and only there.
                slowing = max(resistance(car, sqrt(square[i + 1]), slope[i], tail[i], across[i]) / car.mass, 0.0)
            allowed = square[i + 1] + 2.0 * slowing * spacing
            if square[i] > allowed:
                square[i] = allowed
                changed = True
        if closed:
            square[n - 1] = min(square[n - 1], square[0])
            square[0] = square[n - 1]
        if not changed:
            break
    for _ in range(rounds):
        changed = False
        for i in range(n - 1):
            speed = sqrt(max(square[i], LEAST_CRUISE**2))
            force = power / speed
            if car.motor.torque_constant > 0.0:
                force = min(force, most_force(car.motor, car.battery.open_voltage, car.battery.internal_resistance, speed))
            if steady > 0.0:
                force = min(force, steady)
            held = resistance(car, speed, slope[i], tail[i], across[i])
            gain = (force - held) / car.mass
            # A hill too steep for the power slows the plan, but never below a crawl: there the car itself shows that it stalls.
            allowed = max(square[i] + 2.0 * gain * spacing, LEAST_CRUISE**2)
            if braking_limit == LIFTING:
                own = resistance(car, speed, 0.0, tail[i], across[i]) * (1.0 + COAST_MARGIN)
                down = own + car.mass * GRAVITY * 0.5 * (slope[i] + slope[i + 1])
                allowed = max(min(allowed, target * target), square[i] - 2.0 * down / car.mass * spacing)
            if square[i + 1] > allowed:
                square[i + 1] = allowed
                changed = True
        if closed:
            square[0] = min(square[n - 1], square[0])
            square[n - 1] = square[0]
        if not changed:
            break
    return np.sqrt(square)


@inlined
def understeer_factor(driver, square):
    """By how much more a steady turn needs to be steered than at a crawl, as far as the driver makes up for it.

    driver : Driver; square : of the speed [m2/s2]
    Returns the factor [-].  Source: steer = l k (1 + v^2 Q / P), see `driver_of`.
    """
    return min(max(1.0 + driver.understeer * square, LEAST_FACTOR), MOST_FACTOR)


@inlined
def preview_distance(driver, speed, square, factor):
    """How far ahead the driver aims at the line.

    driver : Driver; speed [m/s]; square : of it [m2/s2]; factor : `understeer_factor` [-]
    Returns the distance [m].  Source: the linear study in `driver_of`; a steady hand where the car is quick to answer.
    """
    return max(max(driver.preview * speed, driver.nearest), square * max(driver.settling, driver.turning_in / factor))


@inlined
def steer_demand(ahead, lateral_error, heading, preview, factor, wheelbase, rear_arm):
    """Equivalent single-track steer that the driver asks for.

    ahead : curvature of the line a little ahead [1/m]
    lateral_error : mass centre left of the line [m]
    heading : direction of the car's axis against that which it has in the steady turn, positive to the left [rad]
    preview : distance at which the driver aims at the line [m]; factor : `understeer_factor` [-]
    wheelbase, rear_arm : l and the mass centre's distance from the rear axle [m]
    Returns the steer [rad].  Source: the steer of `chassis.kinematic_steer` for the line's curvature plus that of the arc, 2 e / d^2,
    which meets the line at the preview distance (pursuit geometry); derived here.  The car's axis stands for the direction of travel,
    for at a walk the drift swings on the tyres hardly damped, and hands that answered it would keep the swing going.
    """
    wanted = ahead - 2.0 * (lateral_error + preview * heading) / (preview * preview)
    sine = min(max(rear_arm * wanted, -0.95), 0.95)
    return arc_tangent(factor * wheelbase * wanted, sqrt(1.0 - sine * sine))


@inlined
def heading_off(sine, curvature, square, rear_arm, drift):
    """Sine of the heading error, less that of a steady turn on the line, in which the car's axis does not point along it.

    sine : of the heading error [-]; curvature : of the line [1/m]; square : of the speed [m2/s2]; rear_arm [m]; drift : of Driver [s2/m]
    Returns it [-].  Source: sideslip b k - v^2 k / (g c_rear) for small angles, `chassis.kinematic_steer` at a crawl.
    """
    return sine + curvature * (rear_arm - drift * square)
