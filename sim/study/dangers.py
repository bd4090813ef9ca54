"""What a set-up tells about its rods: how long they are, and where a dead centre waits beyond the usable lock."""

from dataclasses import dataclass, field
from math import degrees

from sim.linkages.kind import Hand, Kind
from sim.steering.arrangement import Steering
from sim.steering.dead_centre import DeadCentre, dead_centres

HAND_WHEEL, LEFT_WHEEL = "hand wheel", "left wheel"


@dataclass(frozen=True)
class RodLength:
    """One rod.

    name : which one
    length_mm : from eye to eye [mm]
    """

    name: str
    length_mm: float


@dataclass(frozen=True)
class Dangers:
    """Where the steering can snap over or jam; None to a side where no rod comes in line.

    stop_left_deg, stop_right_deg : hand angles at the usable lock, where a stop has to hold the hand wheel, right below 0 [deg]
    dead_centre_left_deg, dead_centre_right_deg : hand angles at which a rod and its arm come in line [deg]
    dead_centre_left_arm, dead_centre_right_arm : whose arm it is, "left" or "right"
    hand_is : what these angles are measured at: "hand wheel", which is its column too, or "left wheel" where no hand wheel is modelled
    """

    stop_left_deg: float | None
    dead_centre_left_deg: float | None
    dead_centre_left_arm: str | None
    stop_right_deg: float | None
    dead_centre_right_deg: float | None
    dead_centre_right_arm: str | None
    hand_is: str = field(default=HAND_WHEEL, kw_only=True)


NO_DANGERS = Dangers(*(None,) * 6)


def dangers_of(steering: Steering) -> Dangers:
    """The dead centres of a set-up.  steering : Steering.  Returns Dangers [deg]."""

    def told(found: DeadCentre | None) -> tuple[float | None, float | None, str | None]:
        return (degrees(found.stop), degrees(found.hand), found.side) if found else (None, None, None)

    left, right = dead_centres(steering)
    return Dangers(*told(left), *told(right), hand_is=hand_words(steering.kind))


def hand_words(kind: Kind) -> str:
    """What turns by the hand angle, as a builder can measure it.  kind : of the linkage."""
    return LEFT_WHEEL if kind.hand is Hand.LEFT_WHEEL else HAND_WHEEL


def rods_of(steering: Steering) -> tuple[RodLength, ...]:
    """The rods of a set-up, none where it has none.  steering : Steering.  Returns their lengths [mm]."""
    return tuple(RodLength(name, length * 1e3) for name, length in steering.mechanism.rod_lengths.items())
