"""What to draw of a car on the ground, in metres: wheels, trails, axle lines and where they meet.

Everything here is geometry of stored arrays; no force and no motion is computed.
"""

from math import ceil, cos, degrees, isfinite, sin
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from sim.study.dangers import Dangers
from viz.replay.looks import CARD, FAINT, GRID, INK, LABEL, POWER_COLOURS, SHARE_OF_TYRE, SOFT, level
from viz.replay.pens import Ink, Pen, Place
from viz.replay.run_data import Body, Drive, Instant
from viz.shared.axle_lines import MEETING, length_words, rear_crossing
from viz.shared.dangers import before_words, stop_ends

TRAIL = 14.0  # [m] of rubbed ground behind the car
TRAIL_PIECES = 70  # at most, for each wheel
LEAST_TURN = 1 / 200  # [1/m] a path straighter than this has no turning centre worth drawing
SEEN_TURN = 1 / 40  # [1/m] of the course, from which the wheels stand turned to the eye
FAR = 60.0  # [m] how far an axle line is drawn
TURNING = np.radians(2.5)  # a mean steer below this is "straight ahead": lines cross too far away to look at
ARROW = 0.62  # length of the arrows at a wheel, in wheel diameters beyond its edge
WIDEST = np.radians(50)  # to which an angle is drawn larger
BESIDE = 0.03  # [m] from the middle of a wheel to where its figure belongs, at the tyre's outer side
BARB = 0.13  # [m] of an arrow's head
CROSS_ARM = 0.13  # [m]
POINTS, MOVES = Ink(SOFT, 1.5, dash=4.0), Ink(INK, 2.5)
LEAST_DRIFT = np.radians(0.6)  # a wheel that drifts less gets no arrow: it rolls


class Crossing(NamedTuple):
    """Where the front wheels' axle lines cross the rear axle's line, left of the car's middle [m]."""

    left: float
    right: float

    @property
    def miss(self) -> float:
        """How far apart the two are [m]."""
        return abs(self.left - self.right)


def to_ground(now: Instant, ahead: ArrayLike, left: ArrayLike) -> np.ndarray:
    """Places of the car on the ground, (..., 2) [m].  now : Instant; ahead, left : of the mass centre [m]."""
    c, s = cos(now.heading), sin(now.heading)
    ahead, left = np.asarray(ahead, dtype=float), np.asarray(left, dtype=float)
    across = now.x + c * ahead - s * left
    places = np.empty((*across.shape, 2))  # half the time of a stack, and a picture asks for it forty times
    places[..., 0], places[..., 1] = across, now.y + s * ahead + c * left
    return places


def wheel_places(now: Instant) -> np.ndarray:
    """The contact points, (4, 2) [m].  now : Instant."""
    return now.contacts


def turning_centre(now: Instant) -> Place | None:
    """The point about which the car turns at this moment [m]; None where it runs straight.  now : Instant.

    Source: rigid-body kinematics; it lies square to the velocity at the mass centre, a path's radius away.
    """
    bend, sideslip = float(now.curve[0]), float(now.curve[1])
    if abs(bend) < LEAST_TURN:
        return None
    x, y = to_ground(now, -sin(sideslip) / bend, cos(sideslip) / bend)
    return float(x), float(y)


def axle_lines(now: Instant) -> np.ndarray:
    """The line of each wheel's axle, (4, 2, 2): wheel, end (left first), place [m].  now : Instant."""
    at, heading = wheel_places(now), now.heading + now.steer
    reach = FAR * np.stack([-np.sin(heading), np.cos(heading)], axis=1)
    return np.stack([at + reach, at - reach], axis=1)


def crossing(now: Instant) -> Crossing | None:
    """Where the front axle lines cross the rear one; None while the wheels stand nearly straight.  now : Instant."""
    left, right = now.steer[:2].tolist()
    if min(abs(left), abs(right)) < 0.3 * TURNING or abs(left + right) / 2 < TURNING or left * right < 0:
        return None
    behind = now.wheel_x[:2] - now.wheel_x[2]
    return Crossing(*(rear_crossing(now.wheel_y[i], behind[i], now.steer[i]) for i in (0, 1)))


def miss_words(miss: float) -> str:
    """By how much axle lines miss, and that it is a length on the ground, which tells no power.  miss : [m]."""
    return f"Axle lines miss by {length_words(miss)} (geometry, not power)"


def danger_words(setup: Dangers) -> str:
    """Where a stop belongs, empty where no rod comes in line with its arm.  setup : whose dead centres."""
    ends = ", ".join(f"{stop}° {side}" for side, stop, _ in stop_ends(setup))
    held = before_words(setup).replace(" deg", "°")
    return f"Danger: stop the {setup.hand_is} before {ends}{held}" if ends else ""


def trail_rows(drive: Drive, row: float, length: float = TRAIL) -> np.ndarray:
    """Samples that a trail goes through: the last of them before `row`, at places that do not shift as the car moves on.

    drive : Drive; row : where the car is, with a fraction; length : of the trail [m]
    """
    last = int(row)
    first = int(np.searchsorted(drive.station, drive.station[last] - length))
    stride = 1
    while (last - first) // stride > TRAIL_PIECES:
        stride *= 2
    return np.arange(-(-first // stride) * stride, last + 1, stride)


def draw_trails(pen: Pen, drive: Drive, row: float, top: float, tyre_width: float, length: float = TRAIL) -> None:
    """Where the tyres have rolled, dark and broad where they rubbed.

    pen : Pen; drive : Drive; row : where the car is; top : of the power scale [W]; tyre_width : [m]; length : of the trails [m]
    """
    rows = trail_rows(drive, row, length)
    now = drive.at(row)
    places = np.concatenate([drive.ground[rows], wheel_places(now)[None]])
    if len(places) < 2:
        return
    # A piece has the colour of the sample where it begins.
    levels = level(drive.power[rows], top)
    inks = [Ink(colour, breadth=float(share) * tyre_width) for colour, share in zip(POWER_COLOURS, SHARE_OF_TYRE, strict=True)]
    changed = levels[1:] != levels[:-1]
    pieces, count = [], len(places)
    for wheel in range(4):
        starts = [0, *(np.flatnonzero(changed[:, wheel]) + 1).tolist()]
        colours, before = levels[starts, wheel].tolist(), wheel * count
        for start, end, one in zip(starts, [*starts[1:], len(levels)], colours, strict=True):
            pieces.append((before + start, before + min(end, count - 1), inks[one]))
    pen.trails(places.swapaxes(0, 1).reshape(-1, 2), pieces)


def draw_ground(pen: Pen, middle: Place, reach: float, marks: np.ndarray) -> None:
    """A grid of metres and the course's line.

    pen : Pen; middle : of the picture [m]; reach : how far around it [m]; marks : of `Replay`, (n, 2, 2) [m]
    """
    ink, (x, y) = Ink(GRID, 1.0, plain=True), middle
    across = [((at, y - reach), (at, y + reach)) for at in range(ceil(x - reach), int(x + reach) + 1)]
    along = [((x - reach, at), (x + reach, at)) for at in range(ceil(y - reach), int(y + reach) + 1)]
    pen.lines(np.array([*across, *along]), ink)
    pen.lines(marks[(np.abs(marks[:, 0] - middle) < reach).all(axis=1)], Ink(FAINT, 1.5))


def draw_axle_lines(
    pen: Pen, now: Instant, share: float = 1.0, size: float = LABEL, arm: float = CROSS_ARM, named: bool = True
) -> None:  # fmt: skip
    """The long axle lines, what they miss each other by on the rear axle's line, and the point about which the car turns.

    pen : Pen; now : Instant; share : of the lines that is seen, from the wheels on [-]; size : of letters [points]
    arm : of the crosses at the ends of what they miss by [m]; named : whether there is room for words, and so for what needs them
    """
    at = wheel_places(now)
    for index, (a, b) in enumerate(axle_lines(now)):
        if index != 3:  # the rear wheels share one line
            left, right = (tuple(at[index] + share**4 * (end - at[index])) for end in (a, b))  # near the wheels it is seen to grow
            pen.line(left, right, Ink(INK, 1.75) if index < 2 else Ink(SOFT, 1.75, dash=8.0))
    if share < 1.0:
        return
    found, rear = crossing(now), float(now.wheel_x[2])
    if found is not None and abs(found.left) < FAR:
        middle = tuple(to_ground(now, rear, (found.left + found.right) / 2))
        if found.miss < MEETING:
            pen.disc(middle, 0.16, Ink(INK, 3.0))
        else:
            a, b = (to_ground(now, rear, side) for side in (found.left, found.right))
            pen.line(tuple(a), tuple(b), Ink(INK, 5.0))
            pen.lines(np.array([*_cross(now, a, arm), *_cross(now, b, arm)]), Ink(INK, 3.0))
        if named:
            pen.text(middle, meeting_words(found), label_ink(size, bold=True))
    centre = turning_centre(now)
    if named and centre is not None:
        pen.disc(centre, 0.06, Ink(INK, 1.0, fill=INK))
        pen.text(centre, "turning centre", label_ink(size))


def label_ink(size: float, bold: bool = False, anchor: str = "middle") -> Ink:
    """The ink of words on the ground.  size : of letters [points]; bold, anchor : as for Ink."""
    return Ink(INK, fill=CARD, size=size, bold=bold, anchor=anchor)


def meeting_words(found: Crossing) -> str:
    """What the axle lines do, as a label at the place where they do it.  found : Crossing."""
    return "lines meet" if found.miss < MEETING else f"miss by {length_words(found.miss)}"


def said_of_lines(now: Instant) -> str:
    """What the axle lines' label says at a moment; empty where they have none.  now : Instant."""
    found = crossing(now)
    return "" if found is None else meeting_words(found)


def _cross(now: Instant, at: np.ndarray, size: float) -> list[tuple[np.ndarray, np.ndarray]]:
    """Both strokes."""
    arms = [size * np.array([cos(now.heading + turn), sin(now.heading + turn)]) for turn in (np.pi / 4, -np.pi / 4)]
    return [(at - arm, at + arm) for arm in arms]


def draw_payer(pen: Pen, now: Instant, wheel: int, words: str, wheel_radius: float, size: float, pays: bool) -> None:
    """A double ring round the wheel that pays most, a thin one where nothing is paid above the reference, and what it takes.

    pen : Pen; now : Instant; wheel : its index; words : beside it; wheel_radius : [m]; size : of letters [points]; pays : which
    """
    place = tuple(wheel_places(now)[wheel])
    for times, ink in ((1.35, Ink(INK, 3.5)), (1.6, Ink(INK, 2.0))) if pays else ((1.35, Ink(SOFT, 1.0)),):
        pen.disc(place, times * wheel_radius, ink)
    pen.text(place, words, label_ink(size, bold=True, anchor="right" if wheel % 2 == 0 else "left"))


def draw_loads(pen: Pen, now: Instant, usual: float) -> None:
    """A pale disc under each wheel whose area is its load.  pen : Pen; now : Instant; usual : load of a disc of 0.22 m radius [N]."""
    for place, load in zip(wheel_places(now), now.load.tolist(), strict=True):
        if isfinite(load) and load > 0:
            pen.disc(tuple(place), 0.22 * (load / usual) ** 0.5, Ink(SOFT, 1.5, fill=GRID))


def draw_car(pen: Pen, drive: Drive, now: Instant, body: Body) -> None:
    """The car's outline, its axles and its wheels.  pen : Pen; drive : Drive; now : Instant; body : Body."""
    nose, tail = body.front_arm + 0.30, body.front_arm - body.wheelbase - 0.22
    side = np.array([(nose, 0.05), (body.front_arm, 0.17), (0.1, 0.24), (tail, 0.12)])
    ahead, left = np.concatenate([side, side[::-1] * (1, -1)]).T
    pen.path(to_ground(now, ahead, left), Ink(FAINT, 1.0, fill="#F4F2EC"))
    at, beam = wheel_places(now), Ink(SOFT, 3.0)
    if drive.turntable or not drive.kingpin_y.any():
        pen.lines(at.reshape(2, 2, 2), beam)
    else:
        pins = to_ground(now, [body.front_arm] * 2, drive.kingpin_y)
        pen.lines(np.array([at[2:], pins, (pins[0], at[0]), (pins[1], at[1])]), beam)
        for pin in pins.tolist():
            pen.disc(pin, 0.035, Ink(INK, 1.0, fill="#FFFFFF"))
    pen.disc((now.x, now.y), 0.05, Ink(INK, 1.5, fill="#FFFFFF"))
    for place, steer in zip(at, now.steer.tolist(), strict=True):
        pen.wheel(tuple(place), now.heading + steer, 2 * body.wheel_radius, body.tyre_width, Ink(INK, 1.0, fill="#3A3A3A"))


def draw_slips(pen: Pen, now: Instant, wheel_radius: float, larger: float) -> None:
    """At each wheel a thin line where it points and an arrow where it moves, their angle drawn larger than it is.

    pen : Pen; now : Instant; wheel_radius : [m]; larger : how many times [-]
    """
    start, length = wheel_radius, wheel_radius + 2 * ARROW * wheel_radius
    points, moves = list[tuple[Place, Place]](), list[tuple[Place, Place]]()
    for place, steer, drift in zip(wheel_places(now).tolist(), now.steer.tolist(), now.drift.tolist(), strict=True):
        # A wheel that slides is drawn as it is: five times larger it would seem to roll backwards.
        most = max(WIDEST, abs(drift))
        pointed, moved = now.heading + steer, now.heading + steer + min(max(larger * drift, -most), most)
        points.append((_away(place, start, pointed), _away(place, length, pointed)))
        if abs(drift) > LEAST_DRIFT:
            tip = _away(place, length, moved)
            moves += [(place, tip), *((tip, _away(tip, BARB, moved + turn)) for turn in (2.6, -2.6))]
    pen.lines(np.array(points), POINTS)
    if moves:
        pen.lines(np.array(moves), MOVES)


def _away(place: Place, by: float, heading: float) -> Place:
    """A place away from another.  by : [m]; heading : [rad]."""
    return place[0] + by * cos(heading), place[1] + by * sin(heading)


def draw_numbers(pen: Pen, now: Instant, loads: bool, size: float = LABEL) -> None:
    """The tyre's slip angle as the trace holds it, and if wished the load, written outside each wheel.

    pen : Pen; now : Instant; loads : whether the load is written; size : of letters [points]
    """
    for i in range(4):
        outside = 1.0 if i % 2 == 0 else -1.0
        at = to_ground(now, now.wheel_x[i] - (0.0 if i < 2 else 0.1), now.wheel_y[i] + outside * BESIDE)
        words = f"{abs(degrees(float(now.slip[i]))):.1f}°"
        if loads and isfinite(float(now.load[i])):
            words += f"\n{now.load[i]:.0f} N"
        pen.text(tuple(at), words, label_ink(size, bold=True, anchor="right" if outside > 0 else "left"))


def camera(course_curvature: np.ndarray, station: np.ndarray, half_car: float, farthest: float = 9.0, room: float = 0.0) -> np.ndarray:
    """How far the close-up should reach to the left and to the right of the car along the course, smoothly, (n, 2) [m].

    course_curvature : (n,) [1/m]; station : (n,), even [m]; half_car : half the car's breadth and some room [m]
    farthest : away a turning centre belongs in the picture; from there to a third more it is let go [m]
    room : for a window on the meeting point, beside the car while that lies outside [m]
    """
    radius, gone = 1 / np.maximum(np.abs(course_curvature), 1e-6), farthest * 4 / 3
    wanted = np.where(radius < gone, np.minimum(radius, farthest) * np.clip((gone - radius) / (gone - farthest), 0.0, 1.0), 0.0) + 0.8
    spacing = float(station[1] - station[0])
    width = max(3, round(3.0 / spacing) | 1)
    sides = []
    for sign in (1.0, -1.0):
        beside = np.where(sign * course_curvature > SEEN_TURN, half_car + room, half_car)
        reach = np.maximum(np.where(sign * course_curvature > 0, wanted, 0.0), beside)
        padded = np.pad(reach, width, mode="edge")
        widest = np.lib.stride_tricks.sliding_window_view(padded, 2 * width + 1).max(axis=1)
        smooth = np.convolve(np.pad(widest, width // 2, mode="edge"), np.ones(width) / width, mode="valid")
        sides.append(smooth)
    return np.stack(sides, axis=1)
