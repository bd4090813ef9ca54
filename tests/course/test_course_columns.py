"""One rule for every table of text: what is a comment, what a spreadsheet's error, what a blank row."""

import pytest

from sim.bench.readings import read_readings
from sim.coast.log import read_log
from sim.course.csv_file import read_points
from sim.errors import InputError

# A reader, its header, a row of two numbers that it takes, and how its notes and its numbers are had.
TABLES = {
    "course": (read_points, "x_m{c}y_m", lambda points: points.x),
    "log": (lambda path: read_log(path, str(path)), "time_s{c}speed_m_per_s", lambda log: log.time),
    "readings": (lambda path: read_readings(path, str(path)), "left_deg{c}right_deg", lambda readings: readings.value[:, 0]),
}
ERRORS = ["#DIV/0!", "#N/A", "#REF!", "#VALUE!", "#NAME?", "#NUM!", "#NULL!", "#SPILL!", "#WERT!", "#NV", "#####"]
MEND = "mend the formula or widen the column in the spreadsheet, or delete the row"


@pytest.fixture(params=TABLES)
def table(request, tmp_path):
    """(what reads rows below the reader's header, how its numbers are had, path)."""
    read, header, numbers = TABLES[request.param]
    path = tmp_path / "table.csv"

    def reading(rows, mark=","):
        path.write_text("\n".join([header.format(c=mark), *rows]) + "\n")
        return read(path)

    return reading, numbers, path


def rows(count=10, mark=","):
    return [f"{1 + k}{mark}{2 + k}" for k in range(count)]


@pytest.mark.parametrize("error", ERRORS)
@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_a_spreadsheet_error_at_the_beginning_of_a_row_is_no_comment(table, error, mark):
    """Once the row was lost without a word, for it begins with the sign of a comment."""
    reading, _, path = table
    told = f'{path}: line 4: "{error}" is a spreadsheet\'s error, not a comment; {MEND}; a comment needs a blank after its #'
    for row in (f"{error}{mark}5", f"  {error} {mark}5"):
        with pytest.raises(InputError) as refused:
            reading([*rows(2, mark), row, *rows(8, mark)], mark)
        assert str(refused.value) == told


@pytest.mark.parametrize("error", ERRORS)
def test_a_spreadsheet_error_further_on_is_told_as_that(table, error):
    reading, _, path = table
    with pytest.raises(InputError) as refused:
        reading([*rows(2), f"3,{error}", *rows(8)])
    line = str(refused.value)
    assert line.startswith(f'{path}: line 4: "{error}" in column ')
    assert line.endswith(f" is a spreadsheet's error, not a number; {MEND}")


COMMENTS = ["# DIV/0! stood here", "#", "#########", "  # note", "#of Monday", "#1 run!", "#,;", "#N/A was mended"]


@pytest.mark.parametrize("comment", COMMENTS)
def test_comments_stay_comments(table, comment):
    reading, numbers, _ = table
    read = reading([comment, *rows(4), comment, *rows(10)[4:]])
    assert len(numbers(read)) == 10
    assert not read.notes


def test_a_comment_begins_a_line_and_nowhere_else(table):
    reading, _, _ = table
    with pytest.raises(InputError, match="is not a number"):
        reading([*rows(2), "3,4 # gust", *rows(8)])


def test_blank_rows_inside_the_data_are_told(table):
    reading, numbers, _ = table
    blank = reading([*rows(4), "", *rows(10)[4:], "", ",", "   "])
    assert len(numbers(blank)) == 10
    assert blank.notes == ("A blank row inside the data was passed over (line 6).",)
    several = reading(["", *rows(4), ",", "# a note", " , ", '"",', *rows(10)[4:]])
    assert several.notes == ("4 blank rows inside the data were passed over (lines 2, 7, 9 and 1 more).",)
