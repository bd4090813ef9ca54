"""The smoothing spline through the points, and the line that a car can be driven along."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sim.course.centreline import positions
from sim.course.spline import Curve, PenalisedSpline
from sim.errors import InputError

PASSES = 3  # of the arc length: it changes by (step / radius)^2 / 24 first, then by the square of that
SHORTEST_WAVE_RADIUS = 2.5  # [m]; a wave of the tolerance's height that bends tighter than this is taken for noise
LENGTH_FACTOR = 1.3  # from one tried smoothing length to the next
LONGEST_SMOOTHING = 60.0  # [m]
LONGEST_IN_STEPS = 20.0  # median steps: the rounding of the equations grows as the sixth power, here to 1e-8 of the coordinates
LONGEST_IN_SHORTEST = 100.0  # shortest steps: beyond it the equations are singular to rounding
GRADE = 1.25  # growth of the steps beside a long gap; a ripple of the spline loses 0.43 a step, its bow grows by GRADE^2
FAIRING_PART = 0.16  # of the spacing squared: a ripple of two spacings keeps a seventh, the size of the overshoot
FAIRING_REACH = 5.0  # [m]; within this distance of a bend its curvature limits the fairing
MILDEST_BEND = 16.0  # a bend so many times wider than the tightest is faired no more
FAIRING_STEP = 0.1  # [m]
MOST_FAIRING_STEPS = 60_000
CORRECTION_SCALE = 3.0  # [m]; the slow correction bends the line by less than tolerance / scale^2
LARGEST_LENGTHENING = 0.05  # of the line against the straight steps between its points; a hexagon for a circle has 4.7 %
LONG_GAP = 2.5  # a gap this many times its neighbour is filled with points on its chord


def gaps_filled(xy: np.ndarray, finest: float, *, closed: bool) -> tuple[np.ndarray, np.ndarray]:
    """Put points on the chord of each gap that is much longer than the step beside it.

    A spline would carry the curvature of a bend into the gap and bow the straight; points that start at the
    neighbour's spacing and grow by GRADE keep it straight.

    xy : shape (n, 2) [m]
    finest : steps are never made finer than this [m]
    closed : the last point is followed by the first
    Returns the points with the new ones between, and a mask that is true at the given ones.
    """
    ring = np.vstack((xy, xy[:1])) if closed else xy
    step = np.hypot(*np.diff(ring, axis=0).T)
    before, after = np.roll(step, 1), np.roll(step, -1)
    if not closed:
        before[0] = after[-1] = np.inf
    filled, given = [], []
    for index, length in enumerate(step):
        filled.append(ring[index][None, :])
        given.append([True])
        left, right = max(before[index], finest), max(after[index], finest)
        if length <= LONG_GAP * min(left, right):
            continue
        head, tail, place = [], [], 0.0
        while length - place > LONG_GAP * min(left, right):
            if left <= right:
                left *= GRADE
                head.append(left)
                place += left
            else:
                right *= GRADE
                tail.append(right)
                place += right
        part = np.concatenate((np.cumsum(head), (length - np.cumsum(tail))[::-1])) / length
        filled.append(ring[index] + part[:, None] * (ring[index + 1] - ring[index]))
        given.append([False] * len(part))
    if not closed:
        filled.append(ring[-1][None, :])
        given.append([True])
    return np.vstack(filled), np.concatenate(given).astype(bool)


@dataclass(frozen=True)
class SmoothLine:
    """A smoothed line over true arc length.

    heading_at : heading [rad] at stations [m], beyond the ends as sample_line wants it
    length : [m]
    centroid : mean of x and of y over arc length [m]
    point_station : station of each given point, shape (n,) [m]
    smoothing_length : that was used [m]
    """

    heading_at: Callable[[np.ndarray], np.ndarray]
    length: float
    centroid: tuple[float, float]
    point_station: np.ndarray
    smoothing_length: float


def _interval_lengths(curve: Curve, edge: np.ndarray) -> np.ndarray:
    """Arc length of a curve between neighbouring parameters, shape (n - 1,) [m]; five-point Gauss rule."""
    abscissa, weight = np.polynomial.legendre.leggauss(5)
    half = 0.5 * np.diff(edge)
    at = (edge[:-1] + half)[:, None] + half[:, None] * abscissa
    speed = np.hypot(*curve(at.ravel(), 1).T).reshape(at.shape)
    return half * (speed @ weight)


def _parameters(step: np.ndarray, closed: bool) -> tuple[np.ndarray, float | None]:
    station = np.concatenate(([0.0], np.cumsum(step)))
    return (station[:-1], float(station[-1])) if closed else (station, None)


def noise_length(tolerance: float) -> float:
    """Smoothing length for which a wave of the tolerance's height bends at SHORTEST_WAVE_RADIUS.

    tolerance : of the line [m]
    Returns the length [m].
    """
    return float(np.sqrt(tolerance * SHORTEST_WAVE_RADIUS))


def _chosen_length(spline: PenalisedSpline, xy: np.ndarray, given: np.ndarray, tolerance: float) -> float:
    """Smoothing length by generalised cross-validation, between the noise rule and the tolerance."""
    length = noise_length(tolerance)
    tried: list[tuple[float, float]] = []
    step = np.diff(spline.parameter)
    longest = min(LONGEST_SMOOTHING, LONGEST_IN_STEPS * float(np.median(step)), LONGEST_IN_SHORTEST * float(step.min()))
    while not tried or length <= longest:
        distance = spline.residual(xy, spline.fit(xy, length))
        if tried and np.sqrt(np.mean(distance[given] ** 2)) > tolerance:
            break
        left = len(xy) - spline.free_numbers(length)
        tried.append((length, float(np.sum(spline.weight * distance**2)) / max(left, 1e-9 * len(xy)) ** 2))
        length *= LENGTH_FACTOR
    # a score is a mean of squares and has this much chance in it; among equals the smoothest line is taken
    bound = min(score for _, score in tried) * (1.0 + 2.0 * np.sqrt(2.0 / len(xy)))
    return max(length for length, score in tried if score <= bound)


def _diffused(values: np.ndarray, amount: np.ndarray, step: float, closed: bool) -> np.ndarray:
    """(1 - d/ds amount d/ds)^-1 values: a positive average that keeps the integral; amount at mid steps [m^2]."""
    from scipy.sparse import diags
    from scipy.sparse.linalg import splu

    count = len(values)
    flow = amount / step**2
    if closed:
        diagonal = 1.0 + flow + np.roll(flow, 1)
        matrix = diags(
            [diagonal, -flow[:-1], -flow[:-1], [-flow[-1]], [-flow[-1]]],
            [0, 1, -1, count - 1, 1 - count],
        )
    else:
        # half cells at both ends keep the trapezoid sum
        cell = np.ones(count)
        cell[0] = cell[-1] = 0.5
        matrix = diags([cell + np.append(flow, 0.0) + np.insert(flow, 0, 0.0), -flow, -flow], [0, 1, -1])
        values = (values.T * cell).T
    return splu(matrix.tocsc()).solve(values)


def _faired(
    station: np.ndarray,
    place: np.ndarray,
    heading: np.ndarray,
    curvature: np.ndarray,
    spread: np.ndarray,
    scale: float,
    closed: bool,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Average the curvature along the line and put the line back where it was.

    An interpolating spline overshoots by a seventh where a bend begins and rings along the straight before it. A positive
    average of the curvature (variance 4 spread) overshoots nowhere, leaves straights and circles exactly as they are
    and every bend its whole turn; a step D of the curvature shifts the line by 2 spread D. What adds up over several
    bends is taken back by a slow correction. station is even; spread stands at its mid steps. Returns the new
    station [m] and heading [rad] at the same samples, and the mean of the place over arc length [m]. Derived here.
    """
    from scipy.interpolate import CubicSpline

    step = float(station[1])
    turn = float(heading[-1] - heading[0])
    sample = slice(None, -1) if closed else slice(None)
    bent = curvature[sample]
    for _ in range(2):
        bent = _diffused(bent, spread, step, closed)
    if closed:
        bent = np.append(bent, bent[0])
    eased = np.concatenate(([0.0], np.cumsum(0.5 * step * (bent[1:] + bent[:-1]))))
    rest = (turn - eased[-1]) / station[-1]
    bent, eased = bent + rest, eased + rest * station
    eased += np.mean(heading - eased)
    x, y = positions(station, eased, bent)
    error = place - np.column_stack((x, y)) - place[0]
    ramp = np.outer(station / station[-1], error[-1]) if closed else np.zeros_like(error)
    slow = (error - ramp)[sample]
    for _ in range(2):
        slow = _diffused(slow, np.full(len(spread), scale**2), step, closed)
    if closed:
        slow = np.vstack((slow, slow[:1]))
    drift = CubicSpline(station, slow, bc_type="periodic" if closed else "not-a-knot")(station, 1)
    drift = drift + (error[-1] / station[-1] if closed else 0.0)
    ahead = 1.0 + np.cos(eased) * drift[:, 0] + np.sin(eased) * drift[:, 1]
    aside = np.cos(eased) * drift[:, 1] - np.sin(eased) * drift[:, 0]
    speed = np.hypot(ahead, aside)
    new_station = np.concatenate(([0.0], np.cumsum(0.5 * step * (speed[1:] + speed[:-1]))))
    new_place = np.column_stack((x, y)) + place[0] + slow + ramp
    centroid = np.trapezoid(new_place, new_station, axis=0) / new_station[-1]
    return new_station, eased + np.arctan2(aside, ahead), centroid


def _even_samples(curve: Curve, edge: np.ndarray, steps: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Station, place, heading and curvature of a curve, evenly over its arc length.

    edge holds the parameters of its knots [m], steps the arc lengths between them [m].
    """
    from scipy.interpolate import CubicHermiteSpline

    whole = float(steps.sum())
    step = max(FAIRING_STEP, whole / MOST_FAIRING_STEPS)
    parts = np.ceil(steps / step).astype(int)
    fraction = np.concatenate([np.arange(count) / count for count in parts])
    fine = np.append(np.repeat(edge[:-1], parts) + fraction * np.repeat(np.diff(edge), parts), edge[-1])
    fine_station = np.concatenate(([0.0], np.cumsum(_interval_lengths(curve, fine))))
    speed = np.hypot(*curve(fine, 1).T)
    station = np.linspace(0.0, whole, int(np.ceil(whole / step)) + 1)
    at = CubicHermiteSpline(fine_station * (whole / fine_station[-1]), fine, 1.0 / speed)(station)
    velocity, change = curve(at, 1), curve(at, 2)
    heading = np.unwrap(np.arctan2(velocity[:, 1], velocity[:, 0]))
    curvature = (velocity[:, 0] * change[:, 1] - velocity[:, 1] * change[:, 0]) / np.hypot(*velocity.T) ** 3
    return station, curve(at, 0), heading, curvature


def smooth_line(xy: np.ndarray, given: np.ndarray, tolerance: float, *, closed: bool, source: str) -> SmoothLine:
    """Lay a line through points, no farther from them than they deserve.

    xy : in driving order; on a closed course the last is followed by the first, shape (n, 2) [m]
    given : false at points that were put in to fill gaps, shape (n,)
    tolerance : largest root mean square distance of the points from the line [m]
    closed : the line is periodic
    source : file named in the error
    Returns the line.
    Raises InputError where the line swings out so far between sparse points that it is LARGEST_LENGTHENING longer than they are.

    A smoothing spline of degree 5 over arc length (iterated: the parameter is the arc length of the pass before). Its
    smoothing length is at least sqrt(tolerance x SHORTEST_WAVE_RADIUS): a wave of the tolerance's height with a shorter length
    would bend tighter than a car turns. Above that it is chosen by generalised cross-validation, as long as the
    points stay within the tolerance. Then the curvature is faired over about 0.8 of the local spacing.
    """
    from scipy.interpolate import CubicSpline
    from scipy.ndimage import maximum_filter1d

    centre = xy.mean(axis=0)
    local = xy - centre
    ring = np.vstack((local, local[:1])) if closed else local
    chords = np.hypot(*np.diff(ring, axis=0).T)
    steps = chords
    length = noise_length(tolerance)
    for number in range(PASSES):
        # no bend between two points is taken for more than a half circle: through wild points the passes would run away
        spline = PenalisedSpline(*_parameters(np.minimum(steps, 0.5 * np.pi * chords), closed))
        if number == PASSES - 1:
            length = _chosen_length(spline, local, given, tolerance)
        curve = spline.curve(spline.fit(local, length))
        edge = np.append(spline.parameter, spline.period or 0.0) if closed else spline.parameter
        steps = _interval_lengths(curve, edge)
    lengthening = float(steps.sum() / chords.sum()) - 1.0
    if lengthening > LARGEST_LENGTHENING:
        raise InputError(
            source,
            "",
            f"the points are too far apart for its bends: the line would be {100 * lengthening:.0f} % longer than its points",
            "give more points in the bends, or write the course as segments",
        )

    knot_station = np.concatenate(([0.0], np.cumsum(steps)))
    station, place, heading, curvature = _even_samples(curve, edge, steps)
    middle = 0.5 * (station[1:] + station[:-1])
    spacing = np.interp(middle, 0.5 * (knot_station[1:] + knot_station[:-1]), steps)
    beside = 2 * int(np.ceil(FAIRING_REACH / station[1])) + 1
    near = maximum_filter1d(np.abs(curvature), beside, mode="wrap" if closed else "nearest")
    most = max(float(near.max()), 1e-9)
    bend = np.maximum(np.maximum(near[1:], near[:-1]), most / MILDEST_BEND)
    spread = np.minimum(FAIRING_PART * spacing**2, tolerance / (2.0 * bend))
    scale = CORRECTION_SCALE + 10.0 * float(np.sqrt(tolerance / (2.0 * most)))
    new_station, new_heading, centroid = _faired(station, place, heading, curvature, spread, scale, closed)
    new_length = float(new_station[-1])
    turn = float(new_heading[-1] - new_heading[0])
    if closed:
        turn = 2.0 * np.pi * round(turn / (2.0 * np.pi))
        wave = new_heading - turn * new_station / new_length
        wave[-1] = wave[0]
        periodic = CubicSpline(new_station, wave, bc_type="periodic")

        def heading_at(stations: np.ndarray) -> np.ndarray:
            return periodic(stations) + turn * stations / new_length
    else:
        plain = CubicSpline(new_station, new_heading, bc_type="not-a-knot")

        def heading_at(stations: np.ndarray) -> np.ndarray:
            inside = np.clip(stations, 0.0, new_length)
            return plain(inside) + (stations - inside) * (plain(inside, 1) + 0.5 * (stations - inside) * plain(inside, 2))

    middle_place = centroid + centre
    knots = knot_station[:-1] if closed else knot_station
    return SmoothLine(
        heading_at, new_length, (float(middle_place[0]), float(middle_place[1])), np.interp(knots, station, new_station)[given], length
    )
