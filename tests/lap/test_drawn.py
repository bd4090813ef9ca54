"""Cars and set-ups drawn over the whole range of every key: a lap ends with a name and finite numbers, or the set-up is refused."""

from math import exp, log

import numpy as np
import pytest

from sim.car.chassis import DRIVES
from sim.car.tyre import LAWS
from sim.course.segments import Arc, Straight, course_from_segments
from sim.errors import InputError
from sim.lap.drive import Ended, drive_lap
from sim.lap.ledger import ledger_of
from sim.pace.driver import Pace, plan_pace
from sim.scenario.car import CarTable, TyreTable
from sim.scenario.setup import SetupTable
from sim.steering.arrangement import build_steering
from sim.steering.table import steer_table

DRAWS = 500
MOST_OPEN = 1e-5  # share of the drive work: between 1e-6, above which a lap is driven again, and 1e-4, above which it has no figures


def numbers(random, table, share=1.0):
    """Each numeric key of a table over its bounds, evenly in its logarithm where it cannot be 0; of optional ones a share."""
    made = {}
    for key, field in table.model_fields.items():
        low = [mark.ge for mark in field.metadata if hasattr(mark, "ge")]
        high = [mark.le for mark in field.metadata if hasattr(mark, "le")]
        if low and high and (field.is_required() or random.random() < share):
            made[key] = exp(random.uniform(log(low[0]), log(high[0]))) if low[0] > 0 else random.uniform(low[0], high[0])
    return made


def drawn(random):
    """A car, a set-up, a course and a pace of the scenario's bounds."""
    keys = numbers(random, CarTable) | {"drive": random.choice(DRIVES)}
    keys["mass_centre_behind_front_axle_mm"] = random.uniform(0.02, 0.98) * keys["wheelbase_mm"]
    keys["kingpin_track_mm"] = random.uniform(0, 1) * keys["front_track_mm"]
    car = CarTable.model_validate(keys | {"tyre": numbers(random, TyreTable) | {"law": random.choice(LAWS)}})
    name = random.choice(["ideal", "parallel", "fraction", "cross rod", "turntable"])
    setup = {"name": "drawn", "caster_deg": random.uniform(-30, 30), "toe_in_deg": random.uniform(-10, 10)}
    if name == "turntable":
        setup |= {"pivot": "turntable"}
    else:
        setup |= {"pivot": "stub axles", "linkage": str(name), "kingpin_inclination_deg": random.uniform(-30, 30)}
    if name == "fraction":
        setup |= {"fraction": random.uniform(-2, 2)}
    if name == "cross rod":
        setup |= {"arm_length_mm": random.uniform(10, 600), "arm_angle_deg": random.uniform(-180, 180)}
    course = course_from_segments(
        [Straight(4.0), Arc(exp(random.uniform(log(2.0), log(60.0))), random.choice([-1, 1]) * random.uniform(0.3, 1.5)), Straight(2.0)],
        closed=False, name="drawn",
    )  # fmt: skip
    limits = exp(random.uniform(log(0.3), log(20.0))), random.uniform(0.5, 12.0), random.uniform(0.3, 8.0), random.uniform(20.0, 5000.0)
    return car, SetupTable.model_validate(setup), course, Pace(*limits, random.choice([None, 0.0]))


@pytest.mark.target("T19", what="Drawn cars drive: finite numbers, a reason where a lap ends early", asked="500 draws")
@pytest.mark.slow
def test_a_drawn_car_drives_or_ends_with_a_reason():
    random = np.random.default_rng(19)
    ended = dict.fromkeys(Ended, 0)
    for draw in range(DRAWS):
        table, setup, course, pace = drawn(random)
        car = table.car(1.225)
        try:
            steering = build_steering(setup, table, "drawn.toml", "setup[0]")
            steer = steer_table(steering, car.wheelbase)
        except InputError:
            continue
        lap = drive_lap(car, steer, course, plan_pace(course, car, pace))
        ended[lap.ended] += 1
        assert np.isfinite([lap.time, *lap.end, *lap.extremes]).all(), draw
        assert np.isfinite(lap.rows).all(), draw
        if lap.ended == Ended.FINISHED:
            assert abs(ledger_of(car, lap).residual) <= MOST_OPEN, draw
    assert ended[Ended.FINISHED] > 100, ended  # so that it is about more than refusals
