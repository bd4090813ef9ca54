"""Lawful numbers that look like slips draw one sentence of doubt each, and no shipped scenario draws any."""

from copy import deepcopy

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.linkages.catalogue import KINDS, all_keys
from sim.linkages.front_end import leaning_doubt
from sim.scenario.car import BatteryTable, CarTable, KingpinTable, MotorTable, RearTyreTable, TyreTable
from sim.scenario.doubts import assumed, doubt, file_doubts
from sim.scenario.file import check_scenario, find_scenario, load_scenario, shipped_names
from sim.scenario.pace import PaceTable
from sim.scenario.setup import SetupTable
from sim.scenario.tables import bounds_of, common_of

CAR = {
    "mass_kg": 145.0, "wheelbase_mm": 1500.0, "front_track_mm": 900.0, "rear_track_mm": 860.0, "kingpin_track_mm": 740.0,
    "mass_centre_behind_front_axle_mm": 820.0, "mass_centre_height_mm": 330.0, "yaw_inertia_kg_m2": 38.0, "wheel_radius_mm": 203.0,
    "drag_area_m2": 0.2, "drive": "one wheel left", "tyre": {"cornering_stiffness_per_rad": 14.0, "rolling_resistance": 0.008},
}  # fmt: skip
ARM = {"name": "drop arm", "pivot": "stub axles", "linkage": "centre arm", "arm_length_mm": 110.0, "arm_angle_deg": 13.9,
       "drop_arm_length_mm": 70.0, "drop_arm_behind_front_axle_mm": 107.0}  # fmt: skip


def scenario(setup=None, **car):
    made = {"car": deepcopy(CAR) | car, "course": {"segments": [{"straight_m": 20.0}]}, "pace": {"target_m_per_s": 5.0}}
    return check_scenario(made | {"setup": [ARM | (setup or {})]}, "quay.toml")


def test_the_usual_car_draws_no_doubt():
    assert file_doubts(scenario()) == ()
    assert assumed(scenario()) == ()


@pytest.mark.parametrize("name", shipped_names())
def test_no_shipped_scenario_draws_a_doubt(name):
    shipped = load_scenario(find_scenario(name))
    assert file_doubts(shipped) == ()
    assert assumed(shipped) == ()


SLIPS = [
    ({"car": {"kingpin_track_mm": 72.0}}, "car.kingpin_track_mm = 72 is unusual (300 to 1300 is usual); did you mean 720?"),
    ({"setup": {"drop_arm_behind_front_axle_mm": 0.092}}, '"drop arm": drop_arm_behind_front_axle_mm = 0.092 is unusual (-300 to 300 is '
     "usual); did you mean 92?"),
    ({"setup": {"drop_arm_length_mm": 8.0}}, '"drop arm": drop_arm_length_mm = 8 is unusual (30 to 200 is usual); did you mean 80?'),
    ({"setup": {"arm_angle_deg": -14.0}}, '"drop arm": arm_angle_deg = -14 leans the wrong way for its side of the axle: an arm behind the '
     "axle leans inwards, 0 to 45 is usual; did you mean 14?"),
    ({"setup": {"toe_in_deg": 10.0}}, '"drop arm": toe_in_deg = 10 is unusual (-2 to 2 is usual); did you mean 1?'),
    ({"setup": {"rod_turns_left": 40.0}}, '"drop arm": rod_turns_left = 40 is unusual (-10 to 10 is usual); did you mean 4?'),
    ({"car": {"kingpin_track_mm": 400.0}}, "car.kingpin_track_mm = 400 puts each wheel 250 mm outside its kingpin (-25 to 150 outside is "
     "usual)."),
    ({"car": {"mass_centre_behind_front_axle_mm": 1400.0}},
     "car.mass_centre_behind_front_axle_mm = 1400 puts 93 % of the weight on the rear "
     "axle (30 to 75 % is usual)."),
    ({"car": {"yaw_inertia_kg_m2": 12.0}}, "car.yaw_inertia_kg_m2 = 12 is unusual for 145 kg (15 to 94 is usual)."),
    ({"car": {"wheel_radius_mm": 406.0}}, "car.wheel_radius_mm = 406 is unusual (120 to 360 is usual)."),
    ({"car": {"tyre": {"rolling_resistance": 0.08, "cornering_stiffness_per_rad": 14.0}}}, "car.tyre.rolling_resistance = 0.08 is unusual "
     "(0.002 to 0.03 is usual); did you mean 0.008?"),
]  # fmt: skip


@pytest.mark.parametrize(("slip", "words"), SLIPS, ids=[words[:45] for _, words in SLIPS])
def test_a_slip_that_is_lawful_draws_one_sentence(slip, words):
    assert file_doubts(scenario(slip.get("setup"), **slip.get("car", {}))) == (words,)


JOINT = " (worked out from arm_joint_behind_mm and arm_joint_inside_mm)"
MEASURED = [
    ("setup", {"arm_joint_behind_mm": 107.0, "arm_joint_inside_mm": -26.0}, ("arm_length_mm", "arm_angle_deg"),
     f'"drop arm": arm_angle_deg = -13.6576{JOINT} leans the wrong way for its side of the axle: an arm behind the axle leans inwards, 0 '
     "to 45 is usual; did you mean arm_joint_inside_mm = 26?"),
    ("setup", {"arm_joint_behind_mm": 10.7, "arm_joint_inside_mm": 2.6}, ("arm_length_mm", "arm_angle_deg"),
     f'"drop arm": arm_length_mm = 11.0114{JOINT} is unusual (50 to 250 is usual); did you mean 110.1?'),
    ("car", {"three_wheel_turns_mm": 1200.0}, ("wheel_radius_mm",),
     "car.wheel_radius_mm = 63.662 (worked out from three_wheel_turns_mm) is unusual (120 to 360 is usual)."),
    ("car", {"front_axle_load_kg": 10.0, "rear_axle_load_kg": 135.0}, ("mass_kg", "mass_centre_behind_front_axle_mm"),
     "car.mass_centre_behind_front_axle_mm = 1396.55 (worked out from front_axle_load_kg and rear_axle_load_kg) puts 93 % of the weight on "
     "the rear axle (30 to 75 % is usual)."),
]  # fmt: skip


@pytest.mark.parametrize(("table", "measured", "kept", "words"), MEASURED)
def test_a_slip_in_what_was_measured_is_told_by_the_keys_of_the_file(table, measured, kept, words):
    """It named an arm's kink in a file that has none."""
    tables = {"car": CAR, "setup": ARM}
    tables[table] = {key: value for key, value in tables[table].items() if key not in kept} | measured
    rest = {"course": {"segments": [{"straight_m": 20.0}]}, "pace": {"target_m_per_s": 5.0}}
    assert file_doubts(check_scenario(deepcopy({**tables, "setup": [tables["setup"]], **rest}), "quay.toml")) == (words,)


def test_what_is_left_out_and_matters_is_named_with_what_is_assumed():
    data = {key: value for key, value in CAR.items() if key not in ("yaw_inertia_kg_m2", "drag_area_m2", "tyre")}
    made = {"car": data, "course": {"segments": [{"straight_m": 20.0}]}, "pace": {"target_m_per_s": 5.0}, "setup": [ARM]}
    assert assumed(check_scenario(made, "quay.toml")) == (
        "Not given, so assumed: car.yaw_inertia_kg_m2 = 37.7 (mass x 0.26, a judgement), car.drag_area_m2 = 0.2, "
        "car.tyre.cornering_stiffness_per_rad = 14, car.tyre.rolling_resistance = 0.008.",
    )


@pytest.mark.parametrize("table", [CarTable, TyreTable, RearTyreTable, KingpinTable, PaceTable, MotorTable,
                                   BatteryTable, SetupTable])  # fmt: skip
def test_what_is_usual_lies_within_what_is_allowed(table):
    bounds = bounds_of(table)
    assert common_of(table)
    for key, (low, high) in common_of(table).items():
        assert bounds[key][0] <= low < high <= bounds[key][1], key
        default = table.model_fields[key].default
        if isinstance(default, float):
            assert low <= default <= high, key
    for key in all_keys().values():
        if key.common is not None and key.usual is not None:
            assert key.common[0] <= key.usual <= key.common[1], key.name


@pytest.mark.parametrize("kind", [kind for kind in KINDS.values() if kind.rods], ids=lambda kind: kind.name)
def test_every_number_of_a_linkage_with_rods_says_what_to_measure_and_what_is_usual(kind):
    for key in kind.keys:
        if key.needed:
            assert key.measure, key.name
            assert key.common or key.name == "arm_angle_deg", key.name
        assert bool(key.left_out) == (bool(key.measure) and key.default is None and not key.needed), key.name


@pytest.mark.parametrize(
    ("angle", "doubted"),
    [(0, False), (13.9, False), (45, False), (-2, False), (-4, True), (-30, True), (-166, False), (180, False), (166, True), (178, False),
     (90, True), (-90, True), (60, True), (-120, True)],
)  # fmt: skip
def test_an_arm_leans_inwards_behind_the_axle_and_outwards_ahead_of_it(angle, doubted):
    assert bool(leaning_doubt(angle)[0]) == doubted


@settings(max_examples=300, deadline=None, derandomize=True)
@given(low=st.floats(-500, 500), width=st.floats(1, 1000), value=st.floats(-5000, 5000), name=st.sampled_from(["a_mm", "a_deg", "a"]))
def test_a_guess_is_usual_and_a_usual_value_is_not_doubted(low, width, value, name):
    said = doubt(name, value, (low, low + width))
    if low <= value <= low + width and not (name == "a_mm" and abs(value) < 1):
        assert said == ""
    if said.endswith("?"):
        guess = float(said.rpartition("did you mean ")[2].rstrip("?"))
        assert low - abs(guess) * 1e-3 <= guess <= low + width + abs(guess) * 1e-3
