"""Loads and tipping against the literature; each figure with where it stands and the digits that are printed there."""

from math import atan2, cos, radians, sin, sqrt

import numpy as np
import pytest
from scipy.optimize import brentq

from sim.car.chassis import GRAVITY, tip_limit, wheel_loads
from sim.steering.cells import front_pose, steer_cells_of
from sim.turn.maps import SHARPNESS, turn_map

X = np.array([0.8, 0.8, -0.7, -0.7])  # reference car K
Y = np.array([0.4, -0.4, 0.35, -0.35])


def box(track):
    """Contact points of a car with equal tracks [m]."""
    return X, 0.5 * track * np.array([1, -1, 1, -1])


@pytest.mark.outside(
    "R1", what="Static stability factor t / 2h as the sideways acceleration that tips a car of equal tracks",
    source="nhtsa.dot.gov, Rollover, chapter 5", how="read", within="1e-12 relative",
)  # fmt: skip
@pytest.mark.parametrize(("track", "height", "factor"), [(1.5, 0.5, 1.5), (1.5, 0.75, 1.0), (0.8, 0.35, 1.142857142857)])
def test_static_stability_factor(track, height, factor):
    # SSF = t / (2 h): nhtsa.dot.gov, Rollover Chapter 5 (formula as printed; the numbers are by hand)
    assert tip_limit(*box(track), height) / GRAVITY == pytest.approx(factor, rel=1e-12, abs=0)


@pytest.mark.outside(
    "R2", what="Speed that tips a car on 20 m, track 1.3 m, height 0.6 m: 14.58 m/s", source="physicsforums.com/threads/174374", how="read",
)  # fmt: skip
def test_tip_speed_on_20_m(within_published):
    # physicsforums.com/threads/174374: R 20 m, track 1.3, h 0.6: "tip 14.58 m/s"
    within_published(sqrt(tip_limit(*box(1.3), 0.6) * 20.0), 14.58, 0.005)


@pytest.mark.outside(
    "R2", what="Speed that tips a car on 50 m, wheels 2 m apart, height 0.8 m: 24.76 m/s", source="clay6.com/qa/52661", how="read",
)  # fmt: skip
def test_tip_speed_on_50_m(within_published):
    # clay6.com/qa/52661: R 50 m, wheels 2 m apart, h 0.8 m: "24.76 m/s"
    within_published(sqrt(tip_limit(*box(2.0), 0.8) * 50.0), 24.76, 0.005)


@pytest.mark.outside(
    "R2", what="Height of a car about to tip at 29 m/s on 50 m, track 1.5 m: 0.43743 m",
    source="jiskha.com/questions/1383582 (question; answer worked out)", how="worked",
)  # fmt: skip
def test_height_of_a_car_about_to_tip(within_published):
    found = brentq(lambda height: tip_limit(*box(1.5), height) - 29.0**2 / 50.0, 0.1, 2.0, xtol=1e-13)
    within_published(found, 0.43743, 0.5e-5)


@pytest.fixture
def fastest(vehicle):
    """Fastest turn that four gripping wheels hold, on a radius [m] with a friction; tyres of a stiffness."""

    def make(radius, friction, stiffness=60.0):
        bare = {"friction": friction, "pneumatic_trail_mm": 0.0, "rolling_resistance": 0.0}
        car, table = vehicle("K", tyre=bare, linkage="ideal")
        tyre = car.front_tyre._replace(cornering_stiffness=stiffness)
        car = car._replace(front_tyre=tyre, rear_tyre=tyre, drag_area=0.0, height=0.0)
        speeds = sqrt(friction * GRAVITY * radius) * np.linspace(0.8, 1.05, 6)
        return float(turn_map(car, table, np.array([radius]), speeds).ends_at[0])

    return make


@pytest.mark.outside(
    "R2", what="Speed at which a car slides: 9.9 m/s on 20 m with friction 0.5, 14 m/s on 50 m with 0.4",
    source="physicsforums.com/threads/174374; clay6.com/qa/52661", how="read",
)  # fmt: skip
@pytest.mark.parametrize(("radius", "friction", "printed", "rounding"), [(20.0, 0.5, 9.9, 0.05), (50.0, 0.4, 14.0, 0.5)])
def test_slide_speeds(fastest, within_published, radius, friction, printed, rounding):
    within_published(fastest(radius, friction), printed, rounding, u_numeric=SHARPNESS)


@pytest.mark.outside(
    "R2, T7", what="Slide speeds to more digits, and on the bends of a real course on a soaked road: 7.45 m/s on 14.15 m, 12.37 on 39 m",
    source="sqrt(mu g R), worked out; friction 0.4 and radii: cauc-f24.org, B. Carter", how="worked",
)  # fmt: skip
@pytest.mark.parametrize(
    ("radius", "friction", "printed", "rounding"),
    [(20.0, 0.5, 9.9045, 5e-5), (50.0, 0.4, 14.0071, 5e-5), (50.0, 0.65, 17.856, 5e-4), (14.15, 0.4, 7.45, 5e-3), (39.0, 0.4, 12.37, 5e-3)],
)
def test_slide_speeds_to_more_digits(fastest, within_published, radius, friction, printed, rounding):
    """sqrt(mu g R) is a body's without size.  A car's wheels stand askew to the path, by its length over the radius, and the drive that
    makes up for their slip takes from their grip: at 14.15 m ours is 0.2 % slower.  On n times the radius the printed speed is sqrt(n)
    times as large; what n and the tyre's stiffness still change there is our numerical error."""

    def scaled(times, stiffness):
        return fastest(times * radius, friction, stiffness) / sqrt(times)

    ours = scaled(16, 240.0)
    u_numeric = abs(ours - scaled(4, 240.0)) + abs(ours - scaled(16, 60.0)) + SHARPNESS
    within_published(ours, printed, rounding, u_numeric=u_numeric)


@pytest.mark.outside(
    "R3", what="Load that moves across an axle at 2 g: 98.83 kg in front, 152.54 kg behind",
    source="cloud.wikis.utexas.edu, LHRSOLAR, 89298939 (inputs; answer worked out)", how="worked",
)  # fmt: skip
@pytest.mark.parametrize(("share", "track", "printed_kg"), [(0.4, 1.457, 98.83), (0.6, 1.416, 152.54)])
def test_load_that_moves_across_an_axle(within_published, share, track, printed_kg):
    """600 kg, height 0.3 m; the source takes each axle by itself, so here it carries a car of its own."""
    weight, loads = share * 600 * GRAVITY, np.empty(4)
    assert wheel_loads(*box(track), weight, 0.0, 2.0 * weight, 0.3, loads) == 0
    within_published((loads[1] + loads[3] - weight / 2) / GRAVITY, printed_kg, 0.005)


@pytest.mark.outside(
    "R4", what="Three wheels, two ahead: at 0.5 g the front axle carries the whole roll moment, 321.89 N on 343.35 N",
    source="statics, worked out", how="worked",
)  # fmt: skip
def test_two_front_wheels_carry_the_whole_roll_moment(within_published):
    three, rest, turning = np.array([0.4, -0.4, 0.0, 0.0]), np.empty(4), np.empty(4)
    assert wheel_loads(X, three, 150 * GRAVITY, 0.0, 0.0, 0.35, rest) == 0
    assert wheel_loads(X, three, 150 * GRAVITY, 0.0, 0.5 * 150 * GRAVITY, 0.35, turning) == 0
    for sign, wheel in ((-1, 0), (1, 1)):
        within_published(rest[wheel], 343.35, 0.005)
        within_published(sign * (turning[wheel] - rest[wheel]), 321.89, 0.005)
    within_published(turning[2:].sum(), rest[2:].sum(), 0.0, u_numeric=1e-9)


@pytest.mark.outside(
    "R4", what="Tip limit of three wheels, two ahead: 0.5333 g", source="(t/2h)(b/l), Huston, Graves and Johnson, SAE 820139", how="memory",
)  # fmt: skip
def test_two_wheels_ahead_one_behind(within_published):
    # Huston, Graves and Johnson, SAE 820139 (1982), formula from memory: a_y/g = (t / 2h)(b / l); car K: 0.5333
    within_published(tip_limit(X, np.array([0.4, -0.4, 0.0, 0.0]), 0.35) / GRAVITY, 0.5333, 0.00005)


@pytest.mark.outside(
    "R4", what="Tip limit of three wheels, one ahead", source="(t/2h)(a/l), Huston, Graves and Johnson, SAE 820139", how="memory",
    within="1e-12 relative",
)  # fmt: skip
def test_one_wheel_ahead_two_behind():
    # the same source: (t / 2h)(a / l), here with the rear track of K
    limit = tip_limit(X, np.array([0.0, 0.0, 0.35, -0.35]), 0.35)
    assert limit / GRAVITY == pytest.approx(0.7 / 0.7 * 0.8 / 1.5, rel=1e-12, abs=0)


@pytest.mark.outside("R5", what="Tip limit of unlike tracks: 1.06667 g", source="statics, worked out", how="worked")
def test_unlike_tracks(within_published):
    # Published values R5 (statics): 1.06667 g, not 1.07143 g as the mean track would give
    within_published(tip_limit(X, Y, 0.35) / GRAVITY, 1.06667, 0.000005)


@pytest.mark.outside(
    "R5", what="Shortest way from the mass centre to each side of the support polygon: 0.373126 m, 0.80 m ahead, 0.70 m behind",
    source="geometry, worked out", how="worked",
)  # fmt: skip
def test_perpendicular_margins(within_published):
    """The tip limit is that of the wheels on its outer side; turned so that those stand in line ahead, it is the shortest way."""

    def margin(outer, inner):
        """Half-width towards the line through two outer wheels, g a unit: limit x height / g."""
        rear, front = outer
        angle = atan2(Y[front] - Y[rear], X[front] - X[rear])
        ahead, left = cos(angle) * X + sin(angle) * Y, cos(angle) * Y - sin(angle) * X
        order = [inner[1], front, inner[0], rear]
        return tip_limit(ahead[order], left[order], 0.35) * 0.35 / GRAVITY

    within_published(margin((3, 1), (2, 0)), 0.373126, 0.5e-6)
    within_published(margin((1, 0), (3, 2)), 0.80, 0.005)
    within_published(margin((2, 3), (0, 1)), 0.70, 0.005)


@pytest.mark.outside(
    "R6", what="Loads of four wheels on equal springs at 0, 0.3, 0.5 and 0.8 g", source="statics of a plate, worked out", how="worked",
)  # fmt: skip
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


@pytest.mark.outside(
    "R6", what="Where the inner front wheel lifts, 0.941667 g, and where the car tips, 1.066667 g", source="statics, worked out",
    how="worked", within="1e-6 g on either side",
)  # fmt: skip
@pytest.mark.parametrize(("share", "lifted"), [(0.941666, 0), (0.941668, 1), (1.066666, 1), (1.066668, 2)])
def test_lift_and_tip(share, lifted):
    # Published values R6: "inner front lifts at 0.941667 g; the car tips at 1.066667 g"
    assert wheel_loads(X, Y, 150 * GRAVITY, 0.0, share * 150 * GRAVITY, 0.35, np.empty(4)) == lifted


@pytest.mark.outside(
    "G14", what="Tip limit of a turntable car, its axle turned by 0 to 30 degrees", source="geometry, worked out", how="worked",
)  # fmt: skip
@pytest.mark.parametrize(("swing_deg", "printed"), [(0, 1.0667), (10, 1.0560), (20, 1.0316), (30, 0.9958)])
@pytest.mark.parametrize("sign", [1, -1])
def test_turntable_tips_earlier_when_turned(vehicle, within_published, swing_deg, printed, sign):
    # Published values G14 (geometry): threshold in g of car K with a turntable axle; the contact points from the steer table
    car, table = vehicle("K", pivot="turntable")
    steers, rates, x, y, cambers = (np.empty(4) for _ in range(5))
    front_pose(steer_cells_of(table), car, sign * radians(swing_deg), 0.0, steers, rates, x, y, cambers)
    within_published(tip_limit(x, y, car.height, sign > 0) / GRAVITY, printed, 0.00005)
