"""The page of the steering bench, and how it answers keys and mouse."""

from math import atan2, degrees, hypot, pi
from pathlib import Path

import numpy as np
import pygame

from sim.errors import InputError
from viz.replay.bench_model import KINDS, TURNTABLE, BenchModel, slip_losses
from viz.replay.bench_scene import (
    HANDLE, crossings, curve_of, draw_axles, draw_hand_wheel, draw_plan, draw_support, error_words,
)  # fmt: skip
from viz.replay.layout import BAR, GAP, point_size
from viz.replay.looks import BAD, BLUE, CARD, GOOD, GRID, INK, ORANGE, PAPER, SOFT, VERMILION
from viz.replay.panels import Hit, box
from viz.replay.pens import Ink, PygamePen, shortened, text_width
from viz.replay.run_data import Replay
from viz.replay.scene import MEETING, length_words
from viz.replay.view import Rect, View

LINE = 26.0  # [points] of a dial
PLAN_SPAN = (1.35, 0.92)  # [m] breadth and depth of ground in the plan
INSET_SPAN, WIDEST_INSET = 2.6, 9.0  # [m]
HAND_RADIUS = 62.0  # [points]
SLIP_TOP, ERROR_TOP = 6.0, 4.0  # [degrees] of the axes at least
TITLE, BODY, SMALL = Ink(INK, size=16.0, bold=True), Ink(INK, size=15.0), Ink(SOFT, size=14.0)
WHEEL_NAMES = ("front left", "front right", "rear left", "rear right")
HELP = "← → hand wheel   ↑ ↓ choose   + − change (Shift: × 10)   Tab linkage   N next set-up   R undo   0 straight"


class Bench:
    """The bench with what the mouse holds."""

    def __init__(self, replay: Replay, folder: Path | None = None) -> None:
        self.replay, self.model, self.body = replay, BenchModel(replay.scenario), replay.body
        self.folder = folder if folder is not None else Path.cwd()
        self.row, self.setup, self.message = 0, 0, ""
        self.held: int | str | None = None
        self.grip = 0.0  # angle on the page at which the mouse holds the hand wheel [rad]
        self.wanted: tuple[int, tuple[float, float]] | None = None
        self.hits: list[Hit] = []
        self.point, self.hand_centre, self.plan_view = 1.0, (0.0, 0.0), View.page(1.0)

    # --- Answers ---

    def key(self, event: pygame.event.Event) -> None:
        """Answer a key.  event : KEYDOWN."""
        many = 10.0 if event.mod & pygame.KMOD_SHIFT else 1.0
        model, dials = self.model, self.model.dials
        self.message = ""
        if event.key in (pygame.K_LEFT, pygame.K_RIGHT):
            model.turn_hand((1 if event.key == pygame.K_LEFT else -1) * model.hand_step * (0.2 if many > 1 else 1.0))
        elif event.key in (pygame.K_UP, pygame.K_DOWN):
            self.row = (self.row + (1 if event.key == pygame.K_DOWN else -1)) % len(dials)
        elif event.key in (pygame.K_EQUALS, pygame.K_PLUS, pygame.K_KP_PLUS):
            model.turn_dial(dials[self.row], many)
        elif event.key in (pygame.K_MINUS, pygame.K_KP_MINUS):
            model.turn_dial(dials[self.row], -many)
        elif event.key in (pygame.K_0, pygame.K_HOME):
            model.turn_hand(-model.hand)
        elif event.key == pygame.K_TAB:
            self.do("next kind" if many == 1 else "kind before")
        elif event.key == pygame.K_n:
            self.do("next setup")
        elif event.key == pygame.K_r:
            model.start_over()
        elif event.key == pygame.K_s:
            self.do("save")
        self.row = min(self.row, len(model.dials) - 1)

    def do(self, action: str) -> None:
        """Carry out a button's action.  action : its name."""
        model = self.model
        self.message = ""
        name, _, rest = action.partition(":")
        if name in ("next kind", "kind before"):
            model.choose_kind(KINDS[(KINDS.index(model.kind) + (1 if name == "next kind" else -1)) % len(KINDS)])
        elif name == "next setup":
            self.setup += 1
            model.choose_setup(self.setup)
        elif name == "save":
            try:
                self.message = f"Saved as {model.save(self.folder, self.replay.folder.name).name}"
            except InputError as error:
                self.message = str(error)
        elif name in ("row", "less", "more"):
            self.row = int(rest)
            if name != "row":
                model.turn_dial(model.dials[self.row], 1.0 if name == "more" else -1.0)
        self.row = min(self.row, len(model.dials) - 1)

    def mouse(self, kind: int, x: float, y: float, button: int) -> str:
        """Answer the mouse.  kind : of the event; x, y : [px]; button : its number.  Returns an action of the window, or ""."""
        px, py = x / self.point, y / self.point
        if kind == pygame.MOUSEBUTTONUP:
            self.held = None
        elif kind == pygame.MOUSEBUTTONDOWN and button == 1:
            return self._press(px, py)
        elif kind == pygame.MOUSEMOTION and self.held is not None:
            if self.held == "hand":
                angle = atan2(py - self.hand_centre[1], px - self.hand_centre[0])
                # On the page, angles grow with the clock; a turn to the left goes against it.
                self.model.turn_hand(-((angle - self.grip + pi) % (2 * pi) - pi))
                self.grip = angle
            elif isinstance(self.held, int):
                self.wanted = (self.held, self.plan_view.world(x, y))  # once a picture is enough
        return ""

    def _press(self, px: float, py: float) -> str:
        for rect, action in self.hits:
            if rect.holds(px, py):
                if action == "bench":
                    return action
                self.do(action)
                return ""
        joints = self.model.pose().joints
        if joints is not None:
            ahead, left = self.plan_view.world(px * self.point, py * self.point)
            apart = np.hypot(*(joints - (ahead, left)).T)
            if apart.min() < 2 * HANDLE:
                self.held = int(np.argmin(apart))
                return ""
        away = hypot(px - self.hand_centre[0], py - self.hand_centre[1])
        if away < HAND_RADIUS * 1.35:
            self.held, self.grip = "hand", atan2(py - self.hand_centre[1], px - self.hand_centre[0])
        return ""

    # --- The picture ---

    def draw(self, surface: pygame.Surface) -> None:
        """Draw the page.  surface : of any size."""
        if self.wanted is not None:
            self.model.arm_to(*self.wanted)
            self.wanted = None
        width, height = surface.get_size()
        p = self.point = point_size(width, height)
        surface.set_clip(None)
        surface.fill(PAPER)
        page, whole = PygamePen(surface, View.page(p)), Rect(0.0, 0.0, width / p, height / p)
        right, self.hits = 470.0, []
        left = whole.width - right - 3 * GAP
        tall = whole.height - BAR - 2 * GAP
        plan = Rect(GAP, GAP, left, 0.6 * tall)
        half = Rect(GAP, plan.y + plan.height + GAP, (left - GAP) / 2, tall - plan.height - GAP)
        self._plan(surface, page, plan)
        self._insets(surface, page, half)
        column = Rect(left + 2 * GAP, GAP, right, tall)
        below = self._dials(page, column)
        room = (column.y + column.height - below - GAP) / 2
        self._curve(surface, page, Rect(column.x, below, right, room))
        self._slips(surface, page, Rect(column.x, below + room + GAP, right, room))
        self._bar(page, Rect(0.0, whole.height - BAR, whole.width, BAR))
        surface.set_clip(None)

    def _plan(self, surface: pygame.Surface, page: PygamePen, rect: Rect) -> None:
        pose = self.model.pose()
        box(page, rect, CARD)
        scale = min(rect.width / PLAN_SPAN[0], (rect.height - 20) / PLAN_SPAN[1]) * (0.8 if self.model.kind == TURNTABLE else 1.0)
        self.plan_view = View.ground((rect.x + rect.width / 2, rect.y + 0.46 * rect.height), (0.0, 0.0), scale, self.point, 0.0)
        self.hand_centre = (rect.x + rect.width / 2, rect.y + rect.height - HAND_RADIUS - 14)
        draw_plan(PygamePen(surface, self.plan_view, rect), pose, self.body, self.model.kind == TURNTABLE,
                  self.held if isinstance(self.held, int) else None)  # fmt: skip
        draw_hand_wheel(page, self.hand_centre, HAND_RADIUS, pose.hand, self.held == "hand")
        side = "left" if pose.hand > 0 else "right" if pose.hand < 0 else ""
        beside = (self.hand_centre[0] + HAND_RADIUS + 14, self.hand_centre[1] + HAND_RADIUS - 8)
        page.text(beside, f"hand wheel {abs(degrees(pose.hand)):.0f}° {side}", BODY)
        words, colour = error_words(pose)
        page.text((rect.x + 14, rect.y + 20), words, Ink(colour, size=18.0, bold=True))
        if pose.joints is not None:
            page.text((rect.x + 14, rect.y + rect.height - 16), "Drag a white joint to move the arms", SMALL)
        note = self.model.problem or self.message
        if note:
            ink = Ink(BAD if self.model.problem else GOOD, size=15.0, bold=True, fill=CARD)
            page.text((rect.x + 14, rect.y + 44), shortened(note, ink, rect.width - 28, self.point), ink)

    def _insets(self, surface: pygame.Surface, page: PygamePen, rect: Rect) -> None:
        model, pose, car = self.model, self.model.pose(), self.body
        box(page, rect, CARD)
        found = crossings(pose, car.wheelbase)
        aside = 0.0 if found is None else (abs(found[0]) + abs(found[1])) / 2
        shown = min(aside, WIDEST_INSET) if aside < 1.6 * WIDEST_INSET else 0.0
        span = max(INSET_SPAN, shown + 1.6)
        scale = min((rect.width - 16) / span, (rect.height - 50) / 2.2)
        shift = (shown / 2 - 0.2 if shown > 1.0 else 0.0) * (1 if pose.turns_left else -1)
        middle = (-car.wheelbase / 2, shift)
        at = (rect.x + rect.width / 2, rect.y + 26 + (rect.height - 26) / 2)
        draw_axles(PygamePen(surface, View.ground(at, middle, scale, self.point, 0.0), rect), pose, car)
        if found is None:
            words, colour = "Axle lines: where do they meet?", INK
        elif abs(found[0] - found[1]) < MEETING:
            words, colour = f"Axle lines meet {aside:.1f} m beside the car", GOOD
        else:
            words, colour = f"Axle lines miss by {length_words(abs(found[0] - found[1]))}", BAD
        page.text((rect.x + 12, rect.y + 17), words, Ink(colour, size=16.0, bold=True, fill=CARD))
        other = rect._replace(x=rect.x + rect.width + GAP)
        box(page, other, CARD)
        points, tips = model.support(pose)
        scale = min((other.width - 16) / 2.6, (other.height - 46) / 2.15)
        view = View.ground((other.x + other.width / 2, at[1]), (-car.wheelbase / 2 + 0.1, 0.0), scale, self.point, 0.0)
        draw_support(PygamePen(surface, view, other), pose, car, points, model.kind == TURNTABLE, model.built.hub_arm)
        page.text((other.x + 12, other.y + 17), f"It stands on this; tips at {tips:.1f} m/s²", Ink(INK, size=16.0, bold=True, fill=CARD))

    def _dials(self, page: PygamePen, rect: Rect) -> float:
        """Returns where the next panel begins [points]."""
        model = self.model
        high = 36 + LINE * len(model.dials) + 6
        box(page, rect._replace(height=high), CARD)
        page.text((rect.x + 12, rect.y + 18), "steering:", BODY)
        name = Rect(rect.x + 92, rect.y + 5, 170, 26)
        box(page, name, "#33506B")
        page.text((name.x + name.width / 2, name.y + 13), f"{model.kind}  ⇥", Ink("#FFFFFF", size=15.0, bold=True, anchor="middle"))
        self.hits.append((name, "next kind"))
        setup = Rect(rect.x + 270, rect.y + 5, rect.width - 278, 26)
        box(page, setup, PAPER, SOFT)
        page.text((setup.x + 8, setup.y + 13), shortened(f"N {model.built.setup.name}", BODY, setup.width - 14, self.point), BODY)
        self.hits.append((setup, "next setup"))
        for index, dial in enumerate(model.dials):
            y = rect.y + 36 + LINE * index
            chosen = index == self.row
            if chosen:
                box(page, Rect(rect.x + 4, y, rect.width - 8, LINE), "#E3E9F0")
            ink = BODY._replace(bold=chosen)
            page.text((rect.x + 12, y + LINE / 2), ("▸ " if chosen else "   ") + dial.label, ink)
            decimals = 0 if dial.step >= 1 else 2 if dial.step < 0.1 else 1
            words = f"{model.value(dial):.{decimals}f} {dial.unit}"
            page.text((rect.x + rect.width - 84, y + LINE / 2), words, ink._replace(anchor="right"))
            for label, place, action in (("−", rect.width - 70, "less"), ("+", rect.width - 38, "more")):
                knob = Rect(rect.x + place, y + 2, 28, LINE - 4)
                box(page, knob, PAPER, SOFT)
                page.text((knob.x + 14, knob.y + knob.height / 2), label, BODY._replace(anchor="middle"))
                self.hits.append((knob, f"{action}:{index}"))
            self.hits.append((Rect(rect.x, y, rect.width - 74, LINE), f"row:{index}"))
        return rect.y + high + GAP

    def _curve(self, surface: pygame.Surface, page: PygamePen, rect: Rect) -> None:
        """Error of the inner wheel over the outer wheel's angle."""
        box(page, rect, CARD)
        page.text((rect.x + 12, rect.y + 15), "Inner wheel's error, over the outer's angle", Ink(INK, size=15.0, bold=True))
        plot = Rect(rect.x + 52, rect.y + 30, rect.width - 70, rect.height - 56)
        curve = curve_of(self.model.built)
        wide = max(abs(curve[0, 0]), abs(curve[-1, 0]))
        # Next to a lock the error may have no bound; the axis serves what is driven.
        top = max(ERROR_TOP, 2 * np.ceil(0.65 * np.percentile(np.abs(curve[:, 1]), 80)))
        view = View.plot(plot, (-wide, wide), (-top, top), self.point)
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
        start = curve_of(self.model.start)
        if self.model.start is not self.model.built:
            pen.path(start, Ink(SOFT, 1.5, dash=6.0))
            page.text((rect.x + rect.width - 12, rect.y + 15), "dashed: before", SMALL._replace(anchor="right"))
        pen.path(curve, Ink(BLUE, 3.0))
        pose = self.model.pose()
        outer = degrees(float(pose.steer[1 if pose.turns_left else 0]))
        error = float(np.interp(self.model.hand, np.linspace(self.model.built.steering.lock_right, self.model.built.steering.lock_left,
                                                             len(curve)), curve[:, 1]))  # fmt: skip
        pen.line((outer, -top), (outer, top), Ink(INK, 1.5))
        x, y = view.screen((outer, min(max(error, -top), top)))
        page.disc((x / self.point, y / self.point), 5.0, Ink(INK, 1.5, fill=VERMILION))

    def _slips(self, surface: pygame.Surface, page: PygamePen, rect: Rect) -> None:
        """Slip angles of the steady turn, and its rubbing power beside that of ideal steering."""
        box(page, rect, CARD)
        model, (turn, ideal) = self.model, self.model.steady()
        title = f"Steady left turn, {model.radius:g} m"
        page.text((rect.x + 12, rect.y + 15), title, Ink(INK, size=15.0, bold=True))
        if not turn.converged:
            page.text((rect.x + 12, rect.y + 42), f"No steady turn: {turn.reason}", Ink(BAD, size=15.0, bold=True))
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

    def _bar(self, page: PygamePen, rect: Rect) -> None:
        box(page, rect, "#D9D6CD")
        x = rect.x + rect.width - 8
        for label, action in (("Replay B", "bench"), ("Save S", "save")):
            wide = text_width(label, BODY, self.point) + 20
            x -= wide
            place = Rect(x, rect.y + 7, wide, rect.height - 14)
            box(page, place, CARD, SOFT)
            page.text((x + wide / 2, rect.y + rect.height / 2), label, BODY._replace(anchor="middle"))
            self.hits.append((place, action))
            x -= 6
        page.text((rect.x + 12, rect.y + rect.height / 2), shortened(HELP, SMALL, x - rect.x - 20, self.point), SMALL)
