"""What `search` prints: its sentences, its tables, and the found set-up as a piece of a scenario."""

from collections.abc import Callable
from textwrap import wrap
from typing import Any

from rich.table import Table
from rich.text import Text

from sim.judgements import FLAT_SHARE, TELL_APART
from sim.scenario.car import CarTable
from sim.search.judge import OBJECTIVES
from sim.search.result import Found, FreeRow, GainRange, SearchResult
from sim.steering.arrangement import build_steering
from sim.study.dangers import Dangers, dangers_of
from viz.search.numbers import search_fragment
from viz.search.words import (
    FIGURES,
    LIMIT_WORDS,
    OBJECTIVE_WORDS,
    RECOMMENDED,
    bound_lines,
    finding,
    joules,
    over,
    percent,
    three,
    together_lines,
    two_gains,
    warnings,
    worth_pasting,
    yardstick,
)  # fmt: skip
from viz.shared.brief import Rows
from viz.shared.dangers import stop_ends, stop_line
from viz.shared.words import plain_table

# Rows of the comparison: words, figure, decimals.
ROWS: tuple[tuple[str, Callable[[Found], float | None], int], ...] = (
    ("drive work, lap in time [J]", lambda found: found.lap.drive_work_J, 1),
    ("drive work, steady turns [J]", lambda found: found.sum.drive_work_J, 1),
    ("scrub, lap in time [J]", lambda found: found.lap.scrub_J, 1), ("battery, lap in time [Wh]", lambda found: found.lap.battery_Wh, 3),
    ("laps on a charge", lambda found: found.lap.laps_per_charge, 2), ("rubber dragged, worst tyre [m]", lambda found: found.lap.rub_m, 2),
    ("error from ideal [deg]", lambda found: found.sum.error_deg, 3),
    ("turning circle, kerb [m]", lambda found: found.sum.turning_circle_m, 2),
    ("wheels' lock [deg]", lambda found: found.sum.lock_deg, 1),
    ("kick-back lever [mm]", lambda found: found.sum.kick_back_mm, 1),
    ("least angle of rod and arm [deg]", lambda found: found.sum.rod_angle_deg, 1),
    ("shortest rod [mm]", lambda found: found.sum.shortest_rod_mm, 1), ("longest rod [mm]", lambda found: found.sum.longest_rod_mm, 1),
)  # fmt: skip
LOCK_GROUND = (
    "Wheels' lock: as one wheel in the middle would stand at the smaller lock; the hand angle that `angles` calls lock is another figure."
)
WIDE, NARROW = 16, 10  # columns of a heading in the table of keys, and in the trade-off's, so that six keys stand beside each other


def search_report(result: SearchResult, car: CarTable | None = None) -> list[Any]:
    """What `search --explain` prints.  result : SearchResult; car : the scenario's, None leaves out where a stop belongs."""
    lines: list[Any] = [Text(result.title, style="bold")]
    lines += [Text(line) for line in (*yardstick(result), finding(result), *warnings(result), *stop_sentence(result, car))]
    lines += [Text(line) for line in other_stops(result, car)]
    lines += [Text(""), _key_table(result), *(Text(line) for line in (*together_lines(result), *bound_lines(result)))]
    lines += [Text(""), _figure_table(result), Text(""), _gain_table(result), *map(Text, (*_doubt_lines(result), _ground(result)))]
    if len(result.objectives) == 2:
        lines += [Text(""), *_front_lines(result)]
    limits = ", ".join(LIMIT_WORDS[name].format(value) for name, value in result.limits.items())
    lines.append(Text(LOCK_GROUND))
    lines.append(Text(f"Kept: it can be built, its lock is enough for the course{f', {limits}' if limits else ''}."))
    if not worth_pasting(result):
        return lines
    return [*lines, Text(""), Text(search_fragment(result, (result.less_change or result.best).setup).rstrip())]


def stop_sentence(result: SearchResult, car: CarTable | None, said: Callable[[Dangers, str], str] = stop_line) -> list[str]:
    """Where a stop belongs in the set-up that is to be built, in one sentence; none where no rod comes in line, or without the car.

    result : SearchResult; car : the scenario's; said : the sentence of a set-up's dead centres, and of which set-up they are
    """
    if car is None:
        return []
    who, found = _to_build(result)
    line = said(_dangers(result, found, car), who)
    return [line] if line else []


def other_stops(result: SearchResult, car: CarTable | None, said: Callable[[Dangers, str], str] = stop_line) -> list[str]:
    """The same of the other set-ups that are shown, where their stops are others.  result, car, said : as for `stop_sentence`."""
    if car is None:
        return []
    who, found = _to_build(result)
    told = [stop_ends(_dangers(result, found, car))]
    lines = []
    for other, one in (("less_change", result.less_change), ("best", result.best), ("own", result.own)):
        if one is None or RECOMMENDED[other] == who:
            continue
        dangers = _dangers(result, one, car)
        if stop_ends(dangers) and stop_ends(dangers) not in told:
            told.append(stop_ends(dangers))
            lines.append(said(dangers, RECOMMENDED[other]))
    return lines


def _to_build(result: SearchResult) -> tuple[str, Found]:
    """What is to be built or left as it is: its words and figures."""
    if not worth_pasting(result):
        return RECOMMENDED["own"], result.own
    return (RECOMMENDED["best"], result.best) if result.less_change is None else (RECOMMENDED["less_change"], result.less_change)


def _dangers(result: SearchResult, found: Found, car: CarTable) -> Dangers:
    return dangers_of(build_steering(found.setup, car, result.title, found.setup.name))


def columns_of(result: SearchResult) -> list[tuple[str, Found]]:
    """Heading and figures of what is compared."""
    smaller = [("smaller\nchange", result.less_change)] if result.less_change is not None else []
    return [("as it is", result.own), ("best", result.best), *smaller]


def flat_words(one: FreeRow) -> str:
    """Between which values a key may lie, as it is shown.  one : FreeRow."""
    whole = one.flat_low <= one.low and one.flat_high >= one.high
    return "whole range" if whole else f"{one.flat_low:z.2f} to {one.flat_high:z.2f}"


def _key_table(result: SearchResult) -> Table:
    both = " or ".join(OBJECTIVE_WORDS[name] for name in result.objectives)
    costs = "\n".join(wrap(f"around {RECOMMENDED[result.recommended]}: costs under {100 * FLAT_SHARE:g} % more {both}", WIDE))
    table = plain_table(("key", "left"), *((head, "right") for head, _ in columns_of(result)), (costs, "right"),
                        ("its ends\nin time J", "right"), ("searched", "right"))  # fmt: skip
    table.padding = (0, 1, 0, 0)
    for one in result.free:
        values = [f"{found.values[one.key]:z.2f}" for _, found in columns_of(result)]
        ends = ", ".join(
            "?" if cost is None else joules(cost, "+").removesuffix(" J") for cost in (one.flat_low_costs_J, one.flat_high_costs_J)
        )
        table.add_row(one.key, *values, flat_words(one), ends, f"{one.low:g} to {one.high:g}")
    return table


def _figure_table(result: SearchResult) -> Table:
    table = plain_table(("", "left"), *((head, "right") for head, _ in columns_of(result)))
    for words, figure, decimals in ROWS:
        values = [figure(found) for _, found in columns_of(result)]
        if any(value is not None for value in values):
            table.add_row(words, *("" if value is None else f"{value:z.{decimals}f}" for value in values))
    return table


def _gain_table(result: SearchResult) -> Table:
    tyres = [(f"{one.cornering_stiffness_per_rad:g}", "right") for one in result.gains]
    table = plain_table(("tyre's cornering stiffness [1/rad]", "left"), *tyres)
    saved = [one.drive_work_J for one in result.gains]
    cells = ["" if one is None else f"{one:+.1f}" if joules(one) != "0 J" else "0" for one in saved]
    table.add_row("drive work saved, laps in time [J]", *cells)
    return table


def _doubt_lines(result: SearchResult) -> list[str]:
    """Between which figures a gain lies, and what was drawn for it."""
    doubt = result.doubt
    if doubt is None:
        return []
    found = [("the best", doubt.best), *([("the smaller change", doubt.less_change)] if doubt.less_change is not None else [])]
    lines = [f"Drive work saved {over(result)} ({doubt.tries} tries): {', '.join(_range(*one) for one in found)}."]
    return [*lines, *([f"Drawn: {', '.join(doubt.unsure)}."] if doubt.unsure else [])]


def _range(words: str, gain: GainRange) -> str:
    if gain.low_J is None or gain.middle_J is None or gain.high_J is None:
        return f"{words} never gets round"
    lost = f", not round in {percent(gain.unfinished)}" if gain.unfinished else ""
    return f"{words} {joules(gain.low_J)} to {joules(gain.high_J)}, in the middle {joules(gain.middle_J)}{lost}"


def _ground(result: SearchResult) -> str:
    """What the figures rest on."""
    text = (
        f"About {round(result.candidates, -2)} candidates by the sum of steady turns; the laps in time have the last word. The table of "
        "gains rests on the range of bicycle-size tyres in the literature, other inputs as they stand; the best values are those "
        "for the scenario's own tyre."
    )
    gains = two_gains(result)
    if gains is not None:
        text += f" The sum gives {joules(gains[0], '+')} of drive work saved where the lap gives {joules(gains[1], '+')}."
    return text


def front_rows(result: SearchResult, best_first: bool = False) -> Rows:
    """The members of a trade-off, a row each: both objectives, the keys, and a mark.

    result : SearchResult; best_first : the one that was taken stands above the others, for a table that may be cut
    """
    heads = [_narrow(f"{OBJECTIVE_WORDS[name]} {OBJECTIVES[name]}", " ") for name in result.objectives]
    heads += [_narrow(key.key, "_") for key in result.free]
    rows = []
    members = sorted(result.front, key=lambda member: member.values != result.best.values) if best_first else result.front
    for member in members:
        mark = "best" if member.values == result.best.values else ""
        pair = [three(_driven(member, name)) for name in result.objectives]
        rows.append([*pair, *(f"{value:z.2f}" for value in member.values.values()), mark])
    return Rows([*((head, "right") for head in heads), ("", "left")], rows, gap=1)


def front_sentences(result: SearchResult) -> list[str]:
    """What there is to trade."""
    one, two = (OBJECTIVE_WORDS[name] for name in result.objectives)
    if len(result.front) == 1:
        return [f"There is nothing to trade: {one} and {two} are least together."]
    return [_trade(result)]


def _front_lines(result: SearchResult) -> list[Any]:
    first, *others = map(Text, front_sentences(result))
    return [first, *([front_rows(result).table(len(result.front))] if len(result.front) > 1 else []), *others]


def _driven(member: Found, objective: str) -> float:
    value = FIGURES[objective](member)
    assert value is not None  # a member of the trade-off gets round in time
    return value


def _trade(result: SearchResult) -> str:
    """What the trade-off is worth, and which of its members was taken."""
    one, two = (OBJECTIVE_WORDS[name] for name in result.objectives)
    spans = front_spans(result)
    level = [
        f"{words} differs by {percent(span)}, less than the {100 * TELL_APART:g} % that can be told apart"
        for words, span in zip((one, two), spans, strict=True)
        if span < TELL_APART
    ]
    text = f"Less of the one costs more of the other, by laps in time: {one} against {two}."
    if level:
        text = f"Hardly anything to trade: all along it, by laps in time, {', and '.join(level)}."
    place = [member.values for member in result.front].index(result.best.values)
    end = f"; no row has less {one}" if place == 0 else "; no row has less" if place == len(result.front) - 1 else ""
    return f"{text} The row marked best has the least {two} that costs at most {100 * FLAT_SHARE:g} % more {one} than the least{end}."


def front_spans(result: SearchResult) -> list[float]:
    """By how much each objective differs along a trade-off, as a share of the largest [-].  result : SearchResult."""
    return [_span([_driven(member, name) for member in result.front]) for name in result.objectives]


def _span(values: list[float]) -> float:
    """By how much values differ, as a share of the largest [-]."""
    return (max(values) - min(values)) / max(map(abs, values), default=1.0) if any(values) else 0.0


def _narrow(heading: str, gap: str) -> str:
    """A heading in lines of NARROW columns, broken behind a gap."""
    lines = [""]
    for part in heading.replace(gap, f"{gap}\n").split("\n"):
        if len(lines[-1] + part.strip()) > NARROW and lines[-1]:
            lines.append("")
        lines[-1] += part
    return "\n".join(line.strip() for line in lines)
