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
from viz.shared.keyboard import LEAVE

EXAMPLE = "quay-loop"  # the shipped scenario that stands for a built car
EXAMPLE_SETUP = "drop arm and two rods"
INDENT = "      "
HANGING: dict[str, Any] = {"initial_indent": INDENT, "subsequent_indent": INDENT}


@dataclass(frozen=True)
class Offer:
    """One line of the menu.

    what : people want, in their words; words : the command that does it, as shown; takes : how long, where that is more than a moment
    made : asks what is missing and gives the command as it is run, or None for somebody who leaves
    """

    what: str
    words: tuple[str, ...]
    takes: str = ""
    made: Callable[[], list[str] | None] | None = None


def wanted() -> bool:
    """Whether somebody sits there: both ends are a terminal, and no automatic check runs."""
    return sys.stdin.isatty() and sys.stdout.isatty() and not os.environ.get("CI")


def _asked(prompt: str, usual: str) -> str | None:
    """What was answered, the usual answer for Enter alone, or None for somebody who leaves.  prompt : what is asked for."""
    answer = ask(prompt)
    if answer is None:
        typer.echo("", err=True)  # the prompt's line ends
        return None
    answer = answer.strip()
    return None if answer.casefold() in LEAVE else answer or usual


def _own_car() -> list[str] | None:
    name = _asked("A name for your car's file (Enter for my-car.toml, q to leave): ", "my-car.toml")
    return None if name is None else ["new", name if name.casefold().endswith(".toml") else f"{name}.toml", "--ask"]


def _built_car() -> list[str] | None:
    here = sorted(str(file) for file in Path().glob("*.toml"))
    usual = here[0] if len(here) == 1 else EXAMPLE
    name = _asked(f"Your car's file (Enter for {usual}, q to leave): ", usual)
    return None if name is None else ["bench", name, "--plan", "quick", *(["--setup", EXAMPLE_SETUP] if name == EXAMPLE else [])]


def _a_word() -> list[str] | None:
    return _one_of("words", "Which word (Enter for the list of all, q to leave): ")


def _a_lesson() -> list[str] | None:
    words = _one_of("lesson", "Which one, by its number (Enter for the list of all, q to leave): ")
    return words if words is None or len(words) == 1 else [*words, "--out", "lessons"]


def _a_page() -> list[str] | None:
    return _one_of("manual", "Which page, such as tour (Enter for the list of all, q to leave): ")


def _one_of(command: str, prompt: str) -> list[str] | None:
    """The command for what was named, or for the list of all.  command : its name; prompt : what is asked for."""
    term = _asked(prompt, "")
    return None if term is None else [command, *term.split()]


OFFERS = (
    Offer("See the first bend: does the inner wheel have to turn more?", ("run", "first-bend")),
    Offer("Start my car: describe it number by number", ("new", "my-car.toml", "--ask"), made=_own_car),
    Offer("Check the built car: what to measure in ten minutes", ("bench", "MY-CAR.toml", "--plan", "quick"), made=_built_car),
    Offer("A class contest: four teams, one set of rules", ("contest", "class-contest"), "about 5 seconds"),
    Offer("A lesson", ("lesson", "N", "--out", "lessons"), made=_a_lesson),
    Offer("What does that word mean?", ("words", "WORD"), made=_a_word),
    Offer("Read the manual", ("manual", "TOPIC"), made=_a_page),
    Offer("All commands", ("--help",)),
)


def choose(commands: Collection[str]) -> list[str] | None:
    """The words of the command that a person chose, or None to leave.  commands : those that there are."""
    offers = [one for one in OFFERS if one.words[0] in commands or one.words[0].startswith("--")]
    typer.echo("\n".join(_lines(offers)), err=True)
    while True:
        answer = _asked(f"A number from 1 to {len(offers)}, or Enter or q to leave: ", "")
        if not answer:
            return None
        if answer in map(str, range(1, len(offers) + 1)):
            break
        tell(f"Write a number from 1 to {len(offers)}, or q to leave.")
    offer = offers[int(answer) - 1]
    words = offer.made() if offer.made is not None else list(offer.words)
    if words is not None:
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
