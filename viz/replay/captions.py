"""One sentence a picture that says cause and cost together.

The cost is the power that the stored forces made, held against the reference at the same place of the course; what the axle lines do
gives it a cause and never a cost.
"""

from math import degrees, isfinite
from typing import NamedTuple

import numpy as np

from sim.car.chassis import WHEELS
from viz.replay.costs import IDEAL, reference_of, slight
from viz.replay.run_data import Instant, Replay
from viz.replay.scene import TURNING, crossing
from viz.shared.axle_lines import MEETING, NARROW, rear_crossing
from viz.shared.words import WHEEL_WORDS

TICK, CROSS, PLAIN = "tick", "cross", ""
LIFTED = 1.0  # [N] below which a wheel carries nothing
LIGHTER = 0.03  # share by which the lightest wheel of a turntable carries less than the reference's, from which it is told
SOFT = 10.0  # [1/rad] stiffness of a tyre that is called soft: low in the range of small tyres (8.6 to 20).  A judgement.
LITTLE = 5.0  # times what tells nothing: what tyres take below it, with whatever steering, is hardly anything.  A judgement.


class Caption(NamedTuple):
    """words : the sentence; mark : TICK where the wheels agree or nothing is paid, CROSS where they cost, PLAIN else."""

    words: str
    mark: str


def watts(power: float) -> str:
    """A power in words.  power : [W]."""
    size = abs(power)
    return f"{power:.1f}{NARROW}W" if size < 9.95 else f"{power:.0f}{NARROW}W"


def joule_words(work: float) -> str:
    """A work in words.  work : [J]."""
    return f"{work:.1f}{NARROW}J" if abs(work) < 9.95 else f"{work:.0f}{NARROW}J"


def reference_name(replay: Replay) -> str:
    """How the reference is called in a sentence."""
    index = reference_of(replay)
    return IDEAL if replay.scenario.setup[index].linkage == IDEAL else "the best one"


def beside(replay: Replay, now: Instant) -> Instant:
    """The reference at the same place of the course.  now : of another set-up."""
    drive = replay.drives[reference_of(replay)]
    return drive.at(drive.row_at(drive.station, now.station))


def payer(now: Instant, other: Instant) -> int:
    """Index of the wheel that pays most above the other car's.  now, other : Instants."""
    return int(np.argmax(now.power - other.power))


def caption(replay: Replay, index: int, row: float) -> Caption:
    """What a set-up does at this moment and what that costs.

    replay : Replay; index : of the set-up; row : at which it stands
    """
    drive, now = replay.drives[index], replay.drives[index].at(row)
    if drive.reason and row >= len(drive.time) - 1.5:
        return Caption(drive.reason[0].upper() + drive.reason[1:], CROSS)
    own = float(now.power.sum())
    if replay.single_track:
        return Caption(f"one wheel an axle, so none can disagree: {watts(own)}", PLAIN)
    other, least = beside(replay, now), slight(replay)
    extra = own - float(other.power.sum())
    cost, costs = f"{watts(abs(extra))} {'more' if extra > 0 else 'less'} than {reference_name(replay)}", abs(extra) > least
    lifted = np.flatnonzero(now.load < LIFTED)
    if len(lifted):
        wheel = WHEEL_WORDS[WHEELS[lifted[0]]]
        return Caption(f"{wheel} wheel is off the ground, three carry the car: {cost if costs else watts(own)}", CROSS)
    found, toe = crossing(now), replay.scenario.setup[index].toe_in
    if found is None:
        return _straight(now, own, extra, cost, least, toe)
    if extra > least:
        return _paid(replay, index, now, cost, toe)
    if drive.turntable and isfinite(now.load.min()) and now.load.min() < (1 - LIGHTER) * other.load.min():
        share = 100 * (1 - now.load.min() / other.load.min())
        words = f"turntable: no watt more, but its support shrinks: the lightest wheel carries {share:.0f}{NARROW}% less"
        return Caption(words, TICK)
    if found.miss >= MEETING:
        return Caption(f"wheels disagree, yet {cost}" if costs else "wheels disagree, but it costs nothing here", TICK)
    if own > LITTLE * least:
        soft = "soft tyres" if replay.scenario.car.tyre.cornering_stiffness_per_rad < SOFT else "tyres"
        slip = degrees(float(np.abs(now.slip).max()))
        return Caption(f"wheels agree; {soft} give way {slip:.1f}° to hold the bend: {watts(own)}", TICK)
    return Caption(f"wheels agree: hardly anything rubs, {watts(own)}", TICK)


def _straight(now: Instant, own: float, extra: float, cost: str, least: float, toe: float) -> Caption:
    """While the wheels stand nearly straight."""
    left, right = now.slip[:2].tolist()
    if extra > least and toe != 0 and left * right < 0:  # the trace's own slips: each front tyre pushes against the other
        return Caption(f"toe: front wheels scrub even straight ahead, {watts(extra)} more", CROSS)
    if extra > least:
        return Caption(f"wheels nearly straight, and already {cost}", CROSS)
    if own <= LITTLE * least:
        return Caption(f"nearly straight: hardly anything rubs, {watts(own)}", PLAIN)
    return Caption(f"nearly straight: tyres take {watts(own)}, as with any steering", PLAIN)


def _paid(replay: Replay, index: int, now: Instant, cost: str, toe: float) -> Caption:
    """Why a turning car pays more than the reference."""
    found, drive = crossing(now), replay.drives[index]
    if found is not None and toe != 0 and _without_toe(now, toe) < found.miss / 2:
        return Caption(f"toe: the front wheels fight, {cost}", CROSS)
    if found is not None and found.miss >= MEETING:
        return Caption(f"wheels disagree: {cost}", CROSS)
    return Caption(f"{'turntable: ' if drive.turntable else ''}wheels agree, yet {cost}", CROSS)


def _without_toe(now: Instant, toe: float) -> float:
    """By how much the axle lines would miss if toe were taken out again [m]; toe turns the leading edges inwards [rad]."""
    behind = now.wheel_x[:2] - now.wheel_x[2]
    left, right = float(now.steer[0] + toe), float(now.steer[1] - toe)
    if min(abs(left), abs(right)) < 0.1 * TURNING or left * right < 0:
        return float("inf")
    return abs(rear_crossing(now.wheel_y[0], behind[0], left) - rear_crossing(now.wheel_y[1], behind[1], right))
