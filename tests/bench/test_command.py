"""`bench` from the scenario and the table of readings to plain numbers and words."""

import json
from dataclasses import replace
from io import StringIO

import numpy as np
import pytest
from rich.console import Console

from sim.bench.as_built import make_plan
from sim.bench.result import RodValue
from sim.errors import InputError
from sim.linkages.catalogue import kinds_with_rods
from sim.scenario.file import find_scenario, load_scenario, shipped_folder
from viz.bench.numbers import bench_result
from viz.bench.report import bench_report
from viz.shared.plain import plain

SETUP = "drop arm and two rods"
CROSS = "kinked arms, cross rod"


@pytest.fixture(scope="module")
def quay_loop():
    return load_scenario(find_scenario("quay-loop"))


@pytest.fixture(scope="module")
def shipped(quay_loop):
    """The result of the shipped readings."""
    return bench_result(quay_loop, "quay-loop", "bench-readings", SETUP)


@pytest.fixture
def table(tmp_path):
    """A table of readings from its lines."""

    def write(*lines):
        file = tmp_path / "floor.csv"
        file.write_text("\n".join(lines) + "\n", encoding="utf-8")
        return file

    return write


@pytest.fixture
def made(quay_loop, table):
    """A table of readings of a set-up with errors, in degrees of the planned car's hand wheel."""

    def write(name, turns, hands_deg, noise_deg=0.0, hand=False, arms_deg=(0.0, 0.0)):
        index = next(i for i, setup in enumerate(quay_loop.setup) if setup.name == name)
        plan = make_plan(quay_loop.setup[index], quay_loop.car, "quay-loop", f"setup[{index}]")
        errors = np.array([*turns, *np.radians(arms_deg), 0.0, 0.0, 0.0])
        steer = np.degrees(plan.built(errors).front_wheels(np.radians(hands_deg)).steer)
        steer += noise_deg * np.random.default_rng(6).normal(size=steer.shape)
        rows = [f"{left:.6f},{right:.6f},{hand_deg:.6f}" for (left, right), hand_deg in zip(steer, hands_deg, strict=True)]
        if hand:
            return table("left_deg,right_deg,hand_deg", *rows)
        return table("left_deg,right_deg", *(row.rpartition(",")[0] for row in rows))

    return write


def words(result, width=120):
    stream = StringIO()
    console = Console(width=width, no_color=True, highlight=False, markup=False, file=stream)
    for part in bench_report(result):
        console.print(part)
    return stream.getvalue()


def one_line(result):
    return " ".join(words(result).split())


# The shipped readings: both rods too long by 2 and 1.5 turns, both arms kinked 2 degrees too far, the sixth pair misread


def test_shipped_readings_find_what_is_wrong(shipped):
    by_name = {one.name: one for one in shipped.fitted}
    assert set(by_name) == {"left rod + right rod", "both arms' kink, mean"}
    # Two standard errors
    for name, key, truth in (("left rod + right rod", "turns", 3.5), ("both arms' kink, mean", "deg", 2.0)):
        assert abs(getattr(by_name[name], f"value_{key}") - truth) < 2 * getattr(by_name[name], f"error_{key}")
        assert getattr(by_name[name], f"start_{key}") == 0
        assert by_name[name].bound_hit is False
    assert [one.line for one in shipped.readings.left_out] == [10]
    assert shipped.fit.verdict == "fits well"
    advice = shipped.advice
    total = sum(advice.turns.values()) + advice.either_rod_turns
    assert total == pytest.approx(-by_name["left rod + right rod"].value_turns, rel=0, abs=0.25)
    assert abs(advice.toe_left_over_deg) < 0.1 < advice.now.toe_in_deg
    assert advice.after.toe_drag_N < 0.1 < advice.now.toe_drag_N


def test_every_number_is_plain(shipped):
    text = json.dumps(plain(shipped), allow_nan=False)
    assert json.loads(text) == plain(shipped)


def test_millimetres_are_turns_of_the_thread(shipped):
    rod = shipped.fitted[0]
    assert rod.value_mm == pytest.approx(1.25 * rod.value_turns, rel=1e-12, abs=0)
    assert rod.error_mm == pytest.approx(1.25 * rod.error_turns, rel=1e-12, abs=0)
    for side in ("left_rod", "right_rod"):
        assert shipped.advice.millimetres[f"{side}_mm"] == 1.25 * shipped.advice.turns[side]


def test_drag_share_is_of_the_rolling_resistance(shipped):
    now, rolling = shipped.advice.now, shipped.advice.rolling_resistance_N
    assert rolling == pytest.approx(0.008 * 145 * 9.81, rel=1e-12, abs=0)
    assert now.toe_drag_percent_of_rolling == pytest.approx(100 * now.toe_drag_N / rolling, rel=1e-12, abs=0)


def test_report_of_the_shipped_readings(shipped):
    text = one_line(shipped)
    for wanted in (
        "toe-in (+- 0.14 deg, 95 %); planned is no toe. 39 pairs of readings; the drawn car, with the errors below, fits them well.",
        "Left rod: rod end 1 1/2 turns IN (screw in: clockwise); the rod gets 1.88 mm shorter.",
        "And on one of the two rods, whichever you like: rod end 1/2 turn IN (screw in: clockwise).",
        "right-hand thread, seen from the rod end's eye with the rod behind it",
        "tighten EVERY lock nut",
        "it never certifies a car as safe",
        "Left out: line 10 (left -19.5, right -15.5 deg)",
        "9.6 turns on M8 x 1.25",
        "... in % of rolling resistance",
        "Correlation of both arms' kink, mean and left rod + right rod",
        "can't tell apart: left rod's length, right rod's length, left arm's kink",
    ):
        assert wanted in text


def test_report_fits_a_narrow_terminal(shipped):
    assert max(map(len, words(shipped, width=80).splitlines())) <= 80


def test_the_same_readings_give_the_same_answer(quay_loop, shipped):
    assert bench_result(quay_loop, "quay-loop", shipped_folder() / "bench-readings.csv", SETUP).fitted == shipped.fitted


# Words for other cases


def test_with_the_hand_wheel_each_rod_is_told(quay_loop, made):
    file = made(SETUP, (-2.0, 1.0), np.linspace(-55, 55, 40), noise_deg=0.2, hand=True)
    result = bench_result(quay_loop, "quay-loop", file, SETUP)
    names = [one.name for one in result.fitted]
    assert names == ["left rod", "right rod", "left arm's kink", "right arm's kink"]
    assert result.advice.turns == {"left_rod": 2.0, "right_rod": -1.0}
    toes = result.advice.static_toe_in
    assert toes["left"].toe_in_deg < 0 < toes["right"].toe_in_deg
    text = one_line(result)
    assert "Left rod: rod end 2 turns OUT (unscrew: anticlockwise); the rod gets 2.50 mm longer." in text
    assert "Right rod: rod end 1 turn IN (screw in: clockwise); the rod gets 1.25 mm shorter." in text
    assert "With the hand wheel in its middle: left wheel" in text
    assert "0.5 deg (taken, for the table does not state it everywhere)" in text


def test_a_cross_rod_has_one_rod(quay_loop, made):
    file = made(CROSS, (1.5, 0.0), np.linspace(-35, 35, 40), noise_deg=0.2, hand=True)
    result = bench_result(quay_loop, "quay-loop", file, CROSS)
    assert result.fitted[0].name == "rod"
    assert result.advice.turns == {"rod": -1.5}
    assert result.advice.static_toe_in is None
    assert not any("right rod" in name for group in result.not_told_apart for name in group)
    text = one_line(result)
    assert "The cross rod: rod end 1 1/2 turns IN" in text
    assert "hand_deg is not used" in text


def test_a_good_car_is_left_alone(quay_loop, made):
    result = bench_result(quay_loop, "quay-loop", made(SETUP, (0.05, 0.0), np.linspace(-50, 50, 60), noise_deg=0.1), SETUP)
    assert "Nothing: no half turn brings the toe nearer to the plan." in words(result)
    assert result.advice.pairs_wanted == 0
    assert "half turn is not sure" not in words(result)


def test_one_pair(quay_loop, table):
    result = bench_result(quay_loop, "quay-loop", table("left_deg,right_deg", "0.5,1.0"), SETUP)
    fit = result.fit
    assert (fit.spare_readings, fit.chance, fit.residual_rms_deg) == (0, None, None)
    assert fit.stated_rms_deg == pytest.approx(0.5, rel=1e-12, abs=0)
    assert (fit.verdict, fit.errors_widened) == ("too few or too coarse readings to judge", False)
    text = one_line(result)
    assert "1 pair of readings; the drawn car, with the errors below, can't be checked against them" in text
    assert "The half turn is not sure yet: about" in text


def test_readings_that_tell_nothing(quay_loop, table):
    result = bench_result(quay_loop, "quay-loop", table("left_deg,right_deg,reading_error_deg", "0.5,1.0,9"), SETUP)
    assert result.advice is None
    assert result.fitted == ()
    text = one_line(result)
    assert "Nothing can be told about the rods yet: 1 pair of readings, too few or too coarse." in text
    assert "worksheet of `template`" in text
    assert "can't tell: left rod's length, right rod's length, left arm's kink" in text


# A user was told that three pairs "fit well" and to turn a rod end, where nothing could be told yet.


def test_three_pairs_are_not_said_to_fit_well(quay_loop, table):
    result = bench_result(quay_loop, "quay-loop", table("left_deg,right_deg", "0.5,1.0", "10,9", "-10,-11"), SETUP)
    assert result.advice.toe_told is False
    assert result.fit.verdict == "too few or too coarse readings to judge"
    text = one_line(result)
    first = text.removeprefix("Quay loop: eight ways to steer: drop arm and two rods ")
    assert first.startswith("Whether the toe is off can't be told yet, so turn nothing yet. Take all the readings that the worksheet")
    assert "What to turn Nothing yet. If more readings say the same as these, then this: Left rod" in text
    assert "well" not in text


def test_few_pairs_may_show_a_large_toe_but_no_good_fit(quay_loop, made):
    result = bench_result(quay_loop, "quay-loop", made(SETUP, (3.0, 3.0), np.array([-5.0, 0.0, 5.0])), SETUP)
    assert result.advice.toe_told is True
    text = one_line(result)
    assert "can't be told" not in text
    assert "Nothing yet" not in text
    assert "well" not in text
    assert "can't be checked against them, for they are too few or too coarse" in text


def test_many_coarse_pairs_are_not_said_to_fit_well(quay_loop, table):
    rows = [f"{angle + 0.8 * (-1) ** index},{angle},2" for index, angle in enumerate(np.linspace(-8.0, 8.0, 12))]
    result = bench_result(quay_loop, "quay-loop", table("left_deg,right_deg,reading_error_deg", *rows), SETUP)
    assert result.fit.spare_readings >= 8
    assert "turn nothing yet" in one_line(result)
    assert "well" not in words(result)


# Nor was he told that the advised turns make the largest miss worse.


def test_turns_that_make_the_largest_miss_worse_are_warned_of(quay_loop, made):
    file = made(CROSS, (1.8, 0.0), np.linspace(-35, 35, 60), noise_deg=0.1, arms_deg=(2.7, 1.3))
    result = bench_result(quay_loop, "quay-loop", file, CROSS)
    now, after = (state.largest_miss_deg for state in (result.advice.now, result.advice.after))
    assert after > now + 1
    assert abs(result.advice.toe_left_over_deg) < 0.1 < result.advice.now.toe_in_deg
    above, _, below = one_line(result).partition("What to turn")
    assert (
        f"Beware: with the turns below the wheels miss the plan by more in tight turns than now, at most {after:.2f} instead of "
        f"{now:.2f} deg. Straights gain (drag of the toe, below), tight bends lose: so far the wrong rods have hidden part of the "
        "arms' kink, and only new arms mend both."
    ) in above
    assert f"lock to lock deg {now:.2f} {after:.2f} 0.00" in below


def test_no_such_warning_where_the_turns_help(shipped):
    assert shipped.advice.after.largest_miss_deg < shipped.advice.now.largest_miss_deg
    assert "Beware" not in words(shipped)


def test_a_miss_that_grows_without_a_kink_blames_no_arm(shipped):
    advice = replace(shipped.advice, after=replace(shipped.advice.after, largest_miss_deg=2.5))
    grown = replace(shipped, fitted=shipped.fitted[:1], advice=advice)
    assert "at most 2.50 instead of 2.31 deg. Straights gain (drag of the toe, below), tight bends lose. What to turn" in one_line(grown)


def test_rods_far_out_and_bounds_are_warned_of(quay_loop, made):
    out = bench_result(quay_loop, "quay-loop", made(SETUP, (0.0, 0.0), np.linspace(-50, 50, 30), noise_deg=0.1), SETUP)
    advice = replace(out.advice, longer_than_drawn_turns={"left_rod": 3.0, "right_rod": 0.2})
    text = one_line(replace(out, advice=advice, fitted=(replace(out.fitted[0], bound_hit=True), *out.fitted[1:])))
    assert "Warning: unscrewed from the drawn length in all: left rod 3.0 turns. Count the turns still inside before you drive." in text
    assert "Warning: a value ran into its bound" in text
    assert "+-30, HIT" in text


def test_scattered_readings_widen_the_errors(quay_loop, made):
    file = made(SETUP, (1.0, 1.0), np.linspace(-50, 50, 30), noise_deg=1.5)
    result = bench_result(quay_loop, "quay-loop", file, SETUP)
    assert result.fit.verdict == "readings scatter more than said"
    assert result.fit.errors_widened
    assert result.fit.residual_rms_deg == pytest.approx(1.5, rel=0.35, abs=0)
    assert "they scatter more than said, so the errors are widened" in one_line(result)


def test_bootstrap_intervals(quay_loop, made, monkeypatch):
    from sim.bench import result as made_of

    spread = np.linspace(-1, 1, 41)
    monkeypatch.setattr(made_of, "repeated_fits", lambda fit: fit.values + np.outer(spread, np.sqrt(np.diag(fit.covariance))))
    result = bench_result(quay_loop, "quay-loop", made(SETUP, (1.0, 1.0), np.linspace(-50, 50, 30), noise_deg=0.5), SETUP, True)
    rod = result.fitted[0]
    # Replicates spread evenly over one standard error to both sides: the middle 95 % of them
    expected = [rod.value_turns - 0.95 * rod.error_turns, rod.value_turns + 0.95 * rod.error_turns]
    assert rod.interval_95_turns == pytest.approx(expected, rel=1e-9, abs=1e-9)
    assert result.interval_method == "bootstrap"
    assert "Intervals are from 200 repetitions of the fit" in words(result)


def test_mirrored_readings_give_mirrored_words(quay_loop, made, table):
    file = made(SETUP, (-2.0, 1.0), np.linspace(-55, 50, 40), noise_deg=0.2, hand=True)
    rows = [list(map(float, row.split(","))) for row in file.read_text(encoding="utf-8").split()[1:]]
    here = bench_result(quay_loop, "quay-loop", file, SETUP)
    other = table("left_deg,right_deg,hand_deg", *(f"{-right:.6f},{-left:.6f},{-hand:.6f}" for left, right, hand in rows))
    there = bench_result(quay_loop, "quay-loop", other, SETUP)
    values = [
        {one.name: one.value_turns if isinstance(one, RodValue) else one.value_deg for one in result.fitted} for result in (here, there)
    ]  # fmt: skip
    swapped = {name.replace("left", "*").replace("right", "left").replace("*", "right"): value for name, value in values[0].items()}
    assert values[1] == pytest.approx(swapped, rel=0, abs=1e-5)
    assert there.advice.turns["left_rod"] == here.advice.turns["right_rod"]


# Refusals


def refusal(*call):
    with pytest.raises(InputError) as refused:
        bench_result(*call)
    return str(refused.value)


def test_which_set_up_was_measured(quay_loop, table):
    file = table("left_deg,right_deg", "1,1")
    call = (quay_loop, "quay-loop", file)
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


def test_the_only_set_up_with_rods_needs_no_name(quay_loop, table):
    one = quay_loop.model_copy(update={"setup": (quay_loop.setup[0], quay_loop.setup[5])})
    assert bench_result(one, "quay.toml", table("left_deg,right_deg", "1,1")).setup == SETUP
    none = quay_loop.model_copy(update={"setup": quay_loop.setup[:1]})
    assert refusal(none, "quay.toml", table("left_deg,right_deg", "1,1")) == (
        f"quay.toml: no set-up has rods and arms to set; add the one that was built, with {kinds_with_rods()}"
    )


def test_refusals_name_file_and_line(quay_loop, table):
    file = table("left_deg,right_deg", "1,1", "72,20")
    assert refusal(quay_loop, "quay-loop", file, SETUP).startswith(f"{file}: line 3: the left wheel cannot stand so (72 and 20 degrees)")
    assert refusal(quay_loop, "quay-loop", "none.csv", SETUP) == "none.csv: there is no such file; check the name and the folder"
