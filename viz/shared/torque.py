"""The hand torque of a steady turn, as figures and in words."""

from math import degrees
from typing import Any

import numpy as np

from sim.car.chassis import with_law
from sim.car.motion import WheelColumn
from sim.car.tyre import LAWS, LAW_TYPES
from sim.scenario.scenario import Scenario
from sim.steering.kickback import HandTorque, hand_torque, washer_arm
from sim.study.ready import Entry, car_of
from sim.turn.steady import steady_turn

LAW_WORDS = {"linear": "tyres that never give way", "brush": "tyres that give way as they slip"}


def torque_by_law(torques: dict[str, float | None]) -> str:
    """The hand torque of a turn by both laws of the tyre in words.  torques : by law [N m]; None where it has no such turn."""
    return ", ".join(
        f"{'no such turn' if torque is None else f'{torque:+z.2f} N m'} with {LAW_WORDS[law]} ({law})" for law, torque in torques.items()
    )


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
    load = turn.wheels[None, :2, WheelColumn.LOAD]
    return turn.hand, hand_torque(
        entry.steering, np.array([turn.hand]), load, turn.wheels[None, :2, WheelColumn.LATERAL], -car.front_tyre.rolling_resistance * load,
        turn.wheels[None, :2, WheelColumn.ALIGNING], washer_arm(kingpin.washer_inner_mm * 1e-3, kingpin.washer_outer_mm * 1e-3, worn=False),
    )  # fmt: skip
