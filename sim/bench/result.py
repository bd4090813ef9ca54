"""What bench readings say of a built front end, as one result: what is wrong, what to turn, and how well the readings carry that."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from math import degrees
from pathlib import Path

import numpy as np

from sim.bench.advice import Advice, Outcome, advise, static_toe
from sim.bench.as_built import (
    ARM_LEFT,
    ARM_RIGHT,
    ERRORS,
    KINDS,
    MOST,
    ROD_LEFT,
    ROD_RIGHT,
    ZERO_HAND,
    ZERO_LEFT,
    ZERO_RIGHT,
    Combination,
    make_plan,
)  # fmt: skip
from sim.bench.fit import FEWEST_SPARE, NORMAL_95, UNLIKELY, BenchFit, fit_readings, repeated_fits
from sim.bench.readings import check_against_plan, read_readings
from sim.errors import InputError
from sim.scenario.file import file_or_shipped_table
from sim.scenario.scenario import Scenario
from sim.study.ready import car_of
from sim.study.summary import known

DEGREE = degrees(1.0)  # degrees in a radian
Parts = tuple[tuple[int, float], ...]  # an error and how much of it
# Which errors (and how much of each) a reported value is made of: alone where the readings tell it, else as the sum or
# difference that they do tell.
_ROD_LINES: dict[str, Parts] = {"left rod": ((ROD_LEFT, 1.0),), "right rod": ((ROD_RIGHT, 1.0),)}
_ARM_LINES: dict[str, Parts] = {"left arm's kink": ((ARM_LEFT, 1.0),), "right arm's kink": ((ARM_RIGHT, 1.0),)}
_ZERO_LINES: dict[str, Parts] = {"left protractor's zero": ((ZERO_LEFT, 1.0),), "right protractor's zero": ((ZERO_RIGHT, 1.0),)}
_LINES: tuple[tuple[tuple[str, ...], dict[str, Parts]], ...] = (
    ((Combination.ROD,), {"rod": ((ROD_LEFT, 1.0),)}),
    ((Combination.BOTH_RODS, Combination.RODS_APART), _ROD_LINES),
    ((Combination.BOTH_RODS,), {"left rod + right rod": ((ROD_LEFT, 1.0), (ROD_RIGHT, 1.0))}),
    ((Combination.RODS_APART,), {"left rod - right rod": ((ROD_LEFT, 1.0), (ROD_RIGHT, -1.0))}),
    ((Combination.BOTH_ARMS, Combination.ARMS_APART), _ARM_LINES),
    ((Combination.BOTH_ARMS,), {"both arms' kink, mean": ((ARM_LEFT, 0.5), (ARM_RIGHT, 0.5))}),
    ((Combination.ARMS_APART,), {"left arm's kink - right arm's": ((ARM_LEFT, 1.0), (ARM_RIGHT, -1.0))}),
    ((Combination.BOTH_ZEROS, Combination.ZEROS_APART), _ZERO_LINES),
    ((Combination.ZEROS_APART,), {"left protractor's zero - right one's": ((ZERO_LEFT, 1.0), (ZERO_RIGHT, -1.0))}),
    ((Combination.BOTH_ZEROS,), {"both protractors' zero, mean": ((ZERO_LEFT, 0.5), (ZERO_RIGHT, 0.5))}),
    ((Combination.HAND,), {"hand wheel's zero": ((ZERO_HAND, 1.0),)}),
)
_ERROR_NAMES = (
    "left rod's length", "right rod's length", "left arm's kink", "right arm's kink", "left protractor's zero", "right protractor's zero",
    "hand wheel's zero",
)  # fmt: skip


class Verdict(StrEnum):
    """How the drawn car, with the errors that were found, meets the readings."""

    FITS, SCATTERS, TOO_GOOD = "fits well", "readings scatter more than said", "readings scatter less than said"
    UNJUDGED = "too few or too coarse readings to judge"


@dataclass(frozen=True)
class LeftOut:
    """A pair of readings that lies too far from the rest.

    line : of the table [-]; left_deg, right_deg : as read [degrees]
    off_deg, off_reading_errors : how far from the fitted car [degrees], [reading errors]
    """

    line: int
    left_deg: float
    right_deg: float
    off_deg: float
    off_reading_errors: float


@dataclass(frozen=True)
class ReadingsFigures:
    """The table of readings.

    file : its name; pairs, pairs_used : in it, and those that count [-]
    reading_error_deg : root mean square [degrees]; reading_error_stated : whether the table states it everywhere
    hand_read : whether hand angles were read; left_out : pairs that do not count; notes : sentences
    """

    file: str
    pairs: int
    pairs_used: int
    reading_error_deg: float
    reading_error_stated: bool
    hand_read: bool
    left_out: tuple[LeftOut, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class FitFigures:
    """How well the fit meets the readings that count.

    chi_square : sum of the squared misses [-]; spare_readings : in excess of what was fitted [-]
    chance : of at least such a chi_square if the readings scatter as stated, None without spare readings [-]
    residual_rms_deg : None without spare readings [degrees]; stated_rms_deg : reading error [degrees]
    verdict : on it; errors_widened : whether the errors follow the residuals
    """

    chi_square: float
    spare_readings: int
    chance: float | None
    residual_rms_deg: float | None
    stated_rms_deg: float
    verdict: Verdict
    errors_widened: bool


@dataclass(frozen=True)
class RodValue:
    """An error of a rod, longer positive, or a sum or difference of two.

    name : of what; value_turns, error_turns : with its standard error [turns]
    start_turns, lower_bound_turns, upper_bound_turns : of the fit [turns]
    unseen_turns : what errors of the usual size that the readings do not tell would do to it [turns]
    interval_95_turns : its ends [turns]; value_mm, error_mm : value and standard error on this thread [mm]
    bound_hit : whether it stands at its bound
    """

    name: str
    value_turns: float
    error_turns: float
    start_turns: float
    lower_bound_turns: float
    upper_bound_turns: float
    unseen_turns: float
    interval_95_turns: tuple[float, float]
    value_mm: float
    error_mm: float
    bound_hit: bool


@dataclass(frozen=True)
class AngleValue:
    """An error of an arm or of a zero, or a mean or difference of two.

    name : of what; value_deg, error_deg : with its standard error [degrees]
    start_deg, lower_bound_deg, upper_bound_deg : of the fit [degrees]
    unseen_deg : what errors of the usual size that the readings do not tell would do to it [degrees]
    interval_95_deg : its ends [degrees]; bound_hit : whether it stands at its bound
    """

    name: str
    value_deg: float
    error_deg: float
    start_deg: float
    lower_bound_deg: float
    upper_bound_deg: float
    unseen_deg: float
    interval_95_deg: tuple[float, float]
    bound_hit: bool


@dataclass(frozen=True)
class Correlation:
    """Of two fitted values.

    between : their names; correlation : of their errors [-]
    """

    between: tuple[str, str]
    correlation: float


@dataclass(frozen=True)
class StaticToe:
    """Of one wheel with the hand wheel in its middle.

    toe_in_deg, error_deg : with its standard error [degrees]
    """

    toe_in_deg: float
    error_deg: float


@dataclass(frozen=True)
class OutcomeFigures:
    """A car that runs straight ahead.

    toe_in_deg : of each wheel [degrees]; straight_hand_deg : of the hand wheel [degrees]
    toe_drag_N : that toe adds to rolling [N]; toe_drag_percent_of_rolling : None for a car without rolling resistance [%]
    largest_miss_deg : of the difference between the wheels, lock to lock, against the plan [degrees]
    """

    toe_in_deg: float
    straight_hand_deg: float
    toe_drag_N: float
    toe_drag_percent_of_rolling: float | None
    largest_miss_deg: float


@dataclass(frozen=True)
class AdviceFigures:
    """What to turn and what comes of it; a rod is "rod" where one joins the wheels, else "left_rod" and "right_rod".

    turns : by rod, positive unscrews [turns]; either_rod_turns : half a turn more on one of the two, whichever [turns]
    millimetres : by rod, "_mm" behind its name [mm]
    static_toe_in : by side, "left" and "right", None where the readings do not tell the rods one by one
    rolling_resistance_N : of the whole car [N]; planned, now, after : the plan, the car as fitted, the car with the turns made
    toe_error_deg : standard error of the toe-in [degrees]; toe_unseen_deg : what the readings do not tell would do to it [degrees]
    toe_left_over_deg : after the turns, beside the plan [degrees]
    longer_than_drawn_turns : by rod, with the turns made [turns]
    toe_told : whether the readings pin the toe, or at least show that it is not the planned one
    pairs_wanted : pairs of readings that would pin it, 0 where these do [-]
    """

    turns: Mapping[str, float]
    either_rod_turns: float
    millimetres: Mapping[str, float]
    static_toe_in: Mapping[str, StaticToe] | None
    rolling_resistance_N: float
    planned: OutcomeFigures
    now: OutcomeFigures
    after: OutcomeFigures
    toe_error_deg: float
    toe_unseen_deg: float
    toe_left_over_deg: float
    longer_than_drawn_turns: Mapping[str, float]
    toe_told: bool
    pairs_wanted: int


@dataclass(frozen=True)
class BenchResult:
    """What `bench` found: the names of the fields are the keys of `--json`.

    title : of the scenario; setup, linkage : of what was built; thread_pitch_mm : of its rods [mm]
    toe_in_planned_deg : of each wheel [degrees]; readings, fit : what was fitted, and how well
    interval_method : "linear" or "bootstrap"; fitted : the values that the readings tell; correlations : of each two of them
    not_told : names of combinations that the readings do not tell; not_told_apart : groups of errors by name
    advice : None where the readings tell nothing about the rods
    """

    title: str
    setup: str
    linkage: str | None
    thread_pitch_mm: float
    toe_in_planned_deg: float
    readings: ReadingsFigures
    fit: FitFigures
    interval_method: str
    fitted: tuple[RodValue | AngleValue, ...]
    correlations: tuple[Correlation, ...]
    not_told: tuple[str, ...]
    not_told_apart: tuple[tuple[str, ...], ...]
    advice: AdviceFigures | None


def examine(scenario: Scenario, index: int, source: str, readings_path: Path | str, bootstrap: bool = False) -> BenchResult:
    """Fit bench readings of a set-up and work out what to turn.

    scenario : Scenario; index : of the set-up that was built; source : the scenario's name in messages
    readings_path : the table, or the name of a shipped one; bootstrap : repeat the fit for the intervals
    Returns the BenchResult [units in the names of its fields].  Raises InputError for a set-up without rods, for readings that cannot be
    used, and where nothing can be fitted.
    """
    setup = scenario.setup[index]
    plan = make_plan(setup, scenario.car, source, f"setup[{index}]")
    shown = str(readings_path)
    readings = read_readings(file_or_shipped_table(Path(readings_path)), shown)
    check_against_plan(readings, plan.steering)
    fit = fit_readings(plan, readings)
    try:
        advice = advise(fit, car_of(scenario))
    except InputError as fault:
        raise InputError(shown, fault.place, fault.problem, fault.remedy) from None
    replicates = repeated_fits(fit) @ fit.basis.T if bootstrap else None
    return BenchResult(
        title=scenario.title, setup=setup.name, linkage=setup.linkage, thread_pitch_mm=setup.thread_pitch_mm,
        toe_in_planned_deg=setup.toe_in_deg, readings=_readings_figures(fit),
        fit=_fit_figures(fit, told=advice is not None and _toe_told(advice)), interval_method="bootstrap" if bootstrap else "linear",
        fitted=tuple(_value(fit, name, parts, at_bound, replicates) for name, parts, at_bound in _reported(fit)),
        correlations=_correlations(fit), not_told=tuple(fit.untold),
        not_told_apart=tuple(
            tuple("rod's length" if plan.one_rod and error == ROD_LEFT else _ERROR_NAMES[error] for error in group)
            for group in fit.confused
        ),
        advice=_advice_figures(fit, advice) if advice else None,
    )  # fmt: skip


def _hand_unused(fit: BenchFit) -> list[str]:
    """A note where hand angles were read that tell nothing."""
    if fit.plan.hand_tells or not np.isfinite(fit.readings.hand).any():
        return []
    return [f"hand_deg is not used: with {fit.plan.setup.kind.a_name} the hand angle is the left wheel's own."]


def _readings_figures(fit: BenchFit) -> ReadingsFigures:
    readings = fit.readings
    return ReadingsFigures(
        file=readings.source, pairs=len(readings), pairs_used=len(readings) - len(fit.outliers),
        reading_error_deg=float(np.degrees(np.sqrt((readings.error**2).mean()))), reading_error_stated=readings.error_stated,
        hand_read=bool(np.isfinite(readings.hand).any()),
        left_out=tuple(
            LeftOut(int(readings.line[i]), degrees(readings.left[i]), degrees(readings.right[i]),
                    degrees(fit.distance[i] * readings.error[i]), float(fit.distance[i]))
            for i in fit.outliers
        ),
        notes=(*readings.notes, *_hand_unused(fit)),
    )  # fmt: skip


def _toe_told(advice: Advice) -> bool:
    """Whether the readings pin the toe, or at least show that it is not the planned one."""
    return not advice.pairs_wanted or abs(advice.now.toe_in - advice.planned.toe_in) > NORMAL_95 * advice.toe_error


def _fit_figures(fit: BenchFit, told: bool) -> FitFigures:
    verdict = Verdict.FITS
    if fit.spare > 0 and fit.chance < UNLIKELY:
        verdict = Verdict.SCATTERS
    elif fit.spare < FEWEST_SPARE or not told:  # almost any car would fit them, so that this one does is no praise
        verdict = Verdict.UNJUDGED
    elif fit.chance > 1 - UNLIKELY:
        verdict = Verdict.TOO_GOOD
    kept = np.delete(np.arange(len(fit.readings)), fit.outliers)
    stated = float(np.degrees(np.sqrt((fit.readings.error[kept] ** 2).mean())))
    return FitFigures(
        chi_square=fit.chi_square, spare_readings=fit.spare, chance=known(fit.chance), residual_rms_deg=known(fit.scatter * stated),
        stated_rms_deg=stated, verdict=verdict, errors_widened=verdict == Verdict.SCATTERS,
    )  # fmt: skip


def _reported(fit: BenchFit) -> list[tuple[str, Parts, bool]]:
    """Name, parts and whether a bound was hit, of each value that the readings tell."""
    lines: list[tuple[str, Parts, bool]] = []
    done: set[str] = set()
    for names, values in _LINES:
        if set(names) <= set(fit.names) and not set(names) & done:
            done |= set(names)
            at_bound = any(hit for name, hit in zip(fit.names, fit.at_bound, strict=True) if name in names)
            lines += [(name, parts, at_bound) for name, parts in values.items()]
    return lines


def _weights(parts: Parts) -> np.ndarray:
    weights = np.zeros(ERRORS)
    for error, weight in parts:
        weights[error] = weight
    return weights


def _value(fit: BenchFit, name: str, parts: Parts, at_bound: bool, replicates: np.ndarray | None) -> RodValue | AngleValue:
    weights, kind = _weights(parts), KINDS[parts[0][0]]
    value, error = float(weights @ fit.errors), float(np.sqrt(weights @ fit.natural_covariance @ weights))
    unseen = float(np.sqrt(((weights @ fit.basis @ fit.unseen_effect) ** 2).sum()))
    low, high = value - NORMAL_95 * error, value + NORMAL_95 * error
    if replicates is not None:
        # The basic bootstrap interval: how far the repeated fits lie from the fit is how far the fit may lie from the car.
        lowest, highest = np.percentile(replicates @ weights, [2.5, 97.5])
        low, high = 2 * value - float(highest), 2 * value - float(lowest)
    bound = MOST[kind] * float(np.abs(weights).sum())
    if kind == "rod":
        pitch = fit.plan.setup.thread_pitch_mm
        return RodValue(
            name, value_turns=value, error_turns=error, start_turns=0.0, lower_bound_turns=-bound, upper_bound_turns=bound,
            unseen_turns=unseen, interval_95_turns=(low, high), value_mm=value * pitch, error_mm=error * pitch, bound_hit=at_bound,
        )  # fmt: skip
    return AngleValue(
        name, value_deg=value * DEGREE, error_deg=error * DEGREE, start_deg=0.0, lower_bound_deg=-bound * DEGREE,
        upper_bound_deg=bound * DEGREE, unseen_deg=unseen * DEGREE, interval_95_deg=(low * DEGREE, high * DEGREE), bound_hit=at_bound,
    )  # fmt: skip


def _correlations(fit: BenchFit) -> tuple[Correlation, ...]:
    lines = _reported(fit)
    weights = np.array([_weights(parts) for _, parts, _ in lines]).reshape(len(lines), ERRORS)
    covariance = weights @ fit.natural_covariance @ weights.T
    size = np.sqrt(np.diag(covariance))
    return tuple(
        Correlation((lines[a][0], lines[b][0]), float(covariance[a, b] / (size[a] * size[b])))
        for a in range(len(lines)) for b in range(a)
    )  # fmt: skip


def _outcome_figures(outcome: Outcome, rolling: float) -> OutcomeFigures:
    return OutcomeFigures(
        toe_in_deg=degrees(outcome.toe_in), straight_hand_deg=degrees(outcome.hand), toe_drag_N=outcome.drag,
        toe_drag_percent_of_rolling=100 * outcome.drag / rolling if rolling > 0 else None, largest_miss_deg=degrees(outcome.miss),
    )  # fmt: skip


def _advice_figures(fit: BenchFit, advice: Advice) -> AdviceFigures:
    plan, turns = fit.plan, advice.turns
    pitch = plan.setup.thread_pitch_mm
    sides = ("rod",) if plan.one_rod else ("left_rod", "right_rod")
    toes = static_toe(fit)
    return AdviceFigures(
        turns=dict(zip(sides, (turns.left, turns.right), strict=False)), either_rod_turns=turns.either,
        millimetres={f"{side}_mm": turn * pitch for side, turn in zip(sides, (turns.left, turns.right), strict=False)},
        static_toe_in=None if toes is None else {
            side: StaticToe(degrees(toe), degrees(error)) for side, toe, error in zip(("left", "right"), *toes, strict=True)
        },
        rolling_resistance_N=advice.rolling, planned=_outcome_figures(advice.planned, advice.rolling),
        now=_outcome_figures(advice.now, advice.rolling), after=_outcome_figures(advice.after, advice.rolling),
        toe_error_deg=degrees(advice.toe_error), toe_unseen_deg=degrees(advice.toe_unseen),
        toe_left_over_deg=degrees(advice.after.toe_in - advice.planned.toe_in),
        longer_than_drawn_turns=dict(zip(sides, advice.longer, strict=True)), toe_told=_toe_told(advice),
        pairs_wanted=advice.pairs_wanted,
    )  # fmt: skip
