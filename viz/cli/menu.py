"""What `scrubwise` alone offers on a terminal: the few things that people come for, by number, each with the command that it runs."""

import os
import shlex
import shutil
import sys
from collections.abc import Callable, Collection
from dataclasses import dataclass
from pathlib import Path
from textwrap import wrap
from typing import Any

import typer

from viz.cli.shell import PIPE_WIDTH, ask, tell

EXAMPLE = "quay-loop"  # the shipped scenario that stands for a built car
EXAMPLE_SETUP = "drop arm and two rods"
INDENT = "      "
HANGING: dict[str, Any] = {"initial_indent": INDENT, "subsequent_indent": INDENT}


@dataclass(frozen=True)
class Offer:
    """One line of the menu.

    what : people want, in their words; words : the command that does it, as shown; takes : how long, where that is more than a moment
    made : asks what is missing and gives the command as it is run
    """

    what: str
    words: tuple[str, ...]
    takes: str = ""
    made: Callable[[], list[str]] | None = None


def wanted() -> bool:
    """Whether somebody sits there: both ends are a terminal, and no automatic check runs."""
    return sys.stdin.isatty() and sys.stdout.isatty() and not os.environ.get("CI")


def _own_car() -> list[str]:
    name = (ask("A name for your car's file (Enter for my-car.toml): ") or "").strip() or "my-car.toml"
    return ["new", name if name.casefold().endswith(".toml") else f"{name}.toml", "--ask"]


def _built_car() -> list[str]:
    here = sorted(str(file) for file in Path().glob("*.toml"))
    usual = here[0] if len(here) == 1 else EXAMPLE
    name = (ask(f"Your car's file (Enter for {usual}): ") or "").strip() or usual
    return ["bench", name, "--plan", "quick", *(["--setup", EXAMPLE_SETUP] if name == EXAMPLE else [])]


OFFERS = (
    Offer("See the first bend: does the inner wheel have to turn more?", ("run", "first-bend")),
    Offer("Start my car: describe it number by number", ("new", "my-car.toml", "--ask"), made=_own_car),
    Offer("Check the built car: what to measure in ten minutes", ("bench", "MY-CAR.toml", "--plan", "quick"), made=_built_car),
    Offer("A class contest: four teams, one set of rules", ("contest", "class-contest"), "about 5 seconds"),
    Offer("A lesson", ("lesson",)),
    Offer("What does that word mean?", ("words",)),
    Offer("Read the manual", ("manual",)),
    Offer("All commands", ("--help",)),
)


def choose(commands: Collection[str]) -> list[str] | None:
    """The words of the command that a person chose, or None to leave.  commands : those that there are."""
    offers = [one for one in OFFERS if one.words[0] in commands or one.words[0].startswith("--")]
    typer.echo("\n".join(_lines(offers)), err=True)
    while True:
        answer = ask(f"A number from 1 to {len(offers)}, or Enter to leave: ")
        if not (answer or "").strip():
            return None
        if answer and answer.strip() in map(str, range(1, len(offers) + 1)):
            break
        tell(f"Write a number from 1 to {len(offers)}.")
    offer = offers[int(answer.strip()) - 1]
    words = offer.made() if offer.made is not None else list(offer.words)
    tell(f"Running: {shlex.join(['scrubwise', *words])}")
    return words


def _lines(offers: list[Offer]) -> list[str]:
    width = min(shutil.get_terminal_size((PIPE_WIDTH, 24)).columns, PIPE_WIDTH) - 1
    lines = [*wrap("What does the steering of a small electric car cost?", width), ""]
    for number, one in enumerate(offers, start=1):
        lines += wrap(f"{number:3}   {one.what}", width, subsequent_indent=INDENT)
        takes = f" ({one.takes})" if one.takes else ""
        lines += wrap(f"{' '.join(['scrubwise', *one.words])}{takes}", width, break_on_hyphens=False, **HANGING)
    return [*lines, ""]
