"""What set-ups cost each other on this lap: the reference, the order, the bends and the joules in each, from the stored powers."""

import json
from functools import lru_cache
from math import isfinite, nan

import numpy as np

from sim.car.chassis import GRAVITY
from sim.files.text import LARGEST_FILE, plain_bytes
from sim.judgements import TELL_APART
from sim.linkages import ideal
from viz.replay.run_data import Drive, Replay
from viz.shared.bends import Bend, course_bends, telling_bend, telling_place

SLIGHT_BEND = 1 / 60  # [1/m] what bends less, and lies in none of those, is called straight
RESULTS = "pages/results.json"  # of a contest's run folder
LEAST_PLACE = 0.2  # of the highest power at a place, below which a place has no number: its curve lies next to zero there.  A judgement.
IDEAL = ideal.KIND.name  # the linkage whose wheels always agree


def reference_of(replay: Replay) -> int:
    """Index of the set-up that the others are held against: ideal wheels without toe, or else the one whose tyres lose least."""
    for index, setup in enumerate(replay.scenario.setup):
        if setup.linkage == IDEAL and setup.toe_in == 0.0 and not replay.drives[index].reason:
            return index
    done = [index for index in by_cost(replay) if not replay.drives[index].reason]
    return done[-1] if done else 0


def by_cost(replay: Replay, of: list[int] | None = None) -> list[int]:
    """Indices of set-ups, the one whose tyres lose most over the lap first; those that did not finish come last.  of : None for all."""
    every = list(range(len(replay.drives))) if of is None else of
    done = sorted((i for i in every if not replay.drives[i].reason), key=lambda i: (-float(replay.drives[i].work[-1]), i))
    return done + [i for i in every if replay.drives[i].reason] if done else sorted(every)


def opening_pair(replay: Replay, named: list[int] | None = None) -> list[int]:
    """The set-ups that are shown large at first: the named ones; a contest's winner and last; or the reference and the costliest.

    named : up to two of them are taken, None where nobody named any
    """
    if named:
        return named[:2]
    found = _winner_and_last(replay)
    if found:
        return found
    reference = reference_of(replay)
    others = [i for i in by_cost(replay) if i != reference]
    return [reference, *others[:1]]


def _winner_and_last(replay: Replay) -> list[int]:
    """Of a contest's folder, else empty."""
    try:
        told = json.loads(plain_bytes(replay.folder / RESULTS, LARGEST_FILE))
        roles = {one["replayed"]: one["team"] for one in told["entries"] if one["replayed"]}
        names = [one.name for one in replay.drives]
        return [names.index(roles[role]) for role in ("winner", "last")]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):  # no contest, or one in which nobody came last
        return []


@lru_cache(maxsize=8)
def bends_of(replay: Replay) -> list[Bend]:
    """The bends of a run's course, as `course_bends` has them.  replay : Replay."""
    return course_bends(replay.course, [(drive.station, drive.total) for drive in replay.drives])


def bend_at(replay: Replay, station: float) -> tuple[str, float]:
    """Whether the course bends at a place, for all that is said of it.  station : [m].

    Returns ("left" or "right", or "" where it is straight; the radius there [m]).
    """
    curvature = float(np.interp(station, replay.course.station, replay.course.curvature))
    radius = 1 / max(abs(curvature), 1e-9)
    if abs(curvature) > SLIGHT_BEND:
        return "left" if curvature > 0 else "right", radius
    inside = [bend for bend in bends_of(replay) if bend.number and bend.begin <= station <= bend.end]
    return ("left" if inside[0].turns_left else "right") if inside else "", radius


def joules(drive: Drive, begin: float, end: float) -> float:
    """What all tyres of a set-up lose between two places of the course [J].  begin, end : [m]."""
    return drive.spent.between(begin, end)


def more_in_bends(replay: Replay, one: Drive, other: Drive) -> float:
    """What a set-up's tyres lose in a lap's bends above another's [J]."""
    bends = [bend for bend in bends_of(replay) if bend.number]
    return sum(joules(one, bend.begin, bend.end) - joules(other, bend.begin, bend.end) for bend in bends)


def share_more(one: Drive, other: Drive) -> float:
    """What a drive needs more than another, of that one's drive work; NaN where that is not known [-].  one, other : the two."""
    return (one.drive_work - other.drive_work) / other.drive_work if other.drive_work else nan


def matters(replay: Replay, index: int) -> bool:
    """Whether what a set-up needs more than the reference from start to end can be told apart at all; where nobody knows, it may.

    index : of the set-up
    """
    share = share_more(replay.drives[index], replay.drives[reference_of(replay)])
    return not isfinite(share) or share >= TELL_APART


@lru_cache(maxsize=64)
def mostly_outside(replay: Replay, index: int) -> bool:
    """Whether most of what a set-up's tyres lose above the reference's in a lap is lost outside the bends.  index : of the set-up."""
    one, other = replay.drives[index], replay.drives[reference_of(replay)]
    return more_in_bends(replay, one, other) < float(one.work[-1] - other.work[-1]) / 2


def story_bend(replay: Replay, pair: list[int]) -> Bend:
    """The bend in which two set-ups differ most in joules; of one alone, in which it loses most above the reference.

    pair : one or two indices
    """
    against = pair[0] if len(pair) > 1 else reference_of(replay)
    other = replay.drives[against].spent if against != pair[-1] else None
    return telling_bend(bends_of(replay), replay.drives[pair[-1]].spent, other)


def story_place(replay: Replay, pair: list[int]) -> float:
    """Place 1, in that bend: where two powers lie furthest apart; of one alone, where it rubs most [m].  pair : one or two indices."""
    other = replay.drives[pair[0]].spent if len(pair) > 1 else None
    return telling_place(story_bend(replay, pair), replay.drives[pair[-1]].spent, other)


def places_of(replay: Replay, pair: list[int]) -> list[float]:
    """The numbered places, 1 first, for the story, the strip and the key `J` alike [m].  pair : one or two indices."""
    return [station for station, _ in numbered_places(replay, pair)]


@lru_cache(maxsize=64)
def _numbered(replay: Replay, chosen: tuple[int, ...]) -> tuple[tuple[float, float], ...]:
    """As `numbered_places`, worked out once for the same."""
    pair = list(chosen)
    first = story_place(replay, pair)
    found, tells = replay.telling_places(pair, first), slight(replay)
    least = max(tells, LEAST_PLACE * max(power for _, power in found))
    places = [one for number, one in enumerate(found) if number == 0 or one[1] > least]
    highest = replay.telling_places(pair)[0]
    if highest[1] > found[0][1] + tells and highest[0] not in [station for station, _ in places]:
        places.insert(1, highest)  # a top on a hill that place 1 stands on too, as with toe
    return tuple(places)


def numbered_places(replay: Replay, pair: list[int]) -> list[tuple[float, float]]:
    """The numbered places, 1 first, with the power that the two differ by there; of one alone, with its power: (station [m], power [W]).

    pair : one or two indices.  Place 1 is that of the story: in the bend that differs most in joules.  The others follow by the power
    that they differ by; those at which it tells nothing, or little beside the highest, are none.  Where the power is larger than at place 1
    it is always a place.
    """
    return list(_numbered(replay, tuple(pair)))


def slight(replay: Replay) -> float:
    """Power below which a difference tells nothing: the share of the car's mean drive power that the model cannot tell apart [W].

    A run that does not tell its drive work is judged by the rolling resistance alone, which is less.
    """
    drive = replay.drives[reference_of(replay)]
    work = drive.drive_work
    if not isfinite(work) or work <= 0:
        car = replay.scenario.car
        work = car.tyre.rolling_resistance * car.mass_kg * GRAVITY * float(drive.station[-1])
    return TELL_APART * work / float(drive.time[-1])
