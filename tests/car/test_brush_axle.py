"""A solid axle on brush tyres: what three passes over the loads find is the spin speed that a bracketing root search finds."""

from math import hypot

import pytest
from scipy.optimize import brentq

from sim.car.brush_traction import NO_GRIP, QUICK_AXLE_MISS, QUICK_MISS, axle_speed_quickly, share_brush
from sim.car.chassis import DRIVES, ONE_WHEEL_LEFT, ONE_WHEEL_RIGHT, SOLID_AXLE, with_law
from sim.car.traction import ALL, BETWEEN, COMMON, FIRST, LAST, NONE, LoadPass
from sim.car.tyre import BRUSH

RATES = (3.2, 2.9)  # normalised slip along by the slip's speed [s/m]


@pytest.mark.parametrize("wanted", [90.0, -60.0, 0.0])
@pytest.mark.parametrize("full", [(900.0, 1100.0), (NO_GRIP, 1500.0)], ids=["both stand", "one in the air"])
@pytest.mark.parametrize("across", [(0.0, 0.0), (0.12, -0.05), (0.25, 0.2)])
def test_three_passes_find_the_spin_speed_of_a_gripping_axle(wanted, full, across):
    speed = 4.0, 4.12

    def lacking(spin):
        """Force of both wheels by the textbook's law, 1 - (1 - x)^3 of the grip along the way in which they slip, less the wanted one."""
        total = -wanted
        for i in range(2):
            along = (spin - speed[i]) * RATES[i]
            sliding = (along**2 + across[i] ** 2) ** 0.5
            assert sliding < 1.0
            total += full[i] / 3 * (1 - (1 - sliding) ** 3) * along / sliding if sliding > 0 else 0.0
        return total

    spin = 0.0  # read by no pass before the second
    for stage in (FIRST, BETWEEN, LAST):
        spin = axle_speed_quickly(wanted, spin, RATES, speed, full, across, stage)
    exact = brentq(lacking, 3.95, 4.2, xtol=1e-15)
    assert spin == pytest.approx(exact, rel=0, abs=1e-9)
    assert abs(lacking(spin)) <= QUICK_AXLE_MISS * sum(full)


@pytest.mark.parametrize("drive", range(len(DRIVES)), ids=DRIVES)
@pytest.mark.parametrize(("force", "brake"), [(120.0, 0.0), (0.0, -0.12)], ids=["drives", "brakes"])
@pytest.mark.parametrize("cases", [COMMON, ALL], ids=["common", "all"])
def test_three_passes_find_the_slip_of_every_wheel_that_grips(vehicle, drive, force, brake, cases):
    # By the textbook's law each wheel's slips give back its forces, and nothing is left to the slow way.
    car = with_law(vehicle("standard")[0], BRUSH)._replace(drive=drive)
    tyres = [car.front_tyre._replace(drive_stiffness=18.0)] * 2 + [car.rear_tyre._replace(friction=0.8)] * 2
    car = car._replace(front_tyre=tyres[0], rear_tyre=tyres[2])
    loads, speed, across = (330.0, 370.0, 340.0, 380.0), (4.0, 4.06, 4.01, 4.05), (0.1, 0.12, -0.05, 0.14)
    limit = tuple(tyre.friction * load for tyre, load in zip(tyres, loads, strict=True))
    along, sliding = NONE, tuple(map(abs, across))
    for stage in (FIRST, BETWEEN, LAST):
        found = share_brush(car, force, brake, loads, speed, across, limit, LoadPass(stage, along, sliding), cases)
        along, sliding = found.along, found.sliding
    assert not found.rare
    for i, tyre in enumerate(tyres):
        bent = tyre.drive_stiffness * found.slip[i] / (3 * tyre.friction)
        share = hypot(bent, across[i])
        held = limit[i] * (1 - (1 - share) ** 3) / share
        assert found.longitudinal[i] == pytest.approx(held * bent, rel=0, abs=3 * QUICK_MISS * limit[i])
        assert found.lateral[i] == pytest.approx(held * across[i], rel=1e-5, abs=0)
        assert found.twisting[i] == pytest.approx(3 * limit[i] * across[i] * (1 - share) ** 3, rel=1e-5, abs=0)
        assert found.peripheral[i] == pytest.approx(speed[i] * (1 + found.slip[i]), rel=1e-12, abs=0)
    left, right = found.longitudinal[2:]
    if force:
        assert left + right == pytest.approx(force, rel=1e-9, abs=0)
        assert found.longitudinal[:2] == (0.0, 0.0)
    else:
        assert found.longitudinal[:2] == pytest.approx([brake * load for load in loads[:2]], rel=1e-12, abs=0)
        assert left + right == pytest.approx(brake * sum(loads[2:]), rel=1e-9, abs=0)
    if drive == SOLID_AXLE:
        assert found.peripheral[2] == pytest.approx(found.peripheral[3], rel=1e-12, abs=0)
    elif force:
        shares = {ONE_WHEEL_LEFT: (force, 0.0), ONE_WHEEL_RIGHT: (0.0, force)}.get(drive, (force / 2, force / 2))
        assert (left, right) == pytest.approx(shares, rel=1e-12, abs=0)
