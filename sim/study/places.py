"""Places in a comparison, shared by those that nobody can tell apart."""

from collections.abc import Mapping


def shared_places(scores: Mapping[str, float], least: bool, apart: Mapping[str, float]) -> dict[str, int]:
    """Places from 1 on.

    scores : by name [the score's unit]; least : whether less is better
    apart : by name, what another's score must differ by for a place of its own [the score's unit]
    Returns each name's place.  A place is shared by all whose score is not told apart from the best of them, and the next one counts
    all before it, so that of two who share the first the third comes third.
    """
    places: dict[str, int] = {}
    first, leader = 0, ""
    for count, name in enumerate(sorted(scores, key=lambda name: (scores[name] if least else -scores[name], name)), start=1):
        if count == 1 or abs(scores[name] - scores[leader]) > apart[leader]:
            first, leader = count, name
        places[name] = first
    return places
