"""Which readings to take: against all subsets, against what comes of them, and what the plan says of itself."""

from itertools import product
from math import radians

import numpy as np
import pytest
from scipy.stats import norm

from sim.bench.advice import SURE, gradients
from sim.bench.as_built import ROD, ROD_LEFT, ROD_RIGHT, WORTH
from sim.bench.design import (
    BEFORE_MINUTES,
    PLANS,
    Questions,
    after,
    chosen,
    design_plan,
    information,
    items_of,
    next_item,
    options_of,
    rim_of,
    sureness,
)  # fmt: skip
from sim.bench.fit import fit_readings
from sim.bench.kinds import KINDS


def questions_of(plan, errors=None):
    errors = np.zeros(len(plan.spreads)) if errors is None else errors
    return Questions(plan, errors, False, gradients(plan, errors))


def cheapest(told, minutes, most, budget, loss, least):
    """The best of all subsets, one by one."""
    best, found = np.inf, None
    for counts in product(*[range(low, high + 1) for low, high in zip(least, most, strict=True)]):
        if sum(count * one for count, one in zip(counts, minutes, strict=True)) <= budget + 1e-9:
            value = loss(sum((count * one for count, one in zip(counts, told, strict=True)), np.zeros_like(told[0])))
            if value < best:
                best, found = value, list(counts)
    return best, found


@pytest.mark.parametrize("error", [0.2, 0.3, 0.45])
def test_what_the_plan_says_of_itself_against_a_hundred_thousand_cars(centre, error):
    """A rod one turn off, read once with the scatter that leaves this error beside the prior: how often its estimate names it."""
    questions, count = questions_of(centre), 100_000
    rods, noise = questions.places(ROD), np.random.default_rng(7).normal(size=100_000)
    covariance = np.diag(np.full(len(centre.spreads), 1e-8))
    covariance[rods, rods] = error**2
    prior = centre.spreads[rods[0]] ** 2
    scatter = 1 / (1 / error**2 - 1 / prior)
    estimates = prior / (prior + scatter) * (1.0 + np.sqrt(scatter) * noise)
    named = np.count_nonzero(estimates - norm.ppf(SURE) * error > WORTH[ROD]) / count
    sure = sureness(questions, covariance)
    assert sure.named == pytest.approx(named, rel=0, abs=5 * np.sqrt(max(named * (1 - named), 1e-4) / count))
    draws = np.random.default_rng(8).multivariate_normal(np.zeros(len(covariance)), covariance, count) @ (2 * questions.slopes[0])
    assert sure.toe_error == pytest.approx(float(draws.std()), rel=0.01, abs=0)


@pytest.mark.compiled
def test_the_plan_against_all_subsets_of_a_small_case(centre):
    """Strings, tape, rods, threads, the drop arm and a pair, up to three times each, in times from 4 to 9 minutes."""
    items = [item for item in items_of(centre) if "deg" not in item.name][:6]
    questions = questions_of(centre)
    told = [information(centre, item, questions.errors, rim_of(centre)) for item in items]
    minutes, most = [item.minutes for item in items], [min(item.most, 3) for item in items]

    def loss(known):
        return questions.loss(after(centre.spreads, known))

    for budget in (4.0, 5.3, 7.1, 9.0):
        least = [0] * len(items)
        counts = chosen(told, minutes, most, budget, loss, least)
        best, found = cheapest(told, minutes, most, budget, loss, least)
        reached = loss(sum((count * one for count, one in zip(counts, told, strict=True)), np.zeros_like(told[0])))
        assert reached == pytest.approx(best, rel=1e-9, abs=0), (counts, found)


@pytest.mark.parametrize("seed", range(12))
def test_choosing_among_made_up_observations(seed):
    """Random directions with random times: never worse than 1 % above the best of all subsets, and mostly the best."""
    random = np.random.default_rng(seed)
    directions = random.normal(size=(5, 3)) * np.array([3.0, 1.0, 0.3])
    told = [np.outer(one, one) for one in directions]
    minutes, most, least = list(random.uniform(0.5, 2.0, size=5)), [2] * 5, [0] * 5

    def loss(known):
        return float(np.trace(np.linalg.inv(known + np.eye(3))))

    counts = chosen(told, minutes, most, 5.0, loss, least)
    best, _ = cheapest(told, minutes, most, 5.0, loss, least)
    assert loss(sum((count * one for count, one in zip(counts, told, strict=True)), np.zeros((3, 3)))) <= 1.01 * best
    assert sum(count * one for count, one in zip(counts, minutes, strict=True)) <= 5.0 + 1e-9


@pytest.mark.compiled
def test_quick_plan_of_a_drop_arm_is_that_of_the_simulation(centre):
    """About ten minutes: strings at both wheels, rods, threads; tape, plumb line and a pair at each lock catch blunders."""
    plan = design_plan(centre, "quick")
    counts = {item.name: count for item, count in plan.taken}
    assert plan.minutes <= 10.0 + 1e-9
    assert counts["string at both wheels"] >= 3
    assert counts["both rods"] >= 2
    assert counts["threads"] == 1
    assert counts["tape between the rims"] >= 1
    assert counts["drop arm"] >= 1
    assert sum(count for name, count in counts.items() if name.startswith("wheel angles") and ("left" in name or "right" in name)) >= 2
    assert plan.sure.toe_near > 0.94
    assert plan.sure.named > 0.94


@pytest.mark.compiled
def test_full_plan_is_surer_and_no_plan_takes_longer_than_it_may(plan_of, real_keys):
    plan = plan_of(real_keys)
    quick, full = design_plan(plan, "quick"), design_plan(plan, "full")
    for found in (quick, full):
        assert found.minutes <= PLANS[found.name].minutes + 1e-9
        assert found.minutes == pytest.approx(BEFORE_MINUTES + sum(item.minutes * count for item, count in found.taken), rel=1e-12, abs=0)
        for item, count in found.taken:
            assert item.least <= count <= item.most
            assert all(KINDS[place].fits(plan) for place in item.places)
    assert full.sure.toe_error < quick.sure.toe_error
    assert max(full.sure.rod_errors) <= max(quick.sure.rod_errors)
    assert quick.sure.toe_near > 0.9


def test_no_reading_is_taken_near_the_dead_centre(plan_of, real_keys):
    plan = plan_of(real_keys)
    for item in items_of(plan):
        assert item.hand is None or plan.steering.lock_right * 0.8 - 1e-12 <= item.hand <= plan.steering.lock_left * 0.8 + 1e-12


@pytest.mark.slow
def test_promised_errors_are_those_of_the_fit(centre, trial):
    """What the plan says beforehand, against the fits of 60 cars that were read so; readings about other cars differ by percents."""
    plan = design_plan(centre, "quick")
    fits = [
        fit_readings(centre, trial.taken(centre, trial.drawn_car(centre, random, [1.0, 0.0], 1.5), random, plan.taken))
        for random in map(np.random.default_rng, range(60))
    ]
    for place in (ROD_LEFT, ROD_RIGHT):
        assert np.median([fit.sure[place] for fit in fits]) == pytest.approx(plan.sure.rod_errors[0], rel=0.03, abs=0)


@pytest.mark.compiled
def test_the_next_reading_is_the_best_of_all_that_are_left(centre, trial):
    """Each item's information added in turn; after pairs alone nothing tells a rod like its threads or its length."""
    random = np.random.default_rng(2)
    fit = fit_readings(centre, trial.pairs_read(centre, trial.drawn_car(centre, random), random))
    questions = questions_of(centre, fit.errors)
    item, sure = next_item(questions, fit.covariance, options_of(centre, fit.errors, [0, 1, 2]), [ROD_LEFT, ROD_RIGHT])
    known = np.linalg.pinv(fit.covariance)
    left = {}
    for one in items_of(centre):
        covariance = np.linalg.pinv(known + information(centre, one, fit.errors, rim_of(centre)))
        left[one.name] = covariance[ROD_LEFT, ROD_LEFT] + covariance[ROD_RIGHT, ROD_RIGHT]
    assert item.name == min(left, key=left.get)
    assert item.name in ("threads", "both rods")
    assert max(sure.rod_errors) == pytest.approx(np.sqrt(left[item.name] / 2), rel=0.05, abs=0)
    threads = next(one for one in items_of(centre) if one.name == "threads")
    assert all(one.name != "threads" for one, _ in options_of(centre, fit.errors, threads.places))


@pytest.mark.compiled
def test_a_car_that_is_known_asks_for_nothing(centre):
    known = np.diag((1e-9 * centre.spreads) ** 2)
    assert next_item(questions_of(centre), known, options_of(centre, np.zeros(len(centre.spreads)), [])) is None


@pytest.mark.compiled
def test_information_by_a_string_over_a_rim(centre):
    """Two wheels, 1 mm over the rim each: total toe from a string alone is good to root 2 of that, the setting taken off."""
    item = items_of(centre)[0]
    known = information(centre, item, np.zeros(len(centre.spreads)), 0.4)
    fixed = np.zeros(len(centre.spreads))
    fixed[[ROD_LEFT, ROD_RIGHT]] = centre.spreads[[ROD_LEFT, ROD_RIGHT]]
    covariance = after(fixed, 1e6 * known) * 1e6
    toe = questions_of(centre).slopes[0]
    total = 2 * np.sqrt(toe @ covariance @ toe)
    assert total == pytest.approx(np.sqrt(2) * 1e-3 / 0.4, rel=1e-3, abs=0)
    assert total == pytest.approx(radians(0.2026), rel=1e-3, abs=0)
