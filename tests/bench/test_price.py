"""What a built front end costs on the course: the same as `run` says of a set-up that is drawn so."""

from pathlib import Path

import numpy as np
import pytest

from sim.bench.as_built import ERRORS, ROD_LEFT, ROD_RIGHT, make_plan
from sim.bench.price import course_price
from sim.scenario.file import find_scenario, load_scenario
from sim.scenario.scenario import Scenario
from sim.study.compare import compare
from sim.study.effort import WorthIt

SETUP = "drop arm and two rods"


@pytest.fixture(scope="module")
def quay():
    path = find_scenario("quay-loop")
    scenario = load_scenario(path, "quay-loop")
    setup = next(one for one in scenario.setup if one.name == SETUP)
    return scenario, path.parent, make_plan(setup, scenario.car, "quay-loop", setup.place)


def rods(plan, left, right):
    errors = np.zeros(len(plan.spreads))
    errors[[ROD_LEFT, ROD_RIGHT]] = left, right
    return errors


def price(quay, *states, turned=True):
    scenario, folder, plan = quay
    return course_price(scenario, folder, "quay-loop", plan, states, turned)


@pytest.mark.compiled
def test_it_is_what_run_says_of_a_car_that_is_drawn_so(quay):
    """Two ways: a sum of steady turns here, laps in time there; the sum is stated to err by little more than 1 %."""
    scenario, folder, plan = quay
    setup = next(one for one in scenario.setup if one.name == SETUP)
    turned = setup.model_copy(update={"rod_turns_left": 1.0, "rod_turns_right": 1.5})
    driven = compare(Scenario.model_construct(**(dict(scenario) | {"setup": (turned,)})), folder, "quay-loop").results[0]
    ours = price(quay, rods(plan, 1.0, 1.5), rods(plan, 0.0, 0.0))
    assert ours.to_plan.saves_J == pytest.approx(driven.toe_cost, rel=0.03, abs=0)
    assert ours.to_plan.saves_J != driven.toe_cost
    assert ours.cure.saves_J == ours.to_plan.saves_J  # the turns take it to the plan
    assert ours.cure.verdict is WorthIt.PAYS
    assert ours.to_plan.saves_Wh is None  # the scenario has no battery


@pytest.mark.compiled
def test_of_a_car_with_a_battery_it_has_watt_hours_and_laps():
    """As a sum of steady turns it errs by little more than 1 % of what all laps take; the laps driven in time say how many that is."""
    path = find_scenario("race-day")
    scenario = load_scenario(path, "race-day")
    scenario = scenario.model_copy(update={"pace": scenario.pace.model_copy(update={"target_m_per_s": 5.0})})
    setup = next(one for one in scenario.setup if one.linkage == "cross rod").model_copy(update={"toe_in_deg": 0.0})
    plan = make_plan(setup, scenario.car, "race-day", setup.place)
    states = rods(plan, 1.5, 0.0), rods(plan, 0.0, 0.0)
    saved = course_price(scenario, path.parent, "race-day", plan, states, True).to_plan
    setups = setup, setup.model_copy(update={"rod_turns_left": 1.5})
    good, bad = compare(Scenario.model_construct(**(dict(scenario) | {"setup": setups})), path.parent, "race-day").results
    for told, planned, built in (
        (saved.saves_Wh, -good.ledger.electric.battery / 3600, -bad.ledger.electric.battery / 3600),
        (saved.more_charge_laps, good.laps_per_charge, bad.laps_per_charge), (saved.more_race_laps, good.race.laps, bad.race.laps),
    ):  # fmt: skip
        assert told == pytest.approx(planned - built, rel=0.05, abs=0.005 * abs(planned))


def test_what_is_hardly_off_is_not_worth_a_turn(quay):
    plan = quay[2]
    assert price(quay, rods(plan, 0.25, 0.25), rods(plan, 0.0, 0.0)).cure.verdict is WorthIt.UNTOLD
    assert price(quay, rods(plan, 0.0, 0.0), rods(plan, 0.0, 0.0), turned=False).cure is None


def test_a_course_that_is_not_there_takes_no_advice_away(quay):
    scenario, _, plan = quay
    found = course_price(scenario, Path("nowhere"), "quay-loop", plan, (rods(plan, 1, 1), rods(plan, 0, 0)), True)
    assert found.to_plan is found.cure is None
    assert "no such file" in found.missing


@pytest.mark.slow
def test_any_built_car_has_a_price_or_a_cause(quay, trial):
    """60 cars, rods off by up to some 15 turns and a drawing off by millimetres: the price is a figure, or there is a reason."""
    plan = quay[2]
    random = np.random.default_rng(20261129)
    missing = 0
    for _ in range(60):
        errors = trial.drawn_car(plan, random, rods=random.normal(size=2) * 6, drawing_mm=3.0)
        better = errors.copy()
        better[[ROD_LEFT, ROD_RIGHT]] = 0.0
        assert len(errors) > ERRORS
        found = course_price(quay[0], quay[1], "quay-loop", plan, (errors, better), True)
        missing += found.missing is not None
        if found.missing is None:
            assert np.isfinite([found.to_plan.saves_J, found.cure.saves_J, found.cure.more_in_100_laps]).all()
    assert missing < 20
