"""How sure the dead centres are of a car that was read: against draws of the fit, by simulation, and where nothing is known."""

from dataclasses import replace

import numpy as np
import pytest

from sim.bench.as_built import ERRORS, ROD_LEFT
from sim.bench.dangers import DangerErrors, danger_errors, dangers_as_read
from sim.bench.design import design_plan
from sim.bench.fit import NORMAL_95, fit_readings

CARS = 300


def ends_of(dangers):
    return np.array([dangers.dead_centre_left_deg, dangers.dead_centre_right_deg], dtype=float)


def errors_of(fit):
    found = danger_errors(fit)
    return np.array([found.dead_centre_left_error_deg, found.dead_centre_right_error_deg], dtype=float)


@pytest.fixture
def read(trial):
    """A fit of a drawn car by the quick plan, and the car's own dead centres."""

    def of(plan, seed, taken):
        random = np.random.default_rng(seed)
        car = trial.drawn_car(plan, random)
        car[ERRORS:] = plan.spreads[ERRORS:] * random.normal(size=len(car) - ERRORS)  # as far off as the fit takes them to be
        return fit_readings(plan, trial.taken(plan, car, random, taken)), ends_of(dangers_as_read(plan, car))

    return of


@pytest.mark.compiled
@pytest.mark.parametrize("kind", ["centre", "cross"])
def test_the_error_is_the_scatter_of_cars_that_the_readings_allow(request, read, kind):
    plan = request.getfixturevalue(kind)
    fit, _ = read(plan, 1, design_plan(plan, "quick").taken)
    cars = np.random.default_rng(3).multivariate_normal(fit.errors, fit.covariance, size=200)
    scatter = np.std([ends_of(dangers_as_read(plan, car)) for car in cars], axis=0)
    # Of 200 draws a standard deviation is known to 5 %; the rest is curvature.
    assert errors_of(fit) == pytest.approx(scatter, rel=0.15, abs=0)


@pytest.mark.compiled
def test_better_readings_make_it_surer(centre, read):
    quick, full = (errors_of(read(centre, 1, design_plan(centre, name).taken)[0]) for name in ("quick", "full"))
    assert (full < quick).all()
    assert (quick > 0.5).all()


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["centre", "cross"])
def test_the_band_holds_the_true_place_in_95_of_100_cars(request, read, kind):
    plan = request.getfixturevalue(kind)
    taken, held = design_plan(plan, "quick").taken, np.zeros(2)
    for seed in range(CARS):
        fit, true = read(plan, seed, taken)
        held += np.abs(ends_of(dangers_as_read(plan, fit.errors)) - true) < NORMAL_95 * errors_of(fit)
    assert (held >= 0.92 * CARS).all()
    assert (held <= 0.98 * CARS).all()


@pytest.mark.compiled
def test_a_car_that_cannot_be_driven_has_no_error_of_its_own(centre, read):
    """Its dangers are those of the plan, which no reading moves: an error of 0 would be the surest of all."""
    fit, _ = read(centre, 1, design_plan(centre, "quick").taken)
    wrong = fit.errors.copy()
    wrong[ROD_LEFT] = -200.0
    assert dangers_as_read(centre, wrong) == dangers_as_read(centre, np.zeros(len(wrong)))
    assert danger_errors(replace(fit, errors=wrong)) == DangerErrors(None, None)
