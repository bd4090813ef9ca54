"""The ladder of models: from a rolling bicycle to the slipping car, one set of formulas.

The two slipping rungs are the equations of `sim.lap.drive`; this room holds the two rolling ones, which need no time integration:
the car is exactly on the line at the planned speed, and what is left is geometry.
"""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from sim.car.chassis import GRAVITY, SOLID_AXLE, Car, kinematic_steer, wheel_loads
from sim.car.tyre import cornering_stiffness
from sim.course.centreline import Course
from sim.lap.ledger import Ledger
from sim.lap_tables import Hands, front_pose, hands_of
from sim.pace.driver import PacePlan
from sim.steering.table import SteerTable
from sim.turn.steady import rolling_guess

CURVATURES = 160  # curvatures at which a set-up's rolling turn is found; between them the slips are interpolated
WEIGHT_ROUNDS = 30  # the wheels' speeds weigh the squares; each round changes them by the square of the slips
SETTLED = 1e-13  # [-] change of the solution at which the rounds end
STEER_MISS = 1e-13  # [1/m] left between the wanted curvature and the one that the solved steer gives


class Rung(IntEnum):
    """Models from simple to full."""

    ROLLING_BICYCLE = 1
    SLIPPING_BICYCLE = 2
    ROLLING_FOUR_WHEELS = 3
    SLIPPING_FOUR_WHEELS = 4

    @property
    def label(self) -> str:
        """The rung's name in words."""
        return self.name.lower().replace("_", " ")


@dataclass(frozen=True)
class RollingTurn:
    """A turn of rigid wheels at walking pace; arrays are (4,) in the order of `chassis.WHEELS`."""

    steer: float  # equivalent single-track steer [rad]
    sideslip: float  # [rad]
    slips: np.ndarray  # lateral slips [rad]
    drive_slips: np.ndarray  # of a solid axle's wheels, else 0 [-]
    wheel_speeds: np.ndarray  # forward speeds of the contact points as shares of the mass centre's speed [-]
    scrub: float  # slip loss per metre of the mass centre's path [N]
    lateral: np.ndarray  # each wheel's part of it [N]
    longitudinal: np.ndarray


def rolling_turn(car: Car, table: SteerTable | None, curvature: float) -> RollingTurn:
    """The turn of wheels that cannot all roll at once: turning centre and speed ratios that lose least.

    car : Car
    table : SteerTable of the set-up, None for the rolling bicycle, whose wheels all roll
    curvature : of the mass centre's path, positive to the left [1/m]
    Returns a RollingTurn.  Raises ValueError where the lock is too small.
    Source: weighted least squares of the side speeds v_yi with weights C_i / |v_xi| (and on a solid axle of V - v_xi with
    c_x N_i / |v_xi|) in the side speed, the yaw velocity and V, the weights renewed until they settle; the normal equations are the
    balances of side force and yaw moment at no speed; derived here.  What drives against the scrub itself is left out, which is of
    second order in the angles: on a solid axle in a tight bend it shows (0.7 % at 8 m radius).
    """
    if table is None:
        return _bicycle_turn(car, curvature)
    hands = hands_of(table)
    steer = _steer_for(car, hands, curvature)
    vy, _, state = _least_loss(car, hands, steer)
    speed = float(np.hypot(1.0, vy))
    forward, side, stiffness, drive_stiffness, axle = state
    slips = -side / np.abs(forward)
    drive_slips = np.where(drive_stiffness > 0, axle / forward - 1.0, 0.0)
    lateral = stiffness * slips**2 * np.abs(forward) / speed
    longitudinal = drive_stiffness * drive_slips**2 * np.abs(forward) / speed
    return RollingTurn(
        steer, float(np.arctan(vy)), slips, drive_slips, forward / speed, float(lateral.sum() + longitudinal.sum()), lateral, longitudinal
    )


def _bicycle_turn(car: Car, curvature: float) -> RollingTurn:
    steer, sideslip = kinematic_steer(curvature, car)
    rear = np.cos(sideslip)
    speeds = np.array([rear / np.cos(steer)] * 2 + [rear] * 2)
    nothing = np.zeros(4)
    return RollingTurn(steer, sideslip, nothing, nothing, speeds, 0.0, nothing, nothing)


def _least_loss(car: Car, hands: Hands, steer: float):
    """Side speed, yaw velocity (at unit forward speed) and wheel state that lose least at a steer."""
    steers, rates, x, y, cambers, loads = (np.empty(4) for _ in range(6))
    front_pose(hands, car, steer, 0.0, steers, rates, x, y, cambers)
    wheel_loads(x, y, car.mass * GRAVITY, 0.0, 0.0, car.height, loads)
    nominal = car.mass * GRAVITY / 4
    tyres = (car.front_tyre, car.front_tyre, car.rear_tyre, car.rear_tyre)
    stiffness = np.array([cornering_stiffness(tyre, load, nominal) for tyre, load in zip(tyres, loads, strict=True)])
    solid = car.drive == SOLID_AXLE
    drive = np.array([0.0, 0.0, loads[2], loads[3]]) * (car.rear_tyre.drive_stiffness if solid else 0.0)
    # Side and forward speed of each contact point are linear in (1, vy, r).
    side = np.stack([-np.sin(steers), np.cos(steers), np.sin(steers) * y + np.cos(steers) * x], axis=1)
    forward = np.stack([np.cos(steers), np.sin(steers), np.sin(steers) * x - np.cos(steers) * y], axis=1)
    solution = np.array([0.0, 0.0, 1.0])
    for _ in range(WEIGHT_ROUNDS):
        moved = np.array([1.0, solution[0], solution[1]])
        weight = 1.0 / np.abs(forward @ moved)
        rows = [np.sqrt(stiffness * weight)[:, None] * np.column_stack([side[:, 1:], np.zeros(4)])]
        right = [-np.sqrt(stiffness * weight) * side[:, 0]]
        if solid:
            rows.append(np.sqrt(drive * weight)[2:, None] * np.column_stack([-forward[2:, 1:], np.ones(2)]))
            right.append(np.sqrt(drive * weight)[2:] * forward[2:, 0])
        else:
            rows.append(np.array([[0.0, 0.0, 1.0]]))
            right.append(np.array([1.0]))
        new = np.linalg.lstsq(np.concatenate(rows), np.concatenate(right), rcond=None)[0]
        change = np.abs(new - solution).max()
        solution = new
        if change < SETTLED:
            break
    moved = np.array([1.0, solution[0], solution[1]])
    return float(solution[0]), float(solution[1]), (forward @ moved, side @ moved, stiffness, drive, solution[2])


def _steer_for(car: Car, hands: Hands, curvature: float) -> float:
    """The steer at which the turn that loses least has a curvature; secant method from the rolling bicycle's steer."""

    def miss(steer: float) -> float:
        vy, yaw_rate, _ = _least_loss(car, hands, steer)
        return yaw_rate / float(np.hypot(1.0, vy)) - curvature

    first = float(rolling_guess(car, hands, curvature)[1])
    second = first + (1e-4 if first < 0.5 * (hands.least + hands.most) else -1e-4)
    here, there = miss(first), miss(second)
    for _ in range(40):
        if abs(there) <= STEER_MISS or there == here:
            break
        third = second - there * (second - first) / (there - here)
        third = min(max(third, hands.least), hands.most)
        if third == second:
            break
        first, here, second = second, there, third
        there = miss(second)
    if abs(there) > 1e-9:
        raise ValueError("the lock is too small for this radius")
    return second


@dataclass(frozen=True)
class RollingLap:
    """A lap on the line at the planned speed; arrays run along the course's stations."""

    ledger: Ledger
    time: float  # [s]
    steer: np.ndarray  # (n,) [rad]
    sideslip: np.ndarray  # (n,) [rad]
    slips: np.ndarray  # (n, 4) [rad]
    scrub: np.ndarray  # (n, 4) slip loss per metre [N]
    drive: np.ndarray  # (n,) drive force, negative where the brakes hold [N]


def rolling_lap(car: Car, table: SteerTable | None, course: Course, plan: PacePlan) -> RollingLap:
    """A lap of a rolling rung, by a sum over the stations.

    car, table : as for `rolling_turn`; course : Course; plan : PacePlan on its stations
    Returns a RollingLap.  Raises ValueError where the lock is too small for the course.
    Source: the energy balance of each step, dE_k + dE_height + air + rolling + scrub = drive - brakes; the work is summed by the
    trapezium rule, so the ledger closes by construction and has no residual to show.
    """
    low, high = float(course.curvature.min()), float(course.curvature.max())
    grid = np.linspace(low, high, CURVATURES) if high - low > 1e-12 else np.array([low, low + 1e-9])
    turns = [rolling_turn(car, table, float(curvature)) for curvature in grid]

    def along(pick) -> np.ndarray:
        values = np.array([pick(turn) for turn in turns])
        if values.ndim == 1:
            return np.interp(course.curvature, grid, values)
        return np.column_stack([np.interp(course.curvature, grid, column) for column in values.T])

    speeds, lateral, longitudinal = along(lambda t: t.wheel_speeds), along(lambda t: t.lateral), along(lambda t: t.longitudinal)
    slips, drive_slips = along(lambda t: t.slips), along(lambda t: t.drive_slips)
    loads = np.empty(4)
    half = 0.5 * np.array([car.front_track, -car.front_track, car.rear_track, -car.rear_track])
    lengthwise = np.array([car.front_arm] * 2 + [car.front_arm - car.wheelbase] * 2)
    wheel_loads(lengthwise, half, car.mass * GRAVITY, 0.0, 0.0, car.height, loads)
    coefficient = np.array([car.front_tyre.rolling_resistance] * 2 + [car.rear_tyre.rolling_resistance] * 2)
    step = np.diff(course.station)

    def total(per_metre: np.ndarray) -> np.ndarray:
        return 0.5 * (per_metre[1:] + per_metre[:-1]) * (step if per_metre.ndim == 1 else step[:, None])

    energy = 0.5 * car.mass * plan.speed**2 + 0.5 * car.yaw_inertia * (plan.speed * course.curvature) ** 2
    air = total(0.5 * car.air_density * car.drag_area * plan.speed**2)
    rolling = total((coefficient * loads * np.abs(speeds)).sum(axis=1))
    lateral_steps, longitudinal_steps = total(lateral), total(longitudinal)
    height = car.mass * GRAVITY * np.diff(course.height)
    needed = np.diff(energy) + height + air + rolling + lateral_steps.sum(axis=1) + longitudinal_steps.sum(axis=1)
    ledger = Ledger(
        drive_work=float(np.maximum(needed, 0).sum()), hand_work=0.0, kinetic=float(energy[-1] - energy[0]),
        air=float(air.sum()), rolling=float(rolling.sum()), brakes=float(np.maximum(-needed, 0).sum()), height=float(height.sum()),
        lateral=lateral_steps.sum(axis=0), longitudinal=longitudinal_steps.sum(axis=0), aligning=0.0, deflection=0.0,
        rub=total(np.hypot(slips, drive_slips) * np.abs(speeds)).sum(axis=0),
    )  # fmt: skip
    force = np.interp(course.station, 0.5 * (course.station[1:] + course.station[:-1]), needed / step)
    return RollingLap(
        ledger, plan.time, along(lambda t: t.steer), along(lambda t: t.sideslip), slips, lateral + longitudinal, force
    )
