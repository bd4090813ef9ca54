"""Angles, turning circles and the steering ratio."""

from math import hypot, pi, radians, sin, tan

import numpy as np
import pytest

from sim.linkages.rolling import ideal_inner
from sim.steering.angles import angle_rows, hand_range, hands_for_outer, steering_ratio, turning_circle

RACK = {"linkage": "rack", "arm_length_mm": 110.0, "arm_angle_deg": 13.9, "rack_behind_front_axle_mm": 140.0,
        "rack_length_mm": 320.0, "rack_mm_per_turn": 60.0}  # fmt: skip


def test_rows_of_ideal_have_no_error(build, car):
    rows = angle_rows(build(linkage="ideal"), car, np.radians([-55.0, -20.0, -0.1, 0.0, 0.1, 33.0, 60.0]))
    assert rows.error == pytest.approx(0.0, rel=0, abs=1e-15)
    assert np.all(rows.ideal_inner[:3] < 0)


def test_rows_by_hand(build, car):
    """Parallel at 20 degrees: ideal inner = acot(cot 20 - 740/1500) = 23.92 degrees, in a right turn the same below 0."""
    rows = angle_rows(build(linkage="parallel"), car, np.radians([20.0, -20.0]))
    assert np.degrees(rows.left) == pytest.approx([20.0, -20.0], rel=1e-12, abs=0)
    assert np.degrees(rows.ideal_inner) == pytest.approx([23.92, -23.92], rel=0, abs=0.005)
    assert rows.error == pytest.approx(rows.left - rows.ideal_inner, rel=0, abs=1e-15)
    assert rows.error[0] < 0 < rows.error[1]


def test_rows_choose_the_inner_wheel_by_the_turn(build, car):
    steering = build(**RACK, toe_in_deg=1.0)
    hands = np.radians([-200.0, 0.001, 200.0])
    rows = angle_rows(steering, car, hands)
    steer = steering.front_wheels(hands).steer
    assert rows.left == pytest.approx(steer[:, 0], rel=0, abs=0)
    assert rows.right == pytest.approx(steer[:, 1], rel=0, abs=0)
    assert rows.ideal_inner[0] == pytest.approx(ideal_inner(steer[0, 0], 0.74, 1.5), rel=0, abs=1e-15)
    assert rows.ideal_inner[2] == pytest.approx(ideal_inner(steer[2, 1], 0.74, 1.5), rel=0, abs=1e-15)
    # Nearly straight ahead, toe-in: the outer (right) wheel stands 1 degree to the left, the inner one is 2 degrees short.
    assert np.degrees(rows.error[1]) == pytest.approx(-2.0, rel=0, abs=0.02)


def test_turntable_has_no_error(build, car):
    rows = angle_rows(build(pivot="turntable", caster_deg=10.0), car, np.radians([-40.0, 7.0, 60.0]))
    assert rows.error == pytest.approx(0.0, rel=0, abs=1e-15)


def test_hands_for_outer(build, any_keys, leaning):
    steering = build(**any_keys, **leaning(any_keys))
    outer = np.radians([2.0, 10.0, 20.0, 85.0])
    hands = hands_for_outer(steering, outer)
    assert np.isnan(hands[3])
    assert steering.front_wheels(hands[:3]).steer[:, 1] == pytest.approx(outer[:3], rel=0, abs=1e-13)


def test_hand_range_is_round_and_ends_at_the_locks(build, any_keys, leaning):
    steering = build(**any_keys, **leaning(any_keys))
    hands = hand_range(steering)
    assert (hands[0], hands[-1]) == (steering.lock_right, steering.lock_left)
    assert 0.0 in hands
    assert 11 <= len(hands) <= 28
    between = np.degrees(hands[1:-1])
    step = between[1] - between[0]
    assert step in (pytest.approx(5.0, rel=1e-9, abs=0), pytest.approx(10.0, rel=1e-9, abs=0), pytest.approx(50.0, rel=1e-9, abs=0))
    assert between / step == pytest.approx(np.round(between / step), rel=0, abs=1e-9)
    assert np.all(np.diff(hands) > 0)


@pytest.mark.parametrize("limit", [1.0, 3.3, 20.0, 60.0, 1000.0])
def test_hand_range_of_any_size(build, limit):
    keys = {"pivot": "turntable"} if limit < 90 else RACK | {"rack_mm_per_turn": 10.0}
    hands = hand_range(build(**keys, hand_wheel_limit_deg=limit))
    assert 11 <= len(hands) <= 28
    steps = np.diff(hands)
    assert steps[1:-1] == pytest.approx(steps[1], rel=1e-9, abs=0)
    assert np.all(steps[[0, -1]] > 1e-6 * steps[1])


def test_turning_circle_of_ideal_by_hand(build, car):
    """2 (l / sin outer + kingpin offset), and half the tyre's width more at its edge."""
    outer = ideal_inner(radians(60), -0.37, 1.5)
    circle = turning_circle(build(linkage="ideal"), car)
    assert circle.kerb == pytest.approx(2 * (1.5 / sin(outer) + 0.08), rel=1e-12, abs=0)
    assert circle.wall == pytest.approx(circle.kerb + 0.050, rel=1e-12, abs=0)


def test_turning_circle_of_a_turntable_by_hand(build, car):
    """The axle's line meets the centre: l / sin + half the front track."""
    circle = turning_circle(build(pivot="turntable"), car)
    assert circle.kerb == pytest.approx(2 * (1.5 / sin(radians(60)) + 0.45), rel=1e-12, abs=0)


def test_rear_wheel_can_be_the_outermost(build, car):
    """With a wide rear axle and little lock it is the rear outer wheel that meets the kerb."""
    wide = car.model_copy(update={"rear_track_mm": 2400.0})
    circle = turning_circle(build(pivot="turntable", hand_wheel_limit_deg=10.0), wide)
    assert circle.kerb == pytest.approx(2 * (1.5 / tan(radians(10)) + 1.2), rel=1e-12, abs=0)
    assert circle.kerb > 2 * (1.5 / sin(radians(10)) + 0.45)


def test_turning_circle_takes_the_tighter_lock(build, car):
    """Stopped at 45 degrees a cross rod steers further to one side; the circle is that side's, from the pose by plane geometry."""
    steering = build(linkage="cross rod", arm_length_mm=110.0, arm_angle_deg=13.9, hand_wheel_limit_deg=45.0)
    circle = turning_circle(steering, car)
    radii = []
    for lock, outer in ((steering.lock_left, 1), (steering.lock_right, 0)):
        pose = steering.front_wheels(np.array([lock]))
        curvature = sum(tan(d) / (1.5 + y * tan(d)) for d, y in zip(pose.steer[0], (0.37, -0.37), strict=True)) / 2
        radii.append(hypot(pose.x[0, outer] + 1.5, pose.y[0, outer] - 1 / curvature))
    assert circle.kerb == pytest.approx(2 * min(radii), rel=1e-12, abs=0)
    assert abs(radii[0] - radii[1]) > 0.05
    assert circle.kerb < circle.wall < circle.kerb + 0.050 + 1e-12


def test_steering_ratio(build, car):
    """1 where the hand angle is the steer; arm by drop arm for upright rods square to both, by hand."""
    assert steering_ratio(build(linkage="ideal"), car) == pytest.approx(1.0, rel=1e-9, abs=0)
    assert steering_ratio(build(pivot="turntable"), car) == pytest.approx(1.0, rel=1e-9, abs=0)
    keys = {"linkage": "centre arm", "arm_length_mm": 110.0, "arm_angle_deg": 0.0, "drop_arm_length_mm": 70.0}
    centre = build(**keys, drop_arm_behind_front_axle_mm=110.0)
    assert steering_ratio(centre, car) == pytest.approx(110 / 70, rel=1e-7, abs=0)
    rack = build(**RACK | {"arm_angle_deg": 0.0, "rack_behind_front_axle_mm": 110.0})
    assert steering_ratio(rack, car) == pytest.approx(110 / (60 / (2 * pi)), rel=1e-7, abs=0)
