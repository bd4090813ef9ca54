"""Height and slope: plausible ones are smoothed, others are left out and the notes say so."""

from math import pi

import numpy as np
import pytest

from sim.course import read_course

LAP = 2.0 * (300.0 - 80.0) + 2.0 * (200.0 - 80.0) + 2.0 * pi * 40.0


@pytest.fixture
def hill(write_csv, rectangle):
    """Read a lap of 931 m whose heights a function of the share of the lap gives; blanks where it gives NaN."""

    def read(height, closed=True, scale=1.0):
        points = rectangle(300.0, 200.0, 40.0, 3.0)
        share = np.arange(len(points)) / len(points)
        path = write_csv(np.column_stack((points, height(share))), columns=("x_m", "y_m", "z_m"), digits=6)
        path.write_text(path.read_text().replace("nan", ""))
        return read_course(path, closed=closed, scale=scale)

    return read


def wave(share, height=4.0):
    return 120.0 + height * np.sin(2.0 * pi * share)


STEEPEST = 4.0 * 2.0 * pi / LAP


def test_a_smooth_hill_keeps_its_slope(hill):
    course = hill(wave)
    assert np.abs(course.slope).max() == pytest.approx(STEEPEST, rel=0.02, abs=0)
    assert course.height.max() == pytest.approx(124.0, rel=0, abs=0.1)
    assert course.height[0] == course.height[-1]
    assert course.slope[0] == pytest.approx(course.slope[-1], rel=0, abs=1e-12)
    np.testing.assert_allclose(np.gradient(course.height, course.station)[1:-1], course.slope[1:-1], rtol=0, atol=1e-5)


def test_whole_metre_steps_are_smoothed(hill):
    course = hill(lambda share: np.round(wave(share)))
    assert np.abs(course.slope).max() < 2.0 * STEEPEST
    assert np.abs(course.height - (120.0 + 4.0 * np.sin(2.0 * pi * course.station / course.length))).max() < 0.7


def test_noise_is_smoothed(hill):
    random = np.random.default_rng(2)
    course = hill(lambda share: wave(share) + random.normal(0.0, 0.3, len(share)))
    assert np.abs(course.slope).max() < 1.7 * STEEPEST


@pytest.mark.parametrize("mark", [0.0, -9999.0, 32767.0, -32768.0, 9999.0, 500.0, np.nan])
@pytest.mark.parametrize("run", [1, 12])
def test_false_values_are_left_out(hill, mark, run):
    def height(share):
        values = wave(share)
        values[20 : 20 + run] = mark
        values[150:152] = mark
        return values

    course = hill(height)
    assert np.abs(course.slope).max() == pytest.approx(STEEPEST, rel=0.05, abs=0)
    if np.isfinite(mark):
        assert any(f"{run + 2} heights were false" in note for note in course.notes)


def test_a_true_zero_is_kept(hill):
    course = hill(lambda share: wave(share) - 120.0)
    assert not any("false" in note for note in course.notes)
    assert np.abs(course.slope).max() == pytest.approx(STEEPEST, rel=0.02, abs=0)


@pytest.mark.parametrize(
    ("height", "words"),
    [
        (lambda share: np.full(len(share), np.nan), "holds no height"),
        (lambda share: np.where(share < 0.5, wave(share), np.nan), "Too many heights are unknown"),
        (lambda share: np.where((share > 0.3) & (share < 0.58), np.nan, wave(share)), "Too many heights are unknown"),
        (lambda share: wave(share, 80.0), "steeper than a road"),
        (lambda share: 100.0 + 90.0 * share, "start and end differ by 8"),
        (lambda share: np.full(len(share), -9999.0), "holds no height"),
    ],
)
def test_implausible_heights_leave_the_course_level(hill, height, words):
    course = hill(height)
    assert any(words in note for note in course.notes)
    assert not course.slope.any()
    assert not course.height.any()


def test_equal_heights(hill):
    course = hill(lambda share: np.full(len(share), 55.0))
    assert not course.slope.any()
    np.testing.assert_allclose(course.height, 55.0, rtol=1e-12, atol=0)


def test_drift_over_a_lap_is_spread(hill):
    course = hill(lambda share: wave(share) + 5.0 * share)
    assert any("differ by 4.9 m" in note for note in course.notes)
    assert course.height[0] == course.height[-1]
    assert np.abs(course.slope).max() == pytest.approx(STEEPEST, rel=0.05, abs=0)


def test_a_lasting_climb_on_an_open_course(write_csv):
    points = np.column_stack((np.arange(0.0, 400.0, 4.0), np.zeros(100), 7.0 + 0.05 * np.arange(0.0, 400.0, 4.0)))
    course = read_course(write_csv(points, columns=("x_m", "y_m", "z_m")), closed=False)
    np.testing.assert_allclose(course.slope, 0.05, rtol=0, atol=1e-5)
    assert course.height[0] == pytest.approx(7.0, rel=0, abs=1e-3)
