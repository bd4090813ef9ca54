"""What `spread` prints without --explain."""

from collections.abc import Sequence
from typing import Any

from sim.judgements import TELL_APART
from sim.spread.findings import best_pairs, is_small, lead_of, leading, no_difference, of_rolling
from sim.spread.run import FIGURES, PairSpread, Spread
from viz.shared.brief import Rows, brief
from viz.spread.report import TRY, failing, finding, number_words, three, wins

NO_MORE = "Doubt: the course and the driver's line are the same in every try; what they add is not in these figures."

TINY = "yes, but tiny"


def spread_brief(spread: Spread, written: Sequence[str]) -> list[Any]:
    """A study of uncertainty in one screen.  written : the files that were."""
    best, pairs = best_pairs(spread)
    first, *others = finding(spread, TRY)
    told = [f"Each try takes other values of the unsure numbers, the same for all set-ups ({spread.samples} tries).", first]
    rest = "every unsure number, its range and its share, how the figures were drawn"
    alike = bool(pairs) and all(no_difference(spread, pair) for pair in pairs)
    rows = _gain_rows(spread, pairs) if pairs and not alike else _setup_rows(spread)
    if pairs and others and not alike:
        others = others[:-1]  # what the drive work itself is
        name = spread.names[best]
        told.append(
            f'The table shows how much less "{name}" needs than each other.' if spread.against is None else
            f'The table shows how much more each needs than "{name}"; below 0 it needs less.'
        )  # fmt: skip
    if any(_sure(spread, pair) == TINY for pair in pairs):
        told.append(f"What is tiny is less than {100 * TELL_APART:g} % of the drive work: no team can measure that.")
    return brief(spread.title, told, [*failing(spread, TRY), *others], rows, [*_advice(spread, best, pairs), NO_MORE], rest, written)


def _advice(spread: Spread, best: int, pairs: list[PairSpread]) -> list[str]:
    """What to measure first, where measuring can make a difference count."""
    if pairs and is_small(spread, lead_of(spread, pairs)):
        return ["What to do: choose what is easy to build; no measuring makes so small a difference count."]
    shares = lead_of(spread, pairs).shares if pairs else spread.setups[max(best, 0)].shares
    named = leading(shares) if shares is not None else []
    if not named:
        return ["What to do: for which number to measure first, try more often with --samples."]
    return [f"What to do: to be surer, measure {' or '.join(number_words(spread, index) for index in named)} first."]


def _gain_rows(spread: Spread, pairs: list[PairSpread]) -> Rows:
    chosen = spread.against is not None
    columns = [("set-up" if chosen else "less than", "left"), ("more by\nJ" if chosen else "by\nJ", "right")]
    columns += [("95 of 100\nbetween", "right"), ("needs\nless in" if chosen else "wins\nin", "right")]
    columns += [("share of\nrolling", "right"), ("sure", "left")]
    rows = []
    for pair in pairs if chosen else reversed(pairs):  # who needs least, or the greatest gain, first
        assert pair.gain is not None  # best_pairs has only such
        low, middle, high = three(pair.gain)
        share = of_rolling(spread, pair)
        if no_difference(spread, pair):
            rows.append([spread.names[pair.second], "0", "no difference", "", "", "no"])
            continue
        rows.append([
            spread.names[pair.second], middle, f"{low} to {high}", wins(spread, pair),
            "" if share is None else f"{100 * share:z.2f} %", _sure(spread, pair),
        ])  # fmt: skip
    return Rows(columns, rows)


def _sure(spread: Spread, pair: PairSpread) -> str:
    if not pair.told_apart or no_difference(spread, pair):
        return "no"
    return TINY if is_small(spread, pair) else "yes"


def _setup_rows(spread: Spread) -> Rows:
    rows = []
    for name, one in zip(spread.names, spread.setups, strict=True):
        work = one.figures[FIGURES.index("drive_work_J")]
        low, middle, high = ("", "", "") if work is None else three(work)
        rows.append([name, middle, f"{low} to {high}" if work is not None else "", f"{100 * one.finished:.0f} %"])
    return Rows((("set-up", "left"), ("drive\nwork J", "right"), ("95 of 100\nbetween", "right"), ("gets\nround", "right")), rows)
