"""A handout of two printed sides with three questions about a run, prediction first, and the answers on a sheet of their own."""

from math import log, sqrt
from typing import Any, NamedTuple

import numpy as np

from sim.car.chassis import WHEELS
from sim.judgements import TELL_APART
from sim.study.compare import Comparison, SetupResult
from sim.study.places import shared_places
from viz.report.chosen import chosen_words
from viz.report.dragged import ROUNDED, dearer_words, furthest_lines, rubber_cells
from viz.report.page import PAGES, room_of, steerings_of
from viz.report.short import Driven, driven, is_yardstick, level_with_best, yardstick_words
from viz.report.words import (
    SAFETY,
    Pair,
    drawn_crossings,
    excess_words,
    finding_line,
    legend_words,
    pair_lines,
    pair_of,
    place_chosen_words,
    place_words,
    seen_apart,
    sure_lines,
    to_do_lines,
    work_words,
)  # fmt: skip
from viz.run.drawn import drawn_results
from viz.run.report import compared, course_line, with_dangers
from viz.shared.dangers import TURNTABLE, needs_stop, stops_line
from viz.shared.rounding import shown, shown_less, tenths
from viz.shared.words import PRESSURE_FIRST, WHEEL_WORDS, share_words

BETWEEN = sqrt(10)  # by which an answer that a question offers is larger or smaller than half way to the next
MOST_ASKED = 5  # set-ups on a handout; with more, which its answers have to name, everything on it is smaller
CLASS_SAFETY = (
    "Nobody tries this out with a car that moves: steering pinches fingers{snaps}, and a car that looks right can still be unsafe. A "
    "competent adult checks steering, brakes and battery before anybody drives."
)
SNAPS = ", some of these snap over without a stop"  # the answers say which

RULER = "Lay a ruler along the axle of each front wheel: where does it meet the line of the rear axle, and do both meet it at one point?"
ALIKE = "Both lose nearly as much there. What must every tyre do in this bend, however the front wheels stand?"
ALIKE_ANSWER = "A tyre has to slip a little sideways to push the car round, with ideal steering too: that is most of what is lost there."
STRAIGHT_ON = "Do the front wheels of each stand parallel? The table has their angles."


class Question(NamedTuple):
    """A question.  title : of what it is about; asked : the question; lines : to write on; answers : sentences for the answer sheet."""

    title: str
    asked: list[str]
    lines: int
    answers: list[str]


def class_pages(comparison: Comparison, undriven: int = 0) -> tuple[str, str]:
    """The handout and the answer sheet as HTML.

    comparison : the run whose figures they hold; undriven : cars of a contest whose laps the run has not
    """
    from viz.report.pictures import course_picture, pair_pictures

    pair = pair_of(comparison, steerings_of(comparison))
    explained, decided = _explain(comparison, pair), _decide(comparison)
    shown = handout_setups(comparison, [finding_line(comparison), *explained.answers, *decided.asked, *decided.answers])
    questions = (predict(comparison, shown, pair), explained, decided)
    # One that got round alone stands beside ideal steering, which is no set-up of the scenario.
    beside = [comparison.reference] if pair is not None and pair.better.result is comparison.reference else []
    driven_with = zip(comparison.results, comparison.scenario.setup, strict=True)
    chosen = [setup for one, setup in driven_with if any(one is other for other in shown)]
    yardsticks = [one for one in driven(comparison) if any(one.result is other for other in shown)]
    given: dict[str, Any] = {
        "title": comparison.scenario.title, "questions": questions, "course": course_line(comparison),
        "safety": CLASS_SAFETY.format(snaps=SNAPS if any(needs_stop(one) for _, one in with_dangers(comparison)) else ""),
        "style": (PAGES / "report.css").read_text(encoding="utf-8") + (PAGES / "class.css").read_text(encoding="utf-8"),
        "setups": list(zip([one.name for one in shown], chosen_words(chosen), strict=True)),
        "rows": [_row(one) for one in (*shown, *beside)], "rub": [WHEEL_WORDS[wheel] for wheel in WHEELS], "rounded": ROUNDED,
        "hidden": len(comparison.results) - len(shown), "undriven": undriven,
        "full": len(shown) > MOST_ASKED, "map": course_picture(comparison.course),
        "cars": [] if pair is None else list(zip([pair.better.name, pair.worse.name], pair_pictures(pair, comparison), strict=True)),
        "wheels": [] if pair is None else _wheel_rows(pair), "yardsticks": yardstick_words(yardsticks),
        "legend": "" if pair is None else legend_words(pair),
    }  # fmt: skip
    room = room_of(comparison)
    handout = room.get_template("handout.html").render(given)
    for_teachers = " ".join([SAFETY, *stops_line(with_dangers(comparison))])
    return handout, room.get_template("answers.html").render(given | {"finding": finding_line(comparison), "safety": for_teachers})


def handout_setups(comparison: Comparison, told: list[str]) -> list[SetupResult]:
    """The set-ups on a handout, in the scenario's order: whatever its sentences or the answers name, and others while there is room.

    comparison : the run; told : the sentences
    """
    drawn = drawn_results(comparison, MOST_ASKED)
    named = [one for one in comparison.results if any(f'"{one.name}"' in line for line in told)]
    ranked = [*named, *(one for one in drawn if not any(one is other for other in named))][: max(MOST_ASKED, len(named))]
    return [one for one in comparison.results if any(one is other for other in ranked)]


def _row(one: SetupResult) -> tuple[str, list[str]]:
    """A row of what a set-up needs: its drive work, the three parts of it, and how far its tyres are dragged."""
    if one.ledger is None:
        return one.name, [work_words(one), *[""] * 3, *rubber_cells(None)]
    rest = shown(shown_less(one.ledger.drive_work, one.ledger.rolling) - shown(one.ledger.scrub))
    parts = [f"{tenths(value)} J" for value in (one.ledger.rolling, one.ledger.scrub, rest)]
    return one.name, [work_words(one), *parts, *rubber_cells(one.ledger)]


def _angle_digits(pair: Pair) -> int:
    """Decimals that show that a car's front wheels do not stand parallel, where they nearly do [-]."""
    fronts = [np.degrees(side.steer[:2]) for side in (pair.better, pair.worse)]
    return 2 if any(not shown_less(left, right) and shown_less(left, right, 2) for left, right in fronts) else 1


def _wheel_rows(pair: Pair) -> list[tuple[str, list[str]]]:
    digits = _angle_digits(pair)
    return [
        (WHEEL_WORDS[wheel], [cell for side in (pair.better, pair.worse)
                              for cell in (f"{np.degrees(side.steer[index]):+z.{digits}f}°", f"{tenths(side.power[index])} W")])
        for index, wheel in enumerate(WHEELS)
    ]  # fmt: skip


def parallel_lines(pair: Pair) -> list[str]:
    """Of each car whether its front wheels stand parallel, by the angles of the handout's table.  pair : of question 2"""
    digits, lines = _angle_digits(pair), []
    for side in (pair.better, pair.worse):
        left, right = np.degrees(side.steer[:2])
        apart = abs(shown_less(left, right, digits))
        stand = "stand parallel" if not apart else f"do not stand parallel: {apart:.{digits}f} degrees lie between them"
        little = ", too little to be seen, but no less than so wide a bend asks for" if apart and digits > 1 and apart < 0.1 else ""
        wide = little if pair.bends and side.error is not None and abs(np.degrees(side.error)) < 0.05 else ""
        lines.append(f'"{side.name}": its front wheels {stand}{wide}.')
    return lines


def places_of(done: list[Driven]) -> dict[str, int]:
    """Each set-up's place by drive work; those that the model cannot tell from the first of a place share it.  done : they got round."""
    works = {one.result.name: one.work for one in done}
    return shared_places(works, True, {name: TELL_APART * work for name, work in works.items()})


def apart_line(done: list[Driven]) -> str:
    """How far the least and the most lie apart, and which of the answers that the question offers is nearest.  done : least first"""
    low, high = done[0].work, done[-1].work
    percent = 100 * (high - low) / low
    offered = [(0.1, "a tenth of a per cent"), (1.0, "one per cent"), (10.0, "ten per cent")]
    if percent > BETWEEN * offered[-1][0]:
        nearest = "more than ten per cent"
    elif percent < offered[0][0] / BETWEEN:
        nearest = "less than a tenth of a per cent"
    else:
        nearest = f"{min(offered, key=lambda one: abs(log(percent / one[0])))[1]} is nearest"
    return f"The least and the most differ by {tenths(shown_less(high, low))} J or {share_words(percent / 100)}: {nearest}."


def predict(comparison: Comparison, shown: list[SetupResult], pair: Pair | None) -> Question:
    """The question before any figure is seen.

    comparison : the run; shown : the set-ups that are asked about; pair : the two of question 2, None without one
    """
    drive = "for a lap" if comparison.course.closed else "from start to finish"
    asked = [
        f"Number the set-ups: which needs least energy at the driven wheels {drive}, which most? Write your guess beside each name. Those "
        f"that lie within {100 * TELL_APART:g} % share a number, for nobody can tell them apart.",
        "By how much do the least and the most differ: by a tenth of a per cent, by one, by ten or by more?",
        "Which wheel of the set-up that needs most is dragged furthest over the road, and why that one?",
    ]
    done = sorted((one for one in driven(comparison) if any(one.result is other for other in shown)), key=lambda one: one.work)
    places = places_of(done)
    order = []
    for one in done:
        name = one.result.name
        shares = " (shared)" if list(places.values()).count(places[name]) > 1 else ""
        order.append(f'Place {places[name]}{shares}: "{name}", {work_words(one.result)}, {excess_words(one.result, comparison)}.')
    order += [apart_line(done)] if len(done) > 1 and done[0].work > 0 else []
    if len(set(places.values())) == 1 < len(places):
        order.append("So on this course all share one place: whoever gave them all one number was right.")
    order += [line for line in [yardstick_words(done)] if line]
    order += [TURNTABLE for one in done[:1] if any(table.kind.axle for table in done)]
    order += [f'"{one.name}" {"gets round, but" if one.reason.startswith(("weaves", "leaves")) else "does not finish: it"} {one.reason}.'
              for one in shown if one.ledger is None]  # fmt: skip
    if done:
        last = [one for one in done if places[one.result.name] == max(places.values())]
        order += furthest_lines(last, comparison, pair)
        order += filter(None, [dearer_words(done)])
    return Question("Predict", asked, 4, [*order, "A guess that was wrong is worth most where its owner can say what it left out."])


def _explain(comparison: Comparison, pair: Pair | None) -> Question:
    if pair is None:
        reasons = [f'"{one.name}" {one.reason}.' for one in comparison.results]
        return Question("Explain", ["No set-up gets round this course. What ends the drive, and what would you change first?"], 4, reasons)
    chosen = place_chosen_words(pair, comparison)
    # A ruler helps where what it is to find lies on the sheet, for both cars.
    task = RULER if pair.bends and len(drawn_crossings(pair)) == 2 else STRAIGHT_ON
    asked = [f"{place_words(pair)}, the two cars above stand as drawn. {task}"]
    lines = [*(parallel_lines(pair) if task == STRAIGHT_ON else []), *pair_lines(pair)]
    if not seen_apart(pair):
        return Question("Explain", [*asked, ALIKE], 3, [*lines, ALIKE_ANSWER, chosen])
    asked.append(f'Which wheel tells "{pair.worse.name}" and "{pair.better.name}" apart most, and what is that tyre made to do?')
    return Question("Explain", asked, 3, [*lines, chosen])


def _decide(comparison: Comparison) -> Question:
    done = driven(comparison)
    built = [one for one in done if one.kind.rods]
    measured = "Measure how the car rolls out (`scrubwise coast`) and how its wheels really turn (`scrubwise template`, `scrubwise bench`)."
    sure = sure_lines(comparison)[:2]
    if compared(comparison) is None:
        asked = ["What would you do next with this car, and what would you have to measure to be sure?"]
        return Question("Decide", asked, 3, [*to_do_lines(comparison), *sure, measured])
    # What is asked about can be built; where nothing of that kind differs, the yardsticks say how much there would be to gain at most.
    ones = built if len(built) > 1 and len(level_with_best(built)) < len(built) else [one for one in done if not one.kind.axle] or done
    least, most = min(ones, key=lambda one: one.work), max(ones, key=lambda one: one.work)
    more, rolling = shown_less(most.work, least.work), f"Rolling resistance alone takes {tenths(least.ledger.rolling)} J."
    if most.work <= least.work * (1 + TELL_APART):
        asked = [
            f"{'All these' if len(ones) > 2 else 'These'} set-ups lie within {tenths(more)} J of each other, less than anybody can tell "
            f"({100 * TELL_APART:g} %). {rolling} What would you do to your car to get further?"
        ]
        answers = ["Not rebuild the steering for the race: what it could save cannot be told."]
        answers += [] if any(PRESSURE_FIRST in line for line in to_do_lines(comparison)) else [PRESSURE_FIRST]
    else:
        aim = ", a yardstick that cannot be built exactly" if least.kind.yardstick else ", a yardstick" if is_yardstick(least.kind) else ""
        asked = [
            f'"{most.result.name}" needs {tenths(more)} J more than "{least.result.name}"'
            f"{aim}. {rolling} Would you change the steering of "
            f'"{most.result.name}", or do something else first?'
        ]
        answers = []
    asked.append("Nobody has measured your own tyres. What would you measure to be sure that the answer holds for your car?")
    return Question("Decide", asked, 3, [*answers, *to_do_lines(comparison), *sure, measured])
