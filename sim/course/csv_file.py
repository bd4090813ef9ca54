"""Course points from a table of text: comma, semicolon or tab between the cells."""

from __future__ import annotations

from difflib import get_close_matches
from pathlib import Path

import numpy as np

from sim.course.points import LARGEST_COORDINATE, PointList
from sim.errors import InputError
from sim.files.columns import blank_note, cell_number, cells_of, delimiter_of, is_comment, refuse_extra_cells, rows_of, shown_cell, text_of
from sim.files.text import bytes_of, refuse_too_many

LINE_TOLERANCE = 0.05  # [m]; a line drawn or surveyed for a course: rounding and digitising, no satellite noise
WIDEST_COURSE = 1000.0  # [m] from the centreline to an edge
# our own names, and those of the header comment in which open circuit data is published
MEANINGS = {
    "x_m": "x", "y_m": "y", "z_m": "height", "left_m": "left_width", "right_m": "right_width",
    "w_tr_left_m": "left_width", "w_tr_right_m": "right_width",
}  # fmt: skip
_COLUMNS_REMEDY = "name the columns x_m and y_m in the first line (z_m, left_m and right_m are optional)"


def _header(lines: list[str], source: str) -> tuple[int, str, list[str]]:
    """Index of the header line, the delimiter, the column names."""
    for index, line in enumerate(lines):
        bare = line.strip()
        names = [name.lower() for name in cells_of(bare.lstrip("#"), delimiter_of(bare))]
        if not bare or is_comment(bare, f"line {index + 1}", source):
            if "x_m" in names and "y_m" in names:
                return index, delimiter_of(bare), names
            continue
        for needed in ("x_m", "y_m"):
            if needed not in names:
                near = get_close_matches(needed, [name for name in names if name not in MEANINGS], n=1, cutoff=0.4)
                meant = f" (is {shown_cell(near[0])} meant?)" if near else ""
                raise InputError(source, f"line {index + 1}", f"there is no column {needed}{meant}", _COLUMNS_REMEDY)
        return index, delimiter_of(bare), names
    raise InputError(source, "", "there is no line with column names", _COLUMNS_REMEDY)


def _number(cell: str, column: str, place: str, delimiter: str, source: str) -> float:
    value = cell_number(cell, column, delimiter, place, source, "write a plain number in metres, such as 12.5")
    if abs(value) > LARGEST_COORDINATE:
        raise InputError(source, place, f"{shown_cell(cell)} in column {column} is absurdly large", "give it in metres")
    return value


def read_points(path: Path) -> PointList:
    """Read the points of a CSV, TSV or text table.

    path : of the file
    Returns the points, as they stand in the file.
    Raises InputError where the file is not such a table.

    Columns by name: x_m, y_m, and optionally z_m, left_m, right_m; or a header comment with x_m, y_m, w_tr_right_m,
    w_tr_left_m. Cells between commas, semicolons or tabs; with the latter two a decimal comma may stand. UTF-8, or
    UTF-16 with its byte order mark. Lines that begin with # are comments; blank rows are passed over and said.
    """
    source = str(path)
    lines = text_of(bytes_of(path), source).split("\n")
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
    numbers: list[int] = []
    blanks: list[int] = []
    for number, cells in rows_of(lines, header, delimiter, source, blanks):
        place = f"line {number}"
        refuse_extra_cells(cells, names, delimiter, place, source)
        for meaning, index in columns.items():
            if index >= len(cells):
                raise InputError(source, place, f"column {names[index]} is missing", "complete the line or delete it")
            empty_height = meaning == "height" and not cells[index]
            value = float("nan") if empty_height else _number(cells[index], names[index], place, delimiter, source)
            if meaning.endswith("width") and not 0.0 <= value <= WIDEST_COURSE:
                raise InputError(
                    source, place, f"{shown_cell(cells[index])} in column {names[index]} is no width",
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
        notes=(*(f"Column {shown_cell(name)} is not used." for name in ignored), *blank_note(blanks)),
    )  # fmt: skip
