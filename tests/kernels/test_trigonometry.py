"""Sine, cosine and arc tangent of our own against the library's."""

from math import pi

import numpy as np
import pytest

from sim.kernels.trigonometry import EIGHTH_TANGENT, STEEP_TANGENT, arc_tangent, sine_cosine

LAST_BIT = 2.0**-52  # of numbers between 1 and 2; both our result and the library's are within half of it


@pytest.mark.parametrize("largest", [0.1, 0.8, 4.0, 100.0, 1e5])
def test_sine_and_cosine(largest):
    angles = np.random.default_rng(1).uniform(-largest, largest, 4000)
    ours = np.array([sine_cosine(angle) for angle in angles])
    np.testing.assert_allclose(ours[:, 0], np.sin(angles), rtol=0, atol=LAST_BIT)
    np.testing.assert_allclose(ours[:, 1], np.cos(angles), rtol=0, atol=LAST_BIT)
    mirrored = np.array([sine_cosine(-angle) for angle in angles])
    np.testing.assert_array_equal(mirrored, ours * [-1, 1])


def test_quarter_turns_and_small_angles():
    assert sine_cosine(0.0) == (0.0, 1.0)
    for quarters, expected in [(1, (1, 0)), (2, (0, -1)), (3, (-1, 0)), (4, (0, 1)), (-1, (-1, 0)), (-2, (0, -1))]:
        assert sine_cosine(quarters * pi / 2) == pytest.approx(expected, rel=0, abs=1e-15)
    assert sine_cosine(1e-9) == (1e-9, 1.0)
    assert np.isnan(sine_cosine(np.nan)).all()


@pytest.mark.parametrize("largest", [1e-3, 0.4, 3.0, 1e3, 1e12])
def test_arc_tangent(largest):
    tangents = np.random.default_rng(2).uniform(-largest, largest, 4000)
    ours = np.array([arc_tangent(tangent) for tangent in tangents])
    np.testing.assert_allclose(ours, np.arctan(tangents), rtol=2 * LAST_BIT, atol=0)
    np.testing.assert_array_equal([arc_tangent(-tangent) for tangent in tangents], -ours)


def test_arc_tangent_where_its_pieces_meet():
    for meeting in (EIGHTH_TANGENT, STEEP_TANGENT):
        for tangent in (np.nextafter(meeting, 0), meeting, np.nextafter(meeting, 9)):
            assert arc_tangent(tangent) == pytest.approx(np.arctan(tangent), rel=2 * LAST_BIT, abs=0)
    assert arc_tangent(np.inf) == pi / 2
