"""The step of a lap follows the car's own swing; a ledger that stays open is driven finer, or the lap has no figures."""

from pathlib import Path

import numpy as np
import pytest
from scipy.linalg import eigh

from sim.car.chassis import axle_stiffnesses
from sim.lap.drive import ROW_TIME, Ended, drive_lap, swing_rate, time_step
from sim.lap.ledger import ledger_of
from sim.lap.lockstep.batch import drive_batch
from sim.pace.driver import Pace, plan_pace
from sim.scenario.file import load_scenario
from sim.study.compare import EndCause, compare

YARD = Path(__file__).parents[1] / "scenarios" / "yard.toml"


def stiff(car):
    """A light-footed car on hard tyres: it swings 40 times faster than the usual one."""
    return car._replace(yaw_inertia=0.7, rear_tyre=car.rear_tyre._replace(relaxation_length=0.019))


def test_swing_rate_is_the_rigid_body_on_two_springs(vehicle):
    """Against SciPy's generalised eigenvalues of the mass and the spring matrix."""
    for change in (lambda car: car, stiff):
        car = change(vehicle("standard")[0])
        a, b = car.front_arm, car.wheelbase - car.front_arm
        front, rear = (
            stiffness / tyre.relaxation_length
            for stiffness, tyre in zip(axle_stiffnesses(car), (car.front_tyre, car.rear_tyre), strict=True)
        )
        springs = np.array([[front + rear, a * front - b * rear], [a * front - b * rear, a * a * front + b * b * rear]])
        square = eigh(springs, np.diag([car.mass, car.yaw_inertia]), eigvals_only=True)
        assert swing_rate(car) == pytest.approx(np.sqrt(square[-1]), rel=1e-12, abs=0)


def test_the_step_follows_the_swing_and_divides_the_rows(vehicle, circle):
    car = vehicle("standard")[0]
    course = circle(8.0)
    plan = plan_pace(course, car, Pace(1.0, 3.0, 1.5, 600.0))
    assert time_step(car, plan) == 0.010
    step = time_step(stiff(car), plan)
    assert step * swing_rate(stiff(car)) <= 0.8
    assert ROW_TIME / step == pytest.approx(round(ROW_TIME / step), rel=1e-12, abs=0)


@pytest.mark.compiled
def test_a_stiff_car_makes_no_energy(vehicle, bend):
    """Yaw inertia 0.7, a rear relaxation length of 19 mm, 0.3 m/s: in steps of 10 ms it scrubbed nine times its drive work."""
    car, table = vehicle("standard", linkage="parallel")
    course = bend(4.0)
    lap = drive_lap(stiff(car), table, course, plan_pace(course, stiff(car), Pace(0.3, 3.0, 1.5, 600.0)))
    assert lap.ended == Ended.FINISHED
    assert abs(ledger_of(stiff(car), lap).residual) <= 1e-6


@pytest.mark.compiled
def test_an_open_ledger_is_driven_finer_and_many_laps_do_as_one(vehicle, bend, monkeypatch):
    """With a bound below what the usual step leaves, each car halves its own step until it holds, in lock step as alone."""
    cars = [vehicle("standard", car={"drive": drive}, linkage="parallel") for drive in ("differential", "solid axle")]
    course = bend(8.0)
    ways = [(course, plan_pace(course, car, Pace(6.0, 3.0, 1.5, 600.0))) for car, _ in cars]
    usual = [drive_lap(car, table, *way) for (car, table), way in zip(cars, ways, strict=True)]
    monkeypatch.setattr("sim.lap.drive.FINE_RESIDUAL", 1e-11)
    finer = [drive_lap(car, table, *way) for (car, table), way in zip(cars, ways, strict=True)]
    assert all(new.step < old.step for new, old in zip(finer, usual, strict=True))
    batch = drive_batch([car for car, _ in cars], [table for _, table in cars], ways)
    for index, lap in enumerate(finer):
        assert batch.step[index] == lap.step
        np.testing.assert_array_equal(batch.end[index], lap.end)
        assert Ended(batch.ended[index]) == lap.ended


@pytest.mark.compiled
@pytest.mark.target("T10", what="A lap that leaves more than 1e-4 open says so and has no figures", asked="said")
def test_a_ledger_that_stays_open_gives_no_figures(monkeypatch):
    from viz.run.report import run_report

    monkeypatch.setattr("sim.lap.drive.WORST_RESIDUAL", 0.0)
    yard = load_scenario(YARD)
    found = compare(yard.model_copy(update={"setup": yard.setup[:1]}), YARD.parent, "yard.toml")
    (result,) = found.results
    assert (result.ended, result.cause) == (Ended.LEAKED, EndCause.LEAKED)
    assert result.ledger is None
    words = "\n".join(str(line) for line in run_report(found, None))
    assert '"ideal" gets round, but leaves its energy ledger open:' in words
