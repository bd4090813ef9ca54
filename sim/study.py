"""Compare the set-ups of a scenario: build each, drive it, keep its ledger beside the ideal one's."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import degrees, inf, nan, radians
from pathlib import Path
from typing import Any

import numpy as np

from sim.chassis import WHEELS, Car, kinematic_steer, single_track
from sim.course import Arc, Clothoid, Course, Straight, course_from_segments, read_course
from sim.driver import PacePlan, plan_pace
from sim.energy import Ledger, ledger_of
from sim.errors import InputError
from sim.ladder import Rung, rolling_lap
from sim.lap import ERROR_SQUARED, FARTHEST, LEAST_LOAD, OFF_COURSE, PEAK_SLIP, STATION, Ended, Lap, drive_lap
from sim.scenario import ClothoidTable, Scenario, SetupTable, StraightTable
from sim.steering import Steering, SteerTable, build_steering, ideal_setup, steer_table
from sim.steering.table import merged_table
from sim.trace import Trace, trace_of, trace_of_rolling


NEARBY = 4.0  # [m] before and after the place where a lap ended: the bend that ended it


@dataclass(frozen=True)
class Entry:
    """A set-up made ready to drive."""

    name: str
    steering: Steering
    table: SteerTable


@dataclass(frozen=True)
class SetupResult:
    """What one set-up did."""

    name: str
    finished: bool
    reason: str  # why it did not finish, in plain words
    distance: float  # driven in all [m]
    time: float  # of the last timed lap, or until the end [s]
    ledger: Ledger | None  # None where it did not finish
    error_rms: float  # distance from the line [m]
    error_max: float
    least_load: float  # [N]; NaN where the model knows no loads
    peak_slips: np.ndarray  # (4,) lateral slip of greatest size, with its sign [rad]
    geometry_cost: float  # scrub less that of ideal steering [J]; NaN where either did not finish
    trace: Trace


@dataclass(frozen=True)
class Comparison:
    """All set-ups of a scenario on its course, and the reference."""

    scenario: Scenario
    rung: Rung
    car: Car
    course: Course
    plan: PacePlan
    results: tuple[SetupResult, ...]
    reference: SetupResult


def course_of(scenario: Scenario, folder: Path, source: str) -> Course:
    """The scenario's course.  folder : where a relative course file is looked for; source : the scenario's name in messages.

    Raises InputError for a course that cannot be read or driven.
    """
    table = scenario.course
    if table.file is not None:
        return read_course(
            folder / table.file, closed=table.closed, scale=table.scale, line_tolerance=table.line_tolerance_m, name=Path(table.file).stem
        )
    pieces: list[Straight | Arc | Clothoid] = []
    for part in table.segments or ():
        if isinstance(part, StraightTable):
            pieces.append(Straight(part.straight_m))
        elif isinstance(part, ClothoidTable):
            pieces.append(Clothoid(part.clothoid_m, 1 / part.to_radius_m if part.to_radius_m else 0.0))
        else:
            pieces.append(Arc(part.radius_m, radians(part.turn_deg)))
    return course_from_segments(pieces, closed=table.closed, name=scenario.title, source=source)


def car_of(scenario: Scenario) -> Car:
    """The scenario's car in SI units, in the air of its course."""
    return scenario.car.car(scenario.course.air_density_kg_per_m3)


def plan_of(scenario: Scenario, course: Course, car: Car) -> PacePlan:
    """The scenario's pace plan, the same for every set-up."""
    pace = scenario.pace
    return plan_pace(
        course, car, target=pace.target_m_per_s, lateral_limit=pace.lateral_limit_m_per_s2,
        braking_limit=pace.braking_limit_m_per_s2, power=pace.drive_power_W, start=pace.start_m_per_s,
    )  # fmt: skip


def entries_of(scenario: Scenario, source: str) -> list[Entry]:
    """Each set-up's steering, in the scenario's order.  Raises InputError for a set-up that cannot be built."""
    return [make_entry(setup, scenario, source, f"setup[{index}]") for index, setup in enumerate(scenario.setup)]


def make_entry(setup: SetupTable, scenario: Scenario, source: str, place: str) -> Entry:
    """One set-up's steering, sampled.  Raises InputError for one that cannot be built."""
    steering = build_steering(setup, scenario.car, source, place)
    return Entry(setup.name, steering, steer_table(steering, scenario.car.wheelbase_mm * 1e-3))


def steer_needed(course: Course, car: Car) -> tuple[float, float, float]:
    """Largest equivalent steer that a course asks for to the left and to the right [rad], and where it is greatest [m].

    Infinite where a bend is tighter than the mass centre's distance from the rear axle.
    """
    needed = []
    for index in (int(np.argmax(course.curvature)), int(np.argmin(course.curvature))):
        try:
            needed.append(kinematic_steer(float(course.curvature[index]), car)[0])
        except ValueError:
            needed.append(inf if course.curvature[index] > 0 else -inf)
    tightest = float(course.station[int(np.argmax(np.abs(course.curvature)))])
    return max(needed[0], 0.0), min(needed[1], 0.0), tightest


def check_lock(course: Course, car: Car, entries: list[Entry], source: str) -> None:
    """Raise InputError where no set-up's lock can follow the course's tightest bend."""
    left, right, station = steer_needed(course, car)
    if not any(left <= entry.table.lock_left and right >= entry.table.lock_right for entry in entries):
        raise InputError(
            source, "course",
            f"no set-up's lock can follow the bend of {course.smallest_radius:.2f} m radius at {station:.0f} m",
            "widen the bend, raise course.scale or course.line_tolerance_m, or give a set-up more lock",
        )  # fmt: skip


def compare(
    scenario: Scenario, folder: Path, source: str, rung: Rung = Rung.SLIPPING_FOUR_WHEELS,
    progress: Callable[[int, int, str], None] = lambda done, of, name: None,
) -> Comparison:  # fmt: skip
    """Lap every set-up of a scenario.

    scenario : Scenario; folder : where a relative course file is looked for; source : the scenario's name in messages
    rung : of the ladder of models
    progress : called before each lap with the laps done, the laps in all and the set-up's name
    Returns a Comparison.  Raises InputError for what cannot be built or driven at all.
    """
    car = car_of(scenario)
    entries = entries_of(scenario, source)
    course = course_of(scenario, folder, source)
    check_lock(course, car, entries, source)
    plan = plan_of(scenario, course, car)
    ideal = make_entry(ideal_setup(), scenario, source, "reference")
    results = []
    for index, entry in enumerate([ideal, *entries]):
        progress(index, len(entries) + 1, entry.name)
        results.append(_drive(entry, car, course, plan, rung, scenario.pace.laps))
    reference, *rest = results
    best = reference.ledger.scrub if reference.ledger else nan
    costed = tuple(replace(one, geometry_cost=one.ledger.scrub - best if one.ledger else nan) for one in rest)
    return Comparison(scenario, rung, car, course, plan, costed, reference)


def _drive(entry: Entry, car: Car, course: Course, plan: PacePlan, rung: Rung, laps: int) -> SetupResult:
    if rung in (Rung.ROLLING_BICYCLE, Rung.ROLLING_FOUR_WHEELS):
        return _roll(entry, car, course, plan, rung)
    table = entry.table
    if rung == Rung.SLIPPING_BICYCLE:
        car, table = single_track(car), merged_table(table)
    lap = drive_lap(car, table, course, plan, laps=laps)
    finished = lap.ended == Ended.FINISHED
    length = course.length if finished else max(float(lap.end[STATION]), 1e-9)
    return SetupResult(
        name=entry.name, finished=finished, reason="" if finished else _why(lap, car, table, course),
        distance=lap.distance, time=lap.time, ledger=ledger_of(car, lap) if finished else None,
        error_rms=float(np.sqrt(lap.end[ERROR_SQUARED] / length)), error_max=float(lap.extremes[FARTHEST]),
        least_load=float(lap.extremes[LEAST_LOAD]), peak_slips=lap.extremes[PEAK_SLIP : PEAK_SLIP + 4].copy(), geometry_cost=nan,
        trace=trace_of(car, table, course, plan, lap),
    )  # fmt: skip


def _roll(entry: Entry, car: Car, course: Course, plan: PacePlan, rung: Rung) -> SetupResult:
    table = entry.table if rung == Rung.ROLLING_FOUR_WHEELS else None
    lap = rolling_lap(car, table, course, plan)
    peak = lap.slips[np.argmax(np.abs(lap.slips), axis=0), np.arange(4)]
    return SetupResult(
        name=entry.name, finished=True, reason="", distance=course.length, time=lap.time, ledger=lap.ledger, error_rms=0.0,
        error_max=0.0, least_load=nan, peak_slips=peak, geometry_cost=nan,
        trace=trace_of_rolling(car, table, course, plan, lap),
    )  # fmt: skip


def _why(lap: Lap, car: Car, table: SteerTable, course: Course) -> str:
    """Why a lap ended early, in plain words."""
    station = float(lap.end[STATION])
    where = f"after {lap.time:.1f} s, {station % course.length if course.closed else station:.0f} m into the lap"
    if lap.ended == Ended.TIPPED:
        return f"tips over {where}"
    if lap.ended == Ended.STALLED:
        return f"comes to a halt {where}: not enough power"
    if lap.ended == Ended.NOT_FINITE:
        return f"the simulation broke down {where}: a wheel stopped rolling ahead"
    lock_left, lock_right = degrees(table.lock_left), degrees(table.lock_right)
    left, right = (degrees(steer) for steer in _steer_needed_near(course, car, station))
    lock = lock_left if left > lock_left else -lock_right if right < lock_right else None
    if lock is not None:
        return f"runs {OFF_COURSE:g} m off the line {where}: at full lock ({lock:.0f} deg) it does not turn enough"
    return f"slides {OFF_COURSE:g} m off the line {where}: not enough grip for this pace"


def _steer_needed_near(course: Course, car: Car, station: float) -> tuple[float, float]:
    """Largest steer to the left and to the right that the course asks for within a car's length or two [rad]."""
    gap = np.abs(course.station - (station % course.length if course.closed else station))
    if course.closed:
        gap = np.minimum(gap, course.length - gap)
    near = replace(course, curvature=course.curvature[gap < NEARBY], station=course.station[gap < NEARBY])
    return steer_needed(near, car)[:2]


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def summary(comparison: Comparison) -> dict[str, Any]:
    """The comparison as plain numbers for JSON, SI or with the unit in the key; None where there is no figure."""
    course = comparison.course
    return {
        "title": comparison.scenario.title,
        "model": comparison.rung.label,
        "course": {
            "name": course.name, "length_m": course.length, "closed": course.closed,
            "smallest_radius_m": _number(course.smallest_radius), "smallest_radius_at_m": _number(course.smallest_radius_station),
            "smoothing_residual_m": course.smoothing_residual, "notes": list(course.notes),
        },
        "reference": _result_summary(comparison.reference),
        "setups": [_result_summary(result) for result in comparison.results],
    }  # fmt: skip


def _result_summary(result: SetupResult) -> dict[str, Any]:
    ledger = result.ledger

    def wheels(values) -> dict[str, float]:
        return {wheel: float(value) for wheel, value in zip(WHEELS, values, strict=True)}

    losses = None
    if ledger is not None:
        losses = {
            "air": ledger.air, "rolling": ledger.rolling, "brakes": ledger.brakes, "height": ledger.height,
            "lateral": wheels(ledger.lateral), "longitudinal": wheels(ledger.longitudinal), "aligning": ledger.aligning,
        }  # fmt: skip
    return {
        "name": result.name,
        "finished": result.finished,
        "reason": result.reason or None,
        "distance_m": result.distance,
        "lap_time_s": result.time if result.finished else None,
        "drive_work_J": ledger.drive_work if ledger else None,
        "hand_work_J": ledger.hand_work if ledger else None,
        "battery_Wh": None,
        "losses_J": losses,
        "kinetic_J": ledger.kinetic if ledger else None,
        "tyre_deflection_J": ledger.deflection if ledger else None,
        "scrub_J": ledger.scrub if ledger else None,
        "geometry_cost_J": _number(result.geometry_cost),
        "rub_m": wheels(ledger.rub) if ledger else None,
        "ledger_residual": ledger.residual if ledger else None,
        "path_error_rms_m": result.error_rms if result.finished else None,
        "path_error_max_m": result.error_max,
        "min_load_N": _number(result.least_load),
        "peak_slip_deg": wheels(np.degrees(np.arctan(result.peak_slips))),
        "laps_per_charge": None,
    }
