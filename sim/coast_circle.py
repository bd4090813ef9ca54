"""A coast round a circle: what the bend itself takes from the car as built, beside what the model says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from sim.chassis import GRAVITY, Car
from sim.coast_problem import Problem, echo_of, row_scatter, without_wild
from sim.coast_runs import Coast
from sim.coastdown import CONFIDENCE, FittedCoast, inverse_of
from sim.cornering import steady_turn
from sim.errors import InputError
from sim.motion import ALIGNING_POWER, LATERAL_LOSS
from sim.steering.table import SteerTable

GRID = 120  # steps of the integration over a coast; its error is near 1e-10 m/s
SPEEDS = 4  # at which the measured drag and the model's are set side by side


@dataclass(frozen=True, eq=False)
class CircleFit:
    """Cornering drag of a car on a circle.

    radius [m]; effective_mass [kg]; rolling [-], drag_area [m2], air_density [kg/m3] : taken as known
    steady, rising : drag that does not depend on speed, and that grows with its fourth power, at `reference` [N], [N], [m/s]
    speeds, drag, half_width : (SPEEDS,) measured drag and its 95 % interval [m/s], [N], [N]
    the rest as in `CoastFit`
    """

    radius: float
    effective_mass: float
    rolling: float
    drag_area: float
    air_density: float
    steady: float
    rising: float
    reference: float
    speeds: np.ndarray
    drag: np.ndarray
    half_width: np.ndarray
    correlation: float
    freedom: int
    rms_speed: float
    reduced_chi_square: float
    echo: float
    widened: float
    coasts: tuple[FittedCoast, ...]


class CircleProblem(Problem):
    """As `Problem`, with cornering drag in the place of rolling and drag area: no slope, no wind, distances not used."""

    def __init__(self, coasts: Sequence[Coast], car: Car, rotating_mass: float, radius: float):
        super().__init__(coasts, car.mass, rotating_mass, car.air_density)
        self.effective_mass = car.mass + rotating_mass + car.yaw_inertia / radius**2
        self.reference = float(np.median(np.concatenate([one.speed for one in coasts if one.speed is not None])))
        rolling = 0.5 * (car.front_tyre.rolling_resistance + car.rear_tyre.rolling_resistance)
        self.rolling, self.air = rolling * car.mass * GRAVITY, 0.5 * car.air_density * car.drag_area
        self.begin[:4] = 0.0
        self.low[:4], self.high[:4] = -np.inf, np.inf
        self.scales[:2] = 10.0  # [N]
        self.free = np.array([0, 1, *range(4, 4 + self.count)])

    def held(self) -> np.ndarray:
        """Nothing is held: a circle knows no slope and no wind.  Returns (0, p) [-]."""
        return np.zeros((0, len(self.begin)))

    def predicted(self, parameters: np.ndarray) -> list[tuple[np.ndarray, np.ndarray]]:
        """Speed of each coast at its times, by the classical Runge-Kutta method.

        parameters : (p,) steady drag, rising drag, two that are not used, then each coast's start speed [N], [N], [-], [-], [m/s]
        Returns for each coast (speed [m/s], zeros for the distance [m]), each (n,).
        """
        def rate(speed: float) -> float:
            rising = parameters[1] * (min(max(speed, 0.0), 100.0 * self.reference) / self.reference) ** 4
            return -(self.rolling + parameters[0] + self.air * speed * abs(speed) + rising) / self.effective_mass

        both = []
        for index, one in enumerate(self.coasts):
            step, speed = one.time[-1] / GRID, float(parameters[4 + index])
            speeds, rates = np.empty(GRID + 1), np.empty(GRID + 1)
            for node in range(GRID + 1):
                speeds[node], rates[node] = speed, (first := rate(speed))
                second = rate(speed + 0.5 * step * first)
                third = rate(speed + 0.5 * step * second)
                speed += step / 6 * (first + 2 * second + 2 * third + rate(speed + step * third))
            at = np.minimum((one.time / step).astype(int), GRID - 1)
            t = one.time / step - at
            # Cubic through the values and rates at both ends of a step.
            fitted = (
                (1 + 2 * t) * (1 - t) ** 2 * speeds[at] + t * t * (3 - 2 * t) * speeds[at + 1]
                + step * t * (1 - t) * ((1 - t) * rates[at] - t * rates[at + 1])
            )  # fmt: skip
            both.append((fitted, np.zeros_like(fitted)))
        return both


def fit_circle(coasts: Sequence[Coast], car: Car, rotating_mass: float, radius: float) -> CircleFit:
    """Fit the drag that a bend adds to rolling and air.

    coasts : on the circle, with speeds
    car : Car; its rolling coefficient and drag area are taken as known
    rotating_mass : inertia of all wheels over their radius squared [kg]; radius : of the circle, not 0 [m]
    Returns CircleFit.  Raises InputError where a log has no speeds.

    m_e dv/dt = -(C_rr m g + rho CdA v^2 / 2 + F), m_e with the wheels' inertia and I_z / R^2 of the turning car, and
    F = F_0 + F_4 (v / v_ref)^4: wheels that fight each other drag the same at any speed, and side force costs
    m v^4 / (c g R^2) (linear tyre, small angles).  A slope of the ground averages out over whole turns.  Derived here.
    """
    if silent := next((one for one in coasts if one.speed is None), None):
        raise InputError(silent.source, "", "a circle needs measured speeds", "give a CSV log with a speed column")
    problem = CircleProblem([replace(one, distance=None, direction=1) for one in coasts], car, rotating_mass, radius)
    found, noise, used = without_wild(problem)
    off, freedom = problem.off(found), int(used.sum()) - len(problem.free)
    echo = echo_of(problem, off, used)
    widened = sqrt((1 + echo) / (1 - echo))
    rows = (problem.slopes(found) / noise[:, None])[used][:, problem.free]
    covariance = inverse_of(rows)[:2, :2] * (int(used.sum()) / freedom) * widened**2
    seen = problem.measured[used]
    speeds = np.linspace(max(float(seen.min()), 0.2 * float(seen.max())), float(seen.max()), SPEEDS)
    shape = np.column_stack([np.ones(SPEEDS), (speeds / problem.reference) ** 4])
    from scipy.stats import t as student

    share = float(student.ppf(0.5 + CONFIDENCE / 2, freedom))
    rms = float(np.sqrt(np.mean(off[used] ** 2)))
    exact = rms <= 2 * problem.floor[0]
    row_noise = row_scatter(problem, off, problem.is_speed)
    fitted = []
    for index, (one, (speed, way)) in enumerate(zip(problem.coasts, problem.predicted(found), strict=True)):
        fitted.append(FittedCoast(one, float(found[4 + index]), speed, way, used[problem.owner == index]))
    return CircleFit(
        radius=radius, effective_mass=problem.effective_mass, rolling=problem.rolling / (car.mass * GRAVITY), drag_area=car.drag_area,
        air_density=car.air_density, steady=float(found[0]), rising=float(found[1]), reference=problem.reference, speeds=speeds,
        drag=shape @ found[:2], half_width=share * np.sqrt(np.einsum("ij,jk,ik->i", shape, covariance, shape)),
        correlation=float(covariance[0, 1] / sqrt(max(covariance[0, 0] * covariance[1, 1], 1e-300))), freedom=freedom, rms_speed=rms,
        reduced_chi_square=np.nan if exact else rms**2 * int(used.sum()) / freedom / row_noise**2, echo=echo, widened=widened,
        coasts=tuple(fitted),
    )  # fmt: skip


def model_drag(car: Car, table: SteerTable, radius: float, speeds: np.ndarray) -> np.ndarray:
    """What the model says that a bend adds: lateral slip and aligning losses of the steady turn over the speed.

    car : Car; table : SteerTable; radius : of the mass centre's path, left positive [m]; speeds : (n,) above 0 [m/s]
    Returns the drag, (n,) [N], NaN where there is no such turn.  The drive's own slip is left out, since a coasting car has none.
    """
    drags = np.full(len(speeds), np.nan)
    for index, speed in enumerate(speeds):
        turn = steady_turn(car, table, radius, float(speed))
        if turn.converged:
            drags[index] = (turn.wheels[:, LATERAL_LOSS].sum() + turn.body[ALIGNING_POWER]) / speed
    return drags
