"""Lesson 3: what a degree of toe costs."""

from math import log2, radians, sin
from typing import Any

from sim.bench.kinds import RIM_SHARE
from sim.car.chassis import GRAVITY
from sim.scenario.file import shipped_folder
from sim.scenario.scenario import Scenario
from sim.study.compare import compare
from sim.study.corner import corner_result
from sim.study.ready import car_of, entries_of
from sim.study.summary import summary
from viz.lesson.catalogue import Told
from viz.lesson.charts import curves
from viz.lesson.ground import IDEAL, PARALLEL, shipped, with_setups
from viz.lesson.say import (
    degrees,
    figure,
    kilometres_per_hour,
    millimetres,
    newtons,
    number,
    on_scale,
    percent,
    speed,
    tenth_of_joules,
    times,
    with_unit,
)  # fmt: skip
from viz.run.report import warning_lines
from viz.shared.rounding import shown_less

SCENARIO = "first-bend"
TOES_DEG = (0.5, 1.0, 2.0)
DRAWN_DEG = tuple(round(0.1 * n, 1) for n in range(21))  # of the curve
OUT_DEG = -1.0
STRAIGHT_M = 10_000.0  # radius of a turn that is as good as straight
KILOMETRE, WATT_HOUR = 1000.0, 3600.0


def found() -> Told:
    """What lesson 3 shows, of the shipped car."""
    return found_of(shipped(SCENARIO))


def found_of(scenario: Scenario) -> Told:
    """What lesson 3 shows.  scenario : with a car and a course of segments."""
    toes = [*TOES_DEG, OUT_DEG]
    setups: list[dict[str, Any]] = [IDEAL, PARALLEL, *(IDEAL | {"name": toe_name(toe), "toe_in_deg": toe} for toe in toes)]
    made = with_setups(scenario, f"Lesson 3: toe. {scenario.title}", setups)
    run = compare(made, shipped_folder(), "lesson")
    runs = summary(run).setups
    work = {one.name: one.drive_work_J or 0.0 for one in runs}
    ideal = work[IDEAL["name"]]
    extra = {toe: shown_less(work[toe_name(toe)], ideal, 1) for toe in toes}
    target = float(made.pace.target_m_per_s)
    ahead = corner_result(made, entries_of(made, "lesson"), STRAIGHT_M, target, False).setups
    forces = [one.drive_force_N or 0.0 for one in ahead]
    straight = {toe: force - forces[0] for toe, force in zip(toes, forces[2:], strict=True)}
    half, one, two = TOES_DEG
    car = car_of(made)
    rolling = made.car.tyre.rolling_resistance * car.mass * GRAVITY
    parallel = shown_less(work[PARALLEL["name"]], ideal, 1)
    rim = RIM_SHARE * 2 * made.car.wheel_radius_mm
    front_load = sum(one.load_N for wheel, one in (ahead[0].wheels or {}).items() if wheel.startswith("front"))
    stiffness = made.car.tyre.cornering_stiffness_per_rad
    words = {
        "file": "lesson-3.toml",
        "speed": speed(target),
        "kmh": kilometres_per_hour(target),
        "without": tenth_of_joules(ideal),
        "half": degrees(half),
        "one": degrees(one, 0),
        "two": degrees(two, 0),
        "out": degrees(abs(OUT_DEG), 0),
        "rows": [
            {
                "toe": degrees(toe),
                "work": tenth_of_joules(ideal + extra[toe]),
                "extra": tenth_of_joules(extra[toe]),
                "straight": newtons(straight[toe]),
                "scale": on_scale(straight[toe]),
                "share": percent(extra[toe] / ideal),
            }
            for toe in toes
        ],
        "ratio": times(extra[two] / extra[one]) if extra[one] > 0 else "",
        "law": law_words(extra[one], extra[two]),
        "out_words": out_words(extra[one], extra[OUT_DEG]),
        "parallel": tenth_of_joules(abs(parallel)),
        "against": against_words(extra[one], parallel),
        "rolling": newtons(rolling),
        "straight_one": newtons(straight[one]),
        "straight_share": percent(straight[one] / rolling) if rolling > 0 else "all",
        "kilometre": with_unit(straight[one] * KILOMETRE / WATT_HOUR, "Wh"),
        "rim": millimetres(rim),
        "tape_one": millimetres(2 * rim * sin(radians(one))),
        "tape_half": millimetres(2 * rim * sin(radians(half))),
        "tape_two": millimetres(2 * rim * sin(radians(two))),
        "load": newtons(front_load),
        "stiffness": figure(stiffness),
        "radian": number(radians(one), 5),
        "formula": newtons(stiffness * front_load * radians(one) ** 2),
    }
    label = "More force than with straight wheels, straight on, over the toe-in of each front wheel."
    drawn = with_setups(made, made.title, [IDEAL | {"name": toe_name(toe), "toe_in_deg": toe} for toe in DRAWN_DEG])
    turns = corner_result(drawn, entries_of(drawn, "lesson"), STRAIGHT_M, target, False).setups
    points = [(toe, (turn.drive_force_N or 0.0) - forces[0]) for toe, turn in zip(DRAWN_DEG, turns, strict=True)]
    picture = curves([("more force", points)], "toe-in of each wheel [degrees]", "more [N]", label)
    return Told(words, picture, label, {"lesson-3.toml": made}, {"lesson-3.toml": warning_lines(run)})


def toe_name(toe: float) -> str:
    """What a set-up with that much toe is called.  toe : inwards [deg]."""
    return f"toe-in {toe:g}" if toe >= 0 else f"toe-out {-toe:g}"


def law_words(one: float, two: float) -> str:
    """How the cost grows when the toe doubles.  one, two : extra work [J]."""
    if one <= 0 or two <= 0:
        return "here toe costs nothing that can be seen"
    power = log2(two / one)
    if 1.8 <= power <= 2.2:
        return "the cost grows with the square of the angle"
    return (
        "the cost grows faster than the square of the angle" if power > 2.2 else "the cost grows more slowly than the square of the angle"
    )


def out_words(inwards: float, outwards: float) -> str:
    """Toe-out against as much toe-in.  inwards, outwards : extra work [J]."""
    if abs(outwards - inwards) <= 0.05 * abs(inwards):
        return "costs about the same as toe-in"
    return "costs more than toe-in" if outwards > inwards else "costs less than toe-in"


def against_words(toe: float, parallel: float) -> str:
    """A degree of toe beside parallel steering.  toe, parallel : extra work [J]."""
    if toe <= 0 or parallel <= 0:
        return "one of the two costs nothing here, so they cannot be compared"
    if toe > parallel:
        return f"the toe costs {times(toe / parallel)} as much as parallel steering: set the toe first"
    return f"parallel steering costs {times(parallel / toe)} as much as the toe: look at the arms first"
