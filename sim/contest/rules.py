"""A contest's rules, read and checked: what is the same for every team, what a team may choose, and what is counted."""

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from sim.contest.file import as_table, is_number, only_known, read_tables, refuse_link
from sim.contest.results import LapFigures
from sim.errors import InputError
from sim.judgements import TELL_APART
from sim.linkages.catalogue import LINKAGES
from sim.scenario.car import CarTable
from sim.scenario.file import SCENARIO_BYTES, check_scenario, shipped_folder, shipped_names
from sim.scenario.scenario import Scenario
from sim.scenario.setup import SetupTable
from sim.scenario.tables import bounds_of
from sim.steering.arrangement import ideal_setup

RULES = "rules.toml"
PIVOTS = ("stub axles", "turntable")
TABLES = ("title", "car", "course", "pace", "motor", "battery", "race")  # of a scenario; the same for every team


@dataclass(frozen=True)
class Score:
    """What a rule counts.

    key : of an entry's figures; unit : of it; least : whether less is better; of : the figure of a lap [unit]
    measure : what of a lap the tolerance is a share of: the drive work, or what the score makes of it; the distance [unit]
    """

    key: str
    unit: str
    least: bool
    of: Callable[[LapFigures], float | None]
    measure: Callable[[LapFigures], float | None]


def _rub_of_work(lap: LapFigures) -> float | None:
    """Metres that the worst tyre is dragged for the drive work of a lap, at the rate of its next joule of scrub.

    Scrub goes with the square of a slip and rubber with the slip itself: a small share more scrub is half that share more rubber.
    """
    if lap.rub_worst_m is None or lap.drive_work_J is None or not lap.scrub_J:
        return lap.rub_worst_m
    return lap.rub_worst_m * lap.drive_work_J / (2 * lap.scrub_J)


SCORES = {
    "least drive work": Score("drive_work_J", "J", True, lambda lap: lap.drive_work_J, lambda lap: lap.drive_work_J),
    "least scrub": Score("scrub_J", "J", True, lambda lap: lap.scrub_J, lambda lap: lap.drive_work_J),
    "most distance": Score("race_distance_m", "m", False, lambda lap: lap.race_distance_m, lambda lap: lap.race_distance_m),
    "least rub of the worst tyre": Score("rub_worst_m", "m", True, lambda lap: lap.rub_worst_m, _rub_of_work),
}
DEMANDS = {"least_tip_margin_m_per_s2": (0.0, 100.0), "largest_kick_lever_mm": (0.0, 2000.0)}  # that rules can make, with their bounds


@dataclass(frozen=True)
class Rules:
    """What holds for every team.

    scenario : car, course, pace and race, with ideal steering as its only set-up
    setup, car : keys that a team may choose, to (least, most) [the key's unit]
    pivots, linkages : that a team may choose
    rule : name of the score; tolerance : share of the drive work, or of the distance, below which places are shared [-]
    demanded : keys of DEMANDS to what a car must keep, those that the rules give [the key's unit]
    """

    scenario: Scenario
    setup: Mapping[str, tuple[float, float]]
    car: Mapping[str, tuple[float, float]]
    pivots: tuple[str, ...]
    linkages: tuple[str, ...]
    rule: str
    tolerance: float
    demanded: Mapping[str, float]

    @property
    def score(self) -> Score:
        """What the rule counts."""
        return SCORES[self.rule]

    def told_apart(self, lap: LapFigures) -> float:
        """What a score must differ by from a lap's for a place of its own [the rule's unit].  lap : LapFigures.

        Below the tolerance's share of the drive work, or of the distance, tyre figures, wind and the driver's line decide: see TELL_APART.
        """
        return self.tolerance * abs(self.score.measure(lap) or 0.0)


def find_contest(name: str) -> Path:
    """The folder behind a name, which is a path or the name of a shipped contest.

    name : as the user wrote it.  Raises InputError where there is no such folder.
    """
    path, shipped = Path(name), shipped_folder() / name
    try:
        if path.is_dir():
            return path
        there = path.exists()
        if not there and path.name == name and (shipped / RULES).is_file():
            return shipped
    except (OSError, ValueError):  # a name that no file system takes
        there = False
    if name in shipped_names() or (there and path.suffix.casefold() == ".toml"):
        raise InputError(name, "", "this is a scenario, not a contest", f"drive it with `scrubwise run {name}`")
    problem = "this is a file, not a folder" if there else "there is no such folder"
    near = get_close_matches(name, shipped_contests(), n=1)
    remedy = f"did you mean {near[0]}?" if near else f"give a folder that holds {RULES} and an entry file for each team"
    raise InputError(name, "", problem, remedy)


def shipped_contests() -> list[str]:
    """Names under which the shipped contests can be run from any folder."""
    return sorted(file.parent.name for file in shipped_folder().glob(f"*/{RULES}"))


def is_contest(name: str) -> bool:
    """Whether a name is that of a contest, a folder of one's own or a shipped one.  name : as the user wrote it."""
    try:
        return (find_contest(name) / RULES).is_file()
    except InputError:
        return False


def read_rules(folder: Path) -> Rules:
    """Read and check a contest's rules.

    folder : of the contest.  Raises InputError with the file, the key, what is wrong and what to do.
    """
    path = folder / RULES
    source = str(path)
    if not os.path.lexists(path):
        raise InputError(source, "", "there is no such file", "write the class's rules there, or give another folder")
    refuse_link(path, folder, source)
    data = read_tables(path, source, SCENARIO_BYTES)
    if "setup" in data:
        raise InputError(source, "setup", "the rules hold no set-up", "put each team's into a file of its own")
    only_known(data, (*TABLES, "allowed", "demanded", "score"), source, "")
    allowed, demanded, score = (as_table(data.pop(key, {}), key, source) for key in ("allowed", "demanded", "score"))
    ideal = ideal_setup()
    scenario = check_scenario(data | {"setup": [{"name": ideal.name, "pivot": ideal.pivot, "linkage": ideal.linkage}]}, source)
    if scenario.course.file is not None:
        refuse_link(folder / scenario.course.file, folder, f"{source}: course.file")
    rule, tolerance = _score(score, scenario, source)
    choices = ("pivots", "linkages", "car")
    only_known(allowed, (*choices, *bounds_of(SetupTable)), source, "allowed.")
    return Rules(
        scenario, _spans({key: value for key, value in allowed.items() if key not in choices}, "allowed", source),
        _car_spans(allowed.get("car", {}), source), _choice(allowed, "pivots", PIVOTS, source),
        _choice(allowed, "linkages", LINKAGES, source), rule, tolerance, _demands(demanded, source),
    )  # fmt: skip


def _demands(data: dict[str, Any], source: str) -> dict[str, float]:
    only_known(data, tuple(DEMANDS), source, "demanded.")
    for key, value in data.items():
        least, most = DEMANDS[key]
        if not is_number(value) or not least < value <= most:
            problem = f"this is no number above {least:g} and up to {most:g}"
            raise InputError(source, f"demanded.{key}", problem, "write what every car must keep, or leave it out")
    return {key: float(value) for key, value in data.items()}


def _car_spans(data: Any, source: str) -> dict[str, tuple[float, float]]:
    data = as_table(data, "allowed.car", source)
    only_known(data, tuple(bounds_of(CarTable)), source, "allowed.car.")
    return _spans(data, "allowed.car", source)


def _spans(data: dict[str, Any], place: str, source: str) -> dict[str, tuple[float, float]]:
    """Least and most of each key."""
    found = {}
    remedy = "write {min = ..., max = ...} with the least and the most that a team may choose"
    for key, value in data.items():
        span = value if isinstance(value, dict) else {}
        least, most = span.get("min"), span.get("max")
        if set(span) != {"min", "max"} or not (is_number(least) and is_number(most)):
            raise InputError(source, f"{place}.{key}", "this is no range of numbers", remedy)
        if least > most:
            raise InputError(source, f"{place}.{key}", f"the least ({least:g}) is above the most ({most:g})", remedy)
        found[key] = (float(least), float(most))
    return found


def _choice(allowed: dict[str, Any], key: str, known: tuple[str, ...], source: str) -> tuple[str, ...]:
    """The kinds that a team may choose: all where the rules do not say."""
    value = allowed.get(key, list(known))
    if not isinstance(value, list) or not value or not all(isinstance(one, str) and one in known for one in value):
        shown = ", ".join(f'"{one}"' for one in known)
        raise InputError(source, f"allowed.{key}", "this is no list of known kinds", f"write a list of some of {shown}")
    return tuple(value)


def _score(score: dict[str, Any], scenario: Scenario, source: str) -> tuple[str, float]:
    only_known(score, ("rule", "tolerance_percent"), source, "score.")
    rule, percent = score.get("rule"), score.get("tolerance_percent", 100 * TELL_APART)
    one_of = ", ".join(f'"{name}"' for name in SCORES)
    if not isinstance(rule, str) or rule not in SCORES:
        problem = "this key is missing" if rule is None else "this rule is not known"
        raise InputError(source, "score.rule", problem, f"choose one of {one_of}")
    if rule == "most distance" and scenario.race is None:
        raise InputError(source, "score.rule", '"most distance" needs a race', "add the tables [motor], [battery] and [race]")
    least = 100 * TELL_APART
    if not is_number(percent) or not least <= percent <= 50:
        raise InputError(
            source, "score.tolerance_percent", f"this is no number from {least:g} to 50",
            f"{least:g} shares a place within {least:g} %, the least that the model can tell apart",
        )  # fmt: skip
    return rule, percent / 100
