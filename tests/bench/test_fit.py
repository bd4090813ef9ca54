"""The bench fit against cars that were built wrong on purpose: what comes back, how sure it is, what it must not claim."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import chi2, norm

from sim.bench.as_built import (
    ARM_LEFT,
    ARM_RIGHT,
    ERRORS,
    LINE,
    ROD_LEFT,
    ROD_RIGHT,
    SPREADS,
    TAPE,
    ZERO_HAND,
    ZERO_LEFT,
    ZERO_RIGHT,
    make_plan,
)  # fmt: skip
from sim.bench.design import items_of
from sim.bench.fit import OUTLIER, UNLIKELY, covariance_of, fit_readings, repeated_fits
from sim.bench.fit import _equivalents as equivalents
from sim.bench.kinds import KINDS, place_of
from sim.bench.misfit import Misfit
from sim.bench.readings import made_readings, pairs_of, usual_errors
from sim.errors import InputError
from sim.linkages.catalogue import kinds_with_rods
from sim.scenario.setup import SetupTable

HALF = np.radians(0.5)


def errors_of(left=0.0, right=0.0, arms_deg=(0.0, 0.0), zeros_deg=(0.0, 0.0, 0.0)):
    """Errors in the order of the fit, from turns and degrees."""
    return np.array([left, right, *np.radians(arms_deg), *np.radians(zeros_deg), 0.0, 0.0])


def measure(plan, errors, count=40, noise=0.0, seed=0, hand=False, stated=None, share=0.75, hands=None):
    """Pairs of a car with errors, spread over a share of its lock; noise is one standard deviation [rad]."""
    steering = plan.steering
    hands = np.linspace(share * steering.lock_right, share * steering.lock_left, count) if hands is None else hands
    shown = np.column_stack([plan.built(errors).front_wheels(hands).steer, hands]) + errors[[ZERO_LEFT, ZERO_RIGHT, ZERO_HAND]]
    shown = shown + noise * np.random.default_rng(seed).normal(size=shown.shape)
    return pairs_of(shown[:, 0], shown[:, 1], shown[:, 2] if hand else None, stated or noise or 1e-8, "floor.csv")


@pytest.mark.parametrize(("distance", "pull", "spare"), [(2.0, 0.75, 1), (1.5, 0.0, 1), (2.5, 0.5, 2), (1.2, 0.9, 3), (3.0, 2.0, 2)])
def test_a_distance_counts_as_one_of_a_single_reading_with_the_same_chance(distance, pull, spare):
    """A row that decides a share of its readings itself hides as much of its own error, at most nine tenths (common practice in
    regression, from memory); SciPy's distributions."""
    (found,) = equivalents(np.array([distance]), np.array([pull]), np.array([spare]))
    seen = distance / np.sqrt(max(1 - pull / spare, 0.1))
    assert 2 * norm.sf(found) == pytest.approx(chi2.sf(seen**2, spare), rel=1e-9, abs=0)


# The car as built


def test_turns_of_the_scenario_are_the_plan(plan_of):
    """A plan with rods already turned, and toe: only what differs from it is an error."""
    keys = {"linkage": "cross rod", "arm_length_mm": 110.0, "arm_angle_deg": 13.9, "toe_in_deg": 0.5, "rod_turns_left": 1.0}
    plan = plan_of(keys)
    built = plan_of(keys | {"rod_turns_left": 1.75}).steering
    hands = np.linspace(-0.3, 0.3, 5)
    np.testing.assert_allclose(plan.built(errors_of(0.75)).front_wheels(hands).steer, built.front_wheels(hands).steer, rtol=0, atol=1e-14)


def test_rods_are_as_long_as_they_are_whatever_the_arms(plan_of, real_keys):
    """An arm that is bent, a drawing that is off: no rod gets longer by it, only by its turns."""
    plan = plan_of(real_keys)
    errors = np.zeros(len(plan.spreads))
    errors[[ROD_LEFT, ARM_LEFT, ARM_RIGHT]] = 1.5, 0.03, -0.02
    errors[ERRORS:] = 1e-3 * np.random.default_rng(1).normal(size=len(errors) - ERRORS)
    lengths = list(plan.mechanism(errors).rod_lengths.values())
    wanted = np.array(list(plan.steering.mechanism.rod_lengths.values())) + 1.25e-3 * errors[[ROD_LEFT, ROD_RIGHT]][: len(lengths)]
    np.testing.assert_allclose(lengths, wanted, rtol=0, atol=1e-12)


def test_a_bent_arm_toes_its_wheel_by_what_it_is_bent(centre):
    """With the rod as long as before a bent arm turns its wheel by just as much, as the simulation of the plan says."""
    left, right = np.degrees(centre.built(errors_of(arms_deg=(1.0, 0.0))).front_wheels(np.zeros(1)).steer[0])
    assert abs(left) == pytest.approx(1.0, rel=0.1, abs=0)
    assert right == pytest.approx(0.0, rel=0, abs=1e-9)


def test_a_drawing_that_is_off_is_another_drawing(plan_of, real_keys):
    """Arms, kingpins and own lengths with errors, against a scenario that was drawn so; the rods made to fit there."""
    plan = plan_of(real_keys)
    errors = np.zeros(len(plan.spreads))
    errors[ERRORS : ERRORS + 2] = 2e-3
    changed = {"arm_length_mm": real_keys["arm_length_mm"] + 2.0}
    own = [name for name in ("drop_arm_length_mm", "rack_length_mm") if name in real_keys]
    for name in own:
        place = next(place for place, one in enumerate(plan.unknowns) if name.removesuffix("_mm").replace("_", " ") == one.name)
        errors[place] = -1.5e-3
        changed[name] = real_keys[name] - 1.5
    other = plan_of(real_keys | changed)
    errors[[ROD_LEFT, ROD_RIGHT][: len(plan.rod_lengths)]] = (other.rod_lengths - plan.rod_lengths) / plan.pitch
    hands = np.linspace(0.5 * plan.steering.lock_right, 0.5 * plan.steering.lock_left, 7)
    np.testing.assert_allclose(plan.built(errors).front_wheels(hands).steer, other.steering.front_wheels(hands).steer, rtol=0, atol=1e-12)


# What cars show


def test_strings_and_tape_by_points_on_the_rims(centre):
    """Places on both rims in the plane of the floor, front and rear at hub height; distances to straight strings and between the rims."""
    errors = errors_of(1.5, -0.7, (1.0, 0.3))
    steering = centre.built(errors)
    wheels = steering.front_wheels(np.zeros(1))
    rim, heading = 0.4, wheels.steer[0]
    middle = np.stack([wheels.x[0], wheels.y[0]], axis=1)
    along = 0.5 * rim * np.stack([np.cos(heading), np.sin(heading)], axis=1)
    front, rear = middle + along, middle - along
    string = 0.6  # left and right of the middle of the car
    cells = {
        "string_left_front_mm": string - front[0, 1], "string_left_rear_mm": string - rear[0, 1],
        "string_right_front_mm": string + front[1, 1], "string_right_rear_mm": string + rear[1, 1],
        "toe_front_mm": front[0, 1] - front[1, 1], "toe_rear_mm": rear[0, 1] - rear[1, 1],
    }  # fmt: skip
    cells = {name: 1e3 * length for name, length in cells.items()}
    shown = Misfit(centre, measure(centre, errors, count=1)).shown_by(steering, errors, np.zeros(1))[0]
    for column in ("string_left_front_mm", "string_right_front_mm", "toe_front_mm"):
        place = place_of(column)
        assert shown[place] == pytest.approx(KINDS[place].value(cells, rim), rel=0, abs=1e-12)
    assert shown[place_of("rod_left_mm")] == pytest.approx(centre.rod_lengths[0] + 1.5 * 1.25e-3, rel=0, abs=1e-15)
    # Out from fully home, where the rod is 284 mm of tube and two ends of 27 mm.
    home = (centre.rod_lengths[1] - (284 + 2 * 27) * 1e-3) / 1.25e-3
    assert shown[place_of("threads_right")] == pytest.approx(home - 0.7, rel=0, abs=1e-9)


# Exact readings


@pytest.mark.target("T16", what="Bench fit: made readings give the turns of the rod ends back", asked="0.01 turn")
@pytest.mark.slow
def test_exact_readings_give_the_errors_back(plan_of, real_keys, trial, within_target):
    """T16: 0.01 turn; all that is told of toe and turns.  Everything is read, with an error of 1e-6."""
    plan = plan_of(real_keys)
    errors = plan.whole(errors_of(2.5, 0.0 if plan.one_rod else -1.25, (1.2, -0.7)))
    fit = fit_readings(plan, trial.exact(plan, errors, items_of(plan), error=1e-6))
    np.testing.assert_allclose(fit.errors[:2], errors[:2], rtol=0, atol=0.01 * 0.5)
    within_target(np.abs(fit.errors[:2] - errors[:2]), at_most=0.01)
    hands = np.linspace(0.5 * plan.steering.lock_right, 0.5 * plan.steering.lock_left, 9)
    made, true = (plan.built(one).front_wheels(hands).steer for one in (fit.errors, errors))
    # Left out of account: an askew protractor, which what is read tells only together with the wheel's own angle.
    np.testing.assert_allclose(made, true, rtol=0, atol=np.radians(0.1))
    assert fit.outliers == ()


def test_exact_angles_alone_do_not_tell_a_rod_from_an_arm(centre):
    """A turn moves a wheel by 0.67 degrees and a bent arm does the same."""
    fit = fit_readings(centre, measure(centre, errors_of(2.0, 0.0), noise=HALF, hand=True, seed=2))
    assert fit.sure[ROD_LEFT] > 0.5
    correlation = fit.covariance[ROD_LEFT, ARM_LEFT] / (fit.sure[ROD_LEFT] * fit.sure[ARM_LEFT])
    assert abs(correlation) > 0.6


# How sure


def test_covariance_by_solving_a_linear_case():
    """(A'A + S^-2)^-1 written out."""
    a = np.random.default_rng(4).normal(size=(12, 3))
    spreads = np.array([2.0, 0.5, 1.0])
    np.testing.assert_allclose(covariance_of(a, spreads), np.linalg.inv(a.T @ a + np.diag(spreads**-2)), rtol=1e-12, atol=1e-15)
    # What does not exist is known.
    assert covariance_of(a, np.array([2.0, 0.0, 1.0]))[1] == pytest.approx(np.zeros(3), rel=0, abs=0)


def test_nothing_read_leaves_what_was_usual(centre):
    """One coarse pair: every error keeps its spread, and nothing is found."""
    fit = fit_readings(centre, measure(centre, errors_of(), count=1, noise=np.radians(10), hands=np.zeros(1), seed=4))
    there = centre.spreads > 0
    np.testing.assert_allclose(fit.sure[there], centre.spreads[there], rtol=0.12, atol=0)
    assert np.abs(fit.errors[there] / centre.spreads[there]).max() < 0.5


@pytest.mark.slow
def test_intervals_by_repeated_fits(centre, trial):
    """Readings and middles of the priors drawn anew: the scatter is the stated covariance; 200 draws scatter by 5 %, here four of these."""
    random = np.random.default_rng(8)
    errors = trial.drawn_car(centre, random)
    items = [(item, item.least) for item in items_of(centre)]
    fit = fit_readings(centre, trial.taken(centre, errors, random, items))
    scatter = repeated_fits(fit).std(axis=0)
    np.testing.assert_allclose(scatter[centre.spreads > 0], fit.sure[centre.spreads > 0], rtol=0.2, atol=0)


def test_repeats_count_as_repeats(centre):
    """Four readings of a thing are as one with half the error."""
    errors = errors_of(0.5, 0.5)
    one = fit_readings(centre, measure(centre, errors, hands=np.zeros(1), stated=HALF / 2))
    four = fit_readings(centre, measure(centre, errors, hands=np.zeros(4), stated=HALF))
    np.testing.assert_allclose(four.sure, one.sure, rtol=1e-6, atol=0)
    np.testing.assert_allclose(four.errors, one.errors, rtol=0, atol=1e-7)


@pytest.mark.compiled
def test_scatter_beyond_what_was_stated_widens_the_errors(centre):
    fit = fit_readings(centre, measure(centre, errors_of(1.0, 1.0), noise=np.radians(1.5), stated=HALF, seed=6))
    assert fit.chance < UNLIKELY
    assert fit.widened == pytest.approx(3.0, rel=0.25, abs=0)
    honest = fit_readings(centre, measure(centre, errors_of(1.0, 1.0), noise=np.radians(1.5), seed=6))
    assert honest.widened == 1.0
    assert fit.sure[ROD_LEFT] == pytest.approx(honest.sure[ROD_LEFT], rel=0.1, abs=0)


def test_readings_that_agree_too_well_are_not_widened_nor_blamed(centre):
    """Readings to the nearest half degree scatter by 0.14 degrees, less than the usual error; that is honest."""
    exact = measure(centre, errors_of(1.0, 1.0), stated=HALF)
    fit = fit_readings(centre, replace(exact, value=np.round(exact.value / HALF) * HALF))
    assert fit.chance > 1 - UNLIKELY
    assert fit.widened == 1.0


def test_the_hand_wheel_at_its_mark_counts_like_a_dial(centre, trial):
    """A string read at the mark, against the same rows with a dial that shows 0 to half a degree."""
    item = items_of(centre)[0]
    marked = trial.taken(centre, np.zeros(len(centre.spreads)), np.random.default_rng(3), [(item, 3)])
    value, error = marked.value.copy(), marked.error.copy()
    value[:, 2], error[:, 2] = 0.0, HALF
    here, there = fit_readings(centre, marked), fit_readings(centre, replace(marked, value=value, error=error))
    np.testing.assert_allclose(here.errors, there.errors, rtol=0, atol=1e-9)
    np.testing.assert_allclose(here.sure, there.sure, rtol=1e-9, atol=1e-12)


def test_what_each_unknown_is_felt_by(centre, trial):
    """Strings askew leave the toe alone and look like both rods apart; a long tape looks like both rods longer."""
    zero = np.zeros(len(centre.spreads))
    for place, off in ((LINE, np.radians(0.1)), (TAPE, 0.2e-3)):
        errors = zero.copy()
        errors[place] = off
        items = [item for item in items_of(centre) if item.name.startswith(("string", "both", "threads"))]
        fit = fit_readings(centre, trial.exact(centre, errors, items, error=1e-3))
        assert fit.errors[place] * off > 0
    assert SPREADS["string"] == pytest.approx(np.radians(0.1), rel=1e-12, abs=0)


# The nearest point of a car


@pytest.mark.parametrize(("hand", "rod"), [(False, False), (True, False), (True, True)])
def test_nearest_point_by_a_fine_scan(centre, hand, rod):
    """Each row by itself, also beside a rod's length, which no hand angle moves."""
    errors = errors_of(1.0, -2.0, (1.0, 0.5), (0.3, -0.2, 0.4))
    readings = measure(centre, errors_of(), count=7, noise=np.radians(1.0), stated=HALF, seed=8, hand=hand)
    if rod:
        length = np.full((1, len(KINDS)), np.nan)
        length[0, place_of("rod_left_mm")] = 0.34
        readings = made_readings(np.vstack([readings.value, length]), np.vstack([readings.error, usual_errors(0.3)[None]]))
    bench = Misfit(centre, readings)
    misses = bench.misses(errors)
    low, high = centre.hand_range
    grid = np.linspace(low, high, 40_001)
    shown = bench.shown_by(centre.built(errors), errors, grid)
    best = [np.sqrt((((shown - row) * weight) ** 2).sum(axis=1).min()) for row, weight in zip(bench.read, bench.weight, strict=True)]
    # The scan passes the nearest point at up to 4e-5 rad, a hundredth of an error.
    np.testing.assert_allclose(misses.distance, best, rtol=0, atol=2e-5)
    assert np.all(misses.distance <= np.array(best) + 1e-12)


def test_few_steps_find_the_nearest_points_of_readings_near_the_curve(centre, monkeypatch):
    """Gauss-Newton's steps settle as fast as Newton's where the misses are small; a car is built and asked over and over in a fit."""
    bench, asked = Misfit(centre, measure(centre, errors_of(), count=9, noise=np.radians(0.2), stated=HALF, seed=8)), []
    shown_by = bench.shown_by
    monkeypatch.setattr(bench, "shown_by", lambda *words: asked.append(1) or shown_by(*words))
    bench.misses(centre.whole(errors_of(0.5)))
    assert len(asked) <= 10


@pytest.mark.parametrize("hand", [False, True])
def test_slopes_by_differences_of_whole_fits(centre, hand):
    """d(distance^2)/d(error) with the hand angles following, against differences."""
    errors = centre.whole(errors_of(1.0, -2.0, (1.0, 0.5), (0.3, -0.2, 0.4)))
    bench = Misfit(centre, measure(centre, errors_of(), count=9, noise=np.radians(1.0), stated=HALF, seed=8, hand=hand))
    misses = bench.misses(errors)
    slopes = bench.slopes(errors)
    gradient = 2 * np.einsum("nk,nkp->p", misses.miss, slopes)
    for index in bench.free:
        step = np.zeros(len(errors))
        step[index] = 1e-4 * centre.spreads[index]
        up, down = ((bench.misses(errors + change).distance ** 2).sum() for change in (step, -step))
        size = 1 / centre.spreads[index]
        assert gradient[index] / size == pytest.approx((up - down) / (2 * step[index] * size), rel=1e-5, abs=1e-5)


# Outliers


@pytest.mark.compiled
def test_a_slip_in_one_pair_is_flagged_and_left_out(centre):
    clean = measure(centre, errors_of(1.5, 1.5), count=30, noise=HALF, seed=11)
    value = clean.value.copy()
    value[7, 1] += np.radians(10)  # a ten misread
    fit = fit_readings(centre, replace(clean, value=value))
    assert fit.outliers == (7,)
    assert fit.equivalent[7] > OUTLIER
    assert fit.chance > UNLIKELY
    without = np.arange(30) != 7
    rest = pairs_of(clean.value[without, 0], clean.value[without, 1], None, HALF, "floor.csv")
    np.testing.assert_allclose(fit.errors, fit_readings(centre, rest).errors, rtol=0, atol=1e-5)


def test_a_slip_of_the_tape_is_flagged(centre, trial):
    """One of four measurings of a rod is 10 mm off."""
    rods = next(item for item in items_of(centre) if item.name == "both rods")
    threads = next(item for item in items_of(centre) if item.name == "threads")
    readings = trial.taken(centre, np.zeros(len(centre.spreads)), np.random.default_rng(5), [(rods, 4), (threads, 1)])
    readings.value[2, place_of("rod_left_mm")] += 0.010
    fit = fit_readings(centre, readings)
    assert fit.outliers == (2,)
    assert abs(fit.errors[ROD_LEFT]) < 4 * fit.sure[ROD_LEFT]


@pytest.mark.slow
def test_good_readings_are_not_flagged(centre):
    flagged = [len(fit_readings(centre, measure(centre, errors_of(1.0), noise=HALF, seed=seed, count=20)).outliers) for seed in range(20)]
    assert sum(flagged) <= 2  # of 400 pairs; 0.05 % each are expected


# The mirror

MIRROR = [ROD_RIGHT, ROD_LEFT, ARM_RIGHT, ARM_LEFT, ZERO_RIGHT, ZERO_LEFT, ZERO_HAND]


@pytest.mark.compiled
@pytest.mark.parametrize("hand", [False, True])
def test_mirrored_readings_give_mirrored_errors(centre, hand):
    readings = measure(centre, errors_of(2.0, -0.5, (1.0, 0.2)), noise=HALF, seed=21, hand=hand)
    left, right, dial = readings.value[:, :3].T
    there = fit_readings(centre, pairs_of(-right, -left, -dial if hand else None, HALF, "floor.csv"))
    here = fit_readings(centre, readings)
    # Where the readings tell little the solver may end at 1e-6 of a turn.
    np.testing.assert_allclose(there.errors[:4], here.errors[MIRROR][:4], rtol=0, atol=1e-5)
    np.testing.assert_allclose(there.errors[4:7], -here.errors[MIRROR][4:], rtol=0, atol=1e-6)
    assert there.chi_square == pytest.approx(here.chi_square, rel=1e-8, abs=0)


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


def test_threads_tell_lengths_where_the_parts_were_measured_and_else_how_rods_differ(plan_of, centre, trial):
    """Counted from fully home: with tube and rod ends known the count is a length, without them a tube is as long as it may be."""
    unmeasured = plan_of({key: value for key, value in trial.centre_arm.items() if not key.startswith("rod_")})
    for plan, known in ((centre, True), (unmeasured, False)):
        errors = plan.whole(np.array([1.5, -0.5]))
        threads = next(item for item in items_of(plan) if item.name == "threads")
        fit = fit_readings(plan, trial.exact(plan, errors, [threads], error=1e-3))
        left, right = fit.errors[[ROD_LEFT, ROD_RIGHT]]
        assert left - right == pytest.approx(2.0, rel=0, abs=0.01)
        assert (fit.sure[ROD_LEFT] < 0.25) == known
        assert not known or left == pytest.approx(1.5, rel=0, abs=0.01)
