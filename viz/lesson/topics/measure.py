"""Lesson 6: measure your own car, by coasting and on the floor."""

from math import sqrt
from pathlib import Path

from sim.car.chassis import GRAVITY
from sim.coast.result import StraightCoast, straight_coast
from sim.scenario.file import file_or_shipped_table
from sim.scenario.scenario import Scenario
from viz.bench.numbers import bench_result, plan_result
from viz.lesson.catalogue import Told
from viz.lesson.charts import curves
from viz.lesson.ground import shipped
from viz.lesson.say import GAP, degrees, kilometres_per_hour, newtons, number, percent, speed, with_unit

THERE, BACK = "coast-up", "coast-down"
MASS_KG, WHEELS_KG = 145.0, 4.0
SCENARIO, SETUP, READINGS = "quay-loop", "drop arm and two rods", "floor-readings"
POINTS = 40  # of the drawn curves


def found() -> Told:
    """What lesson 6 shows, of the shipped logs and readings."""
    there, back = ([file_or_shipped_table(Path(name))] for name in (THERE, BACK))
    return found_of(straight_coast(there, back, MASS_KG, WHEELS_KG), shipped(SCENARIO))


def found_of(coast: StraightCoast, scenario: Scenario) -> Told:
    """What lesson 6 shows.  coast : both ways; scenario : whose set-up was read on the floor."""
    weight = coast.mass_kg * GRAVITY
    rolling, area = coast.rolling_resistance, coast.drag_area_m2
    force, air = rolling.value * weight, 0.5 * coast.air_density_kg_per_m3 * area.value
    even = sqrt(force / air) if air > 0 else None
    fastest = max(run.start_m_per_s for run in coast.runs)
    bench = bench_result(scenario, SCENARIO, [READINGS], SETUP, False)
    plan = plan_result(scenario, SCENARIO, "quick", SETUP)
    advice = bench.advice
    now, after = advice.now, advice.after
    first = coast.runs[0]
    words = {
        "there": THERE,
        "back": BACK,
        "mass": f"{coast.mass_kg:g}\N{NO-BREAK SPACE}kg",
        "mass_number": f"{coast.mass_kg:g}",
        "wheels_number": f"{WHEELS_KG:g}",
        "rolling": number(rolling.value, 5),
        "rolling_error": sure(rolling.half_width, 5),
        "area": f"{number(area.value, 3)}\N{NO-BREAK SPACE}m²",
        "area_error": sure(area.half_width, 3),
        "force": f"{number(force, 2)}{GAP}N",
        "even": "at no speed" if even is None else f"at {speed(round(even, 1))} ({kilometres_per_hour(even)})",
        "which": which_words(even, fastest),
        "slope": percent(abs(coast.slope.value), 3),
        "slope_words": "rises" if coast.slope.value > 0 else "falls",
        "slope_force": newtons(abs(coast.slope.value) * weight),
        "slope_share": percent(abs(coast.slope.value) / rolling.value) if rolling.value > 0 else "all",
        "seconds": with_unit(first.duration_s, "s"),
        "start": speed(round(first.start_m_per_s, 1)),
        "end": speed(round(first.end_m_per_s, 1)),
        "confidence": f"{100 * coast.confidence:.0f}",
        "scenario": SCENARIO,
        "setup": SETUP,
        "readings": READINGS,
        "minutes": f"{plan.minutes:.0f}",
        "items": list(dict.fromkeys(item.name.partition(",")[0] for item in plan.items)),
        "toe": degrees(abs(now.total_toe_in_deg), 2),
        "toe_side": toe_side(now.total_toe_in_deg),
        "toe_error": degrees(2 * advice.total_toe_error_deg, 2),
        "toe_drag": newtons(now.toe_drag_N),
        "toe_share": "" if now.toe_drag_percent_of_rolling is None else percent(now.toe_drag_percent_of_rolling / 100),
        "after": degrees(abs(after.total_toe_in_deg), 2),
        "after_side": toe_side(after.total_toe_in_deg),
        "turns": [turn_words(rod.rod, rod.turns) for rod in advice.rods],
        "toe_words": cured_words(now.toe_drag_N, after.toe_drag_N),
    }
    label = "Force that holds the car back, over speed: by rolling, by air, and both together."
    speeds = [fastest * n / POINTS for n in range(POINTS + 1)]
    lines = [("together", [(v, force + air * v * v) for v in speeds]), ("air", [(v, air * v * v) for v in speeds]),
             ("rolling", [(v, force) for v in speeds])]  # fmt: skip
    return Told(words, curves(lines, "speed [m/s]", "holds back [N]", label), label)


def sure(half_width: float | None, digits: int) -> str:
    """How sure a figure is.  half_width : of its interval, None at a bound; digits : decimals."""
    return "(at the end of what is allowed)" if half_width is None else f"± {number(half_width, digits)}"


def which_words(even: float | None, fastest: float) -> str:
    """What holds the car back most, in words.  even : speed at which both are alike [m/s], None for never; fastest [m/s]."""
    if even is None or even > fastest:
        return "at every speed of these logs rolling holds the car back more than air does"
    return "below that speed rolling holds the car back most, above it air does"


def toe_side(toe: float) -> str:
    """Which way wheels point.  toe : inwards [deg]."""
    return "toe-in" if toe >= 0 else "toe-out"


def turn_words(rod: str, turns: float) -> str:
    """What to do with a rod.  rod : its name; turns : that lengthen it."""
    if turns == 0:
        return f"{rod}: leave it"
    counted = f"{abs(turns):g} {'turn' if abs(turns) <= 1 else 'turns'}"
    return f"{rod}: one rod end {counted} {'out, longer' if turns > 0 else 'in, shorter'}"


def cured_words(now: float, after: float) -> str:
    """What setting the rods saves.  now, after : drag of toe [N]."""
    if after >= now:
        return "The rods are as well set as these readings can tell."
    return f"Set as it says, {newtons(now - after)} of drag should be gone."
