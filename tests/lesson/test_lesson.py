"""Lessons: every figure and every conclusion comes from the program, pages are whole, and a folder is written or left alone."""

import ast
import json
import re
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from math import atan, pi, radians, tan
from math import degrees as degrees_of
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sim.errors import InputError
from sim.scenario.file import check_scenario, find_scenario, load_scenario
from sim.study.corner import corner_result
from sim.study.knock import knock_result
from sim.study.ready import entries_of
from viz.lesson import catalogue, ground, make
from viz.lesson.catalogue import LESSONS, find_lesson
from viz.lesson.charts import bars, circles, curves
from viz.lesson.ground import shipped, tightest, with_car
from viz.lesson.make import ROOM, clock, lesson_files, write_lessons
from viz.lesson.say import closing_digits, degrees, figure, number, on_scale, percent
from viz.lesson.topics import measure, parallel, paths, slip, toe, turntable
from viz.shared.rounding import shown_less

TOPICS = Path(paths.__file__).parent
QUICK = ("paths",)  # the others take a second or more
FOLDER = Path("lessons")
SECTIONS = (
    "Predict first", "Run it", "What the program found", "The formula, for those who want it", "Take care", "With your own hands",
    "Questions",
)  # fmt: skip
PLACEHOLDER = re.compile(r"\{\{.*?\}\}|\{%.*?%\}|\{#.*?#\}", re.S)


# --- no figure is typed -----------------------------------------------------------------------------------------------


def typed_figures(template):
    """Digits that a template's text shows and no placeholder gives: outside of marks, style and placeholders."""
    text = re.sub(r"\{% block style %\}.*?\{% endblock %\}", "", template, flags=re.S)
    # A digit that a placeholder's own text would show counts, too.
    inside = re.findall(r"\"[^\"]*\"|'[^']*'", " ".join(PLACEHOLDER.findall(text)))
    text = re.sub(r"<[^>]*>", " ", PLACEHOLDER.sub(" ", text))
    return re.findall(r"[^\s]*[0-9][^\s]*", text) + [one for one in inside if re.search("[0-9]", one)]


@pytest.mark.parametrize("file", sorted(ROOM.glob("*.html")), ids=lambda one: one.stem)
def test_no_figure_is_typed_into_a_template(file):
    assert typed_figures(file.read_text(encoding="utf-8")) == []


def test_a_typed_figure_is_found():
    assert typed_figures('<h2 style="margin: 2px">{{ a }} is 3.5 N</h2>{{ "7 m" if b }}{% block style %}p { x: 1 }{% endblock %}') == [
        "3.5",
        '"7 m"',
    ]


@pytest.mark.parametrize("file", sorted(TOPICS.glob("*.py")), ids=lambda one: one.stem)
def test_no_figure_is_typed_into_a_conclusion(file):
    """Prose of the lessons' own texts: strings of several words, but for docstrings and the number of the lesson."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    told = {ast.get_docstring(node, clean=False) for node in ast.walk(tree) if isinstance(node, (ast.Module, ast.FunctionDef))}
    prose = [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and " " in node.value.strip()
    ]
    prose = [one for one in prose if one not in told and not re.match(r"Lesson \d: ", one)]
    assert [one for one in prose if re.search("[0-9]", one)] == []


# --- pages ------------------------------------------------------------------------------------------------------------


class Read(HTMLParser):
    """What a page says and loads, its headings, and how many drawings and tables it has."""

    def __init__(self, text):
        super().__init__()
        self.said, self.heads, self.loads, self.tags, self._in = [], [], [], [], ""
        self.feed(text)
        self.text = " ".join(" ".join(self.said).split())

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self._in = tag
        self.loads += [value for key, value in attrs if key in ("src", "href", "data", "srcset")]

    def handle_data(self, data):
        if self._in == "h2" and data.strip():
            self.heads.append(data.strip())
        if self._in != "style":
            self.said.append(data)

    def handle_endtag(self, tag):
        self._in = ""


MADE = {}


def pages_of(lesson):
    """A lesson's files, made once."""
    if lesson.name not in MADE:
        MADE[lesson.name] = lesson_files(lesson, lesson.maker(), FOLDER)
    return MADE[lesson.name]


@pytest.mark.parametrize("lesson", [
    pytest.param(one, marks=[] if one.name in QUICK else [pytest.mark.slow], id=one.name) for one in LESSONS
])  # fmt: skip
def test_pages_are_whole(lesson):
    files = pages_of(lesson)
    pupils, teacher = (Read(files[f"lesson-{lesson.number}{end}.html"]) for end in ("", "-answers"))
    assert [head for head in pupils.heads if head in SECTIONS] == list(SECTIONS)
    assert [head for head in teacher.heads if head in SECTIONS] == list(SECTIONS)
    for page in (pupils, teacher):
        assert page.loads == []
        assert "script" not in page.tags
        assert page.tags.count("svg") == 1
        assert page.tags.count("table") >= 1
        for word in ("Aim.", "Time.", "You need.", "Safety.", lesson.title):
            assert word in page.text
        assert not re.search(r"\bnan\b|\binf\b|None|Undefined|\{\{|  ,", page.text)
    assert "Answer." not in pupils.text
    assert "For the teacher" not in pupils.heads
    assert teacher.text.count("Answer.") >= 4
    assert "For the teacher" in teacher.heads
    # What the pupils read before they are asked does not tell the answer.
    assert pupils.text.index("Predict first") < pupils.text.index("What the program found")
    for name in (name for name in files if name.endswith(".toml")):
        assert f"lessons/{name}" in pupils.text
        assert files[name].startswith("# ")


@pytest.mark.parametrize("lesson", LESSONS, ids=lambda one: one.name)
def test_minutes_of_the_parts_and_of_the_steps_add_up(lesson):
    parts = dict(lesson.plan)
    assert sorted(parts) == sorted(set(SECTIONS) - {"The formula, for those who want it"})
    assert sum(parts.values()) == lesson.minutes
    assert parts["With your own hands"] == sum(lesson.hands)
    assert min(*parts.values(), *lesson.hands) >= 1
    # Who is about to use hands or cars reads the cautions first.
    order = list(parts)
    assert order.index("Take care") < order.index("With your own hands")
    rows = clock(lesson)
    assert rows[0][1].startswith("0 to ")
    assert rows[-1][1].endswith(f" to {lesson.minutes}")
    assert all(one[1].split(" to ")[1] == other[1].split(" to ")[0] for one, other in pairwise(rows))


def minutes_in(text):
    return [int(one) for one in re.findall(r"(\d+)\N{NO-BREAK SPACE}min\b", text)]


@pytest.mark.parametrize("lesson", [
    pytest.param(one, marks=[] if one.name in QUICK else [pytest.mark.slow], id=one.name) for one in LESSONS
])  # fmt: skip
def test_every_part_and_step_of_a_page_says_its_minutes(lesson):
    files = pages_of(lesson)
    for end in ("", "-answers"):
        page = files[f"lesson-{lesson.number}{end}.html"]
        heads = {re.sub(r" ?<.*", "", one, flags=re.S): minutes_in(one) for one in re.findall(r"<h2[^>]*>(.*?)</h2>", page, re.S)}
        assert {part: [spent] for part, spent in lesson.plan}.items() <= heads.items()
        steps = re.findall(r"<li>(.*?)</li>", page[page.index("With your own hands <") :], re.S)
        assert [minutes_in(one) for one in steps] == [[spent] for spent in lesson.hands]
    teacher = Read(files[f"lesson-{lesson.number}-answers.html"]).text
    assert f"together {lesson.minutes}\N{NO-BREAK SPACE}min".replace("\N{NO-BREAK SPACE}", " ") in teacher
    assert f"Before the lesson ({lesson.before} min)." in teacher.replace("\N{NO-BREAK SPACE}", " ")


def first(text):
    return float(text.replace("\N{MINUS SIGN}", "-").split("\N{NO-BREAK SPACE}")[0])


def test_who_subtracts_what_lesson_1_shows_finds_what_it_says(park):
    for radius in (2.2, 2.6, 3.0, 3.7, 5.3, 9.1):
        data = park.model_dump(mode="json", exclude_none=True, exclude_unset=True)
        data["course"] = {"segments": [{"radius_m": radius, "turn_deg": 90.0}, {"straight_m": 4.0}]}
        told = paths.found_of(check_scenario(data, "x")).words
        ways = [first(one["way"]) for one in told["wheels"]]
        assert first(told["way_more"]) == pytest.approx(first(told["outer_way"]) - first(told["inner_way"]), rel=0, abs=1e-9)
        assert {first(told["outer_way"]), first(told["inner_way"])} == set(ways[:2])
        for one, way in zip(told["wheels"], ways, strict=True):
            assert round(2 * pi * first(one["radius"]), 2) == way
        left, right = (first(one["steer"]) for one in told["wheels"][:2])
        assert first(told["more"]) == pytest.approx(abs(left - right), rel=0, abs=1e-9)
        lines = [float(told[key].replace("\N{MINUS SIGN}", "-")) for key in ("cot_outer", "cot_inner", "cot_difference", "ratio")]
        assert lines[0] - lines[1] == pytest.approx(lines[2], rel=0, abs=1e-9)


@pytest.mark.slow
def test_who_subtracts_what_the_lessons_show_finds_what_they_say(park, bend):
    for row in toe.found_of(bend).words["rows"]:
        assert first(row["extra"]) == pytest.approx(first(row["work"]) - first(toe.found_of(bend).words["without"]), rel=0, abs=1e-9)
    told = parallel.found_of(park, bend).words
    for where in ("walk", "fast"):
        ideal, alike = first(told[f"{where}_ideal"]), first(told[f"{where}_parallel"])
        assert 100 * (alike / ideal - 1) == pytest.approx(first(told[f"{where}_share"]), rel=0.03, abs=0)
    # The same bend of the same car asks the same of its wheels in either lesson.
    assert told["bend_errors"] == paths.found_of(park).words["more"]
    told = slip.found_of(bend).words
    assert first(told["more"]) == pytest.approx(first(told["rows"][-1]["alike"]) - first(told["rows"][-1]["best"]), rel=0, abs=1e-9)
    assert told["fast_scrub"] == told["rows"][-1]["best"]


def test_figures_that_belong_together():
    assert shown_less(23.234, 18.096, 2) == 5.13
    assert closing_digits(2.1946, 1.7013, 0.4933) in (2, 4)
    assert on_scale(19.6133).replace("\N{NO-BREAK SPACE}", " ") == "2.00 kg (19.6 N)"


@pytest.mark.slow
@pytest.mark.parametrize("lesson", LESSONS, ids=lambda one: one.name)
def test_the_commands_of_a_lesson_run(lesson, scrubwise, tmp_path):
    """Typed where the lesson was made, and the folder of lessons can be made anew afterwards."""
    write_lessons([lesson], tmp_path / "lessons")
    page = (tmp_path / "lessons" / f"lesson-{lesson.number}.html").read_text(encoding="utf-8")
    lines = [line for block in re.findall(r"<pre>(.*?)</pre>", page, re.S) for line in block.replace("&#34;", '"').splitlines() if line]
    assert lines
    for line in lines:
        words = [word.strip('"') for word in re.findall(r'"[^"]*"|\S+', line)]
        assert words[0] == "scrubwise"
        code, out, err = scrubwise(*words[1:])
        assert (code, err) == (0, ""), line
        assert out
    write_lessons([lesson], tmp_path / "lessons")


# --- figures and conclusions follow the program -----------------------------------------------------------------------


def page_of(lesson, told):
    return Read(lesson_files(lesson, told, FOLDER)[f"lesson-{lesson.number}-answers.html"]).text


@pytest.fixture(scope="module")
def park():
    return shipped("car-park")


@pytest.fixture(scope="module")
def bend():
    return shipped("first-bend")


def test_paths_are_those_of_the_geometry(park):
    """A right triangle from the turning centre to each wheel; the formula's both sides; the same from the closed form."""
    radius, car = tightest(park), park.car
    left, right, places, radii = paths.rolled(park, radius)
    wheelbase, behind = car.wheelbase_mm / 1e3, (car.wheelbase_mm - car.mass_centre_behind_front_axle_mm) / 1e3
    middle = (radius**2 - behind**2) ** 0.5
    assert radii[2] == pytest.approx(middle - car.rear_track_mm / 2e3, rel=1e-9, abs=1e-9)
    assert radii[3] == pytest.approx(middle + car.rear_track_mm / 2e3, rel=1e-9, abs=1e-9)
    for place, steer in zip(places[:2], (left, right), strict=True):
        # The wheel stands square to the line to the kingpin, whose offset lies along the axle line.
        assert place[0] == pytest.approx(wheelbase, rel=0.1, abs=0)
        assert number(steer, 1) in page_of(LESSONS[0], paths.found_of(park))
    told = paths.found_of(park).words
    assert told["cot_difference"] == told["ratio"]


def test_a_changed_car_moves_the_text_of_the_paths(park):
    before = page_of(LESSONS[0], paths.found_of(park))
    longer = page_of(LESSONS[0], paths.found_of(with_car(park, wheelbase_mm=1800.0)))
    assert "1500 mm" in before
    assert "1800 mm" in longer
    assert before != longer
    flat = paths.found_of(with_car(park, kingpin_track_mm=0.0)).words
    assert flat["which"] == "neither"
    assert "just as far" in flat["why"]
    assert paths.found_of(park).words["which"] == "the inner"


@pytest.mark.slow
def test_turntable_has_the_figures_of_knock(bend):
    told = turntable.found_of(bend)
    stub, table = knock_result(told.files["lesson-4.toml"], "lesson", turntable.STEP_MM, turntable.SPEED).setups
    text = page_of(LESSONS[3], told)
    for one in (stub, table):
        assert f"{number(one.wheels.front_left.hub_arm_mm, 0)} mm" in text.replace("\N{NO-BREAK SPACE}", " ")
        assert figure(one.hand_torque_N_m, 3) in text
        assert number(one.peak_hand_deg, 0) in text


@pytest.mark.slow
def test_a_changed_car_moves_the_text_of_the_turntable(bend):
    """Where the kingpins stand under the wheels there is no lever; a high narrow car tips before it slides."""
    told = turntable.found_of(with_car(bend, kingpin_track_mm=900.0)).words
    assert told["stub_lever"].startswith("0.0")
    assert "without a lever" in told["ratio_words"]
    high = turntable.found_of(with_car(bend, mass_centre_height_mm=900.0)).words
    assert "tips before its tyres slide" in high["slides_words"]
    assert "slides before it tips" in turntable.found_of(bend).words["slides_words"]


@pytest.mark.slow
def test_a_changed_tyre_moves_the_text_of_the_slip(bend):
    told = slip.found_of(bend).words
    soft = slip.found_of(with_car(bend, tyre=bend.car.tyre.model_dump() | {"cornering_stiffness_per_rad": 8.0})).words
    assert told["fast_scrub"] != soft["fast_scrub"]
    assert told["formula"] != soft["formula"]
    # Half the stiffness, about twice the slip.
    assert float(soft["fast_slip"].split("\N{NO-BREAK SPACE}")[0]) > 1.5 * float(told["fast_slip"].split("\N{NO-BREAK SPACE}")[0])


@pytest.mark.slow
def test_a_changed_car_moves_the_text_of_parallel(park, bend):
    told = parallel.found_of(park, bend).words
    assert told["dearer"] == "in the tight bend at a walk"
    assert "cannot tell them apart" in told["fast_words"]
    # On one kingpin in the middle the two wheels should turn alike: parallel is ideal.
    alike = [with_car(one, kingpin_track_mm=0.0) for one in (park, bend)]
    flat = parallel.found_of(*alike).words
    assert "cannot tell them apart" in flat["walk_words"]
    assert flat["bend_errors"] == degrees(0.0)
    assert parallel.found_of(bend, park).words["dearer"] == "in the wide bend at speed"


@pytest.mark.slow
def test_a_changed_tyre_moves_the_text_of_toe(bend):
    told = toe.found_of(bend)
    assert told.words["law"] == "the cost grows with the square of the angle"
    stiff = toe.found_of(with_car(bend, tyre=bend.car.tyre.model_dump() | {"cornering_stiffness_per_rad": 28.0}))
    assert float(stiff.words["rows"][1]["straight"].split("\N{NO-BREAK SPACE}")[0]) == pytest.approx(
        2 * float(told.words["rows"][1]["straight"].split("\N{NO-BREAK SPACE}")[0]), rel=0.01, abs=0
    )
    assert told.words["formula"] == told.words["straight_one"]
    assert page_of(LESSONS[2], told) != page_of(LESSONS[2], stiff)


@pytest.mark.slow
def test_toe_has_the_figures_of_the_run(scrubwise, tmp_path):
    write_lessons([LESSONS[2]], tmp_path / "lessons")
    setups = json.loads(scrubwise("run", "lessons/lesson-3.toml", "--json")[1])["setups"]
    ideal = setups[0]["drive_work_J"]
    text = (tmp_path / "lessons" / "lesson-3.html").read_text(encoding="utf-8")
    for one in setups[2:]:
        assert f"{number(one['drive_work_J'], 1)}\N{NO-BREAK SPACE}J" in text
        assert percent((one["drive_work_J"] - ideal) / ideal) in text


@pytest.mark.slow
def test_measure_follows_logs_and_readings():
    told = measure.found()
    assert told.words["which"] == "at every speed of these logs rolling holds the car back more than air does"
    from sim.coast.result import straight_coast
    from sim.scenario.file import file_or_shipped_table

    logs = [[file_or_shipped_table(Path(name))] for name in (measure.THERE, measure.BACK)]
    coast = straight_coast(*logs, measure.MASS_KG, measure.WHEELS_KG)
    windy = replace(coast, drag_area_m2=replace(coast.drag_area_m2, value=1.0))
    text = page_of(LESSONS[5], measure.found_of(windy, shipped("quay-loop")))
    assert "below that speed rolling holds the car back most, above it air does" in text
    assert number(coast.rolling_resistance.value, 5) in text


@pytest.mark.parametrize(("words", "part"), [
    (parallel.cost_words(0.4), "needs 40"), (parallel.cost_words(-0.4), "less"), (parallel.cost_words(0.004), "cannot tell them apart"),
    (parallel.change_words(1.0, 4.0, "tighter"), "changes a lot"), (parallel.change_words(1.0, 1.02, "faster"), "about as large"),
    (parallel.change_words(1.0, 1.5, "faster"), "changes little"), (parallel.change_words(1.0, -0.2, "faster"), "costs nothing more"),
    (parallel.change_words(0.0, 1.0, "faster"), "nothing to compare"), (parallel.change_words(None, 1.0, "faster"), "cannot be driven"),
    (parallel.law_words(100.0, 120.0, "linear"), "brush law"),
    (parallel.law_words(100.0, 120.0, "brush"), "linear law"), (parallel.law_words(100.0, 100.1, "brush"), "the same"),
    (parallel.law_words(100.0, None, "linear"), "tells no cost"),
    (parallel.rough_words((2.0, 3.0), (1.0, 1.1)), "tight"), (parallel.rough_words((3.0, 3.0), (1.0, 1.1)), "wide"),
    (parallel.rough_words((3.0, None), (1.0, 1.1)), "hold the two"),
    (toe.law_words(1.0, 4.0), "with the square"), (toe.law_words(1.0, 6.0), "faster"), (toe.law_words(1.0, 2.0), "more slowly"),
    (toe.law_words(-1.0, 2.0), "nothing"), (toe.out_words(100.0, 101.0), "about the same"), (toe.out_words(100.0, 150.0), "more than"),
    (toe.out_words(100.0, 50.0), "less than"), (toe.against_words(10.0, 1.0), "toe first"), (toe.against_words(1.0, 10.0), "arms first"),
    (toe.against_words(1.0, -1.0), "cannot be compared"), (turntable.lever_words(5.0), "5.0"), (turntable.lever_words(1.0), "as hard as"),
    (turntable.lever_words(None), "without a lever"), (turntable.tip_words(0.1), "earlier"), (turntable.tip_words(-0.1), "later"),
    (turntable.tip_words(0.0), "just as late"), (turntable.slides_words(9.0, 8.0), "dangerous"), (slip.more_words(6.0, 100.0), "more"),
    (slip.more_words(-6.0, 100.0), "less"), (slip.more_words(0.1, 100.0), "no difference"), (slip.saves_words(0.05, 0.02), "smaller"),
    (slip.saves_words(0.02, 0.05), "larger"), (slip.saves_words(0.05, 0.05), "same part"), (slip.saves_words(0.0, 0.0), "Neither"),
    (slip.goal_words(1.0, 0.05), "still about the best"), (slip.goal_words(1.5, 0.05), "more than ideal"),
    (slip.goal_words(0.5, -0.05), "less than ideal"), (slip.goal_words(1.0, 0.001), "hardly matters"),
    (measure.which_words(5.0, 7.0), "above it air"), (measure.which_words(None, 7.0), "every speed"),
    (measure.cured_words(1.0, 1.0), "as well set"), (measure.cured_words(1.0, 0.2), "should be gone"),
    (measure.turn_words("left rod", 0.0), "leave it"), (measure.turn_words("left rod", -2.5), "2.5 turns in"),
    (measure.toe_side(-0.1), "toe-out"), (measure.sure(None, 3), "at the end of what is allowed"),
    (paths.why_words(-1.0), "outer wheel has to turn"),
])  # fmt: skip
def test_a_conclusion_follows_its_figures(words, part):
    assert part in words.replace("\N{NO-BREAK SPACE}", " ")


CARS = st.fixed_dictionaries({
    "mass_kg": st.floats(60, 400), "wheelbase_mm": st.floats(900, 2200), "front_track_mm": st.floats(400, 1400),
    "rear_track_mm": st.floats(400, 1400), "mass_centre_height_mm": st.floats(100, 900), "wheel_radius_mm": st.floats(100, 350),
    "kingpin_track_mm": st.floats(0, 400), "mass_centre_behind_front_axle_mm": st.floats(200, 890),
})  # fmt: skip


@pytest.mark.slow
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(keys=CARS)
def test_lessons_of_drawn_cars(keys):
    """Each is made with finite figures, or says why it is not."""
    car = load_scenario(find_scenario("first-bend"))
    drawn = with_car(car, **keys)
    for lesson, topic in ((LESSONS[0], paths), (LESSONS[3], turntable), (LESSONS[4], slip)):
        try:
            text = page_of(lesson, topic.found_of(drawn))
        except (InputError, ValueError) as refusal:
            assert str(refusal)  # noqa: PT017
            continue
        assert not re.search(r"\bnan\b|\binf\b|None", text)


# --- words of figures, charts -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("value", "least", "shown"), [
    (134.4, 3, "134"), (57.84, 3, "57.8"), (57.84, 2, "58"), (0.6612, 2, "0.66"), (0.0466, 2, "0.047"), (0.0, 2, "0"),
    (-3.217, 2, "\N{MINUS SIGN}3.2"),
    (9.999, 2, "10.0"), (1147.2, 2, "1147"), (1e-9, 2, "0"), (0.00013, 2, "0.00013"),
])  # fmt: skip
def test_a_figure_has_the_digits_that_count(value, least, shown):
    assert figure(value, least) == shown


@pytest.mark.slow
@given(st.floats(-1e7, 1e7), st.integers(1, 4))
def test_a_figure_is_right_to_its_last_digit(value, least):
    shown = figure(value, least).replace("\N{MINUS SIGN}", "-")
    assert float(shown) == pytest.approx(value, rel=0.51 * 10.0 ** (1 - least), abs=1e-6)
    assert shown not in ("-0", "-0.0", "-0.00")


def test_no_endless_figure_is_shown():
    for value in (float("nan"), float("inf")):
        with pytest.raises(ValueError, match="finite"):
            number(value, 2)


@pytest.mark.slow
@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 1e4), st.floats(-1e3, 1e4)), min_size=2, max_size=9))
def test_charts_stay_on_their_page(points):
    drawn = str(curves([("a", sorted(points)), ("<b>", sorted(points))], "x [m]", "y [W]", 'a "label"'))
    assert "&lt;b&gt;" in drawn
    wide, high = map(float, re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', drawn).groups())
    for x, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", drawn):
        assert -1 <= float(x) <= wide + 1
        assert -1 <= float(y) <= high + 1


def test_a_bar_is_as_long_as_its_value():
    drawn = str(bars([("a", 50.0), ("b", 100.0), ("c", 0.0)], "J", "label"))
    ends = [float(x) for x in re.findall(r'd="M190\.00 [\d.]+ L([\d.]+)', drawn)]
    assert (ends[0] - 190) / (ends[1] - 190) == pytest.approx(0.5, rel=1e-3, abs=0)
    assert "100 J" in drawn


def test_circles_keep_every_wheel_on_the_page():
    drawn = str(
        circles(
            [("front left", 1.5, 2.5, 30.0), ("front right", 1.5, 3.4, 24.0), ("rear left", 0.0, 2.5, 0.0), ("rear right", 0.0, 3.4, 0.0)],
            "x",
        )
    )
    wide, high = map(float, re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', drawn).groups())
    for x, y in re.findall(r'<text x="([\d.-]+)" y="([\d.-]+)"', drawn):
        assert 0 < float(x) < wide
        assert 0 < float(y) < high


# --- command and folder -----------------------------------------------------------------------------------------------


@pytest.fixture
def cheap(monkeypatch):
    """Lessons that take no time, of the names that real ones have."""
    ends = (".html", "-answers.html", ".toml")
    monkeypatch.setattr(make, "lesson_files", lambda lesson, told, folder: {f"lesson-{lesson.number}{end}": f"{end}\n" for end in ends})
    monkeypatch.setattr(catalogue.Lesson, "maker", property(lambda self: lambda: None))


def test_command_lists_and_refuses(scrubwise):
    code, out, err = scrubwise("lesson")
    assert (code, err) == (0, "")
    assert all(one.title in out for one in LESSONS)
    assert max(map(len, out.splitlines())) <= 80
    assert len(out.splitlines()) <= 30
    assert scrubwise("lesson", "9", "--out", "x")[2] == (
        'scrubwise: lesson: N: there is no lesson "9"; write a number from 1 to 6; `scrubwise lesson` lists them\n'
    )
    assert (
        scrubwise("lesson", "tow", "--out", "x")[2]
        == 'scrubwise: lesson: N: there is no lesson "tow"; did you mean toe, or a number from 1 to 6?\n'
    )
    line = "scrubwise: --out: a lesson is written into a folder; for example: scrubwise lesson 2 --out lessons\n"
    assert scrubwise("lesson", "2")[2] == line
    assert [one["number"] for one in json.loads(scrubwise("lesson", "--json")[1])["lessons"]] == [1, 2, 3, 4, 5, 6]


def test_a_lesson_is_found_by_number_or_name():
    for one in LESSONS:
        assert find_lesson(str(one.number)) is find_lesson(f" {one.name.upper()} ") is one


def test_lessons_of_a_folder_stay_and_are_made_anew(scrubwise, tmp_path, cheap):
    assert scrubwise("lesson", "4", "--out", "lessons")[0] == 0
    first = {file.name: file.read_bytes() for file in (tmp_path / "lessons").iterdir() if file.name.startswith("lesson-4")}
    assert set(first) == {"lesson-4.html", "lesson-4-answers.html", "lesson-4.toml"}
    code, out, err = scrubwise("lesson", "slip", "--out", "lessons")
    assert (code, err) == (0, "")
    assert "5. The tyre slips anyway: lessons/lesson-5.html" in out.replace("\\", "/")
    now = {file.name: file.read_bytes() for file in (tmp_path / "lessons").iterdir()}
    assert first.items() <= now.items()
    assert {"lesson-5.html", "lesson-5-answers.html", "lesson-5.toml"} <= set(now)
    told = json.loads(scrubwise("lesson", "5", "--out", "lessons", "--json")[1])
    assert told["files"] == ["lesson-5.html", "lesson-5-answers.html", "lesson-5.toml"]


def test_what_is_no_lesson_is_not_replaced(scrubwise, tmp_path, cheap):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "notes.txt").write_text("mine", encoding="utf-8")
    assert scrubwise("lesson", "4", "--out", "mine")[0] == 2
    assert (tmp_path / "mine" / "notes.txt").read_text(encoding="utf-8") == "mine"
    assert scrubwise("manual", "--out", "book")[0] == 0
    code, out, err = scrubwise("lesson", "4", "--out", "book")
    assert (code, out) == (2, "")
    assert "which lessons would replace" in err
    assert (tmp_path / "book" / "index.html").is_file()


def test_the_folder_of_a_command_is_that_of_the_lesson():
    told = make.Told({}, "", "", {"a.toml": None})
    assert make._typed(Path("my lessons"), "a.toml") == '"my lessons/a.toml"'
    assert make._typed(Path("x") / "y", "a.toml") == "x/y/a.toml"
    assert make._typed(Path("/deep/down/lessons"), "a.toml") == "lessons/a.toml"
    assert list(told.files) == ["a.toml"]


def test_a_scenario_with_other_setups_reads_back(bend):
    made = ground.with_setups(bend, "other", [ground.IDEAL, ground.PARALLEL])
    assert [one.name for one in made.setup] == ["ideal", "parallel"]
    assert made.car == bend.car
    assert made.course == bend.course
    assert check_scenario(made.model_dump(mode="json", exclude_none=True, exclude_unset=True), "x").setup == made.setup


@pytest.mark.slow
def test_each_error_of_wheels_says_which_it_is(park, bend):
    """5.9 and 7.9 degrees of one bend stood on two pages without a word about what each was."""
    told = parallel.found_of(park, bend).words
    apart, off = first(told["bend_errors"]), first(told["walk_off"])
    # Parallel wheels of the same turn: the outer one alone decides what the inner one ought to be.
    turn = corner_result(park, entries_of(park, "x"), tightest(park), float(park.pace.target_m_per_s), False).setups[1]
    outer = turn.wheels["front_right"].steer_deg
    ratio = park.car.kingpin_track_mm / park.car.wheelbase_mm
    ideal = degrees_of(atan(1 / (1 / tan(radians(outer)) - ratio)))
    assert turn.name == "parallel"
    assert off == pytest.approx(ideal - outer, rel=0, abs=0.051)
    assert off > apart + 1
    page = page_of(LESSONS[1], parallel.found_of(park, bend))
    assert "angles between the wheels of ideal steering, in these very bends" in page
    assert f"In the tight bend that is {off:.1f} degrees" in page.replace("\N{NO-BREAK SPACE}", " ")
    assert "is how far the front wheels stand apart in this bend" in page_of(LESSONS[0], paths.found_of(park))


def test_a_page_carries_what_its_own_run_warns_of():
    """Figures of tyres that slip beyond their law stood on the sheet without the warning that the run gives."""
    one = find_lesson("paths")
    for name, text in lesson_files(one, replace(one.maker(), warned={"tried.toml": ["Warning: tyres slip far."]}), FOLDER).items():
        assert "Of tried.toml the program itself warns: tyres slip far." in Read(text).text, name


@pytest.mark.slow
def test_lessons_whose_tyres_slip_far_say_so():
    assert any("linear law of the tyre is a guess" in line for line in find_lesson("toe").maker().warned["lesson-3.toml"])
    walk, fast = (find_lesson("parallel").maker().warned[f"lesson-2-{name}.toml"] for name in ("walk", "fast"))
    assert any("linear law of the tyre is a guess" in line for line in walk)
    assert fast == []
    assert find_lesson("slip").maker().warned["lesson-5.toml"] == []
