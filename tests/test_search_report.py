"""What `search` says: whether a gain is worth the work, and where sum and lap disagree; options and the piece of a scenario."""

import copy
import io
import json
import tomllib

import pytest
from rich.console import Console

from sim.errors import InputError
from sim.scenario import SetupTable
from sim.scenario_file import find_scenario, load_scenario
from sim.search import search
from viz.search import finding, parse_free, parse_limits, parse_objectives, search_report, search_result


@pytest.fixture(scope="module")
def result():
    path = find_scenario("car-park")
    return search_result(search(load_scenario(path), path.parent, "car-park", free={"arm_angle_deg": (5.0, 30.0)}))


def text_of(result):
    console = Console(width=110, record=True, no_color=True, file=io.StringIO())
    for one in search_report(result):
        console.print(one)
    return console.export_text()


def changed(result, **laps):
    """The answer with other drive work in the laps in time: own, best, and the gains."""
    other = copy.deepcopy(result)
    gains = laps.pop("gains")
    for who, work in laps.items():
        other[who]["lap"] |= {"drive_work_J": work, "finished": work is not None}
    for row, gain in zip(other["gains"], gains, strict=True):
        row["drive_work_J"] = gain
    return other


def test_the_answer_is_plain_numbers(result):
    assert json.loads(json.dumps(result, allow_nan=False)) == result


def test_a_gain_worth_the_work(result):
    assert "which is worth the work" in finding(result)
    text = text_of(result)
    assert "costs under 1 %" in text
    assert "arm_angle_deg" in text
    assert "the laps in time have the last word" in text


def test_a_small_gain_sends_nobody_to_the_workshop(result):
    small = changed(result, own=400.0, best=399.0, gains=(0.5, 1.0, 1.5))
    assert "which is small" in finding(small)
    assert "pump the tyres first" in finding(small)


def test_a_gain_that_may_be_none_is_none(result):
    none = changed(result, own=400.0, best=399.0, gains=(-0.5, 1.0, 1.5))
    assert "Leave the axle as it is" in finding(none)


def test_a_best_that_does_not_get_round_is_not_to_be_built(result):
    assert "do not build" in finding(changed(result, best=None, gains=(None, None, None)))


def test_an_own_set_up_that_does_not_get_round(result):
    text = finding(changed(result, own=None, gains=(None, None, None)))
    assert text.endswith("with the values below it does.")
    assert text_of(changed(result, own=None, gains=(None, None, None)))


def test_sum_and_lap_that_disagree_are_named(result):
    text = text_of(changed(result, own=400.0, best=401.0, gains=(-1, -1, -1)))
    assert "Warning: the sum of steady turns and the lap in time disagree" in text


def test_laps_on_a_charge_that_cannot_be_told_apart(result):
    other = copy.deepcopy(result)
    other["own"]["lap"]["laps_per_charge"], other["best"]["lap"]["laps_per_charge"] = 40.0, 40.1
    assert "+0.10 laps of 40.0, less than the 1 % that can be told apart" in finding(other)


def test_shorter_arms_have_their_price(result):
    other = copy.deepcopy(result)
    other["free"].append({"key": "arm_length_mm", "low": 60.0, "high": 150.0, "own": 110.0, "best": 60.0, "flat_low": 60.0,
                          "flat_high": 150.0, "at_bound": True})  # fmt: skip
    text = " ".join(text_of(other).split())
    assert "0.5 mm of play in a joint turns a wheel by 0.48 degrees instead of 0.26" in text  # 0.5/60 and 0.5/110 rad, by hand
    assert "edge of the bounds of arm_length_mm" in text


def test_a_trade_off_is_shown_or_said_to_be_none(result):
    other = copy.deepcopy(result) | {"objectives": ["drive_work", "error"]}
    other["front"] = [other["best"]]
    assert "There is nothing to trade" in text_of(other)
    other["front"] = [other["best"], other["own"]]
    assert "Less of the one costs more of the other" in text_of(other)


def test_the_fragment_reads_back(result):
    table = tomllib.loads(result["fragment"])["setup"][0]
    setup = SetupTable.model_validate(table)
    assert setup.linkage == "cross rod"
    assert setup.arm_angle_deg == pytest.approx(result["free"][0]["best"], rel=0, abs=5.1e-4)
    assert setup.arm_length_mm == 110.0
    assert "toe_in_deg" not in table  # only what was written, and what was sought


def test_options():
    assert parse_free(["arm_angle_deg=5:30", "toe_in_deg=-1:1"]) == {"arm_angle_deg": (5.0, 30.0), "toe_in_deg": (-1.0, 1.0)}
    assert parse_limits(["turning_circle_m=7"]) == {"turning_circle_m": 7.0}
    assert parse_objectives(["drive-work", "battery"]) == ("drive_work", "battery")
    assert parse_objectives([]) == ("drive_work",)


@pytest.mark.parametrize("text", ["arm_angle_deg", "arm_angle_deg=5", "arm_angle_deg=a:b", "=:"])
def test_free_options_that_are_none(text):
    with pytest.raises(InputError, match="KEY=LOW:HIGH"):
        parse_free([text])


@pytest.mark.parametrize("text", ["lock_deg", "lock_deg=much"])
def test_limit_options_that_are_none(text):
    with pytest.raises(InputError, match="NAME=VALUE"):
        parse_limits([text])
