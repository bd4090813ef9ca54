"""Speed of the sum of steady turns against a lap in time, in one run: python tests/benchmarks/stations_speed.py

Prints, for each shipped scenario with a given pace, how many times faster the sum is and how far the two are apart; then the time of a
map of 10,000 steady turns.
"""

import time

import numpy as np

from sim.lap.drive import drive_lap
from sim.lap.ledger import ledger_of
from sim.pace.driver import plan_pace
from sim.scenario.file import find_scenario, load_scenario
from sim.study.ready import car_of, course_of, entries_of, pace_of
from sim.turn.maps import turn_map
from sim.turn.stations import station_sum, stations_of

REPEATS = 7


def best_of(function, *arguments) -> float:
    """Least wall time of some calls [s]; other work on the machine only adds to it."""
    walls = []
    for _ in range(REPEATS):
        begin = time.perf_counter()
        function(*arguments)
        walls.append(time.perf_counter() - begin)
    return min(walls)


def main() -> None:
    for name in ("quay-loop", "recorded-loop", "car-park", "first-bend"):
        path = find_scenario(name)
        scenario = load_scenario(path)
        car, course = car_of(scenario), course_of(scenario, path.parent, name)
        plan = plan_pace(course, car, pace_of(scenario, float(scenario.pace.target_m_per_s)))
        stations = stations_of(course, car, plan)
        ratios, apart = [], 0.0
        for entry in entries_of(scenario, name):
            table = entry.table
            total, ledger = station_sum(car, table, stations), ledger_of(car, drive_lap(car, table, course, plan))
            quick, slow = best_of(station_sum, car, table, stations), best_of(drive_lap, car, table, course, plan)
            ratios.append(slow / quick)
            apart = max(apart, abs(total.drive_work / ledger.drive_work - 1))
        print(
            f"{name}: {len(stations.length)} pieces, the sum takes {1e3 * quick:.2f} ms, a lap in time {1e3 * slow:.1f} ms: "
            f"{min(ratios):.0f} to {max(ratios):.0f} times faster; drive work at most {apart:.1e} apart"
        )
    radii, speeds = np.geomspace(2.5, 40.0, 100), np.linspace(0.25, 12.0, 100)
    turn_map(car, table, radii[:2], speeds)
    print(f"map of 10,000 steady turns: {best_of(turn_map, car, table, radii, speeds):.2f} s")


if __name__ == "__main__":
    main()
