"""Maps of the steady turn: each point is a steady turn, and where turns end the limit is the one that its formula gives."""

import csv

import numpy as np
import pytest

from sim.chassis import GRAVITY, tip_limit
from sim.cornering import steady_turn
from sim.maps import State, TurnMap, level_with_best, turn_map
from sim.motion import DRIVE_POWER, LATERAL_LOSS, LONGITUDINAL_LOSS
from sim.scenario_file import find_scenario, load_scenario
from sim.study import entries_of
from viz import maps as pictures

RADII, SPEEDS = np.array([3.0, 6.0, 15.0]), np.linspace(0.5, 12.0, 24)


def test_every_point_is_its_steady_turn(vehicle, setup_keys):
    # Continuation along the speed against a solution of its own.
    car, table = vehicle(**setup_keys)
    made = turn_map(car, table, RADII, SPEEDS)
    for i, radius in enumerate(RADII):
        for j in range(0, len(SPEEDS), 5):
            turn = steady_turn(car, table, radius, SPEEDS[j])
            assert turn.converged == np.isfinite(made.scrub[i, j])
            if turn.converged:
                scrub = turn.wheels[:, [LATERAL_LOSS, LONGITUDINAL_LOSS]].sum()
                assert made.scrub[i, j] == pytest.approx(scrub, rel=1e-8, abs=1e-9)
                assert made.drive[i, j] == pytest.approx(turn.body[DRIVE_POWER], rel=1e-8, abs=0)


def test_a_tall_car_tips_where_the_formula_says(vehicle):
    # v^2 / R = g t / (2 h) for equal tracks: the static stability factor.  One step of the map's speeds is its sharpness.  The outer
    # wheel drives: a differential shares with the inner one, which has no load left to drive with just before the car tips.
    keys = {"mass_centre_height_mm": 700.0, "rear_track_mm": 800.0, "drive": "one wheel right"}
    car, table = vehicle("K", car=keys, tyre={"friction": 2.0})
    speeds = np.linspace(0.5, 14.0, 200)
    made = turn_map(car, table, np.array([20.0]), speeds)
    ends = speeds[np.flatnonzero(made.state[0] == State.TIPS)[0]]
    half = 0.5 * np.array([car.front_track, -car.front_track, car.rear_track, -car.rear_track])
    x = np.array([car.front_arm] * 2 + [car.front_arm - car.wheelbase] * 2)
    tip = np.sqrt(20.0 * tip_limit(x, half, car.height))
    assert ends == pytest.approx(tip, rel=0, abs=speeds[1] - speeds[0])
    assert State.LIFTED in made.state[0]
    assert State.NO_GRIP not in made.state[0]


def test_a_flat_car_slides_near_its_grip(vehicle):
    car, table = vehicle(linkage="ideal")
    made = turn_map(car, table, np.array([12.0]), SPEEDS)
    ends = SPEEDS[np.flatnonzero(made.state[0] == State.NO_GRIP)[0]]
    grip = np.sqrt(0.9 * GRAVITY * 12.0)
    assert 0.85 * grip < ends < 1.05 * grip
    order = made.state[0][np.concatenate([[True], np.diff(made.state[0]) != 0])]
    assert list(order) in ([State.ROLLS, State.NO_GRIP], [State.ROLLS, State.SLIDES, State.NO_GRIP])


def test_a_small_lock_ends_the_turns_of_a_small_radius(vehicle):
    car, table = vehicle(linkage="ideal", hand_wheel_limit_deg=12.0)
    made = turn_map(car, table, np.array([3.0, -3.0, 30.0]), np.array([0.5, 1.0]))
    assert np.all(made.state[:2] == State.LOCKED)
    assert np.all(made.state[2] == State.ROLLS)


def test_a_right_turn_is_a_left_turn_in_a_mirror(vehicle):
    car, table = vehicle(car={"drive": "differential"}, linkage="parallel")
    left, right = turn_map(car, table, RADII, SPEEDS), turn_map(car, table, -RADII, SPEEDS)
    np.testing.assert_array_equal(left.state, right.state)
    np.testing.assert_allclose(left.scrub, right.scrub, rtol=1e-8, atol=1e-9)


@pytest.mark.parametrize(("radii", "speeds"), [([0.0], [1.0]), ([5.0], [0.0, 1.0]), ([5.0], [2.0, 1.0])])
def test_a_grid_that_is_none_is_refused(vehicle, radii, speeds):
    car, table = vehicle()
    with pytest.raises(ValueError, match="radii that are not 0"):
        turn_map(car, table, np.array(radii), np.array(speeds))


def test_set_ups_that_cannot_be_told_apart_are_level():
    none = np.array([[State.ROLLS] * 4])
    powers = [100.0, 100.0, np.nan, np.nan], [100.9, 101.1, 5.0, np.nan]
    one, two = (TurnMap(np.zeros((1, 4)), np.array([drive]), none) for drive in powers)
    level = level_with_best([one, two])
    np.testing.assert_array_equal(level[:, 0], [[True, True, False, False], [True, False, True, False]])


@pytest.fixture(scope="module")
def made():
    scenario = load_scenario(find_scenario("first-bend"))
    kept = pictures.POINTS
    pictures.POINTS = 20
    yield pictures.make_maps(scenario, entries_of(scenario, "first-bend"), -8.0, 5.0)
    pictures.POINTS = kept


def test_the_csv_holds_every_turn(made, tmp_path):
    pictures.write_map_csv(made, tmp_path / "map.csv")
    rows = list(csv.DictReader((tmp_path / "map.csv").open(encoding="utf-8")))
    assert len(rows) == 3 * 20 * 20
    assert {row["setup"] for row in rows} == {"ideal", "parallel", "turntable axle"}
    assert all(float(row["radius_m"]) < 0 for row in rows)
    for row in rows:
        assert (row["scrub_W"] == "") == (row["state"] in {"slides off", "tips over", "lock too small", "no turn found"})


def test_the_picture_is_the_same_each_time(made, tmp_path):
    for name in ("one.png", "two.png"):
        pictures.write_map_plot(made, tmp_path / name)
    assert (tmp_path / "one.png").read_bytes() == (tmp_path / "two.png").read_bytes()
    assert (tmp_path / "one.png").read_bytes().startswith(b"\x89PNG")


def test_the_table_says_where_turns_end(made):
    result = pictures.map_result(made)
    rows = {row["radius_m"]: row for row in result["setups"][0]["rows"]}
    assert result["points"] == 400
    assert all(radius < 0 for radius in rows)
    ended = [row for row in rows.values() if row["ends_by"] is not None]
    assert ended
    assert all(row["ends_by"] == "slides off" and row["grips_to_m_per_s"] < row["ends_at_m_per_s"] for row in ended)
    assert len(pictures.map_report(result)) == 2
