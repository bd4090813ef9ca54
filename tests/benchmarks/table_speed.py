"""Studies that draw geometry, this checkout against another:  python tests/benchmarks/table_speed.py [OTHER_CHECKOUT] [REPEATS]

Each checkout has a process of its own that stays, compiled and warm; they are asked in turn, each time with another seed, so that no table
is met again.  Prints processor times, the least of some, and their ratios: `spread` that draws toe and arms of two set-ups, `spread` that
draws the tyre of the same two, `search`, and a set-up of each kind built and sampled.
"""

import re
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parents[2]
SAMPLES, REPEATS = 256, 3
ARMS = """
[[setup]]
name = "one"
pivot = "stub axles"
linkage = "cross rod"
arm_length_mm = 110
arm_angle_deg = 13.9
[[setup]]
name = "two"
pivot = "stub axles"
linkage = "centre arm"
arm_length_mm = 110
arm_angle_deg = 13.9
drop_arm_length_mm = 70
drop_arm_behind_front_axle_mm = 107
[uncertainty]
"""
DRAWN = {
    "arms": "".join(f'"setup.{name}.{key}" = {half}\n' for name in ("one", "two")
                    for key, half in (("arm_length_mm", 1.0), ("arm_angle_deg", 1.0), ("toe_in_deg", 0.2))),
    "tyre": '"car.tyre.cornering_stiffness_per_rad" = 3.0\n"car.tyre.relaxation_length_mm" = 20.0\n"car.tyre.friction" = 0.05\n',
}  # fmt: skip
# What runs in either checkout: it uses names only that both have.
CHILD = """
import contextlib, io, sys, time
sys.path.insert(0, sys.argv[1])
import sim
assert sim.__path__[0].startswith(sys.argv[1]), sim.__path__
from sim.steering.arrangement import build_steering
from sim.steering.table import steer_table
try:
    from sim.scenario.file import load_scenario
except ImportError:
    from sim.scenario_file import load_scenario
from pathlib import Path
from viz.cli import main

def run(words):
    sys.argv = ["scrubwise", *words, "--json"]
    with contextlib.redirect_stdout(io.StringIO()), contextlib.suppress(SystemExit):
        main()

def tables(file, place):
    scenario = load_scenario(Path(file))
    begin = time.process_time()
    for _ in range(20):
        steering = build_steering(scenario.setup[int(place)], scenario.car, "", "")
        steer_table(steering, scenario.car.wheelbase_mm * 1e-3)
    return (time.process_time() - begin) / 20

print("ready", flush=True)
for line in sys.stdin:
    words = line.split()
    begin = time.process_time()
    took = tables(*words[1:]) if words[0] == "table" else run(words)
    print(time.process_time() - begin if took is None else took, flush=True)
"""
KINDS = {
    "ideal": "",
    "parallel": "",
    "fraction": "fraction = 0.6\n",
    "cross rod": "arm_length_mm = 110\narm_angle_deg = 13.9\n",
    "centre arm": "arm_length_mm = 110\narm_angle_deg = 13.9\ndrop_arm_length_mm = 70\ndrop_arm_behind_front_axle_mm = 107\n",
    "rack": "arm_length_mm = 110\narm_angle_deg = 13.9\nrack_behind_front_axle_mm = 107\nrack_length_mm = 240\nrack_mm_per_turn = 62\n",
}


def started(checkout: Path, folder: str) -> subprocess.Popen:
    """A checkout's process."""
    words = [sys.executable, "-c", CHILD, str(checkout)]
    child = subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=folder)
    assert child.stdout is not None
    assert child.stdout.readline() == "ready\n"
    return child


def asked(child: subprocess.Popen, words: str) -> float:
    """Processor time of one work [s]."""
    assert child.stdin is not None
    assert child.stdout is not None
    child.stdin.write(words + "\n")
    child.stdin.flush()
    return float(child.stdout.readline())


def told(work: str, times: list[list[float]]) -> list[float]:
    """Print and return the least processor times of a work [s].  times : of the checkouts, again and again [s]."""
    found = [min(column) for column in zip(*times, strict=True)]
    there = f"   there {found[1]:9.5f} s, {found[1] / found[0]:5.1f} times as long" if found[1:] else ""
    print(f"{work:34s} {found[0]:9.5f} s{there}", flush=True)
    return found


def main() -> None:
    checkouts = [HERE, *(Path(word).resolve() for word in sys.argv[1:2])]
    repeats = int(sys.argv[2]) if len(sys.argv) > 2 else REPEATS
    head = (HERE / "scenarios/quay-loop.toml").read_text(encoding="utf-8").partition("[[setup]]")[0]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "quay-loop.csv").write_bytes((HERE / "scenarios/quay-loop.csv").read_bytes())
        for drawn, inputs in DRAWN.items():
            (folder / f"{drawn}.toml").write_text(head + ARMS + inputs, encoding="utf-8")
        kinds = [f'[[setup]]\nname = "{kind}"\npivot = "stub axles"\nlinkage = "{kind}"\n{keys}' for kind, keys in KINDS.items()]
        kinds.append('[[setup]]\nname = "turntable"\npivot = "turntable"\n')
        (folder / "kinds.toml").write_text(head + "\n".join(kinds), encoding="utf-8")
        children = [started(checkout, name) for checkout in checkouts]
        works = {
            "spread that draws arms and toe": f"spread arms.toml --samples {SAMPLES} --seed",
            "spread that draws the tyre": f"spread tyre.toml --samples {SAMPLES} --seed",
            "search": "search arms.toml --seed",
        }  # fmt: skip
        least: dict[str, list[float]] = {}
        for work, words in works.items():
            for child in children:
                asked(child, re.sub(r"--samples \d+", "--samples 16", words) + " 99")
            times = [[asked(child, f"{words} {seed}") for child in children] for seed in range(repeats)]
            least[work] = told(work, times)
        for place, kind in enumerate((*KINDS, "turntable")):
            times = [[asked(child, f"table kinds.toml {place}") for child in children] for _ in range(2 * repeats)]
            told(f"{kind}, built and sampled", times)
        for child in children:
            child.terminate()
    arms, tyre = (least[work][0] for work in list(works)[:2])
    print(f"drawing arms and toe takes {arms / tyre:.2f} times as long as drawing the tyre, the same number of laps")


if __name__ == "__main__":
    main()
