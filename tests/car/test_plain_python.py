"""Forces of one state, compiled and as plain Python, which raises where compiled code goes on with infinity."""

import json
import os
import subprocess
import sys

import numba
import numpy as np
import pytest

from sim.car.motion import WHEEL_COLUMNS, BodyColumn, WheelColumn

DRAWN = """
import json, sys, warnings
import numba
import numpy as np
from sim.car.chassis import DRIVES, GRAVITY
from sim.car.motion import BODY_COLUMNS, WHEEL_COLUMNS, ForceDemand, Pose, Pull, Velocity, Wind, car_motion
from sim.scenario.car import CarTable

warnings.simplefilter("error")

def drawn_motions(count):
    draws, rows = np.random.default_rng(20261129), []
    for number in range(count):
        some = draws.uniform
        base = some(900, 2500)
        table = CarTable(
            mass_kg=some(60, 300), wheelbase_mm=base, front_track_mm=some(500, 1300), rear_track_mm=some(500, 1300), kingpin_track_mm=400.0,
            mass_centre_behind_front_axle_mm=base * some(0.2, 0.8), mass_centre_height_mm=some(150, 900), yaw_inertia_kg_m2=some(10, 90),
            wheel_radius_mm=203.0, drive=list(DRIVES)[number % len(DRIVES)],
            tyre={"friction": some(0.2, 1.4), "load_sensitivity": some(0, 0.3), "law": ("linear", "brush")[number // 4 % 2],
                  "drive_stiffness_per_unit_slip": some(8, 30), "pneumatic_trail_mm": some(0, 40)},
        )
        car = table.car(1.225)
        speed, across = draws.choice([0.0, some(0, 12)]), draws.choice([0.0, some(-0.3, 0.3), np.pi / 2])
        velocity = Velocity(float(speed * np.cos(across)), float(speed * np.sin(across)), draws.choice([0.0, some(-3, 3)]))
        slips = tuple((some(-1, 1, 4) * draws.choice([0.0, 0.02, 0.2, 1.5])).tolist())
        behind, left, left_rear = car.front_arm - car.wheelbase, 0.5 * car.front_track, 0.5 * car.rear_track
        pose = Pose(
            tuple(some(-0.6, 0.6, 2).tolist()), tuple(some(-1, 1, 2).tolist()), (car.front_arm, car.front_arm, behind, behind),
            (left, -left, left_rear, -left_rear), tuple(some(-0.1, 0.1, 2).tolist()),
        )
        tracking = bool(draws.integers(2))
        wanted = some(-20, 20) if tracking else draws.choice([0.0, 0.1, 1.5]) * some(-1, 1) * car.mass * GRAVITY
        pull, wind = Pull(some(-50, 50), some(-50, 50)), Wind(some(-8, 8), some(-8, 8))
        wheels, body = np.zeros((4, WHEEL_COLUMNS)), np.zeros(BODY_COLUMNS)
        car_motion(car, velocity, slips, pose, pull, wind, ForceDemand(tracking, float(wanted)), some(50, 1500), wheels, body)
        rows.append([*wheels.ravel().tolist(), *body.tolist()])
    return rows
"""
STATES = 1500


@pytest.mark.skipif(bool(numba.config.DISABLE_JIT), reason="nothing is compiled here")
def test_any_state_gives_the_same_compiled_and_as_plain_python():
    """A driven wheel in the air divided by 0, and a solid axle asked one wheel for more than its grip: plain Python stopped there."""
    spaces: dict = {}
    exec(DRAWN, spaces)
    compiled = np.array(spaces["drawn_motions"](STATES))
    script = f"{DRAWN}\nassert numba.config.DISABLE_JIT\njson.dump(drawn_motions({STATES}), sys.stdout)\n"
    done = subprocess.run(
        [sys.executable, "-c", script], env=os.environ | {"NUMBA_DISABLE_JIT": "1"}, capture_output=True, text=True, check=True
    )
    plain = np.array(json.loads(done.stdout))
    np.testing.assert_allclose(plain, compiled, rtol=1e-12, atol=1e-12)
    assert np.isfinite(compiled).all()
    body, wheels = compiled[:, 4 * WHEEL_COLUMNS :], compiled[:, : 4 * WHEEL_COLUMNS].reshape(-1, 4, WHEEL_COLUMNS)
    driven_in_the_air = (wheels[:, 2:, WheelColumn.LOAD] == 0.0).any(axis=1) & (body[:, BodyColumn.DRIVE_FORCE] > 0.0)
    assert driven_in_the_air.sum() > 10
    assert set(np.unique(body[:, BodyColumn.LIFTED])) == {0.0, 1.0, 2.0}
