"""Where a rod and its arm come in line the steering can snap over: every command and sheet says where to stop the hand wheel."""

import json
import sys
from dataclasses import replace
from types import SimpleNamespace

import pypdfium2 as pdfium
import pytest

import sim.kernels.compiled
from sim.bench.design import PLANS
from sim.bench.result import planned_readings
from sim.linkages.catalogue import KINDS
from sim.scenario.file import find_scenario, load_scenario
from sim.steering.arrangement import build_steering
from sim.study.dangers import Dangers, dangers_of
from sim.template.plan import plan_template
from viz.cli.entry import main
from viz.replay.scene import danger_words
from viz.search import report as search_report
from viz.shared.checks import CHECKS, STOPS
from viz.shared.dangers import MOST_NAMED, check_words, short_stop_line, stop_ends, stop_line, stops_line
from viz.template.numbers import template_result
from viz.template.words import stop_sentence

# The car park's cross rod, 110 mm arms kinked by 13.9 degrees, as it locks 15 degrees before its rod and an arm come in line.
LEFT, RIGHT = "55.9 deg left", "39.5 deg right"
NONE = Dangers(None, None, None, None, None, None)


@pytest.fixture
def run(monkeypatch, capsys, tmp_path):
    """What a command line prints, its white space as single blanks."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "excepthook", sys.excepthook)
    monkeypatch.setattr(sim.kernels.compiled, "first_use", lambda kernel: False)

    def printed(*words):
        monkeypatch.setattr(sys, "argv", ["scrubwise", *words])
        with pytest.raises(SystemExit) as ended:
            main()
        out, err = capsys.readouterr()
        assert (ended.value.code, err) == (0, "")
        return " ".join(out.split())

    return printed


@pytest.fixture(scope="module")
def car_park():
    return load_scenario(find_scenario("car-park"), "car-park")


@pytest.fixture(scope="module")
def kinked(car_park):
    index = next(index for index, setup in enumerate(car_park.setup) if setup.kind.rods)
    return build_steering(car_park.setup[index], car_park.car, "car-park", f"setup[{index}]")


@pytest.mark.parametrize("words", [
    ("run", "car-park"), ("run", "car-park", "--explain"), ("angles", "car-park", "--setup", "kinked"),
    ("assemble", "car-park", "--out", "a.pdf"),
])  # fmt: skip
def test_commands_say_where_to_stop_the_hand_wheel(run, words):
    told = run(*words)
    assert LEFT in told
    assert RIGHT in told
    assert "snap over or jam" in told
    assert "Fit a stop before" in told or "fit a stop before" in told


def test_figures_are_the_model_s_own(run, kinked):
    told = json.loads(run("assemble", "car-park", "--out", "a.pdf", "--json"))
    dangers = dangers_of(kinked)
    assert told["stop_left_deg"] == dangers.stop_left_deg == pytest.approx(55.98, rel=0, abs=0.01)
    assert 0 < dangers.stop_left_deg < dangers.dead_centre_left_deg
    assert 0 > dangers.stop_right_deg > dangers.dead_centre_right_deg


@pytest.mark.slow
def test_every_sheet_of_a_template_says_it(car_park, tmp_path):
    result = template_result(car_park, "car-park", "kinked", tmp_path / "sheets.pdf", "a4")
    document = pdfium.PdfDocument(tmp_path / "sheets.pdf")
    texts = [" ".join(page.get_textpage().get_text_range().split()) for page in document]
    document.close()
    assert len(texts) == result.pages
    for text in texts:
        assert LEFT in text
        assert RIGHT in text
        assert "…" not in text
    assert sum("No row of the worksheet goes there" in text for text in texts) >= 2
    assert any("judgement" in text for text in texts)


def test_no_row_of_a_worksheet_goes_near_the_place(car_park, kinked):
    plan = plan_template(car_park.title, kinked, car_park.car)
    index = next(place for place, setup in enumerate(car_park.setup) if setup.name == kinked.name)
    for name in PLANS:
        hands = [item.hand_deg for item in planned_readings(car_park, index, "car-park", name).items if item.hand_deg is not None]
        assert len(set(hands)) > 2
        for hand in hands:
            assert plan.dangers.stop_right_deg <= hand <= plan.dangers.stop_left_deg


def test_the_list_of_checks_asks_for_stops(kinked):
    (check,) = (check for check in CHECKS if check.part == STOPS)
    assert "tried by hand, left and right" in check.action
    assert check_words(check, dangers_of(kinked)).endswith(f"Here: before {LEFT} and {RIGHT}, at the left wheel.")
    assert check_words(check, NONE) == check.action
    assert [check_words(one, dangers_of(kinked)) for one in CHECKS if one is not check] == [
        one.action for one in CHECKS if one is not check
    ]


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_steering_that_cannot_snap_over_has_no_such_sentence(car_park, kind):
    keys = {key.name: key.usual for key in KINDS[kind].needs}
    pivot = {"pivot": "turntable"} if KINDS[kind].axle else {"pivot": "stub axles", "linkage": kind}
    if kind == "fraction":
        keys["fraction"] = 0.5
    setup = type(car_park.setup[0]).model_validate({"name": "tried", **pivot, **keys})
    steering = build_steering(setup, car_park.car, "car-park", "setup[0]")
    dangers, has = dangers_of(steering), KINDS[kind].rods
    plan = plan_template("A car", steering, car_park.car)
    for words in (stop_line(dangers), danger_words(dangers), stop_sentence(plan), *stops_line([("tried", dangers)])):
        assert bool(words) == has
    assert bool(stop_ends(dangers)) == has
    assert bool(stops_line([("tried", dangers)])) == has


def test_a_side_without_a_dead_centre_is_left_out():
    one = replace(NONE, stop_left_deg=41.04, dead_centre_left_deg=50.0, dead_centre_left_arm="left")
    assert stop_ends(one) == [("left", "41.0", 50.0)]
    assert stop_line(one).startswith("Danger: fit a stop before the hand wheel passes 41.0 deg left; ")
    assert short_stop_line(one, "the best") == "Danger: the best can snap over; stop the hand wheel before 41.0 deg left."
    assert short_stop_line(NONE, "the best") == ""
    assert danger_words(one) == "Danger: stop the hand wheel before 41.0° left"


def test_an_angle_is_that_of_what_turns_by_it(car_park):
    """A cross rod's hand angle is the left wheel's own: a stop at the hand wheel's 55.9 degrees may hold nothing."""
    one = replace(NONE, stop_left_deg=41.0, dead_centre_left_deg=50.0, dead_centre_left_arm="left", hand_is="left wheel")
    other = replace(one, hand_is="hand wheel")
    assert "before the left wheel passes 41.0 deg left" in stop_line(one)
    assert "stop the left wheel before 41.0 deg left." in short_stop_line(one, "the best")
    assert danger_words(one) == "Danger: stop the left wheel before 41.0° left"
    (stop,) = [check for check in CHECKS if check.part == STOPS]
    assert check_words(stop, one).endswith("Here: before 41.0 deg left, at the left wheel.")
    assert check_words(stop, other).endswith("Here: before 41.0 deg left.")
    assert "before the left wheel passes" in stops_line([("a", one), ("b", NONE)])[0]
    assert "before the hand wheel, or where none is modelled the left wheel, passes" in stops_line([("a", one), ("b", other)])[0]
    cross = car_park.setup[2]
    assert dangers_of(build_steering(cross, car_park.car, "", "")).hand_is == "left wheel"
    assert dangers_of(build_steering(car_park.setup[0], car_park.car, "", "")).hand_is == "hand wheel"


def test_many_set_ups_are_told_in_one_sentence():
    one = replace(NONE, stop_left_deg=41.0, dead_centre_left_deg=50.0, dead_centre_left_arm="left")
    (line,) = stops_line([("a", one), ("b", NONE), ("c", one), ("d", one), ("e", one)])
    assert MOST_NAMED == 2
    assert '41.0 deg left ("a"), 41.0 deg left ("c") and in 2 more set-ups as `angles` tells' in line
    assert "b" not in [name.strip('"()') for name in line.split()]


def test_search_says_it_of_what_is_to_be_built(car_park, monkeypatch):
    own, other = (setup for setup in (car_park.setup[2], car_park.setup[2].model_copy(update={"arm_angle_deg": 20.0})))
    result = SimpleNamespace(title="A car", own=SimpleNamespace(setup=own), best=SimpleNamespace(setup=other), less_change=None)
    for worth, told in ((True, "deg left"), (False, LEFT)):
        monkeypatch.setattr(search_report, "worth_pasting", lambda result, worth=worth: worth)
        (line,) = search_report.stop_sentence(result, car_park.car)
        assert told in line
        assert (LEFT in line) == (not worth)
    assert search_report.stop_sentence(result, None) == []
    result.own = SimpleNamespace(setup=car_park.setup[0])
    assert search_report.stop_sentence(result, car_park.car) == []


@pytest.mark.slow
def test_search_prints_it(run):
    assert "Danger: the smaller change can snap over; stop the left wheel before 49.5 deg left, 33.0 right." in run("search", "car-park")
    assert "Danger: for the smaller change fit a stop before the left wheel passes" in run("search", "car-park", "--explain")
