"""What is said of how long a command takes: on a terminal's standard error, once it goes on; nowhere else."""

import time
from pathlib import Path

import pytest

from viz.cli import shell
from viz.cli.entry import COMMANDS
from viz.lesson.catalogue import LESSONS

TOPICS = Path(__file__).parents[2] / "viz" / "lesson" / "topics"
SLOW = [
    ("template", "quay-loop", "--setup", "4", "--out", "a.pdf"), ("assemble", "quay-loop", "--setup", "4", "--out", "a.pdf"),
    ("measure", "--out", "a.pdf"), ("knock", "quay-loop"), ("bench", "quay-loop", "--plan", "quick", "--setup", "4"),
    ("bench", "quay-loop", "bench-readings", "--setup", "4"),
]  # fmt: skip


@pytest.fixture
def terminal(monkeypatch):
    """From its call on, standard error is a terminal, and waiting begins at once."""

    def begun():
        monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
        monkeypatch.setattr("sim.kernels.compiled.first_use", lambda kernel: False)
        monkeypatch.setattr(shell, "WAIT_S", 0.001)

    return begun


@pytest.mark.slow
@pytest.mark.parametrize("words", SLOW, ids=lambda words: " ".join(words[:2]))
def test_a_slow_command_says_how_long_it_takes(words, scrubwise, terminal):
    terminal()
    assert words[0] in [one.__name__ for one in COMMANDS]
    code, out, err = scrubwise(*words)
    assert code == 0
    assert err.count(" on a usual machine ...\n") == 1
    assert "on a usual machine" not in out
    assert max(map(len, err.splitlines())) < 80


@pytest.mark.slow
@pytest.mark.parametrize("words", SLOW[:3], ids=lambda words: words[0])
def test_nothing_is_said_beside_a_document(words, scrubwise, terminal):
    terminal()
    code, _, err = scrubwise(*words, "--json")
    assert (code, err) == (0, "")


def test_nothing_is_said_apart_from_a_terminal(monkeypatch, capsys):
    monkeypatch.setattr(shell, "WAIT_S", 0.001)
    with shell.patience("Drawing", "about 5 seconds", quiet=False):
        time.sleep(0.1)
    assert capsys.readouterr().err == ""


def test_nothing_is_said_of_what_is_done_at_once(monkeypatch, capsys, terminal):
    terminal()
    monkeypatch.setattr(shell, "WAIT_S", 0.3)
    with shell.patience("Drawing", "about 5 seconds", quiet=False):
        pass
    time.sleep(0.4)
    assert capsys.readouterr().err == ""


def test_the_fast_code_is_announced_once(monkeypatch, capsys):
    monkeypatch.setattr("sim.kernels.compiled.first_use", lambda kernel: True)
    monkeypatch.setattr(shell, "announced_kernels", set())
    for kernel in ("drive.integrate", "drive.integrate", "steady.find_turn"):
        shell.announce_first_use(kernel)
    assert capsys.readouterr().err.count("Preparing") == 2


def test_lessons_that_drive_are_those_that_open_laps():
    for one in LESSONS:
        source = (TOPICS / f"{one.name}.py").read_text(encoding="utf-8")
        assert one.drives == ("sim.study.compare" in source)
