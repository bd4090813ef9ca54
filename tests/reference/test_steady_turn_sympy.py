"""The car's motion against a second derivation: Kane's method and rigid-body kinematics by SymPy's mechanics, solved by SciPy.

Nothing here reads a formula of `sim.car.motion` or `sim.turn.steady`: wheel velocities and the equations of motion come from
`sympy.physics.mechanics`; the loads are the least-squares loads that balance the car (equal springs are that); the wheel's
pose is taken from the linkage itself, not from the sampled table.
"""

from math import atan, cos, hypot, sin, sqrt

import numpy as np
import pytest
import sympy as sm
import sympy.physics.mechanics as me
from scipy.optimize import root

from sim.car.chassis import DIFFERENTIAL, GRAVITY, ONE_WHEEL_LEFT, ONE_WHEEL_RIGHT, SOLID_AXLE
from sim.car.motion import BODY_COLUMNS, WHEEL_COLUMNS, BodyColumn, ForceDemand, Pose, Pull, Velocity, WheelColumn, Wind, car_motion
from sim.turn.steady import steady_turn

AGREE = 1e-8  # relative; both solvers stop near 1e-12, the sampled pose of the wheels is good to about 1e-11 rad
PIVOTS = {
    "ideal": {"linkage": "ideal"},
    "parallel": {"linkage": "parallel"},
    "cross rod with toe": {"linkage": "cross rod", "toe_in_deg": 0.7, "arm_length_mm": 110.0, "arm_angle_deg": 13.9},
    "turntable": {"pivot": "turntable"},
}


@pytest.fixture(scope="module")
def mechanics():
    """Kane's equations of a rigid car on four wheels and the velocities of its contact points, as numeric functions."""
    q, u = me.dynamicsymbols("q:3"), me.dynamicsymbols("u:3")
    mass, inertia, air = sm.symbols("mass inertia air")
    x, y, steer, ahead, left, twist = (sm.symbols(f"{name}:4") for name in ("x", "y", "steer", "ahead", "left", "twist"))
    ground, origin = me.ReferenceFrame("G"), me.Point("O")
    origin.set_vel(ground, 0)
    car = ground.orientnew("B", "Axis", (q[2], ground.z))
    car.set_ang_vel(ground, u[2] * ground.z)
    centre = origin.locatenew("C", q[0] * ground.x + q[1] * ground.y)
    velocity = u[0] * car.x + u[1] * car.y
    centre.set_vel(ground, velocity)
    body = me.RigidBody("car", centre, car, mass, (me.inertia(car, 0, 0, inertia), centre))
    loads = [(centre, -air * sm.sqrt(u[0] ** 2 + u[1] ** 2) * velocity)]
    seen = []
    for i in range(4):
        wheel = car.orientnew(f"W{i}", "Axis", (steer[i], car.z))
        contact = centre.locatenew(f"P{i}", x[i] * car.x + y[i] * car.y)
        moves = contact.v2pt_theory(centre, ground, car)
        seen += [moves.dot(wheel.x), moves.dot(wheel.y)]
        loads += [(contact, ahead[i] * wheel.x + left[i] * wheel.y), (car, twist[i] * car.z)]
    speeds = [u[0] * sm.cos(q[2]) - u[1] * sm.sin(q[2]), u[0] * sm.sin(q[2]) + u[1] * sm.cos(q[2]), u[2]]
    kane = me.KanesMethod(ground, q, u, kd_eqs=[q[i].diff() - speeds[i] for i in range(3)])
    kane.kanes_equations([body], loads)
    rates = kane.mass_matrix.LUsolve(kane.forcing)
    plain = dict(zip(u, sm.symbols("vx vy r"), strict=True))
    moving = [plain[one] for one in u]
    accelerations = sm.lambdify(
        [*moving, mass, inertia, air, x, y, steer, ahead, left, twist], [sm.simplify(one).subs(plain) for one in rates]
    )
    contact_speeds = sm.lambdify([*moving, x, y, steer], [one.subs(plain) for one in seen])
    return accelerations, contact_speeds


def spring_loads(car, x, y, forward, left):
    """Loads of four equal springs: of all loads in balance those with the least sum of squares."""
    matrix = np.array([np.ones(4), x, y])
    wanted = np.array([car.mass * GRAVITY, -forward * car.height, -left * car.height])
    return np.linalg.lstsq(matrix, wanted, rcond=None)[0]


def wheel_forces(car, loads, slips, cambers, force, speeds, axle):
    """Forces (along, across) of each wheel by the law in words: linear, then kept on the circle of friction."""
    along, across = np.zeros(4), np.zeros(4)
    for i in range(4):
        tyre = car.front_tyre if i < 2 else car.rear_tyre
        share = loads[i] / (car.mass * GRAVITY / 4)
        stiffness = tyre.cornering_stiffness * loads[i] * (1 - tyre.load_sensitivity * (share - 1))
        side, grip = stiffness * slips[i] + tyre.camber_stiffness * loads[i] * cambers[i], tyre.friction * loads[i]
        driven = {ONE_WHEEL_LEFT: i == 2, ONE_WHEEL_RIGHT: i == 3, DIFFERENTIAL: i >= 2, SOLID_AXLE: False}[car.drive]
        if car.drive == SOLID_AXLE and i >= 2:
            pull = tyre.drive_stiffness * loads[i] * (axle / speeds[i] - 1)
            inside = min(1.0, grip / hypot(pull, side))
            along[i], across[i] = pull * inside, side * inside
        else:
            along[i] = (force / 2 if car.drive == DIFFERENTIAL else force) if driven else 0.0
            most = sqrt(max(grip**2 - along[i] ** 2, 0.0))
            across[i] = min(max(side, -most), most)
    return along, across


def solve(mechanics, car, steering, radius, speeds):
    """Sideslip, hand angle, drive force and (solid axle) peripheral speed, by SciPy's root finder.

    The search starts as a rolling car would turn; of several speeds each turn is the start of the next.
    """
    accelerations, contact_speeds = mechanics

    def state(unknown, speed):
        sideslip, hand, force, axle = unknown
        vx, vy, r = speed * cos(sideslip), speed * sin(sideslip), speed / radius
        pose = steering.front_wheels(np.array([hand]))
        steers = np.array([*pose.steer[0], 0, 0])
        x = np.array([*(car.front_arm + pose.x[0]), *[car.front_arm - car.wheelbase] * 2])
        y = np.array([*pose.y[0], car.rear_track / 2, -car.rear_track / 2])
        seen = np.reshape(contact_speeds(vx, vy, r, x, y, steers), (4, 2))
        slips = -seen[:, 1] / np.abs(seen[:, 0])
        loads = spring_loads(car, x, y, -car.mass * r * vy, car.mass * r * vx)
        along, across = wheel_forces(car, loads, slips, [*pose.camber[0], 0, 0], force * 1000, seen[:, 0], axle * speed)
        trail = np.array([car.front_tyre.pneumatic_trail] * 2 + [car.rear_tyre.pneumatic_trail] * 2)
        coefficient = np.array([car.front_tyre.rolling_resistance] * 2 + [car.rear_tyre.rolling_resistance] * 2)
        air = car.air_density * car.drag_area / 2
        rates = accelerations(vx, vy, r, car.mass, car.yaw_inertia, air, x, y, steers, along - coefficient * loads, across, -trail * across)
        last = along[2:].sum() / 1000 - force if car.drive == SOLID_AXLE else axle - 1.0
        return [*rates, last], (steers, slips, loads, along, across)

    place = np.array([0.5 / radius, atan(car.wheelbase / radius), 0.02, 1.0])
    for speed in speeds:
        found = root(lambda unknown, at=speed: state(unknown, at)[0], place, options={"xtol": 1e-15, "maxfev": 4000})
        place = found.x
        rest, wheels = state(place, speed)
        assert np.abs(rest).max() < 1e-10, found.message
    return place, wheels


def agree(mechanics, car, table, steering, radius, speeds):
    """Both ways to the same steady turn at the last speed; returns ours."""
    ours = steady_turn(car, table, radius, speeds[-1])
    assert ours.converged, ours.reason
    (sideslip, hand, force, _), (steers, slips, loads, along, across) = solve(mechanics, car, steering, radius, speeds)
    assert ours.sideslip == pytest.approx(sideslip, rel=AGREE, abs=1e-11)
    assert ours.hand == pytest.approx(hand, rel=AGREE, abs=1e-11)
    assert ours.drive_force == pytest.approx(force * 1000, rel=AGREE, abs=1e-8)
    np.testing.assert_allclose(ours.steers, steers, rtol=AGREE, atol=1e-11)
    np.testing.assert_allclose(ours.slips, slips, rtol=AGREE, atol=1e-10)
    np.testing.assert_allclose(ours.wheels[:, WheelColumn.LOAD], loads, rtol=AGREE, atol=1e-8)
    np.testing.assert_allclose(ours.wheels[:, WheelColumn.LATERAL], across, rtol=AGREE, atol=1e-7)
    np.testing.assert_allclose(ours.wheels[:, WheelColumn.LONGITUDINAL], along, rtol=AGREE, atol=1e-7)
    return ours


@pytest.mark.slow
@pytest.mark.outside(
    "", what="Steady turns of four set-ups and four drives", source="Kane's equations by SymPy, root by SciPy", how="second",
    within="1e-8 relative in each slip, load and force",
)  # fmt: skip
@pytest.mark.parametrize("keys", PIVOTS.values(), ids=list(PIVOTS))
@pytest.mark.parametrize("drive", ["one wheel left", "one wheel right", "differential", "solid axle"])
def test_steady_turn_by_kanes_method(mechanics, built, keys, drive):
    car, table, steering = built("standard", car={"drive": drive}, tyre={"load_sensitivity": 0.1}, **keys)
    for radius, speed in [(8.0, 4.5), (-5.0, 2.0), (-25.0, 8.0), (3.2, 1.0)]:
        agree(mechanics, car, table, steering, radius, [speed])


@pytest.mark.slow
@pytest.mark.outside(
    "", what="Steady turn with leaning kingpins, camber and a solid axle", source="Kane's equations by SymPy, root by SciPy", how="second",
    within="1e-8 relative",
)  # fmt: skip
@pytest.mark.parametrize("sign", [1, -1])
def test_steady_turn_with_leaning_kingpins_and_unlike_tyres(mechanics, built, sign):
    car, table, steering = built(
        "K", car={"drive": "solid axle", "rear_tyre": {"cornering_stiffness_per_rad": 9.0, "pneumatic_trail_mm": 25.0}},
        tyre={"camber_stiffness_per_rad": 0.8, "load_sensitivity": 0.2}, linkage="cross rod", kingpin_inclination_deg=9.0,
        caster_deg=7.0, arm_length_mm=110.0, arm_angle_deg=20.0,
    )  # fmt: skip
    agree(mechanics, car, table, steering, sign * 8.0, [5.0])


@pytest.mark.slow
@pytest.mark.outside(
    "", what="Steady turns in which a wheel slides", source="Kane's equations by SymPy, root by SciPy", how="second",
    within="1e-8 relative",
)  # fmt: skip
@pytest.mark.parametrize(
    ("drive", "radius", "fastest"), [("one wheel left", 3.5, 3.3), ("differential", 3.5, 3.3), ("solid axle", 10.0, 7.0)]
)
def test_steady_turn_with_a_wheel_that_slides(mechanics, built, drive, radius, fastest):
    # A parallel linkage on a wet road: the outer front wheel is at the end of its grip, others are not.
    car, table, steering = built("standard", car={"drive": drive}, tyre={"friction": 0.65}, linkage="parallel")
    ours = agree(mechanics, car, table, steering, radius, np.linspace(0.1, 1, 16) * fastest)
    lateral, along, load = (ours.wheels[:, column] for column in (WheelColumn.LATERAL, WheelColumn.LONGITUDINAL, WheelColumn.LOAD))
    used = np.hypot(lateral, along) / (0.65 * load)
    assert used.max() == pytest.approx(1.0, rel=1e-12, abs=0)
    assert used.min() < 0.97


@pytest.mark.slow
@pytest.mark.outside(
    "", what="Accelerations and slip rates of 200 drawn states", source="Kane's equations by SymPy", how="second", within="1e-12 relative",
)  # fmt: skip
def test_accelerations_are_kanes_in_any_state(mechanics, vehicle):
    accelerations, contact_speeds = mechanics
    random = np.random.default_rng(20)
    for _ in range(200):
        car, _ = vehicle("standard", car={"drive": str(random.choice(["differential", "solid axle", "one wheel left"]))})
        vx, vy, r = random.uniform(1, 9), random.uniform(-1, 1), random.uniform(-1, 1)
        slips, steers = random.uniform(-0.15, 0.15, 4), np.array([*random.uniform(-0.5, 0.5, 2), 0, 0])
        x, y = np.array([0.8, 0.85, -0.7, -0.7]), np.array([0.45, -0.4, 0.43, -0.43])
        wheels, body = np.zeros((4, WHEEL_COLUMNS)), np.zeros(BODY_COLUMNS)
        force = random.uniform(-200, 200)
        pose = Pose(tuple(steers[:2]), (0.0, 0.0), tuple(x), tuple(y), (0.0, 0.0))
        demand = ForceDemand(False, force)
        car_motion(car, Velocity(vx, vy, r), tuple(slips), pose, Pull(0.0, 0.0), Wind(0.0, 0.0), demand, 0.0, wheels, body)
        seen = np.reshape(contact_speeds(vx, vy, r, x, y, steers), (4, 2))
        along = wheels[:, WheelColumn.LONGITUDINAL] - car.front_tyre.rolling_resistance * wheels[:, WheelColumn.LOAD] * np.sign(seen[:, 0])
        expected = accelerations(
            vx, vy, r, car.mass, car.yaw_inertia, car.air_density * car.drag_area / 2, x, y, steers, along,
            wheels[:, WheelColumn.LATERAL], -car.front_tyre.pneumatic_trail * wheels[:, WheelColumn.LATERAL],
        )  # fmt: skip
        np.testing.assert_allclose(body[[BodyColumn.ACCEL_X, BodyColumn.ACCEL_Y, BodyColumn.ACCEL_YAW]], expected, rtol=1e-12, atol=1e-12)
        # The rate of slip is s da/dt = -v_y - |v_x| a; a wheel's peripheral speed is that of its forward speed and slip.
        growing = -seen[:, 1] - np.abs(seen[:, 0]) * slips
        np.testing.assert_allclose(0.12 * wheels[:, WheelColumn.SLIP_RATE], growing, rtol=1e-12, atol=1e-13)
        np.testing.assert_allclose(
            wheels[:, WheelColumn.PERIPHERAL], seen[:, 0] + wheels[:, WheelColumn.DRIVE_SLIP] * np.abs(seen[:, 0]), rtol=1e-12, atol=1e-12
        )
