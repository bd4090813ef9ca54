"""What a page's replay and hand wheel read: laps, steering and course as columns of plain numbers, thinned to a page's size."""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from sim.lap.drive import ROW_TIME
from sim.lap.trace import Trace
from sim.linkages.rolling import equivalent_steer, rolling_steer
from sim.scenario.car import CarTable
from sim.steering.arrangement import Steering
from sim.study.compare import Comparison, SetupResult
from viz.shared.rounding import shown

# A car is drawn every 0.1 s where a page has room: between two such rows its path leaves the chord by less than a centimetre.
USUAL_STRIDE = round(0.1 / ROW_TIME)
MOST_ROWS = 15_000  # of all laps together, 1.2 MB of a page
MOST_LINE = 1500  # points of the course's line
# The page interpolates angles between samples and promises 0.01 degrees; here they are made fine enough for half of that.
NEAR_DEG = 0.005
FEWEST_SAMPLES, MOST_SAMPLES = 60, 1920  # intervals of the hand's range
HAND_DIGITS = 4  # of a degree: the samples lie at rounded hand angles, so that rounding moves no wheel
MOST_BEND = 50.0  # [1/m] where a wheel's axle line crosses the car itself nothing more is told


def stride_of(traces: Sequence[Trace]) -> int:
    """Every how many rows of their traces laps are kept.  traces : of the laps on one page."""
    return max(USUAL_STRIDE, -(-sum(len(one.time) for one in traces) // MOST_ROWS))


def lap_columns(trace: Trace, stride: int, telling: float) -> dict[str, Any]:
    """A lap for the replay.

    trace : Trace; stride : every how many rows are kept, and besides the last one and that at the telling station [m]

    Returns columns over its rows: time [s], station, x, y [m], heading, hand and steer angles [degrees], speed [m/s], and the power that
    each wheel loses by slipping [W], in the tenths in which it is shown; `told` is which row lies at the telling station.
    """
    count = len(trace.time)
    station = trace.station - trace.station[0]
    rows = np.unique([*range(0, count, stride), row_at(trace, telling), count - 1])

    def column(values: np.ndarray, digits: int) -> list[float]:
        return (np.round(np.nan_to_num(values[rows]), digits) + 0.0).tolist()

    powers = [[shown(value) for value in row] for row in np.nan_to_num(trace.slip_loss[rows]).tolist()]
    return {
        "told": int(np.searchsorted(rows, row_at(trace, telling))), "time": column(trace.time, 2), "station": column(station, 2),
        "x": column(trace.x, 2), "y": column(trace.y, 2), "heading": column(np.degrees(np.unwrap(trace.heading)), 1),
        "speed": column(trace.speed, 2), "hand": column(np.degrees(trace.hand), 2), "left": column(np.degrees(trace.steer[:, 0]), 2),
        "right": column(np.degrees(trace.steer[:, 1]), 2), "power": powers,
    }  # fmt: skip


def row_at(trace: Trace, station: float) -> int:
    """The row of a trace that is nearest to a place.  trace : Trace; station : from its first row on [m]"""
    return int(np.argmin(np.abs(trace.station - trace.station[0] - station)))


def powers_at(lap: Mapping[str, Any], station: float) -> list[float]:
    """What each wheel loses at a place, as the page's script has it between two rows [W].  lap : of `lap_columns`; station [m]"""
    stations, powers = lap["station"], lap["power"]
    low = min(max(bisect_right(stations, station) - 1, 0), max(len(stations) - 2, 0))
    if len(stations) < 2:
        return list(powers[0])
    share = min(max((station - stations[low]) / ((stations[low + 1] - stations[low]) or 1.0), 0.0), 1.0)
    return [one + share * (other - one) for one, other in zip(powers[low], powers[low + 1], strict=True)]


def steering_columns(steering: Steering, car: CarTable, hands: np.ndarray) -> np.ndarray:
    """What the page shows of a steering.  steering, car : Steering, CarTable; hands : (n,) within its range [degrees].

    Returns (n, 11): both wheels' angles, the inner wheel's angle less ideal if the left and if the right wheel is the inner one, the
    equivalent steer, whose sign says which of the two is [degrees]; both contact points ahead of the front axle and left of the middle
    [m]; the curvatures of the turn that each wheel asks for: its axle line crosses the rear axle's line at one over it [1/m].
    """
    wheels = steering.front_wheels(np.radians(hands))
    left, right = wheels.steer.T
    track = float(steering.kingpin_y[0] - steering.kingpin_y[1])
    errors = left - rolling_steer(right, track, car.wheelbase), right - rolling_steer(left, -track, car.wheelbase)
    ahead = car.wheelbase + wheels.x
    sine, cosine = np.sin(wheels.steer), np.cos(wheels.steer)
    with np.errstate(divide="ignore", invalid="ignore"):
        bends = np.clip(np.nan_to_num(sine / (ahead * cosine + wheels.y * sine)), -MOST_BEND, MOST_BEND)
    return np.column_stack(
        [*np.degrees([left, right, *errors, equivalent_steer(wheels.steer, steering.kingpin_y, car.wheelbase)]), wheels.x, wheels.y, bends]
    )


ANGLES = slice(0, 5)  # of the columns: those for which the page promises its degrees
NAMES = ("left", "right", "errorLeft", "errorRight", "steer", "leftX", "rightX", "leftY", "rightY", "leftBend", "rightBend")


def steering_table(steering: Steering, car: CarTable) -> dict[str, list[float]]:
    """A steering sampled over the hand angle, closely enough for straight lines between the samples.

    steering, car : Steering, CarTable
    Returns columns: `hand` [degrees] and those of `steering_columns` by NAMES.
    """
    low, high = np.degrees([steering.lock_right, steering.lock_left])
    finest = 10.0**HAND_DIGITS
    ends = np.ceil(low * finest) / finest, np.floor(high * finest) / finest

    def sampled(count: int) -> tuple[np.ndarray, np.ndarray]:
        # Closer towards the locks, where rods and arms near one line turn the wheels ever faster.
        shares = 0.5 + 0.5 * np.sin(np.linspace(-np.pi / 2, np.pi / 2, count + 1))
        hands = np.unique(np.clip(np.round(ends[0] + shares * (ends[1] - ends[0]), HAND_DIGITS), *ends))
        return hands, steering_columns(steering, car, hands)

    count = FEWEST_SAMPLES
    hands, columns = sampled(count)
    while count < MOST_SAMPLES:
        between = 0.5 * (hands[1:] + hands[:-1])
        exact = steering_columns(steering, car, between)[:, ANGLES]
        if np.abs(exact - 0.5 * (columns[1:, ANGLES] + columns[:-1, ANGLES])).max() <= NEAR_DEG:
            break
        count *= 2
        hands, columns = sampled(count)
    table = {"hand": hands.tolist()}
    return table | {name: (np.round(values, 4) + 0.0).tolist() for name, values in zip(NAMES, columns.T, strict=True)}


def page_data(comparison: Comparison, shown: Sequence[tuple[SetupResult, Steering]], pair: Sequence[int], telling: float) -> dict[str, Any]:
    """All numbers that a page's script reads.

    comparison : the run; shown : set-ups on the page with their steering; pair : places in it with which the replay opens
    telling : station at which it opens [m]
    """
    car, course, stride = comparison.scenario.car, comparison.course, stride_of([one.trace for one, _ in shown])
    finished = [one for one, _ in shown if one.finished] or [one for one, _ in shown]
    top = max(float(np.nan_to_num(one.trace.slip_loss).max(initial=0.0)) for one in finished)
    line = np.unique(np.linspace(0, len(course.x) - 1, min(len(course.x), MOST_LINE)).astype(int))
    return {
        "car": {
            "wheelbase": car.wheelbase, "frontArm": car.mass_centre_behind_front_axle_mm * 1e-3, "rearTrack": car.rear_track,
            "kingpinTrack": round(car.kingpin_track, 4), "wheelRadius": car.wheel_radius, "tyreWidth": car.tyre_width,
            "oneTrack": "bicycle" in comparison.rung.label,
        },
        "course": {"x": np.round(course.x[line], 2).tolist(), "y": np.round(course.y[line], 2).tolist(), "length": round(course.length, 2)},
        "top": round(max(top, 1e-3), 3), "pair": list(pair), "telling": round(telling, 2),
        "setups": [
            {
                "name": one.name, "turntable": steering.kind.axle, "steering": steering_table(steering, car),
                "lap": lap_columns(one.trace, stride, telling),
            }
            for one, steering in shown
        ],
    }  # fmt: skip
