"""The manual as offline pages: linked, with its pictures, readable on a phone and on paper."""

import re
import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markdown_it import MarkdownIt
from markdown_it.token import Token
from markupsafe import Markup, escape

from sim.errors import InputError
from sim.store.run_folder import check_target, run_folder
from viz.manual.pages import FOLDER, PAGES, Page, anchors, headings, read_page

FIRST = "index.html"
PICTURES = "pictures"
_RUN = "summary.json"  # every run folder holds it, and no manual does
_PAGE_LINK = re.compile(r"^([\w-]+)\.md(#[\w-]+)?$")


def write_manual(folder: Path) -> None:
    """Write every page, whole or not at all.

    folder : to write or replace
    Raises InputError where the folder can't be written, or holds a run or what somebody else put there; that then still stands.
    """
    check_target(folder)
    if (folder / _RUN).exists():
        raise InputError(str(folder), "", "this folder holds a run, which the manual would replace", "give the name of a new folder")
    with run_folder(folder) as made:
        for name, text in manual_pages().items():
            with open(made / name, "w", encoding="utf-8", newline="\n") as stream:
                stream.write(text)
        (made / PICTURES).mkdir()
        for picture in sorted((FOLDER / PICTURES).glob("*.png")):
            shutil.copyfile(picture, made / PICTURES / picture.name)  # not its rights: an installed one may be write-protected


def manual_pages() -> dict[str, str]:
    """Every page by its file's name, as HTML."""
    room = Environment(
        loader=FileSystemLoader(FOLDER / "layout"), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
        keep_trailing_newline=True,
    )  # fmt: skip
    pages = [read_page(topic) for topic in PAGES]
    made = {FIRST: room.get_template("index.html").render(pages=pages, file_of=file_of)}
    for index, page in enumerate(pages):
        around = {"before": pages[index - 1] if index else None, "after": pages[index + 1] if index + 1 < len(pages) else None}
        made[file_of(page.topic)] = room.get_template("page.html").render(page=page, body=Markup(body_of(page)), file_of=file_of, **around)
    return made


def file_of(topic: str) -> str:
    """The file of a page.  topic : one of PAGES."""
    return f"{topic}.html"


def body_of(page: Page) -> str:
    """A page's text as HTML: what looks like HTML in it is text, headings can be linked to, and links to pages go to their files."""
    reader = MarkdownIt("commonmark", {"html": False}).enable("table")
    reader.add_render_rule("code_inline", _code)
    tokens = reader.parse(page.text)
    places = iter(anchors(headings(page.text)))
    for token in tokens:
        if token.type == "heading_open":
            token.attrSet("id", next(places))
        _link(token.children or [])
    return reader.renderer.render(_framed(tokens), reader.options, {})


def _code(renderer: Any, tokens: Sequence[Token], index: int, options: Any, env: Any) -> str:
    """A key may be broken after an underscore, and nowhere else; the mark for that is not copied with it."""
    return f"<code>{escape(tokens[index].content)}</code>".replace("_", "_<wbr>")


def _link(inline: Sequence[Token]) -> None:
    for token in inline:
        link = _PAGE_LINK.match(str(token.attrGet("href") or ""))
        if link:
            token.attrSet("href", file_of(link[1]) + (link[2] or ""))


def _framed(tokens: Sequence[Token]) -> list[Any]:
    """Each table in a frame of its own, in which a narrow screen can move it sideways."""
    made = []
    for token in tokens:
        if token.type == "table_open":
            made.append(Token("html_block", "", 0, content='<div class="wide">\n'))
        made.append(token)
        if token.type == "table_close":
            made.append(Token("html_block", "", 0, content="</div>\n"))
    return made
