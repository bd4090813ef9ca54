"""Laps of a metre or two, short enough for plain Python: against closed forms, SciPy's integrator, and the same cars side by side."""

from math import nan

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from sim.car.battery import Battery
from sim.car.chassis import DIFFERENTIAL, GRAVITY
from sim.car.motion import BODY_COLUMNS, WHEEL_COLUMNS
from sim.car.motor import Motor
from sim.course.segments import Arc, Straight, course_from_segments
from sim.lap.drive import Ended, drive_lap, ending
from sim.lap.equations import lap_rate
from sim.lap.ledger import ledger_of
from sim.lap.lockstep.batch import drive_batch
from sim.lap.state import STATES, Extreme, State
from sim.lap.trace import place_on, trace_of
from sim.pace.driver import Pace, driver_of, plan_pace
from sim.pace.road import road_of
from sim.steering.cells import steer_cells_of

MOTOR = Motor(winding_resistance=0.1, torque_constant=0.1, no_load_current=2.0, current_limit=60.0, gear=29.0, efficiency=0.95,
              regenerates=True)  # fmt: skip
BATTERY = Battery(open_voltage=24.0, internal_resistance=0.01, capacity=9.0 * 3600, rated_time=20 * 3600.0, exponent=1.12, usable_share=0.9)


def way(*parts, target=5.0, start=None):
    """A course and what plans a car's pace on it."""
    course = course_from_segments(list(parts), closed=False, name="short")
    return course, lambda car: plan_pace(course, car, Pace(target, 3.0, 1.5, 600.0, start=start))


def test_a_straight_at_constant_speed_by_hand(vehicle):
    """5 m/s over 1.5 m in 0.3 s: the drive pays rolling m g C L and air rho CdA v^2 L / 2, and nothing else."""
    car, table = vehicle("standard", car={"drive": "differential"})
    course, plan_of = way(Straight(1.5))
    plan = plan_of(car)
    lap = drive_lap(car, table, course, plan)
    assert (lap.ended, lap.distance) == (Ended.FINISHED, 1.5)
    assert lap.time == pytest.approx(0.3, rel=1e-6, abs=0)
    assert lap.end[State.STATION] == pytest.approx(1.5, rel=0, abs=1e-9)
    assert lap.extremes[Extreme.LEAST_LOAD] == pytest.approx(145 * GRAVITY * 0.68 / 1.5 / 2, rel=0.03, abs=0)
    assert np.abs(lap.extremes[Extreme.FARTHEST :]).max() < 1e-12
    ledger = ledger_of(car, lap)
    assert ledger.rolling == pytest.approx(145 * GRAVITY * 0.008 * 1.5, rel=1e-9, abs=0)
    assert ledger.air == pytest.approx(0.5 * 1.225 * 0.2 * 25 * 1.5, rel=1e-6, abs=0)
    assert ledger.drive_work == pytest.approx(ledger.rolling + ledger.air + ledger.scrub, rel=1e-6, abs=0)
    assert max(ledger.brakes, abs(ledger.aligning), abs(ledger.kinetic), abs(ledger.height), ledger.lateral.max()) < 1e-5
    trace = trace_of(car, table, course, plan, lap)
    np.testing.assert_allclose(trace.time[:15], 0.02 * np.arange(15), rtol=0, atol=1e-12)
    np.testing.assert_allclose(trace.x, 5.0 * trace.time, rtol=0, atol=1e-6)
    np.testing.assert_allclose(np.stack([trace.y, trace.heading, trace.hand, trace.sideslip, trace.yaw_rate]), 0.0, rtol=0, atol=1e-12)
    np.testing.assert_allclose(trace.load.sum(axis=1), 145 * GRAVITY, rtol=1e-12, atol=0)
    np.testing.assert_allclose(trace.drive_force, (ledger.rolling + ledger.air) / 1.5, rtol=1e-6, atol=0)


def test_a_place_beside_a_circle_lies_that_much_nearer_its_centre(circle):
    course = circle(8.0)
    station, error = np.array([3.0, 11.0, 30.0]), np.array([0.5, -0.7, 0.2])
    x, y, heading = place_on(course, station, error)
    np.testing.assert_allclose(np.hypot(x - course.x[0], y - course.y[0] - 8.0), 8.0 - error, rtol=0, atol=1e-3)
    np.testing.assert_allclose(heading, station / 8.0, rtol=0, atol=1e-3)


@pytest.mark.parametrize(("lateral", "heading"), [(0.4, 0.12), (-0.3, -0.2)])
def test_the_line_is_left_as_geometry_has_it_and_the_speed_kept_as_the_driver_wants(vehicle, circle, lateral, heading):
    """On a circle of 8 m, seen from its centre: where station, offset and heading go is where the car's velocity carries it.

    The driver answers a speed error by 2 m/s2 per m/s, and his hands a steer that is off with their time constant.
    """
    car, table = vehicle("standard", car={"drive": "differential"}, linkage="parallel")
    plan = plan_pace(course := circle(8.0), car, Pace(4.0, 3.0, 1.5, 6000.0))
    road, cells, driver = road_of(course, plan), steer_cells_of(table), driver_of(car)
    state, rate, wheels, body = np.zeros(STATES), np.empty(STATES), np.zeros((4, WHEEL_COLUMNS)), np.zeros(BODY_COLUMNS)
    velocity = np.array([3.5, 0.9])
    state[[State.VX, State.VY, State.YAW_RATE]] = *velocity, 0.4
    state[[State.STEER, State.STATION, State.ERROR, State.HEADING]] = 0.18, 5.0, lateral, heading
    state[State.SLIPS : State.SLIPS + 4] = 0.03, 0.035, 0.02, 0.025
    lap_rate(car, cells, road, driver, state, rate, wheels, body)

    def world(at):
        turned, distance = at[State.STATION] / 8.0, 8.0 - at[State.ERROR]
        return np.array([distance * np.sin(turned), 8.0 - distance * np.cos(turned), turned + at[State.HEADING]])

    along = (world(state + 1e-6 * rate) - world(state - 1e-6 * rate)) / 2e-6
    axis = world(state)[2]
    expected = [*np.array([[np.cos(axis), -np.sin(axis)], [np.sin(axis), np.cos(axis)]]) @ velocity, 0.4]
    np.testing.assert_allclose(along, expected, rtol=0, atol=1e-4)
    speed = np.hypot(*velocity)
    assert velocity @ rate[[State.VX, State.VY]] / speed == pytest.approx(2.0 * (4.0 - speed), rel=0, abs=2e-3)
    assert rate[State.ERROR_SQUARED] == pytest.approx(lateral**2 * rate[State.STATION], rel=1e-12, abs=0)
    assert abs(rate[State.STEER]) <= 1.2
    # Hands a little off what they want are moved there within 0.1 s: the rate falls by the change of steer over that time.
    less = state.copy()
    rates = []
    for change in (0.0, 0.001):
        less[State.STEER] = state[State.STEER] + 0.1 * np.clip(rate[State.STEER], -0.1, 0.1) + change
        lap_rate(car, cells, road, driver, less, again := np.empty(STATES), wheels, body)
        rates.append(again[State.STEER])
    if max(map(abs, rates)) < 1.2:
        assert rates[1] - rates[0] == pytest.approx(-0.001 / 0.1, rel=1e-9, abs=0)


@pytest.mark.parametrize("sign", [1, -1])
def test_a_bend_is_what_another_integrator_makes_of_it(vehicle, sign):
    """The state on the line, ledger and all, is that of SciPy's eighth-order rule at the lap's own time."""
    car, table = vehicle("standard", car={"drive": "differential"}, linkage="parallel")
    course, plan_of = way(Arc(8.0, sign * 0.1))
    plan = plan_of(car)
    lap = drive_lap(car, table, course, plan, step=0.0025)
    assert lap.ended in (Ended.FINISHED, Ended.WEAVED)  # which of both says little of less than a metre
    road, cells, driver = road_of(course, plan), steer_cells_of(table), driver_of(car)
    wheels, body = np.zeros((4, WHEEL_COLUMNS)), np.zeros(BODY_COLUMNS)

    def rate(_, state):
        made = np.empty(STATES)
        lap_rate(car, cells, road, driver, state, made, wheels, body)
        return made

    found = solve_ivp(rate, (0.0, lap.time), lap.start, method="DOP853", rtol=1e-7, atol=1e-9)
    np.testing.assert_allclose(lap.end, found.y[:, -1], rtol=1e-4, atol=1e-5)
    assert found.y[State.STATION, -1] == pytest.approx(course.length, rel=0, abs=1e-5)
    assert np.sign(lap.end[State.STEER]) == sign
    assert lap.extremes[Extreme.FARTHEST] >= np.abs(lap.rows[:, State.ERROR]).max()
    assert abs(ledger_of(car, lap).residual) < 1e-6


def test_cars_side_by_side_are_the_cars_alone(vehicle):
    """Bit for bit: with motor and battery, sliding on a wet bend, and gathering speed."""
    plain, table = vehicle("standard", linkage="parallel")
    electric = plain._replace(motor=MOTOR, battery=BATTERY)
    slippery = plain.front_tyre._replace(friction=0.1)
    wet = plain._replace(front_tyre=slippery, rear_tyre=slippery, drive=DIFFERENTIAL)
    course, plan_of = way(Arc(8.0, 0.012))
    _, slowly = way(Arc(8.0, 0.012), start=2.5)
    cars, plans = [plain, electric, wet, plain], [plan_of(plain), plan_of(electric), plan_of(wet), slowly(plain)]
    together = drive_batch(cars, [table] * 4, [(course, plan) for plan in plans])
    for index, (car, plan) in enumerate(zip(cars, plans, strict=True)):
        alone, beside = drive_lap(car, table, course, plan), together.lap(index)
        assert (beside.ended, beside.time, beside.distance, beside.step) == (alone.ended, alone.time, alone.distance, alone.step)
        np.testing.assert_array_equal(beside.end, alone.end)
        np.testing.assert_array_equal(beside.extremes, alone.extremes)


def test_what_ends_a_lap():
    """Two metres off the line, rolling back at 5 cm/s, three minutes late, tipped, no number: each by itself, and the worst first."""
    assert ending(0.0, 1.99, False, 5.0, 1.0) == Ended.FINISHED
    assert ending(1.0, -1.99, False, -0.04, 1.0) == Ended.FINISHED
    assert {ending(0.0, error, False, 5.0, 1.0) for error in (2.01, -2.01)} == {Ended.OFF_COURSE}
    assert ending(0.0, 0.0, True, 5.0, 1.0) == ending(0.0, 0.0, False, -0.06, 1.0) == Ended.STALLED
    assert ending(0.0, 0.0, False, 5.0, nan) == ending(0.0, 0.0, False, 5.0, np.inf) == Ended.NOT_FINITE
    assert ending(2.0, 3.0, True, 5.0, nan) == Ended.TIPPED
