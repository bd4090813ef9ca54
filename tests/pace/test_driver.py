"""The pace plan keeps its limits; the hands follow the line."""

from math import asin, atan, hypot, pi, sin, sqrt, tan
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from sim.car.chassis import GRAVITY, axle_stiffnesses, kinematic_steer
from sim.pace.driver import (
    LEAST_CRUISE,
    SWINGS,
    TURNS_IN,
    Driver,
    Pace,
    PacePlan,
    driver_of,
    limit_speed,
    plan_pace,
    preview_distance,
    resistance,
    steer_demand,
    understeer_factor,
)  # fmt: skip

LIMITS: dict[str, Any] = {"target": 8.0, "lateral_limit": 2.5, "braking_limit": 1.2, "power": 500.0, "start": None}


def swinging(s):
    return 0.12 * np.sin(2 * pi * s / 60.0) + 0.05 * np.sin(2 * pi * s / 15.0)


@pytest.fixture(scope="module")
def course(course_by):
    return {closed: course_by(120.0, swinging, lambda s: 1.5 * (1 - np.cos(2 * pi * s / 120.0)), closed=closed) for closed in (True, False)}


@pytest.fixture(scope="module")
def car(vehicle):
    return vehicle("standard")[0]


def held(car, speed, slope):
    """Force that drag, rolling resistance and the hill hold against [N]."""
    return 0.5 * 1.225 * 0.2 * speed**2 + 0.008 * car.mass * GRAVITY + car.mass * GRAVITY * slope


@pytest.mark.target("T14", what="The pace plan keeps its limits at every station", asked="1 + 1e-9 times the limit")
@pytest.mark.parametrize("closed", [True, False])
@pytest.mark.parametrize("changes", [{}, {"power": 150.0}, {"lateral_limit": 1.0, "braking_limit": 0.4}, {"target": 3.0}])
def test_limits_hold_at_every_station(course, car, closed, changes, within_target):
    line, limits = course[closed], LIMITS | changes
    plan = plan_pace(line, car, Pace(**limits))
    square = plan.speed**2
    assert plan.speed.max() <= limits["target"] * (1 + 1e-9)
    within_target(square * np.abs(line.curvature) / limits["lateral_limit"] - 1, at_most=1e-9, of="beyond the lateral limit")
    gain = np.diff(square) / (2 * np.diff(line.station))
    within_target(-gain / limits["braking_limit"] - 1, at_most=1e-9, of="beyond the braking limit")
    # The force needed to gain speed at the speed before, against what power gives, where the car is not at a crawl
    force = car.mass * gain + held(car, plan.speed[:-1], line.slope[:-1])
    assert (force * plan.speed[:-1]).max() <= limits["power"] * (1 + 1e-9)
    if closed:
        assert plan.speed[0] == plan.speed[-1]
    # Something limits it everywhere: no station could be passed faster by itself.
    free = np.minimum(limits["target"], np.sqrt(limits["lateral_limit"] / np.maximum(np.abs(line.curvature), 1e-9)))
    by_cap = plan.speed[1:-1] > free[1:-1] * (1 - 1e-9)
    by_brakes = -gain[1:] > limits["braking_limit"] * (1 - 1e-9)
    by_power = (force * plan.speed[:-1])[:-1] > limits["power"] * (1 - 1e-9)
    ends = np.zeros(len(by_cap), bool)
    ends[[0, -1]] = True
    assert (by_cap | by_brakes | by_power | ends).all()


@pytest.mark.target("T14", what="Planning twice changes nothing", asked="1e-12 relative")
@pytest.mark.parametrize("closed", [True, False])
def test_planning_twice_changes_nothing(course, car, closed, within_target):
    line = course[closed]
    plan = plan_pace(line, car, Pace(**LIMITS))
    calm = np.zeros(len(line.station))
    braking, power = LIMITS["braking_limit"], LIMITS["power"]
    again = limit_speed(plan.speed, 8.0, line.slope, calm, calm, line.station[1], car, braking, power, 0.0, closed)
    within_target(np.abs(again / plan.speed - 1), at_most=1e-12)


def test_a_closed_plan_does_not_care_where_the_lap_begins(course_by, car):
    plans = []
    for shift in (0.0, 30.0):
        line = course_by(120.0, lambda s, d=shift: swinging(s + d), lambda s, d=shift: 1.5 * (1 - np.cos(2 * pi * (s + d) / 120.0)))
        # Slopes by differences err a little at the ends, and differently; the plan must not.
        slope = 1.5 * 2 * pi / 120.0 * np.sin(2 * pi * (line.station + shift) / 120.0)
        cap = np.minimum(8.0, np.sqrt(2.5 / np.maximum(np.abs(swinging(line.station + shift)), 1e-12)))
        calm = np.zeros(len(slope))
        plans.append(limit_speed(cap, 8.0, slope, calm, calm, line.station[1], car, 1.2, 500.0, 0.0, True))
    there = round(30.0 / line.station[1])
    np.testing.assert_allclose(np.roll(plans[0][:-1], -there), plans[1][:-1], rtol=1e-9, atol=0)


def test_a_standing_start_by_the_power_equation(course_by, car):
    # m v dv/ds = P/v - drag - rolling, by SciPy; the plan's steps of 0.1 m hold the force for a step, so it is good to about 1 %.
    line = course_by(60.0, lambda s: 0 * s, closed=False)
    plan = plan_pace(line, car, Pace(**LIMITS | {"target": 30.0, "start": 0.0}))
    assert plan.speed[0] == 0.0
    exact = solve_ivp(
        lambda s, v: (500.0 / v - held(car, v, 0.0)) / (car.mass * v), (5.0, 60.0), [np.interp(5.0, line.station, plan.speed)],
        t_eval=[20.0, 40.0, 60.0], rtol=1e-9, atol=1e-9,
    )  # fmt: skip
    np.testing.assert_allclose(np.interp([20.0, 40.0, 60.0], line.station, plan.speed), exact.y[0], rtol=0.01, atol=0)


def test_a_long_hill_is_climbed_at_the_speed_that_power_allows(course_by, car):
    line = course_by(400.0, lambda s: 0 * s, lambda s: 0.05 * s, closed=False)
    speed = plan_pace(line, car, Pace(**LIMITS | {"power": 300.0})).speed[-1]
    assert speed * held(car, speed, 0.05) == pytest.approx(300.0, rel=1e-3, abs=0)


@pytest.mark.parametrize("bend", [0.0, 0.1])
def test_a_driver_who_lifts_rolls_down_as_gravity_and_drag_have_it(course_by, car, bend):
    # m v dv/ds = -m g slope - drag - rolling, by SciPy: the car rolls faster than the target, never faster than it rolls by itself, and
    # is planned no more than a hundredth slower.  A bend at the hill's foot holds it to v^2 k = a from where it has come to that.
    line = course_by(60.0, lambda s: np.where(s > 45.0, bend, 0.0), lambda s: -0.03 * s - 0.0002 * s**2, closed=False)
    plan = plan_pace(line, car, Pace(**LIMITS | {"target": 3.0, "policy": "lift"}))
    exact = solve_ivp(
        lambda s, v: -held(car, v, -0.03 - 0.0004 * s) / (car.mass * v), (0.0, 60.0), [3.0], t_eval=line.station, rtol=1e-10, atol=1e-10
    )  # fmt: skip
    most = sqrt(LIMITS["lateral_limit"] / bend) if bend else np.inf
    assert (plan.speed[1:] < exact.y[0, 1:]).all()
    np.testing.assert_allclose(plan.speed[1:] ** 2 - 9.0, np.minimum(exact.y[0, 1:], most) ** 2 - 9.0, rtol=0.01, atol=0)
    assert exact.y[0, -1] > 5.0


def test_a_hill_too_steep_is_planned_at_a_crawl(course_by, car):
    line = course_by(100.0, lambda s: 0 * s, lambda s: 0.4 * s, closed=False)
    assert plan_pace(line, car, Pace(**LIMITS | {"power": 50.0})).speed[-1] == pytest.approx(LEAST_CRUISE, rel=1e-12, abs=0)


def test_a_wind_from_the_side_drags_along_the_way(course_by, car):
    # After a bend to the left the wind along the first straight blows across: on the long straight P = v (rho CdA |u| v / 2 + rolling).
    line = course_by(400.0, lambda s: np.where(s < 5 * pi, 0.1, 0.0), closed=False)
    assert line.heading[-1] == pytest.approx(pi / 2, rel=0.01, abs=0)
    wind = (5.0, 0.0)
    car = car._replace(mass=40.0)  # soon as fast as it gets
    speed = plan_pace(line, car, Pace(**LIMITS | {"power": 60.0, "wind": wind})).speed[-1]
    tail, across = (wind[0] * part for part in (np.cos(line.heading[-1]), -np.sin(line.heading[-1])))
    drag = 0.5 * 1.225 * 0.2 * hypot(speed - tail, across) * (speed - tail)
    assert speed * (drag + 0.008 * car.mass * GRAVITY) == pytest.approx(60.0, rel=5e-3, abs=0)


@pytest.mark.parametrize("lengths", [(0.1, 0.4), (0.4, 0.1)])
def test_unlike_relaxation_lengths_ask_for_the_same_preview_whichever_is_longer(car, lengths):
    one, other = (
        driver_of(car._replace(front_tyre=car.front_tyre._replace(relaxation_length=a),
                               rear_tyre=car.rear_tyre._replace(relaxation_length=b))) for a, b in (lengths, (0.25, 0.25))
    )  # fmt: skip
    # As long together, but unlike: farther
    assert one.nearest == pytest.approx(2.5 * 0.5 + 5.0 * 0.3, rel=1e-12, abs=0)
    assert other.nearest < one.nearest


def test_start_speed_only_lowers(course_by, car):
    line = course_by(60.0, lambda s: 0 * s, closed=False)
    starts = [plan_pace(line, car, Pace(**LIMITS | {"start": start})).speed[0] for start in (None, 2.0, 50.0)]
    assert starts == [8.0, 2.0, 8.0]


def test_time_of_a_plan():
    # Uniform acceleration from 2 to 6 m/s over 16 m takes 4 s; then 12 m at 6 m/s.
    station = np.linspace(0, 16, 33)
    speed = np.sqrt(4 + 2 * station)
    assert PacePlan(station, speed, 1.0).time == pytest.approx(4.0, rel=1e-12, abs=0)
    assert PacePlan(np.array([0.0, 6.0, 12.0]), np.array([6.0, 6.0, 6.0]), 1.0).time == pytest.approx(2.0, rel=1e-15, abs=0)


def test_each_axle_rolls_on_its_own_tyres(car):
    # Statics: the front axle carries the share of the mass centre's distance from the rear one.
    unlike = car._replace(front_tyre=car.front_tyre._replace(rolling_resistance=0.005),
                          rear_tyre=car.rear_tyre._replace(rolling_resistance=0.012))  # fmt: skip
    expected = car.mass * GRAVITY * (0.005 * (1.5 - 0.82) + 0.012 * 0.82) / 1.5
    assert resistance(unlike, 0.0, 0.0) == pytest.approx(expected, rel=1e-12, abs=0)


@given(st.floats(-0.4, 0.4))
def test_on_the_line_the_hands_follow_the_bend(curvature):
    # The steer of a rolling bicycle whose mass centre follows the line, 0.68 m ahead of the rear axle
    rear = sqrt(1 - (0.68 * curvature) ** 2)
    assert steer_demand(curvature, 0.0, 0.0, 3.0, 1.0, 1.5, 0.68) == pytest.approx(atan(1.5 * curvature / rear), rel=1e-12, abs=1e-15)


def test_feed_forward_is_the_rolling_bicycles(vehicle):
    car, _ = vehicle("standard")
    for curvature in (0.05, -0.3):
        demand = steer_demand(curvature, 0.0, 0.0, 3.0, 1.0, car.wheelbase, car.wheelbase - car.front_arm)
        assert demand == pytest.approx(kinematic_steer(curvature, car)[0], rel=1e-12, abs=0)


@given(st.floats(-0.5, 0.5), st.floats(-0.3, 0.3), st.floats(1.0, 5.0))
def test_feedback_aims_at_the_line_ahead(error, course_angle, preview):
    # Off a straight line, at an angle: the wanted arc through the point of the line `preview` ahead, small errors.
    demand = steer_demand(0.0, error, sin(course_angle), preview, 1.0, 1.5, 0.0)
    curvature = tan(demand) / 1.5
    aim = error + preview * sin(course_angle)
    assert curvature == pytest.approx(-2 * aim / preview**2, rel=1e-12, abs=1e-15)
    # A circle of that curvature which starts along x passes (preview, -aim) to second order.
    if 1e-6 < abs(curvature) < 0.05:
        drop = 2 * sin(asin(curvature * preview) / 2) ** 2 / curvature
        assert drop == pytest.approx(-aim, rel=(curvature * preview) ** 2, abs=1e-12)


def test_an_impossible_bend_asks_for_a_finite_steer():
    for curvature in (50.0, -50.0):
        demand = steer_demand(curvature, 0.0, 0.0, 1.0, 1.0, 1.5, 0.68)
        assert abs(demand) < pi / 2
        assert demand * curvature > 0
    assert hypot(*[steer_demand(1e3, 1.0, 1.0, 1e-3, 1.0, 1.5, 0.68)] * 2) < 3


def single_track(car, speed):
    """Rates of (drift, yaw) by (drift, yaw) and by steer, of the single-track car whose side forces act a trail behind the wheels."""
    front, rear = axle_stiffnesses(car)
    arm, behind, trail = car.front_arm, car.wheelbase - car.front_arm, car.front_tyre.pneumatic_trail
    forces = np.array([[-front / speed, -front * arm / speed, front], [-rear / speed, rear * behind / speed, 0.0]])
    rates = np.array([[1.0 / car.mass] * 2, np.array([arm - trail, -behind - trail]) / car.yaw_inertia]) @ forces
    rates[0, 1] -= speed
    return rates[:, :2], rates[:, 2]


# Mass centre ahead of the middle, behind it, and unlike tyres
@pytest.mark.parametrize(("ahead", "stiffer"), [(0.6, 1.0), (0.9, 1.0), (0.82, 1.4), (0.82, 0.8)])
@pytest.mark.parametrize("speed", [1.5, 6.0])
def test_the_driver_knows_the_single_track_cars_motions(car, ahead, stiffer, speed):
    tyre = car.front_tyre._replace(pneumatic_trail=0.03)
    stiff = tyre._replace(cornering_stiffness=stiffer * tyre.cornering_stiffness)
    one = car._replace(front_arm=ahead, front_tyre=tyre, rear_tyre=stiff)
    driver, square = driver_of(one), speed**2
    matrix, by_steer = single_track(one, speed)
    sum_of_roots, product = np.trace(matrix), np.linalg.det(matrix)
    # The quicker of the two motions dies out over the distance v / -(sum of roots), the slower one over v (sum of roots) / product.
    assert driver.settling * square == pytest.approx(-SWINGS * speed / sum_of_roots, rel=1e-12, abs=0)
    factor = 1.0 + driver.understeer * square
    slower = Driver(preview=0.0, turning_in=driver.turning_in)
    assert preview_distance(slower, speed, square, factor) == pytest.approx(-TURNS_IN * speed * sum_of_roots / product, rel=1e-12, abs=0)
    # A steady turn of curvature 1/m: drift and steer from the two balances
    steady = np.linalg.solve(np.column_stack([matrix[:, 0], by_steer]), -matrix[:, 1] * speed)
    assert steady[1] / one.wheelbase == pytest.approx(factor, rel=1e-12, abs=0)
    rear_slip = (one.wheelbase - one.front_arm) - steady[0] / speed
    assert driver.drift * square == pytest.approx(rear_slip, rel=1e-11, abs=0)
    assert understeer_factor(driver, square) == pytest.approx(factor, rel=1e-12, abs=0)
