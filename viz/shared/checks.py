"""What a team looks at before it drives: the one list that the printed template and the terminal share."""

from dataclasses import dataclass
from typing import Any

from viz.shared.plain import plain

COMMON_PRACTICE = "common practice"


@dataclass(frozen=True)
class Check:
    """One look at the car.

    part : what is looked at
    action : what to do, and what it must be like
    ground : where the advice comes from
    """

    part: str
    action: str
    ground: str = COMMON_PRACTICE


STOPS = "stops"  # the check that has a figure of its own

CHECKS: tuple[Check, ...] = (
    Check(
        "kingpin nuts",
        "Tighten each nut until the kingpin binds, then back it off just until it swings freely and has no play up and down. "
        "Lock the nut there.",
    ),
    Check("kingpin washers", "All in place, none cracked, greased on both faces."),
    Check("rod-end lock nuts", "All tight against their rods: two rods have four of them. Try each with a spanner, not with the eye."),
    Check("wheel pins", "The pin or nut of every wheel is in, tight, and held by its clip or split pin."),
    Check("both locks", "Turn the hand wheel to one lock, then to the other. Both are reached, and nothing touches anything on the way."),
    Check(
        STOPS,
        "A stop is fitted on both sides and tried by hand, left and right: it holds the hand wheel before the angle that the command "
        "angles tells. Further on a rod and its arm come in line, and the steering can snap over or jam.",
    ),
    Check("wheels", "Lift each wheel and spin it. It runs freely and rubs nowhere, straight ahead and at both locks."),
)

CAUTIONS: tuple[str, ...] = (
    "Steering arms and rods pinch fingers. Whoever turns the hand wheel says so first and waits until all hands are away.",
    "Measure on level ground, with the car on stands or its front wheels on turn plates, and the rear wheels blocked. "
    "Nobody lies under the car.",
    "A competent adult checks steering, brakes and battery before anybody drives.",
    "The rules of your event come first. Where they differ from this list, follow them.",
    "This list helps you look. It never certifies a car as safe.",
)


def checks_result() -> dict[str, Any]:
    """The list as plain text for JSON."""
    return {"checks": plain(CHECKS), "cautions": plain(CAUTIONS)}


def checks_report() -> list[Any]:
    """The list for the terminal."""
    from rich.text import Text

    lines = [Text(""), Text("Before anybody drives (each point is common practice, no source):", style="bold")]
    lines += [Text(f"[ ] {check.part}: {check.action}") for check in CHECKS]
    return [*lines, *(Text(caution) for caution in CAUTIONS)]
