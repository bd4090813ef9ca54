"""The glossary of DEVELOPERS.md and the code say the same words."""

import ast
import re
from pathlib import Path

import pytest

import sim

SIM = Path(sim.__file__).parent
TABLE = re.search(r"^## Names\n(.*?)^## ", (SIM.parent / "DEVELOPERS.md").read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)
ROWS = [line for line in TABLE.group(1).splitlines() if line.startswith("| `")]
NAMES = [name for row in ROWS for name in re.findall(r"`([A-Za-z_]+)`", row.split(" | ")[0] + " ".join(row.split(" | ")[1:2]))]
# Words of this project alone that gave way to the field's; none comes back as a part of a name where kernels live.
GONE = {"wish", "sight", "heard", "told", "borrower", "crew", "effort", "seen", "tell", "wishes"}
KERNEL_ROOMS = ["kernels", "car", "pace", "lap"]


def named(tree):
    """Names that a module defines: functions, classes, parameters, fields, variables and attributes."""
    for node in ast.walk(tree):
        if isinstance(node, (ast.FunctionDef, ast.ClassDef)):
            yield node.name
        elif isinstance(node, ast.arg):
            yield node.arg
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            yield node.id
        elif isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Store):
            yield node.attr


def names_of(files):
    return {name for file in files for name in named(ast.parse(file.read_text(encoding="utf-8")))}


def test_there_is_a_glossary():
    assert len(ROWS) > 20
    assert {"steer", "steers", "Pose", "WheelColumn", "no_refcount", "sliding_share"} <= set(NAMES)


def test_each_name_of_the_glossary_is_one_of_the_code():
    assert not set(NAMES) - names_of(SIM.rglob("*.py"))


@pytest.mark.parametrize("room", KERNEL_ROOMS)
def test_words_that_gave_way_do_not_come_back(room):
    parts = {part.lower(): name for name in names_of((SIM / room).rglob("*.py")) for part in name.split("_")}
    assert not {parts[word] for word in GONE & parts.keys()}


def test_a_word_that_comes_back_is_found(tmp_path):
    (tmp_path / "late.py").write_text("def see(sight):\n    wish_of, x = sight\n    return x\n", encoding="utf-8")
    parts = {part for name in names_of([tmp_path / "late.py"]) for part in name.split("_")}
    assert parts & GONE == {"sight", "wish"}
