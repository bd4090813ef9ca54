"""Search: the arms, rods and toe that serve a course best, how flat the best is, and what it gains in a lap in time.

Candidates are judged by the sum of steady turns (`sim.search.judge`); the winner, what the team has, the members of a trade-off and the
ends of what is flat are then driven in time.  Same scenario, same options, same seed: same answer, whatever number of workers judges and
drives and wherever it was stopped on the way (`sim.search.kept`).
"""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import numpy as np

from sim.course.centreline import Course
from sim.errors import InputError
from sim.judgements import FLAT_LEAST, FLAT_SHARE
from sim.scenario.car import RearTyreTable
from sim.scenario.choice import chosen_setup
from sim.scenario.scenario import Scenario
from sim.scenario.setup import SetupTable
from sim.search.around import Valley, least_change, one_for_both, same_keys, valleys
from sim.search.gain import TRIES, broken_share, gain_range, stiffness_range, tighter_limits, tries, unsure_of
from sim.search.judge import LIMITS, OBJECTIVES, ROD_LIMITS, Figures, Judge, Why
from sim.search.kept import KeptCandidates
from sim.search.optimise import Bound, Candidates, Goal, best_point, expected, front_points, undominated
from sim.search.result import AT_BOUND, Doubt, Found, FreeRow, Gain, LapFigures, SearchResult, Together, lap_figures
from sim.search.setups import FreeKey, free_keys, with_keys
from sim.study.compare import target_of, without_toe
from sim.study.jobs import COLUMNS, Job, drive_jobs
from sim.study.ready import course_of, make_entry
from sim.study.summary import known
from sim.study.workers import Workers

FRONT = 12  # points of a trade-off that are sought
HALVINGS = 5  # of a flat range's ends towards what is recommended, where a lap in time does not find them as good
MOST_MADE_TO = 20.0  # [degrees or mm]; a part that is farther off is another part
# What a lap in time says of an objective; nothing of the error from ideal, which needs no lap.
DRIVEN: dict[str, Callable[[LapFigures], float | None]] = {
    "drive_work": lambda lap: lap.drive_work_J, "battery": lambda lap: lap.battery_Wh, "scrub": lambda lap: lap.scrub_J,
    "rub": lambda lap: lap.rub_m,
}  # fmt: skip
# Figures that two keys have to move alike to be one.
TELLING = ("drive_work", "scrub", "rub", "error", "turning_circle_m", "lock_deg", "rod_angle_deg", "shortest_rod_mm", "longest_rod_mm")

Values = tuple[float, ...]


def search(
    scenario: Scenario, folder: Path, source: str, *, setup: str | None = None, free: Mapping[str, tuple[float, float]] | None = None,
    objectives: Sequence[str] = ("drive_work",), limits: Mapping[str, float] | None = None, made_to: float | None = None,
    workers: Workers | None = None, store: Path | None = None, seed: int = 0,
    progress: Callable[[int, int, str], None] = lambda done, of, name: None,
) -> SearchResult:  # fmt: skip
    """The best values of a set-up's free keys for a course.

    scenario : Scenario; folder : where a relative course file is looked for; source : the scenario's name in messages
    setup : name or number (from 1) of the one to improve, the first with arms and rods where None
    free : key to (low, high) [the key's unit]; None or empty for the linkage's usual keys near what the team has
    objectives : one or two of OBJECTIVES; limits : of LIMITS, name to value
    made_to : how exactly a part can be made, for the range of the gain [degrees or mm]; None as drawn
    workers : who judges candidates and drives laps in time; store : folder in which candidates and laps are kept and from which they are
    taken up again; None keeps nothing; seed : of what is drawn [-]
    progress : called with candidates tried or laps driven, how many in all about, and a word
    Returns a SearchResult.  Raises InputError for what cannot be searched, and where nothing within the bounds gets round the course
    inside the limits.  Source: scan, sequential quadratic programming and simplex searches of SciPy.
    """
    limits, workers = dict(limits or {}), workers or Workers()
    _check(scenario, objectives, limits, made_to, seed)
    chosen = _chosen(scenario, setup, source)
    mine = scenario.setup[chosen]
    if not mine.kind.rods and ROD_LIMITS & limits.keys():
        raise InputError("--limit", min(ROD_LIMITS & limits.keys()), f'"{mine.name}" has no rods', "leave it out")
    keys = free_keys(mine, free or {}, source)
    make_entry(mine, scenario, source, mine.place)
    course = course_of(scenario, folder, source)
    target = target_of(scenario, course, source)
    # All that a candidate's figures depend on beside its values and the course.
    depends = [scenario.model_dump(mode="json"), chosen, [one.key for one in keys], target]
    kept = None if store is None else KeptCandidates(Figures, len(keys), store, depends, course)
    judge = Judge(scenario, course, mine, keys, target)
    own = tuple(float(getattr(mine, one.key) or 0.0) for one in keys)
    progress(0, expected(len(keys)), "candidates")
    with Candidates(judge, [(one.low, one.high) for one in keys], own, progress, kept, workers) as problem:
        bounds = tuple(Bound(name, 1 if LIMITS[name] == "most" else -1, value) for name, value in limits.items())
        goal = Goal(objectives[0], bounds)
        best = best_point(problem, goal, seed)
        if goal.missed(problem.figures(best)) > 0:
            raise InputError(source, mine.name, *nothing_found(problem.figures(best), limits))
        timed = Timed(scenario, course, chosen, keys, own, target, workers, store, progress)
        front: list[Values] = []
        if len(objectives) == 2:
            sought = front_points(problem, goal, objectives[1], best, FRONT, (FLAT_LEAST[objectives[0]], FLAT_LEAST[objectives[1]]))
            timed.drive(sought)
            front, best = _ranked(problem, timed, sought, objectives, best)
        middle = tuple(0.5 * (problem.box.low + problem.box.high))
        pairs = same_keys(problem, [best, middle], TELLING)
        best = one_for_both(problem, best, pairs, goal)
        allowed = _allowed(problem.figures(best), objectives)
        equal = Goal(objectives[0], (*bounds, *(Bound(name, 1, most) for name, most in allowed.items())))
        less = least_change(problem, best, equal)
        timed.drive([best, less])
        smaller = less not in (best, own) and timed.lap(less).finished
        recommended = less if smaller or less == own else best
        around = _valleys_in_time(problem, timed, recommended, equal, objectives)
        problem.keep()
        new = [timed.made(best), *([timed.made(less)] if smaller else [])]
        doubt = _doubt(scenario, chosen, keys, new, made_to, timed, judge, goal, seed, source)
        stiffness, gains = timed.gains(best)

        as_it_is = judge.figures_of(mine)  # not a candidate where it stands outside the bounds

        def named(values: Values) -> dict[str, float]:
            return {key.key: value for key, value in zip(keys, values, strict=True)}

        def found(values: Values) -> Found:
            made = with_keys(mine, keys, values, name=new_name(scenario, mine.name))
            return Found(named(values), problem.figures(values).shown(), timed.lap(values), made)

        return SearchResult(
            title=scenario.title, setup=mine.name, linkage=mine.linkage, objectives=tuple(objectives), limits=limits,
            target_m_per_s=target, closed=course.closed, candidates=problem.tried,
            free=_free_rows(problem, timed, goal, best, recommended, around),
            own=Found(named(own), as_it_is.shown(), timed.lap(own), mine), best=found(best),
            less_change=found(less) if smaller else None, level=less == own,
            gains=tuple(Gain(stiff, known(gain)) for stiff, gain in zip(stiffness, gains, strict=True)),
            front=tuple(found(one) for one in front),
            recommended="own" if recommended == own else "less_change" if smaller else "best",
            together=tuple(Together(keys[one].key, keys[other].key, ratio) for one, other, ratio in pairs), doubt=doubt,
            toe_cost_J=timed.toe_cost(),
        )  # fmt: skip


def _free_rows(
    problem: Candidates, timed: "Timed", goal: Goal, best: Values, recommended: Values, around: Sequence[Valley],
) -> tuple[FreeRow, ...]:  # fmt: skip
    """What is told of each free key."""
    work, rows = timed.lap(recommended).drive_work_J, []
    for index, (key, valley) in enumerate(zip(timed.keys, around, strict=True)):
        ends = [_less(timed.lap(_with(recommended, index, end)).drive_work_J, work) for end in (valley.low, valley.high)]
        samples = [(value, problem.figures(_with(recommended, index, value))) for value in valley.values]
        rows.append(FreeRow(
            key.key, key.low, key.high, problem.own[index], best[index], valley.low, valley.high,
            at_bound=min(best[index] - key.low, key.high - best[index]) <= AT_BOUND * (key.high - key.low),
            flat_low_costs_J=ends[0], flat_high_costs_J=ends[1],
            valley=tuple((value, known(goal.value(one)) if goal.missed(one) == 0 else None) for value, one in samples),
        ))  # fmt: skip
    return tuple(rows)


def _with(values: Values, index: int, value: float) -> Values:
    return (*values[:index], value, *values[index + 1 :])


def _less(before: float | None, after: float | None) -> float | None:
    return None if before is None or after is None else before - after


def _allowed(best: Figures, objectives: Sequence[str]) -> dict[str, float]:
    """The most of each objective that counts as equal to the best [its unit]."""
    return {name: _as_good(name, float(getattr(best, name))) for name in objectives}


def _as_good(name: str, value: float) -> float:
    """The most of an objective that counts as equal to a value [its unit]."""
    return value + max(FLAT_SHARE * abs(value), FLAT_LEAST[name])


def _ranked(
    problem: Candidates, timed: "Timed", sought: Sequence[Values], objectives: Sequence[str], best: Values,
) -> tuple[list[Values], Values]:  # fmt: skip
    """The members of a trade-off by their laps in time, those that are worse in both left out, and which of them is taken.

    Who calls the first objective equal along a part of the front takes the end of that part at which the second is least.  Where none
    gets round in time it stays with what the sum of steady turns says.
    """
    pairs: dict[Values, tuple[float, float]] = {}
    for point in sought:
        one, two = (timed.objective(problem, point, name) for name in objectives)
        if one is not None and two is not None:
            pairs[point] = one, two
    if not pairs:
        return [best], best
    front = undominated(pairs)
    most = _as_good(objectives[0], pairs[front[0]][0])
    return front, [point for point in front if pairs[point][0] <= most][-1]


def _valleys_in_time(
    problem: Candidates, timed: "Timed", centre: Values, goal: Goal, objectives: Sequence[str],
) -> list[Valley]:  # fmt: skip
    """The valleys around what is recommended, their ends moved in until a lap in time finds them as good too."""
    if goal.missed(problem.figures(centre)) > 0:
        return [Valley(value, value, ()) for value in centre]
    around = valleys(problem, centre, goal)
    ends = {(index, side): end for index, valley in enumerate(around) for side, end in enumerate((valley.low, valley.high))}
    most = {
        name: _as_good(name, value)
        for name in objectives if name in DRIVEN and (value := timed.objective(problem, centre, name)) is not None
    }  # fmt: skip
    waiting = list(ends)
    for look in range(HALVINGS + 1):
        points = {place: _with(centre, place[0], ends[place]) for place in waiting}
        timed.drive(list(points.values()))
        waiting = [
            place for place, point in points.items()
            if any(not (value := timed.objective(problem, point, name)) or value > limit for name, limit in most.items())
        ]  # fmt: skip
        for place in waiting:
            middle = centre[place[0]]
            ends[place] = middle if look == HALVINGS else 0.5 * (middle + ends[place])
    return [Valley(ends[index, 0], ends[index, 1], valley.values) for index, valley in enumerate(around)]


def _doubt(
    scenario: Scenario, chosen: int, keys: Sequence[FreeKey], found: Sequence[SetupTable], made_to: float | None, timed: "Timed",
    judge: Judge, goal: Goal, seed: int, source: str,
) -> Doubt | None:  # fmt: skip
    """How sure the gains of what was found are, None where only tyres are varied."""
    unsure = unsure_of(scenario, chosen, made_to, source)
    if not unsure and made_to is None:
        return None
    jobs, as_made = tries(scenario, chosen, keys, found, unsure, made_to, timed.target, seed, source)
    work = timed.rows(jobs)[:, COLUMNS.index("drive_work_J")].reshape(TRIES, 1 + len(found))
    ranges = [gain_range(work[:, 0] - work[:, place]) for place in range(1, 1 + len(found))]
    figures = [judge.figures_of(setup) for setup in as_made]
    return Doubt(
        tuple(one.path for one in unsure), made_to, TRIES, ranges[0], ranges[1] if len(ranges) > 1 else None,
        broken_share(goal.missed, figures), tighter_limits(goal.bounds, judge.figures_of(found[-1]), figures),
    )  # fmt: skip


class Timed:
    """Laps in time of candidates, each driven once.

    scenario, course, target : Scenario, Course, speed on the straights [m/s]; chosen : place of the set-up that is searched [-]
    keys : FreeKeys; own : their values of what the team has; workers, store, progress : as for `search`
    """

    def __init__(self, scenario: Scenario, course: Course, chosen: int, keys: Sequence[FreeKey], own: Values, target: float,
                 workers: Workers, store: Path | None, progress: Callable[[int, int, str], None]):  # fmt: skip
        self.scenario, self.course, self.target, self.keys, self.own = scenario, course, target, keys, own
        self.setup = scenario.setup[chosen]
        self.workers, self.store, self.progress = workers, store, progress
        self.laps: dict[Values, LapFigures] = {}
        self.drive([own])

    def made(self, values: Values) -> SetupTable:
        """The set-up that has values.  values : one a key [the key's unit]."""
        return self.setup if values == self.own else with_keys(self.setup, self.keys, values)

    def drive(self, points: Sequence[Values]) -> None:
        """Drive what was not driven before.  points : values one a key [the keys' units]."""
        new = [point for point in dict.fromkeys(points) if point not in self.laps]
        for point, row in zip(new, self.rows(self._jobs(self.scenario, new)), strict=True):
            self.laps[point] = lap_figures(row)

    def lap(self, values: Values) -> LapFigures:
        """The lap of a candidate that was driven.  values : one a key [the key's unit]."""
        return self.laps[values]

    def objective(self, problem: Candidates, values: Values, name: str) -> float | None:
        """An objective by the lap in time, of the error from ideal by the geometry.

        problem : Candidates; values : of one that was driven [the keys' units]; name : of the objective
        Returns it [its unit], None where it does not finish.
        """
        lap = self.lap(values)
        return (DRIVEN[name](lap) if name in DRIVEN else known(problem.figures(values).error)) if lap.finished else None

    def gains(self, best: Values) -> tuple[Values, Values]:
        """What the best saves on tyres low, as written and high: (stiffnesses [1/rad], drive work, NaN where one does not finish [J])."""
        tyre, rear = self.scenario.car.tyre, self.scenario.car.rear_tyre
        middle = tyre.cornering_stiffness_per_rad
        low, high = stiffness_range(middle)
        tyres = low, middle, high
        jobs = []
        for stiffness in (tyres[0], tyres[2]):
            parts: dict[str, RearTyreTable] = {"tyre": tyre.model_copy(update={"cornering_stiffness_per_rad": stiffness})}
            if rear is not None:
                scaled = rear.cornering_stiffness_per_rad * stiffness / middle
                parts["rear_tyre"] = rear.model_copy(update={"cornering_stiffness_per_rad": scaled})
            other = self.scenario.model_copy(update={"car": self.scenario.car.model_copy(update=parts)})
            jobs += self._jobs(other, [self.own, best])
        work = self.rows(jobs)[:, COLUMNS.index("drive_work_J")].reshape(2, 2)
        saved = _less(self.lap(self.own).drive_work_J, self.lap(best).drive_work_J)
        gains = work[:, 0] - work[:, 1]
        return tyres, (float(gains[0]), float("nan") if saved is None else saved, float(gains[1]))

    def toe_cost(self) -> float | None:
        """Drive work that toe and rod turns of what the team has cost; None where there is none of either, or one does not finish [J]."""
        straight = without_toe(self.setup)
        if straight is None:
            return None
        job = Job(self.scenario.model_copy(update={"setup": (straight.model_copy(update={"name": "searched"}),)}), 0, self.target)
        return _less(self.lap(self.own).drive_work_J, lap_figures(self.rows([job])[0]).drive_work_J)

    def rows(self, jobs: Sequence[Job]) -> np.ndarray:
        """Rows of `sim.study.jobs.drive_jobs` of some jobs.  jobs : laps.  Returns (n, COLUMNS) [SI, or the unit in the column's name]."""
        return drive_jobs(self.course, jobs, self.workers, lambda done, of: self.progress(done, of, "laps in time"), self.store)

    def _jobs(self, scenario: Scenario, points: Sequence[Values]) -> list[Job]:
        return [
            Job(scenario.model_copy(update={"setup": (self.made(point).model_copy(update={"name": "searched"}),)}), 0, self.target)
            for point in points
        ]


def _check(scenario: Scenario, objectives: Sequence[str], limits: Mapping[str, float], made_to: float | None, seed: int) -> None:
    if seed < 0:
        raise InputError("--seed", "", f"{seed} is below 0", "give a whole number")
    if made_to is not None and not 0 < made_to <= MOST_MADE_TO:
        raise InputError("--made-to", "", f"{made_to:g} is not above 0 and up to {MOST_MADE_TO:g}", "give degrees or mm, such as 1")
    choice = f"choose among {', '.join(OBJECTIVES)}".replace("_", "-")  # as the command line writes them
    if not 1 <= len(objectives) <= 2 or len(set(objectives)) != len(objectives):
        raise InputError("--objective", "", "a search has one objective or two different ones", choice)
    for name in objectives:
        if name not in OBJECTIVES:
            raise InputError("--objective", "", f"{name.replace('_', '-')!r} is no objective", choice)
        if name == "battery" and scenario.battery is None:
            raise InputError("--objective", "", "the scenario has no battery", "add [motor] and [battery], or choose drive-work")
    for name, value in limits.items():
        if name not in LIMITS:
            raise InputError("--limit", "", f"{name!r} is no limit", f"choose among {', '.join(LIMITS)}")
        if not 0 < value < 1e6:
            raise InputError("--limit", name, f"{value:g} is not above 0", "give a number above 0")


def _chosen(scenario: Scenario, name: str | None, source: str) -> int:
    """Place of the set-up to improve."""
    if name is None:
        rods = [i for i, one in enumerate(scenario.setup) if one.kind.rods]
        return rods[0] if rods else 0
    return chosen_setup([one.name for one in scenario.setup], name, source)


def new_name(scenario: Scenario, name: str) -> str:
    """A name for what is found, that no set-up has.  scenario : Scenario; name : of the set-up that was searched.  Returns the name."""
    taken = {one.name.casefold() for one in scenario.setup}
    names = (f"{name[:60]}, searched{f' {number}' if number > 1 else ''}" for number in range(1, len(taken) + 2))
    return next(new for new in names if new.casefold() not in taken)


def nothing_found(nearest: Figures, limits: Mapping[str, float]) -> tuple[str, str]:
    """Why a search found nothing, and what to do.  nearest : figures of what is nearest; limits : name to value [the unit in the name]."""
    if nearest.why in (Why.REFUSED, Why.UNBUILDABLE):
        return "nothing within the bounds can be built", "change the bounds (--free KEY=LOW:HIGH)"
    for name, limit in limits.items():
        value = getattr(nearest, name)
        if value > limit if LIMITS[name] == "most" else value < limit:
            which = " (it is the wheels' lock; the hand angle that `angles` calls lock is another figure)" if name == "lock_deg" else ""
            return (
                f"nothing within the bounds keeps {name}={limit:g}; the nearest has {value:.3g}{which}",
                "ease the limit or widen the bounds",
            )
    return "nothing within the bounds gets round the course: the lock or the grip is too small", "widen the bounds, or slow the pace"
