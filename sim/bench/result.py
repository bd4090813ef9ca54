"""What bench readings say of a built front end, as one result: what is off, what to turn, and how well the readings carry that."""

from collections.abc import Mapping, Sequence
from dataclasses import astuple, dataclass, replace
from enum import StrEnum
from math import degrees, isfinite
from pathlib import Path

import numpy as np

from sim.bench.advice import Advice, Outcome, advise
from sim.bench.as_built import ARM, DRAWING, PARTS, ROD, RULE, WORTH, Built, make_plan
from sim.bench.dangers import DangerErrors, danger_errors, dangers_as_read
from sim.bench.design import Item, Questions, ReadingPlan, Sureness, design_plan, next_item, options_of, rim_of
from sim.bench.doubts import doubts_about
from sim.bench.fit import FEWEST_SPARE, NORMAL_95, BenchFit, fit_readings, read_kinds, repeated_fits
from sim.bench.kinds import DIAL, KINDS
from sim.bench.price import CoursePrice, course_price
from sim.bench.readings import check_against_plan, joined, read_readings
from sim.errors import InputError
from sim.keys import MILLIMETRE
from sim.scenario.file import file_or_shipped_table
from sim.scenario.scenario import Scenario
from sim.study.dangers import Dangers, dangers_of, nearer
from sim.study.ready import car_of
from sim.study.summary import known

DEGREE = degrees(1.0)  # degrees in a radian
# Share of the hand wheel's range within which wheel angles were read at the place that is asked for: half the way to the next such place of
# a plan, at 0.4 of a lock.  Judgement. [-]
SAME_PLACE = 0.1


class Verdict(StrEnum):
    """How the drawn car, with the errors that were found, meets the readings."""

    FITS, SCATTERS, UNJUDGED = "fits well", "readings scatter more than said", "too few or too coarse readings to judge"


@dataclass(frozen=True)
class LeftOut:
    """A row of readings that lies too far from the rest.

    file : its table; line : in it [-]
    what : was read in it, in words
    off_reading_errors : how far from the fitted car [reading errors]
    """

    file: str
    line: int
    what: str
    off_reading_errors: float


@dataclass(frozen=True)
class KindFigures:
    """The readings of one kind.

    name : of the kind; columns : of the table; readings : how many [-]
    error_deg, error_mm, error_turns : of each column, root mean square, None where it is in another unit [degrees], [mm], [turns]
    error_stated : whether the table states it everywhere; ground : of the usual error
    """

    name: str
    columns: tuple[str, ...]
    readings: int
    error_deg: float | None
    error_mm: float | None
    error_turns: float | None
    error_stated: bool
    ground: str


@dataclass(frozen=True)
class ReadingsFigures:
    """The tables of readings.

    files : their names; settings, settings_used : lines in them, each thing that the hand wheel moves together and each other one by
        itself, and those that count [-]
    kinds : of what was read; rim_taken_mm : distance between the places on the rims that was taken, None where none had to be [mm]
    left_out : what does not count; notes : sentences
    contradictions : sentences about readings that disagree or can hardly be meant; with any no rod is to be turned yet
    """

    files: tuple[str, ...]
    settings: int
    settings_used: int
    kinds: tuple[KindFigures, ...]
    rim_taken_mm: float | None
    left_out: tuple[LeftOut, ...]
    notes: tuple[str, ...]
    contradictions: tuple[str, ...]


@dataclass(frozen=True)
class FitFigures:
    """How well the fit meets the readings that count.

    chi_square : sum of the squared misses, and of the errors over their usual sizes [-]; expected : what it is on average [-]
    spare_readings : in excess of what they tell of the car [-]
    chance : of at least such a chi_square if readings and cars scatter as stated, None without spare readings [-]
    verdict : on it; errors_widened_by : factor on the readings' errors [-]
    """

    chi_square: float
    expected: int
    spare_readings: float
    chance: float | None
    verdict: Verdict
    errors_widened_by: float


@dataclass(frozen=True)
class TurnsValue:
    """An error of a rod, longer than planned positive.

    name : of what; value_turns, error_turns, usual_turns : with its standard error, and what was expected before any reading [turns]
    interval_95_turns : its ends [turns]; value_mm, error_mm : value and standard error on this thread [mm]
    """

    name: str
    value_turns: float
    error_turns: float
    usual_turns: float
    interval_95_turns: tuple[float, float]
    value_mm: float
    error_mm: float


@dataclass(frozen=True)
class AngleValue:
    """An error of an arm, a zero or a mark.

    name : of what; value_deg, error_deg, usual_deg : with its standard error, and what was expected before any reading [degrees]
    interval_95_deg : its ends [degrees]
    """

    name: str
    value_deg: float
    error_deg: float
    usual_deg: float
    interval_95_deg: tuple[float, float]


@dataclass(frozen=True)
class LengthValue:
    """An error of a drawn length, or of the tape.

    name : of what; value_mm, error_mm, usual_mm : with its standard error, and what was expected before any reading [mm]
    interval_95_mm : its ends [mm]
    """

    name: str
    value_mm: float
    error_mm: float
    usual_mm: float
    interval_95_mm: tuple[float, float]


@dataclass(frozen=True)
class PartFigures:
    """A part that may be to blame.

    part : its name; off_turns, off_mm : of a rod, longer positive, None for an arm [turns], [mm]; off_deg : of an arm, more kink positive,
        None for a rod [degrees]
    worth_turns, worth_deg : from where it counts as off [turns], [degrees]
    probability : that it is off by more than that, to that side [-]; known : whether it is known well enough to be blamed
    serves : whether nothing is to be turned with it as it is; blamed : whether the readings tell that it is off, and it does not serve
    """

    part: str
    off_turns: float | None
    off_mm: float | None
    off_deg: float | None
    worth_turns: float | None
    worth_deg: float | None
    probability: float
    known: bool
    serves: bool
    blamed: bool


@dataclass(frozen=True)
class SureFigures:
    """How sure answers are.

    total_toe_error_deg : standard error of both wheels' toe together [degrees]; toe_near_probability : known to within 0.2 degrees [-]
    rod_errors_turns : of each rod's length [turns]; named_probability : that a rod that is one turn off is named [-]
    turns_errors_turns : of the turns that each rod needs [turns]; cured_probability : all known to within half a turn [-]
    """

    total_toe_error_deg: float
    toe_near_probability: float
    rod_errors_turns: tuple[float, ...]
    named_probability: float
    turns_errors_turns: tuple[float, ...]
    cured_probability: float


@dataclass(frozen=True)
class ItemFigures:
    """Something to measure.

    name, doing : what, and how; columns : of the table
    hand_deg : where the hand wheel stands, None where that does not matter [degrees]
    times : how often [-]; minutes : in all [min]
    """

    name: str
    doing: str
    columns: tuple[str, ...]
    hand_deg: float | None
    times: int
    minutes: float


@dataclass(frozen=True)
class MoreFigures:
    """One reading more that would help most.

    item : what to measure; sure : how sure the answers would be with it
    """

    item: ItemFigures
    sure: SureFigures


@dataclass(frozen=True)
class OutcomeFigures:
    """A car that runs straight ahead.

    toe_in_deg, total_toe_in_deg : of each wheel, and of both together [degrees]; straight_hand_deg : of the hand wheel [degrees]
    toe_drag_N : that toe adds to rolling [N]; toe_drag_percent_of_rolling : None for a car without rolling resistance [%]
    largest_miss_deg : of the difference between the wheels, lock to lock, against the plan [degrees]
    """

    toe_in_deg: float
    total_toe_in_deg: float
    straight_hand_deg: float
    toe_drag_N: float
    toe_drag_percent_of_rolling: float | None
    largest_miss_deg: float


@dataclass(frozen=True)
class RodFigures:
    """What to do with one rod.

    rod : its name, as in `angles`; turns : of its ends, positive unscrews [turns]
    needed_turns, needed_error_turns : that would be exactly right, with its standard error [turns]
    planned_mm, after_mm, after_error_mm : from eye to eye, as planned and with the turns made, with its standard error [mm]
    """

    rod: str
    turns: float
    needed_turns: float
    needed_error_turns: float
    planned_mm: float
    after_mm: float
    after_error_mm: float


@dataclass(frozen=True)
class AdviceFigures:
    """What to turn and what comes of it.

    mark_move_deg : by how much the hand wheel's mark moves before any turn, to the left positive, 0 where it stays [degrees]
    rods : each rod; either_rod_turns : half a turn more on one of the two, whichever [turns]
    apart_told : whether the readings tell what each rod needs by itself
    near_probability : that all rods are then within half a turn of what they need [-]
    rolling_resistance_N : of the whole car [N]; planned, now, after : the plan, the car as fitted, the car with the turns made
    total_toe_error_deg : standard error of the toe-in of both wheels together [degrees]
    toe_told : whether the readings pin the toe, or at least show that it is not the planned one
    """

    mark_move_deg: float
    rods: tuple[RodFigures, ...]
    either_rod_turns: float
    apart_told: bool
    near_probability: float
    rolling_resistance_N: float
    planned: OutcomeFigures
    now: OutcomeFigures
    after: OutcomeFigures
    total_toe_error_deg: float
    toe_told: bool


@dataclass(frozen=True)
class BenchResult:
    """What `bench` found: the names of the fields are the keys of `--json`.

    title : of the scenario; setup, linkage : of what was built; thread_pitch_mm : of its rods [mm]
    readings, fit : what was fitted, and how well
    interval_method : "linear" or "bootstrap"; fitted : all that may be off
    parts : that may be to blame; advice : what to turn
    more : the one reading that would help most; to_tell : the one that would best tell which part is off; None where none would
    to_tell_again : whether that was read before
    price : what is off costs on the course; dangers : where the planned steering can snap over or jam
    dangers_as_read : the same of the car as fitted, before anything is turned; dangers_as_read_errors : how sure that is
    dangers_nearer : what comes first of both on each side
    """

    title: str
    setup: str
    linkage: str | None
    thread_pitch_mm: float
    readings: ReadingsFigures
    fit: FitFigures
    interval_method: str
    fitted: tuple[TurnsValue | AngleValue | LengthValue, ...]
    parts: tuple[PartFigures, ...]
    advice: AdviceFigures
    more: MoreFigures | None
    to_tell: ItemFigures | None
    to_tell_again: bool
    price: CoursePrice
    dangers: Dangers
    dangers_as_read: Dangers
    dangers_as_read_errors: DangerErrors
    dangers_nearer: Dangers


@dataclass(frozen=True)
class PlanResult:
    """What `bench --plan` found.

    title : of the scenario; setup, linkage : of what was built; plan : its name
    items : what to measure, in order; minutes : of floor work in all, the hand wheel's mark, tyres and play before it included [min]
    columns : of the table to write; rim_mm : distance between the places on a rim that the plan supposes [mm]
    sure : how sure the answers will be; dangers : where the planned steering can snap over or jam
    """

    title: str
    setup: str
    linkage: str | None
    plan: str
    items: tuple[ItemFigures, ...]
    minutes: float
    columns: tuple[str, ...]
    rim_mm: float
    sure: SureFigures
    dangers: Dangers


def planned_readings(scenario: Scenario, index: int, source: str, name: str) -> PlanResult:
    """Which readings to take of a set-up.

    scenario : Scenario; index : of the set-up that was built; source : the scenario's name in messages
    name : "quick" or "full"
    Returns the PlanResult [units in the names of its fields].  Raises InputError for a set-up without rods.
    """
    setup = scenario.setup[index]
    plan = make_plan(setup, scenario.car, source, setup.place)
    found = design_plan(plan, name)
    return PlanResult(
        title=scenario.title, setup=setup.name, linkage=setup.linkage, plan=name,
        items=tuple(_item_figures(item, count) for item, count in found.taken), minutes=found.minutes, columns=columns_of(found),
        rim_mm=rim_of(plan) / MILLIMETRE, sure=_sure_figures(found.sure), dangers=dangers_of(plan.steering),
    )  # fmt: skip


def columns_of(plan: ReadingPlan) -> tuple[str, ...]:
    """The columns of the table that a plan fills, in order, each once.  plan : ReadingPlan.  Returns their names."""
    return tuple(dict.fromkeys(column for item, _ in plan.taken for column in item.columns))


def plan_lines(plan: PlanResult) -> tuple[ItemFigures, ...]:
    """The lines of the table that a plan fills, in the order in which they are read.

    plan : PlanResult
    Returns the item of each line [units in the names of its fields].  What is written under the same columns is gone through in rounds, so
    that the hand wheel goes elsewhere between two readings of a setting where it can, and each is set afresh.
    """
    lines: list[ItemFigures] = []
    for columns in dict.fromkeys(item.columns for item in plan.items):
        alike = [item for item in plan.items if item.columns == columns]
        lines += [item for turn in range(max(item.times for item in alike)) for item in alike if turn < item.times]
    return tuple(lines)


def examine(
    scenario: Scenario, index: int, source: str, tables: Sequence[Path | str], bootstrap: bool = False, folder: Path = Path()
) -> BenchResult:  # fmt: skip
    """Fit bench readings of a set-up, and work out what to turn and what that is worth.

    scenario : Scenario; index : of the set-up that was built; source : the scenario's name in messages
    tables : of readings, or names of shipped ones; bootstrap : repeat the fit for the intervals
    folder : where a relative course file is looked for
    Returns the BenchResult [units in the names of its fields].  Raises InputError for a set-up without rods, for readings that cannot be
    used, and where nothing can be fitted.
    """
    setup = scenario.setup[index]
    plan = make_plan(setup, scenario.car, source, setup.place)
    readings = joined([
        read_readings(file_or_shipped_table(Path(table)), str(table), scenario.car.wheel_radius, scenario.car.front_track)
        for table in tables
    ])  # fmt: skip
    check_against_plan(readings, plan)
    readings = replace(readings, slips=(*readings.slips, *doubts_about(readings, plan)))
    try:
        fit = fit_readings(plan, readings)
        advice = advise(fit, car_of(scenario))
        options = options_of(plan, fit.errors, read_kinds(readings))
        questions = Questions(plan, fit.errors, False, advice.slopes)
        more = next_item(questions, fit.covariance, options)
        doubted = [part.place for part in advice.parts if not (part.told or part.serves)]
        tell = next_item(questions, fit.covariance, options, doubted) if doubted else None
    except InputError as fault:
        raise InputError(readings.source, fault.place, fault.problem, fault.remedy) from None
    replicates = repeated_fits(fit) if bootstrap else None
    planned, read = dangers_of(plan.steering), dangers_as_read(plan, fit.errors)
    return BenchResult(
        title=scenario.title, setup=setup.name, linkage=setup.linkage, thread_pitch_mm=setup.thread_pitch_mm,
        readings=_readings_figures(fit), fit=_fit_figures(fit, advice), interval_method="bootstrap" if bootstrap else "linear",
        fitted=tuple(_value(fit, place, replicates) for place in np.flatnonzero(plan.spreads).tolist()), parts=_part_figures(plan, advice),
        advice=_advice_figures(plan, advice),
        more=None if more is None else MoreFigures(_item_figures(more[0], 1), _sure_figures(more[1])),
        to_tell=None if tell is None else _item_figures(tell[0], 1), to_tell_again=tell is not None and was_read(fit, tell[0]),
        price=course_price(scenario, folder, source, plan, (fit.errors, advice.changed), any(astuple(advice.turns))),
        dangers=planned, dangers_as_read=read, dangers_as_read_errors=danger_errors(fit), dangers_nearer=nearer(planned, read),
    )  # fmt: skip


def was_read(fit: BenchFit, item: Item) -> bool:
    """Whether something has been measured already.

    fit : BenchFit; item : Item
    Returns whether all of its readings are there and count, of wheel angles those with the hand wheel near where the item has it [-].
    """
    read, places = fit.readings.read & fit.kept[:, None], [place for place in item.places if place != DIAL]
    if item.hand is not None:
        steering = fit.plan.steering
        near = np.abs(fit.hand - item.hand) < SAME_PLACE * (steering.lock_left - steering.lock_right)
        read = read & (near[:, None] | np.array([kind.at_mark for kind in KINDS]))
    return bool(read[:, places].any(axis=0).all())


def _item_figures(item: Item, times: int) -> ItemFigures:
    hand = None if item.hand is None else degrees(item.hand)
    return ItemFigures(item.name, item.doing, item.columns, hand, times, times * item.minutes)


def _sure_figures(sure: Sureness) -> SureFigures:
    return SureFigures(
        degrees(sure.toe_error), sure.toe_near, sure.rod_errors, sure.named, sure.turns_errors, sure.cured
    )  # fmt: skip


def _hand_unused(fit: BenchFit) -> list[str]:
    """A note where hand angles were read that tell nothing."""
    if fit.plan.hand_tells or not fit.readings.read[:, DIAL].any():
        return []
    return [f"hand_deg is not used: with {fit.plan.setup.kind.a_name} the hand angle is the left wheel's own."]


def _readings_figures(fit: BenchFit) -> ReadingsFigures:
    readings = fit.readings
    return ReadingsFigures(
        files=readings.sources, settings=len(readings), settings_used=int(fit.kept.sum()),
        kinds=tuple(_kind_figures(fit, place) for place in read_kinds(readings)),
        rim_taken_mm=readings.rim_taken / MILLIMETRE if isfinite(readings.rim_taken) else None,
        left_out=tuple(
            LeftOut(readings.source_of(i), int(readings.line[i]),
                    ", ".join(KINDS[place].name for place in np.flatnonzero(readings.read[i])), float(fit.equivalent[i]))
            for i in fit.outliers
        ),
        notes=(*readings.notes, *_hand_unused(fit)), contradictions=readings.slips,
    )  # fmt: skip


def _kind_figures(fit: BenchFit, place: int) -> KindFigures:
    kind, readings = KINDS[place], fit.readings
    there = readings.read[:, place]
    # The error of a reading over that of each of its columns is the same for any error, but for the rim.
    each = readings.error[there, place] / kind.error(1.0, 1.0)
    if kind.over_rim:
        each = each * (readings.rim_taken if isfinite(readings.rim_taken) else rim_of(fit.plan))
    size = float(np.sqrt((each**2).mean())) / kind.columns[0].size
    errors = {f"error_{unit}": size if unit == kind.unit else None for unit in ("deg", "mm", "turns")}
    return KindFigures(
        name=kind.name, columns=tuple(column.name for column in kind.columns), readings=int(there.sum()),
        error_stated=bool(readings.stated[there, place].all()), ground=kind.ground, **errors,
    )  # fmt: skip


def _fit_figures(fit: BenchFit, advice: Advice) -> FitFigures:
    verdict = Verdict.FITS
    if fit.widened > 1:
        verdict = Verdict.SCATTERS
    elif fit.spare < FEWEST_SPARE or not advice.toe_told:  # almost any car would fit them, so that this one does is no praise
        verdict = Verdict.UNJUDGED
    return FitFigures(
        chi_square=fit.chi_square, expected=fit.freedom, spare_readings=fit.spare, chance=known(fit.chance), verdict=verdict,
        errors_widened_by=fit.widened,
    )  # fmt: skip


def _value(fit: BenchFit, place: int, replicates: np.ndarray | None) -> TurnsValue | AngleValue | LengthValue:
    one, value, error = fit.plan.unknowns[place], float(fit.errors[place]), float(fit.sure[place])
    low, high = value - NORMAL_95 * error, value + NORMAL_95 * error
    if replicates is not None:
        low, high = (float(end) for end in np.percentile(replicates[:, place], [2.5, 97.5]))
    if one.kind == ROD:
        pitch = fit.plan.pitch / MILLIMETRE
        return TurnsValue(one.name, value, error, one.spread, (low, high), value * pitch, error * pitch)
    if one.kind in (DRAWING, PARTS, RULE):
        size = 1 / MILLIMETRE
        return LengthValue(one.name, value * size, error * size, one.spread * size, (low * size, high * size))
    return AngleValue(one.name, value * DEGREE, error * DEGREE, one.spread * DEGREE, (low * DEGREE, high * DEGREE))


def _part_figures(plan: Built, advice: Advice) -> tuple[PartFigures, ...]:
    figures = []
    for part in advice.parts:
        rod = plan.unknowns[part.place].kind == ROD
        figures.append(PartFigures(
            part=part.part, off_turns=part.off if rod else None, off_mm=part.off * plan.pitch / MILLIMETRE if rod else None,
            off_deg=None if rod else degrees(part.off), worth_turns=WORTH[ROD] if rod else None,
            worth_deg=None if rod else degrees(WORTH[ARM]), probability=part.probability, known=part.known, serves=part.serves,
            blamed=part.told,
        ))  # fmt: skip
    return tuple(figures)


def _outcome_figures(outcome: Outcome, rolling: float) -> OutcomeFigures:
    return OutcomeFigures(
        toe_in_deg=degrees(outcome.toe_in), total_toe_in_deg=2 * degrees(outcome.toe_in), straight_hand_deg=degrees(outcome.hand),
        toe_drag_N=outcome.drag, toe_drag_percent_of_rolling=100 * outcome.drag / rolling if rolling > 0 else None,
        largest_miss_deg=degrees(outcome.miss),
    )  # fmt: skip


def _advice_figures(plan: Built, advice: Advice) -> AdviceFigures:
    names: Mapping[str, float] = plan.steering.mechanism.rod_lengths
    errors = np.sqrt(np.diag(advice.needed_covariance))
    rods = zip(names, (advice.turns.left, advice.turns.right), advice.needed, errors, plan.rod_lengths, advice.lengths,
               advice.length_errors, strict=False)  # fmt: skip
    return AdviceFigures(
        mark_move_deg=degrees(advice.mark),
        rods=tuple(
            RodFigures(name, turns, float(needed), float(error), planned / MILLIMETRE, after / MILLIMETRE, unsure / MILLIMETRE)
            for name, turns, needed, error, planned, after, unsure in rods
        ),
        either_rod_turns=advice.turns.either, apart_told=advice.apart_told, near_probability=advice.near,
        rolling_resistance_N=advice.rolling, planned=_outcome_figures(advice.planned, advice.rolling),
        now=_outcome_figures(advice.now, advice.rolling), after=_outcome_figures(advice.after, advice.rolling),
        total_toe_error_deg=2 * degrees(advice.toe_error), toe_told=advice.toe_told,
    )  # fmt: skip
