"""Speed and memory of a study of uncertainty: python tests/benchmarks/spread_speed.py [SAMPLES ...]

For each number of draws (left out: 4,096, 16,384 and 131,072) a process of its own fills a sample of four set-ups and ten inputs from a
formula, which stands in for laps, and works out its statistics, on one thread and on two; then the car of `first-bend` drives real laps
of a short bend.  Prints processor time for each draw and the largest memory of the process: both must not grow.
"""

import resource
import subprocess
import sys
import time
import tomllib

import numpy as np

INPUTS, SETUPS = 10, 4
BEND = {"segments": [{"straight_m": 3}, {"radius_m": 8, "turn_deg": 20}]}


def cheap(samples: int, threads: int, sobol: bool) -> None:
    """Statistics of a formula."""
    from sim.spread.inputs import unit_points
    from sim.spread.run import FIGURES, statistics
    from sim.spread.sample import Sample
    from sim.study.jobs import BLOCK

    sample = Sample(samples, [None] * (INPUTS - SETUPS) + list(range(SETUPS)), SETUPS, len(FIGURES), sobol)
    weights = np.random.default_rng(0).normal(size=(INPUTS, SETUPS))
    start = 0
    for first, second in unit_points(samples, INPUTS, 0):
        sample.put_values(start, first, second if sobol else None)
        start += len(first)
    filled = time.perf_counter()
    for run in sample.runs(BLOCK):
        figures = sample.values(run.start, run.count, run.part) @ weights
        sample.put(run, np.repeat(figures[:, list(run.setups), None], len(FIGURES), axis=2))
    begin, wall = time.process_time(), time.perf_counter()
    statistics(sample, threads)
    sample.close()
    told(f"formula{' with a design' if sobol else ''}, statistics on {threads} thread(s)", samples, begin, wall)
    print(f"{'':>8}  {1e6 * (wall - filled) / samples:8.2f} us a draw to fill the sample (wall)", flush=True)


def real(samples: int) -> None:
    """A study with laps on two threads."""
    from sim.scenario.file import check_scenario, find_scenario
    from sim.spread.run import spread
    from sim.study.workers import Workers

    path = find_scenario("first-bend")
    scenario = check_scenario(tomllib.loads(path.read_text(encoding="utf-8")) | {"course": BEND}, "a short bend")
    spread(scenario, path.parent, "a short bend", samples=16, literature=True)  # compiles where nothing is cached
    begin, wall = time.process_time(), time.perf_counter()
    spread(scenario, path.parent, "a short bend", samples=samples, literature=True, workers=Workers(threads=2))
    told("laps of three set-ups round a short bend, two threads", samples, begin, wall)


def told(what: str, samples: int, begin: float, wall: float) -> None:
    spent, walls = time.process_time() - begin, time.perf_counter() - wall
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    line = f"{samples:>8}  {1e6 * spent / samples:8.2f} us a draw (processor), {walls:7.2f} s (wall), at most {memory:5.0f} MB: {what}"
    print(line, flush=True)


def main() -> None:
    if len(sys.argv) > 2 and sys.argv[1] in ("cheap", "design", "real"):
        kind, samples, threads = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
        real(samples) if kind == "real" else cheap(samples, threads, kind == "design")
        return
    sizes = [int(one) for one in sys.argv[1:]] or [4096, 16384, 131072]
    for kind, threads in (("cheap", 1), ("cheap", 2), ("design", 1), ("real", 2)):
        for samples in sizes:
            subprocess.run([sys.executable, __file__, kind, str(samples), str(threads)], check=True)


if __name__ == "__main__":
    main()
