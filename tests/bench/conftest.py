"""Plans, and cars built wrong by chance and read by chance, as in the simulation that chose the plan of readings."""

from math import radians
from types import SimpleNamespace

import numpy as np
import pytest

from sim.bench.as_built import (
    ARM_LEFT,
    ARM_RIGHT,
    ERRORS,
    HOME,
    LINE,
    ROD_LEFT,
    ROD_RIGHT,
    TAPE,
    ZERO_HAND,
    ZERO_LEFT,
    ZERO_RIGHT,
    make_plan,
)  # fmt: skip
from sim.bench.design import rim_of
from sim.bench.kinds import DIAL, KINDS
from sim.bench.misfit import Misfit
from sim.bench.readings import made_readings, usual_errors

CENTRE_ARM = {
    "linkage": "centre arm", "arm_length_mm": 110.0, "arm_angle_deg": 13.9, "drop_arm_length_mm": 70.0,
    "drop_arm_behind_front_axle_mm": 107.0, "rod_tube_length_mm": 284.0, "rod_end_eye_length_mm": 27.0, "rod_end_thread_length_mm": 25.0,
}  # fmt: skip
CROSS_ROD = {"linkage": "cross rod", "arm_length_mm": 110.0, "arm_angle_deg": 13.9}
SETTING = radians(0.5)  # how exactly a hand wheel is set to its mark [rad]


def drawn_car(plan, random, rods=None, drawing_mm=0.0):
    """Errors of a car [turns, rad, m], standard deviations of the simulation; rods of 1.5 turns unless given; each drawn length off by two
    to four thirds of drawing_mm."""
    errors = np.zeros(len(plan.spreads))
    errors[[ROD_LEFT, ROD_RIGHT]] = 1.5 * random.normal(size=2) if rods is None else rods
    errors[[ARM_LEFT, ARM_RIGHT]] = radians(1.0) * random.normal(size=2)
    errors[[ZERO_LEFT, ZERO_RIGHT]] = radians(0.25) * random.normal(size=2)
    errors[ZERO_HAND] = radians(1.0) * random.normal()
    lengths = len(errors) - ERRORS
    errors[ERRORS:] = 1e-3 * drawing_mm * random.choice([-1.0, 1.0], lengths) * random.uniform(2 / 3, 4 / 3, lengths)
    errors[[LINE, TAPE]] = 0.0
    # Tube and ends as they were measured, or guessed; of a stream of its own, which leaves all other draws as they were.
    errors[HOME] = plan.spreads[HOME] * random.spawn(1)[0].normal()
    errors[plan.spreads == 0] = 0.0
    return errors


def taken(plan, errors, random, items, usual=None):
    """Readings of a car: each item with how often; noise of the usual errors, the hand wheel set to its mark to half a degree."""
    usual = usual_errors(rim_of(plan)) if usual is None else usual
    steering = plan.built(errors)
    bench = Misfit(plan, made_readings(np.full((1, len(KINDS)), np.nan), usual))
    rows = []
    for item, count in items:
        for _ in range(count):
            set_to = (0.0 if item.hand is None else item.hand) - errors[ZERO_HAND] + SETTING * random.normal()
            set_to = float(np.clip(set_to, steering.lock_right, steering.lock_left))  # what is built may lock before the drawing does
            shown = bench.shown_by(steering, errors, np.array([set_to]))[0] + usual * random.normal(size=len(KINDS))
            for places in [item.places] if KINDS[item.places[0]].turns else [(place,) for place in item.places]:
                row = np.full(len(KINDS), np.nan)
                row[list(places)] = shown[list(places)]
                rows.append(row)
    return made_readings(np.array(rows), usual)


def pairs_read(plan, errors, random, count=40, dial=True, share=0.75):
    """Readings of pairs of wheel angles spread from lock to lock, each good to half a degree."""
    steering, locks = plan.built(errors), (share * plan.steering.lock_right, share * plan.steering.lock_left)
    hands = np.linspace(*locks, count)
    usual = usual_errors(rim_of(plan))
    shown = Misfit(plan, made_readings(np.full((1, len(KINDS)), np.nan), usual)).shown_by(steering, errors, hands)
    value = np.full(shown.shape, np.nan)
    columns = [0, 1, DIAL] if dial else [0, 1]
    value[:, columns] = (shown + usual * random.normal(size=shown.shape))[:, columns]
    return made_readings(value, usual)


def exact(plan, errors, items, error=1e-8):
    """Readings without noise, their errors stated as tiny; the hand wheel stands exactly where it is set."""
    steering, usual = plan.built(errors), usual_errors(rim_of(plan))
    bench = Misfit(plan, made_readings(np.full((1, len(KINDS)), np.nan), usual))
    rows = []
    for item in items:
        mark = plan.whole(np.asarray(errors))[ZERO_HAND]
        shown = bench.shown_by(steering, errors, np.array([(0.0 if item.hand is None else item.hand) - mark]))[0]
        row = np.full(len(KINDS), np.nan)
        row[list(item.places)] = shown[list(item.places)]
        if KINDS[item.places[0]].turns and plan.hand_tells:
            row[DIAL] = shown[DIAL]
        rows.append(row)
    return made_readings(np.array(rows), np.full(len(KINDS), error))


@pytest.fixture(scope="session")
def trial():
    """The functions above."""
    return SimpleNamespace(centre_arm=CENTRE_ARM, cross_rod=CROSS_ROD, drawn_car=drawn_car, taken=taken, pairs_read=pairs_read, exact=exact)


@pytest.fixture
def plan_of(car, setup_of):
    """A plan from the keys of a set-up."""
    return lambda keys: make_plan(setup_of(**keys), car, "tried.toml", "setup[0]")


@pytest.fixture
def centre(plan_of):
    return plan_of(CENTRE_ARM)


@pytest.fixture
def cross(plan_of):
    return plan_of(CROSS_ROD)
