"""The course as arrays over station, and the sampling that keeps heading, curvature and position consistent."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass, replace

import numpy as np

LONGEST_COURSE = 100e3  # [m]; anything longer is a slip of the units
FINEST_SPACING, WIDEST_SPACING = 0.1, 0.25  # [m]; ten stations a metre show a 1 m ramp of the curvature
FEWEST_CELLS = 8  # of a course of less than a metre, which would else be too few for its splines
MOST_FINE_STATIONS = 20_000  # beyond this many stations the grid widens towards WIDEST_SPACING
CLOSING_PRECISION = 1e-10  # relative to the length; rounding of the position sums stays below it
MOST_CLOSING_PASSES = 8  # three do for a line that can be driven


@dataclass(frozen=True)
class Course:
    """A centreline sampled on a uniform grid of true arc length.

    name : what the reports call it
    closed : the last node repeats the first point, one total turn later
    length : length of the centreline [m]
    station : 0 .. length inclusive, uniform, at most 0.25 m apart, shape (n,) [m]
    x, y : position, shape (n,) [m]
    heading : direction of travel, unwrapped; the trapezoid sum of the curvature, shape (n,) [rad]
    curvature : positive to the left, shape (n,) [1/m]
    height : zeros where unknown, shape (n,) [m]
    slope : dz/ds, positive uphill, shape (n,) [-]
    left_width, right_width : centreline to edge, or None where unknown, shape (n,) [m]
    smoothing_residual : root mean square distance of the read points from the line [m]
    smallest_radius, smallest_radius_station : tightest place; inf and 0 on a straight course [m]
    notes : plain sentences: what was dropped, joined, cut, smoothed, with which tolerance
    """

    name: str
    closed: bool
    length: float
    station: np.ndarray
    x: np.ndarray
    y: np.ndarray
    heading: np.ndarray
    curvature: np.ndarray
    height: np.ndarray
    slope: np.ndarray
    left_width: np.ndarray | None
    right_width: np.ndarray | None
    smoothing_residual: float
    smallest_radius: float
    smallest_radius_station: float
    notes: tuple[str, ...]


@dataclass(frozen=True)
class SampledLine:
    """A line on the uniform grid, before height and widths are added.

    station, x, y : shape (n,) [m]
    heading : shape (n,) [rad]
    curvature : shape (n,) [1/m]
    source_station : the station on the line that was sampled, shape (n,) [m]
    """

    station: np.ndarray
    x: np.ndarray
    y: np.ndarray
    heading: np.ndarray
    curvature: np.ndarray
    source_station: np.ndarray

    def centred_on(self, centroid: tuple[float, float]) -> SampledLine:
        """The same line, moved.

        centroid : x and y that the mean over arc length is brought to [m]
        Returns the moved line.
        """
        mean_x, mean_y = (np.trapezoid(one, self.station) / self.station[-1] for one in (self.x, self.y))
        return replace(self, x=self.x + (centroid[0] - mean_x), y=self.y + (centroid[1] - mean_y))


def grid_spacing(length: float) -> float:
    """Spacing aimed at for a course.

    length : length of the course [m]
    Returns the spacing, between FINEST_SPACING and WIDEST_SPACING [m].
    """
    return float(np.clip(length / MOST_FINE_STATIONS, FINEST_SPACING, WIDEST_SPACING))


def positions(station: np.ndarray, heading: np.ndarray, curvature: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Walk along a line whose curvature runs linearly from node to node.

    station : increasing, shape (n,) [m]
    heading : at the nodes, shape (n,) [rad]
    curvature : at the nodes, shape (n,) [1/m]
    Returns x and y from the origin, each of shape (n,) [m].
    Four-point Gauss rule in each cell, where the heading is a parabola; derived here.
    """
    abscissa, weight = np.polynomial.legendre.leggauss(4)
    part = 0.5 * (abscissa + 1.0)
    step = np.diff(station)[:, None]
    inside = heading[:-1, None] + step * (curvature[:-1, None] * part + 0.5 * (curvature[1:, None] - curvature[:-1, None]) * part**2)
    x = np.concatenate(([0.0], np.cumsum(0.5 * step[:, 0] * (np.cos(inside) @ weight))))
    y = np.concatenate(([0.0], np.cumsum(0.5 * step[:, 0] * (np.sin(inside) @ weight))))
    return x, y


def sample_line(
    heading_at: Callable[[np.ndarray], np.ndarray],
    length: float,
    *,
    closed: bool,
    first_heading_kept: bool,
) -> SampledLine:
    """Sample a line, given as heading over arc length, on the uniform grid.

    heading_at : heading [rad] at stations [m]; defined half a grid step beyond both ends (periodic plus the
        total turn on a closed course, carried on smoothly on an open one)
    length : length of the given line [m]
    closed : bring the last node onto the first
    first_heading_kept : the heading of the first node is exact (a written course starts where it says); otherwise the
        mean heading is, so that a line and its reverse give the same
    Returns the sampled line, starting at the origin.

    The curvature at a node is the mean over the cell around it, (heading(s+h/2) - heading(s-h/2))/h, and the heading
    there the mean of the two, which differs from heading(s) by h^2/8 times the rate of the curvature. So the trapezoid
    sum of the curvature is the heading without error, and the total turn is exact. A closed line misses its start by
    little (rounding, eased bends); it is brought onto it by stretching arc length by 1 + a cos(heading) + b sin(heading),
    which leaves every heading, and so every straight, as it is. Derived here.
    """
    cells = max(FEWEST_CELLS, int(np.ceil(length / grid_spacing(length))))
    fine = np.linspace(0.0, length, 4 * cells + 1)
    fine_heading = heading_at(fine)
    cosine, sine = np.cos(fine_heading), np.sin(fine_heading)
    stretch = np.zeros(2)
    sensitivity = np.array(
        [
            [np.trapezoid(cosine**2, fine), np.trapezoid(cosine * sine, fine)],
            [np.trapezoid(cosine * sine, fine), np.trapezoid(sine**2, fine)],
        ]
    )
    for _ in range(MOST_CLOSING_PASSES):
        rate = 1.0 + stretch[0] * cosine + stretch[1] * sine
        stretched = np.concatenate(([0.0], np.cumsum(0.5 * (rate[1:] + rate[:-1]) * np.diff(fine))))
        station = np.linspace(0.0, stretched[-1], cells + 1)
        half = 0.5 * station[1]
        edge = np.concatenate(([-half], station[:-1] + half, [station[-1] + half]))
        source_edge = np.interp(edge, stretched, fine)
        source_edge[0], source_edge[-1] = -half / rate[0], length + half / rate[-1]
        edge_heading = heading_at(source_edge)
        curvature = np.diff(edge_heading) / (2.0 * half)
        heading = 0.5 * (edge_heading[1:] + edge_heading[:-1])
        if first_heading_kept:
            heading += fine_heading[0] - heading[0]
        if closed:
            curvature[-1] = curvature[0]
        x, y = positions(station, heading, curvature)
        miss = np.array([x[-1], y[-1]])
        if not closed or np.hypot(*miss) < CLOSING_PRECISION * length:
            break
        stretch = stretch - np.linalg.solve(sensitivity, miss)
    if closed:
        x[-1], y[-1] = x[0], y[0]
    return SampledLine(station, x, y, heading, curvature, np.interp(station, stretched, fine))


def tightest(station: np.ndarray, curvature: np.ndarray) -> tuple[float, float]:
    """Smallest radius of a line and where it lies.

    station : shape (n,) [m]
    curvature : shape (n,) [1/m]
    Returns the radius [m] and its station [m]; inf and 0 on a straight line (radius above 1e9 m).
    """
    place = int(np.argmax(np.abs(curvature)))
    most = float(abs(curvature[place]))
    return (1.0 / most, float(station[place])) if most > 1e-9 else (float("inf"), 0.0)


def course_bytes(course: Course) -> bytes:
    """All of a course, for the name of what was worked out on it.  course : Course."""
    parts = (
        name.encode() + (part.tobytes() if isinstance(part, np.ndarray) else repr(part).encode()) for name, part in asdict(course).items()
    )
    return b"".join(parts)
