"""Numbers as people measure them become those that a scenario keeps; what cannot become one is told by the key that was written."""

from copy import deepcopy
from math import atan2, cos, degrees, hypot, pi, radians, sin

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.errors import InputError
from sim.keys import MILLIMETRE
from sim.linkages.front_end import ARM_JOINT
from sim.linkages.pivots import LEFT
from sim.scenario.car import AXLES, ROLL_OUT, THREE_TURNS, WHEELS, YAW_INERTIA_PER_MASS, CarTable
from sim.scenario.file import check_scenario, dump_scenario, parse_toml
from sim.scenario.setup import SetupTable
from sim.steering.arrangement import build_steering

CAR = {
    "mass_kg": 145.0, "wheelbase_mm": 1500.0, "front_track_mm": 900.0, "rear_track_mm": 860.0, "kingpin_track_mm": 740.0,
    "mass_centre_behind_front_axle_mm": 820.0, "mass_centre_height_mm": 330.0, "wheel_radius_mm": 203.0, "drive": "one wheel left",
}  # fmt: skip
ROD = {"name": "rod", "pivot": "stub axles", "linkage": "cross rod", "arm_length_mm": 110.0, "arm_angle_deg": 13.9}
BASE = {"car": CAR, "course": {"segments": [{"straight_m": 20.0}]}, "pace": {"target_m_per_s": 5.0}, "setup": [ROD]}


def with_car(given, *without):
    data = deepcopy(BASE)
    data["car"] = {key: value for key, value in CAR.items() if key not in without} | given
    return data


def with_arm(given, without=("arm_length_mm", "arm_angle_deg"), **more):
    data = deepcopy(BASE)
    data["setup"] = [{key: value for key, value in ROD.items() if key not in without} | given | more]
    return data


def refusal(data):
    with pytest.raises(InputError) as caught:
        check_scenario(data, "quay.toml")
    assert "\n" not in str(caught.value)
    return str(caught.value).removeprefix("quay.toml: ")


MASS = ("mass_kg", "mass_centre_behind_front_axle_mm")


def test_scales_under_both_axles():
    car = check_scenario(with_car({"front_axle_load_kg": 60.0, "rear_axle_load_kg": 90.0}, *MASS), "quay.toml").car
    # Worked by hand: 150 kg in all, 90 of them on the rear axle, so six tenths of 1500 mm behind the front one.
    assert (car.mass_kg, car.mass_centre_behind_front_axle_mm) == pytest.approx((150.0, 900.0), rel=1e-15, abs=0)


def test_scales_under_each_wheel():
    loads = {"front_left_load_kg": 29.0, "front_right_load_kg": 31.0, "rear_left_load_kg": 44.0, "rear_right_load_kg": 46.0}
    car = check_scenario(with_car(loads, *MASS), "quay.toml").car
    assert (car.mass_kg, car.mass_centre_behind_front_axle_mm) == pytest.approx((150.0, 900.0), rel=1e-15, abs=0)


def test_the_wheelbase_may_carry_an_uncertainty():
    loads = {"front_axle_load_kg": 60.0, "rear_axle_load_kg": 90.0, "wheelbase_mm": {"value": 1500.0, "plus_minus": 5.0}}
    scenario = check_scenario(with_car(loads, *MASS), "quay.toml")
    assert scenario.car.mass_centre_behind_front_axle_mm == pytest.approx(900.0, rel=1e-15, abs=0)
    assert scenario.uncertainty == {"car.wheelbase_mm": 5.0}


def test_three_turns_of_a_wheel():
    car = check_scenario(with_car({"three_wheel_turns_mm": 6 * pi * 203.0}, "wheel_radius_mm"), "quay.toml").car
    assert car.wheel_radius_mm == pytest.approx(203.0, rel=1e-15, abs=0)


LENGTH = {"wheelbase_mm": 1500.0}


@pytest.mark.parametrize(("one", "reads"), [(AXLES, LENGTH), (WHEELS, LENGTH), (ROLL_OUT, {}), (ARM_JOINT, {})])
def test_the_way_back_from_what_is_kept(one, reads):
    values = {key.name: key.usual for key in one.measured} | reads
    kept = dict(zip(one.kept, one.kept_from(values), strict=True))
    assert one.measured_from(kept | reads) == pytest.approx([key.usual for key in one.measured], rel=1e-12, abs=0)


def test_yaw_inertia_that_is_left_out_is_estimated_and_kept():
    data = deepcopy(BASE)
    scenario = check_scenario(data, "quay.toml")
    assert scenario.car.yaw_inertia_kg_m2 == pytest.approx(YAW_INERTIA_PER_MASS * 145.0, rel=1e-15, abs=0)
    assert f"yaw_inertia_kg_m2 = {scenario.car.yaw_inertia_kg_m2}" in dump_scenario(scenario)
    weighed = with_car({"front_axle_load_kg": 60.0, "rear_axle_load_kg": 90.0}, *MASS)
    assert check_scenario(weighed, "quay.toml").car.yaw_inertia_kg_m2 == pytest.approx(0.26 * 150.0, rel=1e-15, abs=0)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(behind=st.floats(-250, 250), inside=st.floats(-250, 250))
def test_an_arm_by_its_joint_stands_where_it_was_measured(behind, inside):
    data = with_arm({"arm_joint_behind_mm": behind, "arm_joint_inside_mm": inside})
    if hypot(behind, inside) < 10:
        assert refusal(data).startswith('setup "rod".arm_joint_behind_mm: with the others it makes arm_length_mm = ')
        return
    setup = check_scenario(data, "quay.toml").setup[0]
    angle = radians(setup.arm_angle_deg)
    assert setup.arm_length_mm * cos(angle) == pytest.approx(behind, rel=0, abs=1e-9)
    assert setup.arm_length_mm * sin(angle) == pytest.approx(inside, rel=0, abs=1e-9)


@pytest.mark.parametrize(("lean", "caster"), [(0.0, 0.0), (12.0, 8.0)])
def test_the_built_joint_is_where_it_was_measured_from_the_leaning_kingpin(lean, caster):
    scenario = check_scenario(with_arm({"arm_joint_behind_mm": 107.0, "arm_joint_inside_mm": 26.0, "arm_joint_height_mm": 150.0,
                                        "kingpin_inclination_deg": lean, "caster_deg": caster}), "quay.toml")  # fmt: skip
    steering = build_steering(scenario.setup[0], scenario.car, "quay.toml", "setup[0]")
    axis = steering.wheels[LEFT].axis_at(0.150)
    joint = steering.mechanism.joint
    assert (axis - joint)[:2] == pytest.approx([107.0 * MILLIMETRE, 26.0 * MILLIMETRE], rel=0, abs=1e-12)
    assert joint[2] == pytest.approx(0.150, rel=0, abs=1e-12)


@pytest.mark.slow
@settings(max_examples=300, deadline=None, derandomize=True)
@given(data=st.data())
def test_any_measured_numbers_give_a_car_or_one_line(data):
    """Over the whole range of every key, alone and together, also beside the key that they stand for."""
    car, setup = dict(CAR), dict(ROD)
    for table, one in ((car, AXLES), (car, WHEELS), (car, ROLL_OUT), (setup, ARM_JOINT)):
        if data.draw(st.booleans()):
            for key in one.measured:
                if data.draw(st.integers(0, 9)):
                    table[key.name] = data.draw(st.floats(key.low - 5, key.high + 5) | st.sampled_from((key.low, key.high, "12", True)))
            for name in one.kept:
                if data.draw(st.integers(0, 9)):
                    table.pop(name, None)
    made, line = None, ""
    try:
        made = check_scenario(deepcopy(BASE) | {"car": car, "setup": [setup]}, "quay.toml")
    except InputError as error:
        line = str(error)
    if made is None:
        assert line.isprintable()
        assert line.startswith(("quay.toml: car.", 'quay.toml: setup "rod".'))
        return
    assert check_scenario(parse_toml(dump_scenario(made), "again", ""), "again") == made


WRONG = [
    (with_car({"front_axle_load_kg": 60.0}, *MASS), "car.rear_axle_load_kg: the key is missing, and front_axle_load_kg needs it; give what "
     "the scale under the rear axle shows, in kg, with the driver on board"),
    (with_car({"front_axle_load_kg": 60.0, "rear_axle_load_kg": 90.0}),
     "car.front_axle_load_kg: mass_kg says the same in another way; keep "
     "one of them"),
    (with_car({"front_axle_load_kg": 15.0, "rear_axle_load_kg": 15.0}, *MASS), "car.front_axle_load_kg: with the others it makes mass_kg = "
     "30, which is not between 40 and 1000; measure again, and look at the unit"),
    (with_car({"three_wheel_turns_mm": 3.8}, "wheel_radius_mm"),
     "car.three_wheel_turns_mm: 3.8 is below 900; give how far the car rolls in "
     "three turns of a wheel, in millimetres"),
    (with_car({"three_wheel_turns_mm": 920.0}, "wheel_radius_mm"),
     "car.three_wheel_turns_mm: it makes wheel_radius_mm = 48.81, which is not "
     "between 50 and 500; measure again, and look at the unit"),
    (with_car({"three_wheel_turns_mm": "3800"}, "wheel_radius_mm"),
     'car.three_wheel_turns_mm: "3800" is not a number; write a plain number '
     "without quotes"),
    (with_car({"three_wheel_turns_mm": {"value": 3800.0, "plus_minus": 9.0}}, "wheel_radius_mm"),
     "car.three_wheel_turns_mm: what is measured "
     "in place of another key carries no plus_minus; write a plain number, and in [uncertainty] that of wheel_radius_mm"),
    (with_car({"three_wheel_turn_mm": 3800.0}, "wheel_radius_mm"),
     "car.three_wheel_turn_mm: no such key; did you mean three_wheel_turns_mm?"),
    (with_arm({"arm_joint_behind_mm": 107.0}),
     'setup "rod".arm_joint_inside_mm: the key is missing, and arm_joint_behind_mm needs it; give how '
     "far the arm's ball joint stands inside the kingpin axis, in millimetres"),
    (with_arm({"arm_joint_behind_mm": 107.0, "arm_joint_inside_mm": 26.0}, without=("arm_angle_deg",)), 'setup "rod".arm_joint_behind_mm: '
     "arm_length_mm says the same in another way; keep one of them"),
    (with_arm({"arm_joint_behind_mm": 107.0, "arm_joint_inside_mm": 26.0}, linkage="ideal"),
     'setup "rod".arm_joint_behind_mm: linkage "ideal" '
     "does not use this key; leave it out"),
]  # fmt: skip


@pytest.mark.parametrize(("data", "words"), WRONG, ids=[words[:50] for _, words in WRONG])
def test_what_was_measured_wrongly_is_told_by_its_own_key(data, words):
    assert refusal(data) == words


@pytest.mark.parametrize(("data", "path", "half", "instead"), [
    (with_car({"front_axle_load_kg": 60.0, "rear_axle_load_kg": 90.0}, *MASS), "car.rear_axle_load_kg", "3 %",
     '"car.mass_kg" and "car.mass_centre_behind_front_axle_mm"'),
    (with_car({"three_wheel_turns_mm": 3825.0}, "wheel_radius_mm"), "car.three_wheel_turns_mm", 9.0, '"car.wheel_radius_mm"'),
    (with_arm({"arm_joint_behind_mm": 107.0, "arm_joint_inside_mm": 26.0}), "setup.rod.arm_joint_behind_mm", 1.0,
     '"setup.rod.arm_length_mm" and "setup.rod.arm_angle_deg"'),
])  # fmt: skip
def test_the_uncertainty_of_what_was_measured_is_led_to_what_is_kept(data, path, half, instead):
    """The scenario was said to give no such number, though it stands there."""
    told = refusal(data | {"uncertainty": {path: half}})
    assert told == (
        f'uncertainty."{path}": what is measured in place of another key carries no uncertainty of its own; give that of {instead}'
    )
    for one in instead.replace('"', "").split(" and "):
        assert check_scenario(data | {"uncertainty": {one: "3 %"}}, "quay.toml").uncertainty[one] > 0


@pytest.mark.parametrize(("written", "form"), [
    ({"plus_minus": "3 %"}, "car.mass_kg"), ({"plus_minus": 3.0}, "car.mass_kg"),
    ({"car.wheelbase_mm": {"plus_minus": "3 %"}}, "car.wheelbase_mm"), ({"car": {"wheelbase_mm": {"plus_minus": 3}}}, "car.wheelbase_mm"),
])  # fmt: skip
def test_a_half_width_of_no_number_is_shown_the_form(written, form):
    told = refusal(BASE | {"uncertainty": written})
    problem = "this does not say which number it belongs to"
    assert told.endswith(f'plus_minus": {problem}; write the number\'s path, such as "{form}" = "3 %"')
    assert check_scenario(BASE | {"uncertainty": {form: "3 %"}}, "quay.toml").uncertainty[form] > 0


def test_what_depends_on_a_faulty_key_is_no_second_fault():
    data = with_car({"front_axle_load_kg": 60.0, "rear_axle_load_kg": 90.0, "wheelbase_mm": 1.5}, *MASS)
    assert refusal(data) == "car.wheelbase_mm: 1.5 is below 500; give the wheelbase in millimetres"


@pytest.mark.parametrize(("table", "kept"), [(CarTable, CAR), (SetupTable, ROD)])
def test_each_measured_key_says_what_to_measure_and_its_usual_range(table, kept):
    for one in table.instead():
        assert set(one.kept) <= set(table.model_fields)
        for key in one.measured:
            assert key.low < key.common[0] < key.common[1] < key.high
            assert key.common[0] <= key.usual <= key.common[1]
            assert len(key.measure) > 20
    assert THREE_TURNS.usual / (6 * pi) == pytest.approx(203.0, rel=1e-3, abs=0)
    behind, inside = (key.usual for key in ARM_JOINT.measured)
    assert (hypot(behind, inside), degrees(atan2(inside, behind))) == pytest.approx((110.0, 13.9), rel=0.02, abs=0)


def test_a_scenario_is_the_same_whichever_way_its_numbers_were_given():
    """What its file held is remembered for refusals and doubts, and is no part of it."""
    measured = check_scenario(with_arm({"arm_joint_behind_mm": 107.0, "arm_joint_inside_mm": 26.0}), "a.toml")
    again = check_scenario(parse_toml(dump_scenario(measured), "b.toml", ""), "b.toml")
    assert again == measured
    assert [len(one.measured("setup", len(one.setup) - 1)) for one in (measured, again)] == [1, 0]
