"""Bench readings from a table: what is taken, and each line of refusal."""

import numpy as np
import pytest

from sim.bench.kinds import DIAL, KINDS, USUAL_ANGLE_ERROR, WHEEL_LEFT, WHEEL_RIGHT, place_of
from sim.bench.readings import check_against_plan, difference_at, joined, pairs_of, read_readings, readings_in
from sim.errors import InputError


@pytest.fixture
def read(tmp_path):
    """Readings from a table's text, or from its bytes."""

    def make(content):
        file = tmp_path / "floor.csv"
        file.write_bytes(content if isinstance(content, bytes) else content.encode())
        return read_readings(file, "floor.csv", 0.203)

    return make


def test_all_columns(read):
    readings = read("# a note\nleft_deg,right_deg,hand_deg,reading_error_deg\n10,9.5,20,0.5\n\n-12,-13,,0.25\n")
    np.testing.assert_allclose(readings.value[:, WHEEL_LEFT], np.radians([10, -12]), rtol=1e-15, atol=0)
    np.testing.assert_allclose(readings.value[:, WHEEL_RIGHT], np.radians([9.5, -13]), rtol=1e-15, atol=0)
    np.testing.assert_allclose(readings.value[:, DIAL], np.radians([20, np.nan]), rtol=1e-15, atol=0)
    np.testing.assert_allclose(readings.error[:, WHEEL_LEFT], np.radians([0.5, 0.25]), rtol=1e-15, atol=0)
    assert readings.stated[:, WHEEL_LEFT].all()
    assert [readings.place(index) for index in range(2)] == ["line 3", "line 5"]


def test_two_columns_take_the_usual_error(read):
    readings = read("left_deg,right_deg\n10,9.5\n")
    assert readings.error[:, WHEEL_LEFT] == pytest.approx([USUAL_ANGLE_ERROR], rel=1e-15, abs=0)
    assert not readings.stated.any()
    assert readings.read.sum() == 2


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
    assert np.degrees(readings.value[0, [WHEEL_LEFT, WHEEL_RIGHT]]) == pytest.approx([10.5, 9.5], rel=1e-14, abs=0)
    assert len(readings) == 1


def test_unknown_column_is_named(read):
    assert read("left_deg,right_deg,remark\n1,1,windy\n").notes == ('Column "remark" is not used.',)


@pytest.mark.parametrize(("cell", "turns"), [("6 1/4", 6.25), ("1/2", 0.5), ("3 1/2", 3.5), ("7", 7.0), ("6.25", 6.25)])
def test_turns_are_read_as_they_are_printed(read, cell, turns):
    readings = read(f"threads_left,threads_right\n{cell},8\n")
    assert readings.value[np.isfinite(readings.value)].tolist() == [turns, 8.0]


STRINGS = "string_left_rear_mm,string_left_front_mm,string_right_front_mm,string_right_rear_mm"


@pytest.mark.parametrize(("text", "told"), [
    ("rod_left,rod_right_mm\n344,344\n", ('floor.csv: column "rod_left" is not read: is rod_left_mm meant? Write it so.',)),
    ("left,left_deg,right_deg\n1,1,1\n", ('floor.csv: column "left" is not read: is left_deg meant? Write it so.',)),
    ("toe_rear_mm,toe_front_mm\n87.3,86.7\n850,848\n", (
        "floor.csv line 2: toe_rear_mm = 87.3 is far from the track, 900 mm: is it in centimetres? Write millimetres.",)),
    ("toe_rear_mm,toe_front_mm\n970,965\n700,700\n", ()),
    (f"{STRINGS}\n13,12,12,13\n1.3,1.2,1.2,1.3\n12.5,12,12,13\n", (
        "floor.csv line 3: distances to the strings of 1.3, 1.2, 1.2, 1.3, in the other lines about 12.5, 12, 12, 13: are these "
        "centimetres? Write millimetres.",)),
    (f"{STRINGS}\n13,12,12,13\n13,2,12,13\n12.5,12,12,13\n", ()),  # a wheel off, not a unit
])  # fmt: skip
def test_units_and_names_that_can_hardly_be_meant_are_doubted(text, told):
    """Centimetres were taken as millimetres, and a misspelt column was told behind --explain alone."""
    assert readings_in(text, "floor.csv", 0.203, 0.9).slips == told


@pytest.mark.parametrize(("text", "said"), [
    ("rod_cm\n69.05\n", 'floor.csv: line 1: column "rod_cm" is not read (is rod_mm meant?); write millimetres under rod_mm'),
    ("left_deg,right_deg,rod_cm\n1,1,\n,,69\n",
     'floor.csv: line 1: column "rod_cm" is not read (is rod_mm meant?); write millimetres under rod_mm'),
    ("toe_rear_cm,toe_front_cm\n82,82\n",
     'floor.csv: line 1: column "toe_rear_cm" is not read (is toe_rear_mm meant?); write millimetres under toe_rear_mm'),
    ("left_rad,right_rad\n0.1,0.1\n",
     'floor.csv: line 1: column "left_rad" is not read (is left_deg meant?); write degrees under left_deg'),
    ("left_deg,right_deg,rod\n1,1,\n,,69\n", 'floor.csv: line 3: column "rod" is not read, and nothing else stands in this line; '
     "if rod_mm is meant, write it so"),
])  # fmt: skip
def test_a_column_in_another_unit_is_named_before_the_line_that_it_leaves_empty(text, said):
    """The line with the rod's length was said to hold no reading, the column's name was not."""
    with pytest.raises(InputError) as refused:
        readings_in(text, "floor.csv", 0.203, 0.9)
    assert str(refused.value) == said


def test_a_column_of_one_s_own_in_another_unit_stands_beside_ours(read):
    assert len(read("rod_mm,rod_cm\n690.5,69.05\n")) == 1


def test_the_furthest_string_of_all_tables_is_kept(read):
    first, second = read(f"{STRINGS}\n5,5.6,5.2,5.2\n"), read("rod_mm\n690\n")
    assert first.furthest_string == pytest.approx(0.0056, rel=1e-12, abs=0)
    assert np.isnan(second.furthest_string)
    assert joined([second, first]).furthest_string == first.furthest_string


@pytest.mark.parametrize(("head", "cells", "least", "most"), [
    ("left_deg,right_deg,reading_error_deg", "1,1,{}", 0.001, 10.0), ("rod_left_mm,reading_error_mm", "343,{}", 0.01, 20.0),
    ("threads_left,reading_error_turns", "5,{}", 0.01, 5.0),
])  # fmt: skip
def test_a_stated_error_is_taken_between_its_bounds(read, head, cells, least, most):
    for fine in (least, most):
        assert len(read(f"{head}\n{cells.format(fine)}\n")) == 1
    for wrong in (0.9 * least, 1.01 * most):
        with pytest.raises(InputError, match=f"is not between {least:g} and {most:g}"):
            read(f"{head}\n{cells.format(wrong)}\n")


# Every kind in one table


def test_every_kind_of_reading_in_one_table(read):
    """Lengths between places on a rim become sines of angles; what the hand wheel does not move stands by itself, repeats as repeats."""
    readings = read(
        "string_left_front_mm,string_left_rear_mm,string_right_front_mm,string_right_rear_mm,toe_front_mm,toe_rear_mm,rim_mm,"
        "rod_left_mm,rod_right_mm,threads_left,threads_right,drop_arm_deg,left_deg,right_deg,hand_deg,reading_error_mm\n"
        "80,84,82,81,,,400,343,344.5,,,,,,,\n"
        "80,83,82,81,,,400,343.5,,,,,,,,0.5\n"
        ",,,,800,803,,,,,,,,,,\n"
        ",,,,,,,,,5.5,4.25,,,,,\n"
        ",,,,,,,,,,,1.5,10,9,20,\n"
    )
    there = readings.read
    table = {kind.name: readings.value[there[:, place], place] for place, kind in enumerate(KINDS)}
    np.testing.assert_allclose(table["string at the left wheel"], [4 / 400, 3 / 400], rtol=1e-12, atol=0)  # nearer in front: to the left
    np.testing.assert_allclose(table["string at the right wheel"], [1 / 400, 1 / 400], rtol=1e-12, atol=0)  # further in front: to the left
    np.testing.assert_allclose(table["tape between the rims"], [3 / (0.8 * 406)], rtol=1e-12, atol=0)  # the car's rim is taken
    np.testing.assert_allclose(table["left rod, eye to eye"], [0.343, 0.3435], rtol=1e-12, atol=0)
    np.testing.assert_allclose(table["right rod's threads"], [4.25], rtol=1e-12, atol=0)
    np.testing.assert_allclose(table["drop arm beside a plumb line"], np.radians([1.5]), rtol=1e-12, atol=0)
    assert list(readings.line) == [2, 2, 2, 3, 3, 4, 5, 5, 6]
    assert readings.rim_taken == pytest.approx(0.3248, rel=1e-12, abs=0)
    place = place_of("string_left_front_mm")
    # Two distances of 0.7 mm each, usually; of 0.5 where the row says so
    np.testing.assert_allclose(readings.error[[0, 3], place], [1e-3 / 0.4, np.sqrt(2) * 0.5e-3 / 0.4], rtol=1e-12, atol=0)


def test_several_files_are_one_set_of_readings(tmp_path):
    parts = []
    for name, text in (("rods.csv", "rod_left_mm,rod_right_mm\n343,344\n"), ("pairs.csv", "left_deg,right_deg\n1,1\n2,2\n")):
        (tmp_path / name).write_text(text)
        parts.append(read_readings(tmp_path / name, name))
    both = joined(parts)
    assert [(both.source_of(index), both.place(index)) for index in range(len(both))] == [
        ("rods.csv", "line 2"), ("rods.csv", "line 2"), ("pairs.csv", "line 2"), ("pairs.csv", "line 3"),
    ]  # fmt: skip
    assert both.source == "rods.csv, pairs.csv"


HEAD = "left_deg,right_deg\n"
NAME_THEM = "name its columns in the first line, such as left_deg,right_deg or string_left_front_mm (`scrubwise manual floor` lists them)"


@pytest.mark.parametrize(
    ("content", "line"),
    [
        (b"", f"floor.csv: the file is empty; {NAME_THEM}"),
        ("# only a note\n", f"floor.csv: the file holds no readings; {NAME_THEM}"),
        (HEAD, "floor.csv: line 1: no readings follow the column names; write what was read below them, a setting a line"),
        ("10,9\n", f"floor.csv: line 1: no column holds a kind of reading; {NAME_THEM}"),
        (
            "left_dge,rod_lft_mm\n1,1\n",
            f'floor.csv: line 1: no column holds a kind of reading (is "left_dge" meant for left_deg?); {NAME_THEM}',
        ),
        ("rim_mm\n400\n", f"floor.csv: line 1: no column holds a kind of reading; {NAME_THEM}"),
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
            "string_left_front_mm,string_left_rear_mm\n80,\n",
            "floor.csv: line 2: there is no string_left_rear_mm; complete the pair or delete the line",
        ),
        (
            "string_left_front_mm,string_left_rear_mm,rim_mm\n80,380,400\n",
            "floor.csv: line 2: string_left_rear_mm and string_left_front_mm differ by 300 mm over a rim of 400 mm; "
            "check them, and set the wheels straight ahead",
        ),
        ("rod_left_mm,hand_deg\n,20\n", "floor.csv: line 2: there is no reading in this line; complete it or delete it"),
        (
            "rod_left_mm,reading_error_mm\n343,50\n",
            "floor.csv: line 2: a reading error of 50 mm is not between 0.01 and 20; half a millimetre to a millimetre is usual",
        ),
        (
            "threads_left\n-1\n",
            "floor.csv: line 2: -1 in column threads_left is not between 0 and 200; "
            "count the turns out from fully home, both ends of the rod together",
        ),
        ("toe_rear_mm,toe_front_mm\n8,9\n", "floor.csv: line 2: 8 in column toe_rear_mm is not between 50 and 4000; give millimetres"),
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
    return pairs_of(np.radians(left), np.radians(right), None, np.radians(error_deg), "floor.csv")


@pytest.fixture
def planned(centre):
    """The centre arm as planned, and its angles at some hand angles [deg]."""
    plan = centre
    return plan, np.degrees(plan.steering.front_wheels(np.radians([-60.0, -40.0, -20.0, 0.0, 20.0, 40.0, 60.0])).steer)


def refusal(readings, plan):
    with pytest.raises(InputError) as refused:
        check_against_plan(readings, plan)
    return str(refused.value)


def test_readings_of_another_kind_of_steering(read, cross, planned):
    assert refusal(read("rod_left_mm,rod_right_mm\n343,343\n"), cross) == (
        "floor.csv: line 2: column rod_left_mm belongs to another kind of steering than a cross rod; columns in that unit are "
        "string_left_rear_mm, string_left_front_mm, string_right_front_mm, string_right_rear_mm, toe_rear_mm, toe_front_mm, rod_mm"
    )
    assert "column threads belongs to another kind of steering than a centre arm" in refusal(read("threads\n1\n"), planned[0])
    assert "column drop_arm_deg belongs to another kind of steering" in refusal(read("drop_arm_deg\n1\n"), cross)


def test_a_rod_of_another_car(read, planned):
    assert refusal(read("rod_left_mm,rod_right_mm\n343,243\n"), planned[0]) == (
        "floor.csv: line 2: the right rod measures 243 mm, where the plan has 343.6 mm; measure from the middle of one eye to that of the "
        "other, or check the set-up's name and whether the scenario's lengths are this car's"
    )


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


def test_every_turn_entered_as_positive_where_the_outer_wheel_turns_more(plan_of):
    """Arms kinked outwards behind the axle: what the plan says is below 0 in both turns, and the slip is seen all the same."""
    outwards = plan_of({"linkage": "cross rod", "arm_length_mm": 110.0, "arm_angle_deg": -30.0})
    hands = np.radians([30.0, 26.0, 22.0, -26.0, -31.0, -36.0])
    angles = np.degrees(outwards.steering.front_wheels(hands).steer)
    assert np.all(np.abs(angles).argmin(axis=1) == (hands < 0))  # the inner wheel turns less
    check_against_plan(pairs(*angles.T), outwards)
    told = "here one wheel turns more, elsewhere the other, but all readings are positive"
    assert told in refusal(pairs(*np.abs(angles).T, 0.2), outwards)


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
    most = np.degrees(steering.steering.front_wheels(np.array([steering.steering.lock_left])).steer[0, 1])
    right[6] = most + 8.5
    left[6] = most
    assert refusal(pairs(left, right), steering).startswith("floor.csv: line 8: the right wheel cannot stand so (")


def test_difference_at_is_left_less_right(planned):
    steering, angles = planned
    difference = difference_at(steering.steering, np.radians(angles).mean(axis=1))
    np.testing.assert_allclose(difference, np.radians(angles[:, 0] - angles[:, 1]), rtol=0, atol=1e-12)
    assert np.isnan(difference_at(steering.steering, np.array([1.5])))[0]


def test_a_count_of_threads_that_no_rod_has_is_refused(read, plan_of, trial):
    """From fully home both rods of the drawing stand out by 4.5 turns."""
    with pytest.raises(InputError) as refusal:
        check_against_plan(read("threads_left,threads_right\n4.5,40\n"), plan_of(trial.centre_arm))
    assert str(refusal.value) == (
        "floor.csv: line 2: threads_right counts 40 turns, where the plan has 4.5 out from fully home; "
        "count both ends of the rod together, or check rod_tube_length_mm and rod_end_eye_length_mm"
    )
    unmeasured = {key: value for key, value in trial.centre_arm.items() if not key.startswith("rod_")}
    check_against_plan(read("threads_left,threads_right\n14.5,40\n"), plan_of(unmeasured))  # nobody knows the tube


def test_a_lath_along_the_rim_adds_how_it_lies_on_it():
    """800 mm on a wheel of 203 mm: a millimetre at its ends and 0.3 mm at each place on the rim, which are 325 mm apart."""
    text = "rim_mm,string_left_front_mm,string_left_rear_mm,string_right_front_mm,string_right_rear_mm,reading_error_mm\n{},9,9,9,9,{}\n"
    at_rim, lath, stated = (readings_in(text.format(*cells), "floor.csv", 0.203) for cells in ((325, ""), (800, ""), (800, 0.5)))
    place = place_of("string_left_front_mm")
    assert at_rim.error[0, place] == pytest.approx(1 / 325)
    assert lath.error[0, place] == pytest.approx(np.hypot(1 / 800, 0.3 * 2**0.5 / 324.8))
    assert stated.error[0, place] == pytest.approx(0.5 * 2**0.5 / 800)
