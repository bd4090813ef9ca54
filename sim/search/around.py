"""What surrounds an optimum: as few changes as do as well, how flat its valleys are, and keys of which one undoes the other."""

from collections.abc import Sequence
from itertools import combinations
from typing import NamedTuple

import numpy as np

from sim.search.optimise import STEP, Candidates, Goal, unit_of

SIDE, PARTS, LOOKS = 12, 8, 4  # samples to each side of an optimum; then a step is cut into parts so often: to a 50,000th of the bounds
EQUAL = 1e-5  # of an objective: what differs by less does so because one key undoes the other but nearly [-]
SAME = 1e-2  # two keys do the same where the lesser singular value of their slopes is below this share of the greater


def least_change(problem: Candidates, best: tuple[float, ...], goal: Goal) -> tuple[float, ...]:
    """As many keys as possible as the team has them, the others made the best of.

    problem : Candidates; best : the optimum; goal : with bounds on all that it may cost
    Returns values within what is allowed [the key's unit]; of equally many put back, the least.  The optimum itself where no key can be
    put back.
    """
    movable = [index for index, value in enumerate(problem.own)
               if problem.box.low[index] <= value <= problem.box.high[index] and value != best[index]]  # fmt: skip
    unit = {goal.least: unit_of(problem, goal.least)}
    for count in range(len(movable), 0, -1):
        starts = {
            back: tuple(problem.own[index] if index in back else value for index, value in enumerate(best))
            for back in combinations(movable, count)
        }  # fmt: skip
        problem.all_figures(list(starts.values()))
        # A key of which the best is what the team has stays so.
        free = {back: tuple(index for index in range(problem.keys) if index not in back and best[index] != problem.own[index])
                for back in starts}  # fmt: skip
        problem.descend([(goal, start, free[back]) for back, start in starts.items() if free[back]], unit)
        fine = [
            point for point in problem.asked if goal.missed(problem.known[point]) == 0
            and sum(point[index] == problem.own[index] for index in movable) == count
            and all(point[index] == problem.own[index] for index, value in enumerate(best) if value == problem.own[index])
        ]  # fmt: skip
        if fine:
            return min(fine, key=lambda point: goal.rank(problem.known[point]))
    return best


class Valley(NamedTuple):
    """What one key does around a candidate, the others held.

    low, high : between which it is as good as what is allowed [the key's unit]; values : samples from bound to bound [the key's unit]
    """

    low: float
    high: float
    values: tuple[float, ...]


def valleys(problem: Candidates, centre: tuple[float, ...], goal: Goal) -> list[Valley]:
    """Between which values of each key a candidate stays within what is allowed, the other keys held.

    problem : Candidates; centre : the candidate, allowed itself [the keys' units]; goal : with bounds on all that it may cost
    Returns a Valley a key: the stretch around the candidate, to the first value that costs more, or is not allowed at all, on each
    side; the bounds where there is none.  A bump narrower than a twelfth of the way is overlooked.
    """

    def with_value(index: int, value: float) -> tuple[float, ...]:
        return (*centre[:index], value, *centre[index + 1 :])

    def steps(index: int, near: float, far: float, parts: int) -> list[float]:
        return [near, *(float(value) for value in np.linspace(near, far, parts + 1)[1:-1]), far]

    ends = {
        (index, side): steps(index, centre[index], float(bound[index]), SIDE)
        for index in range(problem.keys) for side, bound in enumerate((problem.box.low, problem.box.high))
    }  # fmt: skip
    samples = dict(ends)
    for look in range(LOOKS + 1):
        problem.all_figures([with_value(index, value) for (index, _), values in ends.items() for value in values])
        for (index, side), values in list(ends.items()):
            fine = [goal.missed(problem.figures(with_value(index, value))) == 0 for value in values]
            last = fine.index(False) - 1 if False in fine else len(values) - 1
            whole = last == len(values) - 1
            ends[index, side] = [values[-1]] if whole else steps(index, values[max(last, 0)], values[max(last, 0) + 1], PARTS) \
                if look < LOOKS else [values[max(last, 0)]]  # fmt: skip
    return [
        Valley(ends[index, 0][0], ends[index, 1][0], (*reversed(samples[index, 0]), *samples[index, 1][1:]))
        for index in range(problem.keys)
    ]


def same_keys(problem: Candidates, points: Sequence[tuple[float, ...]], names: Sequence[str]) -> list[tuple[int, int, float]]:
    """Pairs of keys of which one undoes what the other does.

    problem : Candidates; points : at which it has to be so [the keys' units]; names : of the figures that may not tell them apart
    Returns (one, other, ratio): so many units of the other do what a unit of the one does.
    """
    slopes = [slope for slope in (_slopes(problem, point, names) for point in points) if slope is not None]
    found = []
    for one, other in combinations(range(problem.keys), 2):
        pairs = [slope[:, [one, other]] for slope in slopes]
        if not pairs or any(min(np.abs(pair).max(axis=0)) == 0 for pair in pairs):
            continue
        sizes = [np.linalg.svd(pair / np.abs(pair).max(axis=0), compute_uv=False) for pair in pairs]
        if all(size[1] < SAME * size[0] for size in sizes):
            first, second = pairs[0].T
            found.append((one, other, float(first @ second) / float(second @ second)))
    return found


def one_for_both(
    problem: Candidates, best: tuple[float, ...], pairs: Sequence[tuple[int, int, float]], goal: Goal,
) -> tuple[float, ...]:  # fmt: skip
    """The same optimum with as few keys moved as it takes: of two keys that undo each other one is left as the team has it.

    problem : Candidates; best : the optimum; pairs : of `same_keys`; goal : Goal
    Returns values [the keys' units] that are as good but for rounding; the optimum itself where a key would leave its bounds.
    """
    for one, other, ratio in pairs:
        for moved, left, share in ((one, other, 1 / ratio), (other, one, ratio)):
            change = (best[left] - problem.own[left]) * share
            point = tuple(problem.own[left] if index == left else value + change * (index == moved) for index, value in enumerate(best))
            if point == best or not problem.inside(point):
                continue
            figures, value = problem.figures(point), goal.value(problem.figures(best))
            if goal.missed(figures) == 0 and goal.value(figures) <= value + EQUAL * abs(value):
                best = point
                break
    return best


def _slopes(problem: Candidates, point: tuple[float, ...], names: Sequence[str]) -> np.ndarray | None:
    """Slopes of some figures with each key (figures, keys), each figure as a share of itself; None where there are none [1/key's unit]."""
    width = STEP * (problem.box.high - problem.box.low)
    centre = np.clip(point, problem.box.low + width, problem.box.high - width)
    moved = [centre + sign * width * (np.arange(problem.keys) == index) for index in range(problem.keys) for sign in (1, -1)]
    figures = problem.all_figures([tuple(map(float, centre)), *(tuple(map(float, one)) for one in moved)])
    values = np.array([[float(getattr(one, name)) for name in names] for one in figures])
    usable = np.isfinite(values).all(axis=0) & (np.abs(values[0]) > 0)
    if usable.sum() < 2 or any(one.missed > 0 for one in figures):
        return None
    middle, ahead, behind = values[0, usable], values[1::2, usable], values[2::2, usable]
    return ((ahead - behind) / (2 * width[:, None]) / np.abs(middle)).T
