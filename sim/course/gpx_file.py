"""Course points from a GPX recording."""

from __future__ import annotations

from math import hypot
from pathlib import Path
from typing import Any

import numpy as np

from sim.course.points import PointList
from sim.errors import InputError
from sim.files.gpx import GPX_REMEDY, degrees_of, gpx_root, local_metres, local_name, refuse_far_points
from sim.files.text import bytes_of, number_from, refuse_too_many

LINE_TOLERANCE = 1.0  # [m]; what a satellite receiver wanders from point to point under an open sky
TOUCHING_GAP = 10.0  # [m]; two segments nearer than this, or than two of their own steps, are one line
_POINT_NAMES = {"trkpt": "trkseg", "rtept": "rte"}


def _plain(root: Any, source: str) -> str:
    """The lines of a checked document as a plain GPX text: no namespace, no extension, no time, no waypoint."""
    point_name = next((name for name in _POINT_NAMES if any(local_name(element) == name for element in root.iter())), "")
    if not point_name:
        raise InputError(source, "", "holds no track and no route", "export the track, not only its waypoints")
    part_name = _POINT_NAMES[point_name]
    wrap = ("<trk>", "</trk>") if part_name == "trkseg" else ("", "")
    text = ['<gpx version="1.1" creator="plain">', wrap[0]]
    number = 0
    for part in root.iter():
        if local_name(part) != part_name:
            continue
        text.append(f"<{part_name}>")
        for point in part:
            if local_name(point) != point_name:
                continue
            number += 1
            refuse_too_many(number, source)
            place = f"point {number}"
            latitude = degrees_of(point, "lat", 90.0, place, source)
            longitude = degrees_of(point, "lon", 180.0, place, source)
            height = next(((child.text or "").strip() for child in point if local_name(child) == "ele"), "")
            if height and number_from(height) is None:
                raise InputError(source, place, "its ele is not a number", "correct the elevation or delete it")
            text.append(f'<{point_name} lat="{latitude}" lon="{longitude}">')
            text.append(f"<ele>{height}</ele></{point_name}>" if height else f"</{point_name}>")
        text.append(f"</{part_name}>")
    return "".join([*text, wrap[1], "</gpx>"])


def _refuse_gaps(parts: list[int], x: np.ndarray, y: np.ndarray, word: str, source: str) -> None:
    """Refuse parts, given by their numbers of points, that do not touch."""
    end = 0
    for number, count in enumerate(parts[:-1], start=1):
        end += count
        gap = hypot(x[end] - x[end - 1], y[end] - y[end - 1])
        near = slice(max(end - 4, end - count), min(end + 4, end + parts[number]))
        steps = np.delete(np.hypot(np.diff(x[near]), np.diff(y[near])), end - 1 - near.start)
        if gap > max(TOUCHING_GAP, 2.0 * float(np.median(steps)) if len(steps) else 0.0):
            raise InputError(
                source, f"point {end}", f"{word} {number} ends {gap:.0f} m before {word} {number + 1} begins",
                "keep the part that is the course, or fill the gap",
            )  # fmt: skip


def read_points(path: Path) -> PointList:
    """Read the points of a GPX 1.0 or 1.1 file: its tracks, or its routes where it has no track; never waypoints.

    path : of the file
    Returns the points in local metres, x to the east and y to the north of their middle.
    Raises InputError where the file is damaged, holds a document type, a bad point, or parts that do not touch.
    Any namespace prefix and any encoding that the XML declares is read; times are not used.
    """
    import gpxpy

    source = str(path)
    recording = gpxpy.parse(_plain(gpx_root(bytes_of(path), source), source))
    segments = [segment.points for track in recording.tracks for segment in track.segments if segment.points]
    word = "segment" if segments else "route"
    parts: list[list[Any]] = [list(part) for part in segments or (route.points for route in recording.routes)]
    parts = [part for part in parts if part]
    every = [point for part in parts for point in part]
    if not every:
        raise InputError(source, "", "its track holds no points", GPX_REMEDY)
    latitude = np.array([point.latitude for point in every])
    longitude = np.array([point.longitude for point in every])
    refuse_far_points(latitude, longitude, source)
    x, y = local_metres(latitude, longitude, source)
    _refuse_gaps([len(part) for part in parts], x, y, word, source)
    notes = [f"{len(parts)} {word}s that touch were joined."] if len(parts) > 1 else []
    height = np.array([np.nan if point.elevation is None else point.elevation for point in every])
    return PointList(
        source=source, x=x, y=y, height=None if np.isnan(height).all() else height, left_width=None, right_width=None,
        number=np.arange(1, len(x) + 1), number_word="point", line_tolerance=LINE_TOLERANCE, notes=tuple(notes),
    )  # fmt: skip
