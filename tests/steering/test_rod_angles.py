"""The usable lock: it ends where a rod and its arm come too nearly in line, found here a second time in the plane and in space."""

from math import acos, degrees, hypot, pi, radians, sqrt

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from sim.errors import InputError
from sim.linkages.pivots import LEFT, RIGHT
from sim.steering.angles import turning_circle
from sim.steering.dead_centre import dead_centres

KINKED = {"arm_length_mm": 110.0, "arm_angle_deg": 13.9}
CROSS_ROD = {"linkage": "cross rod", **KINKED}
TRACK, ARM, KINK = 0.74, 0.11, radians(13.9)
ROD = TRACK - 2 * ARM * np.sin(KINK)
IN_LINE = "the {} arm and its rod come within {} degrees of one line"
SIDES = (1.0, -1.0)


def arms_and_rods(steering, hand):
    """Each wheel's arm and rod as vectors from the joint's axis and from the joint, by scipy's rotations: two pairs (n, 3)."""
    mechanism = steering.mechanism
    swing = mechanism.swings(hand)[0]
    rods = (mechanism.back, mechanism.rod) if hasattr(mechanism, "rod") else mechanism.rods
    joints = [
        rod.wheel.axis_point + Rotation.from_rotvec(swing[:, [i]] * rod.wheel.axis).apply(rod.joint - rod.wheel.axis_point)
        for i, rod in enumerate(rods)
    ]
    ends = joints[::-1] if hasattr(mechanism, "rod") else [point + mechanism.path(hand) for point in mechanism.points]
    for rod, joint, end in zip(rods, joints, ends, strict=True):
        axis = rod.wheel.axis
        arm, bar = joint - rod.wheel.axis_point, end - joint
        # Two directions across the axis make the plane in which the angle is measured.
        first = np.cross(axis, [1.0, 0.0, 0.0])
        first /= np.linalg.norm(first)
        second = np.cross(axis, first)
        yield arm @ first + 1j * (arm @ second), bar @ first + 1j * (bar @ second)


def between(arm, bar):
    """The acute angle between two directions of the plane."""
    angle = np.abs(np.angle(bar / arm))
    return np.minimum(angle, pi - angle)


@pytest.mark.slow
@pytest.mark.parametrize("least", [5.0, 15.0, 33.0])
@pytest.mark.parametrize("lean", [False, True], ids=["upright", "leaning"])
def test_the_lock_is_where_a_scan_finds_the_least_angle(build, real_keys, leaning, lean, least):
    """Scanned in steps of a twenty-thousandth of the way: never below the least inside the lock, and below it one step beyond."""
    steering = build(**real_keys, **(leaning(real_keys) if lean else {}), hand_wheel_limit_deg=900.0, least_rod_angle_deg=least)
    for lock, cause in ((steering.lock_left, steering.lock_left_cause), (steering.lock_right, steering.lock_right_cause)):
        hand = lock * np.linspace(0.0, 1.0 + 5e-5, 20_002)
        angles = np.degrees([between(*pair) for pair in arms_and_rods(steering, hand)])
        assert angles[:, :-1].min() >= least - 1e-9
        if "arm and its rod" in cause:
            side = int(np.argmin(angles[:, -2]))
            assert cause == IN_LINE.format(("left", "right")[side], f"{least:g}")
            assert angles[side, -2] == pytest.approx(least, rel=0, abs=1e-9)
            assert angles[side, -1] < least


def test_cross_rod_usable_lock_by_hand(build):
    """Worked by hand in the plane: at the right joint rod and arm make 180 - 15 degrees; two triangles give the left wheel's swing."""
    across = sqrt(ARM**2 + ROD**2 - 2 * ARM * ROD * np.cos(radians(165)))  # from the right kingpin to the left joint
    at_left = acos((TRACK**2 + ARM**2 - across**2) / (2 * TRACK * ARM))
    steering = build(**CROSS_ROD)
    # The arm stands straight back at pi/2 from the line between the kingpins, less the kink.
    assert steering.lock_right == pytest.approx(-(at_left - (pi / 2 - KINK)), rel=0, abs=1e-12)
    assert steering.lock_right_cause == IN_LINE.format("right", 15)
    assert steering.lock_left_cause == IN_LINE.format("left", 15)
    # The mechanism is its own mirror image, though the hand is on the left wheel.
    right, left = (steering.front_wheels(np.array([lock])).steer[0] for lock in (steering.lock_right, steering.lock_left))
    assert left == pytest.approx(-right[::-1], rel=0, abs=1e-12)


def test_dead_centres_of_a_cross_rod_by_hand(build):
    """Rod and right arm in line make a triangle of left joint, right kingpin and rod + arm; to the left its mirror image."""
    at_left = acos((TRACK**2 + ARM**2 - (ROD + ARM) ** 2) / (2 * TRACK * ARM))
    at_right = acos((TRACK**2 + (ROD + ARM) ** 2 - ARM**2) / (2 * TRACK * (ROD + ARM)))
    steering = build(**CROSS_ROD)
    left, right = dead_centres(steering)
    assert (left.side, right.side) == ("left", "right")
    assert right.hand == pytest.approx(-(at_left - (pi / 2 - KINK)), rel=0, abs=1e-9)
    assert left.hand == pytest.approx(pi / 2 - at_right - KINK, rel=0, abs=1e-9)
    assert (left.stop, right.stop) == (steering.lock_left, steering.lock_right)
    assert left.hand > left.stop
    assert right.hand < right.stop


def test_dead_centre_of_a_rack_by_hand(build):
    """Rod and arm in line from the kingpin: the rack's end stands rod + arm away from it."""
    steering = build(linkage="rack", **KINKED, rack_behind_front_axle_mm=140.0, rack_length_mm=320.0, rack_mm_per_turn=60.0)
    reach = steering.mechanism.rod_lengths["left rod"] + ARM
    travel = (0.37 - 0.16) - sqrt(reach**2 - 0.14**2)
    left, right = dead_centres(steering)
    found = left if left.side == "left" else right
    assert abs(found.hand) == pytest.approx(abs(travel) / 0.060 * 2 * pi, rel=0, abs=1e-9)
    assert left.hand == pytest.approx(-right.hand, rel=0, abs=1e-9)


def test_rods_from_eye_to_eye_by_hand(build):
    """A cross rod spans the kingpin track less both arms' kink; a drop arm's rods join its end and the arms' joints."""
    assert build(**CROSS_ROD).mechanism.rod_lengths == pytest.approx({"cross rod": ROD}, rel=1e-12, abs=0)
    centre = build(linkage="centre arm", **KINKED, drop_arm_length_mm=70.0, drop_arm_behind_front_axle_mm=107.0)
    length = hypot(ROD / 2, ARM * np.cos(KINK) - 0.107)
    assert centre.mechanism.rod_lengths == pytest.approx({"left rod": length, "right rod": length}, rel=1e-12, abs=0)
    assert build(linkage="ideal").mechanism.rod_lengths == build(pivot="turntable").mechanism.rod_lengths == {}


def test_a_rod_turned_longer_is_as_much_longer(build):
    plain, turned = (build(**CROSS_ROD, **turns).mechanism.rod_lengths["cross rod"] for turns in ({}, {"rod_turns_left": 2.0}))
    assert turned - plain == pytest.approx(2 * 1.25e-3, rel=1e-9, abs=0)


def test_the_turning_circle_is_that_of_the_usable_lock(build, car):
    """By plane geometry, wheel by wheel: the centre lies on the rear axle's line, the outer front wheel is farthest from it."""
    circles = {}
    for least in (2.0, 15.0, 30.0):
        steering = build(**CROSS_ROD, least_rod_angle_deg=least)
        circles[least] = turning_circle(steering, car).kerb
        left, right = steering.front_wheels(np.array([steering.lock_right])).steer[0]
        curvature = (np.tan(left) / (1.5 + 0.37 * np.tan(left)) + np.tan(right) / (1.5 - 0.37 * np.tan(right))) / 2
        outer = np.array([-0.08 * np.sin(left), 0.37 + 0.08 * np.cos(left)])  # the left wheel, 80 mm outside its kingpin
        assert circles[least] == pytest.approx(2 * hypot(outer[0] + 1.5, outer[1] - 1 / curvature), rel=1e-9, abs=0)
    assert circles[2.0] < circles[15.0] < circles[30.0]


def test_a_hand_wheel_that_stops_before_is_the_lock(build):
    steering = build(**CROSS_ROD, hand_wheel_limit_deg=39.0)
    assert (steering.lock_left, steering.lock_right) == (radians(39.0), -radians(39.0))
    assert steering.lock_left_cause == steering.lock_right_cause == "hand wheel limit"
    assert degrees(dead_centres(steering)[1].stop) == pytest.approx(-39.0, rel=1e-12, abs=0)


def test_without_rods_nothing_comes_in_line(build, law_keys):
    for keys in (law_keys, {"pivot": "turntable"}):
        assert dead_centres(build(**keys)) == (None, None)


def test_arms_that_stand_too_nearly_in_line_are_refused(build):
    """An arm kinked by 80 degrees makes 10 degrees with a rod that lies across."""
    keys = {"linkage": "cross rod", "arm_length_mm": 110.0, "arm_angle_deg": 80.0}
    with pytest.raises(InputError) as caught:
        build(**keys)
    assert str(caught.value) == (
        "tried.toml: setup[0].arm_angle_deg: the steering does not work straight ahead: "
        "the left arm and its rod come within 15 degrees of one line; change the arms' angle or length"
    )
    assert build(**keys, least_rod_angle_deg=8.0).lock_left > 0


def test_a_least_angle_that_no_arm_meets_is_refused(build):
    with pytest.raises(InputError) as caught:
        build(**CROSS_ROD | {"arm_angle_deg": 40.0}, least_rod_angle_deg=55.0)
    assert str(caught.value) == (
        "tried.toml: setup[0].least_rod_angle_deg: the steering does not work straight ahead: "
        "the left arm and its rod come within 55 degrees of one line; choose a smaller one; 15 is usual"
    )


def test_both_arms_of_a_cross_rod_count_alike(build):
    """The angle of each arm straight ahead is a right angle less the kink; in a turn one falls as the other does in the mirrored turn."""
    steering = build(**CROSS_ROD)
    mechanism = steering.mechanism
    hand = np.array([0.0, radians(20.0)])
    swing = mechanism.swings(hand)[0]
    angles = mechanism.rod_angles(hand, swing)
    assert angles[0] == pytest.approx([pi / 2 - KINK] * 2, rel=0, abs=1e-12)
    mirrored = -swing[1:, RIGHT]
    again = mechanism.rod_angles(mirrored, mechanism.swings(mirrored)[0])
    assert again[0] == pytest.approx(angles[1, ::-1], rel=0, abs=1e-12)
    assert angles[1, LEFT] < angles[0, LEFT]
