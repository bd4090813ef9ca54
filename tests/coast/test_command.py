"""The coast command's rooms: logs as they really are, refusals in one line, report, fragment, plot, damaged files."""

import json
import tomllib
import warnings
from io import StringIO

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rich.console import Console

from sim.car.chassis import GRAVITY
from sim.coast.motion import coast_motion
from sim.coast.result import FittedFigure, straight_coast
from sim.errors import InputError
from sim.scenario.car import CarTable, TyreTable
from sim.scenario.file import find_scenario, load_scenario, shipped_folder
from viz.coast.brief import coast_brief
from viz.coast.numbers import circle_coast_result, coast_fragment, write_coast_plot
from viz.coast.report import coast_report
from viz.shared.brief import MOST_LINES, height
from viz.shared.plain import plain

MASS, WHEELS = 145.0, 4.0
UP, DOWN = shipped_folder() / "coast-up.csv", shipped_folder() / "coast-down.csv"


def rolled(direction=1, seconds=60.0, start=8.0, rows=121, slope=0.002):
    clock = np.linspace(0.0, seconds, rows)
    heavy = MASS + WHEELS
    return clock, *coast_motion(clock, start, (0.008 + direction * slope) * MASS * GRAVITY / heavy, 0.5 * 1.225 * 0.20 / heavy)


def noisy(seed=1, **keys):
    clock, speed, way = rolled(**keys)
    return clock, speed + 0.03 * np.random.default_rng(seed).standard_normal(len(clock)), way


def written(path, columns, header):
    path.write_text(header + "\n" + "\n".join(",".join(f"{value:.4f}" for value in row) for row in zip(*columns, strict=True)) + "\n")
    return path


def gpx(path, clock, way, heading=0.0, extra=None):
    east, north = way * np.sin(heading), way * np.cos(heading)
    points = "".join(
        f'<trkpt lat="{47.0 + y / 111170.0:.9f}" lon="{11.0 + x / 76050.0:.9f}">'
        f"<time>2030-05-01T10:{int(t) // 60:02d}:{t % 60:06.3f}Z</time>{extra(k) if extra else ''}</trkpt>"
        for k, (t, x, y) in enumerate(zip(clock, east, north, strict=True))
    )
    path.write_text(f'<gpx version="1.0" creator="made"><trk><trkseg>{points}</trkseg></trk></gpx>')
    return path


def words(result, width=120):
    out = StringIO()
    console = Console(file=out, width=width, highlight=False, markup=False)
    assert sum(map(height, coast_brief(result, ()))) <= MOST_LINES
    for one in coast_report(result):
        console.print(one)
    return " ".join(out.getvalue().split())


def test_the_shipped_logs():
    result = straight_coast([UP], [DOWN], MASS, WHEELS)
    for key, true in (("rolling_resistance", 0.008), ("drag_area_m2", 0.20), ("slope", 0.003), ("headwind_m_per_s", 0.4)):
        assert abs(getattr(result, key).value - true) < getattr(result, key).half_width, key
    assert set(result.points_left_out) == {"at rest", "driven or pushed", "braked"}
    assert result.warnings == ()
    assert json.loads(json.dumps(plain(result), allow_nan=False)) == plain(result)
    text = words(result)
    assert text.startswith("rolling coefficient 0.00812 +- 0.00017 (2 %), drag area 0.192 +- 0.015 m2, correlation -0.97 ")
    for part in ("95 % interval", "reduced chi-square", "bound hit", "start value", "points used", "never on a public road"):
        assert part in text


def test_one_way_is_told_and_widened():
    one, both = straight_coast([UP], [], MASS, WHEELS), straight_coast([UP], [DOWN], MASS, WHEELS)
    assert one.rolling_resistance.half_width > 10 * both.rolling_resistance.half_width
    assert abs(one.rolling_resistance.value - 0.008) < one.rolling_resistance.half_width
    assert one.assumed_slope_spread == 0.002
    assert one.assumed_wind_spread_m_per_s == 0.5
    assert "one direction only" in words(one)
    assert "within 0.2 % and a wind along it of 0.5 m/s" in words(one)


def against_the_wind(tmp_path, wind, slope=0.0):
    heavy = MASS + WHEELS
    clock = np.linspace(0.0, 60.0, 241)
    speed = coast_motion(clock, 9.0, (0.008 + slope) * MASS * GRAVITY / heavy, 0.5 * 1.225 * 0.20 / heavy, wind)[0]
    speed = speed + 0.02 * np.random.default_rng(1).standard_normal(len(clock))
    return written(tmp_path / "windy.csv", (clock, speed), "time_s,speed_m_per_s")


@pytest.mark.parametrize(("wind", "slope", "said"), [(6.0, 0.0, "a headwind of "), (-3.0, 0.01, "a tailwind of ")])
def test_a_fitted_wind_beyond_what_was_assumed_is_told(tmp_path, wind, slope, said):
    """On a real log a headwind of 5.4 m/s came out where 0 +- 0.5 was assumed, and stood in the table without a word."""
    result = straight_coast([against_the_wind(tmp_path, wind, slope)], [], MASS, WHEELS)
    first = result.warnings[0]
    assert first.startswith(f"don't trust these figures: to meet the log, the fit needs {said}")
    assert " m/s where it assumed 0 +- 0.5 m/s. That is a sign that the log holds something else than a free roll" in first
    assert f"{abs(result.headwind_m_per_s.value):.1f} m/s where" in first
    assert abs(result.headwind_m_per_s.value) > 1.0


def test_a_fitted_slope_beyond_what_was_assumed_is_told(tmp_path):
    clock, speed, _ = noisy(slope=-0.015)
    first = straight_coast([written(tmp_path / "falls.csv", (clock, speed), "time_s,speed_m_per_s")], [], MASS, WHEELS).warnings[0]
    assert "the fit needs a slope of " in first
    assert " % down where it assumed 0 +- 0.2 %." in first


@pytest.mark.parametrize("wind", [0.0, 0.8])
def test_a_light_wind_is_within_what_was_assumed(tmp_path, wind):
    result = straight_coast([against_the_wind(tmp_path, wind)], [], MASS, WHEELS)
    assert not any("don't trust" in one for one in result.warnings)


def test_both_ways_assume_nothing_of_wind_and_slope():
    result = straight_coast([UP], [DOWN], MASS, WHEELS)
    assert not any("don't trust" in one for one in result.warnings)


def test_both_logs_named_one_way_are_noticed():
    assert any("opposite ways" in one for one in straight_coast([UP, DOWN], [], MASS, WHEELS).warnings)


def test_wheels_left_out_are_told():
    assert any("--rotating-mass" in one for one in straight_coast([UP], [DOWN], MASS).warnings)


def test_the_fragment_is_a_piece_of_a_scenario():
    result = straight_coast([UP], [DOWN], MASS, WHEELS)
    text = coast_fragment(result)
    car = tomllib.loads(text)["car"]
    assert car["drag_area_m2"] == pytest.approx(result.drag_area_m2.value, abs=0.1 * result.drag_area_m2.half_width, rel=0)
    tyre = TyreTable.model_validate(car["tyre"])
    rolling = result.rolling_resistance
    assert tyre.rolling_resistance == pytest.approx(rolling.value, abs=0.1 * rolling.half_width, rel=0)
    assert set(car) - {"tyre"} <= set(CarTable.model_fields)
    assert text.count("# +- ") == 2


# --- figures at a bound, and figures that are not seen ---


def falling(tmp_path):
    """One way down a road that falls more than the spread of slopes allows: rolling stands at 0."""
    clock, speed, _ = noisy(slope=-0.009)
    return written(tmp_path / "falls.csv", (clock, speed), "time_s,speed_m_per_s")


def test_a_figure_at_its_bound_is_told_in_words(tmp_path):
    """It once stood there as 2.3e-16, beside a correlation of 0.000."""
    result = straight_coast([falling(tmp_path)], [], MASS, WHEELS)
    assert result.rolling_resistance == FittedFigure(value=0.0, half_width=None, start=0.008, bound_hit="lower")
    assert result.correlation is None
    assert result.correlation_of_log_alone is None
    json.dumps(plain(result), allow_nan=False)
    text = words(result)
    assert text.startswith("rolling coefficient not told by this log (it stands at its bound, 0), drag area 0.")
    assert "correlation" not in text
    assert "e-" not in text
    assert "N of rolling drag" not in text
    assert "rolling coefficient 0 none 0.008 lower" in text
    (told,) = [one for one in result.warnings if "stands at its bound" in one]
    assert told.startswith("the rolling coefficient stands at its bound (0): this log cannot tell it")
    assert told.endswith("drive the same road the other way too, for a slope or a wind may hide it.")
    write_coast_plot(result, tmp_path / "bound.png")


def test_a_figure_at_its_bound_is_left_out_of_the_fragment(tmp_path):
    text = coast_fragment(straight_coast([falling(tmp_path)], [], MASS, WHEELS))
    assert tomllib.loads(text).keys() == {"car"}
    assert tomllib.loads(text)["car"].keys() == {"drag_area_m2"}
    assert "# rolling_resistance is left out: it stands at its bound (0), and the log cannot tell it." in text
    assert "correlation" not in text


def test_an_upper_bound_asks_for_brakes_and_units(tmp_path):
    clock = np.linspace(0.0, 7.0, 71)
    result = straight_coast([written(tmp_path / "stops.csv", (clock, 9.0 - 1.2 * clock), "time_s,speed_m_per_s")], [], MASS, WHEELS)
    assert result.rolling_resistance.value == 0.1
    assert any("bound (0.1)" in one and "check the brakes, --mass and the unit" in one for one in result.warnings)


@pytest.mark.parametrize("noise", [0.0, 0.03])
def test_a_constant_speed_measures_nothing(tmp_path, noise):
    """Both figures at 0 were once given as numbers of 1e-20."""
    clock = np.linspace(0.0, 60.0, 121)
    speed = 5.0 + noise * np.random.default_rng(1).standard_normal(121)
    path = written(tmp_path / "same.csv", (clock, speed), "time_s,speed_m_per_s")
    assert refusal([path], [], MASS).startswith(f"{path}: shows neither rolling nor air drag: the car goes from ")


def test_a_figure_smaller_than_its_interval_has_no_share(tmp_path):
    """0.000 +- 0.004 (1808 %) says less than words do."""
    clock, speed, _ = noisy(slope=-0.0078)
    text = words(straight_coast([written(tmp_path / "light.csv", (clock, speed), "time_s,speed_m_per_s")], [], MASS, WHEELS))
    assert text.startswith("rolling coefficient 0.000 +- 0.004 (cannot be told from 0), drag area ")


def test_what_is_only_assumed_stands_as_0(tmp_path):
    """Rounding of the search, such as 5.36e-09, is no slope."""
    clock, speed, _ = noisy(slope=0.0)
    result = straight_coast([written(tmp_path / "one.csv", (clock, speed), "time_s,speed_m_per_s")], [], MASS, WHEELS)
    assert 0 < abs(result.slope.value) < 1e-6
    assert "slope of the way there, % up (assumed near 0) 0 0.39" in words(result)


def test_rolling_that_no_free_car_has_is_told(tmp_path):
    clock, speed, _ = rolled(slope=0.05, seconds=12.0)
    dragged = straight_coast([written(tmp_path / "brake.csv", (clock, speed), "time_s,speed_m_per_s")], [], MASS, WHEELS)
    assert any("check that each wheel spins freely" in one for one in dragged.warnings)
    clock, speed, _ = rolled(slope=0.0)
    slow = straight_coast([written(tmp_path / "slow.csv", (clock, speed), "time_s,speed_km_per_h")], [], MASS, WHEELS)
    assert any("m/s under a header of km/h" in one for one in slow.warnings)


def test_the_plot_is_drawn(tmp_path):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        write_coast_plot(straight_coast([UP], [DOWN], MASS, WHEELS), tmp_path / "coast.png")
    assert (tmp_path / "coast.png").read_bytes().startswith(b"\x89PNG")


# --- logs as they are ---


def test_blank_tails_repeated_and_backward_times_and_rest(tmp_path):
    clock, speed, _ = noisy()
    rows = [f"{t:.2f},{v:.3f}" for t, v in zip(clock, speed, strict=True)]
    rows.insert(50, rows[49])
    rows.insert(30, f"{clock[20]:.2f},3.0")
    rest = [f"{61 + k:.2f},0.00" for k in range(12)]
    path = tmp_path / "real.csv"
    path.write_text("time_s,speed_m_per_s\n" + "\n".join([*rows, *rest, ",", ",", "95.0,"]) + "\n")
    result = straight_coast([path], [], MASS, WHEELS)
    left = result.points_left_out
    assert left["blank"] == 1  # a time without a speed
    assert result.notes == (f"{path}: 2 blank rows inside the data were passed over (lines 137, 138).",)
    assert left["with a repeated time"] == 1
    assert left["with a time that runs back"] == 1
    assert left["at rest"] >= 10
    clean = straight_coast([written(tmp_path / "clean.csv", (clock, speed), "time_s,speed_m_per_s")], [], MASS, WHEELS)
    assert result.drag_area_m2.value == pytest.approx(clean.drag_area_m2.value, abs=0.02, rel=0)


def test_several_runs_in_one_file_and_a_clock_that_starts_again(tmp_path):
    clock, speed, _ = noisy(seconds=30.0, rows=61)
    path = written(tmp_path / "two.csv", (np.tile(clock, 2), np.tile(speed, 2)), "time_s,speed_m_per_s")
    result = straight_coast([path], [], MASS, WHEELS)
    assert len(result.runs) == 2
    text = " ".join(result.notes)
    assert "starts again" in text
    assert "holds 2 coasts" in text


def test_pushes_between_runs_cut_them(tmp_path):
    _, speed, _ = rolled(seconds=30.0, rows=61)
    push = np.linspace(speed[-1], 8.0, 9)[1:-1]
    speeds = np.concatenate([speed, push, speed])
    times = 0.5 * np.arange(len(speeds))
    result = straight_coast([written(tmp_path / "push.csv", (times, speeds), "time_s,speed_m_per_s")], [], MASS, WHEELS)
    assert len(result.runs) == 2
    assert result.points_left_out["driven or pushed"] >= len(push)
    assert result.drag_area_m2.value == pytest.approx(0.20, abs=0.005, rel=0)


def test_a_long_log_is_averaged(tmp_path):
    clock, speed, _ = rolled(rows=20001)
    speed = speed + 0.05 * np.random.default_rng(2).standard_normal(len(clock))
    path = written(tmp_path / "long.csv", (clock, speed), "time_s,speed_m_per_s")
    result = straight_coast([path], [], MASS, WHEELS)
    assert any("every 6 neighbouring rows" in note for note in result.notes)
    # Noise of a mean of six
    assert result.rms_speed_m_per_s == pytest.approx(0.05 / np.sqrt(6), rel=0.05, abs=0)
    assert abs(result.drag_area_m2.value - 0.20) < result.drag_area_m2.half_width


def test_a_log_in_coarse_steps(tmp_path):
    clock, speed, _ = rolled(rows=241)
    path = written(tmp_path / "steps.csv", (clock, np.round(3.6 * speed)), "time_s,speed_km_per_h")
    result = straight_coast([path], [], MASS, WHEELS)
    assert abs(result.drag_area_m2.value - 0.20) < result.drag_area_m2.half_width
    assert result.rms_speed_m_per_s == pytest.approx(1 / 3.6 / np.sqrt(12), rel=0.1, abs=0)
    assert 0.5 < result.reduced_chi_square < 2
    assert any("neighbouring residuals are alike" in one for one in result.warnings)


def test_braking_is_cut_off(tmp_path):
    clock, speed, _ = noisy(seconds=40.0, rows=81)
    brake = speed[-1] - 0.8 * 0.5 * np.arange(1, 9)
    times, speeds = np.concatenate([clock, 40 + 0.5 * np.arange(1, 9)]), np.concatenate([speed, brake])
    result = straight_coast([written(tmp_path / "brake.csv", (times, speeds), "time_s,speed_m_per_s")], [], MASS, WHEELS)
    assert result.points_left_out["braked"] >= 8
    assert result.runs[0].end_m_per_s > speed[-1] - 0.1


def test_kilometres_an_hour_under_a_header_of_metres(tmp_path):
    clock, speed, _ = noisy()
    right = straight_coast([written(tmp_path / "a.csv", (clock, speed), "time_s,speed_m_per_s")], [], MASS, WHEELS)
    named = straight_coast([written(tmp_path / "b.csv", (clock, 3.6 * speed), "time_s,speed_km_per_h")], [], MASS, WHEELS)
    fast = straight_coast([written(tmp_path / "c.csv", (clock, 3.6 * speed), "time_s,speed_m_per_s")], [], MASS, WHEELS)
    for one in (named, fast):
        assert one.drag_area_m2.value == pytest.approx(right.drag_area_m2.value, rel=2e-3, abs=0)
    assert any("is taken for km/h" in note for note in fast.notes)
    assert not named.notes


@pytest.mark.parametrize(("header", "factor", "said"), [("speed_m_per_s", 3.6, "holds km/h"), ("speed_km_per_h", 1.0, "holds metres")])
def test_distance_tells_the_unit_of_a_slow_log(tmp_path, header, factor, said):
    clock, speed, way = noisy(start=5.0, seconds=30.0)
    result = straight_coast([written(tmp_path / "d.csv", (clock, factor * speed, way), f"time_s,{header},distance_m")], [], MASS, WHEELS)
    assert any(said in note for note in result.notes)
    assert result.runs[0].start_m_per_s == pytest.approx(5.0, abs=0.1, rel=0)


def test_a_suspect_unit_without_distance_is_told(tmp_path):
    clock, speed, _ = noisy(start=5.0, seconds=30.0)
    result = straight_coast([written(tmp_path / "s.csv", (clock, 3.6 * speed), "time_s,speed_m_per_s")], [], MASS, WHEELS)
    assert any("check the unit" in one for one in result.warnings)


def test_satellite_logs_find_their_way_by_heading(tmp_path):
    generator = np.random.default_rng(4)
    logs = []
    for direction, heading in ((1, 0.7), (-1, 0.7 + np.pi)):
        clock, _, way = rolled(direction, rows=61)
        logs.append(gpx(tmp_path / f"way{direction}.gpx", clock, way + 0.3 * generator.standard_normal(61), heading))
    result = straight_coast(logs, [], MASS, WHEELS)
    assert result.both_ways
    assert any("heads the other way" in note for note in result.notes)
    for key, true in (("rolling_resistance", 0.008), ("drag_area_m2", 0.20), ("slope", 0.002)):
        assert abs(getattr(result, key).value - true) < 1.3 * getattr(result, key).half_width, key
    assert result.rms_distance_m == pytest.approx(0.3, rel=0.25, abs=0)


def test_a_satellite_log_with_speeds_uses_them(tmp_path):
    clock, speed, way = noisy(rows=61)
    path = gpx(tmp_path / "speed.gpx", clock, way, 1.0, extra=lambda k: f"<speed>{speed[k]:.3f}</speed>")
    result = straight_coast([path], [], MASS, WHEELS)
    assert result.rms_distance_m is None
    assert result.rms_speed_m_per_s == pytest.approx(0.03, rel=0.3, abs=0)


# --- refusals ---

CLOCK, SPEED, WAY = rolled()
STEADY = np.full_like(SPEED, 0.1)
NAME_THEM = "name the columns time_s and speed_m_per_s or speed_km_per_h in the first line (distance_m is optional)"
REFUSED = [
    ("time,speed\n1,2\n", f'line 1: there is no column time_s (is "time" meant?); {NAME_THEM}'),
    ("time_s,speed_m_s\n1,2\n", f'line 1: there is no column speed_m_per_s or speed_km_per_h (is "speed_m_s" meant?); {NAME_THEM}'),
    ("time_s,speed_m_per_s,speed_km_per_h\n1,2,3\n", "line 1: there are two speed columns; keep one of them"),
    ("time_s,time_s,speed_m_per_s\n1,2,3\n", "line 1: column time_s stands twice; keep one of them"),
    ("time_s,speed_m_per_s\n0,5\n1,fast\n", 'line 3: "fast" in column speed_m_per_s is not a number; write a plain number, such as 12.5'),
    ("time_s,speed_m_per_s\n0,5\n1,4.9\n", "holds 2 rows with numbers; give a log of a coast, at least 8 rows"),
    ("# nothing\n", f"there is no line with column names; {NAME_THEM}"),
    ("", "the file is empty; give a log of one car coasting, CSV or GPX"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "line"), REFUSED, ids=range(len(REFUSED)))
def test_refusals(tmp_path, text, line):
    path = tmp_path / "log.csv"
    path.write_text(text)
    with pytest.raises(InputError) as caught:
        straight_coast([path], [], MASS)
    assert str(caught.value) == f"{path}: {line}"


def refusal(*args, **keys):
    with pytest.raises(InputError) as caught:
        straight_coast(*args, **keys)
    text = str(caught.value)
    assert "\n" not in text
    return text


def test_refused_options_and_logs(tmp_path):
    assert refusal([UP], [], 14.5) == "--mass: 14.5 is not between 40 and 1000; give the mass in kg with the driver"
    assert refusal([UP], [], MASS, 90.0).startswith("--rotating-mass: 90 is not between 0 and 0.3 of the mass (43.5); ")
    assert refusal([UP], [], MASS, 4.0, 3.0) == "--air-density: 3 is not between 0.5 and 1.6; 1.225 is sea level at 15 degrees C"
    assert "the log is named twice" in refusal([UP], [UP], MASS)
    assert "there is no such file" in refusal([tmp_path / "none.csv"], [], MASS)
    still = written(tmp_path / "still.csv", (CLOCK, STEADY), "time_s,speed_m_per_s")
    assert "holds no coast (121 of 121 rows are at rest)" in refusal([still], [], MASS)
    odd = written(tmp_path / "odd.csv", (CLOCK, SPEED, 9 * WAY), "time_s,speed_m_per_s,distance_m")
    assert "speed summed over time gives" in refusal([odd], [], MASS)
    untimed = tmp_path / "untimed.gpx"
    untimed.write_text("<gpx><trk><trkseg>" + '<trkpt lat="47" lon="11"></trkpt>' * 9 + "</trkseg></trk></gpx>")
    assert "0 of its 9 points have a time" in refusal([untimed], [], MASS)


FREELY = "let the car roll freely for at least 4 s and log it every half second"
MISREAD = {
    "upside down": (CLOCK[::-1], SPEED[::-1], "line 3: the times run back (59.5 s after 60 s), as they do in most rows; "
                    "sort the log by time, the earliest row first"),
    "milliseconds": (1000 * CLOCK, SPEED, "holds no coast (121 of 121 rows are in a stretch longer than half an hour); "
                     "give time_s in seconds, not in milliseconds, and a log of the test alone"),
    "sign": (CLOCK, -SPEED, "holds no coast (121 of 121 rows are with a speed below 0); turn the sign of the speed column"),
    "one time": (0 * CLOCK, SPEED, "holds no coast (120 of 121 rows are with a repeated time); "
                 "write time_s with parts of a second, so that it rises from row to row"),
    "one row": (CLOCK[:1], SPEED[:1], "holds 1 row with numbers; give a log of a coast, at least 8 rows"),
    "too short": (CLOCK[:8], SPEED[:8], f"holds no coast (8 of 8 rows are in stretches too short); {FREELY}"),
}  # fmt: skip


@pytest.mark.parametrize("name", MISREAD)
def test_a_log_that_holds_no_coast_says_why_and_what_to_do(tmp_path, name):
    clock, speed, line = MISREAD[name]
    path = written(tmp_path / "log.csv", (clock, speed), "time_s,speed_m_per_s")
    assert refusal([path], [], MASS) == f"{path}: {line}"


def test_a_track_upside_down_is_told_by_its_point(tmp_path):
    path = gpx(tmp_path / "down.gpx", CLOCK[::-1], WAY)
    assert "point 2: the times run back" in refusal([path], [], MASS)


# --- circle ---


@pytest.fixture
def yard():
    return load_scenario(find_scenario("first-bend"), "first-bend")


def test_a_circle_is_set_beside_the_model(tmp_path, yard):
    radius, heavy = 8.0, MASS + WHEELS + yard.car.yaw_inertia_kg_m2 / 64
    clock, speeds = np.linspace(0, 35, 141), [5.0]
    corner = yard.car.tyre.cornering_stiffness_per_rad
    for step in np.diff(clock):  # small steps of Euler's method, ten between rows
        now = speeds[-1]
        for _ in range(10):
            force = 0.008 * MASS * GRAVITY + 0.5 * 1.225 * 0.2 * now**2 + MASS * now**4 / (corner * GRAVITY * radius**2)
            now -= step / 10 * force / heavy
        speeds.append(now)
    speeds = np.array(speeds) + 0.03 * np.random.default_rng(3).standard_normal(len(clock))
    path = written(tmp_path / "circle.csv", (clock, speeds), "time_s,speed_m_per_s")
    result = circle_coast_result([path], MASS, radius, yard, "first-bend", "Ideal", WHEELS)
    json.dumps(plain(result), allow_nan=False)
    assert [one.name for one in result.setups] == ["ideal"]
    for row in result.measured:
        true = MASS * row.speed_m_per_s**4 / (corner * GRAVITY * radius**2)
        assert abs(row.cornering_drag_N - true) < 1.5 * row.half_width_N + 0.05 * true
    text = words(result)
    assert text.startswith("A bend of 8 m costs the car as built")
    assert 'The model of "ideal" says' in text
    write_coast_plot(result, tmp_path / "circle.png")
    with pytest.raises(InputError, match="a circle measures neither"):
        coast_fragment(result)
    every = circle_coast_result([path], MASS, -radius, yard, "first-bend", None, WHEELS)
    assert len(every.setups) == 3


def test_refused_circles(yard):
    with pytest.raises(InputError) as caught:
        circle_coast_result([UP], MASS, 8.0, yard, "first-bend", "paralel")
    assert str(caught.value) == ('first-bend: --setup: there is no set-up "paralel"; did you mean "parallel"?')
    with pytest.raises(InputError, match=r"--circle-radius: 0\.5 is not between"):
        circle_coast_result([UP], MASS, 0.5, yard, "first-bend")


# --- damage ---

CELLS = ["", "nan", "inf", "-inf", "1e999", "-1e30", "1e10", "0", "-0", "-9999", "1,5", "1.2.3", "0x10", "x", "#", "\ufeff", '"', ";", "\t",
         "\r", "91", "2026-01-01", "9999-99-99T00:00:00Z", "\U0001f600", "1e-320", "7" * 400]  # fmt: skip


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    folder = tmp_path_factory.mktemp("whole")
    clock, speed, way = noisy(rows=61)
    return {
        "csv": UP.read_bytes(),
        "distance.csv": written(folder / "d.csv", (clock, speed, way), "time_s,speed_km_per_h,distance_m").read_bytes(),
        "gpx": gpx(folder / "w.gpx", clock, way, 1.0).read_bytes().replace(b"</trkpt>", b"</trkpt>\n"),
    }


def damaged(draw, data):
    for _ in range(draw(st.integers(1, 3))):
        if not data:
            break
        kind, at = draw(st.sampled_from(["flip", "cut", "lines", "cell", "double", "swap"])), draw(st.integers(0, len(data) - 1))
        if kind == "flip":
            data = data[:at] + bytes([data[at] ^ draw(st.integers(1, 255))]) + data[at + 1 :]
            continue
        if kind == "cut":
            data = data[:at]
            continue
        lines = data.split(b"\n")
        first = draw(st.integers(0, len(lines) - 1))
        last = min(len(lines), first + draw(st.integers(1, 20)))
        if kind == "lines":
            del lines[first:last]
        elif kind == "double":
            lines[last:last] = lines[first:last]
        elif kind == "swap":
            lines[first], lines[last - 1] = lines[last - 1], lines[first]
        else:
            mark = b'"' if b'"' in lines[first] else b","
            cells = lines[first].split(mark)
            cells[draw(st.integers(0, len(cells) - 1))] = draw(st.sampled_from(CELLS)).encode()
            lines[first] = mark.join(cells)
        data = b"\n".join(lines)
    return data


def check(path, data):
    path.write_bytes(data)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            result = straight_coast([path], [DOWN], MASS, WHEELS)
        except InputError as error:
            line, result = str(error), None
    if result is None:
        assert line.startswith(f"{path}: ")
        assert line.isprintable()
        assert len(line) < 400 + len(str(path))
    else:
        json.dumps(plain(result), allow_nan=False)
        assert words(result)
        tomllib.loads(coast_fragment(result))


@pytest.mark.slow
@pytest.mark.parametrize("name", ["csv", "distance.csv", "gpx"])
@settings(max_examples=40, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_damaged_logs(tmp_path, whole, name, data):
    check(tmp_path / f"log.{name}", damaged(data.draw, whole[name]))


@pytest.mark.slow
@pytest.mark.parametrize("name", ["csv", "distance.csv", "gpx"])
@settings(max_examples=300, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_many_damaged_logs(tmp_path, whole, name, data):
    check(tmp_path / f"log.{name}", damaged(data.draw, whole[name]))


@pytest.mark.slow
@settings(max_examples=20, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data(), radius=st.sampled_from([8.0, -3.0, 30.0]))
def test_damaged_circles(tmp_path, yard, data, radius):
    """A line or numbers, and no warning of numpy's: one once reached the user."""
    clock, speed, _ = noisy(slope=0.02, seconds=25.0, rows=51)
    path = written(tmp_path / "round.csv", (clock, speed), "time_s,speed_m_per_s")
    path.write_bytes(damaged(data.draw, path.read_bytes()))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            result = circle_coast_result([path], MASS, radius, yard, "first-bend", "ideal", WHEELS)
        except InputError as error:
            line, result = str(error), None
    if result is None:
        assert line.startswith(f"{path}: ")
        assert line.isprintable()
        assert "+- nan" not in line
    else:
        json.dumps(plain(result), allow_nan=False)
        assert words(result)
