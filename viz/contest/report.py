"""`contest`: the class's table in the terminal, and the folder with the laps to replay, the class's page and a sheet for each team."""

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

from rich.text import Text

from sim.contest.results import ContestEntry, ContestResult, LapFigures, Misspelt, Refused, Unclear
from sim.store.run_folder import run_folder
from sim.study.compare import Comparison
from viz.contest.figures import beyond_ideal, beyond_words, called, degrees, joules, metres, score_less, score_words
from viz.contest.words import (
    FILL_IN,
    READ_AGAIN,
    RULE_WORDS,
    WRITE_AGAIN,
    best_entry,
    certain,
    chosen_words,
    class_safety_words,
    entry_doubts,
    finding,
    ground_and_gaps,
    place_words,
    places_words,
    question_for,
    reasons,
    risk_lines,
    safety_words,
    sheet_lines,
    told_whole,
)  # fmt: skip
from viz.run.folder import fill_run
from viz.shared.cells import write_rows
from viz.shared.documents import stamped
from viz.shared.doubts import doubt_lines
from viz.shared.files import interruptible
from viz.shared.html import page_room
from viz.shared.plain import plain
from viz.shared.runs import CONTEST_PAGES, CONTEST_RESULTS
from viz.shared.spans import bar_spans
from viz.shared.words import plain_table


class Figure(NamedTuple):
    """One figure of a lap, as a page shows it."""

    label: str
    of: Callable[[LapFigures], float | None]
    shown: Callable[[float], str]

    def cell(self, lap: LapFigures) -> str:
        """The figure of a lap in words, empty where there is none.  lap : LapFigures."""
        value = self.of(lap)
        return "" if value is None else self.shown(value)


CLASS_FIGURES = (
    Figure("drive work", lambda lap: lap.drive_work_J, joules), Figure("scrub", lambda lap: lap.scrub_J, joules),
    Figure("rubber dragged, worst tyre", lambda lap: lap.rub_worst_m, metres),
)  # fmt: skip
RACE_LAPS = Figure("laps in the race", lambda lap: lap.race_laps, lambda value: f"{value:.2f}")
FIGURES = (
    *CLASS_FIGURES, Figure("rubber dragged, all tyres", lambda lap: lap.rub_m, metres),
    Figure("time", lambda lap: lap.lap_time_s, lambda value: f"{value:.2f} s"),
    Figure("from the battery", lambda lap: lap.battery_Wh, lambda value: f"{value:.2f} Wh"), RACE_LAPS,
    Figure("distance in the race", lambda lap: lap.race_distance_m, metres),
)  # fmt: skip


def contest_report(result: ContestResult) -> list[Any]:
    """What `contest` prints."""
    lines: list[Any] = [Text(result.title, style="bold"), *map(Text, (finding(result), *reasons(result), RULE_WORDS[result.rule]))]
    if result.entries:
        table = plain_table(("place", "left"), ("team", "left"), ("score\n" + result.score_unit, "right"), ("drive\nwork J", "right"),
                            ("scrub\nJ", "right"), ("rub, all\ntyres m", "right"), ("worst\ntyre m", "right"), ("tips at\nm/s2", "right"),
                            ("lever\nmm", "right"))  # fmt: skip
        for entry in result.entries:
            figures = ((entry.score, 1 if result.score_unit == "J" else 2), (entry.drive_work_J, 0), (entry.scrub_J, 1), (entry.rub_m, 2),
                       (entry.rub_worst_m, 2), (entry.risks.tip_margin_m_per_s2, 1), (entry.risks.kick_lever_mm, 0))  # fmt: skip
            cells = ["" if value is None else f"{value:.{digits}f}" for value, digits in figures]
            table.add_row(place_words(entry), Text(entry.team), *cells)
        lines += [Text(""), table, Text("")]
    lines += [Text(line) for line in doubt_lines(entry_doubts(result), every=True)]
    lines += [Text(f"{one.reason}.") for one in result.names]
    lines += [Text(f'"{one.team}" does not finish: it {one.reason}.') for one in result.entries if not one.finished]
    lines += [Text(f"Refused: {one.file}: {told_whole(one.reason)}") for one in result.refused]
    return [*lines, Text(""), *(Text(line) for line in ground_and_gaps(result)), Text(class_safety_words(result))]


@interruptible()
def write_contest(
    result: ContestResult, comparison: Comparison, folder: Path, out: Path, add: Callable[[Comparison, Path], object] | None = None
) -> None:  # fmt: skip
    """Write a contest's run folder with the pages in it, whole or not at all.

    result, comparison : of `sim.contest.run.contest_result`; folder : of the contest; out : to write or replace
    add : writes what other rooms put into a run folder
    Raises InputError where the folder can't be written; what stood there before then still stands.
    """
    with run_folder(out) as made:
        fill_run(comparison, folder, made, draw=lambda *_: _draw(result, comparison, made))
        pages = made / CONTEST_PAGES
        pages.mkdir()
        _write(pages / CONTEST_RESULTS, json.dumps(stamped("contest", result), indent=2, allow_nan=False) + "\n")
        _write_results(pages / "results.csv", result)
        for name, text in contest_pages(result).items():
            _write(pages / name, text)
        if add is not None:
            add(comparison, made)


def _draw(result: ContestResult, comparison: Comparison, made: Path) -> None:
    """The pictures: those of the replayed laps that do not begin at zero, and every entry's excess."""
    from viz.contest.excess_plot import write_excess_plot
    from viz.run.plots import PLOTS, write_plots

    write_plots(comparison, made, {name: draw for name, draw in PLOTS.items() if name != "losses.png"})
    write_excess_plot(result, made / "excess.png")


def contest_pages(result: ContestResult) -> dict[str, str]:
    """The class's page and every team's sheet: file name to HTML."""
    room = page_room(Path(__file__).parent / "pages", [called(one)[1:-1] for one in result.entries])
    everyone: list[ContestEntry | Refused] = [*result.entries, *result.refused]
    names = [sheet_name(index + 1, one) for index, one in enumerate(everyone)]
    sheets = names[: len(result.entries)], names[len(result.entries) :]
    pages = {"index.html": room.get_template("contest.html").render(_class_page(result, *sheets))}
    sheet = room.get_template("sheet.html")
    for name, one in zip(names, everyone, strict=True):
        words = _refusal_sheet(one) if isinstance(one, Refused) else _sheet(one, result)
        pages[name] = sheet.render(words | {"result": result, "safety": safety_words(result)})
    return pages


def sheet_name(index: int, one: ContestEntry | Refused) -> str:
    """File name of a team's sheet: the number keeps two apart, the rest is readable and harmless.  index : its number from 1."""
    slug = re.sub(r"[^a-z0-9]+", "-", (one.team or one.file).casefold())[:40].strip("-")
    return f"team-{index:03d}-{slug}".rstrip("-") + ".html"


def _class_page(result: ContestResult, sheets: list[str], refusal_sheets: list[str]) -> dict[str, Any]:
    figures = _class_figures(result)
    beyond = [beyond_ideal(entry, result) for entry in result.entries]
    rows = []
    for entry, sheet, more, (start, width) in zip(result.entries, sheets, beyond, bar_spans(beyond), strict=True):
        behind = None if entry.place is None else abs(score_less(certain(entry.score), certain(result.best_score), result))
        shows, risks = entry.shows, entry.risks
        rows.append({
            "place": place_words(entry), "team": entry.team, "reason": entry.reason, "sheet": sheet,
            "cells": [
                *(figure.cell(entry) for figure in figures), "" if behind is None else score_words(behind, result),
                "" if shows.bend_error_deg is None else degrees(shows.bend_error_deg), degrees(shows.toe_in_deg),
                f"{risks.tip_margin_m_per_s2:.1f}", f"{risks.kick_lever_mm:.0f}",
            ],
            "beyond": beyond_words(entry, result), "start": f"{start:.1f}", "width": f"{width:.1f}",
            "saves": more is not None and more < 0,
        })  # fmt: skip
    return {
        "result": result, "rule": f"Rule: {result.rule}. {RULE_WORDS[result.rule]}", "lines": [finding(result), *reasons(result)],
        "rows": rows, "places": places_words(result), "names": [one.reason for one in result.names], "doubts": entry_doubts(result),
        "headings": [
            "place", "team", *(figure.label for figure in figures), "behind the best", "inner wheel off ideal in the bends",
            "toe-in, each wheel", "tips at m/s²", "kick-back lever mm",
        ],
        "less": result.score_key == "race_distance_m", "raced": RACE_LAPS in figures,
        "refusals": [plain(one) | {"sheet": sheet} for one, sheet in zip(result.refused, refusal_sheets, strict=True)],
        "ground": [line for line in ground_and_gaps(result) if not line.startswith(places_words(result))],
        "safety": class_safety_words(result),
    }  # fmt: skip


def _class_figures(result: ContestResult) -> list[Figure]:
    return [*CLASS_FIGURES, *([RACE_LAPS] if any(entry.race_laps is not None for entry in result.entries) else [])]


def _sheet(entry: ContestEntry, result: ContestResult) -> dict[str, Any]:
    sides: list[LapFigures] = [entry, entry.ideal]
    columns = ["yours", "ideal steering"]
    best = best_entry(result)
    if best is not None and best is not entry:
        sides.append(best)
        columns.append(f"best score: {called(best)[1:-1]}")
    rows = [[figure.label, *(figure.cell(side) for side in sides)] for figure in FIGURES if figure.of(entry) is not None]
    return {
        "heading": entry.team, "lines": sheet_lines(entry, result), "risks": risk_lines(entry, result),
        "rows": rows, "columns": columns, "chosen": chosen_words(entry),
        "question": question_for(entry),
    }  # fmt: skip


def _refusal_sheet(one: Refused) -> dict[str, Any]:
    lines = [f"Your entry, the file {one.file}, was refused before it drove:", told_whole(one.reason)]
    return {
        "heading": one.team or one.file, "lines": lines, "risks": [], "rows": [], "columns": [], "chosen": "",
        "question": WRITE_AGAIN if isinstance(one, Misspelt) else FILL_IN if isinstance(one, Unclear) else READ_AGAIN,
    }  # fmt: skip


def _write_results(path: Path, result: ContestResult) -> None:
    """The places as a table, those without one below, then the refused."""
    told = plain(result)
    flat = [
        {key: value for key, value in entry.items() if not isinstance(value, dict)} | entry["risks"]
        | {"doubts": " ".join(entry["doubts"])} | {key: entry["shows"][key] for key in ("toe_in_deg", "bend_error_deg", "bend_bias_deg")}
        for entry in told["entries"]
    ]  # fmt: skip
    rows = [{"status": "placed" if row["place"] is not None else "no place", **row} for row in flat]
    rows += [{"status": "refused", **one} for one in told["refused"]]
    columns = list(dict.fromkeys(["status", "place", "shared", "team", "members", "file", *(key for row in rows for key in row)]))
    write_rows(path, columns, ([row.get(column) for column in columns] for row in rows))


def _write(path: Path, text: str) -> None:
    with open(path, "w", encoding="utf-8", newline="\n") as stream:
        stream.write(text)
