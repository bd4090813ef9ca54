"""Half-written files: locked while they are written, cleared away by the next command when their writer is dead."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from sim.store.beside import MARK, clear_files, file_beside, marked_names
from sim.store.run_folder import clear_leftovers, run_folder

ROOT = Path(__file__).parents[2]
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="there only what has lain untouched for an hour goes")
KILLED = """
import os, signal, sys
from pathlib import Path
from sim.store.beside import file_beside
from sim.store.run_folder import run_folder
if sys.argv[1] == "file":
    with file_beside(Path(), ".pdf") as made:
        made.write_text("half")
        os.kill(os.getpid(), signal.SIGKILL)
with run_folder(Path("lap")) as made:
    (made / "summary.json").write_text("half")
    os.kill(os.getpid(), signal.SIGKILL)
"""


def killed(folder, what):
    subprocess.run([sys.executable, "-c", KILLED, what], cwd=folder, env=os.environ | {"PYTHONPATH": str(ROOT)})


def test_a_file_of_a_killed_command_goes_with_the_next(tmp_path):
    killed(tmp_path, "file")
    assert len(marked_names(tmp_path)) == 1
    clear_leftovers(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_run_folder_of_a_killed_command_goes_with_the_next(tmp_path):
    with run_folder(tmp_path / "lap") as made:
        (made / "summary.json").write_text("whole")
    killed(tmp_path, "folder")
    assert marked_names(tmp_path) == [".scrubwise-lap-lock", ".scrubwise-lap-part"]
    clear_leftovers(tmp_path)
    assert [one.name for one in tmp_path.iterdir()] == ["lap"]
    assert (tmp_path / "lap" / "summary.json").read_text() == "whole"


def test_a_run_that_stands_aside_comes_back_whatever_command_is_next(tmp_path):
    with run_folder(tmp_path / "lap") as made:
        (made / "summary.json").write_text("whole")
    (tmp_path / "lap").rename(tmp_path / ".scrubwise-lap-old")
    clear_leftovers(tmp_path)
    assert (tmp_path / "lap" / "summary.json").read_text() == "whole"
    assert marked_names(tmp_path) == []


def test_what_another_command_is_writing_stays(tmp_path):
    with file_beside(tmp_path, ".pdf") as made, run_folder(tmp_path / "lap") as part:
        made.write_text("half")
        (part / "summary.json").write_text("half")
        clear_leftovers(tmp_path)
        assert made.read_text() == "half"
        assert (part / "summary.json").read_text() == "half"
    assert [one.name for one in tmp_path.iterdir()] == ["lap"]


def test_a_file_that_was_cleared_away_before_its_lock_is_made_anew(tmp_path, monkeypatch):
    import fcntl

    from sim.store import beside

    original, calls = fcntl.flock, []

    def late(handle, how):
        if not calls:
            calls.append(1)
            clear_files(tmp_path, marked_names(tmp_path))
        original(handle, how)

    monkeypatch.setattr(beside.fcntl, "flock", late)
    with file_beside(tmp_path, ".pdf") as made:
        assert made.is_file()
    assert calls == [1]


def test_what_looks_alike_stays(tmp_path):
    """Names of people, folders, links and pipes."""
    kept = [f"{MARK}notes.txt", f"{MARK}Abcdefgh.pdf", "scrubwise-abcdefgh.pdf", f"{MARK}abcdefghi.pdf"]
    for name in kept:
        (tmp_path / name).write_text("mine")
    (tmp_path / f"{MARK}aaaaaaaa.pdf").mkdir()
    (tmp_path / f"{MARK}bbbbbbbb.pdf").symlink_to(tmp_path / kept[0])
    os.mkfifo(tmp_path / f"{MARK}cccccccc.pdf")
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere" / "mine.txt").write_text("mine")
    (tmp_path / f"{MARK}lap-part").symlink_to(tmp_path / "elsewhere")
    before = sorted(tmp_path.rglob("*"))
    clear_leftovers(tmp_path)
    assert sorted(tmp_path.rglob("*")) == before
    assert (tmp_path / "elsewhere" / "mine.txt").read_text() == "mine"
