"""Captions against the powers that they tell of."""

import re
from dataclasses import replace

import numpy as np
import pytest

from viz.replay.captions import CROSS, PLAIN, TICK, caption
from viz.replay.costs import slight

IDEAL, PARALLEL, KINKED, TURNTABLE, HALF = range(5)


def reworked(replay, index, **columns):
    """The run with columns of one set-up changed: functions of what they are."""
    drive = replay.drives[index]
    made = replace(drive, **{name: change(getattr(drive, name)) for name, change in columns.items()})
    return replace(replay, drives=tuple(made if one is drive else one for one in replay.drives))


def with_setup(replay, index, **keys):
    setups = list(replay.scenario.setup)
    setups[index] = setups[index].model_copy(update=keys)
    return replace(replay, scenario=replay.scenario.model_copy(update={"setup": setups}))


def test_disagreeing_wheels_and_what_they_cost(replay):
    more = replay.drives[PARALLEL].total[100] - replay.drives[IDEAL].total[100]
    assert caption(replay, PARALLEL, 100) == (f"wheels disagree: {more:.0f}\u00a0W more than ideal", CROSS)


@pytest.mark.parametrize("more", [0.0, 0.5, 0.99, 1.01, 3.0])
def test_the_same_geometry_that_costs_nothing_is_told_as_that(replay, more):
    """The axle lines miss by 74 cm all the same."""
    least = slight(replay)
    ideal = replay.drives[IDEAL].power
    made = reworked(replay, PARALLEL, power=lambda power: ideal + more * least / 4)
    words, mark = caption(made, PARALLEL, 100)
    if more > 1:
        assert words.startswith("wheels disagree: ")
        assert mark == CROSS
    else:
        assert (words, mark) == ("wheels disagree, but it costs nothing here", TICK)


def test_disagreeing_wheels_that_pay_less_are_not_said_to_cost(replay):
    made = reworked(replay, IDEAL, power=lambda power: power + 5.0)
    made = reworked(made, PARALLEL, power=lambda power: 0 * power)
    assert caption(made, PARALLEL, 100) == ("wheels disagree, yet 20\u00a0W less than ideal", TICK)


def test_agreeing_wheels_that_hold_a_bend(replay):
    """Power at all wheels alike is not the steering's: the tyres give way, by the slip of the trace."""
    made = reworked(replay, IDEAL, power=lambda power: 0 * power + 15.0, slip=lambda slip: 0 * slip + np.radians(1.9))
    assert caption(made, IDEAL, 100) == ("wheels agree; tyres give way 1.9° to hold the bend: 60\u00a0W", TICK)
    tyre = made.scenario.car.tyre.model_copy(update={"cornering_stiffness_per_rad": 9.0})
    soft = replace(made, scenario=made.scenario.model_copy(update={"car": made.scenario.car.model_copy(update={"tyre": tyre})}))
    assert caption(soft, IDEAL, 100).words == "wheels agree; soft tyres give way 1.9° to hold the bend: 60\u00a0W"
    assert caption(replay, IDEAL, 100) == ("wheels agree: hardly anything rubs, 0.0\u00a0W", TICK)


def straight(replay, index):
    """The set-up with wheels straight ahead; the linkage's toe is not in the trace."""
    return reworked(replay, index, steer=lambda steer: 0 * steer)


@pytest.mark.parametrize(("left", "right", "told"), [(0.02, -0.02, True), (-0.02, 0.02, True), (0.02, 0.02, False)])
def test_toe_on_the_straight_needs_power_and_tyres_that_push_against_each_other(replay, left, right, told):
    made = with_setup(straight(replay, HALF), HALF, toe_in_deg=1.0)
    made = reworked(
        made, HALF, slip=lambda slip: 0 * slip + np.array([left, right, 0.0, 0.0]), power=lambda power: 0 * power + [10, 9, 0, 0]
    )
    words, mark = caption(made, HALF, 100)
    assert mark == CROSS
    assert words == ("toe: front wheels scrub even straight ahead, 19\u00a0W more" if told
                     else "wheels nearly straight, and already 19\u00a0W more than ideal")  # fmt: skip
    cheap = reworked(made, HALF, power=lambda power: 0 * power + 0.01)
    assert caption(cheap, HALF, 100) == ("nearly straight: hardly anything rubs, 0.0\u00a0W", PLAIN)


def test_toe_in_a_bend_is_told_where_it_is_what_turns_the_wheels(replay):
    """Ideal wheels with a degree of toe-in each: without it their lines would meet."""
    toe = np.radians(1.0)
    made = with_setup(replay, HALF, linkage="ideal", toe_in_deg=1.0)
    turned = replay.drives[IDEAL].steer + np.array([-toe, toe, 0.0, 0.0])
    made = reworked(made, HALF, steer=lambda steer: turned, power=lambda power: 0 * power + 5.0)
    assert caption(made, HALF, 100) == ("toe: the front wheels fight, 20\u00a0W more than ideal", CROSS)
    parallel = reworked(with_setup(replay, PARALLEL, toe_in_deg=0.05), PARALLEL, power=lambda power: 0 * power + 5.0)
    assert caption(parallel, PARALLEL, 100).words == "wheels disagree: 20\u00a0W more than ideal"


@pytest.mark.parametrize(("share", "told"), [(0.8, True), (0.98, False)])
def test_the_turntables_support_shrinks_by_the_loads_of_the_trace(replay, share, told):
    made = reworked(replay, TURNTABLE, load=lambda load: load * [share, 1.0, 1.0, 1.0])
    words, mark = caption(made, TURNTABLE, 100)
    assert mark == TICK
    assert ("support shrinks: the lightest wheel carries 20\u00a0% less" in words) == told
    dear = reworked(made, TURNTABLE, power=lambda power: power + 5.0)
    assert re.fullmatch("turntable: wheels agree, yet 20\u00a0W more than ideal", caption(dear, TURNTABLE, 100).words)


def test_a_lifted_wheel(replay):
    made = reworked(replay, PARALLEL, load=lambda load: load * [1.0, 1.0, 0.0, 1.0], power=lambda power: 0 * power + 3.0)
    words = "rear left wheel is off the ground, three carry the car: 12\u00a0W more than ideal"
    assert caption(made, PARALLEL, 100) == (words, CROSS)


def test_a_model_without_loads_says_no_more_than_it_knows(replay):
    made = reworked(replay, TURNTABLE, load=lambda load: load * np.nan)
    assert caption(made, TURNTABLE, 100).words.startswith("wheels agree")
    single = replace(made, single_track=True)
    assert "none can disagree" in caption(single, TURNTABLE, 100).words


@pytest.mark.parametrize("index", range(4))
def test_each_figure_is_the_difference_of_powers(car_park, index):
    """Over the whole lap, wherever a caption tells how much more; and the mark is a cross there and nowhere else."""
    ideal, drive, least, seen = car_park.drives[IDEAL], car_park.drives[index], slight(car_park), 0
    for row in range(0, len(drive.time), 7):
        words, mark = caption(car_park, index, row)
        more = float(drive.total[row] - np.interp(drive.station[row], ideal.station, ideal.total))
        found = re.search(r"([\d.]+)\u00a0W more", words)
        assert (mark == CROSS) == (more > least), (words, more)
        if found:
            seen += 1
            assert float(found[1]) == pytest.approx(more, rel=0, abs=0.5 if more > 9.9 else 0.05)
    assert (seen > 50) == (index in (PARALLEL, KINKED))
