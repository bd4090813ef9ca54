"""Pages for a browser: one style for all, every text escaped, names that read from right to left kept to themselves."""

import re
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING
from unicodedata import bidirectional

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

COMMAND = re.compile(r"`(scrubwise [^`]*|angles)`")  # as sentences write commands for the terminal
TO_THE_SIDE = "This table goes on to the right: push it with a finger, or choose it and press the arrow keys."
STYLE = Path(__file__).parent / "pages"  # holds base.html, which every page extends


def page_room(folder: Path, names: Sequence[str]) -> "Environment":
    """What renders the templates of a folder.  folder : of the templates; names : that sentences on the pages may hold in quotes.

    Returns the environment; its filter `isolated` keeps the names' direction of writing from what stands beside them.
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    room = Environment(
        loader=FileSystemLoader([folder, STYLE]), autoescape=True, undefined=StrictUndefined, trim_blocks=True, keep_trailing_newline=True,
    )  # fmt: skip
    room.globals["to_the_side"] = TO_THE_SIDE  # beside tables that a narrow screen cannot show whole
    room.filters["isolated"] = partial(isolated, names=names)
    return room


def isolated(line: str, names: Sequence[str]) -> "Markup":
    """A sentence in which a name that is written from right to left does not turn what stands beside it, and commands look like such.

    line : the sentence; names : that it may hold
    """
    from markupsafe import Markup, escape

    text = escape(line)
    for name in sorted(set(names), key=len, reverse=True):
        if any(bidirectional(sign) in ("R", "AL") for sign in name):
            text = text.replace(f"&#34;{escape(name)}&#34;", Markup("&#34;<bdi>{}</bdi>&#34;").format(name))
    # As plain text: joining pieces of a Markup would escape the tags again.
    return Markup(COMMAND.sub(r"<code>\1</code>", str(text)))  # every part of it is escaped
