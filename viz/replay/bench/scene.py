"""What the steering bench draws, in metres from the middle of the front axle: x ahead, y left.

Hue is the set-up's alone; what warns of a place that can hurt is red.
"""

from collections.abc import Sequence
from math import cos, degrees, isfinite, radians, sin

import numpy as np

from sim.linkages.pivots import SIGNS
from sim.steering.arrangement import HAND_LIMIT, Steering
from sim.study.dangers import Dangers
from viz.replay.bench.model import BenchModel, Built, Pose, Support, Turn, slip_losses
from viz.replay.captions import HARDLY, LIGHTER, watts
from viz.replay.looks import CARD, INK, SOFT, Look, looks_of
from viz.replay.pens import Ink, Pen
from viz.replay.run_data import Body
from viz.replay.scene import FAR, danger_words
from viz.replay.view import Rect, View
from viz.shared.axle_lines import MEETING, NARROW, rear_crossing
from viz.shared.dangers import before_words, needs_stop, stop_ends

DANGER, DANGER_PALE = "#B3001E", "#F2C4C9"
GREY, PALE = "#7A776F", "#E4E2DB"  # marks in the second rank, 4.4 : 1 on white and 3.4 : 1 on what follows; ground under a car
TEXT, CAPTION, WATTS = 18.0, 22.0, 36.0  # sizes of letters [points]
TURNING = np.radians(1.5)  # steer below which the lines meet too far away to be drawn
CAUTION_BEFORE = np.radians(5)  # between rod and arm, before the usable lock ends: early enough to stop the hand.  A judgement.
GROWS_FROM = np.radians(30)  # ... from which the dangerous place is drawn, small at first.  A judgement.
LEAST_WATTS = 0.05  # what a figure shows as 0.0
LEAST_ARM = 0.001  # [m] lever below which there is none to compare with
HANDLE = 0.022  # [m] radius of a joint that can be dragged
SHOWN_ARC = radians(170)  # of the hand wheel to either side, in which a stop is drawn on its rim
LEAST_SCALE = 40.0  # [points per metre] below which the meeting point gets a picture of its own
ARM, BEAM = Ink(INK, 8.0), Ink(GREY, 7.0)
HOLLOW = ((Ink(INK, 7.0), Ink(CARD, 3.0)), (Ink(INK, 11.0), Ink("#C9C6BC", 7.0)))  # a rod; what moves the rods


def draw_plan(pen: Pen, pose: Pose, body: Body, turntable: bool, held: int | None, pulse: float = 0.0, stop: str = "") -> None:
    """Front axle, wheels, arms and rods from above.

    pen : Pen; pose : Pose; body : Body; turntable : whether the axle swings as a whole; held : side of the joint that is being dragged
    pulse : how far the joints that can be dragged are drawn larger, 0 to 1
    stop : hand angle before which a stop belongs on the side to which the wheels point, in words, empty where none does [deg]
    """
    pen.line((0.35, 0.0), (-1.0, 0.0), Ink(GREY, 1.0, dash=8.0))
    if turntable:
        pen.line(tuple(pose.contacts[0]), tuple(pose.contacts[1]), BEAM)
        pen.disc((0.0, 0.0), 0.05, Ink(INK, 2.0, fill=CARD))
        pen.disc((0.0, 0.0), 0.012, Ink(INK, 1.0, fill=INK))
    else:
        pen.line(tuple(pose.pins[0]), tuple(pose.pins[1]), BEAM)
    danger = danger_share(pose) if stop else 0.0
    for side in (0, 1):
        centre, heading = pose.contacts[side], float(pose.steer[side])
        pen.line(tuple(pose.pins[side]), tuple(centre), BEAM)
        pen.wheel(tuple(centre), heading, 2 * body.wheel_radius, body.tyre_width, Ink(INK, 1.0, fill="#3A3A3A"))
        ahead = np.array([cos(heading), sin(heading)])
        pen.line(tuple(centre + body.wheel_radius * ahead), tuple(centre + 1.4 * body.wheel_radius * ahead), Ink(INK, 2.0))
        straight = centre + 1.4 * body.wheel_radius * np.array([1.0, 0.0])
        pen.line(tuple(centre), tuple(straight), Ink(GREY, 1.5, dash=5.0))
    if danger and pose.joints is not None and pose.rod_angles is not None:
        pen.disc(tuple(pose.joints[int(np.argmin(pose.rod_angles))]), 0.025 + 0.06 * danger, Ink(DANGER, 2.5, fill=DANGER_PALE))
    for ends, (outer, inner) in ((pose.rods, HOLLOW[0]), (pose.bars, HOLLOW[1])):
        for a, b in ends:
            pen.line(tuple(a), tuple(b), outer)
            pen.line(tuple(a), tuple(b), inner)
    for a, b in pose.bars:
        for end in (a, b):
            pen.disc(tuple(end), 0.014, Ink(INK, 1.5, fill="#C9C6BC"))
    if pose.joints is not None:
        for side in (0, 1):
            pen.line(tuple(pose.pins[side]), tuple(pose.joints[side]), ARM)
            if pulse:
                pen.disc(tuple(pose.joints[side]), HANDLE * (1 + pulse), Ink(INK, 1.5))
            pen.disc(tuple(pose.joints[side]), HANDLE, Ink(INK, 2.5, fill=INK if held == side else CARD))
    if not turntable:
        for pin in pose.pins:
            pen.disc(tuple(pin), 0.016, Ink(INK, 1.5, fill=CARD))
    for side, name in enumerate(("left", "right")):
        x, y = pose.contacts[side]
        place, anchor = (x - 1.28 * body.wheel_radius, y), "middle"
        if turntable:  # whose wheels come near to the hand wheel: the words stand outside
            place, anchor = (x - 0.6 * body.wheel_radius, y + 0.1 * SIGNS[side]), ("right", "left")[side]
        words = f"{name} {abs(degrees(float(pose.steer[side]))):.1f}°"
        pen.text(place, words, Ink(INK, fill=CARD, size=TEXT, bold=True, anchor=anchor))
    if danger and pose.joints is not None and pose.rod_angles is not None:
        worst = int(np.argmin(pose.rod_angles))
        ink = Ink(DANGER, fill=CARD, size=TEXT, bold=True, anchor=("left", "right")[worst])
        pen.text(tuple(pose.joints[worst]), f"stop: {stop}°", ink)  # beside all marks, where the pen can look for such a place


def bench_look(model: BenchModel) -> Look:
    """How what stands on the bench is told from the others: as in the replay, and grey where the run has no such set-up.

    model : BenchModel
    """
    if model.example:
        return Look(SOFT, "disc", 0.0)
    return looks_of(len(model.scenario.setup), ())[model.index]


def danger_share(pose: Pose) -> float:
    """How far the worst rod has come on its way into line with its arm, 0 while it is far from it, 1 at the end of the usable lock.

    pose : Pose
    """
    if pose.rod_angles is None:
        return 0.0
    return min(max((pose.least_rod_angle + GROWS_FROM - float(pose.rod_angles.min())) / GROWS_FROM, 0.0), 1.0)


def error_words(pose: Pose, live: bool = True) -> tuple[str, bool | None]:
    """How the inner wheel stands to its ideal, in words, and whether that is as it should be, None straight ahead.

    pose : Pose; live : whether there is somebody who can turn the hand wheel
    """
    if min(abs(pose.steer[0]), abs(pose.steer[1])) < TURNING:
        return "Turn the hand wheel: drag it, or press ← and →" if live else "Straight ahead no wheel disagrees", None
    side = "left" if pose.turns_left else "right"
    off = abs(degrees(pose.error))
    if off < 0.05:
        return f"Ideal: the inner ({side}) wheel turns just as it should", True
    more = "too much" if pose.error > 0 else "too little"
    return f"The inner ({side}) wheel should turn {abs(degrees(pose.ideal_inner)):.1f}°: it turns {off:.1f}° {more}", False


def cost_words(turn: Turn, least: float) -> tuple[str, bool | None]:
    """What the set-up rubs away beyond ideal steering in the turn, in words, and whether that is little; empty where there is no turn.

    turn : Turn; least : power that tells nothing, as for the replay's captions [W]
    """
    if not turn.own.converged or turn.ideal is None or not turn.ideal.converged:
        return "", None
    own, ideal = float(slip_losses(turn.own).sum()), float(slip_losses(turn.ideal).sum())
    if own - ideal < LEAST_WATTS:
        return "which costs nothing here", True
    if own - ideal <= max(least, HARDLY * own):
        return f"which costs hardly anything here: {watts(own - ideal)} of {watts(own)}", True
    return f"{watts(own - ideal)} more than ideal steering", False


def bench_danger(setup: Dangers) -> tuple[str, bool]:
    """Where a stop belongs, and whether the hand wheel can get there; empty where no rod comes in line.  setup : whose dead centres."""
    words = danger_words(setup)
    if not words or needs_stop(setup):
        return words, True
    ends = ", ".join(f"{stop}° {side}" for side, stop, _ in stop_ends(setup))
    return f"Danger at {ends} is never reached{before_words(setup).replace(' deg', '°')}", False


def ticked(words: str, good: bool | None) -> str:
    """Words with a tick or a cross before them, as they are where neither fits.  words : to say; good : which."""
    return words if good is None else f"{'✓' if good else '✗'} {words}"


def stop_words(steering: Steering, hand: float) -> str:
    """Why the hand wheel goes no further, empty between the locks.  steering : Steering; hand : [rad]."""
    if steering.lock_right < hand < steering.lock_left:
        return ""
    cause = steering.lock_left_cause if hand >= steering.lock_left else steering.lock_right_cause
    return f"It stops here: {cause}{' (assumed)' if cause == HAND_LIMIT and steering.own_limit is None else ''}"


def line_words(pose: Pose) -> str:
    """A caution where a rod and its arm come near the angle at which the usable lock ends, empty elsewhere.  pose : Pose."""
    if pose.rod_angles is None or pose.rod_angles.min() >= pose.least_rod_angle + CAUTION_BEFORE:
        return ""
    side, angle = ("left", "right")[int(np.argmin(pose.rod_angles))], degrees(pose.rod_angles.min())
    return f"Caution: {side} rod {angle:.0f}° from in line with its arm; further on it can snap over. Fit a stop here, mind fingers."


def knock_words(arm: float, stub_arm: float, turntable: bool) -> tuple[str, bool | None]:
    """On what arm a knock on the left wheel pulls, and a turntable's beside that of stub axles; whether that is in order, None where it is
    no turntable.  Empty where the arm is not known.

    arm, stub_arm : of the set-up, of the same car on stub axles [m]; turntable : whether the axle swings as a whole
    """
    if not isfinite(arm):
        return "", None
    words = f"A knock on a front wheel has a lever of {arm * 1000:.0f}{NARROW}mm"
    return (f"{words}, on stub axles {stub_arm * 1000:.0f}{NARROW}mm", False) if turntable and arm > stub_arm else (words, None)


def turntable_words(arm: float, stub_arm: float, support: Support) -> str:
    """What a turntable does worse than stub axles, by the figures of this turn: wheels that agree say nothing about it.

    arm, stub_arm : as for `knock_words`, finite [m]; support : Support
    """
    many = f"{arm / stub_arm:.1f} times the lever of stub axles" if stub_arm > LEAST_ARM else "a lever, where stub axles have hardly any"
    sooner = ", and the car tips sooner in this turn" if tips_sooner(support) else ""
    return f"Turntable: a knock on a front wheel has {many}{sooner}"


def tips_sooner(support: Support) -> bool:
    """Whether it would tip earlier than on stub axles in the same turn, by enough to be told.  support : Support."""
    return support.tips < (1 - LIGHTER) * support.stub_tips


def tip_words(support: Support) -> tuple[str, bool | None]:
    """How much of what tips the car the turn takes, and whether it stays below; None where there is no turn, and where it would tip earlier
    than on stub axles.  support : Support."""
    stub = f", on stub axles of {support.stub_tips:.1f}" if tips_sooner(support) else ""
    tips = f"tips at {support.tips:.1f}{NARROW}m/s²{stub.replace(' of ', ' at ')}"
    if not isfinite(support.takes):
        return f"It {tips}", None
    if support.takes >= support.tips:
        return f"It {tips}; this turn takes {support.takes:.1f}: it tips over", False
    share = support.takes / support.tips
    words = f"Stands: {100 * share:.0f}{NARROW}% of tipping ({support.takes:.1f} of {support.tips:.1f}{NARROW}m/s²{stub})"
    return words, None if stub else True


def crossings(pose: Pose, wheelbase: float) -> tuple[float, float] | None:
    """Where the front axle lines cross the rear axle's line, left of the middle; None nearly straight ahead.

    pose : Pose; wheelbase : [m]
    Returns (of the left wheel, of the right wheel) [m].
    """
    if min(abs(pose.steer[0]), abs(pose.steer[1])) < TURNING or pose.steer[0] * pose.steer[1] < 0:
        return None
    left, right = (rear_crossing(pose.contacts[i, 1], pose.contacts[i, 0] + wheelbase, pose.steer[i]) for i in (0, 1))
    return left, right


def axle_views(rect: Rect, pose: Pose, body: Body, point: float) -> tuple[View, Rect | None, View | None]:
    """How the axle lines are seen: the car, with the place where they meet or miss in the same picture, or in one of its own.

    rect : of the picture [points]; pose : Pose; body : Body; point : [px]
    Returns the view of the car; and where that place is too far away, the rectangle and the view of the picture of its own.
    """
    found = crossings(pose, body.wheelbase)
    half = body.front_track / 2 + body.wheel_radius + 0.05
    front, rear = float(pose.contacts[:, 0].max()) + 1.1 * body.wheel_radius, -body.wheelbase - 1.1 * body.wheel_radius
    low, high, deep = -half, half, front - rear
    if found is not None:
        low, high = min(low, *(at - 0.4 for at in found)), max(high, *(at + 0.4 for at in found))
    scale = min(rect.width / (high - low), rect.height / deep)
    middle = ((front + rear) / 2, (low + high) / 2)
    at = (rect.x + rect.width / 2, rect.y + rect.height / 2)
    if scale >= LEAST_SCALE or found is None:
        return View.ground(at, middle, scale, point, 0.0), None, None
    left = sum(found) > 0
    wide = 0.42 * rect.width
    inset = Rect(rect.x + (0.0 if left else rect.width - wide), rect.y + 0.3 * rect.height, wide, 0.7 * rect.height)
    room = Rect(rect.x + (wide if left else 0.0), rect.y, rect.width - wide, rect.height)
    scale = min(room.width / (2 * half), rect.height / deep)
    car = View.ground((room.x + room.width / 2, at[1]), (middle[0], 0.0), scale, point, 0.0)
    span = max(2.2 * abs(found[0] - found[1]), 1.2)
    drawn = Rect(inset.x, inset.y + 28, inset.width, inset.height - 28)
    close = View.ground((drawn.x + drawn.width / 2, drawn.y + drawn.height / 2), (-body.wheelbase, sum(found) / 2),
                        min(drawn.width, 2 * drawn.height) / span, point, 0.0)  # fmt: skip
    return car, inset, close


def draw_axles(pen: Pen, pose: Pose, body: Body) -> None:
    """The whole car with its long axle lines and where they meet or miss.  pen : Pen; pose : Pose; body : Body."""
    back, found = -body.wheelbase, crossings(pose, body.wheelbase)
    reach = FAR if found is None else max(FAR, *(1.5 * abs(at) for at in found))
    pen.line((back, reach), (back, -reach), Ink(SOFT, 1.75, dash=8.0))
    for side in (0, 1):
        aside = np.array([-sin(pose.steer[side]), cos(pose.steer[side])]) * reach
        pen.line(tuple(pose.contacts[side] + aside), tuple(pose.contacts[side] - aside), Ink(INK, 1.75))
    draw_small_car(pen, pose, body)
    if found is not None:
        draw_meeting(pen, back, found)


def draw_meeting(pen: Pen, back: float, found: tuple[float, float]) -> None:
    """A ring where the axle lines meet, a bar with crosses where they miss.  back : the rear axle's x; found : of `crossings` [m]."""
    if abs(found[0] - found[1]) < MEETING:
        pen.disc((back, sum(found) / 2), 0.16, Ink(INK, 3.0))
        return
    pen.line((back, found[0]), (back, found[1]), Ink(INK, 5.0))
    for at in found:
        for turn in (0.12, -0.12):
            pen.line((back - 0.12, at - turn), (back + 0.12, at + turn), Ink(INK, 3.0))


def draw_small_car(pen: Pen, pose: Pose, body: Body) -> None:
    """Wheels and axles.  pen : Pen; pose : Pose; body : Body."""
    back, half = -body.wheelbase, body.rear_track / 2
    pen.line((0.0, 0.0), (back, 0.0), Ink(GREY, 3.0))
    pen.line((back, half), (back, -half), Ink(SOFT, 3.0))
    pen.line(tuple(pose.contacts[0]), tuple(pose.contacts[1]), Ink(SOFT, 3.0))
    wheels = [*zip(pose.contacts.tolist(), pose.steer.tolist(), strict=True), ((back, half), 0.0), ((back, -half), 0.0)]
    for place, heading in wheels:
        pen.wheel(tuple(place), heading, 2 * body.wheel_radius, 0.085, Ink(INK, 1.0, fill="#3A3A3A"))


def draw_support(pen: Pen, pose: Pose, body: Body, support: Support, turntable: bool) -> None:
    """What the car stands on, where its weight acts in the turn and how far that is from the edge, and the arm of a knock.

    pen : Pen; pose : Pose; body : Body; support : Support; turntable : whether the axle swings as a whole
    """
    pen.path(support.points[[0, 1, 3, 2]], Ink(GREY, 2.0, fill=PALE))
    draw_small_car(pen, pose, body)
    mass = (-body.front_arm, 0.0)
    pen.line(mass, support.edge, Ink(SOFT, 2.0, dash=5.0))
    pen.disc(mass, 0.05, Ink(INK, 2.0, fill=CARD))
    if support.load is not None:
        over = support.takes >= support.tips
        pen.line(mass, support.load, Ink(DANGER if over else INK, 5.0))
        pen.disc(support.load, 0.05, Ink(DANGER if over else INK, 1.0, fill=DANGER if over else INK))
    pivot = np.zeros(2) if turntable else pose.pins[0]
    pen.line(tuple(pivot), tuple(pose.contacts[0]), Ink(INK, 5.0))
    pen.disc(tuple(pivot), 0.035, Ink(INK, 1.5, fill=CARD))


def draw_hand_wheel(
    pen: Pen, centre: tuple[float, float], radius: float, hand: float, held: bool, stops: Sequence[float] = ()
) -> None:  # fmt: skip
    """The hand wheel as the driver sees it, on the page.

    pen : Pen of the page; centre, radius : [points]; hand : positive to the left [rad]; held : whether the mouse holds it
    stops : hand angles before which a stop belongs [rad]
    """
    pen.disc(centre, radius, Ink(INK, 9.0))
    pen.disc(centre, radius, Ink(CARD if held else GREY, 5.0))

    def on_rim(turn: float, reach: float) -> tuple[float, float]:
        # On the page y points down, so a turn to the left goes against the clock.
        return centre[0] + reach * cos(-np.pi / 2 - turn), centre[1] + reach * sin(-np.pi / 2 - turn)

    for stop in stops:
        if abs(stop) < SHOWN_ARC:
            turns = np.linspace(stop, np.copysign(min(abs(stop) + radians(40), SHOWN_ARC), stop), 12)
            pen.path(np.array([on_rim(turn, radius) for turn in turns]), Ink(DANGER, 8.0))
    for turn in (0.0, 2.2, -2.2):
        pen.line(centre, on_rim(hand + turn, radius - 3), Ink(INK if turn == 0.0 else GREY, 7.0 if turn == 0.0 else 4.0))
    pen.disc(centre, 0.18 * radius, Ink(INK, 2.0, fill=CARD))


def curve_of(built: Built) -> np.ndarray:
    """The error over the outer wheel's angle, (n, 2) [degrees].  built : Built."""
    return np.degrees(np.column_stack([built.outer, built.errors]))
