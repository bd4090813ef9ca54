"""How a number of a set-up is declared: its key with the unit in the name, bounds, remedy, and how search and steering bench begin."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import pi, radians
from typing import NamedTuple

MILLIMETRE = 1e-3  # [m]
MILLIMETRES_IN = {"mm": 1.0, "cm": 10.0, "m": 1000.0}  # each unit of a length as people write it


class Dial(NamedTuple):
    """How a number is changed by hand in a window: words beside it, its unit as shown, and the size of a step [the key's unit]."""

    label: str
    unit: str
    step: float


class Share(NamedTuple):
    """A search's bounds as shares of what a team has [-]."""

    low: float
    high: float

    def about(self, value: float) -> tuple[float, float]:
        """Bounds (low, high).  value : what the team has [the key's unit]."""
        return self.low * value, self.high * value


class Step(NamedTuple):
    """A search's bounds as a step to either side of what a team has [the key's unit]."""

    size: float

    def about(self, value: float) -> tuple[float, float]:
        """Bounds (low, high).  value : what the team has [the key's unit]."""
        return value - self.size, value + self.size


class Span(NamedTuple):
    """A search's bounds as fixed ends, wider where what a team has lies outside [the key's unit]."""

    low: float
    high: float

    def about(self, value: float) -> tuple[float, float]:
        """Bounds (low, high).  value : what the team has [the key's unit]."""
        return min(self.low, value), max(self.high, value)


class Shown(NamedTuple):
    """Where a number stands in the drawings of a measuring sheet.

    view : "corner", the left front corner from above, or "behind", the front end seen from behind
    start : "axle" (its middle), "kingpin", "joint" (of the left arm), "inner" (end of the left rod), "ground" (below that), "tyre"
    way : the length from there, "back", "outside", "inside", "up", or "down" to the ground; empty sets the letter alone
    """

    view: str
    start: str
    way: str = ""


@dataclass(frozen=True)
class Key:
    """A number of a set-up.

    name : as it is written, with the unit at its end: _mm, _deg, _mm_per_turn; a name that ends otherwise is a plain number
    low, high : bounds [the key's unit]
    remedy : ends the sentence of refusal, so it says what to write instead
    default : of a key that is left out, None for none [the key's unit]
    needed : whether a set-up cannot do without it
    usual : where a set-up begins that nobody has drawn yet; a key that is needed, or searched without a default, has one [the key's unit]
    search : bounds of a search that is not told which keys are free; None leaves the key as it is
    dial : how the steering bench changes it; None leaves it out there
    words : its plain name; None takes the name without its unit
    common : between what cars of this kind lie, a judgement: common practice, no source; None doubts no value [the key's unit]
    measure : what a person measures, in words; a key that has some is asked for where a scenario is begun by questions
    left_out : what holds where the key is left out and has no default, in words
    shown : where it stands in the drawings of a measuring sheet; None leaves it out there
    """

    name: str
    low: float
    high: float
    remedy: str
    default: float | None = None
    needed: bool = False
    usual: float | None = None
    search: Share | Step | Span | None = None
    dial: Dial | None = None
    words: str | None = None
    common: tuple[float, float] | None = None
    measure: str = ""
    left_out: str = ""
    shown: Shown | None = None

    def __post_init__(self) -> None:
        if self.usual is None and (self.needed or (self.search is not None and self.default is None)):
            raise ValueError(f"{self.name}: a key that is needed or searched has a usual value, with which bench and search begin")

    def si(self, value: float) -> float:
        """A value in SI units, by the unit in the key's name.  value : [the key's unit].  Returns it [m, rad, m/rad or -]."""
        if self.name.endswith("_mm_per_turn"):
            return value * MILLIMETRE / (2 * pi)
        if self.name.endswith("_mm"):
            return value * MILLIMETRE
        return radians(value) if self.name.endswith("_deg") else value


@dataclass(frozen=True)
class Instead:
    """Numbers as people can measure them, in place of those that a scenario keeps.

    measured : their keys, all of them needed; each has a usual value and what to measure
    kept : names of the keys that they stand for
    kept_from : their values, and what `reads` names, by name to those of `kept` in that order; finite for values within bounds
        [the keys' units]
    measured_from : the way back, from those of `kept` and `reads` to those of `measured` [the keys' units]
    reads : keys of the same table that the sum needs too
    """

    measured: tuple[Key, ...]
    kept: tuple[str, ...]
    kept_from: Callable[[Mapping[str, float]], tuple[float, ...]]
    measured_from: Callable[[Mapping[str, float]], tuple[float, ...]]
    reads: tuple[str, ...] = ()
