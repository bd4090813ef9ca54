"""Race distance: how far a set-up gets on one charge in the race's time, and the pace that gets it furthest."""

from collections.abc import Callable
from dataclasses import dataclass
from math import inf

from sim.car.battery import Battery

PACE_STEP = 1e-3  # [m/s] to which the best pace is sought; a team cannot drive it closer


@dataclass(frozen=True)
class Race:
    """What ends a race: a time or a number of laps; the other is infinite."""

    duration: float  # [s]
    laps: float  # [-]


@dataclass(frozen=True)
class RaceResult:
    """One set-up's race."""

    laps_per_charge: float
    laps: float  # driven
    distance: float  # [m]
    time: float  # [s]
    ended_by: str  # "time", "charge" or "laps"


def race_result(race: Race, length: float, lap_time: float, used_charge: float, battery: Battery) -> RaceResult:
    """How a race ends that goes on as its flying lap went.

    race : Race; length : of a lap [m]; lap_time [s]; used_charge : of a lap, by the rate law [A s]; battery : Battery
    Returns RaceResult.  Source: arithmetic; the standing start and the cars ahead are left out.
    """
    by_charge = laps_on_charge(used_charge, battery)
    by_time = race.duration / lap_time
    laps = min(by_charge, by_time, race.laps)
    ended_by = "laps" if laps == race.laps else "time" if laps == by_time else "charge"
    return RaceResult(by_charge, laps, laps * length, laps * lap_time, ended_by)


def laps_on_charge(used_charge: float, battery: Battery) -> float:
    """Laps on the usable charge.  used_charge : of a lap, by the rate law [A s]; battery : Battery.  Source: arithmetic."""
    return battery.capacity * battery.usable_share / used_charge if used_charge > 0 else inf


def furthest_pace(distance: Callable[[float], float], slowest: float, fastest: float) -> tuple[float, float]:
    """The target speed that gets furthest.

    distance : target speed [m/s] to race distance [m]; first rising with the speed (time ends the race), then falling (charge does)
    slowest, fastest : bounds of the search [m/s]
    Returns (speed [m/s], distance [m]).  Source: SciPy's bounded Brent search, begun at the best of a coarse scan.
    """
    from scipy.optimize import minimize_scalar

    count = 9
    grid = [slowest + (fastest - slowest) * i / (count - 1) for i in range(count)]
    found = [distance(speed) for speed in grid]
    best = max(range(count), key=found.__getitem__)
    low, high = grid[max(best - 1, 0)], grid[min(best + 1, count - 1)]
    sought = minimize_scalar(lambda speed: -distance(float(speed)), bounds=(low, high), method="bounded", options={"xatol": PACE_STEP})
    return max([(grid[best], found[best]), (float(sought.x), -float(sought.fun))], key=lambda pair: pair[1])
