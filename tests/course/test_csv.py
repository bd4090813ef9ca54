"""Tables of points: delimiters, marks, encodings, and cells that cannot be read."""

import codecs
import os

import numpy as np
import pytest

from sim.course.csv_file import read_points
from sim.course.reading import read_course
from sim.errors import InputError

ROWS = [(0.0, 0.0), (10.0, 0.5), (20.0, 2.0), (30.0, 4.5), (40.0, 8.0)]


def table(delimiter=",", decimal=".", end="\n", head=None, tail=""):
    lines = [head or delimiter.join(("x_m", "y_m"))]
    lines += [delimiter.join(f"{value}".replace(".", decimal) for value in row) for row in ROWS]
    return end.join(lines) + end + tail


def read(tmp_path, data, name="course.csv"):
    path = tmp_path / name
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return read_points(path)


def refusal(tmp_path, data):
    with pytest.raises(InputError) as caught:
        read(tmp_path, data)
    text = str(caught.value)
    assert text.startswith(f"{tmp_path / 'course.csv'}: ")
    assert "\n" not in text
    return text


@pytest.mark.parametrize(
    "data",
    [
        table(),
        table(";"),
        table("\t"),
        table(";", ","),
        table("\t", ","),
        table(end="\r\n"),
        table(end="\r"),
        table(tail="\n\n  \n,,\n"),
        table(head="\n# made by hand\nx_m,y_m"),
        table(head="# x_m,y_m"),
        table(head="# made by hand\n#x_m,y_m"),
        table(head=' "X_m" , "y_M" '),
        table().replace("\n", ",\n"),
        table().replace("10.0", "# a remark\n10.0", 1),
        table().replace("10.0", '"10.0"'),
        table().replace("10.0", "+1e1"),
        codecs.BOM_UTF8 + table().encode(),
        table().encode("utf-16"),
        codecs.BOM_UTF16_BE + table().encode("utf-16-be"),
    ],
)
def test_spellings_of_one_table(tmp_path, data):
    points = read(tmp_path, data)
    np.testing.assert_array_equal(points.xy, ROWS)
    assert points.height is None


def test_columns_of_both_kinds(tmp_path):
    own = read(tmp_path, "right_m,z_m,y_m,x_m,left_m,remark\n1,2,3,4,5,wet\n1,,3,4,5,\n")
    assert (own.x[0], own.y[0], own.height[0], own.left_width[0], own.right_width[0]) == (4.0, 3.0, 2.0, 5.0, 1.0)
    assert np.isnan(own.height[1])
    assert own.notes == ('Column "remark" is not used.',)
    published = read(tmp_path, "# x_m,y_m,w_tr_right_m,w_tr_left_m\n1,2,3,4\n")
    assert (published.right_width[0], published.left_width[0]) == (3.0, 4.0)


def test_place_counts_every_line(tmp_path):
    points = read(tmp_path, "# a\n\nx_m,y_m\n# b\n1,2\n\n3,4\n")
    assert [points.place(0), points.place(1)] == ["line 5", "line 7"]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (table().replace("20.0", "nan"), ["line 4", '"nan" in column x_m', "plain number"]),
        (table().replace("20.0", "inf"), ["line 4", '"inf"']),
        (table().replace("20.0", "1e999"), ["line 4", '"1e999"']),
        (table().replace("20.0", "1e30"), ["line 4", "absurdly large"]),
        (table().replace("20.0", "2_0"), ["line 4", '"2_0"']),
        (table().replace("20.0", "٢٠"), ["line 4"]),
        (table().replace("20.0", "twenty"), ["line 4", '"twenty" in column x_m is not a number']),
        (table().replace("20.0", ""), ["line 4", "column x_m is empty"]),
        (table().replace("20.0,2.0", "20.0"), ["line 4", "column y_m is missing"]),
        (table().replace("20.0,2.0", "20.0,2.0,7"), ["line 4", "3 cells", "semicolons"]),
        (table(decimal=","), ["line 2", "4 cells where the header names 2", "semicolons"]),
        (table(";").replace("20.0", "1.020,5"), ["line 4", '"1.020,5"']),
        (table() + "<gpx><trk/></gpx>\n", ["line 7", "not a number"]),
        (table() + table(), ["line 7", '"x_m" in column x_m']),
        (table()[:-6] + "4", ["line 6"]),
        (table(head="x_m,ym"), ["line 1", "no column y_m", '"ym"', "name the columns"]),
        ("0,0\n1,1\n", ["line 1", "no column x_m"]),
        ("# only remarks\n", ["no line with column names"]),
        ('{"type": "Feature"}', ["line 1", "no column x_m"]),
        (table(head="x_m,y_m,x_m"), ["x_m stands twice"]),
        ("x_m,y_m,left_m\n1,2,3\n", ["only one of the two widths"]),
        ("x_m,y_m,left_m,right_m\n1,2,3,-4\n", ["line 2", '"-4" in column right_m']),
        ("x_m,y_m,left_m,right_m\n1,2,,4\n", ["line 2", "column left_m is empty"]),
        ("x_m,y_m,z_m\n1,2,high\n", ["line 2", "column z_m"]),
        (table().replace("x_m", "x_m ü").encode("latin-1"), ["line 1", "not UTF-8", "UTF-8"]),
        (table().encode("utf-16-le"), ["zero byte", "UTF-8"]),
        (codecs.BOM_UTF16_LE + b"\x00\xd8x", ["not UTF-16"]),
        (b"PK\x03\x04\xff\xfe\x00", ["UTF-8"]),
        (b"", ["empty"]),
        (b" \r\n\n", ["empty"]),
    ],
)
def test_refusals_name_line_cell_and_remedy(tmp_path, data, words):
    text = refusal(tmp_path, data)
    assert [word for word in words if word not in text] == []


def test_a_header_without_points(tmp_path):
    path = tmp_path / "course.csv"
    path.write_text("x_m,y_m\n")
    with pytest.raises(InputError, match="fewer than 4 different points"):
        read_course(path, closed=False)


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the superuser may read everything")
def test_unreadable_file(tmp_path):
    path = tmp_path / "course.csv"
    path.write_text(table())
    path.chmod(0)
    with pytest.raises(InputError, match="cannot be read"):
        read_points(path)
