"""Set-ups compared: those that cannot follow end with their reason while others go on; the same run gives the same bytes."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from sim.lap.drive import Ended
from sim.lap.ladder import Model
from sim.lap.state import Extreme, State
from sim.scenario.file import find_scenario, load_scenario, shipped_names
from sim.study.compare import EndCause, Runs, _why, compare
from sim.study.ready import car_of, course_of
from sim.study.summary import summary
from viz.run.report import sliding_lines
from viz.shared.plain import plain

SCENARIO = """
title = "tried"
[car]
mass_kg = 145
wheelbase_mm = 1500
front_track_mm = {track}
rear_track_mm = {track}
kingpin_track_mm = 440
mass_centre_behind_front_axle_mm = 820
mass_centre_height_mm = {height}
yaw_inertia_kg_m2 = 38
wheel_radius_mm = 203
drive = "{drive}"
[car.tyre]
friction = {friction}
[course]
{course}
[pace]
target_m_per_s = 6.0
lateral_limit_m_per_s2 = {lateral}
drive_power_W = {power}
[[setup]]
name = "ideal"
pivot = "stub axles"
linkage = "ideal"
[[setup]]
name = "small lock"
pivot = "stub axles"
linkage = "ideal"
hand_wheel_limit_deg = 8
[[setup]]
name = "turntable"
pivot = "turntable"
"""
BEND = "segments = [{straight_m = 20}, {radius_m = 8, turn_deg = 90}, {straight_m = 20}]"
USUAL = {"track": 900, "height": 330, "drive": "one wheel left", "friction": 0.9, "course": BEND, "lateral": 3.0, "power": 600}
WHERE = r"after \d+\.\d s, \d+ m into the lap"


@pytest.fixture
def compared(scenario_of, tmp_path):
    """Results by name of a scenario with changed figures."""

    def run(rung=Model.SLIPPING_FOUR_WHEELS, **changes):
        comparison = compare(scenario_of(SCENARIO.format(**USUAL | changes)), tmp_path, "tried.toml", rung)
        return {result.name: result for result in (*comparison.results, comparison.reference)}

    return run


def test_a_car_that_spins_by_itself_is_told_so():
    """Rear tyres a third as stiff as the front ones, on a straight: no bend asks for grip there."""
    scenario = load_scenario(find_scenario("first-bend"))
    soft = scenario.car.tyre.model_copy(update={"cornering_stiffness_per_rad": 4.0})
    changed = scenario.model_copy(update={
        "car": scenario.car.model_copy(update={"rear_tyre": soft}), "setup": scenario.setup[:1],
        "pace": scenario.pace.model_copy(update={"target_m_per_s": 13.0, "drive_power_W": 3000.0, "lateral_limit_m_per_s2": 20.0}),
    })  # fmt: skip
    (result,) = compare(changed, Path(), "first-bend").results
    # sqrt(-g l / K) with K = 1/14 - 1/4, the textbook's critical speed: 9.08 m/s
    assert (result.ended, result.cause) == (Ended.OFF_COURSE, EndCause.SPINS)
    assert "its rear tyres give way sooner than the front ones, and from 9.1 m/s on such a car spins by itself" in result.reason


@pytest.mark.compiled
@pytest.mark.parametrize("seeking", [False, True])
def test_progress_counts_every_lap_once(monkeypatch, seeking):
    """From none done to one less than all: best paces, laps, the one without toe, and what the losses are worth."""
    scenario = load_scenario(find_scenario("first-bend"))
    toed = scenario.setup[1].model_copy(update={"name": "toed", "toe_in_deg": 0.5})
    target = "furthest" if seeking else 3.0
    scenario = scenario.model_copy(update={
        "setup": (scenario.setup[0], toed), "pace": scenario.pace.model_copy(update={"target_m_per_s": target})})  # fmt: skip
    monkeypatch.setattr(Runs, "furthest", lambda *_: (3.0, 100.0))
    told = []
    compare(scenario, Path(), "first-bend", progress=lambda done, of, name: told.append((done, of)))
    laps = 3 * (2 if seeking else 1) + 1 + 1
    assert {of for _, of in told} == {laps}
    assert [done for done, _ in told] == [0, *range(laps)]


@pytest.mark.parametrize(("front", "rear", "share", "cause"), [
    (14.0, 4.0, 0.8, EndCause.SPINS), (14.0, 4.0, 0.7, EndCause.GRIP),
    (4.0, 14.0, 1.2, EndCause.GRIP), (14.0, 12.0, 1.2, EndCause.SPINS), (12.0, 14.0, 1.2, EndCause.GRIP),
])  # fmt: skip
def test_only_a_car_whose_rear_gives_way_first_spins_by_itself(front, rear, share, cause):
    """At a share of the textbook's critical or characteristic speed (from memory) a car slides off the line of a straight."""
    scenario = load_scenario(find_scenario("first-bend"))
    tyres = [scenario.car.tyre.model_copy(update={"cornering_stiffness_per_rad": stiffness}) for stiffness in (front, rear)]
    changed = scenario.car.model_copy(update=dict(zip(("tyre", "rear_tyre"), tyres, strict=True)))
    car = car_of(scenario.model_copy(update={"car": changed}))
    end = np.zeros(len(State))
    end[State.VX] = share * np.sqrt(9.80665 * 1.5 / abs(1 / front - 1 / rear))
    lap = SimpleNamespace(ended=Ended.OFF_COURSE, time=3.0, end=end, extremes=np.zeros(len(Extreme)))
    table = SimpleNamespace(lock_left=0.6, lock_right=-0.6)
    course = course_of(scenario, Path(), "first-bend")
    assert _why(lap, car, table, course)[0] == cause


@pytest.mark.compiled
def test_a_lap_that_stands_at_its_lock_says_so():
    """3 m asks for atan(1.5 / sqrt(3^2 - 0.68^2)) = 27.2 degrees, and a driver for a little more where the bend begins."""
    scenario = load_scenario(find_scenario("car-park"))
    setups = tuple(scenario.setup[0].model_copy(update={"name": name, "hand_wheel_limit_deg": limit})
                   for name, limit in (("just", 27.1), ("ample", 60.0)))  # fmt: skip
    comparison = compare(scenario.model_copy(update={"setup": setups}), Path(), "car-park")
    just, ample = comparison.results
    assert just.finished
    assert ample.at_lock == 0.0
    # Most of both bends, two half circles of 9.4 m at 1.4 m/s
    assert 6.0 < just.at_lock < 2 * np.pi * 3.0 / 1.4
    lock = just.trace.hand.max()
    assert just.at_lock == pytest.approx(0.02 * np.count_nonzero(just.trace.hand > lock - 1e-3), rel=0, abs=0.021)
    line = f'Warning: "just" stands at the end of its usable lock for {just.at_lock:.1f} s of the lap'
    assert [told.startswith(line) for told in sliding_lines((just, ample), comparison.car)] == [True]


@pytest.mark.compiled
def test_a_lock_too_small_ends_alone(compared):
    results = compared()
    assert {name: result.finished for name, result in results.items()} == {
        "ideal": True, "small lock": False, "turntable": True, "ideal steering, no toe": True,
    }  # fmt: skip
    short = results["small lock"]
    assert re.fullmatch(rf"runs 2 m off the line {WHERE}: at full lock \(8 deg\) it does not turn enough", short.reason)
    assert short.cause == EndCause.LOCK
    assert short.ledger is None
    assert np.isnan(short.geometry_cost)
    assert 20.0 < short.distance < 45.0
    assert results["ideal"].geometry_cost == 0.0
    assert (results["ideal"].cause, results["ideal"].reason) == (EndCause.NONE, "")


@pytest.mark.parametrize("drive", ["one wheel left", "solid axle"])
def test_a_high_narrow_car_tips(compared, drive):
    for result in compared(track=500, height=900, friction=2.0, lateral=6.0, drive=drive).values():
        assert not result.finished
        assert re.fullmatch(rf"tips over {WHERE}", result.reason)
        assert result.cause == EndCause.TIPPED
        assert result.least_load == 0.0
        assert 15.0 < result.distance < 33.0  # in the bend or just before, where the hands turn in


@pytest.mark.parametrize("drive", ["one wheel left", "solid axle"])
def test_a_slippery_road(compared, drive):
    results = compared(friction=0.1, drive=drive)
    for name in ("ideal", "turntable"):
        assert not results[name].finished
        remedy = "lower pace.lateral_limit_m_per_s2 or the target"
        assert re.fullmatch(rf"slides 2 m off the line {WHERE}: not enough grip for this pace; {remedy}", results[name].reason)
        assert results[name].cause == EndCause.GRIP


@pytest.mark.compiled
@pytest.mark.parametrize("drive", ["one wheel left", "solid axle"])
def test_a_hill_too_steep(compared, tmp_path, drive):
    station = np.arange(0.0, 121.0, 2.0)
    rows = [f"{x},0,{0.15 * max(x - 30.0, 0.0)}" for x in station]
    (tmp_path / "hill.csv").write_text("\n".join(["x_m,y_m,z_m", *rows]))
    for result in compared(course='file = "hill.csv"', power=60, drive=drive).values():
        assert not result.finished
        assert re.fullmatch(rf"comes to a halt {WHERE}: not enough power", result.reason)
        assert result.cause == EndCause.STALLED
        assert 20.0 < result.distance < 60.0
        assert result.time < 120.0
    assert all(result.finished for result in compared(course='file = "hill.csv"', power=400, drive=drive).values())


@pytest.mark.target("T23", what="The same scenario twice, on every rung: the same bytes", asked="equal")
@pytest.mark.slow
@pytest.mark.parametrize("rung", list(Model))
def test_same_scenario_twice_gives_the_same_bytes(scenario_of, tmp_path, rung):
    texts = []
    for _ in range(2):
        scenario = scenario_of(SCENARIO.format(**USUAL).replace("hand_wheel_limit_deg = 8", "toe_in_deg = 0.5"))
        texts.append(json.dumps(plain(summary(compare(scenario, tmp_path, "tried.toml", rung))), allow_nan=False))
    assert texts[0] == texts[1]
    assert json.loads(texts[0])["model"] == rung.label


@pytest.mark.compiled
@pytest.mark.target("T19", what="The order of the set-ups has no effect", asked="identical")
def test_order_of_the_setups_has_no_effect(scenario_of, tmp_path):
    text = SCENARIO.format(**USUAL).replace("hand_wheel_limit_deg = 8", "toe_in_deg = 0.5")
    head, *setups = text.split("[[setup]]")
    turned = "[[setup]]".join([head, *reversed(setups)])
    one, other = (summary(compare(scenario_of(each), tmp_path, "tried.toml")) for each in (text, turned))
    assert one.setups == other.setups[::-1]
    assert one.reference == other.reference


COUNTED = """
import sys, tomllib
import sim.lap.drive
from pathlib import Path
calls = 0
rate = sim.lap.drive.lap_rate
def counted(*words):
    global calls
    calls += 1
    rate(*words)
sim.lap.drive.lap_rate = counted
from sim.scenario.file import check_scenario
from sim.study.compare import compare
scenario = check_scenario(tomllib.loads(sys.argv[1]), "tried.toml")
found = compare(scenario, Path(), "tried.toml")
print(calls, len(found.results), found.plan.time)
"""
LAPS_IN_BUDGET = 36  # as counted when this test was written: five laps, the laps of the equivalents, and finer steps where asked for
SETUP = '[[setup]]\nname = "{share}"\npivot = "stub axles"\nlinkage = "fraction"\nfraction = {share}\n'


@pytest.mark.target(
    "T27", what="Right-hand sides that a run of four set-ups computes, with its equivalents, counted in laps of 10 ms steps",
    asked="at most twice the 36 that were counted first",
)  # fmt: skip
def test_a_run_computes_no_more_right_hand_sides_than_its_laps_take(within_target):
    """Kernels as plain Python, so that each call can be counted; a budget of seconds would fail on a busy machine."""
    text = SCENARIO.format(**USUAL | {"course": "segments = [{straight_m = 2}, {radius_m = 8, turn_deg = 20}]"})
    text = text.partition("[[setup]]")[0] + "".join(SETUP.format(share=share) for share in (0.2, 0.4, 0.6, 0.8))
    done = subprocess.run(
        [sys.executable, "-c", COUNTED, text], env=os.environ | {"NUMBA_DISABLE_JIT": "1"}, capture_output=True, text=True, check=True
    )
    calls, setups, seconds = map(float, done.stdout.split())
    assert setups == 4
    laps = calls / (400 * seconds)
    assert laps > 5  # four set-ups and the reference; else some were not counted
    within_target(laps, at_most=2 * LAPS_IN_BUDGET, of="laps")


@pytest.mark.slow
def test_the_ladder_on_one_course(scenario_of, tmp_path):
    # Each rung adds: no scrub, then side-force scrub; geometry alone; both.  The reference has no geometry cost on any.
    text = SCENARIO.format(**USUAL).replace("hand_wheel_limit_deg = 8", "toe_in_deg = 1.0")
    scrub = {}
    for rung in Model:
        comparison = compare(scenario_of(text), tmp_path, "tried.toml", rung)
        assert all(result.finished for result in comparison.results)
        scrub[rung] = {result.name: result.ledger.scrub for result in comparison.results if result.ledger}
    assert set(scrub[Model.ROLLING_BICYCLE].values()) == {0.0}
    # One model of the bicycle for all: it knows no toe
    two = scrub[Model.SLIPPING_BICYCLE]
    assert two["small lock"] == pytest.approx(two["ideal"], rel=1e-3, abs=0)
    assert two["ideal"] > 50.0
    three = scrub[Model.ROLLING_FOUR_WHEELS]
    assert three["ideal"] < 1e-6
    toe = 2 * 14 * 145 * 9.81 * 0.68 / 1.5 / 2 * np.radians(1.0) ** 2
    assert three["small lock"] == pytest.approx(toe * (40 + 4 * np.pi), rel=0.02, abs=0)
    four = scrub[Model.SLIPPING_FOUR_WHEELS]
    # On the road the two add up, but for the load transfer's 4 C_o C_i / (C_o + C_i)^2 in the bend.
    assert four["small lock"] - four["ideal"] == pytest.approx(three["small lock"], rel=0.1, abs=0)


@pytest.mark.compiled
@pytest.mark.parametrize("name", [name for name in shipped_names() if name != "race-day"])  # the quay's line again, many times
def test_shipped_scenarios_are_followed(name):
    # Seen: within 0.10 m of the line everywhere, within 0.05 m by root mean square; times within 1 % of the plan's.
    path = find_scenario(name)
    comparison = compare(load_scenario(path), Path(path).parent, name)
    for result in (*comparison.results, comparison.reference):
        assert result.finished, f"{result.name}: {result.reason}"
        assert result.error_max < 0.12
        assert result.error_rms < 0.06
        assert result.time == pytest.approx(comparison.plan.time, rel=0.01, abs=0)
        assert result.ledger is not None
        assert abs(result.ledger.residual) <= 1e-6
    json.dumps(plain(summary(comparison)), allow_nan=False)
