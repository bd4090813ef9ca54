"""From points to a course: length, curvature, smoothing, uneven spacing, bad lines."""

import subprocess
import sys
from math import pi

import numpy as np
import pytest

from sim.course.reading import read_course
from sim.errors import InputError


def circle(radius=8.0, count=50, turns=1.0, start=0.0):
    angle = start + np.arange(round(count * turns)) * 2.0 * pi / count
    return np.column_stack((radius * np.cos(angle), radius * np.sin(angle)))


def wavy(count=240):
    """A closed line without symmetry, tightest radius about 9 m, points about 1.3 m apart."""
    angle = np.arange(count) * 2.0 * pi / count
    radius = 45.0 + 6.0 * np.cos(2 * angle + 0.3) + 3.0 * np.sin(3 * angle) + 1.5 * np.cos(5 * angle)
    return np.column_stack((radius * np.cos(angle), 0.8 * radius * np.sin(angle)))


def arcs_and_straights(pieces, bend_spacing, straight_spacing):
    """Points along straights (a length) and arcs (radius, turn), shape (n, 2) [m]."""
    x = y = heading = 0.0
    points = [(x, y)]
    for piece in pieces:
        if isinstance(piece, tuple):
            radius, turn = piece
            curvature = np.sign(turn) / radius
            count = round(abs(turn) * radius / bend_spacing)
            angle = heading + turn * np.arange(1, count + 1) / count
            xs = x + (np.sin(angle) - np.sin(heading)) / curvature
            ys = y - (np.cos(angle) - np.cos(heading)) / curvature
            heading += turn
        else:
            count = max(1, round(piece / straight_spacing))
            along = piece * np.arange(1, count + 1) / count
            xs, ys = x + along * np.cos(heading), y + along * np.sin(heading)
        points += list(zip(xs, ys, strict=True))
        x, y = points[-1]
    return np.array(points)


def refusal(path, **keys):
    with pytest.raises(InputError) as caught:
        read_course(path, **{"closed": True, **keys})
    text = str(caught.value)
    assert text.startswith(f"{path}: ".replace("\0", "?"))
    assert "\n" not in text
    return text


@pytest.mark.target(
    "T13", what="A circle's length and curvature, written as a segment or read from points a metre apart",
    asked="1e-6 and 1e-3 relative",
)  # fmt: skip
@pytest.mark.parametrize("repeated", [False, True])
def test_circle_from_points_a_metre_apart(write_csv, repeated, within_target):
    points = circle()
    course = read_course(write_csv(np.vstack((points, points[:1])) if repeated else points, digits=12), closed=True)
    within_target(abs(course.length / (16.0 * pi) - 1), at_most=1e-6, of="length")
    within_target(np.abs(8.0 * course.curvature - 1), at_most=1e-3, of="curvature")
    assert course.heading[-1] - course.heading[0] == pytest.approx(2.0 * pi, rel=0, abs=1e-6)
    assert course.smallest_radius == pytest.approx(8.0, rel=1e-3, abs=0)
    assert course.smoothing_residual < 1e-3


def test_circle_written_to_the_millimetre_is_smoothed(write_csv):
    course = read_course(write_csv(circle(), digits=3), closed=True)
    # half a millimetre of rounding on 1 m steps would make 0.7 % of curvature if the line went through every point
    np.testing.assert_allclose(course.curvature, 1.0 / 8.0, rtol=3e-3, atol=0)


def test_arrays_are_consistent(write_csv):
    course = read_course(write_csv(wavy()), closed=True)
    step = np.diff(course.station)
    assert np.ptp(step) < 1e-9
    assert step.max() <= 0.25
    assert (course.x[0], course.y[0], course.curvature[0]) == (course.x[-1], course.y[-1], course.curvature[-1])
    rise = 0.5 * step * (course.curvature[1:] + course.curvature[:-1])
    np.testing.assert_allclose(np.diff(course.heading), rise, rtol=0, atol=1e-12)
    chord = np.hypot(np.diff(course.x), np.diff(course.y))
    np.testing.assert_allclose(chord, step, rtol=1e-4, atol=0)
    assert np.abs(np.gradient(course.heading, course.station)[1:-1] - course.curvature[1:-1]).max() < 1e-4


@pytest.mark.target("T13", what="The course's points turned, shifted and reversed: the same line", asked="1e-9 m, rad and 1/m")
@pytest.mark.parametrize("closed", [True, False])
def test_rotated_shifted_and_reversed_points_give_the_same_course(write_csv, closed, within_target):
    points = wavy()[: 240 if closed else 170]
    plain = read_course(write_csv(points, "plain.csv", digits=15), closed=closed)
    angle = 0.7
    turned = points @ np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]]) + (31.0, -17.0)
    moved = read_course(write_csv(turned, "moved.csv", digits=15), closed=closed)
    within_target(abs(moved.length - plain.length), at_most=1e-9)
    within_target(np.abs(moved.curvature - plain.curvature), at_most=1e-9)
    within_target(np.abs(moved.heading - moved.heading[0] - plain.heading + plain.heading[0]), at_most=1e-9)
    backwards = np.vstack((points[:1], points[:0:-1])) if closed else points[::-1]
    reverse = read_course(write_csv(backwards, "reverse.csv", digits=15), closed=closed)
    within_target(abs(reverse.length - plain.length), at_most=1e-9)
    within_target(np.abs(reverse.curvature + plain.curvature[::-1]), at_most=1e-9)
    within_target(np.abs(reverse.x - plain.x[::-1]), at_most=1e-9)


@pytest.mark.parametrize("straight_spacing", [1.0, 7.0, 1e9])
def test_uneven_spacing_keeps_straights_straight_and_bends_round(write_csv, straight_spacing):
    pieces = [200.0, (8.0, pi / 2), 60.0, (12.0, pi / 2), 100.0, (6.0, pi / 2), 150.0]
    points = arcs_and_straights(pieces, 1.0, straight_spacing)
    course = read_course(write_csv(points), closed=False)
    polyline = np.hypot(*np.diff(points, axis=0).T).sum()
    assert course.length == pytest.approx(polyline, rel=0.005, abs=0)
    first = course.station < 195.0
    assert np.abs(course.y[first]).max() < 0.02
    assert np.abs(course.curvature[first]).max() < 0.004
    bend = (course.station > 199.0) & (course.station < 214.0)
    assert course.curvature[bend].max() == pytest.approx(1.0 / 8.0, rel=0.02, abs=0)
    assert course.smallest_radius == pytest.approx(6.0, rel=0.03, abs=0)
    assert np.abs(course.curvature.min()) < 0.01


def test_noise_is_smoothed_within_the_stated_tolerance(write_csv):
    exact = arcs_and_straights([80.0, (10.0, pi / 2), 80.0], 1.0, 1.0)
    noisy = exact + np.random.default_rng(4).normal(0.0, 0.02, exact.shape)
    course = read_course(write_csv(noisy), closed=False)
    assert 0.005 < course.smoothing_residual < 0.05
    # second differences of the raw points would give curvatures of 0.05 and more on the straights
    assert np.abs(course.curvature[(course.station > 5.0) & (course.station < 70.0)]).max() < 0.02
    assert course.smallest_radius == pytest.approx(10.0, rel=0.15, abs=0)
    assert any("line tolerance of 0.05 m" in note for note in course.notes)
    assert any("smallest radius" in note for note in course.notes)


def test_noise_beyond_the_tolerance_is_refused_and_a_larger_tolerance_helps(write_csv):
    exact = arcs_and_straights([80.0, (15.0, pi / 2), 80.0], 1.0, 1.0)
    path = write_csv(exact + np.random.default_rng(5).normal(0.0, 0.3, exact.shape))
    assert "line_tolerance" in refusal(path, closed=False)
    course = read_course(path, closed=False, line_tolerance=0.6)
    assert course.smallest_radius > 4.0


def test_a_crossing_is_not_cut(write_csv):
    angle = np.arange(120) * 2.0 * pi / 120
    eight = np.column_stack((40.0 * np.sin(angle), 25.0 * np.sin(2.0 * angle)))
    course = read_course(write_csv(eight), closed=True)
    assert course.length == pytest.approx(np.hypot(*np.diff(np.vstack((eight, eight[:1])), axis=0).T).sum(), rel=0.005, abs=0)
    assert course.heading[-1] - course.heading[0] == pytest.approx(0.0, rel=0, abs=1e-9)


def test_scale_keeps_slopes_and_multiplies_the_rest(write_csv, rectangle):
    points = rectangle(200.0, 120.0, 40.0, 2.0)
    height = 3.0 * np.sin(2.0 * pi * np.arange(len(points)) / len(points))
    table = np.column_stack((points, height, np.full(len(points), 4.0), np.full(len(points), 6.0)))
    columns = ("x_m", "y_m", "z_m", "left_m", "right_m")
    whole = read_course(write_csv(table, "whole.csv", columns), closed=True)
    quarter = read_course(write_csv(table, "quarter.csv", columns), closed=True, scale=0.25)
    assert quarter.length == pytest.approx(0.25 * whole.length, rel=1e-4, abs=0)
    assert quarter.smallest_radius == pytest.approx(0.25 * whole.smallest_radius, rel=1e-3, abs=0)
    assert np.abs(quarter.slope).max() == pytest.approx(np.abs(whole.slope).max(), rel=1e-3, abs=0)
    assert np.ptp(quarter.height) == pytest.approx(0.25 * np.ptp(whole.height), rel=1e-3, abs=0)
    np.testing.assert_allclose(quarter.left_width, 1.0, rtol=1e-12, atol=0)
    np.testing.assert_allclose(whole.right_width, 6.0, rtol=1e-12, atol=0)
    assert np.abs(whole.slope).max() > 0.01


@pytest.mark.parametrize(("distance", "word"), [(60.0, "off the line"), (900.0, "off the line")])
def test_one_point_far_off_is_named(write_csv, rectangle, distance, word):
    points = rectangle()
    points[10, 1] -= distance
    text = refusal(write_csv(points))
    assert "line 12" in text
    assert word in text
    assert f"{distance:.1f} m" in text


def test_a_line_that_doubles_back_is_named(write_csv):
    points = np.column_stack((np.concatenate((np.arange(0.0, 41.0), np.arange(39.0, 9.0, -1.0))), np.zeros(71)))
    points[41:, 1] = 0.3
    text = refusal(write_csv(points), closed=False)
    assert "doubles back" in text
    assert any(f"line {number}:" in text for number in (41, 42, 43))


def test_gaps_between_the_ends(write_csv, rectangle):
    points = rectangle()
    assert "1.00" not in refusal(write_csv(points[:120], "half.csv"))
    assert "closed to false" in refusal(write_csv(points[:120], "half.csv"))
    course = read_course(write_csv(points[:-6], "gap.csv"), closed=True)
    assert any("closed by a straight of 7.0 m" in note for note in course.notes)
    whole = read_course(write_csv(points, "whole.csv"), closed=True)
    assert course.length == pytest.approx(whole.length, rel=1e-4, abs=0)
    assert course.smallest_radius == pytest.approx(whole.smallest_radius, rel=0.02, abs=0)


@pytest.mark.parametrize(
    ("points", "words"),
    [
        (circle(1.0), "lies within 2 m"),
        (circle(20000.0, 2000), "km long"),
        (circle(8.0, 3), "fewer than 4 different points"),
        (np.zeros((20, 2)), "fewer than 4 different points"),
        (np.array([[0.0, 0.0], [60.0, 0.0], [60.0, 60.0], [0.0, 60.0]]), "more points in the bends"),
    ],
)
def test_absurd_courses_are_refused(write_csv, points, words):
    assert words in refusal(write_csv(points))


def test_bad_arguments(write_csv):
    path = write_csv(circle())
    assert "scale 0" in refusal(path, scale=0.0)
    assert "course.line_tolerance_m: -1 is not above 0" in refusal(path, line_tolerance=-1.0)
    assert "course.line_tolerance_m: nan is not above 0" in refusal(path, line_tolerance=float("nan"))


def test_missing_file_folder_and_suffix(tmp_path):
    assert "no such file" in refusal(tmp_path / "none.csv")
    (tmp_path / "folder.csv").mkdir()
    assert "is a folder" in refusal(tmp_path / "folder.csv")
    (tmp_path / "course.kml").write_text("x")
    assert ".gpx" in refusal(tmp_path / "course.kml")
    (tmp_path / "empty.gpx").write_text("")
    assert "empty" in refusal(tmp_path / "empty.gpx")
    assert "not valid" in refusal(tmp_path / "nul\0.csv")


@pytest.mark.parametrize(("name", "length", "radius"), [("real-circuit.csv", 3690.0, 19.5), ("real-circuit-tight.csv", 4060.0, 9.3)])
def test_real_circuits(real_course, name, length, radius):
    course = read_course(real_course(name), closed=True)
    assert course.length == pytest.approx(length, rel=0.002, abs=0)
    assert abs(course.heading[-1] - course.heading[0]) == pytest.approx(2.0 * pi, rel=0, abs=1e-6)
    assert course.smallest_radius == pytest.approx(radius, rel=0.05, abs=0)
    assert course.smoothing_residual < 0.05
    assert course.left_width is not None
    assert 3.0 < course.left_width.min() < course.left_width.max() < 12.0


def test_real_loop(real_course):
    course = read_course(real_course("real-loop.gpx"), closed=True)
    assert course.length == pytest.approx(2700.0, rel=0.03, abs=0)
    assert (course.x[0], course.y[0]) == (course.x[-1], course.y[-1])
    assert course.heading[-1] - course.heading[0] == pytest.approx(-2.0 * pi, rel=0, abs=1e-6)
    assert course.smallest_radius > 5.0
    assert any("bridged" in note for note in course.notes)
    assert any("left out" in note for note in course.notes)
    assert 0.03 < np.abs(course.slope).max() < 0.15


def test_importing_the_package_stays_quick():
    rooms = "sim.course.reading, sim.course.segments"
    probe = f"import sys, {rooms}; print(sorted({{'scipy', 'gpxpy', 'defusedxml', 'matplotlib', 'viz'}} & set(sys.modules)))"
    run = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


def test_wild_points_are_refused(write_csv):
    """Ten points in a wild zigzag: the arc length of a spline through them ran away from pass to pass."""
    points = np.random.default_rng(9).uniform(-500.0, 500.0, (10, 2))
    refusal(write_csv(points), closed=False)


def test_long_steps_with_a_fine_tolerance(write_csv):
    """Steps a thousand times the smoothing length left the ends of an open spline free."""
    angle = np.linspace(0.0, 3.0, 25)
    path = write_csv(np.column_stack((900.0 * np.cos(angle), 900.0 * np.sin(angle))), digits=9)
    course = read_course(path, closed=False, line_tolerance=0.0005)
    np.testing.assert_allclose(course.curvature, 1.0 / 900.0, rtol=1e-2, atol=0)


@pytest.mark.parametrize(("tolerance", "words"), [(3.0, "too coarse"), (1e6, "too coarse")])
def test_a_tolerance_that_would_lose_the_shape_is_refused(write_csv, tolerance, words):
    assert words in refusal(write_csv(circle()), line_tolerance=tolerance)


def test_crowded_points_are_merged(write_csv):
    """Points 2 cm apart, closer than the tolerance of 5 cm."""
    course = read_course(write_csv(circle(8.0, 2500)), closed=True)
    assert course.length == pytest.approx(16.0 * pi, rel=1e-4, abs=0)
    assert any("were merged" in note for note in course.notes)


def test_too_many_points_are_refused(write_csv):
    path = write_csv(np.tile(circle(8.0, 500), (120, 1)), digits=3)
    assert "more than 50000 points" in refusal(path)


@pytest.mark.slow
@pytest.mark.parametrize("scale", [0.2, 0.25, 0.5])
def test_scaled_recording_is_the_same_lap(real_course, scale):
    """A lap is cut at the size at which it was recorded: a shrunk course once kept the manoeuvring in a yard."""
    path = real_course("real-loop.gpx")
    whole, shrunk = read_course(path, closed=True), read_course(path, closed=True, scale=scale)
    assert shrunk.length == pytest.approx(scale * whole.length, rel=2e-3, abs=0)
    assert shrunk.notes[:2] == whole.notes[:2]
