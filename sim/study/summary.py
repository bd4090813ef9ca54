"""A comparison as plain numbers: what JSON and tables show."""

from typing import Any

import numpy as np

from sim.car.chassis import WHEELS
from sim.car.tyre import LAWS
from sim.lap.ledger import Electric, Ledger, causes
from sim.scenario.tables import HOUR
from sim.study.compare import Comparison, PaceResult, SetupResult
from sim.study.law_doubt import other_cost


def known(value: float) -> float | None:
    """A figure for JSON, which knows no NaN and no infinity.  value : any [any unit]."""
    return float(value) if np.isfinite(value) else None


def summary(comparison: Comparison) -> dict[str, Any]:
    """The comparison as plain numbers for JSON, SI or with the unit in the key; None where there is no figure."""
    course = comparison.course
    return {
        "title": comparison.scenario.title,
        "model": comparison.rung.label,
        "course": {
            "name": course.name, "length_m": course.length, "closed": course.closed,
            "smallest_radius_m": known(course.smallest_radius), "smallest_radius_at_m": known(course.smallest_radius_station),
            "smoothing_residual_m": course.smoothing_residual, "notes": list(course.notes),
        },
        "target_m_per_s": comparison.target,
        "reference": _result_summary(comparison.reference, comparison),
        "setups": [_result_summary(result, comparison) for result in comparison.results],
    }  # fmt: skip


def pace_summary(paces: list[PaceResult], length: float) -> list[dict[str, Any]]:
    """The pace policies as plain numbers.  paces : of `study.compare.compare_paces`; length : of the lap [m]."""
    rows = []
    for one in paces:
        ledger, pace = one.result.ledger, one.paced.pace
        electric = ledger.electric if ledger else None
        rows.append({
            "policy": one.paced.policy,
            "meets_time": one.paced.meets_time,
            # None where the lap time cannot be met: what was driven is the limit of the search, and no target
            "target_m_per_s": pace.target if one.paced.meets_time and pace.current is None else None,
            "current_A": pace.current if one.paced.meets_time else None,
            "finished": one.result.finished,
            "lap_time_s": one.result.time if ledger else None,
            "average_m_per_s": length / one.result.time if ledger else None,
            "drive_work_J": ledger.drive_work if ledger else None,
            "brakes_J": ledger.brakes if ledger else None,
            "battery_Wh": electric.battery / HOUR if electric else None,
            "laps_per_charge": known(one.result.laps_per_charge),
        })  # fmt: skip
    return rows


def _result_summary(result: SetupResult, comparison: Comparison) -> dict[str, Any]:
    ledger = result.ledger
    electric = ledger.electric if ledger else None

    def wheels(values) -> dict[str, float | None]:
        return {wheel: known(value) for wheel, value in zip(WHEELS, values, strict=True)}

    losses = None
    if ledger is not None:
        losses = {
            "air": ledger.air, "rolling": ledger.rolling, "brakes": ledger.brakes, "height": ledger.height,
            "lateral": wheels(ledger.lateral), "longitudinal": wheels(ledger.longitudinal), "aligning": ledger.aligning,
        }  # fmt: skip
    return {
        "name": result.name,
        "finished": result.finished,
        "reason": result.reason or None,
        "distance_m": result.distance,
        "lap_time_s": result.time if result.finished else None,
        "drive_work_J": ledger.drive_work if ledger else None,
        "hand_work_J": ledger.hand_work if ledger else None,
        "battery_Wh": electric.battery / HOUR if electric else None,
        "losses_J": losses,
        "kinetic_J": ledger.kinetic if ledger else None,
        "tyre_deflection_J": ledger.deflection if ledger else None,
        "scrub_J": ledger.scrub if ledger else None,
        "geometry_cost_J": known(result.geometry_cost),
        "geometry_cost_Wh": known(result.geometry_battery / HOUR),
        "geometry_scrub_J": known(result.geometry_scrub),
        "toe_cost_J": known(result.toe_cost),
        "geometry_cost_by_law_J": {law: known(cost) for law, cost in costs_by_law(result, comparison).items()},
        "rub_m": wheels(ledger.rub) if ledger else None,
        "ledger_residual": ledger.residual if ledger else None,
        "path_error_rms_m": result.error_rms if result.finished else None,
        "path_error_max_m": known(result.error_max),
        "min_load_N": known(result.least_load),
        "at_lock_s": result.at_lock,
        "peak_slip_deg": wheels(np.degrees(np.arctan(result.peak_slips))),
        "laps_per_charge": known(result.laps_per_charge),
        "electric": _electric_summary(electric, ledger, result.time) if electric and ledger else None,
        "race": _race_summary(result) if result.race else None,
        "equivalents": _equivalents_summary(result, comparison) if ledger else None,
    }


def costs_by_law(result: SetupResult, comparison: Comparison) -> dict[str, float]:
    """What a set-up's geometry costs by each law of the tyre, the scenario's own first and driven, the other reckoned from it [J].

    result : SetupResult; comparison : Comparison
    """
    own = comparison.scenario.car.tyre.law
    return {own: result.geometry_cost} | {law: other_cost(result.geometry_cost, *result.steady_costs) for law in LAWS if law != own}


def _electric_summary(electric: Electric, ledger: Ledger, lap_time: float) -> dict[str, float]:
    return {
        "copper_J": electric.copper, "no_load_J": electric.no_load, "gear_J": electric.gear, "battery_heat_J": electric.battery_heat,
        "regenerated_J": electric.regenerated, "charge_Ah": electric.charge / HOUR, "used_charge_Ah": electric.used_charge / HOUR,
        "mean_current_A": electric.charge / lap_time, "residual": electric.residual(ledger.drive_work),
    }  # fmt: skip


def _race_summary(result: SetupResult) -> dict[str, Any]:
    race = result.race
    assert race is not None
    return {
        "laps": race.laps, "distance_m": race.distance, "time_s": race.time, "ended_by": race.ended_by,
        "own_target_m_per_s": known(result.own_pace), "own_distance_m": known(result.own_distance),
    }  # fmt: skip


def _equivalents_summary(result: SetupResult, comparison: Comparison) -> dict[str, Any]:
    ledger = result.ledger
    assert ledger is not None
    losses = causes(ledger) | {"geometry": result.geometry_cost}
    same = {}
    for cause, loss in losses.items():
        if loss >= 0:  # a cost below nothing has no equivalent; NaN is none either
            worth = comparison.yardsticks.equivalents(loss)
            same[cause] = {
                "rolling_coefficient": known(worth.rolling_coefficient), "toe_deg": known(worth.toe_deg),
                "driver_kg": known(worth.driver_kg),
            }  # fmt: skip
    return same
