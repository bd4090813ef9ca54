"""How long the program takes where it should take next to nothing, in one run:  python tests/benchmarks/limits.py

Each line is the processor time of a child, the least of some, and that as a multiple of what `import numpy` takes.  Tests assert no times;
these are to be looked at.
"""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
COMMAND = "import sys; sys.argv = ['scrubwise', *sys.argv[1:]]; from viz.cli import main; main()"
REPEATS = 3


def seconds(folder: Path, code: str, *words: str) -> float:
    """Least processor time of a child [s]."""
    spent = []
    for _ in range(REPEATS):
        before = os.times()
        subprocess.run(
            [sys.executable, "-c", code, *words], cwd=folder, env=os.environ | {"PYTHONPATH": str(ROOT)}, capture_output=True, check=False
        )
        after = os.times()
        spent.append(after.children_user + after.children_system - before.children_user - before.children_system)
    return min(spent)


def circle(points: int, radius: float) -> str:
    """A course file."""
    angle = np.linspace(0.0, 2 * np.pi, points, endpoint=False)
    return "x_m,y_m\n" + "".join(f"{x:.4f},{y:.4f}\n" for x, y in zip(radius * np.cos(angle), radius * np.sin(angle), strict=True))


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        wild = np.random.default_rng(9).uniform(-500.0, 500.0, (10, 2))
        (folder / "wild.csv").write_text("x_m,y_m\n" + "".join(f"{x:.3f},{y:.3f}\n" for x, y in wild), encoding="utf-8")
        (folder / "many.csv").write_text(circle(60_000, 500.0), encoding="utf-8")
        (folder / "long.csv").write_text(circle(50_000, 800.0), encoding="utf-8")
        clock = np.linspace(0.0, 60.0, 20_001)
        speeds = 8.0 - 0.08 * clock + 0.05 * np.random.default_rng(2).standard_normal(len(clock))
        rows = "".join(f"{t:.4f},{v:.4f}\n" for t, v in zip(clock, speeds, strict=True))
        (folder / "coast.csv").write_text("time_s,speed_m_per_s\n" + rows, encoding="utf-8")
        (folder / "junk.toml").write_bytes(bytes(range(256)) * 4000)
        read = (
            "import sys; from pathlib import Path; from sim.course.reading import read_course; read_course(Path(sys.argv[1]), closed=False)"
        )
        tried = {
            "import numpy": ("import numpy", ()),
            "--help": (COMMAND, ("--help",)),
            "a scenario that is junk, 1 MB": (COMMAND, ("angles", "junk.toml")),
            "ten wild points as a course": (read, ("wild.csv",)),
            "60,000 points, refused": (read, ("many.csv",)),
            "50,000 points, read": (read, ("long.csv",)),
            "a coasting log of 20,001 rows": (COMMAND, ("coast", "coast.csv", "--mass", "145")),
            "run first-bend, kernels at hand": (COMMAND, ("run", "first-bend", "--json")),
            "contest class-contest": (COMMAND, ("contest", "class-contest", "--json")),
        }
        least = {what: seconds(folder, code, *words) for what, (code, words) in tried.items()}
        for what, spent in least.items():
            print(f"{what:36s} {spent:6.2f} s   {spent / least['import numpy']:6.1f} times")


if __name__ == "__main__":
    main()
