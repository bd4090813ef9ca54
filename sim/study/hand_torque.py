"""The hand torque that holds a steady turn, by cause and by the tyre's law."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import degrees

import numpy as np

from sim.car.chassis import with_law
from sim.car.motion import WheelColumn
from sim.car.tyre import LAW_TYPES, LAWS
from sim.scenario.scenario import Scenario
from sim.scenario.tables import MILLIMETRE
from sim.steering.kickback import HandTorque, hand_torque, washer_arm
from sim.study.ready import Entry, car_of
from sim.turn.steady import steady_turn


@dataclass(frozen=True)
class HeldTurn:
    """What the hands feel in a steady turn; torques turn left where they are positive.

    hand_deg : angle of the hand wheel [deg]
    side_force_N_m : of the side forces on the caster trail [N m]
    aligning_N_m : of the tyres' aligning torque [N m]
    rolling_N_m : of rolling drag through the hubs [N m]
    weight_N_m : of the car that is lifted or let down [N m]
    total_N_m : of these four [N m]
    total_by_law_N_m : the same by each law of the tyre, None where it has no such turn [N m]
    washer_dry_N_m, washer_greased_N_m : up to which the kingpin washers stick, either way [N m]
    """

    hand_deg: float
    side_force_N_m: float
    aligning_N_m: float
    rolling_N_m: float
    weight_N_m: float
    total_N_m: float
    total_by_law_N_m: Mapping[str, float | None]
    washer_dry_N_m: float
    washer_greased_N_m: float


def held_turn(scenario: Scenario, entry: Entry, radius: float, speed: float) -> HeldTurn | None:
    """Hand torque that holds a steady turn, by cause, and all of it by both laws of the tyre.

    scenario, entry : whose car and set-up; radius : of the mass centre's path, positive to the left [m]; speed : of it [m/s]
    Returns HeldTurn [N m]; None where there is no such turn.
    """
    by_law = {law: _held_by(scenario, entry, radius, speed, law) for law in LAWS}
    own = by_law[scenario.car.tyre.law]
    if own is None:
        return None
    hand, held = own
    kingpin = scenario.car.kingpin
    return HeldTurn(
        hand_deg=degrees(hand),
        side_force_N_m=float(held.side[0]), aligning_N_m=float(held.aligning[0]), rolling_N_m=float(held.rolling[0]),
        weight_N_m=float(held.weight[0]), total_N_m=float(held.total[0]),
        total_by_law_N_m={law: None if one is None else float(one[1].total[0]) for law, one in by_law.items()},
        washer_dry_N_m=kingpin.friction_dry * float(held.friction[0]),
        washer_greased_N_m=kingpin.friction_greased * float(held.friction[0]),
    )  # fmt: skip


def _held_by(scenario: Scenario, entry: Entry, radius: float, speed: float, law: str) -> tuple[float, HandTorque] | None:
    """Hand angle [rad] and hand torque of a steady turn by a law of the tyre; None where there is no such turn."""
    car, kingpin = with_law(car_of(scenario), LAW_TYPES[law]), scenario.car.kingpin
    turn = steady_turn(car, entry.table, radius, speed)
    if not turn.converged:
        return None
    load = turn.wheels[None, :2, WheelColumn.LOAD]
    return turn.hand, hand_torque(
        entry.steering, np.array([turn.hand]), load, turn.wheels[None, :2, WheelColumn.LATERAL], -car.front_tyre.rolling_resistance * load,
        turn.wheels[None, :2, WheelColumn.ALIGNING],
        washer_arm(kingpin.washer_inner_mm * MILLIMETRE, kingpin.washer_outer_mm * MILLIMETRE, worn=False),
    )  # fmt: skip
