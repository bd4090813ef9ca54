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
from sim.turn.held import held_turn
from sim.turn.steady import SteadyTurn, steady_turn
from viz.replay.run_data import Replay
from viz.shared.files import write_new

KINDS = (*LINKAGES, TURNTABLE)
CURVE_POINTS = 61
RADII, SPEEDS = (1.5, 100.0), (0.2, 12.0)
WIDER, WIDENINGS = 1.25, 12  # a first turn that cannot be driven steadily is made so much wider, so often


class Dial(NamedTuple):
    """One number that can be changed."""

    key: str
    label: str
    unit: str
    step: float


RADIUS, SPEED = Dial("radius_m", "turn's radius", "m", 0.5), Dial("speed_m_per_s", "turn's speed", "m/s", 0.2)
TURN_DIALS = (RADIUS, SPEED)


class Bend(NamedTuple):
    """A bend of a course, as it was driven."""

    radius: float  # positive to the left [m]
    speed: float  # [m/s]


class Turn(NamedTuple):
    """The steady turn that the hand wheel sets, and what others do in the same."""

    curvature: float  # of the mass centre's path, positive to the left; NaN where there is no such turn [1/m]
    own: SteadyTurn
    ideal: SteadyTurn | None  # of ideal steering without toe; None where there is no turn
    before: SteadyTurn | None  # of the set-up before it was changed; None where it was not, or there is no turn


class Support(NamedTuple):
    """What the car stands on in plan, from the middle of the front axle (x ahead, y left) [m], and how near it is to tipping."""

    points: np.ndarray  # (4, 2) contact points, front left, front right, rear left, rear right
    edge: tuple[float, float]  # where it would tip, away from the turn's centre
    load: tuple[float, float] | None  # where its weight acts in the turn; None where there is no turn
    tips: float  # acceleration towards the centre at which it would tip [m/s2]
    stub_tips: float  # ... on stub axles with ideal steering in the same turn; NaN where there is none [m/s2]
    takes: float  # acceleration that the turn takes; NaN where there is none [m/s2]


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

    def __init__(self, scenario: Scenario, bend: Bend, first: int | None = None) -> None:
        """scenario : Scenario; bend : to begin in; first : set-up to begin with, None for the first that has rods."""
        self.scenario, self.car = scenario, car_of(scenario)
        self.problem, self.hand, self.speed = "", 0.0, min(max(bend.speed, SPEEDS[0]), SPEEDS[1])
        self.ideal = sampled(ideal_setup(), scenario.car, "bench", "ideal")
        self._turn: tuple[tuple[Any, ...], Turn] | None = None
        self._pose: tuple[Built, Pose] | None = None
        if first is None:
            first = next((index for index, setup in enumerate(scenario.setup) if setup.kind.rods), None)
        self.index = first if first is not None else -1  # of the run's set-up that was chosen last
        self.example = False  # whether what is shown is a linkage of usual size that the run does not have
        self.built = self.start = self._build(scenario.setup[max(self.index, 0)])
        if first is None:
            self.choose_kind(next(name for name, kind in catalogue.KINDS.items() if kind.rods))
        radius = bend.radius
        for _ in range(WIDENINGS):
            if self._steer_to(1 / radius):
                break
            radius *= WIDER

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
        if dial == SPEED:
            return self.speed
        return self.radius if dial == RADIUS else float(self.built.setup.value_of(dial.key) or 0.0)

    @property
    def radius(self) -> float:
        """Of the turn, of a rolling car where there is no steady one; infinite straight ahead [m]."""
        curvature = self.turn.curvature
        if np.isnan(curvature):
            steering, long = self.built.steering, self.car.wheelbase
            steer = float(equivalent_steer(steering.front_wheels(np.array([self.hand])).steer, steering.kingpin_y, long)[0])
            curvature = tan(steer) / hypot(long, (long - self.car.front_arm) * tan(steer))
        return abs(1 / curvature) if curvature else np.inf

    def turn_dial(self, dial: Dial, steps: float) -> None:
        """Change a number; another radius turns the hand wheel.  dial : Dial; steps : how many of its steps."""
        value = round(min(self.value(dial), RADII[1] if dial == RADIUS else np.inf) / dial.step + steps) * dial.step
        if dial == SPEED:
            self.speed = min(max(value, SPEEDS[0]), SPEEDS[1])
        elif dial == RADIUS:
            side, radius = -1.0 if self.turn.curvature < 0 else 1.0, min(max(value, RADII[0]), RADII[1])
            turn = steady_turn(self.car, self.built.table, side * radius, self.speed)
            self.problem = "" if turn.converged else f"No turn of {radius:g} m at {self.speed:g} m/s: {turn.reason}"
            if turn.converged:
                self.turn_hand(turn.hand - self.hand)
        else:
            self.change({dial.key: round(value, 6)})

    def _steer_to(self, curvature: float) -> bool:
        """Turn the hand wheel so that the car goes round a turn, if it can.  curvature : [1/m]."""
        turn = steady_turn(self.car, self.built.table, 1 / curvature if curvature else np.inf, self.speed)
        if turn.converged:
            self.turn_hand(turn.hand - self.hand)
        return turn.converged

    def change(self, keys: dict[str, Any]) -> None:
        """Try other values; what cannot be built leaves everything as it was, and `problem` says why.  keys : of a SetupTable."""
        kept = {key: value for key, value in self.built.setup.model_dump(exclude_none=True).items() if key in self.built.setup.keys_read}
        self._try(kept | keys)

    def kind_beside(self, steps: int) -> str:
        """The name of another linkage in the order of KINDS.  steps : from this one on."""
        return KINDS[(KINDS.index(self.kind) + steps) % len(KINDS)]

    @property
    def next_setup(self) -> SetupTable:
        """The run's set-up after the one that was chosen last."""
        return self.scenario.setup[(self.index + 1) % len(self.scenario.setup)]

    def choose_kind(self, kind: str) -> None:
        """Another linkage in the same turn: the run's own set-up where it has one, else one of usual size.  kind : of KINDS."""
        curvature = self.turn.curvature
        for index, setup in enumerate(self.scenario.setup):
            if setup.kind.name == kind:
                self.index, self.example = index, False
                self._accept(setup)
                break
        else:
            self.example = True
            pivot = {"pivot": TURNTABLE} if kind == TURNTABLE else {"pivot": "stub axles", "linkage": kind}
            self._try({"name": kind, **pivot, **{key.name: key.usual for key in catalogue.KINDS[kind].needs}})
        self._begin(curvature)

    def choose_setup(self, index: int) -> None:
        """One of the run's set-ups, in the same turn.  index : in the scenario."""
        curvature = self.turn.curvature
        self.index, self.example = index % len(self.scenario.setup), False
        self._accept(self.scenario.setup[self.index])
        self._begin(curvature)

    def _begin(self, curvature: float) -> None:
        """Changes are told from here on; the hand wheel stands as the turn needs it, which differs from linkage to linkage."""
        self.start = self.built
        if not np.isnan(curvature):
            self._steer_to(curvature)

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
    def stub_arm(self) -> float:
        """Lever arm of a knock on a front wheel of this car about its kingpin, on stub axles [m]."""
        return abs(levers(self.ideal.steering.wheels[LEFT]).hub)

    @property
    def hand_step(self) -> float:
        """A handy turn of the hand wheel [rad]."""
        return (self.built.steering.lock_left - self.built.steering.lock_right) / 60

    def pose(self) -> Pose:
        """Everything in plan at the present hand angle; worked out once, for every part of the page asks for it."""
        if self._pose is None or self._pose[0] is not self.built or self._pose[1].hand != self.hand:
            self._pose = self.built, self._stand()
        return self._pose[1]

    def _stand(self) -> Pose:
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

    @property
    def changed(self) -> bool:
        """Whether the set-up differs from the one that was chosen last."""
        return self.built.setup != self.start.setup

    @property
    def turn(self) -> Turn:
        """The steady turn that the hand wheel sets at the chosen speed."""
        wanted = (self.built.setup, self.start.setup, self.hand, self.speed)
        if self._turn is None or self._turn[0] != wanted:
            held = held_turn(self.car, self.built.table, self.hand, self.speed)
            ideal = before = None
            if held.turn.converged:
                radius = 1 / held.curvature if held.curvature else np.inf
                ideal = steady_turn(self.car, self.ideal.table, radius, self.speed)
                before = steady_turn(self.car, self.start.table, radius, self.speed) if self.changed else None
            self._turn = (wanted, Turn(held.curvature, held.turn, ideal, before))
        return self._turn[1]

    def support(self, pose: Pose) -> Support:
        """What the car stands on, and how near the turn brings it to tipping outwards.  pose : Pose."""
        car, steering, turn = self.car, self.built.steering, self.turn
        back = np.array([[-car.wheelbase, car.rear_track / 2], [-car.wheelbase, -car.rear_track / 2]])
        points = np.concatenate([pose.contacts, back])
        if turn.own.converged:
            sideslip = turn.own.sideslip
        else:
            steer = float(equivalent_steer(pose.steer[None], steering.kingpin_y, car.wheelbase)[0])
            sideslip = atan2((car.wheelbase - car.front_arm) * tan(steer), car.wheelbase)
        left = pose.turns_left if not turn.own.converged else turn.curvature >= 0
        x, y, outwards = points[:, 0] + car.front_arm, points[:, 1], 1.0 if left else -1.0
        away = outwards * sin(sideslip), -outwards * cos(sideslip)
        reach, tips = support_reach(x, y, *away), tip_limit(x, y, car.height, left, sideslip)
        stub_tips = np.nan
        if turn.ideal is not None and turn.ideal.converged:
            stand = self.ideal.steering.front_wheels(np.array([turn.ideal.hand]))
            stub_x, stub_y = np.concatenate([[stand.x[0], stand.y[0]], back.T], axis=1)
            stub_tips = tip_limit(stub_x + car.front_arm, stub_y, car.height, left, turn.ideal.sideslip)
        takes = self.speed**2 * abs(turn.curvature)
        edge = (reach * away[0] - car.front_arm, reach * away[1])
        moved = reach * takes / tips if tips > 0 else np.nan
        load = (moved * away[0] - car.front_arm, moved * away[1]) if np.isfinite(moved) else None
        return Support(points, edge, load, tips, stub_tips, takes)

    def save(self, folder: Path, stem: str) -> Path:
        """Write the set-up as a piece of a scenario, beside earlier ones.  folder : where; stem : how its name begins.

        Returns the file.  Raises InputError where it can't be written.
        """
        for number in range(1, 1000):
            path = folder / f"{stem}-bench-{number:02d}.toml"
            try:
                write_new(path, fragment(self.built.setup, f"from the bench {number}"))
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


def tightest_bend(replay: Replay) -> Bend:
    """The tightest bend of a run's course, and how fast the first set-up that came so far drove it.  replay : Replay."""
    course = replay.course
    place = int(np.argmax(np.abs(course.curvature)))
    station, curvature = float(course.station[place]), float(course.curvature[place])
    drive = next((one for one in replay.drives if one.station[-1] >= station), replay.drives[0])
    radius = 1 / curvature if abs(curvature) > 1 / RADII[1] else RADII[1]
    radius = float(np.copysign(min(max(abs(radius), RADII[0]), RADII[1]), radius))
    return Bend(radius, float(np.interp(station, drive.station, drive.speed)))
