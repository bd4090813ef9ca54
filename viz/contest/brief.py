"""What `contest` prints without --explain."""

from typing import Any

from sim.contest.results import ContestResult
from viz.contest.report import PAGES
from viz.contest.words import RULE_WORDS, finding, place_words, safety_words
from viz.shared.brief import Rows, brief


def contest_brief(result: ContestResult, written: str) -> list[Any]:
    """A contest in one screen.  written : the run folder."""
    reasons = [f'"{one.team}" does not finish: it {one.reason}.' for one in result.entries if not one.finished]
    reasons += [f"Refused: {one.file}: {one.reason}." for one in result.refused]
    columns = (("place", "left"), ("team", "left"), ("score\n" + result.score_unit, "right"), ("drive\nwork J", "right"),
               ("scrub\nJ", "right"), ("rub, worst\ntyre m", "right"))  # fmt: skip
    rows = []
    for entry in result.entries:
        figures = ((entry.score, 1), (entry.drive_work_J, 0), (entry.scrub_J, 1), (entry.rub_worst_m, 2))
        rows.append([place_words(entry), entry.team, *("" if value is None else f"{value:.{digits}f}" for value, digits in figures)])
    page = f"{written}/{PAGES}/index.html"
    advice = [f"What to do: open {page}; each team has a sheet beside it."]
    advice.append(f"Doubt: scores within {result.tolerance_percent:g} % share a place; the rules' numbers are taken as they stand.")
    told = [finding(result), RULE_WORDS[result.rule]]
    table = Rows(columns, rows, "the page") if rows else None
    rest = "course, pace, every figure"
    return brief(result.title, told, reasons, table, [*advice, safety_words(result)], rest, (written,), below=True)
