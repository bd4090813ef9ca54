"""A contest: every accepted entry drives the same course by the same plan, and the rule's score ranks them.

Nothing depends on the order of the files or on the number of workers: a lap depends on its own entry alone, and names decide the order
within a place.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, isfinite, nan
from pathlib import Path

import numpy as np

from sim.car.chassis import WHEELS
from sim.contest.entries import Accepted, read_entries, refused
from sim.contest.names import name_remarks
from sim.contest.results import NO_FIGURES, ContestCourse, ContestEntry, ContestResult, LapFigures, Refused, Risks, Role, Shows
from sim.contest.rules import RULES, Rules, Score, read_rules
from sim.contest.shows import bend_errors, bends_of, risks_of, shows_of
from sim.course.centreline import Course
from sim.errors import InputError
from sim.lap.ladder import Model
from sim.pace.driver import PacePlan, plan_pace
from sim.scenario.car import CarTable
from sim.scenario.choice import chosen_setup
from sim.scenario.doubts import file_doubts, named
from sim.scenario.scenario import Scenario
from sim.scenario.setup import SetupTable
from sim.scenario.tables import HOUR
from sim.steering.arrangement import ideal_setup
from sim.study.compare import Comparison, Runs, SetupResult, costed_against, straight_entry, work_of, yardsticks_of
from sim.study.dangers import Dangers, dangers_of
from sim.study.doubts import doubts_of
from sim.study.places import shared_places
from sim.study.ready import Entry, car_of, check_lock, course_of, make_entry, pace_of, race_of
from sim.study.summary import known

# The run folder is a scenario too, and a scenario holds no more set-ups; the reference is one of them.
MOST_REPLAYED = next(mark.max_length for mark in Scenario.model_fields["setup"].metadata if hasattr(mark, "max_length")) - 1


@dataclass(frozen=True)
class _Driven:
    """An entry that drove, beside ideal steering on the same car."""

    entry: Accepted
    result: SetupResult
    ideal: SetupResult
    shows: Shows
    risks: Risks
    dangers: Dangers
    doubts: tuple[str, ...]

    @property
    def cost(self) -> float:
        """Drive work beyond that of ideal steering on the same car [J]; nothing is known of who did not finish, which counts as least."""
        return self.result.geometry_cost if isfinite(self.result.geometry_cost) else -inf


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
            risks = risks_of(made.steering, entry.scenario)
            _keep_demands(risks, self.rules, entry.file)
            runs, ideal = self.runs_of(entry.scenario), self.reference
            if runs is not self.runs:  # a car of its own is held against ideal steering on that car
                ideal = runs.drive(make_entry(ideal_setup(), entry.scenario, entry.file, "car"), self.plan)
            result, straight = runs.drive(made, self.plan), _straight(entry)
            toe = 0.0 if straight is None else work_of(result) - work_of(runs.drive(straight, self.plan))
            result = replace(costed_against(result, ideal), toe_cost=toe if result.finished else nan)
            # Toe and rod turns are what a spanner sets: the angles in the bends are looked at without them.
            errors = bend_errors((straight or made).steering, entry.scenario.car, bends_of(runs.course, runs.car))
            shows = shows_of(made.steering, entry.scenario, result, errors)
            return _Driven(entry, result, ideal, shows, risks, dangers_of(made.steering), self.doubts_about(entry, made))
        except InputError as error:
            return refused(entry.file, entry.team, error)
        except Exception as error:  # no fault of one team's, known or not, may end the class's contest
            reason = f"setup: the simulation can't drive this ({type(error).__name__}); choose figures nearer to the usual"
            return Refused(entry.file, entry.team, reason)

    def doubts_about(self, entry: Accepted, made: Entry) -> tuple[str, ...]:
        """What looks like a slip of the team's, and not of the rules.  entry, made : the entry, and its set-up made ready."""
        given, whose = file_doubts(self.rules.scenario), named(entry.setup.name)
        found = [one for one in doubts_of(entry.scenario, [made]) if one not in given]
        return tuple(one if one.startswith(whose) else f"{whose}: {one}" for one in found)

    def runs_of(self, scenario: Scenario) -> Runs:
        """What is the same for every entry, with an entry's own car where it has one.  scenario : the entry's."""
        return self.runs if scenario.car == self.rules.scenario.car else replace(self.runs, car=car_of(scenario))


def _straight(entry: Accepted) -> Entry | None:
    """An entry without toe and rod turns; None where it has none, or does not go together without."""
    try:
        return straight_entry(entry.setup, entry.scenario, entry.file, "setup")
    except InputError:
        return None


def _keep_demands(risks: Risks, rules: Rules, file: str) -> None:
    """Hold what a set-up's place does not tell against what the rules demand of every car, to the digits that are told."""
    least, most = rules.demanded.get("least_tip_margin_m_per_s2", -inf), rules.demanded.get("largest_kick_lever_mm", inf)
    tips, lever = round(risks.tip_margin_m_per_s2, 2), round(risks.kick_lever_mm, 1)
    if tips < least:
        steer = round(risks.tip_steer_deg)
        problem = f"this car tips over at {tips:g} m/s2, {f'steered by {steer} degrees' if steer else 'even straight ahead'}"
        remedy = "bring the wheels further out when steered" if steer else "widen the track or bring the weight lower"
        raise InputError(file, "setup", f"{problem}; the rules demand {least:g} m/s2 or more", remedy)
    if lever > most:
        problem = f"a wheel on a step pulls at a lever of {lever:g} mm; the rules demand {most:g} mm or less"
        raise InputError(file, "setup", problem, "let each wheel swing about an axis that is close to it")


def contest_result(
    folder: Path, workers: int = 1, progress: Callable[[int, int], None] = lambda done, of: None, chosen: Sequence[str] = ()
) -> tuple[ContestResult, Comparison]:
    """Run a class's contest.

    folder : with the rules and the entries; workers : threads that drive [-]
    progress : called with the entries driven and all that drive; first when the rules have been checked
    chosen : teams whose laps are to be replayed too, each by its name, its row in the table from 1, or a beginning of its own
    Returns the ContestResult and the laps to replay: ideal steering first, then, by place, the winner's, the last one's, that of the entry
    that teaches most, and the chosen ones'.  Raises InputError for rules, a course or a choice that cannot be used.
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
    roles = _roles(ranked, rules.score, chosen, str(folder))
    told = _told(ranked, roles, turned_down, conditions, course, target)
    remarks = name_remarks([(one.file, one.written, one.team) for one in accepted])
    return replace(told, names=remarks), _comparison([one for _, one in ranked if id(one) in roles], conditions, target)


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
        race_ended_by=race.ended_by if race else None, toe_cost_J=known(result.toe_cost),
        front_scrub_J=known(ledger.lateral[:2].sum()), rear_scrub_J=known(ledger.lateral[2:].sum()),
        lengthwise_scrub_J=known(ledger.longitudinal.sum()),
    )  # fmt: skip


def _ranked(driven: list[_Driven], rules: Rules) -> list[tuple[int | None, _Driven]]:
    """Entries with their places, within a place by score and then name; who did not finish has none and stands at the end."""
    figures = {one.entry.team: _figures(one.result) for one in driven}
    scores = {team: score for team, lap in figures.items() if (score := rules.score.of(lap)) is not None}
    places = shared_places(scores, rules.score.least, {team: rules.told_apart(figures[team]) for team in scores})

    def order(pair: tuple[int | None, _Driven]) -> tuple[bool, int, float, str, str]:
        place, team = pair[0], pair[1].entry.team
        score = scores.get(team, 0.0)
        return place is None, place or 0, score if rules.score.least else -score, team.casefold(), team

    return sorted(((places.get(one.entry.team), one) for one in driven), key=order)


def _told(
    ranked: list[tuple[int | None, _Driven]], roles: Mapping[int, Role], turned_down: list[Refused], conditions: _Conditions,
    course: Course, target: float,
) -> ContestResult:  # fmt: skip
    """What the contest finds."""
    rules = conditions.rules
    places = [place for place, _ in ranked]
    entries = []
    for place, one in ranked:
        figures, setup = _figures(one.result), one.entry.setup
        entries.append(ContestEntry(
            place=place, shared=place is not None and places.count(place) > 1, team=one.entry.team, members=one.entry.members,
            file=one.entry.file, finished=one.result.finished, reason=one.result.reason or None, score=rules.score.of(figures),
            **vars(figures), ideal=_figures(one.ideal), setup_name=one.entry.setup_name,
            setup={name: getattr(setup, name) for name in SetupTable.model_fields if name in setup.model_fields_set and name != "name"},
            car=_own_car(one.entry.scenario.car, rules.scenario.car), shows=one.shows, risks=one.risks,
            dangers=one.dangers, doubts=one.doubts, replayed=roles.get(id(one)),
        ))  # fmt: skip
    scored = {entry.score: entry for entry in entries if entry.place is not None and entry.score is not None}
    best = (min if rules.score.least else max)(scored) if scored else None
    return ContestResult(
        title=rules.scenario.title,
        rule=rules.rule, score_key=rules.score.key, score_unit=rules.score.unit, tolerance_percent=100 * rules.tolerance,
        shared_within=None if best is None else rules.told_apart(scored[best]),
        best_score=best,
        course=ContestCourse(course.name, course.length, course.closed),
        target_m_per_s=target, lateral_limit_m_per_s2=rules.scenario.pace.lateral_limit_m_per_s2,
        demanded=rules.demanded,
        ideal=_figures(conditions.reference),
        entries=tuple(entries),
        refused=tuple(sorted(turned_down, key=lambda one: one.file)),
        names=(),
    )  # fmt: skip


def _own_car(car: CarTable, rules: CarTable) -> dict[str, float]:
    """The keys that a team chose for its car."""
    return {key: getattr(car, key) for key in CarTable.model_fields if getattr(car, key) != getattr(rules, key)}


# --- laps to replay ---------------------------------------------------------------------------------------------------


def _comparison(shown: list[_Driven], conditions: _Conditions, target: float) -> Comparison:
    """The laps to replay as a comparison of one car's set-ups, ideal steering first."""
    scenario, reference, runs = conditions.rules.scenario, conditions.reference, conditions.runs
    if shown:  # all of them drove one car, which need not be that of the rules
        scenario, reference = shown[0].entry.scenario, shown[0].ideal
        runs = conditions.runs_of(scenario)
    first, results = costed_against(reference, reference), [one.result for one in shown]
    return Comparison(
        scenario.model_copy(update={"setup": (ideal_setup(), *(one.entry.setup for one in shown))}), runs.rung,
        runs.car, runs.course, conditions.plan, (first, *results), reference, target,
        yardsticks_of(runs, scenario, target, reference, results),
    )  # fmt: skip


def _roles(ranked: list[tuple[int | None, _Driven]], score: Score, chosen: Sequence[str], source: str) -> dict[int, Role]:
    """Whose laps are shown side by side and why, by identity: all of one car, since the replay draws one.

    That is the first chosen one's, else the winner's.  None is shown whose lap broke down.
    """
    everyone = [one for _, one in ranked]
    asked = [_chosen(everyone, name, source) for name in chosen]
    if len({id(one) for one in asked}) > MOST_REPLAYED - len((Role.WINNER, Role.LAST, Role.TEACHES)):
        raise InputError(source, "--replay", "these are more teams than a replay holds", "choose fewer")
    for one in asked:
        if not _drawable(one.result):
            raise InputError(source, "--replay", f'the lap of "{one.entry.team}" broke down', "choose another team")
        if one.entry.scenario.car != asked[0].entry.scenario.car:
            problem = f'"{asked[0].entry.team}" and "{one.entry.team}" have different cars, and a replay draws one'
            raise InputError(source, "--replay", problem, "choose one of them")

    def score_of(one: _Driven) -> float:
        value = score.of(_figures(one.result)) or 0.0
        return value if score.least else -value

    placed = sorted((one for place, one in ranked if place is not None and _drawable(one.result)), key=score_of)
    drawn = [*placed, *(one for place, one in ranked if place is None and _drawable(one.result))]
    if not drawn:
        return {}
    car = (asked or drawn)[0].entry.scenario.car
    winner = placed[:1]
    drawn, placed = ([one for one in these if one.entry.scenario.car == car] for these in (drawn, placed))
    roles = {id(one): Role.CHOSEN for one in asked}
    ends = {id(one): Role.LAST for one in placed[-1:]} | {id(one): Role.WINNER for one in winner if one in placed}
    roles |= ends
    rest = [one for one in drawn if id(one) not in ends]
    if rest:
        roles[id(_teaches_most(rest, placed))] = Role.TEACHES
    return roles


def _chosen(driven: list[_Driven], name: str, source: str) -> _Driven:
    """The entry that is meant."""
    return driven[chosen_setup([one.entry.team for one in driven], name, source, option="--replay", things="team")]


def _teaches_most(rest: list[_Driven], placed: list[_Driven]) -> _Driven:
    """Of those between, who shows something that neither winner nor last show, and pays most for it; a judgement.

    One that finished comes before one that did not, for its whole lap can be compared.
    """
    seen = {one.shows.kind for one in (placed[:1] + placed[-1:])}
    return max(rest, key=lambda one: (one.shows.kind not in seen, one.result.finished, one.cost, -rest.index(one)))


def _drawable(result: SetupResult) -> bool:
    columns = result.trace.columns().values()
    return len(result.trace.time) > 1 and all(np.isfinite(column).all() for column in columns)
