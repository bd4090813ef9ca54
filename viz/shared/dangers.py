"""Where a steering can snap over or jam, as figures and in words, alike in every command."""

from math import degrees, floor
from typing import Any

from sim.steering.arrangement import Steering
from sim.steering.dead_centre import dead_centres
from sim.linkages.pivots import SIDES


def rod_lines(setup: dict[str, Any]) -> list[str]:
    """Each rod's length, as a builder measures it; empty where there is none.  setup : of `viz.angles.numbers.angles_result`."""
    if not setup["rods"]:
        return []
    lengths = ", ".join(f"{rod['name']} {rod['length_mm']:.1f} mm" for rod in setup["rods"])
    return [f"From the middle of one joint to that of the other: {lengths}."]


def danger_lines(setup: dict[str, Any]) -> list[str]:
    """Where the steering can snap over, and where to stop it before; empty where it cannot.

    setup : with the keys of `viz.shared.dangers.danger_figures`
    """
    places = {
        side: (abs(setup[f"dead_centre_{side}_deg"]), setup[f"dead_centre_{side}_arm"], abs(setup[f"stop_{side}_deg"]))
        for side in ("left", "right") if setup[f"dead_centre_{side}_deg"] is not None
    }  # fmt: skip
    if not places:
        return []
    where = " and ".join(f"{hand:.1f} deg {side} ({arm} arm)" for side, (hand, arm, _) in places.items())
    # Rounded down, for a stop belongs before the angle and not behind it.
    stops = " and ".join(f"{floor(10 * stop) / 10:.1f} deg {side}" for side, (_, _, stop) in places.items())
    return [
        f"Danger: with the hand wheel at {where} a rod and its arm come in line; the steering can snap over or jam there. "
        f"Fit a stop before the hand wheel passes {stops}."
    ]


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
