"""Kingpins and turntable axles in space: where a wheel stands after it has swung about its axis.

Car axes (ISO 8855) with the origin on the ground below the middle of the front axle: x forward, y left, z up.
"""

from dataclasses import dataclass
from functools import cached_property
from math import tan
from typing import NamedTuple

import numpy as np

from sim.linkages.closed_form import NUMBERS, Number, rotated_by, solve_angles, swings_to_steer, wheel_poses, write_wheel

LEFT, RIGHT = 0, 1
SIDES = ("left", "right")
SIGNS = (1.0, -1.0)  # of y: the left side is positive


def rotated(vector: np.ndarray, axis: np.ndarray, angle: np.ndarray) -> np.ndarray:
    """A vector turned about an axis by each of several angles, right-hand rule.

    vector : (3,) from a point of the axis [m]
    axis : (3,) direction of the axis, of length one [-]
    angle : (n,) [rad]
    Returns (n, 3) [m].  Source: `circle_about`.
    """
    return rotated_by(vector, axis, np.ascontiguousarray(angle, dtype=float))


def angle_where(cosine_part: np.ndarray, sine_part: np.ndarray, target: np.ndarray, branch: float) -> tuple[np.ndarray, np.ndarray]:
    """Solve A cos d + B sin d = C in closed form: d = atan2(B, A) + branch * acos(C / hypot(A, B)).

    cosine_part, sine_part, target : (n,) A, B and C, all in one unit [m2 or -]
    branch : +1 or -1: which of the two solutions [-]
    Returns (d, reach), (n,) each: the angle between -pi and pi [rad], and 1 - |C| / hypot(A, B) [-], below 0 where there
    is no solution; d is then the angle at which the two sides come nearest to each other.
    Source: `half_turn`.
    """
    return solve_angles(cosine_part, sine_part, target, branch)


class WheelPose(NamedTuple):
    """Where one wheel stands; each (n,)."""

    steer: np.ndarray  # of the wheel's line on the ground, left positive [rad]
    camber: np.ndarray  # lean of the wheel's top to the left [rad]
    x: np.ndarray  # contact point ahead of the front axle line [m]
    y: np.ndarray  # contact point left of the centre line [m]
    rise: np.ndarray  # the contact point's depth below the ground of straight ahead [m]


@dataclass(frozen=True, eq=False)
class FrontWheel:
    """A rigid disc on a spindle that swings about an axis; all for swing 0, in car axes.

    axis_point : (3,) a point of the axis [m]
    axis : (3,) its direction, upwards, of length one [-]
    centre : (3,) the wheel's centre [m]
    spin : (3,) direction of the wheel's spin axis, to the left, of length one [-]
    radius : of the wheel [m]
    """

    axis_point: np.ndarray
    axis: np.ndarray
    centre: np.ndarray
    spin: np.ndarray
    radius: float

    def axis_at(self, height: float) -> np.ndarray:
        """The axis' point at a height.

        height : above the ground [m]
        Returns (3,) [m].
        """
        return self.axis_point + self.axis * ((height - self.axis_point[2]) / self.axis[2])

    @cached_property
    def row(self) -> np.ndarray:
        """The wheel as kernels read it: (NUMBERS,) its numbers by `Number` [m or -], with nothing that turns it but the hand itself."""
        row = np.zeros(NUMBERS)
        write_wheel(row, self.axis_point, self.axis, self.centre, self.spin, self.radius)
        row[Number.END] = np.inf
        return row

    def pose(self, swing: np.ndarray) -> WheelPose:
        """Where the wheel stands after a swing about its axis.

        swing : (n,) by the right-hand rule about the upward axis, so positive to the left [rad]
        Returns WheelPose: angles [rad] and the contact point, which is the disc's lowest point [m].  Holds while the
        spin axis is not upright.  Source: `wheel_poses`.
        """
        return WheelPose(*wheel_poses(self.row, np.ascontiguousarray(swing)))

    def swing_for(self, steer: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The swing that gives the wheel's line on the ground a steer angle.

        steer : (n,) smaller than a right angle in size [rad]
        Returns (swing, reach), (n,) each: [rad], and [-] below 0 where no swing gives that angle.
        Source: `line_parts`.
        """
        return swings_to_steer(self.row, np.ascontiguousarray(steer))


def _unit(vector: tuple[float, float, float]) -> np.ndarray:
    return np.array(vector) / np.linalg.norm(vector)


def stub_axles(front_track: float, kingpin_track: float, radius: float, inclination: float, caster: float) -> tuple[FrontWheel, FrontWheel]:
    """Two front wheels, each on its own kingpin; at swing 0 both stand upright and straight ahead.

    front_track : between the contact points [m]
    kingpin_track : between the kingpin axes at the ground [m]
    radius : of the wheels [m]
    inclination : lean of the kingpins' tops inwards [rad]
    caster : lean of the kingpins' tops backwards; seen from the side the axis passes the wheel's centre [rad]
    Returns (left, right).
    """

    def one(side: float) -> FrontWheel:
        return FrontWheel(
            axis_point=np.array([0.0, side * (kingpin_track / 2 - radius * tan(inclination)), radius]),
            axis=_unit((-tan(caster), -side * tan(inclination), 1.0)),
            centre=np.array([0.0, side * front_track / 2, radius]),
            spin=np.array([0.0, 1.0, 0.0]),
            radius=radius,
        )

    return one(SIGNS[LEFT]), one(SIGNS[RIGHT])


def turntable_axle(front_track: float, radius: float, caster: float, toe_in: float) -> tuple[FrontWheel, FrontWheel]:
    """Two front wheels fixed to one axle that swings about an axis in the middle.

    front_track : between the contact points [m]
    radius : of the wheels [m]
    caster : lean of the axis' top backwards; seen from the side it passes the wheels' centres [rad]
    toe_in : of each wheel, fixed on the axle about the vertical straight ahead [rad]
    Returns (left, right).
    """

    def one(side: float) -> FrontWheel:
        steer = -side * toe_in
        return FrontWheel(
            axis_point=np.array([0.0, 0.0, radius]),
            axis=_unit((-tan(caster), 0.0, 1.0)),
            centre=np.array([0.0, side * front_track / 2, radius]),
            spin=np.array([-np.sin(steer), np.cos(steer), 0.0]),
            radius=radius,
        )

    return one(SIGNS[LEFT]), one(SIGNS[RIGHT])
