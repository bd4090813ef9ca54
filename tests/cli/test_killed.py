"""Commands that are killed at drawn moments: what stood there still stands or the new stands whole, and kept work is gone on with."""

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from sim.scenario.file import shipped_folder
from sim.store.run_folder import MARKER

ROOT = Path(__file__).parents[2]
YARD = (ROOT / "tests" / "scenarios" / "yard.toml").read_text(encoding="utf-8")
ROD = '[[setup]]\nname = "rod"\npivot = "stub axles"\nlinkage = "cross rod"\narm_length_mm = 110\narm_angle_deg = 13.9\n'
UNSURE = '[uncertainty]\n"car.mass_kg" = "3 %"\n'
COMMANDS = {
    "run": ["run", "car.toml", "--out", "made"],
    "search": ["search", "car.toml", "--objective", "error", "--free", "arm_angle_deg=5:25", "--resume", "kept", "--json"],
    "spread": ["spread", "car.toml", "--samples", "64", "--resume", "kept", "--json"],
    "contest": ["contest", "class", "--out", "made"],
    "own contest": ["contest", "--copy", "own"],
    "template": ["template", "car.toml", "--setup", "rod", "--out", "made.pdf"],
}
SHIPPED = shipped_folder() / "class-contest"
SIGNALS = [signal.SIGKILL, signal.SIGINT, signal.SIGTERM]
MOMENTS = 2  # of each command and signal: 36 in all
EARLIEST_S = 0.2  # before that Python itself begins


def begin(folder, words):
    return subprocess.Popen(
        [sys.executable, "-m", "viz.cli", *words], cwd=folder, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )  # fmt: skip


def ended(folder, words):
    """(exit code, standard output, standard error, seconds) of a command that is left alone."""
    began = time.monotonic()
    one = begin(folder, words)
    out, err = one.communicate()
    return one.returncode, out, err, time.monotonic() - began


def whole(folder):
    """What stands under the name that a command writes: nothing, the earlier thing, or a new one that is whole."""
    pdf, made, own = folder / "made.pdf", folder / "made", folder / "own"
    if pdf.exists():
        content = pdf.read_bytes()
        assert content == b"earlier" or (content[:5] == b"%PDF-" and content.rstrip()[-5:] == b"%%EOF")
    if own.exists():
        assert {one.name: one.read_bytes() for one in own.iterdir()} == {one.name: one.read_bytes() for one in SHIPPED.glob("*.toml")}
    if not made.exists():
        return
    files = {one.relative_to(made).as_posix() for one in made.rglob("*") if one.is_file()}
    told = json.loads((made / MARKER).read_text(encoding="utf-8"))
    assert set(told["files"]) == files - {MARKER}
    for name in files:
        if name.endswith(".json"):
            json.loads((made / name).read_text(encoding="utf-8"))


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX systems")
@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_killed_at_any_moment_leaves_nothing_half_done(tmp_path, name):
    words, pick = COMMANDS[name], random.Random(name)
    (tmp_path / "car.toml").write_text(YARD + ROD + UNSURE, encoding="utf-8")
    shutil.copytree(SHIPPED, tmp_path / "class")
    code, answer, _, lasts = ended(tmp_path, words)
    assert code == 0
    for number in range(MOMENTS * len(SIGNALS)):
        how, moment = SIGNALS[number % len(SIGNALS)], pick.uniform(EARLIEST_S, lasts)
        shutil.rmtree(tmp_path / "kept", ignore_errors=True)
        shutil.rmtree(tmp_path / "own", ignore_errors=True)
        if name == "template":
            (tmp_path / "made.pdf").write_bytes(b"earlier")
        elif number % 2:
            shutil.rmtree(tmp_path / "made", ignore_errors=True)
        one = begin(tmp_path, words)
        time.sleep(moment)
        one.send_signal(how)
        _, err = one.communicate()
        what = f"{name}, {how.name} after {moment:.2f} s: {err}"
        # Whoever is interrupted while Python itself begins or ends has no answer of ours to give, and ends by the signal.
        assert one.returncode in (0, 130, -how) if how == signal.SIGINT else one.returncode in (0, -how), what
        assert "Traceback" not in err, what
        assert one.returncode != 130 or "stopped before the end" in err, what
        assert ended(tmp_path, ["manual"])[0] == 0  # any command clears away what was left half written
        assert not list(tmp_path.glob(".scrubwise-*")), what
        whole(tmp_path)
        shutil.rmtree(tmp_path / "own", ignore_errors=True)  # a folder of one's own is never written over
        again = ended(tmp_path, words)
        assert (again[0], again[1]) == (0, answer), what
        whole(tmp_path)
        assert not list(tmp_path.rglob("*.part")), what
