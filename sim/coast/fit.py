"""Rolling and air drag of a car from the way it coasts: the motion in closed form, and its fit to logs.

m_e dv/dt = -(A + B u |u|) - d m g s with u = v + d w: A = C_rr m g, B = rho CdA / 2, m_e with the inertia of the wheels,
s the slope and w the headwind of the first way, d = 1 on the first way and -1 on the way back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from sim.coast.echo import errors_of, noise_with
from sim.coast.residuals import SCALES, Residuals, row_scatter, without_wild
from sim.coast.runs import Coast

OPPOSED = 15.0  # variance ratio; chance exceeds it once in a million with many rows


@dataclass(frozen=True)
class Fitted:
    """A fitted number.

    half_width : of its 95 % interval, 0 at a bound, where there is none; start : where the search began
    bound : "lower", "upper" or ""
    """

    value: float
    half_width: float
    start: float
    bound: str = ""


@dataclass(frozen=True, eq=False)
class FittedCoast:
    """How one coast is met.  speed, distance : fitted [m/s], [m]; used : (n,) rows that count."""

    coast: Coast
    start_speed: float
    speed: np.ndarray
    distance: np.ndarray
    used: np.ndarray


@dataclass(frozen=True, eq=False)
class CoastFit:
    """What logs say about a car.

    mass, effective_mass [kg]; air_density [kg/m3]
    rolling [-], drag_area [m2], slope [-], wind [m/s] : Fitted; slope and wind of the first way
    both_ways : whether slope and wind were fitted; otherwise their spread widens the intervals
    correlation : of rolling and drag area, slope and wind included; of the log alone with those known: own_correlation; NaN where
    one of the two stands at its bound
    condition : of the fit, each column scaled to length 1
    rms_speed, rms_distance : of the residuals used, NaN where there are none [m/s], [m]
    reduced_chi_square : residuals against the scatter from row to row; NaN for an exact log
    echo : correlation of neighbouring residuals; widened : factor that it puts on the intervals
    """

    mass: float
    effective_mass: float
    air_density: float
    rolling: Fitted
    drag_area: Fitted
    slope: Fitted
    wind: Fitted
    both_ways: bool
    correlation: float
    own_correlation: float
    condition: float
    freedom: int
    rms_speed: float
    rms_distance: float
    reduced_chi_square: float
    echo: float
    widened: float
    coasts: tuple[FittedCoast, ...]


def fit_coast(coasts: Sequence[Coast], mass: float, rotating_mass: float, air_density: float) -> CoastFit:
    """Fit rolling coefficient and drag area, and slope and wind where both ways were driven.

    coasts : at least one, of FEWEST_ROWS rows or more each
    mass : of the car with its driver [kg]; rotating_mass : inertia of all wheels over their radius squared [kg]
    air_density [kg/m3]
    Returns CoastFit.

    The closed form of the motion is fitted to speeds and distances by least squares, each over its own noise, without wild rows
    (see `without_wild`).  With one way only, slope and wind are parameters held near 0 by their assumed spread, so that their
    share stands in the covariance.
    Intervals: Student's t over the covariance of the linearised fit, scaled to the residuals and to how alike neighbours are among
    them (see `echoes_of`).
    """
    problem = Residuals(coasts, mass, rotating_mass, air_density)
    found, noise, used = without_wild(problem)
    if not problem.both_ways:
        noise = noise_with(problem, found, noise, used)
        found = problem.solve(found, noise, used, "linear")
    return _judged(problem, found, noise, used, mass, rotating_mass, air_density)


def _judged(problem: Residuals, found: np.ndarray, noise: np.ndarray, used: np.ndarray, mass: float, rotating_mass: float,
            air_density: float) -> CoastFit:  # fmt: skip
    off = problem.off(found)
    bounds = ["lower" if one - low < 1e-4 * scale else "upper" if high - one < 1e-4 * scale else ""
              for one, low, high, scale in zip(found[:4], problem.low, problem.high, SCALES, strict=False)]  # fmt: skip
    free = np.array([index for index in problem.free if index >= 4 or not bounds[index]])
    errors = errors_of(problem, found, noise, used, free, np.eye(4, len(found)))
    half = np.where([one == "" for one in bounds], errors.half, 0.0)
    # The search stops short of a bound by its own tolerance; what it means is the bound.
    stand = {"lower": problem.low, "upper": problem.high, "": found}
    figures = [Fitted(float(stand[bounds[k]][k]), float(half[k]), float(problem.begin[k]), bounds[k]) for k in range(4)]
    chi = np.nan
    if not any(problem.is_exact(mask, used, off) for mask in problem.series):
        scattered = np.empty(len(off))
        for mask in problem.series:
            scattered[mask] = row_scatter(problem, off, mask)
        chi = float(np.sum((off / scattered)[used] ** 2)) / errors.freedom
    rms = [float(np.sqrt(np.mean(off[used & mask] ** 2))) if mask.any() else np.nan for mask in (problem.is_speed, ~problem.is_speed)]
    coasts = []
    for index, (one, (speed, way)) in enumerate(zip(problem.coasts, problem.predicted(found), strict=True)):
        mine = [used[mask & (problem.owner == index)] for mask in problem.series]
        counted = np.logical_and.reduce([mask for mask in mine if len(mask)])
        coasts.append(FittedCoast(one, float(found[4 + index]), speed, way, counted))
    return CoastFit(
        mass=mass, effective_mass=mass + rotating_mass, air_density=air_density, rolling=figures[0], drag_area=figures[1],
        slope=figures[2], wind=figures[3], both_ways=problem.both_ways, correlation=_correlation(errors.covariance),
        own_correlation=_correlation(errors.own), condition=errors.condition, freedom=errors.freedom,
        rms_speed=rms[0], rms_distance=rms[1], reduced_chi_square=chi, echo=errors.echo, widened=errors.widened, coasts=tuple(coasts),
    )  # fmt: skip


def opposed(coasts: Sequence[Coast], fit: CoastFit, rotating_mass: float) -> bool:
    """Whether two coasts that are said to go one way look as if they went opposite ways.

    coasts : of the fit; fit : CoastFit of one way; rotating_mass : as in the fit [kg]
    Returns True where a slope and a wind that meet them from opposite sides explain far more than chance (variance ratio above
    OPPOSED for the two parameters that this frees).
    """
    if len(coasts) != 2 or fit.both_ways or not fit.reduced_chi_square > 1:
        return False
    other = fit_coast([coasts[0], replace(coasts[1], direction=-1)], fit.mass, rotating_mass, fit.air_density)
    kind = "rms_distance" if np.isnan(fit.rms_speed) else "rms_speed"
    before, after = getattr(fit, kind) ** 2 * (fit.freedom + 4), getattr(other, kind) ** 2 * (other.freedom + 6)
    return before - after > 2 * OPPOSED * after / other.freedom


def _correlation(covariance: np.ndarray) -> float:
    size = sqrt(covariance[0, 0] * covariance[1, 1])
    return float(covariance[0, 1]) / size if size > 0 else np.nan
