"""The bench fit against cars that were built wrong on purpose: what comes back, how sure it is, what it must not claim."""

from dataclasses import replace

import numpy as np
import pytest

from sim.bench.as_built import (
    ARM_LEFT,
    ARM_RIGHT,
    ERRORS,
    MOST,
    ROD_LEFT,
    ROD_RIGHT,
    ZERO_HAND,
    ZERO_LEFT,
    ZERO_RIGHT,
    Combination,
    make_plan,
)  # fmt: skip
from sim.bench.fit import UNLIKELY, covariance_of, fit_readings, repeated_fits
from sim.bench.misfit import Misfit
from sim.bench.readings import Readings
from sim.errors import InputError
from sim.linkages.catalogue import kinds_with_rods
from sim.scenario.setup import SetupTable

HALF = np.radians(0.5)
NORMAL_95 = 1.959964
C = Combination


@pytest.fixture
def plan_of(car, setup_of):
    """A plan from the keys of a set-up."""
    return lambda keys: make_plan(setup_of(**keys), car, "tried.toml", "setup[0]")


@pytest.fixture
def centre(plan_of):
    return plan_of({
        "linkage": "centre arm", "arm_length_mm": 110.0, "arm_angle_deg": 13.9, "drop_arm_length_mm": 70.0,
        "drop_arm_behind_front_axle_mm": 107.0,
    })  # fmt: skip


@pytest.fixture
def cross(plan_of):
    return plan_of({"linkage": "cross rod", "arm_length_mm": 110.0, "arm_angle_deg": 13.9})


def errors_of(left=0.0, right=0.0, arms_deg=(0.0, 0.0), zeros_deg=(0.0, 0.0, 0.0)):
    """Errors in the order of the fit, from turns and degrees."""
    return np.array([left, right, *np.radians(arms_deg), *np.radians(zeros_deg)])


def measure(plan, errors, count=40, noise=0.0, seed=0, hand=False, stated=None, share=0.75, hands=None):
    """Readings of a car with errors, spread over a share of its lock; noise is one standard deviation [rad]."""
    steering = plan.steering
    hands = np.linspace(share * steering.lock_right, share * steering.lock_left, count) if hands is None else hands
    shown = np.column_stack([plan.built(errors).front_wheels(hands).steer, hands]) + errors[ZERO_LEFT:]
    shown = shown + noise * np.random.default_rng(seed).normal(size=shown.shape)
    error = np.full(len(hands), stated or noise or 1e-8)
    read_hand = shown[:, 2] if hand else np.full(len(hands), np.nan)
    return Readings("floor.csv", shown[:, 0], shown[:, 1], read_hand, error, True, np.arange(len(hands)) + 2)


# Exact readings


@pytest.mark.slow
def test_exact_readings_give_the_errors_back(plan_of, real_keys):
    """T16: 0.01 turn; the arms to 1e-6 rad.  The stated error is 1e-8 rad, so that even weak effects count."""
    plan = plan_of(real_keys)
    one_rod = plan.one_rod
    errors = errors_of(2.5, 0.0 if one_rod else -1.25, (1.2, -0.7))
    fit = fit_readings(plan, measure(plan, errors, share=0.6))
    np.testing.assert_allclose(fit.errors[:2], errors[:2], rtol=0, atol=0.01)
    np.testing.assert_allclose(fit.errors[2:], errors[2:], rtol=0, atol=1e-6)
    assert fit.outliers == []
    assert not fit.at_bound.any()


@pytest.mark.slow
def test_exact_readings_with_the_hand_wheel(centre):
    errors = errors_of(-3.0, 0.5, (2.0, 1.0))
    fit = fit_readings(centre, measure(centre, errors, hand=True))
    np.testing.assert_allclose(fit.errors, errors, rtol=0, atol=1e-6)
    assert fit.names[:4] == [C.BOTH_RODS, C.BOTH_ARMS, C.RODS_APART, C.ARMS_APART]


def test_turns_of_the_scenario_are_the_plan(plan_of):
    """A plan with rods already turned, and toe: only what differs from it is an error."""
    keys = {"linkage": "cross rod", "arm_length_mm": 110.0, "arm_angle_deg": 13.9, "toe_in_deg": 0.5, "rod_turns_left": 1.0}
    plan = plan_of(keys)
    fit = fit_readings(plan, measure(plan, errors_of(0.75)))
    assert fit.errors[ROD_LEFT] == pytest.approx(0.75, rel=0, abs=1e-6)
    built = plan_of(keys | {"rod_turns_left": 1.75}).steering
    hands = np.linspace(-0.3, 0.3, 5)
    np.testing.assert_allclose(plan.built(errors_of(0.75)).front_wheels(hands).steer, built.front_wheels(hands).steer, rtol=0, atol=1e-14)


def test_a_car_built_wrong_is_that_of_the_scenario(plan_of, real_keys):
    """Both arms and both rods alike off are just another set-up."""
    plan = plan_of(real_keys)
    errors = errors_of(1.5, 0.0 if plan.one_rod else -2.0, (0.8, 0.8))
    turned = {"rod_turns_left": 1.5, "rod_turns_right": errors[ROD_RIGHT], "arm_angle_deg": real_keys["arm_angle_deg"] + 0.8}
    other = plan_of(real_keys | turned).steering
    hands = np.linspace(0.5 * plan.steering.lock_right, 0.5 * plan.steering.lock_left, 7)
    np.testing.assert_allclose(plan.built(errors).front_wheels(hands).steer, other.front_wheels(hands).steer, rtol=0, atol=1e-12)


# How sure


def covered(plan, errors, trials, **how):
    """Share of trials in which each value's 95 % interval holds the truth, by name; all trials tell the same names."""
    names: list[str] = []
    hits = np.zeros(0)
    for seed in range(trials):
        fit = fit_readings(plan, measure(plan, errors, noise=HALF, seed=1000 + seed, **how))
        truth = np.linalg.lstsq(fit.basis, errors, rcond=None)[0]
        inside = np.abs(fit.values - truth) <= NORMAL_95 * np.sqrt(np.diag(fit.covariance))
        names, hits = names or fit.names, hits + inside if seed else inside.astype(int)
        assert fit.names == names
    return dict(zip(names, hits / trials, strict=True))


@pytest.mark.slow
@pytest.mark.parametrize("case", ["hand read", "hand not read", "cross rod"])
def test_intervals_cover_the_truth(centre, cross, case):
    """T16: 92 to 98 % of 500 trials."""
    plan, errors, how = {
        "hand read": (centre, errors_of(2.5, -1.0, (1.5, -0.75)), {"hand": True}),
        "hand not read": (centre, errors_of(1.5, 1.5, (1.5, 1.5)), {}),
        "cross rod": (cross, errors_of(1.5, 0.0, (1.5, 0.5)), {}),
    }[case]
    shares = covered(plan, errors, 500, count=30, **how)
    assert all(0.92 <= share <= 0.98 for share in shares.values())


@pytest.mark.slow
def test_bootstrap_agrees_with_the_linear_errors(centre):
    fit = fit_readings(centre, measure(centre, errors_of(1.0, 1.0), count=24, noise=HALF, seed=4, hand=True))
    values = repeated_fits(fit, 80)
    assert values.shape == (80, len(fit.names))
    # A standard deviation from 80 replicates scatters by 8 %; three of these
    np.testing.assert_allclose(values.std(axis=0), np.sqrt(np.diag(fit.covariance)), rtol=0.24, atol=0)
    np.testing.assert_array_equal(values[:3], repeated_fits(fit, 3))


def test_covariance_by_the_normal_equations():
    slopes = np.random.default_rng(2).normal(size=(20, 3)) * [1.0, 30.0, 0.01]
    scale = np.array([1.0, 0.03, 100.0])
    np.testing.assert_allclose(covariance_of(slopes, scale), np.linalg.inv(slopes.T @ slopes), rtol=1e-10, atol=0)
    assert covariance_of(slopes[:, [0, 0]], scale[:2]) is None
    assert covariance_of(slopes[:2], scale) is None


def test_scatter_is_held_against_the_stated_error(centre):
    noises = (HALF, 3 * HALF, HALF / 5)
    right, wild, calm = (fit_readings(centre, measure(centre, errors_of(1.0, 1.0), noise=noise, stated=HALF, seed=5)) for noise in noises)
    assert UNLIKELY < right.chance < 1 - UNLIKELY
    assert wild.chance < UNLIKELY
    assert calm.chance > 1 - UNLIKELY
    assert wild.scatter == pytest.approx(3.0, rel=0.3, abs=0)
    # Widened by the scatter, against the fit of the same pairs that is not
    bench = Misfit(centre, wild.readings, ~np.isin(np.arange(40), wild.outliers))
    slopes = bench.slopes(wild.errors, bench.misses(wild.errors), wild.basis)[bench.kept].reshape(-1, len(wild.names))
    plain = covariance_of(slopes, np.ones(len(wild.names)))
    np.testing.assert_allclose(wild.covariance, plain * wild.scatter**2, rtol=1e-6, atol=0)


# The nearest point


def test_nearest_point_by_brute_force(centre):
    """The hand angle that is eliminated, against the best of a fine grid: another way to the same misfit."""
    errors = errors_of(1.0, -2.0, (1.0, 0.0))
    readings = measure(centre, errors, count=9, noise=np.radians(2.0), seed=8)
    steering = centre.built(errors)
    grid = np.linspace(centre.steering.lock_right, centre.steering.lock_left, 200_001)
    steer = steering.front_wheels(grid).steer
    best = [np.hypot(steer[:, 0] - left, steer[:, 1] - right).min() for left, right in zip(readings.left, readings.right, strict=True)]
    distance = Misfit(centre, readings).misses(errors).distance * readings.error
    np.testing.assert_allclose(distance, best, rtol=0, atol=1e-9)


@pytest.mark.parametrize("hand", [False, True])
def test_slopes_by_differences_of_whole_fits(centre, hand):
    """d(distance^2)/d(error) with the hand angles following, against differences."""
    errors = errors_of(1.0, -2.0, (1.0, 0.5), (0.3, -0.2, 0.4))
    bench = Misfit(centre, measure(centre, errors_of(), count=9, noise=np.radians(1.0), stated=HALF, seed=8, hand=hand))
    misses = bench.misses(errors)
    slopes = bench.slopes(errors, misses, np.eye(ERRORS))
    gradient = 2 * np.einsum("nk,nkp->p", misses.miss, slopes)
    for index in range(ERRORS):
        step = 1e-5 * np.eye(ERRORS)[index]
        up, down = ((bench.misses(errors + change).distance ** 2).sum() for change in (step, -step))
        assert gradient[index] == pytest.approx((up - down) / 2e-5, rel=1e-5, abs=1e-5)


# Outliers


def test_a_slip_in_one_pair_is_flagged_and_left_out(centre):
    errors = errors_of(1.5, 1.5)
    clean = measure(centre, errors, count=30, noise=HALF, seed=11)
    right = clean.right.copy()
    right[7] += np.radians(10)  # a ten misread
    fit = fit_readings(centre, replace(clean, right=right))
    assert fit.outliers == [7]
    assert fit.chance > UNLIKELY
    without = np.arange(30) != 7
    rest = Readings("floor.csv", *(part[without] for part in (clean.left, clean.right, clean.hand, clean.error)), True, clean.line[without])
    np.testing.assert_allclose(fit.errors, fit_readings(centre, rest).errors, rtol=0, atol=1e-7)


def test_two_slips_to_one_side(centre):
    clean = measure(centre, errors_of(1.5, 1.5), count=30, noise=HALF, seed=12)
    left = clean.left.copy()
    left[[0, 29]] += np.radians(8)  # at the ends, where they pull most
    assert fit_readings(centre, replace(clean, left=left)).outliers == [0, 29]


def test_good_readings_are_not_flagged(centre):
    flagged = [len(fit_readings(centre, measure(centre, errors_of(1.0), noise=HALF, seed=seed, count=20)).outliers) for seed in range(20)]
    assert sum(flagged) <= 2  # of 400 pairs; 0.05 % each are expected


# Too little, and what cannot be told apart


def test_one_pair_tells_the_sum_of_the_rods_alone(centre):
    fit = fit_readings(centre, measure(centre, errors_of(1.0, 1.0), count=1, noise=HALF, hands=np.zeros(1)))
    assert fit.names == [C.BOTH_RODS]
    assert fit.spare == 0
    assert np.isnan(fit.chance)
    assert {ROD_LEFT, ROD_RIGHT} <= set(next(group for group in fit.confused if ROD_LEFT in group))


def test_one_coarse_pair_tells_nothing(centre):
    fit = fit_readings(centre, measure(centre, errors_of(), count=1, noise=np.radians(5), hands=np.zeros(1)))
    assert fit.names == []
    assert fit.values.shape == (0,)
    np.testing.assert_array_equal(fit.errors, np.zeros(ERRORS))


@pytest.mark.parametrize("hands", [np.zeros(12), np.full(12, 0.6), np.linspace(0.5, 0.9, 12), np.array([-0.5, 0.0, 0.5])])
def test_equal_readings_one_turn_and_three_points_do_not_tell_the_arms(centre, hands):
    fit = fit_readings(centre, measure(centre, errors_of(1.0, 1.0), noise=HALF, seed=3, hands=hands))
    assert C.BOTH_ARMS in fit.untold
    assert C.RODS_APART in fit.untold
    assert np.all(np.isfinite(fit.covariance))


def test_a_protractors_zero_is_not_told_from_rods_and_arms(centre):
    """On upright kingpins a protractor set askew is the same as an arm and a rod off: the readings see the sum alone."""
    fit = fit_readings(centre, measure(centre, errors_of(), noise=HALF, hand=True, seed=1))
    assert C.ZEROS_APART in fit.untold
    assert [ROD_LEFT, ARM_LEFT, ZERO_LEFT] in [[one for one in group if one in (ROD_LEFT, ARM_LEFT, ZERO_LEFT)] for group in fit.confused]
    # ... and what half a degree of it would do is as said: a fit to readings with it
    askew = fit_readings(centre, measure(centre, errors_of(zeros_deg=(0.5, -0.5, 0.0)), hand=True, stated=HALF))
    effect = fit.unseen_effect[:, fit.untold.index(C.ZEROS_APART)]
    assert askew.names == fit.names
    np.testing.assert_allclose(askew.values, effect, rtol=0.05, atol=0.01)


def test_readings_far_beyond_belief_end_at_a_bound(cross):
    """A cross rod 17 turns off."""
    fit = fit_readings(cross, measure(cross, errors_of(17.0), noise=np.radians(0.1), stated=np.radians(2.0), share=0.4))
    assert fit.at_bound[fit.names.index(C.ROD)]
    assert fit.errors[ROD_LEFT] == pytest.approx(MOST["rod"], rel=2e-3, abs=0)


# The mirror


def mirrored(readings):
    return replace(readings, left=-readings.right, right=-readings.left, hand=-readings.hand)


MIRROR = [ROD_RIGHT, ROD_LEFT, ARM_RIGHT, ARM_LEFT, ZERO_RIGHT, ZERO_LEFT, ZERO_HAND]


@pytest.mark.parametrize("hand", [False, True])
def test_mirrored_readings_give_mirrored_errors(centre, hand):
    readings = measure(centre, errors_of(2.0, -0.5, (1.0, 0.2)), noise=HALF, seed=21, hand=hand)
    here, there = fit_readings(centre, readings), fit_readings(centre, mirrored(readings))
    np.testing.assert_allclose(there.errors[:4], here.errors[MIRROR][:4], rtol=0, atol=1e-7)
    np.testing.assert_allclose(there.errors[4:], -here.errors[MIRROR][4:], rtol=0, atol=1e-7)
    assert there.chi_square == pytest.approx(here.chi_square, rel=1e-8, abs=0)
    assert there.names == here.names


def test_mirrored_readings_of_a_cross_rod(cross):
    readings = measure(cross, errors_of(2.0, 0.0, (1.0, 0.2)), noise=HALF, seed=21, share=0.6)
    here, there = fit_readings(cross, readings), fit_readings(cross, mirrored(readings))
    np.testing.assert_allclose(there.errors[:4], here.errors[[ROD_LEFT, ROD_RIGHT, ARM_RIGHT, ARM_LEFT]], rtol=0, atol=1e-6)


# Set-ups without rods


@pytest.mark.parametrize(
    ("keys", "what"),
    [
        ({"linkage": "parallel"}, 'tried.toml: setup[0].linkage: "tried" has no rods and arms to set: linkage "parallel" is a formula'),
        ({"pivot": "turntable"}, 'tried.toml: setup[0].pivot: "tried" has no rods and arms to set: a turntable axle'),
    ],
)
def test_nothing_to_set(car, keys, what):
    setup = SetupTable(**{"name": "tried", "pivot": "stub axles"} | keys)
    with pytest.raises(InputError) as refusal:
        make_plan(setup, car, "tried.toml", "setup[0]")
    assert str(refusal.value) == f"{what}; choose a set-up with {kinds_with_rods()}"
