"""What `corner` finds: the steady turn of every set-up, wheel by wheel, and on every rung of the ladder of models."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import degrees

import numpy as np

from sim.car.chassis import WHEELS, single_track
from sim.car.motion import BodyColumn, WheelColumn
from sim.errors import InputError
from sim.lap.ladder import Model
from sim.lap.trace import pose_columns
from sim.scenario.scenario import Scenario
from sim.steering.table import merged_table
from sim.study.hand_torque import held_turn
from sim.study.ready import Entry, car_of
from sim.study.summary import known
from sim.turn.causes import Cause
from sim.turn.rolling import rolling_turn
from sim.turn.steady import SteadyTurn, steady_turn

SMALLEST_RADIUS, LARGEST_RADIUS = 0.5, 10_000.0  # [m] of a turn that is asked for
LEAST_SPEED, MOST_SPEED = 0.01, 40.0  # [m/s]


@dataclass(frozen=True)
class WheelTurn:
    """One wheel in a steady turn.

    steer_deg : its angle, positive to the left [deg]
    slip_deg : its slip angle, positive where the tyre pushes to the left [deg]
    load_N : upward on it [N]
    lateral_force_N, longitudinal_force_N : to its left and ahead [N]
    slip_loss_W : power that its slip takes [W]
    """

    steer_deg: float
    slip_deg: float
    load_N: float
    lateral_force_N: float
    longitudinal_force_N: float
    slip_loss_W: float


@dataclass(frozen=True)
class CornerTurn:
    """One set-up's steady turn; figures are None where there is no such turn.

    name : of the set-up
    converged : whether there is such a turn
    reason : the limit that was met where there is none
    hand_deg : angle of the hand wheel [deg]
    sideslip_deg : direction of travel of the mass centre against the car's axis [deg]
    drive_force_N : of the driven wheels [N]
    scrub_W, aligning_W : power lost by slip and by aligning moments [W]
    wheels : each wheel by its key
    hand_torque_by_law_N_m : torque that the hands hold, by each law of the tyre, None where it has no such turn [N m]
    """

    name: str
    converged: bool
    reason: Cause | None
    hand_deg: float | None
    sideslip_deg: float | None
    drive_force_N: float | None
    scrub_W: float | None
    aligning_W: float | None
    wheels: Mapping[str, WheelTurn] | None
    hand_torque_by_law_N_m: Mapping[str, float | None] | None


@dataclass(frozen=True)
class RungTurn:
    """The turn on one rung of the ladder; figures are None where it has no such turn.

    model : name of the rung
    steer_left_deg, steer_right_deg : of the front wheels [deg]
    sideslip_deg : as in `CornerTurn` [deg]
    scrub_W : power lost by slip [W]
    """

    model: str
    steer_left_deg: float | None = None
    steer_right_deg: float | None = None
    sideslip_deg: float | None = None
    scrub_W: float | None = None


@dataclass(frozen=True)
class LadderTurn(CornerTurn):
    """A set-up's steady turn with the same turn on every rung.

    ladder : from the rolling bicycle up
    """

    ladder: tuple[RungTurn, ...]


@dataclass(frozen=True)
class CornerResult:
    """What `corner` finds.

    radius_m : of the mass centre's path, positive to the left [m]
    speed_m_per_s : of the mass centre [m/s]
    setups : in the scenario's order, a LadderTurn each where the ladder was asked for
    """

    radius_m: float
    speed_m_per_s: float
    setups: tuple[CornerTurn, ...]


def check_turn(radius: float, speed: float, radius_name: str, speed_name: str) -> None:
    """Raise InputError for a steady turn that no car of this kind drives.

    radius : positive to the left [m]; speed [m/s]; radius_name, speed_name : what they are called where they were written
    """
    if not SMALLEST_RADIUS <= abs(radius) <= LARGEST_RADIUS:
        problem = f"{radius:g} is not between {SMALLEST_RADIUS:g} and {LARGEST_RADIUS:.0f} in size"
        raise InputError(radius_name, "", problem, "give the radius in metres, positive to the left")
    if not LEAST_SPEED <= speed <= MOST_SPEED:
        raise InputError(
            speed_name, "", f"{speed:g} is not between {LEAST_SPEED:g} and {MOST_SPEED:g}", "give the speed in metres per second"
        )


def corner_result(scenario: Scenario, entries: Sequence[Entry], radius: float, speed: float, ladder: bool) -> CornerResult:
    """The steady turn of every set-up.

    scenario, entries : the car and its set-ups; radius : positive to the left [m]; speed [m/s]; ladder : add the other rungs
    Returns CornerResult.
    """
    car = car_of(scenario)
    setups: list[CornerTurn] = []
    for entry in entries:
        turn = steady_turn(car, entry.table, radius, speed)
        told = _told(scenario, entry, turn, radius, speed)
        setups.append(LadderTurn(**vars(told), ladder=_ladder(scenario, entry, turn, radius, speed)) if ladder else told)
    return CornerResult(radius, speed, tuple(setups))


def _told(scenario: Scenario, entry: Entry, turn: SteadyTurn, radius: float, speed: float) -> CornerTurn:
    loss = turn.wheels[:, WheelColumn.LATERAL_LOSS] + turn.wheels[:, WheelColumn.LONGITUDINAL_LOSS]
    wheels = {
        wheel: WheelTurn(
            steer_deg=degrees(turn.steers[i]),
            slip_deg=degrees(np.arctan(turn.slips[i])),
            load_N=float(turn.wheels[i, WheelColumn.LOAD]),
            lateral_force_N=float(turn.wheels[i, WheelColumn.LATERAL]),
            longitudinal_force_N=float(turn.wheels[i, WheelColumn.LONGITUDINAL]),
            slip_loss_W=float(loss[i]),
        )
        for i, wheel in enumerate(WHEELS)
    }
    ok, held = turn.converged, held_turn(scenario, entry, radius, speed)
    return CornerTurn(
        name=entry.name,
        converged=ok,
        reason=turn.reason or None,
        hand_deg=known(degrees(turn.hand)),
        sideslip_deg=known(degrees(turn.sideslip)),
        drive_force_N=known(turn.drive_force),
        scrub_W=float(loss.sum()) if ok else None,
        aligning_W=float(turn.body[BodyColumn.ALIGNING_POWER]) if ok else None,
        wheels=wheels if ok else None,
        hand_torque_by_law_N_m=held.total_by_law_N_m if held else None,
    )


def _ladder(scenario: Scenario, entry: Entry, turn: SteadyTurn, radius: float, speed: float) -> tuple[RungTurn, ...]:
    """The same turn on every rung: what each assumption changes."""
    car = car_of(scenario)
    rungs = []
    for rung in Model:
        if rung in (Model.ROLLING_BICYCLE, Model.ROLLING_FOUR_WHEELS):
            try:
                rolling = rolling_turn(car, entry.table if rung == Model.ROLLING_FOUR_WHEELS else None, 1 / radius)
            except ValueError:
                rungs.append(RungTurn(rung.label))
                continue
            steers = _front_steers(entry, rolling.steer) if rung == Model.ROLLING_FOUR_WHEELS else (rolling.steer, rolling.steer)
            sideslip, scrub = rolling.sideslip, rolling.scrub * speed
        else:
            merged = rung == Model.SLIPPING_BICYCLE
            one = steady_turn(single_track(car), merged_table(entry.table), radius, speed) if merged else turn
            if not one.converged:
                rungs.append(RungTurn(rung.label))
                continue
            steers, sideslip = (one.steers[0], one.steers[1]), one.sideslip
            scrub = float((one.wheels[:, WheelColumn.LATERAL_LOSS] + one.wheels[:, WheelColumn.LONGITUDINAL_LOSS]).sum())
        rungs.append(RungTurn(rung.label, degrees(steers[0]), degrees(steers[1]), degrees(sideslip), scrub))
    return tuple(rungs)


def _front_steers(entry: Entry, steer: float) -> tuple[float, float]:
    _, wheels = pose_columns(entry.table, np.array([steer]))
    return float(wheels[0, 0]), float(wheels[0, 1])
