"""What a linkage is fitted to, in SI units: wheels on their axes, arms, rod ends; and the keys from which each of these is made."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields
from math import atan2, cos, degrees, hypot, radians, sin
from typing import Any, TypeVar

from sim.keys import Dial, Instead, Key, Share, Shown, Span, Step
from sim.linkages.pivots import FrontWheel

Numbers = TypeVar("Numbers")

ARM_LENGTH, ARM_ANGLE, TOE_IN, INCLINATION = "arm_length_mm", "arm_angle_deg", "toe_in_deg", "kingpin_inclination_deg"
LEAST_ROD_ANGLE = "least_rod_angle_deg"
ROD_TURNS = ("rod_turns_left", "rod_turns_right")
MOST_HAND_DEG = 1080  # three turns: the most that a hand wheel can be given, and that a scale on one can show


def number(name: str, low: float, high: float, remedy: str, default: float | None = None, **more: Any) -> Any:
    """A field of a frozen class of SI numbers, with the key from which it is made.

    name, low, high, remedy, default : of the key, as for `Key` [the key's unit]; more : the rest of `Key`
    """
    return field(metadata={"key": Key(name, low, high, remedy, default, **more)})


def millimetres(name: str, low: float, high: float, what: str, default: float | None = None, **more: Any) -> Any:
    """A field that is a length.  name, low, high, default, more : as for `number` [mm]; what : the length in words."""
    return number(name, low, high, f"give {what} in millimetres", default, **more)


def keys_of(numbers: type) -> tuple[Key, ...]:
    """The keys of a class whose fields are made by `number` and `millimetres`, in their order.  numbers : the class."""
    return tuple(one.metadata["key"] for one in fields(numbers))


def in_si(numbers: type[Numbers], value_of: Callable[[str], float | None]) -> Numbers:
    """An object of such a class from what a person wrote.

    numbers : the class; value_of : a key's name to its value, None where it has none [the key's unit]
    Returns the object [SI].
    """
    values: dict[str, float | None] = {}
    for one in fields(numbers):  # type: ignore[arg-type]
        key: Key = one.metadata["key"]
        value = value_of(key.name)
        values[one.name] = None if value is None else key.si(value)
    return numbers(**values)


@dataclass(frozen=True)
class Stance:
    """How the front wheels and their axes stand, whatever the linkage.

    toe_in : of each wheel [rad]
    inclination : lean of the kingpins' tops inwards [rad]; a turntable has none
    caster : lean of the axes' tops backwards [rad]
    hand_limit : the most that the hand wheel turns to either side [rad]; None leaves it to the linkage
    """

    toe_in: float = number(TOE_IN, -10, 10, "give each wheel's toe-in in degrees", 0.0, search=Span(-1.0, 1.0),
                           dial=Dial("toe-in, each wheel", "°", 0.1), words="toe-in", common=(-2.0, 2.0),
                           measure="by how much each front wheel's leading edge points inwards, straight ahead",
                           shown=Shown("corner", "tyre"))  # fmt: skip
    inclination: float = number(INCLINATION, -30, 30, "give the lean of the kingpin's top inwards in degrees", 0.0, common=(-5.0, 20.0),
                                measure="how far the kingpin's top leans inwards, seen from the front; 0 stands upright",
                                shown=Shown("behind", "kingpin"))  # fmt: skip
    caster: float = number("caster_deg", -30, 30, "give the lean of the kingpin's top backwards in degrees", 0.0, common=(-5.0, 20.0),
                           measure="how far the kingpin's top leans backwards, seen from the side; 0 stands upright")  # fmt: skip
    hand_limit: float | None = number("hand_wheel_limit_deg", 1, MOST_HAND_DEG, "give the most that the hand wheel turns, in degrees",
                                      measure="how far the steering turns to each side before it meets its stop", common=(10.0, 450.0),
                                      left_out="as far as this linkage usually goes")  # fmt: skip


@dataclass(frozen=True)
class Arms:
    """The arm of a wheel.  Where a search and the bench begin are judgements: an arm of a hand's length.

    length : from kingpin axis to ball joint, in plan [m]
    angle : the kink from straight back towards the centre line [rad]
    joint_height : of the ball joint straight ahead [m]; None is the wheel's radius
    """

    length: float = millimetres(ARM_LENGTH, 10, 600, "the arm from kingpin axis to ball joint, in plan", needed=True, usual=110.0,
                           search=Share(0.6, 1.6), dial=Dial("arm length", "mm", 1.0), common=(50.0, 250.0),
                           measure="kingpin axis to ball joint, seen from above")  # fmt: skip
    angle: float = number(ARM_ANGLE, -180, 180, "give the kink from straight back towards the centre line, in degrees", needed=True,
                          usual=13.9, search=Step(15.0), dial=Dial("kink of the arms", "°", 0.1),
                          measure="the kink: from straight back, towards the car's centre line")  # fmt: skip
    joint_height: float | None = millimetres("arm_joint_height_mm", 1, 1500, "the height of the arm's ball joint", common=(30.0, 400.0),
                                        measure="ground to the middle of the arm's ball joint",
                                        left_out="as high as the wheel's centre", shown=Shown("behind", "joint", "down"))  # fmt: skip


def _arm_from_joint(values: Mapping[str, float]) -> tuple[float, float]:
    """Length [mm] and kink [deg] of an arm by its joint's place: the polar form of what `parts.arm_joint` says the other way round."""
    behind, inside = values[JOINT_BEHIND.name], values[JOINT_INSIDE.name]
    return hypot(behind, inside), degrees(atan2(inside, behind))


def _joint_of_arm(values: Mapping[str, float]) -> tuple[float, float]:
    length, angle = values[ARM_LENGTH], radians(values[ARM_ANGLE])
    return length * cos(angle), length * sin(angle)


JOINT_BEHIND = Key("arm_joint_behind_mm", -600, 600, "give how far the arm's ball joint stands behind the kingpin axis, in millimetres",
                   usual=107.0, common=(-250.0, 250.0),
                   measure="kingpin axis back to the arm's ball joint, along the car; ahead is below 0",
                   shown=Shown("corner", "kingpin", "back"))  # fmt: skip
JOINT_INSIDE = Key("arm_joint_inside_mm", -600, 600, "give how far the arm's ball joint stands inside the kingpin axis, in millimetres",
                   usual=26.0, common=(-120.0, 120.0),
                   measure="kingpin axis to the arm's ball joint, across the car; towards the car's middle is above 0",
                   shown=Shown("corner", "joint", "outside"))  # fmt: skip
ARM_JOINT = Instead((JOINT_BEHIND, JOINT_INSIDE), (ARM_LENGTH, ARM_ANGLE), _arm_from_joint, _joint_of_arm)

# Beyond this kink to the wrong side an arm is doubted: arms that stand straight back or ahead, to a builder's eye, are not.  [deg]
_STRAIGHT_ENOUGH = 3.0
_FARTHEST_LEAN = 45.0  # an arm that is kinked further points more across the car than along it [deg]


def leaning_doubt(angle: float) -> tuple[str, float | None]:
    """What is doubtful about an arm's kink.

    angle : from straight back towards the centre line [deg]
    Returns (words, the kink that may have been meant [deg] or None); words are empty for arms that lean as ideal steering asks for.
    An arm behind the axle leans towards the car's middle, one ahead of it away from it.  Common practice; the ground is the cotangents'
    condition for small angles.
    """
    ahead = abs(angle) > 90
    kink = 180 - abs(angle) if ahead else abs(angle)
    if (angle > 0) == ahead and kink > _STRAIGHT_ENOUGH:
        which = "ahead of the axle leans outwards, -180 to -135" if ahead else "behind the axle leans inwards, 0 to 45"
        return f"leans the wrong way for its side of the axle: an arm {which} is usual", -angle if kink <= _FARTHEST_LEAN else None
    if kink > _FARTHEST_LEAN:
        return "points more across the car than along it; 0 to 45 behind the axle and -180 to -135 ahead of it is usual", None
    return "", None


_NO_TURNS = "no turns of its ends are told"


@dataclass(frozen=True)
class RodEnds:
    """The ends of the rods.

    turns_left, turns_right : of each rod; positive lengthens it [-]
    pitch : of the thread [m]
    least_angle : between a rod and its arm, at which the usable lock ends [rad].  A judgement: at 15 degrees half a millimetre of play
        turns a wheel on an arm of a hand's length by a degree, and its rod carries four times what it does when square.  Textbooks ask
        40 to 50 of machines (from memory); for a hand no published value was found.
    tube : of a rod without its ends [m]
    eye : from the middle of a rod end's eye to the tube, with the end screwed fully home and its lock nut on [m]
    thread : of a rod end inside the tube, screwed fully home [m]
    What rods are screwed together from only tells how far to screw; nothing that a car does depends on it.
    """

    turns_left: float = number(ROD_TURNS[0], -40, 40, "give the turns of the left rod end; positive lengthens the rod", 0.0,
                               dial=Dial("rod turns, left", "turns", 0.5), common=(-10.0, 10.0))  # fmt: skip
    turns_right: float = number(ROD_TURNS[1], -40, 40, "give the turns of the right rod end; positive lengthens the rod", 0.0,
                                dial=Dial("rod turns, right", "turns", 0.5), common=(-10.0, 10.0))  # fmt: skip
    pitch: float = millimetres("thread_pitch_mm", 0.2, 6, "the thread's pitch (M8: 1.25)", 1.25, common=(0.7, 2.5),
                          measure="the rod ends' thread: from one ridge to the next (measure ten, divide by ten; M8: 1.25)")  # fmt: skip
    least_angle: float = number(LEAST_ROD_ANGLE, 1, 60, "give the least angle between a rod and its arm, in degrees", 15.0)
    tube: float | None = millimetres("rod_tube_length_mm", 1, 5000, "the rod's tube from end to end, without its rod ends",
                                     common=(50.0, 1200.0), measure="a rod's tube, without its ends",
                                     left_out=_NO_TURNS)  # fmt: skip
    eye: float | None = millimetres("rod_end_eye_length_mm", 1, 500, "the rod end from the middle of its eye to the tube, fully home",
                                    common=(10.0, 80.0), left_out=_NO_TURNS,
                                    measure="a rod end fully home, lock nut on: eye's middle to tube")  # fmt: skip
    thread: float | None = millimetres("rod_end_thread_length_mm", 1, 500, "the rod end's thread inside the tube, fully home",
                                       common=(8.0, 80.0), measure="thread of such a rod end inside the tube",
                                       left_out=_NO_TURNS)  # fmt: skip

    @property
    def turns(self) -> tuple[float, float]:
        """Of the left and the right rod [-]."""
        return self.turns_left, self.turns_right


@dataclass(frozen=True)
class NoNumbers:
    """What a linkage has of its own that has no keys beside those of every set-up, or of every one with rods."""


@dataclass(frozen=True, eq=False)
class FrontEnd:
    """All that a linkage is fitted to.

    wheels : the left and the right wheel on their axes
    kingpin_track : between the kingpin axes at the ground; 0 for a turntable [m]
    wheelbase : [m]
    stance : Stance
    arms : of the left and the right wheel; without meaning for a linkage that has no rods
    ends : of the rods
    own : an object of the linkage's own class of numbers
    """

    wheels: tuple[FrontWheel, FrontWheel]
    kingpin_track: float
    wheelbase: float
    stance: Stance
    arms: tuple[Arms, Arms]
    ends: RodEnds
    own: Any
