"""One lap out of a recording."""

import numpy as np
import pytest

from sim.course.reading import read_course


def _length(points):
    return np.hypot(*np.diff(np.vstack((points, points[:1])), axis=0).T).sum()


def test_a_single_lap_is_kept_whole(write_csv, rectangle):
    points = rectangle()
    course = read_course(write_csv(points), closed=True)
    assert not any("left out" in note or "laps" in note for note in course.notes)
    assert course.length == pytest.approx(_length(points), rel=0.003, abs=0)


@pytest.mark.parametrize("laps", [1.02, 1.4, 2.0, 3.3])
def test_several_exact_laps_are_cut_to_one(write_csv, rectangle, laps):
    points = rectangle()
    driven = points[np.arange(round(laps * len(points))) % len(points)]
    one = read_course(write_csv(points, "one.csv"), closed=True)
    course = read_course(write_csv(driven, "many.csv"), closed=True)
    assert course.length == pytest.approx(one.length, rel=1e-9, abs=0)
    np.testing.assert_allclose(course.curvature, one.curvature, rtol=0, atol=1e-9)
    assert any("left out" in note for note in course.notes)
    if laps > 1.2:
        assert any(f"about {laps:.1f} laps" in note for note in course.notes)
    assert not any("left out" in note for note in read_course(write_csv(driven, "open.csv"), closed=False).notes)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_noisy_laps_by_satellite_with_a_way_in_and_out(write_gpx, rectangle, seed):
    """Each lap lies up to 2 m beside the other; the car comes from the pits and leaves for them."""
    random = np.random.default_rng(seed)
    lap = rectangle(160.0, 110.0, 30.0, 3.0)
    laps = [lap * (1.0 + random.uniform(-0.02, 0.02)) + random.normal(0.0, 0.3, lap.shape) for _ in range(3)]
    way_in = np.column_stack((np.linspace(-40.0, -3.0, 12), np.linspace(-75.0, -56.0, 12)))
    way_out = np.column_stack((np.linspace(3.0, 30.0, 9), np.linspace(-56.0, -75.0, 9)))
    course = read_course(write_gpx(np.vstack((way_in, *laps, way_out))), closed=True)
    assert course.length == pytest.approx(_length(lap), rel=0.04, abs=0)
    assert course.heading[-1] - course.heading[0] == pytest.approx(2.0 * np.pi, rel=0, abs=1e-6)
    assert any("about 3." in note for note in course.notes)
    assert course.smallest_radius > 15.0


def test_laps_of_a_figure_of_eight_are_not_cut_at_the_crossing(write_csv):
    angle = np.arange(300) * 2.0 * np.pi / 120
    eight = np.column_stack((40.0 * np.sin(angle), 25.0 * np.sin(2.0 * angle)))
    course = read_course(write_csv(eight), closed=True)
    assert course.length == pytest.approx(_length(eight[:120]), rel=0.003, abs=0)
    assert any("about 2.5 laps" in note for note in course.notes)


def test_a_stretch_driven_twice_a_lap_is_not_cut(write_csv):
    """Two loops share a straight that is driven in the same direction in both."""
    stem = np.column_stack((np.arange(-40.0, 40.0, 1.0), np.zeros(80)))
    angle = np.linspace(-np.pi / 2, np.pi / 2, 60)[1:-1]
    left, right = (
        np.vstack(
            (
                np.column_stack((40.0 + radius * np.cos(angle), sign * (radius + radius * np.sin(angle)))),
                np.column_stack((np.arange(40.0, -40.5, -1.0), np.full(81, sign * 2.0 * radius))),
                np.column_stack((-40.0 - radius * np.cos(angle), sign * (radius - radius * np.sin(angle)))),
            )
        )
        for radius, sign in ((15.0, 1.0), (25.0, -1.0))
    )
    both = np.vstack((stem, left, stem, right))
    course = read_course(write_csv(both), closed=True)
    assert course.length == pytest.approx(_length(both), rel=0.003, abs=0)
    twice = read_course(write_csv(np.vstack((both, both)), "twice.csv"), closed=True)
    assert twice.length == pytest.approx(course.length, rel=1e-6, abs=0)


def test_ends_side_by_side_are_bridged_smoothly(write_csv, rectangle):
    """The end of the lap lies 1.5 m beside its start."""
    points = rectangle()
    drift = 1.5 * np.arange(len(points)) / len(points)
    course = read_course(write_csv(points - np.column_stack((0 * drift, drift))), closed=True)
    assert (course.x[0], course.y[0]) == (course.x[-1], course.y[-1])
    assert course.smallest_radius > 4.0
    assert any("bridged" in note for note in course.notes)


def test_standing_about_is_merged(write_gpx, rectangle):
    random = np.random.default_rng(7)
    lap = rectangle(160.0, 110.0, 30.0, 4.0)
    stop = lap[40] + random.uniform(-0.3, 0.3, (60, 2))
    course = read_course(write_gpx(np.vstack((lap[:40], stop, lap[40:]))), closed=True)
    assert any("were merged" in note for note in course.notes)
    assert course.smallest_radius > 10.0
    assert course.length == pytest.approx(_length(lap), rel=0.005, abs=0)
