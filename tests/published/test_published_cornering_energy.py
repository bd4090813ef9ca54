"""Energy of cornering, toe and disagreeing wheels against the literature and the closed forms that stand with it.

The closed forms hold for small angles, so the car must meet them with an error that falls with the square of the angle; figures
printed from measurement or from a car whose angles are small enough are met digit by digit.
"""

from math import hypot, pi, radians, sqrt

import numpy as np
import pytest

from sim.car.chassis import GRAVITY
from sim.car.motion import WheelColumn
from sim.turn.rolling import rolling_turn
from sim.turn.steady import steady_turn

BARE = {"pneumatic_trail_mm": 0.0, "rolling_resistance": 0.0}
E4 = [(3, 25.644, 483.4), (4, 9.684, 243.4), (5, 4.3254, 135.9), (8, 0.7275, 36.57), (12, 0.1489, 11.23), (20, 0.0197, 2.470)]


@pytest.fixture
def bare(vehicle):
    """Car K without trail, rolling resistance and air drag, its weight on all wheels alike where `even`."""

    def make(even=False, **keys):
        car, table = vehicle("K", tyre=BARE, **keys)
        return car._replace(drag_area=0.0, front_arm=0.75 if even else car.front_arm), table

    return make


@pytest.mark.outside(
    "E1", what="Drag of cornering falls to m a_y² / (c g) as the angles shrink, with their square",
    source="form F_y sin a: Gillespie; Wong; Mitschke (from memory)", how="memory", within="order 2 ± 0.2; 0.1 % at 64 m",
)  # fmt: skip
def test_cornering_drag_of_small_angles(bare, orders):
    # F = m a_y^2 / (c g) on any car with one tyre all round; v = 6 m/s
    car, table = bare(linkage="ideal")
    errors = []
    for radius in (8.0, 16.0, 32.0, 64.0):
        turn = steady_turn(car, table, radius, 6.0)
        expected = 150 * (36 / radius) ** 2 / (12 * GRAVITY)
        errors.append(turn.wheels[:, WheelColumn.LATERAL_LOSS].sum() / 6 / expected - 1)
    np.testing.assert_allclose(orders(errors), 2.0, rtol=0, atol=0.2)
    assert abs(errors[0]) < 0.05
    assert abs(errors[-1]) < 1e-3


@pytest.mark.outside(
    "E1", what="Cornering drag, power and energy of car K at 6 m/s on 8 m: 25.80 N, 154.8 W, 324 J for 90 degrees; slip 2.190 degrees",
    source="m a_y² / (c g) and a_y / (c g), worked out to six digits", how="worked",
)  # fmt: skip
def test_cornering_drag_of_car_k(bare, within_published):
    """The formula is that of angles too small to see, without load transfer; at 8 m itself our car needs 1.6 % more.

    A tyre n times as stiff on n times the radius at the same a_y has every angle n times smaller and n times less drag, so that n F
    goes to the printed force; two values a factor of two apart give the limit (Richardson), and two such limits its error.
    """
    car, table = bare(linkage="ideal")
    car = car._replace(height=0.0)

    def scaled(part):
        """Drag and slip of angles `part` times smaller, times `part`."""
        tyre = car.front_tyre._replace(cornering_stiffness=12.0 * part)
        speed = 6.0 * sqrt(part)
        turn = steady_turn(car._replace(front_tyre=tyre, rear_tyre=tyre), table, 8.0 * part, speed)
        return part * np.array([turn.wheels[:, WheelColumn.LATERAL_LOSS].sum() / speed, np.degrees(turn.slips).mean()])

    coarse, middle, fine = scaled(8), scaled(16), scaled(32)
    (force, slip), (before, slip_before) = (4 * fine - middle) / 3, (4 * middle - coarse) / 3
    error = abs(force - before)
    within_published(force, 25.80275, 5e-6, u_numeric=error)
    within_published(force * 6.0, 154.8165, 5e-5, u_numeric=6.0 * error)
    within_published(force * 8.0 * pi / 2, 324.247, 5e-4, u_numeric=4.0 * pi * error)
    within_published(force * 8.0 * 2 * pi, 1296.988, 5e-4, u_numeric=16.0 * pi * error)
    within_published(slip, 2.19021, 5e-6, u_numeric=abs(slip - slip_before))


@pytest.mark.outside(
    "E2", what="Toe as a rolling coefficient: c toe² at 0.25, 0.5 and 1 degree", source="drag C toe² of a wheel, worked out", how="worked",
)  # fmt: skip
@pytest.mark.parametrize(("toe_deg", "printed"), [(0.25, 0.000228), (0.5, 0.000914), (1.0, 0.003655)])
def test_toe_as_a_rolling_coefficient(bare, within_published, toe_deg, printed):
    # Published values E2: c e^2, c = 12
    car, table = bare(linkage="ideal", toe_in_deg=toe_deg)
    front = car.mass * GRAVITY * 0.7 / 1.5
    within_published(rolling_turn(car, table, 0.0).scrub / front, printed, 5e-7)


@pytest.mark.outside(
    "E2", what="Toe of 2 and 3 degrees: the next term, toe² / 6 of the law, shows in the printed digits",
    source="c toe², worked out; our c tan toe sin toe to its second term", how="worked",
)  # fmt: skip
@pytest.mark.parametrize(("toe_deg", "printed"), [(2.0, 0.014622), (3.0, 0.032899)])
def test_large_toe_differs_by_the_next_term(bare, within_published, toe_deg, printed):
    # c sin e tan e = c e^2 (1 + e^2/6 ...): the printed figure is the first term only; what is left is of the order e^4
    car, table = bare(linkage="ideal", toe_in_deg=toe_deg)
    front = car.mass * GRAVITY * 0.7 / 1.5
    second = radians(toe_deg) ** 2 / 6
    within_published(rolling_turn(car, table, 0.0).scrub / front / (1 + second), printed, 5e-7, u_numeric=printed * second**2)


@pytest.mark.outside(
    "E2", what="One degree of toe on both front wheels of car K: 2689 J and 0.747 Wh a kilometre", source="C toe², worked out",
    how="worked",
)  # fmt: skip
def test_toe_per_kilometre(bare, within_published):
    # Published values E2: one degree on both front wheels, a quarter of the weight each: 2689 J/km, 0.747 Wh/km
    car, table = bare(even=True, linkage="ideal", toe_in_deg=1.0)
    work = rolling_turn(car, table, 0.0).scrub * 1000
    within_published(work, 2689, 0.5)
    within_published(work / 3600, 0.747, 0.0005)


@pytest.mark.outside(
    "E3", what="One degree of toe, in or out, was measured to add 25.5 % to a wheel's rolling resistance: between what the least and "
    "the stiffest measured bicycle tyre make of it, and with the square of the toe",
    source="Vander Wiel et al., RESNA 2016; tyres: Dressel 2013 (T8), rolling coefficients: D1", how="read",
    within="25.5 % lies between 17 and 204 %; the square of the toe to its next term",
)  # fmt: skip
def test_measured_toe_drag(bare):
    """No stiffness of that wheelchair tyre was printed, so the measured ends of others bracket it; nothing here comes from 25.5 %."""

    def rise(toe_deg, stiffness, rolling):
        car, table = bare(linkage="ideal", toe_in_deg=toe_deg)
        car = car._replace(front_tyre=car.front_tyre._replace(cornering_stiffness=stiffness))
        return rolling_turn(car, table, 0.0).scrub / (rolling * car.mass * GRAVITY * 0.7 / 1.5)

    per_rad = 180 / pi
    softest, stiffest = 0.15 * per_rad, 0.35 * per_rad  # T8: "from below 0.15 to over 0.35" of the load per degree
    slowest, easiest = 0.015, 0.003  # D1: small scooter tyres at most, bicycle tyres at least
    for toe_deg in (1.0, -1.0):
        assert rise(toe_deg, softest, slowest) < 0.255 < rise(toe_deg, stiffest, easiest)
    # "Parabolically": four times the toe, sixteen times the drag; the law's next term is toe^2 / 6.
    assert rise(2.0, 10.0, 0.01) / rise(0.5, 10.0, 0.01) == pytest.approx(16.0, rel=radians(2.0) ** 2 / 6 * 1.1, abs=0)


@pytest.mark.outside(
    "E4", what="Parallel steering of car K at a walk: 25.6 N at 3 m to 0.02 N at 20 m, and the energy of a full turn",
    source="2 C e², e half the ideal difference; the next term 1 + (l/R)²/2 + 6 (w/2R)² derived by hand", how="worked",
)  # fmt: skip
@pytest.mark.parametrize(("rear_radius", "force", "energy"), E4)
def test_parallel_steer_of_the_rolling_car(bare, within_published, rear_radius, force, energy):
    """Drag per metre of the rear axle's path.  The printed figure takes each front wheel as off by e, the rear wheels as rolling, and
    all wheels at the car's speed; our car settles between its wheels.

    Worked by hand to the next order: the balances of side force and yaw moment set the mean front slip to -2 q y and the rear slip to
    q y, with q = (w/2) (l/R^2) and y = w/2R, which makes the loss 2 C e^2 (1 + (l/R)^2 / 2 + 6 y^2).  What is left is of the order of
    that term's square; see the test below, and `tests/reference/test_rolling_turn.py` for 3 m to nine digits.
    """
    car, table = bare(even=True, linkage="parallel")
    radius = hypot(rear_radius, 0.75)
    drag = rolling_turn(car, table, 1 / radius).scrub * radius / rear_radius
    second = next_term(rear_radius)
    for ours, printed in ((drag, force), (drag * 2 * pi * rear_radius, energy)):
        digit = 0.5 * 10 ** -len(str(printed).split(".")[1])
        within_published(ours / (1 + second), printed, digit, u_numeric=printed * second**2)


def next_term(rear_radius):
    """(l/R)^2 / 2 + 6 (w/2R)^2 of car K."""
    return 0.5 * (1.5 / rear_radius) ** 2 + 6 * (0.4 / rear_radius) ** 2


@pytest.mark.outside(
    "E4", what="What the hand-derived terms leave of parallel steering's drag falls with the fourth power of 1/R",
    source="series derived by hand", how="worked", within="order 4 ± 0.2 from 5 to 40 m",
)  # fmt: skip
def test_parallel_steer_to_the_fourth_order(bare, orders):
    car, table = bare(even=True, linkage="parallel")

    def left_over(rear_radius):
        radius, inner, outer = hypot(rear_radius, 0.75), np.arctan(1.5 / (rear_radius - 0.4)), np.arctan(1.5 / (rear_radius + 0.4))
        drag = rolling_turn(car, table, 1 / radius).scrub * radius / rear_radius
        return drag / (24 * car.mass * GRAVITY / 4 * ((inner - outer) / 2) ** 2) / (1 + next_term(rear_radius)) - 1

    np.testing.assert_allclose(orders([left_over(rear_radius) for rear_radius in (5, 10, 20, 40)]), 4.0, rtol=0, atol=0.2)


@pytest.mark.outside(
    "E5", what="Toe's loss adds to the loss of cornering, also where load moves to the outer wheels",
    source="sum of C (a ± e)²; with load transfer derived by hand", how="worked", within="order 2 ± 0.2; 0.1 % at 64 m",
)  # fmt: skip
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
        straight, toed = (turn.wheels[:, WheelColumn.LATERAL_LOSS].sum() / 4.0 for turn in turns)
        inner, outer = 12 * turns[0].wheels[:2, WheelColumn.LOAD]
        return (toed - straight) / (4 * radians(1.0 / part) ** 2 * inner * outer / (inner + outer)) - 1

    for sign in (1, -1):
        errors = [excess(part, sign) for part in (1, 2, 4, 8)]
        assert abs(errors[-1]) < 1e-3
        np.testing.assert_allclose(orders(errors), 2.0, rtol=0, atol=0.2)
