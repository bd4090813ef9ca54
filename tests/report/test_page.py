"""The page of a run as text: its parts and their order, its size, its figures, and what it does with any run."""

import json
import re
import shutil
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser
from types import UnionType
from typing import get_args, get_origin

import numpy as np
import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st
from pydantic import BaseModel

from sim.errors import InputError
from sim.lap.ladder import Model
from sim.linkages.catalogue import KINDS
from sim.scenario.file import find_scenario, load_scenario, shipped_names
from sim.scenario.scenario import Scenario
from sim.store.run_folder import MARKER
from sim.study.compare import compare
from viz.manual.pages import read_page
from viz.report.again import driven_again
from viz.report.classroom import MOST_ASKED, class_pages
from viz.report.data import MOST_ROWS, stride_of
from viz.report.inputs import NO_UNIT, input_groups, unit_of
from viz.report.page import MOST_SHOWN, NO_BATTERY, NO_RACE, REPORT, ledger_context, report_page, steerings_of, write_report
from viz.report.words import (
    error_words,
    finding_line,
    left_out,
    pair_lines,
    pair_of,
    sure_lines,
    to_do_lines,
    toe_words,
)  # fmt: skip
from viz.run.folder import write_run
from viz.run.report import UNSURE, finding, found_and_worth, run_report
from viz.shared.axle_lines import apart_words, rear_crossing

LARGEST = 3_000_000  # [bytes] of a page
WITHOUT_UNIT = {
    "load_sensitivity", "friction", "friction_dry", "friction_greased", "rolling_resistance", "scale", "fraction", "gear_ratio",
    "drive_efficiency", "peukert_exponent", "usable_share",
}  # fmt: skip
CHANGE = "What a change takes and saves"  # where there is something to gain
HEADINGS = [
    "Why: two cars where they differ most", "Watch the lap", "Turn the hand wheel", "Where on the course the tyres scrub",
    "Where the energy goes", CHANGE, "How sure is this?", "Cautions", "What went in",
]  # fmt: skip


class Seen(HTMLParser):
    """A page's text without its script and style, its headings, its tags, what it links to; every tag is closed in order."""

    VOID = ("meta", "input", "br")

    def __init__(self, text):
        super().__init__()
        self.text, self.headings, self.tags, self.links, self.open, self.ids = "", [], [], [], [], []
        self.feed(text)
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.ids += [value for name, value in attrs if name == "id"]
        self.links += [value for name, value in attrs if name in ("href", "src", "xlink:href")]
        assert not [name for name, _ in attrs if name.startswith("on")]
        if tag not in self.VOID:
            self.open.append(tag)
        if tag == "h2":
            self.headings.append("")

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in self.VOID:
            self.open.pop()

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if not {"script", "style"} & set(self.open):
            self.text += data
            if self.open and self.open[-1] == "h2":
                self.headings[-1] += data


def data_of(page):
    return json.loads(page.partition('id="data">')[2].partition("</script>")[0])


# --- what stands on it ------------------------------------------------------------------------------------------------


def test_the_page_begins_with_the_finding_and_what_to_do(bend_page, bend_run):
    seen = Seen(bend_page)
    assert seen.headings == HEADINGS
    places = [seen.text.index(words) for words in (finding_line(bend_run), "What to do.", *HEADINGS)]
    assert places == sorted(places)
    assert finding_line(bend_run) + " " + to_do_lines(bend_run)[0] == finding(bend_run)  # one source of words
    for line in (*pair_lines(pair_of(bend_run, steerings_of(bend_run))), *left_out()):
        assert line in seen.text
    assert len(seen.ids) == len(set(seen.ids))


def test_every_chart_has_its_table(bend_page):
    seen = Seen(bend_page)
    assert seen.tags.count("svg") == 5  # two cars, three maps
    assert seen.tags.count("canvas") == 5
    tables = [part for part in bend_page.split("<section aria-labelledby=")[1:6]]
    assert all("<details>" in part and "<table" in part for part in tables)
    for wheel in ("front left", "front right", "rear left", "rear right"):
        assert wheel in seen.text


def test_the_map_of_the_lap_has_a_place_for_its_car_and_its_colours(bend_page):
    places = [bend_page.index(part) for part in ('id="mapName"', 'id="map"', 'id="mapKey" hidden', 'id="firstCar"')]
    assert places == sorted(places)


def test_the_page_needs_no_network_and_runs_no_script_but_its_own(bend_page):
    seen = Seen(bend_page)
    assert not set(seen.tags) & {"link", "img", "iframe", "object", "base", "form"}
    assert all(link.startswith("#") for link in seen.links)
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', bend_page)[1]
    assert policy.startswith("default-src 'none'; style-src 'unsafe-inline'; script-src &#39;sha256-".replace("&#39;", "'"))
    assert "unsafe-eval" not in policy
    assert not re.search(r"fetch\(|XMLHttpRequest|import\(|WebSocket|innerHTML|eval\(", bend_page)
    outside = set(re.findall(r"https?://[^\"' <]+", bend_page))
    assert outside <= {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}  # names, not addresses


def test_the_same_run_gives_the_same_page(bend_page, bend_run):
    assert report_page(bend_run) == bend_page


def test_names_are_escaped_everywhere(odd, markup):
    for page in (report_page(odd), *class_pages(odd)):
        assert markup not in page
        assert page.count("<script") <= 2
        assert markup in Seen(page).text


@pytest.mark.slow
@pytest.mark.parametrize("name", shipped_names())
def test_pages_of_the_shipped_scenarios(name):
    path = find_scenario(name)
    comparison = compare(load_scenario(path, name), path.parent, name)
    page = report_page(comparison)
    assert len(page.encode()) < LARGEST
    assert [heading for heading in HEADINGS if heading != CHANGE] == [heading for heading in Seen(page).headings if heading != CHANGE]
    assert all(Seen(one) for one in class_pages(comparison))


@pytest.mark.slow
@pytest.mark.compiled
def test_a_page_of_many_set_ups_stays_small(bend_run):
    many = tuple(replace(one, name=f"{one.name} {index}") for index in range(20) for one in bend_run.results)
    setups = tuple(
        setup.model_copy(update={"name": f"{setup.name} {index}"}) for index in range(20) for setup in bend_run.scenario.setup
    )  # fmt: skip
    crowd = replace(bend_run, results=many, scenario=bend_run.scenario.model_copy(update={"setup": setups}))
    page = report_page(crowd)
    text = Seen(page).text
    assert len(page.encode()) < LARGEST
    assert MOST_SHOWN <= len(data_of(page)["setups"]) <= MOST_SHOWN + 2
    assert f"{60 - len(data_of(page)['setups'])} more set-ups were driven" in text
    assert all(one.name in text for one in many)
    handout, _ = class_pages(crowd)
    assert f"{60 - MOST_ASKED} more set-ups of this run are left out" in Seen(handout).text


@pytest.mark.slow
def test_twelve_set_ups_and_three_laps_stay_small():
    path = find_scenario("quay-loop")
    scenario = load_scenario(path, "quay-loop")
    more = [setup.model_copy(update={"name": f"{setup.name}, toe-out", "toe_in_deg": -0.5}) for setup in scenario.setup[:4]]
    long = scenario.model_copy(update={"setup": (*scenario.setup, *more), "pace": scenario.pace.model_copy(update={"laps": 3})})
    run = compare(long, path.parent, "quay-loop")
    page = report_page(run)
    assert len([one for one in run.results if one.ledger is not None]) == len(data_of(page)["setups"]) == 12
    assert len(page.encode()) <= LARGEST


def test_long_laps_are_thinned():
    class Long:
        def __init__(self, rows):
            self.time = np.zeros(rows)

    assert stride_of([Long(500)]) == 5
    laps = [Long(40_000)] * 3
    assert sum(len(lap.time) / stride_of(laps) for lap in laps) <= MOST_ROWS


def test_the_replay_opens_at_the_place_that_is_told(bend_page, bend_run):
    data, pair = data_of(bend_page), pair_of(bend_run, steerings_of(bend_run))
    for place, side in zip(data["pair"], (pair.better, pair.worse), strict=True):
        one = data["setups"][place]
        assert one["name"] == side.name
        assert one["lap"]["power"][one["lap"]["told"]] == side.power.tolist()  # to the digit: one figure is told in one way


# --- its words --------------------------------------------------------------------------------------------------------


def test_the_pair_is_that_of_the_finding(bend_run):
    pair = pair_of(bend_run, steerings_of(bend_run))
    assert (pair.better.name, pair.worse.name) == ("ideal", "parallel")
    assert pair.bends
    first, parallel, ideal = pair_lines(pair)
    assert re.fullmatch(
        r'In the left bend, \d+ m after the start, where its radius is 8\.0 m, at 18 km/h, the tyres of "parallel" lose \d+\.\d W, those '
        r'of "ideal" \d+\.\d W\. Most of the difference is at the front right wheel: \d+\.\d W against \d+\.\d W\.', first,
    )  # fmt: skip
    assert re.fullmatch(
        r'"parallel": its inner front wheel turns 1\.\d degrees too little for its outer wheel \(with that at .*; its front axle lines are '
        r"parallel and never meet: they cross the rear axle's line 74\scm apart, as far as its kingpins stand apart, whatever the bend; "
        "so the tyres must slip to go round.",
        parallel,
    )
    assert ideal.startswith(
        '"ideal": its inner front wheel stands as ideal steering would have it; both front axle lines meet in one point'
    )
    # In a right turn all angles change their signs, and the words do not.
    turned = replace(pair.worse, steer=-pair.worse.steer, error=-pair.worse.error)
    assert error_words(turned) == parallel
    far = replace(pair.worse, error=-pair.worse.error, crossings=None)
    assert "degrees too far" in error_words(far)


def figures(text):
    return [float(one) for one in re.findall(r"\d+\.\d", text)]


def test_an_error_says_against_what(bend_run):
    """A lesson tells how far ideal angles lie apart, `angles` errors up to the lock: "7.9 degrees too little" was taken for either."""
    side = pair_of(bend_run, steerings_of(bend_run)).worse
    for turn in (1, -1):
        for error in (side.error, -side.error):
            words = error_words(replace(side, steer=turn * side.steer, error=turn * error)).partition(";")[0]
            off, outer, wanted, inner = figures(words)
            assert outer == inner  # it is parallel
            assert round(abs(wanted - inner), 1) == off
            assert (wanted > inner) == ("too little" in words)
    opposite = np.radians([2.0, -1.0, 0.0, 0.0])
    assert error_words(replace(side, steer=opposite, crossings=None)).endswith(" for its outer wheel.")


def test_parallel_lines_never_meet_whatever_the_bend(bend_run):
    """ "miss each other by 74 cm" stood there in every bend: it is how far the kingpins stand apart."""
    side = pair_of(bend_run, steerings_of(bend_run)).worse
    assert bend_run.scenario.car.kingpin_track == pytest.approx(0.74, rel=0, abs=1e-9)
    for deg in (2.0, 12.0, 40.0, -25.0):
        steer = np.radians([deg, deg, 0.0, 0.0])
        wheels = side.steering.front_wheels(np.radians([deg]))
        both = tuple(rear_crossing(wheels.y[0, i], wheels.x[0, i] + bend_run.scenario.car.wheelbase, steer[i]) for i in (0, 1))
        assert abs(both[0] - both[1]) == pytest.approx(0.74, rel=0, abs=1e-9)
        words = error_words(replace(side, steer=steer, crossings=both))
        assert "never meet: they cross the rear axle's line 74\N{NO-BREAK SPACE}cm apart, as far as its kingpins" in words
    apart = error_words(replace(side, steer=np.radians([12.0, 11.0, 0.0, 0.0]), crossings=(7.0, 7.5)))
    assert "its front axle lines cross the rear axle's line 50\N{NO-BREAK SPACE}cm apart instead of in one point" in apart
    assert "kingpins" not in apart_words(0.5, True, 0.74)


ROWS = re.compile(r"<tr>(.*?)</tr>", re.S)


def costs_of(page):
    """The first table of a page: name and cells of each row."""
    table = page[page.index('<table class="costs">') :].partition("</table>")[0]
    assert page.index("<table") == page.index('<table class="costs">')
    cells = [[re.sub("<[^>]*>", "", cell) for cell in re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row)] for row in ROWS.findall(table)]
    assert len({len(row) for row in cells}) == 1
    return cells


def test_costs_are_the_differences_of_what_is_printed(bend_page, bend_run):
    head, *rows = costs_of(bend_page)
    assert head == ["set-up", "drive work J", "beyond ideal J", "at the wheels Wh"]
    ideal = float(rows[0][1])
    for one, (name, work, more, watt_hours) in zip(bend_run.results, rows, strict=True):
        assert name == one.name
        assert float(more) == round(float(work) - ideal, 1)
        assert float(watt_hours) == pytest.approx(one.ledger.drive_work / 3600, rel=0, abs=5e-4)
        assert f"{one.name}</bdi></span>: {work} J" in bend_page  # below, too
    assert "battery.rated_capacity_Ah" in Seen(bend_page).text
    assert "race.duration_min" in Seen(bend_page).text


def test_the_table_of_energies_adds_up_with_the_drivers_hands(bend_run):
    handled = replace(bend_run.results[0].ledger, hand_work=4.0, kinetic=bend_run.results[0].ledger.kinetic + 4.0)
    changed = replace(bend_run, results=(replace(bend_run.results[0], ledger=handled), *bend_run.results[1:]))
    for run in (bend_run, changed):
        table = ledger_context(run)
        work = table["columns"].index("drive work")
        assert table["columns"][work - 1] == "put in by the driver's hands"
        for _, _, cells in table["rows"]:
            assert len(cells) == len(table["columns"])
            # Each of the parts is rounded to a tenth.
            assert sum(map(float, cells[:work])) == pytest.approx(float(cells[work]), rel=0, abs=0.05 * (work + 1))
    assert ledger_context(changed)["rows"][0][2][work - 1] == "-4.0"


def test_the_keys_that_a_page_asks_for_are_keys():
    for table, key in re.findall(r"\b(motor|battery|race)\.(\w+)", NO_BATTERY + NO_RACE):
        models = [part for part in parts_of(Scenario.model_fields[table].annotation) if hasattr(part, "model_fields")]
        assert [key in model.model_fields for model in models] == [True]


@pytest.mark.compiled
def test_a_danger_has_its_place_below_what_to_do(compared_of, yard, bend_page):
    rods = compared_of(yard, ('linkage = "ideal"', 'linkage = "cross rod"\narm_length_mm = 110\narm_angle_deg = 14'))
    todo = report_page(rods).partition('<div class="todo">')[2].partition("</div>")[0]
    assert "What to do." in todo.partition("Danger:")[0]
    assert "</strong> fit a stop before the left wheel passes" in todo.partition("Danger:")[2]
    assert 'class="danger"' not in bend_page
    assert "Danger:" not in Seen(bend_page).text


def test_toe_is_told_on_a_straight(bend_run):
    side = pair_of(bend_run, steerings_of(bend_run)).worse
    assert "point 2.0 degrees towards each other" in toe_words(replace(side, steer=np.radians([-1.0, 1.0, 0.0, 0.0])))
    assert "point 2.0 degrees away from each other" in toe_words(replace(side, steer=np.radians([1.0, -1.0, 0.0, 0.0])))
    assert "stand parallel" in toe_words(replace(side, steer=np.zeros(4)))


ALONE = """
[[setup]]
name = "short lock"
pivot = "stub axles"
linkage = "parallel"
hand_wheel_limit_deg = 5
"""


@pytest.mark.compiled
def test_one_that_gets_round_alone_stands_beside_ideal_steering(compared_of, yard):
    head, _, setups = yard.partition("[[setup]]")
    alone = compared_of(head + "[[setup]]" + setups.partition("[[setup]]")[0].replace('"ideal"', '"parallel"') + ALONE)
    pair = pair_of(alone, steerings_of(alone))
    assert [pair.better.name, pair.worse.name] == ["ideal steering, no toe", "parallel"]
    assert to_do_lines(alone)
    page = report_page(alone)
    assert [one["name"] for one in data_of(page)["setups"]] == ["parallel", "short lock", "ideal steering, no toe"]
    assert "did not finish" in Seen(page).text


def test_a_run_in_which_nothing_gets_round(compared_of, yard):
    fast = (("target_m_per_s = 3.0", "target_m_per_s = 9.0\nlateral_limit_m_per_s2 = 15\nstart_m_per_s = 8.0"),)
    none = compared_of(yard, *fast)
    assert not any(one.finished for one in none.results)
    assert pair_of(none, steerings_of(none)) is None
    seen = Seen(report_page(none))
    assert seen.headings == [heading for heading in HEADINGS[1:] if heading != CHANGE]
    assert "Change what the reasons below name, then run it again." in seen.text
    for page in class_pages(none):
        assert Seen(page)
    assert "What ends the drive" in Seen(class_pages(none)[0]).text


@pytest.mark.slow
@pytest.mark.parametrize("rung", [rung for rung in Model if rung != Model.SLIPPING_FOUR_WHEELS], ids=lambda rung: rung.label)
def test_simpler_rungs_of_the_ladder(rung, bend_run):
    path = find_scenario("first-bend")
    simpler = compare(bend_run.scenario, path.parent, "first-bend", rung)
    seen = Seen(report_page(simpler))
    assert f"simpler rung of the ladder, the {rung.label}" in seen.text
    assert all(Seen(page) for page in class_pages(simpler))


def test_the_page_says_that_there_is_no_uncertainty(bend_run, bend_page):
    assert sure_lines(bend_run)[0] == UNSURE
    assert UNSURE in Seen(bend_page).text
    assert any(UNSURE in str(line) for line in run_report(bend_run, None))  # as the terminal says it


def test_the_command_for_the_unsure_numbers_is_one_that_runs(bend_run):
    """Without a table of ranges `spread` refuses a scenario, unless it takes the literature's."""
    assert not bend_run.scenario.uncertainty
    assert sure_lines(bend_run)[-1].startswith("`scrubwise spread scenario.toml --literature` drives ")
    scenario = bend_run.scenario.model_copy(update={"uncertainty": {"car.mass_kg": 3.0}})
    assert sure_lines(replace(bend_run, scenario=scenario))[-1].startswith("`scrubwise spread scenario.toml` drives ")


def test_what_is_left_out_is_what_the_manual_lists():
    section = read_page("trust").text.partition("## What is left out")[2].partition("\n## ")[0]
    assert len(left_out()) == section.count("\n- ") >= 5
    assert all(line.split()[0] in section for line in left_out())


# --- what went in -----------------------------------------------------------------------------------------------------


def numeric_keys(model, path=""):
    """The keys of all numbers that a scenario can hold."""
    for name, field in model.model_fields.items():
        for part in parts_of(field.annotation):
            if isinstance(part, type) and issubclass(part, BaseModel):
                yield from numeric_keys(part, f"{path}{name}.")
            elif part in (int, float):
                yield name


def parts_of(annotation):
    if get_origin(annotation) in (None, type):
        yield annotation
    elif get_origin(annotation) is UnionType or get_args(annotation):
        for one in get_args(annotation):
            yield from parts_of(one)


def test_every_number_of_a_scenario_has_its_unit():
    keys = {*numeric_keys(Scenario), *(key.name for kind in KINDS.values() for key in kind.keys)} - {"uncertainty"}
    assert len(keys) > 60
    assert {"mass_kg", "friction", "gear_ratio"} <= keys
    assert {key for key in keys if unit_of(key) == NO_UNIT} <= WITHOUT_UNIT, "give the unit in viz/report/inputs.py"
    assert {unit_of(key) for key in WITHOUT_UNIT} == {NO_UNIT}
    assert unit_of("car.tyre.cornering_stiffness_per_rad") == "per rad"
    assert unit_of("pace.lateral_limit_m_per_s2") == "m/s²"
    assert unit_of("setup.my.car_mm.toe_in_deg") == "degrees"


def test_all_inputs_stand_on_the_page(bend_run, bend_page):
    text = "".join(Seen(bend_page).text.split())
    rows = [row for group in input_groups(bend_run.scenario) for row in group.rows]
    assert len(rows) > 50
    for key, value in (
        ("mass_kg", "145 kg"),
        ("tyre.law", "linear"),
        ("closed", "no"),
        ("segments[2].radius_m", "8 m"),
        ("laps", "1"),
    ):
        assert f"{key}{value}".replace(" ", "") in text
    assert "toe_in_deg0degrees" in text


# --- the command ------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def made(compared_of, yard, tmp_path_factory):
    """A run folder of the small scenario, never changed."""
    folder = tmp_path_factory.mktemp("made") / "yard-run"
    write_run(compared_of(yard), folder.parent, folder, write_report)
    return folder


@pytest.fixture
def run_folder(made, tmp_path):
    return shutil.copytree(made, tmp_path / "yard-run")


@pytest.mark.compiled
def test_run_writes_the_page_and_report_writes_it_again(scrubwise, tmp_path, yard):
    run_folder = tmp_path / "yard-run"
    (tmp_path / "yard.toml").write_text(yard, encoding="utf-8")
    assert scrubwise("run", "yard.toml")[0] == 0
    page = (run_folder / REPORT).read_bytes()
    assert REPORT in json.loads((run_folder / MARKER).read_text(encoding="utf-8"))["files"]
    code, out, err = scrubwise("report", "yard-run", "--out", "page.html")
    assert (code, err) == (0, "")
    assert "Written to page.html" in out
    assert (tmp_path / "page.html").read_bytes() == page
    code, out, err = scrubwise("report", "yard-run", "--class", "--out", "class.html", "--json")
    assert (code, err) == (0, "")
    told = json.loads(out)
    assert told["written"] == ["class.html", "class-answers.html"]
    assert told["notes"] == []
    handout, answers = ((tmp_path / name).read_text(encoding="utf-8") for name in told["written"])
    assert told["finding"] in Seen(answers).text
    assert told["finding"] not in Seen(handout).text
    assert scrubwise("run", "yard.toml")[0] == 0  # the folder can still be replaced


def test_the_handout_asks_three_questions_with_the_figures_of_the_run(bend_run):
    handout, answers = map(Seen, class_pages(bend_run))
    first, _, second = handout.text.partition("What the simulation found")
    assert [words for words in handout.headings if words[0].isdigit()] == ["1. Predict", "2. Explain", "3. Decide"]
    assert "1. Predict" in first
    ledgers = [one.ledger for one in bend_run.results]
    for ledger in ledgers:
        assert f"{ledger.drive_work:.1f} J" not in first
        assert f"{ledger.drive_work:.1f} J" in second
        assert f"{ledger.drive_work:.1f} J" in answers.text
    assert answers.headings == ["1. Predict", "2. Explain", "3. Decide"]
    assert found_and_worth(bend_run)[0] in answers.text


NAMES_IN_QUOTES = re.compile('"([^"]+)"')


def named_and_shown(comparison):
    """The set-ups that both sheets for a class name in a sentence, and those in the handout's table of figures."""
    handout, answers = class_pages(comparison)
    table = handout.partition("What the simulation found")[2].partition("</table>")[0]
    shown = {unescape(re.sub("<[^>]*>", "", one)).strip() for one in re.findall(r'<th class="words stays" scope="row">(.*?)</th>', table)}
    known = {one.name for one in (*comparison.results, comparison.reference)}
    return set(NAMES_IN_QUOTES.findall(Seen(answers).text + Seen(handout).text)) & known, shown


@pytest.mark.compiled
def test_whatever_the_answers_name_stands_in_the_handouts_table(compared_of, yard):
    """Five were picked by rank, and the answers then told of arms that nobody could find on the handout."""
    text = yard.partition("[[setup]]")[0]
    rods = [("cross rod", f"arm_length_mm = {length}\narm_angle_deg = 14") for length in (90, 100, 110, 120)]
    rules = [("fraction", f"fraction = {share}") for share in (-0.5, 0.3, 0.6, 0.9)] + [("ideal", "toe_in_deg = 3.0")]
    for index, (linkage, keys) in enumerate([*rules, *rods]):
        text += f'[[setup]]\nname = "car {index}"\npivot = "stub axles"\nlinkage = "{linkage}"\n{keys}\n'
    crowd = compared_of(text)
    assert len([one for one in crowd.results if one.finished]) == 9
    named, shown = named_and_shown(crowd)
    assert {"car 5", "car 6", "car 7", "car 8"} <= named
    assert named <= shown
    assert MOST_ASKED < len(shown) < 9


@pytest.mark.compiled
def test_ideal_steering_that_answers_name_stands_in_the_table_too(compared_of, yard):
    head, _, setups = yard.partition("[[setup]]")
    alone = head + "[[setup]]" + setups.partition("[[setup]]")[0].replace('"ideal"', '"parallel"') + ALONE
    named, shown = named_and_shown(compared_of(alone))
    assert "ideal steering, no toe" in named
    assert named <= shown


@pytest.mark.slow
@pytest.mark.compiled
def test_older_figures_are_told(run_folder):
    assert driven_again(run_folder)[1] == []
    told = json.loads((run_folder / "summary.json").read_text(encoding="utf-8"))
    told["setups"][0]["drive_work_J"] *= 1.001
    (run_folder / "summary.json").write_text(json.dumps(told), encoding="utf-8")
    comparison, (note,) = driven_again(run_folder)
    assert note in Seen(report_page(comparison, [note])).text


@pytest.mark.slow
@pytest.mark.compiled
@pytest.mark.parametrize(
    ("words", "line"),
    [
        ("nowhere a.html", "nowhere: there is no such run folder; give a folder that `scrubwise run SCENARIO --out FOLDER` wrote"),
        ("yard-run a.pdf", "a.pdf: the name does not end in .html; call it a.html"),
        ("yard-run no/a.html", "no/a.html: the file can't be written (No such file or directory); check the folder and its rights"),
        ("yard-run yard-run/a.html", "--out: yard-run/a.html lies in the run folder, which holds what a run wrote and nothing else; write "
         "it beside it"),
    ],
)  # fmt: skip
def test_what_report_refuses(scrubwise, run_folder, words, line):
    run, out = words.split()
    assert scrubwise("report", run, "--out", out) == (2, "", f"scrubwise: {line}\n")
    assert scrubwise("report", run, "--out", out, "--json") == (2, "", f"scrubwise: {line}\n")


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"model": "slipping four wheels"}', '{"model": "none", "setups": []}', "[" * 5000])
def test_a_damaged_folder(run_folder, text):
    (run_folder / "summary.json").write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=r"summary\.json: the file is damaged; run the scenario again"):
        driven_again(run_folder)


# --- any run ----------------------------------------------------------------------------------------------------------

ARMS = {"arm_length_mm": 110, "arm_angle_deg": 14}
SETUP = st.sampled_from([
    {"linkage": "ideal"}, {"linkage": "parallel"}, {"linkage": "fraction", "fraction": -0.8}, {"linkage": "ideal", "toe_in_deg": -2.0},
    {"pivot": "turntable"}, {"linkage": "cross rod", **ARMS}, {"linkage": "parallel", "hand_wheel_limit_deg": 9},
    {"linkage": "rack", **ARMS, "rack_behind_front_axle_mm": 140, "rack_length_mm": 320, "rack_mm_per_turn": 60},
    {"linkage": "cross rod", **ARMS, "toe_in_deg": 1.0, "caster_deg": 8, "kingpin_inclination_deg": 8},
])  # fmt: skip


# Any signs of any script, those that a page could take for its own among them; a scenario refuses signs that cannot be seen.
NAME = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")) | st.sampled_from("<>&\"'`{}%"), min_size=1, max_size=20)


@pytest.mark.slow
@settings(max_examples=100)
@given(
    setups=st.lists(SETUP, min_size=1, max_size=4), names=st.lists(NAME, min_size=4, max_size=4),
    radius=st.floats(2.0, 40.0),
    turn=st.floats(5.0, 170.0) | st.floats(-170.0, -5.0),
    target=st.floats(0.5, 12.0), friction=st.floats(0.2, 1.2),
    law=st.sampled_from(["linear", "brush"]),
)  # fmt: skip
def test_any_run_has_a_page(compared_of, yard, setups, names, radius, turn, target, friction, law):
    head = yard.partition("[[setup]]")[0].replace("radius_m = 4, turn_deg = 90", f"radius_m = {radius}, turn_deg = {turn}")
    text = head.replace("target_m_per_s = 3.0", f"target_m_per_s = {target}")
    for index, (keys, name) in enumerate(zip(setups, names, strict=False)):
        keys = {"name": f"{index}{name}", "pivot": "stub axles"} | keys
        text += "[[setup]]\n" + "".join(f"{key} = {json.dumps(value, ensure_ascii=False)}\n" for key, value in keys.items())
    text += f'[car.tyre]\nfriction = {friction}\nlaw = "{law}"\n'
    try:
        comparison = compared_of(text)
    except ValueError:  # refused: no lap, no page
        event("refused")
        return
    event("driven")
    page = report_page(comparison)
    assert len(page.encode()) < LARGEST
    seen = Seen(page)
    if not any("nan" in name.casefold() for name in names):
        assert not re.search(r"\bnan\b", seen.text, re.I)
    data = data_of(page) if 'id="data"' in page else {"setups": []}
    for one in data["setups"]:
        assert np.all(np.diff(one["steering"]["hand"]) > 0)
        assert np.all(np.diff(one["lap"]["station"]) >= 0)
    assert all(Seen(one) for one in class_pages(comparison))


@pytest.mark.slow
def test_a_contest_has_the_page_too(scrubwise, tmp_path):
    assert scrubwise("contest", "class-contest", "--workers", "1")[0] == 0
    folder = tmp_path / "class-contest-contest"
    page = (folder / REPORT).read_text(encoding="utf-8")
    assert [heading for heading in HEADINGS if heading != CHANGE] == [heading for heading in Seen(page).headings if heading != CHANGE]
    # Its own scenario, driven again, is what the contest drove.
    comparison, notes = driven_again(folder)
    assert notes == []
    assert finding_line(comparison) in Seen(page).text
