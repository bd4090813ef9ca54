"""A linkage is one file and one entry in a list: two of our own go through the whole program, and nothing else knows any by name."""

import ast
import json
import os
import re
import subprocess
import sys
from math import hypot, radians, sin
from pathlib import Path

import pytest

from sim.keys import Key
from sim.linkages import catalogue
from sim.linkages.front_end import NoNumbers, keys_of
from sim.search.setups import MOST_KEYS

ROOT = Path(__file__).resolve().parents[2]
# A law with two keys of its own: at the hand angle `early_at_deg` the inner wheel is ahead of the outer one by `early_lead_deg`, elsewhere
# by the square of the hand angle.
EARLY = '''"""Early lead: the inner wheel runs ahead of the outer one by the square of the hand angle."""

from dataclasses import dataclass

import numpy as np

from sim.keys import Dial, Span
from sim.linkages.front_end import FrontEnd, number
from sim.linkages.kind import Hand, Kind
from sim.linkages.parts import SteerLaw


@dataclass(frozen=True)
class Lead:
    lead: float = number("early_lead_deg", 0, 20, "give how far the inner wheel is ahead, in degrees", needed=True, usual=4.0,
                         search=Span(0.0, 8.0), dial=Dial("lead of the inner wheel", "°", 0.5))
    at: float = number("early_at_deg", 5, 60, "give the hand angle of that lead, in degrees", 30.0)


def build(front: FrontEnd) -> SteerLaw:
    own: Lead = front.own

    def law(hand):
        ahead = own.lead / 2 * (hand / own.at) ** 2
        return np.stack([hand + ahead, hand - ahead], axis=1)

    return SteerLaw(front.wheels, law, front.stance.toe_in)


KIND = Kind("early lead", build, Hand.STEER, own=Lead)
'''
SCENARIO = (
    (ROOT / "tests/scenarios/yard.toml").read_text(encoding="utf-8").partition("[[setup]]")[0]
    + """
[[setup]]
name = "lead"
pivot = "stub axles"
linkage = "early lead"
early_lead_deg = 5.0
[[setup]]
name = "crank"
pivot = "stub axles"
linkage = "bell crank"
arm_length_mm = 110.0
arm_angle_deg = 13.9
crank_length_mm = 75.0
crank_pin_behind_front_axle_mm = 30.0
[uncertainty]
"setup.crank.crank_length_mm" = 1.0
"""
)
RULES = """
[score]
rule = "least drive work"
[allowed]
linkages = ["bell crank", "early lead"]
arm_length_mm = {min = 60, max = 200}
arm_angle_deg = {min = 0, max = 30}
crank_length_mm = {min = 60, max = 90}
crank_pin_behind_front_axle_mm = {min = 0, max = 90}
early_lead_deg = {min = 0, max = 10}
"""


def recipe():
    """The file that DEVELOPERS.md's recipe shows."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("### Recipe: a linkage")[2]
    return re.search(r"```python\n(.*?)```", text, re.S)[1]


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """What the program says with the two linkages: by the name of the question, and `same` and `benches` of `own_linkages.py`."""
    folder = tmp_path_factory.mktemp("own")
    files = folder / "linkages"
    files.mkdir()
    (files / "bell_crank.py").write_text(recipe(), encoding="utf-8")
    (files / "early_lead.py").write_text(EARLY, encoding="utf-8")

    def written(name, text):
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
        return str(folder / name)

    yard = written("yard.toml", SCENARIO)
    misspelt = written("misspelt.toml", SCENARIO.replace("crank_length_mm = 75.0", "crank_lenght_mm = 75.0"))
    other = written("other.toml", SCENARIO.replace("early_lead_deg = 5.0", "early_lead_deg = 5.0\ncrank_length_mm = 75.0"))
    missing = written("missing.toml", SCENARIO.replace("early_lead_deg = 5.0", ""))
    beyond = written("beyond.toml", SCENARIO.replace("crank_length_mm = 75.0", "crank_length_mm = 5.0"))
    unknown = written("unknown.toml", SCENARIO.replace('"bell crank"', '"bell krank"'))
    unbuilt = written("unbuilt.toml", SCENARIO.replace("arm_length_mm = 110.0\narm_angle_deg = 13.9",
                                                       "arm_length_mm = 600.0\narm_angle_deg = 80.0"))  # fmt: skip
    sheet, readings = str(folder / "sheet.pdf"), written("readings.csv", "left_deg,right_deg\n")
    contest = folder / "contest"
    written("contest/rules.toml", SCENARIO.partition("[[setup]]")[0] + RULES)
    for name, kept in (("lead", 'name = "lead"'), ("crank", 'name = "crank"')):
        table = next(part for part in SCENARIO.partition("[uncertainty]")[0].split("[[setup]]") if kept in part)
        written(f"contest/{name}.toml", f'team = "{name} team"\n[setup]{table}')
    questions = {
        "angles": ["angles", yard, "--json"], "angles read": ["angles", yard],
        "run": ["run", yard, "--out", str(folder / "run"), "--json"], "knock": ["knock", yard, "--json"],
        "search": ["search", yard, "--json"], "search lead": ["search", yard, "--setup", "lead"],
        "template": ["template", yard, "--out", sheet, "--json"], "assemble": ["assemble", yard, "--out", sheet, "--json"],
        "assemble lead": ["assemble", yard, "--setup", "lead", "--out", sheet],
        "template read": ["template", yard, "--out", sheet], "spread": ["spread", yard, "--samples", "16", "--json"],
        "contest": ["contest", str(contest), "--json"], "misspelt": ["angles", misspelt], "other": ["angles", other],
        "missing": ["angles", missing], "beyond": ["angles", beyond], "unknown": ["angles", unknown], "unbuilt": ["angles", unbuilt],
        "bench": ["bench", yard, readings, "--setup", "lead"],
        "begun": ["new", str(folder / "begun.toml"), "--like", "bell", "--json"],
        "doubted": ["angles", written("doubted.toml", SCENARIO.replace("crank_length_mm = 75.0", "crank_length_mm = 300.0")), "--json"],
        "free": ["search", yard, "--setup", "crank", "--free", "crank_lenth_mm=60:80"],
    }  # fmt: skip
    script = Path(__file__).with_name("own_linkages.py")
    done = subprocess.run(
        [sys.executable, str(script), str(files), json.dumps(list(questions.values()))], capture_output=True, text=True, cwd=folder,
        env=os.environ | {"PYTHONPATH": str(ROOT)}, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    return dict(zip(questions, found.pop("answers"), strict=True)) | found


def answer(told, question):
    code, out, err = told[question]
    assert code == 0, err
    return json.loads(out)


def setup(result, name):
    return next(one for one in result["setups"] if one["name"] == name)


@pytest.mark.slow
def test_angles_are_those_of_the_law_and_rods_those_of_the_drawing(told):
    result = answer(told, "angles")
    lead, crank = setup(result, "lead"), setup(result, "crank")
    assert lead["rods"] == []
    for row in lead["rows"]:
        assert row["left_deg"] - row["right_deg"] == pytest.approx(5.0 * (row["hand_deg"] / 30.0) ** 2, rel=0, abs=1e-9)
    # The joint of an arm stands 110 mm from a kingpin 370 mm beside the middle, the lever's end 105 mm behind the axle in the middle.
    behind, inside = 110.0 * sin(radians(90 - 13.9)), 110.0 * sin(radians(13.9))
    rod = hypot(behind - 105.0, 370.0 - inside)
    assert [one["length_mm"] for one in crank["rods"]] == pytest.approx([rod, rod], rel=0, abs=1e-9)
    assert all(row["left_deg"] > 0 for row in crank["rows"] if row["hand_deg"] > 0)
    assert "early lead" not in told["angles read"][2]


@pytest.mark.slow
def test_both_drive_the_course(told):
    for name in ("lead", "crank"):
        driven = setup(answer(told, "run"), name)
        assert driven["finished"]
        assert abs(driven["ledger_residual"]) < 1e-6


@pytest.mark.slow
def test_a_search_takes_the_first_set_up_with_rods_and_frees_its_keys(told):
    result = answer(told, "search")
    assert (result["setup"], result["linkage"]) == ("crank", "bell crank")
    free = {one["key"]: (one["low"], one["high"]) for one in result["free"]}
    assert free == {
        "arm_length_mm": pytest.approx((66.0, 176.0)), "arm_angle_deg": pytest.approx((-1.1, 28.9)),
        "crank_length_mm": pytest.approx((45.0, 120.0)), "crank_pin_behind_front_axle_mm": pytest.approx((-10.0, 70.0)),
    }  # fmt: skip
    said = " ".join(told["search lead"][1].split())
    assert '"lead" has no arms and rods to choose. Only early_lead_deg was searched.' in said


@pytest.mark.slow
def test_a_template_takes_the_first_set_up_with_rods(told):
    result = answer(told, "template")
    assert (result["setup"], result["linkage"]) == ("crank", "bell crank")
    assert result["worksheet"]["plan"] == "quick"
    assert [one for one in result["worksheet"]["columns"] if one.startswith("rod_")] == ["rod_left_mm", "rod_right_mm"]
    assert "the first set-up with rods to set" in told["template read"][1]


@pytest.mark.slow
def test_the_order_of_work_knows_their_rods(told):
    result = answer(told, "assemble")
    assert (result["setup"], result["linkage"], result["lock_nuts"]) == ("crank", "bell crank", 4)
    rods = setup(answer(told, "angles"), "crank")["rods"]
    assert [(one["name"], one["length_mm"]) for one in result["rods"]] == [(one["name"], one["length_mm"]) for one in rods]
    assert '"early lead" is a rule for angles and has no rods' in " ".join(told["assemble lead"][1].split())


@pytest.mark.slow
def test_knock_spread_and_contest_know_them(told):
    assert [one["name"] for one in answer(told, "knock")["setups"]] == ["lead", "crank"]
    assert "crank_length_mm" in told["spread"][1]
    assert told["spread"][0] == 0, told["spread"][2]
    contest = answer(told, "contest")
    assert {entry["setup"]["linkage"] for entry in contest["entries"]} == {"bell crank", "early lead"}


def line(told, question):
    code, out, err = told[question]
    assert (code, out) == (2, "")
    return err.rstrip("\n").partition(": ")[2].partition(".toml: ")[2] or err.rstrip("\n")


@pytest.mark.slow
def test_wrong_keys_are_refused_with_what_to_do(told):
    assert line(told, "misspelt") == 'setup "crank".crank_lenght_mm: no such key; did you mean crank_length_mm?'
    assert line(told, "other") == 'setup "lead".crank_length_mm: linkage "early lead" does not use this key; leave it out'
    assert line(told, "missing") == 'setup "lead".early_lead_deg: linkage "early lead" needs this key; add it'
    assert line(told, "beyond") == 'setup "crank".crank_length_mm: 5.0 is below 10; give the bell crank from pin to joint in millimetres'
    assert line(told, "unknown") == 'setup "crank".linkage: "bell krank" is not known here; did you mean bell crank?'
    assert line(told, "unbuilt").startswith('setup "crank".arm_angle_deg: the arms cross the middle of the car')
    assert "did you mean crank_length_mm?" in told["free"][2]
    assert '"lead" has no rods and arms to set; choose one of "crank"' in told["bench"][2]


@pytest.mark.slow
def test_a_new_scenario_asks_for_its_numbers_and_unusual_ones_are_doubted(told):
    text = Path(answer(told, "begun")["written"]).read_text(encoding="utf-8")
    assert "# MEASURE: the bell crank, from its pin to the rods' joint [30 to 200 is usual]" in text
    assert "crank_pin_behind_front_axle_mm = 30 " in text
    assert '"crank": crank_length_mm = 300 is unusual (30 to 200 is usual); did you mean 30?' in answer(told, "doubted")["doubts"]
    assert answer(told, "angles")["doubts"] == []


@pytest.mark.slow
def test_a_scenario_comes_back_as_it_was_written(told):
    assert told["same"] is True


@pytest.mark.slow
def test_the_steering_bench_shows_them(told):
    benches = told["benches"]
    assert set(benches) == {*catalogue.KINDS, "bell crank", "early lead"}
    crank, lead = benches["bell crank"], benches["early lead"]
    assert crank["dials"][:-2] == ["arm length", "kink of the arms", "rod turns, left", "rod turns, right", "bell crank", "pin behind axle",
                                   "toe-in, each wheel"]  # fmt: skip
    assert lead["dials"][:-2] == ["lead of the inner wheel", "toe-in, each wheel"]
    assert (crank["changed"], lead["changed"]) == (112.0, 6.0)
    for one in (crank, lead):
        assert one["problem"] == ""
        assert one["converged"]
        assert min(one["steer"]) > 0
    # At 0.3 rad the lever's end stands 75 sin 0.3 mm to a side; both rods begin there and end at the arms' joints.
    ((left, right),) = crank["bars"]
    assert left == right
    assert abs(left[1]) == pytest.approx(0.075 * sin(0.3), rel=0, abs=1e-12)
    assert [rod[0] for rod in crank["rods"]] == crank["joints"]
    assert [rod[1] for rod in crank["rods"]] == [left, right]
    assert (lead["joints"], lead["rods"], lead["bars"]) == (None, [], [])
    assert crank["calls"] > lead["calls"]
    assert 'linkage = "bell crank"' in crank["saved"]
    assert "crank_length_mm = 75.0" in crank["saved"]
    assert "arm_length_mm = 110.0" not in crank["saved"]  # its joint was dragged


# --- nothing else knows a linkage by its name -------------------------------------------------------------------------


def names_known(root=ROOT):
    """Places outside its own file that know a linkage by name or by a key of its own.

    A name of two words, and a key of a linkage's own, in any text that is no docstring or as an attribute; a name of one word, which may
    be an ordinary word too, where it is compared with a linkage or a kind, and where two such names stand together.  A turntable is a
    pivot and has a key of its own.
    """
    owners, ones = {}, set()
    for file in catalogue.FILES:
        kind = next(kind for kind in catalogue.KINDS.values() if kind.build.__module__ == f"sim.linkages.{file}")
        if not kind.axle:
            ones |= {kind.name}
        words = {kind.name, *(key.name for key in keys_of(kind.own))}
        owners |= {word: file for word in words if " " in word or "_" in word}
    found = []
    for path in sorted(file for house in ("sim", "viz") for file in (root / house).rglob("*.py")):
        tree, place = ast.parse(path.read_text(encoding="utf-8")), path.relative_to(root).as_posix()
        own = path.stem if path.parent.name == "linkages" else ""
        said = {
            id(node.body[0].value)
            for node in ast.walk(tree)
            if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef) and node.body and isinstance(node.body[0], ast.Expr)
        }
        for node in ast.walk(tree):
            text = node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in said else ""
            text = node.attr if isinstance(node, ast.Attribute) else text
            found += [f"{place}:{node.lineno} {word}" for word, owner in owners.items() if owner != own and re.search(rf"\b{word}\b", text)]
            inner = {one.value for one in ast.walk(node) if isinstance(one, ast.Constant)} & ones if isinstance(
                node, ast.Compare | ast.Tuple | ast.List | ast.Set | ast.Dict) else set()  # fmt: skip
            about = isinstance(node, ast.Compare) and re.search("linkage|kind", ast.unparse(node))
            if place != "sim/linkages/catalogue.py" and (len(inner) >= 2 or (inner and about)):
                found.append(f"{place}:{node.lineno} {' '.join(sorted(inner))}")
    return found


@pytest.mark.slow
def test_a_linkage_is_known_by_name_in_its_own_file_alone():
    assert names_known() == []


def test_the_search_for_names_sees_them(tmp_path):
    texts = {
        "sim/a.py": '"""A cross rod."""\nif setup.linkage == "ideal":\n    value = setup.rack_length_mm\n',
        "viz/b.py": 'KINDS = ("parallel", "fraction")\nshown = f"with a cross rod {x}"\nideal = row["ideal"]\n',
        "sim/linkages/rack.py": 'KEY = "rack_length_mm"\nOTHER = "drop_arm_length_mm"\n',
    }
    for name, text in texts.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    assert names_known(tmp_path) == [
        "sim/a.py:2 ideal", "sim/a.py:3 rack_length_mm", "sim/linkages/rack.py:2 drop_arm_length_mm",
        "viz/b.py:1 fraction parallel", "viz/b.py:2 cross rod",
    ]  # fmt: skip


# --- what a declaration has to be -------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", catalogue.KINDS.values(), ids=lambda kind: kind.name)
def test_a_kind_frees_no_more_than_a_search_takes_and_begins_within_bounds(kind):
    assert 1 <= len(kind.searched) <= MOST_KEYS
    for key in kind.needs:
        assert key.low <= key.usual <= key.high
    assert len({key.name for key in kind.keys}) == len(kind.keys)
    assert kind.own is not None
    assert (keys_of(kind.own) == ()) == (kind.own is NoNumbers)


def test_keys_become_si_by_the_unit_in_their_name():
    def si(name, value):
        return Key(name, 0, 1, "").si(value)

    assert si("a_mm", 250.0) == 0.25
    assert si("a_deg", 180.0) == pytest.approx(3.141592653589793, rel=1e-15, abs=0)
    assert si("a_mm_per_turn", 62.83185307179586) == pytest.approx(0.01, rel=1e-15, abs=0)
    assert si("share", 0.7) == 0.7


def test_a_needed_or_searched_key_has_a_usual_value():
    with pytest.raises(ValueError, match="a_mm: a key that is needed or searched has a usual value"):
        Key("a_mm", 0, 1, "", needed=True)
