"""Terminals of 40 columns: words of a table are whole, and columns without room stand in a table below with the rows' names."""

import io
import random
import re
import sys

import pytest
from rich.console import Console
from rich.text import Text

from sim.bench.kinds import COLUMNS
from viz.cli.entry import main
from viz.cli.narrow import LONGEST_SHARE, fitted, least_width
from viz.shared.words import plain_table

NAMES = ("ideal", "kinked arms, cross rod", "drop arm and two rods")


def table_of(columns, rows):
    table = plain_table(*columns)
    for row in rows:
        table.add_row(*map(Text, row))
    return table


def shown(table, width):
    """Lines of a table, at the width that print_report gives it."""
    text = io.StringIO()
    Console(file=text, width=max(width, least_width(table)), color_system=None).print(table)
    return [line.rstrip() for line in text.getvalue().splitlines()]


def words_of(cells):
    return sorted(word for cell in cells for word in str(cell).split())


FIGURES = table_of(
    [("set-up", "left"), *((f"figure\nno {number}", "right") for number in range(8))],
    [(name, *(f"{place}{number}.25" for number in range(8))) for place, name in enumerate(NAMES)],
)


def test_a_table_that_fits_is_left_alone():
    assert fitted(FIGURES, 100) == [FIGURES]
    for width in range(20, 100):
        assert (fitted(FIGURES, width) == [FIGURES]) == (width >= len(shown(FIGURES, 200)[0]))


@pytest.mark.parametrize("width", [26, 40, 60])
def test_columns_without_room_stand_below_with_the_names(width):
    parts = fitted(FIGURES, width)
    assert len(parts) > 1
    for part in parts:
        lines = shown(part, width)
        assert max(map(len, lines)) <= width
        assert [str(cell) for cell in part.columns[0].cells] == list(NAMES)
    rest = [column.header for part in parts for column in part.columns[1:]]
    assert rest == [column.header for column in FIGURES.columns[1:]]
    cells = [str(cell) for part in parts for column in part.columns[1:] for cell in column.cells]
    assert cells == [str(cell) for column in FIGURES.columns[1:] for cell in column.cells]


def test_no_key_is_broken():
    """string_left_rear_mm became string_left_rear_ and mm, which nobody can copy into a file."""
    keys = [column.name for column in COLUMNS]
    rows = [("4 x", "string at both wheels", " ".join(keys[:8])), ("2 x", "wheel angles, straight", " ".join(keys[8:]))]
    table = table_of([("times", "right"), ("measure", "left"), ("write under", "left")], rows)
    for width in range(40, 120):
        lines = [line for part in fitted(table, width) for line in shown(part, width)]
        assert max(map(len, lines)) <= width
        assert [word for line in lines for word in re.findall(r"\w+_\w+", line)] == [key for key in keys if "_" in key]


@pytest.mark.slow
def test_drawn_tables():
    """Whatever a table holds: no line beyond the terminal but for a figure that has no room, no word lost, none broken that had room."""
    drawn = random.Random(5)
    for _ in range(400):
        count, width = drawn.randint(1, 9), drawn.randint(10, 90)
        columns = [(" ".join("h" * drawn.randint(1, 9) for _ in range(drawn.randint(1, 3))), drawn.choice(["left", "right"]))
                   for _ in range(count)]  # fmt: skip
        rows = [[" ".join(drawn.choice("abc") * drawn.randint(1, 30) for _ in range(drawn.randint(0, 5))) for _ in range(count)]
                for _ in range(drawn.randint(0, 5))]  # fmt: skip
        table = table_of(columns, rows)
        parts = fitted(table, width)
        assert all(part.columns[0].header == columns[0][0] for part in parts)
        told = [[(str(one.header), [str(cell) for cell in one.cells]) for one in part.columns] for part in parts]
        assert [one for part in told for one in part[1:]] == [(name, [row[at] for row in rows]) for at, (name, _) in enumerate(columns)][1:]
        if parts == [table]:
            continue
        for part in parts:
            lines, wide = shown(part, width), least_width(part)
            assert max(map(len, lines), default=0) <= max(width, wide)
            short = [word for word in words_of([cell for column in part.columns for cell in column.cells])
                     if len(word) <= min(int(LONGEST_SHARE * width), 12)]  # fmt: skip
            printed = " ".join(lines).split()
            assert all(word in printed for word in short)


@pytest.mark.slow
@pytest.mark.compiled
@pytest.mark.parametrize("words", [
    ("angles", "quay-loop"), ("angles", "quay-loop", "--setup", "drop"), ("angles", "car-park", "--explain"),
    ("bench", "quay-loop", "--plan", "quick", "--setup", "drop"), ("bench", "quay-loop", "floor-readings", "--setup", "drop", "--explain"),
    ("corner", "car-park", "--radius", "6", "--speed", "3", "--explain"),
    *(pytest.param(words, marks=pytest.mark.slow) for words in (("knock", "car-park"), ("run", "first-bend"))),
], ids=" ".join)  # fmt: skip
def test_commands_keep_to_a_terminal_of_40_columns(words, tmp_path, monkeypatch, capsys):
    """A terminal cut tables anywhere, also within a word of their heads."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("sim.kernels.compiled.first_use", lambda kernel: False)
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    monkeypatch.setenv("COLUMNS", "40")
    monkeypatch.setenv("NO_COLOR", "1")
    monkeypatch.setattr(sys, "argv", ["scrubwise", *words])
    with pytest.raises(SystemExit) as ended:
        main()
    told = re.sub(r"\x1b\[[0-9;]*m", "", capsys.readouterr().out)
    assert ended.value.code == 0
    assert max(map(len, told.splitlines())) <= 40
