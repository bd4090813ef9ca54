"""What the linkages are made of: an arm's joint, a rod, a law for the two angles."""

from collections.abc import Callable
from dataclasses import dataclass
from math import cos, inf, pi, radians, sin
from typing import Protocol

import numpy as np

from sim.scenario.setup import SetupTable
from sim.scenario.tables import MILLIMETRE
from sim.linkages.pivots import LEFT, RIGHT, SIDES, SIGNS, FrontWheel, angle_where, cross, rotated

# Sine of the angle between an arm and its rod straight ahead.  At 0.001 (0.06 degrees) the play of a thread alone would
# throw the wheel by degrees, so such a sketch is a slip of the pen and not a linkage.
LEAST_LEVERAGE = 1e-3
LEAST_ROD = 1 * MILLIMETRE  # a rod shorter than this is none


class UnbuildableError(Exception):
    """A linkage that cannot be put together straight ahead.

    key : the scenario's key that is to blame
    problem : what is wrong, in plain words
    remedy : what to do
    """

    def __init__(self, key: str, problem: str, remedy: str):
        super().__init__(problem)
        self.key, self.problem, self.remedy = key, problem, remedy


class Linkage(Protocol):
    """How the hand wheel swings the front wheels."""

    @property
    def hand_limit(self) -> float:
        """The hand wheel's usual limit, to both sides [rad]."""

    @property
    def farthest(self) -> float:
        """Hand angle, to both sides, within which a rod and its arm could come in line [rad]."""

    @property
    def rod_lengths(self) -> dict[str, float]:
        """Each rod's length between the middles of its joints, by its name [m]; none for a law or a turntable."""

    def rod_angles(self, hand: np.ndarray, swing: np.ndarray) -> np.ndarray:
        """Angle between each wheel's arm and its rod, see `Rod.angle`; a right angle where there is no rod.

        hand : (n,) [rad]; swing : (n, 2), as `swings` gives it [rad]
        Returns (n, 2), left and right [rad].
        """

    def swings(self, hand: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Swing of the left and the right wheel.

        hand : (n,) [rad]
        Returns (swing, reach), (n, 2) each: [rad], and [-] below 0 where the linkage cannot go.
        """


class WithoutRods:
    """What a linkage that has no rods says about them."""

    @property
    def rod_lengths(self) -> dict[str, float]:
        """None."""
        return {}

    @property
    def farthest(self) -> float:
        """Nothing can come in line [rad]."""
        return 0.0

    def rod_angles(self, hand, swing):
        return np.full(np.shape(swing), pi / 2)


@dataclass(frozen=True, eq=False)
class SteerLaw(WithoutRods):
    """Wheels that follow a formula instead of rods.

    wheels : the left and the right wheel
    law : hand (n,) [rad] to the steer angles of both, before toe, (n, 2) [rad]
    toe_in : of each wheel [rad]
    end : hand angle at which the law ends, to both sides [rad]
    """

    wheels: tuple[FrontWheel, FrontWheel]
    law: Callable[[np.ndarray], np.ndarray]
    toe_in: float
    end: float = inf
    hand_limit: float = radians(60)

    def swings(self, hand):
        steer = self.law(np.clip(hand, -self.end, self.end))
        parts = [self.wheels[i].swing_for(steer[:, i] + static_steer(i, self.toe_in)) for i in (LEFT, RIGHT)]
        swing, reach = (np.stack(part, axis=1) for part in zip(*parts, strict=True))
        return swing, np.where(np.abs(hand)[:, None] <= self.end, reach, -1.0)


def static_steer(side: int, toe_in: float) -> float:
    """Steer angle of a wheel straight ahead: toe-in turns its leading edge inwards.

    side : LEFT or RIGHT
    toe_in : of each wheel [rad]
    Returns the angle, left positive [rad].
    """
    return -SIGNS[side] * toe_in


def static_swing(side: int, wheel: FrontWheel, toe_in: float) -> float:
    """Swing at which a wheel stands at its static toe.

    side : LEFT or RIGHT
    wheel : FrontWheel
    toe_in : of each wheel [rad]
    Returns the swing [rad].
    """
    return float(wheel.swing_for(np.array([static_steer(side, toe_in)]))[0][0])


def joint_height(setup: SetupTable, wheel: FrontWheel) -> float:
    """Height of the arms' joints straight ahead.

    setup : SetupTable
    wheel : either front wheel
    Returns the height [m]; left out, it is the wheel's radius.
    """
    return wheel.radius if setup.arm_joint_height_mm is None else setup.arm_joint_height_mm * MILLIMETRE


def arm_joint(setup: SetupTable, side: int, wheel: FrontWheel) -> np.ndarray:
    """The ball joint of a wheel's arm, wheel at swing 0.

    setup : SetupTable with an arm
    side : LEFT or RIGHT
    wheel : FrontWheel
    Returns (3,) [m].  Raises UnbuildableError where the arm reaches across the middle of the car.
    """
    # the scenario has checked
    assert setup.arm_length_mm is not None
    assert setup.arm_angle_deg is not None
    length, angle = setup.arm_length_mm * MILLIMETRE, radians(setup.arm_angle_deg)
    joint = wheel.axis_at(joint_height(setup, wheel)) + length * np.array([-cos(angle), -SIGNS[side] * sin(angle), 0.0])
    beyond = -SIGNS[side] * joint[1]
    if beyond >= 0:
        raise UnbuildableError(
            "arm_angle_deg",
            f"the arms cross the middle of the car: each joint stands {abs(beyond) / MILLIMETRE:.1f} mm beyond it",
            "make the angle smaller or the arms shorter",
        )
    return joint


@dataclass(frozen=True, eq=False)
class Rod:
    """A rod from a moving point to the ball joint of a wheel's arm.

    wheel : FrontWheel
    joint : (3,) the arm's joint at swing 0 [m]
    length : of the rod [m]
    branch : which of the two positions, +1 or -1 [-]
    sideways_rate : swing for each metre that the moving point moves left, straight ahead [rad/m]
    """

    wheel: FrontWheel
    joint: np.ndarray
    length: float
    branch: float
    sideways_rate: float

    def swing(self, point: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The wheel's swing for places of the moving point.

        point : (n, 3) [m]
        Returns (swing, reach), (n,) each: [rad], and [-] below 0 where the rod cannot reach.
        Source: derived here: the joint's distance from the point is the rod's length; with the joint split along and
        across the kingpin axis this is A cos d + B sin d = C.
        """
        arm, axis = self.joint - self.wheel.axis_point, self.wheel.axis
        seen = point - self.wheel.axis_point
        lift = axis @ arm
        across = arm - lift * axis
        target = (arm @ arm + (seen * seen).sum(axis=1) - self.length**2) / 2 - lift * (seen @ axis)
        return angle_where(seen @ across, seen @ cross(axis, arm), target, self.branch)

    def angle(self, point: np.ndarray, swing: np.ndarray) -> np.ndarray:
        """The transmission angle: between rod and arm, seen along the kingpin axis, so that 0 is where the rod turns the wheel no more.

        point : (n, 3) of the rod's other end [m]
        swing : (n,) of the wheel [rad]
        Returns the angle (n,): 90 degrees at best, 0 in line, below 0 beyond [rad].  Source: the term of mechanism textbooks (Balli and
        Chand, Mechanism and Machine Theory 37, 2002, reviews it); here the angle of two vectors without their parts along the axis.
        """
        axis, arm, seen = self.wheel.axis, self.joint - self.wheel.axis_point, point - self.wheel.axis_point
        across = arm - (axis @ arm) * axis
        ahead, aside, cosine, sine = seen @ across, seen @ cross(axis, arm), np.cos(swing), np.sin(swing)
        # Products of the swung arm with the rod, both without their parts along the axis: the vector product and the scalar one.
        turning, along = aside * cosine - ahead * sine, ahead * cosine + aside * sine - across @ across
        return np.arctan2(-self.branch * turning, np.abs(along))


def fitted_rod(
    side: int, wheel: FrontWheel, joint: np.ndarray, swing: float, point: np.ndarray, turns: float, setup: SetupTable
) -> Rod:
    """The rod that holds a wheel at a swing when its moving point stands at a place, then turned longer or shorter.

    side : LEFT or RIGHT
    wheel : FrontWheel
    joint : (3,) the arm's joint at swing 0 [m]
    swing : at which the rod is fitted [rad]
    point : (3,) where the moving point then stands [m]
    turns : of the rod ends; positive lengthens the rod [-]
    setup : SetupTable, for the thread's pitch
    Returns Rod.  Raises UnbuildableError where rod and arm are in line, or there is no length left.
    """
    arm = rotated(joint - wheel.axis_point, wheel.axis, np.array([swing]))[0]
    motion = cross(wheel.axis, arm)  # of the joint, for each radian of swing
    rod = wheel.axis_point + arm - point
    length = float(np.linalg.norm(rod))
    leverage = float(rod @ motion)
    if length < LEAST_ROD or abs(leverage) < LEAST_LEVERAGE * length * float(np.linalg.norm(motion)):
        raise UnbuildableError(
            "arm_angle_deg",
            f"straight ahead the {SIDES[side]} rod and arm are in line, so the rod cannot turn the wheel",
            "change the arm's angle, or move the point that drives the rod",
        )
    turned = length + turns * setup.thread_pitch_mm * MILLIMETRE
    if turned < LEAST_ROD:
        raise UnbuildableError(
            turned_key(side, setup),
            f"so many turns leave nothing of the {SIDES[side]} rod, which is {length / MILLIMETRE:.0f} mm long",
            "turn it less, or give a finer thread",
        )
    return Rod(wheel, joint, turned, float(np.sign(leverage)), float(rod[1]) / leverage)


def turned_key(side: int, setup: SetupTable) -> str:
    """The key of the rod end that was turned: that of the side if it was, else that of the other.

    side : LEFT or RIGHT
    setup : SetupTable
    Returns the key.
    """
    keys = ("rod_turns_left", "rod_turns_right")
    return keys[side] if getattr(setup, keys[side]) else keys[1 - side]


@dataclass(frozen=True, eq=False)
class TwoRods:
    """A rod to each wheel, their moving points moved alike.

    rods : of the left and the right wheel
    points : (3,) each, where the two moving points stand straight ahead [m]
    path : hand (n,) [rad] to the displacement of both points (n, 3) [m]
    """

    rods: tuple[Rod, Rod]
    points: tuple[np.ndarray, np.ndarray]
    path: Callable[[np.ndarray], np.ndarray]
    hand_limit: float
    farthest: float

    @property
    def rod_lengths(self) -> dict[str, float]:
        """Both rods' [m]."""
        return {f"{name} rod": rod.length for name, rod in zip(SIDES, self.rods, strict=True)}

    def rod_angles(self, hand, swing):
        moved = self.path(hand)
        ends = zip(self.rods, self.points, swing.T, strict=True)
        return np.stack([rod.angle(point + moved, turned) for rod, point, turned in ends], axis=1)

    def swings(self, hand):
        moved = self.path(hand)
        parts = [rod.swing(point + moved) for rod, point in zip(self.rods, self.points, strict=True)]
        swing, reach = (np.stack(part, axis=1) for part in zip(*parts, strict=True))
        return swing, reach


def two_rods(
    setup: SetupTable,
    wheels: tuple[FrontWheel, FrontWheel],
    points: tuple[np.ndarray, np.ndarray],
    path: Callable[[float], Callable[[np.ndarray], np.ndarray]],
    hand_limit: float,
    farthest: float,
) -> TwoRods:
    """Fit a rod to each wheel from points that move alike, and let a positive hand angle steer left.

    setup : SetupTable with arms
    wheels : the left and the right wheel
    points : (3,) each, where the moving points stand straight ahead [m]
    path : direction, +1 where a positive hand moves the points to the left, else -1, to the path that TwoRods wants
    hand_limit : the hand wheel's usual limit [rad]
    farthest : hand angle within which a rod and its arm could come in line [rad]
    Returns TwoRods.  Raises UnbuildableError where a rod cannot be fitted, or the points' motion does not turn the
    wheels.
    """
    rods = []
    for side, turns in ((LEFT, setup.rod_turns_left), (RIGHT, setup.rod_turns_right)):
        wheel = wheels[side]
        joint, swing = arm_joint(setup, side, wheel), static_swing(side, wheel, setup.toe_in)
        rods.append(fitted_rod(side, wheel, joint, swing, points[side], turns, setup))
    left, right = rods
    # How far each wheel turns while its rod's inner end moves by an arm's length; as for leverage, too little is none.
    geared = [rod.sideways_rate * (setup.arm_length_mm or 0.0) * MILLIMETRE for rod in rods]
    if min(geared) < LEAST_LEVERAGE and max(geared) > -LEAST_LEVERAGE:
        raise UnbuildableError(
            "arm_angle_deg",
            "straight ahead a rod lies along the car, so moving its end sideways does not turn the wheel",
            "change the arms' angle or the place of the rods' inner ends",
        )
    direction = float(np.sign(left.sideways_rate))
    return TwoRods((left, right), points, path(direction), hand_limit, farthest)
