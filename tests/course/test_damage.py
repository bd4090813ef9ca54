"""Damaged files: a course of finite arrays, or one line of error, in under two seconds."""

import warnings

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sim.course.reading import read_course
from sim.errors import InputError

CELLS = [
    "", "nan", "inf", "-inf", "1e999", "-1e30", "1e8", "0", "-0", "-9999", "32767", "1,5", "1.2.3", "0x10", "1_0", "x_m", "#", "\ufeff",
    "<trkpt>", '"', ";", "\t", "\r", "90.1", "181", "2026-01-01", "\U0001f600", "1e-320", "7" * 400,
]  # fmt: skip


def _oval(length, width, count):
    angle = np.arange(count) * 2.0 * np.pi / count
    return zip(0.5 * length * np.cos(angle), 0.5 * width * np.sin(angle), strict=True)


def _csv() -> bytes:
    points = _oval(60.0, 40.0, 80)
    rows = [f"{x:.3f},{y:.3f},{0.1 * i % 3:.1f},3.0,4.0" for i, (x, y) in enumerate(points)]
    return ("x_m,y_m,z_m,left_m,right_m\n" + "\n".join(rows) + "\n").encode()


def _gpx() -> bytes:
    points = _oval(160.0, 90.0, 80)
    rows = [
        f'<trkpt lat="{47.0 + y / 111190.0:.7f}" lon="{11.0 + x / 76000.0:.7f}"><ele>{500 + 0.1 * i % 3:.1f}</ele></trkpt>'
        for i, (x, y) in enumerate(points)
    ]
    head = (
        '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="c" xmlns="http://www.topografix.com/GPX/1/1">\n<trk><trkseg>\n'
    )
    return (head + "\n".join(rows) + "\n</trkseg></trk></gpx>\n").encode()


WHOLE = {"csv": _csv(), "gpx": _gpx()}


@st.composite
def damaged(draw, whole: bytes) -> bytes:
    data = whole
    for _ in range(draw(st.integers(1, 3))):
        kind = draw(st.sampled_from(["flip", "cut", "lines", "cell", "double", "swap", "other"]))
        if not data:
            break
        at = draw(st.integers(0, len(data) - 1))
        if kind == "flip":
            data = data[:at] + bytes([data[at] ^ draw(st.integers(1, 255))]) + data[at + 1 :]
        elif kind == "cut":
            data = data[:at]
        elif kind == "other":
            data = data[:at] + WHOLE["csv" if whole is WHOLE["gpx"] else "gpx"][at:]
        else:
            lines = data.split(b"\n")
            first = draw(st.integers(0, len(lines) - 1))
            last = min(len(lines), first + draw(st.integers(1, 20)))
            if kind == "lines":
                del lines[first:last]
            elif kind == "double":
                lines[last:last] = lines[first:last]
            elif kind == "swap":
                lines[first], lines[last - 1] = lines[last - 1], lines[first]
            else:
                cell = draw(st.sampled_from(CELLS)).encode()
                mark = b'"' if b'"' in lines[first] else b","
                cells = lines[first].split(mark)
                cells[draw(st.integers(0, len(cells) - 1))] = cell
                lines[first] = mark.join(cells)
            data = b"\n".join(lines)
    return data


def check(path, data, closed):
    path.write_bytes(data)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            course = read_course(path, closed=closed)
    except InputError as error:
        text = str(error)
        assert text.startswith(f"{path}: ")
        assert text.isprintable()
        assert len(text) < 400 + len(str(path))
    else:
        arrays = (course.station, course.x, course.y, course.heading, course.curvature, course.height, course.slope)
        assert all(np.isfinite(array).all() and array.shape == course.station.shape for array in arrays)
        assert course.length > 0.0
        assert np.isfinite(course.smoothing_residual)


@pytest.mark.parametrize("suffix", ["csv", "gpx"])
def test_the_whole_file_is_read(tmp_path, suffix):
    path = tmp_path / f"course.{suffix}"
    path.write_bytes(WHOLE[suffix])
    assert read_course(path, closed=True).length > 150.0


@pytest.mark.parametrize("suffix", ["csv", "gpx"])
@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data(), closed=st.booleans())
def test_damage_is_refused_or_read_whole(tmp_path, suffix, data, closed):
    check(tmp_path / f"course.{suffix}", data.draw(damaged(WHOLE[suffix])), closed)


@pytest.mark.slow
@pytest.mark.parametrize("suffix", ["csv", "gpx"])
@settings(max_examples=1000, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture], derandomize=True)
@given(data=st.data(), closed=st.booleans())
def test_much_damage_is_refused_or_read_whole(tmp_path, suffix, data, closed):
    check(tmp_path / f"course.{suffix}", data.draw(damaged(WHOLE[suffix])), closed)
