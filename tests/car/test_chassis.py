"""Wheel loads against statics done another way, the tip margin, and the single-track formulas' own properties."""

from math import atan, cos, degrees, hypot, inf, radians, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.car.chassis import (
    DIFFERENTIAL,
    GRAVITY,
    axle_loads,
    characteristic_speed,
    contact_velocity,
    kinematic_steer,
    lift_limit,
    single_track,
    tip_limit,
    understeer_gradient,
    wheel_loads,
    yaw_velocity_gain,
)  # fmt: skip

WEIGHT = 150 * GRAVITY
X, Y = np.array([0.8, 0.8, -0.7, -0.7]), np.array([0.4, -0.4, 0.35, -0.35])
HEIGHT = 0.35


def loads_of(x, y, ahead, left, height=HEIGHT):
    loads = np.empty(4)
    lifted = wheel_loads(np.asarray(x, float), np.asarray(y, float), WEIGHT, ahead, left, height, loads)
    return lifted, loads


def tips_at(x, y, sign=1, sideslip=0.0):
    """Acceleration square to the direction of travel at which fewer than three wheels are left, by bisection [m/s2]."""
    low, high = 0.0, 40.0
    ahead, left = -sign * 150 * sin(sideslip), sign * 150 * cos(sideslip)
    while high - low > 1e-13 * high:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if loads_of(x, y, ahead * middle, left * middle)[0] == 2 else (middle, high)
    return low


PLACES = st.tuples(*[st.floats(0.5, 1.2)] * 2, *[st.floats(-1.2, -0.5)] * 2)
WIDTHS = st.tuples(*[st.floats(0.2, 0.7)] * 4)


@pytest.mark.target(
    "T5", what="Wheel loads balance the weight and both moments, in drawn states",
    asked="1e-12 of the weight, and of it at a metre",
)  # fmt: skip
@given(PLACES, WIDTHS, st.floats(-4, 4), st.floats(-12, 12), st.floats(0, 0.6))
def test_loads_balance_the_car(within_target, x, widths, ahead, left, height):
    y = np.array(widths) * [1, -1, 1, -1]
    lifted, loads = loads_of(x, y, 150 * ahead, 150 * left, height)
    assert loads.min() >= 0.0
    if lifted < 2:
        off = [loads.sum() - WEIGHT, loads @ x + 150 * ahead * height, loads @ y + 150 * left * height]
        within_target(np.abs(off) / WEIGHT, at_most=1e-12)
        assert np.count_nonzero(loads == 0.0) >= lifted


@given(PLACES, WIDTHS, st.floats(-3, 3), st.floats(-4, 4))
def test_four_wheels_carry_as_equal_springs_do(x, widths, ahead, left):
    # Of all loads in balance, equal springs take those with the least elastic energy, so the least sum of squares.
    y = np.array(widths) * [1, -1, 1, -1]
    least = np.linalg.pinv(np.array([np.ones(4), x, y])) @ [WEIGHT, -150 * ahead * HEIGHT, -150 * left * HEIGHT]
    lifted, loads = loads_of(x, y, 150 * ahead, 150 * left)
    if least.min() > 0:
        assert lifted == 0
        np.testing.assert_allclose(loads, least, rtol=1e-11, atol=1e-11 * WEIGHT)
    else:
        assert lifted > 0


@pytest.mark.target("T5", what="Three wheels on the ground, by statics", asked="1e-12 relative")
@pytest.mark.parametrize(("sign", "inner"), [(1, 0), (-1, 1)])
def test_three_wheels_carry_by_statics(sign, inner, within_target):
    # 1.0 g lies between the lift of the inner front wheel (0.942 g) and tipping (1.067 g).
    lifted, loads = loads_of(X, Y, 0.0, sign * 150 * GRAVITY)
    on = [i for i in range(4) if i != inner]
    three = np.linalg.solve([np.ones(3), X[on], Y[on]], [WEIGHT, 0.0, -sign * 150 * GRAVITY * HEIGHT])
    assert lifted == 1
    assert loads[inner] == 0.0
    within_target(np.abs(loads[on] / three - 1), at_most=1e-12)


def test_braking_hard_enough_lifts_the_rear_axle():
    # Both rear wheels at once: over the front wheels at a_x = -g a / h
    assert loads_of(X, Y, -150 * 0.999 * GRAVITY * 0.8 / HEIGHT, 0.0)[0] == 0
    assert loads_of(X, Y, -150 * 1.001 * GRAVITY * 0.8 / HEIGHT, 0.0)[0] == 2


def test_a_single_track_carries_no_roll_moment():
    lifted, loads = loads_of(X, np.zeros(4), 0.0, 150 * 4.0)
    np.testing.assert_allclose(loads, WEIGHT / 2 * np.array([0.7, 0.7, 0.8, 0.8]) / 1.5, rtol=1e-13, atol=0)
    assert lifted == 0


@pytest.mark.target("T5", what="Tip limit: hand formula, and where the loads run out", asked="1e-9 relative")
@given(st.floats(0.2, 0.8), st.floats(0.1, 1.0), st.booleans())
def test_tip_limit_of_equal_tracks_is_half_the_track_over_the_height(within_target, half, height, turn_left):
    limit = tip_limit(X, half * np.array([1, -1, 1, -1]), height, turn_left)
    assert limit == pytest.approx(GRAVITY * half / height, rel=1e-12, abs=0)
    within_target(abs(limit * height / (GRAVITY * half) - 1), at_most=1e-9)


@pytest.mark.target("T5", what="Tip limit: hand formula, and where the loads run out", asked="1e-9 relative")
@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("swing_deg", [0.0, 12.0, 28.0, -20.0])
def test_tip_limit_is_where_the_loads_run_out(sign, swing_deg, within_target):
    # A turntable's contact points, so that front and rear, inner and outer all differ
    swing = radians(swing_deg)
    x, y = X.copy(), Y.copy()
    x[:2], y[:2] = 0.8 + np.array([-1, 1]) * 0.4 * sin(swing), np.array([1, -1]) * 0.4 * cos(swing)
    within_target(abs(tips_at(x, y, sign) / tip_limit(x, y, HEIGHT, sign > 0) - 1), at_most=1e-9)


@pytest.mark.target("T5", what="Tip limit: hand formula, and where the loads run out", asked="1e-9 relative")
@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("steer_deg", [0.0, 10.0, 20.0, 30.0, 40.0])
def test_tip_limit_towards_the_turns_own_centre_by_hand(sign, steer_deg, within_target):
    # By statics: the load point moves away from the centre, (-b, +-R_1) from the mass centre, by h a / g; with b = 0.7 m it meets the
    # side of the support, whose half-width is 0.373333 m at the mass centre (R5) and shrinks by 0.05 / 1.5 a metre to the rear.
    towards = 1.5 / np.tan(radians(steer_deg)) if steer_deg else inf
    radius = hypot(0.7, towards)
    sideslip = np.arcsin(0.7 / radius)
    # |y| = 0.373333 + x / 30 on the side's line; the load point is at t (sin, cos) of the sideslip.
    reach = (0.35 + 0.05 * 0.7 / 1.5) / (cos(sideslip) - sin(sideslip) / 30)
    limit = tip_limit(X, Y, HEIGHT, sign > 0, sign * sideslip)
    assert limit == pytest.approx(GRAVITY * reach / HEIGHT, rel=1e-12, abs=0)
    within_target(abs(tips_at(X, Y, sign, sign * sideslip) / limit - 1), at_most=1e-9)
    if steer_deg == 40.0:  # square to the car it was up to 7 % lower
        assert 1.07 < limit / tip_limit(X, Y, HEIGHT, sign > 0) < 1.12


# No sideslip of a billionth of a degree: by less than 1e-300 even this check would have to divide.
SIDESLIP = st.floats(-0.6, 0.6).map(lambda angle: round(angle, 12))


@given(PLACES, WIDTHS, SIDESLIP, st.booleans())
def test_tip_limit_is_where_the_load_point_leaves_the_hull(x, widths, sideslip, turn_left):
    # The hull of the contact points by scipy, as half-planes.
    from scipy.spatial import ConvexHull

    y = np.array(widths) * [1, -1, 1, -1]
    planes = ConvexHull(np.column_stack([x, y])).equations
    away = (1 if turn_left else -1) * np.array([sin(sideslip), -cos(sideslip)])
    slopes = planes[:, :2] @ away
    outwards = slopes > 0
    reach = (-planes[outwards, 2] / slopes[outwards]).min()
    assert tip_limit(np.array(x), y, HEIGHT, turn_left, sideslip) == pytest.approx(GRAVITY * reach / HEIGHT, rel=1e-9, abs=0)


def test_three_wheels_tip_over_their_side():
    # R4's formula (t/2h)(b/l) and (t/2h)(a/l), in g; a mass centre that stands beside its wheels has nothing to stand on.
    tadpole, delta = np.array([0.4, -0.4, 0.0, 0.0]), np.array([0.0, 0.0, 0.35, -0.35])
    assert tip_limit(X, tadpole, HEIGHT) == pytest.approx(GRAVITY * 0.4 / HEIGHT * 0.7 / 1.5, rel=1e-12, abs=0)
    assert tip_limit(X, delta, HEIGHT) == pytest.approx(GRAVITY * 0.35 / HEIGHT * 0.8 / 1.5, rel=1e-12, abs=0)
    assert tip_limit(X, Y + 0.5, HEIGHT) == 0.0


@pytest.mark.parametrize("sideslip", [0.0, 0.2, 0.35])
def test_the_first_wheel_lifts_where_its_load_runs_out(sideslip):
    lift, at_rest = lift_limit(X, Y, 150.0, HEIGHT, sideslip)
    for share, lifted in ((1 - 1e-9, 0), (1 + 1e-9, 1)):
        force = 150.0 * lift * share
        assert loads_of(X, Y, -force * sin(sideslip), force * cos(sideslip))[0] == lifted
    np.testing.assert_allclose(at_rest, loads_of(X, Y, 0.0, 0.0)[1], rtol=1e-12, atol=0)


def test_a_car_of_no_height_never_tips():
    assert tip_limit(X, Y, 0.0) == inf


@pytest.mark.parametrize("radius", [1.0, -2.0, 8.0, -300.0])
def test_kinematic_steer_turns_all_wheels_about_one_centre(vehicle, radius):
    car, _ = vehicle("K")
    steer, sideslip = kinematic_steer(1 / radius, car)
    # The centre lies square to the path at the mass centre; the lines of both axles must meet there.
    centre = radius * np.array([-sin(sideslip), cos(sideslip)])
    assert centre[0] == pytest.approx(-0.7, rel=1e-12, abs=0)
    front = centre - [0.8, 0.0]
    assert front @ [cos(steer), sin(steer)] == pytest.approx(0.0, rel=0, abs=1e-12 * hypot(*front))


@pytest.mark.parametrize("radius", [0.7, -0.5])
def test_a_radius_inside_the_rear_axle_is_refused(vehicle, radius):
    with pytest.raises(ValueError, match="smaller than the mass centre's distance from the rear axle"):
        kinematic_steer(1 / radius, vehicle("K")[0])


def test_single_track_merges_the_wheels(vehicle):
    car, _ = vehicle("K", car={"drive": "one wheel left"})
    merged = single_track(car)
    assert (merged.front_track, merged.rear_track, merged.drive) == (0.0, 0.0, DIFFERENTIAL)
    assert merged._replace(front_track=car.front_track, rear_track=car.rear_track, drive=car.drive) == car


def test_axle_loads_by_hand(vehicle):
    assert axle_loads(vehicle("K")[0]) == pytest.approx((686.7, 784.8), rel=1e-12, abs=0)


def test_understeer_gradient_with_load_sensitivity(vehicle):
    # Axle stiffness by hand: C = c N (1 - k (N/N_0 - 1)) on each wheel, N_0 = 367.875 N, front 343.35 N, rear 392.4 N
    car, _ = vehicle("K", tyre={"load_sensitivity": 0.3})
    front, rear = 12 * (1 - 0.3 * (343.35 / 367.875 - 1)), 12 * (1 - 0.3 * (392.4 / 367.875 - 1))
    assert understeer_gradient(car) == pytest.approx(1 / front - 1 / rear, rel=1e-12, abs=0)


def test_gain_at_the_characteristic_speed(vehicle):
    car, _ = vehicle("K", tyre={"cornering_stiffness_per_rad": 10.0})
    car = car._replace(rear_tyre=car.rear_tyre._replace(cornering_stiffness=12.0))
    speed = characteristic_speed(car)
    assert yaw_velocity_gain(car, speed) == pytest.approx(0.5 * speed / 1.5, rel=1e-12, abs=0)
    for other in (0.98, 1.02):
        assert yaw_velocity_gain(car, other * speed) < yaw_velocity_gain(car, speed)
    oversteering = car._replace(front_tyre=car.rear_tyre, rear_tyre=car.front_tyre)
    critical = characteristic_speed(oversteering)
    assert understeer_gradient(oversteering) < 0
    assert yaw_velocity_gain(oversteering, critical * (1 - 1e-9)) > 1e8
    assert characteristic_speed(vehicle("K")[0]) == inf


@given(*[st.floats(-9, 9)] * 3, *[st.floats(-1, 1)] * 3)
def test_contact_velocity_by_complex_numbers(vx, vy, yaw_rate, x, y, steer):
    # v + i r (x + i y), turned back by the steer angle
    seen = (complex(vx, vy) + 1j * yaw_rate * complex(x, y)) * complex(cos(steer), -sin(steer))
    assert contact_velocity(vx, vy, yaw_rate, x, y, cos(steer), sin(steer)) == pytest.approx((seen.real, seen.imag), rel=1e-12, abs=1e-12)


def test_a_rolling_bicycle_of_small_angles(vehicle):
    steer, sideslip = kinematic_steer(1 / 500.0, vehicle("K")[0])
    assert degrees(steer) == pytest.approx(degrees(1.5 / 500), rel=1e-5, abs=0)
    assert sideslip == pytest.approx(atan(0.7 / 500), rel=1e-5, abs=0)
