"""The steering bench: what can be changed, what then happens, and that it is drawn as it stands."""

import tomllib
from math import degrees, radians

import numpy as np
import pygame
import pytest

from sim.errors import InputError
from sim.linkages import catalogue
from sim.linkages.pivots import LEFT, RIGHT
from sim.linkages.rolling import ideal_inner
from sim.steering.arrangement import build_steering
from viz.replay.bench import scene
from viz.replay.bench.model import KINDS, SPEEDS, TURN_DIALS, TURNTABLE, BenchModel, fragment, slip_losses
from viz.replay.bench.window import Bench
from viz.replay.looks import BAD, BLUE, GOOD, ORANGE
from viz.replay.pens import NotePen

REAL_KINDS = [name for name, kind in catalogue.KINDS.items() if kind.rods]

SIZE = (1280, 720)


@pytest.fixture
def model(replay):
    return BenchModel(replay.scenario)


@pytest.fixture
def bench(replay, tmp_path):
    made = Bench(replay, tmp_path)
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
    words, colour = scene.error_words(pose)
    assert ("left" if hand > 0 else "right") in words
    assert f"should turn {degrees(wanted):.1f}°" in words
    assert "too little" in words
    assert colour == BAD
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
    before = slip_losses(model.steady()[0]).sum()
    model.change({"arm_angle_deg": 20.0})
    turn, ideal = model.steady()
    assert slip_losses(turn).sum() < 0.9 * before
    assert slip_losses(turn).sum() > 0.99 * slip_losses(ideal).sum()


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
    radius, speed = TURN_DIALS
    model.turn_dial(radius, 3)
    assert model.radius == pytest.approx(5.5, rel=1e-12, abs=0)
    model.turn_dial(speed, -1000)
    assert model.speed == SPEEDS[0]
    model.choose_kind("centre arm")
    dials = {dial.key: dial for dial in model.dials}
    model.turn_dial(dials["rod_turns_left"], 2)
    assert model.built.setup.rod_turns_left == pytest.approx(1.0, rel=1e-12, abs=0)
    assert model.pose().steer[0] != pytest.approx(0.0, rel=0, abs=1e-3)


def test_the_turntable_loses_support_as_it_turns(model):
    model.choose_kind(TURNTABLE)
    _, edge, tips_straight = model.support(model.pose())
    assert edge == pytest.approx((-model.car.front_arm, -tips_straight * model.car.height / 9.81), rel=1e-12, abs=0)
    model.turn_hand(radians(30))
    turned, edge, tips_turned = model.support(model.pose())
    assert edge[0] > -model.car.front_arm  # away from a centre that lies behind the mass centre
    # Worked by hand: the outer front contact point goes to 0.45 sin 30 ahead and 0.45 cos 30 aside.
    assert turned[1] == pytest.approx((0.45 * 0.5, -0.45 * np.cos(radians(30))), rel=0, abs=1e-12)
    assert tips_turned < 0.98 * tips_straight
    assert model.built.hub_arm == pytest.approx(0.45, rel=0, abs=1e-12)
    model.choose_kind("parallel")
    assert model.built.hub_arm == pytest.approx(0.08, rel=0, abs=1e-12)


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
    assert bench.model.built.setup.name == "parallel"


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


def test_the_plan_shows_arms_behind_the_axle_and_a_rod_between_them(bench, where):
    bench.model.choose_kind("cross rod")
    surface = pygame.Surface(SIZE)
    bench.draw(surface)
    upper = (0, 0, 780, 400)
    arms, rod = where(surface, BLUE, upper), where(surface, ORANGE, upper)
    axle = bench.plan_view.screen((0.0, 0.0))
    assert len(arms) > 200
    assert len(rod) > 600
    assert arms[:, 1].mean() > axle[1] + 10
    assert rod[:, 1].min() > axle[1] + 20
    assert abs(rod[:, 0].mean() - axle[0]) < 5


def test_a_left_turn_is_drawn_to_the_left(bench, where):
    """Wheels lean left, the red spoke of the hand wheel goes left, the lines cross on the left of the small car."""
    bench.model.choose_kind("ideal")
    bench.model.turn_hand(0.4)
    surface = pygame.Surface(SIZE)
    bench.draw(surface)
    x, y = bench.hand_centre
    spoke = where(surface, BAD, (x - 70, y - 70, 140, 140))
    assert len(spoke) > 50
    assert spoke[:, 0].mean() < x - 8
    assert spoke[:, 1].mean() < y
    ring = where(surface, GOOD, (8, 440, 380, 230))
    assert len(ring) > 30
    assert ring[:, 0].mean() < 190


def test_at_the_lock_it_says_why_it_stops(model):
    model.choose_kind("cross rod")
    assert scene.stop_words(model.built.steering, model.hand) == ""
    model.turn_hand(-10.0)
    words = "It stops here: the right arm and its rod come within 15 degrees of one line"
    assert scene.stop_words(model.built.steering, model.hand) == words
    model.choose_kind("parallel")
    model.turn_hand(10.0)
    assert scene.stop_words(model.built.steering, model.hand) == "It stops here: hand wheel limit"


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


def test_steering_without_rods_has_no_caution(model):
    for kind in ("ideal", "parallel", "fraction", TURNTABLE):
        model.choose_kind(kind)
        model.turn_hand(10.0)
        assert model.pose().rod_angles is None
        assert scene.line_words(model.pose()) == ""


def test_ring_or_bar_of_the_axle_lines(model, replay):
    inks = {}
    for kind in ("ideal", "parallel"):
        model.choose_kind(kind)
        model.turn_hand(0.4)
        pen = NotePen()
        scene.draw_axles(pen, model.pose(), replay.body)
        inks[kind] = {call[-1].colour for call in pen.calls}
    assert GOOD in inks["ideal"]
    assert BAD not in inks["ideal"]
    assert BAD in inks["parallel"]
    assert GOOD not in inks["parallel"]
