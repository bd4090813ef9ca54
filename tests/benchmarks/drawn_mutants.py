"""How many drawn mistakes does the quick suite notice?  python tests/benchmarks/drawn_mutants.py [--count N] [--seed N] [--only ROOM]

Mistakes are drawn over all lines of the physics rooms of `sim`: a sign turned, a term or a factor dropped, sine for cosine, least for most,
a comparison or a branch turned round, a number changed.  Which quick tests run a line is measured first, with kernels as plain Python;
then each mistake is made by itself in a copy of the project, and the tests that reach it run there, the shortest first, until one fails.
Prints what survived, the share that was caught, and ends with exit code 1 where that is below 92 %.  By hand; it takes an hour on two cores.
"""

import argparse
import ast
import json
import os
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import NamedTuple

PROJECT = Path(__file__).resolve().parents[2]
PARTS = ["sim", "viz", "tests", "scenarios", "pyproject.toml", "README.md", "DEVELOPERS.md"]
ROOMS = ("car", "steering", "linkages", "pace", "turn", "lap", "coast", "bench", "study")
TESTS = (*ROOMS, "published", "reference")
ASKED = 0.92  # share that the quick suite is to catch
TESTS_AT_MOST = 40  # of those that reach a line, the shortest; a mistake that they all miss runs the others too
LONGEST = 900  # [s] of one run of tests; a mistake that makes them hang counts as caught, since a suite that hangs is noticed
SWAPPED = {
    "sin": "cos",
    "cos": "sin",
    "min": "max",
    "max": "min",
    "minimum": "maximum",
    "maximum": "minimum",
    "floor": "ceil",
    "ceil": "floor",
}
OPERATORS = {ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*"}
COMPARED = {ast.Lt: ">", ast.Gt: "<", ast.LtE: ">", ast.GtE: "<", ast.Eq: "!=", ast.NotEq: "=="}
SETTINGS = {"NUMBA_DISABLE_JIT": "1", "PYTHONDONTWRITEBYTECODE": "1"}
# Written below the copy's conftest: a drawn case that fails is not made simpler, and how long each test took is written down.
ADDED = """

import json as _json

from hypothesis import Phase

settings.register_profile("suite", settings.get_profile("suite"), phases=[Phase.explicit, Phase.generate])
settings.load_profile("suite")
TOOK = {}


def pytest_runtest_logreport(report):
    TOOK[report.nodeid] = TOOK.get(report.nodeid, 0.0) + report.duration


def pytest_sessionfinish(session):
    if not hasattr(session.config, "workerinput"):
        Path("took.json").write_text(_json.dumps(TOOK), encoding="utf-8")
"""


class Mutant(NamedTuple):
    """A drawn mistake."""

    file: str  # below the project
    line: int  # of the statement that holds it
    start: int  # of the text that is replaced, in characters
    end: int
    old: str
    new: str
    names: tuple[str, ...]  # of a constant that is assigned there at a module's top level, by which its users are found


def mutants_of(path: Path) -> Iterator[Mutant]:
    """All mistakes that can be made in a file.  path : of the file."""
    text = path.read_text(encoding="utf-8")
    lines = [0]
    for line in text.splitlines(keepends=True):
        lines.append(lines[-1] + len(line.encode()))
    raw = text.encode()
    tree = ast.parse(text)

    def span(node: ast.AST) -> tuple[int, int]:
        return lines[node.lineno - 1] + node.col_offset, lines[node.end_lineno - 1] + node.end_col_offset

    def source(node: ast.AST) -> str:
        start, end = span(node)
        return raw[start:end].decode()

    def walk(node: ast.AST, line: int, names: tuple[str, ...]) -> Iterator[Mutant]:
        if isinstance(node, ast.Raise | ast.Assert | ast.Import | ast.ImportFrom | ast.JoinedStr | ast.arguments):
            return
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            return
        if isinstance(node, ast.stmt):
            line = node.lineno
        for new in changed(node):
            start, end = span(node)
            yield Mutant(path.relative_to(PROJECT).as_posix(), line, start, end, source(node), new, names)
        for field, value in ast.iter_fields(node):
            if field in ("annotation", "returns", "decorator_list", "slice", "args") and not isinstance(node, ast.Call | ast.Subscript):
                continue
            if field == "slice":
                continue
            for one in value if isinstance(value, list) else [value]:
                if isinstance(one, ast.AST):
                    yield from walk(one, line, names)

    def changed(node: ast.AST) -> Iterator[str]:
        if isinstance(node, ast.BinOp) and type(node.op) in OPERATORS:
            left, right = source(node.left), source(node.right)
            yield f"(({left}) {OPERATORS[type(node.op)]} ({right}))"
            yield f"({left})"
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub) and not isinstance(node.operand, ast.Constant):
            yield f"({source(node.operand)})"
        elif isinstance(node, ast.Compare) and len(node.ops) == 1 and type(node.ops[0]) in COMPARED:
            yield f"({source(node.left)} {COMPARED[type(node.ops[0])]} {source(node.comparators[0])})"
        elif isinstance(node, ast.IfExp):
            yield f"({source(node.orelse)} if {source(node.test)} else {source(node.body)})"
        elif isinstance(node, ast.BoolOp):
            word = " or " if isinstance(node.op, ast.And) else " and "
            yield "(" + word.join(f"({source(one)})" for one in node.values) + ")"
        elif isinstance(node, ast.Call):
            called = source(node.func)
            last = called.rpartition(".")[2]
            if last in SWAPPED:
                yield source(node).replace(called, called[: len(called) - len(last)] + SWAPPED[last], 1)
            elif last == "abs" and len(node.args) == 1:
                yield f"({source(node.args[0])})"
        elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
            yield str(node.value + 1) if isinstance(node.value, int) else repr(node.value * 1.5 if node.value else 0.5)

    for statement in tree.body:
        if isinstance(statement, ast.FunctionDef | ast.ClassDef):
            yield from walk(statement, statement.lineno, ())
        elif isinstance(statement, ast.Assign | ast.AnnAssign):
            targets = statement.targets if isinstance(statement, ast.Assign) else [statement.target]
            yield from walk(
                statement, statement.lineno, tuple(one.id for target in targets for one in ast.walk(target) if isinstance(one, ast.Name))
            )


def drawn(count: int, seed: int, rooms: tuple[str, ...]) -> list[Mutant]:
    """Mistakes over all rooms, as many in each as its share of places.  count : in all; seed : of the draw; rooms : of `sim`."""
    places = [one for room in rooms for path in sorted((PROJECT / "sim" / room).rglob("*.py")) for one in mutants_of(path)]
    return sorted(random.Random(seed).sample(places, min(count, len(places))))


def copied(into: Path) -> Path:
    """A copy of the project.  into : an empty folder."""
    for part in PARTS:
        source = PROJECT / part
        if source.is_dir():
            shutil.copytree(source, into / part, ignore=shutil.ignore_patterns("__pycache__", ".*"))
        else:
            shutil.copy2(source, into / part)
    with open(into / "tests" / "conftest.py", "a", encoding="utf-8") as stream:
        stream.write(ADDED)
    return into


def tested(copy: Path, words: list[str]) -> tuple[int, str]:
    """Exit code and last words of a run of tests in a copy.  copy : its folder; words : of pytest's command line."""
    settings = os.environ | SETTINGS | {"PYTHONPATH": str(copy)}
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *words]
    try:
        done = subprocess.run(command, cwd=copy, env=settings, capture_output=True, text=True, timeout=LONGEST)
    except subprocess.TimeoutExpired:
        return 1, f"not done after {LONGEST} s"
    lines = done.stdout.splitlines()
    return done.returncode, next(
        (line for line in lines if line.startswith(("FAILED", "ERROR"))), lines[-1] if lines else done.stderr[-200:]
    )


def reach(copy: Path) -> tuple[dict[tuple[str, int], set[str]], dict[str, float]]:
    """Which tests run which line, and how long each takes.  copy : of the project.  Returns ((file, line) to tests, test to [s])."""
    code, said = tested(copy, [*(f"tests/{room}" for room in TESTS), "-n", "2", "--cov=sim", "--cov-context=test", "--cov-report="])
    if code:
        print(f"Without compiled kernels and any mistake: {said}", flush=True)
    took = json.loads((copy / "took.json").read_text(encoding="utf-8"))
    tests: dict[tuple[str, int], set[str]] = defaultdict(set)
    from coverage.numbits import numbits_to_nums

    with sqlite3.connect(copy / ".coverage") as base:
        rows = base.execute(
            "select path, context, numbits from line_bits join file on file.id = file_id join context on context.id = context_id"
        )
        for path, context, bits in rows:
            test = context.rpartition("|")[0]
            if test:
                file = Path(path).relative_to(copy).as_posix()
                for line in numbits_to_nums(bits):
                    tests[file, line].add(test)
    return tests, took


def users(copy: Path, mutant: Mutant) -> list[tuple[str, int]]:
    """Lines that read a module's constant, or the mistake's own.  copy : of the project; mutant : Mutant.  Returns (file, line) of each."""
    if not mutant.names:
        return [(mutant.file, mutant.line)]
    places = []
    for path in (copy / "sim").rglob("*.py"):
        for statement in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(statement, ast.stmt) and not isinstance(statement, ast.FunctionDef | ast.ClassDef):
                known = {one.id for one in ast.walk(statement) if isinstance(one, ast.Name)}
                if known & set(mutant.names):
                    places.append((path.relative_to(copy).as_posix(), statement.lineno))
    return places


def tried(copy: Path, mutant: Mutant, tests: list[str]) -> tuple[bool, str]:
    """Whether a mistake is caught, and by what.  copy : of the project, left as it was; mutant : Mutant; tests : that reach it, in order."""
    if not tests:
        return False, "no quick test of these rooms runs this line"
    file = copy / mutant.file
    before = file.read_bytes()
    file.write_bytes(before[: mutant.start] + mutant.new.encode() + before[mutant.end :])
    try:
        for part in (tests[:TESTS_AT_MOST], tests[TESTS_AT_MOST:]):
            if part:
                code, said = tested(copy, ["-n", "0", "-x", *part])
                if code:
                    return True, said
    finally:
        file.write_bytes(before)
    return False, f"{len(tests)} tests pass"


def main() -> int:
    """Draw, try and print.  Returns the exit code."""
    asked = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    asked.add_argument("--count", type=int, default=400)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", choices=ROOMS)
    asked.add_argument("--at-once", type=int, default=2)
    given = asked.parse_args()
    begin = time.perf_counter()
    chosen = drawn(given.count, given.seed, (given.only,) if given.only else ROOMS)
    with tempfile.TemporaryDirectory() as folder:
        copies = [copied(Path(folder) / str(number)) for number in range(given.at_once)]
        tests, took = reach(copies[0])
        print(f"{len(took)} tests, {len(chosen)} mistakes; {time.perf_counter() - begin:.0f} s", flush=True)
        free = list(copies)

        def one(mutant: Mutant) -> tuple[bool, str]:
            copy = free.pop()
            try:
                ready = {test for place in users(copy, mutant) for test in tests.get(place, ())}
                return tried(copy, mutant, sorted(ready, key=lambda test: (took.get(test, 0.0), test)))
            finally:
                free.append(copy)

        caught: Counter[str] = Counter()
        rooms = Counter(mutant.file.split("/")[1] for mutant in chosen)
        with ThreadPoolExecutor(given.at_once) as pool:
            for mutant, (noticed, said) in zip(chosen, pool.map(one, chosen), strict=True):
                caught[mutant.file.split("/")[1]] += noticed
                if not noticed:
                    print(f"SURVIVED {mutant.file}:{mutant.line}: {mutant.old!r} -> {mutant.new!r}: {said}", flush=True)
    for room, count in rooms.items():
        print(f"{room}: {caught[room]} of {count}")
    share = caught.total() / len(chosen)
    print(f"{caught.total()} of {len(chosen)} caught, {100 * share:.1f} %; {time.perf_counter() - begin:.0f} s")
    return 0 if share >= ASKED else 1


if __name__ == "__main__":
    sys.exit(main())
