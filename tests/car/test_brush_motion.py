"""The brush in a moving car: every wheel's forces, moment and losses from its own slips are those of bristles, summed one by one."""

import numpy as np
import pytest

from sim.car.chassis import DIFFERENTIAL, ONE_WHEEL_LEFT, ONE_WHEEL_RIGHT, SOLID_AXLE, with_law
from sim.car.motion import BODY_COLUMNS, WHEEL_COLUMNS, BodyColumn, ForceDemand, Pose, Pull, Velocity, WheelColumn, Wind, car_motion
from sim.car.tyre import BRUSH

X, Y = np.array([0.82, 0.82, -0.68, -0.68]), np.array([0.45, -0.45, 0.43, -0.43])
STEERS, SPEED, YAW = (0.14, 0.12), 4.0, 0.35
BRISTLES = 4000


def bristles(load, along, across, friction, trail):
    """(force along, force across, moment) of a contact whose bristles would give `along` and `across` if they all held [N], [N m]."""
    z = (np.arange(BRISTLES) + 0.5) * 2 / BRISTLES  # from the front, in half contact lengths
    asked = np.hypot(along, across) * z / 2
    held = np.minimum(asked, 0.75 * friction * load * z * (2 - z)) * 2 / BRISTLES
    way = np.array([along, across]) / max(np.hypot(along, across), 1e-30)
    return *(held.sum() * way), -(held * (z - 1)).sum() * way[1] * 3 * trail


# Gripping, sliding at one end, and with all the drive that there is.
@pytest.mark.parametrize(
    "slips", [(0.02, 0.03, 0.025, 0.035), (0.5, 0.45, 0.02, 0.02), (0.03, 0.02, -0.04, 0.3)], ids=["grips", "pushes", "mixed"]
)
@pytest.mark.parametrize(
    ("drive", "force"),
    [(drive, force) for drive in (ONE_WHEEL_LEFT, ONE_WHEEL_RIGHT, DIFFERENTIAL) for force in (60.0, -150.0, 2000.0)]
    + [(SOLID_AXLE, 60.0), (SOLID_AXLE, -150.0), (SOLID_AXLE, 300.0)],
)
def test_each_wheel_stands_on_bristles(vehicle, slips, drive, force):
    car = with_law(vehicle("standard")[0], BRUSH)._replace(drive=drive)
    front = car.front_tyre._replace(cornering_stiffness=14.0, drive_stiffness=18.0)
    rear = car.rear_tyre._replace(cornering_stiffness=9.0, drive_stiffness=12.0, friction=0.7, pneumatic_trail=0.022)
    car = car._replace(front_tyre=front, rear_tyre=rear)
    wheels, body = np.zeros((4, WHEEL_COLUMNS)), np.zeros(BODY_COLUMNS)
    pose = Pose(STEERS, (0.0, 0.0), tuple(X.tolist()), tuple(Y.tolist()), (0.0, 0.0))
    demand = ForceDemand(False, force)
    car_motion(car, Velocity(SPEED, 0.1, YAW), slips, pose, Pull(0.0, 0.0), Wind(0.0, 0.0), demand, 0.0, wheels, body)
    ahead, left, steers = SPEED - YAW * Y, 0.1 + YAW * X, np.array([*STEERS, 0.0, 0.0])
    forward = ahead * np.cos(steers) + left * np.sin(steers)
    for i, tyre in enumerate((front, front, rear, rear)):
        load, slip = wheels[i, WheelColumn.LOAD], wheels[i, WheelColumn.DRIVE_SLIP]
        bent = tyre.drive_stiffness * load * slip, tyre.cornering_stiffness * load * slips[i]
        along, across, moment = bristles(load, *bent, tyre.friction, tyre.pneumatic_trail)
        # Three passes leave up to 0.5 N open on a solid axle, nothing to speak of elsewhere.
        open_ = 0.5 if drive == SOLID_AXLE else 0.01
        assert wheels[i, WheelColumn.LONGITUDINAL] == pytest.approx(along, rel=1e-4, abs=open_)
        assert wheels[i, WheelColumn.LATERAL] == pytest.approx(across, rel=1e-4, abs=open_)
        assert wheels[i, WheelColumn.ALIGNING] == pytest.approx(moment, rel=1e-3, abs=0.1 * open_)
        assert wheels[i, WheelColumn.PERIPHERAL] == pytest.approx((1 + slip) * forward[i], rel=1e-9, abs=0)
    spin = wheels[:, WheelColumn.PERIPHERAL]
    if drive == SOLID_AXLE:
        assert spin[2] == pytest.approx(spin[3], rel=1e-9, abs=0)
    if force > 0:
        assert body[BodyColumn.DRIVE_FORCE] <= force * (1 + 1e-9)
        assert wheels[:, WheelColumn.LONGITUDINAL].sum() == pytest.approx(body[BodyColumn.DRIVE_FORCE], rel=1e-6, abs=1e-3)
        if force < 100:
            assert body[BodyColumn.DRIVE_FORCE] == pytest.approx(force, rel=1e-9, abs=0)
    else:
        assert wheels[:, WheelColumn.LONGITUDINAL].sum() <= 0


@pytest.mark.parametrize("slips", [(0.02, 0.03, 0.025, 0.035), (0.35, 0.3, 0.02, 0.02)], ids=["grips", "pushes"])
@pytest.mark.parametrize("wanted", [0.3, -0.8])
def test_the_driver_knows_what_side_forces_take(vehicle, slips, wanted):
    """Steered front wheels pull back; the drive makes up for it, so that the speed changes as wanted: d|v|/dt by Newton's law."""
    car = with_law(vehicle("standard")[0], BRUSH)._replace(drive=DIFFERENTIAL)
    wheels, body = np.zeros((4, WHEEL_COLUMNS)), np.zeros(BODY_COLUMNS)
    pose = Pose((0.3, 0.2), (0.0, 0.0), tuple(X.tolist()), tuple(Y.tolist()), (0.0, 0.0))
    demand = ForceDemand(True, wanted)
    car_motion(car, Velocity(SPEED, 0.0, 0.0), slips, pose, Pull(0.0, 0.0), Wind(0.0, 0.0), demand, 5000.0, wheels, body)
    assert body[BodyColumn.ACCEL_X] == pytest.approx(wanted, rel=2e-3, abs=0)
