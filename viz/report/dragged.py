"""How far tyres are dragged over the road: sums that are alike on every sheet, which wheel it is, and why."""

import numpy as np

from sim.car.chassis import WHEELS
from sim.lap.ledger import Ledger
from sim.study.compare import Comparison
from viz.report.short import Driven, named
from viz.report.words import Pair, all_along, seen_apart
from viz.shared.rounding import shown, tenths
from viz.shared.words import WHEEL_WORDS

RUB_DIGITS = 2  # of a metre
LENGTHWISE = 0.1  # of what a tyre loses, from which on its slip along the road is named; a judgement
ROUNDED = "Each figure is rounded by itself: the wheels of a row may add up to a hundredth or two more or less than all."


def rubber(metres: float) -> str:
    """How far rubber is dragged.  metres : of one tyre or of all [m]"""
    return f"{shown(metres, RUB_DIGITS):.{RUB_DIGITS}f}"


def rubber_cells(ledger: Ledger | None) -> list[str]:
    """A table's cells: each wheel, then all together [m].  ledger : of a lap, None without one"""
    return [""] * (len(WHEELS) + 1) if ledger is None else [*map(rubber, ledger.rub), rubber(ledger.rub.sum())]


def dearer_words(done: list[Driven]) -> str:
    """How less rubber can cost more, of the pair where most lies between; empty where rubber and joules go together.  done : set-ups"""

    def metres(one: Driven) -> float:
        return shown(one.ledger.rub.sum(), RUB_DIGITS)

    pairs = [(more, less) for more in done for less in done
             if metres(more) < metres(less) and shown(more.ledger.scrub) > shown(less.ledger.scrub)]  # fmt: skip
    if not pairs:
        return ""
    more, less = max(pairs, key=lambda pair: pair[0].ledger.scrub - pair[1].ledger.scrub)
    return (
        f'"{more.result.name}" drags less rubber than "{less.result.name}" ({metres(more):.2f} m against {metres(less):.2f} m), but loses '
        f"more by it ({tenths(more.ledger.scrub)} J against {tenths(less.ledger.scrub)} J): metres count how far a tyre slides, joules "
        "also how hard it is pushed sideways; the same slide under more side force costs more."
    )


def furthest(one: Driven) -> int:
    """The wheel of a set-up that is dragged furthest, as its place in `chassis.WHEELS`.  one : it got round"""
    return int(np.argmax(one.ledger.rub))


def furthest_lines(last: list[Driven], comparison: Comparison, pair: Pair | None) -> list[str]:
    """Which wheel is dragged furthest and why that one.

    last : the set-ups that need most; comparison : the run; pair : the two of question 2, None without one
    """
    lines = []
    for wheel in dict.fromkeys(map(furthest, last)):
        ones = [one for one in last if furthest(one) == wheel]
        much = f": {rubber(ones[0].ledger.rub[wheel])} m" if len(ones) == 1 else ""
        lines.append(f"Of {named([one.result.name for one in ones])} the {WHEEL_WORDS[WHEELS[wheel]]} wheel is dragged furthest{much}.")
        lines[-1] += _why(max(ones, key=lambda one: one.work), wheel, comparison.reference.ledger)
    return [*lines, _summed(set(map(furthest, last)), pair)]


def _why(one: Driven, wheel: int, ideal: Ledger | None) -> str:
    """Why that wheel, against the same wheel of ideal steering.  ideal : its lap, None without one"""
    if ideal is None:
        return ""
    own, best = float(one.ledger.rub[wheel]), float(ideal.rub[wheel])
    alike = rubber(own) == rubber(best)
    text = " That is as far as with ideal steering" if alike else f" With ideal steering the same wheel is dragged {rubber(best)} m"
    if own - best > best:
        cause = (
            "its front wheels do not point the same way, so each drags the other, on straights too" if all_along(one.result) else
            "in the bends it stands at another angle than the one at which it would roll" if wheel < 2 else
            "how the front wheels stand changes what the rear ones have to do"
        )  # fmt: skip
        return f"{text}; the rest comes from the steering: {cause}."
    along, across = float(one.ledger.longitudinal[wheel]), float(one.ledger.lateral[wheel])
    drives = " It drives or brakes as well, and for that a tyre slips lengthways." if along > LENGTHWISE * (along + across) else ""
    return f"{text}: so at least half of it is the slip with which every tyre pushes the car round, however the front wheels stand.{drives}"


def _summed(wheels: set[int], pair: Pair | None) -> str:
    """That the sums are those of the whole course, and which wheel it is in the one place of question 2.  wheels : dragged furthest"""
    if pair is None or not seen_apart(pair):
        return "That is summed over the whole course."
    told = int(np.argmax(pair.worse.power - pair.better.power))
    which = "it is the same wheel that" if told in wheels else f"the {WHEEL_WORDS[WHEELS[told]]} wheel"
    return f"That is summed over the whole course; in the one place of question 2 {which} tells the cars apart most."
