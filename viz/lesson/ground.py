"""What lessons stand on: shipped scenarios, and scenarios with other set-ups, each a file that pupils can run."""

from collections.abc import Mapping, Sequence
from typing import Any

from sim.scenario.file import check_scenario, find_scenario, load_scenario
from sim.scenario.scenario import Scenario


def shipped(name: str) -> Scenario:
    """A shipped scenario.  name : of it."""
    return load_scenario(find_scenario(name), name)


def with_setups(scenario: Scenario, title: str, setups: Sequence[Mapping[str, Any]]) -> Scenario:
    """A scenario with other set-ups, its car, course and pace as they are.

    scenario : whose; title : of the new one; setups : their keys, as in a scenario file
    """
    return check_scenario(_data(scenario) | {"title": title, "setup": [dict(one) for one in setups]}, "lesson")


def with_car(scenario: Scenario, **keys: Any) -> Scenario:
    """A scenario with other figures of its car.  scenario : whose; keys : of its table, as in a scenario file."""
    data = _data(scenario)
    return check_scenario(data | {"car": data["car"] | keys}, "lesson")


def _data(scenario: Scenario) -> dict[str, Any]:
    """A scenario as what its file holds, without what was left out."""
    data = scenario.model_dump(mode="json", exclude_none=True, exclude_unset=True)
    return data | {"course": scenario.course.model_dump(mode="json", exclude_none=True)}


def tightest(scenario: Scenario) -> float:
    """The smallest radius that a scenario's segments are written with [m].  scenario : with at least one bend."""
    return min(part.radius_m for part in scenario.course.segments or () if hasattr(part, "radius_m"))


IDEAL: dict[str, Any] = {"name": "ideal", "pivot": "stub axles", "linkage": "ideal"}
PARALLEL: dict[str, Any] = {"name": "parallel", "pivot": "stub axles", "linkage": "parallel"}
