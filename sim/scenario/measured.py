"""Numbers as people can measure them, scales under the wheels or the way of three turns, turned into those that a scenario keeps."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from pydantic import ValidationError, create_model

from sim.keys import Instead
from sim.linkages.catalogue import KINDS, TURNTABLE
from sim.scenario.car import CarTable
from sim.scenario.setup import SetupTable
from sim.scenario.tables import Table, TableError, bounds_of, number

Place = tuple[int | str, ...]


@dataclass(frozen=True)
class Kept:
    """A file's tables with what was measured turned into what is kept.

    data : the tables
    faults : what is wrong with what was measured, as pydantic tells it: `loc`, `type` and the rest
    excused : places of keys that could not be worked out, so that it is no second fault that they are missing
    measured : of each table's place, what was measured there
    """

    data: Any
    faults: tuple[dict[str, Any], ...]
    excused: frozenset[Place]
    measured: Mapping[Place, tuple[Instead, ...]]


@cache
def measured_table(table: type[Table]) -> type[Table]:
    """The keys that a person may write in place of a table's own, as a table.  table : a scenario's, such as CarTable."""
    keys = [key for one in table.instead() for key in one.measured]
    fields: dict[str, Any] = {key.name: (float | None, number(key.low, key.high, key.remedy, None, key.common)) for key in keys}
    return create_model(f"Measured{table.__name__}", __base__=Table, __doc__="What people measure.", **fields)


def known_keys(table: type[Table]) -> list[str]:
    """Every key that may be written in a table, its own first.  table : a scenario's, such as CarTable."""
    return [*table.model_fields, *measured_table(table).model_fields]


def kept(data: Any) -> Kept:
    """What a TOML file held, with every measured number turned into those that a scenario keeps.

    data : the file's tables; anything else is returned as it is
    """
    if not isinstance(data, dict):
        return Kept(data, (), frozenset(), {})
    faults: list[dict[str, Any]] = []
    excused: set[Place] = set()
    measured: dict[Place, tuple[Instead, ...]] = {}
    made = dict(data)
    for place, table, raw in _tables(data):
        written = [one for one in table.instead() if any(key.name in raw for key in one.measured)]
        if not written:
            continue
        measured[place] = tuple(written)
        changed, bad = _table_kept(table, raw, written)
        faults += [fault | {"loc": (*place, *fault["loc"])} for fault in bad]
        if bad or any(name not in changed for one in written for name in one.kept):
            excused |= {(*place, name) for one in written for name in one.kept}
        if place[0] == "setup":
            made["setup"] = [changed if index == place[1] else one for index, one in enumerate(made["setup"])]
        else:
            made[str(place[0])] = changed
    return Kept(made, tuple(faults), frozenset(excused), measured)


def _tables(data: Mapping[str, Any]) -> Iterator[tuple[Place, type[Table], dict[str, Any]]]:
    """The tables in which something measured can stand: (place, what it is, what it holds)."""
    if isinstance(data.get("car"), dict):
        yield ("car",), CarTable, data["car"]
    if isinstance(data.get("setup"), list | tuple):
        for index, setup in enumerate(data["setup"]):
            if isinstance(setup, dict):
                yield ("setup", index), SetupTable, setup


def _table_kept(table: type[Table], raw: Mapping[str, Any], written: list[Instead]) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """A table with what was measured worked out, and what is wrong with it."""
    names = set(measured_table(table).model_fields)
    given = {key: value for key, value in raw.items() if key in names}
    changed = {key: value for key, value in raw.items() if key not in names}
    for key, value in given.items():
        if isinstance(value, dict) and "plus_minus" in value:
            (one,) = (one for one in written if key in [measured.name for measured in one.measured])
            remedy = f"write a plain number, and in [uncertainty] that of {' and '.join(one.kept)}"
            return changed, [_own(key, "what is measured in place of another key carries no plus_minus", remedy)]
    try:
        values = measured_table(table).model_validate(given).model_dump(exclude_none=True)
    except ValidationError as error:
        return changed, [dict(fault) for fault in error.errors()]
    for one in written:
        bad = _clash(table, raw, one, written)
        if bad:
            return changed, [bad]
        reads = {key: _plain(raw.get(key), *bounds_of(table)[key]) for key in one.reads}
        if any(value is None for value in reads.values()):
            continue  # that key's own fault is told
        found = dict(zip(one.kept, one.kept_from(values | reads), strict=True))
        for name, value in found.items():
            low, high = bounds_of(table)[name]
            if not low <= value <= high:
                problem = f"with the others it makes {name} = {value:.4g}, which is not between {low:g} and {high:g}"
                problem = problem.removeprefix("with the others ") if len(one.measured) == 1 else problem
                return changed, [_own(one.measured[0].name, problem, "measure again, and look at the unit")]
        changed |= found
    return changed, []


def _clash(table: type[Table], raw: Mapping[str, Any], one: Instead, written: list[Instead]) -> dict[str, Any] | None:
    """What speaks against using what was measured: no use for it, a part that is missing, or the same said twice."""
    first = next(key.name for key in one.measured if key.name in raw)
    if table is SetupTable:
        linkage = TURNTABLE if raw.get("pivot") == TURNTABLE else raw.get("linkage")
        kind = KINDS.get(linkage) if isinstance(linkage, str) else None
        if kind is not None and one not in kind.instead:
            owner = "a turntable axle" if kind.axle else f'linkage "{kind.name}"'
            return _own(first, f"{owner} does not use this key", "leave it out")
    for key in one.measured:
        if key.name not in raw:
            return _own(key.name, f"the key is missing, and {first} needs it", key.remedy)
    twice = [name for name in one.kept if name in raw]
    twice += [key.name for other in written if other is not one and set(other.kept) & set(one.kept) for key in other.measured]
    return _own(first, f"{twice[0]} says the same in another way", "keep one of them") if twice else None


def _own(key: str, problem: str, remedy: str) -> dict[str, Any]:
    return {"loc": (), "type": "value_error", "ctx": {"error": TableError(key, problem, remedy)}}


def _plain(value: Any, low: float, high: float) -> float | None:
    """A number that may carry an uncertainty; None where it is none within bounds."""
    value = value.get("value") if isinstance(value, dict) else value
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high else None
