"""Lesson 2: parallel and ideal steering, at a walk and at speed."""

from math import degrees as number_of_degrees
from math import radians

from sim.judgements import TELL_APART
from sim.linkages.rolling import rolling_steer
from sim.scenario.file import shipped_folder
from sim.scenario.scenario import Scenario
from sim.study.compare import Comparison, compare
from sim.study.corner import corner_result
from sim.study.ready import entries_of
from sim.study.summary import summary
from viz.lesson.catalogue import Told
from viz.lesson.charts import bars
from viz.lesson.ground import IDEAL, PARALLEL, shipped, tightest, with_setups
from viz.lesson.say import (
    GAP,
    degrees,
    joules,
    kilometres_per_hour,
    metres,
    newtons,
    percent,
    speed,
    tenth_of_joules,
    times,
)  # fmt: skip
from viz.lesson.topics.paths import rolled
from viz.run.report import course_line, warning_lines

WALK, FAST = "car-park", "first-bend"
SLOW = 0.5  # [m/s] at which wheels roll as their geometry has them
NOTHING_N = 1e-3  # of drive force, which a page shows as none


def found() -> Told:
    """What lesson 2 shows, of the shipped cars."""
    return found_of(shipped(WALK), shipped(FAST))


def found_of(walk: Scenario, fast: Scenario) -> Told:
    """What lesson 2 shows.  walk, fast : a tight bend at a walk and a wider one at speed, with segments."""
    runs, files, warned, courses = {}, {}, {}, {}
    for name, scenario in (("walk", walk), ("fast", fast)):
        pair = with_setups(scenario, f"Lesson 2: {scenario.title}", (IDEAL, PARALLEL))
        file, run = f"lesson-2-{name}.toml", compare(pair, shipped_folder(), "lesson")
        files[file], warned[file] = pair, warning_lines(run)
        runs[name] = (pair, figures_of(run))
        courses[f"{name}_course"] = course_line(run)
    reckoned = {name: half_off_force(pair) for name, (pair, _) in runs.items()}
    words: dict[str, object] = {**courses}
    for name, (scenario, (ideal, parallel, share, _)) in runs.items():
        target = float(scenario.pace.target_m_per_s)
        words |= {
            f"{name}_ideal": tenth_of_joules(ideal),
            f"{name}_parallel": tenth_of_joules(parallel),
            f"{name}_share": percent(abs(share)),
            f"{name}_words": cost_words(share),
            f"{name}_radius": metres(tightest(scenario)),
            f"{name}_speed": speed(target),
            f"{name}_kmh": kilometres_per_hour(target),
            f"{name}_off": off_words(scenario, target),
            f"{name}_stiffness": f"{scenario.car.tyre.cornering_stiffness_per_rad:g}",
            f"{name}_load": f"{front_load(scenario)}{GAP}N",
            f"{name}_half": degrees(front_error(scenario) / 2, 2),
        }
    walk_ideal, walk_parallel, _, by_other = runs["walk"][1]
    shares = {name: run[1][2] for name, run in runs.items()}
    extra = {(where, how): extra_force(runs[where][0], tightest(runs[where][0]), float(runs[how][0].pace.target_m_per_s))
             for where in runs for how in runs}  # fmt: skip
    by_speed, by_radius = extra["fast", "fast"], extra["walk", "walk"]
    slow = extra["fast", "walk"]
    told = {key: "no such turn: too fast for this bend" if value is None else newtons(value) for key, value in extra.items()}
    words |= {
        "tell_apart": f"{100 * TELL_APART:g}\N{NO-BREAK SPACE}%",
        "extra": {f"{where}_{how}": text for (where, how), text in told.items()},
        "dearer": "in the tight bend at a walk" if shares["walk"] > shares["fast"] else "in the wide bend at speed",
        "worth_it": "worth a day's work" if shares["fast"] >= TELL_APART else "not worth a day's work",
        "speed_words": change_words(slow, by_speed, "faster"),
        "radius_words": change_words(slow, by_radius, "tighter"),
        "law_words": law_words(walk_parallel - walk_ideal, by_other, walk.car.tyre.law),
        "reckoned_walk": newtons(reckoned["walk"]),
        "reckoned_fast": newtons(reckoned["fast"]),
        "rough": rough_words((reckoned["walk"], by_radius), (reckoned["fast"], by_speed)),
        "bend_errors": degrees(front_error(runs["walk"][0])),
        "wide_errors": degrees(front_error(runs["fast"][0])),
    }
    rows = [(f"{set_up}, {where}", value) for where, name in (("at a walk", "walk"), ("at speed", "fast"))
            for set_up, value in zip((IDEAL["name"], PARALLEL["name"]), runs[name][1][:2], strict=True)]  # fmt: skip
    label = "Drive work of ideal and parallel steering, at a walk in a tight bend and at speed in a wide one."
    return Told(words, bars(rows, "J", label), label, files, warned)


def figures_of(run: Comparison) -> tuple[float, float, float, float | None]:
    """Drive work of ideal and of parallel steering [J], how much more the second needs, as a share, and by the other law of the tyre [J].

    run : with just these set-ups
    """
    told = summary(run).setups
    ideal, parallel = (one.drive_work_J or 0.0 for one in told)
    other = [cost for law, cost in told[1].geometry_cost_by_law_J.items() if law != run.scenario.car.tyre.law]
    return ideal, parallel, (parallel - ideal) / ideal, other[0] if other else None


def law_words(own: float, other: float | None, law: str) -> str:
    """What the other law of the tyre makes of the cost.  own, other : by either law [J], None for none; law : the scenario's own."""
    if other is None:
        return "The other law of the tyre tells no cost here."
    tyres = "give way as they slip (the brush law)" if law == "linear" else "never give way (the linear law)"
    if abs(other - own) < TELL_APART * abs(own):
        return f"How sure is that? With tyres that {tyres} it comes to the same."
    costs = f"{joules(other)} beyond ideal in the tight bend, not {joules(own)}"
    return f"How sure is that? With tyres that {tyres}, parallel steering costs {costs}."


def front_load(pair: Scenario) -> int:
    """What the front axle carries, in whole newtons as the page shows it, for who reckons again [N].  pair : its first set-up is ideal."""
    turn = corner_result(pair, entries_of(pair, "lesson"), tightest(pair), SLOW, False).setups[0]
    return round(sum(one.load_N for wheel, one in (turn.wheels or {}).items() if wheel.startswith("front")))


def half_off_force(pair: Scenario) -> float:
    """The drag of front wheels that are each off by half of what ideal steering has them differ [N].  pair : its first set-up is ideal."""
    return float(pair.car.tyre.cornering_stiffness_per_rad * front_load(pair) * radians(front_error(pair) / 2) ** 2)


def rough_words(tight: tuple[float, float | None], wide: tuple[float, float | None]) -> str:
    """Where the formula is nearer.  tight, wide : by the formula, and by the program, None for no such turn [N]."""
    misses = [abs(one - other) / other if other else None for one, other in (tight, wide)]
    if misses[0] is None or misses[1] is None:
        return "where the program finds a cost, hold the two against each other"
    return "it is rougher in the tight bend" if misses[0] > misses[1] else "it is rougher in the wide bend"


def cost_words(share: float) -> str:
    """What a difference in drive work means, as the rest of a sentence.  share : of the other's; above 0 costs."""
    if abs(share) < TELL_APART:
        return f"the two differ by {percent(abs(share))}, so little that the model cannot tell them apart"
    return f"parallel steering needs {percent(abs(share))} {'more' if share > 0 else 'less'}"


def extra_force(pair: Scenario, radius: float, fast: float) -> float | None:
    """Drive force that parallel steering needs beyond ideal [N]; None where there is no such turn.  pair; radius [m]; fast [m/s]."""
    ideal, parallel = corner_result(pair, entries_of(pair, "lesson"), radius, fast, False).setups
    if ideal.drive_force_N is None or parallel.drive_force_N is None:
        return None
    return parallel.drive_force_N - ideal.drive_force_N


def change_words(before: float | None, after: float | None, how: str) -> str:
    """How an extra force changes, in words.  before, after : [N] or None; how : what was done."""
    if before is None or after is None:
        return f"The {how} turn cannot be driven at all with this car, so the two cannot be compared."
    if abs(before) < NOTHING_N:
        return "With parallel steering this car loses nothing there, so there is nothing to compare."
    ratio = after / before
    if ratio <= 0:
        return f"In the {how} turn parallel steering costs nothing more."
    if 0.9 <= ratio <= 1.1:
        return f"In the {how} turn the extra force is about as large: that alone changes little."
    if 0.5 <= ratio <= 2:
        return f"In the {how} turn the extra force is {times(ratio)} as large: that changes little."
    return f"In the {how} turn the extra force is {times(ratio)} as large: that changes a lot."


def off_words(pair: Scenario, fast: float) -> str:
    """How far the inner wheel of parallel steering is off ideal for its own outer wheel, in a steady turn of the tightest bend.

    pair : its second set-up is parallel; fast [m/s]
    """
    wheels = corner_result(pair, entries_of(pair, "lesson"), tightest(pair), fast, False).setups[1].wheels
    if wheels is None:
        return "not known, for there is no such turn"
    inner, outer = (radians(wheels[wheel].steer_deg) for wheel in ("front_left", "front_right"))
    return degrees(abs(number_of_degrees(inner - float(rolling_steer(outer, pair.car.kingpin_track, pair.car.wheelbase)))))


def front_error(pair: Scenario) -> float:
    """By how much the inner wheel has to turn more than the outer one in the tightest bend, as shown [deg].  pair : Scenario."""
    left, right, _, _ = rolled(pair, tightest(pair))
    return round(left - right, 1)
