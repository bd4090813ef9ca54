"""Where a steering can snap over or jam, in words, alike in every command."""

from collections.abc import Sequence
from math import floor

from sim.study.dangers import HAND_WHEEL, Dangers, RodLength
from viz.shared.checks import STOPS, Check

STOP_GROUND = "the least angle of rod and arm, least_rod_angle_deg, is a judgement"
TURNTABLE = (
    "A turntable axle tips earlier the further it is steered, and a step under one wheel tears at the hands: whatever its place here, it "
    "is for walking speed. See what `scrubwise knock` says of it."
)
MOST_NAMED = 2  # set-ups in one sentence; `angles` shows all


def rod_lines(rods: Sequence[RodLength]) -> list[str]:
    """Each rod's length, as a builder measures it; empty where there is none.  rods : of a set-up."""
    if not rods:
        return []
    lengths = ", ".join(f"{rod.name} {rod.length_mm:.1f} mm" for rod in rods)
    return [f"From the middle of one joint to that of the other: {lengths}."]


def danger_lines(setup: Dangers) -> list[str]:
    """Where the steering can snap over, and where to stop it before; empty where it cannot.  setup : whose dead centres."""
    sides = (
        ("left", setup.dead_centre_left_deg, setup.dead_centre_left_arm, setup.stop_left_deg),
        ("right", setup.dead_centre_right_deg, setup.dead_centre_right_arm, setup.stop_right_deg),
    )
    places = [(side, abs(hand), arm, abs(stop)) for side, hand, arm, stop in sides if hand is not None and stop is not None]
    if not places:
        return []
    where = " and ".join(f"{hand:.1f} deg {side} ({arm} arm)" for side, hand, arm, _ in places)
    stops = " and ".join(f"{_before(stop)} deg {side}" for side, _, _, stop in places)
    return [
        f"Danger: with the {setup.hand_is} at {where} a rod and its arm come in line; the steering can snap over or jam there. "
        f"Fit a stop before the {setup.hand_is} passes {stops}."
    ]


def stop_ends(setup: Dangers) -> list[tuple[str, str, float]]:
    """Sides on which a stop belongs, the hand angle before which it does, and the dead centre beyond.  setup : whose dead centres.

    Returns (side, angle rounded down, dead centre), both sizes [deg]; empty where no rod comes in line.
    """
    sides = (("left", setup.stop_left_deg, setup.dead_centre_left_deg), ("right", setup.stop_right_deg, setup.dead_centre_right_deg))
    return [(side, _before(stop), abs(dead)) for side, stop, dead in sides if stop is not None and dead is not None]


def stop_line(setup: Dangers, who: str = "") -> str:
    """Where a stop belongs and why, in one sentence; empty where no rod comes in line.

    setup : whose dead centres; who : which set-up that is, in words, where there are several
    """
    ends = " and ".join(f"{stop} deg {side}" for side, stop, _ in stop_ends(setup))
    where = f" for {who}" if who else ""
    if not ends:
        return ""
    return f"Danger:{where} fit a stop before the {setup.hand_is} passes {ends}; beyond it the steering can snap over or jam."


def short_stop_line(setup: Dangers, who: str) -> str:
    """The same for a screen that is full already; empty where no rod comes in line.  setup, who : as for `stop_line`."""
    ends = [f"{stop} {side}" for side, stop, _ in stop_ends(setup)]
    return f"Danger: {who} can snap over; stop the {setup.hand_is} before {', '.join(ends).replace(' ', ' deg ', 1)}." if ends else ""


def stops_line(setups: Sequence[tuple[str, Dangers]]) -> list[str]:
    """Where stops belong in several set-ups, in one sentence; empty where no rod comes in line.  setups : name and dead centres of each."""
    told = [(name, one.hand_is, stop_ends(one)) for name, one in setups]
    found = [(name, " and ".join(f"{stop} deg {side}" for side, stop, _ in ends)) for name, _, ends in told if ends]
    if not found:
        return []
    turned = sorted({hand for _, hand, ends in told if ends})
    which = f"the {turned[0]}" if len(turned) == 1 else "the hand wheel, or where none is modelled the left wheel,"
    shown = ", ".join(f'{where} ("{name}")' for name, where in found[:MOST_NAMED])
    rest = f" and in {len(found) - MOST_NAMED} more set-ups as `angles` tells" if len(found) > MOST_NAMED else ""
    return [
        f"Danger: fit a stop before {which} passes {shown}{rest}; beyond it a rod and its arm come in line, and the steering can "
        "snap over or jam."
    ]


def check_words(check: Check, setup: Dangers) -> str:
    """What to do, with the figures of a set-up where it has some.  check : one of CHECKS; setup : whose dead centres."""
    ends = stop_ends(setup) if check.part == STOPS else []
    where = "" if setup.hand_is == HAND_WHEEL else f", at the {setup.hand_is}"
    return f"{check.action} Here: before {' and '.join(f'{stop} deg {side}' for side, stop, _ in ends)}{where}." if ends else check.action


def stop_words(setup: Dangers) -> str:
    """Hand angles before which a stop belongs, left and right, for a table; empty where there is none.  setup : whose dead centres."""
    pairs = ((setup.dead_centre_left_deg, setup.stop_left_deg), (setup.dead_centre_right_deg, setup.stop_right_deg))
    ends = ["none" if hand is None or stop is None else _before(stop) for hand, stop in pairs]
    return "" if set(ends) == {"none"} else " / ".join(ends)


def _before(stop: float) -> str:
    """A stop's angle rounded down, for a stop belongs before the angle and not behind it.  stop [deg]"""
    return f"{floor(10 * abs(stop)) / 10:.1f}"
