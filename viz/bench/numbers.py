"""Bench readings: what is wrong with a front end and what to turn, as plain numbers; the words are in `bench_words`."""

from math import degrees
from pathlib import Path
from typing import Any

import numpy as np

from sim.bench.advice import Advice, Outcome, advise, static_toe
from sim.bench.as_built import (
    ARM_LEFT, ARM_RIGHT, ERRORS, KINDS, MOST, ROD_LEFT, ROD_RIGHT, ZERO_HAND, ZERO_LEFT, ZERO_RIGHT, Combination, make_plan,
)  # fmt: skip
from sim.bench.fit import FEWEST_SPARE, NORMAL_95, UNLIKELY, BenchFit, fit_readings, repeated_fits
from sim.bench.readings import check_against_plan, read_readings
from sim.errors import InputError
from sim.scenario.choice import chosen_setup
from sim.scenario.file import file_or_shipped_table
from sim.scenario.scenario import Scenario
from sim.scenario.setup import SetupTable
from sim.study.ready import car_of
from sim.study.summary import known
from viz.bench.report import FITS, SCATTERS, TOO_GOOD, UNJUDGED


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


def bench_result(
    scenario: Scenario, source: str, readings_path: Path | str, setup_name: str | None = None, bootstrap: bool = False
) -> dict[str, Any]:  # fmt: skip
    """Fit bench readings and work out the advice.

    source : the scenario's name in messages; readings_path : the table, or the name of a shipped one
    setup_name : None where the scenario has only one set-up with rods; bootstrap : repeat the fit for the intervals
    Returns plain numbers for JSON, unit in the key.  Raises InputError.
    """
    index = _chosen(scenario, source, setup_name)
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
    return {
        "title": scenario.title,
        "setup": setup.name,
        "linkage": setup.linkage,
        "thread_pitch_mm": setup.thread_pitch_mm,
        "toe_in_planned_deg": setup.toe_in_deg,
        "readings": _readings_figures(fit),
        "fit": _fit_figures(fit, told=advice is not None and _toe_told(advice)),
        "interval_method": "bootstrap" if bootstrap else "linear",
        "fitted": [_value_figures(fit, name, parts, at_bound, replicates) for name, parts, at_bound in _reported(fit)],
        "correlations": _correlations(fit),
        "not_told": list(fit.untold),
        "not_told_apart": [["rod's length" if plan.one_rod and error == ROD_LEFT else _ERROR_NAMES[error] for error in group]
                           for group in fit.confused],
        "advice": _advice_figures(fit, advice) if advice else None,
    }  # fmt: skip


def _chosen(scenario: Scenario, source: str, name: str | None) -> int:
    """Index of the set-up that was measured."""
    names = [setup.name for setup in scenario.setup]
    with_rods = [index for index, setup in enumerate(scenario.setup) if _has_rods(setup)]
    if not with_rods:
        remedy = "add the one that was built, with a cross rod, a centre arm or a rack"
        raise InputError(source, "", "no set-up has rods and arms to set", remedy)
    fitting = _quoted([names[index] for index in with_rods])
    if name is not None:
        index = chosen_setup(names, name, source)
        if index not in with_rods:
            raise InputError(source, "--setup", f'"{names[index]}" has no rods and arms to set', f"choose one of {fitting}")
        return index
    if len(with_rods) > 1:
        problem = f"{len(with_rods)} set-ups have rods that could have been measured"
        raise InputError(source, "", problem, f"add --setup with one of {fitting}")
    return with_rods[0]


def _has_rods(setup: SetupTable) -> bool:
    return setup.arm_length_mm is not None


def _quoted(names: list[str]) -> str:
    return ", ".join(f'"{name}"' for name in names)


def _readings_figures(fit: BenchFit) -> dict[str, Any]:
    readings = fit.readings
    return {
        "file": readings.source,
        "pairs": len(readings),
        "pairs_used": len(readings) - len(fit.outliers),
        "reading_error_deg": float(np.degrees(np.sqrt((readings.error**2).mean()))),
        "reading_error_stated": readings.error_stated,
        "hand_read": bool(np.isfinite(readings.hand).any()),
        "left_out": [
            {"line": int(readings.line[i]), "left_deg": degrees(readings.left[i]), "right_deg": degrees(readings.right[i]),
             "off_deg": degrees(fit.distance[i] * readings.error[i]), "off_reading_errors": float(fit.distance[i])}
            for i in fit.outliers
        ],
        "notes": [*readings.notes, *(_HAND_UNUSED if fit.plan.one_rod and np.isfinite(readings.hand).any() else ())],
    }  # fmt: skip


_HAND_UNUSED = ("hand_deg is not used: with a cross rod the hand angle is the left wheel's own.",)


def _toe_told(advice: Advice) -> bool:
    """Whether the readings pin the toe, or at least show that it is not the planned one."""
    return not advice.pairs_wanted or abs(advice.now.toe_in - advice.planned.toe_in) > NORMAL_95 * advice.toe_error


def _fit_figures(fit: BenchFit, told: bool) -> dict[str, Any]:
    verdict = FITS
    if fit.spare > 0 and fit.chance < UNLIKELY:
        verdict = SCATTERS
    elif fit.spare < FEWEST_SPARE or not told:  # almost any car would fit them, so that this one does is no praise
        verdict = UNJUDGED
    elif fit.chance > 1 - UNLIKELY:
        verdict = TOO_GOOD
    kept = np.delete(np.arange(len(fit.readings)), fit.outliers)
    stated = float(np.degrees(np.sqrt((fit.readings.error[kept] ** 2).mean())))
    return {
        "chi_square": fit.chi_square,
        "spare_readings": fit.spare,
        "chance": known(fit.chance),
        "residual_rms_deg": known(fit.scatter * stated),
        "stated_rms_deg": stated,
        "verdict": verdict,
        "errors_widened": bool(verdict == SCATTERS),
    }


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


def _value_figures(
    fit: BenchFit, name: str, parts: Parts, at_bound: bool, replicates: np.ndarray | None
) -> dict[str, Any]:  # fmt: skip
    weights, kind = _weights(parts), KINDS[parts[0][0]]
    value, error = float(weights @ fit.errors), float(np.sqrt(weights @ fit.natural_covariance @ weights))
    unseen = float(np.sqrt(((weights @ fit.basis @ fit.unseen_effect) ** 2).sum()))
    low, high = value - NORMAL_95 * error, value + NORMAL_95 * error
    if replicates is not None:
        # The basic bootstrap interval: how far the repeated fits lie from the fit is how far the fit may lie from the car.
        lowest, highest = np.percentile(replicates @ weights, [2.5, 97.5])
        low, high = 2 * value - float(highest), 2 * value - float(lowest)
    unit, size = ("turns", 1.0) if kind == "rod" else ("deg", degrees(1.0))
    bound = MOST[kind] * float(np.abs(weights).sum())
    figures: dict[str, Any] = {"name": name}
    numbers = {"value": value, "error": error, "start": 0.0, "lower_bound": -bound, "upper_bound": bound, "unseen": unseen}
    for key, number in numbers.items():
        figures[f"{key}_{unit}"] = number * size
    figures[f"interval_95_{unit}"] = [low * size, high * size]
    if kind == "rod":
        figures |= {"value_mm": value * fit.plan.setup.thread_pitch_mm, "error_mm": error * fit.plan.setup.thread_pitch_mm}
    return figures | {"bound_hit": at_bound}


def _correlations(fit: BenchFit) -> list[dict[str, Any]]:
    lines = _reported(fit)
    weights = np.array([_weights(parts) for _, parts, _ in lines]).reshape(len(lines), ERRORS)
    covariance = weights @ fit.natural_covariance @ weights.T
    size = np.sqrt(np.diag(covariance))
    return [
        {"between": [lines[a][0], lines[b][0]], "correlation": float(covariance[a, b] / (size[a] * size[b]))}
        for a in range(len(lines)) for b in range(a)
    ]  # fmt: skip


def _outcome_figures(outcome: Outcome, rolling: float) -> dict[str, Any]:
    return {
        "toe_in_deg": degrees(outcome.toe_in),
        "straight_hand_deg": degrees(outcome.hand),
        "toe_drag_N": outcome.drag,
        "toe_drag_percent_of_rolling": 100 * outcome.drag / rolling if rolling > 0 else None,
        "largest_miss_deg": degrees(outcome.miss),
    }


def _advice_figures(fit: BenchFit, advice: Advice) -> dict[str, Any]:
    plan, turns = fit.plan, advice.turns
    pitch = plan.setup.thread_pitch_mm
    sides = ("rod",) if plan.one_rod else ("left_rod", "right_rod")
    toes = static_toe(fit)
    return {
        "turns": dict(zip(sides, (turns.left, turns.right), strict=False)),
        "either_rod_turns": turns.either,
        "millimetres": {f"{side}_mm": turn * pitch for side, turn in zip(sides, (turns.left, turns.right), strict=False)},
        "static_toe_in": None if toes is None else {
            side: {"toe_in_deg": degrees(toe), "error_deg": degrees(error)}
            for side, toe, error in zip(("left", "right"), *toes, strict=True)
        },
        "rolling_resistance_N": advice.rolling,
        "planned": _outcome_figures(advice.planned, advice.rolling),
        "now": _outcome_figures(advice.now, advice.rolling),
        "after": _outcome_figures(advice.after, advice.rolling),
        "toe_error_deg": degrees(advice.toe_error),
        "toe_unseen_deg": degrees(advice.toe_unseen),
        "toe_left_over_deg": degrees(advice.after.toe_in - advice.planned.toe_in),
        "longer_than_drawn_turns": dict(zip(sides, advice.longer, strict=True)),
        "toe_told": _toe_told(advice),
        "pairs_wanted": advice.pairs_wanted,
    }  # fmt: skip
