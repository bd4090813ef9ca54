"""The story that a replay opens with: the bend where two set-ups differ most in cost, told in six short scenes."""

from dataclasses import dataclass
from math import isfinite
from typing import NamedTuple

import numpy as np

from sim.judgements import TELL_APART
from viz.replay.captions import joule_words, reference_name
from viz.replay.costs import joules, more_in_bends, reference_of, share_more, story_bend, story_place
from viz.replay.run_data import Drive, Replay
from viz.shared.axle_lines import NARROW
from viz.shared.bends import Bend
from viz.shared.words import share_words

LEAD_IN = 1.5  # [s] driven before the telling bend; what is told ends with it
LONGEST_STRETCH = 16.0  # [s] of driving that is looped; of a longer bend the part around its telling place is
DRAGGED = 0.2  # of the driven speed, at which the tyre that pays is dragged
APPEAR, MEET, DRAG, COST, FINDING = 3.0, 4.0, 6.0, 5.0, 7.0  # [s] that the scenes last, beside the approach
ALIKE = 5e-5  # of the drive work, below which two are written alike
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
    bend = story_bend(replay, pair)
    into, out = (float(one) for one in np.interp([bend.begin, bend.end], lead.station, lead.time))
    place = story_place(replay, pair)
    middle = min(float(np.interp(place, lead.station, lead.time)), out)
    if out - into > LONGEST_STRETCH:
        into, out = max(into, middle - LONGEST_STRETCH / 2), min(out, middle + LONGEST_STRETCH / 2)
    begin, end = max(0.0, into - LEAD_IN), out
    drag = DRAGGED * DRAG / 2
    first, last = max(begin, middle - drag), min(end, middle + drag)
    approach = min(max(middle - begin, 1.0), APPROACH)
    finding = finding_of(replay, pair)
    return Story(bend, (
        Scene("approach", approach, begin, middle, _where(replay, pair, bend), lines=False),
        Scene("lines appear", APPEAR, middle, middle, "A car rolls freely only if the lines of all its axles meet in one point."),
        Scene("meet or miss", MEET, middle, middle, _meeting(pair)),
        Scene("dragged", DRAG, first, last, _ringed(replay, pair), pays=True),
        Scene("cost so far", COST, out, out, _cost(replay, pair, bend)),
        Scene("finding", FINDING, middle, middle, finding),
    ), (begin, end), finding)  # fmt: skip


def _where(replay: Replay, pair: list[int], bend: Bend) -> str:
    does = "here these two differ by most joules" if len(pair) > 1 else "here its tyres lose most joules"
    if bend.number == 0:
        return f"No bend on this course: {does}."
    side = "left" if bend.turns_left else "right"
    return f"Place 1, a bend to the {side}, {bend.radius:.1f}{NARROW}m radius: {does}."


def _meeting(pair: list[int]) -> str:
    if len(pair) == 1:
        return "Do the lines of the front wheels meet on that of the rear axle? If not, the wheels disagree."
    return "Cross: it pays more, and that matters. Tick: wheels agree, and it pays no more."


def _ringed(replay: Replay, pair: list[int]) -> str:
    if pair == [reference_of(replay)]:
        return "At a fifth of the speed. Ringed: the tyre that pays most."
    return f"At a fifth of the speed. Ringed: the tyre that pays most above {reference_name(replay, pair)}."


def _cost(replay: Replay, pair: list[int], bend: Bend) -> str:
    upto = min(float(replay.drives[i].station[-1]) for i in pair)
    ends = min(bend.begin, upto), min(bend.end, upto)
    told = [f'"{replay.drives[i].name}" {joule_words(joules(replay.drives[i], *ends))}' for i in pair]
    return f"Rubbed away in {'this bend' if bend.number else 'this stretch'}: {', '.join(told)}."


def finding_of(replay: Replay, pair: list[int]) -> str:
    """What it comes to over the whole drive, and whether that matters.

    replay : Replay; pair : one or two indices
    """
    one, other = _held(replay, pair)
    if one.reason:
        return f'"{one.name}" does not get round: {one.reason}.'
    if other.reason:
        return f'"{other.name}" does not get round: {other.reason}.'
    if one is other:
        rubs = f'"{one.name}": its tyres rub away {joule_words(float(one.work[-1]))}'
        return f"{rubs} {_drive(replay).lower()}; the others are held against it."
    more = float(one.work[-1] - other.work[-1])
    told = verdict_of(replay, pair)
    if not told:
        name = f'"{other.name}"' if len(pair) > 1 else reference_name(replay)
        told = f'{_drive(replay)} "{one.name}" rubs away {joule_words(abs(more))} {"more" if more >= 0 else "less"} than {name}'
    outside = more > 0 and more_in_bends(replay, one, other) < more / 2
    return f"{told}.{' Most of what it rubs away more lies outside the bends.' if outside else ''}"


def verdict_of(replay: Replay, pair: list[int], brief: bool = False) -> str:
    """What the second of two needs more over the whole drive, and whether that matters; the story and the board say the same.

    replay : Replay; pair : one or two indices; brief : without names, where those find no room
    Empty where one of them does not get round, there is nothing to hold it against, or the run tells no drive work.
    """
    one, other = _held(replay, pair)
    share, drive = share_more(one, other), _drive(replay)
    if one is other or one.reason or other.reason or not isfinite(share):
        return ""
    name = f'"{other.name}"' if len(pair) > 1 else reference_name(replay)
    if abs(share) < ALIKE:
        return (
            f"{drive} both need the same drive work" if len(pair) > 1 or brief else f'{drive} "{one.name}" needs the drive work of {name}'
        )
    much = f"{joule_words(abs(one.drive_work - other.drive_work))} ({share_words(abs(share), NARROW)})"
    verdict = "this matters" if abs(share) >= TELL_APART else "hardly matters"
    if brief:
        return f"{drive} they differ by {much}: {verdict}"
    return f'{drive} "{one.name}" needs {much} {"more" if share > 0 else "less"} drive work than {name}: {verdict}'


def _drive(replay: Replay) -> str:
    """What was driven, as `run` calls it."""
    return "In a lap" if replay.course.closed else "From start to finish"


def _held(replay: Replay, pair: list[int]) -> tuple[Drive, Drive]:
    """The drive that is told about, and the one that it is held against."""
    return replay.drives[pair[-1]], replay.drives[pair[0] if len(pair) > 1 else reference_of(replay)]
