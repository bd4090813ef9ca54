"""What a scenario may hold: each bound with its remedy, each refusal word for word, and TOML that survives a round trip.

The tables are walked, so a new key is tested without an edit here.
"""

import inspect
import tomllib
from contextlib import suppress
from copy import deepcopy
from dataclasses import MISSING, fields
from math import inf, nan

import pytest
import tomli_w
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.car.battery import NO_BATTERY
from sim.car.chassis import Car
from sim.car.motor import NO_MOTOR
from sim.car.tyre import BRUSH, LINEAR, Tyre
from sim.errors import InputError, hides
from sim.pace.driver import Pace, plan_pace
from sim.scenario.car import BatteryTable, CarTable, HandsTable, KingpinTable, MotorTable, RearTyreTable, TyreTable
from sim.scenario.course import ArcTable, ClothoidTable, CourseTable, StraightTable
from sim.scenario.doubts import assumed, file_doubts
from sim.scenario.file import check_scenario, dump_scenario
from sim.scenario.pace import PaceTable, RaceTable
from sim.scenario.scenario import Scenario
from sim.scenario.setup import LINKAGES, SetupTable
from sim.scenario.tables import Table

SETUPS = [
    {"name": "ideal", "pivot": "stub axles", "linkage": "ideal"},
    {"name": "parallel", "pivot": "stub axles", "linkage": "parallel"},
    {"name": "half", "pivot": "stub axles", "linkage": "fraction", "fraction": 0.5},
    {"name": "rod", "pivot": "stub axles", "linkage": "cross rod", "arm_length_mm": 110.0, "arm_angle_deg": 13.9},
    {"name": "drop arm", "pivot": "stub axles", "linkage": "centre arm", "arm_length_mm": 110.0, "arm_angle_deg": 13.9,
     "drop_arm_length_mm": 70.0, "drop_arm_behind_front_axle_mm": 107.0},
    {"name": "rack", "pivot": "stub axles", "linkage": "rack", "arm_length_mm": 110.0, "arm_angle_deg": -166.0,
     "rack_behind_front_axle_mm": -107.0, "rack_length_mm": 300.0, "rack_mm_per_turn": 120.0},
    {"name": "turntable", "pivot": "turntable"},
]  # fmt: skip
TURNTABLE = [one["pivot"] for one in SETUPS].index("turntable")
CAR = {
    "mass_kg": 145.0, "wheelbase_mm": 1500.0, "front_track_mm": 900.0, "rear_track_mm": 860.0, "kingpin_track_mm": 740.0,
    "mass_centre_behind_front_axle_mm": 820.0, "mass_centre_height_mm": 330.0, "yaw_inertia_kg_m2": 38.0, "wheel_radius_mm": 203.0,
    "drive": "one wheel left", "tyre": {}, "rear_tyre": {}, "hands": {}, "kingpin": {},
}  # fmt: skip
SEGMENTS = [{"straight_m": 20.0}, {"radius_m": 8.0, "turn_deg": 90.0}, {"clothoid_m": 6.0, "to_radius_m": -10.0}, {"straight_m": 9.0}]
MOTOR = {"winding_resistance_ohm": 0.1, "torque_constant_N_m_per_A": 0.1, "no_load_current_A": 2.0, "gear_ratio": 6.0,
         "current_limit_A": 60.0}  # fmt: skip
BATTERY = {"nominal_voltage_V": 12.0, "rated_capacity_Ah": 22.0}
BASE = {
    "title": "quay", "car": CAR, "course": {"file": "quay.csv", "closed": True}, "pace": {"target_m_per_s": 7.0}, "motor": MOTOR,
    "battery": BATTERY, "race": {"duration_min": 60.0}, "setup": SETUPS,
}  # fmt: skip

# Which table stands where in BASE; a segment's place needs the course to be written.
TABLES = [
    (("car",), CarTable), (("car", "tyre"), TyreTable), (("car", "rear_tyre"), RearTyreTable), (("car", "hands"), HandsTable),
    (("car", "kingpin"), KingpinTable), (("course",), CourseTable), (("course", "segments", 0), StraightTable),
    (("course", "segments", 1), ArcTable), (("course", "segments", 2), ClothoidTable), (("pace",), PaceTable),
    (("motor",), MotorTable), (("battery",), BatteryTable), (("race",), RaceTable),
    *((("setup", index), SetupTable) for index in range(len(SETUPS))),
]  # fmt: skip
UNITS = ("_mm", "_m", "_deg", "_kg", "_kg_m2", "_m2", "_per_rad", "_per_unit_slip", "_kg_per_m3", "_m_per_s", "_m_per_s2", "_W",
         "_mm_per_turn", "_N_m_s_per_rad", "_ohm", "_per_A", "_A", "_V", "_Ah", "_h", "_min")  # fmt: skip
# Coefficients, factors and counts have no unit.
BARE = {"load_sensitivity", "friction", "friction_dry", "friction_greased", "rolling_resistance", "scale", "laps", "fraction",
        "rod_turns_left", "rod_turns_right", "gear_ratio", "drive_efficiency", "in_series", "peukert_exponent",
        "usable_share"}  # fmt: skip


def bounds(field):
    low = [mark.ge for mark in field.metadata if hasattr(mark, "ge")]
    high = [mark.le for mark in field.metadata if hasattr(mark, "le")]
    return (low[0], high[0]) if low and high else None


def is_number(field):
    return field.annotation in (int, float, float | None, int | None)


def numeric_keys():
    """Each numeric key once for each table that it can stand in and, in a set-up, for the first linkage that reads it."""
    keys, seen = [], set()
    for place, table in TABLES:
        read = SetupTable.model_validate(SETUPS[place[1]]).keys_read if table is SetupTable else set(table.model_fields)
        for key, field in table.model_fields.items():
            known = (key, table if table is SetupTable else place)
            if is_number(field) and key in read and known not in seen:
                seen.add(known)
                keys.append(pytest.param((*place, key), field, id=".".join(map(str, (*place, key)))))
    return keys


def scenario_with(place, value):
    """BASE with one value changed; the course is written where the place is in its segments."""
    data = deepcopy(BASE)
    if "segments" in place:
        data["course"] = {"segments": deepcopy(SEGMENTS), "closed": True}
    table = data
    for part in place[:-1]:
        table = table[part]
    table[place[-1]] = value
    return data


def shown(place):
    """A place as messages have it: a set-up by its name, or where that is what is wrong by its number from 1."""
    if place[0] == "setup" and len(place) > 1:
        own = f"setup[{place[1] + 1}]" if len(place) == 2 or place[2] == "name" else f'setup "{BASE["setup"][place[1]]["name"]}"'
        return ".".join([own, *place[2:]])
    return "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in place).lstrip(".")


def refusal(data):
    with pytest.raises(InputError) as caught:
        check_scenario(data, "quay.toml")
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_base_is_accepted():
    assert check_scenario(deepcopy(BASE), "quay.toml").setup[3].arm_length_mm == 110.0
    made = {kind for table in Table.__subclasses__() for kind in (table, *table.__subclasses__())}
    kinds = {kind for kind in made if not kind.__name__.startswith("Measured")}  # what people measure is turned into these
    assert {table for _, table in TABLES} == kinds - {Scenario, SetupTable.__base__}


# --- bounds -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("place", "field"), numeric_keys())
def test_numeric_key_has_bounds_a_remedy_and_its_unit(place, field):
    low, high = bounds(field)
    assert low < high
    assert len(field.json_schema_extra["remedy"]) > 5
    assert place[-1].endswith(UNITS) or place[-1] in BARE


@pytest.mark.parametrize(("place", "field"), numeric_keys())
def test_number_out_of_bounds_is_refused_with_the_remedy(place, field):
    low, high = bounds(field)
    remedy = field.json_schema_extra["remedy"]
    whole = field.annotation in (int, int | None)
    below, above = (low - 1, high + 1) if whole else (low - 0.5, high + 0.5)
    assert refusal(scenario_with(place, below)) == f"quay.toml: {shown(place)}: {below} is below {low:g}; {remedy}"
    assert refusal(scenario_with(place, above)) == f"quay.toml: {shown(place)}: {above} is above {high:g}; {remedy}"
    for bound in (low, high):  # a bound itself is inside, though it may contradict another key
        with suppress(InputError):
            check_scenario(scenario_with(place, bound), "quay.toml")
            continue
        line = refusal(scenario_with(place, bound))
        assert " is below " not in line
        assert " is above " not in line


@pytest.mark.parametrize(("place", "field"), numeric_keys())
def test_what_is_no_number_is_refused(place, field):
    remedy = field.json_schema_extra["remedy"]
    start, kind = f"quay.toml: {shown(place)}: ", "whole number" if field.annotation in (int, int | None) else "number"
    assert refusal(scenario_with(place, "12")) == f'{start}"12" is not a {kind}; write a plain number without quotes'
    assert refusal(scenario_with(place, True)) == f"{start}true is not a {kind}; {remedy}"
    assert refusal(scenario_with(place, [])) == f"{start}a list is not a {kind}; {remedy}"
    assert refusal(scenario_with(place, {})) == f"{start}a table is not a {kind}; {remedy}"
    for value in (nan, inf, -inf):
        assert refusal(scenario_with(place, value)).startswith(f"{start}{value} is not a ")
        assert refusal(scenario_with(place, value)).endswith(f"; {remedy}")


# --- lines, word for word ---------------------------------------------------------------------------------------------

LINES = {
    ("car", "mass_kg"): [
        (14.5, "14.5 is below 40; give the mass in kg with the driver"),
        (10**400, "the number is far too large; give the mass in kg with the driver"),
    ],
    ("car", "wheelbase_mm"): [(1.5, "1.5 is below 500; give the wheelbase in millimetres")],
    ("car", "drive"): [
        ("left", '"left" is not known here; choose one of \'one wheel left\', \'one wheel right\', \'differential\' or \'solid axle\''),
        ("one-wheel-right", '"one-wheel-right" is not known here; did you mean one wheel right?'),
        (3, "3 is not known here; choose one of 'one wheel left', 'one wheel right', 'differential' or 'solid axle'"),
    ],
    ("car", "tyre"): [(3, "3 is not a table; begin it with a line [car.tyre]")],
    ("pace", "laps"): [
        (2.5, "2.5 is not a whole number; give the number of timed laps"),
        (10**400, "a number of many digits is above 100; give the number of timed laps"),
    ],
    ("course", "closed"): [("no", '"no" is neither true nor false; write true or false, without quotes')],
    ("course", "segments"): [
        ({}, "a table is not a list; write a list such as segments = [{straight_m = 20}, {radius_m = 8, turn_deg = 90}]"),
    ],
    ("title",): [
        ("", "the text is empty; write a short text in quotes"),
        (" \t", "the text is empty; write a short text in quotes"),
        ("x" * 81, "the text is longer than 80 signs; write a short text in quotes"),
        ("two\nlines", "the text holds a line break, a control sign or one that turns the direction; write a short text in quotes"),
        ("bell\x07", "the text holds a line break, a control sign or one that turns the direction; write a short text in quotes"),
        (3, "3 is not text; write a short text in quotes"),
    ],
    ("setup",): [
        ([], "holds 0 entries, fewer than 1; add one"),
        ([{"name": f"{n}", "pivot": "turntable"} for n in range(61)], "holds 61 entries, more than 60; leave some out"),
        ({"name": "one", "pivot": "turntable"}, "a table is not a list; begin each set-up with a line [[setup]]"),
    ],
    ("setup", 1): [(3, "3 is not a table; begin each set-up with a line [[setup]]")],
    ("setup", 1, "linkage"): [
        ("Parallel", '"Parallel" is not known here; did you mean parallel?'),
        ("cross-rod", '"cross-rod" is not known here; did you mean cross rod?'),
    ],
    ("setup", TURNTABLE, "pivot"): [("turn table", '"turn table" is not known here; did you mean turntable?')],
    ("setup", TURNTABLE, "name"): [("Ideal", '"Ideal" is the name of two set-ups; give each its own name')],
}  # fmt: skip


@pytest.mark.parametrize(("place", "value", "words"), [(place, *case) for place, cases in LINES.items() for case in cases])
def test_refused_value_word_for_word(place, value, words):
    assert refusal(scenario_with(place, value)) == f"quay.toml: {shown(place)}: {words}"


UNKNOWN = {
    ("setup", 1, "arm_lenght_mm"): "did you mean arm_length_mm?",
    ("car", "mass"): "did you mean mass_kg?",
    ("car", "wheelbase_m"): "did you mean wheelbase_mm?",
    ("car", "tyre", "fricton"): "did you mean friction?",
    ("car", "rear_tyre", "rolling_resistence"): "did you mean rolling_resistance?",
    ("pace", "target"): "did you mean target_m_per_s?",
    ("course", "segments", 1, "turn"): "did you mean turn_deg?",
    ("course", "segments", 2, "radius"): "did you mean to_radius_m?",
    ("setups",): "did you mean setup?",
    ("mass_kg",): "known are title, car, course, pace, motor, battery, race, setup, uncertainty",
    ("course", "segments", 0, "wobble"): "known are straight_m",
}


@pytest.mark.parametrize(("place", "hint"), UNKNOWN.items())
def test_unknown_key_is_refused_with_the_nearest(place, hint):
    assert refusal(scenario_with(place, 1)) == f"quay.toml: {shown(place)}: no such key; {hint}"


def test_unknown_key_is_told_before_the_key_that_it_hides():
    data = scenario_with(("car", "wheel_base_mm"), 1500.0)
    del data["car"]["wheelbase_mm"]
    assert refusal(data) == "quay.toml: car.wheel_base_mm: no such key; did you mean wheelbase_mm?"


@pytest.mark.parametrize("key", ["car", "course", "pace", "setup"])
def test_missing_table(key):
    data = deepcopy(BASE)
    del data[key]
    assert refusal(data) == f"quay.toml: {key}: this key is missing; add it; `scrubwise new` shows an example"


@pytest.mark.parametrize("key", [key for key, field in CarTable.model_fields.items() if field.is_required() and key != "drive"])
def test_missing_key_of_the_car_is_told_with_its_remedy(key):
    data = deepcopy(BASE)
    del data["car"][key]
    assert refusal(data) == f"quay.toml: car.{key}: this key is missing; {CarTable.model_fields[key].json_schema_extra['remedy']}"


def test_odd_names_are_made_printable_and_short():
    assert refusal(scenario_with(("car", "ma\x1b\u202ess\n_kg"), 1)) == "quay.toml: car.ma??ss?_kg: no such key; did you mean mass_kg?"
    line = refusal(scenario_with(("car", "x" * 5000), 1))
    assert line.startswith(f"quay.toml: car.{'x' * 37}...: no such key; known are mass_kg, ")
    assert refusal(scenario_with(("car", "drive"), "y" * 5000)).startswith(f'quay.toml: car.drive: "{"y" * 37}..." is not known here; ')


# --- keys that contradict each other ----------------------------------------------------------------------------------

CONTRADICTIONS = [
    ({("car", "mass_centre_behind_front_axle_mm"): 1500.0}, "car.mass_centre_behind_front_axle_mm: the mass centre lies outside the "
     "wheelbase (1500 of 1500 mm); it must lie between the axles"),
    ({("car", "kingpin_track_mm"): 1001.0}, "car.kingpin_track_mm: the kingpin track (1001 mm) is wider than the front track (900 mm); "
     "measure between the kingpin axes at the ground"),
    ({("car", "kingpin", "washer_inner_mm"): 34.0}, "car.kingpin.washer_inner_mm: the hole is as large as the washer; give the inner "
     "diameter, then the outer one"),
    ({("course", "file"): None}, "course: a course is either a file or segments; write one of the two"),
    ({("course", "segments"): SEGMENTS}, "course: a course is either a file or segments; write one of the two"),
    ({("course",): {"segments": SEGMENTS, "scale": 2.0}}, "course.scale: only a course from a file is scaled; write the segments at the "
     "size you want"),
    ({("course",): {"segments": SEGMENTS, "line_tolerance_m": 1.0}}, "course.line_tolerance_m: only a course from a file is smoothed; "
     "leave it out"),
    ({("course",): {"segments": SEGMENTS, "height_tolerance_m": 0.1}}, "course.height_tolerance_m: a written course is level; leave it "
     "out"),
    ({("course", "closed"): False, ("pace", "laps"): 2}, "pace.laps: an open course ends where it ends and is driven once; write laps = 1, "
     "or closed = true for a lap"),
    ({("course", "closed"): True, ("pace", "start_m_per_s"): 0.0}, "pace.start_m_per_s: a closed course is timed over a flying lap, which "
     "has no start speed; leave it out, or write closed = false"),
    ({("course",): {"segments": [{"radius_m": 8.0, "turn_deg": 0.0}]}}, "course.segments[0].turn_deg: a bend must turn; write a straight "
     "instead"),
    ({("course",): {"segments": [{"clothoid_m": 8.0, "to_radius_m": -0.4}]}}, "course.segments[0].to_radius_m: the radius is below 0.5 m; "
     "leave it out to end straight"),
    ({("course",): {"segments": []}}, "course.segments: holds 0 entries, fewer than 1; add one"),
    ({("course",): {"segments": [{}]}}, "course.segments[0]: no kind of segment has these keys; write {straight_m}, {radius_m, turn_deg} "
     "or {clothoid_m, to_radius_m}"),
    ({("course",): {"segments": [{"radius_m": 8.0}]}}, "course.segments[0].turn_deg: this key is missing; give the turn in degrees, "
     "positive to the left"),
    ({("setup", TURNTABLE, "linkage"): "ideal"}, 'setup "turntable".linkage: a turntable axle has no linkage between its wheels; leave '
     "the key out"),
    ({("setup", 0): {"name": "a", "pivot": "stub axles"}}, 'setup "a".linkage: stub axles need a linkage; choose one of ideal, parallel, '
     f"{', '.join(LINKAGES[2:])}"),
    ({("setup", TURNTABLE, "kingpin_inclination_deg"): 5.0}, 'setup "turntable".kingpin_inclination_deg: a turntable axle does not use '
     "this key; leave it out"),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "words"), CONTRADICTIONS, ids=[words[:40] for _, words in CONTRADICTIONS])
def test_contradiction_word_for_word(changes, words):
    data = deepcopy(BASE)
    for place, value in changes.items():
        table = data
        for part in place[:-1]:
            table = table[part]
        if value is None:
            del table[place[-1]]
        else:
            table[place[-1]] = value
    assert refusal(data) == f"quay.toml: {words}"


def test_set_up_names_with_a_bar_are_compared_too():
    data = deepcopy(BASE)
    data["setup"][0]["name"], data["setup"][1]["name"] = "a|b", "A|B"
    assert refusal(data) == 'quay.toml: setup[2].name: "A|B" is the name of two set-ups; give each its own name'


@pytest.mark.parametrize("setup", SETUPS, ids=lambda setup: setup["name"])
def test_key_that_a_linkage_does_not_use_is_refused_and_one_that_it_needs_is_asked_for(setup):
    owner = f'linkage "{setup["linkage"]}"' if "linkage" in setup else "a turntable axle"
    read = SetupTable.model_validate(setup).keys_read
    for key, field in SetupTable.model_fields.items():
        if key not in read:
            data = deepcopy(BASE)
            data["setup"] = [setup | {key: bounds(field)[1]}]
            assert refusal(data) == f'quay.toml: setup "{setup["name"]}".{key}: {owner} does not use this key; leave it out'
    for key in setup.keys() - {"name", "pivot", "linkage"}:
        data = deepcopy(BASE)
        data["setup"] = [{name: value for name, value in setup.items() if name != key}]
        assert refusal(data) == f'quay.toml: setup "{setup["name"]}".{key}: {owner} needs this key; add it'


def test_every_set_up_key_is_read_by_some_linkage():
    read = set().union(*(SetupTable.model_validate(setup).keys_read for setup in SETUPS))
    assert read == set(SetupTable.model_fields)
    assert {setup.get("linkage") for setup in SETUPS} == {*LINKAGES, None}


# --- units and defaults -----------------------------------------------------------------------------------------------


def test_defaults_stand_in_the_scenario_alone():
    assert not Tyre._field_defaults
    # No motor, no battery and still air are not figures but their absence.
    assert Car._field_defaults == {"motor": NO_MOTOR, "battery": NO_BATTERY}
    assert all(part.default is inspect.Parameter.empty for part in inspect.signature(plan_pace).parameters.values())
    assert [field.name for field in fields(Pace) if field.default is MISSING] == ["target", "lateral_limit", "braking_limit", "power"]


def test_units_are_converted_at_the_edge():
    tyre = {"relaxation_length_mm": 250.0, "pneumatic_trail_mm": 20.0, "friction": 0.5}
    scenario = check_scenario(scenario_with(("car", "tyre"), tyre), "quay.toml")
    car = scenario.car.car(1.2)
    assert (car.mass, car.wheelbase, car.front_track, car.rear_track) == pytest.approx((145, 1.5, 0.9, 0.86), rel=1e-15, abs=0)
    assert (car.front_arm, car.height, car.yaw_inertia) == pytest.approx((0.82, 0.33, 38), rel=1e-15, abs=0)
    assert (car.drag_area, car.air_density, car.drive) == (0.20, 1.2, 0)
    assert (car.front_tyre.relaxation_length, car.front_tyre.pneumatic_trail) == pytest.approx((0.25, 0.02), rel=1e-15, abs=0)
    assert (car.front_tyre.friction, car.rear_tyre.friction) == (0.5, 0.9)  # the rear tyre of BASE has figures of its own
    del (data := deepcopy(BASE))["car"]["rear_tyre"]
    data["car"]["tyre"] = tyre
    same = check_scenario(data, "quay.toml").car.car(1.2)
    assert same.rear_tyre == same.front_tyre


@pytest.mark.parametrize(("law", "token"), [("linear", LINEAR), ("brush", BRUSH)])
@pytest.mark.parametrize("rear", [{}, {"friction": 0.7}])
def test_all_wheels_have_the_law_of_the_tyre(law, token, rear):
    data = scenario_with(("car", "tyre"), {"law": law})
    data["car"]["rear_tyre"] = rear
    car = check_scenario(data, "quay.toml").car.car(1.2)
    assert car.front_tyre.brush is token
    assert car.rear_tyre.brush is token
    assert check_scenario(deepcopy(BASE), "quay.toml").car.car(1.2).front_tyre.brush is LINEAR


@pytest.mark.parametrize("place", [("car", "tyre", "law"), ("car", "rear_tyre", "law")])
def test_no_other_law_and_none_of_the_rear_tyres_own(place):
    line = refusal(scenario_with(place, "magic" if place[1] == "tyre" else "brush"))
    assert line.startswith(f"quay.toml: {shown(place)}: ")
    assert ("linear" in line and "brush" in line) if place[1] == "tyre" else "no such key" in line


def test_a_scenario_cannot_be_changed():
    scenario = check_scenario(deepcopy(BASE), "quay.toml")
    for table, key in ((scenario, "title"), (scenario.car, "mass_kg"), (scenario.car.tyre, "friction"), (scenario.setup[0], "name")):
        with pytest.raises(ValueError, match="frozen"):
            setattr(table, key, 50.0)


# --- TOML -> object -> TOML -------------------------------------------------------------------------------------------

# What TOML can hold and the scenario allows: no hidden signs, no halves of signs; blanks at the ends are stripped.
WORDS = (
    st.text(st.characters(blacklist_categories=("Cc", "Cs")), min_size=1, max_size=80)
    .map(str.strip)
    .filter(lambda text: text and not hides(text))
)


def a_number(field):
    low, high = bounds(field)
    drawn = st.integers(low, high) if field.annotation in (int, int | None) else st.floats(low, high)
    return drawn | st.sampled_from((low, high))


@st.composite
def tables(draw, table, needed=(), keys=None):
    """A table of drawn values; keys with a default are left out half the time."""
    made = {}
    for key, field in table.model_fields.items():
        wanted = (field.is_required() or key in needed) or draw(st.booleans())
        if is_number(field) and (keys is None or key in keys) and wanted:
            made[key] = draw(a_number(field))
    return made


@st.composite
def scenarios(draw):
    """A valid scenario as TOML holds it; keys that contradict each other are drawn inside each other's bounds."""
    car = draw(tables(CarTable)) | {"drive": draw(st.sampled_from(("one wheel left", "one wheel right", "differential", "solid axle")))}
    car["mass_centre_behind_front_axle_mm"] = draw(st.floats(1, car["wheelbase_mm"] - 1))
    car["kingpin_track_mm"] = draw(st.floats(0, min(2500.0, car["front_track_mm"] + 100)))
    for key, table in (("tyre", TyreTable), ("rear_tyre", RearTyreTable), ("hands", HandsTable)):
        if draw(st.booleans()):
            car[key] = draw(tables(table))
    if draw(st.booleans()):
        outer = draw(st.floats(3, 300))
        car["kingpin"] = {"washer_outer_mm": outer, "washer_inner_mm": draw(st.floats(1, outer - 1))}
    if draw(st.booleans()):
        course = draw(tables(CourseTable)) | {"file": draw(WORDS)}
    else:
        arc = st.builds(lambda arc, turn: arc | {"turn_deg": turn or 90.0}, tables(ArcTable), a_number(ArcTable.model_fields["turn_deg"]))
        clothoid = tables(ClothoidTable).filter(lambda made: abs(made.get("to_radius_m", 1)) >= 0.5)
        course = {"segments": draw(st.lists(tables(StraightTable) | arc | clothoid, min_size=1, max_size=4))}
    course |= {"closed": draw(st.booleans())}
    setups = []
    for name in draw(st.lists(WORDS, min_size=1, max_size=3, unique_by=str.casefold)):
        base = draw(st.sampled_from(SETUPS))
        keys = SetupTable.model_validate(base).keys_read
        setups.append(base | draw(tables(SetupTable, needed=base, keys=keys)) | {"name": name})
    data = {"title": draw(WORDS), "car": car, "course": course, "setup": setups}
    pace = draw(tables(PaceTable, keys={key for key in PaceTable.model_fields if key != "current_A"}))
    if course["closed"]:
        pace.pop("start_m_per_s", None)
    else:
        pace.pop("laps", None)
    data["pace"] = pace | {"target_m_per_s": draw(st.floats(0.3, 20)), "policy": draw(st.sampled_from(("limits", "lift", "steady speed")))}
    if draw(st.booleans()):
        data |= {"motor": draw(tables(MotorTable)) | {"regenerates": draw(st.booleans())}, "battery": draw(tables(BatteryTable))}
        if draw(st.booleans()):
            data["pace"] |= {"policy": "steady current", "current_A": draw(a_number(PaceTable.model_fields["current_A"]))}
        if course["closed"]:
            key = draw(st.sampled_from(("duration_min", "laps")))
            data["race"] = {key: draw(a_number(RaceTable.model_fields[key]))}
    return data


def round_trip(data):
    text = tomli_w.dumps(data)
    scenario = check_scenario(tomllib.loads(text), "drawn.toml")
    written = dump_scenario(scenario)
    again = check_scenario(tomllib.loads(written), "drawn.toml")
    assert again == scenario
    assert dump_scenario(again) == written
    for key, value in data["car"].items():  # what was written is what is used, to the last bit
        if isinstance(value, float):
            assert getattr(scenario.car, key) == value


@pytest.mark.target("T19", what="Drawn scenarios: TOML to object to TOML is identical", asked="500 draws, 5000 nightly")
@pytest.mark.slow
@settings(max_examples=500, deadline=None, derandomize=True)
@given(scenarios())
def test_round_trip(data):
    round_trip(data)


@pytest.mark.target("T19", what="Drawn scenarios: TOML to object to TOML is identical", asked="500 draws, 5000 nightly")
@pytest.mark.slow
@settings(max_examples=5000, deadline=None, derandomize=True)
@given(scenarios())
def test_round_trip_of_many(data):
    round_trip(data)


@pytest.mark.slow
@settings(max_examples=150, deadline=None, derandomize=True)
@given(scenarios())
def test_any_lawful_scenario_is_doubted_in_whole_sentences(data):
    scenario = check_scenario(data, "drawn.toml")
    for said in (*file_doubts(scenario), *assumed(scenario)):
        assert said.endswith((".", "?"))
        assert "nan" not in said
        assert said.isprintable()


def test_dump_writes_every_default_that_is_used():
    written = tomllib.loads(dump_scenario(check_scenario(deepcopy(BASE), "quay.toml")))
    assert written["car"]["tyre"]["friction"] == TyreTable.model_fields["friction"].default
    assert written["pace"]["drive_power_W"] == PaceTable.model_fields["drive_power_W"].default
    assert set(written["setup"][TURNTABLE]) == {"name", "pivot", "toe_in_deg", "caster_deg"}  # nothing that a turntable does not use
    assert set(written) == set(Scenario.model_fields)


@pytest.mark.parametrize(("given", "free"), [
    ({}, True), ({"regenerates": False}, True), ({"regenerates": True}, False), ({"regenerates": True, "freewheel": False}, False),
    ({"freewheel": False}, False),
])  # fmt: skip
def test_a_motor_that_brakes_the_wheels_has_no_freewheel(given, free):
    assert MotorTable.model_validate(MOTOR | given).freewheel is free


def test_a_motor_behind_a_freewheel_cannot_regenerate():
    data = BASE | {"motor": MOTOR | {"regenerates": True, "freewheel": True}}
    with pytest.raises(InputError) as refused:
        check_scenario(data, "quay.toml")
    assert str(refused.value) == (
        "quay.toml: motor.freewheel: a motor behind a freewheel cannot brake the wheels, so it cannot regenerate; "
        "set freewheel = false, or regenerates = false"
    )
