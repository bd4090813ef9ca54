"""The turn of rigid wheels, which can't all roll at once: turning centre and speed ratios that lose least."""

from dataclasses import dataclass

import numpy as np

from sim.car.chassis import GRAVITY, SOLID_AXLE, Car, kinematic_steer, wheel_loads
from sim.car.tyre import cornering_stiffness
from sim.steering.cells import SteerCells, front_pose, steer_cells_of
from sim.steering.table import SteerTable
from sim.turn.steady import rolling_guess

WEIGHT_ROUNDS = 30  # the wheels' speeds weigh the squares; each round changes them by the square of the slips
SETTLED = 1e-13  # [-] change of the solution at which the rounds end
STEER_MISS = 1e-13  # [1/m] left between the wanted curvature and the one that the solved steer gives


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
    steer_cells = steer_cells_of(table)
    steer = _steer_for(car, steer_cells, curvature)
    vy, _, state = _least_loss(car, steer_cells, steer)
    speed = float(np.hypot(1.0, vy))
    forward, side, stiffness, drive_stiffness, axle = state
    slips = -side / np.abs(forward)
    drive_slips = np.where(drive_stiffness > 0, axle / forward - 1.0, 0.0)
    lateral = stiffness * slips**2 * np.abs(forward) / speed
    longitudinal = drive_stiffness * drive_slips**2 * np.abs(forward) / speed
    return RollingTurn(
        steer, float(np.arctan(vy)), slips, drive_slips, forward / speed, float(lateral.sum() + longitudinal.sum()), lateral, longitudinal
    )


# Forward and side speed, stiffness and drive stiffness of each wheel at unit forward speed, (4,) each, and the axle's peripheral speed.
WheelState = tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, float]


def _bicycle_turn(car: Car, curvature: float) -> RollingTurn:
    steer, sideslip = kinematic_steer(curvature, car)
    rear = np.cos(sideslip)
    speeds = np.array([rear / np.cos(steer)] * 2 + [rear] * 2)
    nothing = np.zeros(4)
    return RollingTurn(steer, sideslip, nothing, nothing, speeds, 0.0, nothing, nothing)


def _least_loss(car: Car, steer_cells: SteerCells, steer: float) -> tuple[float, float, WheelState]:
    """Side speed, yaw velocity (at unit forward speed) and wheel state that lose least at a steer."""
    steers, rates, x, y, cambers, loads = (np.empty(4) for _ in range(6))
    front_pose(steer_cells, car, steer, 0.0, steers, rates, x, y, cambers)
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


def _steer_for(car: Car, steer_cells: SteerCells, curvature: float) -> float:
    """The steer at which the turn that loses least has a curvature; secant method from the rolling bicycle's steer."""

    def miss(steer: float) -> float:
        vy, yaw_rate, _ = _least_loss(car, steer_cells, steer)
        return yaw_rate / float(np.hypot(1.0, vy)) - curvature

    first = float(rolling_guess(car, steer_cells, curvature)[1])
    second = first + (1e-4 if first < 0.5 * (steer_cells.least + steer_cells.most) else -1e-4)
    here, there = miss(first), miss(second)
    for _ in range(40):
        if abs(there) <= STEER_MISS or there == here:
            break
        third = second - there * (second - first) / (there - here)
        third = min(max(third, steer_cells.least), steer_cells.most)
        if third == second:
            break
        first, here, second = second, there, third
        there = miss(second)
    if abs(there) > 1e-9:
        raise ValueError("the lock is too small for this radius")
    return second
