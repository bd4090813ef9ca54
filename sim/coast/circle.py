"""A coast round a circle: what the bend itself takes from the car as built, beside what the model says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot, pi, sin, sqrt

import numpy as np

from sim.car.chassis import DIFFERENTIAL, GRAVITY, Car
from sim.car.motion import BodyColumn, WheelColumn
from sim.coast.circle_motion import Circling, coast_round
from sim.coast.echo import errors_of, noise_with
from sim.coast.fit import FittedCoast
from sim.coast.residuals import DIFFERENCE, Residuals, row_scatter, without_wild
from sim.coast.runs import STRAIGHT, Coast
from sim.errors import InputError
from sim.scenario.car import TyreTable
from sim.scenario.tables import bounds_of
from sim.steering.table import SteerTable
from sim.turn.steady import steady_turn

GRID = 60  # steps of the integration over a coast; its error is near 1e-7 m/s
SPEEDS = 4  # at which the measured drag and the model's are set side by side
MIDDLE = SPEEDS // 2  # the one that stands for all in a sentence
TOO_FAST = 10.0  # times the middle speed: no coast gets there, only a step of the search that goes astray
# How well the scenario knows the pneumatic trail: the literature's 6 to 25 mm as four standard deviations.  Judgement. [m]
TRAIL_SPREAD = 0.005
PLACES_AGREE = 0.25  # share within which places and radius agree; a satellite receiver's wander comes on top


@dataclass(frozen=True, eq=False)
class CircleFit:
    """Cornering drag of a car on a circle.

    radius [m]; effective_mass [kg]; rolling [-], drag_area [m2], air_density [kg/m3] : taken as known
    steady, rising : drag that does not depend on speed, and that side force costs at `reference` [N], [N], [m/s]
    rising_half_width : 95 % interval of `rising` [N]
    trail : pneumatic trail, taken as known within TRAIL_SPREAD [m]
    speeds, drag, half_width : (SPEEDS,) measured drag of side force and aligning, and its 95 % interval [m/s], [N], [N]
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
    trail: float
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


class CircleProblem(Residuals):
    """As `Residuals`, with cornering drag in the place of rolling and drag area: no slope, no wind, distances not used.

    Parameters: as for `Circling`.
    """

    def __init__(self, coasts: Sequence[Coast], car: Car, rotating_mass: float, radius: float):
        super().__init__(coasts, car.mass, rotating_mass, car.air_density)
        self.reference = float(np.median(np.concatenate([one.speed for one in coasts if one.speed is not None])))
        ways, shares = _ways(car, radius), np.array([car.wheelbase - car.front_arm, car.front_arm]) / car.wheelbase
        resistance = shares * np.array([car.front_tyre.rolling_resistance, car.rear_tyre.rolling_resistance])
        self.effective_mass = car.mass + rotating_mass * float(ways @ ways) / 2 + car.yaw_inertia / radius**2
        self.coefficient, rolling = float(resistance.sum()), float(resistance @ ways) * car.mass * GRAVITY
        lean = car.mass * car.height / radius**2  # times v^2: load that the outer wheels carry over, by how much further they go
        self.aligning = car.mass / radius**2
        self.uneven = car.height / (GRAVITY * radius**2)
        tyres = car.front_tyre, car.rear_tyre
        self.trail = float(shares @ [one.pneumatic_trail for one in tyres])
        self.motion = Circling(
            effective_mass=self.effective_mass, rolling=rolling, air=0.5 * car.air_density * car.drag_area + self.coefficient * lean,
            aligning=self.aligning, trail=self.trail, relaxation=float(shares @ [one.relaxation_length for one in tyres]),
            uneven=self.uneven, reference=self.reference, most=TOO_FAST * self.reference,
        )  # fmt: skip
        self.begin[:4] = 0.0
        self.low[:4], self.high[:4] = -np.inf, np.inf
        self.scales[:3] = 10.0, 10.0, 0.01  # [N], [N], [m]
        self.free = np.array([0, 1, 2, *range(4, 4 + self.count)])
        # Steps that grow from the start on, where side force slows the car down most.
        nodes = np.array([one.time[-1] for one in coasts]) * (np.arange(GRID + 1)[:, None] / GRID) ** 2
        self.steps = np.diff(nodes, axis=0)
        self.node = np.minimum((GRID * np.sqrt(self.clock / nodes[-1, self.owner])).astype(int), GRID - 1)
        step = self.steps[self.node, self.owner]
        t = (self.clock - nodes[self.node, self.owner]) / step
        # Cubic through the values and rates at both ends of a step.
        self.shares = np.array([(1 + 2 * t) * (1 - t) ** 2, t * t * (3 - 2 * t), step * t * (1 - t) ** 2, -step * t * t * (1 - t)])

    def held(self) -> np.ndarray:
        """The row that holds the trail near the scenario's.  Returns (1, p): 1 over TRAIL_SPREAD [1/m]."""
        rows = np.zeros((1, len(self.begin)))
        rows[0, 2] = 1 / TRAIL_SPREAD
        return rows

    def drag_shape(self, speeds: np.ndarray) -> np.ndarray:
        """Cornering drag of a unit of each parameter.

        speeds : (n,) [m/s]
        Returns (n, 3): of steady drag [-], of side force at the reference [-], of trail [N/m].
        """
        even = 1 + self.uneven * self.reference**2
        rising = (speeds / self.reference) ** 4 * (1 + self.uneven * speeds**2) / even
        return np.column_stack([np.ones_like(speeds), rising, self.aligning * speeds**2])

    def _speeds(self, several: np.ndarray) -> np.ndarray:
        """Speed at every row for several sets of parameters.  several : (k, p); gives (k, n)."""
        speeds, rates = np.empty((2, GRID + 1, len(several), self.count))
        coast_round(self.motion, np.ascontiguousarray(several), self.steps, speeds, rates)
        at, own, shares = self.node, self.owner, self.shares[:, :, None]
        ends = speeds[at, :, own], speeds[at + 1, :, own], rates[at, :, own], rates[at + 1, :, own]
        return sum(share * end for share, end in zip(shares, ends, strict=True)).T  # type: ignore[union-attr]

    def predicted(self, parameters: np.ndarray) -> list[tuple[np.ndarray, np.ndarray]]:
        """Speed of each coast at its times.

        parameters : (p,) in the class's order [N], [N], [m], [-], [m/s]
        Returns for each coast (speed [m/s], zeros for the distance [m]), each (n,).
        """
        speeds = self._speeds(parameters[None])[0]
        return [(speeds[self.owner == index], np.zeros(len(one.time))) for index, one in enumerate(self.coasts)]

    def slopes(self, parameters: np.ndarray) -> np.ndarray:
        """Derivatives of `off`, as of `Residuals`, from one integration of all changed parameters together.

        parameters : (p,) as in `predicted`
        Returns (n, p), in the units of `off` a unit of the parameter [m/s a unit].
        """
        changes = np.zeros((4, len(parameters)))
        changes[:3, :3] = np.diag(self.scales[:3])
        changes[3, 4 : 4 + self.count] = 1.0
        ahead, behind = np.split(self._speeds(parameters + DIFFERENCE * np.vstack([changes, -changes])), 2)
        along = ((ahead - behind) / (2 * DIFFERENCE)).T
        slopes = np.zeros((len(self.measured), len(parameters)))
        slopes[:, :3] = along[:, :3] / self.scales[:3]
        slopes[np.arange(len(slopes)), 4 + self.owner] = along[:, 3]
        return slopes


def _ways(car: Car, radius: float) -> np.ndarray:
    """Way of the front and of the rear axle's middle for each metre of the mass centre's, (2,) [-], of a car that rolls."""
    rear = sqrt(max(radius**2 - (car.wheelbase - car.front_arm) ** 2, 0.0))
    return np.array([hypot(rear, car.wheelbase), rear]) / abs(radius)


def fit_circle(coasts: Sequence[Coast], car: Car, rotating_mass: float, radius: float) -> CircleFit:
    """Fit the drag that a bend adds to rolling and air.

    coasts : on the circle, with speeds
    car : Car; its rolling coefficient and drag area are taken as known, its trail within TRAIL_SPREAD
    rotating_mass : inertia of all wheels over their radius squared [kg]; radius : of the circle, not 0 [m]
    Returns CircleFit.  Raises InputError where a log has no speeds, where its places do not lie on such a circle, and where it
    slows down less than any car would on it.

    m_e dv/dt = -(A + rho CdA v^2 / 2 + F), with F = F_0 + m n v^2 / R^2 + F_4 (v / v_ref)^4 (1 + h v^2 / (g R^2)):
    wheels that fight each other drag the same at any speed; side force m v^2 / R at the trail n turns the car back; it costs
    m v^4 / (c g R^2), and more as the outer wheels carry more while the inner ones slip more (linear tyre, small angles).
    A is what the wheels roll on the circle, each axle on its own radius, and C_rr m h v^2 / R^2 as the outer wheels carry more
    and roll further.  m_e has the wheels' inertia at those speeds, I_z / R^2 of the turning car, and 2 s F_4 / v^2 for what the
    tyres give back that were bent over the relaxation length s.  A slope of the ground averages out over whole turns.  Derived here.
    """
    if silent := next((one for one in coasts if one.speed is None), None):
        raise InputError(silent.source, "", "a circle needs measured speeds", "give a CSV log with a speed column")
    for one in coasts:
        _refuse_other_way(one, radius)
    problem = CircleProblem([replace(one, distance=None, direction=1) for one in coasts], car, rotating_mass, radius)
    found, noise, used = without_wild(problem)
    noise = noise_with(problem, found, noise, used)
    found = problem.solve(found, noise, used, "linear")
    off, seen = problem.off(found), problem.measured[used]
    speeds = np.linspace(max(float(seen.min()), 0.2 * float(seen.max())), float(seen.max()), SPEEDS)
    figures = np.zeros((SPEEDS + 2, len(found)))
    figures[:SPEEDS, :3], figures[SPEEDS, 0], figures[SPEEDS + 1, 1] = problem.drag_shape(speeds), 1.0, 1.0
    errors = errors_of(problem, found, noise, used, problem.free, figures)
    steady, rising = np.sqrt(np.diag(errors.covariance)[SPEEDS:])
    fitted = []
    for index, (one, (speed, way)) in enumerate(zip(problem.coasts, problem.predicted(found), strict=True)):
        fitted.append(FittedCoast(one, float(found[4 + index]), speed, way, used[problem.owner == index]))
    rms, exact = float(np.sqrt(np.mean(off[used] ** 2))), problem.is_exact(problem.is_speed, used, off)
    chi = np.nan if exact else float(np.sum(off[used] ** 2)) / errors.freedom / row_scatter(problem, off, problem.is_speed) ** 2
    fit = CircleFit(
        radius=radius, effective_mass=problem.effective_mass, rolling=problem.coefficient, drag_area=car.drag_area,
        air_density=car.air_density, steady=float(found[0]), rising=float(found[1]), rising_half_width=float(errors.half[-1]),
        trail=problem.trail, reference=problem.reference, speeds=speeds,
        drag=figures[:SPEEDS] @ found + problem.trail * problem.aligning * speeds**2, half_width=errors.half[:SPEEDS],
        least=least_drag(car.mass, radius, speeds),
        correlation=float(errors.covariance[SPEEDS, SPEEDS + 1] / max(steady * rising, 1e-300)), freedom=errors.freedom, rms_speed=rms,
        reduced_chi_square=chi, echo=errors.echo, widened=errors.widened, coasts=tuple(fitted),
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
    stiffest = bounds_of(TyreTable)["cornering_stiffness_per_rad"][1]
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
    Returns the drag, (n,) [N], NaN where there is no such turn.  The drive's own slip is left out, since a coasting car has none, and
    both sides drive alike, since one driven wheel would turn the car.
    """
    drags, car = np.full(len(speeds), np.nan), car._replace(drive=DIFFERENTIAL)
    for index, speed in enumerate(speeds):
        turn = steady_turn(car, table, radius, float(speed))
        if turn.converged:
            drags[index] = (turn.wheels[:, WheelColumn.LATERAL_LOSS].sum() + turn.body[BodyColumn.ALIGNING_POWER]) / speed
    return drags
