"""Energy of cornering, toe and disagreeing wheels against the literature and the closed forms that stand with it.

The closed forms hold for small angles, so the car must meet them with an error that falls with the square of the angle; figures
printed from measurement or from a car whose angles are small enough are met digit by digit.
"""

from math import atan, hypot, pi, radians

import numpy as np
import pytest

from sim.chassis import GRAVITY
from sim.cornering import steady_turn
from sim.ladder import rolling_turn
from sim.lap import front_pose, hands_of
from sim.motion import LATERAL_LOSS, LOAD
from sim.tyre import cornering_stiffness

BARE = {"pneumatic_trail_mm": 0.0, "rolling_resistance": 0.0}
E4 = [(3, 25.644, 483.4), (4, 9.684, 243.4), (5, 4.3254, 135.9), (8, 0.7275, 36.57), (12, 0.1489, 11.23), (20, 0.0197, 2.470)]


@pytest.fixture
def bare(vehicle):
    """Car K without trail, rolling resistance and air drag, its weight on all wheels alike where `even`."""

    def make(even=False, **keys):
        car, table = vehicle("K", tyre=BARE, **keys)
        return car._replace(drag_area=0.0, front_arm=0.75 if even else car.front_arm), table

    return make


def test_cornering_drag_of_small_angles(bare, orders):
    # F = m a_y^2 / (c g) on any car with one tyre all round (Gillespie, Wong, Mitschke: form from memory); v = 6 m/s
    car, table = bare(linkage="ideal")
    errors = []
    for radius in (8.0, 16.0, 32.0, 64.0):
        turn = steady_turn(car, table, radius, 6.0)
        expected = 150 * (36 / radius) ** 2 / (12 * GRAVITY)
        errors.append(turn.wheels[:, LATERAL_LOSS].sum() / 6 / expected - 1)
    np.testing.assert_allclose(orders(errors), 2.0, rtol=0, atol=0.2)
    assert abs(errors[0]) < 0.05
    assert abs(errors[-1]) < 1e-3


def test_slip_of_car_k(bare, within_published):
    # Published values E1: slip angle a_y / (c g) = 2.19021 degrees at 6 m/s on 8 m.  On the road our rear wheels need it exactly:
    # m a_y is shared by the loads, so that slip is side force over c N.
    car, table = bare(linkage="ideal")
    expected = 4.5 / (12 * GRAVITY)
    within_published(np.degrees(expected), 2.19021, 5e-6)
    turns = [steady_turn(car, table, radius, 6.0).slips[2:].mean() * radius / 8 for radius in (64.0, 128.0)]
    # Richardson's step to vanishing angles
    within_published(np.degrees(turns[1] + (turns[1] - turns[0]) / 3), 2.19021, 5e-6, u_numeric=np.degrees(abs(turns[1] - turns[0])))


@pytest.mark.parametrize(("toe_deg", "printed"), [(0.25, 0.000228), (0.5, 0.000914), (1.0, 0.003655)])
def test_toe_as_a_rolling_coefficient(bare, within_published, toe_deg, printed):
    # Published values E2: c e^2, c = 12
    car, table = bare(linkage="ideal", toe_in_deg=toe_deg)
    front = car.mass * GRAVITY * 0.7 / 1.5
    within_published(rolling_turn(car, table, 0.0).scrub / front, printed, 5e-7)


@pytest.mark.parametrize(("toe_deg", "printed"), [(2.0, 0.014622), (3.0, 0.032899)])
def test_large_toe_differs_by_the_next_term(bare, toe_deg, printed):
    # c sin e tan e = c e^2 (1 + e^2/6 ...): the printed figure is the first term only, to its last digit
    car, table = bare(linkage="ideal", toe_in_deg=toe_deg)
    front = car.mass * GRAVITY * 0.7 / 1.5
    excess = rolling_turn(car, table, 0.0).scrub / front / printed - 1
    assert excess == pytest.approx(radians(toe_deg) ** 2 / 6, rel=0, abs=1e-6 / printed + radians(toe_deg) ** 4)


def test_toe_per_kilometre(bare, within_published):
    # Published values E2: one degree on both front wheels, a quarter of the weight each: 2689 J/km, 0.747 Wh/km
    car, table = bare(even=True, linkage="ideal", toe_in_deg=1.0)
    work = rolling_turn(car, table, 0.0).scrub * 1000
    within_published(work, 2689, 0.5)
    within_published(work / 3600, 0.747, 0.0005)


def test_measured_toe_drag(bare, within_published):
    # Vander Wiel et al., RESNA 2016 (seen): one degree of toe, in or out, raises a wheel's rolling resistance by 25.5 %.  The
    # tyre that fits, c / C_rr = 837 to the last digit, and the square law for half and twice the toe.
    def rise(toe_deg, ratio):
        car, table = bare(linkage="ideal", toe_in_deg=toe_deg)
        car = car._replace(front_tyre=car.front_tyre._replace(cornering_stiffness=0.01 * ratio))
        return rolling_turn(car, table, 0.0).scrub / (0.01 * car.mass * GRAVITY * 0.7 / 1.5)

    u_input = abs(rise(1.0, 837.5) - rise(1.0, 837.0))
    within_published(rise(1.0, 837.0), 0.255, 0.0005, u_input=u_input)
    within_published(rise(-1.0, 837.0), 0.255, 0.0005, u_input=u_input)
    assert rise(2.0, 837.0) / rise(0.5, 837.0) == pytest.approx(16.0, rel=2e-3, abs=0)


@pytest.mark.parametrize(("rear_radius", "force", "energy"), E4)
def test_parallel_steer_by_its_angle_error(bare, within_published, rear_radius, force, energy):
    # Published values E4: each front wheel of a parallel linkage off by half the difference of the ideal angles, 2 C e^2
    car, table = bare(even=True, linkage="ideal")
    pose = [np.zeros(4) for _ in range(5)]
    front_pose(hands_of(table), car, atan(1.5 / rear_radius), 0.0, *pose)
    off, quarter = (pose[0][0] - pose[0][1]) / 2, car.mass * GRAVITY / 4
    drag = 2 * cornering_stiffness(car.front_tyre, quarter, quarter) * off**2
    within_published(drag, force, 0.5 * 10 ** -len(str(force).split(".")[1]))
    within_published(drag * 2 * pi * rear_radius, energy, 0.5 * 10 ** -len(str(energy).split(".")[1]))


def test_parallel_steer_of_the_rolling_car(bare, within_published, orders):
    # The same figures as the third rung gives them, per metre of the rear axle's path.  The printed ones take every wheel at the
    # car's speed and the rear wheels as not slipping; that difference must fall with the square of l/R.
    car, table = bare(even=True, linkage="parallel")

    def drag(rear_radius):
        radius = hypot(rear_radius, 0.75)
        return rolling_turn(car, table, 1 / radius).scrub * radius / rear_radius

    def formula(rear_radius):
        return 24 * car.mass * GRAVITY / 4 * ((atan(1.5 / (rear_radius - 0.4)) - atan(1.5 / (rear_radius + 0.4))) / 2) ** 2

    errors = [drag(rear_radius) / formula(rear_radius) - 1 for rear_radius in (5, 10, 20, 40)]
    np.testing.assert_allclose(orders(errors), 2.0, rtol=0, atol=0.2)
    for rear_radius, force, _ in E4:
        assert drag(rear_radius) == pytest.approx(force, rel=(1.5 / rear_radius) ** 2, abs=5e-5)
    within_published(drag(20), 0.0197, 5e-5)


@pytest.mark.parametrize("height", [0.0, 0.35])
def test_geometry_loss_adds_to_cornering_loss(bare, orders, height):
    # Published values E5: sum of C (a +- e)^2 = 2 C a^2 + 2 C e^2.  With load transfer the wheels' stiffnesses differ; at a given side
    # force the cross terms cancel all the same, and toe e adds 4 e^2 C_o C_i / (C_o + C_i) (derived here: the mean slip shifts by
    # -e (C_o - C_i) / (C_o + C_i)).  Angles halved together; what is left falls with their square.
    def excess(part, toe_sign):
        turns = []
        for toe_deg in (0.0, toe_sign * 1.0 / part):
            car, table = bare(linkage="ideal", toe_in_deg=toe_deg)
            turns.append(steady_turn(car._replace(height=height), table, 8.0 * part, 4.0))
        straight, toed = (turn.wheels[:, LATERAL_LOSS].sum() / 4.0 for turn in turns)
        inner, outer = 12 * turns[0].wheels[:2, LOAD]
        return (toed - straight) / (4 * radians(1.0 / part) ** 2 * inner * outer / (inner + outer)) - 1

    for sign in (1, -1):
        errors = [excess(part, sign) for part in (1, 2, 4, 8)]
        assert abs(errors[-1]) < 1e-3
        np.testing.assert_allclose(orders(errors), 2.0, rtol=0, atol=0.2)
