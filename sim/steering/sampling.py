"""The search for a lock and the nodes of a table, compiled: each a single call, whatever turns the wheels."""

from math import atan, cos, sin, tan

import numpy as np

from sim.kernels.compiled import inlined, kernel
from sim.kernels.cubics import cubic
from sim.linkages.closed_form import ROUNDING, fault_of, mean_tangent, turned_in, wheel_in
from sim.linkages.mechanism import (
    BLOCK,
    WORK,
    Row,
    WheelRow,
    block_faults,
    block_tangents,
    fill_block,
    pose_block,
    turn_block,
    wheels_in,
)

REFINEMENTS, PARTS = 9, 64  # each divides the step with the lock in it by 64: down to the last bit of an angle
MOST_STEPS = 60  # halving alone comes to the last bit of an angle
NEAR = 1e-9  # a step of Newton's method doubles the digits, so that after one of this size the last bit is right [rad]


@inlined
def limits_of(least_rod_angle, steepest):
    """What `fault_of` compares with.

    least_rod_angle : between a rod and its arm; steepest : what a wheel may ask for, as a single-track steer [rad]
    Returns both angles' cosine and sine [-].
    """
    rod = least_rod_angle + ROUNDING
    return (cos(rod), sin(rod)), (cos(steepest), sin(steepest))


@kernel
def first_fault(rows, turns, shares, least_rod_angle, steepest):
    """The first of some hand angles at which the steering does not work.

    rows : (2, NUMBERS) of the wheels; turns : (2, ROWS, n) how they are turned
    shares : as for `fault_of` [-]; least_rod_angle, steepest : as for `limits_of` [rad]
    Returns (index, Fault's value); (n, that of none) where all work.
    """
    wheels, limits = (wheel_in(rows[0]), wheel_in(rows[1])), limits_of(least_rod_angle, steepest)
    for i in range(turns.shape[2]):
        fault = fault_of(wheels, turned_in(turns[0], i), turned_in(turns[1], i), shares, limits[0], limits[1])
        if fault != 0:
            return i, fault
    return turns.shape[2], 0


@kernel
def lock_towards(mechanism, shares, least_rod_angle, steepest, limit, steps, work):
    """The last hand angle from straight ahead towards a limit at which nothing fails, see `arrangement.last_before`.

    mechanism : (2, NUMBERS); shares, least_rod_angle, steepest : as for `first_fault` [-], [rad]
    limit : hand angle, to either side [rad]; steps : from straight ahead to it [-]; work : (WORK,) of blocks
    Returns (hand angle [rad], Fault's value); the limit and that of none where nothing fails.
    """
    rod_limit, steep_limit = limits_of(least_rod_angle, steepest)
    near, far, cause, parts = 0.0, limit, 0, steps
    for _ in range(1 + REFINEMENTS):
        begin, width, found = near, (far - near) / parts, False
        for start in range(1, parts + 1, BLOCK):
            for i in range(BLOCK):
                k = min(start + i, parts)
                work[i] = begin + k * width if k < parts else far
            turn_block(mechanism, work)
            if block_faults(mechanism, shares, rod_limit, steep_limit, work) == 0:
                continue
            found, first = True, 0
            while work[Row.FAULT * BLOCK + first] == 0.0:
                first += 1
            k = start + first
            cause, near = int(work[Row.FAULT * BLOCK + first]), begin + (k - 1) * width
            far = begin + k * width if k < parts else far
            break
        middle, parts = 0.5 * (near + far), PARTS
        if not found or middle in (near, far):  # then no number lies between them
            break
    return (near, cause) if cause != 0 else (limit, cause)


@kernel
def range_of(mechanism, shares, least_rod_angle, steepest, limit, steps):
    """How far a steering goes.

    mechanism, shares, least_rod_angle, steepest, steps : as for `lock_towards`; limit : of the hand wheel, to both sides [rad]
    Returns (fault, left, left_fault, left_steer, right, right_fault, right_steer): a Fault's value straight ahead; the end of the range to
    each side [rad], why it ends there and the equivalent single-track steer [rad].
    """
    work = np.zeros(WORK)
    rod_limit, steep_limit = limits_of(least_rod_angle, steepest)
    turn_block(mechanism, work)
    block_faults(mechanism, shares, rod_limit, steep_limit, work)
    fault = int(work[Row.FAULT * BLOCK])
    if fault != 0:
        return fault, 0.0, fault, 0.0, 0.0, fault, 0.0
    left, left_fault = lock_towards(mechanism, shares, least_rod_angle, steepest, limit, steps, work)
    right, right_fault = lock_towards(mechanism, shares, least_rod_angle, steepest, -limit, steps, work)
    left_steer, right_steer = steers_at(mechanism, shares, left, right, work)
    return fault, left, left_fault, left_steer, right, right_fault, right_steer


@kernel
def steers_at(mechanism, shares, one, other, work):
    """Equivalent single-track steers at two hand angles.

    mechanism : (2, NUMBERS); shares : as for `first_fault` [-]; one, other : hand angles [rad]; work : (WORK,) of blocks
    Returns both [rad].
    """
    for i in range(BLOCK):
        work[i] = one if i == 0 else other
    turn_block(mechanism, work)
    block_tangents(mechanism, shares, work)
    return atan(work[Row.TANGENT * BLOCK]), atan(work[Row.TANGENT * BLOCK + 1])


@kernel
def mean_tangents(rows, turns, shares):
    """Tangent of the equivalent single-track steer, and its rate with the hand angle.

    rows, turns, shares : as for `first_fault` [-]
    Returns (tangent, rate), (n,) each [-], [1/rad].
    """
    wheels = (wheel_in(rows[0]), wheel_in(rows[1]))
    tangent, rate = np.empty(turns.shape[2]), np.empty(turns.shape[2])
    for i in range(turns.shape[2]):
        tangent[i], rate[i] = mean_tangent(wheels, turned_in(turns[0], i), turned_in(turns[1], i), shares)
    return tangent, rate


@inlined
def first_hand(wanted, hand, tangent, rate, k):
    """Where a tangent that rises with the hand angle about takes a value between two looks at it.

    wanted : the value [-]; hand, tangent, rate : (m,) looks, rising, with the rates there [rad], [-], [1/rad]; k : the look above it
    Returns the hand angle, between the looks [rad].  Source: Hermite's cubic of the hand angle over the tangent.
    """
    wide, far = tangent[k] - tangent[k - 1], hand[k] - hand[k - 1]
    t = (wanted - tangent[k - 1]) / wide
    first, last = wide / rate[k - 1], wide / rate[k]
    place = t * (first + t * (3.0 * far - 2.0 * first - last + t * (first + last - 2.0 * far)))
    return hand[k - 1] + (place if 0.0 <= place <= far else t * far)


@kernel
def first_hands(wanted, hand, tangent, rate, found, low, high):
    """About where a tangent that rises with the hand angle takes given values.

    wanted : (n,) values, rising [-]; hand, tangent, rate : (m,) as for `first_hand`
    found, low, high : (n,) written: hand angles, and brackets about them a look wider than needed, so that rounding cannot set a value
    just outside its own [rad]
    """
    last, above = len(hand) - 1, 1
    for i in range(len(wanted)):
        while above < last and tangent[above] < wanted[i]:
            above += 1
        found[i] = first_hand(wanted[i], hand, tangent, rate, above)
        low[i], high[i] = hand[max(above - 2, 0)], hand[min(above + 1, last)]


@inlined
def step_towards(wanted, value, rate, place, low, high):
    """One step towards the place at which something that rises with it has a value; halved where it leaves its bracket.

    wanted, value, rate : the value, and what is there with its rate [any], [any by the place's unit]
    place, low, high : so far, its bracket [any]
    Returns all three anew [the same].  Source: Newton's method.
    """
    miss = wanted - value
    low, high = place if miss >= 0.0 else low, place if miss <= 0.0 else high
    there = place + miss / rate
    return there if low <= there <= high else 0.5 * (low + high), low, high


@kernel
def step_to_tangents(wanted, tangent, rate, low, high, hand):
    """`step_towards` over arrays.

    wanted, tangent, rate : (n,) [-], [1/rad]; low, high : (n,) narrowed here [rad]; hand : (n,) moved [rad]
    Returns the largest step [rad].
    """
    most = 0.0
    for i in range(len(hand)):
        before = hand[i]
        hand[i], low[i], high[i] = step_towards(wanted[i], tangent[i], rate[i], before, low[i], high[i])
        most = max(most, abs(hand[i] - before))
    return most


@kernel
def table_nodes(mechanism, shares, right, left, right_spare, left_spare, least, most, looks, steer, found):
    """The nodes of a table, evenly apart in the equivalent single-track steer.

    mechanism : (2, NUMBERS); shares : as for `first_fault` [-]; right, left : hand angles from which and up to which the steer rises [rad]
    right_spare, left_spare : which share of the steer's range is left out at its right end and at its left one [-]
    least, most : steers beyond which no node is wanted [rad]
    looks : (m,) rising from -1 to 1: where the range is looked at first [-]
    steer : (n,) written, the nodes [rad]
    found : (n, 9) written, the hand angles there [rad] and then steer [rad], x, y [m] and camber [rad] of the left and the right wheel each
    """
    work, count, seen = np.empty(WORK), len(steer), len(looks)
    hand, tangent, rate = np.empty(seen), np.empty(seen), np.empty(seen)
    middle, half = 0.5 * (left + right), 0.5 * (left - right)
    for i in range(seen):
        hand[i] = middle + half * looks[i]
    hand[0], hand[-1] = right, left
    for start in range(0, seen, BLOCK):
        some = fill_block(work, hand, start)
        turn_block(mechanism, work)
        block_tangents(mechanism, shares, work)
        for i in range(some):
            tangent[start + i], rate[start + i] = work[Row.TANGENT * BLOCK + i], work[Row.TANGENT_RATE * BLOCK + i]
    smallest, largest = atan(tangent[0]), atan(tangent[-1])
    first = max(smallest + right_spare * (largest - smallest), least)
    last = min(largest - left_spare * (largest - smallest), most)
    spacing = (last - first) / (count - 1)
    wanted, hands, low, high = np.empty(count), np.empty(count), np.empty(count), np.empty(count)
    for i in range(count):
        steer[i] = first + i * spacing if i < count - 1 else last
        wanted[i] = tan(steer[i])
    first_hands(wanted, hand, tangent, rate, hands, low, high)
    for start in range(0, count, BLOCK):
        some = fill_block(work, hands, start)
        for _ in range(MOST_STEPS):
            turn_block(mechanism, work)
            block_tangents(mechanism, shares, work)
            longest = 0.0
            for i in range(some):
                k = start + i
                there, low[k], high[k] = step_towards(
                    wanted[k], work[Row.TANGENT * BLOCK + i], work[Row.TANGENT_RATE * BLOCK + i], work[i], low[k], high[k]
                )  # fmt: skip
                longest = max(longest, abs(there - work[i]))
                work[i] = there
            if longest <= NEAR:
                break
        turn_block(mechanism, work)
        pose_block(mechanism, work)
        for i in range(some):
            k = start + i
            found[k, 0] = work[i]
            for side, wheel in enumerate(wheels_in(work)):
                found[k, 1 + side], found[k, 3 + side] = wheel[WheelRow.STEER * BLOCK + i], wheel[WheelRow.X * BLOCK + i]
                found[k, 5 + side], found[k, 7 + side] = wheel[WheelRow.Y * BLOCK + i], wheel[WheelRow.CAMBER * BLOCK + i]


@kernel
def beside(cells, column, other, wanted):
    """What one column of a steer table holds where another one, which rises, takes given values.

    cells : (n, columns, 4) of a SteerTable; column, other : of `SteerColumn`; wanted : (m,) rising values of `column` [its unit]
    Returns (m,) values of `other` [its unit]; nan where the table does not come to the wanted value.
    Source: Newton's method on a cell's cubic, halved where it leaves the cell.
    """
    found, cell, last = np.full(len(wanted), np.nan), 0, len(cells) - 1
    end = cells[last, column].sum()
    for i in range(len(wanted)):
        if not cells[0, column, 0] <= wanted[i] <= end:
            continue
        while cell < last and cells[cell + 1, column, 0] <= wanted[i]:
            cell += 1
        low, high = 0.0, 1.0
        t = 0.5
        for _ in range(MOST_STEPS):
            before = t
            piece = cells[cell, column]
            slope = piece[1] + t * (2.0 * piece[2] + 3.0 * t * piece[3])
            t, low, high = step_towards(wanted[i], cubic(piece, t), slope, t, low, high)
            if abs(t - before) <= NEAR:
                break
        found[i] = cubic(cells[cell, other], t)
    return found
