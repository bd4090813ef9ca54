"""Course points from a table of text: comma, semicolon or tab between the cells."""

from __future__ import annotations

import codecs
from difflib import get_close_matches
from pathlib import Path

import numpy as np

from sim.course.points import LARGEST_COORDINATE, PointList, bytes_of, number_from, refuse_too_many
from sim.errors import InputError

LINE_TOLERANCE = 0.05  # [m]; a line drawn or surveyed for a course: rounding and digitising, no satellite noise
WIDEST_COURSE = 1000.0  # [m] from the centreline to an edge
# our own names, and those of the header comment in which open circuit data is published
MEANINGS = {
    "x_m": "x", "y_m": "y", "z_m": "height", "left_m": "left_width", "right_m": "right_width",
    "w_tr_left_m": "left_width", "w_tr_right_m": "right_width",
}  # fmt: skip
_COLUMNS_REMEDY = "name the columns x_m and y_m in the first line (z_m, left_m and right_m are optional)"


def _text(data: bytes, source: str) -> str:
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encoding, shown = "utf-16", "UTF-16"
    else:
        encoding, shown = "utf-8-sig", "UTF-8"
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise InputError(source, f"line {line}", f"is not {shown} text", "save the file as CSV in UTF-8") from None
    if "\0" in text:
        line = text[: text.index("\0")].count("\n") + 1
        raise InputError(source, f"line {line}", "holds a zero byte, so this is not plain text", "save the file as CSV in UTF-8")
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _shown(text: str) -> str:
    """A cell for a message: printable and short."""
    short = text if len(text) <= 30 else text[:27] + "..."
    return '"' + "".join(letter if letter.isprintable() else "?" for letter in short) + '"'


def _split(line: str, delimiter: str) -> list[str]:
    return [cell.strip().strip('"').strip() for cell in line.split(delimiter)]


def _delimiter(header: str) -> str:
    return next((mark for mark in ("\t", ";") if mark in header), ",")


def _header(lines: list[str], source: str) -> tuple[int, str, list[str]]:
    """Index of the header line, the delimiter, the column names."""
    for index, line in enumerate(lines):
        bare = line.strip()
        names = [name.lower() for name in _split(bare.lstrip("#"), _delimiter(bare))]
        if bare.startswith("#") or not bare:
            if "x_m" in names and "y_m" in names:
                return index, _delimiter(bare), names
            continue
        for needed in ("x_m", "y_m"):
            if needed not in names:
                near = get_close_matches(needed, [name for name in names if name not in MEANINGS], n=1, cutoff=0.4)
                meant = f" (is {_shown(near[0])} meant?)" if near else ""
                raise InputError(source, f"line {index + 1}", f"there is no column {needed}{meant}", _COLUMNS_REMEDY)
        return index, _delimiter(bare), names
    raise InputError(source, "", "there is no line with column names", _COLUMNS_REMEDY)


def _number(cell: str, column: str, place: str, delimiter: str, source: str) -> float:
    text = cell.replace(",", ".") if delimiter != "," and "." not in cell else cell
    value = number_from(text)
    if value is None:
        problem = f"column {column} is empty" if not cell else f"{_shown(cell)} in column {column} is not a number"
        raise InputError(source, place, problem, "write a plain number in metres, such as 12.5")
    if abs(value) > LARGEST_COORDINATE:
        raise InputError(source, place, f"{_shown(cell)} in column {column} is absurdly large", "give it in metres")
    return value


def read_points(path: Path) -> PointList:
    """Read the points of a CSV, TSV or text table.

    path : of the file
    Returns the points, as they stand in the file.
    Raises InputError where the file is not such a table.

    Columns by name: x_m, y_m, and optionally z_m, left_m, right_m; or a header comment with x_m, y_m, w_tr_right_m,
    w_tr_left_m. Cells between commas, semicolons or tabs; with the latter two a decimal comma may stand. UTF-8, or
    UTF-16 with its byte order mark. Lines that begin with # are comments; empty lines are passed over.
    """
    source = str(path)
    lines = _text(bytes_of(path), source).split("\n")
    header, delimiter, names = _header(lines, source)
    columns: dict[str, int] = {}
    for index, name in enumerate(names):
        if name in MEANINGS:
            if MEANINGS[name] in columns:
                raise InputError(source, f"line {header + 1}", f"column {name} stands twice", "keep one of them")
            columns[MEANINGS[name]] = index
    if ("left_width" in columns) != ("right_width" in columns):
        raise InputError(source, f"line {header + 1}", "only one of the two widths is given", "give left_m and right_m, or neither")

    values: dict[str, list[float]] = {meaning: [] for meaning in columns}
    numbers = []
    for number, line in enumerate(lines[header + 1 :], start=header + 2):
        if line.lstrip().startswith("#"):
            continue
        cells = _split(line, delimiter)
        if not any(cells):
            continue
        place = f"line {number}"
        if len(cells) > len(names) and any(cells[len(names) :]):
            remedy = "keep one cell a column" + ("; a decimal comma needs semicolons between the cells" if delimiter == "," else "")
            raise InputError(source, place, f"has {len(cells)} cells where the header names {len(names)}", remedy)
        for meaning, index in columns.items():
            if index >= len(cells):
                raise InputError(source, place, f"column {names[index]} is missing", "complete the line or delete it")
            empty_height = meaning == "height" and not cells[index]
            value = float("nan") if empty_height else _number(cells[index], names[index], place, delimiter, source)
            if meaning.endswith("width") and not 0.0 <= value <= WIDEST_COURSE:
                raise InputError(
                    source, place, f"{_shown(cells[index])} in column {names[index]} is no width",
                    f"write the distance from the centreline to the edge, 0 to {WIDEST_COURSE:g} m",
                )  # fmt: skip
            values[meaning].append(value)
        numbers.append(number)
        refuse_too_many(len(numbers), source)

    ignored = [name for name in names if name and name not in MEANINGS]
    arrays = {meaning: np.array(column) for meaning, column in values.items()}
    return PointList(
        source=source, x=arrays["x"], y=arrays["y"], height=arrays.get("height"),
        left_width=arrays.get("left_width"), right_width=arrays.get("right_width"),
        number=np.array(numbers, dtype=int), number_word="line", line_tolerance=LINE_TOLERANCE,
        notes=tuple(f"Column {_shown(name)} is not used." for name in ignored),
    )  # fmt: skip
