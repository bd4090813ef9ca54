"""What `coast` shows: figures as plain numbers, words, a plot of the residuals, and a piece of a scenario."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.coast.echo import CONFIDENCE
from sim.coast.fit import CoastFit, Fitted, FittedCoast, fit_coast, opposed
from sim.coast.residuals import SLOPE_SPREAD, WIND_SPREAD, bounds_of
from sim.coast.runs import read_coasts, turned_by_heading
from sim.errors import InputError
from sim.scenario.car import CarTable
from sim.scenario.choice import chosen_setup
from sim.scenario.course import CourseTable
from sim.scenario.scenario import Scenario
from sim.study.summary import known
from viz.coast.report import circle_warnings, coast_sentence, plus_minus, straight_warnings

if TYPE_CHECKING:
    from sim.coast.circle import CircleFit


USUAL_DENSITY = 1.225  # [kg/m3]; sea level at 15 degrees C
LARGEST_CIRCLE = 200.0  # [m]


def coast_result(
    logs: list[Path], back: list[Path], mass: float, rotating_mass: float | None = None, air_density: float | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Rolling coefficient and drag area from logs.

    logs, back : driven the one way and the other; mass : with the driver [kg]; rotating_mass : inertia of all wheels over their
    radius squared, None for not counted [kg]; air_density : None for the usual [kg/m3]
    Returns plain numbers for JSON, null for the interval and the correlation of a figure at its bound.  Raises InputError for options
    out of bounds and for logs that cannot be used or show no drag at all.
    """
    wheels, density = _checked(mass, rotating_mass, air_density)
    coasts, left_out, notes = read_coasts(logs, back)
    coasts, turned = turned_by_heading(coasts)
    fit = fit_coast(coasts, mass, wheels, density)
    _refuse_no_drag(fit)
    sources = sorted({one.source for one in coasts})
    many = [f"{name} holds {sum(one.source == name for one in coasts)} coasts; each has its own start speed."
            for name in sources if sum(one.source == name for one in coasts) > 1]  # fmt: skip
    return {
        "kind": "straight",
        "mass_kg": mass, "effective_mass_kg": fit.effective_mass, "air_density_kg_per_m3": density, "confidence": CONFIDENCE,
        "both_ways": fit.both_ways,
        "rolling_resistance": _fitted(fit.rolling), "drag_area_m2": _fitted(fit.drag_area),
        "slope": _fitted(fit.slope), "headwind_m_per_s": _fitted(fit.wind),
        "assumed_slope_spread": None if fit.both_ways else SLOPE_SPREAD,
        "assumed_wind_spread_m_per_s": None if fit.both_ways else WIND_SPREAD,
        "correlation": known(fit.correlation), "correlation_of_log_alone": known(fit.own_correlation), "condition": fit.condition,
        **_quality(fit, left_out),
        "rms_distance_m": known(fit.rms_distance),
        "warnings": straight_warnings(fit, rotating_mass is not None, opposed(coasts, fit, wheels)),
        "notes": [*notes, *turned, *many],
        "runs": [_run(one) for one in fit.coasts],
    }  # fmt: skip


def circle_coast_result(
    logs: list[Path], mass: float, radius: float, scenario: Scenario, source: str, setup: str | None = None,
    rotating_mass: float | None = None, air_density: float | None = None, modelling: Callable[[], None] = lambda: None,
) -> dict[str, Any]:  # fmt: skip
    """Cornering drag from logs of a car that coasts round a circle, beside the model's for the scenario's set-ups.

    logs : with speeds; mass [kg]; radius : of the circle, left positive [m]; scenario : gives rolling coefficient, drag area and the
    set-ups; source : its name in messages; setup : only this one; rotating_mass, air_density : as in `coast_result`, the
    scenario's air where it is None; modelling : called when the logs have been fitted and the model's turns begin
    Returns plain numbers for JSON.  Raises InputError as `coast_result`, for a set-up that there is not or cannot be built, and for
    logs that cannot be of this circle.
    """
    from sim.coast.circle import MIDDLE, TRAIL_SPREAD, fit_circle, model_drag, turns_of
    from sim.study.ready import car_of, make_entry

    if not scenario.car.wheelbase_mm * 1e-3 <= abs(radius) <= LARGEST_CIRCLE:
        problem = f"{radius:g} is not between the wheelbase ({scenario.car.wheelbase_mm * 1e-3:g}) and {LARGEST_CIRCLE:g} in size"
        raise InputError("--circle-radius", "", problem, "give the radius in metres, positive to the left")
    chosen = list(scenario.setup)
    if setup is not None:
        chosen = [chosen[chosen_setup([one.name for one in chosen], setup, source)]]
    wheels, density = _checked(mass, rotating_mass, air_density or scenario.course.air_density_kg_per_m3)
    coasts, left_out, notes = read_coasts(logs, [])
    car = car_of(scenario)._replace(mass=mass, air_density=density)
    fit = fit_circle(coasts, car, wheels, radius)
    entries = [make_entry(one, scenario, source, f"setup[{scenario.setup.index(one)}]") for one in chosen]
    modelling()
    setups = []
    for entry in entries:
        modelled = [known(value) for value in model_drag(car, entry.table, radius, fit.speeds)]
        setups.append({"name": entry.name, "cornering_drag_N": modelled})
    return {
        "kind": "circle", "scenario": source, "radius_m": radius,
        "mass_kg": mass, "effective_mass_kg": fit.effective_mass, "air_density_kg_per_m3": density, "confidence": CONFIDENCE,
        "rolling_resistance_taken": fit.rolling, "drag_area_taken_m2": fit.drag_area,
        "pneumatic_trail_taken_m": fit.trail, "trail_spread_m": TRAIL_SPREAD,
        "measured": [
            {"speed_m_per_s": float(speed), "cornering_drag_N": float(drag), "half_width_N": float(half)}
            for speed, drag, half in zip(fit.speeds, fit.drag, fit.half_width, strict=True)
        ],
        "cornering_drag_seen": bool(fit.drag[MIDDLE] > fit.half_width[MIDDLE]),
        "steady_part_N": fit.steady, "rising_part_N": fit.rising, "rising_part_at_m_per_s": fit.reference,
        "correlation": fit.correlation, **_quality(fit, left_out),
        "setups": setups,
        "warnings": circle_warnings(fit, rotating_mass is not None),
        "notes": list(notes),
        "runs": [_run(one) | {"turns": turns_of(one.coast, radius)} for one in fit.coasts],
    }  # fmt: skip


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


def _checked(mass: float, rotating_mass: float | None, air_density: float | None) -> tuple[float, float]:
    density = USUAL_DENSITY if air_density is None else air_density
    wheels = 0.0 if rotating_mass is None else rotating_mass
    least, most = bounds_of(CarTable, "mass_kg")
    thin, thick = bounds_of(CourseTable, "air_density_kg_per_m3")
    if not least <= mass <= most:
        raise InputError("--mass", "", f"{mass:g} is not between {least:g} and {most:g}", "give the mass in kg with the driver")
    if not 0 <= wheels <= 0.3 * mass:
        problem = f"{wheels:g} is not between 0 and 0.3 of the mass ({0.3 * mass:g})"
        raise InputError("--rotating-mass", "", problem, "give the kg that the wheels' spin adds, about the mass of their rims and tyres")
    if not thin <= density <= thick:
        raise InputError("--air-density", "", f"{density:g} is not between {thin:g} and {thick:g}", "1.225 is sea level at 15 degrees C")
    return wheels, density


def _fitted(one: Fitted) -> dict[str, Any]:
    return {"value": one.value, "half_width": None if one.bound else one.half_width, "start": one.start, "bound_hit": one.bound or None}


def _quality(fit: CoastFit | CircleFit, left_out: dict[str, int]) -> dict[str, Any]:
    used = sum(int(one.used.sum()) for one in fit.coasts)
    wild = sum(len(one.used) for one in fit.coasts) - used
    return {
        "points_used": used, "points_left_out": left_out | ({"far off the fitted curve": wild} if wild else {}),
        "degrees_of_freedom": fit.freedom, "rms_speed_m_per_s": known(fit.rms_speed),
        "reduced_chi_square": known(fit.reduced_chi_square), "neighbour_correlation": fit.echo, "widened_by": fit.widened,
    }  # fmt: skip


def _run(one: FittedCoast) -> dict[str, Any]:
    coast = one.coast
    by_speed = coast.speed is not None
    measured, fitted = (coast.speed, one.speed) if coast.speed is not None else (coast.distance, one.distance)
    assert measured is not None
    key = "speed_m_per_s" if by_speed else "distance_m"
    return {
        "file": coast.source, "way": "there" if coast.direction == 1 else "back", "first_line": int(coast.line[0]),
        "last_line": int(coast.line[-1]), "duration_s": float(coast.time[-1]), "start_m_per_s": one.start_speed,
        "end_m_per_s": float(one.speed[-1]), "points_used": int(one.used.sum()), "points_left_out": int((~one.used).sum()),
        "rows": {"time_s": coast.time.tolist(), key: measured.tolist(), f"fitted_{key}": fitted.tolist(), "used": one.used.tolist()},
    }  # fmt: skip


def coast_fragment(result: dict[str, Any]) -> str:
    """The measured figures as lines for a scenario, their uncertainty in comments; of a figure at its bound only a comment.

    Raises InputError for a circle, which does not measure them.
    """
    if result["kind"] == "circle":
        problem = "a circle measures neither rolling coefficient nor drag area"
        raise InputError("--fragment", "", problem, "give the logs of a straight road")
    ways = "both ways" if result["both_ways"] else "one way only"
    correlation = "" if result["correlation"] is None else f"; correlation {result['correlation']:.2f}"
    lines = [f"# Measured by coasting, {ways}; +- is a 95 % interval{correlation}.",
             f"# Mass {result['mass_kg']:g} kg, air density {result['air_density_kg_per_m3']:g} kg/m3."]  # fmt: skip
    for table, key, scenario_key in (("car", "drag_area_m2", "drag_area_m2"), ("car.tyre", "rolling_resistance", "rolling_resistance")):
        one = result[key]
        if one["bound_hit"]:
            lines += ["", f"# {scenario_key} is left out: it stands at its bound ({one['value']:g}), and the log cannot tell it."]
            continue
        value, _, half = plus_minus(one["value"], one["half_width"]).partition(" +- ")
        lines += ["", f"[{table}]", f"{scenario_key} = {value}  # {f'+- {half}' if half else 'no interval'}"]
    return "\n".join(lines) + "\n"


def write_coast_plot(result: dict[str, Any], path: Path) -> None:
    """Draw the runs with their fitted curves and the residuals.  path : a PNG file.  Raises OSError where it can't be written."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9, 6.4), dpi=110, layout="constrained")
    FigureCanvasAgg(figure)
    above, below = figure.subplots(2, 1, sharex=True, height_ratios=(1.4, 1))
    by_speed = "speed_m_per_s" in result["runs"][0]["rows"]
    key, words = ("speed_m_per_s", "speed [m/s]") if by_speed else ("distance_m", "distance [m]")
    looks = {"there": ("#0072B2", "o", "-"), "back": ("#D55E00", "s", "--")}
    named: set[str] = set()
    for run in result["runs"]:
        rows, (colour, mark, dashes) = run["rows"], looks[run["way"]]
        if key not in rows:
            continue
        label = None if run["way"] in named else "round the circle" if result["kind"] == "circle" else f"way {run['way']}"
        named.add(run["way"])
        off = [one - fit for one, fit in zip(rows[key], rows[f"fitted_{key}"], strict=True)]
        for axes, values in ((above, rows[key]), (below, off)):
            times, kept = ([one for one, used in zip(row, rows["used"], strict=True) if used] for row in (rows["time_s"], values))
            axes.plot(times, kept, mark, color=colour, markersize=2.5, alpha=0.6, label=label if axes is above else None)
        above.plot(rows["time_s"], rows[f"fitted_{key}"], dashes, color="#000000", linewidth=1)
        times, wild = ([one for one, used in zip(row, rows["used"], strict=True) if not used] for row in (rows["time_s"], rows[key]))
        above.plot(times, wild, "x", color=colour, markersize=6)
    above.set_title(_plot_title(result), loc="left", fontsize=10, parse_math=False)
    above.set_ylabel(words, fontsize=9)
    below.set_ylabel(f"measured less fitted,\n{words}", fontsize=9)
    below.set_xlabel("time [s]; a cross is a row that was left out", fontsize=9)
    below.axhline(0, color="#000000", linewidth=1)
    above.legend(fontsize=9, frameon=False)
    for axes in (above, below):
        axes.spines[["top", "right"]].set_visible(False)
        axes.tick_params(labelsize=9)
    figure.savefig(path, metadata={"Software": None})


def _plot_title(result: dict[str, Any]) -> str:
    if result["kind"] == "circle":
        return f"coasting round a circle of {abs(result['radius_m']):g} m"
    return coast_sentence(result)
