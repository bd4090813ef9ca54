"""The bends of a course, and the one place of it at which two set-ups are shown: one choice for window, page and paper."""

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from sim.course.centreline import Course
from viz.shared.telling import TOLD_OVER, mean_over, telling_stations

BENDY = 1 / 25  # [1/m] from which the course has a bend that can be told of
SAME_BEND = 3.0  # [m] two stretches that bend the same way and lie this near to each other are one bend
NO_BEND = 30.0  # [m] length of the stretch that is looked at where the course has no bend


class Bend(NamedTuple):
    """A stretch of the course; along its line [m].  number : from 1; 0 where the course has no bend."""

    number: int
    begin: float
    end: float
    turns_left: bool
    radius: float  # the tightest [m]


class Spent(NamedTuple):
    """What a set-up's tyres lose along the course, (n,) each.  station : rising [m]; power : of all tyres [W]; work : so far [J]."""

    station: np.ndarray
    power: np.ndarray
    work: np.ndarray

    def between(self, begin: float, end: float) -> float:
        """What is lost between two places of the course [J].  begin, end : [m]."""
        first, last = np.interp([begin, end], self.station, self.work)
        return float(last - first)


def course_bends(course: Course, drives: Sequence[tuple[np.ndarray, np.ndarray]]) -> list[Bend]:
    """The bends of a course in their order; one that lies across the line of a closed course counts on both sides of it.

    course : Course; drives : of each set-up stations [m] and powers [W], as for `telling_stations`
    A course without any is one stretch, about the place where the set-ups' powers lie furthest apart.
    """
    side = np.sign(course.curvature) * (np.abs(course.curvature) > BENDY)
    starts = np.flatnonzero(np.diff(side, prepend=0.0) != 0)
    stretches: list[list[int]] = []
    for start, stop in pairwise([*starts.tolist(), len(side)]):
        if side[start] == 0:
            continue
        before = stretches[-1] if stretches else None
        if before and side[before[0]] == side[start] and course.station[start] - course.station[before[1] - 1] < SAME_BEND:
            before[1] = stop
        else:
            stretches.append([start, stop])
    # One that lies across the line has the number of the piece at the lap's end.
    across = course.closed and len(stretches) > 1 and stretches[0][0] == 0 and stretches[-1][1] == len(side) and side[0] == side[-1]
    bends = []
    for place, (a, b) in enumerate(stretches, 1):
        begin, end = float(course.station[a]), float(course.station[min(b, len(side) - 1)])
        radius = 1 / float(np.abs(course.curvature[a:b]).max())
        bends.append(Bend(place - across or len(stretches) - across, begin, end, bool(side[a] > 0), radius))
    if bends:
        return bends
    middle = telling_stations(drives, course.closed)[0]
    return [Bend(0, max(0.0, middle - NO_BEND / 2), min(float(course.length), middle + NO_BEND / 2), True, float("inf"))]


def telling_bend(bends: Sequence[Bend], one: Spent, other: Spent | None) -> Bend:
    """The bend in which two set-ups differ most in joules; of one alone, in which it loses most.

    bends : of the course; one, other : the two, None for one alone; bends that one of them did not get through count as far as both came
    """
    upto = float(one.station[-1]) if other is None else min(float(one.station[-1]), float(other.station[-1]))

    def difference(bend: Bend) -> float:
        begin, end = min(bend.begin, upto), min(bend.end, upto)
        return abs(one.between(begin, end) - (0.0 if other is None else other.between(begin, end)))

    return max(bends, key=difference)


def telling_place(bend: Bend, one: Spent, other: Spent | None) -> float:
    """Where in a bend two powers, as means over TOLD_OVER, lie furthest apart; of one alone, where it rubs most [m].

    bend : Bend; one, other : as for `telling_bend`
    """
    inside = (one.station >= bend.begin) & (one.station <= bend.end)
    if not inside.any():
        return float(one.station[-1])
    power = mean_over(one.station, one.power, TOLD_OVER, False)[inside]
    if other is not None:
        power = np.abs(power - np.interp(one.station[inside], other.station, mean_over(other.station, other.power, TOLD_OVER, False)))
    return float(one.station[inside][int(np.argmax(power))])
