"""Maps of the steady turn: each point is a steady turn, and where turns end the limit is the one that its formula gives."""

import csv
from io import StringIO

import numpy as np
import pytest
from rich.console import Console

from sim.car.chassis import GRAVITY, tip_limit
from sim.car.motion import BodyColumn, WheelColumn
from sim.scenario.file import find_scenario, load_scenario
from sim.study import maps
from sim.study.ready import car_of, entries_of
from sim.turn.maps import ENDS_OF, LIMIT_STEP, Limits, State, TurnMap, above_best, level_with_best, limits_of, turn_map
from sim.turn.steady import steady_turn
from viz.corner import map as pictures
from viz.corner import map_areas

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
                scrub = turn.wheels[:, [WheelColumn.LATERAL_LOSS, WheelColumn.LONGITUDINAL_LOSS]].sum()
                assert made.scrub[i, j] == pytest.approx(scrub, rel=1e-8, abs=1e-9)
                assert made.drive[i, j] == pytest.approx(turn.body[BodyColumn.DRIVE_POWER], rel=1e-8, abs=0)


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
    one, two = (TurnMap(np.zeros((1, 4)), np.array([drive]), none, np.zeros(1), np.zeros(1)) for drive in powers)
    level = level_with_best([one, two])
    np.testing.assert_array_equal(level[:, 0], [[True, True, False, False], [True, False, True, False]])


def test_power_above_the_best_is_that_of_the_same_turn():
    none = np.array([[State.ROLLS] * 4])
    powers = [100.0, 100.0, np.nan, np.nan], [100.9, 99.0, 5.0, np.nan]
    one, two = (TurnMap(np.zeros((1, 4)), np.array([drive]), none, np.zeros(1), np.zeros(1)) for drive in powers)
    wanted = [[0.0, 1.0, np.nan, np.nan], [0.9, 0.0, 0.0, np.nan]]
    np.testing.assert_allclose(above_best([one, two])[:, 0], wanted, rtol=0, atol=1e-12)


@pytest.fixture(scope="module")
def made(compiler):
    scenario = load_scenario(find_scenario("first-bend"))
    kept = maps.POINTS
    maps.POINTS = 20
    yield maps.make_maps(scenario, entries_of(scenario, "first-bend"), -8.0, 5.0)
    maps.POINTS = kept


def test_the_csv_holds_every_turn(made, tmp_path):
    pictures.write_map_csv(made, tmp_path / "map.csv")
    rows = list(csv.DictReader((tmp_path / "map.csv").open(encoding="utf-8")))
    assert len(rows) == 3 * 20 * 20
    assert {row["setup"] for row in rows} == {"ideal", "parallel", "turntable axle"}
    assert all(float(row["radius_m"]) < 0 for row in rows)
    for row in rows:
        assert (row["scrub_W"] == "") == (row["state"] in {maps.STATE_WORDS[end] for end in pictures.ENDS})


@pytest.fixture(scope="module")
def park(compiler):
    """Maps of two chosen set-ups of four."""
    scenario = load_scenario(find_scenario("car-park"))
    kept = maps.POINTS
    maps.POINTS = 20
    yield maps.make_maps(scenario, entries_of(scenario, "car-park"), 6.0, 4.0, [2, 1])
    maps.POINTS = kept


def test_chosen_set_ups_are_told_and_the_best_is_that_of_all(park, tmp_path):
    assert [setup.name for setup in maps.map_result(park).setups] == ["parallel", "kinked arms, cross rod"]
    pictures.write_map_csv(park, tmp_path / "map.csv")
    rows = list(csv.DictReader((tmp_path / "map.csv").open(encoding="utf-8")))
    assert {row["setup"] for row in rows} == {"parallel", "kinked arms, cross rod"}
    least = np.min([np.nan_to_num(one.drive, nan=np.inf) for one in park.maps], axis=0)
    for index, row in enumerate(rows[:400]):  # of "parallel", radius by radius
        wanted = park.maps[1].drive.flat[index] - least.flat[index]
        assert (row["more_than_best_W"] == "") == bool(np.isnan(wanted))
        assert np.isnan(wanted) or float(row["more_than_best_W"]) == pytest.approx(wanted, rel=1e-5, abs=1e-9)
    assert min(float(row["more_than_best_W"]) for row in rows if row["more_than_best_W"]) >= 0.0


def test_the_legend_lists_all_set_ups_in_order(park):
    figure = pictures.map_figure(park)
    titles = [axes.get_title(loc="left") for part in figure.subfigs for axes in part.axes]
    assert titles == ["2  parallel", "3  kinked arms, cross rod", "Least drive power (within 1 %)", ""]
    listed = [text.get_text() for part in figure.subfigs for legend in part.legends[:1] for text in legend.get_texts()]
    notes = ["" if level.any() else " (nowhere among the best)" for level in park.level]
    names = ["1 ideal", "2 parallel", "3 kinked arms, cross rod", "4 turntable axle"]
    assert listed == [name + note for name, note in zip(names, notes, strict=True)]


@pytest.mark.compiled
def test_a_set_up_alone_is_drawn_by_its_scrub(monkeypatch):
    monkeypatch.setattr(maps, "POINTS", 12)
    scenario = load_scenario(find_scenario("car-park"))
    alone = scenario.model_copy(update={"setup": scenario.setup[1:2]})
    figure = pictures.map_figure(maps.make_maps(alone, entries_of(alone, "car-park"), 6.0, 4.0))
    assert [axes.get_title(loc="left") for part in figure.subfigs for axes in part.axes] == ["parallel"]
    assert "lose by slipping" in figure.subfigs[0].get_suptitle()


@pytest.mark.slow
def test_the_picture_is_the_same_each_time(made, tmp_path):
    for name in ("one.png", "two.png"):
        pictures.write_map_plot(made, tmp_path / name)
    assert (tmp_path / "one.png").read_bytes() == (tmp_path / "two.png").read_bytes()
    assert (tmp_path / "one.png").read_bytes().startswith(b"\x89PNG")


def test_the_table_says_where_turns_end(made):
    result = maps.map_result(made)
    rows = {row.radius_m: row for row in result.setups[0].rows}
    assert result.points == 400
    assert list(rows) == [-3.0, -5.0, -8.0, -12.0, -20.0, -40.0]
    ended = [row for row in rows.values() if row.ends_by is not None]
    assert ended
    assert all(row.ends_by == "not enough grip" and row.grips_to_m_per_s < row.holds_to_m_per_s for row in ended)


def plain_text(report, width):
    """A report as a terminal of a width shows it."""
    stream = StringIO()
    console = Console(file=stream, width=width, no_color=True, highlight=False, markup=False)
    for part in report:
        console.print(part)
    return stream.getvalue()


@pytest.mark.compiled
@pytest.mark.parametrize("radius", [8.0, -8.0, 3.3, 1000.0])
def test_a_limit_is_told_on_the_safe_side_and_for_the_asked_radius(radius, monkeypatch):
    # It was the first speed of the grid without a turn, at the grid's nearest radius: 8.0 m/s at 8 m, where no turn is held at 7.9.
    monkeypatch.setattr(maps, "POINTS", 12)
    scenario = load_scenario(find_scenario("first-bend"))
    entries = entries_of(scenario, "first-bend")
    made = maps.make_maps(scenario, entries, radius, 20.0 if radius > 100 else 7.0)
    result = maps.map_result(made)
    for entry, setup in zip(entries, result.setups, strict=True):
        assert radius in [row.radius_m for row in setup.rows]
        for row in setup.rows:
            held = row.holds_to_m_per_s
            if held is None:
                assert row.ends_by is None
                assert steady_turn(car_of(scenario), entry.table, row.radius_m, made.speeds[-1]).converged
                continue
            assert held == round(held, 2)
            assert steady_turn(car_of(scenario), entry.table, row.radius_m, held).converged
            past = steady_turn(car_of(scenario), entry.table, row.radius_m, held + 2 * LIMIT_STEP)
            assert not past.converged
            assert row.ends_by == maps.STATE_WORDS[ENDS_OF[past.reason]]


def test_the_printed_limit_is_the_one_that_was_tried(made):
    result = maps.map_result(made)
    lines = plain_text(pictures.map_report(result), 80).splitlines()
    shown = next(line for line in lines if line.startswith("ideal")).removeprefix("ideal").split("  ")
    shown = [word.strip() for word in shown if word.strip()]
    rows = result.setups[0].rows
    assert [word for word in shown if "over" not in word] == [f"{row.holds_to_m_per_s:.2f}" for row in rows if row.ends_by]
    assert shown[-2:] == ["over 12", "over 12"]
    assert any("no end within this map's speeds" in line for line in lines)
    assert all(len(line) <= 80 for line in lines)


def test_beyond_the_lock_there_is_no_limit_to_tell(vehicle):
    car, table = vehicle(linkage="ideal", hand_wheel_limit_deg=12.0)
    none, wide = (limits_of(car, table, radius, SPEEDS) for radius in (3.0, 40.0))
    assert none == Limits(0.0, 0.0, State.LOCKED)
    assert wide == Limits(np.inf, np.inf, None)


@pytest.mark.compiled
def test_what_ends_the_turns_of_a_shipped_car_is_always_told():
    # Where the wheels were read too far below the end of the turns, nothing seemed to end them: black bars in the picture.
    scenario = load_scenario(find_scenario("car-park"))
    car = car_of(scenario)
    for entry in entries_of(scenario, "car-park"):
        made = turn_map(car, entry.table, np.geomspace(2.5, 6.0, 40), np.linspace(0.25, 8.0, 30))
        assert {State(state) for state in made.state[~np.isfinite(made.scrub)]} <= {State.NO_GRIP, State.SPINS}
        # The end is the solver's, not the grid's, and runs smoothly over the radius.
        assert np.abs(np.diff(made.ends_at, 2)).max() < 0.02
    turn = steady_turn(car, entries_of(scenario, "car-park")[2].table, 2.957, 4.55)
    assert turn.reason.startswith("not enough grip")


@pytest.mark.parametrize("radius", [-1.8, 2.2])
def test_a_turn_in_which_wheels_slide_at_a_crawl_is_found(vehicle, radius):
    # The rolling car is no guess for parallel wheels in a tight wet bend; the wider turn is.
    car, table = vehicle(car={"drive": "solid axle"}, tyre={"friction": 0.3}, linkage="parallel")
    made = turn_map(car, table, np.array([radius]), np.linspace(0.25, 1.0, 4))
    turn = steady_turn(car, table, radius, 0.25)
    assert turn.converged
    np.testing.assert_allclose(turn.body[[BodyColumn.ACCEL_X, BodyColumn.ACCEL_Y, BodyColumn.ACCEL_YAW]], 0.0, rtol=0, atol=1e-9)
    assert np.all(made.state == State.SLIDES)


def test_a_lock_that_is_too_small_at_a_crawl_only(vehicle):
    # A solid axle pushes straight on; the faster the car the less, and then the lock is enough.
    keys = {"drive": "solid axle", "mass_centre_behind_front_axle_mm": 738.0}
    car, table = vehicle(car=keys, tyre={"friction": 1.2}, linkage="ideal", hand_wheel_limit_deg=24.0)
    made = turn_map(car, table, np.array([4.0]), np.array([0.25, 1.0, 2.0, 3.0, 4.0]))
    assert list(made.state[0, :2]) == [State.LOCKED] * 2
    assert np.isfinite(made.scrub[0, 2:]).all()


def test_specks_and_slivers_are_drawn_as_their_surroundings(made):
    code = np.ones((200, 200), dtype=np.int64)
    code[:, 120:] = 2  # an area
    code[50, 60], code[30:34, :] = 4, 4  # a speck and a line
    code[:20, :20] = 0  # no turn
    areas = map_areas._without_specks(code)
    assert set(np.unique(areas)) == {1, 2}
    np.testing.assert_array_equal(areas[60:], code[60:])


@pytest.mark.slow
@pytest.mark.parametrize("scenario", ["car-park", "first-bend", "quay-loop"])
@pytest.mark.parametrize(("radius", "speed"), [(6.0, 4.0), (-15.0, 9.0), (8.0, 7.0)])
def test_no_label_hides_another(scenario, radius, speed, monkeypatch):
    # "above: a tyre slides" lay on "100 W".
    monkeypatch.setattr(maps, "POINTS", 30)
    loaded = load_scenario(find_scenario(scenario))
    figure = pictures.map_figure(maps.make_maps(loaded, entries_of(loaded, scenario), radius, speed))
    figure.draw_without_rendering()
    labels = 0
    for axes in figure.axes:
        boxes = [text.get_window_extent() for text in axes.texts if text.get_text()]
        marks = [axes.transData.transform((abs(radius), speed))]
        for i, box in enumerate(boxes):
            assert not any(box.overlaps(other) for other in boxes[:i])
            assert not any(box.contains(*mark) for mark in marks)
        labels += len(boxes)
    assert labels > 8
