"""`import sim`: opened when used, refuses as a file is refused, and its tables hold what the commands print."""

import csv
import json
import subprocess
import sys
import tomllib
from dataclasses import FrozenInstanceError
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import tomli_w
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.figure import Figure

import sim
from sim.scenario.car import CarTable
from sim.scenario.file import check_scenario, find_scenario, load_scenario, shipped_names
from sim.scenario.scenario import Scenario
from sim.scenario.tables import bounds_of
from sim.surface.laps import Angles
from sim.surface.offered import WHERE
from viz import figures

ROOT = Path(__file__).resolve().parents[2]
YARD = (ROOT / "tests" / "scenarios" / "yard.toml").read_text(encoding="utf-8")
TABLES = tomllib.loads(YARD)
UNITS = ("_J", "_Wh", "_N", "_W", "_m", "_mm", "_s", "_deg", "_kg", "_m_per_s", "_deg_per_s", "_Ah", "_A")
WHEELS = ("_front_left", "_front_right", "_rear_left", "_rear_right")


@pytest.fixture(scope="module")
def bend():
    return sim.load("first-bend")


@pytest.fixture(scope="module")
def laps(bend):
    return sim.compare(bend)


# --- what is offered --------------------------------------------------------------------------------------------------


def test_importing_opens_nothing():
    probe = "import sys; before = set(sys.modules); import sim; print(sorted(set(sys.modules) - before))"
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "['sim']"


@pytest.mark.slow
def test_a_command_does_without_data_frames():
    probe = """
import contextlib, sys
from viz.cli import main
sys.argv = ["scrubwise", "angles", "first-bend", "--json"]
with contextlib.suppress(SystemExit):
    main()
print("pandas" in sys.modules, file=sys.stderr)
"""
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stderr.splitlines()[-1] == "False"


def test_every_name_that_is_offered_is_there_and_is_no_room():
    assert sorted(WHERE) == sorted(sim.__all__)
    for name in sim.__all__:
        assert getattr(sim, name).__doc__
        assert f"{name}" in sim.__doc__
        assert not (ROOT / "sim" / name).exists()
        assert not (ROOT / "sim" / f"{name}.py").exists()
    assert set(sim.__all__) <= set(dir(sim))
    with pytest.raises(AttributeError, match="module 'sim' has no attribute 'compere'"):
        sim.compere  # noqa: B018


# --- a scenario -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", shipped_names())
def test_a_scenario_from_a_name_a_text_and_tables_is_the_same(name):
    path = find_scenario(name)
    text = path.read_text(encoding="utf-8")
    read = load_scenario(path)
    assert sim.load(name).scenario == sim.load(path).scenario == read
    assert sim.from_text(text, path.parent).scenario == read
    assert sim.from_tables(path.parent, **tomllib.loads(text)).scenario == read
    assert sim.from_text(sim.load(name).toml(), path.parent).scenario == read


def test_a_change_is_a_copy(bend):
    before = bend.toml()
    other = bend.with_car(mass_kg=150, tyre={"friction": 0.7}).with_pace(target_m_per_s=4).with_setup("par", toe_in_deg=0.5)
    assert bend.toml() == before
    assert (other.scenario.car.mass_kg, other.scenario.car.tyre.friction, other.scenario.pace.target_m_per_s) == (150.0, 0.7, 4.0)
    assert [one.toe_in_deg for one in other.scenario.setup] == [0.0, 0.5, 0.0]
    assert other.scenario.car.tyre.rolling_resistance == bend.scenario.car.tyre.rolling_resistance
    with pytest.raises(FrozenInstanceError):
        bend.source = "another"


def test_what_was_given_can_be_changed_afterwards_without_a_trace():
    tables = tomllib.loads(YARD)
    case = sim.from_tables(**tables)
    tables["car"]["mass_kg"] = 1.0
    tables["setup"].clear()
    assert case.scenario == sim.from_text(YARD).scenario
    assert case.with_pace(laps=1).scenario.car.mass_kg == TABLES["car"]["mass_kg"]


@pytest.mark.parametrize(
    ("table", "keys"),
    [
        ("car", {"mas_kg": 150}), ("car", {"mass_kg": 14.5}), ("car", {"mass_kg": "heavy"}), ("car", {"drive": "one wheel"}),
        ("car", {"mass_kg": True}), ("car", {"mass_kg": float("nan")}), ("car", {"tyre": {"frction": 1}}), ("pace", {"laps": 1.5}),
        ("pace", {"target_m_per_s": "fast"}), ("course", {"closed": "yes"}), ("course", {"scale": 2.0}),
        ("pace", {"policy": "steady current"}),
        ("car", {"tyre": {"friction": {"value": 0.9}}}), ("car", {"wheelbase_mm": {"value": 1500, "plus_minus": "much"}}),
    ],
    ids=str,
)  # fmt: skip
def test_what_is_refused_is_refused_in_the_words_of_a_file(table, keys, tmp_path):
    data = tomllib.loads(YARD)
    for key, value in keys.items():
        within = data[table].get(key)
        data[table][key] = {**within, **value} if isinstance(within, dict) and isinstance(value, dict) else value
    (tmp_path / "yard.toml").write_text(tomli_w.dumps(data), encoding="utf-8")
    said = []
    for refused in (lambda: load_scenario(tmp_path / "yard.toml", "scenario"), lambda: sim.from_text(YARD).with_tables(**{table: keys})):
        try:
            refused()
        except sim.InputError as fault:
            said.append(str(fault))
        else:
            said.append("taken")
    assert said[0] == said[1]


def test_a_key_can_be_taken_out():
    case = sim.from_text(YARD)
    assert case.with_car(mass_kg=120).with_car(mass_kg=TABLES["car"]["mass_kg"]).scenario == case.scenario
    with pytest.raises(sim.InputError, match=r"scenario: car\.mass_kg: this key is missing"):
        case.with_car(mass_kg=None)
    assert case.with_setup(1, toe_in_deg=1.0).with_setup(1, toe_in_deg=None).scenario == case.scenario


def test_of_two_ways_to_say_the_same_the_new_one_holds():
    case = sim.from_text(YARD)
    loads = case.with_car(front_axle_load_kg=60.0, rear_axle_load_kg=80.0)
    assert loads.scenario.car.mass_kg == 140.0
    assert loads.with_car(mass_kg=150.0).scenario.car.mass_kg == 150.0
    assert case.with_tables(car={"front_axle_load_kg": 60.0, "rear_axle_load_kg": 80.0}).scenario == loads.scenario
    with pytest.raises(sim.InputError, match="front_axle_load_kg needs it"):
        case.with_car(front_axle_load_kg=60.0)


def test_setups_are_added_and_left_out():
    case = sim.from_text(YARD)
    more = case.plus_setup(name="kinked", pivot="stub axles", linkage="cross rod", arm_length_mm=110, arm_angle_deg=13.9, toe_in_deg=None)
    assert more.setups == [*case.setups, "kinked"]
    assert more.only("kink", 1).setups == ["kinked", case.setups[0]]
    unsure = more.with_tables(uncertainty={"car.mass_kg": "3 %", "setup.kinked.toe_in_deg": 0.3}).with_car(
        wheelbase_mm={"value": 1500, "plus_minus": 5}
    )
    assert unsure.only("kinked").scenario.uncertainty == unsure.scenario.uncertainty
    assert list(unsure.only(1).scenario.uncertainty) == ["car.mass_kg", "car.wheelbase_mm"]
    with pytest.raises(sim.InputError, match=r'scenario: setup: there is no set-up "kinkd"; did you mean "kinked"\?'):
        more.only("kinkd")
    with pytest.raises(sim.InputError, match="setup: holds 0 entries"):
        more.only()


def numbers(model):
    """Every number of a table over its range and beyond."""
    return st.one_of([
        st.tuples(st.just(key), st.floats(1.2 * low - 0.2 * high, 1.2 * high - 0.2 * low)) for key, (low, high) in bounds_of(model).items()
    ])  # fmt: skip


KINDS = [float, np.float64, np.float32, int, np.int64]


@pytest.mark.slow
@settings(max_examples=300)
@given(st.lists(numbers(CarTable), max_size=3).map(dict), st.sampled_from(KINDS))
def test_any_change_is_made_or_refused_as_in_a_file(keys, kind):
    keys = {key: kind(value) for key, value in keys.items()}
    data = tomllib.loads(YARD)
    data["car"] |= {key: value.item() if hasattr(value, "item") else value for key, value in keys.items()}
    outcomes = []
    for made in (lambda: check_scenario(data, "scenario"), lambda: sim.from_text(YARD).with_car(**keys).scenario):
        try:
            outcomes.append(made())
        except sim.InputError as fault:
            outcomes.append(str(fault))
    assert outcomes[0] == outcomes[1]


leaves = [st.booleans(), st.integers(), st.floats(), st.text(max_size=5), st.binary(max_size=3)]
anything = st.recursive(
    st.one_of(st.none(), st.just({1, 2}), st.just(1j), *leaves),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=8), inner, max_size=3)), max_leaves=6,
)  # fmt: skip


@pytest.mark.slow
@settings(max_examples=300)
@given(st.dictionaries(st.sampled_from([*Scenario.model_fields, "cars"]), anything, max_size=3), st.booleans())
def test_whatever_is_given_is_taken_or_refused_in_one_line(tables, from_nothing):
    try:
        case = sim.from_tables(**tables) if from_nothing else sim.from_text(YARD).with_tables(**tables)
    except sim.InputError as fault:
        told = str(fault)
    else:
        told = ""
        assert sim.from_text(case.toml()).scenario == case.scenario
    assert "\n" not in told


# --- what is found ----------------------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.compiled
def test_laps_are_those_of_the_command(laps, scrubwise, tmp_path):
    code, _, err = scrubwise("run", "first-bend", "--out", "made")
    assert (code, err) == (0, "")
    with open(tmp_path / "made" / "summary.csv", encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    table = laps.table().reset_index()
    assert list(table.columns) == list(rows[0])
    for index, row in enumerate(rows):
        for key, cell in row.items():
            value = table[key][index]
            assert (pd.isna(value) and cell == "") or str(value) == cell or float(cell) == pytest.approx(float(value), rel=1e-12, abs=0)
    (written,) = (tmp_path / "made").glob("trace-02-*.csv")
    trace, stored = laps.trace("parallel"), pd.read_csv(written)
    assert list(trace.columns) == list(stored.columns)
    assert np.allclose(trace.to_numpy(), stored.to_numpy(), rtol=1e-5, atol=1e-5, equal_nan=True)
    assert trace["time_s"].diff().dropna().to_numpy() == pytest.approx(0.02)


def without_units(columns, others):
    """Columns whose names end in no unit, without those that are known to have none."""
    bare = [next((name.removesuffix(wheel) for wheel in WHEELS if name.endswith(wheel)), name) for name in columns]
    return [name for name in bare if not name.endswith(UNITS) and name not in others]


def test_columns_end_in_their_unit(laps, bend):
    plain = {
        "finished",
        "reason",
        "ledger_residual",
        "laps_per_charge",
        "race",
        "electric",
        "hand_is",
        "stop_is_yours",
        "dead_centre_left_arm",
        "dead_centre_right_arm",
    }
    shares = [name for name in laps.table() if name.endswith("_rolling_coefficient")]
    assert without_units(laps.table(), {*plain, *shares}) == []
    assert without_units(laps.trace(1), set()) == []
    angles = sim.angles(bend)
    assert without_units(angles.trace(1), set()) == []
    assert [
        name
        for name in without_units(angles.table(), {"steering_ratio"})
        if not name.endswith(("_cause", "_arm", "hand_is", "stop_is_yours"))
    ] == []
    turn = sim.corner(bend, 6, 4)
    assert without_units(turn.table(), {"converged", "reason"}) == []
    assert without_units(turn.wheels(), set()) == []


def test_angles_and_a_turn_are_those_of_the_commands(bend, scrubwise):
    told = json.loads(scrubwise("angles", "first-bend", "--outer", "10,20", "--json")[1])
    found = sim.angles(bend, outer_deg=[10, 20])
    assert found.trace("ideal").to_dict("records") == told["setups"][0]["rows"]
    assert found.table().loc["ideal", "turning_circle_kerb_m"] == told["setups"][0]["turning_circle_kerb_m"]
    told = json.loads(scrubwise("corner", "first-bend", "--radius", "-6", "--speed", "4", "--json")[1])
    turn = sim.corner(bend, radius_m=-6, speed_m_per_s=4)
    for row in told["setups"]:
        assert turn.table().loc[row["name"], "scrub_W"] == row["scrub_W"]
        for wheel, told_of in row["wheels"].items():
            assert turn.wheels().loc[(row["name"], wheel)].to_dict() == told_of


def test_a_turn_that_there_is_not_has_no_figures(bend):
    turn = sim.corner(bend, radius_m=3, speed_m_per_s=20)
    assert not turn.table()["converged"].any()
    assert isinstance(turn.table()["reason"].iloc[0], str)
    assert turn.wheels().empty


@pytest.mark.parametrize(
    ("ask", "line"),
    [
        (lambda case: sim.corner(case, 0.1, 3), "radius_m: 0.1 is not between 0.5 and 10000 in size; give the radius in metres, "),
        (lambda case: sim.corner(case, 5, float("nan")), "speed_m_per_s: nan is not between 0.01 and 40; give the speed in metres"),
        (lambda case: sim.angles(case, outer_deg=[95]), "outer_deg: 95 is not between 0 and 89; give degrees of the outer wheel"),
        (lambda case: sim.angles(case).trace("oval"), 'first-bend: setup: there is no set-up "oval"; choose one of 1 "ideal"'),
    ],
)
def test_what_is_asked_wrongly_is_refused(bend, ask, line):
    with pytest.raises(sim.InputError) as fault:
        ask(bend)
    assert str(fault.value).startswith(line)


WRONG_NUMBERS = ["5", None, [5.0], True, 1j]


@pytest.mark.parametrize("wrong", [None, 3, 2.5, {"car": {}}, ["first-bend"], object(), True])
@pytest.mark.parametrize("ask", [
    sim.compare, sim.angles, lambda case: sim.corner(case, 5, 3), sim.uncertainty, sim.improve,
])  # fmt: skip
def test_what_is_no_scenario_is_refused(ask, wrong):
    with pytest.raises(sim.InputError) as fault:
        ask(wrong)
    assert str(fault.value).endswith('give a scenario, such as sim.load("first-bend"), or the name of a file or of a shipped one')
    assert_one_line(fault.value)
    assert len(str(fault.value)) < 160


def test_a_name_or_a_file_will_do_for_a_scenario(bend, tmp_path):
    file = tmp_path / "ours.toml"
    file.write_text(YARD, encoding="utf-8")
    assert sim.angles("first-bend").table().equals(sim.angles(bend).table())
    for place in (file, str(file)):
        assert sim.corner(place, 6, 3).case.scenario == sim.from_text(YARD).scenario
    for ask in (sim.compare, sim.angles, sim.uncertainty, sim.improve, lambda name: sim.corner(name, 5, 3)):
        with pytest.raises(sim.InputError, match=r"^fist-bend: no such file and no shipped scenario of that name; did you mean first-bend"):
            ask("fist-bend")


def quay():
    return sim.load("quay-loop")


@pytest.mark.parametrize(
    ("ask", "line"),
    [
        *((lambda case, one=one: sim.corner(case, one, 3), "radius_m: ") for one in WRONG_NUMBERS),
        *((lambda case, one=one: sim.corner(case, 5, one), "speed_m_per_s: ") for one in WRONG_NUMBERS),
        (lambda case: sim.corner(case, np.array([5.0, 6.0]), 3), "radius_m: a ndarray is not a number; give the radius in metres"),
        (lambda case: sim.corner(case, 5, -3), "speed_m_per_s: -3 is not between 0.01 and 40; give the speed in metres per second"),
        (lambda case: sim.angles(case, radius_m="8"), 'radius_m: "8" is not a number; give the radius'),
        (lambda case: sim.angles(case, 10), "outer_deg: 10 is not a list; give degrees of the outer wheel in a list, such as "),
        (lambda case: sim.angles(case, "10"), 'outer_deg: "10" is not a list'),
        (lambda case: sim.angles(case, ["10"]), 'outer_deg: "10" is not a number'),
        (lambda case: sim.angles(case, []), "outer_deg: the list is empty"),
        (lambda case: sim.angles(case, [-10]), "outer_deg: -10 is not between 0 and 89"),
        (lambda case: sim.angles(case).trace(None), "first-bend: setup: None is no name or number of a set-up; write one, "),
        (lambda case: sim.load(case), "name: a Case is not the name of a file; write one, or that of a shipped scenario"),
        (lambda case: sim.load(None), "name: None is not the name of a file"),
        (lambda case: sim.from_text(None), "text: None is not text; give what a scenario file holds; sim.load reads a file"),
        (lambda case: sim.from_text(b"car"), "text: a bytes is not text"),
        (lambda case: sim.from_text("", None), "folder: None is not the name of a folder; write from_text("),
        (lambda case: sim.from_tables({"car": {}}), "folder: a dict is not the name of a folder; write from_tables(car=..., "),
        (lambda case: case.with_car(mas_kg=150), "first-bend: car.mas_kg: no such key; did you mean mass_kg?"),
        (lambda case: case.with_car({"mass_kg": 150}), "with_car: a dict has no key before it; write with_car(mass_kg=150), or **TABLE"),
        (lambda case: case.with_course("x"), "with_course: "), (lambda case: case.with_pace(5), "with_pace: 5 has no key before it"),
        (lambda case: case.with_tables({}), "with_tables: "), (lambda case: case.plus_setup("x"), 'plus_setup: "x" has no key before it'),
        (lambda case: case.with_setup(1, {"toe_in_deg": 1}), "with_setup: "),
        (lambda case: case.with_setup(None, toe_in_deg=1), "first-bend: setup: None is no name or number of a set-up"),
        (lambda case: case.with_setup("oval", toe_in_deg=1), 'first-bend: setup: there is no set-up "oval"; choose one of 1 "ideal"'),
        (lambda case: case.with_setup(1, toe=1), 'first-bend: setup "ideal".toe: no such key; '),
        (lambda case: case.only(["ideal"]), "first-bend: setup: a list is no name or number of a set-up"),
        (lambda case: sim.uncertainty(case, samples=10), "samples: 10 is not a power of two from 16 to"),
        (lambda case: sim.uncertainty(case, samples=16.0), "samples: 16.0 is not a whole number; draws are spread evenly"),
        (lambda case: sim.uncertainty(case, samples="16"), 'samples: "16" is not a whole number'),
        (lambda case: sim.uncertainty(case, seed="x"), 'seed: "x" is not a whole number'),
        (lambda case: sim.uncertainty(case, samples=16, seed=-1), "seed: -1 is below 0"),
        (lambda case: sim.improve(quay(), 4, free=3), "free: 3 is not a table; give least and most of each key, such as free={"),
        (lambda case: sim.improve(quay(), 4, free=["arm_length_mm"]), "free: a list is not a table"),
        (lambda case: sim.improve(quay(), 4, free={3: (1, 2)}), "free: 3 is not the name of a key"),
        (lambda case: sim.improve(quay(), 4, free={"arm_length_mm": 3}), "free: arm_length_mm: 3 is not a pair of numbers"),
        (lambda case: sim.improve(quay(), 4, free={"arm_length_mm": (1,)}), "free: arm_length_mm: a tuple is not a pair of numbers"),
        (lambda case: sim.improve(quay(), 4, free={"arm_length_mm": ("a", "b")}), 'free: arm_length_mm: "a" is not a number'),
        (lambda case: sim.improve(quay(), 4, free={"arm_length_mm": (200, 100)}), "free: arm_length_mm: 200 to 100 is no range"),
        (lambda case: sim.improve(quay(), 4, free={"arm": (1, 2)}), 'free: arm: "kinked arms, cross rod" in quay-loop has no such number'),
        (lambda case: sim.improve(quay(), 4, free={"arm_length_mm": (-5, 100)}),
         'free: arm_length_mm: -5 to 100 is no range between 10 and 600; write free={"arm_length_mm": (LOW, HIGH)}'),
        (lambda case: figures.course(case), "figures.course: a Case is not what this plot shows; write figures.course(sim.compare(CASE))"),
        (lambda case: figures.losses("first-bend"), "figures.losses: "), (lambda case: figures.slips(None), "figures.slips: "),
        (lambda case: figures.uncertainty(sim.angles(case)), "figures.uncertainty: an Angles is not what this plot shows; write "),
        (lambda case: figures.improvement(case), "figures.improvement: "),
    ],
)  # fmt: skip
def test_every_wrong_argument_is_refused_with_what_to_write(bend, ask, line):
    with pytest.raises(sim.InputError) as fault:
        ask(bend)
    assert str(fault.value).startswith(line)
    assert "; " in str(fault.value)
    assert_one_line(fault.value)


def test_a_mistyped_name_of_the_module_is_told():
    with pytest.raises(AttributeError, match="no attribute 'lod'; did you mean load"):
        sim.lod  # noqa: B018
    with pytest.raises(AttributeError, match=r"no attribute 'zebra'; it offers Case, .*compare"):
        sim.zebra  # noqa: B018


LONGEST_LINE = 260


def test_results_say_themselves_in_one_line(bend, laps):
    many = quay()
    odd = bend.with_tables(title=80 * "x").plus_setup(name="y" * 60, pivot="turntable")
    turn = sim.corner(bend, -6, 4)
    for one in (bend, many, odd, laps, sim.angles(many), sim.angles(odd), turn, sim.corner(bend, 3, 20)):
        line = repr(one)
        assert str(one) == line
        assert line.startswith(f'<{type(one).__name__} "')
        assert line.isprintable()
        assert len(line) <= LONGEST_LINE
        assert f"{len(one.setups)} set-ups: {one.setups[0]}" in line
        assert "<table" in one._repr_html_()
    work = laps.table()["drive_work_J"]
    assert f"{work['ideal']:.4g} J of drive work" in repr(laps)
    assert f"{100 * (work.max() / work.min() - 1):.2g} % more" in repr(laps)
    assert "6 m to the right at 4 m/s" in repr(turn)
    assert "there is no such turn" in repr(sim.corner(bend, 3, 20))
    assert repr(bend.only(1)).endswith("1 set-up: ideal; 145 kg, 5 m/s>")


def test_a_notebook_shows_text_as_text(bend):
    odd = bend.with_tables(title="<script>alert(1)</script>").plus_setup(name="<b>&", pivot="turntable")
    page = sim.angles(odd)._repr_html_()
    assert "<script>" not in page
    assert "<b>" not in page
    assert "&lt;b&gt;&amp;" in page
    assert "turning_circle_kerb_m" in page
    assert page.count("<tr") == 2 + len(odd.setups)


def test_figures_are_the_callers_own(laps):
    for draw in (figures.course, figures.losses, figures.slips):
        one, other = draw(laps), draw(laps)
        assert isinstance(one, Figure)
        assert one is not other
        assert not hasattr(one, "number")  # which those have that the plotting library keeps for its windows
        assert one.axes


@pytest.mark.slow
def test_studies_are_those_of_the_commands(bend, scrubwise):
    told = json.loads(scrubwise("spread", "first-bend", "--samples", "16", "--literature", "--against", "2", "--json")[1])
    sure = sim.uncertainty(bend, samples=16, literature=True, against=2)
    assert sure.table()["drive_work_low_J"].tolist() == [one["drive_work_J"]["low"] for one in told["setups"]]
    assert sure.table()["lap_time_median_s"].tolist() == [one["lap_time_s"]["median"] for one in told["setups"]]
    pairs = sure.pairs()
    for one in told["pairs"]:
        assert pairs.loc[(one["setup"], one["against"]), "gain_median_J"] == one["gain_J"]["median"]
        assert pairs.loc[(one["against"], one["setup"]), "gain_median_J"] == -one["gain_J"]["median"]
    assert isinstance(figures.uncertainty(sure), Figure)
    slow = sim.load("car-park").plus_setup(
        name="straight arms", pivot="stub axles", linkage="cross rod", arm_length_mm=110, arm_angle_deg=0
    )
    case = slow.only("straight arms")
    better = sim.improve(case, "straight", free={"arm_angle_deg": (0, 25)})
    table = better.table()
    assert table.loc["best", "drive_work_J"] < table.loc["own", "drive_work_J"]
    assert better.result.recommended != "own"
    found = better.best_case()
    assert found.setups[0] == "straight arms"
    assert found.scenario.setup[1].arm_angle_deg > 0
    again = sim.improve(found, 2, free={"arm_angle_deg": (0, 25)})
    assert again.result.recommended == "own"
    assert again.best_case() is found
    assert isinstance(figures.improvement(better), Figure)
    assert "told apart in 16 draws" in repr(sure)
    assert '"straight arms" can be bettered: ' in repr(better)
    assert "is as good as the best" in repr(again)
    assert max(map(len, map(repr, (sure, better, again)))) <= LONGEST_LINE


DRAWN = ("mass_kg", "wheelbase_mm", "front_track_mm", "kingpin_track_mm", "mass_centre_height_mm", "mass_centre_behind_front_axle_mm")


@pytest.mark.slow
@settings(max_examples=150)
@given(
    st.fixed_dictionaries({key: st.floats(*bounds_of(CarTable)[key]) for key in DRAWN}),
    st.floats(0.5, 100).flatmap(lambda size: st.sampled_from([size, -size])), st.floats(0.01, 40),
)  # fmt: skip
def test_any_car_has_tables_or_is_refused(keys, radius, speed):
    try:
        case = sim.from_text(YARD).with_car(**keys)
        found = [sim.angles(case), sim.corner(case, radius, speed)]
    except sim.InputError as fault:
        found = []
        assert_one_line(fault)
    for one in found:
        assert list(one.table().index) == case.setups
        assert "<table" in one._repr_html_()
        told = one.trace(1) if isinstance(one, Angles) else one.wheels()
        assert np.isfinite(told.to_numpy(dtype=float)).all()
    if found:
        turns = found[1].table()["converged"]
        assert len(found[1].wheels()) == 4 * turns.sum()
        assert found[1].table().loc[~turns, "reason"].notna().all()


def assert_one_line(fault):
    assert "\n" not in str(fault)
    assert ": " in str(fault)
