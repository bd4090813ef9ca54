"""What `angles` finds: the wheels' angles of every set-up, where its wheels stand, and the hand torque of a steady turn."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import degrees

import numpy as np

from sim.linkages.pivots import LEFT, RIGHT
from sim.scenario.car import CarTable
from sim.scenario.doubts import assumed
from sim.scenario.scenario import Scenario
from sim.steering.angles import angle_rows, hand_range, hands_for_outer, steering_ratio, turning_circle
from sim.steering.arrangement import Steering
from sim.study.dangers import Dangers, RodLength, dangers_of, rods_of
from sim.study.doubts import doubts_of
from sim.study.hand_torque import HeldTurn, held_turn
from sim.study.ready import Entry


@dataclass(frozen=True)
class AngleRow:
    """The front wheels at one hand angle; angles are positive to the left, shifts are from where the wheel stands straight ahead.

    hand_deg : angle of the hand wheel [deg]
    left_deg, right_deg : angles of both wheels [deg]
    ideal_inner_deg : ideal angle of the inner wheel for the outer wheel's [deg]
    error_deg : the inner wheel's angle less that [deg]
    left_camber_deg, right_camber_deg : lean of each wheel's top to the left [deg]
    left_contact_ahead_mm, right_contact_ahead_mm : shift of each contact point ahead [mm]
    left_contact_left_mm, right_contact_left_mm : ... to the left [mm]
    left_rise_mm, right_rise_mm : how far each wheel lifts the car [mm]
    """

    hand_deg: float
    left_deg: float
    right_deg: float
    ideal_inner_deg: float
    error_deg: float
    left_camber_deg: float
    right_camber_deg: float
    left_contact_ahead_mm: float
    left_contact_left_mm: float
    left_rise_mm: float
    right_contact_ahead_mm: float
    right_contact_left_mm: float
    right_rise_mm: float


@dataclass(frozen=True)
class NamedRods:
    """A set-up's name and its rods.

    name : of the set-up
    rods : each rod's length, none where there is none
    """

    name: str
    rods: tuple[RodLength, ...]


@dataclass(frozen=True)
class SetupAngles(Dangers, NamedRods):
    """One set-up's angles.

    lock_deg : the nearer of both locks [deg]
    lock_left_deg, lock_right_deg : ends of the usable lock, right below 0 [deg]
    lock_left_cause, lock_right_cause : what ends it there
    kingpin_offset_mm : from a kingpin axis to the contact point, at the ground [mm]
    steering_ratio : hand angle for each radian of equivalent steer, straight ahead [-]
    turning_circle_kerb_m : diameter to the outermost contact point [m]
    turning_circle_wall_m : diameter to the outermost tyre edge [m]
    beyond_lock_outer_deg : angles of the outer wheel that were asked for and lie beyond the lock [deg]
    rows : the wheels' angles
    hand_torque : of a steady turn, None where there is no such turn
    """

    lock_deg: float
    lock_left_deg: float
    lock_right_deg: float
    lock_left_cause: str
    lock_right_cause: str
    kingpin_offset_mm: float
    steering_ratio: float
    turning_circle_kerb_m: float
    turning_circle_wall_m: float
    beyond_lock_outer_deg: tuple[float, ...]
    rows: tuple[AngleRow, ...]
    hand_torque: HeldTurn | None


@dataclass(frozen=True)
class AnglesResult:
    """What `angles` finds.

    title : of the scenario
    doubts : about its numbers and angles that look like slips, a sentence each
    assumed : what was left out and matters, with the values assumed, a sentence; none where all was given
    radius_m, speed_m_per_s : of the turn whose hand torque is told, positive to the left [m], [m/s]
    setups : in the scenario's order
    """

    title: str
    doubts: tuple[str, ...]
    assumed: tuple[str, ...]
    radius_m: float
    speed_m_per_s: float
    setups: tuple[SetupAngles, ...]


def angles_result(
    scenario: Scenario, entries: Sequence[Entry], outer_deg: Sequence[float] | None, radius: float, speed: float
) -> AnglesResult:
    """Wheel angles of every set-up, where its wheels stand, and the hand torque of a steady turn.

    scenario, entries : the car and its set-ups
    outer_deg : angles of the outer wheel in a left turn [deg], or None for the hand wheel's range
    radius, speed : of the turn that is held, of the mass centre [m], [m/s]
    Returns AnglesResult.
    """
    setups = []
    for entry in entries:
        steering = entry.steering
        hands = hand_range(steering) if outer_deg is None else hands_for_outer(steering, np.radians(outer_deg))
        reachable = np.isfinite(hands)
        circle = turning_circle(steering, scenario.car)
        setups.append(SetupAngles(
            name=entry.name, rods=rods_of(steering), **vars(dangers_of(steering)),
            lock_deg=degrees(min(steering.lock_left, -steering.lock_right)),
            lock_left_deg=degrees(steering.lock_left), lock_right_deg=degrees(steering.lock_right),
            lock_left_cause=steering.lock_left_cause, lock_right_cause=steering.lock_right_cause,
            kingpin_offset_mm=steering.kingpin_offset * 1e3,
            steering_ratio=steering_ratio(steering, scenario.car),
            turning_circle_kerb_m=circle.kerb, turning_circle_wall_m=circle.wall,
            beyond_lock_outer_deg=() if outer_deg is None else tuple(d for d, ok in zip(outer_deg, reachable, strict=True) if not ok),
            rows=_rows(steering, scenario.car, hands[reachable]),
            hand_torque=held_turn(scenario, entry, radius, speed),
        ))  # fmt: skip
    told = doubts_of(scenario, entries), assumed(scenario)
    return AnglesResult(scenario.title, *told, radius, speed, tuple(setups))


def _rows(steering: Steering, car: CarTable, hands: np.ndarray) -> tuple[AngleRow, ...]:
    """The rows at hand angles [rad]."""
    rows, wheels, ahead = angle_rows(steering, car, hands), steering.front_wheels(hands), steering.front_wheels(np.zeros(1))
    angles = (rows.hand, rows.left, rows.right, rows.ideal_inner, rows.error, wheels.camber[:, LEFT], wheels.camber[:, RIGHT])
    shifts = [
        1e3 * (here[:, side] - straight[0, side])
        for side in (LEFT, RIGHT)
        for here, straight in ((wheels.x, ahead.x), (wheels.y, ahead.y), (wheels.rise, ahead.rise))
    ]
    pairs = zip(zip(*angles, strict=True), zip(*shifts, strict=True), strict=True)
    return tuple(AngleRow(*map(degrees, angle), *map(float, shift)) for angle, shift in pairs)
