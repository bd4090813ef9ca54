"""What the linkages are made of: an arm's joint, a rod, a law for the two angles, and what of them is drawn."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from math import cos, inf, pi, radians, sin
from typing import NamedTuple, Protocol

import numpy as np

from sim.keys import MILLIMETRE
from sim.linkages.closed_form import (
    NUMBERS,
    ROWS,
    Number,
    Turn,
    fit_rod,
    rod_swings,
    transmission_angles,
    turn_by_rod,
    turn_to_steer,
    write_rod,
)
from sim.linkages.front_end import ARM_ANGLE, ROD_TURNS, FrontEnd, RodEnds
from sim.linkages.laws import ShareLaw
from sim.linkages.mechanism import By, carried, turned_wheels
from sim.linkages.pivots import LEFT, RIGHT, SIDES, SIGNS, FrontWheel, rotated

# Sine of the angle between an arm and its rod straight ahead.  At 0.001 (0.06 degrees) the play of a thread alone would
# throw the wheel by degrees, so such a sketch is a slip of the pen and not a linkage.
LEAST_LEVERAGE = 1e-3
LEAST_ROD = 1 * MILLIMETRE  # a rod shorter than this is none
# Half the base of a difference that stands for a rate: rounding (1e-16) leaves 8 digits. [rad]
SLOPE_BASE = 1e-7
SCAN = 4000  # steps to the limit in the search for a lock; a gap narrower than a step would be overlooked
EVEN_SCAN = 200  # where there can be no gap, for the wheels only turn further: enough not to step over a wheel's turn about itself


class UnbuildableError(Exception):
    """A linkage that cannot be put together straight ahead.

    key : the scenario's key that is to blame
    problem : what is wrong, in plain words
    remedy : what to do
    """

    def __init__(self, key: str, problem: str, remedy: str):
        super().__init__(problem)
        self.key, self.problem, self.remedy = key, problem, remedy


class Drawing(NamedTuple):
    """A linkage seen from above; each place (2,) is x ahead, y left of the middle of the front axle [m]."""

    joints: np.ndarray | None = None  # (2, 2) ball joints of the left and the right arm, None where there are no arms [m]
    rods: tuple[tuple[np.ndarray, np.ndarray], ...] = ()  # both ends of each [m]
    bars: tuple[tuple[np.ndarray, np.ndarray], ...] = ()  # both ends of what else moves and moves the rods, with a joint at each [m]


class Linkage(Protocol):
    """How the hand wheel swings the front wheels."""

    @property
    def rods(self) -> "tuple[Rod, ...]":
        """The rods that somebody has to set: that of the left and that of the right wheel, or the one that joins both, or none."""

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

    @property
    def steps(self) -> int:
        """To the hand wheel's limit in the search for a lock, so many that none is stepped over [-]."""

    @property
    def numbers(self) -> np.ndarray | None:
        """Both wheels and what turns them as kernels read it, (2, NUMBERS) by `Number` [m or -]; None where `turning` has to be asked."""

    def turning(self, hand: np.ndarray) -> np.ndarray:
        """How both wheels are turned: what `swings` and `rod_angles` say, without an angle, and the rates.

        hand : (n,) [rad]
        Returns (2, ROWS, n), rows of `Turn` of the left and the right wheel [-], [m2].
        """

    def drawn(self, hand: float, swing: np.ndarray) -> Drawing:
        """What is drawn of it, wherever a front end is shown from above.

        hand : [rad]; swing : (2,) of the left and the right wheel, as `swings` gives it [rad]
        Returns Drawing [m].
        """


class BySwings:
    """What follows from a linkage's swings and rod angles; those of this file know it in closed form."""

    numbers: None = None

    swings: Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]]
    rod_angles: Callable[[np.ndarray, np.ndarray], np.ndarray]

    @property
    def steps(self) -> int:
        """To the hand wheel's limit in the search for a lock [-]."""
        return SCAN

    def turning(self, hand: np.ndarray) -> np.ndarray:
        (swing, reach), (further, _), (before, _) = self.swings(hand), self.swings(hand + SLOPE_BASE), self.swings(hand - SLOPE_BASE)
        angles = self.rod_angles(hand, swing)
        rows = np.cos(swing), np.sin(swing), (further - before) / (2 * SLOPE_BASE), reach, np.sin(angles), np.cos(angles)
        return np.ascontiguousarray(np.stack(rows).transpose(2, 0, 1))


class ByTurning:
    """What follows from how a linkage turns the wheels; and that, where it is numbers that kernels read."""

    numbers: np.ndarray | None

    def turning(self, hand: np.ndarray) -> np.ndarray:
        return turned_wheels(self.numbers, np.ascontiguousarray(hand, dtype=float))

    def swings(self, hand: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        turns = self.turning(hand)
        return np.arctan2(turns[:, Turn.SINE], turns[:, Turn.COSINE]).T, turns[:, Turn.REACH].T


class WithoutRods(ByTurning):
    """What a linkage that has no rods says about them."""

    @property
    def rods(self) -> "tuple[Rod, ...]":
        """None."""
        return ()

    @property
    def rod_lengths(self) -> dict[str, float]:
        """None."""
        return {}

    @property
    def farthest(self) -> float:
        """Nothing can come in line [rad]."""
        return 0.0

    def rod_angles(self, hand: np.ndarray, swing: np.ndarray) -> np.ndarray:
        return np.full(np.shape(swing), pi / 2)

    def drawn(self, hand: float, swing: np.ndarray) -> Drawing:
        return Drawing()


@dataclass(frozen=True, eq=False)
class SteerLaw(WithoutRods):
    """Wheels that follow a formula instead of rods.

    wheels : the left and the right wheel
    law : ShareLaw; or hand (n,) [rad] to the steer angles of both, before toe, (n, 2) [rad]; its `motion`, where it has one, gives them
        and their rate with the hand angle (n, 2) [-], else differences stand for that
    toe_in : of each wheel [rad]
    end : hand angle at which the law ends, to both sides [rad]
    even : whether up to there both wheels only turn further, so that few steps find where it ends
    """

    wheels: tuple[FrontWheel, FrontWheel]
    law: ShareLaw | Callable[[np.ndarray], np.ndarray]
    toe_in: float
    end: float = inf
    hand_limit: float = radians(60)
    even: bool = False

    @property
    def steps(self) -> int:
        """To the hand wheel's limit in the search for its end [-]."""
        return EVEN_SCAN if self.even else SCAN

    @cached_property
    def numbers(self) -> np.ndarray | None:  # type: ignore[override]
        """Both wheels and their law as kernels read it; None where the law is one that they cannot read [m or -]."""
        if not isinstance(self.law, ShareLaw):
            return None
        numbers = np.stack([wheel.row for wheel in self.wheels])
        numbers[:, Number.BY], numbers[:, Number.END] = By.LAW, self.end
        numbers[:, Number.SHARE], numbers[:, Number.HALF], numbers[:, Number.MOST] = self.law.share, self.law.half_track, self.law.most_mean
        for side, row in enumerate(numbers):
            toe = static_steer(side, self.toe_in)
            row[Number.TOE_COSINE], row[Number.TOE_SINE] = cos(toe), sin(toe)
        return numbers

    def turning(self, hand: np.ndarray) -> np.ndarray:
        if self.numbers is not None:
            return super().turning(hand)
        assert not isinstance(self.law, ShareLaw)
        inside = hand if self.end == inf else np.clip(hand, -self.end, self.end)
        steer, rate = motion_of(self.law, inside)
        turns = np.empty((2, ROWS, len(hand)))
        for side, (wheel, turn) in enumerate(zip(self.wheels, turns, strict=True)):
            turn_to_steer(wheel.row, steer[:, side] + static_steer(side, self.toe_in), np.ascontiguousarray(rate[:, side]), turn)
        if self.end < inf:
            turns[:, Turn.REACH, np.abs(hand) > self.end] = -1.0
        return turns


def motion_of(function: Callable[[np.ndarray], np.ndarray], hand: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """A linkage's path or law, and its rate with the hand angle: by its `motion`, where it has one, else by differences.

    function : hand (n,) [rad] to places or angles (n, m) [m or rad]; hand : (n,) [rad]
    Returns (places or angles, rates), (n, m) each [m or rad], [m/rad or -].
    """
    motion: Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]] | None = getattr(function, "motion", None)
    if motion is not None:
        return motion(hand)
    return function(hand), (function(hand + SLOPE_BASE) - function(hand - SLOPE_BASE)) / (2 * SLOPE_BASE)


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


def joint_height(front: FrontEnd, side: int = LEFT) -> float:
    """Height of an arm's joint straight ahead.

    front : FrontEnd with arms
    side : LEFT or RIGHT
    Returns the height [m]; left out, it is the wheel's radius.
    """
    height = front.arms[side].joint_height
    return front.wheels[side].radius if height is None else height


def arm_joint(front: FrontEnd, side: int) -> np.ndarray:
    """The ball joint of a wheel's arm, wheel at swing 0.

    front : FrontEnd with arms
    side : LEFT or RIGHT
    Returns (3,) [m].  Raises UnbuildableError where the arm reaches across the middle of the car.
    """
    arm, wheel = front.arms[side], front.wheels[side]
    joint = wheel.axis_at(joint_height(front, side)) + arm.length * np.array([-cos(arm.angle), -SIGNS[side] * sin(arm.angle), 0.0])
    beyond = -SIGNS[side] * joint[1]
    if beyond >= 0:
        raise UnbuildableError(
            ARM_ANGLE,
            f"the arms cross the middle of the car: each joint stands {abs(beyond) / MILLIMETRE:.1f} mm beyond it",
            "make the angle smaller or the arms shorter",
        )
    return joint


def moved_joint(wheel: FrontWheel, joint: np.ndarray, swing: np.ndarray) -> np.ndarray:
    """Where an arm's joint stands after a swing of its wheel.

    wheel : FrontWheel
    joint : (3,) at swing 0 [m]
    swing : (n,) [rad]
    Returns (n, 3) [m].
    """
    return wheel.axis_point + rotated(joint - wheel.axis_point, wheel.axis, swing)


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
        Source: `rod_parts`.
        """
        return rod_swings(self.row, point)

    def angle(self, point: np.ndarray, swing: np.ndarray) -> np.ndarray:
        """The transmission angle: between rod and arm, seen along the kingpin axis, so that 0 is where the rod turns the wheel no more.

        point : (n, 3) of the rod's other end [m]
        swing : (n,) of the wheel [rad]
        Returns the angle (n,): 90 degrees at best, 0 in line, below 0 beyond [rad].  Source: the term of mechanism textbooks (Balli and
        Chand, Mechanism and Machine Theory 37, 2002, reviews it); here the angle of two vectors without their parts along the axis.
        """
        return transmission_angles(self.row, point, np.ascontiguousarray(swing))

    @cached_property
    def row(self) -> np.ndarray:
        """The wheel with its rod as kernels read it: (NUMBERS,) by `Number` [m or -]."""
        row = self.wheel.row.copy()
        write_rod(row, self.joint, self.length, self.branch)
        row[Number.BY] = By.ROD
        return row


def fitted_rod(side: int, wheel: FrontWheel, joint: np.ndarray, swing: float, point: np.ndarray, turns: float, ends: RodEnds) -> Rod:
    """The rod that holds a wheel at a swing when its moving point stands at a place, then turned longer or shorter.

    side : LEFT or RIGHT
    wheel : FrontWheel
    joint : (3,) the arm's joint at swing 0 [m]
    swing : at which the rod is fitted [rad]
    point : (3,) where the moving point then stands [m]
    turns : of the rod ends; positive lengthens the rod [-]
    ends : RodEnds, for the thread's pitch
    Returns Rod.  Raises UnbuildableError where rod and arm are in line, or there is no length left.
    """
    length, leverage, motion, sideways = fit_rod(wheel.row, joint, swing, point)
    if length < LEAST_ROD or abs(leverage) < LEAST_LEVERAGE * length * motion:
        raise UnbuildableError(
            ARM_ANGLE,
            f"straight ahead the {SIDES[side]} rod and arm are in line, so the rod cannot turn the wheel",
            "change the arm's angle, or move the point that drives the rod",
        )
    turned = length + turns * ends.pitch
    if turned < LEAST_ROD:
        raise UnbuildableError(
            turned_key(side, ends),
            f"so many turns leave nothing of the {SIDES[side]} rod, which is {length / MILLIMETRE:.0f} mm long",
            "turn it less, or give a finer thread",
        )
    return Rod(wheel, joint, turned, 1.0 if leverage > 0 else -1.0, sideways / leverage)


def turned_key(side: int, ends: RodEnds) -> str:
    """The key of the rod end that was turned: that of the side if it was, else that of the other.

    side : LEFT or RIGHT
    ends : RodEnds
    Returns the key.
    """
    return ROD_TURNS[side] if ends.turns[side] else ROD_TURNS[1 - side]


class Guide(NamedTuple):
    """What the rods' inner ends move along: about an axis, along a line, or both; from straight ahead by
    (cos(hand) - 1) across + sin(hand) sideways + hand slide.
    """

    across: tuple[float, float, float] = (0.0, 0.0, 0.0)  # from the axis to the end, straight ahead [m]
    sideways: tuple[float, float, float] = (0.0, 0.0, 0.0)  # where it stands a quarter turn on [m]
    slide: tuple[float, float, float] = (0.0, 0.0, 0.0)  # [m/rad]

    def write(self, row: np.ndarray, point: np.ndarray) -> None:
        """Enter it into the row of a wheel.  row : (NUMBERS,) by `Number`; point : (3,) where the rod's end stands straight ahead [m]."""
        row[Number.PATH : Number.PATH + 3] = point - self.across
        row[Number.PATH + 3 : Number.SLIDE + 3] = *self.across, *self.sideways, *self.slide

    def __call__(self, hand: np.ndarray) -> np.ndarray:
        """How far the ends have moved.  hand : (n,) [rad].  Returns (n, 3) [m]."""
        row = np.zeros(NUMBERS)
        self.write(row, np.zeros(3))
        return carried(row, np.ascontiguousarray(hand, dtype=float))


@dataclass(frozen=True, eq=False)
class TwoRods(ByTurning):
    """A rod to each wheel, their moving points moved alike.

    rods : of the left and the right wheel
    points : (3,) each, where the two moving points stand straight ahead [m]
    path : Guide; or hand (n,) [rad] to the displacement of both points (n, 3) [m]; its `motion`, where it has one, gives it and its rate
        with the hand angle (n, 3) [m/rad], else differences stand for that
    hand_limit : the hand wheel's usual limit, to both sides [rad]
    farthest : hand angle, to both sides, within which a dead centre is looked for [rad]
    end : hand angle, to both sides, at which what moves the points comes to its own stop [rad]
    """

    rods: tuple[Rod, Rod]
    points: tuple[np.ndarray, np.ndarray]
    path: Guide | Callable[[np.ndarray], np.ndarray]
    hand_limit: float
    farthest: float
    end: float = inf

    @cached_property
    def numbers(self) -> np.ndarray | None:  # type: ignore[override]
        """Both wheels with their rods as kernels read it; None where the path is one that they cannot read [m or -]."""
        if not isinstance(self.path, Guide):
            return None
        numbers = np.stack([rod.row for rod in self.rods])
        for row, point in zip(numbers, self.points, strict=True):
            self.path.write(row, point)
        numbers[:, Number.END] = self.end
        return numbers

    def _ends(self, hand: np.ndarray) -> list[np.ndarray]:
        """Where the inner ends of both rods stand, (n, 3) each [m]."""
        moved = self.path(np.clip(hand, -self.end, self.end))
        return [point + moved for point in self.points]

    @property
    def steps(self) -> int:
        """To the hand wheel's limit in the search for a lock [-]."""
        return SCAN

    def turning(self, hand: np.ndarray) -> np.ndarray:
        if self.numbers is not None:
            return super().turning(hand)
        inside = hand if self.end == inf else np.clip(hand, -self.end, self.end)
        assert not isinstance(self.path, Guide)
        moved, rate = motion_of(self.path, inside)
        turns = np.empty((2, ROWS, len(hand)))
        for rod, point, turn in zip(self.rods, self.points, turns, strict=True):
            turn_by_rod(rod.row, moved + point, rate, turn)
        if self.end < inf:
            turns[:, Turn.REACH, np.abs(hand) > self.end] = -1.0
        return turns

    @property
    def rod_lengths(self) -> dict[str, float]:
        """Both rods' [m]."""
        return {f"{name} rod": rod.length for name, rod in zip(SIDES, self.rods, strict=True)}

    def rod_angles(self, hand: np.ndarray, swing: np.ndarray) -> np.ndarray:
        ends = zip(self.rods, self._ends(hand), swing.T, strict=True)
        return np.stack([rod.angle(end, turned) for rod, end, turned in ends], axis=1)

    def drawn(self, hand: float, swing: np.ndarray) -> Drawing:
        joints = np.array([moved_joint(rod.wheel, rod.joint, turned)[0, :2] for rod, turned in zip(self.rods, swing[:, None], strict=True)])
        left, right = (end[0, :2] for end in self._ends(np.array([hand])))
        return Drawing(joints, ((joints[LEFT], left), (joints[RIGHT], right)), ((left, right),))


def two_rods(
    front: FrontEnd,
    points: tuple[np.ndarray, np.ndarray],
    path: Callable[[float], Guide | Callable[[np.ndarray], np.ndarray]],
    hand_limit: float,
    farthest: float,
    end: float = inf,
) -> TwoRods:
    """Fit a rod to each wheel from points that move alike, and let a positive hand angle steer left.

    front : FrontEnd with arms
    points : (3,) each, where the moving points stand straight ahead [m]
    path : direction, +1 where a positive hand moves the points to the left, else -1, to the path that TwoRods wants
    hand_limit : the hand wheel's usual limit, which a set-up's hand_wheel_limit_deg replaces [rad]
    farthest : hand angle within which a rod and its arm could come in line; it stops nothing [rad]
    end : hand angle at which what moves the points comes to its own stop, such as the end of a slot [rad]
    Returns TwoRods.  Raises UnbuildableError where a rod cannot be fitted, or the points' motion does not turn the
    wheels.
    """
    rods = []
    for side in (LEFT, RIGHT):
        wheel = front.wheels[side]
        joint, swing = arm_joint(front, side), static_swing(side, wheel, front.stance.toe_in)
        rods.append(fitted_rod(side, wheel, joint, swing, points[side], front.ends.turns[side], front.ends))
    left, right = rods
    # How far each wheel turns while its rod's inner end moves by an arm's length; as for leverage, too little is none.
    geared = [rod.sideways_rate * arm.length for rod, arm in zip(rods, front.arms, strict=True)]
    if min(geared) < LEAST_LEVERAGE and max(geared) > -LEAST_LEVERAGE:
        raise UnbuildableError(
            ARM_ANGLE,
            "straight ahead a rod lies along the car, so moving its end sideways does not turn the wheel",
            "change the arms' angle or the place of the rods' inner ends",
        )
    direction = float(np.sign(left.sideways_rate))
    return TwoRods((left, right), points, path(direction), hand_limit, farthest, end)
