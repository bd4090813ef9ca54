"""Pairs of wheel angles measured on the bench: reading the table, and refusing what cannot be meant."""

from dataclasses import dataclass
from difflib import get_close_matches
from math import nan, radians
from pathlib import Path

import numpy as np

from sim.errors import InputError
from sim.files.columns import blank_note, cell_number, cells_of, delimiter_of, is_comment, refuse_extra_cells, rows_of, shown_cell, text_of
from sim.linkages.front_end import MOST_HAND_DEG
from sim.steering.arrangement import Steering
from sim.steering.table import hand_where

COLUMNS = ("left_deg", "right_deg", "hand_deg", "reading_error_deg")
LARGEST_FILE = 1_000_000  # [bytes]; thousands of pairs, more than anybody reads off a floor
LARGEST_ANGLE_DEG = 80.0  # a wheel that stands further across is a slip of the pen
SMALLEST_ERROR_DEG, LARGEST_ERROR_DEG = 0.001, 10.0
# Taken where the table states none: a printed protractor is read to about half a degree.  Judgement, no source.
USUAL_ERROR = radians(0.5)
# No slip in rods and arms that leaves a car drivable takes a wheel further beyond its planned lock.  Judgement. [rad]
BEYOND_LOCK = radians(8)
OPPOSED = radians(20)  # wheels that point apart or together by more are a wrong sign, not toe [rad]
FEWEST_TO_JUDGE = 4  # pairs from which a wrong sign can be told from a slip in one of them
# Swapped columns turn the planned difference of the wheels round.  The readings are taken for swapped where they lie this
# much nearer to the turned difference; wheels that turn alike lie equally near to both. [-]
NEARER = 0.6
SEEN = 0.4  # share of the planned difference from which a reading counts as agreeing with it, or with its opposite [-]
CLEAR = radians(2)  # a planned difference between the wheels beyond which its sign can be seen through usual toe [rad]
_NAME_THEM = "name the columns left_deg and right_deg in the first line (hand_deg and reading_error_deg are optional)"
_UNIT = "give degrees, positive to the left"


@dataclass(frozen=True, eq=False)
class Readings:
    """What was read on the bench, as it stands in the table; each array (n,).

    source : the file, for messages
    left, right : wheel angles, left positive [rad]
    hand : hand angles, nan where none was read [rad]
    error : reading error (one standard deviation) of each angle in the row [rad]
    error_stated : whether the table states the reading errors
    line : of the file
    notes : plain sentences
    """

    source: str
    left: np.ndarray
    right: np.ndarray
    hand: np.ndarray
    error: np.ndarray
    error_stated: bool
    line: np.ndarray
    notes: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.left)

    def place(self, index: int) -> str:
        """Where a pair stands in the file.

        index : of the pair
        Returns for instance "line 12".
        """
        return f"line {self.line[index]}"


def read_readings(path: Path, source: str) -> Readings:
    """Read a table of wheel angles.

    path : of the file
    source : its name in messages
    Returns Readings.  Raises InputError with the file, the line, what is wrong and what to do.

    Columns by name: left_deg, right_deg, and optionally hand_deg and reading_error_deg, whose cells may be empty.  Cells
    stand between commas, semicolons or tabs; with the latter two a decimal comma may stand.  Lines that begin with # are
    comments; blank rows are passed over and said.
    """
    # Not splitlines(), which also breaks at form feeds and the like, where an editor counts no new line.
    lines = _text(path, source).split("\n")
    head = next((number for number, line in enumerate(lines, start=1)
                 if line.strip(" \t;,") and not is_comment(line, f"line {number}", source)), None)  # fmt: skip
    if head is None:
        raise InputError(source, "", "the file holds no readings", _NAME_THEM)
    mark = delimiter_of(lines[head - 1])
    names = [name.lower() for name in cells_of(lines[head - 1], mark)]
    _check_names(names, source, head)
    blanks: list[int] = []
    rows = list(rows_of(lines, head - 1, mark, source, blanks))
    if not rows:
        raise InputError(source, f"line {head}", "no readings follow the column names", "write one pair of angles a line, below them")
    table = {column: np.full(len(rows), nan) for column in COLUMNS}
    for index, (number, cells) in enumerate(rows):
        place = f"line {number}"
        refuse_extra_cells(cells, names, mark, place, source)
        for column, cell in zip(names, [*cells, *[""] * len(names)], strict=False):
            if column in table:
                table[column][index] = _value(cell, column, mark, source, place)
    stated = np.isfinite(table["reading_error_deg"])
    ignored = [name for name in names if name and name not in COLUMNS]
    return Readings(
        source=source, left=np.radians(table["left_deg"]), right=np.radians(table["right_deg"]), hand=np.radians(table["hand_deg"]),
        error=np.where(stated, np.radians(table["reading_error_deg"]), USUAL_ERROR), error_stated=bool(stated.all()),
        line=np.array([number for number, _ in rows]),
        notes=(*(f"Column {shown_cell(name)} is not used." for name in ignored), *blank_note(blanks)),
    )  # fmt: skip


def _text(path: Path, source: str) -> str:
    try:
        if path.is_dir():
            raise InputError(source, "", "is a folder", "name the table of readings inside it")
        if path.stat().st_size > LARGEST_FILE:
            raise InputError(source, "", "the file is far too large for bench readings", "name a CSV with one pair of angles a line")
        text = text_of(path.read_bytes(), source)
    except InputError:
        raise
    except FileNotFoundError:
        raise InputError(source, "", "there is no such file", "check the name and the folder") from None
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or "the name is not valid"
        raise InputError(source, "", f"the file can't be read ({reason})", "check its name and its rights") from None
    if not text.strip():
        raise InputError(source, "", "the file is empty", _NAME_THEM)
    return text


def _check_names(names: list[str], source: str, head: int) -> None:
    for needed in COLUMNS[:2]:
        if needed not in names:
            near = get_close_matches(needed, [name for name in names if name and name not in COLUMNS], n=1)
            meant = f" (is {shown_cell(near[0])} meant?)" if near else ""
            raise InputError(source, f"line {head}", f"there is no column {needed}{meant}", _NAME_THEM)
    for column in COLUMNS:
        if names.count(column) > 1:
            raise InputError(source, f"line {head}", f"column {column} stands twice", "keep one of them")


def _value(cell: str, column: str, mark: str, source: str, place: str) -> float:
    """One cell in the unit that its column names."""
    if not cell:
        if column in COLUMNS[2:]:
            return nan
        raise InputError(source, place, f"there is no {column}", "complete the pair or delete the line")
    value = cell_number(cell, column, mark, place, source)
    if column == "reading_error_deg":
        if not SMALLEST_ERROR_DEG <= value <= LARGEST_ERROR_DEG:
            problem = f"a reading error of {value:g} degrees is not between {SMALLEST_ERROR_DEG:g} and {LARGEST_ERROR_DEG:g}"
            raise InputError(source, place, problem, "half a degree is usual for a printed protractor")
        return value
    most = MOST_HAND_DEG if column == "hand_deg" else LARGEST_ANGLE_DEG
    if abs(value) > most:
        raise InputError(source, place, f"{value:g} in column {column} is more than {most:g} degrees", _UNIT)
    return value


def check_against_plan(readings: Readings, steering: Steering) -> None:
    """Refuse readings that no slip in rods and arms explains: opposed wheels, angles beyond the lock, a wrong sign.

    readings : Readings
    steering : of the planned set-up
    Raises InputError with the line.
    """
    left, right = readings.left, readings.right
    _check_signs(readings, steering)
    ends = steering.front_wheels(np.array([steering.lock_right, steering.lock_left])).steer
    apart = (left * right < 0) & (np.abs(left - right) > OPPOSED)
    beyond = {side: (angle < low - BEYOND_LOCK) | (angle > high + BEYOND_LOCK)
              for side, angle, low, high in (("left", left, *ends[:, 0]), ("right", right, *ends[:, 1]))}  # fmt: skip
    for index in range(len(readings)):
        pair = f"{np.degrees(left[index]):g} and {np.degrees(right[index]):g} degrees"
        if apart[index]:
            problem = f"the wheels point to opposite sides ({pair})"
            raise InputError(readings.source, readings.place(index), problem, "angles are positive to the left for both wheels")
        for side, (low, high) in zip(beyond, np.degrees(ends.T), strict=True):
            if beyond[side][index]:
                problem = f"the {side} wheel cannot stand so ({pair}): as planned its locks are at {low:.1f} and {high:.1f} degrees"
                raise InputError(readings.source, readings.place(index), problem, "check the reading, the sign and the set-up's name")


def _check_signs(readings: Readings, steering: Steering) -> None:
    mean, difference = (readings.left + readings.right) / 2, readings.left - readings.right
    planned = difference_at(steering, mean)
    known = np.isfinite(planned)
    if known.sum() < FEWEST_TO_JUDGE:
        return
    one_sign = bool(np.all(mean > 0) or np.all(mean < 0))
    clear = known & (np.abs(planned) > CLEAR + 3 * readings.error)
    along = np.where(known, difference * np.sign(planned), 0.0)  # above 0 where the readings differ as planned
    agrees, opposes = clear & (along > SEEN * np.abs(planned)), clear & (along < -SEEN * np.abs(planned))
    if one_sign and agrees.sum() >= 2 and opposes.sum() >= 2:
        word = "positive" if mean[0] > 0 else "negative"
        raise InputError(
            readings.source, readings.place(int(np.argmax(opposes))),
            f"here one wheel turns more, elsewhere the other, but all readings are {word}",
            "enter left turns as positive and right turns as negative angles",
        )  # fmt: skip

    def misfit(turned: float) -> float:
        left_over = (difference - turned * planned)[known]
        return float(np.abs(left_over - np.median(left_over)).sum())

    usual = float(readings.error.mean())
    if misfit(-1.0) < NEARER * misfit(1.0) and misfit(1.0) - misfit(-1.0) > usual * known.sum():
        worst = int(np.argmax(np.where(known, np.abs(planned), -1.0)))
        # Left less right is inner less outer in size in both turns.
        more, less = ("more", "less") if planned[worst] > 0 else ("less", "more")
        raise InputError(
            readings.source, readings.place(worst),
            f"the inner wheel turns {less} than the outer here and in the other turns, where the plan says {more}",
            "are the columns swapped, or right turns entered as positive? if neither, the arms are kinked the wrong way",
        )  # fmt: skip


def difference_at(steering: Steering, mean: np.ndarray) -> np.ndarray:
    """How much further left the left wheel stands than the right one.

    steering : Steering
    mean : (n,) mean angle of both wheels [rad]
    Returns (n,) left less right [rad]; nan beyond the locks.
    """
    hand = hand_where(steering, lambda wheels: wheels.steer.mean(axis=1), mean)
    known = np.isfinite(hand)
    planned = np.full(len(mean), nan)
    steer = steering.front_wheels(hand[known]).steer
    planned[known] = steer[:, 0] - steer[:, 1]
    return planned
