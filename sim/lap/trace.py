"""A lap as a table of columns at 50 Hz: for the trace file, the plots and whoever wants to see it again."""

from dataclasses import dataclass

import numpy as np

from sim.car.chassis import WHEELS, Car
from sim.car.motion import BODY_COLUMNS, WHEEL_COLUMNS, BodyColumn, WheelColumn
from sim.course.centreline import Course
from sim.kernels.cubics import cell_of, cubic
from sim.lap.drive import ROW_TIME, Lap, observe
from sim.lap.rolling import RollingLap
from sim.lap.state import STATES, State
from sim.pace.driver import PacePlan, driver_of
from sim.pace.road import road_of
from sim.steering.cells import steer_cells_of
from sim.steering.table import SteerColumn, SteerTable

AT_LOCK = 1e-3  # [rad] of equivalent steer from the end of its table, within which a steering counts as at its lock


@dataclass(frozen=True)
class Trace:
    """Columns of one lap, each (n,) or, for the wheels, (n, 4) in the order of `chassis.WHEELS`; SI units."""

    time: np.ndarray
    station: np.ndarray
    x: np.ndarray
    y: np.ndarray
    heading: np.ndarray
    speed: np.ndarray
    sideslip: np.ndarray
    yaw_rate: np.ndarray
    lateral_error: np.ndarray
    hand: np.ndarray
    steer: np.ndarray
    slip: np.ndarray
    load: np.ndarray
    lateral_force: np.ndarray
    longitudinal_force: np.ndarray
    slip_loss: np.ndarray
    rub_speed: np.ndarray
    drive_force: np.ndarray

    def columns(self) -> dict[str, np.ndarray]:
        """The columns as a person reads them: degrees, with the unit in each name."""
        plain = {
            "time_s": self.time, "station_m": self.station, "x_m": self.x, "y_m": self.y,
            "heading_deg": np.degrees(self.heading), "speed_m_per_s": self.speed, "sideslip_deg": np.degrees(self.sideslip),
            "yaw_rate_deg_per_s": np.degrees(self.yaw_rate), "lateral_error_m": self.lateral_error,
            "hand_deg": np.degrees(self.hand), "drive_force_N": self.drive_force,
        }  # fmt: skip
        wheels = {
            "steer_deg": np.degrees(self.steer), "slip_deg": np.degrees(np.arctan(self.slip)), "load_N": self.load,
            "lateral_force_N": self.lateral_force, "longitudinal_force_N": self.longitudinal_force,
            "slip_loss_W": self.slip_loss, "rub_speed_m_per_s": self.rub_speed,
        }  # fmt: skip
        for key, values in wheels.items():
            plain |= {f"{key}_{wheel}": values[:, i] for i, wheel in enumerate(WHEELS)}
        return plain


def no_trace() -> Trace:
    """The trace of a set-up that was not driven at all: no rows."""
    names = Trace.__dataclass_fields__
    wheels = {"steer", "slip", "load", "lateral_force", "longitudinal_force", "slip_loss", "rub_speed"}
    return Trace(**{name: np.empty((0, 4)) if name in wheels else np.empty(0) for name in names})


def pose_columns(table: SteerTable, steer: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Hand angle (n,) and the four wheels' steer angles (n, 4).  table : SteerTable; steer : equivalent, (n,); all [rad]."""
    hand, wheels = np.zeros(len(steer)), np.zeros((len(steer), 4))
    for i, angle in enumerate(steer):
        index, t = cell_of(angle - table.first, table.spacing, len(table.cells))
        cells = table.cells[index]
        hand[i], wheels[i, 0], wheels[i, 1] = (
            cubic(cells[SteerColumn.HAND], t),
            cubic(cells[SteerColumn.LEFT_STEER], t),
            cubic(cells[SteerColumn.RIGHT_STEER], t),
        )
    return hand, wheels


def time_at_lock(table: SteerTable, trace: Trace) -> float:
    """How long the steering of a lap stands at an end of its usable lock [s].  table : SteerTable; trace : Trace."""
    right, left = pose_columns(table, np.array([table.lock_right + AT_LOCK, table.lock_left - AT_LOCK]))[0]
    return float(np.count_nonzero((trace.hand >= left) | (trace.hand <= right)) * ROW_TIME)


def place_on(course: Course, station: np.ndarray, error: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Position (x, y) [m] and the line's heading [rad] beside a line.

    course : Course; station, error : along it and left of it, (n,) [m]
    Returns (x, y, heading), (n,) each.  Source: the line's normal.
    """
    station = np.mod(station, course.length) if course.closed else np.clip(station, 0, course.length)
    heading = np.interp(station, course.station, course.heading)
    x, y = np.interp(station, course.station, course.x), np.interp(station, course.station, course.y)
    return x - error * np.sin(heading), y + error * np.cos(heading), heading


def trace_of(car: Car, table: SteerTable, course: Course, plan: PacePlan, lap: Lap) -> Trace:
    """The trace of a lap driven in time.  car, table, course, plan : what was driven; lap : Lap.  Returns a Trace."""
    rows = lap.rows
    wheels, bodies = np.zeros((len(rows), 4, WHEEL_COLUMNS)), np.zeros((len(rows), BODY_COLUMNS))
    observe(car, steer_cells_of(table), road_of(course, plan), driver_of(car), rows.reshape(-1, STATES), wheels, bodies)
    x, y, line = place_on(course, rows[:, State.STATION], rows[:, State.ERROR])
    hand, steer = pose_columns(table, rows[:, State.STEER])
    return Trace(
        time=np.arange(len(rows)) * ROW_TIME, station=rows[:, State.STATION].copy(), x=x, y=y, heading=line + rows[:, State.HEADING],
        speed=np.hypot(rows[:, State.VX], rows[:, State.VY]), sideslip=np.arctan2(rows[:, State.VY], rows[:, State.VX]),
        yaw_rate=rows[:, State.YAW_RATE].copy(),
        lateral_error=rows[:, State.ERROR].copy(), hand=hand, steer=steer, slip=rows[:, State.SLIPS : State.SLIPS + 4].copy(),
        # Copies: a view of a column keeps all of them in memory.
        load=wheels[:, :, WheelColumn.LOAD].copy(), lateral_force=wheels[:, :, WheelColumn.LATERAL].copy(),
        longitudinal_force=wheels[:, :, WheelColumn.LONGITUDINAL].copy(),
        slip_loss=wheels[:, :, WheelColumn.LATERAL_LOSS] + wheels[:, :, WheelColumn.LONGITUDINAL_LOSS],
        rub_speed=wheels[:, :, WheelColumn.RUB_SPEED].copy(),
        drive_force=bodies[:, BodyColumn.DRIVE_FORCE].copy(),
    )  # fmt: skip


def trace_of_rolling(car: Car, table: SteerTable | None, course: Course, plan: PacePlan, lap: RollingLap) -> Trace:
    """The trace of a lap of a rolling rung; forces and loads that this rung does not know are NaN.

    car : Car; table : SteerTable or None; course : Course; plan : PacePlan; lap : RollingLap [SI]
    """
    steps = 2 * np.diff(plan.station) / (plan.speed[1:] + plan.speed[:-1])
    clock = np.concatenate([[0.0], np.cumsum(steps)])
    time = np.arange(0.0, clock[-1], ROW_TIME)

    def at(values: np.ndarray) -> np.ndarray:
        if values.ndim == 1:
            return np.interp(time, clock, values)
        return np.column_stack([np.interp(time, clock, column) for column in values.T])

    steer, sideslip, slips, speed = at(lap.steer), at(lap.sideslip), at(lap.slips), at(plan.speed)
    unknown = np.full((len(time), 4), np.nan)
    if table is None:
        hand, wheels = steer, np.column_stack([steer, steer, 0 * steer, 0 * steer])
    else:
        hand, wheels = pose_columns(table, steer)
    return Trace(
        time=time, station=at(course.station), x=at(course.x), y=at(course.y), heading=at(course.heading) - sideslip, speed=speed,
        sideslip=sideslip, yaw_rate=speed * at(course.curvature), lateral_error=0 * time, hand=hand, steer=wheels, slip=slips,
        load=unknown, lateral_force=unknown, longitudinal_force=unknown, slip_loss=at(lap.scrub) * speed[:, None],
        rub_speed=np.abs(slips) * speed[:, None], drive_force=np.maximum(at(lap.drive), 0.0),
    )  # fmt: skip
