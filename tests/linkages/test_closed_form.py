"""The compiled closed form against the single angles, differences, and a path that is written without its rate."""

from dataclasses import replace
from math import radians

import numpy as np
import pytest

from sim.kernels.splines import even_pieces, spline_pieces
from sim.linkages.closed_form import Turn, full_angle
from sim.linkages.mechanism import BLOCK
from sim.linkages.parts import BySwings, Guide, moved_joint
from sim.linkages.rolling import equivalent_steer
from sim.steering.arrangement import TURNS_BACK, _Range
from sim.steering.table import SteerColumn, steer_table

LEANING = {"kingpin_inclination_deg": 9.0, "caster_deg": 7.0}
ROUNDING = 1e-12  # closed forms, a dozen operations from each other
BASE = 1e-5  # of differences: their error is the square of it and rounding over it, both below 1e-9 of a rate of some units [rad]


def lean(keys, degree):
    return {key: value * degree for key, value in LEANING.items() if not (keys.get("pivot") == "turntable" and "inclination" in key)}


@pytest.fixture(params=(0.0, 1.0, -0.6), ids=("upright", "leaning", "leaning out"))
def steering(request, build, any_keys):
    return build(**any_keys, **lean(any_keys, request.param), toe_in_deg=0.7)


def test_turning_is_what_swings_and_rod_angles_say(steering):
    """Cosine, sine, rate, reach and transmission angle, from lock to lock."""
    hand = np.linspace(0.999 * steering.lock_right, 0.999 * steering.lock_left, 101)
    mechanism = steering.mechanism
    turns, (swing, reach) = mechanism.turning(hand), mechanism.swings(hand)
    rate = (mechanism.swings(hand + BASE)[0] - mechanism.swings(hand - BASE)[0]) / (2 * BASE)
    angles = mechanism.rod_angles(hand, swing)
    for side, turn in enumerate(turns):
        np.testing.assert_allclose(turn[Turn.COSINE], np.cos(swing[:, side]), rtol=0, atol=ROUNDING)
        np.testing.assert_allclose(turn[Turn.SINE], np.sin(swing[:, side]), rtol=0, atol=ROUNDING)
        np.testing.assert_allclose(turn[Turn.REACH], reach[:, side], rtol=0, atol=ROUNDING)
        np.testing.assert_allclose(np.arctan2(turn[Turn.PRESS], np.abs(turn[Turn.ALONG])), angles[:, side], rtol=0, atol=1e-10)
        np.testing.assert_allclose(turn[Turn.RATE], rate[:, side], rtol=1e-7, atol=1e-8)


def test_nodes_of_a_table_have_the_steer_they_stand_for(steering):
    """At each node's hand angle the wheels ask for the node's steer, and stand as it says."""
    wheelbase = 1.5
    table = steer_table(steering, wheelbase)
    nodes = table.cells[:, :, 0]
    pose = steering.front_wheels(nodes[:, SteerColumn.HAND])
    steer = equivalent_steer(pose.steer, steering.kingpin_y, wheelbase)
    np.testing.assert_allclose(steer, table.first + table.spacing * np.arange(len(nodes)), rtol=0, atol=1e-13)
    np.testing.assert_array_equal(nodes[:, SteerColumn.LEFT_STEER : SteerColumn.RIGHT_STEER + 1], pose.steer)
    assert (np.diff(nodes[:, SteerColumn.HAND]) > 0).all()


RACK = {"linkage": "rack", "arm_length_mm": 210.0, "arm_angle_deg": 63.5, "rack_behind_front_axle_mm": -16.0, "rack_length_mm": 345.0,
        "rack_mm_per_turn": 45.0}  # fmt: skip
DROP = {"linkage": "centre arm", "arm_length_mm": 248.0, "arm_angle_deg": 36.0, "drop_arm_length_mm": 23.0,
        "drop_arm_behind_front_axle_mm": -71.0, "drop_arm_joint_spacing_mm": 211.0}  # fmt: skip


@pytest.mark.parametrize("keys", [RACK, DROP], ids=["rack", "centre arm"])
def test_where_a_wheel_turns_back_is_exact(build, keys):
    """The lock is where the wheel's rate passes 0, which differences over 1e-7 rad told to some 1e-7 rad of the hand wheel only."""
    steering = build(**keys)
    for lock, cause in ((steering.lock_left, steering.lock_left_cause), (steering.lock_right, steering.lock_right_cause)):
        side = ("left", "right").index(cause.split()[1])
        assert cause == TURNS_BACK.format(side=("left", "right")[side])

        def rate(hand, side=side, step=2e-3):
            """By eight points, off by the eighth power of the step."""
            factors = np.array([1 / 280, -4 / 105, 1 / 5, -4 / 5, 4 / 5, -1 / 5, 4 / 105, -1 / 280])
            hands = hand + step * np.array([-4, -3, -2, -1, 1, 2, 3, 4])
            swing = steering.mechanism.swings(hands)[0][:, side]
            return factors @ steering.wheels[side].pose(swing).steer / step

        bend = (rate(lock + 1e-4) - rate(lock - 1e-4)) / 2e-4
        assert abs(rate(lock) / bend) < 1e-9


def by_places(guide):
    """A path that tells places alone, from what moves the rods' ends."""
    across, sideways, slide = map(np.array, guide)

    def path(hand):
        cosine, sine = np.cos(hand)[:, None], np.sin(hand)[:, None]
        return (cosine - 1) * across + sine * sideways + hand[:, None] * slide

    return path


def test_a_path_needs_no_rate_of_its_own(build):
    """A path that tells places alone gives the locks of one that tells its motion too: exactly where a rod ends the range."""
    for keys, slack in ((DROP, 1e-6), (RACK, 1e-6), (DROP | {"arm_length_mm": 60.0, "drop_arm_length_mm": 70.0}, 1e-12)):
        steering = build(**keys)
        plain = replace(steering.mechanism, path=by_places(steering.mechanism.path))
        span = _Range(plain, steering.wheels, steering.least_rod_angle, steering.kingpin_y, 1.5)
        (left, left_cause), (right, right_cause) = span.locks(radians(90.0 if keys["linkage"] == "centre arm" else 450.0))
        assert (left, right) == (pytest.approx(steering.lock_left, abs=slack, rel=0), pytest.approx(steering.lock_right, abs=slack, rel=0))
        assert (left_cause, right_cause) == (steering.lock_left_cause, steering.lock_right_cause)


def test_a_linkage_that_has_to_be_asked_gives_the_same_table(build):
    """What is asked block by block and what one call works out are one table: rods on a path of one's own, a law of one's own."""
    rods = build(**DROP | {"arm_length_mm": 60.0, "drop_arm_length_mm": 70.0}, **LEANING, toe_in_deg=0.7)
    law = build(linkage="ideal", **LEANING, toe_in_deg=0.7)

    def ideal(hand):
        return np.stack([np.arctan2(np.sin(hand), np.cos(hand) - y / 1.5 * np.sin(hand)) for y in (0.37, -0.37)], axis=1)

    for steering, plain in (
        (rods, replace(rods.mechanism, path=by_places(rods.mechanism.path))), (law, replace(law.mechanism, law=ideal)),
    ):  # fmt: skip
        assert steering.mechanism.numbers is not None
        assert plain.numbers is None
        one, other = (steer_table(replace(steering, mechanism=kind), 1.5) for kind in (steering.mechanism, plain))
        np.testing.assert_allclose(other.cells[:, :, 0], one.cells[:, :, 0], rtol=0, atol=ROUNDING)
        assert (other.first, other.lock_left) == pytest.approx((one.first, one.lock_left), rel=0, abs=1e-14)


class Asked:
    """A linkage whose numbers no kernel may read: it has to be asked how it turns."""

    numbers = None

    def __init__(self, mechanism):
        self.mechanism = mechanism

    def __getattr__(self, name):
        return getattr(self.mechanism, name)


def test_one_call_finds_what_asking_in_blocks_finds(steering):
    """Lock, cause and table: the compiled search and the one that asks block by block look at the same hand angles."""
    limit = steering.mechanism.hand_limit
    kinds = steering.mechanism, Asked(steering.mechanism)
    found = [_Range(one, steering.wheels, steering.least_rod_angle, steering.kingpin_y, 1.5).locks(limit) for one in kinds]
    for (hand, cause), (same, same_cause) in zip(*found, strict=True):
        assert same == pytest.approx(hand, rel=0, abs=1e-13)
        assert same_cause == cause
    one, other = (steer_table(replace(steering, mechanism=kind), 1.5) for kind in kinds)
    np.testing.assert_allclose(other.cells[:, :, 0], one.cells[:, :, 0], rtol=0, atol=ROUNDING)


@pytest.mark.parametrize("count", [1, BLOCK - 1, BLOCK, BLOCK + 1, 3 * BLOCK + 5])
def test_blocks_leave_nothing_out(steering, count):
    """As many hand angles as one likes, the same bits whatever shares a block with them."""
    hand = np.linspace(0.9 * steering.lock_right, 0.9 * steering.lock_left, count)
    turns, stands = steering.mechanism.turning(hand), steering.front_wheels(hand)
    for i in {0, count // 2, count - 1}:
        np.testing.assert_array_equal(turns[:, :, i], steering.mechanism.turning(hand[[i]])[:, :, 0])
        np.testing.assert_array_equal(stands.steer[i], steering.front_wheels(hand[[i]]).steer[0])


@pytest.mark.parametrize("stop", [0.3, 0.9])
def test_what_moves_the_rods_may_come_to_its_own_stop(build, stop):
    """There the lock is found, if nothing else ends the range before: by numbers and by a path of one's own."""
    steering = build(**DROP | {"arm_length_mm": 110.0, "arm_angle_deg": 13.9, "drop_arm_length_mm": 70.0}, hand_wheel_limit_deg=90.0)
    for path in (steering.mechanism.path, by_places(steering.mechanism.path)):
        stopped = replace(steering.mechanism, path=path, end=stop)
        assert (stopped.numbers is None) == (not isinstance(path, Guide))
        span = _Range(stopped, steering.wheels, steering.least_rod_angle, steering.kingpin_y, 1.5)
        (left, cause), (right, _) = span.locks(radians(90.0))
        assert (left, right) == pytest.approx((min(stop, steering.lock_left), max(-stop, steering.lock_right)), rel=0, abs=1e-12)
        assert (cause == "the wheels turn no further") == (stop < steering.lock_left)
        beyond = replace(steering, mechanism=stopped, lock_left=stop + 0.2, lock_right=-stop - 0.2)
        np.testing.assert_array_equal(*beyond.front_wheels(np.array([stop, stop + 0.1])).steer)


def test_angles_of_directions():
    """All round the circle, against the library."""
    angles = np.random.default_rng(4).uniform(-np.pi, np.pi, 4000)
    found = [full_angle(np.sin(one), np.cos(one)) for one in angles]
    np.testing.assert_allclose(found, np.arctan2(np.sin(angles), np.cos(angles)), rtol=0, atol=5e-16)


class Plain(BySwings):
    """A linkage that knows no more than its swings and its rods' angles."""

    def __init__(self, mechanism):
        self.swings, self.rod_angles = mechanism.swings, mechanism.rod_angles


class OwnCrossRod(BySwings):
    """A linkage of one's own, made of a rod's swing and angle and of where a joint is carried."""

    def __init__(self, cross):
        self.cross = cross

    def swings(self, hand):
        cross = self.cross
        swing, reach = cross.rod.swing(moved_joint(cross.left, cross.joint, hand))
        return np.stack([hand, swing], axis=1), np.stack([np.ones_like(reach), reach], axis=1)

    def rod_angles(self, hand, swing):
        return self.cross.rod_angles(hand, swing)


@pytest.mark.parametrize("degree", [0.0, 1.0])
def test_a_linkage_of_ones_own_is_made_of_rods(build, degree):
    """Its swings and its lock are those of the numbers."""
    keys = {"linkage": "cross rod", "arm_length_mm": 110.0, "arm_angle_deg": 13.9}
    steering = build(**keys, **lean(keys, degree), toe_in_deg=0.7, rod_turns_left=1.0)
    own, hand = OwnCrossRod(steering.mechanism), np.linspace(steering.lock_right, steering.lock_left, 99)
    for one, other in zip(own.swings(hand), steering.mechanism.swings(hand), strict=True):
        np.testing.assert_allclose(one, other, rtol=0, atol=ROUNDING)
    (left, cause), (right, _) = _Range(own, steering.wheels, steering.least_rod_angle, steering.kingpin_y, 1.5).locks(radians(60.0))
    assert (left, right) == pytest.approx((steering.lock_left, steering.lock_right), rel=0, abs=1e-12)
    assert cause == steering.lock_left_cause


def test_a_linkage_may_know_its_swings_alone(build, real_keys):
    """Rates by differences and cosines of angles find the locks that the closed form finds."""
    steering = build(**real_keys, **LEANING)
    limit = max(steering.lock_left, -steering.lock_right) * 1.05
    kinds = steering.mechanism, Plain(steering.mechanism)
    spans = [_Range(one, steering.wheels, steering.least_rod_angle, steering.kingpin_y, 1.5) for one in kinds]
    for (hand, cause), (same, same_cause) in zip(*(span.locks(limit) for span in spans), strict=True):
        assert same == pytest.approx(hand, abs=1e-6 if "turns no" in cause else 1e-12, rel=0)
        assert same_cause == cause


def test_even_pieces_are_the_spline():
    """Bit for bit, in another order."""
    values = np.random.default_rng(3).normal(size=(50, 4))
    expected = spline_pieces(np.arange(50.0), values)[::-1].transpose(1, 2, 0)
    np.testing.assert_array_equal(even_pieces(values), expected)


def test_swings_that_are_told_alone_have_their_rates_by_differences():
    """A linkage of one's own whose swing is the sine of the hand angle: its rate is the cosine."""

    class Sine(BySwings):
        def swings(self, hand):
            return np.stack([np.sin(hand), 2.0 * np.sin(hand)], axis=1), np.ones((len(hand), 2))

        def rod_angles(self, hand, swing):
            return np.full((len(hand), 2), 1.2)

    hand = np.array([-0.4, 0.0, 0.7])
    turns = Sine().turning(hand)
    for side, size in ((0, 1.0), (1, 2.0)):
        np.testing.assert_allclose(turns[side, Turn.COSINE], np.cos(size * np.sin(hand)), rtol=1e-12, atol=0)
        np.testing.assert_allclose(turns[side, Turn.SINE], np.sin(size * np.sin(hand)), rtol=1e-12, atol=1e-15)
        np.testing.assert_allclose(turns[side, Turn.RATE], size * np.cos(hand), rtol=1e-8, atol=0)


def test_a_law_of_ones_own_ends_where_it_says(build):
    """Beyond its end no wheel is reached, so that the lock is there."""
    plain = build(linkage="ideal")
    law = replace(plain.mechanism, law=lambda hand: np.stack([hand, hand], axis=1), end=0.5)
    assert law.numbers is None
    reach = law.turning(np.array([-0.51, -0.49, 0.0, 0.49, 0.51]))[:, Turn.REACH]
    assert ((reach < 0) == [True, False, False, False, True]).all()
    endless = replace(law, end=np.inf).turning(np.array([-1.4, 1.4]))[:, Turn.REACH]
    assert (endless >= 0).all()
