"""One lap out of a recording: where it returns to its own start in the same direction, and how its ends are joined."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sim.course.cleaning import FEWEST_POINTS, polyline_steps
from sim.course.points import PointList
from sim.errors import InputError

if TYPE_CHECKING:
    from scipy.spatial import cKDTree

REACH_TOLERANCES = 10.0  # two laps of one recording lie nearer than this many tolerances; about a lane on GPX
STEP_REACH = 5.0  # [m]; where points are far apart, a lap may pass its start between them by up to this much
SMALLEST_COSINE = 0.5  # same direction: within 60 degrees
ANGLE_SCALE = np.radians(45.0)  # an angle this large counts like a distance of a whole reach
LARGEST_SCORE = 0.5  # a return may lie seven tenths of a reach off, or 32 degrees askew, or less of both
FOLLOWED_PART = 0.9  # what remains after a lap lies on the lap again to this part, or it is no second lap
LOOSE_END = 0.1  # a way out, or a way in that no lap repeats, may be this part of the lap long
WAY_IN = 0.25  # a way in may be this part of a lap long where the lap is repeated
OVERLAP_REACHES = 2.0  # so far at least a recording that runs past its start must follow the lap
FAR_FROM_START = 3.0  # reaches; nearer than this all the time is standing about, not a lap
NEAR_PART = 0.05  # of the length: ends of a lap nearer than this belong together when loose ends are looked for
CLOSING_GAPS, CLOSING_PART = 1.5, 0.1  # a gap so many times the longest other one, or that part of the course, is no missing road
NEAR_STEPS = 3.0  # local steps: ends nearer than this may run side by side; farther apart they are two ends of a straight or bend
ORDINARY_GAP = 1.5  # local steps: no more than the next step of the file
DIRECTION_TOLERANCES = 3.0  # the direction of an end is taken over this many tolerances
SHARPEST_BEND = np.radians(60.0)  # between two steps
BRIDGE_LENGTHS = 6.0  # a bridge this many times as long as it shifts sideways turns by less than 30 degrees
BROKEN_JOIN = np.radians(100.0)  # ends that meet so askew do not belong to the lap
STRAIGHT_JOIN = np.radians(45.0)
TIGHTEST_CORNER = 1.5  # times the sharpest bend of the file: a straight that would be met by a sharper corner is no straight
STEADY_PART = 0.5  # a bend that goes on over the gap turns in it by at least this part of what its curvature makes there
BOW = 4.0 / 27.0  # of gap x tangent: how far a smooth curve that leaves its chord at an angle bows out (greatest t (1 - t)^2)
JOIN_DISTANCE = 3.0  # [m]; a direction driven over less than a car's length says nothing about the lap
MOST_LOOSE_POINTS = 500  # at either end
MOST_SAMPLES = 20_000
MOST_PASSES = 12  # of a place, tried as the end of the lap that begins there
MOST_STARTS = 300  # places tried as the start of the lap


@dataclass(frozen=True)
class _Trail:
    """A polyline sampled evenly: place [m], station [m], direction as unit vectors."""

    place: np.ndarray
    station: np.ndarray
    direction: np.ndarray


def _trail(xy: np.ndarray, reach: float) -> _Trail:
    station = np.concatenate(([0.0], np.cumsum(polyline_steps(xy))))
    count = int(np.clip(station[-1] / (0.25 * reach), 50, MOST_SAMPLES))
    even = np.linspace(0.0, station[-1], count)

    def at(stations: np.ndarray) -> np.ndarray:
        return np.column_stack([np.interp(stations, station, column) for column in xy.T])

    chord = at(even + reach) - at(even - reach)
    return _Trail(at(even), even, chord / np.maximum(np.hypot(*chord.T), 1e-12)[:, None])


def _passes(trail: _Trail, tree: cKDTree, start: int, reach: float) -> list[tuple[float, int]]:
    """Later passes of the place of one sample in its direction: (score, sample), in driving order."""
    near = np.sort(np.array(tree.query_ball_point(trail.place[start], reach), dtype=int))
    near = near[near > start]
    near = near[trail.direction[near] @ trail.direction[start] > SMALLEST_COSINE]
    passes = []
    for group in np.split(near, np.flatnonzero(np.diff(near) > 1) + 1):
        if not len(group):
            continue
        away = np.hypot(*(trail.place[start : group[0] + 1] - trail.place[start]).T).max()
        if away < FAR_FROM_START * reach:
            continue
        apart = np.hypot(*(trail.place[group] - trail.place[start]).T)
        cosine = np.clip(trail.direction[group] @ trail.direction[start], -1.0, 1.0)
        best = int(np.argmin(apart))
        score = (apart[best] / reach) ** 2 + (np.arccos(cosine[best]) / ANGLE_SCALE) ** 2
        passes.append((float(score), int(group[best])))
    return passes


def _is_lap(trail: _Trail, start: int, end: int, reach: float) -> bool:
    """Whether what follows a supposed lap is that lap again, or runs on along it before a short way out."""
    from scipy.spatial import cKDTree

    lap = trail.station[end] - trail.station[start]
    rest = trail.station[-1] - trail.station[end]
    if trail.station[start] > WAY_IN * lap:
        return False
    followed = OVERLAP_REACHES * reach if rest <= LOOSE_END * lap else lap
    again = np.arange(end, len(trail.station))
    again = again[trail.station[again] <= trail.station[end] + followed]
    step = trail.station[1]
    apart, nearest = cKDTree(trail.place[start : end + 1]).query(trail.place[again], distance_upper_bound=reach + step)
    found = np.isfinite(apart)
    along = np.zeros(len(again))
    along[found] = np.sum(trail.direction[again[found]] * trail.direction[start + nearest[found]], axis=1)
    return float(np.mean(along > SMALLEST_COSINE)) >= FOLLOWED_PART


def _lap_span(xy: np.ndarray, reach: float) -> tuple[float, float, float] | None:
    """Stations [m] at which one lap starts and ends, and the station of the end of the recording."""
    from scipy.spatial import cKDTree

    trail = _trail(xy, reach)
    tree = cKDTree(trail.place)
    found = []
    most = int(np.searchsorted(trail.station, WAY_IN * trail.station[-1]))
    for start in np.unique(np.linspace(0, most, min(most + 1, MOST_STARTS)).astype(int)).tolist():
        lap = next((one for one in _passes(trail, tree, start, reach)[:MOST_PASSES] if _is_lap(trail, start, one[1], reach)), None)
        if lap is not None and lap[0] < LARGEST_SCORE:
            found.append((lap[0], start, lap[1]))
            if lap[0] < 0.01:
                break
    if not found:
        return None
    # the first place that fits well: later ones fit better by chance only
    bound = max(2.0 * min(found)[0], 0.1)
    _, start, end = next(one for one in found if one[0] <= bound)
    return float(trail.station[start]), float(trail.station[end]), float(trail.station[-1])


def _without_loose_ends(points: PointList, tolerance: float) -> PointList:
    """Leave out the way to the lap and away from it where the end could not be driven on into the start.

    A recording that begins and ends in a yard beside the lap doubles back there. The fewest metres are given up for which
    the line from the end to the start turns by less than STRAIGHT_JOIN at both.
    """
    xy = points.xy
    station = np.concatenate(([0.0], np.cumsum(polyline_steps(xy))))
    distance = max(DIRECTION_TOLERANCES * tolerance, JOIN_DISTANCE)
    if _join_turns(xy[:1], xy[-1:], *(one[None, :] for one in _end_directions(xy, distance))).max() < BROKEN_JOIN:
        return points
    loose = LOOSE_END * station[-1]
    starts = np.flatnonzero(station <= loose)[:MOST_LOOSE_POINTS]
    ends = np.flatnonzero(station >= station[-1] - loose)[-MOST_LOOSE_POINTS:]
    into = np.array([_end_directions(xy[start:], distance)[1] for start in starts])
    out = np.array([_end_directions(xy[: end + 1], distance)[0] for end in ends])
    start, end = (grid.ravel() for grid in np.meshgrid(np.arange(len(starts)), np.arange(len(ends))))
    gap = np.hypot(*(xy[starts[start]] - xy[ends[end]]).T)
    turns = _join_turns(xy[starts[start]], xy[ends[end]], out[end], into[start])
    fits = (turns < STRAIGHT_JOIN) & (gap <= NEAR_PART * station[-1])
    if not fits.any():
        return points
    given_up = station[starts[start]] + station[-1] - station[ends[end]] + gap
    best = int(np.argmin(np.where(fits, given_up, np.inf)))
    first, last = int(starts[start[best]]), int(ends[end[best]])
    return points.taken(np.arange(first, last + 1)).noted(
        f"The first {first} and the last {len(points) - 1 - last} points lead to the lap and away from it and were left out."
    )


def _join_turns(first: np.ndarray, last: np.ndarray, out: np.ndarray, into: np.ndarray) -> np.ndarray:
    """The larger turn [rad] where the chord from last to first meets the directions out and into, all of shape (n, 2)."""
    chord = first - last
    chord = chord / np.maximum(np.hypot(*chord.T), 1e-12)[:, None]
    cosine = np.minimum(np.sum(chord * out, axis=1), np.sum(chord * into, axis=1))
    return np.arccos(np.clip(cosine, -1.0, 1.0))


def one_lap(points: PointList, tolerance: float) -> PointList:
    """Cut a recording of a closed course to one lap.

    points : without repeats
    tolerance : of the line [m]
    Returns the points of the first lap; all of them where the line does not return to its start in the same
    direction. Crossings and neighbouring roads are no return: what follows must be the lap again, or a short way out.
    """
    steps = polyline_steps(points.xy)
    reach = max(REACH_TOLERANCES * tolerance, min(float(np.median(steps)), STEP_REACH))
    span = _lap_span(points.xy, reach)
    if span is None:
        return _without_loose_ends(points, tolerance)
    start, end, last = span
    station = np.concatenate(([0.0], np.cumsum(steps)))
    rounding = 1e-9 * last
    inside = np.flatnonzero((station >= start - rounding) & (station <= end + rounding))
    xy = points.xy[inside]
    # points that already lie past the first one belong to the next lap
    ahead = xy[1] - xy[0]
    ahead /= np.hypot(*ahead)
    while len(inside) > 4 and np.hypot(*(xy[len(inside) - 1] - xy[0])) < 2.0 * reach:
        if (xy[len(inside) - 1] - xy[0]) @ ahead < -1e-6 * reach:
            break
        inside = inside[:-1]
    lap = points.taken(inside)
    before, after = int(inside[0]), len(points) - 1 - int(inside[-1])
    laps = (last - start) / (end - start)
    if before:
        lap = lap.noted(f"The first {before} points lead to the lap and were left out.")
    if laps > 1.0 + LOOSE_END:
        lap = lap.noted(f"The recording holds about {laps:.1f} laps; the first was kept, {after} points after it left out.")
    elif after and (before or np.hypot(*(points.xy[-1] - points.xy[0])) > tolerance):
        lap = lap.noted(f"The last {after} points run on past the start of the lap and were left out.")
    return lap


def _tangent(xy: np.ndarray, distance: float) -> np.ndarray:
    """Unit vector into the first point: along the circle through it and two more, each at least a distance [m] on.

    The chord to the next point is turned by its share of the turn to the chord after; a turn above SHARPEST_BEND is no bend.
    """
    away = np.hypot(*(xy - xy[0]).T)
    first = int(np.argmax(away >= distance)) or 1
    chord = xy[first] - xy[0]
    angle, length = np.arctan2(chord[1], chord[0]), np.hypot(*chord)
    beyond = np.hypot(*(xy[first:] - xy[first]).T)
    step = int(np.argmax(beyond >= distance))
    if step:
        onward = xy[first + step] - xy[first]
        turn = (np.arctan2(onward[1], onward[0]) - angle + np.pi) % (2.0 * np.pi) - np.pi
        if abs(turn) < SHARPEST_BEND:
            angle -= turn * length / (length + np.hypot(*onward))
    return np.array([np.cos(angle), np.sin(angle)])


def _end_directions(xy: np.ndarray, distance: float) -> tuple[np.ndarray, np.ndarray]:
    """Unit vectors out of the last point and into the first, each over at least a distance [m]."""
    return -_tangent(xy[::-1], distance), _tangent(xy, distance)


def _offset(xy: np.ndarray, distance: float) -> float:
    """How far the start lies beside the line on which the end runs, not counting a steady bend [m]."""
    out, into = _end_directions(xy, distance)
    gap = xy[0] - xy[-1]
    # in a steady bend both tangents lie on the same side of the chord
    before = out[0] * gap[1] - out[1] * gap[0]
    after = gap[0] * into[1] - gap[1] * into[0]
    if out @ gap < 0.0:
        return float(np.hypot(*gap))
    return float(min(abs(before), abs(after))) if before * after < 0.0 else 0.0


def _signed_turn(before: np.ndarray, after: np.ndarray) -> float:
    """Turn from one direction to another, positive to the left [rad]."""
    return float(np.arctan2(before[0] * after[1] - before[1] * after[0], before @ after))


def _closed_straight(xy: np.ndarray, gap: float, turns: tuple[float, float], tolerance: float) -> bool:
    """Whether the gap between the ends is a straight, and not a bend or a corner that the file leaves out.

    turns holds those from the end's direction into the closing line and from there into the start's [rad]. A smooth curve that
    bows out by less than the tolerance is a straight; where a bend runs on over the gap both turns are to one side and
    as large as its curvature makes them; and a corner sharper than any bend of the file cannot be driven.
    """
    if BOW * gap * max(abs(np.tan(turn)) for turn in turns) <= tolerance and max(map(abs, turns)) < STRAIGHT_JOIN:
        return True
    ring = np.vstack((xy[-1:], xy, xy[:1]))
    step = np.diff(ring, axis=0)
    length = np.hypot(*step.T)
    heading = np.arctan2(step[:, 1], step[:, 0])
    corner = np.abs((np.diff(heading) + np.pi) % (2.0 * np.pi) - np.pi)  # at each point
    bend = corner / np.minimum(length[:-1], length[1:])
    beside = min(bend[1], bend[-2])
    if turns[0] * turns[1] > 0.0 and min(map(abs, turns)) >= STEADY_PART * 0.5 * gap * beside:
        return False
    return max(bend[0], bend[-1]) <= TIGHTEST_CORNER * float(bend[1:-1].max())


def ends_joined(points: PointList, tolerance: float) -> tuple[PointList, np.ndarray]:
    """Check that the ends of a lap belong together, and close the gap between them.

    points : one lap, the first point not repeated at its end unless it is in the file
    tolerance : of the line [m]
    Returns the points, and the points of a bridge from the last to the first, shape (k, 2) [m]. There are none where the
    first point is repeated at the end, or where the gap is closed by a straight, which is laid as any other step of the file;
    a note says how long it is where it is longer than the steps beside it. Where a bend runs on over the gap the bridge is a
    smooth curve. Where the ends run side by side, points are given up at both until it is BRIDGE_LENGTHS times as long as
    they are apart.
    Raises InputError with the size of the gap where it is longer than CLOSING_GAPS times the longest other step and than
    CLOSING_PART of the course, and its line meets an end at STRAIGHT_JOIN or more.
    """
    gap = float(np.hypot(points.x[0] - points.x[-1], points.y[0] - points.y[-1]))
    repeated = gap <= tolerance and len(points) > FEWEST_POINTS
    if repeated:
        points = points.taken(np.arange(len(points) - 1))
    xy = points.xy
    gap = float(np.hypot(*(xy[-1] - xy[0])))
    steps = polyline_steps(xy)
    local = float(np.median(np.concatenate((steps[:3], steps[-3:]))))
    straight = f"The course is closed by a straight of {gap:.1f} m from its last point to its first."
    if repeated:
        return (points if gap <= ORDINARY_GAP * local else points.noted(straight)), np.empty((0, 2))
    out, into = _end_directions(xy, DIRECTION_TOLERANCES * tolerance)
    line = xy[0] - xy[-1]
    turns = _signed_turn(out, line), _signed_turn(line, into)
    allowed = max(CLOSING_GAPS * float(steps.max()), CLOSING_PART * (float(steps.sum()) + gap))
    if gap > allowed and max(map(abs, turns)) >= STRAIGHT_JOIN:
        for index, other in ((0, np.hypot(*(xy[-1] - xy[1]))), (-1, np.hypot(*(xy[-2] - xy[0])))):
            if other <= allowed:
                raise InputError(
                    points.source, points.place(index), f"the point lies {gap:.1f} m off: without it the ends of the lap would meet",
                    "correct it or delete it",
                )  # fmt: skip
        raise InputError(
            points.source, "",
            f"the course is closed but its end lies {gap:.1f} m from its start (allowed {allowed:.1f} m, or a straight on from the end)",
            "complete the lap, repeat the first point as the last if a straight lies between, or set closed to false",
        )  # fmt: skip
    aside = _offset(xy, DIRECTION_TOLERANCES * tolerance)
    askew = gap <= max(NEAR_STEPS * local, REACH_TOLERANCES * tolerance) or max(map(abs, turns)) >= STRAIGHT_JOIN
    if askew and aside > tolerance and gap < BRIDGE_LENGTHS * aside:
        station = np.concatenate(([0.0], np.cumsum(steps)))
        give_up = 0.5 * BRIDGE_LENGTHS * aside
        inside = np.flatnonzero((station >= give_up) & (station <= station[-1] - give_up))
        if len(inside) < max(FEWEST_POINTS, 0.7 * len(points)):
            inside = np.arange(len(points))
        points = points.taken(inside)
        xy = points.xy
        gap = float(np.hypot(*(xy[-1] - xy[0])))
        out, into = _end_directions(xy, DIRECTION_TOLERANCES * tolerance)
    elif gap <= ORDINARY_GAP * local:
        return points, np.empty((0, 2))
    elif _closed_straight(xy, gap, turns, tolerance):
        return points.noted(straight), np.empty((0, 2))
    part = np.linspace(0.0, 1.0, max(int(np.ceil(gap / local)), 2) + 1)[1:-1, None]
    bridge = (
        (2 * part**3 - 3 * part**2 + 1) * xy[-1] + (part**3 - 2 * part**2 + part) * gap * out
        + (3 * part**2 - 2 * part**3) * xy[0] + (part**3 - part**2) * gap * into
    )  # fmt: skip
    return points.noted(f"Between the end and the start {gap:.1f} m were bridged by a smooth curve."), bridge
