"""What `knock` finds: lever arms, the kick of a wheel on a step, and how near the car is to tipping."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import asin, degrees, inf, sqrt, tan

import numpy as np

from sim.car.chassis import GRAVITY, axle_loads, lift_limit, tip_limit
from sim.linkages.pivots import FrontWheel
from sim.linkages.rolling import equivalent_steer
from sim.scenario.car import CarTable
from sim.scenario.scenario import Scenario
from sim.scenario.tables import MILLIMETRE
from sim.steering.angles import steering_ratio
from sim.steering.arrangement import FrontWheels, Steering, build_steering
from sim.steering.kickback import HandModel, kick, levers, step_force, torque_arms
from sim.steering.table import hand_where
from sim.study.dangers import Dangers, dangers_of
from sim.study.ready import car_of

STEERS_DEG = (0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0)


@dataclass(frozen=True)
class WheelKick:
    """One front wheel on a step.

    ground_arm_mm : kingpin offset at the ground, positive where the wheel stands outside its axis [mm]
    hub_arm_mm : from the wheel's centre to the axis, likewise [mm]
    kingpin_torque_N_m : of the step's force, taken slowly [N m]
    """

    ground_arm_mm: float
    hub_arm_mm: float
    kingpin_torque_N_m: float


@dataclass(frozen=True)
class FrontKicks:
    """Both front wheels on a step.

    front_left, front_right : each wheel
    """

    front_left: WheelKick
    front_right: WheelKick


@dataclass(frozen=True)
class TipRow:
    """How near a car is to tipping at one steer of a left turn.

    steer_deg : equivalent single-track steer [deg]
    least_load_at_rest_N : on any wheel [N]
    lift_m_per_s2, tip_m_per_s2 : acceleration towards the turn's centre at which the first wheel lifts, and the car tips [m/s2]
    radius_m : of the mass centre's path, None straight ahead [m]
    tip_speed_m_per_s : at which it tips on that radius, None straight ahead [m/s]
    """

    steer_deg: float
    least_load_at_rest_N: float
    lift_m_per_s2: float
    tip_m_per_s2: float
    radius_m: float | None
    tip_speed_m_per_s: float | None


@dataclass(frozen=True)
class SetupKick:
    """What a step does to one set-up.

    name : of the set-up
    pivot : what its front wheels swing about
    wheels : each front wheel on the step
    step_force_N : horizontal force of the step, taken slowly [N]
    hand_torque_N_m : of that force [N m]
    impulse_N_s : of the step at speed [N s]
    peak_hand_deg : largest turn of the hand wheel [deg]
    peak_steer_deg : largest change of the equivalent steer [deg]
    off_line_after_1_s_m : of the mass centre [m]
    """

    name: str
    pivot: str
    wheels: FrontKicks
    step_force_N: float
    hand_torque_N_m: float
    impulse_N_s: float
    peak_hand_deg: float
    peak_steer_deg: float
    off_line_after_1_s_m: float


@dataclass(frozen=True)
class SetupKnock(Dangers, SetupKick):
    """What one set-up's kick, dead centres and tip margin are.

    tip_margin : from straight ahead to the lock
    """

    tip_margin: tuple[TipRow, ...]


@dataclass(frozen=True)
class KnockResult:
    """What `knock` finds.

    title : of the scenario
    step_mm : height of the step [mm]
    speed_m_per_s : at which a wheel meets it [m/s]
    grip_m_per_s2 : acceleration up to which the tyres hold [m/s2]
    setups : in the scenario's order
    """

    title: str
    step_mm: float
    speed_m_per_s: float
    grip_m_per_s2: float
    setups: tuple[SetupKnock, ...]


def knock_result(scenario: Scenario, source: str, step_mm: float, speed: float) -> KnockResult:
    """Kick-back and tip margin of every set-up.

    scenario, source : the scenario and its name in messages; step_mm : height of the step [mm]; speed : [m/s]
    Returns KnockResult.  Raises InputError for a set-up that cannot be built.
    """
    setups = []
    for setup in scenario.setup:
        steering = build_steering(setup, scenario.car, source, setup.place)
        kicked = _kicked(scenario, steering, setup.pivot, step_mm * MILLIMETRE, speed)
        setups.append(SetupKnock(**vars(kicked), **vars(dangers_of(steering)), tip_margin=tip_rows(scenario, steering)))
    car = car_of(scenario)
    # Each axle carries its own part of the mass, so the axle that grips less slides first.
    grip = min(car.front_tyre.friction, car.rear_tyre.friction) * GRAVITY
    return KnockResult(scenario.title, step_mm, speed, grip, tuple(setups))


def _kicked(scenario: Scenario, steering: Steering, pivot: str, height: float, speed: float) -> SetupKick:
    car, table = car_of(scenario), scenario.car
    load = axle_loads(car)[0] / 2
    hands = HandModel(table.hands.stiffness_N_m_per_rad, table.hands.damping_N_m_s_per_rad, table.hands.inertia_kg_m2, table.wheel_mass_kg)
    ratio = steering_ratio(steering, table)
    kicked = kick(steering, ratio, hands, load, height, speed, car.wheelbase, car.wheelbase - car.front_arm)
    force = step_force(load, table.wheel_radius_mm * MILLIMETRE, height)

    def wheel_kick(wheel: FrontWheel) -> WheelKick:
        arms, about = levers(wheel), float(torque_arms(wheel, np.zeros(1)).hub[0])
        return WheelKick(arms.ground * 1e3, arms.hub * 1e3, abs(about) * force)

    left, right = steering.wheels
    return SetupKick(
        name=steering.name, pivot=pivot, wheels=FrontKicks(wheel_kick(left), wheel_kick(right)),
        step_force_N=kicked.force, hand_torque_N_m=abs(kicked.hand_torque), impulse_N_s=kicked.impulse,
        peak_hand_deg=abs(degrees(kicked.peak_hand)), peak_steer_deg=abs(degrees(kicked.peak_steer)),
        off_line_after_1_s_m=abs(kicked.off_line),
    )  # fmt: skip


def tip_rows(scenario: Scenario, steering: Steering, steers_deg: Sequence[float] = STEERS_DEG) -> tuple[TipRow, ...]:
    """Loads at rest and the limits of lateral acceleration at each equivalent steer of a left turn.

    scenario : whose car it is; steering : of a set-up; steers_deg : rising from 0 on [deg]
    Returns a TipRow for each of them up to the lock.
    """
    car, table = car_of(scenario), scenario.car

    def single_track(wheels: FrontWheels) -> np.ndarray:
        return equivalent_steer(wheels.steer, steering.kingpin_y, car.wheelbase)

    steers = np.radians(steers_deg)
    hand = hand_where(steering, single_track, steers)
    rows = []
    for steer, angle in zip(steers, hand, strict=True):
        if not np.isfinite(angle):
            break
        x, y = contact_points(steering, table, float(angle))
        radius = sqrt((car.wheelbase - car.front_arm) ** 2 + (car.wheelbase / tan(steer)) ** 2) if steer > 0 else inf
        # Both limits are those of an acceleration towards the turn's own centre, as the tip speed is.
        sideslip = asin((car.wheelbase - car.front_arm) / radius)
        lift, at_rest = lift_limit(x, y, car.mass, car.height, sideslip)
        tip = tip_limit(x, y, car.height, sideslip=sideslip)
        rows.append(TipRow(
            steer_deg=degrees(steer), least_load_at_rest_N=float(at_rest.min()), lift_m_per_s2=lift, tip_m_per_s2=tip,
            radius_m=radius if steer > 0 else None, tip_speed_m_per_s=sqrt(tip * radius) if steer > 0 else None,
        ))  # fmt: skip
    return tuple(rows)


def contact_points(steering: Steering, car: CarTable, hand: float) -> tuple[np.ndarray, np.ndarray]:
    """The four contact points from the mass centre.

    steering, car : Steering, CarTable; hand : angle of the hand wheel [rad]
    Returns (ahead, to the left), (4,) each [m].
    """
    wheels = steering.front_wheels(np.array([hand]))
    front_arm, rear = car.mass_centre_behind_front_axle_mm * MILLIMETRE, car.rear_track_mm * 0.5e-3
    back = front_arm - car.wheelbase_mm * MILLIMETRE
    return np.array([*(wheels.x[0] + front_arm), back, back]), np.array([*wheels.y[0], rear, -rear])
