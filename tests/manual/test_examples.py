"""The manual cannot go stale: its commands run, what it shows is what they print, and every key, bound and default in it is true.

`pytest tests/manual/test_examples.py --store-answers` writes what its examples print into README.md anew.
"""

import re
import shlex
import sys
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel

from sim.scenario.file import shipped_folder, shipped_names
from sim.scenario.scenario import Scenario
from viz.cli.entry import app, main

MANUAL = Path(__file__).parents[2] / "README.md"
TEXT = MANUAL.read_text(encoding="utf-8")
# A fenced block that begins with a command holds what the command prints.
BLOCK = re.compile(r"^```\n\$ (scrubwise [^\n]*)\n(.*?)^```$", re.M | re.S)
BLOCKS = {match[1]: match[2] for match in BLOCK.finditer(TEXT)}
COMMANDS = {command.callback.__name__ for command in app.registered_commands}
NUMBER = re.compile(r"(?<![\w.])[-+]?\d+(?:\.\d+)?(?:e[-+]\d+)?(?![\w]|\.\d)")


@pytest.fixture
def printed(tmp_path, monkeypatch, capsys):
    """What a command line prints, in an empty folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setattr(sys, "excepthook", sys.excepthook)
    monkeypatch.setattr("sim.kernels.compiled.first_use", lambda kernel: False)

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


@pytest.mark.parametrize("line", BLOCKS)
def test_block_shows_what_the_command_prints(line, printed, request):
    now = printed(line)
    if request.config.getoption("--store-answers"):
        text = MANUAL.read_text(encoding="utf-8")
        MANUAL.write_text(BLOCK.sub(lambda match: f"```\n$ {line}\n{now}```" if match[1] == line else match[0], text), encoding="utf-8")
        pytest.skip("written anew")
    shown = BLOCKS[line]
    assert shown, f"README.md shows nothing for `{line}`; run pytest tests/manual/test_examples.py --store-answers"
    if "--help" in line:
        assert shown == now
    else:
        figures_agree(shown, now)


def test_help_of_every_command_is_shown():
    assert {f"scrubwise {name} --help" for name in COMMANDS} == {line for line in BLOCKS if "--help" in line}


def named_lines():
    """Every command line in the manual, whole or with placeholders."""
    inline = re.findall(r"`(scrubwise [^`\n]+)`", TEXT)
    installed = re.findall(r"(?:bin/|Scripts\\)(scrubwise [^`\n]+)$", TEXT, re.M)
    return list(dict.fromkeys([*inline, *installed, *BLOCKS]))


@pytest.mark.parametrize("line", named_lines())
def test_command_line_names_a_command_and_options_that_there_are(line, printed):
    command, *words = shlex.split(line)[1:]
    assert command in COMMANDS
    known = printed(f"scrubwise {command} --help")
    for word in words:
        if word.startswith("--"):
            assert re.search(rf"(?<![\w-]){word}(?![\w-])", known), word


def runs_as_it_stands(line):
    """More than the command's name, no placeholder in capitals, and no file that the reader is to bring."""
    words = shlex.split(line)[2:]
    return words and not any(word.isupper() or re.search(r"\.(csv|pdf|toml)$", word) for word in words if not word.startswith("--"))


@pytest.mark.parametrize("line", [
    pytest.param(line, marks=[pytest.mark.slow] if "race-day" in line else []) for line in named_lines()
    if line not in BLOCKS and runs_as_it_stands(line)
])  # fmt: skip
def test_command_line_runs(line, printed):
    assert printed(line)


def test_own_car(printed, tmp_path):
    assert "`scrubwise new my-car.toml`" in TEXT
    assert "`scrubwise run my-car.toml`" in TEXT
    printed("scrubwise new my-car.toml")
    assert printed("scrubwise run my-car.toml").endswith("Written to my-car-run\n")


# --- shipped scenarios ------------------------------------------------------------------------------------------------


def test_every_shipped_scenario_is_described():
    table = TEXT.partition("## The shipped scenarios")[2].partition("\n## ")[0]
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
    manual = TEXT.partition("## The scenario\n")[2].partition("\n## ")[0]
    assert re.search(rf"`[^`\n]*(?<![\w.]){key}(?!\w)[^`\n]*`|\[{key}\]|\.{key}\]", manual) or key == "title"


def manual_rows():
    """Rows of the manual's tables of keys: (models, keys, cells by heading)."""
    manual = TEXT.partition("## The scenario\n")[2].partition("\n## ")[0]
    for block in re.findall(r"(?:^\|.*\n)+", manual, re.M):
        head, _, *body = ([cell.strip() for cell in line.strip("|\n").split("|")] for line in block.splitlines())
        places = re.findall(r"\[([\w.]+)\]", head[0])
        meant = [model for place, model in TABLES if place in places]
        assert meant, head
        for row in body:
            yield meant, re.findall(r"`(\w+)`", row[0]), dict(zip(head, row, strict=True))


ROWS = list(manual_rows())


def fields_of(meant, key):
    found = [model.model_fields[key] for model in meant if key in model.model_fields]
    assert found, f"{key} is no key of {meant}"
    return found


@pytest.mark.parametrize(("meant", "keys", "cells"), ROWS, ids=[",".join(keys) for _, keys, _ in ROWS])
def test_row_of_the_manual_is_true(meant, keys, cells):
    assert keys
    for key in keys:
        fields_of(meant, key)
    bounds = re.match(r"(-?[\d.]+) to (-?[\d.]+)", cells.get("allowed", ""))
    if bounds:
        for field in (field for key in keys for field in fields_of(meant, key)):
            marks = {name: getattr(mark, name) for mark in field.metadata for name in ("ge", "le") if hasattr(mark, name)}
            assert (marks["ge"], marks["le"]) == (float(bounds[1]), float(bounds[2]))
    stated = re.search(r"(-?[\d.]+) unless given", cells.get("meaning", ""))
    defaults = [part.strip() for part in cells["unless given"].split(",")] if cells.get("unless given") else []
    if stated:
        defaults = [stated[1]] if len(keys) == 1 else []
    if not defaults:
        return
    assert len(defaults) == len(keys)
    for key, default in zip(keys, defaults, strict=True):
        (value,) = {field.default if not field.is_required() else None for field in fields_of(meant, key)}
        if default in ("-", "rolling", "none"):
            assert value is None
        elif default.startswith("`"):
            assert value == {"true": True, "false": False}.get(default.strip("`"), default.strip('`"'))
        else:
            assert value == float(default)


def test_every_default_of_tyre_and_pace_is_stated():
    for meant, keys, cells in ROWS:
        if "unless given" in cells:
            for key in keys:
                optional = any(not field.is_required() and field.default is not None for field in fields_of(meant, key))
                assert not optional or cells["unless given"], key
