"""The steady turn: closed forms at low speed, mirror, and a plain reason where there is none.

That it solves the right equations is shown in tests/reference/test_steady_turn_sympy.py.
"""

from math import atan, cos, hypot, radians, sin, sqrt, tan

import numpy as np
import pytest

from sim.car.chassis import GRAVITY, tip_limit
from sim.car.motion import BodyColumn, WheelColumn
from sim.steering.cells import steer_cells_of
from sim.turn import steady
from sim.turn.steady import rolling_guess, solve_three, steady_turn

DRIVE_NAMES = ["one wheel left", "one wheel right", "differential", "solid axle"]


@pytest.mark.parametrize("drive", DRIVE_NAMES)
def test_a_steady_turn_is_in_balance(vehicle, setup_keys, drive):
    car, table = vehicle("standard", car={"drive": drive}, **setup_keys)
    turn = steady_turn(car, table, 8.0, 4.5)
    assert turn.converged
    np.testing.assert_allclose(turn.body[[BodyColumn.ACCEL_X, BodyColumn.ACCEL_Y, BodyColumn.ACCEL_YAW]], 0.0, rtol=0, atol=1e-9)
    # What drives is what is lost; the side force of the ground, square to the path, is m v^2 / R.
    lost = (
        turn.body[[BodyColumn.AIR_POWER, BodyColumn.ROLLING_POWER, BodyColumn.ALIGNING_POWER]].sum()
        + turn.wheels[:, [WheelColumn.LATERAL_LOSS, WheelColumn.LONGITUDINAL_LOSS]].sum()
    )
    assert turn.body[BodyColumn.DRIVE_POWER] == pytest.approx(lost, rel=1e-9, abs=0)
    pull = turn.wheels[:, WheelColumn.LONGITUDINAL] - 0.008 * turn.wheels[:, WheelColumn.LOAD]
    angle = turn.steers - turn.sideslip
    towards_centre = (turn.wheels[:, WheelColumn.LATERAL] * np.cos(angle) + pull * np.sin(angle)).sum()
    assert towards_centre == pytest.approx(car.mass * 4.5**2 / 8.0, rel=1e-9, abs=0)
    assert turn.drive_force == pytest.approx(turn.wheels[2:, WheelColumn.LONGITUDINAL].sum(), rel=1e-9, abs=0)


@pytest.mark.target("T4", what="Left and right swapped: every figure is mirrored", asked="1e-10 relative")
@pytest.mark.parametrize("drive", ["differential", "solid axle"])
@pytest.mark.parametrize("radius", [4.0, 8.0, 30.0])
def test_a_left_turn_is_a_right_turn_in_a_mirror(vehicle, setup_keys, mirrored, drive, radius, within_target, apart):
    car, table = vehicle("standard", car={"drive": drive}, **setup_keys)
    left, right = steady_turn(car, table, radius, 3.0), steady_turn(car, table, -radius, 3.0)
    assert left.converged
    assert right.converged
    pairs = [([right.sideslip, *right.steers], [-left.sideslip, *-mirrored(left.steers)]), (right.slips, -mirrored(left.slips))]
    for pair in pairs:
        np.testing.assert_allclose(*pair, rtol=1e-9, atol=1e-12)  # each by itself
    within_target([apart(*pair) for pair in pairs], at_most=1e-10, of="angles and slips")
    within_target(apart(right.drive_force, left.drive_force), at_most=1e-10, of="forces")
    for column, sign in (
        (WheelColumn.LOAD, 1),
        (WheelColumn.LATERAL, -1),
        (WheelColumn.LONGITUDINAL, 1),
        (WheelColumn.LATERAL_LOSS, 1),
        (WheelColumn.LONGITUDINAL_LOSS, 1),
    ):
        np.testing.assert_allclose(right.wheels[:, column], sign * mirrored(left.wheels[:, column]), rtol=1e-9, atol=1e-9)
        within_target(apart(right.wheels[:, column], sign * mirrored(left.wheels[:, column])), at_most=1e-10, of="forces")


@pytest.mark.target("T4", what="Left and right swapped: every figure is mirrored", asked="1e-10 relative")
@pytest.mark.parametrize("radius", [5.0, 12.0])
def test_the_driven_wheel_swapped(vehicle, setup_keys, mirrored, radius, within_target, apart):
    one, table = vehicle("standard", car={"drive": "one wheel left"}, **setup_keys)
    other, _ = vehicle("standard", car={"drive": "one wheel right"}, **setup_keys)
    left, right = steady_turn(one, table, radius, 4.0), steady_turn(other, table, -radius, 4.0)
    within_target(apart(right.drive_force, left.drive_force), at_most=1e-10, of="forces")
    for column, sign in ((WheelColumn.LATERAL, -1), (WheelColumn.LONGITUDINAL, 1)):
        np.testing.assert_allclose(right.wheels[:, column], sign * mirrored(left.wheels[:, column]), rtol=1e-9, atol=1e-9)
        within_target(apart(right.wheels[:, column], sign * mirrored(left.wheels[:, column])), at_most=1e-10, of="forces")
    if "cross rod" not in str(setup_keys):
        assert right.hand == pytest.approx(-left.hand, rel=1e-9, abs=0)


@pytest.mark.parametrize("toe_deg", [0.5, 1.0, -1.0, 3.0])
def test_toe_drags_by_its_square(vehicle, toe_deg):
    # Straight ahead at a crawl each front wheel slips by its toe e: a side force C tan e, of which the car feels the sine as
    # drag; twice C sin e tan e, near 2 C e^2 (not 2 C e).  Derived here; the square law as measured by Vander Wiel, RESNA 2016.
    car, table = vehicle("K", tyre={"pneumatic_trail_mm": 0.0, "rolling_resistance": 0.0}, linkage="ideal", toe_in_deg=toe_deg)
    turn = steady_turn(car._replace(drag_area=0.0), table, 1e9, 0.05)
    toe, stiffness = radians(toe_deg), 12.0 * turn.wheels[0, WheelColumn.LOAD]
    assert turn.converged
    drag = turn.wheels[:, WheelColumn.LATERAL_LOSS].sum() / 0.05
    assert drag == pytest.approx(2 * stiffness * sin(toe) * tan(toe), rel=1e-9, abs=0)
    assert drag == pytest.approx(2 * stiffness * toe**2, rel=toe**2, abs=0)
    assert turn.drive_force == pytest.approx(drag, rel=1e-3 + toe**2, abs=0)  # the rest is the driven wheels' slip
    np.testing.assert_allclose(turn.slips[:2], [-tan(toe), tan(toe)], rtol=1e-8, atol=0)


@pytest.mark.parametrize("radius", [30.0, 60.0, 120.0])
def test_two_wheels_that_disagree_share_the_difference(vehicle, orders, radius):
    # Parallel wheels in a wide bend at a crawl: their directions disagree with the two circles by D = w l / (R^2 - w^2/4), half
    # each, which drags C D^2 / 2.  Derived here.  What is left falls with the square of the angle l/R.
    car, table = vehicle("K", tyre={"pneumatic_trail_mm": 0.0, "rolling_resistance": 0.0}, linkage="parallel")
    car = car._replace(drag_area=0.0, front_arm=0.75)

    def ratio(radius):
        turn = steady_turn(car, table, radius, 0.002)
        apart = atan(1.5 / (radius - 0.4)) - atan(1.5 / (radius + 0.4))
        return turn.wheels[:2, WheelColumn.LATERAL_LOSS].sum() / 0.002 / (12 * turn.wheels[0, WheelColumn.LOAD] * apart**2 / 2)

    errors = [ratio(radius / 2) - 1, ratio(radius) - 1]
    assert abs(errors[1]) < 3 * (1.5 / radius) ** 2
    np.testing.assert_allclose(orders(errors), 2.0, rtol=0, atol=0.2)


@pytest.mark.parametrize("linkage", ["ideal", "parallel"])
def test_at_a_crawl_the_turn_is_geometry(vehicle, linkage):
    # No lateral acceleration: all four wheels of the ideal car roll about one centre on the rear axle's line.
    car, table = vehicle("K", tyre={"pneumatic_trail_mm": 0.0, "rolling_resistance": 0.0}, linkage=linkage)
    car = car._replace(drag_area=0.0)
    turn = steady_turn(car, table, 8.0, 0.001)
    largest = np.abs(turn.slips).max()
    if linkage == "ideal":
        assert largest < 1e-7
        inner_radius = sqrt(8.0**2 - 0.7**2)
        np.testing.assert_allclose(
            turn.steers, [atan(1.5 / (inner_radius - 0.4)), atan(1.5 / (inner_radius + 0.4)), 0, 0], rtol=1e-6, atol=1e-12
        )
    else:
        assert 0.005 < largest < 0.02
        assert turn.steers[0] == turn.steers[1]


def test_outer_wheels_carry_more_and_the_rear_axle_follows_the_drive(vehicle):
    car, table = vehicle("K")
    turn = steady_turn(car, table, 8.0, 6.0)
    assert (turn.wheels[[1, 3], WheelColumn.LOAD] > turn.wheels[[0, 2], WheelColumn.LOAD]).all()
    # The moments of the loads about the car's axes carry m a h of the centre of mass.
    assert turn.wheels[:, WheelColumn.LOAD].sum() == pytest.approx(car.mass * GRAVITY, rel=1e-12, abs=0)


@pytest.mark.parametrize(("radius", "speed"), [(0.0, 3.0), (8.0, 0.0), (8.0, -1.0)])
def test_a_turn_without_radius_or_speed_is_refused(vehicle, radius, speed):
    car, table = vehicle("K")
    with pytest.raises(ValueError, match="a radius that is not 0 and a speed above 0"):
        steady_turn(car, table, radius, speed)


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize(
    ("keys", "possible", "impossible", "reason"),
    [
        ({"linkage": "ideal", "hand_wheel_limit_deg": 10.0}, (20.0, 2.0), (3.0, 2.0), "the lock is too small for this radius"),
        ({"linkage": "ideal", "tyre": {"friction": 0.3}}, (10.0, 4.0), (10.0, 7.0), "not enough grip"),
        (
            {"linkage": "ideal", "tyre": {"friction": 2.0}, "car": {"mass_centre_height_mm": 900.0, "drive": "solid axle"}},
            (10.0, 5.0), (10.0, 8.0), "tips over",
        ),
    ],
    ids=["lock", "grip", "tip"],
)  # fmt: skip
def test_reasons_for_no_equilibrium(vehicle, sign, keys, possible, impossible, reason):
    car, table = vehicle("standard", **keys)
    found = steady_turn(car, table, sign * possible[0], possible[1])
    refused = steady_turn(car, table, sign * impossible[0], impossible[1])
    assert (found.converged, found.reason) == (True, "")
    assert not refused.converged
    assert refused.reason.startswith(reason)
    assert np.isnan([refused.hand, refused.sideslip, refused.drive_force]).all()


def test_a_turn_is_found_up_to_the_tip_limit(vehicle):
    # Gripping tyres, no lock in the way: the last equilibrium lies just below the tip limit of the turned wheels, none above.
    car, table = vehicle("standard", car={"mass_centre_height_mm": 900.0}, tyre={"friction": 2.0}, linkage="ideal")
    half = 0.5 * np.array([0.9, -0.9, 0.86, -0.86])
    limit = sqrt(tip_limit(np.array([0.82, 0.82, -0.68, -0.68]), half, 0.9) * 20.0)
    assert steady_turn(car, table, 20.0, 0.97 * limit).converged
    assert not steady_turn(car, table, 20.0, 1.03 * limit).converged


def test_a_turn_grows_out_of_slower_ones(vehicle):
    # In a right turn the outer wheel drives; beyond the grip there is a second turn, rear wheels sliding, nose a tenth of a radian
    # further in, which no driver holds.  It was given as the turn at some speeds, also where the first one had ended.
    car, table = vehicle("standard", linkage="ideal")
    turns = [steady_turn(car, table, -3.0, speed) for speed in np.linspace(4.0, 4.88, 23)]
    assert all(turn.converged for turn in turns)
    assert np.abs(np.diff([turn.sideslip for turn in turns])).max() < 0.01
    for speed in (4.91, 4.95, 5.0):
        assert steady_turn(car, table, -3.0, speed).reason.startswith("not enough grip")


def test_the_best_of_the_grip_is_near_friction(vehicle):
    # A coasting, dragless bicycle-like car on a wide bend can use nearly mu g; beyond it there is no turn.
    car, table = vehicle("K", tyre={"friction": 0.5, "rolling_resistance": 0.0, "pneumatic_trail_mm": 0.0}, linkage="ideal")
    car = car._replace(drag_area=0.0)
    speed = sqrt(0.5 * GRAVITY * 40.0)
    assert steady_turn(car, table, 40.0, 0.97 * speed).converged
    assert not steady_turn(car, table, 40.0, 1.01 * speed).converged


@pytest.mark.parametrize("curvature", [0.02, -0.15, 0.4])
def test_a_turn_is_begun_with_the_rolling_bicycle(vehicle, curvature):
    # Both axles roll about one centre: sin(sideslip) = b k, tan(steer) = l k / cos(sideslip); geometry.
    car, table = vehicle("standard", linkage="ideal")
    sideslip, steer, _ = rolling_guess(car, steer_cells_of(table), curvature)
    assert np.sin(sideslip) == pytest.approx(0.68 * curvature, rel=1e-12, abs=0)
    assert np.tan(steer) == pytest.approx(1.5 * curvature / np.cos(sideslip), rel=1e-12, abs=0)


def test_three_equations():
    random = np.random.default_rng(3)
    for _ in range(50):
        matrix, right, solution = random.normal(size=(3, 3)), random.normal(size=3), np.zeros(3)
        assert solve_three(matrix, right, solution)
        np.testing.assert_allclose(solution, np.linalg.solve(matrix, right), rtol=1e-9, atol=1e-9)
    assert not solve_three(np.zeros((3, 3)), np.ones(3), np.zeros(3))


def test_sideslip_grows_outwards_with_speed(vehicle):
    # At a crawl the nose points out of the bend by asin(b/R); with speed the rear wheels need slip and it turns in.
    car, table = vehicle("K")
    slow, fast = steady_turn(car, table, 8.0, 0.01), steady_turn(car, table, 8.0, 6.0)
    assert sin(slow.sideslip) == pytest.approx(0.7 / 8, rel=1e-3, abs=0)
    assert fast.sideslip < slow.sideslip
    assert hypot(cos(fast.sideslip), sin(fast.sideslip)) == pytest.approx(1.0, rel=1e-15, abs=0)


@pytest.mark.parametrize(("radius", "speed"), [(3.0, 1.4), (8.0, 3.0), (-15.0, 5.0)])
def test_a_turn_is_found_in_few_steps(vehicle, monkeypatch, radius, speed):
    """Newton's method doubles the digits with each step (textbook); a step asks at seven places, once more where it is halved."""
    car, table = vehicle("standard", linkage="parallel")
    cells, asked, turn_misses = steer_cells_of(table), [], steady.turn_misses
    monkeypatch.setattr(steady, "turn_misses", lambda *words: asked.append(1) or turn_misses(*words))
    unknown = rolling_guess(car, cells, 1 / radius)
    work = np.zeros(4), np.zeros(4), np.zeros((4, len(WheelColumn))), np.zeros(len(BodyColumn))
    miss = getattr(steady.find_turn, "py_func", steady.find_turn)(car, cells, speed, 1 / radius, unknown, *work)
    assert miss <= steady.BALANCED
    assert len(asked) <= 2 + 7 * 8
