"""Height and slope: plausible ones are smoothed, others are left out and the notes say so."""

from math import pi

import numpy as np
import pytest

from sim.course.height_noise import rounding_step, scatter
from sim.course.reading import read_course
from sim.errors import InputError

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


@pytest.mark.slow
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


# --- smoothed by what their noise asks for ----------------------------------------------------------------------------

CREST = 3.63  # [m]: 3 % up over 121 m and down again


def sharp(station):
    return np.interp(station, [0.0, 179.0, 300.0, 421.0, 600.0], [50.0, 50.0, 50.0 + CREST, 50.0, 50.0])


@pytest.fixture
def ridge(write_csv):
    """A straight of 600 m over a crest; heights are written with some digits after noise is added."""

    def read(step=5.0, digits=3, noise=0.0, seed=0, **keys):
        station = np.arange(0.0, 600.0, step)
        height = np.round(sharp(station) + np.random.default_rng(seed).normal(0.0, 1.0, len(station)) * noise, digits)
        points = np.column_stack((station, 0.0 * station, height))
        return read_course(write_csv(points, columns=("x_m", "y_m", "z_m")), closed=False, **keys)

    return read


def climb(course):
    return float(np.maximum(np.diff(course.height), 0.0).sum())


@pytest.mark.parametrize("step", [1.0, 5.0, *(pytest.param(one, marks=pytest.mark.slow) for one in (2.0, 11.0))])
@pytest.mark.parametrize("digits", [2, 3, 6])
def test_a_clean_sharp_crest_keeps_its_climb(ridge, step, digits):
    """A tenth of the climb and 3.4 % of the drive work were smoothed away, with no key to lessen it."""
    course = ridge(step, digits)
    station = np.arange(0.0, 600.0, step)
    assert climb(course) == pytest.approx(np.ptp(sharp(station)), rel=0.01, abs=0)
    assert np.abs(course.slope).max() == pytest.approx(0.03, rel=0.02, abs=0)
    assert any("of climb" in note and "are left" in note for note in course.notes)


def test_the_climb_that_is_left_is_told(ridge):
    course = ridge(5.0, 1)
    note = course.notes[-1]
    assert "the file gives them in steps of 0.1 m" in note
    assert f"{climb(course):.2f} m are left" in note
    assert climb(course) > 0.95 * CREST


@pytest.mark.parametrize("noise", [0.05, 0.3])
@pytest.mark.parametrize("seed", [*range(2), *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(2, 8))])
def test_noise_is_smoothed_as_far_as_it_goes(ridge, noise, seed):
    """The raw heights climb many times as far and their slopes reach half a metre in five."""
    course = ridge(5.0, 3, noise, seed)
    assert "scatter" in course.notes[-1]
    assert climb(course) == pytest.approx(CREST, rel=0.25, abs=0)
    assert np.abs(course.slope).max() < 0.06


def test_a_stated_tolerance_is_used(ridge):
    close, wide = ridge(5.0, 3, height_tolerance=0.0), ridge(5.0, 3, height_tolerance=0.3)
    assert climb(close) == pytest.approx(CREST, rel=0.01, abs=0)
    assert climb(wide) < 0.93 * CREST
    assert climb(ridge(5.0, 3, 0.3, height_tolerance=0.0)) > 3 * CREST  # noise and all
    with pytest.raises(InputError, match=r"course.height_tolerance_m: -1 is below 0"):
        ridge(height_tolerance=-1.0)


def test_a_jump_that_no_road_makes_is_smoothed_to_an_ordinary_slope(write_csv):
    """A recorder at rest jumped by 3.85 m between two points 3 m apart; it is no ramp of 25 %."""
    station = np.arange(0.0, 600.0, 3.0)
    points = np.column_stack((station, 0.0 * station, 100.0 + np.where(station > 300.0, 3.85, 0.0)))
    course = read_course(write_csv(points, columns=("x_m", "y_m", "z_m")), closed=False)
    assert 0.05 < np.abs(course.slope).max() <= 0.15


@pytest.mark.parametrize("step", [1.0, 0.1, 0.01, 0.3048])
@pytest.mark.parametrize("wave", [40.0, 200.0])
def test_the_rounding_of_a_file_is_seen(step, wave):
    station = np.arange(0.0, 600.0, 3.0)
    height = 120.0 + 5.0 * np.sin(station * 2.0 * pi / wave) + 0.003 * station
    assert rounding_step(np.round(np.round(height / step) * step, 2)) == pytest.approx(step, rel=0.02, abs=0)


def test_even_ramps_are_not_taken_for_rounding():
    station = np.arange(0.0, 600.0, 4.0)
    assert rounding_step(sharp(station)) < 0.011
    assert rounding_step(np.interp(station, np.linspace(0.0, 600.0, 9), [50.0, 52.0, 51.0, 55.0, 54.0, 50.0, 49.0, 51.0, 50.0])) < 0.011


@pytest.mark.parametrize("noise", [0.0, 0.02, 0.5])
def test_scatter_is_found_on_a_hill(noise):
    """Within 15 %, the scatter of such an estimate from 400 heights; on clean ones 1 cm is what the hill itself leaves."""
    station = np.cumsum(np.random.default_rng(1).uniform(1.0, 6.0, 400))
    height = 3.0 * np.sin(station / 20.0) + sharp(station) + noise * np.random.default_rng(2).normal(size=400)
    assert scatter(station, height, 0.001) == pytest.approx(noise, rel=0.15, abs=0.01)
