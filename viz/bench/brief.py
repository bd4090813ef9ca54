"""What `bench` prints without --explain: what is off, what to turn, how to check it; and the plan of readings."""

from typing import Any

from sim.bench.advice import SURE, UNSCREWED
from sim.bench.fit import NORMAL_95
from sim.bench.result import AdviceFigures, AngleValue, BenchResult, ItemFigures, PartFigures, PlanResult, RodFigures, SureFigures, Verdict
from sim.linkages.catalogue import KINDS
from sim.linkages.pivots import SIDES
from sim.study.dangers import HAND_WHEEL
from sim.study.effort import WorthIt
from viz.shared.brief import TO_DO, Rows, brief
from viz.shared.dangers import built_danger_lines, danger_lines, short_stop_line, stop_places
from viz.shared.effort import effort_words, floor_words, saving_words, worth_words

NO_TOE = 0.005  # deg; a smaller toe is shown as none
KNOWN_TURNS = 0.5  # standard error of a rod's length beyond which no length is told [turns]
ASKEW = 2.0  # usual spreads beyond which a protractor's zero is told
ZERO_OF, MARK = "'s zero", "hand wheel's mark"
PROTRACTORS = tuple(f"{side} protractor{ZERO_OF}" for side in SIDES)
SUSPECT = 1 / 3  # probability of being off from which a part that is known is not called right.  Judgement. [-]
LIKELIER = 0.5  # from which an arm that is not known is likelier off than not [-]
TAKEN_UP = 0.75  # turns beside what a blamed rod is off by itself, from which it is said why
AGAIN = "do as it says above, roll the car a few metres, read again and run `bench` once more."
READ_AGAIN = "read again what is doubtful, then run `bench` once more."
DONE = "`scrubwise angles SCENARIO --checks` adds the list of what to look at before anybody drives."
HOLD = "Turn nothing yet. Measure again what is doubted above, write it in the place of the old lines, and run `bench` again."
HELD_DOUBT = "doubtful readings tell neither which rod to turn nor how far; --explain has the turns that they would ask for."
WAYS = "Undo the lock nut first. Seen from the eye; left-hand thread: other way; tube with both: half as far."
LEAVE = "Leave it: it is set. What turns would gain is less than the error of the toe, and for the race not worth the work."
ALIKE = 1 / 3  # of the smaller kink of two arms that are off, by which they may differ and still count as off alike.  Judgement.
WORTH_READING = 0.1  # share by which one reading more has to lower an error to be asked for.  Judgement. [-]
REST = "every part and reading, errors and their grounds, safety"
PLAN_REST = "what each reading asks for, errors and their grounds"


def bench_brief(result: BenchResult) -> list[Any]:
    """The answer in one screen."""
    advice = result.advice
    left, waits = leave_it(result), hold_lines(result)
    told = [*waits, *finding_lines(result), *([] if waits else part_lines(result))]
    if left:
        told.insert(0, LEAVE)
    do = [HOLD] if waits else [*mark_lines(result), "Turn nothing."] if left else steps(result)
    what = [*(f"{number}. {line}" for number, line in enumerate(do, start=1))]
    doubt = [f"Doubt: {HELD_DOUBT if waits else leave_doubt(advice) if left else sure_line(advice)}"]
    danger = read_danger_lines(result)
    warnings = [*unscrewed_lines(result), *left_out_lines(result), *more_lines(result), *remark_lines(result)]
    ready = advice.toe_told and not waits and not hangs_on_one_line(result)
    after = TO_DO + (READ_AGAIN if not ready else AGAIN if (any(_turned(advice)) and not left) or advice.mark_move_deg else DONE)
    advice_lines = [*what, *(price_lines(result, not left) if ready else []), *doubt, after]
    title = f"{result.title}: {result.setup}"
    report = brief(title, told, [*danger, *warnings], None, advice_lines, REST)
    if any(line not in map(str, report) for line in danger):  # what may hurt somebody is never left out
        report = brief(title, [*told, short_stop_line(result.dangers_nearer, "the car")], warnings, None, advice_lines, REST)
    return report


def read_danger_lines(result: BenchResult) -> list[str]:
    """Where the steering can snap over, as planned and as read, with how sure the latter is.  result : BenchResult"""
    errors = result.dangers_as_read_errors
    sizes = zip(SIDES, (errors.dead_centre_left_error_deg, errors.dead_centre_right_error_deg), strict=True)
    bands = {side: None if size is None else NORMAL_95 * size for side, size in sizes}
    return built_danger_lines(result.dangers, result.dangers_as_read, bands)


def hold_lines(result: BenchResult) -> list[str]:
    """What readings contradict, and that nothing is to be turned by them; empty where none does.  result : BenchResult"""
    wrong = result.readings.contradictions
    return [*wrong, "So turn nothing yet."] if wrong else []


def hangs_on_one_line(result: BenchResult) -> bool:
    """Whether many turns would be made because of a single line of readings, in which nothing shows a slip.  result : BenchResult"""
    return result.readings.settings_used == 1 and any(abs(rod.turns) > UNSCREWED for rod in result.advice.rods)


def leave_it(result: BenchResult) -> bool:
    """Whether the advised turns are not worth making: no part is to blame, they bring the toe nearer to the plan by less than its error
    of 95 in 100, and on the course they are not worth the work.  result : BenchResult
    """
    advice, cure = result.advice, result.price.cure
    if (
        result.readings.contradictions
        or not advice.toe_told
        or cure is None
        or cure.verdict is WorthIt.PAYS
        or any(part.blamed for part in result.parts)
    ):
        return False
    now, after = (abs(state.total_toe_in_deg - advice.planned.total_toe_in_deg) for state in (advice.now, advice.after))
    return now - after < NORMAL_95 * advice.total_toe_error_deg


def leave_doubt(advice: AdviceFigures) -> str:
    """How sure it is that nothing needs to be turned.  advice : whose turns are not worth making."""
    moved = abs(advice.after.total_toe_in_deg - advice.now.total_toe_in_deg)
    return (
        f"the toe is known to +- {NORMAL_95 * advice.total_toe_error_deg:.2f} degrees; the turns nearest to the plan, behind --explain, "
        f"would move it by {moved:.2f}."
    )


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
    taken = "Taken as they stand, the readings say: both" if result.readings.contradictions else "Both"
    lines = [
        f"{taken} front wheels together have {toe_words(advice.now.total_toe_in_deg)} (+- {interval:.2f}); planned is "
        f"{toe_words(advice.planned.total_toe_in_deg)}."
    ]  # fmt: skip
    if not (advice.toe_told or result.readings.contradictions):
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
    mark, turned = result.advice.mark_move_deg, any(_turned(result.advice))
    if mark:
        told = [*(f"The {part.part} is {_off(part)}." for part in blamed), *beside_lines(result)]
        sure = next(one.error_deg for one in result.fitted if isinstance(one, AngleValue) and one.name == MARK)
        return [f"The hand wheel's mark is {_degrees(mark)} off (+- {NORMAL_95 * sure:.1f}): move it before you turn a rod.", *told]
    if any(part.serves and part.off_mm is not None and part.known and part.probability > SURE for part in result.parts):
        return ["The rods are not as long as drawn, and right so: they take up what arms or the hand wheel's mark are off."]
    if blamed:
        told = [f"The {part.part} is {_off(part)}; that is sure in {percent(part.probability)} such cars." for part in blamed]
        return [*told, *alike_lines(result), *beside_lines(result)]
    if not turned and all(part.known or (part.off_turns is None and part.probability < LIKELIER) for part in result.parts):
        # An arm by itself that were off by more would ask for turns.
        both = "arms and the hand wheel's mark" if _has_mark(result) else "both arms"
        unless = "" if all(part.known for part in result.parts) else f", unless {both} are off against each other"
        return [f"No part is off by as much as half a turn{unless}."]
    suspects = [part for part in result.parts if not part.known or part.probability >= SUSPECT]
    if not any(part.off_turns is not None for part in suspects):
        return [_rods_right(result, suspects)]
    tell = ""
    if result.to_tell and result.to_tell_again:
        tell = f": it may be the {' or the '.join(part.part for part in suspects)}; measure {item_words(result.to_tell)} once more to tell"
    elif result.to_tell:
        tell = f"; measure {item_words(result.to_tell)} to tell"
    return [f"The readings do not say which part is off{tell}."]


def alike_lines(result: BenchResult) -> list[str]:
    """That two arms which are off alike ask for a look at the file; empty where they are not.  result : BenchResult"""
    off = [part.off_deg for part in result.parts if part.blamed and part.off_deg is not None]
    if len(off) < 2 or max(off) - min(off) > ALIKE * min(map(abs, off)):
        return []
    along = KINDS[result.linkage].along if result.linkage in KINDS else ""
    return [
        f"Both arms alike are seldom bent: first hold the scenario's lengths against the car, the place of the arms' joints"
        f"{f', {along}' if along else ''} and the tracks. If they are right, both arms were made so."
    ]


def _rods_right(result: BenchResult, suspects: list[PartFigures]) -> str:
    """What is left to be off where no rod is."""
    rods, take = ("rods are", "they take") if len(result.advice.rods) > 1 else ("rod is", "it takes")
    if not suspects:  # else nothing were turned
        return f"The {rods} right within what the readings tell; turned as below {take} up the little that all parts are off together."
    arms, which = ("arms", "them") if len(suspects) > 1 else (suspects[0].part, "it")
    askew, look = (", or the hand wheel's mark askew", " and look at the mark") if _has_mark(result) else ("", "")
    return f"The {rods} right; the {arms} may be bent or not as drawn{askew}: measure {which}{look}."


def _has_mark(result: BenchResult) -> bool:
    return any(one.name == MARK for one in result.fitted)


def beside_lines(result: BenchResult) -> list[str]:
    """Why the turns are not those of the rods that are to blame; empty where they are, or no rod is to blame.  result : BenchResult"""
    rods = [part for part in result.parts if part.off_turns is not None]
    off = [(part.off_turns or 0.0) if part.blamed else 0.0 for part in rods]
    beside = any(abs(rod.turns + one) > TAKEN_UP for rod, one in zip(result.advice.rods, off, strict=True))
    if not beside or not any(part.blamed for part in rods):
        return []
    what = "arms and the hand wheel's mark are" if _has_mark(result) else "arms are"
    return [f"The turns are not just those of the wrong part: they also take up what {what} off."]


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


def _degrees(size: float) -> str:
    return f"{abs(size):.1f} degrees"


def mark_lines(result: BenchResult) -> list[str]:
    """How the hand wheel's mark is moved; empty where it stays."""
    move = result.advice.mark_move_deg
    if not move:
        return []
    side = "left" if move > 0 else "right"
    check = " The drop arm then hangs plumb." if result.linkage in KINDS and KINDS[result.linkage].hangs else ""
    return [
        f"Move the hand wheel's mark by {_degrees(move)}: turn the wheel that far to the {side} of its mark, and make the new mark where "
        f"it stands (a minute, no spanner).{check}"
    ]


def steps(result: BenchResult) -> list[str]:
    """What a mechanic does, in order."""
    advice = result.advice
    lines = mark_lines(result)
    if not any(_turned(advice)):
        return [*lines, f"{'Then turn' if lines else 'Turn'} nothing: no half turn brings the car nearer to the plan."]
    if hangs_on_one_line(result):
        lines.append("Nothing yet: one line alone asks for many turns, and a slip in it is as likely. If more lines say the same, this:")
    elif not advice.toe_told:
        lines.append("Nothing yet. If more readings say the same, then this:")
    for rod in advice.rods:
        pitch = result.thread_pitch_mm
        if rod.turns:
            change = f"{abs(rod.turns) * pitch:.2f} mm {'longer' if rod.turns > 0 else 'shorter'}"
            length = length_words(rod, pitch)
            first = f" {WAYS}" if not any(WAYS in line for line in lines) else ""
            lines.append(f"{_name(rod)}: one rod end {count_words(rod.turns)} {way_words(rod.turns)}, {change}; {length}.{first}")
        elif len(advice.rods) > 1:
            lines.append(f"{_name(rod)}: leave it.")
    either = advice.either_rod_turns
    if either:
        lines.append(f"And on one of the rods, whichever you like: {count_words(either)} {way_words(either)}.")
    if not advice.apart_told:
        lines.append("If the hand wheel then stands askew on the straight, shorten one rod and lengthen the other by the same turns.")
    toe = advice.after.total_toe_in_deg
    lines.append(
        f"Lock nuts tight, thread left inside, steer by hand {steer_words(result)}; check lengths and toe: expect "
        f"{toe_words(toe)}."
    )  # fmt: skip
    return lines


def steer_words(result: BenchResult) -> str:
    """How far the hand wheel may be turned to try it.  result : BenchResult"""
    places = stop_places(result.dangers_nearer)
    return f"to {' and '.join(f'{stop} deg {side}' for side, stop in places)}, no further" if places else "from lock to lock"


def price_lines(result: BenchResult, turning: bool = True) -> list[str]:
    """What the turns are worth in the race's terms, or what is off costs where nothing is to be turned.  turning : whether they are made"""
    price = result.price
    if price.to_plan is None:
        return [f"What it costs on the course is not known: {price.missing}."]
    if price.cure is not None and turning:
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
    when = "after these turns" if any(_turned(advice)) else "as it stands,"
    return f"{when} {which} within half a turn of right in {percent(advice.near_probability)} such cars."


def more_lines(result: BenchResult) -> list[str]:
    """The one reading more that helps most."""
    if result.more is None or not _helps(result.more.sure, result.advice):
        return []
    sure, item = result.more.sure, result.more.item
    return [
        f"One reading more helps most: {item_words(item)}. With it toe is known to +- {NORMAL_95 * sure.total_toe_error_deg:.2f} degrees, "
        f"and a rod that is one turn off is named in {percent(sure.named_probability)}."
    ]  # fmt: skip


def _helps(sure: SureFigures, now: AdviceFigures) -> bool:
    """Whether a reading more lowers the error of the toe, or of a rod's turns, by enough to be asked for."""
    errors = [(sure.total_toe_error_deg, now.total_toe_error_deg)]
    errors += zip(sure.turns_errors_turns, (rod.needed_error_turns for rod in now.rods), strict=True)
    return any(then < (1 - WORTH_READING) * before for then, before in errors)


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
    if after > now and not leave_it(result):
        lines.append(
            f"Beware: with these turns the wheels miss the plan by up to {after:.1f} degrees in tight turns, now by {now:.1f}; only arms "
            "mend that."
        )  # fmt: skip
    lines += [*readings.notes, *askew_lines(result)]
    if readings.rim_taken_mm is not None:
        lines.append(f"rim_mm is not given: {readings.rim_taken_mm:.0f} mm is taken between the two places on each rim.")
    return lines


def left_out_lines(result: BenchResult) -> list[str]:
    """Lines of the table that lie too far from the rest.  result : BenchResult"""
    again = "" if result.readings.contradictions else " Read it again."  # which of them is wrong is then the question
    return [
        f"Left out: {one.file} line {one.line} ({one.what}) lies {one.off_reading_errors:.1f} reading errors from the rest.{again}"
        for one in result.readings.left_out
    ]


def askew_lines(result: BenchResult) -> list[str]:
    """Protractors whose zero comes out further off than such things usually are."""
    zeros = [one for one in result.fitted if isinstance(one, AngleValue) and one.name in PROTRACTORS]
    return [
        f"The {one.name.removesuffix(ZERO_OF)} shows {_degrees(one.value_deg)} to the {'left' if one.value_deg > 0 else 'right'} with its "
        "wheel straight: it may stand askew: set it again."
        for one in zeros if abs(one.value_deg) > ASKEW * one.usual_deg
    ]  # fmt: skip


def promise(sure: SureFigures) -> str:
    """How sure the answers of a plan will be, in one sentence."""
    one = len(sure.rod_errors_turns) == 1
    return (
        f"With it you know the toe of both wheels together to +- {NORMAL_95 * sure.total_toe_error_deg:.2f} degrees, how far to turn "
        f"{'the rod' if one else 'each rod'} to half a turn in {percent(sure.cured_probability)} cars, and a rod that is one turn off is "
        f"named in {percent(sure.named_probability)}."
    )  # fmt: skip


def minutes_line(result: PlanResult) -> str:
    """How long a plan takes, and all of setting the car with it."""
    return f"The {result.plan} plan takes about {result.minutes:.0f} minutes of floor work. {floor_words(result.minutes)}"


def plan_brief(result: PlanResult) -> list[Any]:
    """The plan of readings in one screen."""
    rows = [(f"{item.times} x", item.name, " ".join(item.columns)) for item in result.items]
    straight = "the hand wheel to its mark" if result.dangers.hand_is == HAND_WHEEL else "both wheels straight ahead by eye"
    told = [f"{minutes_line(result)} {promise(result.sure)}"]
    advice = [
        f"Before: pump the tyres, feel for play, set {straight}. Afterwards give `bench` a CSV file with these columns, a "
        "line for each reading, other cells empty; rim_mm is the distance between the two places on a rim.",
        "Doubt: errors as usual; a faulty tape or a wheel out of true is not seen.",
        f"{TO_DO}read them off the car, then `scrubwise bench SCENARIO READINGS.csv`; or type them in with --type FILE.csv.",
    ]
    columns = [("times", "right"), ("measure", "left"), ("write under", "left")]
    return brief(f"{result.title}: {result.setup}", told, danger_lines(result.dangers), Rows(columns, rows), advice, PLAN_REST)
