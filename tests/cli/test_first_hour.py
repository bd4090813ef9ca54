"""The first hour: what `scrubwise` alone offers, what a report ends with, and terminals that lack signs or colours."""

import ast
import io
import os
import pty
import re
import select
import subprocess
import sys
import time
from functools import cache, partial
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from viz.cli import menu
from viz.cli.entry import COMMANDS, STOPPED, main
from viz.cli.shell import _FROM_RIGHT
from viz.cli.signs import readable, show_readably
from viz.manual.pages import FOLDER

ROOT = Path(__file__).parents[2]
NAMES = [one.__name__ for one in COMMANDS]
PAGES = ["cp1252", "cp437", "cp850", "ascii", "koi8-r"]


class Keyboard(io.StringIO):
    """What somebody types."""

    def isatty(self):
        return True


@pytest.fixture
def typed(tmp_path, monkeypatch, capsys):
    """`scrubwise` alone on a terminal on which this is typed: (exit code, standard output, standard error)."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("CI", raising=False)
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setattr("sim.kernels.compiled.first_use", lambda kernel: False)

    def run(*lines):
        monkeypatch.setattr(sys, "argv", ["scrubwise"])
        monkeypatch.setattr(sys, "stdin", Keyboard("".join(f"{line}\n" for line in lines)))
        monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
        with pytest.raises(SystemExit) as ended:
            main()
        return ended.value.code, *capsys.readouterr()

    return run


# --- the menu ---------------------------------------------------------------------------------------------------------


def test_every_offer_says_its_command_which_there_is():
    for offer in menu.OFFERS:
        assert offer.words[0] in [*NAMES, "--help", "lesson", "words"]
    shown = "\n".join(menu._lines([one for one in menu.OFFERS if one.words[0] in [*NAMES, "--help"]]))
    assert shown.count("scrubwise ") == len([one for one in menu.OFFERS if one.words[0] in [*NAMES, "--help"]])


@pytest.mark.parametrize("columns", [20, 40, 80, 200])
def test_the_menu_follows_the_terminals_width(columns, monkeypatch):
    monkeypatch.setenv("COLUMNS", str(columns))
    lines = menu._lines(list(menu.OFFERS))
    assert max(map(len, lines)) < min(columns, 81)
    told = " ".join(" ".join(lines).split())
    assert all(" ".join(offer.words) in told for offer in menu.OFFERS)


@pytest.mark.slow
def test_what_was_chosen_is_said_and_run(typed, tmp_path):
    code, out, err = typed("1")
    assert code == 0
    assert "Running: scrubwise run first-bend\n" in err
    assert "First bend: does the inner wheel have to turn more?" in out
    assert (tmp_path / "first-bend-run" / "summary.json").is_file()


@pytest.mark.parametrize("lines", [
    (), ("",), ("  ",), ("nine", "99", ""), ("0", "-1", "1.0", "q"), ("q",), (" Q ",), ("quit",), ("x", "exit"),
])  # fmt: skip
def test_leaving(lines, typed, tmp_path):
    code, out, err = typed(*lines)
    assert (code, out) == (0, "")
    assert "Running" not in err
    assert err.count("Write a number from 1 to") == len([line for line in lines if line.strip().casefold() not in ("", *menu.LEAVE)])
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("number", ["2", "3", "5", "6", "7"])
@pytest.mark.parametrize("then", [(), ("q",)], ids=["end", "q"])
def test_leaving_at_the_second_question(number, then, typed, tmp_path):
    code, out, err = typed(number, *then)
    assert (code, out) == (0, "")
    assert "Running" not in err
    assert err.endswith(": " if then else ": \n")  # what was typed ends the line, or the program does
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("word", "run", "shown"), [
    ("kingpin offset", "words kingpin offset", "How far the middle of the tyre"),
    ("", "words", "kingpin track"),
])  # fmt: skip
def test_a_word_is_asked_for(word, run, shown, typed):
    code, out, err = typed("6", word)
    assert code == 0
    assert f"Running: scrubwise {run}\n" in err
    assert shown in out


@pytest.mark.parametrize(("typed_in", "run", "shown"), [
    (("5", ""), "lesson", "Lessons with this program's own figures"), (("7", ""), "manual", "The manual of Scrubwise"),
    (("7", "contest"), "manual contest", "A class's contest"),
])  # fmt: skip
def test_which_lesson_and_which_page_is_asked(typed_in, run, shown, typed):
    code, out, err = typed(*typed_in)
    assert code == 0
    assert f"Running: scrubwise {run}\n" in err
    assert shown in out


def test_a_lesson_that_was_chosen_is_written(monkeypatch):
    monkeypatch.setattr(menu, "ask", lambda prompt: " 2 ")
    assert menu._a_lesson() == ["lesson", "2", "--out", "lessons"]


@pytest.mark.parametrize("answers", [(), ("",), ("", ""), ("", "", ""), ("", "", "", "", "")])
@pytest.mark.parametrize("leave", ["q", " Q ", "exit"])
def test_q_leaves_at_every_question_about_a_car(answers, leave, typed):
    code, _, err = typed("2", "", *answers, leave, "not read")
    assert code == 0
    assert "Running: scrubwise new my-car.toml --ask\n" in err
    assert sys.stdin.read() == "not read\n"


def test_a_word_that_there_is_not_is_refused_with_the_next_one(typed):
    code, out, err = typed("6", "kingpn")
    assert (code, out) == (2, "")
    assert err.endswith('did you mean "kingpin"?\n')


def test_my_own_car_begins_a_file(typed, tmp_path):
    code, _, err = typed("2", "our car")
    assert code == 0
    assert "Running: scrubwise new 'our car.toml' --ask\n" in err
    assert not list(tmp_path.glob("*.toml")) or (tmp_path / "our car.toml").is_file()


@pytest.mark.compiled
def test_the_built_car_is_the_example_or_the_one_file_here(typed, tmp_path):
    code, out, err = typed("3", "")
    assert code == 0
    assert "Running: scrubwise bench quay-loop --plan quick --setup 'drop arm and two rods'\n" in err
    assert "the quick plan" in out.lower()
    yard = (ROOT / "tests" / "scenarios" / "yard.toml").read_text(encoding="utf-8")
    (tmp_path / "ours.toml").write_text(yard, encoding="utf-8")
    _, _, err = typed("3", "")
    assert "(Enter for ours.toml, q to leave)" in err
    assert "Running: scrubwise bench ours.toml --plan quick\n" in err


@pytest.mark.parametrize("case", ["piped in", "piped out", "CI"])
def test_elsewhere_the_help_is_printed(case, typed, monkeypatch):
    if case == "piped in":
        monkeypatch.setattr(Keyboard, "isatty", lambda self: False)
    elif case == "CI":
        monkeypatch.setenv("CI", "true")
    else:
        monkeypatch.setattr(menu, "wanted", lambda: False)
    code, out, err = typed("1")
    assert (code, err) == (0, "")
    assert "Usage: scrubwise" in out


CTRL_C = b"\x03"


def on_terminal(keys):
    """The menu on a real terminal, answered with these keys: (exit code, all that is seen)."""
    ours, theirs = pty.openpty()
    free = {key: value for key, value in os.environ.items() if key != "CI"}
    command = [sys.executable, "-m", "viz.cli"]
    own = partial(os.login_tty, theirs)  # so that Ctrl-C is a signal
    run = subprocess.Popen(command, stdin=theirs, stdout=theirs, stderr=theirs, cwd=ROOT, env=free, preexec_fn=own)
    os.close(theirs)
    seen, until = b"", time.monotonic() + 60
    while b"to leave: " not in seen and time.monotonic() < until:
        if select.select([ours], [], [], 1)[0]:
            seen += os.read(ours, 4096)
    os.write(ours, keys)
    code, until = run.poll(), time.monotonic() + 120
    while code is None and time.monotonic() < until:
        try:
            code = run.wait(2)
        except subprocess.TimeoutExpired:
            if keys == CTRL_C:  # Python's input() misses a signal that comes in the moment before it waits: press again, as people do
                os.write(ours, keys)
    while select.select([ours], [], [], 0.2)[0]:
        try:
            seen += os.read(ours, 4096)
        except OSError:  # the other end is closed
            break
    os.close(ours)
    return code, seen.decode()


@pytest.mark.slow
@pytest.mark.parametrize(("keys", "code", "last"), [
    (b"\n", 0, "to leave:"), (b"q\n", 0, "to leave: q"), (b"\x04", 0, "to leave:"), (CTRL_C, 130, STOPPED),
], ids=["Enter", "q", "Ctrl-D", "Ctrl-C"])  # fmt: skip
def test_on_a_real_terminal(keys, code, last):
    ended, seen = on_terminal(keys)
    assert ended == code
    assert "scrubwise run first-bend" in seen
    assert "Traceback" not in seen
    assert seen.replace("^D", "").replace("^C", "").replace("\b", "").rstrip().endswith(last)


# --- signs ------------------------------------------------------------------------------------------------------------


# Files that know signs without saying them: letters that look alike, quotes of word processors, and those that read the others' signs.
LETTERS = {"names.py", "file.py", "signs.py"}
# Of pictures, of files' beginnings, the ends of ranges in a pattern, and what isolates a name on streams that hold every sign.
UNSAID = {"\N{WHITE SQUARE}", "\ufeff", *_FROM_RIGHT, "\u2068", "\u2069"}


@cache
def written_signs():
    """Every sign beyond ASCII that the program's own texts hold."""
    texts = [file.read_text(encoding="utf-8") for file in FOLDER.glob("*.md")]
    texts += [file.read_text(encoding="utf-8") for file in (ROOT / "scenarios").rglob("*.toml")]
    for file in [*(ROOT / "viz").rglob("*.py"), *(ROOT / "sim").rglob("*.py")]:
        if "replay" in file.parts or file.name in LETTERS:
            continue
        tree = ast.parse(file.read_text(encoding="utf-8"))
        texts += [node.value for node in ast.walk(tree) if isinstance(node, ast.Constant) and isinstance(node.value, str)]
    return sorted({sign for text in texts for sign in text if not sign.isascii()})


@pytest.mark.slow
@pytest.mark.parametrize("encoding", PAGES)
def test_every_sign_of_ours_can_be_read_in_a_code_page(encoding):
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding=encoding)
    show_readably(stream)
    for sign in set(written_signs()) - UNSAID:
        raw.seek(0)
        raw.truncate()
        stream.write(sign)
        stream.flush()
        shown = raw.getvalue().decode(encoding)
        assert shown == sign or (shown == readable(sign) and "?" not in shown), (sign, shown)


@given(st.text(), st.sampled_from(PAGES))
def test_no_text_breaks_a_code_page(text, encoding):
    shown = text.encode("utf-8", "replace").decode("utf-8").encode(encoding, "readable").decode(encoding)
    assert len(shown) >= len([sign for sign in text if sign.isascii()])


@pytest.mark.parametrize(("text", "shown"), [
    ("0 ≤ x ± 3° → 5 µm²", "0 <= x +- 3 deg -> 5 um2"), ("größer, naïve", "grosser, naive"),
    ("“so” – it’s…", '"so" - it\'s...'),
    ("轮", "?"),
])  # fmt: skip
def test_readable(text, shown):
    assert readable(text) == shown


@pytest.mark.parametrize("encoding", ["cp1252", "cp437", "cp850"])
def test_commands_in_a_windows_code_page(encoding, tmp_path, monkeypatch):
    yard = (ROOT / "tests" / "scenarios" / "yard.toml").read_text(encoding="utf-8")
    name = re.search(r'\[\[setup\]\]\nname = "([^"]+)"', yard)[1]
    (tmp_path / "odd.toml").write_text(yard.replace(f'"{name}"', '"größer → 轮"', 1), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    for words in (["angles", "odd.toml"], ["angles", "odd.toml", "--explain"], ["manual", "scenario"], ["manual", "start"], ["--help"]):
        raw = io.BytesIO()
        shown = io.TextIOWrapper(raw, encoding=encoding)
        with monkeypatch.context() as terminal:
            terminal.setattr(sys, "stdout", shown)
            terminal.setattr(sys, "argv", ["scrubwise", *words])
            with pytest.raises(SystemExit) as ended:
                main()
        assert ended.value.code == 0
        text = raw.getvalue().decode(encoding)
        assert ("größer -> ?" in " ".join(text.split())) == ("odd.toml" in words)


# --- colours, last lines ----------------------------------------------------------------------------------------------


def test_no_colour_is_obeyed(typed, monkeypatch):
    colour = re.compile(r"\x1b\[[\d;]*(?:3[0-8]|4[0-8]|9\d|10\d)[;\d]*m")
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setattr(menu, "choose", lambda commands: ["manual", "python"])
    assert colour.search(typed()[1])
    monkeypatch.setenv("NO_COLOR", "1")
    shown = typed()[1]
    assert not colour.search(shown)
    assert "sim.load" in shown


REPORTS = [
    ("angles", "first-bend"), ("corner", "first-bend", "--radius", "6", "--speed", "4"),
    ("coast", str(ROOT / "scenarios" / "coast-down.csv"), "--mass", "145"),
    *(pytest.param(one, marks=pytest.mark.slow) for one in (
        ("run", "first-bend"), ("knock", "first-bend"), ("bench", "quay-loop", "--plan", "quick", "--setup", "4"),
        ("bench", "quay-loop", "bench-readings", "--setup", "drop arm and two rods"),
        ("spread", "first-bend", "--samples", "16", "--literature"), ("search", "first-bend"), ("search", "car-park"),
        ("contest", "class-contest"),
    )),
]  # fmt: skip


@pytest.mark.parametrize("form", ["plain", pytest.param("--explain", marks=pytest.mark.slow)])
@pytest.mark.parametrize("words", REPORTS, ids=lambda words: words[0])
def test_a_report_ends_with_what_to_do_next(words, form, scrubwise):
    code, out, _ = scrubwise(*words, *([form] if form == "--explain" else []))
    assert code == 0
    told = re.split(r"\n(?=[A-Z])", out.rstrip("\n"))
    assert told[-1].startswith("What to do: ")
    assert len(re.findall(r"^What to do: ", out, re.M)) == 1
