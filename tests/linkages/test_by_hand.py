"""Small pieces of the linkages by hand."""

from dataclasses import replace
from math import atan, sin, tan

import numpy as np
import pytest
from scipy.optimize import brentq

from sim.linkages.catalogue import KINDS
from sim.linkages.front_end import ARM_JOINT, leaning_doubt
from sim.linkages.laws import ShareLaw
from sim.steering.sampling import beside


def test_an_arm_that_leans_the_wrong_way_is_asked_about():
    """Behind the axle arms lean inwards by up to 45 degrees, ahead of it outwards; only within that is the turned sign a likely slip."""
    assert leaning_doubt(20.0) == leaning_doubt(-160.0) == leaning_doubt(-2.9) == ("", None)
    assert leaning_doubt(-20.0)[1] == 20
    assert leaning_doubt(160.0)[1] == -160
    assert leaning_doubt(-44.9)[1] == 44.9
    assert leaning_doubt(-45.1)[0].endswith(" is usual")
    assert leaning_doubt(-45.1)[1] is None
    assert leaning_doubt(44.9) == ("", None)
    assert leaning_doubt(45.1)[0].startswith("points more across the car than along it")


@pytest.mark.parametrize("share", [5.0, 9.0, -7.0])
def test_where_a_wheel_turns_no_further(share):
    """Half the ideal difference D at a mean angle M by bisection of the cotangents' condition: there |p| dD/dM is 1."""
    half_track = 0.37 / 1.5

    def half_difference(mean):
        def miss(half):
            return 1 / tan(mean - half) - 1 / tan(mean + half) - 2 * half_track

        return brentq(miss, 0.0, min(0.9 * mean, atan(half_track)), xtol=1e-14)

    mean = ShareLaw(share, half_track).most_mean
    slope = (half_difference(mean + 1e-4) - half_difference(mean - 1e-4)) / 2e-4
    assert abs(share) * slope == pytest.approx(1.0, rel=1e-5, abs=0)
    assert sin(mean) > 0


@pytest.mark.parametrize("toe_deg", [0.0, 1.5])
def test_a_law_of_ones_own_turns_the_wheels_as_the_same_law_among_the_programs(built, toe_deg):
    """Parallel steering as a plain function, which kernels cannot read, beside the one that they can: same swing and contact points."""
    law = built(linkage="parallel", toe_in_deg=toe_deg)[2].mechanism
    own = replace(law, law=lambda hand: np.stack([hand, hand], axis=1))
    assert own.numbers is None
    assert law.numbers is not None
    hand = np.linspace(-0.6, 0.6, 9)
    np.testing.assert_allclose(own.turning(hand), law.turning(hand), rtol=0, atol=1e-6)


def test_a_column_is_read_at_a_value_of_another():
    """Cubics t + 0.3 t^2 + 0.2 t^3 and 2 t - t^2 over one cell, and straight on over the next: the roots are NumPy's."""
    cells = np.array([[[0.0, 1.0, 0.3, 0.2], [0.0, 2.0, -1.0, 0.0]], [[1.5, 2.0, 0.0, 0.0], [1.0, 3.0, 0.0, 0.0]]])
    wanted = np.array([-0.1, 0.0, 0.2, 0.9, 1.4, 2.0, 3.4, 3.6])
    expected = [np.nan, 0.0]
    for value in (0.2, 0.9, 1.4):
        roots = np.roots([0.2, 0.3, 1.0, -value])
        t = float(roots[np.abs(roots.imag) < 1e-9].real[0])
        expected.append(2 * t - t * t)
    expected += [1.0 + 3 * 0.25, 1.0 + 3 * 0.95, np.nan]
    np.testing.assert_allclose(beside(cells, 0, 1, wanted), expected, rtol=0, atol=1e-12)


SEARCHED = [(name, key) for name, kind in KINDS.items() for key in kind.keys if key.search is not None]


@pytest.mark.parametrize(("name", "key"), SEARCHED, ids=[f"{name}-{key.name}" for name, key in SEARCHED])
def test_a_search_begins_among_cars_like_the_one_there_is(name, key):
    """What a team has lies between the bounds, with room to both sides, where it is a usual one."""
    value = key.usual if key.usual is not None else key.default or 0.0
    low, high = key.search.about(value)
    assert low < value < high, (low, value, high)


def test_the_bench_reaches_parallel_and_ideal_by_whole_steps():
    """A share of 0 and of 1, from the usual one by the dial's steps; the least error of an angle that can be seen is finer."""
    (share,) = [key for key in KINDS["fraction"].dials if key.name == "fraction"]
    for wanted in (0.0, 1.0):
        steps = (wanted - share.usual) / share.dial.step
        assert steps == pytest.approx(round(steps), rel=0, abs=1e-9)


def test_an_arms_joint_is_usual_ahead_of_the_axle_where_it_is_behind_and_outside_where_it_is_inside():
    """An arm ahead of the axle that steers like one behind it is that one turned by half a circle about the kingpin: geometry."""
    for key in ARM_JOINT.measured:
        assert key.common[0] == -key.common[1]
