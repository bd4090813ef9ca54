"""The pull that turns a kingpin on its washer: against a sum over the washer's ring, and against work over a small turn."""

from math import cos, radians

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import dblquad
from scipy.spatial.transform import Rotation

from sim.assemble.pull import pull_arm, pulls, washer_pull
from sim.linkages.pivots import LEFT, stub_axles, turntable_axle
from sim.scenario.car import KingpinTable
from sim.scenario.file import check_scenario, find_scenario, load_scenario
from sim.steering.arrangement import build_steering

SETTINGS = {"title": "A car", "course": {"segments": [{"straight_m": 20.0}]}, "pace": {"target_m_per_s": 5.0}}


def ring_torque(load, friction, inner, outer):
    """Friction torque of a ring under even pressure, piece by piece: pressure x friction x arm over the area."""
    pressure = load / (np.pi / 4 * (outer**2 - inner**2))
    return dblquad(lambda r, _: pressure * friction * r * r, 0.0, 2 * np.pi, inner / 2, outer / 2, epsabs=0.0, epsrel=1e-12)[0]


@settings(max_examples=60)
@given(st.floats(1, 5000), st.floats(0.01, 1), st.floats(3, 300), st.floats(0.1, 0.95))
def test_pull_is_the_ring_s_torque_over_the_arm(load, friction, outer, hole):
    kingpin = KingpinTable(
        washer_outer_mm=outer, washer_inner_mm=max(1.0, outer * hole), friction_dry=friction, friction_greased=friction / 2
    )
    wheel = stub_axles(0.9, 0.74, 0.203, 0.0, 0.0)[LEFT]
    told = washer_pull(wheel, load, 0.203, kingpin)
    wanted = ring_torque(load, friction, kingpin.washer_inner_mm / 1000, outer / 1000) / 0.203
    assert told.dry_N == pytest.approx(wanted, rel=1e-9, abs=0)
    assert told.greased_N == pytest.approx(wanted / 2, rel=1e-9, abs=0)


@pytest.mark.parametrize(("inclination", "caster"), [(0.0, 0.0), (9.0, 7.0), (-12.0, 20.0)])
def test_arm_is_the_way_that_a_pull_goes_in_a_small_turn(inclination, caster):
    """Work of the pull over a turn = torque x turn, by moving the point with a general library's rotations."""
    wheel = stub_axles(0.9, 0.74, 0.203, radians(inclination), radians(caster))[LEFT]
    place, direction = wheel.centre + np.array([0.203, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])
    step = 1e-4
    there, back = (wheel.axis_point + Rotation.from_rotvec(turn * wheel.axis).apply(place - wheel.axis_point) for turn in (step, -step))
    assert pull_arm(wheel, place, direction) == pytest.approx(abs((there - back) @ direction) / (2 * step), rel=1e-7, abs=0)


def told_of(setup, **car):
    scenario = load_scenario(find_scenario("first-bend"))
    data = SETTINGS | {"car": {**scenario.car.model_dump(exclude_none=True), **car}, "setup": [{"name": "tried", **setup}]}
    made = check_scenario(data, "tried.toml")
    return pulls(made, build_steering(made.setup[0], made.car, "tried.toml", "setup[0]"))


def test_worked_by_hand():
    """145 kg x 9.81, 680 of 1500 mm to the front axle, half a wheel: 322.42 N.  Ring 34 / 17 mm: mean arm 13.222 mm; 0.1 and 0.2."""
    on_wheels, on_stands = told_of({"pivot": "stub axles", "linkage": "parallel"})
    assert on_wheels.load_N == pytest.approx(145 * 9.81 * 680 / 1500 / 2, rel=1e-12, abs=0)
    assert on_wheels.arm_mm == pytest.approx(203.0, rel=1e-12, abs=0)
    assert on_wheels.greased_N == pytest.approx(0.1 * 322.422 * 13.2222 / 203.0, rel=1e-5, abs=0)
    assert on_wheels.dry_N == pytest.approx(2 * on_wheels.greased_N, rel=1e-12, abs=0)
    assert on_stands.load_N == pytest.approx(2.0 * 9.81, rel=1e-12, abs=0)


def test_a_turntable_carries_both_wheels_and_is_pulled_at_a_hub():
    on_wheels, on_stands = told_of({"pivot": "turntable"})
    assert on_wheels.load_N == pytest.approx(145 * 9.81 * 680 / 1500, rel=1e-12, abs=0)
    assert on_wheels.arm_mm == pytest.approx(450.0, rel=1e-12, abs=0)
    assert on_stands.load_N == pytest.approx(4.0 * 9.81, rel=1e-12, abs=0)


def test_a_lean_leaves_the_pull_as_it_is():
    """Both the load along the axis and the arm about it shrink with the cosine of the lean."""
    upright = told_of({"pivot": "turntable"})[0]
    leaning = told_of({"pivot": "turntable", "caster_deg": 20.0})[0]
    assert leaning.arm_mm == pytest.approx(450 * cos(radians(20)), rel=1e-12, abs=0)
    assert leaning.greased_N == pytest.approx(upright.greased_N, rel=1e-12, abs=0)
    wheel = turntable_axle(0.9, 0.203, radians(20), 0.0)[LEFT]
    assert pull_arm(wheel, wheel.centre, np.array([1.0, 0.0, 0.0])) == pytest.approx(0.45 * cos(radians(20)), rel=1e-12, abs=0)
