"""The walls of the house: sim knows no screen, prints nothing, and every file says what it is."""

import ast
import subprocess
import sys
from pathlib import Path

import sim

SIM = Path(sim.__file__).parent
FILES = sorted(SIM.rglob("*.py"))
NO_BUSINESS = ["viz", "matplotlib", "typer", "rich", "pygame"]


def test_sim_knows_no_screen():
    modules = [".".join(file.relative_to(SIM.parent).with_suffix("").parts).removesuffix(".__init__") for file in FILES]
    probe = (
        "import importlib, sys\n"
        f"for name in {modules!r}: importlib.import_module(name)\n"
        f"print(sorted({set(NO_BUSINESS)!r} & {{name.partition('.')[0] for name in sys.modules}}))"
    )
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def faults(file):
    """What a file of sim does that it must not."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    if not ast.get_docstring(tree):
        yield "does not say what it is"
    for node in ast.walk(tree):
        # Also inside functions, where an import may wait
        names = [one.name for one in node.names] if isinstance(node, ast.Import) else []
        names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
        yield from (f"imports {name}" for name in names if name.partition(".")[0] in NO_BUSINESS)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "print":
            yield f"prints in line {node.lineno}"


def test_files_of_sim():
    assert {str(file.relative_to(SIM)): list(faults(file)) for file in FILES if any(faults(file))} == {}


def test_a_fault_is_seen(tmp_path):
    file = tmp_path / "odd.py"
    file.write_text("import viz.run\ndef f():\n    from rich.table import Table\n    print(Table)\n", encoding="utf-8")
    assert list(faults(file)) == ["does not say what it is", "imports viz.run", "imports rich.table", "prints in line 4"]


CLOCKS = {"perf_counter", "process_time", "time", "times", "getrusage"}
WAITING = {"monotonic"}  # for another process


def test_no_test_asserts_a_time():
    """Times are measured in tests/benchmarks; a test that asks for one fails on a busy machine.  Waiting for another process is no such."""
    tests = SIM.parent / "tests"
    found = []
    for file in tests.rglob("*.py"):
        if "benchmarks" not in file.parts:
            for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
                inside = ast.walk(node) if isinstance(node, ast.Assert) else [node]
                read = {one.func.attr for one in inside if isinstance(one, ast.Call) and isinstance(one.func, ast.Attribute)}
                if read & (CLOCKS | WAITING if isinstance(node, ast.Assert) else CLOCKS):
                    found.append(f"{file.relative_to(tests)}:{node.lineno}")
    assert found == []
