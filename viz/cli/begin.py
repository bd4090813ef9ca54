"""Commands with which a scenario begins: `new` and `measure`."""

from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Annotated

import typer

from sim.errors import InputError
from viz.cli.shell import INTERRUPTED, PIPE_WIDTH, Json, load, patience, print_json, quoted, write
from viz.shared.keyboard import LEAVE

if TYPE_CHECKING:
    from sim.linkages.kind import Kind


def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The scenario file to write, something.toml; an existing file is left alone, "
                                         "but for --ask, which goes on with it.")],
    like: Annotated[str | None, typer.Option("--like", metavar="LINKAGE", help="A car with this kind of front end; any other word "
                                             "lists the kinds. Left out: a short starter.")] = None,
    ask: Annotated[bool, typer.Option("--ask", help="Ask for each number in turn and check it at once; the file is kept after each "
                                      "answer, and the same command goes on.")] = False,
    as_json: Json = False,
) -> None:  # fmt: skip
    """Write a commented scenario to begin with, or ask for its numbers one by one."""
    from sim.scenario.file import shipped_folder
    from viz.new.text import find_kind, open_lines, scenario_text
    from viz.shared.files import write_new

    if file.suffix.lower() != ".toml":
        better = file.with_suffix(".toml") if file.name else "my-car.toml"
        raise InputError(str(file), "", "the name does not end in .toml", f"call it {better}")
    kind = find_kind(like) if like is not None else None
    if ask:
        _ask(file, kind, as_json)
        return
    text = scenario_text(kind) if kind is not None else (shipped_folder() / "starter.toml").read_text(encoding="utf-8")
    try:
        write_new(file, text)
    except FileExistsError:
        raise InputError(str(file), "", "there is something of this name already", "choose another name") from None
    except OSError as error:
        raise InputError(str(file), "", f"the file can't be written ({error.strerror})", "check the folder and its rights") from None
    left = len(open_lines(text))
    if as_json:
        print_json({"written": str(file), "to_measure": left})
        return
    words = f"Wrote {file}. Change it in any text editor, then: scrubwise run {quoted(file)}\n"
    if left:
        words = (f"Wrote {file}. To measure still: {left} numbers, marked MEASURE:\n"
                 f"  sheets to fill in: scrubwise measure {quoted(file)} --out measure.pdf\n"
                 f"  asked one by one: scrubwise new {quoted(file)} --ask\n"
                 f"Then: scrubwise run {quoted(file)}\n")  # fmt: skip
    write(words)


def _ask(file: Path, kind: "Kind | None", as_json: bool) -> None:
    """Ask for the numbers of a new scenario, its name and its course, or for those that are still to measure in one that was begun."""
    from viz.new.ask import Interview, built_kind, choose_kind, sheet_words
    from viz.new.course import ask_course, ask_title
    from viz.new.text import find_kind, open_lines, scenario_text
    from viz.shared.files import interruptible

    begun = _begun(file, kind)
    # With --json standard output holds one document alone.
    interview = Interview(file, begun, lambda text: _said(text, as_json), lambda prompt: _heard(prompt, as_json))
    code = 0
    try:
        with interruptible():
            interview.say("Enter keeps what stands in brackets; `back` goes back; `?` helps; "
                          "`q` or Ctrl-C stops, and what was answered is kept.")  # fmt: skip
            if begun and (found := built_kind(begun)) is not None:
                interview.say(sheet_words(found))
            if not begun:
                kind = kind or find_kind(choose_kind(interview))
                interview.say(sheet_words(kind))
                interview.text = scenario_text(kind)
                interview.write()
                interview.drive()
                ask_title(interview)
                ask_course(interview)
            interview.numbers()
    except (EOFError, KeyboardInterrupt) as stopped:
        code = INTERRUPTED if isinstance(stopped, KeyboardInterrupt) else 0
        interview.say("")
    if interview.text:
        interview.write()  # once more, where the last answer's own writing was cut short
    left = len(open_lines(interview.text))
    if as_json:
        print_json({"written": str(file) if interview.text else None, "answered": interview.answered, "to_measure": left})
    elif interview.text:
        write(_kept_words(file, interview.answered, left) + interview.misfit())
    raise typer.Exit(code)


def _begun(file: Path, kind: "Kind | None") -> str:
    """The text of a file that was begun, empty where there is none.  Raises InputError where nothing in it is to be asked."""
    from sim.scenario.file import MARK, read_text
    from viz.new.text import open_lines

    if not file.exists():
        return ""
    if kind is not None:
        raise InputError(str(file), "", "the file is there already, with its own front end", "leave --like out to go on with it")
    text = read_text(file, str(file))
    if not open_lines(text) and _whole(text, file):
        problem = "nothing is left to ask: every number of this car has been given, and the file stays as it is"
        remedy = f"see it with `scrubwise angles {file}`, change a number in a text editor, or choose another name for another car"
        raise InputError(str(file), "", problem, remedy)
    if not open_lines(text):
        raise InputError(str(file), "", f"there is something of this name already, and no line of it has {MARK}", "choose another name")
    return text


def _whole(text: str, file: Path) -> bool:
    """Whether a text is a scenario without a fault."""
    from sim.scenario.file import check_scenario, parse_toml

    try:
        check_scenario(parse_toml(text, str(file), ""), str(file))
    except InputError:
        return False
    return True


def _said(text: str, as_json: bool) -> None:
    typer.echo("\n".join(fill(line, PIPE_WIDTH - 2, subsequent_indent="  ") for line in text.split("\n")), err=as_json)


def _heard(prompt: str, as_json: bool) -> str:
    typer.echo(prompt, nl=False, err=as_json)
    answer = input()
    if answer.strip().casefold() in LEAVE:
        raise EOFError  # as at the end of what is typed
    return answer


def _kept_words(file: Path, answered: int, left: int) -> str:
    answers = "1 answer" if answered == 1 else f"{answered} answers"
    if left:
        are = "1 number is" if left == 1 else f"{left} numbers are"
        return f"\nKept {answers} in {file}; {are} still to measure. Go on: scrubwise new {quoted(file)} --ask\n"
    return f"\nKept {answers} in {file}. Next: scrubwise angles {quoted(file)}, then scrubwise run {quoted(file)}\n"


def measure(
    scenario: Annotated[str | None, typer.Argument(metavar="SCENARIO", help="A scenario whose known numbers are printed. Left out: "
                                                   "blanks alone.", show_default=False)] = None,
    out: Annotated[Path, typer.Option("--out", metavar="FILE.pdf", help="The PDF to write or replace.")] = ...,  # type: ignore[assignment]
    setup: Annotated[str | None, typer.Option("--setup", metavar="NAME", help="The set-up, by name, number or the name's beginning; left "
                                              "out: the first that is built of parts.")] = None,
    like: Annotated[str | None, typer.Option("--like", metavar="LINKAGE", help="Without a scenario: the kind of front end; any other word "
                                             "lists the kinds.")] = None,
    paper: Annotated[str, typer.Option("--paper", metavar="SIZE", help="a4 or letter.")] = "a4",
    as_json: Json = False,
) -> None:  # fmt: skip
    """Sheets to fill at the car with a tape: drawings with letters, and a blank for each number."""
    from viz.new.measure import measure_result
    from viz.shared.files import write_file

    if scenario is not None and like is not None:
        raise InputError("--like", "", "the scenario has its own front ends", "leave one of the two out, or choose with --setup")
    if scenario is None and setup is not None:
        raise InputError("--setup", "", "a set-up is one of a scenario's", "add SCENARIO, or choose with --like")
    loaded, path = load(scenario) if scenario is not None else (None, None)
    plan = measure_result(loaded, path, scenario or "", setup, like, paper)
    pages = 0

    def draw(made: Path) -> None:
        nonlocal pages
        from viz.new.sheets import write_sheets

        pages = write_sheets(made, plan)

    with patience("Drawing the sheets", "about 2 seconds", as_json):
        write_file(out, ".pdf", draw)
    if as_json:
        print_json({"written": str(out), "pages": pages, "setup": plan.setup.name, "numbers": plan.lines})
    else:
        write(f"Written to {out}: {pages} pages, {paper}, for a front end like \"{plan.setup.kind.name}\".\n"
              f"Print it, fill it in at the car, then: {_next_words(scenario, path, plan.setup.kind.name)}\n")  # fmt: skip


def _next_words(scenario: str | None, path: Path | None, kind: str) -> str:
    """Where the numbers of the sheets go: into the file at hand while some are missing in it, else by hand; or into a new one."""
    from viz.new.text import open_lines

    if scenario is None or path is None or not scenario.endswith(".toml"):  # a shipped one, which nobody changes
        return f'scrubwise new my-car.toml --like "{kind}" --ask'
    if open_lines(path.read_text(encoding="utf-8")):
        return f"scrubwise new {quoted(scenario)} --ask"
    return f"write them into {scenario}, by their keys"
