"""Spread: how sure the figures of each set-up are, whether two set-ups can be told apart, and which unsure number decides it.

Every draw gives all set-ups the same car, tyres and air, so that what they share falls out of their difference.  The statistics are
functions of a sample alone, which a formula can fill.
"""

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np

from sim.errors import InputError
from sim.scenario.choice import chosen_setup
from sim.scenario.scenario import Scenario
from sim.spread.inputs import Input, check_cars, drawn, inputs_of, laps_of, unit_points
from sim.spread.sample import Run, Sample
from sim.spread.statistics import (
    DRAWS_A_TERM,
    POWERS,
    Estimate,
    Interval,
    additive_shares,
    chance_below,
    interval_of,
    sobol_shares,
)  # fmt: skip
from sim.store.rows import open_store
from sim.study.compare import target_of
from sim.study.jobs import BLOCK, COLUMNS, Ready, drive_blocks
from sim.study.ready import car_of, check_lock, course_of, entries_of
from sim.study.workers import Workers

# What is told of every set-up; set-ups are compared by the first.
FIGURES = (
    "drive_work_J", "scrub_J", "rolling_J", "air_J", "lap_time_s", "min_load_N", "battery_Wh", "laps_per_charge", "race_distance_m",
)  # fmt: skip
FEWEST_SAMPLES, MOST_SAMPLES = 16, 131072
FEWEST = 8  # draws in which a set-up gets round, below which nothing is told of it
ALIKE = 1e-9  # of the figure itself: a spread below this is rounding


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
    against : the set-up with which all others are compared, None for the one that needs least [-]
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
    against: int | None = None

    @property
    def clipped_share(self) -> float:
        """Share of all draws that were set to a bound [-]."""
        return sum(self.clipped) / len(self.clipped)


def spread(
    scenario: Scenario, folder: Path, source: str, *, samples: int = 256, seed: int = 0, literature: bool = False, sobol: bool = False,
    against: str | None = None, workers: Workers | None = None, store: Path | None = None,
    progress: Callable[[int, int, str], None] = lambda done, of, name: None,
) -> Spread:  # fmt: skip
    """Drive every set-up with many draws of the scenario's unsure numbers.

    scenario : Scenario; folder : where a relative course file is looked for; source : the scenario's name in messages
    samples : draws, a power of two; seed : of the draws; literature : as for `spread.inputs.inputs_of`
    sobol : also drive a Saltelli design, which takes as many draws again for each input and once more
    against : the set-up with which all others are compared, as a person means it; None for the one that needs least
    workers, store : of `study.jobs.drive_blocks`; progress : called with the laps driven, the laps in all and a word
    Returns a Spread.  Raises InputError for what cannot be drawn, built or driven at all.
    """
    if not FEWEST_SAMPLES <= samples <= MOST_SAMPLES or samples & (samples - 1):
        allowed = f"a power of two from {FEWEST_SAMPLES} to {MOST_SAMPLES}"
        raise InputError("--samples", "", f"{samples} is not {allowed}", "draws are spread evenly; 256 is usual, 1024 is finer")
    if seed < 0:
        raise InputError("--seed", "", f"{seed} is below 0", "give a whole number")
    inputs = inputs_of(scenario, literature, source)
    reference = None if against is None else chosen_setup([one.name for one in scenario.setup], against, source, "--against")
    open_store(store)
    course = course_of(scenario, folder, source)
    check_lock(course, car_of(scenario), entries_of(scenario, source), source)
    progress(0, samples * len(scenario.setup), "laps")
    target = target_of(scenario, course, source)
    columns = [COLUMNS.index(name) for name in FIGURES]
    crew = workers or Workers()
    with closing(Sample(samples, [one.setup for one in inputs], len(scenario.setup), len(FIGURES), sobol)) as sample:
        clipped = _fill(sample, scenario, inputs, seed, source)
        blocks = Draws(scenario, inputs, target, sample, sample.runs(BLOCK))
        laps = sum(map(len, blocks))
        with closing(drive_blocks(course, blocks, laps, crew, lambda done, of: progress(done, of, "laps"), store)) as done:
            for place, rows in done:
                run = blocks.runs[place]
                sample.put(run, rows[:, columns].reshape(run.count, len(run.setups), len(FIGURES)))
        setups, pairs = statistics(sample, crew.threads)
    return Spread(
        title=scenario.title, names=tuple(one.name for one in scenario.setup), inputs=inputs, clipped=clipped, samples=samples, seed=seed,
        laps=laps, target=target, closed=course.closed, setups=setups, pairs=pairs, against=reference,
    )  # fmt: skip


def _fill(sample: Sample, scenario: Scenario, inputs: Sequence[Input], seed: int, source: str) -> tuple[float, ...]:
    """Draw the inputs of a sample and check them; returns the share of each input's draws that were set to a bound [-]."""
    clipped, start = np.zeros(len(inputs)), 0
    for points in unit_points(sample.draws, len(inputs), seed):
        (first, beyond), *rest = (drawn(inputs, half) for half in points[: 2 if sample.design else 1])
        for values in (first, *(one for one, _ in rest)):
            check_cars(scenario, inputs, values, source)
        sample.put_values(start, first, *(one for one, _ in rest))
        clipped += beyond.sum(axis=0)
        start += len(first)
    return tuple(float(share) for share in clipped / sample.draws)


@dataclass(frozen=True)
class DrawBlock:
    """The laps of some draws, made ready by whoever drives them."""

    scenario: Scenario
    setups: tuple[int, ...]
    inputs: tuple[Input, ...]
    values: np.ndarray
    target: float

    def __len__(self) -> int:
        """How many laps."""
        return len(self.values) * len(self.setups)

    def ready(self) -> list[Ready]:
        """The laps."""
        return laps_of(self.scenario, self.setups, self.inputs, self.values, self.target)

    def told(self) -> bytes:
        """What the laps hang on: not the title, nor how many draws there are."""
        tables = self.scenario.model_dump_json(exclude={"title", "uncertainty"})
        return repr((tables, self.setups, self.inputs, self.target)).encode() + self.values.tobytes()


@dataclass(frozen=True)
class Draws(Sequence[DrawBlock]):
    """The blocks of a study; the values of each are read when it is asked for."""

    scenario: Scenario
    inputs: tuple[Input, ...]
    target: float
    sample: Sample
    runs: Sequence[Run]

    def __len__(self) -> int:
        return len(self.runs)

    def __getitem__(self, place: Any) -> Any:
        run = self.runs[place]
        values = self.sample.values(run.start, run.count, run.part)
        return DrawBlock(self.scenario, run.setups, self.inputs, values, self.target)


def statistics(sample: Sample, threads: int = 1) -> tuple[tuple[SetupSpread, ...], tuple[PairSpread, ...]]:
    """What a sample says about set-ups.

    sample : with all figures; threads : that work at it, on which the answer does not depend [-]
    Returns the set-ups and every pair of them, by the first figure.
    """
    # By the size of the largest figure it is judged whether a difference is more than rounding.
    size = max(float(np.nanmax(np.abs(sample.figure(setup)), initial=0.0)) for setup in range(sample.setups))

    def of_setup(setup: int) -> SetupSpread:
        work = sample.figure(setup)
        told = [_interval(sample.figure(setup, column)) for column in range(len(FIGURES))]
        shares = _shares(sample, lambda part: sample.figure(setup, 0, part), sample.concerned(setup), size)
        return SetupSpread(float(np.isfinite(work).mean()), tuple(told), shares)

    def of_pair(pair: tuple[int, int]) -> PairSpread:
        first, second = pair
        mine, other = sample.figure(first), sample.figure(second)
        both = np.isfinite(mine) & np.isfinite(other)
        draws = int(both.sum())
        chance = chance_below(mine[both], other[both]) if draws >= FEWEST else None
        chosen = sorted({*sample.concerned(first), *sample.concerned(second)})
        shares = _shares(sample, lambda part: sample.figure(second, 0, part) - sample.figure(first, 0, part), chosen, size)
        return PairSpread(first, second, draws, _interval(other - mine), chance, shares)

    with ThreadPoolExecutor(threads) as pool:
        setups = pool.map(of_setup, range(sample.setups))
        pairs = pool.map(of_pair, combinations(range(sample.setups), 2))
        return tuple(setups), tuple(pairs)


def _interval(values: np.ndarray) -> Interval | None:
    known = values[np.isfinite(values)]
    return interval_of(known) if len(known) >= FEWEST else None


def _shares(sample: Sample, column: Callable[[int], np.ndarray], chosen: list[int], size: float) -> Shares | None:
    """Shares of some inputs in a figure's variance.  column : the figure in a part of the sample (draws,), see `spread.sample.Run`."""
    first = column(0)
    known = np.isfinite(first)
    parts = [1, *(2 + index for index in chosen)] if sample.design else []
    for part in parts:
        known &= np.isfinite(column(part))
    draws = int(known.sum())
    enough = FEWEST if sample.design else DRAWS_A_TERM * (1 + POWERS * len(chosen))
    if not chosen or draws < enough or np.ptp(first[known]) <= ALIKE * size:
        return None
    if sample.design:
        alone, total = sobol_shares(first[known], column(1)[known], (column(part)[known] for part in parts[1:]))
        return Shares(dict(zip(chosen, alone, strict=True)), dict(zip(chosen, total, strict=True)), draws)
    found = additive_shares(sample.inputs(chosen, known), first[known])
    return Shares(dict(zip(chosen, found, strict=True)), None, draws)
