"""A file's bytes and its numbers, read strictly."""

from __future__ import annotations

import os
import re
import stat
from pathlib import Path

from sim.errors import InputError

LARGEST_FILE = 20_000_000  # [bytes]; MOST_POINTS of a talkative recorder
MOST_POINTS = 50_000  # a point every two metres on the longest course
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)
_WITH_COMMA = re.compile(r"[+-]?\d{1,20}(,\d{1,20})+([eE][+-]?\d{1,3})?", re.ASCII)
_IN_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}(,\d{3})+", re.ASCII)


def number_from(text: str) -> float | None:
    """Read one number strictly: digits with a decimal point and perhaps an exponent, nothing else.

    text : the cell, without blanks around it [any unit]
    Returns the number, or None where the text is no finite number.
    """
    return float(text) if _NUMBER.fullmatch(text) and abs(float(text)) < 1e300 else None


def comma_slip(text: str) -> tuple[str, str] | None:
    """What is wrong with a number that is written with a comma where only a point will do.

    text : of one number, blanks around it or not [any unit]
    Returns (what is wrong, what to do); None where it is not such a number.
    """
    number = text.strip()
    if not _WITH_COMMA.fullmatch(number):
        return None
    grouped = number.replace(",", "") if _IN_THOUSANDS.fullmatch(number) else ""
    pointed = number.replace(",", ".") if number.count(",") == 1 else ""
    meant = " or ".join(one for one in (pointed, grouped) if one)
    return f"'{number}' has a comma", f"write {meant or 'decimals with a point'}"


def refuse_too_many(number: int, source: str) -> None:
    """Refuse a file with more points than a course has.

    number : points so far [-]
    source : file named in the error
    Raises InputError above MOST_POINTS.
    """
    if number > MOST_POINTS:
        raise InputError(source, "", f"holds more than {MOST_POINTS} points", "give one lap of the course, or thin the points out")


class TooLargeError(OSError):
    """A file that is larger than it may be.  size : of it, or what was read [bytes]."""

    def __init__(self, size: int):
        super().__init__(None, f"it is {size / 1e6:.3g} MB large")
        self.size = size


def plain_bytes(path: Path, most: int) -> bytes:
    """The bytes of a plain file: never of a pipe, a device or a folder, which could keep a reader waiting for ever or never end.

    path : of the file; links are followed; most : that it may hold [bytes]
    Raises TooLargeError, and OSError for everything else, with the reason in its strerror; ValueError for a name that no system takes.
    """
    # Without O_NONBLOCK the very opening of a pipe waits for who writes it; a plain file does not heed it.
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOCTTY", 0) | getattr(os, "O_BINARY", 0))
    with open(handle, "rb") as stream:
        status = os.fstat(handle)
        if not stat.S_ISREG(status.st_mode):
            raise OSError(None, "it is not a plain file")
        if status.st_size > most:
            raise TooLargeError(status.st_size)
        data = stream.read(most + 1)  # it may grow while it is read
    if data is None:  # a file of the system's own that has nothing to give yet
        raise OSError(None, "it does not tell what it holds")
    if len(data) > most:
        raise TooLargeError(len(data))
    return data


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
        if path.exists() and not path.is_file():
            raise InputError(source, "", "is not a plain file", "give a course file")
        data = plain_bytes(path, LARGEST_FILE)
    except InputError:
        raise
    except TooLargeError as error:
        raise InputError(source, "", f"is {error.size / 1e6:.0f} MB large", "give the course alone, one lap of it") from None
    except (FileNotFoundError, NotADirectoryError):
        raise InputError(source, "", "there is no such file", "check the name and the folder") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "the name is not valid"
        raise InputError(source, "", f"cannot be read ({reason.lower()})", "check the file and its permissions") from None
    if not data.strip(b"\0 \t\r\n"):
        raise InputError(source, "", "the file is empty", "give a course file")
    return data
