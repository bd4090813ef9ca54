"""The plain form of what a command prints: finding, table, what to do, one line of doubt, where the rest is; it fits one screen."""

import io
from collections.abc import Sequence
from typing import Any, NamedTuple

from rich.table import Table
from rich.text import Text

from viz.shared.words import plain_table

MOST_LINES = 30  # of a plain form in a terminal of WIDTH columns; what leaves room on a usual screen for the command itself
WIDTH = 80
TO_DO = "What to do: "  # how the sentence begins that a report ends with
FEWEST_ROWS = 4  # of a table, which warnings leave it at least


class Rows(NamedTuple):
    """A table that can be shortened.

    columns : headings with their justification; rows : their cells, the most telling first; where : what shows all of them
    gap : blanks between columns
    """

    columns: Sequence[tuple[str, str]]
    rows: Sequence[Sequence[str]]
    where: str = "--explain"
    gap: int = 2

    def table(self, count: int) -> Table:
        """The first rows as a table.  count : how many."""
        table = plain_table(*self.columns)
        table.padding = (0, self.gap, 0, 0)
        for row in self.rows[:count]:
            table.add_row(*map(Text, row))
        return table


def height(renderable: Any) -> int:
    """Lines that something takes in a terminal of WIDTH columns."""
    from rich.console import Console

    text = io.StringIO()
    Console(file=text, width=WIDTH, highlight=False, markup=False, emoji=False).print(renderable)
    return text.getvalue().count("\n")


def brief(
    title: str, finding: Sequence[str], warnings: Sequence[str], rows: Rows | None, advice: Sequence[str], rest: str,
    written: Sequence[str] = (), below: bool = False, danger: tuple[str, str] | None = None,
) -> list[Any]:  # fmt: skip
    """A plain report of at most MOST_LINES lines.

    title : of the scenario, left out where it is empty; finding, advice : sentences that are always shown, the doubt being the last of the
    advice but for what to do next, which ends the report; warnings : those that there is room for, the gravest first
    rows : the table, shortened where it has to be
    rest : what --explain adds, in words; written : a line for each file
    below : the warnings stand below the table; danger : what may hurt somebody, in full and in short, which is never left out
    """
    head = [*([Text(title, style="bold")] if title else []), *map(Text, finding)]
    foot = [*(Text(one) for one in advice if not one.startswith(TO_DO)), Text(f"More: {rest}: add --explain.")]
    foot += [Text(f"Written to {one}") for one in written]
    foot += [Text(one) for one in advice if one.startswith(TO_DO)]
    rows = rows if rows is not None and rows.rows else None
    shown: list[Any] = list(map(Text, warnings))
    if danger is not None:
        shown.insert(0, Text(danger[0]))
    table = [] if rows is None else [rows.table(len(rows.rows)), Text("")]
    if sum(map(height, (*head, *shown, *table, *foot))) + 1 > MOST_LINES:
        if danger is not None:
            head, shown = [*head, Text(danger[1])], shown[1:]
        # A line between the parts, and one for each that is shortened.
        room = MOST_LINES - sum(map(height, (*head, *foot))) - (2 if rows is None else 4)
        shown = _first(shown, room - (0 if rows is None else height(rows.table(min(FEWEST_ROWS, len(rows.rows))))))
        table = [] if rows is None else _shortened(rows, room - sum(map(height, shown)))
        left = len(warnings) - len(shown)
        shown += [Text(f"and {left} more remark{'s' if left > 1 else ''}: --explain shows all")] if left else []
    return [*head, Text(""), *table, *shown, *foot] if below else [*head, *shown, Text(""), *table, *foot]


def ending(report: Sequence[Any]) -> list[Any]:
    """What to do next, which ends the long form of a report as it ends the plain one.  report : of `brief`."""
    return [one for one in report if str(one).startswith(TO_DO)]


def _first(lines: Sequence[Any], room: int) -> list[Any]:
    """As many of the first lines as there is room for."""
    shown: list[Any] = []
    for line in lines:
        room -= height(line)
        if room < 0:
            break
        shown.append(line)
    return shown


def _shortened(rows: Rows, room: int) -> list[Any]:
    """A table with as many rows as there is room for, at least one, and how many are missing."""
    count = len(rows.rows)
    while count > 1 and height(rows.table(count)) > room:
        count -= 1
    cut = len(rows.rows) - count
    missing = [Text(f"and {cut} more row{'s' if cut > 1 else ''}: {rows.where} shows all")] if cut else []
    return [rows.table(count), *missing, Text("")]
