"""The study with laps, and what it says: the same draws for all set-ups, the same answer by any number of workers, words and numbers."""

import json
import random
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text
from rich.console import Console

import sim.spread.run
import sim.study.compare
import sim.study.jobs
from sim.errors import InputError
from sim.scenario.file import check_scenario, find_scenario, load_scenario
from sim.scenario.uncertainty import numbers_of
from sim.spread.findings import best_pairs, is_small, leading
from sim.spread.inputs import NORMAL, PLAY, UNIFORM, Input, drawn, inputs_of, laps_of, unit_points
from sim.spread.run import FIGURES, PairSpread, SetupSpread, Shares, Spread, spread
from sim.spread.statistics import Estimate, Interval
from sim.study.jobs import BLOCK, COLUMNS, Job, drive_jobs
from sim.study.ready import course_of
from sim.study.workers import Workers
from viz.shared.brief import MOST_LINES, height
from viz.spread.brief import spread_brief
from viz.spread.numbers import spread_result
from viz.spread.plot import write_spread_plot
from viz.spread.report import finding, number_words, spread_report

# The car of the small scenario, with a differential.
YARD = Path(__file__).parents[1] / "scenarios" / "yard.toml"
CAR = YARD.read_text(encoding="utf-8").partition("[course]")[0].replace("one wheel left", "differential")
TEXT = (
    CAR
    + """
[course]
segments = [{straight_m = 5}, {radius_m = 8, turn_deg = 60}]
[pace]
target_m_per_s = 5.0
[[setup]]
name = "ideal"
pivot = "stub axles"
linkage = "ideal"
[[setup]]
name = "parallel"
pivot = "stub axles"
linkage = "parallel"
[uncertainty]
"car.tyre.cornering_stiffness_per_rad" = 3.0
"car.mass_kg" = 10
"setup.parallel.toe_in_deg" = 0.3
"""
)
HERE = Path()


@pytest.fixture(scope="module")
def scenario():
    return check_scenario(tomllib.loads(TEXT), "tried.toml")


@pytest.fixture(scope="module")
def small(scenario):
    """A study of few draws."""
    return spread(scenario, HERE, "tried.toml", samples=32)


# --- laps -------------------------------------------------------------------------------------------------------------


@pytest.mark.compiled
def test_every_set_up_meets_the_same_draws(scenario, small):
    """Against laps of scenarios that are written by hand from the draws' values."""
    inputs = inputs_of(scenario, False, "tried.toml")
    values, _ = drawn(inputs, next(unit_points(32, len(inputs), 0))[0])
    course = course_of(scenario, HERE, "tried.toml")
    jobs = []
    for row in values:
        data = tomllib.loads(TEXT)
        drawn_here = dict(zip([one.path for one in inputs], map(float, row), strict=True))
        data["car"] |= {
            "mass_kg": drawn_here["car.mass_kg"],
            "tyre": {"cornering_stiffness_per_rad": drawn_here["car.tyre.cornering_stiffness_per_rad"]},
        }  # fmt: skip
        data["setup"][1]["toe_in_deg"] = drawn_here["setup.parallel.toe_in_deg"]
        written = check_scenario(data, "tried.toml")
        jobs += [Job(written, 0, 5.0), Job(written, 1, 5.0)]
    work = drive_jobs(course, jobs, Workers())[:, COLUMNS.index("drive_work_J")].reshape(32, 2)
    (pair,) = small.pairs
    assert small.setups[0].figures[0].middle.value == pytest.approx(np.median(work[:, 0]), rel=1e-12, abs=0)
    assert pair.gain.middle.value == pytest.approx(np.median(work[:, 1] - work[:, 0]), rel=1e-12, abs=0)
    assert pair.chance.value == np.mean(work[:, 0] < work[:, 1])


@pytest.mark.compiled
def test_same_bytes_by_one_worker_or_two(scenario, small):
    one = json.dumps(spread_result(small))
    assert one == json.dumps(spread_result(spread(scenario, HERE, "tried.toml", samples=32, workers=Workers(threads=2))))
    assert one != json.dumps(spread_result(spread(scenario, HERE, "tried.toml", samples=32, seed=1)))


@pytest.mark.compiled
def test_a_finer_study_takes_up_the_laps_of_a_coarser_one(scenario, tmp_path, monkeypatch):
    driven = []
    original = sim.study.jobs._figures
    monkeypatch.setattr(sim.study.jobs, "_figures", lambda *of: driven.append(1) or original(*of))
    ideal = scenario.model_copy(update={"setup": scenario.setup[:1], "uncertainty": {"car.mass_kg": 10.0}})
    coarse = spread(ideal, HERE, "tried.toml", samples=BLOCK, store=tmp_path)
    assert len(driven) == BLOCK
    assert spread(ideal, HERE, "tried.toml", samples=BLOCK, store=tmp_path) == coarse
    assert len(driven) == BLOCK
    spread(ideal, HERE, "tried.toml", samples=2 * BLOCK, store=tmp_path)
    assert len(driven) == 2 * BLOCK


@pytest.mark.compiled
def test_stopped_study_goes_on_where_it_stopped(scenario, small, tmp_path, monkeypatch):
    def stop(done, of, word):
        if done:
            raise KeyboardInterrupt

    monkeypatch.setattr(sim.spread.run, "BLOCK", 16)
    with pytest.raises(KeyboardInterrupt):
        spread(scenario, HERE, "tried.toml", samples=32, store=tmp_path, progress=stop)
    assert len(list(tmp_path.glob("*.npy"))) == 1
    told = []
    again = spread(scenario, HERE, "tried.toml", samples=32, store=tmp_path, progress=lambda done, of, word: told.append((done, of)))
    assert again == small
    assert told[:2] == [(0, 64), (16, 64)]
    assert told[-1] == (64, 64)


@pytest.mark.compiled
def test_design_drives_no_lap_twice(scenario):
    """Of a Saltelli design with 2 shared numbers and 1 of the second set-up, the first set-up needs 4 sets, the second 5."""
    study = spread(scenario, HERE, "tried.toml", samples=16, sobol=True)
    assert study.laps == 16 * (4 + 5)
    assert set(study.setups[0].shares.total) == {0, 1}
    assert set(study.pairs[0].shares.total) == {0, 1, 2}
    toe = study.inputs[2]
    assert (toe.path, toe.setup) == ("setup.parallel.toe_in_deg", 1)
    # Parallel wheels with 0.3 degree of toe: drag 2 C e^2 along the way is what tells the two apart.
    assert study.pairs[0].shares.total[2].value > 0.5


@pytest.mark.compiled
def test_uncertain_pace_is_driven(scenario):
    paced = scenario.model_copy(update={"uncertainty": {"pace.target_m_per_s": 1.0}})
    times = spread(paced, HERE, "tried.toml", samples=16).setups[0].figures[FIGURES.index("lap_time_s")]
    assert times.high.value / times.low.value > 1.2


@pytest.mark.compiled
def test_lap_that_fails_is_counted(scenario):
    slippery = scenario.model_copy(update={"uncertainty": {"car.tyre.friction": 0.12}, "pace": scenario.pace.model_copy(
        update={"lateral_limit_m_per_s2": 3.5})})  # fmt: skip
    slippery = slippery.model_copy(update={"car": slippery.car.model_copy(
        update={"tyre": slippery.car.tyre.model_copy(update={"friction": 0.25})})})  # fmt: skip
    study = spread(slippery, HERE, "tried.toml", samples=32)
    assert 0 < study.setups[0].finished < 1
    assert study.pairs[0].draws < 32
    text = printed(spread_report(study))
    assert f'"ideal" does not get round in {100 * (1 - study.setups[0].finished):.0f} % of the draws' in text
    assert f'"ideal" does not get round in {100 * (1 - study.setups[0].finished):.0f} % of the tries' in printed(spread_brief(study, ()))


@pytest.mark.parametrize(
    ("keys", "line"),
    [
        ({"samples": 300}, "--samples: 300 is not a power of two from 16 to 131072; draws are spread evenly; 256 is usual, 1024 is finer"),
        ({"samples": 8}, "--samples: 8 is not a power of two from 16 to 131072; draws are spread evenly; 256 is usual, 1024 is finer"),
        ({"samples": 0}, "--samples: 0 is not a power of two from 16 to 131072; draws are spread evenly; 256 is usual, 1024 is finer"),
        ({"seed": -1}, "--seed: -1 is below 0; give a whole number"),
    ],
)
def test_bad_option_is_refused(scenario, keys, line):
    with pytest.raises(InputError) as caught:
        spread(scenario, HERE, "tried.toml", **keys)
    assert str(caught.value) == line


@pytest.mark.compiled
def test_race_day_drives_at_the_pace_that_gets_furthest(monkeypatch):
    path = find_scenario("race-day")
    race = load_scenario(path, "race-day")
    race = race.model_copy(update={"setup": race.setup[:1]})
    monkeypatch.setattr(sim.study.compare.Runs, "furthest", lambda *of: (5.5, 1.0))  # the search itself is tested elsewhere
    study = spread(race, path.parent, "race-day", samples=16, literature=True)
    assert study.target == 5.5
    for key in ("battery_Wh", "laps_per_charge", "race_distance_m"):
        assert spread_result(study)["setups"][0][key]["low"] > 0


# --- words ------------------------------------------------------------------------------------------------------------


def interval(low, middle, high):
    return Interval(*(Estimate(value, 0.5) for value in (low, middle, high)))


def figures(low, middle, high, rolling=1000.0):
    found = {"drive_work_J": interval(low, middle, high), "scrub_J": interval(10, 20, 30), "rolling_J": interval(rolling, rolling, rolling)}
    return tuple(found.get(key) for key in FIGURES)


def study_of(gain, chance, share=0.61, rolling=1000.0):
    """A made-up study of two set-ups and two inputs."""
    inputs = (
        Input("car.tyre.cornering_stiffness_per_rad", None, NORMAL, 12.0, 3.0, 1.0, 60.0),
        Input("setup.parallel.free_play_deg", 1, PLAY, 0.0, 0.4, -0.4, 0.4),
    )
    shares = Shares({0: Estimate(share, 0.05), 1: Estimate(0.95 - share, 0.04)}, None, 512)
    return Spread(
        title="made up", names=("ideal", "parallel"), inputs=inputs, clipped=(0.021, 0.0), samples=512, seed=0, laps=1024, target=5.0,
        closed=True,
        setups=(SetupSpread(1.0, figures(600, 1100, 1600, rolling), None), SetupSpread(1.0, figures(610, 1131, 1610, rolling), None)),
        pairs=(PairSpread(0, 1, 512, gain, Estimate(chance, 0.01), shares),),
    )  # fmt: skip


def alone(study):
    """The same study of the first set-up only."""
    return replace(study, names=study.names[:1], setups=study.setups[:1], pairs=(), inputs=study.inputs[:1], clipped=study.clipped[:1])


def printed(report):
    console = Console(width=200, highlight=False, markup=False)
    with console.capture() as captured:
        for one in report:
            console.print(one)
    return captured.get()


def test_finding_in_words():
    assert finding(study_of(interval(12, 31, 55), 0.97))[0] == (
        '"ideal" beats "parallel" in 97 % of 512 draws; the gain is 31 J (95 %: 12 to 55 J) a lap; what matters most: the tyre\'s '
        "cornering stiffness (61 %). That is small: as much as 3.1 % more rolling resistance. Look after tyre pressure first."
    )


def test_finding_of_a_large_gain_and_of_a_sure_one():
    assert finding(study_of(interval(12, 31, 55), 1.0, share=0.3, rolling=200.0))[0] == (
        '"ideal" beats "parallel" in all 512 draws; the gain is 31 J (95 %: 12 to 55 J) a lap; what matters most: the free play of the '
        'joints of "parallel" (65 %). That is as much as 16 % more rolling resistance.'
    )


def test_other_gains_are_small_only_where_their_ends_are():
    """By the upper end of the interval, not by its middle."""
    study = study_of(interval(100, 120, 150), 1.0)
    setups, shares = (*study.setups, study.setups[1]), study.pairs[0].shares
    for gain, words in (
        (interval(1, 7, 40), "the gain is small: at most about 40.0 J, in the middle 7.0 J (0.7 % of the rolling resistance)."),
        (interval(1, 7, 150), "the gain is 7.0 J (95 %: 1.0 to 150.0 J); what matters most: the tyre's cornering stiffness (61 %)."),
    ):
        pair = PairSpread(0, 2, 512, gain, Estimate(0.99, 0.01), shares)
        made = replace(study, names=(*study.names, "third"), setups=setups, pairs=(*study.pairs, pair))
        assert f'Against "third" {words}' in finding(made)


def shares_of(*estimates, total=None):
    return Shares({index: Estimate(*one) for index, one in enumerate(estimates)}, total, 512)


@pytest.mark.parametrize(
    ("shares", "named"),
    [
        (shares_of((0.61, 0.05), (0.34, 0.04)), [0]),
        (shares_of((0.28, 0.22), (0.21, 0.17)), [0, 1]),  # either may be the first
        (shares_of((0.21, 0.17), (0.28, 0.22)), [1, 0]),
        (shares_of((0.9, 1.69), (0.0, 0.1)), []),  # so few draws say nothing
        (shares_of((0.3, 0.1), (0.28, 0.1), (0.27, 0.1)), []),
        (shares_of((0.1, 0.02), (0.2, 0.02), total={0: Estimate(0.8, 0.05), 1: Estimate(0.3, 0.05)}), [0]),
    ],
)
def test_only_what_the_draws_can_rank_is_named(shares, named):
    assert leading(shares) == named


def test_finding_where_nothing_can_be_ranked():
    study = study_of(interval(12, 31, 55), 0.97)
    pair = replace(study.pairs[0], shares=shares_of((0.9, 1.69), (0.1, 1.2)))
    made = replace(study, pairs=(pair,))
    assert "; which number matters most can't be told from so few draws. That is" in finding(made)[0]
    assert printed(spread_report(made)).count("not sure") == 2


def test_a_sure_but_small_gain_is_told_apart_in_sign_alone():
    small, large = study_of(interval(2, 5, 8), 1.0), study_of(interval(12, 31, 55), 1.0)  # of 1100 J
    assert [is_small(one, one.pairs[0]) for one in (small, large)] == [True, False]
    words = "under 1 % of the drive work no team can measure"
    text = printed(spread_report(small))
    assert ("in sign" in text, words in text) == (True, True)
    assert words not in printed(spread_report(large))
    assert words not in printed(spread_report(study_of(interval(-2, 5, 8), 0.7)))


def test_finding_where_the_interval_holds_zero():
    assert finding(study_of(interval(-4.2, 1.3, 7.0), 0.71))[0].startswith(
        '"ideal" and "parallel" can\'t be told apart: the difference is 1.3 J (95 %: -4.2 to 7.0 J) a lap, which holds zero; '
    )


def test_what_steps_and_rounding_make_is_no_difference():
    """A straight was told to have a gain of 0.0000000043 J, in a table of more than 80 columns."""
    study = study_of(interval(1e-10, 4.3e-9, 6e-9), 1.0)
    same = '"parallel" needs the same drive work as "ideal" a lap in these draws'
    assert finding(study)[0] == f"{same}: here the steering makes no difference."
    told = printed(spread_brief(study, ()))
    assert "0.000" not in told
    assert "wins" not in told
    assert "0.0000000" not in printed(spread_report(study))
    mixed = three_set_ups(interval(1e-10, 4.3e-9, 6e-9), interval(60, 90, 120), 0)
    assert "no difference" in printed(spread_brief(mixed, ()))
    assert sum("here the steering makes no difference" in line for line in finding(mixed)) == 1
    # The sign is no matter, nor is a figure just above.
    assert "makes no difference" in finding(study_of(interval(-6e-9, -4.3e-9, 1e-9), 0.4))[0]
    assert "makes no difference" not in finding(study_of(interval(0.001, 0.002, 0.003), 1.0))[0]


@pytest.mark.parametrize(("gain", "advised"), [(interval(12, 31, 55), True), (interval(2, 5, 8), False), (interval(-2, 5, 8), False)])
def test_nothing_is_to_be_measured_for_what_nobody_can_tell_apart(gain, advised):
    """A difference that was called tiny came with the advice to measure the mass, to be surer of it."""
    told = printed(spread_brief(study_of(gain, 0.99), ()))
    assert ("to be surer, measure" in told) == advised
    assert ("no measuring makes so small a difference count" in told) != advised


def test_finding_says_what_acts_together():
    assert ", and 30 % comes from" not in finding(study_of(interval(12, 31, 55), 0.97))[0]
    study = study_of(interval(12, 31, 55), 0.97)
    shares = Shares({0: Estimate(0.4, 0.05), 1: Estimate(0.1, 0.04)}, None, 512)
    made = PairSpread(0, 1, 512, study.pairs[0].gain, study.pairs[0].chance, shares)
    text = finding(replace(study, pairs=(made,)))[0]
    assert "(40 %), and 50 % comes from inputs that act together." in text


def test_finding_of_one_set_up_and_of_none():
    study = study_of(interval(12, 31, 55), 0.97)
    one = alone(study)
    assert finding(one) == ['"ideal" needs 1100 J (95 %: 600 to 1600 J) of drive work a lap.']
    failed = tuple(SetupSpread(0.0, (None,) * len(FIGURES), None) for _ in range(2))
    none = replace(study, setups=failed, pairs=(PairSpread(0, 1, 0, None, None, None),))
    assert finding(none) == ["No set-up gets round this course in enough draws for any figure."]
    for made in (one, none, study):
        assert printed(spread_report(made))
        plain = printed(spread_brief(made, ()))
        assert "draws" not in plain
        assert ("Doubt:" in plain, "add --explain" in plain) == (True, True)
        assert sum(map(height, spread_brief(made, ()))) <= MOST_LINES
        json.dumps(spread_result(made), allow_nan=False)


def test_report_says_what_it_rests_on():
    text = printed(spread_report(study_of(interval(12, 31, 55), 0.97)))
    assert "512 draws, each with the same car, tyres and air for all set-ups; 1024 laps driven; seed 0." in text
    assert "12 +- 3" in text
    assert "each wheel within +- 0.4" in text
    assert "A +- is the half width that holds 95 % of a normal distribution." in text
    assert "car.tyre.cornering_stiffness_per_rad: 2.1 % of its draws lay beyond what the key allows and were set to the bound." in text
    assert "Sampling error of the largest gain, 95 %: 0.50 J in its middle, 0.50 J at its ends, 1 % of its wins, 5 % of its shares" in text


@pytest.mark.parametrize(
    ("path", "setup", "words"),
    [
        ("car.mass_kg", None, "the mass"), ("car.mass_centre_height_mm", None, "the mass centre height"),
        ("car.yaw_inertia_kg_m2", None, "the yaw inertia"), ("car.tyre.friction", None, "the tyre's friction"),
        ("car.drag_area_m2", None, "the drag area"), ("pace.lateral_limit_m_per_s2", None, "the lateral limit"),
        ("motor.torque_constant_N_m_per_A", None, "the torque constant"),
        ("setup.parallel.arm_angle_deg", 1, 'the arm angle of "parallel"'),
        ("setup.parallel.rack_mm_per_turn", 1, 'the rack travel a turn of "parallel"'),
    ],
)  # fmt: skip
def test_numbers_in_words(path, setup, words):
    study = study_of(interval(12, 31, 55), 0.97)
    made = replace(study, inputs=(Input(path, setup, UNIFORM, 1.0, 0.5, 0.5, 1.5),))
    assert number_words(made, 0) == words


def test_front_and_rear_tyre_are_told_apart_in_words():
    study = study_of(interval(12, 31, 55), 0.97)
    inputs = tuple(Input(f"car.{tyre}.friction", None, UNIFORM, 0.85, 0.15, 0.7, 1.0) for tyre in ("tyre", "rear_tyre"))
    made = replace(study, inputs=inputs)
    assert [number_words(made, index) for index in (0, 1)] == ["the front tyre's friction", "the rear tyre's friction"]


# --- any unsure numbers -----------------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(40))
def test_any_lawful_numbers_may_be_unsure(seed, tmp_path):
    """Drawn numbers of a drawn shipped car, of any size: figures, or one line that says what is wrong."""
    rng = random.Random(seed)
    path = find_scenario(rng.choice(["first-bend", "car-park", "starter", "quay-loop", "race-day"]))
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    data |= {"course": {"segments": [{"straight_m": 3}, {"radius_m": rng.choice([3, 8]), "turn_deg": rng.choice([20, -40])}]}}
    data["pace"] = {"target_m_per_s": 5.0, "lateral_limit_m_per_s2": 3.0}
    data.pop("race", None)
    data["setup"] = rng.sample(data["setup"], rng.randint(1, min(4, len(data["setup"]))))
    made = check_scenario(data, "drawn.toml")
    numbers = numbers_of(made)
    refused = []
    for name in rng.sample(list(numbers), 6):
        size = abs(numbers[name].value) or 1.0
        half = rng.choice([f"{10 ** rng.uniform(-3, 2.2):.3f} %", size * 10 ** rng.uniform(-4, 0), 10 ** rng.uniform(-2, 2)])
        uncertainty = dict(made.uncertainty) | {name: half}
        try:
            made = check_scenario(data | {"uncertainty": uncertainty}, "drawn.toml")
        except InputError as fault:
            refused.append(str(fault))
    study = None
    try:
        study = spread(
            made, path.parent, "drawn.toml", samples=rng.choice([16, 64]), seed=seed, literature=rng.random() < 0.5,
            sobol=rng.random() < 0.3, against=rng.choice([None, "1", made.setup[-1].name]),
        )  # fmt: skip
    except InputError as fault:
        refused.append(str(fault))
    assert all(line.startswith("drawn.toml: uncertainty") and "\n" not in line for line in refused)
    if study is None:
        return
    assert printed(spread_report(study))
    assert sum(map(height, spread_brief(study, ()))) <= MOST_LINES
    json.dumps(spread_result(study), allow_nan=False)
    write_spread_plot(study, tmp_path / "drawn.png")


# --- against a chosen set-up ------------------------------------------------------------------------------------------


@pytest.mark.compiled
@pytest.mark.parametrize("wanted", ["parallel", "PAR", "2"])
def test_all_are_compared_with_the_one_that_was_asked_for(scenario, small, wanted):
    study = spread(scenario, HERE, "tried.toml", samples=32, against=wanted)
    assert replace(study, against=None) == small  # the draws and laps are the same
    assert (best_pairs(study)[0], best_pairs(small)[0]) == (1, 0)
    (seen,), (pair,) = best_pairs(study)[1], small.pairs
    assert (seen.first, seen.second, seen.gain.middle.value) == (1, 0, -pair.gain.middle.value)
    assert (spread_result(study)["against"], spread_result(small)["against"]) == ("parallel", None)


def test_a_set_up_that_there_is_not_is_refused_before_any_lap(scenario):
    with pytest.raises(InputError) as caught:
        spread(scenario, HERE, "tried.toml", samples=32, against="paralel", progress=lambda *of: pytest.fail("driven"))
    assert str(caught.value) == 'tried.toml: --against: there is no set-up "paralel"; did you mean "parallel"?'


def three_set_ups(of_second, of_third, against):
    """A made-up study of three set-ups: gains of the first over the second and the third, and of the second over the third."""
    study = study_of(of_second, 1.0)
    shares = study.pairs[0].shares

    def pair(first, second, gain):
        return PairSpread(first, second, 512, gain, Estimate(1.0 if gain.low.value > 0 else 0.6, 0.01), shares)

    between = interval(*(one.value for one in (of_third.low, of_third.middle, of_third.high)))
    pairs = (pair(0, 1, of_second), pair(0, 2, of_third), pair(1, 2, between))
    return replace(
        study, names=("ideal", "parallel", "third"), setups=(*study.setups, study.setups[1]), pairs=pairs, against=against
    )  # fmt: skip


def test_finding_against_a_set_up_that_others_beat():
    study = three_set_ups(interval(12, 31, 55), interval(60, 90, 120), 1)
    first, *others = finding(study)
    assert first.startswith('"ideal" beats "parallel" in all 512 draws; the gain is 31 J (95 %: 12 to 55 J) a lap; ')
    assert others[0].startswith('"third" needs 90 J (95 %: 60 to 120 J) more; what matters most: ')
    text = printed(spread_brief(study, ()))
    assert 'The table shows how much more each needs than "parallel"; below 0 it needs less.' in text
    rows = [line.split() for line in text.splitlines() if line.startswith(("ideal ", "third "))]
    assert [(row[0], row[1], row[5]) for row in rows] == [("ideal", "-31", "100"), ("third", "90", "0")]


def test_finding_against_the_best_and_against_one_that_is_level():
    best = finding(three_set_ups(interval(12, 31, 55), interval(60, 90, 120), 0))
    assert best[0] == 'No set-up is sure to need less than "ideal".'
    assert best[1].startswith('"ideal" beats "third" in all 512 draws; the gain is 90 J')
    assert best[2].startswith('"parallel" needs 31 J (95 %: 12 to 55 J) more')
    level = finding(three_set_ups(interval(-3, 1, 5), interval(-2, 2, 6), 1))
    assert level[0] == 'No set-up is sure to need less than "parallel".'
    assert level[1] == '"ideal", "third" can\'t be told apart from "parallel": the interval of the difference holds zero.'


def test_finding_against_a_set_up_that_never_gets_round():
    study = study_of(interval(12, 31, 55), 0.97)
    failed = SetupSpread(0.01, (None,) * len(FIGURES), None)
    made = replace(
        study, setups=(study.setups[0], failed), pairs=(PairSpread(0, 1, 3, None, None, None),), against=1
    )  # fmt: skip
    assert finding(made) == ['"parallel" gets round in too few draws for anything to be compared with it.']
    assert printed(spread_report(made))
    assert printed(spread_brief(made, ()))
    json.dumps(spread_result(made), allow_nan=False)


# --- numbers and picture ----------------------------------------------------------------------------------------------


def test_numbers_for_json(small):
    result = json.loads(json.dumps(spread_result(small), allow_nan=False))
    assert (result["samples"], result["laps_driven"], result["interval_share"]) == (32, 64, 0.95)
    assert result["differences_J"][0][0] is None
    there, back = result["differences_J"][0][1], result["differences_J"][1][0]
    assert (back["low"], back["median"], back["high"]) == (-there["high"], -there["median"], -there["low"])
    chances = result["probability_beats"]
    assert chances[0][1] + chances[1][0] == 1.0
    (pair,) = result["pairs"]
    assert (pair["setup"], pair["against"], pair["gain_J"]["median"]) == ("ideal", "parallel", there["median"])
    assert set(pair["shares"]) == {"car.tyre.cornering_stiffness_per_rad", "car.mass_kg", "setup.parallel.toe_in_deg"}
    assert set(result["setups"][0]["shares"]) == {"car.tyre.cornering_stiffness_per_rad", "car.mass_kg"}
    assert result["setups"][0]["battery_Wh"] is None
    assert result["inputs"][0] == {
        "path": "car.tyre.cornering_stiffness_per_rad", "setup": None, "distribution": "normal", "value": 14.0, "plus_minus": 3.0,
        "low": 11.0, "high": 17.0, "clipped_share": 0.0,
    }  # fmt: skip


def test_best_is_the_set_up_that_gets_round_most_often_then_needs_least():
    study = study_of(interval(12, 31, 55), 0.97)
    assert best_pairs(study)[0] == 0
    failing = (SetupSpread(0.8, study.setups[0].figures, None), study.setups[1])
    best, (pair,) = best_pairs(replace(study, setups=failing))
    assert (best, pair.first, pair.second) == (1, 1, 0)
    assert (pair.gain.low.value, pair.gain.high.value, pair.chance.value) == (-55.0, -12.0, pytest.approx(0.03, abs=1e-12, rel=0))
    assert finding(replace(study, setups=failing))[0].startswith('"ideal" beats "parallel" in 97 %')


@pytest.mark.slow
def test_picture_of_any_study(small, tmp_path):
    study = study_of(interval(12, 31, 55), 0.97)
    odd = replace(study, names=("costs $5_a^b$ {x}", "轮胎 " + "very long name " * 5))
    one = alone(study)
    tiny = three_set_ups(interval(-0.01, 0.02, 0.05), interval(60, 90, 120), 0)
    failed = replace(study, setups=(study.setups[0], SetupSpread(0.0, (None,) * len(FIGURES), None)), pairs=(), against=1)
    for index, made in enumerate((small, odd, one, tiny, failed)):
        first, second = (tmp_path / f"{index}-{copy}.png" for copy in "ab")
        write_spread_plot(made, first)
        write_spread_plot(made, second)
        assert first.read_bytes().startswith(b"\x89PNG")
        assert first.read_bytes() == second.read_bytes()


def drawn_figure(study, tmp_path, monkeypatch):
    """The figure of a study's picture."""
    kept = []
    monkeypatch.setattr(Figure, "savefig", lambda figure, *_, **__: (figure.draw_without_rendering(), kept.append(figure)))
    write_spread_plot(study, tmp_path / "study.png")
    return kept[0]


def test_no_title_of_the_picture_is_cut(tmp_path, monkeypatch):
    """That beside long names of numbers ended at the picture's edge."""
    names = ("ideal with a name of many words that fill all of it", "kinked arms, cross rod, wide brackets and what else is to be told")
    figure = drawn_figure(replace(study_of(interval(12, 31, 55), 0.97), names=names), tmp_path, monkeypatch)
    renderer = figure.canvas.get_renderer()
    titles = [one for one in figure.findobj(Text) if one.get_text().startswith(("What decides", "Drive work compared"))]
    assert len(titles) == 2
    middle = figure.subfigs[1].bbox.x0
    for one in titles:
        box = one.get_window_extent(renderer)
        assert box.x1 <= (figure.bbox.x1 if one.get_text().startswith("What") else middle)
        assert box.x0 >= 0


def test_a_sentence_stands_where_there_is_nothing_to_draw(tmp_path, monkeypatch):
    one = alone(study_of(interval(12, 31, 55), 0.97))
    alike = study_of(interval(1e-10, 4.3e-9, 6e-9), 1.0)
    for made, words in ((one, "There is one set-up alone"), (alike, "there is no difference to draw")):
        figure = drawn_figure(made, tmp_path, monkeypatch)
        (axes,) = figure.subfigs[0].axes
        assert not axes.axison
        assert words in axes.texts[0].get_text().replace("\n", " ")


def test_a_lap_hangs_on_its_own_set_up_alone(scenario):
    inputs = inputs_of(scenario, False, "tried.toml")
    one, other = (laps_of(scenario, [0], inputs, np.array([[12.0, 145.0, toe]]), 5.0) for toe in (0.1, 0.2))
    assert one == other
