"""Words of `coast`: the finding and the report."""

from collections.abc import Sequence
from math import floor, log10
from pathlib import Path
from typing import Any

from rich.table import Table
from rich.text import Text

from sim.car.chassis import GRAVITY
from sim.coast.doubts import TYPICAL_SPEED
from sim.coast.result import CircleCoast, CoastResult, CoastRun, StraightCoast
from viz.shared.words import plain_table

UNSEEN = 1e-3  # of its interval: a value below it is rounding of the search
CAUTION = (
    "Safety: coast only on closed ground, never on a public road with traffic; helmets on, brakes checked, a competent adult present, "
    "and the event's rules kept."
)
BEYOND = (
    "Not in the intervals: an error of the mass or of the air density, wind that changes between the runs, a slope that changes along "
    "the road. Errors that hang together over some rows, as satellite speeds have them, are allowed for as the residuals show them; "
    "such as last as long as the log itself can't be seen in it."
)


def plus_minus(value: float, half: float | None) -> str:
    """A value and its interval to two figures of the interval, e.g. "0.0083 +- 0.0004"."""
    if half is None or not half > 0:
        return f"{value:.6g}"
    places = max(0, min(9, 1 - floor(log10(half)) - (f"{half:.0e}"[0] not in "12")))
    return f"{value:.{places}f} +- {half:.{places}f}" if round(half, places) > 0 else f"{value:.{places}f} +- {half:.0e}"


def coast_sentence(result: StraightCoast) -> str:
    """The finding of a straight coast in one line, with the correlation of its figures."""
    correlation = "" if result.correlation is None else f", correlation {result.correlation:.2f}"
    return figures_words(result) + correlation


def figures_words(result: StraightCoast) -> str:
    """Rolling coefficient and drag area with their intervals."""
    rolling, area = result.rolling_resistance, result.drag_area_m2
    share = 100 * (rolling.half_width or 0.0) / rolling.value if rolling.value > 0 else 0.0
    percent = f" ({share:.0f} %)" if 1 <= share < 100 else f" ({share:.1g} %)" if 0 < share < 1 else ""
    figures = []
    for words, one, unit, after in (("rolling coefficient", rolling, "", percent), ("drag area", area, " m2", "")):
        if one.bound_hit:
            figures.append(f"{words} not told by this log (it stands at its bound, {one.value:g}{unit})")
        else:
            unseen = " (cannot be told from 0)" if one.half_width is not None and one.half_width >= one.value else ""
            figures.append(f"{words} {plus_minus(one.value, one.half_width)}{unit}{after}{unseen}")
    return ", ".join(figures)


def drag_words(result: StraightCoast) -> str:
    """What the figures mean at a usual speed, empty where none is told."""
    rolling, area = result.rolling_resistance, result.drag_area_m2
    rolls = rolling.value * result.mass_kg * GRAVITY
    air = 0.5 * result.air_density_kg_per_m3 * area.value * TYPICAL_SPEED**2
    forces = (("rolling", rolling, rolls), ("air", area, air))
    drags = [f"{force:.1f} N of {word} drag" for word, one, force in forces if not one.bound_hit]
    return f"At {TYPICAL_SPEED:g} m/s that is {' and '.join(drags)}. " if drags else ""


def coast_report(result: CoastResult) -> list[Any]:
    """What `coast --explain` prints, of a straight or of a circle."""
    lines = _circle_lines(result) if result.kind == "circle" else _straight_lines(result)
    lines += [Text(f"Warning: {one}") for one in result.warnings]
    lines += [Text(""), _run_table(result.runs)]
    left = ", ".join(f"{count} {reason}" for reason, count in result.points_left_out.items())
    lines.append(Text(f"{result.points_used} points used; left out: {left or 'none'}."))
    both = ((result.rms_speed_m_per_s, "m/s"), (None if result.kind == "circle" else result.rms_distance_m, "m"))
    rms = [f"{value:.2g} {unit}" for value, unit in both if value is not None]
    chi = result.reduced_chi_square
    shown = "not given for a log without noise" if chi is None else f"{chi:.2f} against the scatter from row to row"
    lines.append(Text(f"Residual rms {', '.join(rms)}; reduced chi-square {shown}; {result.degrees_of_freedom} degrees of freedom."))
    lines += [Text(note) for note in result.notes]
    return [*lines, Text(BEYOND), Text(""), Text(CAUTION)]


def _straight_lines(result: StraightCoast) -> list[Any]:
    rolling, area = result.rolling_resistance, result.drag_area_m2
    lines: list[Any] = [
        Text(coast_sentence(result), style="bold"),
        Text(f"{drag_words(result)}Each +- is a 95 % interval, scaled to the residuals."),
    ]
    table = plain_table(("", "left"), ("value", "right"), ("95 % +-", "right"), ("start value", "right"), ("bound hit", "left"))
    near = "" if result.both_ways else " (assumed near 0)"
    for one, name, factor in (
        (rolling, "rolling coefficient", 1.0), (area, "drag area m2", 1.0),
        (result.slope, f"slope of the way there, % up{near}", 100.0),
        (result.headwind_m_per_s, f"headwind of the way there m/s{near}", 1.0),
    ):  # fmt: skip
        half = one.half_width
        value = 0.0 if half is not None and abs(one.value) < UNSEEN * half else one.value
        table.add_row(name, f"{factor * value:z.4g}", "none" if half is None else f"{factor * half:z.4g}", f"{factor * one.start:z.4g}",
                      one.bound_hit or "no")  # fmt: skip
    return [
        *lines, Text(""), table,
        Text(
            f"Mass {result.mass_kg:g} kg, with the wheels' spin {result.effective_mass_kg:g} kg; air density "
            f"{result.air_density_kg_per_m3:g} kg/m3."
        ),
    ]  # fmt: skip


def circle_sentences(result: CircleCoast) -> list[str]:
    """The finding of a circle, then what the model of each set-up says of it."""
    middle = len(result.measured) // 2
    one = result.measured[middle]
    bend, at = f"bend of {abs(result.radius_m):g} m", f"at {one.speed_m_per_s:.1f} m/s"
    measured = f"{plus_minus(one.cornering_drag_N, one.half_width_N)} N"
    lines = [
        f"A {bend} costs the car as built {measured} {at}." if result.cornering_drag_seen else
        f"No cornering drag can be seen: what a {bend} costs, {measured} {at}, cannot be told from nothing."
    ]  # fmt: skip
    for setup in result.setups:
        model = setup.cornering_drag_N[middle]
        if model is None:
            lines.append(f'The model of "{setup.name}" finds no such turn at that speed.')
            continue
        apart = one.cornering_drag_N - model
        differs = f"{abs(apart):.1f} N {'less' if apart > 0 else 'more'} than measured"
        agrees = "which agrees" if result.cornering_drag_seen else "within that interval, as nothing is"
        verdict = agrees if abs(apart) <= one.half_width_N else differs
        lines.append(f'The model of "{setup.name}" says {model:.1f} N: {verdict}.')
    return lines


def _circle_lines(result: CircleCoast) -> list[Any]:
    first, *others = circle_sentences(result)
    lines: list[Any] = [Text(first, style="bold"), *map(Text, others)]
    columns = [(f"model N\n{setup.name}", "right") for setup in result.setups]
    table = plain_table(("speed\nm/s", "right"), ("measured\nN", "right"), ("95 % +-\nN", "right"), *columns)
    for index, row in enumerate(result.measured):
        modelled = [setup.cornering_drag_N[index] for setup in result.setups]
        table.add_row(f"{row.speed_m_per_s:.1f}", f"{row.cornering_drag_N:z.2f}", f"{row.half_width_N:.2f}",
                      *("no such turn" if value is None else f"{value:.2f}" for value in modelled))  # fmt: skip
    return [*lines, Text(""), table, Text(
        f"Rolling coefficient {result.rolling_resistance_taken:.4g} and drag area {result.drag_area_taken_m2:.4g} m2 are the "
        "scenario's, taken as exact: measure them straight first. What the wheels roll further and carry more on the circle counts as "
        f"rolling; the tyres' trail is taken for {1e3 * result.pneumatic_trail_taken_m:.0f} +- {1e3 * result.trail_spread_m:.0f} mm. "
        "A slope of the ground cancels over whole turns only."
    )]  # fmt: skip


def _run_table(runs: Sequence[CoastRun]) -> Table:
    figures = ("lines", "seconds", "from m/s", "to m/s", "points", "left out")
    table = plain_table(("run", "left"), ("way", "left"), *((heading, "right") for heading in figures))
    for run in runs:
        table.add_row(
            Text(Path(run.file).name), run.way, f"{run.first_line}-{run.last_line}", f"{run.duration_s:.1f}",
            f"{run.start_m_per_s:.2f}", f"{run.end_m_per_s:.2f}", str(run.points_used), str(run.points_left_out),
        )  # fmt: skip
    return table
