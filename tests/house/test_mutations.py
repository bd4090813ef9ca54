"""The suite sees the mistakes that people make in formulas: tests/benchmarks/mutations.py, which takes some minutes."""

import ast
import re
import runpy
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).parents[1] / "benchmarks" / "mutations.py"


def test_every_mistake_still_fits_its_file():
    """A formula that was written anew left the script without one of its mistakes, and a test that became slow left it without that one."""
    mistakes = runpy.run_path(str(SCRIPT))["MUTATIONS"]
    sim = SCRIPT.parents[2] / "sim"
    assert len(mistakes) >= 30
    assert [one.old for one in mistakes if (sim / one.file).read_text(encoding="utf-8").count(one.old) != 1] == []
    for mistake, test in ((one, test) for one in mistakes for test in one.tests):
        file, _, name = test.partition("::")
        tree = ast.parse((SCRIPT.parents[1] / file).read_text(encoding="utf-8"))
        left_out = {"pytest.mark.slow"} if mistake.compiled else {"pytest.mark.slow", "pytest.mark.compiled"}
        quick = [
            node.name for node in tree.body if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
            and not left_out & set(map(ast.unparse, node.decorator_list))
        ]  # fmt: skip
        assert name in quick if name else quick, (file, name)


@pytest.mark.target("T29", what="Mistakes made on purpose in the physics, one at a time, that the tests notice", asked="30 of 30")
@pytest.mark.slow
def test_every_mistake_is_noticed(within_target):
    done = subprocess.run([sys.executable, str(SCRIPT)], capture_output=True, text=True, check=False)
    noticed, tried = map(int, re.search(r"^(\d+) of (\d+) caught", done.stdout, re.MULTILINE).groups())
    assert tried >= 30
    within_target(noticed - tried + 30, at_least=30, of="of 30")
    assert done.returncode == 0, done.stdout
