"""The one rule of cost beside effort, and what a comparison makes of it."""

from dataclasses import replace
from math import nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.judgements import SMALL_SHARE, TELL_APART
from sim.scenario.file import find_scenario, load_scenario
from sim.scenario.scenario import Scenario
from sim.study.compare import compare, used_by
from sim.study.cures import cures_of
from sim.study.effort import DAY, RODS, Effort, Used, WorthIt, cure_of, effort_between, verdict_of
from sim.study.summary import summary
from viz.shared.effort import cure_words, effort_words, two

PARTS = Effort('steer like "other"', DAY, ("two arms", "rods"))
SHARE = st.floats(0, 1)


def used(work, rolling=0.0, battery=nan, charge=nan, race=nan):
    return Used(work, rolling, battery, charge, race)


@given(SHARE, SHARE, st.floats(1, 1e6))
def test_what_is_not_told_apart_is_never_worth_it_and_a_spanner_always_where_it_is(saved, rolling, work):
    before = used(work, rolling * work)
    spanner, parts = (verdict_of(saved * work, before, one) for one in (RODS, PARTS))
    if saved < TELL_APART * (1 - 1e-9):
        assert spanner is parts is WorthIt.UNTOLD
    elif saved > TELL_APART * (1 + 1e-9):
        assert spanner is WorthIt.PAYS
        assert parts is (WorthIt.PAYS if saved * work >= SMALL_SHARE * rolling * work else WorthIt.SMALL)


def test_what_a_cure_saves():
    cure = cure_of(RODS, used(3600.0, 100, 7200.0, 50.0, 40.0), used(3000.0, 100, 6000.0, 60.0, 45.0))
    assert (cure.saves_J, cure.more_charge_laps, cure.more_race_laps, cure.more_in_100_laps) == (600.0, 10.0, 5.0, 20.0)
    assert cure.saves_Wh == pytest.approx(1200 / 3600, rel=1e-12, abs=0)
    assert cure_words(cure, True) == (
        "To re-set the rods takes about 10 minutes and no parts, and saves 0.33 Wh a lap (5.0 more laps of this race): worth the work."
    )
    bare = cure_of(PARTS, used(3600.0, 100), used(3590.0, 100))
    assert (bare.saves_Wh, bare.more_charge_laps, bare.more_race_laps, bare.verdict) == (None, None, None, WorthIt.UNTOLD)
    charged = cure_of(RODS, used(3600.0, 100, 7200.0, 50.0), used(3000.0, 100, 6000.0, 60.0))
    assert "(10 more runs on a charge)" in cure_words(charged, False)


@pytest.mark.parametrize(("value", "words"), [
    (0.0, "0"), (4e-5, "0"), (0.00213, "0.0021"), (0.0999, "0.10"), (1.26, "1.3"), (9.96, "10"), (128.4, "130"), (-0.034, "-0.034"),
])  # fmt: skip
def test_two_digits(value, words):
    assert two(value) == words


@pytest.fixture(scope="module")
def quay():
    path = find_scenario("quay-loop")
    return load_scenario(path, "quay-loop"), path.parent


def changed(scenario, **keys):
    own = next(one for one in scenario.setup if one.linkage == "centre arm")
    return effort_between(own, own.model_copy(update=keys))


def test_what_has_to_be_made_follows_from_what_differs(quay):
    scenario, _ = quay
    setups = {one.name: one for one in scenario.setup}
    drop, cross, wagon = setups["drop arm and two rods"], setups["kinked arms, cross rod"], setups["turntable axle"]
    assert changed(scenario) is None
    assert changed(scenario, toe_in_deg=1.0, rod_turns_left=2.0) is None  # that is a spanner's
    assert changed(scenario, arm_angle_deg=20.0).parts == ("two arms", "rods")
    assert changed(scenario, drop_arm_length_mm=80.0).parts == ("other parts of the centre arm", "rods")
    assert changed(scenario, caster_deg=5.0).parts == ("the kingpins' seats", "rods")
    assert effort_between(drop, cross).minutes > effort_between(setups["parallel"], cross).minutes == DAY
    assert effort_between(drop, wagon).minutes > effort_between(drop, cross).minutes
    assert effort_between(wagon, drop).parts[0] == "two stub axles and their beam"
    assert effort_between(wagon, wagon) is None
    assert effort_between(setups["ideal"], setups["ideal, 1 degree of toe-in"]) is None
    assert effort_words(effort_between(drop, cross)) == "about 2 days, two arms, rods and what a cross rod needs"


@pytest.fixture(scope="module")
def comparison(compiler, quay):
    scenario, folder = quay
    names = ("parallel", "kinked arms, cross rod", "ideal, 1 degree of toe-in")
    kept = tuple(one for one in scenario.setup if one.name in names)
    return compare(Scenario.model_construct(**(dict(scenario) | {"setup": kept})), folder, "quay-loop")


def test_a_runs_cures_are_differences_of_its_laps(comparison):
    parallel, cross, toed = comparison.results
    (arms,), none, (rods,) = cures_of(comparison)
    assert none == ()
    assert (arms.doing, arms.saves_J) == ('steer like "kinked arms, cross rod"', used_by(parallel).drive_work - used_by(cross).drive_work)
    assert arms.verdict is WorthIt.UNTOLD
    assert (rods.doing, rods.saves_J, rods.verdict) == (RODS.doing, toed.toe_cost, WorthIt.PAYS)
    told = summary(comparison)
    assert [one.cures for one in told.setups] == [(arms,), (), (rods,)]
    assert told.reference.cures == ()
    # Where a lap has no figures there is nothing to compare.
    assert cures_of(replace(comparison, results=(replace(parallel, ledger=None), cross, toed)))[0] == ()


def test_a_run_tells_stops_and_dead_centres(comparison):
    """They were left out of run --json, though the words told them."""
    told = summary(comparison)
    parallel, cross, _ = told.setups
    assert (parallel.stop_left_deg, parallel.dead_centre_right_arm, told.reference.stop_left_deg) == (None, None, None)
    assert 55.9 <= cross.stop_left_deg < 56
    assert cross.stop_left_deg < cross.dead_centre_left_deg
    assert cross.dead_centre_right_deg < cross.stop_right_deg < 0
    assert {cross.dead_centre_left_arm, cross.dead_centre_right_arm} <= {"left", "right"}
