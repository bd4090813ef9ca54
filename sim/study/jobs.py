"""Many laps: jobs in blocks of fixed membership, on threads of this machine or on a cluster, kept as they finish.

A block's content depends on the jobs' order alone, and a lap on its own job alone, so that the table of figures is the same bit for
bit whatever number of workers drove it and in whatever order.  A block is driven in lock step, see `sim.lap.lockstep.batch`.
"""

import hashlib
import json
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple, Protocol

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
from sim.scenario.car import CarTable
from sim.scenario.scenario import Scenario
from sim.scenario.setup import SetupTable
from sim.scenario.tables import HOUR
from sim.steering.table import SteerTable, sampled
from sim.store.rows import keep_rows, kept_rows, open_store
from sim.study.race import Race, laps_on_charge, race_result
from sim.study.ready import car_of, pace_of, race_of
from sim.study.workers import Workers, blocks_done

BLOCK = 128  # jobs; large enough to hide what handing out a block costs, small enough for a lively progress bar
FEWEST_IN_STEP = 8  # laps; fewer are sooner driven one by one than in a group of `sim.lap.lockstep.lanes.LANES`, to the same figures
COLUMNS = (
    "finished", "lap_time_s", "drive_work_J", "scrub_J", "rolling_J", "air_J", "brakes_J", "aligning_J", "battery_Wh", "laps_per_charge",
    "race_laps", "race_distance_m", "min_load_N", "error_max_m", "ledger_residual",
    *(f"rub_{wheel}_m" for wheel in WHEELS), *(f"peak_slip_{wheel}_rad" for wheel in WHEELS),
)  # fmt: skip


class Ready(NamedTuple):
    """One lap to drive, in SI units.  table : the steering, None where it can't be built; laps : of the course that are timed."""

    car: Car
    table: SteerTable | None
    pace: Pace
    race: Race | None
    laps: int


class Block(Protocol):
    """Laps that are driven together, always the same ones; made ready by whoever drives them."""

    def __len__(self) -> int:
        """How many laps."""

    def ready(self) -> Sequence[Ready]:
        """The laps."""

    def told(self) -> bytes:
        """All that the laps hang on beside their course and this program, for the block's name."""


@dataclass(frozen=True)
class Job:
    """One lap to drive: a set-up of a scenario at a target speed."""

    scenario: Scenario
    setup: int
    target: float  # [m/s]


class Jobs(tuple[Job, ...]):
    """A block of jobs."""

    __slots__ = ()

    def ready(self) -> list[Ready]:
        """The laps."""
        return [
            Ready(car_of(job.scenario), steering_of(job.scenario.setup[job.setup], job.scenario.car), pace_of(job.scenario, job.target),
                  race_of(job.scenario), job.scenario.pace.laps)
            for job in self
        ]  # fmt: skip

    def told(self) -> bytes:
        """What the laps hang on."""
        return "".join(
            json.dumps([job.scenario.model_dump(mode="json"), job.setup, job.target], sort_keys=True) for job in self
        ).encode()  # fmt: skip


def drive_jobs(
    course: Course, jobs: Sequence[Job], workers: Workers, progress: Callable[[int, int], None] = lambda done, of: None,
    store: Path | None = None,
) -> np.ndarray:  # fmt: skip
    """Drive every job round a course.

    course : Course; jobs : to drive; workers, progress, store : as for `drive_blocks`
    Returns (n, len(COLUMNS)) [SI, or the unit in the column's name]; a job that could not be built or did not finish has 0 in
    "finished" and NaN in the others.  Raises what `drive_blocks` does.
    """
    figures = np.full((len(jobs), len(COLUMNS)), np.nan)
    blocks = [Jobs(jobs[start : start + BLOCK]) for start in range(0, len(jobs), BLOCK)]
    with closing(drive_blocks(course, blocks, len(jobs), workers, progress, store)) as done:
        for place, rows in done:
            figures[place * BLOCK : place * BLOCK + len(rows)] = rows
    return figures


def drive_blocks(
    course: Course, blocks: Sequence[Block], laps: int, workers: Workers, progress: Callable[[int, int], None] = lambda done, of: None,
    store: Path | None = None,
) -> Generator[tuple[int, np.ndarray], None, None]:  # fmt: skip
    """Drive blocks of laps round a course; to be closed where not all are taken.

    course : Course; blocks : to drive, each asked for when its turn comes; laps : in all of them [-]; workers : Workers
    progress : called after each block with the laps done and the laps in all
    store : folder in which finished blocks are kept and from which they are taken up again; None keeps nothing
    Returns a generator of each block's place and its rows (n, len(COLUMNS)), in any order, see `drive_jobs`.
    Raises InputError for a cluster that does not answer and for a store that can't be written; KeyboardInterrupt leaves the finished
    blocks in the store.
    """
    open_store(store)
    waiting, done = list(range(len(blocks))), 0
    names: dict[int, str] = {}
    if store is not None:
        common = source_digest().encode() + course_bytes(course)
        waiting = []
        for place, block in enumerate(blocks):
            names[place] = f"block-{hashlib.sha256(common + block.told()).hexdigest()[:24]}.npy"
            kept = kept_rows(store / names[place])
            if kept is None or kept.shape != (len(block), len(COLUMNS)):
                waiting.append(place)
                continue
            done += len(block)
            yield place, kept
    progress(done, laps)
    with closing(blocks_done(workers, drive_block, _Calls(course, blocks, waiting))) as finished:
        for place, rows in finished:
            if store is not None:
                keep_rows(store / names[place], rows, "finished laps")
            yield place, rows
            done += len(rows)
            progress(done, laps)


@dataclass(frozen=True)
class _Calls(Sequence[tuple[Course, Block, int]]):
    """The arguments of `drive_block` for each block that is waiting, made when a worker is free for it."""

    course: Course
    blocks: Sequence[Block]
    waiting: list[int]

    def __len__(self) -> int:
        return len(self.waiting)

    def __getitem__(self, index: Any) -> Any:
        place = self.waiting[index]
        return self.course, self.blocks[place], place


def drive_block(course: Course, block: Block, place: int = 0) -> tuple[int, np.ndarray]:
    """Drive one block.  course : Course; block : its laps; place : of the block among all [-].

    Returns (place, rows) with rows (n, len(COLUMNS)), see `drive_jobs`.  Raises ValueError for jobs of different numbers of laps.
    """
    ready = block.ready()
    rows = np.full((len(ready), len(COLUMNS)), np.nan)
    rows[:, COLUMNS.index("finished")] = 0.0
    plans: dict[tuple[Car, Pace], PacePlan] = {}
    places, cars, tables, ways = [], [], [], []
    for index, (car, table, pace, _, _) in enumerate(ready):
        if table is None:
            continue
        if (car, pace) not in plans:  # as set-ups of one car have
            plans[car, pace] = plan_pace(course, car, pace)
        places.append(index)
        cars.append(car)
        tables.append(table)
        ways.append((course, plans[car, pace]))
    if places:
        (laps,) = {one.laps for one in ready}
        for index, car, lap in zip(places, cars, _laps(cars, tables, ways, laps), strict=True):
            if lap.ended == Ended.FINISHED:
                rows[index] = _figures(course, ready[index].race, car, lap)
    return place, rows


def _laps(cars: list[Car], tables: list[SteerTable], ways: list[tuple[Course, PacePlan]], laps: int) -> Iterator[Lap]:
    """The laps of a block, in its order."""
    if len(cars) < FEWEST_IN_STEP:
        for car, table, (course, plan) in zip(cars, tables, ways, strict=True):
            yield drive_lap(car, table, course, plan, laps=laps)
        return
    driven = drive_batch(cars, tables, ways, laps)
    for index in range(len(cars)):
        yield driven.lap(index)


def steering_of(setup: SetupTable, car: CarTable) -> SteerTable | None:
    """The steering of a lap; None where it can't be built, which is a result of a study, not a slip of its user.

    setup, car : what the user wrote, or a draw of it
    """
    try:
        return sampled(setup, car, "job", "setup").table
    except InputError:
        return None


def _figures(course: Course, race: Race | None, car: Car, lap: Lap) -> list[float]:
    """The row of a lap that finished."""
    ledger = ledger_of(car, lap)
    electric = ledger.electric
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
