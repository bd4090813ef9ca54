"""What `corner --map` finds: every set-up's steady turns over radius and speed."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sim.scenario.scenario import Scenario
from sim.study.ready import Entry, car_of
from sim.study.summary import known
from sim.turn.maps import Limits, State, TurnMap, above_best, level_with_best, limits_of, turn_map

POINTS = 100  # radii and speeds: 10,000 turns a set-up
TIGHTEST, WIDEST, SLOWEST, FASTEST = 2.5, 40.0, 0.25, 12.0  # [m], [m/s] of a map, wider where the asked turn lies outside
SHOWN_RADII = (3.0, 5.0, 8.0, 12.0, 20.0, 40.0)  # [m] of the table, beside the asked one
STATE_WORDS = {
    State.ROLLS: "all wheels grip", State.LIFTED: "a wheel lifts", State.SLIDES: "a tyre slides", State.NO_GRIP: "not enough grip",
    State.TIPS: "tips over", State.LOCKED: "lock too small", State.SPINS: "a driven wheel spins", State.TOO_TIGHT: "too tight",
}  # fmt: skip


@dataclass(frozen=True)
class Maps:
    """All set-ups of a scenario over one grid."""

    title: str
    names: tuple[str, ...]
    radii: np.ndarray  # [m], positive to the left
    speeds: np.ndarray  # [m/s]
    maps: tuple[TurnMap, ...]
    level: np.ndarray  # (set-ups, radii, speeds), see `sim.turn.maps.level_with_best`
    above: np.ndarray  # (set-ups, radii, speeds), see `sim.turn.maps.above_best` [W]
    chosen: tuple[int, ...]  # the set-ups that are told one by one, in the scenario's order; the best is that of all [-]
    asked: tuple[float, float]  # the radius and speed that the command was asked for [m], [m/s]
    shown: tuple[float, ...]  # radii of the table [m]
    limits: tuple[tuple[Limits, ...], ...]  # of each set-up at the radii of the table


@dataclass(frozen=True)
class MapRow:
    """How fast one radius can be driven.

    radius_m : positive to the left [m]
    grips_to_m_per_s : up to here all wheels carry and grip, None beyond the map's speeds [m/s]
    holds_to_m_per_s : up to here there is a turn, likewise [m/s]
    ends_by : what ends the turns, one of STATE_WORDS; None where they do not end
    """

    radius_m: float
    grips_to_m_per_s: float | None
    holds_to_m_per_s: float | None
    ends_by: str | None


@dataclass(frozen=True)
class MapSetup:
    """One set-up's rows.

    name : of the set-up
    rows : one for each radius of the table
    """

    name: str
    rows: tuple[MapRow, ...]


@dataclass(frozen=True)
class MapResult:
    """How fast a few radii can be driven.

    points : of the whole grid [-]
    fastest_m_per_s : that was tried [m/s]
    setups : those that were chosen, in the scenario's order
    """

    points: int
    fastest_m_per_s: float
    setups: tuple[MapSetup, ...]


def make_maps(scenario: Scenario, entries: Sequence[Entry], radius: float, speed: float, chosen: Sequence[int] | None = None) -> Maps:
    """The steady turns of every set-up over a grid around a turn.

    scenario, entries : the car and its set-ups; radius : positive to the left [m]; speed [m/s]
    chosen : places of the set-ups that are told one by one, None for all [-]
    Returns Maps.
    """
    car = car_of(scenario)
    # Inside the mass centre's distance from the rear axle no car can turn.
    tightest = max(min(TIGHTEST, 0.5 * abs(radius)), 1.05 * (car.wheelbase - car.front_arm))
    radii = np.copysign(np.geomspace(tightest, max(WIDEST, 2 * abs(radius)), POINTS), radius)
    speeds = np.linspace(min(SLOWEST, speed), max(FASTEST, 1.5 * speed), POINTS)
    maps = tuple(turn_map(car, entry.table, radii, speeds) for entry in entries)
    others = (other for other in SHOWN_RADII if other > tightest and not 0.8 < other / abs(radius) < 1.25)
    shown = tuple(float(np.copysign(size, radius)) for size in sorted([abs(radius), *others]))
    limits = tuple(tuple(limits_of(car, entry.table, size, speeds) for size in shown) for entry in entries)
    names = tuple(entry.name for entry in entries)
    told = tuple(range(len(names)) if chosen is None else sorted(set(chosen)))
    level, above = level_with_best(list(maps)), above_best(list(maps))
    return Maps(scenario.title, names, radii, speeds, maps, level, above, told, (radius, speed), shown, limits)


def map_result(made: Maps) -> MapResult:
    """How fast a few radii can be driven; the whole grid goes to the CSV file.  made : of `make_maps`."""
    setups = []
    for name, limits in ((made.names[place], made.limits[place]) for place in made.chosen):
        rows = [
            MapRow(radius, known(one.grips_to), known(one.holds_to), None if one.ends_by is None else STATE_WORDS[one.ends_by])
            for radius, one in zip(made.shown, limits, strict=True)
        ]
        setups.append(MapSetup(name, tuple(rows)))
    return MapResult(len(made.radii) * len(made.speeds), float(made.speeds[-1]), tuple(setups))
