"""Processor time of the kernels, this checkout against another:  python tests/benchmarks/same_speed.py OTHER_CHECKOUT [PAIRS]

Each checkout has a process of its own that stays, compiled and warm; the two are asked in turn, so that a machine that grows slower is
slower for both.  Prints the ratio here / there, the least time over the least time and the median of the pairs' ratios, for 512 cars of
the quay loop in lock step on one thread and for its set-ups driven one by one.
"""

import statistics
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parents[2]
CARS = 512
WORKS = ("lock step", "one by one")
# What runs in either checkout: it uses names only that both have.
CHILD = f"""
import sys, time
sys.path.insert(0, sys.argv[1])
import sim
assert sim.__path__[0].startswith(sys.argv[1]), sim.__path__
from sim.lap.drive import drive_lap
from sim.lap.lockstep.batch import drive_batch
from sim.pace.driver import plan_pace
from sim.scenario.file import find_scenario, load_scenario
from sim.study.ready import car_of, course_of, entries_of, pace_of
path = find_scenario("quay-loop")
scenario = load_scenario(path)
car, course = car_of(scenario), course_of(scenario, path.parent, "quay-loop")
plan = plan_pace(course, car, pace_of(scenario, float(scenario.pace.target_m_per_s)))
tables = [entry.table for entry in entries_of(scenario, "quay-loop")]
some = [tables[i % len(tables)] for i in range({CARS})]
works = {{
    "lock step": lambda: drive_batch([car] * {CARS}, some, [(course, plan)]),
    "one by one": lambda: [drive_lap(car, table, course, plan) for table in tables * 6],
}}
drive_batch([car] * 32, some[:32], [(course, plan)])
drive_lap(car, tables[0], course, plan)
print("ready", flush=True)
for line in sys.stdin:
    begin = time.process_time()
    works[line.strip()]()
    print(time.process_time() - begin, flush=True)
"""


def started(checkout: Path) -> subprocess.Popen:
    """A checkout's process."""
    return subprocess.Popen([sys.executable, "-c", CHILD, str(checkout)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)


def asked(child: subprocess.Popen, work: str) -> float:
    """Processor time of one work [s]."""
    assert child.stdin is not None
    assert child.stdout is not None
    child.stdin.write(work + "\n")
    child.stdin.flush()
    return float(child.stdout.readline())


def main() -> None:
    other, pairs = Path(sys.argv[1]).resolve(), int(sys.argv[2]) if len(sys.argv) > 2 else 9
    children = [started(HERE), started(other)]
    for child in children:
        assert child.stdout is not None
        assert child.stdout.readline() == "ready\n"
    for work in WORKS:
        times = [
            [asked(child, work) for child in (children if pair % 2 else children[::-1])][:: 1 if pair % 2 else -1] for pair in range(pairs)
        ]
        ratios = [here / there for here, there in times]
        least = [min(column) for column in zip(*times, strict=True)]
        print(
            f"{work}: {least[0]:.3f} s here, {least[1]:.3f} s there; least over least {least[0] / least[1]:.3f}, median of {pairs} pairs "
            f"{statistics.median(ratios):.3f} (from {min(ratios):.3f} to {max(ratios):.3f})"
        )  # fmt: skip
    for child in children:
        child.terminate()


if __name__ == "__main__":
    main()
