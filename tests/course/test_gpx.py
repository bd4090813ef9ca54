"""GPX recordings: tracks, routes, segments, places on Earth, and files that are refused."""

import tracemalloc
from math import cos, radians

import gpxpy
import numpy as np
import pytest

from sim.course.gpx_file import read_points
from sim.course.reading import read_course
from sim.errors import InputError
from sim.files.gpx import gpx_root, local_metres, radii_of_curvature

TRACK = (
    '<trk><trkseg><trkpt lat="52.0" lon="8.0"><ele>3</ele><time>x</time></trkpt><trkpt lat="52.001" lon="8.0"/>'
    '<trkpt lat="52.001" lon="8.001"/><trkpt lat="52.002" lon="8.001"/></trkseg></trk>'
)


def gpx(body=TRACK, head='<?xml version="1.0"?>', root='gpx version="1.1" creator="c" xmlns="http://www.topografix.com/GPX/1/1"'):
    return f"{head}<{root}>{body}</{root.split()[0]}>"


def read(tmp_path, data):
    path = tmp_path / "course.gpx"
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return read_points(path)


def refusal(tmp_path, data):
    with pytest.raises(InputError) as caught:
        read(tmp_path, data)
    text = str(caught.value)
    assert text.startswith(f"{tmp_path / 'course.gpx'}: ")
    assert "\n" not in text
    return text


def _prefixed():
    body = TRACK.replace("</", "</g:").replace("<trk", "<g:trk").replace("<ele", "<g:ele").replace("<time", "<g:time")
    return gpx(body, root='g:gpx version="1.1" xmlns:g="http://www.topografix.com/GPX/1/1" xmlns:ns0="urn:x"')


@pytest.mark.parametrize(
    "data",
    [
        gpx(),
        gpx(root='gpx version="1.0" xmlns="http://www.topografix.com/GPX/1/0"'),
        gpx(root="gpx"),
        _prefixed(),
        gpx('<wpt lat="1" lon="1"/><rte><rtept lat="91" lon="x"/></rte>' + TRACK),
        gpx(TRACK.replace("<trkseg>", "<extensions><trkpt/></extensions><trkseg><!-- a remark -->")),
        gpx(TRACK.replace("trkpt", "rtept").replace("trkseg>", "rte>").replace("<trk>", "").replace("</trk>", "")),
        gpx(head='<?xml version="1.0" encoding="ISO-8859-1"?><!-- \xfc -->').encode("latin-1"),
        gpx(head='<?xml version="1.0" encoding="windows-1252"?><!-- \u20ac -->').encode("cp1252"),
        gpx(head='<?xml version="1.0" encoding="UTF-16"?>').encode("utf-16"),
        b"\xef\xbb\xbf" + gpx().encode(),
        gpx(TRACK.replace("</trkseg><", "</trkseg><trkseg></trkseg><")),
    ],
)
def test_spellings_of_one_track(tmp_path, data):
    points = read(tmp_path, data)
    assert len(points) == 4
    assert points.y[1] - points.y[0] == pytest.approx(111.267, rel=0, abs=0.002)
    assert points.x[2] - points.x[1] == pytest.approx(68.677, rel=0, abs=0.002)
    assert points.height[0] == 3.0
    assert np.isnan(points.height[1])
    assert points.place(2) == "point 3"


def test_points_are_those_that_another_reader_finds(real_course):
    path = real_course("real-loop.gpx")
    ours = read_points(path)
    theirs = [point for segment in gpxpy.parse(path.read_text()).tracks[0].segments for point in segment.points]
    assert len(ours) == len(theirs) == 104
    latitude, longitude = np.array([(point.latitude, point.longitude) for point in theirs]).T
    x, y = local_metres(latitude, longitude, "")
    np.testing.assert_allclose((ours.x, ours.y), (x, y), rtol=0, atol=1e-9)
    assert np.hypot(np.diff(x), np.diff(y)).max() == pytest.approx(274.0, rel=0, abs=1.0)
    # a haversine on a mean sphere is right to 0.6 %
    distance = theirs[0].distance_2d(theirs[30])
    assert np.hypot(x[30] - x[0], y[30] - y[0]) == pytest.approx(distance, rel=0.006, abs=0)


def test_segments_join_where_they_touch(write_gpx, rectangle):
    lap = rectangle(100.0, 60.0, 20.0, 3.0)
    whole = read_course(write_gpx(lap, name="whole.gpx"), closed=True)
    parts = read_course(write_gpx(lap[:30], lap[30:60], lap[60:], name="parts.gpx"), closed=True)
    assert parts.length == pytest.approx(whole.length, rel=1e-12, abs=0)
    assert any(note.startswith("3 segments") for note in parts.notes)
    with pytest.raises(InputError, match=r"point 30: segment 1 ends 3\d m before segment 2 begins"):
        read_course(write_gpx(lap[:30], lap[42:], name="gap.gpx"), closed=True)


@pytest.mark.parametrize("times", [[None] * 3, ["2020-01-01T00:00:00Z"] * 3, ["2020-01-01T00:00:02Z", "1999-01-01T00:00:00Z", "later"]])
def test_times_do_not_matter(tmp_path, times):
    marks = iter(times)
    parts = TRACK.replace("<time>x</time>", "").replace('"/>', '">*</trkpt>').split("*")
    body = parts[0]
    for part in parts[1:]:
        time = next(marks)
        body += (f"<time>{time}</time>" if time else "") + part
    np.testing.assert_array_equal(read(tmp_path, gpx(body)).xy, read(tmp_path, gpx()).xy)


@pytest.mark.parametrize("latitude", [-78.0, -33.0, 0.0, 52.0, 71.0])
@pytest.mark.parametrize("longitude", [-179.9999, -90.0, 0.0, 179.9999])
def test_anywhere_on_earth(latitude, longitude):
    """A circle of 100 m by the radii of curvature about the place, also across the 180th meridian."""
    meridian, normal = radii_of_curvature(radians(latitude))
    angle = np.linspace(0.0, 2.0 * np.pi, 40)
    lat = latitude + np.degrees(100.0 * np.sin(angle) / meridian)
    lon = longitude + np.degrees(100.0 * np.cos(angle) / (normal * cos(radians(latitude))))
    x, y = local_metres(lat, (lon + 180.0) % 360.0 - 180.0, "")
    # second-order terms: tan(78 deg) x 100 m / 6.4e6 m is 7e-5
    np.testing.assert_allclose(np.hypot(x - x.mean(), y - y.mean()), 100.0, rtol=0.03, atol=0)
    assert np.hypot(np.diff(x), np.diff(y)).sum() == pytest.approx(628.0, rel=2e-3, abs=0)


def test_plane_agrees_with_earth_centred_coordinates():
    """Distances on the plane against straight distances between points on the ellipsoid, 5 km across, at 60 degrees."""
    random = np.random.default_rng(3)
    lat, lon = 60.0 + random.uniform(-0.02, 0.02, 30), 25.0 + random.uniform(-0.04, 0.04, 30)
    x, y = local_metres(lat, lon, "")
    phi, lam = np.radians(lat), np.radians(lon)
    normal = np.array([radii_of_curvature(one)[1] for one in phi])
    squared = 1.0 / 298.257223563 * (2.0 - 1.0 / 298.257223563)
    place = np.array([normal * np.cos(phi) * np.cos(lam), normal * np.cos(phi) * np.sin(lam), normal * (1 - squared) * np.sin(phi)])
    straight = np.linalg.norm(place[:, :, None] - place[:, None, :], axis=0)
    plane = np.hypot(x[:, None] - x, y[:, None] - y)
    # left out: the change of M over 2 km (0.01 x 3.5e-4) and third-order terms (3 x (2.2 km / 6400 km)^2)
    np.testing.assert_allclose(plane, straight, rtol=4e-6, atol=1e-6)


@pytest.mark.parametrize("latitude", [89.99, -89.999, 90.0])
def test_too_near_a_pole_is_refused(latitude):
    with pytest.raises(InputError, match="pole"):
        local_metres(np.linspace(latitude - 0.01, latitude, 9), np.linspace(-170.0, 170.0, 9), "pole.gpx")


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (gpx(TRACK.replace('lat="52.002"', 'lat="92.002"')), ["point 4", "lat 92.002 is beyond 90 degrees"]),
        (gpx(TRACK.replace('lon="8.001"/><trkpt lat="52.002"', 'lon="181"/><trkpt lat="52.002"')), ["point 3", "lon 181"]),
        (gpx(TRACK.replace('lat="52.002"', 'lat="nan"')), ["point 4", '"nan" is not a number', "delete it"]),
        (gpx(TRACK.replace('lat="52.002"', 'lat="inf"')), ["point 4", '"inf"']),
        (gpx(TRACK.replace('lat="52.002"', 'lat="5 2"')), ["point 4", '"5 2"']),
        (gpx(TRACK.replace(' lat="52.002"', "")), ["point 4", 'lat "" is not a number']),
        (gpx(TRACK.replace("<ele>3", "<ele>high")), ["point 1", "ele is not a number"]),
        (gpx(TRACK.replace('lat="52.002"', 'lat="2.002"')), ["point 4", "km from the middle"]),
        (gpx(TRACK)[:200], ["breaks off", "export the track again"]),
        (gpx(TRACK)[:250] + "x_m,y_m\n1,2\n", ["line", "export"]),
        (gpx(TRACK) + gpx(TRACK, head=""), ["line 1"]),
        ("x_m,y_m\n1,2\n", ["line 1"]),
        ("<kml><Document/></kml>", ["XML but no GPX"]),
        (gpx("<wpt lat='1' lon='2'/>"), ["no track and no route"]),
        (gpx("<trk><trkseg/></trk>"), ["no track and no route"]),
        (gpx(head='<?xml version="1.0" encoding="unheard-of"?>'), ["encoding", "UTF-8"]),
        (gpx(head='<?xml version="1.0" encoding="shift-jis"?>'), ["encoding", "UTF-8"]),
        (gpx(TRACK.replace("x</time>", "\xff</time>")).encode("latin-1"), ["line 1"]),
        (gpx(head='<?xml version="1.0"?><!DOCTYPE gpx SYSTEM "file:///etc/hostname">'), ["document type"]),
        (gpx(head='<!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>'), ["document type"]),
        (gpx(TRACK.replace("<ele>3", "<ele>&a;"), head='<!DOCTYPE gpx [<!ENTITY a SYSTEM "file:///etc/hostname">]>'), ["document type"]),
        (gpx(TRACK.replace("<ele>3", "<ele>&secret;")), ["line 1"]),
    ],
)  # fmt: skip
def test_refusals_name_the_point_and_the_remedy(tmp_path, data, words):
    text = refusal(tmp_path, data)
    assert [word for word in words if word not in text] == []


@pytest.mark.parametrize(
    "inside",
    [
        "<a>" * 5_000_000,  # what is nested deeper than any recording
        "".join(f"<a{number}/>" for number in range(2000)),  # names without end
        f'<trk><trkseg><trkpt lat="1" lon="2">{"<time/>" * 6000}</trkpt></trkseg></trk>',
    ],
    ids=["nested", "names", "in a point"],
)
def test_what_no_recorder_writes_is_refused_before_it_fills_the_memory(tmp_path, inside, monkeypatch):
    """15 MB of nested tags took 1.5 GB, for a tree was made of all of them before anything was looked at."""
    monkeypatch.setattr("sim.files.gpx.MOST_KEPT", 5000)
    file = tmp_path / "damaged.gpx"
    file.write_text(gpx(inside), encoding="utf-8")
    tracemalloc.start()
    try:
        with pytest.raises(InputError, match="far more than a recording"):
            read_course(file, closed=False)
        assert tracemalloc.get_traced_memory()[1] < 120e6  # [bytes], the file's own 15 MB among them
    finally:
        tracemalloc.stop()


def test_what_a_recorder_adds_is_passed_over():
    """Extensions in and around points, also with names of our own, change nothing."""
    plain = '<trk><name>a</name><trkseg><trkpt lat="1" lon="2"><ele>3</ele></trkpt></trkseg></trk>'
    more = (
        '<metadata><time>x</time></metadata><trk><name>a</name><x:ext xmlns:x="other"><x:trkpt lat="8"/></x:ext><trkseg>'
        '<trkpt lat="1" lon="2" other="4"><extensions><ele>9</ele><x><speed>5</speed></x></extensions><ele>3</ele></trkpt></trkseg></trk>'
    )
    told = [[(one.tag, one.attrib, one.text) for one in gpx_root(f"<gpx>{text}</gpx>".encode(), "a.gpx").iter()] for text in (plain, more)]
    assert [one for one in told[1] if one[0] != "speed"] == told[0]
    assert ("speed", {}, "5") in told[1]
