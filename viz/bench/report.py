"""What `bench` prints: what to turn, what comes of it, and the ground that it stands on."""

from math import degrees
from typing import Any

from rich.table import Table
from rich.text import Text

from sim.bench.advice import UNSCREWED
from sim.bench.as_built import USUAL, Combination
from sim.bench.fit import FEWEST_SPARE, NORMAL_95, REPLICATES
from sim.bench.result import AdviceFigures, BenchResult, RodValue, Verdict
from sim.scenario.tables import MILLIMETRE
from sim.steering.threads import COARSE_MM, LEAST_DIAMETERS, LEAST_TURNS, engagement_turns
from viz.shared.words import plain_table

STRONG = 0.5  # a correlation from which two values should not be read one by one
SAFETY = (
    "Before you turn anything: car on stands, wheels chocked, nobody's fingers near the rods while a wheel or the hand wheel moves "
    "(arms and rods pinch). Mark each rod end first.",
    "Afterwards: tighten EVERY lock nut, check each joint's bolt, steer from lock to lock by hand, and measure again.",
    "Have a competent adult check the steering before anybody drives, and follow your event's rules. "
    "Scrubwise computes; it never certifies a car as safe.",
)


def bench_report(result: BenchResult) -> list[Any]:
    """What `bench` prints: what to turn, what comes of it, and the ground that it stands on."""
    readings, advice = result.readings, result.advice
    lines: list[Any] = [Text(f"{result.title}: {result.setup}", style="bold")]
    lines += [Text(line) for line in _finding(result)]
    if advice:
        lines += [Text(""), Text("What to turn", style="bold"), *(Text(line) for line in _steps(result, advice))]
        lines += [Text(""), _outcome_table(advice), *(Text(line) for line in _outcome_lines(result, advice))]
    lines += [Text(""), Text("What the readings tell", style="bold")]
    lines += [_fitted_table(result)] if result.fitted else []
    lines += [Text(line) for line in _ground(result)]
    for one in readings.left_out:
        lines.append(Text(
            f"Left out: line {one.line} (left {one.left_deg:g}, right {one.right_deg:g} deg) lies {one.off_deg:.1f} deg, "
            f"{one.off_reading_errors:.1f} reading errors, from the rest. Read it again."
        ))  # fmt: skip
    lines += [Text(note) for note in readings.notes]
    lines += [Text(""), Text("Safety", style="bold"), *(Text(line) for line in SAFETY)]
    return lines


def _finding(result: BenchResult) -> list[str]:
    readings, fit, advice = result.readings, result.fit, result.advice
    pairs = f"{readings.pairs_used} pair{'s' if readings.pairs_used != 1 else ''} of readings"
    if not advice:
        return [f"Nothing can be told about the rods yet: {pairs}, too few or too coarse. {_TAKE_ALL}"]
    toe, wanted = advice.now.toe_in_deg, advice.planned.toe_in_deg
    lines = [] if advice.toe_told else [f"Whether the toe is off can't be told yet, so turn nothing yet. {_TAKE_ALL}"]
    lines += [
        f"Running straight, each front wheel stands at {_toe(toe)} (+- {NORMAL_95 * advice.toe_error_deg:.2f} deg, 95 %); "
        f"planned is {_toe(wanted)}. {pairs}; the drawn car, with the errors below, {_VERDICTS[fit.verdict]}."
    ]  # fmt: skip
    lines += _growing_miss(result, advice)
    if any(one.bound_hit for one in result.fitted):
        lines.append("Warning: a value ran into its bound: this is not the car that was drawn, or the readings are wrong. Check first.")
    return lines


_TAKE_ALL = "Take all the readings that the worksheet of `template` asks for, half of them near straight ahead."


def _growing_miss(result: BenchResult, advice: AdviceFigures) -> list[str]:
    """A warning where the turns mend the toe but take the wheels further from the plan in turns."""
    now, after = (round(state.largest_miss_deg, 2) for state in (advice.now, advice.after))
    if after <= now:
        return []
    cause = ": so far the wrong rods have hidden part of the arms' kink, and only new arms mend both"
    kinked = any("kink" in one.name for one in result.fitted)
    return [
        f"Beware: with the turns below the wheels miss the plan by more in tight turns than now, at most {after:.2f} instead of "
        f"{now:.2f} deg. Straights gain (drag of the toe, below), tight bends lose{cause if kinked else ''}."
    ]  # fmt: skip


_VERDICTS = {
    Verdict.FITS: "fits them well",
    Verdict.SCATTERS: "fits them badly: they scatter more than said, so the errors are widened",
    Verdict.TOO_GOOD: "fits them better than their reading error lets expect: that error is too cautious, or readings were smoothed",
    Verdict.UNJUDGED: "can't be checked against them, for they are too few or too coarse",
}


def _toe(value: float) -> str:
    if abs(value) < 0.005:
        return "no toe"
    return f"{abs(value):.2f} deg toe-{'in' if value > 0 else 'out'}"


def _count(turns: float) -> str:
    whole, half = divmod(abs(turns), 1)
    number = f"{whole:.0f} 1/2" if whole and half else "1/2" if half else f"{whole:.0f}"
    return f"{number} turn{'s' if abs(turns) > 1 else ''}"


def _way(turns: float) -> str:
    return "OUT (unscrew: anticlockwise)" if turns > 0 else "IN (screw in: clockwise)"


def _steps(result: BenchResult, advice: AdviceFigures) -> list[str]:
    lines = []
    for side, turns in advice.turns.items():
        name = side.replace("_", " ").capitalize() if side != "rod" else f"The {result.linkage}"
        if turns:
            change = "longer" if turns > 0 else "shorter"
            millimetres = abs(turns) * result.thread_pitch_mm
            lines.append(f"{name}: rod end {_count(turns)} {_way(turns)}; the rod gets {millimetres:.2f} mm {change}.")
        elif any(advice.turns.values()) or advice.either_rod_turns:
            lines.append(f"{name}: leave it.")
    either = advice.either_rod_turns
    if either:
        start = "And on" if any(advice.turns.values()) else "On"
        lines.append(f"{start} one of the two rods, whichever you like: rod end {_count(either)} {_way(either)}.")
    if not advice.toe_told:
        lines.insert(0, "Nothing yet. If more readings say the same as these, then this:")
    if not either and not any(advice.turns.values()):
        return ["Nothing: no half turn brings the toe nearer to the plan.", *_engagement(result, advice)]
    lines.append(
        "Ways round are for a right-hand thread, seen from the rod end's eye with the rod behind it; a left-hand thread turns the "
        "other way. Undo the lock nut and the eye's bolt first; half turns keep the eye flat."
    )
    lines.append("A rod that is a tube between a right- and a left-hand thread moves two pitches a turn: turn the tube half as far.")
    if len(advice.turns) == 2 and advice.static_toe_in is None:
        lines.append(
            "The readings show only what both rods do together; if the hand wheel then stands askew on the straight, "
            "shorten one rod and lengthen the other by the same turns."
        )
    return lines + _engagement(result, advice)


def _engagement(result: BenchResult, advice: AdviceFigures) -> list[str]:
    out = {side: turns for side, turns in advice.longer_than_drawn_turns.items() if turns > UNSCREWED}
    pitch = result.thread_pitch_mm
    example = ""
    if pitch in COARSE_MM:
        turns = engagement_turns(pitch * MILLIMETRE, COARSE_MM[pitch] * MILLIMETRE)
        example = f" ({turns:.1f} turns on M{COARSE_MM[pitch]} x {pitch:g})"
    rule = (
        f"Usual minimum of thread inside the rod, at each end: {LEAST_DIAMETERS:g} times the thread's diameter{example}, and never fewer "
        f"than {LEAST_TURNS:g} full turns (common practice)."
    )
    if not out:
        return [rule]
    rods = " and ".join(f"{side.replace('_', ' ')} {turns:.1f} turns" for side, turns in out.items())
    return [f"Warning: unscrewed from the drawn length in all: {rods}. Count the turns still inside before you drive. {rule}"]


def _outcome_table(advice: AdviceFigures) -> Table:
    table = plain_table(("running straight", "left"), ("as it is", "right"), ("after the turns", "right"), ("as planned", "right"))
    states = [advice.now, advice.after, advice.planned]
    table.add_row("toe-in of each wheel deg", *(f"{round(state.toe_in_deg, 2) + 0.0:.2f}" for state in states))
    table.add_row("drag of the toe N", *(f"{state.toe_drag_N:.2f}" for state in states))
    if advice.now.toe_drag_percent_of_rolling is not None:
        table.add_row("... in % of rolling resistance", *(f"{state.toe_drag_percent_of_rolling:.1f}" for state in states))
    table.add_row("largest miss of the wheels' difference, lock to lock deg", *(f"{state.largest_miss_deg:.2f}" for state in states))
    return table


def _outcome_lines(result: BenchResult, advice: AdviceFigures) -> list[str]:
    interval = NORMAL_95 * advice.toe_error_deg
    lines = [f"Left over after the turns: {_toe(advice.toe_left_over_deg)} beside the plan, +- {interval:.2f} deg (95 %)."]
    if advice.static_toe_in:
        toes = advice.static_toe_in
        lines.append("With the hand wheel in its middle: " + ", ".join(
            f"{side} wheel {_toe(one.toe_in_deg)} (+- {NORMAL_95 * one.error_deg:.2f})" for side, one in toes.items()
        ) + f"; the car runs straight at {advice.now.straight_hand_deg:.1f} deg of the hand wheel.")  # fmt: skip
    if Combination.ZEROS_APART in result.not_told:
        lines.append(
            f"This trusts what the readings can't show, above all the protractors' zero: with both askew by {degrees(USUAL['zero']):g} deg "
            f"to opposite sides the toe is off by {advice.toe_unseen_deg:.2f} deg. Check both against the car's centre line."
        )
    if advice.pairs_wanted:
        lines.append(
            f"The half turn is not sure yet: about {advice.pairs_wanted} pairs spread like these would pin the toe to 0.15 deg; "
            "pairs within a few degrees of straight ahead help most."
        )
    return lines


def _fitted_table(result: BenchResult) -> Table:
    table = plain_table(
        ("", "left"), ("value", "right"), ("error", "right"), ("95 % interval", "right"), ("start", "right"), ("bounds", "right"),
        ("what is not\nseen may do", "right"),
    )  # fmt: skip
    for one in result.fitted:
        if isinstance(one, RodValue):
            shown, (low, high) = f"{one.value_turns:+.2f} turns = {one.value_mm:+.2f} mm", one.interval_95_turns
            error, start, bound, unseen = one.error_turns, one.start_turns, one.upper_bound_turns, one.unseen_turns
        else:
            shown, (low, high) = f"{one.value_deg:+.2f} deg", one.interval_95_deg
            error, start, bound, unseen = one.error_deg, one.start_deg, one.upper_bound_deg, one.unseen_deg
        hit = ", HIT" if one.bound_hit else ""
        table.add_row(
            one.name, shown, f"{error:.2f}", f"{low:+.2f} to {high:+.2f}", f"{start:g}", f"+-{bound:g}{hit}", f"+-{unseen:.2f}",
        )  # fmt: skip
    return table


def _ground(result: BenchResult) -> list[str]:
    readings, fit = result.readings, result.fit
    lines = []
    if any(isinstance(one, RodValue) for one in result.fitted):
        lines.append("Rods: too long is positive, against the length that gives the planned toe with the arms as they are.")
    if any("kink" in one.name for one in result.fitted):
        lines.append("Kink: more than drawn is positive. Rods cannot put it right, new arms can; it shows in tight turns (largest miss).")
    said = "stated" if readings.reading_error_stated else "taken, for the table does not state it everywhere"
    if fit.residual_rms_deg is None or fit.chance is None:
        lines.append(f"Reading error {fit.stated_rms_deg:.2g} deg ({said}); with no reading to spare it can't be checked.")
    else:
        lines.append(
            f"Residual {fit.residual_rms_deg:.2g} deg rms against a reading error of {fit.stated_rms_deg:.2g} deg ({said}): "
            f"{fit.verdict} (chi-square {fit.chi_square:.1f}, {fit.spare_readings} readings to spare, "
            f"chance of more {100 * fit.chance:.1f} %)."
        )  # fmt: skip
        if fit.spare_readings < FEWEST_SPARE:
            lines.append("With so few readings a slip in one of them can't be found.")
    strong = [one for one in result.correlations if abs(one.correlation) > STRONG]
    lines += [f"Correlation of {one.between[0]} and {one.between[1]}: {one.correlation:.2f}." for one in strong]
    if result.interval_method == "bootstrap":
        lines.append(f"Intervals are from {REPLICATES} repetitions of the fit with made readings.")
    for group in result.not_told_apart:
        if len(group) > 1:
            together = ", ".join(group)
            lines.append(f"Beyond the values above the readings can't tell apart: {together}. {_TAKEN}")
    alone = [group[0] for group in result.not_told_apart if len(group) == 1]
    if alone:
        lines.append(f"The readings can't tell: {', '.join(alone)}. {_TAKEN}")
    return lines


_TAKEN = "Zeros are taken as true, the rest as drawn."
