"""Splines and roots against SciPy's, which they stand in for, and against functions that they must give back."""

import numpy as np
import pytest
from scipy.interpolate import CubicSpline, PchipInterpolator
from scipy.optimize.elementwise import find_root

from sim.kernels.roots import bracketed_roots
from sim.kernels.splines import monotone_pieces, solve_tridiagonal, spline_pieces, value_at

ROUNDING = 1e-12  # both solve the same systems; only the order of sums may differ from one processor to another


def nodes(random, case):
    """Even, uneven and wildly uneven nodes."""
    many = int(random.integers(4, 300))
    return [np.arange(many) * 0.25, np.cumsum(random.uniform(0.5, 1.5, many)), np.cumsum(10 ** random.uniform(-3, 3, many))][case % 3]


@pytest.mark.parametrize("case", range(60))
def test_against_scipy(case):
    random = np.random.default_rng(case)
    x = nodes(random, case)
    y = random.normal(size=(len(x), 3))
    expected = CubicSpline(x, y).c
    np.testing.assert_allclose(spline_pieces(x, y), expected, rtol=ROUNDING, atol=ROUNDING * np.abs(expected).max())
    ring = np.append(y[:-1, 0], y[0, 0])
    expected = CubicSpline(x, ring, bc_type="periodic").c
    np.testing.assert_allclose(spline_pieces(x, ring, closed=True), expected, rtol=ROUNDING, atol=ROUNDING * np.abs(expected).max())
    # rising; rising and falling with level stretches
    for values in (np.cumsum(np.abs(y[:, 1])), np.round(y[:, 2])):
        smooth = PchipInterpolator(x, values)
        pieces = monotone_pieces(x, values)
        np.testing.assert_allclose(pieces, smooth.c, rtol=ROUNDING, atol=ROUNDING * np.abs(smooth.c).max())
        for place in random.uniform(x[0] - 0.1, x[-1] + 0.1, 5):
            assert value_at(pieces, x, place) == pytest.approx(float(smooth(place)), rel=ROUNDING, abs=ROUNDING)


def test_a_cubic_is_given_back():
    x = np.array([0.0, 0.3, 1.1, 1.5, 2.7])
    pieces = spline_pieces(x, 1 - 2 * x + 3 * x**2 + 0.5 * x**3)
    np.testing.assert_allclose(pieces[0], 0.5, rtol=1e-12)
    np.testing.assert_allclose(pieces[3], 1 - 2 * x[:-1] + 3 * x[:-1] ** 2 + 0.5 * x[:-1] ** 3, rtol=1e-15)
    np.testing.assert_array_equal(monotone_pieces(np.array([0.0, 2.0]), np.array([1.0, 5.0])), [[0.0], [0.0], [2.0], [1.0]])


@pytest.mark.parametrize("case", range(20))
def test_tridiagonal_against_a_full_solution(case):
    """With diagonals so small that rows must change places."""
    random = np.random.default_rng(case)
    many = int(random.integers(2, 40))
    lower, upper = random.normal(size=(2, many - 1))
    diagonal = random.normal(size=many) * 10 ** random.uniform(-3, 1)
    right = random.normal(size=(many, 2))
    full = np.diag(lower, -1) + np.diag(diagonal) + np.diag(upper, 1)
    expected = np.linalg.solve(full, right)
    solve_tridiagonal(lower, diagonal, upper, right)
    np.testing.assert_allclose(right, expected, rtol=1e-9, atol=1e-9 * np.abs(expected).max())  # badly conditioned ones among them


def test_roots_against_scipy():
    random = np.random.default_rng(3)
    targets = random.uniform(-5, 5, 300)
    low, high = random.uniform(-3.1, -3, 300), random.uniform(3, 3.1, 300)

    def function(x, target):
        return x**3 + x + 0.3 * np.sin(3 * x) - target

    limits = {"xatol": 1e-16, "xrtol": 4e-16, "fatol": 0.0, "frtol": 0.0}
    found = bracketed_roots(function, low, high, targets, absolute=1e-16, relative=4e-16)
    np.testing.assert_allclose(found, find_root(function, (low, high), args=(targets,), tolerances=limits).x, rtol=1e-15, atol=1e-15)


def test_roots_that_are_ends_or_are_none():
    targets = np.array([0.0, 1.0, 2.0, np.nan])
    found = bracketed_roots(lambda x, target: x - target, np.zeros(4), np.ones(4), targets, absolute=0.0, relative=1e-15)
    np.testing.assert_array_equal(found, [0.0, 1.0, np.nan, np.nan])
    # a jump is found as the place where the sign changes
    ends = np.array([-1.0]), np.array([2.0])
    found = bracketed_roots(lambda x, target: np.sign(x - target), *ends, np.array([0.3]), absolute=0.0, relative=1e-15)
    assert found[0] == pytest.approx(0.3, rel=1e-14)
