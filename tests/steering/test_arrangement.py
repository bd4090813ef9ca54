"""A steering put together: its range, its causes, its refusals, its mirror image."""

from math import acos, asin, degrees, hypot, pi, radians

import numpy as np
import pytest

from sim.errors import InputError
from sim.linkages.rolling import rolling_steer
from sim.steering.arrangement import LOCK_SLACK, STEEPEST, build_steering, ideal_setup
from sim.steering.table import steer_table

ARM = {"arm_length_mm": 110.0, "arm_angle_deg": 13.9}
RACK = {"linkage": "rack", "rack_behind_front_axle_mm": 140.0, "rack_length_mm": 320.0, "rack_mm_per_turn": 60.0} | ARM
CENTRE_ARM = {"linkage": "centre arm", "drop_arm_length_mm": 70.0, "drop_arm_behind_front_axle_mm": 107.0} | ARM


@pytest.mark.parametrize(
    ("keys", "limit_deg"),
    [
        ({"linkage": "ideal"}, 60),
        ({"linkage": "parallel"}, 60),
        ({"linkage": "fraction", "fraction": 0.5}, 60),
        ({"pivot": "turntable"}, 60),
        ({"linkage": "rack", "rack_behind_front_axle_mm": 140.0, "rack_length_mm": 320.0, "rack_mm_per_turn": 30.0} | ARM, 450),
    ],
)
def test_usual_limit(build, keys, limit_deg):
    steering = build(**keys)
    assert (steering.lock_left, steering.lock_right) == pytest.approx((radians(limit_deg), -radians(limit_deg)), rel=0, abs=0)
    assert steering.lock_left_cause == steering.lock_right_cause == "hand wheel limit"


def test_limit_from_the_scenario(build, any_keys):
    steering = build(**any_keys, hand_wheel_limit_deg=20.0)
    assert (steering.lock_left, steering.lock_right) == (radians(20), -radians(20))
    assert steering.lock_left_cause == "hand wheel limit"


def test_lock_is_the_last_that_works(build, real_keys, leaning):
    """On both sides either the limit holds, or a hair further a rod comes too nearly in line, a wheel turns back, or the like."""
    steering = build(**real_keys, **leaning(real_keys), hand_wheel_limit_deg=900.0)
    for lock in (steering.lock_left, steering.lock_right):
        beyond = np.array([lock, lock * (1 + 1e-7)])
        swing, reach = steering.mechanism.swings(beyond)
        steer = np.stack([wheel.pose(swing[:, i]).steer for i, wheel in enumerate(steering.wheels)], axis=1)
        turns_back = np.any(np.sign(lock) * np.diff(steer[[0, 1]], axis=0) < 0)
        assert np.all(reach[0] >= 0)
        rods = steering.mechanism.rod_angles(beyond, swing)  # which test_rod_angles.py measures a second time
        assert np.all(rods[0] >= radians(15))
        on_its_axle = np.any(np.abs(rolling_steer(steer, -steering.kingpin_y, 1.5)) > STEEPEST)
        at_the_limit = abs(lock) == radians(900)
        stopped = np.any(reach[1] < 0)
        assert np.any(rods[1] < radians(15)) or turns_back or np.any(np.abs(steer) > pi / 2) or on_its_axle or at_the_limit or stopped


@pytest.mark.target("T19", what="Both wheels turn further and further from lock to lock, every linkage", asked="monotone")
def test_steer_rises_to_both_locks(build, any_keys, leaning):
    """T19: monotone from lock to lock, both wheels."""
    steering = build(**any_keys, **leaning(any_keys), toe_in_deg=0.7)
    steer = steering.front_wheels(np.linspace(steering.lock_right, steering.lock_left, 4001)).steer
    assert np.all(np.diff(steer, axis=0) > 0)


def test_ideal_ends_before_it_turns_about_its_rear_axle(build):
    steering = build(linkage="ideal", hand_wheel_limit_deg=360.0)
    assert degrees(steering.lock_left) == pytest.approx(78.0, rel=0, abs=10.0)
    assert steering.lock_left_cause == "the left wheel stands square across the car"
    inner = steering.front_wheels(np.array([steering.lock_left])).steer[0, 0]
    assert inner == pytest.approx(pi / 2, rel=0, abs=1e-12)
    parallel = build(linkage="parallel", hand_wheel_limit_deg=360.0)
    assert parallel.lock_left_cause == "the car turns about the middle of its rear axle"


def test_outside_the_range_is_refused(build, any_keys):
    steering = build(**any_keys)
    steering.front_wheels(np.array([steering.lock_left + LOCK_SLACK / 2, steering.lock_right]))
    for hand in (steering.lock_left + 1e-9, steering.lock_right - 1e-9, np.nan):
        with pytest.raises(ValueError, match="hand angle outside"):
            steering.front_wheels(np.array([0.0, hand]))


def test_offset_and_names(build, car):
    assert build(linkage="ideal").kingpin_offset == pytest.approx(0.08, rel=1e-14, abs=0)
    assert build(pivot="turntable").kingpin_offset == pytest.approx(0.45, rel=1e-14, abs=0)
    assert build(pivot="turntable").linkage == "turntable"
    assert build(**RACK).linkage == "rack"
    reference = build_steering(ideal_setup(), car, "tried.toml", "setup[0]")
    assert (reference.name, reference.linkage) == ("ideal steering, no toe", "ideal")
    assert reference.front_wheels(np.zeros(1)).steer == pytest.approx(0.0, rel=0, abs=1e-16)


@pytest.mark.parametrize(
    ("keys", "line"),
    [
        (
            {"linkage": "cross rod", "arm_length_mm": 400.0, "arm_angle_deg": 80.0},
            "setup[0].arm_angle_deg: the arms cross the middle of the car: each joint stands 23.9 mm beyond it; "
            "make the angle smaller or the arms shorter",
        ),
        (
            {"linkage": "cross rod", "arm_length_mm": 110.0, "arm_angle_deg": 90.0},
            "setup[0].arm_angle_deg: straight ahead the right rod and arm are in line, so the rod cannot turn the wheel; "
            "change the arm's angle, or move the point that drives the rod",
        ),
        (
            RACK | {"rod_turns_left": 40.0, "thread_pitch_mm": 6.0},
            "setup[0].rod_turns_left: the steering does not work straight ahead: the left arm and its rod come within 15 degrees of one "
            "line; turn the rod ends less",
        ),
        (
            RACK | {"rod_turns_right": -40.0, "thread_pitch_mm": 6.0},
            "setup[0].rod_turns_right: so many turns leave nothing of the right rod, which is 187 mm long; "
            "turn it less, or give a finer thread",
        ),
        (
            CENTRE_ARM | {"drop_arm_pivot_height_mm": 50.0},
            "setup[0].drop_arm_pivot_height_mm: the drop arm would reach 20 mm into the ground; "
            "raise the pivot or shorten the drop arm",
        ),
        (
            CENTRE_ARM | {"rod_turns_left": 30.0, "rod_turns_right": -30.0, "hand_wheel_limit_deg": 10.0},
            "setup[0].rod_turns_left: with the hand wheel hard over to the left the car still turns the other way; "
            "turn the rod ends less",
        ),
    ],
)  # fmt: skip
def test_refusals(build, keys, line):
    with pytest.raises(InputError) as caught:
        build(**keys)
    assert str(caught.value) == f"tried.toml: {line}"


def test_a_steering_that_hardly_turns_to_one_side_is_refused_before_its_table_leaves_straight_ahead_out(build):
    """With more and more turns the left lock comes to straight ahead; the table ends a little before the lock."""
    keys = {"linkage": "centre arm", "arm_length_mm": 117.0, "arm_angle_deg": -10.0, "drop_arm_length_mm": 41.0,
            "drop_arm_behind_front_axle_mm": 158.0, "thread_pitch_mm": 2.0, "rod_turns_right": -16.0}  # fmt: skip
    refused = 0
    for turns in np.arange(24.0, 24.4, 0.02):
        try:
            steering = build(**keys, rod_turns_left=turns)
        except InputError as fault:
            refused += "hard over to the left the car hardly turns that way: the right wheel turns no further" in str(fault)
            continue
        table = steer_table(steering, 1.5)
        assert table.lock_right < 0 < table.lock_left
    assert refused > 0


def test_a_rod_along_the_car_cannot_be_moved_sideways(build):
    """An arm straight out to the side and a rod straight ahead of its joint."""
    keys = {"linkage": "rack", "arm_length_mm": 100.0, "arm_angle_deg": -90.0, "rack_mm_per_turn": 60.0}
    with pytest.raises(InputError, match="a rod lies along the car"):
        build(**keys, rack_behind_front_axle_mm=200.0, rack_length_mm=940.0)


@pytest.mark.parametrize(("spare_deg", "problem"), [
    (0.03, "to the left the steering locks at 0.0[0-9] degrees of the hand wheel: the left arm and its rod come within 15 degrees"),
    (-0.03, "the steering does not work straight ahead: the left arm and its rod come within 15 degrees"),
])  # fmt: skip
def test_nearly_locked_is_refused(build, spare_deg, problem):
    """A cross rod's arms kinked until they nearly lie at the least angle, straight ahead, leave no range to drive with."""
    with pytest.raises(InputError, match=problem) as caught:
        build(linkage="cross rod", arm_length_mm=110.0, arm_angle_deg=75.0 - spare_deg)
    assert caught.value.place == "setup[0].arm_angle_deg"


# T4: mirror images


@pytest.mark.target("T4", what="Left and right swapped: every figure is mirrored", asked="1e-10 relative")
def test_mirrored_set_up_mirrors_the_wheels(build, real_keys, leaning, within_target, apart):
    """Left and right turns of the rods swapped: at the opposite hand angle the wheels stand mirrored."""
    keys = real_keys | leaning(real_keys) | {"toe_in_deg": 0.9, "thread_pitch_mm": 1.5}
    one, other = (build(**keys, rod_turns_left=a, rod_turns_right=b) for a, b in ((2.0, -1.0), (-1.0, 2.0)))
    assert_mirrored(one, other, within_target, apart)


@pytest.mark.target("T4", what="Left and right swapped: every figure is mirrored", asked="1e-10 relative")
def test_symmetric_set_up_is_its_own_mirror(build, any_keys, leaning, within_target, apart):
    steering = build(**any_keys, **leaning(any_keys), toe_in_deg=-0.6)
    assert_mirrored(steering, steering, within_target, apart)


def assert_mirrored(one, other, within_target, apart):
    hand = np.linspace(one.lock_right, one.lock_left, 301)[1:-1]
    if one.linkage == "cross rod":  # the hand angle is the left wheel's swing, so the mirror image goes by the right wheel's
        opposite = -one.front_wheels(hand).swing[:, 1]
        inside = (opposite < other.lock_left) & (opposite > other.lock_right)
        assert np.count_nonzero(inside) > 200
        hand, opposite = hand[inside], opposite[inside]
    else:
        opposite = -hand
        assert (other.lock_left, other.lock_right) == pytest.approx((-one.lock_right, -one.lock_left), rel=1e-10, abs=0)
        swapped = one.lock_left_cause.replace("left", "?").replace("right", "left").replace("?", "right")
        assert other.lock_right_cause == swapped
    a, b = one.front_wheels(hand), other.front_wheels(opposite)
    angles, places = (("swing", -1), ("steer", -1), ("camber", -1)), (("x", 1), ("y", -1), ("rise", 1))
    for of, names in (("angles", angles), ("places", places)):
        there = np.array([getattr(b, name)[:, ::-1] for name, _ in names])
        within_target(apart(there, np.array([sign * getattr(a, name) for name, sign in names])), at_most=1e-10, of=of)
    for name, sign in (*angles, *places):
        assert getattr(b, name)[:, ::-1] == pytest.approx(sign * getattr(a, name), rel=1e-10, abs=1e-12), name


def test_centre_arm_joint_moves_as_described(build):
    """Sideways length x sin, up length x (1 - cos); arms behind the axle need the joint to go right for a left turn."""
    path = build(**CENTRE_ARM).mechanism.path
    hand = radians(40)
    expected = [0.0, -0.07 * np.sin(hand), 0.07 * (1 - np.cos(hand))]
    assert path(np.array([hand]))[0] == pytest.approx(expected, rel=1e-14, abs=0)
    ahead = build(**CENTRE_ARM | {"arm_angle_deg": -166.0, "drop_arm_behind_front_axle_mm": -107.0}).mechanism.path
    assert ahead(np.array([hand]))[0, 1] == pytest.approx(0.07 * np.sin(hand), rel=1e-14, abs=0)


def test_rack_moves_by_its_travel(build):
    path = build(**RACK).mechanism.path
    assert path(np.array([2 * pi]))[0] == pytest.approx([0.0, -0.060, 0.0], rel=1e-14, abs=0)


def test_rack_wheel_by_hand(build):
    """Worked by hand: arms and rods square to each other, so a small shift turns the wheel by asin(shift / arm) nearly."""
    keys = {"linkage": "rack", "arm_length_mm": 100.0, "arm_angle_deg": 0.0, "rack_behind_front_axle_mm": 100.0}
    steering = build(**keys, rack_length_mm=340.0, rack_mm_per_turn=60.0)
    hand = radians(60)  # 10 mm; the left rod is 200 mm long
    left = steering.front_wheels(np.array([hand])).steer[0, 0]
    # The joint ends at distance 200 mm from the rack's end at (-100, 160) mm: the circle about (0, 370) mm of radius 100 mm.
    away = np.array([-0.100, 0.160 - 0.370])
    reach = hypot(*away)
    between = acos((0.100**2 + reach**2 - 0.200**2) / (2 * 0.100 * reach))
    straight_back = np.arctan2(away[1], away[0]) - between
    assert left == pytest.approx(straight_back + pi, rel=0, abs=1e-12)
    assert left == pytest.approx(asin(0.1), rel=0.02, abs=0)


def test_the_contact_point_stands_half_the_tracks_difference_outside_the_kingpin(build):
    # The car of these tests: 900 mm between contact points, 740 mm between kingpin axes at the ground.
    assert build(linkage="ideal").kingpin_offset == pytest.approx(0.080, rel=1e-12, abs=0)
