"""What a search found, as one result: the names of its fields are the keys of `--json`."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from sim.car.chassis import WHEELS
from sim.scenario.setup import SetupTable
from sim.study.jobs import COLUMNS
from sim.study.summary import known


@dataclass(frozen=True)
class SumFigures:
    """A set-up by the sum of steady turns; None where it does not get round, and without a battery.

    drive_work_J, scrub_J : of a lap [J]; battery_Wh : of a lap [Wh]; laps_per_charge : on one charge [-]
    rub_m : of the worst tyre, of a lap [m]; error_deg : of the outer wheel from ideal, root mean square [degrees]
    turning_circle_m : kerb to kerb [m]; kick_back_mm : lever of a wheel that meets a step [mm]
    lock_deg : equivalent steer at the smaller lock [degrees]
    """

    drive_work_J: float | None
    battery_Wh: float | None
    laps_per_charge: float | None
    scrub_J: float | None
    rub_m: float | None
    error_deg: float | None
    turning_circle_m: float | None
    kick_back_mm: float | None
    lock_deg: float | None


@dataclass(frozen=True)
class LapFigures:
    """A set-up in a lap in time; None where it does not finish, and without a battery or a race.

    finished : whether it gets round; drive_work_J, scrub_J, rolling_J : of the lap [J]; battery_Wh : of the lap [Wh]
    lap_time_s : of the lap [s]; laps_per_charge, race_laps : on one charge, and in the race [-]; rub_m : of the worst tyre [m]
    ledger_residual : share of the drive work [-]
    """

    finished: bool
    drive_work_J: float | None
    scrub_J: float | None
    rolling_J: float | None
    battery_Wh: float | None
    lap_time_s: float | None
    laps_per_charge: float | None
    race_laps: float | None
    rub_m: float | None
    ledger_residual: float | None


@dataclass(frozen=True)
class Found:
    """One set-up of a search's answer.

    values : of the free keys [the key's unit]; sum, lap : by the sum of steady turns, and in time with the scenario's own tyre
    setup : the table that has these values
    """

    values: Mapping[str, float]
    sum: SumFigures
    lap: LapFigures
    setup: SetupTable


@dataclass(frozen=True)
class FreeRow:
    """A free key.

    key : its name; low, high : its bounds [the key's unit]; own, best : of what the team has, of the best [the key's unit]
    flat_low, flat_high : between which values it costs less than FLAT_SHARE more of each objective, the others held [the key's unit]
    at_bound : whether the best stands at a bound
    """

    key: str
    low: float
    high: float
    own: float
    best: float
    flat_low: float
    flat_high: float
    at_bound: bool


@dataclass(frozen=True)
class Gain:
    """What the best saves a lap in time on tyres of a stiffness.

    cornering_stiffness_per_rad : of the front tyres [1/rad]; drive_work_J : None where one of the two does not finish [J]
    """

    cornering_stiffness_per_rad: float
    drive_work_J: float | None


@dataclass(frozen=True)
class SearchResult:
    """What a search found.

    title : of the scenario; setup, linkage : of what the team has, the linkage None for a turntable
    objectives : one or two; limits : name to value [the unit in the name]
    target_m_per_s : speed on the straights [m/s]; closed : whether the course is; candidates : tried [-]
    free : the free keys; own : what the team has
    best : least of the first objective; of two, the member of the trade-off with the least of the second whose first is within its
    flat share
    less_change : the best with as many keys as possible as the team has them, within the flat share; None where no key can be put back,
    and where all can, see `level`
    level : whether what the team has is itself within the flat share of the best, and keeps the limits
    gains : for tyres low, as written, high; front : members of the trade-off of two objectives, best of the first first; empty for one
    """

    title: str
    setup: str
    linkage: str | None
    objectives: tuple[str, ...]
    limits: Mapping[str, float]
    target_m_per_s: float
    closed: bool
    candidates: int
    free: tuple[FreeRow, ...]
    own: Found
    best: Found
    less_change: Found | None
    level: bool
    gains: tuple[Gain, ...]
    front: tuple[Found, ...]

    @property
    def sum_gain(self) -> float | None:
        """Drive work that the best saves by the sum of steady turns, None where one of the two does not get round [J]."""
        return _less(self.own.sum.drive_work_J, self.best.sum.drive_work_J)

    @property
    def lap_gain(self) -> float | None:
        """Drive work that the best saves in a lap in time, None where one of the two does not finish [J]."""
        return _less(self.own.lap.drive_work_J, self.best.lap.drive_work_J)


def _less(before: float | None, after: float | None) -> float | None:
    return None if before is None or after is None else before - after


def lap_figures(row: np.ndarray) -> LapFigures:
    """The figures of a lap in time.  row : (COLUMNS,) of `sim.study.jobs.drive_jobs` [SI, or the unit in the column's name]."""
    lap = dict(zip(COLUMNS, map(float, row), strict=True))
    return LapFigures(
        finished=lap["finished"] > 0, drive_work_J=known(lap["drive_work_J"]), scrub_J=known(lap["scrub_J"]),
        rolling_J=known(lap["rolling_J"]), battery_Wh=known(lap["battery_Wh"]), lap_time_s=known(lap["lap_time_s"]),
        laps_per_charge=known(lap["laps_per_charge"]), race_laps=known(lap["race_laps"]),
        rub_m=known(max(lap[f"rub_{wheel}_m"] for wheel in WHEELS)), ledger_residual=known(lap["ledger_residual"]),
    )  # fmt: skip
