"""`bench`: which set-up was measured, and what is asked of it."""

from collections.abc import Sequence
from pathlib import Path

from sim.bench.design import plan_named
from sim.bench.result import BenchResult, PlanResult, examine, planned_readings
from sim.errors import InputError
from sim.linkages.catalogue import kinds_with_rods
from sim.scenario.choice import chosen_setup
from sim.scenario.scenario import Scenario


def bench_result(
    scenario: Scenario, source: str, tables: Sequence[Path | str], setup_name: str | None = None, bootstrap: bool = False,
    folder: Path = Path(),
) -> BenchResult:  # fmt: skip
    """Fit bench readings and work out the advice.

    source : the scenario's name in messages; tables : of readings, or names of shipped ones
    setup_name : None where the scenario has only one set-up with rods; bootstrap : repeat the fit for the intervals
    folder : where a relative course file is looked for
    Returns the BenchResult.  Raises InputError.
    """
    return examine(scenario, _chosen(scenario, source, setup_name), source, tables, bootstrap, folder)


def plan_result(scenario: Scenario, source: str, plan: str, setup_name: str | None = None) -> PlanResult:
    """Which readings to take.

    source : the scenario's name in messages; plan : "quick" or "full", or its beginning
    setup_name : None where the scenario has only one set-up with rods
    Returns the PlanResult.  Raises InputError.
    """
    name = plan_named(plan)
    return planned_readings(scenario, _chosen(scenario, source, setup_name), source, name)


def _chosen(scenario: Scenario, source: str, name: str | None) -> int:
    """Index of the set-up that was measured."""
    names = [setup.name for setup in scenario.setup]
    with_rods = [index for index, setup in enumerate(scenario.setup) if setup.kind.rods]
    if not with_rods:
        remedy = f"add the one that was built, with {kinds_with_rods()}"
        if any(setup.kind.axle for setup in scenario.setup):
            remedy = f"a turntable has none: `scrubwise knock` tells of its lever; else {remedy}"
        raise InputError(source, "", "no set-up has rods and arms to set", remedy)
    fitting = _quoted([names[index] for index in with_rods])
    if name is not None:
        index = chosen_setup(names, name, source)
        if index not in with_rods:
            raise InputError(source, "--setup", f'"{names[index]}" has no rods and arms to set', f"choose one of {fitting}")
        return index
    if len(with_rods) > 1:
        problem = f"{len(with_rods)} set-ups have rods that could have been measured"
        raise InputError(source, "", problem, f"add --setup with one of {fitting}")
    return with_rods[0]


def _quoted(names: list[str]) -> str:
    return ", ".join(f'"{name}"' for name in names)
