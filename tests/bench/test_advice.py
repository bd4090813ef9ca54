"""What to turn: half turns that mend a car, toe, drag, which part is blamed, and the mirror."""

from dataclasses import replace
from math import degrees

import numpy as np
import pytest

from sim.bench.advice import (
    UNSCREWED,
    Turns,
    advise,
    blame,
    gradients,
    outcome,
    rods_needed,
    rolling_resistance,
    running_straight,
    within,
)  # fmt: skip
from sim.bench.as_built import ARM_LEFT, ERRORS, ROD_LEFT, ROD_RIGHT, ZERO_HAND
from sim.bench.design import items_of
from sim.bench.fit import fit_readings
from sim.bench.readings import pairs_of
from sim.car.chassis import GRAVITY
from sim.errors import InputError
from sim.steering.table import steer_table
from sim.turn.rolling import rolling_turn

HALF = np.radians(0.5)
CENTRE_ARM = {
    "linkage": "centre arm", "arm_length_mm": 110.0, "arm_angle_deg": 13.9, "drop_arm_length_mm": 70.0,
    "drop_arm_behind_front_axle_mm": 107.0,
}  # fmt: skip
CROSS_ROD = {"linkage": "cross rod", "arm_length_mm": 110.0, "arm_angle_deg": 13.9}


@pytest.fixture
def metric(car):
    """The car in SI units."""
    return car.car(1.225)


def errors_of(left=0.0, right=0.0, arms_deg=(0.0, 0.0)):
    return np.array([left, right, *np.radians(arms_deg), 0.0, 0.0, 0.0, 0.0, 0.0])


def pairs_at(plan, errors, hands, noise=HALF, seed=0, hand=False):
    shown = np.column_stack([plan.built(errors).front_wheels(hands).steer, hands])
    shown = shown + noise * np.random.default_rng(seed).normal(size=shown.shape)
    return pairs_of(shown[:, 0], shown[:, 1], shown[:, 2] if hand else None, noise, "floor.csv")


@pytest.fixture
def exact(trial):
    """The fit of everything that can be read, with errors of a hundredth of the usual."""
    return lambda plan, errors: fit_readings(plan, trial.exact(plan, plan.whole(errors), items_of(plan), error=1e-5))


# Which turns


@pytest.mark.compiled
@pytest.mark.parametrize(
    ("left", "right", "turns"),
    [
        pytest.param(2.0, -1.5, Turns(-2.0, 1.5, 0.0), marks=pytest.mark.slow),
        (0.1, -0.1, Turns(0.0, 0.0, 0.0)),
        (0.5, 0.0, Turns(-0.5, 0.0, 0.0)),
    ],
)
def test_turns_of_each_rod_to_the_nearest_half(centre, metric, exact, left, right, turns):
    """The toe depends on the sum; where everything was read each rod is told."""
    advice = advise(exact(centre, errors_of(left, right)), metric)
    assert advice.turns == turns
    assert advice.apart_told
    assert advice.near > 0.99
    np.testing.assert_allclose(advice.needed, [-left, -right], rtol=0, atol=0.02)
    drawn = np.array([rod.length for rod in centre.steering.mechanism.rods])
    np.testing.assert_allclose(advice.lengths, drawn + 1.25e-3 * (np.array([left, right]) + turns.shared()), rtol=0, atol=3e-5)


def test_what_a_rod_needs_cures_a_bent_arm_too(centre, metric, exact):
    """Both wheels straight ahead with the hand wheel at its mark, whatever is off."""
    errors = centre.whole(errors_of(0.4, -0.3, (1.0, -0.6)))
    errors[ZERO_HAND] = np.radians(2.0)
    errors[ERRORS:] = 1e-3
    mended = errors.copy()
    mended[[ROD_LEFT, ROD_RIGHT]] += rods_needed(centre, errors)
    at_mark = centre.built(mended).front_wheels(np.array([-np.radians(2.0)])).steer[0]
    np.testing.assert_allclose(at_mark, 0.0, rtol=0, atol=1e-10)
    assert running_straight(centre, mended)[1] == pytest.approx(0.0, rel=0, abs=1e-10)


@pytest.mark.compiled
def test_equal_rods_leave_the_odd_half_to_the_builder(centre, metric):
    """1.25 turns each without the hand wheel: 2.5 in all, of which the readings place none."""
    fit = fit_readings(centre, pairs_at(centre, errors_of(1.25, 1.25), np.linspace(-0.9, 0.9, 30), noise=np.radians(0.3), seed=2))
    advice = advise(fit, metric)
    assert not advice.apart_told
    assert advice.turns == Turns(-1.0, -1.0, -0.5)
    assert advice.turns.shared() == (-1.25, -1.25)


@pytest.mark.compiled
def test_a_cross_rod(cross, metric, exact):
    advice = advise(exact(cross, errors_of(2.1)), metric)
    assert advice.turns == Turns(-2.0, 0.0, 0.0)
    assert advice.longer == pytest.approx([0.1], rel=0, abs=2e-2)
    mended = cross.whole(errors_of(2.1))
    mended[ROD_LEFT] += rods_needed(cross, mended)[0]
    assert running_straight(cross, mended)[1] == pytest.approx(0.0, rel=0, abs=1e-9)


@pytest.mark.compiled
def test_longer_than_drawn_counts_the_kink_too(centre, metric, exact):
    """Arms kinked 3 degrees less want longer rods for the same toe."""
    advice = advise(exact(centre, errors_of(0.0, 0.0, (-3.0, -3.0))), metric)
    assert min(advice.longer) > UNSCREWED


@pytest.mark.compiled
def test_gradients_by_whole_differences(centre):
    """Toe and turns needed over a tenth of each spread to both sides, where lines are still straight."""
    toe, needed = gradients(centre, np.zeros(len(centre.spreads)))
    for place in np.flatnonzero(centre.spreads):
        step = np.zeros(len(centre.spreads))
        step[place] = 0.1 * centre.spreads[place]
        up, down = centre.whole(step), -step
        toes = (running_straight(centre, up)[1] - running_straight(centre, down)[1]) / 2
        turns = (rods_needed(centre, up) - rods_needed(centre, down)) / 2
        assert toe[place] * step[place] == pytest.approx(toes, rel=1e-3, abs=1e-8)
        np.testing.assert_allclose(needed[:, place] * step[place], turns, rtol=1e-3, atol=1e-7)


def test_probabilities_by_drawing():
    covariance = np.array([[0.09, 0.03], [0.03, 0.16]])
    drawn = np.random.default_rng(1).multivariate_normal([0.1, -0.2], covariance, size=200_000)
    share = (np.abs(drawn) < 0.5).all(axis=1).mean()
    assert within(0.5, covariance, np.array([0.1, -0.2])) == pytest.approx(share, rel=0, abs=0.004)
    told = blame("left rod", ROD_LEFT, "rod", 0.7, 0.2)
    above = (0.7 + 0.2 * np.random.default_rng(2).normal(size=200_000) > 0.25).mean()
    assert told.probability == pytest.approx(above, rel=0, abs=0.002)
    assert told.told
    assert not blame("left rod", ROD_LEFT, "rod", 9.0, 2.0).told  # far off, but nobody knows it well enough
    assert not blame("left arm", ARM_LEFT, "arm", np.radians(0.6), np.radians(0.2)).told


# Toe


def test_toe_as_planned(plan_of, metric):
    for keys in (CENTRE_ARM, CROSS_ROD):
        plan = plan_of(keys | {"toe_in_deg": 0.6})
        hand, toe_in = running_straight(plan, np.zeros(ERRORS))
        assert toe_in == pytest.approx(np.radians(0.6), rel=0, abs=1e-4)
        # A cross rod's hand angle is the left wheel's own swing, so it runs straight at its toe.
        assert hand == pytest.approx(-np.radians(0.6) if plan.one_rod else 0.0, rel=0, abs=1e-4)


def test_a_rod_a_turn_longer_toes_by_pitch_over_arm(centre):
    """Rods behind the axle push the arms' ends outwards: the wheels toe in, pitch / (arm cos kink) each."""
    each = 1.25 / (110 * np.cos(np.radians(13.9)))
    assert running_straight(centre, errors_of(1.0, 1.0))[1] == pytest.approx(each, rel=0.02, abs=0)
    assert running_straight(centre, errors_of(1.0, 0.0))[1] == pytest.approx(each / 2, rel=0.02, abs=0)


@pytest.mark.slow
def test_toe_error_by_measuring_again(centre, metric, trial):
    """The stated standard error against the scatter of 40 fits; a standard deviation from 40 scatters by 11 %, here three of these."""
    items = [(item, item.least) for item in items_of(centre)]
    errors = centre.whole(errors_of(1.0, 1.0))
    fits = [fit_readings(centre, trial.taken(centre, errors, np.random.default_rng(seed), items)) for seed in range(40)]
    toes = [running_straight(centre, fit.errors)[1] for fit in fits]
    assert advise(fits[0], metric).toe_error == pytest.approx(np.std(toes), rel=0.35, abs=0)


def test_a_car_far_off_is_refused(centre):
    with pytest.raises(InputError, match="would run straight only with"):
        running_straight(centre, errors_of(-60.0, 60.0))


# Drag and the curve


def test_drag_of_toe_in_small_angles(centre, metric):
    """2 C toe^2 (E2 of the published values), C = c N of a front wheel."""
    now = outcome(centre, errors_of(1.0, 1.0), metric)
    front = metric.mass * GRAVITY * (1 - metric.front_arm / metric.wheelbase)
    assert now.drag == pytest.approx(metric.front_tyre.cornering_stiffness * front * now.toe_in**2, rel=2e-3, abs=0)
    assert outcome(centre, errors_of(), metric).drag == pytest.approx(0.0, rel=0, abs=1e-9)


def test_drag_is_that_of_the_set_up(centre, plan_of, metric):
    """The car with wrong rods against a scenario that says so."""
    steering = plan_of(CENTRE_ARM | {"rod_turns_left": 1.0, "rod_turns_right": 2.0}).steering
    direct = rolling_turn(metric, steer_table(steering, metric.wheelbase), 0.0).scrub
    assert outcome(centre, errors_of(1.0, 2.0), metric).drag == pytest.approx(direct, rel=1e-5, abs=0)


def test_rolling_resistance(metric):
    assert rolling_resistance(metric) == pytest.approx(0.008 * 145 * GRAVITY, rel=1e-12, abs=0)


def test_miss_is_toe_and_then_the_kink(centre, metric):
    toe = outcome(centre, errors_of(1.0, 1.0), metric)
    kinked = errors_of(0.0, 0.0, (2.0, 2.0))
    kinked[[ROD_LEFT, ROD_RIGHT]] += rods_needed(centre, kinked)
    kink = outcome(centre, kinked, metric)
    assert outcome(centre, errors_of(), metric).miss == pytest.approx(0.0, rel=0, abs=1e-12)
    assert toe.miss >= 2 * toe.toe_in * 0.99  # in the middle the wheels differ by twice the toe of each
    assert kink.toe_in == pytest.approx(0.0, rel=0, abs=1e-6)
    assert kink.miss > np.radians(0.5)


# The mirror


@pytest.mark.compiled
def test_mirrored_readings_give_mirrored_advice(centre, metric):
    hands = np.linspace(-0.9, 0.9, 30)
    readings = pairs_at(centre, errors_of(2.3, -0.6, (1.0, 0.2)), hands, HALF, 5, hand=True)
    left, right, dial = readings.value[:, :3].T
    mirrored = pairs_of(-right, -left, -dial, HALF, "floor.csv")
    here, there = (advise(fit_readings(centre, one), metric) for one in (readings, mirrored))
    assert (there.turns.left, there.turns.right, there.turns.either) == (here.turns.right, here.turns.left, here.turns.either)
    np.testing.assert_allclose(there.needed, here.needed[::-1], rtol=0, atol=1e-5)
    for state in ("now", "after"):
        assert getattr(there, state).toe_in == pytest.approx(getattr(here, state).toe_in, rel=0, abs=1e-7)
        assert getattr(there, state).hand == pytest.approx(-getattr(here, state).hand, rel=0, abs=1e-6)
        assert getattr(there, state).drag == pytest.approx(getattr(here, state).drag, rel=1e-5, abs=1e-8)
        assert getattr(there, state).miss == pytest.approx(getattr(here, state).miss, rel=1e-5, abs=1e-8)
    np.testing.assert_allclose(there.lengths, here.lengths[::-1], rtol=0, atol=1e-7)
    assert degrees(here.toe_error) == pytest.approx(degrees(there.toe_error), rel=1e-5, abs=0)


# The hand wheel's mark, and rods that serve


@pytest.mark.compiled
@pytest.mark.parametrize("mark_deg", [3.0, -3.0])
def test_a_mark_that_is_off_is_moved_and_no_rod_is_turned(centre, metric, exact, mark_deg):
    """Unequal turns would take it up too, and would leave the rods unlike for ever."""
    errors = centre.whole(errors_of())
    errors[ZERO_HAND] = np.radians(mark_deg)
    advice = advise(exact(centre, errors), metric)
    assert degrees(advice.mark) == pytest.approx(mark_deg, abs=0.1)
    assert advice.turns == Turns(0.0, 0.0, 0.0)
    assert not any(part.told for part in advice.parts)
    assert advice.changed[ZERO_HAND] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.compiled
def test_turns_are_those_that_are_left_once_the_mark_is_moved(centre, metric, exact):
    errors = centre.whole(errors_of(1.0))
    errors[ZERO_HAND] = np.radians(-3.0)
    advice = advise(exact(centre, errors), metric)
    assert degrees(advice.mark) == pytest.approx(-3.0, abs=0.1)
    assert advice.turns == Turns(-1.0, 0.0, 0.0)
    assert [part.part for part in advice.parts if part.told] == ["left rod"]


@pytest.mark.compiled
def test_a_mark_that_is_hardly_off_stays(centre, metric, exact):
    errors = centre.whole(errors_of())
    errors[ZERO_HAND] = np.radians(0.4)
    assert advise(exact(centre, errors), metric).mark == 0.0


@pytest.fixture
def likely_off(centre, exact):
    """A fit that knows what the rods need, and the mark to half a degree: rods that are off by as much show the same."""

    def made(rods, mark_deg):
        errors = centre.whole(errors_of(*rods))
        errors[ZERO_HAND] = np.radians(mark_deg)
        alike = np.zeros(len(errors))
        alike[ZERO_HAND] = np.radians(0.5)
        alike[[ROD_LEFT, ROD_RIGHT]] = gradients(centre, errors)[1][:, ZERO_HAND] * alike[ZERO_HAND]
        covariance = np.outer(alike, alike) + np.diag((0.02 * centre.spreads) ** 2)
        return replace(exact(centre, errors_of()), errors=errors, covariance=covariance)

    return made


@pytest.mark.compiled
def test_a_mark_that_is_likely_off_is_moved_where_that_spares_the_rods(metric, likely_off):
    """Right rod 1.5 turns long, mark 1.2 +- 0.5 degrees off: nobody turns the left rod for the mark."""
    advice = advise(likely_off((0.0, 1.5), 1.2), metric)
    assert degrees(advice.mark) == pytest.approx(1.2, rel=1e-9)
    assert advice.turns == Turns(0.0, -1.5, 0.0)
    assert advise(likely_off((0.0, 1.5), 0.8), metric).mark == 0.0  # too unlikely


@pytest.mark.compiled
def test_a_mark_that_is_likely_off_stays_where_the_car_runs_straight_at_it(centre, metric, likely_off):
    """Unlike rods that fit an askew mark: to move it would mean to turn both."""
    suits = rods_needed(centre, likely_off((0.0, 0.0), 1.2).errors)
    assert np.abs(suits).min() > 0.5
    advice = advise(likely_off(suits, 1.2), metric)
    assert advice.mark == 0.0
    assert advice.turns == Turns(0.0, 0.0, 0.0)


@pytest.mark.compiled
def test_rods_that_the_car_needs_as_they_are_are_not_blamed(centre, metric, exact):
    """Rods that were turned for an arm's kink differ from the drawing, and that is right."""
    bent = centre.whole(errors_of(arms_deg=(1.5, 0.0)))
    cured = bent.copy()
    cured[[ROD_LEFT, ROD_RIGHT]] += np.array(advise(exact(centre, bent), metric).turns.shared())
    assert abs(cured[ROD_LEFT]) >= 1.0
    advice = advise(exact(centre, cured), metric)
    assert advice.turns == Turns(0.0, 0.0, 0.0)
    rod = next(part for part in advice.parts if part.part == "left rod")
    assert (rod.known, rod.probability > 0.99, rod.serves, rod.told) == (True, True, True, False)
