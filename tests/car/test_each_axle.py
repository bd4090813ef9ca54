"""Each axle stands on its own tyres: loads and forces of one state against the laws worked by hand, front and rear tyres unlike."""

import numpy as np
import pytest

from sim.car.chassis import DIFFERENTIAL, ONE_WHEEL_LEFT, ONE_WHEEL_RIGHT, SOLID_AXLE
from sim.car.motion import BODY_COLUMNS, WHEEL_COLUMNS, BodyColumn, ForceDemand, Pose, Pull, Velocity, WheelColumn, Wind, car_motion

X, Y = (0.82, 0.82, -0.68, -0.68), (0.45, -0.45, 0.43, -0.43)


def wheels_of(car, slips, camber=0.0):
    """Wheels of a car that rolls straight ahead at 5 m/s with given slips."""
    wheels, body = np.full((4, WHEEL_COLUMNS), np.nan), np.full(BODY_COLUMNS, np.nan)
    pose = Pose((0.0, 0.0), (0.0, 0.0), X, Y, (camber, camber))
    car_motion(car, Velocity(5.0, 0.0, 0.0), slips, pose, Pull(0.0, 0.0), Wind(0.0, 0.0), ForceDemand(False, 0.0), 0.0, wheels, body)
    return wheels


@pytest.fixture
def unlike(vehicle):
    car = vehicle("standard")[0]
    rear = car.rear_tyre._replace(cornering_stiffness=8.0, friction=0.6, pneumatic_trail=0.025, relaxation_length=0.3)
    return car._replace(drive=DIFFERENTIAL, front_tyre=car.front_tyre._replace(camber_stiffness=0.7), rear_tyre=rear)


def test_each_axle_pulls_by_its_own_stiffness(unlike):
    """F = c N a + c_g N g, each with its own c; only the front wheels lean.  Without load sensitivity F / N is c a whatever N is."""
    wheels = wheels_of(unlike, (0.01, 0.012, 0.02, 0.03), camber=0.05)
    share = wheels[:, WheelColumn.LATERAL] / wheels[:, WheelColumn.LOAD]
    np.testing.assert_allclose(share, [12 * 0.01 + 0.7 * 0.05, 12 * 0.012 + 0.7 * 0.05, 8 * 0.02, 8 * 0.03], rtol=1e-12, atol=0)
    # The force acts the trail behind the middle of the contact and turns the wheel back.
    np.testing.assert_allclose(
        wheels[:, WheelColumn.ALIGNING], -wheels[:, WheelColumn.LATERAL] * [0.015, 0.015, 0.025, 0.025], rtol=1e-12, atol=0
    )
    # s da/dt = -v_y - |v_x| a: a wheel that runs straight ahead loses its slip within its own relaxation length.
    slips = np.array([0.01, 0.012, 0.02, 0.03])
    np.testing.assert_allclose(wheels[:, WheelColumn.SLIP_RATE], -5.0 * slips / [0.12, 0.12, 0.3, 0.3], rtol=1e-12, atol=0)


def test_each_axle_slides_at_its_own_friction(unlike):
    wheels = wheels_of(unlike, (0.3, -0.3, 0.3, -0.3))
    share = wheels[:, WheelColumn.LATERAL] / wheels[:, WheelColumn.LOAD]
    np.testing.assert_allclose(share, [0.9, -0.9, 0.6, -0.6], rtol=1e-12, atol=0)


@pytest.mark.parametrize("slips", [(0.02, 0.03, 0.025, 0.035), (0.5, 0.45, 0.02, 0.02), (0.03, 0.02, -0.04, 0.4)])
@pytest.mark.parametrize("force", [60.0, -150.0, 300.0])
@pytest.mark.parametrize("drive", [ONE_WHEEL_LEFT, ONE_WHEEL_RIGHT, DIFFERENTIAL, SOLID_AXLE])
def test_each_wheels_force_follows_from_its_own_slips(unlike, slips, force, drive):
    """c_x N kappa along and c N a across, both shortened alike to the circle mu N; the tread runs kappa faster than the road below it,
    and what a force times its slip speed takes is lost."""
    car = unlike._replace(drive=drive)
    wheels, body = np.full((4, WHEEL_COLUMNS), np.nan), np.full(BODY_COLUMNS, np.nan)
    steers, yaw = np.array([0.14, 0.12, 0.0, 0.0]), 0.35
    pose, demand = Pose((0.14, 0.12), (0.0, 0.0), X, Y, (0.0, 0.0)), ForceDemand(False, force)
    car_motion(car, Velocity(4.0, 0.1, yaw), slips, pose, Pull(0.0, 0.0), Wind(0.0, 0.0), demand, 0.0, wheels, body)
    forward = (4.0 - yaw * np.array(Y)) * np.cos(steers) + (0.1 + yaw * np.array(X)) * np.sin(steers)
    load, slip = wheels[:, WheelColumn.LOAD], wheels[:, WheelColumn.DRIVE_SLIP]
    along = np.repeat([15.0, 15.0], 2) * load * slip
    across = np.repeat([12.0, 8.0], 2) * load * slips
    shorter = np.minimum(1.0, np.repeat([0.9, 0.6], 2) * load / np.maximum(np.hypot(along, across), 1e-300))
    np.testing.assert_allclose(wheels[:, WheelColumn.LONGITUDINAL], shorter * along, rtol=1e-6, atol=1e-6)
    np.testing.assert_allclose(wheels[:, WheelColumn.LATERAL], shorter * across, rtol=1e-6, atol=1e-6)
    np.testing.assert_allclose(wheels[:, WheelColumn.PERIPHERAL], (1 + slip) * forward, rtol=1e-9, atol=0)
    np.testing.assert_allclose(wheels[:, WheelColumn.LONGITUDINAL_LOSS], shorter * along * slip * forward, rtol=1e-6, atol=1e-6)
    np.testing.assert_allclose(wheels[:, WheelColumn.LATERAL_LOSS], shorter * across * slips * forward, rtol=1e-6, atol=1e-6)
    np.testing.assert_allclose(wheels[:, WheelColumn.RUB_SPEED], np.hypot(slip, slips) * forward, rtol=1e-9, atol=0)
    wanted = max(force, 0.0)
    if body[BodyColumn.DRIVE_FORCE] < 0.999 * wanted:  # no more than 98 % of the grip of what drives
        grip = 0.98 * 0.6 * load[2:]
        most = {ONE_WHEEL_LEFT: grip[0], ONE_WHEEL_RIGHT: grip[1], DIFFERENTIAL: 2 * grip.min(), SOLID_AXLE: grip.sum()}[drive]
        assert body[BodyColumn.DRIVE_FORCE] == pytest.approx(most, rel=1e-6, abs=0)
    else:
        assert body[BodyColumn.DRIVE_FORCE] == pytest.approx(wanted, rel=1e-9, abs=1e-12)
