"""A turn that is found although slower ones are not: a car that oversteers needs the less lock the faster it goes."""

from math import atan, degrees

import numpy as np
import pytest

from sim.car.chassis import GRAVITY, lift_limit
from sim.car.motion import BodyColumn, WheelColumn
from sim.turn.causes import Cause
from sim.turn.steady import steady_turn

RADIUS = 20.0


def test_what_stops_a_slower_car_need_not_stop_this_one(vehicle):
    """Steer l/R + K a/g with K = 1/12 - 1/8 below 0: 4 degrees are too few at a crawl and enough from some 5.5 m/s on.  At 9 m/s the car
    already stands on three wheels, so that its turn is sought on the way from slower ones, which ends at the lock, and from wider ones."""
    car, table = vehicle("K", car={"mass_centre_height_mm": 800.0}, tyre={"friction": 2.0}, linkage="ideal", hand_wheel_limit_deg=4.0)
    car = car._replace(rear_tyre=car.rear_tyre._replace(cornering_stiffness=8.0))
    assert degrees(atan(1.5 / RADIUS)) > 4.0
    crawl = steady_turn(car, table, RADIUS, 1.0)
    assert (crawl.converged, crawl.reason) == (False, Cause.LOCK)
    x, y = np.array([0.8, 0.8, -0.7, -0.7]), np.array([0.4, -0.4, 0.35, -0.35])
    assert lift_limit(x, y, car.mass, car.height)[0] < 9.0**2 / RADIUS
    turn = steady_turn(car, table, RADIUS, 9.0)
    assert (turn.converged, turn.reason, turn.body[BodyColumn.LIFTED]) == (True, Cause.NONE, 1.0)
    assert turn.place[1] < np.radians(4.0)
    # In balance: the wheels carry the car, and nothing is left of the accelerations.
    assert turn.wheels[:, WheelColumn.LOAD].sum() == pytest.approx(car.mass * GRAVITY, rel=1e-12, abs=0)
    assert np.abs(turn.body[[BodyColumn.ACCEL_X, BodyColumn.ACCEL_Y]]).max() < 1e-9
