"""What a search found, as one result: the names of its fields are the keys of `--json`."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from sim.car.chassis import WHEELS
from sim.scenario.setup import SetupTable
from sim.study.jobs import COLUMNS
from sim.study.summary import known

AT_BOUND = 1e-3  # of a key's range: so near to its bound a value stands at it


@dataclass(frozen=True)
class SumFigures:
    """A set-up by the sum of steady turns; None where it does not get round, and without a battery.

    drive_work_J, scrub_J : of a lap [J]; battery_Wh : of a lap [Wh]; laps_per_charge : on one charge [-]
    rub_m : of the worst tyre, of a lap [m]; error_deg : of the outer wheel from ideal, root mean square [degrees]
    turning_circle_m : kerb to kerb [m]; kick_back_mm : lever of a wheel that meets a step [mm]
    lock_deg : equivalent steer at the smaller lock [degrees]; rod_angle_deg : least angle between a rod and its arm over the usable lock
    [degrees]; shortest_rod_mm, longest_rod_mm : between the middles of its joints [mm]; None without rods
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
    rod_angle_deg: float | None = None
    shortest_rod_mm: float | None = None
    longest_rod_mm: float | None = None


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
    setup : the table that has these values; not told among the figures
    """

    values: Mapping[str, float]
    sum: SumFigures
    lap: LapFigures
    setup: SetupTable = field(metadata={"told": False})


@dataclass(frozen=True)
class FreeRow:
    """A free key.

    key : its name; low, high : its bounds [the key's unit]; own, best : of what the team has, of the best [the key's unit]
    flat_low, flat_high : around what is recommended, between which values each objective is less than FLAT_SHARE above the best's by the
    sum of steady turns, and above the recommended's in a lap in time, the others held [the key's unit]
    at_bound : whether the best stands at a bound
    flat_low_costs_J, flat_high_costs_J : drive work above the recommended's of a lap in time at the ends, None where it does not finish [J]
    valley : (value [the key's unit], first objective by the sum of steady turns [its unit]) from bound to bound around what is
    recommended, the others held; None where it does not get round or breaks a limit
    """

    key: str
    low: float
    high: float
    own: float
    best: float
    flat_low: float
    flat_high: float
    at_bound: bool
    flat_low_costs_J: float | None = None
    flat_high_costs_J: float | None = None
    valley: tuple[tuple[float, float | None], ...] = ()


@dataclass(frozen=True)
class Gain:
    """What the best saves a lap in time on tyres of a stiffness.

    cornering_stiffness_per_rad : of the front tyres [1/rad]; drive_work_J : None where one of the two does not finish [J]
    """

    cornering_stiffness_per_rad: float
    drive_work_J: float | None


@dataclass(frozen=True)
class GainRange:
    """Between which values 95 of 100 tries of a gain lie, in laps in time.

    low_J, middle_J, high_J : drive work saved; None where no try of both finishes [J]; unfinished : share of the tries [-]
    """

    low_J: float | None
    middle_J: float | None
    high_J: float | None
    unfinished: float


@dataclass(frozen=True)
class Doubt:
    """How sure a gain is.

    unsure : paths of the unsure numbers that were drawn; made_to_deg_or_mm : each new part is within as much of its drawing, None as
    drawn [degrees or mm]; tries : laps of each [-]; best, less_change : their gains
    broken : share of the last of what was found as made that breaks a limit or does not get round [-]
    tighter : limits that are often broken as parts are made, to the values that leave room for it [the unit in the name]
    """

    unsure: tuple[str, ...]
    made_to_deg_or_mm: float | None
    tries: int
    best: GainRange
    less_change: GainRange | None
    broken: float
    tighter: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Together:
    """Two free keys of which one undoes what the other does.

    first, second : their names; ratio : units of the second that do what a unit of the first does [-]
    """

    first: str
    second: str
    ratio: float


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
    gains : for tyres low, as written, high; front : members of the trade-off of two objectives, driven in time, best of the first first;
    none is worse than another in both; empty for one objective
    recommended : "best", "less_change" or, where it is as good to within what can be told apart, "own"
    together : keys that only count together; doubt : how sure the gain is, None where only tyres were varied
    toe_cost_J : drive work of a lap in time of what the team has less that with toe and rod turns set to nothing, None where there is none
    of either or one of the two does not finish [J]
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
    recommended: str = "best"
    together: tuple[Together, ...] = ()
    doubt: Doubt | None = None
    toe_cost_J: float | None = None

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
