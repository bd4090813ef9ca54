"""Figures of a contest in words, and the bars that show what a set-up needs beyond ideal steering."""

from sim.contest.results import ContestEntry, ContestResult
from viz.shared.rounding import TENTHS, shown, shown_less, tenths

METRE_DIGITS = 2  # of a metre
LONGEST_CALLED = 32  # signs of a name in a sentence that says it several times


def called(entry: ContestEntry) -> str:
    """A team's name in quotes, cut where it is too long for a sentence.  entry : ContestEntry."""
    name = entry.team
    return f'"{name}"' if len(name) <= LONGEST_CALLED else f'"{name[: LONGEST_CALLED - 1].rstrip()}…"'


def joules(value: float) -> str:
    """Energy in tenths, so that differences of it can be seen.  value [J]."""
    return f"{tenths(value)} J"


def metres(value: float) -> str:
    """A length.  value [m]."""
    return f"{shown(value, METRE_DIGITS):.{METRE_DIGITS}f} m"


def degrees(value: float) -> str:
    """An angle.  value [degrees]."""
    return f"{value + 0.0:.1f}°" if abs(value) >= 0.05 else "0°"


def score_words(value: float, result: ContestResult) -> str:
    """A score with its unit.  value : in the rule's unit."""
    return joules(value) if result.score_unit == "J" else metres(value)


def score_less(more: float, less: float, result: ContestResult) -> float:
    """The difference of two scores as they are printed [the rule's unit].  more, less : scores"""
    return shown_less(more, less, TENTHS if result.score_unit == "J" else METRE_DIGITS)


def beyond_ideal(entry: ContestEntry, result: ContestResult) -> float | None:
    """By how much an entry's score is worse than that of ideal steering on the same car [the rule's unit]; below 0 where it is better."""
    ideal = getattr(entry.ideal, result.score_key)
    return None if entry.score is None or ideal is None else _worse(entry.score - ideal, result)


def beyond_words(entry: ContestEntry, result: ContestResult) -> str:
    """The same as the difference of the two printed scores, with its unit; empty where it is not known."""
    ideal = getattr(entry.ideal, result.score_key)
    return "" if entry.score is None or ideal is None else score_words(_worse(score_less(entry.score, ideal, result), result), result)


def _worse(more: float, result: ContestResult) -> float:
    return -more if result.score_key == "race_distance_m" else more
