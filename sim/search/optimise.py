"""Minimising over a box: candidates that every limit shares, local searches from several starts, and trade-offs.

First come candidates that hang on neither objective nor limits: an even scan and drawn ones.  From the best of them local searches
start, each for itself, so that all workers have something to do.  Where a limit stands in the way, local searches start again from
the best that keep it, and from what is best without it, and slide along it.  What is recommended is the best of all that was judged.
"""

from collections.abc import Callable, Mapping, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from itertools import product
from math import isfinite
from types import TracebackType
from typing import Any, NamedTuple, Self

import numpy as np

from sim.search.crew import Crew
from sim.search.kept import KeptCandidates
from sim.study.workers import Workers

SCAN = {1: 33, 2: 15, 3: 5}  # values a key in the even scan, by the number of keys; 2, the corners, for more
DRAWN = {1: 8, 2: 32, 3: 128}  # candidates drawn beside the scan, by the number of keys; 512 for more
BLOCK = 24  # candidates that one worker judges at a time, at most
STARTS, APART = 4, 0.12  # local searches at once, and how far apart they start in the unit cube, to be in different hollows
SLIDES, SIMPLEX = 30, 40  # candidates a key of a local search: of the one that slides along limits, and of the simplex after it
AROUND = 90  # candidates a key around what is recommended, about
STEP = 1e-3  # of a key's range, for slopes: wide enough for how finely a lock is found
CLOSE = 1e-7  # a limit is kept with so much of it to spare, so that what slides along it stays on the right side [-]
FINE_SIMPLEX, POLISHED = 0.02, 1e-6  # of a key's range: the simplex begins so wide, and goes on to so little


class Bound(NamedTuple):
    """What a figure may be.

    name : of the figure; sign : 1 where the value is the most, -1 where it is the least [-]; value : [its unit]
    """

    name: str
    sign: int
    value: float

    def over(self, figures: Any) -> float:
        """By how much figures break it, below 0 where they keep it, as a share of it [-].  figures : of a candidate."""
        return self.sign * (float(getattr(figures, self.name)) - self.value) / max(abs(self.value), 1e-9)


class Goal(NamedTuple):
    """What is sought.  least : name of the figure; bounds : on figures."""

    least: str
    bounds: tuple[Bound, ...] = ()

    def missed(self, figures: Any) -> float:
        """How far a candidate is from being allowed, 0 where it is [-].  figures : of a candidate."""
        broken = [bound.over(figures) for bound in self.bounds]
        return float(figures.missed) + sum(max(over, 0.0) if over == over else 1.0 for over in broken)

    def value(self, figures: Any) -> float:
        """What is to be least [its unit]; infinite where there is none.  figures : of a candidate."""
        value = float(getattr(figures, self.least))
        return value if isfinite(value) else np.inf

    def rank(self, figures: Any) -> tuple[float, float]:
        """Order of candidates: first those that are allowed, by their value; then the others, by how far they are from it.

        figures : of a candidate.  Returns how far it is from being allowed [-], and its value where it is [its unit].
        """
        missed = self.missed(figures)
        return (missed, self.value(figures) if missed == 0 else 0.0)


@dataclass(frozen=True, eq=False)
class Box:
    """Bounds of the free keys.  low, high : (keys,) [the keys' units]."""

    low: np.ndarray
    high: np.ndarray

    def point(self, share: np.ndarray) -> tuple[float, ...]:
        """A place in the unit cube as values, never outside the bounds.  share : (keys,) 0 to 1 [-]."""
        share = np.asarray(share, dtype=float)
        values = np.clip(self.low + share * (self.high - self.low), self.low, self.high)
        return tuple(float(value) + 0.0 for value in np.where(share >= 1, self.high, values))  # + 0.0: no zero with a minus

    def share(self, values: Sequence[float]) -> np.ndarray:
        """Values as a place in the unit cube (keys,) [-].  values : one a key."""
        return (np.asarray(values) - self.low) / (self.high - self.low)


class Candidates:
    """Candidates within a box, the one place that remembers them; its workers end with the `with` block.

    judge : values to figures; bounds : (low, high) a key [the key's unit]; own : what the team has
    progress : called with candidates tried, how many in all about, and a word
    kept : what is on the drive of them, None keeps nothing; workers : who judges
    """

    def __init__(self, judge: Callable[[Sequence[float]], Any], bounds: Sequence[tuple[float, float]], own: tuple[float, ...],
                 progress: Callable[[int, int, str], None], kept: KeptCandidates | None = None,
                 workers: Workers | None = None):  # fmt: skip
        self.own, self.progress, self.kept = own, progress, kept
        self.box = Box(*np.array(bounds, dtype=float).T)
        self.known: dict[tuple[float, ...], Any] = {} if kept is None else kept.taken_up()
        self.crew = Crew(workers or Workers(), Remembering(judge, self.known))
        # Those that this search has asked for, in its own order: what an earlier one knew besides may not sway it.
        self.asked: dict[tuple[float, ...], None] = {}

    @property
    def tried(self) -> int:
        """Candidates asked for [-]."""
        return len(self.asked)

    @property
    def keys(self) -> int:
        """Free keys [-]."""
        return len(self.own)

    def figures(self, values: Sequence[float]) -> Any:
        """Figures of a candidate.  values : one a key, inside the bounds [the key's unit]."""
        return self.all_figures([values])[0]

    def all_figures(self, points: Sequence[Sequence[float]]) -> list[Any]:
        """Figures of several candidates.  points : values one a key, inside the bounds [the key's unit]."""
        places = [tuple(float(value) for value in values) for values in points]
        new = [point for point in dict.fromkeys(places) if point not in self.known]
        self._take(judge_block, [(start, new[start:end]) for start, end in self.crew.shares(len(new), BLOCK)])
        self._ask(places)
        return [self.known[point] for point in places]

    def descend(self, goals: Sequence[tuple[Goal, tuple[float, ...], tuple[int, ...]]], unit: Mapping[str, float]) -> None:
        """Local searches, each for itself; what they find is among the candidates.

        goals : a Goal, where its search starts [the keys' units] and the keys that it may move [-], for each; unit : of each objective,
        by which its slopes are of order one [its unit]
        """
        calls = [(place, self.box, goal, start, free, unit[goal.least]) for place, (goal, start, free) in enumerate(goals)]
        for found in self._take(descend, calls):
            self._ask(found)

    def _take(self, work: Callable[..., Any], calls: Sequence[tuple[Any, ...]]) -> list[list[tuple[float, ...]]]:
        """The points of each call, in the calls' order; their figures are known afterwards."""
        points: dict[int, list[tuple[float, ...]]] = {}
        if not calls:
            return []
        with closing(self.crew.done(work, calls)) as blocks:
            for start, found in blocks:
                points[start] = [point for point, _ in found]
                for point, figures in found:
                    if point not in self.known:
                        self.known[point] = figures
                        if self.kept is not None:
                            self.kept.note(self.known)
                done = len(self.asked) + sum(map(len, points.values()))
                self.progress(done, max(expected(self.keys), done), "candidates")
        return [points[start] for start, *_ in calls]

    def _ask(self, points: Sequence[tuple[float, ...]]) -> None:
        self.asked.update(dict.fromkeys(points))

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None) -> None:
        self.crew.close()

    def keep(self) -> None:
        """Write to the drive what is new.  Raises InputError where it can't be written."""
        if self.kept is not None:
            self.kept.keep(self.known)

    def inside(self, values: Sequence[float]) -> bool:
        """Whether values keep the bounds.  values : one a key [the key's unit]."""
        return bool(np.all((values >= self.box.low) & (values <= self.box.high)))

    def best(self, goal: Goal) -> tuple[float, ...]:
        """The best candidate so far, the first of equals; of none that is allowed, the nearest.

        goal : Goal.  Returns its values [the keys' units].
        """
        return min(self.asked, key=lambda point: goal.rank(self.known[point]))


class Remembering:
    """A judge that is not asked twice.

    judge : values to figures; known : values to figures, those that are known; a machine elsewhere does without
    """

    def __init__(self, judge: Callable[[Sequence[float]], Any], known: Mapping[tuple[float, ...], Any]):
        self.judge, self.known = judge, known

    def __call__(self, point: tuple[float, ...]) -> Any:
        """Figures of a candidate.  point : values, one a key [the key's unit]."""
        figures = self.known.get(point)
        return self.judge(point) if figures is None else figures

    def __reduce__(self) -> tuple[Any, ...]:
        return Remembering, (self.judge, {})


def judge_block(judge: Callable[[tuple[float, ...]], Any], start: int, points: Sequence[tuple[float, ...]]) -> tuple[int, list[Any]]:
    """Judge some candidates.

    judge : values to figures; start : the first one's place among all [-]; points : values one a key [the keys' units]
    Returns (start, pairs of a point and its figures).
    """
    return start, [(point, judge(point)) for point in points]


class _EnoughError(Exception):
    """A local search has tried as many candidates as it may."""


def descend(
    judge: Callable[[tuple[float, ...]], Any], place: int, box: Box, goal: Goal, start: tuple[float, ...], free: tuple[int, ...],
    unit: float,
) -> tuple[int, list[Any]]:  # fmt: skip
    """A local search: one that slides along what limits it, then a simplex that bears its edges and kinks.

    judge : values to figures; place : among the searches [-]; box : Box; goal : Goal; start : values [the keys' units]
    free : indices of the keys that it moves; unit : of what is to be least [its unit]
    Returns (place, pairs of a point and its figures, in the order in which they were tried).
    Source: sequential quadratic programming and the bounded simplex search of SciPy; slopes by differences.
    """
    from scipy.optimize import minimize

    mine: dict[tuple[float, ...], Any] = {}
    where, index = box.share(start), list(free)
    most = SLIDES * len(index)

    def figures(share: np.ndarray) -> Any:
        whole = where.copy()
        whole[index] = np.clip(share, 0.0, 1.0)
        point = box.point(whole)
        if point not in mine:
            if len(mine) >= most:
                raise _EnoughError
            mine[point] = judge(point)
        return mine[point]

    base = goal.value(figures(where[index]))
    base = base if isfinite(base) else 0.0
    looked: dict[bytes, tuple[np.ndarray, np.ndarray]] = {}

    def margins(share: np.ndarray) -> np.ndarray:
        """What is to be least, and what is left of each limit and of the lock that the course needs; NaN where there is nothing."""
        one = figures(share)
        locks = [getattr(one, f"spare_{side}_deg") / 10.0 for side in ("left", "right") if hasattr(one, f"spare_{side}_deg")]
        value = goal.value(one)
        left = [-bound.over(one) - CLOSE for bound in goal.bounds]
        return np.array([(value - base) / unit if isfinite(value) else np.nan, *left, *locks])

    def look(share: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Margins and their slopes, (m,) and (m, keys); a difference is taken to the side on which there is something."""
        seen = looked.get(share.tobytes())
        if seen is None:
            middle = margins(share)
            slopes = np.zeros((len(middle), len(share)))
            for key in range(len(share)):
                for step in (STEP, -STEP) if share[key] < 0.5 else (-STEP, STEP):
                    moved = share.copy()
                    moved[key] += step
                    change = (margins(moved) - middle) / step
                    slopes[:, key] = np.where(np.isfinite(change), change, 0.0)
                    if np.isfinite(change).all():
                        break
            seen = looked[share.tobytes()] = middle, slopes
        return seen

    worst = 1e3
    rest = [{"type": "ineq", "fun": lambda share: np.nan_to_num(margins(share)[1:], nan=-1.0), "jac": lambda share: look(share)[1][1:]}]
    bounds = [(0.0, 1.0)] * len(index)
    with suppress(_EnoughError):
        minimize(
            lambda share: float(np.nan_to_num(margins(share)[0], nan=worst)), where[index], jac=lambda share: look(share)[1][0],
            method="SLSQP", bounds=bounds, constraints=rest if len(margins(where[index])) > 1 else (),
            options={"maxiter": 40, "ftol": 1e-9},
        )  # fmt: skip
    best = min(mine, key=lambda point: goal.rank(mine[point]))
    most = len(mine) + SIMPLEX * len(index)

    def cost(share: np.ndarray) -> float:
        missed, value = goal.rank(figures(share))
        return (value - base) / unit if missed == 0 else worst * (1 + missed)

    middle = box.share(best)[index]
    corners = np.tile(middle, (len(index) + 1, 1))
    for key in range(len(index)):
        corners[key + 1, key] += FINE_SIMPLEX if middle[key] < 0.5 else -FINE_SIMPLEX
    with suppress(_EnoughError):
        minimize(
            cost, middle, method="Nelder-Mead", bounds=bounds,
            options={"maxfev": most, "xatol": POLISHED, "fatol": 1e-10, "initial_simplex": corners},
        )  # fmt: skip
    return place, list(mine.items())


def expected(keys: int) -> int:
    """About how many candidates a search tries [-].  keys : free ones [-]."""
    return SCAN.get(keys, 2) ** keys + DRAWN.get(keys, 512) + STARTS * (SLIDES + SIMPLEX) * keys + AROUND * keys


def first_look(problem: Candidates, seed: int) -> None:
    """The candidates that hang on neither objective nor limits.  problem : Candidates; seed : of those that are drawn [-]."""
    keys, count = problem.keys, DRAWN.get(problem.keys, 512)
    scan = [np.array(place) for place in product(np.linspace(0, 1, SCAN.get(keys, 2)), repeat=keys)]
    # A Latin square of as many keys: each of so many slices of a key's range has one.
    random = np.random.default_rng(seed)
    drawn = (np.array([random.permutation(count) for _ in range(keys)]) + random.random((keys, count))).T / count
    points = [problem.box.point(place) for place in (*scan, *drawn)]
    problem.all_figures([*points, *([problem.own] if problem.inside(problem.own) else [])])


def best_point(problem: Candidates, goal: Goal, seed: int) -> tuple[float, ...]:
    """The best candidate.

    problem : Candidates; goal : Goal; seed : of what is drawn [-]
    Returns its values [the key's unit]; as good as everything that was tried, what the team has among it where that is inside the
    bounds.  Where nothing is allowed it returns what is nearest to it.  What is tried without limits is tried with any limits, so a
    looser limit begins with all that a tighter one begins with.
    """
    first_look(problem, seed)
    _improve(problem, Goal(goal.least))
    if goal.bounds and goal.missed(problem.figures(problem.best(Goal(goal.least)))) > 0:
        _improve(problem, goal)
    return problem.best(goal)


def _improve(problem: Candidates, goal: Goal) -> None:
    """Local searches from several of the best candidates, and for one with limits from the best without."""
    starts = [*apart(problem, goal, STARTS), *([problem.best(Goal(goal.least))] if goal.bounds else [])]
    free = tuple(range(problem.keys))
    problem.descend([(goal, start, free) for start in dict.fromkeys(starts)], {goal.least: unit_of(problem, goal.least)})


def apart(problem: Candidates, goal: Goal, count: int) -> list[tuple[float, ...]]:
    """The best candidates that stand apart from each other.  problem : Candidates; goal : Goal; count : how many at most [-]."""
    chosen: list[tuple[float, ...]] = []
    for point in sorted(problem.asked, key=lambda point: goal.rank(problem.known[point])):
        share = problem.box.share(point)
        if all(np.abs(share - problem.box.share(other)).max() > APART for other in chosen):
            chosen.append(point)
            if len(chosen) == count:
                break
    return chosen


def unit_of(problem: Candidates, name: str) -> float:
    """The spread of the better half of what was tried, by which a local search does not hang on an objective's size.

    problem : Candidates; name : of the objective.  Returns it [the objective's unit].
    """
    goal = Goal(name)
    values = sorted(goal.value(problem.known[point]) for point in problem.asked if problem.known[point].missed == 0)
    values = [value for value in values if isfinite(value)]
    if not values:
        return 1.0
    return max(values[len(values) // 2] - values[0], 1e-9 * abs(values[0]), 1e-12)


def front_points(
    problem: Candidates, goal: Goal, other: str, best: tuple[float, ...], count: int, least_spans: tuple[float, float],
) -> list[tuple[float, ...]]:  # fmt: skip
    """The trade-off of two objectives: candidates of which none is better in both.

    problem : Candidates; goal : of the first objective; other : name of the second; best : of the first; count : points sought [-]
    least_spans : difference of each objective below which there is nothing to trade [its unit]
    Returns them, best of the first objective first; one alone where both objectives are best together.
    Source: the least of the second objective for bounds on the first, evenly between the two optima (it also finds what lies in a
    hollow of the front); textbook.
    """
    second = Goal(other, goal.bounds)
    _improve(problem, Goal(other))
    if second.missed(problem.figures(problem.best(Goal(other)))) > 0:
        _improve(problem, second)
    far = problem.best(second)
    ends = np.array([[one.value(problem.figures(point)) for one in (goal, second)] for point in (best, far)])
    span = np.ptp(ends, axis=0)
    if np.any(span <= np.asarray(least_spans)):
        return [best]
    levels = [Goal(other, (*goal.bounds, Bound(goal.least, 1, float(value)))) for value in np.linspace(ends[0, 0], ends[1, 0], count)[1:-1]]
    free = tuple(range(problem.keys))
    problem.descend([(level, problem.best(level), free) for level in levels], {other: unit_of(problem, other)})
    chosen = [best, *(problem.best(level) for level in levels), far]
    return undominated({point: (goal.value(problem.figures(point)), second.value(problem.figures(point))) for point in chosen})


def undominated(pairs: Mapping[tuple[float, ...], tuple[float, float]]) -> list[tuple[float, ...]]:
    """Those of which none other is better in both, by the first objective.

    pairs : values [the keys' units] to both objectives [their units].  Returns their values, least of the first objective first.
    """
    front: list[tuple[float, ...]] = []
    lowest = np.inf
    for point, (_, second) in sorted(pairs.items(), key=lambda pair: pair[1]):
        if second < lowest:
            front.append(point)
            lowest = second
    return front
