"""Coasts round a circle: logs that cannot be of that circle are refused, a cost that cannot be seen is not sold as one."""

import sys
import warnings
from io import StringIO

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.console import Console

from sim.car.chassis import GRAVITY
from sim.coast.circle import CircleProblem, fit_circle, least_drag
from sim.coast.runs import Coast
from sim.errors import InputError
from sim.scenario.file import find_scenario, load_scenario, shipped_folder
from viz.cli.entry import main
from viz.coast.brief import coast_brief
from viz.coast.numbers import circle_coast_result
from viz.coast.report import coast_report
from viz.shared.brief import MOST_LINES, height

MASS, WHEELS = 145.0, 4.0
UP, DOWN = shipped_folder() / "coast-up.csv", shipped_folder() / "coast-down.csv"
REMEDY = "give logs of whole turns of this circle, and measure the scenario's rolling coefficient and drag area straight first"


@pytest.fixture(scope="module")
def yard():
    return load_scenario(find_scenario("first-bend"), "first-bend")


def circled(yard, radius, *, seconds=35.0, start=5.0, rows=141, rolling=0.008, steady=0.0, noise=0.03, seed=3):
    """(time, speed, way) of the scenario's car on a circle: classical Runge-Kutta steps, ten between two rows."""
    heavy, corner = MASS + WHEELS + yard.car.yaw_inertia_kg_m2 / radius**2, yard.car.tyre.cornering_stiffness_per_rad

    def rate(speed):
        speed = max(speed, 0.0)
        air, bend = 0.5 * 1.225 * 0.2 * speed**2, MASS * speed**4 / (corner * GRAVITY * radius**2)
        return -(rolling * MASS * GRAVITY + air + bend + steady) / heavy

    clock, speeds, ways = np.linspace(0.0, seconds, rows), [start], [0.0]
    step = clock[1] / 10
    for _ in clock[1:]:
        now, way = speeds[-1], ways[-1]
        for _ in range(10):
            first = rate(now)
            second = rate(now + 0.5 * step * first)
            third = rate(now + 0.5 * step * second)
            way += step * now
            now += step / 6 * (first + 2 * second + 2 * third + rate(now + step * third))
        speeds.append(now)
        ways.append(way)
    return clock, np.array(speeds) + noise * np.random.default_rng(seed).standard_normal(rows), np.array(ways)


def written(path, clock, speed):
    path.write_text("time_s,speed_m_per_s\n" + "".join(f"{t:.4f},{v:.4f}\n" for t, v in zip(clock, speed, strict=True)))
    return path


def words(result):
    out = StringIO()
    console = Console(file=out, width=120, highlight=False, markup=False)
    assert sum(map(height, coast_brief(result, ()))) <= MOST_LINES
    for one in coast_report(result):
        console.print(one)
    return " ".join(out.getvalue().split())


def result_of(path, yard, radius, keys=("ideal",)):
    paths = path if isinstance(path, list) else [path]
    return circle_coast_result(paths, MASS, radius, yard, "first-bend", *keys, rotating_mass=WHEELS)


def refusal(path, yard, radius):
    with pytest.raises(InputError) as caught:
        result_of(path, yard, radius)
    line = str(caught.value)
    assert line.isprintable()
    return line


# --- logs of a straight road ---


@pytest.mark.slow
@pytest.mark.parametrize(
    ("logs", "radius", "said"),
    [([UP], 8.0, f"{UP}: at 7.5 m/s at most "), ([UP, DOWN], 8.0, f"{UP} and 1 more: at 7.5 m/s the car slows down less "),
     ([UP], -2.0, "a circle of 2 m costs at least "), ([DOWN], 8.0, "no cornering drag is left (-6."),
     ([DOWN], 100.0, "no cornering drag is left (-5.")],
)  # fmt: skip
def test_straight_logs_given_as_a_circle_are_refused(yard, logs, radius, said):
    line = refusal(logs, yard, radius)
    assert said in line
    assert line.endswith(f"; {REMEDY}")


def test_the_command_refuses_straight_logs_in_one_line(monkeypatch, capsys):
    monkeypatch.setattr("viz.cli.floor.announce_first_use", lambda *kernels: None)
    monkeypatch.setattr(sys, "excepthook", sys.excepthook)
    line = "scrubwise coast coast-down --mass 145 --rotating-mass 4 --circle-radius 8 --scenario first-bend"
    monkeypatch.setattr(sys, "argv", line.split())
    with pytest.raises(SystemExit) as ended:
        main()
    out, err = capsys.readouterr()
    assert (ended.value.code, out, err.count("\n")) == (2, "", 1)
    assert err.startswith("scrubwise: ")
    assert "less than rolling and air alone would slow it" in err


def test_a_search_that_goes_astray_does_not_run_away(vehicle):
    """Once a numpy warning of an overflow reached the user from here."""
    car, _ = vehicle("standard")
    clock = np.linspace(0.0, 60.0, 121)
    problem = CircleProblem([Coast("made.csv", 1, clock, 8.0 - 0.1 * clock, None, np.arange(121))], car, WHEELS, 8.0)
    for steady, rising in ((0.0, -1e4), (1e5, 1e4), (-1e6, 1e6), (-1e6, -1e6)):
        with np.errstate(all="raise"):
            speed, _ = problem.predicted(np.array([steady, rising, 0.0, 0.0, 8.0]))[0]
        assert np.isfinite(speed).all()


@pytest.mark.parametrize("noise", [0.0, 0.03])
def test_a_constant_speed_is_refused(tmp_path, yard, noise):
    """One speed cannot part steady from rising drag; the interval once came out as no number."""
    clock = np.linspace(0.0, 60.0, 121)
    speed = 5.0 + noise * np.random.default_rng(1).standard_normal(121)
    line = refusal(written(tmp_path / "same.csv", clock, speed), yard, 8.0)
    assert "less than rolling and air alone" in line
    assert "nan" not in line


def test_a_hardly_rising_drag_is_told(yard):
    """The shipped straight log, said to be a wide circle, shows the slope of its road."""
    result = result_of(UP, yard, 20.0)
    assert any("hardly rises with the speed" in one for one in result.warnings)


def test_the_least_drag_is_below_the_scenarios_own(yard):
    speeds = np.array([2.0, 5.0])
    own = MASS * speeds**4 / (yard.car.tyre.cornering_stiffness_per_rad * GRAVITY * 64)
    assert (least_drag(MASS, 8.0, speeds) < own).all()
    assert (least_drag(MASS, 8.0, speeds) > own / 10).all()


# --- places ---


def round_about(path, clock, speed, way, radius, wander=0.0, wild=()):
    """A track round a circle, with the receiver's own speeds."""
    generator = np.random.default_rng(4)
    angle = way / radius
    x, y = (radius * part + wander * generator.standard_normal(len(way)) for part in (np.sin(angle), 1 - np.cos(angle)))
    for row in wild:
        x[row] += 80.0
    points = "".join(
        f'<trkpt lat="{47.0 + b / 111170.0:.9f}" lon="{11.0 + a / 76050.0:.9f}"><time>2030-05-01T10:00:{t:06.3f}Z</time>'
        f"<speed>{v:.3f}</speed></trkpt>" for t, v, a, b in zip(clock, speed, x, y, strict=True)
    )  # fmt: skip
    path.write_text(f'<gpx version="1.0" creator="made"><trk><trkseg>{points}</trkseg></trk></gpx>')
    return path


@pytest.mark.parametrize(("radius", "wander", "wild"), [(12.0, 0.0, ()), (12.0, 1.0, (17,)), (4.0, 0.5, ()), (-12.0, 0.0, ())])
def test_places_of_the_circle_are_taken(tmp_path, yard, radius, wander, wild):
    start = 5.0 if abs(radius) > 5 else 3.0
    clock, speed, way = circled(yard, radius, start=start, seconds=30.0, rows=121)
    result = result_of(round_about(tmp_path / "round.gpx", clock, speed, way, radius, wander, wild), yard, radius)
    assert result.cornering_drag_seen
    assert result.runs[0].turns == pytest.approx(way[-1] / (2 * np.pi * abs(radius)), rel=0.02, abs=0)
    assert not any("heads the other way" in one for one in result.notes)


def test_places_of_a_part_of_the_circle_are_taken(tmp_path, yard):
    # A fifth of a turn: its ends are a chord apart, less than the circle is wide.
    clock, speed, way = circled(yard, 60.0, seconds=20.0, start=4.0, rows=81)
    result = result_of(round_about(tmp_path / "part.gpx", clock, speed, way, 60.0), yard, 60.0)
    assert 0.1 < result.runs[0].turns < 0.3


def test_places_within_a_quarter_of_the_circle_are_taken(tmp_path, yard):
    clock, speed, way = circled(yard, 40.0, seconds=50.0, start=6.0, rows=201)
    assert result_of(round_about(tmp_path / "about.gpx", clock, speed, way, 46.0), yard, 40.0).runs[0].turns > 0.5


def test_places_of_another_way_are_refused(tmp_path, yard):
    clock, speed, way = circled(yard, 12.0, seconds=30.0, rows=121)
    straight = round_about(tmp_path / "straight.gpx", clock, speed, way, 1e6)
    line = refusal(straight, yard, 12.0)
    assert line.startswith(f"{straight}: point 1: its places lie up to ")
    assert line.endswith(" m apart; on a circle of 12 m that would be 24 m; give logs of the circle, or the radius that was driven")
    small = round_about(tmp_path / "small.gpx", clock, speed, way, 4.0)
    assert "its places lie up to 8 m apart; on a circle of 12 m that would be 24 m" in refusal(small, yard, 12.0)


# --- what cannot be seen ---


def test_a_cost_within_its_error_is_not_told_from_nothing(tmp_path, yard):
    clock, speed, _ = circled(yard, 60.0, seconds=20.0, start=4.0, rows=41, noise=0.1)
    result = result_of(written(tmp_path / "wide.csv", clock, speed), yard, 60.0)
    middle = result.measured[2]
    assert abs(middle.cornering_drag_N) < middle.half_width_N
    assert result.cornering_drag_seen is False
    text = words(result)
    assert text.startswith("No cornering drag can be seen: what a bend of 60 m costs, ")
    assert "cannot be told from nothing. " in text
    assert "costs the car as built" not in text
    assert "within that interval, as nothing is" in text
    assert any("is only 0." in one and "of a turn" in one for one in result.warnings)


def test_a_cost_beyond_its_error_is_seen(tmp_path, yard):
    clock, speed, _ = circled(yard, 8.0)
    result = result_of(written(tmp_path / "tight.csv", clock, speed), yard, 8.0)
    assert result.cornering_drag_seen is True
    assert result.warnings == ()
    assert "cannot be told" not in words(result)


def test_a_bend_that_pushes_at_low_speed_is_told(tmp_path, yard):
    """A rolling coefficient a little too large turns the sign where the bend costs next to nothing; the rest of the log stands."""
    clock, speed, _ = circled(yard, 8.0, rolling=0.007, seconds=60.0, rows=241)
    result = result_of(written(tmp_path / "light.csv", clock, speed), yard, 8.0)
    assert result.cornering_drag_seen is True
    pushed = [one for one in result.warnings if "the bend would push the car on" in one]
    assert len(pushed) == 1
    assert pushed[0].startswith(f"at {result.measured[0].speed_m_per_s:.1f} ")


def test_the_interval_of_the_rising_part_holds_it(yard, vehicle):
    car, _ = vehicle("standard")
    clock, speed, _ = circled(yard, 8.0)
    fit = fit_circle([Coast("made.csv", 1, clock, speed, None, np.arange(len(clock)))], car, WHEELS, 8.0)
    true = MASS * fit.reference**4 / (yard.car.tyre.cornering_stiffness_per_rad * GRAVITY * 64)
    assert abs(fit.rising - true) < 1.5 * fit.rising_half_width < 0.2 * true


LAWFUL = given(
    radius=st.floats(1.6, 200.0), left=st.booleans(), start=st.floats(1.5, 9.0), seconds=st.floats(6.0, 90.0), rows=st.integers(12, 300),
    noise=st.floats(0.0, 0.3), steady=st.floats(0.0, 15.0), alike=st.sampled_from([1, 4]),
)  # fmt: skip


def fitted_or_refused(yard, car, radius, left, start, seconds, rows, noise, steady, alike):
    """Finite figures with an interval, or a line; and no warning of numpy's."""
    clock, speed, _ = circled(yard, radius, seconds=seconds, start=start, rows=rows, steady=steady, noise=0.0)
    speed = speed + noise * np.repeat(np.random.default_rng(rows).standard_normal(-(-rows // alike)), alike)[:rows]
    keep = speed > 0.3
    if keep.sum() < 10:
        return
    coast = Coast("made.csv", 1, clock[keep] - clock[keep][0], speed[keep], None, np.arange(int(keep.sum())))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            fit = fit_circle([coast], car, WHEELS, radius if left else -radius)
        except InputError:
            return
    assert np.isfinite([fit.drag, fit.half_width, fit.least]).all()
    assert (fit.half_width >= 0).all()
    assert fit.widened >= 1


@pytest.mark.compiled
@settings(max_examples=12, deadline=None, derandomize=True)
@LAWFUL
def test_drawn_circles_are_fitted_or_refused(yard, vehicle, **drawn):
    fitted_or_refused(yard, vehicle("standard")[0], **drawn)


@pytest.mark.slow
@settings(max_examples=400, deadline=None, derandomize=True)
@LAWFUL
def test_many_drawn_circles_are_fitted_or_refused(yard, vehicle, **drawn):
    fitted_or_refused(yard, vehicle("standard")[0], **drawn)


@pytest.mark.slow
def test_the_longest_logs_are_fitted_in_bounded_time(yard, vehicle, monkeypatch):
    """As many coasts and rows as are read: 40 coasts, 4000 rows.  Counted and not timed, for a busy machine has no part in it."""
    car, _ = vehicle("standard")
    coasts = []
    for seed in range(40):
        clock, speed, _ = circled(yard, 8.0, seconds=25.0, rows=100, seed=seed, start=4.0 + 0.02 * seed)
        coasts.append(Coast("made.csv", 1, clock, speed, None, np.arange(100)))
    runs, plain = [], CircleProblem._speeds
    monkeypatch.setattr(CircleProblem, "_speeds", lambda self, several: runs.append(len(several)) or plain(self, several))
    fit_circle(coasts, car, WHEELS, 8.0)
    # Integrations of all coasts together, 54 where this was written: 0.7 s.
    assert len(runs) < 150
    assert max(runs) == 8


# --- by energy ---


@pytest.mark.parametrize(("radius", "begin"), [(8.0, 6.0), (-3.0, 3.0)])
def test_a_coast_round_a_circle_loses_what_its_drag_takes(vehicle, radius, begin):
    """Energy of body, spin, wheels and bent tyres against the work of every drag, wheel by wheel and by quadrature; any parameters."""
    car, _ = vehicle("standard", car={"mass_centre_behind_front_axle_mm": 600.0}, tyre={"rolling_resistance": 0.015})
    unlike = car.front_tyre._replace(relaxation_length=0.3, pneumatic_trail=0.03, rolling_resistance=0.006)
    car = car._replace(front_tyre=unlike)
    clock = np.linspace(0.0, 12.0, 2401)
    made = begin - 0.15 * clock
    problem = CircleProblem([Coast("made.csv", 1, clock, made, None, np.arange(len(clock)))], car, WHEELS, radius)
    steady, rising, trail = 3.0, 14.0, 0.004
    speed = problem.predicted(np.array([steady, rising, trail, 0.0, begin]))[0][0]
    rear_way = np.sqrt(radius**2 - (car.wheelbase - car.front_arm) ** 2)
    ways = np.array([np.hypot(rear_way, car.wheelbase), rear_way]) / abs(radius)
    shares = 1 - car.front_arm / car.wheelbase, car.front_arm / car.wheelbase
    tyres = car.front_tyre, car.rear_tyre
    sideways, half_track = speed**2 / abs(radius), 0.4
    uneven = 1 + car.height * speed**2 / (GRAVITY * radius**2)
    cornering = rising * (speed / problem.reference) ** 4  # what side force costs: slip times force
    drag = 0.5 * car.air_density * car.drag_area * speed**2 + steady
    drag += cornering * uneven / (1 + car.height * problem.reference**2 / (GRAVITY * radius**2))
    for share, tyre, way in zip(shares, tyres, ways, strict=True):
        load, moved = share * car.mass * GRAVITY, share * car.mass * sideways * car.height / (2 * half_track)
        for side in (-1, 1):  # the inner wheel, then the outer one: it carries more and goes further
            further = side * half_track / abs(radius)
            drag += tyre.rolling_resistance * (0.5 * load * way + side * moved * further)
        drag += share * car.mass * sideways * (tyre.pneumatic_trail + trail) / abs(radius)  # the moment turns back at the yaw rate
    # A bent tyre holds half of its force times how far it is bent, its slip times the relaxation length.
    bent = sum(share * tyre.relaxation_length for share, tyre in zip(shares, tyres, strict=True))
    stored = 0.5 * bent * cornering / (1 + car.height * problem.reference**2 / (GRAVITY * radius**2))
    heavy = car.mass + car.yaw_inertia / radius**2 + 0.5 * WHEELS * (ways**2).sum()
    energy = 0.5 * heavy * speed**2 + stored
    work = np.concatenate([[0.0], np.cumsum(0.5 * np.diff(clock) * ((drag * speed)[1:] + (drag * speed)[:-1]))])
    assert speed[0] == pytest.approx(begin, rel=1e-12, abs=0)
    np.testing.assert_allclose(energy[0] - energy, work, rtol=2e-6, atol=1e-3)
    assert work[-1] > 0.3 * energy[0]
