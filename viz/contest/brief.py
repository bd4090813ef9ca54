"""What `contest` prints without --explain."""

from typing import Any

from sim.contest.results import ContestResult
from viz.contest.words import (
    RULE_WORDS,
    class_safety_words,
    entry_doubts,
    finding,
    place_words,
    reasons,
    refused_words,
    shared_words,
    why_refused,
)
from viz.shared.brief import MOST_LINES, Rows, brief, height
from viz.shared.doubts import doubt_lines
from viz.shared.runs import CONTEST_PAGES


def contest_brief(result: ContestResult, written: str) -> list[Any]:
    """A contest in one screen.  written : the run folder."""
    remarks = [*reasons(result)[:1], *(f"{one.reason}." for one in result.names)]
    remarks += [f'"{one.team}" does not finish: it {one.reason}.' for one in result.entries if not one.finished]
    remarks += doubt_lines(entry_doubts(result))
    score = (result.score_key, "score\n" + result.score_unit, 1 if result.score_unit == "J" else 2)
    others = (("drive_work_J", "drive\nwork J", 0), ("scrub_J", "scrub\nJ", 1))
    shown = [score, *(one for one in others if one[0] != score[0])]
    columns = (("place", "left"), ("team", "left"), *((heading, "right") for _, heading, _ in shown), ("tips at\nm/s2", "right"),
               ("kick-back\nlever mm", "right"))  # fmt: skip
    rows = []
    for entry in result.entries:
        figures = [*((getattr(entry, key), digits) for key, _, digits in shown), (entry.risks.tip_margin_m_per_s2, 1),
                   (entry.risks.kick_lever_mm, 0)]  # fmt: skip
        rows.append([place_words(entry), entry.team, *("" if value is None else f"{value:.{digits}f}" for value, digits in figures)])
    page = f"{written}/{CONTEST_PAGES}/index.html"
    next_to_do = f"What to do: open {page}; each team has a sheet beside it."
    doubt = f"Doubt: {shared_words(result)}; the rules' numbers are taken as they stand."
    told = [finding(result), RULE_WORDS[result.rule]]
    table = Rows(columns, rows, "the page") if rows else None
    rest = "course, pace, every figure"

    def made(whys: list[str]) -> list[Any]:
        advice = [*refused_words(result), *whys, next_to_do, doubt, class_safety_words(result)]
        return brief(result.title, told, remarks, table, advice, rest, (written,), below=True)

    short, full = made([]), made(why_refused(result))
    # Why an entry was refused takes room from the table's last rows, but from no remark, and not more than a screen has.
    kept = set(map(str, full))
    return short if sum(map(height, full)) > MOST_LINES or any(str(one) in remarks and str(one) not in kept for one in short) else full
