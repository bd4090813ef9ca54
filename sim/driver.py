"""The driver: a pace plan that is the same for every set-up, and hands that follow the line."""

from dataclasses import dataclass
from math import atan, sqrt
from typing import NamedTuple

import numpy as np

from sim.chassis import GRAVITY, Car
from sim.compiled import kernel
from sim.course import Course

# A driver cannot plan slower than this on a standing start; the car would never leave.
LEAST_CRUISE = 0.3  # [m/s]


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


def plan_pace(
    course: Course, car: Car, *, target: float, lateral_limit: float, braking_limit: float, power: float, start: float | None
) -> PacePlan:
    """The speed that a driver of this car plans for a course.

    course : Course
    car : Car; its mass, air drag and rolling resistance limit what the power can do
    target, lateral_limit, braking_limit, power : [m/s], [m/s2], [m/s2], [W]
    start : speed at the start of an open course, None for a rolling start [m/s]
    Returns a PacePlan on the course's stations.  Source: v^2 <= a_lat / |k| at each point, then a sweep against the direction of
    travel with the braking limit and one along it with the power; the usual two-sweep construction, derived here.
    """
    with np.errstate(divide="ignore"):
        cap = np.minimum(target, np.sqrt(lateral_limit / np.abs(course.curvature)))
    if course.closed:
        cap[0] = cap[-1] = min(cap[0], cap[-1])
    elif start is not None:
        cap[0] = min(cap[0], start)
    spacing = course.station[1] - course.station[0]
    speed = limit_speed(cap, course.slope, spacing, car, braking_limit, power, course.closed)
    return PacePlan(course.station, speed, power)


@kernel
def limit_speed(cap, slope, spacing, car, braking_limit, power, closed):
    """Lower a speed profile until braking and power can follow it.

    cap : (n,) speeds that bends and target allow [m/s]
    slope : (n,) of the road [-]
    spacing : of the stations [m]
    car : Car; braking_limit [m/s2]; power [W]
    closed : the last station is the first again, so both sweeps go round twice
    Returns (n,) speeds [m/s]; doing it again changes nothing.  Source: as for `plan_pace`.
    """
    n = len(cap)
    square = cap * cap
    rounds = 2 if closed else 1
    for _ in range(rounds):
        for i in range(n - 2, -1, -1):
            square[i] = min(square[i], square[i + 1] + 2.0 * braking_limit * spacing)
        if closed:
            square[n - 1] = min(square[n - 1], square[0])
            square[0] = square[n - 1]
    weight = car.mass * GRAVITY
    for _ in range(rounds):
        for i in range(n - 1):
            speed = sqrt(max(square[i], LEAST_CRUISE**2))
            held = 0.5 * car.air_density * car.drag_area * speed * speed
            held += car.front_tyre.rolling_resistance * weight + weight * slope[i]
            gain = (power / speed - held) / car.mass
            # A hill too steep for the power slows the plan, but never below a crawl: there the car itself shows that it stalls.
            square[i + 1] = min(square[i + 1], max(square[i] + 2.0 * gain * spacing, LEAST_CRUISE**2))
        if closed:
            square[0] = min(square[n - 1], square[0])
            square[n - 1] = square[0]
    return np.sqrt(square)


@kernel
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
    return atan(wheelbase * wanted / sqrt(1.0 - sine * sine))
