"""Rods and wheels on leaning axes in closed form, compiled: one text of it for the locks, the tables and whoever asks for single angles.

A linkage's file says where its rods' moving points go, or what angles its wheels stand at; here is what follows from that for one wheel.
`mechanism.py` puts two wheels together.
"""

from enum import IntEnum
from math import atan2, cos, pi, sin, sqrt
from typing import NamedTuple

import numpy as np

from sim.kernels.compiled import inlined, kernel
from sim.kernels.trigonometry import arc_tangent


class Circle(NamedTuple):
    """What swings about an axis: middle + cos(swing) across + sin(swing) sideways."""

    middle: tuple[float, float, float]  # on the axis [m], or the part along it of a direction [-]
    across: tuple[float, float, float]  # [m or -]
    sideways: tuple[float, float, float]  # across, turned by a right angle about the axis [m or -]


class RodForm(NamedTuple):
    """A rod to an arm's joint."""

    arm: Circle  # of the joint about the kingpin axis, seen from a point of the axis [m]
    axis: tuple[float, float, float]  # direction of the kingpin [-]
    point: tuple[float, float, float]  # of the axis [m]
    lift: float  # of the joint along the axis [m]
    size: float  # half the difference of the squares of the joint's distance from the axis' point and of the rod [m2]
    branch: float  # which of the two positions, +1 or -1 [-]


class WheelForm(NamedTuple):
    """A wheel on its axis."""

    spin: Circle  # direction of its spin axis, to the left [-]
    centre: Circle  # seen from a point of the axis [m]
    point: tuple[float, float, float]  # of the axis [m]
    radius: float  # [m]


class Number(IntEnum):
    """Places in the row of numbers that a wheel with its rod is to kernels; a circle takes nine, a place or direction three.

    One array costs a call a tenth of what as many numbers in nested tuples do.
    """

    POINT = 0  # of the axis [m]
    AXIS = 3  # its direction [-]
    RADIUS = 6  # of the wheel [m]
    SPIN = 7  # circle of the spin axis [-]
    CENTRE = 16  # circle of the wheel's centre, from the axis' point [m]
    ARM = 25  # circle of the arm's joint, from the axis' point [m]
    LIFT = 34  # of `RodForm` [m]
    SIZE = 35  # [m2]
    BRANCH = 36  # [-]
    BY = 37  # of `mechanism.By`: what turns the wheel
    TIED = 38  # 1 where the wheel's arm holds a rod whose other end the other wheel carries, else 0
    PATH = 39  # circle of the rod's other end: over the hand angle, or over the other wheel's swing where it is tied [m]
    SLIDE = 48  # what that end moves besides, by the hand angle [m/rad]
    SHARE = 51  # of a law, see `laws.py`: the share of the ideal difference [-]
    HALF = 52  # half the kingpin track by the wheelbase [-]
    MOST = 53  # the mean angle at which a wheel turns no further [rad]
    TOE_COSINE = 54  # cosine and sine of the steer angle that is added to the law's [-]
    TOE_SINE = 55
    END = 56  # hand angle at which the linkage comes to its own stop [rad]


NUMBERS = Number.END.value + 1


class Turn(IntEnum):
    """Rows of how a wheel is turned over many hand angles; the swing is there without an angle, so that millions cost little."""

    COSINE = 0  # of the swing [-]
    SINE = 1
    RATE = 2  # of the swing with the hand angle [-]
    REACH = 3  # below 0 where the linkage cannot go [-]
    # The transmission angle is atan2(PRESS, |ALONG|).
    PRESS = 4  # vector product of arm and rod about the axis, above 0 on the rod's side of the dead centre [m2]
    ALONG = 5  # their scalar product without the parts along the axis [m2]


ROWS = len(Turn)


class Turned(NamedTuple):
    """How a wheel is turned at one hand angle; the fields are the rows of `Turn`."""

    cosine: float
    sine: float
    rate: float
    reach: float
    press: float
    along: float


class Fault(IntEnum):
    """What ends the range of the hand wheel, in the order in which it is told."""

    NONE = 0
    LEFT_IN_LINE = 1
    RIGHT_IN_LINE = 2
    NO_FURTHER = 3
    LEFT_TURNS_BACK = 4
    LEFT_SQUARE = 5
    RIGHT_TURNS_BACK = 6
    RIGHT_SQUARE = 7
    REAR_AXLE = 8


# By so much more than asked a rod must be off its arm's line, so that who works out the angle at a lock anew does not find it below by a
# last bit. [rad]
ROUNDING = 2e-15


@inlined
def dot(a, b):
    """Scalar product.  a, b : (3,) [any].  Returns it [their product]."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@inlined
def cross(a, b):
    """Vector product.  a, b : (3,) [any].  Returns (3,) [their product]."""
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


@inlined
def three(row, place):
    """A place or direction in a row of numbers.  row : (NUMBERS,) of a wheel [any]; place : of its first number.  Returns (3,) [same]."""
    return row[place], row[place + 1], row[place + 2]


@inlined
def circle_in(row, place):
    """A circle in a row of numbers.  row : (NUMBERS,) of a wheel [any]; place : of its first number.  Returns Circle [the same]."""
    return Circle(three(row, place), three(row, place + 3), three(row, place + 6))


@inlined
def wheel_in(row):
    """The wheel in a row of numbers.  row : (NUMBERS,) [m or -].  Returns WheelForm."""
    return WheelForm(circle_in(row, Number.SPIN), circle_in(row, Number.CENTRE), three(row, Number.POINT), row[Number.RADIUS])


@inlined
def rod_in(row):
    """The rod in a row of numbers.  row : (NUMBERS,) [m or -].  Returns RodForm."""
    axis, point = three(row, Number.AXIS), three(row, Number.POINT)
    return RodForm(circle_in(row, Number.ARM), axis, point, row[Number.LIFT], row[Number.SIZE], row[Number.BRANCH])


@inlined
def circle_about(vector, axis):
    """What a vector does that turns about an axis.

    vector : (3,) from a point of the axis [m], or a direction [-]; axis : (3,) its direction, of length one [-]
    Returns Circle, seen from that point [m or -].  Source: Rodrigues' rotation formula.
    """
    part = dot(axis, vector)
    along = axis[0] * part, axis[1] * part, axis[2] * part
    return Circle(along, (vector[0] - along[0], vector[1] - along[1], vector[2] - along[2]), cross(axis, vector))


@inlined
def on_circle(circle, cosine, sine):
    """A place or direction after a swing.  circle : Circle; cosine, sine : of the swing [-].  Returns (3,) [the circle's unit]."""
    middle, across, sideways = circle.middle, circle.across, circle.sideways
    return (
        middle[0] + cosine * across[0] + sine * sideways[0],
        middle[1] + cosine * across[1] + sine * sideways[1],
        middle[2] + cosine * across[2] + sine * sideways[2],
    )


@inlined
def circle_rate(circle, cosine, sine):
    """Rate of `on_circle` with the swing.  circle, cosine, sine : as there [-].  Returns (3,) [the circle's unit by rad]."""
    across, sideways = circle.across, circle.sideways
    return (
        cosine * sideways[0] - sine * across[0],
        cosine * sideways[1] - sine * across[1],
        cosine * sideways[2] - sine * across[2],
    )


@inlined
def half_turn(cosine_part, sine_part, target, branch):
    """Solve A cos d + B sin d = C by the half angle.

    cosine_part, sine_part, target : A, B and C, all in one unit [m2 or -]
    branch : +1 or -1: which of the two solutions [-]
    Returns (p, q, reach): tan(d / 2) = p / q [m2 or -], and 1 - |C| / hypot(A, B) [-], below 0 where there is no solution; d is then
    where the two sides come nearest to each other.
    Source: addition theorem, A cos d + B sin d = hypot(A, B) cos(d - atan2(B, A)), so d = atan2(B, A) + branch acos(C / hypot(A, B)).
    By the half angle, tan(d/2) = (B + branch S) / (A + C) = (C - A) / (B - branch S) with S^2 = A^2 + B^2 - C^2, in the form that does
    not cancel, so that an angle near 0 keeps all its digits.
    """
    size = sqrt(cosine_part * cosine_part + sine_part * sine_part)
    reach = 1.0 - abs(target) / size if size > 0.0 else -np.inf
    met = min(max(target, -size), size)
    root, side = sqrt((size - met) * (size + met)), branch * sine_part
    # Both are multiplied by the branch's sign, so that an angle near 0 is not found near pi.
    p = side + root if side > 0.0 else branch * (cosine_part - met)
    q = branch * (cosine_part + met) if side > 0.0 else root - side
    return p, q, reach


@inlined
def angle_of(p, q):
    """The angle d between -pi and pi with tan(d / 2) = p / q.  p, q : of `half_turn`.  Returns it [rad].  Source: arithmetic."""
    half = atan2(p, q)
    return 2.0 * (half - pi if half > 0.5 * pi else (half + pi if half < -0.5 * pi else half))


@inlined
def circle_of(p, q):
    """Cosine and sine of the angle of `angle_of`.  p, q : of `half_turn`.  Returns both [-].  Source: half-angle formulas."""
    size = p * p + q * q
    return ((q * q - p * p) / size, 2.0 * p * q / size) if size > 0.0 else (1.0, 0.0)


@inlined
def full_angle(height, base):
    """Angle of a direction.

    height, base : of any sign, not both 0 [both in one unit]
    Returns it, -pi to pi [rad].  Source: `arc_tangent` of the direction that is mirrored forwards.
    """
    angle = arc_tangent(height, abs(base))
    return angle if base >= 0.0 else (-pi - angle if height < 0.0 else pi - angle)


@inlined
def rod_parts(rod, place):
    """A, B and C of a rod's equation A cos d + B sin d = C in the swing d, and the moving point as the kingpin sees it.

    rod : RodForm; place : (3,) of the moving point [m]
    Returns (A, B, C, seen) [m2], [m].  Source: derived here: the joint's distance from the point is the rod's length, with the joint split
    along and across the kingpin axis.
    """
    seen = place[0] - rod.point[0], place[1] - rod.point[1], place[2] - rod.point[2]
    target = rod.size + 0.5 * dot(seen, seen) - rod.lift * dot(seen, rod.axis)
    return dot(seen, rod.arm.across), dot(seen, rod.arm.sideways), target, seen


@inlined
def products(rod, ahead, aside, cosine, sine):
    """Products of the swung arm with its rod, both without their parts along the axis: the vector product and the scalar one.

    rod : RodForm; ahead, aside : A and B of `rod_parts` [m2]; cosine, sine : of the swing [-]
    Returns (press, along) of `Turn` [m2].  Source: vector algebra.
    """
    along = ahead * cosine + aside * sine - dot(rod.arm.across, rod.arm.across)
    return rod.branch * (ahead * sine - aside * cosine), along


@inlined
def line_parts(wheel, cosine, sine):
    """A, B and C of the equation A cos d + B sin d = C of the swing d at which a wheel's line has a direction on the ground.

    wheel : WheelForm; cosine, sine : of the steer angle [-]
    Returns (A, B, C) [-].  Source: derived here: the spin axis is square to the wheel's line (cosine, sine, 0), and with the spin axis
    split along and across the kingpin axis that is one such equation.
    """
    along, across, sideways = wheel.spin.middle, wheel.spin.across, wheel.spin.sideways
    return (
        cosine * across[0] + sine * across[1],
        cosine * sideways[0] + sine * sideways[1],
        -(cosine * along[0] + sine * along[1]),
    )


@inlined
def turned_by_rod(rod, place, speed):
    """How a rod turns its wheel.

    rod : RodForm; place, speed : (3,) of its moving point, and the rate with the hand angle [m], [m/rad]
    Returns Turned [-], [m2].  Source: the rod's equation and its derivative.
    """
    ahead, aside, target, seen = rod_parts(rod, place)
    p, q, reach = half_turn(ahead, aside, target, rod.branch)
    cosine, sine = circle_of(p, q)
    press, along = products(rod, ahead, aside, cosine, sine)
    asked = dot(seen, speed) - rod.lift * dot(speed, rod.axis)
    asked -= cosine * dot(speed, rod.arm.across) + sine * dot(speed, rod.arm.sideways)
    rate = -rod.branch * asked / press if press != 0.0 else 0.0  # in line the rod turns nothing
    return Turned(cosine, sine, rate, reach, press, along)


@inlined
def turned_to_line(wheel, line_cosine, line_sine, line_rate):
    """How a wheel is turned whose line on the ground has a given steer angle.

    wheel : WheelForm; line_cosine, line_sine : of the steer angle, which is smaller than a right angle in size [-]
    line_rate : its rate with the hand angle [-]
    Returns Turned [-]; with no rod the transmission angle is a right one.  Source: `line_parts` and its derivative.
    """
    ahead, aside, target = line_parts(wheel, line_cosine, line_sine)
    ahead_rate, aside_rate, target_rate = line_parts(wheel, -line_sine, line_cosine)
    p, q, reach = half_turn(ahead, aside, target, 1.0)
    cosine, sine = circle_of(p, q)
    asked = target_rate - cosine * ahead_rate - sine * aside_rate
    return Turned(cosine, sine, line_rate * asked / (cosine * aside - sine * ahead), reach, 1.0, 0.0)


@inlined
def line_on_ground(wheel, cosine, sine, rate):
    """A wheel's line on the ground and how it turns with the hand angle.

    wheel : WheelForm; cosine, sine : of its swing; rate : of the swing with the hand angle [-]
    Returns (c, s, r): c and s proportional to cosine and sine of the steer angle, and r = c ds/dh - s dc/dh [-].
    """
    spin, turning = on_circle(wheel.spin, cosine, sine), circle_rate(wheel.spin, cosine, sine)
    return spin[1], -spin[0], (spin[0] * turning[1] - spin[1] * turning[0]) * rate


@inlined
def fault_of(wheels, left, right, shares, rod_limit, steep_limit):
    """Why a steering does not work at one hand angle.

    wheels : WheelForms, left and right; left, right : Turned of them
    shares : kingpin of each left of the centre line, by the wheelbase [-]
    rod_limit : cosine and sine of the least angle between a rod and its arm; steep_limit : of the steepest single-track steer [-]
    Returns a Fault's value.  Source: as for `rolling_steer`, compared without angles.
    """
    c, s, r = line_on_ground(wheels[0], left.cosine, left.sine, left.rate)
    d, t, u = line_on_ground(wheels[1], right.cosine, right.sine, right.rate)
    in_line, flat = rod_limit
    level, steep = steep_limit
    left_steep = (c + shares[0] * s) * steep < abs(s) * level
    right_steep = (d + shares[1] * t) * steep < abs(t) * level
    fault = Fault.REAR_AXLE.value if left_steep or right_steep else Fault.NONE.value
    fault = Fault.RIGHT_SQUARE.value if d < 0.0 else fault
    fault = Fault.RIGHT_TURNS_BACK.value if u <= 0.0 else fault
    fault = Fault.LEFT_SQUARE.value if c < 0.0 else fault
    fault = Fault.LEFT_TURNS_BACK.value if r <= 0.0 else fault
    fault = Fault.NO_FURTHER.value if left.reach < 0.0 or right.reach < 0.0 else fault
    fault = Fault.RIGHT_IN_LINE.value if right.press * in_line < abs(right.along) * flat else fault
    return Fault.LEFT_IN_LINE.value if left.press * in_line < abs(left.along) * flat else fault


@inlined
def mean_tangent(wheels, left, right, shares):
    """Tangent of the equivalent single-track steer, and its rate with the hand angle: the mean of what both wheels ask for.

    wheels, left, right, shares : as for `fault_of` [-]
    Returns (tangent [-], rate [1/rad]).  Source: as for `equivalent_steer`, without angles.
    """
    c, s, r = line_on_ground(wheels[0], left.cosine, left.sine, left.rate)
    d, t, u = line_on_ground(wheels[1], right.cosine, right.sine, right.rate)
    one, other = c + shares[0] * s, d + shares[1] * t
    return 0.5 * (s / one + t / other), 0.5 * (r / (one * one) + u / (other * other))


@inlined
def pose_of_wheel(wheel, cosine, sine):
    """Where a wheel stands after a swing about its axis.

    wheel : WheelForm; cosine, sine : of the swing [-]
    Returns the fields of `WheelPose` [rad], [m].  Source: derived here: the direction of steepest descent in the plane of the disc
    is -(z - s_z s) / sqrt(1 - s_z^2) for a spin axis s and the upward direction z.
    """
    spin, centre = on_circle(wheel.spin, cosine, sine), on_circle(wheel.centre, cosine, sine)
    level = sqrt(spin[0] * spin[0] + spin[1] * spin[1])
    ahead_of_centre = wheel.radius * spin[2] / level
    camber = full_angle(-spin[2], level)
    # In this order a wheel that stands upright rises by exactly nothing.
    rise = wheel.radius * level - (wheel.point[2] + centre[2])
    return (
        full_angle(-spin[0], spin[1]), camber, wheel.point[0] + centre[0] + ahead_of_centre * spin[0],
        wheel.point[1] + centre[1] + ahead_of_centre * spin[1], rise,
    )  # fmt: skip


@kernel
def write_circle(row, place, vector, axis, point):
    """Write the circle of a vector about an axis into a row of numbers.

    row : (NUMBERS,) of a wheel; place : of the circle's first number; vector : (3,) from a point of the axis [m], or a direction [-]
    axis : (3,) of length one [-]; point : (3,) that point of the axis, or noughts for a circle that is seen from it [m]
    """
    middle, across, sideways = circle_about(vector, axis)
    for k in range(3):
        row[place + k], row[place + 3 + k], row[place + 6 + k] = point[k] + middle[k], across[k], sideways[k]


@kernel
def write_wheel(row, point, axis, centre, spin, radius):
    """Write a wheel into a row of numbers.

    row : (NUMBERS,) of the wheel; point, axis : (3,) of its axis [m], [-]; centre : (3,) [m]; spin : (3,) [-]; radius [m]
    """
    for k in range(3):
        row[Number.POINT + k], row[Number.AXIS + k] = point[k], axis[k]
    row[Number.RADIUS] = radius
    write_circle(row, Number.SPIN.value, spin, axis, np.zeros(3))
    write_circle(row, Number.CENTRE.value, centre - point, axis, np.zeros(3))


@kernel
def write_rod(row, joint, length, branch):
    """Write a rod into the row of its wheel.

    row : (NUMBERS,) with the wheel in it; joint : (3,) of the arm at swing 0 [m]; length : of the rod [m]; branch : +1 or -1 [-]
    """
    axis, point = three(row, Number.AXIS), three(row, Number.POINT)
    arm = joint[0] - point[0], joint[1] - point[1], joint[2] - point[2]
    circle = circle_about(arm, axis)
    for k in range(3):
        row[Number.ARM + k], row[Number.ARM + 3 + k] = circle.middle[k], circle.across[k]
        row[Number.ARM + 6 + k] = circle.sideways[k]
    row[Number.LIFT], row[Number.SIZE], row[Number.BRANCH] = dot(axis, arm), (dot(arm, arm) - length * length) / 2.0, branch


@kernel
def fit_rod(row, joint, swing, place):
    """A rod between an arm's joint and a place.

    row : (NUMBERS,) with the wheel in it; joint : (3,) of the arm at swing 0 [m]; swing : of the wheel [rad]; place : (3,) [m]
    Returns (length [m], leverage [m2], size [m], sideways [m]): of the rod; its product with the joint's motion for each radian of
    swing; the size of that motion; and how far the joint lies to the left of the place.  Source: vector algebra.
    """
    axis, point = three(row, Number.AXIS), three(row, Number.POINT)
    arm = on_circle(circle_about((joint[0] - point[0], joint[1] - point[1], joint[2] - point[2]), axis), cos(swing), sin(swing))
    motion, rod = cross(axis, arm), (point[0] + arm[0] - place[0], point[1] + arm[1] - place[1], point[2] + arm[2] - place[2])
    return sqrt(dot(rod, rod)), dot(rod, motion), sqrt(dot(motion, motion)), rod[1]


@kernel
def rotated_by(vector, axis, angle):
    """A vector turned about an axis by each of several angles, right-hand rule.

    vector : (3,) from a point of the axis [m]; axis : (3,) of length one [-]; angle : (n,) [rad]
    Returns (n, 3) [m].
    """
    circle, places = circle_about(vector, axis), np.empty((len(angle), 3))
    for i in range(len(angle)):
        places[i, 0], places[i, 1], places[i, 2] = on_circle(circle, cos(angle[i]), sin(angle[i]))
    return places


@kernel
def solve_angles(cosine_part, sine_part, target, branch):
    """`half_turn` and `angle_of` over arrays.

    cosine_part, sine_part, target : (n,) [m2 or -]; branch : +1 or -1 [-]
    Returns (angle, reach), (n,) each [rad], [-].
    """
    angle, reach = np.empty(len(target)), np.empty(len(target))
    for i in range(len(target)):
        p, q, reach[i] = half_turn(cosine_part[i], sine_part[i], target[i], branch)
        angle[i] = angle_of(p, q)
    return angle, reach


@kernel
def rod_swings(row, places):
    """The wheel's swing for places of a rod's moving point.

    row : (NUMBERS,) of the wheel with its rod; places : (n, 3) [m]
    Returns (swing, reach), (n,) each [rad], [-] below 0 where the rod cannot reach.
    """
    rod, swing, reach = rod_in(row), np.empty(len(places)), np.empty(len(places))
    for i in range(len(places)):
        ahead, aside, target, _ = rod_parts(rod, (places[i, 0], places[i, 1], places[i, 2]))
        p, q, reach[i] = half_turn(ahead, aside, target, rod.branch)
        swing[i] = angle_of(p, q)
    return swing, reach


@kernel
def transmission_angles(row, places, swing):
    """The angle between rod and arm, seen along the kingpin axis.

    row : (NUMBERS,) of the wheel with its rod; places : (n, 3) of the rod's other end [m]; swing : (n,) of the wheel [rad]
    Returns (n,) 90 degrees at best, 0 in line, below 0 beyond [rad].
    """
    rod, angle = rod_in(row), np.empty(len(swing))
    for i in range(len(swing)):
        ahead, aside, _, _ = rod_parts(rod, (places[i, 0], places[i, 1], places[i, 2]))
        press, along = products(rod, ahead, aside, cos(swing[i]), sin(swing[i]))
        angle[i] = atan2(press, abs(along))
    return angle


@kernel
def turn_by_rod(row, places, speeds, turn):
    """`turned_by_rod` over arrays.

    row : (NUMBERS,) of the wheel with its rod
    places, speeds : (n, 3) of its moving point, and their rate with the hand angle [m], [m/rad]
    turn : (ROWS, n) written, rows of `Turn` [-], [m2]
    """
    rod = rod_in(row)
    for i in range(len(places)):
        place, speed = (places[i, 0], places[i, 1], places[i, 2]), (speeds[i, 0], speeds[i, 1], speeds[i, 2])
        write_turned(turn, i, turned_by_rod(rod, place, speed))


@kernel
def turn_to_steer(row, steer, steer_rate, turn):
    """`turned_to_line` over arrays.

    row : (NUMBERS,) of the wheel
    steer, steer_rate : (n,) of its line on the ground, smaller than a right angle in size, and its rate with the hand angle [rad], [-]
    turn : (ROWS, n) written, rows of `Turn` [-], [m2]
    """
    wheel = wheel_in(row)
    for i in range(len(steer)):
        write_turned(turn, i, turned_to_line(wheel, cos(steer[i]), sin(steer[i]), steer_rate[i]))


@inlined
def write_turned(turn, i, one):
    """Write how a wheel is turned.  turn : (ROWS, n), rows of `Turn`; i : which; one : Turned [-], [m2]."""
    turn[Turn.COSINE, i], turn[Turn.SINE, i], turn[Turn.RATE, i] = one.cosine, one.sine, one.rate
    turn[Turn.REACH, i], turn[Turn.PRESS, i], turn[Turn.ALONG, i] = one.reach, one.press, one.along


@inlined
def turned_in(turn, i):
    """How a wheel is turned.  turn : (ROWS, n), rows of `Turn`; i : which.  Returns Turned [-], [m2]."""
    return Turned(
        turn[Turn.COSINE, i], turn[Turn.SINE, i], turn[Turn.RATE, i], turn[Turn.REACH, i], turn[Turn.PRESS, i], turn[Turn.ALONG, i]
    )  # fmt: skip


@kernel
def swings_to_steer(row, steer):
    """The swing at which a wheel's line on the ground has a steer angle.

    row : (NUMBERS,) of the wheel; steer : (n,) smaller than a right angle in size [rad]
    Returns (swing, reach), (n,) each [rad], [-] below 0 where no swing gives that angle.
    """
    wheel, swing, reach = wheel_in(row), np.empty(len(steer)), np.empty(len(steer))
    for i in range(len(steer)):
        ahead, aside, target = line_parts(wheel, cos(steer[i]), sin(steer[i]))
        p, q, reach[i] = half_turn(ahead, aside, target, 1.0)
        swing[i] = angle_of(p, q)
    return swing, reach


@kernel
def wheel_poses(row, swing):
    """Where a wheel stands after a swing about its axis.

    row : (NUMBERS,) of the wheel; swing : (n,) [rad]
    Returns (5, n), the fields of `WheelPose` [rad], [m].
    """
    wheel, pose = wheel_in(row), np.empty((5, len(swing)))
    for i in range(len(swing)):
        pose[0, i], pose[1, i], pose[2, i], pose[3, i], pose[4, i] = pose_of_wheel(wheel, cos(swing[i]), sin(swing[i]))
    return pose
