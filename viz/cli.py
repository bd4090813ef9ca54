"""The command line, thin: parse, call sim, hand to the writers.  Heavy rooms are opened only by the command that needs them."""

import io
import json
import os
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any

import typer

from sim.errors import InputError
from viz.files import write_file

app = typer.Typer(
    name="scrubwise", add_completion=False, pretty_exceptions_enable=False, rich_markup_mode=None,
    help="What does the steering of a small electric car cost? Laps every set-up of a scenario and compares them.",
)  # fmt: skip

ScenarioName = Annotated[str, typer.Argument(metavar="SCENARIO", help="A scenario file (.toml), or the name of a shipped scenario.")]
Json = Annotated[bool, typer.Option("--json", help="Print one JSON document and nothing else.")]

TABLE_WIDTH = 80  # columns that the tables need; a narrower terminal breaks their lines
INTERRUPTED = 130  # exit code after Ctrl-C, as shells have it
STOPPED = "scrubwise: stopped before the end; nothing is left half written"
RUN_EPILOG = "The run folder holds the tables, a 50 Hz trace of each set-up for spreadsheets, the plots and the scenario."


@app.command(epilog=RUN_EPILOG)
def run(
    scenario: ScenarioName,
    out: Annotated[Path | None, typer.Option("--out", metavar="DIR", help="The run folder. Left out: NAME-run in this folder; "
                                             "with --json, none.")] = None,
    model: Annotated[str, typer.Option("--model", metavar="RUNG", help="Rung of the ladder of models: rolling-bicycle, slipping-bicycle, "
                                       "rolling-four-wheels or slipping-four-wheels.")] = "slipping-four-wheels",
    paces: Annotated[bool, typer.Option("--paces", help="Drive the first set-up also by every pace policy in the same lap time.")] = False,
    as_json: Json = False,
) -> None:  # fmt: skip
    """Lap every set-up, print the comparison and write the run folder: the main job."""
    from sim.ladder import Rung
    from sim.runstore import check_target
    from sim.study import compare, compare_paces
    from sim.summary import pace_summary, summary

    loaded, path = _load(scenario)
    labels = {rung.label.replace(" ", "-"): rung for rung in Rung}
    if model not in labels:
        raise InputError("--model", "", f"{model!r} is no rung of the ladder", f"choose one of {', '.join(labels)}")
    folder = out if out is not None else None if as_json else Path(f"{path.stem}-run")
    if folder is not None:
        check_target(folder)
    with _progress("driving", as_json) as progress:
        comparison = compare(loaded, path.parent, scenario, labels[model], progress)
        ways = compare_paces(loaded, scenario, comparison, progress) if paces else []
    if folder is not None:
        from viz.folder import write_run

        write_run(comparison, path.parent, folder)
    if as_json:
        _print_json(summary(comparison) | ({"paces": pace_summary(ways, comparison.course.length)} if paces else {}))
        return
    from viz.tables import pace_report, run_report

    report = run_report(comparison, folder)
    _print(report + (pace_report(pace_summary(ways, comparison.course.length), loaded.setup[0].name) if paces else []))


@app.command()
def angles(
    scenario: ScenarioName,
    outer: Annotated[str | None, typer.Option("--outer", metavar="DEG[,DEG...]", help="Rows at these angles of the outer wheel in "
                                              "a left turn, instead of the hand wheel's range.")] = None,
    radius: Annotated[float, typer.Option("--radius", metavar="M", help="Radius of the turn whose hand torque is given, in metres.")] = 8.0,
    speed: Annotated[float, typer.Option("--speed", metavar="M_PER_S", help="Speed of that turn in metres per second.")] = 3.0,
    as_json: Json = False,
) -> None:  # fmt: skip
    """Wheel angles over the hand wheel's range, error against ideal, turning circles, lock and hand torque."""
    from sim.study import entries_of
    from viz.commands import angles_result

    loaded, _ = _load(scenario)
    _check_turn(radius, speed)
    rows = _numbers(outer, "--outer", 0.0, 89.0) if outer is not None else None
    entries = entries_of(loaded, scenario)
    _announce_first_use()
    result = angles_result(loaded, entries, rows, radius, speed)
    if as_json:
        _print_json(result)
        return
    from viz.tables import angles_report

    _print(angles_report(result))


@app.command()
def corner(
    scenario: ScenarioName,
    radius: Annotated[float, typer.Option("--radius", metavar="M", help="Radius of the mass centre's path in metres; positive to "
                                          "the left.")],
    speed: Annotated[float, typer.Option("--speed", metavar="M_PER_S", help="Speed of the mass centre in metres per second.")],
    ladder: Annotated[bool, typer.Option("--ladder", help="Show the same turn on every rung of the ladder of models.")] = False,
    as_json: Json = False,
) -> None:  # fmt: skip
    """The steady turn of every set-up, wheel by wheel."""
    from sim.study import entries_of
    from viz.commands import corner_result

    loaded, _ = _load(scenario)
    _check_turn(radius, speed)
    entries = entries_of(loaded, scenario)
    _announce_first_use()
    result = corner_result(loaded, entries, radius, speed, ladder)
    if as_json:
        _print_json(result)
        return
    from viz.tables import corner_report

    _print(corner_report(result))


@app.command()
def knock(
    scenario: ScenarioName,
    step: Annotated[float, typer.Option("--step", metavar="MM", help="Height of the step that one wheel meets, in millimetres.")] = 20.0,
    speed: Annotated[float, typer.Option("--speed", metavar="M_PER_S", help="Speed at which it meets it, in metres per second.")] = 3.0,
    out: Annotated[Path | None, typer.Option("--out", metavar="FILE.png", help="The plot. Left out: NAME-knock.png in this folder; with "
                                             "--json, none.")] = None,
    as_json: Json = False,
) -> None:  # fmt: skip
    """Kick-back lever arms, hand torque over a step, tip margin."""
    from viz.knock import knock_report, knock_result, write_knock_plot

    loaded, path = _load(scenario)
    radius = loaded.car.wheel_radius_mm
    if not 0 < step <= 0.5 * radius:
        problem = f"{step:g} is not between 0 and half the wheel radius ({0.5 * radius:g})"
        raise InputError("--step", "", problem, "give the step in millimetres")
    if not 0.1 <= speed <= 20:
        raise InputError("--speed", "", f"{speed:g} is not between 0.1 and 20", "give the speed in metres per second")
    result = knock_result(loaded, scenario, step, speed)
    plot = out if out is not None else None if as_json else Path(f"{path.stem}-knock.png")
    if plot is not None:
        write_file(plot, ".png", lambda made: write_knock_plot(result, made))
    if as_json:
        _print_json(result)
    else:
        _print([*knock_report(result), f"Written to {plot}"])


@app.command()
def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The scenario file to write; an existing file is left alone.")],
    as_json: Json = False,
) -> None:
    """Write a commented starter scenario that runs as it is."""
    from sim.scenario_file import shipped_folder

    text = (shipped_folder() / "starter.toml").read_text(encoding="utf-8")
    try:
        with open(file, "x", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
    except FileExistsError:
        raise InputError(str(file), "", "there is something of this name already", "choose another name") from None
    except OSError as error:
        raise InputError(str(file), "", f"the file can't be written ({error.strerror})", "check the folder and its rights") from None
    if as_json:
        _print_json({"written": str(file)})
    else:
        _write(f"Wrote {file}. Change it in any text editor, then: scrubwise run {file}\n")


def _load(name: str):
    from sim.scenario_file import find_scenario, load_scenario

    path = find_scenario(name)
    return load_scenario(path, name), path


def _check_turn(radius: float, speed: float) -> None:
    if not 0.5 <= abs(radius) <= 10_000:
        problem = f"{radius:g} is not between 0.5 and 10000 in size"
        raise InputError("--radius", "", problem, "give the radius in metres, positive to the left")
    if not 0.01 <= speed <= 40:
        raise InputError("--speed", "", f"{speed:g} is not between 0.01 and 40", "give the speed in metres per second")


def _numbers(text: str, option: str, low: float, high: float) -> list[float]:
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


def _announce_first_use() -> None:
    from sim.compiled import CACHE, first_use

    if first_use():
        again = "every time, since no folder for it can be written" if CACHE is None else "this once"
        typer.echo(f"Preparing the fast code for this machine, about 15 seconds, {again} ...", err=True)


@contextmanager
def _progress(what: str, quiet: bool) -> Iterator[Callable[[int, int, str], None]]:
    """A progress line on a terminal; elsewhere only a word, at the first step, when the fast code must be made.

    By the first step the input has been checked: bad input ends with one line and nothing before it.
    """

    told = False

    def announced(done: int, of: int, name: str) -> None:
        nonlocal told
        if not told:
            _announce_first_use()
        told = True

    if quiet or not sys.stderr.isatty():
        yield announced
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=None)

        def shown(done: int, of: int, name: str) -> None:
            announced(done, of, name)
            bar.update(task, completed=done, total=of, description=f"{what} {name[:40]}")

        yield shown


def _print_json(result: dict[str, Any]) -> None:
    _write(json.dumps(result, indent=2, allow_nan=False) + "\n")


def _print(renderables: list[Any]) -> None:
    """Print to the terminal at its width, or plainly to a file or pipe; a table is never squeezed until figures are lost."""
    from rich.console import Console
    from rich.table import Table

    text, terminal = io.StringIO(), sys.stdout.isatty()
    console = Console(file=text, force_terminal=terminal, no_color=not terminal, highlight=False, markup=False, soft_wrap=False)
    width = console.width if terminal else 120
    for renderable in renderables:
        console.width = max(width, TABLE_WIDTH) if isinstance(renderable, Table) else width
        console.print(renderable)
    _write(text.getvalue())


def _write(text: str) -> None:
    """Write to standard output, at once, so that a fault of the pipe or drive behind it shows here and not while Python ends.

    A reader who has gone is no fault.  Raises InputError where nothing can be written.
    """
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except OSError as error:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # or the rest would be tried again at the end
        if not isinstance(error, BrokenPipeError):
            raise InputError("standard output", "", f"it can't be written ({error.strerror})", "make room or print elsewhere") from None


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
    os.write(2, f"{shown}{STOPPED}\n".encode())
    os._exit(INTERRUPTED)


def _end(line: str, code: int) -> None:
    print(line, file=sys.stderr)  # noqa: T201
    sys.exit(code)


if __name__ == "__main__":
    main()
