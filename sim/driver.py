"""The driver: a pace plan that is the same for every set-up, and hands that follow the line."""

from dataclasses import dataclass
from math import sqrt
from typing import NamedTuple

import numpy as np

from sim.chassis import GRAVITY, Car
from sim.compiled import kernel
from sim.course import Course
from sim.inlined import piece
from sim.motor import most_force, steady_force
from sim.trigonometry import arc_tangent

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
    """A steady driver's habits; a named tuple because kernels read its fields by name."""

    lead: float = 0.12  # looks this far ahead for the bend, to make up for hand and tyre lag [s]
    preview: float = 0.45  # aims at the line this far ahead [s]
    # ... and at least this many times the mass centre's distance from the rear axle: steering moves the direction of travel at once
    # by that distance over the wheelbase, and below 2 the driver would answer his own steering and weave.
    least_preview: float = 2.2
    hand_lag: float = 0.10  # time constant of the hands [s]
    hand_rate: float = 1.2  # most that the hands turn, as equivalent single-track steer [rad/s]
    speed_gain: float = 2.0  # answers a speed error by this acceleration per m/s [1/s]


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


@piece
def steer_demand(curvature, lateral_error, drift, preview, wheelbase, rear_arm):
    """Equivalent single-track steer that the driver asks for.

    curvature : of the line a little ahead [1/m]
    lateral_error : mass centre left of the line [m]
    drift : sine of the angle between the direction of travel and the line's, positive to the left [-]
    preview : distance at which the driver aims at the line [m]
    wheelbase, rear_arm : l and the mass centre's distance from the rear axle [m]
    Returns the steer [rad].  Source: the steer of `chassis.kinematic_steer` for the line's curvature plus that of the arc, 2 e / d^2,
    which meets the line at the preview distance (pursuit geometry); derived here.
    """
    wanted = curvature - 2.0 * (lateral_error + preview * drift) / (preview * preview)
    sine = min(max(rear_arm * wanted, -0.95), 0.95)
    return arc_tangent(wheelbase * wanted, sqrt(1.0 - sine * sine))
