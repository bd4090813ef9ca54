"""The bench fit by simulation: 300 cars a row, errors as in the simulation that chose the plan, and drawings that are 1 to 2 mm off."""

from math import radians

import numpy as np
import pytest

from sim.bench.advice import blame, gradients, rods_needed, running_straight
from sim.bench.as_built import ROD_LEFT, ROD_RIGHT, parts_of
from sim.bench.design import design_plan
from sim.bench.fit import NORMAL_95, fit_readings
from sim.bench.kinds import KINDS, lath_error
from sim.bench.readings import usual_errors

CARS = 300
NEAR = radians(0.2)  # of total toe [rad]
DRAWINGS = pytest.mark.parametrize("drawing_mm", [0.0, 1.5], ids=["drawing true", "drawing 1 to 2 mm off"])


@pytest.fixture(scope="module")
def lines():
    """Slope of toe about a plan as drawn; about the cars it differs by percents."""
    known = {}

    def of(plan):
        if plan.setup.linkage not in known:
            known[plan.setup.linkage] = gradients(plan, np.zeros(len(plan.spreads)))[0]
        return known[plan.setup.linkage]

    return of


def examined(plan, toe_slopes, car, readings):
    """(error of total toe, its standard error, named parts with sign, error of the turns needed) of a car and what was read of it."""
    fit = fit_readings(plan, readings)
    toe = 2 * (running_straight(plan, fit.errors)[1] - running_straight(plan, car)[1])
    parts = [blame(part, place, plan.unknowns[place].kind, fit.errors[place], fit.sure[place]) for part, place in parts_of(plan).items()]
    named = {part.part: np.sign(part.off) for part in parts if part.told}
    return toe, 2 * np.sqrt(toe_slopes @ fit.covariance @ toe_slopes), named, rods_needed(plan, fit.errors) - rods_needed(plan, car)


@pytest.mark.target("T16", what="Bench fit: share of 300 made cars whose 95 % interval holds the true toe", asked="0.92 to 0.98")
@pytest.mark.slow
@DRAWINGS
def test_quick_plan_where_one_rod_is_a_turn_off(centre, trial, lines, drawing_mm, within_target):
    """Total toe within 0.2 degrees in 94 of 100, the rod named in 94 of 100 and wrongly in at most 2; no arm is blamed the wrong way.

    A car's drawing that is off moves what the rods need, and the readings show it."""
    plan = design_plan(centre, "quick")
    places, near, covered, named, wrong, arms, cured = parts_of(centre), 0, 0, 0, 0, 0, 0
    for seed in range(CARS):
        random = np.random.default_rng(seed)
        side, sign = (ROD_LEFT, ROD_RIGHT)[seed % 2], (1.0, -1.0)[seed // 2 % 2]
        rods = [0.0, 0.0]
        rods[side] = sign
        car = trial.drawn_car(centre, random, rods, drawing_mm)
        toe, sure, found, needs = examined(centre, lines(centre), car, trial.taken(centre, car, random, plan.taken))
        near += abs(toe) < NEAR
        covered += abs(toe) < NORMAL_95 * sure
        blamed = {name: way for name, way in found.items() if "rod" in name}
        right = blamed == {("left rod", "right rod")[side]: sign}
        named += right
        wrong += bool(blamed) and not right
        arms += any(way * car[places[name]] < 0 for name, way in found.items() if "arm" in name)
        cured += np.abs(needs).max() < 0.5
    assert near >= 0.94 * CARS
    assert named >= 0.94 * CARS
    assert wrong <= 0.02 * CARS
    assert arms <= 0.02 * CARS
    within_target(covered / CARS, at_least=0.92, of="least share")
    within_target(covered / CARS, at_most=0.98, of="largest share")
    assert cured >= 0.9 * CARS


@pytest.mark.slow
@DRAWINGS
def test_a_lath_along_each_rim_makes_toe_surer(centre, trial, lines, drawing_mm):
    """Quick plan, read at the ends of a lath of 800 mm that lies on each rim to 0.3 mm: toe within 0.2 degrees in 98 of 100."""
    plan, base = design_plan(centre, "quick"), 0.8
    error = usual_errors(base)
    over_rim = np.array([kind.over_rim for kind in KINDS])
    error[over_rim] = np.hypot(error[over_rim], lath_error(base, centre.car.wheel_radius))
    missed, near, covered = [], 0, 0
    for seed in range(CARS):
        random = np.random.default_rng(seed)
        rods = [0.0, 0.0]
        rods[seed % 2] = (1.0, -1.0)[seed // 2 % 2]
        car = trial.drawn_car(centre, random, rods, drawing_mm)
        toe, sure, _, _ = examined(centre, lines(centre), car, trial.taken(centre, car, random, plan.taken, error))
        missed.append(toe)
        near += abs(toe) < NEAR
        covered += abs(toe) < NORMAL_95 * sure
    assert near >= 0.98 * CARS
    assert 0.92 * CARS <= covered <= 0.98 * CARS
    assert np.std(missed) < radians(0.07)  # 0.09 at the rim itself


@pytest.mark.target("T16", what="Bench fit: share of 300 made cars whose 95 % interval holds the true toe", asked="0.92 to 0.98")
@pytest.mark.slow
@pytest.mark.parametrize(("drawing_mm", "dial"), [(0.0, False), (1.5, True)], ids=["drawing true, no dial", "drawing off, dial"])
def test_forty_pairs_alone_name_no_rod(centre, trial, lines, drawing_mm, dial, within_target):
    """They give toe within 0.2 degrees in some 4 of 10, say so, and blame nobody."""
    near, covered, blamed = 0, 0, 0
    for seed in range(CARS):
        random = np.random.default_rng(1000 + seed)
        rods = [0.0, 0.0]
        rods[seed % 2] = (1.0, -1.0)[seed // 2 % 2]
        car = trial.drawn_car(centre, random, rods, drawing_mm)
        toe, sure, found, _ = examined(centre, lines(centre), car, trial.pairs_read(centre, car, random, dial=dial))
        near += abs(toe) < NEAR
        covered += abs(toe) < NORMAL_95 * sure
        blamed += any("rod" in name for name in found)
    assert blamed == 0
    within_target(covered / CARS, at_least=0.92, of="least share")
    within_target(covered / CARS, at_most=0.98, of="largest share")
    assert 0.3 * CARS <= near <= 0.55 * CARS


@pytest.mark.target("T16", what="Bench fit: share of 300 made cars whose 95 % interval holds the true toe", asked="0.92 to 0.98")
@pytest.mark.slow
@pytest.mark.parametrize("drawing_mm", [1.5], ids=["drawing 1 to 2 mm off"])
def test_intervals_cover_where_everything_is_off(cross, trial, lines, drawing_mm, within_target):
    """A cross rod with its rod, arms, zeros and drawing off by chance, quick plan: toe, and the turns that the rod needs."""
    plan = design_plan(cross, "quick")
    near, covered, cured = 0, 0, 0
    for seed in range(CARS):
        random = np.random.default_rng(5000 + seed)
        car = trial.drawn_car(cross, random, None, drawing_mm)
        toe, sure, _, needs = examined(cross, lines(cross), car, trial.taken(cross, car, random, plan.taken))
        near += abs(toe) < NEAR
        covered += abs(toe) < NORMAL_95 * sure
        cured += np.abs(needs).max() < 0.5
    assert near >= 0.94 * CARS
    within_target(covered / CARS, at_least=0.92, of="least share")
    within_target(covered / CARS, at_most=0.98, of="largest share")
    assert cured >= 0.95 * CARS
