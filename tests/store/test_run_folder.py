"""The run folder under every fault that can be had: before-state or complete after-state, nothing else."""

import builtins
import errno
import io
import json
import os
import random
import signal
import stat
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from contextlib import contextmanager, suppress
from itertools import count
from pathlib import Path

import pytest

import sim
from sim.errors import InputError
from sim.store import lock
from sim.store import run_folder as runstore
from sim.store.run_folder import MARKER, check_target, open_run, run_folder

posix_only = pytest.mark.skipif(sys.platform == "win32", reason="uses what POSIX systems alone have")
FILES = ("summary.json", "plots/wheels.png")  # one at the top, one deeper: each file costs every fault loop some turns


@pytest.fixture
def quick_place(tmp_path, monkeypatch):
    """A folder for the fault loops, which make thousands of files: in memory where the system has such a place.

    Nor is anything really synced there; nothing of that could be seen without cutting the power.
    """
    monkeypatch.setattr(os, "fsync", lambda handle: None)
    memory = Path("/dev/shm")
    if not os.access(memory, os.W_OK):
        yield tmp_path
        return
    with tempfile.TemporaryDirectory(dir=memory) as folder:
        yield Path(folder)


@pytest.fixture
def impatient(monkeypatch):
    monkeypatch.setattr(lock, "PATIENCE_S", 0.05)


def fill(folder: Path, word: str) -> None:
    (folder / "plots").mkdir()
    for name in FILES:
        with open(folder / name, "w", encoding="utf-8") as file:
            file.write(f"{name} {word}\n")


def save_by(folder: Path, write: Callable[[Path], object]) -> None:
    with run_folder(folder) as part:
        write(part)


def save(folder: Path, word: str) -> None:
    save_by(folder, lambda part: fill(part, word))


def contents(folder: Path) -> dict[str, bytes | None]:
    """Every name below the folder, with the bytes of each file and None for a folder."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() if path.is_file() else None for path in sorted(folder.rglob("*"))}


def complete(word: str) -> dict[str, bytes | None]:
    marker = {"format": 1, "written_by": f"scrubwise {runstore.program_version()}", "files": sorted(FILES)}
    whole: dict[str, bytes | None] = {name: f"{name} {word}\n".encode() for name in FILES}
    return dict(sorted({**whole, "plots": None, MARKER: (json.dumps(marker) + "\n").encode()}.items()))


def state(folder: Path) -> str:
    """What a reader finds: "absent", "empty", or the word of a complete run.  Anything else fails the test."""
    try:
        assert open_run(folder) == folder
    except InputError:
        if not folder.exists():
            return "absent"
        assert contents(folder) == {}
        return "empty"
    word = (folder / "summary.json").read_text(encoding="utf-8").split()[1]
    assert contents(folder) == complete(word)
    return word


def leftovers(folder: Path) -> set[str]:
    """Names beside the run folder, each of which must bear its mark."""
    names = {path.name for path in folder.parent.iterdir()} - {folder.name}
    assert all(name.startswith(f".scrubwise-{folder.name}-") for name in names), names
    return names


def refusal(folder, action=check_target) -> str:
    with pytest.raises(InputError) as caught:
        action(folder)
    text = str(caught.value)
    assert len(text.splitlines()) == 1
    return text


def enter(folder: Path) -> None:
    with run_folder(folder):
        pytest.fail("a run was let into a folder that should be refused")


# ---------------------------------------------------------------- what is written


@pytest.mark.parametrize("before", ["absent", "empty", "old"])
def test_a_run_is_written_whole_and_leaves_nothing_beside(tmp_path, before):
    target = prepare(tmp_path / "lap", before)
    check_target(target)
    save(target, "new")
    assert state(target) == "new"
    assert leftovers(target) == set()


def test_marker_holds_nothing_of_the_moment_so_that_equal_runs_are_equal_bytes(tmp_path):
    save(tmp_path / "one", "w")
    save(tmp_path / "two", "w")
    assert contents(tmp_path / "one") == contents(tmp_path / "two") == complete("w")


def test_nothing_of_the_earlier_run_stays(tmp_path):
    target = tmp_path / "lap"

    def fill_more(part):
        fill(part, "old")
        (part / "trace-of-a-set-up-that-is-gone.csv").write_text("t\n")

    save_by(target, fill_more)
    save(target, "new")
    assert contents(target) == complete("new")


@posix_only
def test_every_file_is_synced_before_the_swap_and_the_swap_before_the_earlier_run_goes(tmp_path, monkeypatch):
    target = prepare(tmp_path / "lap", "old")
    log: list[object] = []
    real = os.rename

    def rename(old, new):
        real(old, new)
        log.append((Path(old).name, Path(new).name))

    monkeypatch.setattr(os, "fsync", lambda handle: log.append(os.fstat(handle).st_ino))
    monkeypatch.setattr(os, "rename", rename)
    save(target, "new")
    to_old, to_new, synced, to_part = log[-4:]
    assert set(log[:-4]) == {path.stat().st_ino for path in [target, *target.rglob("*")]}
    assert (to_old, to_new) == (("lap", ".scrubwise-lap-old"), (".scrubwise-lap-part", "lap"))
    assert (synced, to_part) == (tmp_path.stat().st_ino, (".scrubwise-lap-old", ".scrubwise-lap-part"))


@pytest.mark.parametrize("failure", [KeyboardInterrupt, ZeroDivisionError])
@pytest.mark.parametrize("before", ["absent", "empty", "old"])
def test_a_failure_in_the_block_passes_and_changes_nothing(tmp_path, before, failure):
    target = prepare(tmp_path / "lap", before)

    def fail(part):
        fill(part, "new")
        raise failure

    with pytest.raises(failure):
        save_by(target, fail)
    assert state(target) == before
    assert leftovers(target) == set()


@pytest.mark.parametrize("name", ["two words", "v1.2.run", "ends.", "Straßenrunde-日本", "-dash", "a'b\"c", "x" * 200])
@pytest.mark.skipif(sys.platform == "win32", reason="not all of these can be names there")
def test_names(tmp_path, name):
    for word in ("first", "second"):
        save(tmp_path / name, word)
        assert state(tmp_path / name) == word
    assert leftovers(tmp_path / name) == set()


def test_relative_paths_and_trailing_slash(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "sub").mkdir()
    for word, written in enumerate(["lap", "lap/", "./lap", "sub/../lap", f"{tmp_path}/sub/..//lap/"]):
        check_target(Path(written))
        save(Path(written), str(word))
        assert state(tmp_path / "lap") == str(word)
    assert {path.name for path in tmp_path.iterdir()} == {"lap", "sub"}


@posix_only
def test_a_link_stays_and_the_folder_behind_it_is_replaced(tmp_path):
    (tmp_path / "disk").mkdir()
    link = tmp_path / "lap"
    link.symlink_to(tmp_path / "disk" / "real")  # leads nowhere at first
    for word in ("first", "second"):
        check_target(link)
        save(link, word)
        assert link.is_symlink()
        assert contents(tmp_path / "disk" / "real") == complete(word)
    assert open_run(link) == link
    assert {path.name for path in tmp_path.iterdir()} == {"disk", "lap"}
    assert leftovers(tmp_path / "disk" / "real") == set()


# ---------------------------------------------------------------- what is refused


def damaged_marker(text: str):
    def make(folder: Path) -> None:
        folder.mkdir()
        (folder / MARKER).write_text(text)

    return make


def foreign_notes(folder: Path) -> None:
    (folder / "deep").mkdir(parents=True)
    (folder / "deep" / "notes.txt").write_bytes(b"mine\r\n\0")


FOREIGN = {
    "notes": foreign_notes,
    "hidden file": lambda folder: (folder.mkdir(), (folder / ".keep").touch()),
    "marker is a folder": lambda folder: (folder / MARKER).mkdir(parents=True),
    "marker is empty": damaged_marker(""),
    "marker is cut": damaged_marker('{"format": 1, "written_by": "scrub'),
    "marker is a list": damaged_marker("[1]"),
    "marker without writer": damaged_marker('{"format": 1}'),
    "marker of another": damaged_marker('{"format": 1, "written_by": "somebody"}'),
    "format is no whole number": damaged_marker('{"format": true, "written_by": "scrubwise 1"}'),
    "writer with control characters": damaged_marker('{"format": 1, "written_by": "scrubwise \\u001b[2J"}'),
    "nested": damaged_marker("[" * 5000),
    "too long": damaged_marker(json.dumps({"format": 1, "written_by": "scrubwise " + "1" * 200_000})),
    "not text": lambda folder: (folder.mkdir(), (folder / MARKER).write_bytes(b"\xff\xfe{")),
}


@pytest.mark.target("T21", what="A folder that is not ours is refused and untouched", asked="always")
@pytest.mark.parametrize("make", FOREIGN.values(), ids=FOREIGN.keys())
def test_foreign_folder_is_refused_and_untouched(tmp_path, make):
    target = tmp_path / "lap"
    make(target)
    before = contents(target)
    for action in (check_target, enter):
        assert refusal(target, action) == (
            f"{target}: this folder holds something that Scrubwise did not write; give the name of a new or an empty folder"
        )
    assert refusal(target, open_run) == (
        f"{target}: Scrubwise did not write this folder (no usable {MARKER} in it); "
        "give a folder that `scrubwise run SCENARIO --out FOLDER` wrote"
    )
    assert contents(target) == before
    assert leftovers(target) == set()


def test_folder_that_becomes_foreign_during_the_laps_is_refused_and_untouched(tmp_path):
    target = prepare(tmp_path / "lap", "empty")

    def meanwhile(part):
        fill(part, "new")
        (target / "notes.txt").write_text("mine")

    assert "did not write" in refusal(target, lambda folder: save_by(folder, meanwhile))
    assert contents(target) == {"notes.txt": b"mine"}
    assert leftovers(target) == set()


def test_foreign_folder_where_a_swap_was_interrupted_does_not_cost_the_run_aside(tmp_path):
    target = prepare(tmp_path / "lap", "interrupted")
    target.mkdir()
    (target / "notes.txt").write_text("mine")
    for action in (check_target, enter, open_run):
        refusal(target, action)
    (target / "notes.txt").unlink()  # an empty folder in the way is no reason to lose the run either
    assert state(target) == "old"


def test_file_as_target(tmp_path):
    target = tmp_path / "lap"
    target.write_bytes(b"mine")
    for action in (check_target, enter):
        assert refusal(target, action) == f"{target}: this is a file, not a folder; give the name of a new folder"
    assert "this is a file, not a run folder" in refusal(target, open_run)
    assert target.read_bytes() == b"mine"
    assert "is a file, so no folder can stand in it" in refusal(target / "below")
    assert "there is no such run folder" in refusal(target / "below", open_run)
    assert leftovers(target) == set()


def test_places_where_no_folder_can_be_swapped(tmp_path, monkeypatch):
    parent = tmp_path / "no" / "such"
    assert refusal(parent / "lap") == (f"{parent / 'lap'}: there is no folder {parent} to put it in; make that folder first")
    assert not parent.parent.exists()
    save(tmp_path / "lap", "old")
    (tmp_path / "lap" / "sub").mkdir()
    monkeypatch.chdir(tmp_path / "lap" / "sub")
    for written in ("..", "../", ".", "", str(tmp_path / "lap"), "../.."):
        for action in (check_target, enter):
            assert "this folder is the current one or holds it" in refusal(Path(written), action)
    assert open_run(Path("..")) == Path("..")
    root = Path(tmp_path.anchor)
    assert "whole drive" in refusal(root)
    assert "did not write this folder" in refusal(root, open_run)
    assert "kept for unfinished runs" in refusal(tmp_path / ".scrubwise-lap-old")
    assert leftovers(tmp_path / "lap") == set()


@posix_only
def test_link_to_itself_and_name_too_long(tmp_path):
    (tmp_path / "lap").symlink_to(tmp_path / "lap")
    assert "leads back to itself" in refusal(tmp_path / "lap")
    assert "the name is too long" in refusal(tmp_path / ("x" * 250))


@posix_only
def test_parent_without_permission_to_write():
    with tempfile.TemporaryDirectory() as parent:
        os.chmod(parent, 0o555)
        if is_root := os.geteuid() == 0:  # may write anywhere: become somebody who may not
            os.seteuid(65534)
        try:
            text = refusal(Path(parent) / "lap")
        finally:
            if is_root:
                os.seteuid(0)
            os.chmod(parent, 0o755)
    assert text == f"{parent}/lap: no permission to use this place; give a folder that belongs to you"


@pytest.mark.parametrize("number", [0, 2, 999])
def test_run_of_another_format_is_not_read_but_may_be_replaced(tmp_path, number):
    target = tmp_path / "lap"
    damaged_marker(json.dumps({"format": number, "written_by": "scrubwise 9.1"}))(target)
    assert refusal(target, open_run) == (
        f"{target}: {MARKER}: this run was written by scrubwise 9.1 in format {number}, and this version reads "
        "format 1; run the scenario again with this version"
    )
    save(target, "new")
    assert state(target) == "new"


# ---------------------------------------------------------------- what an interruption leaves


def prepare(target: Path, before: str) -> Path:
    if before == "empty":
        target.mkdir()
    elif before != "absent":
        save(target, "old")
    if before == "interrupted":  # killed between the two renames of a swap
        target.rename(beside(target, "old"))
        beside(target, "part").mkdir()
        fill(beside(target, "part"), "dead")
        beside(target, "lock").touch()
    return target


def prepare_in(parent: Path, before: str) -> Path:
    parent.mkdir()
    return prepare(parent / "lap", before)


def beside(target: Path, role: str) -> Path:
    return target.parent / f".scrubwise-{target.name}-{role}"


def test_reader_restores_what_an_interrupted_swap_moved_aside(tmp_path):
    target = prepare(tmp_path / "lap", "interrupted")
    assert open_run(target) == target
    assert contents(target) == complete("old")
    assert not beside(target, "old").exists()
    save(target, "new")
    assert leftovers(target) == set()


def test_early_check_restores_too_and_clears_away_dead_leftovers(tmp_path):
    target = prepare(tmp_path / "lap", "interrupted")
    check_target(target)
    assert contents(target) == complete("old")
    assert leftovers(target) == set()


def test_leftovers_of_other_targets_are_left_alone(tmp_path):
    for name in ("lap", "lap-old", "lap-part", "la"):
        prepare(tmp_path / name, "interrupted")
    save(tmp_path / "lap", "new")
    for name in ("lap-old", "lap-part", "la"):
        assert beside(tmp_path / name, "part").is_dir()
        assert state(tmp_path / name) == "old"


def test_half_removed_earlier_run_is_never_restored(tmp_path, monkeypatch):
    """Killed while the earlier run is removed, and then the user deletes the new one by hand."""
    target = prepare(tmp_path / "lap", "old")
    remove = runstore.shutil.rmtree

    def half(folder, **options):
        if not options:
            os.unlink(folder / "summary.json")
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        remove(folder, **options)

    monkeypatch.setattr(runstore.shutil, "rmtree", half)
    save(target, "new")
    monkeypatch.undo()
    assert contents(target) == complete("new")
    remove(target)
    assert state(target) == "absent"


def test_missing_run(tmp_path):
    assert refusal(tmp_path / "lap", open_run) == (
        f"{tmp_path / 'lap'}: there is no such run folder; give a folder that `scrubwise run SCENARIO --out FOLDER` wrote"
    )


# ---------------------------------------------------------------- the n-th file call fails


class _CountedFile:
    """A file whose writes count as calls."""

    def __init__(self, file, tick):
        self._file, self._tick = file, tick

    def write(self, text):
        self._tick("write")
        return self._file.write(text)

    def __enter__(self):
        return self

    def __exit__(self, *reason):
        self._file.close()

    def __getattr__(self, name):
        return getattr(self._file, name)


class Fault:
    """Counts file calls; from the n-th one on `strike` is called instead of (`once`: only instead of the n-th)."""

    def __init__(self, n, strike, once):
        self.n, self.strike, self.once, self.calls, self.seen = n, strike, once, 0, set()

    @property
    def happened(self):
        return self.calls >= self.n

    def tick(self, name):
        self.calls += 1
        self.seen.add(name)
        if self.calls == self.n or (self.happened and not self.once):
            self.strike()


COUNTED = "open write fsync rename replace mkdir rmdir unlink remove scandir lstat stat flock"


@contextmanager
def failing_call(n, strike, once=True, names=COUNTED):
    fault = Fault(n, strike, once)

    def tick(name):
        if name in names.split():
            fault.tick(name)

    def counted(module, name):
        real = getattr(module, name)

        def call(*parts, **options):
            tick(name)
            result = real(*parts, **options)
            return _CountedFile(result, tick) if isinstance(result, io.TextIOWrapper) else result

        patch.setattr(module, name, call)

    with pytest.MonkeyPatch.context() as patch:
        for name in set(COUNTED.split()) - {"write", "flock"}:
            counted(os, name)
        counted(builtins, "open")
        counted(io, "open")
        if sys.platform != "win32":
            counted(lock.fcntl, "flock")
        yield fault


def input_output_error():
    raise OSError(errno.EIO, os.strerror(errno.EIO))


def no_space():
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def interrupt():
    raise KeyboardInterrupt


BEFORE = ["absent", "empty", "old", "interrupted"]


def after_interruption(before: str) -> str:
    return "old" if before == "interrupted" else before


@pytest.mark.target(
    "T21", what="A run folder when the n-th call to the drive fails, for every n: as before or complete, and the next run tidies up",
    asked="always, once and for good",
)  # fmt: skip
@pytest.mark.parametrize("once", [True, False], ids=["once", "for good"])
@pytest.mark.parametrize("before", BEFORE)
def test_nth_call_fails(quick_place, before, once):
    for n in count(1):
        target = prepare_in(quick_place / str(n), before)
        refused = None
        with failing_call(n, input_output_error, once) as fault:
            try:
                save(target, "new")
            except InputError as error:
                refused = str(error)
        if not fault.happened:
            break
        leftovers(target)
        assert state(target) == (after_interruption(before) if refused else "new"), (n, refused)
        assert refused is None or "the drive answered: input/output error; check the drive" in refused
        save(target, "next")
        assert state(target) == "next"
        assert leftovers(target) == set()
    assert n > 30
    assert {"open", "write", "fsync", "rename", "mkdir", "unlink"} <= fault.seen
    assert state(target) == "new"


@pytest.mark.slow
@pytest.mark.parametrize("before", BEFORE)
def test_nth_call_is_interrupted_from_the_keyboard(quick_place, before):
    for n in count(1):
        target = prepare_in(quick_place / str(n), before)
        with failing_call(n, interrupt) as fault, suppress(KeyboardInterrupt):
            save(target, "new")
        if not fault.happened:
            break
        leftovers(target)
        assert state(target) in (after_interruption(before), "new"), n
        save(target, "next")
        assert leftovers(target) == set()


@pytest.mark.target("T21", what="The process killed at its n-th call, for every n", asked="as before or complete, always")
@pytest.mark.slow
@posix_only
@pytest.mark.parametrize("before", BEFORE)
def test_process_dies_at_the_nth_call(quick_place, before):
    for n in count(1):
        target = prepare_in(quick_place / str(n), before)
        child = os.fork()
        if child == 0:
            code = 1
            try:
                with failing_call(n, lambda: os.kill(os.getpid(), signal.SIGKILL)):
                    save(target, "new")
                code = 0
            finally:
                os._exit(code)
        status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
        if status == 0:
            break
        assert status == -signal.SIGKILL
        leftovers(target)
        assert state(target) in (after_interruption(before), "new"), n
        save(target, "next")
        assert state(target) == "next"
        assert leftovers(target) == set()
    assert n > 30


@pytest.mark.parametrize("once", [True, False], ids=["once", "for good"])
@pytest.mark.parametrize("action", [open_run, check_target])
@pytest.mark.parametrize("before", BEFORE)
def test_nth_call_of_a_reader_or_of_the_early_check_fails(quick_place, before, action, once):
    for n in count(1):
        target = prepare_in(quick_place / str(n), before)
        with failing_call(n, input_output_error, once) as fault, suppress(InputError):
            action(target)
        if not fault.happened:
            break
        leftovers(target)
        assert state(target) == after_interruption(before)
    assert n > 3


@pytest.mark.target("T21", what="A full drive: as before or complete", asked="always")
@pytest.mark.parametrize("before", BEFORE)
def test_disk_full(quick_place, before):
    """From the n-th call that needs room on, none is left; names can still be changed and removed."""
    for n in count(1):
        target = prepare_in(quick_place / str(n), before)
        refused = None
        with failing_call(n, no_space, once=False, names="write fsync mkdir") as fault:
            try:
                save(target, "new")
            except InputError as error:
                refused = str(error)
        if not fault.happened:
            break
        whole = "no space left on the drive; make room or give a folder on another drive"
        assert refused in (None, f"{target}: {whole}")
        assert state(target) == (after_interruption(before) if refused else "new")
        assert refused is None or leftovers(target) == set()
    assert {"write", "fsync", "mkdir"} == fault.seen


def test_error_names_the_file_it_knows(tmp_path):
    target = tmp_path / "lap"
    text = refusal(target, lambda folder: save_by(folder, lambda part: (part / "no" / "trace.csv").write_text("t")))
    assert text == (f"{target}: trace.csv: the drive answered: no such file or directory; check the drive, or give another folder")
    assert leftovers(target) == set()


# ---------------------------------------------------------------- a system that keeps folders from being renamed


def refuse_rename(monkeypatch, old_name, times):
    """As Windows does while a window or a virus scanner holds a file in the folder."""
    real, left = os.rename, iter(range(times))

    def rename(old, new):
        if Path(old).name == old_name and next(left, None) is not None:
            raise PermissionError(errno.EACCES, "Access is denied", str(old))
        real(old, new)

    monkeypatch.setattr(os, "rename", rename)


def test_earlier_run_that_a_window_holds_stays(tmp_path, monkeypatch):
    target = prepare(tmp_path / "lap", "old")
    monkeypatch.setattr(runstore, "RENAME_PATIENCE_S", 0.05)
    refuse_rename(monkeypatch, "lap", times=1000)
    assert refusal(target, lambda folder: save(folder, "new")) == (
        f"{target}: the earlier run cannot be moved away: a file in it is open, or it belongs to somebody else; "
        "close the windows that show it and run again, or give another folder"
    )
    assert state(target) == "old"
    assert leftovers(target) == set()


def test_files_that_are_held_for_a_moment_are_waited_for(tmp_path, monkeypatch):
    target = prepare(tmp_path / "lap", "old")
    monkeypatch.setattr(runstore, "RENAME_PATIENCE_S", 5.0)
    refuse_rename(monkeypatch, ".scrubwise-lap-part", times=3)
    save(target, "new")
    assert state(target) == "new"
    assert leftovers(target) == set()


@pytest.mark.parametrize("failure", [OSError(errno.EIO, "Input/output error"), KeyboardInterrupt()], ids=repr)
def test_earlier_run_is_put_back_at_once_when_the_new_one_cannot_move_in(tmp_path, monkeypatch, failure):
    target = prepare(tmp_path / "lap", "old")
    real = os.rename

    def rename(old, new):
        if Path(old).name == ".scrubwise-lap-part":
            raise failure
        real(old, new)

    monkeypatch.setattr(os, "rename", rename)
    with pytest.raises((InputError, KeyboardInterrupt)):
        save(target, "new")
    assert contents(target) == complete("old")  # before any reader or later run puts things right
    assert leftovers(target) == set()


@posix_only
def test_drive_that_cannot_sync_a_folder(tmp_path, monkeypatch):
    real = os.fsync

    def fsync(handle):
        if stat.S_ISDIR(os.fstat(handle).st_mode):
            raise OSError(errno.EINVAL, os.strerror(errno.EINVAL))
        real(handle)

    monkeypatch.setattr(os, "fsync", fsync)
    target = prepare(tmp_path / "lap", "old")
    save(target, "new")
    assert state(target) == "new"
    assert leftovers(target) == set()


# ---------------------------------------------------------------- at the same time


def test_second_run_waits_for_the_first(tmp_path):
    target = prepare(tmp_path / "lap", "old")
    second = threading.Thread(target=save, args=(target, "second"))
    with run_folder(target) as part:
        second.start()
        fill(part, "first")
        time.sleep(0.1)
        assert contents(part) == {name: body for name, body in complete("first").items() if name != MARKER}
        assert contents(target) == complete("old")
    second.join()
    assert state(target) == "second"
    assert leftovers(target) == set()


def test_second_run_is_refused_in_the_end_and_hurts_nothing(tmp_path, impatient):
    target = tmp_path / "lap"
    with run_folder(target) as part:
        fill(part, "first")
        for action in (check_target, enter, open_run):
            assert refusal(target, action) == (
                f"{target}: another run is being written here; wait until it is done, or give another folder"
            )
        save(tmp_path / "other", "beside")
    assert state(target) == "first"


def test_reader_is_not_held_up_by_a_run_that_is_being_written(tmp_path, impatient):
    target = prepare(tmp_path / "lap", "old")
    with run_folder(target) as part:
        fill(part, "new")
        assert open_run(target) == target
        assert contents(target) == complete("old")


@posix_only
def test_lock_file_that_the_last_holder_removes_while_we_wait_guards_nothing(tmp_path, monkeypatch, impatient):
    target = tmp_path / "lap"
    real, last_holder = lock.fcntl.flock, iter([beside(target, "lock").unlink])

    def flock(handle, operation):
        next(last_holder, lambda: None)()
        real(handle, operation)

    monkeypatch.setattr(lock.fcntl, "flock", flock)
    with run_folder(target) as part:
        fill(part, "first")
        assert "another run is being written here" in refusal(target, enter)
    assert state(target) == "first"


def test_reader_that_looks_in_the_middle_of_a_swap_looks_again(tmp_path, monkeypatch):
    target = prepare(tmp_path / "lap", "old")
    real, first = runstore._read_marker, iter([True])

    def read_marker(folder):
        if not next(first, False):
            return real(folder)
        folder.rename(tmp_path / "away")
        seen = real(folder)
        (tmp_path / "away").rename(folder)
        return seen

    monkeypatch.setattr(runstore, "_read_marker", read_marker)
    assert open_run(target) == target


WRITER = """
import sys
from pathlib import Path
from sim.store.run_folder import run_folder
target, word = Path(sys.argv[1]), sys.argv[2]
turns = int(sys.argv[3])
print("ready", flush=True)
for turn in range(turns):
    with run_folder(target) as part:
        (part / "plots").mkdir()
        for name in sys.argv[4:]:
            with open(part / name, "w", encoding="utf-8") as file:
                file.write(f"{name} {word}{turn}\\n")
"""


def start_writer(target: Path, word: str, turns: int) -> subprocess.Popen:
    root = Path(sim.__file__).resolve().parents[1]
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(target), word, str(turns), *FILES],
        cwd=root,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert writer.stdout is not None
    assert writer.stdout.readline() == "ready\n"
    return writer


def test_two_processes_and_a_reader_on_one_folder(tmp_path):
    target = prepare(tmp_path / "lap", "old")
    writers = [start_writer(target, word, 15) for word in ("a", "b")]
    while any(writer.poll() is None for writer in writers):
        assert open_run(target) == target  # in the middle of a swap, too
    for writer in writers:
        _, complaint = writer.communicate()
        assert (writer.returncode, complaint) == (0, "")
    assert state(target) in ("a14", "b14")
    assert leftovers(target) == set()


@pytest.mark.target("T21", what="50 kills at drawn moments", asked="as before or complete, always")
@pytest.mark.slow
@posix_only
def test_fifty_kills(quick_place):
    moments = random.Random(50)
    target = quick_place / "lap"
    interrupted = 0
    for kill in range(50):
        writer = start_writer(target, f"kill{kill}turn", 10**6)
        time.sleep(moments.uniform(0.0, 0.06))
        os.kill(writer.pid, signal.SIGKILL)
        writer.communicate()
        interrupted += bool(leftovers(target))
        found = state(target)
        assert found == "absent" or found.startswith("kill")
        if kill % 4 == 3:
            save(target, f"kill{kill}clean")
            assert leftovers(target) == set()
    assert interrupted > 0  # else every kill fell between two runs, and nothing was tested


@pytest.mark.parametrize("name", ["notes.txt", "plots/mine.png"])
def test_a_file_that_a_person_put_into_a_run_folder_is_not_thrown_away(tmp_path, name):
    """A run into an old run folder once deleted the notes that its user kept there, without a word."""
    target = tmp_path / "lap"
    save(target, "old")
    (target / name).write_text("my measurements", encoding="utf-8")
    before = contents(target)
    for action in (check_target, enter):
        assert refusal(target, action).endswith(f'"{name}", which Scrubwise did not write; move it elsewhere, or give a new folder')
    assert contents(target) == before
    (target / name).unlink()
    save(target, "new")
    assert state(target) == "new"


def test_a_run_folder_of_a_format_without_a_list_is_replaced(tmp_path):
    target = tmp_path / "lap"
    damaged_marker(json.dumps({"format": 1, "written_by": "scrubwise 0.0"}))(target)
    (target / "anything").write_text("x", encoding="utf-8")
    save(target, "new")
    assert state(target) == "new"
