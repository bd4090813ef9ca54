"""What a team looks at before it drives: the one list that the printed template and the terminal share."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from viz.shared.plain import plain

if TYPE_CHECKING:
    from sim.study.dangers import Dangers

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


@dataclass(frozen=True)
class StopsCheck(Check):
    """The look at the stops, with where they belong.

    setup : whose; hand_is : what its angles are measured at, "hand wheel" or "left wheel"
    danger_left_deg, danger_right_deg : hand angles before which a stop belongs, right below 0, None to a side where no rod comes in line
        [deg]
    own_stop_deg : where the set-up's own hand_wheel_limit_deg puts a stop, None where it writes none [deg]
    """

    setup: str = field(kw_only=True)
    hand_is: str = field(kw_only=True)
    danger_left_deg: float | None = field(kw_only=True)
    danger_right_deg: float | None = field(kw_only=True)
    own_stop_deg: float | None = field(kw_only=True)


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
    Check(
        STOPS,
        "A stop is fitted on both sides and tried by hand, left and right: it holds the hand wheel before the angle that the command "
        "angles tells. Further on a rod and its arm come in line, and the steering can snap over or jam.",
    ),
    Check(
        "both locks",
        "Only with the stops in place: turn the hand wheel to one stop, then to the other. Both are reached, and nothing touches anything "
        "on the way.",
    ),
    Check("wheels", "Lift each wheel and spin it. It runs freely and rubs nowhere, straight ahead and at both locks."),
)

_BY_PART = {check.part: check for check in CHECKS}
TURNTABLE_CHECKS: tuple[Check, ...] = (
    Check(
        "king bolt",
        "Its nut is tightened until the axle binds, then backed off just until it swings freely and has no play up and down. Split pin "
        "or second nut in place and tight: nothing else holds the front axle.",
    ),
    Check(
        "plates and washers", "Greased on both faces, clean and not cracked. The axle swings smoothly from side to side and does not tilt."
    ),
    Check(
        "ropes, bar or levers",
        "Every knot, bolt and clamp is tight, nothing is frayed, and nothing is loose on the axle. With the axle straight both sides are "
        "alike, and neither sags.",
    ),
    _BY_PART["wheel pins"],
    Check(
        STOPS,
        "A block or a chain is fitted on both sides and tried by hand, left and right: it holds the axle before a wheel touches frame or "
        "feet.",
    ),
    Check(
        "both sides",
        "Only with the stops in place: swing the axle to one side, then to the other. Nothing touches anything on the way, no wheel meets "
        "frame or feet.",
    ),
    _BY_PART["wheels"],
)

CAUTIONS: tuple[str, ...] = (
    "Steering arms and rods pinch fingers. Whoever turns the hand wheel says so first and waits until all hands are away.",
    "Measure on level ground, with the car on stands or its front wheels on turn plates, and the rear wheels blocked. "
    "Nobody lies under the car.",
    "A competent adult checks steering, brakes and battery before anybody drives.",
    "The rules of your event come first. Where they differ from this list, follow them.",
    "This list helps you look. It never certifies a car as safe.",
)


def checks_of(axle: bool) -> tuple[Check, ...]:
    """The list of a front end.  axle : whether its wheels swing with one axle on a turntable, which has no kingpins and no rods."""
    return TURNTABLE_CHECKS if axle else CHECKS


def checks_result(axle: bool, name: str, setup: "Dangers") -> dict[str, Any]:
    """The list for JSON, its look at the stops with the figures of a set-up.

    axle : as for `checks_of`; name, setup : of that set-up, and its dead centres
    """

    def told(check: Check) -> Check:
        if check.part != STOPS:
            return check
        return StopsCheck(
            check.part, check.action, check.ground, setup=name, hand_is=setup.hand_is, danger_left_deg=setup.danger_left_deg,
            danger_right_deg=setup.danger_right_deg, own_stop_deg=setup.own_stop_deg,
        )  # fmt: skip

    return {"checks": plain([told(check) for check in checks_of(axle)]), "cautions": plain(CAUTIONS)}


def checks_report(axle: bool, told: Callable[[Check], str]) -> list[Any]:
    """The list for the terminal.

    axle : as for `checks_of`; told : what to do at a check, with the figures of a set-up where it has some
    """
    from rich.text import Text

    lines = [Text(""), Text("Before anybody drives (each point is common practice, no source):", style="bold")]
    lines += [Text(f"[ ] {check.part}: {told(check)}") for check in checks_of(axle)]
    return [*lines, *(Text(caution) for caution in CAUTIONS)]
