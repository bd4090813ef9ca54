"""A run folder driven again from its own scenario, so that its page says what this version finds and not what an older one wrote."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sim.errors import InputError
from sim.files.text import LARGEST_FILE, plain_bytes
from sim.lap.ladder import Model
from sim.scenario.file import load_scenario
from sim.study.compare import Comparison, compare
from viz.shared.runs import CONTEST_PAGES, CONTEST_RESULTS, open_told

AGAIN = "run the scenario again with this version"
# Drive work that is written in full and found again differs by nothing on one machine, by 1e-9 between two.
SAME_WORK = 1e-6


def driven_again(
    folder: Path, progress: Callable[[int, int, str], None] = lambda done, of, name: None,
    then: str = "scrubwise report {run} --out page.html",
) -> tuple[Comparison, list[str]]:  # fmt: skip
    """Drive a run folder's scenario again.

    folder : as the user wrote it; progress : as for `compare`; then : the command that was typed, with {run} where the folder stands
    Returns the comparison, and a sentence where its figures are not those that lie in the folder.
    Raises InputError where the folder is missing, of another version, or damaged.
    """
    open_told(folder, then)
    model, works = _kept(folder / "summary.json")
    place = folder / "scenario.toml"
    comparison = compare(load_scenario(place, str(place)), folder, str(place), model, progress)
    found = [None if one.ledger is None else one.ledger.drive_work for one in comparison.results]
    if len(found) == len(works) and all(map(_same, found, works)):
        return comparison, []
    return comparison, [
        "The figures on this page were driven again from the folder's scenario and are not those that another version wrote into it."
    ]


def undriven(folder: Path) -> int:
    """How many cars drove in the contest of a run folder that holds no laps of theirs; 0 where the run is no contest's.

    folder : of a run that `driven_again` has read
    """
    try:
        told = json.loads(plain_bytes(folder / CONTEST_PAGES / CONTEST_RESULTS, LARGEST_FILE))
        return sum(one["replayed"] is None for one in told["entries"])
    except (OSError, InputError, ValueError, KeyError, TypeError, RecursionError):
        return 0  # whoever deletes the pages can still print a handout


def _same(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return abs(one - other) <= SAME_WORK * max(abs(one), abs(other))


def _kept(path: Path) -> tuple[Model, list[float | None]]:
    """The rung of the ladder that a run was driven on, and the drive work of its set-ups [J]."""
    try:
        told = json.loads(plain_bytes(path, LARGEST_FILE))
        model = {rung.label: rung for rung in Model}[told["model"]]
        return model, [_number(one["drive_work_J"]) for one in told["setups"]]
    except OSError as error:
        raise InputError(str(path), "", f"the file can't be read ({error.strerror})", AGAIN) from None
    except (ValueError, KeyError, TypeError, RecursionError):
        raise InputError(str(path), "", "the file is damaged", AGAIN) from None


def _number(value: Any) -> float | None:
    return None if value is None else float(value)
