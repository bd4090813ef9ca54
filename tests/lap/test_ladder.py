"""The ladder of models: what the rolling rungs leave, and that each slipping rung comes down to its rolling one."""

from math import atan, cos, pi, radians, sin, tan

import numpy as np
import pytest

from sim.car.chassis import GRAVITY, kinematic_steer, single_track
from sim.car.motion import WheelColumn
from sim.lap.ladder import Model
from sim.lap.rolling import rolling_lap
from sim.lap.trace import trace_of_rolling
from sim.pace.driver import Pace, plan_pace
from sim.steering.cells import front_pose, steer_cells_of
from sim.steering.table import merged_table
from sim.turn.rolling import rolling_turn
from sim.turn.steady import steady_turn

# What the rolling rungs leave out: trail, rolling resistance, air, and the end of grip
BARE = {"pneumatic_trail_mm": 0.0, "rolling_resistance": 0.0, "friction": 2.0}
CRAWLS = [0.8, 0.4, 0.2, 0.1, 0.05]  # [m/s]
DISAGREE = {
    "parallel": {"linkage": "parallel"},
    "cross rod": {"linkage": "cross rod", "arm_length_mm": 110.0, "arm_angle_deg": 13.9},
    "cross rod with toe": {"linkage": "cross rod", "arm_length_mm": 110.0, "arm_angle_deg": 20.0, "toe_in_deg": 1.0},
    "turntable": {"pivot": "turntable"},
}


def bare(vehicle, base="standard", drive="differential", **keys):
    car, table = vehicle(base, car={"drive": drive}, tyre=BARE, **keys)
    return car._replace(drag_area=0.0), table


def test_rungs_have_names():
    assert [rung.label for rung in Model] == ["rolling bicycle", "slipping bicycle", "rolling four wheels", "slipping four wheels"]


@pytest.mark.parametrize("drive", ["differential", "solid axle"])
@pytest.mark.parametrize("keys", DISAGREE.values(), ids=list(DISAGREE))
@pytest.mark.parametrize("curvature", [1 / 3.5, -1 / 8.0, 1 / 40.0, 0.0])
def test_least_loss_is_balance(vehicle, drive, keys, curvature):
    # The turn that loses least is the one in which the tyres' side forces and yaw moments cancel, and a solid axle's two wheels
    # push as much as they hold back.
    car, table = bare(vehicle, drive=drive, **keys)
    turn = rolling_turn(car, table, curvature)
    steer_cells, pose = steer_cells_of(table), [np.zeros(4) for _ in range(5)]
    front_pose(steer_cells, car, turn.steer, 0.0, *pose)
    steers, _, x, y, _ = pose
    # Loads of equal springs with the contact points moved: least squares that balance the weight
    static = np.linalg.pinv(np.array([np.ones(4), x, y])) @ [car.mass * GRAVITY, 0, 0]
    side = 12.0 * static * turn.slips
    along = 15.0 * static * turn.drive_slips
    assert (side * np.cos(steers)).sum() == pytest.approx(0.0, rel=0, abs=1e-9)
    moment = side * (x * np.cos(steers) + y * np.sin(steers)) - y * along
    assert moment.sum() == pytest.approx(0.0, rel=0, abs=1e-9)
    assert along.sum() == pytest.approx(0.0, rel=0, abs=1e-9)
    if drive != "solid axle":
        assert (along == 0.0).all()
    # The path has the wanted curvature: contact speeds of a rigid body that turns at v k.
    vx, vy = cos(turn.sideslip), sin(turn.sideslip)
    forward = (vx - curvature * y) * np.cos(steers) + (vy + curvature * x) * np.sin(steers)
    across = (vy + curvature * x) * np.cos(steers) - (vx - curvature * y) * np.sin(steers)
    np.testing.assert_allclose(turn.wheel_speeds, forward, rtol=1e-11, atol=1e-12)
    np.testing.assert_allclose(turn.slips, -across / np.abs(forward), rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(turn.lateral, side * turn.slips * np.abs(forward), rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(turn.longitudinal, along * turn.drive_slips * np.abs(forward), rtol=1e-9, atol=1e-12)
    assert turn.scrub == pytest.approx(turn.lateral.sum() + turn.longitudinal.sum(), rel=1e-14, abs=0)


@pytest.mark.parametrize("linkage", [{"linkage": "ideal"}, {"pivot": "turntable"}], ids=["ideal", "turntable"])
@pytest.mark.parametrize("curvature", [1 / 2.5, 1 / 8, -1 / 30])
def test_wheels_about_one_centre_scrub_nothing(vehicle, linkage, curvature):
    car, table = bare(vehicle, "K", **linkage)
    turn = rolling_turn(car, table, curvature)
    # The sampled ideal law is good to about 1e-10 rad.
    np.testing.assert_allclose(turn.slips, 0.0, rtol=0, atol=1e-8)
    assert turn.scrub < 1e-12
    assert turn.sideslip == pytest.approx(kinematic_steer(curvature, car)[1], rel=1e-8, abs=0)


def test_the_rolling_bicycle_scrubs_nothing(vehicle):
    car, _ = vehicle("K")
    turn = rolling_turn(car, None, -1 / 8.0)
    assert turn.scrub == 0.0
    assert not turn.slips.any()
    assert (turn.steer, turn.sideslip) == kinematic_steer(-1 / 8.0, car)
    # Front and rear wheel run on circles about one centre.
    rear = np.sqrt(8.0**2 - 0.7**2)
    np.testing.assert_allclose(turn.wheel_speeds, np.array([np.hypot(rear, 1.5)] * 2 + [rear] * 2) / 8.0, rtol=1e-13, atol=0)


@pytest.mark.parametrize("toe_deg", [0.25, 1.0, -2.0])
def test_toe_straight_ahead(vehicle, toe_deg):
    # 2 C e^2, exactly 2 C sin e tan e per metre; derived here
    car, table = bare(vehicle, "K", linkage="ideal", toe_in_deg=toe_deg)
    toe, stiffness = radians(toe_deg), 12 * car.mass * GRAVITY * 0.7 / 1.5 / 2
    turn = rolling_turn(car, table, 0.0)
    assert turn.scrub == pytest.approx(2 * stiffness * sin(toe) * tan(toe), rel=1e-10, abs=0)
    assert turn.scrub == pytest.approx(2 * stiffness * toe**2, rel=toe**2, abs=0)


def test_two_wheels_that_disagree(vehicle, orders):
    # Equal wheels whose directions disagree by D drag C D^2 / 2: parallel wheels against two circles about one centre.  Derived
    # here; what is left falls with the square of the angle.
    car, table = bare(vehicle, "K", linkage="parallel")
    stiffness, errors = 12 * car.mass * GRAVITY * 0.7 / 1.5 / 2, []
    for radius in (15.0, 30.0, 60.0, 120.0):
        rear = np.sqrt(radius**2 - 0.7**2)
        apart = atan(1.5 / (rear - 0.4)) - atan(1.5 / (rear + 0.4))
        errors.append(rolling_turn(car, table, 1 / radius).scrub / (stiffness * apart**2 / 2) - 1)
    assert abs(errors[-1]) < 1e-3
    np.testing.assert_allclose(orders(errors), 2.0, rtol=0, atol=0.2)


def test_a_solid_axle_fights_itself(vehicle, orders):
    # Ideal front wheels: the rear wheels' paths differ by t/R, each slips by t/2R along, which drags c_x N (t/2R)^2 each; and the
    # wheels' couple pulls the car straight, which costs side slip as well.  The first part by hand, R large.
    car, table = bare(vehicle, drive="solid axle", linkage="ideal")
    errors = []
    for radius in (20.0, 40.0, 80.0, 160.0):
        turn = rolling_turn(car, table, 1 / radius)
        expected = 15 * car.mass * GRAVITY * 0.82 / 1.5 * (0.43 / radius) ** 2
        errors.append(turn.longitudinal.sum() / expected - 1)
        couple = 15 * car.mass * GRAVITY * 0.82 / 1.5 / 2 * 2 * 0.43 * 0.43 / radius
        # Held by side forces +-couple/l on the axles: slip loss F^2 / C on each axle
        front, rear = (12 * car.mass * GRAVITY * share / 1.5 for share in (0.68, 0.82))
        side = (couple / 1.5) ** 2 * (1 / front + 1 / rear)
        assert turn.lateral.sum() == pytest.approx(side, rel=10 / radius**2 + 1e-4, abs=0)
    assert abs(errors[-1]) < 1e-3
    np.testing.assert_allclose(orders(errors), 2.0, rtol=0, atol=0.2)


@pytest.mark.parametrize("keys", DISAGREE.values(), ids=list(DISAGREE))
@pytest.mark.parametrize("radius", [5.0, -8.0])
def test_rung_three_is_the_low_speed_limit_of_rung_four(vehicle, orders, keys, radius):
    car, table = bare(vehicle, **keys)
    rolling = rolling_turn(car, table, 1 / radius)
    slips, sideslips, losses = [], [], []
    for speed in CRAWLS:
        turn = steady_turn(car, table, radius, speed)
        slips.append(np.abs(turn.slips - rolling.slips).max())
        sideslips.append(turn.sideslip - rolling.sideslip)
        losses.append(turn.wheels[:, WheelColumn.LATERAL_LOSS].sum() / speed)
    np.testing.assert_allclose(orders(slips), 2.0, rtol=0, atol=0.2)
    np.testing.assert_allclose(orders(sideslips), 2.0, rtol=0, atol=0.2)
    assert losses[-1] == pytest.approx(rolling.lateral.sum(), rel=3e-5, abs=1e-6)
    # What rung four adds at a crawl is the slip of the wheels that must drive against the scrub: F^2 / (c_x N) a metre.
    drive = turn.drive_force**2 / 2 / 15 * (1 / turn.wheels[2:, WheelColumn.LOAD]).sum() / 2
    assert turn.wheels[:, WheelColumn.LONGITUDINAL_LOSS].sum() / CRAWLS[-1] == pytest.approx(drive, rel=1e-2, abs=1e-12)


@pytest.mark.parametrize("keys", DISAGREE.values(), ids=list(DISAGREE))
def test_rung_three_is_the_low_speed_limit_of_rung_four_on_a_solid_axle(vehicle, orders, keys):
    # Here the force that drives against the scrub goes through the wheels that scrub, so that the limit at no speed is off by
    # the square of the angle; with the angle it vanishes.
    if "toe_in_deg" in keys:
        keys = keys | {"toe_in_deg": 0.0}
    car, table = bare(vehicle, drive="solid axle", **keys)
    errors = []
    for radius in (8.0, 16.0, 32.0):
        rolling = rolling_turn(car, table, 1 / radius)
        turn = steady_turn(car, table, radius, 0.05)
        errors.append(turn.wheels[:, [WheelColumn.LATERAL_LOSS, WheelColumn.LONGITUDINAL_LOSS]].sum() / 0.05 / rolling.scrub - 1)
        slips = [np.abs(steady_turn(car, table, radius, speed).slips - turn.slips).max() for speed in (0.8, 0.4, 0.2)]
        np.testing.assert_allclose(orders(slips), 2.0, rtol=0, atol=0.2)
    assert abs(errors[-1]) < 1e-3
    np.testing.assert_allclose(orders(errors), 2.0, rtol=0, atol=0.2)


@pytest.mark.parametrize("radius", [4.0, -8.0])
def test_rung_one_is_the_low_speed_limit_of_rung_two(vehicle, orders, radius):
    car, table = bare(vehicle, linkage="parallel")
    rolling = rolling_turn(car, None, 1 / radius)
    steers, sideslips, scrubs = [], [], []
    for speed in CRAWLS:
        turn = steady_turn(single_track(car), merged_table(table), radius, speed)
        assert turn.steers[0] == turn.steers[1]
        steers.append(turn.steers[0] - rolling.steer)
        sideslips.append(turn.sideslip - rolling.sideslip)
        scrubs.append(turn.wheels[:, WheelColumn.LATERAL_LOSS].sum() / speed)
    for errors in (steers, sideslips):
        np.testing.assert_allclose(orders(errors), 2.0, rtol=0, atol=0.2)
    # The scrub of slip that side force needs: F^2 / C, the fourth power of the speed.
    np.testing.assert_allclose(orders(scrubs), 4.0, rtol=0, atol=0.2)


def test_a_lock_that_is_too_small_is_refused(vehicle):
    car, table = bare(vehicle, linkage="ideal", hand_wheel_limit_deg=10.0)
    with pytest.raises(ValueError, match="the lock is too small for this radius"):
        rolling_turn(car, table, 1 / 3.0)
    with pytest.raises(ValueError, match="smaller than the mass centre's distance"):
        rolling_turn(car, None, 1 / 0.5)


@pytest.mark.parametrize("drive", ["differential", "solid axle"])
def test_a_rolling_lap_on_a_circle_is_the_rolling_turn(vehicle, circle, drive):
    car, table = vehicle("standard", car={"drive": drive}, linkage="parallel")
    course = circle(8.0)
    plan = plan_pace(course, car, Pace(target=3.0, lateral_limit=3.0, braking_limit=1.5, power=900.0, start=None))
    lap, turn = rolling_lap(car, table, course, plan), rolling_turn(car, table, 1 / 8.0)
    ledger = lap.ledger
    np.testing.assert_allclose(ledger.lateral, turn.lateral * course.length, rtol=1e-6, atol=1e-9)
    np.testing.assert_allclose(ledger.longitudinal, turn.longitudinal * course.length, rtol=1e-6, atol=1e-9)
    np.testing.assert_allclose(lap.slips, np.tile(turn.slips, (len(course.station), 1)), rtol=1e-6, atol=1e-9)
    assert lap.time == pytest.approx(course.length / 3.0, rel=1e-12, abs=0)
    assert ledger.air == pytest.approx(0.5 * 1.225 * 0.2 * 9 * course.length, rel=1e-12, abs=0)
    assert ledger.drive_work == pytest.approx(ledger.scrub + ledger.air + ledger.rolling, rel=1e-12, abs=0)
    assert (ledger.brakes, ledger.aligning, ledger.deflection) == (0.0, 0.0, 0.0)
    rubs = np.hypot(turn.slips, turn.drive_slips) * turn.wheel_speeds * course.length
    np.testing.assert_allclose(ledger.rub, rubs, rtol=1e-6, atol=1e-9)
    # What is told along the way adds up to the books.
    np.testing.assert_allclose(lap.scrub.mean(axis=0) * course.length, ledger.lateral + ledger.longitudinal, rtol=1e-6, atol=1e-9)
    np.testing.assert_allclose(lap.drive, ledger.drive_work / course.length, rtol=1e-6, atol=0)


@pytest.mark.parametrize("rolls", ["four wheels", "bicycle"])
def test_the_trace_of_a_rolling_lap_runs_round_its_circle(vehicle, circle, rolls):
    # At 3 m/s round 8 m: the yaw rate v / R, rows every 20 ms, and slip losses that add up to the scrub.
    car, table = vehicle("standard", linkage="parallel")
    table = table if rolls == "four wheels" else None
    course = circle(8.0)
    plan = plan_pace(course, car, Pace(target=3.0, lateral_limit=3.0, braking_limit=1.5, power=900.0, start=None))
    lap = rolling_lap(car, table, course, plan)
    trace = trace_of_rolling(car, table, course, plan, lap)
    count = len(trace.time)
    assert count * 0.02 == pytest.approx(lap.time, rel=0, abs=0.021)
    np.testing.assert_allclose(trace.time, 0.02 * np.arange(count), rtol=0, atol=1e-12)
    np.testing.assert_allclose(trace.yaw_rate, 3.0 / 8.0, rtol=1e-4, atol=0)
    assert trace.lateral_error.tolist() == [0.0] * count
    # The car's axis points off the path by the sideslip that rolling asks for: sin = b / R, b the mass centre's way to the rear axle.
    np.testing.assert_allclose(np.mod(trace.heading + trace.sideslip - 3.0 / 8.0 * trace.time + 1.0, 2 * pi), 1.0, rtol=0, atol=1e-3)
    if table is None:
        np.testing.assert_allclose(np.sin(trace.sideslip), 0.68 / 8.0, rtol=1e-6, atol=0)
        np.testing.assert_allclose(trace.steer[:, :2], np.column_stack([trace.hand] * 2), rtol=1e-12, atol=0)
        np.testing.assert_array_equal(trace.steer[:, 2:], 0.0)
    assert trace.slip_loss.sum() * 0.02 == pytest.approx(lap.ledger.scrub, rel=0.01, abs=1e-9)
    np.testing.assert_allclose(trace.rub_speed.sum(axis=0) * 0.02, np.abs(lap.slips[0]) * 3.0 * count * 0.02, rtol=1e-6, atol=1e-12)


def test_a_rolling_lap_uphill_lifts_the_car(vehicle, course_by):
    # Straight and steady: drive work = m g h + air + rolling (energy balance).
    car, table = vehicle("standard", linkage="parallel")
    course = course_by(50.0, lambda s: 0 * s, lambda s: 0.02 * s, closed=False)
    plan = plan_pace(course, car, Pace(target=3.0, lateral_limit=3.0, braking_limit=1.5, power=900.0, start=None))
    ledger = rolling_lap(car, table, course, plan).ledger
    expected = car.mass * GRAVITY * (1.0 + 0.008 * 50.0) + 0.5 * 1.225 * 0.2 * 9.0 * 50.0
    assert ledger.drive_work == pytest.approx(expected, rel=1e-6, abs=0)


@pytest.mark.compiled
def test_a_rolling_lap_on_a_hill_closes_its_books(vehicle, course_by):
    course = course_by(150.0, lambda s: 0.08 * np.sin(2 * pi * s / 50.0), lambda s: 1.2 * (1 - np.cos(2 * pi * s / 150.0)))
    for table in (vehicle("standard", linkage="parallel")[1], None):
        car, _ = vehicle("standard", linkage="parallel")
        plan = plan_pace(course, car, Pace(target=6.0, lateral_limit=2.0, braking_limit=1.0, power=400.0, start=None))
        ledger = rolling_lap(car, table, course, plan).ledger
        assert abs(ledger.residual) < 1e-12
        assert ledger.height == pytest.approx(0.0, rel=0, abs=1e-9)
        assert ledger.brakes > 0.0
        assert (ledger.scrub == 0.0) == (table is None)
    # Where the bend is tightest the wheels slip as in the turn of that radius.
    lap, tightest = rolling_lap(car, vehicle("standard", linkage="parallel")[1], course, plan), int(np.argmax(course.curvature))
    turn = rolling_turn(car, vehicle("standard", linkage="parallel")[1], float(course.curvature[tightest]))
    np.testing.assert_allclose(lap.slips[tightest], turn.slips, rtol=1e-6, atol=1e-9)
    assert lap.steer[tightest] == pytest.approx(turn.steer, rel=1e-9, abs=0)


def test_a_rolling_lap_that_ends_in_a_bend_is_left_with_its_turning(vehicle, course_by):
    # m v^2 / 2 + I r^2 / 2 with r = v k (mechanics), from the straight to a bend of 5 m.
    car, table = vehicle("standard", linkage="ideal")
    course = course_by(40.0, lambda s: 0.2 * np.clip((s - 10.0) / 20.0, 0.0, 1.0), closed=False)
    plan = plan_pace(course, car, Pace(target=5.0, lateral_limit=3.0, braking_limit=1.5, power=600.0, start=None))
    first, last = plan.speed[0], plan.speed[-1]
    expected = 0.5 * 145 * (last**2 - first**2) + 0.5 * 38 * (last * 0.2) ** 2
    assert rolling_lap(car, table, course, plan).ledger.kinetic == pytest.approx(expected, rel=1e-9, abs=0)


def test_scrub_of_pure_geometry_does_not_depend_on_speed(vehicle, circle):
    car, table = vehicle("standard", linkage="parallel")
    course = circle(6.0)
    scrubs = []
    for target in (1.0, 4.0):
        plan = plan_pace(course, car, Pace(target=target, lateral_limit=9.0, braking_limit=1.5, power=5000.0, start=None))
        scrubs.append(rolling_lap(car, table, course, plan).ledger.scrub)
    assert scrubs[0] == pytest.approx(scrubs[1], rel=1e-12, abs=0)
