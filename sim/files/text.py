"""A file's bytes and its numbers, read strictly."""

from __future__ import annotations

import re
from pathlib import Path

from sim.errors import InputError

LARGEST_FILE = 20_000_000  # [bytes]; MOST_POINTS of a talkative recorder
MOST_POINTS = 50_000  # a point every two metres on the longest course
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)


def number_from(text: str) -> float | None:
    """Read one number strictly: digits with a decimal point and perhaps an exponent, nothing else.

    text : the cell, without blanks around it [any unit]
    Returns the number, or None where the text is no finite number.
    """
    return float(text) if _NUMBER.fullmatch(text) and abs(float(text)) < 1e300 else None


def refuse_too_many(number: int, source: str) -> None:
    """Refuse a file with more points than a course has.

    number : points so far [-]
    source : file named in the error
    Raises InputError above MOST_POINTS.
    """
    if number > MOST_POINTS:
        raise InputError(source, "", f"holds more than {MOST_POINTS} points", "give one lap of the course, or thin the points out")


def bytes_of(path: Path) -> bytes:
    """The whole file.

    path : of the file
    Returns its bytes.
    Raises InputError where it is missing, a folder, unreadable, empty or larger than LARGEST_FILE.
    """
    source = str(path)
    try:
        if path.is_dir():
            raise InputError(source, "", "is a folder", "give the course file inside it")
        size = path.stat().st_size
        if size > LARGEST_FILE:
            raise InputError(source, "", f"is {size / 1e6:.0f} MB large", "give the course alone, one lap of it")
        if not path.is_file():
            raise InputError(source, "", "is not a plain file", "give a course file")
        data = path.read_bytes()
    except InputError:
        raise
    except (FileNotFoundError, NotADirectoryError):
        raise InputError(source, "", "there is no such file", "check the name and the folder") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "the name is not valid"
        raise InputError(source, "", f"cannot be read ({reason.lower()})", "check the file and its permissions") from None
    if not data.strip(b"\0 \t\r\n"):
        raise InputError(source, "", "the file is empty", "give a course file")
    return data
