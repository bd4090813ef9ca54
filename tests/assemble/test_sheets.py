"""The order of work as it is printed: read back from its PDF with a general PDF library, for every kind of front end and every paper."""

import ctypes
import json
import re
import sys
from functools import cache
from itertools import cycle, product

import numpy as np
import pypdfium2 as pdfium
import pypdfium2.raw as raw
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sim.assemble.figures import assembly_of, view_of
from sim.assemble.rods import RodVerdict
from sim.errors import InputError
from sim.linkages.catalogue import KINDS
from sim.scenario.file import check_scenario, find_scenario, load_scenario, shipped_names
from sim.steering.arrangement import build_steering
from viz.assemble.drawings import DRAWINGS
from viz.assemble.numbers import assemble_result
from viz.assemble.pages import MOST_SHEETS, build_pages
from viz.assemble.report import assemble_report
from viz.assemble.words import SHORT_DEG, free_stop, steps
from viz.cli.entry import main
from viz.shared.brief import MOST_LINES, height
from viz.template.paper import MARGIN, PAPERS, plain_settings

POINT = 25.4 / 72  # [mm]
# A ligature is a piece of its own whose box reaches into the next letter's by 0.2 mm on the largest paper; a line of text is 2.8 mm high
# at least.
TOUCH = 0.5  # [mm]
CAR = {
    "mass_kg": 145.0, "wheelbase_mm": 1500.0, "front_track_mm": 900.0, "rear_track_mm": 860.0, "kingpin_track_mm": 740.0,
    "mass_centre_behind_front_axle_mm": 820.0, "mass_centre_height_mm": 330.0, "yaw_inertia_kg_m2": 38.0, "wheel_radius_mm": 203.0,
    "drive": "one wheel left",
}  # fmt: skip
KINKED = {"arm_length_mm": 110.0, "arm_angle_deg": 13.9}
ENDS = {"rod_end_eye_length_mm": 30.0, "rod_end_thread_length_mm": 25.0}
SETUPS = {
    "ideal": {"linkage": "ideal"}, "parallel": {"linkage": "parallel"}, "fraction": {"linkage": "fraction", "fraction": 0.5},
    "cross rod": {"linkage": "cross rod", **KINKED, **ENDS, "rod_tube_length_mm": 615.0},
    "centre arm": {
        "linkage": "centre arm", **KINKED, "drop_arm_length_mm": 70.0, "drop_arm_behind_front_axle_mm": 107.0, **ENDS,
        "rod_tube_length_mm": 270.0, "rod_turns_left": 1.5,
    },
    "rack": {
        "linkage": "rack", "arm_length_mm": 110.0, "arm_angle_deg": -166.0, "rack_behind_front_axle_mm": -107.0, "rack_length_mm": 300.0,
        "rack_mm_per_turn": 60.0, "kingpin_inclination_deg": 9.0, "caster_deg": 7.0, **ENDS,
    },
    "turntable": {"pivot": "turntable", "caster_deg": 5.0, "toe_in_deg": 0.5},
}  # fmt: skip
SHIPPED = [(name, index) for name in shipped_names() for index in range(len(load_scenario(find_scenario(name), name).setup))]


def a_scenario(*setups, car=CAR, title="A car"):
    data = {"title": title, "car": car, "course": {"segments": [{"straight_m": 20.0}]}, "pace": {"target_m_per_s": 5.0}}
    return check_scenario(data | {"setup": [{"pivot": "stub axles", **setup} for setup in setups]}, "tried.toml")


def front_of(scenario, index=0):
    steering = build_steering(scenario.setup[index], scenario.car, "tried.toml", f"setup[{index}]")
    return assembly_of(scenario, index, steering), view_of(scenario, steering)


def test_every_kind_of_front_end_is_tried():
    assert set(SETUPS) == set(KINDS)


# --- Reading back --------------------------------------------------------------------------------------------------------


def read_back(path):
    """Of each page its size [mm], its text, and its pieces of text with size [pt] and box (left, bottom, right, top) [mm]."""
    document = pdfium.PdfDocument(path)
    pages = []
    for page in document:
        text, pieces, size = page.get_textpage(), [], ctypes.c_float()
        for item in page.get_objects():
            if item.type == raw.FPDF_PAGEOBJ_TEXT:
                raw.FPDFTextObj_GetFontSize(item.raw, size)
                count = raw.FPDFTextObj_GetText(item.raw, text.raw, None, 0)
                letters = (ctypes.c_ushort * count)()
                raw.FPDFTextObj_GetText(item.raw, text.raw, letters, count)
                pieces.append((bytes(letters).decode("utf-16-le").rstrip("\0 "), size.value, [e * POINT for e in item.get_bounds()]))
        words = " ".join(text.get_text_range().split())
        picture = page.render(scale=2 * POINT, grayscale=True).to_numpy()
        pages.append((tuple(edge * POINT for edge in page.get_size()), words, pieces, picture.reshape(picture.shape[:2]).copy()))
    document.close()
    return pages


@pytest.fixture(scope="module")
def printed(tmp_path_factory):
    """(result, pages as read back) of a set-up of SETUPS on a paper."""
    folder = tmp_path_factory.mktemp("assemble")

    @cache
    def make(name, paper, long_names=False):
        setup = {"name": "W" * 60 if long_names else name, **SETUPS[name]}
        scenario = a_scenario(setup, title="Mm " * 20 if long_names else "A car")
        path = folder / f"{name}-{paper}-{long_names}.pdf"
        return assemble_result(scenario, "tried.toml", None, path, paper), read_back(path)

    return make


def check_pages(pages, paper):
    """Every piece of text inside the margins, large enough, and none on another; nothing drawn in the margins."""
    for size, _, pieces, picture in pages:
        assert size == pytest.approx(PAPERS[paper], rel=0, abs=1e-3)
        assert min(points for _, points, _ in pieces) >= 8.0
        left, bottom, right, top = np.array([box for *_, box in pieces]).T
        assert min(left.min(), bottom.min()) >= MARGIN - 0.5
        assert right.max() <= size[0] - MARGIN + 0.5
        assert top.max() <= size[1] - MARGIN + 0.5
        over = np.minimum(
            np.minimum.outer(right, right) - np.maximum.outer(left, left), np.minimum.outer(top, top) - np.maximum.outer(bottom, bottom)
        )
        assert [(pieces[one][0], pieces[other][0]) for one, other in np.argwhere(np.triu(over, 1) > TOUCH)] == []
        edge = int(2 * (MARGIN - 1.5))
        inner = picture[edge:-edge, edge:-edge]
        assert picture.astype(int).sum() - inner.astype(int).sum() == 255 * (picture.size - inner.size)


QUICK = {
    ("turntable", "letter", True),
    ("cross rod", "a4", True),
    ("ideal", "letter", False),
}


@pytest.mark.parametrize(("name", "paper", "long_names"), [
    pytest.param(*case, marks=[] if case in QUICK else [pytest.mark.slow]) for case in product(SETUPS, PAPERS, (False, True))
])  # fmt: skip
def test_sheets_hold_all_and_clip_nothing(printed, name, paper, long_names):
    result, pages = printed(name, paper, long_names)
    assert 2 <= len(pages) == result.pages <= MOST_SHEETS
    check_pages(pages, paper)
    words = " ".join(one for _, one, *_ in pages)
    headings = re.findall(r"(?<![\d.])(\d{1,2})\. [A-Z][a-z]", words)
    count = max(map(int, headings))
    assert 10 <= count <= 15
    assert {str(number) for number in range(1, count + 1)} <= set(headings)
    for _, one, *_ in pages:
        assert "never certifies a car as safe" in one
        assert "rules of your event come first" in one
        assert all(field in one for field in ("team", "date", "done by", "seen by an adult"))


@pytest.mark.slow
@pytest.mark.parametrize(("name", "index", "paper"), [(*one, paper) for one, paper in zip(SHIPPED, cycle(PAPERS))])
def test_shipped_scenarios_fit_their_paper(name, index, paper, tmp_path):
    """Papers by turns; every kind of front end is tried on each above."""
    scenario = load_scenario(find_scenario(name), name)
    result = assemble_result(scenario, name, str(index + 1), tmp_path / "sheets.pdf", paper)
    check_pages(read_back(tmp_path / "sheets.pdf"), paper)
    assert result.setup == scenario.setup[index].name


@pytest.mark.slow
def test_larger_paper_has_larger_letters(printed):
    sizes = {paper: max(points for _, points, _ in printed("centre arm", paper)[1][0][2]) for paper in ("a4", "a3")}
    text = {paper: np.median([points for _, points, _ in printed("centre arm", paper)[1][0][2]]) for paper in ("a4", "a3")}
    assert text["a3"] > 1.3 * text["a4"]
    assert sizes["a3"] > sizes["a4"]


# --- What is said --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", SETUPS)
def test_every_step_has_its_ground_and_cautions_where_fingers_can_be_hurt(name):
    front, _ = front_of(a_scenario({"name": name, **SETUPS[name]}))
    order = steps(front)
    assert all(step.ground for step in order)
    assert all(step.picture in DRAWINGS for step in order if step.picture)
    cautions = " ".join(step.caution for step in order)
    assert "pinch fingers" in cautions
    assert re.search("shear", cautions)
    assert sum(bool(step.caution) for step in order) >= 6
    headings = [step.heading for step in order]
    binding = headings.index("Tighten until it binds, then back off")
    assert binding < next(place for place, words in enumerate(headings) if words.startswith("Measure the pull"))
    if front.rods:
        assert next(place for place, words in enumerate(headings) if words.startswith("Set the rod")) < headings.index("Bolt on the joints")


@pytest.mark.parametrize(("leans", "told"), [({}, False), ({"caster_deg": 6.0}, True), ({"kingpin_inclination_deg": 8.0}, True)])
def test_a_pull_beside_a_leaning_bolt_is_explained(leans, told):
    """The weight swings such a wheel one way by itself; who read that way alone took a good kingpin for one that binds."""
    front, _ = front_of(a_scenario({"name": "tried", "linkage": "parallel", **leans}))
    (words,) = [step.words for step in steps(front) if step.picture == "pull"]
    assert ("counts below nothing" in words) == told
    assert "Pull both ways and take the mean." in words


@pytest.mark.slow
def test_numbers_on_the_sheets_are_those_of_json(printed):
    result, pages = printed("centre arm", "a4")
    words = " ".join(one for _, one, *_ in pages)
    left, right = result.rods
    assert left.length_mm - right.length_mm == pytest.approx(1.5 * 1.25, rel=0, abs=1e-9)
    for rod in result.rods:
        assert f"{rod.name}: {rod.length_mm:.1f} mm" in words
        assert rod.verdict is RodVerdict.FITS
        assert f"{rod.turns_one_end:g} turns out at one end, {rod.turns_other_end:g} at the other" in words
    assert "Tighten all 4 lock nuts" in words
    assert "Two spanners" in words
    assert "(+1.5 and +0)" in words
    assert f"{result.pull_on_wheels.greased_N:.1f} N ({result.pull_on_wheels.greased_N / 9.81:.2f} kg)" in words
    assert f"{result.pull_on_wheels.dry_N:.1f} N" in words
    assert f"before it passes {np.floor(10 * result.stop_left_deg) / 10:.1f} deg left" in words
    assert "kink inwards" in words


@pytest.mark.parametrize(("name", "words"), [
    ("rack", "both arms point ahead and their ends stand further apart than the kingpins: kink outwards"),
    ("rack", "107 mm ahead of the front axle"), ("rack", "The top leans 9 deg inwards and 7 deg backwards."),
    ("rack", "Each rod: a tube of"), ("rack", "give rod_tube_length_mm in the scenario"), ("cross rod", "Tighten both lock nuts"),
    ("cross rod", "holds the left wheel before it passes"), ("turntable", "King bolt"), ("turntable", "0.50 deg of toe-in at each wheel"),
    ("turntable", "The top leans 5 deg backwards."), ("parallel", "there are no rods whose length could be told"),
])  # fmt: skip
def test_words_follow_the_front_end(name, words):
    front, _ = front_of(a_scenario({"name": name, **SETUPS[name]}))
    said = " ".join(f"{step.heading}. {step.words} {step.caution}" for step in steps(front))
    assert words.casefold() in said.casefold()


def test_before_the_stops_are_fitted_each_side_has_its_own_angle():
    """A cross rod's two sides differ; the left wheel's 56 degrees were told where 39 to the right is the nearer danger."""
    front, _ = front_of(a_scenario({"name": "cross rod", **SETUPS["cross rod"]}))
    told = " ".join(step.caution for step in steps(front))
    left, right = (np.floor(10 * abs(stop)) / 10 for stop in (front.stop_left_deg, front.stop_right_deg))
    assert left > right + 5
    assert f"within {np.floor(right / 2):.0f} deg of straight ahead; beyond {left:.1f} left or {right:.1f} right it can snap" in told
    alike, _ = front_of(a_scenario({"name": "centre arm", **SETUPS["centre arm"], "rod_turns_left": 0.0, "toe_in_deg": 0.0}))
    stop = np.floor(10 * alike.stop_left_deg) / 10
    assert f"beyond {stop:.1f} it can snap over" in " ".join(step.caution for step in steps(alike))


def test_arms_without_a_kink_and_arms_that_lean_out():
    for angle, words in ((0.0, "without a kink"), (-10.0, "kink outwards"), (180.0, "without a kink"), (170.0, "kink inwards")):
        setup = SETUPS["centre arm"] | {"arm_angle_deg": angle, "drop_arm_behind_front_axle_mm": 107.0 if abs(angle) < 90 else -107.0}
        front, _ = front_of(a_scenario({"name": "tried", **setup}))
        assert words in next(step.words for step in steps(front) if step.picture == "stub axles")


def test_a_side_without_a_dead_centre_gets_its_stop_too():
    """With the drop arm's joint off to one side only one rod may come in line within reach: the other side's lock is told."""
    front, _ = front_of(a_scenario({"name": "tried", **SETUPS["centre arm"]}))
    lonely = type(front)(**{**vars(front), "stop_right_deg": None, "dead_centre_right_deg": None, "dead_centre_right_arm": None})
    words = next(step.words for step in steps(lonely) if step.heading == "Fit the stops")
    assert f"To the right a stop too: {free_stop(lonely, 'right').words}." in words


def test_what_is_assumed_is_not_called_this_car_s():
    """A turntable's 60 degrees are the model's, and where arms jam is no place for a stop."""
    stops = {}
    for name, more in (("assumed", {}), ("own", {"hand_wheel_limit_deg": 40.0})):
        front, _ = front_of(a_scenario({"name": name, **SETUPS["turntable"], **more}))
        stops[name] = next(step for step in steps(front) if step.heading == "Fit the stops")
    assert "60.0 deg left and 60.0 deg right (assumed, not yours: hand_wheel_limit_deg is not given)" in stops["assumed"].words
    assert "this car's scenario" not in stops["assumed"].ground
    assert "40.0 deg left and 40.0 deg right." in stops["own"].words
    assert "this car's scenario" in stops["own"].ground
    arms = {"arm_angle_deg": -166.3, "drop_arm_behind_front_axle_mm": -107.0, "rod_turns_left": 0.0}
    front, _ = front_of(a_scenario({"name": "jams", **SETUPS["centre arm"], **arms}))
    assert front.dead_centre_left_deg is None
    step = next(step for step in steps(front) if step.heading == "Fit the stops")
    assert (
        f"{front.lock_left_deg - SHORT_DEG:.1f} deg left, short of {front.lock_left_deg:.1f}, where {front.lock_left_cause}" in step.words
    )
    assert "judgement" in step.ground


def test_before_the_stops_are_fitted_a_caution_keeps_the_hand_wheel_near_the_middle():
    front, _ = front_of(a_scenario({"name": "tried", **SETUPS["centre arm"], "toe_in_deg": 0.5}))
    joints = next(step for step in steps(front) if step.heading == "Bolt on the joints")
    within = int(re.search(r"keep the hand wheel within (\d+) deg", joints.caution)[1])
    assert 0.4 < within / front.stop_left_deg <= 0.5
    assert "each wheel's leading edge points 0.50 deg inwards, which is the planned toe" in joints.words
    column = next(step for step in steps(front) if step.heading.startswith("Fit the steering column"))
    assert "From the column's axis to the joint it measures 70 mm, both rods on one joint." in column.words


# --- Drawn set-ups -------------------------------------------------------------------------------------------------------


def drawn_number(key):
    near = st.floats(max(key.low, -60.0), min(key.high, 400.0)) if key.low < 400 else st.floats(key.low, key.high)
    return st.sampled_from((key.low, key.high)) | st.floats(key.low, key.high) | near


@st.composite
def front_ends(draw):
    """A car and a set-up within the bounds of their keys, half of them near usual sizes."""
    name = draw(st.sampled_from(sorted(SETUPS)))
    setup = {"name": draw(st.sampled_from(("W" * 60, "Mj " * 20, "a", "\N{SNOWMAN}" * 60))), **SETUPS[name]}
    for key in KINDS[name].keys:
        if draw(st.integers(0, 3)) == 0:
            setup[key.name] = draw(drawn_number(key))
    car = CAR | {
        "mass_kg": draw(st.floats(40, 1000)),
        "wheel_radius_mm": draw(st.floats(50, 500)),
        "wheelbase_mm": draw(st.floats(900, 4000)),
    }
    car["front_track_mm"] = draw(st.floats(200, 2500))
    car["kingpin_track_mm"] = car["front_track_mm"] * draw(st.floats(0.3, 1.0))
    outer = draw(st.floats(3, 300))
    car["kingpin"] = {"washer_outer_mm": outer, "washer_inner_mm": draw(st.floats(1, outer - 1)), "friction_dry": draw(st.floats(0, 1))}
    return setup, car, draw(st.sampled_from(sorted(PAPERS)))


def check_drawn(drawn, folder):
    setup, car, paper = drawn
    try:
        scenario = a_scenario(setup, car=car, title="T" * 80)
        build_steering(scenario.setup[0], scenario.car, "tried.toml", "setup[0]")
    except InputError:
        return  # refused before any sheet, with its cause
    result = assemble_result(scenario, "tried.toml", None, folder / "drawn.pdf", paper)
    assert sum(map(height, assemble_report(result))) <= MOST_LINES
    assert json.dumps([rod.length_mm for rod in result.rods], allow_nan=False)
    pages = read_back(folder / "drawn.pdf")
    assert 2 <= len(pages) <= MOST_SHEETS
    check_pages(pages, paper)


@pytest.mark.slow
@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(front_ends())
def test_many_drawn_front_ends(tmp_path, drawn):
    check_drawn(drawn, tmp_path)


# --- The command ---------------------------------------------------------------------------------------------------------


@pytest.fixture
def run(monkeypatch, capsys, tmp_path):
    """What a command line answers: (code, output, errors)."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "excepthook", sys.excepthook)

    def answer(*words):
        monkeypatch.setattr(sys, "argv", ["scrubwise", "assemble", *words])
        with pytest.raises(SystemExit) as ended:
            main()
        return (ended.value.code, *capsys.readouterr())

    return answer


@pytest.mark.parametrize("name", [
    "first-bend", *(pytest.param(name, marks=pytest.mark.slow) for name in ("quay-loop", "recorded-loop")),
])  # fmt: skip
def test_plain_output_fits_one_screen_and_says_what_counts(run, name):
    code, out, err = run(name, "--out", "sheets.pdf")
    told = " ".join(out.split())
    assert (code, err) == (0, "")
    assert len(out.splitlines()) <= MOST_LINES
    assert max(map(len, out.splitlines())) <= 80
    for words in ("Written to sheets.pdf", "top", "N (", "pinch fingers", "competent adult", "never certifies"):
        assert words in told
    assert {"quay-loop": "cross rod 687.1 mm", "first-bend": "Set-up: turntable axle", "recorded-loop": "left rod 246.6 mm"}[name] in told


@pytest.mark.slow
def test_json_holds_the_same_figures(run):
    code, out, err = run("quay-loop", "--setup", "drop", "--out", "sheets.pdf", "--json")
    told = json.loads(out)
    assert (code, err) == (0, "")
    assert list(told)[:5] == ["schema", "title", "setup", "linkage", "stop_left_deg"]
    assert told["lock_nuts"] == 4
    assert [round(rod["length_mm"], 1) for rod in told["rods"]] == [343.6, 343.6]
    assert told["missing_keys"] == []
    bare = json.loads(run("car-park", "--setup", "kinked", "--out", "bare.pdf", "--json")[1])
    assert bare["missing_keys"] == ["rod_tube_length_mm", "rod_end_eye_length_mm", "rod_end_thread_length_mm"]
    assert told["pull_on_wheels"]["dry_N"] == pytest.approx(2 * told["pull_on_wheels"]["greased_N"], rel=1e-12, abs=0)


@pytest.mark.parametrize(("words", "line"), [
    (("--out", "sheets.png"), "scrubwise: sheets.png: the name does not end in .pdf; call it sheets.pdf\n"),
    (("--out", "a.pdf", "--paper", "a5"), "scrubwise: --paper: 'a5' is not known here; choose one of a4, letter, a3\n"),
    (
        ("--out", "nowhere/a.pdf"),
        "scrubwise: nowhere/a.pdf: the file can't be written (No such file or directory); check the folder and its rights\n",
    ),
])  # fmt: skip
def test_refusals(run, words, line):
    assert run("quay-loop", *words) == (2, "", line)


@pytest.mark.slow
def test_a_setup_is_chosen_as_in_every_command(run):
    code, out, err = run("quay-loop", "--setup", "nobody", "--out", "a.pdf")
    assert (code, out) == (2, "")
    assert err.startswith('scrubwise: quay-loop: --setup: there is no set-up "nobody"; choose one of 1 "ideal"')
    for words, name in (("4", "kinked arms, cross rod"), ("turn", "turntable axle")):
        assert json.loads(run("quay-loop", "--setup", words, "--out", "a.pdf", "--json")[1])["setup"] == name


@pytest.mark.slow
def test_sheets_are_the_same_bytes_for_the_same_car(tmp_path):
    scenario = a_scenario({"name": "tried", **SETUPS["rack"]})
    for name in ("one.pdf", "two.pdf"):
        assemble_result(scenario, "tried.toml", None, tmp_path / name, "a4")
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()


def test_every_drawing_is_used():
    used = {step.picture for name in SETUPS for step in steps(front_of(a_scenario({"name": name, **SETUPS[name]}))[0])}
    assert set(DRAWINGS) == used - {""}


@pytest.mark.slow
def test_a_text_that_does_not_fit_would_be_seen(printed):
    """The check of boxes can fail: a word put over the edge, and one put on another, are found."""
    front, view = front_of(a_scenario({"name": "tried", **SETUPS["rack"]}))
    with plain_settings():
        pages = build_pages(front, view, "a4")
    assert len({id(page.figure) for page in pages}) == len(pages)
    size, words, pieces, picture = printed("rack", "a4")[1][0]
    name, points, box = pieces[0]
    for spoilt in ([*pieces, (name, points, box)], [*pieces, ("outside", 9.0, [205.0, 100.0, 215.0, 104.0])]):
        with pytest.raises(AssertionError):
            check_pages([(size, words, spoilt, picture)], "a4")


def test_a_turntable_is_not_asked_for_rods():
    said = [step.words for step in steps(front_of(a_scenario({"name": "turntable", **SETUPS["turntable"]}))[0])][-2:]
    assert "no rope or bar binds" in said[0]
    assert "The sheets of the command template measure what you built" in said[1]
    for foreign in ("rod", "joint", "bench"):
        assert foreign not in " ".join(said)
