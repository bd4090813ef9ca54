"""What an entry shows: what to ask its team about, how its wheels stand in the course's bends, and what its place does not tell."""

from math import degrees, radians
from typing import NamedTuple

import numpy as np

from sim.car.chassis import Car, kinematic_steer
from sim.contest.results import Kind, Risks, Shows
from sim.course.centreline import Course
from sim.linkages.kind import Hand
from sim.linkages.rolling import equivalent_steer, ideal_inner
from sim.scenario.car import CarTable
from sim.scenario.scenario import Scenario
from sim.scenario.setup import SetupTable
from sim.scenario.tables import MILLIMETRE
from sim.steering.angles import angle_rows
from sim.steering.arrangement import FrontWheels, Steering
from sim.steering.kickback import levers
from sim.steering.table import hand_where
from sim.study.compare import EndCause, SetupResult
from sim.study.knock import tip_rows

# What makes an entry worth a question; judgements of what a learner can see on the car.
TOE_SEEN_DEG = 0.25
CROOKED_DEG = 2.0  # of the hand wheel where the car drives straight on
LEAN_SEEN_DEG = 3.0
NEARLY = 0.2  # how far from 1 the share of ideal may be that still counts as ideal, and from 0 as parallel
LOOKED_AT = radians(10)  # outer wheel's angle at which the share is taken, or 0.9 of what the wheel reaches
TIP_STEERS_DEG = tuple(map(float, range(0, 90, 3)))  # with the lock, misses the least tip margin of the shipped cars by less than 0.1 %
HANDS = 400  # hand angles over which that is interpolated: to 1e-4 of the share
KIND_OF_END = {EndCause.LOCK: Kind.LOCK, EndCause.TIPPED: Kind.TIPS, EndCause.GRIP: Kind.NO_GRIP}


class Bends(NamedTuple):
    """What a course's bends ask for.

    steers : (n,) equivalent steers [rad]; weights : (n,) the angle that the course turns by at each, together 1 [-]
    """

    steers: np.ndarray
    weights: np.ndarray


def bends_of(course: Course, car: Car) -> Bends:
    """The bends of a course for a car, none where it is straight or too tight for the car.  course : Course; car : Car."""
    turned = np.abs(course.curvature) * np.gradient(course.station)
    bent = turned > 0
    try:
        steers = np.array([kinematic_steer(float(curvature), car)[0] for curvature in course.curvature[bent]])
    except ValueError:
        return Bends(np.zeros(0), np.zeros(0))
    return Bends(steers, turned[bent] / max(float(turned.sum()), np.finfo(float).tiny))


def bend_errors(steering: Steering, car: CarTable, bends: Bends) -> tuple[float | None, float | None]:
    """How far the inner wheel stands from ideal in the bends, as the mean size and as the mean with its sign.

    steering : Steering, of a set-up without toe; car : CarTable; bends : of `bends_of`
    Returns both [deg], None where there are no bends.  A bend beyond the lock counts with what the wheels do at the lock.
    """
    if not len(bends.steers):
        return None, None

    def single_track(wheels: FrontWheels) -> np.ndarray:
        return equivalent_steer(wheels.steer, steering.kingpin_y, car.wheelbase)

    hands = hand_where(steering, single_track, bends.steers)
    beyond = np.isnan(hands)
    hands[beyond] = np.where(bends.steers[beyond] > 0, steering.lock_left, steering.lock_right)
    error = np.degrees(angle_rows(steering, car, hands).error) * bends.weights
    # In a right turn all angles are negative, so that too much is too.
    return float(np.abs(error).sum()), float((error * np.sign(bends.steers)).sum())


def risks_of(steering: Steering, scenario: Scenario) -> Risks:
    """How near a set-up is to tipping, and how a step tears at it.  steering : Steering; scenario : whose car it steers."""
    at_lock = steering.front_wheels(np.array([steering.lock_left])).steer
    lock = degrees(equivalent_steer(at_lock, steering.kingpin_y, scenario.car.wheelbase)[0])
    steers = (*(steer for steer in TIP_STEERS_DEG if steer < lock), lock)
    worst = min(tip_rows(scenario, steering, steers), key=lambda row: row.tip_m_per_s2)
    return Risks(worst.tip_m_per_s2, worst.steer_deg, max(abs(levers(wheel).hub) for wheel in steering.wheels) / MILLIMETRE)


def shows_of(steering: Steering, scenario: Scenario, result: SetupResult, errors: tuple[float | None, float | None]) -> Shows:
    """What is worth asking a team about.

    steering : Steering of its set-up, which is the only one of the scenario; result : of its lap; errors : of `bend_errors` [deg]
    """
    car, setup = scenario.car, scenario.setup[0]
    wheelbase = car.wheelbase_mm * MILLIMETRE

    def single_track(wheels: FrontWheels) -> np.ndarray:
        return equivalent_steer(wheels.steer, steering.kingpin_y, wheelbase)

    ahead = float(hand_where(steering, single_track, np.zeros(1))[0])
    left, right = steering.front_wheels(np.array([ahead])).steer[0]
    toe = degrees(right - left) / 2
    # A hand angle that is one wheel's swing is moved by toe alone.
    crooked = degrees(ahead) if steering.kind.hand is Hand.HAND_WHEEL else 0.0
    share, outer = _share_of_ideal(steering, wheelbase, ahead)
    return Shows(_kind(setup, result, share, toe, crooked), share, outer, toe, crooked, *errors)


def _share_of_ideal(steering: Steering, wheelbase: float, ahead: float) -> tuple[float | None, float | None]:
    """How much of the ideal difference the inner wheel turns further in a left turn, toe set aside, and at which outer angle [deg].

    ahead : hand angle at which the car drives straight on [rad].  None for a turntable, whose wheels have no difference to make.
    """
    track = float(steering.kingpin_y[0] - steering.kingpin_y[1])
    if track == 0:
        return None, None
    steer = steering.front_wheels(np.linspace(ahead, steering.lock_left, HANDS)).steer
    inner, outer = (steer - steer[0]).T
    looked_at = min(LOOKED_AT, 0.9 * float(outer.max()))
    upto = int(np.argmax(outer)) + 1
    turned = float(np.interp(looked_at, outer[:upto], inner[:upto]))
    return (turned - looked_at) / (float(ideal_inner(looked_at, track, wheelbase)) - looked_at), degrees(looked_at)


def _kind(setup: SetupTable, result: SetupResult, share: float | None, toe: float, crooked: float) -> Kind:
    """The first thing that is out of the ordinary."""
    if not result.finished:
        return KIND_OF_END.get(result.cause, Kind.STOPPED)
    if setup.pivot == "turntable":
        return Kind.TURNTABLE
    share = 1.0 if share is None else share
    kinds = {
        Kind.REVERSED: share < -NEARLY,
        Kind.UNEVEN_RODS: abs(crooked) >= CROOKED_DEG,
        Kind.TOE_IN: toe >= TOE_SEEN_DEG,
        Kind.TOE_OUT: toe <= -TOE_SEEN_DEG,
        Kind.PARALLEL: share <= NEARLY,
        Kind.TOO_LITTLE: share < 1 - NEARLY,
        Kind.TOO_MUCH: share > 1 + NEARLY,
        Kind.LEAN: max(abs(setup.kingpin_inclination_deg), abs(setup.caster_deg)) >= LEAN_SEEN_DEG,
    }
    return next((kind for kind, seen in kinds.items() if seen), Kind.CLOSE_TO_IDEAL)
