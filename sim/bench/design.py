"""Which readings to take: the few that tell how far to turn each rod and which part is off, chosen before anybody kneels down."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import degrees, radians
from typing import NamedTuple

import numpy as np

from sim.bench.advice import SURE, TOE_NEAR, gradients, within
from sim.bench.as_built import ARM, ROD, WORTH, Built
from sim.bench.fit import covariance_of
from sim.bench.kinds import DIAL, KINDS, place_of, usual_rim
from sim.bench.misfit import Misfit
from sim.bench.readings import made_readings, usual_errors
from sim.errors import InputError

# Standard errors that the plan aims at: of total toe, of the turns that a rod needs and is off, and of an arm's kink.  With these a
# half turn is sure and a rod that is a turn off is named.  Judgement. [rad or turns]
WANTED_TOE, WANTED_TURNS, WANTED_KINK = radians(0.1), 0.2, radians(0.5)
AT_LOCK, HALFWAY = 0.8, 0.4  # shares of the usable lock, clear of the dead centre beyond it, at which pairs are read
BEFORE_MINUTES = 1.0  # tyres pumped, play felt, the hand wheel set to its mark.  Judgement.
FEWEST_GAIN = 1e-3  # share of the loss below which one reading more is not worth a line
NAMED_OFF = 1.0  # turns by which a rod is off in the promise that it will be named


class Budget(NamedTuple):
    """How long a plan may take [min], and whether it asks for the arms too."""

    minutes: float
    arms: bool


# About ten minutes, as in the simulation that chose the quick plan; half an hour is all the floor work that a team is asked for.
PLANS = {"quick": Budget(10.0, False), "full": Budget(30.0, True)}


def plan_named(name: str) -> str:
    """The plan that is meant.

    name : of one of PLANS, or its beginning
    Returns its whole name.  Raises InputError where none or several begin so.
    """
    fitting = [one for one in PLANS if name and one.startswith(name.lower())]
    if len(fitting) != 1:
        raise InputError("--plan", "", f'there is no plan "{name}"', f"choose {' or '.join(PLANS)}")
    return fitting[0]


@dataclass(frozen=True)
class Item:
    """Something to measure once.

    name, doing : in words, and what is done
    places : of its readings in KINDS
    hand : where the hand wheel stands, None where that does not matter [rad]
    minutes : it takes.  Judgement; the first of them are the simulation's
    most : times that it is worth doing, for what is done twice alike errs alike
    least : times that it is done in every plan, for a blunder shows only beside something else
    """

    name: str
    doing: str
    places: tuple[int, ...]
    hand: float | None
    minutes: float
    most: int
    least: int = 0

    @property
    def columns(self) -> tuple[str, ...]:
        """What is written down, and where the hand wheel's angle belongs."""
        return tuple(column.name for place in self.places for column in KINDS[place].columns)


def items_of(plan: Built) -> tuple[Item, ...]:
    """All that can be measured of a set-up, in the order in which it is done.  plan : Built.  Returns Items."""
    places = {column: place_of(column) for column in (
        "string_left_front_mm", "string_right_front_mm", "toe_front_mm", "rod_left_mm", "rod_right_mm", "rod_mm", "threads_left",
        "threads_right", "threads", "drop_arm_deg", "left_deg", "right_deg",
    )}  # fmt: skip
    rods, threads = (("rod_mm",), ("threads",)) if plan.one_rod else (("rod_left_mm", "rod_right_mm"), ("threads_left", "threads_right"))
    which = "the rod" if plan.one_rod else "both rods"
    # Where the hand angle is the left wheel's own there is no mark to set anything to.
    at, there = ("hand wheel set at its mark", "hand wheel") if plan.hand_tells else ("wheels set straight ahead by eye", "left wheel")
    steering = plan.steering
    strings = ("string_left_front_mm", "string_right_front_mm")
    anew = "each wheel turned a quarter, rims read at hub height, front and rear"
    eyes = "middle of one eye to middle of the other, to half a millimetre" + ("" if plan.one_rod else ", in turn")
    counted = "turns out from fully home, both ends of a rod together; six and a quarter is 6.25"
    found = [
        Item("string at both wheels", f"{at} anew, {anew}", tuple(places[one] for one in strings), 0.0, 1.0, 8, least=2),
        Item("tape between the rims", "front and rear, at hub height", (places["toe_front_mm"],), 0.0, 1.0, 4, least=1),
        Item(which, eyes, tuple(places[one] for one in rods), None, 0.4 * len(rods), 6, least=2),
        Item("threads", counted, tuple(places[one] for one in threads), None, 0.5, 1),
    ]
    if KINDS[places["drop_arm_deg"]].fits(plan):
        plumb = "degrees beside a plumb line, hand wheel at its mark; above 0 the way a left turn swings it"
        found.append(Item("drop arm", plumb, (places["drop_arm_deg"],), 0.0, 0.2, 3, least=1))
    wheels = places["left_deg"], places["right_deg"]
    dial = (DIAL,) if plan.hand_tells else ()
    for share, most in ((AT_LOCK, 6), (HALFWAY, 6), (0.0, 10)):
        for turn, lock in (("left", steering.lock_left), ("right", steering.lock_right)) if share else (("", 0.0),):
            hand = share * lock
            where = f"{abs(degrees(hand)):.0f} deg {turn}" if turn else "straight"
            found.append(Item(f"wheel angles, {where}", f"{there} there, both wheels on their protractors", (*wheels, *dial), hand, 0.4,
                              most, least=int(share == AT_LOCK)))  # fmt: skip
    return tuple(found)


@dataclass(frozen=True, eq=False)
class Questions:
    """What readings are for, on straight lines about a car.

    plan : Built
    errors : (p,) of the car about which the lines are drawn [turns, rad or m]
    arms : whether the arms are asked for too
    slopes : of toe and turns needed, as `gradients` gives them there [rad or turns, per turn, rad or m]
    """

    plan: Built
    errors: np.ndarray
    arms: bool
    slopes: tuple[np.ndarray, np.ndarray]

    def places(self, kind: str) -> list[int]:
        """Places of the errors of a kind.  kind : a word of `sim.bench.as_built`.  Returns them [-]."""
        return [place for place, one in enumerate(self.plan.unknowns) if one.kind == kind and one.spread > 0]

    @cached_property
    def targets(self) -> np.ndarray:
        """(t, p) what is asked for, over the standard error that is wanted [per turn, rad or m]."""
        toe, needed = self.slopes
        unit = np.eye(len(toe))
        rows = [2 * toe[None] / WANTED_TOE, needed / WANTED_TURNS, unit[self.places(ROD)] / WANTED_TURNS]
        return np.concatenate([*rows, unit[self.places(ARM)] / WANTED_KINK] if self.arms else rows)

    def loss(self, covariance: np.ndarray) -> float:
        """How unsure the answers are: mean square of their standard errors over the wanted ones.

        covariance : (p, p) of the errors [turns, rad or m, squared]
        Returns it [-].  Source: criterion A of optimal design (any text on it), weighed by what is wanted.
        """
        return float(np.einsum("tp,pq,tq->", self.targets, covariance, self.targets)) / len(self.targets)


def information(plan: Built, item: Item, errors: np.ndarray, rim: float) -> np.ndarray:
    """What one taking of an item tells.

    plan : Built; item : Item
    errors : (p,) of the car at which it is taken [turns, rad or m]; rim : distance between the places on a rim [m]
    Returns (p, p), to be added up [per turn, rad or m, squared].  Source: linear theory of errors.
    """
    bench_hand = np.array([0.0 if item.hand is None else item.hand])
    blank = made_readings(np.full((1, len(KINDS)), np.nan), usual_errors(rim))
    shown = Misfit(plan, blank).shown_by(plan.built(errors), errors, bench_hand)
    value = np.full((1, len(KINDS)), np.nan)
    value[0, list(item.places)] = shown[0, list(item.places)]
    bench = Misfit(plan, made_readings(value, usual_errors(rim)))
    slopes = bench.slopes(errors).reshape(-1, len(plan.spreads))
    return slopes.T @ slopes


def after(spreads: np.ndarray, known: np.ndarray) -> np.ndarray:
    """Covariance of the errors with what is known of them.

    spreads : (p,) before anything is read [turns, rad or m]; known : (p, p) information [per turn, rad or m, squared]
    Returns (p, p) [turns, rad or m, squared].
    """
    values, vectors = np.linalg.eigh(known * np.outer(spreads, spreads))
    return covariance_of((vectors * np.sqrt(np.clip(values, 0.0, None))).T / np.where(spreads > 0, spreads, 1.0), spreads)


def chosen(
    told: Sequence[np.ndarray], minutes: Sequence[float], most: Sequence[int], budget: float, loss: Callable[[np.ndarray], float],
    least: Sequence[int],
) -> list[int]:  # fmt: skip
    """How often to take each item so that the answers are surest in a given time.

    told : (p, p) information of one taking, of each item [per turn, rad or m, squared]
    minutes, most, least : of each item: time of one taking [min], how often at most and at least [-]
    budget : time [min]
    loss : information (p, p) to how unsure the answers are
    Returns how often, of each item.  Source: exchanges of rows as A. B. Forbes, Algorithms 17 (2024) 193, chooses among observations
    (abstract seen); begun with what gains most a minute, until no exchange of up to two takings for whatever fits instead gains.
    """
    places = range(len(told))
    slack = 1e-9  # of a sum of minutes
    worth: dict[tuple[int, ...], float] = {}

    def value(counts: Sequence[int]) -> float:
        key = tuple(counts)
        if key not in worth:
            worth[key] = loss(sum((count * one for count, one in zip(counts, told, strict=True)), np.zeros_like(told[0])))
        return worth[key]

    def over(counts: Sequence[int]) -> float:
        return sum(count * one for count, one in zip(counts, minutes, strict=True)) - budget - slack

    def with_one(counts: Sequence[int], place: int, change: int) -> list[int]:
        return [count + change * (place == other) for other, count in enumerate(counts)]

    def filled(counts: list[int]) -> list[int]:
        """With what gains most a minute, as long as there is time; what went before was taken out for something else."""
        while True:
            more = [made for place in places if counts[place] < most[place] and over(made := with_one(counts, place, 1)) <= 0]
            now, spent = value(counts), over(counts)
            best = max(more, key=lambda made: (now - value(made)) / (over(made) - spent), default=None)
            if best is None or value(best) >= now:
                return counts
            counts = best

    def squeezed(counts: list[int], kept: int) -> list[int] | None:
        """Without what tells least a minute until it fits the time, `kept` staying; None where it cannot fit."""
        while over(counts) > 0:
            fewer = [with_one(counts, place, -1) for place in places if counts[place] > least[place] + (place == kept)]
            now, spent = value(counts), over(counts)
            if not fewer:
                return None
            counts = min(fewer, key=lambda made: (value(made) - now) / (spent - over(made)))
        return counts

    def others(counts: list[int]) -> list[list[int]]:
        """All that one exchange makes of it: some out and the time filled, or one or two in and others squeezed out."""
        removable = [place for place in places if counts[place] > least[place]]
        out = [with_one(counts, place, -1) for place in removable]
        out += [with_one(one, place, -1) for one in out for place in places if one[place] > least[place]]
        once = [(with_one(counts, place, 1), place) for place in places if counts[place] < most[place]]
        starts = [one for one, _ in once] + out
        once += [(with_one(one, place, 1), place) for one in starts for place in places if one[place] < most[place]]
        made = [squeezed(one, place) for one, place in once]
        return [filled(one) for one in [*out, *(one for one in made if one is not None)]]

    counts = filled(list(least))
    while True:
        found = min(others(counts), key=value, default=counts)
        if value(found) >= value(counts) * (1 - 1e-12):
            return counts
        counts = found


@dataclass(frozen=True)
class Sureness:
    """How sure the answers will be.

    toe_error : standard error of total toe [rad]; toe_near : probability that it is known to within 0.2 degrees [-]
    rod_errors : standard error of each rod's length [turns]; named : probability that a rod that is a turn off is named [-]
    turns_errors : of the turns that each rod needs [turns]; cured : probability that all are known to within half a turn [-]
    """

    toe_error: float
    toe_near: float
    rod_errors: tuple[float, ...]
    named: float
    turns_errors: tuple[float, ...]
    cured: float


def sureness(questions: Questions, covariance: np.ndarray) -> Sureness:
    """How sure the answers are with a covariance.

    questions : Questions
    covariance : (p, p) of the errors [turns, rad or m, squared]
    Returns Sureness.  Source: the normal distribution; a rod that is a turn off is named where its estimate lies far enough out.
    """
    from scipy.special import ndtr, ndtri

    toe, needed = questions.slopes
    total = 4 * float(toe @ covariance @ toe)
    rods = questions.places(ROD)
    errors = np.sqrt(np.diag(covariance)[rods])
    shrunk = 1 - (errors / questions.plan.spreads[rods]) ** 2  # a prior draws the estimate in by this much, and its scatter by the root
    told = (NAMED_OFF * shrunk - WORTH[ROD] - ndtri(SURE) * errors) / (errors * np.sqrt(np.clip(shrunk, 1e-12, None)))
    spread = needed @ covariance @ needed.T
    return Sureness(
        toe_error=total**0.5, toe_near=within(TOE_NEAR, np.array([[total]])), rod_errors=tuple(errors.tolist()),
        named=float(ndtr(told).min()), turns_errors=tuple(np.sqrt(np.diag(spread)).tolist()), cured=within(0.5, spread),
    )  # fmt: skip


@dataclass(frozen=True)
class ReadingPlan:
    """Which readings to take.

    name : "quick" or "full"
    taken : each Item with how often, in the order in which it is done
    minutes : of floor work in all [min]
    sure : Sureness that it gives
    """

    name: str
    taken: tuple[tuple[Item, int], ...]
    minutes: float
    sure: Sureness


def rim_of(plan: Built) -> float:
    """Distance between the places on a rim where nobody has measured it.  plan : Built.  Returns it [m]."""
    return usual_rim(plan.car.wheel_radius)


def design_plan(plan: Built, name: str) -> ReadingPlan:
    """Choose the readings of a plan for a set-up, by what they would tell of the car as drawn.

    plan : Built
    name : one of PLANS
    Returns ReadingPlan.
    """
    minutes, arms = PLANS[name]
    drawn = np.zeros(len(plan.spreads))
    questions = Questions(plan, drawn, arms, gradients(plan, drawn))
    items = items_of(plan)
    told = [information(plan, item, questions.errors, rim_of(plan)) for item in items]
    counts = chosen(
        told, [item.minutes for item in items], [item.most for item in items], minutes - BEFORE_MINUTES,
        lambda known: questions.loss(after(plan.spreads, known)), [item.least for item in items],
    )  # fmt: skip
    taken = tuple((item, count) for item, count in zip(items, counts, strict=True) if count)
    known = sum((count * one for count, one in zip(counts, told, strict=True)), np.zeros_like(told[0]))
    used = BEFORE_MINUTES + sum(count * item.minutes for item, count in taken)
    return ReadingPlan(name, taken, used, sureness(questions, after(plan.spreads, known)))


def options_of(plan: Built, errors: np.ndarray, read: Sequence[int]) -> list[tuple[Item, np.ndarray]]:
    """What could still be read of a car.

    plan : Built; errors : (p,) of the car as far as it is known [turns, rad or m]
    read : places in KINDS of what has been read, for what is worth doing only once [-]
    Returns Items with the information that each gives, (p, p) [per turn, rad or m, squared].
    """
    left = [item for item in items_of(plan) if item.most > 1 or not set(item.places) <= set(read)]
    return [(item, information(plan, item, errors, rim_of(plan))) for item in left]


def next_item(
    questions: Questions, covariance: np.ndarray, options: Sequence[tuple[Item, np.ndarray]], places: Sequence[int] = ()
) -> tuple[Item, Sureness] | None:  # fmt: skip
    """The one reading more that would help most.

    questions : about the car as far as it is known
    covariance : (p, p) of its errors [turns, rad or m, squared]
    options : as `options_of` gives them
    places : of the errors that are asked for [-]; none asks for what a plan asks for
    Returns (Item, how sure the answers would be with it); None where none helps by a share worth mentioning.
    """
    targets = np.eye(len(covariance))[list(places)]

    def loss(covariance: np.ndarray) -> float:
        return float(np.einsum("tp,pq,tq->", targets, covariance, targets)) if len(targets) else questions.loss(covariance)

    best, found = loss(covariance) * (1 - FEWEST_GAIN), None
    values, vectors = np.linalg.eigh(covariance)
    root = vectors * np.sqrt(np.clip(values, 0.0, None))
    for item, told in options:
        updated = root @ np.linalg.inv(root.T @ told @ root + np.eye(len(root))) @ root.T
        if loss(updated) < best:
            best, found = loss(updated), (item, updated)
    return None if found is None else (found[0], sureness(questions, found[1]))
