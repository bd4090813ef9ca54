"""What the steering bench draws, in metres from the middle of the front axle: x ahead, y left."""

from math import cos, degrees, hypot, isfinite, sin

import numpy as np

from sim.linkages.pivots import SIGNS
from sim.steering.arrangement import Steering
from viz.replay.bench.model import Built, Pose
from viz.replay.looks import BAD, BLUE, CARD, FAINT, GOOD, GREEN, INK, ORANGE, PURPLE, SKY, SOFT
from viz.replay.pens import Ink, Pen
from viz.replay.run_data import Body
from viz.replay.scene import FAR
from viz.shared.axle_lines import MEETING, NARROW, rear_crossing

TURNING = np.radians(1.5)  # steer below which the lines meet too far away to be drawn
CAUTION_BEFORE = np.radians(5)  # between rod and arm, before the usable lock ends: early enough to stop the hand.  A judgement.
HANDLE = 0.022  # [m] radius of a joint that can be dragged
ARM, ROD = Ink(BLUE, 7.0), Ink(ORANGE, 6.0)


def draw_plan(pen: Pen, pose: Pose, body: Body, turntable: bool, held: int | None) -> None:
    """Front axle, wheels, arms and rods from above.

    pen : Pen; pose : Pose; body : Body; turntable : whether the axle swings as a whole; held : side of the joint that is being dragged
    """
    pen.line((0.35, 0.0), (-1.0, 0.0), Ink(FAINT, 1.0, dash=8.0))
    beam = Ink(SOFT, 7.0)
    if turntable:
        pen.line(tuple(pose.contacts[0]), tuple(pose.contacts[1]), beam)
        pen.disc((0.0, 0.0), 0.05, Ink(INK, 2.0, fill="#F4F2EC"))
        pen.disc((0.0, 0.0), 0.012, Ink(INK, 1.0, fill=INK))
    else:
        pen.line(tuple(pose.pins[0]), tuple(pose.pins[1]), beam)
    for side in (0, 1):
        centre, heading = pose.contacts[side], float(pose.steer[side])
        pen.line(tuple(pose.pins[side]), tuple(centre), beam)
        pen.wheel(tuple(centre), heading, 2 * body.wheel_radius, body.tyre_width, Ink(INK, 1.0, fill="#3A3A3A"))
        ahead = np.array([cos(heading), sin(heading)])
        pen.line(tuple(centre + body.wheel_radius * ahead), tuple(centre + 1.5 * body.wheel_radius * ahead), Ink(INK, 2.0))
        straight = centre + 1.5 * body.wheel_radius * np.array([1.0, 0.0])
        pen.line(tuple(centre), tuple(straight), Ink(FAINT, 1.5, dash=5.0))
    for a, b in pose.rods:
        pen.line(tuple(a), tuple(b), ROD)
    for a, b in pose.bars:
        pen.line(tuple(a), tuple(b), Ink(GREEN, 9.0))
        for end in (a, b):
            pen.disc(tuple(end), 0.014, Ink(INK, 1.5, fill=GREEN))
    if pose.joints is not None:
        for side in (0, 1):
            pen.line(tuple(pose.pins[side]), tuple(pose.joints[side]), ARM)
            pen.disc(tuple(pose.joints[side]), HANDLE, Ink(INK, 2.0, fill=PURPLE if held == side else CARD))
    if not turntable:
        for pin in pose.pins:
            pen.disc(tuple(pin), 0.016, Ink(INK, 1.5, fill=CARD))
    for side, name in enumerate(("left", "right")):
        x, y = pose.contacts[side]
        place, anchor = (x - 1.28 * body.wheel_radius, y), "middle"
        if turntable:  # whose wheels come near to the hand wheel: the words stand outside
            place, anchor = (x - 0.6 * body.wheel_radius, y + 0.1 * SIGNS[side]), ("right", "left")[side]
        words = f"{name} {abs(degrees(float(pose.steer[side]))):.1f}°"
        pen.text(place, words, Ink(INK, fill=CARD, size=16.0, bold=True, anchor=anchor))


def error_words(pose: Pose) -> tuple[str, str]:
    """How the inner wheel stands to its ideal, in words, and the colour to say it in.  pose : Pose."""
    if min(abs(pose.steer[0]), abs(pose.steer[1])) < TURNING:
        return "Turn the hand wheel: drag it, or press ← and →", SOFT
    side = "left" if pose.turns_left else "right"
    off = abs(degrees(pose.error))
    if off < 0.05:
        return f"Ideal: the inner ({side}) wheel turns just as it should", GOOD
    more = "too much" if pose.error > 0 else "too little"
    return f"The inner ({side}) wheel should turn {abs(degrees(pose.ideal_inner)):.1f}°: it turns {off:.1f}° {more}", BAD


def stop_words(steering: Steering, hand: float) -> str:
    """Why the hand wheel goes no further, empty between the locks.  steering : Steering; hand : [rad]."""
    if hand >= steering.lock_left:
        return f"It stops here: {steering.lock_left_cause}"
    if hand <= steering.lock_right:
        return f"It stops here: {steering.lock_right_cause}"
    return ""


def line_words(pose: Pose) -> str:
    """A caution where a rod and its arm come near the angle at which the usable lock ends, empty elsewhere.  pose : Pose."""
    if pose.rod_angles is None or pose.rod_angles.min() >= pose.least_rod_angle + CAUTION_BEFORE:
        return ""
    side, angle = ("left", "right")[int(np.argmin(pose.rod_angles))], degrees(pose.rod_angles.min())
    return f"Caution: {side} rod {angle:.0f}° from in line with its arm; further on it can snap over. Fit a stop here, mind fingers."


def knock_words(arm: float) -> str:
    """On what arm a knock on the left wheel pulls, empty where it is not known.  arm : [m]."""
    return f"A knock on a front wheel pulls on an arm of {arm * 1000:.0f}{NARROW}mm" if isfinite(arm) else ""


def crossings(pose: Pose, wheelbase: float) -> tuple[float, float] | None:
    """Where the front axle lines cross the rear axle's line, left of the middle; None nearly straight ahead.

    pose : Pose; wheelbase : [m]
    Returns (of the left wheel, of the right wheel) [m].
    """
    if min(abs(pose.steer[0]), abs(pose.steer[1])) < TURNING or pose.steer[0] * pose.steer[1] < 0:
        return None
    left, right = (rear_crossing(pose.contacts[i, 1], pose.contacts[i, 0] + wheelbase, pose.steer[i]) for i in (0, 1))
    return left, right


def draw_axles(pen: Pen, pose: Pose, body: Body) -> None:
    """The whole car with its long axle lines and where they meet or miss.  pen : Pen; pose : Pose; body : Body."""
    back = -body.wheelbase
    pen.line((back, FAR), (back, -FAR), Ink(SOFT, 1.75, dash=8.0))
    for side in (0, 1):
        aside = np.array([-sin(pose.steer[side]), cos(pose.steer[side])]) * FAR
        pen.line(tuple(pose.contacts[side] + aside), tuple(pose.contacts[side] - aside), Ink(BLUE, 1.75))
    draw_small_car(pen, pose, body)
    found = crossings(pose, body.wheelbase)
    if found is None:
        return
    if abs(found[0] - found[1]) < MEETING:
        pen.disc((back, sum(found) / 2), 0.16, Ink(GOOD, 3.0))
        return
    pen.line((back, found[0]), (back, found[1]), Ink(BAD, 5.0))
    for at in found:
        for turn in (0.12, -0.12):
            pen.line((back - 0.12, at - turn), (back + 0.12, at + turn), Ink(BAD, 3.0))


def draw_small_car(pen: Pen, pose: Pose, body: Body) -> None:
    """Wheels and axles.  pen : Pen; pose : Pose; body : Body."""
    back, half = -body.wheelbase, body.rear_track / 2
    pen.line((0.0, 0.0), (back, 0.0), Ink(FAINT, 3.0))
    pen.line((back, half), (back, -half), Ink(SOFT, 3.0))
    pen.line(tuple(pose.contacts[0]), tuple(pose.contacts[1]), Ink(SOFT, 3.0))
    wheels = [*zip(pose.contacts.tolist(), pose.steer.tolist(), strict=True), ((back, half), 0.0), ((back, -half), 0.0)]
    for place, heading in wheels:
        pen.wheel(tuple(place), heading, 2 * body.wheel_radius, 0.085, Ink(INK, 1.0, fill="#3A3A3A"))


def draw_support(pen: Pen, pose: Pose, body: Body, points: np.ndarray, edge: tuple[float, float], turntable: bool) -> None:
    """What the car stands on, how near its mass centre is to the edge, and the arm on which a knock pulls.

    pen : Pen; pose : Pose; body : Body; points : (4, 2) contact points, front left, front right, rear left, rear right [m]
    edge : where a line from the turn's centre through the mass centre leaves what the car stands on [m]
    turntable : whether the axle swings as a whole
    """
    pen.path(points[[0, 1, 3, 2]], Ink(SKY, 2.0, fill="#DCEDF8"))
    draw_small_car(pen, pose, body)
    mass, outer = (-body.front_arm, 0.0), (1 if pose.turns_left else 0)
    pen.line(mass, edge, Ink(GREEN, 4.0))
    pen.disc(mass, 0.05, Ink(INK, 2.0, fill=CARD))
    outside = -0.08 if outer else 0.08
    words = f"{hypot(edge[0] - mass[0], edge[1]) * 1000:.0f} mm\nto the\nedge"
    pen.text((edge[0], edge[1] + outside), words, Ink(GOOD, fill=CARD, size=14.0, anchor="left" if outer else "right"))
    pivot = np.zeros(2) if turntable else pose.pins[0]
    pen.line(tuple(pivot), tuple(pose.contacts[0]), Ink(BAD, 5.0))
    pen.disc(tuple(pivot), 0.035, Ink(INK, 1.5, fill=CARD))


def draw_hand_wheel(pen: Pen, centre: tuple[float, float], radius: float, hand: float, held: bool) -> None:
    """The hand wheel as the driver sees it, on the page.

    pen : Pen of the page; centre, radius : [points]; hand : positive to the left [rad]; held : whether the mouse holds it
    """
    pen.disc(centre, radius, Ink(INK, 9.0))
    pen.disc(centre, radius, Ink(PURPLE if held else SOFT, 5.0))
    # On the page y points down, so a turn to the left goes against the clock.
    for turn in (0.0, 2.2, -2.2):
        angle = -np.pi / 2 - hand + turn
        end = (centre[0] + (radius - 3) * cos(angle), centre[1] + (radius - 3) * sin(angle))
        pen.line(centre, end, Ink(BAD if turn == 0.0 else SOFT, 5.0))
    pen.disc(centre, 0.18 * radius, Ink(INK, 2.0, fill=CARD))


def curve_of(built: Built) -> np.ndarray:
    """The error over the outer wheel's angle, (n, 2) [degrees].  built : Built."""
    return np.degrees(np.column_stack([built.outer, built.errors]))
