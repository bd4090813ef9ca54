"""Figures of a contest in words, and the bars that show what a set-up needs beyond ideal steering."""

from sim.contest.results import ContestEntry, ContestResult

LONGEST_CALLED = 32  # signs of a name in a sentence that says it several times


def called(entry: ContestEntry) -> str:
    """A team's name in quotes, cut where it is too long for a sentence.  entry : ContestEntry."""
    name = entry.team
    return f'"{name}"' if len(name) <= LONGEST_CALLED else f'"{name[: LONGEST_CALLED - 1].rstrip()}…"'


def joules(value: float) -> str:
    """Energy with the digits that it deserves.  value [J]."""
    return f"{value:.0f} J" if abs(value) >= 100 else f"{value:.1f} J"


def metres(value: float) -> str:
    """A length.  value [m]."""
    return f"{value:.0f} m" if abs(value) >= 100 else f"{value:.2f} m"


def degrees(value: float) -> str:
    """An angle.  value [degrees]."""
    return f"{value + 0.0:.1f}°" if abs(value) >= 0.05 else "0°"


def score_words(value: float, result: ContestResult) -> str:
    """A score with its unit.  value : in the rule's unit."""
    return joules(value) if result.score_unit == "J" else metres(value)


def beyond_ideal(entry: ContestEntry, result: ContestResult) -> float | None:
    """By how much an entry's score is worse than that of ideal steering on the same car [the rule's unit]; below 0 where it is better."""
    ideal = getattr(entry.ideal, result.score_key)
    if entry.score is None or ideal is None:
        return None
    apart = entry.score - ideal
    return -apart if result.score_key == "race_distance_m" else apart
