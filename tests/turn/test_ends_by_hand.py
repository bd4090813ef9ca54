"""Where turns end and where a held hand wheel leads, against statics and a root finder."""

from math import sqrt
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.optimize import brentq

from sim.car.chassis import lift_limit, tip_limit
from sim.steering.cells import steer_cells_of
from sim.turn.held import _by_halving
from sim.turn.maps import edge
from sim.turn.steady import steady_turn


def test_turns_that_grip_end_where_a_wheel_lifts_and_all_where_the_car_tips(vehicle):
    car, table = vehicle("K", car={"mass_centre_height_mm": 800.0, "drive": "one wheel right"}, tyre={"friction": 2.0}, linkage="ideal")
    x, y = np.array([0.8, 0.8, -0.7, -0.7]), np.array([0.4, -0.4, 0.35, -0.35])
    lifts, tips = sqrt(lift_limit(x, y, car.mass, car.height)[0] * 40.0), sqrt(tip_limit(x, y, car.height) * 40.0)
    assert tips > 1.05 * lifts
    low = 0.98 * lifts
    place = steady_turn(car, table, 40.0, low).place
    with np.errstate(divide="ignore", invalid="ignore"):  # at a wheel in the air, of which compiled kernels say nothing either
        ends = [edge(car, steer_cells_of(table), 1 / 40.0, low, 1.05 * tips, place, grips) for grips in (True, False)]
    # Steered wheels stand a little elsewhere, and drag tilts the car a little.
    assert ends == [pytest.approx(lifts, rel=5e-3, abs=0), pytest.approx(tips, rel=5e-3, abs=0)]


@pytest.mark.parametrize("hand", [0.05, 0.9, -0.4])
def test_halving_finds_where_the_hand_wheel_stands_so(hand):
    """With turns whose hand angle is 2 c + 5 c^3, found by Brent's method."""

    def at(curvature):
        return SimpleNamespace(converged=True, hand=2 * curvature + 5 * curvature**3)

    found = _by_halving(at, 0.6, hand)
    assert found.curvature == pytest.approx(brentq(lambda c: at(c).hand - hand, -1.0, 1.0, xtol=1e-14), rel=0, abs=1e-6)
    assert found.turn.hand == pytest.approx(hand, rel=0, abs=1e-6)
