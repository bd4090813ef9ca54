"""The list of linkages.  A new one is a new file and its name in FILES; nothing else knows a linkage by its name."""

from importlib import import_module

from sim.keys import Key
from sim.linkages.front_end import Arms, RodEnds, Stance, keys_of
from sim.linkages.kind import Kind

# Files of this room, each with its KIND, in the order in which they are shown and tried.
FILES = (
    "ideal",
    "parallel",
    "fraction",
    "cross_rod",
    "centre_arm",
    "rack",
    "turntable",
)


def _kinds() -> dict[str, Kind]:
    kinds: list[Kind] = [import_module(f"sim.linkages.{file}").KIND for file in FILES]
    return {kind.name: kind for kind in kinds}


KINDS = _kinds()
LINKAGES = tuple(name for name, kind in KINDS.items() if not kind.axle)  # between two wheels on stub axles
(TURNTABLE,) = (name for name, kind in KINDS.items() if kind.axle)


def kind_of(linkage: str | None) -> Kind:
    """The kind of a set-up's linkage.  linkage : its name, None for a turntable axle."""
    return KINDS[linkage or TURNTABLE]


def kinds_with_rods() -> str:
    """The kinds that have rods and arms to set, in words, such as "a cross rod, a centre arm or a rack"."""
    *most, last = (kind.a_name for kind in KINDS.values() if kind.rods)
    return f"{', '.join(most)} or {last}" if most else last


def all_keys() -> dict[str, Key]:
    """Every key of a set-up by name, in the scenario's order: laws' own, those of every set-up, arms, parts' own, rod ends.

    Raises ValueError where two kinds declare one name differently.
    """
    laws = [keys_of(kind.own) for kind in KINDS.values() if not kind.rods]
    parts = [keys_of(kind.own) for kind in KINDS.values() if kind.rods]
    found: dict[str, Key] = {}
    for group in (*laws, keys_of(Stance), keys_of(Arms), *parts, keys_of(RodEnds)):
        for key in group:
            if found.setdefault(key.name, key) != key:
                raise ValueError(f"{key.name}: two kinds of linkage declare this key differently")
    return found
