"""What a linkage's file declares: its name, its numbers with their keys, and how it is built."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from functools import cached_property
from typing import Any

from sim.keys import Instead, Key
from sim.linkages.front_end import ARM_JOINT, INCLINATION, Arms, FrontEnd, NoNumbers, RodEnds, Stance, keys_of
from sim.linkages.parts import Linkage


class Hand(Enum):
    """What turns by the hand angle."""

    HAND_WHEEL = "the hand wheel or its column, which moves both wheels alike"
    LEFT_WHEEL = "the left wheel itself"
    STEER = "one wheel in the middle that stands for both"
    AXLE = "the front axle"


@dataclass(frozen=True)
class Hanging:
    """An arm that hangs from the steering column.

    length : from the column's axis to the rods' joints [m]
    joint_spacing : between the two rods' joints [m]
    """

    length: float
    joint_spacing: float


@dataclass(frozen=True)
class Kind:
    """A kind of linkage.

    name : as the scenario's key `linkage` says it; that of a turntable axle, which is none, as its key `pivot` does
    build : FrontEnd to the linkage; raises UnbuildableError where it cannot be put together straight ahead
    hand : what turns by the hand angle
    own : frozen class of the SI numbers that it has for itself, made with `front_end.number` and `front_end.millimetres`
    rods : whether it has arms, and rods that somebody has to set; it then reads the keys of Arms and RodEnds
    yardstick : whether it says what angles to aim at and not by which parts
    common_ratio : steering ratios, hand to wheels, that are usual with it; a judgement: common practice, no source [-]
    hangs : where an arm that hangs from the steering column moves its rods: the numbers of its own to that arm
    also_called : what else people call it, in small letters
    along : the key that says where along the car the inner ends of its rods stand; empty where there is none
    """

    name: str
    build: Callable[[FrontEnd], Linkage]
    hand: Hand
    own: type = NoNumbers
    rods: bool = False
    yardstick: bool = False
    common_ratio: tuple[float, float] = (0.5, 4.0)
    hangs: Callable[[Any], Hanging] | None = None
    also_called: tuple[str, ...] = ()
    along: str = ""

    @property
    def axle(self) -> bool:
        """Whether both wheels swing with one axle, so that there is no linkage between them."""
        return self.hand is Hand.AXLE

    @property
    def a_name(self) -> str:
        """The name with its article, as in a sentence."""
        return f"{'an' if self.name[0] in 'aeiou' else 'a'} {self.name}"

    @cached_property
    def keys(self) -> tuple[Key, ...]:
        """The keys that it reads, beside name and kind of the set-up."""
        arms, ends = (keys_of(Arms), keys_of(RodEnds)) if self.rods else ((), ())
        stance = tuple(key for key in keys_of(Stance) if not (self.axle and key.name == INCLINATION))
        return (*stance, *arms, *keys_of(self.own), *ends)

    @property
    def instead(self) -> tuple[Instead, ...]:
        """What a person may measure in place of its keys."""
        return (ARM_JOINT,) if self.rods else ()

    @property
    def needs(self) -> tuple[Key, ...]:
        """The keys that a set-up cannot do without."""
        return tuple(key for key in self.keys if key.needed)

    @property
    def searched(self) -> tuple[Key, ...]:
        """The keys that a search frees where nobody says which: those of arms and parts, toe where there are none."""
        stance = keys_of(Stance)
        parts = tuple(key for key in self.keys if key.search is not None and key not in stance)
        return parts or tuple(key for key in stance if key.search is not None)

    @property
    def dials(self) -> tuple[Key, ...]:
        """The keys that the steering bench changes, in the order in which it shows them: arms, rod ends, its own, toe."""
        groups = (*((keys_of(Arms), keys_of(RodEnds)) if self.rods else ()), keys_of(self.own), keys_of(Stance))
        return tuple(key for group in groups for key in group if key.dial is not None)
