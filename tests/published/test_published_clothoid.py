"""Clothoids against printed values.

C1 Fresnel integrals C(1), S(1) (kernel cos, sin of pi t^2 / 2): keisoku.magicgifted.com, Fresnel integral calculator; also Abramowitz and
Stegun, table 7.7 (from memory).
C2 Survey manual of a total station, page 210: A = 80 m, R = 100 m gives L = 64 m, tau = L / 2R and N = 63.348 m.  Its tau is printed as
18 deg 20' 06", which does not follow from its own figures (0.32 rad is 18 deg 20' 04.7"), so only tau = 0.32 rad is used.
C3 mat.geogebra.org, "clothoid": curvature s / 12^2, R = 9 m gives s = 16 m and a tangent angle of 8/9 rad, printed 50.92 deg (cut, not
rounded, so the last digit is uncertain by a whole unit).
"""

from math import degrees, pi, sqrt

import numpy as np
import pytest

from sim.course.segments import Clothoid, course_from_segments


def _end(length, end_curvature):
    """The end of one clothoid; the grid takes the curvature as linear from node to node, so only rounding is left."""
    course = course_from_segments([Clothoid(length, end_curvature)], closed=False, name="clothoid")
    return course, float(course.x[-1]), float(course.y[-1]), float(course.heading[-1])


# C(1) and S(1) in metres scaled by A sqrt(pi): a clothoid of parameter A reaches A sqrt(pi) (C, S) after A sqrt(pi)
@pytest.mark.outside(
    "C1", what="Where a clothoid of unit length ends: Fresnel's integrals C(1), S(1)",
    source="keisoku.magicgifted.com; Abramowitz and Stegun, table 7.7", how="read",
)  # fmt: skip
@pytest.mark.parametrize("parameter", [5.0, 12.0, 80.0])
def test_fresnel_integrals(within_published, parameter):
    scale = parameter * sqrt(pi)
    _, x, y, _ = _end(scale, scale / parameter**2)
    within_published(x / scale, 0.7798934004, 0.5e-10, u_numeric=1e-12)
    within_published(y / scale, 0.4382591474, 0.5e-10, u_numeric=1e-12)


@pytest.mark.outside("C1", what="Fresnel's integrals at 0.5, 1.5 and 2", source="their definition, worked out", how="worked")
@pytest.mark.parametrize(
    ("end", "cosine", "sine"), [(0.5, 0.4923442259, 0.0647324329), (1.5, 0.4452611760, 0.6975049601), (2.0, 0.4882534061, 0.3434156784)]
)
def test_fresnel_integrals_elsewhere(within_published, end, cosine, sine):
    """Values of the same integrals, recomputed in double precision."""
    scale = 20.0 * sqrt(pi)
    _, x, y, _ = _end(scale * end, scale * end / 20.0**2)
    within_published(x / scale, cosine, 0.5e-10, u_numeric=1e-12)
    within_published(y / scale, sine, 0.5e-10, u_numeric=1e-12)


@pytest.mark.outside(
    "C2", what="Survey clothoid of A = 80 m to R = 100 m: turn and length ahead", source="STS-750 total station manual, p. 210", how="read",
)  # fmt: skip
def test_survey_manual(within_published):
    _, x, _, turn = _end(64.0, 1.0 / 100.0)
    within_published(turn, 0.32, 0.0005)
    within_published(x, 63.348, 0.0005)


@pytest.mark.outside("C2", what="The same clothoid's way to the side: 6.77690 m", source="its series, worked out", how="worked")
def test_survey_clothoid_to_the_side(within_published):
    within_published(_end(64.0, 1.0 / 100.0)[2], 6.77690, 0.5e-5)


@pytest.mark.outside("C3", what="Clothoid that turns to 9 m in 16 m: 50.92 degrees", source="mat.geogebra.org/m/pPu6Kb3z", how="read")
def test_small_clothoid(within_published):
    course, _, _, turn = _end(16.0, 1.0 / 9.0)
    within_published(degrees(turn), 50.92, 0.01)
    np.testing.assert_allclose(course.curvature, course.station / 144.0, rtol=0, atol=1e-12)


@pytest.mark.outside("C3", what="Clothoid that turns to 8 m in 10 m: turn and end", source="its series, worked out", how="worked")
def test_kart_size_clothoid(within_published):
    """Exact values of the series for R = 8 m, L = 10 m, recomputed in double precision."""
    _, x, y, turn = _end(10.0, 1.0 / 8.0)
    within_published(turn, 0.625, 1e-12)
    within_published(x, 9.616376, 0.5e-6)
    within_published(y, 2.025922, 0.5e-6)
