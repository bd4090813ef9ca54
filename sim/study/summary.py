"""A comparison as the figures that are told of it: SI, or with the unit in the name; None where there is no figure."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from sim.car.tyre import LAWS
from sim.lap.ledger import Electric, Ledger, causes
from sim.scenario.tables import HOUR
from sim.study.compare import Comparison, PaceResult, SetupResult
from sim.study.cures import cures_of
from sim.study.dangers import NO_DANGERS, Dangers
from sim.study.doubts import run_doubts
from sim.study.effort import Cure
from sim.study.law_doubt import other_cost
from sim.study.race import RaceResult


@dataclass(frozen=True)
class PerWheel:
    """A figure of each wheel, None where there is none.

    front_left, front_right, rear_left, rear_right : [the figure's unit, as the field's name says]
    """

    front_left: float | None
    front_right: float | None
    rear_left: float | None
    rear_right: float | None


@dataclass(frozen=True)
class CourseFigures:
    """The course that was driven.

    name : of the course
    length_m : of a lap, or from start to finish [m]
    closed : whether it is a loop
    smallest_radius_m, smallest_radius_at_m : of the tightest bend, and its station; None where there is no bend [m]
    smoothing_residual_m : from the points that were given to the line that is driven [m]
    notes : what was changed in reading it
    """

    name: str
    length_m: float
    closed: bool
    smallest_radius_m: float | None
    smallest_radius_at_m: float | None
    smoothing_residual_m: float
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Losses:
    """Where the drive work of a lap went.

    air, rolling, brakes, height : by cause [J]
    lateral, longitudinal : slip of each wheel [J]
    aligning : tyres twisting on the road [J]
    """

    air: float
    rolling: float
    brakes: float
    height: float
    lateral: PerWheel
    longitudinal: PerWheel
    aligning: float


@dataclass(frozen=True)
class ElectricFigures:
    """Motor and battery on a lap.

    copper_J, no_load_J, gear_J, battery_heat_J : losses [J]
    regenerated_J : braked by the motor, at the treads [J]
    charge_Ah : that the battery gave [Ah]
    used_charge_Ah : the same by the rate law [Ah]
    mean_current_A : over the lap's time [A]
    residual : what is left of the balance, as a share of what the battery gave [-]
    """

    copper_J: float
    no_load_J: float
    gear_J: float
    battery_heat_J: float
    regenerated_J: float
    charge_Ah: float
    used_charge_Ah: float
    mean_current_A: float
    residual: float


@dataclass(frozen=True)
class RaceFigures:
    """One set-up's race.

    laps : driven [-]
    distance_m : driven [m]
    time_s : until it ended [s]
    ended_by : "time", "charge" or "laps"
    own_target_m_per_s : the target speed that gets this set-up furthest, None where it was not sought [m/s]
    own_distance_m : how far that is, likewise [m]
    """

    laps: float
    distance_m: float
    time_s: float
    ended_by: str
    own_target_m_per_s: float | None
    own_distance_m: float | None


@dataclass(frozen=True)
class Worth:
    """What, put on the ideal car, costs the same drive work; None where nothing that was driven does.

    rolling_coefficient : more on all wheels [-]
    toe_deg : toe-in of each front wheel [deg]
    driver_kg : on board [kg]
    """

    rolling_coefficient: float | None
    toe_deg: float | None
    driver_kg: float | None


@dataclass(frozen=True)
class LapFigures:
    """One set-up's last timed lap; figures of a lap are None where it did not finish.

    name : of the set-up
    finished : whether it came round in a way that can be compared
    reason : why it did not, in plain words
    distance_m : driven in all [m]
    lap_time_s : of the lap [s]
    drive_work_J : at the driven wheels [J]
    hand_work_J : what the driver's hands put in against the aligning torque [J]
    battery_Wh : given by the battery, None without one [Wh]
    losses_J : where the drive work went [J]
    kinetic_J, tyre_deflection_J : gained in speed and in the tyres' side deflection [J]
    scrub_J : slip losses of all wheels [J]
    geometry_cost_J : drive work less that of ideal steering without toe [J]
    geometry_cost_Wh : battery energy less that, None without a battery [Wh]
    geometry_scrub_J : scrub less that [J]
    toe_cost_J : drive work less that with toe and rod turns set to nothing, None where there is none of either [J]
    geometry_cost_by_law_J : by each law of the tyre, the scenario's own first [J]
    rub_m : slip distance of each tyre [m]
    ledger_residual : what the energy ledger leaves open, as a share of the drive work [-]
    path_error_rms_m, path_error_max_m : distance from the line [m]
    min_load_N : least on any wheel, None where the model knows no loads [N]
    at_lock_s : time with the steering at the end of its usable lock [s]
    peak_slip_deg : slip angle of greatest size of each wheel, with its sign [deg]
    laps_per_charge : None without a battery [-]
    electric : motor and battery, None without them
    race : None without one
    equivalents : by cause of a loss, what it is worth
    """

    name: str
    finished: bool
    reason: str | None
    distance_m: float
    lap_time_s: float | None
    drive_work_J: float | None
    hand_work_J: float | None
    battery_Wh: float | None
    losses_J: Losses | None
    kinetic_J: float | None
    tyre_deflection_J: float | None
    scrub_J: float | None
    geometry_cost_J: float | None
    geometry_cost_Wh: float | None
    geometry_scrub_J: float | None
    toe_cost_J: float | None
    geometry_cost_by_law_J: Mapping[str, float | None]
    rub_m: PerWheel | None
    ledger_residual: float | None
    path_error_rms_m: float | None
    path_error_max_m: float | None
    min_load_N: float | None
    at_lock_s: float
    peak_slip_deg: PerWheel
    laps_per_charge: float | None
    electric: ElectricFigures | None
    race: RaceFigures | None
    equivalents: Mapping[str, Worth] | None


@dataclass(frozen=True)
class SetupSummary(Dangers, LapFigures):
    """One set-up: its last timed lap, where its steering can snap over, and what to do about what it costs.

    cures : what would save drive work, with what it takes; none where nothing does
    """

    cures: tuple[Cure, ...]


@dataclass(frozen=True)
class RunSummary:
    """What `run` finds.

    title : of the scenario
    doubts : about its numbers and angles that look like slips, a sentence each
    model : rung of the ladder
    course : what was driven
    target_m_per_s : speed on the straights, sought or given [m/s]
    reference : ideal steering without toe
    setups : in the scenario's order
    """

    title: str
    doubts: tuple[str, ...]
    model: str
    course: CourseFigures
    target_m_per_s: float
    reference: SetupSummary
    setups: tuple[SetupSummary, ...]


@dataclass(frozen=True)
class PaceSummary:
    """One way to drive the first set-up; figures are None where it did not finish.

    policy : of the pace
    meets_time : whether it reaches the lap time of the scenario's own plan
    target_m_per_s : its speed on the straights; None where the lap time is out of reach, for then it is a limit of the search [m/s]
    current_A : its current, None where it is not what the policy holds, or likewise [A]
    finished : whether it came round in a way that can be compared
    lap_time_s : of the lap [s]
    average_m_per_s : over the lap [m/s]
    drive_work_J, brakes_J : at the driven wheels, and of the brakes [J]
    battery_Wh : given by the battery, None without one [Wh]
    laps_per_charge : None without a battery [-]
    """

    policy: str
    meets_time: bool
    target_m_per_s: float | None
    current_A: float | None
    finished: bool
    lap_time_s: float | None
    average_m_per_s: float | None
    drive_work_J: float | None
    brakes_J: float | None
    battery_Wh: float | None
    laps_per_charge: float | None


def known(value: float) -> float | None:
    """A figure for JSON, which knows no NaN and no infinity.  value : any [any unit]."""
    return float(value) if np.isfinite(value) else None


def summary(comparison: Comparison) -> RunSummary:
    """The figures of a comparison.  comparison : of `study.compare.compare`."""
    course = comparison.course
    return RunSummary(
        title=comparison.scenario.title,
        doubts=run_doubts(comparison.scenario),
        model=comparison.rung.label,
        course=CourseFigures(
            name=course.name, length_m=course.length, closed=course.closed, smallest_radius_m=known(course.smallest_radius),
            smallest_radius_at_m=known(course.smallest_radius_station), smoothing_residual_m=course.smoothing_residual,
            notes=tuple(course.notes),
        ),
        target_m_per_s=comparison.target,
        reference=_setup_summary(comparison.reference, (), comparison),
        setups=tuple(
            _setup_summary(result, cures, comparison) for result, cures in zip(comparison.results, cures_of(comparison), strict=True)
        ),
    )  # fmt: skip


def pace_summary(paces: Sequence[PaceResult], length: float) -> tuple[PaceSummary, ...]:
    """The figures of the pace policies.  paces : of `study.compare.compare_paces`; length : of the lap [m]."""
    rows = []
    for one in paces:
        ledger, pace = one.result.ledger, one.paced.pace
        electric = ledger.electric if ledger else None
        rows.append(PaceSummary(
            policy=one.paced.policy,
            meets_time=one.paced.meets_time,
            target_m_per_s=pace.target if one.paced.meets_time and pace.current is None else None,
            current_A=pace.current if one.paced.meets_time else None,
            finished=one.result.finished,
            lap_time_s=one.result.time if ledger else None,
            average_m_per_s=length / one.result.time if ledger else None,
            drive_work_J=ledger.drive_work if ledger else None,
            brakes_J=ledger.brakes if ledger else None,
            battery_Wh=electric.battery / HOUR if electric else None,
            laps_per_charge=known(one.result.laps_per_charge),
        ))  # fmt: skip
    return tuple(rows)


def _wheels(values: Iterable[float]) -> PerWheel:
    return PerWheel(*map(known, values))


def _setup_summary(result: SetupResult, cures: tuple[Cure, ...], comparison: Comparison) -> SetupSummary:
    ledger = result.ledger
    electric = ledger.electric if ledger else None
    losses = None
    if ledger is not None:
        losses = Losses(
            air=ledger.air, rolling=ledger.rolling, brakes=ledger.brakes, height=ledger.height, lateral=_wheels(ledger.lateral),
            longitudinal=_wheels(ledger.longitudinal), aligning=ledger.aligning,
        )  # fmt: skip
    return SetupSummary(
        **vars(result.dangers or NO_DANGERS),
        name=result.name,
        finished=result.finished,
        reason=result.reason or None,
        distance_m=result.distance,
        lap_time_s=result.time if result.finished else None,
        drive_work_J=ledger.drive_work if ledger else None,
        hand_work_J=ledger.hand_work if ledger else None,
        battery_Wh=electric.battery / HOUR if electric else None,
        losses_J=losses,
        kinetic_J=ledger.kinetic if ledger else None,
        tyre_deflection_J=ledger.deflection if ledger else None,
        scrub_J=ledger.scrub if ledger else None,
        geometry_cost_J=known(result.geometry_cost),
        geometry_cost_Wh=known(result.geometry_battery / HOUR),
        geometry_scrub_J=known(result.geometry_scrub),
        toe_cost_J=known(result.toe_cost),
        geometry_cost_by_law_J={law: known(cost) for law, cost in costs_by_law(result, comparison).items()},
        rub_m=_wheels(ledger.rub) if ledger else None,
        ledger_residual=ledger.residual if ledger else None,
        path_error_rms_m=result.error_rms if result.finished else None,
        path_error_max_m=known(result.error_max),
        min_load_N=known(result.least_load),
        at_lock_s=result.at_lock,
        peak_slip_deg=_wheels(np.degrees(np.arctan(result.peak_slips))),
        laps_per_charge=known(result.laps_per_charge),
        electric=_electric_figures(electric, ledger, result.time) if electric and ledger else None,
        race=_race_figures(result, result.race) if result.race else None,
        equivalents=_equivalents(ledger, result, comparison) if ledger else None,
        cures=cures,
    )


def costs_by_law(result: SetupResult, comparison: Comparison) -> dict[str, float]:
    """What a set-up's geometry costs by each law of the tyre, the scenario's own first and driven, the other reckoned from it [J].

    result : SetupResult; comparison : Comparison
    """
    own = comparison.scenario.car.tyre.law
    return {own: result.geometry_cost} | {law: other_cost(result.geometry_cost, *result.steady_costs) for law in LAWS if law != own}


def _electric_figures(electric: Electric, ledger: Ledger, lap_time: float) -> ElectricFigures:
    return ElectricFigures(
        copper_J=electric.copper, no_load_J=electric.no_load, gear_J=electric.gear, battery_heat_J=electric.battery_heat,
        regenerated_J=electric.regenerated, charge_Ah=electric.charge / HOUR, used_charge_Ah=electric.used_charge / HOUR,
        mean_current_A=electric.charge / lap_time, residual=electric.residual(ledger.drive_work),
    )  # fmt: skip


def _race_figures(result: SetupResult, race: RaceResult) -> RaceFigures:
    return RaceFigures(
        laps=race.laps, distance_m=race.distance, time_s=race.time, ended_by=race.ended_by, own_target_m_per_s=known(result.own_pace),
        own_distance_m=known(result.own_distance),
    )  # fmt: skip


def _equivalents(ledger: Ledger, result: SetupResult, comparison: Comparison) -> dict[str, Worth]:
    losses = causes(ledger) | {"geometry": result.geometry_cost}
    same = {}
    for cause, loss in losses.items():
        if loss >= 0:  # a cost below nothing has no equivalent; NaN is none either
            worth = comparison.yardsticks.equivalents(loss)
            same[cause] = Worth(known(worth.rolling_coefficient), known(worth.toe_deg), known(worth.driver_kg))
    return same
