"""Rolling turns against plane geometry."""

from math import atan, hypot, sqrt

import numpy as np
import pytest

from sim.turn.rolling import rolling_turn


@pytest.mark.parametrize("radius", [4.0, -6.0])
def test_wheels_of_a_rolling_turn_run_as_far_as_they_are_from_its_centre(vehicle, radius):
    """The centre lies on the rear axle's line; each wheel's speed is to the mass centre's as its distance from there is to the radius."""
    car, table = vehicle("standard", linkage="ideal")
    rear = sqrt(radius**2 - 0.68**2) * np.sign(radius)  # from the middle of the rear axle to the centre, left positive
    bicycle = rolling_turn(car, None, 1 / radius)
    ways = np.array([hypot(rear, 1.5)] * 2 + [abs(rear)] * 2) / abs(radius)
    np.testing.assert_allclose(bicycle.wheel_speeds, ways, rtol=1e-12, atol=0)
    assert (bicycle.steer, bicycle.scrub) == (pytest.approx(atan(1.5 / rear), rel=1e-12, abs=0), 0.0)
    assert bicycle.sideslip == pytest.approx(atan(0.68 / rear), rel=1e-12, abs=0)
    # Ideal steering lets four wheels do the same, but for the contact points that move with the kingpins' offset.
    turn = rolling_turn(car, table, 1 / radius)
    assert turn.steer == pytest.approx(bicycle.steer, rel=2e-3, abs=0)
    assert turn.sideslip == pytest.approx(bicycle.sideslip, rel=5e-3, abs=0)
    np.testing.assert_allclose(turn.slips, 0.0, rtol=0, atol=2e-3)
    np.testing.assert_allclose(turn.wheel_speeds[2:], np.abs(rear - np.array([0.43, -0.43])) / abs(radius), rtol=1e-3, atol=0)
