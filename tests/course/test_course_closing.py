"""Closed courses whose file leaves out the last step: real centrelines have few points on straights and many in bends."""

from math import pi

import numpy as np
import pytest

from sim.course import csv_file
from sim.course.reading import read_course
from sim.errors import InputError

BEND = 10.0  # [m] radius of the stadium's bends
STRAIGHT = 127.0  # [m]


def stadium(straight=STRAIGHT, step=1.0, start=0):
    """A stadium whose straights have no points but the bends' own, anticlockwise, from the start of a bend; shape (n, 2) [m]."""
    angle = np.linspace(-pi / 2, pi / 2, round(pi * BEND / step) + 1)
    right = np.column_stack((0.5 * straight + BEND * np.cos(angle), BEND * np.sin(angle)))
    return np.roll(np.vstack((right, -right)), -start, axis=0)


STADIUM_LENGTH = 2 * STRAIGHT + 2 * pi * BEND


def closing(course):
    return [note for note in course.notes if "closed by a straight" in note or "bridged" in note]


@pytest.mark.parametrize("repeated", [False, True])
@pytest.mark.parametrize("backwards", [False, True])
def test_the_gap_may_be_the_straight_that_needs_no_points(write_csv, repeated, backwards):
    """It was refused as 127 m off, although the last point repeated the first, and although the other straight is as long."""
    points = stadium()[::-1] if backwards else stadium()
    course = read_course(write_csv(np.vstack((points, points[:1])) if repeated else points), closed=True)
    assert closing(course) == ["The course is closed by a straight of 127.0 m from its last point to its first."]
    assert course.length == pytest.approx(STADIUM_LENGTH, rel=1e-3, abs=0)
    assert course.smallest_radius == pytest.approx(BEND, rel=0.05, abs=0)
    on_the_straight = np.abs(course.x) < 0.4 * STRAIGHT
    # within the line tolerance of 5 cm: the straight is one
    np.testing.assert_allclose(np.abs(course.y[on_the_straight]), BEND, rtol=0, atol=0.05)


def test_the_place_where_the_file_starts_does_not_matter(write_csv):
    lengths = [read_course(write_csv(stadium(start=start)), closed=True).length for start in (0, 1, 15, 32, 40)]
    np.testing.assert_allclose(lengths, STADIUM_LENGTH, rtol=1e-3, atol=0)


def test_the_only_straight_without_points(write_csv):
    """Longer than any other gap and than a tenth of the course, but it goes on from both ends."""
    points = stadium()
    half = len(points) // 2
    along = np.column_stack((np.arange(0.5 * STRAIGHT - 2.0, -0.5 * STRAIGHT, -2.0), np.full(63, BEND)))
    course = read_course(write_csv(np.vstack((points[:half], along, points[half:]))), closed=True)
    assert closing(course) == ["The course is closed by a straight of 127.0 m from its last point to its first."]
    assert course.length == pytest.approx(STADIUM_LENGTH, rel=1e-3, abs=0)


def test_a_bend_that_the_gap_leaves_out_stays_a_bend(write_csv):
    """A straight across 8 % of a circle would be met by corners of 14 degrees."""
    angle = np.arange(92) * 2.0 * pi / 100
    course = read_course(write_csv(20.0 * np.column_stack((np.cos(angle), np.sin(angle)))), closed=True)
    assert len(closing(course)) == 1
    assert "smooth curve" in closing(course)[0]
    assert course.length == pytest.approx(40.0 * pi, rel=1e-3, abs=0)
    assert course.smallest_radius == pytest.approx(20.0, rel=0.05, abs=0)


def test_heights_may_lack_points_on_the_closing_straight_too(write_csv):
    """The gap is a third of the lap, and no other step is as long: its heights were taken for unknown."""
    points = stadium()
    half = len(points) // 2
    along = np.column_stack((np.arange(0.5 * STRAIGHT - 2.0, -0.5 * STRAIGHT, -2.0), np.full(63, BEND)))
    points = np.vstack((points[:half], along, points[half:]))
    height = 30.0 + 0.01 * points[:, 0]
    course = read_course(write_csv(np.column_stack((points, height)), columns=("x_m", "y_m", "z_m")), closed=True)
    assert course.height == pytest.approx(30.0 + 0.01 * course.x, rel=0, abs=0.02)


@pytest.mark.parametrize(
    ("points", "gap"),
    [
        (np.column_stack((np.arange(0.0, 300.0, 3.0), 5.0 * np.sin(np.arange(100) / 9.0))), "297"),  # runs away from its start
        (20.0 * np.column_stack((np.cos(np.arange(65) * 0.06), np.sin(np.arange(65) * 0.06))), "37.6"),  # five eighths of a circle
    ],
)
def test_what_is_no_lap_is_refused_with_distance_and_remedy(write_csv, points, gap):
    path = write_csv(points)
    with pytest.raises(InputError) as caught:
        read_course(path, closed=True)
    text = str(caught.value)
    assert f"its end lies {gap}" in text
    assert "set closed to false" in text
    assert "repeat the first point" in text


def drawn_loop(random):
    """A loop of straights without points and bends with many: (points, length [m], smallest radius [m]), or None where it is none."""
    corners = random.integers(3, 7)
    angle = np.sort(random.uniform(0.0, 2.0 * pi, corners))
    apart = np.diff(np.append(angle, angle[0] + 2.0 * pi))
    if apart.max() > 2.4 or apart.min() < 0.5:
        return None
    corner = np.column_stack((np.cos(angle), np.sin(angle))) * random.uniform(40.0, 250.0) * random.uniform(0.8, 1.2, (corners, 1))
    radius, step = random.uniform(4.0, 12.0, corners), random.uniform(0.5, 2.0)
    bends, length = [], 0.0
    for i in range(corners):
        before, after = corner[i] - corner[i - 1], corner[(i + 1) % corners] - corner[i]
        ahead = before / np.hypot(*before)
        turn = np.arctan2(before[0] * after[1] - before[1] * after[0], before @ after)
        tangent = radius[i] * np.tan(0.5 * abs(turn))
        if abs(turn) < 0.1 or tangent > 0.45 * min(np.hypot(*before), np.hypot(*after)):
            return None
        along = np.linspace(0.0, turn, max(2, int(np.ceil(radius[i] * abs(turn) / step))) + 1)
        sideways = np.sign(turn) * np.array([-ahead[1], ahead[0]])
        sine, cosine = radius[i] * np.sin(np.abs(along))[:, None], radius[i] * (1.0 - np.cos(along))[:, None]
        bends.append(corner[i] - tangent * ahead + sine * ahead + cosine * sideways)
        length += radius[i] * abs(turn)
    length += sum(float(np.hypot(*(bends[i][0] - bends[i - 1][-1]))) for i in range(corners))
    return np.vstack(bends), length, float(radius.min())


@pytest.mark.parametrize("seed", [*range(4), *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(4, 12))])
def test_drawn_loops_of_sparse_straights(write_csv, seed):
    """Whatever point a file starts at, with or without its first point repeated, either way round."""
    random = np.random.default_rng(seed)
    loop = None
    while loop is None:
        loop = drawn_loop(random)
    points, length, radius = loop
    for repeated in (False, True):
        turned = np.roll(points, -random.integers(len(points)), axis=0)[:: random.choice((-1, 1))]
        path = write_csv(np.vstack((turned, turned[:1])) if repeated else turned, digits=3)
        course = read_course(path, closed=True)
        assert course.length == pytest.approx(length, rel=0.01, abs=0)
        # a straight's last point lies up to a step before the bend: the spline rounds that corner a little tighter
        assert course.smallest_radius > 0.8 * radius


@pytest.mark.slow
@pytest.mark.parametrize("name", ["real-circuit.csv", "real-circuit-tight.csv"])
@pytest.mark.parametrize("sharpest", [0.003, 0.03])
def test_real_circuits_without_points_on_their_straights(real_course, write_csv, name, sharpest):
    """The longest straights, up to a kilometre, as the gap between the ends."""
    whole = read_course(real_course(name), closed=True)
    points = csv_file.read_points(real_course(name)).xy
    step = np.diff(np.vstack((points[-1:], points, points[:1])), axis=0)
    turn = np.abs((np.diff(np.arctan2(step[:, 1], step[:, 0])) + pi) % (2.0 * pi) - pi)
    bends = turn > sharpest
    kept = points[bends | np.roll(bends, 1) | np.roll(bends, -1)]
    gaps = np.hypot(*np.diff(np.vstack((kept, kept[:1])), axis=0).T)
    for end in np.argsort(gaps)[-2:]:
        course = read_course(write_csv(np.roll(kept, -(end + 1), axis=0), digits=3), closed=True)
        assert closing(course) == [f"The course is closed by a straight of {gaps[end]:.1f} m from its last point to its first."]
        assert course.length == pytest.approx(whole.length, rel=1e-4, abs=0)
        assert course.smallest_radius == pytest.approx(whole.smallest_radius, rel=0.02, abs=0)
