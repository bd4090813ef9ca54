"""A scenario to work with in Python: where it came from goes along, and a change by keyword gives a checked copy."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass, field
from numbers import Integral
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from sim.errors import InputError
from sim.scenario.car import CarTable
from sim.scenario.choice import chosen_setup
from sim.scenario.file import EXAMPLE, check_scenario, dump_scenario, find_scenario, parse_toml, read_text, refuse_deep_key
from sim.scenario.measured import kept
from sim.scenario.scenario import Scenario
from sim.scenario.setup import SetupTable
from sim.surface.frames import Framed, frame
from sim.surface.given import folder_of, refuse_unnamed, shown

if TYPE_CHECKING:
    import pandas as pd

    from sim.scenario.tables import Table

OF_PYTHON = "scenario"  # what messages call a scenario that was never a file


@dataclass(frozen=True, repr=False)
class Case(Framed):
    """A scenario, checked, and what is needed to change and to drive it.  It cannot be changed itself: every change is a copy.

    scenario : what was written, checked; folder : where a relative course file is looked for; source : its name in messages
    written : its tables as they were written, lengths in mm and angles in degrees [the unit in each key's name]
    """

    scenario: Scenario
    folder: Path
    source: str
    written: Mapping[str, Any] = field(repr=False)

    @property
    def title(self) -> str:
        """The scenario's title."""
        return self.scenario.title

    @property
    def setups(self) -> list[str]:
        """Names of the set-ups, in the scenario's order."""
        return [setup.name for setup in self.scenario.setup]

    def finding(self) -> str:
        """How the scenario is driven: nothing was asked of it yet."""
        target = self.scenario.pace.target_m_per_s
        return f"{self.scenario.car.mass_kg or 0:g} kg, " + (f"{target:g} m/s" if isinstance(target, float | int) else "race pace")

    def with_car(self, *unnamed: Any, **keys: Any) -> Self:
        """A copy with keys of [car] changed.

        keys : by their names in a file [the unit in each name]; None takes a key out; a table within, such as tyre, by its own keys:
        `case.with_car(mass_kg=150, tyre={"friction": 0.7})`
        unnamed : nothing; what is written without its key is refused
        Raises InputError with the words of a file for a key or value that a file could not hold.
        """
        refuse_unnamed(unnamed, "with_car(mass_kg=150)")
        return self.with_tables(car=keys)

    def with_course(self, *unnamed: Any, **keys: Any) -> Self:
        """A copy with keys of [course] changed.  keys, unnamed : as for `with_car`.  Raises InputError likewise."""
        refuse_unnamed(unnamed, "with_course(closed=False)")
        return self.with_tables(course=keys)

    def with_pace(self, *unnamed: Any, **keys: Any) -> Self:
        """A copy with keys of [pace] changed.  keys, unnamed : as for `with_car`.  Raises InputError likewise."""
        refuse_unnamed(unnamed, "with_pace(target_m_per_s=5)")
        return self.with_tables(pace=keys)

    def with_tables(self, *unnamed: Any, **tables: Any) -> Self:
        """A copy with keys of several tables changed, such as motor and battery, which need each other.

        tables : by their names in a file, each with the keys to change as for `with_car`; `title` with its text; None takes a table out;
        `setup` with the whole list; unnamed : as for `with_car`
        Raises InputError likewise.
        """
        refuse_unnamed(unnamed, "with_tables(car={...}, pace={...})")
        return self._checked(_merged(self._kept(), _plain(tables)))

    def with_setup(self, setup: str | int, *unnamed: Any, **keys: Any) -> Self:
        """A copy with keys of one set-up changed.

        setup : its name, its number from 1 or a beginning of its name [-]; keys, unnamed : as for `with_car`.  Raises InputError likewise.
        """
        refuse_unnamed(unnamed, "with_setup(SETUP, toe_in_deg=0.5)")
        place, data = self.place_of(setup), self._kept()
        data["setup"] = [_merged(one, _plain(keys), SetupTable) if at == place else one for at, one in enumerate(data["setup"])]
        return self._checked(data)

    def plus_setup(self, *unnamed: Any, **keys: Any) -> Self:
        """A copy with one set-up more.  keys : of the new one, name and pivot among them; unnamed, faults : as for `with_car`."""
        refuse_unnamed(unnamed, 'plus_setup(name="turntable", pivot="turntable")')
        data = self._kept()
        data["setup"] = [*data["setup"], _merged({}, _plain(keys))]
        return self._checked(data)

    def only(self, *setups: str | int) -> Self:
        """A copy with some of the set-ups, in that order.  setups : as for `with_setup` [-].  Raises InputError likewise."""
        data, places = self._kept(), list(dict.fromkeys(self.place_of(one) for one in setups))
        # What is said of a set-up that is left out would be said of nothing.
        gone = {f"setup.{name}" for place, name in enumerate(self.setups) if place not in places}
        unsure = {path: half for path, half in self.scenario.uncertainty.items() if path.rpartition(".")[0] not in gone}
        made = _without_doubts([data["setup"][place] for place in places])
        return self._checked(_without_doubts(data) | {"setup": made, "uncertainty": unsure})

    def place_of(self, setup: str | int) -> int:
        """The place of a set-up, from 0 [-].  setup : as for `with_setup` [-].  Raises InputError where none or several are meant."""
        if isinstance(setup, bool) or not isinstance(setup, str | Integral):
            problem = f"{shown(setup)} is no name or number of a set-up"
            raise InputError(self.source, "setup", problem, f'write one, such as "{self.setups[0]}"')
        return chosen_setup(self.setups, str(setup), self.source, "setup")

    def toml(self) -> str:
        """The scenario as the text of a file, with every default written out, for the commands."""
        return dump_scenario(self.scenario)

    def table(self) -> pd.DataFrame:
        """The set-ups as a table: a row each, a column for each key that one of them reads [the unit in its name]."""
        rows = [{key: getattr(setup, key) for key in type(setup).model_fields if key in setup.keys_read} for setup in self.scenario.setup]
        return frame(rows, ["name"])

    def _kept(self) -> dict[str, Any]:
        """The tables as they were written, but for what was measured in place of a key, which is worked out."""
        return deepcopy(dict(kept(self.written).data))

    def _checked(self, data: dict[str, Any]) -> Self:
        return type(self)(check_scenario(data, self.source), self.folder, self.source, data)


class OfCase(Framed):
    """What was found for a case.  case : whose."""

    case: Case

    @property
    def title(self) -> str:
        """Of the scenario."""
        return self.case.title

    @property
    def setups(self) -> list[str]:
        """Names of the set-ups, in the scenario's order."""
        return self.case.setups


def load(name: str | Path) -> Case:
    """A scenario from a file, or a shipped one by its name.

    name : path of a file, or such as "first-bend"
    Returns a Case.  Raises InputError as the commands refuse such a file.
    """
    if not isinstance(name, str | Path):
        remedy = 'write one, or that of a shipped scenario, such as sim.load("first-bend")'
        raise InputError("name", "", f"{shown(name)} is not the name of a file", remedy)
    path = find_scenario(str(name))
    data = parse_toml(read_text(path, str(name)), str(name), EXAMPLE)
    return Case(check_scenario(data, str(name)), path.parent, str(name), data)


def from_text(text: str, folder: str | Path = ".") -> Case:
    """A scenario from TOML text, as a file holds it.

    text : of a scenario; folder : where a relative course file is looked for
    Returns a Case.  Raises InputError as the commands refuse such a file.
    """
    if not isinstance(text, str):
        raise InputError("text", "", f"{shown(text)} is not text", "give what a scenario file holds; sim.load reads a file")
    place = folder_of(folder, "from_text(TEXT, folder=FOLDER)")
    refuse_deep_key(text, OF_PYTHON)
    data = parse_toml(text, OF_PYTHON, EXAMPLE)
    return Case(check_scenario(data, OF_PYTHON), place, OF_PYTHON, data)


def from_tables(folder: str | Path = ".", **tables: Any) -> Case:
    """A scenario from keyword arguments: car, course, pace and setup, and what else a file may hold.

    folder : where a relative course file is looked for
    tables : by their names in a file, each a dictionary of its keys; `setup` a list of such [the unit in each key's name]
    Returns a Case.  Raises InputError as the commands refuse such a file.
    """
    place = folder_of(folder, "from_tables(car=..., course=..., pace=..., setup=[...]), or from_tables(**TABLES)")
    data = _plain(tables)
    return Case(check_scenario(data, OF_PYTHON), place, OF_PYTHON, data)


def _plain(value: Any) -> Any:
    """What Python's users hold in place of what a file gives: numbers of arrays, paths, tuples; a copy."""
    if isinstance(value, Mapping):
        return {str(key): _plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    if isinstance(value, Path):
        return str(value)
    return value.tolist() if hasattr(value, "tolist") else value  # of an array's number; its library need not be loaded to know it


def _merged(table: Mapping[str, Any], changes: Mapping[str, Any], kind: type[Table] | None = None) -> dict[str, Any]:
    """A table with changes: None takes out, a table within is merged; of two ways to say the same the old one goes.

    kind : of the table, None for the file itself
    """
    made = dict(table)
    for one in kind.instead() if kind is not None else ():
        if any(changes.get(key.name) is not None for key in one.measured):
            made = {key: value for key, value in made.items() if key not in one.kept}
    for key, value in changes.items():
        within = made.get(key)
        if value is None:
            made.pop(key, None)
        elif isinstance(value, dict) and _is_table(value) and (within is None or (isinstance(within, dict) and _is_table(within))):
            made[key] = _merged(within or {}, value, CarTable if kind is None and key == "car" else None)
        else:
            made[key] = value
    return made


def _is_table(value: Mapping[str, Any]) -> bool:
    """Whether a dictionary is a table, and no number with its uncertainty."""
    return "value" not in value and "plus_minus" not in value


def _without_doubts(value: Any) -> Any:
    """The same without the uncertainties that stand beside numbers."""
    if isinstance(value, list):
        return [_without_doubts(one) for one in value]
    if isinstance(value, dict):
        return {key: _without_doubts(one) for key, one in value.items()} if _is_table(value) else value.get("value", value)
    return value
