"""Pictures of a lesson, drawn from its figures: bars, curves, and a car in a bend with the circles of its wheels."""

from collections.abc import Sequence
from math import ceil, cos, floor, log10, radians, sin

from markupsafe import Markup

from viz.lesson.say import figure
from viz.words.sketch import INK, MARK, OTHER, SOFT, Sketch

WIDE = 560.0
LETTERS = 13.0
COLOURS = (OTHER, MARK, INK)
LETTERING = (OTHER, "#9c4300", INK)  # the same, dark enough to be read
DASHES = ("", "7 4", "2 3")  # a line is told by its dashes too


def bars(rows: Sequence[tuple[str, float]], unit: str, label: str) -> Markup:
    """A bar for each row, with its figure beside it.

    rows : names and values of 0 or more; unit : of the values; label : what the picture shows
    """
    most = max((value for _, value in rows), default=0.0) or 1.0
    left, step = 190.0, 30.0
    page = Sketch(WIDE, 14 + step * len(rows), LETTERS)
    for index, (name, value) in enumerate(rows):
        top, wide = 8 + step * index, max(1.0, (WIDE - left - 110) * value / most)
        page.text((left - 10, top + 15), name, anchor="end")
        page.path([(left, top), (left + wide, top), (left + wide, top + 20), (left, top + 20)], closed=True, colour=OTHER, fill="#cfe3f1")
        page.text((left + wide + 8, top + 15), f"{figure(value)} {unit}", anchor="start")
    return page.svg(label, css="chart")


def curves(lines: Sequence[tuple[str, Sequence[tuple[float, float]]]], across: str, upward: str, label: str) -> Markup:
    """Curves over one axis, each with its name at its end; both axes begin at 0 or below.

    lines : names and points; across, upward : what the axes are, with unit; label : what the picture shows
    """
    left, right, top, bottom = 64.0, WIDE - 150.0, 24.0, 250.0
    page = Sketch(WIDE, 300.0, LETTERS)
    xs = [x for _, points in lines for x, _ in points]
    ys = [y for _, points in lines for _, y in points]
    (x0, x1, xstep), (y0, y1, ystep) = _axis(min(0.0, *xs), max(xs)), _axis(min(0.0, *ys), max(*ys, 1e-9))

    def place(x: float, y: float) -> tuple[float, float]:
        return left + (right - left) * (x - x0) / (x1 - x0), bottom - (bottom - top) * (y - y0) / (y1 - y0)

    for tick in _ticks(x0, x1, xstep):
        page.line(place(tick, y0), place(tick, y1), colour="#dddddd")
        page.text((place(tick, y0)[0], bottom + 17), f"{tick:g}", size=11)
    for tick in _ticks(y0, y1, ystep):
        page.line(place(x0, tick), place(x1, tick), colour="#dddddd")
        page.text((left - 7, place(x0, tick)[1] + 4), f"{tick:g}", anchor="end", size=11)
    page.path([(left, top), (left, bottom), (right, bottom)], colour=INK)
    page.text(((left + right) / 2, bottom + 38), across)
    page.text((left - 40, top - 9), upward, anchor="start")
    ends = sorted((place(*points[-1])[1], index) for index, (_, points) in enumerate(lines))
    height = {}
    lowest = -100.0
    for y, index in ends:  # names that would stand on each other move apart
        lowest = height[index] = max(y, lowest + 15)
    for index, (name, points) in enumerate(lines):
        colour = COLOURS[index % len(COLOURS)]
        page.path([place(*point) for point in points], colour=colour, width=2.6, dash=DASHES[index % len(DASHES)])
        for point in points:
            if len(points) <= 12:
                page.disc(place(*point), 3, colour=colour, fill="#ffffff")
        page.text((right + 10, height[index] + 4), name, anchor="start", colour=LETTERING[index % len(LETTERING)], bold=True)
    return page.svg(label, css="chart")


def _axis(low: float, high: float) -> tuple[float, float, float]:
    """Ends and step of an axis that holds both, on round numbers."""
    high = high if high > low else low + 1.0
    span = high - low
    power = 10.0 ** floor(log10(span / 4))
    step = next(power * round_number for round_number in (1, 2, 2.5, 5, 10) if span / (power * round_number) <= 5)
    return step * floor(low / step), step * ceil(high / step - 1e-9), step


def _ticks(low: float, high: float, step: float) -> list[float]:
    return [round(low + step * index, 10) for index in range(round((high - low) / step) + 1)]


def circles(wheels: Sequence[tuple[str, float, float, float]], label: str) -> Markup:
    """The wheels of a car in a left turn and the circles that they roll on.

    wheels : name, metres ahead of the turning centre, metres to its right, and steer angle in degrees to the left, of each
    label : what the picture shows
    """
    reach = max((x * x + y * y) ** 0.5 for _, x, y, _ in wheels)
    ahead = max(x for _, x, _, _ in wheels)
    scale = min((WIDE - 190) / reach, 300 / max(ahead + 0.35 * reach, 1e-6))
    base = 40 + scale * (ahead + 0.25 * reach)
    size = max(16.0, 0.4 * scale)
    page = Sketch(WIDE, base + size + 16, LETTERS)
    centre = (26.0, base)

    def place(x: float, y: float) -> tuple[float, float]:
        return centre[0] + scale * y, centre[1] - scale * x

    for index, (name, x, y, steer) in enumerate(wheels):
        front = x > 0.5 * ahead
        radius = scale * (x * x + y * y) ** 0.5
        colour = COLOURS[index % 2]
        page.arc(centre, radius, -3, 52, colour=colour if front else SOFT, width=1.6, dash="" if index % 2 else "7 4")
        at = place(x, y)
        page.line(centre, at, colour=SOFT, dash="3 3")
        page.wheel(at, steer, mark=front, long=size, wide=0.28 * size)
        tip = (at[0] - 0.9 * size * sin(radians(steer)), at[1] - 0.9 * size * cos(radians(steer)))
        page.line(at, tip, colour=INK)
        inside = index % 2 == 0
        beside = (at[0] + (-0.5 if inside else 0.5) * size, at[1] + (0.1 if front else 1.0) * size)
        page.text(beside, name, anchor="end" if inside else "start", colour=INK, size=12)
    page.disc(centre, 4, colour=INK, fill="#ffffff")
    page.text((centre[0] - 8, centre[1] + 20), "turning centre", anchor="start", size=12)
    return page.svg(label, css="chart")
