"""What a set-up tells about its rods: how long they are, and where a dead centre waits beyond the usable lock."""

from dataclasses import dataclass, field, replace
from math import degrees

from sim.linkages.kind import Hand, Kind
from sim.steering.arrangement import HAND_LIMIT, Steering
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
    danger_left_deg, danger_right_deg : hand angles at which the angle of rod and arm falls to least_rod_angle_deg: those of the stops, but
        for a stop that stands before them [deg]
    stop_is_yours : whether the stops stand where the set-up's own hand_wheel_limit_deg puts them, before the danger
    own_stop_deg : that hand_wheel_limit_deg, wherever it stands; None where the set-up writes none [deg]
    hand_is : what these angles are measured at: "hand wheel", which is its column too, or "left wheel" where no hand wheel is modelled
    """

    stop_left_deg: float | None
    dead_centre_left_deg: float | None
    dead_centre_left_arm: str | None
    stop_right_deg: float | None
    dead_centre_right_deg: float | None
    dead_centre_right_arm: str | None
    danger_left_deg: float | None = field(default=None, kw_only=True)
    danger_right_deg: float | None = field(default=None, kw_only=True)
    stop_is_yours: bool = field(default=False, kw_only=True)
    own_stop_deg: float | None = field(default=None, kw_only=True)
    hand_is: str = field(default=HAND_WHEEL, kw_only=True)


NO_DANGERS = Dangers(*(None,) * 6)


def dangers_of(steering: Steering) -> Dangers:
    """The dead centres of a set-up.  steering : Steering.  Returns Dangers [deg]."""

    def told(found: DeadCentre | None) -> tuple[float | None, float | None, str | None]:
        return (degrees(found.stop), degrees(found.hand), found.side) if found else (None, None, None)

    left, right = dead_centres(steering)
    yours = any(
        found and cause == HAND_LIMIT and abs(found.stop) < min(abs(found.danger), steering.mechanism.hand_limit)
        for found, cause in ((left, steering.lock_left_cause), (right, steering.lock_right_cause))
    )
    dangers = [None if found is None else degrees(found.danger) for found in (left, right)]
    own = None if steering.own_limit is None else degrees(steering.own_limit)
    return Dangers(*told(left), *told(right), danger_left_deg=dangers[0], danger_right_deg=dangers[1], stop_is_yours=yours,
                   own_stop_deg=own, hand_is=hand_words(steering.kind))  # fmt: skip


def nearer(one: Dangers, other: Dangers) -> Dangers:
    """On each side what comes first, of a front end as it is planned and as it is built.

    one, other : Dangers of both
    Returns Dangers [deg].
    """

    def first(side: str) -> dict[str, float | str | None]:
        names = [f"stop_{side}_deg", f"dead_centre_{side}_deg", f"dead_centre_{side}_arm", f"danger_{side}_deg"]
        found = [{name: getattr(each, name) for name in names} for each in (one, other)]
        there = [each for each in found if each[names[1]] is not None] or found
        return min(there, key=lambda each: abs(each[names[3]] or 0.0))

    ends = first("left") | first("right")
    return replace(one, **ends, stop_is_yours=one.stop_is_yours or other.stop_is_yours)  # type: ignore[arg-type]  # the fields that were read


def hand_words(kind: Kind) -> str:
    """What turns by the hand angle, as a builder can measure it.  kind : of the linkage."""
    return LEFT_WHEEL if kind.hand is Hand.LEFT_WHEEL else HAND_WHEEL


def rods_of(steering: Steering) -> tuple[RodLength, ...]:
    """The rods of a set-up, none where it has none.  steering : Steering.  Returns their lengths [mm]."""
    return tuple(RodLength(name, length * 1e3) for name, length in steering.mechanism.rod_lengths.items())
