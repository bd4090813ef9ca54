"""A coast round a circle: what the bend itself takes from the car as built, beside what the model says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import pi, sin, sqrt

import numpy as np

from sim.chassis import GRAVITY, Car
from sim.coast_problem import Problem, bounds_of, echo_of, row_scatter, without_wild
from sim.coast_runs import STRAIGHT, Coast
from sim.coastdown import CONFIDENCE, FittedCoast
from sim.cornering import steady_turn
from sim.errors import InputError
from sim.motion import ALIGNING_POWER, LATERAL_LOSS
from sim.scenario import TyreTable
from sim.steering.table import SteerTable

GRID = 120  # steps of the integration over a coast; its error is near 1e-10 m/s
SPEEDS = 4  # at which the measured drag and the model's are set side by side
MIDDLE = SPEEDS // 2  # the one that stands for all in a sentence
TOO_FAST = 10.0  # times the middle speed: no coast gets there, only a step of the search that goes astray
PLACES_AGREE = 0.25  # share within which places and radius agree; a satellite receiver's wander comes on top


@dataclass(frozen=True, eq=False)
class CircleFit:
    """Cornering drag of a car on a circle.

    radius [m]; effective_mass [kg]; rolling [-], drag_area [m2], air_density [kg/m3] : taken as known
    steady, rising : drag that does not depend on speed, and that grows with its fourth power, at `reference` [N], [N], [m/s]
    rising_half_width : 95 % interval of `rising` [N]
    speeds, drag, half_width : (SPEEDS,) measured drag and its 95 % interval [m/s], [N], [N]
    least : (SPEEDS,) drag that no car stays below [N]
    the rest as in `CoastFit`
    """

    radius: float
    effective_mass: float
    rolling: float
    drag_area: float
    air_density: float
    steady: float
    rising: float
    rising_half_width: float
    reference: float
    speeds: np.ndarray
    drag: np.ndarray
    half_width: np.ndarray
    least: np.ndarray
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
            # Held between rest and a speed that no coast has, so that no parameters of the search let the integration run away.
            held = min(max(speed, 0.0), TOO_FAST * self.reference)
            rising = parameters[1] * (held / self.reference) ** 4
            return -(self.rolling + parameters[0] + self.air * held * held + rising) / self.effective_mass

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
    Returns CircleFit.  Raises InputError where a log has no speeds, where its places do not lie on such a circle, and where it
    slows down less than any car would on it.

    m_e dv/dt = -(C_rr m g + rho CdA v^2 / 2 + F), m_e with the wheels' inertia and I_z / R^2 of the turning car, and
    F = F_0 + F_4 (v / v_ref)^4: wheels that fight each other drag the same at any speed, and side force costs
    m v^4 / (c g R^2) (linear tyre, small angles).  A slope of the ground averages out over whole turns.  Derived here.
    """
    if silent := next((one for one in coasts if one.speed is None), None):
        raise InputError(silent.source, "", "a circle needs measured speeds", "give a CSV log with a speed column")
    for one in coasts:
        _refuse_other_way(one, radius)
    problem = CircleProblem([replace(one, distance=None, direction=1) for one in coasts], car, rotating_mass, radius)
    found, noise, used = without_wild(problem)
    off, freedom = problem.off(found), int(used.sum()) - len(problem.free)
    echo = echo_of(problem, off, used)
    widened = sqrt((1 + echo) / (1 - echo))
    rows = (problem.slopes(found) / noise[:, None])[used][:, problem.free]
    # The errors from a root of the covariance: no variance comes out below 0 where a single speed can't part steady from rising.
    root = np.linalg.pinv(rows)[:2] * sqrt(int(used.sum()) / freedom) * widened
    covariance = root @ root.T
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
    fit = CircleFit(
        radius=radius, effective_mass=problem.effective_mass, rolling=problem.rolling / (car.mass * GRAVITY), drag_area=car.drag_area,
        air_density=car.air_density, steady=float(found[0]), rising=float(found[1]),
        rising_half_width=share * sqrt(covariance[1, 1]), reference=problem.reference, speeds=speeds,
        drag=shape @ found[:2], half_width=share * np.linalg.norm(shape @ root, axis=1),
        least=least_drag(car.mass, radius, speeds),
        correlation=float(covariance[0, 1] / sqrt(max(covariance[0, 0] * covariance[1, 1], 1e-300))), freedom=freedom, rms_speed=rms,
        reduced_chi_square=np.nan if exact else rms**2 * int(used.sum()) / freedom / row_noise**2, echo=echo, widened=widened,
        coasts=tuple(fitted),
    )  # fmt: skip
    _refuse_impossible(fit)
    return fit


def turns_of(coast: Coast, radius: float) -> float:
    """How often a coast went round.  coast : with speeds; radius : of the circle, not 0 [m].  Returns the number of turns [-]."""
    assert coast.speed is not None
    way = float(np.sum(0.5 * (coast.speed[1:] + coast.speed[:-1]) * np.diff(coast.time)))
    return way / (2 * pi * abs(radius))


def least_drag(mass: float, radius: float, speeds: np.ndarray) -> np.ndarray:
    """What side force costs a car on the stiffest tyres that a scenario may have, all at the same slip: no car pays less.

    mass : of the car [kg]; radius : of the circle, not 0 [m]; speeds : (n,) [m/s]
    Returns the drag, (n,) [N].  The formula is that of `fit_circle`.
    """
    stiffest = bounds_of(TyreTable, "cornering_stiffness_per_rad")[1]
    return mass * speeds**4 / (stiffest * GRAVITY * radius**2)


def _refuse_other_way(coast: Coast, radius: float) -> None:
    """Refuse places that are not as far apart as the same way along the circle would have them: its chord, at most its width."""
    if coast.extent is None:
        return
    turns, width = turns_of(coast, radius), 2 * abs(radius)
    expected = width * (sin(pi * turns) if turns < 0.5 else 1.0)
    if abs(coast.extent - expected) > max(2 * STRAIGHT, PLACES_AGREE * expected):
        problem = f"its places lie up to {coast.extent:.0f} m apart; on a circle of {abs(radius):g} m that would be {expected:.0f} m"
        raise InputError(coast.source, f"point {coast.line[0]}", problem, "give logs of the circle, or the radius that was driven")


def _refuse_impossible(fit: CircleFit) -> None:
    """Refuse a drag that is below what any car pays, by more than its error, in the middle or at the highest speed.

    At low speed a bend costs next to nothing, and a small error of the rolling coefficient is enough to turn its sign.
    """
    spare = fit.drag + fit.half_width - fit.least
    worst = min((MIDDLE, SPEEDS - 1), key=lambda index: spare[index])
    if spare[worst] >= 0:
        return
    sources = list(dict.fromkeys(one.coast.source for one in fit.coasts))
    source = sources[0] if len(sources) == 1 else f"{sources[0]} and {len(sources) - 1} more"
    left, speed = f"{fit.drag[worst]:.1f} +- {fit.half_width[worst]:.1f} N", f"{fit.speeds[worst]:.1f} m/s"
    if fit.drag[worst] + fit.half_width[worst] < 0:
        problem = f"at {speed} the car slows down less than rolling and air alone would slow it, so no cornering drag is left ({left})"
    else:
        bend = f"a circle of {abs(fit.radius):g} m costs at least {fit.least[worst]:.1f} N even on the stiffest tyres"
        most = fit.drag[worst] + fit.half_width[worst]
        problem = f"at {speed} at most {most:.1f} N is left for the bend ({left}), where {bend}"
    remedy = "give logs of whole turns of this circle, and measure the scenario's rolling coefficient and drag area straight first"
    raise InputError(source, "", problem, remedy)


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
