"""One sentence a picture that says cause and cost together.

The cost is the power that the stored forces made, held against the reference at the same place of the course; what the axle lines do
gives it a cause and never a cost.  What slipping sideways takes and what driving or braking takes are told apart by their powers.
"""

from collections.abc import Sequence
from functools import lru_cache
from math import degrees, isfinite
from typing import NamedTuple

import numpy as np

from sim.car.chassis import WHEELS
from viz.replay.costs import IDEAL, bend_at, matters, mostly_outside, reference_of, slight
from viz.replay.run_data import Instant, Replay
from viz.replay.scene import TURNING, Crossing, crossing
from viz.shared.axle_lines import MEETING, NARROW, rear_crossing
from viz.shared.rounding import shown_less
from viz.shared.words import WHEEL_WORDS

TICK, CROSS, PLAIN = "tick", "cross", ""
LIFTED = 1.0  # [N] below which a wheel carries nothing
LIGHTER = 0.03  # share by which the lightest wheel of a turntable carries less than the reference's, from which it is told
SOFT = 10.0  # [1/rad] stiffness of a tyre that is called soft: low in the range of small tyres (8.6 to 20).  A judgement.
LITTLE = 2.0  # times what tells nothing: what tyres take below it, with whatever steering, is hardly anything.  A judgement.
HARDLY = 0.02  # of what the tyres rub anyway: two pictures whose watts differ by less look alike.  A judgement.
BOTH = 0.9  # of what the axle lines miss by; where they would miss by less without toe, both toe and arms are at fault.  A judgement.
ALL_BUT = 0.1  # of what the tyres rub; what driving, or what the bend takes below it is not worth a word.  A judgement.


class Caption(NamedTuple):
    """words : the sentence; mark : of `_verdict`."""

    words: str
    mark: str


def _verdict(agree: bool, pays: bool, matters: bool) -> str:
    """The one rule of the marks, which the story says too: a cross pays more than the reference, by enough to matter in the whole drive, or
    is in danger; a tick agrees and pays no more; what disagrees at hardly any cost, and what stands straight, has neither."""
    if pays:
        return CROSS if matters else PLAIN
    return TICK if agree else PLAIN


def _digits(power: float) -> int:
    """Behind the point, as a power is written.  power : [W]."""
    return 1 if abs(power) < 9.95 else 0


def watts(power: float) -> str:
    """A power in words.  power : [W]."""
    return f"{power:.{_digits(power)}f}{NARROW}W"


def _apart(one: float, other: float) -> tuple[float, int]:
    """By how much one power exceeds another, as it is written: that of the two as they are written, where they are alike in that; and its
    digits behind the point.  one, other : [W]."""
    digits = _digits(one)
    written = shown_less(one, other, digits) if digits == _digits(other) else 0.0
    return (written, digits) if written else (one - other, _digits(one - other))


def watts_apart(one: float, other: float) -> str:
    """By how much two powers differ, in words.  one, other : [W]."""
    apart, digits = _apart(one, other)
    return f"{abs(apart):.{digits}f}{NARROW}W"


def joule_words(work: float) -> str:
    """A work in words.  work : [J]."""
    return f"{work:.1f}{NARROW}J" if abs(work) < 9.95 else f"{work:.0f}{NARROW}J"


def reference_name(replay: Replay, shown: Sequence[int] = ()) -> str:
    """How the reference is called in a sentence: ideal, or by its name; and that it is not one of the two pictures, where it is none.

    replay : Replay; shown : indices of the set-ups in the pictures, empty where that does not matter
    """
    index = reference_of(replay)
    ideal = replay.scenario.setup[index].linkage == IDEAL
    if len(shown) > 1 and index not in shown:
        return f"{'ideal steering' if ideal else quoted(replay, index)} (not shown)"
    return IDEAL if ideal else quoted(replay, index)


def quoted(replay: Replay, index: int) -> str:
    """A set-up's name in a sentence."""
    return f'"{replay.drives[index].name}"'


def beside(replay: Replay, now: Instant) -> Instant:
    """The reference at the same place of the course.  now : of another set-up."""
    drive = replay.drives[reference_of(replay)]
    return drive.at(drive.row_at(drive.station, now.station))


def pays_most(replay: Replay, index: int, now: Instant) -> tuple[int, str]:
    """The tyre that the story rings: the one whose slip, sideways and along together, takes most above the reference's here.

    index : of the set-up; now : where it stands.  The banner names the reference.  Of the reference itself, and where nothing is paid above
    it, the one that takes most.
    Returns (its index, what it takes, in words).
    """
    other = beside(replay, now).power
    more = now.power - other
    if not pays(replay, index, now):
        wheel = int(np.argmax(now.power))
        return wheel, f"{WHEEL_WORDS[WHEELS[wheel]]}:\n{watts(float(now.power[wheel]))}, the most"
    wheel = int(np.argmax(more))
    own, extra = float(now.power[wheel]), _apart(float(now.power[wheel]), float(other[wheel]))
    told = f"{WHEEL_WORDS[WHEELS[wheel]]}: {watts(own)},\n{extra[0]:.{extra[1]}f}{NARROW}W more"
    # The caption has the sum of all four: with what the others differ by it can be made.
    whole = _apart(float(now.power.sum()), float(other.sum()))
    digits, rest = max(extra[1], whole[1]), round(whole[0], whole[1]) - round(extra[0], extra[1])
    if abs(rest) > slight(replay):
        told += f",\nothers {abs(rest):.{digits}f}{NARROW}W {'more' if rest > 0 else 'less'}"
    return wheel, told


def pays(replay: Replay, index: int, now: Instant) -> bool:
    """Whether any tyre of a set-up takes more than the reference's here.  index : of the set-up; now : where it stands."""
    return index != reference_of(replay) and float((now.power - beside(replay, now).power).max()) > slight(replay)


class _Moment(NamedTuple):
    """What a caption is made of.

    which : index of the set-up; bend : "left", "right", or "" on a straight
    all_round : whether most of what the whole lap costs above the reference is lost outside the bends
    own, along : power of all tyres, and what of it driving or braking takes; extra, extra_along : both above the reference's [W]
    least : what tells nothing [W]; pays, saves : whether `extra` is worth telling, above or below 0; cost : `extra` in words
    """

    replay: Replay
    which: int
    now: Instant
    found: Crossing | None
    bend: str
    all_round: bool
    own: float
    along: float
    extra: float
    extra_along: float
    least: float
    pays: bool
    saves: bool
    cost: str

    @property
    def toe(self) -> float:
        return self.replay.scenario.setup[self.which].toe_in

    @property
    def turntable(self) -> bool:
        return self.replay.drives[self.which].turntable

    @property
    def driven(self) -> tuple[str, str]:
        """What driving or braking does, in words that can stand before a power, and behind one: the slip's, not the motor's own."""
        braked = self.now.drive_force < 0
        return ("to brake the car", "in slip from braking") if braked else ("to drive the car", "in the driven wheel's slip")


def _moment(replay: Replay, index: int, now: Instant, shown: Sequence[int]) -> _Moment:
    other, least = beside(replay, now), slight(replay)
    own, along = float(now.power.sum()), float((now.power - now.lateral).sum())
    extra = own - float(other.power.sum())
    told, name = abs(extra) > max(least, HARDLY * own), reference_name(replay, shown)
    if told:
        cost = f"{watts_apart(own, float(other.power.sum()))} {'more' if extra > 0 else 'less'} than {name}"
    else:
        cost = "it costs nothing here" if extra < 0.05 else f"it costs hardly anything here: {watts(extra)} of {watts(own)}"
    bend, _ = bend_at(replay, now.station)
    return _Moment(replay, index, now, crossing(now), bend, mostly_outside(replay, index), own, along, extra,
                   along - float((other.power - other.lateral).sum()), least,
                   told and extra > 0, told and extra < 0, cost)  # fmt: skip


def caption(replay: Replay, index: int, row: float, shown: Sequence[int] = ()) -> Caption:
    """What a set-up does at this moment and what that costs.

    replay : Replay; index : of the set-up; row : at which it stands; shown : as for `reference_name`
    """
    return _caption(replay, index, row, tuple(shown))


@lru_cache(maxsize=8)
def _caption(replay: Replay, index: int, row: float, shown: tuple[int, ...]) -> Caption:
    """As `caption`; a picture asks for the same a few times."""
    drive, now = replay.drives[index], replay.drives[index].at(row)
    if drive.reason and row >= len(drive.time) - 1.5:
        return Caption(drive.reason[0].upper() + drive.reason[1:], CROSS)
    if replay.single_track:
        return Caption(f"one wheel an axle, so none can disagree: {watts(float(now.power.sum()))}", PLAIN)
    it = _moment(replay, index, now, shown)
    lifted = np.flatnonzero(now.load < LIFTED)
    if len(lifted):
        wheel = WHEEL_WORDS[WHEELS[lifted[0]]]
        return Caption(f"{wheel} wheel is off the ground, three carry the car: {it.cost if it.pays else watts(it.own)}", CROSS)
    agree = it.found is not None and it.found.miss < MEETING
    return Caption(
        _straight(it) if it.found is None else _paid(it) if it.pays else _unpaid(it), _verdict(agree, it.pays, matters(replay, index))
    )


def _straight(it: _Moment) -> str:
    """While the wheels stand nearly straight."""
    left, right = it.now.slip[:2].tolist()
    where = "wide bend" if it.bend else "nearly straight"
    if it.pays and it.extra_along > it.extra / 2:
        return _pushing(it)
    if it.pays and it.toe != 0 and left * right < 0:  # the trace's own slips: each front tyre pushes against the other
        if it.bend:
            return _fighting(it)
        return f"toe: front wheels scrub even straight ahead, {it.cost}"
    if it.pays:
        return f"wheels nearly straight, and already {it.cost}"
    if it.own <= LITTLE * it.least:
        return f"{where}: hardly anything rubs, {watts(it.own)}"
    return f"{where}: {_taken(it)}, as with any steering"


def _pushing(it: _Moment) -> str:
    """That most of what is paid above the reference is driving's or braking's own."""
    return f"tyres brake harder: {it.cost}" if it.now.drive_force < 0 else f"the driven wheel pushes harder: {it.cost}"


def _fighting(it: _Moment) -> str:
    """That toe costs in a bend, and whether it does so all the way."""
    all_round = "all round the lap" if it.replay.course.closed else "all the way"
    return f"toe: the front wheels fight {all_round}, here {it.cost}" if it.all_round else f"toe: the front wheels fight, {it.cost}"


def _paid(it: _Moment) -> str:
    """Why a turning car pays more than the reference."""
    if it.extra_along > it.extra / 2:
        return _pushing(it)
    if it.toe != 0 and it.found is not None:
        rest = without_toe(it.now, it.toe)
        if rest < it.found.miss / 2:
            return _fighting(it)
        if MEETING <= rest < BOTH * it.found.miss:  # losses grow with the square of a slip, so that no part of them is the one's alone
            return f"toe and arms together: the front wheels fight, {it.cost}"
    if it.found is not None and it.found.miss >= MEETING:
        return f"wheels disagree: {it.cost}"
    return f"{'turntable: ' if it.turntable else ''}wheels agree, yet {it.cost}"


def _unpaid(it: _Moment) -> str:
    """What the tyres of a turning car do that pays no more than the reference."""
    lightest, others = it.now.load.min(), beside(it.replay, it.now).load.min()
    if it.turntable and isfinite(lightest) and lightest < (1 - LIGHTER) * others:
        share = 100 * (1 - lightest / others)
        return f"turntable: no watt more, but its support shrinks: the lightest wheel carries {share:.0f}{NARROW}% less"
    if it.found is not None and it.found.miss >= MEETING:
        return f"wheels disagree, {'yet' if it.saves else 'but'} {it.cost}"
    if it.own > LITTLE * it.least:
        return f"wheels agree; {_taken(it)}"
    return f"wheels agree: hardly anything rubs, {watts(it.own)}"


def _taken(it: _Moment) -> str:
    """What takes the power of all tyres, by the powers of slipping sideways and along."""
    tyres = "soft tyres" if it.replay.scenario.car.tyre.cornering_stiffness_per_rad < SOFT else "tyres"
    turn = "to hold the bend" if it.bend else "to turn the car" if it.found is not None else "sideways"
    if it.along < ALL_BUT * it.own:
        slip = degrees(float(np.abs(it.now.slip).max()))
        return f"{tyres} give way {slip:.1f}° {turn}: {watts(it.own)}"
    if it.along > (1 - ALL_BUT) * it.own:
        return f"{tyres} slip {it.driven[0]}: {watts(it.own)}"
    # The second of the two is what of the shown sum the first leaves.
    digits = 1 if it.own < 9.95 else 0
    first = round(it.own - it.along, digits)
    return f"{first:.{digits}f}{NARROW}W {turn}, {round(it.own, digits) - first:.{digits}f}{NARROW}W {it.driven[1]}"


def without_toe(now: Instant, toe: float) -> float:
    """By how much the axle lines would miss if toe were taken out again [m]; toe turns the leading edges inwards [rad]."""
    behind = now.wheel_x[:2] - now.wheel_x[2]
    left, right = float(now.steer[0] + toe), float(now.steer[1] - toe)
    if min(abs(left), abs(right)) < 0.1 * TURNING or left * right < 0:
        return float("inf")
    return abs(rear_crossing(now.wheel_y[0], behind[0], left) - rear_crossing(now.wheel_y[1], behind[1], right))
