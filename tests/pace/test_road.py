"""Course and plan as the lap reads them, and plans that take a lap time."""

import numpy as np
import pytest

from sim.pace.driver import Pace, plan_pace
from sim.pace.policies import TIME_SHARE, plans_for_time
from sim.pace.road import look, road_cell, road_of, road_pieces, wind_in_car


def swinging(s):
    return 0.12 * np.sin(2 * np.pi * s / 60.0)


@pytest.mark.parametrize("closed", [True, False])
def test_what_the_road_holds_at_a_place_is_what_the_course_has_there(vehicle, course_by, closed):
    car, _ = vehicle("standard")
    course = course_by(60.0, swinging, lambda s: 0.5 * (1 - np.cos(2 * np.pi * s / 60.0)), closed=closed)
    plan = plan_pace(course, car, Pace(target=5.0, lateral_limit=1.5, braking_limit=1.5, power=600.0))
    road = road_of(course, plan)
    for station in (0.0, 7.3, 31.25, 59.9, *((66.0, 100.5) if closed else ())):
        index, t = road_cell(station, road.length, road.closed, road.density, road.size)
        pieces = road_pieces(road.cells, road.row + index)
        curvature, slope, square, rate, ahead = look(pieces, t, pieces.curvature, t, road.density)
        place = station % 60.0
        assert curvature == pytest.approx(swinging(place), rel=0, abs=2e-3)
        assert ahead == curvature
        assert slope == pytest.approx(0.5 * 2 * np.pi / 60.0 * np.sin(2 * np.pi * place / 60.0), rel=0, abs=2e-3)
        assert square == pytest.approx(np.interp(place, course.station, plan.speed) ** 2, rel=0.01, abs=0)
        assert rate == pytest.approx(np.interp(place, course.station, np.gradient(plan.speed**2, course.station)), rel=0, abs=0.3)
        wind = wind_in_car(pieces.direction, t, 0.2, 3.0, -1.0)
        axis = np.interp(place, course.station, course.heading) + 0.2
        ahead_of = 3.0 * np.cos(axis) - 1.0 * np.sin(axis)
        assert (wind.x, np.hypot(*wind)) == pytest.approx((ahead_of, np.hypot(3.0, 1.0)), rel=0, abs=2e-3)


@pytest.mark.parametrize("lap_time", [20.0, 33.0])
def test_each_policy_takes_the_lap_time(vehicle, course_by, lap_time):
    car, _ = vehicle("standard")
    course = course_by(60.0, swinging)
    pace = Pace(target=5.0, lateral_limit=3.0, braking_limit=1.5, power=600.0)
    found = plans_for_time(course, car, pace, lap_time)
    assert len(found) == 3  # a steady current needs a motor
    for one in found:
        assert one.meets_time
        assert one.plan.time == pytest.approx(lap_time, rel=TIME_SHARE, abs=0)
        assert one.pace.target == pytest.approx(60.0 / lap_time, rel=0.1, abs=0)
