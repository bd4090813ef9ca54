"""Cars, set-ups and courses that many tests share."""

import json
import subprocess
import sys
import tempfile
import tomllib
from functools import cache
from pathlib import Path

import numba
import numpy as np
import pytest
from hypothesis import settings

from sim.course.centreline import Course
from sim.course.segments import Arc, Straight, course_from_segments
from sim.scenario.car import CarTable
from sim.scenario.file import check_scenario
from sim.scenario.setup import SetupTable
from sim.steering.arrangement import build_steering
from sim.steering.table import steer_table
from viz.cli.entry import main

# Drawn cases are the same in every run; the first call of a kernel compiles it, so no case has a deadline.
settings.register_profile("suite", derandomize=True, deadline=None)
settings.load_profile("suite")

TYRE = {
    "cornering_stiffness_per_rad": 12.0, "load_sensitivity": 0.0, "drive_stiffness_per_unit_slip": 15.0,
    "relaxation_length_mm": 120.0, "pneumatic_trail_mm": 15.0, "camber_stiffness_per_rad": 0.0, "friction": 0.9,
    "rolling_resistance": 0.008,
}  # fmt: skip
CARS = {
    # The car of the starter scenario
    "standard": {
        "mass_kg": 145.0, "wheelbase_mm": 1500.0, "front_track_mm": 900.0, "rear_track_mm": 860.0, "kingpin_track_mm": 740.0,
        "mass_centre_behind_front_axle_mm": 820.0, "mass_centre_height_mm": 330.0, "yaw_inertia_kg_m2": 38.0,
        "wheel_radius_mm": 203.0, "drag_area_m2": 0.20, "drive": "one wheel left",
    },
    # Reference car "K" of the published values: no kingpin offset; what that list leaves open is as above
    "K": {
        "mass_kg": 150.0, "wheelbase_mm": 1500.0, "front_track_mm": 800.0, "rear_track_mm": 700.0, "kingpin_track_mm": 800.0,
        "mass_centre_behind_front_axle_mm": 800.0, "mass_centre_height_mm": 350.0, "yaw_inertia_kg_m2": 39.0,
        "wheel_radius_mm": 203.0, "drag_area_m2": 0.20, "drive": "differential",
    },
}  # fmt: skip
KINKED = {"arm_length_mm": 110.0, "arm_angle_deg": 13.9}
SETUPS = {
    "ideal": {"linkage": "ideal"},
    "parallel": {"linkage": "parallel"},
    "cross rod with toe": {"linkage": "cross rod", "toe_in_deg": 0.7, **KINKED},
    "leaning kingpins": {"linkage": "cross rod", "kingpin_inclination_deg": 9.0, "caster_deg": 7.0, **KINKED},
    "turntable": {"pivot": "turntable"},
}
ARM = {"arm_length_mm": 110.0, "arm_angle_deg": 13.9}
FORWARD_ARM = {"arm_length_mm": 110.0, "arm_angle_deg": -166.0}
# Every arrangement with rods; where else a new linkage is entered, DEVELOPERS.md says.
REAL_LINKAGES = {
    "cross rod": {"linkage": "cross rod", **ARM},
    "cross rod ahead": {"linkage": "cross rod", **FORWARD_ARM, "arm_joint_height_mm": 150.0},
    "centre arm": {
        "linkage": "centre arm",
        **ARM,
        "drop_arm_length_mm": 70.0,
        "drop_arm_behind_front_axle_mm": 107.0,
    },
    "centre arm ahead, joints apart": {
        "linkage": "centre arm",
        **FORWARD_ARM,
        "drop_arm_length_mm": 60.0,
        "drop_arm_behind_front_axle_mm": -90.0,
        "drop_arm_joint_spacing_mm": 80.0,
        "drop_arm_pivot_height_mm": 240.0,
    },
    "rack": {
        "linkage": "rack",
        **ARM,
        "rack_behind_front_axle_mm": 140.0,
        "rack_length_mm": 320.0,
        "rack_mm_per_turn": 60.0,
    },
    "rack ahead of arms behind": {
        "linkage": "rack",
        **ARM,
        "rack_behind_front_axle_mm": 60.0,
        "rack_length_mm": 280.0,
        "rack_mm_per_turn": 45.0,
        "arm_joint_height_mm": 260.0,
    },
}
LAWS = {
    "ideal": {"linkage": "ideal"},
    "parallel": {"linkage": "parallel"},
    "fraction 0.4": {"linkage": "fraction", "fraction": 0.4},
    "fraction -0.6": {"linkage": "fraction", "fraction": -0.6},
    "fraction 1.5": {"linkage": "fraction", "fraction": 1.5},
}
TURNTABLE = {"turntable": {"pivot": "turntable"}}
ALL = REAL_LINKAGES | LAWS | TURNTABLE


@cache
def _vehicle(text):
    base, car, tyre, setup = json.loads(text)
    table = CarTable.model_validate(CARS[base] | car | {"tyre": TYRE | tyre})
    keys = {"name": "tried", "pivot": "stub axles"} | setup
    steering = build_steering(SetupTable.model_validate(keys), table, "tried.toml", "setup[0]")
    return table.car(1.225), steer_table(steering, table.wheelbase_mm * 1e-3), steering


@pytest.fixture(scope="session")
def built():
    """(Car, SteerTable, Steering) from the keys of a scenario: base "standard" or "K", changes of car and tyre, a set-up."""

    def make(base="standard", *, car=None, tyre=None, **setup):
        return _vehicle(json.dumps([base, car or {}, tyre or {}, setup or {"linkage": "ideal"}]))

    return make


@pytest.fixture(scope="session")
def vehicle(built):
    """(Car, SteerTable), as `built`."""
    return lambda *args, **keys: built(*args, **keys)[:2]


@pytest.fixture(params=SETUPS.values(), ids=list(SETUPS))
def setup_keys(request):
    """The keys of each standard set-up."""
    return dict(request.param)


@pytest.fixture(scope="session")
def scenario_of():
    """A checked scenario from TOML text."""
    return lambda text: check_scenario(tomllib.loads(text), "tried.toml")


@pytest.fixture(scope="session")
def circle():
    """A closed circle of a radius [m]."""
    return lambda radius, turn=2 * np.pi: course_from_segments([Arc(radius, turn)], closed=True, name="circle")


@pytest.fixture(scope="session")
def bend():
    """An open course: a straight, a bend, a straight."""

    def make(radius=8.0, turn=np.pi / 2, straight=20.0):
        return course_from_segments([Straight(straight), Arc(radius, turn), Straight(straight)], closed=False, name="bend")

    return make


@pytest.fixture(scope="session")
def course_by():
    """A course by curvature [1/m] and height [m] over station, given as functions; it need not meet its start."""

    def make(length, curvature, height=lambda s: 0 * s, *, closed=True):
        station = np.linspace(0.0, length, round(length / 0.1) + 1)
        bends, heights = curvature(station), height(station)
        heading = np.concatenate([[0.0], np.cumsum(0.5 * (bends[1:] + bends[:-1]) * np.diff(station))])
        step = np.diff(station)
        x = np.concatenate([[0.0], np.cumsum(0.5 * (np.cos(heading[1:]) + np.cos(heading[:-1])) * step)])
        y = np.concatenate([[0.0], np.cumsum(0.5 * (np.sin(heading[1:]) + np.sin(heading[:-1])) * step)])
        most = np.abs(bends).max()
        return Course(
            name="made", closed=closed, length=length, station=station, x=x, y=y, heading=heading, curvature=bends,
            height=heights, slope=np.gradient(heights, station, edge_order=2), left_width=None, right_width=None,
            smoothing_residual=0.0, smallest_radius=1 / most if most else np.inf, smallest_radius_station=0.0, notes=(),
        )  # fmt: skip

    return make


@pytest.fixture(scope="session")
def mirrored():
    """Wheel values (4, ...) with left and right swapped."""
    return lambda values: np.asarray(values)[[1, 0, 3, 2]]


@pytest.fixture(scope="session")
def orders():
    """Observed orders of an error between steps that halve (or distances that double): log2 of successive ratios."""
    return lambda errors: np.log2(np.abs(np.asarray(errors[:-1])) / np.abs(np.asarray(errors[1:])))


@pytest.fixture
def car():
    """The car of the starter scenario."""
    return CarTable(
        mass_kg=145.0,
        wheelbase_mm=1500.0,
        front_track_mm=900.0,
        rear_track_mm=860.0,
        kingpin_track_mm=740.0,
        mass_centre_behind_front_axle_mm=820.0,
        mass_centre_height_mm=330.0,
        yaw_inertia_kg_m2=38.0,
        wheel_radius_mm=203.0,
        drive="one wheel left",
    )


@pytest.fixture
def setup_of():
    """A set-up from its keys."""
    return lambda **keys: SetupTable(**{"name": "tried", "pivot": "stub axles"} | keys)


@pytest.fixture
def build(car, setup_of):
    """Steering of the car from the keys of a set-up."""
    return lambda **keys: build_steering(setup_of(**keys), car, "tried.toml", "setup[0]")


@pytest.fixture(params=REAL_LINKAGES.values(), ids=list(REAL_LINKAGES))
def real_keys(request):
    """The keys of each arrangement with rods."""
    return dict(request.param)


@pytest.fixture(params=LAWS.values(), ids=list(LAWS))
def law_keys(request):
    """The keys of each arrangement that follows a law."""
    return dict(request.param)


@pytest.fixture(scope="session")
def all_setups():
    """The keys of each arrangement by name."""
    return ALL


@pytest.fixture(params=ALL.values(), ids=list(ALL))
def any_keys(request):
    """The keys of each arrangement."""
    return dict(request.param)


TOO_SLOW = "too slow without the compiler"


def pytest_collection_modifyitems(items):
    if numba.config.DISABLE_JIT:
        for item in items:
            if item.get_closest_marker("compiled"):
                item.add_marker(pytest.mark.skip(reason=TOO_SLOW))


@pytest.fixture(scope="session")
def compiler():
    """What a fixture asks for whose work is too long without the compiler: whoever uses it is skipped there."""
    if numba.config.DISABLE_JIT:
        pytest.skip(TOO_SLOW)


RUNNING = pytest.StashKey[pytest.Item]()


def pytest_runtest_setup(item):
    item.config.stash[RUNNING] = item


@pytest.fixture(scope="session")
def within_target(pytestconfig):
    """Assert that a figure (of several the worst) keeps to its bound, and note it for the page of test targets.

    of : which part of the target it is, in words; no : which target, where a test bears the marks of several.  What is not a number fails.
    It lasts a whole session so that drawn tests may use it: hypothesis holds a test's own fixtures to be a mistake there.
    """

    def check(value, *, at_most=None, at_least=None, of="", no=None):
        item = pytestconfig.stash[RUNNING]
        marked = {mark.args[0] for mark in item.iter_markers("target")}
        (shown,) = marked if no is None else {no} & marked
        for word, bound, worse in (("at most", at_most, max), ("at least", at_least, min)):
            if bound is None:
                continue
            figure = float(np.max(value) if worse is max else np.min(value))
            assert figure <= bound if worse is max else figure >= bound, f"{shown}: {of} {figure:.6g}, {word} {bound:g} is asked"
            key = (shown, of, word, float(bound))
            before = [known for name, known in item.user_properties if name == "target" and known[:4] == key]
            item.user_properties[:] = [one for one in item.user_properties if one[1] not in before]
            item.user_properties.append(("target", (*key, worse([figure, *(known[4] for known in before)]))))

    return check


@pytest.fixture(scope="session")
def apart():
    """The largest difference of two arrays as a share of the largest value, for what has to be equal or mirrored."""
    return lambda ours, theirs: np.abs(np.subtract(ours, theirs)).max() / max(np.abs(theirs).max(), np.finfo(float).tiny)


def pytest_addoption(parser):
    parser.addoption("--store-answers", action="store_true", help="write stored answers and the manual's examples anew")


# Commands that between them use the kernels that many tests share: a lap, laps in lock step, steady turns and their maps.
COMPILING = """
import contextlib, io, sys
from viz.cli import main
turn = ["--radius", "6", "--speed", "2", "--map", "map.pdf"]
for words in (["run", "{}"], ["spread", "{}", "--samples", "16", "--literature"], ["corner", "{}", *turn]):
    sys.argv = ["scrubwise", *words, "--json"]
    with contextlib.suppress(SystemExit):
        main()
"""
YARD = Path(__file__).parent / "scenarios" / "yard.toml"


def pytest_sessionstart(session):
    """Kernels are compiled once, a process for each law of the tyre, before the workers start; two workers would each compile the same."""
    from sim.kernels.compiled import CACHE

    alone = not getattr(session.config.option, "numprocesses", None)
    if hasattr(session.config, "workerinput") or session.config.option.collectonly or alone or CACHE is None or numba.config.DISABLE_JIT:
        return
    if len(list(CACHE.glob("integrate.integrate_lanes-*"))) >= 2 and len(list(CACHE.glob("maps.sweep-*"))) >= 2:
        return
    text = YARD.read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        begun = []
        for law in ("linear", "brush"):
            file = Path(folder) / f"{law}.toml"
            file.write_text(f'{text}\n[car.tyre]\nlaw = "{law}"\n', encoding="utf-8")
            words = [sys.executable, "-c", COMPILING.replace("{}", file.name)]
            begun.append(subprocess.Popen(words, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True))
        for one in begun:
            complaint = one.communicate()[1]
            if one.returncode:
                raise RuntimeError(f"the kernels could not be compiled: {complaint}")


@pytest.fixture
def scrubwise(tmp_path, monkeypatch, capsys):
    """Run the command in this process in an empty folder: (exit code, standard output, standard error)."""
    monkeypatch.chdir(tmp_path)

    def run(*words):
        monkeypatch.setattr(sys, "argv", ["scrubwise", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            main()
        return ended.value.code, *capsys.readouterr()

    return run
