"""What a second start of `run first-bend` spends, and what of it on imports:  python tests/benchmarks/start_speed.py [OTHER_CHECKOUT]

Processor times of children, the least of some, as multiples of what `import numpy` takes here; with another checkout, both in turn and their ratio.
"""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
RUN = "import sys; sys.argv = ['scrubwise', 'run', 'first-bend']; from viz.cli import main; main()"
IMPORTS = {
    "numpy": "import numpy",
    "numba, with numpy": "import numba",
    "matplotlib's figures, with numpy": "import matplotlib.figure, matplotlib.backends.backend_agg",
    "SciPy's interpolation (not imported)": "import scipy.interpolate",
    "pydantic and typer": "import pydantic, typer",
    "the model, with numba and numpy": "import sim.study.compare",
    "the model and the figures": "import sim.study.compare, viz.run.plots",
}
REPEATS = 5


def seconds(checkout: Path, code: str) -> float:
    """Processor time of one child [s]."""
    with tempfile.TemporaryDirectory() as folder:
        before = os.times()
        subprocess.run(
            [sys.executable, "-c", code], cwd=folder, env=os.environ | {"PYTHONPATH": str(checkout)}, capture_output=True, check=True
        )
        after = os.times()
    return after.children_user + after.children_system - before.children_user - before.children_system


def main() -> None:
    checkouts = [ROOT, *(Path(word).resolve() for word in sys.argv[1:])]
    for checkout in checkouts:
        seconds(checkout, RUN)  # kernels are compiled by now
    unit = min(seconds(ROOT, "import numpy") for _ in range(REPEATS))
    for what, code in IMPORTS.items():
        print(f"{what:40s} {min(seconds(ROOT, code) for _ in range(REPEATS)) / unit:6.1f}")
    spent = [[seconds(checkout, RUN) for checkout in checkouts] for _ in range(REPEATS)]
    least = [min(times) for times in zip(*spent, strict=True)]
    print(f"{'run first-bend, second start':40s} {least[0] / unit:6.1f}   ({least[0]:.2f} s, import numpy {unit:.2f} s)")
    for checkout, other in zip(checkouts[1:], least[1:], strict=True):
        print(f"as a share of {checkout.name}: {least[0] / other:.2f}")


if __name__ == "__main__":
    main()
