"""What `run` prints without --explain."""

from pathlib import Path
from typing import Any

from sim.judgements import TELL_APART
from sim.scenario.doubts import assumed
from sim.study.compare import Comparison, SetupResult
from sim.study.doubts import run_doubts
from viz.run.report import CAME_ROUND, compared, finding, furthest_lines, joules, ledger_line, shown_cost, warning_lines, with_dangers
from viz.shared.brief import Rows, brief
from viz.shared.dangers import short_stops_line, stops_line
from viz.shared.doubts import doubt_lines
from viz.shared.rounding import tenths


def run_brief(comparison: Comparison, folder: Path | None) -> list[Any]:
    """The run in one screen: finding, table, what to do, doubt.  folder : that was written, None where none was."""
    told = [*doubt_lines(run_doubts(comparison.scenario)), finding(comparison), *furthest_lines(comparison)]
    advice = []
    if folder is not None and any(one.finished for one in comparison.results):
        advice.append(f"What to do: see it with `scrubwise watch {folder}`{worth_searching(comparison)}.")
    advice.append(ledger_line(comparison))
    advice.append(
        f"Doubt: trust no difference below {100 * TELL_APART:g} % of the drive work; tyres, wind and the driver's line move more."
    )
    setups = with_dangers(comparison)
    danger = stops_line(setups)
    remarks = [*warning_lines(comparison), *assumed(comparison.scenario)]
    rest = "tyre by tyre, what the steering's cost is worth, course, model"
    return brief(
        comparison.scenario.title, told, remarks, _rows(comparison), advice, rest,
        () if folder is None else (str(folder),), danger=(danger[0], short_stops_line(setups)) if danger else None,
    )  # fmt: skip


def worth_searching(comparison: Comparison) -> str:
    """Whether better arms and rods are worth looking for, as the end of a sentence; empty where no cost is known."""
    costs = [one.geometry_cost for one in comparison.results if one.geometry_cost == one.geometry_cost]
    if not costs or comparison.reference.ledger is None:
        return ""
    # Toe is no matter of arms, and a turn of the rods cures it.
    toes = [one.toe_cost if one.straight is not None else 0.0 for one in comparison.results if one.geometry_cost == one.geometry_cost]
    told = TELL_APART * comparison.reference.ledger.drive_work
    if max(cost - toe for cost, toe in zip(costs, toes, strict=True)) > told:
        return "; `scrubwise search` finds better arms and rods"
    if max(toes) > told:
        return "; set the toe: other arms would hardly change anything"
    stopped = [one.name for one in comparison.results if not one.finished]  # whose cost is not known
    if stopped:
        return f'; first look why "{stopped[0]}"{f" and {len(stopped) - 1} more" if stopped[1:] else ""} did not get round'
    return "; the steering hardly costs anything here"


def _pair_first(comparison: Comparison) -> tuple[SetupResult, ...]:
    """The two that the finding compares, which a shortened table must not lose, then the others in the scenario's order."""
    pair = compared(comparison) or ()
    return (*pair, *(one for one in comparison.results if not any(one is other for other in pair)))


def _rows(comparison: Comparison) -> Rows:
    """A row a set-up: what it needs, what of it its tyres scrub off and its geometry costs, and how far it gets."""
    results = _pair_first(comparison)
    electric, raced = any(one.ledger and one.ledger.electric for one in results), any(one.race for one in results)
    columns = [("set-up", "left"), ("drive\nwork J", "right"), ("scrub\nJ", "right"), ("geometry\ncost J", "right")]
    columns.append(("lap\ntime s", "right"))
    columns += ([("laps on\na charge", "right")] if electric else []) + ([("race\nkm", "right")] if raced else [])
    rows = []
    for one in results:
        if one.ledger is None:
            rows.append([one.name, "no figures" if one.ended in CAME_ROUND else "did not finish", *[""] * (len(columns) - 2)])
            continue
        cost = shown_cost(one, comparison)
        row = [one.name, tenths(one.ledger.drive_work), joules(one.ledger.scrub)]
        row += ["" if cost != cost else f"{cost:+z.1f}", f"{one.time:.2f}"]
        row += [f"{one.laps_per_charge:.1f}" if one.ledger.electric else ""] if electric else []
        row += [f"{one.race.distance / 1000:.2f}" if one.race else ""] if raced else []
        rows.append(row)
    return Rows(columns, rows)
