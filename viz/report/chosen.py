"""What each set-up of a run is, for somebody who has not read the manual: its kind, and the numbers that tell it from the others."""

from collections.abc import Sequence

from sim.keys import Key
from sim.linkages.front_end import ARM_ANGLE, TOE_IN
from sim.linkages.kind import Kind
from sim.scenario.setup import SetupTable
from viz.words.glossary import words_for

MOST_NUMBERS = 4  # of one set-up: a row of a table holds no more
UNITS = {"_mm": " mm", "_deg": "°"}
ROLLS = "ideal"  # the linkage whose rule is put into plain words here, for the glossary's speaks of axle lines
RULE, RULE_WITH_TOE = "each front wheel always points the way it rolls", "each front wheel points the way it rolls, but for its toe"


def kind_words(kind: Kind, toe: bool = False) -> str:
    """What kind of steering a set-up has.  kind : of its linkage; toe : whether it has some"""
    means = "".join(f": {word.means[0].lower()}{word.means[1:].rstrip('.')}" for word in words_for(kind.name)[:1])
    if kind.yardstick:
        return f"{kind.name}{f': {RULE_WITH_TOE if toe else RULE}' if kind.name == ROLLS else means} (a yardstick: no rods make it exactly)"
    if kind.axle:
        return "turntable (the whole axle swings: for walking speed)"
    return kind.name if kind.rods else f"{kind.name}{means} (a yardstick: it names no rods)"


def chosen_words(setups: Sequence[SetupTable]) -> list[str]:
    """What each of several set-ups is, with kink, toe and whatever else tells it from others of its kind.  setups : shown together"""
    told = []
    for one in setups:
        alike = [other for other in setups if other.kind is one.kind]
        numbers = [number_words(key, one) for key in _in_order(one.kind) if _tells(key, one, alike)]
        told.append("; ".join([kind_words(one.kind, one.toe_in != 0), *([", ".join(numbers[:MOST_NUMBERS])] if numbers else [])]))
    return told


def _in_order(kind: Kind) -> list[Key]:
    """Keys of a kind, those that shape its wheels' angles first."""
    return list(dict.fromkeys((*kind.dials, *kind.keys)))


def _tells(key: Key, one: SetupTable, alike: Sequence[SetupTable]) -> bool:
    """Whether a number belongs into a set-up's line.  alike : the set-ups of its kind, it among them"""
    value = one.value_of(key.name)
    if value is None:
        return False
    if key.name == TOE_IN and value:
        return True
    named = key.name == ARM_ANGLE or (key.needed and not one.kind.rods)
    return named or any(other.value_of(key.name) != value for other in alike)


def number_words(key: Key, setup: SetupTable) -> str:
    """A number of a set-up with its name and unit.  key : of one that it has; setup : SetupTable"""
    value = setup.value_of(key.name)
    if key.name == TOE_IN and not value:
        return "no toe"
    ending = next((ending for ending in UNITS if key.name.endswith(ending)), "")
    name = key.words or (key.dial.label if key.dial else key.name.removesuffix(ending).replace("_", " "))
    return f"{name} {value:g}{UNITS.get(ending, '')}"
