"""Many laps: jobs in blocks of fixed membership, on threads of this machine or on a cluster, kept as they finish.

A block's content depends on the jobs' order alone, and a lap on its own job alone, so that the table of figures is the same bit for
bit whatever number of workers drove it and in whatever order.  A block is driven in lock step, see `sim.lap.lockstep.batch`.
"""

import hashlib
import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sim.car.chassis import WHEELS, Car
from sim.course.centreline import Course, course_bytes
from sim.errors import InputError
from sim.kernels.compiled import source_digest
from sim.lap.drive import Ended, Lap, drive_lap
from sim.lap.ledger import ledger_of
from sim.lap.lockstep.batch import drive_batch
from sim.lap.state import Extreme
from sim.pace.driver import Pace, PacePlan, plan_pace
from sim.scenario.scenario import Scenario
from sim.scenario.tables import HOUR
from sim.steering.table import SteerTable, sampled
from sim.store.rows import keep_rows, kept_rows, open_store
from sim.study.race import laps_on_charge, race_result
from sim.study.ready import car_of, pace_of, race_of
from sim.study.workers import Workers, blocks_done

BLOCK = 128  # jobs; large enough to hide what handing out a block costs, small enough for a lively progress bar
FEWEST_IN_STEP = 8  # laps; fewer are sooner driven one by one than in a group of `sim.lap.lockstep.lanes.LANES`, to the same figures
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


def drive_jobs(
    course: Course, jobs: Sequence[Job], workers: Workers, progress: Callable[[int, int], None] = lambda done, of: None,
    store: Path | None = None,
) -> np.ndarray:  # fmt: skip
    """Drive every job round a course.

    course : Course; jobs : to drive; workers : Workers
    progress : called after each block with the jobs done and the jobs in all
    store : folder in which finished blocks are kept and from which they are taken up again; None keeps nothing
    Returns (n, len(COLUMNS)) [SI, or the unit in the column's name]; a job that could not be built or did not finish has 0 in
    "finished" and NaN in the others.  Raises InputError for a cluster that does not answer and for a store that can't be written;
    KeyboardInterrupt leaves the finished blocks in the store.
    """
    open_store(store)
    figures = np.full((len(jobs), len(COLUMNS)), np.nan)
    starts = range(0, len(jobs), BLOCK)
    waiting, done = [], 0
    for start in starts:
        block = jobs[start : start + BLOCK]
        kept = None if store is None else kept_rows(store / _name(course, block))
        if kept is None or kept.shape != (len(block), len(COLUMNS)):
            waiting.append(start)
        else:
            figures[start : start + len(block)] = kept
            done += len(block)
    progress(done, len(jobs))
    calls = [(course, jobs[start : start + BLOCK], start) for start in waiting]
    with closing(blocks_done(workers, drive_block, calls)) as finished:
        for start, rows in finished:
            figures[start : start + len(rows)] = rows
            if store is not None:
                keep_rows(store / _name(course, jobs[start : start + BLOCK]), rows, "finished laps")
            done += len(rows)
            progress(done, len(jobs))
    return figures


def drive_block(course: Course, jobs: Sequence[Job], start: int = 0) -> tuple[int, np.ndarray]:
    """Drive one block.  course : Course; jobs : its jobs; start : the first one's place among all [-].

    Returns (start, rows) with rows (n, len(COLUMNS)), see `drive_jobs`.  Raises ValueError for jobs of different numbers of laps.
    """
    rows = np.full((len(jobs), len(COLUMNS)), np.nan)
    rows[:, COLUMNS.index("finished")] = 0.0
    plans: dict[tuple[Car, Pace], PacePlan] = {}
    places, cars, tables, ways = [], [], [], []
    for place, job in enumerate(jobs):
        table = _table_of(job)
        if table is None:
            continue
        car, pace = car_of(job.scenario), pace_of(job.scenario, job.target)
        if (car, pace) not in plans:  # as set-ups of one car have
            plans[car, pace] = plan_pace(course, car, pace)
        places.append(place)
        cars.append(car)
        tables.append(table)
        ways.append((course, plans[car, pace]))
    if places:
        (laps,) = {job.scenario.pace.laps for job in jobs}
        for place, car, lap in zip(places, cars, _laps(cars, tables, ways, laps), strict=True):
            if lap.ended == Ended.FINISHED:
                rows[place] = _figures(course, jobs[place], car, lap)
    return start, rows


def _laps(cars: list[Car], tables: list[SteerTable], ways: list[tuple[Course, PacePlan]], laps: int) -> Iterator[Lap]:
    """The laps of a block, in its order."""
    if len(cars) < FEWEST_IN_STEP:
        for car, table, (course, plan) in zip(cars, tables, ways, strict=True):
            yield drive_lap(car, table, course, plan, laps=laps)
        return
    driven = drive_batch(cars, tables, ways, laps)
    for index in range(len(cars)):
        yield driven.lap(index)


def _table_of(job: Job) -> SteerTable | None:
    """The steering of a job; None where it can't be built, which is a result of a study, not a slip of its user."""
    try:
        return sampled(job.scenario.setup[job.setup], job.scenario.car, "job", "setup").table
    except InputError:
        return None


def _figures(course: Course, job: Job, car: Car, lap: Lap) -> list[float]:
    """The row of a job that finished."""
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
        distance, lap.extremes[Extreme.LEAST_LOAD], lap.extremes[Extreme.FARTHEST], ledger.residual, *ledger.rub,
        *lap.extremes[Extreme.PEAK_SLIP : Extreme.PEAK_SLIP + 4],
    ]  # fmt: skip


def _name(course: Course, block: Sequence[Job]) -> str:
    """Name of a block's file: what it holds, so that a changed study or program never takes up another one's figures."""
    digest = hashlib.sha256(source_digest().encode() + course_bytes(course))
    for job in block:
        digest.update(json.dumps([job.scenario.model_dump(mode="json"), job.setup, job.target], sort_keys=True).encode())
    return f"block-{digest.hexdigest()[:24]}.npy"
