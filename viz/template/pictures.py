"""The pictures on a template's second page: where the sheets lie, how a wheel is sighted, how it is read; none is to scale."""

from math import cos, radians, sin

import numpy as np

from sim.template.plan import SheetPlan
from viz.template.paper import BOLD, FINE, HAIR, NARROWEST, SMALL, Page

NOT_TO_SCALE = "This picture is not to scale."
TITLE, LABEL = 11.0, 9.5  # [pt]
ROUND = np.radians(np.arange(0.0, 361.0, 6.0))


def _larger(page: Page, size: float) -> float:
    """A size on this page: larger on larger paper, as all its words are.  size : on the narrowest paper [pt or mm]"""
    return size * min(page.width, page.height) / NARROWEST


def placing_picture(page: Page, plan: SheetPlan, left: float, bottom: float, width: float, height: float) -> None:
    """The floor from above: pivots, rear tyres and the distances between them."""
    page.text(left, bottom + height - 3.0, "Where the sheets lie, seen from above", size=_larger(page, TITLE), weight="bold", va="top")
    page.text(left, bottom + height - 3.0 - _larger(page, 5.5), NOT_TO_SCALE, size=_larger(page, SMALL), va="top")
    middle, front, rear = left + width / 2, bottom + height - 28.0, bottom + 12.0
    near, far = (0.0, 0.0) if plan.turntable else (width * 0.26, -width * 0.26)
    rears = (width * 0.3, -width * 0.3)
    for x, name in zip(rears, ("rear left", "rear right"), strict=True):
        _tyre(page, middle - x, rear)
        page.text(middle - x, rear - 9.5, name, ha="center", size=_larger(page, LABEL))
    for x in {near, far}:
        page.lines([np.array([(middle - x + 2 * cos(a), front + 2 * sin(a)) for a in np.radians(np.arange(0, 361, 15))])])
    page.line((middle, front + 3.0), (middle, front + 11.0))
    page.line((middle - 1.5, front + 8.0), (middle, front + 11.0), (middle + 1.5, front + 8.0))
    page.text(middle + 3.0, front + 8.0, "forward", size=_larger(page, LABEL))
    placing = plan.placing

    def on_line(x: float, y: float, words: str) -> None:
        page.text(x, y, words, ha="center", va="center", cleared=True, size=_larger(page, LABEL))

    if plan.turntable:
        for x in rears:
            page.line((middle, front), (middle - x, rear), width=HAIR, dash=(2.0, 1.5))
        page.text(middle + 4.0, front, "pivot", va="center", size=_larger(page, LABEL))
        for aside in (-0.15, 0.15):
            on_line(middle + width * aside, (front + rear) / 2, f"{placing.to_rear_mm:.0f} mm")
        return
    page.line((middle - near, front), (middle - far, front), width=FINE)
    for start, end, dash in ((near, rears[0], None), (far, rears[1], None), (near, rears[1], (2.0, 1.5)), (far, rears[0], (2.0, 1.5))):
        page.line((middle - start, front), (middle - end, rear), width=HAIR, dash=dash)
    page.text(middle, front - 1.5, f"{placing.pivots_apart_mm:.0f} mm", ha="center", va="top", size=_larger(page, LABEL))
    for pivot, tyre in zip((near, far), rears, strict=True):
        page.text(middle - pivot, front + 4.0, "kingpin", ha="center", size=_larger(page, LABEL))
        on_line(middle - (pivot + tyre) / 2, (front + rear) / 2, f"{placing.to_rear_mm:.0f} mm")
    on_line(middle, front + (rear - front) * 0.72, f"{placing.diagonal_mm:.0f} mm, both diagonals")


def reading_picture(page: Page, plan: SheetPlan, left: float, bottom: float, width: float, height: float) -> None:
    """A wheel from above with its straight edge, the ruler and the two scales."""
    what = "axle" if plan.turntable else "wheel"
    page.text(left, bottom + height - 3.0, f"How the {what} is read, seen from above", size=_larger(page, TITLE), weight="bold", va="top")
    page.text(left, bottom + height - 3.0 - _larger(page, 5.5), NOT_TO_SCALE, size=_larger(page, SMALL), va="top")
    turn = radians(90.0 + 15.0 if plan.turntable else 15.0)
    reach = min(width * (1.0 if plan.turntable else 1.3), height - 16.0) / 2 - 4.0
    middle_x, middle_y = left + width / 2 + (0.0 if plan.turntable else 12.0), bottom + (height - 10.0) / 2

    def at(ahead: float, aside: float, angle: float = turn) -> tuple[float, float]:
        return (middle_x - ahead * sin(angle) - aside * cos(angle), middle_y + ahead * cos(angle) - aside * sin(angle))

    beside = 0.0 if plan.turntable else reach * 0.45
    ring = [(middle_x + 1.5 * cos(a), middle_y + 1.5 * sin(a)) for a in np.radians(np.arange(0, 361, 15))]
    page.lines([np.array(ring)])
    if plan.turntable:
        page.text(middle_x, middle_y - 9.0, "pivot", ha="center", va="center", size=_larger(page, LABEL))
    else:
        page.text(middle_x + 3.0, middle_y, "kingpin", va="center", size=_larger(page, LABEL))
    page.line(at(-reach, beside), at(reach, beside), width=BOLD / 2)
    corners = [(0.62, 0.86), (0.62, 0.56), (-0.62, 0.56), (-0.62, 0.86), (0.62, 0.86)]
    if plan.turntable:
        corners = [(0.62, 0.12), (0.62, -0.12), (-0.62, -0.12), (-0.62, 0.12), (0.62, 0.12)]
    page.line(*(at(reach * ahead, beside * aside if not plan.turntable else reach * aside) for ahead, aside in corners), width=FINE)
    for end in (1.0, -1.0):
        arcs = [at(end * reach * 0.86, beside, turn + radians(step)) for step in range(-12, 13)]
        page.line(*arcs)
        for step in range(-10, 11, 5):
            mark = [at(end * reach * size, beside, turn + radians(step)) for size in (0.86, 0.94)]
            page.line(*mark, width=HAIR)
    if not plan.turntable:
        page.text(*at(0.0, beside + 2.0), "ruler", ha="right", va="center", size=_larger(page, LABEL))
        page.text(*at(-0.3 * reach, beside * 0.4), "wheel", va="center", size=_larger(page, LABEL))
    for end, number in ((1.0, "first reading"), (-1.0, "second reading")):
        x, y = at(end * reach * 0.9, beside)
        if plan.turntable:
            page.text(x - 4.0 * end, y + 12.0 * end, number, ha="left" if end > 0 else "right", va="center", size=_larger(page, LABEL))
        else:
            page.text(x + 0.2 * reach + 4.0, y, number, va="center", size=_larger(page, LABEL))


def _tyre(page: Page, x: float, y: float) -> None:
    page.line((x - 2.0, y - 6.0), (x + 2.0, y - 6.0), (x + 2.0, y + 6.0), (x - 2.0, y + 6.0), (x - 2.0, y - 6.0))


def sighting_picture(page: Page, plan: SheetPlan, left: float, bottom: float, width: float, height: float) -> None:
    """Where the ends are sighted, and what lies on what: floor, sheet, turn plate, tyre."""
    page.text(
        left, bottom + height - 3.0, "Where the ends are sighted, and what lies on what", size=_larger(page, TITLE), weight="bold", va="top"
    )
    page.text(left, bottom + height - 3.0 - _larger(page, 5.5), NOT_TO_SCALE, size=_larger(page, SMALL), va="top")
    floor, high = bottom + _larger(page, 14.0), height - _larger(page, 42.0)
    if plan.turntable:
        _sighting_axle(page, left + width / 2, floor, width * 0.31, high)
        return
    _sighting_from_the_side(page, left + width * 0.27, floor, width * 0.235, high)
    _sighting_from_ahead(page, left + width * 0.76, floor, width * 0.2, high)


def _label(page: Page, at: tuple[float, float], to: tuple[float, float], words: str) -> None:
    """Words at a place and a line from them to what they name."""
    page.line(at, to, width=HAIR)
    page.text(at[0] + 1.0, at[1], words, size=_larger(page, LABEL), va="center")


def _box(page: Page, left: float, bottom: float, right: float, top: float) -> None:
    page.line((left, bottom), (right, bottom), (right, top), (left, top), (left, bottom))


def _plumb(page: Page, x: float, top: float, foot: float) -> None:
    """A plumb line and its bob, whose point is just above the sheet."""
    page.line((x, top), (x, foot + 5.0), width=HAIR)
    page.line((x - 1.5, foot + 5.0), (x + 1.5, foot + 5.0), (x, foot + 1.0), (x - 1.5, foot + 5.0))


def _layers(page: Page, middle: float, floor: float, sheet: float, plate: float) -> float:
    """Floor, sheet and the two boards of a turn plate; returns the height of its top [mm]."""
    page.line((middle - sheet - 6.0, floor), (middle + sheet + 6.0, floor), width=FINE)
    page.line((middle - sheet, floor + 0.8), (middle + sheet, floor + 0.8), width=BOLD)
    _box(page, middle - plate, floor + 1.4, middle + plate, floor + 3.2)
    _box(page, middle - plate, floor + 3.8, middle + plate, floor + 5.6)
    return floor + 5.6


def _two_dots(page: Page, middle: float, floor: float, aside: float) -> None:
    """That both bobs' points are marked on the sheet."""
    for side in (-1.0, 1.0):
        page.line((middle + side * _larger(page, 24.0), floor - _larger(page, 5.0)), (middle + side * aside, floor + 0.6), width=HAIR)
    page.text(middle, floor - _larger(page, 5.0), "mark a dot below each bob", size=_larger(page, LABEL), ha="center", va="center")


def _sighting_from_the_side(page: Page, middle: float, floor: float, reach: float, high: float) -> None:
    page.text(middle, floor - _larger(page, 12.0), "from the car's side", size=_larger(page, LABEL), ha="center", weight="bold")
    stands = _layers(page, middle, floor, reach, reach * 0.5)
    radius = min(reach * 0.72, (high - 10.0) / 2)
    hub = stands + radius
    for size in (1.0, 0.8):
        page.lines([np.array([(middle + size * radius * cos(turn), hub + size * radius * sin(turn)) for turn in ROUND])], FINE)
    _box(page, middle - reach * 0.92, hub - 1.2, middle + reach * 0.92, hub + 1.2)
    for side in (-1.0, 1.0):
        _box(page, middle + side * radius * 0.88 - 2.0, hub + 1.2, middle + side * radius * 0.88 + 2.0, hub + 5.2)
        _plumb(page, middle + side * reach * 0.9, hub - 1.2, floor)
    _label(page, (middle - reach * 0.2, hub + radius + 8.0), (middle - radius * 0.88, hub + 5.2), "two equal blocks on the rim")
    page.line((middle - reach * 0.2, hub + radius + 8.0), (middle + radius * 0.88, hub + 5.2), width=HAIR)
    page.text(middle, hub - 4.5, "straight edge, level, at hub height", size=_larger(page, LABEL), ha="center", va="center", cleared=True)
    _two_dots(page, middle, floor, reach * 0.9)


def _sighting_from_ahead(page: Page, middle: float, floor: float, reach: float, high: float) -> None:
    page.text(middle, floor - _larger(page, 12.0), "the left wheel from ahead", size=_larger(page, LABEL), ha="center", weight="bold")
    stands = _layers(page, middle, floor, reach, reach * 0.28)
    half, tall = reach * 0.16, min(high - 10.0, 1.4 * reach)
    hub = stands + tall / 2
    _box(page, middle - half, stands, middle + half, stands + tall)
    page.line((middle - half, hub), (middle - reach * 0.75, hub), width=FINE)
    kingpin = middle - reach * 0.75
    page.line((kingpin, stands + tall * 0.25), (kingpin, stands + tall * 0.8), width=BOLD)
    page.line((kingpin, stands + tall * 0.25), (kingpin, floor + 1.0), width=HAIR, dash=(2.0, 1.5))
    edge = middle + half + 7.0
    _box(page, middle + half, hub - 2.0, edge, hub + 2.0)
    _box(page, edge, hub - 3.0, edge + 2.0, hub + 3.0)
    _plumb(page, edge, hub - 3.0, floor)
    _label(page, (kingpin + 2.0, stands + tall + 7.0), (kingpin, stands + tall * 0.8), "kingpin: above the sheet's")
    _label(page, (edge + 6.0, hub + 9.0), (edge + 2.0, hub + 3.0), "straight edge")
    _label(page, (edge + 6.0, hub + 15.0), ((middle + half + edge) / 2, hub + 2.0), "block")
    _label(page, (edge + 6.0, hub - 5.0), (edge, hub - 8.0), "plumb line on")
    page.text(edge + 7.0, hub - 5.0 - _larger(page, 4.5), "the inner face", size=_larger(page, LABEL), va="center")
    _label(page, (middle + reach * 0.55, floor + 11.0), (middle + reach * 0.28, floor + 4.7), "turn plate")
    _label(page, (middle - reach * 0.2, floor - _larger(page, 5.0)), (middle - reach * 0.6, floor + 0.5), "sheet, flat on the floor")


def _sighting_axle(page: Page, middle: float, floor: float, reach: float, high: float) -> None:
    page.text(middle, floor - _larger(page, 12.0), "the axle from ahead", size=_larger(page, LABEL), ha="center", weight="bold")
    page.line((middle - reach - 8.0, floor), (middle + reach + 8.0, floor), width=FINE)
    page.line((middle - reach * 0.72, floor + 0.8), (middle + reach * 0.72, floor + 0.8), width=BOLD)
    tall = min(high - 12.0, reach * 0.8)
    hub = floor + 5.6 + tall / 2
    for side in (-1.0, 1.0):
        x = middle + side * reach
        for low in (1.4, 3.8):
            _box(page, x - 9.0, floor + low, x + 9.0, floor + low + 1.8)
        _box(page, x - 4.0, floor + 5.6, x + 4.0, floor + 5.6 + tall)
        page.line((x - side * 4.0, hub), (middle, hub), width=BOLD)
        _plumb(page, middle + side * reach * 0.62, hub, floor)
    page.line((middle, hub - 4.0), (middle, hub + tall * 0.4), width=BOLD)
    page.line((middle, hub - 4.0), (middle, floor + 1.0), width=HAIR, dash=(2.0, 1.5))
    _label(page, (middle + 6.0, hub + tall * 0.4), (middle, hub + tall * 0.3), "pivot bolt: above the sheet's")
    _label(page, (middle - reach * 0.58, hub + _larger(page, 7.0)), (middle - reach * 0.62, hub), "plumb line")
    _two_dots(page, middle, floor, reach * 0.62)
    _label(page, (middle + reach + 6.0, floor + 12.0), (middle + reach + 5.0, floor + 4.7), "turn plate, clear")
    page.text(middle + reach + 7.0, floor + 12.0 - _larger(page, 4.5), "of the sheet", size=_larger(page, LABEL), va="center")
