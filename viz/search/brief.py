"""What `search` prints without --explain."""

from collections.abc import Callable, Sequence
from typing import Any

from sim.judgements import FLAT_SHARE
from sim.scenario.car import CarTable
from sim.search.result import Found, SearchResult
from viz.search.report import columns_of, flat_words, front_rows, front_sentences, other_stops, stop_sentence
from viz.search.words import bound_lines, finding, no_reason, together_lines, warnings, worth_pasting, yardstick
from viz.shared.brief import TO_DO, Rows, brief
from viz.shared.dangers import short_stop_line

# What a change is judged by: words, figure, decimals.
JUDGED: tuple[tuple[str, Callable[[Found], float | None], int], ...] = (
    ("drive work J", lambda found: found.lap.drive_work_J, 1), ("laps on a charge", lambda found: found.lap.laps_per_charge, 1),
    ("turning circle m", lambda found: found.sum.turning_circle_m, 2), ("wheels' lock deg", lambda found: found.sum.lock_deg, 1),
    ("kick-back lever mm", lambda found: found.sum.kick_back_mm, 0),
)  # fmt: skip
FLAT_AROUND = {"own": "as it is", "best": "the best", "less_change": "smaller change"}  # as the columns are headed


def search_brief(result: SearchResult, written: Sequence[str], car: CarTable | None = None) -> list[Any]:
    """A search in one screen.  written : the files that were; car : the scenario's, None leaves out where a stop belongs."""
    traded = len(result.objectives) == 2
    told = [*yardstick(result), finding(result), *(front_sentences(result) if traded else [])]
    advice = []
    if any(one.endswith(".toml") for one in written):
        advice.append(f"{TO_DO}paste the set-up that was written into your scenario, then `run` it.")
    elif worth_pasting(result):
        what = "best values" if result.less_change is None else "smaller change"
        begin = "if you build new parts anyway, " if no_reason(result) else ""
        advice.append(f"{TO_DO}{begin}`--fragment FILE.toml` writes the {what} as a set-up for your scenario; then `run` it.")
    else:
        advice.append(f"{TO_DO}`scrubwise spread` says how sure such differences are, and what to measure better.")
    advice.append(_doubt(result))
    rows = front_rows(result, best_first=True) if traded and len(result.front) > 1 else _rows(result)
    rest = "how flat the best is, all figures, what they rest on"
    # What can hurt somebody stands first, where there is not room for all.
    danger = stop_sentence(result, car, short_stop_line)
    warned = [*danger, *warnings(result), *together_lines(result), *bound_lines(result)]
    warned += other_stops(result, car, short_stop_line)
    return brief(result.title, told, warned, rows, advice, rest, written)


def _doubt(result: SearchResult) -> str:
    """What the range of the gain rests on."""
    if result.doubt is None:
        return "Doubt: the range of the gain is that of bicycle-size tyres; all other numbers are taken as they stand."
    return "Doubt: the course and the driver's line are the same in every try; what they add is not in these figures."


def _rows(result: SearchResult) -> Rows:
    """Keys first, then what they do."""
    compared = columns_of(result)
    rows = [[one.key, *(f"{found.values[one.key]:z.2f}" for _, found in compared), flat_words(one)] for one in result.free]
    for words, figure, decimals in JUDGED:
        values = [figure(found) for _, found in compared]
        if any(value is not None for value in values):
            rows.append([words, *("" if value is None else f"{value:z.{decimals}f}" for value in values), ""])
    costs = f"costs under {100 * FLAT_SHARE:g} % more\naround {FLAT_AROUND[result.recommended]}"
    return Rows([("", "left"), *((head, "right") for head, _ in compared), (costs, "right")], rows)
