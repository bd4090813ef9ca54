"""A run folder as arrays, and how a damaged one is refused."""

import json
import shutil
from pathlib import Path

import numpy as np
import pytest

from sim.errors import InputError
from sim.scenario.file import find_scenario, load_scenario
from sim.study.compare import compare
from sim.study.summary import summary
from viz.replay import run_data
from viz.replay.run_data import read_run
from viz.run.folder import write_run
from viz.shared.telling import separate_peaks

RADIUS = 4.0


def test_places_on_the_circle(replay, sideslip):
    """The ground points of a rolling car, in closed form: rear wheels at the rear axle's radius less and plus half its track."""
    centre = np.array([0.0, RADIUS])
    away = np.hypot(*(replay.drives[0].ground - centre).transpose(2, 0, 1))
    rear = RADIUS * np.cos(sideslip)
    # The trace has twelve digits; half an arc's rounding is far below a micrometre.
    assert away[:, 2] == pytest.approx(rear - 0.43, rel=0, abs=1e-9)
    assert away[:, 3] == pytest.approx(rear + 0.43, rel=0, abs=1e-9)
    assert (away[:, 1] > away[:, 0]).all()


def test_ideal_wheels_move_where_they_point(replay):
    assert np.abs(replay.drives[0].drift).max() == pytest.approx(0, rel=0, abs=1e-9)


def test_parallel_wheels_do_not(replay):
    """The inner wheel points too little into the bend, so it moves further left than it points; the outer the other way."""
    drift = replay.drives[1].drift[10]
    assert drift[0] > np.radians(0.5)
    assert drift[1] < -np.radians(0.5)
    assert np.abs(drift[2:]).max() < np.radians(0.6)


def test_between_two_samples(replay):
    drive = replay.drives[1]
    before, middle, after = drive.at(20), drive.at(20.5), drive.at(21)
    assert middle.x == pytest.approx((before.x + after.x) / 2, rel=0, abs=1e-12)
    assert middle.power == pytest.approx(before.power, rel=1e-9, abs=0)
    assert middle.steer == pytest.approx(before.steer, rel=1e-9, abs=1e-12)
    assert drive.at(1e9).station == pytest.approx(drive.station[-1], rel=1e-12, abs=0)
    assert drive.row_at(drive.station, drive.station[7]) == pytest.approx(7, rel=0, abs=1e-9)


def test_running_totals(replay):
    drive = replay.drives[1]
    assert drive.work[-1] == pytest.approx(drive.total[0] * drive.time[-1], rel=1e-9, abs=0)


@pytest.mark.compiled
def test_totals_of_a_real_run_are_those_of_its_summary(tmp_path):
    path = find_scenario("first-bend")
    comparison = compare(load_scenario(path), path.parent, "first-bend")
    write_run(comparison, path.parent, tmp_path / "run")
    told = summary(comparison).setups
    for drive, one in zip(read_run(tmp_path / "run").drives, told, strict=True):
        # Trapezoids at 50 Hz against the integral that the lap kernel carries: both err by less than a thousandth.
        assert np.trapezoid(drive.total, drive.time) == pytest.approx(one.scrub_J, rel=2e-3, abs=0)
        # The board said a joule more or less than the table: its totals are the table's.
        assert drive.work[-1] == pytest.approx(one.scrub_J, rel=1e-12, abs=0)
        assert drive.rub[-1] == pytest.approx(sum(vars(one.rub_m).values()), rel=1e-12, abs=0)
        sideways = np.trapezoid(drive.lateral.sum(axis=1), drive.time)
        assert sideways == pytest.approx(sum(vars(one.losses_J.lateral).values()), rel=1e-2, abs=0)


def test_peaks_with_a_deep_valley_between_are_places_of_their_own():
    assert separate_peaks(np.array([0.0, 9.0, 6.0, 8.0, 1.0, 3.0, 2.0, 0.0])) == [1, 5]  # 8 is the shoulder of 9
    assert separate_peaks(np.array([5.0, 1.0, 0.0, 0.6, 0.0, 7.0])) == [5, 0]  # 0.6 is less than a tenth of 7
    assert separate_peaks(np.array([2.0, 2.0, 2.0])) == [0]
    assert separate_peaks(np.zeros(3)) == [0]


def test_a_bend_across_the_line_is_one_place(car_park):
    """The second bend of the car park ends on the line; the first metre is not a place of its own."""
    assert len(car_park.telling([0, 1, 2, 3])) == 2


def test_a_model_without_width_has_its_wheels_in_the_middle(circle_run, tmp_path):
    folder = tmp_path / "bicycle"
    shutil.copytree(circle_run, folder)
    text = (folder / "summary.json").read_text()
    (folder / "summary.json").write_text(text.replace("slipping four wheels", "slipping bicycle"))
    trace = folder / "trace-01-x.csv"
    head, *rows = trace.read_text().splitlines()
    at = head.split(",").index("load_N_front_left")
    blank = [",".join("" if at <= i < at + 1 else cell for i, cell in enumerate(row.split(","))) for row in rows]
    trace.write_text("\n".join([head, *blank]) + "\n")
    made = read_run(folder)
    assert made.single_track
    assert (made.drives[0].wheel_y == 0).all()
    assert np.isnan(made.drives[0].load[:, 0]).all()


def damaged(change):
    return lambda folder: (folder / "trace-02-x.csv").write_text(change((folder / "trace-02-x.csv").read_text()))


def with_cell(column, value, row=3):
    """Puts one value into a trace.  row : from 0, behind the header."""

    def change(text):
        head, *rows = text.splitlines()
        cells = rows[row].split(",")
        cells[head.split(",").index(column)] = value
        rows[row] = ",".join(cells)
        return "\n".join([head, *rows]) + "\n"

    return damaged(change)


def with_setups(count):
    """A summary that tells of so many set-ups."""

    def spoil(folder):
        told = json.loads((folder / "summary.json").read_text())
        told["setups"] = (told["setups"] * 3)[:count]
        (folder / "summary.json").write_text(json.dumps(told))

    return spoil


OLD = '{"format": 0, "written_by": "scrubwise 0.0"}'
DAMAGE = {
    "no trace": (lambda folder: (folder / "trace-02-x.csv").unlink(), "the trace of set-up 2 is missing"),
    "cut row": (damaged(lambda text: text[: len(text) // 2]), "the trace is damaged"),
    "a word": (damaged(lambda text: text.replace("\n0.02,", "\nhello,")), "the trace is damaged"),
    "a gap": (damaged(lambda text: text.replace("\n0.02,", "\n,")), "the trace has gaps"),
    "backwards": (damaged(lambda text: text.replace("\n0.04,", "\n9,")), "the trace does not run forward"),
    "no column": (damaged(lambda text: text.replace("load_N_front_left", "load", 1)), "there is no column load_N_front_left"),
    "header alone": (damaged(lambda text: text.splitlines()[0] + "\n"), "the trace is too short to replay"),
    "summary": (lambda folder: (folder / "summary.json").write_text("{"), "the file is damaged"),
    "no scenario": (lambda folder: (folder / "scenario.toml").unlink(), "the file can't be read"),
    "old version": (lambda folder: (folder / "scrubwise-run.json").write_text(OLD), "in format 0"),
    "a place far away": (with_cell("x_m", "1e6"), "line 5: x_m is 1e+06, not between -104 and 104"),
    "a place beyond all": (with_cell("y_m", "-1e200"), "line 5: y_m is -1e+200, not between"),
    "a steer that no wheel has": (with_cell("steer_deg_front_left", "720"), "line 5: steer_deg_front_left is 720, not between -90 and 90"),
    "no number": (with_cell("x_m", "nan"), "the trace has gaps"),
    "no end": (with_cell("load_N_rear_left", "inf"), "line 5: load_N_rear_left is inf, not between"),
    "a station far on": (with_cell("station_m", "1e6", -1), "station_m is 1e+06, not between"),
    "no set-ups": (with_setups(0), "the summary tells of 0 set-ups, and the run's scenario.toml has 5"),
    "more set-ups than the scenario": (with_setups(7), "the summary tells of 7 set-ups, and the run's scenario.toml has 5"),
    "no marker": (lambda folder: (folder / "scrubwise-run.json").unlink(), "did not write this folder"),
}  # fmt: skip


@pytest.mark.parametrize("case", DAMAGE)
def test_a_damaged_run_is_refused_in_one_line(circle_run, tmp_path, case):
    spoil, problem = DAMAGE[case]
    folder = tmp_path / "run"
    shutil.copytree(circle_run, folder)
    spoil(folder)
    with pytest.raises(InputError) as refusal:
        read_run(folder)
    assert problem in str(refusal.value)
    assert "\n" not in str(refusal.value)


@pytest.mark.parametrize("column", run_data.COLUMNS)
def test_one_wild_number_anywhere_is_one_line(circle_run, tmp_path, column):
    """Each once went into the picture: 1e200 W hung, 720 degrees were drawn."""
    folder = tmp_path / "run"
    shutil.copytree(circle_run, folder)
    with_cell(column, "-1e200" if column.endswith("right") else "1e200")(folder)
    with pytest.raises(InputError, match=r"^\S+: (line 5: \w+ is -?1e\+200, not between|the trace does not run forward)[^\n]*$"):
        read_run(folder)


def test_a_scenario_in_place_of_its_run(tmp_path, monkeypatch):
    """`watch first-bend` said only that there is no such folder."""
    monkeypatch.chdir(tmp_path)
    words = "first-bend: this is a scenario, not the folder of a run; "
    with pytest.raises(InputError) as refusal:
        read_run(Path("first-bend"))
    assert str(refusal.value) == words + "run it first: scrubwise run first-bend; then: scrubwise watch first-bend-run"
    Path("first-bend-run").mkdir()
    with pytest.raises(InputError) as refusal:
        read_run(Path("first-bend"))
    assert str(refusal.value) == words + "look at its run: scrubwise watch first-bend-run"


def test_no_run_at_all(tmp_path):
    with pytest.raises(InputError, match="there is no such run folder"):
        read_run(tmp_path / "nowhere")
