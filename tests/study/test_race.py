"""Race distance, the pace that gets furthest, pace policies, wind, everyday equivalents: on whole laps."""

from dataclasses import replace
from math import inf, nan, pi
from types import SimpleNamespace

import numpy as np
import pytest

from sim.car.battery import Battery
from sim.car.chassis import GRAVITY
from sim.car.motor import Motor, steady_force
from sim.course.segments import Arc, Straight, course_from_segments
from sim.lap.drive import Ended, drive_lap
from sim.lap.ledger import ledger_of
from sim.pace.driver import Pace, plan_pace
from sim.pace.policies import POLICIES, plans_for_time
from sim.scenario.file import find_scenario, load_scenario
from sim.study import compare as compare_module
from sim.study.compare import FASTEST_PACE, SLOWEST_PACE, compare, compare_paces
from sim.study.race import Race, furthest_pace, laps_on_charge, race_result
from sim.study.summary import pace_summary

MOTOR = Motor(winding_resistance=0.1, torque_constant=0.1, no_load_current=2.0, current_limit=60.0, gear=29.0, efficiency=0.95,
              regenerates=False)  # fmt: skip
BATTERY = Battery(open_voltage=24.0, internal_resistance=0.02, capacity=9 * 3600.0, rated_time=20 * 3600.0, exponent=1.12, usable_share=0.9)
PACE = Pace(target=6.0, lateral_limit=3.0, braking_limit=1.5, power=600.0)


@pytest.fixture(scope="module")
def oval():
    return course_from_segments([Straight(40), Arc(8, pi), Straight(40), Arc(8, pi)], closed=True, name="oval")


@pytest.fixture(scope="module")
def electric(vehicle):
    car, table = vehicle("standard", car={"drive": "differential"}, linkage="ideal")
    return car._replace(motor=MOTOR, battery=BATTERY), table


def lap_of(electric, course, pace):
    car, table = electric
    lap = drive_lap(car, table, course, plan_pace(course, car, pace))
    assert lap.ended == Ended.FINISHED
    return lap, ledger_of(car, lap)


@pytest.mark.parametrize("freewheel", [False, True])
@pytest.mark.parametrize("regenerates", [False, True])
@pytest.mark.parametrize("drive", range(4))
def test_electrical_ledger_closes(vehicle, oval, drive, regenerates, freewheel):
    """What the battery gave = drive work + copper + no load + gear + battery heat, less what was fed back; both ledgers."""
    car, table = vehicle("standard", linkage="ideal")
    car = car._replace(motor=MOTOR._replace(regenerates=regenerates, freewheel=freewheel), battery=BATTERY, drive=drive)
    _, ledger = lap_of((car, table), oval, PACE)
    assert abs(ledger.residual) < 1e-6
    assert abs(ledger.electric.residual(ledger.drive_work)) < 1e-9
    for loss in (ledger.electric.copper, ledger.electric.no_load, ledger.electric.gear, ledger.electric.battery_heat):
        assert loss > 0
    assert (ledger.electric.regenerated > 0) == regenerates
    assert ledger.electric.used_charge > ledger.electric.charge > 0


def test_regeneration_saves_part_of_what_the_brakes_took(electric, oval):
    car, table = electric
    _, plain = lap_of(electric, oval, PACE)
    _, saving = lap_of((car._replace(motor=MOTOR._replace(regenerates=True)), table), oval, PACE)
    saved = plain.electric.battery - saving.electric.battery
    assert 0.1 * plain.brakes < saved < 0.8 * plain.brakes
    assert saving.brakes + saving.electric.regenerated == pytest.approx(plain.brakes, rel=1e-6, abs=0)


def test_a_weak_motor_drives_slower(electric, oval):
    car, table = electric
    weak = car._replace(motor=MOTOR._replace(current_limit=12.0))
    slow, _ = lap_of((weak, table), oval, PACE)
    fast, _ = lap_of(electric, oval, PACE)
    assert slow.time > 1.05 * fast.time
    # The controller's limit is never passed.
    assert steady_force(weak.motor, 12.0) < 80.0


def test_race_ends_by_what_runs_out_first():
    used = 800.0
    assert race_result(Race(3600.0, inf), 500.0, 90.0, used, BATTERY).ended_by == "charge"
    assert laps_on_charge(used, BATTERY) == pytest.approx(9 * 3600 * 0.9 / used, rel=1e-12, abs=0)
    short = race_result(Race(600.0, inf), 500.0, 90.0, used, BATTERY)
    assert (short.ended_by, short.laps, short.distance, short.time) == ("time", 600 / 90, 500 * 600 / 90, 600.0)
    few = race_result(Race(inf, 3), 500.0, 90.0, used, BATTERY)
    assert (few.ended_by, few.laps, few.time) == ("laps", 3, 270.0)
    assert laps_on_charge(0.0, BATTERY) == inf


@pytest.mark.parametrize(("gear", "fastest"), [(4.0, 24.0 / (0.8 * 4.0)), (0.1, FASTEST_PACE), (1e4, SLOWEST_PACE + 0.1)])
def test_the_furthest_pace_is_sought_up_to_the_speed_at_which_the_motor_idles(monkeypatch, gear, fastest):
    """A motor without load turns until its own voltage is the battery's: 24 V over 0.8 V s, in rad/s (a textbook's direct-current motor,
    from memory), and over the gear's rad/m in m/s; never beyond the fastest pace, and never nothing."""
    sought = []
    monkeypatch.setattr(compare_module, "furthest_pace", lambda distance, slow, fast: sought.append((slow, fast)) or (slow, 0.0))
    car = SimpleNamespace(battery=BATTERY, motor=SimpleNamespace(torque_constant=0.8, gear=gear))
    compare_module.Runs(car, None, None, 1, None).furthest(None, None)
    assert sought == [(SLOWEST_PACE, pytest.approx(fastest, rel=1e-12, abs=0))]


def test_a_policy_tells_its_current_where_it_is_as_fast():
    """Figures of a lap that was not driven: what is told of a policy's pace hangs on whether it meets the time alone."""
    pace = SimpleNamespace(target=6.0, current=12.5)
    undriven = SimpleNamespace(ledger=None, finished=False, time=nan, laps_per_charge=nan)
    paced = [SimpleNamespace(policy="steady current", meets_time=meets, pace=pace) for meets in (True, False)]
    rows = pace_summary([SimpleNamespace(paced=one, result=undriven) for one in paced], 490.0)
    assert [row.current_A for row in rows] == [12.5, None]


def test_furthest_of_a_known_curve():
    """Time ends the race below the crossing, charge above it: the best pace is the crossing, 6 m/s."""
    best, distance = furthest_pace(lambda v: min(3600 * v, 3600 * 6**3 / v**2), 1.0, 15.0)
    assert best == pytest.approx(6.0, rel=0, abs=2e-3)
    assert distance == pytest.approx(21600.0, rel=1e-3, abs=0)


@pytest.mark.slow
def test_furthest_pace_against_a_dense_scan(electric, oval):
    """The sought pace is as good as the best of a scan of 121 paces."""
    car, _ = electric
    race = Race(1800.0, inf)
    small = car._replace(battery=BATTERY._replace(capacity=4 * 3600.0))

    def distance(target):
        lap, ledger = lap_of((small, electric[1]), oval, replace(PACE, target=target))
        return race_result(race, oval.length, lap.time, ledger.electric.used_charge, small.battery).distance

    best, far = furthest_pace(distance, 1.0, 8.0)
    scan = [distance(target) for target in np.linspace(1.0, 8.0, 121)]
    assert far >= max(scan) * (1 - 1e-4)
    assert 1.5 < best < 7.9


@pytest.mark.compiled
def test_pace_policies_take_the_same_time(electric, oval):
    car, _ = electric
    time = plan_pace(oval, car, PACE).time * 1.15
    plans = {one.policy: one for one in plans_for_time(oval, car, PACE, time)}
    assert list(plans) == list(POLICIES)
    for policy in ("limits", "lift", "steady current"):
        assert plans[policy].meets_time
        assert plans[policy].plan.time == pytest.approx(time, rel=1.1e-4, abs=0)
    assert np.ptp(plans["steady speed"].plan.speed) < 1e-12
    assert np.all(plans["steady speed"].plan.speed ** 2 * np.abs(oval.curvature) <= PACE.lateral_limit * (1 + 1e-9))


def test_a_driver_who_lifts_never_brakes_and_saves(electric, oval):
    _, braking = lap_of(electric, oval, PACE)
    _, lifting = lap_of(electric, oval, replace(PACE, policy="lift"))
    assert braking.brakes > 100
    assert lifting.brakes < 1e-3 * lifting.drive_work
    assert lifting.drive_work < braking.drive_work


def test_without_a_freewheel_the_no_load_drag_is_paid(vehicle):
    """Rolling down a hill that drives the car: the battery gives I_0 (I_0 R + k_t w) all the way, by the motor's own equation."""
    car, table = vehicle("standard", car={"drive": "differential"}, linkage="ideal")
    road = course_from_segments([Straight(100)], closed=False, name="road")
    hill = replace(road, height=-0.03 * road.station, slope=np.full(len(road.station), -0.03))
    pace = replace(PACE, policy="lift", target=3.0)
    given = {}
    for freewheel in (True, False):
        geared = car._replace(motor=MOTOR._replace(freewheel=freewheel), battery=BATTERY._replace(internal_resistance=0.0))
        plan = plan_pace(hill, geared, pace)
        lap = drive_lap(geared, table, hill, plan)
        given[freewheel] = ledger_of(geared, lap).electric
    assert given[True].battery < 1.0
    assert plan.speed[-1] > 5.5
    paid = 2.0 * 2.0 * 0.1 * lap.time + 0.1 * 2.0 * 29.0 * 100.0  # I_0^2 R t + I_0 k_t (gear) s
    # The brakes that hold the plan's margin of 0.05 N do a hundredth of the motor's drag of 6 N.
    assert given[False].battery == pytest.approx(paid, rel=0.02, abs=0)
    assert given[False].no_load == pytest.approx(0.1 * 2.0 * 29.0 * 100.0, rel=0.02, abs=0)
    assert given[False].regenerated == 0.0


def down_and_up(course, depth):
    """A course with one dip a lap, or one slope down an open course: heights by a cosine, m g depth to give away."""
    turns = 2 if course.closed else 1
    height = 0.5 * depth * (1 + np.cos(turns * pi * course.station / course.length))
    slope = -0.5 * depth * turns * pi / course.length * np.sin(turns * pi * course.station / course.length)
    return replace(course, height=height, slope=slope)


@pytest.mark.parametrize("wind", [(0.0, 0.0), (3.0, 1.0)])
def test_a_driver_who_lifts_rolls_down_a_hill_instead_of_braking(vehicle, wind):
    """He held the target down the hill with his brakes: 1.7 kJ of the car's height went into them."""
    car, table = vehicle("standard", car={"drive": "differential"}, linkage="ideal")
    road = down_and_up(course_from_segments([Straight(150)], closed=False, name="road"), 4.0)
    pace = replace(PACE, policy="lift", target=4.0, wind=wind)
    plan = plan_pace(road, car, pace)
    ledger = ledger_of(car, drive_lap(car, table, road, plan))
    held = ledger_of(car, drive_lap(car, table, road, plan_pace(road, car, replace(pace, policy="limits"))))
    assert held.brakes > 2000
    assert ledger.brakes < 5e-3 * held.brakes
    assert ledger.drive_work < 0.75 * held.drive_work
    # Rolling freely from where the hill first carries the car: energy, with the air's work along the way
    free = plan.speed > 4.0 + 1e-9
    first, last = np.flatnonzero(free)[[0, -1]]
    rolled = np.trapezoid(0.008 * car.mass * GRAVITY + np.array(
        [0.5 * 1.225 * 0.2 * np.hypot(v - wind[0], wind[1]) * (v - wind[0]) for v in plan.speed[first:last]]), road.station[first:last]
    )  # fmt: skip
    gained = 0.5 * car.mass * (plan.speed[last - 1] ** 2 - plan.speed[first] ** 2)
    assert gained == pytest.approx(car.mass * GRAVITY * (road.height[first] - road.height[last - 1]) - rolled, rel=5e-3, abs=0)


def test_a_driver_who_lifts_brakes_where_a_descent_would_pass_a_bends_limit(vehicle, oval):
    car, table = vehicle("standard", car={"drive": "differential"}, linkage="ideal")
    steep = down_and_up(oval, 6.0)
    plan = plan_pace(steep, car, replace(PACE, policy="lift", target=4.5))
    assert np.all(plan.speed**2 * np.abs(steep.curvature) <= PACE.lateral_limit * (1 + 1e-9))
    assert plan.speed.max() > 4.6
    again = plan_pace(steep, car, replace(PACE, policy="lift", target=4.5))
    np.testing.assert_array_equal(plan.speed, again.speed)
    assert ledger_of(car, drive_lap(car, table, steep, plan)).brakes > 10


@pytest.mark.slow
def test_a_policy_that_cannot_be_as_fast_has_no_target():
    scenario = load_scenario(find_scenario("race-day"))
    scenario = scenario.model_copy(update={
        "setup": scenario.setup[:1], "pace": scenario.pace.model_copy(update={"target_m_per_s": 6.0, "policy": "limits"}),
    })  # fmt: skip
    folder = find_scenario("race-day").parent
    rows = {row.policy: row for row in pace_summary(compare_paces(scenario, "race-day", compare(scenario, folder, "race-day")), 490.0)}
    assert rows["limits"].target_m_per_s == pytest.approx(6.0, rel=0.01, abs=0)
    assert not rows["steady speed"].meets_time
    assert rows["steady speed"].target_m_per_s is None
    for row in rows.values():
        assert (row.target_m_per_s is None and row.current_A is None) == (not row.meets_time)


def test_steady_current_plan_follows_its_force(electric, oval):
    """Away from bends the plan gains just what the motor's force leaves after rolling and air drag."""
    car, _ = electric
    plan = plan_pace(oval, car, replace(PACE, policy="steady current", target=20.0, current=9.0))
    middle = (oval.station > 5) & (oval.station < 25)
    gain = np.diff(plan.speed**2)[middle[1:]] / (2 * (oval.station[1] - oval.station[0]))
    speed = plan.speed[:-1][middle[1:]]
    held = 0.5 * car.air_density * car.drag_area * speed**2 + 0.008 * car.mass * GRAVITY
    assert gain * car.mass + held == pytest.approx(np.full(len(gain), steady_force(MOTOR, 9.0)), rel=1e-6, abs=0)


def test_without_a_motor_there_is_no_steady_current(vehicle, oval):
    car, _ = vehicle("standard", linkage="ideal")
    assert "steady current" not in [one.policy for one in plans_for_time(oval, car, PACE, 40.0)]


def test_straight_road_into_the_wind(vehicle):
    """Constant speed into a wind w: air loss = rho CdA (v + w)^2 / 2 times the distance (drag law), and a tail wind gives some back."""
    car, table = vehicle("standard", car={"drive": "differential"}, linkage="ideal")
    road = course_from_segments([Straight(60)], closed=False, name="road")
    for wind in (-3.0, 0.0, 2.0):
        pace = replace(PACE, target=5.0, wind=(wind, 0.0))
        lap = drive_lap(car, table, road, plan_pace(road, car, pace))
        ledger = ledger_of(car, lap)
        through = 5.0 - wind
        assert ledger.air == pytest.approx(0.5 * 1.225 * 0.20 * through * abs(through) * 60, rel=1e-6, abs=0)
        assert abs(ledger.residual) < 1e-9


@pytest.mark.compiled
def test_wind_across_a_closed_lap_closes_and_costs(vehicle, oval):
    car, table = vehicle("standard", car={"drive": "differential"}, linkage="ideal")
    calm = ledger_of(car, drive_lap(car, table, oval, plan_pace(oval, car, PACE)))
    for towards in (0.0, 2.0):
        wind = (4 * np.cos(towards), 4 * np.sin(towards))
        windy = ledger_of(car, drive_lap(car, table, oval, plan_pace(oval, car, replace(PACE, wind=wind))))
        assert abs(windy.residual) < 1e-6
        assert windy.air > calm.air


def test_hill_gives_back_what_it_took(vehicle):
    """Up and down a hill of 2 %: the height line is m g z while on it, and nothing after it."""
    car, table = vehicle("standard", car={"drive": "differential"}, linkage="ideal")
    road = course_from_segments([Straight(120)], closed=False, name="road")
    height = 0.6 * (1 - np.cos(2 * pi * road.station / road.length))
    hill = replace(road, height=height, slope=np.gradient(height, road.station))
    ledger = ledger_of(car, drive_lap(car, table, hill, plan_pace(hill, car, PACE)))
    assert ledger.height == pytest.approx(0.0, rel=0, abs=1e-3 * car.mass * GRAVITY * 1.2)
    assert abs(ledger.residual) < 1e-6


@pytest.mark.slow
def test_race_day_finds_a_pace_and_says_who_cannot_be_told_apart():
    from viz.run.report import race_lines

    path = find_scenario("race-day")
    scenario = load_scenario(path)
    short = scenario.model_copy(update={"setup": scenario.setup[:2]})
    comparison = compare(short, path.parent, "race-day")
    assert 3.0 < comparison.target < 8.0
    assert all(one.race is not None for one in comparison.results)
    assert all(one.own_distance >= one.race.distance * (1 - 1e-6) for one in comparison.results)
    text = " ".join(race_lines(comparison))
    assert '"ideal", "parallel" cannot be told apart' in text
