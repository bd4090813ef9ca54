"""Kingpins and turntable axles in space."""

from math import cos, radians, sin, tan

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from sim.linkages.pivots import LEFT, RIGHT, angle_where, rotated, stub_axles, turntable_axle

SWINGS = np.radians([-70.0, -25.0, -1e-3, 0.0, 0.4, 12.0, 63.0])
CASES = {
    "upright": stub_axles(0.90, 0.74, 0.203, 0.0, 0.0),
    "leaning": stub_axles(0.90, 0.74, 0.203, radians(11), radians(8)),
    "leaning out and forward": stub_axles(0.80, 0.86, 0.25, radians(-7), radians(-12)),
    "turntable": turntable_axle(0.90, 0.203, radians(10), radians(1.5)),
}


def test_rotation_meets_scipy():
    """Against scipy's rotation by a rotation vector, for drawn vectors and axes."""
    draw = np.random.default_rng(20)
    for _ in range(50):
        vector, axis, angles = draw.normal(size=3), draw.normal(size=3), draw.uniform(-4, 4, 7)
        axis /= np.linalg.norm(axis)
        expected = np.stack([Rotation.from_rotvec(axis * angle).apply(vector) for angle in angles])
        assert rotated(vector, axis, angles) == pytest.approx(expected, rel=0, abs=1e-14)


@pytest.mark.outside(
    "", what="Where a wheel that leans and turns touches the road, and how far the car rises",
    source="lowest point of a rim that SciPy turned", how="second", within="1e-7 m aside, 1e-13 m up",
)  # fmt: skip
@pytest.mark.parametrize("case", CASES)
def test_pose_meets_a_rim_of_points(case):
    """Against the lowest of the disc's rim, found by a search over points that scipy turned."""
    from scipy.optimize import minimize_scalar

    for wheel in CASES[case]:
        pose = wheel.pose(SWINGS)
        for i, swing in enumerate(SWINGS):
            turn = Rotation.from_rotvec(wheel.axis * swing)
            centre = wheel.axis_point + turn.apply(wheel.centre - wheel.axis_point)
            spin = turn.apply(wheel.spin)
            ahead = turn.apply(np.cross(wheel.spin, [0, 0, 1]))
            up = turn.apply([0.0, 0.0, 1.0])

            def rim(angle, centre=centre, ahead=ahead, up=up, radius=wheel.radius):
                return centre + radius * (np.sin(angle) * ahead - np.cos(angle) * up)

            lowest = minimize_scalar(lambda a, rim=rim: rim(a)[2], bounds=(-1.5, 1.5), options={"xatol": 1e-10})
            # The search stops where the height no longer tells angles apart: about sqrt(1e-16) of an angle.
            assert [pose.x[i], pose.y[i]] == pytest.approx(rim(lowest.x)[:2], rel=0, abs=1e-7)
            assert pose.rise[i] == pytest.approx(-lowest.fun, rel=0, abs=1e-13)
            # The wheel's line on the ground is square to the upward direction and to the spin axis.
            line = np.cross(spin, [0, 0, 1])
            assert pose.steer[i] == pytest.approx(np.arctan2(line[1], line[0]), rel=0, abs=1e-14)
            assert pose.camber[i] == pytest.approx(np.arcsin(-spin[2]), rel=0, abs=1e-14)


@pytest.mark.target("T3", what="Kingpins that do not lean: the same as in the plane", asked="1e-12 rad, 1e-12 m")
def test_upright_kingpin_is_plane_geometry(within_target):
    """T3: with neither inclination nor caster the contact point turns about the kingpin in the plane."""
    offset = (0.90 - 0.74) / 2
    for side, wheel in zip((1, -1), CASES["upright"], strict=True):
        pose = wheel.pose(SWINGS)
        within_target([np.abs(pose.steer - SWINGS), np.abs(pose.camber)], at_most=1e-12, of="angles")
        off = [pose.rise, pose.x + side * offset * np.sin(SWINGS), pose.y - side * (0.37 + offset * np.cos(SWINGS))]
        within_target(np.abs(off), at_most=1e-12, of="places")


@pytest.mark.target("T3", what="Kingpins that do not lean: the same as in the plane", asked="1e-12 rad, 1e-12 m")
def test_turntable_swings_the_whole_axle(within_target):
    """T3 for an upright turntable: both contact points turn about the middle; toe stays with the axle."""
    toe = radians(2)
    for side, wheel in zip((1, -1), turntable_axle(0.90, 0.203, 0.0, toe), strict=True):
        pose = wheel.pose(SWINGS)
        within_target([np.abs(pose.steer - SWINGS + side * toe), np.abs(pose.camber)], at_most=1e-12, of="angles")
        off = [pose.x + side * 0.45 * np.sin(SWINGS), pose.y - side * 0.45 * np.cos(SWINGS)]
        within_target(np.abs(off), at_most=1e-12, of="places")


@pytest.mark.parametrize("case", CASES)
def test_straight_ahead_stands_upright_on_the_ground(case):
    for wheel in CASES[case]:
        pose = wheel.pose(np.zeros(1))
        assert (pose.camber[0], pose.rise[0], pose.x[0]) == pytest.approx((0.0, 0.0, 0.0), rel=0, abs=1e-15)
        assert pose.y[0] == pytest.approx(wheel.centre[1], rel=0, abs=1e-15)


def test_signs_of_inclination_and_caster():
    """Inclination leans the top inwards, caster backwards: the ground point is outside and ahead of the axis at the hub."""
    left, right = CASES["leaning"]
    assert left.axis_at(0.0) == pytest.approx([0.203 * tan(radians(8)), 0.37, 0.0], rel=0, abs=1e-15)
    assert right.axis_at(0.0) == pytest.approx([0.203 * tan(radians(8)), -0.37, 0.0], rel=0, abs=1e-15)
    assert left.axis[0] < 0
    assert left.axis[1] < 0 < right.axis[1]
    assert turntable_axle(0.90, 0.203, radians(8), 0.0)[LEFT].axis_at(0.0)[0] > 0
    # Caster leans both wheels into a left turn; inclination lifts the car whichever way the wheels turn.
    for wheel in (*stub_axles(0.90, 0.74, 0.203, 0.0, radians(8)), *turntable_axle(0.90, 0.203, radians(8), 0.0)):
        assert wheel.pose(np.array([0.3])).camber[0] > 0
    for wheel in stub_axles(0.90, 0.74, 0.203, radians(8), 0.0):
        assert np.all(wheel.pose(np.array([-0.3, 0.3])).rise > 0)


def test_camber_of_a_pure_caster_by_hand():
    """Worked by hand: turned by d about an axis leaning back by c, the spin axis' height is -sin c sin d."""
    caster, swing = radians(8), 0.5
    for wheel in stub_axles(0.90, 0.90, 0.2, 0.0, caster):
        pose = wheel.pose(np.array([swing]))
        assert sin(pose.camber[0]) == pytest.approx(sin(caster) * sin(swing), rel=1e-14, abs=0)
        assert tan(pose.steer[0]) == pytest.approx(tan(swing) * cos(caster), rel=1e-14, abs=0)


@pytest.mark.parametrize("case", CASES)
def test_swing_for_undoes_the_steer_angle(case):
    steer = np.radians(np.linspace(-88, 88, 41))
    for wheel in CASES[case]:
        swing, reach = wheel.swing_for(steer)
        assert np.all(reach > 0)
        assert wheel.pose(swing).steer == pytest.approx(steer, rel=0, abs=2e-14)
        # One continuous turn, not a jump to the other solution.
        assert np.all(np.diff(swing) > 0)


@pytest.mark.target("T4", what="Left and right swapped: every figure is mirrored", asked="1e-10 relative")
@pytest.mark.parametrize("case", CASES)
def test_sides_mirror_each_other(case, within_target, apart):
    """T4: the right wheel at -swing is the left wheel at swing, mirrored."""
    left, right = CASES[case][LEFT].pose(SWINGS), CASES[case][RIGHT].pose(-SWINGS)
    for name, sign in (("steer", -1), ("camber", -1), ("x", 1), ("y", -1), ("rise", 1)):
        assert getattr(right, name) == pytest.approx(sign * getattr(left, name), rel=1e-10, abs=1e-15)
        within_target(apart(getattr(right, name), sign * getattr(left, name)), at_most=1e-10, of="wheels")


def test_angle_where_has_both_branches_and_an_end():
    """Against the addition theorem for known angles; beyond |C| = hypot(A, B) the reach is below 0."""
    a, b = np.full(4, 3.0), np.full(4, 4.0)
    known = np.array([-2.0, 0.1, 0.9, 2.5])
    c = a * np.cos(known) + b * np.sin(known)
    upper, reach = angle_where(a, b, c, 1.0)
    lower, _ = angle_where(a, b, c, -1.0)
    assert np.all(reach > 0)
    nearest = np.minimum(np.abs(upper - known), np.abs(lower - known))
    assert nearest == pytest.approx(0.0, rel=0, abs=1e-14)
    assert np.all(np.abs(upper) <= np.pi)
    angle, reach = angle_where(np.array([3.0, 0.0]), np.array([4.0, 0.0]), np.array([5.0 + 1e-9, 1.0]), 1.0)
    assert reach[0] == pytest.approx(-2e-10, rel=1e-5, abs=0)
    assert angle[0] == pytest.approx(np.arctan2(4.0, 3.0), rel=0, abs=1e-15)
    assert reach[1] < 0
