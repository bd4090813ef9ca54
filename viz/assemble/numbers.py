"""The assemble command: the order of work as a PDF, and its figures."""

from pathlib import Path

from sim.assemble.figures import AssembleResult, assembly_of, view_of
from sim.errors import InputError
from sim.scenario.choice import chosen_setup, first_built
from sim.scenario.scenario import Scenario
from sim.steering.arrangement import build_steering
from viz.shared.files import write_file


def assemble_result(scenario: Scenario, source: str, setup_name: str | None, out_path: Path, paper: str) -> AssembleResult:
    """Write the order of work of a set-up.

    scenario, source : the scenario and its name in messages
    setup_name : of the set-up; None takes the first with rods to set, else the first turntable axle, else the first
    out_path : the PDF to write or replace; paper : a key of PAPERS
    Returns AssembleResult.  Raises InputError for a set-up that is unknown or cannot be built, a paper that is unknown, and a file that
    cannot be written; what stood there then still stands.
    """
    # Drawing needs the plotting library, which takes a while to open.
    from viz.assemble.pages import build_pages
    from viz.template.paper import PAPERS, plain_settings, write_pdf

    paper = paper.lower()
    if paper not in PAPERS:
        raise InputError("--paper", "", f"{paper!r} is not known here", f"choose one of {', '.join(PAPERS)}")
    index = _chosen(scenario, setup_name, source)
    setup = scenario.setup[index]
    steering = build_steering(setup, scenario.car, source, setup.place)
    front, view = assembly_of(scenario, index, steering), view_of(scenario, steering)

    def write(path: Path) -> None:
        with open(path, "wb") as stream:
            write_pdf(stream, pages, f"Building the front end: {setup.name}")

    with plain_settings():
        pages = build_pages(front, view, paper)
        write_file(out_path, ".pdf", write)
    return AssembleResult(**vars(front), setup_named=setup_name is not None, written=str(out_path), paper=paper, pages=len(pages))


def _chosen(scenario: Scenario, name: str | None, source: str) -> int:
    """Index of the set-up that is meant."""
    if name is not None:
        return chosen_setup([setup.name for setup in scenario.setup], name, source)
    return first_built([setup.kind for setup in scenario.setup])
