"""What there is to measure at a car, and what of it is known; it knows no plotting library."""

from collections.abc import Iterator, Set
from dataclasses import dataclass
from pathlib import Path

from sim.errors import InputError
from sim.keys import Key
from sim.linkages.kind import Kind
from sim.scenario.car import AXLES, ROLL_OUT
from sim.scenario.choice import chosen_setup
from sim.scenario.file import check_scenario, parse_toml, read_text
from sim.scenario.scenario import Scenario
from sim.scenario.setup import SetupTable
from sim.scenario.tables import Table
from sim.steering.arrangement import Steering, build_steering
from viz.new.text import KINGPINS, car_keys, find_kind, offered_kinds, open_lines, scenario_text, setup_keys

PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}  # [mm] wide, high


@dataclass(frozen=True)
class Line:
    """A number to measure.

    letter : in the drawings; key : as a scenario writes it; what : to measure, in words
    value : that is known, None where none is [the key's unit]
    usual : between what it usually lies [the key's unit]
    """

    letter: str
    key: str
    what: str
    value: float | None
    usual: tuple[float, float] | None


@dataclass(frozen=True)
class Plan:
    """What is put on the sheets: a car and one of its set-ups as it is built, the numbers to measure, and the paper, a key of PAPERS."""

    scenario: Scenario
    setup: SetupTable
    steering: Steering
    lines: tuple[Line, ...]
    paper: str


def measure_result(scenario: Scenario | None, path: Path | None, source: str, setup_name: str | None, like: str | None, paper: str) -> Plan:
    """What there is to measure.

    scenario, path, source : the car, its file and its name in messages; None draws a car of usual size with blanks alone
    setup_name : of the set-up, None takes the first that is built of parts; like : the kind of front end where there is no scenario
    Raises InputError for a paper or a set-up that is unknown, has no parts or cannot be built.
    """
    paper = paper.lower()
    if paper not in PAPERS:
        raise InputError("--paper", "", f"{paper!r} is not known here", f"choose one of {', '.join(PAPERS)}")
    if scenario is None or path is None:
        kind = find_kind(like) if like is not None else next(iter(offered_kinds().values()))
        text, source, index = scenario_text(kind), kind.name, -1
        scenario = check_scenario(parse_toml(text, source, ""), source)
    else:
        text, index = read_text(path, source), _chosen(scenario, setup_name, source)
    setup = scenario.setup[index]
    steering = build_steering(setup, scenario.car, source, setup.place)
    return Plan(scenario, setup, steering, _lines_of(scenario, setup, {one.key.name for one in open_lines(text)}), paper)


def _chosen(scenario: Scenario, name: str | None, source: str) -> int:
    """Index of the set-up that is meant."""
    offered = [index for index, setup in enumerate(scenario.setup) if setup.kind.name in offered_kinds()]
    index = chosen_setup([setup.name for setup in scenario.setup], name, source) if name is not None else next(iter(offered), 0)
    if index not in offered:
        built = ", ".join(f'"{scenario.setup[place].name}"' for place in offered)
        remedy = f"choose one of {built}" if offered else "leave SCENARIO out and choose a front end with --like"
        raise InputError(source, "--setup", f'"{scenario.setup[index].name}" has no parts to measure', remedy)
    return index


def _lines_of(scenario: Scenario, setup: SetupTable, unknown: Set[str]) -> tuple[Line, ...]:
    """The numbers to measure, in the order of `new --ask`.  unknown : keys whose numbers are only examples."""
    keys: list[tuple[Table, Key]] = [(scenario.car, key) for key in _car_keys(setup.kind)]
    keys += [(setup, key) for key in setup_keys(setup.kind)]
    return tuple(
        Line(letter, key.name, key.measure + (f" (left out: {key.left_out})" if key.left_out else ""),
             None if key.name in unknown else value_of(table, key), key.common)
        for letter, (table, key) in zip(_letters(), keys, strict=False)
    )  # fmt: skip


def _car_keys(kind: Kind) -> list[Key]:
    return [key for key in car_keys() if not (kind.axle and key.name == KINGPINS)]


def letters_of(kind: Kind) -> dict[str, str]:
    """The letters of the sheets of a kind of front end, by key.  kind : of the set-up."""
    return {key.name: letter for letter, key in zip(_letters(), [*_car_keys(kind), *setup_keys(kind)], strict=False)}


def _letters() -> Iterator[str]:
    alphabet = [sign for sign in "ABCDEFGHIJKLMNOPQRSTUVWXYZ" if sign not in "IO"]  # which are read as figures
    yield from alphabet
    yield from (f"{one}{other}" for one in alphabet for other in alphabet)


def value_of(table: Table, key: Key) -> float | None:
    """A number as it is measured.  table : a car or a set-up.  Returns it [the key's unit], None where the key is left out."""
    for one in (AXLES, ROLL_OUT, *type(table).instead()):
        names = [measured.name for measured in one.measured]
        if key.name in names:
            values = {name: float(getattr(table, name)) for name in (*one.kept, *one.reads)}
            return one.measured_from(values)[names.index(key.name)]
    value = getattr(table, key.name)
    return None if value is None else float(value)
