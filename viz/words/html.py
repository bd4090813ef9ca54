"""The glossary as one offline page with a drawing for each word."""

import re
from pathlib import Path

from markupsafe import Markup, escape

from viz.shared.html import page_room
from viz.words.drawings import drawing_of
from viz.words.glossary import GROUPS, ISO_NOTE, Word, glossary

ROOM = Path(__file__).parent / "pages"
SAFETY = (
    "Pages explain; they do not check a car. Have a competent adult check steering, brakes and battery before anybody drives, keep "
    "fingers out of linkages, and never drive on a public road."
)


def words_page() -> str:
    """The page, as HTML."""
    groups = [(title, [one for one in glossary() if one.group == group]) for group, title in GROUPS.items()]
    return page_room(ROOM, ()).get_template("words.html").render(
        groups=groups, drawing=lambda one: drawing_of(one.drawing, label_of(one)), inline=inline, iso_note=ISO_NOTE, safety=SAFETY,
    )  # fmt: skip


def label_of(one: Word) -> str:
    """What a drawing shows, for who cannot see it.  one : Word."""
    return f"A small drawing of: {one.name}"


def inline(text: str) -> Markup:
    """A sentence in which what stands between back quotes is shown as a command or key.  text : with no other marks."""
    return Markup(re.sub(r"`([^`]+)`", r"<code>\1</code>", str(escape(text))))
