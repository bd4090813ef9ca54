"""Pieces of a study by hand: places, savings, laps on a charge, the race's end."""

from math import inf, nan

import pytest

from sim.car.battery import Battery
from sim.errors import InputError
from sim.scenario.file import find_scenario, load_scenario
from sim.study.corner import check_turn
from sim.study.effort import Used, saving_of
from sim.study.law_doubt import other_cost
from sim.study.places import shared_places
from sim.study.race import laps_on_charge
from sim.study.ready import race_of

BATTERY = Battery(open_voltage=24.0, internal_resistance=0.01, capacity=9.0 * 3600, rated_time=20 * 3600.0, exponent=1.12, usable_share=0.9)


def test_the_best_comes_first_and_who_is_not_told_apart_shares():
    scores, apart = {"a": 5.0, "b": 9.0, "c": 8.9, "d": 1.0}, dict.fromkeys("abcd", 0.2)
    assert shared_places(scores, True, apart) == {"d": 1, "a": 2, "c": 3, "b": 3}
    assert shared_places(scores, False, apart) == {"b": 1, "c": 1, "a": 3, "d": 4}


def test_a_saving_is_the_difference_of_two_laps():
    saved = saving_of(Used(1000.0, 400.0, 7200.0, 20.0, 15.0), Used(800.0, 400.0, 3600.0, 26.0, 18.5))
    assert (saved.saves_J, saved.saves_Wh, saved.more_charge_laps, saved.more_race_laps, saved.more_in_100_laps) == (200, 1, 6, 3.5, 25)


def test_laps_on_a_charge():
    # 9 Ah, nine tenths of it usable, half an ampere-hour a lap
    assert laps_on_charge(1800.0, BATTERY) == pytest.approx(16.2, rel=1e-12, abs=0)
    assert laps_on_charge(0.0, BATTERY) == inf


def test_a_race_lasts_its_minutes_or_its_laps():
    scenario = load_scenario(find_scenario("race-day"))
    race = race_of(scenario)
    minutes, laps = scenario.race.duration_min, scenario.race.laps
    assert (race.duration, race.laps) == (inf if minutes is None else 60 * minutes, inf if laps is None else laps)
    assert min(race.duration, race.laps) < inf
    assert race_of(load_scenario(find_scenario("first-bend"))) is None


@pytest.mark.parametrize(("driven", "own", "other", "told"), [
    (400.0, 500.0, 400.0, 320.0), (400.0, 100.0, 80.0, 380.0), (-3.0, 2.0, 1.0, -4.0), (0.0, 0.0, 0.0, 0.0), (-40.0, -50.0, -40.0, -30.0),
])  # fmt: skip
def test_another_law_scales_a_cost_or_moves_it(driven, own, other, told):
    assert other_cost(driven, own, other) == pytest.approx(told, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize(("radius", "speed", "refused"), [
    (0.5, 0.01, ""), (-10_000.0, 40.0, ""), (0.49, 1.0, "--radius"), (-10_001.0, 1.0, "--radius"), (nan, 1.0, "--radius"),
    (3.0, 0.009, "--speed"), (3.0, 40.5, "--speed"), (3.0, nan, "--speed"),
])  # fmt: skip
def test_turns_that_no_such_car_drives_are_refused(radius, speed, refused):
    if not refused:
        check_turn(radius, speed, "--radius", "--speed")
        return
    with pytest.raises(InputError, match=refused):
        check_turn(radius, speed, "--radius", "--speed")
