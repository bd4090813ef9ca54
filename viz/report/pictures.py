"""The page's pictures as SVG that stands in the page itself: maps of scrub, and two cars in the telling bend."""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING

import matplotlib as mpl
import numpy as np
from matplotlib import colormaps
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.patches import Polygon

from viz.report.words import FARTHEST, MISS_DRAWN
from viz.run.course_plot import POWER_COLOURS, Way, map_figure, top_power, way_of
from viz.shared.axle_lines import MEETING
from viz.shared.figures import FONT, INK
from viz.shared.rounding import shown_sum, tenths

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sim.course.centreline import Course
    from sim.study.compare import Comparison, SetupResult
    from viz.report.words import Pair, Side

MAP_WIDTH = 3.0  # [in]
MAP_POINTS = 240  # of a map's line: a page holds several
CAR_WIDTH, CAR_TALLEST = 3.4, 4.4  # [in]
PAD, LABEL = 0.45, 1.1  # [m] around what is drawn, and beside a wheel for what it loses
ABOVE = 0.12  # [m] between a tyre and what it loses, which stands ahead of a front wheel and behind a rear one: no axle line runs there
# A font of the same breadth stands in on devices that lack the plotting library's own.
FONTS = f"'{FONT}', Verdana, sans-serif"
BODY, LINES, MISS = "#E6E4DD", "#0072B2", "#B34A00"
STOPS = 6  # of the colours' key


def map_pictures(comparison: Comparison, shown: Sequence[SetupResult]) -> tuple[list[str], float]:
    """A map for each set-up, coloured by the power that its tyres lose, and the top of the colours' scale [W].

    comparison : the run; shown : set-ups
    """
    ways = [way_of(one.trace, MAP_POINTS) for one in shown]
    top = top_power(shown, ways)
    figures = [map_figure(comparison.course, one, way, top, MAP_WIDTH, MAP_POINTS) for one, way in zip(shown, ways, strict=True)]
    return [svg_of(figure, f"map{index}") for index, figure in enumerate(figures)], top


def power_stops() -> list[str]:
    """Colours of the scale from no power to the top."""
    return [to_hex(colormaps[POWER_COLOURS](share)) for share in np.linspace(0.0, 1.0, STOPS)]


def pair_pictures(pair: Pair, comparison: Comparison) -> list[str]:
    """Both cars of the pair from above, at one scale: wheels, what each loses, axle lines.  pair : Pair; comparison : the run."""
    sides = (pair.better, pair.worse)
    reach = [crossing for side in sides for crossing in side.crossings or ()]
    car = comparison.scenario.car
    half = 0.5 * max(car.front_track, car.rear_track) + LABEL
    left = max([half, *(min(one + PAD, FARTHEST) for one in reach if one > 0)])
    right = max([half, *(min(-one + PAD, FARTHEST) for one in reach if one < 0)])
    top = max(float(np.nan_to_num(side.power).max()) for side in sides) or 1.0
    return [svg_of(_car_figure(side, comparison, left, right, top), f"car{index}") for index, side in enumerate(sides)]


def _car_figure(side: Side, comparison: Comparison, left: float, right: float, top: float) -> Figure:
    """One car from above, ahead upwards.  left, right : of the middle, how far is drawn [m]; top : of the colours' scale [W]."""
    car = comparison.scenario.car
    low, high = -car.wheelbase - car.wheel_radius - PAD - ABOVE, car.wheel_radius + PAD + ABOVE
    scale = min(CAR_WIDTH / (left + right), CAR_TALLEST / (high - low))
    figure = Figure(figsize=((left + right) * scale, (high - low) * scale))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(-left, right)
    axes.set_ylim(low, high)
    axes.set_axis_off()
    narrow = "bicycle" in comparison.rung.label
    half = 0.0 if narrow else 0.5 * car.rear_track
    # Paper: right is x, ahead is y.
    places = [(-side.contact[0, 1], side.contact[0, 0]), (-side.contact[1, 1], side.contact[1, 0]), (-half, -car.wheelbase),
              (half, -car.wheelbase)]  # fmt: skip
    nose = 0.16 if not narrow else 0.1
    body = np.array([(-nose, 0.25), (nose, 0.25), (1.6 * nose, -0.6 * car.wheelbase), (nose, -car.wheelbase - 0.15),
                     (-nose, -car.wheelbase - 0.15), (-1.6 * nose, -0.6 * car.wheelbase)])  # fmt: skip
    axes.add_patch(Polygon(body, closed=True, facecolor=BODY, edgecolor="none"))
    if side.crossings is not None:
        end = max(side.crossings) if side.crossings[0] > 0 else min(side.crossings)
        end = float(np.clip(end, -FARTHEST, FARTHEST))
        axes.plot([half, -end] if end > 0 else [-half, -end], [-car.wheelbase] * 2, color="0.45", linewidth=1.0, dashes=(5, 3))
        for (x, y), crossing in zip(places[:2], side.crossings, strict=True):
            axes.plot([x, -crossing], [y, -car.wheelbase], color=LINES, linewidth=1.2)
        if abs(side.crossings[0] - side.crossings[1]) < MEETING:
            axes.plot([-side.crossings[0]], [-car.wheelbase], "o", color=LINES, markersize=6)
        elif abs(side.crossings[0] - side.crossings[1]) > MISS_DRAWN:
            axes.plot([-one for one in side.crossings], [-car.wheelbase] * 2, color=MISS, linewidth=4.0, solid_capstyle="butt")
    else:
        axes.plot([-half, half], [-car.wheelbase] * 2, color="0.45", linewidth=1.0)
    for index, ((x, y), steer, power) in enumerate(zip(places, side.steer, side.power, strict=True)):
        reach = car.wheel_radius * np.array([-np.sin(steer), np.cos(steer)])
        breadth = max(72 * scale * car.tyre_width, 3.5)
        ends = [x - reach[0], x + reach[0]], [y - reach[1], y + reach[1]]
        axes.plot(*ends, color=INK, linewidth=breadth + 1.6, solid_capstyle="round", zorder=4)
        axes.plot(*ends, color=colormaps[POWER_COLOURS](float(power) / top), linewidth=breadth, solid_capstyle="round", zorder=5)
        if narrow and index % 2:
            continue
        outward, away = (-1 if index % 2 == 0 else 1), (-1 if index >= 2 else 1)
        lost = shown_sum(side.power[index : index + 2]) if narrow else float(power)
        axes.text(
            x - 0.1 * outward, y + away * (car.wheel_radius + ABOVE), f"{tenths(lost)} W", zorder=6,
            ha="right" if outward < 0 else "left", va="bottom" if away > 0 else "top",
            fontsize=9, family=FONT, color="0.1", parse_math=False,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0, "alpha": 0.85},
        )  # fmt: skip
    return figure


def svg_of(figure: Figure, prefix: str) -> str:
    """A figure as an SVG element that takes the width it is given; the same figure gives the same text.

    figure : Figure; prefix : of the names inside, which are thereby this picture's own on the page
    """
    made = io.StringIO()
    # Text stays text: it can be read out, and the page stays small.
    with mpl.rc_context({"svg.fonttype": "none", "svg.hashsalt": "scrubwise"}):
        FigureCanvasSVG(figure).print_svg(made, metadata={"Date": None, "Creator": None})
    text = made.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>|<!--.*?-->|\n\s*", lambda match: "" if match[0].startswith("<") else "\n", text, flags=re.S)
    used = set(re.findall(r'(?:url\(#|href="#)([\w-]+)', text))
    text = re.sub(r' id="([\w-]+)"', lambda match: f' id="{prefix}-{match[1]}"' if match[1] in used else "", text)
    text = re.sub(r'(url\(#|href="#)', rf"\g<1>{prefix}-", text).replace(f"'{FONT}'", FONTS)
    head, _, rest = text.partition(">")
    box = re.search(r'viewBox="[^"]*"', head)
    return f'<svg xmlns="http://www.w3.org/2000/svg" {box[0] if box else ""} aria-hidden="true" focusable="false">{rest}'


def course_picture(course: Course) -> str:
    """The course alone, without what any tyre does on it.  course : Course."""
    nothing = Way(np.zeros((0, 2, 2)), np.zeros(0))
    return svg_of(map_figure(course, None, nothing, 1.0, MAP_WIDTH, MAP_POINTS), "course")
