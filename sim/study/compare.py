"""Compare the set-ups of a scenario: build each, drive it, keep its ledger beside the ideal one's."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import Enum, auto
from math import degrees, nan, radians
from pathlib import Path

import numpy as np

from sim.car.chassis import Car, characteristic_speed, single_track, understeer_gradient
from sim.course.centreline import Course
from sim.lap.drive import OFF_COURSE, Ended, Lap, drive_lap
from sim.lap.ladder import Model
from sim.lap.ledger import Ledger, causes, ledger_of
from sim.lap.rolling import rolling_lap
from sim.lap.state import Extreme, State
from sim.lap.trace import Trace, no_trace, time_at_lock, trace_of, trace_of_rolling
from sim.pace.driver import PacePlan, plan_pace
from sim.pace.policies import PacedPlan, plans_for_time
from sim.scenario.scenario import Scenario
from sim.scenario.setup import SetupTable
from sim.steering.arrangement import ideal_setup
from sim.steering.table import SteerTable, merged_table
from sim.study.dangers import Dangers, dangers_of
from sim.study.effort import Used
from sim.study.equivalents import NO_YARDSTICKS, Yardsticks, drive_yardstick, guesses
from sim.study.law_doubt import steady_costs
from sim.study.race import Race, RaceResult, furthest_pace, laps_on_charge, race_result
from sim.study.ready import Entry, car_of, check_lock, course_of, entries_of, make_entry, pace_of, race_of, steer_needed

SLOWEST_PACE, FASTEST_PACE = 1.0, 15.0  # [m/s] between which the best race pace is sought
# A car with more than this is none of the cars that a loss could be compared with.
MOST_ROLLING, MOST_TOE_DEG, MOST_MASS = 0.2, 15.0, 1500.0  # [-], [degrees], [kg]
NEAR_SPINNING = 0.75  # of the critical speed, from which no driver holds an oversteering car on tyres that take time; a judgement
NEARBY = 4.0  # [m] before and after the place where a lap ended: the bend that ended it


class EndCause(Enum):
    """Why a lap of a set-up has no figures."""

    NONE = auto()  # it has
    TIPPED = auto()
    STALLED = auto()  # not enough power
    WEAVED = auto()
    LEAKED = auto()
    BROKE_DOWN = auto()
    LOCK = auto()  # it does not turn enough for the bend
    SPINS = auto()  # its rear tyres give way sooner than the front ones
    GRIP = auto()  # not enough for the pace


@dataclass(frozen=True)
class SetupResult:
    """What one set-up did."""

    name: str
    ended: Ended
    cause: EndCause
    reason: str  # the cause with place and figures, in plain words; empty where it finished
    distance: float  # driven in all [m]
    time: float  # of the last timed lap, or until the end [s]
    ledger: Ledger | None  # None where it did not finish
    error_rms: float  # distance from the line [m]
    error_max: float
    least_load: float  # [N]; NaN where the model knows no loads
    peak_slips: np.ndarray  # (4,) lateral slip of greatest size, with its sign [rad]
    trace: Trace
    geometry_cost: float = nan  # drive work less that of ideal steering without toe [J]; NaN where either did not finish
    geometry_scrub: float = nan  # ... scrub less that [J]
    geometry_battery: float = nan  # ... battery energy less that [J]; NaN without a battery
    toe_cost: float = nan  # drive work less that with toe and rod turns set to nothing [J]; NaN where there is none of either
    straight: Used | None = None  # what a lap takes with toe and rod turns set to nothing; None where there is none of either
    laps_per_charge: float = nan  # NaN without a battery
    race: RaceResult | None = None
    own_pace: float = nan  # the target speed that gets this set-up furthest [m/s]; NaN where it was not sought
    own_distance: float = nan  # ... and how far [m]
    at_lock: float = 0.0  # of the last lap, time with the steering at the end of its usable lock [s]
    dangers: Dangers | None = None  # where its steering can snap over; None of the reference
    steady_costs: tuple[float, float] = (nan, nan)  # of the geometry, see `law_doubt.steady_costs` [J]; NaN where they are not known

    @property
    def finished(self) -> bool:
        """Whether it came round in a way that can be compared."""
        return self.ended == Ended.FINISHED


@dataclass(frozen=True)
class Comparison:
    """All set-ups of a scenario on its course, and the reference."""

    scenario: Scenario
    rung: Model
    car: Car
    course: Course
    plan: PacePlan
    results: tuple[SetupResult, ...]
    reference: SetupResult
    target: float  # target speed, sought or given [m/s]
    yardsticks: Yardsticks = NO_YARDSTICKS


def compare(
    scenario: Scenario, folder: Path, source: str, rung: Model = Model.SLIPPING_FOUR_WHEELS,
    progress: Callable[[int, int, str], None] = lambda done, of, name: None,
) -> Comparison:  # fmt: skip
    """Lap every set-up of a scenario.

    scenario : Scenario; folder : where a relative course file is looked for; source : the scenario's name in messages
    rung : of the ladder of models
    progress : called before each lap with the laps done, the laps in all and the set-up's name
    Returns a Comparison.  Raises InputError for what cannot be built or driven at all.
    """
    car = car_of(scenario)
    entries = entries_of(scenario, source)
    course = course_of(scenario, folder, source)
    check_lock(course, car, entries, source)
    ideal = make_entry(ideal_setup(), scenario, source, "reference")
    runs = Runs(car, course, rung, scenario.pace.laps, race_of(scenario))
    seeking = scenario.pace.target_m_per_s == "furthest"
    everyone, done = [ideal, *entries], 0
    straightened = [straight_entry(setup, scenario, source, setup.place) for setup in scenario.setup]
    steps = len(everyone) * (2 if seeking else 1) + sum(entry is not None for entry in straightened) + 1
    own: list[tuple[float, float]] = []
    progress(0, steps, ideal.name)  # all input has been checked by now, and nothing that takes long has been begun
    if seeking:
        for entry in everyone:
            progress(done, steps, f"best pace of {entry.name}")
            own.append(runs.furthest(entry, scenario))
            done += 1
        target = own[0][0]
    else:
        target = float(scenario.pace.target_m_per_s)
    plan = plan_pace(course, car, pace_of(scenario, target))
    results = []
    for entry in everyone:
        progress(done, steps, entry.name)
        results.append(runs.drive(entry, plan))
        done += 1
    if seeking:
        results = [replace(one, own_pace=pace, own_distance=far) for one, (pace, far) in zip(results, own, strict=True)]
    reference, *rest = results
    costed = []
    for one, entry, straight in zip(rest, entries, straightened, strict=True):
        used = None
        if straight is not None:
            progress(done, steps, f"{one.name}, without toe")
            used = used_by(runs.drive(straight, plan))
            done += 1
        toe = nan if used is None else work_of(one) - used.drive_work
        costed.append(replace(costed_against(one, reference), toe_cost=toe, straight=used, dangers=dangers_of(entry.steering)))
    if rung == Model.SLIPPING_FOUR_WHEELS:
        by_law = steady_costs(car, course, plan, [entry.table for entry in entries], ideal.table).T
        costed = [replace(one, steady_costs=(float(own), float(other))) for one, (own, other) in zip(costed, by_law, strict=True)]
    progress(done, steps, "what the losses are worth")
    sticks = yardsticks_of(runs, scenario, target, reference, costed)
    return Comparison(scenario, rung, car, course, plan, tuple(costed), reference, target, sticks)


def work_of(result: SetupResult) -> float:
    """Drive work of a lap [J]; NaN where it did not finish.  result : of the lap."""
    return result.ledger.drive_work if result.ledger else nan


def used_by(result: SetupResult) -> Used:
    """What a lap took [J], [-]; NaN throughout where it did not finish.  result : of the lap."""
    ledger, race = result.ledger, result.race
    if ledger is None:
        return Used(nan, nan, nan, nan, nan)
    battery = ledger.electric.battery if ledger.electric else nan
    return Used(ledger.drive_work, ledger.rolling, battery, result.laps_per_charge, race.laps if race else nan)


def costed_against(result: SetupResult, reference: SetupResult) -> SetupResult:
    """A result with what its geometry costs.  result, reference : of the same car, course and pace, the latter with ideal steering."""
    one, best = result.ledger, reference.ledger
    if one is None or best is None:
        return result
    electric = one.electric.battery - best.electric.battery if one.electric and best.electric else nan
    return replace(result, geometry_cost=one.drive_work - best.drive_work, geometry_scrub=one.scrub - best.scrub, geometry_battery=electric)


def straight_entry(setup: SetupTable, scenario: Scenario, source: str, place: str) -> Entry | None:
    """A set-up with what a spanner can change set to nothing: toe and rod turns; None where there is none of either.

    setup, scenario, source, place : as for `make_entry`
    """
    straight = without_toe(setup)
    return None if straight is None else make_entry(straight, scenario, source, place)


def without_toe(setup: SetupTable) -> SetupTable | None:
    """The table of a set-up with toe and rod turns set to nothing; None where there is none of either.  setup : SetupTable."""
    nothing = {"toe_in_deg": 0.0, "rod_turns_left": 0.0, "rod_turns_right": 0.0}
    if setup.pivot != "stub axles" or not any(getattr(setup, key) for key in nothing):
        return None
    return setup.model_copy(update={key: 0.0 for key in nothing if getattr(setup, key)})


def yardsticks_of(runs: "Runs", scenario: Scenario, target: float, reference: SetupResult, results: list[SetupResult]) -> Yardsticks:
    """The ideal car driven with more rolling resistance, toe and mass, so that every loss of a comparison can be held against it.

    runs : what the set-ups share; scenario : whose car, course and pace; target : speed on the straights [m/s]
    reference : the ideal car's lap; results : of the set-ups
    """
    ledger = reference.ledger
    if ledger is None:
        return NO_YARDSTICKS
    losses = [max(one.geometry_cost, *causes(one.ledger).values()) for one in results if one.ledger]
    most = max((loss for loss in losses if loss > 0), default=0.0)
    if most <= 0:
        return NO_YARDSTICKS
    car = runs.car

    def driven(changed: Car, setup: SetupTable) -> float:
        entry = make_entry(setup, scenario, "reference", "setup")
        return work_of(replace(runs, car=changed).drive(entry, plan_pace(runs.course, changed, pace_of(scenario, target))))

    def rolling(more: float) -> float:
        front, rear = (tyre._replace(rolling_resistance=tyre.rolling_resistance + more) for tyre in (car.front_tyre, car.rear_tyre))
        return driven(car._replace(front_tyre=front, rear_tyre=rear), ideal_setup())

    def toe(angle: float) -> float:
        return driven(car, ideal_setup().model_copy(update={"toe_in_deg": degrees(angle)}))

    def mass(more: float) -> float:
        return driven(car._replace(mass=car.mass + more), ideal_setup())

    guessed = guesses(most, car, ledger, runs.course.length)
    limits = (MOST_ROLLING, radians(MOST_TOE_DEG), MOST_MASS - car.mass)
    sticks = (
        drive_yardstick(work, ledger.drive_work, most, guess, power, limit)
        for work, guess, power, limit in zip((rolling, toe, mass), guessed, (1, 2, 1), limits, strict=True)
    )
    return Yardsticks(*sticks)


def target_of(scenario: Scenario, course: Course, source: str) -> float:
    """Speed on the straights of a study [m/s]; where it is to be sought, that which gets ideal steering furthest, as in `compare`.

    scenario : Scenario; course : its course; source : its name in messages
    """
    if scenario.pace.target_m_per_s != "furthest":
        return float(scenario.pace.target_m_per_s)
    runs = Runs(car_of(scenario), course, Model.SLIPPING_FOUR_WHEELS, scenario.pace.laps, race_of(scenario))
    return runs.furthest(make_entry(ideal_setup(), scenario, source, "reference"), scenario)[0]


@dataclass(frozen=True)
class PaceResult:
    """One way to drive, with one set-up."""

    paced: PacedPlan
    result: SetupResult


def compare_paces(scenario: Scenario, source: str, comparison: Comparison,
                  progress: Callable[[int, int, str], None] = lambda done, of, name: None) -> list[PaceResult]:  # fmt: skip
    """Drive the scenario's first set-up by every pace policy, each in the lap time of the scenario's own plan.

    scenario, source, progress : as for `compare`; comparison : its result
    Returns one PaceResult a policy.
    """
    entry = make_entry(scenario.setup[0], scenario, source, scenario.setup[0].place)
    runs = Runs(comparison.car, comparison.course, comparison.rung, scenario.pace.laps, race_of(scenario))
    plans = plans_for_time(comparison.course, comparison.car, pace_of(scenario, comparison.target), comparison.plan.time)
    found = []
    for index, paced in enumerate(plans):
        progress(index, len(plans), paced.policy)
        found.append(PaceResult(paced, runs.drive(entry, paced.plan)))
    return found


@dataclass(frozen=True)
class Runs:
    """What all set-ups of a comparison share."""

    car: Car
    course: Course
    rung: Model
    laps: int
    race: Race | None

    def drive(self, entry: Entry, plan: PacePlan) -> SetupResult:
        """Drive one set-up; with its race, where there is one.  entry : Entry; plan : PacePlan."""
        result = _drive(entry, self.car, self.course, plan, self.rung, self.laps)
        electric = result.ledger.electric if result.ledger else None
        if electric is None:
            return result
        charge = laps_on_charge(electric.used_charge, self.car.battery)
        race = race_result(self.race, self.course.length, result.time, electric.used_charge, self.car.battery) if self.race else None
        return replace(result, laps_per_charge=charge, race=race)

    def furthest(self, entry: Entry, scenario: Scenario) -> tuple[float, float]:
        """The target speed that gets a set-up furthest, and how far.  entry : Entry; scenario : its pace and race.

        Returns ([m/s], [m]); the slowest pace and 0 where no lap is finished.
        """

        def distance(target: float) -> float:
            result = self.drive(entry, plan_pace(self.course, self.car, pace_of(scenario, target)))
            return result.race.distance if result.race else 0.0

        fastest = min(FASTEST_PACE, self.car.battery.open_voltage / (self.car.motor.torque_constant * self.car.motor.gear))
        return furthest_pace(distance, SLOWEST_PACE, max(fastest, SLOWEST_PACE + 0.1))


def _drive(entry: Entry, car: Car, course: Course, plan: PacePlan, rung: Model, laps: int) -> SetupResult:
    if rung in (Model.ROLLING_BICYCLE, Model.ROLLING_FOUR_WHEELS):
        return _roll(entry, car, course, plan, rung)
    table = entry.table
    if rung == Model.SLIPPING_BICYCLE:
        car, table = single_track(car), merged_table(table)
    lap = drive_lap(car, table, course, plan, laps=laps)
    finished = lap.ended == Ended.FINISHED
    length = course.length if finished else max(float(lap.end[State.STATION]), 1e-9)
    trace = trace_of(car, table, course, plan, lap)
    cause, reason = (EndCause.NONE, "") if finished else _why(lap, car, table, course)
    return SetupResult(
        name=entry.name, ended=lap.ended, cause=cause, reason=reason,
        distance=lap.distance, time=lap.time, ledger=ledger_of(car, lap) if finished else None,
        error_rms=float(np.sqrt(max(lap.end[State.ERROR_SQUARED], 0.0) / length)), error_max=float(lap.extremes[Extreme.FARTHEST]),
        least_load=float(lap.extremes[Extreme.LEAST_LOAD]), peak_slips=lap.extremes[Extreme.PEAK_SLIP : Extreme.PEAK_SLIP + 4].copy(),
        trace=trace, at_lock=time_at_lock(table, trace),
    )  # fmt: skip


def _roll(entry: Entry, car: Car, course: Course, plan: PacePlan, rung: Model) -> SetupResult:
    table = entry.table if rung == Model.ROLLING_FOUR_WHEELS else None
    try:
        lap = rolling_lap(car, table, course, plan)
    except ValueError:  # the only one that a course whose bends can be driven at all leaves
        reason = f"does not get round the bend of {course.smallest_radius:.2f} m: its lock is too small"
        return SetupResult(
            name=entry.name, ended=Ended.OFF_COURSE, cause=EndCause.LOCK, reason=reason, distance=0.0, time=0.0, ledger=None,
            error_rms=nan, error_max=nan, least_load=nan, peak_slips=np.full(4, nan), trace=no_trace(),
        )  # fmt: skip
    peak = lap.slips[np.argmax(np.abs(lap.slips), axis=0), np.arange(4)]
    return SetupResult(
        name=entry.name, ended=Ended.FINISHED, cause=EndCause.NONE, reason="", distance=course.length, time=lap.time,
        ledger=lap.ledger, error_rms=0.0, error_max=0.0, least_load=nan, peak_slips=peak,
        trace=trace_of_rolling(car, table, course, plan, lap),
    )  # fmt: skip


def _why(lap: Lap, car: Car, table: SteerTable, course: Course) -> tuple[EndCause, str]:
    """Why a lap ended early, and the same in plain words with place and figures."""
    station = float(lap.end[State.STATION])
    where = f"after {lap.time:.1f} s, {station % course.length if course.closed else station:.0f} m into the lap"
    if lap.ended == Ended.TIPPED:
        return EndCause.TIPPED, f"tips over {where}"
    if lap.ended == Ended.STALLED:
        return EndCause.STALLED, f"comes to a halt {where}: not enough power"
    if lap.ended == Ended.WEAVED:
        slips, tyres = np.abs(lap.extremes[Extreme.PEAK_SLIP : Extreme.PEAK_SLIP + 4]), [car.front_tyre] * 2 + [car.rear_tyre] * 2
        slid = any(tyre.cornering_stiffness * slip > tyre.friction for tyre, slip in zip(tyres, slips, strict=True))
        return EndCause.WEAVED, (
            f"weaves: {'its tyres slide and ' if slid else ''}the driver's hands go to and fro more than the course asks for, so its "
            "figures would measure that and not the steering"
        )
    if lap.ended == Ended.LEAKED:
        return EndCause.LEAKED, (
            "leaves its energy ledger open: the simulation cannot follow this car in steps of any useful length, so it has no figures"
        )
    if lap.ended == Ended.NOT_FINITE:
        return EndCause.BROKE_DOWN, f"the simulation broke down {where}: a wheel stopped rolling ahead"
    lock_left, lock_right = degrees(table.lock_left), degrees(table.lock_right)
    left, right = (degrees(steer) for steer in _steer_needed_near(course, car, station))
    lock = lock_left if left > lock_left else -lock_right if right < lock_right else None
    if lock is not None:
        return EndCause.LOCK, f"runs {OFF_COURSE:g} m off the line {where}: at full lock ({lock:.0f} deg) it does not turn enough"
    speed = float(np.hypot(lap.end[State.VX], lap.end[State.VY]))
    if understeer_gradient(car) < 0 and speed > NEAR_SPINNING * characteristic_speed(car):
        return EndCause.SPINS, (
            f"swings {OFF_COURSE:g} m off the line {where}: its rear tyres give way sooner than the front ones, and from "
            f"{characteristic_speed(car):.1f} m/s on such a car spins by itself; give it stiffer rear tyres or a slower pace"
        )
    return EndCause.GRIP, (
        f"slides {OFF_COURSE:g} m off the line {where}: not enough grip for this pace; lower pace.lateral_limit_m_per_s2 or the target"
    )


def _steer_needed_near(course: Course, car: Car, station: float) -> tuple[float, float]:
    """Largest steer to the left and to the right that the course asks for within a car's length or two [rad]."""
    gap = np.abs(course.station - (station % course.length if course.closed else station))
    if course.closed:
        gap = np.minimum(gap, course.length - gap)
    near = replace(course, curvature=course.curvature[gap < NEARBY], station=course.station[gap < NEARBY])
    return steer_needed(near, car)[:2]
