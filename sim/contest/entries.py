"""A contest's entries, read and held against the rules.

A slip in the rules ends the contest; a slip in an entry ends that entry alone, with one plain line, and the others go on.
"""

import os
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from sim.contest.file import UnclearError, as_table, is_name, name_in, only_known, printable, read_tables, refuse_link
from sim.contest.names import numbered_names, taken_for
from sim.contest.results import Misspelt, Refused, Unclear
from sim.contest.rules import RULES, TABLES, Rules
from sim.errors import InputError, NotTomlError, told_together
from sim.scenario.file import check_scenario
from sim.scenario.scenario import Scenario
from sim.scenario.setup import SetupTable
from sim.scenario.tables import bounds_of, setup_place
from sim.steering.arrangement import ideal_setup

MOST_ENTRIES = 200
ENTRY_BYTES = 20_000  # an entry that a team writes, comments and all, is below 3000
MOST_MEMBERS = 60
ENTRY_KEYS = ("team", "members", "setup")


@dataclass(frozen=True)
class Accepted:
    """An entry that keeps the rules.

    team : its name, with a number where another has the same; written : the name as handed in
    scenario : the rules' one with this entry's set-up, and its car, alone
    """

    file: str
    team: str
    written: str
    members: int | None
    setup_name: str | None  # what the team calls its set-up
    scenario: Scenario

    @property
    def setup(self) -> SetupTable:
        """The set-up, named after its team."""
        return self.scenario.setup[0]


def refused(file: str, team: str | None, error: InputError) -> Refused:
    """The refusal that an entry's fault makes.  file : of the entry; team : its name, where known; error : InputError."""
    text = f"{error.problem}; {error.remedy}"
    kinds = (Misspelt, NotTomlError), (Unclear, UnclearError)
    kind = next((kind for kind, fault in kinds if all(isinstance(one, fault) for one in error.faults)), Refused)
    return kind(file, team, " ".join((f"{error.place}: {text}" if error.place else text).split()))


def read_entries(folder: Path, rules: Rules) -> tuple[list[Accepted], list[Refused]]:
    """Read every team's entry and hold it against the rules.

    folder : of the contest; rules : Rules
    Returns the accepted and the refused entries, each by file name; of those that have one name each gets a number.
    Raises InputError where there is none, or more than MOST_ENTRIES.
    """
    accepted: list[Accepted] = []
    turned_down: list[Refused] = []
    for path in _entry_files(folder):
        file, data = printable(path.name), {}
        try:
            data = _read_entry(path, folder, file)
            accepted.append(_check_entry(data, rules, file))
        except InputError as error:
            team = data.get("team")
            turned_down.append(refused(file, team.strip() if is_name(team) else None, error))
    teams = numbered_names([one.team for one in accepted])
    return [one if one.team == team else _renamed(one, team) for one, team in zip(accepted, teams, strict=True)], turned_down


def _renamed(entry: Accepted, team: str) -> Accepted:
    """An entry under another name of its team."""
    return replace(entry, team=team, scenario=entry.scenario.model_copy(update={"setup": (entry.setup.model_copy(update={"name": team}),)}))


def _entry_files(folder: Path) -> list[Path]:
    """The entry files by name; one whose ending a file window has hidden is among them, so that its team is told."""
    found = []
    try:
        with os.scandir(folder) as names:
            for one in names:
                name = one.name.casefold()
                if name.endswith((".toml", ".toml.txt")) and not name.startswith(".") and name != RULES:
                    found.append(folder / one.name)
                    if len(found) > MOST_ENTRIES:
                        raise InputError(str(folder), "", f"there are more than {MOST_ENTRIES} entries", "make two contests of them")
    except OSError as error:
        raise InputError(str(folder), "", f"the folder can't be read ({error.strerror})", "check its name and its rights") from None
    if not found:
        raise InputError(str(folder), "", "there is no entry in this folder", "add a file such as our-team.toml for each team")
    return sorted(found)


def _read_entry(path: Path, folder: Path, file: str) -> dict[str, Any]:
    refuse_link(path, folder, file)
    if path.suffix.casefold() != ".toml":
        raise UnclearError(file, "", "the name ends in .txt", "rename it so that it ends in .toml")
    if not path.is_file():
        raise UnclearError(file, "", "this is not a file", "put a text file of that name there")
    return read_tables(path, file, ENTRY_BYTES)


def _check_entry(data: dict[str, Any], rules: Rules, file: str) -> Accepted:
    for key in data:
        if key in TABLES and not (key == "car" and rules.car):
            raise InputError(file, key, "the rules give this, the same for every team", "leave it out")
    only_known(data, (*ENTRY_KEYS, *(["car"] if rules.car else [])), file, "")
    team = name_in(data, "team", file)
    if not team[0].isalnum():  # a spreadsheet would take =... or @... in a table for a formula
        raise InputError(file, "team", "the name does not begin with a letter or a digit", "choose another beginning")
    if taken_for(team, ideal_setup().name):
        raise InputError(file, "team", "this is what the reference is called", "choose another name")
    members = data.get("members")
    if members is not None and not (type(members) is int and 1 <= members <= MOST_MEMBERS):
        raise InputError(file, "members", f"this is no whole number from 1 to {MOST_MEMBERS}", "write how many you are, and no names")
    setup = data.get("setup")
    if isinstance(setup, list):
        raise InputError(file, "setup", "an entry has one set-up", "begin it with a line [setup], in single brackets")
    if setup is None:
        raise UnclearError(file, "setup", "this table is missing", "begin it with a line [setup]")
    setup = as_table(setup, "setup", file)
    setup_name = name_in(setup, "name", file, "setup.") if "name" in setup else None
    car = as_table(data.get("car", {}), "car", file)
    for key in car:
        if key not in rules.car:
            raise InputError(file, f"car.{printable(key)}", "the rules give this, the same for every team", "leave it out")
    tables = rules.scenario.model_dump(exclude_unset=True, include=set(TABLES))
    try:
        scenario = check_scenario(tables | {"car": tables["car"] | car, "setup": [setup | {"name": team}]}, file)
    except InputError as error:
        raise told_together([_of_entry(one, file, team, setup) for one in error.faults]) from None
    _keep_rules(scenario, car, rules, file)
    return Accepted(file, team, team, members, setup_name, scenario)


def _of_entry(fault: InputError, file: str, team: str, setup: dict[str, Any]) -> InputError:
    """A scenario's fault as that of an entry: a kind of steering that there is not, and a missing number, break no rule."""
    place = fault.place.replace(setup_place(team, 0), "setup", 1)
    key = place.removeprefix("setup.")
    unclear = place.startswith("setup.") and (key in ("pivot", "linkage") or key not in setup)
    return (UnclearError if unclear else InputError)(file, place, fault.problem, fault.remedy)


def _keep_rules(scenario: Scenario, car: dict[str, Any], rules: Rules, file: str) -> None:
    """Hold an entry against what the rules allow."""
    setup = scenario.setup[0]
    for key, value, kinds in (("pivot", setup.pivot, rules.pivots), ("linkage", setup.linkage, rules.linkages)):
        if value is not None and value not in kinds:
            remedy = f"choose {' or '.join(kinds)}"
            raise InputError(file, f"setup.{key}", f'the rules do not allow "{value}"', remedy)
    for key in bounds_of(SetupTable):
        if key in setup.model_fields_set and key not in rules.setup:
            raise InputError(file, f"setup.{key}", "the rules do not leave this to the teams", "leave it out")
    chosen = [(f"setup.{key}", getattr(setup, key), span) for key, span in rules.setup.items() if key in setup.keys_read]
    chosen += [(f"car.{key}", getattr(scenario.car, key), rules.car[key]) for key in car]
    for place, value, (least, most) in chosen:
        if value is not None and not least <= value <= most:
            side = "below" if value < least else "above"
            raise InputError(file, place, f"the rules allow {least:g} to {most:g}, and {value:g} is {side} that", "choose a value between")
