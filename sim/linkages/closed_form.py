"""Rods and wheels on leaning axes in closed form, compiled: one text of it for the locks, the tables and whoever asks for single angles.

A linkage's file says where its rods' moving points go, in whatever way it likes; here is what follows from that for the wheels.
"""

from enum import IntEnum
from math import atan2, cos, pi, sin, sqrt
from typing import NamedTuple

import numpy as np

from sim.kernels.compiled import inlined, kernel
from sim.kernels.trigonometry import sine_cosine


class Circle(NamedTuple):
    """What swings about an axis: middle + cos(swing) across + sin(swing) sideways."""

    middle: tuple[float, float, float]  # on the axis [m], or the part along it of a direction [-]
    across: tuple[float, float, float]  # [m or -]
    sideways: tuple[float, float, float]  # across, turned by a right angle about the axis [m or -]


class RodForm(NamedTuple):
    """A rod to an arm's joint, as kernels read it."""

    arm: Circle  # of the joint about the kingpin axis, seen from a point of the axis [m]
    axis: tuple[float, float, float]  # direction of the kingpin [-]
    point: tuple[float, float, float]  # of the axis [m]
    lift: float  # of the joint along the axis [m]
    size: float  # half the difference of the squares of the joint's distance from the axis' point and of the rod [m2]
    branch: float  # which of the two positions, +1 or -1 [-]


class WheelForm(NamedTuple):
    """A wheel on its axis, as kernels read it."""

    spin: Circle  # direction of its spin axis, to the left [-]
    centre: Circle  # seen from a point of the axis [m]
    point: tuple[float, float, float]  # of the axis [m]
    radius: float  # [m]


class Turn(IntEnum):
    """Rows of how a wheel is turned over many hand angles; the swing is there without an angle, so that millions cost little."""

    COSINE = 0  # of the swing [-]
    SINE = 1
    RATE = 2  # of the swing with the hand angle [-]
    REACH = 3  # below 0 where the linkage cannot go [-]
    # The transmission angle is atan2(PRESS, |ALONG|).
    PRESS = 4  # vector product of arm and rod about the axis, above 0 on the rod's side of the dead centre [m2]
    ALONG = 5  # their scalar product without the parts along the axis [m2]


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


ROWS = len(Turn)
# By so much more than asked a rod must be off its arm's line, so that who works out the angle at a lock anew does not find it below by a
# last bit. [rad]
ROUNDING = 2e-15


@inlined
def dot(a, b):
    """Scalar product.  a, b : (3,) [any].  Returns it [their product]."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


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
def rod_swings(rod, places):
    """The wheel's swing for places of a rod's moving point.

    rod : RodForm; places : (n, 3) [m]
    Returns (swing, reach), (n,) each [rad], [-] below 0 where the rod cannot reach.
    """
    swing, reach = np.empty(len(places)), np.empty(len(places))
    for i in range(len(places)):
        ahead, aside, target, _ = rod_parts(rod, (places[i, 0], places[i, 1], places[i, 2]))
        p, q, reach[i] = half_turn(ahead, aside, target, rod.branch)
        swing[i] = angle_of(p, q)
    return swing, reach


@kernel
def transmission_angles(rod, places, swing):
    """The angle between rod and arm, seen along the kingpin axis.

    rod : RodForm; places : (n, 3) of the rod's other end [m]; swing : (n,) of the wheel [rad]
    Returns (n,) 90 degrees at best, 0 in line, below 0 beyond [rad].
    """
    angle = np.empty(len(swing))
    for i in range(len(swing)):
        ahead, aside, _, _ = rod_parts(rod, (places[i, 0], places[i, 1], places[i, 2]))
        press, along = products(rod, ahead, aside, cos(swing[i]), sin(swing[i]))
        angle[i] = atan2(press, abs(along))
    return angle


@kernel
def turn_by_rod(rod, places, speeds, turn):
    """How a rod turns its wheel.

    rod : RodForm
    places, speeds : (n, 3) of its moving point, and their rate with the hand angle [m], [m/rad]
    turn : (ROWS, n) written, rows of `Turn` [-], [m2]
    Source: the rod's equation and its derivative.
    """
    for i in range(len(places)):
        ahead, aside, target, seen = rod_parts(rod, (places[i, 0], places[i, 1], places[i, 2]))
        p, q, reach = half_turn(ahead, aside, target, rod.branch)
        cosine, sine = circle_of(p, q)
        speed = speeds[i, 0], speeds[i, 1], speeds[i, 2]
        press, along = products(rod, ahead, aside, cosine, sine)
        asked = dot(seen, speed) - rod.lift * dot(speed, rod.axis)
        asked -= cosine * dot(speed, rod.arm.across) + sine * dot(speed, rod.arm.sideways)
        turn[Turn.COSINE, i], turn[Turn.SINE, i], turn[Turn.REACH, i] = cosine, sine, reach
        turn[Turn.RATE, i] = -rod.branch * asked / press if press != 0.0 else 0.0  # in line the rod turns nothing
        turn[Turn.PRESS, i], turn[Turn.ALONG, i] = press, along


@kernel
def turn_by_hand(hand, turn):
    """How a wheel is turned that the hand turns itself.

    hand : (n,) its swing [rad]; turn : (ROWS, n) written, rows of `Turn`; with no rod the transmission angle is a right one [-]
    """
    for i in range(len(hand)):
        turn[Turn.SINE, i], turn[Turn.COSINE, i] = sine_cosine(hand[i])
        turn[Turn.RATE, i], turn[Turn.REACH, i], turn[Turn.PRESS, i], turn[Turn.ALONG, i] = 1.0, 1.0, 1.0, 0.0


@kernel
def turn_by_steer(wheel, steer, steer_rate, turn):
    """How a wheel is turned whose line on the ground has a given steer angle.

    wheel : WheelForm
    steer, steer_rate : (n,) the angle, smaller than a right angle in size, and its rate with the hand angle [rad], [-]
    turn : (ROWS, n) written, rows of `Turn`; with no rod the transmission angle is a right one [-]
    Source: `line_parts` and its derivative.
    """
    for i in range(len(steer)):
        cosine, sine = cos(steer[i]), sin(steer[i])
        ahead, aside, target = line_parts(wheel, cosine, sine)
        p, q, reach = half_turn(ahead, aside, target, 1.0)
        ahead_rate, aside_rate, target_rate = line_parts(wheel, -sine, cosine)
        cosine, sine = circle_of(p, q)
        asked = target_rate - cosine * ahead_rate - sine * aside_rate
        turn[Turn.COSINE, i], turn[Turn.SINE, i], turn[Turn.REACH, i] = cosine, sine, reach
        turn[Turn.RATE, i] = steer_rate[i] * asked / (cosine * aside - sine * ahead)
        turn[Turn.PRESS, i], turn[Turn.ALONG, i] = 1.0, 0.0


@kernel
def swings_to_steer(wheel, steer):
    """The swing at which a wheel's line on the ground has a steer angle.

    wheel : WheelForm; steer : (n,) smaller than a right angle in size [rad]
    Returns (swing, reach), (n,) each [rad], [-] below 0 where no swing gives that angle.
    """
    swing, reach = np.empty(len(steer)), np.empty(len(steer))
    for i in range(len(steer)):
        ahead, aside, target = line_parts(wheel, cos(steer[i]), sin(steer[i]))
        p, q, reach[i] = half_turn(ahead, aside, target, 1.0)
        swing[i] = angle_of(p, q)
    return swing, reach


@kernel
def hold_by_rod(rod, places, turn):
    """How a rod stands to the arm of a wheel that something else turns.

    rod : RodForm; places : (n, 3) of its other end [m]
    turn : (ROWS, n) its cosines and sines are read, PRESS and ALONG written [-], [m2]
    """
    for i in range(len(places)):
        ahead, aside, _, _ = rod_parts(rod, (places[i, 0], places[i, 1], places[i, 2]))
        turn[Turn.PRESS, i], turn[Turn.ALONG, i] = products(rod, ahead, aside, turn[Turn.COSINE, i], turn[Turn.SINE, i])


@kernel
def carried(circle, turn, places, speeds):
    """Where a swung wheel carries a point, and how fast.

    circle : Circle of the point [m]; turn : (ROWS, n) of the wheel [-]
    places, speeds : (n, 3) written [m], [m/rad]
    """
    for i in range(len(places)):
        cosine, sine, rate = turn[Turn.COSINE, i], turn[Turn.SINE, i], turn[Turn.RATE, i]
        places[i, 0], places[i, 1], places[i, 2] = on_circle(circle, cosine, sine)
        x, y, z = circle_rate(circle, cosine, sine)
        speeds[i, 0], speeds[i, 1], speeds[i, 2] = rate * x, rate * y, rate * z


@kernel
def wheel_poses(wheel, swing):
    """Where a wheel stands after a swing about its axis.

    wheel : WheelForm; swing : (n,) [rad]
    Returns (5, n), the fields of `WheelPose` [rad], [m].  Source: derived here: the direction of steepest descent in the plane of the disc
    is -(z - s_z s) / sqrt(1 - s_z^2) for a spin axis s and the upward direction z.
    """
    pose = np.empty((5, len(swing)))
    for i in range(len(swing)):
        cosine, sine = cos(swing[i]), sin(swing[i])
        spin, centre = on_circle(wheel.spin, cosine, sine), on_circle(wheel.centre, cosine, sine)
        level = sqrt(spin[0] * spin[0] + spin[1] * spin[1])
        ahead_of_centre = wheel.radius * spin[2] / level
        pose[0, i] = atan2(-spin[0], spin[1])
        pose[1, i] = atan2(-spin[2], level)
        # In this order a wheel that stands upright rises by exactly nothing.
        pose[2, i] = wheel.point[0] + centre[0] + ahead_of_centre * spin[0]
        pose[3, i] = wheel.point[1] + centre[1] + ahead_of_centre * spin[1]
        pose[4, i] = wheel.radius * level - (wheel.point[2] + centre[2])
    return pose


@inlined
def line_on_ground(wheel, turn, i):
    """A wheel's line on the ground and how it turns with the hand angle.

    wheel : WheelForm; turn : (ROWS, n) of it; i : which
    Returns (c, s, r): c and s proportional to cosine and sine of the steer angle, and r = c ds/dh - s dc/dh [-].
    """
    cosine, sine = turn[Turn.COSINE, i], turn[Turn.SINE, i]
    spin, rate = on_circle(wheel.spin, cosine, sine), circle_rate(wheel.spin, cosine, sine)
    return spin[1], -spin[0], (spin[0] * rate[1] - spin[1] * rate[0]) * turn[Turn.RATE, i]


@kernel
def first_fault(wheels, turns, kingpin_y, wheelbase, least_rod_angle, steepest):
    """The first of some hand angles at which the steering does not work.

    wheels : WheelForms, left and right; turns : (2, ROWS, n) how they are turned
    kingpin_y : of both, left of the centre line [m]; wheelbase : l [m]
    least_rod_angle : between a rod and its arm [rad]; steepest : what a wheel may ask for, as a single-track steer [rad]
    Returns (index, Fault); (n, Fault.NONE) where all work.  Source: as for `rolling_steer`, compared without angles.
    """
    in_line, flat = cos(least_rod_angle + ROUNDING), sin(least_rod_angle + ROUNDING)
    steep, level = sin(steepest), cos(steepest)
    for i in range(turns.shape[2]):
        left, right = line_on_ground(wheels[0], turns[0], i), line_on_ground(wheels[1], turns[1], i)
        under_left, under_right = left[0] + kingpin_y[0] / wheelbase * left[1], right[0] + kingpin_y[1] / wheelbase * right[1]
        if turns[0, Turn.PRESS, i] * in_line < abs(turns[0, Turn.ALONG, i]) * flat:
            return i, Fault.LEFT_IN_LINE.value
        if turns[1, Turn.PRESS, i] * in_line < abs(turns[1, Turn.ALONG, i]) * flat:
            return i, Fault.RIGHT_IN_LINE.value
        if turns[0, Turn.REACH, i] < 0.0 or turns[1, Turn.REACH, i] < 0.0:
            return i, Fault.NO_FURTHER.value
        if left[2] <= 0.0:
            return i, Fault.LEFT_TURNS_BACK.value
        if left[0] < 0.0:
            return i, Fault.LEFT_SQUARE.value
        if right[2] <= 0.0:
            return i, Fault.RIGHT_TURNS_BACK.value
        if right[0] < 0.0:
            return i, Fault.RIGHT_SQUARE.value
        if under_left * steep < abs(left[1]) * level or under_right * steep < abs(right[1]) * level:
            return i, Fault.REAR_AXLE.value
    return turns.shape[2], Fault.NONE.value


@kernel
def mean_tangents(wheels, turns, kingpin_y, wheelbase):
    """Tangent of the equivalent single-track steer, and its rate with the hand angle.

    wheels, turns, kingpin_y, wheelbase : as for `first_fault` [m]
    Returns (tangent, rate), (n,) each [-], [1/rad].  Source: as for `equivalent_steer`, without angles.
    """
    count = turns.shape[2]
    tangent, rate = np.zeros(count), np.zeros(count)
    for side in range(2):
        share = kingpin_y[side] / wheelbase
        for i in range(count):
            c, s, r = line_on_ground(wheels[side], turns[side], i)
            under = c + share * s
            tangent[i] += 0.5 * s / under
            rate[i] += 0.5 * r / (under * under)
    return tangent, rate


@kernel
def first_hands(wanted, hand, tangent, rate, above):
    """Where a tangent that rises with the hand angle about takes given values.

    wanted : (n,) values [-]
    hand, tangent, rate : (m,) looks at it, rising, with the rates there [rad], [-], [1/rad]
    above : (n,) the look above each value, 1 to m - 1
    Returns (n,) hand angles, each between its looks [rad].  Source: Hermite's cubic of the hand angle over the tangent.
    """
    found = np.empty(len(wanted))
    for i in range(len(wanted)):
        k = above[i]
        wide, far = tangent[k] - tangent[k - 1], hand[k] - hand[k - 1]
        t = (wanted[i] - tangent[k - 1]) / wide
        first, last = wide / rate[k - 1], wide / rate[k]
        place = t * (first + t * (3.0 * far - 2.0 * first - last + t * (first + last - 2.0 * far)))
        found[i] = hand[k - 1] + (place if 0.0 <= place <= far else t * far)
    return found


@kernel
def step_to_tangents(wanted, tangent, rate, low, high, hand):
    """One step towards the hand angles at which a tangent that rises with them has given values; halved where it leaves its bracket.

    wanted, tangent, rate : (n,) values, and those at the hand angles with their rates [-]
    low, high : (n,) brackets, narrowed here [rad]; hand : (n,) moved [rad]
    Returns the largest step [rad].  Source: Newton's method.
    """
    most = 0.0
    for i in range(len(hand)):
        here = hand[i]
        miss = wanted[i] - tangent[i]
        if miss >= 0.0:
            low[i] = here
        if miss <= 0.0:
            high[i] = here
        there = here + miss / rate[i]
        if not (low[i] <= there <= high[i]):
            there = 0.5 * (low[i] + high[i])
        hand[i] = there
        most = max(most, abs(there - here))
    return most
