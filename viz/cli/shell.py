"""What the commands share: reading a scenario, checking an option, saying how far a long job is, printing."""

import io
import json
import os
import re
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from textwrap import wrap
from typing import TYPE_CHECKING, Annotated, Any

import typer

from sim.errors import InputError
from viz.shared.documents import stamped

if TYPE_CHECKING:
    from pathlib import Path

    from sim.scenario.scenario import Scenario

ScenarioName = Annotated[str, typer.Argument(metavar="SCENARIO", help="A scenario file (.toml), or the name of a shipped scenario.")]
Json = Annotated[bool, typer.Option("--json", help="Print one JSON document and nothing else.")]
Explain = Annotated[bool, typer.Option("--explain", help="Print all that there is to say: every table, and what the figures rest on.")]

held_back: list[str] = []  # lines for people that precede the answer; a command that refuses says nothing else
last_loaded: list["Scenario"] = []  # by which a refusal of one of its set-ups is explained
announced_kernels: set[str] = set()  # of which was said that they have still to be compiled; once is enough for a command
document = ""  # name of the command that runs, which its JSON document bears
INTERRUPTED = 130  # exit code after Ctrl-C, as shells have it
PIPE_WIDTH = 80  # columns; into a file or a pipe
WAIT_S = 2.0  # [s] that a command works before it says how long it will; longer than a moment
LOCK_STEP = "integrate.integrate_lanes"  # the kernel of studies that drive many laps
COMPILED_IN = {LOCK_STEP: "about half a minute"}


def load(name: str, doubts: bool = True) -> tuple["Scenario", "Path"]:
    """A scenario and its file.

    doubts : whether to say which of its numbers look like slips, before the command's answer; else the command's own report does
    """
    from sim.scenario.doubts import file_doubts
    from sim.scenario.file import find_scenario, load_scenario

    try:
        path = find_scenario(name)
    except InputError:
        from sim.contest.rules import is_contest

        if is_contest(name):
            remedy = f"run it with `scrubwise contest {quoted(name)}`"
            raise InputError(name, "", "this is a contest, not a scenario", remedy) from None
        raise
    loaded = load_scenario(path, name)
    last_loaded[:] = [loaded]
    if doubts:
        _hold_back(file_doubts(loaded), name)
    return loaded, path


def doubt_built(scenario: "Scenario", name: str, setup: str) -> None:
    """Say, before the command's answer, what looks like a slip in a scenario of which one set-up is built, set or measured.

    scenario, name : the scenario and its name in messages; setup : the set-up's name
    """
    from sim.study.doubts import built_doubts

    _hold_back(built_doubts(scenario, setup, name), name)


def explained(error: InputError) -> str:
    """A refusal in one line.  Of a set-up that can't be built it names the keys that stand in the file, and what looks like a slip there.

    error : as raised
    """
    text = str(error)
    if not last_loaded:
        return text
    from sim.scenario.doubts import number_doubts

    (scenario,) = last_loaded
    for index, setup in enumerate(scenario.setup):
        place = next((one for one in (setup.place, f"setup[{index}]") if f"{error.place}.".startswith(f"{one}.")), None)
        if place is not None:
            key = error.place.removeprefix(f"{place}.")
            for source in scenario.measured("setup", index):
                if key in source.kept:
                    text = text.replace(f"{place}.{key}", f"{place}.{' and '.join(one.name for one in source.measured)}", 1)
            slips = number_doubts(scenario)
            return f"{text.rstrip('.?')}. Is this right? {slips[0]}" if slips else text
    return text


def _hold_back(doubts: tuple[str, ...], name: str) -> None:
    from viz.shared.doubts import doubt_lines

    held_back[:] = [one.replace("add --explain", f"scrubwise angles {quoted(name)} --explain") for one in doubt_lines(doubts)]


def quoted(file: "Path | str") -> str:
    """A file's name as it is typed in a command: in quotes where it holds a blank.  file : its name."""
    return f'"{file}"' if any(sign.isspace() for sign in str(file)) else str(file)


def check_turn(radius: float, speed: float) -> None:
    from sim.study.corner import check_turn as check

    check(radius, speed, "--radius", "--speed")


def numbers(text: str, option: str, low: float, high: float) -> list[float]:
    values = []
    for part in text.split(","):
        try:
            value = float(part)
        except ValueError:
            raise InputError(option, "", f"{part.strip()!r} is not a number", "give degrees, separated by commas") from None
        if not low <= value <= high:
            raise InputError(option, "", f"{part.strip()} is not between {low:g} and {high:g}", "give degrees, separated by commas")
        values.append(value)
    return values


def announce_first_use(kernel: str) -> None:
    """Say that a kernel has still to be compiled, where that is so and was not said yet."""
    from sim.kernels.compiled import CACHE, first_use

    if kernel not in announced_kernels and first_use(kernel):
        announced_kernels.add(kernel)
        again = "every time, since no folder for it can be written" if CACHE is None else "this once"
        long = COMPILED_IN.get(kernel, "about 40 seconds")
        typer.echo(f"Preparing the fast code for this machine, {long}, {again} ...", err=True)


def tell(words: str) -> None:
    """Say something between questions, apart from the answer, which may go into a file."""
    typer.echo("\n".join(wrap(words, PIPE_WIDTH - 1)), err=True)


def ask(prompt: str) -> str | None:
    """A line from the keyboard or a pipe; None at its end.  prompt : what is asked for."""
    typer.echo(prompt, nl=False, err=True)
    try:
        return input()
    except EOFError:
        return None


@contextmanager
def patience(what: str, about: str, quiet: bool) -> Iterator[None]:
    """Say on a terminal how long a job takes, once it goes on for longer than people wait without a word.

    What is refused before that stays one line.
    what : is done; about : how long it usually takes, in words; quiet : with --json
    """
    if quiet or not sys.stderr.isatty():
        yield
        return
    late = threading.Timer(WAIT_S, lambda: typer.echo(f"{what}: {about} on a usual machine ...", err=True))
    late.daemon = True
    late.start()
    try:
        yield
    finally:
        late.cancel()


@contextmanager
def progress(what: str, quiet: bool, kernel: str = "drive.integrate") -> Iterator[Callable[[int, int, str], None]]:
    """A progress line with the remaining time on a terminal; elsewhere only a word, at the first step, when the fast code must be made.

    By the first step the input has been checked: bad input ends with one line and nothing before it.
    """
    told = False

    def announced(done: int, of: int, name: str) -> None:
        nonlocal told
        if not told:
            announce_first_use(kernel)
        told = True

    if quiet or not sys.stderr.isatty():
        yield announced
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn(elapsed_when_finished=True))
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task, before = bar.add_task(what, total=None), 0

        def shown(done: int, of: int, name: str) -> None:
            nonlocal before
            announced(done, of, name)
            if done < before:  # another kind of work begins, at a pace of its own
                bar.reset(task)
            before = done
            bar.update(task, completed=done, total=of, description=f"{what} {name[:40]}")

        yield shown


def print_json(result: Any) -> None:
    """Print a result, of frozen types or plain, as one JSON document."""
    write(json.dumps(stamped(document, result), indent=2, allow_nan=False) + "\n")


def print_report(renderables: list[Any]) -> None:
    """Print to the terminal at its width, or plainly to a file or pipe; a table is never squeezed until figures are lost."""
    from rich.console import Console
    from rich.table import Table

    from viz.cli.narrow import fitted, least_width

    text, terminal = io.StringIO(), sys.stdout.isatty()
    plainly = None if terminal else True  # on a terminal NO_COLOR decides
    console = Console(file=text, force_terminal=terminal, no_color=plainly, highlight=False, markup=False, soft_wrap=False)
    width = console.width if terminal else PIPE_WIDTH
    for renderable in renderables:
        if not isinstance(renderable, Table):
            console.width = width
            console.print(renderable)
            continue
        # A file takes a table of any width; of a terminal that is too narrow for it, it becomes several.
        for place, part in enumerate(fitted(renderable, width) if terminal else [renderable]):
            console.width = max(width, least_width(part))
            if place:
                console.print()
            console.print(part)
    told = text.getvalue()
    # A code page without the signs has no such letters either.
    write(isolated_names(told) if "utf" in (sys.stdout.encoding or "").casefold() else told)


# Letters that are written from right to left, one blank between words of them.
_FROM_RIGHT = "[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc\U00010800-\U00010fff\U0001e800-\U0001efff]"
_NAME_FROM_RIGHT = re.compile(f"{_FROM_RIGHT}+(?:[ '-]{_FROM_RIGHT}+)*")


def isolated_names(text: str) -> str:
    """Output in which words that are written from right to left do not turn the figures beside them; the signs for it take no room."""
    return _NAME_FROM_RIGHT.sub("\u2068\\g<0>\u2069", text)


def write(text: str) -> None:
    """Write to standard output, at once, so that a fault of the pipe or drive behind it shows here and not while Python ends.

    A reader who has gone is no fault.  Raises InputError where nothing can be written.
    """
    while held_back:
        typer.echo(held_back.pop(0), err=True)
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except OSError as error:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # or the rest would be tried again at the end
        if not isinstance(error, BrokenPipeError):
            raise InputError("standard output", "", f"it can't be written ({error.strerror})", "make room or print elsewhere") from None
