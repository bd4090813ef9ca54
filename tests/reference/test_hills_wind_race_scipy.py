"""Hills, wind, regeneration and the furthest pace against a second derivation, solved by SciPy.

Nothing here calls a formula of the program: forces, slips, motor and battery are written anew from their laws, for a point mass that
keeps to its line.  What a point mass leaves out is stated beside each tolerance.
"""

from dataclasses import dataclass, replace
from math import cos, hypot, pi, sin, sqrt

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

from sim.car.battery import Battery
from sim.car.motor import Motor
from sim.course.reading import read_course
from sim.course.segments import Straight, course_from_segments
from sim.lap.drive import Ended, drive_lap
from sim.lap.ledger import ledger_of
from sim.pace.driver import Pace, plan_pace
from sim.scenario.file import find_scenario
from sim.study.compare import compare

MASS, WHEELBASE, FRONT_ARM, HEIGHT = 145.0, 1.5, 0.82, 0.33  # the standard car of the tests [kg], [m]
ROLLING, DRAG_AREA, AIR, DRIVE_STIFFNESS, GRAVITY = 0.008, 0.20, 1.225, 15.0, 9.81
TRAIL = 0.015  # [m]
WEIGHT = MASS * GRAVITY


def rear_load(pull):
    """Load of both rear wheels [N]; pull : force of the ground and the air ahead, gravity's part along the slope left out [N]."""
    return (WEIGHT * FRONT_ARM + pull * HEIGHT) / WHEELBASE


def rolled_drive_work(force, pull):
    """Work of the driven treads per metre [J/m]: they turn faster than the road passes by the drive slip."""
    return force * (1.0 + force / (DRIVE_STIFFNESS * rear_load(pull)))


@pytest.fixture
def rear_driven(vehicle):
    return lambda **tyre: vehicle("standard", car={"drive": "differential"}, tyre=tyre, linkage="ideal")


@dataclass(frozen=True)
class Hill:
    """z = a (1 - cos(2 pi s / length)) on a straight [m]."""

    amplitude: float
    length: float

    def slope(self, station):
        return self.amplitude * 2 * pi / self.length * np.sin(2 * pi * station / self.length)

    def road(self):
        road = course_from_segments([Straight(self.length)], closed=False, name="hill")
        height = self.amplitude * (1 - np.cos(2 * pi * road.station / self.length))
        return replace(road, height=height, slope=self.slope(road.station))


@pytest.mark.outside(
    "", what="Drive work of a lap over a smooth hill at one speed", source="Quasi-static model written apart, integrated by SciPy",
    how="second", within="1e-5 relative",
)  # fmt: skip
@pytest.mark.parametrize("amplitude", [0.3, 1.0, 2.5])
@pytest.mark.parametrize("speed", [2.0, 5.0])
def test_a_hill_at_one_speed(rear_driven, amplitude, speed):
    """The force that holds a speed over a hill is known at each place; where it is below 0 the brakes hold it.

    1e-5: the car weighs in as a point; what the slope's own curvature adds to the loads is left out by both.
    """
    hill = Hill(amplitude, 150.0)
    car, table = rear_driven()
    road = hill.road()
    lap = drive_lap(car, table, road, plan_pace(road, car, Pace(speed, 3.0, 3.0, 1e6)))
    ledger = ledger_of(car, lap)
    air = 0.5 * AIR * DRAG_AREA * speed**2

    def work(station):
        climbing = WEIGHT * hill.slope(station)
        force = ROLLING * WEIGHT + air + climbing
        return rolled_drive_work(force, climbing) if force > 0 else 0.0

    def held(station):
        return max(-(ROLLING * WEIGHT + air + WEIGHT * hill.slope(station)), 0.0)

    turns = [75.0, 85.0, 140.0, 149.0]
    assert ledger.drive_work == pytest.approx(quad(work, 0.0, 150.0, points=turns, limit=400)[0], rel=1e-5, abs=0)
    # Brake slip is a loss of its own: the brakes' line is the treads' part, within the largest slip of 2 %.
    assert ledger.brakes == pytest.approx(quad(held, 0.0, 150.0, points=turns, limit=400)[0], rel=0.02, abs=1e-3)
    assert ledger.height == pytest.approx(0.0, rel=0, abs=1e-3)


@pytest.mark.outside(
    "", what="Drive work over a sharp crest read from a file of points", source="Hand formula of the rise and fall",
    how="second", within="3e-3 relative",
)  # fmt: skip
@pytest.mark.parametrize("step", [2.0, 11.0])
def test_a_sharp_crest_in_a_file(rear_driven, tmp_path, step):
    """3 % up and down over 242 m, as points in a file: 3.4 % of the drive work went with the smoothing of the heights.

    0.3 %: the reader rounds the three edges over a metre, and the points at 11 m miss the crest by up to half a step.
    """
    station = np.arange(0.0, 480.0, step)
    height = np.interp(station, [0.0, 110.0, 231.0, 352.0, 480.0], [0.0, 0.0, 3.63, 0.0, 0.0])
    path = tmp_path / "crest.csv"
    path.write_text("x_m,y_m,z_m\n" + "\n".join(f"{x:.3f},0.000,{z:.3f}" for x, z in zip(station, height, strict=True)))
    road = read_course(path, closed=False)
    car, table = rear_driven()
    ledger = ledger_of(car, drive_lap(car, table, road, plan_pace(road, car, Pace(5.0, 3.0, 3.0, 1e6))))
    level = ROLLING * WEIGHT + 0.5 * AIR * DRAG_AREA * 25.0
    # between the file's own points: level, up, level; on the way down gravity is stronger and the brakes hold
    work = 0.0
    for rise, run in zip(np.diff(height), np.diff(station), strict=True):
        force = level + WEIGHT * rise / run
        work += run * rolled_drive_work(force, WEIGHT * rise / run) if force > 0 else 0.0
    assert ledger.drive_work == pytest.approx(work, rel=3e-3, abs=0)


@pytest.mark.outside(
    "", what="Speed on a climb that the power limits", source="Equation of motion written apart, solved by SciPy",
    how="second", within="5e-3 relative",
)  # fmt: skip
def test_a_climb_that_the_power_limits(rear_driven):
    """m v dv/ds = P/v - resistance by `solve_ivp`; 0.5 %: the plan takes steps of 0.1 m with the force at their beginning."""
    power, hill = 120.0, Hill(3.0, 200.0)
    car, table = rear_driven()
    road = hill.road()
    lap = drive_lap(car, table, road, plan_pace(road, car, Pace(5.0, 3.0, 3.0, power)))
    assert lap.ended == Ended.FINISHED

    def rates(station, state):
        speed = state[0]
        held = ROLLING * WEIGHT + 0.5 * AIR * DRAG_AREA * speed**2 + WEIGHT * float(hill.slope(station))
        # at the target as much as holds it; below it all the power
        force = min(power / speed, held) if speed >= 5.0 else power / speed
        return [(force - held) / (MASS * speed), 1.0 / speed, max(force, 0.0)]

    # On the first 100 m the hill rises; beyond them the target holds and it is another case.
    solved = solve_ivp(rates, (0.0, 95.0), [5.0, 0.0, 0.0], rtol=1e-9, atol=1e-9, max_step=0.2)
    plan = plan_pace(road, car, Pace(5.0, 3.0, 3.0, power))
    assert solved.y[0, -1] < 3.0
    assert np.interp(95.0, plan.station, plan.speed) == pytest.approx(solved.y[0, -1], rel=5e-3, abs=0)
    reached = np.interp(95.0, lap.rows[:, 8], np.arange(len(lap.rows))) * 0.02
    assert reached == pytest.approx(solved.y[1, -1], rel=5e-3, abs=0)


@pytest.mark.compiled
@pytest.mark.outside(
    "", what="Air drag and drive work of a circle in wind", source="Relative wind written apart, integrated by SciPy",
    how="second", within="3e-4 relative",
)  # fmt: skip
@pytest.mark.parametrize("towards_deg", [0.0, 70.0, 200.0])
@pytest.mark.parametrize("wind", [2.0, 5.0])
def test_a_circle_in_wind(rear_driven, circle, wind, towards_deg):
    """Air drag by the relative velocity all round a wide circle, on tyres so stiff that side slip costs next to nothing.

    3e-4: the car's line lies within centimetres of a radius of 100 m, and the speed is held against the wind by a feedback that
    lags by about a second of 100.
    """
    radius, speed = 100.0, 6.0
    stiffness = 60.0
    car, table = rear_driven(cornering_stiffness_per_rad=stiffness, friction=2.0)
    course = circle(radius)
    blown = wind * cos(np.radians(towards_deg)), wind * sin(np.radians(towards_deg))
    ledger = ledger_of(car, drive_lap(car, table, course, plan_pace(course, car, Pace(speed, 3.0, 3.0, 1e6, wind=blown))))

    def forces(turned):
        ahead = cos(turned), sin(turned)
        through = speed * ahead[0] - blown[0], speed * ahead[1] - blown[1]
        drag = 0.5 * AIR * DRAG_AREA * hypot(*through)
        return drag * (through[0] * ahead[0] + through[1] * ahead[1]), drag * (through[1] * ahead[0] - through[0] * ahead[1])

    def work(turned):
        along, across = forces(turned)
        side = MASS * speed**2 / radius + across  # what the tyres give to the left
        lateral = side**2 / (stiffness * WEIGHT)  # both axles at one slip, as the loads share it
        twisting = side * TRAIL / radius  # the tyres' aligning moments, turned round once a lap
        force = ROLLING * WEIGHT + along + lateral + twisting
        return radius * rolled_drive_work(force, lateral + twisting)

    assert ledger.air == pytest.approx(quad(lambda turned: radius * forces(turned)[0], 0.0, 2 * pi)[0], rel=3e-4, abs=0)
    assert ledger.drive_work == pytest.approx(quad(work, 0.0, 2 * pi)[0], rel=3e-4, abs=0)
    calm = 2 * pi * radius * 0.5 * AIR * DRAG_AREA * speed**2
    assert ledger.air > calm * 1.05  # what a head wind takes, a tail wind does not give back


RESISTANCE, CONSTANT, NO_LOAD, GEAR, EFFICIENCY, VOLTAGE, INTERNAL = 0.1, 0.1, 2.0, 29.0, 0.95, 24.0, 0.02
MOTOR = Motor(RESISTANCE, CONSTANT, NO_LOAD, 60.0, GEAR, EFFICIENCY, True)
BATTERY = Battery(VOLTAGE, INTERNAL, 9 * 3600.0, 20 * 3600.0, 1.12, 0.9)


def cell_power(force, speed):
    """What the battery's cells give for a force at the treads, below 0 when the motor brakes [W]: both loops' laws by a root search."""
    shaft = force * (EFFICIENCY if force < 0 else 1.0 / EFFICIENCY) / GEAR  # torque on the motor's shaft, losses of the gear on top
    turning = GEAR * speed
    current = brentq(lambda one: CONSTANT * (one - NO_LOAD) - shaft, -1e3, 1e3, xtol=1e-14)
    terminal = current * (current * RESISTANCE + CONSTANT * turning)
    drawn = brentq(lambda one: VOLTAGE * one - INTERNAL * one**2 - terminal, -VOLTAGE / INTERNAL, 0.5 * VOLTAGE / INTERNAL, xtol=1e-13)
    return VOLTAGE * drawn


@pytest.mark.outside(
    "", what="Energy fed back to the battery down a hill", source="Motor circuit written apart",
    how="second", within="1e-4 relative",
)  # fmt: skip
@pytest.mark.parametrize("fall", [0.02, 0.04, 0.07])
@pytest.mark.parametrize("speed", [2.5, 6.0])
def test_energy_fed_back_down_a_hill(rear_driven, fall, speed):
    """A constant speed down an even slope: the brakes' part on the driven wheels is the motor's, as far as its field and limit go.

    1e-4: the brakes share the force by load on wheels that slip by up to 1 %, which moves the shares by less.
    """
    car, table = rear_driven()
    road = course_from_segments([Straight(120.0)], closed=False, name="down")
    road = replace(road, height=-fall * road.station, slope=np.full(len(road.station), -fall))
    car = car._replace(motor=MOTOR, battery=BATTERY)
    ledger = ledger_of(car, drive_lap(car, table, road, plan_pace(road, car, Pace(speed, 3.0, 3.0, 1e6))))
    held = fall * WEIGHT - ROLLING * WEIGHT - 0.5 * AIR * DRAG_AREA * speed**2
    assert held > 0
    share = rear_load(-fall * WEIGHT) / WEIGHT
    # all wheels brake in proportion to load, so all slip alike: the treads turn slower by this part
    slip = held / (DRIVE_STIFFNESS * WEIGHT)
    tread = speed * (1.0 - slip)
    # the motor feeds back at most where (I R + k w) I is least, and no more than the controller lets through
    most = min(60.0, 0.5 * CONSTANT * GEAR * tread / RESISTANCE)
    braking = min(share * held, (most + NO_LOAD) * CONSTANT * GEAR / EFFICIENCY)
    time = 120.0 / speed
    assert ledger.electric.regenerated == pytest.approx(braking * tread * time, rel=1e-4, abs=0)
    assert ledger.electric.battery == pytest.approx(cell_power(-braking, tread) * time, rel=1e-4, abs=0)
    if fall > 0.03:
        assert ledger.electric.battery < 0


RACE = """
title = "wide ring"
[car]
mass_kg = 145
wheelbase_mm = 1500
front_track_mm = 900
rear_track_mm = 860
kingpin_track_mm = 740
mass_centre_behind_front_axle_mm = 820
mass_centre_height_mm = 330
yaw_inertia_kg_m2 = 38
wheel_radius_mm = 200
drag_area_m2 = 0.20
drive = "differential"
[car.tyre]
cornering_stiffness_per_rad = 30.0
rolling_resistance = 0.008
friction = 0.9
drive_stiffness_per_unit_slip = 15.0
[course]
segments = [{radius_m = 40, turn_deg = 360}]
closed = true
[pace]
target_m_per_s = "furthest"
lateral_limit_m_per_s2 = 15.0
[motor]
winding_resistance_ohm = 0.10
torque_constant_N_m_per_A = 0.10
no_load_current_A = 2.0
gear_ratio = 6.0
drive_efficiency = 0.95
current_limit_A = 60
[battery]
nominal_voltage_V = 12.0
in_series = 2
internal_resistance_ohm = 0.010
rated_capacity_Ah = CAPACITY
rated_time_h = 20
peukert_exponent = 1.12
usable_share = 0.9
[race]
duration_min = MINUTES
[[setup]]
name = "ideal"
pivot = "stub axles"
linkage = "ideal"
"""


@pytest.mark.slow
@pytest.mark.outside(
    "", what="Speed that gets furthest in a race, and how far", source="Brute force over speeds of a model written apart",
    how="second", within="3e-3 relative",
)  # fmt: skip
@pytest.mark.parametrize(("capacity", "minutes"), [(7.0, 60.0), (9.0, 60.0), (2.0, 20.0), (4.0, 120.0)])
def test_the_furthest_pace_by_brute_force(scenario_of, capacity, minutes):
    """Every speed in steps of 1 mm/s on a ring, quasi-static: what the motor draws, by the rate law, until time or charge is over.

    0.3 % of the pace and of the distance: side slip as of a point mass (the car's own steer and sideslip turn its drive force by
    3 degrees, 0.15 %), and laps of 251 m.
    """
    text = RACE.replace("CAPACITY", str(capacity)).replace("MINUTES", str(minutes))
    found = compare(scenario_of(text), find_scenario("race-day").parent, "ring.toml")

    def distance(speed):
        side = MASS * speed**2 / 40.0
        lateral = side**2 / (30.0 * WEIGHT) + side * TRAIL / 40.0
        force = ROLLING * WEIGHT + 0.5 * AIR * DRAG_AREA * speed**2 + lateral
        tread = speed * (1.0 + force / (DRIVE_STIFFNESS * rear_load(lateral)))
        current = force / EFFICIENCY / (30.0 * CONSTANT) + NO_LOAD  # gear 6 on wheels of 0.2 m
        terminal = current * (current * RESISTANCE + CONSTANT * 30.0 * tread)
        drawn = (VOLTAGE - sqrt(VOLTAGE**2 - 4 * 0.02 * terminal)) / (2 * 0.02)
        rated = capacity / 20.0
        used = drawn * (drawn / rated) ** 0.12 if drawn > rated else drawn  # [A], as charge at the rated current
        return speed * min(60.0 * minutes, 0.9 * capacity * 3600.0 / used)

    fastest = VOLTAGE / (CONSTANT * 30.0)
    speeds = np.arange(1.0, min(fastest, 7.5), 0.001)
    far = np.array([distance(speed) for speed in speeds])
    best = speeds[int(far.argmax())]
    assert 1.2 < best < 7.4
    assert found.target == pytest.approx(best, rel=3e-3, abs=0)
    assert found.reference.race.distance == pytest.approx(far.max(), rel=3e-3, abs=0)
