"""The tyre's law: linear at small slip, held inside the circle, relaxed over a rolled distance, finite at standstill."""

from math import exp, hypot, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.car.tyre import LINEAR, Tyre, cornering_stiffness, force_before_limit, friction_scale, lateral_force, relaxation_rate

TYRE = Tyre(12.0, 0.1, 15.0, 0.12, 0.015, 0.8, 0.9, 0.008, LINEAR)
FORCE = st.floats(-2000, 2000, allow_subnormal=False)
LIMIT = st.floats(1.0, 1500)


def test_cornering_stiffness_by_hand():
    # 12 x 400 (1 - 0.1 (400/300 - 1)) = 4640; at the nominal load 12 x 300; half as stiff a car at half the load.
    assert cornering_stiffness(TYRE, 400.0, 300.0) == pytest.approx(4640.0, rel=1e-14, abs=0)
    assert cornering_stiffness(TYRE, 300.0, 300.0) == pytest.approx(3600.0, rel=1e-14, abs=0)
    assert cornering_stiffness(TYRE, 0.0, 300.0) == 0.0


@pytest.mark.target("T6", what="Side force is linear in small slip and lean", asked="1e-12 of the largest part")
@given(st.floats(-0.1, 0.1), st.floats(-0.2, 0.2), st.floats(0, 1200))
def test_lateral_force_is_linear_in_slip_and_camber(within_target, slip, camber, load):
    both = lateral_force(TYRE, load, 300.0, slip, camber)
    apart = lateral_force(TYRE, load, 300.0, slip, 0.0) + lateral_force(TYRE, load, 300.0, 0.0, camber)
    size = abs(lateral_force(TYRE, load, 300.0, slip, 0.0)) + abs(lateral_force(TYRE, load, 300.0, 0.0, camber))
    within_target(abs(both - apart) / max(size, 1e-300), at_most=1e-12)
    assert lateral_force(TYRE, load, 300.0, -slip, -camber) == -both
    assert lateral_force(TYRE, load, 300.0, slip, 0.0) == pytest.approx(cornering_stiffness(TYRE, load, 300.0) * slip, rel=1e-12, abs=1e-12)


def test_camber_thrust_by_hand():
    # 0.8 x 250 N x 0.05 = 10 N to the side to which the wheel's top leans
    assert lateral_force(TYRE, 250.0, 300.0, 0.0, 0.05) == pytest.approx(10.0, rel=1e-14, abs=0)


@pytest.mark.target("T6", what="A wheel's force stays inside the friction circle", asked="1 + 1e-12 times the grip")
@given(FORCE, FORCE, LIMIT)
def test_force_stays_inside_the_circle(within_target, longitudinal, lateral, limit):
    scale = friction_scale(longitudinal, lateral, limit)
    within_target(hypot(longitudinal * scale, lateral * scale) / limit - 1, at_most=1e-12, of="beyond the grip")
    if hypot(longitudinal, lateral) <= limit:
        assert scale == 1.0
    else:
        assert hypot(longitudinal * scale, lateral * scale) == pytest.approx(limit, rel=1e-12, abs=0)


def test_a_wheel_without_load_gives_no_force():
    assert friction_scale(0.0, 0.0, 0.0) == 1.0
    assert friction_scale(3.0, 4.0, 0.0) == 0.0
    assert force_before_limit(0.0, 0.0, 0.0) == 0.0


@given(st.floats(-0.98, 0.98), FORCE, LIMIT)
def test_the_wanted_force_is_left_after_the_limit(share, lateral, limit):
    wanted = share * limit
    before = force_before_limit(wanted, lateral, limit)
    scale = friction_scale(before, lateral, limit)
    assert before * scale == pytest.approx(wanted, rel=1e-12, abs=1e-12 * limit)
    if hypot(wanted, lateral) > limit:
        # What the wanted part leaves of the circle is the lateral force's.
        assert abs(lateral) * scale == pytest.approx(sqrt(limit**2 - wanted**2), rel=1e-11, abs=0)
        assert abs(before) <= abs(wanted) * abs(lateral) / sqrt(limit**2 - wanted**2) * (1 + 1e-12)
    else:
        assert before == wanted


@pytest.mark.target("T6", what="A step of slip, rolled over one relaxation length, reaches 1 - 1/e", asked="1e-6 relative")
@pytest.mark.parametrize("forward", [6.0, 0.4, -3.0])
def test_a_step_of_slip_fades_over_the_relaxation_length(forward, within_target):
    # Rolled s metres after a step of the side speed, the slip has reached 1 - 1/e of its end value.
    side, slip, steps = -0.05 * abs(forward), 0.0, 200
    step = 0.12 / abs(forward) / steps
    for _ in range(steps):
        rates, at = [], slip
        for reach in (0.5, 0.5, 1.0, 0.0):
            rates.append(relaxation_rate(at, forward, side, 0.12))
            at = slip + reach * step * rates[-1]
        slip += step / 6 * (rates[0] + 2 * rates[1] + 2 * rates[2] + rates[3])
    assert slip == pytest.approx(0.05 * (1 - exp(-1)), rel=1e-9, abs=0)
    within_target(abs(slip / (0.05 * (1 - exp(-1))) - 1), at_most=1e-6)


@given(st.floats(-12, 12), st.floats(-3, 3))
def test_steady_slip_is_side_speed_over_forward_speed(forward, side):
    if abs(forward) > 1e-3:
        assert relaxation_rate(-side / abs(forward), forward, side, 0.12) == pytest.approx(0.0, rel=0, abs=1e-13 / 0.12 * 10)


def test_a_standing_tyre_is_a_spring():
    # It holds its deflection, and a sideways push deflects it by what it moved: s da = -v_y dt
    assert relaxation_rate(0.08, 0.0, 0.0, 0.12) == 0.0
    assert relaxation_rate(0.08, 0.0, -0.06, 0.12) == pytest.approx(0.5, rel=1e-14, abs=0)
