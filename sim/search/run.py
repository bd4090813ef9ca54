"""Search: the arms, rods and toe that serve a course best, how flat the best is, and what it gains in a lap in time.

Candidates are judged by the sum of steady turns (`sim.turn.stations`); the winner, what the team has, and the members of a trade-off are
then driven in time.  Same scenario, same options, same seed: same answer, whatever number of workers drives the laps and wherever it was
stopped on the way (`sim.search.kept`).
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import degrees, nan
from pathlib import Path

import numpy as np

from sim.course.centreline import Course
from sim.errors import InputError
from sim.pace.driver import plan_pace
from sim.scenario.car import MEASURED_STIFFNESS, RearTyreTable
from sim.scenario.choice import chosen_setup
from sim.scenario.scenario import Scenario
from sim.scenario.setup import SetupTable
from sim.scenario.tables import HOUR
from sim.search.kept import KeptCandidates
from sim.search.optimise import Candidates, best_point, expected, flat_range, front_points, least_change
from sim.search.result import Found, FreeRow, Gain, SearchResult, SumFigures, lap_figures
from sim.search.setups import FreeKey, free_keys, inner_angles, largest_inner, sketch, with_keys
from sim.study.compare import target_of
from sim.study.jobs import COLUMNS, Job, drive_jobs
from sim.study.race import laps_on_charge
from sim.study.ready import car_of, course_of, make_entry, pace_of, steer_needed
from sim.study.summary import known
from sim.study.workers import Workers
from sim.turn.stations import station_sum, stations_of

# What can be made least: name to its unit; the same names are attributes of Figures.
OBJECTIVES = {
    "drive_work": "J", "battery": "Wh", "scrub": "J", "rub": "m", "error": "deg",
}  # fmt: skip
# What can be limited: name to whether the value is the most or the least allowed.
LIMITS = {"turning_circle_m": "most", "kick_back_mm": "most", "lock_deg": "least"}
FLAT_SHARE = 0.01  # of an objective; what a key's flat range and a smaller change may cost
# ... and at least this much of each objective, which is also the least that is worth trading: nobody measures less.  Judgements.
FLAT_LEAST = {"drive_work": 0.1, "battery": 1e-4, "scrub": 0.1, "rub": 1e-3, "error": 0.01}
FRONT = 12  # points of a trade-off that are sought
UNBUILDABLE = 10.0  # in the place of how far a candidate misses: farther than any that can be built


@dataclass(frozen=True)
class Figures:
    """What one candidate does, by the sum of steady turns; NaN where it does not get round."""

    buildable: bool
    missed: float  # how far it is from getting round and keeping the limits, 0 where it does both [-]
    drive_work: float = nan  # [J] a lap
    battery: float = nan  # [Wh] a lap, NaN without a battery
    laps_per_charge: float = nan
    scrub: float = nan  # [J] a lap
    rub: float = nan  # of the worst tyre [m] a lap
    error: float = nan  # from ideal [deg]
    turning_circle_m: float = nan
    kick_back_mm: float = nan
    lock_deg: float = nan  # equivalent steer at the smaller lock

    def shown(self) -> SumFigures:
        """The same for a result [units in the names]."""
        return SumFigures(
            drive_work_J=known(self.drive_work), battery_Wh=known(self.battery), laps_per_charge=known(self.laps_per_charge),
            scrub_J=known(self.scrub), rub_m=known(self.rub), error_deg=known(self.error),
            turning_circle_m=known(self.turning_circle_m), kick_back_mm=known(self.kick_back_mm), lock_deg=known(self.lock_deg),
        )  # fmt: skip


def search(
    scenario: Scenario, folder: Path, source: str, *, setup: str | None = None, free: Mapping[str, tuple[float, float]] | None = None,
    objectives: Sequence[str] = ("drive_work",), limits: Mapping[str, float] | None = None, workers: Workers | None = None,
    store: Path | None = None, seed: int = 0, progress: Callable[[int, int, str], None] = lambda done, of, name: None,
) -> SearchResult:  # fmt: skip
    """The best values of a set-up's free keys for a course.

    scenario : Scenario; folder : where a relative course file is looked for; source : the scenario's name in messages
    setup : name or number (from 1) of the one to improve, the first with arms and rods where None
    free : key to (low, high) [the key's unit]; None or empty for the linkage's usual keys near what the team has
    objectives : one or two of OBJECTIVES; limits : of LIMITS, name to value
    workers : for the laps in time; store : folder in which candidates and laps are kept and from which they are taken up again; None
    keeps nothing; seed : of the global search [-]
    progress : called with candidates tried or laps driven, how many in all about, and a word
    Returns a SearchResult.  Raises InputError for what cannot be searched, and where nothing within the bounds gets round the course
    inside the limits.  Source: scan, differential evolution and a simplex search of SciPy.
    """
    limits = dict(limits or {})
    _check(scenario, objectives, limits, seed)
    chosen = _chosen(scenario, setup, source)
    mine = scenario.setup[chosen]
    keys = free_keys(mine, free or {}, source)
    make_entry(mine, scenario, source, f"setup[{chosen}]")
    course = course_of(scenario, folder, source)
    target = target_of(scenario, course, source)
    # All that a candidate's figures depend on beside its values and the course.
    depends = [scenario.model_dump(mode="json"), chosen, [one.key for one in keys], limits, target]
    kept = None if store is None else KeptCandidates(Figures, len(keys), store, depends, course)
    judge = Judge(scenario, course, mine, keys, limits, target)
    own = tuple(float(getattr(mine, one.key) or 0.0) for one in keys)
    progress(0, expected(len(keys)), "candidates")
    problem = Candidates(judge, [(one.low, one.high) for one in keys], own, progress, kept)
    best = best_point(problem, objectives[0], seed)
    if problem.figures(best).missed > 0:
        raise InputError(source, mine.name, *_nothing(problem.figures(best), limits))
    front = []
    if len(objectives) == 2:
        front = front_points(problem, objectives, best, FRONT, seed, [FLAT_LEAST[name] for name in objectives])
        # Who calls the first objective equal along a part of the front takes the end of that part at which the second is least.
        equal = _allowed(problem.figures(best), objectives[:1])
        best = [point for point in front if problem.within(point, equal)][-1]
    allowed = _allowed(problem.figures(best), objectives)
    flat = [flat_range(problem, best, index, allowed) for index in range(len(keys))]
    less = least_change(problem, best, allowed)
    problem.keep()
    points = [point for point in dict.fromkeys([best, less, *front]) if point != own]
    stiffness, laps = _drive(scenario, course, chosen, keys, points, target, workers or Workers(), store, progress)
    places = {own: 0} | {point: place for place, point in enumerate(points, start=1)}

    # What the team has may break the limits; its figures are wanted all the same.
    as_it_is = Judge(scenario, course, mine, keys, {}, target).figures_of(mine)

    def named(values: tuple[float, ...]) -> dict[str, float]:
        return {key.key: value for key, value in zip(keys, values, strict=True)}

    def found(values: tuple[float, ...]) -> Found:
        made = with_keys(mine, keys, values, name=new_name(scenario, mine.name))
        return Found(named(values), problem.figures(values).shown(), lap_figures(laps[1, places[values]]), made)

    work = laps[..., COLUMNS.index("drive_work_J")]
    rows = [
        FreeRow(one.key, one.low, one.high, before, value, *ends, min(value - one.low, one.high - value) <= 1e-3 * (one.high - one.low))
        for one, before, value, ends in zip(keys, own, best, flat, strict=True)
    ]  # fmt: skip
    gains = [Gain(stiff, known(gain)) for stiff, gain in zip(stiffness, work[:, 0] - work[:, places[best]], strict=True)]
    smaller = less not in (best, own) and laps[1, places[less], COLUMNS.index("finished")] > 0
    return SearchResult(
        title=scenario.title, setup=mine.name, linkage=mine.linkage, objectives=tuple(objectives), limits=limits,
        target_m_per_s=target, closed=course.closed, candidates=problem.tried, free=tuple(rows),
        own=Found(named(own), as_it_is.shown(), lap_figures(laps[1, 0]), mine), best=found(best),
        less_change=found(less) if smaller else None, level=less == own, gains=tuple(gains), front=tuple(found(one) for one in front),
    )  # fmt: skip


def _allowed(best: Figures, objectives: Sequence[str]) -> dict[str, float]:
    """The most of each objective that counts as equal to the best [its unit]."""
    values = {name: float(getattr(best, name)) for name in objectives}
    return {name: value + max(FLAT_SHARE * abs(value), FLAT_LEAST[name]) for name, value in values.items()}


class Judge:
    """Figures of candidates on one course at one pace.

    scenario : Scenario; course : Course; setup : what the team has; free : the FreeKeys; limits : name to value
    target : speed on the straights [m/s]
    """

    def __init__(self, scenario: Scenario, course: Course, setup: SetupTable, free: Sequence[FreeKey], limits: Mapping[str, float],
                 target: float):  # fmt: skip
        self.table, self.setup, self.free, self.limits = scenario.car, setup, free, limits
        self.car = car_of(scenario)
        self.stations = stations_of(course, self.car, plan_pace(course, self.car, pace_of(scenario, target)))
        self.left, self.right, _ = steer_needed(course, self.car)
        left, right = largest_inner(self.left, self.right, self.table)
        self.inner = inner_angles(left), inner_angles(right)
        self.distance = float(self.stations.length.sum())

    def __call__(self, values: Sequence[float]) -> Figures:
        """Figures of a candidate.  values : one a free key [the key's unit].  Returns Figures."""
        try:
            setup = with_keys(self.setup, self.free, values)
        except ValueError:  # keys that the scenario refuses together
            return Figures(buildable=False, missed=UNBUILDABLE)
        return self.figures_of(setup)

    def figures_of(self, setup: SetupTable) -> Figures:
        """Figures of any set-up.  setup : SetupTable.  Returns Figures [units in the names]."""
        made = sketch(setup, self.table, self.left, self.right, self.inner)
        if made is None:
            return Figures(buildable=False, missed=UNBUILDABLE)
        lock = degrees(min(made.reach_left, -made.reach_right))
        held = {"turning_circle_m": made.circle, "kick_back_mm": 1e3 * made.hub_arm, "lock_deg": lock}
        missed = 0.0
        for name, limit in self.limits.items():
            over = held[name] - limit if LIMITS[name] == "most" else limit - held[name]
            missed += max(over, 0.0) / abs(limit)
        missed += max(self.left - made.reach_left, 0.0) + max(made.reach_right - self.right, 0.0)
        if missed > 0:  # not allowed, whatever it costs; and a lock too small keeps the solver busy for nothing
            return Figures(buildable=True, missed=missed, error=degrees(made.error), **held)
        total = station_sum(self.car, made.table, self.stations)
        missed = total.failed / self.distance
        electric = self.car.motor.torque_constant > 0 and total.feasible
        return Figures(
            buildable=True, missed=missed, drive_work=total.drive_work, battery=total.battery / HOUR,
            laps_per_charge=laps_on_charge(total.used_charge, self.car.battery) if electric else nan,
            scrub=total.scrub, rub=float(total.rub.max()), error=degrees(made.error), **held,
        )  # fmt: skip


def _check(scenario: Scenario, objectives: Sequence[str], limits: Mapping[str, float], seed: int) -> None:
    if seed < 0:
        raise InputError("--seed", "", f"{seed} is below 0", "give a whole number")
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


def _nothing(nearest: Figures, limits: Mapping[str, float]) -> tuple[str, str]:
    """Why a search found nothing, and what to do."""
    if not nearest.buildable:
        return "nothing within the bounds can be built", "change the bounds (--free KEY=LOW:HIGH)"
    for name, limit in limits.items():
        value = getattr(nearest, name)
        if value > limit if LIMITS[name] == "most" else value < limit:
            return f"nothing within the bounds keeps {name}={limit:g}; the nearest has {value:.3g}", "ease the limit or widen the bounds"
    return "nothing within the bounds gets round the course: the lock or the grip is too small", "widen the bounds, or slow the pace"


def _drive(
    scenario: Scenario, course: Course, chosen: int, keys: Sequence[FreeKey], points: Sequence[tuple[float, ...]], target: float,
    workers: Workers, store: Path | None, progress: Callable[[int, int, str], None],
) -> tuple[tuple[float, ...], np.ndarray]:  # fmt: skip
    """Laps in time of the own set-up, the best and a trade-off's members: (tyres, set-ups, columns)."""
    own = scenario.setup[chosen].model_copy(update={"name": "own"})
    setups = [own, *(with_keys(own, keys, point, name=f"searched {index}") for index, point in enumerate(points, start=1))]
    tyre, rear = scenario.car.tyre, scenario.car.rear_tyre
    middle = tyre.cornering_stiffness_per_rad
    low, high = MEASURED_STIFFNESS
    # A tyre outside the usual range has been measured or is of another kind; then by the same factors.
    tyres = (low, middle, high) if low < middle < high else (0.5 * middle, middle, 1.5 * middle)
    jobs = []
    for stiffness in tyres:
        parts: dict[str, RearTyreTable] = {"tyre": tyre.model_copy(update={"cornering_stiffness_per_rad": stiffness})}
        if rear is not None:
            scaled = rear.cornering_stiffness_per_rad * stiffness / middle
            parts["rear_tyre"] = rear.model_copy(update={"cornering_stiffness_per_rad": scaled})
        other = scenario.model_copy(update={"car": scenario.car.model_copy(update=parts), "setup": tuple(setups)})
        jobs += [Job(other, index, target) for index in range(len(setups))]
    rows = drive_jobs(course, jobs, workers, lambda done, of: progress(done, of, "laps in time"), store)
    return tyres, rows.reshape(len(tyres), len(setups), len(COLUMNS))
