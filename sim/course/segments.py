"""A course written as straights, arcs and clothoids."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import degrees, hypot, isfinite, pi

import numpy as np

from sim.course.centreline import LONGEST_COURSE, Course, sample_line, tightest
from sim.errors import InputError

EASING_LENGTH = 1.0  # [m]; a driver turns the hand wheel over about this length where the written curvature steps
CLOSING_GAP = 0.05  # [m]; lengths written to the centimetre miss by less
CLOSING_ANGLE = 0.05 * pi / 180.0  # [rad]; angles written to a twentieth of a degree


@dataclass(frozen=True)
class Straight:
    """A straight.

    length : above 0 [m]
    """

    length: float


@dataclass(frozen=True)
class Arc:
    """A part of a circle.

    radius : above 0 [m]
    turn : angle turned through, positive to the left [rad]
    """

    radius: float
    turn: float


@dataclass(frozen=True)
class Clothoid:
    """A spiral: curvature runs linearly from the end of the segment before.

    length : above 0 [m]
    end_curvature : positive to the left [1/m]
    """

    length: float
    end_curvature: float


def _checked(segments: Sequence[Straight | Arc | Clothoid], source: str) -> list[tuple[float, float | None, float]]:
    """Length [m], first curvature (None: that of the segment before) and last curvature [1/m] of each segment."""
    if not segments:
        raise InputError(source, "", "there are no segments", "write at least one straight or arc")
    pieces: list[tuple[float, float | None, float]] = []
    for number, segment in enumerate(segments, start=1):
        place = f"segment {number}"
        if not all(isfinite(value) for value in vars(segment).values()):
            raise InputError(source, place, "a figure is not a finite number", "write lengths, radii and angles as numbers")
        if isinstance(segment, Arc):
            if segment.radius <= 0.0:
                raise InputError(
                    source, place, f"radius {segment.radius:g} m is not above 0",
                    "write the radius above 0 and give a turn to the right a minus sign",
                )  # fmt: skip
            if segment.turn == 0.0:
                raise InputError(source, place, "the arc turns by 0 degrees", "give its turn, or write a straight")
            curvature = (1.0 if segment.turn > 0.0 else -1.0) / segment.radius
            pieces.append((abs(segment.turn) * segment.radius, curvature, curvature))
        else:
            if segment.length <= 0.0:
                raise InputError(source, place, f"length {segment.length:g} m is not above 0", "write its length in metres")
            pieces.append((segment.length, 0.0, 0.0) if isinstance(segment, Straight) else (segment.length, None, segment.end_curvature))
    length = sum(piece[0] for piece in pieces)
    if length > LONGEST_COURSE:
        raise InputError(
            source, "", f"the course is {length / 1000:.0f} km long, above {LONGEST_COURSE / 1000:.0f} km",
            "check that lengths and radii are in metres",
        )  # fmt: skip
    return pieces


class _WrittenHeading:
    """Heading over arc length of joined segments, each step of the curvature eased.

    A step D of the curvature at a joint becomes two parabolas over EASING_LENGTH = 2 d, centred on the joint (the step
    averaged twice over d). Against the step the heading then differs by D d (1 - |s|/d)^3 / 6 within d of
    the joint and by nothing beyond: the total turn stays exact. Derived here.
    """

    def __init__(self, pieces: list[tuple[float, float | None, float]], *, closed: bool):
        self.closed = closed
        self.joint = np.concatenate(([0.0], np.cumsum([piece[0] for piece in pieces])))
        self.length = float(self.joint[-1])
        before = pieces[-1][2] if closed else 0.0
        first, last = [], []
        for _, start, end in pieces:
            first.append(before if start is None else start)
            last.append(end)
            before = end
        self.first, self.last = np.array(first), np.array(last)
        gain = 0.5 * (self.first + self.last) * np.diff(self.joint)
        self.start_heading = np.concatenate(([0.0], np.cumsum(gain)))
        self.turn = float(self.start_heading[-1])
        self.correction = 0.0  # [1/m], spread over the course where the written turn misses by a rounding
        steps = [(self.joint[i], self.first[i] - self.last[i - 1]) for i in range(1, len(pieces))]
        self.steps = [(place, step, min(0.5 * EASING_LENGTH, place, self.length - place)) for place, step in steps]
        if closed:
            step = self.first[0] - self.last[-1]
            reach = 0.5 * min(EASING_LENGTH, self.length)
            self.steps = [(p + k * self.length, s, reach) for p, s in steps for k in (-1, 0, 1)]
            self.steps += [(k * self.length, step, reach) for k in (-1, 0, 1, 2)]

    def written(self, station: np.ndarray) -> np.ndarray:
        """Heading as written, steps and all [rad], at stations [m] within the course."""
        piece = np.clip(np.searchsorted(self.joint, station, side="right") - 1, 0, len(self.first) - 1)
        along = station - self.joint[piece]
        bend = (self.last - self.first) / np.diff(self.joint)
        return self.start_heading[piece] + along * (self.first[piece] + 0.5 * bend[piece] * along)

    def miss(self) -> tuple[float, float]:
        """Gap between the two ends as written [m], and the turn that is missing to whole turns [rad]."""
        abscissa, weight = np.polynomial.legendre.leggauss(8)
        x = y = 0.0
        for start, end, one, other in zip(self.joint[:-1], self.joint[1:], self.first, self.last, strict=True):
            # parts of at most a third of a radian: the 8-point rule is then exact to rounding
            parts = int(np.ceil(3.0 * (end - start) * max(abs(one), abs(other)))) + 1
            edge = np.linspace(start, end, parts + 1)
            half = 0.5 * (edge[1] - edge[0])
            inside = self.written((edge[:-1, None] + half * (abscissa + 1.0)).ravel()).reshape(parts, -1)
            x += half * float(np.sum(np.cos(inside) @ weight))
            y += half * float(np.sum(np.sin(inside) @ weight))
        return hypot(x, y), self.turn - 2.0 * pi * round(self.turn / (2.0 * pi))

    def __call__(self, station: np.ndarray) -> np.ndarray:
        """Eased heading [rad] at stations [m]."""
        if self.closed:
            lap = np.floor(station / self.length)
            heading = self.written(station - lap * self.length) + lap * self.turn
        else:
            inside = np.clip(station, 0.0, self.length)
            beyond = station - inside
            rate = (self.last - self.first) / np.diff(self.joint)
            heading = self.written(inside) + beyond * np.where(
                beyond < 0.0, self.first[0] + 0.5 * rate[0] * beyond, self.last[-1] + 0.5 * rate[-1] * beyond
            )
        for place, step, reach in self.steps:
            if step != 0.0 and reach > 0.0:
                near = slice(*np.searchsorted(station, (place - reach, place + reach)))
                heading[near] += step * reach * (1.0 - np.abs(station[near] - place) / reach) ** 3 / 6.0
        return heading + self.correction * station


def course_from_segments(segments: Sequence[Straight | Arc | Clothoid], *, closed: bool, name: str, source: str = "course") -> Course:
    """Join straights, arcs and clothoids into a course; it starts at the origin, heading along x.

    segments : in driving order
    closed : the end must meet the start, in place and direction
    name : what the reports call the course
    source : file or option named in an error
    Returns the course, on level ground and without widths.

    Where the written curvature steps, it is eased over EASING_LENGTH centred on the joint: a hand wheel cannot be turned
    in no time. The total turn stays exact. The position after a bend of radius R shifts by about
    EASING_LENGTH^2 / (48 R), which a closed course makes up by stretching its arc length.
    Raises InputError where a figure makes no sense or a closed course does not meet itself.
    """
    heading = _WrittenHeading(_checked(segments, source), closed=closed)
    notes = []
    if closed:
        gap, angle = heading.miss()
        if gap > CLOSING_GAP or abs(angle) > CLOSING_ANGLE:
            raise InputError(
                source, "", f"the course is closed but misses its start by {gap:.2f} m and {abs(degrees(angle)):.2f} degrees",
                "change lengths or turns until the end meets the start (the turns of a simple loop add up to 360 degrees), "
                "or set closed to false",
            )  # fmt: skip
        if gap > 1e-6 or abs(angle) > 1e-9:
            notes.append(f"The written course misses its start by {gap * 1000:.1f} mm and {abs(degrees(angle)):.4f} degrees; "
                         "the difference was spread over the lap.")  # fmt: skip
        heading.correction = -angle / heading.length
    line = sample_line(heading, heading.length, closed=closed, first_heading_kept=True)
    if any(step for _, step, _ in heading.steps):
        notes.append(f"Where the written curvature steps, it is eased over {EASING_LENGTH:g} m.")
    radius, place = tightest(line.station, line.curvature)
    level = np.zeros_like(line.station)
    return Course(
        name=name, closed=closed, length=float(line.station[-1]), station=line.station, x=line.x, y=line.y,
        heading=line.heading, curvature=line.curvature, height=level, slope=level.copy(), left_width=None, right_width=None,
        smoothing_residual=0.0, smallest_radius=radius, smallest_radius_station=place, notes=tuple(notes),
    )  # fmt: skip
