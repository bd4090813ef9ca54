"""Many laps at once: a batch of cars, each with its own set-up, course and plan, driven in lock step on threads.

What comes out for a car is what `sim.lap.drive.drive_lap` gives, bit for bit, whatever it shares the batch with.  Only ledgers and extremes
are kept, no traces, so that memory does not grow with the laps.
"""

from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, ThreadPoolExecutor, wait
from dataclasses import dataclass
from itertools import islice

import numpy as np

from sim.car.chassis import Car
from sim.car.tyre import BRUSH, LINEAR
from sim.course.centreline import Course
from sim.lap.drive import MOST_HALVINGS, Ended, Lap, distance_of, finer, judged, longest_lap, start_state, time_step
from sim.lap.lockstep.integrate import Results, integrate_lanes
from sim.lap.lockstep.lanes import COUNTS, FIGURES, LANES, Figure
from sim.lap.state import EXTREMES, STATES
from sim.lap.weave import planned_steers, planned_travel
from sim.pace.driver import Driver, PacePlan, driver_of
from sim.pace.road import Road, course_cells, road_of
from sim.steering.cells import SteerCells, steer_cells_of
from sim.steering.table import SteerTable

TYRE_FIGURES = Figure.REAR_TYRE - Figure.FRONT_TYRE  # a tyre's fields but its law, by which cars are parted
BLOCK = 256  # cars; their tables are in memory together, 0.1 MB each


@dataclass(frozen=True)
class BatchResult:
    """What each car of a batch did; the meaning of each array is that of the field of `sim.lap.drive.Lap` with its name."""

    ended: np.ndarray  # (n,) `sim.lap.drive.Ended`
    time: np.ndarray  # (n,) [s]
    distance: np.ndarray  # (n,) [m]
    start: np.ndarray  # (n, STATES) [SI]
    end: np.ndarray  # (n, STATES) [SI]
    extremes: np.ndarray  # (n, EXTREMES) [SI]
    step: np.ndarray  # (n,) [s]

    def lap(self, index: int) -> Lap:
        """One car's lap without its trace, for `sim.lap.ledger.ledger_of` and whoever reads a Lap.  index : of the car [-]."""
        return Lap(
            Ended(self.ended[index]), float(self.time[index]), float(self.distance[index]), self.start[index], self.end[index],
            np.empty((0, STATES)), self.extremes[index], float(self.step[index]),
        )  # fmt: skip


def drive_batch(
    cars: Sequence[Car], tables: Sequence[SteerTable], ways: Sequence[tuple[Course, PacePlan]], laps: int = 1, threads: int = 1,
    progress: Callable[[int, int], None] = lambda done, of: None,
) -> BatchResult:  # fmt: skip
    """Drive many set-ups round their courses.

    cars, tables : of each car; a sequence may make its items when asked, and is asked once for each, block by block
    ways : course and plan of each car, or one pair for all [m], [m/s]
    laps : timed laps; on a closed course a run-in lap comes before them
    threads : that drive at the same time; the result does not depend on them
    progress : called after each block with the cars done and the cars in all; what it raises ends the batch
    Returns a BatchResult in the order of the cars.  Raises ValueError for sequences that do not go together.
    """
    count = len(cars)
    if len(tables) != count or len(ways) not in (1, count):
        raise ValueError("as many steer tables as cars, and as many courses with plans or one for all")
    result = BatchResult(
        np.zeros(count, np.int64), np.zeros(count), np.zeros(count), np.zeros((count, STATES)), np.zeros((count, STATES)),
        np.zeros((count, EXTREMES)), np.zeros(count),
    )  # fmt: skip
    # Every thread gets blocks, and a block fills its lanes.
    size = min(BLOCK, LANES * max(-(-count // (LANES * threads)), 1))
    splines: dict[int, tuple[Course, np.ndarray]] = {}

    def drive(first: int) -> int:
        last = min(first + size, count)
        pairs = [ways[i if len(ways) > 1 else 0] for i in range(first, last)]
        _drive_block(first, [cars[i] for i in range(first, last)], [tables[i] for i in range(first, last)], pairs, laps, splines, result)
        return last - first

    starts = iter(range(0, count, size))
    done = 0
    with ThreadPoolExecutor(threads) as pool:
        # No more blocks are handed out than threads drive, so that an interruption is heeded at the next one's end.
        running = {pool.submit(drive, first) for first in islice(starts, threads)}
        while running:
            finished, running = wait(running, return_when=FIRST_COMPLETED)
            for one in finished:
                done += one.result()
                progress(done, count)
                running |= {pool.submit(drive, first) for first in islice(starts, 1)}
    return result


def _drive_block(first: int, cars: list[Car], tables: list[SteerTable], pairs: list[tuple[Course, PacePlan]], laps: int,
                 splines: dict[int, tuple[Course, np.ndarray]], result: BatchResult) -> None:  # fmt: skip
    """Drive the cars from `first` on and write what they did; courses met before are in `splines`, by their identity."""
    figures, counts, begin = np.empty((len(cars), FIGURES)), np.empty((len(cars), COUNTS), np.int64), np.empty((len(cars), STATES))
    roads: dict[tuple[int, int], tuple[Road, int]] = {}
    steerings: dict[int, tuple[SteerCells, int]] = {}
    # What set-ups that share a car and its plan have in common, worked out once: step, longest time, driver, planned steers.
    habits: dict[tuple[int, int], tuple[float, float, Driver, np.ndarray]] = {}
    road_rows = steer_rows = 0
    for i, (car, table, (course, plan)) in enumerate(zip(cars, tables, pairs, strict=True)):
        if id(course) not in splines:
            splines[id(course)] = course, course_cells(course)
        if (id(course), id(plan)) not in roads:
            roads[id(course), id(plan)] = road_of(course, plan, splines[id(course)][1]), road_rows
            road_rows += len(course.station) - 1
        if id(table) not in steerings:
            steerings[id(table)] = steer_cells_of(table), steer_rows
            steer_rows += len(table.cells)
        (road, road_row), (steer_cells, steer_row) = roads[id(course), id(plan)], steerings[id(table)]
        if (id(car), id(plan)) not in habits:
            driver = driver_of(car)
            habits[id(car), id(plan)] = time_step(car, plan), longest_lap(plan), driver, planned_steers(car, course, plan, driver)
        step, longest, driver, _ = habits[id(car), id(plan)]
        figures[i] = [
            *car[: Figure.FRONT_TYRE], *car.front_tyre[:TYRE_FIGURES], *car.rear_tyre[:TYRE_FIGURES], *car.motor, *car.battery, road.power,
            road.wind_x, road.wind_y, steer_cells.least, steer_cells.most, steer_cells.first, steer_cells.density, road.length,
            road.density, step, longest, *driver[Figure.DRIVER - FIGURES :],
        ]  # fmt: skip
        rounds = laps + (1 if course.closed else 0)
        counts[i] = steer_row, steer_cells.size, road_row, road.size, course.closed, rounds
        begin[i] = start_state(car, road, steer_cells)
    steers_held = np.concatenate([steer_cells.cells for steer_cells, _ in steerings.values()])
    roads_held = np.concatenate([road.cells for road, _ in roads.values()])
    for brush in (LINEAR, BRUSH):
        some = np.flatnonzero([car.front_tyre.brush is brush for car in cars])
        for _ in range(1 + MOST_HALVINGS):
            if len(some) == 0:
                break
            count = len(some)
            found = Results(
                np.zeros(count, np.int64), np.zeros(count), np.zeros(count, np.int64), np.zeros((count, STATES)),
                np.zeros((count, STATES)), np.zeros((count, EXTREMES)),
            )  # fmt: skip
            integrate_lanes(figures[some], counts[some], begin[some], steers_held, roads_held, Driver(), found, brush)
            at = first + some
            result.ended[at], result.time[at], result.extremes[at] = found.ended, found.time, found.extremes
            result.start[at], result.end[at], result.step[at] = found.start, found.end, figures[some, Figure.STEP]
            for one, place in enumerate(some):
                ended, rounds = Ended(found.ended[one]), int(found.rounds[one])
                result.distance[first + place] = distance_of(pairs[place][0], ended, rounds, found.end[one])
            again = [
                finer(found.ended[one], figures[place, Figure.STEP], cars[place], found.start[one], found.end[one])
                for one, place in enumerate(some)
            ]
            some = some[again]
            figures[some, Figure.STEP] *= 0.5
    for index, (car, table, (course, plan)) in enumerate(zip(cars, tables, pairs, strict=True), start=first):
        travel = planned_travel(habits[id(car), id(plan)][3], table)
        result.ended[index] = judged(result.lap(index), car, travel, course.length)
