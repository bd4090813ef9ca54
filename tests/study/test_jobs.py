"""Many laps: the figures are those of laps driven one by one, whoever drives them, in whatever order, and what is done is kept."""

import tomllib
from pathlib import Path

import numpy as np
import pytest

import sim.study.jobs
from sim.errors import InputError
from sim.lap.drive import Ended, drive_lap
from sim.lap.ledger import ledger_of
from sim.pace.driver import plan_pace
from sim.scenario.file import check_scenario
from sim.scenario.setup import SetupTable
from sim.steering.arrangement import build_steering
from sim.steering.table import sampled, steer_table
from sim.study.jobs import COLUMNS, FEWEST_IN_STEP, Job, Jobs, drive_block, drive_jobs
from sim.study.ready import car_of, course_of, make_entry, pace_of
from sim.study.workers import Workers

# The car of the small scenario, with a differential.
YARD = Path(__file__).parents[1] / "scenarios" / "yard.toml"
CAR = YARD.read_text(encoding="utf-8").partition("[course]")[0].replace("one wheel left", "differential")
TEXT = (
    CAR
    + """
[course]
segments = [{straight_m = 4}, {radius_m = 6, turn_deg = 60}]
[pace]
target_m_per_s = 4.0
[[setup]]
name = "ideal"
pivot = "stub axles"
linkage = "ideal"
[[setup]]
name = "short lock"
pivot = "stub axles"
linkage = "parallel"
hand_wheel_limit_deg = 5
[[setup]]
name = "no length"
pivot = "stub axles"
linkage = "cross rod"
arm_length_mm = 110
arm_angle_deg = 13.9
rod_turns_left = 40
thread_pitch_mm = 3
[[setup]]
name = "rack"
pivot = "stub axles"
linkage = "rack"
arm_length_mm = 110
arm_angle_deg = 13.9
rack_behind_front_axle_mm = 107
rack_length_mm = 300
rack_mm_per_turn = 120
"""
)
ENDED = {"ideal": True, "short lock": False, "no length": False, "rack": True}


@pytest.fixture(scope="module")
def scenario():
    return check_scenario(tomllib.loads(TEXT), "tried.toml")


@pytest.fixture(scope="module")
def course(scenario):
    return course_of(scenario, Path(), "tried.toml")


@pytest.fixture(scope="module")
def jobs(scenario):
    """Five cars with each set-up, one of which can't be built and one of which leaves the course."""
    cars = [
        {}, {"mass_kg": 120.0}, {"front_track_mm": 860.0}, {"wheelbase_mm": 1400.0, "wheel_radius_mm": 250.0}, {"kingpin_track_mm": 700.0}
    ]  # fmt: skip
    variants = [scenario.model_copy(update={"car": scenario.car.model_copy(update=car)}) for car in cars]
    return [Job(one, setup, 4.0 if index % 2 else 3.5) for index, one in enumerate(variants) for setup in range(len(scenario.setup))]


@pytest.fixture(scope="module")
def figures(course, jobs):
    return drive_jobs(course, jobs, Workers())


def column(rows, name):
    return rows[:, COLUMNS.index(name)]


def test_figures_are_those_of_laps_driven_one_by_one(course, jobs, figures):
    for job, row in zip(jobs, figures, strict=True):
        setup = job.scenario.setup[job.setup]
        assert bool(row[0]) is ENDED[setup.name]
        if not ENDED[setup.name]:
            assert np.isnan(row[1:]).all()
            continue
        car, entry = car_of(job.scenario), make_entry(setup, job.scenario, "tried.toml", "setup")
        lap = drive_lap(car, entry.table, course, plan_pace(course, car, pace_of(job.scenario, job.target)))
        ledger = ledger_of(car, lap)
        assert lap.ended == Ended.FINISHED
        known = dict(zip(COLUMNS, row, strict=True))
        assert (known["lap_time_s"], known["drive_work_J"], known["scrub_J"]) == (lap.time, ledger.drive_work, ledger.scrub)
        assert known["rub_front_left_m"] == ledger.rub[0]
        assert np.isnan(known["battery_Wh"])  # the scenario has none


@pytest.mark.compiled
@pytest.mark.parametrize("count", [1, FEWEST_IN_STEP - 1, FEWEST_IN_STEP, 20])
def test_few_laps_and_many_have_the_same_figures(course, jobs, figures, count):
    np.testing.assert_array_equal(drive_block(course, Jobs(jobs[:count]))[1], figures[:count])


@pytest.mark.compiled
@pytest.mark.target("T23", what="Many laps by one thread or several, in any order and blocks", asked="equal")
@pytest.mark.parametrize("threads", [2, 5])
@pytest.mark.parametrize("block", [3, 16])
def test_figures_do_not_depend_on_workers_or_order(course, jobs, figures, threads, block, monkeypatch):
    monkeypatch.setattr(sim.study.jobs, "BLOCK", block)
    order = np.random.default_rng(0).permutation(len(jobs))
    rows = drive_jobs(course, [jobs[index] for index in order], Workers(threads=threads))
    np.testing.assert_array_equal(rows, figures[order])


SETUPS = [
    {"linkage": "ideal"}, {"linkage": "parallel", "toe_in_deg": 0.4}, {"linkage": "fraction", "fraction": 0.5},
    {"linkage": "cross rod", "arm_length_mm": 110, "arm_angle_deg": 13.9, "kingpin_inclination_deg": 6, "caster_deg": 5},
    {"linkage": "centre arm", "arm_length_mm": 110, "arm_angle_deg": 13.9, "drop_arm_length_mm": 70,
     "drop_arm_behind_front_axle_mm": 107, "drop_arm_joint_spacing_mm": 0},
    {"linkage": "rack", "arm_length_mm": 110, "arm_angle_deg": 13.9, "rack_behind_front_axle_mm": 107, "rack_length_mm": 300,
     "rack_mm_per_turn": 120, "rod_turns_left": 1, "thread_pitch_mm": 1.25},
    {"pivot": "turntable"},
]  # fmt: skip


@pytest.mark.parametrize("keys", SETUPS, ids=lambda keys: keys.get("linkage", "turntable"))
def test_steering_reads_nothing_of_the_car_but_what_the_kept_tables_are_known_by(scenario, keys):
    setup = SetupTable.model_validate({"name": "tried", "pivot": "stub axles"} | keys)
    kept = sampled(setup, scenario.car, "tried.toml", "setup").table
    made = steer_table(build_steering(setup, scenario.car, "tried.toml", "setup"), scenario.car.wheelbase)
    np.testing.assert_array_equal(kept.cells, made.cells)
    assert (kept.first, kept.spacing, kept.lock_left, kept.lock_right) == (made.first, made.spacing, made.lock_left, made.lock_right)


def test_jobs_of_different_laps_are_not_driven_together(course, jobs):
    scenario = jobs[0].scenario
    longer = Job(scenario.model_copy(update={"pace": scenario.pace.model_copy(update={"laps": 2})}), 0, 4.0)
    with pytest.raises(ValueError, match="unpack"):
        drive_block(course, Jobs([jobs[0], longer]))


# --- what is kept -----------------------------------------------------------------------------------------------------


@pytest.fixture
def small_blocks(monkeypatch):
    monkeypatch.setattr(sim.study.jobs, "BLOCK", 4)


@pytest.fixture
def driven(monkeypatch):
    """Starts of the blocks that are driven."""
    starts, original = [], drive_block

    def counted(course, jobs, start=0):
        starts.append(start)
        return original(course, jobs, start)

    monkeypatch.setattr(sim.study.jobs, "drive_block", counted)
    return starts


@pytest.mark.usefixtures("small_blocks")
@pytest.mark.parametrize("workers", [Workers(), Workers(threads=2)], ids=["one", "two"])
def test_interruption_keeps_what_is_done(course, jobs, figures, tmp_path, driven, workers):
    def stop(done, of):
        if done >= 8:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        drive_jobs(course, jobs, workers, stop, tmp_path)
    kept = len(list(tmp_path.glob("block-*.npy")))
    assert kept == 2
    driven.clear()
    told = []
    rows = drive_jobs(course, jobs, workers, lambda done, of: told.append((done, of)), tmp_path)
    np.testing.assert_array_equal(rows, figures)
    assert len(driven) == len(jobs) // 4 - kept
    assert told[0] == (8, len(jobs))
    assert told[-1] == (len(jobs), len(jobs))


@pytest.mark.usefixtures("small_blocks")
def test_a_damaged_block_is_driven_again(course, jobs, figures, tmp_path, driven):
    drive_jobs(course, jobs, Workers(), store=tmp_path)
    cut, swapped, *_ = sorted(tmp_path.glob("block-*.npy"))
    cut.write_bytes(cut.read_bytes()[:100])
    swapped.write_bytes(b"not a table")
    driven.clear()
    np.testing.assert_array_equal(drive_jobs(course, jobs, Workers(), store=tmp_path), figures)
    assert len(driven) == 2


@pytest.mark.compiled
@pytest.mark.usefixtures("small_blocks")
def test_another_program_or_course_takes_nothing_up(course, jobs, tmp_path, driven, bend, monkeypatch):
    drive_jobs(course, jobs, Workers(), store=tmp_path)
    driven.clear()
    drive_jobs(bend(radius=7.0, straight=4.0), jobs, Workers(), store=tmp_path)
    monkeypatch.setattr(sim.study.jobs, "source_digest", lambda: "another")
    drive_jobs(course, jobs, Workers(), store=tmp_path)
    assert len(driven) == 2 * len(jobs) // 4


def test_a_store_that_cannot_be_is_refused_before_any_lap(course, jobs, tmp_path, driven):
    (tmp_path / "file").write_text("mine")
    for store, reason in ((tmp_path / "file", "File exists"), (tmp_path / "file" / "in it", "Not a directory")):
        with pytest.raises(InputError) as fault:
            drive_jobs(course, jobs, Workers(), store=store)
        assert str(fault.value) == f"{store}: finished laps can't be kept there ({reason}); choose another folder with --resume"
    assert not driven
    assert (tmp_path / "file").read_text() == "mine"


@pytest.mark.usefixtures("small_blocks")
def test_a_full_disk_is_told_and_what_is_kept_stays(course, jobs, figures, tmp_path, monkeypatch):
    original, calls = np.save, []

    def full(stream, rows):
        calls.append(1)
        if len(calls) == 3:
            stream.write(b"half")
            raise OSError(28, "No space left on device")
        original(stream, rows)

    monkeypatch.setattr(np, "save", full)
    with pytest.raises(InputError) as fault:
        drive_jobs(course, jobs, Workers(), store=tmp_path)
    assert str(fault.value) == (
        f"{tmp_path}: finished laps can't be kept in it (No space left on device); make room, or leave --resume out"
    )
    assert len(list(tmp_path.glob("block-*.npy"))) == 2
    np.testing.assert_array_equal(drive_jobs(course, jobs, Workers(), store=tmp_path), figures)
    assert not list(tmp_path.glob("*.part"))


def test_no_jobs_are_no_trouble(course, tmp_path):
    assert drive_jobs(course, [], Workers(threads=2), store=tmp_path).shape == (0, len(COLUMNS))


def test_progress_begins_at_nothing_done(course):
    told = []
    assert list(sim.study.jobs.drive_blocks(course, [], 0, Workers(), lambda done, of: told.append((done, of)))) == []
    assert told == [(0, 0)]
