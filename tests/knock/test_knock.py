"""`knock` and what `angles` says beside the angles: figures against the model's own rooms, words, picture, refusals."""

import json
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from sim.scenario.file import check_scenario
from sim.steering.arrangement import build_steering
from sim.study.angles import angles_result
from sim.study.dangers import Dangers, RodLength, dangers_of
from sim.study.knock import contact_points, knock_result
from sim.study.ready import entries_of
from viz.angles.report import angles_report
from viz.knock.report import knock_report, write_knock_plot
from viz.shared.checks import CAUTIONS, CHECKS
from viz.shared.plain import plain

YARD = (Path(__file__).parents[1] / "scenarios" / "yard.toml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def scenario():
    return check_scenario(tomllib.loads(YARD), "yard.toml")


@pytest.fixture(scope="module")
def result(scenario):
    return knock_result(scenario, "yard.toml", 20.0, 3.0)


def printed(renderables):
    console = Console(width=120, no_color=True, highlight=False, markup=False)
    with console.capture() as caught:
        for one in renderables:
            console.print(one)
    return caught.get()


def test_arms_of_both_pivots(result):
    """Kingpin offset (900 - 740) / 2 mm; a turntable's arm is half its track; K1's force makes the torque."""
    by_name = {one.name: one for one in result.setups}
    assert by_name["ideal"].wheels.front_left.hub_arm_mm == pytest.approx(80.0, rel=1e-12, abs=0)
    assert by_name["turntable"].wheels.front_right.ground_arm_mm == pytest.approx(450.0, rel=1e-12, abs=0)
    for one in result.setups:
        wheel = one.wheels.front_left
        assert wheel.kingpin_torque_N_m == pytest.approx(one.step_force_N * wheel.hub_arm_mm * 1e-3, rel=1e-9, abs=0)
    # K3: exact ratio (t/2) / r_k
    ratio = by_name["turntable"].hand_torque_N_m / by_name["ideal"].hand_torque_N_m
    assert ratio == pytest.approx(450 / 80, rel=1e-6, abs=0)


def test_kick_grows_with_the_speed_and_stays_inside_the_lock(scenario):
    slow, fast = (knock_result(scenario, "yard.toml", 5.0, speed).setups[0] for speed in (1.0, 3.0))
    assert 0 < slow.peak_steer_deg < fast.peak_steer_deg < 60
    short = knock_result(scenario, "yard.toml", 20.0, 5.0).setups[1]
    assert short.peak_hand_deg <= 10.0 + 1e-9  # its hand wheel stops there


def test_tip_margin_by_hand(scenario, result):
    """At rest upright and straight: g times the half-width at the mass centre over the height (published values R5's formula)."""
    row = result.setups[2].tip_margin[0]
    half_width = 0.430 + (0.450 - 0.430) * (1500 - 820) / 1500
    assert row.tip_m_per_s2 == pytest.approx(9.81 * half_width / 0.330, rel=1e-9, abs=0)
    assert row.lift_m_per_s2 < row.tip_m_per_s2
    turned = result.setups[2].tip_margin
    # Turned by 30 degrees its contact points are the corners of another support; away from the turn's centre, by plane geometry.
    turn, out = np.radians(30.0), np.array([0.68, -1.5 / np.tan(np.radians(30.0))])
    front, rear = np.array([0.82 + 0.45 * np.sin(turn), -0.45 * np.cos(turn)]), np.array([-0.68, -0.43])
    reach = np.linalg.solve(np.column_stack([out / np.hypot(*out), front - rear]), front)[0]
    assert turned[6].tip_m_per_s2 == pytest.approx(9.81 * reach / 0.330, rel=1e-9, abs=0)
    assert turned[6].lift_m_per_s2 < turned[6].tip_m_per_s2
    assert turned[4].radius_m == pytest.approx(np.hypot(0.68, 1.5 / np.tan(np.radians(20))), rel=1e-9, abs=0)


def test_loads_at_rest_carry_the_car(scenario):
    steering = build_steering(scenario.setup[2], scenario.car, "yard.toml", "setup[2]")
    x, y = contact_points(steering, scenario.car, 0.3)
    assert x[2] == x[3] == pytest.approx(0.82 - 1.5, rel=1e-12, abs=0)
    assert y[2] == -y[3] == pytest.approx(0.43, rel=1e-12, abs=0)
    # A turntable steered left takes its left wheel back and its right wheel forward.
    assert x[0] < x[1]


@pytest.mark.slow
def test_the_grip_line(scenario, result, tmp_path):
    """0.9 times gravity; the axle that grips less slides first; both words and picture tell sliding from tipping."""
    assert result.grip_m_per_s2 == pytest.approx(0.9 * 9.81, rel=1e-12, abs=0)
    text = " ".join(printed(knock_report(result)).split())
    assert "This scenario's tyres hold up to about 8.8 m/s2, so the car slides before it tips" in text
    for grip, words in ((30.0, "so the car tips before it slides"), (13.0, "where it is lower it tips first")):
        assert words in " ".join(printed(knock_report(replace(result, grip_m_per_s2=grip))).split())
    slippery = scenario.car.tyre.model_copy(update={"friction": 0.5})
    behind = scenario.model_copy(update={"car": scenario.car.model_copy(update={"rear_tyre": slippery})})
    assert knock_result(behind, "yard.toml", 20.0, 3.0).grip_m_per_s2 == pytest.approx(0.5 * 9.81, rel=1e-12, abs=0)
    for name, grip in (("a", 8.829), ("b", 5.0)):
        write_knock_plot(replace(result, grip_m_per_s2=grip), tmp_path / f"{name}.png")
    assert (tmp_path / "a.png").read_bytes() != (tmp_path / "b.png").read_bytes()


def test_rods_that_come_in_line_are_told(scenario, result):
    """The yard's set-ups have no rods; a cross rod's two dead centres are told with the place for a stop."""
    assert "Danger" not in printed(knock_report(result))
    rods = scenario.setup[0].model_copy(update={"linkage": "cross rod", "arm_length_mm": 110.0, "arm_angle_deg": 13.9})
    changed = scenario.model_copy(update={"setup": (rods,)})
    text = " ".join(printed(knock_report(knock_result(changed, "yard.toml", 20.0, 3.0))).split())
    assert "at 69.1 deg left (left arm) and 41.6 deg right (right arm) a rod and its arm come in line" in text
    # 55.98 and 39.60 degrees, rounded towards straight ahead
    assert "Fit a stop before the left wheel passes 55.9 deg left and 39.5 deg right." in text
    setup = angles_result(changed, entries_of(changed, "yard.toml"), None, 8.0, 3.0).setups[0]
    assert setup.rods == (RodLength("cross rod", pytest.approx(740 - 220 * np.sin(np.radians(13.9)), rel=1e-12, abs=0)),)
    assert (setup.stop_left_deg, setup.stop_right_deg) == (setup.lock_left_deg, setup.lock_right_deg)
    assert (setup.dead_centre_left_arm, setup.dead_centre_right_arm) == ("left", "right")
    assert dangers_of(build_steering(scenario.setup[0], scenario.car, "yard.toml", "setup[0]")) == Dangers(*[None] * 6)


def test_words(result):
    text = printed(knock_report(result))
    assert 'The same step tears at the hands of "turntable" with 5.6 times the torque' in text.replace("\n", " ")
    assert "competent adult" in text
    assert "No uncertainty is given" in text
    json.dumps(plain(result), allow_nan=False)


@pytest.mark.slow
def test_picture(result, tmp_path):
    write_knock_plot(result, tmp_path / "a.png")
    write_knock_plot(result, tmp_path / "b.png")
    assert (tmp_path / "a.png").read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()


def test_angles_show_what_leaning_kingpins_do(scenario):
    leaning = scenario.setup[0].model_copy(update={"kingpin_inclination_deg": 9.0, "caster_deg": 7.0})
    changed = scenario.model_copy(update={"setup": (leaning,)})
    result = angles_result(changed, entries_of(changed, "yard.toml"), None, 8.0, 3.0)
    setup = result.setups[0]
    row = setup.rows[-1]
    wheels = build_steering(leaning, changed.car, "x", "setup[0]").front_wheels(np.radians([row.hand_deg]))
    assert row.left_camber_deg == pytest.approx(np.degrees(wheels.camber[0, 0]), rel=1e-9, abs=0)
    assert row.right_rise_mm == pytest.approx(1e3 * wheels.rise[0, 1], rel=1e-9, abs=1e-9)
    assert row.left_contact_left_mm == pytest.approx(1e3 * (wheels.y[0, 0] - 0.45), rel=1e-9, abs=1e-9)
    torque = setup.hand_torque
    parts = torque.side_force_N_m + torque.aligning_N_m + torque.rolling_N_m + torque.weight_N_m
    assert torque.total_N_m == pytest.approx(parts, rel=1e-12, abs=0)
    assert torque.side_force_N_m > 0  # caster turns the wheels back, so the hands hold against it
    assert torque.washer_dry_N_m == pytest.approx(2 * torque.washer_greased_N_m, rel=1e-12, abs=0)
    text = printed(angles_report(result))
    assert "Leaning kingpins move the wheels" in text
    assert "Hands hold a steady turn of 8 m at 3 m/s" in text


@pytest.mark.compiled
def test_upright_kingpins_need_no_second_table(scenario):
    result = angles_result(scenario, entries_of(scenario, "yard.toml"), [10.0], 8.0, 3.0)
    assert "Leaning kingpins" not in printed(angles_report(result))


def test_checks_are_marked_as_common_practice():
    assert len(CHECKS) == 7
    assert all(check.ground == "common practice" for check in CHECKS)
    assert any("competent adult" in caution for caution in CAUTIONS)
    assert any("never certifies" in caution for caution in CAUTIONS)
