"""`manual`: a page in the terminal, the list of pages, or the whole as offline pages for a browser."""

from pathlib import Path
from typing import Annotated

import typer

from sim.errors import InputError
from viz.cli.shell import Json, print_json, print_report
from viz.shared.files import interruptible

EPILOG = "A page that runs off the screen can be read a screenful at a time: scrubwise manual TOPIC | more"


def _begun(incomplete: str) -> list[str]:
    from viz.manual.pages import PAGES

    return [topic for topic in PAGES if topic.startswith(incomplete)]


def manual(
    topic: Annotated[list[str] | None, typer.Argument(metavar="TOPIC", show_default=False, autocompletion=_begun, help="A page, by its "
                                                      "name or the name's beginning; left out: the list of pages.")] = None,
    out: Annotated[Path | None, typer.Option("--out", metavar="FOLDER", help="Write all pages, linked, for a browser; no network is "
                                             "needed to read them.")] = None,
    as_json: Json = False,
) -> None:  # fmt: skip
    """The manual: how to begin, every key and command, how far to trust the figures."""
    from viz.manual.pages import PAGES, find_page, read_page
    from viz.manual.terminal import list_report, page_report

    if out is not None:
        if topic:
            raise InputError("--out", "", "the folder holds every page", "leave the topic or --out out")
        from viz.manual.html import FIRST, write_manual

        with interruptible():
            write_manual(out)
        if as_json:
            print_json({"written": str(out), "first": FIRST})
        else:
            print_report([f"Written to {out}; open {out / FIRST} in a browser"])
        return
    pages = [read_page(find_page(" ".join(topic)))] if topic else [read_page(name) for name in PAGES]
    if as_json:
        told = [{"topic": page.topic, "title": page.title, "about": page.about} for page in pages]
        print_json({"pages": told} if not topic else told[0] | {"markdown": pages[0].text})
    else:
        print_report(list_report(pages) if not topic else page_report(pages[0]))
