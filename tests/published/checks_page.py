"""The page of outside checks, viz/manual/checks.md, made from the tests: python tests/published/checks_page.py writes it anew.

A test says what it is held against by the mark `outside(code, what=..., source=..., how=...)`; every test in tests/published and
tests/reference carries one, a test elsewhere may.  `how` is one of HOW.  A test that compares through `within_published` need not say
how close it comes, for that is measured; any other says by `within` what it allows.
"""

import ast
import sys
from collections import Counter
from pathlib import Path
from typing import Any, NamedTuple

import pytest

TESTS = Path(__file__).parents[1]
PAGE = TESTS.parent / "viz" / "manual" / "checks.md"
MUST = ("published", "reference")  # folders whose tests all carry the mark
OWN = "test_checks_page.py"  # but for the page's own
IDENTITY = 1e-11  # allowed differences below this are rounding's alone
HOW = {  # in the page's order: heading, and what it says of its rows
    "read": (
        "Figures that were read where they stand",
        "Somebody else printed the figure, and it was read there. These are the best checks that there are.",
    ),
    "memory": (
        "Figures from books, from memory",
        "The figure is known from a book or a paper that was not opened for this. It was computed once more, so a wrong digit would "
        "show; the name of the book is not proved.",
    ),
    "worked": (
        "Figures worked out by other means",
        "Nobody printed these figures. They were worked out apart from this program, from a formula that is printed, or from "
        "geometry and mechanics.",
    ),
    "second": (
        "Second solutions",
        "The same question is solved a second time by a general-purpose library, with none of this program's formulas.",
    ),
}
NOT_CHECKED = (
    ("Your tyre", "Nobody has measured it. The ranges come from measurements of other bicycle tyres; no pneumatic trail of such a tyre "
     "was found at all, so its range is an estimate from the length of the contact patch."),
    ("Loss of stiffness with load, drive stiffness", "The forms are common practice. No measured figure for such tyres was read."),
    ("A whole lap on a real course", "The energy ledger closes, and steady turns, loads and roads are checked one by one. But no lap of a "
     "real car has been held against a lap of this program."),
    ("The driver", "How the driver steers and brakes is a rule of this program. No driver was measured."),
    ("The hands", "Stiffness, damping and inertia of a driver's grip are judgements, and so is everything that `knock` says about "
     "how far a hand wheel kicks. The wheel there is rigid, which makes it a worst case."),
    ("Kingpin washers", "The friction figures of dry and greased washers are common practice, without a source."),
    ("Battery while the current changes", "The rate law is checked for steady currents. That it may be used moment by moment is common "
     "practice, without a source. The resistance of a block is a judgement: measure yours."),
    ("Drag area of a car like yours", "No independent measurement was found. Measure it with `coast`."),
    ("Camber", "Side force from a wheel's lean is taken as a straight line. Its slope was measured on other tyres; the drag that comes "
     "with it was not checked."),
    ("Uncertainty, search, bench, contest", "Their mathematics is tested against formulas and made-up cases with a known answer, not "
     "against another program's figures or a real workshop's."),
)  # fmt: skip
LEFT_OUT = (
    "Printed figures that are known to be wrong are kept out: a drawing in a workshop book (outer 20 degrees, inner 23), which no such "
    "linkage gives; the 160 kg row of 40 CFR 86.529-98, most likely a misprint; the arc seconds of a survey manual's clothoid; a table "
    "of degrees of longitude that is not of the WGS 84 ellipsoid; and an exercise that prints centimetres for another length."
)


class Declared(NamedTuple):
    """A test's mark."""

    place: str  # file::test
    code: str
    what: str
    source: str
    how: str
    within: str


def marks_in(path: Path, name: str, needed: set[str], more: set[str]) -> tuple[list[tuple[str, str, dict[str, str]]], list[str]]:
    """The marks of a name in one test file, read from its text alone, and the names of its tests without one.

    Each is its test's place (file::test), the first word of the mark, and its other words by key: those needed, and perhaps more.
    Raises ValueError for a mark that says too little or too much.
    """
    found, bare = [], []
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if not isinstance(node, ast.FunctionDef) or not node.name.startswith("test_"):
            continue
        place = f"{path.relative_to(TESTS)}::{node.name}"
        marks = [one for one in node.decorator_list if isinstance(one, ast.Call) and ast.unparse(one.func) == f"pytest.mark.{name}"]
        if not marks:
            bare.append(place)
        for mark in marks:
            code = ast.literal_eval(mark.args[0]) if len(mark.args) == 1 else None
            said = {str(one.arg): ast.literal_eval(one.value) for one in mark.keywords}
            if code is None or said.keys() - needed - more or needed - said.keys():
                raise ValueError(f"{place}: the mark {name}({', '.join(['...', *sorted(needed)])}) is not whole")
            found.append((place, code, said))
    return found, bare


def files_with(name: str, must: tuple[str, ...] = ()) -> list[Path]:
    """Test files that hold a mark of the name, or lie in a folder that must."""
    files = sorted(TESTS.rglob("test_*.py"))
    return [file for file in files if f"mark.{name}(" in file.read_text(encoding="utf-8") or file.parent.name in must]


def declared(path: Path) -> tuple[list[Declared], list[str]]:
    """The marks `outside` of one test file, and the names of its tests without one.

    Raises ValueError for a mark that says too little, too much, or another `how`.
    """
    marks, bare = marks_in(path, "outside", {"what", "source", "how"}, {"within"})
    odd = [place for place, _, said in marks if said["how"] not in HOW]
    if odd:
        raise ValueError(f"{odd[0]}: how is not one of {', '.join(HOW)}")
    return [Declared(place, code, said["what"], said["source"], said["how"], said.get("within", "")) for place, code, said in marks], bare


def marked_files() -> list[Path]:
    """Test files that hold the mark `outside`, or must."""
    return files_with("outside", MUST)


def all_declared() -> tuple[list[Declared], list[str]]:
    """Every mark, and the tests of the folders in MUST that lack one."""
    found: list[Declared] = []
    lacking: list[str] = []
    for file in marked_files():
        marks, bare = declared(file)
        found += marks
        lacking += bare if file.parent.name in MUST and file.name != OWN else []
    return found, lacking


def _place(nodeid: str) -> str:
    return nodeid.removeprefix("tests/").partition("[")[0]


class Listener:
    """What ran, and the figures that `within_published` (or `within_target`) noted, by test."""

    def __init__(self) -> None:
        self.noted: dict[tuple[str, str], list[tuple]] = {}  # by test and name of what was noted
        self.passed: Counter[str] = Counter()  # how many cases of a test passed
        self.unmet: dict[str, str] = {}  # why a check is known not to be met
        self.failed: list[str] = []
        self.left_out: set[str] = set()  # tests of which some case was not asked for

    def pytest_deselected(self, items) -> None:
        self.left_out |= {_place(item.nodeid) for item in items}

    def pytest_runtest_logreport(self, report) -> None:
        if report.when == "call" or report.failed:
            place = _place(report.nodeid)
            for name, value in report.user_properties:
                self.noted.setdefault((place, name), []).append(value)
            self.passed[place] += report.passed
            self.failed += [report.nodeid] if report.failed else []
            if report.skipped and getattr(report, "wasxfail", ""):
                self.unmet[place] = report.wasxfail


def heard(files: list[Path], marks: str) -> Listener:
    """Run the tests of some files that bear marks, in this process."""
    listener = Listener()
    words = ["-q", "-n", "0", "-m", marks, "--rootdir", str(TESTS.parent), "-p", "no:cacheprovider"]
    pytest.main([*map(str, files), *words], plugins=[listener])
    return listener


def measured() -> Listener:
    """Run the tests of the folders in MUST, slow ones too; those elsewhere say how close they come by `within`."""
    return heard([file for file in marked_files() if file.parent.name in MUST], "outside")


def closeness(one: Declared, listener: Listener) -> str:
    """How near a check comes, in words; its worst figure stands for all."""
    compared = listener.noted.get((one.place, "compared"), [])
    words = [f"NOT MET: {listener.unmet[one.place]}"] if one.place in listener.unmet else []
    if compared:
        number = f"{len(compared)} figures" if len(compared) > 1 else "1 figure"
        # Told apart to three digits only, so that of mirrored cases the first one stands on the page.
        ours, printed, allowed = max(compared, key=lambda case: round(abs(case[0] - case[1]) / case[2], 3))
        share = 100 * abs(ours - printed) / allowed
        worst = f"worst: {ours:.7g} for {printed:.10g}, allowed ± {allowed:.2g} ({share:.0f} % of it used)"
        words.append(f"{number}; {'exact, met to rounding' if allowed < IDENTITY else worst}")
    return "; ".join([*words, one.within] if one.within else words)


def _in_order(one: Declared) -> tuple[str, int]:
    """By letter and number of the code; the tests' own order stays within a code."""
    first = one.code.partition(",")[0]
    return first[:1], int(first[1:] or 0)


def page(marks: list[Declared], listener: Listener) -> str:
    """The whole page."""
    lines = [
        "# What was checked, and against what", "",
        "How can you know that the figures are right? Not by believing this program. Each line below is a figure, or a whole",
        "calculation, that comes from somewhere else: a book, a standard's table, a web page, or a second solution by other means.",
        "The program computes it too, and a test fails when the two differ by more than the digits of the source allow.", "",
        "The rule for a printed figure: the difference may be at most twice the root of the sum of three squares, half a unit of its",
        "last digit, the rounding of its printed inputs, and the error of our own numerics. No such tolerance is chosen by hand. Where",
        "a line says a range, an order or a share instead, the test gives its reason. The numbers are those of the project's list of",
        "published values; car K is its example: 150 kg, 1.50 m between the axles, tracks of 0.80 and 0.70 m.",
    ]  # fmt: skip
    for how, (heading, words) in HOW.items():
        rows = sorted((one for one in marks if one.how == how), key=_in_order)
        lines += ["", f"## {heading}", "", words, "", "| no. | what | against | how close |", "|---|---|---|---|"]
        for one in rows:
            cells = (one.code, one.what, one.source, closeness(one, listener))
            lines.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
    lines += ["", "## Not checked against anything outside", ""]
    lines += [f"- **{name}.** {why}" for name, why in NOT_CHECKED]
    lines += ["", LEFT_OUT, ""]
    return "\n".join(lines)


def now() -> tuple[str, Listener]:
    """The page as the tests would write it now, and how they ran."""
    listener = measured()
    return page(all_declared()[0], listener), listener


def main(arguments: list[Any]) -> int:
    """Write the page, or with a path write it there; 1 where a test failed."""
    text, listener = now()
    if listener.failed:
        return 1
    target = Path(arguments[0]) if arguments else PAGE
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
