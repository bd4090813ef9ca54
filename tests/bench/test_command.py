"""`bench` from the scenario and the tables of readings to plain numbers and words."""

import json
from dataclasses import replace
from io import StringIO
from math import floor

import numpy as np
import pytest
from rich.console import Console

from sim.bench.advice import UNSCREWED
from sim.bench.as_built import ZERO_HAND, ZERO_LEFT, make_plan
from sim.bench.design import design_plan
from sim.bench.kinds import KINDS
from sim.bench.misfit import Misfit
from sim.bench.readings import made_readings, usual_errors
from sim.bench.result import AngleValue, TurnsValue, columns_of
from sim.errors import InputError
from sim.linkages.catalogue import kinds_with_rods
from sim.scenario.file import find_scenario, load_scenario, shipped_folder
from sim.study.dangers import NO_DANGERS
from sim.study.effort import WorthIt
from viz.bench.brief import alike_lines, bench_brief, leave_it, plan_brief, steer_words
from viz.bench.numbers import bench_result, plan_result
from viz.bench.report import bench_report, plan_report
from viz.shared.brief import MOST_LINES
from viz.shared.plain import plain

SETUP = "drop arm and two rods"
CROSS = "kinked arms, cross rod"
RIM_MM = 400.0


@pytest.fixture(scope="module")
def quay_loop():
    return load_scenario(find_scenario("quay-loop"))


@pytest.fixture(scope="module")
def shipped(compiler, quay_loop):
    """The result of the shipped readings."""
    return bench_result(quay_loop, "quay-loop", ["bench-readings"], SETUP)


@pytest.fixture
def table(tmp_path):
    """A table of readings from its lines."""

    def write(*lines, name="floor.csv"):
        file = tmp_path / name
        file.write_text("\n".join(lines) + "\n", encoding="utf-8")
        return file

    return write


def planned(quay_loop, name):
    index = next(i for i, setup in enumerate(quay_loop.setup) if setup.name == name)
    return make_plan(quay_loop.setup[index], quay_loop.car, "quay-loop", f"setup[{index}]")


@pytest.fixture
def made(quay_loop, table):
    """A table of pairs of a set-up with errors, in degrees of the planned car's hand wheel."""

    def write(name, turns, hands_deg, noise_deg=0.0, hand=False, arms_deg=(0.0, 0.0), rounded=None):
        plan = planned(quay_loop, name)
        errors = np.array([*turns, *np.radians(arms_deg)])
        steer = np.degrees(plan.built(errors).front_wheels(np.radians(hands_deg)).steer)
        steer += noise_deg * np.random.default_rng(6).normal(size=steer.shape)
        steer = steer if rounded is None else np.round(steer / rounded) * rounded
        rows = [f"{left:.6f},{right:.6f},{hand_deg:.6f}" for (left, right), hand_deg in zip(steer, hands_deg, strict=True)]
        if hand:
            return table("left_deg,right_deg,hand_deg", *rows)
        return table("left_deg,right_deg", *(row.rpartition(",")[0] for row in rows))

    return write


@pytest.fixture
def on_the_floor(quay_loop, table, trial):
    """A table that the quick plan of a set-up asks for, read of a car with errors, as people write it: distances, not angles."""

    def write(name, turns, seed=0, arms_deg=(0.0, 0.0)):
        plan = planned(quay_loop, name)
        errors = plan.whole(np.array([*turns, *np.radians(arms_deg)]))
        taken = design_plan(plan, "quick")
        readings = trial.taken(plan, errors, np.random.default_rng(seed), taken.taken)
        columns = (*columns_of(taken), "rim_mm")
        lines = []
        for row in readings.value:
            cells = {"rim_mm": RIM_MM}
            for kind, value in zip(KINDS, row, strict=True):
                if np.isfinite(value):
                    first, *second = kind.columns
                    away = 700.0 if second else 0.0  # of the string, or between the rims
                    cells[first.name] = away + (value * RIM_MM if kind.over_rim else value / first.size)
                    cells |= {one.name: away for one in second}
            lines.append(",".join(f"{cells[one]:.4f}" if one in cells else "" for one in columns))
        return table(",".join(columns), *lines)

    return write


def printed(parts, width=120):
    stream = StringIO()
    console = Console(width=width, no_color=True, highlight=False, markup=False, file=stream)
    for part in parts:
        console.print(part)
    return stream.getvalue()


def words(result, width=120, explain=False):
    return printed(bench_report(result) if explain else bench_brief(result), width)


def one_line(result, explain=False):
    return " ".join(words(result, explain=explain).split())


# The shipped readings: both rods too long by 2 and 1.5 turns, both arms kinked 2 degrees too far, the sixth pair misread


def test_shipped_readings_tell_the_toe_and_blame_nobody(quay_loop, shipped):
    """Pairs alone cannot tell a rod from an arm; the toe that they show is that of the car, within what they say."""
    plan = planned(quay_loop, SETUP)
    assert [one.line for one in shipped.readings.left_out] == [10]
    assert shipped.fit.verdict == "fits well"
    assert not any(part.blamed for part in shipped.parts)
    advice = shipped.advice
    assert advice.toe_told
    assert not advice.apart_told
    assert abs(advice.after.total_toe_in_deg) < 0.35 < advice.now.total_toe_in_deg
    assert advice.after.toe_drag_N < 0.1 < advice.now.toe_drag_N
    assert [one.name for one in shipped.fitted] == [one.name for one in plan.unknowns]


def test_every_number_is_plain(shipped):
    text = json.dumps(plain(shipped), allow_nan=False)
    assert json.loads(text) == plain(shipped)


def test_millimetres_are_turns_of_the_thread(shipped):
    rod = shipped.fitted[0]
    assert isinstance(rod, TurnsValue)
    assert rod.value_mm == pytest.approx(1.25 * rod.value_turns, rel=1e-12, abs=0)
    assert rod.error_mm == pytest.approx(1.25 * rod.error_turns, rel=1e-12, abs=0)
    assert isinstance(shipped.fitted[2], AngleValue)


def test_drag_share_is_of_the_rolling_resistance(shipped):
    now, rolling = shipped.advice.now, shipped.advice.rolling_resistance_N
    assert rolling == pytest.approx(0.008 * 145 * 9.81, rel=1e-12, abs=0)
    assert now.toe_drag_percent_of_rolling == pytest.approx(100 * now.toe_drag_N / rolling, rel=1e-12, abs=0)


def test_plain_words_of_the_shipped_readings(shipped):
    text = one_line(shipped)
    for wanted in (
        "Both front wheels together have 2.12 degrees of toe-in (+- 0.71); planned is no toe.",
        "The readings do not say which part is off; measure the threads (count them) to tell.",
        "1. Left rod: one rod end 1 1/2 turns IN (clockwise), 1.88 mm shorter; measure it from eye to eye before and after.",
        "If the hand wheel then stands askew on the straight, shorten one rod and lengthen the other by the same turns.",
        "Left out: bench-readings line 10 (left wheel's angle, right wheel's angle) lies 4.9 reading errors from the rest.",
        "Danger: as read, rod and arm come in line and can snap over or jam with the hand wheel at 74.3 deg left (left arm, +- 16.0) and",
        "as planned at 73.3 left and 73.3 right. Fit a stop before it passes 68.1 deg left and 68.1 deg right. That may be too late",
        "Doubt: the readings show what both rods do together, not how they share it",
    ):
        assert wanted in text
    assert "chi-square" not in text


def test_explained_words_of_the_shipped_readings(shipped):
    text = one_line(shipped, explain=True)
    for wanted in (
        "right-hand thread, seen from the rod end's eye with the rod behind it", "9.6 turns on M8 x 1.25",
        "... in % of rolling resistance", "tighten EVERY lock nut", "it never certifies a car as safe", "not known well enough",
        "left protractor's zero", "hand wheel's mark +0.00 deg 1.00", "chi-square", "left wheel's angle 40 0.5 deg stated in the table",
    ):  # fmt: skip
        assert wanted in text


@pytest.mark.slow
@pytest.mark.compiled
def test_answers_fit_a_narrow_terminal_and_one_screen(shipped, quay_loop, on_the_floor):
    results = [shipped, bench_result(quay_loop, "quay-loop", [on_the_floor(SETUP, (1.0, 0.0))], SETUP),
               bench_result(quay_loop, "quay-loop", [on_the_floor(CROSS, (2.0, 0.0))], CROSS)]  # fmt: skip
    for result in results:
        assert len(words(result, width=80).splitlines()) <= MOST_LINES
        for explain in (False, True):
            assert max(map(len, words(result, width=80, explain=explain).splitlines())) <= 80


def test_the_danger_is_told_however_much_else_there_is_to_say(shipped, monkeypatch):
    """It was the first of the warnings, and went with all of them where finding and turns filled the screen."""
    told = set()
    for room in range(20, MOST_LINES + 1):
        monkeypatch.setattr("viz.shared.brief.MOST_LINES", room)
        text = one_line(shipped)
        full = "Fit a stop before it passes 68.1 deg left and 68.1 deg right." in text
        short = "Danger: the car can snap over; stop the hand wheel before 68.1 deg left, 68.1 right." in text
        assert full != short
        told.add(full)
    assert told == {False, True}


@pytest.mark.compiled
def test_the_same_readings_give_the_same_answer(quay_loop, shipped):
    assert bench_result(quay_loop, "quay-loop", [shipped_folder() / "bench-readings.csv"], SETUP).fitted == shipped.fitted


# Read on the floor by the quick plan


@pytest.mark.compiled
def test_a_rod_that_is_off_is_named_with_its_new_length(quay_loop, on_the_floor):
    result = bench_result(quay_loop, "quay-loop", [on_the_floor(SETUP, (0.0, 2.0))], SETUP)
    blamed = {part.part: part for part in result.parts if part.blamed}
    assert set(blamed) == {"right rod"}
    assert blamed["right rod"].off_turns == pytest.approx(2.0, rel=0, abs=0.6)
    _, right = result.advice.rods
    assert right.turns == pytest.approx(-2.0, rel=0, abs=0.5)
    assert right.after_mm == pytest.approx(right.planned_mm + 1.25 * (2.0 + right.turns), rel=0, abs=3 * right.after_error_mm)
    assert right.after_error_mm < 0.3
    assert result.advice.apart_told
    text = one_line(result)
    assert f"The right rod is {blamed['right rod'].off_mm:.1f} mm too long; that is sure in 99 in 100 such cars." in text
    assert f"then {right.after_mm:.1f} mm from eye to eye (+- " in text
    assert "check lengths and toe" in text
    assert "such cars." in text.partition("Doubt: after these turns both rods are within half a turn of right in ")[2]


@pytest.mark.compiled
def test_a_bent_arm_is_cured_by_its_rod(quay_loop, on_the_floor):
    result = bench_result(quay_loop, "quay-loop", [on_the_floor(SETUP, (0.0, 0.0), arms_deg=(3.0, 0.0))], SETUP)
    assert not any(part.blamed for part in result.parts if "rod" in part.part)
    assert result.advice.rods[0].turns != 0
    assert abs(result.advice.after.total_toe_in_deg) < 0.35


@pytest.mark.compiled
def test_turns_beside_those_of_the_wrong_rod_are_explained(quay_loop, on_the_floor):
    said = "The turns are not just those of the wrong part: they also take up what arms and the hand wheel's mark are off."
    bent = bench_result(quay_loop, "quay-loop", [on_the_floor(SETUP, (0.0, 2.0), arms_deg=(2.0, 0.0))], SETUP)
    assert any(part.blamed and part.part == "right rod" for part in bent.parts)
    assert bent.advice.rods[0].turns < 0
    assert said in one_line(bent)
    assert said not in one_line(bench_result(quay_loop, "quay-loop", [on_the_floor(SETUP, (0.0, 0.0))], SETUP))


@pytest.mark.compiled
def test_turns_of_another_rod_are_explained_however_much_else_there_is_to_say(quay_loop, on_the_floor, monkeypatch):
    """It was one of "2 more remarks" where the named rod was not the one to be turned; a cross rod, turned back by itself, was told so."""
    bent = bench_result(quay_loop, "quay-loop", [on_the_floor(SETUP, (0.0, 2.0), arms_deg=(2.0, 0.0))], SETUP)
    monkeypatch.setattr("viz.shared.brief.MOST_LINES", 20)
    assert "The turns are not just those of the wrong part: they also take up what arms and the hand wheel's mark are" in one_line(bent)
    long = bench_result(quay_loop, "quay-loop", [on_the_floor(CROSS, (2.0, 0.0))], CROSS)
    assert "The rod is" in one_line(long)
    assert "The turns are not just those" not in one_line(long)


@pytest.mark.compiled
def test_a_cross_rod_car_without_a_fault_is_told_so(quay_loop, on_the_floor):
    """It was asked to measure what its plan had asked for, and it had read, "to tell which part is off"."""
    good = bench_result(quay_loop, "quay-loop", [on_the_floor(CROSS, (0.0, 0.0), seed=3)], CROSS)
    assert [rod.turns for rod in good.advice.rods] == [0.0]
    assert "No part is off by as much as half a turn, unless both arms are off against each other." in one_line(good)
    assert "do not say" not in one_line(good)


@pytest.mark.compiled
def test_arms_are_suspected_where_the_rod_was_read_and_is_right(quay_loop, on_the_floor):
    """The rod, read time and again and cleared, was to be measured to tell."""
    bent = bench_result(quay_loop, "quay-loop", [on_the_floor(CROSS, (0.0, 0.0), arms_deg=(1.5, 1.5))], CROSS)
    assert not any(part.blamed for part in bent.parts)
    assert bent.advice.rods[0].turns < 0
    assert "The rod is right; the arms may be bent or not as drawn: measure them." in one_line(bent)


@pytest.mark.compiled
def test_what_was_read_is_asked_for_once_more_and_what_was_not_is_asked_for(quay_loop, on_the_floor, shipped):
    """Of a rod that stays doubted."""
    assert not shipped.to_tell_again
    read = bench_result(quay_loop, "quay-loop", [on_the_floor(CROSS, (0.0, 0.0), arms_deg=(1.5, 1.5))], CROSS)
    assert read.to_tell_again
    doubted = replace(read, parts=(replace(read.parts[0], probability=0.6), *read.parts[1:]))
    said = "The readings do not say which part is off: it may be the rod or the left arm or the right arm; measure "
    assert said in one_line(doubted)
    assert "once more to tell." in one_line(doubted)
    unlike = replace(read, parts=tuple(replace(part, known=True, probability=0.1) for part in read.parts))
    assert "The rod is right within what the readings tell; turned as below it takes up the little" in one_line(unlike)


@pytest.mark.compiled
def test_exchanged_columns_order_no_turns(quay_loop, on_the_floor):
    """The right rod was "sure" to be too long and the left one to be turned; exchanged angles were left out and all else believed."""
    file = on_the_floor(SETUP, (2.0, 0.0))
    head, *lines = file.read_text(encoding="utf-8").splitlines()
    pairs = [line for line in lines if line.split(",")[head.split(",").index("left_deg")]]
    good = "\n".join([head, *(line for line in lines if line not in pairs[2:]), ""])  # with four pairs an exchange is refused
    for one, other, asked in (("rod_left_mm", "rod_right_mm", "Are the columns rod_left_mm and rod_right_mm exchanged?"),
                              ("left_deg", "right_deg", "are left_deg and right_deg exchanged?")):  # fmt: skip
        _, _, cells = good.partition("\n")
        names = [{one: other, other: one}.get(name, name) for name in head.split(",")]
        file.write_text("\n".join([",".join(names), cells]), encoding="utf-8")
        result = bench_result(quay_loop, "quay-loop", [file], SETUP)
        text = one_line(result)
        assert asked in text
        assert "So turn nothing yet." in text
        assert "1. Turn nothing yet." in text
        assert "Read it again." not in text
    file.write_text(good, encoding="utf-8")
    assert bench_result(quay_loop, "quay-loop", [file], SETUP).readings.contradictions == ()


@pytest.mark.compiled
def test_a_good_car_is_left_alone(quay_loop, on_the_floor):
    result = bench_result(quay_loop, "quay-loop", [on_the_floor(SETUP, (0.0, 0.0), seed=3)], SETUP)
    assert not any(part.blamed for part in result.parts)
    assert [rod.turns for rod in result.advice.rods] == [0.0, 0.0]
    assert "1. Turn nothing: no half turn brings the car nearer to the plan." in words(result)


@pytest.mark.compiled
def test_a_cross_rod_has_one_rod(quay_loop, on_the_floor, made):
    result = bench_result(quay_loop, "quay-loop", [on_the_floor(CROSS, (1.5, 0.0))], CROSS)
    (rod,) = result.advice.rods
    assert (rod.rod, rod.turns) == ("cross rod", -1.5)
    assert [part.part for part in result.parts] == ["rod", "left arm", "right arm"]
    assert "Cross rod: one rod end 1 1/2 turns IN (clockwise), 1.88 mm shorter" in one_line(result)
    with_dial = bench_result(quay_loop, "quay-loop", [made(CROSS, (1.5, 0.0), np.linspace(-30, 30, 20), 0.2, hand=True)], CROSS)
    assert "hand_deg is not used" in one_line(with_dial)


@pytest.mark.compiled
def test_several_tables_are_one(quay_loop, on_the_floor, made, tmp_path):
    floor = on_the_floor(SETUP, (1.0, 0.0))
    other = tmp_path / "pairs.csv"
    floor.replace(tmp_path / "strings.csv")
    made(SETUP, (1.0, 0.0), np.linspace(-50, 50, 12), noise_deg=0.3).replace(other)
    both = bench_result(quay_loop, "quay-loop", [tmp_path / "strings.csv", other], SETUP)
    alone = bench_result(quay_loop, "quay-loop", [tmp_path / "strings.csv"], SETUP)
    assert both.readings.files == (str(tmp_path / "strings.csv"), str(other))
    assert both.readings.settings == alone.readings.settings + 12
    assert both.advice.total_toe_error_deg < alone.advice.total_toe_error_deg


@pytest.mark.compiled
def test_no_rim_is_told_what_is_taken(quay_loop, table):
    file = table("toe_front_mm,toe_rear_mm", "800,803", "800,803")
    result = bench_result(quay_loop, "quay-loop", [file], SETUP)
    assert result.readings.rim_taken_mm == pytest.approx(0.8 * 2 * 203, rel=1e-12, abs=0)
    assert "rim_mm is not given: 325 mm is taken between the two places on each rim." in one_line(result)
    (kind,) = result.readings.kinds
    assert kind.error_mm == pytest.approx(2**-0.5, rel=1e-9, abs=0)


@pytest.mark.compiled
def test_another_reading_is_offered_and_promised(quay_loop, table):
    file = table("rod_left_mm,rod_right_mm", "343.6,343.5", "343.4,343.7")
    result = bench_result(quay_loop, "quay-loop", [file], SETUP)
    assert result.more.item.name == "string at both wheels"
    more = result.more.sure.total_toe_error_deg
    assert more < result.advice.total_toe_error_deg
    assert "One reading more helps most: both wheels with a string. With it toe is known to" in one_line(result)


# Words for other cases


@pytest.mark.compiled
def test_honest_uniform_readings_are_not_called_smoothed(quay_loop, made):
    """Readings to the nearest half degree scatter by less than their usual error."""
    result = bench_result(quay_loop, "quay-loop", [made(SETUP, (1.5, 1.5), np.linspace(-50, 50, 40), rounded=0.5)], SETUP)
    assert result.fit.chance > 0.99
    assert result.fit.verdict == "fits well"
    for explain in (False, True):
        assert "smooth" not in words(result, explain=explain)
        assert "cautious" not in words(result, explain=explain)


# A user was told that three pairs "fit well" and to turn a rod end, where nothing could be told yet.


@pytest.mark.compiled
def test_three_pairs_are_not_said_to_fit_well(quay_loop, table):
    result = bench_result(quay_loop, "quay-loop", [table("left_deg,right_deg", "0.5,1.0", "10,9", "-10,-11")], SETUP)
    assert result.advice.toe_told is False
    assert result.fit.verdict == "too few or too coarse readings to judge"
    text = one_line(result).removeprefix("Quay loop: eight ways to steer: drop arm and two rods ")
    assert text.startswith("Whether the toe is off can't be told yet, so turn nothing yet.")
    assert "1. Nothing yet." in text
    assert "worth the work" not in text
    assert "do as it says above" not in text
    assert "well" not in text


@pytest.mark.compiled
def test_one_line_alone_orders_no_many_turns(quay_loop, table):
    """A decimal comma made three numbers of two, 25.7 and 23 degrees, and both rods were to be turned by ten."""
    result = bench_result(quay_loop, "quay-loop", [table("left_deg,right_deg,hand_deg", "25,7,23")], SETUP)
    assert max(abs(rod.turns) for rod in result.advice.rods) > UNSCREWED
    text = one_line(result)
    assert "1. Nothing yet: one line alone asks for many turns, and a slip in it is as likely." in text
    assert "do as it says above" not in text
    two = bench_result(quay_loop, "quay-loop", [table("left_deg,right_deg,hand_deg", "25,7,23", "-7,-25,-23")], SETUP)
    assert "one line alone" not in one_line(two)


@pytest.mark.compiled
def test_few_pairs_may_show_a_large_toe_but_no_good_fit(quay_loop, made):
    result = bench_result(quay_loop, "quay-loop", [made(SETUP, (3.0, 3.0), np.array([-5.0, 0.0, 5.0]))], SETUP)
    assert result.advice.toe_told is True
    assert result.fit.verdict == "too few or too coarse readings to judge"
    text = one_line(result)
    assert "can't be told" not in text
    assert "Nothing yet" not in text


@pytest.mark.compiled
def test_one_pair_and_a_coarse_one(quay_loop, table):
    result = bench_result(quay_loop, "quay-loop", [table("left_deg,right_deg", "0.5,1.0")], SETUP)
    assert result.fit.verdict == "too few or too coarse readings to judge"
    assert "With so few readings a slip in one of them can't be found." in one_line(result, explain=True)
    coarse = bench_result(quay_loop, "quay-loop", [table("left_deg,right_deg,reading_error_deg", "0.5,1.0,9")], SETUP)
    assert coarse.advice.toe_told is False
    assert not any(part.known for part in coarse.parts if "rod" in part.part)


@pytest.mark.compiled
def test_turns_that_make_the_largest_miss_worse_are_warned_of(quay_loop, on_the_floor):
    """Rods that hid part of the arms' kink: right on straights, worse in tight turns."""
    result = bench_result(quay_loop, "quay-loop", [on_the_floor(CROSS, (3.0, 0.0), arms_deg=(-3.0, -3.0))], CROSS)
    now, after = (state.largest_miss_deg for state in (result.advice.now, result.advice.after))
    warned = "Beware: with these turns the wheels miss the plan by up to" in one_line(result)
    assert warned == (round(after, 1) > round(now, 1))
    grown = replace(result, advice=replace(result.advice, after=replace(result.advice.after, largest_miss_deg=now + 1.0)))
    assert f"by up to {now + 1:.1f} degrees in tight turns, now by {now:.1f}; only arms mend that." in one_line(grown)


def test_rods_far_out_are_warned_of(shipped):
    left, right = shipped.advice.rods
    far = replace(shipped, advice=replace(shipped.advice, rods=(replace(left, after_mm=left.planned_mm + 3.75), right)))
    wanted = "Warning: unscrewed from the planned length: left rod 3.8 mm. Count the turns still inside before you drive."
    assert wanted in one_line(far)


@pytest.mark.compiled
def test_scattered_readings_widen_the_errors(quay_loop, made):
    result = bench_result(quay_loop, "quay-loop", [made(SETUP, (1.0, 1.0), np.linspace(-50, 50, 30), noise_deg=1.5)], SETUP)
    assert result.fit.verdict == "readings scatter more than said"
    assert result.fit.errors_widened_by == pytest.approx(3.0, rel=0.35, abs=0)
    assert "The readings scatter more than their errors say" in one_line(result)


@pytest.mark.compiled
def test_bootstrap_intervals(quay_loop, made, monkeypatch):
    from sim.bench import result as made_of

    spread = np.linspace(-1, 1, 41)
    monkeypatch.setattr(made_of, "repeated_fits", lambda fit: fit.errors + np.outer(spread, fit.sure))
    result = bench_result(quay_loop, "quay-loop", [made(SETUP, (1.0, 1.0), np.linspace(-50, 50, 30), noise_deg=0.5)], SETUP, True)
    rod = result.fitted[0]
    # Replicates spread evenly over one standard error to both sides: the middle 95 % of them
    expected = [rod.value_turns - 0.95 * rod.error_turns, rod.value_turns + 0.95 * rod.error_turns]
    assert rod.interval_95_turns == pytest.approx(expected, rel=1e-9, abs=1e-9)
    assert result.interval_method == "bootstrap"
    assert "Intervals are from 200 repetitions of the fit" in words(result, explain=True)


# The plan


@pytest.mark.compiled
@pytest.mark.parametrize("plan", ["quick", "full"])
@pytest.mark.parametrize("name", [SETUP, CROSS])
def test_plan_in_words(quay_loop, name, plan):
    result = plan_result(quay_loop, "quay-loop", plan, name)
    text = printed(plan_brief(result), 80)
    assert len(text.splitlines()) <= MOST_LINES
    assert max(map(len, text.splitlines())) <= 80
    assert "more row" not in text
    assert all(column in text for column in result.columns)
    assert f"The {plan} plan takes about {result.minutes:.0f} minutes of floor work." in " ".join(text.split())
    assert max(map(len, printed(plan_report(result), 80).splitlines())) <= 80
    assert json.loads(json.dumps(plain(result), allow_nan=False)) == plain(result)


@pytest.mark.compiled
def test_plan_is_chosen_by_its_name_or_beginning(quay_loop):
    assert plan_result(quay_loop, "quay-loop", "q", SETUP).plan == "quick"
    assert refusal_of(plan_result, quay_loop, "quay-loop", "slow", SETUP) == '--plan: there is no plan "slow"; choose quick or full'
    assert refusal_of(plan_result, quay_loop, "quay-loop", "", SETUP) == '--plan: there is no plan ""; choose quick or full'


# Refusals


def refusal_of(function, *call):
    with pytest.raises(InputError) as refused:
        function(*call)
    return str(refused.value)


def refusal(*call):
    return refusal_of(bench_result, *call)


def test_which_set_up_was_measured(quay_loop, table):
    file = table("left_deg,right_deg", "1,1")
    call = (quay_loop, "quay-loop", [file])
    assert refusal(*call) == (
        'quay-loop: 3 set-ups have rods that could have been measured; add --setup with one of "kinked arms, cross rod", '
        '"more kink, cross rod", "drop arm and two rods"'
    )
    assert refusal(*call, "drop arms and two rods") == (
        'quay-loop: --setup: there is no set-up "drop arms and two rods"; did you mean "drop arm and two rods"?'
    )
    assert refusal(*call, "arm and two").endswith('did you mean "drop arm and two rods"?')
    assert refusal(*call, "zzz").startswith('quay-loop: --setup: there is no set-up "zzz"; choose one of 1 "ideal", 2 "parallel", ')
    # Named as the user named it, not as the scenario's second table, which counts from 0.
    for name in ("parallel", "turntable axle"):
        assert refusal(*call, name) == (
            f'quay-loop: --setup: "{name}" has no rods and arms to set; choose one of "kinked arms, cross rod", "more kink, cross rod", '
            '"drop arm and two rods"'
        )


@pytest.mark.compiled
def test_the_only_set_up_with_rods_needs_no_name(quay_loop, table):
    one = quay_loop.model_copy(update={"setup": (quay_loop.setup[0], quay_loop.setup[5])})
    assert bench_result(one, "quay.toml", [table("left_deg,right_deg", "1,1")]).setup == SETUP
    none = quay_loop.model_copy(update={"setup": quay_loop.setup[:1]})
    assert refusal(none, "quay.toml", [table("left_deg,right_deg", "1,1")]) == (
        f"quay.toml: no set-up has rods and arms to set; add the one that was built, with {kinds_with_rods()}"
    )


def test_refusals_name_file_and_line(quay_loop, table):
    file = table("left_deg,right_deg", "1,1", "72,20")
    assert refusal(quay_loop, "quay-loop", [file], SETUP).startswith(f"{file}: line 3: the left wheel cannot stand so (72 and 20 degrees)")
    assert refusal(quay_loop, "quay-loop", ["none.csv"], SETUP) == "none.csv: there is no such file; check the name and the folder"


# Marks, signs, protractors


def _floor(quay_loop, table, zeros=(), turns=(0.0, 0.0)):
    """The quick plan of the drop arm, read without noise of a car with errors at places."""
    plan = planned(quay_loop, SETUP)
    errors = plan.whole(np.array(turns))
    for place, degrees in zeros:
        errors[place] = np.radians(degrees)
    readings = design_plan(plan, "quick")
    columns, lines = (*columns_of(readings), "rim_mm"), []
    bench = Misfit(plan, made_readings(np.full((1, len(KINDS)), np.nan), usual_errors(1e-3 * RIM_MM)))
    for item, count in readings.taken:
        hand = (item.hand or 0.0) - errors[ZERO_HAND]
        shown = bench.shown_by(plan.built(errors), errors, np.array([hand]))[0]
        cells = {"rim_mm": RIM_MM}
        for place in item.places:
            first, *second = KINDS[place].columns
            cells[first.name] = 700.0 * bool(second) + (shown[place] * RIM_MM if KINDS[place].over_rim else shown[place] / first.size)
            cells |= {one.name: 700.0 for one in second}
        lines += [",".join(f"{cells[one]:.4f}" if one in cells else "" for one in columns)] * count
    return bench_result(quay_loop, "quay-loop", [table(",".join(columns), *lines)], SETUP)


@pytest.mark.compiled
def test_a_mark_that_is_off_is_the_first_step_and_no_rod_is_named(quay_loop, table):
    result = _floor(quay_loop, table, [(ZERO_HAND, 4.0)])
    text = one_line(result)
    move = result.advice.mark_move_deg
    assert 2.5 < move < 4.2
    assert f"1. Move the hand wheel's mark by {move:.1f} degrees: turn the wheel that far to the left of its mark" in text
    assert "The drop arm then hangs plumb." in text
    assert "rod is" not in text
    assert not any(part.blamed for part in result.parts)
    assert f"{abs(_floor(quay_loop, table, [(ZERO_HAND, -4.0)]).advice.mark_move_deg):.1f}" == f"{move:.1f}"


@pytest.mark.compiled
def test_a_protractor_askew_is_told(quay_loop, table):
    plain_one = one_line(_floor(quay_loop, table))
    assert "askew: set it again" not in plain_one
    text = one_line(_floor(quay_loop, table, [(ZERO_LEFT, 2.0)]))
    assert "The left protractor shows" in text
    assert "to the left with its wheel straight: it may stand askew: set it again." in text


def test_readings_that_contradict_each_other_order_no_turns(quay_loop, table):
    """The screen said half a turn OUT, and that string and tape disagree stood behind --explain alone."""
    columns = "string_left_rear_mm,string_left_front_mm,string_right_front_mm,string_right_rear_mm,toe_rear_mm,toe_front_mm,rim_mm"
    strings = ["120,117,117,120,,,400"] * 4  # front and rear exchanged
    result = bench_result(quay_loop, "quay-loop", [table(columns, *strings, ",,,,860,854,400")], SETUP)
    assert result.readings.contradictions[0].startswith("String and tape disagree")
    text = one_line(result)
    assert "drop arm and two rods String and tape disagree" in text
    assert "1. Turn nothing yet. Measure again" in text
    for order in ("clockwise", "worth the work", "do as it says above", "Leave it"):
        assert order not in text
    assert "clockwise" in one_line(result, explain=True)
    right = bench_result(quay_loop, "quay-loop", [table(columns, *["120,123,123,120,,,400"] * 4, ",,,,860,854,400")], SETUP)
    assert right.readings.contradictions == ()
    assert "Undo the lock nut first. Seen from the eye; left-hand thread: other way; tube with both: half as far." in one_line(right)


# A mechanic was sent to turn rods by half a turn for less toe than the readings could tell.


@pytest.mark.compiled
def test_a_car_that_is_set_is_left_alone(quay_loop, on_the_floor):
    result = bench_result(quay_loop, "quay-loop", [on_the_floor(SETUP, (-0.3, 0.6), seed=1)], SETUP, folder=shipped_folder())
    assert any(rod.turns for rod in result.advice.rods)
    assert result.price.cure.verdict is WorthIt.UNTOLD
    assert leave_it(result)
    text = one_line(result)
    assert "Leave it: it is set. What turns would gain is less than the error of the toe" in text
    assert "1. Turn nothing." in text
    for foreign in ("clockwise", "after these turns", "The turns take", "read again"):
        assert foreign not in text
    whole = words(result, explain=True)
    assert "Nothing. Nearest to the plan" in whole
    assert "clockwise" in whole


@pytest.mark.compiled
def test_a_clear_fault_still_gets_its_turns(quay_loop, on_the_floor):
    for errors in ((0.0, 2.0), (1.5, 1.5)):
        result = bench_result(quay_loop, "quay-loop", [on_the_floor(SETUP, errors)], SETUP, folder=shipped_folder())
        assert not leave_it(result)
        assert "clockwise" in one_line(result)


@pytest.mark.compiled
def test_doubt_and_the_next_reading_fit_what_is_said(quay_loop, on_the_floor):
    result = bench_result(quay_loop, "quay-loop", [on_the_floor(SETUP, (0.0, 0.0), seed=3)], SETUP, folder=shipped_folder())
    assert "Doubt: as it stands, both rods are within half a turn of right in " in one_line(result)
    assert "after these turns" not in one_line(result)
    assert "One reading more" not in one_line(result)  # which lowers no error by a tenth
    more = replace(result.more.sure, total_toe_error_deg=0.89 * result.advice.total_toe_error_deg)
    assert "One reading more" in one_line(replace(result, more=replace(result.more, sure=more)))


@pytest.mark.compiled
def test_two_arms_that_are_off_alike_ask_for_a_look_at_the_file(shipped):
    """A length of the file in centimetres came back as two bent arms, sure in 99 in 100."""

    def of(left, right, blamed=True):
        off = {"left arm": left, "right arm": right}
        parts = [replace(part, off_deg=off[part.part], blamed=blamed) if part.part in off else part for part in shipped.parts]
        return alike_lines(replace(shipped, parts=tuple(parts)))

    (line,) = of(4.1, 3.2)
    assert "first hold the scenario's lengths against the car, the place of the arms' joints, drop_arm_behind_front_axle_mm" in line
    assert of(4.1, 3.0) == of(4.1, -4.1) == of(4.1, 4.1, blamed=False) == []


@pytest.mark.compiled
def test_the_try_from_stop_to_stop_ends_at_the_nearest(shipped):
    """Whoever had a stop of their own was told to steer beyond it."""
    dangers = shipped.dangers_nearer
    own = {"stop_left_deg": dangers.danger_left_deg - 4.6, "stop_is_yours": True, "own_stop_deg": dangers.danger_left_deg - 4.6}
    told = steer_words(replace(shipped, dangers_nearer=replace(dangers, **own)))
    assert told.startswith(f"to {floor(10 * own['stop_left_deg']) / 10:.1f} deg left and ")
    assert told.endswith(" deg right, no further")
    assert steer_words(replace(shipped, dangers_nearer=NO_DANGERS)) == "from lock to lock"
