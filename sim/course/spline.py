"""A smoothing spline of degree 5, open or periodic, with the figures that choose its smoothing."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from scipy.sparse.linalg import SuperLU

DEGREE = 5
SHORTEST_PART = 0.03  # of a step: with less smoothing the ends of an open spline are free and the equations singular
Curve = Callable[[np.ndarray, int], np.ndarray]  # (parameter [m], order of derivative) to values (n, k)


class PenalisedSpline:
    """Smoothing spline of degree 5 with a knot at each point: least weighted squares plus length^6 times the integral
    of the squared third derivative. It passes waves longer than 2 pi length; periodic where closed. The length is
    nowhere less than SHORTEST_PART of the step.

    Source: the classical smoothing spline (from memory); its matrices derived here.
    """

    def __init__(self, parameter: np.ndarray, period: float | None):
        """Prepare the matrices.

        parameter : increasing, one a point, shape (n,) [m]
        period : of a closed line [m], or None
        """
        from scipy.interpolate import BSpline
        from scipy.sparse import csr_matrix, diags, eye

        self.parameter, self.period = parameter, period
        inner = parameter - parameter[0]
        if period is None:
            self.knots = np.concatenate((np.full(DEGREE, inner[0]), inner, np.full(DEGREE, inner[-1])))
            wrap = eye(len(inner) + DEGREE - 1, format="csr")
            step = np.diff(inner)
            weight = 0.5 * (np.append(step, 0.0) + np.insert(step, 0, 0.0))
        else:
            count = len(inner)
            index = np.arange(-DEGREE, count + DEGREE + 1)
            self.knots = inner[index % count] + (index // count) * period
            columns = np.arange(count + DEGREE) % count
            wrap = csr_matrix((np.ones(count + DEGREE), (np.arange(count + DEGREE), columns)))
            step = np.diff(np.append(inner, period))
            weight = 0.5 * (step + np.roll(step, 1))
        self.wrap = wrap
        self.weight = weight / weight.sum() * len(weight)
        self.density = len(weight) / weight.sum()
        basis = BSpline.design_matrix(inner, self.knots, DEGREE) @ wrap
        derivative, knots = wrap, self.knots
        for degree in range(DEGREE, DEGREE - 3, -1):
            width = (knots[degree + 1 : -1] - knots[1 : -degree - 1]) / degree
            inverse = np.where(width > 0.0, 1.0 / np.where(width > 0.0, width, 1.0), 0.0)
            count = len(inverse)
            derivative = diags([-inverse, inverse], [0, 1], shape=(count, count + 1)) @ derivative
            knots = knots[1:-1]
        first, last = self.knots[DEGREE : -DEGREE - 1], self.knots[DEGREE + 1 : -DEGREE]
        abscissa, gauss = np.polynomial.legendre.leggauss(3)
        half = 0.5 * (last - first)
        at = (first + half)[:, None] + half[:, None] * abscissa
        third = BSpline.design_matrix(at.ravel(), knots, DEGREE - 3) @ derivative
        self.third = third
        self.third_weight = self.density * (half[:, None] * gauss).ravel()
        self.shortest_length = np.repeat(SHORTEST_PART * 2.0 * half, len(gauss))
        self.basis = basis
        self.normal = (basis.T @ diags(self.weight) @ basis).tocsc()

    def _factor(self, length: float, gain: float = 1.0) -> SuperLU:
        """Factors of normal + gain penalty, with the smoothing length [m] raised where steps are long."""
        from scipy.sparse import diags
        from scipy.sparse.linalg import splu

        local = np.maximum(length, self.shortest_length) ** 6
        matrix = self.normal + gain * (self.third.T @ diags(self.third_weight * local) @ self.third)
        # symmetric and positive: the natural order fills only the band, and no pivots are needed
        return splu(matrix.tocsc(), permc_spec="NATURAL", diag_pivot_thresh=0.0, options={"SymmetricMode": True})

    def _log_determinant(self, length: float, gain: float) -> float:
        return float(np.sum(np.log(np.abs(self._factor(length, gain).U.diagonal()))))

    def fit(self, values: np.ndarray, length: float) -> np.ndarray:
        """Coefficients of the spline through values.

        values : shape (n, k)
        length : smoothing length [m]
        Returns shape (m, k).
        """
        return self._factor(length).solve(self.basis.T @ (self.weight[:, None] * values))

    def residual(self, values: np.ndarray, coefficients: np.ndarray) -> np.ndarray:
        """Distances of the values from the spline at their parameters, shape (n,).

        values : shape (n, k) [m]
        coefficients : from fit, shape (m, k)
        Returns shape (n,).
        """
        return np.sqrt(np.sum((values - self.basis @ coefficients) ** 2, axis=1))

    def free_numbers(self, length: float) -> float:
        """Trace of the smoother: how many free numbers the line spends on the points.

        length : smoothing length [m]
        Returns a number between 3 and n [-]. Its complement is the derivative of the log determinant of
        (normal + gain penalty) with respect to log(gain) at gain 1, by a central difference; derived here.
        """
        step = 1e-2
        up, down = (self._log_determinant(length, float(np.exp(sign * step))) for sign in (1.0, -1.0))
        return self.normal.shape[0] - (up - down) / (2.0 * step)

    def curve(self, coefficients: np.ndarray) -> Curve:
        """The spline as a function.

        coefficients : from fit, shape (m, k)
        Returns a function of (parameter counted from the first point [m], order of derivative) with values (n, k).
        """
        from scipy.interpolate import BSpline

        spline = BSpline(self.knots, self.wrap @ coefficients, DEGREE)
        return lambda parameter, order: spline(parameter, nu=order)
