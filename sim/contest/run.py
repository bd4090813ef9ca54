"""A contest: every accepted entry drives the same course by the same plan, and the rule's score ranks them.

Nothing depends on the order of the files or on the number of workers: a lap depends on its own entry alone, and names decide the order
within a place.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from math import degrees, inf, radians
from pathlib import Path

import numpy as np

from sim.car.chassis import WHEELS
from sim.contest.entries import Accepted, read_entries, refused
from sim.contest.results import NO_FIGURES, ContestCourse, ContestEntry, ContestResult, Kind, LapFigures, Refused, Shows
from sim.contest.rules import RULES, Rules, read_rules
from sim.course.centreline import Course
from sim.errors import InputError
from sim.lap.ladder import Model
from sim.linkages.kind import Hand
from sim.linkages.rolling import equivalent_steer, ideal_inner
from sim.pace.driver import PacePlan, plan_pace
from sim.scenario.car import CarTable
from sim.scenario.scenario import Scenario
from sim.scenario.setup import SetupTable
from sim.scenario.tables import HOUR, MILLIMETRE
from sim.steering.arrangement import FrontWheels, Steering, ideal_setup
from sim.steering.table import hand_where
from sim.study.compare import Comparison, EndCause, Runs, SetupResult, costed_against, yardsticks_of
from sim.study.ready import car_of, check_lock, course_of, make_entry, pace_of, race_of
from sim.study.summary import known

# What makes an entry worth a question; judgements of what a learner can see on the car.
TOE_SEEN_DEG = 0.25
CROOKED_DEG = 2.0  # of the hand wheel where the car drives straight on
LEAN_SEEN_DEG = 3.0
NEARLY = 0.2  # how far from 1 the share of ideal may be that still counts as ideal, and from 0 as parallel
LOOKED_AT = radians(10)  # outer wheel's angle at which the share is taken, or 0.9 of what the wheel reaches
HANDS = 400  # hand angles over which that is interpolated: to 1e-4 of the share
KIND_OF_END = {EndCause.LOCK: Kind.LOCK, EndCause.TIPPED: Kind.TIPS, EndCause.GRIP: Kind.NO_GRIP}
# The run folder is a scenario too, and a scenario holds no more set-ups; the reference is one of them.
MOST_REPLAYED = next(mark.max_length for mark in Scenario.model_fields["setup"].metadata if hasattr(mark, "max_length")) - 1


@dataclass(frozen=True)
class _Driven:
    """An entry that drove, beside ideal steering on the same car."""

    entry: Accepted
    result: SetupResult
    ideal: SetupResult
    shows: Shows


@dataclass(frozen=True)
class _Conditions:
    """What is the same for every entry."""

    rules: Rules
    runs: Runs
    plan: PacePlan
    reference: SetupResult

    def drive(self, entry: Accepted) -> _Driven | Refused:
        """Drive one entry; whatever goes wrong with it is its refusal and nobody else's."""
        try:
            made = make_entry(entry.setup, entry.scenario, entry.file, "setup")
            runs, ideal = self.runs, self.reference
            if entry.scenario.car != self.rules.scenario.car:  # a car of its own is held against ideal steering on that car
                runs = replace(runs, car=car_of(entry.scenario))
                ideal = runs.drive(make_entry(ideal_setup(), entry.scenario, entry.file, "car"), self.plan)
            result = costed_against(runs.drive(made, self.plan), ideal)
            return _Driven(entry, result, ideal, _shows(made.steering, entry, result))
        except InputError as error:
            return refused(entry.file, entry.team, error)
        except Exception as error:  # no fault of one team's, known or not, may end the class's contest
            reason = f"setup: the simulation can't drive this ({type(error).__name__}); choose figures nearer to the usual"
            return Refused(entry.file, entry.team, reason)


def contest_result(
    folder: Path, workers: int = 1, progress: Callable[[int, int], None] = lambda done, of: None
) -> tuple[ContestResult, Comparison]:
    """Run a class's contest.

    folder : with the rules and the entries; workers : threads that drive [-]
    progress : called with the entries driven and all that drive; first when the rules have been checked
    Returns the ContestResult and the laps to replay: ideal steering first, then the
    entries by place, without those that chose a car of their own.  Raises InputError for rules or a course that cannot be used.
    """
    rules = read_rules(folder)
    source, scenario = str(folder / RULES), rules.scenario
    accepted, turned_down = read_entries(folder, rules)
    course = course_of(scenario, folder, source)
    car = car_of(scenario)
    ideal = make_entry(ideal_setup(), scenario, source, "car")
    check_lock(course, car, [ideal], source)
    runs = Runs(car, course, Model.SLIPPING_FOUR_WHEELS, scenario.pace.laps, race_of(scenario))
    progress(0, len(accepted))
    seeking = scenario.pace.target_m_per_s == "furthest"
    target = runs.furthest(ideal, scenario)[0] if seeking else float(scenario.pace.target_m_per_s)
    plan = plan_pace(course, car, pace_of(scenario, target))
    conditions = _Conditions(rules, runs, plan, runs.drive(ideal, plan))
    driven: list[_Driven] = []
    for done, one in enumerate(_all(conditions.drive, accepted, workers)):
        if isinstance(one, Refused):
            turned_down.append(one)
        else:
            driven.append(one)
        progress(done + 1, len(accepted))
    ranked = _ranked(driven, rules)
    told = _told(ranked, turned_down, conditions, course, target)
    return told, _comparison([one for _, one in ranked], conditions, target)


def _all(drive: Callable[[Accepted], _Driven | Refused], entries: list[Accepted], workers: int) -> Iterable[_Driven | Refused]:
    """Every entry's outcome, in the entries' order."""
    if workers == 1:
        return map(drive, entries)
    from joblib import Parallel, delayed

    return Parallel(n_jobs=workers, prefer="threads", return_as="generator")(delayed(drive)(entry) for entry in entries)


# --- ranking ----------------------------------------------------------------------------------------------------------


def _figures(result: SetupResult) -> LapFigures:
    """A lap's figures; None where there are none."""
    ledger = result.ledger
    if ledger is None:
        return NO_FIGURES
    race, worst = result.race, int(np.argmax(ledger.rub))
    return LapFigures(
        drive_work_J=known(ledger.drive_work), scrub_J=known(ledger.scrub), rolling_J=known(ledger.rolling),
        geometry_cost_J=known(result.geometry_cost), rub_m=known(ledger.rub.sum()), rub_worst_m=known(ledger.rub[worst]),
        worst_tyre=WHEELS[worst], lap_time_s=known(result.time),
        battery_Wh=known(ledger.electric.battery / HOUR) if ledger.electric else None, laps_per_charge=known(result.laps_per_charge),
        race_laps=known(race.laps) if race else None, race_distance_m=known(race.distance) if race else None,
        race_ended_by=race.ended_by if race else None,
    )  # fmt: skip


def shared_places(scores: Mapping[str, float], least: bool, tolerance: float) -> dict[str, int]:
    """Places from 1 on.

    scores : of each team [the score's unit]; least : whether less is better; tolerance : share of a score [-]
    Returns each team's place.  A place is shared by all whose score lies within the tolerance of the best of them, and the next one counts
    all before it, so that of two who share the first the third comes third.
    """
    places: dict[str, int] = {}
    first, leader = 0, inf
    for count, team in enumerate(sorted(scores, key=lambda team: (scores[team] if least else -scores[team], team)), start=1):
        if count == 1 or abs(scores[team] - leader) > tolerance * abs(leader):
            first, leader = count, scores[team]
        places[team] = first
    return places


def _ranked(driven: list[_Driven], rules: Rules) -> list[tuple[int | None, _Driven]]:
    """Entries with their places, within a place by name; who did not finish has none and stands at the end."""
    scores = {one.entry.team: rules.score.of(_figures(one.result)) for one in driven}
    places = shared_places({team: score for team, score in scores.items() if score is not None}, rules.score.least, rules.tolerance)
    return sorted(
        ((places.get(one.entry.team), one) for one in driven),
        key=lambda pair: (pair[0] is None, pair[0] or 0, pair[1].entry.team.casefold(), pair[1].entry.team),
    )


def _told(
    ranked: list[tuple[int | None, _Driven]], turned_down: list[Refused], conditions: _Conditions, course: Course, target: float
) -> ContestResult:
    """What the contest finds."""
    rules = conditions.rules
    places = [place for place, _ in ranked]
    replayed = _replayed([one for _, one in ranked], conditions)
    entries = []
    for place, one in ranked:
        figures, setup = _figures(one.result), one.entry.setup
        entries.append(ContestEntry(
            place=place, shared=place is not None and places.count(place) > 1, team=one.entry.team, members=one.entry.members,
            file=one.entry.file, finished=one.result.finished, reason=one.result.reason or None, score=rules.score.of(figures),
            **vars(figures), ideal=_figures(one.ideal), setup_name=one.entry.setup_name,
            setup={name: getattr(setup, name) for name in SetupTable.model_fields if name in setup.model_fields_set and name != "name"},
            car=_own_car(one.entry.scenario.car, rules.scenario.car), shows=one.shows, replayed=one in replayed,
        ))  # fmt: skip
    scored = [entry.score for entry in entries if entry.place is not None and entry.score is not None]
    return ContestResult(
        title=rules.scenario.title,
        rule=rules.rule, score_key=rules.score.key, score_unit=rules.score.unit, tolerance_percent=100 * rules.tolerance,
        best_score=(min if rules.score.least else max)(scored) if scored else None,
        course=ContestCourse(course.name, course.length, course.closed),
        target_m_per_s=target,
        ideal=_figures(conditions.reference),
        entries=tuple(entries),
        refused=tuple(sorted(turned_down, key=lambda one: one.file)),
    )  # fmt: skip


def _own_car(car: CarTable, rules: CarTable) -> dict[str, float]:
    """The keys that a team chose for its car."""
    return {key: getattr(car, key) for key in CarTable.model_fields if getattr(car, key) != getattr(rules, key)}


def _comparison(driven: list[_Driven], conditions: _Conditions, target: float) -> Comparison:
    """The laps that can be replayed as a comparison of one car's set-ups, ideal steering first."""
    scenario, reference = conditions.rules.scenario, conditions.reference
    shown = _replayed(driven, conditions)
    first, results = costed_against(reference, reference), [one.result for one in shown]
    return Comparison(
        scenario.model_copy(update={"setup": (ideal_setup(), *(one.entry.setup for one in shown))}), conditions.runs.rung,
        conditions.runs.car, conditions.runs.course, conditions.plan, (first, *results), reference, target,
        yardsticks_of(conditions.runs, scenario, target, reference, results),
    )  # fmt: skip


def _replayed(driven: list[_Driven], conditions: _Conditions) -> list[_Driven]:
    """Whose laps can be shown side by side: none with a car of its own, since the replay draws one car, and none that broke down."""
    car = conditions.rules.scenario.car
    return [one for one in driven if one.entry.scenario.car == car and _drawable(one.result)][:MOST_REPLAYED]


def _drawable(result: SetupResult) -> bool:
    columns = result.trace.columns().values()
    return len(result.trace.time) > 1 and all(np.isfinite(column).all() for column in columns)


# --- what an entry shows ----------------------------------------------------------------------------------------------


def _shows(steering: Steering, entry: Accepted, result: SetupResult) -> Shows:
    """What is worth asking its team about."""
    car = entry.scenario.car
    wheelbase = car.wheelbase_mm * MILLIMETRE

    def single_track(wheels: FrontWheels) -> np.ndarray:
        return equivalent_steer(wheels.steer, steering.kingpin_y, wheelbase)

    ahead = float(hand_where(steering, single_track, np.zeros(1))[0])
    left, right = steering.front_wheels(np.array([ahead])).steer[0]
    toe = degrees(right - left) / 2
    # A hand angle that is one wheel's swing is moved by toe alone.
    crooked = degrees(ahead) if steering.kind.hand is Hand.HAND_WHEEL else 0.0
    share, outer = _share_of_ideal(steering, wheelbase, ahead)
    return Shows(_kind(entry.setup, result, share, toe, crooked), share, outer, toe, crooked)


def _share_of_ideal(steering: Steering, wheelbase: float, ahead: float) -> tuple[float | None, float | None]:
    """How much of the ideal difference the inner wheel turns further in a left turn, toe set aside, and at which outer angle [deg].

    ahead : hand angle at which the car drives straight on [rad].  None for a turntable, whose wheels have no difference to make.
    """
    track = float(steering.kingpin_y[0] - steering.kingpin_y[1])
    if track == 0:
        return None, None
    steer = steering.front_wheels(np.linspace(ahead, steering.lock_left, HANDS)).steer
    inner, outer = (steer - steer[0]).T
    looked_at = min(LOOKED_AT, 0.9 * float(outer.max()))
    upto = int(np.argmax(outer)) + 1
    turned = float(np.interp(looked_at, outer[:upto], inner[:upto]))
    return (turned - looked_at) / (float(ideal_inner(looked_at, track, wheelbase)) - looked_at), degrees(looked_at)


def _kind(setup: SetupTable, result: SetupResult, share: float | None, toe: float, crooked: float) -> Kind:
    """The first thing that is out of the ordinary."""
    if not result.finished:
        return KIND_OF_END.get(result.cause, Kind.STOPPED)
    if setup.pivot == "turntable":
        return Kind.TURNTABLE
    share = 1.0 if share is None else share
    kinds = {
        Kind.REVERSED: share < -NEARLY,
        Kind.UNEVEN_RODS: abs(crooked) >= CROOKED_DEG,
        Kind.TOE_IN: toe >= TOE_SEEN_DEG,
        Kind.TOE_OUT: toe <= -TOE_SEEN_DEG,
        Kind.PARALLEL: share <= NEARLY,
        Kind.TOO_LITTLE: share < 1 - NEARLY,
        Kind.TOO_MUCH: share > 1 + NEARLY,
        Kind.LEAN: max(abs(setup.kingpin_inclination_deg), abs(setup.caster_deg)) >= LEAN_SEEN_DEG,
    }
    return next((kind for kind, seen in kinds.items() if seen), Kind.CLOSE_TO_IDEAL)
