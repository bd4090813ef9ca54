"""The page of test targets, viz/manual/targets.md, made from the tests: python tests/targets/targets_page.py writes it anew.

A test says which target it shows by the mark `target(no, what=..., asked=...)`; `within_target` (tests/conftest.py) notes its figures.
Tests that show the same part of a target (no, what and asked alike) share a row: the worst figure of them all stands there.
"""

import json
import runpy
import sys
from pathlib import Path
from typing import Any, NamedTuple

TESTS = Path(__file__).parents[1]
PAGE = TESTS.parent / "viz" / "manual" / "targets.md"
TOOLS = runpy.run_path(str(TESTS / "published" / "checks_page.py"))  # how marks are read and tests are heard
Listener, marks_in, files_with, heard = (TOOLS[name] for name in ("Listener", "marks_in", "files_with", "heard"))
NUMBERS = [f"T{number}" for number in range(1, 30)]
ROUNDING = 1e-3  # a figure below this share of what is allowed says nothing but how a machine rounds, and is not written


class Row(NamedTuple):
    """A part of a target, and the tests that show it."""

    no: str
    what: str
    asked: str
    places: tuple[str, ...]  # file::test


def rows() -> list[Row]:
    """One for each part of a target, in the order of the targets.  Raises ValueError for a mark that is not whole."""
    found: dict[tuple[str, str, str], list[str]] = {}
    for file in files_with("target"):
        for place, no, said in marks_in(file, "target", {"what", "asked"}, set())[0]:
            if no not in NUMBERS:
                raise ValueError(f"{place}: there is no target {no}")
            found.setdefault((no, said["what"], said["asked"]), []).append(place)
    return sorted((Row(*key, tuple(places)) for key, places in found.items()), key=lambda row: NUMBERS.index(row.no))


def two_digits(figure: float) -> str:
    """A figure as it stands on the page."""
    return f"{float(f'{figure:.2g}'):g}"  # 120 and not 1.2e+02


def shown(of: str, word: str, bound: float, figure: float) -> str:
    """A figure, and how much of what is allowed it uses up; where that is rounding's, a bound for it."""
    label = f"{of}: " if of else ""
    if word == "at least" or bound <= 0.0:
        written = "0" if abs(figure) < ROUNDING * abs(bound) else two_digits(figure)
        return f"{label}{written} for {word} {bound:g}"
    if figure < ROUNDING * bound:
        return f"{label}below {two_digits(ROUNDING * bound)} (0.1 %)"
    share = 100 * figure / bound
    return f"{label}{two_digits(figure)} ({share:.{0 if share >= 1 else 1}f} %)"


def figures_of(row: Row, listener: Any) -> dict[tuple[str, str, float], float]:
    """The worst figure of all its tests, by (of, at most or at least, bound)."""
    worst: dict[tuple[str, str, float], float] = {}
    for place in row.places:
        for no, of, word, bound, figure in listener.noted.get((place, "target"), []):
            if no == row.no:
                key = (of, word, bound)
                worst[key] = (max if word == "at most" else min)(figure, worst.get(key, figure))
    return worst


def reached(row: Row, listener: Any) -> str:
    """What the tests of a row came to, in words."""
    worst = figures_of(row, listener)
    if worst:
        return "; ".join(shown(*key, figure) for key, figure in worst.items())
    cases = sum(listener.passed[place] for place in row.places)
    return f"{cases} cases pass" if cases > 1 else "1 case passes" if cases else "not run"


def page(all_rows: list[Row], listener: Any) -> str:
    """The whole page."""
    lines = [
        "# What the tests must show", "",
        "A list of figures was drawn up that the tests of this program have to reach. Each line says what is asked for and how far it",
        "is reached: the worst figure of all cases that were tried, and in brackets how much of what is allowed it uses up. A test",
        "fails where it is more than all. Where no single figure tells it, the cases are counted.", "",
        "A figure that uses less than a thousandth of what is allowed is not written, but that it lies below that: it is rounding, and",
        "differs from one computer to the next. Others below a millionth may be ten times larger or smaller on another computer.", "",
        "What was held against books, tables and second solutions stands in [What was checked](checks.md).", "",
        "| no. | what | asked | reached | shown by |", "|---|---|---|---|---|",
    ]  # fmt: skip
    for row in all_rows:
        files = ", ".join(dict.fromkeys(place.partition("::")[0] for place in row.places))
        cells = (row.no, row.what, row.asked, reached(row, listener), files)
        lines.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
    return "\n".join([*lines, ""])


def now(marks: str) -> Any:
    """How the tests with these marks run now, in this process: a Listener."""
    return heard(files_with("target"), marks)


def main(arguments: list[Any]) -> int:
    """Write the page, or with a path what the quick tests reach as JSON there: a row's place to its figures; 1 where a test failed."""
    quick = bool(arguments)
    listener = now("target and not slow" if quick else "target")
    found = rows()
    if quick:
        whole = [row for row in found if not set(row.places) & listener.left_out]
        Path(arguments[0]).write_text(json.dumps([[row.no, row.what, reached(row, listener)] for row in whole]), encoding="utf-8")
    elif not listener.failed:
        PAGE.write_text(page(found, listener), encoding="utf-8")
    return 1 if listener.failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
