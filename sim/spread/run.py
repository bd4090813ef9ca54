"""Spread: how sure the figures of each set-up are, whether two set-ups can be told apart, and which unsure number decides it.

Every draw gives all set-ups the same car, tyres and air, so that what they share falls out of their difference.  The statistics are
pure functions of a sample and of an evaluator, which a formula can stand in for.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

import numpy as np

from sim.errors import InputError
from sim.scenario.scenario import Scenario
from sim.spread.inputs import Input, check_cars, drawn, inputs_of, unit_points, variant
from sim.spread.statistics import (
    DRAWS_A_TERM,
    POWERS,
    Estimate,
    Interval,
    Resamples,
    additive_shares,
    chance_below,
    estimate,
    interval_of,
    sobol_shares,
)  # fmt: skip
from sim.store.rows import open_store
from sim.study.compare import target_of
from sim.study.jobs import COLUMNS, Job, drive_jobs
from sim.study.ready import car_of, check_lock, course_of, entries_of
from sim.study.workers import Workers

# What is told of every set-up; set-ups are compared by the first.
FIGURES = (
    "drive_work_J", "scrub_J", "rolling_J", "air_J", "lap_time_s", "min_load_N", "battery_Wh", "laps_per_charge", "race_distance_m",
)  # fmt: skip
FEWEST_SAMPLES, MOST_SAMPLES = 16, 16384
FEWEST = 8  # draws in which a set-up gets round, below which nothing is told of it
ALIKE = 1e-9  # of the figure itself: a spread below this is rounding

Evaluate = Callable[[np.ndarray], np.ndarray]  # points of the unit cube (n, inputs) to figures (n, set-ups, figures), NaN for none


@dataclass(frozen=True)
class Shares:
    """Which input decides a figure: shares of its variance by index of the input.

    alone, total : by the input on its own, and with what it does together with others, None where no Saltelli design was driven [-]
    draws : that they rest on, of each set of a design [-]
    """

    alone: dict[int, Estimate]
    total: dict[int, Estimate] | None
    draws: int


@dataclass(frozen=True)
class SetupSpread:
    """One set-up.

    finished : share of the draws in which it gets round [-]; figures : one of FIGURES each, None where there is none [the unit in its name]
    shares : of its first figure
    """

    finished: float
    figures: tuple[Interval | None, ...]
    shares: Shares | None


@dataclass(frozen=True)
class PairSpread:
    """Two set-ups in the same draws; only draws count in which both get round.

    first, second : their places among the set-ups [-]; draws : that count [-]
    gain : the first figure of the second less that of the first, above 0 where the first needs less [J]
    chance : that the first needs less; equal ones count half [-]; shares : of the gain
    """

    first: int
    second: int
    draws: int
    gain: Interval | None
    chance: Estimate | None
    shares: Shares | None

    @property
    def told_apart(self) -> bool:
        """Whether the interval of the gain leaves 0 out."""
        return self.gain is not None and (self.gain.low.value > 0 or self.gain.high.value < 0)


@dataclass(frozen=True)
class Spread:
    """A study of uncertainty: what `spread` found.

    title : of the scenario; names : of the set-ups; inputs : what was unsure
    clipped : share of each input's draws that were set to a bound [-]; samples, seed : of the draws [-]; laps : driven [-]
    target : speed on the straights of the scenario as it is written [m/s]; closed : whether the course is
    setups : one each, in the scenario's order; pairs : each once, in the scenario's order
    """

    title: str
    names: tuple[str, ...]
    inputs: tuple[Input, ...]
    clipped: tuple[float, ...]
    samples: int
    seed: int
    laps: int
    target: float
    closed: bool
    setups: tuple[SetupSpread, ...]
    pairs: tuple[PairSpread, ...]

    @property
    def clipped_share(self) -> float:
        """Share of all draws that were set to a bound [-]."""
        return sum(self.clipped) / len(self.clipped)


def spread(
    scenario: Scenario, folder: Path, source: str, *, samples: int = 256, seed: int = 0, literature: bool = False, sobol: bool = False,
    workers: Workers | None = None, store: Path | None = None, progress: Callable[[int, int, str], None] = lambda done, of, name: None,
) -> Spread:  # fmt: skip
    """Drive every set-up with many draws of the scenario's unsure numbers.

    scenario : Scenario; folder : where a relative course file is looked for; source : the scenario's name in messages
    samples : draws, a power of two; seed : of the draws; literature : as for `spread.inputs.inputs_of`
    sobol : also drive a Saltelli design, which takes as many draws again for each input and once more
    workers, store : of `study.jobs.drive_jobs`; progress : called with the laps driven, the laps in all and a word
    Returns a Spread.  Raises InputError for what cannot be drawn, built or driven at all.
    """
    if not FEWEST_SAMPLES <= samples <= MOST_SAMPLES or samples & (samples - 1):
        allowed = f"a power of two from {FEWEST_SAMPLES} to {MOST_SAMPLES}"
        raise InputError("--samples", "", f"{samples} is not {allowed}", "draws are spread evenly; 256 is usual, 1024 is finer")
    if seed < 0:
        raise InputError("--seed", "", f"{seed} is below 0", "give a whole number")
    inputs = inputs_of(scenario, literature, source)
    open_store(store)
    course = course_of(scenario, folder, source)
    check_lock(course, car_of(scenario), entries_of(scenario, source), source)
    progress(0, samples * len(scenario.setup), "laps")
    target = target_of(scenario, course, source)
    driven = 0

    def evaluate(points: np.ndarray) -> np.ndarray:
        nonlocal driven
        values, _ = drawn(inputs, points)
        check_cars(scenario, inputs, values, source)
        jobs, places = _jobs(scenario, inputs, values, target)
        driven += len(jobs)
        rows = drive_jobs(course, jobs, workers or Workers(), lambda done, of: progress(done, of, "laps"), store)
        columns = [COLUMNS.index(name) for name in FIGURES]
        return rows[:, columns][places]

    points = unit_points(samples, len(inputs), seed)
    values, clipped = drawn(inputs, points[0])
    setups, pairs = statistics(evaluate, values, [one.setup for one in inputs], points, seed, sobol)
    return Spread(
        title=scenario.title, names=tuple(one.name for one in scenario.setup), inputs=inputs,
        clipped=tuple(float(share) for share in clipped.mean(axis=0)), samples=samples, seed=seed, laps=driven, target=target,
        closed=course.closed, setups=setups, pairs=pairs,
    )  # fmt: skip


def _jobs(scenario: Scenario, inputs: Sequence[Input], values: np.ndarray, target: float) -> tuple[list[Job], np.ndarray]:
    """The laps of draws, each lap once, and (draws, set-ups) where among them a draw finds its own.

    A draw that changes another set-up's number alone needs no new lap; the first draws come first, so that a finer study takes up the
    finished blocks of a coarser one.
    """
    jobs: list[Job] = []
    places = np.empty((len(values), len(scenario.setup)), dtype=int)
    for setup in range(len(scenario.setup)):
        known: dict[bytes, int] = {}
        columns = [index for index, one in enumerate(inputs) if one.setup in (None, setup)]
        for index, row in enumerate(values):
            name = row[columns].tobytes()
            if name not in known:
                known[name] = len(jobs)
                made = variant(scenario, setup, inputs, row)
                wanted = made.pace.target_m_per_s
                jobs.append(Job(made, 0, target if wanted == "furthest" else float(wanted)))
            places[index, setup] = known[name]
    return jobs, places


def statistics(
    evaluate: Evaluate, values: np.ndarray, owners: Sequence[int | None], points: tuple[np.ndarray, np.ndarray], seed: int, sobol: bool
) -> tuple[tuple[SetupSpread, ...], tuple[PairSpread, ...]]:  # fmt: skip
    """What a sample says about set-ups.

    evaluate : Evaluate; values : (n, inputs) the inputs at the first half of the points [any unit], for the additive fit
    owners : of each input, the set-up that it belongs to, or None
    points : of `spread.inputs.unit_points` [-]; seed : of the sampling errors' bootstrap
    sobol : whether shares come from a Saltelli design instead of the additive fit
    Returns the set-ups and every pair of them, by the first figure.
    """
    first, second = points
    n, inputs = first.shape
    sets = [first]
    if sobol:
        sets.append(second)
        for index in range(inputs):
            swapped = first.copy()
            swapped[:, index] = second[:, index]
            sets.append(swapped)
    figures = evaluate(np.concatenate(sets)).reshape(len(sets), n, -1, len(FIGURES))
    compared = figures[..., 0]

    def shares(column: np.ndarray, those: set[int]) -> Shares | None:
        chosen = [index for index, owner in enumerate(owners) if owner is None or owner in those]
        return _shares(column, values, chosen, float(np.nanmax(np.abs(compared[0]), initial=0.0)), seed)

    setups, pairs = [], []
    for k in range(compared.shape[2]):
        finished = float(np.isfinite(compared[0, :, k]).mean())
        told = tuple(_interval(figures[0, :, k, column], seed) for column in range(len(FIGURES)))
        setups.append(SetupSpread(finished, told, shares(compared[..., k], {k})))
    for i, j in combinations(range(compared.shape[2]), 2):
        gain = compared[..., j] - compared[..., i]
        both = np.isfinite(gain[0])
        draws, chance = int(both.sum()), None
        if draws >= FEWEST:
            chance = chance_below(compared[0, both, i], compared[0, both, j], Resamples(draws, seed))
        pairs.append(PairSpread(i, j, draws, _interval(gain[0], seed), chance, shares(gain, {i, j})))
    return tuple(setups), tuple(pairs)


def _interval(values: np.ndarray, seed: int) -> Interval | None:
    known = values[np.isfinite(values)]
    return interval_of(known, Resamples(len(known), seed)) if len(known) >= FEWEST else None


def _shares(column: np.ndarray, values: np.ndarray, chosen: list[int], size: float, seed: int) -> Shares | None:
    """Shares of some inputs in a figure's variance.  column : (sets, n), the first half of the points, then what a design adds."""
    design = len(column) > 1
    used = column[[0, 1, *(2 + index for index in chosen)]] if design else column
    known = np.isfinite(used).all(axis=0)
    used, draws = used[:, known], int(known.sum())
    enough = FEWEST if design else DRAWS_A_TERM * (1 + POWERS * len(chosen))
    if not chosen or draws < enough or np.ptp(used[0]) <= ALIKE * size:
        return None
    weights = Resamples(draws, seed).weights
    if design:
        alone, total = sobol_shares(used[0], used[1], used[2:], weights)
        return Shares(_named(chosen, alone), _named(chosen, total), draws)
    return Shares(_named(chosen, additive_shares(values[known][:, chosen], used[0], weights)), None, draws)


def _named(chosen: list[int], shares: np.ndarray) -> dict[int, Estimate]:
    return {index: estimate(column) for index, column in zip(chosen, shares.T, strict=True)}
