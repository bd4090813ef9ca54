"""The list of linkages.  A new one is a new file and its KIND in this list; nothing else knows a linkage by its name."""

from sim.keys import Key
from sim.linkages import centre_arm, cross_rod, fraction, ideal, parallel, rack, turntable
from sim.linkages.front_end import Arms, RodEnds, Stance, keys_of
from sim.linkages.kind import Kind


KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        ideal.KIND,
        parallel.KIND,
        fraction.KIND,
        cross_rod.KIND,
        centre_arm.KIND,
        rack.KIND,
        turntable.KIND,
    )
}

LINKAGES = tuple(name for name, kind in KINDS.items() if not kind.axle)  # between two wheels on stub axles
TURNTABLE = turntable.KIND.name


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
