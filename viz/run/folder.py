"""The run folder's files: tables, traces, plots and the scenario that was used."""

import io
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from sim.files.text import LARGEST_FILE, plain_bytes
from sim.scenario.file import dump_scenario
from sim.store.run_folder import run_folder
from sim.study.compare import Comparison
from sim.study.rows import rows_of
from sim.study.summary import summary
from viz.shared.cells import write_rows
from viz.shared.documents import stamped
from viz.shared.files import interruptible

TRACE_ROWS = 5000  # that are made text at a time: an hour's trace would take a hundred megabytes


@interruptible()
def write_run(
    comparison: Comparison, course_folder: Path, folder: Path, add: Callable[[Comparison, Path], object] | None = None
) -> None:  # fmt: skip
    """Write a run folder, whole or not at all.

    comparison : the run; course_folder : where its course file was found; folder : to write or replace
    add : writes what other rooms put into the folder
    Raises InputError where the folder can't be written; what stood there before then still stands.
    """
    with run_folder(folder) as made:
        fill_run(comparison, course_folder, made)
        if add is not None:
            add(comparison, made)


def fill_run(comparison: Comparison, course_folder: Path, made: Path, draw: Callable[[Comparison, Path], object] | None = None) -> None:
    """Write a run's files into a folder that is being made.

    comparison, course_folder : as for `write_run`; made : the folder; draw : writes its pictures, those of a run where left out
    """
    from viz.run.plots import write_plots

    result = stamped("run", summary(comparison))
    (made / "summary.json").write_text(json.dumps(result, indent=2, allow_nan=False) + "\n", encoding="utf-8")
    _write_table(made / "summary.csv", rows_of(result["setups"]))
    for name, one in zip(trace_names(comparison), comparison.results, strict=True):
        _write_trace(made / name, one.trace.columns())
    scenario = comparison.scenario
    if scenario.course.file is not None:
        # The course lies beside the scenario in the folder, so that the folder runs again wherever it is taken.
        copy = Path(scenario.course.file).name
        if (made / copy).exists():  # a course of the name of a table
            copy = f"course-{copy}"
        (made / copy).write_bytes(plain_bytes(course_folder / scenario.course.file, LARGEST_FILE))
        scenario = scenario.model_copy(update={"course": scenario.course.model_copy(update={"file": copy})})
    (made / "scenario.toml").write_text(dump_scenario(scenario), encoding="utf-8")
    (draw or write_plots)(comparison, made)


def trace_names(comparison: Comparison) -> list[str]:
    """File names of the traces: the place in the scenario keeps them apart, the set-up's name makes them readable."""
    slugs = [re.sub(r"[^a-z0-9]+", "-", one.name.casefold()).strip("-")[:40] for one in comparison.results]
    return [f"trace-{index + 1:02d}-{slug}".rstrip("-") + ".csv" for index, slug in enumerate(slugs)]


def _write_table(path: Path, rows: list[dict[str, Any]]) -> None:
    columns = list(dict.fromkeys(key for row in rows for key in row))
    write_rows(path, columns, ([row.get(column) for column in columns] for row in rows))


def _write_trace(path: Path, columns: dict[str, np.ndarray]) -> None:
    count = len(next(iter(columns.values())))
    with open(path, "w", encoding="utf-8", newline="\n") as stream:
        stream.write(",".join(columns) + "\n")
        for start in range(0, count, TRACE_ROWS):
            rows = io.StringIO()
            part = [column[start : start + TRACE_ROWS] for column in columns.values()]
            np.savetxt(rows, np.column_stack(part), fmt="%.7g", delimiter=",")
            stream.write(rows.getvalue().replace("nan", ""))  # a spreadsheet takes an empty cell for no figure, and "nan" for a word
