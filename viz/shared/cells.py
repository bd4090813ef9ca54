"""Tables of text for spreadsheets, in which no cell is taken for a formula."""

import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

_FORMULA = re.compile(r"\s*[=+\-@＝＋－＠\t\r]")  # what makes a cell a formula for some spreadsheet; the wide signs do in Japanese ones
_QUOTED = re.compile(r'[,;|"\t\r\n]')  # beside the comma what other countries' spreadsheets part cells at


def cell(value: Any) -> str:
    """A cell as it stands in a file: a number plain, None empty, a text that looks like a formula with a ' before it.  value : to write."""
    if not isinstance(value, str):
        return "" if value is None else str(value)
    text = f"'{value}" if _FORMULA.match(value) else value
    return '"' + text.replace('"', '""') + '"' if _QUOTED.search(text) else text


def write_rows(path: Path, columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    """Write a table.  path : to write; columns : its header; rows : a cell for each column.  Raises OSError."""
    with open(path, "w", encoding="utf-8", newline="") as stream:
        for row in (columns, *rows):
            stream.write(",".join(map(cell, row)) + "\n")
