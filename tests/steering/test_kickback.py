"""What the hands feel: virtual work against potential energy, levers against textbook geometry, the kick against energy and symmetry."""

from math import cos, radians, sqrt, tan

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from sim.linkages.pivots import stub_axles, turntable_axle
from sim.steering.arrangement import build_steering, ideal_setup
from sim.steering.kickback import (
    HandModel,
    hand_torque,
    kick,
    levers,
    speed_kept,
    steering_inertia,
    step_impulse,
    swing_rates,
    torque_arms,
    washer_arm,
)  # fmt: skip

LEANING = {"linkage": "centre arm", "arm_length_mm": 110.0, "arm_angle_deg": 13.9, "drop_arm_length_mm": 70.0,
           "drop_arm_behind_front_axle_mm": 107.0, "kingpin_inclination_deg": 9.0, "caster_deg": 7.0}  # fmt: skip
CASES = {
    "ideal": {"linkage": "ideal"},
    "leaning cross rod": {"linkage": "cross rod", "arm_length_mm": 110.0, "arm_angle_deg": 13.9, "kingpin_inclination_deg": 9.0,
                          "caster_deg": 7.0},
    "leaning centre arm": LEANING,
    "turntable with caster": {"pivot": "turntable", "caster_deg": 5.0},
}  # fmt: skip
NOTHING = np.zeros((1, 2))
HANDS = HandModel(stiffness=20.0, damping=1.5, inertia=0.05, wheel_mass=2.0)


@pytest.fixture(params=CASES.values(), ids=list(CASES))
def steering(request, built):
    return built("standard", **request.param)[2]


@pytest.mark.parametrize("share", [-0.8, -0.3, 0.0, 0.4, 0.9])
def test_weight_is_the_slope_of_its_potential_energy(steering, share):
    """Virtual work against a finite difference of sum N_i rise_i; the difference errs by its base squared, near 1e-9 N m here."""
    hand = np.array([share * (steering.lock_left if share > 0 else -steering.lock_right)])
    load = np.array([[260.0, 390.0]])
    base = 1e-4

    def energy(angle):
        return float((load * steering.front_wheels(angle).rise).sum())

    slope = (energy(hand + base) - energy(hand - base)) / (2 * base)
    held = hand_torque(steering, hand, load, NOTHING, NOTHING, NOTHING)
    # The hands hold the car's weight: they give what the energy asks for.
    assert held.weight[0] == pytest.approx(slope, rel=1e-5, abs=1e-5)
    assert held.total[0] == held.weight[0]


@pytest.mark.outside(
    "", what="Lever arm of each force on a leaning wheel", source="speed of the point that it acts on, rotated by SciPy", how="second",
    within="1e-8 relative",
)  # fmt: skip
def test_arms_are_the_power_of_a_swing():
    """Each arm against the speed of the point on which the force acts, with SciPy's rotation instead of ours."""
    wheel = stub_axles(0.9, 0.74, 0.203, radians(9), radians(7))[0]
    swing, base = 0.35, 1e-6
    arms = torque_arms(wheel, np.array([swing]))

    def moved(vector, angle):
        return wheel.axis_point + Rotation.from_rotvec(angle * wheel.axis).apply(vector - wheel.axis_point)

    def speed(point):
        at_zero = moved(point, -swing)
        return (moved(at_zero, swing + base) - moved(at_zero, swing - base)) / (2 * base)

    pose = wheel.pose(np.array([swing]))
    contact = np.array([pose.x[0], pose.y[0], -pose.rise[0]])
    ahead = np.array([np.cos(pose.steer[0]), np.sin(pose.steer[0]), 0.0])
    left = np.array([-ahead[1], ahead[0], 0.0])
    centre = moved(wheel.centre, swing)
    for ours, force, point in (
        (arms.load, [0, 0, 1], contact), (arms.side, left, contact), (arms.ground, ahead, contact), (arms.hub, ahead, centre),
    ):  # fmt: skip
        assert ours[0] == pytest.approx(float(np.dot(force, speed(point))), rel=1e-8, abs=1e-9)
    assert arms.twist[0] == pytest.approx(wheel.axis[2], rel=1e-12, abs=0)


def test_levers_of_turntable_and_of_a_negative_offset():
    """K3: a turntable's arm is half the track; a wheel inside its axis has negative arms; left and right alike."""
    for wheel in turntable_axle(0.8, 0.25, radians(5), 0.0):
        assert levers(wheel) == pytest.approx((0.4, 0.4), rel=1e-12, abs=0)
    for wheel in stub_axles(0.70, 0.74, 0.2, 0.0, 0.0):
        assert levers(wheel) == pytest.approx((-0.02, -0.02), rel=1e-12, abs=0)


def test_caster_trail_gives_the_side_force_its_arm():
    """K2: caster trail n = r tan(caster), 10 degrees at r 0.25 m: 44.082 mm; about the axis times its cosine."""
    wheel = stub_axles(0.8, 0.8, 0.25, 0.0, radians(10))[0]
    assert torque_arms(wheel, np.zeros(1)).side[0] == pytest.approx(-0.25 * tan(radians(10)) * cos(radians(10)), rel=1e-12, abs=0)
    assert 1e3 * 0.25 * tan(radians(10)) == pytest.approx(44.082, rel=0, abs=0.0005)


@pytest.mark.outside(
    "", what="Blow of a step on a wheel with and without mass in its rim", source="momentum of 361 points, summed in vectors", how="second",
    within="1e-12 relative",
)  # fmt: skip
@pytest.mark.parametrize("wheel_mass", [0.0, 2.0, 40.0])
def test_impulse_is_what_the_edge_takes(wheel_mass):
    """Momentum before and after a plastic meeting with the edge, summed in vectors over a rim of points and the hub's own mass."""
    radius, height, speed, mass = 0.25, 0.02, 3.0, 40.0
    hub, edge = np.array([0.0, radius]), np.array([sqrt(2 * radius * height - height**2), height])
    around = np.linspace(0.0, 2 * np.pi, 360, endpoint=False)
    places = np.vstack([hub + radius * np.column_stack([np.cos(around), np.sin(around)]), hub])
    masses = np.array([*[wheel_mass / 360] * 360, mass - wheel_mass])

    def turning(about, rate):
        """Velocities of the points of a wheel that turns forwards about a point."""
        off = places - about
        return rate * np.column_stack([off[:, 1], -off[:, 0]])

    def moment(velocity):
        off = places - edge
        return (masses * (off[:, 1] * velocity[:, 0] - off[:, 0] * velocity[:, 1])).sum()

    before = turning(np.zeros(2), speed / radius)  # rolling: about the point on the road
    after = turning(edge, moment(before) / moment(turning(edge, 1.0)))
    taken = (masses * (before - after)[:, 0]).sum()
    assert step_impulse(mass * 9.81, radius, height, speed, wheel_mass / mass) == pytest.approx(taken, rel=1e-12, abs=0)
    assert speed_kept(radius, height, wheel_mass / mass) == pytest.approx(np.hypot(*after[-1]) / speed, rel=1e-12, abs=0)


def test_blow_of_any_lawful_step():
    """300 drawn wheels: some of the speed is kept, none is gained, and a rim that spins over the edge lessens the blow."""
    draw = np.random.default_rng(11)
    for radius, share, speed in draw.uniform([0.05, 1e-4, 0.1], [0.5, 0.999, 15.0], (300, 3)):
        height = share * radius
        blows = [step_impulse(300.0, radius, height, speed, spin) for spin in (0.0, 0.3, 1.0)]
        assert 300.0 / 9.81 * speed > blows[0] > blows[1] > blows[2] > 0
        assert 0 < speed_kept(radius, height, 0.0) < speed_kept(radius, height, 1.0) < 1


@pytest.mark.parametrize("height", [0.001, 0.004])
def test_climbing_a_step_slowly_takes_the_work_of_the_lift(built, height):
    """The work W h of the lift is the hub's force over its way, so at a speed the climb's impulse is W h / v, to h / r for small steps."""
    steering = built("standard", linkage="ideal")[2]
    for speed in (0.5, 2.0):
        met = step_impulse(300.0, 0.203, height, speed, HANDS.wheel_mass * 9.81 / 300.0)
        climb = kick(steering, 1.0, HANDS, 300.0, height, speed, 1.5, 0.68).impulse - met
        assert climb == pytest.approx(300.0 * height / speed, rel=height / 0.203, abs=0)


def test_washer_arm_limits():
    """A thin ring rubs at its mean radius by either law; a full disc at 2/3 (new) and 1/2 (worn) of its radius (textbook)."""
    for worn in (False, True):
        assert washer_arm(0.0999999, 0.1, worn) == pytest.approx(0.05, rel=1e-5, abs=0)
    assert washer_arm(0.0, 0.1, False) == pytest.approx(0.05 * 2 / 3, rel=1e-12, abs=0)
    assert washer_arm(0.0, 0.1, True) == pytest.approx(0.05 / 2, rel=1e-12, abs=0)
    # By integrating pressure over rings: constant pressure, and pressure ~ 1/r.
    r = np.linspace(0.0085, 0.017, 200_001)
    new = np.trapezoid(r**2, r) / np.trapezoid(r, r)
    worn = np.trapezoid(r, r) / np.trapezoid(np.ones_like(r), r)
    assert washer_arm(0.017, 0.034, False) == pytest.approx(new, rel=1e-9, abs=0)
    assert washer_arm(0.017, 0.034, True) == pytest.approx(worn, rel=1e-9, abs=0)


def test_aligning_torque_upright():
    """Upright kingpins and equal rates: the hands hold the sum of the aligning torques, turned round."""
    from sim.scenario.car import CarTable

    car = CarTable(mass_kg=145.0, wheelbase_mm=1500.0, front_track_mm=900.0, rear_track_mm=860.0, kingpin_track_mm=740.0,
                   mass_centre_behind_front_axle_mm=820.0, mass_centre_height_mm=330.0, yaw_inertia_kg_m2=38.0, wheel_radius_mm=203.0,
                   drive="differential")  # fmt: skip
    parallel = build_steering(ideal_setup().model_copy(update={"linkage": "parallel"}), car, "x", "setup[0]")
    held = hand_torque(parallel, np.array([0.2]), NOTHING, NOTHING, NOTHING, np.array([[-1.5, -2.5]]))
    assert held.total[0] == pytest.approx(4.0, rel=1e-8, abs=0)
    # Rolling drag pulls both wheels back on equal arms: left and right cancel.
    drag = hand_torque(parallel, np.array([0.0]), NOTHING, NOTHING, np.array([[-3.0, -3.0]]), NOTHING)
    assert drag.total[0] == pytest.approx(0.0, rel=0, abs=1e-9)


def test_mirror(built):
    """A left turn mirrored is a right turn: every torque changes its sign, friction does not."""
    steering = built("standard", **LEANING)[2]
    load, side, rolling = np.array([[250.0, 400.0]]), np.array([[90.0, 130.0]]), np.array([[-2.0, -3.2]])
    one = hand_torque(steering, np.array([0.4]), load, side, rolling, -0.015 * side, 0.01)
    other = hand_torque(steering, np.array([-0.4]), load[:, ::-1], -side[:, ::-1], rolling[:, ::-1], 0.015 * side[:, ::-1], 0.01)
    for name in ("side", "aligning", "rolling", "weight", "total"):
        assert getattr(other, name)[0] == pytest.approx(-getattr(one, name)[0], rel=1e-7, abs=1e-9)
    assert other.friction[0] == pytest.approx(one.friction[0], rel=1e-8, abs=0)


def test_kick_of_a_loose_heavy_steering_is_its_impulse(built):
    """Without spring and damper the steering keeps the rate impulse x arm / inertia: the angle after the second follows."""
    steering = built("standard", linkage="ideal")[2]
    loose = HandModel(stiffness=0.0, damping=0.0, inertia=500.0, wheel_mass=2.0)
    kicked = kick(steering, 1.0, loose, 300.0, 0.01, 5.0, 1.5, 0.68)
    arm = levers(steering.wheels[0]).hub * swing_rates(steering, np.zeros(1))[0, 0]
    rate = kicked.impulse * arm / steering_inertia(steering, loose)
    climb = sqrt(2 * 0.203 * 0.01 - 0.01**2) / 5.0
    # Half a sine's impulse acts, on the mean, in its middle.
    assert abs(kicked.peak_hand) == pytest.approx(rate * (1 - climb / 2), rel=1e-5, abs=0)


def test_a_loose_steering_leads_a_rolling_bicycle_off_the_line(built):
    """A steer that grows evenly, d = w t: heading v w t^2 / (2 l), and the mass centre v w (v t^3 / 6 + b t^2 / 2) / l off (bicycle)."""
    steering = built("standard", linkage="ideal")[2]
    kicked = kick(steering, 1.0, HandModel(stiffness=0.0, damping=0.0, inertia=500.0, wheel_mass=2.0), 300.0, 0.01, 5.0, 1.5, 0.68)
    since = 1 - sqrt(2 * 0.203 * 0.01 - 0.01**2) / 5.0 / 2  # the middle of the climb, in which the kick acts on the mean
    rate = kicked.peak_steer / since
    assert kicked.off_line == pytest.approx(5.0 * rate * (5.0 * since**3 / 6 + 0.68 * since**2 / 2) / 1.5, rel=1e-3, abs=0)


def test_swinging_inertia_is_that_of_two_rims(built):
    """Point masses all round each rim, by their distance from an upright kingpin (mechanics); with ideal steering both swing alike."""
    steering = built("standard", linkage="ideal")[2]
    around = np.linspace(0.0, 2 * np.pi, 12, endpoint=False)
    expected = 0.05
    for wheel in steering.wheels:
        rim = wheel.centre + wheel.radius * np.stack([np.cos(around), 0 * around, np.sin(around)], axis=1)
        expected += 2.0 * np.mean(((rim - wheel.axis_point)[:, :2] ** 2).sum(axis=1))
    assert steering_inertia(steering, HANDS) == pytest.approx(expected, rel=1e-8, abs=0)


def test_kick_turns_towards_the_wheel_that_met_the_step(steering):
    """A step under the left wheel turns the car to the left, on every pivot whose wheel stands outside its axis."""
    kicked = kick(steering, 1.0, HANDS, 300.0, 0.02, 3.0, 1.5, 0.68)
    assert kicked.peak_hand > 0
    assert kicked.off_line > 0
    gentle = kick(steering, 1.0, HANDS, 300.0, 0.005, 3.0, 1.5, 0.68)
    assert 0 < gentle.peak_hand < kicked.peak_hand
