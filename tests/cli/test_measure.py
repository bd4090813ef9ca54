"""`measure`: each length has its letter, its key, its value where it is known, and a blank; nothing leaves the paper."""

import json
import os
from math import cos, radians, sin, tan

import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.backends.backend_agg import FigureCanvasAgg

from sim.errors import InputError
from sim.scenario.file import check_scenario, parse_toml
from sim.steering.arrangement import build_steering
from viz.new.measure import PAPERS, Plan, measure_result, value_of
from viz.new.sheets import INCH, figures_of, write_sheets
from viz.new.sketch import anchors_of
from viz.new.text import car_keys, find_kind, offered_kinds, scenario_text, setup_keys

KINDS = list(offered_kinds())


def outside(figure, paper):
    """Texts of a page that reach beyond a margin of 5 mm."""
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    width, height = PAPERS[paper]
    dot, found = figure.dpi / INCH, []
    for text in figure.axes[0].texts:
        box = text.get_window_extent(canvas.get_renderer())
        if box.x0 < 5 * dot or box.y0 < 5 * dot or box.x1 > (width - 5) * dot or box.y1 > (height - 5) * dot:
            found.append(text.get_text())
    return found


@pytest.mark.slow
@pytest.mark.parametrize("paper", ["a4", *(pytest.param(one, marks=pytest.mark.slow) for one in PAPERS if one != "a4")])
@pytest.mark.parametrize("kind", KINDS)
def test_two_sheets_on_which_every_number_has_its_place(kind, paper):
    plan = measure_result(None, None, "", None, kind, paper)
    figures = figures_of(plan)
    assert len(figures) == 2
    assert [outside(figure, paper) for figure in figures] == [[], []]
    drawings, table = ([text.get_text() for text in figure.axes[0].texts] for figure in figures)
    for line in plan.lines:
        assert table.count(line.letter) == 1
        assert table.count(line.key) == 1
        assert line.value is None  # nothing is known of a car without a scenario
    letters = {line.key: line.letter for line in plan.lines}
    shown = {key.name for key in setup_keys(plan.setup.kind) if key.shown is not None and key.name != "kingpin_inclination_deg"}
    lengths = {"wheelbase_mm", "front_track_mm", "rear_track_mm", "front_axle_load_kg", "three_wheel_turns_mm", "mass_centre_height_mm"}
    for key in shown | lengths | ({"kingpin_track_mm"} & letters.keys()):
        assert drawings.count(letters[key]) == 1, key
    assert len({line.letter for line in plan.lines}) == len(plan.lines)
    assert ("kingpin_track_mm" in letters) == (not plan.setup.kind.axle)


def test_the_order_is_that_of_the_questions():
    plan = measure_result(None, None, "", None, "centre arm", "a4")
    assert [line.key for line in plan.lines] == [key.name for key in (*car_keys(), *setup_keys(find_kind("centre arm")))]


@pytest.mark.slow
def test_known_values_are_those_of_the_scenario(scrubwise, tmp_path):
    code, out, err = scrubwise("measure", "quay-loop", "--setup", "drop", "--out", "m.pdf", "--json")
    assert (code, err) == (0, "")
    told = json.loads(out)
    assert (told["written"], told["pages"], told["setup"]) == ("m.pdf", 2, "drop arm and two rods")
    values = {line["key"]: line["value"] for line in told["numbers"]}
    # Worked by hand: 145 kg with the mass centre 820 mm behind the front axle of 1500; 6 pi 203 mm.
    assert values["rear_axle_load_kg"] == pytest.approx(145 * 820 / 1500, rel=1e-12, abs=0)
    assert values["front_axle_load_kg"] + values["rear_axle_load_kg"] == pytest.approx(145, rel=1e-12, abs=0)
    assert values["three_wheel_turns_mm"] == pytest.approx(3826.46, rel=0, abs=0.005)
    assert values["drop_arm_length_mm"] == 70
    assert values["arm_joint_height_mm"] is None
    text = pypdfium2.PdfDocument(tmp_path / "m.pdf")[1].get_textpage().get_text_range()
    assert "3826" in text
    assert "drop_arm_length_mm" in text


@pytest.mark.slow
def test_numbers_that_nobody_has_measured_are_blank(scrubwise):
    scrubwise("new", "mine.toml", "--like", "rack")
    told = json.loads(scrubwise("measure", "mine.toml", "--out", "m.pdf", "--json")[1])
    assert {line["value"] for line in told["numbers"]} == {None}


@pytest.mark.slow
def test_same_car_same_bytes(tmp_path):
    plan = measure_result(None, None, "", None, "rack", "letter")
    assert write_sheets(tmp_path / "a.pdf", plan) == write_sheets(tmp_path / "b.pdf", plan) == 2
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()
    sizes = [pypdfium2.PdfDocument(tmp_path / "a.pdf")[page].get_size() for page in range(2)]
    for size in sizes:
        assert size == pytest.approx([side / INCH * 72 for side in PAPERS["letter"]], rel=0, abs=0.1 / INCH * 72)


REFUSED = {
    ("measure",): "command line: missing option '--out'; for example: scrubwise measure --out sheets.pdf",
    ("measure", "--out", "m.txt"): "m.txt: the name does not end in .pdf; call it m.pdf",
    ("measure", "--out", "m.pdf", "--paper", "a5"): "--paper: 'a5' is not known here; choose one of a4, letter",
    ("measure", "--out", "m.pdf", "--setup", "1"): "--setup: a set-up is one of a scenario's; add SCENARIO, or choose with --like",
    ("measure", "starter", "--out", "m.pdf", "--like", "rack"): "--like: the scenario has its own front ends; leave one of the two out, or "
    "choose with --setup",
    ("measure", "first-bend", "--out", "m.pdf", "--setup", "ideal"): 'first-bend: --setup: "ideal" has no parts to measure; choose one of '
    '"turntable axle"',
}  # fmt: skip


@pytest.mark.parametrize(("words", "line"), REFUSED.items(), ids=[" ".join(words) for words in REFUSED])
def test_refusal_word_for_word(scrubwise, tmp_path, words, line):
    assert scrubwise(*words) == (2, "", f"scrubwise: {line}\n")
    assert os.listdir(tmp_path) == []


def drawn_plan(kind, data):
    """A lawful car and front end, drawn over the whole range of each key; None where it cannot be built."""
    text = scenario_text(find_kind(kind))
    raw = parse_toml(text, "drawn.toml", "")
    for table, keys in ((raw["car"], car_keys()), (raw["setup"][-1], setup_keys(find_kind(kind)))):
        for key in keys:
            if data.draw(st.integers(0, 2)):
                low, high = data.draw(st.sampled_from(((key.low, key.high), key.common or (key.low, key.high))))
                table[key.name] = data.draw(st.floats(low, high))
    try:
        scenario = check_scenario(raw, "drawn.toml")
        steering = build_steering(scenario.setup[-1], scenario.car, "drawn.toml", "setup[1]")
    except InputError:
        return None
    plan = measure_result(None, None, "", None, kind, "a4")
    return Plan(scenario, scenario.setup[-1], steering, plan.lines, "a4")


@pytest.mark.slow
@settings(max_examples=60, deadline=None, derandomize=True)
@given(data=st.data(), kind=st.sampled_from(KINDS))
def test_any_lawful_car_stays_on_the_paper(data, kind):
    plan = drawn_plan(kind, data)
    if plan is not None:
        assert outside(figures_of(plan)[0], "a4") == []


@pytest.mark.slow
@pytest.mark.compiled
@settings(max_examples=100, deadline=None, derandomize=True)
@given(data=st.data(), kind=st.sampled_from(KINDS))
def test_what_is_written_on_the_sheet_gives_the_same_car(data, kind):
    """Its measured numbers, put in the place of what they stand for, are the car that they came from."""
    plan = drawn_plan(kind, data)
    if plan is None:
        return
    raw = parse_toml(scenario_text(find_kind(kind)), "again.toml", "")
    for table, own, keys in ((raw["car"], plan.scenario.car, car_keys()), (raw["setup"][-1], plan.setup, setup_keys(plan.setup.kind))):
        for key in keys:
            value = value_of(own, key)
            if value is not None:
                table[key.name] = min(max(value, key.low), key.high)
    again = check_scenario(raw, "again.toml")
    for kept, own in ((again.car, plan.scenario.car), (again.setup[-1], plan.setup)):
        for name, value in kept:
            if isinstance(value, float):
                assert value == pytest.approx(getattr(own, name), rel=1e-9, abs=1e-9), name


def test_rod_ends_have_their_letters_in_a_drawing():
    """The letters of rod ends stand in a drawing, as all others."""
    plan = measure_result(None, None, "", None, "centre arm", "a4")
    drawn = {text.get_text() for text in figures_of(plan)[0].axes[0].texts}
    letters = {line.key: line.letter for line in plan.lines}
    assert {letters[key] for key in ("thread_pitch_mm", "rod_tube_length_mm", "rod_end_eye_length_mm", "rod_end_thread_length_mm")} <= drawn


@pytest.mark.parametrize(
    ("inclination", "caster", "height", "spacing"), [(0.0, 0.0, 203, 0), (12.0, 0.0, 150, 40), (-4.0, 9.0, 90, 0), (8.0, 15.0, 260, 60)]
)
def test_a_leaning_kingpin_stands_where_its_angles_put_it(inclination, caster, height, spacing):
    """Planar trigonometry by hand: the axis goes through the axle's line at the wheel centre's height and half the track on the ground."""
    raw = parse_toml(scenario_text(find_kind("centre arm")), "kind.toml", "")
    raw["car"] |= {"kingpin_track_mm": 740, "wheel_radius_mm": 203}
    for key in ("arm_joint_behind_mm", "arm_joint_inside_mm", "three_wheel_turns_mm"):
        raw["setup"][-1].pop(key, None)
        raw["car"].pop(key, None)
    raw["setup"][-1] |= {"kingpin_inclination_deg": inclination, "caster_deg": caster, "arm_joint_height_mm": height, "arm_length_mm": 110,
                         "arm_angle_deg": 13.9, "drop_arm_joint_spacing_mm": spacing, "drop_arm_behind_front_axle_mm": 107}  # fmt: skip
    scenario = check_scenario(raw, "leaning.toml")
    places = anchors_of(build_steering(scenario.setup[-1], scenario.car, "leaning.toml", "setup[1]"), scenario.car)
    z = height / 1000
    ahead, left = (0.203 - z) * tan(radians(caster)), 0.370 - z * tan(radians(inclination))
    assert places["kingpin"] == pytest.approx((ahead, left, z), abs=1e-9)
    behind, inside = 0.110 * cos(radians(13.9)), 0.110 * sin(radians(13.9))
    assert places["joint"] == pytest.approx((ahead - behind, left - inside, z), abs=1e-9)
    # The drop arm hangs in the middle of the car; the left rod's joint stands half the spacing to its left.
    assert places["inner"] == pytest.approx((-0.107, spacing / 2000, z), abs=1e-9)
