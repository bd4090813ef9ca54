"""Results of the quick commands as plain numbers: what `--json` prints and what the tables show."""

from math import degrees
from typing import Any

import numpy as np

from sim.car.chassis import WHEELS, single_track, with_law
from sim.car.motion import ALIGNING, ALIGNING_POWER, LATERAL, LATERAL_LOSS, LOAD, LONGITUDINAL, LONGITUDINAL_LOSS
from sim.car.tyre import LAWS, LAW_TYPES
from sim.ladder import Rung, rolling_turn
from sim.lap.trace import pose_columns
from sim.scenario.scenario import Scenario
from sim.steering.angles import angle_rows, hand_range, hands_for_outer, steering_ratio, turning_circle
from sim.steering.arrangement import Steering
from sim.steering.dead_centre import dead_centres
from sim.steering.kickback import HandTorque, hand_torque, washer_arm
from sim.steering.pivots import SIDES
from sim.steering.table import merged_table
from sim.study.compare import Entry, car_of
from sim.study.summary import known
from sim.turn.steady import SteadyTurn, steady_turn

LADDER_FIGURES = ("steer_left_deg", "steer_right_deg", "sideslip_deg", "scrub_W")


def angles_result(
    scenario: Scenario, entries: list[Entry], outer_deg: list[float] | None, radius: float, speed: float
) -> dict[str, Any]:
    """Wheel angles of every set-up, where its wheels stand, and the hand torque of a steady turn.

    outer_deg : angles of the outer wheel in a left turn, or None for the hand wheel's range
    radius, speed : of the turn that is held, of the mass centre [m], [m/s]
    Returns plain numbers for JSON.
    """
    setups = []
    for entry in entries:
        steering = entry.steering
        hands = hand_range(steering) if outer_deg is None else hands_for_outer(steering, np.radians(outer_deg))
        reachable = np.isfinite(hands)
        rows = angle_rows(steering, scenario.car, hands[reachable])
        columns = {
            "hand_deg": rows.hand, "left_deg": rows.left, "right_deg": rows.right, "ideal_inner_deg": rows.ideal_inner,
            "error_deg": rows.error,
        }  # fmt: skip
        wheels, ahead = steering.front_wheels(hands[reachable]), steering.front_wheels(np.zeros(1))
        for side, name in enumerate(("left", "right")):
            columns[f"{name}_camber_deg"] = wheels.camber[:, side]
        shifts = {
            f"{name}_{what}_mm": 1e3 * (getattr(wheels, part)[:, side] - getattr(ahead, part)[0, side])
            for side, name in enumerate(("left", "right"))
            for what, part in (("contact_ahead", "x"), ("contact_left", "y"), ("rise", "rise"))
        }
        circle = turning_circle(steering, scenario.car)
        setups.append({
            "name": entry.name,
            "rods": [{"name": name, "length_mm": length * 1e3} for name, length in steering.mechanism.rod_lengths.items()],
            **danger_figures(steering),
            "lock_deg": degrees(min(steering.lock_left, -steering.lock_right)),
            "lock_left_deg": degrees(steering.lock_left),
            "lock_right_deg": degrees(steering.lock_right),
            "lock_left_cause": steering.lock_left_cause,
            "lock_right_cause": steering.lock_right_cause,
            "kingpin_offset_mm": steering.kingpin_offset * 1e3,
            "steering_ratio": steering_ratio(steering, scenario.car),
            "turning_circle_kerb_m": circle.kerb,
            "turning_circle_wall_m": circle.wall,
            "beyond_lock_outer_deg": [] if outer_deg is None else [d for d, ok in zip(outer_deg, reachable, strict=True) if not ok],
            "rows": [
                dict(zip(columns, map(degrees, row), strict=True)) | dict(zip(shifts, map(float, shift), strict=True))
                for row, shift in zip(zip(*columns.values(), strict=True), zip(*shifts.values(), strict=True), strict=True)
            ],
            "hand_torque": hand_torque_figures(scenario, entry, radius, speed),
        })  # fmt: skip
    return {"title": scenario.title, "radius_m": radius, "speed_m_per_s": speed, "setups": setups}


def danger_figures(steering: Steering) -> dict[str, Any]:
    """Where rods come in line and where a stop belongs before; None to a side where no rod comes in line."""
    figures: dict[str, Any] = {}
    for name, found in zip(SIDES, dead_centres(steering), strict=True):
        figures |= {
            f"stop_{name}_deg": degrees(found.stop) if found else None,
            f"dead_centre_{name}_deg": degrees(found.hand) if found else None,
            f"dead_centre_{name}_arm": found.side if found else None,
        }
    return figures


def hand_torque_figures(scenario: Scenario, entry: Entry, radius: float, speed: float) -> dict[str, Any] | None:
    """Hand torque that holds a steady turn, by cause, and all of it by both laws of the tyre; None where there is no such turn."""
    by_law = {law: _held_turn(scenario, entry, radius, speed, law) for law in LAWS}
    own = by_law[scenario.car.tyre.law]
    if own is None:
        return None
    hand, held = own
    kingpin = scenario.car.kingpin
    return {
        "hand_deg": degrees(hand),
        "side_force_N_m": float(held.side[0]), "aligning_N_m": float(held.aligning[0]), "rolling_N_m": float(held.rolling[0]),
        "weight_N_m": float(held.weight[0]), "total_N_m": float(held.total[0]),
        "total_by_law_N_m": {law: None if one is None else float(one[1].total[0]) for law, one in by_law.items()},
        "washer_dry_N_m": kingpin.friction_dry * float(held.friction[0]),
        "washer_greased_N_m": kingpin.friction_greased * float(held.friction[0]),
    }  # fmt: skip


def _held_turn(scenario: Scenario, entry: Entry, radius: float, speed: float, law: str) -> tuple[float, HandTorque] | None:
    """Hand angle [rad] and hand torque of a steady turn by a law of the tyre; None where there is no such turn."""
    car, kingpin = with_law(car_of(scenario), LAW_TYPES[law]), scenario.car.kingpin
    turn = steady_turn(car, entry.table, radius, speed)
    if not turn.converged:
        return None
    load = turn.wheels[None, :2, LOAD]
    return turn.hand, hand_torque(
        entry.steering, np.array([turn.hand]), load, turn.wheels[None, :2, LATERAL], -car.front_tyre.rolling_resistance * load,
        turn.wheels[None, :2, ALIGNING], washer_arm(kingpin.washer_inner_mm * 1e-3, kingpin.washer_outer_mm * 1e-3, worn=False),
    )  # fmt: skip


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
    loss = turn.wheels[:, LATERAL_LOSS] + turn.wheels[:, LONGITUDINAL_LOSS]
    wheels = {
        wheel: {
            "steer_deg": degrees(turn.steers[i]),
            "slip_deg": degrees(np.arctan(turn.slips[i])),
            "load_N": float(turn.wheels[i, LOAD]),
            "lateral_force_N": float(turn.wheels[i, LATERAL]),
            "longitudinal_force_N": float(turn.wheels[i, LONGITUDINAL]),
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
        "aligning_W": float(turn.body[ALIGNING_POWER]) if ok else None,
        "wheels": wheels if ok else None,
    }


def _ladder(scenario: Scenario, entry: Entry, turn: SteadyTurn, radius: float, speed: float) -> list[dict[str, Any]]:
    """The same turn on every rung: what each assumption changes.  A rung without an equilibrium has None for its figures."""
    car = car_of(scenario)
    rungs = []
    for rung in Rung:
        figures: dict[str, Any] = {"model": rung.label} | dict.fromkeys(LADDER_FIGURES)
        if rung in (Rung.ROLLING_BICYCLE, Rung.ROLLING_FOUR_WHEELS):
            try:
                rolling = rolling_turn(car, entry.table if rung == Rung.ROLLING_FOUR_WHEELS else None, 1 / radius)
            except ValueError:
                rungs.append(figures)
                continue
            steers = _front_steers(entry, rolling.steer) if rung == Rung.ROLLING_FOUR_WHEELS else (rolling.steer, rolling.steer)
            sideslip, scrub = rolling.sideslip, rolling.scrub * speed
        else:
            merged = rung == Rung.SLIPPING_BICYCLE
            one = steady_turn(single_track(car), merged_table(entry.table), radius, speed) if merged else turn
            if not one.converged:
                rungs.append(figures)
                continue
            steers, sideslip = (one.steers[0], one.steers[1]), one.sideslip
            scrub = float((one.wheels[:, LATERAL_LOSS] + one.wheels[:, LONGITUDINAL_LOSS]).sum())
        figures |= zip(LADDER_FIGURES, (degrees(steers[0]), degrees(steers[1]), degrees(sideslip), scrub), strict=True)
        rungs.append(figures)
    return rungs


def _front_steers(entry: Entry, steer: float) -> tuple[float, float]:
    _, wheels = pose_columns(entry.table, np.array([steer]))
    return float(wheels[0, 0]), float(wheels[0, 1])
