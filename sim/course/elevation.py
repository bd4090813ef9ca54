"""Height and slope out of what a file says about height."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sim.course.cleaning import counted, polyline_steps
from sim.course.points import PointList
from sim.course.spline import PenalisedSpline

UNKNOWN_MARKS = (-9999.0, -999.0, -32768.0, 32767.0, 9999.0, 99999.0, -99999.0)  # what programs write for "unknown"
HIGHEST, LOWEST = 9000.0, -450.0  # [m]; nothing on land lies beyond
STEEPEST = 0.30  # [-]; steeper than roads are built
CLIFF = 1.0  # [-]; a height that stands out by a steeper step on both sides is false
SMALLEST_JUMP = 3.0  # [m]; less is noise of a recorder, which the smoothing takes care of
FEWEST_KNOWN = 0.7  # with fewer heights than this part the course is taken as level
LARGEST_GAP = 0.2  # of the length: a longer stretch without height cannot be guessed
LARGEST_STEP_SLOPE = 0.1  # [-]; so much the road itself may rise between the last point and the first
LARGEST_DRIFT = 0.02  # of the length: what a barometer may drift over a lap
SMOOTHING_PART = 1.0 / 25.0  # of the length
SHORTEST_SMOOTHING, LONGEST_SMOOTHING = 5.0, 20.0  # [m]; whole-metre steps on a slope of 5 % stand 20 m apart
STEPS_IN_SMOOTHING = 6.0  # of its grid: fine against it; the rounding of its equations grows as the sixth power


def without_false_heights(points: PointList) -> PointList:
    """Mark heights that cannot be as unknown.

    points : in metres as in the file, without repeats
    Returns the points with NaN for marks such as -9999, for heights beyond any land, for runs of one value that stand out
    by a cliff on both sides, and for runs of exactly 0 that the road would have to fall to; a note says how many.
    """
    if points.height is None:
        return points
    height = points.height.copy()
    height[np.isin(height, UNKNOWN_MARKS) | (height > HIGHEST) | (height < LOWEST)] = np.nan
    station = np.concatenate(([0.0], np.cumsum(polyline_steps(points.xy))))
    known = np.flatnonzero(np.isfinite(height))
    if len(known) > 1:
        value, place = height[known], station[known]
        jump = np.diff(value)
        slope = np.abs(jump) / np.maximum(np.diff(place), 1.0)
        slope[np.abs(jump) < SMALLEST_JUMP] = 0.0
        first = np.concatenate(([0], np.flatnonzero(jump) + 1))
        last = np.append(first[1:], len(known)) - 1
        before = np.where(first > 0, slope[np.maximum(first - 1, 0)], 0.0)
        after = np.where(last < len(known) - 1, slope[np.minimum(last, len(slope) - 1)], 0.0)
        out = np.sign(value[first] - value[np.maximum(first - 1, 0)]) == np.sign(value[last] - value[np.minimum(last + 1, len(known) - 1)])
        false = (out & (before > CLIFF) & (after > CLIFF)) | ((value[first] == 0.0) & (np.maximum(before, after) > STEEPEST))
        for start, end in zip(first[false], last[false], strict=True):
            height[known[start : end + 1]] = np.nan
    dropped = int(np.isfinite(points.height).sum() - np.isfinite(height).sum())
    if not dropped:
        return points
    return replace(points, height=height).noted(f"{counted(dropped, 'height')} false (a mark for unknown) and left out.")


def _level(course_station: np.ndarray, note: str) -> tuple[np.ndarray, np.ndarray, tuple[str, ...]]:
    return np.zeros_like(course_station), np.zeros_like(course_station), (note,)


def height_and_slope(
    height: np.ndarray | None, point_station: np.ndarray, course_station: np.ndarray, scale: float, *, closed: bool
) -> tuple[np.ndarray, np.ndarray, tuple[str, ...]]:
    """Smooth the heights much harder than the line, and refuse to believe them where they make no road.

    height : of the points, NaN where unknown, or None, shape (m,) [m]
    point_station : station of the points, increasing, shape (m,) [m]
    course_station : grid of the course, shape (n,) [m]
    scale : of the course against its file [-]
    closed : height and slope are periodic
    Returns height [m] and slope [-], each of shape (n,), and notes; zeros where the heights cannot be used.

    A smoothing spline over station (least squares plus length^6 times the squared third derivative) with a
    length of a twenty-fifth of the course, within SHORTEST_SMOOTHING and LONGEST_SMOOTHING.
    """
    from scipy.interpolate import CubicSpline

    length = float(course_station[-1])
    if height is None or not np.isfinite(height).any():
        return _level(course_station, "The file holds no height: the course is taken as level.")
    known = np.isfinite(height)
    place, value = point_station[known], height[known]
    edge = np.concatenate(([place[-1] - length], place)) if closed else np.concatenate(([0.0], place, [length]))
    if known.mean() < FEWEST_KNOWN or np.diff(edge).max() > max(LARGEST_GAP * length, 2.0 * np.diff(point_station).max()):
        return _level(course_station, "Too many heights are unknown: the course is taken as level.")
    if np.ptp(value) == 0.0:
        return np.full_like(course_station, value[0]), np.zeros_like(course_station), ("All heights are equal.",)
    notes = []
    if closed:
        # a barometer drifts: what is missing between the last height and the first is spread over the lap
        gap = length - (place[-1] - place[0])
        drift = float(value[-1] - value[0])
        bridged = LARGEST_STEP_SLOPE * gap
        if abs(drift) > bridged:
            if abs(drift) > LARGEST_DRIFT * length:
                return _level(course_station, f"The heights of start and end differ by {abs(drift):.1f} m: the course is taken as level.")
            value = value - drift * (place - place[0]) / (place[-1] - place[0])
            notes.append(f"The heights of start and end differ by {abs(drift):.1f} m; this was spread over the lap.")
    smoothing = scale * float(np.clip(SMOOTHING_PART * length / scale, SHORTEST_SMOOTHING, LONGEST_SMOOTHING))
    cells = int(np.ceil(STEPS_IN_SMOOTHING * length / smoothing))
    grid = np.linspace(0.0, length, cells + 1)
    middle = float(np.mean(value))  # height above the sea has nothing to do with the road, but would be rounded with it
    even = np.interp(grid, place, value - middle, period=length if closed else None)
    spline = PenalisedSpline(grid[:-1] if closed else grid, length if closed else None)
    smooth = spline.curve(spline.fit((even[:-1] if closed else even)[:, None], smoothing))(grid, 0)[:, 0]
    if closed:
        smooth[-1] = smooth[0]
    curve = CubicSpline(grid, smooth, bc_type="periodic" if closed else "not-a-knot")
    slope = curve(course_station, 1)
    steepest = float(np.abs(slope).max())
    if steepest > STEEPEST:
        at = float(course_station[np.argmax(np.abs(slope))])
        return _level(
            course_station,
            f"The heights make a slope of {100 * steepest:.0f} % at {at:.0f} m, steeper than a road: the course is taken as level.",
        )
    notes.append(f"Heights were smoothed over about {smoothing:.0f} m; the steepest slope is {100 * steepest:.1f} %.")
    return curve(course_station) + middle, slope, tuple(notes)
