"""The brush tyre against bristles that are summed by quadrature, against both of its limits, and in a car against the linear law."""

from math import cos, hypot, pi, radians, sin, tan

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from sim.car import brush
from sim.car.brush import (
    ALL_SLIDES,
    STRAIGHT,
    along_exactly,
    along_step,
    kept,
    kept_moment,
    normalised_side_slip,
    sliding_share,
    slip_of_excess,
)  # fmt: skip
from sim.car.brush_traction import QUICK_MISS
from sim.car.chassis import DRIVES, with_law
from sim.car.motion import ForceDemand, Pose, Pull, Velocity, WheelColumn, Wind, motion
from sim.car.traction import ALL, COMMON, GRIP_SHARE, SLIDING
from sim.car.tyre import BRUSH, LINEAR, Tyre, cornering_stiffness
from sim.lap.drive import Ended, drive_lap
from sim.lap.ledger import ledger_of
from sim.lap.lockstep.batch import drive_batch
from sim.lap.state import State
from sim.pace.driver import Pace, plan_pace
from sim.scenario.car import TyreTable
from sim.scenario.tables import bounds_of
from sim.study.law_doubt import other_cost, steady_costs
from sim.turn.steady import steady_turn

TYRE = Tyre(12.0, 0.1, 15.0, 0.12, 0.015, 0.0, 0.9, 0.008, BRUSH)
NOMINAL = 300.0


def wheel(tyre, load, slip, drive_slip, camber=0.0):
    """(force along, force across, aligning moment) of one wheel by the pieces of the law [N], [N m]."""
    full = 3 * tyre.friction * load
    along, across = tyre.drive_stiffness * load * drive_slip / full, normalised_side_slip(tyre, load, NOMINAL, slip, camber)
    sliding = sliding_share(along, across)
    force = full * kept(sliding)
    return force * along, force * across, -tyre.pneumatic_trail * full * across * kept_moment(sliding)


def bristles(tyre, load, slip, drive_slip):
    """The same by bristles: bent by the slip times their way from the front, held by the pressure of a parabola; sums by quadrature."""
    half = 3 * tyre.pneumatic_trail  # a sixth of the contact length is the trail at small slip
    # A row of bristles whose forces at small slip are C a and c_x N kappa: stiffness k per length makes k (2 half)^2 / 2 of it.
    soft = 0.5 * (2 * half) ** 2
    stiff_along, stiff_across = tyre.drive_stiffness * load / soft, cornering_stiffness(tyre, load, NOMINAL) / soft

    def stress(way):
        along, across = stiff_along * drive_slip * way, stiff_across * slip * way
        most, asked = tyre.friction * load * 3 * way * (2 * half - way) / (4 * half**3), hypot(along, across)
        return (along, across) if asked <= most else (along * most / asked, across * most / asked)

    # Where the contact begins to slide the stress has a kink: the quadrature is told.
    asked = hypot(stiff_along * drive_slip, stiff_across * slip)
    kink = min(max(2 * half - asked * 4 * half**3 / (3 * tyre.friction * load), 0.0), 2 * half)

    def total(part):
        return sum(quad(part, *ends, epsabs=1e-12, epsrel=1e-12)[0] for ends in ((0, kink), (kink, 2 * half)) if ends[0] < ends[1])

    return total(lambda w: stress(w)[0]), total(lambda w: stress(w)[1]), total(lambda w: (half - w) * stress(w)[1])


@settings(max_examples=150)
@given(st.floats(20, 900), st.floats(-0.4, 0.4), st.floats(-0.4, 0.4), st.floats(4, 20), st.floats(5, 40), st.floats(0.2, 1.4))
@example(300.0, 0.03, 0.0, 12.0, 15.0, 0.9)
@example(300.0, 0.0, 0.05, 12.0, 15.0, 0.9)
@example(300.0, 0.224, 0.0, 12.0, 15.0, 0.9)  # hardly anything sticks
@example(500.0, 0.3, -0.2, 12.0, 15.0, 0.9)  # all of it slides
def test_forces_and_moment_are_those_of_the_bristles(load, slip, drive_slip, stiffness, along, friction):
    # Independent of the closed forms: nothing of sim.car.brush is read on that side.
    tyre = TYRE._replace(cornering_stiffness=stiffness, drive_stiffness=along, friction=friction)
    ours, theirs = wheel(tyre, load, slip, drive_slip), bristles(tyre, load, slip, drive_slip)
    grip = friction * load
    np.testing.assert_allclose(ours[:2], theirs[:2], rtol=0, atol=1e-9 * grip)
    assert ours[2] == pytest.approx(theirs[2], rel=0, abs=1e-9 * grip * TYRE.pneumatic_trail)


def test_it_becomes_the_linear_law_as_slip_vanishes(orders):
    # Force and moment come nearer to C a and -trail C a in proportion to the slip: order 1.
    load, slips = 350.0, 0.02 / 2.0 ** np.arange(6)
    linear = cornering_stiffness(TYRE, load, NOMINAL) * slips
    forces, moments = np.array([wheel(TYRE, load, slip, 0.0)[1:] for slip in slips]).T
    for short in (1 - forces / linear, 1 + moments / (TYRE.pneumatic_trail * linear)):
        assert (short > 0).all()
        np.testing.assert_allclose(orders(short[2:]), 1.0, rtol=0, atol=0.03)


@given(st.floats(0, 2 * pi), st.floats(1.0, 50.0))
def test_a_tyre_that_slides_altogether_pushes_against_the_slip_with_all_its_grip(angle, far):
    tyre = TYRE._replace(load_sensitivity=0.0, drive_stiffness=12.0)  # alike along and across: the way of the bend is that of the slip
    size = far * 3 * tyre.friction / 12.0
    along, across, moment = wheel(tyre, 400.0, size * sin(angle), size * cos(angle))
    np.testing.assert_allclose([along, across], 0.9 * 400.0 * np.array([cos(angle), sin(angle)]), rtol=1e-12, atol=1e-9)
    assert moment == pytest.approx(0.0, abs=1e-12)


def test_it_is_smooth_where_it_begins_to_slide_altogether():
    # Value, slope and curvature on both sides of x = 1, by differences.
    step = 1e-4
    before, after = ([kept(1.0 + side * k * step) * (1.0 + side * k * step) for k in range(4)] for side in (-1, 1))
    slopes = [side * (-1.5 * p[0] + 2 * p[1] - 0.5 * p[2]) / step for side, p in ((-1, before), (1, after))]
    bends = [(2 * p[0] - 5 * p[1] + 4 * p[2] - p[3]) / step**2 for p in (before, after)]
    assert before[0] == pytest.approx(after[0], rel=1e-15, abs=0)
    np.testing.assert_allclose(slopes, 0.0, rtol=0, atol=1e-7)
    np.testing.assert_allclose(bends, 0.0, rtol=0, atol=1e-3)


@given(st.floats(-GRIP_SHARE, GRIP_SHARE), st.floats(-3, 3))
@example(GRIP_SHARE, 0.0)
@example(GRIP_SHARE, 0.1989)  # on the border of sliding
@example(0.0, 0.0)
def test_the_wanted_force_is_what_the_tyre_gives(share, across):
    along = along_exactly(share, across)
    assert 3 * along * kept(sliding_share(along, across)) == pytest.approx(share, rel=0, abs=1e-13)


@given(st.floats(-0.4, 0.4), st.floats(-0.9, 0.9))
@example(0.4, 0.0)
def test_three_steps_meet_the_wanted_force(share, across):
    # What the passes over the loads do, where nothing else changes: within QUICK_MISS up to 0.4 of the grip.
    along, sliding = 0.0, max(abs(across), STRAIGHT)
    for _ in range(3):
        along = along_step(share, 3.0, along, sliding)
        sliding = max(sliding_share(along, across), STRAIGHT)
    assert abs(3 * along * kept(sliding) - share) <= QUICK_MISS


@pytest.mark.parametrize("excess", [0.05, 0.2, 1.0, ALL_SLIDES])
def test_slip_of_an_excess(excess):
    tyre = TYRE._replace(load_sensitivity=0.0)
    slip = slip_of_excess(tyre, excess)
    linear, brush = 12.0 * NOMINAL * slip, wheel(tyre, NOMINAL, slip, 0.0)[1]
    assert linear / brush == pytest.approx(1 + excess, rel=1e-12, abs=0)


def test_the_excess_ends_where_all_of_the_contact_slides():
    # From there on both laws give the grip: three times too much of the linear one is the most that there is.
    tyre = TYRE._replace(load_sensitivity=0.0)
    assert slip_of_excess(tyre, 3.0) == slip_of_excess(tyre, ALL_SLIDES) == pytest.approx(3 * 0.9 / 12.0, rel=1e-12, abs=0)


def test_the_linear_law_stands_too_high_by_a_sixth_at_two_degrees():
    # Stiffness 12, dry road: the figures of the manual, 17 % at 2 degrees, 27 % at 3, a third at 3.5.
    tyre = TYRE._replace(load_sensitivity=0.0)
    high = [12.0 * NOMINAL * tan(radians(angle)) / wheel(tyre, NOMINAL, tan(radians(angle)), 0.0)[1] - 1 for angle in (2, 3)]
    assert [round(100 * one) for one in high] == [17, 27]
    assert slip_of_excess(tyre, 1 / 3) == pytest.approx(tan(radians(3.54)), rel=2e-3, abs=0)


# --- In a car -----------------------------------------------------------------------------------------------------------


def test_both_laws_agree_in_a_wide_slow_turn_and_part_in_a_tight_one(vehicle):
    car, table = vehicle("standard", linkage="parallel")
    gaps = []
    for radius, speed in ((60.0, 1.5), (4.0, 3.0)):
        one, other = steady_turn(car, table, radius, speed), steady_turn(with_law(car, BRUSH), table, radius, speed)
        assert one.converged
        assert other.converged
        gaps.append(np.abs(one.slips / other.slips - 1).max())
        assert (
            np.abs(other.wheels[:, WheelColumn.ALIGNING])
            <= car.front_tyre.pneumatic_trail * np.abs(other.wheels[:, WheelColumn.LATERAL]) + 1e-12
        ).all()
        grip = car.front_tyre.friction * other.wheels[:, WheelColumn.LOAD]
        assert (np.hypot(other.wheels[:, WheelColumn.LATERAL], other.wheels[:, WheelColumn.LONGITUDINAL]) < grip).all()
    assert gaps[0] < 0.02
    assert gaps[1] > 0.1


def test_tyres_that_give_way_fight_less(vehicle):
    # Parallel wheels on a tight bend fight each other: what each force costs falls with it.
    car, table = vehicle("standard", linkage="parallel")
    one, other = steady_turn(car, table, 4.0, 1.0), steady_turn(with_law(car, BRUSH), table, 4.0, 1.0)
    assert np.abs(other.wheels[:2, WheelColumn.LATERAL]).max() < 0.95 * np.abs(one.wheels[:2, WheelColumn.LATERAL]).max()
    assert other.drive_force < one.drive_force


@pytest.mark.parametrize("drive", DRIVES)
def test_ledger_of_a_lap_closes(vehicle, setup_keys, bend, drive):
    car, table = vehicle("standard", car={"drive": drive}, **setup_keys)
    car, course = with_law(car, BRUSH), bend()
    for friction, limit in ((0.9, 3.0), (0.3, 2.6)):  # grips; slides and brakes
        tyre = car.front_tyre._replace(friction=friction)
        one = car._replace(front_tyre=tyre, rear_tyre=tyre)
        plan = plan_pace(course, one, Pace(target=6.0, lateral_limit=limit, braking_limit=1.2, power=400.0))
        lap = drive_lap(one, table, course, plan)
        if lap.ended == Ended.FINISHED:
            ledger = ledger_of(one, lap)
            assert abs(ledger.residual) <= 1e-6
            assert min(ledger.lateral.min(), ledger.longitudinal.min(), ledger.brakes) >= -1e-9
        else:
            assert friction == 0.3


@pytest.mark.parametrize("drive", ["one wheel left", "solid axle"])
def test_a_lap_on_a_circle_is_the_steady_turn(vehicle, circle, setup_keys, drive):
    # At the circle and speed that are really driven.  The turn is given its drive force; a lap's first pass reckons it from side forces
    # that know nothing yet of the slip along the wheels, large on a solid axle, and three passes leave a little of that in the loads.
    car, table = vehicle("standard", car={"drive": drive}, **setup_keys)
    car, course = with_law(car, BRUSH), circle(8.0)
    plan = plan_pace(course, car, Pace(target=4.5, lateral_limit=3.0, braking_limit=1.5, power=600.0))
    lap = drive_lap(car, table, course, plan)
    turn = steady_turn(car, table, 8.0 - lap.end[State.ERROR], float(np.hypot(lap.end[State.VX], lap.end[State.VY])))
    ledger, near = ledger_of(car, lap), 3e-4 if drive == "solid axle" else 1e-5
    np.testing.assert_allclose(ledger.lateral / lap.time, turn.wheels[:, WheelColumn.LATERAL_LOSS], rtol=near, atol=1e-6)
    np.testing.assert_allclose(ledger.longitudinal / lap.time, turn.wheels[:, WheelColumn.LONGITUDINAL_LOSS], rtol=near, atol=1e-6)


@pytest.mark.parametrize("linkage", ["parallel", "turntable"])
def test_the_cheap_sum_tells_what_a_lap_with_the_brush_would_cost(vehicle, bend, linkage):
    keys = {"pivot": "turntable"} if linkage == "turntable" else {"linkage": linkage}
    (car, ideal), (_, table) = vehicle("standard", linkage="ideal"), vehicle("standard", **keys)
    course = bend(radius=5.0, straight=15.0)
    plan = plan_pace(course, car, Pace(target=4.0, lateral_limit=2.0, braking_limit=1.5, power=400.0))
    driven = []
    for law in (LINEAR, BRUSH):
        one = with_law(car, law)
        costly, best = (ledger_of(one, drive_lap(one, turned, course, plan)).drive_work for turned in (table, ideal))
        driven.append(costly - best)
    (own,), (other,) = steady_costs(car, course, plan, [table], ideal)
    told = other_cost(driven[0], own, other)
    assert abs(driven[1] / driven[0] - 1) > 0.02  # there is something to tell
    assert told == pytest.approx(driven[1], rel=0.05, abs=0)


@pytest.mark.parametrize(("driven", "own", "other", "told"), [
    (400.0, 500.0, 400.0, 320.0), (400.0, 100.0, 80.0, 380.0), (-3.0, 2.0, 1.0, -4.0), (0.0, 0.0, 0.0, 0.0),
])  # fmt: skip
def test_other_cost_by_hand(driven, own, other, told):
    assert other_cost(driven, own, other) == pytest.approx(told, rel=1e-12, abs=1e-12)


@pytest.mark.slow
@settings(max_examples=300)
@given(st.data())
def test_what_is_not_rare_is_the_same_with_all_that_is(vehicle, data):
    # Any drive, side slips and braking: the cases differ in nothing, to the last bit, where the fewer are enough.
    car = with_law(vehicle("standard")[0], BRUSH)._replace(drive=data.draw(st.integers(0, 3)))
    speed = data.draw(st.floats(1, 10))
    yaw_rate = data.draw(st.floats(-3, 3)) / speed
    mean = yaw_rate * speed / 9.81 / 12
    slips = tuple(mean + data.draw(st.floats(-0.2, 0.2)) for _ in range(4))
    steers = tuple(1.5 * yaw_rate / speed + data.draw(st.floats(-0.02, 0.02)) for _ in range(2))
    x, y = (0.82, 0.82, -0.68, -0.68), (0.45, -0.45, 0.43, -0.43)
    pose, demand = Pose(steers, (0.0, 0.0), x, y, (0.0, 0.0)), ForceDemand(True, data.draw(st.floats(-4, 1)))
    state = Velocity(speed, 0.0, yaw_rate), slips, pose, Pull(0.0, 0.0), Wind(0.0, 0.0), demand, 400.0
    *lesser, everything = (motion(car, *state, cases) for cases in (COMMON, SLIDING, ALL))
    assert not everything.rare
    for found in lesser:
        if not found.rare:
            assert found == everything


@pytest.mark.slow
def test_drawn_cars_end_in_a_result_and_alike_in_step(vehicle, bend):
    # 150 lawful cars over the whole range of each tyre key, all drives: each lap ends with a finite ledger or a cause; the first of each
    # drive again alone, bit for bit.
    rng = np.random.default_rng(11)

    def drawn():
        keys = bounds_of(TyreTable)
        tyre = {key: float(rng.uniform(low, high)) for key, (low, high) in keys.items()}
        return tyre | {"law": "brush", "relaxation_length_mm": float(rng.uniform(40, 400))}  # a longer step limit keeps the test short

    course, cars, tables, ways = bend(straight=8.0), [], [], []
    for index in range(150):
        linkage = ("ideal", "parallel")[index % 2]
        car, table = vehicle("standard", car={"drive": DRIVES[index % 4]}, tyre=drawn(), linkage=linkage)
        cars.append(car)
        tables.append(table)
        limit, braking = float(rng.uniform(0.5, 5)), float(rng.uniform(0.3, 4))
        ways.append((course, plan_pace(course, car, Pace(target=float(rng.uniform(1, 9)), lateral_limit=limit, braking_limit=braking,
                                                         power=float(rng.uniform(100, 2000))))))  # fmt: skip
    found = drive_batch(cars, tables, ways)
    assert (found.ended == Ended.FINISHED).sum() > 50
    for index, car in enumerate(cars):
        lap = found.lap(index)
        if lap.ended == Ended.FINISHED:
            ledger = ledger_of(car, lap)
            assert np.isfinite(lap.end).all()
            assert ledger.longitudinal.min() >= -1e-9
            assert abs(ledger.residual) <= 1e-4
        if index < 8:
            alone = drive_lap(car, tables[index], *ways[index])
            np.testing.assert_array_equal(alone.end, lap.end)


@pytest.mark.parametrize("share", [0.1, -0.4, 0.6, 0.9])
@pytest.mark.parametrize("across", [0.0, 0.3, -0.4])
def test_the_slip_of_a_wanted_force_is_found_in_few_steps(monkeypatch, share, across):
    """Newton's method doubles the digits with each step (textbook): from none to all of them within eight, and then it ends."""
    steps, along_step = [], brush.along_step
    monkeypatch.setattr(brush, "along_step", lambda *words: steps.append(1) or along_step(*words))
    getattr(brush.along_exactly, "py_func", brush.along_exactly)(share, across)
    assert len(steps) <= 8
