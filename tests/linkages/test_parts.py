"""What linkages are made of: a mechanism that comes to its own stop."""

from dataclasses import replace
from math import radians

import numpy as np
import pytest

from sim.steering.arrangement import NO_FURTHER, _Range


def test_a_mechanism_that_stops_ends_the_range_there(build):
    """The lock of a rack that meets its housing is where it meets it; up to there nothing changes, and beyond it the rack stays."""
    steering = build(linkage="rack", arm_length_mm=110.0, arm_angle_deg=13.9, rack_behind_front_axle_mm=140.0, rack_length_mm=320.0,
                     rack_mm_per_turn=60.0)  # fmt: skip
    end = radians(70.0)
    stopped = replace(steering.mechanism, end=end)
    span = _Range(stopped, steering.wheels, steering.least_rod_angle, steering.kingpin_y, 1.5)
    (left, left_cause), (right, right_cause) = span.locks(radians(400.0))
    assert (left_cause, right_cause) == (NO_FURTHER, NO_FURTHER)
    assert (left, right) == (pytest.approx(end, rel=1e-12), pytest.approx(-end, rel=1e-12))
    hands = np.linspace(-end, end, 41)
    np.testing.assert_array_equal(stopped.swings(hands)[0], steering.mechanism.swings(hands)[0])
    swing, reach = stopped.swings(np.array([1.5 * end]))
    np.testing.assert_array_equal(swing, steering.mechanism.swings(np.array([end]))[0])
    assert (reach < 0).all()
