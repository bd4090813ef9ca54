"""The ledger: each flow against its own closed form, and the balance of a lap."""

import numpy as np
import pytest

from sim.car.chassis import GRAVITY
from sim.lap.drive import drive_lap
from sim.lap.ledger import WORST_RESIDUAL, Electric, Ledger, kinetic_energy, ledger_of
from sim.lap.state import STATES, State
from sim.pace.driver import Pace, plan_pace


def ledger(**changes):
    plain = dict.fromkeys(("drive_work", "hand_work", "kinetic", "air", "rolling", "brakes", "height", "aligning", "deflection"), 0.0)
    return Ledger(**plain | {"lateral": np.zeros(4), "longitudinal": np.zeros(4), "rub": np.zeros(4)} | changes)


def test_residual_by_hand():
    books = ledger(
        drive_work=1000.0, hand_work=5.0, kinetic=100.0, air=150.0, rolling=300.0, brakes=120.0, height=80.0, aligning=4.0,
        deflection=1.0, lateral=np.array([40.0, 50.0, 60.0, 50.0]), longitudinal=np.array([0.0, 0.0, 20.0, 20.0]),
    )  # fmt: skip
    assert books.scrub == 240.0
    assert books.residual == pytest.approx(0.010, rel=1e-12, abs=0)
    assert books.residual > WORST_RESIDUAL == 1e-4


def test_residual_where_nothing_drove_is_a_share_of_what_was_lost():
    assert ledger(kinetic=-90.0, rolling=100.0).residual == pytest.approx(-0.1, rel=1e-12, abs=0)
    assert ledger().residual == 0.0


@pytest.mark.parametrize(
    ("key", "sign"),
    [("drive_work", 1), ("hand_work", 1), ("kinetic", -1), ("air", -1), ("rolling", -1), ("brakes", -1), ("height", -1),
     ("aligning", -1), ("deflection", -1)],
)  # fmt: skip
def test_each_line_counts_with_its_sign(key, sign):
    base = ledger(drive_work=1e9)
    books = ledger(**{"drive_work": 1e9} | {key: 1e6 + (1e9 if key == "drive_work" else 0.0)})
    assert books.residual * books.drive_work - base.residual * base.drive_work == pytest.approx(sign * 1e6, rel=1e-9, abs=0)


def test_electrical_residual_by_hand():
    # 1000 J out of the cells; of 900 J at the treads 200 J came back; 300 J of losses: all is told for.
    told = Electric(
        battery=1000.0, copper=120.0, no_load=60.0, gear=50.0, battery_heat=70.0, regenerated=200.0, charge=40.0, used_charge=44.0
    )  # fmt: skip
    assert told.residual(900.0) == pytest.approx(0.0, rel=0, abs=1e-15)
    assert told.residual(880.0) == pytest.approx(0.02, rel=1e-12, abs=0)


def test_kinetic_energy_by_hand(vehicle):
    state = np.zeros(STATES)
    state[[State.VX, State.VY, State.YAW_RATE]] = 4.0, 3.0, 0.5
    assert kinetic_energy(vehicle("standard")[0], state) == pytest.approx(0.5 * 145 * 25 + 0.5 * 38 * 0.25, rel=1e-14, abs=0)


@pytest.mark.target("T10", what="Any lap's ledger leaves open, sliding, braking and hills included", asked="1e-6")
@pytest.mark.parametrize("drive", ["one wheel left", "one wheel right", "differential", "solid axle"])
def test_a_lap_with_everything_in_it_balances(vehicle, course_by, setup_keys, drive, within_target):
    # Bends, a hill, braking, camber, load sensitivity, unlike tyres
    tyre = {"load_sensitivity": 0.2, "camber_stiffness_per_rad": 0.8}
    car, table = vehicle("standard", car={"drive": drive, "rear_tyre": tyre | {"pneumatic_trail_mm": 25.0}}, tyre=tyre, **setup_keys)
    course = course_by(120.0, lambda s: 0.11 * np.sin(2 * np.pi * s / 60.0), lambda s: 0.8 * (1 - np.cos(2 * np.pi * s / 120.0)))
    plan = plan_pace(course, car, Pace(target=6.0, lateral_limit=2.5, braking_limit=1.5, power=500.0, start=None))
    books = ledger_of(car, drive_lap(car, table, course, plan))
    within_target(abs(books.residual), at_most=1e-6)
    for part in (books.air, books.rolling, books.brakes, *books.lateral, *books.longitudinal, *books.rub):
        assert part > 0.0 or part == pytest.approx(0.0, rel=0, abs=1e-12)
    assert books.brakes > 10.0
    assert books.rolling == pytest.approx(0.008 * car.mass * GRAVITY * 120.0, rel=0.02, abs=0)


def test_rub_distance_of_toe(vehicle, course_by):
    # A wheel that runs at a slip a rubs a metres a metre: 1 degree of toe is 17.5 mm a metre.
    car, table = vehicle("K", linkage="ideal", toe_in_deg=1.0)
    course = course_by(50.0, lambda s: 0 * s, closed=False)
    plan = plan_pace(course, car, Pace(target=4.0, lateral_limit=3.0, braking_limit=1.5, power=500.0, start=None))
    books = ledger_of(car, drive_lap(car, table, course, plan))
    # Over the first relaxation length the slip builds up from nothing: 0.12 m of 50.
    np.testing.assert_allclose(books.rub[:2], (50.0 - 0.12) * np.sin(np.radians(1.0)), rtol=1e-4, atol=0)


def test_deflection_is_what_the_tyres_store(vehicle, course_by):
    # From straight ahead to the middle of a bend the linear tyres' gain is C s a^2 / 2, to what the changing loads leave open.
    car, table = vehicle("K", linkage="ideal")
    car = car._replace(height=0.0)
    course = course_by(60.0, lambda s: 0.1 * (1 - np.cos(np.pi * np.minimum(s, 30.0) / 30.0)) / 2, closed=False)
    plan = plan_pace(course, car, Pace(target=4.0, lateral_limit=9.0, braking_limit=1.5, power=500.0, start=None))
    lap = drive_lap(car, table, course, plan)
    static = car.mass * GRAVITY / 2 * np.array([0.7, 0.7, 0.8, 0.8]) / 1.5
    stored = (12 * static * 0.12 * lap.end[3:7] ** 2 / 2).sum()
    assert ledger_of(car, lap).deflection == pytest.approx(stored, rel=1e-9, abs=0)
    assert stored > 0.1
