"""The text of a scenario to begin with: a car of usual size, each number with what to measure, and a set-up of the wanted kind."""

import re
from collections.abc import Iterator
from typing import NamedTuple

from sim.errors import InputError
from sim.keys import Instead, Key
from sim.linkages.catalogue import KINDS
from sim.linkages.front_end import ARM_JOINT
from sim.linkages.kind import Kind
from sim.scenario.car import AXLES, ROLL_OUT, CarTable
from sim.scenario.file import MARK, shipped_folder
from sim.scenario.pace import SPEED
from sim.scenario.tables import measured_keys

COMMENT = 36  # column of the remarks
_LINE = re.compile(rf"^(?P<out># )?(?P<key>\w+) =(?P<value>[^#]*)# {MARK} (?P<rest>.*)$")
DRIVE = "drive"
KINGPINS = "kingpin_track_mm"  # which a turntable axle has not
_STUB_AXLES = 'pivot = "stub axles"              # each front wheel on its own kingpin'
_TURNTABLE = 'pivot = "turntable"               # the whole axle swings about its middle, as on a hand cart'


class Open(NamedTuple):
    """A line of a scenario whose number nobody has measured.

    line : its place in the text, from 0; key : of the number; value : that stands there, as written; empty where the key is left out
    """

    line: int
    key: Key
    value: str


def offered_kinds() -> dict[str, Kind]:
    """The kinds of front end that somebody can build and measure, by name."""
    return {name: kind for name, kind in KINDS.items() if kind.rods or kind.axle}


def find_kind(wanted: str) -> Kind:
    """The kind that is meant by its name or a beginning that no other has.  Raises InputError where there is none."""
    offered, key = offered_kinds(), " ".join(wanted.casefold().replace("-", " ").replace("center", "centre").split())
    key = also_called(key)
    fits = [name for name in offered if name == key] or [name for name in offered if key and name.startswith(key)]
    if len(fits) != 1:
        shown = "".join(sign if sign.isprintable() else "?" for sign in wanted[:40])
        raise InputError("--like", "", f'"{shown}" is no kind of steering that can be built', f"choose one of {', '.join(offered)}")
    return offered[fits[0]]


def also_called(wanted: str) -> str:
    """The name of a kind by what else it is called, or a beginning of that which no kind's own name has.  wanted : in small letters."""
    called = {words: name for name, kind in KINDS.items() for words in kind.also_called}
    names = [name for words, name in called.items() if len(wanted) > 1 and words.startswith(wanted)]
    return names[0] if names else wanted


def _in_place(keys: tuple[Key, ...], instead: tuple[Instead, ...]) -> Iterator[Key]:
    """The keys to measure, those that people can measure more easily in place of what they stand for."""
    told = set()
    for key in keys:
        for one in instead:
            if key.name in one.kept:
                yield from (measured for measured in one.measured if measured.name not in told)
                told |= {measured.name for measured in one.measured}
                break
        else:
            if key.measure:
                yield key


def car_keys() -> tuple[Key, ...]:
    """What there is to measure about a car, in the order in which it is asked."""
    return (*AXLES.measured, *measured_keys(CarTable)[:5], *ROLL_OUT.measured, *measured_keys(CarTable)[5:])


def setup_keys(kind: Kind) -> tuple[Key, ...]:
    """What there is to measure about a front end of this kind: its arms and parts first, then how it stands."""
    keys = tuple(_in_place(kind.keys, (ARM_JOINT,)))
    return tuple(key for key in keys if key.needed or key in ARM_JOINT.measured) + tuple(
        key for key in keys if not key.needed and key not in ARM_JOINT.measured
    )


def number_line(key: Key, value: str, open_: bool) -> str:
    """A key's line.  value : as written; empty leaves the key out; open_ : whether nobody has measured it."""
    rest = key.measure + (f"; left out: {key.left_out}" if key.left_out else "")
    if key.common is not None:
        rest += f" [{key.common[0]:g} to {key.common[1]:g} is usual]"
    written = f"{key.name} = {value}" if value else f"# {key.name} ="
    return f"{written:<{COMMENT - 1}} # {MARK + ' ' if open_ else ''}{rest}"


def _begin(key: Key) -> str:
    """What stands in a file before anything is measured."""
    first = key.usual if key.default is None else key.default
    return "" if first is None else f"{first:.10g}"


def scenario_text(kind: Kind) -> str:
    """A scenario that runs as it is, with a car and a set-up of this kind, each number marked with what to measure."""
    starter = (shipped_folder() / "starter.toml").read_text(encoding="utf-8")
    tables = re.split(r"^(?=\[)", starter, flags=re.M)
    kept = {re.match(r"\[+[\w.]+\]+", table)[0]: table for table in tables[1:]}  # type: ignore[index]
    drive = next(line for line in kept["[car]"].splitlines() if line.startswith(f"{DRIVE} ="))
    head = [
        f"# A scenario: a car with {kind.a_name} front axle, a course, a pace." if kind.axle
        else f"# A scenario: a car whose front wheels are steered by {kind.a_name}, a course, a pace.",
        f"# Behind {MARK} stands what to measure; the number before it is only an example. In brackets: what is usual with cars of this",
        "# kind (common practice, no source). Asked number by number: scrubwise new THIS-FILE --ask",
        "# Then: scrubwise angles THIS-FILE, and scrubwise run THIS-FILE",
        "# Testing a car can hurt people: keep bystanders away, wear what your event asks for, have a competent adult present.",
        'title = "My car"', "",
        "[car]                             # in place of the two axles' loads: mass_kg and mass_centre_behind_front_axle_mm, or",
        "                                  # front_left_load_kg, front_right_load_kg, rear_left_load_kg and rear_right_load_kg;",
        "                                  # in place of three_wheel_turns_mm: wheel_radius_mm, loaded",
        *(number_line(key, _begin(key), open_=not (kind.axle and key.name == KINGPINS)) for key in car_keys()),
        "# yaw_inertia_kg_m2 = 38           # nobody measures this at first; left out, mass x 0.26 is taken",
        drive, "",
    ]  # fmt: skip
    own = [
        "[[setup]]", f'name = "our car: {kind.name}"', *([_TURNTABLE] if kind.axle else [_STUB_AXLES, f'linkage = "{kind.name}"']),
        *(["# In place of its joint's place, an arm: arm_length_mm (kingpin axis to joint), arm_angle_deg (the kink inwards)"]
          if kind.rods else []),
        *(number_line(key, _begin(key), open_=True) for key in setup_keys(kind)),
        *(["# rod_turns_left = 0.5             # turns of a rod end from where the wheel stands at its toe; positive lengthens the rod"]
          if kind.rods else []), "",
    ]  # fmt: skip
    ideal = tables[next(index for index, table in enumerate(tables) if table.startswith("[[setup]]"))].rstrip("\n")
    speed = number_line(SPEED, _begin(SPEED), open_=True)
    pace = re.sub(rf"^{SPEED.name} = .*$", lambda _: speed, kept["[pace]"], count=1, flags=re.M)
    return "\n".join([*head, kept["[car.tyre]"] + kept["[course]"] + pace + ideal, "", *own])


def open_lines(text: str) -> list[Open]:
    """The numbers of a scenario's text that nobody has measured, in their order."""
    keys = {key.name: key for key in (*car_keys(), SPEED, *(key for kind in offered_kinds().values() for key in setup_keys(kind)))}
    found = []
    for index, line in enumerate(text.splitlines()):
        match = _LINE.match(line)
        if match and match["key"] in keys:
            found.append(Open(index, keys[match["key"]], "" if match["out"] else match["value"].strip()))
    return found


def filled(text: str, one: Open, value: str, open_: bool = False) -> str:
    """The text with a number in its place.  value : as written, empty leaves the key out; open_ : whether it is still to measure."""
    lines = text.splitlines()
    lines[one.line] = number_line(one.key, value, open_)
    return "\n".join(lines) + "\n"


def with_drive(text: str, drive: str) -> str:
    """The text with another drive."""
    return re.sub(rf'^{DRIVE} = "[^"]*"', f'{DRIVE} = "{drive}"', text, count=1, flags=re.M)
