"""`bench --type`: readings from the keyboard, a line each, kept at once."""

import subprocess
import sys
from itertools import chain, repeat

import numpy as np
import pytest

from sim.bench.result import plan_lines
from sim.errors import InputError
from sim.scenario.file import find_scenario, load_scenario
from viz.bench.numbers import bench_result, plan_result
from viz.bench.typed import HOW, PROMPT, type_readings

SETUP = "drop arm and two rods"
STRINGS = ("310 312.5 312 309", "311 312 311,5 310", "310 312 311 310", "310 311 311 309")


@pytest.fixture(scope="module")
def quay_loop():
    return load_scenario(find_scenario("quay-loop"))


@pytest.fixture
def typed(quay_loop, tmp_path):
    """Type lines in; returns the file and all that was told.  What stands in the file is looked at before each line is typed."""

    def run(*lines, name="floor.csv", plan="quick", setup=SETUP):
        file, told, seen = tmp_path / name, [], []
        waiting = chain(lines, repeat(None))

        def ask(prompt):
            told.append(prompt)
            seen.append(file.read_text().count("\n"))
            return next(waiting)

        type_readings(quay_loop, "quay-loop", file, plan, setup, ask, told.append)
        return file, told, seen

    return run


def rows_of(file):
    names, *rows = [line.split(",") for line in file.read_text().splitlines()]
    return [{name: cell for name, cell in zip(names, row, strict=True) if cell} for row in rows]


@pytest.mark.compiled
def test_every_line_is_kept_before_the_next_is_asked_for(typed):
    file, _, seen = typed("400", *STRINGS, "800 803", "end")
    assert seen == [1, 1, 2, 3, 4, 5, 6]
    rows = rows_of(file)
    assert len(rows) == 5
    assert rows[1] == {
        "rim_mm": "400", "string_left_rear_mm": "311", "string_left_front_mm": "312", "string_right_front_mm": "311.5",
        "string_right_rear_mm": "310",
    }  # fmt: skip
    assert rows[4] == {"rim_mm": "400", "toe_rear_mm": "800", "toe_front_mm": "803"}


@pytest.mark.slow
@pytest.mark.compiled
@pytest.mark.parametrize("plan", ["quick", "full"])
@pytest.mark.parametrize("setup", [SETUP, "kinked arms, cross rod"])
def test_what_is_asked_for_is_the_plan(typed, quay_loop, plan, setup):
    lines = plan_lines(plan_result(quay_loop, "quay-loop", plan, setup))
    file, told, seen = typed("400", "300 300 300 300", *[""] * (len(lines) - 1), plan=plan, setup=setup)
    asked = [line.partition(" Type: ")[2].split() for line in told if " Type: " in line]
    assert asked == [["rim_mm"], *(list(item.columns) for item in lines)]
    assert len(seen) == len(lines) + 1
    assert len(rows_of(file)) == 1


@pytest.mark.compiled
def test_what_was_typed_is_what_bench_reads(typed, quay_loop, tmp_path):
    file, *_ = typed("", *STRINGS, "", "343.6 343.4")
    result = bench_result(quay_loop, "quay-loop", [file], SETUP)
    assert result.readings.rim_taken_mm == pytest.approx(324.8, rel=1e-12, abs=0)
    other = tmp_path / "other.csv"
    strings = [line.replace(",", ".").split() for line in STRINGS]
    other.write_text("\n".join([
        "string_left_rear_mm,string_left_front_mm,string_right_front_mm,string_right_rear_mm,rod_left_mm,rod_right_mm",
        *(",".join(line) for line in strings), ",,,,343.6,343.4",
    ]))  # fmt: skip
    by_hand = bench_result(quay_loop, "quay-loop", [other], SETUP)
    assert result.advice == by_hand.advice


@pytest.mark.slow
@pytest.mark.compiled
@pytest.mark.parametrize(("wrong", "said"), [
    ("310 312 x 309", "'x' is not a number. Once more:"),
    ("310 312", "4 numbers are wanted here, not 2; - stands for one that was not read. Once more:"),
    ("310 312 - 309", "There is no string_right_front_mm; complete the pair or delete the line. Once more:"),
    ("310 2000 311 309", "2000 in column string_left_front_mm is not between 0 and 1000; give millimetres. Once more:"),
    ("310 610 311 309", "String_left_rear_mm and string_left_front_mm differ by 300 mm over a rim of 400 mm; "
     "check them, and set the wheels straight ahead. Once more:"),
    ("#1 2 3 4", "'#1' is not a number. Once more:"),
    ("nan 1 2 3", "'nan' is not a number. Once more:"),
])  # fmt: skip
def test_a_line_that_cannot_be_meant_is_asked_for_again(typed, wrong, said):
    file, told, _ = typed("400", wrong, STRINGS[0], "end")
    assert said in told
    assert len(rows_of(file)) == 1


@pytest.mark.compiled
def test_another_car_s_rods_and_a_wrong_rim_are_found_at_once(typed):
    file, told, _ = typed("4", "400", *[""] * 5, "243.6 343.4", "343.6 343.4", "end")
    assert "4 is not between 50 and 1500; give millimetres. Once more:" in told
    assert any(one.startswith("The left rod measures 243.6 mm, where the plan has 343.6 mm; ") for one in told)
    assert rows_of(file) == [{"rod_left_mm": "343.6", "rod_right_mm": "343.4"}]


@pytest.mark.compiled
def test_readings_that_are_there_are_never_overwritten(typed, tmp_path):
    (tmp_path / "floor.csv").write_text("taken on my knees\n")
    for name, said in (
        ("floor.csv", "there is such a file already; choose another name; what it holds can be named beside --type as READINGS.csv"),
        ("floor.txt", "the name does not end in .csv; call it floor.csv"),
        ("none/floor.csv", "the file can't be written (No such file or directory); check the folder and its rights"),
    ):
        with pytest.raises(InputError) as refused:
            typed("400", name=name)
        assert str(refused.value) == f"{tmp_path / name}: {said}"
    assert (tmp_path / "floor.csv").read_text() == "taken on my knees\n"


@pytest.mark.compiled
@pytest.mark.parametrize("lines", [(), ("end",), ("400", "", "- - - -", "end")])
def test_nothing_typed_leaves_no_file(typed, tmp_path, lines):
    with pytest.raises(InputError) as refused:
        typed(*lines)
    assert str(refused.value) == "--type: nothing was typed; type at least one reading"
    assert list(tmp_path.iterdir()) == []


SIGNS = [*"0123456789.,;- \t#eE+\"'xé\u2212", "end", "nan", "1e400", "-0", "  "]


@pytest.mark.slow
def test_drawn_lines_are_kept_or_asked_for_again(typed, quay_loop):
    """300 drawn lines in ten files: no exception, and `bench` reads all that was kept."""
    draw, files = np.random.default_rng(7), []
    for number in range(10):
        drawn = ["".join(draw.choice(SIGNS, size=draw.integers(1, 24))) for _ in range(30)]
        lines = [line for line in drawn if line.strip().lower() != "end"]
        file, *_ = typed("400", *lines, STRINGS[0], *[""] * 4, STRINGS[1], "800 802", "343.5 343.5", name=f"{number}.csv")
        files.append(file)
    assert bench_result(quay_loop, "quay-loop", files, SETUP).readings.files == tuple(map(str, files))


@pytest.mark.slow
def test_command_asks_beside_the_answer(tmp_path):
    """Questions go to standard error, so that the answer alone can go into a file; a file of before is read too."""
    call = [sys.executable, "-m", "viz.cli", "bench", "quay-loop", "--setup", SETUP, "--type", "more.csv"]
    before = tmp_path / "before.csv"
    before.write_text("rod_left_mm,rod_right_mm\n343.6,343.4\n")
    done = subprocess.run(
        [*call[:4], "quay-loop", "before.csv", *call[5:], "--json"], input="400\n310 312 311 309\n", capture_output=True, text=True,
        cwd=tmp_path, check=True,
    )  # fmt: skip
    assert done.stdout.startswith("{")
    assert '"before.csv"' in done.stdout
    assert '"more.csv"' in done.stdout
    assert "1 of 13: string at both wheels" in done.stderr
    # What was typed through a pipe ends no line on the screen, so that the prompt stands before the next question.
    assert max(len(line.removeprefix("> ")) for line in done.stderr.splitlines()) < 80
    assert rows_of(tmp_path / "more.csv")[0]["string_left_front_mm"] == "312"


@pytest.mark.compiled
def test_a_forgotten_minus_sign_is_asked_for_again(typed, quay_loop):
    """A right turn's angles are all below 0; the line says so and nothing is kept until they are."""
    lines = plan_lines(plan_result(quay_loop, "quay-loop", "quick", SETUP))
    place = next(index for index, item in enumerate(lines) if item.hand_deg and item.hand_deg < 0)
    file, told, _ = typed("400", *[""] * place, "33 42 54", "-33 42 -54", "-35 -44 -54", "end")
    said = [line for line in told if "is not to the right" in line]
    assert said == [
        "Left_deg = 33 is not to the right, where the hand wheel stands at 54 deg right; to the right every angle is below 0. Once more:",
        "Right_deg = 42 is not to the right, where the hand wheel stands at 54 deg right; to the right every angle is below 0. Once more:",
    ]
    assert rows_of(file) == [{"left_deg": "-35", "right_deg": "-44", "hand_deg": "-54"}]


@pytest.mark.compiled
def test_lines_are_counted_as_on_the_worksheet(typed):
    """Line 0 of both is the rim; a repeat says which it is."""
    _, told, _ = typed("400", *STRINGS, "end")
    asked = [line for line in told if " Type: " in line]
    assert asked[0].startswith("0 of 13: between the two places on each rim")
    assert [line.partition(": ")[2].partition(":")[0] for line in asked[1:5]] == [
        f"string at both wheels, {turn} of 4" for turn in ("1st", "2nd", "3rd", "4th")
    ]


@pytest.mark.compiled
def test_questions_are_answered_and_it_is_left_as_anything_else(typed):
    """`?`, `help`, `q` and `quit` were "not a number"; and nothing warned of the dangerous place before hands went to it."""
    file, told, _ = typed("?", "400", "Help", STRINGS[0], "q")
    assert len(rows_of(file)) == 1
    assert sum(HOW in one for one in told) == 3
    assert [one for one in told[: told.index(PROMPT)] if one.startswith("Danger: with the hand wheel at 73.3 deg left")]
