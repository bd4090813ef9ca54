"""Drawn set-ups: each is either built, with finite numbers and a hand angle that rises to both locks, or refused in a line."""

from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from sim.errors import InputError
from sim.scenario.car import CarTable
from sim.scenario.setup import SetupTable
from sim.steering.angles import angle_rows, hand_range, steering_ratio, turning_circle
from sim.steering.arrangement import build_steering
from sim.steering.table import merged_table, steer_table

ARMS: dict[str, Any] = {
    "arm_length_mm": st.floats(10, 600),
    "arm_angle_deg": st.floats(-180, 180),
    "arm_joint_height_mm": st.none() | st.floats(1, 1500),
    "rod_turns_left": st.just(0.0) | st.floats(-40, 40),
    "rod_turns_right": st.just(0.0) | st.floats(-40, 40),
    "thread_pitch_mm": st.floats(0.2, 6),
}
ALWAYS: dict[str, Any] = {
    "toe_in_deg": st.floats(-10, 10),
    "caster_deg": st.floats(-30, 30),
    "hand_wheel_limit_deg": st.none() | st.floats(1, 1080),
}
KEYS: dict[str | None, dict[str, Any]] = {
    "ideal": {},
    "parallel": {},
    "fraction": {"fraction": st.floats(-2, 2)},
    "cross rod": ARMS,
    "centre arm": ARMS
    | {
        "drop_arm_length_mm": st.floats(5, 800),
        "drop_arm_behind_front_axle_mm": st.floats(-1500, 1500),
        "drop_arm_joint_spacing_mm": st.floats(0, 1000),
        "drop_arm_pivot_height_mm": st.none() | st.floats(1, 2000),
    },
    "rack": ARMS
    | {
        "rack_behind_front_axle_mm": st.floats(-1500, 1500),
        "rack_length_mm": st.floats(10, 2000),
        "rack_mm_per_turn": st.floats(1, 1000),
    },
    None: {},
}


@st.composite
def drawn(draw):
    """Any car and set-up that the scenario's bounds let through."""
    linkage = draw(st.sampled_from(list(KEYS)))
    keys = {name: draw(strategy) for name, strategy in (ALWAYS | KEYS[linkage]).items()}
    keys |= {"name": "drawn", "pivot": "stub axles", "linkage": linkage}
    if linkage is None:
        keys = {name: value for name, value in keys.items() if name != "linkage"} | {"pivot": "turntable"}
    else:
        keys["kingpin_inclination_deg"] = draw(st.floats(-30, 30))
    front_track, wheelbase = draw(st.floats(200, 2500)), draw(st.floats(500, 4000))
    car = CarTable(
        mass_kg=145.0,
        wheelbase_mm=wheelbase,
        front_track_mm=front_track,
        rear_track_mm=draw(st.floats(200, 2500)),
        kingpin_track_mm=draw(st.floats(0, 1)) * min(front_track + 100, 2500),
        mass_centre_behind_front_axle_mm=wheelbase / 2,
        mass_centre_height_mm=330.0,
        yaw_inertia_kg_m2=38.0,
        wheel_radius_mm=draw(st.floats(50, 500)),
        drive="differential",
    )
    return SetupTable(**keys), car


def build(setup, car):
    """The steering, or the refusal."""
    try:
        return build_steering(setup, car, "drawn.toml", "setup[0]"), None
    except InputError as fault:
        return None, fault


def check(setup, car):
    """True where it was built."""
    steering, refusal = build(setup, car)
    if refusal:
        assert str(refusal).startswith("drawn.toml: setup[0].")
        assert refusal.place.removeprefix("setup[0].") in SetupTable.model_fields
        return False
    wheelbase = car.wheelbase_mm / 1e3
    assert steering.lock_right < 0 < steering.lock_left
    hand = np.linspace(steering.lock_right, steering.lock_left, 401)
    pose = steering.front_wheels(hand)
    assert all(np.isfinite(part).all() for part in vars(pose).values())
    assert np.all(np.diff(pose.steer, axis=0) > 0)
    table = steer_table(steering, wheelbase)
    assert table.lock_right < 0 < table.lock_left
    assert np.isfinite(table.cells).all()
    assert np.all(np.diff(table.cells[:, 0, 0]) > 0)
    assert np.isfinite(merged_table(table).cells).all()
    rows = angle_rows(steering, car, hand_range(steering))
    assert np.isfinite(rows.error).all()
    circle = turning_circle(steering, car)
    assert 0 < circle.kerb < circle.wall < np.inf
    assert 0 < steering_ratio(steering, car) < np.inf
    return True


@pytest.mark.target(
    "T19", what="Drawn lawful set-ups are refused in a line or give finite numbers and a hand angle that rises to both locks",
    asked="500 draws, 5000 nightly",
)  # fmt: skip
@pytest.mark.slow
@settings(max_examples=500, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(drawn())
def test_drawn_set_ups(pair):
    """T19, the part that is steering's."""
    check(*pair)


@pytest.mark.target(
    "T19", what="Drawn lawful set-ups are refused in a line or give finite numbers and a hand angle that rises to both locks",
    asked="500 draws, 5000 nightly",
)  # fmt: skip
@pytest.mark.slow
@settings(max_examples=5000, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(drawn())
def test_many_drawn_set_ups(pair):
    """T19, nightly."""
    check(*pair)


@pytest.mark.slow
@pytest.mark.parametrize("linkage", [name for name in KEYS if name])
def test_usual_set_ups_are_built(linkage):
    """Seeded draws near what learners build are not refused, so that the drawn test is about more than refusals."""
    draw = np.random.default_rng(7)
    built = 0
    for _ in range(20):
        between = draw.uniform
        keys: dict[str, Any] = {"toe_in_deg": between(-1, 1), "caster_deg": between(0, 12), "kingpin_inclination_deg": between(0, 12)}
        if "arm_length_mm" in KEYS[linkage]:
            keys |= {"arm_length_mm": between(80, 140), "arm_angle_deg": between(0, 25), "rod_turns_left": between(-2, 2)}
        if linkage == "fraction":
            keys |= {"fraction": between(-0.5, 1.2)}
        if linkage == "centre arm":
            keys |= {"drop_arm_length_mm": between(50, 90), "drop_arm_behind_front_axle_mm": between(80, 130)}
        if linkage == "rack":
            keys |= {"rack_behind_front_axle_mm": between(100, 150), "rack_length_mm": between(250, 400), "rack_mm_per_turn": 60.0}
        car = CarTable(mass_kg=145.0, wheelbase_mm=draw.uniform(1300, 1800), front_track_mm=900.0, rear_track_mm=860.0,
                       kingpin_track_mm=draw.uniform(700, 900), mass_centre_behind_front_axle_mm=820.0,
                       mass_centre_height_mm=330.0, yaw_inertia_kg_m2=38.0, wheel_radius_mm=203.0, drive="differential")  # fmt: skip
        built += check(SetupTable(name="usual", pivot="stub axles", linkage=linkage, **keys), car)
    assert built == 20


def test_bounds_are_the_scenario_s():
    """The draws above reach the scenario's bounds and no further."""
    for linkage, keys in KEYS.items():
        for name in keys:
            assert name in SetupTable.model_fields, (linkage, name)
    with pytest.raises(ValidationError):
        SetupTable(name="beyond", pivot="turntable", caster_deg=30.1)
