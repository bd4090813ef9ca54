"""Whether a driven lap weaves: hands that go to and fro more than the course asks of them.

A lap is to measure the steering.  Where the closed loop of car and driver swings, for whatever reason (a car that is about to spin, a
tyre far from what the driver can make up for, a slide that he fights), tyres slip because of the swing, and the lap says so instead of
giving figures.
"""

import numpy as np

from sim.car.chassis import Car
from sim.course.centreline import Course
from sim.kernels.compiled import kernel
from sim.pace.driver import Driver, PacePlan, steer_demand, understeer_factor
from sim.steering.table import SteerTable

# Laps of 500 drawn cars on the shipped courses that keep to their line make 0.9 to 1.2 times the planned way, and at most 0.003 rad for
# each metre more.  A swing of a tenth of a degree at a walk (3 Hz, 1 m/s) makes 0.02 rad a metre.
WEAVING_SHARE = 1.5  # of the planned way ...
WEAVING_PER_METRE = 0.004  # ... and this besides [rad/m], above which a lap weaves


@kernel
def steers_on_line(car, driver, curvature, speed, steers):
    """Steer that a driver who is never off the line asks for at each station.

    car : Car; driver : Driver; curvature : (n,) of the line [1/m]; speed : (n,) planned [m/s]
    steers : (n,) written, equivalent single-track steer [rad]
    Source: `sim.pace.driver.steer_demand` without error.
    """
    for i in range(len(curvature)):
        factor = understeer_factor(driver, speed[i] * speed[i])
        steers[i] = steer_demand(curvature[i], 0.0, 0.0, 1.0, factor, car.wheelbase, car.wheelbase - car.front_arm)


def planned_steers(car: Car, course: Course, plan: PacePlan, driver: Driver) -> np.ndarray:
    """Steer at each station, of a driver who is never off the line and has no lock: the same for all set-ups of a car.

    car : Car; course : Course; plan : PacePlan on its stations; driver : Driver
    Returns (n,) equivalent single-track steers [rad].  Source: as for `steers_on_line`.
    """
    steers = np.empty(len(course.station))
    steers_on_line(car, driver, course.curvature, plan.speed, steers)
    return steers


def planned_travel(steers: np.ndarray, table: SteerTable) -> float:
    """Way that the hands have to make on a course, there and back.

    steers : (n,) of `planned_steers` [rad]; table : SteerTable, whose locks hold the hands
    Returns the way as equivalent single-track steer [rad].  Source: total variation of the driver's own feed-forward.
    """
    return float(held_way(steers, table.lock_right, table.lock_left))


@kernel
def held_way(steers, least, most):
    """Total variation of steers that the locks hold.

    steers : (n,) [rad]; least, most : ends of the lock [rad]
    Returns the way [rad].  Source: as for `planned_travel`.
    """
    way, before = 0.0, min(max(steers[0], least), most)
    for i in range(1, len(steers)):
        here = min(max(steers[i], least), most)
        way += abs(here - before)
        before = here
    return way


def weaves(travel: float, planned: float, length: float) -> bool:
    """Whether a lap's hands went to and fro so much that it weaves.

    travel : way of the hands in the lap [rad]; planned : of `planned_travel` [rad]; length : of the course [m]
    Source: a judgement, grounded above.
    """
    return travel > WEAVING_SHARE * planned + WEAVING_PER_METRE * length
