"""The story that a replay opens with: the bend where two set-ups differ most in cost, told in six short scenes."""

from dataclasses import dataclass
from math import isfinite
from typing import NamedTuple

import numpy as np

from sim.judgements import TELL_APART
from viz.replay.captions import joule_words, reference_name
from viz.replay.costs import Bend, bends_of, joules, reference_of, telling_bend
from viz.replay.run_data import Drive, Replay
from viz.shared.axle_lines import NARROW

LEAD_IN, LEAD_OUT = 1.5, 1.0  # [s] driven before the telling bend and after it
LONGEST_STRETCH = 16.0  # [s] of driving that is looped; of a longer bend the part around its telling place is
DRAGGED = 0.2  # of the driven speed, at which the tyre that pays is dragged
APPEAR, MEET, DRAG, COST, FINDING = 3.0, 4.0, 6.0, 5.0, 7.0  # [s] that the scenes last, beside the approach
APPROACH = 5.0  # [s] at most, in which the car comes to the telling place however far that is


class Scene(NamedTuple):
    """One scene.

    name : of the scene; seconds : that it lasts; begin, end : clock of the lead at its ends, equal where all stands still [s]
    words : said over the pictures; lines : whether axle lines are seen; pays : whether the tyre that pays is ringed
    """

    name: str
    seconds: float
    begin: float
    end: float
    words: str
    lines: bool = True
    pays: bool = False


@dataclass(frozen=True)
class Story:
    """The scenes, the bend that they tell of, and the stretch that is driven again and again after them.

    stretch : clock of the lead at its ends [s]; finding : the sentence of the last scene
    """

    bend: Bend
    scenes: tuple[Scene, ...]
    stretch: tuple[float, float]
    finding: str

    @property
    def seconds(self) -> float:
        """How long all scenes last [s]."""
        return sum(one.seconds for one in self.scenes)

    def scene_at(self, told: float) -> tuple[int, float]:
        """The scene at a moment, and the share of it that has passed; after the last one (len(scenes), 0).

        told : since the beginning [s]
        """
        for index, one in enumerate(self.scenes):
            if told < one.seconds:
                return index, max(told, 0.0) / one.seconds
            told -= one.seconds
        return len(self.scenes), 0.0

    def begins(self, index: int) -> float:
        """When a scene begins, since the beginning of the story [s].  index : of the scene, or their number for the end."""
        return sum(one.seconds for one in self.scenes[:index])

    def clock_at(self, told: float) -> float:
        """Where the lead stands [s]; after the scenes the stretch is driven again and again.  told : since the beginning [s]."""
        index, share = self.scene_at(told)
        if index == len(self.scenes):
            begin, end = self.stretch
            return begin + (told - self.seconds) % max(end - begin, 1e-6)
        one = self.scenes[index]
        return one.begin + share * (one.end - one.begin)


def story_of(replay: Replay, pair: list[int], lead: Drive) -> Story:
    """The story of one or two set-ups.

    replay : Replay; pair : their indices; lead : whose time is the clock
    """
    bend = telling_bend(replay, pair)
    into, out = (float(one) for one in np.interp([bend.begin, bend.end], lead.station, lead.time))
    place = _telling_place(replay, pair, bend)
    middle = min(float(np.interp(place, lead.station, lead.time)), out)
    if out - into > LONGEST_STRETCH:
        into, out = max(into, middle - LONGEST_STRETCH / 2), min(out, middle + LONGEST_STRETCH / 2)
    begin, end = max(0.0, into - LEAD_IN), min(float(lead.time[-1]), out + LEAD_OUT)
    drag = DRAGGED * DRAG / 2
    first, last = max(begin, middle - drag), min(end, middle + drag)
    approach = min(max(middle - begin, 1.0), APPROACH)
    finding = finding_of(replay, pair)
    return Story(bend, (
        Scene("approach", approach, begin, middle, _where(replay, pair, bend), lines=False),
        Scene("lines appear", APPEAR, middle, middle, "A car rolls freely only if the lines of all its axles meet in one point."),
        Scene("meet or miss", MEET, middle, middle, _meeting(pair)),
        Scene("dragged", DRAG, first, last, "At a fifth of the speed: the ringed tyre pays most.", pays=True),
        Scene("cost so far", COST, out, out, _cost(replay, pair, bend)),
        Scene("finding", FINDING, middle, middle, finding),
    ), (begin, end), finding)  # fmt: skip


def _telling_place(replay: Replay, pair: list[int], bend: Bend) -> float:
    """Where in a bend two powers lie furthest apart; of one alone, where it rubs most [m]."""
    one = replay.drives[pair[-1]]
    inside = (one.station >= bend.begin) & (one.station <= bend.end)
    if not inside.any():
        return float(one.station[-1])
    power = one.total[inside]
    if len(pair) > 1:
        other = replay.drives[pair[0]]
        power = np.abs(power - np.interp(one.station[inside], other.station, other.total))
    return float(one.station[inside][int(np.argmax(power))])


def _where(replay: Replay, pair: list[int], bend: Bend) -> str:
    does = "here these two differ most" if len(pair) > 1 else "here its tyres lose most"
    if bend.number == 0:
        return f"No bend on this course: {does}."
    side = "left" if bend.turns_left else "right"
    return f"Bend {bend.number}, to the {side}, {bend.radius:.1f}{NARROW}m radius: {does}."


def _meeting(pair: list[int]) -> str:
    if len(pair) == 1:
        return "Do the lines of the front wheels meet on that of the rear axle? If not, the wheels disagree."
    return "Tick: agreed. Cross: not agreed. What it costs is in the watts."


def _cost(replay: Replay, pair: list[int], bend: Bend) -> str:
    upto = min(float(replay.drives[i].station[-1]) for i in pair)
    ends = min(bend.begin, upto), min(bend.end, upto)
    told = [f'"{replay.drives[i].name}" {joule_words(joules(replay.drives[i], *ends))}' for i in pair]
    return f"Rubbed away in {'this bend' if bend.number else 'this stretch'}: {', '.join(told)}."


def finding_of(replay: Replay, pair: list[int]) -> str:
    """What it comes to over the whole lap, in one sentence that also says where it hardly matters.

    replay : Replay; pair : one or two indices
    """
    reference = reference_of(replay)
    index, against = pair[-1], pair[0] if len(pair) > 1 else reference
    one, other = replay.drives[index], replay.drives[against]
    if one.reason:
        return f'"{one.name}" does not get round: {one.reason}.'
    if other.reason:
        return f'"{other.name}" does not get round: {other.reason}.'
    if one is other:
        return f'"{one.name}": its tyres rub away {joule_words(float(one.work[-1]))} in a lap; the others are held against it.'
    more = float(one.work[-1] - other.work[-1])
    name = f'"{other.name}"' if len(pair) > 1 else reference_name(replay)
    share = (one.drive_work - other.drive_work) / other.drive_work if other.drive_work else float("nan")
    words = f'In a lap "{one.name}" rubs away {joule_words(abs(more))} {"more" if more >= 0 else "less"} than {name}'
    bends = sum(joules(one, bend.begin, bend.end) - joules(other, bend.begin, bend.end) for bend in bends_of(replay) if bend.number)
    if more > 0 and bends < more / 2:
        words += ", most of it outside the bends"
    if not isfinite(share):
        return f"{words}."
    percent = f"{100 * abs(share):.{0 if abs(share) >= 0.1 else 1 if abs(share) >= TELL_APART else 2}f}{NARROW}%"
    if abs(share) < TELL_APART:
        return f"{words}. Here it hardly matters: {percent} of the drive work."
    return f"{words}. It needs {percent} {'more' if share > 0 else 'less'} drive work."
