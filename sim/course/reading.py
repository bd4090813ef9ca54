"""From a file to a course."""

from __future__ import annotations

from collections.abc import Callable
from math import isfinite
from pathlib import Path

import numpy as np

from sim.course import csv_file, gpx_file
from sim.course.centreline import LONGEST_COURSE, Course, SampledLine, sample_line, tightest
from sim.course.cleaning import crowds_merged, polyline_steps, refuse_astray, without_repeats
from sim.course.elevation import height_and_slope, without_false_heights
from sim.course.laps import ends_joined, one_lap
from sim.course.points import PointList
from sim.course.smoothing import gaps_filled, noise_length, smooth_line
from sim.errors import InputError

SMALLEST_COURSE = 5.0  # [m]; the car itself is about 2 m long
SMALLEST_RADIUS = 1.0  # [m]; below it no car of this kind can be driven: the line turns back on itself
COARSEST_TOLERANCE = 0.05  # of the width of a course: above it the shape is lost
FINEST_TOLERANCE = 1e-4  # [m]; nobody surveys a road finer
FINEST_PART = 0.1  # of the smoothing length: points nearer together say nothing more, and the equations lose digits
SMALLEST_SCALE, LARGEST_SCALE = 1e-3, 1e3
SCATTER_TOLERANCES = 2.0  # points that lie farther off than this many tolerances were not drawn as they were said to be
NOTED_LENGTHENING = 0.005  # of the line against the polyline through its points

# a new format needs a file with a function from a path to a PointList, and a line here
READERS: dict[str, Callable[[Path], PointList]] = {
    ".csv": csv_file.read_points,
    ".txt": csv_file.read_points,
    ".tsv": csv_file.read_points,
    ".gpx": gpx_file.read_points,
}


def _refuse_absurd_size(points: PointList) -> None:
    width = float(max(np.ptp(points.x), np.ptp(points.y)))
    length = float(polyline_steps(points.xy).sum())
    if width < SMALLEST_COURSE:
        raise InputError(
            points.source, "", f"the whole course lies within {width:.2g} m", "check that x_m and y_m are in metres, and the scale"
        )
    if length > LONGEST_COURSE:
        raise InputError(
            points.source, "", f"the course is {length / 1000:.0f} km long, above {LONGEST_COURSE / 1000:.0f} km",
            "check that x_m and y_m are in metres, and the scale, or cut the recording down to the course",
        )  # fmt: skip


def _refuse_coarse_tolerance(points: PointList, tolerance: float) -> None:
    width = float(max(np.ptp(points.x), np.ptp(points.y)))
    if tolerance > COARSEST_TOLERANCE * width:
        raise InputError(
            points.source,
            "",
            f"a line tolerance of {tolerance:g} m is too coarse for a course {width:.2g} m wide",
            "give a smaller course.line_tolerance_m",
        )


def _distances(points: PointList, line: SampledLine) -> np.ndarray:
    """Distance of each point from the sampled line, shape (n,) [m]."""
    from scipy.spatial import cKDTree

    node = np.column_stack((line.x, line.y))
    nearest = cKDTree(node).query(points.xy)[1]
    best = np.full(len(points), np.inf)
    for side in (-1, 0):
        first = np.clip(nearest + side, 0, len(node) - 2)
        along = node[first + 1] - node[first]
        part = np.clip(np.sum((points.xy - node[first]) * along, axis=1) / np.sum(along**2, axis=1), 0.0, 1.0)
        best = np.minimum(best, np.hypot(*(points.xy - node[first] - part[:, None] * along).T))
    return best


def _refuse_undrivable(points: PointList, line: SampledLine, radius: float, station: float) -> None:
    """Refuse a line that turns on itself."""
    if radius < SMALLEST_RADIUS:
        place = int(np.argmin(np.abs(line.station - station)))
        point = int(np.argmin(np.hypot(points.x - line.x[place], points.y - line.y[place])))
        raise InputError(
            points.source, points.place(point), f"the line has a corner or doubles back: it turns within a radius of {radius:.2f} m",
            "lay points along the bend, correct them, or give a larger course.line_tolerance_m if they are noise",
        )  # fmt: skip


def _widths(
    points: PointList, point_station: np.ndarray, line: SampledLine, length: float, closed: bool
) -> tuple[np.ndarray | None, np.ndarray | None]:
    """Left and right width at the nodes, linear between the points [m]."""

    def at_nodes(width: np.ndarray | None) -> np.ndarray | None:
        return None if width is None else np.interp(line.source_station, point_station, width, period=length if closed else None)

    return at_nodes(points.left_width), at_nodes(points.right_width)


def read_course(
    path: Path, *, closed: bool, scale: float = 1.0, line_tolerance: float | None = None, height_tolerance: float | None = None,
    name: str | None = None,
) -> Course:  # fmt: skip
    """Read a course from a file of points.

    path : CSV, TSV or text table, or GPX recording, told by its suffix
    closed : one lap of a circuit; a recording of several laps is cut to one
    scale : factor on the course: on x and y, on height so that slopes stay, and on widths
    line_tolerance : how far the points are taken to lie off the true line (root mean square), before scaling; by default
        csv_file.LINE_TOLERANCE or gpx_file.LINE_TOLERANCE, the former never more than itself after scaling [m]
    height_tolerance : how far the heights are taken to lie off the true ones (root mean square), before scaling; by default
        what the file's own heights show [m]
    name : what the reports call the course; by default the file's name without its suffix
    Returns the course. What was dropped, joined, cut or smoothed stands in its notes.
    Raises InputError, naming line or point, where the file cannot be used whole.
    """
    path = Path(path)
    source = str(path)
    if not (isfinite(scale) and SMALLEST_SCALE <= scale <= LARGEST_SCALE):
        bounds = f"{SMALLEST_SCALE:g} and {LARGEST_SCALE:g}"
        raise InputError(source, "", f"scale {scale:g} is not between {bounds}", "give the scale as a factor")
    if line_tolerance is not None and not (isfinite(line_tolerance) and line_tolerance > 0.0):
        raise InputError(source, "", f"course.line_tolerance_m: {line_tolerance:g} is not above 0", "give it in metres, such as 0.05")
    if height_tolerance is not None and not (isfinite(height_tolerance) and height_tolerance >= 0.0):
        raise InputError(source, "", f"course.height_tolerance_m: {height_tolerance:g} is below 0", "give it in metres, such as 0.1")
    reader = READERS.get(path.suffix.lower())
    if reader is None:
        raise InputError(source, "", f'files ending in "{path.suffix}" are not read', "give a file ending in " + ", ".join(READERS))
    recorded = without_false_heights(without_repeats(reader(path)))
    points = recorded.scaled(scale)
    tolerance = max(FINEST_TOLERANCE, points.line_tolerance) if line_tolerance is None else max(FINEST_TOLERANCE, line_tolerance * scale)
    if reader is csv_file.read_points and line_tolerance is None:
        # a drawing at a scale is no coarser on the road than one in metres
        tolerance = min(tolerance, csv_file.LINE_TOLERANCE)
    _refuse_coarse_tolerance(points, tolerance)
    lap, bridge = points, np.empty((0, 2))
    if closed:
        # A lap is told at the size at which it was recorded: how near two roads may lie does not change with the scale.
        lap, bridge = ends_joined(one_lap(recorded, tolerance / scale), tolerance / scale)
        lap, bridge = lap.scaled(scale), bridge * scale
    finest = max(tolerance, FINEST_PART * noise_length(tolerance))
    merged = crowds_merged(lap, finest, closed=closed)
    refuse_astray(merged, tolerance, closed=closed)
    _refuse_absurd_size(merged)

    knots, given = gaps_filled(np.vstack((merged.xy, bridge)), finest, closed=closed)
    given[np.flatnonzero(given)[len(merged) :]] = False
    smooth = smooth_line(knots, given, tolerance, closed=closed, source=source)
    line = sample_line(smooth.heading_at, smooth.length, closed=closed, first_heading_kept=False).centred_on(smooth.centroid)
    radius, station = tightest(line.station, line.curvature)
    _refuse_undrivable(lap, line, radius, station)
    length = float(line.station[-1])
    ring = np.vstack((knots, knots[:1])) if closed else knots
    lengthening = length / float(polyline_steps(ring).sum()) - 1.0
    residual = float(np.sqrt(np.mean(_distances(lap, line) ** 2)))
    if residual > SCATTER_TOLERANCES * tolerance:
        raise InputError(
            source, "", f"the points scatter by {residual:.2g} m about a line, more than the line tolerance of {tolerance:.2g} m",
            f"give a course.line_tolerance_m of about {residual / scale:.1g}, or better points",
        )  # fmt: skip
    height, slope, height_notes = height_and_slope(
        merged.height, smooth.point_station, line.source_station, scale, closed=closed,
        tolerance=None if height_tolerance is None else height_tolerance * scale,
    )  # fmt: skip
    left, right = _widths(merged, smooth.point_station, line, smooth.length, closed)
    notes = [
        *merged.notes,
        f"Points were smoothed with a line tolerance of {tolerance:g} m (smoothing length {smooth.smoothing_length:.2g} m); "
        f"they lie {residual:.2g} m off the line (root mean square).",
        f"The smallest radius is {radius:.1f} m, at {station:.0f} m." if isfinite(radius) else "The course is straight.",
        *height_notes,
    ]
    if abs(lengthening) > NOTED_LENGTHENING:
        relation = "longer" if lengthening > 0.0 else "shorter"
        notes.append(f"The line is {100 * abs(lengthening):.1f} % {relation} than the straight steps between its points.")
    return Course(
        name=path.stem if name is None else name, closed=closed, length=length, station=line.station, x=line.x, y=line.y,
        heading=line.heading, curvature=line.curvature, height=height, slope=slope, left_width=left, right_width=right,
        smoothing_residual=residual, smallest_radius=radius, smallest_radius_station=station, notes=tuple(notes),
    )  # fmt: skip
