"""What the set-ups of a comparison cost beside what it takes to cure that: the rods re-set, or the parts of a better one built."""

from sim.judgements import SAME_SHARE
from sim.linkages.catalogue import kind_of
from sim.study.compare import Comparison, SetupResult, used_by
from sim.study.effort import RODS, Cure, Effort, cure_of, effort_between


def cures_of(comparison: Comparison) -> tuple[tuple[Cure, ...], ...]:
    """The cures of each set-up that costs more than it need, in the comparison's order; of each the rods first, then new parts.

    comparison : Comparison
    Returns a tuple for each set-up, empty where there is nothing to gain or it did not finish [units in the names of its fields].
    """
    return tuple(_cures(one, comparison) for one in comparison.results)


def _cures(one: SetupResult, comparison: Comparison) -> tuple[Cure, ...]:
    if one.ledger is None:
        return ()
    before, found = used_by(one), []
    least = SAME_SHARE * before.drive_work
    if one.straight is not None and one.toe_cost > least:
        found.append(cure_of(RODS, before, one.straight))
        before = one.straight
    best = _cheapest(one, comparison)
    if best is not None:
        effort, other = best
        after = used_by(other)
        if before.drive_work - after.drive_work > least:
            found.append(cure_of(effort, before, after))
    return tuple(found)


def _cheapest(one: SetupResult, comparison: Comparison) -> tuple[Effort, SetupResult] | None:
    """Of the set-ups that do as well as the best with arms and rods, the one that takes least to make of this one; None where it is one.

    Where none has arms and rods, the best of all stands for those that could.  A turntable axle, which tips and kicks, is no cure.
    """
    tables = {setup.name: setup for setup in comparison.scenario.setup}
    done = [(other, tables[other.name]) for other in comparison.results if other.ledger is not None]
    built = [pair for pair in done if kind_of(pair[1].linkage).rods] or [pair for pair in done if not kind_of(pair[1].linkage).axle] or done
    least = min(used_by(other).drive_work for other, _ in built)
    ways = []
    for other, table in built:
        effort = effort_between(tables[one.name], table) if other is not one else None
        if effort is not None and used_by(other).drive_work <= least * (1 + SAME_SHARE):
            ways.append((effort.minutes, effort, other))
    if not ways:
        return None
    _, effort, best = min(ways, key=lambda way: way[0])
    return effort, best
