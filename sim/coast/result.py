"""What coasting says of a car, as one result: of a straight road, or of a circle beside the model's set-ups."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from sim.coast.doubts import straight_warnings
from sim.coast.echo import CONFIDENCE
from sim.coast.fit import CoastFit, Fitted, FittedCoast, fit_coast, opposed
from sim.coast.residuals import SLOPE_SPREAD, WIND_SPREAD
from sim.coast.runs import read_coasts, turned_by_heading
from sim.errors import InputError
from sim.scenario.car import CarTable
from sim.scenario.course import CourseTable
from sim.scenario.tables import bounds_of
from sim.study.summary import known

if TYPE_CHECKING:
    from sim.coast.circle import CircleFit

USUAL_DENSITY = 1.225  # [kg/m3]; sea level at 15 degrees C


@dataclass(frozen=True)
class FittedFigure:
    """A fitted figure.

    value, half_width, start : with the half width of its 95 % interval, None at a bound, and where the search began [the figure's unit]
    bound_hit : "lower", "upper" or None
    """

    value: float
    half_width: float | None
    start: float
    bound_hit: str | None


@dataclass(frozen=True, eq=False)
class SpeedRows:
    """The rows of a coast whose log gives speeds, (n,) each.

    time_s : from the start [s]; speed_m_per_s, fitted_speed_m_per_s : as logged and as fitted [m/s]; used : whether a row counts
    """

    time_s: np.ndarray
    speed_m_per_s: np.ndarray
    fitted_speed_m_per_s: np.ndarray
    used: np.ndarray


@dataclass(frozen=True, eq=False)
class DistanceRows:
    """The rows of a coast whose log gives distances, (n,) each.

    time_s : from the start [s]; distance_m, fitted_distance_m : from the start, as logged and as fitted [m]; used : whether a row counts
    """

    time_s: np.ndarray
    distance_m: np.ndarray
    fitted_distance_m: np.ndarray
    used: np.ndarray


@dataclass(frozen=True)
class CoastRun:
    """One coast.

    file : its log; way : "there" or "back"; first_line, last_line : of the log [-]
    duration_s : from its first to its last row [s]; start_m_per_s, end_m_per_s : fitted speeds [m/s]
    points_used, points_left_out : how many of its rows [-]; rows : all of them
    """

    file: str
    way: str
    first_line: int
    last_line: int
    duration_s: float
    start_m_per_s: float
    end_m_per_s: float
    points_used: int
    points_left_out: int
    rows: SpeedRows | DistanceRows


@dataclass(frozen=True)
class CircleRun(CoastRun):
    """One coast round a circle.

    turns : how often it went round [-]
    """

    turns: float


@dataclass(frozen=True)
class StraightCoast:
    """What coasts on a straight road say: the names of the fields are the keys of `--json`.

    kind : tells it from a circle; mass_kg, effective_mass_kg : with the driver, and with the wheels' spin [kg]
    air_density_kg_per_m3 : as given or usual [kg/m3]; confidence : of the intervals [-]
    both_ways : whether slope and wind could be fitted
    rolling_resistance : coefficient [-]; drag_area_m2 : drag coefficient times frontal area [m2]
    slope, headwind_m_per_s : of the way there, rising and against the car positive [-], [m/s]
    assumed_slope_spread, assumed_wind_spread_m_per_s : standard deviations about 0, None where both ways were driven [-], [m/s]
    correlation, correlation_of_log_alone : of rolling and drag area, the latter with slope and wind known; None at a bound [-]
    condition : of the fit [-]; points_used, points_left_out : how many rows, the latter by reason [-]; degrees_of_freedom : of the fit [-]
    rms_speed_m_per_s, rms_distance_m : of the residuals, None without such rows [m/s], [m]
    reduced_chi_square : None for a log without noise [-]; neighbour_correlation : of the residuals [-]
    widened_by : what that does to the intervals [-]; warnings, notes : sentences; runs : the coasts
    """

    kind: Literal["straight"]
    mass_kg: float
    effective_mass_kg: float
    air_density_kg_per_m3: float
    confidence: float
    both_ways: bool
    rolling_resistance: FittedFigure
    drag_area_m2: FittedFigure
    slope: FittedFigure
    headwind_m_per_s: FittedFigure
    assumed_slope_spread: float | None
    assumed_wind_spread_m_per_s: float | None
    correlation: float | None
    correlation_of_log_alone: float | None
    condition: float
    points_used: int
    points_left_out: Mapping[str, int]
    degrees_of_freedom: int
    rms_speed_m_per_s: float | None
    reduced_chi_square: float | None
    neighbour_correlation: float
    widened_by: float
    rms_distance_m: float | None
    warnings: tuple[str, ...]
    notes: tuple[str, ...]
    runs: tuple[CoastRun, ...]


@dataclass(frozen=True)
class MeasuredDrag:
    """Cornering drag of the car as built at one speed.

    speed_m_per_s : where [m/s]; cornering_drag_N, half_width_N : with the half width of its 95 % interval [N]
    """

    speed_m_per_s: float
    cornering_drag_N: float
    half_width_N: float


@dataclass(frozen=True)
class ModelledDrag:
    """Cornering drag of a set-up by the model.

    name : of the set-up; cornering_drag_N : one for each measured speed, None where the model finds no such turn [N]
    """

    name: str
    cornering_drag_N: tuple[float | None, ...]


@dataclass(frozen=True)
class CircleCoast:
    """What coasts round a circle say: the names of the fields are the keys of `--json`.

    kind : tells it from a straight; scenario : its name; radius_m : left positive [m]
    mass_kg, effective_mass_kg : with the driver, and with the wheels' spin and the turn [kg]
    air_density_kg_per_m3 : as given or the scenario's [kg/m3]; confidence : of the intervals [-]
    rolling_resistance_taken, drag_area_taken_m2 : the scenario's, as exact [-], [m2]
    pneumatic_trail_taken_m, trail_spread_m : the scenario's, and how well it knows it [m]
    measured : the car as built, at some speeds; cornering_drag_seen : whether there is any, at the middle one
    steady_part_N : of the drag, at any speed [N]; rising_part_N, rising_part_at_m_per_s : what side force costs at a speed [N], [m/s]
    correlation : of these two [-]
    points_used, points_left_out : how many rows, the latter by reason [-]; degrees_of_freedom : of the fit [-]
    rms_speed_m_per_s : of the residuals [m/s]; reduced_chi_square : None for a log without noise [-]
    neighbour_correlation : of the residuals [-]; widened_by : what that does to the intervals [-]
    setups : the model at the measured speeds; warnings, notes : sentences; runs : the coasts
    """

    kind: Literal["circle"]
    scenario: str
    radius_m: float
    mass_kg: float
    effective_mass_kg: float
    air_density_kg_per_m3: float
    confidence: float
    rolling_resistance_taken: float
    drag_area_taken_m2: float
    pneumatic_trail_taken_m: float
    trail_spread_m: float
    measured: tuple[MeasuredDrag, ...]
    cornering_drag_seen: bool
    steady_part_N: float
    rising_part_N: float
    rising_part_at_m_per_s: float
    correlation: float
    points_used: int
    points_left_out: Mapping[str, int]
    degrees_of_freedom: int
    rms_speed_m_per_s: float | None
    reduced_chi_square: float | None
    neighbour_correlation: float
    widened_by: float
    setups: tuple[ModelledDrag, ...]
    warnings: tuple[str, ...]
    notes: tuple[str, ...]
    runs: tuple[CircleRun, ...]


CoastResult = StraightCoast | CircleCoast


def straight_coast(
    logs: list[Path], back: list[Path], mass: float, rotating_mass: float | None = None, air_density: float | None = None,
) -> StraightCoast:  # fmt: skip
    """Rolling coefficient and drag area from logs.

    logs, back : driven the one way and the other; mass : with the driver [kg]; rotating_mass : inertia of all wheels over their
    radius squared, None for not counted [kg]; air_density : None for the usual [kg/m3]
    Returns a StraightCoast, with None for the interval and the correlation of a figure at its bound.  Raises InputError for options out
    of bounds and for logs that cannot be used or show no drag at all.
    """
    wheels, density = checked_options(mass, rotating_mass, air_density)
    coasts, left_out, notes = read_coasts(logs, back)
    coasts, turned = turned_by_heading(coasts)
    fit = fit_coast(coasts, mass, wheels, density)
    _refuse_no_drag(fit)
    sources = sorted({one.source for one in coasts})
    many = [f"{name} holds {sum(one.source == name for one in coasts)} coasts; each has its own start speed."
            for name in sources if sum(one.source == name for one in coasts) > 1]  # fmt: skip
    return StraightCoast(
        kind="straight",
        mass_kg=mass, effective_mass_kg=fit.effective_mass, air_density_kg_per_m3=density, confidence=CONFIDENCE,
        both_ways=fit.both_ways,
        rolling_resistance=_fitted(fit.rolling), drag_area_m2=_fitted(fit.drag_area),
        slope=_fitted(fit.slope), headwind_m_per_s=_fitted(fit.wind),
        assumed_slope_spread=None if fit.both_ways else SLOPE_SPREAD,
        assumed_wind_spread_m_per_s=None if fit.both_ways else WIND_SPREAD,
        correlation=known(fit.correlation), correlation_of_log_alone=known(fit.own_correlation), condition=fit.condition,
        **quality(fit, left_out),
        rms_distance_m=known(fit.rms_distance),
        warnings=tuple(straight_warnings(fit, rotating_mass is not None, opposed(coasts, fit, wheels))),
        notes=(*notes, *turned, *many),
        runs=tuple(CoastRun(**run_figures(one)) for one in fit.coasts),
    )  # fmt: skip


def _refuse_no_drag(fit: CoastFit) -> None:
    """Refuse a fit in which nothing is measured: both figures at their lower bound."""
    if not fit.rolling.bound == fit.drag_area.bound == "lower":
        return
    one = fit.coasts[0]
    problem = (
        f"shows neither rolling nor air drag: the car goes from {one.speed[0]:.2f} to {one.speed[-1]:.2f} m/s in {one.coast.time[-1]:.0f} s"
    )
    remedy = "give a log of the car rolling out freely, neither driven nor downhill nor before the wind; drive both ways"
    raise InputError(one.coast.source, "", problem, remedy)


def checked_options(mass: float, rotating_mass: float | None, air_density: float | None) -> tuple[float, float]:
    """The options of every coast.

    mass : with the driver [kg]; rotating_mass : None for 0 [kg]; air_density : None for the usual [kg/m3]
    Returns rotating mass [kg] and air density [kg/m3].  Raises InputError where one is out of bounds.
    """
    density = USUAL_DENSITY if air_density is None else air_density
    wheels = 0.0 if rotating_mass is None else rotating_mass
    least, most = bounds_of(CarTable)["mass_kg"]
    thin, thick = bounds_of(CourseTable)["air_density_kg_per_m3"]
    if not least <= mass <= most:
        raise InputError("--mass", "", f"{mass:g} is not between {least:g} and {most:g}", "give the mass in kg with the driver")
    if not 0 <= wheels <= 0.3 * mass:
        problem = f"{wheels:g} is not between 0 and 0.3 of the mass ({0.3 * mass:g})"
        raise InputError("--rotating-mass", "", problem, "give the kg that the wheels' spin adds, about the mass of their rims and tyres")
    if not thin <= density <= thick:
        raise InputError("--air-density", "", f"{density:g} is not between {thin:g} and {thick:g}", "1.225 is sea level at 15 degrees C")
    return wheels, density


def _fitted(one: Fitted) -> FittedFigure:
    return FittedFigure(one.value, None if one.bound else one.half_width, one.start, one.bound or None)


def quality(fit: CoastFit | CircleFit, left_out: dict[str, int]) -> dict[str, Any]:
    """How well a fit meets its logs: the fields that both results share.  fit : of coasts; left_out : rows by reason [-]."""
    used = sum(int(one.used.sum()) for one in fit.coasts)
    wild = sum(len(one.used) for one in fit.coasts) - used
    return {
        "points_used": used, "points_left_out": left_out | ({"far off the fitted curve": wild} if wild else {}),
        "degrees_of_freedom": fit.freedom, "rms_speed_m_per_s": known(fit.rms_speed),
        "reduced_chi_square": known(fit.reduced_chi_square), "neighbour_correlation": fit.echo, "widened_by": fit.widened,
    }  # fmt: skip


def run_figures(one: FittedCoast) -> dict[str, Any]:
    """The fields of a CoastRun.  one : a fitted coast."""
    coast = one.coast
    rows: SpeedRows | DistanceRows
    if coast.speed is not None:
        rows = SpeedRows(coast.time, coast.speed, one.speed, one.used)
    else:
        assert coast.distance is not None
        rows = DistanceRows(coast.time, coast.distance, one.distance, one.used)
    return {
        "file": coast.source, "way": "there" if coast.direction == 1 else "back", "first_line": int(coast.line[0]),
        "last_line": int(coast.line[-1]), "duration_s": float(coast.time[-1]), "start_m_per_s": one.start_speed,
        "end_m_per_s": float(one.speed[-1]), "points_used": int(one.used.sum()), "points_left_out": int((~one.used).sum()), "rows": rows,
    }  # fmt: skip
