"""Height and slope out of what a file says about height."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sim.course.cleaning import counted, polyline_steps
from sim.course.height_noise import ROUNDING_DEVIATION, jumps, rounding_step, scatter
from sim.course.points import PointList
from sim.course.spline import PenalisedSpline

if TYPE_CHECKING:
    from scipy.interpolate import CubicSpline

UNKNOWN_MARKS = (-9999.0, -999.0, -32768.0, 32767.0, 9999.0, 99999.0, -99999.0)  # what programs write for "unknown"
HIGHEST, LOWEST = 9000.0, -450.0  # [m]; nothing on land lies beyond
STEEPEST = 0.30  # [-]; steeper than roads are built
ORDINARY_SLOPE = 0.15  # [-]; heights that jump as no road does are smoothed until they are no steeper; a judgement
CLIFF = 1.0  # [-]; a height that stands out by a steeper step on both sides is false
SMALLEST_JUMP = 3.0  # [m]; less is noise of a recorder, which the smoothing takes care of
FEWEST_KNOWN = 0.7  # with fewer heights than this part the course is taken as level
LARGEST_GAP = 0.2  # of the length: a longer stretch without height cannot be guessed
LARGEST_STEP_SLOPE = 0.1  # [-]; so much the road itself may rise between the last point and the first
LARGEST_DRIFT = 0.02  # of the length: what a barometer may drift over a lap
EASING = 0.5  # [m]; even a clean crest is rounded so far: a third of a wheelbase, over which a car is on both sides of it
SMOOTHING_PART = 1.0 / 12.0  # of the length, and no more than ...
LONGEST_SMOOTHING = 60.0  # [m] in the file; whole-metre steps on a slope of 1 % stand 100 m apart, and a wave of 2 pi x 60 m passes
LEAST_SMOOTHING = 1.0  # [m]; of the spline: with less it says nothing but the heights themselves
FLAT = 1.03  # growth of the distance from one tried smoothing to the next: what is smoothed away there is scatter, no hill
SLACK = 1.1  # of the scatter, which is known to about a tenth: with a tolerance below it the line would follow it
LEAST_FREEDOM = 0.2  # of the points: below it nothing can be said of their scatter
SEEN_SCATTER = 1e-3  # [m]; less is not worth a word
SMOOTHING_FACTOR = 1.25  # from one tried smoothing to the next
STEPS_IN_EASING, BINOMIAL = 2.0, np.array([1.0, 4.0, 6.0, 4.0, 1.0]) / 16.0  # of the grid on which a clean crest is rounded
FEWEST_CELLS = 12
STEPS_IN_SMOOTHING = 6.0  # of its grid: fine against it; the rounding of its equations grows as the sixth power
MOST_STEPS = 12_000  # of the grid, which keeps a course of 100 km quick


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


@dataclass(frozen=True)
class _Heights:
    """Known heights along a course, with straight lines between them: place and value [m], length of the course [m]."""

    place: np.ndarray
    value: np.ndarray
    length: float
    closed: bool

    def knots(self) -> tuple[np.ndarray, np.ndarray]:
        """Places from at most 0 to at least the length, and values there [m]."""
        if self.closed:
            place = np.concatenate(([self.place[-1] - self.length], self.place, [self.place[0] + self.length]))
            return place, np.concatenate((self.value[-1:], self.value, self.value[:1]))
        inside = int(self.place[0] > 0.0), int(self.place[-1] < self.length)
        return np.concatenate(([0.0][: inside[0]], self.place, [self.length][: inside[1]])), np.concatenate(
            (self.value[:1][: inside[0]], self.value, self.value[-1:][: inside[1]])
        )

    def climb(self) -> float:
        """Metres climbed from height to height."""
        ring = np.append(self.value, self.value[:1]) if self.closed else self.value
        return float(np.maximum(np.diff(ring), 0.0).sum())

    def cell_means(self, grid: np.ndarray) -> np.ndarray:
        """Mean heights over the cells around the nodes of an even grid [m]; at the ends of an open course the heights there.

        So that every point between two nodes counts where points stand closer than nodes.
        """
        place, value = self.knots()
        step = np.diff(place)
        total = np.concatenate(([0.0], np.cumsum(0.5 * step * (value[1:] + value[:-1]))))

        def up_to(stations: np.ndarray) -> np.ndarray:
            cell = np.clip(np.searchsorted(place, stations, side="right") - 1, 0, len(step) - 1)
            along = stations - place[cell]
            rise = (value[cell + 1] - value[cell]) / step[cell]
            return total[cell] + along * (value[cell] + 0.5 * along * rise)

        half = 0.5 * grid[1]
        mean = (up_to(grid[1:-1] + half) - up_to(grid[1:-1] - half)) / (2.0 * half)
        first, last = np.interp(grid[[0, -1]], place, value)
        if self.closed:
            first = last = (up_to(grid[-1:])[0] - up_to(grid[-1:] - half)[0] + up_to(np.array([half]))[0] - up_to(np.zeros(1))[0]) / grid[1]
        return np.concatenate(([first], mean, [last]))

    def smoothed(self, smoothing: float) -> CubicSpline:
        """The heights as a smooth function of the station, a cubic spline.

        smoothing : length of the smoothing; with EASING an average over about that length, which overshoots nowhere [m]
        """
        from scipy.interpolate import CubicSpline
        from scipy.ndimage import convolve1d

        eased = smoothing <= EASING
        steps = STEPS_IN_EASING if eased else STEPS_IN_SMOOTHING
        cells = max(int(np.ceil(min(steps * self.length / smoothing, MOST_STEPS))), FEWEST_CELLS)
        grid = np.linspace(0.0, self.length, cells + 1)
        even = self.cell_means(grid)
        if eased:
            smooth = even.copy()
            smooth[:-1] = convolve1d(even[:-1], BINOMIAL, mode="wrap") if self.closed else smooth[:-1]
            if not self.closed:
                smooth[2:-2] = convolve1d(even, BINOMIAL)[2:-2]
        else:
            spline = PenalisedSpline(grid[:-1] if self.closed else grid, self.length if self.closed else None)
            smooth = spline.curve(spline.fit((even[:-1] if self.closed else even)[:, None], smoothing))(grid, 0)[:, 0]
        if self.closed:
            smooth[-1] = smooth[0]
        return CubicSpline(grid, smooth, bc_type="periodic" if self.closed else "not-a-knot")

    def distance(self, curve: CubicSpline) -> float:
        """Root mean square distance of the heights from a curve [m]."""
        return float(np.sqrt(np.mean((curve(self.place) - self.value) ** 2)))


def _longest_within(heights: _Heights, lengths: np.ndarray, tolerance: float, *, exactly: bool) -> int:
    """Number of the longest smoothing that stays within the tolerance [m]; 0 where none does.

    lengths holds the smoothings, increasing [m]. A tolerance that is estimated, not exactly meant, may lie below the scatter; then the
    line would follow it, so that smoothing goes on as long as the distance, made good for the free numbers of the line (one for
    three smoothing lengths; derived here from the share of each wave that the spline passes), grows by less than FLAT.
    """

    def distance(number: int) -> float:
        return heights.distance(heights.smoothed(float(lengths[number])))

    def scattered(number: int) -> float:
        free = heights.length / (3.0 * float(lengths[number]) * len(heights.place))
        return distance(number) / float(np.sqrt(max(1.0 - free, LEAST_FREEDOM)))

    low, high = 0, len(lengths)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if distance(middle) <= tolerance else (low, middle)
    if low and not exactly:
        here = scattered(low)
        while low + 1 < len(lengths) and (after := scattered(low + 1)) <= FLAT * here:
            low, here = low + 1, after
    return low


def _without_drift(place: np.ndarray, value: np.ndarray, length: float) -> np.ndarray:
    """Heights of a lap without the drift of a barometer: what is missing between the last and the first is spread over the lap.

    But for what the road itself rises from the last point to the first, by the slopes beside them. place, value and length in [m].
    """
    gap, drift = length - (place[-1] - place[0]), value[-1] - value[0]
    slopes = np.diff(value)[[0, -1]] / np.diff(place)[[0, -1]]
    missing = drift + gap * float(np.clip(slopes.mean(), -LARGEST_STEP_SLOPE, LARGEST_STEP_SLOPE))
    return value - missing * (place - place[0]) / length


def height_and_slope(
    height: np.ndarray | None, point_station: np.ndarray, course_station: np.ndarray, scale: float, *, closed: bool,
    tolerance: float | None = None,
) -> tuple[np.ndarray, np.ndarray, tuple[str, ...]]:  # fmt: skip
    """Smooth the heights by what their own noise asks for, and refuse to believe them where they make no road.

    height : of the points, NaN where unknown, or None, shape (m,) [m]
    point_station : station of the points, increasing, shape (m,) [m]
    course_station : grid of the course, shape (n,) [m]
    scale : of the course against its file [-]
    closed : height and slope are periodic
    tolerance : how far the heights may lie off the smooth ones (root mean square) [m]; where None, the larger of what the
        file's rounding makes and of what its heights scatter and jump from point to point
    Returns height [m] and slope [-], each of shape (n,), and notes; zeros where the heights cannot be used.

    Straight lines between the heights, then a smoothing spline over station (least squares plus length^6 times the
    squared third derivative), as long as the tolerance allows: a clean crest keeps its height. Where no tolerance is given and
    the heights jump as no road does, they are smoothed on until their slope is an ordinary one.
    """
    length = float(course_station[-1])
    if height is None or not np.isfinite(height).any():
        return _level(course_station, "The file holds no height: the course is taken as level.")
    known = np.isfinite(height)
    place, value = point_station[known], height[known]
    ends = [length - point_station[-1] + point_station[0]] if closed else []
    edge = np.concatenate(([place[-1] - length], place)) if closed else np.concatenate(([0.0], place, [length]))
    longest_step = max(np.diff(point_station).max(), *ends) if closed else np.diff(point_station).max()
    if known.mean() < FEWEST_KNOWN or np.diff(edge).max() > max(LARGEST_GAP * length, 2.0 * longest_step):
        return _level(course_station, "Too many heights are unknown: the course is taken as level.")
    if np.ptp(value) == 0.0:
        return np.full_like(course_station, value[0]), np.zeros_like(course_station), ("All heights are equal.",)
    step, jump = scale * rounding_step(value / scale), jumps(place, value, STEEPEST)
    spread = max(scatter(place, value, step), jump)
    notes = []
    if closed:
        gap, drift = length - (place[-1] - place[0]), float(value[-1] - value[0])
        if abs(drift) > LARGEST_DRIFT * length and abs(drift) > LARGEST_STEP_SLOPE * gap:
            return _level(course_station, f"The heights of start and end differ by {abs(drift):.1f} m: the course is taken as level.")
        if abs(drift) > LARGEST_STEP_SLOPE * gap:
            value = _without_drift(place, value, length)
            notes.append(f"The heights of start and end differ by {abs(drift):.1f} m; this was spread over the lap.")
    middle = float(np.mean(value))  # height above the sea has nothing to do with the road, but would be rounded with it
    heights = _Heights(place, value - middle, length, closed)
    longest = max(min(SMOOTHING_PART * length, LONGEST_SMOOTHING * scale), LEAST_SMOOTHING)
    tried = LEAST_SMOOTHING * SMOOTHING_FACTOR ** np.arange(1 + int(np.log(longest / LEAST_SMOOTHING) / np.log(SMOOTHING_FACTOR)))
    lengths = np.append(EASING, tried)
    allowed = max(ROUNDING_DEVIATION * step, SLACK * spread) if tolerance is None else tolerance
    chosen = _longest_within(heights, lengths, allowed, exactly=tolerance is not None)
    while True:
        curve = heights.smoothed(float(lengths[chosen]))
        slope = curve(course_station, 1)
        steepest = float(np.abs(slope).max())
        if steepest <= (ORDINARY_SLOPE if jump else STEEPEST) or tolerance is not None or chosen == len(lengths) - 1:
            break
        chosen += 1
    if steepest > STEEPEST:
        at = float(course_station[np.argmax(np.abs(slope))])
        return _level(
            course_station,
            f"The heights make a slope of {100 * steepest:.0f} % at {at:.0f} m, steeper than a road: the course is taken as level.",
        )
    smooth = curve(course_station)
    left = float(np.maximum(np.diff(smooth), 0.0).sum())
    cause = ""
    if tolerance is None and step > 0.0 and spread <= 0.5 * step:
        cause = f" (the file gives them in steps of {step / scale:.2g} m)"
    elif tolerance is None and spread > SEEN_SCATTER:
        verb = "jump" if jump == spread else "scatter"
        cause = f" (they {verb} by about {spread / scale:.2g} m in the file)"
    notes.append(
        f"Heights were smoothed over about {lengths[chosen]:.2g} m and lie {heights.distance(curve):.2g} m off the file's{cause}: "
        f"of {heights.climb():.2f} m of climb {left:.2f} m are left; the steepest slope is {100 * steepest:.1f} %."
    )
    return smooth + middle, slope, tuple(notes)
