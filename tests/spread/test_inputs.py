"""What a scenario may say about its numbers' uncertainty, how they are drawn, and the scenario that a draw makes."""

import tomllib
from math import sqrt
from pathlib import Path

import numpy as np
import pytest
import tomli_w

import sim.spread.inputs
from sim.car.tyre import BRUSH, LINEAR
from sim.errors import InputError
from sim.scenario.car import FITTING, CarTable
from sim.scenario.file import check_scenario, dump_scenario, find_scenario, load_scenario
from sim.scenario.tables import TableError, bounds_of
from sim.scenario.uncertainty import numbers_of
from sim.spread.inputs import (
    LAW,
    LITERATURE,
    NORMAL,
    PLAY,
    TYRE_LAW,
    UNIFORM,
    WET_FRICTION,
    Input,
    check_cars,
    drawn,
    inputs_of,
    laps_of,
    unit_points,
)  # fmt: skip
from sim.study.jobs import COLUMNS, Job, Jobs, drive_jobs
from sim.study.ready import course_of
from sim.study.workers import Workers

# The car of the small scenario, with a differential.
YARD = Path(__file__).parents[1] / "scenarios" / "yard.toml"
CAR = YARD.read_text(encoding="utf-8").partition("[course]")[0].replace("one wheel left", "differential")
TEXT = (
    CAR
    + """
[car.tyre]
friction = 0.9
[course]
segments = [{straight_m = 6}, {radius_m = 8, turn_deg = 60}]
[pace]
target_m_per_s = 5.0
[[setup]]
name = "ideal"
pivot = "stub axles"
linkage = "ideal"
[[setup]]
name = "0.5 of ideal, kinked | bar"
pivot = "stub axles"
linkage = "fraction"
fraction = 0.5
[[setup]]
name = "turntable"
pivot = "turntable"
"""
)
ODD = "setup.0.5 of ideal, kinked | bar"


def data_with(uncertainty=None, **changes):
    """The scenario above with an uncertainty table and with changes by table."""
    data = tomllib.loads(TEXT)
    for table, update in changes.items():
        data[table] |= update
    return data if uncertainty is None else data | {"uncertainty": uncertainty}


def scenario_with(uncertainty=None, **changes):
    return check_scenario(data_with(uncertainty, **changes), "quay.toml")


def refusal(uncertainty=None, **changes):
    with pytest.raises(InputError) as caught:
        scenario_with(uncertainty, **changes)
    assert "\n" not in str(caught.value)
    return str(caught.value)


# --- what is written --------------------------------------------------------------------------------------------------


def test_both_ways_of_writing_mean_the_same():
    beside = scenario_with(car={"mass_kg": {"value": 145, "plus_minus": 10}})
    assert beside.car.mass_kg == 145.0
    assert beside == scenario_with({"car.mass_kg": 10}) == scenario_with({"car": {"mass_kg": 10}})


def test_dots_without_quotes_are_a_path_too():
    text = TEXT + "\n[uncertainty]\ncar.tyre.friction = 0.1\nsetup.ideal.toe_in_deg = 0.3\n"
    assert check_scenario(tomllib.loads(text), "quay.toml").uncertainty == {"car.tyre.friction": 0.1, "setup.ideal.toe_in_deg": 0.3}


def test_set_up_may_carry_its_own_and_have_dots_in_its_name():
    data = data_with({f"{ODD}.free_play_deg": 0.4})
    data["setup"][1]["fraction"] = {"value": 0.5, "plus_minus": 0.1}
    assert check_scenario(data, "quay.toml").uncertainty == {f"{ODD}.free_play_deg": 0.4, f"{ODD}.fraction": 0.1}


def test_uncertainty_survives_being_written_out():
    scenario = scenario_with({"car.tyre.friction": 0.1, f"{ODD}.fraction": 0.1}, car={"mass_kg": {"value": 145, "plus_minus": 10}})
    assert check_scenario(tomllib.loads(dump_scenario(scenario)), "quay.toml") == scenario
    assert scenario_with().uncertainty == {}


@pytest.mark.parametrize("text", ["3 %", "3%", " 3.0  % ", "3. %", "03 %"])
def test_a_share_of_a_number_is_its_half_width(text):
    """Of a number that is written, of one by default, and beside the number; it is written out in the number's unit."""
    wanted = {"car.mass_kg": 0.03 * 145.0, "car.tyre.relaxation_length_mm": 0.03 * 120.0, f"{ODD}.fraction": 0.03 * 0.5}
    made = scenario_with({path: text for path in wanted if path != "car.mass_kg"}, car={"mass_kg": {"value": 145.0, "plus_minus": text}})
    assert made.uncertainty == pytest.approx(wanted, rel=1e-12, abs=0)
    assert check_scenario(tomllib.loads(dump_scenario(made)), "quay.toml") == made


def test_a_share_of_a_number_below_zero_has_a_size():
    data = data_with({f"{ODD}.toe_in_deg": "10 %"})
    data["setup"][1]["toe_in_deg"] = -0.5
    assert check_scenario(data, "quay.toml").uncertainty == {f"{ODD}.toe_in_deg": pytest.approx(0.05, rel=1e-12, abs=0)}


def test_what_is_wrong_elsewhere_is_told_before_a_share():
    line = "quay.toml: car.mass_kg: 5 is below 40; give the mass in kg with the driver"
    assert refusal({"car.mass_kg": "ten"}, car={"mass_kg": 5}) == line


def test_checking_leaves_what_was_read_as_it_was():
    data = data_with({"car": {"mass_kg": 10}}, pace={"target_m_per_s": {"value": 5.0, "plus_minus": 0.5}})
    before = tomli_w.dumps(data)
    check_scenario(data, "quay.toml")
    assert tomli_w.dumps(data) == before


def test_every_number_that_is_offered_can_be_unsure():
    for path, number in numbers_of(scenario_with()).items():
        room = min(abs(number.value - number.low) or 1.0, abs(number.high - number.value) or 1.0)
        assert scenario_with({path: 0.1 * room}).uncertainty == {path: 0.1 * room}


REFUSED = [
    ({"car.tyre.cornering_stifness_per_rad": 3}, 'uncertainty."car.tyre.cornering_stifness_per_rad": the scenario gives no such number; '
     "did you mean car.tyre.cornering_stiffness_per_rad?"),
    ({"setup.ideall.toe_in_deg": 0.3}, 'uncertainty."setup.ideall.toe_in_deg": the scenario gives no such number; did you mean '
     "setup.ideal.toe_in_deg?"),
    ({"setup.ideal.fraction": 0.3}, 'uncertainty."setup.ideal.fraction": the scenario gives no such number; did you mean '),
    ({"zzz": 1.0}, 'uncertainty."zzz": the scenario gives no such number; write a path such as car.tyre.friction or setup.NAME.toe_in_deg'),
    ({"car.drive": 1.0}, 'uncertainty."car.drive": the scenario gives no such number; '),
    ({"pace.laps": 1.0}, 'uncertainty."pace.laps": the scenario gives no such number; '),
    ({"car.mass_kg": 0}, 'uncertainty."car.mass_kg": 0 is not above 0; give the 95 % half width, above 0, in the unit of the number, '
     'or a share of it such as "3 %"'),
    ({"car.mass_kg": -3}, 'uncertainty."car.mass_kg": -3 is not above 0; '),
    ({"car.mass_kg": float("nan")}, "uncertainty.car.mass_kg: nan is not a finite number; give the 95 % half width"),
    ({"car.mass_kg": "ten"}, 'uncertainty."car.mass_kg": "ten" is neither a number nor a share; write a number, or a share such as "3 %"'),
    ({"car.mass_kg": "-3 %"}, 'uncertainty."car.mass_kg": "-3 %" is neither a number nor a share; '),
    ({"car.mass_kg": "3"}, 'uncertainty."car.mass_kg": "3" is neither a number nor a share; write a number, or a share such as "3 %"'),
    ({"car.mass_kg": "3 %\n4"}, 'uncertainty."car.mass_kg": "3 %?4" is neither a number nor a share; '),
    ({"car.mass_kg": "0.0 %"}, 'uncertainty."car.mass_kg": 0.0 % of 145 is nothing; give the half width in the unit of the number'),
    ({"car.tyre.load_sensitivity": "3 %"}, 'uncertainty."car.tyre.load_sensitivity": 3 % of 0 is nothing; give the half width in the unit '
     "of the number"),
    ({"setup.ideal.free_play_deg": "3 %"}, 'uncertainty."setup.ideal.free_play_deg": free play is no share of anything; give it in '
     "degrees, such as 0.4"),
    ({"car.mas_kg": "3 %"}, 'uncertainty."car.mas_kg": the scenario gives no such number; did you mean car.mass_kg?'),
    ({"car.mass_kg": "145 %"}, 'uncertainty."car.mass_kg": 145 +- 210.25 puts 16 % of the draws outside what this key allows (40 to '
     "1000); give a smaller half width"),
    ({"car.mass_kg": True}, "uncertainty.car.mass_kg: true is not a number; give the 95 % half width, above 0, in the unit of the number, "
     'or a share of it such as "3 %"'),
    # 145 less 40 is 105, which is 0.98 deviations of 210 / 1.96: 16.4 % of a normal distribution lie below
    ({"car.mass_kg": 210}, 'uncertainty."car.mass_kg": 145 +- 210 puts 16 % of the draws outside what this key allows (40 to 1000); give '
     "a smaller half width"),
    ({"course.scale": 0.1}, 'uncertainty."course.scale": the course is the same in every draw; of its table only air_density_kg_per_m3, '
     "wind_m_per_s, wind_towards_deg can be unsure"),
    ({"setup.turntable.free_play_deg": 0.2}, 'uncertainty."setup.turntable.free_play_deg": a turntable axle has no joints that leave each '
     "wheel free play; leave it out"),
    ({"setup.ideal.free_play_deg": 4.0}, 'uncertainty."setup.ideal.free_play_deg": 4 is above 3; mend the joints, then measure the free '
     "play again"),
    ({"car.mass_kg": 10, "car": {"mass_kg": 11}}, 'uncertainty."car.mass_kg": the uncertainty of this number stands twice; keep one of '
     "them"),
    ({f"{ODD}.fractoin": 1}, 'uncertainty."setup.0.5 of ideal, kinked | bar.fractoin": the scenario gives no such number; did you mean '
     "setup.0.5 of ideal, kinked | bar.fraction?"),
    ({"car.\x07\n": 1.0}, 'uncertainty."car.??": the scenario gives no such number; '),
]  # fmt: skip


@pytest.mark.parametrize(("uncertainty", "line"), REFUSED, ids=[line[12:60] for _, line in REFUSED])
def test_bad_table_is_refused(uncertainty, line):
    found = refusal(uncertainty)
    assert found == f"quay.toml: {line}" or (line.endswith((" ", "width")) and found.startswith(f"quay.toml: {line}"))
    assert found.isprintable()


@pytest.mark.parametrize(
    ("written", "line"),
    [
        ({"plus_minus": 10}, "car.mass_kg: there is no value; write a plain number, or {value = 12.0, plus_minus = 3.0}"),
        ({"value": 145}, "car.mass_kg: there is no plus_minus; write a plain number, or {value = 12.0, plus_minus = 3.0}"),
        ({"value": 145, "plus_minus": 5, "kind": 1}, "car.mass_kg.kind: no such key; known are value, plus_minus"),
        ({"value": 14.5, "plus_minus": 5}, "car.mass_kg: 14.5 is below 40; give the mass in kg with the driver"),
        ({"value": 145, "plus_minus": -5}, 'uncertainty."car.mass_kg": -5 is not above 0; give the 95 % half width, above 0, in the unit '
         'of the number, or a share of it such as "3 %"'),
        ({"value": 14.5, "plus_minus": "3 %"}, "car.mass_kg: 14.5 is below 40; give the mass in kg with the driver"),
    ],
)  # fmt: skip
def test_bad_number_with_an_uncertainty_is_refused(written, line):
    assert refusal(car={"mass_kg": written}) == f"quay.toml: {line}"


def test_uncertainty_beside_the_number_and_in_the_table_is_refused():
    line = refusal({"car.mass_kg": 3}, car={"mass_kg": {"value": 145, "plus_minus": 10}})
    assert line == ('quay.toml: uncertainty."car.mass_kg": the uncertainty of this number stands twice; keep it beside the number or here')


def test_an_unknown_key_with_an_uncertainty_is_named_as_unknown():
    line = refusal(car={"mas_kg": {"value": 145, "plus_minus": 10}})
    assert line == "quay.toml: car.mas_kg: no such key; did you mean mass_kg?"


def test_a_word_is_no_table_of_uncertainty():
    data = data_with() | {"uncertainty": "large"}
    with pytest.raises(InputError, match=r'^quay.toml: uncertainty: "large" is not a table; begin it with a line \[uncertainty\]$'):
        check_scenario(data, "quay.toml")


# --- what is drawn ----------------------------------------------------------------------------------------------------


def one_input(kind, middle=0.0, half=1.0, low=-100.0, high=100.0):
    return Input("car.mass_kg", None, kind, middle, half, low, high)


def points_of(samples, dimensions, seed):
    """Both halves whole."""
    runs = list(unit_points(samples, dimensions, seed))
    return [np.concatenate([run[half] for run in runs]) for half in (0, 1)]


def test_points_are_even_independent_and_nested(monkeypatch):
    first, second = points_of(256, 3, 1)
    assert np.all((first > 0) & (first < 1) & (second > 0) & (second < 1))
    for column in (*first.T, *second.T):  # one point in each of 256 slices of equal width
        assert sorted(np.floor(256 * column)) == list(range(256))
    assert np.abs(np.corrcoef(np.hstack([first, second]).T) - np.eye(6)).max() < 0.05
    assert np.array_equal(points_of(512, 3, 1)[0][:256], first)
    assert not np.array_equal(points_of(256, 3, 2)[0], first)
    monkeypatch.setattr(sim.spread.inputs, "RUN", 64)  # the same in shorter runs
    assert np.array_equal(points_of(256, 3, 1), [first, second])


def test_normal_and_even_draws():
    u = np.array([[0.025], [0.5], [0.975]])
    values, clipped = drawn([one_input(NORMAL, 12.0, 3.0)], u)
    assert values[:, 0] == pytest.approx([9.0, 12.0, 15.0], rel=1e-12, abs=0)
    assert not clipped.any()
    values, _ = drawn([one_input(UNIFORM, 12.0, 6.0, 6.0, 18.0)], u)
    assert values[:, 0] == pytest.approx([6.3, 12.0, 17.7], rel=1e-12, abs=0)


def test_free_play_is_half_the_sum_of_two_wheels():
    """Against the two wheels drawn one by one, which give its quantiles with an error of 0.003 at 200 000 draws."""
    wheels = np.random.default_rng(0).uniform(-0.4, 0.4, (200_000, 2)).mean(axis=1)
    levels = np.linspace(0.01, 0.99, 25)
    values, _ = drawn([one_input(PLAY, half=0.4, low=-0.4, high=0.4)], levels[:, None])
    assert values[:, 0] == pytest.approx(np.quantile(wheels, levels), abs=0.003, rel=0)
    extreme, _ = drawn([one_input(PLAY, half=0.4, low=-0.4, high=0.4)], np.array([[1e-12], [1 - 1e-12]]))
    assert np.abs(extreme[:, 0]) == pytest.approx([0.4, 0.4], abs=1e-5, rel=0)


def test_draws_beyond_the_bounds_are_set_to_them_and_marked():
    points = points_of(1024, 1, 0)[0]
    values, clipped = drawn([one_input(NORMAL, 0.0, 1.96, 0.0, 1.0)], points)
    assert (values.min(), values.max()) == (0.0, 1.0)
    # Half of a normal distribution lies below its middle, 15.9 % beyond one deviation.
    assert clipped.mean() == pytest.approx(0.5 + 0.1587, abs=0.002, rel=0)
    assert np.all(np.isin(values[clipped], (0.0, 1.0)))


def test_inputs_come_with_their_owner_shared_ones_first():
    inputs = inputs_of(scenario_with({f"{ODD}.free_play_deg": 0.4, "car.mass_kg": 10, "setup.ideal.toe_in_deg": 0.3}), False, "quay.toml")
    assert [(one.path, one.setup, one.kind) for one in inputs] == [
        ("car.mass_kg", None, NORMAL), ("setup.ideal.toe_in_deg", 0, NORMAL), (f"{ODD}.free_play_deg", 1, PLAY),
    ]  # fmt: skip
    assert (inputs[0].middle, inputs[0].half, inputs[0].low, inputs[0].high) == (145.0, 10.0, 40.0, 1000.0)


def test_camber_stiffness_is_drawn_where_a_kingpin_leans():
    scenario = scenario_with({})
    leaning = scenario.setup[0].model_copy(update={"kingpin_inclination_deg": 8.0})
    for setups, drawn_too in ((scenario.setup, False), ((leaning, *scenario.setup[1:]), True)):
        inputs = inputs_of(scenario.model_copy(update={"setup": setups}), True, "quay.toml")
        assert ("camber_stiffness_per_rad" in {one.key for one in inputs}) == drawn_too


def test_literature_fills_what_is_not_stated():
    inputs = {one.key: one for one in inputs_of(scenario_with({"car.tyre.friction": 0.05}), True, "quay.toml")}
    assert set(inputs) == set(LITERATURE) - {"camber_stiffness_per_rad"} | {"law"}  # no kingpin leans here
    assert inputs["friction"].kind == NORMAL
    assert (inputs["drag_area_m2"].low, inputs["drag_area_m2"].high, inputs["drag_area_m2"].kind) == (0.05, 0.45, UNIFORM)


def test_a_wet_road_stays_wet():
    wet = scenario_with(car={"tyre": {"friction": 0.4}, "rear_tyre": {"friction": 0.9}})
    ranges = {one.path: (one.low, one.high) for one in inputs_of(wet, True, "quay.toml")}
    assert ranges["car.tyre.friction"] == WET_FRICTION
    assert ranges["car.rear_tyre.friction"] == LITERATURE["friction"]


@pytest.mark.parametrize("uncertainty", [{}, {"car.kingpin.friction_dry": 0.05}, {"car.tyre_width_mm": 2.0}])
def test_nothing_unsure_is_refused(uncertainty):
    with pytest.raises(InputError) as caught:
        inputs_of(scenario_with(uncertainty), False, "quay.toml")
    assert str(caught.value) == (
        "quay.toml: uncertainty: no number that a lap reads has an uncertainty; write for example "
        '"car.tyre.cornering_stiffness_per_rad" = 3.0 below a line [uncertainty], or add --literature'
    )


# --- the scenario that a draw makes -----------------------------------------------------------------------------------


def written(data, setup, target):
    """The lap of a scenario that is written by hand."""
    return Jobs([Job(check_scenario(data, "quay.toml"), setup, target)]).ready()[0]


def test_a_lap_has_its_numbers_and_changes_nothing_else():
    """Against scenarios that are written by hand from the draws' values."""
    paths = {
        "car.mass_kg": 10, "car.tyre.friction": 0.1, "course.air_density_kg_per_m3": 0.02, "course.wind_towards_deg": 5,
        "pace.target_m_per_s": 0.5, "motor.gear_ratio": 0.1, "battery.rated_capacity_Ah": 1.0,
        f"{ODD}.fraction": 0.1, f"{ODD}.toe_in_deg": 0.2, f"{ODD}.free_play_deg": 0.5, "setup.ideal.toe_in_deg": 0.3,
    }  # fmt: skip
    electric = {
        "motor": {"winding_resistance_ohm": 0.1, "torque_constant_N_m_per_A": 0.2, "no_load_current_A": 1.0, "gear_ratio": 4.0,
                  "current_limit_A": 50.0},
        "battery": {"nominal_voltage_V": 12.0, "in_series": 2, "rated_capacity_Ah": 20.0},
    }  # fmt: skip
    scenario = check_scenario(data_with(paths, course={"wind_m_per_s": 2.0, "wind_towards_deg": 40.0}) | electric, "quay.toml")
    inputs = inputs_of(scenario, False, "quay.toml")
    rows = [
        {"mass_kg": 150.0, "friction": 0.8, "air_density_kg_per_m3": 1.2, "wind_towards_deg": 42.0, "target_m_per_s": 5.5,
         "gear_ratio": 4.1, "rated_capacity_Ah": 19.0, "fraction": 0.6, "toe_in_deg": 0.1, "free_play_deg": -0.3},
        {"mass_kg": 140.0, "friction": 0.95, "air_density_kg_per_m3": 1.22, "wind_towards_deg": 37.0, "target_m_per_s": 4.5,
         "gear_ratio": 3.9, "rated_capacity_Ah": 21.0, "fraction": 0.4, "toe_in_deg": 0.2, "free_play_deg": 0.1},
    ]  # fmt: skip
    values = np.array([[9.0 if one.setup == 0 else row[one.key] for one in inputs] for row in rows])
    laps = laps_of(scenario, [1, 2], inputs, values, 7.0)
    for index, row in enumerate(rows):
        data = data_with(car={"mass_kg": row["mass_kg"]}, pace={"target_m_per_s": row["target_m_per_s"]},
                         course={"air_density_kg_per_m3": row["air_density_kg_per_m3"], "wind_m_per_s": 2.0,
                                 "wind_towards_deg": row["wind_towards_deg"]})  # fmt: skip
        data |= {"motor": electric["motor"] | {"gear_ratio": row["gear_ratio"]},
                 "battery": electric["battery"] | {"rated_capacity_Ah": row["rated_capacity_Ah"]}}  # fmt: skip
        data["car"]["tyre"]["friction"] = row["friction"]
        data["setup"][1] |= {"fraction": row["fraction"], "toe_in_deg": row["toe_in_deg"] + row["free_play_deg"]}
        for place, setup in enumerate((1, 2)):
            made, wanted = laps[2 * index + place], written(data, setup, row["target_m_per_s"])
            assert (made.car, made.race, made.laps) == (wanted.car, wanted.race, wanted.laps)
            assert made.pace == wanted.pace
            np.testing.assert_array_equal(made.table.cells, wanted.table.cells)
        assert laps[2 * index].car is laps[2 * index + 1].car  # so that their pace is planned once


@pytest.mark.parametrize("key", ["mass_kg", "wheelbase_mm", "kingpin_track_mm", "wheel_radius_mm", "rear_track_mm", "drag_area_m2"])
def test_every_length_of_the_car_reaches_its_steering(key):
    scenario = scenario_with({f"car.{key}": 0.01}, car={"drag_area_m2": 0.2})
    inputs = inputs_of(scenario, False, "quay.toml")
    value = getattr(scenario.car, key) * 1.01
    for setup in (1, 2):
        (made,) = laps_of(scenario, [setup], inputs, np.array([[value]]), 5.0)
        wanted = written(data_with(car={key: value}), setup, 5.0)
        assert made.car == wanted.car
        np.testing.assert_array_equal(made.table.cells, wanted.table.cells)


def test_every_number_that_can_be_unsure_can_be_drawn():
    """No key's conversion stumbles over columns: each alone, at its value and at another."""
    path = find_scenario("race-day")
    race = load_scenario(path, "race-day")
    for name, number in numbers_of(race).items():
        other = number.value * 1.001 or 0.5 * (number.low + number.high) * 1e-3
        setup = next((index for index, one in enumerate(race.setup) if name.startswith(f"setup.{one.name}.")), None)
        one = Input(name, setup, NORMAL, number.value, 1.0, number.low, number.high)
        laps = laps_of(race, [setup or 0], [one], np.array([[number.value], [other]]), 6.0)
        assert len(laps) == 2
        same = Jobs([Job(race, setup or 0, 6.0 if name != "pace.target_m_per_s" else number.value)]).ready()[0]
        assert laps[0].car == same.car, name
        assert (laps[0].pace, laps[0].race) == (same.pace, same.race), name
        assert all(isinstance(figure, float | int | bool | None) for figure in laps[1].car[:10]), name


def test_toe_and_free_play_stay_within_what_toe_may_be():
    scenario = scenario_with({"setup.ideal.free_play_deg": 2.0})
    scenario = scenario.model_copy(update={"setup": (scenario.setup[0].model_copy(update={"toe_in_deg": 9.5}),)})
    (made,) = laps_of(scenario, [0], inputs_of(scenario, False, "quay.toml"), np.array([[2.0]]), 5.0)
    data = data_with()
    data["setup"][0]["toe_in_deg"] = 10.0
    np.testing.assert_array_equal(made.table.cells, written(data, 0, 5.0).table.cells)


def test_rear_tyre_is_drawn_on_its_own():
    scenario = scenario_with({"car.rear_tyre.friction": 0.1}, car={"rear_tyre": {}})
    (made,) = laps_of(scenario, [0], inputs_of(scenario, False, "quay.toml"), np.array([[0.7]]), 5.0)
    assert (made.car.front_tyre.friction, made.car.rear_tyre.friction) == (0.9, 0.7)


def test_either_law_is_drawn():
    scenario = scenario_with(None, car={"rear_tyre": {}})
    law = Input(TYRE_LAW, None, LAW, 0.5, 0.5, 0, 1)
    made = laps_of(scenario, [0], [law], np.array([[0.0], [1.0]]), 5.0)
    assert [(one.car.front_tyre.brush, one.car.rear_tyre.brush) for one in made] == [(LINEAR, LINEAR), (BRUSH, BRUSH)]


def test_only_lengths_that_must_fit_are_checked_and_all_of_them():
    """What `check_lengths` refuses hangs on the keys of FITTING alone: at the bounds of every other key no car is refused."""
    car = scenario_with().car
    for key, (low, high) in bounds_of(CarTable).items():
        for value in (low, high):
            changed = car.model_copy(update={key: value})
            if key not in FITTING:
                changed.check_lengths()
    for key in FITTING:
        low, high = bounds_of(CarTable)[key]
        with pytest.raises(TableError):
            [car.model_copy(update={key: value}).check_lengths() for value in (low, high)]


def test_a_car_that_cannot_be_is_refused():
    scenario = scenario_with({"car.mass_centre_behind_front_axle_mm": 400}, car={"mass_centre_behind_front_axle_mm": 1300})
    inputs = inputs_of(scenario, False, "quay.toml")
    check_cars(scenario, inputs, np.array([[1200.0], [1499.0]]), "quay.toml")
    with pytest.raises(InputError) as caught:
        check_cars(scenario, inputs, np.array([[1200.0], [1600.0]]), "quay.toml")
    assert str(caught.value) == (
        "quay.toml: uncertainty: in some draws of car.mass_centre_behind_front_axle_mm the mass centre lies outside the wheelbase (1600 of "
        "1500 mm); give smaller half widths"
    )


def test_half_the_sum_of_both_toes_is_what_costs(tmp_path):
    """The ground of the free play: rods that turn one wheel alone cost what half of it as toe of both costs, and rods that turn
    both wheels the same way cost nothing, for the driver holds the hand wheel over."""
    turns = [(0.0, 0.0), (0.8, 0.8), (0.8, -0.8), (1.6, 0.0), (0.0, 1.6)]
    data = data_with(car={"drive": "differential"})
    data["setup"] = [
        {"name": f"{left} {right}", "pivot": "stub axles", "linkage": "centre arm", "arm_length_mm": 110, "arm_angle_deg": 13.9,
         "drop_arm_length_mm": 70, "drop_arm_behind_front_axle_mm": 107, "rod_turns_left": left, "rod_turns_right": right}
        for left, right in turns
    ]  # fmt: skip
    scenario = check_scenario(data, "quay.toml")
    course = course_of(scenario, tmp_path, "quay.toml")
    work = drive_jobs(course, [Job(scenario, i, 5.0) for i in range(len(turns))], Workers())[:, COLUMNS.index("drive_work_J")]
    both, same_way, left, right = work[1:] - work[0]
    assert both > 2.0
    # Half a degree of toe; what is left over is of third order in the angles.
    assert (left, right) == pytest.approx((both, both), rel=0.02, abs=0)
    assert same_way == pytest.approx(0.0, abs=0.02 * both, rel=0)


def test_deviation_of_a_plus_minus():
    """A plus_minus is the 95 % half width: 1.96 deviations."""
    values, _ = drawn([one_input(NORMAL, 0.0, 1.96)], points_of(4096, 1, 0)[0])
    assert sqrt(np.mean(values**2)) == pytest.approx(1.0, rel=0.005, abs=0)
