"""Where a built front end can snap over or jam, as far as readings tell."""

from dataclasses import dataclass
from math import sqrt

import numpy as np

from sim.bench.advice import GRADIENT_STEP
from sim.bench.as_built import Built
from sim.bench.fit import BenchFit
from sim.linkages.parts import UnbuildableError
from sim.linkages.pivots import SIDES
from sim.steering.arrangement import RangeError, with_locks
from sim.study.dangers import Dangers, dangers_of


@dataclass(frozen=True)
class DangerErrors:
    """How sure the dead centres of a car are that was read.

    dead_centre_left_error_deg, dead_centre_right_error_deg : standard error of each, None where there is none or its error is not known
        [deg]
    """

    dead_centre_left_error_deg: float | None
    dead_centre_right_error_deg: float | None


def dangers_as_read(plan: Built, errors: np.ndarray) -> Dangers:
    """Where a front end with errors can snap over or jam: short rods bring that nearer.

    plan : Built; errors : (p,) of the car [turns, rad or m]
    Returns Dangers, hand angles from where the steering stands straight on the drawing; those of the plan where so wrong a front end has no
    range to drive in [deg].
    """
    return _found(plan, errors) or dangers_of(plan.steering)


def danger_errors(fit: BenchFit) -> DangerErrors:
    """How sure the dead centres of a fitted car are.

    fit : BenchFit
    Returns DangerErrors, what the readings leave open in rods, arms and drawn lengths carried through to the hand angle [deg].  Source:
    linear theory of normal errors, the covariance of the fit with central differences.
    """
    plan = fit.plan
    places = [_dead_centres(_found(plan, fit.errors))]
    slopes = np.zeros((len(SIDES), len(fit.errors)))
    for index in np.flatnonzero(plan.spreads):
        step = np.zeros(len(fit.errors))
        step[index] = GRADIENT_STEP * plan.spreads[index]
        up, down = (_dead_centres(_found(plan, fit.errors + way * step)) for way in (1, -1))
        places += [up, down]
        slopes[:, index] = (up - down) / (2 * step[index])
    # What is nowhere in one of these cars has no slope, and so no error.
    there = np.isfinite(np.array(places)).all(axis=0)
    left, right = (sqrt(max(slope @ fit.covariance @ slope, 0.0)) if known else None for slope, known in zip(slopes, there, strict=True))
    return DangerErrors(left, right)


def _found(plan: Built, errors: np.ndarray) -> Dangers | None:
    """The dangers of a car with errors; None where it has no range to drive in."""
    try:
        return dangers_of(with_locks(plan.built(errors), plan.car.wheelbase))
    except (RangeError, UnbuildableError):
        return None


def _dead_centres(dangers: Dangers | None) -> np.ndarray:
    """Dead centre to each side, nan where there is none [deg]."""
    found = (None, None) if dangers is None else (dangers.dead_centre_left_deg, dangers.dead_centre_right_deg)
    return np.array([np.nan if place is None else place for place in found])
