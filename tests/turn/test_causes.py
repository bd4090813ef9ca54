"""Why turns end: the cause on each side of each limit, against limits known by statics, and over drawn cars."""

from math import radians, sin, sqrt

import numpy as np
import pytest

from sim.car.chassis import DIFFERENTIAL, GRAVITY, ONE_WHEEL_LEFT, ONE_WHEEL_RIGHT, SOLID_AXLE, single_track, tip_limit
from sim.car.motion import WHEEL_COLUMNS, WheelColumn
from sim.errors import InputError
from sim.scenario.file import find_scenario, load_scenario
from sim.steering.table import SteerColumn, merged_table
from sim.study.ready import car_of, entries_of
from sim.turn.causes import MORE_LOCK, Cause, Ending, cause_of, drive_share, grip_shares, widened
from sim.turn.maps import State, turn_map
from sim.turn.steady import steady_turn

GRIP = (Cause.FRONT, Cause.REAR, Cause.SPINS)


@pytest.fixture
def ending(vehicle):
    """An Ending of the standard car, all its wheels with grip and load to spare, but for what is given."""
    car, _ = vehicle()
    wheels = np.zeros((4, WHEEL_COLUMNS))
    wheels[:, WheelColumn.LOAD] = car.mass * GRAVITY / 4
    x = np.array([car.front_arm] * 2 + [car.front_arm - car.wheelbase] * 2)
    y = 0.5 * np.array([car.front_track, -car.front_track, car.rear_track, -car.rear_track])
    plain = Ending(1 / 8, 3.0, 1 / 8, 0.05, 20.0, x, y, wheels, False)
    return lambda **changed: (car, plain._replace(**changed))


def used(ending, front, rear):
    """Wheels whose axles use shares of their grip."""
    wheels = ending()[1].wheels.copy()
    grip = 0.9 * wheels[0, WheelColumn.LOAD]
    wheels[:2, WheelColumn.LATERAL], wheels[2:, WheelColumn.LATERAL] = 0.6 * grip * front, 0.6 * grip * rear
    wheels[:2, WheelColumn.LONGITUDINAL], wheels[2:, WheelColumn.LONGITUDINAL] = 0.8 * grip * front, 0.8 * grip * rear
    return wheels


def test_too_tight_is_told_by_the_rear_axles_distance(ending):
    distance = 0.68
    for share, expected in ((1 - 1e-9, True), (1 + 1e-9, False)):
        for sign in (1, -1):
            car, end = ending(asked=sign / (share * distance))
            assert (cause_of(car, end) == Cause.TOO_TIGHT) == expected


def test_the_lock_is_told_before_grip_and_tipping(ending):
    assert cause_of(*ending(steers_on=True)) == Cause.LOCK
    assert cause_of(*ending(steers_on=True, speed=30.0, wheels=used(ending, 1.0, 1.0))) == Cause.LOCK
    assert cause_of(*ending(steers_on=False)) in GRIP


@pytest.mark.parametrize("sign", [1, -1])
def test_tipping_is_told_from_the_tip_limit_on(ending, sign):
    # Half-width at the mass centre 0.43 + 0.02 x 680 / 1500, seen along the line from the turn's centre; height 0.33.
    reach = (0.43 + 0.02 * 0.68 / 1.5) / (np.cos(0.05) - sin(0.05) * 0.02 / 1.5)
    speed = sqrt(GRAVITY * reach / 0.33 * 8.0)
    for share, tips in ((1.001, True), (0.998, False)):
        car, end = ending(speed=share * speed, curvature=sign / 8, sideslip=sign * 0.05, wheels=used(ending, 1.0, 0.3))
        assert cause_of(car, end) == (Cause.TIPS if tips else Cause.FRONT)


def test_the_axle_that_uses_more_of_its_grip_is_told(ending):
    for front, rear, cause in ((0.999, 0.998, Cause.FRONT), (0.998, 0.999, Cause.REAR)):
        wheels = used(ending, front, rear)
        assert grip_shares(ending()[0], wheels) == pytest.approx((front, rear), rel=1e-12, abs=0)
        assert cause_of(*ending(wheels=wheels)) == cause


def test_a_driven_wheel_that_gives_all_it_can_is_told(ending):
    car, end = ending()
    load = car.mass * GRAVITY / 4
    most = 0.98 * 0.9 * load  # by hand: what a driver may ask of one wheel
    for drive, cause in ((0.71 * most, Cause.SPINS), (0.69 * most, Cause.FRONT)):
        assert drive_share(car, drive, end.wheels[:, WheelColumn.LOAD]) == pytest.approx(drive / most, rel=1e-12, abs=0)
        assert cause_of(*ending(drive=drive, wheels=used(ending, 0.7, 0.4))) == cause


@pytest.mark.parametrize(("drive", "most"), [(ONE_WHEEL_LEFT, 100.0), (DIFFERENTIAL, 200.0), (SOLID_AXLE, 400.0)])
def test_what_driven_wheels_can_give_by_hand(vehicle, drive, most):
    """A left wheel of 100 N of grip beside one of 300 N: one alone, twice the less, both."""
    car = vehicle()[0]._replace(drive=drive)
    loads = np.array([0.0, 0.0, 100.0, 300.0]) / 0.9
    assert drive_share(car, 0.98 * most, loads) == pytest.approx(1.0, rel=1e-12, abs=0)
    assert drive_share(car, 1.0, np.zeros(4)) == np.inf


def test_a_widened_table_goes_on_straight(vehicle, read_hand):
    _, table = vehicle(linkage="cross rod", arm_length_mm=110.0, arm_angle_deg=13.9)
    wide = widened(table, MORE_LOCK)
    inside = np.linspace(table.lock_right, table.lock_left, 33)
    np.testing.assert_allclose(read_hand(wide, inside), read_hand(table, inside), rtol=0, atol=1e-12)
    for end, beyond in ((table.lock_left, wide.lock_left), (table.lock_right, wide.lock_right)):
        assert abs(beyond - end) >= MORE_LOCK
        a, b, c = read_hand(wide, end + (beyond - end) * np.array([0.0, 0.5, 1.0]))
        np.testing.assert_allclose(b, (a + c) / 2, rtol=0, atol=1e-12)
        # It goes on as steeply as it came.
        inner = read_hand(table, np.array([end - 1e-6 * np.sign(end), end]))
        np.testing.assert_allclose((c - a) / (beyond - end), (inner[1] - inner[0]) / (1e-6 * np.sign(end)), rtol=1e-4, atol=1e-4)


@pytest.fixture
def read_hand():
    """Hand and wheel angles of a table at steers: (n, 3) [rad]."""

    def read(table, steers):
        place = (steers - table.first) / table.spacing
        cell = np.clip(place.astype(int), 0, len(table.cells) - 1)
        t = (place - cell)[:, None]
        c = table.cells[cell][:, [SteerColumn.HAND, SteerColumn.LEFT_STEER, SteerColumn.RIGHT_STEER]]
        return c[..., 0] + t * (c[..., 1] + t * (c[..., 2] + t * c[..., 3]))

    return read


def last_speed(car, table, radius, fastest=16.0):
    """The highest speed that has a turn, by halving, and the cause just above it."""
    low, high = 0.3, fastest
    assert steady_turn(car, table, radius, low).converged
    while high - low > 1e-4:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if steady_turn(car, table, radius, middle).converged else (low, middle)
    return low, steady_turn(car, table, radius, high).reason


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize(("front", "rear", "cause"), [(0.5, 0.9, Cause.FRONT), (0.9, 0.5, Cause.REAR)])
def test_each_axle_on_each_side_of_its_grip(vehicle, sign, front, rear, cause):
    """Above the last speed the axle with less grip is told; with a tenth more grip there, and not at the other axle, it is driven."""
    car, table = vehicle(car={"drive": "differential"})
    gripping = car._replace(front_tyre=car.front_tyre._replace(friction=front), rear_tyre=car.rear_tyre._replace(friction=rear))
    speed, told = last_speed(gripping, table, sign * 10.0)
    assert told == cause
    assert speed**2 / 10 == pytest.approx(0.5 * GRAVITY, rel=0.1, abs=0)
    axles = {Cause.FRONT: "front_tyre", Cause.REAR: "rear_tyre"}
    for axle, driven in ((axles[cause], True), ((set(axles.values()) - {axles[cause]}).pop(), False)):
        tyre = getattr(gripping, axle)
        better = gripping._replace(**{axle: tyre._replace(friction=1.1 * tyre.friction)})
        assert steady_turn(better, table, sign * 10.0, 1.02 * speed).converged == driven


@pytest.mark.compiled
@pytest.mark.parametrize("sign", [1, -1])
def test_an_inner_wheel_that_spins_just_below_tipping_does_not_tip(vehicle, sign):
    """A tall car on gripping tyres: with a solid axle it tips, where a differential's inner wheel has no load left to drive with."""
    tall = {"mass_centre_height_mm": 900.0}
    ends = {}
    for drive in ("solid axle", "differential"):
        car, table = vehicle(car=tall | {"drive": drive}, tyre={"friction": 2.0})
        ends[drive] = last_speed(car, table, sign * 10.0)
    turn = steady_turn(car, table, sign * 10.0, ends["differential"][0])
    assert [told for _, told in ends.values()] == [Cause.TIPS, Cause.SPINS]
    half = 0.5 * np.array([0.9, -0.9, 0.86, -0.86])
    limit = tip_limit(np.array([0.82, 0.82, -0.68, -0.68]), half, 0.9, sign > 0, turn.sideslip)
    tips, spins = (speed**2 / 10 for speed, _ in ends.values())
    assert tips == pytest.approx(limit, rel=5e-3, abs=0)
    assert 0.95 * limit < spins < 0.99 * limit


@pytest.mark.parametrize("sign", [1, -1])
def test_the_driven_wheel_is_told_by_the_side_it_is_on(vehicle, sign):
    car, table = vehicle(car={"mass_centre_height_mm": 900.0, "drive": "one wheel left"}, tyre={"friction": 2.0})
    assert last_speed(car, table, sign * 10.0)[1] == (Cause.SPINS if sign > 0 else Cause.TIPS)


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("limit_deg", [10.0, 25.0])
def test_the_lock_on_each_side_of_its_radius(vehicle, sign, limit_deg):
    """Rolling at the lock, the mass centre's path has R^2 = (l / tan d)^2 + b^2: just wider is driven, just tighter not."""
    car, table = vehicle(linkage="ideal", hand_wheel_limit_deg=limit_deg)
    radius = sqrt((1.5 / np.tan(radians(limit_deg))) ** 2 + 0.68**2)
    assert steady_turn(car, table, sign * 1.01 * radius, 0.3).converged
    assert steady_turn(car, table, sign * 0.99 * radius, 0.3).reason == Cause.LOCK


def test_a_single_track_car_does_not_tip(vehicle):
    car, table = vehicle()
    turn = steady_turn(single_track(car), merged_table(table), 10.0, 12.0)
    assert turn.reason in (Cause.FRONT, Cause.REAR)


@pytest.mark.parametrize("radius", [0.6, -0.6])
def test_a_turn_inside_the_rear_axles_distance(vehicle, radius):
    car, table = vehicle()
    assert steady_turn(car, table, radius, 0.5).reason == Cause.TOO_TIGHT


@pytest.mark.compiled
def test_a_tight_turn_at_a_crawl_is_ended_by_the_lock():
    """At 0.2 m/s2 the grip was blamed; the map said so likewise."""
    scenario = load_scenario(find_scenario("quay-loop"))
    car, locked = car_of(scenario), 0
    for entry in entries_of(scenario, "quay-loop"):
        for radius in (1.7, 1.4, 1.1):
            turn = steady_turn(car, entry.table, radius, 0.6)
            made = turn_map(car, entry.table, np.array([radius]), np.array([0.3, 0.6]))
            assert turn.converged or turn.reason == Cause.LOCK
            assert turn.converged == bool(np.isfinite(made.scrub[0, 1]))
            assert turn.converged or made.state[0, 1] == State.LOCKED
            locked += not turn.converged
    assert locked > 8


DRIVES = ("one wheel left", "one wheel right", "differential", "solid axle")
ARMS = {"arm_length_mm": (60.0, 180.0), "arm_angle_deg": (-10.0, 35.0)}
DRAWN = (
    {"linkage": "ideal"}, {"linkage": "parallel"}, {"linkage": "fraction", "fraction": (-1.0, 1.5)}, {"pivot": "turntable"},
    {"linkage": "cross rod", **ARMS},
    {"linkage": "centre arm", **ARMS, "drop_arm_length_mm": (40.0, 100.0), "drop_arm_behind_front_axle_mm": (60.0, 150.0)},
    {"linkage": "rack", **ARMS, "rack_behind_front_axle_mm": (60.0, 200.0), "rack_length_mm": (100.0, 300.0),
     "rack_mm_per_turn": (30.0, 150.0)},
)  # fmt: skip


def drawn_vehicle(vehicle, draw):
    """A car with steering from the ranges that builders use, and beyond; None where the set-up is refused."""
    wheelbase, front_track = draw.uniform(900, 2200), draw.uniform(500, 1200)
    keys = {
        "mass_kg": draw.uniform(80, 250), "wheelbase_mm": wheelbase,
        "front_track_mm": front_track, "rear_track_mm": draw.uniform(400, 1200),
        "kingpin_track_mm": front_track - draw.uniform(0, 250), "mass_centre_behind_front_axle_mm": wheelbase * draw.uniform(0.3, 0.7),
        "mass_centre_height_mm": draw.uniform(150, 1100), "drag_area_m2": draw.uniform(0.05, 0.6), "drive": DRIVES[draw.integers(4)],
    }  # fmt: skip
    tyre = {
        "friction": draw.uniform(0.2, 2), "cornering_stiffness_per_rad": draw.uniform(5, 20), "load_sensitivity": draw.uniform(0, 0.3),
        "camber_stiffness_per_rad": draw.uniform(0, 1), "rolling_resistance": draw.uniform(0, 0.03),
    }  # fmt: skip
    setup = {key: draw.uniform(*value) if isinstance(value, tuple) else value for key, value in DRAWN[draw.integers(len(DRAWN))].items()}
    setup |= {"toe_in_deg": draw.uniform(-3, 3)} if draw.random() < 0.3 else {}
    setup |= {"hand_wheel_limit_deg": draw.uniform(5, 60)} if draw.random() < 0.3 else {}
    try:
        return vehicle(car=keys, tyre=tyre, **setup)
    except InputError:
        return None


def last_turn(car, table, radius, speed):
    """The turn next to where turns end on the way to one that there is none: faster on its radius, or else tighter at a crawl; halved."""
    crawl = 0.3
    faster = steady_turn(car, table, radius, crawl).converged
    low, high = (crawl, speed) if faster else (0.0, 1 / radius)
    while abs(high - low) > 2e-4 * abs(high):
        middle = 0.5 * (low + high)
        turn = steady_turn(car, table, radius, middle) if faster else steady_turn(car, table, 1 / middle, crawl)
        low, high = (middle, high) if turn.converged else (low, middle)
    if low == 0:
        return None
    return steady_turn(car, table, radius, low) if faster else steady_turn(car, table, 1 / low, crawl)


@pytest.mark.slow
def test_no_drawn_turn_ends_without_a_cause_that_holds(vehicle):
    """300 drawn turns.  What is said to end them is so in the last turn: the lock reached, the tip limit, grip that is used up."""
    draw, told, turns = np.random.default_rng(5), [], 0
    while turns < 300:
        found = drawn_vehicle(vehicle, draw)
        if found is None:
            continue
        car, table = found
        for _ in range(3):
            turns += 1
            radius = float(np.exp(draw.uniform(np.log(0.8), np.log(60))) * draw.choice([-1, 1]))
            speed = float(np.exp(draw.uniform(np.log(0.2), np.log(16))))
            turn = steady_turn(car, table, radius, speed)
            assert turn.converged == (turn.reason == Cause.NONE)
            told.append(turn.reason)
            if turn.reason == Cause.TOO_TIGHT:
                assert abs(radius) <= car.wheelbase - car.front_arm
            if turn.converged or turn.reason == Cause.TOO_TIGHT:
                continue
            last = last_turn(car, table, radius, max(speed, 0.4))
            if last is None:
                # Straight ahead at a crawl: toe alone holds both front wheels at the limit of their grip, against each other.
                sides = SteerColumn.LEFT_STEER, SteerColumn.RIGHT_STEER
                left, right = (table.cells[int(-table.first / table.spacing), side, 0] for side in sides)
                assert turn.reason == Cause.FRONT
                assert car.front_tyre.cornering_stiffness * np.tan(abs(left - right) / 2) > 0.9 * car.front_tyre.friction
                continue
            grip = last.wheels[:, WheelColumn.LOAD] * np.repeat([car.front_tyre.friction, car.rear_tyre.friction], 2)
            force = np.hypot(last.wheels[:, WheelColumn.LATERAL], last.wheels[:, WheelColumn.LONGITUDINAL])
            if turn.reason == Cause.LOCK:
                assert min(table.lock_left - last.place[1], last.place[1] - table.lock_right) < 5e-3
            elif turn.reason == Cause.TIPS:
                assert np.sort(last.wheels[:, WheelColumn.LOAD])[1] < 5e-3 * car.mass * GRAVITY  # the second wheel is about to lift
            elif turn.reason == Cause.SPINS:
                left, right = force[2:] > 0.94 * grip[2:]
                assert {ONE_WHEEL_LEFT: left, ONE_WHEEL_RIGHT: right}.get(car.drive, left or right)
            else:
                axle = slice(0, 2) if turn.reason == Cause.FRONT else slice(2, 4)
                assert force[axle].sum() > 0.97 * grip[axle].sum()
    assert {Cause.NONE, Cause.LOCK, Cause.TIPS, Cause.SPINS, Cause.FRONT, Cause.REAR} <= set(told)
