"""What a person writes in Python, checked where it is taken: each wrong argument is refused with what to write instead."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from math import isfinite
from numbers import Integral, Real
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.errors import InputError, SeveralInputError

if TYPE_CHECKING:
    from sim.surface.case import Case

LONGEST_SHOWN = 40  # signs of what was written
CASES = 'give a scenario, such as sim.load("first-bend"), or the name of a file or of a shipped one'


def case_of(given: Any) -> Case:
    """A scenario from what a function of `sim` was given.

    given : a Case, or the path of a file or the name of a shipped scenario, which is loaded
    Raises InputError for anything else, and for a file that cannot be used.
    """
    from sim.surface.case import Case, load

    if isinstance(given, Case):
        return given
    if isinstance(given, str | Path):
        return load(given)
    raise InputError("case", "", f"{shown(given)} is no scenario", CASES)


def shown(given: Any) -> str:
    """What was written, short enough for a message.  given : anything."""
    if given is None or isinstance(given, bool | Integral | Real):
        return str(given)
    if isinstance(given, str):
        return f'"{given[:LONGEST_SHOWN]}"'
    kind = type(given).__name__
    return f"{'an' if kind[:1] in 'AEIOUaeiou' else 'a'} {kind}"


def number(given: Any, name: str, remedy: str) -> float:
    """A number [that of the argument].

    given : as it was written; name : of the argument; remedy : what to write
    Raises InputError where it is none.
    """
    if isinstance(given, bool) or not isinstance(given, Real):
        raise InputError(name, "", f"{shown(given)} is not a number", remedy)
    return float(given)


def whole(given: Any, name: str, remedy: str) -> int:
    """A whole number.  given, name, remedy : as for `number`.  Raises InputError where it is none."""
    if isinstance(given, bool) or not isinstance(given, Integral):
        raise InputError(name, "", f"{shown(given)} is not a whole number", remedy)
    return int(given)


def degrees(given: Any, name: str) -> list[float]:
    """Angles of the outer wheel.  given : a list or an array of them [deg]; name : of the argument.  Raises InputError for all else."""
    remedy = f"give degrees of the outer wheel in a list, such as {name}=[10, 20]"
    if isinstance(given, str | bytes | Mapping) or not hasattr(given, "__iter__"):
        raise InputError(name, "", f"{shown(given)} is not a list", remedy)
    angles = [number(one, name, remedy) for one in given]
    if not angles:
        raise InputError(name, "", "the list is empty", f"{remedy}, or leave it out")
    for angle in angles:
        if not 0.0 <= angle <= 89.0:
            raise InputError(name, "", f"{angle:g} is not between 0 and 89", "give degrees of the outer wheel")
    return angles


def bounds(given: Any, name: str) -> dict[str, tuple[float, float]] | None:
    """Keys that a search is free to change.

    given : key to (least, most) [the key's unit], or None; name : of the argument
    Raises InputError where it is no such table.
    """
    if given is None:
        return None
    remedy = f'give least and most of each key, such as {name}={{"arm_angle_deg": (0, 25)}}'
    if not isinstance(given, Mapping):
        raise InputError(name, "", f"{shown(given)} is not a table", remedy)
    found = {}
    for key, pair in given.items():
        if not isinstance(key, str):
            raise InputError(name, "", f"{shown(key)} is not the name of a key", remedy)
        if isinstance(pair, str | bytes) or not isinstance(pair, Sequence) or len(pair) != 2:
            raise InputError(name, key, f"{shown(pair)} is not a pair of numbers", remedy)
        low, high = (number(one, f"{name}: {key}", remedy) for one in pair)
        if not (isfinite(low) and isfinite(high) and low < high):
            raise InputError(name, key, f"{low:g} to {high:g} is no range", remedy)
        found[key] = (low, high)
    return found


def folder_of(given: Any, call: str) -> Path:
    """A folder.  given : as it was written; call : of the function, in the remedy.  Raises InputError where it is none."""
    if not isinstance(given, str | Path):
        raise InputError("folder", "", f"{shown(given)} is not the name of a folder", f"write {call}")
    return Path(given)


def refuse_unnamed(given: Sequence[Any], call: str) -> None:
    """Raise InputError where something was written without its key.  given : such; call : how it is written."""
    if given:
        remedy = f"write {call}, or **TABLE for a dictionary"
        raise InputError(call.partition("(")[0], "", f"{shown(given[0])} has no key before it", remedy)


@contextmanager
def named_as_in_python() -> Iterator[None]:
    """Refusals within name the arguments of Python in place of a command's options.  Raises InputError so named."""
    try:
        yield
    except InputError as fault:
        if not fault.source.startswith("--") or isinstance(fault, SeveralInputError):
            raise
        name = fault.source.removeprefix("--").replace("-", "_")
        remedy = fault.remedy
        if "=LOW:HIGH" in remedy:
            remedy = f'write {name}={{"{fault.place}": (LOW, HIGH)}}'
        raise InputError(name, fault.place, fault.problem, remedy) from None
