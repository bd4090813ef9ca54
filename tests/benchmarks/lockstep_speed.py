"""Speed of many laps in lock step: python tests/benchmarks/lockstep_speed.py [CARS]

Prints how many times faster than real time a batch of the quay loop's set-ups is driven on one thread and on two, the memory it takes
for one lap and for four, and the time of both kernels against the same equations in C (lap.c, built here with gcc where there is one).
Other work on the machine slows all of it: each figure is the best of a few, those beside C in processor time and asked in turn.
"""

import ctypes
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from sim.lap.drive import ROW_TIME, integrate, start_state, time_step
from sim.lap.lockstep import batch
from sim.lap.lockstep.batch import drive_batch
from sim.lap.lockstep.integrate import integrate_lanes
from sim.lap.lockstep.lanes import FIGURES, LANES, Figure
from sim.lap.state import EXTREMES, LEDGER, STATES, Extreme
from sim.pace.driver import driver_of, plan_pace
from sim.pace.road import road_of
from sim.scenario.file import find_scenario, load_scenario
from sim.steering.cells import steer_cells_of
from sim.study.ready import car_of, course_of, entries_of, pace_of

REPEATS = 5
TURNS = 15
FLAGS = {
    "products and sums apart, as ours": ["-fno-math-errno", "-fno-trapping-math", "-ffp-contract=off"],
    "products and sums in one": ["-fno-math-errno", "-fno-trapping-math"],
    "fast-math": ["-ffast-math"],
}
ALONE = ["-fno-tree-slp-vectorize"]  # gcc packs the wheels of a single car into registers otherwise and takes a fifth longer
PLACES = [f"-DPOWER_PLACE={Figure.POWER:d}", f"-DDRIVER_PLACE={Figure.DRIVER:d}"]
AGREE = 1e-9  # C contracts products into sums and so rounds otherwise; a wrong term would show a million times larger


def case():
    path = find_scenario("quay-loop")
    scenario = load_scenario(path)
    car, course = car_of(scenario), course_of(scenario, path.parent, "quay-loop")
    plan = plan_pace(course, car, pace_of(scenario, float(scenario.pace.target_m_per_s)))
    return car, course, plan, [entry.table for entry in entries_of(scenario, "quay-loop")]


def best_of(work) -> float:
    """Shortest wall time of a few runs [s]."""
    walls = []
    for _ in range(REPEATS):
        begin = time.perf_counter()
        work()
        walls.append(time.perf_counter() - begin)
    return min(walls)


def batches(car, course, plan, tables, count: int) -> None:
    some, way = [tables[i % len(tables)] for i in range(count)], [(course, plan)]
    begin = time.perf_counter()
    drive_batch([car] * LANES, some[:LANES], way)
    print(f"first call (compiles where nothing is cached): {time.perf_counter() - begin:.1f} s")
    walls = {}
    for threads in (1, 2):
        driven = []

        def drive(threads=threads, driven=driven):
            driven[:] = [drive_batch([car] * count, some, way, threads=threads)]

        walls[threads] = best_of(drive)
        real = 2 * driven[0].time.sum()  # the run-in lap is driven too
        print(f"{count} cars, {threads} thread(s): {walls[threads]:.2f} s, {real / walls[threads]:,.0f} times faster than real time")
    print(f"second thread: {walls[1] / walls[2]:.2f} times as fast")
    before = most_memory()
    drive_batch([car] * count, some, way, laps=4, threads=2)
    print(f"memory: {before:.0f} MB at most, after four laps each {most_memory():.0f} MB")


def most_memory() -> float:
    """Most memory that this process has had [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def prepared(car, course, plan, table):
    """What the lock-step kernel gets for LANES cars that are alike."""
    caught = {}

    def catch(*args):
        caught["args"] = args

    kernel, batch.integrate_lanes = batch.integrate_lanes, catch
    try:
        drive_batch([car] * LANES, [table] * LANES, [(course, plan)])
    finally:
        batch.integrate_lanes = kernel
    return caught["args"]


def in_turn(works: dict[str, Callable[[], object]]) -> dict[str, float]:
    """Least processor time of each work [s], all of them asked in turn, so that a machine that grows slower is slower for all."""
    least = dict.fromkeys(works, float("inf"))
    for _ in range(TURNS):
        for name, work in works.items():
            begin = time.process_time()
            work()
            least[name] = min(least[name], time.process_time() - begin)
    return least


def in_c(folder: Path, name: str, lanes: int, figures, begin, steers_held, roads_held, steps: int):
    """The lap in C, compiled with one of FLAGS: (what drives it, its state afterwards (STATES, lanes))."""
    library = folder / f"lap-{name}-{lanes}.so"
    flags = [*FLAGS[name], *(ALONE if lanes == 1 else []), f"-DLANES={lanes}", *PLACES]
    command = ["gcc", "-O3", "-march=native", *flags, "-shared", "-fPIC", str(Path(__file__).with_name("lap.c"))]
    subprocess.run([*command, "-o", str(library), "-lm"], check=True)
    lap_steps = ctypes.CDLL(str(library)).lap_steps
    lap_steps.restype = ctypes.c_double
    flat = np.ascontiguousarray(figures[:lanes, :FIGURES].T)
    state, extremes = np.empty((STATES, lanes)), np.zeros((EXTREMES, lanes))
    at = [array.ctypes.data_as(ctypes.c_void_p) for array in (flat, steers_held, roads_held, state, extremes)]
    counts = [ctypes.c_long(count) for count in (len(steers_held), len(roads_held), steps)]

    def drive():
        state[:] = begin[:lanes].T
        extremes[Extreme.LEAST_LOAD] = 1e9
        rare = lap_steps(at[0], at[1], counts[0], at[2], counts[1], at[3], at[4], counts[2])
        assert rare == 0.0, "a wheel slid or lifted: C leaves that out"
        assert len(flat) == FIGURES  # it is kept while C reads it

    return drive, state


def yardstick(car, course, plan, table) -> None:
    if shutil.which("gcc") is None:
        print("no gcc: no comparison with C")
        return
    args = prepared(car, course, plan, table)
    figures, begin, steers_held, roads_held, results = args[0], args[2], args[3], args[4], args[6]
    steer_cells, road, step = steer_cells_of(table), road_of(course, plan), time_step(car, plan)
    # One lap from the line, the car being up to speed: the time of the lap that `integrate` cuts at the line.
    start = start_state(car, road, steer_cells)
    no_rows = np.empty((0, STATES))
    every = max(round(ROW_TIME / step), 1)
    args[1][:, -1] = 1  # rounds
    works: dict[str, Callable[[], object]] = {
        "one car": lambda: integrate(car, steer_cells, road, driver_of(car), start.copy(), step, every, 1, 1e3, no_rows),
        "lock step": lambda: integrate_lanes(*args),
    }
    for work in works.values():
        work()
    ended, driven = results.end, results.time[0]
    steps = int(driven / step)
    with tempfile.TemporaryDirectory() as folder:
        kinds = [(name, lanes) for name in FLAGS for lanes in (1, LANES)]
        states = {}
        for name, lanes in kinds:
            works[f"{name}, {lanes}"], states[name, lanes] = in_c(Path(folder), name, lanes, figures, begin, steers_held, roads_held, steps)
        least = in_turn(works)
    for name, lanes in (("one car", 1), ("lock step", LANES)):
        each = 1e9 * least[name] / steps / 4 / lanes
        print(f"{name}: {each:.0f} ns a right-hand side and car, {lanes * driven / least[name]:,.0f} times real time")
    for name, lanes in kinds:
        # The rest of the last step to the line, by our own kernel, must end where ours ended.
        rest = states[name, lanes][:, 0].copy()
        ledger = rest[LEDGER:].copy()
        integrate(car, steer_cells, road, driver_of(car), rest, step, every, 1, 1e3, no_rows)
        rest[LEDGER:] += ledger
        miss = np.abs(rest - ended[0]).max() / np.abs(ended[0]).max()
        assert miss < AGREE, miss
        ratio = least["one car" if lanes == 1 else "lock step"] / least[f"{name}, {lanes}"]
        print(f"C (-O3 -march=native, {name}), {lanes:2d} car(s): ours takes {ratio:.2f} times as long; they agree to {miss:.0e}")


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1024
    car, course, plan, tables = case()
    batches(car, course, plan, tables, count)
    yardstick(car, course, plan, tables[0])


if __name__ == "__main__":
    main()
