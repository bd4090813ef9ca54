"""GPX files: the checked document and its places, in metres on a plane."""

from __future__ import annotations

from math import cos, hypot, pi, radians, sin, sqrt, tan
from typing import Any

import numpy as np

from sim.errors import InputError
from sim.files.text import MOST_POINTS, number_from, refuse_too_many

SEMI_MAJOR_AXIS = 6378137.0  # [m], WGS 84
FLATTENING = 1.0 / 298.257223563  # WGS 84
FARTHEST_POINT = 100e3  # [m] from the middle
LARGEST_PLANE_ERROR = 1e-3  # relative; above it the pole is too near for a flat map of this size
DEEPEST = 50  # elements inside each other; a recorder's extensions go down eight
MOST_NAMES = 1000  # of elements, each kept by the parser
MOST_ELEMENTS = 40 * MOST_POINTS  # a talkative recorder writes ten a point
MOST_KEPT = 5 * MOST_POINTS
_POINTS = {"trkpt": "trkseg", "rtept": "rte"}  # a point's name, and what it stands in
_PIECE = 65536  # [bytes] that are read at a time
GPX_REMEDY = "export the track again as GPX 1.1"


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


def refuse_far_points(latitude: np.ndarray, longitude: np.ndarray, source: str) -> None:
    """Refuse a point that lies absurdly far from the others (a lost fix at 0, 0 for instance), by its number.

    latitude, longitude : (n,) [deg]; source : file named in an error
    Raises InputError where a point lies more than FARTHEST_POINT from the middle.
    """
    angle, east = np.radians(latitude), np.radians(longitude)
    place = SEMI_MAJOR_AXIS * np.array([np.cos(angle) * np.cos(east), np.cos(angle) * np.sin(east), np.sin(angle)])
    apart = np.linalg.norm(place - np.median(place, axis=1)[:, None], axis=0)
    worst = int(np.argmax(apart))
    if apart[worst] > FARTHEST_POINT:
        raise InputError(
            source, f"point {worst + 1}", f"the point lies {apart[worst] / 1000:.0f} km from the middle of the others",
            "delete it, or cut the recording down to the course, at most 100 km long",
        )  # fmt: skip


def local_name(element: Any) -> str:
    """The name of an element without its namespace.  element : of the document's tree."""
    return element.tag.rpartition("}")[2]


class _Pruned:
    """What a parser tells its events: it builds the tree of a document's tracks and routes alone, so that no file needs much memory.

    Kept are trk, trkseg, rte, the points right inside those, a point's own ele, and time and speed anywhere inside a point.
    """

    def __init__(self, source: str):
        from xml.etree.ElementTree import TreeBuilder

        self.source, self.builder = source, TreeBuilder()
        self.open: list[tuple[str, bool]] = []  # local names of the elements around, and whether they are kept
        self.names: set[str] = set()
        self.count = self.kept = 0
        self.points = dict.fromkeys(_POINTS, 0)

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        """An element begins.  tag : with its namespace; attributes : of it.  Raises InputError for what is no recording of a course."""
        name = tag.rpartition("}")[2]
        self.count += 1
        self.names.add(name)
        if len(self.open) >= DEEPEST or self.count > MOST_ELEMENTS or len(self.names) > MOST_NAMES:
            raise InputError(self.source, "", "holds far more than a recording of a course", GPX_REMEDY)
        parent = self.open[-1][0] if self.open else ""
        if name in _POINTS:
            kept = parent == _POINTS[name]
        elif name == "ele":
            kept = parent in _POINTS
        elif name in ("time", "speed"):
            kept = any(one in _POINTS for one, _ in self.open)
        else:
            kept = not self.open or name in ("trk", "trkseg", "rte")
        self.open.append((name, kept))
        if not kept:
            return
        if name in _POINTS:
            self.points[name] += 1
            refuse_too_many(self.points[name], self.source)
        self.kept += 1
        if self.kept > MOST_KEPT:
            raise InputError(self.source, "", "holds far more than a recording of a course", GPX_REMEDY)
        self.builder.start(name, {key: attributes[key] for key in ("lat", "lon") if key in attributes})

    def end(self, tag: str) -> None:
        """An element ends.  tag : with its namespace."""
        name, kept = self.open.pop()
        if kept:
            self.builder.end(name)

    def data(self, text: str) -> None:
        """Text inside an element.  text : a piece of it."""
        if self.open[-1][1]:
            self.builder.data(text)

    def close(self) -> Any:
        """The root of the tree."""
        return self.builder.close()


def gpx_root(data: bytes, source: str) -> Any:
    """The document's tracks and routes as a tree, without its document type: none is accepted, so nothing outside the file is read.

    data : bytes of the file; source : file named in an error
    Returns the root element; the tags below are without namespaces.  Raises InputError where it is damaged, holds a document type, is no
    GPX, or holds far more than a recording of a course.
    """
    from xml.etree.ElementTree import ParseError

    from defusedxml import DefusedXmlException
    from defusedxml.ElementTree import DefusedXMLParser

    parser = DefusedXMLParser(target=_Pruned(source), forbid_dtd=True)
    try:
        for start in range(0, len(data), _PIECE):  # what is refused at its beginning is not read to its end
            parser.feed(data[start : start + _PIECE])
        root = parser.close()
    except InputError:
        raise
    except DefusedXmlException:
        raise InputError(source, "", "holds a document type declaration, which a GPX file does not need", GPX_REMEDY) from None
    except ParseError as error:
        raise InputError(source, f"line {getattr(error, 'position', (1,))[0]}", "breaks off or is no XML here", GPX_REMEDY) from None
    except (LookupError, ValueError):
        raise InputError(source, "", "is written in an encoding that cannot be read", "save it in UTF-8") from None
    if local_name(root) != "gpx":
        raise InputError(source, "", "is XML but no GPX file", GPX_REMEDY)
    return root


def degrees_of(point: Any, key: str, limit: float, place: str, source: str) -> str:
    """A coordinate of a point as it is written, checked.

    point : element; key : "lat" or "lon"; limit : greatest size [deg]; place, source : point and file named in an error
    Returns its text [deg].  Raises InputError where it is no number or beyond the limit.
    """
    text = (point.get(key) or "").strip()
    value = number_from(text)
    if value is None or abs(value) > limit:
        shown = "".join(letter if letter.isprintable() else "?" for letter in text[:30])
        problem = f'{key} "{shown}" is not a number' if value is None else f"{key} {shown} is beyond {limit:g} degrees"
        raise InputError(source, place, problem, "correct the point or delete it")
    return text
