"""All figures of a front end that is to be built, and where its parts stand seen from above."""

from dataclasses import dataclass, replace
from math import degrees

import numpy as np

from sim.assemble.pull import Pull, pulls
from sim.assemble.rods import RodToSet, least_thread, missing_keys, rod_to_set
from sim.keys import MILLIMETRE
from sim.linkages.front_end import Arms, RodEnds, Stance, in_si
from sim.linkages.parts import Drawing, UnbuildableError
from sim.scenario.car import CarTable
from sim.scenario.scenario import Scenario
from sim.scenario.setup import SetupTable
from sim.steering.arrangement import RangeError, Steering, with_locks
from sim.steering.front_end import front_end
from sim.study.dangers import Dangers, dangers_of

ENDS_OF_A_ROD = 2  # each with a lock nut


@dataclass(frozen=True)
class ChosenSetup:
    """Which front end it is.

    title : of the scenario; setup : the set-up's name; linkage : its kind
    """

    title: str
    setup: str
    linkage: str


@dataclass(frozen=True)
class Assembly(Dangers, ChosenSetup):
    """What a builder measures and sets.

    examples : numbers of the scenario that are still examples, not measured [-]
    lock_left_deg, lock_right_deg : hand angles at the ends of the usable lock, right below 0 [deg]
    lock_left_cause, lock_right_cause : what ends it there
    wheelbase_mm, front_track_mm : of the car [mm]
    kingpin_track_mm : between the kingpin axes at the ground; 0 for a turntable [mm]
    kingpin_inclination_deg, caster_deg : lean of the axes' tops inwards and backwards [deg]
    toe_in_deg : planned, of each wheel [deg]
    arm_length_mm, arm_angle_deg : of each arm, with its kink from straight back inwards; None where there are none [mm], [deg]
    hanging_arm_mm, hanging_joints_apart_mm : of the arm on the column: axis to joint, and between its joints; None without one [mm]
    joints_behind_front_axle_mm : of what moves the rods, straight ahead; None where nothing of its own does [mm]
    rods : each rod to be set, none where there is none
    rod_turns_written : turns that the set-up adds to the lengths that give the planned toe, left and right [-]
    lock_nuts : on all rods [-]
    thread_pitch_mm, least_thread_mm : of the rod ends; the least that must sit in a rod; None where there are no rods [mm]
    danger_per_turn_deg : by how much nearer the danger comes with every rod a turn short, 0 where it does not, None without one [deg]
    missing_keys : of the scenario, without which no turns from fully home can be told
    pull_on_wheels, pull_on_stands : that just turns a wheel, or the axle, on its washer
    """

    examples: int
    lock_left_deg: float
    lock_right_deg: float
    lock_left_cause: str
    lock_right_cause: str
    hanging_arm_mm: float | None
    hanging_joints_apart_mm: float | None
    wheelbase_mm: float
    front_track_mm: float
    kingpin_track_mm: float
    kingpin_inclination_deg: float
    caster_deg: float
    toe_in_deg: float
    arm_length_mm: float | None
    arm_angle_deg: float | None
    joints_behind_front_axle_mm: float | None
    rods: tuple[RodToSet, ...]
    rod_turns_written: tuple[float, ...]
    lock_nuts: int
    thread_pitch_mm: float | None
    least_thread_mm: float | None
    danger_per_turn_deg: float | None
    missing_keys: tuple[str, ...]
    pull_on_wheels: Pull
    pull_on_stands: Pull


@dataclass(frozen=True)
class AssembleResult(Assembly):
    """What `assemble` wrote.

    setup_named : whether the set-up was asked for by name
    written : the file; paper : its size; pages : how many [-]
    """

    setup_named: bool
    written: str
    paper: str
    pages: int


@dataclass(frozen=True, eq=False)
class FrontView:
    """A front end from above, straight ahead; places (2,) are x ahead, y left of the middle of the front axle [m].

    pins : (2, 2) of the kingpins as high as the hubs, left and right; a turntable's pivot twice [m]
    hubs : (2, 2) of the wheels' centres [m]
    steer : (2,) of the wheels [rad]
    radius, tyre_width : of the wheels [m]
    drawing : arms, rods and what moves them [m]
    """

    pins: np.ndarray
    hubs: np.ndarray
    steer: np.ndarray
    radius: float
    tyre_width: float
    drawing: Drawing


def assembly_of(scenario: Scenario, index: int, steering: Steering) -> Assembly:
    """The figures of a set-up.

    scenario : the car; index : of the set-up [-]; steering : of it
    Returns Assembly.
    """
    setup, car, has_rods = scenario.setup[index], scenario.car, steering.kind.rods
    stance, arms = in_si(Stance, setup.value_of), in_si(Arms, setup.value_of)
    bars = steering.mechanism.drawn(0.0, steering.front_wheels(np.zeros(1)).swing[0]).bars
    on_wheels, on_stands = pulls(scenario, steering)
    dangers = dangers_of(steering)
    ends = in_si(RodEnds, setup.value_of)
    rods = tuple(rod_to_set(name, length, ends) for name, length in steering.mechanism.rod_lengths.items())
    arm = steering.kind.hangs(in_si(steering.kind.own, setup.value_of)) if steering.kind.hangs else None
    return Assembly(
        title=scenario.title, setup=setup.name, linkage=steering.linkage, **vars(dangers),
        examples=scenario.examples, lock_left_deg=degrees(steering.lock_left), lock_right_deg=degrees(steering.lock_right),
        lock_left_cause=steering.lock_left_cause, lock_right_cause=steering.lock_right_cause,
        hanging_arm_mm=arm.length / MILLIMETRE if arm else None,
        hanging_joints_apart_mm=arm.joint_spacing / MILLIMETRE if arm else None,
        wheelbase_mm=car.wheelbase_mm, front_track_mm=car.front_track_mm,
        kingpin_track_mm=0.0 if steering.kind.axle else car.kingpin_track_mm,
        kingpin_inclination_deg=0.0 if steering.kind.axle else degrees(stance.inclination), caster_deg=degrees(stance.caster),
        toe_in_deg=degrees(stance.toe_in), arm_length_mm=arms.length / MILLIMETRE if has_rods else None,
        arm_angle_deg=degrees(arms.angle) if has_rods else None,
        joints_behind_front_axle_mm=-float(bars[0][0][0]) / MILLIMETRE if bars else None,
        rods=rods, rod_turns_written=ends.turns if has_rods and any(ends.turns) else (), lock_nuts=ENDS_OF_A_ROD * len(rods),
        thread_pitch_mm=ends.pitch / MILLIMETRE if rods else None, least_thread_mm=least_thread(ends.pitch) / MILLIMETRE if rods else None,
        danger_per_turn_deg=_nearer_a_turn(dangers, setup, car, steering), missing_keys=missing_keys(ends) if rods else (),
        pull_on_wheels=on_wheels, pull_on_stands=on_stands,
    )  # fmt: skip


def _nearer_a_turn(planned: Dangers, setup: SetupTable, car: CarTable, steering: Steering) -> float | None:
    """By how much nearer the danger comes with every rod a turn short; None where there is none, or no range to drive in with such rods."""
    if not steering.kind.rods:
        return None
    front = front_end(setup, car)
    ends = replace(
        front.ends, turns_left=front.ends.turns_left - 1, turns_right=front.ends.turns_right - (len(steering.mechanism.rods) > 1)
    )
    try:
        short = dangers_of(with_locks(replace(steering, mechanism=setup.kind.build(replace(front, ends=ends))), car.wheelbase))
    except (RangeError, UnbuildableError):
        return None
    pairs = (planned.danger_left_deg, short.danger_left_deg), (planned.danger_right_deg, short.danger_right_deg)
    nearer = [abs(one) - abs(other) for one, other in pairs if one is not None and other is not None]
    return max(0.0, *nearer) if nearer else None


def view_of(scenario: Scenario, steering: Steering) -> FrontView:
    """A set-up from above, straight ahead.  scenario : the car; steering : of the set-up.  Returns FrontView [m], [rad]."""
    wheels = steering.front_wheels(np.zeros(1))
    return FrontView(
        pins=np.array([wheel.axis_point[:2] for wheel in steering.wheels]), hubs=np.array([wheel.centre[:2] for wheel in steering.wheels]),
        steer=wheels.steer[0], radius=scenario.car.wheel_radius, tyre_width=scenario.car.tyre_width,
        drawing=steering.mechanism.drawn(0.0, wheels.swing[0]),
    )  # fmt: skip
