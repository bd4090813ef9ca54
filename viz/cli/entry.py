"""The command line, thin: parse, call sim, hand to the writers.  Heavy rooms are opened only by the command that needs them."""

import gc
import inspect
import os
import re
import signal
import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from sim.errors import InputError, hides
from sim.files.text import comma_slip
from viz.cli import begin, explain, floor, laps, manual, menu, studies
from viz.cli.documents import described
from viz.cli.shell import INTERRUPTED, announced_kernels, explained, held_back, last_loaded
from viz.cli.signs import show_readably

app = typer.Typer(
    name="scrubwise", pretty_exceptions_enable=False, rich_markup_mode=None,
    help="What does the steering of a small electric car cost? Laps every set-up of a scenario and compares them.",
)  # fmt: skip
EPILOGS = {laps.run: laps.RUN_EPILOG, manual.manual: manual.EPILOG}
COMMANDS = (
    laps.run, floor.angles, laps.corner, floor.assemble, floor.template, floor.bench, floor.knock, floor.coast, studies.search,
    studies.spread, studies.contest, studies.watch, studies.report, begin.new, begin.measure, explain.lesson, explain.words, manual.manual,
)  # fmt: skip
for command in COMMANDS:
    # The whole sentence stands in the list of commands; without a short text of its own typer would cut it to one line.
    app.command(epilog=EPILOGS.get(command), short_help=inspect.getdoc(command))(described(command))

STOPPED = "scrubwise: stopped before the end; nothing is left half written"
NO_HELP = ("--help", "--version")  # what the nearest option is where none is near
GOES_ON = "; the same command goes on from what is kept"  # of a study with --resume


def _tell_version(asked: bool) -> None:
    if asked:
        from sim.store.run_folder import program_version
        from viz.cli.shell import write

        write(f"scrubwise {program_version()}\n")
        raise typer.Exit


@app.callback(epilog="How to begin and what each page of the manual holds: scrubwise manual")
def _options(
    version: Annotated[bool, typer.Option("--version", is_eager=True, callback=_tell_version, help="Show the version and exit.")] = False,
) -> None:
    pass


def main() -> None:
    """Entry point: bad input ends with one line and exit code 2, an interruption with 130."""
    # A start makes hundreds of thousands of objects that stay: looking among them for circles is a tenth of its time.
    gc.set_threshold(50_000, 20, 20)
    _open_closed_streams()
    for stream in (sys.stdout, sys.stderr):
        show_readably(stream)
    held_back.clear()
    last_loaded.clear()
    announced_kernels.clear()
    before = signal.signal(signal.SIGINT, _stop)
    try:
        _refuse_hidden_signs(sys.argv[1:])
        _clear_leftovers()
        words = sys.argv[1:] or _begin()
        code = app(args=words, prog_name="scrubwise", standalone_mode=False) if words else 0
    except InputError as error:
        # Other programs are promised one line; a person reads several mistakes more easily in as many lines.
        _end(
            "\n".join(f"scrubwise: {line}" for line in (error.lines if sys.stderr.isatty() and error.lines[1:] else [explained(error)])), 2
        )
    except (KeyboardInterrupt, typer.Abort):
        code = INTERRUPTED
    except SystemExit:  # so the library that reads the command line ends where the reader of a help text has gone
        code = 0
    except Exception as error:
        if not hasattr(error, "format_message"):
            raise
        # A slip in the command itself; typer's own exceptions have no public base class to name here.
        _end(f"scrubwise: {_plain_slip(' '.join(error.format_message().split()).rstrip('.'))}", 2)
    finally:
        signal.signal(signal.SIGINT, before)
    if code == INTERRUPTED:  # some versions of typer return it instead of raising
        _end(STOPPED, INTERRUPTED)
    sys.exit(code if isinstance(code, int) else 0)


def _open_closed_streams() -> None:
    """Let what a command says go nowhere where its output was closed; else the next file that it opens would take that place."""
    for place, name in enumerate(("stdin", "stdout", "stderr")):
        try:
            os.fstat(place)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest place that is free
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, "r" if place == 0 else "w", encoding="utf-8"))  # noqa: SIM115 (as long as the program)


def _refuse_hidden_signs(words: list[str]) -> None:
    """Refuse a file or a name whose signs would hide or turn what is printed of it."""
    for word in words:
        if hides(word):
            problem = f"{word[:80]!a} holds a control sign or one that turns the direction of text"
            raise InputError("command line", "", problem, "rename the file, or write the word without it")


def _clear_leftovers() -> None:
    """What killed commands left half written in the current folder goes, with the next command there."""
    from sim.store.beside import marked_names

    if marked_names(Path()):
        from sim.store.run_folder import clear_leftovers

        clear_leftovers(Path())


def _begin() -> list[str]:
    """The words of a command where none were written: chosen by whoever sits at the terminal, else those for help; empty to leave."""
    if not menu.wanted():
        return ["--help"]
    chosen = menu.choose([one.__name__ for one in COMMANDS]) or []
    sys.argv[1:] = chosen  # as if it had been typed
    return chosen


def _plain_slip(text: str) -> str:
    """What the library that reads the command line says of a slip, as problem and remedy; what it words well enough stays."""
    text = text[0].lower() + text[1:]
    value = re.match(r"invalid value for '(-[\w-]+)'(?: / '[\w-]+')*: .*\b(number|float|integer)\b", text)
    if value:
        option, whole = value[1], value[2] == "integer"
        given = next((after for before, after in zip(sys.argv, [*sys.argv[1:], ""], strict=True) if before == option), "")
        given = given or next((word.partition("=")[2] for word in sys.argv if word.startswith(f"{option}=")), "")
        if not whole and (slip := comma_slip(given)):
            return f"{option}: {slip[0]}; {slip[1]}"
        shown = "".join(sign if sign.isprintable() else "?" for sign in given[:40])
        return f"{option}: {shown!r} is not a {'whole ' * whole}number; " + (
            "write one without a decimal point or comma" if whole else "write one with a decimal point and without a unit"
        )
    unknown = re.match(r"(no such (?:option|command):? .*?)\.? ?\(?(?:possible options: |did you mean )([^),?]+)", text, re.I)
    named = sys.argv[1:2] if sys.argv[1:2] and sys.argv[1] in [one.__name__ for one in COMMANDS] else []
    if named and text.startswith("missing "):
        from viz.cli.examples import whole_command

        return f"command line: {text}; for example: {whole_command(named[0], sys.argv[2:], text.startswith('missing option'))}"
    near = unknown[2].strip("'") if unknown and unknown[2] not in NO_HELP else ""
    problem = unknown[1] if unknown else text
    if not named or "unexpected extra argument" in text:
        from viz.cli.examples import meant_command

        meant = meant_command(sys.argv[1:], [one.__name__ for one in COMMANDS], near)
        if meant:
            return f"command line: {problem}; {meant}"
    hint = f"did you mean {near}?" if near else f"see {' '.join(['scrubwise', *named, '--help'])}"
    return f"command line: {problem}; {hint}"


def _stop(number: int, frame: Any) -> None:
    """Answer Ctrl-C by ending at once: an exception on its way out of compiled code, or of its compiler, would crash Python."""
    shown = "\x1b[?25h\n" if sys.stderr.isatty() else ""  # the progress line hides the cursor
    kept = GOES_ON if any(word.partition("=")[0] == "--resume" for word in sys.argv) else ""
    os.write(2, f"{shown}{STOPPED}{kept}\n".encode())
    os._exit(INTERRUPTED)


def _end(line: str, code: int) -> None:
    print(line, file=sys.stderr)  # noqa: T201
    sys.exit(code)
