"""Opening a run folder for whoever names a scenario in its place."""

from pathlib import Path

from sim.errors import InputError
from sim.scenario.file import find_scenario
from sim.store.run_folder import open_run

CONTEST_PAGES = "pages"  # folder within a contest's run folder, so that no page can take the name of a course file
CONTEST_RESULTS = "results.json"  # in it


def open_told(folder: Path, then: str) -> None:
    """Find a complete run, as `open_run`; who names a scenario instead is told to run it, or where its run lies.

    folder : as the user wrote it; then : the command that was meant, with {run} where the folder stands
    Raises InputError for anything but a complete run.
    """
    try:
        open_run(folder)
    except InputError:
        try:
            scenario = find_scenario(str(folder))
        except InputError:
            scenario = None
        if scenario is None:
            raise
        made = run_name(scenario)
        whole = then.replace("{run}", str(made))
        remedy = f"look at its run: {whole}" if made.is_dir() else f"run it first: scrubwise run {folder}; then: {whole}"
        raise InputError(str(folder), "", "this is a scenario, not the folder of a run", remedy) from None


def run_name(scenario: Path) -> Path:
    """The folder that `run` writes of a scenario where none is named.  scenario : its file, or its name"""
    return Path(f"{scenario.stem}-run")
