"""`coast`: which set-ups a circle is compared with, a piece of a scenario, and a plot of the residuals."""

from collections.abc import Callable
from pathlib import Path

import numpy as np

from sim.coast.result import CircleCoast, CoastResult, DistanceRows, SpeedRows
from sim.errors import InputError
from sim.scenario.choice import chosen_setup
from sim.scenario.scenario import Scenario
from viz.coast.report import coast_sentence, plus_minus


def circle_coast_result(
    logs: list[Path], mass: float, radius: float, scenario: Scenario, source: str, setup: str | None = None,
    rotating_mass: float | None = None, air_density: float | None = None, modelling: Callable[[], None] = lambda: None,
) -> CircleCoast:  # fmt: skip
    """Cornering drag from logs of a car that coasts round a circle, beside the model's for the scenario's set-ups.

    setup : only this one, all where None; the others as for `sim.coast.circle_result.circle_coast`
    Returns a CircleCoast.  Raises InputError as there, and for a set-up that there is not.
    """
    from sim.coast.circle_result import check_radius, circle_coast

    check_radius(radius, scenario)
    chosen = list(scenario.setup)
    if setup is not None:
        chosen = [chosen[chosen_setup([one.name for one in chosen], setup, source)]]
    return circle_coast(logs, mass, radius, scenario, source, chosen, rotating_mass, air_density, modelling)


def coast_fragment(result: CoastResult) -> str:
    """The measured figures as lines for a scenario, their uncertainty in comments; of a figure at its bound only a comment.

    Raises InputError for a circle, which does not measure them.
    """
    if result.kind == "circle":
        problem = "a circle measures neither rolling coefficient nor drag area"
        raise InputError("--fragment", "", problem, "give the logs of a straight road")
    ways = "both ways" if result.both_ways else "one way only"
    correlation = "" if result.correlation is None else f"; correlation {result.correlation:.2f}"
    lines = [f"# Measured by coasting, {ways}; +- is a 95 % interval{correlation}.",
             f"# Mass {result.mass_kg:g} kg, air density {result.air_density_kg_per_m3:g} kg/m3."]  # fmt: skip
    for table, key, one in (("car", "drag_area_m2", result.drag_area_m2), ("car.tyre", "rolling_resistance", result.rolling_resistance)):
        if one.bound_hit:
            lines += ["", f"# {key} is left out: it stands at its bound ({one.value:g}), and the log cannot tell it."]
            continue
        value, _, half = plus_minus(one.value, one.half_width).partition(" +- ")
        lines += ["", f"[{table}]", f"{key} = {value}  # {f'+- {half}' if half else 'no interval'}"]
    return "\n".join(lines) + "\n"


def write_coast_plot(result: CoastResult, path: Path) -> None:
    """Draw the runs with their fitted curves and the residuals.  path : a PNG file.  Raises OSError where it can't be written."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9, 6.4), dpi=110, layout="constrained")
    FigureCanvasAgg(figure)
    above, below = figure.subplots(2, 1, sharex=True, height_ratios=(1.4, 1))
    kind = type(result.runs[0].rows)
    words = "speed [m/s]" if kind is SpeedRows else "distance [m]"
    looks = {"there": ("#0072B2", "o", "-"), "back": ("#D55E00", "s", "--")}
    named: set[str] = set()
    for run in result.runs:
        rows, (colour, mark, dashes) = run.rows, looks[run.way]
        if type(rows) is not kind:
            continue
        label = None if run.way in named else "round the circle" if result.kind == "circle" else f"way {run.way}"
        named.add(run.way)
        time, (measured, fitted) = rows.time_s, _measured_and_fitted(rows)
        for axes, values in ((above, measured), (below, measured - fitted)):
            axes.plot(time[rows.used], values[rows.used], mark, color=colour, markersize=2.5, alpha=0.6,
                      label=label if axes is above else None)  # fmt: skip
        above.plot(time, fitted, dashes, color="#000000", linewidth=1)
        above.plot(time[~rows.used], measured[~rows.used], "x", color=colour, markersize=6)
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


def _measured_and_fitted(rows: SpeedRows | DistanceRows) -> tuple[np.ndarray, np.ndarray]:
    if isinstance(rows, SpeedRows):
        return rows.speed_m_per_s, rows.fitted_speed_m_per_s
    return rows.distance_m, rows.fitted_distance_m


def _plot_title(result: CoastResult) -> str:
    if result.kind == "circle":
        return f"coasting round a circle of {abs(result.radius_m):g} m"
    return coast_sentence(result)
