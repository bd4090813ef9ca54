"""`search`: its options, its answer as plain numbers and as a piece of a scenario."""

from collections.abc import Sequence
from typing import Any, TypedDict

import tomli_w

from sim.errors import InputError
from sim.files.text import comma_slip
from sim.scenario.setup import SetupTable
from sim.search.result import SearchResult
from viz.search.words import NOTHING, fragment_heading
from viz.shared.plain import plain


def parse_free(options: Sequence[str]) -> dict[str, tuple[float, float]]:
    """Free keys from `--free KEY=LOW:HIGH`, in the key's unit.  Raises InputError where an option is not of that form or repeats a key."""
    found: dict[str, tuple[float, float]] = {}
    for text in options:
        key, _, rest = text.partition("=")
        low, _, high = rest.partition(":")
        _refuse_commas("--free", low, high)
        try:
            bounds = float(low), float(high)
        except ValueError:
            raise InputError("--free", "", f"{text!r} is not KEY=LOW:HIGH", "write it like arm_angle_deg=5:30") from None
        _add(found, "--free", key, bounds)
    return found


def parse_limits(options: Sequence[str]) -> dict[str, float]:
    """Limits from `--limit NAME=VALUE`.  Raises InputError where an option is not of that form or repeats a name."""
    found: dict[str, float] = {}
    for text in options:
        name, _, value = text.partition("=")
        _refuse_commas("--limit", value)
        try:
            limit = float(value)
        except ValueError:
            raise InputError("--limit", "", f"{text!r} is not NAME=VALUE", "write it like turning_circle_m=7") from None
        _add(found, "--limit", name, limit)
    return found


def _refuse_commas(option: str, *numbers: str) -> None:
    for number in numbers:
        if slip := comma_slip(number):
            raise InputError(option, "", *slip)


def _add(found: dict[str, Any], option: str, name: str, value: Any) -> None:
    if name.strip() in found:
        raise InputError(option, name.strip(), "it stands twice", "give it once")
    found[name.strip()] = value


def parse_objectives(options: Sequence[str]) -> tuple[str, ...]:
    """Objectives from `--objective NAME`, hyphens or underscores; drive work where none is named."""
    return tuple(name.strip().replace("-", "_").replace(" ", "_") for name in options) or ("drive_work",)


def search_fragment(result: SearchResult, setup: SetupTable) -> str:
    """A set-up as a piece of a scenario, to paste in place of what the team has or to add at its end.

    result : for the heading; setup : best, or the smaller change
    """
    data = setup.model_dump(mode="json", exclude_unset=True, exclude_none=True)
    for one in result.free:
        # A thousandth of a millimetre, degree or turn: finer than anybody builds, and it reads well.
        value = round(data[one.key], 3)
        data[one.key] = value if abs(value) >= NOTHING else 0.0
    return f"{fragment_heading(result)}\n[[setup]]\n{tomli_w.dumps(data)}"


class Pasted(TypedDict):
    """What goes with the answer.  fragment : the best set-up, or the smaller change, as a piece of a scenario."""

    fragment: str


def search_result(result: SearchResult) -> dict[str, Any]:
    """The answer as plain numbers for JSON, with the fragment of what is to be pasted."""
    return plain(result) | Pasted(fragment=search_fragment(result, (result.less_change or result.best).setup))
