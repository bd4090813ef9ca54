"""Damaged files: whatever becomes of a scenario or a course, a command succeeds or refuses with one line, soon, without a traceback."""

import contextlib
import io
import json
import random
import re
import sys
import tomllib
from pathlib import Path

import pytest

from sim.course.centreline import Course
from sim.errors import InputError
from sim.scenario.file import check_scenario, shipped_folder
from sim.study.ready import course_of
from viz.cli.entry import main

YARD = (Path(__file__).parents[1] / "scenarios" / "yard.toml").read_text(encoding="utf-8")
MORE_SETUPS = """
[car.rear_tyre]
friction = 0.8
[[setup]]
name = "größer"
pivot = "stub axles"
linkage = "cross rod"
arm_length_mm = 110
arm_angle_deg = 13.9
toe_in_deg = 0.5
rod_turns_left = 0.5
kingpin_inclination_deg = 8.0
[[setup]]
name = "rack"
pivot = "stub axles"
linkage = "rack"
arm_length_mm = 110
arm_angle_deg = -166
rack_behind_front_axle_mm = -107
rack_length_mm = 300
rack_mm_per_turn = 120
"""
SCENARIO = (YARD + MORE_SETUPS).encode()
TABLE = (shipped_folder() / "quay-loop.csv").read_bytes()
RECORDING = (shipped_folder() / "recorded-loop.gpx").read_bytes()
BEND = b"x_m,y_m\n0,0\n4,0\n8,0.2\n12,1.2\n15,3\n17,6\n18,10\n18,14\n18,18\n"
SEGMENTS = "segments = [{straight_m = 8}, {radius_m = 4, turn_deg = 90}, {straight_m = 4}]"
FAST, SLOW = 300, 2000

NUMBER = re.compile(rb"(?<![\w.])[-+]?\d+(\.\d+)?([eE][-+]?\d+)?")
ODD_NUMBERS = [
    b"nan", b"inf", b"-inf", b"1e999", b"-1e999", b"1e308", b"-1e308", b"5e-324", b"0", b"-0.0", b"-1", b"", b'"12"', b"true", b"[]", b"{}",
    b"twelve", b"99999999999999999999", b"9" * 400, b"0x1F", b"1_000", b"12,5", b"1979-05-27", b"12.5.7", b"--3", b"1e", "１２".encode(),
]  # fmt: skip
BYTES = bytes(range(256))


def flipped(data, pick):
    """A few bytes become others."""
    made = bytearray(data)
    for _ in range(pick.randint(1, 5)):
        made[pick.randrange(len(made))] = pick.choice(BYTES)
    return bytes(made)


def of_lines(change):
    def damaged(data, pick):
        lines = data.splitlines(keepends=True)
        change(lines, pick)
        return b"".join(lines)

    damaged.__name__ = change.__name__
    return damaged


@of_lines
def line_dropped(lines, pick):
    del lines[pick.randrange(len(lines))]


@of_lines
def line_doubled(lines, pick):
    at = pick.randrange(len(lines))
    lines.insert(at, lines[at])


@of_lines
def lines_swapped(lines, pick):
    one, other = pick.randrange(len(lines)), pick.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]


@of_lines
def line_torn(lines, pick):
    """A line ends early, without its line end."""
    at = pick.randrange(len(lines))
    lines[at] = lines[at][: pick.randrange(len(lines[at]))]


@of_lines
def block_moved(lines, pick):
    start = pick.randrange(len(lines))
    block = lines[start : start + pick.randint(1, 6)]
    del lines[start : start + len(block)]
    at = pick.randint(0, len(lines))
    lines[at:at] = block


def number_replaced(data, pick):
    found = pick.choice(list(NUMBER.finditer(data)))
    return data[: found.start()] + pick.choice(ODD_NUMBERS) + data[found.end() :]


def number_scaled(data, pick):
    """A number that was mistyped, is in the wrong unit or has the wrong sign."""
    found = pick.choice(list(NUMBER.finditer(data)))
    value = float(found.group()) * pick.choice([-1, 1e-6, 1e-3, 0.1, 0.5, 0.7, 0.9, 1.1, 1.3, 2, 10, 1e3, 1e6])
    return data[: found.start()] + repr(value).encode() + data[found.end() :]


def truncated(data, pick):
    return data[: pick.randrange(len(data))]


def rubbish_inserted(data, pick):
    at = pick.randrange(len(data))
    return data[:at] + bytes(pick.choice(BYTES) for _ in range(pick.randint(1, 40))) + data[at:]


def text_inserted(data, pick):
    at = pick.randrange(len(data))
    return data[:at] + pick.choice([b"\0", b"\r", b"\n", b"\xef\xbb\xbf", b"\x1b[31m", b'"', b"'", b"[", b"]", b"{", b"<", b"&", b"#", b";",
                                    "\u2028".encode(), "\u202e".encode(), b"." * 300, b"[" * 3000]) + data[at:]  # fmt: skip


def encoded(data, pick):
    text = data.decode("utf-8", "replace")
    return text.encode(pick.choice(["utf-16", "utf-16-be", "utf-32", "latin-1", "utf-8-sig", "utf-7", "cp500"]), "replace")


DAMAGES = [
    flipped, line_dropped, line_doubled, lines_swapped, line_torn, block_moved, number_replaced, number_replaced, number_scaled,
    number_scaled, number_scaled, truncated, rubbish_inserted, text_inserted, encoded,
]  # fmt: skip


def damaged(data, seed):
    """The data after one or two damages, by a seed; never more, or nothing but the first would ever be met."""
    pick = random.Random(seed)
    for damage in pick.choices(DAMAGES, k=pick.choice([1, 1, 1, 2])):
        data = damage(data, pick) if NUMBER.search(data) else data
    return data


def one_line(text, seed):
    assert text.count("\n") == 0, (seed, text)
    assert text.isprintable(), (seed, text)
    assert "; " in text, (seed, text)  # what is wrong; what to do


def command(words, seed):
    """Run a command in this process and look at all that it says; returns the exit code."""
    out, err = io.StringIO(), io.StringIO()
    sys.argv = ["scrubwise", *words, "--json"]
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), pytest.raises(SystemExit) as ended:
        main()
    if ended.value.code == 0:
        json.loads(out.getvalue())
        return 0
    assert (ended.value.code, out.getvalue()) == (2, ""), (seed, out.getvalue())
    assert err.getvalue().startswith("scrubwise: damaged"), (seed, err.getvalue())
    assert err.getvalue().endswith("\n"), seed
    one_line(err.getvalue()[:-1], seed)
    return 2


def warm_up(words):
    """An undamaged file is read."""
    assert command(words, "undamaged") == 0


@pytest.fixture
def place(tmp_path, monkeypatch):
    """An empty current folder; what the process is changed for is put back."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "argv", sys.argv)
    monkeypatch.setattr(sys, "excepthook", sys.excepthook)
    monkeypatch.setattr("sim.kernels.compiled.first_use", lambda kernel: False)
    return tmp_path


COMMANDS = [["angles"], ["corner", "--radius", "-6", "--speed", "3"], ["knock"]]


def read_scenarios(place, seeds):
    file = place / "damaged.toml"
    file.write_bytes(SCENARIO)
    for words in COMMANDS:
        warm_up([*words, file.name])
    codes = []
    for seed in seeds:
        file.write_bytes(damaged(SCENARIO, f"scenario {seed}"))
        codes.append(command([*COMMANDS[seed % len(COMMANDS)], file.name], seed))
    return codes


def read_courses(place, seeds, data, name):
    """Read damaged courses; returns what was read and what was refused."""
    read, refused = 0, set()
    file = place / name
    scenario = check_scenario(tomllib.loads(YARD.replace(SEGMENTS, f'file = "{name}"\nclosed = true\nscale = 0.25')), "yard.toml")
    file.write_bytes(data)
    course_of(scenario, place, "yard.toml")
    for seed in seeds:
        file.write_bytes(damaged(data, f"{name} {seed}"))
        try:
            course = course_of(scenario, place, "yard.toml")
        except InputError as error:
            line = str(error)
        else:
            line = ""
            read += 1
            numbers = (course.station, course.x, course.y, course.heading, course.curvature, course.height, course.slope)
            assert isinstance(course, Course)
            assert all(abs(column).max() < 1e9 for column in numbers), seed  # finite, too
        if line:
            assert line.startswith(f"{file}: "), (seed, line)
            one_line(line, seed)
            refused.add(re.sub(r"[\d.]+", "#", line))
    return read, refused


def run_courses(place, seeds):
    """Lap damaged courses through the whole command."""
    (place / "damaged.toml").write_text(YARD.replace(SEGMENTS, 'file = "damaged.csv"'), encoding="utf-8")
    (place / "damaged.csv").write_bytes(BEND)
    warm_up(["run", "damaged.toml"])
    codes = []
    for seed in seeds:
        (place / "damaged.csv").write_bytes(damaged(BEND, f"run {seed}"))
        codes.append(command(["run", "damaged.toml"], seed))
    return codes


@pytest.mark.slow
def test_damaged_scenarios(place):
    codes = read_scenarios(place, range(FAST // 2))
    assert 0.1 < codes.count(0) / len(codes) < 0.9  # some damage does no harm, most does


@pytest.mark.slow
@pytest.mark.parametrize(("data", "name"), [(TABLE, "damaged.csv"), (RECORDING, "damaged.gpx")], ids=["CSV", "GPX"])
def test_damaged_courses(place, data, name):
    read, refused = read_courses(place, range(FAST // 4), data, name)
    assert read > 0
    assert len(refused) > 5  # refused for many reasons


def test_damaged_courses_driven(place):
    codes = run_courses(place, range(12))
    assert set(codes) == {0, 2}


@pytest.mark.target(
    "T20", what="Damaged scenarios, courses and tracks: answered or refused in one line, and with --json nothing else",
    asked="2000 files",
)  # fmt: skip
@pytest.mark.slow
def test_many_damaged_scenarios(place):
    assert len(read_scenarios(place, range(FAST, FAST + SLOW // 2))) == SLOW // 2


@pytest.mark.target(
    "T20", what="Damaged scenarios, courses and tracks: answered or refused in one line, and with --json nothing else",
    asked="2000 files",
)  # fmt: skip
@pytest.mark.slow
@pytest.mark.parametrize(("data", "name"), [(TABLE, "damaged.csv"), (RECORDING, "damaged.gpx")], ids=["CSV", "GPX"])
def test_many_damaged_courses(place, data, name):
    read_courses(place, range(FAST, FAST + SLOW // 4), data, name)


@pytest.mark.target(
    "T20", what="Damaged scenarios, courses and tracks: answered or refused in one line, and with --json nothing else",
    asked="2000 files",
)  # fmt: skip
@pytest.mark.slow
def test_many_damaged_courses_driven(place):
    run_courses(place, range(100, 200))
