"""Free keys and the quickly sampled steering: bounds, refusals, and agreement with the thorough way."""

from math import degrees, radians

import numpy as np
import pytest

from sim.errors import InputError
from sim.linkages.rolling import equivalent_steer, ideal_outer
from sim.scenario.car import CarTable
from sim.scenario.setup import SetupTable
from sim.search.setups import free_keys, inner_angles, largest_inner, outer_errors, sketch, with_keys
from sim.steering.angles import turning_circle
from sim.steering.arrangement import build_steering
from sim.steering.table import steer_table

CAR = CarTable(
    mass_kg=145.0, wheelbase_mm=1500.0, front_track_mm=900.0, rear_track_mm=860.0, kingpin_track_mm=740.0,
    mass_centre_behind_front_axle_mm=820.0, mass_centre_height_mm=330.0, yaw_inertia_kg_m2=38.0, wheel_radius_mm=203.0,
    drive="one wheel left",
)  # fmt: skip
ROD = {"linkage": "cross rod", "arm_length_mm": 110.0, "arm_angle_deg": 13.9}
REAL = {
    "cross rod": ROD,
    "toe": ROD | {"toe_in_deg": 0.7},
    "leaning": ROD | {"kingpin_inclination_deg": 9.0, "caster_deg": 7.0},
    "centre arm": ROD | {"linkage": "centre arm", "drop_arm_length_mm": 70.0, "drop_arm_behind_front_axle_mm": 107.0},
    "rack": ROD | {"linkage": "rack", "rack_behind_front_axle_mm": 140.0, "rack_length_mm": 300.0, "rack_mm_per_turn": 120.0},
    "fraction": {"linkage": "fraction", "fraction": 0.4},
    "turntable": {"pivot": "turntable"},
}


def setup_of(keys):
    return SetupTable.model_validate({"name": "tried", "pivot": "stub axles"} | keys)


@pytest.mark.parametrize("keys", REAL.values(), ids=list(REAL))
def test_the_sketch_is_the_thorough_steering(keys):
    setup = setup_of(keys)
    need = radians(25)
    made = sketch(setup, CAR, need, -need, (inner_angles(need), inner_angles(need)))
    steering = build_steering(setup, CAR, "tried.toml", "setup[0]")
    table = steer_table(steering, 1.5)
    # Both are cubic splines through the same curve; at 25 degrees, well inside the lock, the sketch is good to 1e-6 rad and m.
    for steer in np.linspace(-need, need, 31):
        values = []
        for one in (made.table, table):
            index, t = divmod((steer - one.first) / one.spacing, 1.0)
            values.append(one.cells[int(index)] @ t ** np.arange(4))
        np.testing.assert_allclose(values[0], values[1], rtol=0, atol=1e-6)
    # The lock is found from inside: never beyond the thorough one, and within 0.2 degrees of it.
    pose = steering.front_wheels(np.array([steering.lock_left, steering.lock_right]))
    left, right = equivalent_steer(pose.steer, steering.kingpin_y, 1.5)
    assert -1e-12 <= left - made.reach_left < radians(0.2)
    assert -1e-12 <= made.reach_right - right < radians(0.2)
    circle = turning_circle(steering, CAR).kerb
    assert circle <= made.circle * (1 + 1e-9)
    assert made.circle == pytest.approx(circle, rel=5e-3, abs=0)


@pytest.mark.parametrize("limit", [150.0, 226.7, 400.0, 890.0])
def test_a_wheel_that_turns_back_between_two_samples_ends_the_lock(limit):
    """A generous hand wheel's limit sets the samples far apart; a wheel that had turned back by less than it came was taken for good."""
    keys = {"linkage": "centre arm", "arm_length_mm": 274.0, "arm_angle_deg": 13.4, "drop_arm_length_mm": 77.7,
            "drop_arm_behind_front_axle_mm": 143.7, "hand_wheel_limit_deg": limit}  # fmt: skip
    setup, need = setup_of(keys), radians(25)
    made = sketch(setup, CAR, need, -need, (inner_angles(need), inner_angles(need)))
    steering = build_steering(setup, CAR, "tried.toml", "setup[0]")
    pose = steering.front_wheels(np.array([steering.lock_left, steering.lock_right]))
    left, right = equivalent_steer(pose.steer, steering.kingpin_y, 1.5)
    assert steering.lock_left_cause == "the right wheel turns no further"
    # Where a wheel turns back it does so by the square: two sixty-fourths of a sample apart are told no more.
    spacing = radians(limit) / 100 / 64
    assert abs(left - made.reach_left) < 2 * spacing
    assert abs(right - made.reach_right) < 2 * spacing
    assert (np.diff(made.table.cells[:, :, 0], axis=0)[:, 1:3] > 0).all()


def test_a_set_up_that_cannot_be_built_has_no_sketch():
    crossed = setup_of(ROD | {"arm_length_mm": 500.0, "arm_angle_deg": 80.0})
    assert sketch(crossed, CAR, 0.3, -0.3, (inner_angles(0.3), inner_angles(0.3))) is None


def test_the_error_of_ideal_and_of_the_turntable_is_none():
    need = radians(20)
    angles = tuple(inner_angles(one) for one in largest_inner(need, -need, CAR))
    for keys in ({"linkage": "ideal"}, {"pivot": "turntable"}):
        assert sketch(setup_of(keys), CAR, need, -need, angles).error < 1e-9


def test_the_error_of_parallel_is_its_closed_form():
    inner = inner_angles(radians(30))
    table = steer_table(build_steering(setup_of({"linkage": "parallel"}), CAR, "tried.toml", "setup[0]"), 1.5, -0.6, 0.6)
    for to_the_left in (True, False):
        errors = outer_errors(table, inner, 0.8, 1.5, to_the_left)
        np.testing.assert_allclose(errors, inner - ideal_outer(inner, 0.8, 1.5), rtol=0, atol=1e-12)
        beyond = outer_errors(table, np.array([0.1, 0.5, 0.7]), 0.8, 1.5, to_the_left)
        np.testing.assert_allclose(beyond, np.array([0.1, 0.5]) - ideal_outer(np.array([0.1, 0.5]), 0.8, 1.5), rtol=0, atol=1e-12)


def test_the_usual_keys_of_each_linkage():
    usual = {name: [one.key for one in free_keys(setup_of(keys), {}, "tried.toml")] for name, keys in REAL.items()}
    assert usual["cross rod"] == ["arm_length_mm", "arm_angle_deg"]
    assert usual["centre arm"] == ["arm_length_mm", "arm_angle_deg", "drop_arm_length_mm", "drop_arm_behind_front_axle_mm"]
    assert usual["rack"] == ["arm_length_mm", "arm_angle_deg", "rack_behind_front_axle_mm", "rack_length_mm"]
    assert usual["fraction"] == ["fraction"]
    assert usual["turntable"] == ["toe_in_deg"]


def test_usual_bounds_hold_what_the_team_has():
    for keys in REAL.values():
        setup = setup_of(keys)
        for one in free_keys(setup, {}, "tried.toml"):
            assert one.low <= getattr(setup, one.key) <= one.high


@pytest.mark.parametrize(
    ("asked", "line"),
    [
        ({"arm_lenght_mm": (60, 90)}, '--free: arm_lenght_mm: "tried" in tried.toml has no such number; did you mean arm_length_mm?'),
        ({"arm_length_mm": (90, 60)}, "--free: arm_length_mm: 90 to 60 is no range between 10 and 600; write arm_length_mm=LOW:HIGH"),
        ({"arm_length_mm": (5, 60)}, "--free: arm_length_mm: 5 to 60 is no range between 10 and 600; write arm_length_mm=LOW:HIGH"),
        (
            {"arm_length_mm": (float("nan"), 60)},
            "--free: arm_length_mm: nan to 60 is no range between 10 and 600; write arm_length_mm=LOW:HIGH",
        ),
    ],
)
def test_free_keys_that_are_none(asked, line):
    with pytest.raises(InputError) as fault:
        free_keys(setup_of(ROD), asked, "tried.toml")
    assert str(fault.value) == line


def test_a_key_of_another_linkage_is_refused():
    with pytest.raises(InputError, match="rack_length_mm"):
        free_keys(setup_of(ROD), {"rack_length_mm": (100, 200)}, "tried.toml")
    keys = ("arm_length_mm", "arm_angle_deg", "toe_in_deg", "caster_deg", "arm_joint_height_mm", "rod_turns_left", "rod_turns_right")
    with pytest.raises(InputError, match="too many"):
        free_keys(setup_of(ROD), dict.fromkeys(keys, (10, 20)), "tried.toml")


def test_other_values_keep_the_rest():
    setup = setup_of(ROD | {"toe_in_deg": 0.5})
    other = with_keys(setup, free_keys(setup, {}, "tried.toml"), (80.0, 20.0))
    assert (other.arm_length_mm, other.arm_angle_deg, other.toe_in_deg, other.name) == (80.0, 20.0, 0.5, "tried")
    assert degrees(other.toe_in) == pytest.approx(0.5, rel=1e-12, abs=0)
