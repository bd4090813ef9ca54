"""What a set-up does with lawful numbers is doubted too: a wheel far off, a hand wheel that turns too much or too little."""

from math import atan2, cos, degrees, radians, sin

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.errors import InputError
from sim.linkages.catalogue import KINDS
from sim.scenario.file import check_scenario, find_scenario, load_scenario, parse_toml, shipped_names
from sim.study.doubts import built_doubts, doubts_of, run_doubts
from sim.study.ready import entries_of
from viz.shared.doubts import MOST_SHOWN, doubt_lines

TEXT = """\
title = "Yard"
[car]
mass_kg = 145
wheelbase_mm = 1500
front_track_mm = 900
rear_track_mm = 860
kingpin_track_mm = 740
mass_centre_behind_front_axle_mm = 820
mass_centre_height_mm = 330
wheel_radius_mm = 203
drive = "one wheel left"
[course]
segments = [{straight_m = 8}, {radius_m = 6, turn_deg = 90}]
[pace]
target_m_per_s = 3.0
[[setup]]
name = "ours"
pivot = "stub axles"
"""
CENTRE_ARM = """linkage = "centre arm"
arm_length_mm = 110
arm_angle_deg = 13.9
drop_arm_length_mm = 70
drop_arm_behind_front_axle_mm = 107
"""


def doubts(tmp_path, setup):
    file = tmp_path / "yard.toml"
    file.write_text(TEXT + setup, encoding="utf-8")
    scenario = load_scenario(file)
    return doubts_of(scenario, entries_of(scenario, "yard.toml"))


@pytest.mark.parametrize("name", shipped_names())
def test_no_shipped_scenario_draws_a_doubt(name):
    assert run_doubts(load_scenario(find_scenario(name))) == ()


@pytest.mark.parametrize("kind", [kind for kind in KINDS.values() if kind.rods], ids=lambda kind: kind.name)
def test_a_linkage_of_usual_size_draws_none(tmp_path, kind):
    keys = "".join(f"{key.name} = {key.usual}\n" for key in kind.needs)
    assert doubts(tmp_path, f'linkage = "{kind.name}"\n{keys}') == ()


def test_a_wheel_that_errs_is_doubted(tmp_path):
    said = doubts(tmp_path, CENTRE_ARM.replace("13.9", "-30").replace("= 107", "= 200"))
    assert any("degrees off ideal steering before the outer one has turned by 30" in one for one in said)
    assert any("arm_angle_deg = -30 leans the wrong way" in one for one in said)


def test_a_hand_wheel_that_turns_too_much_is_doubted(tmp_path):
    long_arms = CENTRE_ARM.replace("arm_length_mm = 110", "arm_length_mm = 170")
    said = doubts(tmp_path, long_arms.replace("drop_arm_length_mm = 70", "drop_arm_length_mm = 30"))
    assert [one for one in said if one.startswith('"ours": its hand wheel turns ')]
    assert said[-1].endswith("(0.5 to 4 is usual with a centre arm).")


@pytest.mark.compiled
@settings(max_examples=150, deadline=None, derandomize=True)
@given(data=st.data(), kind=st.sampled_from([kind for kind in KINDS.values() if kind.rods or kind.axle]))
def test_any_front_end_that_can_be_built_is_doubted_in_whole_sentences(data, kind):
    """Over the whole range of each key, and over what is usual."""
    pivot = 'pivot = "turntable"\n' if kind.axle else f'pivot = "stub axles"\nlinkage = "{kind.name}"\n'
    keys = {}
    for key in kind.keys:
        if key.needed or data.draw(st.booleans()):
            low, high = data.draw(st.sampled_from(((key.low, key.high), key.common or (key.low, key.high))))
            keys[key.name] = data.draw(st.floats(low, high))
    text = TEXT.replace('pivot = "stub axles"\n', pivot) + "".join(f"{name} = {value!r}\n" for name, value in keys.items())
    scenario = check_scenario(parse_toml(text, "drawn.toml", ""), "drawn.toml")
    try:
        entries = entries_of(scenario, "drawn.toml")
    except InputError:
        return
    for said in doubts_of(scenario, entries):
        assert said.endswith((".", "?"))
        assert "nan" not in said


def test_the_first_doubts_are_shown_and_the_others_counted():
    many = [f"{number} is unusual." for number in range(7)]
    assert doubt_lines(many[:MOST_SHOWN]) == [f"Is this right? {one}" for one in many[:MOST_SHOWN]]
    assert doubt_lines(many) == ["Is this right? 0 is unusual.", "Is this right? 1 is unusual.", "And 5 more like that: add --explain."]
    assert len(doubt_lines(many, every=True)) == 7
    assert doubt_lines([]) == []


@pytest.mark.parametrize(("behind", "lean"), [(107, None), (20, None), (10.7, 16), (-108, 32)])
def test_rods_far_from_across_are_doubted_by_the_key_that_places_them(tmp_path, behind, lean):
    """Centimetres or a wrong minus behind the axle passed, and with them every warning of where the car as built snaps over."""
    said = [one for one in doubts(tmp_path, CENTRE_ARM.replace("= 107", f"= {behind}")) if "from across the car" in one]
    if lean is None:
        assert said == []
        return
    (line,) = said
    # By hand: the joint stands 110 mm x (cos 13.9, sin 13.9 degrees) behind and inside a kingpin 370 mm from the middle.
    ahead, across = 110 * cos(radians(13.9)) - behind, 370 - 110 * sin(radians(13.9))
    assert round(degrees(atan2(ahead, across))) == lean
    assert line.startswith(f'"ours": straight ahead its rods stand {lean} degrees from across the car (up to 15 is usual); look at')
    assert line.endswith("look at drop_arm_behind_front_axle_mm and at how far the arms' joints stand behind the axle.")
    scenario = load_scenario(tmp_path / "yard.toml")
    assert line in built_doubts(scenario, "ours", "yard.toml")
