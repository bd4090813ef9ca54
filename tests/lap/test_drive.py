"""The lap: order of its integrator, its ledger, its end on the circle, mirror, compiled against plain Python."""

import json
import os
import subprocess
import sys

import numpy as np
import pytest

from sim.car.chassis import GRAVITY
from sim.car.motion import BODY_COLUMNS, WHEEL_COLUMNS, BodyColumn, WheelColumn
from sim.course.reading import read_course
from sim.lap.drive import LONGEST_STEP, ROW_TIME, Ended, drive_lap, observe, start_state, time_step
from sim.lap.equations import lap_rate
from sim.lap.ledger import ledger_of
from sim.lap.state import LEDGER, STATES, Extreme, State
from sim.pace.driver import Pace, driver_of, plan_pace
from sim.pace.road import road_of
from sim.steering.cells import front_pose, steer_cells_of
from sim.turn.steady import steady_turn

DRIVE_NAMES = ["one wheel left", "one wheel right", "differential", "solid axle"]
STEPS = [0.02, 0.01, 0.005, 0.0025]  # [s]


def pace(course, car, target, *, lateral=3.0, start=None, power=600.0):
    return plan_pace(course, car, Pace(target=target, lateral_limit=lateral, braking_limit=1.5, power=power, start=start))


def observed(car, table, course, plan, lap):
    """Wheels (n, 4, ...) and bodies (n, ...) along a lap's rows."""
    wheels, bodies = np.zeros((len(lap.rows), 4, WHEEL_COLUMNS)), np.zeros((len(lap.rows), BODY_COLUMNS))
    observe(car, steer_cells_of(table), road_of(course, plan), driver_of(car), lap.rows, wheels, bodies)
    return wheels, bodies


@pytest.fixture(scope="module")
def winding(course_by):
    """A smooth closed course: eight gentle swings between a straight and a 10 m bend, at constant speed."""
    course = course_by(200.0, lambda s: 0.05 + 0.05 * np.sin(2 * np.pi * 8 * s / 200.0))
    return course, lambda car: pace(course, car, 5.0, lateral=10.0, power=2000.0)


@pytest.mark.compiled
@pytest.mark.target("T10", what="At the shipped step the ledger of a smooth lap leaves open, as a share of drive work", asked="1e-9")
@pytest.mark.target("T9", what="Order of a lap's integrator where all is smooth, best of three halvings", asked="3.5")
@pytest.mark.parametrize("drive", ["one wheel left", "differential", "solid axle"])
def test_order_of_the_integrator_and_the_smooth_ledger(vehicle, winding, orders, drive, within_target):
    car, table = vehicle("standard", car={"drive": drive}, linkage="parallel")
    course, plan_of = winding
    plan = plan_of(car)
    np.testing.assert_allclose(plan.speed, 5.0, rtol=1e-14, atol=0)
    ledgers = [ledger_of(car, drive_lap(car, table, course, plan, step=step)) for step in [*STEPS, STEPS[-1] / 4]]
    assert all(ledger.brakes == 0.0 for ledger in ledgers)  # no switch between drive and brake: the case is smooth
    for pick in (lambda one: one.scrub, lambda one: one.drive_work, lambda one: one.hand_work):
        errors = [pick(ledger) - pick(ledgers[-1]) for ledger in ledgers[:-1]]
        within_target(orders(errors).max(), at_least=3.5, of="order", no="T9")
    usual = ledger_of(car, drive_lap(car, table, course, plan))
    within_target(abs(usual.residual), at_most=1e-9, no="T10")
    assert usual.scrub == pytest.approx(ledgers[-1].scrub, rel=1e-8, abs=0)


@pytest.mark.target("T10", what="Any lap's ledger leaves open, sliding, braking and hills included", asked="1e-6")
@pytest.mark.parametrize(
    ("drive", "radius", "friction", "lateral"),
    [("one wheel left", 8.0, 0.4, 3.6), ("differential", 8.0, 0.25, 2.2), ("solid axle", 25.0, 0.4, 3.0)],
)
def test_a_sliding_lap_keeps_its_books(vehicle, bend, drive, radius, friction, lateral, within_target):
    car, table = vehicle("standard", car={"drive": drive}, tyre={"friction": friction}, linkage="parallel")
    course = bend(radius)
    plan = pace(course, car, 9.0, lateral=lateral)
    lap = drive_lap(car, table, course, plan)
    wheels, _ = observed(car, table, course, plan, lap)
    used = np.hypot(wheels[:, :, WheelColumn.LATERAL], wheels[:, :, WheelColumn.LONGITUDINAL]) / (
        friction * wheels[:, :, WheelColumn.LOAD] + 1e-12
    )
    assert lap.ended in (Ended.FINISHED, Ended.WEAVED)  # it comes round; hands that fight a long slide count as weaving
    assert (used.max(axis=1) > 0.9999).mean() > 0.1  # a tenth of the time some wheel slides
    within_target(abs(ledger_of(car, lap).residual), at_most=1e-6)


@pytest.mark.target("T11", what="Each wheel's loss, in every step or drawn state", asked="at least -1e-12 W")
@pytest.mark.parametrize("drive", DRIVE_NAMES)
def test_no_wheel_gives_back_what_slip_takes(vehicle, bend, drive, setup_keys, within_target):
    car, table = vehicle("standard", car={"drive": drive}, **setup_keys)
    course = bend()
    plan = pace(course, car, 6.0, lateral=3.5)
    lap = drive_lap(car, table, course, plan)
    wheels, bodies = observed(car, table, course, plan, lap)
    assert lap.ended == Ended.FINISHED
    within_target(wheels[:, :, [WheelColumn.LATERAL_LOSS, WheelColumn.LONGITUDINAL_LOSS]], at_least=-1e-12, of="least loss [W]")
    # Loads carry the weight, and balance the accelerations to what three passes leave at the worst moment: a thousandth of g on a
    # solid axle whose rear wheels slide (a lap's losses then differ by 3e-6 from those of ten passes).
    np.testing.assert_allclose(wheels[:, :, WheelColumn.LOAD].sum(axis=1), car.mass * GRAVITY, rtol=1e-12, atol=0)
    pose = [np.zeros(4) for _ in range(5)]
    for row, wheel, body in zip(lap.rows[::10], wheels[::10], bodies[::10], strict=True):
        front_pose(steer_cells_of(table), car, row[State.STEER], 0.0, *pose)
        ahead, left = (
            body[BodyColumn.ACCEL_X] - row[State.YAW_RATE] * row[State.VY],
            body[BodyColumn.ACCEL_Y] + row[State.YAW_RATE] * row[State.VX],
        )
        moment = car.mass * car.height
        assert wheel[:, WheelColumn.LOAD] @ pose[2] == pytest.approx(-moment * ahead, rel=0, abs=1e-3 * moment * GRAVITY)
        assert wheel[:, WheelColumn.LOAD] @ pose[3] == pytest.approx(-moment * left, rel=0, abs=1e-3 * moment * GRAVITY)


def test_a_straight_lap_scrubs_nothing(vehicle, course_by):
    course = course_by(60.0, lambda s: 0 * s, closed=False)
    for drive, linkage in [("differential", "parallel"), ("solid axle", "ideal")]:
        car, table = vehicle("standard", car={"drive": drive}, linkage=linkage)
        ledger = ledger_of(car, drive_lap(car, table, course, pace(course, car, 5.0)))
        np.testing.assert_allclose(ledger.lateral, 0.0, rtol=0, atol=1e-20)
        assert ledger.aligning == pytest.approx(0.0, rel=0, abs=1e-18)
        # What is left along the wheels is the drive slip's: F kappa = F^2 / (c_x N) a metre.
        force = (ledger.air + ledger.rolling) / 60.0
        static = car.mass * GRAVITY * 0.82 / 1.5
        assert ledger.longitudinal.sum() == pytest.approx(60 * force**2 / (15 * static), rel=5e-3, abs=0)
        assert ledger.rolling == pytest.approx(0.008 * car.mass * GRAVITY * 60, rel=1e-12, abs=0)
        assert ledger.air == pytest.approx(0.5 * 1.225 * 0.2 * 25 * 60, rel=1e-4, abs=0)


def rate_of(car, table, road, state):
    """Rate of a lap's state."""
    rate = np.zeros(STATES)
    lap_rate(car, steer_cells_of(table), road, driver_of(car), state, rate, np.zeros((4, WHEEL_COLUMNS)), np.zeros(BODY_COLUMNS))
    return rate


@pytest.mark.parametrize("error", [0.4, -0.6])
@pytest.mark.parametrize("sign", [1, -1])
def test_path_coordinates_are_plane_geometry(vehicle, circle, sign, error):
    # A circle about (0, R), R positive to the left: a point e to the left of the line is R - e from the centre.  The car is moved on in
    # the plane for a moment, and station, error and heading error are read off there.
    car, table = vehicle("standard", linkage="ideal")
    course, radius = circle(8.0, sign * 2 * np.pi), sign * 8.0
    state = np.zeros(STATES)
    state[[State.STATION, State.ERROR, State.HEADING, State.VX, State.VY, State.YAW_RATE]] = 9.0, error, 0.15, 4.0, 0.3, sign * 0.6
    line, nose = state[State.STATION] / radius, state[State.STATION] / radius + state[State.HEADING]
    place = np.array([0.0, radius]) + (radius - error) * np.array([np.sin(line), -np.cos(line)])
    velocity = np.array([np.cos(nose) * 4.0 - np.sin(nose) * 0.3, np.sin(nose) * 4.0 + np.cos(nose) * 0.3])

    def read(time):
        x, y = place + velocity * time
        line = np.arctan2(sign * x, sign * (radius - y)) % (sign * 2 * np.pi)
        return np.array([radius * line, radius - sign * np.hypot(x, radius - y), nose + state[State.YAW_RATE] * time - line])

    rate = rate_of(car, table, road_of(course, pace(course, car, 4.0)), state)
    np.testing.assert_allclose(rate[[State.STATION, State.ERROR, State.HEADING]], (read(1e-5) - read(-1e-5)) / 2e-5, rtol=1e-7, atol=1e-9)


@pytest.mark.parametrize("sign", [1, -1])
def test_a_lap_begins_along_the_line(vehicle, circle, sign):
    # On the line at the planned speed, turning with it: it neither leaves the line nor turns off it, and no wheel of ideal steering slips.
    car, table = vehicle("standard", linkage="ideal")
    course = circle(8.0, sign * 2 * np.pi)
    plan = pace(course, car, 4.0)
    road = road_of(course, plan)
    state = start_state(car, road, steer_cells_of(table))
    rate = rate_of(car, table, road, state)
    assert rate[State.STATION] == pytest.approx(plan.speed[0], rel=1e-9, abs=0)
    np.testing.assert_allclose(rate[[State.ERROR, State.HEADING]], 0.0, rtol=0, atol=1e-9)
    steers, rates, x, y, cambers = (np.zeros(4) for _ in range(5))
    front_pose(steer_cells_of(table), car, state[State.STEER], 0.0, steers, rates, x, y, cambers)
    ahead, left = state[State.VX] - state[State.YAW_RATE] * y, state[State.VY] + state[State.YAW_RATE] * x
    np.testing.assert_allclose(np.arctan2(left, ahead), steers, rtol=0, atol=1e-9)


@pytest.mark.parametrize("drive", ["one wheel left", "differential", "solid axle"])
@pytest.mark.parametrize("sign", [1, -1])
def test_a_lap_on_a_circle_is_the_steady_turn(vehicle, circle, drive, sign, setup_keys):
    car, table = vehicle("standard", car={"drive": drive}, **setup_keys)
    course = circle(8.0, sign * 2 * np.pi)
    plan = pace(course, car, 4.5)
    lap = drive_lap(car, table, course, plan)
    ledger = ledger_of(car, lap)
    # The driver holds the car a little off the line and off the plan, so first at the circle that is really driven ...
    radius, speed = sign * 8.0 - lap.end[State.ERROR], float(np.hypot(lap.end[State.VX], lap.end[State.VY]))
    turn = steady_turn(car, table, radius, speed)
    np.testing.assert_allclose(ledger.lateral / lap.time, turn.wheels[:, WheelColumn.LATERAL_LOSS], rtol=1e-8, atol=1e-9)
    np.testing.assert_allclose(ledger.longitudinal / lap.time, turn.wheels[:, WheelColumn.LONGITUDINAL_LOSS], rtol=1e-8, atol=1e-9)
    # ... then at the one that was asked for.
    asked = steady_turn(car, table, sign * 8.0, float(plan.speed[0]))
    losses = asked.wheels[:, WheelColumn.LATERAL_LOSS] + asked.wheels[:, WheelColumn.LONGITUDINAL_LOSS]
    assert ledger.scrub / lap.time == pytest.approx(losses.sum(), rel=0.01, abs=0)


@pytest.mark.target("T4", what="Left and right swapped: every figure is mirrored", asked="1e-10 relative")
@pytest.mark.parametrize("drive", DRIVE_NAMES)
@pytest.mark.parametrize(
    ("left_keys", "right_keys"),
    [
        ({"linkage": "parallel"}, {"linkage": "parallel"}),
        (
            {"linkage": "cross rod", "arm_length_mm": 110.0, "arm_angle_deg": 13.9, "rod_turns_left": 0.5},
            {"linkage": "cross rod", "arm_length_mm": 110.0, "arm_angle_deg": 13.9, "rod_turns_right": 0.5},
        ),
    ],
    ids=["parallel", "one rod end turned"],
)
def test_left_and_right_swapped(vehicle, bend, mirrored, drive, left_keys, right_keys, within_target, apart):
    swapped = {"one wheel left": "one wheel right", "one wheel right": "one wheel left"}.get(drive, drive)
    car, table = vehicle("standard", car={"drive": drive}, **left_keys)
    other_car, other_table = vehicle("standard", car={"drive": swapped}, **right_keys)
    left, right = bend(turn=np.pi / 2), bend(turn=-np.pi / 2)
    lap = drive_lap(car, table, left, pace(left, car, 6.0, lateral=3.5))
    other = drive_lap(other_car, other_table, right, pace(right, other_car, 6.0, lateral=3.5))
    within_target(apart(other.time, lap.time), at_most=1e-10, of="times")
    ledger, mirror = ledger_of(car, lap), ledger_of(other_car, other)
    for key in ("lateral", "longitudinal", "rub"):
        np.testing.assert_allclose(getattr(mirror, key), mirrored(getattr(ledger, key)), rtol=1e-9, atol=1e-9)
        within_target(apart(getattr(mirror, key), mirrored(getattr(ledger, key))), at_most=1e-10, of="losses of a lap")
    for key in ("drive_work", "air", "rolling", "brakes", "aligning", "hand_work", "deflection", "kinetic"):
        assert getattr(mirror, key) == pytest.approx(getattr(ledger, key), rel=1e-9, abs=1e-8)
        gap = abs(getattr(mirror, key) - getattr(ledger, key)) / ledger.drive_work
        within_target(gap, at_most=1e-10, of="losses of a lap")
    assert other.end[State.ERROR] == pytest.approx(-lap.end[State.ERROR], rel=1e-8, abs=1e-11)


@pytest.mark.parametrize("drive", DRIVE_NAMES)
def test_a_standing_start_drives_away(vehicle, bend, drive, setup_keys):
    car, table = vehicle("standard", car={"drive": drive}, **setup_keys)
    course = bend()
    plan = pace(course, car, 5.0, start=0.0)
    lap = drive_lap(car, table, course, plan)
    assert plan.speed[0] == 0.0
    assert lap.start[State.VX] == 0.0
    assert lap.ended == Ended.FINISHED
    assert np.isfinite(lap.rows).all()
    assert np.isfinite(lap.end).all()
    assert lap.time < 1.1 * plan.time + 1.0
    assert abs(ledger_of(car, lap).residual) <= 1e-6


def test_the_trace_has_fifty_rows_a_second(vehicle, bend):
    car, table = vehicle("standard", linkage="ideal")
    course = bend()
    lap = drive_lap(car, table, course, pace(course, car, 5.0))
    assert ROW_TIME == 0.02
    assert len(lap.rows) == int(lap.time / ROW_TIME) + 1
    np.testing.assert_array_equal(lap.rows[0], lap.start)
    assert lap.end[State.STATION] == pytest.approx(course.length, rel=0, abs=1e-9)
    assert (np.diff(lap.rows[:, State.STATION]) > 0).all()
    assert (np.diff(lap.rows[:, State.LATERAL : State.LATERAL + 4], axis=0) >= 0).all()
    assert lap.distance == course.length
    assert lap.end[State.DRIVE_WORK] >= lap.rows[-1, State.DRIVE_WORK]


def test_only_the_last_of_several_laps_is_kept(vehicle, circle):
    car, table = vehicle("standard", linkage="parallel")
    course = circle(8.0)
    plan = pace(course, car, 4.0)
    one, three = (drive_lap(car, table, course, plan, laps=laps) for laps in (1, 3))
    assert (one.distance, three.distance) == (course.length, 3 * course.length)
    assert three.time == pytest.approx(one.time, rel=1e-9, abs=0)
    sums = [State.LATERAL, State.LONGITUDINAL + 2, State.ALIGNING]
    np.testing.assert_allclose(three.end[sums], one.end[sums], rtol=1e-8, atol=1e-9)
    assert (one.start[LEDGER:] == 0).all()
    assert abs(one.start[State.STATION]) < 0.2


@pytest.mark.parametrize(
    ("length_mm", "speed", "expected"), [(120.0, 5.0, 0.01), (120.0, 19.0, 0.005), (20.0, 8.0, 0.0025), (2000.0, 3.0, 0.01)]
)
def test_the_step_is_short_enough(vehicle, course_by, length_mm, speed, expected):
    # 0.12 m at 19 m/s asks for 6.3 ms: a quarter of 20 ms is the longest whole part below it.
    car, _ = vehicle("standard", tyre={"relaxation_length_mm": length_mm})
    course = course_by(50.0, lambda s: 0 * s, closed=False)
    step = time_step(car, pace(course, car, speed, power=50_000.0))
    assert step == pytest.approx(expected, rel=1e-12, abs=0)
    assert step <= min(LONGEST_STEP, length_mm * 1e-3 / speed) * (1 + 1e-12)
    assert ROW_TIME / step == pytest.approx(round(ROW_TIME / step), rel=1e-12, abs=0)


@pytest.mark.target("T13", what="A lap on the course turned, shifted, or read from another of its points", asked="same results within 1e-9")
@pytest.mark.parametrize("place", [0, 17], ids=["turned and shifted", "begun elsewhere too"])
def test_where_a_course_lies_has_no_effect(vehicle, tmp_path, place, within_target):
    angle = 2 * np.pi * np.arange(80) / 80
    points = (12.0 + np.cos(2 * angle))[:, None] * np.column_stack([1.4 * np.cos(angle), np.sin(angle)])
    turned = points @ np.array([[np.cos(0.7), np.sin(0.7)], [-np.sin(0.7), np.cos(0.7)]]) + (31.0, -17.0)
    car, table = vehicle("standard", linkage="parallel")
    figures = []
    for name, line in (("plain", points), ("moved", turned)):
        line = np.roll(line, -place, axis=0)
        file = tmp_path / f"{name}.csv"
        file.write_text("x_m,y_m\n" + "".join(f"{x:.15g},{y:.15g}\n" for x, y in line), encoding="utf-8")
        course = read_course(file, closed=True)
        lap = drive_lap(car, table, course, pace(course, car, 4.0))
        ledger = ledger_of(car, lap)
        assert lap.ended == Ended.FINISHED
        figures.append(np.array([lap.time, ledger.drive_work, ledger.scrub, *ledger.lateral, *ledger.rub]))
    within_target(np.abs(figures[1] / figures[0] - 1), at_most=1e-9)


def test_a_hill_is_paid_and_paid_back(vehicle, course_by):
    # Up 1.5 m and down again on a closed course: the height's line is zero over a lap, m g 1.5 half way up.
    course = course_by(120.0, lambda s: 0.05 + 0 * s, lambda s: 0.75 * (1 - np.cos(2 * np.pi * s / 120.0)))
    car, table = vehicle("standard", linkage="ideal")
    lap = drive_lap(car, table, course, pace(course, car, 4.0))
    ledger = ledger_of(car, lap)
    assert ledger.height == pytest.approx(0.0, rel=0, abs=1e-6)
    assert abs(ledger.residual) <= 1e-6
    top = np.interp(60.0, lap.rows[:, State.STATION], lap.rows[:, State.HEIGHT])
    assert top == pytest.approx(car.mass * GRAVITY * 1.5, rel=1e-3, abs=0)


def test_the_driven_wheel_is_the_named_one(vehicle, bend):
    # Its drive slip is the whole of the loss along the wheels but for a little braking before the bend.
    course = bend()
    for drive, driven in (("one wheel left", 2), ("one wheel right", 3)):
        car, table = vehicle("standard", car={"drive": drive}, linkage="ideal")
        lap = drive_lap(car, table, course, pace(course, car, 5.0))
        assert np.argmax(lap.end[State.LONGITUDINAL : State.LONGITUDINAL + 4]) == driven
        assert lap.end[State.LONGITUDINAL + driven] > 0.9 * lap.end[State.LONGITUDINAL : State.LONGITUDINAL + 4].sum()


SHORT_LAPS = """
import json, sys
import numba, numpy as np
from sim.car.chassis import DRIVES
from sim.turn.steady import steady_turn
from sim.course.segments import Arc, Straight, course_from_segments
from sim.pace.driver import Pace, plan_pace
from sim.lap.drive import drive_lap
from sim.lap.equations import lap_rate
from sim.scenario.car import CarTable
from sim.scenario.setup import SetupTable
from sim.steering.arrangement import build_steering
from sim.steering.table import steer_table

def short_laps():
    results = {"plain": type(lap_rate).__name__ == "function"}
    course = course_from_segments([Straight(6.0), Arc(6.0, -0.5), Straight(2.0)], closed=False, name="short")
    for drive, law in [(drive, law) for drive in DRIVES for law in ("linear", "brush")]:
        table = CarTable(
            mass_kg=145.0, wheelbase_mm=1500.0, front_track_mm=900.0, rear_track_mm=860.0, kingpin_track_mm=740.0,
            mass_centre_behind_front_axle_mm=820.0, mass_centre_height_mm=330.0, yaw_inertia_kg_m2=38.0, wheel_radius_mm=203.0,
            drive=drive, tyre={"friction": 0.5, "load_sensitivity": 0.1, "law": law},
        )
        setup = SetupTable(name="a", pivot="stub axles", linkage="parallel", toe_in_deg=0.5)
        car, steer = table.car(1.225), steer_table(build_steering(setup, table, "a", "a"), 1.5)
        plan = plan_pace(course, car, Pace(target=5.0, lateral_limit=3.4, braking_limit=1.5, power=600.0, start=1.0))
        lap = drive_lap(car, steer, course, plan)
        turn = steady_turn(car, steer, -7.0, 3.0)
        results[f"{drive}, {law}"] = [*plan.speed, lap.time, *lap.end, *lap.extremes, turn.hand, turn.drive_force, *turn.wheels.ravel()]
    return results
"""


@pytest.mark.target(
    "T22", what="Compiled kernels and plain Python, both laws of the tyre and all drives",
    asked="1e-12 relative, no fast-math",
)  # fmt: skip
@pytest.mark.slow
def test_compiled_is_plain_python(within_target):
    spaces: dict = {}
    exec(SHORT_LAPS, spaces)
    compiled = spaces["short_laps"]()
    script = SHORT_LAPS + "\nassert numba.config.DISABLE_JIT\njson.dump(short_laps(), sys.stdout)\n"
    done = subprocess.run(
        [sys.executable, "-c", script], env=os.environ | {"NUMBA_DISABLE_JIT": "1"}, capture_output=True, text=True, check=True
    )
    plain = json.loads(done.stdout)
    assert (compiled.pop("plain"), plain.pop("plain")) == (False, True)
    for drive, values in compiled.items():
        assert values[-1] != 0.0
        one, other = np.array(plain[drive]), np.array(values)
        within_target(np.abs(one - other) / np.maximum(np.abs(other), 1.0), at_most=1e-12)
        np.testing.assert_allclose(one, other, rtol=1e-12, atol=1e-12, err_msg=drive)


def test_least_load_and_farthest_are_those_of_the_lap(vehicle, bend):
    car, table = vehicle("standard", linkage="ideal")
    course = bend()
    plan = pace(course, car, 5.0)
    lap = drive_lap(car, table, course, plan)
    wheels, _ = observed(car, table, course, plan, lap)
    # Extremes are taken at every step, rows at every second one.
    assert lap.extremes[Extreme.LEAST_LOAD] <= wheels[:, :, WheelColumn.LOAD].min()
    assert lap.extremes[Extreme.LEAST_LOAD] == pytest.approx(wheels[:, :, WheelColumn.LOAD].min(), rel=0.01, abs=0)
    assert lap.extremes[Extreme.FARTHEST] == pytest.approx(np.abs(lap.rows[:, State.ERROR]).max(), rel=0.01, abs=0)
    assert lap.end[State.HAND_WORK] != 0.0
