"""Many cars side by side for a few steps: each is the one car alone, bit for bit, also where a lane takes another car."""

import numpy as np
import pytest

from sim.car.battery import Battery
from sim.car.chassis import SOLID_AXLE, with_law
from sim.car.motor import Motor
from sim.car.tyre import BRUSH, LINEAR
from sim.lap.drive import Ended, drive_lap
from sim.lap.lockstep.batch import drive_batch
from sim.lap.lockstep.lanes import LANES
from sim.pace.driver import Pace, plan_pace

MOTOR = Motor(
    winding_resistance=0.1, torque_constant=0.1, no_load_current=2.0, current_limit=60.0, gear=6.0 / 0.203, efficiency=0.95,
    regenerates=True,
)  # fmt: skip
BATTERY = Battery(open_voltage=24.0, internal_resistance=0.01, capacity=9.0 * 3600, rated_time=20 * 3600.0, exponent=1.12, usable_share=0.9)


@pytest.mark.parametrize(("law", "laps"), [(LINEAR, 2), (BRUSH, 1)], ids=["linear", "brush"])
def test_a_few_steps_side_by_side_are_those_of_each_car_alone(vehicle, course_by, law, laps):
    car, table = vehicle("standard", linkage="cross rod", arm_length_mm=110.0, arm_angle_deg=13.9, toe_in_deg=0.7)
    car = with_law(car, law)
    straight = course_by(0.4, lambda s: 0.02 + 0.01 * s, lambda s: 0.05 * s * s, closed=False)
    steep = course_by(0.5, lambda s: 0 * s, lambda s: 5.0 * s, closed=False)
    brief = course_by(0.3, lambda s: 0.03 + 0 * s, closed=False)

    def way(course, one, **changes):
        pace = {"target": 12.0, "lateral_limit": 60.0, "braking_limit": 1.5, "power": 600.0} | changes
        return course, plan_pace(course, one, Pace(**pace))

    electric = car._replace(motor=MOTOR, battery=BATTERY)
    stiff = car.front_tyre._replace(relaxation_length=0.05)
    kinds = [
        (car, way(brief, car)),  # is soon there, and its lane takes the car that waits
        (car._replace(drive=SOLID_AXLE), way(straight, car)),
        (car, way(straight, car, wind=(3.0, -2.0))),
        (electric, way(brief, electric, target=9.0, start=7.0)),  # the motor can hardly more
        (car._replace(front_tyre=stiff), way(brief, car, target=9.0)),  # a shorter step
    ]
    if laps == 1:
        kinds.append((car, way(steep, car, start=0.0)))  # rolls back at once
    usual = car, way(straight, car)
    # Of each kind two, at both ends of the lanes, and more cars than lanes
    drawn = kinds + [usual] * (LANES + 3 - 2 * len(kinds)) + kinds
    together = drive_batch([one for one, _ in drawn], [table] * len(drawn), [road for _, road in drawn], laps=laps)
    for place, (one, road) in [*enumerate([*kinds, usual]), *((len(drawn) - 1 - k, kinds[-1 - k]) for k in range(len(kinds)))]:
        lap, other = drive_lap(one, table, *road, laps=laps), together.lap(place)
        assert (other.ended, other.time, other.distance, other.step) == (lap.ended, lap.time, lap.distance, lap.step)
        for name in ("start", "end", "extremes"):
            np.testing.assert_array_equal(getattr(other, name), getattr(lap, name))
    assert len({*together.step}) > 1
    assert (Ended.STALLED in together.ended) == (laps == 1)
