"""Words of `coast`: warnings, the finding, the report."""

from __future__ import annotations

from math import floor, log10
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rich.text import Text

from sim.car.chassis import GRAVITY
from sim.coast.fit import CoastFit, Fitted
from sim.coast.residuals import SLOPE_SPREAD, WIND_SPREAD
from viz.shared.words import plain_table

if TYPE_CHECKING:
    from sim.coast.circle import CircleFit

# Bounds of what is called well separated, and of a chi-square that is called far from 1.  Judgements.
LOOSE, ALIKE, ILL = 0.5, 0.99, 1000.0
HIGH_CHI, LOW_CHI = 2.0, 0.5
SUSPECT_ROLLING = 0.02  # rolling worse than this on a fast log is what km/h under a metres header looks like
SMOOTH_ROLLING, SLOW_START = 0.004, 3.0  # better than this from a slower start [m/s]: metres a second under a km/h header
# A slope or a wind that one direction's fit ends with, in the standard deviations that it assumed for them.  Judgement: none of 1200
# made logs whose road and wind were drawn as assumed went beyond, for the fit draws both towards 0.
ASSUMED_REACH = 2.0
ALIKE_TOLD = 1.25  # neighbours that widen the intervals by less are not spoken of: independent rows look so by chance, too
UNSEEN = 1e-3  # of its interval: a value below it is rounding of the search
TYPICAL_WHEELS = 0.03  # of the mass: the share that four bicycle-size wheels' spin adds
TYPICAL_SPEED = 5.0  # [m/s]
CAUTION = (
    "Safety: coast only on closed ground, never on a public road with traffic; helmets on, brakes checked, a competent adult present, "
    "and the event's rules kept."
)
BEYOND = (
    "Not in the intervals: an error of the mass or of the air density, wind that changes between the runs, a slope that changes along "
    "the road. Errors that hang together over some rows, as satellite speeds have them, are allowed for as the residuals show them; "
    "such as last as long as the log itself can't be seen in it."
)


def straight_warnings(fit: CoastFit, wheels_given: bool, opposite: bool) -> list[str]:
    """What is doubtful about a fit.  wheels_given : whether the wheels' spin was given; opposite : whether the runs look like two ways."""
    warnings = _beyond_warnings(fit)
    loose = [
        f"the {word} only to {100 * one.half_width / max(one.value, 1e-12):.0f} %"
        for word, one in (("rolling coefficient", fit.rolling), ("drag area", fit.drag_area)) if one.half_width > LOOSE * one.value
    ]  # fmt: skip
    at_bound = fit.rolling.bound or fit.drag_area.bound
    if not at_bound and (abs(fit.own_correlation) > ALIKE or fit.condition > ILL or (loose and fit.both_ways)):
        known = f" (it gives {' and '.join(loose)})" if loose else ""
        warnings.append(
            f"this log can't separate rolling from air drag well{known}: their correlation is {fit.own_correlation:.3f}, the condition "
            f"number {fit.condition:.0f}; start faster, let the car roll until it nearly stops, and add runs."
        )
    if not fit.both_ways:
        warnings.append(
            "one direction only: a slope or a light wind can't be told from rolling. The intervals are widened for a road that is level "
            f"only within {100 * SLOPE_SPREAD:g} % and a wind along it of {WIND_SPREAD:g} m/s (standard deviations about 0). Drive the "
            "same road the other way and give that log after --back."
        )
    warnings += _bound_warnings(fit)
    if opposite:
        warnings.append("the two runs differ as if they went opposite ways on a sloping or windy road; if so, give one after --back.")
    fastest = max(one.start_speed for one in fit.coasts)
    if fit.rolling.value > SUSPECT_ROLLING and fastest > 2 * TYPICAL_SPEED:
        warnings.append(f"so much rolling drag from {fastest:.0f} m/s is what km/h under a header of m/s looks like; check the unit.")
    elif fit.rolling.value > SUSPECT_ROLLING:
        warnings.append("so much rolling drag is what a rubbing brake or soft ground looks like; check that each wheel spins freely.")
    elif fit.rolling.value < SMOOTH_ROLLING and fastest < SLOW_START:
        warnings.append(f"so little rolling drag from {fastest:.1f} m/s is what m/s under a header of km/h looks like; check the unit.")
    return warnings + _chi_warning(fit) + _echo_warning(fit) + _wheels_warning(wheels_given)


def _beyond_warnings(fit: CoastFit) -> list[str]:
    """What a slope or a wind beyond the fit's own assumption is a sign of; both ways nothing is assumed of them."""
    if fit.both_ways:
        return []
    wind, slope = fit.wind.value, 100 * fit.slope.value
    found = [
        f"{'headwind' if wind > 0 else 'tailwind'} of {abs(wind):.1f} m/s where it assumed 0 +- {WIND_SPREAD:g} m/s"
        if abs(wind) > ASSUMED_REACH * WIND_SPREAD else "",
        f"slope of {abs(slope):.2f} % {'up' if slope > 0 else 'down'} where it assumed 0 +- {100 * SLOPE_SPREAD:g} %"
        if abs(slope) > 100 * ASSUMED_REACH * SLOPE_SPREAD else "",
    ]  # fmt: skip
    told = " and a ".join(one for one in found if one)
    return [] if not told else [
        f"don't trust these figures: to meet the log, the fit needs a {told}. That is a sign that the log holds something else than a free "
        "roll on a level, calm road: real wind or slope, a brushing brake, a push, a wrong --mass. Look at the residuals (--plot) and "
        "drive both ways."
    ]  # fmt: skip


def _bound_warnings(fit: CoastFit) -> list[str]:
    """What a figure at its bound means, and what to do."""
    ways = "drive the road both ways" if fit.both_ways else "drive the same road the other way too, for a slope or a wind may hide it"
    check, sides = "check the brakes, --mass and the unit of the speed column", "check which logs are of the way back"
    figures: tuple[tuple[str, Fitted, str, dict[str, str]], ...] = (
        ("rolling coefficient", fit.rolling, "", {"lower": f"let the car roll until it nearly stops, and {ways}", "upper": check}),
        ("drag area", fit.drag_area, " m2", {"lower": f"start faster, and {ways}", "upper": check}),
        ("slope", fit.slope, "", {side: f"take a flatter road, and {sides}" for side in ("lower", "upper")}),
        ("wind", fit.wind, " m/s", {side: f"wait for a calm day, and {sides}" for side in ("lower", "upper")}),
    )
    return [
        f"the {word} stands at its bound ({one.value:g}{unit}): this log cannot tell it, and the other intervals are too narrow; "
        f"{remedies[one.bound]}."
        for word, one, unit, remedies in figures if one.bound
    ]  # fmt: skip


def circle_warnings(fit: CircleFit, wheels_given: bool) -> list[str]:
    """What is doubtful about a circle's fit.  wheels_given : whether the wheels' spin was given."""
    from sim.coast.circle import turns_of

    warnings = []
    pushed = [f"{speed:.1f}" for speed, drag, half in zip(fit.speeds, fit.drag, fit.half_width, strict=True) if drag + half < 0]
    if pushed:
        warnings.append(
            f"at {' and '.join(pushed)} m/s the bend would push the car on, which no bend does: the scenario's rolling coefficient is too "
            "large, or the ground falls. Measure rolling straight first."
        )
    if fit.rising + fit.rising_half_width < fit.least[-1] * (fit.reference / fit.speeds[-1]) ** 4:
        warnings.append(
            "the drag hardly rises with the speed, and what a bend costs does so with its fourth power: this may be a slope, a rubbing "
            "brake or wheels that fight each other rather than the bend."
        )
    fewest = min(turns_of(one.coast, fit.radius) for one in fit.coasts)
    if fewest < 1:
        warnings.append(f"a coast is only {fewest:.1f} of a turn, so a slope of the ground doesn't cancel in it; use a smaller circle.")
    return warnings + _chi_warning(fit) + _echo_warning(fit) + _wheels_warning(wheels_given)


def _chi_warning(fit: CoastFit | CircleFit) -> list[str]:
    chi = fit.reduced_chi_square
    if chi > HIGH_CHI:
        return [
            f"the residuals are larger than the scatter from row to row (reduced chi-square {chi:.1f}): gusts, a changing slope or a "
            "brushing brake are in the log. The intervals are scaled up to the residuals."
        ]
    if chi < LOW_CHI:
        more = f"neighbouring rows scatter more than the residuals as a whole (reduced chi-square {chi:.2f})"
        return [f"{more}; the intervals follow the residuals."]
    return []


def _echo_warning(fit: CoastFit | CircleFit) -> list[str]:
    if fit.widened < ALIKE_TOLD:
        return []
    alike = f"neighbouring residuals are alike (correlation {fit.echo:.2f}), so the rows tell less"
    return [f"{alike}; their share of the intervals is {fit.widened:.1f} times as wide as if each row stood for itself."]


def _wheels_warning(given: bool) -> list[str]:
    if given:
        return []
    return [
        f"the wheels' spin is not counted; it usually makes both figures about {100 * TYPICAL_WHEELS:.0f} % larger. Give it with "
        "--rotating-mass (about the mass of all rims and tyres)."
    ]


def plus_minus(value: float, half: float | None) -> str:
    """A value and its interval to two figures of the interval, e.g. "0.0083 +- 0.0004"."""
    if half is None or not half > 0:
        return f"{value:.6g}"
    places = max(0, min(9, 1 - floor(log10(half)) - (f"{half:.0e}"[0] not in "12")))
    return f"{value:.{places}f} +- {half:.{places}f}" if round(half, places) > 0 else f"{value:.{places}f} +- {half:.0e}"


def coast_sentence(result: dict[str, Any]) -> str:
    """The finding of a straight coast in one line."""
    rolling, area = result["rolling_resistance"], result["drag_area_m2"]
    share = 100 * (rolling["half_width"] or 0.0) / rolling["value"] if rolling["value"] > 0 else 0.0
    percent = f" ({share:.0f} %)" if 1 <= share < 100 else f" ({share:.1g} %)" if 0 < share < 1 else ""
    figures = []
    for words, one, unit, after in (("rolling coefficient", rolling, "", percent), ("drag area", area, " m2", "")):
        if one["bound_hit"]:
            figures.append(f"{words} not told by this log (it stands at its bound, {one['value']:g}{unit})")
        else:
            unseen = " (cannot be told from 0)" if one["half_width"] >= one["value"] else ""
            figures.append(f"{words} {plus_minus(one['value'], one['half_width'])}{unit}{after}{unseen}")
    if result["correlation"] is not None:
        figures.append(f"correlation {result['correlation']:.2f}")
    return ", ".join(figures)


def coast_report(result: dict[str, Any]) -> list[Any]:
    """What `coast` prints, of a straight or of a circle."""
    lines = _circle_lines(result) if result["kind"] == "circle" else _straight_lines(result)
    lines += [Text(f"Warning: {one}") for one in result["warnings"]]
    lines += [Text(""), _run_table(result["runs"])]
    left = ", ".join(f"{count} {reason}" for reason, count in result["points_left_out"].items())
    lines.append(Text(f"{result['points_used']} points used; left out: {left or 'none'}."))
    kinds = (("rms_speed_m_per_s", "m/s"), ("rms_distance_m", "m"))
    rms = [f"{result[key]:.2g} {unit}" for key, unit in kinds if result.get(key) is not None]
    chi = result["reduced_chi_square"]
    shown = "not given for a log without noise" if chi is None else f"{chi:.2f} against the scatter from row to row"
    lines.append(Text(f"Residual rms {', '.join(rms)}; reduced chi-square {shown}; {result['degrees_of_freedom']} degrees of freedom."))
    lines += [Text(note) for note in result["notes"]]
    return [*lines, Text(BEYOND), Text(""), Text(CAUTION)]


def _straight_lines(result: dict[str, Any]) -> list[Any]:
    rolling, area = result["rolling_resistance"], result["drag_area_m2"]
    rolls = rolling["value"] * result["mass_kg"] * GRAVITY
    air = 0.5 * result["air_density_kg_per_m3"] * area["value"] * TYPICAL_SPEED**2
    forces = (("rolling", rolling, rolls), ("air", area, air))
    drags = [f"{force:.1f} N of {word} drag" for word, one, force in forces if not one["bound_hit"]]
    that_is = f"At {TYPICAL_SPEED:g} m/s that is {' and '.join(drags)}. " if drags else ""
    lines: list[Any] = [
        Text(coast_sentence(result), style="bold"),
        Text(f"{that_is}Each +- is a 95 % interval, scaled to the residuals."),
    ]
    table = plain_table(("", "left"), ("value", "right"), ("95 % +-", "right"), ("start value", "right"), ("bound hit", "left"))
    for key, words, factor in (
        ("rolling_resistance", "rolling coefficient", 1.0), ("drag_area_m2", "drag area m2", 1.0),
        ("slope", "slope of the way there, % up", 100.0), ("headwind_m_per_s", "headwind of the way there m/s", 1.0),
    ):  # fmt: skip
        one = result[key]
        name = words if result["both_ways"] or key not in ("slope", "headwind_m_per_s") else f"{words} (assumed near 0)"
        half = one["half_width"]
        value = 0.0 if half is not None and abs(one["value"]) < UNSEEN * half else one["value"]
        table.add_row(name, f"{factor * value:z.4g}", "none" if half is None else f"{factor * half:z.4g}", f"{factor * one['start']:z.4g}",
                      one["bound_hit"] or "no")  # fmt: skip
    return [
        *lines, Text(""), table,
        Text(
            f"Mass {result['mass_kg']:g} kg, with the wheels' spin {result['effective_mass_kg']:g} kg; air density "
            f"{result['air_density_kg_per_m3']:g} kg/m3."
        ),
    ]  # fmt: skip


def _circle_lines(result: dict[str, Any]) -> list[Any]:
    middle = len(result["measured"]) // 2
    one = result["measured"][middle]
    bend, at = f"bend of {abs(result['radius_m']):g} m", f"at {one['speed_m_per_s']:.1f} m/s"
    measured = f"{plus_minus(one['cornering_drag_N'], one['half_width_N'])} N"
    lines: list[Any] = [Text(
        f"A {bend} costs the car as built {measured} {at}." if result["cornering_drag_seen"] else
        f"No cornering drag can be seen: what a {bend} costs, {measured} {at}, cannot be told from nothing.", style="bold"
    )]  # fmt: skip
    for setup in result["setups"]:
        model = setup["cornering_drag_N"][middle]
        if model is None:
            lines.append(Text(f'The model of "{setup["name"]}" finds no such turn at that speed.'))
            continue
        apart = one["cornering_drag_N"] - model
        differs = f"{abs(apart):.1f} N {'less' if apart > 0 else 'more'} than measured"
        agrees = "which agrees" if result["cornering_drag_seen"] else "within that interval, as nothing is"
        verdict = agrees if abs(apart) <= one["half_width_N"] else differs
        lines.append(Text(f'The model of "{setup["name"]}" says {model:.1f} N: {verdict}.'))
    columns = [(f"model N\n{setup['name']}", "right") for setup in result["setups"]]
    table = plain_table(("speed\nm/s", "right"), ("measured\nN", "right"), ("95 % +-\nN", "right"), *columns)
    for index, row in enumerate(result["measured"]):
        modelled = [setup["cornering_drag_N"][index] for setup in result["setups"]]
        table.add_row(f"{row['speed_m_per_s']:.1f}", f"{row['cornering_drag_N']:z.2f}", f"{row['half_width_N']:.2f}",
                      *("no such turn" if value is None else f"{value:.2f}" for value in modelled))  # fmt: skip
    return [*lines, Text(""), table, Text(
        f"Rolling coefficient {result['rolling_resistance_taken']:.4g} and drag area {result['drag_area_taken_m2']:.4g} m2 are the "
        "scenario's, taken as exact: measure them straight first. What the wheels roll further and carry more on the circle counts as "
        f"rolling; the tyres' trail is taken for {1e3 * result['pneumatic_trail_taken_m']:.0f} +- {1e3 * result['trail_spread_m']:.0f} mm. "
        "A slope of the ground cancels over whole turns only."
    )]  # fmt: skip


def _run_table(runs: list[dict[str, Any]]) -> Any:
    figures = ("lines", "seconds", "from m/s", "to m/s", "points", "left out")
    table = plain_table(("run", "left"), ("way", "left"), *((heading, "right") for heading in figures))
    for run in runs:
        table.add_row(
            Text(Path(run["file"]).name), run["way"], f"{run['first_line']}-{run['last_line']}", f"{run['duration_s']:.1f}",
            f"{run['start_m_per_s']:.2f}", f"{run['end_m_per_s']:.2f}", str(run["points_used"]), str(run["points_left_out"]),
        )  # fmt: skip
    return table
