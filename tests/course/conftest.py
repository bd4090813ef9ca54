"""Helpers for courses read from files."""

import os
from pathlib import Path

import numpy as np
import pytest

HERE = Path(__file__).resolve()


@pytest.fixture
def real_course():
    """Path of a real course file, kept beside the checkout or where SCRUBWISE_SHARED says; skips where it is missing."""

    def find(name):
        shared = Path(os.environ.get("SCRUBWISE_SHARED", HERE.parents[3] / "shared"))
        path = shared / "courses" / name
        if not path.is_file():
            pytest.skip(f"{name} is not in {shared / 'courses'} (set SCRUBWISE_SHARED)")
        return path

    return find


@pytest.fixture
def write_csv(tmp_path):
    """Write points as a CSV file and return its path."""

    def write(points, name="course.csv", columns=("x_m", "y_m"), digits=9):
        path = tmp_path / name
        rows = "\n".join(",".join(f"{value:.{digits}f}" for value in row) for row in np.asarray(points))
        path.write_text(",".join(columns) + "\n" + rows + "\n", encoding="utf-8")
        return path

    return write


@pytest.fixture
def write_gpx(tmp_path):
    """Write points in metres about a place as a GPX track of one or more segments and return its path."""

    def write(*segments, name="course.gpx", latitude=52.0, longitude=8.0, heights=None):
        # 111267.353 m and 68678.016 m a degree at 52 degrees: WGS 84
        body = []
        for segment in segments:
            body.append("<trkseg>")
            for index, (x, y) in enumerate(segment):
                height = "" if heights is None or heights[index] is None else f"<ele>{heights[index]}</ele>"
                body.append(f'<trkpt lat="{latitude + y / 111267.353:.9f}" lon="{longitude + x / 68678.016:.9f}">{height}</trkpt>')
            body.append("</trkseg>")
        path = tmp_path / name
        path.write_text(
            '<?xml version="1.0" encoding="UTF-8"?><gpx version="1.1" creator="test" '
            'xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="1" lon="1"/><trk>' + "".join(body) + "</trk></gpx>",
            encoding="utf-8",
        )
        return path

    return write


def rounded_rectangle(length=60.0, width=40.0, radius=10.0, spacing=1.0):
    """Points along a rectangle with round corners, anticlockwise from the middle of its lower side, shape (n, 2) [m]."""
    corner = np.linspace(0.0, np.pi / 2, int(np.ceil(np.pi / 2 * radius / spacing)) + 1)[1:-1]
    parts = []
    a, b = length / 2 - radius, width / 2 - radius
    for quarter, (cx, cy) in enumerate(((a, -b), (a, b), (-a, b), (-a, -b))):
        angle = corner + (quarter - 1) * np.pi / 2
        side = ([(0.0, -width / 2), (a, -width / 2)], [(length / 2, -b), (length / 2, b)], [(a, width / 2), (-a, width / 2)],
                [(-length / 2, b), (-length / 2, -b)])[quarter]  # fmt: skip
        count = max(1, round(np.hypot(*(np.subtract(*side))) / spacing))
        parts.append(np.linspace(*side, count + 1))
        parts.append(np.column_stack((cx + radius * np.cos(angle), cy + radius * np.sin(angle))))
    last = np.linspace((-a, -width / 2), (0.0, -width / 2), max(1, round(a / spacing)) + 1)[:-1]
    return np.vstack((*parts, last))


@pytest.fixture
def rectangle():
    """The maker of rounded rectangles."""
    return rounded_rectangle
