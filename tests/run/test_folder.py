"""The run folder: what it holds, that it runs again, and that the same run gives the same bytes."""

import csv
import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from sim.lap.ladder import Model
from sim.scenario.file import load_scenario
from sim.store.run_folder import MARKER
from sim.study.compare import compare
from sim.study.rows import flat, rows_of
from viz.run.folder import trace_names, write_run

YARD = (Path(__file__).parents[1] / "scenarios" / "yard.toml").read_text(encoding="utf-8")
SEGMENTS = "segments = [{straight_m = 8}, {radius_m = 4, turn_deg = 90}, {straight_m = 4}]"
BEND = "x_m,y_m\n0,0\n4,0\n8,0.2\n12,1.2\n15,3\n17,6\n18,10\n18,14\n18,18\n"
WHEELS = ("front_left", "front_right", "rear_left", "rear_right")
PLOTS = {"course.png", "losses.png", "slip.png"}


def run(scenario, folder, rung=Model.SLIPPING_FOUR_WHEELS):
    """Lap a scenario file and write its run folder, as the command does."""
    comparison = compare(load_scenario(scenario), scenario.parent, str(scenario), rung)
    write_run(comparison, scenario.parent, folder)
    return comparison


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    """A folder with the small scenario, run once into `kept`."""
    home = tmp_path_factory.mktemp("home")
    (home / "yard.toml").write_text(YARD, encoding="utf-8")
    return home


@pytest.fixture(scope="module")
def comparison(home):
    return run(home / "yard.toml", home / "kept")


@pytest.fixture(scope="module")
def kept(home, comparison):
    return home / "kept"


def rows(file):
    with open(file, encoding="utf-8", newline="") as stream:
        return list(csv.reader(stream))


def test_contents(kept):
    assert {file.name for file in kept.iterdir()} == {
        "summary.json", "summary.csv", "scenario.toml", MARKER, *PLOTS,
        "trace-01-ideal.csv", "trace-02-short-lock.csv", "trace-03-turntable.csv",
    }  # fmt: skip
    for plot in PLOTS:
        assert (kept / plot).read_bytes().startswith(b"\x89PNG")
    assert all(b"\r" not in file.read_bytes() for file in kept.glob("*.[ct]*") if file.suffix != ".png")


def test_summary_csv_is_summary_json_as_rows(kept):
    setups = json.loads((kept / "summary.json").read_text(encoding="utf-8"))["setups"]
    head, *body = rows(kept / "summary.csv")
    assert len(set(head)) == len(head)
    assert not any(set(name) & set(" .") for name in head)
    expected = {
        "name", "finished", "reason", "lap_time_s", "drive_work_J", "battery_Wh", "scrub_J", "geometry_cost_J",
        "geometry_scrub_J", "ledger_residual",
        "path_error_rms_m", "path_error_max_m", "min_load_N", "laps_per_charge", "air_J", "rolling_J", "brakes_J", "height_J", "aligning_J",
        *(f"{part}_{wheel}_{unit}" for wheel in WHEELS
          for part, unit in (("lateral", "J"), ("longitudinal", "J"), ("rub", "m"), ("peak_slip", "deg"))),
    }  # fmt: skip
    assert set(head) >= expected
    assert not {"losses_J", "rub_m", "peak_slip_deg"} & set(head)  # a table of figures has a column a figure
    assert [row[head.index("name")] for row in body] == ["ideal", "short lock", "turntable"]
    for row, setup in zip(body, setups, strict=True):
        for column, value in flat({key: value for key, value in setup.items() if value is not None}).items():
            cell = row[head.index(column)]
            assert cell == ("" if value is None else str(value))  # every digit
    unfinished = dict(zip(head, body[1], strict=True))
    assert {unfinished[name] for name in ("lap_time_s", "drive_work_J", "air_J", "lateral_front_left_J", "rub_rear_left_m")} == {""}


def test_summary_csv_keeps_its_columns_when_the_first_set_up_does_not_finish():
    done = {"name": "a", "losses_J": {"air": 1.0, "lateral": {"front_left": 2.0}}, "rub_m": {"front_left": 3.0}, "worth": {"air drag": 4.0}}
    stopped = {"name": "b", "losses_J": None, "rub_m": None, "worth": None, "battery_Wh": None}
    assert rows_of([stopped, done]) == [
        {"name": "b", "battery_Wh": None},
        {"name": "a", "air_J": 1.0, "lateral_front_left_J": 2.0, "rub_front_left_m": 3.0, "worth_air_drag": 4.0},
    ]


def test_traces(kept, comparison):
    for name, result in zip(trace_names(comparison), comparison.results, strict=True):
        head, *body = rows(kept / name)
        assert head[:11] == ["time_s", "station_m", "x_m", "y_m", "heading_deg", "speed_m_per_s", "sideslip_deg", "yaw_rate_deg_per_s",
                             "lateral_error_m", "hand_deg", "drive_force_N"]  # fmt: skip
        parts = ("steer_deg", "slip_deg", "load_N", "lateral_force_N", "longitudinal_force_N", "slip_loss_W", "rub_speed_m_per_s")
        assert head[11:] == [f"{part}_{wheel}" for part in parts for wheel in WHEELS]
        table = np.array(body, dtype=float)
        assert table.shape == (len(result.trace.time), 39)
        assert np.all(np.isfinite(table))
        # fifty rows a second, from the start to the end of the lap
        assert table[:, 0] == pytest.approx(np.arange(len(table)) / 50, rel=0, abs=1e-9)
        assert table[-1, 0] == pytest.approx(result.time, rel=0, abs=0.021)
        # written with seven digits
        for column, values in result.trace.columns().items():
            assert table[:, head.index(column)] == pytest.approx(values, rel=5.1e-7, abs=1e-300)


def test_trace_of_a_rung_without_loads_has_empty_cells(home):
    run(home / "yard.toml", home / "rolling", Model.ROLLING_BICYCLE)
    text = (home / "rolling" / "trace-01-ideal.csv").read_text(encoding="utf-8")
    assert "nan" not in text
    head, *body = rows(home / "rolling" / "trace-01-ideal.csv")
    assert {row[head.index("load_N_front_left")] for row in body} == {""}
    assert all(row[head.index("speed_m_per_s")] for row in body)


def test_trace_names_stay_apart_and_within_bounds(comparison):
    def named(*names):
        from dataclasses import replace

        return trace_names(replace(comparison, results=tuple(replace(comparison.results[0], name=name) for name in names)))

    assert named("Drop arm, 2 rods!", "drop-arm 2 rods", "轮胎", "x" * 80) == [
        "trace-01-drop-arm-2-rods.csv", "trace-02-drop-arm-2-rods.csv", "trace-03.csv", f"trace-04-{'x' * 40}.csv",
    ]  # fmt: skip


# --- it runs again ----------------------------------------------------------------------------------------------------


def same_bytes(one, other):
    assert {file.name for file in one.iterdir()} == {file.name for file in other.iterdir()}
    for file in one.iterdir():
        assert file.read_bytes() == (other / file.name).read_bytes(), file.name


@pytest.mark.slow
@pytest.mark.compiled
def test_the_scenario_in_the_folder_runs_again(home, kept):
    run(kept / "scenario.toml", home / "again")
    same_bytes(kept, home / "again")


@pytest.mark.slow
def test_the_folder_can_be_replaced_by_its_own_scenario(home, kept):
    run(kept / "scenario.toml", home / "twin")
    run(home / "twin" / "scenario.toml", home / "twin")
    same_bytes(kept, home / "twin")


@pytest.mark.slow
@pytest.mark.parametrize("name", ["bend.csv", "inner/bend.csv", "summary.csv", "trace-01-ideal.csv"])
def test_a_course_file_goes_with_the_folder(tmp_path, name):
    (tmp_path / name).parent.mkdir(exist_ok=True)
    (tmp_path / name).write_text(BEND, encoding="utf-8")
    (tmp_path / "own.toml").write_text(YARD.replace(SEGMENTS, f'file = "{name}"'), encoding="utf-8")
    run(tmp_path / "own.toml", tmp_path / "kept")
    (tmp_path / name).unlink()
    moved = (tmp_path / "kept").rename(tmp_path / "moved")
    copy = load_scenario(moved / "scenario.toml").course.file
    assert copy == ("bend.csv" if "bend" in name else f"course-{name}")
    assert (moved / copy).read_text(encoding="utf-8") == BEND
    assert (moved / "summary.csv").read_text(encoding="utf-8").startswith("name,finished,")
    again = compare(load_scenario(moved / "scenario.toml"), moved, "again")
    first = json.loads((moved / "summary.json").read_text(encoding="utf-8"))
    assert [one.ledger and one.ledger.drive_work for one in again.results] == [one["drive_work_J"] for one in first["setups"]]


@pytest.mark.slow
@pytest.mark.compiled
def test_same_run_twice_gives_the_same_bytes(home, kept):
    run(home / "yard.toml", home / "twice")
    same_bytes(kept, home / "twice")


@pytest.mark.slow
def test_another_process_gives_the_same_bytes(home, kept):
    subprocess.run([sys.executable, "-m", "viz.cli", "run", "yard.toml", "--out", "other"], cwd=home, check=True, capture_output=True)
    # The command adds the page, which the marker lists; all that both hold is the same.
    names = {file.name for file in kept.iterdir()}
    assert {file.name for file in (home / "other").iterdir()} == names | {"report.html"}
    for name in names - {MARKER}:
        assert (kept / name).read_bytes() == (home / "other" / name).read_bytes(), name


def test_nothing_in_the_folder_tells_when_or_where_it_was_made(home, kept):
    for file in kept.iterdir():
        assert str(home).encode() not in file.read_bytes()
    marker = json.loads((kept / MARKER).read_text(encoding="utf-8"))
    assert not any(isinstance(value, float) for value in marker.values())
