"""Search over the whole range of every key, against grids, under tighter and looser limits, with unsure numbers, and on all workers."""

import os
import time
from itertools import product

import numpy as np
import pytest

from sim.errors import InputError
from sim.linkages.catalogue import LINKAGES, kind_of
from sim.scenario.file import check_scenario, find_scenario, load_scenario
from sim.scenario.setup import SetupTable
from sim.search.gain import unsure_of
from sim.search.judge import LIMITS, UNBUILDABLE, Judge, Why
from sim.search.optimise import Bound, Candidates, Goal, best_point
from sim.search.run import search
from sim.search.setups import FreeKey, free_keys
from sim.study.compare import target_of
from sim.study.ready import course_of
from sim.study.workers import Workers

ALL = (*LINKAGES, None)  # None is a turntable


def quiet(done, of, word):
    """No progress."""


def usual(linkage):
    """A set-up of a linkage with the usual values of what it needs."""
    kind = kind_of(linkage)
    keys = {"name": "own", "pivot": "stub axles", "linkage": linkage} if linkage else {"name": "own", "pivot": "turntable"}
    return SetupTable.model_validate(keys | {key.name: key.usual for key in kind.needs})


def ranges(linkage):
    """The whole allowed range of every number of a linkage."""
    return {key.name: (key.low, key.high) for key in kind_of(linkage).keys}


def judge_of(name, setup, free=()):
    """A judge on a shipped course, and what it belongs to."""
    path = find_scenario(name)
    scenario = load_scenario(path)
    course = course_of(scenario, path.parent, name)
    return Judge(scenario, course, setup, free, target_of(scenario, course, name))


def right(figures):
    """Whether a candidate has figures, or a named reason why it has none."""
    if figures.why == Why.ROUND:
        numbers = (figures.drive_work, figures.scrub, figures.rub, figures.error, figures.turning_circle_m, figures.lock_deg)
        return figures.missed == 0 and all(map(np.isfinite, numbers))
    if figures.why in (Why.REFUSED, Why.UNBUILDABLE):
        return figures.missed == UNBUILDABLE
    return figures.missed > 0 and np.isnan(figures.drive_work) and figures.lock_deg > 0


@pytest.mark.compiled
@pytest.mark.parametrize("name", ["car-park", pytest.param("quay-loop", marks=pytest.mark.slow)])
def test_200_random_starts_have_figures_or_a_reason(name):
    random = np.random.default_rng(12)
    seen = []
    for place in range(200):
        linkage = ALL[place % len(ALL)]
        whole = ranges(linkage)
        keys = [FreeKey(key, *whole[key]) for key in random.permutation(list(whole))[: random.integers(1, 7)]]
        # Half of the values within the range, the other half at its ends, where what is wrong shows.
        values = [random.choice([random.uniform(key.low, key.high), random.choice([key.low, key.high])]) for key in keys]
        figures = judges(name, linkage)
        figures.free = keys
        found = figures(values)
        assert right(found), (linkage, keys, values, found)
        seen.append(found.why)
    assert {Why.ROUND, Why.UNBUILDABLE, Why.LOCKED} <= set(seen)


KNOWN = {}


def judges(name, linkage):
    """A judge for each course and linkage, made once."""
    if (name, linkage) not in KNOWN:
        KNOWN[name, linkage] = judge_of(name, usual(linkage))
    return KNOWN[name, linkage]


@pytest.mark.parametrize(
    "keys",
    [
        {"caster_deg": -12.355438987318156, "least_rod_angle_deg": 1.0, "drop_arm_pivot_height_mm": 2000.0,
         "arm_length_mm": 432.3940024469545, "hand_wheel_limit_deg": 1074.1478174343058},
        {"arm_length_mm": 578.5807638167463, "hand_wheel_limit_deg": 1080.0, "drop_arm_behind_front_axle_mm": 1500.0,
         "kingpin_inclination_deg": 30.0, "toe_in_deg": -10.0, "drop_arm_length_mm": 763.8995619301439},
    ],
)  # fmt: skip
def test_wheels_that_turn_back_between_two_samples_have_no_traceback(keys):
    # "x must be strictly increasing": a hand wheel's limit of 1080 degrees sets the samples eleven degrees apart.
    setup = SetupTable.model_validate(usual("centre arm").model_dump(exclude_unset=True) | keys)
    assert right(judges("car-park", "centre arm").figures_of(setup))


@pytest.mark.compiled
def test_every_kink_has_figures_or_a_reason():
    setup = load_scenario(find_scenario("car-park")).setup[2]
    judge = judge_of("car-park", setup, free_keys(setup, {"arm_angle_deg": (-90.0, 90.0)}, "tried"))
    found = [judge((angle,)) for angle in np.linspace(-90, 90, 181)]
    assert all(map(right, found))
    assert sum(one.why == Why.ROUND for one in found) > 40


def answer_of(scenario, folder, free):
    """What a search finds; None where it says that nothing gets round."""
    try:
        return search(scenario, folder, "car-park", free=free, workers=Workers(2))
    except InputError as fault:
        if "nothing within the bounds" not in fault.problem:
            raise
        return None


@pytest.mark.slow
@pytest.mark.parametrize("linkage", ALL, ids=str)
def test_a_search_over_the_whole_range_of_every_key_answers_or_says_why(linkage, tmp_path):
    scenario = load_scenario(find_scenario("car-park")).model_copy(update={"setup": (usual(linkage),)})
    whole = list(ranges(linkage).items())
    for start in range(0, len(whole), 3):
        free = dict(whole[start : start + 3])
        result = answer_of(scenario, tmp_path, free)
        if result is None:
            continue
        # What is left out, such as a hand wheel's limit, has no value of its own among the candidates: equal but for rounding.
        assert result.best.sum.drive_work_J <= (result.own.sum.drive_work_J or np.inf) * (1 + 1e-9)
        assert all(one.low <= one.flat_low <= one.flat_high <= one.high for one in result.free)


@pytest.mark.slow
@pytest.mark.parametrize("angle", [20.0, 24.0, 30.0])
def test_a_good_design_is_searched_within_the_usual_bounds(angle, tmp_path):
    scenario = load_scenario(find_scenario("car-park"))
    mine = scenario.setup[2].model_copy(update={"arm_angle_deg": angle})
    result = search(scenario.model_copy(update={"setup": (mine,)}), tmp_path, "car-park")
    assert result.best.sum.drive_work_J <= result.own.sum.drive_work_J


def candidates_of(name, known=None, free=None):
    """The candidates of the first set-up with rods of a shipped scenario; what was judged before may be given."""
    path = find_scenario(name)
    setup = next(one for one in load_scenario(path).setup if one.kind.rods)
    keys = free_keys(setup, free or {}, name)
    judge = judge_of(name, setup, keys)
    own = tuple(float(getattr(setup, key.key)) for key in keys)
    problem = Candidates(judge, [(key.low, key.high) for key in keys], own, quiet)
    if known is not None:
        problem.known.update(known)
    return problem


@pytest.mark.slow
@pytest.mark.parametrize("name", ["car-park", "quay-loop", "race-day"])
def test_no_grid_is_better(name):
    """36 x 36 values of arm length and kink, without a limit and with turning circles that bite more and more."""
    free = {"arm_length_mm": (66.0, 176.0), "arm_angle_deg": (0.0, 30.0)}
    grid = candidates_of(name, free=free)
    figures = grid.all_figures([grid.box.point(np.array(place)) for place in product(np.linspace(0, 1, 36), repeat=2)])
    circles = [one.turning_circle_m for one in figures if one.missed == 0]
    for share in (1.0, 0.6, 0.3, 0.1, 0.02):
        goal = Goal("drive_work", (Bound("turning_circle_m", 1, float(np.quantile(circles, share))),) if share < 1 else ())
        problem = candidates_of(name, known=dict(grid.known), free=free)
        best = problem.figures(best_point(problem, goal, 0))
        assert goal.missed(best) == 0
        least = min(one.drive_work for one in figures if goal.missed(one) == 0)
        assert best.drive_work <= 1.005 * least
        assert best.drive_work <= least + 1e-6 * least  # and it is in fact never worse


@pytest.mark.slow
def test_what_keeps_a_limit_by_a_hair_is_bettered_along_it():
    """What the team has keeps 4.83 m by 1 cm.  A search that stopped at the limit saved 0.5 J; a grid of 36 x 36 finds 14 J."""
    problem = candidates_of("car-park")
    goal = Goal("drive_work", (Bound("turning_circle_m", 1, 4.83),))
    assert goal.missed(problem.figures(problem.own)) == 0
    best = best_point(problem, goal, 0)
    assert goal.missed(problem.figures(best)) == 0
    assert problem.figures(problem.own).drive_work - problem.figures(best).drive_work > 15.0


@pytest.mark.slow
def test_a_looser_limit_is_never_worse_than_a_tighter_one():
    """20 limits by 8 seeds."""
    known = {}
    for seed in range(8):
        works = []
        for limit in np.linspace(4.2, 5.4, 20):
            problem = candidates_of("car-park", known)
            goal = Goal("drive_work", (Bound("turning_circle_m", 1, float(limit)),))
            figures = problem.figures(best_point(problem, goal, seed))
            assert goal.missed(figures) == 0
            works.append(figures.drive_work)
            known.update(problem.known)
        assert np.all(np.diff(works) <= 0), seed
        assert works[0] > works[-1]


@pytest.mark.slow
def test_the_unsure_numbers_of_a_scenario_make_the_range_of_its_gain(tmp_path):
    data = load_scenario(find_scenario("car-park")).model_dump(mode="json", exclude_unset=True)
    data["setup"] = [one for one in data["setup"] if one.get("linkage") == "cross rod"]
    name = data["setup"][0]["name"]
    free = {"arm_angle_deg": (10.0, 25.0)}
    results = {}
    for words, unsure, made_to in [
        ("tyres", {}, None), ("sure", {"car.mass_kg": 1e-6}, None),
        ("unsure", {"car.mass_kg": 20.0, f"setup.{name}.toe_in_deg": 0.3}, None), ("made", {"car.mass_kg": 1e-6}, 2.0),
    ]:  # fmt: skip
        scenario = check_scenario(data | {"uncertainty": unsure}, "tried.toml")
        results[words] = search(scenario, tmp_path, "tried.toml", free=free, made_to=made_to)
    assert results["tyres"].doubt is None
    # All but sure: the range is the gain itself.
    sure = results["sure"].doubt.best
    assert (sure.low_J, sure.high_J) == pytest.approx([results["sure"].lap_gain] * 2, rel=1e-5, abs=0)
    for words in ("unsure", "made"):
        one = results[words].doubt
        assert one.best.low_J < results[words].lap_gain < one.best.high_J + 0.2  # the best is best as drawn: made otherwise it gains less
        assert one.best.high_J - one.best.low_J > 10 * (sure.high_J - sure.low_J)
        assert one.best.unfinished == one.broken == 0
    assert results["made"].doubt.made_to_deg_or_mm == 2.0
    assert [one.path for one in unsure_of(scenario, 0, None, "tried.toml")] == ["car.mass_kg"]


@pytest.mark.slow
@pytest.mark.compiled
def test_a_best_on_its_limit_is_told_to_break_it_as_parts_are_made(tmp_path):
    scenario = load_scenario(find_scenario("car-park"))
    result = search(scenario, tmp_path, "car-park", free={"arm_angle_deg": (10.0, 25.0)}, limits={"turning_circle_m": 5.0}, made_to=1.0)
    assert result.best.sum.turning_circle_m == pytest.approx(5.0, rel=0, abs=1e-3)
    assert 0.3 < result.doubt.broken < 0.7  # evenly to both sides of the limit


@pytest.mark.parametrize(("name", "value"), [("rod_angle_deg", 25.0), ("longest_rod_mm", 680.0), ("shortest_rod_mm", 690.0)])
@pytest.mark.slow
def test_limits_on_rods_are_kept(name, value, tmp_path):
    scenario = load_scenario(find_scenario("car-park"))
    free = {"arm_angle_deg": (5.0, 30.0), "arm_length_mm": (66.0, 176.0), "hand_wheel_limit_deg": (35.0, 60.0)}
    result = search(scenario, tmp_path, "car-park", free=free if name == "rod_angle_deg" else dict(list(free.items())[:2]),
                    limits={name: value}, objectives=("error",))  # fmt: skip
    kept = getattr(result.best.sum, name)
    assert kept <= value if LIMITS[name] == "most" else kept >= value


def judged(judge, place, points, folder, workers):
    """What is found of some candidates: (place, (process, figures)), once as many processes as `workers` are at it."""
    (folder / str(os.getpid())).touch()
    until = time.monotonic() + 60
    while len(list(folder.iterdir())) < workers and time.monotonic() < until:
        time.sleep(0.01)
    return place, (os.getpid(), [judge(point) for point in points])


@pytest.mark.compiled
def test_two_workers_share_the_judging(tmp_path):
    """Both at once, each piece by one of them, none by the process that asks; what they gain in time is a benchmark's."""
    problem = candidates_of("car-park")
    points = [problem.box.point(place) for place in np.random.default_rng(3).random((48, 2))]
    with Candidates(problem.crew.judge.judge, [(0.0, 1.0)] * 2, (0.0, 0.0), quiet, workers=Workers(2)) as two:
        if not two.crew.branched:
            pytest.skip("this system shares by threads")
        calls = [(place, points[place : place + 8], tmp_path, 2) for place in range(0, len(points), 8)]
        found = dict(two.crew.done(judged, calls))
    assert found.keys() == {call[0] for call in calls}
    assert {process for process, _ in found.values()} == {int(one.name) for one in tmp_path.iterdir()}
    assert len(list(tmp_path.iterdir())) == 2
    assert not (tmp_path / str(os.getpid())).exists()
    for place, (_, figures) in found.items():
        here = [problem.crew.judge(point) for point in points[place : place + 8]]
        assert list(map(repr, figures)) == list(map(repr, here))  # bit for bit, and what is not a number is the same too


def test_a_fault_of_a_worker_is_the_searchs():
    def judge(point):
        raise ValueError("made up")

    with (
        Candidates(judge, [(0.0, 1.0)] * 2, (0.5, 0.5), quiet, workers=Workers(2)) as problem,
        pytest.raises(ValueError, match="made up"),
    ):
        problem.all_figures([(float(place), 0.5) for place in np.linspace(0, 1, 60)])
