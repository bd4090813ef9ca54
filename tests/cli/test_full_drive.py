"""Real drives that are full, fill up on the way or may only be read, and folders of somebody else, where root may mount small drives."""

import os
import shutil
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from sim.scenario.file import shipped_folder

ROOT = Path(__file__).parents[2]
YARD = (ROOT / "tests" / "scenarios" / "yard.toml").read_text(encoding="utf-8")
ROD = '[[setup]]\nname = "rod"\npivot = "stub axles"\nlinkage = "cross rod"\narm_length_mm = 110\narm_angle_deg = 13.9\n'
UNSURE = '[uncertainty]\n"car.mass_kg" = "3 %"\n'
SIZE = 40_000_000  # [bytes] of the drive
PAGE = 4096  # [bytes] in which such a drive hands out room
SHARES = (0.0, 0.05, 0.5, 0.95)  # of what a command needs, that is left to it

pytestmark = pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root mounts a drive")


@pytest.fixture
def mounted(tmp_path):
    """A drive in memory of its own, by the options of mount."""
    place = tmp_path / "drive"
    place.mkdir()

    def mount(options):
        done = subprocess.run(["mount", "-t", "tmpfs", "-o", options, "tmpfs", place], capture_output=True, text=True, check=False)
        if done.returncode:
            pytest.skip(f"no drive can be mounted here: {done.stderr.strip()}")
        return place

    yield mount
    while place.is_mount():  # a library may hold a file open that it could not end
        subprocess.run(["umount", "--lazy", place], check=True)


def fill(drive, left):
    """Leave so many bytes of a drive.  Returns the file that takes the rest."""
    ballast = drive / "ballast"
    state = os.statvfs(drive)
    room = state.f_bavail * state.f_frsize
    with open(ballast, "wb") as stream:
        os.posix_fallocate(stream.fileno(), 0, room - left // PAGE * PAGE)
    return ballast


def contents(drive):
    return {one.relative_to(drive).as_posix(): one.read_bytes() for one in drive.rglob("*") if one.is_file() and one.name != "ballast"}


WRITERS = {
    "run": ["run", "car.toml", "--out", "drive/made"],
    "report": ["report", "laps", "--out", "drive/made.html"],
    "handout": ["report", "laps", "--class", "--out", "drive/made.html"],
    "template": ["template", "car.toml", "--setup", "rod", "--out", "drive/made.pdf"],
    "assemble": ["assemble", "car.toml", "--setup", "rod", "--out", "drive/made.pdf"],
    "measure": ["measure", "car.toml", "--out", "drive/made.pdf"],
    "map": ["corner", "car.toml", "--radius", "5", "--speed", "2", "--map", "drive/made.png", "--map-csv", "drive/made.csv"],
    "picture": ["watch", "laps", "--export", "drive/made.png"],
    "moving picture": ["watch", "laps", "--export", "drive/made.gif", "--from", "4", "--to", "8"],
    "film": ["watch", "laps", "--export", "drive/made.mp4", "--from", "4", "--to", "8"],
    "contest": ["contest", "class", "--out", "drive/made"],
    "own contest": ["contest", "--copy", "drive/made"],
    "coast": ["coast", "coast-down.csv", "--mass", "145", "--plot", "drive/made.png", "--fragment", "drive/made.toml"],
    "spread": ["spread", "car.toml", "--samples", "16", "--resume", "drive/made"],
    "new": ["new", "drive/made.toml"],
    "manual": ["manual", "--out", "drive/made"],
    "lesson": ["lesson", "1", "--out", "drive/made"],
    "words": ["words", "--out", "drive/made.html"],
}
QUICK = ("new", "own contest")
NEW = ("new", "own contest")  # only where nothing stands
KEEPS_ALL = ("spread", "coast", "map", "handout")  # more than one file, each whole: what is done is kept


@pytest.mark.compiled
@pytest.mark.parametrize("name", [one if one in QUICK else pytest.param(one, marks=pytest.mark.slow) for one in WRITERS])
def test_a_drive_that_fills_up_leaves_what_stood_there_or_the_new_whole(scrubwise, tmp_path, mounted, name):
    words, drive = WRITERS[name], mounted(f"size={SIZE}")
    (tmp_path / "car.toml").write_text(YARD + ROD + UNSURE, encoding="utf-8")
    shutil.copytree(shipped_folder() / "class-contest", tmp_path / "class")
    shutil.copy(shipped_folder() / "coast-down.csv", tmp_path)
    if "laps" in words:
        assert scrubwise("run", "car.toml", "--out", "laps")[0] == 0
    assert scrubwise(*words)[0] == 0
    after = contents(drive)
    needs = sum(-(-len(content) // PAGE) * PAGE for content in after.values())
    refused = 0
    for share in SHARES:
        for earlier in (True, False) if name not in NEW else (False,):
            if not earlier or name == "spread":
                for one in drive.glob("*"):
                    shutil.rmtree(one) if one.is_dir() else one.unlink()
            elif not contents(drive):
                assert scrubwise(*words)[0] == 0
            before = contents(drive)
            ballast = fill(drive, int(share * needs))
            code, out, err = scrubwise(*words)
            ballast.unlink()
            what = f"{share} of {needs} bytes, {'an earlier one' if earlier else 'nothing'} there: {code}, {err}"
            assert code in (0, 2), what
            assert not list(drive.rglob(".scrubwise-*")), what
            assert not list(drive.rglob("*.part")), what
            now = contents(drive)
            if code == 0:
                assert now.keys() == after.keys(), what
                continue
            refused += 1
            assert out == "", what
            assert err.startswith("scrubwise: "), what
            assert err.count("\n") == 1, what
            assert "no space left on" in err.lower(), what
            if name in KEEPS_ALL:
                assert now.keys() <= after.keys(), what
                assert all(len(now[one]) == len(after[one]) or not before for one in now), what
            else:
                assert now == before, what
    assert refused >= 2


PROBE = """
from sim.kernels.trigonometry import sine_cosine
from sim.kernels.compiled import CACHE, kernel
@kernel
def both(x):
    return sine_cosine(x)[0] + x
print(both(0.25), CACHE is not None)
"""


@pytest.fixture
def kernel_run(tmp_path):
    """A small kernel in a process of its own, whose compiled code is kept in a folder: (value, whether that is used, standard error)."""
    (tmp_path / "probe.py").write_text(PROBE, encoding="utf-8")

    def run(folder):
        done = subprocess.run([sys.executable, tmp_path / "probe.py"], text=True, capture_output=True, check=True, env={
            "PATH": "/usr/bin", "HOME": str(folder), "XDG_CACHE_HOME": str(folder), "PYTHONPATH": str(ROOT)})  # fmt: skip
        value, used = done.stdout.split()
        assert float(value) == pytest.approx(0.25 + 0.24740395925452294, abs=1e-15)
        return used == "True", done.stderr

    return run


@pytest.mark.slow
def test_compiled_code_on_a_drive_that_is_full(mounted, kernel_run):
    drive = mounted("size=1m")
    ballast = fill(drive, 0)
    used, err = kernel_run(drive)
    assert err == "" if not used else (err.count("\n") == 1 and "cannot be kept" in err)
    ballast.unlink()
    ballast = fill(drive, 4 * PAGE)
    used, err = kernel_run(drive)
    assert used
    assert err.count("\n") == 1
    assert "cannot be kept" in err
    assert not list(drive.rglob("tmp*"))
    ballast.unlink()
    assert kernel_run(drive) == (True, "")
    assert list(drive.rglob("*.code"))


@pytest.mark.slow
def test_a_home_that_may_only_be_read(mounted, kernel_run):
    """Nothing is kept, nothing is said: whoever set it so knows."""
    assert kernel_run(mounted("ro,size=1m")) == (False, "")


@pytest.mark.slow
def test_compiled_code_that_really_belongs_to_somebody_else(tmp_path, kernel_run):
    """Not used, not emptied: it is not ours."""
    assert kernel_run(tmp_path / "home")[0]
    (folder,) = (tmp_path / "home" / "scrubwise").glob("kernels-*")
    for one in (folder, folder.parent):
        os.chown(one, 12345, -1)
        held = contents(folder)
        assert kernel_run(tmp_path / "home") == (False, "")
        assert contents(folder) == held
        os.chown(one, os.geteuid(), -1)
    # One file of somebody else inside our folder is thrown away unread.
    file = next(folder.glob("probe.both-*.code"))  # what it calls lies inside it too, and is not read again
    os.chown(file, 12345, -1)
    used, err = kernel_run(tmp_path / "home")
    assert used
    assert "was damaged" in err
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert all(one.stat().st_uid == os.geteuid() for one in folder.iterdir())
