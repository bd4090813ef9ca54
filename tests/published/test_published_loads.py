"""Loads and tipping against the literature; each figure with where it stands and the digits that are printed there."""

from math import radians, sqrt

import numpy as np
import pytest

from sim.chassis import GRAVITY, tip_limit, wheel_loads
from sim.lap import front_pose, hands_of

X = np.array([0.8, 0.8, -0.7, -0.7])  # reference car K
Y = np.array([0.4, -0.4, 0.35, -0.35])


def box(track):
    """Contact points of a car with equal tracks [m]."""
    return X, 0.5 * track * np.array([1, -1, 1, -1])


@pytest.mark.parametrize(("track", "height", "factor"), [(1.5, 0.5, 1.5), (1.5, 0.75, 1.0), (0.8, 0.35, 1.142857142857)])
def test_static_stability_factor(track, height, factor):
    # SSF = t / (2 h): nhtsa.dot.gov, Rollover Chapter 5 (formula as printed; the numbers are by hand)
    assert tip_limit(*box(track), height) / GRAVITY == pytest.approx(factor, rel=1e-12, abs=0)


def test_tip_speed_on_20_m(within_published):
    # physicsforums.com/threads/174374: R 20 m, track 1.3, h 0.6: "tip 14.58 m/s"
    within_published(sqrt(tip_limit(*box(1.3), 0.6) * 20.0), 14.58, 0.005)


def test_tip_speed_on_50_m(within_published):
    # clay6.com/qa/52661: R 50 m, wheels 2 m apart, h 0.8 m: "24.76 m/s"
    within_published(sqrt(tip_limit(*box(2.0), 0.8) * 50.0), 24.76, 0.005)


def test_two_wheels_ahead_one_behind(within_published):
    # Huston, Graves and Johnson, SAE 820139 (1982), formula from memory: a_y/g = (t / 2h)(b / l); car K: 0.5333
    within_published(tip_limit(X, np.array([0.4, -0.4, 0.0, 0.0]), 0.35) / GRAVITY, 0.5333, 0.00005)


def test_one_wheel_ahead_two_behind():
    # the same source: (t / 2h)(a / l), here with the rear track of K
    limit = tip_limit(X, np.array([0.0, 0.0, 0.35, -0.35]), 0.35)
    assert limit / GRAVITY == pytest.approx(0.7 / 0.7 * 0.8 / 1.5, rel=1e-12, abs=0)


def test_unlike_tracks(within_published):
    # Published values R5 (statics): 1.06667 g, not 1.07143 g as the mean track would give
    within_published(tip_limit(X, Y, 0.35) / GRAVITY, 1.06667, 0.000005)


@pytest.mark.parametrize(
    ("share", "printed"),
    [
        (0.0, (343.350, 343.350, 392.400, 392.400)),
        (0.3, (233.964, 452.736, 296.687, 488.113)),
        (0.5, (161.040, 525.660, 232.879, 551.921)),
        (0.8, (51.654, 635.046, 137.166, 647.634)),
    ],
)
def test_four_equal_springs(within_published, share, printed):
    # Published values R6 (statics), newtons to three decimals, car K in a left turn
    loads = np.empty(4)
    assert wheel_loads(X, Y, 150 * GRAVITY, 0.0, share * 150 * GRAVITY, 0.35, loads) == 0
    for ours, theirs in zip(loads, printed, strict=True):
        within_published(ours, theirs, 0.0005)


@pytest.mark.parametrize(("share", "lifted"), [(0.941666, 0), (0.941668, 1), (1.066666, 1), (1.066668, 2)])
def test_lift_and_tip(share, lifted):
    # Published values R6: "inner front lifts at 0.941667 g; the car tips at 1.066667 g"
    assert wheel_loads(X, Y, 150 * GRAVITY, 0.0, share * 150 * GRAVITY, 0.35, np.empty(4)) == lifted


@pytest.mark.parametrize(("swing_deg", "printed"), [(0, 1.0667), (10, 1.0560), (20, 1.0316), (30, 0.9958)])
@pytest.mark.parametrize("sign", [1, -1])
def test_turntable_tips_earlier_when_turned(vehicle, within_published, swing_deg, printed, sign):
    # Published values G14 (geometry): threshold in g of car K with a turntable axle; the contact points from the steer table
    car, table = vehicle("K", pivot="turntable")
    steers, rates, x, y, cambers = (np.empty(4) for _ in range(5))
    front_pose(hands_of(table), car, sign * radians(swing_deg), 0.0, steers, rates, x, y, cambers)
    within_published(tip_limit(x, y, car.height, sign > 0) / GRAVITY, printed, 0.00005)
