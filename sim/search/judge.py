"""What one candidate of a search does, by the sum of steady turns (`sim.turn.stations`), or why it does nothing."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum
from math import degrees, nan

import numpy as np

from sim.course.centreline import Course
from sim.keys import MILLIMETRE
from sim.pace.driver import plan_pace
from sim.scenario.scenario import Scenario
from sim.scenario.setup import SetupTable
from sim.scenario.tables import HOUR
from sim.search.result import SumFigures
from sim.search.setups import FreeKey, Sketch, inner_angles, largest_inner, sketch, with_keys
from sim.study.race import laps_on_charge
from sim.study.ready import car_of, pace_of, steer_needed
from sim.study.summary import known
from sim.turn.stations import station_sum, stations_of

# What can be made least: name to its unit; the same names are attributes of Figures.
OBJECTIVES = {
    "drive_work": "J", "battery": "Wh", "scrub": "J", "rub": "m", "error": "deg",
}  # fmt: skip
# What can be limited: name to whether the value is the most or the least allowed; the same names are attributes of Figures.
LIMITS = {
    "turning_circle_m": "most", "kick_back_mm": "most", "lock_deg": "least", "rod_angle_deg": "least", "shortest_rod_mm": "least",
    "longest_rod_mm": "most",
}  # fmt: skip
ROD_LIMITS = {"rod_angle_deg", "shortest_rod_mm", "longest_rod_mm"}
UNBUILDABLE = 10.0  # in the place of how far a candidate misses: farther than any that can be built
ROD_LOOKS = 33  # hand angles from lock to lock at which the rods' angles are looked at


class Why(IntEnum):
    """Why a candidate has no figures."""

    ROUND = 0  # it has: it gets round the course
    REFUSED = 1  # the scenario refuses its keys together
    UNBUILDABLE = 2  # it cannot be put together, or does not steer to both sides
    LOCKED = 3  # its lock is too small for the course
    NO_TURN = 4  # a turn of the course is more than its tyres hold


@dataclass(frozen=True)
class Figures:
    """What one candidate does, by the sum of steady turns; NaN where it does not get round.  Limits are no part of it."""

    why: Why
    missed: float  # how far it is from getting round, 0 where it does [-]
    drive_work: float = nan  # [J] a lap
    battery: float = nan  # [Wh] a lap, NaN without a battery
    laps_per_charge: float = nan
    scrub: float = nan  # [J] a lap
    rub: float = nan  # of the worst tyre [m] a lap
    error: float = nan  # from ideal [deg]
    turning_circle_m: float = nan
    kick_back_mm: float = nan
    lock_deg: float = nan  # equivalent steer at the smaller lock
    spare_left_deg: float = nan  # equivalent steer at the lock beyond what the course asks for; below 0 where it is too small
    spare_right_deg: float = nan
    rod_angle_deg: float = nan  # least angle between a rod and its arm over the usable lock; NaN without rods
    shortest_rod_mm: float = nan  # between the middles of its joints
    longest_rod_mm: float = nan

    def shown(self) -> SumFigures:
        """The same for a result [units in the names]."""
        return SumFigures(
            drive_work_J=known(self.drive_work), battery_Wh=known(self.battery), laps_per_charge=known(self.laps_per_charge),
            scrub_J=known(self.scrub), rub_m=known(self.rub), error_deg=known(self.error),
            turning_circle_m=known(self.turning_circle_m), kick_back_mm=known(self.kick_back_mm), lock_deg=known(self.lock_deg),
            rod_angle_deg=known(self.rod_angle_deg), shortest_rod_mm=known(self.shortest_rod_mm),
            longest_rod_mm=known(self.longest_rod_mm),
        )  # fmt: skip


class Judge:
    """Figures of candidates on one course at one pace.

    scenario : Scenario; course : Course; setup : what the team has; free : the FreeKeys; target : speed on the straights [m/s]
    """

    def __init__(self, scenario: Scenario, course: Course, setup: SetupTable, free: Sequence[FreeKey], target: float):
        self.table, self.setup, self.free = scenario.car, setup, free
        self.car = car_of(scenario)
        self.stations = stations_of(course, self.car, plan_pace(course, self.car, pace_of(scenario, target)))
        self.left, self.right, _ = steer_needed(course, self.car)
        left, right = largest_inner(self.left, self.right, self.table)
        self.inner = inner_angles(left), inner_angles(right)
        self.distance = float(self.stations.length.sum())

    def __call__(self, values: Sequence[float]) -> Figures:
        """Figures of a candidate.  values : one a free key [the key's unit].  Returns Figures."""
        try:
            setup = with_keys(self.setup, self.free, values)
        except ValueError:  # keys that the scenario refuses together
            return Figures(Why.REFUSED, missed=UNBUILDABLE)
        return self.figures_of(setup)

    def figures_of(self, setup: SetupTable) -> Figures:
        """Figures of any set-up.  setup : SetupTable.  Returns Figures [units in the names]."""
        made = sketch(setup, self.table, self.left, self.right, self.inner)
        if made is None:
            return Figures(Why.UNBUILDABLE, missed=UNBUILDABLE)
        spare_left, spare_right = made.reach_left - self.left, self.right - made.reach_right
        held = {
            "turning_circle_m": made.circle, "kick_back_mm": made.hub_arm / MILLIMETRE, "error": degrees(made.error),
            "lock_deg": degrees(min(made.reach_left, -made.reach_right)), "spare_left_deg": degrees(spare_left),
            "spare_right_deg": degrees(spare_right), **_rods(made),
        }  # fmt: skip
        missed = max(-spare_left, 0.0) + max(-spare_right, 0.0)
        if missed > 0:  # a lock too small keeps the solver of turns busy for nothing
            return Figures(Why.LOCKED, missed, **held)
        total = station_sum(self.car, made.table, self.stations)
        if not total.feasible:
            return Figures(Why.NO_TURN, total.failed / self.distance, **held)
        electric = self.car.motor.torque_constant > 0
        return Figures(
            Why.ROUND, missed=0.0, drive_work=total.drive_work, battery=total.battery / HOUR,
            laps_per_charge=laps_on_charge(total.used_charge, self.car.battery) if electric else nan,
            scrub=total.scrub, rub=float(total.rub.max()), **held,
        )  # fmt: skip


def _rods(made: Sketch) -> Mapping[str, float]:
    """The rods' least angle over the usable lock, and their lengths; none for a set-up without rods."""
    mechanism = made.steering.mechanism
    lengths = [length / MILLIMETRE for length in mechanism.rod_lengths.values()]
    if not lengths:
        return {}
    hands = np.linspace(made.steering.lock_right, made.steering.lock_left, ROD_LOOKS)
    angles = mechanism.rod_angles(hands, mechanism.swings(hands)[0])
    return {"rod_angle_deg": degrees(float(angles.min())), "shortest_rod_mm": min(lengths), "longest_rod_mm": max(lengths)}
