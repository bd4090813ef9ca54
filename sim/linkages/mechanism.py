"""A linkage as kernels read it: what turns each of the two wheels, and both of them worked out for a block of hand angles at once.

A wheel's numbers stand in a row (`Number` of `closed_form.py`), both rows are a mechanism.  A block lies in one flat array, row after row,
so that a loop over its hand angles runs in the processor's lanes: no such loop holds a branch or a call of a library.
"""

from enum import IntEnum

import numpy as np

from sim.kernels.compiled import inlined, kernel
from sim.kernels.trigonometry import sine_cosine
from sim.linkages.closed_form import (
    ROWS,
    Number,
    Turn,
    Turned,
    circle_in,
    circle_rate,
    fault_of,
    full_angle,
    mean_tangent,
    on_circle,
    pose_of_wheel,
    products,
    rod_in,
    rod_parts,
    three,
    turned_by_rod,
    turned_to_line,
    wheel_in,
)
from sim.linkages.laws import LAST_BIT, MOST_STEPS, STRAIGHT, half_difference, rate_of_mean, step_of_mean

BLOCK = 64  # hand angles at once: as many as lie in the nearest cache with all that belongs to them


class By(IntEnum):
    """What turns a wheel."""

    HAND = 0  # the hand itself: the wheel's swing is the hand angle
    ROD = 1
    LAW = 2


class Row(IntEnum):
    """Rows of a block: what belongs to the hand angle; after them those of each wheel."""

    HAND = 0  # [rad]
    INSIDE = 1  # the same, held within the linkage's own stop
    COSINE = 2  # of that [-]
    SINE = 3
    MEAN = 4  # a law's mean angle, and its bracket [rad]
    LOW = 5
    HIGH = 6
    FAULT = 7  # a Fault's value
    TANGENT = 8  # of the equivalent single-track steer [-]
    TANGENT_RATE = 9  # [1/rad]


class WheelRow(IntEnum):
    """Rows of a wheel in a block, after those of `Turn`: the swing and the fields of `WheelPose`."""

    SWING = 6  # [rad]
    STEER = 7
    CAMBER = 8
    X = 9  # [m]
    Y = 10
    RISE = 11


POSES = len(WheelRow)
WHEEL_ROWS = ROWS + POSES
LEFT_WHEEL = len(Row) * BLOCK
RIGHT_WHEEL = LEFT_WHEEL + WHEEL_ROWS * BLOCK
WORK = RIGHT_WHEEL + WHEEL_ROWS * BLOCK  # numbers in a block


@inlined
def wheels_in(work):
    """The two wheels' parts of a block.  work : (WORK,) [any].  Returns (left, right), (WHEEL_ROWS * BLOCK,) each [the same]."""
    return work[LEFT_WHEEL:RIGHT_WHEEL], work[RIGHT_WHEEL:]


@inlined
def block_turned(wheel, i):
    """How a wheel of a block is turned.  wheel : of `wheels_in`; i : which.  Returns Turned [-], [m2]."""
    return Turned(
        wheel[Turn.COSINE * BLOCK + i], wheel[Turn.SINE * BLOCK + i], wheel[Turn.RATE * BLOCK + i], wheel[Turn.REACH * BLOCK + i],
        wheel[Turn.PRESS * BLOCK + i], wheel[Turn.ALONG * BLOCK + i],
    )  # fmt: skip


@inlined
def keep_turned(wheel, i, one):
    """Write how a wheel of a block is turned.  wheel, i : as for `block_turned`; one : Turned [-], [m2]."""
    wheel[Turn.COSINE * BLOCK + i], wheel[Turn.SINE * BLOCK + i], wheel[Turn.RATE * BLOCK + i] = one.cosine, one.sine, one.rate
    wheel[Turn.REACH * BLOCK + i], wheel[Turn.PRESS * BLOCK + i], wheel[Turn.ALONG * BLOCK + i] = one.reach, one.press, one.along


@inlined
def on_path(path, slide, hand, cosine, sine):
    """Where the hand carries a rod's other end.

    path : Circle [m]; slide : (3,) [m/rad]; hand : [rad]; cosine, sine : of it [-]
    Returns (3,) [m].
    """
    place = on_circle(path, cosine, sine)
    return place[0] + hand * slide[0], place[1] + hand * slide[1], place[2] + hand * slide[2]


@kernel
def block_by_rod(row, work, wheel):
    """Turn a wheel by its rod.  row : (NUMBERS,) of the wheel; work : (WORK,) is read; wheel : of `wheels_in`, written [-], [m2]."""
    rod, path, slide = rod_in(row), circle_in(row, Number.PATH), three(row, Number.SLIDE)
    for i in range(BLOCK):
        hand, cosine, sine = work[Row.INSIDE * BLOCK + i], work[Row.COSINE * BLOCK + i], work[Row.SINE * BLOCK + i]
        place, rate = on_path(path, slide, hand, cosine, sine), circle_rate(path, cosine, sine)
        speed = rate[0] + slide[0], rate[1] + slide[1], rate[2] + slide[2]
        keep_turned(wheel, i, turned_by_rod(rod, place, speed))


@kernel
def block_by_hand(work, wheel):
    """Turn a wheel by the hand itself.  work : (WORK,) is read; wheel : of `wheels_in`, written [-], [m2]."""
    for i in range(BLOCK):
        keep_turned(wheel, i, Turned(work[Row.COSINE * BLOCK + i], work[Row.SINE * BLOCK + i], 1.0, 1.0, 1.0, 0.0))


@kernel
def block_means(row, work):
    """Mean angles of a law at a block's hand angles, by steps until none is longer than the last bit.

    row : (NUMBERS,) of a wheel; work : (WORK,) rows MEAN, LOW and HIGH written [rad]
    """
    share, half_track, most = row[Number.SHARE], row[Number.HALF], row[Number.MOST]
    for i in range(BLOCK):
        work[Row.MEAN * BLOCK + i] = min(abs(work[Row.INSIDE * BLOCK + i]), most)
        work[Row.LOW * BLOCK + i], work[Row.HIGH * BLOCK + i] = 0.0, most
    for _ in range(MOST_STEPS):
        busy = 0
        for i in range(BLOCK):
            size = abs(work[Row.INSIDE * BLOCK + i])
            mean, low, high = work[Row.MEAN * BLOCK + i], work[Row.LOW * BLOCK + i], work[Row.HIGH * BLOCK + i]
            sine, cosine = abs(work[Row.SINE * BLOCK + i]), work[Row.COSINE * BLOCK + i]
            bent = size >= STRAIGHT  # straight ahead the step would only divide 0 by 0
            there, low, high = step_of_mean(share, half_track, sine, cosine, mean if bent else 1.0, low, high)
            there = there if bent else size
            work[Row.LOW * BLOCK + i], work[Row.HIGH * BLOCK + i], work[Row.MEAN * BLOCK + i] = low, high, there
            busy += 1 if abs(there - mean) > LAST_BIT else 0
        if busy == 0:
            break


@kernel
def block_by_share(row, sign, work, wheel):
    """Turn a wheel by a law with a share of the ideal difference, once the mean angles are known.

    row : (NUMBERS,) of the wheel; sign : +1 for the left wheel, -1 for the right one
    work : (WORK,) is read; wheel : of `wheels_in`, written [-], [m2]
    """
    form, share, half_track = wheel_in(row), row[Number.SHARE], row[Number.HALF]
    toe_cosine, toe_sine = row[Number.TOE_COSINE], row[Number.TOE_SINE]
    for i in range(BLOCK):
        mean, side = work[Row.MEAN * BLOCK + i], 1.0 if work[Row.INSIDE * BLOCK + i] >= 0.0 else -1.0
        sine, cosine = sine_cosine(mean)
        half, half_rate = half_difference(share, half_track, sine, cosine)
        rate = rate_of_mean(share, half_track, mean if mean >= STRAIGHT else 1.0)
        rate = rate if mean >= STRAIGHT else 1.0
        steer_sine, steer_cosine = sine_cosine(side * mean + sign * half)
        cosine, sine = steer_cosine * toe_cosine - steer_sine * toe_sine, steer_sine * toe_cosine + steer_cosine * toe_sine
        keep_turned(wheel, i, turned_to_line(form, cosine, sine, rate * (1.0 + sign * side * half_rate)))


@kernel
def block_by_rolling(row, sign, work, wheel):
    """Turn a wheel by the law with all of the ideal difference or with none: cot d' = cot d - y / l, see `rolling_steer`.

    row, sign, work, wheel : as for `block_by_share` [-], [m2]
    """
    form, aside = wheel_in(row), sign * row[Number.SHARE] * row[Number.HALF]
    toe_cosine, toe_sine = row[Number.TOE_COSINE], row[Number.TOE_SINE]
    for i in range(BLOCK):
        sine, base = work[Row.SINE * BLOCK + i], work[Row.COSINE * BLOCK + i] - aside * work[Row.SINE * BLOCK + i]
        square = base * base + sine * sine
        size = np.sqrt(square)
        cosine, sine = base / size, sine / size
        cosine, sine = cosine * toe_cosine - sine * toe_sine, sine * toe_cosine + cosine * toe_sine
        keep_turned(wheel, i, turned_to_line(form, cosine, sine, 1.0 / square))


@kernel
def tie(row, wheel, other):
    """How a rod stands to the arm of a wheel that something else turns, where the other wheel carries its other end.

    row : (NUMBERS,) of the wheel; wheel, other : of `wheels_in`, PRESS and ALONG of the first are written [m2]
    """
    rod, path = rod_in(row), circle_in(row, Number.PATH)
    for i in range(BLOCK):
        place = on_circle(path, other[Turn.COSINE * BLOCK + i], other[Turn.SINE * BLOCK + i])
        ahead, aside, _, _ = rod_parts(rod, place)
        press, along = products(rod, ahead, aside, wheel[Turn.COSINE * BLOCK + i], wheel[Turn.SINE * BLOCK + i])
        wheel[Turn.PRESS * BLOCK + i], wheel[Turn.ALONG * BLOCK + i] = press, along


@kernel
def turn_wheel(row, sign, work, wheel):
    """Work out how one wheel is turned.

    row : (NUMBERS,) of the wheel; sign : +1 for the left wheel, -1 for the right one
    work : (WORK,) the hand angles, and of a law the mean angles; wheel : of `wheels_in`, the rows of `Turn` are written [-], [m2]
    """
    by = int(row[Number.BY])
    if by == By.ROD:
        block_by_rod(row, work, wheel)
    elif by == By.HAND:
        block_by_hand(work, wheel)
    elif is_rolling(row):
        block_by_rolling(row, sign, work, wheel)
    else:
        block_by_share(row, sign, work, wheel)


@inlined
def is_rolling(row):
    """Whether a law asks for all of the ideal difference or for none, which needs no search.  row : (NUMBERS,) of a wheel [-]."""
    return row[Number.SHARE] == 0.0 or row[Number.SHARE] == 1.0


@kernel
def turn_block(mechanism, work):
    """Work out how both wheels are turned.

    mechanism : (2, NUMBERS); work : (WORK,) its row HAND is read, those of `Turn` of both wheels are written [rad], [-], [m2]
    """
    end, (left, right) = mechanism[0, Number.END], wheels_in(work)
    for i in range(BLOCK):
        inside = min(max(work[i], -end), end)
        work[Row.INSIDE * BLOCK + i] = inside
        work[Row.SINE * BLOCK + i], work[Row.COSINE * BLOCK + i] = sine_cosine(inside)
    if int(mechanism[0, Number.BY]) == By.LAW and not is_rolling(mechanism[0]):
        block_means(mechanism[0], work)
    turn_wheel(mechanism[0], 1.0, work, left)
    turn_wheel(mechanism[1], -1.0, work, right)
    if mechanism[0, Number.TIED] > 0.0:
        tie(mechanism[0], left, right)
    if mechanism[1, Number.TIED] > 0.0:
        tie(mechanism[1], right, left)
    if end < np.inf:
        for i in range(BLOCK):
            if not abs(work[i]) <= end:
                left[Turn.REACH * BLOCK + i], right[Turn.REACH * BLOCK + i] = -1.0, -1.0


@kernel
def block_faults(mechanism, shares, rod_limit, steep_limit, work):
    """Why the steering does not work at the hand angles of a block.

    mechanism : (2, NUMBERS); shares, rod_limit, steep_limit : as for `fault_of` [-]; work : (WORK,) its row FAULT is written
    Returns the number of those at which it does not [-].
    """
    wheels, bad = (wheel_in(mechanism[0]), wheel_in(mechanism[1])), 0
    left, right = wheels_in(work)
    for i in range(BLOCK):
        fault = fault_of(wheels, block_turned(left, i), block_turned(right, i), shares, rod_limit, steep_limit)
        work[Row.FAULT * BLOCK + i] = fault
        bad += 1 if fault != 0 else 0
    return bad


@kernel
def block_tangents(mechanism, shares, work):
    """Tangents of the equivalent single-track steer in a block: the mean of what both wheels ask for.

    mechanism : (2, NUMBERS); shares : as for `fault_of` [-]; work : (WORK,) its rows TANGENT and TANGENT_RATE are written [-], [1/rad]
    """
    wheels = (wheel_in(mechanism[0]), wheel_in(mechanism[1]))
    left, right = wheels_in(work)
    for i in range(BLOCK):
        one, other = block_turned(left, i), block_turned(right, i)
        work[Row.TANGENT * BLOCK + i], work[Row.TANGENT_RATE * BLOCK + i] = mean_tangent(wheels, one, other, shares)


@kernel
def block_poses(row, work, wheel):
    """Where a wheel stands in a block.

    row : (NUMBERS,) of it; work : (WORK,) the hand angles [rad]; wheel : of `wheels_in`, the rows of `WheelRow` are written [rad], [m]
    """
    form = wheel_in(row)
    for i in range(BLOCK):
        cosine, sine = wheel[Turn.COSINE * BLOCK + i], wheel[Turn.SINE * BLOCK + i]
        steer, camber, x, y, rise = pose_of_wheel(form, cosine, sine)
        wheel[WheelRow.SWING * BLOCK + i], wheel[WheelRow.STEER * BLOCK + i] = full_angle(sine, cosine), steer
        wheel[WheelRow.CAMBER * BLOCK + i], wheel[WheelRow.X * BLOCK + i] = camber, x
        wheel[WheelRow.Y * BLOCK + i], wheel[WheelRow.RISE * BLOCK + i] = y, rise
    if int(row[Number.BY]) == By.HAND:  # to the last bit
        for i in range(BLOCK):
            wheel[WheelRow.SWING * BLOCK + i] = work[Row.INSIDE * BLOCK + i]


@kernel
def pose_block(mechanism, work):
    """Where both wheels stand in a block that is turned.

    mechanism : (2, NUMBERS); work : (WORK,) the rows of `WheelRow` are written [rad], [m]
    """
    left, right = wheels_in(work)
    block_poses(mechanism[0], work, left)
    block_poses(mechanism[1], work, right)


@inlined
def fill_block(work, hand, start):
    """Fill a block with hand angles, the last one again and again where they end.

    work : (WORK,) its row HAND is written; hand : (n,) [rad]; start : the first of them
    Returns how many of the block count [-].
    """
    count = min(BLOCK, len(hand) - start)
    for i in range(BLOCK):
        work[i] = hand[start + min(i, count - 1)]
    return count


@kernel
def turned_wheels(mechanism, hand):
    """How both wheels are turned.

    mechanism : (2, NUMBERS); hand : (n,) [rad]
    Returns (2, ROWS, n), rows of `Turn` of the left and the right wheel [-], [m2].
    """
    work, turns = np.empty(WORK), np.empty((2, ROWS, len(hand)))
    for start in range(0, len(hand), BLOCK):
        count = fill_block(work, hand, start)
        turn_block(mechanism, work)
        for k in range(ROWS):
            for i in range(count):
                turns[0, k, start + i] = work[LEFT_WHEEL + k * BLOCK + i]
                turns[1, k, start + i] = work[RIGHT_WHEEL + k * BLOCK + i]
    return turns


@kernel
def standing_wheels(mechanism, hand):
    """Where both wheels stand; beyond their reach where they come nearest to it.

    mechanism : (2, NUMBERS); hand : (n,) [rad]
    Returns (6, n, 2), rows of `WheelRow` of the left and the right wheel [rad], [m].
    """
    work, found = np.empty(WORK), np.empty((POSES, len(hand), 2))
    for start in range(0, len(hand), BLOCK):
        count = fill_block(work, hand, start)
        turn_block(mechanism, work)
        pose_block(mechanism, work)
        for k in range(POSES):
            for i in range(count):
                at = (WheelRow.SWING + k) * BLOCK + i
                found[k, start + i, 0], found[k, start + i, 1] = work[LEFT_WHEEL + at], work[RIGHT_WHEEL + at]
    return found


@kernel
def carried(row, hand):
    """Where the hand carries a rod's other end.

    row : (NUMBERS,) of the wheel with its rod; hand : (n,) [rad]
    Returns (n, 3) [m].
    """
    path, slide, places = circle_in(row, Number.PATH), three(row, Number.SLIDE), np.empty((len(hand), 3))
    for i in range(len(hand)):
        sine, cosine = sine_cosine(hand[i])
        places[i, 0], places[i, 1], places[i, 2] = on_path(path, slide, hand[i], cosine, sine)
    return places
