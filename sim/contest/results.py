"""What a contest tells: each team's figures, its place, what its car shows, and why an entry was refused."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from enum import StrEnum
from typing import Any

from sim.study.dangers import Dangers


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
    bend_error_deg, bend_bias_deg : how far the inner wheel stands from ideal in the course's bends, toe and rod turns set aside: the mean
        size, and the mean with its sign, positive where it turns too far; of each degree that the course turns by, so that straights do
        not count and tight bends count as they are long; None where that is not known [deg]
    """

    kind: Kind
    share_of_ideal: float | None
    at_outer_deg: float | None
    toe_in_deg: float
    hand_ahead_deg: float
    bend_error_deg: float | None
    bend_bias_deg: float | None


@dataclass(frozen=True)
class Risks:
    """What no place tells: how near a car is to tipping, and how a wheel on a step tears at it.

    tip_margin_m_per_s2 : least acceleration towards the centre of a left turn at which it tips over, from straight ahead to its lock, in
        steps of three degrees [m/s2]
    tip_steer_deg : equivalent single-track steer at which that is [deg]
    kick_lever_mm : arm about its kingpin of a force through the hub, as of a step, of the wheel with the longer one [mm]
    """

    tip_margin_m_per_s2: float
    tip_steer_deg: float
    kick_lever_mm: float


class Role(StrEnum):
    """Why the folder holds an entry's lap to replay."""

    WINNER = "winner"
    LAST = "last"
    TEACHES = "teaches most"
    CHOSEN = "chosen"


@dataclass(frozen=True)
class LapFigures:
    """A lap's figures; None where it did not finish.

    drive_work_J : at the driven wheels [J]
    scrub_J : slip losses of all wheels [J]
    rolling_J : rolling resistance [J]
    geometry_cost_J : drive work less that of ideal steering without toe [J]
    toe_cost_J : drive work less that with toe and rod turns set to nothing, 0 where there are none [J]
    front_scrub_J, rear_scrub_J : sideways slip losses of both front and both rear tyres [J]
    lengthwise_scrub_J : lengthwise slip losses of all wheels [J]
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
    toe_cost_J: float | None
    front_scrub_J: float | None
    rear_scrub_J: float | None
    lengthwise_scrub_J: float | None


NO_FIGURES = LapFigures(*[None] * len(fields(LapFigures)))


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
    risks : what its place does not tell
    dangers : where its rods come in line
    doubts : about its numbers and angles that look like slips, a sentence each
    replayed : why its lap is among those that the folder can replay, None where it is not
    """

    ideal: LapFigures
    setup_name: str | None
    setup: Mapping[str, Any]
    car: Mapping[str, float]
    shows: Shows
    risks: Risks
    dangers: Dangers
    doubts: tuple[str, ...]
    replayed: Role | None


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
class Unclear(Refused):
    """An entry that does not say what is to drive: no text, something missing, or a kind that there is not.  It breaks no rule."""


@dataclass(frozen=True)
class NameRemark:
    """Names of entries that a reader can take for each other.

    files : of the entries
    reason : what is to be known of them, in one plain line
    """

    files: tuple[str, ...]
    reason: str


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
    tolerance_percent : of the drive work (of the distance), below which differences are not told apart and share a place [%]
    shared_within : what that makes of the best score, None where nobody has a place [score_unit]
    best_score : None where nobody has a place [score_unit]
    course : that all drove
    target_m_per_s : speed on the straights, sought or given [m/s]
    lateral_limit_m_per_s2 : most acceleration towards a bend's centre that the plan of speeds asks for [m/s2]
    demanded : keys of what the rules demand of every car [the key's unit]
    ideal : figures of ideal steering on the rules' car
    entries : by place, those without one at the end; refused : by file
    names : of entries that can be taken for each other
    """

    title: str
    rule: str
    score_key: str
    score_unit: str
    tolerance_percent: float
    shared_within: float | None
    best_score: float | None
    course: ContestCourse
    target_m_per_s: float
    lateral_limit_m_per_s2: float
    demanded: Mapping[str, float]
    ideal: LapFigures
    entries: tuple[ContestEntry, ...]
    refused: tuple[Refused, ...]
    names: tuple[NameRemark, ...]
