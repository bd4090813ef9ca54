"""The two plots of the steering bench: the inner wheel's error, and the slip of the turn that the hand wheel sets."""

from math import degrees

import numpy as np

from viz.replay.bench.model import RADII, BenchModel, slip_losses
from viz.replay.bench.scene import GREY, TEXT, WATTS, curve_of
from viz.replay.looks import CARD, GRID, INK, SOFT, Look
from viz.replay.panels import box, sign
from viz.replay.pens import Ink, PygamePen, text_width, wrapped
from viz.replay.quiet import pygame
from viz.replay.view import Rect, View

SLIP_TOP, ERROR_TOP = 6.0, 4.0  # [degrees] of the axes at least
WHEEL_NAMES = ("front left", "front right", "rear left", "rear right")
LABEL, TITLE = Ink(INK, size=TEXT), Ink(INK, size=TEXT, bold=True)
IDEAL = Ink(INK, 2.0)
ASIDE = 20.0  # [points] from a curve to the middle of its word
FINE = 3  # places of a curve between two of its samples, that a word beside it may not cover


def draw_curve(surface: pygame.Surface, page: PygamePen, rect: Rect, model: BenchModel, look: Look) -> None:
    """Error of the inner wheel over the outer wheel's angle.  surface : that of the page; rect : [points]; look : of the set-up."""
    box(page, rect, CARD)
    plot = Rect(rect.x + 66, rect.y + 36, rect.width - 80, rect.height - 68)
    curve = curve_of(model.built)
    wide = max(abs(curve[0, 0]), abs(curve[-1, 0]))
    # Next to a lock the error may have no bound; the axis serves what is driven.
    top = max(ERROR_TOP, 2 * np.ceil(0.65 * np.percentile(np.abs(curve[:, 1]), 80)))
    point = page.view.point
    view = View.plot(plot, (-wide, wide), (-top, top), point)
    pen = PygamePen(surface, view, plot)
    for value in (-top, -top / 2, 0.0, top / 2, top):
        pen.line((-wide, value), (wide, value), IDEAL if value == 0 else Ink(GRID, 1.0))
    for value in (-top, 0.0, top):
        y = plot.y + plot.height * (1 - (value + top) / (2 * top))
        page.text((plot.x - 6, y), f"{value:+.0f}°" if value else "ideal", LABEL._replace(anchor="right"))
    for value in range(-60, 61, 20 if wide < 50 else 30):
        words = f"{value}° left" if value > 0 else f"{-value}° right" if value else "0°"
        x, half = plot.x + plot.width * (value + wide) / (2 * wide), text_width(words, LABEL, point) / 2
        if plot.x <= x - half and x + half <= plot.x + plot.width:
            page.text((x, plot.y + plot.height + 15), words, LABEL._replace(colour=SOFT, anchor="middle"))
    pose, steering = model.pose(), model.built.steering
    outer = degrees(float(pose.steer[1 if pose.turns_left else 0]))
    pen.line((outer, -top), (outer, top), Ink(GREY, 2.0))
    title = "Inner wheel's error by the outer's angle"
    if model.changed:
        old = curve_of(model.start)
        pen.path(old, Ink(look.colour, 2.0, dash=6.0))
        if not _name_old(pen, old, curve):
            title = "Inner wheel's error"  # which leaves room for what the dashes are
            page.text((rect.x + rect.width - 12, rect.y + 15), "dashed: before", LABEL._replace(anchor="right"))
    page.text((rect.x + 12, rect.y + 15), title, TITLE)
    pen.path(curve, Ink(look.colour, 3.0))
    error = float(np.interp(model.hand, np.linspace(steering.lock_right, steering.lock_left, len(curve)), curve[:, 1]))
    x, y = view.screen((outer, min(max(error, -top), top)))
    sign(page, look, x / point, y / point, 6.5)


def _name_old(pen: PygamePen, old: np.ndarray, curve: np.ndarray) -> bool:
    """Says beside the old curve that it is the one from before, where the two lie far apart and the word covers neither; if it can."""
    fine = np.linspace(0, len(old) - 1, FINE * len(old))
    lines = [np.column_stack([np.interp(fine, np.arange(len(one)), side) for side in one.T]) for one in (old, curve)]
    point, places = pen.view.point, pen.view.screens(old)
    covered = np.concatenate([pen.view.screens(line) for line in lines])
    half = np.array([text_width("before", LABEL, point) / 2 + 4, 0.6 * TEXT]) * point
    clip = np.array([[pen.clip.left, pen.clip.top], [pen.clip.right, pen.clip.bottom]])
    apart = np.abs(old[:, 1] - np.interp(old[:, 0], curve[:, 0], curve[:, 1]))
    middles = (places[np.argsort(-apart), None] + np.array([(0.0, ASIDE * point), (0.0, -ASIDE * point)])).reshape(-1, 2)
    middles = middles[((middles - half >= clip[0]) & (middles + half <= clip[1])).all(axis=1)]
    free = ~(np.abs(covered - middles[:, None]) < half).all(axis=2).any(axis=1)
    if not free.any():
        return False
    pen.text(pen.view.world(*middles[int(np.argmax(free))].tolist()), "before", LABEL._replace(fill=CARD, anchor="middle"))
    return True


def draw_slips(page: PygamePen, rect: Rect, model: BenchModel, look: Look) -> None:
    """Slip angles of the turn, and its rubbing power beside that of ideal steering and of the set-up before.

    page : PygamePen of the page; rect : [points]; model : BenchModel; look : of the set-up
    """
    box(page, rect, CARD)
    turn, point, radius = model.turn, page.view.point, model.radius
    if not turn.own.converged:
        page.text((rect.x + 12, rect.y + 16), f"At {model.speed:.1f} m/s", TITLE)
        ink = TITLE._replace(size=20.0)
        words = wrapped(f"✗ No steady turn: {turn.own.reason}", ink, rect.width - 24, point)
        page.text((rect.x + 12, rect.y + 44 + 12 * words.count("\n")), words, ink)
        return
    where = "Straight ahead" if radius > RADII[1] else f"Turn to the {'left' if turn.curvature > 0 else 'right'}, radius {radius:.1f} m"
    page.text((rect.x + 12, rect.y + 16), f"{where}, {model.speed:.1f} m/s", TITLE)
    slips, losses = np.degrees(np.arctan(turn.own.slips)), slip_losses(turn.own)
    power = Ink(INK, size=WATTS, bold=True)
    words = watts(losses.sum())
    page.text((rect.x + 12, rect.y + 48), words, power)
    beside = rect.x + 24 + text_width(words, power, point)
    told = [f"{name} {watts(slip_losses(one).sum())}" for name, one in (("ideal", turn.ideal), ("before", turn.before))
            if one is not None and one.converged]  # fmt: skip
    page.text((beside, rect.y + 39), "rubbed away, steady turn" if turn.curvature else "rubbed away", LABEL)
    page.text((beside, rect.y + 59), ", ".join(told), LABEL)
    top, first = max(SLIP_TOP, float(np.abs(slips).max())), 94.0
    step, middle, half = (rect.height - first - 4) / 4, rect.x + 116 + (rect.width - 270) / 2, (rect.width - 270) / 2
    page.text((rect.x + 12, rect.y + 82), "slip angle", LABEL._replace(colour=SOFT))
    for value in (-int(top), 0, int(top)):
        x = middle - half * value / top
        page.line((x, rect.y + first), (x, rect.y + rect.height - 4), Ink(GRID, 1.0))
        page.text((x, rect.y + 82), f"{abs(value)}°", LABEL._replace(colour=SOFT, anchor="middle"))
    for i, name in enumerate(WHEEL_NAMES):
        y = rect.y + first + step * (i + 0.5)
        page.text((rect.x + 12, y), name, LABEL)
        long = half * abs(float(slips[i])) / top
        box(page, Rect(middle - long if slips[i] > 0 else middle, y - 0.3 * step, max(long, 1.0), 0.6 * step), look.colour, INK)
        page.text((rect.x + rect.width - 84, y), f"{abs(slips[i]):.1f}°", LABEL._replace(anchor="right"))
        page.text((rect.x + rect.width - 12, y), watts(losses[i]), LABEL._replace(anchor="right"))
    page.line((middle, rect.y + first), (middle, rect.y + rect.height - 4), IDEAL)


def watts(power: float) -> str:
    """A power in words.  power : [W]."""
    return f"{power:.1f} W" if power < 99.95 else f"{power:.0f} W"
