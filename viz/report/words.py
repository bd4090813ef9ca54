"""What a run's page says in sentences beside those that the terminal says too."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import degrees

import numpy as np

from sim.car.chassis import WHEELS
from sim.judgements import SAME_SHARE, TELL_APART
from sim.lap.ladder import Model
from sim.steering.angles import angle_rows
from sim.steering.arrangement import Steering, ideal_setup
from sim.study.compare import Comparison, SetupResult
from sim.study.doubts import run_doubts
from sim.study.ready import make_entry
from viz.manual.pages import read_page
from viz.report.data import row_at
from viz.run.brief import worth_searching
from viz.run.report import (
    MOSTLY_TOE,
    UNSURE,
    compared,
    found_and_worth,
    joules,
    law_lines,
    ledger_line,
    race_lines,
    shown_cost,
    warning_lines,
    with_dangers,
    worth_lines,
)  # fmt: skip
from viz.shared.axle_lines import MEETING, apart_words, are_parallel, rear_crossing
from viz.shared.bends import Spent, course_bends, telling_bend, telling_place
from viz.shared.checks import CAUTIONS
from viz.shared.dangers import TURNTABLE, stop_line
from viz.shared.doubts import doubt_lines
from viz.shared.rounding import shown, shown_sum, tenths
from viz.shared.telling import running_sum
from viz.shared.words import PRESSURE_FIRST, WHEEL_WORDS, listed

SAFETY = (
    "This page says nothing about a car being safe. A set-up that does well here can still pinch fingers, come loose or tip over. Before "
    "anybody drives, a competent adult checks steering, brakes and battery, and your event's rules are kept."
)
LEFT_OUT = "What is left out"  # the section of the manual that a page quotes
STRAIGHT = 1 / 200  # [1/m] a course that bends less is called a straight
TURNED = np.radians(1.0)  # a front wheel that stands nearer to straight ahead crosses the rear axle's line too far away to tell
LEAST_COST = 0.05  # [J] less is not shown by the digits that are told
FARTHEST = 7.5  # [m] left or right of the car's middle, where its picture ends at the latest
MISS_DRAWN = 0.15  # [m] a miss that is marked in the picture
MOST_ALIKE = 4  # set-ups in one sentence
SEEN_APART = 0.05  # of the larger one: two powers that differ by less are told as alike; a judgement


@dataclass(frozen=True)
class Side:
    """One set-up of the pair at the telling place; wheels (4,) in the order of `chassis.WHEELS`.

    result, steering : the set-up
    hand, steer : its hand angle, its wheels' angles, left positive [rad]; slip : slip angles [rad]
    power : lost by each wheel, in the tenths in which all parts of the page show it [W]
    contact : (2, 2) front contact points ahead of the front axle and left of the middle [m]
    error : the inner wheel's angle less the ideal one for the outer wheel's angle [rad]; None on a rung without a width
    crossings : where both front axle lines cross the rear axle's line, left of the middle [m]; None while the wheels stand nearly straight
    speed : of the car [m/s]
    """

    result: SetupResult
    steering: Steering
    hand: float
    steer: np.ndarray
    slip: np.ndarray
    power: np.ndarray
    contact: np.ndarray
    error: float | None
    crossings: tuple[float, float] | None
    speed: float

    @property
    def name(self) -> str:
        """The set-up's name."""
        return self.result.name

    @property
    def total(self) -> float:
        """Power that all its wheels lose, as whoever adds up the page's figures finds it [W]."""
        return shown_sum(self.power)


@dataclass(frozen=True)
class Pair:
    """Two set-ups at the place of the course that tells them apart.

    station : of the place [m]; curvature : of the course there, left positive [1/m]; better, worse : by drive work of the whole run
    """

    station: float
    curvature: float
    better: Side
    worse: Side

    @property
    def bends(self) -> bool:
        """Whether the place lies in a bend."""
        return abs(self.curvature) >= STRAIGHT


def pair_of(comparison: Comparison, steerings: Sequence[Steering]) -> Pair | None:
    """The set-ups that the finding compares where they differ most; one that gets round alone stands beside ideal steering.

    comparison : the run; steerings : of its set-ups, in their order
    Returns None where nothing got round.
    """
    scenario = comparison.scenario
    by_name = [(one, steering) for one, steering in zip(comparison.results, steerings, strict=True)]
    found = compared(comparison)
    done = [pair for pair in by_name if pair[0].finished]
    if found is not None:
        chosen = [next(pair for pair in by_name if pair[0] is one) for one in found]
        if chosen[0] is chosen[1]:  # nobody could tell them apart
            chosen = done[:2]
    elif done and comparison.reference.finished:
        chosen = [(comparison.reference, make_entry(ideal_setup(), scenario, "reference", "setup").steering), done[0]]
    else:
        return None
    station, course = shown_place(comparison, chosen[0][0], chosen[1][0]), comparison.course
    better, worse = (_side(one, steering, station, comparison) for one, steering in chosen)
    return Pair(station, float(np.interp(station, course.station, course.curvature)), better, worse)


def shown_place(comparison: Comparison, better: SetupResult, worse: SetupResult) -> float:
    """The place of the course at which two set-ups are shown, in the bend that they differ most in by joules: place 1 of `watch` [m].

    comparison : the run; better, worse : the two, which got round
    """
    bends = course_bends(comparison.course, [(one.station, one.power) for one in map(_spent, comparison.results)])
    most, less = _spent(worse), _spent(better)
    return telling_place(telling_bend(bends, most, less), most, less)


def _spent(one: SetupResult) -> Spent:
    """What a set-up's tyres lose along the course."""
    trace, power = one.trace, np.nan_to_num(one.trace.slip_loss).sum(axis=1)
    total = one.ledger.scrub if one.ledger is not None else float("nan")
    return Spent(trace.station - trace.station[0], power, running_sum(power, trace.time, total))


def _side(one: SetupResult, steering: Steering, station: float, comparison: Comparison) -> Side:
    trace, car = one.trace, comparison.scenario.car
    row = row_at(trace, station)
    hand = float(np.clip(trace.hand[row], steering.lock_right, steering.lock_left))
    narrow = "bicycle" in comparison.rung.label
    stand = steering.front_wheels(np.array([hand]))
    contact = np.zeros((2, 2)) if narrow else np.column_stack([stand.x[0], stand.y[0]])
    steer = trace.steer[row]
    crossings = None
    if not narrow and np.abs(steer[:2]).min() > TURNED and steer[0] * steer[1] > 0:
        left, right = (rear_crossing(contact[i, 1], contact[i, 0] + car.wheelbase, steer[i]) for i in (0, 1))
        crossings = left, right
    error = None if narrow else float(angle_rows(steering, car, np.array([hand])).error[0])
    power = np.array([shown(value) for value in np.nan_to_num(trace.slip_loss[row])])
    return Side(one, steering, hand, steer, np.arctan(trace.slip[row]), power, contact, error, crossings,
                float(trace.speed[row]))  # fmt: skip


def place_words(pair: Pair) -> str:
    """Where the telling place is."""
    radius = 1 / abs(pair.curvature) if pair.curvature else float("inf")
    way = "On a straight" if not pair.bends else f"In the {'left' if pair.curvature > 0 else 'right'} bend"
    size = "" if not pair.bends else f", where its radius is {radius:.{1 if radius < 20 else 0}f} m"
    return f"{way}, {pair.station:.0f} m after the start{size}"


def place_chosen_words(pair: Pair, comparison: Comparison) -> str:
    """Why that place is shown, and where `watch` has it.  pair : Pair; comparison : the run."""
    bend = "the bend in which these two differ by most joules, at " if pair.bends else ""
    text = f"It is {bend}the place where their watts lie furthest apart"
    return f"{text}." if pair.better.result is comparison.reference else f"{text}; `scrubwise watch` has it as place 1 of these two."


def seen_apart(pair: Pair) -> bool:
    """Whether the tyres of the two lose so differently that a wheel can be named for it.  pair : Pair."""
    totals = pair.better.total, pair.worse.total
    return max(totals) - min(totals) > SEEN_APART * max(totals)


def pair_lines(pair: Pair) -> list[str]:
    """What the pair shows: how much each loses, at which wheel, and why."""
    better, worse = pair.better, pair.worse
    first, second = (better, worse) if better.total <= worse.total else (worse, better)
    lines = [
        f'{place_words(pair)}, at {3.6 * second.speed:.0f} km/h, the tyres of "{second.name}" lose {_watts(second.total)}, those of '
        f'"{first.name}" {_watts(first.total)}.'
    ]
    if seen_apart(pair):
        more = second.power - first.power
        wheel = int(np.argmax(more))
        lines[0] += (
            f" Most of the difference is at the {WHEEL_WORDS[WHEELS[wheel]]} wheel: {_watts(float(second.power[wheel]))} against "
            f"{_watts(float(first.power[wheel]))}."
        )
    told = [all_along(one.result) or (error_words(one) if pair.bends else toe_words(one)) for one in (second, first)]
    return lines + [line for line in told if line]


def error_words(side: Side) -> str:
    """How the front wheels of a set-up stand to each other at the telling place; empty on a rung without a width."""
    if side.error is None:
        return ""
    error = degrees(side.error)
    turns_left = float(side.steer[:2].sum()) >= 0
    # Turned too far means: further to the inside of the bend than ideal.
    much = error if turns_left else -error
    if abs(error) < 0.05:
        stands = "its inner front wheel stands as ideal steering would have it"
    else:
        stands = f"its inner front wheel turns {abs(error):.1f} degrees too {'far' if much > 0 else 'little'}{_against(side, much)}"
    line = f'"{side.name}": {stands}'
    if side.crossings is not None:
        miss = abs(side.crossings[0] - side.crossings[1])
        line += (
            "; both front axle lines meet in one point on the rear axle's line, about which all wheels can roll"
            if miss < MEETING else f"; {_apart(side, miss)}; so the tyres must slip to go round"
        )  # fmt: skip
    return f"{line}."


def _against(side: Side, much: float) -> str:
    """Which error that is: against ideal steering with the same outer wheel, at this place; empty where the wheels turn apart.

    much : by how much it is turned too far [deg]
    """
    left, right = side.steer[:2]
    if left * right <= 0:
        return " for its outer wheel"
    inner = degrees(abs(left if left + right >= 0 else right))
    outer = degrees(abs(right if left + right >= 0 else left))
    wanted = shown(shown(inner) - shown(much))
    return f" for its outer wheel (with that at {outer:.1f} degrees ideal steering has the inner one at {wanted:.1f}, not {inner:.1f})"


def _apart(side: Side, miss: float) -> str:
    """How far apart both front axle lines cross the rear axle's line.  miss : that length [m]."""
    kingpins = float(side.steering.kingpin_y[0] - side.steering.kingpin_y[1])
    return apart_words(miss, are_parallel(side.steer[0], side.steer[1]), kingpins)


def toe_words(side: Side) -> str:
    """How far the front wheels of a set-up are from standing parallel on a straight."""
    apart = degrees(float(side.steer[1] - side.steer[0]))
    if abs(apart) < 0.05:
        return f'"{side.name}": its front wheels stand parallel, as a straight asks for.'
    way = "towards" if apart > 0 else "away from"
    toe = "toe-in" if apart > 0 else "toe-out"
    return (
        f'"{side.name}": its front wheels point {abs(apart):.1f} degrees {way} each other ({0.5 * abs(apart):.1f} degrees of {toe} on each '
        "wheel), so each drags the other sideways."
    )


def all_along(one: SetupResult) -> str:
    """That its front wheels' toe is what costs, on straights too; empty where it is not.  one : the set-up that needs most."""
    if not one.toe_cost > max(MOSTLY_TOE * one.geometry_cost, LEAST_COST):
        return ""
    return (
        f'"{one.name}": its front wheels do not point the same way, so each drags the other sideways all the way, on straights too. '
        f"Nearly all that it costs is this toe ({joules(one.toe_cost)} J), not the bends, and not its arms."
    )


def crossings_of(pair: Pair) -> list[tuple[float, float]]:
    """Where the lines of both front axles cross that of the rear axle, of the cars where they do [m].  pair : of the page."""
    return [side.crossings for side in (pair.better, pair.worse) if side.crossings is not None]


def drawn_crossings(pair: Pair) -> list[tuple[float, float]]:
    """Those of `crossings_of` that lie in the picture [m].  pair : of the page."""
    return [both for both in crossings_of(pair) if min(map(abs, both)) < FARTHEST]


def legend_words(pair: Pair) -> str:
    """What the picture of the pair shows: only what is drawn in it."""
    text = "Seen from above, driving up the page. Beside each wheel stands the power that its tyre loses; dark wheels lose more."
    if not crossings_of(pair):
        return text
    drawn = drawn_crossings(pair)
    if not drawn:
        return f"{text} Each blue line runs along the axle of a front wheel; they meet the rear axle's broken line beyond the picture."
    text += " Each blue line runs along the axle of a front wheel to the broken line, which runs on from the rear axle."
    misses = [abs(left - right) for left, right in drawn]
    if min(misses) < MEETING:
        text += " At the blue dot both meet it: all wheels can roll about that point."
    if max(misses) > MISS_DRAWN:
        text += " The orange bar shows how far apart they meet it: there the wheels cannot all roll."
    return text


def _watts(power: float) -> str:
    return f"{tenths(power)} W"


def finding_line(comparison: Comparison) -> str:
    """The finding in one sentence, as the terminal has it."""
    return found_and_worth(comparison)[0]


def to_do_lines(comparison: Comparison) -> list[str]:
    """What to do about it: whether a change is worth it, which set-up to build, where to look for a better one."""
    found = compared(comparison)
    if not any(one.finished for one in comparison.results):
        return ["Change what the reasons below name, then run it again."]
    lines = [found_and_worth(comparison)[1]]
    kinds = [setup.kind for setup in comparison.scenario.setup]
    # What can be built and set; a turntable axle is not recommended by its joules, for it tips and kicks.
    real = [one for one, kind in zip(comparison.results, kinds, strict=True) if one.finished and kind.rods]
    if found is not None and _work(found[1]) - _work(found[0]) < SAME_SHARE * _work(found[0]):
        lines.append(f"Take the one that is easiest to build, to set and to keep safe. {PRESSURE_FIRST}")
    elif found is not None and real:
        least = min(map(_work, real))
        alike = [one.name for one in real if _work(one) <= least * (1 + TELL_APART)]
        if len(alike) == 1:
            lines.append(f'Of the steerings here that are made of arms and rods, "{alike[0]}" needs least.')
        else:
            few = listed([f'"{name}"' for name in alike])
            names = few if len(alike) <= MOST_ALIKE else f"{len(alike)} of the steerings here that are made of arms and rods"
            lines.append(
                f"{names} lie within {100 * TELL_APART:g} %, which the model cannot tell apart: keep yours, or take the easiest to build "
                "and to set."
            )
    advice = worth_searching(comparison).removeprefix("; ")
    if advice:
        lines.append(f"{advice[0].upper()}{advice[1:]}." if not advice.startswith("`") else f"{advice}.")
    return [line for line in lines if line]


def _work(one: SetupResult) -> float:
    return one.ledger.drive_work if one.ledger else float("inf")


def sure_lines(comparison: Comparison) -> list[str]:
    """How sure the figures are: the run's own words, and what would tell more."""
    lines = [UNSURE, *law_lines(comparison), ledger_line(comparison)]
    if comparison.rung != Model.SLIPPING_FOUR_WHEELS:
        lines.append(f"The model is a simpler rung of the ladder, the {comparison.rung.label}: it leaves out more than is listed below.")
    if compared(comparison) is not None:
        # Without ranges of its own a scenario has nothing unsure to drive but what the literature says.
        ranges = "" if comparison.scenario.uncertainty else " --literature"
        command = f"`scrubwise spread scenario.toml{ranges}`"
        lines.append(f"{command} drives the unsure numbers up and down and says whether set-ups can be told apart.")
    return lines


def worth_words(comparison: Comparison) -> list[str]:
    """What the dearest geometry is worth in everyday terms, and how far a charge goes."""
    electric = any(one.ledger and one.ledger.electric for one in comparison.results)
    return [*worth_lines(comparison), *(race_lines(comparison) if electric else [])]


def left_out() -> list[str]:
    """What the model leaves out, as the manual's page on trust lists it."""
    section = read_page("trust").text.partition(f"## {LEFT_OUT}\n")[2].partition("\n## ")[0]
    return [" ".join(item.split()) for item in re.findall(r"^- (.+(?:\n  .+)*)", section, re.M)]


def caution_lines(comparison: Comparison) -> list[str]:
    """Cautions: of this run first, then those for everybody."""
    turntables = any(setup.kind.axle for setup in comparison.scenario.setup)
    doubts = doubt_lines(run_doubts(comparison.scenario), every=True)
    stops = [stop_line(dangers, f'"{name}"') for name, dangers in with_dangers(comparison)]
    return [*doubts, *filter(None, stops), *warning_lines(comparison), *([TURNTABLE] if turntables else []), *CAUTIONS]


def excess_words(one: SetupResult, comparison: Comparison) -> str:
    """What a set-up needs beyond ideal steering, with its share; empty where that is not known."""
    ideal = comparison.reference.ledger
    if one.geometry_cost != one.geometry_cost or ideal is None:
        return ""
    if not shown_cost(one, comparison):
        return "as much as ideal steering"
    share = f" ({100 * one.geometry_cost / ideal.drive_work:+z.1f} %)" if ideal.drive_work > 0 else ""
    return f"{shown_cost(one, comparison):+z.1f} J{share} against ideal steering"


def work_words(one: SetupResult) -> str:
    """The drive work of a set-up in the tenths in which its cost is told, or that it did not finish."""
    return f"{tenths(one.ledger.drive_work)} J" if one.ledger else "no figures" if one.reason.startswith("weaves") else "did not finish"
