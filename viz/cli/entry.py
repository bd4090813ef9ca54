"""The command line, thin: parse, call sim, hand to the writers.  Heavy rooms are opened only by the command that needs them."""

import os
import signal
import sys
from typing import Any

import typer

from sim.errors import InputError
from viz.cli import floor, laps, studies

app = typer.Typer(
    name="scrubwise", add_completion=False, pretty_exceptions_enable=False, rich_markup_mode=None,
    help="What does the steering of a small electric car cost? Laps every set-up of a scenario and compares them.",
)  # fmt: skip
app.command(epilog=laps.RUN_EPILOG)(laps.run)
COMMANDS = (
    floor.angles, laps.corner, floor.template, floor.bench, floor.knock, floor.coast, studies.search,
    studies.spread, studies.contest, studies.watch, laps.new,
)  # fmt: skip
for command in COMMANDS:
    app.command()(command)

INTERRUPTED = 130  # exit code after Ctrl-C, as shells have it
STOPPED = "scrubwise: stopped before the end; nothing is left half written"
GOES_ON = "; the same command goes on from what is kept"  # of a study with --resume


def main() -> None:
    """Entry point: bad input ends with one line and exit code 2, an interruption with 130."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal that lacks a sign shows "?" instead of breaking off
    before = signal.signal(signal.SIGINT, _stop)
    try:
        code = app(args=sys.argv[1:] or ["--help"], prog_name="scrubwise", standalone_mode=False)
    except InputError as error:
        _end(f"scrubwise: {error}", 2)
    except (KeyboardInterrupt, typer.Abort):
        code = INTERRUPTED
    except Exception as error:
        if not hasattr(error, "format_message"):
            raise
        # A slip in the command itself; typer's own exceptions have no public base class to name here.
        text = " ".join(error.format_message().split()).rstrip(".")
        _end(f"scrubwise: command line: {text[0].lower() + text[1:]}; see scrubwise --help", 2)
    finally:
        signal.signal(signal.SIGINT, before)
    if code == INTERRUPTED:  # some versions of typer return it instead of raising
        _end(STOPPED, INTERRUPTED)
    sys.exit(code if isinstance(code, int) else 0)


def _stop(number: int, frame: Any) -> None:
    """Answer Ctrl-C by ending at once: an exception on its way out of compiled code, or of its compiler, would crash Python."""
    shown = "\x1b[?25h\n" if sys.stderr.isatty() else ""  # the progress line hides the cursor
    kept = GOES_ON if any(word.partition("=")[0] == "--resume" for word in sys.argv) else ""
    os.write(2, f"{shown}{STOPPED}{kept}\n".encode())
    os._exit(INTERRUPTED)


def _end(line: str, code: int) -> None:
    print(line, file=sys.stderr)  # noqa: T201
    sys.exit(code)

