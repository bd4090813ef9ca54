"""What stands under a name that is read or written: pipes, devices, folders, files of others, hidden signs, closed output."""

import csv
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from sim.errors import HIDDEN, InputError
from sim.scenario.file import shipped_folder
from viz.shared.cells import cell, write_rows
from viz.shared.files import interruptible, refuse_written_by_others, write_fragment

ROOT = Path(__file__).parents[2]
YARD = (ROOT / "tests" / "scenarios" / "yard.toml").read_text(encoding="utf-8")
ROD = '[[setup]]\nname = "rod"\npivot = "stub axles"\nlinkage = "cross rod"\narm_length_mm = 110\narm_angle_deg = 13.9\n'
SEGMENTS = "segments = [{straight_m = 8}, {radius_m = 4, turn_deg = 90}, {straight_m = 4}]"


def slow(value):
    return pytest.param(value, marks=pytest.mark.slow)


posix = pytest.mark.skipif(sys.platform == "win32", reason="pipes, sockets and devices are files on POSIX systems")


def stands(place, kind):
    """Something that is no plain file, under a name."""
    if kind == "pipe":
        os.mkfifo(place)
    elif kind == "socket":
        import socket

        here = os.getcwd()
        os.chdir(place.parent)  # the names of sockets are short
        try:
            socket.socket(socket.AF_UNIX).bind(place.name)
        finally:
            os.chdir(here)
    elif kind == "device":
        place.symlink_to("/dev/zero")
    elif kind == "endless":  # a plain file to look at, of no size, that never ends
        place.symlink_to("/proc/self/pagemap")
    elif kind == "unreadable":  # and one that can be opened and not read
        place.symlink_to("/proc/self/mem")
    elif kind == "sparse":  # takes no room on the drive
        with open(place, "wb") as stream:
            stream.truncate(10**12)
    else:
        place.mkdir()


@pytest.fixture
def _no_waiting():
    """Whoever still waits at a pipe after a minute waits for ever."""

    def told(*_):
        raise AssertionError("it waits")

    before = signal.signal(signal.SIGALRM, told)
    signal.alarm(60)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


WATCH = [["watch", "laps", "--export", "p.png"], ["watch", "laps", "--story", "p.gif"]]
AGAIN = [*WATCH, ["report", "laps", "--out", "p.html"]]
READ = {  # what is read, and the commands that read it
    "odd.toml": [
        ["run", "odd.toml"], ["angles", "odd.toml"], ["corner", "odd.toml", "--radius", "5", "--speed", "2"],
        ["assemble", "odd.toml", "--out", "m.pdf"], ["template", "odd.toml", "--out", "m.pdf"], ["bench", "odd.toml", "--plan", "quick"],
        ["knock", "odd.toml"], ["search", "odd.toml"], ["spread", "odd.toml"], ["new", "odd.toml", "--ask"],
        ["measure", "odd.toml", "--out", "m.pdf"], ["bench", "odd.toml", "--type", "typed.csv"],
        ["search", "rod.toml", "--fragment", "odd.toml"], ["coast", "good.csv", "--mass", "145", "--fragment", "odd.toml"],
    ],
    "odd.csv": [
        ["coast", "odd.csv", "--mass", "145"], ["bench", "rod.toml", "odd.csv"],
        ["bench", "rod.toml", "--setup", "rod", "--type", "odd.csv"], ["run", "course.toml", "--json"],
        ["search", "course.toml", "--json"], ["spread", "course.toml", "--json"],
    ],
    "odd.gpx": [["coast", "odd.gpx", "--mass", "145"], ["run", "track.toml", "--json"]],
    "class/rules.toml": [["contest", "class", "--json"]],
    "class/line.csv": [["contest", "class", "--json"]],
    "laps/summary.json": AGAIN,
    "laps/scenario.toml": AGAIN,
    "laps/trace-01-ideal.csv": WATCH,
    "laps/scrubwise-run.json": AGAIN,
}  # fmt: skip


@posix
@pytest.mark.usefixtures("_no_waiting")
@pytest.mark.parametrize(
    "kind", ["pipe", slow("socket"), slow("device"), slow("folder"), slow("endless"), slow("unreadable"), slow("sparse")]
)
@pytest.mark.parametrize("name", READ)
def test_what_is_no_plain_file_is_refused_at_once(scrubwise, tmp_path, name, kind):
    """`new --ask` and a contest's rules waited for ever at a pipe, a run's files too, and `report` at its `summary.json`."""
    if kind in ("endless", "unreadable") and not Path("/proc/self/pagemap").exists():
        pytest.skip("this system has no such files")
    (tmp_path / "rod.toml").write_text(YARD + ROD, encoding="utf-8")
    (tmp_path / "course.toml").write_text(YARD.replace(SEGMENTS, 'file = "odd.csv"'), encoding="utf-8")
    (tmp_path / "track.toml").write_text(YARD.replace(SEGMENTS, 'file = "odd.gpx"'), encoding="utf-8")
    shutil.copy(shipped_folder() / "coast-down.csv", tmp_path / "good.csv")
    shutil.copytree(shipped_folder() / "class-contest", tmp_path / "class")
    rules = (tmp_path / "class/rules.toml").read_text(encoding="utf-8")
    (tmp_path / "class/rules.toml").write_text(
        re.sub(r"^segments = \[.*?^\]", 'file = "line.csv"', rules, flags=re.M | re.S), encoding="utf-8"
    )
    laps = tmp_path / "laps"
    laps.mkdir()
    (laps / "scrubwise-run.json").write_text('{"format": 1, "written_by": "scrubwise x", "files": []}', encoding="utf-8")
    told = {"model": "slipping four wheels", "setups": [{"finished": True, "reason": None}] * 3}
    (laps / "summary.json").write_text(json.dumps(told), encoding="utf-8")
    (laps / "scenario.toml").write_text(YARD, encoding="utf-8")
    place = tmp_path / name
    place.unlink(missing_ok=True)
    stands(place, kind)
    for words in READ[name]:
        code, out, err = scrubwise(*words)
        assert (code, out) == (2, ""), words
        assert err.startswith("scrubwise: ")
        assert err.count("\n") == 1


@posix
@pytest.mark.slow
@pytest.mark.parametrize("words", [["angles", "/dev/stdin"], ["coast", "/dev/stdin", "--mass", "145"], ["bench", "rod.toml", "/dev/stdin"]])
def test_standard_input_that_says_nothing_is_not_waited_for(tmp_path, words):
    (tmp_path / "rod.toml").write_text(YARD + ROD, encoding="utf-8")
    reading, writing = os.pipe()  # nobody writes, and nobody closes it
    try:
        done = subprocess.run([sys.executable, "-m", "viz.cli", *words], cwd=tmp_path, text=True, capture_output=True, check=False,
                              timeout=60, stdin=reading, env=os.environ | {"PYTHONPATH": str(ROOT)})  # fmt: skip
    finally:
        os.close(reading)
        os.close(writing)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith("scrubwise: /dev/stdin: ")
    assert done.stderr.count("\n") == 1


@posix
def test_a_system_file_that_has_nothing_to_give_yet_is_refused(tmp_path, monkeypatch):
    """Such files count as plain, and answer `not yet` where a pipe would keep waiting: a pipe that is taken for plain shows it."""
    from sim.files import text

    os.mkfifo(tmp_path / "a.csv")
    writer = os.open(tmp_path / "a.csv", os.O_RDWR)
    monkeypatch.setattr(text.os, "fstat", lambda handle: os.stat_result((0o100644, 0, 0, 1, 0, 0, 0, 0, 0, 0)))
    try:
        with pytest.raises(OSError, match="does not tell what it holds"):
            text.plain_bytes(tmp_path / "a.csv", 10)
    finally:
        os.close(writer)


def test_a_file_that_grows_while_it_is_read_is_cut_off(tmp_path, monkeypatch):
    from sim.files import text

    file = tmp_path / "a.csv"
    file.write_bytes(b"x" * 11)
    monkeypatch.setattr(text.os, "fstat", lambda handle: os.stat_result((0o100644, 0, 0, 1, 0, 0, 5, 0, 0, 0)))
    with pytest.raises(text.TooLargeError):
        text.plain_bytes(file, 10)


# --- what is written --------------------------------------------------------------------------------------------------


def test_a_fragment_replaces_an_earlier_one_and_nothing_else(tmp_path):
    """`--fragment my-car.toml` replaced the team's own scenario."""
    file = tmp_path / "found.toml"
    write_fragment(file, "[car]\nmass_kg = 100\n")
    write_fragment(file, "[car]\nmass_kg = 200\n")
    assert "mass_kg = 200" in file.read_text(encoding="utf-8")
    changed = file.read_text(encoding="utf-8").replace("200", "201")
    for text in (changed, YARD, "", f"{YARD}\n{changed}"):
        file.write_text(text, encoding="utf-8")
        with pytest.raises(InputError, match="that Scrubwise did not write, or that was changed since; choose another name"):
            write_fragment(file, "[car]\nmass_kg = 200\n")
        assert file.read_text(encoding="utf-8") == text


def test_a_fragment_that_could_not_be_written_is_refused_before_the_search(scrubwise, tmp_path):
    (tmp_path / "mine.toml").write_text(YARD, encoding="utf-8")
    code, out, err = scrubwise("search", "first-bend", "--fragment", "mine.toml")
    assert (code, out) == (2, "")
    assert err.startswith("scrubwise: mine.toml: there is a file of this name that Scrubwise did not write")
    assert (tmp_path / "mine.toml").read_text(encoding="utf-8") == YARD


@pytest.mark.slow
def test_a_fragment_of_a_coast_replaces_no_scenario(scrubwise, tmp_path):
    (tmp_path / "mine.toml").write_text(YARD, encoding="utf-8")
    words = ("coast", shipped_folder() / "coast-down.csv", "--mass", "145", "--fragment")
    assert scrubwise(*words, "mine.toml")[0] == 2
    assert (tmp_path / "mine.toml").read_text(encoding="utf-8") == YARD
    assert [scrubwise(*words, "new.toml")[0] for _ in range(2)] == [0, 0]


@posix
def test_a_fragment_does_not_wait_at_a_pipe(tmp_path):
    os.mkfifo(tmp_path / "a.toml")
    with pytest.raises(InputError, match="did not write"):
        refuse_written_by_others(tmp_path / "a.toml")


FORMULAS = ["=1+1", "@SUM(A1)", "+1", "-1+2", "\t=1", "\r=1", " =1", "＝1", "a;=1+1", '=1"x', "=1,2"]


@pytest.mark.parametrize("text", FORMULAS)
def test_no_cell_is_taken_for_a_formula(tmp_path, text):
    write_rows(tmp_path / "a.csv", ["name", "gain"], [[text, -1.5], [None, True]])
    with open(tmp_path / "a.csv", encoding="utf-8", newline="") as stream:
        rows = list(csv.reader(stream))
    assert rows[1:] == [[text if text.startswith("a") else f"'{text}", "-1.5"], ["", "True"]]
    assert not cell(text).startswith(("=", "+", "-", "@", "\t", "\r"))
    # a spreadsheet that parts cells at semicolons sees no formula either
    with open(tmp_path / "a.csv", encoding="utf-8", newline="") as stream:
        assert not any(one.strip().startswith(("=", "@")) for row in csv.reader(stream, delimiter=";") for one in row)


@pytest.mark.slow
def test_a_set_up_with_a_formulas_name_is_harmless_in_every_table(scrubwise, tmp_path):
    (tmp_path / "a.toml").write_text(YARD.replace('name = "ideal"', 'name = "=1+1"').replace("short lock", "@SUM(A1)"), encoding="utf-8")
    assert scrubwise("run", "a.toml", "--out", "laps")[0] == 0
    assert scrubwise("corner", "a.toml", "--radius", "6", "--speed", "2", "--map-csv", "map.csv")[0] == 0
    tables = [*(tmp_path / "laps").glob("*.csv"), tmp_path / "map.csv"]
    assert len(tables) > 3
    for file in tables:
        with open(file, encoding="utf-8", newline="") as stream:
            assert {one[:1] for row in csv.reader(stream) for one in row} & set("=@+") == set(), file


# --- signs that hide --------------------------------------------------------------------------------------------------

SIGNS = ["\x1b", "\x07", "\x7f", "\x9b", "\u061c", "\u200f", "\u202a", "\u202e", "\u2066", "\u2069", "\u2028"]


@pytest.mark.parametrize("sign", SIGNS, ids=ascii)
def test_no_title_and_no_name_holds_a_hidden_sign(scrubwise, tmp_path, sign):
    """The C1 signs and those that turn the direction of text went through."""
    escaped = f"\\u{ord(sign):04x}"
    for text in (YARD.replace("Yard", f"Yard{escaped}"), YARD.replace('"ideal"\npivot', f'"ide{escaped}al"\npivot')):
        (tmp_path / "a.toml").write_text(text, encoding="utf-8")
        code, out, err = scrubwise("angles", "a.toml")
        assert (code, out) == (2, "")
        assert err.count("\n") == 1
        assert err[:-1].isprintable()
        assert "a control sign or one that turns the direction" in err


@pytest.mark.parametrize("sign", SIGNS, ids=ascii)
def test_no_file_name_that_is_printed_holds_one(scrubwise, tmp_path, sign):
    (tmp_path / f"a{sign}.toml").write_text(YARD, encoding="utf-8")
    code, out, err = scrubwise("angles", f"a{sign}.toml")
    assert (code, out) == (2, "")
    assert err[:-1].isprintable()
    assert err.startswith("scrubwise: command line: 'a\\")


def test_names_of_the_world_are_welcome(scrubwise, tmp_path):
    """Writing that runs from right to left needs no sign for it, and joiners are letters' own."""
    names = ["größer", "轮", "עגלה", "چرخ\u200cها", "🏎\ufe0f"]
    for name in names:
        (tmp_path / f"{name}.toml").write_text(YARD.replace('"ideal"\npivot', f'"{name}"\npivot'), encoding="utf-8")
        assert scrubwise("angles", f"{name}.toml", "--json")[0] == 0


def test_a_refusal_shows_no_hidden_sign():
    told = str(InputError("a\x1b[31m", "k\u202e", "p\x9b", "r\u2067"))
    assert re.search(f"[{HIDDEN}]", told) is None


# --- Ctrl-C -----------------------------------------------------------------------------------------------------------


class Falls:
    """Ctrl-C comes while it is thrown away, where Python cannot raise."""

    def __del__(self):
        signal.raise_signal(signal.SIGINT)


def test_ctrl_c_is_not_lost_where_python_cannot_raise(capsys):
    """A contest that was interrupted while a weak reference ended printed a traceback and went on to its end."""

    @interruptible()
    def work():
        Falls()
        for _ in range(1000):
            time.sleep(0.01)

    with pytest.raises(KeyboardInterrupt):
        work()
    assert capsys.readouterr() == ("", "")


# --- output that is closed --------------------------------------------------------------------------------------------


@posix
@pytest.mark.parametrize("closed", [">&-", slow("2>&-"), slow(">&- 2>&-"), slow("<&- >&- 2>&-"), slow("| true")])
@pytest.mark.parametrize("words", ["--help", slow("angles first-bend"), slow("manual")])
def test_closed_output_ends_quietly(tmp_path, closed, words):
    """A closed standard output ended with a traceback, and the next file that was opened would have taken its place."""
    line = f'"{sys.executable}" -m viz.cli {words} {closed}; exit ${{PIPESTATUS[0]}}'
    done = subprocess.run(["bash", "-c", line], cwd=tmp_path, capture_output=True, text=True, env=os.environ | {"PYTHONPATH": str(ROOT)})
    assert (done.returncode, done.stderr) == (0, "")
    assert list(tmp_path.iterdir()) == []
