"""Results of the quick commands as plain numbers: what `--json` prints and what the tables show."""

from math import degrees
from typing import Any

import numpy as np

from sim.car.chassis import WHEELS, single_track
from sim.car.motion import BodyColumn, WheelColumn
from sim.lap.ladder import Model
from sim.lap.trace import pose_columns
from sim.scenario.scenario import Scenario
from sim.steering.table import merged_table
from sim.study.ready import Entry, car_of
from sim.study.summary import known
from sim.turn.rolling import rolling_turn
from sim.turn.steady import SteadyTurn, steady_turn
from viz.shared.torque import hand_torque_figures

LADDER_FIGURES = ("steer_left_deg", "steer_right_deg", "sideslip_deg", "scrub_W")


def corner_result(scenario: Scenario, entries: list[Entry], radius: float, speed: float, ladder: bool) -> dict[str, Any]:
    """The steady turn of every set-up.  radius [m], positive to the left; speed [m/s]; ladder : add the other rungs.

    Returns plain numbers for JSON.
    """
    car = car_of(scenario)
    setups = []
    for entry in entries:
        turn = steady_turn(car, entry.table, radius, speed)
        torque = hand_torque_figures(scenario, entry, radius, speed)
        setup = {
            "name": entry.name, **_turn_figures(turn), "hand_torque_by_law_N_m": torque["total_by_law_N_m"] if torque else None,
        }  # fmt: skip
        if ladder:
            setup["ladder"] = _ladder(scenario, entry, turn, radius, speed)
        setups.append(setup)
    return {"radius_m": radius, "speed_m_per_s": speed, "setups": setups}


def _turn_figures(turn: SteadyTurn) -> dict[str, Any]:
    loss = turn.wheels[:, WheelColumn.LATERAL_LOSS] + turn.wheels[:, WheelColumn.LONGITUDINAL_LOSS]
    wheels = {
        wheel: {
            "steer_deg": degrees(turn.steers[i]),
            "slip_deg": degrees(np.arctan(turn.slips[i])),
            "load_N": float(turn.wheels[i, WheelColumn.LOAD]),
            "lateral_force_N": float(turn.wheels[i, WheelColumn.LATERAL]),
            "longitudinal_force_N": float(turn.wheels[i, WheelColumn.LONGITUDINAL]),
            "slip_loss_W": float(loss[i]),
        }
        for i, wheel in enumerate(WHEELS)
    }
    ok = turn.converged
    return {
        "converged": ok,
        "reason": turn.reason or None,
        "hand_deg": known(degrees(turn.hand)),
        "sideslip_deg": known(degrees(turn.sideslip)),
        "drive_force_N": known(turn.drive_force),
        "scrub_W": float(loss.sum()) if ok else None,
        "aligning_W": float(turn.body[BodyColumn.ALIGNING_POWER]) if ok else None,
        "wheels": wheels if ok else None,
    }


def _ladder(scenario: Scenario, entry: Entry, turn: SteadyTurn, radius: float, speed: float) -> list[dict[str, Any]]:
    """The same turn on every rung: what each assumption changes.  A rung without an equilibrium has None for its figures."""
    car = car_of(scenario)
    rungs = []
    for rung in Model:
        figures: dict[str, Any] = {"model": rung.label} | dict.fromkeys(LADDER_FIGURES)
        if rung in (Model.ROLLING_BICYCLE, Model.ROLLING_FOUR_WHEELS):
            try:
                rolling = rolling_turn(car, entry.table if rung == Model.ROLLING_FOUR_WHEELS else None, 1 / radius)
            except ValueError:
                rungs.append(figures)
                continue
            steers = _front_steers(entry, rolling.steer) if rung == Model.ROLLING_FOUR_WHEELS else (rolling.steer, rolling.steer)
            sideslip, scrub = rolling.sideslip, rolling.scrub * speed
        else:
            merged = rung == Model.SLIPPING_BICYCLE
            one = steady_turn(single_track(car), merged_table(entry.table), radius, speed) if merged else turn
            if not one.converged:
                rungs.append(figures)
                continue
            steers, sideslip = (one.steers[0], one.steers[1]), one.sideslip
            scrub = float((one.wheels[:, WheelColumn.LATERAL_LOSS] + one.wheels[:, WheelColumn.LONGITUDINAL_LOSS]).sum())
        figures |= zip(LADDER_FIGURES, (degrees(steers[0]), degrees(steers[1]), degrees(sideslip), scrub), strict=True)
        rungs.append(figures)
    return rungs


def _front_steers(entry: Entry, steer: float) -> tuple[float, float]:
    _, wheels = pose_columns(entry.table, np.array([steer]))
    return float(wheels[0, 0]), float(wheels[0, 1])
