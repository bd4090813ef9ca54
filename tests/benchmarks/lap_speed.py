"""Speed and accuracy of the lap kernel, in one run: python tests/benchmarks/lap_speed.py

Prints how many times faster than real time a lap is driven on one thread with a warm cache, what the step costs in accuracy against
one four times finer, and the time of SciPy's solve_ivp on the same equations in plain Python, as a ratio.
"""

import json
import os
import subprocess
import sys
import time

import numpy as np

from sim.car.motion import BODY_COLUMNS, WHEEL_COLUMNS
from sim.lap.drive import drive_lap, start_state, time_step
from sim.lap.equations import lap_rate
from sim.lap.ledger import ledger_of
from sim.lap.state import STATES
from sim.pace.driver import driver_of, plan_pace
from sim.pace.road import road_of
from sim.scenario.file import find_scenario, load_scenario
from sim.steering.cells import steer_cells_of
from sim.study.ready import car_of, course_of, entries_of, pace_of

REPEATS = 5
PLAIN_SECONDS = 4.0  # of simulated time for the plain Python run; the whole lap would take minutes


def case():
    path = find_scenario("quay-loop")
    scenario = load_scenario(path)
    car, course = car_of(scenario), course_of(scenario, path.parent, "quay-loop")
    return car, course, plan_pace(course, car, pace_of(scenario, float(scenario.pace.target_m_per_s))), entries_of(scenario, "quay-loop")


def plain_python() -> None:
    """Child process with the compiler off: seconds of wall time per simulated second of solve_ivp."""
    from scipy.integrate import solve_ivp

    car, course, plan, entries = case()
    road, steer_cells, driver = road_of(course, plan), steer_cells_of(entries[0].table), driver_of(car)
    wheels, body, rate = np.zeros((4, WHEEL_COLUMNS)), np.zeros(BODY_COLUMNS), np.zeros(STATES)

    def right_hand_side(_, state):
        lap_rate(car, steer_cells, road, driver, state, rate, wheels, body)
        return rate.copy()

    begin = time.perf_counter()
    solution = solve_ivp(right_hand_side, (0.0, PLAIN_SECONDS), start_state(car, road, steer_cells), rtol=1e-6, atol=1e-8)
    print(json.dumps({"seconds": time.perf_counter() - begin, "calls": solution.nfev}))


def main() -> None:
    car, course, plan, entries = case()
    step = time_step(car, plan)
    drive_lap(car, entries[0].table, course, plan)
    worst_work = worst_scrub = worst_residual = 0.0
    rates = []
    for entry in entries:
        begin = time.perf_counter()
        for _ in range(REPEATS):
            lap = drive_lap(car, entry.table, course, plan)
        wall = (time.perf_counter() - begin) / REPEATS
        rates.append(2 * lap.time / wall)  # the run-in lap is driven too
        fine = ledger_of(car, drive_lap(car, entry.table, course, plan, step=step / 4))
        shipped = ledger_of(car, lap)
        worst_work = max(worst_work, abs(shipped.drive_work / fine.drive_work - 1))
        worst_scrub = max(worst_scrub, abs(shipped.scrub / fine.scrub - 1))
        worst_residual = max(worst_residual, abs(shipped.residual))
    compiled = float(np.median(rates))
    print(
        f"{course.name}: {course.length:.0f} m, {lap.time:.1f} s a lap, step {1e3 * step:g} ms, {len(entries)} set-ups, run-in lap counted"
    )
    print(f"lap kernel, one thread: {compiled:,.0f} times faster than real time (slowest set-up {min(rates):,.0f})")
    print(
        f"against a step four times finer: drive work {worst_work:.1e}, scrub {worst_scrub:.1e}; worst ledger residual {worst_residual:.1e}"
    )
    child = subprocess.run(
        [sys.executable, __file__, "plain"], env=os.environ | {"NUMBA_DISABLE_JIT": "1"}, capture_output=True, text=True, check=True
    )
    plain = json.loads(child.stdout)
    ratio = compiled * plain["seconds"] / PLAIN_SECONDS
    print(
        f"SciPy solve_ivp (rtol 1e-6) in plain Python: {PLAIN_SECONDS / plain['seconds']:.2f} times real time: the kernel is {ratio:,.0f} times faster"
    )


if __name__ == "__main__":
    plain_python() if sys.argv[1:] == ["plain"] else main()
