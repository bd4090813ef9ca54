"""How sure each number is, as a person writes it: beside the number, or in the table [uncertainty].

    mass_kg = {value = 145, plus_minus = 10}
    wheelbase_mm = {value = 1500, plus_minus = "1 %"}

    [uncertainty]
    "car.tyre.friction" = 0.1
    "setup.kinked arms.toe_in_deg" = 0.3

A `plus_minus` is the half width of the interval that holds the number with 95 % probability, of a normal distribution about the
number as it is written; "3 %" means three hundredths of that number.  Free play is no number of a set-up and stands in [uncertainty]
alone: `setup.NAME.free_play_deg` is how far each front wheel can be turned either way with the hand wheel held.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from statistics import NormalDist
from typing import Any

from pydantic import BaseModel

from sim.scenario.tables import TableError, bounds_of

PER_DEVIATION = NormalDist().inv_cdf(0.975)  # the 95 % half width of a normal distribution, in standard deviations
FREE_PLAY = "free_play_deg"
MOST_FREE_PLAY_DEG = 3.0  # joints that leave a wheel more than that are broken; a judgement
# Draws beyond a key's bounds are set to the bound.  Were it more than this share, the distribution would be another one. [-]
MOST_CLIPPED = 0.1
REMEDY = 'give the 95 % half width, above 0, in the unit of the number, or a share of it such as "3 %"'
_SHARE = re.compile(r"\s*(\d{1,9}(?:\.\d{0,9})?|\.\d{1,9})\s*%\s*", re.ASCII)
# A draw changes the car, not the road: of the course only what a lap reads beside its line.
_COURSE_KEYS = {"air_density_kg_per_m3", "wind_m_per_s", "wind_towards_deg"}
_EXAMPLES = "write a path such as car.tyre.friction or setup.NAME.toe_in_deg"


@dataclass(frozen=True)
class Number:
    """A number of a scenario that can carry an uncertainty: as it is written, and its key's bounds [the key's unit]."""

    value: float
    low: float
    high: float


def lifted(data: Any) -> Any:
    """What a TOML file held, with every uncertainty moved to its table and every path written out.

    data : the file's tables; anything else is returned as it is
    Returns a copy.  Raises TableError for an uncertainty that is badly written.
    """
    table = data.get("uncertainty", {}) if isinstance(data, dict) else None
    if not isinstance(table, Mapping):
        return data
    found: dict[str, Any] = {}
    for path, value in _paths(table):
        if path in found:
            raise _fault(path, "the uncertainty of this number stands twice", "keep one of them")
        found[path] = value
    plain = {key: _lifted(value, key, found) for key, value in data.items() if key != "uncertainty"}
    setups = plain.get("setup")
    if isinstance(setups, list | tuple):
        plain["setup"] = [
            _lifted(setup, f"setup.{str(setup.get('name', '')).strip()}", found) if isinstance(setup, dict) else setup for setup in setups
        ]
    return plain | {"uncertainty": found}


def _paths(table: Mapping, prefix: str = "") -> Iterator[tuple[str, Any]]:
    """The paths of [uncertainty]: in quotes, or with their dots as tables within tables."""
    for key, value in table.items():
        if isinstance(value, dict):
            yield from _paths(value, f"{prefix}{key}.")
        else:
            yield f"{prefix}{key}", value


def _lifted(value: Any, path: str, found: dict[str, Any]) -> Any:
    if not isinstance(value, dict):
        return value
    if "plus_minus" not in value and set(value) != {"value"}:
        return {key: _lifted(inner, f"{path}.{key}", found) for key, inner in value.items()}
    for key in ("value", "plus_minus"):
        if key not in value:
            raise TableError(_shown(path), f"there is no {key}", "write a plain number, or {value = 12.0, plus_minus = 3.0}")
    for key in value:
        if key not in ("value", "plus_minus"):
            raise TableError(f"{_shown(path)}.{_shown(key)}", "no such key", "known are value, plus_minus")
    if path in found:
        raise _fault(path, "the uncertainty of this number stands twice", "keep it beside the number or here")
    found[path] = value["plus_minus"]
    return value["value"]


def in_units(uncertainty: Any, scenario: Any) -> Any:
    """The table [uncertainty] with every share of a number, such as "3 %", in that number's unit.

    uncertainty : path to half width, as it is written [-]; scenario : what has its tables, the numbers among them checked
    Returns a copy; anything that is neither a number nor text is left for the check of its type.
    Raises TableError for text that is no share, and for a share of what has no size.
    """
    if not isinstance(uncertainty, dict) or not any(isinstance(half, str) for half in uncertainty.values()):
        return uncertainty
    numbers = numbers_of(scenario)
    return {path: _half(path, half, numbers) if isinstance(half, str) else half for path, half in uncertainty.items()}


def _half(path: str, written: str, numbers: Mapping[str, Number]) -> float:
    """A share of a number as a half width [its unit]."""
    share, key = _SHARE.fullmatch(written), f'"{_shown(path)}"'
    if share is None:
        raise TableError(key, f'"{_shown(written)[:40]}" is neither a number nor a share', 'write a number, or a share such as "3 %"')
    if path.endswith(f".{FREE_PLAY}"):
        raise TableError(key, "free play is no share of anything", "give it in degrees, such as 0.4")
    number = numbers.get(path)
    if number is None:
        return 1.0  # of what is not there; `check_uncertainty` says so
    if number.value == 0 or float(share[1]) == 0:
        raise TableError(key, f"{share[0].strip()} of {number.value:g} is nothing", "give the half width in the unit of the number")
    return float(share[1]) / 100 * abs(number.value)


def numbers_of(scenario: Any) -> dict[str, Number]:
    """Every number of a scenario that can carry an uncertainty.

    scenario : Scenario
    Returns path to Number.  Counts, the course's line and keys that are left out and have no default are not among them.
    """
    tables: list[tuple[str, BaseModel, set[str]]] = []
    for name in ("car", "course", "pace", "motor", "battery", "race"):
        table = getattr(scenario, name)
        if table is not None:
            tables.append((name, table, _COURSE_KEYS if name == "course" else set(type(table).model_fields)))
    for name in ("tyre", "rear_tyre", "hands", "kingpin"):
        table = getattr(scenario.car, name)
        if table is not None:
            tables.append((f"car.{name}", table, set(type(table).model_fields)))
    tables += [(f"setup.{setup.name}", setup, setup.keys_read) for setup in scenario.setup]
    numbers = {}
    for place, table, keys in tables:
        for key, (low, high) in bounds_of(type(table)).items():
            value = getattr(table, key)
            if key in keys and isinstance(value, float | int):
                numbers[f"{place}.{key}"] = Number(float(value), low, high)
    return numbers


def check_uncertainty(scenario: Any) -> None:
    """Check that each uncertainty belongs to a number and is sensible.

    scenario : Scenario
    Raises TableError for the first that does not.
    """
    if not scenario.uncertainty:
        return
    numbers = numbers_of(scenario)
    play = {f"setup.{setup.name}.{FREE_PLAY}": setup for setup in scenario.setup}
    for path, plus_minus in scenario.uncertainty.items():
        if not plus_minus > 0:
            raise _fault(path, f"{plus_minus:g} is not above 0", REMEDY)
        if path in play:
            if play[path].pivot == "turntable":
                raise _fault(path, "a turntable axle has no joints that leave each wheel free play", "leave it out")
            if plus_minus > MOST_FREE_PLAY_DEG:
                raise _fault(path, f"{plus_minus:g} is above {MOST_FREE_PLAY_DEG:g}", "mend the joints, then measure the free play again")
        elif path in numbers:
            _check_size(path, numbers[path], plus_minus)
        elif path.startswith("course."):
            known = ", ".join(sorted(_COURSE_KEYS))
            raise _fault(path, "the course is the same in every draw", f"of its table only {known} can be unsure")
        else:
            raise _no_number(path, scenario, [*numbers, *play])


def _no_number(path: str, scenario: Any, known: list[str]) -> TableError:
    """Why an uncertainty belongs to none of the numbers.  known : their paths."""
    owner, _, key = path.rpartition(".")
    if key == "plus_minus":
        form = owner if owner in known else "car.mass_kg"
        return _fault(path, "this does not say which number it belongs to", f'write the number\'s path, such as "{_shown(form)}" = "3 %"')
    tables = {"car": scenario.car} | {f"setup.{setup.name}": setup for setup in scenario.setup}
    parts = type(tables[owner]).instead() if owner in tables else ()
    kept = next((one.kept for one in parts if key in [measured.name for measured in one.measured]), ())
    if kept:
        instead = " and ".join(f'"{_shown(f"{owner}.{name}")}"' for name in kept)
        return _fault(path, "what is measured in place of another key carries no uncertainty of its own", f"give that of {instead}")
    near = get_close_matches(path, known, n=1)
    return _fault(path, "the scenario gives no such number", f"did you mean {_shown(near[0])}?" if near else _EXAMPLES)


def _check_size(path: str, number: Number, plus_minus: float) -> None:
    """A number at its bound, such as a coefficient of 0, may well be unsure to one side; one inside its bounds to both."""
    normal = NormalDist(number.value, plus_minus / PER_DEVIATION)
    below = normal.cdf(number.low) if number.value > number.low else 0.0
    above = 1.0 - normal.cdf(number.high) if number.value < number.high else 0.0
    if below + above > MOST_CLIPPED:
        outside = f"{100 * (below + above):.0f} % of the draws outside what this key allows ({number.low:g} to {number.high:g})"
        raise _fault(path, f"{number.value:g} +- {plus_minus:g} puts {outside}", "give a smaller half width")


def _fault(path: str, problem: str, remedy: str) -> TableError:
    return TableError(f'uncertainty."{_shown(path)}"', problem, remedy)


def _shown(path: str) -> str:
    """A path for a message: printable and short."""
    text = "".join(sign if sign.isprintable() else "?" for sign in path)
    return text if len(text) <= 130 else text[:127] + "..."
