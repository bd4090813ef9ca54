"""Drawn front ends and drawn readings, good, bad and extreme: an answer in finite numbers, or a refusal with its cause."""

import json
from dataclasses import astuple
from math import isfinite

import numpy as np
import pytest

from sim.bench.advice import advise
from sim.bench.as_built import make_plan
from sim.bench.dangers import danger_errors
from sim.bench.design import PLANS, Questions, design_plan, items_of, next_item, options_of
from sim.bench.doubts import doubts_about
from sim.bench.fit import fit_readings
from sim.bench.readings import check_against_plan
from sim.errors import InputError
from sim.scenario.setup import SetupTable


def drawn_setup(random):
    """A lawful set-up with rods, its numbers anywhere between hand-sized and odd."""
    ahead = random.random() < 0.3
    kink = random.uniform(-10, 35)
    keys = {
        "arm_length_mm": random.uniform(40, 220), "arm_angle_deg": min(180 - kink, 180.0) if ahead else kink,
        "toe_in_deg": random.uniform(-2, 2), "rod_turns_left": random.uniform(-3, 3), "thread_pitch_mm": random.choice([0.75, 1.25, 2.0]),
        "kingpin_inclination_deg": random.uniform(-15, 15) * (random.random() < 0.5), "caster_deg": random.uniform(-10, 15),
    }  # fmt: skip
    where = -keys["arm_length_mm"] * np.cos(np.radians(keys["arm_angle_deg"])) * random.uniform(0.6, 1.4)
    linkage = random.choice(["cross rod", "centre arm", "rack"])
    if linkage == "centre arm":
        keys |= {"drop_arm_length_mm": random.uniform(20, 150), "drop_arm_behind_front_axle_mm": -where,
                 "drop_arm_joint_spacing_mm": random.uniform(0, 80)}  # fmt: skip
    if linkage == "rack":
        keys |= {"rack_behind_front_axle_mm": -where, "rack_length_mm": random.uniform(80, 500),
                 "rack_mm_per_turn": random.uniform(20, 150)}  # fmt: skip
    return SetupTable(name="drawn", pivot="stub axles", linkage=str(linkage), **{key: float(value) for key, value in keys.items()})


def answered(seed, car, trial):
    """What comes of a drawn car: "no such set-up", "refused" or "answered"; anything else is a fault."""
    random = np.random.default_rng(seed)
    try:
        plan = make_plan(drawn_setup(random), car, "drawn.toml", "setup[0]")
    except InputError:
        return "no such set-up"
    size = random.choice([0.3, 1.0, 4.0])
    errors = size * np.minimum(plan.spreads, 2.0) * random.normal(size=len(plan.spreads))  # rods by two turns times the size
    try:
        items = items_of(plan)
        counts = random.integers(0, 3, size=len(items))
        if random.random() < 0.3:
            readings = trial.taken(plan, errors, random, design_plan(plan, str(random.choice(list(PLANS)))).taken)
        else:
            counts[random.integers(len(items))] += 1
            readings = trial.taken(plan, errors, random, list(zip(items, counts, strict=True)))
        if random.random() < 0.3:  # a slip of the pen
            row = random.integers(len(readings))
            readings.value[row] *= random.choice([-1.0, 10.0, 1.1])
        check_against_plan(readings, plan)
        doubts = doubts_about(readings, plan)
        fit = fit_readings(plan, readings)
        advice = advise(fit, car.car(1.225))
        more = next_item(Questions(plan, fit.errors, False, advice.slopes), fit.covariance, options_of(plan, fit.errors, []))
    except InputError as refusal:
        return "refused" if refusal.remedy and "\n" not in str(refusal) else "refused without a remedy"
    assert not any("nan" in said or "inf" in said for said in doubts), doubts
    numbers = [*fit.errors, *fit.sure, *advice.needed, advice.near, advice.toe_error, *advice.lengths, advice.now.drag, fit.widened]
    places = [size for size in astuple(danger_errors(fit)) if size is not None]
    numbers += places
    assert all(map(isfinite, numbers)), numbers
    assert np.all(fit.sure <= plan.spreads * (1 + 1e-9))
    assert np.all(np.linalg.eigvalsh(fit.covariance) > -1e-12)
    assert 0 <= advice.near <= 1 + 1e-9
    assert more is None or 0 <= more[1].named <= 1
    assert all(size >= 0 for size in places)
    assert all(0 <= part.probability <= 1 for part in advice.parts)
    json.dumps([float(one) for one in numbers], allow_nan=False)
    return "answered"


@pytest.mark.slow
@pytest.mark.parametrize("block", range(4))
def test_drawn_cars_get_finite_answers_or_a_cause(car, trial, block):
    said = [answered(1000 * block + seed, car, trial) for seed in range(60)]
    assert set(said) <= {"answered", "refused", "no such set-up"}
    assert said.count("answered") > 20


@pytest.mark.compiled
def test_rods_that_do_not_reach_are_refused(car, trial):
    """The fitted car's rod did not reach, so that turning it moved nothing: a division by zero."""
    assert answered(170, car, trial) == "refused"
