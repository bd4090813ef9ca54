"""The points that a file holds, before a line is laid through them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

LARGEST_COORDINATE = 1e8  # [m]; map grids stay below, and doubles still resolve 1e-8 m there


@dataclass(frozen=True)
class PointList:
    """Points in driving order, in metres.

    source : file name, for messages
    x, y : shape (n,) [m]
    height : NaN where unknown, or None where the file has none, shape (n,) [m]
    left_width, right_width : centreline to edge, or None, shape (n,) [m]
    number : line of the file, or number of the point, shape (n,)
    number_word : "line" or "point": what the numbers count
    line_tolerance : how far the points are taken to lie off the true line, unless the user says otherwise [m]
    notes : plain sentences
    """

    source: str
    x: np.ndarray
    y: np.ndarray
    height: np.ndarray | None
    left_width: np.ndarray | None
    right_width: np.ndarray | None
    number: np.ndarray
    number_word: str
    line_tolerance: float
    notes: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.x)

    @property
    def xy(self) -> np.ndarray:
        """x and y side by side, shape (n, 2) [m]."""
        return np.column_stack((self.x, self.y))

    def place(self, index: int) -> str:
        """Where a point stands in the file.

        index : of the point in this list
        Returns for instance "line 12".
        """
        return f"{self.number_word} {self.number[index]}"

    def taken(self, index: np.ndarray) -> PointList:
        """Some of the points.

        index : which, in order: integers or a mask of shape (n,) [-]
        Returns a list of these points only.
        """
        return replace(
            self,
            x=self.x[index],
            y=self.y[index],
            height=None if self.height is None else self.height[index],
            left_width=None if self.left_width is None else self.left_width[index],
            right_width=None if self.right_width is None else self.right_width[index],
            number=self.number[index],
        )

    def scaled(self, scale: float) -> PointList:
        """The same course at another size.

        scale : factor on x, y, height, widths and tolerance [-]
        Returns the scaled list.
        """
        return replace(
            self,
            x=self.x * scale,
            y=self.y * scale,
            height=None if self.height is None else self.height * scale,
            left_width=None if self.left_width is None else self.left_width * scale,
            right_width=None if self.right_width is None else self.right_width * scale,
            line_tolerance=self.line_tolerance * scale,
        )

    def noted(self, *notes: str) -> PointList:
        """The same points with sentences added.

        notes : plain sentences
        Returns the list with these notes after its own.
        """
        return replace(self, notes=self.notes + notes)
