"""A front end as it was built: the planned set-up with errors in its rods, arms and drawn lengths, and in what it is measured with."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import cached_property
from math import radians

import numpy as np

from sim.errors import InputError
from sim.keys import MILLIMETRE, Key
from sim.linkages.catalogue import kinds_with_rods
from sim.linkages.front_end import FrontEnd
from sim.linkages.kind import Hand
from sim.linkages.parts import Linkage
from sim.linkages.pivots import stub_axles
from sim.scenario.car import CarTable
from sim.scenario.setup import SetupTable
from sim.steering.arrangement import Steering, build_steering
from sim.steering.front_end import front_end

# Places in every vector of errors; those of the drawing follow, as many as the set-up has.  A rod that joins both wheels is ROD_LEFT.
# Rods in turns, longer than planned positive; arms in rad, more kink positive; the zeros are what a protractor shows when its wheel, or
# the dial when the hand wheel, stands straight ahead [rad]; LINE turns both strings to the left [rad]; TAPE reads long [m];
# HOME is how much longer a rod with both ends fully home is than its parts as they were measured [m].
ROD_LEFT, ROD_RIGHT, ARM_LEFT, ARM_RIGHT, ZERO_LEFT, ZERO_RIGHT, ZERO_HAND, LINE, TAPE, HOME = range(10)
ERRORS = 10
ROD, ARM, ZERO, HAND_ZERO, STRING, RULE, PARTS, DRAWING = "rod", "arm", "zero", "hand zero", "string", "rule", "parts", "drawing"


@dataclass(frozen=True)
class Unknown:
    """Something that may be off, of a car or of what it is measured with.

    name : in words
    kind : a word of this file: ROD, ARM, ZERO, HAND_ZERO, STRING, RULE, PARTS or DRAWING
    spread : how far off such things usually are, one standard deviation [turns, rad or m]
    """

    name: str
    kind: str
    spread: float


# Usual spreads.  Those of arms, protractors' zeros and the dial's mark are those of the simulation that chose the plan of readings; all
# are judgements, no source.  The rods' is wide, so that the readings speak; that of tube and two ends is callipers' and a steel rule's.
SPREADS = {
    ROD: 5.0, ARM: radians(1.0), ZERO: radians(0.25), HAND_ZERO: radians(1.0), STRING: radians(0.1), RULE: 0.2 * MILLIMETRE,
    PARTS: 0.25 * MILLIMETRE, DRAWING: 1.5 * MILLIMETRE,
}  # fmt: skip
# Where nobody has measured tube and rod ends: they are alike for both rods, so that the counts still tell these apart.
UNKNOWN_HOME, UNKNOWN_TURNS = 20 * MILLIMETRE, 8.0
_COMMON = (
    ("left rod's length", ROD), ("right rod's length", ROD), ("left arm's kink", ARM), ("right arm's kink", ARM),
    ("left protractor's zero", ZERO), ("right protractor's zero", ZERO), ("hand wheel's mark", HAND_ZERO),
    ("strings' direction", STRING), ("tape on the rods", RULE),
    ("length of the rods fully home", PARTS),
)  # fmt: skip
# An end of a rod that is off by more is worth half a turn; an arm that is off by more is worth new holes; a mark of the hand wheel that is
# off by more is worth a new mark.  Judgement. [turns or rad]
WORTH = {ROD: 0.25, ARM: radians(0.5), HAND_ZERO: radians(0.5)}
# Standard errors beyond which nobody knows a part well enough to blame it, whatever a fit makes of the rest: with a drawing that is a
# millimetre or two off, many pairs of angles name the wrong rod with confidence; readings of the rods themselves don't.  Judgement.
KNOWN = {ROD: 0.35, ARM: radians(0.7), HAND_ZERO: radians(0.7)}
BEYOND = 0.1  # the nearest point is sought this share of the range beyond the planned locks, for a wrong rod moves them


@dataclass(frozen=True, eq=False)
class Built:
    """A set-up with rods as it was planned, ready to be built wrong.

    setup, car : SetupTable, CarTable
    steering : of the set-up as planned
    """

    setup: SetupTable
    car: CarTable
    steering: Steering

    @property
    def one_rod(self) -> bool:
        """Whether one rod joins both wheels."""
        return len(self.steering.mechanism.rods) == 1

    @property
    def hand_tells(self) -> bool:
        """Whether hand angles tell anything: not where they are a wheel's own."""
        return self.setup.kind.hand is not Hand.LEFT_WHEEL

    @cached_property
    def front(self) -> FrontEnd:
        """The planned front end in SI units."""
        return front_end(self.setup, self.car)

    @property
    def pitch(self) -> float:
        """Of the rod ends' thread [m]."""
        return self.front.ends.pitch

    @cached_property
    def rod_lengths(self) -> np.ndarray:
        """Planned length of each rod, left and right or the one [m]."""
        return _lengths(self.steering.mechanism)

    @property
    def parts_known(self) -> bool:
        """Whether tube and rod ends were measured, of which the rods are screwed together."""
        return self.front.ends.tube is not None and self.front.ends.eye is not None

    @cached_property
    def home_length(self) -> float:
        """Of a rod with both ends screwed fully home; a guess where its parts were not measured [m]."""
        ends = self.front.ends
        if ends.tube is None or ends.eye is None:
            return float(self.rod_lengths.mean()) - UNKNOWN_TURNS * self.pitch
        return ends.tube + 2 * ends.eye

    @cached_property
    def hand_range(self) -> tuple[float, float]:
        """Hand angles (low, high) between which a wrongly built car is looked at [rad]."""
        beyond = BEYOND * (self.steering.lock_left - self.steering.lock_right)
        return self.steering.lock_right - beyond, self.steering.lock_left + beyond

    @cached_property
    def own_lengths(self) -> dict[str, str]:
        """Fields of the linkage's own numbers that are lengths on the drawing, with their names in words."""
        found = {}
        for one in fields(self.setup.kind.own):
            key: Key = one.metadata["key"]
            if key.name.endswith("_mm") and getattr(self.front.own, one.name) is not None:
                found[one.name] = key.words or key.name.removesuffix("_mm").replace("_", " ")
        return found

    @cached_property
    def unknowns(self) -> tuple[Unknown, ...]:
        """All that may be off, in the order of a vector of errors; what this linkage does not have has no spread."""
        absent = {ROD_RIGHT} if self.one_rod else set()
        if not self.hand_tells:
            absent.add(ZERO_HAND)
        common = [Unknown(name, kind, 0.0 if place in absent else SPREADS[kind]) for place, (name, kind) in enumerate(_COMMON)]
        if not self.parts_known:
            common[HOME] = replace(common[HOME], spread=UNKNOWN_HOME)
        if self.one_rod:
            common[ROD_LEFT] = replace(common[ROD_LEFT], name="rod's length")
        drawn = ("left arm's length", "right arm's length", "kingpins' distance", *self.own_lengths.values())
        return (*common, *(Unknown(name, DRAWING, SPREADS[DRAWING]) for name in drawn))

    @cached_property
    def spreads(self) -> np.ndarray:
        """(p,) standard deviation of each error before anything is read; 0 of what the linkage does not have [turns, rad or m]."""
        return np.array([one.spread for one in self.unknowns])

    def whole(self, errors: np.ndarray) -> np.ndarray:
        """All errors, those that are left out at the end being none.

        errors : (up to p,) [turns, rad or m]
        Returns (p,) [turns, rad or m].
        """
        return np.concatenate([errors, np.zeros(len(self.unknowns) - len(errors))])

    def _front(self, errors: np.ndarray) -> FrontEnd:
        """The front end with errors in everything but the rods."""
        front, drawn = self.front, errors[ERRORS:]
        left, right = (
            replace(arm, angle=arm.angle + errors[kink], length=arm.length + longer)
            for arm, kink, longer in zip(front.arms, (ARM_LEFT, ARM_RIGHT), drawn[:2], strict=True)
        )
        own = replace(front.own, **{name: getattr(front.own, name) + off for name, off in zip(self.own_lengths, drawn[3:], strict=True)})
        track, wheels = front.kingpin_track + drawn[2], front.wheels
        if drawn[2]:
            wheels = stub_axles(self.car.front_track, track, self.car.wheel_radius, front.stance.inclination, front.stance.caster)
        return replace(front, arms=(left, right), own=own, kingpin_track=track, wheels=wheels)

    def mechanism(self, errors: np.ndarray) -> Linkage:
        """The linkage with the errors in it.

        errors : (up to p,) [turns, rad or m]
        Returns the linkage.  Raises UnbuildableError.
        """
        errors = self.whole(errors)
        return self._mechanism(self._front(errors), errors)

    def _mechanism(self, front: FrontEnd, errors: np.ndarray) -> Linkage:
        build, ends = self.setup.kind.build, front.ends
        # Rods are as long as they are, whatever the arms ask for: what the arms would need is taken off again.
        needed = _lengths(build(front)) if errors[[ARM_LEFT, ARM_RIGHT]].any() or errors[ERRORS:].any() else self.rod_lengths
        turns = (self.rod_lengths - needed) / self.pitch + errors[[ROD_LEFT, ROD_RIGHT]][: len(needed)]
        left, right = (*turns, 0.0)[:2]
        return build(replace(front, ends=replace(ends, turns_left=ends.turns_left + left, turns_right=ends.turns_right + right)))

    def built(self, errors: np.ndarray) -> Steering:
        """The steering with the errors in it, over `hand_range`.

        errors : (up to p,) [turns, rad or m]
        Returns Steering; where a rod does not reach, it stands at its nearest approach.  Raises UnbuildableError.
        """
        errors = self.whole(errors)
        front = self._front(errors)
        low, high = self.hand_range
        kingpins = np.array([front.kingpin_track / 2, -front.kingpin_track / 2])
        return replace(
            self.steering, mechanism=self._mechanism(front, errors), wheels=front.wheels, kingpin_y=kingpins, lock_left=high, lock_right=low
        )


def _lengths(mechanism: Linkage) -> np.ndarray:
    return np.array([rod.length for rod in mechanism.rods])


def make_plan(setup: SetupTable, car: CarTable, source: str, place: str) -> Built:
    """The plan that readings are held against.

    setup, car : what the user wrote
    source, place : where, for an error's text
    Returns Built.  Raises InputError where the set-up has no rods or cannot be built.
    """
    if not setup.kind.rods:
        what = f'linkage "{setup.linkage}" is a formula' if setup.linkage else "a turntable axle"
        problem = f'"{setup.name}" has no rods and arms to set: {what}'
        key = "linkage" if setup.linkage else "pivot"
        raise InputError(source, f"{place}.{key}", problem, f"choose a set-up with {kinds_with_rods()}")
    return Built(setup, car, build_steering(setup, car, source, place))


def parts_of(plan: Built) -> Mapping[str, int]:
    """The parts that can be blamed, by name, with their places in a vector of errors.  plan : Built.  Returns them [-]."""
    return {
        one.name.partition("'")[0]: place for place, one in enumerate(plan.unknowns) if one.kind in (ROD, ARM) and one.spread > 0
    }  # fmt: skip
