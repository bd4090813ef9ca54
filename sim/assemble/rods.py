"""A rod screwed together from a tube and two rod ends: how many turns from fully home, and how much thread then sits inside."""

from dataclasses import dataclass, fields
from enum import Enum
from math import floor

from sim.keys import MILLIMETRE
from sim.linkages.front_end import RodEnds
from sim.steering.threads import COARSE_MM, LEAST_TURNS, engagement_turns

HALF_TURNS = 2  # in a turn: an eye that has to lie flat turns by halves (common practice)
# Turns that a rod end should stand out from fully home, so that toe can be set both ways.  Judgement: on an arm of a hand's
# length two turns of a usual thread are more than a degree.
SPARE_TURNS = 2.0
ROUND_OFF = 1e-12  # [m] what millimetres and back may cost a length of some metres


class RodVerdict(Enum):
    """Whether a rod can be screwed to its length."""

    FITS = "fits"
    TUBE_TOO_LONG = "the tube is too long"
    TUBE_TOO_SHORT = "the tube is too short: too little thread would stay inside"
    THREAD_TOO_SHORT = "the rod ends' thread is shorter than the least that must stay inside"
    NOT_GIVEN = "the lengths of tube and rod ends are not given"


@dataclass(frozen=True)
class RodToSet:
    """One rod, to be set before it is fitted.

    name : which one
    length_mm : from eye to eye, straight ahead [mm]
    verdict : whether it can be screwed to that
    turns_one_end, turns_other_end : of each end out from fully home, in halves; None where lengths are missing or it does not go [-]
    length_by_turns_mm : from eye to eye with just these turns [mm]
    thread_inside_mm : at the end that is further out [mm]
    tube_shortest_mm, tube_longest_mm : tubes with which it can be screwed to its length, None where nothing tells [mm]
    tube_to_cut_mm : the tube that leaves turns to set the toe either way [mm]
    """

    name: str
    length_mm: float
    verdict: RodVerdict
    turns_one_end: float | None = None
    turns_other_end: float | None = None
    length_by_turns_mm: float | None = None
    thread_inside_mm: float | None = None
    tube_shortest_mm: float | None = None
    tube_longest_mm: float | None = None
    tube_to_cut_mm: float | None = None


def least_thread(pitch: float) -> float:
    """The least thread of a rod end that must sit in its rod: 1.5 diameters of the coarse thread of that pitch, and 5 turns.

    pitch : of the thread [m]
    Returns the length [m].  Source: `engagement_turns` and LEAST_TURNS (common practice); of a pitch that is none of the coarse rod
    sizes only the turns are known.
    """
    diameter = COARSE_MM.get(round(pitch / MILLIMETRE, 6))
    turns = LEAST_TURNS if diameter is None else max(LEAST_TURNS, engagement_turns(pitch, diameter * MILLIMETRE))
    return turns * pitch


def missing_keys(ends: RodEnds) -> tuple[str, ...]:
    """The keys that have to be given before turns can be told.  ends : RodEnds [m].  Returns their names."""
    return tuple(one.metadata["key"].name for one in fields(ends) if getattr(ends, one.name) is None)


def rod_to_set(name: str, length: float, ends: RodEnds) -> RodToSet:
    """How a rod is screwed to its length.

    name : of the rod; length : from eye to eye [m]; ends : RodEnds [m]
    Returns RodToSet [mm].  Source: length = tube + 2 eyes + pitch x (turns of one end + turns of the other), which holds for a tube
    between a right- and a left-hand thread too; both ends stand out alike, to half a turn.
    """
    told = RodToSet(name, length / MILLIMETRE, RodVerdict.NOT_GIVEN)
    if ends.eye is None or ends.thread is None:
        return told
    least, longest = least_thread(ends.pitch), length - 2 * ends.eye
    spare = ends.thread - least
    if spare < 0:
        return _with(told, RodVerdict.THREAD_TOO_SHORT)
    if longest <= 0:  # the rod is shorter than its two ends
        return _with(told, RodVerdict.TUBE_TOO_LONG)
    cut = longest - 2 * min(SPARE_TURNS * ends.pitch, spare / 2)
    tubes = {"tube_shortest_mm": max(longest - 2 * spare, 0.0) / MILLIMETRE, "tube_longest_mm": longest / MILLIMETRE,
             "tube_to_cut_mm": max(cut, 0.0) / MILLIMETRE}  # fmt: skip
    if ends.tube is None:
        return _with(told, RodVerdict.NOT_GIVEN, **tubes)
    halves = floor(HALF_TURNS * (longest - ends.tube) / ends.pitch + 0.5)
    if halves < 0:
        return _with(told, RodVerdict.TUBE_TOO_LONG, **tubes)
    one, other = (halves + 1) // 2 / HALF_TURNS, halves // 2 / HALF_TURNS
    inside = ends.thread - one * ends.pitch
    if inside < least - ROUND_OFF:
        return _with(told, RodVerdict.TUBE_TOO_SHORT, **tubes)
    return _with(
        told, RodVerdict.FITS, **tubes, turns_one_end=one, turns_other_end=other, thread_inside_mm=inside / MILLIMETRE,
        length_by_turns_mm=(ends.tube + 2 * ends.eye + (one + other) * ends.pitch) / MILLIMETRE,
    )  # fmt: skip


def _with(told: RodToSet, verdict: RodVerdict, **figures: float) -> RodToSet:
    return RodToSet(told.name, told.length_mm, verdict, **figures)
