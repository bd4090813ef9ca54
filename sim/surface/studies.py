"""What `import sim` finds with many laps: how sure a comparison is, and the best arms and rods, their figures as tables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.search.result import Found, SearchResult
from sim.search.run import search
from sim.spread.findings import turned
from sim.spread.run import FIGURES, Spread, spread
from sim.spread.statistics import Interval
from sim.surface.case import Case, OfCase
from sim.surface.frames import few_digits, frame, quoted
from sim.surface.given import bounds, case_of, named_as_in_python, whole

if TYPE_CHECKING:
    import pandas as pd

UNITS = {"J", "Wh", "N", "s", "m"}  # in which the names of a study's figures end


@dataclass(frozen=True, repr=False)
class Uncertainty(OfCase):
    """How sure a comparison is.  case : whose; result : what the study found."""

    case: Case
    result: Spread

    def finding(self) -> str:
        """How many pairs of set-ups can be told apart."""
        apart = sum(one.told_apart for one in self.result.pairs)
        return f"{apart} of {len(self.result.pairs)} pairs told apart in {self.result.samples} draws"

    def table(self) -> pd.DataFrame:
        """A row a set-up: the share of draws in which it gets round, and 95 % intervals of its figures with their middles."""
        rows = []
        for name, one in zip(self.result.names, self.result.setups, strict=True):
            row: dict[str, Any] = {"name": name, "finished_share": one.finished}
            for key, interval in zip(FIGURES, one.figures, strict=True):
                row |= _ends(key, interval)
            rows.append(row)
        return frame(rows, ["name"])

    def pairs(self) -> pd.DataFrame:
        """A row for each set-up against each other: what the first gains in drive work, how likely it needs less, whether that is sure."""
        rows = []
        for one in (seen for pair in self.result.pairs for seen in (pair, turned(pair))):
            names: dict[str, Any] = {"name": self.result.names[one.first], "against": self.result.names[one.second]}
            sure = {"probability": one.chance.value if one.chance else None, "told_apart": one.told_apart, "draws": one.draws}
            rows.append(names | _ends("gain_J", one.gain) | sure)
        return frame(rows, ["name", "against"])


@dataclass(frozen=True, repr=False)
class Improvement(OfCase):
    """The best arms, rods and toe within bounds.  case : whose; result : what the search found."""

    case: Case
    result: SearchResult

    def finding(self) -> str:
        """What is recommended, and the drive work of a lap with it."""
        result = self.result
        own, best = result.own.lap.drive_work_J, result.best.lap.drive_work_J
        if result.recommended == "own":
            return f"{quoted(result.setup)} is as good as the best"
        gain = "" if own is None or best is None else f": {few_digits(own)} J, the best {few_digits(best)} J"
        return f"{quoted(result.setup)} can be bettered{gain}"

    def table(self) -> pd.DataFrame:
        """A row each for what the team has, the best and, where there is one, the smaller change: keys, and figures of a lap in time."""
        result = self.result
        found = {"own": result.own, "best": result.best} | ({"less_change": result.less_change} if result.less_change else {})
        return frame([_found_row(name, one) for name, one in found.items()], ["which"])

    def best_case(self) -> Case:
        """The scenario with what is recommended as one set-up more; as it was where what the team has is as good."""
        found = self.result.less_change if self.result.recommended == "less_change" else self.result.best
        if self.result.recommended == "own" or found is None:
            return self.case
        return self.case.plus_setup(**found.setup.model_dump(exclude_unset=True, exclude_none=True))


def uncertainty(
    case: Case | str | Path, samples: int = 256, literature: bool = False, against: str | int | None = None, seed: int = 0
) -> Uncertainty:  # fmt: skip
    """How sure the comparison is: every set-up driven with many draws of the unsure numbers, as `scrubwise spread` does.

    case : as for `compare`; samples : draws, a power of two [-]; literature : let what has no stated range be as unsure as published
    against : the set-up that all are compared with, None for the one that needs least [-]; seed : of the draws [-]
    Returns Uncertainty.  Raises InputError for what cannot be drawn, built or driven at all.
    """
    asked = case_of(case)
    draws = whole(samples, "samples", "draws are spread evenly; 256 is usual, 1024 is finer")
    begun = whole(seed, "seed", "give a whole number from 0 on")
    wanted = None if against is None else asked.setups[asked.place_of(against)]
    with named_as_in_python():
        found = spread(asked.scenario, asked.folder, asked.source, samples=draws, literature=literature, against=wanted, seed=begun)
    return Uncertainty(asked, found)


def improve(
    case: Case | str | Path, setup: str | int | None = None, free: Mapping[str, tuple[float, float]] | None = None, seed: int = 0
) -> Improvement:  # fmt: skip
    """The best arms, rods and toe of a set-up for the course, as `scrubwise search` finds them.

    case : as for `compare`; setup : the one to better, None for the first with rods [-]
    free : key to (least, most) [the key's unit], None for the arms and rods of the linkage; seed : of what is drawn [-]
    Returns Improvement.  Raises InputError for what cannot be searched.
    """
    asked, freed, begun = case_of(case), bounds(free, "free"), whole(seed, "seed", "give a whole number from 0 on")
    wanted = None if setup is None else asked.setups[asked.place_of(setup)]
    with named_as_in_python():
        return Improvement(asked, search(asked.scenario, asked.folder, asked.source, setup=wanted, free=freed, seed=begun))


def _ends(key: str, interval: Interval | None) -> dict[str, float | None]:
    """The columns of an interval, each with the unit of its figure at its end."""
    stem, _, unit = key.rpartition("_")
    name = f"{stem}_{{}}_{unit}" if unit in UNITS else f"{key}_{{}}"
    values = (None, None, None) if interval is None else (interval.low.value, interval.middle.value, interval.high.value)
    return {name.format(end): value for end, value in zip(("low", "median", "high"), values, strict=True)}


def _found_row(name: str, found: Found) -> dict[str, Any]:
    return {"which": name, "name": found.setup.name, **found.values, **asdict(found.lap)}
