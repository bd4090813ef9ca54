"""Course points from a GPX recording."""

from __future__ import annotations

from math import cos, hypot, pi, radians, sin, sqrt, tan
from pathlib import Path
from typing import Any

import numpy as np

from sim.course.points import PointList, bytes_of, number_from, refuse_too_many
from sim.errors import InputError

LINE_TOLERANCE = 1.0  # [m]; what a satellite receiver wanders from point to point under an open sky
SEMI_MAJOR_AXIS = 6378137.0  # [m], WGS 84
FLATTENING = 1.0 / 298.257223563  # WGS 84
TOUCHING_GAP = 10.0  # [m]; two segments nearer than this, or than two of their own steps, are one line
FARTHEST_POINT = 100e3  # [m] from the middle
LARGEST_PLANE_ERROR = 1e-3  # relative; above it the pole is too near for a flat map of this size
_POINT_NAMES = {"trkpt": "trkseg", "rtept": "rte"}
_GPX_REMEDY = "export the track again as GPX 1.1"


def radii_of_curvature(latitude: float) -> tuple[float, float]:
    """Radii of curvature of the WGS 84 ellipsoid.

    latitude : geodetic [rad]
    Returns M along the meridian and N across it [m]:
    M = a (1 - e^2) / (1 - e^2 sin^2)^(3/2), N = a / sqrt(1 - e^2 sin^2), with e^2 = f (2 - f).
    Source: common geodesy, as printed with WGS 84 tables of the length of a degree.
    """
    eccentricity_squared = FLATTENING * (2.0 - FLATTENING)
    root = sqrt(1.0 - eccentricity_squared * sin(latitude) ** 2)
    return SEMI_MAJOR_AXIS * (1.0 - eccentricity_squared) / root**3, SEMI_MAJOR_AXIS / root


def local_metres(latitude: np.ndarray, longitude: np.ndarray, source: str) -> tuple[np.ndarray, np.ndarray]:
    """Positions on a plane that touches the WGS 84 ellipsoid at the middle of the points.

    latitude, longitude : geodetic, shape (n,) [deg]; the points may cross the 180th meridian
    source : file named in an error
    Returns x to the east and y to the north of the middle, each of shape (n,) [m].
    Raises InputError where a pole is too near for the size of the course.

    To second order in the differences p of latitude and l of longitude from the middle:
    x = (N cos - M sin p) l, y = M p + N sin cos l^2 / 2, as d(N cos)/d(latitude) = -M sin.
    What is left out is about (tan(latitude) distance / radius)^2 of a distance.
    Derived here from the radii of curvature.
    """
    east = (longitude - longitude[0] + 180.0) % 360.0 - 180.0
    middle = radians(0.5 * float(latitude.min() + latitude.max()))
    north_angle = np.radians(latitude) - middle
    east_angle = np.radians(east - 0.5 * (east.min() + east.max()))
    meridian, normal = radii_of_curvature(middle)
    reach = hypot(meridian * float(np.abs(north_angle).max()), normal * cos(middle) * float(np.abs(east_angle).max()))
    if (tan(abs(middle)) * reach / normal) ** 2 > LARGEST_PLANE_ERROR:
        raise InputError(
            source, "", f"the course lies too near a pole (latitude {middle * 180 / pi:.2f}) for a flat map",
            "give it in metres as a CSV file",
        )  # fmt: skip
    x = (normal * cos(middle) - meridian * sin(middle) * north_angle) * east_angle
    y = meridian * north_angle + 0.5 * normal * sin(middle) * cos(middle) * east_angle**2
    return x, y


def _refuse_far_points(latitude: np.ndarray, longitude: np.ndarray, source: str) -> None:
    """Refuse a point that lies absurdly far from the others (a lost fix at 0, 0 for instance), by its number."""
    angle, east = np.radians(latitude), np.radians(longitude)
    place = SEMI_MAJOR_AXIS * np.array([np.cos(angle) * np.cos(east), np.cos(angle) * np.sin(east), np.sin(angle)])
    apart = np.linalg.norm(place - np.median(place, axis=1)[:, None], axis=0)
    worst = int(np.argmax(apart))
    if apart[worst] > FARTHEST_POINT:
        raise InputError(
            source, f"point {worst + 1}", f"the point lies {apart[worst] / 1000:.0f} km from the middle of the others",
            "delete it, or cut the recording down to the course, at most 100 km long",
        )  # fmt: skip


def _local(element: Any) -> str:
    return element.tag.rpartition("}")[2]


def _root(data: bytes, source: str) -> Any:
    """The document as a tree, without its document type: none is accepted, so nothing outside the file is read."""
    from xml.etree.ElementTree import ParseError

    from defusedxml import DefusedXmlException
    from defusedxml.ElementTree import fromstring

    try:
        root = fromstring(data, forbid_dtd=True)
    except DefusedXmlException:
        raise InputError(source, "", "holds a document type declaration, which a GPX file does not need", _GPX_REMEDY) from None
    except ParseError as error:
        raise InputError(source, f"line {error.position[0]}", "breaks off or is no XML here", _GPX_REMEDY) from None
    except (LookupError, ValueError):
        raise InputError(source, "", "is written in an encoding that cannot be read", "save it in UTF-8") from None
    if _local(root) != "gpx":
        raise InputError(source, "", "is XML but no GPX file", _GPX_REMEDY)
    return root


def _degrees(point: Any, key: str, limit: float, place: str, source: str) -> str:
    text = (point.get(key) or "").strip()
    value = number_from(text)
    if value is None or abs(value) > limit:
        shown = "".join(letter if letter.isprintable() else "?" for letter in text[:30])
        problem = f'{key} "{shown}" is not a number' if value is None else f"{key} {shown} is beyond {limit:g} degrees"
        raise InputError(source, place, problem, "correct the point or delete it")
    return text


def _plain(root: Any, source: str) -> str:
    """The lines of a checked document as a plain GPX text: no namespace, no extension, no time, no waypoint."""
    point_name = next((name for name in _POINT_NAMES if any(_local(element) == name for element in root.iter())), "")
    if not point_name:
        raise InputError(source, "", "holds no track and no route", "export the track, not only its waypoints")
    part_name = _POINT_NAMES[point_name]
    wrap = ("<trk>", "</trk>") if part_name == "trkseg" else ("", "")
    text = ['<gpx version="1.1" creator="plain">', wrap[0]]
    number = 0
    for part in root.iter():
        if _local(part) != part_name:
            continue
        text.append(f"<{part_name}>")
        for point in part:
            if _local(point) != point_name:
                continue
            number += 1
            refuse_too_many(number, source)
            place = f"point {number}"
            latitude = _degrees(point, "lat", 90.0, place, source)
            longitude = _degrees(point, "lon", 180.0, place, source)
            height = next(((child.text or "").strip() for child in point if _local(child) == "ele"), "")
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
    recording = gpxpy.parse(_plain(_root(bytes_of(path), source), source))
    segments = [segment.points for track in recording.tracks for segment in track.segments if segment.points]
    word = "segment" if segments else "route"
    parts: list[list[Any]] = [list(part) for part in segments or (route.points for route in recording.routes)]
    parts = [part for part in parts if part]
    every = [point for part in parts for point in part]
    if not every:
        raise InputError(source, "", "its track holds no points", _GPX_REMEDY)
    latitude = np.array([point.latitude for point in every])
    longitude = np.array([point.longitude for point in every])
    _refuse_far_points(latitude, longitude, source)
    x, y = local_metres(latitude, longitude, source)
    _refuse_gaps([len(part) for part in parts], x, y, word, source)
    notes = [f"{len(parts)} {word}s that touch were joined."] if len(parts) > 1 else []
    height = np.array([np.nan if point.elevation is None else point.elevation for point in every])
    return PointList(
        source=source, x=x, y=y, height=None if np.isnan(height).all() else height, left_width=None, right_width=None,
        number=np.arange(1, len(x) + 1), number_word="point", line_tolerance=LINE_TOLERANCE, notes=tuple(notes),
    )  # fmt: skip
