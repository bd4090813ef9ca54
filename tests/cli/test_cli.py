"""The command line: exit codes, one line of error, pure JSON, and nothing half written."""

import json
import os
import re
import signal
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest
import typer

import sim.kernels.compiled
import sim.study.compare
import viz.cli.entry
import viz.run.plots
from sim.files.text import comma_slip
from sim.scenario.file import shipped_names
from viz.cli.entry import GOES_ON, INTERRUPTED, app, main
from viz.cli.examples import EXAMPLES, TAKE_RUN

YARD = (Path(__file__).parents[1] / "scenarios" / "yard.toml").read_text(encoding="utf-8")
COMMAND = [sys.executable, "-m", "viz.cli"]
QUIET = {key: value for key, value in os.environ.items() if key not in ("COLUMNS", "PYTHONUNBUFFERED", "FORCE_COLOR", "NO_COLOR")}
posix_only = pytest.mark.skipif(sys.platform == "win32", reason="uses what POSIX systems alone have")
WHEELS = dict.fromkeys(("front_left", "front_right", "rear_left", "rear_right"))
# What other programs rely on: the keys of each command's JSON.  Lists hold tables of one kind.
PROMISED = {
    "angles": {"setups": [{"name", "lock_deg", "kingpin_offset_mm", "turning_circle_kerb_m", "turning_circle_wall_m"}]},
    "rows": {"hand_deg", "left_deg", "right_deg", "ideal_inner_deg", "error_deg"},
    "corner": {"name", "converged", "hand_deg", "sideslip_deg", "drive_force_N", "scrub_W", "aligning_W", "wheels"},
    "wheel": {"steer_deg", "slip_deg", "load_N", "lateral_force_N", "longitudinal_force_N", "slip_loss_W"},
    "run": {"name", "finished", "lap_time_s", "drive_work_J", "battery_Wh", "losses_J", "scrub_J", "geometry_cost_J",
            "geometry_scrub_J", "rub_m", "ledger_residual", "path_error_rms_m", "path_error_max_m", "min_load_N", "peak_slip_deg",
            "laps_per_charge"},
    "losses": {"air", "rolling", "brakes", "height", "lateral", "longitudinal", "aligning"},
}  # fmt: skip


@pytest.fixture
def place(tmp_path, monkeypatch):
    """An empty current folder with the small scenario in it."""
    (tmp_path / "yard.toml").write_text(YARD, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def scrubwise(place, monkeypatch, capsys):
    """Run the command in this process: (exit code, standard output, standard error)."""
    monkeypatch.setattr(sys, "excepthook", sys.excepthook)
    monkeypatch.setattr(sim.kernels.compiled, "first_use", lambda kernel: False)

    def run(*words):
        monkeypatch.setattr(sys, "argv", ["scrubwise", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            main()
        return ended.value.code, *capsys.readouterr()

    return run


@pytest.fixture
def refused(scrubwise):
    """The line, without `scrubwise: `, with which a command refuses; nothing else may be printed, with or without --json."""

    def run(*words):
        lines = set()
        for more in ([], ["--json"]):
            code, out, err = scrubwise(*words, *more)
            assert (code, out) == (2, "")
            assert err.endswith("\n")
            assert err.count("\n") == 1
            lines.add(err.rstrip("\n"))
        (line,) = lines
        assert line.startswith("scrubwise: ")
        return line.removeprefix("scrubwise: ")

    return run


@pytest.fixture
def written(place):
    """Write a changed small scenario; returns its name."""

    def write(*changes, name="changed.toml"):
        text = YARD
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        (place / name).write_text(text, encoding="utf-8")
        return name

    return write


@pytest.fixture(scope="session")
def warm():
    """The fast code is made, so that another process finds it."""
    from sim.scenario.file import check_scenario

    tomllib = pytest.importorskip("tomllib")
    sim.study.compare.compare(check_scenario(tomllib.loads(YARD), "yard.toml"), Path(), "yard.toml")


def process(*words, cwd, env=None, **more):
    return subprocess.run([*COMMAND, *words], cwd=cwd, env=QUIET | (env or {}), capture_output=True, text=True, timeout=300, **more)


# --- help, and what it costs ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("words", [[], ["--help"], *([command.callback.__name__, "--help"] for command in app.registered_commands)],
                         ids=" ".join)  # fmt: skip
def test_help(scrubwise, words):
    code, out, err = scrubwise(*words)
    assert (code, err) == (0, "")
    assert out.startswith("Usage: scrubwise ")
    if len(words) == 2:
        assert "--json" in out  # every command has it


@pytest.mark.target(
    "T27", what="Help opens nothing that is compiled or draws, so that it needs no more than 0.5 s",
    asked="none of seven libraries imported",
)  # fmt: skip
def test_help_opens_no_heavy_room(place):
    probe = (
        "import sys\n"
        "from viz.cli.entry import main\n"
        "sys.argv = ['scrubwise', 'run', '--help']\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        "print(sorted({'numba', 'numpy', 'scipy', 'pandas', 'matplotlib', 'gpxpy', 'rich'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", probe], cwd=place, env=QUIET, capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


# --- results ----------------------------------------------------------------------------------------------------------


def result_of(scrubwise, *words):
    code, out, err = scrubwise(*words, "--json")
    assert (code, err) == (0, "")
    return json.loads(out, parse_constant=lambda sign: pytest.fail(f"{sign} is no JSON"))


@pytest.mark.compiled
@pytest.mark.parametrize("model", [
    "rolling-bicycle", "slipping-bicycle", pytest.param("rolling-four-wheels", marks=pytest.mark.slow), "slipping-four-wheels",
])  # fmt: skip
def test_run_json(scrubwise, place, model):
    result = result_of(scrubwise, "run", "yard.toml", "--model", model)
    assert os.listdir(place) == ["yard.toml"]  # no folder was asked for
    assert result["title"] == "Yard: three ways"
    assert result["model"] == model.replace("-", " ")
    assert result["course"].keys() >= {"length_m", "closed"}
    assert [setup["name"] for setup in result["setups"]] == ["ideal", "short lock", "turntable"]
    for setup in result["setups"]:
        assert setup.keys() >= PROMISED["run"]
        assert setup["peak_slip_deg"].keys() == WHEELS.keys()
        assert (setup["battery_Wh"], setup["laps_per_charge"]) == (None, None)  # no battery
        assert setup["finished"] == (setup["reason"] is None)
        if setup["finished"]:
            losses = setup["losses_J"]
            assert losses.keys() >= PROMISED["losses"]
            assert losses["lateral"].keys() == losses["longitudinal"].keys() == setup["rub_m"].keys() == WHEELS.keys()
            scrub = sum(losses["lateral"].values()) + sum(losses["longitudinal"].values())
            assert setup["scrub_J"] == pytest.approx(scrub, rel=1e-12, abs=1e-12)


@pytest.mark.compiled
def test_run_prints_and_writes_its_folder(scrubwise, place):
    code, out, err = scrubwise("run", "yard.toml")
    assert (code, err) == (0, "")
    assert out.startswith("Yard: three ways\n")
    assert "\nWritten to yard-run\nWhat to do: " in out
    assert "short lock  did not finish" in out
    assert "\x1b" not in out
    assert json.loads((place / "yard-run" / "summary.json").read_text(encoding="utf-8")) == result_of(scrubwise, "run", "yard.toml")
    assert sorted(os.listdir(place)) == ["yard-run", "yard.toml"]


@pytest.mark.slow
@pytest.mark.compiled
def test_run_json_with_a_folder_writes_it_too(scrubwise, place):
    result = result_of(scrubwise, "run", "yard.toml", "--out", "mine")
    assert json.loads((place / "mine" / "summary.json").read_text(encoding="utf-8")) == result


@pytest.mark.compiled
def test_angles(scrubwise):
    result = result_of(scrubwise, "angles", "yard.toml")
    assert [setup["name"] for setup in result["setups"]] == ["ideal", "short lock", "turntable"]
    for setup in result["setups"]:
        assert setup.keys() >= PROMISED["angles"]["setups"][0] | {"rows"}
        assert len(setup["rows"]) >= 11
        assert all(row.keys() >= PROMISED["rows"] for row in setup["rows"])
    short = result["setups"][1]
    assert short["lock_deg"] == pytest.approx(10, rel=1e-12, abs=0)
    assert [short["rows"][0]["hand_deg"], short["rows"][-1]["hand_deg"]] == pytest.approx([-10, 10], rel=1e-12, abs=0)
    code, out, err = scrubwise("angles", "yard.toml", "--explain")
    assert (code, err) == (0, "")
    assert out.count(" hand  ") == 3
    assert "-0.00 " not in out


def test_outer_angles(scrubwise):
    ideal, short, _ = result_of(scrubwise, "angles", "yard.toml", "--outer", "4, 20,80")["setups"]
    assert [row["right_deg"] for row in ideal["rows"]] == pytest.approx([4, 20], rel=1e-9, abs=0)
    assert ideal["beyond_lock_outer_deg"] == [80.0]
    assert [row["right_deg"] for row in short["rows"]] == pytest.approx([4], rel=1e-9, abs=0)
    assert short["beyond_lock_outer_deg"] == [20.0, 80.0]
    code, out, _ = scrubwise("angles", "yard.toml", "--outer", "4,20,80")
    assert code == 0
    assert out.count("outer 80 deg: beyond the lock") == 3
    assert out.count("outer 20 deg: beyond the lock") == 1


@pytest.mark.parametrize("radius", [["--radius", "8"], ["--radius", "-8"], ["--radius=-8"]], ids=" ".join)
def test_corner(scrubwise, radius):
    result = result_of(scrubwise, "corner", "yard.toml", *radius, "--speed", "3", "--ladder")
    turn = -8.0 if "-8" in radius[-1] else 8.0
    assert (result["radius_m"], result["speed_m_per_s"]) == (turn, 3.0)
    ideal, short, turntable = result["setups"]
    for setup in (ideal, turntable):
        assert setup.keys() >= PROMISED["corner"]
        assert setup["wheels"].keys() == WHEELS.keys()
        assert all(wheel.keys() >= PROMISED["wheel"] for wheel in setup["wheels"].values())
        assert setup["converged"]
        assert setup["hand_deg"] * turn > 0
        assert [rung["model"] for rung in setup["ladder"]][0::3] == ["rolling bicycle", "slipping four wheels"]
    assert short.keys() >= PROMISED["corner"]
    assert (short["converged"], short["wheels"], short["scrub_W"]) == (False, None, None)
    code, out, err = scrubwise("corner", "yard.toml", *radius, "--speed", "3", "--ladder")
    assert (code, err) == (0, "")
    assert out.startswith(f"Steady turn to the {'left' if turn > 0 else 'right'}: radius 8 m at 3 m/s, 1.12 m/s2 sideways.\n")
    assert '"short lock": there is no such turn: ' in out
    out = scrubwise("corner", "yard.toml", *radius, "--speed", "3", "--ladder", "--explain")[1]
    assert "\nThere is no such turn: " in out
    assert "front left" in out


def test_corner_of_chosen_set_ups(scrubwise, refused):
    line = ("corner", "yard.toml", "--radius", "8", "--speed", "3")
    everything = result_of(scrubwise, *line)
    names = [setup["name"] for setup in everything["setups"]]
    chosen = result_of(scrubwise, *line, "--setup", "3", "--setup", names[0].upper())
    assert chosen["setups"] == [everything["setups"][0], everything["setups"][2]]
    assert refused(*line, "--setup", "4").startswith('yard.toml: --setup: there is no set-up "4"; ')


@pytest.mark.slow
def test_knock(scrubwise, place):
    result = result_of(scrubwise, "knock", "yard.toml")
    assert [setup["name"] for setup in result["setups"]] == ["ideal", "short lock", "turntable"]
    assert os.listdir(place) == ["yard.toml"]
    code, out, err = scrubwise("knock", "yard.toml")
    assert (code, err) == (0, "")
    assert "\nWritten to yard-knock.png\nWhat to do: " in out
    assert (place / "yard-knock.png").read_bytes().startswith(b"\x89PNG")


@pytest.mark.compiled
def test_new(scrubwise, place):
    code, out, err = scrubwise("new", "mine.toml")
    assert (code, err) == (0, "")
    assert out == "Wrote mine.toml. Change it in any text editor, then: scrubwise run mine.toml\n"
    assert result_of(scrubwise, "new", "other.toml") == {"schema": "scrubwise.new/1", "written": "other.toml", "to_measure": 0}
    assert (place / "mine.toml").read_bytes() == (place / "other.toml").read_bytes()
    assert all(setup["finished"] for setup in result_of(scrubwise, "run", "mine.toml")["setups"])


@pytest.mark.slow
@pytest.mark.compiled
def test_a_course_file_is_looked_for_beside_the_scenario(scrubwise, place, written):
    inner = place / "inner"
    inner.mkdir()
    (inner / "bend.csv").write_text("x_m,y_m\n0,0\n4,0\n8,0.2\n12,1.2\n15,3\n17,6\n18,10\n18,14\n18,18\n", encoding="utf-8")
    written(('segments = [{straight_m = 8}, {radius_m = 4, turn_deg = 90}, {straight_m = 4}]', 'file = "bend.csv"'),
            name="inner/own.toml")  # fmt: skip
    result = result_of(scrubwise, "run", "inner/own.toml", "--out", "kept")
    assert result["course"]["name"] == "bend"
    assert (place / "kept" / "bend.csv").read_bytes() == (inner / "bend.csv").read_bytes()
    (inner / "bend.csv").unlink()
    code, out, err = scrubwise("run", "inner/own.toml", "--json")
    assert (code, out) == (2, "")
    assert err == f"scrubwise: {Path('inner/bend.csv')}: there is no such file; check the name and the folder\n"


# --- refusals ---------------------------------------------------------------------------------------------------------

MEANT = {
    ("help",): "no such command 'help'; write scrubwise --help, or scrubwise manual for the pages",
    ("help", "run"): "no such command 'help'; write scrubwise run --help",
    ("first-bend",): "no such command 'first-bend'; did you mean scrubwise run first-bend?",
    ("first", "bend", "--explain"): "no such command 'first'; did you mean scrubwise run first-bend?",
    ("yard.toml", "--json"): "no such command 'yard.toml'; did you mean scrubwise run yard.toml --json?",
    ("our car.toml",): "no such command 'our car.toml'; did you mean scrubwise run \"our car.toml\"?",
    ("rnu", "yard.toml"): "no such command 'rnu'; did you mean scrubwise run yard.toml?",
    ("kept",): "no such command 'kept'; did you mean scrubwise watch kept?",
    ("--json", "run", "yard.toml"): "no such option: --json; did you mean scrubwise run yard.toml --json?",
    ("--json", "yard.toml"): "no such option: --json; did you mean scrubwise run yard.toml --json?",
    ("run", "first", "bend", "--json"): "got unexpected extra argument(s) (bend); did you mean scrubwise run first-bend --json?",
}  # fmt: skip


@pytest.mark.parametrize(("words", "line"), MEANT.items(), ids=[" ".join(words) for words in MEANT])
def test_a_slip_in_the_command_is_answered_by_a_whole_one(scrubwise, place, words, line):
    """Whoever leaves the command out, or asks for help as elsewhere, was sent to read the list of all."""
    (place / "kept").mkdir()
    assert scrubwise(*words) == (2, "", f"scrubwise: command line: {line}\n")


USAGE = {
    ("nonsense",): "command line: no such command 'nonsense'; see scrubwise --help",
    ("run",): "command line: missing argument 'SCENARIO'; for example: scrubwise run first-bend",
    ("run", "yard.toml", "more"): "command line: got unexpected extra argument(s) (more); a name that holds a blank stands in quotes; see "
    "scrubwise run --help",
    ("corner", "yard.toml", "--speed", "3"): "command line: missing option '--radius'; for example: scrubwise corner yard.toml --speed 3 "
    "--radius 8",
    ("corner", "yard.toml", "--radius=8"): "command line: missing option '--speed'; for example: scrubwise corner yard.toml --radius=8 "
    "--speed 5",
    ("corner", "--speed", "3"): "command line: missing argument 'SCENARIO'; for example: scrubwise corner first-bend --speed 3 --radius 8",
    ("report", "first-bend"): "command line: missing option '--out'; for example: scrubwise report first-bend-run --out page.html",
    ("report", "--class", "first-bend"): "command line: missing option '--out'; for example: scrubwise report --class first-bend-run --out "
    "page.html",
    ("report", "my run"): "command line: missing option '--out'; for example: scrubwise report \"my run\" --out page.html",
    ("report", "--class"): "command line: missing argument 'RUN'; for example: scrubwise report first-bend-run --class --out page.html",
    ("report", "first-bend", "--out", "a b.html"): "first-bend: this is a scenario, not the folder of a run; run it first: scrubwise run "
    "first-bend; then: scrubwise report first-bend-run --out \"a b.html\"",
    ("report", "yard.toml", "--class", "--out", "c.html"): "yard.toml: this is a scenario, not the folder of a run; run it first: "
    "scrubwise run yard.toml; then: scrubwise report yard-run --class --out c.html",
    ("template", "yard.toml"): "command line: missing option '--out'; for example: scrubwise template yard.toml --out template.pdf",
    ("run", "yard.toml", "--model", "bicycle"): "--model: 'bicycle' is no rung of the ladder; choose one of rolling-bicycle, "
    "slipping-bicycle, rolling-four-wheels, slipping-four-wheels",
    ("corner", "yard.toml", "--radius", "0.2", "--speed", "3"): "--radius: 0.2 is not between 0.5 and 10000 in size; give the radius in "
    "metres, positive to the left",
    ("corner", "yard.toml", "--radius", "nan", "--speed", "3"): "--radius: nan is not between 0.5 and 10000 in size; give the radius in "
    "metres, positive to the left",
    ("corner", "yard.toml", "--radius", "8", "--speed", "1e999"): "--speed: inf is not between 0.01 and 40; give the speed in metres per "
    "second",
    ("angles", "yard.toml", "--outer", "20,x"): "--outer: 'x' is not a number; give degrees, separated by commas",
    ("angles", "yard.toml", "--outer", "20,,30"): "--outer: '' is not a number; give degrees, separated by commas",
    ("angles", "yard.toml", "--outer", "95"): "--outer: 95 is not between 0 and 89; give degrees, separated by commas",
    ("angles", "yard.toml", "--outer", "nan"): "--outer: nan is not between 0 and 89; give degrees, separated by commas",
    ("new", "yard.toml"): "yard.toml: there is something of this name already; choose another name",
    ("run", "frist-bend"): "frist-bend: no such file and no shipped scenario of that name; did you mean first-bend?",
    ("run", "."): ".: this is not a file; name a scenario file (.toml)",
    ("run", "yard.toml", "--out", "yard.toml"): "yard.toml: this is a file, not a folder; give the name of a new folder",
}  # fmt: skip


QUICK = ("angles", "corner", "knock", "coast", "new", "words", "manual", "lesson")  # of the examples; the others drive or draw


@pytest.mark.parametrize("command", [
    pytest.param(one, marks=[] if one in QUICK else [pytest.mark.slow]) for one in EXAMPLES
])  # fmt: skip
def test_an_example_of_a_whole_command_runs(scrubwise, place, command):
    if command in TAKE_RUN:
        assert scrubwise("run", "first-bend")[0] == 0
    more = {"watch": ["--export", "watch.png"], "spread": ["--samples", "64"]}  # no window here, and no minutes
    words = [*EXAMPLES[command].split(), *more.get(command, [])]
    code, out, err = scrubwise(command, *words)
    assert (code, err) == (0, "")
    assert out


def test_every_command_has_an_example_with_all_that_it_needs():
    assert set(EXAMPLES) == {command.callback.__name__ for command in app.registered_commands}
    for name, command in typer.main.get_command(app).commands.items():
        words = EXAMPLES[name].split()
        for needed in (one for one in command.params if one.required):
            there = needed.opts[0] in words if needed.opts[0].startswith("--") else not words[0].startswith("--")
            assert there, (name, needed.name)


@pytest.mark.parametrize(("words", "line"), USAGE.items(), ids=[" ".join(words) for words in USAGE])
def test_refusal_word_for_word(refused, place, words, line):
    assert refused(*words) == line
    assert os.listdir(place) == ["yard.toml"]
    assert (place / "yard.toml").read_text(encoding="utf-8") == YARD


def test_option_that_is_misspelt_or_no_number(refused):
    # how the rest is worded is up to the library that reads the command line
    assert refused("run", "yard.toml", "--modle", "x").startswith("command line: no such option: --modle")
    assert refused("run", "yard.toml", "--modle", "x").endswith(("; did you mean --model?", "; see scrubwise run --help"))
    number = "write one with a decimal point and without a unit"
    for words in (("--radius", "8 m"), ("--radius=8 m",)):
        assert refused("corner", "yard.toml", *words, "--speed", "3") == f"--radius: '8 m' is not a number; {number}"
    for given in ("2.5", "1,024"):
        whole = f"--samples: '{given}' is not a whole number; write one without a decimal point or comma"
        assert refused("spread", "yard.toml", "--samples", given) == whole


@pytest.mark.parametrize(("command", "option", "before"), [
    ("coast log.csv", "--mass", ""), ("coast log.csv --mass 75", "--rotating-mass", ""), ("coast log.csv --mass 75", "--air-density", ""),
    ("coast log.csv --mass 75", "--circle-radius", ""), ("knock yard.toml", "--step", ""), ("knock yard.toml", "--speed", ""),
    ("angles yard.toml", "--radius", ""), ("corner yard.toml --speed 3", "--radius", ""), ("search yard.toml", "--made-to", ""),
    ("search yard.toml", "--free", "arm_length_mm=90:"), ("search yard.toml", "--free", "arm_length_mm=90,0:120,0"),
    ("search yard.toml", "--limit", "longest_rod_mm="), ("watch run", "--at", ""), ("watch run", "--speed", ""),
])  # fmt: skip
def test_a_decimal_comma_is_named_with_the_number_that_is_meant(refused, command, option, before):
    """It was said to be no number, and whoever has always written it so saw nothing wrong with it."""
    comma, point = ("90,0", "90.0") if before.endswith("120,0") else ("145,5", "145.5")
    given = before if comma in before else f"{before}{comma}"
    assert refused(*command.split(), option, given) == f"{option}: '{comma}' has a comma; write {point}"
    assert refused(*command.split(), f"{option}={given}") == f"{option}: '{comma}' has a comma; write {point}"


@pytest.mark.parametrize(("text", "slip"), [
    ("145,5", ("'145,5' has a comma", "write 145.5")), (" -0,25 ", ("'-0,25' has a comma", "write -0.25")),
    ("1,450", ("'1,450' has a comma", "write 1.450 or 1450")), ("0,450", ("'0,450' has a comma", "write 0.450")),
    ("1,450,000", ("'1,450,000' has a comma", "write 1450000")), ("1,2,3", ("'1,2,3' has a comma", "write decimals with a point")),
    ("2,5e3", ("'2,5e3' has a comma", "write 2.5e3")), ("145.5", None), ("145", None), ("", None), (",5", None), ("5,", None),
    ("145,5 kg", None), ("1.450,5", None), ("a,b", None), ("1,٣", None),
])  # fmt: skip
def test_numbers_with_a_comma(text, slip):
    assert comma_slip(text) == slip


@pytest.mark.parametrize("command", [command.callback.__name__ for command in app.registered_commands])
def test_every_command_refuses_what_it_does_not_know(refused, command):
    assert refused(command, "--colour", "red").startswith("command line: ")


@pytest.mark.parametrize("words", [["run"], ["angles"], ["corner", "--radius", "8", "--speed", "3"], ["knock"]], ids=lambda words: words[0])
def test_bad_scenario(refused, written, words):
    name = written(("hand_wheel_limit_deg", "hand_wheel_limmit_deg"))
    wanted = 'changed.toml: setup "short lock".hand_wheel_limmit_deg: no such key; did you mean hand_wheel_limit_deg?'
    assert refused(*words, name) == wanted
    name = written(('linkage = "parallel"', 'linkage = "cross rod"\narm_length_mm = 600\narm_angle_deg = 90'))
    assert refused(*words, name).startswith('changed.toml: setup "short lock".arm_')  # cannot be put together


def test_a_set_up_that_cannot_be_built_is_refused_by_the_keys_of_its_file_with_what_looks_like_a_slip(refused, written):
    """Another length was wrong, and the refusal named a key that the file does not have."""
    arm = 'linkage = "centre arm"\narm_joint_behind_mm = 110\narm_joint_inside_mm = 24\ndrop_arm_length_mm = 70\n'
    name = written(('linkage = "parallel"', f"{arm}drop_arm_behind_front_axle_mm = 1080"), ("short lock", "v1.2 lock"))
    told = 'changed.toml: setup "v1.2 lock".arm_joint_behind_mm and arm_joint_inside_mm: the steering does not work straight ahead: '
    meant = 'Is this right? "v1.2 lock": drop_arm_behind_front_axle_mm = 1080 is unusual (-300 to 300 is usual); did you mean 108?'
    for words in (["angles"], ["knock"], ["assemble", "--setup", "2", "--out", "a.pdf"], ["bench", "--plan", "quick", "--setup", "2"]):
        line = refused(*words[:1], name, *words[1:])
        assert line.startswith(told), words
        assert line.endswith(meant), words
    assert refused("angles", written(("mass_kg = 145", "mass_kg = "))) == (
        "changed.toml: line 4: mass_kg has no value yet; write it behind the = sign"
    )


def test_what_is_no_scenario_says_what_it_is(refused, place):
    (place / "floor.csv").write_text("rod_left_mm\n320\n", encoding="utf-8")
    first = "name the scenario first (.toml), then what else the command takes"
    assert refused("bench", "floor.csv", "yard.toml") == f"floor.csv: this is a table, not a scenario; {first}"
    assert refused("run", "class-contest") == (
        "class-contest: this is a contest, not a scenario; run it with `scrubwise contest class-contest`"
    )
    assert refused("contest", "yard.toml") == "yard.toml: this is a scenario, not a contest; drive it with `scrubwise run yard.toml`"
    assert refused("contest", "first-bend") == "first-bend: this is a scenario, not a contest; drive it with `scrubwise run first-bend`"
    assert refused("contest", "clas-contest") == "clas-contest: there is no such folder; did you mean class-contest?"
    assert refused("run", "yard.toml", "--setup", "1") == "command line: no such option: --setup; see scrubwise run --help"


@pytest.mark.parametrize("words", [["corner", "--radius", "8", "--speed", "3"], ["knock"]], ids=lambda words: words[0])
def test_a_lawful_slip_is_questioned_before_the_answer(scrubwise, written, words):
    """Such numbers passed without a word."""
    name = written(("kingpin_track_mm = 740", "kingpin_track_mm = 72"))
    code, out, err = scrubwise(*words, name, "--json")
    assert code == 0
    json.loads(out)
    assert err == "Is this right? car.kingpin_track_mm = 72 is unusual (300 to 1300 is usual); did you mean 720?\n"


@pytest.mark.slow
@pytest.mark.parametrize("command", ["run", "angles"])
def test_the_report_questions_lawful_slips_and_names_what_is_assumed(scrubwise, written, command):
    name = written(("kingpin_track_mm = 740", "kingpin_track_mm = 72"), ("yaw_inertia_kg_m2 = 38\n", ""),
                   ("wheel_radius_mm = 203", "wheel_radius_mm = 406"),
                   ("mass_kg = 145", "mass_kg = 145\ndrag_area_m2 = 2"))  # fmt: skip
    code, out, err = scrubwise(command, name, "--explain")
    assert (code, err) == (0, "")
    told = " ".join(out.split())
    assert told.count("Is this right?") >= 3
    assert "Not given, so assumed: car.yaw_inertia_kg_m2 = 37.7 (mass x 0.26, a judgement), " in told
    result = result_of(scrubwise, command, name)
    assert result["doubts"][0].startswith("car.kingpin_track_mm = 72 is unusual")
    assert len(result["doubts"]) == told.count("Is this right?")
    code, out, _ = scrubwise(command, name)
    assert len(out.splitlines()) <= 30
    assert out.count("Is this right?") <= 3


def test_several_mistakes_are_told_together(refused, written):
    name = written(("mass_kg = 145", "mass_kg = 14.5"), ("hand_wheel_limit_deg", "hand_wheel_limmit_deg"), ("wheelbase_mm = 1500", ""))
    assert refused("angles", name) == (
        'changed.toml: setup "short lock".hand_wheel_limmit_deg: no such key; did you mean hand_wheel_limit_deg? Also: '
        "car.mass_kg: 14.5 is below "
        "40; give the mass in kg with the driver. Also: car.wheelbase_mm: this key is missing; give the wheelbase in millimetres"
    )


def test_on_a_terminal_each_mistake_has_its_line(scrubwise, written, monkeypatch):
    name = written(("mass_kg = 145", "mass_kg = 14.5"), ("wheelbase_mm = 1500", "wheelbase_mm = 15"))
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    code, out, err = scrubwise("angles", name)
    assert (code, out) == (2, "")
    assert err.splitlines() == [
        "scrubwise: changed.toml: car.mass_kg: 14.5 is below 40; give the mass in kg with the driver",
        "scrubwise: changed.toml: car.wheelbase_mm: 15 is below 500; give the wheelbase in millimetres",
    ]


@pytest.mark.slow
@pytest.mark.compiled
def test_the_folder_of_a_run_is_no_scenario(scrubwise, refused):
    scrubwise("run", "yard.toml", "--out", "kept")
    told = "kept: this is the folder of a run; look at it with `scrubwise watch kept`, or name its own file"
    assert refused("run", "kept") == told


@pytest.mark.slow
def test_a_run_folder_of_its_name_hides_no_shipped_scenario(scrubwise):
    scrubwise("run", "yard.toml", "--out", "first-bend")
    code, out, _ = scrubwise("angles", "first-bend")
    assert code == 0
    assert "First bend" in out


@pytest.mark.compiled
def test_some_set_ups_cannot_follow(scrubwise, written):
    _, short, turntable = result_of(scrubwise, "run", "yard.toml")["setups"]
    assert short["reason"].startswith("runs 2 m off the line after ")
    assert short["reason"].endswith(" at full lock (10 deg) it does not turn enough")
    unknown = ("lap_time_s", "drive_work_J", "scrub_J", "geometry_cost_J", "ledger_residual", "path_error_rms_m", "losses_J", "rub_m")
    assert {short[key] for key in unknown} == {None}
    assert turntable["finished"]
    assert short["distance_m"] < turntable["distance_m"]


def test_no_set_up_can_follow(refused, place, written):
    name = written(('name = "ideal"', 'name = "ideal"\nhand_wheel_limit_deg = 5'), ('name = "turntable"', 'name = "turntable"\n'
                   "hand_wheel_limit_deg = 5"))  # fmt: skip
    assert refused("run", name, "--out", "never") == (
        "changed.toml: course: no set-up's lock can follow the bend of 4.00 m radius at 9 m; widen the bend, raise course.scale or "
        "course.line_tolerance_m, or give a set-up more lock"
    )
    assert sorted(os.listdir(place)) == ["changed.toml", "yard.toml"]


@pytest.mark.slow
def test_no_set_up_has_the_grip(scrubwise, written):
    name = written(("[course]", "[car.tyre]\nfriction = 0.05\n[course]"),
                   ("target_m_per_s = 3.0", "target_m_per_s = 10.0\nlateral_limit_m_per_s2 = 12.0"))  # fmt: skip
    code, out, err = scrubwise("run", name)
    assert (code, err) == (0, "")
    told = " ".join(out.split())
    assert told.startswith("Yard: three ways Is this right? car.tyre.friction = 0.05 is unusual (0.2 to 1.2 is usual); ")
    assert "No set-up gets round this course; the reasons stand below." in told
    assert '"ideal" does not finish: it slides 2 m off the line after ' in " ".join(out.split())
    assert "Ideal steering does not get round either, so no cost of the geometry can be given." in " ".join(out.split())


def test_a_foreign_folder_is_refused_and_untouched(refused, place):
    foreign = place / "photos"
    foreign.mkdir()
    (foreign / "cat.png").write_bytes(b"cat")
    assert refused("run", "yard.toml", "--out", "photos") == (
        "photos: this folder holds something that Scrubwise did not write; give the name of a new or an empty folder"
    )
    assert os.listdir(foreign) == ["cat.png"]
    assert (foreign / "cat.png").read_bytes() == b"cat"
    assert sorted(os.listdir(place)) == ["photos", "yard.toml"]


@posix_only
@pytest.mark.skipif(hasattr(os, "geteuid") and os.geteuid() == 0, reason="the superuser may write everywhere")
def test_a_folder_without_the_right_to_write(refused, place):
    (place / "locked").mkdir(mode=0o500)
    assert refused("run", "yard.toml", "--out", "locked/run").startswith("locked/run: no permission to use this place; ")
    assert refused("new", "locked/mine.toml").startswith("locked/mine.toml: the file can't be written (Permission denied); ")


@posix_only
def test_a_folder_that_cannot_be(refused):
    assert refused("run", "yard.toml", "--out", "yard.toml/run").startswith("yard.toml/run: ")
    assert refused("new", "no/such/mine.toml") == (
        "no/such/mine.toml: the file can't be written (No such file or directory); check the folder and its rights"
    )


def test_a_fault_in_the_program_is_no_bad_input(scrubwise, monkeypatch):
    def broken(*_, **__):
        raise ZeroDivisionError("a fault of ours")

    monkeypatch.setattr(sim.study.compare, "compare", broken)
    with pytest.raises(ZeroDivisionError, match="a fault of ours"):
        scrubwise("run", "yard.toml", "--json")


# --- the world around -------------------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.compiled
def test_as_a_process(place, warm):
    done = process("run", "yard.toml", "--out", "kept", "--json", cwd=place)
    assert (done.returncode, done.stderr) == (0, "")
    assert json.loads(done.stdout)["setups"][0]["finished"]
    bad = process("run", "yard.tml", cwd=place)
    assert (bad.returncode, bad.stdout) == (2, "")
    known = ", ".join(shipped_names())
    remedy = f"give a path, one of {known}, or begin your own with `scrubwise new my-car.toml`"
    assert bad.stderr == f"scrubwise: yard.tml: no such file and no shipped scenario of that name; {remedy}\n"


@pytest.mark.slow
@pytest.mark.compiled
@pytest.mark.target("T23", what="A run by two processes: summary.json and every other file of the folder", asked="equal byte for byte")
def test_two_processes_write_the_same_bytes(place, warm):
    for name, seed in (("one", "1"), ("two", "2")):
        done = process("run", "yard.toml", "--out", name, cwd=place, env={"PYTHONHASHSEED": seed})
        assert (done.returncode, done.stderr) == (0, "")
    one, two = ({path.name: path.read_bytes() for path in (place / name).iterdir() if path.is_file()} for name in ("one", "two"))
    assert one == two
    assert json.loads(one["summary.json"])["setups"][0]["finished"]


def stop(*_, **__):
    raise KeyboardInterrupt


STOPPED = "scrubwise: stopped before the end; nothing is left half written\n"


@pytest.mark.slow
@pytest.mark.compiled
@pytest.mark.parametrize(("module", "name"), [(sim.study.compare, "compare"), (viz.run.plots, "write_plots")], ids=["driving", "writing"])
def test_interrupted(scrubwise, place, monkeypatch, module, name):
    result_of(scrubwise, "run", "yard.toml", "--out", "kept")
    before = {file.name: file.read_bytes() for file in (place / "kept").iterdir()}
    monkeypatch.setattr(module, name, stop)
    for folder in ("kept", "new"):
        assert scrubwise("run", "yard.toml", "--out", folder) == (INTERRUPTED, "", STOPPED)
    assert {file.name: file.read_bytes() for file in (place / "kept").iterdir()} == before
    assert sorted(os.listdir(place)) == ["kept", "yard.toml"]


@pytest.mark.parametrize("how", [KeyboardInterrupt, typer.Abort], ids=["passed on", "abort"])
def test_interrupted_as_other_versions_of_the_library_tell_it(scrubwise, monkeypatch, how):
    def ended(**_):
        raise how

    monkeypatch.setattr(viz.cli.entry, "app", ended)
    assert scrubwise("run", "yard.toml") == (INTERRUPTED, "", STOPPED)


@pytest.mark.slow
@posix_only
def test_interrupted_study_goes_on_where_it_was_stopped(place, warm, written):
    name = written(("[pace]", '[uncertainty]\n"car.mass_kg" = 10\n[pace]'))
    words = ["spread", name, "--samples", "2048", "--json"]
    whole = process(*words, cwd=place)
    assert whole.returncode == 0
    running = subprocess.Popen([*COMMAND, *words, "--resume", "kept"], cwd=place, env=QUIET, stdout=subprocess.PIPE,
                               stderr=subprocess.PIPE, text=True)  # fmt: skip
    kept = place / "kept"
    while not list(kept.glob("block-*.npy")):
        assert running.poll() is None
        time.sleep(0.01)
    running.send_signal(signal.SIGINT)
    out, err = running.communicate(timeout=60)
    assert (running.returncode, out, err) == (INTERRUPTED, "", STOPPED.replace("\n", f"{GOES_ON}\n"))
    done = {file.name: file.stat().st_mtime_ns for file in kept.glob("block-*.npy")}
    again = process(*words, "--resume", "kept", cwd=place)
    assert (again.returncode, again.stdout) == (0, whole.stdout)
    after = {file.name: file.stat().st_mtime_ns for file in kept.glob("block-*.npy")}
    assert len(done) < len(after)
    assert done.items() <= after.items()  # none of them was driven again


@pytest.mark.compiled
def test_paces_say_what_they_leave_out(scrubwise):
    code, out, err = scrubwise("run", "yard.toml", "--paces")
    assert (code, err) == (0, "")
    assert "Left out: steady current, for which the scenario needs [motor] and [battery]." in out


@pytest.mark.slow
@posix_only
def test_interrupted_process(place, warm, written):
    name = written(("segments = [{straight_m = 8}", "segments = [{straight_m = 20000}"))
    for begun_s in (2.0, 8.0, 32.0):  # on a busy machine Python itself may still begin, and then has no answer of ours to give
        running = subprocess.Popen([*COMMAND, "run", name, "--out", "never"], cwd=place, env=QUIET, stdout=subprocess.PIPE,
                                   stderr=subprocess.PIPE, text=True)  # fmt: skip
        time.sleep(begun_s)
        running.send_signal(signal.SIGINT)
        out, err = running.communicate(timeout=60)
        if running.returncode != -signal.SIGINT:
            break
    assert (running.returncode, out, err) == (INTERRUPTED, "", STOPPED)
    assert sorted(os.listdir(place)) == [name, "yard.toml"]


@pytest.mark.slow
@posix_only
@pytest.mark.parametrize("more", [[], ["--json"]], ids=["words", "JSON"])
def test_reader_who_goes_early(place, more):
    with subprocess.Popen([*COMMAND, "new", "mine.toml", *more], cwd=place, env=QUIET, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                          text=True) as running:  # fmt: skip
        running.stdout.close()
        assert running.stderr.read() == ""
    assert running.returncode == 0


@pytest.mark.slow
@pytest.mark.compiled
@pytest.mark.skipif(not os.access("/dev/full", os.W_OK), reason="needs a drive that is always full")
def test_full_drive_behind_standard_output(place):
    with open("/dev/full", "w", encoding="utf-8") as full:
        done = subprocess.run([*COMMAND, "new", "mine.toml"], cwd=place, env=QUIET, stdout=full, stderr=subprocess.PIPE, text=True)
    assert done.returncode == 2
    assert done.stderr == "scrubwise: standard output: it can't be written (No space left on device); make room or print elsewhere\n"


@pytest.mark.slow
def test_terminal_without_the_signs_of_a_name(place, written, warm):
    name = written(('name = "ideal"', 'name = "größer 轮"'))
    done = process("run", name, "--out", "kept", cwd=place, env={"PYTHONIOENCODING": "ascii"})
    assert (done.returncode, done.stderr) == (0, "")
    assert "grosser ?" in done.stdout
    assert "größer 轮" in (place / "kept" / "summary.csv").read_text(encoding="utf-8")
    bad = process("run", written(("short lock", "größer 轮"), ("turntable", "GRÖẞER 轮")), cwd=place, env={"PYTHONIOENCODING": "ascii"})
    assert bad.returncode == 2
    assert bad.stderr.count("\n") == 1


SHOWN = [["run"], ["angles"], ["corner", "--radius", "8", "--speed", "3", "--ladder"], ["knock"]]


@pytest.mark.slow
@pytest.mark.parametrize("columns", [40, 60, 80, 200])
@pytest.mark.parametrize("words", SHOWN, ids=lambda words: words[0])
def test_terminal_of_any_width_loses_no_figure(scrubwise, monkeypatch, words, columns):
    monkeypatch.setenv("COLUMNS", str(columns))
    monkeypatch.setenv("TERM", "xterm")
    plain = scrubwise(*words, "yard.toml")[1]
    monkeypatch.setattr(type(sys.stdout), "isatty", lambda stream: True)
    code, out, _ = scrubwise(*words, "yard.toml")
    assert code == 0
    out = re.sub(r"\x1b\[[\d;]*m", "", out)  # bold headings
    assert "…" not in out
    # long names may be broken to a second line, so only the figures are compared; a table in parts has them in another order
    figures, there = (Counter(re.findall(r"[-+]?\d+\.\d+", text)) for text in (plain, out))
    assert figures - there == Counter()
    assert set(there) == set(figures)
    assert max(map(len, out.splitlines())) <= max(columns, 100)  # a table is as wide as its figures; the terminal breaks its lines


@pytest.mark.slow
@pytest.mark.compiled
def test_first_use_is_announced_on_standard_error_alone(scrubwise, refused, written, monkeypatch):
    monkeypatch.setattr(sim.kernels.compiled, "first_use", lambda kernel: True)
    once = "Preparing the fast code for this machine, about 40 seconds, this once ...\n"
    always = "Preparing the fast code for this machine, about 40 seconds, every time, since no folder for it can be written ...\n"
    for cache, line in ((Path("anywhere"), once), (None, always)):
        monkeypatch.setattr(sim.kernels.compiled, "CACHE", cache)
        for words in (["run", "yard.toml"], ["angles", "yard.toml"], ["corner", "yard.toml", "--radius", "8", "--speed", "3"]):
            code, out, err = scrubwise(*words, "--json")
            assert (code, err) == (0, line)
            json.loads(out)
    # bad input is told in one line, without that announcement before it
    assert refused("run", written(("turn_deg = 90}", "turn_deg = 90}, {wobble_m = 3}"))).startswith("changed.toml: course.segments[2]: ")
    impossible = written(('linkage = "parallel"', 'linkage = "cross rod"\narm_length_mm = 600\narm_angle_deg = 90'))
    for words in (["run"], ["angles"], ["corner", "--radius", "8", "--speed", "3"]):
        assert refused(*words, impossible).startswith('changed.toml: setup "short lock".arm_')
    assert refused("bench", "quay-loop", "no-readings.csv", "--setup", "more kink, cross rod").startswith("no-readings.csv: ")
    assert refused("run", written(("radius_m = 4", "radius_m = 0.6"))).startswith("changed.toml: course: no set-up's lock can follow ")
    straight = ("coast", "coast-up.csv", "--mass", "145", "--circle-radius", "8", "--scenario", "yard.toml")
    assert " is left for the bend " in refused(*straight)


CACHE_PROBE = "from sim.kernels import compiled; print(compiled.CACHE, compiled.first_use('drive.integrate'))"


@pytest.mark.slow
@pytest.mark.compiled
@posix_only
@pytest.mark.skipif(sys.platform == "darwin", reason="this system's cache folder is not named by a variable")
def test_cache_folder_that_cannot_be(place):
    def probe(cache):
        done = subprocess.run([sys.executable, "-c", CACHE_PROBE], cwd=place, env=QUIET | {"XDG_CACHE_HOME": str(cache)},
                              capture_output=True, text=True, check=True)  # fmt: skip
        return done.stdout.split()

    assert probe(place / "yard.toml") == ["None", "True"]
    assert probe("/proc/no-such-place") == ["None", "True"]
    folder, first = probe(place / "cache")
    assert (Path(folder).parent, first) == (place / "cache" / "scrubwise", "True")


@pytest.mark.slow
@posix_only
@pytest.mark.skipif(sys.platform == "darwin", reason="this system's cache folder is not named by a variable")
def test_run_without_a_cache_folder_gives_the_same(place, warm):
    usual = process("run", "yard.toml", "--json", cwd=place)
    slow = process("run", "yard.toml", "--json", cwd=place, env={"XDG_CACHE_HOME": str(place / "yard.toml")})
    assert (slow.returncode, slow.stdout) == (0, usual.stdout)
    assert slow.stderr.startswith("Preparing the fast code")
    first = process("run", "yard.toml", "--json", cwd=place, env={"XDG_CACHE_HOME": str(place / "cache")})
    assert (first.returncode, first.stdout, first.stderr.count("\n")) == (0, usual.stdout, 1)
    again = process("run", "yard.toml", "--json", cwd=place, env={"XDG_CACHE_HOME": str(place / "cache")})
    assert (again.returncode, again.stdout, again.stderr) == (0, usual.stdout, "")
