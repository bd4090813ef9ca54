"""Written courses: straights, arcs, clothoids."""

from math import cos, pi, radians, sin

import numpy as np
import pytest

from sim.course.centreline import FEWEST_CELLS
from sim.course.segments import Arc, Clothoid, Straight, course_from_segments
from sim.errors import InputError
from sim.pace.road import course_cells

STADIUM = [Straight(40.0), Arc(8.0, pi), Straight(40.0), Arc(8.0, pi)]
EIGHT = [Arc(10.0, 2.0 * pi), Arc(10.0, -2.0 * pi)]
SPIRALS = [part for _ in range(4) for part in (Straight(20.0), Clothoid(4.0, 0.1), Arc(10.0, pi / 2 - 0.4), Clothoid(4.0, 0.0))]
CLOSED = {"circle": [Arc(8.0, 2.0 * pi)], "stadium": STADIUM, "eight": EIGHT, "spirals": SPIRALS}


def _mirrored(segments):
    def one(segment):
        if isinstance(segment, Arc):
            return Arc(segment.radius, -segment.turn)
        return Clothoid(segment.length, -segment.end_curvature) if isinstance(segment, Clothoid) else segment

    return [one(segment) for segment in segments]


@pytest.mark.parametrize("segment", [Straight(0.1), Straight(0.001), Arc(8.0, radians(0.5)), Arc(0.5, radians(1))])
def test_a_course_of_less_than_a_step_has_cells_enough_for_splines(segment):
    course = course_from_segments([segment], closed=False, name="tiny")
    wanted = segment.length if isinstance(segment, Straight) else segment.radius * segment.turn
    assert course.length == pytest.approx(wanted, rel=1e-6)
    cells = course_cells(course)
    assert len(cells) == FEWEST_CELLS
    assert np.isfinite(cells).all()


@pytest.mark.target(
    "T13", what="A circle's length and curvature, written as a segment or read from points a metre apart",
    asked="1e-6 and 1e-3 relative",
)  # fmt: skip
def test_full_circle(within_target):
    course = course_from_segments([Arc(8.0, 2.0 * pi)], closed=True, name="circle")
    within_target(abs(course.length / (16.0 * pi) - 1), at_most=1e-6, of="length")
    within_target(np.abs(8.0 * course.curvature - 1), at_most=1e-3, of="curvature")
    assert course.smallest_radius == pytest.approx(8.0, rel=1e-3, abs=0)
    centre = np.array([0.0, 8.0])
    np.testing.assert_allclose(np.hypot(course.x - centre[0], course.y - centre[1]), 8.0, rtol=1e-6, atol=0)


@pytest.mark.target("T13", what="A closed course turns by 2 pi, a figure of eight by nothing", asked="1e-6 rad")
@pytest.mark.parametrize("kind", CLOSED)
def test_closed_course_closes(kind, within_target):
    course = course_from_segments(CLOSED[kind], closed=True, name=kind)
    assert (course.x[0], course.y[0]) == (course.x[-1], course.y[-1])
    assert course.curvature[0] == course.curvature[-1]
    turns = 0.0 if kind == "eight" else 1.0
    within_target(abs(course.heading[-1] - course.heading[0] - 2.0 * pi * turns), at_most=1e-6)
    assert course.station[0] == 0.0
    assert course.station[-1] == course.length
    assert np.ptp(np.diff(course.station)) < 1e-9
    assert np.diff(course.station).max() <= 0.25
    # easing moves a bend by 1 / (48 R) at most, so the length hardly changes
    written = {"circle": 16 * pi, "stadium": 80 + 16 * pi, "eight": 40 * pi, "spirals": 4 * (20 + 8 + 10 * (pi / 2 - 0.4))}
    assert course.length == pytest.approx(written[kind], rel=1e-3, abs=0)


@pytest.mark.parametrize("kind", CLOSED)
def test_heading_is_the_integral_of_the_curvature(kind):
    course = course_from_segments(CLOSED[kind], closed=True, name=kind)
    step = course.station[1]
    rise = 0.5 * step * (course.curvature[1:] + course.curvature[:-1])
    np.testing.assert_allclose(np.diff(course.heading), rise, rtol=0, atol=1e-12)
    along = np.diff(course.x) * np.cos(course.heading[:-1]) + np.diff(course.y) * np.sin(course.heading[:-1])
    # a chord of 0.1 m is shorter than its arc by (step / radius)^2 / 24 and turned by step / (2 radius)
    np.testing.assert_allclose(along, step, rtol=(step / 8.0) ** 2, atol=0)


def test_straights_stay_straight_beside_the_easing():
    course = course_from_segments(STADIUM, closed=True, name="stadium")
    on_first = (course.station > 0.6) & (course.station < 39.4)
    assert np.all(np.abs(course.curvature[on_first]) < 1e-12)
    assert np.ptp(course.heading[on_first]) < 1e-12


def test_a_step_of_curvature_becomes_a_ramp_of_one_metre():
    course = course_from_segments([Straight(20.0), Arc(8.0, pi / 2)], closed=False, name="corner")
    at = {place: np.interp(place, course.station, course.curvature) for place in (19.3, 20.0, 20.7)}
    assert at[19.3] == pytest.approx(0.0, rel=0, abs=1e-12)
    assert at[20.0] == pytest.approx(1.0 / 16.0, rel=1e-2, abs=0)
    assert at[20.7] == pytest.approx(1.0 / 8.0, rel=1e-9, abs=0)
    assert np.diff(course.curvature).max() < 0.03
    assert course.heading[-1] == pytest.approx(pi / 2, rel=0, abs=1e-9)


def test_open_arc_and_straight_end_where_they_should():
    course = course_from_segments([Arc(20.0, -pi / 3)], closed=False, name="arc")
    assert course.x[-1] == pytest.approx(20.0 * sin(pi / 3), rel=1e-9, abs=0)
    assert course.y[-1] == pytest.approx(-20.0 * (1.0 - cos(pi / 3)), rel=1e-9, abs=0)
    straight = course_from_segments([Straight(30.0)], closed=False, name="straight")
    assert straight.smallest_radius == np.inf
    assert straight.x[-1] == pytest.approx(30.0, rel=1e-12, abs=0)
    assert not straight.notes


@pytest.mark.parametrize("kind", CLOSED)
def test_mirrored_course(kind):
    left = course_from_segments(CLOSED[kind], closed=True, name=kind)
    right = course_from_segments(_mirrored(CLOSED[kind]), closed=True, name=kind)
    np.testing.assert_allclose(right.curvature, -left.curvature, rtol=0, atol=1e-10)
    np.testing.assert_allclose(right.y, -left.y, rtol=0, atol=1e-10 * left.length)


def test_clothoid_goes_on_from_the_segment_before():
    course = course_from_segments([Arc(10.0, 0.5), Clothoid(10.0, 0.0), Straight(10.0)], closed=False, name="exit")
    inside = (course.station > 5.6) & (course.station < 14.4)
    np.testing.assert_allclose(course.curvature[inside], 0.1 * (15.0 - course.station[inside]) / 10.0, rtol=0, atol=1e-9)


def test_short_segments_are_not_lost():
    course = course_from_segments([Straight(5.0), Arc(2.0, 0.1), Arc(2.0, -0.1), Straight(5.0)], closed=False, name="kink")
    assert course.heading[-1] == pytest.approx(0.0, rel=0, abs=1e-12)
    assert course.y[-1] == pytest.approx(0.02, rel=0, abs=2e-3)


def test_a_rounding_is_spread_and_noted():
    course = course_from_segments([Straight(40.0), Arc(8.0, 3.1416), Straight(40.01), Arc(8.0, 3.1416)], closed=True, name="rounded")
    assert course.heading[-1] - course.heading[0] == pytest.approx(2.0 * pi, rel=0, abs=1e-6)
    assert (course.x[0], course.y[0]) == (course.x[-1], course.y[-1])
    assert any("spread over the lap" in note for note in course.notes)


@pytest.mark.parametrize(
    ("segments", "closed", "words"),
    [
        ([Straight(40.0), Arc(8.0, pi / 2)] * 3, True, ["48.66 m", "90.00 degrees", "closed to false"]),
        ([Straight(40.0), Arc(8.0, pi), Straight(41.0), Arc(8.0, pi)], True, ["1.00 m", "0.00 degrees"]),
        ([], False, ["no segments"]),
        ([Straight(0.0)], False, ["segment 1", "above 0"]),
        ([Straight(1.0), Straight(float("nan"))], False, ["segment 2", "not a finite number"]),
        ([Arc(-3.0, 1.0)], False, ["radius -3 m", "minus sign"]),
        ([Arc(3.0, 0.0)], False, ["0 degrees"]),
        ([Clothoid(-1.0, 0.1)], False, ["segment 1"]),
        ([Straight(2e5)], False, ["200 km"]),
    ],
)
def test_refusals(segments, closed, words):
    with pytest.raises(InputError) as caught:
        course_from_segments(segments, closed=closed, name="bad", source="quay.toml")
    text = str(caught.value)
    assert text.startswith("quay.toml: ")
    assert "\n" not in text
    assert [word for word in words if word not in text] == []
