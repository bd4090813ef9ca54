"""Damaged files: whatever becomes of a scenario or a course, a command succeeds or refuses with one line, soon, without a traceback."""

import contextlib
import io
import json
import random
import re
import shutil
import signal
import sys
import tomllib
from itertools import cycle, islice
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


@pytest.mark.slow
@pytest.mark.compiled
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


# --- every command, every kind of file --------------------------------------------------------------------------------

MOST_S = 20  # of processor time that a command may take
RACE = (shipped_folder() / "race-day.toml").read_text(encoding="utf-8").partition("[motor]")[2].partition("[[setup]]")[0]
HILL = YARD.replace(SEGMENTS, 'file = "line.csv"\nscale = 0.5')
TRACK = YARD.replace(SEGMENTS, 'file = "track.gpx"\nclosed = true\nscale = 0.25')
RING = "segments = [{straight_m = 6}, {radius_m = 4, turn_deg = 180}, {straight_m = 6}, {radius_m = 4, turn_deg = 180}]\nclosed = true"
ELECTRIC = YARD.replace(SEGMENTS, RING).replace("[[setup]]", f"[motor]{RACE}[[setup]]", 1)
UNSURE = SCENARIO.decode() + '[uncertainty]\n"car.mass_kg" = "3 %"\n"car.tyre.friction" = "10 %"\n'
FREE = ["--setup", "größer", "--objective", "error", "--free", "arm_angle_deg=5:25"]
LINE = b"x_m,y_m,z_m,left_m,right_m\n0,0,0,2,2\n8,0,0.1,2,2\n16,0.4,0.2,2,2\n24,2.4,0.3,2,2\n30,6,0.4,2,2\n34,12,0.3,2,2\n36,20,0.1,2,2\n"
SHIPPED = {
    name: (shipped_folder() / name).read_bytes() for name in ("coast-down.csv", "floor-readings.csv", "quay-loop.toml", "quay-loop.csv")
}
CONTEST = {f"class/{name}": (shipped_folder() / "class-contest" / name).read_bytes() for name in ("rules.toml", "fox.toml", "otter.toml")}
# What is damaged -> the files beside it, and commands that read it; a run folder and kept laps are made by a command first.
KINDS_OF_FILE = {
    "car.toml": ({"car.toml": UNSURE.encode()}, [
        ["angles", "car.toml", "--checks"], ["corner", "car.toml", "--radius", "5", "--speed", "2", "--ladder", "--map-csv", "made.csv"],
        ["knock", "car.toml"], ["run", "car.toml", "--out", "made"], ["search", "car.toml", *FREE],
        ["spread", "car.toml", "--samples", "16"], ["template", "car.toml", "--out", "made.pdf"],
        ["assemble", "car.toml", "--out", "made.pdf"], ["bench", "car.toml", "--setup", "größer", "--plan", "quick"],
        ["measure", "car.toml", "--out", "made.pdf"], ["new", "car.toml", "--ask"],
    ]),
    "race.toml": ({"race.toml": ELECTRIC.encode()}, [
        ["run", "race.toml", "--paces"], ["spread", "race.toml", "--samples", "16", "--literature"],
    ]),
    "line.csv": ({"hill.toml": HILL.encode(), "line.csv": LINE}, [["run", "hill.toml", "--out", "made"]]),
    "track.gpx": ({"hill.toml": TRACK.encode(), "track.gpx": RECORDING}, [["run", "hill.toml"]]),
    "coast-down.csv": (SHIPPED, [["coast", "coast-down.csv", "--mass", "145", "--plot", "made.png", "--fragment", "made.toml"]]),
    "floor-readings.csv": (SHIPPED, [["bench", "quay-loop.toml", "floor-readings.csv", "--setup", "drop arm and two rods"]]),
    "class/rules.toml": (CONTEST, [["contest", "class", "--out", "made"]]),
    "class/fox.toml": (CONTEST, [["contest", "class"]]),
    "laps/summary.json": ({"car.toml": SCENARIO}, [["watch", "laps", "--export", "made.png"]]),
    "laps/scenario.toml": ({"car.toml": SCENARIO}, [["watch", "laps", "--export", "made.png"]]),
    "laps/trace-02-short-lock.csv": ({"car.toml": SCENARIO}, [["watch", "laps", "--export", "made.png"]]),
    "laps/scrubwise-run.json": ({"car.toml": SCENARIO}, [["watch", "laps", "--export", "made.png"], ["run", "car.toml", "--out", "laps"]]),
    "kept/block-": ({"car.toml": UNSURE.encode()}, [["spread", "car.toml", "--samples", "16", "--resume", "kept"]]),
    "kept/candidates-": ({"car.toml": UNSURE.encode()}, [["search", "car.toml", *FREE, "--resume", "kept"]]),
}  # fmt: skip
SEEDS = 8  # of each pair of file and command
FOUND: list[tuple[str, str]] = []  # (file, seed) that once went wrong: they are tried for ever


def no_number(text):
    raise AssertionError(f"{text} in a document")


@contextlib.contextmanager
def hang_told():
    """Processor time beyond MOST_S, of all threads, is an error."""

    def told(*_):
        raise AssertionError(f"more than {MOST_S} s of processor time")

    before = signal.signal(signal.SIGPROF, told)
    signal.setitimer(signal.ITIMER_PROF, MOST_S)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def tried(words, monkeypatch):
    """Run a command; (exit code, its document), after a look at all that it says and leaves."""
    out, err = io.StringIO(), io.StringIO()
    monkeypatch.setattr(sys, "argv", ["scrubwise", *words, "--json"])
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), hang_told(), pytest.raises(SystemExit) as ended:
        main()
    code, text = ended.value.code, out.getvalue()
    assert code in (0, 2), err.getvalue()
    assert "Traceback" not in err.getvalue()
    if code == 2:
        assert text == ""
        assert err.getvalue().startswith("scrubwise: ")
        one_line(err.getvalue()[:-1], words)
    assert not list(Path().rglob(".scrubwise-*"))
    made = Path("made")
    assert not made.exists() or (made / "scrubwise-run.json").is_file()
    if code == 2 and words[0] != "new":
        assert not list(Path().glob("made*"))
    return code, json.loads(text, parse_constant=no_number) if code == 0 else None


@pytest.fixture
def beginnings(place, monkeypatch):
    """A kind of file, whole: the folder as it is before each command."""

    def begin(kind):
        files, commands = KINDS_OF_FILE[kind]
        for one in place.iterdir():
            shutil.rmtree(one) if one.is_dir() else one.unlink()
        for name, data in files.items():
            (place / name).parent.mkdir(exist_ok=True)
            (place / name).write_bytes(data)
        if kind.startswith("laps"):
            tried(["run", "car.toml", "--out", "laps"], monkeypatch)
        elif kind.startswith("kept"):
            tried(commands[0], monkeypatch)
        (file,) = place.glob(f"{kind}*")
        return file, commands

    return begin


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="there is no clock of processor time to be told by")
@pytest.mark.parametrize("kind", KINDS_OF_FILE)
def test_every_command_ends_well_whatever_becomes_of_its_files(beginnings, place, monkeypatch, kind):
    """No traceback, no hang, exit code 0 or 2, no NaN in a document, nothing half written; kept laps give the same answer or are redone."""
    file, commands = beginnings(kind)
    whole = file.read_bytes()
    answers = {}
    for words in commands:
        code, answers[words[0]] = tried(words, monkeypatch)
        assert code == (2 if words[0] == "new" else 0), words
    names = {one.relative_to(place) for one in place.rglob("*")}
    seeds = [f"{kind} {number}" for number in range(SEEDS * len(commands))] + [seed for name, seed in FOUND if name == kind]
    codes = []
    for seed, words in zip(seeds, islice(cycle(commands), len(seeds)), strict=True):
        for one in [one for one in place.rglob("*") if one.relative_to(place) not in names] + list(place.glob("made*")):
            shutil.rmtree(one, ignore_errors=True) if one.is_dir() else one.unlink(missing_ok=True)
        file.write_bytes(damaged(whole, seed))
        try:
            code, answer = tried(words, monkeypatch)
        except BaseException as fault:
            raise AssertionError(f"{seed}: {words}") from fault
        codes.append(code)
        if kind.startswith("kept"):
            assert (code, answer) == (0, answers[words[0]]), seed
    assert set(codes) <= {0, 2}
