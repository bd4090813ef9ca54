"""Rolling and air drag from logs: the closed form, exact logs, coverage of the stated intervals, wild rows, circles."""

import time

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from sim.chassis import GRAVITY
from sim.coast_circle import fit_circle, model_drag
from sim.coast_motion import coast_motion
from sim.coast_problem import SLOPE_SPREAD, WIND_SPREAD
from sim.coast_runs import Coast
from sim.coastdown import fit_coast, opposed
from sim.errors import InputError

MASS, WHEELS, AIR = 145.0, 4.0, 1.225
ROLLING, AREA = 0.008, 0.20


def coast(direction=1, *, slope=0.0, wind=0.0, rows=100, seconds=60.0, start=9.0, noise=0.0, generator=None, kind="speed", area=AREA):
    clock = np.linspace(0.0, seconds, rows)
    heavy = MASS + WHEELS
    pull = (ROLLING + direction * slope) * MASS * GRAVITY / heavy
    speed, way = coast_motion(clock, start, pull, 0.5 * AIR * area / heavy, direction * wind)
    hiss = noise * generator.standard_normal(rows) if noise else 0.0
    series = {"speed": (speed + hiss, None), "distance": (None, way + hiss), "both": (speed + hiss, way)}[kind]
    return Coast("made.csv", direction, clock, *series, np.arange(1, rows + 1))


def fitted(coasts):
    return fit_coast(coasts, MASS, WHEELS, AIR)


@pytest.mark.parametrize(
    ("start", "pull", "drag", "headwind"),
    [(10.0, 0.08, 8e-4, 0.0), (10.0, 0.08, 8e-4, 2.0), (3.0, -0.1, 8e-4, 0.0), (1.0, 0.08, 1e-3, -3.0), (1.0, -0.05, 1e-3, -4.0),
     (9.0, 0.08, 0.0, 1.0), (9.0, 0.0, 1e-3, 1.0), (2.0, 0.3, 0.01, 0.0)],
)  # fmt: skip
def test_closed_form_against_an_integrator(start, pull, drag, headwind):
    """Uphill and downhill, against and with the wind, through the air's own speed, without air, without rolling."""

    def rate(_, state):
        air = state[0] + headwind
        return [-pull - drag * air * abs(air), state[0]]

    clock = np.linspace(0.0, 60.0, 13)
    there = solve_ivp(rate, (0.0, 60.0), [start, 0.0], t_eval=clock, rtol=1e-11, atol=1e-12)
    speed, way = coast_motion(clock, start, pull, drag, headwind)
    np.testing.assert_allclose(speed, there.y[0], rtol=0, atol=2e-9)
    np.testing.assert_allclose(way, there.y[1], rtol=0, atol=1e-8)


def test_weak_air_passes_into_none():
    clock = np.linspace(0.0, 60.0, 7)
    without, almost = coast_motion(clock, 9.0, 0.08, 0.0), coast_motion(clock, 9.0, 0.08, 1e-14)
    np.testing.assert_allclose(almost, without, rtol=1e-11, atol=1e-10)


@pytest.mark.parametrize("kind", ["speed", "distance", "both"])
def test_exact_logs_give_the_parameters(kind):
    fit = fitted([coast(1, slope=0.004, wind=0.6, kind=kind), coast(-1, slope=0.004, wind=0.6, kind=kind)])
    for found, true in ((fit.rolling, ROLLING), (fit.drag_area, AREA), (fit.slope, 0.004), (fit.wind, 0.6)):
        assert found.value == pytest.approx(true, rel=1e-6, abs=0)
        assert not found.bound
    assert np.isnan(fit.reduced_chi_square)


def test_an_exact_log_of_one_way():
    fit = fitted([coast()])
    assert fit.rolling.value == pytest.approx(ROLLING, rel=1e-6, abs=0)
    assert fit.drag_area.value == pytest.approx(AREA, rel=1e-6, abs=0)
    # What the log can't see stays in the interval: the slope's spread goes into rolling one to one.
    assert fit.rolling.half_width == pytest.approx(2 * SLOPE_SPREAD, rel=0.02, abs=0)


def test_swapped_ways_turn_slope_and_wind_round():
    generator = np.random.default_rng(5)
    one, two = (coast(way, slope=0.003, wind=0.5, noise=0.05, generator=generator) for way in (1, -1))
    fit = fitted([one, two])
    turned = fitted([Coast(a.source, -a.direction, a.time, a.speed, None, a.line) for a in (one, two)])
    assert turned.rolling.value == pytest.approx(fit.rolling.value, rel=1e-8, abs=0)
    assert turned.drag_area.value == pytest.approx(fit.drag_area.value, rel=1e-8, abs=0)
    assert turned.slope.value == pytest.approx(-fit.slope.value, rel=1e-7, abs=0)
    assert turned.wind.value == pytest.approx(-fit.wind.value, rel=1e-6, abs=0)


def covered(seeds, both_ways):
    """Share of logs whose 95 % intervals hold the truth, for rolling and for drag area."""
    hits = np.zeros(2)
    for seed in range(seeds):
        generator = np.random.default_rng(seed)
        if both_ways:
            coasts = [coast(way, slope=0.004, wind=0.6, noise=0.05, generator=generator) for way in (1, -1)]
        else:
            slope, wind = SLOPE_SPREAD * generator.standard_normal(), WIND_SPREAD * generator.standard_normal()
            coasts = [coast(1, slope=slope, wind=wind, noise=0.05, generator=generator)]
        fit = fitted(coasts)
        hits += [abs(one.value - true) <= one.half_width for one, true in ((fit.rolling, ROLLING), (fit.drag_area, AREA))]
    return hits / seeds


@pytest.mark.parametrize("both_ways", [True, False], ids=["both ways", "one way"])
def test_intervals_cover_the_truth_quickly(both_ways):
    # 100 draws of a 95 % band: 89 to 100 hits but once in a hundred.
    assert (covered(100, both_ways) >= 0.89).all()


@pytest.mark.slow
@pytest.mark.parametrize("both_ways", [True, False], ids=["both ways", "one way"])
def test_intervals_cover_the_truth(both_ways):
    share = covered(400, both_ways)
    assert (share >= 0.92).all(), share
    assert (share <= 0.98).all(), share


def test_noise_that_hangs_together_widens_the_interval():
    generator = np.random.default_rng(0)
    coasts, echo = [coast(way, slope=0.004, wind=0.6) for way in (1, -1)], 0.8
    plain, slow = [], []
    for one in coasts:
        hiss = generator.standard_normal(len(one.time))
        chain = np.zeros_like(hiss)
        for row in range(1, len(hiss)):
            chain[row] = echo * chain[row - 1] + np.sqrt(1 - echo**2) * hiss[row]
        plain.append(Coast("made.csv", one.direction, one.time, one.speed + 0.05 * hiss, None, one.line))
        slow.append(Coast("made.csv", one.direction, one.time, one.speed + 0.05 * chain, None, one.line))
    free, bound = fitted(plain), fitted(slow)
    assert free.widened == 1.0
    assert 1.5 < bound.widened < 4.5  # sqrt(1.8 / 0.2) = 3 for an endless chain
    assert bound.rolling.half_width > 1.7 * free.rolling.half_width
    assert abs(bound.rolling.value - ROLLING) < bound.rolling.half_width


def test_wild_rows_are_left_out():
    generator = np.random.default_rng(8)
    coasts = [coast(way, slope=0.002, wind=0.3, noise=0.03, generator=generator) for way in (1, -1)]
    clean = fitted(coasts)
    for one in coasts:
        one.speed[[10, 40, 41, 77]] += [3.0, -9.0, 25.0, 1.0]
    fit = fitted(coasts)
    assert [np.flatnonzero(~one.used).tolist() for one in fit.coasts] == [[10, 40, 41, 77]] * 2
    assert fit.rolling.value == pytest.approx(clean.rolling.value, abs=0.2 * clean.rolling.half_width, rel=0)
    assert fit.drag_area.value == pytest.approx(clean.drag_area.value, abs=0.2 * clean.drag_area.half_width, rel=0)


def test_a_misfit_shows_in_chi_square():
    generator = np.random.default_rng(3)
    one, two = (coast(way, noise=0.02, generator=generator) for way in (1, -1))
    good = fitted([one, two])
    assert 0.6 < good.reduced_chi_square < 1.5
    gust = 0.1 * np.sin(one.time / 6.0)
    bad = fitted([Coast("made.csv", 1, one.time, one.speed + gust, None, one.line), two])
    assert bad.reduced_chi_square > 3
    assert bad.rolling.half_width > 2 * good.rolling.half_width


def test_a_short_speed_range_is_told():
    generator = np.random.default_rng(4)
    fit = fitted([coast(way, seconds=6.0, rows=30, noise=0.03, generator=generator) for way in (1, -1)])
    assert fit.condition > 1000
    assert max(fit.rolling.half_width / max(fit.rolling.value, 1e-9), fit.drag_area.half_width / max(fit.drag_area.value, 1e-9)) > 0.5


def test_a_bound_is_told():
    generator = np.random.default_rng(6)
    fit = fitted([coast(way, area=-0.15, noise=0.02, generator=generator) for way in (1, -1)])
    assert fit.drag_area.bound == "lower"
    assert fit.drag_area.value == 0.0  # the bound itself, not what the search stops at
    assert fit.drag_area.half_width == 0.0
    assert np.isnan([fit.correlation, fit.own_correlation]).all()
    assert not fit.rolling.bound


def test_opposite_runs_named_one_way_are_noticed():
    generator = np.random.default_rng(7)
    away, home = (coast(way, slope=0.003, noise=0.03, generator=generator) for way in (1, -1))
    again = coast(1, slope=0.003, noise=0.03, generator=generator)
    wrong = [away, Coast("other.csv", 1, home.time, home.speed, None, home.line)]
    assert opposed(wrong, fitted(wrong), WHEELS)
    assert not opposed([away, again], fitted([away, again]), WHEELS)


@pytest.mark.parametrize("kind", ["speed", "distance"])
def test_half_of_a_shortest_log_may_be_wild(kind):
    short = [coast(way, rows=8, kind=kind) for way in (1, -1)]
    for one in short:
        getattr(one, kind)[2:5] += [300.0, 900.0, -500.0]
    fit = fitted(short)
    assert fit.freedom >= 1
    assert all(np.isfinite([one.value, one.half_width]).all() for one in (fit.rolling, fit.drag_area, fit.slope, fit.wind))


def test_a_fit_is_quick():
    generator = np.random.default_rng(1)
    coasts = [coast(way, slope=0.004, wind=0.6, noise=0.05, generator=generator) for way in (1, -1)]
    fitted(coasts)
    started = time.perf_counter()
    fitted(coasts)
    assert time.perf_counter() - started < 1.0


def circle_log(car, radius, steady, rising, reference, noise=0.0):
    heavy = car.mass + WHEELS + car.yaw_inertia / radius**2

    def rate(_, state):
        corner = steady + rising * (state[0] / reference) ** 4
        air = 0.5 * car.air_density * car.drag_area * state[0] ** 2
        return [-(car.front_tyre.rolling_resistance * car.mass * GRAVITY + air + corner) / heavy]

    clock = np.linspace(0.0, 30.0, 100)
    speed = solve_ivp(rate, (0.0, 30.0), [5.0], t_eval=clock, rtol=1e-11, atol=1e-12).y[0]
    if noise:
        speed = speed + noise * np.random.default_rng(9).standard_normal(100)
    return Coast("circle.csv", 1, clock, speed, None, np.arange(100))


def test_a_circle_gives_its_cornering_drag(vehicle):
    car, _ = vehicle("standard")
    fit = fit_circle([circle_log(car, 8.0, 1.0, 20.0, 4.0)], car, WHEELS, 8.0)
    np.testing.assert_allclose(fit.drag, 1.0 + 20.0 * (fit.speeds / 4.0) ** 4, rtol=1e-6, atol=0)
    noisy = fit_circle([circle_log(car, 8.0, 1.0, 20.0, 4.0, noise=0.04)], car, WHEELS, 8.0)
    assert (np.abs(noisy.drag - (1.0 + 20.0 * (noisy.speeds / 4.0) ** 4)) < 1.5 * noisy.half_width).all()
    assert (noisy.half_width > 0).all()


def test_a_circle_needs_speeds(vehicle):
    car, _ = vehicle("standard")
    with pytest.raises(InputError, match="needs measured speeds"):
        fit_circle([coast(kind="distance")], car, WHEELS, 8.0)


def test_model_drag_meets_the_linear_formula(vehicle):
    """F = m a_y^2 / (c g) for one tyre, ideal steering and small angles (linear tyre; form after Gillespie, from memory)."""
    plain = {"pneumatic_trail_mm": 0.0, "rolling_resistance": 0.0}
    car, table = vehicle("K", tyre=plain, car={"drag_area_m2": 0.0, "mass_centre_height_mm": 20.0})
    radius, speeds = 200.0, np.array([6.0, 9.0])
    expected = car.mass * (speeds**2 / radius) ** 2 / (12.0 * GRAVITY)
    np.testing.assert_allclose(model_drag(car, table, radius, speeds), expected, rtol=2e-3, atol=0)
