"""Does the suite notice the mistakes that people make in formulas?  python tests/benchmarks/mutations.py [NUMBER ...]

Thirty mistakes and more, spread over the files that hold physics: a flipped sign, a dropped term, left and right swapped, a wrong factor of
two.  Each is made by itself in a copy of the project, and the tests that should notice run there.  The same tests must pass on a copy
without any mistake, or the mistake counts as not caught.  Prints what was caught and by which test, and ends with exit code 1 unless
all was.  With numbers, only these.  For developers, by hand or weekly; it takes some minutes.
"""

import os
import shutil
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import NamedTuple

PROJECT = Path(__file__).resolve().parents[2]
PARTS = ["sim", "viz", "tests", "scenarios", "pyproject.toml", "README.md"]
AT_ONCE = 2
LONGEST = 600  # [s] of one run of tests; a mistake that makes the tests hang is not caught
# Written below the copy's conftest: the copy's own `sim` is the one that is tested, and a drawn case that fails is not made simpler,
# which would take longer than all the rest.
ADDED = """

from pathlib import Path

from hypothesis import Phase

import sim

assert Path(sim.__file__).resolve().is_relative_to(Path(__file__).resolve().parents[1]), sim.__file__
settings.register_profile("suite", settings.get_profile("suite"), phases=[Phase.explicit, Phase.generate])
settings.load_profile("suite")
"""


class Mutation(NamedTuple):
    """A mistake."""

    file: str  # in sim/
    old: str  # stands there once
    new: str
    tests: tuple[str, ...]  # files, or single tests of them, in tests/
    compiled: bool = False  # whether the tests need compiled kernels; most run faster without, since a changed `sim` is compiled anew


MUTATIONS = (
    Mutation("linkages/closed_form.py", "camber = full_angle(-spin[2], level)", "camber = full_angle(spin[2], level)",
             ("steering/test_pivots.py",)),
    Mutation("linkages/closed_form.py", " - rod.lift * dot(seen, rod.axis)", "",
             ("steering/test_linkages.py",)),
    Mutation("steering/angles.py", "x - edge * np.sin(steer)", "x + edge * np.sin(steer)",
             ("steering/test_angles.py",)),
    Mutation("steering/kickback.py", "+ 0.5 * force * climb", "+ force * climb",
             ("steering/test_kickback.py",)),
    Mutation("bench/advice.py", "float(right - left) / 2", "float(right - left)",
             ("bench/test_advice.py::test_a_rod_a_turn_longer_toes_by_pitch_over_arm",)),
    Mutation("steering/sampling.py", "found[k, 1 + side]", "found[k, 2 - side]",
             ("steering/test_table.py",)),
    Mutation("car/tyre.py", "tyre.camber_stiffness * camber) - falling", "tyre.camber_stiffness * camber) + falling",
             ("car/test_tyre.py",)),
    Mutation("car/chassis.py", "load / 2 / nominal - 1", "load / nominal - 1",
             ("car/test_chassis.py",)),
    Mutation("car/motion.py", "- (q0 + q1 + q2 + q3)\n", "\n",
             ("car/test_motion.py::test_power_that_goes_in_comes_out",), compiled=True),
    Mutation("car/traction.py", "2.0 * min(limit[2], limit[3])", "min(limit[2], limit[3])",
             ("car/test_motion.py::test_what_each_drive_can_hold_by_statics",), compiled=True),
    Mutation("car/rear_axle.py", "scale if scale == 1.0 else scale * lateral * lateral / square", "scale if scale == 1.0 else scale * before * before / square",
             ("car/test_motion.py::test_slope_of_the_axles_force",)),
    Mutation("car/drivetrain.py", "shaft = (current - motor.no_load_current)", "shaft = current",
             ("car/test_motor_battery.py",)),
    Mutation("car/motor.py", "1.0 / motor.efficiency if force > 0.0 else motor.efficiency", "motor.efficiency if force > 0.0 else 1.0 / motor.efficiency",
             ("car/test_motor_battery.py",)),
    Mutation("car/battery.py", "- 4.0 * battery", "- 2.0 * battery",
             ("car/test_motor_battery.py",)),
    Mutation("turn/steady.py", "speed * sin(unknown[0])", "-speed * sin(unknown[0])",
             ("turn/test_steady.py::test_sideslip_grows_outwards_with_speed",)),
    Mutation("lap/rolling.py", " + 0.5 * car.yaw_inertia * (plan.speed * course.curvature) ** 2", "",
             ("lap/test_ladder.py::test_a_rolling_lap_that_ends_in_a_bend_is_left_with_its_turning",)),
    Mutation("turn/stations.py", "+ GRAVITY * np.diff(course.height)", "- GRAVITY * np.diff(course.height)",
             ("turn/test_stations.py::test_a_climb_is_paid_by_the_drive_and_a_descent_held_by_the_brakes",)),
    Mutation("lap/drive.py", "min(max(steer, steer_cells.least), steer_cells.most), -sideslip", "min(max(steer, steer_cells.least), steer_cells.most), sideslip",
             ("lap/test_drive.py::test_a_lap_begins_along_the_line",)),
    Mutation("lap/equations.py", "1.0 - error * values.curvature", "1.0 + error * values.curvature",
             ("lap/test_drive.py::test_path_coordinates_are_plane_geometry",)),
    Mutation("pace/driver.py", "rear * car.front_tyre.rolling_resistance + front * car.rear_tyre", "front * car.front_tyre.rolling_resistance + rear * car.rear_tyre",
             ("pace/test_driver.py::test_each_axle_rolls_on_its_own_tyres",)),
    Mutation("pace/policies.py", "if plan.time > lap_time else", "if plan.time < lap_time else",
             ("study/test_race.py::test_pace_policies_take_the_same_time",), compiled=True),
    Mutation("lap/ledger.py", "drive_work - self.regenerated + self.copper", "drive_work + self.regenerated + self.copper",
             ("lap/test_ledger.py::test_electrical_residual_by_hand",)),
    Mutation("study/equivalents.py", "loss / (axle_stiffnesses(car)[0] * length)", "loss / (2 * axle_stiffnesses(car)[0] * length)",
             ("study/test_equivalents.py::test_guesses_are_the_textbook_forms",)),
    Mutation("study/race.py", "battery.capacity * battery.usable_share /", "battery.capacity /",
             ("study/test_race.py::test_race_ends_by_what_runs_out_first",)),
    Mutation("coast/motion.py", "side * way - headwind * time", "side * way + headwind * time",
             ("coast/test_fit.py::test_closed_form_against_an_integrator",)),
    Mutation("coast/circle.py", " + car.yaw_inertia / radius**2", "",
             ("coast/test_circle.py",)),
    Mutation("course/centreline.py", "0.5 * (curvature[1:, None] - curvature[:-1, None])", "(curvature[1:, None] - curvature[:-1, None])",
             ("course/test_segments.py", "published/test_published_clothoid.py")),
    Mutation("course/segments.py", "/ reach) ** 3 / 6.0", "/ reach) ** 3 / 3.0",
             ("course/test_segments.py",)),
    Mutation("spread/inputs.py", "one.half / PER_DEVIATION * ndtri(u)", "one.half * ndtri(u)",
             ("spread/test_inputs.py::test_normal_and_even_draws",)),
    Mutation("spread/statistics.py", "changed / (2 * variance)", "changed / variance",
             ("spread/test_statistics.py::test_indices_of_a_textbook_function",)),
    # Mistakes that once got past the suite.
    Mutation("car/motion.py", "side_of(brush, rear, n2, quarter", "side_of(brush, front, n2, quarter",
             ("car/test_each_axle.py::test_each_axle_pulls_by_its_own_stiffness",)),
    Mutation("car/motion.py", "rear.friction * n2, rear.friction * n3", "front.friction * n2, front.friction * n3",
             ("car/test_each_axle.py::test_each_axle_slides_at_its_own_friction",)),
    Mutation("car/motor.py", "if force > 0.0 else motor.efficiency", "if force > 0.0 else 1.0 / motor.efficiency",
             ("car/test_motor_battery.py::test_every_watt_of_the_battery_arrives_somewhere",)),
    Mutation("coast/circle.py", " + turn.body[BodyColumn.ALIGNING_POWER]", "",
             ("coast/test_circle_truth.py::test_the_program_and_the_independent_formulation_agree",)),
    Mutation("coast/circle.py", "turns_of(coast, radius), 2 * abs(radius)", "turns_of(coast, radius), abs(radius)",
             ("coast/test_circle.py::test_places_of_another_way_are_refused",)),
    Mutation("turn/causes.py", "(1 - AT_TIPPING) * limit", "0.3 * limit",
             ("turn/test_causes.py::test_tipping_is_told_from_the_tip_limit_on",)),
    Mutation("turn/steady.py", "== 1 else cause", "== 1 and False else cause",
             ("turn/test_not_by_slower_turns.py::test_what_stops_a_slower_car_need_not_stop_this_one",)),
    Mutation("study/equivalents.py", " + ledger.aligning", "",
             ("study/test_worth_of_mass.py::test_mass_is_guessed_by_what_a_heavier_car_loses",)),
)  # fmt: skip


def copy_of(folder: Path, mutation: Mutation | None) -> Path:
    """The project in a folder, with a mistake or without."""
    for part in PARTS:
        if (PROJECT / part).is_dir():
            shutil.copytree(PROJECT / part, folder / part, ignore=shutil.ignore_patterns("__pycache__", ".hypothesis"))
        else:
            shutil.copy(PROJECT / part, folder / part)
    with (folder / "tests" / "conftest.py").open("a", encoding="utf-8") as conftest:
        conftest.write(ADDED)
    if mutation:
        file = folder / "sim" / mutation.file
        file.write_text(file.read_text(encoding="utf-8").replace(mutation.old, mutation.new), encoding="utf-8")
    return folder


def run(tests: tuple[str, ...], compiled: bool, mutation: Mutation | None = None) -> tuple[int, str]:
    """Exit code of the tests in a copy (1: some test failed), and the first line that says why."""
    with tempfile.TemporaryDirectory(prefix="mutation-") as folder:
        copy = copy_of(Path(folder), mutation)
        # Kernels of a mistake are of no use to anybody: they stay out of the user's cache.
        settings = {"PYTHONPATH": str(copy), "XDG_CACHE_HOME": str(copy / "cache"), "LOCALAPPDATA": str(copy / "cache")}
        settings["NUMBA_DISABLE_JIT"] = "0" if compiled else "1"
        command = [sys.executable, "-m", "pytest", "-n", "0", "-x", "-q", "-m", "not slow", "--tb=no", "-p", "no:cacheprovider"]
        try:
            done = subprocess.run(
                [*command, *(f"tests/{test}" for test in tests)], cwd=copy, env=os.environ | settings, capture_output=True, text=True,
                timeout=LONGEST,
            )  # fmt: skip
        except subprocess.TimeoutExpired:
            return -1, f"not done after {LONGEST} s"
    said = (done.stdout + done.stderr).splitlines()
    reasons = [line for line in said if line.startswith(("FAILED", "ERROR"))]
    return done.returncode, (reasons or said[-1:] or [""])[0]


def main(numbers: list[int]) -> int:
    """Try the mistakes of these numbers, from 1, all where there are none.  Returns the exit code."""
    begin = time.perf_counter()
    for number, one in enumerate(MUTATIONS, 1):
        found = (PROJECT / "sim" / one.file).read_text(encoding="utf-8").count(one.old)
        if found != 1:
            print(f"{number}: the old text stands {found} times in sim/{one.file}, not once: {one.old!r}")
            return 1
    chosen = [(number, MUTATIONS[number - 1]) for number in numbers or range(1, len(MUTATIONS) + 1)]
    with ThreadPoolExecutor(AT_ONCE) as pool:
        needed = dict.fromkeys((one.tests, one.compiled) for _, one in chosen)
        plain = dict(zip(needed, pool.map(lambda keys: run(*keys), needed), strict=True))
        tried = pool.map(lambda pair: run(pair[1].tests, pair[1].compiled, pair[1]), chosen)
        caught = 0
        for (number, one), (code, said) in zip(chosen, tried, strict=True):
            before, why = plain[one.tests, one.compiled]
            # Code 1 is a test that failed; all other codes say that no test could be run.
            noticed = before == 0 and code == 1
            caught += noticed
            word = "caught" if noticed else "NOT CAUGHT" if before == 0 else "REFUSED, its tests fail without it"
            print(f"{number:2d} sim/{one.file}: {one.old.strip()!r} -> {one.new.strip()!r}", flush=True)
            print(f"   {word}: {said if before == 0 else why}", flush=True)
    print(f"{caught} of {len(chosen)} caught, {time.perf_counter() - begin:.0f} s")
    return 0 if caught == len(chosen) else 1


if __name__ == "__main__":
    sys.exit(main([int(text) for text in sys.argv[1:]]))
