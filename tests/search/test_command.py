"""`search` at the command line: what it refuses, the piece of a scenario that it writes, and a search that is interrupted."""

import json
import os
import shutil
import signal
import subprocess
import sys
import time
import tomllib
from dataclasses import fields

import numpy as np
import pytest

from sim.scenario.file import find_scenario, load_scenario
from sim.scenario.setup import SetupTable
from sim.search.result import Found, FreeRow, Gain, LapFigures, SearchResult, SumFigures
from viz.cli.entry import INTERRUPTED, main
from viz.search.numbers import search_fragment

COMMAND = [sys.executable, "-m", "viz.cli", "search"]
# Keeps its candidates after each block, so that a quick machine too can be stopped while it judges.
EAGER = [sys.executable, "-c", "import sim.search.kept as kept; kept.EVERY = 0.0; from viz.cli import main; main()", "search"]
QUIET = {key: value for key, value in os.environ.items() if key not in ("COLUMNS", "FORCE_COLOR", "NO_COLOR")}
ARMS = {"arm_length_mm": 110.0, "arm_angle_deg": 13.9}
LINKAGES = {
    "ideal": {"linkage": "ideal"},
    "parallel": {"linkage": "parallel"},
    "fraction": {"linkage": "fraction", "fraction": 0.4},
    "cross rod": ARMS | {"linkage": "cross rod", "thread_pitch_mm": 1.0583, "rod_turns_left": 0.5},
    "centre arm": ARMS | {"linkage": "centre arm", "drop_arm_length_mm": 70.0, "drop_arm_behind_front_axle_mm": 107.0},
    "rack": ARMS | {"linkage": "rack", "rack_behind_front_axle_mm": 140.0, "rack_length_mm": 300.0, "rack_mm_per_turn": 120.0},
    "turntable": {"pivot": "turntable"},
}


@pytest.fixture
def searched(tmp_path, monkeypatch, capsys):
    """Run the command in this process and an empty folder: (exit code, standard output, standard error)."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "excepthook", sys.excepthook)
    monkeypatch.setattr("sim.kernels.compiled.first_use", lambda kernel: False)

    def run(*words):
        monkeypatch.setattr(sys, "argv", ["scrubwise", "search", *words])
        with pytest.raises(SystemExit) as ended:
            main()
        return ended.value.code, *capsys.readouterr()

    return run


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (["--seed", "-1"], "--seed: -1 is below 0; give a whole number"),
        (["--free", "arm_angle_deg=0:10", "--free", "arm_angle_deg=10:30"], "--free: arm_angle_deg: it stands twice; give it once"),
        (["--limit", "lock_deg=40", "--limit", "lock_deg=30"], "--limit: lock_deg: it stands twice; give it once"),
        (["--objective", "drive"], "--objective: 'drive' is no objective; choose among drive-work, battery, scrub, rub, error"),
        (["--objective", "drive-work", "--objective", "drive_work"],
         "--objective: a search has one objective or two different ones; choose among drive-work, battery, scrub, rub, error"),
        (["--setup", "5"], 'car-park: --setup: there is no set-up "5"; choose one of 1 "ideal", 2 "parallel", 3 "kinked arms, cross rod", '
                           '4 "turntable axle"'),
    ],
)  # fmt: skip
def test_refused_in_one_line(searched, words, line):
    assert searched("car-park", *words) == (2, "", f"scrubwise: {line}\n")


@pytest.mark.parametrize("keys", LINKAGES.values(), ids=list(LINKAGES))
def test_a_fragment_of_every_linkage_is_a_block_of_its_own(tmp_path, keys):
    setup = SetupTable.model_validate({"name": "tried, searched", "pivot": "stub axles", "toe_in_deg": -0.0014} | keys)
    nothing = SumFigures(*[None] * len(fields(SumFigures)))
    laps = {name: None for name in ("scrub_J", "battery_Wh", "lap_time_s", "laps_per_charge", "race_laps", "rub_m", "ledger_residual")}
    own, best = (
        Found({"toe_in_deg": toe}, nothing, LapFigures(finished=True, drive_work_J=work, rolling_J=300.0, **laps), setup)
        for toe, work in ((1.0, 450.0), (-0.0014, 400.0))
    )  # fmt: skip
    free = FreeRow("toe_in_deg", low=-2.0, high=2.0, own=1.0, best=-0.0014, flat_low=-1.0, flat_high=1.0, at_bound=False)
    result = SearchResult(
        title="tried", setup="tried", linkage=setup.linkage, objectives=("drive_work",), limits={}, target_m_per_s=3.0, closed=True,
        candidates=100, free=(free,), own=own, best=best, less_change=None, level=False, gains=(Gain(12.0, 50.0),), front=(),
    )  # fmt: skip
    fragment = search_fragment(result, setup)
    assert fragment.count("[[setup]]") == 1
    scenario = tmp_path / "mine.toml"
    for shipped in ("first-bend", "car-park"):
        scenario.write_text(find_scenario(shipped).read_text(encoding="utf-8") + "\n" + fragment, encoding="utf-8")
        added = load_scenario(scenario).setup[-1]
        assert added == setup.model_copy(update={"toe_in_deg": 0.0})  # a nothing is written as 0, what was not searched as it stood
    assert ("can't be built" in fragment) == (keys.get("linkage") in ("ideal", "fraction"))


@pytest.mark.slow
def test_a_scenario_without_rods_has_its_toe_searched_and_is_told_so(searched, tmp_path):
    code, out, err = searched("first-bend", "--fragment", "found.toml")
    assert (code, err) == (0, "")
    text = " ".join(out.split())
    assert '"ideal" is a yardstick that no arms and rods follow: it can\'t be built. Only its toe (toe_in_deg) was searched.' in text
    assert "Leave the car as it is" in text.partition("costs under")[0]
    assert "-0.0" not in text.replace("-0.2", "")
    assert "e-0" not in text
    assert "[[setup]]" not in text  # nobody is to paste it
    mine = tmp_path / "mine.toml"
    mine.write_text(find_scenario("first-bend").read_text(encoding="utf-8") + (tmp_path / "found.toml").read_text(encoding="utf-8"),
                    encoding="utf-8")  # fmt: skip
    assert load_scenario(mine).setup[-1].name == "ideal, searched"


ATTEMPTS = 6  # to stop a search while it judges candidates, on a machine that is busy


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="uses what POSIX systems alone have")
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL], ids=["Ctrl-C", "killed"])
def test_an_interrupted_search_goes_on_where_it_was_stopped(tmp_path, how):
    free = [
        "arm_length_mm=60:200",
        "arm_angle_deg=0:30",
        "drop_arm_length_mm=40:120",
        "drop_arm_behind_front_axle_mm=60:160",
        "toe_in_deg=-1:1",
    ]
    words = ["quay-loop", "--setup", "drop", *(word for one in free for word in ("--free", one)), "--json"]
    ways = {"cwd": tmp_path, "env": QUIET, "text": True}
    whole = subprocess.run([*COMMAND, *words], capture_output=True, timeout=300, **ways)
    assert whole.returncode == 0
    kept = tmp_path / "kept"
    for _ in range(ATTEMPTS):
        running = subprocess.Popen([*EAGER, *words, "--resume", "kept"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, **ways)
        while not list(kept.glob("candidates-*.npy")):
            assert running.poll() is None
            time.sleep(0.01)
        running.send_signal(how)
        out, _ = running.communicate(timeout=60)
        assert (running.returncode, out) == (INTERRUPTED if how == signal.SIGINT else -how, "")
        if not list(kept.glob("block-*.npy")):
            break
        shutil.rmtree(kept)  # it was driving laps before the signal came: all candidates were judged by then
    (file,) = kept.glob("candidates-*.npy")
    before = np.load(file)
    again = subprocess.run([*COMMAND, *words, "--resume", "kept"], capture_output=True, timeout=300, **ways)
    assert (again.returncode, again.stdout) == (0, whole.stdout)
    after = np.load(file)
    assert 0 < len(before) < len(after) == json.loads(whole.stdout)["candidates"]
    np.testing.assert_array_equal(after[: len(before)], before)


@pytest.mark.slow
def test_a_fragment_that_was_pasted_does_not_stop_the_next_search(searched, tmp_path):
    shipped = find_scenario("car-park").read_text(encoding="utf-8")
    words = ["mine.toml", "--setup", "3", "--objective", "error", "--free", "arm_angle_deg=5:30", "--fragment", "found.toml"]
    (tmp_path / "mine.toml").write_text(shipped, encoding="utf-8")
    for name in ("kinked arms, cross rod, searched", "kinked arms, cross rod, searched 2"):
        code, _, err = searched(*words)
        assert (code, err) == (0, "")
        fragment = (tmp_path / "found.toml").read_text(encoding="utf-8")
        assert tomllib.loads(fragment)["setup"][0]["name"] == name
        with open(tmp_path / "mine.toml", "a", encoding="utf-8") as stream:
            stream.write(fragment)
