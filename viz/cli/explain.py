"""Commands that explain: `words` and `lesson`."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sim.errors import InputError
from viz.cli.shell import Explain, Json, announce_first_use, print_json, print_report, tell
from viz.shared.files import interruptible, write_file

if TYPE_CHECKING:
    from viz.lesson.catalogue import Lesson


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


def lesson(
    number: Annotated[str | None, typer.Argument(metavar="N", show_default=False, help="A lesson, by number or name; left out: all of them "
                                                 "with --out, else the list.")] = None,
    out: Annotated[Path | None, typer.Option("--out", metavar="FOLDER", help="Where to write the pages for pupils and teacher; lessons "
                                             "that it holds already stay.")] = None,
    as_json: Json = False,
) -> None:  # fmt: skip
    """Lessons with this program's own figures: pages for pupils, and answers for the teacher."""
    from viz.lesson.catalogue import LESSONS, find_lesson

    chosen = LESSONS if number is None else (find_lesson(number),)
    if out is None:
        if number is not None:
            raise InputError("--out", "", "a lesson is written into a folder", f"for example: scrubwise lesson {number} --out lessons")
        from viz.lesson.report import list_report

        if as_json:
            print_json({"lessons": LESSONS})
        else:
            print_report(list_report())
        return
    from viz.lesson.make import write_lessons
    from viz.lesson.report import making, written_report

    def begun(one: "Lesson") -> None:
        if one.drives:
            announce_first_use("drive.integrate")
        if making(one) and sys.stderr.isatty() and not as_json:
            tell(f"Making lesson {one.number}: {making(one)} ...")

    with interruptible():
        files = write_lessons(chosen, out, begun)
    if as_json:
        print_json({"written": str(out), "files": files})
    else:
        print_report(written_report(chosen, files, out))
