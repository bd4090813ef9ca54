"""What `bench` prints without --explain: what is off, what to turn, how to check it; and the plan of readings."""

from typing import Any

from sim.bench.advice import UNSCREWED
from sim.bench.fit import NORMAL_95
from sim.bench.result import AdviceFigures, BenchResult, ItemFigures, PartFigures, PlanResult, RodFigures, SureFigures, Verdict
from sim.study.dangers import HAND_WHEEL
from viz.shared.brief import TO_DO, Rows, brief
from viz.shared.dangers import danger_lines
from viz.shared.effort import effort_words, saving_words, worth_words

NO_TOE = 0.005  # deg; a smaller toe is shown as none
KNOWN_TURNS = 0.5  # standard error of a rod's length beyond which no length is told [turns]
TAKEN_UP = 0.75  # turns beside what a blamed rod is off by itself, from which it is said why
AGAIN = "turn as it says above, roll the car a few metres, read again and run `bench` once more."
DONE = "`scrubwise angles SCENARIO --checks` adds the list of what to look at before anybody drives."
REST = "what every part and reading tells, errors and their grounds, safety"
PLAN_REST = "what each reading asks for, errors and their grounds"


def bench_brief(result: BenchResult) -> list[Any]:
    """The answer in one screen."""
    advice = result.advice
    told = [*finding_lines(result), *part_lines(result)]
    what = [*(f"{number}. {line}" for number, line in enumerate(steps(result), start=1))]
    doubt = [f"Doubt: {sure_line(advice)}"]
    warnings = [*danger_lines(result.dangers), *unscrewed_lines(result), *more_lines(result), *remark_lines(result)]
    after = TO_DO + (AGAIN if any(_turned(advice)) else DONE)
    advice_lines = [*what, *price_lines(result), *doubt, after]
    return brief(f"{result.title}: {result.setup}", told, warnings, None, advice_lines, REST)


def toe_words(degrees: float) -> str:
    """Toe of both wheels together in words.  degrees : toe-in [deg]."""
    if abs(degrees) < NO_TOE:
        return "no toe"
    return f"{abs(degrees):.2f} degrees of toe-{'in' if degrees > 0 else 'out'}"


def percent(share: float) -> str:
    """A probability in a hundred, never more sure than that.  share [-]."""
    return f"{min(max(round(100 * share), 1), 99)} in 100"


def finding_lines(result: BenchResult) -> list[str]:
    """Toe as it is and as it should be, and whether that is told."""
    advice = result.advice
    interval = NORMAL_95 * advice.total_toe_error_deg
    lines = [
        f"Both front wheels together have {toe_words(advice.now.total_toe_in_deg)} (+- {interval:.2f}); planned is "
        f"{toe_words(advice.planned.total_toe_in_deg)}."
    ]  # fmt: skip
    if not advice.toe_told:
        lines.insert(0, "Whether the toe is off can't be told yet, so turn nothing yet.")
    if result.fit.verdict is Verdict.SCATTERS:
        lines.append("The readings scatter more than their errors say; all that follows is less sure, and says so.")
    return lines


def _off(part: PartFigures) -> str:
    if part.off_mm is not None:
        return f"{abs(part.off_mm):.1f} mm too {'long' if part.off_mm > 0 else 'short'}"
    assert part.off_deg is not None  # an arm
    return f"kinked {abs(part.off_deg):.1f} degrees too {'much' if part.off_deg > 0 else 'little'}"


def part_lines(result: BenchResult) -> list[str]:
    """Which part is off, or that nobody can say."""
    blamed = [part for part in result.parts if part.blamed]
    if blamed:
        return [f"The {part.part} is {_off(part)}; that is sure in {percent(part.probability)} such cars." for part in blamed]
    if not any(_turned(result.advice)) and all(part.known for part in result.parts):
        return ["No part is off by as much as half a turn."]
    tell = f"; measure {item_words(result.to_tell)} to tell" if result.to_tell else ""
    return [f"The readings do not say which part is off{tell}."]


def item_words(item: ItemFigures) -> str:
    """Something to measure, as part of a sentence."""
    names = {"threads": "the threads (count them)", "tape between the rims": "toe with a tape between the rims",
             "string at both wheels": "both wheels with a string"}  # fmt: skip
    return names.get(item.name, item.name if item.name.startswith(("both", "the")) else f"the {item.name}")


def _turned(advice: AdviceFigures) -> list[float]:
    return [*(rod.turns for rod in advice.rods), advice.either_rod_turns]


def count_words(turns: float) -> str:
    """Turns in halves.  turns [turns]."""
    whole, half = divmod(abs(turns), 1)
    number = f"{whole:.0f} 1/2" if whole and half else "1/2" if half else f"{whole:.0f}"
    return f"{number} turn{'s' if abs(turns) > 1 else ''}"


def way_words(turns: float) -> str:
    """Which way.  turns : positive unscrews [turns]."""
    return "OUT (anticlockwise)" if turns > 0 else "IN (clockwise)"


def _name(rod: RodFigures) -> str:
    return rod.rod[0].upper() + rod.rod[1:]


def length_words(rod: RodFigures, pitch: float) -> str:
    """A rod's length with the turns made, where it is known.  pitch : of its thread [mm]."""
    if rod.after_error_mm > KNOWN_TURNS * pitch:
        return "measure it from eye to eye before and after"
    return f"then {rod.after_mm:.1f} mm from eye to eye (+- {NORMAL_95 * rod.after_error_mm:.1f})"


def steps(result: BenchResult) -> list[str]:
    """What a mechanic does, in order."""
    advice = result.advice
    if not any(_turned(advice)):
        return ["Turn nothing: no half turn brings the car nearer to the plan."]
    lines = [] if advice.toe_told else ["Nothing yet. If more readings say the same, then this:"]
    for rod in advice.rods:
        pitch = result.thread_pitch_mm
        if rod.turns:
            change = f"{abs(rod.turns) * pitch:.2f} mm {'longer' if rod.turns > 0 else 'shorter'}"
            length = length_words(rod, pitch)
            lines.append(f"{_name(rod)}: one rod end {count_words(rod.turns)} {way_words(rod.turns)}, {change}; {length}.")
        elif len(advice.rods) > 1:
            lines.append(f"{_name(rod)}: leave it.")
    either = advice.either_rod_turns
    if either:
        lines.append(f"And on one of the rods, whichever you like: {count_words(either)} {way_words(either)}.")
    if not advice.apart_told:
        lines.append("If the hand wheel then stands askew on the straight, shorten one rod and lengthen the other by the same turns.")
    toe = advice.after.total_toe_in_deg
    lines.append(
        "Lock nuts tight, thread left inside, steer from lock to lock by hand; then check the lengths with the tape and measure toe again: "
        f"{toe_words(toe)} is expected."
    )  # fmt: skip
    return lines


def price_lines(result: BenchResult) -> list[str]:
    """What the turns are worth in the race's terms, or what is off costs where nothing is to be turned."""
    price = result.price
    if price.to_plan is None:
        return [f"What it costs on the course is not known: {price.missing}."]
    if price.cure is not None:
        cure = price.cure
        return [f"The turns take {effort_words(cure)}. On this course they save {saving_words(cure, price.closed)}: {worth_words(cure)}"]
    if price.to_plan.saves_J <= 0:
        return ["On this course the car is as good as planned."]
    return [f"On this course the car as planned would save {saving_words(price.to_plan, price.closed)}."]


def sure_line(advice: AdviceFigures) -> str:
    """How sure the turns are."""
    if not advice.apart_told:
        return "the readings show what both rods do together, not how they share it; so their turns are shared alike."
    which = "the rod is" if len(advice.rods) == 1 else "both rods are"
    return f"after these turns {which} within half a turn of right in {percent(advice.near_probability)} such cars."


def more_lines(result: BenchResult) -> list[str]:
    """The one reading more that helps most."""
    if result.more is None:
        return []
    sure, item = result.more.sure, result.more.item
    return [
        f"One reading more helps most: {item_words(item)}. With it toe is known to +- {NORMAL_95 * sure.total_toe_error_deg:.2f} degrees, "
        f"and a rod that is one turn off is named in {percent(sure.named_probability)}."
    ]  # fmt: skip


def unscrewed_lines(result: BenchResult) -> list[str]:
    """A warning of rods whose ends would stand too far out."""
    far = [rod for rod in result.advice.rods if rod.after_mm - rod.planned_mm > UNSCREWED * result.thread_pitch_mm]
    longer = ", ".join(f"{rod.rod} {rod.after_mm - rod.planned_mm:.1f} mm" for rod in far)
    return [f"Warning: unscrewed from the planned length: {longer}. Count the turns still inside before you drive."] if far else []


def remark_lines(result: BenchResult) -> list[str]:
    """What else has to be said, the gravest first."""
    readings, advice = result.readings, result.advice
    now, after = (round(state.largest_miss_deg, 1) for state in (advice.now, advice.after))
    lines = []
    if after > now:
        lines.append(
            f"Beware: with these turns the wheels miss the plan by up to {after:.1f} degrees in tight turns, now by {now:.1f}; only arms "
            "mend that."
        )  # fmt: skip
    off = {part.part: part.off_turns for part in result.parts if part.blamed and part.off_turns is not None}
    if off and any(abs(rod.turns + off.get(rod.rod, 0.0)) > TAKEN_UP for rod in advice.rods):
        lines.append("The turns are not just those of the wrong part: they also take up what arms and the hand wheel's mark are off.")
    lines += [
        f"Left out: {one.file} line {one.line} ({one.what}) lies {one.off_reading_errors:.1f} reading errors from the rest. Read it again."
        for one in readings.left_out
    ]
    if readings.rim_taken_mm is not None:
        lines.append(f"rim_mm is not given: {readings.rim_taken_mm:.0f} mm is taken between the two places on each rim.")
    return [*lines, *readings.notes]


def promise(sure: SureFigures) -> str:
    """How sure the answers of a plan will be, in one sentence."""
    one = len(sure.rod_errors_turns) == 1
    return (
        f"With it you know the toe of both wheels together to +- {NORMAL_95 * sure.total_toe_error_deg:.2f} degrees, how far to turn "
        f"{'the rod' if one else 'each rod'} to half a turn in {percent(sure.cured_probability)} cars, and a rod that is one turn off is "
        f"named in {percent(sure.named_probability)}."
    )  # fmt: skip


def plan_brief(result: PlanResult) -> list[Any]:
    """The plan of readings in one screen."""
    rows = [(f"{item.times} x", item.name, " ".join(item.columns)) for item in result.items]
    straight = "the hand wheel to its mark" if result.dangers.hand_is == HAND_WHEEL else "both wheels straight ahead by eye"
    told = [f"The {result.plan} plan takes about {result.minutes:.0f} minutes of floor work.", promise(result.sure)]
    advice = [
        f"Before: pump the tyres, feel for play, set {straight}. Afterwards give `bench` a CSV file with these columns, a "
        "line for each reading, other cells empty; rim_mm is the distance between the two places on a rim.",
        "Doubt: this holds where errors are as usual; a fault of the tape or a wheel out of true is not seen.",
        f"{TO_DO}read them off the car, then `scrubwise bench SCENARIO READINGS.csv`; or type them in with --type FILE.csv.",
    ]
    columns = [("times", "right"), ("measure", "left"), ("write under", "left")]
    return brief(f"{result.title}: {result.setup}", told, danger_lines(result.dangers), Rows(columns, rows), advice, PLAN_REST)
