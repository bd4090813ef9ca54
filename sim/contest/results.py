"""What a contest tells: each team's figures, its place, what its car shows, and why an entry was refused."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any


class Kind(StrEnum):
    """The first thing that is out of the ordinary with an entry."""

    LOCK = "lock"  # it could not turn far enough
    TIPS = "tips"
    NO_GRIP = "no grip"
    STOPPED = "stopped"  # for another cause
    TURNTABLE = "turntable"
    REVERSED = "reversed"
    UNEVEN_RODS = "uneven rods"
    TOE_IN = "toe-in"
    TOE_OUT = "toe-out"
    PARALLEL = "parallel"
    TOO_LITTLE = "too little"
    TOO_MUCH = "too much"
    LEAN = "lean"
    CLOSE_TO_IDEAL = "close to ideal"


@dataclass(frozen=True)
class Shows:
    """What is worth asking an entry's team about.

    kind : names it
    share_of_ideal : of the ideal difference, how much the inner wheel turns further; None for a turntable, which has none to make [-]
    at_outer_deg : angle of the outer wheel at which that was looked at, likewise [deg]
    toe_in_deg : of each front wheel where the car drives straight on [deg]
    hand_ahead_deg : angle of the hand wheel there [deg]
    """

    kind: Kind
    share_of_ideal: float | None
    at_outer_deg: float | None
    toe_in_deg: float
    hand_ahead_deg: float


@dataclass(frozen=True)
class LapFigures:
    """A lap's figures; None where it did not finish.

    drive_work_J : at the driven wheels [J]
    scrub_J : slip losses of all wheels [J]
    rolling_J : rolling resistance [J]
    geometry_cost_J : drive work less that of ideal steering without toe [J]
    rub_m : slip distance of all tyres [m]
    rub_worst_m : of the tyre that is dragged furthest [m]
    worst_tyre : its wheel's key
    lap_time_s : of the lap [s]
    battery_Wh : given by the battery, None without one [Wh]
    laps_per_charge : None without a battery [-]
    race_laps : driven in the race, None without one [-]
    race_distance_m : ... and how far that is [m]
    race_ended_by : "time", "charge" or "laps"
    """

    drive_work_J: float | None
    scrub_J: float | None
    rolling_J: float | None
    geometry_cost_J: float | None
    rub_m: float | None
    rub_worst_m: float | None
    worst_tyre: str | None
    lap_time_s: float | None
    battery_Wh: float | None
    laps_per_charge: float | None
    race_laps: float | None
    race_distance_m: float | None
    race_ended_by: str | None


NO_FIGURES = LapFigures(None, None, None, None, None, None, None, None, None, None, None, None, None)


@dataclass(frozen=True)
class Standing:
    """Who an entry is, and how it came out.

    place : from 1 on, None where it did not finish or has no score [-]
    shared : whether others have the same place
    team, members, file : its name, how many they are [-], and its file
    finished : whether it came round in a way that can be compared
    reason : why it did not, in plain words
    score : what the rule counts, None without a place [the rule's unit]
    """

    place: int | None
    shared: bool
    team: str
    members: int | None
    file: str
    finished: bool
    reason: str | None
    score: float | None


@dataclass(frozen=True)
class ContestEntry(LapFigures, Standing):
    """An entry that drove: its standing, its lap's figures, and what it chose.

    ideal : figures of ideal steering on the same car
    setup_name : what the team calls its set-up
    setup, car : the keys that the team chose [the key's unit]
    shows : what is worth asking about
    replayed : whether its lap is among those that the folder can replay
    """

    ideal: LapFigures
    setup_name: str | None
    setup: Mapping[str, Any]
    car: Mapping[str, float]
    shows: Shows
    replayed: bool


@dataclass(frozen=True)
class Refused:
    """An entry that does not run.

    file : of the entry
    team : its name, None where it could not be read
    reason : in one plain line
    """

    file: str
    team: str | None
    reason: str


@dataclass(frozen=True)
class Misspelt(Refused):
    """An entry whose file is no TOML: a slip of the pen, which breaks no rule."""


@dataclass(frozen=True)
class ContestCourse:
    """The course that all drove.

    name : of the course
    length_m : of a lap, or from start to finish [m]
    closed : whether it is a loop
    """

    name: str
    length_m: float
    closed: bool


@dataclass(frozen=True)
class ContestResult:
    """What a contest finds.

    title : of the rules
    rule : name of the score; score_key, score_unit : which figure it counts, and its unit
    tolerance_percent : of a score, within which places are shared [%]
    best_score : None where nobody has a place [score_unit]
    course : that all drove
    target_m_per_s : speed on the straights, sought or given [m/s]
    ideal : figures of ideal steering on the rules' car
    entries : by place, those without one at the end; refused : by file
    """

    title: str
    rule: str
    score_key: str
    score_unit: str
    tolerance_percent: float
    best_score: float | None
    course: ContestCourse
    target_m_per_s: float
    ideal: LapFigures
    entries: tuple[ContestEntry, ...]
    refused: tuple[Refused, ...]
