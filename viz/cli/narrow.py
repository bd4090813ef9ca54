"""Tables in a terminal that is too narrow for them: lines break between words, and columns that find no room stand in a table below."""

from collections.abc import Sequence
from typing import Any, NamedTuple

from rich.cells import cell_len
from rich.table import Table

NAME_WIDTH = 12  # columns that are left for a name; narrower ones are hard to read
LONGEST_SHARE = 2 / 3  # of the terminal, that one word may take before it is broken


class Need(NamedTuple):
    """Columns of the terminal that a table's column takes.

    whole : without a broken line; name : with lines broken, but of NAME_WIDTH at least; word : of its longest word
    """

    whole: int
    name: int
    word: int


def least_width(table: Table) -> int:
    """Columns of the terminal that a table needs: its figures, and names broken to several lines unless a column's width is set."""
    widths = [column.width or _need(column, NAME_WIDTH).name for column in table.columns]
    return sum(widths) + _between(table) * (len(widths) - 1)


def fitted(table: Table, width: int) -> list[Table]:
    """A table as a terminal can show it: as it is, or else in parts that each begin with its first column.

    table : plain, without lines; width : of the terminal
    """
    if table.box is not None or not table.show_header:
        return [table]
    needs, between = [_need(column, int(LONGEST_SHARE * width)) for column in table.columns], _between(table)
    if sum(need.whole for need in needs) + between * (len(needs) - 1) <= width:
        return [table]
    roomy, tight = (_split([getattr(need, name) for need in needs], between, width) for name in ("name", "word"))
    least = "word" if len(tight) < len(roomy) else "name"
    parts = tight if least == "word" else roomy
    return [_part(table, part, [needs[place] for place in part], least, width) for part in parts]


def _between(table: Table) -> int:
    return table.padding[1]


def _need(column: Any, longest: int) -> Need:
    """What a column takes.  longest : that a word may be before it is broken."""
    lines = [line for cell in (column.header, *column.cells) for line in str(cell).splitlines()]
    whole = max(map(cell_len, lines), default=0)
    if column.no_wrap:
        return Need(whole, whole, whole)
    word = min(max((cell_len(word) for line in lines for word in line.split()), default=0), max(longest, 1))
    return Need(whole, max(word, min(whole, NAME_WIDTH)), word)


def _split(widths: Sequence[int], between: int, width: int) -> list[list[int]]:
    """Places of a table's columns in parts that fit, the first in each; one that finds no room even so stands there all the same."""
    parts = [[0]]
    for place in range(1, len(widths)):
        taken = sum(widths[one] + between for one in parts[-1]) + widths[place]
        if taken > width and len(parts[-1]) > 1:
            parts.append([0])
        parts[-1].append(place)
    return parts


def _part(table: Table, places: Sequence[int], needs: Sequence[Need], least: str, width: int) -> Table:
    """Some columns of a table, those that may be broken as wide as there is room for."""
    part = Table(
        box=None, pad_edge=table.pad_edge, header_style=table.header_style, collapse_padding=table.collapse_padding, padding=table.padding
    )
    widths = [getattr(need, least) for need in needs]
    room = width - sum(widths) - _between(table) * (len(widths) - 1)
    for place, need, taken in zip(places, needs, widths, strict=True):
        more = max(min(need.whole - taken, room), 0)
        room -= more
        column = table.columns[place]
        part.add_column(
            column.header, justify=column.justify, no_wrap=column.no_wrap, overflow=column.overflow, width=taken + more
        )  # fmt: skip
    for row in zip(*(table.columns[place].cells for place in places), strict=True):
        part.add_row(*row)
    return part
