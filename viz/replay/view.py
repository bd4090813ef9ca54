"""From world to screen, in one object."""

from dataclasses import dataclass
from functools import cached_property
from math import cos, hypot, sin
from typing import NamedTuple

import numpy as np


class Rect(NamedTuple):
    """A rectangle of the page, y downwards [points]."""

    x: float
    y: float
    width: float
    height: float

    def inset(self, by: float) -> "Rect":
        """The rectangle with a margin inside.  by : breadth of the margin [points]."""
        return Rect(self.x + by, self.y + by, self.width - 2 * by, self.height - 2 * by)

    def holds(self, x: float, y: float) -> bool:
        """Whether a place is inside.  x, y : [points]."""
        return self.x <= x < self.x + self.width and self.y <= y < self.y + self.height


@dataclass(frozen=True)
class View:
    """screen = origin + matrix (world - centre).

    centre : what lies at the origin [world]
    origin : where that is on the screen, y downwards [px]
    matrix : rows of the 2 x 2 matrix [px per unit of the world]
    point : size of a layout point [px]
    """

    centre: tuple[float, float]
    origin: tuple[float, float]
    matrix: tuple[tuple[float, float], tuple[float, float]]
    point: float

    @classmethod
    def page(cls, point: float) -> "View":
        """The page itself, in layout points, y downwards.  point : [px]."""
        return cls((0.0, 0.0), (0.0, 0.0), ((point, 0.0), (0.0, point)), point)

    @classmethod
    def ground(cls, at: tuple[float, float], centre: tuple[float, float], scale: float, point: float, upwards: float) -> "View":
        """The ground from above, turned.

        at : where `centre` lies on the page [points]; centre : [m]; scale : points for a metre
        point : [px]; upwards : heading that points up on the screen [rad]
        """
        c, s, k = cos(upwards), sin(upwards), scale * point
        # A step along the heading goes up the screen, a step to its left goes left.
        return cls(centre, (at[0] * point, at[1] * point), ((k * s, -k * c), (-k * c, -k * s)), point)

    @classmethod
    def plot(cls, rect: Rect, x: tuple[float, float], y: tuple[float, float], point: float) -> "View":
        """A plot's axes, y upwards.  rect : [points]; x, y : ends of the axes, different [any unit]; point : [px]."""
        across, up = rect.width / (x[1] - x[0]) * point, rect.height / (y[1] - y[0]) * point
        return cls((x[0], y[0]), (rect.x * point, (rect.y + rect.height) * point), ((across, 0.0), (0.0, -up)), point)

    @cached_property
    def scale(self) -> float:
        """Pixels for one unit of the world along its x axis."""
        return hypot(self.matrix[0][0], self.matrix[1][0])

    def screen(self, place: tuple[float, float]) -> tuple[float, float]:
        """One place on the screen [px].  place : [world]."""
        ((a, b), (c, d)), (x, y), (u, v) = self.matrix, self.centre, self.origin
        dx, dy = place[0] - x, place[1] - y
        return u + a * dx + b * dy, v + c * dx + d * dy

    def screens(self, places: np.ndarray) -> np.ndarray:
        """Many places on the screen, (n, 2) [px].  places : (n, 2) [world]."""
        ((a, b), (c, d)), (x, y), (u, v) = self.matrix, self.centre, self.origin
        places = np.asarray(places)
        dx, dy = places[:, 0] - x, places[:, 1] - y
        on_screen = np.empty((len(places), 2))  # half the time of a stack
        on_screen[:, 0] = u + a * dx + b * dy
        on_screen[:, 1] = v + c * dx + d * dy
        return on_screen

    def screen_list(self, places: np.ndarray) -> list[tuple[float, float]]:
        """As `screens`; for a handful of places plain numbers are twice as quick as arrays.  places : (n, 2) [world]."""
        ((a, b), (c, d)), (x, y), (u, v) = self.matrix, self.centre, self.origin
        return [(u + a * (px - x) + b * (py - y), v + c * (px - x) + d * (py - y)) for px, py in places.tolist()]

    def world(self, x: float, y: float) -> tuple[float, float]:
        """The place in the world of one on the screen.  x, y : [px]."""
        dx, dy = x - self.origin[0], y - self.origin[1]
        (a, b), (c, d) = self.matrix
        whole = a * d - b * c
        return self.centre[0] + (d * dx - b * dy) / whole, self.centre[1] + (a * dy - c * dx) / whole
