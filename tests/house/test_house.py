"""The walls of the house: sim knows no screen, prints nothing, and every file says what it is."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import sim

SIM = Path(sim.__file__).parent
FILES = sorted(SIM.rglob("*.py"))
NO_BUSINESS = ["viz", "matplotlib", "typer", "rich", "pygame"]


def test_sim_knows_no_screen():
    modules = [
        ".".join(file.relative_to(SIM.parent).with_suffix("").parts).removesuffix(".__init__") for file in FILES
    ]
    probe = (
        "import importlib, sys\n"
        f"for name in {modules!r}: importlib.import_module(name)\n"
        f"print(sorted({set(NO_BUSINESS)!r} & {{name.partition('.')[0] for name in sys.modules}}))"
    )
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("file", FILES, ids=lambda file: str(file.relative_to(SIM)))
def test_sim_file(file):
    text = file.read_text(encoding="utf-8")
    tree = ast.parse(text)
    assert ast.get_docstring(tree)
    for node in ast.walk(tree):
        # Also inside functions, where an import may wait
        names = [one.name for one in node.names] if isinstance(node, ast.Import) else []
        names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
        assert not [name for name in names if name.partition(".")[0] in NO_BUSINESS]
        assert not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "print")
