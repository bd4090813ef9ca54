"""README and manual cannot go stale: their commands run, what they show is what is printed, and every key, bound and default is true.

`pytest tests/manual/test_examples.py --store-answers` writes what their examples print anew.
"""

import re
import shlex
import sys
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel

from sim.scenario.file import shipped_folder, shipped_names
from sim.scenario.measured import measured_table
from sim.scenario.scenario import Scenario
from viz.cli.entry import app, main
from viz.manual.pages import FOLDER, PAGES

README = Path(__file__).parents[2] / "README.md"
FILES = [README, *(FOLDER / f"{topic}.md" for topic in PAGES)]
TEXTS = {file: file.read_text(encoding="utf-8") for file in FILES}
SCENARIO = TEXTS[FOLDER / "scenario.md"]
WIDTH = 78  # columns of what the examples print, as a terminal of usual width shows it
# A fenced block that begins with a command holds what the command prints; where it ends in "...", the beginning of that.
BLOCK = re.compile(r"^```\n\$ (scrubwise [^\n]*)\n(.*?)^```$", re.M | re.S)
BLOCKS = [(file, match[1], match[2]) for file, text in TEXTS.items() for match in BLOCK.finditer(text)]
LINES = [line for _, line, _ in BLOCKS]
CUT = "...\n"
COMMANDS = {command.callback.__name__ for command in app.registered_commands}
NUMBER = re.compile(r"(?<![\w.])[-+]?\d+(?:\.\d+)?(?:e[-+]\d+)?(?![\w]|\.\d)")


@pytest.fixture
def printed(tmp_path, monkeypatch, capsys):
    """What a command line prints, in an empty folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setattr(sys, "excepthook", sys.excepthook)
    monkeypatch.setattr("sim.kernels.compiled.first_use", lambda kernel: False)
    monkeypatch.setattr("viz.cli.shell.PIPE_WIDTH", WIDTH)

    def run(line):
        monkeypatch.setattr(sys, "argv", shlex.split(line))
        with pytest.raises(SystemExit) as ended:
            main()
        out, err = capsys.readouterr()
        assert (ended.value.code, err) == (0, "")
        return out

    return run


# --- commands ---------------------------------------------------------------------------------------------------------


def figures_agree(shown, now):
    """The same words, and figures that differ by no more than one in their last digit: what another system may round otherwise."""
    assert NUMBER.sub("#", " ".join(shown.split())) == NUMBER.sub("#", " ".join(now.split()))
    for one, other in zip(NUMBER.findall(shown), NUMBER.findall(now), strict=True):
        if "e" not in one:  # a residual is rounding
            last = 10.0 ** -len(one.partition(".")[2])
            assert float(other) == pytest.approx(float(one), rel=0, abs=1.01 * last), (one, other)


def beginning(shown, now):
    """As many paragraphs of what is printed as a shortened example shows."""
    return "\n\n".join(now.split("\n\n")[: max(1, shown.removesuffix(CUT).rstrip("\n").count("\n\n") + 1)]) + "\n\n"


@pytest.mark.compiled
@pytest.mark.parametrize(("file", "line", "shown"), BLOCKS, ids=[f"{file.stem}: {line}" for file, line, _ in BLOCKS])
def test_block_shows_what_the_command_prints(file, line, shown, printed, request):
    now = printed(line)
    cut = shown.endswith(CUT)
    if request.config.getoption("--store-answers"):
        stored = beginning(shown, now) + CUT if cut else now
        text = file.read_text(encoding="utf-8")
        file.write_text(BLOCK.sub(lambda match: f"```\n$ {line}\n{stored}```" if match[1] == line else match[0], text), encoding="utf-8")
        pytest.skip("written anew")
    assert shown.removesuffix(CUT), f"{file.name} shows nothing for `{line}`; run pytest tests/manual/test_examples.py --store-answers"
    if "--help" in line:
        assert shown == now
    elif cut:
        figures_agree(shown.removesuffix(CUT), beginning(shown, now))
    else:
        figures_agree(shown, now)


def test_a_shortened_example_is_told_from_another_one():
    assert beginning("one\n\ntwo\n\n...\n", "one\n\ntwo\n\nthree\n") == "one\n\ntwo\n\n"
    with pytest.raises(AssertionError):
        figures_agree("one 1\n\n", beginning("one 1\n\n...\n", "one 3\n\ntwo\n"))


def test_help_of_every_command_is_shown():
    assert sorted(line for line in LINES if line.endswith("--help")) == sorted(
        ["scrubwise --help", *(f"scrubwise {name} --help" for name in COMMANDS)]
    )


def named_lines():
    """Every command line in README and manual, whole or with placeholders."""
    text = "\n".join(TEXTS.values())
    inline = re.findall(r"`(scrubwise [^`\n]+)`", text)
    installed = re.findall(r"(?:bin/|Scripts\\)(scrubwise [^`\n]+)$", text, re.M)
    return [line for line in dict.fromkeys([*inline, *installed, *LINES]) if not line.startswith("scrubwise COMMAND")]


@pytest.mark.parametrize("line", named_lines())
def test_command_line_names_a_command_and_options_that_there_are(line, printed):
    words = shlex.split(line)[1:]
    command = [] if words[0].startswith("--") else words[:1]
    assert set(command) <= COMMANDS
    known = printed(shlex.join(["scrubwise", *command, "--help"]))
    for word in words:
        if word.startswith("--"):
            assert re.search(rf"(?<![\w-]){word}(?![\w-])", known), word


def runs_as_it_stands(line):
    """More than the command's name, no placeholder in capitals, no file or folder that the reader is to bring, and no window."""
    command, *words = shlex.split(line)[1:]
    if not words or command == "watch" or "our-contest" in words:
        return False
    return not any(word.isupper() or re.search(r"\.(csv|pdf|toml)$", word) for word in words if not word.startswith("--"))


@pytest.mark.compiled
@pytest.mark.parametrize("line", [
    pytest.param(line, marks=[pytest.mark.slow] if "race-day" in line else []) for line in named_lines()
    if line not in LINES and runs_as_it_stands(line)
])  # fmt: skip
def test_command_line_runs(line, printed):
    assert printed(line)


@pytest.mark.compiled
def test_own_car(printed, tmp_path):
    assert "`scrubwise new my-car.toml`" in TEXTS[FOLDER / "tour.md"]
    assert "`scrubwise run my-car.toml`" in TEXTS[FOLDER / "tour.md"]
    printed("scrubwise new my-car.toml")
    assert printed("scrubwise run my-car.toml").partition("\nWritten to my-car-run\n")[1]


@pytest.mark.slow
@pytest.mark.compiled
def test_own_contest(printed):
    text = TEXTS[FOLDER / "contest.md"]
    assert "`scrubwise contest our-contest`" in text
    assert "`scrubwise contest --copy our-contest`" in text
    said = printed("scrubwise contest --copy our-contest")
    assert said.endswith("scrubwise contest our-contest\n")
    assert Path("our-contest", "rules.toml").is_file()
    assert printed("scrubwise contest our-contest").count("\n") > 5


# --- shipped scenarios ------------------------------------------------------------------------------------------------


def test_every_shipped_scenario_is_described():
    table = TEXTS[FOLDER / "tour.md"].partition("## The shipped scenarios")[2].partition("\n## ")[0]
    assert sorted(re.findall(r"^\| `([\w-]+)` \|", table, re.M)) == shipped_names()


@pytest.mark.parametrize("file", sorted(file for file in shipped_folder().rglob("*") if file.is_file()), ids=lambda file: file.name)
def test_every_shipped_file_says_what_it_is(file):
    if file.suffix in (".toml", ".csv"):
        first = file.read_text(encoding="utf-8").splitlines()[0]
        assert first.startswith("# ")
        assert len(first) > 20
    else:
        assert file.suffix == ".gpx"  # whose origin stands in the scenario that uses it
        assert file.name in (file.with_suffix(".toml")).read_text(encoding="utf-8")


# --- keys -------------------------------------------------------------------------------------------------------------


def models(annotation: Any):
    """The tables that an annotation can hold, however deep they are wrapped."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in getattr(annotation, "__args__", ()):
        yield from models(inner)


def tables(model, place=""):
    """Every table of a scenario by its place: "" is the file itself."""
    yield place, model
    for key, field in model.model_fields.items():
        for inner in models(field.annotation):
            yield from tables(inner, f"{place}.{key}".lstrip("."))


TABLES = list(tables(Scenario))
KEYS = sorted({key for _, model in TABLES for key in model.model_fields})


@pytest.mark.parametrize("key", KEYS)
def test_every_key_is_in_the_manual(key):
    assert re.search(rf"`[^`\n]*(?<![\w.]){key}(?!\w)[^`\n]*`|\[{key}\]|\.{key}\]", SCENARIO)


def manual_rows():
    """Rows of the manual's tables of keys: (models, keys, cells by heading)."""
    for block in re.findall(r"(?:^\|.*\n)+", SCENARIO, re.M):
        head, _, *body = ([cell.strip() for cell in line.strip("|\n").split("|")] for line in block.splitlines())
        places = ["course.segments"] if head[0] == "key of a segment" else re.findall(r"\[([\w.]+)\]", head[0])
        meant = [model for place, model in TABLES if place in places]
        assert meant, head
        for row in body:
            yield meant, re.findall(r"`(\w+)`", row[0]), dict(zip(head, row, strict=True))


ROWS = list(manual_rows())


def fields_of(meant, key):
    found = [fields[key] for model in meant if key in (fields := model.model_fields | measured_table(model).model_fields)]
    assert found, f"{key} is no key of {meant}"
    return found


def bounds_of(field):
    """Least and most of a number, however deep its type is wrapped; empty where there are none."""
    found, within = {}, [*field.metadata, field.annotation]
    while within:
        one = within.pop()
        found |= {name: float(getattr(one, name)) for name in ("ge", "le") if hasattr(one, name)}
        within += [*getattr(one, "__args__", ()), *getattr(one, "__metadata__", ()), *(getattr(one, "metadata", None) or ())]
    return found


@pytest.mark.parametrize(("meant", "keys", "cells"), ROWS, ids=[",".join(keys) for _, keys, _ in ROWS])
def test_row_of_the_manual_is_true(meant, keys, cells):
    assert keys
    stated = re.fullmatch(r"(-?[\d.]+) to (-?[\d.]+)", cells["allowed"])
    assert bool(stated) == bool(cells["allowed"])
    for field in (field for key in keys for field in fields_of(meant, key)):
        assert bounds_of(field) == ({"ge": float(stated[1]), "le": float(stated[2])} if stated else {}), keys
    defaults = [part.strip() for part in cells["unless given"].split(",")] if cells.get("unless given") else []
    if not defaults:
        return
    assert len(defaults) == len(keys)
    for key, default in zip(keys, defaults, strict=True):
        (value,) = {field.default if not field.is_required() else None for field in fields_of(meant, key)}
        if default == "estimated":
            assert fields_of(meant, key)[0].default_factory({"mass_kg": 100.0}) > 0
        elif default == "rolling":
            assert value is None
        elif default.startswith("`"):
            assert value == {"true": True, "false": False}.get(default.strip("`"), default.strip('`"'))
        else:
            assert value == float(default)


def test_bounds_are_found_in_a_type_that_is_wrapped():
    (target,) = (model.model_fields["target_m_per_s"] for place, model in TABLES if place == "pace")
    assert bounds_of(target) == {"ge": 0.3, "le": 20.0}


def test_every_number_has_its_row_with_bounds_and_default():
    rows = {(id(model), key): cells for meant, keys, cells in ROWS for model in meant for key in keys}
    for place, model in TABLES:
        for key, field in model.model_fields.items():
            if place and not list(models(field.annotation)):
                assert (id(model), key) in rows or key in ("uncertainty", "segments"), f"{place}.{key}"
                optional = not field.is_required() and field.default is not None
                assert not optional or rows[id(model), key]["unless given"], f"{place}.{key}"
        for key in measured_table(model).model_fields:
            assert (id(model), key) in rows, f"{place}.{key}"
