"""What the other law of the tyre would make of what a geometry costs: the form of the tyre is part of the doubt.

Nobody has measured the form of these tyres' law.  Between the linear one, which holds its stiffness up to the grip, and the brush, which
gives way from the start, lies most of what bicycle-size tyres do; the difference is told beside the cost.
"""

from collections.abc import Sequence

import numpy as np

from sim.car.chassis import Car, with_law
from sim.car.tyre import BRUSH, LINEAR
from sim.course.centreline import Course
from sim.pace.driver import PacePlan
from sim.steering.table import SteerTable
from sim.turn.stations import station_sum, stations_of
from sim.turn.steady import BALANCED

# A sum of steady turns and a lap in time that differ by a greater factor do not tell of the same thing.
ALIKE = 2.0


def other_law(car: Car) -> Car:
    """The same car on tyres of the other law.  car : Car."""
    return with_law(car, BRUSH if car.front_tyre.brush is LINEAR else LINEAR)


def steady_costs(car: Car, course: Course, plan: PacePlan, tables: Sequence[SteerTable], ideal: SteerTable) -> np.ndarray:
    """What each set-up's geometry costs in drive work, as sums of steady turns with both laws of the tyre.

    car, course, plan : what is driven, where and how fast; the plan is kept
    tables : of the set-ups; ideal : of the steering that the cost is reckoned from
    Returns (2, n) costs of one lap [J], the car's own law first; NaN where a lap has a turn without equilibrium.
    Source: `sim.turn.stations`.
    """
    stations = stations_of(course, car, plan)
    cars = car, other_law(car)
    work = np.array([[station_sum(one, table, stations, BALANCED).drive_work for table in (ideal, *tables)] for one in cars])
    return work[:, 1:] - work[:, :1]


def other_cost(driven: float, own: float, other: float) -> float:
    """What the other law makes of a cost that was driven.

    driven : the cost by a lap in time with the car's own law [J]; own, other : costs of `steady_costs` by either law [J]
    Returns the cost [J]; NaN where one of them is.  Source: the sums err alike with both laws, by a share of the cost where there is one
    to speak of; so the driven cost is scaled by them, and moved by their difference where they have no proportion to it.  Held against laps
    in time with the brush by a test.
    """
    if own > 0 and 1 / ALIKE < driven / own < ALIKE:
        return driven * other / own
    return driven + other - own
