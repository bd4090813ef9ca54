"""A scenario made ready to drive: its course, car, pace, race and set-ups in SI units."""

from dataclasses import dataclass
from math import inf, radians
from pathlib import Path

import numpy as np

from sim.car.chassis import Car, kinematic_steer
from sim.course.centreline import Course
from sim.course.reading import read_course
from sim.course.segments import Arc, Clothoid, Straight, course_from_segments
from sim.errors import InputError
from sim.pace.driver import Pace
from sim.scenario.course import ClothoidTable, StraightTable
from sim.scenario.scenario import Scenario
from sim.scenario.setup import SetupTable
from sim.steering.arrangement import Steering
from sim.steering.table import SteerTable, sampled
from sim.study.race import Race


@dataclass(frozen=True)
class Entry:
    """A set-up made ready to drive."""

    name: str
    steering: Steering
    table: SteerTable


def course_of(scenario: Scenario, folder: Path, source: str) -> Course:
    """The scenario's course.  folder : where a relative course file is looked for; source : the scenario's name in messages.

    Raises InputError for a course that cannot be read or driven.
    """
    table = scenario.course
    if table.file is not None:
        return read_course(
            folder / table.file, closed=table.closed, scale=table.scale, line_tolerance=table.line_tolerance_m,
            height_tolerance=table.height_tolerance_m, name=Path(table.file).stem,
        )  # fmt: skip
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
    """The car of a scenario in SI units, in the air of its course, with its motor and battery."""
    motor, battery = scenario.parts()
    return scenario.car.car(scenario.course.air_density_kg_per_m3)._replace(motor=motor, battery=battery)


def pace_of(scenario: Scenario, target: float) -> Pace:
    """The pace of a scenario in SI units.  target : speed on the straights, also where the scenario seeks it [m/s]."""
    pace, course = scenario.pace, scenario.course
    towards = np.radians(course.wind_towards_deg)
    return Pace(
        target=target, lateral_limit=pace.lateral_limit_m_per_s2, braking_limit=pace.braking_limit_m_per_s2, power=pace.drive_power_W,
        start=pace.start_m_per_s, policy=pace.policy, current=pace.current_A,
        wind=(course.wind_m_per_s * np.cos(towards), course.wind_m_per_s * np.sin(towards)),
    )  # fmt: skip


def race_of(scenario: Scenario) -> Race | None:
    """The race of a scenario in SI units, or None."""
    race = scenario.race
    if race is None:
        return None
    return Race(inf if race.duration_min is None else 60 * race.duration_min, inf if race.laps is None else race.laps)


def entries_of(scenario: Scenario, source: str) -> list[Entry]:
    """Each set-up's steering, in the scenario's order.

    scenario : Scenario; source : its name in messages.  Raises InputError for a set-up that cannot be built.
    """
    return [make_entry(setup, scenario, source, setup.place) for setup in scenario.setup]


def make_entry(setup: SetupTable, scenario: Scenario, source: str, place: str) -> Entry:
    """One set-up's steering, sampled.

    setup : SetupTable; scenario : whose car it steers; source, place : the file's name and the set-up's place in messages
    Raises InputError for one that cannot be built.
    """
    made = sampled(setup, scenario.car, source, place)
    return Entry(setup.name, made.steering, made.table)


def steer_needed(course: Course, car: Car) -> tuple[float, float, float]:
    """Largest equivalent steer that a course asks for to the left and to the right [rad], and where it is greatest [m].

    course : Course; car : Car
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
    """Raise InputError where no set-up's lock can follow the course's tightest bend.

    course : Course; car : Car; entries : the set-ups; source : the scenario's name in messages
    """
    left, right, station = steer_needed(course, car)
    if not any(left <= entry.table.lock_left and right >= entry.table.lock_right for entry in entries):
        raise InputError(
            source, "course",
            f"no set-up's lock can follow the bend of {course.smallest_radius:.2f} m radius at {station:.0f} m",
            "widen the bend, raise course.scale or course.line_tolerance_m, or give a set-up more lock",
        )  # fmt: skip
