"""What a search may change: the free keys of a set-up, and a set-up's steering sampled where a course needs it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from math import nan, radians

import numpy as np

from sim.errors import InputError
from sim.keys import Key
from sim.linkages.rolling import equivalent_steer, ideal_inner, ideal_outer
from sim.scenario.car import CarTable
from sim.scenario.setup import SetupTable
from sim.scenario.tables import bounds_of
from sim.steering.angles import turning_circle
from sim.steering.arrangement import Steering, build_steering
from sim.steering.kickback import levers
from sim.steering.sampling import beside
from sim.steering.table import SteerColumn, SteerTable, steer_table

MOST_KEYS = 6  # free at once; the search's time grows with them, and a team cannot make sense of more
CELLS = 64  # of a sketch's table
# The table reaches this far beyond what the course asks for: a share, and a step for understeer and the tyre's slip. [-], [rad]
BEYOND, BEYOND_STEP = 1.15, radians(3)
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


def outer_errors(table: SteerTable, inner: np.ndarray, track: float, wheelbase: float, to_the_left: bool) -> np.ndarray:
    """By how much the outer wheel steers more than its ideal.

    table : SteerTable
    inner : (m,) rising sizes of the inner wheel's angle, above 0; those beyond the table are left out [rad]
    track : between the kingpin axes at the ground, 0 for a turntable; wheelbase : l [m]; to_the_left : the way of the turn
    Returns the errors (<= m,) [rad].  Source: the Ackermann condition.
    """
    left, right = SteerColumn.LEFT_STEER.value, SteerColumn.RIGHT_STEER.value
    outer = beside(table.cells, left, right, inner) if to_the_left else -beside(table.cells, right, left, -inner[::-1])[::-1]
    held = np.isfinite(outer)
    return outer[held] - ideal_outer(inner[held], track, wheelbase)


def sketch(setup: SetupTable, car: CarTable, left: float, right: float, inner: tuple[np.ndarray, np.ndarray]) -> Sketch | None:
    """A set-up's steering as `build_steering` gives it, sampled where the course needs it.

    setup, car : SetupTable, CarTable
    left, right : largest equivalent steer that the course asks for, right below 0 [rad]
    inner : inner angles of left and of right turns over which the error is taken, sizes [rad]
    Returns a Sketch; None where the set-up cannot be put together or does not steer straight ahead.
    """
    try:
        steering = build_steering(setup, car, "", "")
    except InputError:
        return None
    wanted = [max(BEYOND * need, angles.max(initial=0.0)) + BEYOND_STEP for need, angles in zip((left, -right), inner, strict=True)]
    wheelbase, track = car.wheelbase, float(steering.kingpin_y[0] - steering.kingpin_y[1])
    table = steer_table(steering, wheelbase, -wanted[1], wanted[0], CELLS)
    errors = np.concatenate([outer_errors(table, angles, track, wheelbase, way) for angles, way in zip(inner, (True, False), strict=True)])
    locks = steering.front_wheels(np.array([steering.lock_left, steering.lock_right])).steer
    reach_left, reach_right = equivalent_steer(locks, steering.kingpin_y, wheelbase).tolist()
    return Sketch(
        steering=steering, table=table, reach_left=reach_left, reach_right=reach_right,
        error=float(np.sqrt(np.mean(errors**2))) if len(errors) else nan,
        circle=turning_circle(steering, car).kerb,
        hub_arm=max(abs(levers(wheel).hub) for wheel in steering.wheels),
    )  # fmt: skip
