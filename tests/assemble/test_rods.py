"""Rod lengths against a spatial root search written apart, and turns from fully home against trying all of them."""

from itertools import product
from math import cos, radians, sin, tan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.spatial.transform import Rotation

from sim.assemble.figures import assembly_of
from sim.assemble.rods import RodVerdict, least_thread, missing_keys, rod_to_set
from sim.linkages.front_end import RodEnds
from sim.scenario.file import check_scenario
from sim.steering.arrangement import build_steering

CAR = {
    "mass_kg": 145.0, "wheelbase_mm": 1500.0, "front_track_mm": 900.0, "rear_track_mm": 860.0, "kingpin_track_mm": 740.0,
    "mass_centre_behind_front_axle_mm": 820.0, "mass_centre_height_mm": 330.0, "yaw_inertia_kg_m2": 38.0, "wheel_radius_mm": 203.0,
    "drive": "one wheel left",
}  # fmt: skip
LEANING = {"kingpin_inclination_deg": 9.0, "caster_deg": 7.0, "toe_in_deg": 0.6, "arm_length_mm": 110.0}
CENTRE_ARM = {
    "linkage": "centre arm", "arm_angle_deg": 13.9, "arm_joint_height_mm": 240.0, "drop_arm_length_mm": 70.0,
    "drop_arm_behind_front_axle_mm": 95.0, "drop_arm_joint_spacing_mm": 60.0, "drop_arm_pivot_height_mm": 250.0,
}  # fmt: skip
RACK = {
    "linkage": "rack", "arm_angle_deg": -166.0, "arm_joint_height_mm": 150.0, "rack_behind_front_axle_mm": -120.0, "rack_length_mm": 300.0,
    "rack_mm_per_turn": 60.0,
}  # fmt: skip


def built(**keys):
    setup = {"name": "tried", "pivot": "stub axles", **keys}
    data = {"title": "A car", "car": CAR, "course": {"segments": [{"straight_m": 20.0}]}, "pace": {"target_m_per_s": 5.0}, "setup": [setup]}
    scenario = check_scenario(data, "tried.toml")
    return assembly_of(scenario, 0, build_steering(scenario.setup[0], scenario.car, "tried.toml", "setup[0]"))


# --- An own way to an arm's joint, from the words of the model: rotations by a general library, the toe by a root search ---


def joint_at_toe(side, *, inclination, caster, toe, arm, kink, height, radius=0.203, track=0.740):
    """The arm's joint with its wheel at its static toe, left side +1 [m]."""
    axis = np.array([-tan(caster), -side * tan(inclination), 1.0])
    axis /= np.linalg.norm(axis)
    ground = np.array([radius * tan(caster), side * track / 2, 0.0])  # caster puts the ground point ahead

    def turned(vector, swing):
        return Rotation.from_rotvec(swing * axis).apply(vector)

    def line(swing):
        spin = turned(np.array([0.0, 1.0, 0.0]), swing)
        return np.arctan2(-spin[0], spin[1])

    swing = brentq(lambda angle: line(angle) + side * toe, -0.5, 0.5, xtol=1e-15, rtol=1e-15)
    on_axis = ground + axis * (height / axis[2])
    joint = on_axis + arm * np.array([-cos(kink), -side * sin(kink), 0.0])
    return ground + turned(joint - ground, swing)


@pytest.mark.parametrize(("keys", "inner"), [
    (CENTRE_ARM, lambda side: np.array([-0.095, side * 0.030, 0.180])),
    (RACK, lambda side: np.array([0.120, side * 0.150, 0.150])),
], ids=["centre arm", "rack"])  # fmt: skip
def test_rod_lengths_meet_a_spatial_root_search(keys, inner):
    told = built(**LEANING, **keys)
    assert [rod.name for rod in told.rods] == ["left rod", "right rod"]
    for rod, side in zip(told.rods, (1, -1), strict=True):
        joint = joint_at_toe(side, inclination=radians(9), caster=radians(7), toe=radians(0.6), arm=0.110,
                             kink=radians(keys["arm_angle_deg"]), height=keys["arm_joint_height_mm"] / 1000)  # fmt: skip
        assert rod.length_mm / 1000 == pytest.approx(np.linalg.norm(joint - inner(side)), rel=0, abs=1e-9)
    assert told.lock_nuts == 4


def test_a_cross_rod_s_length_meets_a_spatial_root_search():
    told = built(**LEANING, linkage="cross rod", arm_angle_deg=13.9)
    left, right = (
        joint_at_toe(side, inclination=radians(9), caster=radians(7), toe=radians(0.6), arm=0.110, kink=radians(13.9), height=0.203)
        for side in (1, -1)
    )
    (rod,) = told.rods
    assert rod.length_mm / 1000 == pytest.approx(np.linalg.norm(left - right), rel=0, abs=1e-9)
    assert told.lock_nuts == 2


def test_rod_turns_that_the_setup_writes_are_in_the_length_and_told():
    plain, turned = (built(**LEANING, linkage="cross rod", arm_angle_deg=13.9, **more) for more in ({}, {"rod_turns_left": 2.0}))
    assert turned.rods[0].length_mm - plain.rods[0].length_mm == pytest.approx(2.5, rel=0, abs=1e-9)
    assert (plain.rod_turns_written, turned.rod_turns_written) == ((), (2.0, 0.0))


# --- Turns from fully home -------------------------------------------------------------------------------------------------


def ends(tube=None, eye=None, thread=None, pitch=1.25):
    lengths = [None if one is None else one / 1000 for one in (tube, eye, thread)]
    return RodEnds(0.0, 0.0, pitch / 1000, radians(15), *lengths)


def test_least_thread_is_that_of_builders():
    """1.5 diameters: 9.0, 9.6, 10.0 and 10.3 turns of M6, M8, M10 and M12; never under five turns."""
    turns = {1.0: 9.0, 1.25: 9.6, 1.5: 10.0, 1.75: 10.3}
    assert {pitch: round(least_thread(pitch / 1000) * 1000 / pitch, 1) for pitch in turns} == turns
    assert least_thread(0.8e-3) == pytest.approx(4.0e-3, rel=1e-12, abs=0)


def test_what_is_missing_is_named():
    assert missing_keys(ends()) == ("rod_tube_length_mm", "rod_end_eye_length_mm", "rod_end_thread_length_mm")
    assert missing_keys(ends(eye=30.0)) == ("rod_tube_length_mm", "rod_end_thread_length_mm")
    assert missing_keys(ends(250.0, 30.0, 25.0)) == ()
    told = rod_to_set("rod", 0.32, ends())
    assert (told.verdict, told.turns_one_end, told.tube_longest_mm) == (RodVerdict.NOT_GIVEN, None, None)


def test_turns_worked_by_hand():
    """Tube 270 mm and two eyes of 30 mm make 330 mm; 343.6 mm is 13.6 / 1.25 = 10.88 turns more, so 11: 5 1/2 at each end."""
    told = rod_to_set("rod", 0.3436, ends(270.0, 30.0, 25.0))
    assert (told.verdict, told.turns_one_end, told.turns_other_end) == (RodVerdict.FITS, 5.5, 5.5)
    assert told.length_by_turns_mm == pytest.approx(343.75, rel=0, abs=1e-9)
    assert told.thread_inside_mm == pytest.approx(25 - 5.5 * 1.25, rel=0, abs=1e-9)
    # At most both ends fully home: 343.6 - 60; at least with all thread but 12 mm out: 26 mm less; two turns of each end to spare.
    assert told.tube_longest_mm == pytest.approx(283.6, rel=0, abs=1e-9)
    assert told.tube_shortest_mm == pytest.approx(257.6, rel=0, abs=1e-9)
    assert told.tube_to_cut_mm == pytest.approx(283.6 - 4 * 1.25, rel=0, abs=1e-9)


@pytest.mark.parametrize(("tube", "eye", "thread", "verdict"), [
    (290.0, 30.0, 25.0, RodVerdict.TUBE_TOO_LONG), (250.0, 30.0, 25.0, RodVerdict.TUBE_TOO_SHORT),
    (270.0, 30.0, 11.9, RodVerdict.THREAD_TOO_SHORT), (270.0, 180.0, 25.0, RodVerdict.TUBE_TOO_LONG),
    (None, 30.0, 25.0, RodVerdict.NOT_GIVEN),
])  # fmt: skip
def test_parts_that_do_not_go_together_are_named(tube, eye, thread, verdict):
    told = rod_to_set("rod", 0.3436, ends(tube, eye, thread))
    assert told.verdict is verdict
    assert told.turns_one_end is None


@settings(max_examples=300)
@given(st.floats(0.05, 1.5), st.floats(1, 1500), st.floats(5, 80), st.floats(5, 60), st.sampled_from((0.8, 1.0, 1.25, 1.5, 1.75)))
def test_turns_are_the_best_of_all_that_leave_enough_thread(length, tube, eye, thread, pitch):
    told = rod_to_set("rod", length, ends(tube, eye, thread, pitch))
    least = least_thread(pitch / 1000) * 1000
    halves = range(int(max(0.0, (thread - least) / pitch * 2 + 1e-9)) + 1)
    miss = {
        (one / 2, other / 2): abs(tube + 2 * eye + pitch * (one + other) / 2 - 1000 * length)
        for one, other in product(halves, halves) if 0 <= one - other <= 1
    }  # fmt: skip
    best = min(miss.values()) if thread >= least else float("inf")
    if told.verdict is RodVerdict.FITS:
        found = (told.turns_one_end, told.turns_other_end)
        assert miss[found] <= best + 1e-9
        assert miss[found] <= pitch / 4 + 1e-9
        assert told.thread_inside_mm >= least - 1e-9
        assert told.tube_shortest_mm - pitch / 2 <= tube <= told.tube_longest_mm + pitch / 2
    else:  # nothing comes as near as a quarter of a turn
        assert best >= pitch / 4 - 1e-9
    if told.tube_to_cut_mm is not None:
        assert told.tube_shortest_mm <= told.tube_to_cut_mm <= told.tube_longest_mm


def test_the_tube_to_cut_can_be_turned_both_ways():
    told = rod_to_set("rod", 0.3436, ends(None, 30.0, 25.0))
    again = rod_to_set("rod", 0.3436, ends(told.tube_to_cut_mm, 30.0, 25.0))
    assert (again.turns_one_end, again.turns_other_end) == (2.0, 2.0)
