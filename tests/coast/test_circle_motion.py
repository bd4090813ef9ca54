"""How a car coasts round a circle, against SciPy's integrator."""

import numpy as np
from scipy.integrate import solve_ivp

from sim.coast.circle import GRID
from sim.coast.circle_motion import Circling, coast_round

CAR = Circling(
    effective_mass=152.0, rolling=11.5, air=0.14, aligning=2.3, trail=0.016, relaxation=0.12, uneven=0.0005, reference=4.0, most=40.0
)  # fmt: skip
SECONDS = 15.0
NEAR = 1e-7  # of the steps, as `GRID` promises [m/s]


def rate(_, speed, steady, side, trail):
    """m_e dv/dt = -(A + F_0 + (B + n m / R^2) v^2 + F_4 (v / v_ref)^4 (1 + u v^2) / (1 + u v_ref^2)), as the notes of `fit_circle` say."""
    costs = side * (speed / CAR.reference) ** 4 / (1 + CAR.uneven * CAR.reference**2)
    force = CAR.rolling + steady + (CAR.air + (CAR.trail + trail) * CAR.aligning) * speed**2 + costs * (1 + CAR.uneven * speed**2)
    return -force / (CAR.effective_mass + 2 * CAR.relaxation * costs / speed**2)


def test_speeds_are_those_of_an_integrator():
    """Source: SciPy's solve_ivp (DOP853, to 1e-12), with the formula typed beside the test."""
    several = np.array([[0.0, 0.0, 0.0, 0.0, 6.0, 4.0], [4.0, 14.0, 0.004, 0.0, 7.0, 3.0], [-2.0, 25.0, -0.006, 0.0, 5.0, 3.5]])
    nodes = SECONDS * (np.arange(GRID + 1) / GRID) ** 2
    steps = np.column_stack([np.diff(nodes)] * 2)
    speeds, rates = np.empty((2, GRID + 1, len(several), 2))
    coast_round(CAR, several, steps, speeds, rates)
    for i, (steady, side, trail, _, *begin) in enumerate(several):
        for j, start in enumerate(begin):
            keys = {"args": (steady, side, trail), "t_eval": nodes, "method": "DOP853", "rtol": 1e-12, "atol": 1e-12}
            true = solve_ivp(rate, (0.0, SECONDS), [start], **keys).y[0]
            assert true[-1] > 0.5  # what follows is about a rolling car
            np.testing.assert_allclose(speeds[:, i, j], true, rtol=0, atol=NEAR)
            np.testing.assert_allclose(rates[:, i, j], rate(0.0, speeds[:, i, j], steady, side, trail), rtol=1e-12, atol=0)


def test_no_parameters_let_it_run_away():
    """A search's first steps may ask for a push instead of a drag, or for a car that is long at rest."""
    several = np.array([[-5e3, -5e4, 0.0, 0.0, 6.0], [5e3, 5e4, 0.1, 0.0, 6.0]])
    speeds, rates = np.empty((2, GRID + 1, 2, 1))
    coast_round(CAR, several, np.full((GRID, 1), SECONDS / GRID), speeds, rates)
    assert np.isfinite(speeds).all()
    assert np.isfinite(rates).all()
