"""A lap of rigid wheels, which needs no time integration: the car is exactly on the line at the planned speed."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sim.car.chassis import GRAVITY, Car, wheel_loads
from sim.course.centreline import Course
from sim.lap.ledger import Ledger
from sim.pace.driver import PacePlan
from sim.steering.table import SteerTable
from sim.turn.rolling import RollingTurn, rolling_turn

CURVATURES = 160  # curvatures at which a set-up's rolling turn is found; between them the slips are interpolated


@dataclass(frozen=True)
class RollingLap:
    """A lap on the line at the planned speed; arrays run along the course's stations."""

    ledger: Ledger
    time: float  # [s]
    steer: np.ndarray  # (n,) [rad]
    sideslip: np.ndarray  # (n,) [rad]
    slips: np.ndarray  # (n, 4) [rad]
    scrub: np.ndarray  # (n, 4) slip loss per metre [N]
    drive: np.ndarray  # (n,) drive force, negative where the brakes hold [N]


def rolling_lap(car: Car, table: SteerTable | None, course: Course, plan: PacePlan) -> RollingLap:
    """A lap of a rolling rung, by a sum over the stations.

    car, table : as for `rolling_turn`; course : Course; plan : PacePlan on its stations
    Returns a RollingLap.  Raises ValueError where the lock is too small for the course.
    Source: the energy balance of each step, dE_k + dE_height + air + rolling + scrub = drive - brakes; the work is summed by the
    trapezium rule, so the ledger closes by construction and has no residual to show.
    """
    low, high = float(course.curvature.min()), float(course.curvature.max())
    grid = np.linspace(low, high, CURVATURES) if high - low > 1e-12 else np.array([low, low + 1e-9])
    turns = [rolling_turn(car, table, float(curvature)) for curvature in grid]

    def along(pick: Callable[[RollingTurn], np.ndarray | float]) -> np.ndarray:
        values = np.array([pick(turn) for turn in turns])
        if values.ndim == 1:
            return np.interp(course.curvature, grid, values)
        return np.column_stack([np.interp(course.curvature, grid, column) for column in values.T])

    speeds, lateral, longitudinal = along(lambda t: t.wheel_speeds), along(lambda t: t.lateral), along(lambda t: t.longitudinal)
    slips, drive_slips = along(lambda t: t.slips), along(lambda t: t.drive_slips)
    loads = np.empty(4)
    half = 0.5 * np.array([car.front_track, -car.front_track, car.rear_track, -car.rear_track])
    lengthwise = np.array([car.front_arm] * 2 + [car.front_arm - car.wheelbase] * 2)
    wheel_loads(lengthwise, half, car.mass * GRAVITY, 0.0, 0.0, car.height, loads)
    coefficient = np.array([car.front_tyre.rolling_resistance] * 2 + [car.rear_tyre.rolling_resistance] * 2)
    step = np.diff(course.station)

    def total(per_metre: np.ndarray) -> np.ndarray:
        return 0.5 * (per_metre[1:] + per_metre[:-1]) * (step if per_metre.ndim == 1 else step[:, None])

    energy = 0.5 * car.mass * plan.speed**2 + 0.5 * car.yaw_inertia * (plan.speed * course.curvature) ** 2
    air = total(0.5 * car.air_density * car.drag_area * plan.speed**2)
    rolling = total((coefficient * loads * np.abs(speeds)).sum(axis=1))
    lateral_steps, longitudinal_steps = total(lateral), total(longitudinal)
    height = car.mass * GRAVITY * np.diff(course.height)
    needed = np.diff(energy) + height + air + rolling + lateral_steps.sum(axis=1) + longitudinal_steps.sum(axis=1)
    ledger = Ledger(
        drive_work=float(np.maximum(needed, 0).sum()), hand_work=0.0, kinetic=float(energy[-1] - energy[0]),
        air=float(air.sum()), rolling=float(rolling.sum()), brakes=float(np.maximum(-needed, 0).sum()), height=float(height.sum()),
        lateral=lateral_steps.sum(axis=0), longitudinal=longitudinal_steps.sum(axis=0), aligning=0.0, deflection=0.0,
        rub=total(np.hypot(slips, drive_slips) * np.abs(speeds)).sum(axis=0),
    )  # fmt: skip
    force = np.interp(course.station, 0.5 * (course.station[1:] + course.station[:-1]), needed / step)
    return RollingLap(ledger, plan.time, along(lambda t: t.steer), along(lambda t: t.sideslip), slips, lateral + longitudinal, force)
