"""A handout of two printed sides with three questions about a run, prediction first, and the answers on a sheet of their own."""

from typing import Any, NamedTuple

import numpy as np

from sim.car.chassis import WHEELS
from sim.study.compare import Comparison, SetupResult
from viz.report.page import PAGES, room_of, steerings_of
from viz.report.words import (
    SAFETY,
    Pair,
    course_line,
    excess_words,
    finding_line,
    pair_lines,
    pair_of,
    place_words,
    sure_lines,
    to_do_lines,
    work_words,
)  # fmt: skip
from viz.run.drawn import drawn_results
from viz.run.report import compared, joules
from viz.shared.words import WHEEL_WORDS

MOST_ASKED = 5  # set-ups on a handout; more do not leave room to write
CLASS_SAFETY = (
    "Nobody tries this out with a car that moves: steering pinches fingers, and a car that looks right can still be unsafe. A competent "
    "adult checks steering, brakes and battery before anybody drives."
)

RULER = "Lay a ruler along the axle of each front wheel: where do the lines meet that of the rear axle?"
STRAIGHT_ON = "Do the front wheels of each stand parallel? The table has their angles."


class Question(NamedTuple):
    """A question.  title : of what it is about; asked : the question; lines : to write on; answers : sentences for the answer sheet."""

    title: str
    asked: list[str]
    lines: int
    answers: list[str]


def class_pages(comparison: Comparison) -> tuple[str, str]:
    """The handout and the answer sheet as HTML.  comparison : the run whose figures they hold."""
    from viz.report.pictures import course_picture, pair_pictures

    shown = drawn_results(comparison, MOST_ASKED)
    pair = pair_of(comparison, steerings_of(comparison))
    questions = (predict(comparison, shown), _explain(comparison, pair), _decide(comparison))
    kinds = dict(zip([id(one) for one in comparison.results], [setup.kind.name for setup in comparison.scenario.setup], strict=True))
    given: dict[str, Any] = {
        "title": comparison.scenario.title, "questions": questions, "course": course_line(comparison), "safety": CLASS_SAFETY,
        "style": (PAGES / "report.css").read_text(encoding="utf-8") + (PAGES / "class.css").read_text(encoding="utf-8"),
        "setups": [(one.name, kinds[id(one)]) for one in shown], "rows": [_row(one, comparison) for one in shown],
        "hidden": len(comparison.results) - len(shown), "map": course_picture(comparison.course),
        "cars": [] if pair is None else list(zip([pair.better.name, pair.worse.name], pair_pictures(pair, comparison), strict=True)),
        "wheels": [] if pair is None else _wheel_rows(pair), "place": "" if pair is None else place_words(pair),
    }  # fmt: skip
    room = room_of(comparison)
    handout = room.get_template("handout.html").render(given)
    return handout, room.get_template("answers.html").render(given | {"finding": finding_line(comparison), "safety": SAFETY})


def _row(one: SetupResult, comparison: Comparison) -> tuple[str, list[str]]:
    if one.ledger is None:
        return one.name, [work_words(one), "", "", ""]
    return one.name, [
        f"{joules(one.ledger.drive_work)} J", f"{joules(one.ledger.rolling)} J", f"{joules(one.ledger.scrub)} J",
        f"{one.ledger.rub.sum():.2f} m",
    ]  # fmt: skip


def _wheel_rows(pair: Pair) -> list[tuple[str, list[str]]]:
    return [
        (WHEEL_WORDS[wheel], [cell for side in (pair.better, pair.worse)
                              for cell in (f"{np.degrees(side.steer[index]):+z.1f}°", f"{side.power[index]:.1f} W")])
        for index, wheel in enumerate(WHEELS)
    ]  # fmt: skip


def predict(comparison: Comparison, shown: list[SetupResult]) -> Question:
    """The question before any figure is seen.  comparison : the run; shown : the set-ups that are asked about."""
    drive = "for a lap" if comparison.course.closed else "from start to finish"
    asked = [
        f"Number the set-ups: which needs least energy at the driven wheels {drive}, which most? Write your guess beside each name.",
        "By how much do the first and the last differ: by a tenth of a per cent, by one, by ten or by more?",
        "Which wheel of the last one is dragged furthest over the road, and why that one?",
    ]
    done = sorted((one for one in shown if one.ledger), key=lambda one: one.ledger.drive_work if one.ledger else 0.0)
    order = [f'{place}. "{one.name}": {work_words(one)}, {excess_words(one, comparison)}.' for place, one in enumerate(done, 1)]
    order += [f'"{one.name}" {"gets round, but" if one.reason.startswith(("weaves", "leaves")) else "does not finish: it"} {one.reason}.'
              for one in shown if one.ledger is None]  # fmt: skip
    if done and done[-1].ledger is not None:
        rub = done[-1].ledger.rub
        order.append(f'Of "{done[-1].name}" the {WHEEL_WORDS[WHEELS[int(np.argmax(rub))]]} wheel is dragged furthest: {rub.max():.2f} m.')
    return Question("Predict", asked, 4, [*order, "A guess that was wrong is worth most where its owner can say what it left out."])


def _explain(comparison: Comparison, pair: Pair | None) -> Question:
    if pair is None:
        reasons = [f'"{one.name}" {one.reason}.' for one in comparison.results]
        return Question("Explain", ["No set-up gets round this course. What ends the drive, and what would you change first?"], 4, reasons)
    asked = [f"{place_words(pair)}, the two cars above stand as drawn. {RULER if pair.bends else STRAIGHT_ON}"]
    asked.append(f'Which wheel tells "{pair.worse.name}" and "{pair.better.name}" apart most, and what is that tyre made to do?')
    return Question("Explain", asked, 3, pair_lines(pair))


def _decide(comparison: Comparison) -> Question:
    found = compared(comparison)
    if found is None or found[0].ledger is None or found[1].ledger is None:
        asked = ["What would you do next with this car, and what would you have to measure to be sure?"]
    else:
        more = found[1].ledger.drive_work - found[0].ledger.drive_work
        asked = [
            f'"{found[1].name}" needs {joules(more)} J more than "{found[0].name}". Rolling resistance alone takes '
            f"{joules(found[0].ledger.rolling)} J. Would you rebuild the steering, or do something else first?",
            "Nobody has measured your own tyres. What would you measure to be sure that the answer holds for your car?",
        ]
    measured = "Measure how the car rolls out (`scrubwise coast`) and how its wheels really turn (`scrubwise template`, `scrubwise bench`)."
    return Question("Decide", asked, 3, [*to_do_lines(comparison), *sure_lines(comparison)[:2], measured])
