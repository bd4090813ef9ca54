"""Drawn contests: whatever a class hands in, each file has a line of its own in the result, and everything can be told of it."""

import json
import random
from collections import Counter

import pytest
from rich.cells import cell_len

from sim.contest.names import same_name
from sim.contest.rules import SCORES
from sim.contest.run import contest_result
from sim.errors import InputError
from sim.scenario.car import CarTable
from sim.scenario.setup import SetupTable
from sim.scenario.tables import bounds_of
from viz.cli.shell import print_report
from viz.contest.brief import contest_brief
from viz.contest.excess_plot import excess_figure
from viz.contest.figures import beyond_ideal
from viz.contest.report import contest_pages, contest_report, write_contest
from viz.replay.run_data import read_run
from viz.shared.brief import MOST_LINES, WIDTH, height
from viz.shared.plain import plain
from viz.shared.spans import bar_spans

CAR = """
[car]
mass_kg = 145
wheelbase_mm = 1500
front_track_mm = 900
rear_track_mm = 860
kingpin_track_mm = 740
mass_centre_behind_front_axle_mm = 820
mass_centre_height_mm = 330
yaw_inertia_kg_m2 = 38
wheel_radius_mm = 203
drive = "{drive}"
[course]
{course}
[pace]
target_m_per_s = 3.0
lateral_limit_m_per_s2 = 1.5
"""
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
duration_min = 10
"""
COURSES = (
    "segments = [{straight_m = 4}, {radius_m = 4, turn_deg = 60}, {straight_m = 3}]",
    "segments = [{straight_m = 9}]",
    "segments = [{straight_m = 3}, {radius_m = 5, turn_deg = -70}, {radius_m = 6, turn_deg = 50}]",
    "closed = true\nsegments = [{straight_m = 3}, {radius_m = 5, turn_deg = 180}, {straight_m = 3}, {radius_m = 5, turn_deg = 180}]",
)
NAMES = (
    "Kink", "kink", "\u041aink", "\uff2b\uff49\uff4e\uff4b", "Kink 1", "Team \U0001f3c1", "\u05e7\u05d1\u05d5\u05e6\u05d4 1",
    "\u0641\u0631\u064a\u0642", "\u6771\u4eac", "x" * 80, "W " * 40, "A<b>&\\\"", "0", "ideal steering, no toe",
    "ide\u0430l steering, no toe", "\U0001f3c1", "", "a\\u202eb", "-x", "e\u0301\u0301",
)  # fmt: skip
# Lengths as a class would have them, and what the keys' bounds allow at most.
USUAL = {
    "arm_length_mm": (60, 200), "arm_angle_deg": (-30, 40), "toe_in_deg": (-2, 2), "drop_arm_length_mm": (40, 150),
    "drop_arm_behind_front_axle_mm": (40, 250), "drop_arm_joint_spacing_mm": (0, 120), "rack_behind_front_axle_mm": (60, 200),
    "rack_length_mm": (300, 700), "rack_mm_per_turn": (60, 250), "kingpin_inclination_deg": (0, 15), "caster_deg": (0, 10),
    "rod_turns_left": (-4, 4), "rod_turns_right": (-4, 4), "hand_wheel_limit_deg": (5, 400), "least_rod_angle_deg": (5, 30),
}  # fmt: skip
NEEDED = {
    "cross rod": ("arm_length_mm", "arm_angle_deg"),
    "centre arm": ("arm_length_mm", "arm_angle_deg", "drop_arm_length_mm", "drop_arm_behind_front_axle_mm", "drop_arm_joint_spacing_mm"),
    "rack": ("arm_length_mm", "arm_angle_deg", "rack_behind_front_axle_mm", "rack_length_mm", "rack_mm_per_turn"),
}
OPTIONAL = ("toe_in_deg", "kingpin_inclination_deg", "caster_deg", "rod_turns_left", "rod_turns_right", "hand_wheel_limit_deg")


def drawn_rules(dice):
    rule = dice.choice(list(SCORES))
    course = dice.choice(COURSES) if rule != "most distance" else COURSES[-1]
    text = 'title = "Drawn"\n' + CAR.format(drive=dice.choice(("one wheel left", "differential", "solid axle")), course=course)
    text += RACE if rule == "most distance" else ""
    text += "[allowed]\n" + "".join(f"{key} = {{min = {low}, max = {high}}}\n" for key, (low, high) in bounds_of(SetupTable).items())
    if dice.random() < 0.5:
        text += "car = {kingpin_track_mm = {min = 500, max = 860}, mass_centre_height_mm = {min = 200, max = 900}}\n"
    if dice.random() < 0.3:
        text += f"[demanded]\nleast_tip_margin_m_per_s2 = {dice.uniform(1, 13):.2f}\nlargest_kick_lever_mm = {dice.uniform(60, 500):.0f}\n"
    return text + f'[score]\nrule = "{rule}"\ntolerance_percent = {dice.choice((1, 2.5, 10))}\n'


def drawn_entry(dice):
    """An entry's bytes: lawful, usual or extreme, or broken."""
    text = f'team = "{dice.choice(NAMES)}"\n' + (f"members = {dice.randint(0, 61)}\n" if dice.random() < 0.3 else "")
    linkage = dice.choice((*NEEDED, *NEEDED, "turntable", "ideal", "parallel"))
    text += "[setup]\n" + (f'name = "{dice.choice(NAMES)}"\n' if dice.random() < 0.1 else "")
    if linkage == "turntable":
        text += 'pivot = "turntable"\n'
    else:
        text += f'pivot = "stub axles"\nlinkage = "{linkage}"\n'
        keys = [*NEEDED.get(linkage, ()), *(key for key in OPTIONAL if linkage in NEEDED and dice.random() < 0.2)]
        wild = dice.random() < 0.25
        for key in keys:
            low, high = bounds_of(SetupTable)[key] if wild else USUAL[key]
            text += f"{key} = {dice.uniform(low, high):.4g}\n"
    if dice.random() < 0.15:
        low, high = bounds_of(CarTable)["mass_centre_height_mm"]
        text += f"[car]\nkingpin_track_mm = {dice.uniform(500, 860):.0f}\n" + (
            f"mass_centre_height_mm = {dice.uniform(low, high):.0f}\n" if dice.random() < 0.3 else ""
        )
    raw = bytearray(text.encode())
    if dice.random() < 0.1:
        at = dice.randrange(len(raw))
        raw[at : at + dice.randint(0, 9)] = bytes(dice.randrange(256) for _ in range(dice.randint(0, 3)))
    return bytes(raw)


def drawn_contest(folder, seed):
    """A folder; its number of entry files."""
    dice = random.Random(seed)
    folder.mkdir()
    (folder / "rules.toml").write_text(drawn_rules(dice), encoding="utf-8")
    forms = ("{}.toml", "{} \U0001f3c1.toml", "\u05d0{}.toml", "{}.TOML")
    files = [dice.choice(forms).format(index) for index in range(dice.randint(0, 5))]
    for file in files:
        (folder / file).write_bytes(drawn_entry(dice))
    return files


def check_drawn(tmp_path, capsys, seed):
    folder = tmp_path / "class"
    files = drawn_contest(folder, seed)
    if not files:
        with pytest.raises(InputError, match="there is no entry in this folder"):
            contest_result(folder)
        return
    result, comparison = contest_result(folder)
    told = Counter([one.file for one in result.entries] + [one.file for one in result.refused])
    assert told == Counter(files)
    # The last means for what nobody foresaw: none is needed.
    assert [one.reason for one in result.refused if "the simulation can't drive this" in one.reason] == []
    assert all("\n" not in one.reason and one.reason.isprintable() for one in (*result.refused, *result.names))
    assert len({same_name(one.team) for one in result.entries}) == len(result.entries)
    placed = [one for one in result.entries if one.place is not None]
    assert all((one.place is not None) == one.finished for one in result.entries)
    roles = Counter(one.replayed for one in result.entries if one.replayed)
    assert max(roles.values(), default=0) <= 1
    assert len(comparison.results) == 1 + sum(roles.values())
    for one in placed:
        assert one.risks.tip_margin_m_per_s2 + 0.01 >= result.demanded.get("least_tip_margin_m_per_s2", 0)
        assert one.risks.kick_lever_mm - 0.1 <= result.demanded.get("largest_kick_lever_mm", 1e9)
    json.dumps(plain(result), allow_nan=False)
    assert sum(map(height, contest_brief(result, "run"))) <= MOST_LINES
    print_report(contest_report(result))
    assert max(map(cell_len, capsys.readouterr().out.splitlines())) <= WIDTH
    pages = contest_pages(result)
    assert len(pages) == 1 + len(files)
    spans = bar_spans([beyond_ideal(one, result) for one in result.entries])
    assert all(start >= 0 and start + width <= 100 + 1e-9 for start, width in spans)
    if seed % 10 == 0:
        excess_figure(result)
        write_contest(result, comparison, folder, tmp_path / "run")
        assert len(read_run(tmp_path / "run").drives) == len(comparison.results)


@pytest.mark.slow
@pytest.mark.compiled
@pytest.mark.parametrize("seed", [*range(6), *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(6, 20))])
def test_drawn_contests(tmp_path, capsys, seed):
    check_drawn(tmp_path, capsys, seed)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(20, 320))
def test_three_hundred_more(tmp_path, capsys, seed):
    check_drawn(tmp_path, capsys, seed)
