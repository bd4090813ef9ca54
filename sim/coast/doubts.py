"""What is doubtful about a coast's fit, in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.coast.fit import CoastFit, Fitted
from sim.coast.residuals import SLOPE_SPREAD, WIND_SPREAD

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
TYPICAL_WHEELS = 0.03  # of the mass: the share that four bicycle-size wheels' spin adds
TYPICAL_SPEED = 5.0  # [m/s]


def straight_warnings(fit: CoastFit, wheels_given: bool, opposite: bool) -> list[str]:
    """What is doubtful about a fit.

    fit : CoastFit; wheels_given : whether the wheels' spin was given; opposite : whether the runs look like two ways
    Returns sentences.
    """
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
    """What is doubtful about a circle's fit, in sentences.  fit : CircleFit; wheels_given : whether the wheels' spin was given."""
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
