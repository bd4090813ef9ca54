"""What `bench --explain` prints: the answer, what comes of it, and the ground that it stands on."""

from math import degrees
from typing import Any

from rich.table import Table
from rich.text import Text

from sim.bench.fit import FEWEST_SPARE, REPLICATES
from sim.bench.kinds import KINDS, Kind
from sim.bench.result import (
    AdviceFigures,
    AngleValue,
    BenchResult,
    KindFigures,
    LengthValue,
    PlanResult,
    TurnsValue,
    Verdict,
)  # fmt: skip
from sim.steering.threads import COARSE_MM, LEAST_DIAMETERS, LEAST_TURNS, engagement_turns
from viz.bench.brief import (
    LEAVE,
    finding_lines,
    hold_lines,
    leave_it,
    left_out_lines,
    minutes_line,
    more_lines,
    part_lines,
    percent,
    price_lines,
    promise,
    read_danger_lines,
    remark_lines,
    steps,
    sure_line,
    unscrewed_lines,
)
from viz.shared.dangers import danger_lines
from viz.shared.words import plain_table

SAFETY = (
    "Before you turn anything: car on stands, wheels chocked, nobody's fingers near the rods while a wheel or the hand wheel moves "
    "(arms and rods pinch). Mark each rod end first.",
    "Afterwards: tighten EVERY lock nut, check each joint's bolt, steer from lock to lock by hand, and measure again.",
    "Have a competent adult check the steering before anybody drives, and follow your event's rules. "
    "Scrubwise computes; it never certifies a car as safe.",
)


HELD = "Nothing yet: readings are doubtful. Taken as they stand they would ask for:"
NEAREST = "Nothing. Nearest to the plan, where somebody wants to turn all the same, would be:"


def bench_report(result: BenchResult) -> list[Any]:
    """All that there is to say of a set of readings."""
    advice = result.advice
    lines: list[Any] = [Text(f"{result.title}: {result.setup}", style="bold")]
    left, waits = leave_it(result), hold_lines(result)
    told = [*waits, *([LEAVE] if left else [])]
    told += [*finding_lines(result), *([] if waits else part_lines(result)), *read_danger_lines(result)]
    told += [*left_out_lines(result), *unscrewed_lines(result), *remark_lines(result)]
    turns = [HELD, *steps(result)] if waits else [NEAREST, *steps(result)] if left else steps(result)
    lines += map(Text, told)
    lines += [Text(""), Text("What to turn", style="bold"), *map(Text, turns), *map(Text, _ways(result))]
    lines += [Text(""), _outcome_table(advice, result.dangers.hand_is), *map(Text, [] if waits else price_lines(result))]
    lines += [Text(f"How sure: {sure_line(advice)}"), *map(Text, more_lines(result))]
    lines += [Text(""), Text("How far each part is off", style="bold"), _parts_table(result)]
    lines.append(Text(
        "Probability: that it is off by more than is worth mending (a rod a quarter turn, an arm 0.5 degrees). A part is blamed above 95 "
        "in 100, and only where it is known well enough."
    ))  # fmt: skip
    lines += [Text(""), Text("All that may be off", style="bold"), _fitted_table(result), *map(Text, _ground(result))]
    lines += [Text(""), Text("What was read", style="bold"), _kinds_table(result.readings.kinds)]
    return [*lines, Text(""), Text("Safety", style="bold"), *map(Text, SAFETY)]


def _ways(result: BenchResult) -> list[str]:
    """What a builder has to know about threads."""
    pitch = result.thread_pitch_mm
    lines = [
        "Ways round are for a right-hand thread, seen from the rod end's eye with the rod behind it; a left-hand thread turns the other "
        "way. Undo the lock nut and the eye's bolt first; half turns keep the eye flat.",
        "A rod that is a tube between a right- and a left-hand thread moves two pitches a turn: turn the tube half as far.",
    ]
    least = f"{LEAST_DIAMETERS:g} times the thread's diameter"
    if pitch in COARSE_MM:
        turns = engagement_turns(pitch * 1e-3, COARSE_MM[pitch] * 1e-3)
        least += f" ({turns:.1f} turns on M{COARSE_MM[pitch]} x {pitch:g})"
    lines.append(
        f"Usual minimum of thread inside the rod, at each end: {least}, and never fewer than {LEAST_TURNS:g} full turns (common practice)."
    )
    return lines


def _outcome_table(advice: AdviceFigures, hand: str) -> Table:
    states = (advice.now, advice.after, advice.planned)
    table = plain_table(("running straight", "left"), ("as it is", "right"), ("after the turns", "right"), ("as planned", "right"))
    table.add_row("toe-in, both wheels together deg", *(f"{state.total_toe_in_deg:z.2f}" for state in states))
    table.add_row("drag of the toe N", *(f"{state.toe_drag_N:z.2f}" for state in states))
    shares = [state.toe_drag_percent_of_rolling for state in states]
    if None not in shares:
        table.add_row("... in % of rolling resistance", *(f"{share:z.1f}" for share in shares))
    table.add_row(f"{hand} stands at deg", *(f"{state.straight_hand_deg:z.1f}" for state in states))
    table.add_row("largest miss of the wheels' difference, lock to lock deg", *(f"{state.largest_miss_deg:z.2f}" for state in states))
    return table


def _parts_table(result: BenchResult) -> Table:
    table = plain_table(("part", "left"), ("off", "right"), ("probability", "right"), ("told", "left"))
    for part in result.parts:
        off = f"{part.off_deg:+z.1f} deg" if part.off_turns is None else f"{part.off_turns:+z.2f} turns = {part.off_mm:+z.2f} mm"
        told = "yes" if part.blamed else "no" if part.known else "not known well enough"
        table.add_row(part.part, off, percent(part.probability), told)
    return table


def _cells(one: TurnsValue | AngleValue | LengthValue) -> tuple[float, float, float, tuple[float, float], str]:
    if isinstance(one, TurnsValue):
        return one.value_turns, one.error_turns, one.usual_turns, one.interval_95_turns, "turns"
    if isinstance(one, AngleValue):
        return one.value_deg, one.error_deg, one.usual_deg, one.interval_95_deg, "deg"
    return one.value_mm, one.error_mm, one.usual_mm, one.interval_95_mm, "mm"


def _fitted_table(result: BenchResult) -> Table:
    table = plain_table(("", "left"), ("value", "right"), ("error", "right"), ("95 % interval", "right"), ("usual, before", "right"))
    for one in result.fitted:
        value, error, usual, (low, high), unit = _cells(one)
        table.add_row(one.name, f"{value:+z.2f} {unit}", f"{error:.2f}", f"{low:+z.2f} to {high:+z.2f}", f"+- {usual:.2g}")
    return table


_VERDICTS = {
    Verdict.FITS: "the drawn car with these errors fits the readings well",
    Verdict.SCATTERS: "the readings scatter more than their errors say, so these are widened",
    Verdict.UNJUDGED: "too few or too coarse readings to judge the fit",
}


def _ground(result: BenchResult) -> list[str]:
    fit = result.fit
    lines = [
        "Rods: longer than planned is positive. Kink: more than drawn is positive. What was usual before, one standard deviation, is a "
        "judgement; an error that the readings do not tell keeps it.",
    ]
    if fit.chance is not None:
        lines.append(
            f"Fit: {_VERDICTS[fit.verdict]} (chi-square {fit.chi_square:.1f}, {fit.expected} on average, chance of more "
            f"{100 * fit.chance:.1f} %; errors times {fit.errors_widened_by:.2f})."
        )  # fmt: skip
    if fit.spare_readings < FEWEST_SPARE:
        lines.append("With so few readings a slip in one of them can't be found.")
    if result.interval_method == "bootstrap":
        lines.append(f"Intervals are from {REPLICATES} repetitions of the fit with made readings.")
    return lines


def _kinds_table(kinds: tuple[KindFigures, ...]) -> Table:
    table = plain_table(("kind", "left"), ("readings", "right"), ("error of each", "right"), ("its ground", "left"))
    for kind in kinds:
        size, unit = next((value, unit) for value, unit in (
            (kind.error_deg, "deg"), (kind.error_mm, "mm"), (kind.error_turns, "turns"),
        ) if value is not None)  # fmt: skip
        table.add_row(kind.name, str(kind.readings), f"{size:.2g} {unit}", "stated in the table" if kind.error_stated else kind.ground)
    return table


def plan_report(result: PlanResult) -> list[Any]:
    """All that there is to say of a plan of readings."""
    lines: list[Any] = [Text(f"{result.title}: {result.setup}", style="bold")]
    lines += [Text(minutes_line(result)), Text(promise(result.sure))]
    lines += map(Text, danger_lines(result.dangers))
    hand = f"{result.dangers.hand_is} deg"
    table = plain_table(("times", "right"), ("measure", "left"), ("how", "left"), (hand, "right"), ("minutes", "right"))
    for item in result.items:
        at = "" if item.hand_deg is None else f"{item.hand_deg:z.0f}"
        table.add_row(f"{item.times} x", item.name, item.doing, at, f"{item.minutes:.1f}")
    lines += [Text(""), table, Text(""), Text("Columns of the file", style="bold"), _columns_table(result)]
    lines.append(Text(
        "One line for each setting of the hand wheel; what the hand wheel does not move may stand in any line. A line's own errors can be "
        "stated in reading_error_deg, reading_error_mm (of each distance) and reading_error_turns. The strings run beside the wheels, at "
        "hub height, equally far from the middle of the car in front and behind."
    ))  # fmt: skip
    sure = result.sure
    lines.append(Text(
        "Standard errors: toe of both wheels together "
        f"{sure.total_toe_error_deg:.2f} deg; a rod's length {max(sure.rod_errors_turns):.2f} turns; what a rod needs "
        f"{max(sure.turns_errors_turns):.2f} turns. Chosen by them (criterion A, exchanges); minutes and usual errors are judgements."
    ))  # fmt: skip
    return lines


def _error(kind: Kind) -> str:
    size = degrees(kind.usual_error) if kind.unit == "deg" else kind.usual_error * 1e3 if kind.unit == "mm" else kind.usual_error
    return f"{size:.2g} {kind.unit}"


def _columns_table(result: PlanResult) -> Table:
    table = plain_table(("column", "left"), ("what", "left"), ("usual error", "right"), ("its ground", "left"))
    for kind in KINDS:
        for column in kind.columns:
            if column.name in result.columns:
                table.add_row(column.name, kind.name, _error(kind), kind.ground)
    table.add_row("rim_mm", f"distance of the two places on the rim; left out: {result.rim_mm:.0f}", "", "")
    return table
