"""Many cars side by side are each the one car alone, bit for bit, whatever they share the batch with."""

import numpy as np
import pytest

from sim.car.battery import Battery
from sim.car.chassis import DRIVES, with_law
from sim.car.motor import Motor
from sim.car.tyre import BRUSH, LINEAR
from sim.lap.drive import Ended, drive_lap
from sim.lap.ledger import ledger_of
from sim.lap.lockstep.batch import BLOCK, drive_batch
from sim.lap.lockstep.integrate import lane_counts, lane_floats
from sim.lap.lockstep.lanes import LANES
from sim.pace.driver import Pace, plan_pace

MOTOR = Motor(
    winding_resistance=0.1, torque_constant=0.1, no_load_current=2.0, current_limit=60.0, gear=6.0 / 0.203, efficiency=0.95,
    regenerates=False,
)  # fmt: skip
BATTERY = Battery(open_voltage=24.0, internal_resistance=0.01, capacity=9.0 * 3600, rated_time=20 * 3600.0, exponent=1.12, usable_share=0.9)

KINKED = {"linkage": "cross rod", "arm_length_mm": 110.0, "arm_angle_deg": 13.9}
SETUPS = [
    {"linkage": "ideal"}, {"linkage": "parallel"}, {"toe_in_deg": 0.7, **KINKED},
    {"kingpin_inclination_deg": 9.0, "caster_deg": 7.0, **KINKED}, {"pivot": "turntable"},
]  # fmt: skip


def plan_of(course, car, **changes):
    pace = {"target": 6.0, "lateral_limit": 3.0, "braking_limit": 1.5, "power": 600.0} | changes
    return plan_pace(course, car, Pace(**pace))


def assert_same(result, index, lap):
    """One car of a batch is the lap driven alone: no tolerance at all."""
    other = result.lap(index)
    assert (other.ended, other.time, other.distance, other.step) == (lap.ended, lap.time, lap.distance, lap.step)
    np.testing.assert_array_equal(other.start, lap.start)
    np.testing.assert_array_equal(other.end, lap.end)
    np.testing.assert_array_equal(other.extremes, lap.extremes)


@pytest.fixture(scope="module")
def loop(course_by):
    """A closed course of 60 m with a hill; bends of 12 m radius and tighter."""
    return course_by(60.0, lambda s: 0.08 + 0.06 * np.sin(2 * np.pi * s / 60.0), lambda s: 0.4 * np.sin(2 * np.pi * s / 60.0))


@pytest.fixture(scope="module")
def everything(vehicle, bend, loop):
    """(cars, tables, ways) of every kind: drives, set-ups, wet and dry, brakes, hills, wind, motors, high cars that lift and tip; each
    with both laws of the tyre, side by side."""
    cars, tables, ways = [], [], []

    def add(course, car, table, **changes):
        way = course, plan_of(course, car, **changes)
        for law in (LINEAR, BRUSH):
            cars.append(with_law(car, law))
            tables.append(table)
            ways.append(way)

    course = bend(straight=8.0)
    for drive in DRIVES:
        for keys in SETUPS:
            add(course, *vehicle("standard", car={"drive": drive}, **keys))
        car, table = vehicle("standard", car={"drive": drive}, tyre={"friction": 0.3, "load_sensitivity": 0.15}, linkage="parallel")
        add(course, car, table, lateral_limit=2.6)  # slides
        add(loop, car, table, braking_limit=2.4, target=9.0, lateral_limit=1.5)  # brakes hard downhill
        car, table = vehicle("standard", car={"drive": drive}, tyre={"camber_stiffness_per_rad": 0.8}, linkage="ideal")
        add(loop, car, table, wind=(3.0, -2.0))
        add(course, car._replace(height=0.9), table, target=7.0, lateral_limit=4.2)  # lifts a wheel
        add(course, car._replace(height=1.3), table, target=8.0, lateral_limit=6.0)  # tips over
        add(course, car, table, target=9.0, lateral_limit=12.0)  # slides off
        add(course, car, table, start=0.0)
        car = car._replace(motor=MOTOR, battery=BATTERY)
        add(loop, car, table, power=1e9)
        add(loop, car._replace(motor=MOTOR._replace(regenerates=True)), table, power=1e9, target=8.0, lateral_limit=1.5)
        for regenerates in (False, True):
            geared = MOTOR._replace(regenerates=regenerates, freewheel=False)
            add(loop, car._replace(motor=geared), table, power=1e9, target=8.0, lateral_limit=1.5, policy="lift")
    return cars, tables, ways


@pytest.fixture(scope="module")
def alone(compiler, everything):
    return [drive_lap(car, table, *way) for car, table, way in zip(*everything, strict=True)]


@pytest.fixture(scope="module")
def together(compiler, everything):
    return drive_batch(*everything)


def test_every_car_is_the_car_alone(alone, together):
    for index, lap in enumerate(alone):
        assert_same(together, index, lap)


def test_the_cars_were_of_every_kind(alone, everything):
    ended = [lap.ended for lap in alone]
    assert {Ended.FINISHED, Ended.TIPPED, Ended.OFF_COURSE} <= set(ended)
    assert any(lap.extremes[0] == 0.0 and lap.ended == Ended.FINISHED for lap in alone)  # lifted a wheel and went on
    ledgers = [ledger_of(car, lap) for car, lap in zip(everything[0], alone, strict=True)]
    assert any(one.brakes > 10.0 for one in ledgers)
    assert any(one.electric and one.electric.regenerated > 1.0 for one in ledgers)
    assert any(one.electric and one.electric.used_charge > one.electric.charge for one in ledgers)


@pytest.mark.compiled
def test_neither_order_nor_threads_nor_company_matter(everything, together):
    order = np.random.default_rng(5).permutation(len(together.ended))
    shuffled = [[part[i] for i in order] for part in everything]
    other = drive_batch(*shuffled, threads=2)
    for name in ("ended", "time", "distance", "start", "end", "extremes", "step"):
        np.testing.assert_array_equal(getattr(other, name), getattr(together, name)[order], err_msg=name)
    few = drive_batch(*[part[:3] for part in everything])
    np.testing.assert_array_equal(few.end, together.end[:3])


@pytest.mark.compiled
def test_several_laps_and_one_way_for_all(vehicle, loop):
    pairs = [vehicle("standard", linkage=linkage) for linkage in ("ideal", "parallel")] * (LANES // 2 + 1)
    cars, tables = [car for car, _ in pairs], [table for _, table in pairs]
    plan = plan_of(loop, cars[0])
    result = drive_batch(cars, tables, [(loop, plan)], laps=3)
    for index in range(2):
        assert_same(result, index, drive_lap(cars[index], tables[index], loop, plan, laps=3))
        np.testing.assert_array_equal(result.end[index::2], np.tile(result.end[index], (LANES // 2 + 1, 1)))
    assert result.distance[0] == 3 * loop.length


def test_the_ledger_of_a_batch_is_that_of_the_lap(everything, alone, together):
    for index in (0, 3):
        ledger, other = (ledger_of(everything[0][index], lap) for lap in (alone[index], together.lap(index)))
        assert (other.drive_work, other.scrub, other.residual) == (ledger.drive_work, ledger.scrub, ledger.residual)
        assert abs(other.residual) <= 1e-6


@pytest.mark.compiled
def test_progress_counts_up_and_can_stop_the_batch(vehicle, bend):
    car, table = vehicle("standard", linkage="ideal")
    course = bend(straight=2.0)
    way = [(course, plan_of(course, car))]
    seen = []
    count = 2 * BLOCK + 5

    def stop(done, of):
        seen.append((done, of))
        if done > BLOCK:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        drive_batch([car] * count, [table] * count, way, progress=stop)
    assert seen == [(BLOCK, count), (2 * BLOCK, count)]


def test_sequences_that_do_not_go_together_are_refused(vehicle, bend):
    car, table = vehicle("standard", linkage="ideal")
    course = bend(straight=2.0)
    way = (course, plan_of(course, car))
    with pytest.raises(ValueError, match="as many steer tables"):
        drive_batch([car, car], [table], [way])
    with pytest.raises(ValueError, match="as many courses"):
        drive_batch([car] * 3, [table] * 3, [way, way])


def test_an_empty_batch_is_empty():
    assert drive_batch([], [], []).end.shape == (0, 40)


@pytest.mark.parametrize("made", [lane_floats, lane_counts])
def test_arrays_of_lanes_begin_with_a_cache_line(made):
    kept = [made(count) for count in (1, 2, 7, 40)]  # kept, so that each lies elsewhere
    assert [len(one) for one in kept] == [LANES, 2 * LANES, 7 * LANES, 40 * LANES]
    assert all(one.ctypes.data % 64 == 0 and not one.any() for one in kept)
