"""What the hands feel: lever arms about the kingpins, the torque that holds a turn, and the kick of a wheel on a step.

Torques about a kingpin axis are positive where they turn the wheel to the left.  Forces are those of the ground on the wheel.
"""

from dataclasses import dataclass
from math import copysign, hypot, sqrt
from typing import NamedTuple

import numpy as np

from sim.car.chassis import GRAVITY
from sim.linkages.pivots import LEFT, RIGHT, FrontWheel, rotated
from sim.steering.arrangement import Steering

# Half the base of a difference over hand angles: its error is the square of this, 1e-10 of a rate, and rounding 1e-11. [rad]
HAND_BASE = 1e-5


class Levers(NamedTuple):
    """Arms of one front wheel straight ahead, positive where the wheel stands outside its axis [m]."""

    ground: float  # kingpin offset at the ground: the arm of a force at the contact point, as of a brake in the hub
    hub: float  # wheel centre to axis: the arm of a force through the hub, as of a free wheel's rolling drag or a step


def levers(wheel: FrontWheel) -> Levers:
    """Lever arms of a wheel's lengthwise forces about its axis, straight ahead.

    wheel : FrontWheel
    Returns Levers [m].  Source: Reimpell, Stoll and Betzler, The Automotive Chassis, ch. 3 (from memory): with kingpin inclination
    i the hub's arm is (ground arm + r tan i) cos i, so inclining the kingpin does not cut the kick of a free wheel.
    """
    side = 1.0 if wheel.centre[1] >= 0 else -1.0
    foot = wheel.axis_at(0.0)
    (x, y, z), (a, b, c) = (wheel.centre - wheel.axis_point).tolist(), wheel.axis.tolist()
    off_axis = hypot(y * c - z * b, z * a - x * c, x * b - y * a)  # size of their vector product; numpy's takes fifty times as long
    outside = side * (wheel.centre[1] - wheel.axis_at(float(wheel.centre[2]))[1])
    return Levers(float(side * (wheel.centre[1] - foot[1])), copysign(off_axis, outside))


@dataclass(frozen=True)
class TorqueArms:
    """Torque about a wheel's axis for each newton (or newton metre) that acts on it; each (n,)."""

    load: np.ndarray  # upward at the contact point [m]
    side: np.ndarray  # to the left of the wheel's line, at the contact point [m]
    ground: np.ndarray  # forward along the wheel's line, at the contact point: a hub that is braked [m]
    hub: np.ndarray  # the same through the wheel's centre: a hub that is free [m]
    twist: np.ndarray  # of an upright moment, such as the aligning torque [-]


def torque_arms(wheel: FrontWheel, swing: np.ndarray) -> TorqueArms:
    """Lever arms of every force on a wheel about its axis, in space.

    wheel : FrontWheel; swing : (n,) about its axis [rad]
    Returns TorqueArms, (n,) each.  Source: torque about a line, k . ((p - a) x f); statics.
    """
    pose = wheel.pose(swing)
    centre = rotated(wheel.centre - wheel.axis_point, wheel.axis, swing)
    contact = np.stack([pose.x, pose.y, -pose.rise], axis=1) - wheel.axis_point
    nothing, one = np.zeros_like(pose.steer), np.ones_like(pose.steer)
    ahead = np.stack([np.cos(pose.steer), np.sin(pose.steer), nothing], axis=1)
    left = np.stack([-np.sin(pose.steer), np.cos(pose.steer), nothing], axis=1)
    up = np.stack([nothing, nothing, one], axis=1)

    def about_axis(arm: np.ndarray, force: np.ndarray) -> np.ndarray:
        return np.cross(arm, force) @ wheel.axis

    return TorqueArms(about_axis(contact, up), about_axis(contact, left), about_axis(contact, ahead), about_axis(centre, ahead),
                      one * wheel.axis[2])  # fmt: skip


def swing_rates(steering: Steering, hand: np.ndarray) -> np.ndarray:
    """How far each wheel swings for a turn of the hand wheel.

    steering : Steering; hand : (n,) [rad]
    Returns (n, 2), left and right [rad/rad].  Source: difference of the linkage's own solution, one-sided at a lock.
    """
    low = np.maximum(hand - HAND_BASE, steering.lock_right)
    high = np.minimum(hand + HAND_BASE, steering.lock_left)
    swing = steering.front_wheels(high).swing - steering.front_wheels(low).swing
    return swing / (high - low)[:, None]


@dataclass(frozen=True)
class HandTorque:
    """Torque that the hands must give to hold the wheel, by cause; positive turns left; each (n,) [N m]."""

    side: np.ndarray  # side forces on the caster trail
    aligning: np.ndarray  # the tyres' own aligning torque
    rolling: np.ndarray  # lengthwise forces through the hubs
    weight: np.ndarray  # the car that is lifted or let down
    friction: np.ndarray  # either way, before anything moves: kingpin washers

    @property
    def total(self) -> np.ndarray:
        """All but friction [N m]."""
        return self.side + self.aligning + self.rolling + self.weight


def hand_torque(
    steering: Steering, hand: np.ndarray, load: np.ndarray, side: np.ndarray, rolling: np.ndarray, aligning: np.ndarray,
    washer_torque: float = 0.0,
) -> HandTorque:  # fmt: skip
    """Hand torque that balances the ground's forces on both front wheels.

    steering : Steering; hand : (n,) [rad]
    load, side, rolling : (n, 2) forces on the left and right wheel: upward, to its left, forward through the hub [N]
    aligning : (n, 2) aligning moment [N m]
    washer_torque : friction of a kingpin's washer for each newton of its load, see `washer_arm` times friction [m]
    Returns HandTorque [N m].  Source: virtual work, T_hand dh + sum T_i d(swing_i) = 0.
    """
    rates = swing_rates(steering, hand)
    swing = steering.front_wheels(hand).swing
    arms = [torque_arms(wheel, swing[:, i]) for i, wheel in enumerate(steering.wheels)]

    def felt(forces: np.ndarray, name: str) -> np.ndarray:
        return -sum(rates[:, i] * forces[:, i] * getattr(arms[i], name) for i in (LEFT, RIGHT))

    return HandTorque(
        felt(side, "side"), felt(aligning, "twist"), felt(rolling, "hub"), felt(load, "load"),
        washer_torque * (np.abs(rates) * np.abs(load)).sum(axis=1),
    )  # fmt: skip


def washer_arm(inner: float, outer: float, worn: bool) -> float:
    """Mean arm of the friction under a flat thrust washer.

    inner, outer : diameters of the rubbing ring, inner below outer [m]
    worn : True: worn in (uniform wear), False: new (uniform pressure)
    Returns the arm; friction torque = friction coefficient x load x arm [m].  Source: flat collar bearing, e.g. Shigley, Mechanical
    Engineering Design, clutches (from memory): (d_o^3 - d_i^3) / (3 (d_o^2 - d_i^2)) for uniform pressure, (d_o + d_i) / 4 for wear.
    """
    if worn:
        return (outer + inner) / 4
    return (outer**3 - inner**3) / (3 * (outer**2 - inner**2))


def step_force(load: float, radius: float, height: float) -> float:
    """Horizontal force at the hub that just lifts a rigid wheel over a step, taken slowly.

    load : on the wheel [N]; radius : of the wheel, above the height [m]; height : of the step, 0 or more [m]
    Returns the force [N].  Source: Halliday, Resnick and Walker, Fundamentals of Physics, ch. 12: W sqrt(2 r h - h^2) / (r - h).
    A soft tyre lessens it.
    """
    return load * sqrt(2 * radius * height - height**2) / (radius - height)


def speed_kept(radius: float, height: float, spin: float) -> float:
    """Share of its speed that a rolling wheel keeps when it meets a step, without bounce.

    radius, height : as for `step_force` [m]
    spin : the wheel's inertia about its axle over (mass on the hub, its own included) x radius^2: 1 for a hoop and 1/2 for a disc
        that carry nothing, near 0 for a light wheel under a car [-]
    Returns 1 - h / (r (1 + spin)) [-]; its square is the share of the energy.  Source: angular momentum about the step's edge is
    kept, m v (r - h) + I v / r before, (m r + I / r) v' after; classical mechanics, derived here.
    """
    return 1 - height / (radius * (1 + spin))


def step_impulse(load: float, radius: float, height: float, speed: float, spin: float) -> float:
    """Horizontal impulse of a wheel that meets a step, without bounce.

    load : on the wheel [N]; radius, height : as for `step_force` [m]; speed : before the step [m/s]; spin : as for `speed_kept` [-]
    Returns the impulse [N s].  Source: derived here: the hub carries the mass load / g; after the step it moves about the edge with
    `speed_kept` of its speed, of which the share (r - h) / r points forwards.  An upper bound: a tyre gives way.
    """
    return load / GRAVITY * speed * (1 - speed_kept(radius, height, spin) * (1 - height / radius))


@dataclass(frozen=True)
class HandModel:
    """What holds the steering: the driver's hands as spring and damper at the hand wheel, and all that swings."""

    stiffness: float  # [N m/rad]
    damping: float  # [N m s/rad]
    inertia: float  # of hand wheel and arms [kg m2]
    wheel_mass: float  # of one front wheel [kg]


@dataclass(frozen=True)
class Kick:
    """What one wheel's meeting a step does."""

    hand_torque: float  # of the slow step's force [N m]
    force: float  # horizontal force of the slow step [N]
    impulse: float  # of the step at speed, slow force included [N s]
    peak_hand: float  # largest turn of the hand wheel [rad]
    peak_steer: float  # largest change of the equivalent steer [rad]
    off_line: float  # of the mass centre after one second [m]


def steering_inertia(steering: Steering, hands: HandModel) -> float:
    """Inertia that swings with the hand wheel, straight ahead.

    steering : Steering; hands : HandModel
    Returns it as felt at the hand wheel [kg m2].  Source: each wheel as a hoop about its diameter, m r^2 / 2, set off by its hub's
    arm, and the square of the swing rate; mechanics.
    """
    rates = swing_rates(steering, np.zeros(1))[0]
    inertia = hands.inertia
    for rate, wheel in zip(rates, steering.wheels, strict=True):
        inertia += rate**2 * hands.wheel_mass * (wheel.radius**2 / 2 + levers(wheel).hub ** 2)
    return float(inertia)


def kick(
    steering: Steering, steering_ratio: float, hands: HandModel, load: float, height: float, speed: float, wheelbase: float,
    rear_arm: float,
) -> Kick:  # fmt: skip
    """One front wheel, the left, meets a step straight ahead.

    steering : Steering; steering_ratio : hand angle per equivalent steer [-]; hands : HandModel
    load : on the wheel [N]; height : of the step [m]; speed : [m/s]
    wheelbase, rear_arm : l and the mass centre's distance from the rear axle [m]
    Returns Kick.  The force lasts while the wheel climbs, sqrt(2 r h - h^2) / v, as half a sine with the impulse's area; the
    steering answers as I h'' + c h' + k h = torque, up to its lock, the car as a rolling bicycle.  Source: linear mechanics, derived here.
    """
    from scipy.integrate import solve_ivp

    wheel = steering.wheels[LEFT]
    force = step_force(load, wheel.radius, height)
    climb = sqrt(2 * wheel.radius * height - height**2) / speed
    # The slow force falls evenly to nothing while the wheel climbs, so half of it times the climb is its impulse.
    # All of the wheel's mass in its rim and tyre, as in `steering_inertia`; no wheel is heavier than what it carries, itself included.
    spin = min(hands.wheel_mass * GRAVITY / load, 1.0)
    impulse = step_impulse(load, wheel.radius, height, speed, spin) + 0.5 * force * climb
    arm = float(torque_arms(wheel, np.zeros(1)).hub[0] * swing_rates(steering, np.zeros(1))[0, LEFT])
    inertia, peak = steering_inertia(steering, hands), impulse * np.pi / (2 * climb)

    def rates(time: float, state: np.ndarray) -> list[float]:
        hand, hand_rate, heading, _ = state
        # Backward force on the left wheel: a torque of -arm times it.
        torque = -arm * peak * np.sin(np.pi * time / climb) if time < climb else 0.0
        steer = min(max(hand, steering.lock_right), steering.lock_left) / steering_ratio
        return [hand_rate, (torque - hands.damping * hand_rate - hands.stiffness * hand) / inertia,
                speed * steer / wheelbase, speed * (heading + rear_arm / wheelbase * steer)]  # fmt: skip

    step = min(climb / 20, 0.002)
    answer = solve_ivp(rates, (0.0, 1.0), np.zeros(4), max_step=step, rtol=1e-8, atol=1e-10)
    peak_hand = float(answer.y[0][np.argmax(np.abs(answer.y[0]))])
    peak_hand = min(max(peak_hand, steering.lock_right), steering.lock_left)
    return Kick(-arm * force, force, impulse, peak_hand, peak_hand / steering_ratio, float(answer.y[3, -1]))
