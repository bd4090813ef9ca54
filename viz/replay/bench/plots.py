"""The two plots of the steering bench: the inner wheel's error, and the slip of a steady turn."""

from math import degrees

import numpy as np

from viz.replay.bench.model import BenchModel, slip_losses
from viz.replay.bench.scene import curve_of
from viz.replay.looks import BAD, BLUE, CARD, GOOD, GRID, INK, ORANGE, SOFT, VERMILION
from viz.replay.panels import BODY, SMALL, box
from viz.replay.pens import Ink, PygamePen, wrapped
from viz.replay.quiet import pygame
from viz.replay.view import Rect, View

SLIP_TOP, ERROR_TOP = 6.0, 4.0  # [degrees] of the axes at least
WHEEL_NAMES = ("front left", "front right", "rear left", "rear right")
PLOT_TITLE, BEFORE = Ink(INK, size=15.0, bold=True), Ink(SOFT, 1.5, dash=6.0)


def draw_curve(surface: pygame.Surface, page: PygamePen, rect: Rect, model: BenchModel) -> None:
    """Error of the inner wheel over the outer wheel's angle.  surface : that of the page; rect : [points]."""
    box(page, rect, CARD)
    page.text((rect.x + 12, rect.y + 15), "Inner wheel's error, over the outer's angle", PLOT_TITLE)
    plot = Rect(rect.x + 52, rect.y + 30, rect.width - 70, rect.height - 56)
    curve = curve_of(model.built)
    wide = max(abs(curve[0, 0]), abs(curve[-1, 0]))
    # Next to a lock the error may have no bound; the axis serves what is driven.
    top = max(ERROR_TOP, 2 * np.ceil(0.65 * np.percentile(np.abs(curve[:, 1]), 80)))
    point = page.view.point
    view = View.plot(plot, (-wide, wide), (-top, top), point)
    pen = PygamePen(surface, view, plot)
    for value in (-top, -top / 2, 0.0, top / 2, top):
        pen.line((-wide, value), (wide, value), Ink(GOOD, 2.0) if value == 0 else Ink(GRID, 1.0))
        y = plot.y + plot.height * (1 - (value + top) / (2 * top))
        page.text((plot.x - 6, y), f"{value:+.0f}°" if value else "ideal", SMALL._replace(anchor="right"))
    for value in range(-60, 61, 20 if wide < 50 else 30):
        if abs(value) < 0.93 * wide:
            side = " right" if value < 0 else " left" if value > 0 else ""
            x = plot.x + plot.width * (value + wide) / (2 * wide)
            page.text((x, plot.y + plot.height + 13), f"{abs(value)}°{side}", SMALL._replace(anchor="middle"))
    if model.start is not model.built:
        pen.path(curve_of(model.start), BEFORE)
        right = rect.x + rect.width - 12
        page.text((right, rect.y + 15), "before", SMALL._replace(anchor="right"))
        page.line((right - 80, rect.y + 15), (right - 54, rect.y + 15), BEFORE)
    pen.path(curve, Ink(BLUE, 3.0))
    pose, steering = model.pose(), model.built.steering
    outer = degrees(float(pose.steer[1 if pose.turns_left else 0]))
    error = float(np.interp(model.hand, np.linspace(steering.lock_right, steering.lock_left, len(curve)), curve[:, 1]))
    pen.line((outer, -top), (outer, top), Ink(INK, 1.5))
    x, y = view.screen((outer, min(max(error, -top), top)))
    page.disc((x / point, y / point), 5.0, Ink(INK, 1.5, fill=VERMILION))


def draw_slips(page: PygamePen, rect: Rect, model: BenchModel) -> None:
    """Slip angles of the steady turn, and its rubbing power beside that of ideal steering.  rect : [points]."""
    box(page, rect, CARD)
    turn, ideal = model.steady()
    page.text((rect.x + 12, rect.y + 15), f"Steady left turn, {model.radius:g} m", PLOT_TITLE)
    if not turn.converged:
        ink = Ink(BAD, size=15.0, bold=True)
        page.text((rect.x + 12, rect.y + 42), wrapped(f"No steady turn: {turn.reason}", ink, rect.width - 24, page.view.point), ink)
        return
    slips, losses = np.degrees(np.arctan(turn.slips)), slip_losses(turn)
    words = f"rubs {losses.sum():.1f} W" + (f", ideal {slip_losses(ideal).sum():.1f} W" if ideal.converged else "")
    page.text((rect.x + rect.width - 12, rect.y + 15), words, Ink(BAD, size=15.0, bold=True, anchor="right"))
    top = max(SLIP_TOP, float(np.abs(slips).max()))
    step, middle = (rect.height - 34) / 4, rect.x + 100 + (rect.width - 200) / 2
    for i, name in enumerate(WHEEL_NAMES):
        y = rect.y + 28 + step * (i + 0.5)
        page.text((rect.x + 12, y), name, BODY)
        long = (rect.width - 200) / 2 * abs(slips[i]) / top
        start = middle - long if slips[i] > 0 else middle
        box(page, Rect(start, y - 0.3 * step, max(long, 1.0), 0.6 * step), ORANGE if i < 2 else "#B9B4A8", INK)
        page.text((rect.x + rect.width - 12, y), f"{abs(slips[i]):.1f}°  {losses[i]:.1f} W", BODY._replace(anchor="right"))
    page.line((middle, rect.y + 28), (middle, rect.y + rect.height - 6), Ink(INK, 1.5))
