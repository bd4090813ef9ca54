"""Results as sentences and tables for the terminal: pure functions of the result, for any width."""

from collections.abc import Sequence
from math import isfinite, nan
from pathlib import Path
from typing import Any

from rich.table import Table
from rich.text import Text

from sim.car.chassis import WHEELS, Car
from sim.judgements import SAME_SHARE, SMALL_SHARE, TELL_APART
from sim.kernels.compiled import SPEED_NOTES
from sim.lap.drive import Ended
from sim.lap.ladder import Model
from sim.lap.ledger import WORST_RESIDUAL, Ledger, causes, main_cause
from sim.pace.policies import POLICIES
from sim.scenario.doubts import assumed
from sim.study.compare import Comparison, SetupResult
from sim.study.cures import cures_of
from sim.study.dangers import Dangers
from sim.study.doubts import run_doubts
from sim.study.effort import Cure, WorthIt
from sim.study.summary import PaceSummary, costs_by_law
from viz.shared.dangers import stops_line
from viz.shared.doubts import doubt_lines
from viz.shared.effort import cure_words, dearest, effort_words, saved_words
from viz.shared.rounding import shown_less, tenths
from viz.shared.slips import large_slips
from viz.shared.torque import LAW_WORDS
from viz.shared.words import WHEEL_WORDS, plain_table, share_words

TRUSTED_ERROR_M = 0.5  # distance from the line beyond which set-ups no longer drive the same lap
SLIPPING = ("front tyres slipping sideways", "rear tyres slipping sideways", "tyres slipping lengthways", "motor and gear", "battery")
MOSTLY_TOE = 0.9  # of a geometry's cost, above which toe is what costs
CAME_ROUND = (Ended.WEAVED, Ended.LEAKED)  # laps that ended at the line, but have no figures


def finding(comparison: Comparison) -> str:
    """The run's finding as plain sentences: what it is, and whether it is worth its cure."""
    return " ".join(filter(None, found_and_worth(comparison)))


def compared(comparison: Comparison) -> tuple[SetupResult, SetupResult] | None:
    """The best and the worst of the set-ups that get round, which the finding compares; None of fewer than two."""
    done = [(one, one.ledger.drive_work) for one in comparison.results if one.ledger is not None]
    if len(done) < 2:
        return None
    least = min(work for _, work in done)
    # Of those that nobody could tell apart the first stands for all, as the reader's own order has it.
    best = next(one for one, work in done if work <= least * (1 + SAME_SHARE))
    return best, max(((one, work) for one, work in done if one is not best), key=lambda pair: pair[1])[0]


def found_and_worth(comparison: Comparison) -> tuple[str, str]:
    """The finding in its two parts: what it is, and whether it is worth its cure, empty where nothing is to be cured."""
    done = [(result.name, result.ledger) for result in comparison.results if result.ledger is not None]
    if not done:
        return "No set-up gets round this course; the reasons stand below.", ""
    pair = compared(comparison)
    best, worst = (None, None) if pair is None else (one.ledger for one in pair)
    if pair is None or best is None or worst is None:
        (name, ledger), several = done[0], len(comparison.results) > 1
        share = 100 * ledger.scrub / ledger.drive_work if ledger.drive_work > 0 else 0.0
        return f'{"Only " if several else ""}"{name}" gets round; {share:.1f} % of its drive work is dragged off its tyres.', ""
    best_name, worst_name = (one.name for one in pair)
    more = worst.drive_work - best.drive_work
    missing = len(comparison.results) - len(done)
    if best.drive_work <= 0 or more < SAME_SHARE * best.drive_work:
        all_who = f"The {len(done)} set-ups that get round" if missing else "All set-ups"
        same = f"{all_who} need the same drive work here to within {100 * SAME_SHARE:g} %"
        rung = "" if comparison.rung == Model.SLIPPING_FOUR_WHEELS else " and on this rung of the ladder"
        return f"{same}: on this course{rung} the steering makes no difference.", ""
    apart = 0 if more >= 2 else 1 if more >= 0.2 else 2  # digits that show the two apart
    drive = "a lap" if comparison.course.closed else "from start to finish"
    text = f"{len(done)} of {len(comparison.results)} set-ups get round. " if missing else ""
    text += (
        f'"{worst_name}" needs {share_words(more / best.drive_work)} more drive work {drive} than "{best_name}" '
        f"({worst.drive_work:.{apart}f} J against {best.drive_work:.{apart}f} J); most of the difference goes to {main_cause(worst, best)}."
    )
    cures = next(cures for one, cures in zip(comparison.results, cures_of(comparison), strict=True) if one is pair[1])
    kinds = {setup.name: setup.kind for setup in comparison.scenario.setup}
    cure = dearest(cures)
    if cure is not None and cure.verdict is WorthIt.UNTOLD and kinds[best_name].rods and not kinds[worst_name].rods:
        return text, f'Leave "{best_name}" as it is: what is built of arms and rods needs least here.'
    text = " ".join(filter(None, (text, as_rolling(more, best, cure))))
    return text, "" if cure is None else cure_words(cure, comparison.course.closed)


def as_rolling(more: float, best: Ledger, cure: Cure | None) -> str:
    """A difference as rolling resistance, which everybody knows; empty where nothing rolls.

    more : drive work beyond the best set-up's [J]; best : its ledger; cure : that saves most of it, None where none does
    """
    if best.rolling <= 0:
        return ""
    share = more / best.rolling
    small = "small: " if share < SMALL_SHARE and not (cure and cure.verdict is WorthIt.PAYS) else ""
    return f"That is {small}as much as {100 * share:.{0 if share >= 0.1 else 1}f} % more rolling resistance."


def sliding_lines(results: tuple[SetupResult, ...], car: Car) -> list[str]:
    """Warnings where tyres slip beyond what the tyre law is meant for, or where the cars leave the line."""
    done = [one for one in results if one.finished]
    if not done:
        return []
    lines = large_slips([(one.name, one.peak_slips.tolist()) for one in done], car)
    lines += [
        f'Warning: "{one.name}" stands at the end of its usable lock for {one.at_lock:.1f} s of the lap: there a bend asks for more '
        "than it can steer."
        for one in done if one.at_lock > 0
    ]  # fmt: skip
    off, name = max((one.error_max, one.name) for one in done)
    if off > TRUSTED_ERROR_M:
        lines.append(f'Warning: "{name}" leaves the line by {off:.1f} m, so the set-ups do not drive the same lap.')
    return lines


def _residuals(comparison: Comparison) -> list[float]:
    """What each ledger leaves unexplained, as a share of the drive work [-]."""
    return [abs(one.ledger.residual) for one in [*comparison.results, comparison.reference] if one.ledger]


def course_line(comparison: Comparison) -> str:
    """The course in a sentence."""
    course = comparison.course
    kind = "a loop, driven with a flying start" if course.closed else "driven once from start to finish"
    bend = f"; its tightest bend has a radius of {course.smallest_radius:.1f} m" if isfinite(course.smallest_radius) else ""
    return f"{course.length:.0f} m, {kind}{bend}. Target speed {comparison.target:.1f} m/s ({3.6 * comparison.target:.0f} km/h)."


def with_dangers(comparison: Comparison) -> list[tuple[str, Dangers]]:
    """Name and dead centres of each set-up whose rods can come in line.  comparison : the run."""
    return [(one.name, one.dangers) for one in comparison.results if one.dangers is not None]


def warning_lines(comparison: Comparison) -> list[str]:
    """What to know before any figure is believed: ledgers that leak, tyres that slide, set-ups that do not get round."""
    results, lines, residuals = comparison.results, [], _residuals(comparison)
    if residuals and max(residuals) > WORST_RESIDUAL:
        left = f"{max(residuals):.1e} of the drive work"
        lines.append(f"Warning: the energy ledger leaves {left} unexplained; trust no small difference.")
    lines += sliding_lines(results, comparison.car)
    if not comparison.reference.finished:
        lines.append("Ideal steering does not get round either, so no cost of the geometry can be given.")
    lines += [
        f'"{one.name}" {"gets round, but" if one.ended in CAME_ROUND else "does not finish: it"} {one.reason}.'
        for one in results
        if not one.finished
    ]
    return lines


def run_report(comparison: Comparison, folder: Path | None) -> list[Any]:
    """What `run --explain` prints: the finding, warnings, the comparison, wheel by wheel, the ground that it stands on."""
    course, results = comparison.course, comparison.results
    doubts = doubt_lines(run_doubts(comparison.scenario), every=True)
    lines: list[Any] = [Text(comparison.scenario.title, style="bold"), *map(Text, doubts), Text(finding(comparison))]
    lines += [Text(line) for line in (*stops_line(with_dangers(comparison)), *warning_lines(comparison), *assumed(comparison.scenario))]
    lines += [Text(""), _comparison_table(comparison)]
    if any(one.finished for one in results) and comparison.rung != Model.ROLLING_BICYCLE:
        lines += [Text(""), _wheel_table(results)]
    if any(one.ledger and one.ledger.electric for one in results):
        lines += [Text(""), _battery_table(results), *(Text(line) for line in race_lines(comparison))]
    lines += _cure_lines(comparison)
    worth = worth_lines(comparison)
    worth += law_lines(comparison)
    lines += [Text(""), *(Text(line) for line in worth)] if worth else []
    ends = "closed, one flying lap after a run-in lap" if course.closed else "open, driven once"
    tightest = f"tightest bend {course.smallest_radius:.2f} m at {course.smallest_radius_station:.0f} m"
    bends = tightest if course.smallest_radius < 1e4 else "no bends"
    lines += [Text(""), Text(f"Course: {course.length:.1f} m, {ends}; {bends}.")]
    lines += [Text(f"  {note}") for note in (*course.notes, *SPEED_NOTES)]
    wind = comparison.scenario.course
    if wind.wind_m_per_s > 0:
        lines.append(Text(f"Wind: {wind.wind_m_per_s:g} m/s towards {wind.wind_towards_deg:g} degrees (0 is along x, 90 along y)."))
    lines.append(Text(f"Model: {comparison.rung.label}. {ledger_line(comparison)}"))
    lines.append(Text(UNSURE))
    if folder is not None:
        lines.append(Text(f"Written to {folder}"))
    return lines


# What a run says of its own uncertainty: that it has none.
UNSURE = (
    f"No uncertainty has been computed: the figures rest on the scenario's numbers as they stand. Differences below "
    f"{100 * TELL_APART:g} % of the drive work count as not told apart (a judgement: tyres, wind and the driver's line move more)."
)


def cure_rows(comparison: Comparison) -> list[tuple[str, str, str, str, str]]:
    """What rids each set-up of its cost beyond the best that can be built: its name, a cure, what that takes and saves, the verdict."""
    closed = comparison.course.closed
    return [
        (one.name, cure.doing, effort_words(cure), saved_words(cure, closed), cure.verdict.value)
        for one, cures in zip(comparison.results, cures_of(comparison), strict=True) for cure in cures
    ]  # fmt: skip


CURE_GROUND = (
    "Minutes and days are judgements. Worth the work is what the model can tell and, where parts are needed, what is more than a soft tyre "
    "costs."
)


def _cure_lines(comparison: Comparison) -> list[Any]:
    """What each set-up costs beyond the best of them that can be built, and what it takes to cure that."""
    rows = cure_rows(comparison)
    if not rows:
        return []
    table = plain_table(("set-up", "left"), ("cure", "left"), ("it takes", "left"), ("saves", "left"), ("", "left"))
    for row in rows:
        table.add_row(*map(Text, row))
    return [Text(""), Text("What a cure takes and saves:"), table, Text(CURE_GROUND)]


def shown_cost(one: SetupResult, comparison: Comparison) -> float:
    """What the geometry of a set-up costs, as whoever takes the printed works from each other finds it [J]; NaN where it is not known.

    one : of the run; comparison : the run
    """
    ideal = comparison.reference.ledger
    if one.ledger is None or ideal is None or one.geometry_cost != one.geometry_cost:
        return nan
    return shown_less(one.ledger.drive_work, ideal.drive_work)


def ledger_line(comparison: Comparison) -> str:
    """How well drive work and losses agree."""
    rung, residuals = comparison.rung, _residuals(comparison)
    if rung in (Model.ROLLING_BICYCLE, Model.ROLLING_FOUR_WHEELS):
        return "A sum along the line, not a simulation in time: its energy ledger closes by construction."
    if not residuals:
        return "No lap was finished, so there is no energy ledger."
    return f"Energy ledger: drive work and losses agree within {max(residuals):.1e} of the drive work."


def joules(value: float) -> str:
    """Joules with the digits that they deserve.  value [J]."""
    return f"{value:.0f}" if abs(value) >= 100 else f"{value:.1f}"


def _comparison_table(comparison: Comparison) -> Table:
    table = plain_table(
        ("set-up", "left"), ("drive\nwork J", "right"), ("scrub\nJ", "right"), ("geometry\ncost J", "right"), ("scrub\nmore J", "right"),
        ("lap\ntime s", "right"),
        ("off line\nmost cm", "right"), ("least\nload N", "right"),
    )  # fmt: skip
    ideal = comparison.reference.ledger
    for one in comparison.results:
        if one.ledger is None:
            table.add_row(Text(one.name), "no figures" if one.ended in CAME_ROUND else "did not finish", *[""] * 6)
            continue
        more = nan if ideal is None else shown_less(one.ledger.scrub, ideal.scrub)
        cost, scrub = ("" if value != value else f"{value:+z.1f}" for value in (shown_cost(one, comparison), more))
        load = "" if one.least_load != one.least_load else f"{one.least_load:.0f}"
        table.add_row(
            Text(one.name), tenths(one.ledger.drive_work), tenths(one.ledger.scrub), cost, scrub,
            f"{one.time:.2f}",
            f"{100 * one.error_max:.1f}", load,
        )  # fmt: skip
    return table


def _battery_table(results: tuple[SetupResult, ...]) -> Table:
    race, sought = any(one.race for one in results), any(one.own_pace == one.own_pace for one in results)
    columns = [("set-up", "left"), ("battery\nWh a lap", "right"), ("mean\nA", "right"), ("laps on\na charge", "right")]
    columns += [("race\nlaps", "right"), ("race\nkm", "right"), ("ended\nby", "left")] if race else []
    columns += [("own best\nm/s", "right"), ("and\nkm", "right")] if sought else []
    table = plain_table(*columns)
    for one in results:
        if one.ledger is None or one.ledger.electric is None:
            continue
        electric = one.ledger.electric
        cells = [f"{electric.battery / 3600:.2f}", f"{electric.charge / one.time:.1f}", f"{one.laps_per_charge:.1f}"]
        if one.race:
            cells += [f"{one.race.laps:.1f}", f"{one.race.distance / 1000:.2f}", one.race.ended_by]
        if sought:
            cells += [f"{one.own_pace:.2f}", f"{one.own_distance / 1000:.2f}"]
        table.add_row(Text(one.name), *cells)
    return table


def race_lines(comparison: Comparison) -> list[str]:
    """Who gets furthest, and which set-ups cannot be told apart."""
    lines = []
    electric = [one.ledger.electric.residual(one.ledger.drive_work) for one in comparison.results if one.ledger and one.ledger.electric]
    lines.append(f"Motor and battery: what the battery gave and where it went agree within {max(map(abs, electric)):.1e}.")
    motor = comparison.scenario.motor
    if motor is not None and motor.freewheel:
        lines.append("While the motor does not drive, the wheels roll free of it and it takes nothing (motor.freewheel = true).")
    elif motor is not None:
        lines.append("The motor always turns with the wheels (motor.freewheel = false): undriven, the battery pays its no-load drag.")
    return lines + furthest_lines(comparison)


def furthest_lines(comparison: Comparison) -> list[str]:
    """The pace that was sought, and which set-ups get as far as each other."""
    lines = []
    if comparison.scenario.pace.target_m_per_s == "furthest":
        target = f"{comparison.target:.2f} m/s on the straights"
        lines.append(f"The pace that gets ideal steering furthest is {target}; all set-ups drive it here.")
    raced = [(one.name, one.race.laps) for one in comparison.results if one.race]
    if len(raced) < 2:
        return lines
    best = max(laps for _, laps in raced)
    level = [name for name, laps in raced if best - laps <= TELL_APART * best]
    if len(level) > 1:
        names = ", ".join(f'"{name}"' for name in level)
        lines.append(
            f"{names} cannot be told apart: their laps differ by less than {100 * TELL_APART:g} %, the model's stated uncertainty."
        )
    return lines


def worth_lines(comparison: Comparison) -> list[str]:
    """What the dearest geometry is worth in everyday terms, and where scrub went that the motor does not pay."""
    ideal = comparison.reference.ledger
    costed = [one for one in comparison.results if ideal and one.geometry_cost > SAME_SHARE * ideal.drive_work]
    # What toe costs is told with the finding; here the geometry of arms and pivots comes first.
    costed = [one for one in costed if not one.toe_cost > MOSTLY_TOE * one.geometry_cost] or costed
    if not costed:
        return elsewhere_lines(comparison)
    dearest = max(costed, key=lambda one: one.geometry_cost)
    worth = comparison.yardsticks.equivalents(dearest.geometry_cost)
    parts = [
        words
        for value, words in (
            (worth.rolling_coefficient, f"{worth.rolling_coefficient:.5f} of rolling coefficient"),
            (worth.toe_deg, f"{worth.toe_deg:.2f} degrees of toe-in on each front wheel"),
            (worth.driver_kg, f"{worth.driver_kg:.1f} kg on board"),
        )
        if value == value
    ]
    lines = []
    if parts:
        lines.append(
            f'The {joules(shown_cost(dearest, comparison))} J that the geometry of "{dearest.name}" costs are worth {_listed(parts)}, '
            "each put on the car with ideal steering and driven."
        )
    return lines + elsewhere_lines(comparison)


def _listed(parts: list[str]) -> str:
    """Parts of a sentence: one, two or three."""
    return " or ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)


ELSEWHERE_SHARE = 0.1  # of the larger one, by which scrub and drive work have to differ before the output says where the rest went


def elsewhere_lines(comparison: Comparison) -> list[str]:
    """Where scrub went that the motor does not pay, or what else it pays; a line a set-up where the two differ."""
    ideal = comparison.reference.ledger
    lines, braked = [], False
    for one in comparison.results:
        rest = one.geometry_scrub - one.geometry_cost
        if ideal is None or one.ledger is None or not abs(rest) > ELSEWHERE_SHARE * max(abs(one.geometry_scrub), abs(one.geometry_cost)):
            continue
        if abs(rest) < SAME_SHARE * ideal.drive_work:
            continue
        own, best = causes(one.ledger), causes(ideal)
        moved = {cause: own[cause] - best[cause] for cause in own if cause not in SLIPPING}
        moved["speed at the end"] = one.ledger.kinetic - ideal.kinetic
        told = sorted((cause for cause in moved if abs(moved[cause]) >= 0.1 * abs(rest)), key=lambda cause: -abs(moved[cause]))
        where = ", ".join(f"{cause} {moved[cause]:+.1f} J" for cause in told)
        scrub, cost = shown_less(one.ledger.scrub, ideal.scrub), shown_cost(one, comparison)
        lines.append(f'"{one.name}": tyres scrub {scrub:+z.1f} J, the motor pays {cost:+z.1f} J ({where}).')
        braked = braked or (rest > 0 and "brakes" in told)
    if braked:
        lines.append("Scrub slows a car that would have to brake anyway: that part of it costs nothing.")
    return lines


def pace_report(rows: Sequence[PaceSummary], name: str) -> list[Any]:
    """What `run --paces` adds: ways to drive the same lap time."""
    headings = ("average\nm/s", "lap\ntime s", "drive\nwork J", "brakes\nJ", "battery\nWh a lap")
    table = plain_table(("pace", "left"), *((heading, "right") for heading in headings), ("", "left"))
    for row in rows:
        figures = ((row.average_m_per_s, 2), (row.lap_time_s, 2), (row.drive_work_J, 0), (row.brakes_J, 0), (row.battery_Wh, 2))
        cells = ["" if value is None else f"{value:.{digits}f}" for value, digits in figures]
        table.add_row(row.policy, *cells, POLICIES[row.policy] + ("" if row.meets_time else "; cannot be as fast"))
    left_out = [policy for policy in POLICIES if policy not in {row.policy for row in rows}]
    note = [Text(f"Left out: {', '.join(left_out)}, for which the scenario needs [motor] and [battery].")] if left_out else []
    return [Text(""), Text(f'Ways to drive the same lap with "{name}":'), table, *note]


def _wheel_table(results: tuple[SetupResult, ...]) -> Table:
    table = plain_table(("set-up", "left"), ("", "left"), *((WHEEL_WORDS[wheel].replace(" ", "\n"), "right") for wheel in WHEELS))
    for one in results:
        if one.ledger is None:
            continue
        table.add_row(Text(one.name), "rubber dragged m", *(f"{value:.2f}" for value in one.ledger.rub))
        table.add_row("", "slip loss J", *(joules(value) for value in one.ledger.lateral + one.ledger.longitudinal))
    return table


def law_lines(comparison: Comparison) -> list[str]:
    """What the other law of the tyre would make of the geometry's costs: the dearest, in one sentence."""
    known = [(one, costs_by_law(one, comparison)) for one in comparison.results if one.geometry_cost == one.geometry_cost]
    told = [(one, costs) for one, costs in known if all(cost == cost for cost in costs.values())]
    if not told:
        return []
    one, costs = max(told, key=lambda pair: pair[0].geometry_cost)
    (own, cost), (law, other) = costs.items()
    return [
        f'The form of the tyre is part of the doubt: the geometry of "{one.name}" costs {joules(cost)} J with {LAW_WORDS[own]} ("{own}"), '
        f'{joules(other)} J with {LAW_WORDS[law]} ("{law}", reckoned from steady turns).'
    ]
