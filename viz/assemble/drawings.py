"""The drawings of the steps: simple views in lines and greys, drawn here; all but the one from above are not to scale."""

from collections.abc import Callable, Sequence
from math import cos, radians, sin

import numpy as np
from matplotlib.patches import Polygon

from sim.assemble.figures import Assembly, FrontView
from sim.linkages.catalogue import KINDS
from sim.linkages.pivots import LEFT, RIGHT, SIDES
from viz.assemble.words import free_stop
from viz.shared.dangers import stop_ends, stop_places
from viz.template.paper import BOLD, FINE, HAIR, SMALL, Box, Dash, Page

WIDE, HIGH = 62.0, 38.0  # [mm] of a drawing on the smallest paper
GREY, DARK = "0.85", "0.62"
ARROW = 1.8  # [mm] of an arrow's head
ROUND = np.radians(np.arange(0.0, 361.0, 10.0))
Place = tuple[float, float]


class Sketch:
    """A drawing in millimetres from its lower left corner, made larger with the paper."""

    def __init__(self, page: Page, left: float, bottom: float, scale: float):
        """page : Page; left, bottom : its corner on the page [mm]; scale : how much larger than drawn [-]"""
        self.page, self.corner, self.scale = page, np.array([left, bottom]), scale

    def on_page(self, points: np.ndarray | Sequence[Place]) -> np.ndarray:
        """Points of the drawing as points of the page, (n, 2) [mm]."""
        return self.corner + self.scale * np.asarray(points, dtype=float)

    def line(self, *points: Place, width: float = FINE, dash: Dash = None) -> None:
        """A line through points."""
        self.page.lines([self.on_page(points)], width * self.scale, dash)

    def shape(self, points: Sequence[Place] | np.ndarray, grey: str = GREY) -> None:
        """A filled outline."""
        outline = self.on_page(points)
        self.page.axes.add_patch(Polygon(outline, closed=True, facecolor=grey, edgecolor="none", clip_on=False))
        self.page.lines([np.concatenate([outline, outline[:1]])], FINE * self.scale)

    def block(self, left: float, bottom: float, right: float, top: float, grey: str = GREY) -> None:
        """A filled rectangle."""
        self.shape([(left, bottom), (right, bottom), (right, top), (left, top)], grey)

    def disc(self, x: float, y: float, radius: float, grey: str = "white") -> None:
        """A filled circle."""
        self.shape(np.stack([x + radius * np.cos(ROUND), y + radius * np.sin(ROUND)], axis=1), grey)

    def arrow(self, start: Place, end: Place, width: float = FINE) -> None:
        """A line with a head at its end."""
        self.line(start, end, width=width)
        along = np.subtract(end, start) / np.hypot(*np.subtract(end, start))
        across = np.array([-along[1], along[0]])
        head = [tuple(np.array(end) - ARROW * along + side * ARROW / 2 * across) for side in (1, -1)]
        self.line(head[0], end, head[1], width=width)

    def label(self, x: float, y: float, words: str, ha: str = "center", weight: str = "normal") -> None:
        """A word about its middle height."""
        place = self.on_page([(x, y)])[0]
        self.page.text(float(place[0]), float(place[1]), words, size=SMALL * self.scale, weight=weight, ha=ha, va="center")

    def size(self, start: Place, end: Place, words: str, beside: float = 2.2) -> None:
        """A level line with an arrow at each end and words above it."""
        middle = ((start[0] + end[0]) / 2, start[1])
        self.arrow(middle, start)
        self.arrow(middle, end)
        self.label(middle[0], start[1] + beside, words)

    def nut(self, x: float, y: float, wide: float = 7.0, high: float = 3.6) -> None:
        """A nut from the side."""
        self.block(x - wide / 2, y, x + wide / 2, y + high, DARK)
        for share in (-0.22, 0.22):
            self.line((x + share * wide, y), (x + share * wide, y + high), width=HAIR)


def _beam(sketch: Sketch, front: Assembly, view: FrontView) -> None:
    """The beam from ahead: jaws at its ends, kingpin lines to the ground."""
    lean = radians(max(-12.0, min(12.0, front.kingpin_inclination_deg)))
    for side in (-1, 1):
        x = 31 + side * 22
        top, foot = (x - side * 22 * sin(lean), 36.0), (x + side * 14 * sin(lean), 6.0)
        sketch.block(x - 3.5, 27, x + 3.5, 30)
        sketch.block(x - 3.5, 16, x + 3.5, 19)
        sketch.shape([(31 + side * 14, 16), (31 + side * 19, 16), (31 + side * 19, 30), (31 + side * 14, 30)])
        sketch.line(top, foot, width=HAIR, dash=(4.0, 1.5))
    sketch.block(17, 21, 45, 25)
    sketch.line((2, 6), (60, 6))
    apart = 22 + 14 * sin(lean)
    sketch.size((31 - apart, 8.5), (31 + apart, 8.5), f"{front.kingpin_track_mm:.0f} mm at the ground")
    sketch.label(31, 33.5, "axle beam, from ahead")
    sketch.label(31, 2.5, "ground")


def _stub_axles(sketch: Sketch, front: Assembly, view: FrontView) -> None:
    """Both stub axles from above, with the arms' kink as it is."""
    given = front.arm_angle_deg is not None
    angle = radians(front.arm_angle_deg) if front.arm_angle_deg is not None else radians(15.0)
    back = cos(angle) >= -1e-9
    level = 26.0 if back else 13.0
    for side, name in ((-1, "left"), (1, "right")):
        x = 31 + side * 15
        end = (x - side * 15 * sin(angle), level - 15 * cos(angle))
        sketch.line((x, level), end, width=3.0)
        sketch.disc(*end, 1.6)
        sketch.block(min(x + side * 2, x + side * 13), level - 1.3, max(x + side * 2, x + side * 13), level + 1.3, GREY)
        sketch.disc(x, level, 3.0, DARK)
        sketch.disc(x, level, 1.2)
        sketch.label(x + side * 10, level + 4.5, name, weight="bold")
        sketch.line((x, level - 20 if back else level + 20), (x, level), width=HAIR, dash=(2.0, 1.5))
    sketch.arrow((31, level - 2), (31, level + 5))
    sketch.label(31, level + 8.5 if level + 8.5 < 37 else 36, "forward")
    words = f"kink {_kink(front):.1f} deg" if given else "kink inwards"
    sketch.label(31, 3.0 if back else 36.0, words)


def _is_turntable(front: Assembly) -> bool:
    return KINDS[front.linkage].axle


def _kink(front: Assembly) -> float:
    """From straight back or straight ahead, whichever is nearer [deg]."""
    angle = abs(front.arm_angle_deg or 0.0)
    return min(angle, 180 - angle)


def _kingpin(sketch: Sketch, front: Assembly, view: FrontView) -> None:
    """What sits on the kingpin's bolt, pulled apart, from the side."""
    x = 16.5
    sketch.line((x, 1.5), (x, 37), width=HAIR, dash=(3.0, 1.5))
    sketch.block(x - 5, 33.5, x + 5, 36.5, DARK)
    sketch.block(x - 1.5, 30.5, x + 1.5, 33.5, DARK)
    sketch.block(x - 9, 27, x + 9, 29.5)
    sketch.block(x - 5.5, 23.2, x + 5.5, 24.8, "white")
    sketch.block(x - 4.5, 12.5, x + 4.5, 21)
    sketch.block(x - 16, 15.5, x - 4.5, 18)
    sketch.block(x - 5.5, 9.8, x + 5.5, 11, "white")
    sketch.block(x - 9, 5.5, x + 9, 8)
    sketch.nut(x, 1.2, high=3.2)
    for y, words in (
        (35, "bolt, from above"), (28.3, "upper jaw of the beam"), (24, "bearing washer: grease"), (17, "stub axle"),
        (10.4, "thin washers"), (6.7, "lower jaw"), (2.8, "nut and second nut"),
    ):  # fmt: skip
        sketch.line((26.5, y), (x + (9.3 if "jaw" in words else 6), y), width=HAIR)
        sketch.label(27.5, y, words, ha="left")


def _nut(sketch: Sketch, front: Assembly, view: FrontView) -> None:
    """The bolt together, with the nut's way."""
    x, whole_axle = 24.0, _is_turntable(front)
    sketch.block(x - 5, 33, x + 5, 36, DARK)
    sketch.block(x - 10, 28, x + 10, 32)
    sketch.block(x - 5.5, 26.6, x + 5.5, 28, "white")
    reach = 14.0 if whole_axle else 4.5
    sketch.block(x - reach, 17, x + reach, 26.6)
    if not whole_axle:
        sketch.block(x - 18, 20.5, x - 4.5, 23.2)
    sketch.block(x - 5.5, 16, x + 5.5, 17, "white")
    if whole_axle:
        sketch.label(x, 21.8, "axle")
    sketch.block(x - 10, 12, x + 10, 16)
    sketch.nut(x, 8)
    sketch.nut(x, 3.8)
    sketch.arrow((x - 17, 25.5), (x - 17, 30), BOLD / 2)
    sketch.arrow((x - 17, 18.5), (x - 17, 14), BOLD / 2)
    sketch.label(39, 34.5, "1. until it binds", ha="left")
    sketch.label(39, 29.5, "2. back off:", ha="left")
    sketch.label(39, 26, "swings freely,", ha="left")
    sketch.label(39, 22.5, "no play up", ha="left")
    sketch.label(39, 19, "and down", ha="left")
    sketch.label(39, 10, "3. hold the nut,", ha="left")
    sketch.label(39, 6.5, "lock the second", ha="left")


def _pull(sketch: Sketch, front: Assembly, view: FrontView) -> None:
    """The luggage scale at a tyre's foremost point, or at an axle's end, from above."""
    pull = front.pull_on_wheels
    if _is_turntable(front):
        sketch.block(6, 14, 50, 17)
        for x in (6, 50):
            sketch.block(x - 2, 9, x + 2, 22, DARK)
        sketch.disc(28, 15.5, 3.0)
        sketch.disc(28, 15.5, 0.8, "black")
        sketch.size((28.5, 25.5), (50, 25.5), f"{pull.arm_mm:.0f} mm")
        sketch.arrow((50, 23), (50, 33), BOLD / 2)
        sketch.label(46, 33, "scale, level, along the car", ha="right")
        sketch.label(28, 8, "king bolt")
        return
    sketch.block(20, 4, 26, 34, DARK)
    sketch.block(6, 18, 20, 20.5)
    sketch.disc(8, 19.2, 3.2)
    sketch.disc(8, 19.2, 0.8, "black")
    sketch.label(8, 12.5, "kingpin")
    sketch.line((23, 33), (31, 33))
    sketch.block(31, 31.4, 38, 34.6, "white")
    sketch.arrow((38, 33), (47, 33), BOLD / 2)
    sketch.label(48, 33, "pull", ha="left")
    sketch.label(40, 29, "luggage scale", ha="left")
    sketch.line((26, 19.2), (40, 19.2), width=HAIR, dash=(2.0, 1.5))
    sketch.arrow((36, 26), (36, 30.8))
    sketch.arrow((36, 22), (36, 19.2))
    sketch.label(38, 23.6, f"{pull.arm_mm:.0f} mm", ha="left")
    sketch.label(30, 6, "tyre from above", ha="left")


def _rod(sketch: Sketch, front: Assembly, view: FrontView) -> None:
    """A rod with its ends, nuts and the length that counts."""
    y = 22.0
    sketch.block(11, y - 1, 51, y + 1, "white")
    sketch.block(20, y - 2.4, 42, y + 2.4)
    for x, side in ((8, 1), (54, -1)):
        sketch.disc(x, y, 4.2, DARK)
        sketch.disc(x, y, 2.0)
        sketch.block(min(x + side * 9.5, x + side * 12), y - 3.4, max(x + side * 9.5, x + side * 12), y + 3.4, DARK)
        sketch.line((x, y + 5), (x, y + 12), width=HAIR)
    sketch.size((8, y + 10), (54, y + 10), "eye to eye" if len(front.rods) != 1 else f"{front.rods[0].length_mm:.1f} mm eye to eye")
    sketch.label(31, y, "tube")
    sketch.line((18.7, y - 3.6), (18.7, y - 8), width=HAIR)
    sketch.line((43.2, y - 3.6), (43.2, y - 8), width=HAIR)
    sketch.label(31, y - 10, "lock nut           lock nut")
    for number, rod in enumerate(front.rods if len(front.rods) > 1 else ()):
        sketch.label(31, 7.0 - 4.0 * number, f"{rod.name}: {rod.length_mm:.1f} mm")


def _drop_arm(sketch: Sketch, front: Assembly, view: FrontView) -> None:
    """The drop arm from behind with both rods."""
    spread = _spacing(view)
    sketch.line((31, 31), (31, 12), width=3.0)
    sketch.disc(31, 31, 3.4, DARK)
    sketch.disc(31, 31, 1.2)
    for side in (-1, 1):
        x = 31 + side * min(7.0, 1.4 + 10 * spread)
        sketch.line((x, 12), (31 + side * 26, 12), width=1.4)
        sketch.disc(31 + side * 26, 12, 2.0)
        sketch.label(31 + side * 19, 7, ("left" if side < 0 else "right") + " rod")
        sketch.disc(x, 12, 2.0)
    sketch.line((31, 31), (31, 5), width=HAIR, dash=(2.0, 1.5))
    sketch.label(31, 2.5, "straight down, hand wheel in its middle")
    sketch.label(36, 32, "steering column", ha="left")
    sketch.label(34, 22, "drop arm", ha="left")
    sketch.arrow((24, 26), (16, 20))
    sketch.arrow((24, 26), (26.5, 25.2))
    sketch.label(15, 26, "sweeps", ha="right")


def _spacing(view: FrontView) -> float:
    """Between both rods' inner joints [m]."""
    if not view.drawing.bars:
        return 0.0
    one, other = view.drawing.bars[0]
    return abs(float(one[1] - other[1]))


def _joint(sketch: Sketch, front: Assembly, view: FrontView) -> None:
    """A joint's bolt from the side."""
    x = 18.0
    sketch.block(x - 4.5, 32.5, x + 4.5, 35.5, DARK)
    sketch.block(x - 8, 30.5, x + 8, 32.3, "white")
    sketch.shape([(x - 6, 22.5), (x + 6, 22.5), (x + 7, 26.2), (x + 6, 30), (x - 6, 30), (x - 7, 26.2)], DARK)
    sketch.block(x + 7, 25, x + 12, 27.5)
    sketch.shape([(x - 3, 18.5), (x + 3, 18.5), (x + 4.5, 22.2), (x - 4.5, 22.2)], "white")
    sketch.block(x - 16, 13.5, x + 7, 18.2)
    sketch.block(x - 6, 11.8, x + 6, 13.3, "white")
    sketch.nut(x, 8)
    sketch.block(x - 1.5, 4.5, x + 1.5, 8, DARK)
    for y, start, words in (
        (34.9, 23, "bolt, head up"), (31.2, 26.5, "large washer"), (26.2, 30.5, "rod end's eye"), (20.5, 22.5, "spacer"), (16, 25.5, "arm"),
        (12.6, 24.5, "washer"), (8.8, 22, "self-locking nut"),
    ):  # fmt: skip
        sketch.line((start, y), (33, y), width=HAIR)
        sketch.label(34, y, words, ha="left")


def _lock_nuts(sketch: Sketch, front: Assembly, view: FrontView) -> None:
    """Two spanners: one on the rod, one on the nut."""
    y = 20.0
    sketch.block(2, y - 3, 34, y + 3)
    sketch.block(34, y - 5, 39, y + 5, DARK)
    sketch.block(39, y - 1.5, 48, y + 1.5, "white")
    sketch.disc(53, y, 6, DARK)
    sketch.disc(53, y, 2.8)
    sketch.block(16, y - 4.5, 19, y + 10, "0.3")
    sketch.block(35, y - 10, 38, y + 6.5, "0.3")
    sketch.line((29, y + 1), (39, y + 1), width=BOLD)
    sketch.line((29.5, y + 1.5), (29.5, y + 8), width=HAIR)
    sketch.label(29.5, y + 9.5, "paint")
    sketch.label(17.5, y + 12.2, "holds the rod")
    sketch.label(36.5, y - 12.2, "tightens the nut")
    if front.lock_nuts:
        sketch.label(53, y + 9.5, f"{front.lock_nuts} in all", weight="bold")


def _wheel(sketch: Sketch, front: Assembly, view: FrontView) -> None:
    """A wheel on its spindle, cut from above."""
    y = 20.0
    sketch.block(3, y - 6, 9, y + 6, DARK)
    sketch.block(9, y - 1.6, 42, y + 1.6, "white")
    sketch.block(11, y - 4.5, 13, y + 4.5, GREY)
    sketch.block(14.5, y - 4, 29, y - 1.6)
    sketch.block(14.5, y + 1.6, 29, y + 4)
    for side in (1, -1):
        sketch.block(19.5, min(y + side * 4, y + side * 15), 24, max(y + side * 4, y + side * 15))
    sketch.block(30.5, y - 4.5, 32.5, y + 4.5, GREY)
    sketch.block(33.5, y - 3.6, 37, y + 3.6, DARK)
    sketch.line((39.5, y - 4.5), (39.5, y + 4.5), width=BOLD)
    sketch.disc(39.5, y + 4.8, 0.9)
    for x, start, height, words in (
        (31.5, y + 4.6, 34.0, "washer"), (35.2, y + 3.8, 30.0, "nut"), (39.9, y + 5.2, 26.0, "pin, bent"),
    ):  # fmt: skip
        sketch.line((x, start), (x + 2, height), (43, height), width=HAIR)
        sketch.label(43.5, height, words, ha="left")
    sketch.label(27, 7, "wheel", ha="left")
    sketch.line((12, y - 4.6), (12, 6), width=HAIR)
    sketch.label(12, 4, "washer")


def _stop(sketch: Sketch, front: Assembly, view: FrontView) -> None:
    """The hand wheel with stops, and beyond them the place where rod and arm come in line."""
    ends, places = stop_ends(front), dict(stop_places(front))
    middle, radius = np.array([31.0, 17.0]), 12.0
    whole = max([abs(front.lock_left_deg), abs(front.lock_right_deg), *(dead for *_, dead in ends)])
    share = min(1.0, 150.0 / whole)  # a hand wheel of more than a turn is drawn shrunk

    def at(hand_deg: float, reach: float) -> Place:
        turn = radians(90 + share * hand_deg)
        return float(middle[0] + reach * cos(turn)), float(middle[1] + reach * sin(turn))

    sketch.disc(float(middle[0]), float(middle[1]), radius)
    sketch.disc(float(middle[0]), float(middle[1]), 1.2, DARK)
    sketch.line(at(0, 3), at(0, radius + 3.5), width=BOLD)
    sketch.label(31, 36, "straight ahead")
    sides = [side for side, *_ in ends]
    free = {side: free_stop(front, side).stop_deg for side in SIDES}
    stops = {
        "left": front.lock_left_deg if "left" in sides else free["left"],
        "right": front.lock_right_deg if "right" in sides else -free["right"],
    }
    for side, stop in stops.items():
        sketch.line(at(stop, radius - 4), at(stop, radius + 2.5), width=2.0)
        x, ha = (2.0, "left") if side == "left" else (60.0, "right")
        sketch.label(x, 7.5, f"stop {side}", ha=ha, weight="bold")
        told = places.get(side, f"{abs(stop):.1f}")
        sketch.label(x, 4.0, f"{told} deg", ha=ha)
    for side, _, dead in ends:
        sign = 1 if side == "left" else -1
        sketch.line(at(sign * dead, radius - 4), at(sign * dead, radius + 2.5), dash=(1.0, 0.7))
        x, ha = (2.0, "left") if side == "left" else (60.0, "right")
        sketch.label(x, 31, "in line:", ha=ha)
        sketch.label(x, 27.5, f"{dead:.1f} deg", ha=ha)


def _plan(sketch: Sketch, front: Assembly, view: FrontView) -> None:
    """The front end from above, straight ahead, to a scale of its own."""
    draw_plan(sketch, view, Box(1.0, 3.0, 61.0, 33.0))
    sketch.label(31, 36, "from above; forward is up")


def draw_plan(sketch: Sketch, view: FrontView, box: Box) -> None:
    """A front end from above as large as fits a box of the drawing, forward up.

    sketch : Sketch; view : FrontView; box : of the drawing [mm]
    """
    tyres = [_tyre(hub, steer, view) for hub, steer in zip(view.hubs, view.steer, strict=True)]
    drawing = view.drawing
    parts = [end for part in (*drawing.rods, *drawing.bars) for end in part]
    joints = [] if drawing.joints is None else list(drawing.joints)
    every = np.concatenate([*tyres, view.pins, *(np.array([one]) for one in (*parts, *joints))])
    low, high = every.min(axis=0), every.max(axis=0)
    across, along = max(high[1] - low[1], 1e-3), max(high[0] - low[0], 1e-3)
    scale = min(box.width / across, box.height / along)
    middle = (low + high) / 2

    def at(place: np.ndarray) -> Place:
        return (
            float((box.left + box.right) / 2 - scale * (place[1] - middle[1])),
            float((box.bottom + box.top) / 2 + scale * (place[0] - middle[0])),
        )

    for tyre in tyres:
        sketch.shape([at(corner) for corner in tyre], DARK)
    for pin, hub in zip(view.pins, view.hubs, strict=True):
        sketch.line(at(pin), at(hub), width=0.6)
    sketch.line(at(view.pins[LEFT]), at(view.pins[RIGHT]), width=0.6)
    if drawing.joints is not None:
        for pin, joint in zip(view.pins, drawing.joints, strict=True):
            sketch.line(at(pin), at(joint), width=BOLD)
    for one, other in drawing.rods:
        sketch.line(at(one), at(other), width=0.5)
    for one, other in drawing.bars:
        sketch.line(at(one), at(other), width=BOLD)
    for joint in (*parts, *joints):
        sketch.disc(*at(np.asarray(joint)), 0.8)
    for pin in view.pins:
        sketch.disc(*at(pin), 1.3, GREY)
        sketch.disc(*at(pin), 0.4, "black")


def _tyre(hub: np.ndarray, steer: float, view: FrontView) -> np.ndarray:
    """Corners of a tyre from above (4, 2), x ahead, y left [m]."""
    ahead, left = np.array([cos(steer), sin(steer)]), np.array([-sin(steer), cos(steer)])
    half, side = view.radius, view.tyre_width / 2
    return np.array([hub + x * half * ahead + y * side * left for x, y in ((1, 1), (1, -1), (-1, -1), (-1, 1))])


# --- Turntable -----------------------------------------------------------------------------------------------------------


def _table(sketch: Sketch, front: Assembly, view: FrontView) -> None:
    """The frame's plate from above."""
    for x in (19, 43):
        sketch.line((x, 1), (x, 37), width=1.6)
    sketch.block(17, 17, 45, 33)
    sketch.disc(31, 25, 1.6)
    sketch.line((31, 1), (31, 37), width=HAIR, dash=(3.0, 1.5))
    for place in ((21, 19.5), (41, 19.5), (21, 30.5), (41, 30.5)):
        sketch.disc(*place, 1.0, DARK)
    sketch.line((29, 25), (9, 25), width=HAIR)
    sketch.label(8.5, 27, "king bolt", ha="center")
    sketch.label(8.5, 10, "middle line", ha="center")
    sketch.line((17, 10), (30.5, 10), width=HAIR)
    sketch.arrow((52, 26), (52, 33))
    sketch.label(53, 22.5, "forward")


def _axle(sketch: Sketch, front: Assembly, view: FrontView) -> None:
    """The axle with its plate from above."""
    sketch.block(6, 18, 56, 21)
    sketch.block(21, 13, 41, 26, "white")
    sketch.block(6, 18.7, 56, 20.3)
    for x in (6, 56):
        sketch.block(x - 2, 12, x + 2, 27, DARK)
    for place in ((23.5, 15), (38.5, 15), (23.5, 24), (38.5, 24)):
        sketch.disc(*place, 1.0, DARK)
    sketch.disc(31, 19.5, 1.6)
    sketch.size((6, 32), (31, 32), f"{front.front_track_mm / 2:.0f} mm")
    sketch.size((56, 32), (31, 32), f"{front.front_track_mm / 2:.0f} mm")
    sketch.line((31, 21.5), (31, 33.5), width=HAIR)
    sketch.label(31, 7, "axle and turning plate, from above")


def _king_bolt(sketch: Sketch, front: Assembly, view: FrontView) -> None:
    """Plates and washers on the king bolt, pulled apart, from the side."""
    x = 16.5
    sketch.line((x, 1.5), (x, 37), width=HAIR, dash=(3.0, 1.5))
    sketch.block(x - 5, 33.5, x + 5, 36.5, DARK)
    sketch.block(x - 8, 30.2, x + 8, 31.6, "white")
    sketch.block(x - 15, 25.5, x + 15, 28)
    sketch.block(x - 11, 21.5, x + 11, 23.3, "white")
    sketch.block(x - 15, 16.5, x + 15, 19)
    sketch.block(x - 15, 10.5, x + 15, 15)
    sketch.block(x - 8, 7.5, x + 8, 8.9, "white")
    sketch.nut(x, 2.5)
    for y, start, words in (
        (35, 22, "bolt, from above"), (30.9, 25, "large washer"), (26.8, 32, "frame's plate"), (22.4, 28, "grease both faces"),
        (17.8, 32, "turning plate"), (12.8, 32, "axle"), (8.2, 25, "large washer"), (4.2, 20.5, "nut and split pin"),
    ):  # fmt: skip
        sketch.line((start, y), (33, y), width=HAIR)
        sketch.label(33.7, y, words, ha="left")


def _ropes(sketch: Sketch, front: Assembly, view: FrontView) -> None:
    """Ropes from the axle's ends to the driver, from above, and a bar instead."""
    sketch.block(6, 27, 56, 29.5)
    for x in (6, 56):
        sketch.block(x - 2, 22, x + 2, 34.5, DARK)
    sketch.disc(31, 28.2, 1.8)
    for side in (-1, 1):
        sketch.line((31 + side * 20, 27), (31 + side * 7, 8), width=0.6)
        sketch.disc(31 + side * 20, 28.2, 1.0, DARK)
    sketch.line((24, 8), (38, 8), width=BOLD)
    sketch.label(31, 4, "hands")
    sketch.label(17, 15, "equally long", ha="right")
    sketch.line((31, 26.5), (31, 13), width=HAIR, dash=(2.0, 1.5))
    sketch.label(45, 15, "or a bar", ha="left")
    sketch.line((44.5, 15), (31.5, 18), width=HAIR)


def _axle_stop(sketch: Sketch, front: Assembly, view: FrontView) -> None:
    """The axle straight and at both locks, from above."""
    middle = np.array([31.0, 20.0])
    for stop, dash in ((0.0, None), (front.lock_left_deg, (1.5, 1.0)), (front.lock_right_deg, (1.5, 1.0))):
        turn = radians(stop)
        along = 21 * np.array([cos(turn), sin(turn)])
        if abs(along[1]) > 14:
            along = along * (14 / abs(along[1]))
        ends = [tuple(middle + sign * along) for sign in (-1, 1)]
        sketch.line(*ends, width=1.6 if dash is None else 0.5, dash=dash)
    sketch.disc(31, 20, 1.8)
    left, right = (free_stop(front, side).stop_deg for side in SIDES)
    # A left turn swings the axle's right end forward, so its angle stands there; forward is up.
    for x, ha, way, stop in ((60.0, "right", "left", left), (2.0, "left", "right", right)):
        sketch.label(x, 33, f"turned {way}", ha=ha, weight="bold")
        sketch.label(x, 29.5, f"{stop:.1f} deg", ha=ha, weight="bold")
    sketch.line((31, 25), (31, 33), width=HAIR)
    sketch.line((29.5, 30.5), (31, 33), (32.5, 30.5), width=HAIR)
    sketch.label(31, 36, "front")
    sketch.label(31, 2.5, "block or chain on both sides")


DRAWINGS: dict[str, Callable[[Sketch, Assembly, FrontView], None]] = {
    "beam": _beam, "stub axles": _stub_axles, "kingpin": _kingpin, "nut": _nut, "pull": _pull, "rod": _rod, "drop arm": _drop_arm,
    "joint": _joint, "lock nuts": _lock_nuts, "wheel": _wheel, "stop": _stop, "plan": _plan, "table": _table, "axle": _axle,
    "king bolt": _king_bolt, "ropes": _ropes, "axle stop": _axle_stop,
}  # fmt: skip
