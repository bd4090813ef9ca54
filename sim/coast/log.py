"""Logs of a car that coasts: reading time, speed, distance and place from a CSV or GPX file."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from difflib import get_close_matches
from math import isfinite
from pathlib import Path

import numpy as np

from sim.errors import InputError
from sim.files.columns import blank_note, cell_number, cells_of, delimiter_of, is_comment, rows_of, shown_cell, text_of
from sim.files.gpx import degrees_of, gpx_root, local_metres, local_name, refuse_far_points
from sim.files.text import bytes_of, number_from, refuse_too_many

KILOMETRE_AN_HOUR = 1 / 3.6  # [m/s]
COLUMNS = ("time_s", "speed_m_per_s", "speed_km_per_h", "distance_m")
NAME_THEM = "name the columns time_s and speed_m_per_s or speed_km_per_h in the first line (distance_m is optional)"
BLANK = {"", "-", "--", "nan", "na", "n/a", "null", "none"}
FEWEST_ROWS = 8  # a coast of fewer points tells nothing about its own noise
LATEST_TIME = 1e11  # [s]; beyond any clock, milliseconds since 1970 would be
FASTEST_CAR = 20.0  # [m/s]; the scenario's fastest pace. A column of metres that shows more is taken for km/h
FASTEST_LOG = 100.0  # [m/s]; no unit makes this a small car
# Speed summed over time against the distance column: within a quarter they agree, and 3.6 lies far outside. [-]
AGREES = 1.25
SPIKE = 5  # rows of the running median that keeps single wild rows from deciding anything


@dataclass(frozen=True, eq=False)
class Log:
    """The usable rows of one file, in its own order; each array (n,).

    source : file name, for messages
    time : [s]
    speed : [m/s], or None where the file has none
    distance : along the way [m], or None
    x, y : place on a plane [m], or None
    line : of the file, or number of the point
    left_out : number of rows left out, by the reason in plain words
    notes : plain sentences
    """

    source: str
    time: np.ndarray
    speed: np.ndarray | None
    distance: np.ndarray | None
    x: np.ndarray | None
    y: np.ndarray | None
    line: np.ndarray
    left_out: dict[str, int]
    notes: tuple[str, ...] = ()


def read_log(path: Path, source: str) -> Log:
    """Read a log.

    path : of a CSV file (time_s, and speed_m_per_s, speed_km_per_h or distance_m) or of a GPX file whose points have times
    source : its name in messages
    Returns Log.  Raises InputError with the file, the line, what is wrong and what to do.

    Rows with a blank cell are left out and counted, rows without anything in them are passed over and said; a speed column whose
    header names the wrong unit is corrected and said.
    """
    try:
        return _forward(_gpx(path, source) if path.suffix.lower() == ".gpx" else _csv(path, source))
    except InputError as error:  # the shared readers speak of a course and know the path only
        remedy = "give a log of one car coasting, CSV or GPX" if "course" in error.remedy else error.remedy
        raise InputError(source, error.place, error.problem.replace("the course", "the log"), remedy) from None


def running_median(values: np.ndarray, width: int = SPIKE) -> np.ndarray:
    """Median over a few rows about each row; at the ends over the rows that there are.

    values : (n,) of any unit [-]; width : odd number of rows
    Returns (n,).
    """
    padded = np.pad(values, width // 2, mode="edge")
    return np.median(np.lib.stride_tricks.sliding_window_view(padded, width), axis=1)


def _header(lines: list[str], source: str) -> tuple[int, str, dict[str, int]]:
    for index, line in enumerate(lines):
        bare = line.strip()
        place = f"line {index + 1}"
        if not bare or is_comment(bare, place, source):
            continue
        delimiter = delimiter_of(bare)
        names = [name.lower() for name in cells_of(bare, delimiter)]
        columns = {name: names.index(name) for name in COLUMNS if name in names}
        if double := next((name for name in columns if names.count(name) > 1), None):
            raise InputError(source, place, f"column {double} stands twice", "keep one of them")
        if "time_s" not in columns or len(columns) < 2:
            missing = "time_s" if "time_s" not in columns else "speed_m_per_s or speed_km_per_h"
            near = get_close_matches(missing[:13], [name for name in names if name not in COLUMNS], n=1, cutoff=0.5)
            meant = f" (is {shown_cell(near[0])} meant?)" if near else ""
            raise InputError(source, place, f"there is no column {missing}{meant}", NAME_THEM)
        if "speed_m_per_s" in columns and "speed_km_per_h" in columns:
            raise InputError(source, place, "there are two speed columns", "keep one of them")
        return index, delimiter, columns
    raise InputError(source, "", "there is no line with column names", NAME_THEM)


def _csv(path: Path, source: str) -> Log:
    lines = text_of(bytes_of(path), source).split("\n")
    header, delimiter, columns = _header(lines, source)
    rows, numbers, blank = [], [], 0
    blanks: list[int] = []
    for number, cells in rows_of(lines, header, delimiter, source, blanks):
        row = [cells[at] if at < len(cells) else "" for at in columns.values()]
        if any(cell.lower() in BLANK for cell in row):
            blank += 1
            continue
        rows.append([_number(cell, name, f"line {number}", delimiter, source) for cell, name in zip(row, columns, strict=True)])
        numbers.append(number)
        refuse_too_many(len(rows), source)
    if len(rows) < FEWEST_ROWS:
        held = f"holds {len(rows)} row{'' if len(rows) == 1 else 's'} with numbers"
        raise InputError(source, "", held, f"give a log of a coast, at least {FEWEST_ROWS} rows")
    values = dict(zip(columns, np.array(rows).T, strict=True))
    speed, kmh = values.get("speed_m_per_s"), "speed_km_per_h" in values
    if kmh:
        speed = values["speed_km_per_h"] * KILOMETRE_AN_HOUR
    log = Log(
        source=source, time=values["time_s"], speed=speed, distance=values.get("distance_m"), x=None, y=None,
        line=np.array(numbers), left_out={"blank": blank} if blank else {}, notes=blank_note(blanks),
    )  # fmt: skip
    return log if speed is None else _unit_checked(log, kmh)


def _forward(log: Log) -> Log:
    """The log, unless most of its times run back: then it stands upside down, and no stretch of it would be long enough."""
    back = np.diff(log.time) < 0
    if 2 * back.sum() > len(back):
        first = int(np.argmax(back))
        place = f"{'line' if log.x is None else 'point'} {log.line[first + 1]}"
        problem = f"the times run back ({log.time[first + 1]:.12g} s after {log.time[first]:.12g} s), as they do in most rows"
        raise InputError(log.source, place, problem, "sort the log by time, the earliest row first")
    return log


def _number(cell: str, column: str, place: str, delimiter: str, source: str) -> float:
    value = cell_number(cell, column, delimiter, place, source)
    if abs(value) > LATEST_TIME:
        raise InputError(source, place, f"{shown_cell(cell)} in column {column} is absurdly large", "correct the row or delete it")
    return value


def _unit_checked(log: Log, kmh: bool) -> Log:
    """The log with a speed in metres a second, also where its header names the other unit."""
    assert log.speed is not None
    header, other = ("speed_km_per_h", "metres a second") if kmh else ("speed_m_per_s", "km/h")
    factor = 1 / KILOMETRE_AN_HOUR if kmh else KILOMETRE_AN_HOUR
    fastest = float(running_median(log.speed).max())
    if log.distance is not None:
        step = np.diff(log.time)
        # A recorder that pauses tells nothing about the way between; neither does a clock that runs back.
        usual = (step > 0) & (step <= 3 * np.median(step[step > 0])) if (step > 0).any() else step > 0
        way = float(np.sum((0.5 * (log.speed[1:] + log.speed[:-1]) * step)[usual]))
        driven = abs(float(np.sum(np.diff(log.distance)[usual])))
        ratio = driven / way if way > 0 else 0.0
        if 1 / AGREES < ratio < AGREES:
            return log
        if 1 / AGREES < ratio / factor < AGREES:
            return _rescaled(log, factor, f"Column {header} holds {other}: its sum over time is {1 / ratio:.2f} times distance_m.")
        raise InputError(
            log.source, "", f"speed summed over time gives {way:.0f} m where distance_m gives {driven:.0f} m",
            "correct one of the two columns or delete distance_m",
        )  # fmt: skip
    if not kmh and FASTEST_CAR < fastest <= FASTEST_LOG / KILOMETRE_AN_HOUR:
        log = _rescaled(log, factor, f"Column {header} is taken for {other}: {fastest:.0f} m/s would be {3.6 * fastest:.0f} km/h.")
        fastest *= factor
    if fastest > FASTEST_LOG:
        raise InputError(log.source, "", f"its speeds reach {fastest:.0f} m/s", "give the speed of the car in its column's unit")
    return log


def _rescaled(log: Log, factor: float, note: str) -> Log:
    assert log.speed is not None
    return replace(log, speed=log.speed * factor, notes=(*log.notes, note))


def _gpx(path: Path, source: str) -> Log:
    times, latitudes, longitudes, speeds, numbers, count = [], [], [], [], [], 0
    for point in gpx_root(bytes_of(path), source).iter():
        if local_name(point) != "trkpt":
            continue
        count += 1
        refuse_too_many(count, source)
        parts = {local_name(part): (part.text or "").strip() for part in point.iter()}
        if not parts.get("time"):
            continue
        place = f"point {count}"
        times.append(_clock(parts["time"], place, source))
        latitudes.append(float(degrees_of(point, "lat", 90.0, place, source)))
        longitudes.append(float(degrees_of(point, "lon", 180.0, place, source)))
        speeds.append(number_from(parts.get("speed", "")))
        numbers.append(count)
    if not count:
        raise InputError(source, "", "holds no track", "export the track, not only its waypoints")
    if len(times) < FEWEST_ROWS:
        raise InputError(source, "", f"{len(times)} of its {count} points have a time", "export the track with times, or give a CSV log")
    latitude, longitude = np.array(latitudes), np.array(longitudes)
    refuse_far_points(latitude, longitude, source)
    x, y = local_metres(latitude, longitude, source)
    known = [value for value in speeds if value is not None and 0 <= value <= FASTEST_LOG]
    untimed = count - len(times)
    return Log(
        source=source, time=np.array(times) - times[0], speed=np.array(known) if len(known) == len(times) else None, distance=None,
        x=x, y=y, line=np.array(numbers), left_out={"without a time": untimed} if untimed else {},
    )  # fmt: skip


def _clock(text: str, place: str, source: str) -> float:
    """Seconds of a written instant."""
    try:
        instant = datetime.fromisoformat(text)
        value = (instant if instant.tzinfo else instant.replace(tzinfo=UTC)).timestamp()
    except (ValueError, OverflowError, OSError):
        raise InputError(source, place, f"{shown_cell(text)} is no time", "correct the point or delete it") from None
    if not isfinite(value):
        raise InputError(source, place, f"{shown_cell(text)} is no time", "correct the point or delete it")
    return value
