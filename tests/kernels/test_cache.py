"""Compiled kernels on disk: damage, lack of room, two starts at once, older texts."""

import ast
import logging
import os
import shutil
import stat
import subprocess
import sys

import numba
import pytest

from sim.kernels import cache, compiled

POWER_CUTS = {
    "halved": lambda content: content[: len(content) // 2],
    "emptied": lambda content: b"",
    "junk": lambda content: b"junk" * 100,
    "nothing but zeros": lambda content: bytes(len(content)),
    "one bit": lambda content: content[:-40] + bytes([content[-40] ^ 1]) + content[-39:],
    "a pickle of something else": lambda content: b"\x80\x04N.",
}


def doubled(x):
    return 2.0 * x


@pytest.fixture
def started(tmp_path, monkeypatch):
    """A function's compiled form in a folder of its own, as in a new process; with what it says."""
    if numba.config.DISABLE_JIT:
        pytest.skip("nothing is compiled here")
    monkeypatch.setattr(cache.Kept, "warned", False)

    def start():
        made = numba.njit(doubled)
        made._cache = cache.Kept(doubled, tmp_path)
        return made

    return start


def test_a_second_start_compiles_nothing(started, tmp_path, caplog):
    first, second = started(), started()
    assert first(1.5) == 3.0
    assert [path.suffix for path in tmp_path.glob("*.code")] == [".code"]
    assert second(1.5) == 3.0
    assert sum(second.stats.cache_hits.values()) == 1
    assert not caplog.records


@pytest.mark.parametrize("cut", POWER_CUTS.values(), ids=list(POWER_CUTS))
def test_damage_is_thrown_away_and_made_anew(started, tmp_path, caplog, cut):
    assert started()(1.5) == 3.0
    (file,) = tmp_path.glob("*.code")
    file.write_bytes(cut(file.read_bytes()))
    with caplog.at_level(logging.WARNING, "scrubwise"):
        assert started()(1.5) == 3.0
    assert [record.getMessage() for record in caplog.records] == [
        f"scrubwise: the compiled code in {tmp_path} was damaged; it is thrown away and made anew, which takes up to a minute"
    ]
    third = started()
    assert third(1.5) == 3.0
    assert sum(third.stats.cache_hits.values()) == 1


def sparse(path):
    with open(path, "wb") as stream:
        stream.truncate(10**12)  # takes no room on the drive


OTHERS = {
    "pipe": os.mkfifo if hasattr(os, "mkfifo") else None, "folder": os.mkdir, "sparse": sparse,
    "endless": lambda path: path.symlink_to("/dev/zero"), "open": lambda path: os.chmod(shutil.copy(__file__, path), 0o666),
}  # fmt: skip


@pytest.mark.skipif(sys.platform == "win32", reason="rights and pipes of POSIX systems")
@pytest.mark.parametrize("made", OTHERS.values(), ids=list(OTHERS))
def test_what_others_could_have_put_there_is_not_read(started, tmp_path, caplog, made):
    """A pickle does what it says when it is read."""
    assert started()(1.5) == 3.0
    (file,) = tmp_path.glob("*.code")
    file.unlink()
    made(file)
    with caplog.at_level(logging.WARNING, "scrubwise"):
        assert started()(1.5) == 3.0
    assert [record.getMessage().partition("; ")[0] for record in caplog.records] == [
        f"scrubwise: the compiled code in {tmp_path} was damaged"
    ]


@pytest.mark.parametrize("put", [None, "a file"])
def test_a_folder_that_vanishes_costs_a_compilation(started, tmp_path, caplog, put):
    """numba makes a RuntimeError of a folder that it can't write, and the run ended with it."""
    made = started()
    shutil.rmtree(tmp_path)
    if put:
        tmp_path.write_text(put, encoding="utf-8")
    assert made(1.5) == 3.0
    tmp_path.unlink() if put else None


def test_where_nothing_can_be_kept_the_run_goes_on(started, tmp_path, caplog, monkeypatch):
    def full(*args, **keys):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(cache.os, "replace", full)
    with caplog.at_level(logging.WARNING, "scrubwise"):
        made = started()
        assert (made(1.5), made(2)) == (3.0, 4.0)  # two forms, one line
    assert [record.getMessage() for record in caplog.records] == [
        f"scrubwise: the compiled code cannot be kept in {tmp_path} (no space left on device); "
        "this run goes on, but every start will compile anew until there is room"
    ]
    assert not list(tmp_path.glob("*.code"))
    assert not list(tmp_path.glob("tmp*"))


def test_two_forms_never_share_a_file(tmp_path):
    """Each file is named by what it holds: numba's own index gives both of two processes that write at once the same next number."""
    here, there = cache.Files(tmp_path, "one.f"), cache.Files(tmp_path, "one.f")
    here.save(("float64",), "made of float64")
    there.save(("int64",), "made of int64")
    assert (here.load(("int64",)), there.load(("float64",))) == ("made of int64", "made of float64")
    assert here.load(("complex128",)) is None
    # a name that two keys should share all the same is no reason to take one for the other
    there.path(("int64",)).write_bytes(here.path(("float64",)).read_bytes())
    assert here.load(("int64",)) is None


def test_older_texts_of_this_house_go_and_other_checkouts_stay(tmp_path, monkeypatch):
    monkeypatch.setattr(cache, "user_cache", lambda: tmp_path)
    houses = [tmp_path / name / "sim" for name in ("one", "two", "gone")]
    for house in houses:
        house.mkdir(parents=True)
    older, other, gone = (cache.open_folder(house, "older") for house in houses)
    (tmp_path / "scrubwise" / "kernels-0123456789abcdef").mkdir()  # as earlier versions named them
    houses[2].rmdir()
    newer = cache.open_folder(houses[0], "newer")
    assert sorted((tmp_path / "scrubwise").iterdir()) == sorted([newer, other])
    assert cache.open_folder(houses[0], "newer") == newer
    assert older not in (newer, gone)


@pytest.mark.skipif(sys.platform == "win32", reason="pipes of POSIX systems")
@pytest.mark.parametrize("made", OTHERS.values(), ids=list(OTHERS))
def test_where_a_folder_was_made_for_is_read_from_a_plain_file_alone(tmp_path, monkeypatch, made):
    """A start waited for ever at a pipe of that name."""
    monkeypatch.setattr(cache, "user_cache", lambda: tmp_path)
    other = cache.open_folder(tmp_path, "other")
    (other / cache.PLACE).unlink()
    made(other / cache.PLACE)
    house = tmp_path / "house"
    newer = cache.open_folder(house, "newer")
    assert list((tmp_path / "scrubwise").iterdir()) == [newer]
    assert (newer / cache.PLACE).read_text(encoding="utf-8") == str(house)


@pytest.mark.skipif(sys.platform == "win32", reason="rights of POSIX systems")
def test_the_folder_is_the_users_alone(tmp_path, monkeypatch):
    """Under umask 000 it was open to everybody, with pickles inside."""
    monkeypatch.setattr(cache, "user_cache", lambda: tmp_path / "cache")
    before = os.umask(0)
    try:
        folder = cache.open_folder(tmp_path, "text")
    finally:
        os.umask(before)
    assert [stat.S_IMODE(one.stat().st_mode) for one in (folder.parent, folder)] == [0o700, 0o700]
    (folder / "mine.code").write_bytes(b"mine")
    folder.chmod(0o755)  # others could read, not write
    assert cache.open_folder(tmp_path, "text") == folder
    assert (folder / "mine.code").exists()
    for one in (folder, folder.parent):
        (folder / "theirs.code").write_bytes(b"theirs")
        one.chmod(0o777)
        assert cache.open_folder(tmp_path, "text") == folder
        assert not (folder / "theirs.code").exists()
        assert stat.S_IMODE(one.stat().st_mode) == 0o700


@pytest.mark.skipif(sys.platform == "win32", reason="rights of POSIX systems")
def test_a_folder_of_somebody_else_is_not_used(tmp_path, monkeypatch):
    monkeypatch.setattr(cache, "user_cache", lambda: tmp_path / "cache")
    folder = cache.open_folder(tmp_path, "text")
    folder.rename(tmp_path / "elsewhere")
    folder.symlink_to(tmp_path / "elsewhere")
    assert cache.open_folder(tmp_path, "text") is None
    folder.unlink()
    assert cache.open_folder(tmp_path, "text") == folder
    monkeypatch.setattr(cache.os, "geteuid", lambda: os.getuid() + 1)
    assert cache.open_folder(tmp_path, "text") is None


def test_a_home_that_cannot_be_written_is_no_trouble(tmp_path, monkeypatch):
    (tmp_path / "file").write_text("", encoding="utf-8")
    monkeypatch.setattr(cache, "user_cache", lambda: tmp_path / "file" / "cache")
    assert cache.open_folder(tmp_path, "text") is None


PROBE = """
import resource, signal, sys
if "small" in sys.argv:
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))
from sim.kernels.trigonometry import sine_cosine
from sim.kernels.compiled import kernel
@kernel
def both(x):
    return sine_cosine(x)[0] + x
print(both(0.25))
"""


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="file sizes are limited on POSIX systems")
@pytest.mark.parametrize("number", [2, pytest.param(20, marks=pytest.mark.slow)])
def test_starts_together_and_files_that_may_not_grow(tmp_path, number):
    probe = tmp_path / "probe.py"
    probe.write_text(PROBE, encoding="utf-8")

    def begin(*words, folder="cache"):
        return subprocess.Popen([sys.executable, probe, *words], text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                                env={"PATH": "/usr/bin", "HOME": str(tmp_path), "XDG_CACHE_HOME": str(tmp_path / folder),
                                     "PYTHONPATH": str(compiled.HERE.parent)})  # fmt: skip

    together = [begin() for _ in range(number)]
    answers = [one.communicate() for one in together]
    assert len({out for out, _ in answers}) == 1
    assert float(answers[0][0]) == pytest.approx(0.25 + 0.24740395925452294, abs=1e-15)
    assert [err for _, err in answers] == [""] * number
    out, err = begin("small", folder="small").communicate()
    assert out == answers[0][0]
    assert "cannot be kept" in err
    assert err.count("\n") == 1


def test_constants_of_kernels_come_from_files_that_name_the_folder():
    """A number that a kernel's file takes from another is spelt there, or comes from a third file that names the folder too."""
    files = set(compiled._kernel_texts())
    for file in files - {compiled.HERE / "kernels" / "compiled.py"}:  # computes nothing
        tree = ast.parse(file.read_text(encoding="utf-8"))
        imported = {
            name.asname or name.name: compiled.HERE.joinpath(*node.module.split(".")[1:]).with_suffix(".py")
            for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("sim.") for name in node.names
        }  # fmt: skip
        for node in tree.body:
            if isinstance(node, ast.Assign):
                taken = {one.id for one in ast.walk(node.value) if isinstance(one, ast.Name)} & imported.keys()
                assert all(imported[name] in files for name in taken), f"{file.name}: {ast.unparse(node)}"
