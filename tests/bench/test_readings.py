"""Bench readings from a table: what is taken, and each line of refusal."""

import numpy as np
import pytest

from sim.bench.readings import USUAL_ERROR, Readings, check_against_plan, difference_at, read_readings
from sim.errors import InputError

CENTRE_ARM = {
    "linkage": "centre arm", "arm_length_mm": 110.0, "arm_angle_deg": 13.9, "drop_arm_length_mm": 70.0,
    "drop_arm_behind_front_axle_mm": 107.0,
}  # fmt: skip


@pytest.fixture
def read(tmp_path):
    """Readings from a table's text, or from its bytes."""

    def make(content):
        file = tmp_path / "floor.csv"
        file.write_bytes(content if isinstance(content, bytes) else content.encode())
        return read_readings(file, "floor.csv")

    return make


def test_all_columns(read):
    readings = read("# a note\nleft_deg,right_deg,hand_deg,reading_error_deg\n10,9.5,20,0.5\n\n-12,-13,,0.25\n")
    np.testing.assert_allclose(readings.left, np.radians([10, -12]), rtol=1e-15, atol=0)
    np.testing.assert_allclose(readings.right, np.radians([9.5, -13]), rtol=1e-15, atol=0)
    np.testing.assert_allclose(readings.hand, np.radians([20, np.nan]), rtol=1e-15, atol=0)
    np.testing.assert_allclose(readings.error, np.radians([0.5, 0.25]), rtol=1e-15, atol=0)
    assert readings.error_stated
    assert [readings.place(index) for index in range(2)] == ["line 3", "line 5"]


def test_two_columns_take_the_usual_error(read):
    readings = read("left_deg,right_deg\n10,9.5\n")
    assert readings.error == pytest.approx([USUAL_ERROR], rel=1e-15, abs=0)
    assert not readings.error_stated
    assert np.isnan(readings.hand).all()


@pytest.mark.parametrize(
    "text",
    [
        "left_deg;right_deg\n10,5;9,5\n",  # a spreadsheet with decimal commas
        "left_deg\tright_deg\n10,5\t9.5\n",
        "\ufeffRIGHT_DEG, LEFT_DEG\r\n9.5, 10.5\r\n",
        'left_deg,right_deg\n"10.5","9.5"\n,\n',
    ],
)
def test_other_ways_to_write_a_table(read, text):
    readings = read(text)
    assert np.degrees([readings.left[0], readings.right[0]]) == pytest.approx([10.5, 9.5], rel=1e-14, abs=0)
    assert len(readings) == 1


def test_unknown_column_is_named(read):
    assert read("left_deg,right_deg,remark\n1,1,windy\n").notes == ('Column "remark" is not used.',)


HEAD = "left_deg,right_deg\n"
NAME_THEM = "name the columns left_deg and right_deg in the first line (hand_deg and reading_error_deg are optional)"


@pytest.mark.parametrize(
    ("content", "line"),
    [
        (b"", f"floor.csv: the file is empty; {NAME_THEM}"),
        ("# only a note\n", f"floor.csv: the file holds no readings; {NAME_THEM}"),
        (HEAD, "floor.csv: line 1: no readings follow the column names; write one pair of angles a line, below them"),
        ("10,9\n", f"floor.csv: line 1: there is no column left_deg; {NAME_THEM}"),
        ("left_deg\n10\n", f"floor.csv: line 1: there is no column right_deg; {NAME_THEM}"),
        ("left_deg,rigth_deg\n1,1\n", f'floor.csv: line 1: there is no column right_deg (is "rigth_deg" meant?); {NAME_THEM}'),
        ("left_deg,right_deg,left_deg\n1,1,1\n", "floor.csv: line 1: column left_deg stands twice; keep one of them"),
        (HEAD + "10,much\n", 'floor.csv: line 2: "much" in column right_deg is not a number; write a plain number, such as 12.5'),
        # Lines as an editor counts them, whatever ends them and whatever odd signs stand in them
        (HEAD + "1,1\f\n2,2\x1c\n10\n", "floor.csv: line 4: there is no right_deg; complete the pair or delete the line"),
        ("# a note\r\r" + HEAD + "10\r", "floor.csv: line 4: there is no right_deg; complete the pair or delete the line"),
        (HEAD + "nan,1\n", 'floor.csv: line 2: "nan" in column left_deg is not a number; write a plain number, such as 12.5'),
        (HEAD + "1,inf\n", 'floor.csv: line 2: "inf" in column right_deg is not a number; write a plain number, such as 12.5'),
        (HEAD + "1,1\n10\n", "floor.csv: line 3: there is no right_deg; complete the pair or delete the line"),
        (HEAD + "81,9\n", "floor.csv: line 2: 81 in column left_deg is more than 80 degrees; give degrees, positive to the left"),
        (
            HEAD + "10,5,9,5\n",
            "floor.csv: line 2: has 4 cells where the header names 2; keep one cell a column; "
            "a decimal comma needs semicolons between the cells",
        ),
        (
            "left_deg,right_deg,reading_error_deg\n1,1,0\n",
            "floor.csv: line 2: a reading error of 0 degrees is not between 0.001 and 10; half a degree is usual for a printed protractor",
        ),
        (
            "left_deg,right_deg,hand_deg\n1,1,1081\n",
            "floor.csv: line 2: 1081 in column hand_deg is more than 1080 degrees; give degrees, positive to the left",
        ),
        (b"left_deg,right_deg\n\xff\xfe,1\n", "floor.csv: line 2: is not UTF-8 text; save the file as CSV in UTF-8"),
    ],
)
def test_refusals(read, content, line):
    with pytest.raises(InputError) as refusal:
        read(content)
    assert str(refusal.value) == line


def test_no_file_and_a_folder(tmp_path):
    with pytest.raises(InputError, match=r"^gone\.csv: there is no such file; check the name and the folder$"):
        read_readings(tmp_path / "gone.csv", "gone.csv")
    with pytest.raises(InputError, match=r"^here: is a folder; name the table of readings inside it$"):
        read_readings(tmp_path, "here")


# Against the plan


def pairs(left, right, error_deg=0.5):
    """Readings from degrees; they stand from line 2 on."""
    count = len(left)
    return Readings(
        "floor.csv", np.radians(left), np.radians(right), np.full(count, np.nan), np.full(count, np.radians(error_deg)), True,
        np.arange(count) + 2,
    )  # fmt: skip


@pytest.fixture
def planned(build):
    """The centre arm as planned, and its angles at some hand angles [deg]."""
    steering = build(**CENTRE_ARM)
    return steering, np.degrees(steering.front_wheels(np.radians([-60.0, -40.0, -20.0, 0.0, 20.0, 40.0, 60.0])).steer)


def refusal(readings, steering):
    with pytest.raises(InputError) as refused:
        check_against_plan(readings, steering)
    return str(refused.value)


def test_planned_angles_pass(planned):
    steering, angles = planned
    check_against_plan(pairs(*angles.T), steering)


def test_one_turn_and_few_readings_pass(planned):
    steering, angles = planned
    for rows in (slice(0, 3), slice(4, 7), slice(3, 4)):
        check_against_plan(pairs(*angles[rows].T), steering)


def test_swapped_columns(planned):
    steering, angles = planned
    left, right = angles.T
    assert refusal(pairs(right, left), steering) == (
        "floor.csv: line 2: the inner wheel turns less than the outer here and in the other turns, where the plan says more; "
        "are the columns swapped, or right turns entered as positive? if neither, the arms are kinked the wrong way"
    )
    # With 2 degrees of toe and half a degree of scatter too
    noise = np.random.default_rng(3).normal(size=(2, len(left))) * 0.5
    assert "columns swapped" in refusal(pairs(right + 2 + noise[0], left - 2 + noise[1]), steering)


def test_left_turns_entered_as_negative(planned):
    steering, angles = planned
    assert "columns swapped, or right turns entered as positive" in refusal(pairs(*-angles.T), steering)


def test_every_turn_entered_as_positive(planned):
    steering, angles = planned
    assert refusal(pairs(*np.abs(angles[[0, 1, 2, 4, 5, 6]]).T), steering) == (
        "floor.csv: line 2: here one wheel turns more, elsewhere the other, but all readings are positive; "
        "enter left turns as positive and right turns as negative angles"
    )


def test_wheels_that_turn_alike_are_not_taken_for_swapped(planned):
    steering, angles = planned
    alike = angles.mean(axis=1)
    check_against_plan(pairs(alike, alike), steering)


def test_wheels_to_opposite_sides(planned):
    steering, angles = planned
    left, right = angles.T.copy()
    right[5] = -right[5]
    assert refusal(pairs(left, right), steering).startswith("floor.csv: line 7: the wheels point to opposite sides (")


def test_beyond_the_lock(planned):
    steering, angles = planned
    left, right = angles.T.copy()
    most = np.degrees(steering.front_wheels(np.array([steering.lock_left])).steer[0, 1])
    right[6] = most + 8.5
    left[6] = most
    assert refusal(pairs(left, right), steering).startswith("floor.csv: line 8: the right wheel cannot stand so (")


def test_difference_at_is_left_less_right(planned):
    steering, angles = planned
    difference = difference_at(steering, np.radians(angles).mean(axis=1))
    np.testing.assert_allclose(difference, np.radians(angles[:, 0] - angles[:, 1]), rtol=0, atol=1e-12)
    assert np.isnan(difference_at(steering, np.array([1.5])))[0]
