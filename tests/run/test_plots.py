"""The plots hold the result's own numbers, in words that can be read, the same bytes each time."""

import struct
import subprocess
import sys
import warnings
from dataclasses import replace
from typing import Any, cast

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import LineCollection
from matplotlib.colors import to_rgba
from matplotlib.font_manager import FontProperties

from sim.car.chassis import Car
from sim.course.centreline import Course
from sim.lap.drive import Ended
from sim.lap.ladder import Model
from sim.lap.ledger import Ledger
from sim.lap.trace import Trace
from sim.pace.driver import PacePlan
from sim.scenario.scenario import Scenario
from sim.study.compare import Comparison, EndCause, SetupResult
from viz.run import course_plot, losses_plot, plots, slip_plot
from viz.run.drawn import drawn_results
from viz.shared import figures

FILES = ["course.png", "losses.png", "slip.png"]
LONG = "Größe — 轮胎 🚲 x$^2$ \N{RIGHT-TO-LEFT OVERRIDE}very long name of a set-up with all its arms and rods, ok"[:80]


def a_course(curvature: np.ndarray, spacing: float = 0.25, *, closed: bool) -> Course:
    """A course-like object from curvatures (n,) [1/m] at nodes `spacing` [m] apart."""
    station = spacing * np.arange(len(curvature))
    heading = np.concatenate([[0.0], np.cumsum(0.5 * spacing * (curvature[1:] + curvature[:-1]))])
    x = np.concatenate([[0.0], np.cumsum(spacing * np.cos(heading[:-1]))])
    y = np.concatenate([[0.0], np.cumsum(spacing * np.sin(heading[:-1]))])
    tightest = int(np.argmax(np.abs(curvature)))
    sharp = abs(float(curvature[tightest]))
    return Course(
        name="made", closed=closed, length=float(station[-1]), station=station, x=x, y=y, heading=heading, curvature=curvature,
        height=0 * station, slope=0 * station, left_width=None, right_width=None, smoothing_residual=0.0,
        smallest_radius=1 / sharp if sharp else float("inf"), smallest_radius_station=float(station[tightest]) if sharp else 0.0,
        notes=(),
    )  # fmt: skip


def loop() -> Course:
    """About 340 m round: straights and left bends of 20, 8, 20 and 8 m radius."""
    parts = [(80.0, 0.0), (20.0 * np.pi / 2, 1 / 20), (60.0, 0.0), (8.0 * np.pi / 2, 1 / 8)] * 2
    return a_course(np.concatenate([np.full(round(length / 0.25), bend) for length, bend in parts]), closed=True)


def straight() -> Course:
    return a_course(np.zeros(401), closed=False)


def a_trace(course: Course, size: float, rows: int = 3000, share: float = 1.0) -> Trace:
    """A trace along a course whose slips and scrub grow with `size`; `share` of the course is driven."""
    station = np.linspace(0.0, share * course.length, rows)
    bend = np.interp(station, course.station, course.curvature)
    ripple = 1.0 + 0.1 * np.sin(station)
    slip = np.column_stack([bend * ripple * size * factor for factor in (0.5, -0.2, 0.3, 0.31)])
    wheels = np.full((rows, 4), np.nan)
    one = np.ones(rows)
    return Trace(
        time=0.02 * np.arange(rows), station=station, x=np.interp(station, course.station, course.x),
        y=np.interp(station, course.station, course.y), heading=np.interp(station, course.station, course.heading), speed=6 * one,
        sideslip=0 * one, yaw_rate=6 * bend, lateral_error=0 * one, hand=bend, steer=0 * slip, slip=slip, load=wheels,
        lateral_force=wheels, longitudinal_force=wheels, slip_loss=8000.0 * slip**2, rub_speed=6 * np.abs(slip), drive_force=20 * one,
    )  # fmt: skip


def a_ledger(size: float, **parts: float) -> Ledger:
    return replace(
        Ledger(
            drive_work=9000.0, hand_work=1.0, kinetic=0.0, air=1500.0, rolling=3900.0, brakes=120.0, height=0.0,
            lateral=size * np.array([400.0, 500.0, 300.0, 350.0]), longitudinal=size * np.array([0.0, 0.0, 90.0, 0.0]),
            aligning=60.0 * size, deflection=0.0, rub=size * np.array([1.0, 2.0, 3.0, 4.0]),
        ),
        **cast(Any, parts),
    )  # fmt: skip


def a_result(course: Course, name: str, size: float = 1.0, **changes: Any) -> SetupResult:
    return replace(
        SetupResult(
            name=name, ended=Ended.FINISHED, cause=EndCause.NONE, reason="", distance=course.length, time=60.0,
            ledger=a_ledger(size), error_rms=0.1, error_max=0.2, least_load=100.0, peak_slips=np.zeros(4), geometry_cost=10.0,
            trace=a_trace(course, size),
        ),
        **changes,
    )  # fmt: skip


def failed(course: Course, name: str, size: float = 6.0) -> SetupResult:
    reason = "slides 2 m off the line after 21.3 s, 120 m into the lap: not enough grip for this pace"
    return a_result(
        course, name, size, ended=Ended.OFF_COURSE, cause=EndCause.GRIP, reason=reason, ledger=None, geometry_cost=np.nan,
        trace=a_trace(course, size, 900, 0.4),
    )  # fmt: skip


def a_comparison(course: Course, *results: SetupResult) -> Comparison:
    """A comparison that holds what the plots read; scenario, car and plan are not among it."""
    nothing: Any = None
    return Comparison(
        cast(Scenario, nothing), Model.SLIPPING_FOUR_WHEELS, cast(Car, nothing), course, cast(PacePlan, nothing), results,
        a_result(course, "ideal steering, no toe", 1.0), 6.0,
    )  # fmt: skip


COURSE, STRAIGHT = loop(), straight()
FOUR = a_comparison(
    COURSE, a_result(COURSE, "ideal"), a_result(COURSE, "kinked arms, cross rod", 1.15), a_result(COURSE, "parallel", 1.5),
    failed(COURSE, "turntable axle"),
)  # fmt: skip
TWELVE = a_comparison(
    COURSE, *[a_result(COURSE, LONG if i % 3 == 0 else f"set-up {i}", 1 + 0.1 * (5 * i % 12)) for i in range(11)],
    failed(COURSE, "W" * 80),
)  # fmt: skip


def rolling(course: Course, name: str) -> SetupResult:
    """What the rolling rungs give: no slip, no scrub."""
    trace = a_trace(course, 0.0)
    return a_result(course, name, 0.0, trace=replace(trace, slip_loss=0 * trace.slip_loss), least_load=np.nan)


def with_rows(trace: Trace, rows: int) -> Trace:
    return Trace(**{key: values[:rows] for key, values in vars(trace).items()})


def broken(course: Course) -> SetupResult:
    """A simulation that ended in numbers that are none."""
    one = failed(course, "broke down")
    return replace(one, trace=replace(one.trace, x=np.where(one.trace.time > 5, np.nan, one.trace.x), slip=one.trace.slip * np.nan))


CASES = {
    "four": FOUR,
    "twelve": TWELVE,
    "one": a_comparison(COURSE, a_result(COURSE, "ideal")),
    "none finished": a_comparison(COURSE, failed(COURSE, "turntable axle"), failed(COURSE, LONG)),
    "no rows": a_comparison(COURSE, replace(failed(COURSE, "a"), trace=with_rows(a_trace(COURSE, 1.0), 0))),
    "one row": a_comparison(COURSE, replace(failed(COURSE, "a"), trace=with_rows(a_trace(COURSE, 1.0), 1))),
    "not numbers": a_comparison(COURSE, a_result(COURSE, "ideal"), broken(COURSE)),
    "rolling": a_comparison(COURSE, rolling(COURSE, "ideal"), rolling(COURSE, "parallel")),
    "straight": a_comparison(STRAIGHT, a_result(STRAIGHT, LONG, 0.0, ledger=a_ledger(0.0, height=-800.0))),
    "no reference": replace(FOUR, reference=failed(COURSE, "ideal steering, no toe")),
}
FIGURES = (course_plot.course_figure, losses_plot.losses_figure, slip_plot.slip_figure)


def texts(figure) -> list[Any]:
    """Every text that says something, tick labels left out."""
    found = [*figure.texts, *(text for axes in figure.axes for text in axes.texts)]
    found += [text for axes in figure.axes for text in (axes.xaxis.label, axes.yaxis.label)]
    found += [text for legend in figure.legends for text in legend.get_texts()]
    return [text for text in found if text.get_text()]


def said(figure) -> str:
    return " | ".join(text.get_text() for text in texts(figure)).replace("\N{THIN SPACE}", " ")


def maps(figure) -> list[Any]:
    return [axes for axes in figure.axes if axes.get_label() == "map"]


def roads(figure) -> list[Any]:
    return [one for axes in maps(figure) for one in axes.collections if isinstance(one, LineCollection)]


# --- Files -----------------------------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("comparison", CASES.values(), ids=CASES.keys())
def test_files_are_written_without_a_warning_at_the_figures_size(comparison, tmp_path):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        paths = plots.write_plots(comparison, tmp_path)
    assert [path.name for path in paths] == FILES == sorted(path.name for path in tmp_path.iterdir())
    for path, figure in zip(paths, FIGURES, strict=True):
        head = path.read_bytes()[:24]
        assert head[:8] == b"\x89PNG\r\n\x1a\n"
        size = figure(comparison).get_size_inches() * figures.DPI
        assert struct.unpack(">II", head[16:24]) == tuple(int(side + 1e-6) for side in size)


@pytest.mark.slow
def test_same_comparison_same_bytes_and_no_date(tmp_path):
    (tmp_path / "again").mkdir()
    first = [path.read_bytes() for path in plots.write_plots(FOUR, tmp_path)]
    again = [path.read_bytes() for path in plots.write_plots(FOUR, tmp_path / "again")]
    assert first == again
    for picture in first:
        assert not any(chunk in picture[:200] for chunk in (b"tEXt", b"iTXt", b"tIME"))


@pytest.mark.slow
def test_plots_need_no_window_and_no_shared_state():
    probe = "import sys, viz.run.plots; print(sorted({'matplotlib.pyplot', 'sim.lap.drive', 'tkinter'} & set(sys.modules)))"
    assert subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True).stdout.strip() == "[]"


# --- Layout ----------------------------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("comparison", CASES.values(), ids=CASES.keys())
@pytest.mark.parametrize("draw", FIGURES, ids=lambda draw: draw.__name__)
def test_text_is_large_enough_inside_the_page_and_apart(comparison, draw):
    figure = draw(comparison)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    boxes = []
    for text in texts(figure):
        assert text.get_fontsize() >= 9
        box = text.get_window_extent(canvas.get_renderer())
        assert box.x0 >= 0
        assert box.y0 >= 0
        assert box.x1 <= figure.bbox.x1
        assert box.y1 <= figure.bbox.y1
        boxes.append((text.get_text(), box))
    for index, (words, box) in enumerate(boxes):
        for other, there in boxes[:index]:
            # Lines of one name may touch by the depth of a letter: 2 dots of about 18.
            wide, high = min(box.x1, there.x1) - max(box.x0, there.x0), min(box.y1, there.y1) - max(box.y0, there.y0)
            assert wide <= 0 or high <= 2, f"{words!r} lies on {other!r}"
    for axes in figure.axes:
        for label in [*axes.get_xticklabels(), *axes.get_yticklabels()]:
            assert label.get_fontsize() >= 9


def test_folded_lines_fit_and_lose_nothing():
    for words in (LONG, "W" * 80, "short", "a b"):
        lines = figures.folded(words, 1.5, 9.0)
        assert "".join(lines).replace(" ", "") == figures.plain(words).replace(" ", "")
        assert all(figures.text_width(line, 9.0) <= 1.5 for line in lines)
    two = figures.folded(LONG, 1.5, 9.0, most=2)
    assert len(two) == 2
    assert two[-1].endswith("…")
    assert figures.text_width(two[-1], 9.0) <= 1.5
    assert figures.folded("a b", 1.5, 9.0, most=1) == ["a b"]


def test_text_is_no_wider_than_thought():
    renderer = FigureCanvasAgg(course_plot.course_figure(FOUR)).get_renderer()
    for words in ("drop arm and two rods, kinked", "W" * 30, "turntable axle: tips over", "illicit little fill"):
        for weight in ("normal", "bold"):
            for size in (figures.SMALL, figures.NAME):
                font = FontProperties(family=figures.FONT, size=size, weight=weight)
                drawn = renderer.get_text_width_height_descent(words, font, False)[0] / figures.DPI
                # Letters are fitted to whole dots: a tenth is spare room, not an error.
                assert drawn <= figures.text_width(words, size, weight) <= 1.12 * drawn


def test_signs_that_the_font_lacks_become_squares():
    assert figures.plain("Größe β 輪🚲\u200b\u2028x$") == "Größe β □□□□x$"
    assert "x$^2$" in said(slip_plot.slip_figure(TWELVE))  # a dollar sign starts no formula


@pytest.mark.parametrize(("most", "length"), [(0.37, 0.2), (1.0, 1.0), (1.99, 1.0), (4.9, 2.0), (7.0, 5.0), (10.0, 10.0), (99.9, 50.0)])
def test_round_length(most, length):
    assert course_plot.round_length(most) == pytest.approx(length, rel=1e-12, abs=0)


# --- Course ----------------------------------------------------------------------------------------------------------


def test_greatest_power_has_the_colour_of_the_scales_top():
    figure = course_plot.course_figure(replace(FOUR, results=FOUR.results[:3]))
    FigureCanvasAgg(figure).draw()
    lines = roads(figure)
    assert len(lines) == 3
    powers = [one.trace.slip_loss.sum(axis=1) for one in FOUR.results[:3]]
    # Thinning keeps every set-up's peak; all maps share one scale from nothing to the greatest peak of all.
    for line, power in zip(lines, powers, strict=True):
        assert line.get_array().max() == pytest.approx(power.max(), rel=1e-12, abs=0)
        assert (line.norm.vmin, line.norm.vmax) == (0.0, pytest.approx(max(map(np.max, powers)), rel=1e-12, abs=0))
        assert len(line.get_segments()) < figures.MOST_POINTS
    colours = lines[0].cmap
    worst = lines[2]
    np.testing.assert_allclose(worst.get_colors()[worst.get_array().argmax()], colours(1.0), rtol=0, atol=1e-12)
    np.testing.assert_allclose(worst.get_colors()[worst.get_array().argmin()], colours(0.0), rtol=0, atol=1e-12)
    best = lines[0]
    share = best.get_array().max() / best.norm.vmax
    np.testing.assert_allclose(best.get_colors()[best.get_array().argmax()], colours(share), rtol=0, atol=1e-12)


def test_a_set_up_that_does_not_finish_leaves_the_scale_to_the_others():
    figure = course_plot.course_figure(FOUR)
    finished = max(one.trace.slip_loss.sum(axis=1).max() for one in FOUR.results[:3])
    assert FOUR.results[3].trace.slip_loss.sum(axis=1).max() > finished
    assert roads(figure)[0].norm.vmax == pytest.approx(finished, rel=1e-12, abs=0)
    assert "did not finish: slides 2 m off the line" in said(figure)
    assert "ended here" in said(figure)
    crosses = [line.get_xydata()[0] for line in maps(figure)[3].lines if line.get_marker() == "X"]
    trace = FOUR.results[3].trace
    np.testing.assert_allclose(crosses, [[trace.x[-1], trace.y[-1]]], rtol=0, atol=1e-9)


def test_power_scale_darkens_steadily_for_grey_print():
    # Weights of the colours' lightness: ITU-R BT.601, from memory.
    colours = roads(course_plot.course_figure(FOUR))[0].cmap
    shades = colours(np.linspace(0, 1, 50))[:, :3]
    assert np.all(np.diff(shades @ [0.299, 0.587, 0.114]) < 0)


def test_maps_have_one_true_scale_and_its_bar():
    figure = course_plot.course_figure(FOUR)
    FigureCanvasAgg(figure).draw()
    scales = []
    for axes in maps(figure):
        box = axes.get_window_extent()
        scales += [box.width / np.ptp(axes.get_xlim()), box.height / np.ptp(axes.get_ylim())]
        assert axes.get_xlim()[0] < COURSE.x.min() < COURSE.x.max() < axes.get_xlim()[1]
        assert axes.get_ylim()[0] < COURSE.y.min() < COURSE.y.max() < axes.get_ylim()[1]
    np.testing.assert_allclose(scales, scales[0], rtol=1e-6, atol=0)
    bars_drawn = [(axes, line) for axes in figure.axes for line in axes.lines if line.get_label() == "scale bar"]
    ((axes, bar),) = bars_drawn
    dots = np.ptp(axes.transData.transform(bar.get_xydata())[:, 0])
    words = axes.texts[-1].get_text()
    assert words.endswith(" m")
    assert dots / scales[0] == pytest.approx(float(words[:-2]), rel=1e-6, abs=0)


def test_start_and_tightest_bend_are_marked():
    figure = course_plot.course_figure(FOUR)
    for axes in maps(figure):
        (arrow,) = axes.texts
        along = np.subtract(arrow.xy, arrow.xyann)
        np.testing.assert_allclose(along / np.hypot(*along), [1.0, 0.0], rtol=0, atol=1e-9)  # the loop starts along x
        assert np.hypot(*np.subtract(arrow.xyann, (COURSE.x[0], COURSE.y[0]))) < 5.0
        assert arrow.xyann[1] < COURSE.y[0]  # outside of the left-hand loop
        rings = [line.get_xydata()[0] for line in axes.lines if line.get_marker() == "o"]
        at = int(np.argmax(COURSE.curvature))
        np.testing.assert_allclose(rings, [[COURSE.x[at], COURSE.y[at]]], rtol=0, atol=1e-9)
    assert f"tightest bend: radius 8.0 m, {COURSE.station[at]:.0f} m after the start" in said(figure)
    assert "tightest bend" not in said(course_plot.course_figure(CASES["straight"]))


def test_power_scale_says_what_it_is():
    assert "Power that the tyres lose by slipping, | all wheels together [W]" in said(course_plot.course_figure(FOUR))


# --- Losses ----------------------------------------------------------------------------------------------------------


def bars(figure) -> dict[str, list[Any]]:
    return {container.get_label(): list(container) for container in figure.axes[0].containers}


def test_bars_are_as_long_as_the_ledgers_numbers():
    figure = losses_plot.losses_figure(FOUR)
    found = bars(figure)
    ledgers = [cast(Ledger, one.ledger) for one in FOUR.results[:3]]
    expected = {
        "air drag": [one.air for one in ledgers],
        "rolling resistance": [one.rolling for one in ledgers],
        "brakes": [one.brakes for one in ledgers],
        "tyres resist being turned (aligning)": [one.aligning for one in ledgers],
        "front tyres slip sideways": [one.lateral[0] + one.lateral[1] for one in ledgers],
        "rear tyres slip sideways": [one.lateral[2] + one.lateral[3] for one in ledgers],
        "tyres slip lengthwise": [one.longitudinal.sum() for one in ledgers],
    }
    assert list(found) == list(expected)  # the unfinished set-up has no bar
    for name, values in expected.items():
        np.testing.assert_allclose([bar.get_width() for bar in found[name]], values, rtol=1e-12, atol=1e-9)
    ends = np.zeros(3)
    for row in found.values():  # each part begins where the one before ends
        np.testing.assert_allclose([bar.get_x() for bar in row], ends, rtol=1e-12, atol=1e-9)
        ends += [bar.get_width() for bar in row]
    for end in ends:
        assert f"{end:,.1f} J".replace(",", " ") in said(figure)
    assert figure.axes[0].get_xlabel() == "Energy lost on one lap [J]: drive work and driver's hands, less what the car gained in speed"


def test_names_reasons_and_reference_are_written():
    words = said(losses_plot.losses_figure(FOUR))
    for one in FOUR.results:
        assert one.name in words
    assert "did not finish: slides 2 m off the line after 21.3 s, 120 m into the lap: not enough grip" in words
    assert "same car with ideal steering: 7 220.0 J" in words
    assert "ideal steering" not in said(losses_plot.losses_figure(CASES["no reference"]))
    nothing = losses_plot.losses_figure(CASES["none finished"])
    assert bars(nothing) == {}
    assert said(nothing).count("did not finish") == 2


def test_climbing_counts_on_open_courses_alone():
    climb = a_ledger(1.0, height=500.0)
    there = losses_plot.losses_figure(a_comparison(STRAIGHT, a_result(STRAIGHT, "a", ledger=climb), a_result(STRAIGHT, "b")))
    name = losses_plot.CLIMBING[0]
    assert [bar.get_width() for bar in bars(there)[name]] == [500.0, 0.0]
    words = "Energy lost from start to finish [J]: drive work and driver's hands, less what the car gained in speed"
    assert there.axes[0].get_xlabel() == words
    assert name not in bars(losses_plot.losses_figure(a_comparison(STRAIGHT, a_result(STRAIGHT, "a"))))
    assert name not in bars(losses_plot.losses_figure(a_comparison(COURSE, a_result(COURSE, "a", ledger=climb))))


def test_what_is_given_back_stands_left_of_zero():
    figure = losses_plot.losses_figure(CASES["straight"])
    (bar,) = bars(figure)[losses_plot.CLIMBING[0]]
    assert (bar.get_x(), bar.get_width()) == (0.0, -800.0)
    assert "4 720.0 J" in said(figure)  # 1500 + 3900 + 120 - 800


def test_causes_and_wheels_differ_without_colour():
    assert len({(hatch, ink) for _, _, ink, hatch, _ in losses_plot.CAUSES}) == len(losses_plot.CAUSES)
    assert len({(str(line), breadth) for _, _, line, breadth in slip_plot.WHEEL_LOOKS}) == 4
    palette = {"#000000", "#E69F00", "#56B4E9", "#009E73", "#F0E442", "#0072B2", "#D55E00", "#CC79A7"}  # Okabe, Ito 2008
    assert {fill for _, fill, *_ in (*losses_plot.CAUSES, losses_plot.CLIMBING)} == palette
    assert {colour for _, colour, *_ in slip_plot.WHEEL_LOOKS} <= palette


# --- Slip angles -----------------------------------------------------------------------------------------------------


def slip_axes(figure) -> list[Any]:
    return [axes for axes in figure.axes if axes.get_label() == "slip"]


def test_slip_lines_are_the_traces_angles_in_degrees():
    figure = slip_plot.slip_figure(FOUR)
    rows = slip_axes(figure)
    assert len(rows) == 4
    for axes, one in zip(rows, FOUR.results, strict=True):
        lines = {line.get_label(): line for line in axes.lines}
        for wheel, (name, colour, *_) in enumerate(slip_plot.WHEEL_LOOKS):
            x, y = lines[name].get_data()
            angles = np.degrees(np.arctan(one.trace.slip[:, wheel]))
            assert to_rgba(lines[name].get_color()) == to_rgba(colour)
            assert (y.min(), y.max()) == pytest.approx((angles.min(), angles.max()), rel=1e-12, abs=1e-12)
            np.testing.assert_allclose(y, np.interp(x, one.trace.station, angles), rtol=1e-9, atol=1e-9)
            assert len(x) <= figures.MOST_POINTS
        assert axes.get_ylim() == rows[0].get_ylim()
        assert axes.get_xlim() == (0.0, COURSE.length)
    worst = max(np.degrees(np.arctan(np.abs(one.trace.slip).max())) for one in FOUR.results[:3])
    assert rows[0].get_ylim()[1] == pytest.approx(1.1 * worst, rel=1e-9, abs=0)
    assert "Slip angle of each wheel [degrees]" in said(figure)
    assert rows[-1].get_xlabel() == "Distance from the start [m]"


def test_peaks_kept():
    rng = np.random.default_rng(3)
    for n in (0, 1, 2, 1500, 1501, 4321, 20_000):
        values = rng.normal(size=n)
        kept = slip_plot.peaks_kept(values, 1500)
        assert len(kept) <= 1500
        assert np.all(np.diff(kept) > 0)
        if n:
            assert (kept[0], kept[-1]) == (0, n - 1)
            assert {int(values.argmin()), int(values.argmax())} <= set(kept.tolist())
        if n <= 1500:
            assert len(kept) == n


# --- Many set-ups ----------------------------------------------------------------------------------------------------


def test_of_many_set_ups_six_are_drawn_with_the_best_and_the_worst():
    drawn = drawn_results(TWELVE)
    assert len(drawn) == 6
    places = [next(i for i, one in enumerate(TWELVE.results) if one is it) for it in drawn]
    assert places == sorted(places)
    finished = [one for one in TWELVE.results if one.ledger is not None]
    assert min(finished, key=lambda one: cast(Ledger, one.ledger).scrub).name == drawn[0].name
    assert drawn[-1] is TWELVE.results[11]  # did not finish: ranks last
    for draw in (course_plot.course_figure, slip_plot.slip_figure):
        assert "Drawn: 6 of 12 set-ups" in said(draw(TWELVE))
        assert "Drawn:" not in said(draw(FOUR))
    assert len(bars(losses_plot.losses_figure(TWELVE))["air drag"]) == 11  # the losses show all
    assert drawn_results(FOUR) == list(FOUR.results)
