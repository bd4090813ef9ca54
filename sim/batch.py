"""Many laps: jobs in blocks of fixed membership, on threads of this machine or on a cluster, kept as they finish.

A block's content depends on the jobs' order alone, and a lap on its own job alone, so that the table of figures is the same bit for
bit whatever number of workers drove it and in whatever order.
"""

import hashlib
import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sim.chassis import WHEELS
from sim.course import Course
from sim.driver import plan_pace
from sim.energy import ledger_of
from sim.errors import InputError
from sim.lap import Ended, drive_lap
from sim.lap_state import FARTHEST, LEAST_LOAD, PEAK_SLIP
from sim.race import laps_on_charge, race_result
from sim.scenario import HOUR, Scenario
from sim.study import car_of, make_entry, pace_of, race_of

BLOCK = 64  # jobs; large enough to hide what handing out a block costs, small enough for a lively progress bar
COLUMNS = (
    "finished", "lap_time_s", "drive_work_J", "scrub_J", "rolling_J", "air_J", "brakes_J", "aligning_J", "battery_Wh", "laps_per_charge",
    "race_laps", "race_distance_m", "min_load_N", "error_max_m", "ledger_residual",
    *(f"rub_{wheel}_m" for wheel in WHEELS), *(f"peak_slip_{wheel}_rad" for wheel in WHEELS),
)  # fmt: skip


@dataclass(frozen=True)
class Job:
    """One lap to drive: a set-up of a scenario at a target speed."""

    scenario: Scenario
    setup: int
    target: float  # [m/s]


@dataclass(frozen=True)
class Workers:
    """Who drives: threads of this machine, or the cluster behind a scheduler's address."""

    threads: int = 1
    cluster: str | None = None


def drive_jobs(
    course: Course, jobs: Sequence[Job], workers: Workers, progress: Callable[[int, int], None] = lambda done, of: None,
    store: Path | None = None,
) -> np.ndarray:  # fmt: skip
    """Drive every job round a course.

    course : Course; jobs : to drive; workers : Workers
    progress : called after each block with the jobs done and the jobs in all
    store : folder in which finished blocks are kept and from which they are taken up again; None keeps nothing
    Returns (n, len(COLUMNS)) [SI, or the unit in the column's name]; a job that could not be built or did not finish has 0 in
    "finished" and NaN in most others.  Raises InputError for a cluster that does not answer; KeyboardInterrupt leaves the finished
    blocks in the store.
    """
    figures = np.full((len(jobs), len(COLUMNS)), np.nan)
    starts = range(0, len(jobs), BLOCK)
    waiting, done = [], 0
    for start in starts:
        block = jobs[start : start + BLOCK]
        kept = _kept(store, course, block)
        if kept is None:
            waiting.append(start)
        else:
            figures[start : start + len(block)] = kept
            done += len(block)
    progress(done, len(jobs))
    for start, rows in _spread_out(course, jobs, waiting, workers):
        figures[start : start + len(rows)] = rows
        _keep(store, course, jobs[start : start + BLOCK], rows)
        done += len(rows)
        progress(done, len(jobs))
    return figures


def drive_block(course: Course, jobs: Sequence[Job], start: int = 0) -> tuple[int, np.ndarray]:
    """Drive one block.  course : Course; jobs : its jobs; start : the first one's place among all [-].

    Returns (start, rows) with rows (n, len(COLUMNS)), see `drive_jobs`.
    """
    return start, np.array([_figures(course, job) for job in jobs]).reshape(len(jobs), len(COLUMNS))


def _spread_out(course: Course, jobs: Sequence[Job], starts: list[int], workers: Workers):
    """Blocks as they finish, in any order."""
    if workers.cluster is None and workers.threads == 1:
        for start in starts:
            yield drive_block(course, jobs[start : start + BLOCK], start)
        return
    from joblib import Parallel, delayed, parallel_config

    tasks = (delayed(drive_block)(course, jobs[start : start + BLOCK], start) for start in starts)
    if workers.cluster is None:
        yield from Parallel(n_jobs=workers.threads, prefer="threads", return_as="generator_unordered")(tasks)
        return
    with _client(workers.cluster), parallel_config(backend="dask", wait_for_workers_timeout=30):
        yield from Parallel(return_as="generator_unordered")(tasks)


def _client(address: str):
    try:
        from distributed import Client
    except ImportError:
        raise InputError("--cluster", "", "the cluster library is not installed", "pip install scrubwise[cluster]") from None
    try:
        return Client(address, timeout="10s", set_as_default=True)
    except (OSError, ValueError, TimeoutError):
        problem = f"no scheduler answers at {address}"
        raise InputError("--cluster", "", problem, "start one, or check the address (tcp://HOST:PORT)") from None


def _figures(course: Course, job: Job) -> list[float]:
    """One job's row."""
    nothing = [0.0] + [np.nan] * (len(COLUMNS) - 1)
    try:
        entry = make_entry(job.scenario.setup[job.setup], job.scenario, "job", f"setup[{job.setup}]")
    except InputError:  # a variant that can't be built is a result of a study, not a slip of its user
        return nothing
    car = car_of(job.scenario)
    lap = drive_lap(car, entry.table, course, plan_pace(course, car, pace_of(job.scenario, job.target)), laps=job.scenario.pace.laps)
    if lap.ended != Ended.FINISHED:
        return nothing
    ledger = ledger_of(car, lap)
    electric, race = ledger.electric, race_of(job.scenario)
    battery = charge = laps = distance = np.nan
    if electric is not None:
        battery, charge = electric.battery / HOUR, laps_on_charge(electric.used_charge, car.battery)
        if race is not None:
            raced = race_result(race, course.length, lap.time, electric.used_charge, car.battery)
            laps, distance = raced.laps, raced.distance
    return [
        1.0, lap.time, ledger.drive_work, ledger.scrub, ledger.rolling, ledger.air, ledger.brakes, ledger.aligning, battery, charge, laps,
        distance, lap.extremes[LEAST_LOAD], lap.extremes[FARTHEST], ledger.residual, *ledger.rub,
        *lap.extremes[PEAK_SLIP : PEAK_SLIP + 4],
    ]  # fmt: skip


def _name(course: Course, block: Sequence[Job]) -> str:
    """Name of a block's file: what it holds, so that a changed study never takes up another one's figures."""
    digest = hashlib.sha256(f"{course.length!r} {course.closed} {len(course.station)}".encode())
    digest.update(course.curvature.tobytes() + course.slope.tobytes())
    for job in block:
        digest.update(json.dumps([job.scenario.model_dump(mode="json"), job.setup, job.target], sort_keys=True).encode())
    return f"block-{digest.hexdigest()[:24]}.npy"


def _kept(store: Path | None, course: Course, block: Sequence[Job]) -> np.ndarray | None:
    if store is None:
        return None
    try:
        rows = np.load(store / _name(course, block), allow_pickle=False)
    except (OSError, ValueError, EOFError):  # missing, or cut off by an interruption
        return None
    return rows if rows.shape == (len(block), len(COLUMNS)) else None


def _keep(store: Path | None, course: Course, block: Sequence[Job], rows: np.ndarray) -> None:
    if store is None:
        return
    store.mkdir(parents=True, exist_ok=True)
    final = store / _name(course, block)
    part = final.with_suffix(".part")
    with open(part, "wb") as stream:
        np.save(stream, rows)
    part.replace(final)
