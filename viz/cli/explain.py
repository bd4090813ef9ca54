"""Commands that explain: `words` and `lesson`."""

from pathlib import Path
from typing import Annotated

import typer

from sim.errors import InputError
from viz.cli.shell import Explain, Json, print_json, print_report
from viz.shared.files import write_file


def _begun(incomplete: str) -> list[str]:
    from viz.words.glossary import glossary

    return [one.name for one in glossary() if one.name.startswith(incomplete)]


def words(
    term: Annotated[list[str] | None, typer.Argument(metavar="TERM", show_default=False, autocompletion=_begun, help="A word, or a key of "
                                                     "a scenario or of --json; left out: the list of words.")] = None,
    out: Annotated[Path | None, typer.Option("--out", metavar="FILE.html", help="Write a page with a drawing for each word; no network is "
                                             "needed to read it.")] = None,
    explain: Explain = False,
    as_json: Json = False,
) -> None:  # fmt: skip
    """What a word means: each in one sentence, with unit and sign."""
    from viz.words.glossary import find_words, glossary
    from viz.words.report import list_report, word_report

    if out is not None:
        if term:
            raise InputError("--out", "", "the page holds every word", "leave the word or --out out")
        from viz.words.html import words_page

        text = words_page()
        write_file(out, ".html", lambda made: made.write_text(text, encoding="utf-8"))
        if as_json:
            print_json({"written": str(out)})
        else:
            print_report([f"Written to {out}; open it in a browser"])
        return
    found = find_words(" ".join(term)) if term else list(glossary())
    if as_json:
        print_json({"words": found})
    else:
        print_report(word_report(found) if term else list_report(explain))
