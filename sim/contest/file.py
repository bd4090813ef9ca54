"""Reading what teams hand in: small tables from a file that may hold anything, each slip one plain line."""

import os
from difflib import get_close_matches
from math import isfinite
from pathlib import Path
from typing import Any, TypeGuard

from sim.errors import InputError
from sim.files.text import TooLargeError, plain_bytes
from sim.scenario.file import line_of_deep_key, parse_toml

LONGEST_NAME = 80  # as every text of a scenario
_EXAMPLE = "compare with the shipped class-contest"


class UnclearError(InputError):
    """A file that does not say what it is to say: it cannot be read, or a part is missing."""


def read_tables(path: Path, source: str, most: int) -> dict[str, Any]:
    """What a TOML file holds.

    path : of the file; source : its name in messages; most : that it may hold [bytes]
    Raises InputError for what is no such file.
    """
    try:
        raw = plain_bytes(path, most)
    except TooLargeError:
        raise UnclearError(source, "", f"the file is larger than {most} bytes", "write a short text file") from None
    except OSError as error:
        raise UnclearError(source, "", f"the file can't be read ({error.strerror})", "check its name and its rights") from None
    try:
        text = raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError:
        raise UnclearError(source, "", "the file is not text in UTF-8", "save it as UTF-8 text") from None
    if line_of_deep_key(text) is not None:
        raise InputError(source, "", "a key has far too many dots", _EXAMPLE)
    return parse_toml(text, source, _EXAMPLE)


def refuse_link(path: Path, folder: Path, source: str) -> None:
    """Refuse a file outside a folder, however it is spelt.

    path : of the file; folder : that it stays in; source : its name in messages
    Raises InputError.
    """
    if not Path(os.path.realpath(path)).is_relative_to(os.path.realpath(folder)):
        inside = Path(os.path.abspath(path)).is_relative_to(os.path.abspath(folder))
        raise InputError(source, "", f"this {'link' if inside else 'path'} leads out of the contest's folder", "put the file itself there")


def only_known(data: dict[str, Any], known: tuple[str, ...], source: str, place: str) -> None:
    """Raise InputError for a key that is not known.  data : a table; known : its keys; source, place : file and table in messages."""
    for key in data:
        if key not in known:
            near = get_close_matches(key, known, n=1)
            hint = f"did you mean {near[0]}?" if near else f"known are {', '.join(known)}"
            raise InputError(source, f"{place}{printable(key)}", "no such key", hint)


def as_table(value: Any, place: str, source: str) -> dict[str, Any]:
    """A value that must be a table.  value : any; place, source : of it in messages.  Raises InputError where it is none."""
    if not isinstance(value, dict):
        raise UnclearError(source, place, "this is not a table", f"begin it with a line [{place}]")
    return value


def name_in(data: dict[str, Any], key: str, source: str, place: str = "") -> str:
    """A name that a team chose.  data : a table; key : in it; source, place : file and table in messages.  Raises InputError for none."""
    value = data.get(key)
    if is_name(value):
        return value.strip()
    remedy = "write a short name in quotes"
    if value is None:
        raise UnclearError(source, f"{place}{key}", "this key is missing", remedy)
    raise InputError(source, f"{place}{key}", f"this is no name of 1 to {LONGEST_NAME} signs", remedy)


def is_name(value: Any) -> TypeGuard[str]:
    """Whether a value is a short name of printable signs.  value : any."""
    return isinstance(value, str) and 0 < len(value.strip()) <= LONGEST_NAME and value.isprintable()


def is_number(value: Any) -> TypeGuard[float]:
    """Whether a value is a finite number of a sensible size, and not true or false.  value : any [-]."""
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e9 and isfinite(value)


def printable(text: str) -> str:
    """A file's or a key's name, fit for a message.  text : as found."""
    return "".join(sign if sign.isprintable() else "?" for sign in text[:LONGEST_NAME])
