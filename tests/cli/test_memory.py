"""What the largest files that are read take of memory and processor time, in a process of their own."""

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("resource", reason="what a process takes is told on POSIX systems")
ROOT = Path(__file__).parents[2]
YARD = (ROOT / "tests" / "scenarios" / "yard.toml").read_text(encoding="utf-8")
SEGMENTS = "segments = [{straight_m = 8}, {radius_m = 4, turn_deg = 90}, {straight_m = 4}]"
POINTS = 50_000  # as many as are read
LAWFUL_S = 20  # [s] of processor time that a command may take; three laps of a kilometre are in it
DAMAGED_S = 2  # [s] of processor time in which a damaged file is refused
# A process's own high water: of what ran before in its place (the tests) `ru_maxrss` keeps the memory on Linux.
MEASURED = """
import atexit, json, resource, sys
def tell():
    used = resource.getrusage(resource.RUSAGE_SELF)
    try:
        with open("/proc/self/status", encoding="ascii") as status:
            most = next(int(line.split()[1]) * 1024 for line in status if line.startswith("VmHWM"))
    except OSError:
        most = used.ru_maxrss * (1 if sys.platform == "darwin" else 1024)
    with open("used.json", "w", encoding="ascii") as file:
        json.dump([most, used.ru_utime + used.ru_stime], file)
atexit.register(tell)
from viz.cli import main
sys.argv = ["scrubwise", *sys.argv[1:]]
main()
"""


def measured(folder, *words):
    """(exit code, standard error, most memory [bytes], processor time [s]) of a command."""
    done = subprocess.run([sys.executable, "-c", MEASURED, *words], cwd=folder, text=True, capture_output=True, check=False,
                          env=os.environ | {"PYTHONPATH": str(ROOT)})  # fmt: skip
    most, spent = json.loads((folder / "used.json").read_text(encoding="ascii"))
    return done.returncode, done.stderr, most, spent


@pytest.fixture
def long_course(tmp_path):
    """A lawful wavy ring of as many points as are read, with heights and widths: a kilometre."""
    angle = np.linspace(0.0, 2 * np.pi, POINTS, endpoint=False)
    radius = 150.0 + 8.0 * np.sin(6 * angle)
    rows = zip(radius * np.cos(angle), radius * np.sin(angle), 2.0 * np.sin(2 * angle), strict=True)
    text = "x_m,y_m,z_m,left_m,right_m\n" + "".join(f"{x:.5f},{y:.5f},{z:.5f},2.5,2.5\n" for x, y, z in rows)
    (tmp_path / "ring.csv").write_text(text, encoding="utf-8")
    (tmp_path / "ring.toml").write_text(YARD.replace(SEGMENTS, 'file = "ring.csv"\nclosed = true'), encoding="utf-8")
    return tmp_path


@pytest.mark.slow
@pytest.mark.parametrize("words", [["--json"], ["--out", "made"]], ids=["numbers", "folder"])
def test_a_course_of_as_many_points_as_are_read(long_course, words):
    """1.5 GB in the first version."""
    measured(long_course, "run", "ring.toml", "--json")  # what is compiled is at hand then
    code, err, most, spent = measured(long_course, "run", "ring.toml", *words)
    assert (code, err) == (0, "")
    assert most < 500e6
    assert spent < LAWFUL_S


@pytest.mark.slow
def test_nested_tags(tmp_path):
    """1.4 GB in the first version."""
    (tmp_path / "deep.gpx").write_text('<gpx version="1.1" creator="c">' + "<a>" * 5_000_000, encoding="utf-8")
    (tmp_path / "deep.toml").write_text(YARD.replace(SEGMENTS, 'file = "deep.gpx"'), encoding="utf-8")
    code, err, most, spent = measured(tmp_path, "run", "deep.toml", "--json")
    assert code == 2
    assert "holds far more than a recording of a course" in err
    assert most < 300e6
    assert spent < DAMAGED_S
