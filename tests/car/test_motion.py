"""The car's motion in one state: power, passivity, mirror, friction; and its integral against known motions."""

from math import pi

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from sim.car.chassis import DIFFERENTIAL, DRIVES, GRAVITY, ONE_WHEEL_LEFT, ONE_WHEEL_RIGHT, SOLID_AXLE, with_law
from sim.car.motion import BODY_COLUMNS, WHEEL_COLUMNS, ForceDemand, Pose, Pull, Velocity, Wind, car_motion
from sim.car.motion import BodyColumn as Body
from sim.car.motion import WheelColumn as Wheel
from sim.car.rear_axle import CRAWL, axle_force, axle_peripheral_speed
from sim.car.traction import GRIP_SHARE
from sim.car.tyre import BRUSH, LAWS, LINEAR
from sim.steering.cells import front_pose, steer_cells_of
from sim.turn.steady import steady_turn

X, Y = np.array([0.82, 0.82, -0.68, -0.68]), np.array([0.45, -0.45, 0.43, -0.43])
STILL = np.zeros(4)
# Swapping left and right turns these round; everything else stays.
ODD_BODY = [Body.ACCEL_Y, Body.ACCEL_YAW]


def numbers(values):
    return tuple(float(value) for value in values)


def pose_of(steers, steer_rates, x, y, cambers):
    """A Pose of four wheels' values."""
    return Pose(numbers(steers[:2]), numbers(steer_rates[:2]), numbers(x), numbers(y), numbers(cambers[:2]))


def moves(car, vx, vy, yaw_rate, slips, steers, *, steer_rates=STILL, x=X, y=Y, cambers=STILL, pull=(0.0, 0.0), wind=(0.0, 0.0),
          force=None, wanted=0.0, power=600.0):  # fmt: skip
    """(wheels, body) of one state; a force, or else an acceleration that the driver wants."""
    wheels, body = np.full((4, WHEEL_COLUMNS), np.nan), np.full(BODY_COLUMNS, np.nan)
    demand = ForceDemand(force is None, float(wanted if force is None else force))
    velocity, pose = Velocity(float(vx), float(vy), float(yaw_rate)), pose_of(steers, steer_rates, x, y, cambers)
    car_motion(car, velocity, numbers(slips), pose, Pull(*numbers(pull)), Wind(*numbers(wind)), demand, float(power), wheels, body)
    return wheels, body


def within(most):
    return st.floats(-most, most, allow_subnormal=False)


FRONT_MOVES = st.tuples(within(0.1), within(0.1), st.just(0.0), st.just(0.0)).map(np.array)


@st.composite
def states(draw, cambers=True):
    """Keys of `moves` for a car in any state: sliding, braking, on a slope, with wheels in the air."""
    front = [draw(within(0.6)), draw(within(0.6))]
    keys = {
        "vx": draw(st.floats(0.0, 12.0)), "vy": draw(within(2.5)), "yaw_rate": draw(within(1.8)),
        "slips": [draw(within(0.4)) for _ in range(4)], "steers": [*front, 0.0, 0.0],
        "steer_rates": [draw(within(1.2)), draw(within(1.2)), 0.0, 0.0],
        "x": X + draw(FRONT_MOVES), "y": Y + draw(FRONT_MOVES),
        "pull": (draw(within(200)), draw(within(100))),
    }  # fmt: skip
    if cambers:
        keys["cambers"] = [draw(within(0.2)), draw(within(0.2)), 0.0, 0.0]
    if draw(st.booleans()):
        keys["force"] = draw(within(900))
    else:
        keys |= {"wanted": draw(within(4)), "power": draw(st.floats(10, 3000))}
    return keys


@st.composite
def cars(draw, base):
    """The standard car with any drive and any tyre, of either law."""
    brush = draw(st.sampled_from((LINEAR, BRUSH)))

    def tyre():
        return base.front_tyre._replace(
            cornering_stiffness=draw(st.floats(4, 20)), load_sensitivity=draw(st.floats(0, 0.3)),
            drive_stiffness=draw(st.floats(5, 40)), relaxation_length=draw(st.floats(0.05, 0.4)),
            pneumatic_trail=draw(st.floats(0, 0.03)), camber_stiffness=draw(st.floats(0, 1.2)),
            friction=draw(st.floats(0.1, 1.5)), rolling_resistance=draw(st.floats(0, 0.03)),
            brush=brush,
        )  # fmt: skip

    return base._replace(drive=draw(st.integers(0, len(DRIVES) - 1)), height=draw(st.floats(0.0, 0.7)), front_tyre=tyre(), rear_tyre=tyre())


@pytest.fixture(scope="module")
def standard(vehicle):
    return vehicle("standard")[0]


def speed_of(state):
    return np.hypot(state["vx"], state["vy"])


@settings(max_examples=600)
@given(st.data())
def test_power_that_goes_in_comes_out(standard, data):
    # d/dt (m v^2 / 2 + I r^2 / 2) = drive + hands - air - rolling - brakes - height - slip losses - aligning - stored
    car, state = data.draw(cars(standard)), data.draw(states())
    wheels, body = moves(car, **state)
    kinetic = car.mass * (state["vx"] * body[Body.ACCEL_X] + state["vy"] * body[Body.ACCEL_Y])
    kinetic += car.yaw_inertia * state["yaw_rate"] * body[Body.ACCEL_YAW]
    parts = np.array([
        body[Body.DRIVE_POWER], body[Body.HAND_POWER], -body[Body.AIR_POWER], -body[Body.ROLLING_POWER], -body[Body.BRAKE_POWER],
        -body[Body.HEIGHT_POWER],
        *-wheels[:, Wheel.LATERAL_LOSS], *-wheels[:, Wheel.LONGITUDINAL_LOSS], -body[Body.ALIGNING_POWER], -body[Body.STORED_POWER],
    ])  # fmt: skip
    assert kinetic == pytest.approx(parts.sum(), rel=0, abs=1e-10 * max(np.abs(parts).sum(), 1.0))


@pytest.mark.parametrize("force", [150.0, -150.0, 0.0])
def test_power_of_a_solid_axle_with_a_wheel_in_the_air(standard, force):
    # A high, front-heavy car in a left turn lifts its inner rear wheel: it hangs on the axle and turns with it.
    car = standard._replace(drive=SOLID_AXLE, height=0.6)
    keys = {"slips": [0.045] * 4, "steers": STILL, "x": [0.4, 0.4, -1.1, -1.1]}
    wheels, body = moves(car, 6.0, 0.1, 0.9, force=force, **keys)
    assert wheels[2, Wheel.LOAD] == 0.0
    assert body[Body.LIFTED] == 1.0
    kinetic = car.mass * (6.0 * body[Body.ACCEL_X] + 0.1 * body[Body.ACCEL_Y]) + car.yaw_inertia * 0.9 * body[Body.ACCEL_YAW]
    losses = wheels[:, [Wheel.LATERAL_LOSS, Wheel.LONGITUDINAL_LOSS]].sum()
    losses += body[[Body.AIR_POWER, Body.ROLLING_POWER, Body.ALIGNING_POWER, Body.STORED_POWER]].sum()
    assert kinetic == pytest.approx(body[Body.DRIVE_POWER] - body[Body.BRAKE_POWER] - losses, rel=1e-10, abs=1e-9)


@pytest.mark.target("T6", what="A wheel's force stays inside the friction circle", asked="1 + 1e-12 times the grip")
@pytest.mark.target("T11", what="Each wheel's loss, in every step or drawn state", asked="at least -1e-12 W")
@settings(max_examples=300)
@given(st.data())
def test_forces_and_losses_of_any_state(within_target, standard, data):
    car, state = data.draw(cars(standard)), data.draw(states(cambers=False))
    wheels, body = moves(car, **state)
    assert np.isfinite(wheels).all()
    assert np.isfinite(body).all()
    friction = np.array([car.front_tyre.friction] * 2 + [car.rear_tyre.friction] * 2)
    used = np.hypot(wheels[:, Wheel.LONGITUDINAL], wheels[:, Wheel.LATERAL])
    on = wheels[:, Wheel.LOAD] > 0
    assert not used[~on].any()
    within_target((used[on] / (friction * wheels[:, Wheel.LOAD])[on] - 1).max(initial=-1.0), at_most=1e-12, of="beyond the grip", no="T6")
    # Upright wheels never give back what slip takes.
    within_target(wheels[:, [Wheel.LATERAL_LOSS, Wheel.LONGITUDINAL_LOSS]], at_least=-1e-12, of="least loss [W]", no="T11")
    assert min(body[Body.AIR_POWER], body[Body.ROLLING_POWER]) >= 0.0
    assert body[Body.LIFTED] in (0.0, 1.0, 2.0)
    assert wheels[:, Wheel.LOAD].min() >= 0.0
    if body[Body.LIFTED] < 2:
        assert wheels[:, Wheel.LOAD].sum() == pytest.approx(car.mass * GRAVITY, rel=1e-12, abs=0)


@pytest.mark.target("T4", what="Left and right swapped: every figure is mirrored", asked="1e-10 relative")
@settings(max_examples=200)
@given(st.data())
def test_a_mirrored_state_moves_mirrored(within_target, standard, data):
    car, state = data.draw(cars(standard)), data.draw(states())
    wheels, body = moves(car, **state)
    swap = [1, 0, 3, 2]
    other = {
        "vx": state["vx"], "vy": -state["vy"], "yaw_rate": -state["yaw_rate"], "slips": -np.array(state["slips"])[swap],
        "steers": -np.array(state["steers"])[swap], "steer_rates": -np.array(state["steer_rates"])[swap],
        "x": state["x"][swap], "y": -state["y"][swap], "cambers": -np.array(state["cambers"])[swap],
        "pull": (state["pull"][0], -state["pull"][1]),
    } | {key: state[key] for key in ("force", "wanted", "power") if key in state}  # fmt: skip
    sides = {ONE_WHEEL_LEFT: ONE_WHEEL_RIGHT, ONE_WHEEL_RIGHT: ONE_WHEEL_LEFT}
    wheels_other, body_other = moves(car._replace(drive=sides.get(car.drive, car.drive)), **other)
    expected, expected_body = wheels[swap].copy(), body.copy()
    expected[:, [Wheel.LATERAL, Wheel.SLIP_RATE, Wheel.ALIGNING]] *= -1
    expected_body[ODD_BODY] *= -1
    np.testing.assert_allclose(wheels_other, expected, rtol=1e-10, atol=1e-9 * car.mass)
    np.testing.assert_allclose(body_other, expected_body, rtol=1e-10, atol=1e-9 * car.mass)
    forces = [Wheel.LOAD, Wheel.LATERAL, Wheel.LONGITUDINAL]
    within_target(np.abs(wheels_other - expected)[:, forces] / (car.mass * GRAVITY), at_most=1e-10, of="forces")


def test_each_drive_pushes_with_its_own_wheels(standard):
    for drive, shares in [(ONE_WHEEL_LEFT, [100, 0]), (ONE_WHEEL_RIGHT, [0, 100]), (DIFFERENTIAL, [50, 50]), (SOLID_AXLE, [50, 50])]:
        wheels, body = moves(standard._replace(drive=drive), 5.0, 0.0, 0.0, STILL, STILL, force=100.0)
        np.testing.assert_allclose(wheels[:, Wheel.LONGITUDINAL], [0, 0, *shares], rtol=1e-12, atol=1e-9)
        assert body[Body.DRIVE_FORCE] == 100.0
        assert not body[Body.REGENERATED_POWER : Body.CHARGE_RATE + 1].any()  # it has no motor
        # Slip is force over c_x N; power is force times the tread's speed, so that the slip costs.
        slips = np.array([0, 0, *shares]) / (15.0 * wheels[:, Wheel.LOAD])
        np.testing.assert_allclose(wheels[:, Wheel.DRIVE_SLIP], slips, rtol=1e-12, atol=1e-12)
        np.testing.assert_allclose(wheels[:, Wheel.PERIPHERAL], 5.0 * (1 + slips), rtol=1e-12, atol=0)
        np.testing.assert_allclose(wheels[:, Wheel.LONGITUDINAL_LOSS], np.array([0, 0, *shares]) * slips * 5.0, rtol=1e-11, atol=1e-9)
        np.testing.assert_allclose(wheels[:, Wheel.RUB_SPEED], slips * 5.0, rtol=1e-11, atol=1e-12)


def test_brakes_share_by_load_and_a_drive_that_asks_too_much_is_cut(standard):
    wheels, body = moves(standard, 5.0, 0.0, 0.0, STILL, STILL, force=-200.0)
    np.testing.assert_allclose(wheels[:, Wheel.LONGITUDINAL], -200 * wheels[:, Wheel.LOAD] / (standard.mass * GRAVITY), rtol=1e-12, atol=0)
    assert body[Body.DRIVE_FORCE] == 0.0
    assert body[Body.BRAKE_POWER] == pytest.approx(-(wheels[:, Wheel.LONGITUDINAL] * wheels[:, Wheel.PERIPHERAL]).sum(), rel=1e-12, abs=0)
    wheels, body = moves(standard, 5.0, 0.0, 0.0, STILL, STILL, force=5000.0)
    assert body[Body.DRIVE_FORCE] == pytest.approx(GRIP_SHARE * 0.9 * wheels[2, Wheel.LOAD], rel=1e-12, abs=0)


@pytest.mark.parametrize("slip", [0.03, -0.03])
def test_what_each_drive_can_hold_by_statics(standard, slip):
    # In a bend the rear wheels carry unlike loads.  Equal torques end with the weaker wheel's grip, one spin speed with the grip of both.
    for drive, hold in [
        (ONE_WHEEL_LEFT, lambda left, right: left), (ONE_WHEEL_RIGHT, lambda left, right: right),
        (DIFFERENTIAL, lambda left, right: 2 * min(left, right)), (SOLID_AXLE, lambda left, right: left + right),
    ]:  # fmt: skip
        wheels, body = moves(standard._replace(drive=drive), 5.0, 0.0, 0.0, [slip] * 4, STILL, force=5000.0)
        assert abs(wheels[2, Wheel.LOAD] - wheels[3, Wheel.LOAD]) > 50.0
        assert body[Body.DRIVE_FORCE] == pytest.approx(GRIP_SHARE * hold(*(0.9 * wheels[2:, Wheel.LOAD])), rel=1e-12, abs=0)


@pytest.mark.parametrize("wanted", [0.3, -1.2])
@pytest.mark.parametrize("drive", range(4))
def test_the_driver_gets_the_wanted_acceleration_where_the_wheels_run_straight(standard, wanted, drive):
    _, body = moves(standard._replace(drive=drive), 5.0, 0.0, 0.0, STILL, STILL, wanted=wanted, pull=(-40.0, 0.0), power=5000.0)
    assert body[Body.ACCEL_X] == pytest.approx(wanted, rel=1e-9, abs=0)
    assert body[Body.HEIGHT_POWER] == pytest.approx(200.0, rel=1e-12, abs=0)


@pytest.mark.parametrize("brush", [LINEAR, BRUSH], ids=LAWS)
@pytest.mark.parametrize("wanted", [0.3, -1.2])
@pytest.mark.parametrize(
    ("drive", "across", "steer"),
    [*((drive, 0.4, 0.2) for drive in range(4)), *((drive, *one) for drive in range(SOLID_AXLE) for one in ((1.5, 0.2), (0.4, 0.5)))],
)
def test_the_driver_gets_the_wanted_change_of_speed_in_a_bend(standard, wanted, drive, across, steer, brush):
    # d|v|/dt = wanted, by Newton's law along the path: the car drifts, its front wheels are turned, and it stands on a slope.
    car = with_law(standard, brush)._replace(drive=drive)
    keys = {"slips": [0.05, 0.04, 0.03, 0.035], "steers": [steer, 0.85 * steer, 0, 0], "pull": (-40.0, 30.0), "power": 5000.0}
    _, body = moves(car, 5.0, across, 0.6, wanted=wanted, **keys)
    accel = body[Body.ACCEL_X], body[Body.ACCEL_Y]
    along = (5.0 * accel[0] + across * accel[1]) / np.hypot(5.0, across)
    assert along == pytest.approx(wanted, rel=0, abs=2e-3 if drive < SOLID_AXLE else 0.02)


@pytest.mark.parametrize("vx", [3.0, -3.0, 0.0])
def test_each_wheel_is_resisted_the_way_it_rolls(standard, vx):
    # Statics share the weight between the axles; each tyre has a coefficient of its own.  A car that stands is not pushed.
    front, rear = (standard.front_tyre._replace(rolling_resistance=each) for each in (0.006, 0.015))
    car = standard._replace(front_tyre=front, rear_tyre=rear, height=0.0, drag_area=0.0)
    _, body = moves(car, vx, 0.0, 0.0, STILL, STILL, force=0.0)
    resistance = GRAVITY * (0.006 * (1.5 - 0.82) + 0.015 * 0.82) / 1.5
    assert body[Body.ACCEL_X] == pytest.approx(-np.sign(vx) * resistance, rel=1e-12, abs=1e-15)
    assert body[Body.ROLLING_POWER] == pytest.approx(car.mass * resistance * abs(vx), rel=1e-12, abs=1e-15)


def test_only_the_motion_through_the_air_drags(standard):
    # Galilei: a wind from ahead is so much more speed, one from behind that keeps up is calm air, one from the side pushes and drags.
    tyre = standard.front_tyre._replace(rolling_resistance=0.0)
    car = standard._replace(front_tyre=tyre, rear_tyre=tyre)

    def accel(vx, vy, wind):
        _, body = moves(car, vx, vy, 0.0, STILL, STILL, wind=wind, force=0.0)
        return body[[Body.ACCEL_X, Body.ACCEL_Y]]

    whole = 0.5 * car.air_density * car.drag_area / car.mass
    np.testing.assert_allclose(accel(5.0, 0.0, (-3.0, 0.0)), [-whole * 64, 0.0], rtol=1e-12, atol=0)
    np.testing.assert_allclose(accel(5.0, 0.5, (5.0, 0.5)), 0.0, rtol=0, atol=1e-15)
    np.testing.assert_allclose(accel(3.0, 0.0, (0.0, 4.0)), [-whole * 5 * 3, whole * 5 * 4], rtol=1e-12, atol=0)
    np.testing.assert_allclose(accel(0.0, 0.0, (0.0, -4.0)), [0.0, -whole * 16], rtol=1e-12, atol=0)


@pytest.mark.parametrize("radius", [6.0, -9.0])
def test_loads_of_a_steady_turn_balance_its_acceleration(standard, vehicle, radius):
    # Moments about the ground: what the mass centre's height takes from the inner wheels is m a_y h, and m a_x h from the front ones.
    turn = steady_turn(standard, vehicle("standard", linkage="parallel")[1], radius, 4.0)
    loads, yaw_rate = turn.wheels[:, Wheel.LOAD], 4.0 / radius
    # The front wheels swing about upright kingpins 740 mm apart.
    sides, steers = np.array([1.0, -1.0]), turn.steers[:2]
    x = [*standard.front_arm - 0.08 * sides * np.sin(steers), *X[2:]]
    y = [*sides * (0.37 + 0.08 * np.cos(steers)), *Y[2:]]
    sideways, ahead = yaw_rate * 4.0 * np.cos(turn.sideslip), -yaw_rate * 4.0 * np.sin(turn.sideslip)
    whole = standard.mass * GRAVITY
    assert loads @ y == pytest.approx(-standard.mass * sideways * standard.height, rel=0, abs=1e-9 * whole)
    assert loads @ x == pytest.approx(-standard.mass * ahead * standard.height, rel=0, abs=1e-9 * whole)


@pytest.mark.parametrize("brush", [LINEAR, BRUSH], ids=LAWS)
@pytest.mark.parametrize("slips", [(0.05, 0.04, 0.03, 0.035), (0.3, 0.25, -0.1, 0.2)], ids=["grips", "slides"])
@pytest.mark.parametrize("force", [90.0, -150.0])
def test_the_body_moves_as_its_wheels_push_it(standard, slips, force, brush):
    # Newton and Euler from what is told of each wheel: sums of forces, and of moments about the mass centre.
    front = standard.front_tyre._replace(rolling_resistance=0.0, pneumatic_trail=0.02, brush=brush)
    rear = standard.rear_tyre._replace(rolling_resistance=0.0, pneumatic_trail=0.035, brush=brush)
    car = standard._replace(front_tyre=front, rear_tyre=rear, drag_area=0.0, drive=ONE_WHEEL_RIGHT)
    steers = np.array([0.22, 0.17, 0.0, 0.0])
    x, y = X + np.array([0.03, -0.02, 0.0, 0.0]), Y + np.array([-0.01, 0.04, 0.0, 0.0])
    wheels, body = moves(car, 5.0, 0.3, 0.5, slips, steers, x=x, y=y, steer_rates=[0.4, 0.3, 0, 0], pull=(25.0, -40.0), force=force)
    along, across = wheels[:, Wheel.LONGITUDINAL], wheels[:, Wheel.LATERAL]
    ahead, left = along * np.cos(steers) - across * np.sin(steers), along * np.sin(steers) + across * np.cos(steers)
    assert np.abs(across).min() > 1.0
    assert body[Body.ACCEL_X] == pytest.approx((ahead.sum() + 25.0) / car.mass + 0.5 * 0.3, rel=1e-9, abs=1e-12)
    assert body[Body.ACCEL_Y] == pytest.approx((left.sum() - 40.0) / car.mass - 0.5 * 5.0, rel=1e-9, abs=1e-12)
    moment = (x * left - y * ahead + wheels[:, Wheel.ALIGNING]).sum()
    assert body[Body.ACCEL_YAW] == pytest.approx(moment / car.yaw_inertia, rel=1e-9, abs=1e-12)
    # The moments turn with the wheels: yaw velocity and the hands' own.
    turned = (wheels[:, Wheel.ALIGNING] * (0.5 + np.array([0.4, 0.3, 0.0, 0.0]))).sum()
    assert body[Body.ALIGNING_POWER] == pytest.approx(-turned, rel=1e-9, abs=1e-12)


def test_power_limits_the_drive(standard):
    _, body = moves(standard, 5.0, 0.0, 0.0, STILL, STILL, wanted=9.0, power=250.0)
    assert body[Body.DRIVE_FORCE] == pytest.approx(50.0, rel=1e-12, abs=0)


@pytest.mark.target("T6", what="Forces are finite down to standstill", asked="none that is no number")
@pytest.mark.parametrize("drive", range(4))
@pytest.mark.parametrize("vx", [0.0, 1e-300, 1e-9, 0.5 * CRAWL])
def test_nothing_blows_up_at_standstill(standard, drive, vx):
    for keys in ({"force": 80.0}, {"force": -80.0}, {"force": 0.0}, {"wanted": 1.0}, {"wanted": -1.0}):
        wheels, body = moves(standard._replace(drive=drive), vx, 0.0, 0.0, [0.1, -0.1, 0.05, 0.0], [0.3, 0.25, 0, 0], **keys)
        assert np.isfinite(wheels).all()
        assert np.isfinite(body).all()


@pytest.mark.slow
@pytest.mark.parametrize("brush", [LINEAR, BRUSH], ids=LAWS)
@settings(max_examples=400)
@given(
    st.tuples(*[st.floats(0.0, 900.0)] * 2), st.tuples(*[st.floats(0.05, 12.0)] * 2), st.tuples(*[within(1500)] * 2),
    st.floats(0.05, 1.5), st.floats(3, 40), st.floats(-1, 1),
)  # fmt: skip
@example((400.0, 400.0), (5.0, 5.0), (1e6, -1e6), 0.9, 15.0, 0.9)  # both wheels slide sideways
@example((0.0, 700.0), (5.0, 7.0), (0.0, 100.0), 0.9, 15.0, 0.95)  # one in the air
@example((300.0, 600.0), (0.05, 12.0), (0.0, 0.0), 0.9, 40.0, 0.0)  # they fight without a sum
def test_solid_axle_forces_add_up_after_the_limit(brush, loads, speed, lateral, friction, stiffness, share):
    add_up(brush, loads, speed, lateral, friction, stiffness, share)


@pytest.mark.parametrize("brush", [LINEAR, BRUSH], ids=LAWS)
@pytest.mark.parametrize("share", [0.3, -0.9, 0.0])
@pytest.mark.parametrize("lateral", [(60.0, -20.0), (250.0, 100.0), (1e6, -1e6)], ids=["grips", "slides", "slides altogether"])
def test_some_solid_axle_forces_add_up(brush, share, lateral):
    add_up(brush, (300.0, 450.0), (4.0, 4.3), lateral, 0.9, 15.0, share)
    add_up(brush, (0.0, 700.0), (4.0, 4.3), lateral, 0.9, 15.0, share)  # one in the air
    add_up(brush, (300.0, 450.0), (1.01, 1.02), lateral, 0.9, 15.0, share)


def add_up(brush, loads, speed, lateral, friction, stiffness, share):
    loads, speed, lateral = np.array(loads), np.array(speed), np.array(lateral)
    limit = friction * loads
    wanted = GRIP_SHARE * share * limit.sum()
    peripheral = axle_peripheral_speed(brush, wanted, stiffness, loads, speed, lateral, limit)
    # Independent of the sum inside: each force from the law in words, cut to the circle or what the bristles hold.
    before = stiffness * loads * (peripheral - speed) / np.maximum(speed, CRAWL)
    size = np.hypot(before, lateral)
    if brush is LINEAR:
        held = np.minimum(size, limit)
    else:
        held = limit * (1 - (1 - np.minimum(np.divide(size, 3 * limit, out=np.ones(2), where=limit > 1e-200), 1.0)) ** 3)
    after = before * np.divide(held, size, out=np.ones(2), where=size > 0)
    assert after.sum() == pytest.approx(wanted, rel=0, abs=1e-9 * max(limit.sum(), 1.0))
    assert axle_force(brush, peripheral, stiffness, loads, speed, lateral, limit)[0] == pytest.approx(after.sum(), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("brush", [LINEAR, BRUSH], ids=LAWS)
def test_slope_of_the_axles_force(brush):
    loads, speed, lateral = np.array([300.0, 500.0]), np.array([4.0, 5.0]), np.array([400.0, 100.0])
    limit = 0.9 * loads
    for peripheral in (4.2, 4.6, 5.3):
        _, slope = axle_force(brush, peripheral, 15.0, loads, speed, lateral, limit)
        above, below = (axle_force(brush, peripheral + d, 15.0, loads, speed, lateral, limit)[0] for d in (1e-5, -1e-5))
        assert slope == pytest.approx((above - below) / 2e-5, rel=1e-6, abs=0)


class Runner:
    """The motion of a car with its hands held still, by a Runge-Kutta loop of this file's own; state (vx, vy, r, four slips)."""

    def __init__(self, car, steers, x=X, y=Y, cambers=STILL, force=0.0, added=None):
        self.car, self.force, self.added = car, force, added
        self.wheels, self.body = np.zeros((4, WHEEL_COLUMNS)), np.zeros(BODY_COLUMNS)
        self.pose = pose_of(steers, STILL, x, y, cambers)

    def rate(self, state, time):
        demand = ForceDemand(False, float(self.force))
        car_motion(
            self.car, Velocity(*numbers(state[:3])), numbers(state[3:]), self.pose, Pull(0.0, 0.0), Wind(0.0, 0.0), demand, 0.0,
            self.wheels, self.body,
        )  # fmt: skip
        rate = np.concatenate([self.body[[Body.ACCEL_X, Body.ACCEL_Y, Body.ACCEL_YAW]], self.wheels[:, Wheel.SLIP_RATE]])
        return rate if self.added is None else rate + self.added(time)

    def run(self, state, step, steps, seen=None):
        for i in range(steps):
            time = i * step
            one = self.rate(state, time)
            if seen is not None:
                seen(state, self.wheels, self.body)
            two = self.rate(state + 0.5 * step * one, time + 0.5 * step)
            three = self.rate(state + 0.5 * step * two, time + 0.5 * step)
            state = state + step / 6 * (one + 2 * two + 2 * three + self.rate(state + step * three, time + step))
        return state


def energy(car, state):
    return 0.5 * car.mass * (state[0] ** 2 + state[1] ** 2) + 0.5 * car.yaw_inertia * state[2] ** 2


@pytest.mark.target("T11", what="No drive, no drag: energy never rises", asked="never, to what the test's own sum of it leaves: 1e-4 J")
@pytest.mark.parametrize("brush", [LINEAR, BRUSH], ids=LAWS)
@pytest.mark.parametrize("drive", range(4))
@pytest.mark.parametrize("friction", [0.9, 0.15])
def test_a_free_car_never_gains_energy(standard, drive, friction, brush, within_target):
    # No drive, no drag, no rolling resistance, tracks that disagree, a spin at the start: only slip is left, and it takes.  The
    # tyres' deflection gives back what it stored; what may not rise is kinetic energy plus the work stored since the start.
    tyre = standard.front_tyre._replace(rolling_resistance=0.0, friction=friction, pneumatic_trail=0.0, brush=brush)
    car = standard._replace(drive=drive, drag_area=0.0, front_tyre=tyre, rear_tyre=tyre)
    runner, totals = Runner(car, [0.25, 0.15, 0, 0]), []

    def seen(state, wheels, body):
        within_target(wheels[:, [Wheel.LATERAL_LOSS, Wheel.LONGITUDINAL_LOSS]], at_least=-1e-12, of="least loss [W]")
        totals.append((energy(car, state), body[Body.STORED_POWER]))

    runner.run(np.array([6.0, 0.4, 0.5, 0, 0, 0, 0], float), 0.002, 1500, seen)
    kinetic, rates = np.array(totals).T
    stored = np.concatenate([[0.0], np.cumsum(0.5 * (rates[1:] + rates[:-1]) * 0.002)])
    within_target(np.diff(kinetic + stored), at_most=1e-4, of="largest rise in a step [J]")
    assert kinetic[-1] < kinetic[0]


def test_a_free_straight_car_keeps_its_speed(standard):
    tyre = standard.front_tyre._replace(rolling_resistance=0.0)
    car = standard._replace(drag_area=0.0, front_tyre=tyre, rear_tyre=tyre)
    end = Runner(car, STILL).run(np.array([6.0, 0, 0, 0, 0, 0, 0], float), 0.01, 200)
    np.testing.assert_allclose(end, [6.0, 0, 0, 0, 0, 0, 0], rtol=1e-13, atol=1e-13)


@pytest.mark.target(
    "T8", what="A steady turn is where a long run with the same hands and force ends: each wheel's force",
    asked="1e-6 relative",
)  # fmt: skip
@pytest.mark.slow
@pytest.mark.parametrize("drive", ["one wheel left", "one wheel right", "differential", "solid axle"])
@pytest.mark.parametrize(("radius", "law"), [(8.0, LINEAR), (-12.0, LINEAR), (8.0, BRUSH)])
def test_steady_turn_is_where_a_long_run_ends(vehicle, setup_keys, drive, radius, law, within_target):
    # Hands and force of the steady turn, started off it by several per cent; the run must settle on the same wheel forces.  The
    # sail of a drag area settles the speed within 8 s instead of 30 s.
    car, table = vehicle("standard", car={"drive": drive, "drag_area_m2": 3.0}, **setup_keys)
    car = with_law(car, law)
    turn = steady_turn(car, table, radius, 5.0)
    steer_cells = steer_cells_of(table)
    pose = [np.zeros(4) for _ in range(5)]
    # The equivalent steer with that hand angle: the table's own poses at the nodes are too coarse, so by bisection.
    low, high = steer_cells.least, steer_cells.most
    for _ in range(60):
        middle = 0.5 * (low + high)
        front_pose(steer_cells, car, middle, 0.0, *pose)
        low, high = (middle, high) if pose[0][0] < turn.steers[0] else (low, middle)
    steers, _, x, y, cambers = pose
    np.testing.assert_allclose(steers, turn.steers, rtol=0, atol=1e-13)
    runner = Runner(car, steers, x, y, cambers, force=turn.drive_force)
    start = np.array([5.2, 5.0 * np.sin(turn.sideslip), 4.8 / radius, *turn.slips * 0.9])
    end = runner.run(start, 0.012, 9000)
    runner.rate(end, 0.0)
    forces = [Wheel.LATERAL, Wheel.LONGITUDINAL, Wheel.LOAD]
    driven = np.abs(turn.wheels[:, forces]) > 1e-9  # undriven wheels have no force along, to rounding
    assert np.abs(runner.wheels[:, forces][~driven]).max(initial=0.0) <= 1e-7
    within_target(np.abs(runner.wheels[:, forces][driven] / turn.wheels[:, forces][driven] - 1), at_most=1e-6)
    assert np.hypot(end[0], end[1]) == pytest.approx(5.0, rel=1e-6, abs=0)


@pytest.mark.target("T12", what="Manufactured solution of the motion with relaxation", asked="order 3.5; 1e-8 at 1 ms")
def test_manufactured_motion(standard, orders, within_target):
    # A chosen smooth motion is made a solution by adding what it lacks to the rates; then the error is the integrator's alone.
    car = standard._replace(drive=SOLID_AXLE)
    size = np.array([0.6, 0.15, 0.25, 0.03, 0.03, 0.03, 0.03])
    pace = np.array([1.3, 1.7, 2.1, 1.1, 1.9, 2.3, 1.5])
    mean = np.array([5.0, 0.0, 0.1, 0.02, 0.02, 0.01, 0.01])

    def wanted(time):
        return mean + size * np.sin(pace * time + 0.3)

    bare = Runner(car, [0.05, 0.06, 0, 0], force=60.0)

    def lacking(time):
        return size * pace * np.cos(pace * time + 0.3) - bare.rate(wanted(time), time)

    forced = Runner(car, [0.05, 0.06, 0, 0], force=60.0, added=lacking)
    errors = []
    for steps in (50, 100, 200, 400, 1000):
        end = forced.run(wanted(0.0), 1.0 / steps, steps)
        errors.append(np.abs(end - wanted(1.0)).max())
    within_target(orders(errors[:4]).max(), at_least=3.5, of="order")
    within_target(errors[-1], at_most=1e-8, of="error at 1 ms")


def test_a_quarter_of_the_braking_lifts_no_wheel(standard):
    wheels, body = moves(standard, 5.0, 0.0, 0.0, STILL, STILL, force=-0.25 * standard.mass * GRAVITY)
    assert body[Body.LIFTED] == 0.0
    # Load goes forward by m a h / l, a from brakes, rolling and air: to three passes' exactness.
    moved = -standard.mass * body[Body.ACCEL_X] * standard.height / standard.wheelbase
    static = standard.mass * GRAVITY * 0.68 / 1.5
    assert wheels[:2, Wheel.LOAD].sum() == pytest.approx(static + moved, rel=1e-9, abs=0)


def test_a_wheel_that_stands_across_still_has_a_force(standard):
    # Rolled sideways at a right angle: full side force on the circle, no loss figure that is not finite
    wheels, _ = moves(standard, 4.0, 0.0, 0.0, [-0.6, 0.6, 0, 0], [pi / 2, -pi / 2, 0, 0], force=0.0)
    np.testing.assert_allclose(np.abs(wheels[:2, Wheel.LATERAL]), 0.9 * wheels[:2, Wheel.LOAD], rtol=1e-12, atol=0)
