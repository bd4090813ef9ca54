"""A run in five plain answers: which steering, how much, why, how sure, what now."""

from typing import NamedTuple

from sim.judgements import SAME_SHARE, TELL_APART
from sim.lap.ledger import Ledger, main_cause
from sim.linkages.kind import Kind
from sim.study.compare import Comparison, SetupResult
from sim.study.cures import cures_of
from sim.study.effort import WorthIt
from sim.study.summary import costs_by_law
from viz.report.words import LEAST_COST, Pair, all_along, error_words, toe_words
from viz.run.brief import worth_searching
from viz.run.report import compared, joules, shown_cost, with_dangers
from viz.shared.dangers import needs_stop
from viz.shared.effort import dearest, effort_words
from viz.shared.rounding import shown_less, tenths
from viz.shared.words import PRESSURE_FIRST, listed_first, share_words

MOST_NAMED = 4  # set-ups in one sentence
MEASURE = "Then measure your own car: how it rolls out (`scrubwise coast`) and how its wheels turn (`scrubwise template`)."


class Driven(NamedTuple):
    """A set-up that got round.  result : SetupResult; kind : of its linkage; ledger : of its lap."""

    result: SetupResult
    kind: Kind
    ledger: Ledger

    @property
    def work(self) -> float:
        """Its drive work [J]."""
        return self.ledger.drive_work


def driven(comparison: Comparison) -> list[Driven]:
    """The set-ups that got round, in the scenario's order.  comparison : the run."""
    kinds = [setup.kind for setup in comparison.scenario.setup]
    return [Driven(one, kind, one.ledger) for one, kind in zip(comparison.results, kinds, strict=True) if one.ledger is not None]


def is_yardstick(kind: Kind) -> bool:
    """Whether it is a rule for the wheels' angles that names no parts to build.  kind : of a linkage."""
    return not kind.rods and not kind.axle


def level_with_best(ones: list[Driven]) -> list[Driven]:
    """Those that the model cannot tell from the one that needs least.  ones : to choose from."""
    least = min((one.work for one in ones), default=0.0)
    return [one for one in ones if one.work <= least * (1 + TELL_APART)]


def named(names: list[str]) -> str:
    """Names in a sentence, of many the first ones.  names : at least one."""
    return listed_first([f'"{name}"' for name in names], MOST_NAMED)


def yardstick_words(ones: list[Driven]) -> str:
    """That rules for the wheels' angles are aimed at and name nothing to build; empty where there is none.  ones : the set-ups shown."""
    names = [one.result.name for one in ones if is_yardstick(one.kind)]
    if not names:
        return ""
    are, say = ("is a yardstick", "it says") if len(names) == 1 else ("are yardsticks", "they say")
    text = f"{named(names)} {are}: {say} how the front wheels stand, and not by which arms and rods."
    # Nobody aims at toe.
    inexact = [one.result.name for one in ones if one.kind.yardstick and not all_along(one.result)]
    return text + (f" What is built only comes near {named(inexact)}." if inexact else "")


def five_answers(comparison: Comparison, pair: Pair | None) -> list[tuple[str, str]]:
    """The five questions with their answers.  comparison : the run; pair : the two set-ups that its page shows, None without one."""
    done = driven(comparison)
    if not done:
        reasons = " ".join(f'"{one.name}" {one.reason}.' for one in comparison.results[:MOST_NAMED])
        return [
            ("Which steering?", "None of these gets round this course."), ("How much?", "Nothing can be compared."), ("Why?", reasons),
            ("How sure?", "The figures rest on the scenario's numbers as they stand: check those that the reasons name."),
            ("What now?", "Change what the reasons name, then run it again."),
        ]  # fmt: skip
    return [
        ("Which steering?", which(done)), ("How much?", how_much(done, comparison)), ("Why?", why(done, comparison, pair)),
        ("How sure?", how_sure(done, comparison)), ("What now?", what_now(comparison)),
    ]  # fmt: skip


def which(done: list[Driven]) -> str:
    """Which steering to choose among those that name arms and rods, or which angles to build for.  done : those that got round."""
    built = [one for one in done if one.kind.rods]
    level = [one.result.name for one in level_with_best(built)]
    if not built:
        text = wanted_angles([one for one in done if is_yardstick(one.kind)])
    elif len(built) == 1:
        alone = "it alone of those here that get round can be built of arms and rods"
        if len(done) == 1:
            text = f"{named(level)}: it is the only one here that gets round."
        elif built[0].work <= min(one.work for one in done) * (1 + TELL_APART):
            text = f"{named(level)} will do: {alone}, and none of the others is better by as much as can be told."
        else:
            text = f"{named(level)}, but only because {alone}; the others show how much there is to gain."
    elif len(level) == 1:
        text = f"{named(level)}: of those here that can be built of arms and rods it needs least."
    else:
        text = (
            f"Of those here that can be built of arms and rods it does not matter between {named(level)}: they lie within "
            f"{100 * TELL_APART:g} %, which the model cannot tell apart. Keep yours, or take the easiest to build and to set."
        )
    tables = [one.result.name for one in done if one.kind.axle]
    if tables:
        are, its = ("is", "its") if len(tables) == 1 else ("are", "their")
        text += f" {named(tables)} {are} not meant, whatever {its} joules: a turntable axle tips early and tears at the hands."
    return " ".join(filter(None, (text, yardstick_words(done))))


def wanted_angles(rules: list[Driven]) -> str:
    """Which angles to build for, where no set-up that gets round names arms and rods.  rules : the yardsticks among them."""
    text = "No set-up here that gets round is made of arms and rods, so there is none to choose yet."
    level = [one.result.name for one in level_with_best(rules)]
    if not rules:
        return text
    if len(level) > 1:
        return (
            f"{text} It does not matter whether yours steer like {' or like '.join(map(_quoted, level[:MOST_NAMED]))}: they lie within "
            f"{100 * TELL_APART:g} %, which the model cannot tell apart."
        )
    least = "" if len(rules) == 1 else ", which needs least of the rules for angles here"
    return f"{text} Build some that come near {named(level)}{least}."


def _quoted(name: str) -> str:
    return f'"{name}"'


def how_much(done: list[Driven], comparison: Comparison) -> str:
    """How far the set-ups lie apart.  done : those that got round; comparison : the run."""
    drive = "a lap" if comparison.course.closed else "from start to finish"
    if len(done) == 1:
        one = done[0]
        if one.result.geometry_cost != one.result.geometry_cost:
            return f"{tenths(one.work)} J of drive work {drive}; {joules(one.ledger.scrub)} J of it goes into slipping tyres."
        return (
            f"{tenths(one.work)} J of drive work {drive}: {shown_cost(one.result, comparison):+z.1f} J against the same car with ideal "
            "steering and no toe."
        )
    built = [one for one in done if one.kind.rods]
    raced = _race_words(done)
    text = f"{raced}All set-ups that get round: {_span(done, drive)}."
    return text + (f" Those that can be built of arms and rods: {_span(built, drive)}." if 1 < len(built) < len(done) else "")


def _race_words(done: list[Driven]) -> str:
    """How far the race goes, where there is one; empty without."""
    raced = [(one.result.race, one.result.name) for one in done if one.result.race is not None]
    if len(raced) < 2:
        return ""
    (most, first), (least, last) = (choose(raced, key=lambda pair: pair[0].laps) for choose in (max, min))
    return (
        f'In the race "{first}" drives {most.laps:.1f} laps ({most.distance / 1000:.2f} km), "{last}" {least.laps:.1f} '
        f"({least.distance / 1000:.2f} km). "
    )


def _span(ones: list[Driven], drive: str) -> str:
    works = [one.work for one in ones]
    low, high = min(works), max(works)
    share = (high - low) / low if low > 0 else 0.0
    if not shown_less(high, low):
        return f"all {tenths(low)} J {drive}"
    return f"{tenths(low)} to {tenths(high)} J {drive}, which is {tenths(shown_less(high, low))} J or {share_words(share)} apart"


def why(done: list[Driven], comparison: Comparison, pair: Pair | None) -> str:
    """Where a difference goes and what the wheels do for it.  done : those that got round; comparison : the run; pair : of the page."""
    found, lines = compared(comparison), []
    if found is not None and found[0].ledger is not None and found[1].ledger is not None:
        best, worst = found[0].ledger, found[1].ledger
        if worst.drive_work - best.drive_work > SAME_SHARE * best.drive_work:
            lines.append(f"Most of the difference goes to {main_cause(worst, best)}.")
            toe = all_along(found[1])
            if toe:
                lines.append(toe)
            elif pair is not None:
                told = error_words(pair.worse) if pair.bends else toe_words(pair.worse)
                where = f"in a bend of {1 / abs(pair.curvature):.0f} m radius" if pair.bends else "on a straight"
                lines += [f"{told} That is {where}."] if told else []
    ideal = comparison.reference.ledger
    if ideal is not None and ideal.scrub >= LEAST_COST:
        lines.append(
            f"Even with ideal steering {joules(ideal.scrub)} J go into slipping tyres, for a tyre has to slip a little to push a car round "
            "a bend."
        )
    elif not lines:
        lines.append("The tyres hardly slip on this course.")
    return " ".join(lines)


def how_sure(done: list[Driven], comparison: Comparison) -> str:
    """Whether the difference can be told at all, and what nobody knows.  done : those that got round; comparison : the run."""
    text = f"The model cannot tell differences below {100 * TELL_APART:g} % of the drive work"
    works = [one.work for one in done]
    if len(done) > 1 and min(works) > 0:
        share = max(works) / min(works) - 1
        told = share >= TELL_APART
        text += f": that between the least and the most here, {share_words(share)}, {'is larger' if told else 'is too small to count'}"
    text += "."
    level = level_with_best(done)
    if 1 < len(level) < len(done):
        text += f" It cannot tell {named([one.result.name for one in level])} apart."
    known = [(one.result, list(costs_by_law(one.result, comparison).values())) for one in done
             if one.result.geometry_cost == one.result.geometry_cost]  # fmt: skip
    known = [(one, costs) for one, costs in known if all(cost == cost for cost in costs)]
    if known:
        one, (own, other) = max(known, key=lambda pair: pair[0].geometry_cost)
        if own > LEAST_COST:
            text += f' The cost of "{one.name}" is {joules(own)} J, or {joules(other)} J with another form of tyre.'
    return f"{text} Nobody has measured your tyres: trust which set-up is better more than the joules."


def what_now(comparison: Comparison) -> str:
    """The next steps.  comparison : the run."""
    found, lines = compared(comparison), []
    if found is not None:
        cures = next(cures for one, cures in zip(comparison.results, cures_of(comparison), strict=True) if one is found[1])
        cure = dearest(cures)
        if cure is not None and cure.verdict is WorthIt.PAYS:
            lines.append(f'If your car is like "{found[1].name}": {cure.doing} ({effort_words(cure)}).')
        elif cure is not None or found[0] is found[1]:
            leave = f"Leave the steering as it is: no change here is worth its work for the race alone. {PRESSURE_FIRST}"
            return " ".join([leave, MEASURE, *stop_words(comparison)])
    advice = worth_searching(comparison).removeprefix("; ")
    if advice:
        lines.append(f"{advice[0].upper()}{advice[1:]}." if not advice.startswith("`") else f"{advice}.")
    return " ".join([*lines, MEASURE, *stop_words(comparison)])


def stop_words(comparison: Comparison) -> list[str]:
    """That a stop belongs on the steering before anybody drives; empty where every set-up has one or needs none.  comparison : the run."""
    names = [name for name, dangers in with_dangers(comparison) if needs_stop(dangers)]
    if not names:
        return []
    return [f"Before anybody drives {named(names)}: fit a stop to the steering, so that it cannot snap over; Cautions says where."]
