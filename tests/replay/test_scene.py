"""Geometry of the scene: wheel corners, axle lines, crossings, trails."""

from math import cos, pi, radians, sin

import numpy as np
import pytest

from viz.replay import scene
from viz.replay.looks import LEVELS, POWER_COLOURS
from viz.replay.pens import NotePen, wheel_outline
from viz.replay.run_data import Instant

RADIUS, KINGPIN_TRACK = 4.0, 0.740
IDEAL, PARALLEL, KINKED, TURNTABLE, HALF = range(5)


def standing(heading=0.0, steer=(0.0, 0.0), curve=(0.0, 0.0)):
    """A car at (10, 20) whose front axle is 0.82 m ahead of the mass centre."""
    return Instant(
        0.0, 0.0, 10.0, 20.0, heading, 2.0, np.array([*steer, 0.0, 0.0]), np.zeros(4), np.full(4, 355.0), np.zeros(4),
        np.array([0.82, 0.82, -0.68, -0.68]), np.array([0.45, -0.45, 0.43, -0.43]), np.array(curve), 0.0, 0.0, np.zeros(4),
        np.zeros(4), 0.0,
    )  # fmt: skip


def apart(point, line):
    """Distance of a point from a line [m]."""
    a, b = line
    along = (b - a) / np.linalg.norm(b - a)
    return abs(float(along[0] * (point[1] - a[1]) - along[1] * (point[0] - a[0])))


def test_wheels_of_a_car_that_points_along_y():
    assert scene.wheel_places(standing(pi / 2)) == pytest.approx(
        np.array([(9.55, 20.82), (10.45, 20.82), (9.57, 19.32), (10.43, 19.32)]), rel=0, abs=1e-12
    )


def test_corners_of_a_wheel():
    """A wheel 0.4 m long and 0.1 m broad, its corners cut by 0.03 m, steered 30 degrees to the left."""
    corners = wheel_outline((1.0, 2.0), radians(30), 0.4, 0.1)
    c, s = cos(radians(30)), sin(radians(30))
    front_left = (1 + 0.2 * c - 0.02 * s, 2 + 0.2 * s + 0.02 * c)
    assert corners[0] == pytest.approx(np.array(front_left), rel=0, abs=1e-12)
    assert corners.mean(axis=0) == pytest.approx(np.array((1.0, 2.0)), rel=0, abs=1e-12)
    front, rear = corners[[0, 1]].mean(axis=0), corners[[4, 5]].mean(axis=0)
    assert front - rear == pytest.approx(0.4 * np.array((c, s)), rel=0, abs=1e-12)


def test_the_turning_centre_is_the_middle_of_the_circle(replay):
    for drive in replay.drives:
        for row in (0, 50.5, 400):
            assert scene.turning_centre(drive.at(row)) == pytest.approx((0.0, RADIUS), rel=0, abs=2e-3 if row == 50.5 else 1e-8)


def test_a_straight_car_has_no_turning_centre():
    assert scene.turning_centre(standing(curve=(1e-4, 0.0))) is None


@pytest.mark.parametrize("index", [IDEAL, TURNTABLE])
def test_axle_lines_of_ideal_steering_pass_through_the_turning_centre(replay, index):
    for row in (0, 123, 700):
        now = replay.drives[index].at(row)
        for line in scene.axle_lines(now):
            assert apart(scene.turning_centre(now), line) == pytest.approx(0, rel=0, abs=1e-8)
        assert scene.crossing(now).miss == pytest.approx(0, rel=0, abs=1e-8)


def test_axle_lines_of_parallel_steering_miss_it(replay):
    """Parallel lines from two kingpins cross the rear axle's line one kingpin track apart, whatever the angle."""
    now = replay.drives[PARALLEL].at(200)
    assert scene.crossing(now).miss == pytest.approx(KINGPIN_TRACK, rel=0, abs=1e-8)
    misses = [apart(scene.turning_centre(now), line) for line in scene.axle_lines(now)]
    assert min(misses[:2]) > 0.1
    assert max(misses[2:]) < 1e-8


def test_the_miss_of_parallel_wheels_is_geometry_and_tells_no_power(car_park):
    """A user saw 74 cm at 13 W and at 53 W: it is the kingpins' distance wherever the wheels are turned, whatever they rub."""
    drive = car_park.drives[PARALLEL]
    turned = [row for row in range(0, len(drive.time), 5) if scene.crossing(drive.at(row)) is not None]
    assert [scene.crossing(drive.at(row)).miss for row in turned] == pytest.approx([KINGPIN_TRACK] * len(turned), rel=0, abs=1e-6)
    assert drive.total[turned].max() > 10 * drive.total[turned].min()
    assert "geometry, not power" in scene.miss_words(KINGPIN_TRACK)


def test_other_linkages_lie_between(replay):
    misses = [scene.crossing(replay.drives[i].at(5)).miss for i in (IDEAL, KINKED, HALF, PARALLEL)]
    assert misses == sorted(misses)
    assert misses[HALF - 2] > 0.2


def test_crossing_is_mirrored_in_a_right_turn():
    left = scene.crossing(standing(steer=(0.42, 0.35)))
    right = scene.crossing(standing(steer=(-0.35, -0.42)))
    assert (left.left, left.right) == pytest.approx((-right.right, -right.left), rel=1e-12, abs=0)
    assert left.left > 0


@pytest.mark.parametrize("steer", [(0.0, 0.0), (0.02, 0.018), (0.05, -0.05)])
def test_no_crossing_nearly_straight_ahead(steer):
    assert scene.crossing(standing(steer=steer)) is None


def test_the_meeting_place_has_a_ring_and_the_miss_a_bar_with_crosses(replay):
    """The bar is the kingpin track long and lies to the left of the car, where it turns to; each says what it is."""
    pens = {}
    for index in (IDEAL, PARALLEL):
        pens[index] = NotePen()
        scene.draw_axle_lines(pens[index], replay.drives[index].at(9))
    ring = [call for call in pens[IDEAL].calls if call[0] == "disc" and call[2] == 0.16]
    assert len(ring) == 1
    assert ring[0][1] == pytest.approx((0.0, RADIUS), rel=0, abs=1e-3)
    (bar,) = [call for call in pens[PARALLEL].calls if call[0] == "line" and call[3].width == 5.0]
    assert np.hypot(*(np.array(bar[1]) - bar[2])) == pytest.approx(KINGPIN_TRACK, rel=0, abs=1e-3)
    assert [call[2] for call in pens[PARALLEL].calls if call[0] == "text"] == ["miss by 74\u00a0cm", "turning centre"]
    assert [call[2] for call in pens[IDEAL].calls if call[0] == "text"] == ["lines meet", "turning centre"]
    assert not any(call[0] == "disc" and call[2] == 0.16 for call in pens[PARALLEL].calls)


def test_axle_lines_grow_from_their_wheels(replay):
    now = replay.drives[IDEAL].at(9)
    for share in (0.2, 0.7):
        pen = NotePen()
        scene.draw_axle_lines(pen, now, share)
        assert {call[0] for call in pen.calls} == {"line"}
        for call, place in zip(pen.calls, scene.wheel_places(now), strict=False):
            reach = np.hypot(*(np.array(call[1]) - place))
            assert reach == pytest.approx(scene.FAR * share**4, rel=0, abs=1e-3)


def test_the_tyre_is_as_broad_as_it_is(replay):
    """It was drawn 85 mm broad, and is 50 mm."""
    pen = NotePen()
    scene.draw_car(pen, replay.drives[IDEAL], replay.drives[IDEAL].at(0), replay.body)
    assert [call[4] for call in pen.calls if call[0] == "wheel"] == [0.05] * 4


def test_trail_lies_behind_each_wheel(replay):
    pen = NotePen()
    drive = replay.drives[PARALLEL]
    scene.draw_trails(pen, drive, 300.25, replay.top, 0.05)
    paths = [np.array(call[1]) for call in pen.calls]
    assert len(paths) == 4  # each wheel's power is the same all the way
    for wheel, path in enumerate(paths):
        assert path[-1] == pytest.approx(scene.wheel_places(drive.at(300.25))[wheel], rel=0, abs=1e-4)
        radius = np.hypot(path[:-1, 0], path[:-1, 1] - RADIUS)
        assert radius == pytest.approx(np.hypot(*(drive.ground[0, wheel] - (0, RADIUS))), rel=0, abs=1e-4)
    assert len(paths[0]) <= scene.TRAIL_PIECES + 2


def test_trail_does_not_shift_while_the_car_moves_on(replay):
    drive = replay.drives[0]
    before, after = (set(scene.trail_rows(drive, row, 5.0).tolist()) for row in (300.0, 301.7))
    assert len(before ^ after) <= 4
    assert scene.trail_rows(drive, 0.0).tolist() == [0]


def test_more_power_is_darker_and_broader(replay):
    inks = {}
    for index in (IDEAL, PARALLEL):
        pen = NotePen()
        scene.draw_trails(pen, replay.drives[index], 300, replay.top, 0.05)
        inks[index] = [call[2] for call in pen.calls]
    assert {ink.colour for ink in inks[IDEAL]} == {POWER_COLOURS[0]}
    strongest = max(inks[PARALLEL], key=lambda ink: ink.breadth)
    assert strongest.colour == POWER_COLOURS[LEVELS - 1]
    assert strongest.breadth > 3 * inks[IDEAL][0].breadth


def test_slip_is_drawn_larger_by_what_is_said():
    now = standing(steer=(0.3, 0.2))._replace(drift=np.radians([2.0, -1.0, 0.0, 0.0]))
    for larger in (1.0, 5.0):
        pen = NotePen()
        scene.draw_slips(pen, now, 0.2, larger)
        lines = [call for call in pen.calls if call[3] == scene.MOVES]
        a, b = (np.array(end) for end in lines[0][1:3])
        assert np.arctan2(*(b - a)[::-1]) == pytest.approx(0.3 + larger * radians(2.0), rel=0, abs=1e-3)
        assert len(lines) == 6  # two wheels drift, the rear ones roll


def test_a_sliding_wheel_is_not_drawn_backwards():
    now = standing()._replace(drift=np.radians([28.0, 70.0, 0.0, 0.0]))
    pen = NotePen()
    scene.draw_slips(pen, now, 0.2, 5.0)
    ends = [np.array(call[2]) - np.array(call[1]) for call in pen.calls if call[3] == scene.MOVES]
    assert np.degrees(np.arctan2(*ends[0][::-1])) == pytest.approx(50.0, rel=0, abs=0.1)
    assert np.degrees(np.arctan2(*ends[3][::-1])) == pytest.approx(70.0, rel=0, abs=0.1)


def test_load_discs_have_the_area_of_the_load():
    pen = NotePen()
    scene.draw_loads(pen, standing()._replace(load=np.array([100.0, 400.0, np.nan, 0.0])), 355.0)
    assert len(pen.calls) == 2
    assert pen.calls[1][2] == pytest.approx(2 * pen.calls[0][2], rel=1e-3, abs=0)


def test_camera_sees_the_turning_centre_of_a_tight_bend_and_moves_smoothly():
    station = np.linspace(0, 60, 601)
    curvature = np.where((station > 20) & (station < 30), 1 / 5.0, 0.0)
    left, right = scene.camera(curvature, station, 1.5).T
    assert left[250] >= 5.0
    assert right.max() == pytest.approx(1.5, rel=1e-12, abs=0)
    assert left[0] == pytest.approx(1.5, rel=1e-12, abs=0)
    assert np.abs(np.diff(left)).max() < 0.15  # [m] for each tenth of a metre driven
    assert scene.camera(-curvature, station, 1.5)[:, 1] == pytest.approx(left, rel=1e-12, abs=0)


def test_a_wide_bend_keeps_the_camera_close():
    station = np.linspace(0, 60, 601)
    assert scene.camera(np.full(601, 1 / 30.0), station, 1.5) == pytest.approx(1.5, rel=1e-12, abs=0)
