"""The manual in a terminal."""

import re
from collections.abc import Sequence
from typing import Any

from rich.console import Console, ConsoleOptions, RenderResult
from rich.constrain import Constrain
from rich.markdown import CodeBlock, Markdown
from rich.table import Table
from rich.text import Text

from viz.manual.pages import Page, outside_fences

WIDEST = 100  # columns; longer lines of prose are hard to read
# A link to a page becomes the command that shows it; what cannot be followed or seen in a terminal keeps its words.
_PICTURE = re.compile(r"!\[([^\]]*)\]\([^)]*\)")
_PAGE = re.compile(r"\[([^\]]+)\]\(([\w-]+)\.md(?:#[\w-]*)?\)")
_PLACE = re.compile(r"\[([^\]]+)\]\(#[\w-]+\)")


class _Shown(CodeBlock):
    """What is shown as it is: plain, so that it can be copied."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        yield Text(str(self.text).rstrip("\n"), style="cyan", overflow="fold")


class _Manual(Markdown):
    elements = Markdown.elements | {"fence": _Shown}


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
