"""Speed of a study: python tests/benchmarks/study_speed.py [LAPS]

Drives laps of the quay loop, each with a mass of its own, through `drive_jobs`: on one thread, on two, and on a cluster of two worker
processes of this machine, which are started here. Prints the times, the second thread's worth and what the cluster costs. Other work on
the machine slows all of it: each figure is the best of a few.
"""

import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from sim.scenario.file import find_scenario, load_scenario
from sim.study.jobs import COLUMNS, Job, drive_jobs
from sim.study.ready import course_of
from sim.study.workers import Cluster, Workers

REPEATS = 3


def jobs_of(scenario, count: int) -> list[Job]:
    setups = len(scenario.setup)
    masses = np.linspace(130.0, 160.0, -(-count // setups))
    cars = [scenario.model_copy(update={"car": scenario.car.model_copy(update={"mass_kg": float(mass)})}) for mass in masses]
    return [Job(car, setup, 7.0) for car in cars for setup in range(setups)][:count]


def best_of(course, jobs, workers: Workers):
    """Shortest wall time of a few runs [s], and the figures."""
    walls = []
    for _ in range(REPEATS):
        begin = time.perf_counter()
        rows = drive_jobs(course, jobs, workers)
        walls.append(time.perf_counter() - begin)
    return min(walls), rows


def on_cluster(course, jobs):
    """The same on a scheduler and two workers."""
    from distributed import Client

    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "scheduler.json"
        dask = [sys.executable, "-m", "dask"]
        here = ["--host", "127.0.0.1", "--no-dashboard"]
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        processes = [subprocess.Popen([*dask, "scheduler", *here, "--port", "0", "--scheduler-file", str(file)], **quiet)]
        try:
            while not file.exists() or not file.read_text():
                time.sleep(0.1)
            address = json.loads(file.read_text())["address"]
            processes += [subprocess.Popen([*dask, "worker", address, *here, "--nthreads", "1"], **quiet) for _ in range(2)]
            with Client(address) as client:
                client.wait_for_workers(2)
            with Workers(cluster=Cluster(address)) as workers:
                drive_jobs(course, jobs[:512], workers)  # what a worker's first block takes is not the study's
                return best_of(course, jobs, workers)
        finally:
            for process in processes:
                process.terminate()


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    path = find_scenario("quay-loop")
    scenario = load_scenario(path)
    course, jobs = course_of(scenario, path.parent, "quay-loop"), jobs_of(scenario, count)
    drive_jobs(course, jobs[:16], Workers())  # compiles where nothing is cached
    walls, figures = {}, []
    for threads in (1, 2):
        walls[threads], rows = best_of(course, jobs, Workers(threads=threads))
        figures.append(rows)
        real = 2 * np.nansum(rows[:, COLUMNS.index("lap_time_s")])  # the run-in lap is driven too
        print(f"{count} laps, {threads} thread(s): {walls[threads]:.1f} s, {real / walls[threads]:,.0f} times faster than real time")
    print(f"second thread: {walls[1] / walls[2]:.2f} times as fast")
    wall, rows = on_cluster(course, jobs)
    figures.append(rows)
    print(f"{count} laps, cluster of two workers: {wall:.1f} s, {wall / walls[2]:.2f} times as long as one process with two threads")
    assert all(np.array_equal(rows, figures[0], equal_nan=True) for rows in figures), "the figures depend on who drove"


if __name__ == "__main__":
    main()
