"""`words`: what it prints, and the manual's page."""

from collections.abc import Sequence
from typing import Any

from rich.text import Text

from viz.words.glossary import GROUPS, ISO_NOTE, Word, glossary

MOST_KEYS = 6  # that an entry shows; of an entry with more, the first
LIST_WIDTH = 80  # columns of the list's lines
GROUP_SIGNS = 2 * LIST_WIDTH - 34  # of a group's names in the list, so that with what is left out they fill two lines


def list_report(explain: bool = False) -> list[Any]:
    """What `words` prints.

    explain : every word with its sentence; else names by group, as many as fit two lines each
    """
    lines: list[Any] = []
    for group, title in GROUPS.items():
        words = [one for one in glossary() if one.group == group]
        if explain:
            lines += [Text(title, style="bold"), *(Text(f"  {one.name}: {_sentence(one.means)}") for one in words), Text("")]
        else:
            shown = fitting([one.name for one in words], GROUP_SIGNS - len(title))
            more = f" and {len(words) - len(shown)} more" if len(shown) < len(words) else ""
            lines.append(Text.assemble((f"{title}: ", "bold"), ", ".join(shown) + more))
    if not explain:
        lines.append(Text("More: every word with its sentence: add --explain."))
    return [*lines, Text("One word: scrubwise words TERM. With drawings: scrubwise words --out words.html")]


def fitting(names: Sequence[str], signs: int) -> list[str]:
    """The first names that take no more than so many signs with what stands between them.  names, signs : of the names, and in all."""
    shown: list[str] = []
    for name in names:
        if len(", ".join([*shown, name])) > signs:
            break
        shown.append(name)
    return shown


def word_report(words: Sequence[Word]) -> list[Any]:
    """What `words TERM` prints.  words : at least one."""
    lines: list[Any] = []
    for index, one in enumerate(words):
        lines += [Text("")] if index else []
        lines.append(Text.assemble((one.name, "bold"), f": {_sentence(one.means)}"))
        lines += [Text(f"  {what}: {text}") for what, text in one.asides]
        if one.keys:
            more = ", ..." if len(one.keys) > MOST_KEYS else ""
            lines.append(Text(f"  stands for: {', '.join(one.keys[:MOST_KEYS])}{more}"))
    if any(one.iso for one in words):
        lines += [Text(""), Text(ISO_NOTE)]
    return lines


def _sentence(means: str) -> str:
    return means.replace("`", "")


def manual_page() -> str:
    """The manual's page "Words", in Markdown."""
    parts = [
        "# Words",
        "What the words in tables, plots, pages and keys mean, and some more that this manual uses.",
        "`scrubwise words TERM` explains one in the terminal, and also finds a key of a scenario or of `--json`. "
        "`scrubwise words --out words.html` writes a page with a drawing for each.",
        f"Where a number can go two ways, the last column says which is above 0. {ISO_NOTE}",
    ]
    for group, title in GROUPS.items():
        rows = [f"| {one.name} | {one.means} | {'; '.join(_aside(what, text) for what, text in one.asides)} |"
                for one in glossary() if one.group == group]  # fmt: skip
        parts += [f"## {title}", "\n".join(["| word | what it means | unit, sign and other names |", "|---|---|---|", *rows])]
    return "\n\n".join(parts) + "\n"


def _aside(what: str, text: str) -> str:
    return text if what == "unit" else f"{what}: {text}"
