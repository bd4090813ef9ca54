"""Arms and rods in closed form against a search in space, the plane, and the laws."""

from math import radians

import mpmath
import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.spatial.transform import Rotation

from sim.linkages.pivots import LEFT, RIGHT, angle_where
from sim.linkages.rolling import ideal_inner, ideal_outer, rolling_steer
from sim.steering.arrangement import build_steering

SIDES = (1.0, -1.0)
TOE = {"toe_in_deg": 0.8, "rod_turns_left": 1.5, "rod_turns_right": -0.5, "thread_pitch_mm": 1.0}


class Sketch:
    """The same set-up drawn a second time, from the description alone, with scipy's rotation and a root search."""

    def __init__(self, setup, car):
        self.setup = setup
        self.radius = car.wheel_radius_mm / 1e3
        lean, caster = np.tan(radians(setup.kingpin_inclination_deg)), np.tan(radians(setup.caster_deg))
        height = self.radius if setup.arm_joint_height_mm is None else setup.arm_joint_height_mm / 1e3
        angle, length = radians(setup.arm_angle_deg), setup.arm_length_mm / 1e3
        self.foot, self.axis, self.joint = [], [], []
        for side in SIDES:
            foot = np.array([self.radius * caster, side * car.kingpin_track_mm / 2e3, 0.0])
            slope = np.array([-caster, -side * lean, 1.0])
            self.foot.append(foot)
            self.axis.append(slope / np.linalg.norm(slope))
            self.joint.append(foot + slope * height + length * np.array([-np.cos(angle), -side * np.sin(angle), 0.0]))
        self.toe = [self.swing_of_steer(side, -side_sign * setup.toe_in) for side, side_sign in enumerate(SIDES)]
        turns = np.array([setup.rod_turns_left, setup.rod_turns_right]) * setup.thread_pitch_mm / 1e3
        if setup.linkage == "cross rod":
            span = np.linalg.norm(self.joint_at(RIGHT, self.toe[RIGHT]) - self.joint_at(LEFT, self.toe[LEFT]))
            self.rods = [None, span + turns.sum()]
        else:
            self.rods = [
                np.linalg.norm(self.joint_at(side, self.toe[side]) - self.driver(side, 0.0, 1.0)) + turns[side] for side in (LEFT, RIGHT)
            ]

    def turned(self, side, swing):
        return Rotation.from_rotvec(self.axis[side] * swing)

    def joint_at(self, side, swing):
        return self.foot[side] + self.turned(side, swing).apply(self.joint[side] - self.foot[side])

    def swing_of_steer(self, side, steer):
        def miss(swing):
            spin = self.turned(side, swing).apply([0.0, 1.0, 0.0])
            return np.arctan2(-spin[0], spin[1]) - steer

        return brentq(miss, -0.5, 0.5, xtol=1e-15, rtol=1e-15)

    def driver(self, side, hand, direction):
        """Where a rod's inner end stands, by the description in words."""
        s = self.setup
        level = self.radius if s.arm_joint_height_mm is None else s.arm_joint_height_mm / 1e3
        if s.linkage == "rack":
            end = SIDES[side] * s.rack_length_mm / 2e3
            return np.array([-s.rack_behind_front_axle_mm / 1e3, end + direction * hand / (2 * np.pi) * s.rack_mm_per_turn / 1e3, level])
        arm = s.drop_arm_length_mm / 1e3
        pivot = level + arm if s.drop_arm_pivot_height_mm is None else s.drop_arm_pivot_height_mm / 1e3
        hang = Rotation.from_rotvec([direction * hand, 0.0, 0.0]).apply([0.0, 0.0, -arm])
        return np.array([-s.drop_arm_behind_front_axle_mm / 1e3, SIDES[side] * s.drop_arm_joint_spacing_mm / 2e3, pivot]) + hang

    def follow(self, hands, direction):
        """Swings along a path of hand angles that begins straight ahead: each root is sought near the last."""
        rows, last = [], list(self.toe)
        for hand in hands:
            for side in (LEFT, RIGHT):
                if self.rods[side] is None:
                    last[side] = hand
                    continue
                inner = self.joint_at(LEFT, last[LEFT]) if self.setup.linkage == "cross rod" else self.driver(side, hand, direction)

                def miss(swing, side=side, inner=inner):
                    return np.linalg.norm(self.joint_at(side, swing) - inner) - self.rods[side]

                last[side] = brentq(miss, last[side] - 0.04, last[side] + 0.04, xtol=1e-15, rtol=1e-15)
            rows.append(list(last))
        return np.array(rows)


def direction_of(steering):
    """Which way the moving points go for a positive hand angle, as built."""
    path = getattr(steering.mechanism, "path", None)
    return 1.0 if path is None else float(np.sign(path(np.array([1e-3]))[0, 1]))


def rods_of(steering):
    mechanism = steering.mechanism
    return [(RIGHT, mechanism.rod)] if hasattr(mechanism, "rod") else list(enumerate(mechanism.rods))


def moving_points(steering, side, hand):
    mechanism = steering.mechanism
    if hasattr(mechanism, "rod"):
        wheel = mechanism.left
        turn = Rotation.from_rotvec(hand[:, None] * wheel.axis)
        return wheel.axis_point + turn.apply(mechanism.joint - wheel.axis_point)
    return mechanism.points[side] + mechanism.path(hand)


def away_from_lock(steering, end, share=0.97):
    """A path of hand angles from straight ahead towards a lock, dense towards it, ending well inside."""
    return share * end * np.sin(np.linspace(0, np.pi / 2, 100))


@pytest.mark.target(
    "T1", what="Arms and rods in closed form: each wheel's angle against a root search, up to 97 % of the lock",
    asked="1e-9 rad",
)  # fmt: skip
@pytest.mark.outside(
    "", what="Every real linkage drawn a second time in space, upright and leaning, with toe and turned rods, from lock to lock",
    source="rotations and root search by SciPy", how="second", within="1e-9 rad in each wheel's swing",
)  # fmt: skip
@pytest.mark.parametrize("extra", [{}, TOE], ids=["plain", "toe and turned rods"])
@pytest.mark.parametrize("lean", [{}, {"kingpin_inclination_deg": 9.0, "caster_deg": 7.0}], ids=["upright", "leaning"])
def test_closed_form_meets_a_search_in_space(build, setup_of, car, real_keys, lean, extra, within_target):
    """T1: swings within 1e-9 rad of a root search on the rod's length, followed from straight ahead to both locks."""
    keys = real_keys | lean | extra
    steering, sketch = build(**keys), Sketch(setup_of(**keys), car)
    for end in (steering.lock_left, steering.lock_right):
        hands = away_from_lock(steering, end)
        ours = steering.front_wheels(hands).swing
        theirs = sketch.follow(hands, direction_of(steering))
        within_target(np.abs(ours - theirs), at_most=1e-9)
        assert not np.array_equal(ours, theirs)  # both really ran


@pytest.mark.target("T1", what="The same at the very lock, where a square root ends it, against bisection in 50 digits", asked="1e-7 rad")
def test_closed_form_meets_a_bisection_at_the_very_lock(within_target):
    """The last thousandth before A cos d + B sin d = C has no solution; the bisection knows A, B and C to the same bits."""
    draw = np.random.default_rng(12)
    for short in [0.0, 1e-16, 1e-15, 1e-12, 1e-9, 1e-6, 1e-3] * 10:
        a, b = draw.normal(size=2)
        c = np.hypot(a, b) * (1 - short)
        angle, reach = angle_where(np.array([a]), np.array([b]), np.array([c]), 1.0)
        with mpmath.workdps(50):
            low = mpmath.atan2(b, a)
            high = low + mpmath.pi
            for _ in range(100):
                middle = (low + high) / 2
                low, high = (middle, high) if a * mpmath.cos(middle) + b * mpmath.sin(middle) > c else (low, middle)
            turn = (mpmath.mpf(float(angle[0])) - low) / (2 * mpmath.pi)
            within_target(float(abs(turn - mpmath.nint(turn)) * 2 * mpmath.pi), at_most=1e-7)
        assert reach[0] == pytest.approx(short, rel=1e-3, abs=4e-16)


@pytest.mark.target("T1", what="Length of a rod after the solve, locks included", asked="1e-12 m")
def test_rod_keeps_its_length_up_to_the_lock(build, real_keys, leaning, within_target):
    """T1: 1e-12 m everywhere, locks included."""
    steering = build(**real_keys, **leaning(real_keys), **TOE)
    hand = np.concatenate([np.linspace(steering.lock_right, steering.lock_left, 501), [steering.lock_left]])
    swing = steering.front_wheels(hand).swing
    for side, rod in rods_of(steering):
        turn = Rotation.from_rotvec(swing[:, [side]] * rod.wheel.axis)
        joint = rod.wheel.axis_point + turn.apply(rod.joint - rod.wheel.axis_point)
        length = np.linalg.norm(joint - moving_points(steering, side, hand), axis=1)
        within_target(np.abs(length - rod.length), at_most=1e-12)


@pytest.mark.target("T3", what="Kingpins that do not lean: the same as in the plane", asked="1e-12 rad, 1e-12 m")
def test_upright_linkage_is_the_plane_mechanism(build, real_keys, within_target):
    """T3: against the crossing of two circles in the plane, whose radii are the arm and the rod seen from above."""
    steering = build(**real_keys)
    hand = np.linspace(0.99 * steering.lock_right, 0.99 * steering.lock_left, 201)
    pose = steering.front_wheels(hand)
    within_target([np.abs(pose.steer - pose.swing), np.abs(pose.camber)], at_most=1e-12, of="angles")
    for side, rod in rods_of(steering):
        centre = complex(0.0, SIDES[side] * 0.37)
        arm = complex(*rod.joint[:2]) - centre
        points = moving_points(steering, side, hand)
        driver = points[:, 0] + 1j * points[:, 1]
        plan = rod.length**2 - (points[:, 2] - rod.joint[2]) ** 2
        away = driver - centre
        along = (abs(arm) ** 2 - plan + np.abs(away) ** 2) / (2 * np.abs(away))
        across = np.sqrt(abs(arm) ** 2 - along**2)
        crossings = [away / np.abs(away) * (along + 1j * sign * across) for sign in (1, -1)]
        angles = np.stack([np.angle(crossing / arm) for crossing in crossings])
        nearest = np.abs(angles - pose.swing[:, side]).min(axis=0)
        within_target(nearest, at_most=1e-12, of="angles")


def test_rods_hold_the_static_toe(build, real_keys, leaning):
    """The reported angles straight ahead are the toe; a cross rod's hand angle is then the left wheel's swing."""
    steering = build(**real_keys, **leaning(real_keys), toe_in_deg=1.2)
    hand = 0.0
    if real_keys["linkage"] == "cross rod":
        hand = float(steering.wheels[LEFT].swing_for(np.array([-radians(1.2)]))[0][0])
    steer = steering.front_wheels(np.array([hand])).steer[0]
    assert steer == pytest.approx([-radians(1.2), radians(1.2)], rel=0, abs=1e-14)


def test_cross_rod_hand_is_the_left_swing(build):
    """Hand angle 0 stands the left wheel straight ahead, also with toe: the right wheel then shows all of it."""
    steering = build(linkage="cross rod", arm_length_mm=110.0, arm_angle_deg=13.9, toe_in_deg=1.0)
    pose = steering.front_wheels(np.array([-0.2, 0.0, 0.3]))
    assert pose.swing[:, LEFT] == pytest.approx([-0.2, 0.0, 0.3], rel=0, abs=0)
    assert np.degrees(pose.steer[1]) == pytest.approx([0.0, 2.0], rel=0, abs=0.01)


def test_positive_hand_steers_left(build, any_keys, leaning):
    """Arms behind or ahead of the axle, rods anywhere: every hand angle above 0 turns both wheels to the left."""
    steering = build(**any_keys, **leaning(any_keys))
    steer = steering.front_wheels(np.array([0.02, 0.1, 0.5]) * steering.lock_left).steer
    assert np.all(steer > 0)
    assert np.all(np.diff(steer, axis=0) > 0)


def test_longer_rods_turn_the_wheels_as_expected(build):
    """Rods that run outwards to arms behind the axle push the joints outwards when longer: the wheels toe in.

    One wheel of a M8 rod end at a 110 mm arm: about pitch / arm = 0.65 degrees a turn.
    """
    keys = {"linkage": "rack", "arm_length_mm": 110.0, "arm_angle_deg": 0.0, "rack_behind_front_axle_mm": 110.0}
    keys |= {"rack_length_mm": 300.0, "rack_mm_per_turn": 60.0}
    for side, key in enumerate(("rod_turns_left", "rod_turns_right")):
        steer = np.degrees(build(**keys, **{key: 1.0}).front_wheels(np.zeros(1)).steer[0])
        assert SIDES[side] * steer[side] == pytest.approx(-np.degrees(1.25 / 110), rel=1e-3, abs=0)
        assert steer[1 - side] == pytest.approx(0.0, rel=0, abs=1e-12)


def test_cross_rod_counts_the_turns_of_both_ends(build):
    keys = {"linkage": "cross rod", "arm_length_mm": 110.0, "arm_angle_deg": 13.9}
    hands = np.linspace(-0.5, 0.5, 11)
    both = build(**keys, rod_turns_left=1.0, rod_turns_right=0.5).front_wheels(hands).steer
    assert build(**keys, rod_turns_right=1.5).front_wheels(hands).steer == pytest.approx(both, rel=0, abs=1e-14)


def test_turned_rods_change_the_length_by_pitch(build, real_keys):
    plain, turned = (build(**real_keys, **keys) for keys in ({}, {"rod_turns_left": 2.0, "rod_turns_right": 2.0}))
    ends = 2 if real_keys["linkage"] == "cross rod" else 1
    for (_, a), (_, b) in zip(rods_of(plain), rods_of(turned), strict=True):
        assert b.length - a.length == pytest.approx(ends * 2 * 1.25e-3, rel=0, abs=1e-15)


# Laws


HANDS = np.radians([-58.0, -31.0, -4.0, -1e-6, 1e-6, 2.0, 17.0, 44.0, 59.0])


def cotangents(steering, hands=HANDS):
    return 1 / np.tan(steering.front_wheels(hands).steer)


@pytest.mark.target(
    "T2", what="Ideal steering: cot outer - cot inner = kingpin track / wheelbase",
    asked="1e-12; of a cotangent above 1000, 1e-15 of it",
)  # fmt: skip
def test_ideal_meets_its_condition(build, within_target):
    """T2, the Ackermann condition: cot d_outer - cot d_inner = kingpin track / wheelbase.

    1e-12, and where the cotangents themselves are above 1000 the last bits of these: 1e-15 of them.
    """
    left, right = cotangents(build(linkage="ideal")).T
    for found, expected in ((right - left, 740 / 1500), ((right + left) / 2, 1 / np.tan(HANDS))):
        within_target(np.abs(found - expected) / np.maximum(1.0, 1e-3 * np.abs(left)), at_most=1e-12)


@pytest.mark.target("T2", what="A fraction of 1 is ideal steering, of 0 parallel", asked="1e-12 rad")
def test_fraction_one_is_ideal_and_nought_is_parallel(build, within_target):
    """T2: 1e-12 rad."""
    hands = np.linspace(-1.04, 1.04, 401)
    for share, linkage in ((1.0, "ideal"), (0.0, "parallel")):
        ours = build(linkage="fraction", fraction=share).front_wheels(hands).steer
        within_target(np.abs(ours - build(linkage=linkage).front_wheels(hands).steer), at_most=1e-12)


@pytest.mark.target("T2", what="Any other fraction is that share of the ideal difference, by a root search", asked="1e-12 rad")
@pytest.mark.parametrize("share", [-1.5, -0.6, 0.3, 0.8, 1.4, 2.0])
def test_fraction_is_a_share_of_the_ideal_difference(build, share, within_target):
    """T2 by definition: at the wheels' mean angle the ideal pair, found by a root search, differs 1 / p times as much."""
    steering = build(linkage="fraction", fraction=share)
    hands = 0.999 * np.linspace(-1, 1, 12) * steering.lock_left
    left, right = steering.front_wheels(hands).steer.T
    mean = (left + right) / 2
    for size, difference in zip(np.abs(mean), left - right, strict=True):

        def miss(half, size=size):
            return 1 / np.tan(size - half) - 1 / np.tan(size + half) - 740 / 1500

        half = brentq(miss, 0.0, 0.9 * size, xtol=1e-16, rtol=1e-14)
        within_target(abs(difference - share * 2 * half), at_most=1e-12)
    assert (1 / np.tan(left) + 1 / np.tan(right)) / 2 == pytest.approx(1 / np.tan(hands), rel=1e-12, abs=1e-12)


def test_fraction_ends_where_the_outer_wheel_turns_back(car, setup_of):
    """A wide short car at twice the ideal difference; the end is found on a fine grid of mean angles from the definition."""
    wide = car.model_copy(update={"wheelbase_mm": 800.0, "front_track_mm": 1600.0, "kingpin_track_mm": 1600.0})
    steering = build_steering(setup_of(linkage="fraction", fraction=2.0), wide, "tried.toml", "setup[0]")
    mean = np.linspace(1e-3, 1.0, 100_001)
    # cot(M - D) - cot(M + D) = 2 sin 2D / (cos 2D - cos 2M) = 2, so sin 2D - cos 2D = -cos 2M: by Newton's steps.
    double = np.zeros_like(mean)
    for _ in range(50):
        double -= (np.sin(double) - np.cos(double) + np.cos(2 * mean)) / (np.cos(double) + np.sin(double))
    outer, inner = mean - double, mean + double
    last = np.argmax(outer)
    hand = np.arctan(2 / (1 / np.tan(inner[last]) + 1 / np.tan(outer[last])))
    assert 0 < last < len(mean) - 1
    assert steering.lock_left_cause in ("the wheels turn no further", "the right wheel turns no further")
    assert steering.lock_left == pytest.approx(hand, rel=0, abs=2e-5)  # two steps of the grid
    end = steering.front_wheels(np.array([steering.lock_left])).steer[0]
    assert end == pytest.approx([inner[last], outer[last]], rel=0, abs=2e-5)


def test_laws_give_reported_angles_on_leaning_kingpins(build, law_keys):
    """The law holds for the angles on the ground, and toe is added to them."""
    upright = build(**law_keys)
    leaning = build(**law_keys, kingpin_inclination_deg=12.0, caster_deg=-8.0, toe_in_deg=1.5)
    hands = np.linspace(-0.9, 0.9, 21)
    toe = np.array([-radians(1.5), radians(1.5)])
    law, found = upright.front_wheels(hands), leaning.front_wheels(hands)
    assert found.steer == pytest.approx(law.steer + toe, rel=0, abs=1e-12)
    assert np.abs(found.swing - found.steer).max() > 1e-3


# Worked by hand: wheelbase 1500 mm, kingpin track 740 mm; cot(outer) = cot(inner) + 740/1500
@pytest.mark.parametrize(("inner_deg", "outer_deg"), [(10.0, 9.21), (20.0, 17.15), (30.0, 24.20)])
def test_ideal_outer_by_hand(inner_deg, outer_deg):
    assert ideal_outer(radians(inner_deg), 0.740, 1.500) == pytest.approx(radians(outer_deg), rel=0, abs=radians(0.005))


def test_ideal_inner_undoes_ideal_outer():
    inner = np.radians([-60.0, -20.0, 0.0, 1e-7, 5.0, 70.0, 100.0])
    outer = ideal_outer(inner, 0.74, 1.5)
    assert ideal_inner(outer, 0.74, 1.5) == pytest.approx(inner, rel=0, abs=1e-15)
    assert np.all(np.abs(outer) <= np.abs(inner))
    assert rolling_steer(np.pi / 2, 0.5, 1.5) == pytest.approx(np.arctan2(1.5, -0.5), rel=0, abs=1e-15)
