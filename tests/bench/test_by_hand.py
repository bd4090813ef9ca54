"""Pieces of the bench that need no fit: arithmetic by hand, statics, the normal distribution."""

from math import radians
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import norm

from sim.bench.advice import Turns, _apart, _turns, rolling_resistance
from sim.bench.as_built import ARM, ARM_LEFT, ARM_RIGHT, DRAWING, ROD, ROD_LEFT, ROD_RIGHT, TAPE, ZERO_HAND, ZERO_LEFT
from sim.bench.design import WANTED_KINK, WANTED_TOE, WANTED_TURNS, Questions, items_of
from sim.bench.fit import NORMAL_95
from sim.bench.kinds import DIAL, KINDS, place_of
from sim.bench.misfit import Misfit
from sim.bench.readings import made_readings, usual_errors
from sim.bench.result import Verdict, _fit_figures, _value
from sim.car.chassis import GRAVITY
from sim.errors import InputError


def test_a_95_percent_interval_is_the_normal_distributions():
    assert norm.cdf(NORMAL_95) - norm.cdf(-NORMAL_95) == pytest.approx(0.95, rel=0, abs=1e-7)


def test_an_odd_half_turn_is_shared():
    assert Turns(-1.0, 2.0, 0.5).shared() == (-0.75, 2.25)


def test_each_axle_rolls_on_its_own_tyres(vehicle):
    car, _ = vehicle("standard")
    unlike = car._replace(front_tyre=car.front_tyre._replace(rolling_resistance=0.005),
                          rear_tyre=car.rear_tyre._replace(rolling_resistance=0.012))  # fmt: skip
    expected = car.mass * GRAVITY * (0.005 * (1.5 - 0.82) + 0.012 * 0.82) / 1.5
    assert rolling_resistance(unlike) == pytest.approx(expected, rel=1e-12, abs=0)


@pytest.mark.parametrize("alike", [-0.5, 0.0, 0.9])
def test_how_far_two_needs_lie_apart_is_as_sure_as_their_difference(alike):
    # Of drawn pairs: the standard deviation of one less the other
    covariance = np.array([[0.04, alike * 0.06], [alike * 0.06, 0.09]])
    pairs = np.random.default_rng(4).multivariate_normal((0.0, 0.0), covariance, 200_000)
    assert _apart(covariance) == pytest.approx(np.std(pairs[:, 0] - pairs[:, 1]), rel=0.01, abs=0)
    assert _apart(covariance[:1, :1]) == 0.0


@pytest.mark.parametrize(
    ("needed", "turns"),
    [((2.1, -1.4), Turns(2.0, -1.5, 0.0)), ((0.2, 0.2), Turns(0.0, 0.0, 0.5)), ((-0.7, 0.1), Turns(-0.5, 0.0, 0.0)),
     ((0.24, 0.24), Turns(0.0, 0.0, 0.5)), ((1.0, 1.0), Turns(1.0, 1.0, 0.0))],
)  # fmt: skip
def test_half_turns_first_for_the_toe_then_for_the_mark(needed, turns):
    # The toe depends on the sum of both: it is brought as near as half turns go, even where each rod by itself would round to nothing.
    found = _turns(np.array(needed), np.diag([1e-6, 1e-6]))
    assert (found.left, found.right, found.either) == (turns.left, turns.right, turns.either)
    left = sum(needed) - (found.left + found.right + found.either)
    assert abs(left) <= 0.25 + 1e-9


def test_one_rod_is_turned_to_the_nearest_half():
    assert _turns(np.array([1.3]), np.array([[0.01]])) == Turns(1.5, 0.0, 0.0)


@pytest.mark.parametrize("arms", [False, True])
def test_an_error_as_large_as_is_wanted_counts_as_one(arms):
    """Toe, needs, rods and kinks, each over what is wanted of it; kinks only where they are asked for."""
    unknowns = [SimpleNamespace(kind=kind, spread=1.0) for kind in (ROD, ROD, ARM, ARM)]
    toe, needed = np.array([0.0, 0.0, 0.25, 0.0]), np.array([[1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0]])
    targets = Questions(SimpleNamespace(unknowns=unknowns), np.zeros(4), arms, (toe, needed)).targets
    assert targets.shape == (7 if arms else 5, 4)
    np.testing.assert_allclose(targets[0], [0, 0, 2 * 0.25 / WANTED_TOE, 0], rtol=1e-12, atol=0)
    np.testing.assert_allclose(targets @ [WANTED_TURNS, 0, 0, 0], [0, 1, 0, 1, 0, 0, 0][: len(targets)], rtol=1e-12, atol=1e-15)
    kink = targets @ [0, 0, WANTED_KINK, 0]
    assert kink[-2:].tolist() == (pytest.approx([1.0, 0.0]) if arms else [0.0, 0.0])
    assert radians(0.5) == WANTED_KINK


@pytest.mark.parametrize(
    ("widened", "spare", "told", "verdict"),
    [(1.0, 50.0, True, Verdict.FITS), (1.0, 50.0, False, Verdict.UNJUDGED), (1.0, 0.0, True, Verdict.UNJUDGED),
     (1.0, 0.0, False, Verdict.UNJUDGED), (1.3, 50.0, True, Verdict.SCATTERS)],
)  # fmt: skip
def test_a_fit_that_any_car_would_give_is_no_praise(widened, spare, told, verdict):
    fit = SimpleNamespace(widened=widened, spare=spare, chi_square=3.0, freedom=4.0, chance=0.5)
    assert _fit_figures(fit, SimpleNamespace(toe_told=told)).verdict == verdict


def test_lengths_are_told_in_millimetres():
    plan = SimpleNamespace(unknowns=[SimpleNamespace(kind=DRAWING, name="arm", spread=0.001)], pitch=0.00125)
    told = _value(SimpleNamespace(plan=plan, errors=np.array([0.003]), sure=np.array([0.0005])), 0, None)
    assert (told.value_mm, told.error_mm, told.usual_mm) == pytest.approx((3.0, 0.5, 1.0), rel=1e-12, abs=0)


@pytest.mark.parametrize(
    ("rods", "arms_deg"), [((0.0, 0.0), (0.0, 0.0)), ((1.0, -2.0), (0.0, 0.0)), ((0.0, 0.0), (1.5, -0.8)), ((0.5, 1.5), (-1.0, 2.0))]
)
def test_a_wheel_of_a_car_that_was_built_wrong_stands_where_its_rod_reaches(centre, rods, arms_deg):
    # Planar, upright kingpins 740 mm apart: arm of 110 mm at the kink, rod to the drop arm's end 107 mm behind the axle in the middle.
    errors = np.zeros(len(centre.spreads))
    errors[[ROD_LEFT, ROD_RIGHT]], errors[[ARM_LEFT, ARM_RIGHT]] = rods, np.radians(arms_deg)
    steers = centre.built(errors).front_wheels(np.zeros(1)).steer[0]
    planned = np.hypot(0.110 * np.cos(radians(13.9)) - 0.107, 0.37 - 0.110 * np.sin(radians(13.9)))
    np.testing.assert_allclose(centre.rod_lengths, planned, rtol=1e-9, atol=0)
    for side, sign in ((0, 1.0), (1, -1.0)):
        kink = radians(13.9 + arms_deg[side])
        arm = 0.110 * np.array([-np.cos(kink), -sign * np.sin(kink)])
        cosine, sine = np.cos(steers[side]), np.sin(steers[side])
        joint = np.array([cosine * arm[0] - sine * arm[1], sign * 0.37 + sine * arm[0] + cosine * arm[1]])
        assert np.hypot(*(joint - [-0.107, 0.0])) == pytest.approx(planned + 1.25e-3 * rods[side], rel=0, abs=1e-9)


def test_readings_show_the_errors_that_belong_to_them(centre):
    errors = np.zeros(len(centre.spreads))
    errors[ROD_LEFT], errors[TAPE], errors[ZERO_HAND], errors[ZERO_LEFT] = 1.0, 0.002, 0.03, -0.01
    misfit = Misfit(centre, made_readings(np.full((1, len(KINDS)), np.nan), usual_errors(0.2)))
    hand = np.array([0.0, 0.2])
    built = centre.built(errors)
    shown = misfit.shown_by(built, errors, hand)
    np.testing.assert_allclose(shown[:, place_of("rod_left_mm")], centre.rod_lengths[0] + 1.25e-3 + 0.002, rtol=1e-12, atol=0)
    np.testing.assert_allclose(shown[:, place_of("rod_right_mm")], centre.rod_lengths[1] + 0.002, rtol=1e-12, atol=0)
    np.testing.assert_allclose(shown[:, DIAL], hand + 0.03, rtol=1e-12, atol=1e-15)
    np.testing.assert_allclose(shown[:, place_of("left_deg")], built.front_wheels(hand).steer[:, 0] - 0.01, rtol=1e-12, atol=1e-15)


@pytest.mark.parametrize(
    ("keys", "what"), [({"linkage": "ideal"}, 'linkage "ideal" is a formula'), ({"pivot": "turntable"}, "a turntable axle")]
)
def test_what_has_no_rods_is_refused_by_its_name(plan_of, keys, what):
    with pytest.raises(InputError, match=f"has no rods and arms to set: {what}"):
        plan_of(keys)


def test_what_is_asked_of_one_rod_and_of_two(centre, cross):
    for plan, rods, threads in (
        (centre, ("rod_left_mm", "rod_right_mm"), ("threads_left", "threads_right")),
        (cross, ("rod_mm",), ("threads",)),
    ):
        columns = [item.columns for item in items_of(plan)]
        assert rods in columns
        assert threads in columns
        counted = next(item for item in items_of(plan) if item.columns == threads)
        assert (counted.most, counted.least) == (1, 0)  # a count does not get better by counting again
