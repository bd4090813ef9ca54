"""Tables of text that people and spreadsheets write: decoding, rows, cells, comments, and what a spreadsheet leaves in a cell."""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator

from sim.errors import InputError
from sim.files.text import number_from

PLAIN_NUMBER = "write a plain number, such as 12.5"
SHOWN_LINES = 3  # of blank rows that a note names
# What a spreadsheet writes into a cell that it could not work out: #DIV/0!, #REF!, #WERT!, #NAME?, #N/A, #NV.
_FAULT = re.compile(r"#(?:N/[AD]|NA|NV|GETTING_DATA|[A-ZÀ-Þ]+(?:/0)?[!?])")
_TOO_NARROW = re.compile(r"##+")  # or could not show in a column so narrow
_MEND = "mend the formula or widen the column in the spreadsheet, or delete the row"


def text_of(data: bytes, source: str) -> str:
    """The text of a file that is meant to be a table.

    data : its bytes; source : file named in an error
    Returns it with plain line ends.  Raises InputError where the bytes are no text in UTF-8 or UTF-16.
    """
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


def shown_cell(text: str) -> str:
    """A cell for a message, printable and short.  text : the cell."""
    short = text if len(text) <= 30 else text[:27] + "..."
    return '"' + "".join(letter if letter.isprintable() else "?" for letter in short) + '"'


def cells_of(line: str, delimiter: str) -> list[str]:
    """The cells of a line, without blanks and quotes around them.  line : of the file; delimiter : between its cells."""
    return [cell.strip().strip('"').strip() for cell in line.split(delimiter)]


def delimiter_of(header: str) -> str:
    """What stands between the cells of a table: a tab, a semicolon or a comma.  header : its line of names."""
    return next((mark for mark in ("\t", ";") if mark in header), ",")


def is_comment(line: str, place: str, source: str) -> bool:
    """Whether a line is a comment: its first sign that is no blank is #.

    line : of the file; place : for instance "line 12"; source : file named in an error
    Raises InputError where that sign begins a spreadsheet's error value, for the row would be lost without a word.
    """
    bare = line.strip()
    if not bare.startswith("#"):
        return False
    first, *rest = (cell.strip() for cell in re.split(r"[,;\t]", bare))
    # A line of nothing but # is an ornament; with other cells beside it, a column that was too narrow.
    if _FAULT.fullmatch(first) or (_TOO_NARROW.fullmatch(first) and any(rest)):
        problem = f"{shown_cell(first)} is a spreadsheet's error, not a comment"
        raise InputError(source, place, problem, f"{_MEND}; a comment needs a blank after its #")
    return True


def rows_of(lines: list[str], header: int, delimiter: str, source: str, blanks: list[int]) -> Iterator[tuple[int, list[str]]]:
    """The rows below a table's header, without comments and without rows that hold nothing.

    lines : of the file; header : index of the line with the names; delimiter : between cells
    source : file named in an error
    blanks : written: line numbers of the rows without anything in them that have others below
    Gives (line number, cells) of each row.  Raises InputError as `is_comment`.
    """
    waiting: list[int] = []
    for number, line in enumerate(lines[header + 1 :], start=header + 2):
        if is_comment(line, f"line {number}", source):
            continue
        cells = cells_of(line, delimiter)
        if not any(cells):
            waiting.append(number)
            continue
        blanks += waiting
        waiting = []
        yield number, cells


def refuse_extra_cells(cells: list[str], names: list[str], delimiter: str, place: str, source: str) -> None:
    """Refuse a row with something in it beyond the columns that have names.

    cells : of the row; names : of the columns; delimiter : between cells; place : for instance "line 12"; source : file
    Raises InputError.
    """
    if len(cells) > len(names) and any(cells[len(names) :]):
        remedy = "keep one cell a column" + ("; a decimal comma needs semicolons between the cells" if delimiter == "," else "")
        raise InputError(source, place, f"has {len(cells)} cells where the header names {len(names)}", remedy)


def cell_number(cell: str, column: str, delimiter: str, place: str, source: str, remedy: str = PLAIN_NUMBER) -> float:
    """The number in a cell; a decimal comma may stand where commas do not part the cells.

    cell : without blanks around it; column : its name; delimiter : between cells; place, source : for the error; remedy : for a cell
    that holds no number
    Returns the number [the column's unit].  Raises InputError where the cell holds none.
    """
    value = number_from(cell.replace(",", ".") if delimiter != "," and "." not in cell else cell)
    if value is not None:
        return value
    if _FAULT.fullmatch(cell) or _TOO_NARROW.fullmatch(cell):
        raise InputError(source, place, f"{shown_cell(cell)} in column {column} is a spreadsheet's error, not a number", _MEND)
    problem = f"{shown_cell(cell)} in column {column} is not a number" if cell else f"column {column} is empty"
    raise InputError(source, place, problem, remedy)


def blank_note(blanks: list[int]) -> tuple[str, ...]:
    """What is said of blank rows inside the data.

    blanks : their line numbers
    Returns no or one sentence.
    """
    if not blanks:
        return ()
    named = ", ".join(str(number) for number in blanks[:SHOWN_LINES])
    more = f" and {len(blanks) - SHOWN_LINES} more" if len(blanks) > SHOWN_LINES else ""
    if len(blanks) == 1:
        return (f"A blank row inside the data was passed over (line {named}).",)
    return (f"{len(blanks)} blank rows inside the data were passed over (lines {named}{more}).",)
