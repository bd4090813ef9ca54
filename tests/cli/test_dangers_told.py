"""Where a rod and its arm come in line the steering can snap over: every command and sheet says where to stop the hand wheel."""

import json
import sys
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pypdfium2 as pdfium
import pytest

import sim.kernels.compiled
from sim.assemble.figures import assembly_of
from sim.bench.as_built import make_plan
from sim.bench.dangers import dangers_as_read
from sim.bench.design import PLANS
from sim.bench.fit import NORMAL_95
from sim.bench.result import planned_readings
from sim.linkages.catalogue import KINDS
from sim.scenario.file import find_scenario, load_scenario
from sim.steering.arrangement import build_steering
from sim.study.angles import angles_result
from sim.study.dangers import Dangers, dangers_of, nearer
from sim.study.ready import entries_of
from sim.template.plan import plan_template
from viz.angles.report import lock_causes, lock_line
from viz.assemble.words import steps
from viz.cli.entry import main
from viz.replay.cards import limit_words
from viz.replay.scene import danger_words
from viz.search import report as search_report
from viz.shared.checks import CHECKS, STOPS
from viz.shared.dangers import (
    MOST_NAMED,
    before_words,
    built_danger_lines,
    check_words,
    danger_lines,
    needs_stop,
    own_stops_line,
    short_stop_line,
    stop_ends,
    stop_line,
    stop_places,
    stops_line,
)  # fmt: skip
from viz.template.numbers import template_result
from viz.template.words import stop_sentence

# The car park's cross rod, 110 mm arms kinked by 13.9 degrees, as it locks 15 degrees before its rod and an arm come in line.
LEFT, RIGHT = "55.9 deg left", "39.5 deg right"
NONE = Dangers(None, None, None, None, None, None)
SURE = {"left": 0.0, "right": 0.0}  # how far a place as read may be off [deg]


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


@pytest.mark.slow
@pytest.mark.compiled
@pytest.mark.parametrize("words", [
    ("run", "car-park"), pytest.param(("run", "car-park", "--explain"), marks=pytest.mark.slow),
    ("angles", "car-park", "--setup", "kinked"), pytest.param(("assemble", "car-park", "--out", "a.pdf"), marks=pytest.mark.slow),
])  # fmt: skip
def test_commands_say_where_to_stop_the_hand_wheel(run, words):
    told = run(*words)
    assert LEFT in told
    assert RIGHT in told
    assert "snap over or jam" in told
    assert "Fit a stop before" in told or "fit a stop before" in told


@pytest.mark.slow
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


@pytest.mark.compiled
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


@pytest.mark.compiled
@pytest.mark.parametrize(("words", "name"), [
    (("car-park",), "kinked arms, cross rod"), (("quay-loop", "--setup", "drop", "--setup", "turntable"), "drop arm and two rods"),
    (("quay-loop", "--setup", "turntable"), "turntable axle"),
])  # fmt: skip
def test_the_look_at_the_stops_has_its_figures_in_json(run, words, name):
    """They stood in the terminal's sentence alone; a program that reads the list had to look for the set-up that it means."""
    found = json.loads(run("angles", *words, "--checks", "--json"))
    (stops,) = [check for check in found["checks"] if check["part"] == STOPS]
    (meant,) = [setup for setup in found["setups"] if setup["name"] == name]
    assert stops["setup"] == name
    for key in ("hand_is", "danger_left_deg", "danger_right_deg", "own_stop_deg"):
        assert stops[key] == meant[key]
    assert all(set(check) == {"part", "action", "ground"} for check in found["checks"] if check is not stops)


def angles_of(scenario, **keys):
    """What `angles` finds of a scenario's set-ups, keys of theirs changed."""
    setups = [setup.model_copy(update=keys) for setup in scenario.setup]
    scenario = scenario.model_copy(update={"setup": setups})
    return angles_result(scenario, entries_of(scenario, "tried"), None, 8.0, 3.0).setups


@pytest.mark.compiled
def test_a_limit_that_nobody_chose_is_said_to_be_assumed(car_park):
    """`angles` spoke of it as of a stop that is there; the sheets already said that it is none of the car's."""
    ideal, _, kinked, turntable = angles_of(car_park)
    for one in (ideal, turntable):
        assert lock_causes(one) == ("hand wheel limit assumed, not yours: hand_wheel_limit_deg is not given", "assumed too")
    assert lock_causes(kinked) == (kinked.lock_left_cause, kinked.lock_right_cause)
    assert "hand wheel limit" not in lock_line(kinked)
    half = replace(kinked, lock_right_cause="hand wheel limit")
    assert lock_causes(half) == (kinked.lock_left_cause, "hand wheel limit assumed, not yours: hand_wheel_limit_deg is not given")
    for one in angles_of(car_park, hand_wheel_limit_deg=30.0):
        assert lock_causes(one) == ("hand wheel limit", "hand wheel limit")


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
    assert check_words(stop, other, '"a" ').endswith('Here: "a" before 41.0 deg left, at the hand wheel.')
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


# --- a stop of the user's own -----------------------------------------------------------------------------------------


@pytest.fixture
def stopped(car_park, kinked):
    """The kinked front end with a stop of its own at 30 degrees, before the danger."""
    setup = next(one for one in car_park.setup if one.kind.rods)
    return build_steering(setup.model_copy(update={"hand_wheel_limit_deg": 30.0}), car_park.car, "car-park", "setup[0]")


def test_a_stop_of_one_s_own_is_not_the_danger(kinked, stopped):
    """The danger stays where the rod's angle falls to the least; the stop that stands before it is a fact of its own."""
    free, own = dangers_of(kinked), dangers_of(stopped)
    assert not free.stop_is_yours
    assert own.stop_is_yours
    assert (free.danger_left_deg, free.danger_right_deg) == (free.stop_left_deg, free.stop_right_deg)
    assert (own.danger_left_deg, own.danger_right_deg) == pytest.approx((free.stop_left_deg, free.stop_right_deg), rel=1e-12)
    assert (own.stop_left_deg, own.stop_right_deg) == pytest.approx((30.0, -30.0))
    assert (own.dead_centre_left_deg, own.dead_centre_right_deg) == (free.dead_centre_left_deg, free.dead_centre_right_deg)
    assert stop_ends(own) == stop_ends(free)
    assert stop_places(own) == [("left", "30.0"), ("right", "30.0")]
    assert stop_places(free) == [(side, stop) for side, stop, _ in stop_ends(free)]


@pytest.mark.parametrize(("own_deg", "told"), [
    (70.0, "your stop at 70.0 deg stands past 68.1: move it before 68.1"),
    (80.0, "your stop at 80.0 deg stands past 73.3, where it snaps over: move it before 68.1"),
])  # fmt: skip
def test_a_stop_behind_the_danger_is_told_to_be_moved(own_deg, told):
    """It was swallowed: all commands spoke as if the scenario gave none."""
    scenario = load_scenario(find_scenario("quay-loop"), "quay-loop")
    setup = next(one for one in scenario.setup if one.linkage == "centre arm")
    free = dangers_of(build_steering(setup, scenario.car, "quay-loop", "setup"))
    far = dangers_of(build_steering(setup.model_copy(update={"hand_wheel_limit_deg": own_deg}), scenario.car, "quay-loop", "setup"))
    assert (far.stop_left_deg, far.stop_right_deg, far.own_stop_deg) == (free.stop_left_deg, free.stop_right_deg, pytest.approx(own_deg))
    assert before_words(far) == f"; {told}"
    for line in (*danger_lines(far), stop_line(far), short_stop_line(far, "it"), *stops_line([("one", far)]),
                 own_stops_line([("one", far)]), stop_sentence(SimpleNamespace(dangers=far))):  # fmt: skip
        assert told in line
    assert "your stop" not in danger_lines(free)[0]
    assert needs_stop(far)


def test_a_stop_before_one_danger_and_behind_the_other_is_told_of_both(car_park):
    setup = next(one for one in car_park.setup if one.kind.rods)
    half = dangers_of(build_steering(setup.model_copy(update={"hand_wheel_limit_deg": 40.0}), car_park.car, "car-park", "setup[0]"))
    assert (
        before_words(half)
        == "; your stop at 40.0 deg left stands before it; your stop at 40.0 deg stands past 39.5 right: move it before 39.5"
    )


@pytest.mark.parametrize(("turns", "first"), [(-4.0, "read"), (4.0, "planned")])
def test_of_the_plan_and_the_car_as_read_the_nearer_danger_counts(turns, first):
    scenario = load_scenario(find_scenario("quay-loop"), "quay-loop")
    index = next(place for place, setup in enumerate(scenario.setup) if setup.linkage == "centre arm")
    plan = make_plan(scenario.setup[index], scenario.car, "quay-loop", f"setup[{index}]")
    planned, read = dangers_of(plan.steering), dangers_as_read(plan, np.array([turns, turns]))
    # The same rods drawn that long, instead of built so: another way to the same car.
    drawn = scenario.setup[index].model_copy(update={"rod_turns_left": turns, "rod_turns_right": turns})
    assert read.dead_centre_left_deg == pytest.approx(
        dangers_of(build_steering(drawn, scenario.car, "quay-loop", "setup")).dead_centre_left_deg, abs=1e-9, rel=0
    )
    found, chosen = nearer(planned, read), {"read": read, "planned": planned}[first]
    assert (found.danger_left_deg, found.stop_right_deg) == (chosen.danger_left_deg, chosen.stop_right_deg)
    (line,) = built_danger_lines(planned, read, SURE)
    assert built_danger_lines(planned, planned, SURE) == danger_lines(planned)
    if first == "planned":  # what lies further off is no danger
        assert line == danger_lines(planned)[0]
        return
    assert f"at {read.dead_centre_left_deg:.1f} deg left" in line
    assert f"as planned at {planned.dead_centre_left_deg:.1f} left" in line
    assert " and ".join(f"{stop} deg {side}" for side, stop, _ in stop_ends(chosen)) in line


SIDED = {
    "left": replace(NONE, stop_left_deg=68.1, danger_left_deg=68.1, dead_centre_left_deg=73.3, dead_centre_left_arm="left"),
    "right": replace(NONE, stop_right_deg=-60.2, danger_right_deg=-60.2, dead_centre_right_deg=-66.6, dead_centre_right_arm="right"),
    "both": Dangers(68.1, 73.3, "left", -60.2, -66.6, "right", danger_left_deg=68.1, danger_right_deg=-60.2),
    "none": NONE,
}  # fmt: skip


@pytest.mark.parametrize(("planned", "read", "told"), [
    ("left", "right", "Danger: as read, rod and arm come in line and can snap over or jam with the hand wheel at 66.6 deg right (right "
                      "arm); as planned at 73.3 left (as read nowhere) and nowhere right. Fit a stop before it "
                      "passes 68.1 deg left and 60.2 deg right."),
    ("right", "left", "as planned at 66.6 right (as read nowhere) and nowhere left. Fit a stop before it passes 68.1 deg left "
                      "and 60.2 deg right."),
    ("left", "both", "at 73.3 deg left (left arm) and 66.6 deg right (right arm); as planned at 73.3 "
                     "left and nowhere right. Fit a stop before it passes 68.1 deg left and 60.2 deg right."),
    ("both", "right", "at 66.6 deg right (right arm); as planned at 73.3 left (as read nowhere) and "
                      "66.6 right. Fit a stop before it passes 68.1 deg left and 60.2 deg right."),
    ("none", "right", "at 66.6 deg right (right arm); as planned nowhere. Fit a stop before it "
                      "passes 60.2 deg right."),
    ("left", "none", "Fit a stop before the hand wheel passes 68.1 deg left. As read, no rod and arm come in line."),
])  # fmt: skip
def test_places_as_planned_and_as_read_are_held_side_by_side(planned, read, told):
    """They were paired by their order, so a left one met a right one; and what one of them has alone was passed over."""
    bands = {"left": 0.4, "right": 0.4}
    (line,) = built_danger_lines(SIDED[planned], SIDED[read], bands)
    assert line.replace(", +- 0.4)", ")").endswith(told)


def test_no_danger_in_either_has_no_sentence():
    assert built_danger_lines(NONE, NONE, SURE) == []


@pytest.mark.parametrize(("nearer_by", "band", "told"), [
    (0.0, 0.4, False), (0.0, 0.6, True), (-3.0, 2.0, False), (-3.0, 3.6, True), (0.4, 0.0, False), (0.6, 0.0, True), (0.6, None, True),
    (0.0, None, True), (-3.0, None, True),
])  # fmt: skip
def test_a_place_as_read_is_told_where_it_may_be_nearer_than_planned(nearer_by, band, told):
    """What lies further off is no danger, unless the readings leave it open that it lies nearer."""
    planned = SIDED["both"]
    read = replace(planned, dead_centre_left_deg=73.3 - nearer_by, danger_left_deg=68.1 - nearer_by, stop_left_deg=68.1 - nearer_by)
    (line,) = built_danger_lines(planned, read, {"left": band, "right": 0.0})
    assert ("as read" in line) == told
    if told:
        sure = "how sure is not known" if band is None else f"+- {band:.1f}"
        assert f"at {73.3 - nearer_by:.1f} deg left (left arm, {sure}) and 66.6 deg right (right arm, +- 0.0)" in line


@pytest.mark.parametrize(("bands", "own", "late"), [
    ({"left": 5.0, "right": 6.2}, None, None), ({"left": 5.3, "right": 6.2}, None, " left"),
    ({"left": 5.3, "right": 6.5}, None, ""),
    ({"left": None, "right": 6.5}, None, " right"), ({"left": 5.3, "right": 6.5}, 50.0, None),
    ({"left": 24.0, "right": 6.5}, 50.0, " left"),
])  # fmt: skip
def test_a_stop_that_the_readings_do_not_make_sure_is_looked_at(bands, own, late):
    """The stop stands some degrees before the place; where that is known to no better, somebody looks at rod and arm there."""
    both = SIDED["both"]
    if own is not None:
        both = replace(both, stop_left_deg=own, stop_right_deg=-own, stop_is_yours=True, own_stop_deg=own)
    (line,) = built_danger_lines(both, both, bands)
    asked = f"That may be too late{late}: look at rod and arm there."
    assert line.endswith(asked) if late is not None else "too late" not in line


@pytest.mark.slow
@pytest.mark.compiled
@pytest.mark.parametrize("explain", [(), pytest.param(("--explain",), marks=pytest.mark.slow)])
def test_bench_says_how_sure_the_place_as_read_is(run, explain):
    words = ("bench", "quay-loop", "floor-readings.csv", "--setup", "drop")
    told, found = run(*words, *explain), json.loads(run(*words, "--json"))
    errors, read = found["dangers_as_read_errors"], found["dangers_as_read"]
    for side in ("left", "right"):
        size = NORMAL_95 * errors[f"dead_centre_{side}_error_deg"]
        assert f"{abs(read[f'dead_centre_{side}_deg']):.1f} deg {side} ({side} arm, +- {size:.1f})" in told


def test_a_sheet_says_what_short_rods_do_to_the_danger():
    scenario = load_scenario(find_scenario("quay-loop"), "quay-loop")
    index = next(place for place, setup in enumerate(scenario.setup) if setup.linkage == "centre arm")
    steering = build_steering(scenario.setup[index], scenario.car, "quay-loop", "setup")
    front = assembly_of(scenario, index, steering)
    drawn = scenario.setup[index].model_copy(update={"rod_turns_left": -1.0, "rod_turns_right": -1.0})
    short = dangers_of(build_steering(drawn, scenario.car, "quay-loop", "setup"))
    by = dangers_of(steering).danger_left_deg - short.danger_left_deg
    assert 1.0 < by < 5.0
    assert front.danger_per_turn_deg == pytest.approx(by, abs=1e-9, rel=0)
    assert any(f"brings that place {by:.1f} deg nearer" in step.words for step in steps(front))


def test_every_sentence_tells_both(stopped, car_park):
    own = dangers_of(stopped)
    both = f"{LEFT} and {RIGHT}", "your stop at 30.0 deg stands before them"
    plan = plan_template("tried", stopped, car_park.car)
    check = next(one for one in CHECKS if one.part == STOPS)
    for words in (*danger_lines(own), stop_line(own), *stops_line([("tried", own)]), check_words(check, own), stop_sentence(plan)):
        assert all(one in words for one in both), words
    assert "55.9 deg left, 39.5 right; your stop at 30.0 deg stands before them." in short_stop_line(own, "it")
    assert danger_words(own).endswith("before 55.9° left, 39.5° right; your stop at 30.0° stands before them")
    assert own_stops_line([("a", own), ("b", NONE)]) == ' "a": your stop at 30.0 deg stands before them.'
    assert own_stops_line([("b", NONE)]) == ""
    one_side = replace(own, stop_right_deg=own.danger_right_deg)
    assert before_words(one_side) == "; your stop at 30.0 deg left stands before it"


def test_a_replay_asks_for_a_stop_where_none_stands(kinked, stopped):
    """A driver who has a stop was told to fit one; one who has it on one side alone still needs the other."""
    free, own = dangers_of(kinked), dangers_of(stopped)
    limit = "the left wheel must not pass 55.9° left, 39.5° right"
    assert limit_words(free) == f"Danger: fit a stop; {limit}"
    assert limit_words(own) == f"Danger: {limit}; your stop at 30.0° stands before them"
    one_side = replace(own, stop_right_deg=own.danger_right_deg)
    assert limit_words(one_side) == f"Danger: fit a stop; {limit}; your stop at 30.0° left stands before it"
    by_hand = replace(free, hand_is="hand wheel")
    assert limit_words(by_hand) == "Danger: fit a stop; the hand wheel must not pass 55.9° left, 39.5° right"
    assert limit_words(NONE) == ""


@pytest.mark.compiled
@pytest.mark.parametrize("words", [
    pytest.param(("run", "own.toml"), marks=pytest.mark.slow), ("angles", "own.toml"), ("angles", "own.toml", "--setup", "kinked"),
    pytest.param(("knock", "own.toml"), marks=pytest.mark.slow),
    pytest.param(("assemble", "own.toml", "--out", "a.pdf"), marks=pytest.mark.slow), ("bench", "own.toml", "--plan", "quick"),
])  # fmt: skip
def test_commands_tell_both(run, tmp_path, words):
    text = find_scenario("car-park").read_text(encoding="utf-8")
    line = 'linkage = "cross rod"'
    assert text.count(line) == 1
    (tmp_path / "own.toml").write_text(text.replace(line, f"{line}\nhand_wheel_limit_deg = 30"), encoding="utf-8")
    told = run(*words)
    assert "55.9" in told
    assert "your stop at 30.0 deg stands before them" in told
