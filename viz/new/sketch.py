"""Drawings of a car for a measuring sheet: four views, each length with its letter.  They show which is which, and are not to scale."""

from math import cos, pi, radians, sin, tan
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Circle, Polygon

from sim.keys import Shown
from sim.linkages.pivots import LEFT
from sim.scenario.car import CarTable
from sim.steering.arrangement import Steering
from viz.new.text import KINGPINS
from viz.shared.figures import FONT, INK

LETTER, LABEL = 8.5, 8.0  # [pt]
THIN, PART, GREY = 0.6, 1.6, "0.55"  # [pt], [pt], a grey
RING = 2.6  # [mm] radius of the circle about a letter
STEP = 7.0  # [mm] from one dimension to the next beside it
LEAST = 1.0  # [mm] on paper; what is shorter has a letter alone
TAIL = 4.0  # [mm] a shorter length has its letter beside it
Point = tuple[float, float]


class View:
    """A part of a page that shows the world of one view, in millimetres of paper.

    axes : of the whole page [mm]; box : left, bottom, right, top on the page [mm]
    low, high : corners of what is to be seen [m]; the first coordinate runs to the right, the second up
    head : that stays free below the top, for the title and for letters above the world [mm]
    """

    def __init__(self, axes: Axes, box: tuple[float, float, float, float], low: Point, high: Point, title: str, head: float = 6.0):
        self.axes = axes
        left, bottom, right, top = box
        self.scale = min((right - left) / (high[0] - low[0]), (top - bottom - head) / (high[1] - low[1]))
        middle = (low[0] + high[0]) / 2, (low[1] + high[1]) / 2
        self.origin = (left + right) / 2 - self.scale * middle[0], (bottom + top - head) / 2 - self.scale * middle[1]
        self.text((left, top), title, va="top", weight="bold")

    def at(self, point: Point) -> Point:
        """A place of the world on the page [mm]."""
        return self.origin[0] + self.scale * point[0], self.origin[1] + self.scale * point[1]

    def line(self, *points: Point, width: float = PART, color: str = INK, dash: bool = False) -> None:
        """A line through places of the world [m]."""
        right, up = [place[0] for place in map(self.at, points)], [place[1] for place in map(self.at, points)]
        self.axes.plot(right, up, color=color, linewidth=width, linestyle=(0, (4, 2)) if dash else "solid", clip_on=False)

    def shape(self, *points: Point, fill: str = "0.9") -> None:
        """A filled outline [m]."""
        outline = [self.at(one) for one in points]
        self.axes.add_patch(Polygon(outline, closed=True, facecolor=fill, edgecolor=INK, linewidth=PART, clip_on=False))

    def round(self, middle: Point, radius: float, fill: str = "white", width: float = PART) -> None:
        """A circle [m]."""
        self.axes.add_patch(Circle(self.at(middle), radius * self.scale, facecolor=fill, edgecolor=INK, linewidth=width, clip_on=False))

    def joint(self, point: Point) -> None:
        """A ball joint or bolt."""
        self.axes.add_patch(Circle(self.at(point), 0.9, facecolor="white", edgecolor=INK, linewidth=1.0, zorder=4, clip_on=False))

    def text(self, place: Point, words: str, *, size: float = LABEL, ha: str = "left", va: str = "center", weight: str = "normal") -> None:
        """Words at a place of the page [mm]."""
        self.axes.text(*place, words, size=size, ha=ha, va=va, weight=weight, family=FONT, color=INK, parse_math=False)  # type: ignore[arg-type]

    def letter(self, place: Point, letter: str) -> None:
        """A letter in a circle, at a place of the page [mm]."""
        self.axes.add_patch(Circle(place, RING, facecolor="white", edgecolor=INK, linewidth=THIN, zorder=5, clip_on=False))
        looks: dict[str, Any] = {"ha": "center", "va": "center_baseline", "weight": "bold", "family": FONT, "parse_math": False}
        self.axes.text(*place, letter, size=LETTER if len(letter) == 1 else 0.8 * LETTER, zorder=6, **looks)

    def noted(self, point: Point, letter: str, aside: Point) -> None:
        """A letter with a hair line to a place of the world.  aside : from there to the letter [mm]."""
        start = self.at(point)
        end = start[0] + aside[0], start[1] + aside[1]
        self.axes.plot(*zip(start, end, strict=True), color=INK, linewidth=THIN, clip_on=False)
        self.letter(end, letter)

    def dimension(self, start: Point, end: Point, letter: str, aside: float) -> None:
        """A length between two places of the world, upright or level, drawn aside of them.

        aside : to the right of an upright one, above a level one [mm]
        """
        first, last = np.array(self.at(start)), np.array(self.at(end))
        if float(np.hypot(*(last - first))) < LEAST:
            self.noted(start, letter, (-5.0, -6.0))
            return
        along = 0 if abs(end[0] - start[0]) > abs(end[1] - start[1]) else 1
        off = np.zeros(2)
        off[1 - along] = aside
        last = last.copy()
        ends = first + off, np.where(np.arange(2) == along, last, first) + off
        for place, dimmed in zip((first, last), ends, strict=True):
            self.axes.plot(*zip(place, dimmed + off / max(abs(aside), 1e-9) * 1.2, strict=True), color=GREY, linewidth=THIN, clip_on=False)
        looks = {"arrowstyle": "<|-|>", "color": INK, "linewidth": THIN, "shrinkA": 0, "shrinkB": 0, "mutation_scale": 6}
        self.axes.annotate("", xy=tuple(ends[1]), xytext=tuple(ends[0]), arrowprops=looks, annotation_clip=False)
        middle = (ends[0] + ends[1]) / 2
        if float(np.hypot(*(ends[1] - ends[0]))) < 2 * RING + TAIL:
            middle = middle + np.sign(aside or 1.0) * np.eye(2)[1 - along] * (RING + 1.2)
        self.letter(tuple(middle), letter)


def _wheel(view: View, middle: Point, across: Point, long: float, wide: float) -> None:
    """A wheel as a rectangle.  across : unit vector along its axle."""
    ahead = -across[1], across[0]
    corners = ((1, 1), (1, -1), (-1, -1), (-1, 1))
    view.shape(*[
        (middle[0] + a * long / 2 * ahead[0] + b * wide / 2 * across[0], middle[1] + a * long / 2 * ahead[1] + b * wide / 2 * across[1])
        for a, b in corners
    ], fill="0.8")  # fmt: skip


def draw_plan(axes: Axes, box: tuple[float, float, float, float], car: CarTable, letters: dict[str, str]) -> None:
    """The whole car from above, its front up."""
    length, front, rear, pins, radius = car.wheelbase, car.front_track, car.rear_track, car.kingpin_track, car.wheel_radius
    half = max(front, rear) / 2
    view = View(axes, box, (-half - 0.12, -length - radius - 0.30), (half + 0.42, radius), "From above: the front is at the top", head=26)
    body = [(-0.12, 0.25), (0.12, 0.25), (0.22, -0.4 * length), (0.22, -length - 0.1), (-0.22, -length - 0.1), (-0.22, -0.4 * length)]
    view.shape(*body, fill="0.96")
    view.line((-front / 2, 0), (front / 2, 0), color=GREY)
    view.line((-rear / 2, -length), (rear / 2, -length))
    view.line((0, radius + 0.1), (0, -length - radius - 0.05), width=THIN, color=GREY, dash=True)
    for side in (-1, 1):
        _wheel(view, (side * front / 2, 0), (1.0, 0.0), 2 * radius, car.tyre_width)
        _wheel(view, (side * rear / 2, -length), (1.0, 0.0), 2 * radius, car.tyre_width)
        if letters.get(KINGPINS):
            view.joint((side * pins / 2, 0))
    if letters.get(KINGPINS):
        view.dimension((-pins / 2, 0), (pins / 2, 0), letters[KINGPINS], view.scale * radius + 5)
    else:
        view.joint((0.0, 0.0))
    view.dimension((front / 2, 0), (front / 2, -length), letters["wheelbase_mm"], 13)
    view.dimension((-front / 2, radius), (front / 2, radius), letters["front_track_mm"], 15)
    view.dimension((-rear / 2, -length - radius), (rear / 2, -length - radius), letters["rear_track_mm"], -8)
    view.noted((-rear / 2 - car.tyre_width / 2, -length + 0.5 * radius), letters["tyre_width_mm"], (-3.0, 8.0))


def draw_side(axes: Axes, box: tuple[float, float, float, float], car: CarTable, letters: dict[str, str]) -> None:
    """The car from its left side, its front to the left."""
    length, radius, height = car.wheelbase, car.wheel_radius, car.mass_centre_height_mm * 1e-3
    place = car.mass_centre_behind_front_axle_mm * 1e-3
    top = max(2.4 * radius, height + 0.32)
    view = View(axes, box, (-radius - 0.75, -0.10), (length + radius + 0.35, top), "From the left side")
    deck = height + 0.08
    view.round((place + 0.08, deck + 0.1), 0.11, fill="0.96")
    view.shape((-0.25, 0.7 * radius), (-0.25, 0.9 * radius), (0.25 * length, 0.8 * deck), (place, deck), (length + 0.1, deck),
               (length + 0.15, 0.7 * radius), fill="0.96")  # fmt: skip
    for wheel in (0.0, length):
        view.round((wheel, radius), radius, fill="0.85")
        view.round((wheel, radius), 0.03)
    view.line((-radius - 0.7, 0), (length + radius + 0.3, 0), width=1.0)
    for name, wheel in (("front_axle_load_kg", 0.0), ("rear_axle_load_kg", length)):
        view.shape((wheel - 0.16, 0), (wheel + 0.16, 0), (wheel + 0.16, -0.05), (wheel - 0.16, -0.05), fill="white")
        view.noted((wheel + 0.1, -0.025), letters[name], (9.0, 0.0))
    view.round((place, height), 0.035, fill="white")
    view.line((place - 0.035, height), (place + 0.035, height), width=THIN)
    view.line((place, height - 0.035), (place, height + 0.035), width=THIN)
    view.dimension((place, 0), (place, height), letters["mass_centre_height_mm"], 8)
    angles = np.radians(np.linspace(110, 200, 20))
    view.line(*[(1.12 * radius * cos(a), radius + 1.12 * radius * sin(a)) for a in angles], width=THIN)
    view.noted((1.12 * radius * cos(pi * 0.86), radius + 1.12 * radius * sin(pi * 0.86)), letters["three_wheel_turns_mm"], (-9.0, 5.0))
    if "caster_deg" in letters:
        lean = tan(radians(8))
        view.line((-0.3 * lean * radius, 0.5 * radius), (1.6 * lean * radius, 2.3 * radius), width=THIN, dash=True)
        view.noted((1.3 * lean * radius, 2.1 * radius), letters["caster_deg"], (-1.0, 6.0))


BEYOND = 0.14  # [m] that the corner shows to the right of the car's middle


def _left_of(limit: float, ends: list[Point]) -> list[Point]:
    """A line without what reaches further to the right than a limit [m]."""
    (near, low), (far, high) = sorted(ends)
    if far <= limit:
        return [(near, low), (far, high)]
    return [] if near >= limit else [(near, low), (limit, low + (high - low) * (limit - near) / (far - near))]


def _seen(place: np.ndarray, plane: tuple[int, int]) -> Point:
    """A place of the world as a view shows it, the left side to the left.  plane : as for `_dimensions`."""
    return -float(place[plane[0]]), float(place[plane[1]])


Anchors = dict[str, tuple[float, float, float]]
_WAYS = {"back": (-1.0, 0.0, 0.0), "outside": (0.0, 1.0, 0.0), "inside": (0.0, -1.0, 0.0), "up": (0.0, 0.0, 1.0)}  # x ahead, y left, z up


def anchors_of(steering: Steering, car: CarTable) -> Anchors:
    """Places from which lengths run: x ahead, y left, z up [m]."""
    drawing = steering.mechanism.drawn(0.0, steering.front_wheels(np.zeros(1)).swing[0])
    found = {"axle": (0.0, 0.0, 0.0), "tyre": (car.wheel_radius, car.front_track / 2, car.wheel_radius)}
    if drawing.joints is None:
        return found
    height = float(steering.mechanism.rods[0].joint[2])
    axis, joint, inner = steering.wheels[LEFT].axis_at(height), drawing.joints[LEFT], drawing.rods[0][1]
    found |= {"kingpin": (float(axis[0]), float(axis[1]), height), "joint": (float(joint[0]), float(joint[1]), height)}
    return found | {"inner": (float(inner[0]), float(inner[1]), height), "ground": (float(inner[0]), float(inner[1]), 0.0)}


def _ends(shown: Shown, value: float, anchors: Anchors) -> tuple[np.ndarray, np.ndarray]:
    """Both ends of a length in the world [m].  value : the length [m]."""
    start = np.array(anchors[shown.start])
    return start, start * (1, 1, 0) if shown.way == "down" else start + value * np.array(_WAYS[shown.way])


def draw_corner(
    axes: Axes, box: tuple[float, float, float, float], steering: Steering, car: CarTable, lengths: dict[str, tuple[Shown, float]],
    letters: dict[str, str],
) -> None:  # fmt: skip
    """The left front corner from above.  lengths : by key, where it is shown and how long it is [m]."""
    anchors, half, radius = anchors_of(steering, car), car.front_track / 2, car.wheel_radius
    backs = [float(_ends(*one, anchors)[1][0]) for one in lengths.values() if one[0].way == "back" and one[0].start in anchors]
    along = [*backs, *(place[0] for place in anchors.values())]
    low, high = min([-0.6 * radius, *along]), max([radius, *along])
    left = min(-half - 0.16, *(-place[1] - 0.1 for place in anchors.values()))
    view = View(axes, box, (left, low - 0.12), (BEYOND, high + 0.03), "The left front corner from above, larger")
    view.line((-half, 0), (0.12, 0), color=GREY)
    view.line((0, high), (0, low - 0.1), width=THIN, color=GREY, dash=True)
    _wheel(view, (-half, 0), (1.0, 0.0), 2 * radius, car.tyre_width)
    drawing = steering.mechanism.drawn(0.0, steering.front_wheels(np.zeros(1)).swing[0])
    for ends in (*drawing.rods, *drawing.bars):
        across = [(float(-end[1]), float(end[0])) for end in ends]
        view.line(*_left_of(BEYOND, across), width=2 * PART)
    if "kingpin" in anchors:
        view.line(*[(-anchors[name][1], anchors[name][0]) for name in ("kingpin", "joint")], width=2 * PART)
        view.joint((-anchors["joint"][1], anchors["joint"][0]))
        view.joint((-anchors["inner"][1], anchors["inner"][0]))
    if letters.get(KINGPINS):
        # A leaning kingpin stands elsewhere at the arm's height than on the ground; lengths of the arm begin at the former.
        foot = _seen(steering.wheels[LEFT].axis_at(0.0), (1, 0))
        if "kingpin" in anchors:
            view.joint(_seen(np.array(anchors["kingpin"]), (1, 0)))
            view.line(foot, _seen(np.array(anchors["kingpin"]), (1, 0)), width=THIN, dash=True)
        else:
            view.joint(foot)
    else:
        view.joint((0.0, 0.0))
    _dimensions(view, {key: one for key, one in lengths.items() if one[0].view == "corner"}, anchors, letters, (1, 0))


def draw_behind(
    axes: Axes, box: tuple[float, float, float, float], steering: Steering, car: CarTable, lengths: dict[str, tuple[Shown, float]],
    letters: dict[str, str],
) -> None:  # fmt: skip
    """The front end from behind.  lengths : by key, where it is shown and how long it is [m]."""
    anchors, half, radius = anchors_of(steering, car), car.front_track / 2, car.wheel_radius
    wanted = {key: one for key, one in lengths.items() if one[0].view == "behind"}
    tops = [float(_ends(*one, anchors)[1][2]) for one in wanted.values() if one[0].way and one[0].start in anchors]
    tops += [place[2] for place in anchors.values()]
    wide = max([half + car.tyre_width / 2 + 0.08, *(abs(place[1]) + 0.05 for place in anchors.values())])
    view = View(axes, box, (-wide, -0.05), (wide, max([2 * radius, *tops]) + 0.02), "The front end from behind")
    view.line((-half - 0.1, 0), (half + 0.1, 0), width=1.0)
    view.line((-half, radius), (half, radius), color=GREY)
    for side, wheel in zip((-1, 1), steering.wheels, strict=True):
        _wheel(view, (side * half, radius), (1.0, 0.0), 2 * radius, car.tyre_width)
        low, high = (0.0, 0.0), (0.0, 1.7 * radius)
        if letters.get(KINGPINS):
            low, high = _seen(wheel.axis_at(low[1]), (1, 2)), _seen(wheel.axis_at(high[1]), (1, 2))
        view.line(low, high, width=THIN, dash=True)
    drawing = steering.mechanism.drawn(0.0, steering.front_wheels(np.zeros(1)).swing[0])
    for part in (*drawing.rods, *drawing.bars):
        view.line(*[(float(-end[1]), anchors["joint"][2]) for end in part], width=2 * PART)
    if "joint" in anchors:
        for side in (-1, 1):
            view.joint((side * anchors["joint"][1], anchors["joint"][2]))
    for shown, value in wanted.values():
        if shown.way == "up" and shown.start == "inner" and "inner" in anchors:
            # The arm hangs in the middle of the car; joints that are apart sit on it to both sides.
            first, last = _ends(shown, value, anchors)
            view.line((0.0, float(first[2])), (0.0, float(last[2])), width=2 * PART)
            view.line((-float(first[1]), float(first[2])), (float(first[1]), float(first[2])), width=2 * PART)
            view.joint((0.0, float(last[2])))
            for side in (-1, 1):
                view.joint((side * float(first[1]), float(first[2])))
    _dimensions(view, wanted, anchors, letters, (1, 2))


def _dimensions(
    view: View, lengths: dict[str, tuple[Shown, float]], anchors: Anchors, letters: dict[str, str], plane: tuple[int, int]
) -> None:
    """All lengths of a view, those alike beside each other.  plane : which of x, y, z run across and up; y runs from right to left."""
    beside = dict.fromkeys(("upright", "level"), 0)
    for key, (shown, value) in lengths.items():
        if shown.start not in anchors:
            continue
        signs = np.array([-1.0, 1.0])
        if not shown.way:
            start = np.array(anchors[shown.start])[list(plane)] * signs
            view.noted((float(start[0]), float(start[1])), letters[key], (7.0, 1.0 if plane == (1, 0) else 14.0))
            continue
        first, last = (end[list(plane)] * signs for end in _ends(shown, value, anchors))
        upright = shown.way in ("back", "up", "down")
        kind = "upright" if upright else "level"
        beside[kind] += 1
        ahead = plane == (1, 0) and first[1] > 0  # of the axle: what is level is drawn clear of the arm
        aside = beside[kind] * STEP * (1 if upright or ahead else -1)
        view.dimension((float(first[0]), float(first[1])), (float(last[0]), float(last[1])), letters[key], aside)


TUBE, END, INSIDE, EYE = 0.30, 0.062, 0.05, 0.018  # [m] of a rod that only shows which is which


def draw_rod(axes: Axes, box: tuple[float, float, float, float], letters: dict[str, str]) -> None:
    """A rod with its end screwed fully home, and the letters of its parts.  letters : by key, with those of rod ends."""
    view = View(axes, box, (-0.01, -0.055), (TUBE + END + 0.03, 0.06), "A rod and its end, fully home")
    eye = TUBE + END
    view.shape((0, -0.014), (0, 0.014), (TUBE, 0.014), (TUBE, -0.014), fill="0.96")
    view.line((TUBE - INSIDE, 0.008), (TUBE, 0.008), width=THIN, dash=True)
    view.line((TUBE - INSIDE, -0.008), (TUBE, -0.008), width=THIN, dash=True)
    view.line((TUBE - INSIDE, -0.008), (TUBE - INSIDE, 0.008), width=THIN, dash=True)
    view.shape((TUBE, -0.017), (TUBE, 0.017), (TUBE + 0.012, 0.017), (TUBE + 0.012, -0.017), fill="0.8")
    view.shape((TUBE + 0.012, -0.008), (TUBE + 0.012, 0.008), (eye, 0.008), (eye, -0.008), fill="0.9")
    view.round((eye, 0), EYE)
    view.joint((eye, 0))
    view.dimension((0, 0.014), (TUBE, 0.014), letters["rod_tube_length_mm"], 5)
    view.dimension((TUBE, 0), (eye, 0), letters["rod_end_eye_length_mm"], 9)
    view.dimension((TUBE - INSIDE, 0), (TUBE, 0), letters["rod_end_thread_length_mm"], -7)
    view.noted((TUBE - 0.7 * INSIDE, -0.008), letters["thread_pitch_mm"], (-14.0, -6.0))
