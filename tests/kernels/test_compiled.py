"""Kernels that do not count who holds an array return none; a numba without that option still compiles them, counting."""

import ast
import importlib
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import numba
import pytest
from numba.core.registry import cpu_target

import sim
from sim.kernels import compiled

SIM = Path(sim.__file__).parent
FREE = {"no_refcount", "inlined_no_refcount"}  # decorators of what does not count


def decorators(node):
    return {one.id for one in node.decorator_list if isinstance(one, ast.Name)}


def array_fields(trees):
    """Named tuples that hold an array, with the fields that are one or hold one."""
    classes = {
        node.name: {one.target.id: ast.unparse(one.annotation) for one in node.body if isinstance(one, ast.AnnAssign)}
        for tree in trees for node in ast.walk(tree)
        if isinstance(node, ast.ClassDef) and any(ast.unparse(base) == "NamedTuple" for base in node.bases)
    }  # fmt: skip
    holders = {}
    while True:
        found = {
            name: {field for field, kind in fields.items() if "ndarray" in kind or set(re.findall(r"\w+", kind)) & holders.keys()}
            for name, fields in classes.items()
        }
        found = {name: fields for name, fields in found.items() if fields}
        if found == holders:
            return holders
        holders = found


def returned_arrays(texts):
    """What is wrong in modules (their texts): returns of arrays by functions that do not count, and arrays that they make."""
    trees = [ast.parse(text) for text in texts]
    holders = array_fields(trees)
    fields = set().union(*holders.values()) if holders else set()
    functions = {node.name: node for tree in trees for node in ast.walk(tree) if isinstance(node, ast.FunctionDef) and decorators(node)}
    givers = set()  # functions known to return an array

    def holds(node, arrays):
        """Whether an expression is an array or a tuple that holds one."""
        if isinstance(node, ast.Name):
            return node.id in arrays
        if isinstance(node, ast.Attribute):
            return node.attr in fields
        if isinstance(node, ast.Subscript):
            # One value of an array by its place is a number; a slice counts as an array, also where it is a tuple's.
            return any(isinstance(one, ast.Slice) for one in ast.walk(node.slice))
        if isinstance(node, ast.Call):
            name = ast.unparse(node.func)
            return name in holders or name in givers or name.startswith("np.") or name.endswith((".copy", ".reshape"))
        if isinstance(node, (ast.Tuple, ast.List)):
            return any(holds(one.value if isinstance(one, ast.Starred) else one, arrays) for one in node.elts)
        if isinstance(node, ast.IfExp):
            return holds(node.body, arrays) or holds(node.orelse, arrays)
        return False

    def arrays_of(function):
        """Local names that are arrays: parameters that are written to or are flat, and what is assigned from them."""
        doc = ast.get_docstring(function) or ""
        parameters = {one.arg for one in function.args.args}
        arrays = {
            one.value.id for one in ast.walk(function)
            if isinstance(one, ast.Subscript) and isinstance(one.value, ast.Name)
            and (isinstance(one.ctx, ast.Store) or isinstance(one.slice, ast.Tuple))
        }  # fmt: skip
        arrays |= {name for name in parameters if re.search(rf"\b{name}\b[\w, ]* : [^;:]*(\bflat\b|written|\(n\b|STATES)", doc)}
        for _ in range(5):
            for one in ast.walk(function):
                if not isinstance(one, ast.Assign):
                    continue
                for target in one.targets:
                    if isinstance(target, ast.Tuple) and isinstance(one.value, ast.Tuple):
                        pairs = list(zip(target.elts, one.value.elts, strict=True))
                    else:
                        pairs = [(part, one.value) for part in (target.elts if isinstance(target, ast.Tuple) else [target])]
                    arrays |= {part.id for part, value in pairs if isinstance(part, ast.Name) and holds(value, arrays)}
        return arrays

    while True:
        found = {
            name for name, function in functions.items()
            if any(isinstance(one, ast.Return) and one.value and holds(one.value, arrays_of(function)) for one in ast.walk(function))
        }  # fmt: skip
        if found == givers:
            break
        givers |= found
    wrong = sorted(name for name in givers if decorators(functions[name]) & FREE)
    lines = [f"{name} returns an array" for name in wrong]
    for name, function in sorted(functions.items()):
        if decorators(function) & FREE:
            calls = [ast.unparse(one.func) for one in ast.walk(function) if isinstance(one, ast.Call)]
            lines += [f"{name} calls {call}, which makes an array" for call in calls if call.startswith("np.") or call in givers]
    return lines


@pytest.mark.slow
def test_what_does_not_count_returns_no_array():
    texts = [file.read_text(encoding="utf-8") for file in sorted(SIM.rglob("*.py"))]
    assert sum(len(re.findall(r"^@(?:inlined_)?no_refcount$", text, re.MULTILINE)) for text in texts) > 15
    assert returned_arrays(texts) == []


CELLS = "class Cells(NamedTuple):\n    cells: np.ndarray\n    row: int\n\n\nclass Held(NamedTuple):\n    inner: Cells\n\n\n"


@pytest.mark.parametrize(("body", "line"), [
    ("@no_refcount\ndef part(a, b):\n    return a[1:b]\n", "part returns an array"),
    ("@no_refcount\ndef made(n):\n    return np.empty(n)\n", "made returns an array"),
    ("@inlined_no_refcount\ndef within(a, b):\n    return a[1:b]\n", "within returns an array"),
    ("@no_refcount\ndef cells_of(c, row):\n    return Cells(c, row)\n", "cells_of returns an array"),
    ("@no_refcount\ndef held_of(cells):\n    return 1.0, Held(cells)\n", "held_of returns an array"),
    ("@no_refcount\ndef field(one):\n    return one.cells\n", "field returns an array"),
    ("@no_refcount\ndef written(a, x):\n    a[0] = x\n    return a\n", "written returns an array"),
    ("@no_refcount\ndef named(a, x):\n    b, c = a[1:], x\n    return x, b\n", "named returns an array"),
    (
        "@kernel\ndef fresh(n):\n    return np.zeros(n)\n\n\n@no_refcount\ndef asks(n):\n    return fresh(n)[0]\n",
        "asks calls fresh, which makes an array",
    ),
    (
        "@inlined\ndef deep(one):\n    return one.cells\n\n\n@no_refcount\ndef outer(one):\n    x = deep(one)\n    return x\n",
        "outer returns an array",
    ),
])  # fmt: skip
def test_the_check_sees_a_breach(body, line):
    assert line in returned_arrays([CELLS + body])


@pytest.mark.parametrize("body", [
    "@no_refcount\ndef value(a, i):\n    return a[i], a[i + 1] * 2.0\n", "@no_refcount\ndef same(sides, brush):\n    return sides\n",
    "@kernel\ndef counted(n):\n    return np.zeros(n)\n", "@no_refcount\ndef first(one, k):\n    return one.cells[k]\n",
    "@no_refcount\ndef written(a, x):\n    a[0] = x\n    return a[0]\n",
])  # fmt: skip
def test_numbers_and_tuples_of_them_are_no_arrays(body):
    assert returned_arrays([CELLS + body]) == []


@pytest.mark.target("T22", what="Every kernel of sim is compiled without fast-math", asked="all")
def test_no_kernel_is_compiled_with_fast_math():
    """It would drop checks for what is no number and change the order of sums."""
    found = 0
    for file in sorted(SIM.rglob("*.py")):
        if re.search(r"^@(kernel|inlined|(inlined_)?no_refcount)$", file.read_text(encoding="utf-8"), re.MULTILINE):
            module = importlib.import_module(".".join(file.relative_to(SIM.parent).with_suffix("").parts))
            for made in vars(module).values():
                if hasattr(made, "targetoptions"):
                    assert not made.targetoptions.get("fastmath"), made
                    found += 1
    assert numba.config.DISABLE_JIT or found > 50


def test_numba_is_held_to_versions_that_were_tried():
    with (SIM.parent / "pyproject.toml").open("rb") as file:
        wanted = [one for one in tomllib.load(file)["project"]["dependencies"] if one.startswith("numba")]
    bounds = re.fullmatch(r"numba>=([\d.]+),<([\d.]+)", wanted[0])
    assert bounds, wanted
    low, high = (tuple(int(part) for part in bound.split(".")) for bound in bounds.groups())
    installed = tuple(int(part) for part in numba.__version__.split(".")[:2])
    assert low <= installed < high
    assert high == (installed[0], installed[1] + 1)


def test_this_numba_has_the_option():
    assert compiled.without_refcount() == compiled.NO_REFCOUNT == {"_nrt": False}
    assert compiled.SPEED_NOTES == ()


def test_a_numba_that_refuses_the_option_is_asked_without_it(monkeypatch):
    def refuse(flags, options):
        raise KeyError(f"Unrecognized options: {set(options)}")

    monkeypatch.setattr(cpu_target.options, "parse_as_flags", refuse)
    assert compiled.without_refcount() == {}


WITHOUT = """
from numba.core.cpu import CPUTargetOptions
from numba.core.options import DefaultOptions
for one in CPUTargetOptions.__mro__:
    if "_nrt" in vars(one):
        delattr(one, "_nrt")
import numba
try:
    numba.njit(_nrt=False)(lambda x: x)(1.0)
    raise SystemExit("the option is still there")
except KeyError:
    pass
from sim.kernels import compiled
from sim.kernels.cubics import cell_of
print(compiled.NO_REFCOUNT, len(compiled.SPEED_NOTES), cell_of(2.5, 1.0, 4), bool(cell_of.signatures))
print(compiled.SPEED_NOTES[0])
"""


@pytest.mark.slow
def test_without_the_option_kernels_compile_and_a_note_says_so(tmp_path):
    # A cache of its own: this process compiles otherwise than the option's users.
    settings = os.environ | {"XDG_CACHE_HOME": str(tmp_path), "LOCALAPPDATA": str(tmp_path), "NUMBA_DISABLE_JIT": "0"}
    done = subprocess.run([sys.executable, "-c", WITHOUT], env=settings, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    first, note = done.stdout.splitlines()
    assert first == "{} 1 (2, 0.5) True"
    assert "longer" in note


@pytest.mark.parametrize(("features", "asked", "told"), [
    ("+avx,+avx2,+avx512f", None, "+avx,+avx2,+avx512f,-prefer-256-bit"), ("+avx,+avx2,-avx512f", None, None), ("+neon", None, None),
    ("+avx,+avx512f", "+avx", "+avx"),
])  # fmt: skip
def test_the_widest_registers_are_asked_for_where_there_are_any(monkeypatch, features, asked, told):
    monkeypatch.setattr(compiled, "get_host_cpu_features", lambda: features)
    monkeypatch.setattr(numba.config, "CPU_FEATURES", asked)
    compiled._widest_registers()
    assert told == numba.config.CPU_FEATURES


def test_where_nothing_is_compiled_nobody_is_told_to_wait_for_it(monkeypatch):
    """With the compiler off a command said that it prepares the fast code, and then did not."""
    monkeypatch.setattr(compiled, "CACHE", None)
    monkeypatch.setattr(numba.config, "DISABLE_JIT", 0)
    assert compiled.first_use("drive.integrate")
    monkeypatch.setattr(numba.config, "DISABLE_JIT", 1)
    assert not compiled.first_use("drive.integrate")
