"""The driver does not weave: the linearised loop of car and driver, circles against steady turns, and laps that weave all the same."""

from math import pi

import numpy as np
import pytest

from sim.car.chassis import GRAVITY, Car, characteristic_speed
from sim.car.motion import BODY_COLUMNS, WHEEL_COLUMNS, WheelColumn
from sim.car.tyre import LINEAR, Tyre
from sim.lap.drive import Ended, drive_lap
from sim.lap.equations import lap_rate
from sim.lap.ledger import ledger_of
from sim.lap.lockstep.batch import drive_batch
from sim.lap.state import STATES, Extreme, State
from sim.lap.weave import planned_steers, planned_travel, weaves
from sim.pace.driver import Driver, Pace, driver_of, plan_pace, understeer_factor
from sim.pace.road import road_of
from sim.scenario.file import find_scenario, load_scenario
from sim.steering.cells import steer_cells_of
from sim.study.compare import compare
from sim.turn.steady import steady_turn

SPEEDS = (0.1, 0.2, 0.4, 0.7, 1.0, 1.4, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 12.0, 15.0)  # [m/s]
LOOP = [
    State.VY,
    State.YAW_RATE,
    State.SLIPS,
    State.SLIPS + 1,
    State.SLIPS + 2,
    State.SLIPS + 3,
    State.STEER,
    State.ERROR,
    State.HEADING,
]  # what swings; speed and station do not
SWING = [State.VY, State.YAW_RATE, State.SLIPS, State.SLIPS + 1, State.SLIPS + 2, State.SLIPS + 3]  # the car by itself, hands held
SHIFT = 1e-6  # of each state for the differences, central: their error is near 1e-9 of a rate
# In one preview distance each swing of loop and driver shrinks at least to exp(-USUAL_MARGIN) on usual cars, and on any lawful car that
# by itself swings out within such a distance it shrinks at all.
USUAL_MARGIN, LEAST_MARGIN = 0.5, 0.0


def tyre(stiffness, relaxation, trail):
    return Tyre(stiffness, 0.0, 15.0, relaxation, trail, 0.0, 0.9, 0.008, LINEAR)


def drawn_car(rng, wide):
    """A car of the usual range of such cars, or of the whole range of the scenario's keys, there often with unlike axles."""
    if not wide:
        mass, base, behind = rng.uniform(90, 220), rng.uniform(1.1, 2.0), rng.uniform(0.35, 0.65)
        front = rear = tyre(rng.uniform(6, 20), rng.uniform(0.07, 0.30), rng.uniform(0.0, 0.025))
        inertia = mass * rng.uniform(0.15, 0.40)
    else:
        mass, base, behind = some(rng, 40, 1000), some(rng, 0.5, 4.0), rng.uniform(0.05, 0.95)
        inertia = some(rng, 0.5, 2000)
        front = tyre(some(rng, 1, 60), some(rng, 0.01, 2.0), rng.uniform(0.0, 0.1))
        rear = front if rng.random() < 0.5 else tyre(some(rng, 1, 60), some(rng, 0.01, 2.0), rng.uniform(0.0, 0.1))
    return Car(mass, base, 0.9, 0.86, behind * base, 0.3, inertia, 0.2, 1.225, 2, front, rear)


def some(rng, least, most):
    return float(np.exp(rng.uniform(np.log(least), np.log(most))))


@pytest.fixture(scope="module")
def shipped():
    """A shipped scenario and its folder."""

    def load(name):
        path = find_scenario(name)
        return load_scenario(path), path.parent

    return load


@pytest.fixture(scope="module")
def straight(course_by):
    return course_by(100.0, lambda s: 0 * s, closed=False)


@pytest.fixture(scope="module")
def jacobian(straight, vehicle):
    """The lap's own equations on a straight at a steady speed, linearised by differences."""
    _, table = vehicle("K")
    steer_cells = steer_cells_of(table)
    roads = {
        speed: road_of(straight, plan_pace(straight, drawn_car(np.random.default_rng(0), False), Pace(speed, 3.0, 1.5, 1e5)))
        for speed in SPEEDS
    }

    def make(car, speed, driver):
        wheels, body = np.zeros((4, WHEEL_COLUMNS)), np.zeros(BODY_COLUMNS)
        plus, minus = np.zeros(STATES), np.zeros(STATES)
        matrix = np.empty((len(LOOP), len(LOOP)))
        for k, place in enumerate(LOOP):
            for shift, rate in ((SHIFT, plus), (-SHIFT, minus)):
                state = np.zeros(STATES)
                state[State.VX], state[State.STATION] = speed, 50.0
                state[place] += shift
                lap_rate(car, steer_cells, roads[speed], driver, state, rate, wheels, body)
            matrix[:, k] = (plus[LOOP] - minus[LOOP]) / (2 * SHIFT)
        return matrix

    return make


def preview(car, driver, speed):
    """The preview distance as the docstring of `Driver` says it."""
    factor = min(max(1 + driver.understeer * speed**2, 0.05), 3.0)
    return max(driver.preview * speed, driver.nearest, driver.settling * speed**2, driver.turning_in * speed**2 / factor)


def margins(jacobian, car):
    """For each speed: how the car by itself and the loop settle in one preview distance, as exponents; below 0 they grow."""
    driver = driver_of(car)
    for speed in SPEEDS:
        whole = jacobian(car, speed, driver)
        alone = whole[: len(SWING), : len(SWING)]
        per = preview(car, driver, speed) / speed
        yield speed, -np.linalg.eigvals(alone).real.max() * per, -np.linalg.eigvals(whole).real.max() * per


def test_the_linearised_lap_is_the_single_track_car(jacobian):
    """Against the linear single-track car with relaxation, written out here: lateral and yaw motion as in any textbook (e.g.
    Gillespie, ch. 6, from memory), first-order relaxation, the driver's law of `sim.pace.driver` with its preview distance."""
    rng = np.random.default_rng(3)
    for _ in range(20):
        car = drawn_car(rng, wide=False)
        driver = driver_of(car)
        a, b = car.front_arm, car.wheelbase - car.front_arm
        for speed in (0.4, 2.0, 8.0):
            stiff_front = car.front_tyre.cornering_stiffness * car.mass * GRAVITY * b / car.wheelbase
            stiff_rear = car.rear_tyre.cornering_stiffness * car.mass * GRAVITY * a / car.wheelbase
            s, trail = car.front_tyre.relaxation_length, car.front_tyre.pneumatic_trail
            d = preview(car, driver, speed)
            factor = 1 + driver.understeer * speed**2
            gain = 2 * car.wheelbase * factor / d**2 / driver.hand_lag
            rows = np.array([  # v_y, r, front slip, rear slip, steer, lateral error, heading error
                [0, -speed, stiff_front / car.mass, stiff_rear / car.mass, 0, 0, 0],
                [0, 0, (a - trail) * stiff_front / car.yaw_inertia, -(b + trail) * stiff_rear / car.yaw_inertia, 0, 0, 0],
                [-1 / s, -a / s, -speed / s, 0, speed / s, 0, 0],
                [-1 / s, b / s, 0, -speed / s, 0, 0, 0],
                [0, 0, 0, 0, -1 / driver.hand_lag, -gain, -gain * d],
                [1, 0, 0, 0, 0, 0, speed],
                [0, 1, 0, 0, 0, 0, 0],
            ])  # fmt: skip
            ours = np.linalg.eigvals(jacobian(car, speed, driver))
            # Both wheels of an axle together; what the single track leaves out is the wheels' rolling resistance, 0.008 of the load.
            for root in np.linalg.eigvals(rows):
                assert np.abs(ours - root).min() <= 0.03 * max(abs(root), 1.0), (speed, root, ours)


@pytest.mark.slow
def test_no_usual_car_weaves(jacobian):
    rng = np.random.default_rng(11)
    least = min(margin for _ in range(500) for _, _, margin in margins(jacobian, drawn_car(rng, wide=False)))
    assert least >= USUAL_MARGIN


@pytest.mark.slow
def test_no_lawful_car_weaves_that_would_not_by_itself(jacobian):
    rng = np.random.default_rng(12)
    judged, bad = 0, []
    for index in range(500):
        car = drawn_car(rng, wide=True)
        for speed, alone, margin in margins(jacobian, car):
            # Held hands: a car that hardly settles by itself (long relaxation, on the way to spinning) is no driver's fault; where such a
            # lap weaves it says so.
            spins = 1 + driver_of(car).understeer * speed**2 <= 0.05
            if alone >= 1.0 and not spins:
                judged += 1
                if margin <= LEAST_MARGIN:
                    bad.append((index, speed, alone, margin))
    assert judged >= 4000  # of 7,000
    # What is left: axles quite unlike, near the speed at which the car spins.
    assert len(bad) <= judged / 1000, bad
    assert not [one for one in bad if one[1] <= 8.0], bad


def test_the_understeer_factor_ends_at_the_critical_speed(vehicle):
    """The factor of the steady steer is 1 + (v / v_ch)^2, or 1 - (v / v_crit)^2: the textbook's characteristic and critical speed."""
    for front, rear in ((20.0, 6.0), (6.0, 20.0)):
        car, _ = vehicle("K", tyre={"pneumatic_trail_mm": 0.0})
        car = car._replace(
            front_tyre=car.front_tyre._replace(cornering_stiffness=front), rear_tyre=car.rear_tyre._replace(cornering_stiffness=rear)
        )
        speed = 0.5 * characteristic_speed(car)
        expected = 1 + (0.25 if rear > front else -0.25)
        assert understeer_factor(driver_of(car), speed**2) == pytest.approx(expected, rel=1e-12, abs=0)


def circle_miss(rng, vehicle, circle):
    """By how much a drawn lap's scrub on a circle misses that of the steady turn, as a share of it."""
    mass, behind = rng.uniform(90, 220), rng.uniform(0.35, 0.65)
    setups = {"linkage": "ideal"}, {"linkage": "parallel"}, {"pivot": "turntable"}, {"linkage": "ideal", "toe_in_deg": 0.5}
    car, table = vehicle("K", **setups[rng.integers(4)])
    both = car.front_tyre._replace(relaxation_length=rng.uniform(0.07, 0.3), cornering_stiffness=rng.uniform(6, 20))
    car = car._replace(
        mass=mass, front_arm=behind * car.wheelbase, yaw_inertia=mass * rng.uniform(0.15, 0.4), front_tyre=both, rear_tyre=both
    )
    radius = rng.uniform(4.0, 20.0)
    speed = some(rng, 0.2, min(6.0, (3.0 * radius) ** 0.5))
    course = circle(radius)
    lap = drive_lap(car, table, course, plan_pace(course, car, Pace(speed, 3.5, 1.5, 600.0)))
    assert lap.ended == Ended.FINISHED
    turn = steady_turn(car, table, radius, speed)
    power = turn.wheels[:, [WheelColumn.LATERAL_LOSS, WheelColumn.LONGITUDINAL_LOSS]].sum()
    return ledger_of(car, lap).scrub / (power * course.length / speed) - 1


@pytest.mark.slow
def test_a_lap_on_a_circle_is_the_steady_turn(vehicle, circle):
    rng = np.random.default_rng(21)
    assert max(abs(circle_miss(rng, vehicle, circle)) for _ in range(40)) <= 0.02


@pytest.mark.slow
def test_three_hundred_laps_on_circles_are_steady_turns(vehicle, circle):
    rng = np.random.default_rng(22)
    assert max(abs(circle_miss(rng, vehicle, circle)) for _ in range(300)) <= 0.02


@pytest.mark.slow
def test_the_cost_of_geometry_hardly_knows_the_relaxation_length(shipped):
    """`car-park`: a steady turn knows no relaxation, and the bends are long against it."""
    scenario, folder = shipped("car-park")
    costs = []
    for length in (70.0, 120.0, 200.0, 300.0):
        table = scenario.car.tyre.model_copy(update={"relaxation_length_mm": length})
        tried = scenario.model_copy(update={"car": scenario.car.model_copy(update={"tyre": table})})
        found = compare(tried, folder, "car-park")
        costs.append([one.geometry_cost for one in found.results if one.name in ("parallel", "kinked arms, cross rod")])
    costs = np.array(costs)
    assert (np.ptp(costs, axis=0) <= 0.05 * costs.min(axis=0)).all(), costs


HASTY = Driver(preview=0.05, nearest=0.5, hand_lag=0.4)  # slow hands that aim right before the car: they answer their own steering


@pytest.mark.compiled
def test_a_lap_that_weaves_is_told(vehicle, circle):
    car, table = vehicle("standard")
    course = circle(12.0)
    plan = plan_pace(course, car, Pace(2.0, 3.0, 1.5, 600.0))
    lap = drive_lap(car, table, course, plan, driver=HASTY)
    assert lap.extremes[Extreme.FARTHEST] < 2.0  # it does come round
    assert lap.ended == Ended.WEAVED
    assert drive_lap(car, table, course, plan).ended == Ended.FINISHED


@pytest.mark.compiled
def test_many_laps_judge_weaving_as_one_does(vehicle, circle, monkeypatch):
    car, table = vehicle("standard")
    course = circle(12.0)
    plan = plan_pace(course, car, Pace(2.0, 3.0, 1.5, 600.0))
    monkeypatch.setattr("sim.lap.lockstep.batch.driver_of", lambda car: HASTY)
    monkeypatch.setattr("sim.lap.lockstep.batch.Driver", lambda: HASTY)
    batch = drive_batch([car] * 3, [table] * 3, [(course, plan)])
    alone = drive_lap(car, table, course, plan, driver=HASTY)
    assert [Ended(code) for code in batch.ended] == [Ended.WEAVED] * 3
    np.testing.assert_array_equal(batch.extremes[0], alone.extremes)
    np.testing.assert_array_equal(batch.distance, alone.distance)


def test_the_planned_way_of_the_hands(vehicle, bend):
    """A straight, a bend to the left, a straight: the hands go to the bend's steer and back."""
    car, table = vehicle("standard")
    course = bend(8.0, pi / 2, 20.0)
    plan = plan_pace(course, car, Pace(1.0, 3.0, 1.5, 600.0))
    rear = car.wheelbase - car.front_arm
    steer = np.arctan(car.wheelbase / np.sqrt(8.0**2 - rear**2)) * (1 + driver_of(car).understeer)
    assert planned_travel(planned_steers(car, course, plan, driver_of(car)), table) == pytest.approx(2 * steer, rel=1e-3, abs=0)
    assert not weaves(2 * steer, 2 * steer, course.length)
    assert weaves(6 * steer, 2 * steer, course.length)


def test_hands_at_rest_make_no_way(vehicle, circle):
    car, table = vehicle("standard")
    course = circle(12.0)
    lap = drive_lap(car, table, course, plan_pace(course, car, Pace(2.0, 3.0, 1.5, 600.0)))
    assert lap.extremes[Extreme.TRAVEL] <= 1e-4


@pytest.mark.compiled
def test_a_weaving_setup_is_said_and_not_compared(shipped, monkeypatch):
    from viz.run.report import run_report

    scenario, folder = shipped("car-park")
    usual = drive_lap
    monkeypatch.setattr("sim.study.compare.drive_lap", lambda car, table, *rest, **keys: usual(
        car, table, *rest, **keys, driver=HASTY._replace(nearest=0.8) if abs(table.lock_left - table.lock_right) < 1.9 else None
    ))  # fmt: skip
    found = compare(scenario, folder, "car-park")
    assert {one.name: one.ended for one in found.results}["kinked arms, cross rod"] == Ended.WEAVED
    weaver = next(one for one in found.results if one.ended == Ended.WEAVED)
    assert weaver.ledger is None
    assert np.isnan(weaver.geometry_cost)
    words = "\n".join(str(line) for line in run_report(found, None))
    assert '"kinked arms, cross rod" gets round, but weaves:' in words
