"""What `angles` finds, as plain numbers: what `--json` prints and what the tables show."""

from math import degrees
from typing import Any

import numpy as np

from sim.scenario.scenario import Scenario
from sim.steering.angles import angle_rows, hand_range, hands_for_outer, steering_ratio, turning_circle
from sim.study.ready import Entry
from viz.shared.dangers import danger_figures
from viz.shared.torque import hand_torque_figures


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
