"""The steering bench: what can be changed, what then happens, and that it is drawn as it stands."""

import tomllib
from dataclasses import replace
from math import degrees, floor, radians
from re import fullmatch

import numpy as np
import pygame
import pytest
from scipy.optimize import brentq

from sim.errors import InputError
from sim.linkages import catalogue
from sim.linkages.pivots import LEFT, RIGHT
from sim.linkages.rolling import ideal_inner
from sim.steering.arrangement import build_steering
from sim.study.dangers import dangers_of
from sim.turn.steady import steady_turn
from viz.replay import labels
from viz.replay.bench import scene
from viz.replay.bench.model import KINDS, RADIUS, SPEED, SPEEDS, TURNTABLE, BenchModel, Bend, fragment, slip_losses, tightest_bend
from viz.replay.bench.window import Bench, bench_point
from viz.replay.looks import CARD, INK, LOOKS, PAPER, SOFT, TEXT_SIZES, looks_of
from viz.replay.pens import NotePen, PygamePen
from viz.replay.view import Rect

REAL_KINDS = [name for name, kind in catalogue.KINDS.items() if kind.rods]

SIZE = (1280, 720)


@pytest.fixture
def model(replay):
    """Ideal steering, straight ahead."""
    made = BenchModel(replay.scenario, Bend(4.0, 2.0), 0)
    made.turn_hand(-made.hand)
    return made


@pytest.fixture
def bench(replay, tmp_path):
    made = Bench(replay, tmp_path, 0)
    made.model.turn_hand(-made.model.hand)
    made.draw(pygame.Surface(SIZE))
    return made


def pressed(key, mod=0):
    return pygame.event.Event(pygame.KEYDOWN, key=key, mod=mod)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_can_be_chosen_and_turned(model, kind):
    model.choose_kind(kind)
    assert model.kind == kind
    assert model.problem == ""
    model.turn_hand(10.0)
    assert model.hand == model.built.steering.lock_left
    pose = model.pose()
    assert pose.turns_left
    assert (pose.steer > 0).all()
    assert (pose.joints is not None) == (kind in REAL_KINDS)


@pytest.mark.parametrize("kind", REAL_KINDS)
@pytest.mark.parametrize("side", [0, 1])
def test_a_joint_goes_where_it_is_dragged(model, kind, side):
    """At any hand angle: put where it already is nothing changes, put elsewhere both arms are that long and kinked."""
    model.choose_kind(kind)
    model.turn_hand(0.4)
    there = model.pose().joints[side]
    model.arm_to(side, tuple(there))
    assert (model.built.setup.arm_length_mm, model.built.setup.arm_angle_deg) == (110.0, 13.9)
    model.turn_hand(-model.hand)
    sign, pin = (1, -1)[side], model.built.steering.wheels[side].axis_point
    model.arm_to(side, (pin[0] - 0.150 * np.cos(radians(25)), pin[1] - sign * 0.150 * np.sin(radians(25))))
    assert model.built.setup.arm_length_mm == pytest.approx(150.0, rel=0, abs=1e-9)
    assert model.built.setup.arm_angle_deg == pytest.approx(25.0, rel=0, abs=1e-9)


def test_rods_keep_their_length(model):
    for kind in REAL_KINDS:
        model.choose_kind(kind)
        lengths = []
        for hand in (-0.3, 0.0, 0.3):
            model.turn_hand(hand - model.hand)
            lengths.append([np.hypot(*(a - b)) for a, b in model.pose().rods])
        # A drop arm's joint rises while it swings, which the plan does not show: half a per cent of the rods at most.
        slack = {"abs": 2e-3} if kind == "centre arm" else {"abs": 1e-12}
        assert np.array(lengths) == pytest.approx(np.tile(lengths[1], (3, 1)), rel=0, **slack)


@pytest.mark.parametrize("hand", [0.35, -0.35])
def test_error_of_the_inner_wheel(model, hand):
    """Parallel wheels: the inner one turns too little, by what the ideal law asks more; mirrored in a right turn."""
    model.choose_kind("parallel")
    model.turn_hand(hand)
    pose = model.pose()
    wanted = float(ideal_inner(abs(hand), 0.740, 1.5))
    assert pose.error == pytest.approx(abs(hand) - wanted, rel=0, abs=1e-12)
    words, good = scene.error_words(pose)
    assert ("left" if hand > 0 else "right") in words
    assert f"should turn {degrees(wanted):.1f}°" in words
    assert "too little" in words
    assert good is False
    left, right = scene.crossings(pose, 1.5)
    assert abs(left - right) == pytest.approx(0.740, rel=0, abs=1e-9)


def test_the_curve_is_the_error_at_each_angle(model):
    model.choose_kind("cross rod")
    curve = scene.curve_of(model.built)
    hands = np.linspace(model.built.steering.lock_right, model.built.steering.lock_left, len(curve))
    for index in (5, 30, 44):
        model.turn_hand(hands[index] - model.hand)
        pose = model.pose()
        outer = pose.steer[1 if pose.turns_left else 0]
        assert curve[index] == pytest.approx((degrees(outer), degrees(pose.error)), rel=0, abs=1e-9)


def test_more_kink_brings_the_wheels_nearer_to_ideal_and_rubs_less(model):
    model.choose_kind("cross rod")
    model.turn_hand(0.5)
    table = model.built.table
    model.change({"arm_angle_deg": 20.0})
    turn = model.turn
    first = steady_turn(model.car, table, 1 / turn.curvature, model.speed)  # in the turn that the new one makes
    assert slip_losses(turn.before) == pytest.approx(slip_losses(first), rel=1e-9, abs=0)
    assert slip_losses(turn.own).sum() < 0.9 * slip_losses(turn.before).sum()
    assert slip_losses(turn.own).sum() > 0.99 * slip_losses(turn.ideal).sum()


def test_what_cannot_be_built_changes_nothing_and_says_why(model):
    model.choose_kind("cross rod")
    kept = model.built
    for keys in ({"arm_length_mm": 5.0}, {"arm_angle_deg": 90.0, "arm_length_mm": 500.0}):
        model.change(keys)
        assert model.problem
        assert model.built is kept
    model.change({"arm_length_mm": 120.0})
    assert model.problem == ""


def test_keys_that_do_not_fit_together_are_told_in_words(model):
    """Their parts once came as they are kept, with bars between and "value error" before."""
    model.choose_kind("cross rod")
    model.change({"arm_length_mm": None})
    assert model.problem == 'arm length mm: linkage "cross rod" needs this key'
    model.change({"arm_length_mm": 5.0})
    assert model.problem == "arm length mm: input should be greater than or equal to 10"
    assert model.built.setup.arm_length_mm == 110.0


def test_dials_move_by_their_steps_and_end(model):
    model.turn_hand(0.4)
    assert model.radius == pytest.approx(4.0, rel=0, abs=0.4)
    model.turn_dial(RADIUS, 3)
    assert model.radius == pytest.approx(round(model.radius * 2) / 2, rel=0, abs=1e-6)
    assert model.radius == pytest.approx(5.5, rel=0, abs=0.51)
    assert 0 < model.hand < 0.4
    model.turn_dial(RADIUS, -1000)
    assert model.problem.startswith("No turn of 1.5 m at 2 m/s: ") or model.radius == pytest.approx(1.5, rel=1e-6, abs=0)
    model.turn_dial(SPEED, -1000)
    assert model.speed == SPEEDS[0]
    model.choose_kind("centre arm")
    dials = {dial.key: dial for dial in model.dials}
    model.turn_dial(dials["rod_turns_left"], 2)
    assert model.built.setup.rod_turns_left == pytest.approx(1.0, rel=1e-12, abs=0)
    assert model.pose().steer[0] != pytest.approx(0.0, rel=0, abs=1e-3)


def test_the_turntable_loses_support_as_it_turns(model):
    model.choose_kind(TURNTABLE)
    model.turn_hand(-model.hand)
    straight = model.support(model.pose())
    assert straight.edge[1] == pytest.approx(-straight.tips * model.car.height / 9.81, rel=2e-3, abs=0)
    model.turn_hand(radians(30))
    turned = model.support(model.pose())
    assert turned.edge[0] > -model.car.front_arm  # away from a centre that lies behind the mass centre
    # Worked by hand: the outer front contact point goes to 0.45 sin 30 ahead and 0.45 cos 30 aside.
    assert turned.points[1] == pytest.approx((0.45 * 0.5, -0.45 * np.cos(radians(30))), rel=0, abs=1e-12)
    assert turned.tips < 0.98 * straight.tips
    assert model.built.hub_arm == pytest.approx(0.45, rel=0, abs=1e-12)
    model.choose_kind("parallel")
    assert model.built.hub_arm == pytest.approx(0.08, rel=0, abs=1e-12)


def test_a_turntable_is_told_beside_stub_axles(bench, noted):
    """Its picture had three ticks and a plain lever, while page and lesson say that it tips early and tears at the hands."""
    model = bench.model
    model.choose_kind(TURNTABLE)
    model.turn_hand(0.45 - model.hand)
    support = model.support(model.pose())
    # Its outer front point comes inwards with the cosine, that of a kingpin only by its short lever.
    assert 0.9 * support.stub_tips < support.tips < 0.97 * support.stub_tips
    assert model.stub_arm == pytest.approx(0.08, rel=0, abs=1e-12)
    assert scene.tip_words(support) == (
        f"Stands: {100 * support.takes / support.tips:.0f}\u00a0% of tipping ({support.takes:.1f} of {support.tips:.1f}\u00a0m/s², "
        f"on stub axles of {support.stub_tips:.1f})", None,
    )  # fmt: skip
    surface = noted()
    bench.draw(surface)
    said = " ".join(words for words, _, _ in surface.lines)
    assert "Turntable: a knock on a front wheel has 5.6 times the lever of stub axles, and the car tips sooner in this turn" in said
    assert "✗ A knock on a front wheel has a lever of 450\u00a0mm, on stub axles 80\u00a0mm" in said
    assert "✓ Stands" not in said
    model.turn_hand(0.02 - model.hand)  # hardly turned it tips no sooner, and the lever stays
    assert "sooner" not in scene.turntable_words(model.built.hub_arm, model.stub_arm, model.support(model.pose()))
    assert "where stub axles have hardly any" in scene.turntable_words(0.45, 0.0, support)
    model.choose_kind("parallel")
    model.turn_hand(0.45 - model.hand)
    words, good = scene.tip_words(model.support(model.pose()))
    assert good
    assert "stub" not in words
    assert scene.knock_words(model.built.hub_arm, model.stub_arm, False) == ("A knock on a front wheel has a lever of 80\u00a0mm", None)


def test_the_tip_limit_is_compared_with_the_turn(model):
    """The weight acts at h a / g from the mass centre: worked by hand from radius and speed."""
    model.choose_kind("parallel")
    model.turn_hand(0.4)
    support = model.support(model.pose())
    takes = 2.0**2 / model.radius
    assert support.takes == pytest.approx(takes, rel=1e-9, abs=0)
    mass = np.array([-model.car.front_arm, 0.0])
    moved, reach = np.hypot(*(support.load - mass)), np.hypot(*(support.edge - mass))
    assert moved == pytest.approx(model.car.height * takes / 9.81, rel=1e-9, abs=0)
    assert moved / reach == pytest.approx(takes / support.tips, rel=1e-9, abs=0)
    words, good = scene.tip_words(support)
    assert words.startswith(f"Stands: {100 * takes / support.tips:.0f}\u00a0% of tipping ({takes:.1f} of ")
    assert good
    words, good = scene.tip_words(support._replace(takes=support.tips + 1.0))
    assert "it tips over" in words
    assert good is False


@pytest.mark.compiled
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("speed", [0.5, 2.0])
def test_all_figures_follow_the_hand_wheel(replay, noted, tmp_path, kind, speed):
    """Against the turn whose hand angle SciPy's root search finds; the W stood still while the wheel pointed the other way."""
    bench = Bench(replay, tmp_path, 0)
    bench.model.choose_kind(kind)
    bench.model.speed = speed
    steering = bench.model.built.steering
    for share in (-0.5, 0.2, 0.7):
        hand = share * (steering.lock_left if share > 0 else -steering.lock_right)
        bench.model.turn_hand(hand - bench.model.hand)

        def turn_of(curvature):
            return steady_turn(bench.model.car, bench.model.built.table, 1 / curvature, speed)

        ends = [np.sign(hand) / 200, np.sign(hand) / 1.3]
        while not turn_of(ends[1]).converged:
            ends[1] *= 0.97
        curvature = brentq(lambda one, hand=hand: turn_of(one).hand - hand, *sorted(ends), xtol=1e-12)
        own = slip_losses(turn_of(curvature))
        ideal = slip_losses(steady_turn(bench.model.car, bench.model.ideal.table, 1 / curvature, speed))
        surface = noted()
        bench.draw(surface)
        shown = [words for words, _, _ in surface.lines]
        side = "left" if hand > 0 else "right"
        assert f"Turn to the {side}, radius {abs(1 / curvature):.1f} m, {speed:.1f} m/s" in shown
        assert watts(own.sum()) in shown
        assert f"ideal {watts(ideal.sum())}" in shown
        assert [words for words in shown if fullmatch(r"[\d.]+ W", words)][-4:] == [watts(one) for one in own]
        assert f"{abs(1 / curvature):.1f} m" in shown
        assert f"hand wheel {abs(degrees(hand)):.0f}° {side}" in shown


def watts(power):
    return f"{power:.1f} W" if power < 99.95 else f"{power:.0f} W"


def test_what_is_before_stays_with_its_curve(bench, noted):
    """The word stands beside the dashed curve, however far the set-up has been changed, and the old numbers at the new ones."""
    bench.model.choose_kind("cross rod")
    for angle in (15.0, 17.0, 20.0):
        bench.model.change({"arm_angle_deg": angle})
        surface = noted()
        bench.draw(surface)
        words = {words: rect for words, rect, _ in surface.lines}
        assert f"13.9 → {angle:.1f}°" in words
        near = words["before"].inflate(40, 44)
        hue = pygame.Color(scene.bench_look(bench.model).colour)
        found = [(x, y) for x in range(near.left, near.right) for y in range(near.top, near.bottom) if surface.get_at((x, y)) == hue]
        assert found
        assert not any(words["before"].collidepoint(place) for place in found)
    bench.do("undo")
    surface = noted()
    bench.draw(surface)
    assert "before" not in [words for words, _, _ in surface.lines]


def test_it_opens_in_the_tightest_bend_on_a_linkage_with_rods(car_park, tmp_path):
    """Its two bends have a radius of 3 m, driven at 1.4 m/s; its first set-up with rods is the third."""
    bend = tightest_bend(car_park)
    assert bend == pytest.approx((3.0, 1.4), rel=1e-6, abs=0)
    bench = Bench(car_park, tmp_path)
    assert bench.model.built.setup.name == "kinked arms, cross rod"
    assert bench.model.speed == pytest.approx(1.4, rel=1e-6, abs=0)
    assert bench.model.radius == pytest.approx(3.0, rel=1e-6, abs=0)
    assert bench.model.turn.curvature > 0


def test_a_run_without_rods_opens_on_a_usual_linkage(replay, tmp_path):
    scenario = replay.scenario.model_copy(update={"setup": replay.scenario.setup[:2]})
    model = BenchModel(scenario, Bend(4.0, 2.0))
    assert model.kind == REAL_KINDS[0]
    model.choose_setup(model.index + 1)
    assert model.built.setup.name == "ideal"


def test_another_linkage_goes_round_the_same_turn(replay):
    """Hand angles mean different things: 23 degrees of one are 150 of another."""
    model = BenchModel(replay.scenario, Bend(-4.0, 2.0))
    for _ in range(len(KINDS)):
        model.choose_kind(model.kind_beside(1))
        assert 1 / model.turn.curvature == pytest.approx(-4.0, rel=1e-6, abs=0)


def test_the_joint_pulses_until_it_is_dragged(bench, where):
    """And then rests, so that a bench that nobody touches draws nothing."""
    bench.model.choose_kind("cross rod")
    pictures = []
    for _ in range(2):
        surface = pygame.Surface(SIZE)
        bench.draw(surface)
        joint = bench.plan_view.screen(tuple(bench.model.pose().joints[0]))
        pictures.append(len(where(surface, INK, (joint[0] - 18, joint[1] - 18, 36, 36))))
        bench.advance(0.6)
    assert pictures[1] > pictures[0]
    assert bench.moving
    bench.mouse(pygame.MOUSEBUTTONDOWN, *joint, 1)
    assert bench.held == 0
    assert not bench.moving
    fresh = Bench(bench.replay, bench.folder)
    for _ in range(100):
        fresh.advance(0.1)
    assert not fresh.moving
    assert not Bench(bench.replay, bench.folder, 0).moving  # no joint to drag


@pytest.mark.parametrize("kind", REAL_KINDS)
def test_the_dangerous_place_grows_red_with_its_stop(bench, noted, where, kind):
    """Nothing of it straight ahead; more and more towards the stop, which is told at the place."""
    bench.model.choose_kind(kind)
    bench.model.turn_hand(-bench.model.hand)
    reds, lock = [], bench.model.built.steering.lock_left
    for share in (0.0, 0.8, 0.9, 1.0):
        bench.model.turn_hand(share * lock - bench.model.hand)
        surface = noted()
        bench.draw(surface)
        reds.append(len(where(surface, scene.DANGER_PALE)))
        stop = floor(10 * degrees(lock)) / 10
        assert (f"stop: {stop:.1f}°" in [words for words, _, _ in surface.lines]) == (share > 0.0)
    assert reds[0] == 0
    assert reds[1] < reds[2] < reds[3]


@pytest.mark.parametrize("hand", [0.03, 0.05, 0.1, 0.3, 0.6, -0.03, -0.07, -0.4])
@pytest.mark.parametrize("size", [(800, 600), (1280, 720), (2560, 1440)])
def test_the_meeting_point_is_always_seen(bench, hand, size):
    """In the view of the car or in an inset; it once left the picture and a view of the straight car took its place."""
    point = size[0] / 1280
    rect = Rect(16.0, 480.0, 0.28 * size[0] / point, 180.0)
    for kind in ("ideal", "parallel", "cross rod", TURNTABLE):
        bench.model.choose_kind(kind)
        bench.model.turn_hand(hand - bench.model.hand)
        pose = bench.model.pose()
        found = scene.crossings(pose, 1.5)
        assert found is not None
        view, inset, close = scene.axle_views(rect, pose, bench.body, point)
        seen_in, in_view = (rect, view) if inset is None else (inset, close)
        for at in found:
            x, y = in_view.screen((-1.5, at))
            assert seen_in.holds(x / point, y / point)
        for place in pose.contacts.tolist():
            x, y = view.screen(tuple(place))
            assert rect.holds(x / point, y / point)
            assert inset is None or not inset.holds(x / point, y / point)


def test_a_failed_save_looks_like_one(bench, noted, tmp_path):
    """It stood there in the green of a saved file."""
    colours = {}
    for folder in (tmp_path, tmp_path / "nowhere"):
        bench.folder = folder
        bench.do("save")
        surface = noted()
        bench.draw(surface)
        line = next((words, rect) for words, rect, _ in surface.lines if "aved" in words)
        colours[line[0].split(" ")[0]] = surface.get_at((bench_left(bench), line[1].centery))
        bench.key(pressed(pygame.K_0))
        assert bench.message == ""
    assert colours == {"✓": pygame.Color(INK), "✗": pygame.Color(scene.DANGER)}


def bench_left(bench):
    """A column of the frame around a notice [px]."""
    return round((8 + 1) * bench.point)


def test_the_buttons_say_what_comes_next(bench, noted):
    for _ in range(len(KINDS)):
        surface = noted()
        bench.draw(surface)
        shown = [words for words, _, _ in surface.lines]
        (kind,) = (words.removeprefix("Tab: ") for words in shown if words.startswith("Tab: "))
        (setup,) = (words.removeprefix("N: ") for words in shown if words.startswith("N: "))
        name = bench.model.next_setup.name
        bench.key(pressed(pygame.K_TAB))
        assert bench.model.kind == kind
        assert name.startswith(setup)


@pytest.mark.parametrize("size", [(640, 480), (799, 600), (320, 200)])
def test_a_window_that_is_too_small_says_the_least_size(bench, noted, size):
    surface = noted(size)
    bench.draw(surface)
    assert "800 x 600" in " ".join(words for words, _, _ in surface.lines)
    assert all(clip.contains(rect) for _, rect, clip in surface.lines)
    assert bench.mouse(pygame.MOUSEBUTTONDOWN, 10, 10, 1) == ""


def test_a_saved_set_up_can_be_pasted_into_a_scenario(bench, replay, scenario_of, tmp_path):
    bench.model.choose_kind("rack")
    bench.model.change({"arm_angle_deg": 17.3, "toe_in_deg": 0.4, "rod_turns_right": -1.5})
    for _ in range(2):
        bench.key(pressed(pygame.K_s))
    files = sorted(tmp_path.glob("*.toml"))
    assert [one.name for one in files] == ["circle-bench-01.toml", "circle-bench-02.toml"]
    assert "circle-bench-02.toml" in bench.message
    text = (replay.folder / "scenario.toml").read_text(encoding="utf-8") + "\n" + files[0].read_text(encoding="utf-8")
    pasted = scenario_of(text).setup[-1]
    assert pasted.model_copy(update={"name": ""}) == bench.model.built.setup.model_copy(update={"name": ""})
    build_steering(pasted, replay.scenario.car, "pasted", "setup")


def test_every_shipped_set_up_survives_the_bench(replay):
    for setup in replay.scenario.setup:
        keys = tomllib.loads(fragment(setup, "again"))["setup"][0]
        assert type(setup).model_validate(keys) == setup.model_copy(update={"name": "again"})


def test_a_folder_that_cannot_be_written_is_said_so(bench, tmp_path):
    with pytest.raises(InputError, match="can't be written"):
        bench.model.save(tmp_path / "nowhere", "run")
    bench.folder = tmp_path / "nowhere"
    bench.key(pressed(pygame.K_s))
    assert "can't be written" in bench.message


def test_keys(bench):
    bench.key(pressed(pygame.K_LEFT))
    assert bench.model.hand > 0
    bench.key(pressed(pygame.K_0))
    assert bench.model.hand == pytest.approx(0.0, rel=0, abs=1e-15)
    bench.key(pressed(pygame.K_RIGHT))
    assert bench.model.hand < 0
    while bench.model.kind != "cross rod":
        bench.key(pressed(pygame.K_TAB))
    bench.row = 0
    bench.key(pressed(pygame.K_PLUS))
    bench.key(pressed(pygame.K_MINUS, pygame.KMOD_SHIFT))
    assert bench.model.built.setup.arm_length_mm == pytest.approx(101.0, rel=1e-12, abs=0)
    bench.key(pressed(pygame.K_r))
    assert bench.model.built.setup.arm_length_mm == pytest.approx(110.0, rel=1e-12, abs=0)
    bench.key(pressed(pygame.K_DOWN))
    bench.key(pressed(pygame.K_PLUS))
    assert bench.model.built.setup.arm_angle_deg == pytest.approx(14.0, rel=1e-12, abs=0)
    bench.key(pressed(pygame.K_n))
    assert bench.model.built.setup.name == "turntable"  # after the run's own cross rod


def test_the_mouse_turns_the_hand_wheel_to_the_side_it_goes(bench):
    x, y = bench.hand_centre
    bench.mouse(pygame.MOUSEBUTTONDOWN, x, y - 50, 1)
    bench.mouse(pygame.MOUSEMOTION, x - 30, y - 40, 0)
    assert bench.model.hand == pytest.approx(np.arctan2(30, 40), rel=0, abs=1e-9)
    bench.mouse(pygame.MOUSEBUTTONUP, x - 30, y - 40, 1)
    bench.mouse(pygame.MOUSEMOTION, x + 30, y - 40, 0)
    assert bench.model.hand > 0


def test_the_mouse_drags_a_joint(bench):
    bench.model.choose_kind("cross rod")
    surface = pygame.Surface(SIZE)
    bench.draw(surface)
    at = bench.plan_view.screen(tuple(bench.model.pose().joints[0]))
    bench.mouse(pygame.MOUSEBUTTONDOWN, *at, 1)
    assert bench.held == 0
    bench.mouse(pygame.MOUSEMOTION, at[0], at[1] + 20, 0)
    bench.draw(surface)
    assert bench.model.built.setup.arm_length_mm > 130
    moved = bench.plan_view.screen(tuple(bench.model.pose().joints[0]))
    assert moved == pytest.approx((at[0], at[1] + 20), rel=0, abs=1.5)


def test_buttons(bench):
    bench.model.choose_kind("cross rod")
    bench.draw(pygame.Surface(SIZE))
    more = next(rect for rect, action in bench.hits if action == "more:0")
    bench.mouse(pygame.MOUSEBUTTONDOWN, more.x + 4, more.y + 4, 1)
    assert bench.model.built.setup.arm_length_mm == pytest.approx(111.0, rel=1e-12, abs=0)
    replay_button = next(rect for rect, action in bench.hits if action == "bench")
    assert bench.mouse(pygame.MOUSEBUTTONDOWN, replay_button.x + 4, replay_button.y + 4, 1) == "bench"


def test_the_plan_shows_arms_behind_the_axle_and_a_rod_between_them(bench):
    bench.model.choose_kind("cross rod")
    bench.model.turn_hand(-bench.model.hand)
    pose, pen = bench.model.pose(), NotePen()
    scene.draw_plan(pen, pose, bench.body, False, None)
    arms = [call[1:3] for call in pen.calls if call[0] == "line" and call[-1] == scene.ARM]
    rods = [call[1:3] for call in pen.calls if call[0] == "line" and call[-1] == scene.HOLLOW[0][0]]
    assert len(arms) == 2
    # Worked by hand: 0.37 m aside, 110 mm long, 13.9 degrees inwards.
    ends = [(-0.110 * np.cos(radians(13.9)), side * (0.370 - 0.110 * np.sin(radians(13.9)))) for side in (1, -1)]
    assert [arm[1] for arm in arms] == [pytest.approx(end, rel=0, abs=1e-4) for end in ends]
    assert [sorted(rod) for rod in rods] == [sorted([arms[0][1], arms[1][1]])]


def test_a_left_turn_is_drawn_to_the_left(bench, where):
    """The dark spoke of the hand wheel goes left, the axle lines cross on the left of the small car."""
    bench.model.choose_kind("ideal")
    bench.model.turn_hand(0.4 - bench.model.hand)
    pen, centre = NotePen(), (100.0, 100.0)
    scene.draw_hand_wheel(pen, centre, 50.0, bench.model.hand, False)
    (spoke,) = (call[2] for call in pen.calls if call[0] == "line" and call[-1].colour == INK)
    assert spoke == pytest.approx((100 - 47 * np.sin(0.4), 100 - 47 * np.cos(0.4)), rel=0, abs=1e-3)
    left, right = scene.crossings(bench.model.pose(), 1.5)
    assert left == pytest.approx(right, rel=0, abs=1e-9)
    assert left > 1.0
    surface = pygame.Surface(SIZE)
    bench.draw(surface)
    ring = where(surface, INK, (16, 620, 372, 20))
    assert ring[:, 0].mean() < 200


def test_at_the_lock_it_says_why_it_stops(model):
    model.choose_kind("cross rod")
    assert scene.stop_words(model.built.steering, model.hand) == ""
    model.turn_hand(-10.0)
    words = "It stops here: the right arm and its rod come within 15 degrees of one line"
    assert scene.stop_words(model.built.steering, model.hand) == words
    model.choose_kind("parallel")
    model.turn_hand(10.0)
    assert scene.stop_words(model.built.steering, model.hand) == "It stops here: hand wheel limit (assumed)"
    chosen = replace(model.built.steering, own_limit=model.built.steering.lock_left)
    assert scene.stop_words(chosen, model.hand) == "It stops here: hand wheel limit"


@pytest.mark.parametrize("side", [LEFT, RIGHT])
def test_rod_and_arm_straight_ahead(model, side):
    """The rod lies along the axle and the arm is kinked 13.9 degrees from straight behind: 76.1 degrees between them."""
    model.choose_kind("cross rod")
    assert model.pose().rod_angles == pytest.approx([radians(90 - 13.9)] * 2, rel=0, abs=1e-9)
    assert scene.line_words(model.pose()) == ""
    model.turn_hand((1, -1)[side] * 0.5)
    assert int(np.argmin(model.pose().rod_angles)) == side


@pytest.mark.parametrize("kind", REAL_KINDS)
def test_a_caution_where_a_steering_can_snap_over(model, kind):
    """Where the rods end the range, arm and rod make 15 degrees at the lock, and the bench warns from 5 degrees before."""
    model.choose_kind(kind)
    model.turn_hand(-10.0)
    pose = model.pose()
    assert degrees(pose.rod_angles.min()) == pytest.approx(15.0, rel=0, abs=1e-6)
    # Seen from above, as the bench draws it, it is the same angle: these kingpins stand upright.
    arm, (start, end) = pose.joints[RIGHT] - pose.pins[RIGHT], pose.rods[-1]
    drawn = np.angle(complex(*(end - start)) / complex(*arm)) % np.pi
    assert degrees(min(drawn, np.pi - drawn)) == pytest.approx(15.0, rel=0, abs=1e-6)
    words = scene.line_words(pose)
    assert words.startswith("Caution: right rod 15° from in line")
    assert "snap over" in words
    assert "fingers" in words
    warned = []
    for _ in range(30):
        pose = model.pose()
        warned.append(bool(scene.line_words(pose)))
        assert warned[-1] == (pose.rod_angles.min() < radians(20))
        model.turn_hand(model.hand_step)
    assert set(warned) == {True, False}


@pytest.mark.compiled
def test_steering_without_rods_has_no_caution(model):
    for kind in ("ideal", "parallel", "fraction", TURNTABLE):
        model.choose_kind(kind)
        model.turn_hand(10.0)
        assert model.pose().rod_angles is None
        assert scene.line_words(model.pose()) == ""


def test_ring_or_bar_of_the_axle_lines(model, replay):
    """A ring where they meet, a bar with crosses where they miss; neither has a hue, which is the set-ups'."""
    kinds = {}
    for kind in ("ideal", "parallel"):
        model.choose_kind(kind)
        model.turn_hand(0.4 - model.hand)
        pen = NotePen()
        scene.draw_axles(pen, model.pose(), replay.body)
        kinds[kind] = [call[0] for call in pen.calls]
        for call in pen.calls:
            red, green, blue = pygame.Color(call[-1].colour)[:3]
            assert max(red, green, blue) - min(red, green, blue) < 12
    assert "disc" in kinds["ideal"]
    assert "disc" not in kinds["parallel"]
    assert kinds["parallel"].count("line") == kinds["ideal"].count("line") + 5


def test_colours_can_be_read():
    """Letters stand out by 4.5 to 1, marks by 3 to 1, each on the ground that it is drawn on (WCAG 2.1's contrast)."""

    def bright(colour):
        parts = [part / 255 for part in pygame.Color(colour)[:3]]
        red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    def contrast(one, other):
        low, high = sorted((bright(one), bright(other)))
        return (high + 0.05) / (low + 0.05)

    for ink, grounds in ((INK, (CARD, PAPER, "#E3E9F0")), (SOFT, (CARD,)), (scene.DANGER, (CARD,))):
        assert all(contrast(ink, ground) >= 4.5 for ground in grounds)
    hues = ((look.colour, (CARD,)) for look in LOOKS)
    for mark, grounds in ((scene.GREY, (CARD, scene.PALE)), *hues, (INK, (scene.PALE, scene.DANGER_PALE))):
        assert all(contrast(mark, ground) >= 3.0 for ground in grounds)


def test_a_linkage_that_is_not_in_the_run_is_called_an_example(bench, noted):
    """It once stood there under its kind's name, as if the run had driven it."""
    said = {}
    for _ in range(len(KINDS)):
        surface = noted()
        bench.draw(surface)
        shown = " ".join(words for words, _, _ in surface.lines)
        said[bench.model.kind] = "not in this run: an example" in shown
        bench.model.choose_kind(bench.model.kind_beside(1))
    of_run = {setup.kind.name for setup in bench.replay.scenario.setup}
    assert said == {kind: kind not in of_run for kind in KINDS}
    bench.model.choose_kind("rack")
    bench.model.change({"arm_angle_deg": 15.0})
    assert bench.model.example
    bench.do("next setup")
    assert not bench.model.example


def test_a_run_without_rods_opens_on_an_example(replay):
    scenario = replay.scenario.model_copy(update={"setup": replay.scenario.setup[:2]})
    model = BenchModel(scenario, Bend(4.0, 2.0))
    assert model.example
    assert scene.bench_look(model).colour == SOFT


@pytest.mark.slow
def test_each_set_up_has_its_hue_and_shape_from_the_replay(bench, replay, where):
    """All were the same blue.  The curve, its sign and the bars are of the set-up's hue, and of no other's."""
    looks = looks_of(len(replay.drives), ())
    for index, look in enumerate(looks):
        bench.model.choose_setup(index)
        bench.model.turn_hand(0.3 - bench.model.hand)
        assert scene.bench_look(bench.model) == look
        surface = pygame.Surface(SIZE)
        bench.draw(surface)
        for other in looks:
            assert (len(where(surface, other.colour)) > 100) == (other.colour == look.colour)
    assert len({(look.colour, look.shape) for look in looks}) == len(looks)


@pytest.mark.slow
@pytest.mark.parametrize("kind", REAL_KINDS)
@pytest.mark.parametrize("size", [(800, 600), *(pytest.param(one, marks=pytest.mark.slow) for one in ((1280, 720), (2560, 1440)))])
@pytest.mark.parametrize("text", TEXT_SIZES)
def test_the_stop_lies_on_no_mark(replay, noted, monkeypatch, tmp_path, kind, size, text):
    """The word stood on the axle's beam.  Drawn without its words, the plan has nothing dark where the word then stands."""
    bench = Bench(replay, tmp_path, 0)
    bench.text = text
    bench.model.choose_kind(kind)
    steering = bench.model.built.steering
    for share in (0.85, 0.93, 1.0, -0.85, -0.93, -1.0):
        hand = share * (steering.lock_left if share > 0 else -steering.lock_right)
        bench.model.turn_hand(hand - bench.model.hand)
        surface = noted(size)
        bench.draw(surface)
        stops = [rect for words, rect, _ in surface.lines if words.startswith("stop: ")]
        assert len(stops) == 1
        bare = pygame.Surface(size)
        with monkeypatch.context() as patched:
            patched.setattr(labels.MarkPen, "place_words", lambda pen: None)
            bench.draw(bare)
        under = pygame.surfarray.array3d(bare)[stops[0].left : stops[0].right, stops[0].top + 2 : stops[0].bottom - 2]
        assert (under == 255).all()


def test_the_letters_of_the_bench_grow(replay, noted, tmp_path):
    """Each press of `T` shows: sizes that 1280 x 720 has no room for (2.0) are passed over.

    Nothing that is said is lost but the curve; the tip limit and the stop stay.
    """
    bench, sizes, held = Bench(replay, tmp_path), [], (1.0, 1.25, 1.5)
    for text in held:
        assert bench.text == text
        surface = noted()
        bench.draw(surface)
        sizes.append(bench.point)
        shown = [words for words, _, _ in surface.lines]
        joined = " ".join(shown)
        assert all(words in joined for words in ("of tipping", "rubbed away", "Danger: stop", "front left", "rear right"))
        assert all(clip.contains(rect) for _, rect, clip in surface.lines)
        assert all(rect.x >= 0 and rect.x + rect.width <= 1280 / bench.point + 1e-6 for rect, _ in bench.hits)
        bench.key(pressed(pygame.K_t))
    assert sizes == pytest.approx(held, rel=1e-3, abs=0)
    assert bench.text == TEXT_SIZES[0]


@pytest.mark.parametrize("size", [(800, 600), (1000, 720), (1280, 720), (1280, 1024), (1920, 1080), (2560, 1440)])
def test_every_press_for_larger_letters_shows(replay, tmp_path, size):
    bench, surface, points = Bench(replay, tmp_path), pygame.Surface(size), []
    for _ in TEXT_SIZES:
        bench.draw(surface)
        points.append(bench.point)
        bench.key(pressed(pygame.K_t))
        if bench.text == TEXT_SIZES[0]:
            break
    assert points == sorted(set(points))
    assert points[-1] == pytest.approx(bench_point(*size, TEXT_SIZES[-1]))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("size", [(800, 600), (1280, 720)])
def test_every_number_is_reached_with_large_letters(replay, tmp_path, kind, size):
    bench, surface = Bench(replay, tmp_path, 0), pygame.Surface(size)
    bench.text = TEXT_SIZES[-1]
    bench.model.choose_kind(kind)
    for row in range(len(bench.model.dials)):
        bench.row = row
        bench.draw(surface)
        assert f"more:{row}" in [action for _, action in bench.hits]
        for rect, _ in bench.hits:
            assert rect.y + rect.height <= size[1] / bench.point + 1e-6


@pytest.mark.slow
@pytest.mark.parametrize("kind", [*REAL_KINDS, TURNTABLE])
@pytest.mark.parametrize(("size", "text"), [((1280, 720), 1.0), ((800, 600), 1.0), ((1280, 720), 1.5)])
def test_no_wheel_crosses_words_of_the_plan(replay, noted, monkeypatch, tmp_path, kind, size, text):
    """A turntable's dashed line at 29 degrees went through the headline, as a wheel at lock did, and a word stood on a wheel."""
    bench = Bench(replay, tmp_path, 0)
    bench.text = text
    bench.model.choose_kind(kind)
    steering = bench.model.built.steering
    for hand in (steering.lock_left, 0.5 * steering.lock_left, 0.0, 0.8 * steering.lock_right, steering.lock_right):
        bench.model.turn_hand(hand - bench.model.hand)
        surface, bare = noted(size), pygame.Surface(size)
        bench.draw(surface)
        with monkeypatch.context() as patched:
            patched.setattr(labels.MarkPen, "place_words", lambda pen: None)
            patched.setattr(PygamePen, "text", lambda *_: None)
            bench.draw(bare)
        marks = (pygame.surfarray.array3d(bare) != 255).any(axis=2)
        wide, low = 2 * bench.hand_centre[0] * bench.point, (bench.hand_centre[1] - bench.hand_radius) * bench.point
        said = [(words, rect.inflate(-2, -4)) for words, rect, _ in surface.lines if rect.right < wide and rect.bottom < low]
        assert len(said) >= 2
        for words, box in said:
            assert not marks[box.left : box.right, box.top : box.bottom].any(), (hand, words)


def test_a_danger_that_is_never_reached_is_no_warning(replay):
    """It stood in red as one that a hand can reach."""
    setup = replay.scenario.setup[2]
    for limit, reached in ((None, True), (20.0, False)):
        steering = build_steering(setup.model_copy(update={"hand_wheel_limit_deg": limit}), replay.scenario.car, "test", "test")
        words, red = scene.bench_danger(dangers_of(steering))
        assert red is reached
        assert words.startswith("Danger: stop the" if reached else "Danger at ")
        assert ("is never reached; your stop at 20.0°" in words) is not reached


def test_little_is_neither_tick_nor_cross(bench, noted):
    """0.7 W of 54 W had a cross on the bench, and none in the story."""
    bench.model.choose_setup(1)
    bench.model.turn_hand(0.25 - bench.model.hand)
    turn = bench.model.turn
    own, ideal = (float(slip_losses(one).sum()) for one in (turn.own, turn.ideal))
    assert own - ideal > 0.2
    for least, mark in ((0.5 * (own - ideal), "✗ "), (2 * (own - ideal), "")):
        bench.least = least
        surface = noted()
        bench.draw(surface)
        for begins in ("The inner", "Axle lines miss"):  # the lower panel had a cross beside "costs hardly anything"
            assert any(words.startswith(mark + begins) for words, _, _ in surface.lines)
    assert scene.cost_words(turn, 2 * (own - ideal))[0].startswith("which costs hardly anything here: ")


def test_pictures_ask_nobody_to_do_anything(replay, noted, tmp_path):
    """A film said "Turn the hand wheel", and showed buttons."""
    for buttons in (True, False):
        bench, said = Bench(replay, tmp_path, 1, buttons=buttons), []
        for hand in (0.0, 0.3):
            bench.model.turn_hand(hand - bench.model.hand)
            surface = noted()
            bench.draw(surface)
            said += [words for words, _, _ in surface.lines]
        asked = [words for words in said if words.startswith(("Turn the hand", "Drag", "Tab:", "N:", "▸", "−")) or words == "+"]
        assert bool(asked) is buttons, asked


def test_slips_have_a_scale(bench, noted):
    bench.model.turn_hand(0.3)
    surface = noted()
    bench.draw(surface)
    words = [words for words, _, _ in surface.lines]
    assert "slip angle" in words
    assert words.count("6°") == 2
