"""What a built front end costs on the scenario's course, and what the advised turns save there."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import nan, radians
from pathlib import Path

import numpy as np

from sim.bench.as_built import Built
from sim.errors import InputError
from sim.linkages.parts import UnbuildableError
from sim.pace.driver import plan_pace
from sim.scenario.scenario import Scenario
from sim.steering.arrangement import HAND_LIMIT
from sim.steering.table import SteerTable, steer_table
from sim.study.compare import target_of
from sim.study.effort import RODS, Cure, Effort, Saving, Used, cure_of, saving_of
from sim.study.race import laps_on_charge, race_result
from sim.study.ready import car_of, course_of, pace_of, race_of, steer_needed
from sim.turn.stations import station_sum, stations_of

# The tables reach this far beyond what the course asks for, which tyres that slip steer more for.  [-], [rad]
BEYOND, BEYOND_STEP = 1.25, radians(2.0)
TURNING = Effort("make these turns", RODS.minutes, RODS.parts)


@dataclass(frozen=True)
class CoursePrice:
    """What is off costs on the course, by its steady turns.

    closed : whether the course is driven in laps; missing : why there are no figures, None where there are
    to_plan : what the car as planned would save
    cure : what the advised turns save, None where nothing is to be turned
    """

    closed: bool
    missing: str | None
    to_plan: Saving | None
    cure: Cure | None


def course_price(
    scenario: Scenario, folder: Path, source: str, plan: Built, states: Sequence[np.ndarray], turned: bool,
) -> CoursePrice:  # fmt: skip
    """Price a built front end.

    scenario : Scenario; folder : where a relative course file is looked for; source : the scenario's name in messages
    plan : Built; states : errors (p,) of the car as fitted and with the turns made [turns, rad or m]; turned : whether there are any
    Returns the CoursePrice [units in the names of its fields].  Source: sums of steady turns, `sim.turn.stations`.
    """
    closed = scenario.course.closed
    try:
        course = course_of(scenario, folder, source)
        target = target_of(scenario, course, source)
    except InputError as fault:  # the readings stand all the same
        return CoursePrice(closed, f"{fault.problem}; {fault.remedy}", None, None)
    car, race = car_of(scenario), race_of(scenario)
    stations = stations_of(course, car, plan_pace(course, car, pace_of(scenario, target)))
    left, right, _ = steer_needed(course, car)

    def used(errors: np.ndarray) -> Used | None:
        table = _table(plan, errors, BEYOND * right - BEYOND_STEP, BEYOND * left + BEYOND_STEP)
        total = station_sum(car, table, stations) if table is not None else None
        if total is None or not total.feasible:
            return None
        charge = total.used_charge
        laps, raced = nan, nan
        if car.motor.torque_constant > 0:
            laps = laps_on_charge(charge, car.battery)
            raced = race_result(race, course.length, total.time, charge, car.battery).laps if race else nan
        return Used(total.drive_work, total.rolling, total.battery, laps, raced)

    planned, now, after = map(used, (np.zeros(len(plan.spreads)), *states))
    if planned is None or now is None or after is None:
        return CoursePrice(closed, "the car as built does not get round this course at this pace", None, None)
    return CoursePrice(closed, None, saving_of(now, planned), cure_of(TURNING, now, after) if turned else None)


def _table(plan: Built, errors: np.ndarray, least: float, most: float) -> SteerTable | None:
    """The table of a car with errors between two equivalent steers [rad]; None where a rod does not reach so far."""
    planned = plan.steering
    try:
        steering = replace(
            plan.built(errors), lock_left=planned.lock_left, lock_right=planned.lock_right, lock_left_cause=HAND_LIMIT,
            lock_right_cause=HAND_LIMIT,
        )  # fmt: skip
        table = steer_table(steering, plan.car.wheelbase, least, most)
    except (UnbuildableError, ValueError):
        return None
    return table if np.isfinite(table.cells).all() else None
