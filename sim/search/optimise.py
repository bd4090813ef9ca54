"""Minimising over a box: a scan, a global search begun from it, a local search, and what surrounds the optimum."""

from collections.abc import Callable, Mapping, Sequence
from itertools import combinations, product
from typing import Any, Protocol

import numpy as np

from sim.search.kept import KeptCandidates

SCAN = {1: 17, 2: 9, 3: 5, 4: 4}  # values a key in the scan, by the number of keys; 3 for more
MEMBERS_PER_KEY, LEAST_MEMBERS, GENERATIONS = 8, 16, 30  # of the global search
POLISH = 100  # candidates a key of a local search
POLISHED = 1e-6  # of a key's range, to which the local search goes on
SAMPLES, HALVINGS = 8, 12  # to each side of the best, then halvings, for a flat range: to a 30,000th of the bounds


class Rated(Protocol):
    """Figures of a candidate, of which `missed` says how far it is from being allowed."""

    @property
    def missed(self) -> float:
        """0 where the candidate is allowed [-]."""


class Candidates:
    """Candidates within a box, each judged once: the one place that remembers them.

    judge : values to figures; bounds : (low, high) a key [the key's unit]; own : what the team has
    progress : called with candidates tried, how many in all about, and a word
    kept : what is on the drive of them, None keeps nothing
    """

    def __init__(self, judge: Callable[[Sequence[float]], Any], bounds: Sequence[tuple[float, float]], own: tuple[float, ...],
                 progress: Callable[[int, int, str], None], kept: KeptCandidates | None = None):  # fmt: skip
        self.judge, self.own, self.progress, self.kept = judge, own, progress, kept
        self.low, self.high = np.array(bounds, dtype=float).T
        self.known: dict[tuple[float, ...], Any] = {} if kept is None else kept.taken_up()
        # Those that this search has asked for, in its own order: what an earlier one knew besides may not sway it.
        self.asked: dict[tuple[float, ...], None] = {}

    @property
    def tried(self) -> int:
        """Candidates asked for [-]."""
        return len(self.asked)

    @property
    def seen(self) -> dict[tuple[float, ...], Any]:
        """Figures of the candidates asked for, in their order."""
        return {point: self.known[point] for point in self.asked}

    @property
    def keys(self) -> int:
        """Free keys [-]."""
        return len(self.low)

    def figures(self, values: Sequence[float]) -> Any:
        """Figures of a candidate.  values : one a key, inside the bounds [the key's unit]."""
        point = tuple(float(value) for value in values)
        if point not in self.known:
            self.known[point] = self.judge(point)
            if self.kept is not None:
                self.kept.note(self.known)
        if point not in self.asked:
            self.asked[point] = None
            if self.tried % 10 == 1:
                self.progress(self.tried, max(expected(self.keys), self.tried), "candidates")
        return self.known[point]

    def keep(self) -> None:
        """Write to the drive what is new.  Raises InputError where it can't be written."""
        if self.kept is not None:
            self.kept.keep(self.known)

    def point(self, share: np.ndarray) -> tuple[float, ...]:
        """A place in the unit cube as values, never outside the bounds.  share : (keys,) 0 to 1 [-]."""
        share = np.asarray(share, dtype=float)
        values = np.clip(self.low + share * (self.high - self.low), self.low, self.high)
        return tuple(float(value) + 0.0 for value in np.where(share >= 1, self.high, values))  # + 0.0: no zero with a minus

    def share(self, values: Sequence[float]) -> np.ndarray:
        """Values as a place in the unit cube (keys,) [-].  values : one a key."""
        return (np.asarray(values) - self.low) / (self.high - self.low)

    def inside(self, values: Sequence[float]) -> bool:
        """Whether values keep the bounds.  values : one a key [the key's unit]."""
        return bool(np.all((values >= self.low) & (values <= self.high)))

    def within(self, values: Sequence[float], allowed: Mapping[str, float]) -> bool:
        """Whether a candidate is allowed and costs no more than it may.

        values : one a key [the key's unit]; allowed : objective to the most of it [its unit]
        """
        figures = self.figures(values)
        return figures.missed == 0 and all(getattr(figures, name) <= most for name, most in allowed.items())

    def best(self, rating: Callable[[Any], float]) -> tuple[float, ...]:
        """The best candidate so far, the first of equals; of none that is allowed, the nearest.

        rating : figures to what is to be least [any unit]
        """
        seen = self.seen
        return min(seen, key=lambda point: (seen[point].missed, rating(seen[point]) if seen[point].missed == 0 else 0))


def expected(keys: int) -> int:
    """About how many candidates a search tries [-].  keys : free ones [-]."""
    members = max(MEMBERS_PER_KEY * keys, LEAST_MEMBERS)
    return SCAN.get(keys, 3) ** keys + members * (GENERATIONS + 1) + POLISH * keys + 2 * keys * (SAMPLES + HALVINGS)


def _rater(objective: str) -> Callable[[Any], float]:
    return lambda figures: float(getattr(figures, objective))


def best_point(problem: Candidates, objective: str, seed: int) -> tuple[float, ...]:
    """The best candidate: of a scan, a global search that begins with the scan's best, and a local search.

    problem : Candidates; objective : name of the figure to be least; seed : of the global search [-]
    Returns its values [the key's unit]; as good as everything that was tried, what the team has among it where that is inside the
    bounds.  Where nothing is allowed it returns what is nearest to it.
    """
    from scipy.optimize import differential_evolution
    from scipy.stats.qmc import LatinHypercube

    keys = problem.keys
    scan = [np.array(place) for place in product(np.linspace(0, 1, SCAN.get(keys, 3)), repeat=keys)]
    for place in scan:
        problem.figures(problem.point(place))
    if problem.inside(problem.own):
        problem.figures(problem.own)
    rating = _rater(objective)
    values = sorted(rating(one) for one in problem.seen.values() if one.missed == 0)
    # One unit of the search is the spread of the better half of the scan, so that its end does not hang on the objective's size.
    base = values[0] if values else 0.0
    spread = max(values[len(values) // 2] - base, 1e-12 * abs(base), 1e-300) if values else 1.0
    worst = 1e3

    def cost(share: np.ndarray) -> float:
        figures = problem.figures(problem.point(share))
        return min((rating(figures) - base) / spread, worst) if figures.missed == 0 else 2 * worst + 1e3 * figures.missed

    members = max(MEMBERS_PER_KEY * keys, LEAST_MEMBERS)
    ranked = sorted(problem.seen, key=lambda point: cost(problem.share(point)))[: members // 2]
    drawn = LatinHypercube(keys, rng=seed).random(members - len(ranked))
    first = np.vstack([*(problem.share(point) for point in ranked), drawn])
    differential_evolution(
        cost, [(0.0, 1.0)] * keys, init=first, maxiter=GENERATIONS, tol=0.0, atol=1e-6, polish=False, rng=seed,
        mutation=(0.4, 0.9), recombination=0.8,
    )  # fmt: skip
    best = problem.best(rating)
    if problem.figures(best).missed == 0:
        polish(problem, rating, best, spread)
    return problem.best(rating)


def polish(problem: Candidates, rating: Callable[[Any], float], start: tuple[float, ...], spread: float) -> None:
    """A local search; what it finds is among the problem's candidates.

    problem : Candidates; rating : figures to what is to be least; start : an allowed candidate [the keys' units]
    spread : unit of the rating
    Source: SciPy's bounded simplex search, which needs no slope and bears the edge of what is allowed.
    """
    from scipy.optimize import minimize

    base = rating(problem.figures(start))

    def cost(share: np.ndarray) -> float:
        figures = problem.figures(problem.point(share))
        return (rating(figures) - base) / spread if figures.missed == 0 else 1e3 * (1 + figures.missed)

    place = problem.share(start)
    corners = np.tile(place, (problem.keys + 1, 1))
    for index in range(problem.keys):
        corners[index + 1, index] += 0.05 if place[index] < 0.5 else -0.05
    minimize(
        cost, place, method="Nelder-Mead", bounds=[(0.0, 1.0)] * problem.keys,
        options={"maxfev": POLISH * problem.keys, "xatol": POLISHED, "fatol": 1e-12, "initial_simplex": corners},
    )  # fmt: skip


def flat_range(problem: Candidates, best: tuple[float, ...], index: int, allowed: Mapping[str, float]) -> tuple[float, float]:
    """Between which values of one key the objectives stay within what is allowed, the other keys held.

    problem : Candidates; best : the optimum; index : of the key; allowed : objective to the most of it [its unit]
    Returns (low, high) [the key's unit]: the stretch around the optimum, to the first value that costs more, or is not allowed at all,
    on each side; the bounds where there is none.  A bump narrower than an eighth of the way is overlooked.
    """

    def fine(value: float) -> bool:
        return problem.within([*best[:index], value, *best[index + 1 :]], allowed)

    ends = []
    for bound in (problem.low[index], problem.high[index]):
        steps = [float(value) for value in np.linspace(best[index], bound, SAMPLES + 1)]
        last = next((place for place in range(SAMPLES) if not fine(steps[place + 1])), SAMPLES)
        inside, outside = steps[last], steps[min(last + 1, SAMPLES)]
        for _ in range(HALVINGS if last < SAMPLES else 0):
            middle = 0.5 * (inside + outside)
            inside, outside = (middle, outside) if fine(middle) else (inside, middle)
        ends.append(inside)
    return ends[0], ends[1]


def least_change(problem: Candidates, best: tuple[float, ...], allowed: Mapping[str, float]) -> tuple[float, ...]:
    """The optimum with as many keys as possible put back to what the team has.

    problem : Candidates; best : the optimum; allowed : objective to the most of it [its unit]
    Returns values within what is allowed [the key's unit], the other keys held; of equally many put back, the least of the first
    objective.  The optimum itself where no key can be put back.
    """
    first = next(iter(allowed))
    movable = [
        index for index, value in enumerate(problem.own) if problem.low[index] <= value <= problem.high[index] and value != best[index]
    ]  # fmt: skip
    for count in range(len(movable), 0, -1):
        points = [
            tuple(problem.own[index] if index in back else value for index, value in enumerate(best))
            for back in combinations(movable, count)
        ]  # fmt: skip
        fine = [point for point in points if problem.within(point, allowed)]
        if fine:
            return min(fine, key=lambda point: float(getattr(problem.figures(point), first)))
    return best


def front_points(
    problem: Candidates, objectives: Sequence[str], best: tuple[float, ...], count: int, seed: int, least_spans: Sequence[float],
) -> list[tuple[float, ...]]:  # fmt: skip
    """The trade-off of two objectives: candidates of which none is better in both.

    problem : Candidates; objectives : two names; best : of the first; count : points sought [-]; seed : of the global search [-]
    least_spans : difference of each objective below which there is nothing to trade [its unit]
    Returns them, best of the first objective first; one alone where both objectives are best together.
    Source: weighted Chebyshev sweep between the two optima (it also finds what lies in a hollow of the front); textbook.
    """
    one, two = (_rater(name) for name in objectives)
    other = best_point(problem, objectives[1], seed)
    ends = np.array([[rate(problem.figures(point)) for rate in (one, two)] for point in (best, other)])
    least, span = ends.min(axis=0), np.ptp(ends, axis=0)
    if np.any(span <= np.asarray(least_spans)):
        return [best]
    chosen = [best, other]
    for weight in np.linspace(0, 1, count)[1:-1]:

        def rating(figures: Any, weight: float = float(weight)) -> float:
            parts = weight * (one(figures) - least[0]) / span[0], (1 - weight) * (two(figures) - least[1]) / span[1]
            return max(parts) + 1e-6 * sum(parts)  # the sum tells apart what is equal in the greater part

        polish(problem, rating, problem.best(rating), 1.0)
        chosen.append(problem.best(rating))
    pairs = {point: (one(problem.figures(point)), two(problem.figures(point))) for point in chosen}
    rated = sorted(pairs.items(), key=lambda pair: pair[1])
    front: list[tuple[float, ...]] = []
    lowest = np.inf
    for point, (_, second) in rated:
        if second < lowest:
            front.append(point)
            lowest = second
    return front
