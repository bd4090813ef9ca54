"""The car that rolls as well as it can, against forces solved a second time by SciPy, in complex numbers.

Nothing here reads a formula of `sim.turn.rolling`: a wheel's velocity is that of a turn about the turning centre, its force is stiffness
times slip, and three unknowns (the centre's place and the steer) make side force and yaw moment balance at no speed and put the mass
centre on the wanted radius.  The wheels' pose comes from the linkage itself, not from the sampled table.
"""

from cmath import exp
from math import atan

import numpy as np
import pytest
from scipy.optimize import root

from sim.car.chassis import GRAVITY
from sim.turn.rolling import rolling_turn

SETUPS = {
    "parallel": {"linkage": "parallel"},
    "cross rod with toe": {"linkage": "cross rod", "toe_in_deg": 0.7, "arm_length_mm": 110.0, "arm_angle_deg": 13.9},
    "reversed": {"linkage": "fraction", "fraction": -0.5},
}
# Both solvers stop near 1e-12; the sampled pose of the wheels is good to about 1e-11 rad, which a loss feels twice over the slip. [-]
AGREE = 1e-9


def loss_by_forces(car, steering, radius):
    """Slip loss per metre of the mass centre's path [N] and the wheels' slips [rad]; distances from the mass centre, x + i y [m]."""
    rear = car.front_arm - car.wheelbase
    # Loads at rest of four equal springs: the least sum of squares that balances the weight.
    track = np.array([car.front_track, -car.front_track, car.rear_track, -car.rear_track]) / 2

    def wheels(unknown):
        centre, hand = unknown[0] + 1j * unknown[1], unknown[2]
        pose = steering.front_wheels(np.array([hand]))
        steers = [*pose.steer[0], 0.0, 0.0]
        places = [*(car.front_arm + pose.x[0] + 1j * pose.y[0]), rear + 1j * track[2], rear + 1j * track[3]]
        rows = np.array([np.ones(4), np.real(places), np.imag(places)])
        loads = np.linalg.lstsq(rows, np.array([car.mass * GRAVITY, 0.0, 0.0]), rcond=None)[0]
        along = [1j * (place - centre) * np.sign(radius) * exp(-1j * steer) for place, steer in zip(places, steers, strict=True)]
        stiffness = [tyre.cornering_stiffness * load for tyre, load in zip([car.front_tyre] * 2 + [car.rear_tyre] * 2, loads, strict=True)]
        slips = np.array([-one.imag / abs(one.real) for one in along])
        forces = [1j * c * slip * exp(1j * steer) for c, slip, steer in zip(stiffness, slips, steers, strict=True)]
        return centre, places, along, slips, stiffness, forces

    def misses(unknown):
        centre, places, _, _, _, forces = wheels(unknown)
        turning = sum((place.conjugate() * force).imag for place, force in zip(places, forces, strict=True))
        return [sum(forces).imag / car.mass, turning / car.mass, abs(centre) / abs(radius) - 1]

    found = root(misses, [rear, radius, atan(car.wheelbase / radius)], options={"xtol": 1e-15})
    assert np.abs(misses(found.x)).max() < 1e-11, found.message
    centre, _, along, slips, stiffness, _ = wheels(found.x)
    return sum(c * slip**2 * abs(one.real) for c, slip, one in zip(stiffness, slips, along, strict=True)) / abs(centre), slips


@pytest.mark.outside(
    "", what="The rolling car's loss and slips in turns of 3 to 20 m, either way",
    source="balances of force by complex numbers, root by SciPy", how="second", within="1e-9 relative",
)  # fmt: skip
@pytest.mark.parametrize("keys", SETUPS.values(), ids=list(SETUPS))
@pytest.mark.parametrize("radius", [3.0, -3.0, 4.0, 8.0, -20.0])
def test_rolling_turn_by_balances(built, keys, radius):
    car, table, steering = built("standard", **keys)
    ours = rolling_turn(car, table, 1 / radius)
    scrub, slips = loss_by_forces(car, steering, radius)
    assert ours.scrub == pytest.approx(scrub, rel=AGREE, abs=0)
    np.testing.assert_allclose(ours.slips, slips, rtol=AGREE, atol=1e-10)
