"""The points that a file holds, before a line is laid through them."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from sim.errors import InputError

LARGEST_FILE = 20_000_000  # [bytes]; MOST_POINTS of a talkative recorder
MOST_POINTS = 50_000  # a point every two metres on the longest course
LARGEST_COORDINATE = 1e8  # [m]; map grids stay below, and doubles still resolve 1e-8 m there
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)


@dataclass(frozen=True)
class PointList:
    """Points in driving order, in metres.

    source : file name, for messages
    x, y : shape (n,) [m]
    height : NaN where unknown, or None where the file has none, shape (n,) [m]
    left_width, right_width : centreline to edge, or None, shape (n,) [m]
    number : line of the file, or number of the point, shape (n,)
    number_word : "line" or "point": what the numbers count
    line_tolerance : how far the points are taken to lie off the true line, unless the user says otherwise [m]
    notes : plain sentences
    """

    source: str
    x: np.ndarray
    y: np.ndarray
    height: np.ndarray | None
    left_width: np.ndarray | None
    right_width: np.ndarray | None
    number: np.ndarray
    number_word: str
    line_tolerance: float
    notes: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.x)

    @property
    def xy(self) -> np.ndarray:
        """x and y side by side, shape (n, 2) [m]."""
        return np.column_stack((self.x, self.y))

    def place(self, index: int) -> str:
        """Where a point stands in the file.

        index : of the point in this list
        Returns for instance "line 12".
        """
        return f"{self.number_word} {self.number[index]}"

    def taken(self, index: np.ndarray) -> PointList:
        """Some of the points.

        index : which, in order: integers or a mask of shape (n,) [-]
        Returns a list of these points only.
        """
        return replace(
            self,
            x=self.x[index],
            y=self.y[index],
            height=None if self.height is None else self.height[index],
            left_width=None if self.left_width is None else self.left_width[index],
            right_width=None if self.right_width is None else self.right_width[index],
            number=self.number[index],
        )

    def scaled(self, scale: float) -> PointList:
        """The same course at another size.

        scale : factor on x, y, height, widths and tolerance [-]
        Returns the scaled list.
        """
        return replace(
            self,
            x=self.x * scale,
            y=self.y * scale,
            height=None if self.height is None else self.height * scale,
            left_width=None if self.left_width is None else self.left_width * scale,
            right_width=None if self.right_width is None else self.right_width * scale,
            line_tolerance=self.line_tolerance * scale,
        )

    def noted(self, *notes: str) -> PointList:
        """The same points with sentences added.

        notes : plain sentences
        Returns the list with these notes after its own.
        """
        return replace(self, notes=self.notes + notes)


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
