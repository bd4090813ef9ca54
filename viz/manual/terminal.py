"""The manual in a terminal."""

import re
from collections.abc import Sequence
from typing import Any

from rich.box import SIMPLE_HEAD
from rich.cells import cell_len
from rich.console import Console, ConsoleOptions, RenderResult
from rich.constrain import Constrain
from rich.markdown import CodeBlock, Markdown, TableElement
from rich.table import Table
from rich.text import Text

from viz.manual.pages import Page, outside_fences

WIDEST = 100  # columns; longer lines of prose are hard to read
_BETWEEN = 2  # columns between those of a table
# A link to a page becomes the command that shows it; what cannot be followed or seen in a terminal keeps its words.
_PICTURE = re.compile(r"!\[([^\]]*)\]\([^)]*\)")
_PAGE = re.compile(r"\[([^\]]+)\]\(([\w-]+)\.md(?:#[\w-]*)?\)")
_PLACE = re.compile(r"\[([^\]]+)\]\(#[\w-]+\)")


class _Shown(CodeBlock):
    """What is shown as it is: plain, so that it can be copied."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        yield Text(str(self.text).rstrip("\n"), style="cyan", overflow="fold")


class _Lined(TableElement):
    """A table that breaks lines between words: rich's own would cut long keys short with an ellipsis."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        rows = [[cell.content for cell in row.cells] for part in (self.header, self.body) if part is not None for row in _rows(part)]
        table = Table(box=SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, _BETWEEN - 1, 0, 0))
        texts = [[row[index].plain for row in rows] for index in range(len(rows[0]))]
        for heading, width in zip(rows[0], _widths(texts, options.max_width - _BETWEEN * (len(texts) - 1)), strict=True):
            table.add_column(heading, overflow="fold", width=width)
        for row in rows[1:]:
            table.add_row(*row)
        yield table


def _rows(part: Any) -> list[Any]:
    return [part.row] if hasattr(part, "row") else part.rows


def _widths(columns: list[list[str]], room: int) -> list[int]:
    """Columns' widths that fit into the room: the column with most to spare beyond its longest word gives way first."""
    widths = [max(map(cell_len, texts)) for texts in columns]
    least = [max(map(cell_len, " ".join(texts).split()), default=0) for texts in columns]
    while sum(widths) > room and max(widths) > 1:
        spare = [width - needed for width, needed in zip(widths, least, strict=True)]
        widest = max(range(len(widths)), key=lambda index: spare[index] if max(spare) > 0 else widths[index])
        widths[widest] -= 1
    return widths


class _Manual(Markdown):
    elements = Markdown.elements | {"fence": _Shown, "table_open": _Lined}


def page_report(page: Page) -> list[Any]:
    """What `manual TOPIC` prints."""
    text = outside_fences(page.text, _PICTURE, r"Picture, to be seen with `--out`: *\1*")
    text = outside_fences(text, _PAGE, r"\1 (`scrubwise manual \2`)")
    return [Constrain(_Manual(outside_fences(text, _PLACE, r"\1"), hyperlinks=False), WIDEST)]


def list_report(pages: Sequence[Page]) -> list[Any]:
    """What `manual` prints: every page's topic and what it holds."""
    table = Table(box=None, show_header=False, pad_edge=False, padding=(0, 2, 0, 0))
    for page in pages:
        table.add_row(page.topic, page.about)
    return [
        Text("The manual of Scrubwise", style="bold"), Text(""), table, Text(""),
        Text("Read a page:     scrubwise manual TOPIC, such as scrubwise manual tour"),
        Text("In a browser:    scrubwise manual --out my-manual"),
    ]  # fmt: skip
