"""A contest: rules and entries that are refused, places that are shared, and results that depend on nothing but the entries."""

import json
import os
import random
import re
import shutil
from dataclasses import replace
from itertools import permutations
from math import asin, atan, cos, degrees, radians, sin, sqrt, tan
from pathlib import Path

import numpy as np
import pytest
from pytest import approx  # noqa: PT013  read as a word of the comparison

import sim.contest.run
from sim.car.chassis import GRAVITY
from sim.contest.entries import ENTRY_BYTES, MOST_ENTRIES, read_entries
from sim.contest.names import name_remarks, numbered_names
from sim.contest.results import NO_FIGURES, NameRemark, Refused, Role
from sim.contest.rules import SCORES, find_contest, read_rules
from sim.contest.run import contest_result
from sim.errors import InputError
from sim.scenario.file import load_scenario, shipped_folder
from sim.study.compare import compare
from sim.study.places import shared_places
from sim.study.ready import course_of
from viz.contest.brief import contest_brief
from viz.contest.report import contest_pages, contest_report
from viz.contest.words import finding
from viz.shared.plain import plain

SHIPPED = shipped_folder() / "class-contest"
YARD = (Path(__file__).parents[1] / "scenarios" / "yard.toml").read_text(encoding="utf-8")
CAR = YARD[YARD.index("[car]") : YARD.index("[course]")]
RULES = (
    f'title = "One bend"\n{CAR}'
    + """
[course]
segments = [{straight_m = 6}, {radius_m = 4, turn_deg = 90}, {straight_m = 4}]
[pace]
target_m_per_s = 3.0
[allowed]
pivots = ["stub axles", "turntable"]
linkages = ["cross rod", "rack", "centre arm"]
arm_length_mm = {min = 60, max = 200}
arm_angle_deg = {min = -30, max = 40}
toe_in_deg = {min = -2, max = 2}
caster_deg = {min = 0, max = 10}
hand_wheel_limit_deg = {min = 3, max = 90}
[score]
rule = "least drive work"
tolerance_percent = 1.0
"""
)
RACE = """
[motor]
winding_resistance_ohm = 0.10
torque_constant_N_m_per_A = 0.10
no_load_current_A = 2.0
gear_ratio = 6.0
current_limit_A = 60
[battery]
nominal_voltage_V = 24
rated_capacity_Ah = 2.0
[race]
duration_min = 60
"""
CLOSED = "closed = true\nsegments = [{straight_m = 8}, {radius_m = 5, turn_deg = 180}, {straight_m = 8}, {radius_m = 5, turn_deg = 180}]"
ARMS = 'pivot = "stub axles"\nlinkage = "cross rod"\narm_length_mm = 110\n'


def entry(team, setup, more=""):
    return f'team = "{team}"\n{more}\n[setup]\n{setup}\n'


ENTRIES = {
    "a.toml": entry("Kink", ARMS + "arm_angle_deg = 20", "members = 3"),
    "b.toml": entry("Straight", ARMS + "arm_angle_deg = 0"),
    "c.toml": entry("Toe", ARMS + "arm_angle_deg = 20\ntoe_in_deg = 1.5"),
    "d.toml": entry("Wagon", 'pivot = "turntable"'),
    "e.toml": entry("Short", ARMS + "arm_angle_deg = 20\nhand_wheel_limit_deg = 5"),
}


@pytest.fixture
def contest(tmp_path):
    """A contest's folder with these rules and entries."""

    def make(entries=ENTRIES, rules=RULES, name="class"):
        folder = tmp_path / name
        folder.mkdir()
        (folder / "rules.toml").write_text(rules, encoding="utf-8")
        for file, text in entries.items():
            (folder / file).write_text(text, encoding="utf-8")
        return folder

    return make


@pytest.fixture
def refusal(contest):
    """The reason for which one entry is refused; another one must still be accepted."""

    def reason(text, rules=RULES, file="their.toml"):
        folder = contest({"good.toml": ENTRIES["a.toml"]}, rules)
        (folder / file).write_bytes(text if isinstance(text, bytes) else text.encode())
        accepted, turned_down = read_entries(folder, read_rules(folder))
        assert [one.team for one in accepted] == ["Kink"]
        (one,) = turned_down
        assert one.file == file
        assert "\n" not in one.reason
        return one.reason

    return reason


def by_team(result):
    return {one.team: one for one in result.entries}


# --- places -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("scores", "least", "apart", "places"),
    [
        ({"a": 100.0, "b": 102.0, "c": 101.0}, True, 0.0, {"a": 1, "c": 2, "b": 3}),
        ({"a": 100.0, "b": 102.0, "c": 101.0}, False, 0.0, {"b": 1, "c": 2, "a": 3}),
        ({"a": 100.0, "b": 101.0, "c": 103.0}, True, 1.0, {"a": 1, "b": 1, "c": 3}),  # 1 of 100 is within, and the third stays third
        ({"a": 100.0, "b": 100.9, "c": 101.8}, True, 1.0, {"a": 1, "b": 1, "c": 3}),  # no chain: c is within 1 of b, not of a
        ({"a": -100.0, "b": -99.5}, True, 1.0, {"a": 1, "b": 1}),  # a course downhill
        ({"a": 0.0, "b": 0.0, "c": 1e-9}, True, 0.0, {"a": 1, "b": 1, "c": 3}),
        ({}, True, 1.0, {}),
    ],
)
def test_shared_places(scores, least, apart, places):
    for order in permutations(scores):
        assert shared_places({team: scores[team] for team in order}, least, dict.fromkeys(scores, apart)) == places


def test_the_best_of_a_place_says_what_is_told_apart_from_it():
    assert shared_places({"a": 10.0, "b": 12.0, "c": 14.0}, True, {"a": 3.0, "b": 0.0, "c": 0.0}) == {"a": 1, "b": 1, "c": 3}


@pytest.mark.parametrize(
    ("rule", "apart"),
    [("least drive work", 25.0), ("least scrub", 25.0), ("most distance", 60.0),
     # A joule more on 100 J of scrub, which goes with the square of the slip, is half a per cent more rubber: 25 J are 12.5 % of 0.8 m.
     ("least rub of the worst tyre", 0.1)],
)  # fmt: skip
def test_what_a_rule_tells_apart_is_a_share_of_the_whole_energy(contest, rule, apart):
    """Of scrub it was 1 % of the scrub: a joule, which no course and no model tells."""
    rules = replace(read_rules(contest()), rule=rule)
    lap = replace(NO_FIGURES, drive_work_J=2500.0, scrub_J=100.0, rub_worst_m=0.8, race_distance_m=6000.0)
    assert rules.told_apart(lap) == approx(apart, rel=1e-12, abs=0)
    assert rules.told_apart(NO_FIGURES) == 0.0


# --- results ----------------------------------------------------------------------------------------------------------


@pytest.mark.compiled
def test_ranks_and_tells_why_not(contest):
    folder = contest(ENTRIES | {"f.toml": entry("Long", ARMS.replace("110", "300") + "arm_angle_deg = 0")})
    seen = []
    result, comparison = contest_result(folder, progress=lambda done, of: seen.append((done, of)))
    assert seen == [(done, 5) for done in range(6)]
    teams = by_team(result)
    assert [(one.team, one.place) for one in result.entries] == [
        ("Wagon", 1), ("Kink", 1), ("Straight", 3), ("Toe", 4), ("Short", None),
    ]  # fmt: skip
    assert teams["Kink"].shared
    assert teams["Kink"].members == 3
    assert "full lock" in teams["Short"].reason
    assert teams["Short"].score is None
    long = "setup.arm_length_mm: the rules allow 60 to 200, and 300 is above that; choose a value between"
    assert result.refused == (Refused("f.toml", "Long", long),)
    # Of those that share the first place the one of the best score; of those between the one that pays most for what it shows.
    assert [one.name for one in comparison.results] == ["ideal steering, no toe", "Wagon", "Straight", "Toe"]
    assert {one.team: one.replayed for one in result.entries if one.replayed} == {
        "Wagon": Role.WINNER, "Straight": Role.TEACHES, "Toe": Role.LAST,
    }  # fmt: skip
    json.dumps(plain(result), allow_nan=False)


@pytest.mark.compiled
def test_figures_are_those_of_run(contest):
    """The same set-ups through `study.compare.compare`: the same laps, to the last bit."""
    folder = contest()
    result, _ = contest_result(folder)
    rules = read_rules(folder)
    accepted, _ = read_entries(folder, rules)
    scenario = rules.scenario.model_copy(update={"setup": tuple(one.setup for one in accepted)})
    compared = compare(scenario, folder, "class")
    for one in compared.results:
        told = by_team(result)[one.name]
        assert told.finished == one.finished
        if one.ledger:
            assert told.drive_work_J == one.ledger.drive_work
            assert told.geometry_cost_J == one.geometry_cost
            assert told.toe_cost_J == (0.0 if np.isnan(one.toe_cost) else one.toe_cost)
            assert told.front_scrub_J + told.rear_scrub_J + told.lengthwise_scrub_J == approx(told.scrub_J, rel=1e-12, abs=0)
            assert told.rub_worst_m == max(one.ledger.rub)
            assert told.ideal.scrub_J == compared.reference.ledger.scrub


@pytest.mark.compiled
def test_same_answer_with_other_files_and_more_workers(contest):
    first, _ = contest_result(contest())
    turned = {f"{chr(ord('z') - index)}.toml": text for index, text in enumerate(ENTRIES.values())}
    second, _ = contest_result(contest(turned, name="again"), workers=2)

    def told(result):
        return [replace(one, file="") for one in result.entries]

    assert told(first) == told(second)
    assert first == contest_result(contest(name="third"))[0]


@pytest.mark.compiled
@pytest.mark.parametrize("rule", SCORES)
def test_each_rule_counts_its_own_figure(contest, rule):
    rules = RULES.replace("least drive work", rule).replace("1.0", "1")
    if rule == "most distance":
        rules = rules.replace("[allowed]", RACE + "[allowed]")
        rules = rules.replace("segments = [{straight_m = 6}, {radius_m = 4, turn_deg = 90}, {straight_m = 4}]", CLOSED)
    result, _ = contest_result(contest({file: ENTRIES[file] for file in ("a.toml", "b.toml", "c.toml")}, rules))
    key = {"least drive work": "drive_work_J", "least scrub": "scrub_J", "most distance": "race_distance_m",
           "least rub of the worst tyre": "rub_worst_m"}[rule]  # fmt: skip
    scores = [getattr(one, key) for one in result.entries]
    assert result.score_key == key
    assert [one.score for one in result.entries] == scores
    assert scores == sorted(scores, reverse=rule == "most distance")
    assert len(set(scores)) == 3
    assert result.best_score == scores[0]
    if rule == "most distance":
        assert {one.race_ended_by for one in result.entries} == {"charge"}


@pytest.mark.compiled
def test_a_fault_of_one_entry_is_its_own(contest, monkeypatch):
    make_entry = sim.contest.run.make_entry

    def broken(setup, *args):
        if setup.name == "Toe":
            raise ZeroDivisionError("made up")
        return make_entry(setup, *args)

    monkeypatch.setattr(sim.contest.run, "make_entry", broken)
    result, _ = contest_result(contest(), workers=2)
    assert [one.team for one in result.entries] == ["Wagon", "Kink", "Straight", "Short"]
    assert result.refused[0].reason == ("setup: the simulation can't drive this (ZeroDivisionError); choose figures nearer to the usual")


@pytest.mark.compiled
def test_a_linkage_that_cannot_be_built_is_refused_with_the_entrys_key(contest):
    rack = ('pivot = "stub axles"\nlinkage = "rack"\narm_length_mm = 110\narm_angle_deg = 0\nrack_behind_front_axle_mm = 110\n'
            "rack_length_mm = 740\nrack_mm_per_turn = 100")  # fmt: skip
    keys = ("rack_behind_front_axle_mm", "rack_length_mm", "rack_mm_per_turn")
    rules = RULES.replace("[score]", "\n".join(f"{key} = {{min = 0, max = 900}}" for key in keys) + "\n[score]")
    result, _ = contest_result(contest({"a.toml": ENTRIES["a.toml"], "r.toml": entry("Rack", rack)}, rules))
    (one,) = result.refused
    assert one.team == "Rack"
    assert one.reason.startswith("setup.")


def test_all_refused_still_ends_with_a_table(contest):
    result, comparison = contest_result(contest({"a.toml": "team = 1"}))
    assert result.entries == ()
    assert result.best_score is None
    assert len(result.refused) == len(comparison.results) == 1


@pytest.mark.compiled
def test_a_car_of_ones_own(contest):
    """Held against ideal steering on the same car, by the rules' plan, and not among the laps to replay."""
    rules = RULES.replace("[score]", "car = {kingpin_track_mm = {min = 700, max = 800}}\n[score]")
    wide = ENTRIES["a.toml"].replace("Kink", "Wide") + "[car]\nkingpin_track_mm = 800\n"
    result, comparison = contest_result(contest({"a.toml": ENTRIES["a.toml"], "w.toml": wide}, rules))
    own, common = by_team(result)["Wide"], by_team(result)["Kink"]
    assert own.car == {"kingpin_track_mm": 800}
    assert {entry.team for entry in result.entries if not entry.replayed} == {own.team}
    assert common.car == {}
    assert own.drive_work_J != common.drive_work_J
    assert own.ideal.scrub_J != common.ideal.scrub_J == result.ideal.scrub_J
    assert own.geometry_cost_J == approx(own.drive_work_J - own.ideal.drive_work_J, rel=0, abs=1e-9)
    assert [one.name for one in comparison.results] == ["ideal steering, no toe", "Kink"]


# --- what an entry shows ----------------------------------------------------------------------------------------------


@pytest.mark.compiled
@pytest.mark.parametrize(
    ("setup", "kind"),
    [
        (ARMS + "arm_angle_deg = -20", "reversed"),
        (ARMS + "arm_angle_deg = 0", "parallel"),
        (ARMS + "arm_angle_deg = 13.9", "too little"),
        (ARMS + "arm_angle_deg = 22", "close to ideal"),
        (ARMS + "arm_angle_deg = 35", "too much"),
        (ARMS + "arm_angle_deg = 22\ntoe_in_deg = 1", "toe-in"),
        (ARMS + "arm_angle_deg = 22\ntoe_in_deg = -1", "toe-out"),
        (ARMS + "arm_angle_deg = 22\ncaster_deg = 5", "lean"),
        (ARMS + "arm_angle_deg = 22\nhand_wheel_limit_deg = 5", "lock"),
        ('pivot = "turntable"', "turntable"),
    ],
)
def test_what_an_entry_shows(contest, setup, kind):
    result, _ = contest_result(contest({"a.toml": entry("One", setup)}))
    shows = by_team(result)["One"].shows
    assert shows.kind == kind
    if "toe" in kind:
        assert shows.toe_in_deg == approx(1 if kind == "toe-in" else -1, rel=0, abs=1e-9)
    if kind == "parallel":
        assert shows.share_of_ideal == approx(0, rel=0, abs=1e-9)  # equal arms straight back: a parallelogram


@pytest.mark.compiled
def test_uneven_rods_show_at_the_hand_wheel(contest):
    rods = ('pivot = "stub axles"\nlinkage = "centre arm"\narm_length_mm = 110\narm_angle_deg = 22\ndrop_arm_length_mm = 70\n'
            "drop_arm_behind_front_axle_mm = 107\nrod_turns_left = 3\nrod_turns_right = -3")  # fmt: skip
    keys = ("drop_arm_length_mm", "drop_arm_behind_front_axle_mm", "rod_turns_left", "rod_turns_right")
    rules = RULES.replace("[score]", "\n".join(f"{key} = {{min = -200, max = 200}}" for key in keys) + "\n[score]")
    shows = by_team(contest_result(contest({"a.toml": entry("One", rods)}, rules))[0])["One"].shows
    assert shows.kind == "uneven rods"
    # Three turns of 1.25 mm each, the rods one way and the other: the joint of a 70 mm arm stands about 3.75 mm aside.
    assert abs(shows.hand_ahead_deg) == approx(3.07, rel=0.1, abs=0)


# --- refusals ---------------------------------------------------------------------------------------------------------

GOOD = entry("Their", ARMS + "arm_angle_deg = 20")


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "team: this key is missing; write a short name in quotes"),
        ("team = 3", "team: this is no name of 1 to 80 signs; write a short name in quotes"),
        (f'team = "{"x" * 81}"', "team: this is no name of 1 to 80 signs; write a short name in quotes"),
        ('team = "a\\u202eb"', "team: this is no name of 1 to 80 signs; write a short name in quotes"),
        ('team = "=SUM(A1)"', "team: the name does not begin with a letter or a digit; choose another beginning"),
        ('team = "ide\u0430l steering, no toe"', "team: this is what the reference is called; choose another name"),
        ('team = "Ideal Steering, no toe"', "team: this is what the reference is called; choose another name"),
        ('teem = "x"', "teem: no such key; did you mean team?"),
        ('team = "x"', "setup: this table is missing; begin it with a line [setup]"),
        ('team = "x"\nsetup = 3', "setup: this is not a table; begin it with a line [setup]"),
        ('team = "x"\n[[setup]]\npivot = "turntable"', "setup: an entry has one set-up; begin it with a line [setup], in single brackets"),
        (GOOD.replace("[setup]", 'members = ["Ann"]\n[setup]'),
         "members: this is no whole number from 1 to 60; write how many you are, and no names"),
        ('course = {file = "../secret.csv"}\n' + GOOD, "course: the rules give this, the same for every team; leave it out"),
        (GOOD + "[car]\nmass_kg = 60", "car: the rules give this, the same for every team; leave it out"),
        (GOOD + 'file = "/etc/passwd"', "setup.file: no such key; "),
        (GOOD.replace("arm_length_mm", "arm_lenght_mm"), "setup.arm_lenght_mm: no such key; did you mean arm_length_mm?"),
        (GOOD.replace("110", '"110"'), 'setup.arm_length_mm: "110" is not a number; write a plain number without quotes'),
        (GOOD.replace("110", "nan"), "setup.arm_length_mm: nan is not a finite number; "),
        (GOOD.replace("cross rod", "ideal"), 'setup.arm_length_mm: linkage "ideal" does not use this key; leave it out'),
        (entry("x", 'pivot = "stub axles"\nlinkage = "ideal"'),
         'setup.linkage: the rules do not allow "ideal"; choose cross rod or rack or centre arm'),
        (GOOD + "thread_pitch_mm = 1", "setup.thread_pitch_mm: the rules do not leave this to the teams; leave it out"),
        (GOOD + "toe_in_deg = -2.5", "setup.toe_in_deg: the rules allow -2 to 2, and -2.5 is below that; choose a value between"),
        (GOOD + 'name = ""', "setup.name: this is no name of 1 to 80 signs; write a short name in quotes"),
        ("team = x", "line 1, column 8: this is not TOML: the value can't be read; "),
        (b"\xff\xfe", "the file is not text in UTF-8; save it as UTF-8 text"),
        ("a = " + "[" * 5000, "lists or tables stand too deep inside each other; compare with the shipped class-contest"),
        (".".join("a" * 60) + " = 1", "a key has far too many dots; compare with the shipped class-contest"),
        ("a = " + "1" * 5000, "a number has thousands of digits; compare with the shipped class-contest"),
        ("#" * (ENTRY_BYTES + 1), "the file is larger than 20000 bytes; write a short text file"),
    ],
)  # fmt: skip
def test_refused_entry(refusal, text, reason):
    found = refusal(text)
    assert found.startswith(reason) if reason.endswith("; ") else found == reason


def test_a_turned_off_pivot(refusal):
    rules = RULES.replace('pivots = ["stub axles", "turntable"]', 'pivots = ["stub axles"]')
    reason = refusal(entry("x", 'pivot = "turntable"'), rules)
    assert reason == 'setup.pivot: the rules do not allow "turntable"; choose stub axles'


def test_a_car_key_outside_its_range_or_not_given(refusal):
    rules = RULES.replace("[score]", "car = {kingpin_track_mm = {min = 700, max = 800}}\n[score]")
    reason = refusal(GOOD + "[car]\nkingpin_track_mm = 900", rules)
    assert reason == "car.kingpin_track_mm: the rules allow 700 to 800, and 900 is above that; choose a value between"


def test_a_left_out_key_keeps_the_rules_too(contest):
    """Toe-in is 0 unless given, which these rules forbid."""
    folder = contest({"a.toml": ENTRIES["a.toml"]}, RULES.replace("toe_in_deg = {min = -2", "toe_in_deg = {min = 1"))
    _, (one,) = read_entries(folder, read_rules(folder))
    assert one.reason == "setup.toe_in_deg: the rules allow 1 to 2, and 0 is below that; choose a value between"


@pytest.mark.compiled
def test_two_of_one_name_both_run_numbered(contest):
    """Both were refused, so that a second one could throw the first out."""
    more = {"z.toml": entry("KINK ", 'pivot = "turntable"'), "y.toml": entry("Kink 1", ARMS + "arm_angle_deg = 21")}
    result, comparison = contest_result(contest(ENTRIES | more))
    assert result.refused == ()
    assert {one.file: one.team for one in result.entries if "ink" in one.team.casefold()} == {
        "a.toml": "Kink 2", "z.toml": "KINK 3", "y.toml": "Kink 1",
    }  # fmt: skip
    assert result.names == (NameRemark(
        ("a.toml", "z.toml"),
        '"Kink" is the name of 2 entries (a.toml, z.toml): they run as "Kink 2" and "KINK 3"; give each team a name of its own',
    ),)  # fmt: skip
    assert {one.name for one in comparison.scenario.setup} <= {one.team for one in result.entries} | {"ideal steering, no toe"}


@pytest.mark.parametrize(
    ("teams", "given"),
    [
        (["A", "B"], ["A", "B"]),
        (["A", "a", "\uff21"], ["A 1", "a 2", "\uff21 3"]),  # the last is a wide A
        (["A", "A", "a 2"], ["A 1", "A 3", "a 2"]),
        (["x" * 80, "x" * 80], ["x" * 78 + " 1", "x" * 78 + " 2"]),
        (["two  blanks", "Two blanks"], ["two  blanks 1", "Two blanks 2"]),
        (["Stra\u00dfe", "STRASSE"], ["Stra\u00dfe 1", "STRASSE 2"]),
    ],
)
def test_numbered_names(teams, given):
    assert numbered_names(teams) == given


@pytest.mark.parametrize(
    ("teams", "reasons"),
    [
        (["Gulls", "Herons"], []),
        (["\u05d0\u05d1\u05d2", "\u0645\u0631\u062d\u0628\u0627", "Team \U0001f3c1"], []),
        (["\u0411\u0430\u0440\u0441\u0443\u043a", "Team \u03a9"], []),  # wholly Cyrillic; Greek in a word of its own
        (["Kink", "\u041aink"],
         ['"Kink" (0.toml) and "\u041aink" (1.toml, Cyrillic and Latin letters in one word) look alike; look twice which is meant']),
        (["Team 1", "Team l"], ['"Team 1" (0.toml) and "Team l" (1.toml) look alike; look twice which is meant']),
        (["Gulls", "G\u00fclls"], ['"Gulls" (0.toml) and "G\u00fclls" (1.toml) look alike; look twice which is meant']),
        (["Gulls", "Gul\u3164ls"], ['"Gulls" (0.toml) and "Gul\u3164ls" (1.toml) look alike; look twice which is meant']),
        (["B\u0430dgers"], ['"B\u0430dgers" (0.toml) has Cyrillic and Latin letters in one word: it can be taken for another name']),
    ],
)  # fmt: skip
def test_names_that_look_alike_are_told(teams, reasons):
    assert [one.reason for one in name_remarks([(f"{index}.toml", team, team) for index, team in enumerate(teams)])] == reasons


def test_files_that_are_no_entries(contest):
    folder = contest()
    (folder / "their.toml.txt").write_text(GOOD, encoding="utf-8")
    (folder / "folder.toml").mkdir()
    (folder / "._a.toml").write_bytes(b"\0\1")
    (folder / "notes.md").write_text("?", encoding="utf-8")
    accepted, turned_down = read_entries(folder, read_rules(folder))
    assert len(accepted) == len(ENTRIES)
    assert [(one.file, one.reason) for one in turned_down] == [
        ("folder.toml", "this is not a file; put a text file of that name there"),
        ("their.toml.txt", "the name ends in .txt; rename it so that it ends in .toml"),
    ]


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
def test_links_that_lead_out(contest, tmp_path):
    folder = contest({"a.toml": ENTRIES["a.toml"]})
    (tmp_path / "outside.toml").write_text(GOOD, encoding="utf-8")
    (folder / "out.toml").symlink_to(tmp_path / "outside.toml")
    (folder / "loop.toml").symlink_to("loop.toml")
    (folder / "gone.toml").symlink_to("nothing.toml")
    os.mkfifo(folder / "pipe.toml")
    accepted, turned_down = read_entries(folder, read_rules(folder))
    assert [one.team for one in accepted] == ["Kink"]
    assert {one.file: one.reason for one in turned_down} == {
        "out.toml": "this link leads out of the contest's folder; put the file itself there",
        "loop.toml": "this is not a file; put a text file of that name there",
        "gone.toml": "this is not a file; put a text file of that name there",
        "pipe.toml": "this is not a file; put a text file of that name there",
    }
    (folder / "rules.toml").rename(tmp_path / "elsewhere.toml")
    (folder / "rules.toml").symlink_to(tmp_path / "elsewhere.toml")
    with pytest.raises(InputError, match="this link leads out"):
        read_rules(folder)


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
@pytest.mark.parametrize(
    ("spelling", "word"),
    [
        ("bend.csv", "link"), ("./bend.csv", "link"), ("inner/../bend.csv", "link"), ("nowhere/../bend.csv", "link"),
        ("inner/..//bend.csv", "link"), ("deep/bend.csv", "link"), ("../bend.csv", "path"), ("inner/../../bend.csv", "path"),
        ("/nowhere/bend.csv", "path"),
    ],
)  # fmt: skip
def test_a_course_outside_the_contests_folder(contest, tmp_path, spelling, word):
    """A path with .. in it was not looked at: `inner/../bend.csv` followed the link."""
    course = f'file = "{spelling}"'
    rules = RULES.replace("segments = [{straight_m = 6}, {radius_m = 4, turn_deg = 90}, {straight_m = 4}]", course)
    folder = contest({"a.toml": ENTRIES["a.toml"]}, rules)
    (tmp_path / "bend.csv").write_text("x_m,y_m\n0,0\n4,0\n8,0.2\n12,1.2\n", encoding="utf-8")
    (folder / "bend.csv").symlink_to(tmp_path / "bend.csv")
    (folder / "inner").mkdir()
    (folder / "deep").symlink_to(tmp_path)
    with pytest.raises(InputError, match=rf"rules\.toml: course\.file: this {word} leads out of the contest's folder; put the file itself"):
        contest_result(folder)


# --- rules ------------------------------------------------------------------------------------------------------------


RANGE = "write {min = ..., max = ...} with the least and the most that a team may choose"
KINDS = 'write a list of some of "stub axles", "turntable"'
NAMES = 'choose one of "least drive work", "least scrub", "most distance", "least rub of the worst tyre"'


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ("mass_kg = 145", "mass_kg = 14", "car.mass_kg: 14 is below 40; give the mass in kg with the driver"),
        ("mass_kg", "mas_kg", "car.mas_kg: no such key; did you mean mass_kg?"),
        ("[allowed]", "[alowed]", "alowed: no such key; did you mean allowed?"),
        ("arm_length_mm =", "arm_lenght_mm =", "allowed.arm_lenght_mm: no such key; did you mean arm_length_mm?"),
        ("{min = 60, max = 200}", "200", f"allowed.arm_length_mm: this is no range of numbers; {RANGE}"),
        ("{min = 60, max = 200}", "{min = 60, max = inf}", f"allowed.arm_length_mm: this is no range of numbers; {RANGE}"),
        ("{min = 60, max = 200}", "{min = 600, max = 200}", f"allowed.arm_length_mm: the least (600) is above the most (200); {RANGE}"),
        ('"turntable"]', '"turntabel"]', f"allowed.pivots: this is no list of known kinds; {KINDS}"),
        ("[score]", "car = {drive = {min = 1, max = 2}}\n[score]", "allowed.car.drive: no such key; "),
        ("least drive work", "best looking", f"score.rule: this rule is not known; {NAMES}"),
        ('rule = "least drive work"', "", f"score.rule: this key is missing; {NAMES}"),
        ("least drive work", "most distance", 'score.rule: "most distance" needs a race; add the tables [motor], [battery] and [race]'),
        ("= 1.0", "= 60", "score.tolerance_percent: this is no number from 1 to 50; 1 shares a place within 1 %, the least that the model "
         "can tell apart"),
        ("= 1.0", "= 0.7", "score.tolerance_percent: this is no number from 1 to 50; 1 shares a place within 1 %, the least that the model "
         "can tell apart"),
        ("[score]", "[demanded]\nleast_tip_margin = 3\n[score]",
         "demanded.least_tip_margin: no such key; did you mean least_tip_margin_m_per_s2?"),
        ("[score]", "[demanded]\nlargest_kick_lever_mm = 0\n[score]",
         "demanded.largest_kick_lever_mm: this is no number above 0 and up to 2000; write what every car must keep, or leave it out"),
        ("[score]", "[demanded]\nleast_tip_margin_m_per_s2 = true\n[score]",
         "demanded.least_tip_margin_m_per_s2: this is no number above 0 and up to 100; write what every car must keep, or leave it out"),
        ("[score]", '[[setup]]\nname = "x"\n[score]', "setup: the rules hold no set-up; put each team's into a file of its own"),
        ("radius_m = 4", "radius_m = 0.6", "course: no set-up's lock can follow the bend of 0.60 m radius at "),
    ],
)  # fmt: skip
def test_refused_rules(contest, old, new, line):
    assert old in RULES
    folder = contest(rules=RULES.replace(old, new))
    with pytest.raises(InputError) as caught:
        contest_result(folder)
    wanted, found = f"{folder / 'rules.toml'}: {line}", str(caught.value)
    assert found.startswith(wanted) if line.endswith(" ") else found == wanted


@pytest.mark.parametrize("file", ["nothing", "rules only", "too many"])
def test_refused_folder(contest, tmp_path, file):
    if file == "nothing":
        folder = tmp_path / "empty"
        folder.mkdir()
        wanted = f"{folder / 'rules.toml'}: there is no such file; write the class's rules there, or give another folder"
    elif file == "rules only":
        folder = contest({})
        wanted = f"{folder}: there is no entry in this folder; add a file such as our-team.toml for each team"
    else:
        folder = contest({f"{index}.toml": "" for index in range(MOST_ENTRIES + 1)})
        wanted = f"{folder}: there are more than 200 entries; make two contests of them"
    with pytest.raises(InputError) as caught:
        contest_result(folder)
    assert str(caught.value) == wanted


def test_find_contest(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert find_contest("class-contest") == SHIPPED
    Path("class-contest").mkdir()
    assert find_contest("class-contest") == Path("class-contest")
    Path("file").touch()
    there_is_none = "there is no such folder"
    for name, problem in (("file", "this is a file, not a folder"), ("none", there_is_none), ("a\0b", there_is_none)):
        with pytest.raises(InputError, match=problem):
            find_contest(name)


# --- the shipped contest ----------------------------------------------------------------------------------------------


@pytest.mark.compiled
def test_shipped_contest(tmp_path):
    shutil.copytree(SHIPPED, tmp_path / "copy")
    result, _ = contest_result(tmp_path / "copy")
    assert [(one.place, one.team, one.shows.kind) for one in result.entries] == [
        (1, "Kestrels", "close to ideal"), (2, "Gulls", "too little"), (3, "Herons", "parallel"), (4, "Otters", "toe-in"),
    ]  # fmt: skip
    assert [one.team for one in result.refused] == ["Badgers", "Foxes"]
    assert result.refused[0].reason == (
        "setup: a wheel on a step pulls at a lever of 450 mm; the rules demand 120 mm or less; let each wheel swing about an axis that is "
        "close to it"
    )
    assert {one.team: one.replayed for one in result.entries if one.replayed} == {
        "Kestrels": Role.WINNER, "Herons": Role.TEACHES, "Otters": Role.LAST,
    }  # fmt: skip
    assert all(one.finished for one in result.entries)


@pytest.mark.slow
@pytest.mark.compiled
def test_the_turntable_would_share_the_shipped_contest(tmp_path):
    """As rules.toml and its own file say."""
    folder = tmp_path / "copy"
    shutil.copytree(SHIPPED, folder)
    rules = (folder / "rules.toml").read_text(encoding="utf-8")
    (folder / "rules.toml").write_text(rules.replace(rules[rules.index("[demanded]") : rules.index("[score]")], ""), encoding="utf-8")
    teams = by_team(contest_result(folder)[0])
    assert [(teams[name].place, teams[name].shared) for name in ("Badgers", "Kestrels")] == [(1, True), (1, True)]


def test_shipped_rules_speak_of_the_quay_loops_car():
    """Its comment says that the grounds of the car's figures are in that scenario."""
    car = read_rules(SHIPPED).scenario.car
    assert car == load_scenario(shipped_folder() / "quay-loop.toml").car


# --- damage -----------------------------------------------------------------------------------------------------------


def test_damaged_entries_never_end_the_contest(contest):
    """Entries with cut, doubled and swapped bytes: each is accepted or refused in one line, and the sound one still wins its place."""
    dice, sound = random.Random(7), GOOD.encode()
    folder = contest({"good.toml": ENTRIES["a.toml"]})
    for index in range(MOST_ENTRIES - 1):
        text = bytearray(sound)
        for _ in range(dice.randint(1, 4)):
            at = dice.randrange(len(text))
            text[at : at + dice.randint(0, 3)] = bytes(dice.choice(b'0123456789.-="[]{}\n\\ aze\xff\0') for _ in range(dice.randint(0, 3)))
        (folder / f"damaged-{index:03d}.toml").write_bytes(bytes(text))
    accepted, turned_down = read_entries(folder, read_rules(folder))
    assert "Kink" in [one.team for one in accepted]
    assert len(accepted) + len(turned_down) == MOST_ENTRIES
    assert all(one.reason and "\n" not in one.reason and one.reason.isprintable() for one in turned_down)


@pytest.mark.slow
def test_command_line(tmp_path, monkeypatch, capsys):
    """The shipped contest through the command: a page for the class, one refused entry, and a folder that is not ours left alone."""
    import json
    import sys

    from viz.cli.entry import main

    def say(*words):
        monkeypatch.setattr(sys, "argv", ["scrubwise", "contest", *words])
        with pytest.raises(SystemExit) as ended:
            main()
        told = capsys.readouterr()
        return ended.value.code, told.out, told.err

    monkeypatch.setattr("sim.kernels.compiled.first_use", lambda kernel: False)
    monkeypatch.chdir(tmp_path)
    code, out, _ = say("class-contest", "--json")
    assert code == 0
    json.loads(out)
    assert list(tmp_path.iterdir()) == []
    code, out, _ = say("class-contest", "--out", "class", "--workers", "2")
    assert (code, out.splitlines().count("Written to class")) == (0, 1)
    assert "\nRefused: 2 (badger.toml, fox.toml): --explain says why.\n  badger.toml: " in out
    (fox,) = re.findall(r"^  fox.toml: setup.arm_length_mm: .*$", out, re.M)
    assert len(fox) <= 80
    assert "Refused: fox.toml: setup.arm_length_mm" in " ".join(say("class-contest", "--out", "class", "--explain")[1].split())
    assert (tmp_path / "class" / "pages" / "index.html").is_file()
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "notes.txt").write_text("x", encoding="utf-8")
    for words in (("class-contest", "--out", "mine"), ("class-contest", "--workers", "0"), ("nowhere",)):
        code, out, err = say(*words)
        assert (code, out, err.count("\n")) == (2, "", 1)
        assert err.startswith("scrubwise: ")


# --- what no place tells, and why one beats another -------------------------------------------------------------------


def hub_arm(track_mm, kingpin_track_mm, radius_mm, inclination_deg):
    """By hand: (offset at the ground + r tan i) cos i, whose parts differ from the straight distance by the lean alone."""
    lean = radians(inclination_deg)
    return ((track_mm - kingpin_track_mm) / 2 + radius_mm * tan(lean)) * cos(lean)


@pytest.mark.compiled
@pytest.mark.parametrize(
    ("setup", "lever"),
    [(ARMS + "arm_angle_deg = 20", 80.0), ('pivot = "turntable"', 450.0),
     (ARMS + "arm_angle_deg = 20\nkingpin_inclination_deg = 10", hub_arm(900, 740, 203, 10))],
)  # fmt: skip
def test_kick_lever_and_tip_margin(contest, setup, lever):
    rules = RULES.replace("[score]", "kingpin_inclination_deg = {min = 0, max = 20}\n[score]")
    one = contest_result(contest({"a.toml": entry("One", setup)}, rules))[0].entries[0]
    assert one.risks.kick_lever_mm == approx(lever, rel=1e-9, abs=0)
    if lever == 450.0:
        # By hand at that steer, which is far round: the outer front wheel has come ahead and in, and the mass centre is pulled across its
        # way, away from the turn's centre.
        turned = radians(one.risks.tip_steer_deg)
        corner = (0.820 + 0.450 * sin(turned), -0.450 * cos(turned))
        rear = (-0.680, -0.430)
        sideslip = asin(0.680 / sqrt(0.680**2 + (1.5 / tan(turned)) ** 2))
        outward = (sin(sideslip), -cos(sideslip))
        edge = (rear[0] - corner[0], rear[1] - corner[1])
        reach = (corner[0] * edge[1] - corner[1] * edge[0]) / (outward[0] * edge[1] - outward[1] * edge[0])
        assert 30 < one.risks.tip_steer_deg < 60
        assert one.risks.tip_margin_m_per_s2 == approx(GRAVITY * reach / 0.330, rel=1e-9, abs=0)
    if lever == 80.0:
        # Straight ahead, by hand: abreast of the mass centre the line between the contact points of a side lies 450 - 820/1500 x 20 mm out.
        upright = GRAVITY * (0.450 - 0.020 * 820 / 1500) / 0.330
        assert (one.risks.tip_margin_m_per_s2, one.risks.tip_steer_deg) == (approx(upright, rel=1e-9, abs=0), 0.0)


@pytest.mark.compiled
def test_demands_are_held(contest):
    rules = RULES.replace("[score]", "[demanded]\nleast_tip_margin_m_per_s2 = 12.8\nlargest_kick_lever_mm = 100\n[score]")
    result, _ = contest_result(contest(ENTRIES, rules))
    assert {one.team for one in result.entries} == {"Kink", "Straight", "Toe", "Short"}
    assert result.demanded == {"least_tip_margin_m_per_s2": 12.8, "largest_kick_lever_mm": 100.0}
    (one,) = result.refused
    assert one.team == "Wagon"
    assert re.fullmatch(
        r"setup: this car tips over at 12\.\d\d? m/s2, steered by \d+ degrees; the rules demand 12\.8 m/s2 or more; bring the wheels "
        r"further out when steered", one.reason,
    )  # fmt: skip


def test_a_car_that_tips_straight_ahead_is_not_told_to_mind_its_steering(contest):
    """It was told to bring the wheels further out when steered, which changes nothing where it is not steered."""
    rules = RULES.replace("[score]", "[demanded]\nleast_tip_margin_m_per_s2 = 13.2\n[score]")
    (one,) = contest_result(contest({"a.toml": ENTRIES["a.toml"]}, rules))[0].refused
    assert re.fullmatch(
        r"setup: this car tips over at 13\.\d\d? m/s2, even straight ahead; the rules demand 13\.2 m/s2 or more; widen the track or bring "
        r"the weight lower", one.reason,
    )  # fmt: skip


@pytest.mark.compiled
def test_within_a_shared_place_the_better_score_stands_first(contest):
    rules = RULES.replace("tolerance_percent = 1.0", "tolerance_percent = 9.0")
    for rule, better in (("least drive work", 1), ("least rub of the worst tyre", 1)):
        entries = {"z.toml": entry("Zebra", ARMS + "arm_angle_deg = 20"), "a.toml": entry("Ant", ARMS + "arm_angle_deg = 17"),
                   "m.toml": entry("Mole", ARMS + "arm_angle_deg = 18.5")}  # fmt: skip
        result, _ = contest_result(contest(entries, rules.replace("least drive work", rule), rule))
        assert [one.place for one in result.entries] == [1, 1, 1]
        scores = [better * one.score for one in result.entries]
        assert scores == sorted(scores)
        assert len(set(scores)) == 3
        names = [f'"{one.team}"' for one in result.entries]
        assert names != sorted(names)
        assert finding(result).startswith(f"{', '.join(names)} share first place")


@pytest.mark.compiled
def test_a_demand_that_is_just_met(contest):
    """The lever of 80 mm is 80.00000000000001 in the computer."""
    rules = RULES.replace("[score]", "[demanded]\nlargest_kick_lever_mm = 80\nleast_tip_margin_m_per_s2 = 13.05\n[score]")
    result, _ = contest_result(contest({"a.toml": ENTRIES["a.toml"]}, rules))
    assert result.refused == ()


@pytest.mark.compiled
def test_how_far_the_inner_wheel_is_off_in_the_bend(contest):
    """Equal arms straight back turn both wheels alike: their angle in the bend is sought here, and the ideal inner one worked by hand."""
    folder = contest()
    one = by_team(contest_result(folder)[0])["Straight"].shows
    course = course_of(read_rules(folder).scenario, folder, "rules")  # its bend has ramps

    def off(curvature):
        needed = 1.5 * curvature / sqrt(1 - (0.680 * curvature) ** 2)  # tangent of the single-track steer
        low, high = 0.0, 0.6
        for _ in range(60):
            angle = (low + high) / 2
            over = sum(1.5 * tan(angle) / (1.5 + side * 0.37 * tan(angle)) for side in (-1, 1)) / 2 > needed
            low, high = (low, angle) if over else (angle, high)
        return degrees(low - atan(1 / (1 / tan(low) - 0.740 / 1.5)))

    bent = [float(curvature) for curvature in course.curvature if curvature > 1e-9]
    assert off(0.25) == approx(-4.2, rel=0.01, abs=0)
    wanted = sum(curvature * off(curvature) for curvature in bent) / sum(bent)
    assert one.bend_bias_deg == approx(wanted, rel=1e-6, abs=0)
    assert one.bend_error_deg == approx(-one.bend_bias_deg, rel=1e-12, abs=0)


@pytest.mark.compiled
def test_toe_is_set_aside_in_the_bends(contest):
    teams = by_team(contest_result(contest())[0])
    assert teams["Toe"].shows.bend_error_deg == approx(teams["Kink"].shows.bend_error_deg, rel=1e-12, abs=0)
    assert teams["Toe"].toe_cost_J > 10
    assert teams["Kink"].toe_cost_J == 0.0
    assert teams["Short"].toe_cost_J is None
    # The rest of its cost is that of the same arms without toe.
    assert teams["Toe"].geometry_cost_J - teams["Toe"].toe_cost_J == approx(teams["Kink"].geometry_cost_J, rel=0, abs=1e-9)
    assert teams["Wagon"].shows.bend_error_deg == approx(0, rel=0, abs=1e-12)


@pytest.mark.compiled
def test_a_straight_course_has_no_bends(contest):
    rules = RULES.replace("{straight_m = 6}, {radius_m = 4, turn_deg = 90}, {straight_m = 4}", "{straight_m = 9}")
    result, _ = contest_result(contest(ENTRIES, rules))
    assert {(one.shows.bend_error_deg, one.shows.bend_bias_deg) for one in result.entries} == {(None, None)}
    json.dumps(plain(result), allow_nan=False)


# --- laps to replay ---------------------------------------------------------------------------------------------------


@pytest.mark.compiled
def test_chosen_laps(contest):
    folder = contest()
    for chosen in (["short"], [" SHO"], ["5"]):
        result, comparison = contest_result(folder, chosen=chosen)
        assert [one.name for one in comparison.results] == ["ideal steering, no toe", "Wagon", "Straight", "Toe", "Short"]
        assert by_team(result)["Short"].replayed == Role.CHOSEN
    result, _ = contest_result(folder, chosen=["Toe"])
    assert by_team(result)["Toe"].replayed == Role.LAST
    for chosen, problem in (("Nobody", 'there is no team "Nobody"'), ("9", 'there is no team "9"'), ("", 'there is no team ""')):
        with pytest.raises(InputError, match=f"--replay: {problem}"):
            contest_result(folder, chosen=[chosen])


@pytest.mark.compiled
def test_what_teaches_most_is_none_that_winner_and_last_show(contest):
    """Two of the last one's kind cost more, and still the one of another kind is shown."""
    toes = {"Toe 2": 1.4, "Toe 3": 1.45}
    more = {f"{name}.toml": entry(name, ARMS + f"arm_angle_deg = 20\ntoe_in_deg = {toe}") for name, toe in toes.items()}
    result, _ = contest_result(contest(ENTRIES | more))
    teams = by_team(result)
    assert teams["Toe 3"].geometry_cost_J > teams["Toe 2"].geometry_cost_J > teams["Straight"].geometry_cost_J
    assert teams["Straight"].replayed == Role.TEACHES


@pytest.mark.compiled
def test_a_winner_with_a_car_of_its_own_is_replayed_on_it(contest):
    """Cars of one's own were left out, and with them the winner."""
    rules = RULES.replace("[score]", "car = {kingpin_track_mm = {min = 700, max = 860}}\n[score]")
    own = {f"{name}.toml": entry(name, ARMS + f"arm_angle_deg = {kink}") + "[car]\nkingpin_track_mm = 860\n"
           for name, kink in (("Wide", 24), ("Wide too", 0))}  # fmt: skip
    folder = contest({file: ENTRIES[file] for file in ("b.toml", "c.toml")} | own, rules.replace("least drive work", "least scrub"))
    result, comparison = contest_result(folder)
    teams = by_team(result)
    best = next(one for one in result.entries if one.score == result.best_score)
    shown = [one.team for one in result.entries if one.replayed]
    assert best.replayed == Role.WINNER
    assert [one.name for one in comparison.results[1:]] == shown
    assert all(teams[name].car == best.car for name in shown)
    for one in comparison.results[1:]:
        assert one.geometry_cost == approx(teams[one.name].geometry_cost_J, rel=0, abs=1e-9)
    _, other = contest_result(folder, chosen=["Wide too"])
    assert comparison.scenario.car.kingpin_track_mm in (740, 860)
    assert other.scenario.car.kingpin_track_mm == 860
    assert {one.name for one in other.results} >= {"Wide too"}
    with pytest.raises(InputError, match='"Wide" and "Straight" have different cars, and a replay draws one; choose one of them'):
        contest_result(folder, chosen=["Wide", "Straight"])


@pytest.mark.compiled
def test_doubts_about_an_entry_are_told_to_whoever_leads_the_class(contest):
    """Arms that lean the wrong way pass the rules; `run` asked whether that is meant, and a contest did not."""
    odd = entry("Outwards", ARMS + "arm_angle_deg = -14")
    result, _ = contest_result(contest({"a.toml": ENTRIES["a.toml"], "o.toml": odd}), 1)
    told = by_team(result)
    assert told["Kink"].doubts == ()
    assert any(one.startswith('"Outwards": arm_angle_deg = -14 leans the wrong way') for one in told["Outwards"].doubts)
    assert all(one.startswith('"Outwards": ') for one in told["Outwards"].doubts)
    for lines in (contest_brief(result, "out"), contest_report(result)):
        assert any('Is this right? "Outwards": arm_angle_deg = -14' in str(line) for line in lines)
    pages = contest_pages(result)
    assert "<h2>Is this right?</h2>" in pages["index.html"]
    assert "leans the wrong way" in pages["index.html"]
    assert "Is this right?" not in "".join(text for name, text in pages.items() if name != "index.html")  # the teacher asks
