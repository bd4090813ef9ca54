"""A run folder as arrays: the course, and for every set-up where the car and its wheels were at each instant."""

import io
import json
import re
from dataclasses import dataclass
from functools import cached_property
from math import cos, isfinite, nan, sin
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from sim.car.chassis import WHEELS, contact_velocity
from sim.course.centreline import Course
from sim.errors import InputError
from sim.files.text import LARGEST_FILE, plain_bytes
from sim.linkages.front_end import MOST_HAND_DEG
from sim.scenario.file import load_scenario
from sim.scenario.scenario import Scenario
from sim.scenario.tables import MILLIMETRE
from sim.steering.arrangement import build_steering
from sim.study.dangers import Dangers, dangers_of
from sim.study.ready import course_of
from viz.shared.bends import Spent
from viz.shared.runs import open_told
from viz.shared.telling import running_sum, telling_places

MARK = 0.5  # [m] length of the dashes of the course's line, and of the gaps between
CAR_COLUMNS = ("time_s", "station_m", "x_m", "y_m", "heading_deg", "speed_m_per_s", "sideslip_deg", "yaw_rate_deg_per_s", "hand_deg",
               "drive_force_N")  # fmt: skip
WHEEL_COLUMNS = ("steer_deg", "slip_deg", "load_N", "lateral_force_N", "slip_loss_W", "rub_speed_m_per_s")
UNKNOWN = ("load_N", "lateral_force_N")  # to a rolling model
COLUMNS = (*CAR_COLUMNS, *(f"{column}_{wheel}" for column in WHEEL_COLUMNS for wheel in WHEELS))
EMPTY = (",,", ",\n", ",\r", "\n,")  # where a cell holds nothing
LARGEST_TRACE = 200_000_000  # [bytes]; an hour and more of driving
AGAIN = "run the scenario again with this version"
OFF_THE_COURSE = 100.0  # [m] from the course's extent; a lap ends when its car is 2 m from the line, so further away is a slip of the pen
# What no car of a scenario does, beyond which a number of a trace is a slip of the pen, and the picture would be of nothing.
WILDEST = {
    "time_s": 1e6, "heading_deg": 1e6, "speed_m_per_s": 100.0, "sideslip_deg": 180.0, "yaw_rate_deg_per_s": 1e5,
    "hand_deg": MOST_HAND_DEG + 1.0, "drive_force_N": 1e6, "steer_deg": 90.0, "slip_deg": 90.0, "load_N": 1e5, "lateral_force_N": 1e6,
    "slip_loss_W": 1e6, "rub_speed_m_per_s": 200.0,
}  # fmt: skip


class Body(NamedTuple):
    """What of the car is drawn [m]."""

    wheelbase: float
    front_arm: float  # mass centre behind the front axle
    front_track: float
    rear_track: float
    wheel_radius: float
    tyre_width: float


class _Instant(NamedTuple):
    """The fields of Instant."""

    time: float  # [s]
    station: float  # [m]
    x: float  # of the mass centre [m]
    y: float
    heading: float
    speed: float  # [m/s]
    steer: np.ndarray
    drift: np.ndarray  # direction in which the wheel moves, less that in which it points
    load: np.ndarray  # [N]; NaN where the model knows none
    power: np.ndarray  # of all slip [W]
    wheel_x: np.ndarray  # contact points ahead of the mass centre [m]
    wheel_y: np.ndarray  # ... left of it
    curve: np.ndarray  # (2,) curvature of the mass centre's motion, yaw rate / speed [1/m], and its sideslip
    rub: float  # rubber dragged so far, all wheels [m]
    work: float  # [J]
    slip: np.ndarray  # of the tyres, positive where they push to the left
    lateral: np.ndarray  # of `power` what slipping sideways takes; the rest is taken by driving and braking [W]
    drive_force: float  # of the drive, below 0 while the car brakes [N]


class Instant(_Instant):
    """One car at one moment; wheels (4,) in the order of `chassis.WHEELS`; angles [rad], positive to the left."""

    @cached_property
    def contacts(self) -> np.ndarray:
        """The contact points on the ground, (4, 2) [m]."""
        c, s = cos(self.heading), sin(self.heading)
        return np.stack([self.x + c * self.wheel_x - s * self.wheel_y, self.y + s * self.wheel_x + c * self.wheel_y], axis=1)


@dataclass(frozen=True, eq=False)
class Drive:
    """What one set-up did; arrays (n,) or (n, 4) over its samples, SI.

    name : of the set-up; reason : why it did not finish, empty where it did
    turntable : whether the whole axle swings; kingpin_y : (2,) [m]
    dangers : where a stop has to hold the hand wheel
    slip : (n, 4) of the tyres, positive where they push to the left [rad]
    rub, work : running sums that end where the summary's do, so that no total here differs from the table's [m], [J]
    lateral : (n, 4) of `power` what slipping sideways takes [W]; drive_force : (n,) below 0 while the car brakes [N]
    drive_work : of the whole lap as the summary tells it, NaN where it tells none [J]
    """

    name: str
    reason: str
    turntable: bool
    kingpin_y: np.ndarray
    dangers: Dangers
    time: np.ndarray
    station: np.ndarray
    x: np.ndarray
    y: np.ndarray
    heading: np.ndarray
    speed: np.ndarray
    steer: np.ndarray
    drift: np.ndarray
    load: np.ndarray
    power: np.ndarray
    wheel_x: np.ndarray
    wheel_y: np.ndarray
    curve: np.ndarray
    rub: np.ndarray
    work: np.ndarray
    slip: np.ndarray
    lateral: np.ndarray
    drive_force: np.ndarray
    drive_work: float = nan

    @cached_property
    def _table(self) -> np.ndarray:
        alone = [self.time, self.station, self.x, self.y, self.heading, self.speed]
        wheels = [self.steer, self.drift, self.load, self.power, self.wheel_x, self.wheel_y, self.curve]
        return np.column_stack([*alone, *wheels, self.rub, self.work, self.slip, self.lateral, self.drive_force])

    @cached_property
    def ground(self) -> np.ndarray:
        """The wheels' contact points on the ground, (n, 4, 2) [m]."""
        c, s = np.cos(self.heading)[:, None], np.sin(self.heading)[:, None]
        x, y = self.wheel_x, self.wheel_y
        return np.stack([self.x[:, None] + c * x - s * y, self.y[:, None] + s * x + c * y], axis=2)

    @cached_property
    def total(self) -> np.ndarray:
        """Power of all wheels (n,) [W]."""
        return self.power.sum(axis=1)

    @cached_property
    def spent(self) -> Spent:
        """What its tyres lose along the course."""
        return Spent(self.station, self.total, self.work)

    def at(self, row: float) -> Instant:
        """The car between two samples.  row : index of the sample, with a fraction; held inside the drive."""
        kept = self._last
        if not kept or kept[0] != row:
            kept[:] = row, self._between(row)  # head, picture, caption and board ask for the same
        return kept[1]

    @cached_property
    def _last(self) -> list[Any]:
        """The row that was asked for last, and the car there."""
        return []

    def _between(self, row: float) -> Instant:
        row = min(max(row, 0.0), len(self.time) - 1.0)
        index = min(int(row), max(len(self.time) - 2, 0))
        share = row - index
        here = self._table[index]
        if share:
            here = here + share * (self._table[index + 1] - here)
        wheels = [here[6 + 4 * i : 10 + 4 * i] for i in range(6)]
        return Instant._make([*here[:6].tolist(), *wheels, here[30:32], *here[32:34].tolist(), here[34:38], here[38:42], float(here[42])])

    def row_at(self, measure: np.ndarray, value: float) -> float:
        """The row, with a fraction, at which a rising column has a value.  measure : (n,) `time` or `station`; value : in its unit."""
        after = int(np.searchsorted(measure, value, side="right"))
        if not 0 < after < len(measure):
            return 0.0 if after == 0 else len(measure) - 1.0
        before = float(measure[after - 1])
        return after - 1 + (value - before) / (float(measure[after]) - before)


@dataclass(frozen=True, eq=False)
class Replay:
    """A whole run: everything that the window and the export need.

    folder : of the run; model : rung of the ladder; single_track : whether the model has no width
    """

    folder: Path
    title: str
    model: str
    single_track: bool
    scenario: Scenario
    course: Course
    body: Body
    drives: tuple[Drive, ...]

    @cached_property
    def top(self) -> float:
        """Top of the power scale of one wheel: the most that any finished drive shows [W]."""
        done = [one for one in self.drives if not one.reason] or self.drives
        return max(max(float(np.nanmax(one.power)) for one in done), 1e-3)

    @cached_property
    def marks(self) -> np.ndarray:
        """The course's line as dashes, (n, 2, 2): dash, end, place [m]."""
        x, y, station = self.course.x, self.course.y, self.course.station
        starts = np.arange(0.0, station[-1] - MARK, 2 * MARK)
        return np.stack([np.column_stack([np.interp(at, station, one) for one in (x, y)]) for at in (starts, starts + MARK)], axis=1)

    def telling(self, chosen: list[int]) -> list[float]:
        """Stations where set-ups differ most in power, the largest difference first; of one alone, where its power is greatest [m].

        chosen : indices of the set-ups
        Each is a place of its own: between it and a more telling one the difference falls below half of its own.
        """
        return [station for station, _ in self.telling_places(chosen)]

    def telling_places(self, chosen: list[int], leading: float | None = None) -> list[tuple[float, float]]:
        """As `telling`, with the power that they differ by there (of one alone: its power), (station [m], power [W]).

        leading : a station that comes first, None for none [m]
        """
        return telling_places([(self.drives[i].station, self.drives[i].total) for i in chosen], self.course.closed, leading)


def read_run(folder: Path) -> Replay:
    """Read a run folder.

    folder : as the user wrote it
    Raises InputError where it is missing, of another version, or damaged.
    """
    open_told(folder, "scrubwise watch {run}")
    summary = _summary(folder)
    scenario = load_scenario(folder / "scenario.toml", str(folder / "scenario.toml"))
    course = course_of(scenario, folder, str(folder / "scenario.toml"))
    car = scenario.car
    lengths = (car.wheelbase_mm, car.mass_centre_behind_front_axle_mm, car.front_track_mm, car.rear_track_mm, car.wheel_radius_mm,
               car.tyre_width_mm)  # fmt: skip
    body = Body(*(MILLIMETRE * length for length in lengths))
    single = "bicycle" in summary["model"]
    count = len(scenario.setup)
    if len(summary["setups"]) != count:
        problem = f"the summary tells of {len(summary['setups'])} set-ups, and the run's scenario.toml has {count}"
        raise InputError(str(folder), "", problem, AGAIN)
    drives = []
    for index, told in enumerate(summary["setups"]):
        files = sorted(folder.glob(f"trace-{index + 1:02d}*.csv"))
        if not files:
            raise InputError(str(folder), "", f"the trace of set-up {index + 1} is missing", AGAIN)
        columns = _columns(files[0])
        _refuse_wild(files[0], columns, course)
        drives.append(_drive(index, told, columns, scenario, body, single))
    return Replay(folder, scenario.title, summary["model"], single, scenario, course, body, tuple(drives))


def _refuse_wild(path: Path, columns: dict[str, np.ndarray], course: Course) -> None:
    """Raise InputError for the first number that no car on this course can have."""
    bounds = {"station_m": (-OFF_THE_COURSE, course.length + OFF_THE_COURSE)}
    for name, line in (("x_m", course.x), ("y_m", course.y)):
        bounds[name] = float(line.min()) - OFF_THE_COURSE, float(line.max()) + OFF_THE_COURSE
    for name, values in columns.items():
        kind = next((name.removesuffix(f"_{wheel}") for wheel in WHEELS if name.endswith(wheel)), name)
        low, high = bounds[name] if name in bounds else (-WILDEST[kind], WILDEST[kind])
        wild = (values < low) | (values > high)
        if wild.any():
            row = int(np.argmax(wild))
            problem = f"{name} is {values[row]:g}, not between {low:.6g} and {high:.6g}"
            raise InputError(str(path), f"line {row + 2}", problem, AGAIN)


def _summary(folder: Path) -> dict[str, Any]:
    path = folder / "summary.json"
    try:
        told = json.loads(plain_bytes(path, LARGEST_FILE))
        setups = [
            {"finished": bool(one["finished"]), "reason": str(one["reason"] or ""), "drive_work": _number(one.get("drive_work_J")),
             "scrub": _number(one.get("scrub_J")), "rub": sum(map(_number, (one.get("rub_m") or {"": None}).values()))}
            for one in told["setups"]
        ]  # fmt: skip
        return {"model": str(told["model"]), "setups": setups}
    except OSError as error:
        raise InputError(str(path), "", f"the file can't be read ({error.strerror})", AGAIN) from None
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise InputError(str(path), "", "the file is damaged", AGAIN) from None


def _number(told: Any) -> float:
    """A figure of the summary, NaN where there is none."""
    return float(told) if isinstance(told, int | float) and isfinite(told) else nan


def _columns(path: Path) -> dict[str, np.ndarray]:
    """The columns of a trace that a replay needs; an empty cell is NaN."""
    try:
        header, _, rows = plain_bytes(path, LARGEST_TRACE).decode("utf-8").partition("\n")
        names = header.strip().split(",")
        missing = [name for name in COLUMNS if name not in names]
        if missing:
            raise InputError(str(path), "line 1", f"there is no column {missing[0]}", AGAIN)
        if rows.count("\n") < 2:
            raise InputError(str(path), "", "the trace is too short to replay", AGAIN)
        if rows.endswith(",") or rows.startswith(",") or any(empty in rows for empty in EMPTY):  # the search takes as long as the reading
            rows = re.sub(r"(?<=,)(?=[,\r\n]|$)|^(?=,)", "nan", rows, flags=re.MULTILINE)
        table = np.loadtxt(io.StringIO(rows), delimiter=",", usecols=[names.index(name) for name in COLUMNS], ndmin=2)
    except InputError:
        raise
    except OSError as error:
        raise InputError(str(path), "", f"the file can't be read ({error.strerror})", AGAIN) from None
    except ValueError:  # a cell that is no number, a row that is too short, or bytes that are no text
        raise InputError(str(path), "", "the trace is damaged", AGAIN) from None
    named = dict(zip(COLUMNS, np.ascontiguousarray(table.T), strict=True))
    if not all(np.isfinite(values).all() for name, values in named.items() if not name.startswith(UNKNOWN)):
        raise InputError(str(path), "", "the trace has gaps", AGAIN)
    if (np.diff(named["time_s"]) <= 0).any() or (np.diff(named["station_m"]) < 0).any():
        raise InputError(str(path), "", "the trace does not run forward", AGAIN)
    return named


def _drive(index: int, told: dict[str, Any], columns: dict[str, np.ndarray], scenario: Scenario, body: Body, single: bool) -> Drive:
    steering = build_steering(scenario.setup[index], scenario.car, "scenario.toml", scenario.setup[index].place)
    hand, speed = np.radians(columns["hand_deg"]), columns["speed_m_per_s"]
    sideslip, yaw_rate = np.radians(columns["sideslip_deg"]), np.radians(columns["yaw_rate_deg_per_s"])

    def wheels(name: str) -> np.ndarray:
        return np.column_stack([columns[f"{name}_{wheel}"] for wheel in WHEELS])

    back = np.full(len(hand), body.front_arm - body.wheelbase)
    if single:
        wheel_x = np.column_stack([0 * back + body.front_arm, 0 * back + body.front_arm, back, back])
        wheel_y = np.zeros_like(wheel_x)
    else:
        pose = steering.front_wheels(np.clip(hand, steering.lock_right, steering.lock_left))
        wheel_x = np.column_stack([pose.x + body.front_arm, back, back])
        wheel_y = np.column_stack([pose.y, 0 * back + body.rear_track / 2, 0 * back - body.rear_track / 2])
    steer = np.radians(wheels("steer_deg"))
    plain = getattr(contact_velocity, "py_func", contact_velocity)  # of whole arrays, for which nothing need be compiled
    vx, vy = (speed * part(sideslip) for part in (np.cos, np.sin))
    forward, side = plain(vx[:, None], vy[:, None], yaw_rate[:, None], wheel_x, wheel_y, np.cos(steer), np.sin(steer))
    time = columns["time_s"]
    power, rubbing, slip = wheels("slip_loss_W"), wheels("rub_speed_m_per_s"), np.radians(wheels("slip_deg"))
    # Force times slip speed; the sum of both parts is stored, and a rolling model knows no other part.
    sideways = np.nan_to_num(wheels("lateral_force_N") * np.tan(slip) * np.abs(forward), nan=np.inf)
    totals = (told["rub"], told["scrub"]) if told["finished"] else (nan, nan)
    return Drive(
        name=scenario.setup[index].name, reason="" if told["finished"] else told["reason"] or "did not finish",
        turntable=scenario.setup[index].pivot == "turntable", kingpin_y=steering.kingpin_y, dangers=dangers_of(steering),
        time=time - time[0],
        station=columns["station_m"] - columns["station_m"][0], x=columns["x_m"], y=columns["y_m"],
        heading=np.unwrap(np.radians(columns["heading_deg"])), speed=speed, steer=steer, drift=np.arctan2(side, forward),
        load=wheels("load_N"), power=power, wheel_x=wheel_x, wheel_y=wheel_y,
        curve=np.column_stack([yaw_rate / np.maximum(speed, 1e-3), sideslip]),
        rub=running_sum(rubbing.sum(axis=1), time, totals[0]), work=running_sum(power.sum(axis=1), time, totals[1]),
        slip=slip, lateral=np.clip(sideways, 0.0, power), drive_force=columns["drive_force_N"], drive_work=told["drive_work"],
    )  # fmt: skip
