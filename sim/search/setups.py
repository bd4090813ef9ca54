"""What a search may change: the free keys of a set-up, and a set-up's steering sampled quickly enough to try thousands."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from math import nan, pi, radians

import numpy as np

from sim.errors import InputError
from sim.keys import Key
from sim.linkages.parts import UnbuildableError
from sim.linkages.pivots import LEFT, RIGHT
from sim.linkages.rolling import equivalent_steer, ideal_inner, ideal_outer, rolling_steer
from sim.scenario.car import CarTable
from sim.scenario.setup import SetupTable
from sim.scenario.tables import bounds_of
from sim.steering.angles import turning_circle
from sim.steering.arrangement import STEEPEST, Steering, assemble, build_steering
from sim.steering.kickback import levers
from sim.steering.table import SteerTable, sampled_table

MOST_KEYS = 6  # free at once; the search's time grows with them, and a team cannot make sense of more
COARSE, FINE, CELLS = 100, 48, 64  # hand angles to a side in the first and the second look; cells of the table
# The table reaches this far beyond what the course asks for: a share, and a step for understeer and the tyre's slip. [-], [rad]
BEYOND, BEYOND_STEP = 1.15, radians(3)
# The step of the first look with the lock in it is divided by so many, so often: to 0.0002 degrees of a hand limit of 60.  Where a rod
# and an arm come into line the wheel runs ahead by the root of that.
LOCK_PARTS, LOCK_LOOKS = 64, 2
RISE = 1e-6  # share of a hand angle over which a wheel is seen to turn further: rounding (1e-16) leaves ten digits of its turn
ANGLES = 40  # inner angles, evenly up to the largest that the course asks for, over which the error from ideal is taken


@dataclass(frozen=True)
class FreeKey:
    """A key of a set-up that a search may change, and its bounds [the key's unit]."""

    key: str
    low: float
    high: float


@dataclass(frozen=True, eq=False)
class Sketch:
    """A set-up's steering, sampled where the course needs it."""

    steering: Steering  # with the locks of the usable range
    table: SteerTable
    reach_left: float  # equivalent steer at the lock, in a left turn [rad]
    reach_right: float  # ... and a right one, below 0
    error: float  # of the outer wheel from ideal, root mean square over the angles that the course uses [rad]
    circle: float  # turning circle, kerb to kerb [m]
    hub_arm: float  # kick-back lever of a wheel that meets a step [m]


def free_keys(setup: SetupTable, asked: Mapping[str, tuple[float, float]], source: str) -> tuple[FreeKey, ...]:
    """The free keys of a search.

    setup : what the team has; asked : key to (low, high) [the key's unit], empty for the usual keys of the linkage near what the
    team has; source : the scenario's name in messages
    Returns the FreeKeys.  Raises InputError for keys that are not numbers or that the linkage does not use, and for bounds that are none.
    """
    allowed = bounds_of(SetupTable)
    chosen = dict(asked) or {key.name: _usual_bounds(setup, key) for key in setup.kind.searched}
    if len(chosen) > MOST_KEYS:
        raise InputError("--free", "", f"{len(chosen)} keys are too many at once", f"give at most {MOST_KEYS}")
    numeric = [key for key in allowed if key in setup.keys_read]
    found = []
    for key, (low, high) in chosen.items():
        if key not in numeric:
            near = get_close_matches(key, numeric, n=1)
            hint = f"did you mean {near[0]}?" if near else f"choose among {', '.join(numeric)}"
            raise InputError("--free", key, f'"{setup.name}" in {source} has no such number', hint)
        least, most = allowed[key]
        if not least <= low < high <= most:
            problem = f"{low:g} to {high:g} is no range between {least:g} and {most:g}"
            raise InputError("--free", key, problem, f"write {key}=LOW:HIGH")
        found.append(FreeKey(key, float(low), float(high)))
    return tuple(found)


def _usual_bounds(setup: SetupTable, key: Key) -> tuple[float, float]:
    """Bounds of a key that a search frees by itself, about what the team has, or about the usual where that is left out."""
    value = setup.value_of(key.name)
    value = key.usual if value is None else value
    assert key.search is not None
    assert value is not None  # `Key` sees to it
    low, high = key.search.about(value)
    return max(low, key.low), min(high, key.high)


def with_keys(setup: SetupTable, free: Sequence[FreeKey], values: Sequence[float], name: str | None = None) -> SetupTable:
    """A set-up with other values of its free keys.

    setup : SetupTable; free : FreeKeys; values : one a key [the key's unit]; name : of the new one, the old where None
    Returns a checked SetupTable.  Raises ValueError where the scenario would refuse it.
    """
    data = setup.model_dump(exclude_unset=True) | {one.key: float(value) for one, value in zip(free, values, strict=True)}
    return SetupTable.model_validate(data if name is None else data | {"name": name})


def largest_inner(left: float, right: float, car: CarTable) -> tuple[float, float]:
    """Largest ideal inner angle, size in a left and in a right turn, of a course.

    left, right : largest equivalent steer that the course asks for, right below 0 [rad]; car : CarTable
    Returns both sizes [rad].  Source: the ideal inner wheel of an equivalent steer, half a track inside it.
    """
    track, wheelbase = car.kingpin_track, car.wheelbase
    return float(ideal_inner(left, 0.5 * track, wheelbase)), float(ideal_inner(-right, 0.5 * track, wheelbase))


def inner_angles(largest: float) -> np.ndarray:
    """The inner angles over which an error is taken, (ANGLES,) rising to the largest [rad].  largest : size [rad]."""
    return largest * np.arange(1, ANGLES + 1) / ANGLES


def outer_errors(left: np.ndarray, right: np.ndarray, inner: np.ndarray, track: float, wheelbase: float) -> np.ndarray:
    """By how much the outer wheel steers more than its ideal, in a left turn.

    left, right : (n,) steer angles of the wheels over rising hand angles [rad]
    inner : (m,) angles of the inner, left wheel, above 0; those beyond the samples are left out [rad]
    track : between the kingpin axes at the ground, 0 for a turntable; wheelbase : l [m]
    Returns the errors (<= m,) [rad]; for a right turn give the mirrored angles.  Source: the Ackermann condition.
    """
    from scipy.interpolate import CubicSpline

    inner = inner[(inner >= left[0]) & (inner <= left[-1])]
    outer = CubicSpline(left, right)(inner)
    return outer - ideal_outer(inner, track, wheelbase)


def sketch(setup: SetupTable, car: CarTable, left: float, right: float, inner: tuple[np.ndarray, np.ndarray]) -> Sketch | None:
    """A set-up's steering, sampled; what `build_steering` and `steer_table` give at a tenth of their time.

    setup, car : SetupTable, CarTable
    left, right : largest equivalent steer that the course asks for, right below 0 [rad]
    inner : inner angles of left and of right turns over which the error is taken, sizes [rad]
    Returns a Sketch; None where the set-up cannot be put together or does not steer straight ahead.  Its lock is found from inside, so
    that what keeps a limit here keeps it; a gap in the range that is narrower than a hundredth of it is overlooked.
    """
    try:
        steering = assemble(setup, car)
    except UnbuildableError:
        return None
    hands = np.linspace(steering.lock_right, steering.lock_left, 2 * COARSE + 1)
    works = _works(steering, hands, car)
    if not works[COARSE]:
        return None
    ends = []
    for sign in (1, -1):
        bad = np.flatnonzero(~works[COARSE::sign])
        last = int(bad[0]) - 1 if len(bad) else COARSE
        end, beyond = hands[COARSE + sign * last], hands[COARSE + sign * min(last + 1, COARSE)]
        turned = last > 0 and not _rises(steering, float(end))
        if turned:  # a wheel has turned back since the sample before, and not yet to where it was there
            end = hands[COARSE + sign * (last - 1)]
        for _ in range(LOCK_LOOKS if last < COARSE or turned else 0):
            closer = np.linspace(end, beyond, LOCK_PARTS + 1)
            first = int(np.argmin(np.append(_works(steering, closer, car)[1:], False))) + 1
            end, beyond = closer[first - 1], closer[min(first, LOCK_PARTS)]
        ends.append(float(end))
    steering = replace(steering, lock_left=ends[0], lock_right=ends[1])
    if not (ends[0] > 0 > ends[1]):
        return None
    wheelbase, track = car.wheelbase, float(steering.kingpin_y[0] - steering.kingpin_y[1])
    look = np.linspace(ends[1], ends[0], 2 * COARSE + 1)
    wheels = steering.front_wheels(look).steer
    if not (np.diff(wheels, axis=0) > 0).all():  # between two samples that were too far apart a wheel turned back: look closely
        try:
            steering = build_steering(setup, car, "", "")
        except InputError:
            return None
        look = np.linspace(steering.lock_right, steering.lock_left, 2 * COARSE + 1)
        wheels = steering.front_wheels(look).steer
    steer = equivalent_steer(wheels, steering.kingpin_y, wheelbase)
    if not (np.all(np.diff(steer) > 0) and steer[0] < 0 < steer[-1]):
        return None
    wanted = [max(BEYOND * need, angles.max(initial=0.0)) + BEYOND_STEP for need, angles in zip((left, -right), inner, strict=True)]
    low, high = np.interp([max(-wanted[1], steer[0]), min(wanted[0], steer[-1])], steer, look)
    fine = np.linspace(low, high, 2 * FINE + 1)
    pose = steering.front_wheels(fine)
    errors = np.concatenate([
        outer_errors(pose.steer[:, LEFT], pose.steer[:, RIGHT], inner[0], track, wheelbase),
        outer_errors(-pose.steer[::-1, RIGHT], -pose.steer[::-1, LEFT], inner[1], track, wheelbase),
    ])  # fmt: skip
    return Sketch(
        steering=steering, table=sampled_table(steering, wheelbase, fine, pose, CELLS),
        reach_left=float(steer[-1]), reach_right=float(steer[0]),
        error=float(np.sqrt(np.mean(errors**2))) if len(errors) else nan,
        circle=turning_circle(steering, car).kerb,
        hub_arm=max(abs(levers(wheel).hub) for wheel in steering.wheels),
    )  # fmt: skip


def _rises(steering: Steering, hand: float) -> bool:
    """Whether both wheels still turn further out at a hand angle."""
    hands = np.array([hand * (1 - RISE), hand])
    swing = steering.mechanism.swings(hands)[0]
    steer = np.array([wheel.pose(swing[:, side]).steer for side, wheel in enumerate(steering.wheels)])
    return bool((np.diff(steer, axis=1) * np.sign(hand) > 0).all())


def _works(steering: Steering, hands: np.ndarray, car: CarTable) -> np.ndarray:
    """At which of the hand angles, in order, both wheels are held, their rods not too nearly in line, and turn further."""
    swing, reach = steering.mechanism.swings(hands)
    held = (reach >= 0).all(axis=1) & (steering.mechanism.rod_angles(hands, swing) >= steering.least_rod_angle).all(axis=1)
    steer = np.stack([wheel.pose(swing[:, side])[0] for side, wheel in enumerate(steering.wheels)], axis=1)
    asked = np.abs(rolling_steer(steer, -steering.kingpin_y, car.wheelbase))
    fine = held & (np.abs(steer) <= pi / 2).all(axis=1) & (asked <= STEEPEST).all(axis=1)
    further = (np.diff(steer, axis=0) * np.sign(hands[-1] - hands[0]) > 0).all(axis=1)
    # A step that does not turn both wheels further spoils its end that is farther from straight ahead.
    outward = np.abs(hands[1:]) > np.abs(hands[:-1])
    fine[1:][outward] &= further[outward]
    fine[:-1][~outward] &= further[~outward]
    return fine
