"""Metres a degree of latitude and longitude on the WGS 84 ellipsoid, as printed.

Source: liquisearch.com, "Length of a degree of longitude" (table in km for WGS 84); the columns of 48 degrees from the text of a WGS 84
angle-to-distance chart.  The 75 and 90 degree rows need no longitude here: at the pole a degree of longitude has no length.
"""

from math import cos, radians

import numpy as np
import pytest

from sim.files.gpx import local_metres, radii_of_curvature

TABLE = [  # latitude [deg], a degree of latitude and of longitude [km], half a unit of the last digit [km]
    (0.0, 110.574, 111.320, 0.0005),
    (15.0, 110.649, 107.551, 0.0005),
    (30.0, 110.852, 96.486, 0.0005),
    (45.0, 111.132, 78.847, 0.0005),
    (60.0, 111.412, 55.800, 0.0005),
    (75.0, 111.618, 28.902, 0.0005),
    (90.0, 111.694, 0.0, 0.0005),
]


@pytest.mark.outside(
    "C4", what="Kilometres in a degree of latitude and of longitude, 0 to 90 degrees",
    source="liquisearch.com, Length of a degree of longitude", how="read",
)  # fmt: skip
@pytest.mark.parametrize(("latitude", "north", "east", "rounding"), TABLE)
def test_radii_give_the_printed_degrees(within_published, latitude, north, east, rounding):
    meridian, normal = radii_of_curvature(radians(latitude))
    within_published(radians(1.0) * meridian / 1000.0, north, rounding)
    within_published(radians(1.0) * normal * cos(radians(latitude)) / 1000.0, east, rounding)


@pytest.mark.outside(
    "C4", what="The same through the program's own map projection", source="liquisearch.com; a WGS 84 angle-to-distance chart (48 degrees)",
    how="read",
)  # fmt: skip
@pytest.mark.parametrize(("latitude", "north", "east", "rounding"), [*TABLE[:6], (48.0, 111.2, 74.63, 0.05)])
def test_positions_give_the_printed_degrees(within_published, latitude, north, east, rounding):
    """The same through the reader's own projection, over a hundredth of a degree; its halving bounds the step error."""

    def steps(part):
        x, y = local_metres(latitude + np.array([-part, part, 0.0, 0.0]) / 2, 8.0 + np.array([0.0, 0.0, -part, part]) / 2, "published")
        return (y[1] - y[0]) / part / 1000.0, (x[3] - x[2]) / part / 1000.0

    coarse, fine = steps(0.01), steps(0.005)
    within_published(fine[0], north, rounding, u_numeric=abs(fine[0] - coarse[0]))
    within_published(fine[1], east, min(rounding, 0.005), u_numeric=abs(fine[1] - coarse[1]))


@pytest.mark.outside("C4", what="Metres in a degree at 52 degrees", source="radii of the WGS 84 ellipsoid, worked out", how="worked")
def test_one_degree_at_52_degrees(within_published):
    """Our own figures of the same formulas, recomputed in double precision: 111267.353 m and 68678.016 m."""
    meridian, normal = radii_of_curvature(radians(52.0))
    within_published(radians(1.0) * meridian, 111267.353, 0.0005)
    within_published(radians(1.0) * normal * cos(radians(52.0)), 68678.016, 0.0005)
