"""Logs of coasts: what is read from them does not depend on how they were recorded."""

import numpy as np
import pytest

from sim.coast.log import FEWEST_ROWS, read_log
from sim.coast.runs import _trend_error, find_coasts, read_coasts, scatter, trend
from sim.errors import InputError


def csv(path, clock, **columns):
    """Write a log.  columns : by their names."""
    names = ["time_s", *columns]
    rows = zip(clock, *columns.values(), strict=True)
    path.write_text("\n".join([",".join(names), *(",".join(f"{value:.6f}" for value in row) for row in rows)]))
    return path


def gpx(path, clock, x, y):
    """Write a track of places [m] east and north."""
    points = "".join(
        f'<trkpt lat="{47.0 + b / 111170.0:.9f}" lon="{11.0 + a / 76050.0:.9f}"><time>2030-05-01T10:00:{t:06.3f}Z</time></trkpt>'
        for t, a, b in zip(clock, x, y, strict=True)
    )  # fmt: skip
    path.write_text(f'<gpx version="1.0" creator="made"><trk><trkseg>{points}</trkseg></trk></gpx>')
    return path


def test_a_trend_is_the_straight_line_through_the_rows_about_each():
    generator = np.random.default_rng(2)
    time = 50.0 + np.cumsum(generator.uniform(0.1, 1.0, 40))
    values = 7.0 - 0.2 * time + generator.standard_normal(40)
    level, slope = trend(time, values, 4)
    for row in range(40):
        near = slice(max(row - 4, 0), row + 5)
        steep, start = np.polyfit(time[near] - time[row], values[near], 1)
        assert (level[row], slope[row]) == (pytest.approx(start, rel=1e-9, abs=1e-9), pytest.approx(steep, rel=1e-9, abs=1e-9))


@pytest.mark.parametrize("reach", [1, 2, 5, 20])
def test_the_error_of_a_trend_is_that_of_a_straight_line(reach):
    # Noise over the root of the times' sum of squares about their mean: the textbook's standard error of a slope.
    time = 0.25 * np.arange(2 * reach + 1)
    expected = 0.1 / np.sqrt(((time - time.mean()) ** 2).sum())
    assert _trend_error(time, 0.1, reach) == pytest.approx(expected, rel=1e-12, abs=0)


@pytest.mark.parametrize("uneven", [0.0, 0.9])
def test_the_scatter_is_the_noise_of_single_rows_however_they_are_spaced(uneven):
    # Normal noise of 0.2 on a slow change, 20,000 rows: the median tells it to 1 %.
    generator = np.random.default_rng(3)
    time = np.cumsum(generator.uniform(1.0 - uneven, 1.0 + uneven, 20_000))
    assert scatter(time, 3.0 - 0.001 * time + 0.2 * generator.standard_normal(20_000)) == pytest.approx(0.2, rel=0.03, abs=0)


def coasts_of(path):
    return read_coasts([path], [])[0]


def test_when_the_clock_began_does_not_matter(tmp_path):
    clock = np.arange(0.0, 40.0, 0.5)
    speed = 6.0 - 0.1 * clock
    (one,), (other,) = (coasts_of(csv(tmp_path / f"at-{begin}.csv", clock + begin, speed_m_per_s=speed)) for begin in (0, 1000))
    np.testing.assert_array_equal(one.time, clock)
    np.testing.assert_array_equal(other.time, clock)
    np.testing.assert_array_equal(other.speed, one.speed)


@pytest.mark.parametrize(("usual", "pause", "parts"), [(0.1, 4.0, 1), (0.1, 6.0, 2), (1.0, 8.0, 1), (1.0, 12.0, 2)])
def test_a_pause_ends_a_coast_where_it_is_long_for_this_recorder(tmp_path, usual, pause, parts):
    # Longer than 5 s and than ten usual steps
    clock = np.arange(0.0, 30.0, usual)
    clock = np.concatenate([clock, clock[-1] + pause + np.arange(0.0, 30.0, usual)])
    found, _, _ = find_coasts(read_log(csv(tmp_path / "paused.csv", clock, speed_m_per_s=8.0 - 0.1 * clock), "paused.csv"), 1)
    assert len(found) == parts


@pytest.mark.parametrize("way", [1.0, -1.0], ids=["counts up", "counts down"])
@pytest.mark.parametrize("kmh", [False, True])
def test_a_speed_is_held_against_the_distance_but_not_over_a_pause(tmp_path, way, kmh):
    # The car is pushed back while the recorder pauses; half-second rows.  The header says metres a second in either case.
    half = np.arange(0.0, 30.0, 0.5)
    clock = np.concatenate([half, half + 300.0])
    speed = np.tile(6.0 - 0.1 * half, 2)
    gone = 6.0 * half - 0.05 * half**2
    distance = way * np.concatenate([gone, gone[-1] - 60.0 + gone])
    path = csv(tmp_path / "both.csv", clock, speed_m_per_s=speed * (3.6 if kmh else 1.0), distance_m=distance)
    log = read_log(path, "both.csv")
    np.testing.assert_allclose(log.speed, speed, rtol=1e-5, atol=0)
    assert any("holds km/h" in note for note in log.notes) == kmh


def test_nor_over_the_short_pauses_of_a_fast_recorder(tmp_path):
    """50 rows a second for a fifth of a second, then 0.9 s of nothing in which the car is pulled back to where it was."""
    rows = np.arange(0.0, 0.21, 0.02)
    clock = np.concatenate([rows + 1.1 * block for block in range(40)])
    distance = np.concatenate([5.0 * rows + 1.0 * block for block in range(40)])
    log = read_log(csv(tmp_path / "fast.csv", clock, speed_m_per_s=np.full(len(clock), 5.0), distance_m=distance), "fast.csv")
    np.testing.assert_array_equal(log.speed, 5.0)


def test_speeds_that_no_small_car_reaches_are_taken_for_kilometres_an_hour(tmp_path):
    clock = np.arange(0.0, 60.0, 0.5)
    log = read_log(csv(tmp_path / "fast.csv", clock, speed_m_per_s=3.6 * (8.0 - 0.1 * clock)), "fast.csv")
    np.testing.assert_allclose(log.speed, 8.0 - 0.1 * clock, rtol=1e-5, atol=1e-6)
    assert any("is taken for km/h" in note for note in log.notes)


def test_the_fewest_rows_that_make_a_log(tmp_path):
    clock = np.arange(8.0)
    assert len(clock) == FEWEST_ROWS
    assert len(coasts_of(csv(tmp_path / "eight.csv", clock, speed_m_per_s=6.0 - 0.1 * clock))) == 1
    with pytest.raises(InputError, match="holds 7 rows with numbers"):
        read_log(csv(tmp_path / "seven.csv", clock[1:], speed_m_per_s=6.0 - 0.1 * clock[1:]), "seven.csv")


@pytest.mark.parametrize("angle_deg", [0.0, 35.0, 90.0, 200.0])
def test_a_straight_way_is_seen_in_any_direction(tmp_path, angle_deg):
    clock = np.arange(0.0, 30.0, 0.5)
    way = 6.0 * clock - 0.05 * clock**2
    ahead = np.array([np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))])
    (coast,) = coasts_of(gpx(tmp_path / "straight.gpx", clock, *(way[:, None] * ahead + 40.0).T))
    np.testing.assert_allclose(coast.heading, ahead, rtol=0, atol=0.01)
    np.testing.assert_allclose(coast.distance, way - way[0], rtol=0.01, atol=0.01)
    # Nine tenths of the rows lie within 5 and 95 %.
    low, high = np.percentile(way, (5, 95))
    assert coast.extent == pytest.approx(high - low, rel=0.01, abs=0)
