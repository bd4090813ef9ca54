"""Points made fit for a line: repeats dropped, crowds merged, far-off points named."""

from __future__ import annotations

from math import hypot

import numpy as np

from sim.course.points import PointList
from sim.errors import InputError

FEWEST_POINTS = 4
SMALLEST_STEP = 0.3  # of the merging distance
SHARP_TURN = np.radians(100.0)  # a road that turns so far at one point turns back on itself
BALANCED_TURN = np.radians(45.0)  # before and after an astray point the line goes on in about its old direction
ASTRAY_TOLERANCES = 5.0  # a point farther off than this many tolerances is no noise
ASTRAY_LEAST = 1.0  # [m]; less is noise even where the stated tolerance is finer


def polyline_steps(xy: np.ndarray) -> np.ndarray:
    """Distances from point to point.

    xy : shape (n, 2) [m]
    Returns shape (n - 1,) [m].
    """
    return np.hypot(*np.diff(xy, axis=0).T)


def without_repeats(points: PointList) -> PointList:
    """Drop each point that repeats the one before it.

    points : as read
    Returns the points that remain, with a note of how many went.
    Raises InputError where fewer than FEWEST_POINTS distinct points are left.
    """
    keep = np.ones(len(points), dtype=bool)
    if len(points):
        keep[1:] = polyline_steps(points.xy) > 0.0
    if len(np.unique(points.xy[keep], axis=0)) < FEWEST_POINTS:
        raise InputError(points.source, "", f"holds fewer than {FEWEST_POINTS} different points", "give at least that many along the line")
    dropped = len(points) - int(keep.sum())
    kept = points.taken(keep)
    return kept.noted(f"{counted(dropped, 'repeated point')} dropped.") if dropped else kept


def counted(number: int, thing: str) -> str:
    """A number and its noun with the verb.

    number : how many [-]
    thing : the noun in the singular
    Returns for instance "1 repeated point was" or "3 repeated points were".
    """
    return f"1 {thing} was" if number == 1 else f"{number} {thing}s were"


def crowds_merged(points: PointList, distance: float, *, closed: bool) -> PointList:
    """Merge runs of points that stay near their first: a recorder at rest, or one that samples faster than it resolves.

    points : without repeats
    distance : points nearer than this to the first of their run are merged into their mean [m]
    closed : the last point is followed by the first
    Returns one point a run, with a note of how many were merged.
    Raises InputError where fewer than FEWEST_POINTS are left.
    """
    places = list(zip(points.x.tolist(), points.y.tolist(), strict=True))
    starts, first = [0], places[0]
    for index, place in enumerate(places[1:], start=1):
        if hypot(place[0] - first[0], place[1] - first[1]) >= distance:
            first = place
            starts.append(index)
    run = np.zeros(len(places), dtype=int)
    run[starts[1:]] = 1
    run = np.cumsum(run)
    count = np.bincount(run)
    merged = points.taken(np.array(starts))
    for name in ("x", "y", "height", "left_width", "right_width"):
        column = getattr(points, name)
        if column is not None:
            known = np.isfinite(column)
            total = np.bincount(run, np.where(known, column, 0.0))
            number = np.bincount(run, known.astype(float))
            getattr(merged, name)[:] = np.where(number > 0, total / np.maximum(number, 1), np.nan)
    # the means of two runs that a point wanders between may fall together
    apart = polyline_steps(merged.xy) > SMALLEST_STEP * distance
    keep = np.concatenate(([True], apart))
    if closed and hypot(merged.x[-1] - merged.x[0], merged.y[-1] - merged.y[0]) <= SMALLEST_STEP * distance:
        keep[-1] = False
    merged = merged.taken(keep)
    if len(merged) < FEWEST_POINTS:
        raise InputError(
            points.source,
            "",
            f"fewer than {FEWEST_POINTS} points stand farther apart than {distance:g} m",
            "give more points or a smaller course.line_tolerance_m",
        )
    crowded = int(count[count > 1].sum())
    if not crowded:
        return merged
    return merged.noted(f"{crowded} points stand nearer together than {distance:g} m and were merged into {int((count > 1).sum())}.")


def refuse_astray(points: PointList, tolerance: float, *, closed: bool) -> None:
    """Refuse a line in which one point lies far off: the line runs out to it and back, and on in its old direction.

    points : without repeats and crowds
    tolerance : of the line [m]
    closed : the last point is followed by the first
    Raises InputError with the place of the worst such point. Judged in metres, not against the usual step.
    """
    xy = points.xy
    ring = np.vstack((xy[-2:], xy, xy[:2])) if closed else xy
    step = np.diff(ring, axis=0)
    length = np.hypot(*step.T)
    heading = np.arctan2(step[:, 1], step[:, 0])
    turn = (np.diff(heading) + np.pi) % (2.0 * np.pi) - np.pi  # at ring point 1 ..
    middle = turn[1:-1]
    shorter = np.minimum(length[1:-2], length[2:-1])
    astray = (
        (np.abs(middle) > SHARP_TURN)
        & (np.abs(turn[:-2] + middle + turn[2:]) < BALANCED_TURN)
        & (np.sign(turn[:-2]) != np.sign(middle))
        & (np.sign(turn[2:]) != np.sign(middle))
        & (shorter > max(ASTRAY_TOLERANCES * tolerance, ASTRAY_LEAST))
    )
    if not astray.any():
        return
    worst = int(np.argmax(np.where(astray, shorter, 0.0)))
    a, b, c = ring[worst + 1 : worst + 4]
    chord = c - a
    along = np.clip(np.dot(b - a, chord) / max(np.dot(chord, chord), 1e-300), 0.0, 1.0)
    off = float(np.hypot(*(b - a - along * chord)))
    index = worst if closed else worst + 2
    raise InputError(
        points.source, points.place(index), f"the point lies {off:.1f} m off the line between its neighbours",
        "correct it or delete it, or give a larger course.line_tolerance_m if it is noise",
    )  # fmt: skip
