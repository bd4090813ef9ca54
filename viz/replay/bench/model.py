"""The steering bench without its picture: a set-up that can be changed, and what it then does."""

from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, sin, tan
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import tomli_w
from pydantic import ValidationError

from sim.car.chassis import support_reach, tip_limit
from sim.car.motion import WheelColumn
from sim.errors import InputError
from sim.linkages import catalogue
from sim.linkages.catalogue import LINKAGES, TURNTABLE
from sim.linkages.pivots import LEFT, SIGNS
from sim.linkages.rolling import equivalent_steer
from sim.scenario.scenario import Scenario
from sim.scenario.setup import SetupTable
from sim.scenario.tables import MILLIMETRE, TableError
from sim.steering.angles import AngleRows, angle_rows
from sim.steering.arrangement import Steering, build_steering, ideal_setup
from sim.steering.kickback import levers
from sim.steering.table import SteerTable, sampled, steer_table
from sim.study.dangers import Dangers, dangers_of
from sim.study.ready import car_of
from sim.turn.steady import SteadyTurn, steady_turn

KINDS = (*LINKAGES, TURNTABLE)
CURVE_POINTS = 61
RADII, SPEEDS = (1.5, 100.0), (0.2, 12.0)


class Dial(NamedTuple):
    """One number that can be changed."""

    key: str
    label: str
    unit: str
    step: float


TURN_DIALS = (Dial("radius_m", "turn's radius", "m", 0.5), Dial("speed_m_per_s", "turn's speed", "m/s", 0.2))


class Pose(NamedTuple):
    """Where everything stands at a hand angle; places (x ahead, y left) from the middle of the front axle [m]."""

    hand: float  # [rad]
    steer: np.ndarray  # (2,) left, right [rad]
    contacts: np.ndarray  # (2, 2) of the front wheels
    pins: np.ndarray  # (2, 2) kingpins at the arms' height; a turntable's pivot twice
    joints: np.ndarray | None  # (2, 2) ball joints of the arms
    rods: tuple[tuple[np.ndarray, np.ndarray], ...]  # both ends of each
    bars: tuple[tuple[np.ndarray, np.ndarray], ...]  # both ends of what moves the rods
    rod_angles: np.ndarray | None  # (2,) between each arm and its rod, None where there are none [rad]
    least_rod_angle: float  # at which the usable lock ends [rad]
    ideal_inner: float  # for the outer wheel's angle [rad]
    error: float  # size of the inner wheel's angle less that of its ideal [rad]
    turns_left: bool


@dataclass(frozen=True)
class Built:
    """A set-up put together."""

    setup: SetupTable
    steering: Steering
    table: SteerTable
    outer: np.ndarray  # (n,) signed angle of the outer wheel, right turns negative [rad]
    errors: np.ndarray  # (n,) as in Pose [rad]
    hub_arm: float  # lever arm of a knock on a front wheel about its pivot [m]
    dangers: Dangers  # where a stop belongs


class BenchModel:
    """A set-up to play with, and a steady turn to try it in."""

    def __init__(self, scenario: Scenario, first: int = 0) -> None:
        self.scenario, self.car = scenario, car_of(scenario)
        self.problem, self.hand, self.radius, self.speed = "", 0.0, 4.0, 2.0
        self.ideal_table = sampled(ideal_setup(), scenario.car, "bench", "ideal").table
        self.built = self.start = self._build(scenario.setup[first])
        self._turn: tuple[tuple[Any, ...], SteadyTurn, SteadyTurn] | None = None

    @property
    def kind(self) -> str:
        """The linkage, or "turntable"."""
        return self.built.setup.kind.name

    @property
    def dials(self) -> tuple[Dial, ...]:
        """What can be changed about the set-up and the turn."""
        return (*(Dial(key.name, *key.dial) for key in self.built.setup.kind.dials if key.dial is not None), *TURN_DIALS)

    def value(self, dial: Dial) -> float:
        """What a dial shows [its unit].  dial : Dial."""
        if dial in TURN_DIALS:
            return self.radius if dial.key == "radius_m" else self.speed
        return float(self.built.setup.value_of(dial.key) or 0.0)

    def turn_dial(self, dial: Dial, steps: float) -> None:
        """Change a number.  dial : Dial; steps : how many of its steps."""
        value = round(self.value(dial) / dial.step + steps) * dial.step
        if dial.key == "radius_m":
            self.radius = min(max(value, RADII[0]), RADII[1])
        elif dial.key == "speed_m_per_s":
            self.speed = min(max(value, SPEEDS[0]), SPEEDS[1])
        else:
            self.change({dial.key: round(value, 6)})

    def change(self, keys: dict[str, Any]) -> None:
        """Try other values; what cannot be built leaves everything as it was, and `problem` says why.  keys : of a SetupTable."""
        kept = {key: value for key, value in self.built.setup.model_dump(exclude_none=True).items() if key in self.built.setup.keys_read}
        self._try(kept | keys)

    def choose_kind(self, kind: str) -> None:
        """Another linkage: the run's own set-up where it has one, else one of usual size.  kind : of KINDS."""
        for setup in self.scenario.setup:
            if setup.kind.name == kind:
                self._accept(setup)
                break
        else:
            pivot = {"pivot": TURNTABLE} if kind == TURNTABLE else {"pivot": "stub axles", "linkage": kind}
            self._try({"name": kind, **pivot, **{key.name: key.usual for key in catalogue.KINDS[kind].needs}})
        self.start = self.built

    def choose_setup(self, index: int) -> None:
        """One of the run's set-ups.  index : in the scenario."""
        self._accept(self.scenario.setup[index % len(self.scenario.setup)])
        self.start = self.built

    def _try(self, keys: dict[str, Any]) -> None:
        try:
            setup = SetupTable.model_validate(keys)
        except ValidationError as error:
            fault = error.errors()[0]
            own = fault.get("ctx", {}).get("error")
            key, what = (own.key, own.problem) if isinstance(own, TableError) else (" ".join(map(str, fault["loc"])), fault["msg"])
            self.problem = f"{key}: {what}".replace("_", " ").lower()
            return
        self._accept(setup)

    def _accept(self, setup: SetupTable) -> None:
        try:
            self.built = self._build(setup)
        except InputError as error:
            self.problem = str(error).partition(": ")[2]
            return
        self.problem = ""
        self.turn_hand(0.0)

    def start_over(self) -> None:
        """Back to the set-up that was chosen last."""
        self._accept(self.start.setup)

    def _build(self, setup: SetupTable) -> Built:
        steering = build_steering(setup, self.scenario.car, "bench", setup.name)
        rows = angle_rows(steering, self.scenario.car, np.linspace(steering.lock_right, steering.lock_left, CURVE_POINTS))
        sign = np.where(_turns_left(rows), 1.0, -1.0)
        outer = np.where(sign > 0, rows.right, rows.left)
        arm = abs(levers(steering.wheels[LEFT]).hub)
        return Built(setup, steering, steer_table(steering, self.car.wheelbase), outer, sign * rows.error, arm, dangers_of(steering))

    def turn_hand(self, by: float) -> None:
        """Turn the hand wheel, as far as it goes.  by : positive to the left [rad]."""
        steering = self.built.steering
        self.hand = min(max(self.hand + by, steering.lock_right), steering.lock_left)

    @property
    def hand_step(self) -> float:
        """A handy turn of the hand wheel [rad]."""
        return (self.built.steering.lock_left - self.built.steering.lock_right) / 60

    def pose(self) -> Pose:
        """Everything in plan at the present hand angle."""
        steering, hand = self.built.steering, np.array([self.hand])
        wheels = steering.front_wheels(hand)
        row = angle_rows(steering, self.scenario.car, hand)
        left = bool(_turns_left(row)[0])
        pins = np.array([wheel.axis_point[:2] for wheel in steering.wheels])
        drawing = steering.mechanism.drawn(self.hand, wheels.swing[0])
        contacts = np.stack([wheels.x[0], wheels.y[0]], axis=1)
        error = float(row.error[0]) * (1 if left else -1)
        angles = steering.mechanism.rod_angles(hand, wheels.swing)[0] if drawing.rods else None
        return Pose(
            self.hand, wheels.steer[0], contacts, pins, drawing.joints, drawing.rods, drawing.bars, angles, steering.least_rod_angle,
            float(row.ideal_inner[0]), error, left,
        )  # fmt: skip

    def arm_to(self, side: int, place: tuple[float, float]) -> None:
        """Put an arm's ball joint at a place, at the wheel's present swing; the other arm mirrors it.

        side : LEFT or RIGHT; place : x ahead, y left of the middle of the front axle [m]
        """
        wheel = self.built.steering.wheels[side]
        swing = float(self.built.steering.front_wheels(np.array([self.hand])).swing[0, side])
        dx, dy = place[0] - wheel.axis_point[0], place[1] - wheel.axis_point[1]
        dx, dy = cos(swing) * dx + sin(swing) * dy, cos(swing) * dy - sin(swing) * dx
        length, angle = hypot(dx, dy), atan2(-SIGNS[side] * dy, -dx)
        self.change({"arm_length_mm": float(round(length / MILLIMETRE)), "arm_angle_deg": round(degrees(angle), 1)})

    def steady(self) -> tuple[SteadyTurn, SteadyTurn]:
        """The steady turn to the left at the chosen radius and speed, of this set-up and of ideal steering."""
        wanted = (self.built.setup, self.radius, self.speed)
        if self._turn is None or self._turn[0] != wanted:
            own, ideal = (steady_turn(self.car, table, self.radius, self.speed) for table in (self.built.table, self.ideal_table))
            self._turn = (wanted, own, ideal)
        return self._turn[1], self._turn[2]

    def support(self, pose: Pose) -> tuple[np.ndarray, tuple[float, float], float]:
        """What the car stands on, and how near it is to tipping outwards.  pose : Pose.

        Returns the four contact points (4, 2), the place on their edge that lies away from the turn's centre [m], and the acceleration
        towards the centre at which the car would tip [m/s2].
        """
        car, steering = self.car, self.built.steering
        back = np.array([[-car.wheelbase, car.rear_track / 2], [-car.wheelbase, -car.rear_track / 2]])
        points = np.concatenate([pose.contacts, back])
        steer = float(equivalent_steer(pose.steer[None], steering.kingpin_y, car.wheelbase)[0])
        sideslip = atan2((car.wheelbase - car.front_arm) * tan(steer), car.wheelbase)
        x, y, outwards = points[:, 0] + car.front_arm, points[:, 1], 1.0 if pose.turns_left else -1.0
        away = outwards * sin(sideslip), -outwards * cos(sideslip)
        reach = support_reach(x, y, *away)
        return points, (reach * away[0] - car.front_arm, reach * away[1]), tip_limit(x, y, car.height, pose.turns_left, sideslip)

    def save(self, folder: Path, stem: str) -> Path:
        """Write the set-up as a piece of a scenario, beside earlier ones.  folder : where; stem : how its name begins.

        Returns the file.  Raises InputError where it can't be written.
        """
        for number in range(1, 1000):
            path = folder / f"{stem}-bench-{number:02d}.toml"
            try:
                with open(path, "x", encoding="utf-8", newline="\n") as stream:
                    stream.write(fragment(self.built.setup, f"from the bench {number}"))
            except FileExistsError:
                continue
            except OSError as error:
                raise InputError(str(path), "", f"the file can't be written ({error.strerror})", "go to another folder") from None
            return path
        raise InputError(str(folder), "", f"there are 999 files {stem}-bench already", "clear some away")


def fragment(setup: SetupTable, name: str) -> str:
    """A set-up as TOML to be pasted into a scenario.  setup : SetupTable; name : that it gets."""
    keys = setup.model_dump(mode="json", exclude_none=True, exclude_defaults=True) | {"name": name}
    return "# A set-up from the steering bench: paste it into a scenario.\n" + tomli_w.dumps({"setup": [keys]})


def slip_losses(turn: SteadyTurn) -> np.ndarray:
    """Rubbing power of each wheel (4,) [W].  turn : SteadyTurn."""
    return turn.wheels[:, WheelColumn.LATERAL_LOSS] + turn.wheels[:, WheelColumn.LONGITUDINAL_LOSS]


def _turns_left(rows: AngleRows) -> np.ndarray:
    return rows.left + rows.right >= 0
