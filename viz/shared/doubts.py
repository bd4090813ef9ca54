"""Numbers of a scenario that look like slips, in words, alike in every command."""

from collections.abc import Sequence

MOST_SHOWN = 3  # of the doubts, where there is one screen for all


def doubt_lines(doubts: Sequence[str], every: bool = False) -> list[str]:
    """A line for each doubt, or for the first ones and how many there are beside them.

    doubts : sentences; every : whether all are wanted
    """
    shown = doubts if every or len(doubts) <= MOST_SHOWN else doubts[: MOST_SHOWN - 1]
    more = len(doubts) - len(shown)
    return [f"Is this right? {one}" for one in shown] + ([f"And {more} more like that: add --explain."] if more else [])
