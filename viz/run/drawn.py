"""Which set-ups the pictures of a run show."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from viz.shared.figures import MOST_DRAWN

if TYPE_CHECKING:
    from sim.study.compare import Comparison, SetupResult


def drawn_results(comparison: Comparison, most: int = MOST_DRAWN) -> list[SetupResult]:
    """The set-ups that the maps and the slip angles show, in the scenario's order.

    comparison : the run; most : how many, at least two
    Returns all up to so many; of more, so many picked evenly by rank from the least scrub to the most, the best and the worst
    among them; those that did not finish rank last.
    """
    results = comparison.results
    if len(results) <= most:
        return list(results)
    scrubs = [one.ledger.scrub if one.ledger is not None else np.inf for one in results]
    ranked = sorted(range(len(results)), key=lambda index: scrubs[index])
    picked = {ranked[round(step * (len(results) - 1) / (most - 1))] for step in range(most)}
    return [results[index] for index in sorted(picked)]
