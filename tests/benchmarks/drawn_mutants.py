"""How many drawn mistakes does the quick suite notice?  python tests/benchmarks/drawn_mutants.py [--count N] [--seed N] [--only ROOM ...] [--compiled]

Mistakes are drawn over all lines of the physics rooms of `sim`: a sign turned, a term or a factor dropped, sine for cosine, least for most,
a comparison or a branch turned round, a number changed.  Which quick tests run a line is measured first, with kernels as plain Python;
then each mistake is made by itself in a copy of the project, and the tests that reach it run there, the shortest first, until one fails.
What was found is written down as it comes (--kept FOLDER, here .mutants): a run that was cut goes on where it stopped, a test file that
changed is measured anew, and a mistake that survived then meets that file's tests, not those again that it has passed.

With --compiled what is left then meets the quick tests once more, now with kernels compiled, as users run them: those of REACHING, also the
ones that are too long without the compiler (laps, studies).  A kernel with a mistake is compiled anew, some one to three minutes each.

Prints what survived and the share that was caught, and ends with exit code 1 where that is below 92 %.  By hand; some six seconds a mistake.
"""

import argparse
import ast
import hashlib
import json
import multiprocessing
import os
import shutil
import signal
import sqlite3
import sys
import tempfile
import time
import tomllib
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple

PROJECT = Path(__file__).resolve().parents[2]
SURVIVORS = Path(__file__).with_name("drawn_survivors.toml")  # looked at, each with its reason; they count as not caught and are not tried
PARTS = ["sim", "viz", "tests", "scenarios", "pyproject.toml", "README.md", "DEVELOPERS.md"]
ROOMS = ("car", "steering", "linkages", "pace", "turn", "lap", "coast", "bench", "study")
TESTS = (*ROOMS, "knock", "assemble", "published", "reference")
# Quick tests that reach a room's files with compiled kernels, those that compile least first: files or folders of `tests`.
LAPS = ("lap/test_step.py", "lap/test_drive.py", "lap/test_ledger.py", "lap/test_ladder.py", "lap/test_short_laps.py", "lap/test_weave.py")
TURNS = ("turn",)
STUDIES = ("study", "run/test_report.py", "cli/test_documents.py")
KEYS = ("manual/test_examples.py", "scenario/test_doubts.py", "scenario/test_measured.py", "scenario/test_scenario.py", "cli/test_new.py")
REACHING = {
    "car": ("car", *TURNS, *LAPS, "reference", "published"),
    "steering": ("steering", "linkages", *KEYS, *TURNS, "knock", "assemble", *STUDIES),
    "linkages": ("linkages", *KEYS, "steering", "bench", *TURNS, "assemble", *STUDIES),
    "pace": ("pace", *LAPS, "reference", "study"),
    "turn": (*TURNS, "published", "reference", "study"),
    "lap": (*LAPS, "reference", *STUDIES),
    "lockstep": ("lap/test_lockstep_short.py", "lap/test_lockstep.py"),
    "coast": ("coast", "published"),
    "bench": ("bench",),
    "study": (*STUDIES, "knock", "search", "spread", "contest"),
}
ASKED = 0.92  # share that the quick suite is to catch
TESTS_AT_MOST = 40  # of those that reach a line, the shortest; a mistake that they all miss runs others too, as far as these go:
OTHERS_AT_MOST = 15.0  # [s] of processor time, as measured without the mistake
LONGEST_TEST = 4.0  # [s] of processor time, with kernels as plain Python; a test that takes longer (a whole lap) is left out
LONGEST_FILE = 15.0  # [s] likewise, after which the rest of a file's tests are left out
HANGS = 12.0  # [s] of processor time of a test that took less than LONGEST_TEST: a suite that hangs is noticed
COMPILES = 900.0  # [s] of processor time of a test that compiles what it calls, in place of HANGS
# [s] of processor time of a run in which all is measured, and of one in which tests take so long that were measured: this, and that many
# times as much.  For a loop in a thread that a test waits for, which its own clock does not end.
MEASURED, TRIED, TIMES = 40.0, 15.0, 4.0
LONGEST = 1800.0  # [s] of one run of tests, whatever it does
MOST_MEMORY = 4 << 30  # [B] of a process with a mistake that makes it grow
# Libraries that a process of tests begins with; nothing of `sim`, which is read anew for each mistake.
READY = [
    "coverage",
    "hypothesis",
    "numba",
    "pandas",
    "pydantic",
    "pytest",
    "scipy.integrate",
    "scipy.interpolate",
    "scipy.optimize",
    "sympy",
]
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
# Written below the copy's conftest: the copy's own `sim` is the one that is tested, a drawn case that fails is not made simpler, a test has
# its processor time, and how long each took is written down.
ADDED = """

import os as _os
import signal as _signal
import time as _time

import coverage as _coverage
import sim as _sim
from hypothesis import Phase

assert Path(_sim.__file__).resolve().is_relative_to(Path(__file__).resolve().parents[1]), _sim.__file__
settings.register_profile("suite", settings.get_profile("suite"), phases=[Phase.explicit, Phase.generate])
settings.load_profile("suite")
TOOK, SKIPPED = {}, set()


def _over(*_):
    (pytest.skip if _os.environ["MUTANT_OVER"] == "skip" else pytest.fail)("takes too long")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item):
    if _os.environ["MUTANT_OVER"] == "skip" and sum(TOOK.values()) > float(_os.environ["MUTANT_FILE_SECONDS"]):
        item.add_marker(pytest.mark.skip(reason="its file takes too long"))
    if _coverage.Coverage.current():
        _coverage.Coverage.current().switch_context(item.nodeid)
    _signal.signal(_signal.SIGPROF, _over)
    _signal.setitimer(_signal.ITIMER_PROF, float(_os.environ["MUTANT_SECONDS"]), 1.0)
    begin = _time.process_time()
    try:
        return (yield)
    finally:
        _signal.setitimer(_signal.ITIMER_PROF, 0.0)
        TOOK[item.nodeid] = _time.process_time() - begin


def pytest_runtest_logreport(report):
    if report.skipped:
        SKIPPED.add(report.nodeid)


def pytest_sessionfinish(session):
    took = {test: seconds for test, seconds in TOOK.items() if test not in SKIPPED}
    Path("took.json").write_text(json.dumps(took), encoding="utf-8")
"""


class Mutant(NamedTuple):
    """A drawn mistake."""

    file: str  # below the project
    line: int  # of the statement that holds it
    start: int  # of the text that is replaced, in characters
    end: int
    old: str
    new: str
    names: tuple[
        str, ...
    ]  # of a module's constant that is assigned there, or of the class in whose body it stands: by them users are found


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
        if isinstance(statement, ast.FunctionDef):
            yield from walk(statement, statement.lineno, ())
        elif isinstance(statement, ast.ClassDef):
            for one in statement.body:
                yield from walk(one, one.lineno, () if isinstance(one, ast.FunctionDef) else (statement.name,))
        elif isinstance(statement, ast.Assign | ast.AnnAssign):
            targets = statement.targets if isinstance(statement, ast.Assign) else [statement.target]
            yield from walk(
                statement, statement.lineno, tuple(one.id for target in targets for one in ast.walk(target) if isinstance(one, ast.Name))
            )


def key_of(mutant: Mutant, raw: bytes) -> tuple[str, str, str, str]:
    """What a mistake is known by when lines above it come and go: file, its line's text, old and new.  mutant : Mutant; raw : its file."""
    line = raw[raw.rfind(b"\n", 0, mutant.start) + 1 :].partition(b"\n")[0].decode().strip()
    return mutant.file, line, mutant.old, mutant.new


def drawn(count: int, seed: int) -> list[Mutant]:
    """Mistakes over all rooms, as many in each as its share of places, in the order of the draw: the first of them are a draw too.

    A place's turn comes from its own text and the seed, so that what is written elsewhere in `sim` changes little of the draw.
    count : in all; seed : of the draw.
    """
    turns: list[tuple[str, Mutant]] = []
    for path in (path for room in ROOMS for path in sorted((PROJECT / "sim" / room).rglob("*.py"))):
        raw = path.read_bytes()
        same: Counter[tuple[str, str, str, str]] = Counter()
        for one in mutants_of(path):
            key = key_of(one, raw)
            same[key] += 1
            turns.append((hashlib.sha256(repr((seed, key, same[key])).encode()).hexdigest(), one))
    return [one for _, one in sorted(turns)[:count]]


def copied(into: Path) -> Path:
    """A copy of the project.  into : an empty folder."""
    for part in PARTS:
        source = PROJECT / part
        if source.is_dir():
            shutil.copytree(source, into / part, ignore=shutil.ignore_patterns("__pycache__", ".*"))
        else:
            into.mkdir(exist_ok=True)
            shutil.copy2(source, into / part)
    with open(into / "tests" / "conftest.py", "a", encoding="utf-8") as stream:
        stream.write(ADDED)
    return into


def digest(files: Iterable[Path]) -> str:
    """A sum over the contents of files."""
    total = hashlib.sha256()
    for path in sorted(files):
        total.update(path.read_bytes())
    return total.hexdigest()[:16]


def run_tests(copy: str, words: list[str], settings: dict[str, str], measure: bool, most: int) -> None:
    """Run pytest in this process and end it with pytest's code.

    copy : of the project; words : of pytest's command line; settings : of the environment; measure : whether it is written down which test
    runs which line, and bytecode is kept for the next runs; most : processor time [s]
    """
    import resource

    import coverage
    import numba
    import pytest

    os.chdir(copy)
    sys.path.insert(0, copy)
    os.environ.update(settings | {"PYTHONPATH": copy})
    numba.config.reload_config()  # it was read with the server's environment
    sys.dont_write_bytecode = not measure
    resource.setrlimit(resource.RLIMIT_DATA, (MOST_MEMORY, MOST_MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (most, most + 5))
    with open("said.txt", "w", encoding="utf-8") as said:
        os.dup2(said.fileno(), 1)
        os.dup2(said.fileno(), 2)
    watched = coverage.Coverage(source=[f"{copy}/sim"], data_file=f"{copy}/.coverage", config_file=False)
    if measure:
        watched.start()
    code = int(pytest.main(["-q", "-p", "no:cacheprovider", "-n", "0", "--tb=no", *words]))
    if measure:
        watched.stop()
        watched.save()
    sys.stdout.flush()
    os._exit(code)


def tested(server: multiprocessing.context.ForkServerContext, copy: Path, words: list[str], way: str, most: float) -> tuple[int, str]:
    """Exit code and last words of a run of tests in a copy.

    server : of processes that have the libraries ready; copy : its folder; words : of pytest's command line; way : "measure" leaves out
    tests that take too long; "try" lets them fail; "compiled" compiles the kernels, and keeps them in the copy; most : processor time [s]
    """
    seconds = {"measure": LONGEST_TEST, "try": HANGS, "compiled": COMPILES}[way]
    settings = {
        "MUTANT_OVER": "skip" if way == "measure" else "fail",
        "MUTANT_SECONDS": str(seconds),
        "MUTANT_FILE_SECONDS": str(LONGEST_FILE),
        "NUMBA_DISABLE_JIT": "0" if way == "compiled" else "1",
        "XDG_CACHE_HOME": str(copy / ".kernels"),
    }
    process = server.Process(target=run_tests, args=(str(copy), words, settings, way == "measure", int(most)))
    process.start()
    process.join(LONGEST)
    if process.exitcode is None:
        process.kill()
        process.join()
        return 1, f"not done after {LONGEST:.0f} s"
    if process.exitcode < 0:
        return 1, f"not done after {most:.0f} s of processor time"
    lines = (copy / "said.txt").read_text(encoding="utf-8", errors="replace").splitlines()
    return process.exitcode, next((line for line in lines if line.startswith(("FAILED", "ERROR"))), lines[-1] if lines else "")


class Reach(NamedTuple):
    """What the tests of a file run."""

    took: dict[str, float]  # test to [s] of processor time
    lines: dict[str, dict[str, list[int]]]  # file of `sim` to test to lines


def reach_of(server: multiprocessing.context.ForkServerContext, copy: Path, file: str) -> Reach:
    """Which lines the tests of a file run.  server : as in `tested`; copy : of the project; file : below it."""
    from coverage.numbits import numbits_to_nums

    for left in (".coverage", "took.json"):
        (copy / left).unlink(missing_ok=True)
    code, said = tested(server, copy, [file], "measure", MEASURED)
    if code not in (0, 5):
        print(f"Without compiled kernels and any mistake: {said}", flush=True)
    # No times are there where a run ended in the midst of a test.
    took = json.loads((copy / "took.json").read_text(encoding="utf-8")) if (copy / "took.json").exists() else {}
    lines: dict[str, dict[str, list[int]]] = defaultdict(dict)
    if (copy / ".coverage").exists():
        with sqlite3.connect(copy / ".coverage") as base:
            rows = base.execute(
                "select path, context, numbits from line_bits join file on file.id = file_id join context on context.id = context_id"
            )
            for path, test, bits in rows:
                if test in took:
                    reached = lines[Path(path).relative_to(copy).as_posix()]
                    reached[test] = sorted({*reached.get(test, ()), *numbits_to_nums(bits)})
    failed = set(said_failed(copy))
    return Reach({test: seconds for test, seconds in took.items() if seconds < LONGEST_TEST and test not in failed}, lines)


def said_failed(copy: Path) -> Iterator[str]:
    """Tests that failed in the last run in a copy."""
    for line in (copy / "said.txt").read_text(encoding="utf-8", errors="replace").splitlines():
        if line.startswith(("FAILED ", "ERROR ")):
            yield test_of(line)


def test_of(line: str) -> str:
    """The test that pytest's last lines tell of.  line : that begins with FAILED or ERROR."""
    return line.split(" ", 1)[1].partition(" - ")[0]


class Known:
    """What all measured tests run: from (file, line) to tests, how long each takes, and which tests stand in a file."""

    def __init__(self) -> None:
        self.took: dict[str, float] = {}
        self.tests: dict[tuple[str, int], set[str]] = defaultdict(set)

    def add(self, reach: Reach) -> None:
        """Add a file's tests."""
        self.took |= reach.took
        for file, by_test in reach.lines.items():
            for test, lines in by_test.items():
                if test in reach.took:
                    for line in lines:
                        self.tests[file, line].add(test)

    def parts(self, places: Iterable[tuple[str, int]], passed: Collection[str]) -> Iterator[list[str]]:
        """Tests to run for a mistake, part by part: the shortest that run its lines, the others, and the rest of their files.

        The rest counts too, since what tests share is built by the first that needs it.  Those that are known to pass are left out.
        """
        reached = {test for place in places for test in self.tests.get(place, ())}
        order = sorted(reached - {*passed}, key=lambda test: (self.took[test], test))
        files = {test.partition("::")[0] for test in reached}
        rest = sorted(test for test in self.took if test.partition("::")[0] in files and test not in reached and test not in passed)
        others, seconds = [], 0.0
        for test in order[TESTS_AT_MOST:] + rest:
            seconds += self.took[test]
            if seconds > OTHERS_AT_MOST:
                break
            others.append(test)
        yield from (part for part in (order[:TESTS_AT_MOST], others) if part)


def measured(server: multiprocessing.context.ForkServerContext, copies: list[Path], kept: Path, rooms: Iterable[str]) -> Known:
    """Measure what the quick tests run, where that is not known yet.  copies : of the project; kept : folder of what is known; rooms : of tests."""
    common = [*(PROJECT / "sim").rglob("*.py"), *(PROJECT / "tests").rglob("conftest.py")]
    files = [path for room in rooms for path in sorted((PROJECT / "tests" / room).glob("test_*.py"))]
    free = list(copies)

    def one(path: Path) -> Reach:
        name = path.relative_to(PROJECT).as_posix()
        file = kept / f"{name.replace('/', '-')}.{digest([*common, path])}.json"
        if not file.exists():
            copy = free.pop()
            try:
                reach = reach_of(server, copy, name)
            finally:
                free.append(copy)
            for old in kept.glob(f"{name.replace('/', '-')}.*.json"):
                old.unlink()
            file.write_text(json.dumps(reach), encoding="utf-8")
        return Reach(*json.loads(file.read_text(encoding="utf-8")))

    known = Known()
    with ThreadPoolExecutor(len(copies)) as pool:
        for reach in pool.map(one, files):
            known.add(reach)
    return known


def users(copy: Path, mutant: Mutant) -> list[tuple[str, int]]:
    """Lines that read a constant, or the mistake's own.  copy : of the project; mutant : Mutant.  Returns (file, line) of each."""
    if not mutant.names:
        last = (copy / mutant.file).read_bytes()[: mutant.end].count(b"\n") + 1
        return [(mutant.file, line) for line in range(mutant.line, last + 1)]
    places = []
    for path in (copy / "sim").rglob("*.py"):
        for statement in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(statement, ast.stmt) and not isinstance(statement, ast.FunctionDef | ast.ClassDef):
                known = {one.id for one in ast.walk(statement) if isinstance(one, ast.Name)}
                if known & set(mutant.names):
                    places.append((path.relative_to(copy).as_posix(), statement.lineno))
    return places


@contextmanager
def made(copy: Path, mutant: Mutant) -> Iterator[None]:
    """While this lasts, a mistake stands in a copy, which is then as it was.  copy : of the project; mutant : Mutant."""
    file = copy / mutant.file
    before, stat = file.read_bytes(), file.stat()
    file.write_bytes(before[: mutant.start] + mutant.new.encode() + before[mutant.end :])
    try:
        yield
    finally:
        file.write_bytes(before)
        os.utime(file, ns=(stat.st_atime_ns, stat.st_mtime_ns))  # so that the bytecode of the file without a mistake counts again


def tried(
    server: multiprocessing.context.ForkServerContext, copy: Path, mutant: Mutant, parts: list[list[str]], took: dict[str, float]
) -> tuple[bool, str]:  # fmt: skip
    """Whether a mistake is caught, and by what.

    server : as in `tested`; copy : of the project; mutant : Mutant; parts : tests that reach it, in order; took : [s] of each
    """
    with made(copy, mutant):
        for part in parts:
            code, said = tested(server, copy, ["-x", *part], "try", TRIED + TIMES * sum(took[test] for test in part))
            if code:
                return True, said
    return False, f"{sum(map(len, parts))} tests pass" if parts else "no quick test of these rooms runs this line"


def text_of(house: Path) -> dict[str, bytes]:
    """The files of a folder by their names below it.  house : of `sim`."""
    return {path.relative_to(house).as_posix(): path.read_bytes() for path in house.rglob("*.py")}


class Compiled:
    """The same with compiled kernels, over the tests of REACHING, those that are named like the mistake's file first."""

    def __init__(self, server: multiprocessing.context.ForkServerContext) -> None:
        self.server = server
        self.sound: dict[str, bool] = {}  # whether a test passes without any mistake
        # What is compiled already from the same text is taken over.
        from sim.kernels.compiled import CACHE, HERE

        self.compiled, self.house = CACHE, HERE

    def files(self, mutant: Mutant) -> list[str]:
        """Files of tests to run for a mistake, in order, below the project."""
        path = Path(mutant.file)
        room = path.parts[1]
        places = [PROJECT / "tests" / one for one in REACHING["lockstep" if "lockstep" in path.parts else room]]
        files = [file.relative_to(PROJECT).as_posix() for one in places for file in (sorted(one.glob("test_*.py")) or [one])]
        return sorted(dict.fromkeys(files), key=lambda file: (not file.startswith(f"tests/{room}/"), path.stem not in file))

    def tried(self, copy: Path, mutant: Mutant, files: list[str]) -> tuple[bool, str]:
        """Whether a mistake is caught, and by what.  copy : of the project; mutant : Mutant; files : of tests."""
        while True:
            left_out = [f"--deselect={test}" for test, sound in self.sound.items() if not sound]
            with self.kernels_of(copy), made(copy, mutant):
                code, said = tested(self.server, copy, ["-x", *files, *left_out], "compiled", LONGEST)
                failed = next(said_failed(copy), None)
            if code and failed is not None and failed not in self.sound:
                self.sound[failed] = tested(self.server, copy, [failed], "compiled", LONGEST)[0] == 0
            if code in (0, 5):
                return False, "the quick tests pass, compiled too"
            if failed is None or self.sound[failed]:
                return True, said

    @contextmanager
    def kernels_of(self, copy: Path) -> Iterator[None]:
        """While this lasts, a mistake in a kernel may throw away what was compiled without it."""
        ready, put_by = copy / ".kernels" / "scrubwise", copy / ".kernels-put-by"
        if not any(ready.glob("*/*.code")) and self.compiled is not None and text_of(self.house) == text_of(copy / "sim"):
            place = hashlib.sha256(str(copy / "sim").encode()).hexdigest()[:8]
            folder = ready / f"kernels-{place}-{self.compiled.name.rpartition('-')[2]}"
            shutil.copytree(self.compiled, folder, dirs_exist_ok=True)
            (folder / "place.txt").write_text(str(copy / "sim"), encoding="utf-8")
        ready.mkdir(parents=True, exist_ok=True)
        shutil.copytree(ready, put_by)
        try:
            yield
        finally:
            if {path.name for path in put_by.iterdir()} <= {path.name for path in ready.iterdir()}:
                shutil.rmtree(put_by)
            else:
                shutil.rmtree(ready)
                put_by.rename(ready)


def main() -> int:
    """Draw, try and print.  Returns the exit code."""
    asked = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    asked.add_argument("--count", type=int, default=400)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", nargs="+", choices=ROOMS, default=ROOMS, help="of the draw those in these rooms, with these rooms' tests")
    asked.add_argument("--at-once", type=int, default=2)
    asked.add_argument("--kept", type=Path, default=PROJECT / ".mutants")
    asked.add_argument("--compiled", action="store_true", help="what is left then meets the quick tests with compiled kernels too")
    given = asked.parse_args()
    begin = time.perf_counter()
    chosen = [one for one in drawn(given.count, given.seed) if one.file.split("/")[1] in given.only]
    rooms_of_tests = TESTS if given.only is ROOMS else given.only
    given.kept.mkdir(exist_ok=True)
    results = given.kept / "results.jsonl"
    of_sim, shared = digest((PROJECT / "sim").rglob("*.py")), sorted((PROJECT / "tests").rglob("conftest.py"))
    # Sums of the files of tests: what a mistake has passed once need not be tried again.
    sums = {path.relative_to(PROJECT).as_posix(): digest([*shared, path]) for path in (PROJECT / "tests").rglob("test_*.py")}
    before: dict[tuple[str, str, int, str], dict[str, Any]] = {}
    caught_by: dict[tuple[str, str, str], list[str]] = defaultdict(list)  # (file, old, new) to tests that once failed: they are tried first
    for line in results.read_text(encoding="utf-8").splitlines() if results.exists() else ():
        one = json.loads(line)
        if one["said"].startswith("FAILED "):
            caught_by[one["file"], one["old"], one["new"]].append(test_of(one["said"]))
        if one["sim"] == of_sim:
            before[one["way"], one["file"], one["start"], one["new"]] = one
    survivors = {
        (one["file"], one["line"], one["old"], one["new"]): one for one in tomllib.loads(SURVIVORS.read_text(encoding="utf-8"))["survivor"]
    }
    os.environ |= {"NUMBA_DISABLE_JIT": "1"}  # before the server of processes starts
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))  # so that the copies go when the run is cut
    server = multiprocessing.get_context("forkserver")
    server.set_forkserver_preload(READY)
    with tempfile.TemporaryDirectory(prefix="drawn-mutants-") as folder:
        copies = [copied(Path(folder) / str(number)) for number in range(given.at_once)]
        known = measured(server, copies, given.kept, rooms_of_tests)
        print(f"{len(known.took)} tests, {len(chosen)} mistakes; {time.perf_counter() - begin:.0f} s", flush=True)
        free, compiled = list(copies), Compiled(server)

        def survivor(mutant: Mutant) -> dict[str, Any] | None:
            return survivors.get(key_of(mutant, (PROJECT / mutant.file).read_bytes()))

        def one(mutant: Mutant, way: str) -> tuple[bool, str]:
            old = before.get((way, mutant.file, mutant.start, mutant.new), {"caught": False, "said": "", "passed": {}})
            if old["caught"]:
                return True, old["said"]
            listed = survivor(mutant)
            if listed is not None:
                return False, listed["reason"]
            hints = caught_by[mutant.file, mutant.old, mutant.new]
            passed = {test: one for test, one in old["passed"].items() if sums.get(test.partition("::")[0]) == one}
            if way == "compiled":
                hinted = {test.partition("::")[0] for test in hints}
                parts = [sorted((file for file in compiled.files(mutant) if file not in passed), key=lambda file: file not in hinted)]
            else:
                parts = list(known.parts(users(PROJECT, mutant), passed))
                first = sorted({test for test in hints if test in known.took and test not in passed})
                parts = [first, *parts] if first else parts
            if passed and not any(parts):
                return False, old["said"]
            copy = free.pop()
            start = time.perf_counter()
            try:
                caught, said = (
                    compiled.tried(copy, mutant, parts[0]) if way == "compiled" else tried(server, copy, mutant, parts, known.took)
                )
            finally:
                free.append(copy)
            kept = (
                mutant._asdict()
                | {"sim": of_sim, "way": way, "caught": caught, "said": said}
                | {"took_s": round(time.perf_counter() - start, 1)}
            )
            kept["passed"] = passed | {test: sums[test.partition("::")[0]] for part in parts for test in part} if not caught else {}
            with results.open("a", encoding="utf-8") as stream:
                stream.write(json.dumps(kept) + "\n")
            return caught, said

        def try_all(mutants: list[Mutant], way: str) -> list[Mutant]:
            """Try mistakes and print those that survive, which it returns."""
            left = []
            with ThreadPoolExecutor(given.at_once) as pool:
                for mutant, (caught, said) in zip(mutants, pool.map(lambda mutant: one(mutant, way), mutants), strict=True):
                    if not caught:
                        listed = survivor(mutant)
                        why = listed["reason"] if listed else said
                        print(f"SURVIVED {mutant.file}:{mutant.line}: {mutant.old!r} -> {mutant.new!r}: {why}", flush=True)
                        left.append(mutant)
            return left

        left = try_all(chosen, "plain")
        if given.compiled:
            print(f"{len(left)} left of {len(chosen)}; compiled:", flush=True)
            left = try_all(left, "compiled")
    rooms, survived = (Counter(mutant.file.split("/")[1] for mutant in mutants) for mutants in (chosen, left))
    for room, count in rooms.items():
        print(f"{room}: {count - survived[room]} of {count}")
    share = 1.0 - len(left) / len(chosen)
    print(f"{len(chosen) - len(left)} of {len(chosen)} caught, {100 * share:.1f} %; {time.perf_counter() - begin:.0f} s")
    equivalent = sum(listed["equivalent"] for listed in map(survivor, left) if listed is not None)
    print(
        f"Without {equivalent} that no test can tell, as listed: {100 * (1.0 - (len(left) - equivalent) / (len(chosen) - equivalent)):.1f} %"
    )
    return 0 if share >= ASKED else 1


if __name__ == "__main__":
    sys.exit(main())
