"""The page of the steering bench, and how it answers keys and mouse."""

from math import atan2, degrees, hypot, pi
from pathlib import Path

import numpy as np

from sim.errors import InputError
from viz.replay.bench.help import draw_bench_help
from viz.replay.bench.model import KINDS, TURNTABLE, BenchModel
from viz.replay.bench.plots import draw_curve, draw_slips
from viz.replay.bench.scene import (
    HANDLE,
    crossings,
    draw_axles,
    draw_hand_wheel,
    draw_plan,
    draw_support,
    error_words,
    knock_words,
    line_words,
    stop_words,
)  # fmt: skip
from viz.replay.layout import BAR, GAP, point_size
from viz.replay.looks import BAD, CARD, GOOD, INK, PAPER, SOFT
from viz.replay.panels import BODY, SMALL, Hit, box
from viz.replay.pens import Ink, PygamePen, shortened, text_width, wrapped
from viz.replay.quiet import pygame
from viz.replay.run_data import Replay
from viz.replay.scene import danger_words, miss_words
from viz.replay.view import Rect, View
from viz.shared.axle_lines import MEETING

LINE = 26.0  # [points] of a dial
PLAN_SPAN = (1.35, 0.92)  # [m] breadth and depth of ground in the plan
INSET_SPAN, WIDEST_INSET = 2.6, 9.0  # [m]
HAND_RADIUS = 62.0  # [points]
TITLE = Ink(INK, size=16.0, bold=True, fill=CARD)
HELP = "← → hand wheel   ↑ ↓ choose   + − change   Tab linkage   N next set-up   R undo   0 straight"
HELP_KEYS = (pygame.K_h, pygame.K_F1, pygame.K_QUESTION)


class Bench:
    """The bench with what the mouse holds."""

    def __init__(self, replay: Replay, folder: Path | None = None, first: int = 0) -> None:
        self.replay, self.model, self.body = replay, BenchModel(replay.scenario, first), replay.body
        self.folder = folder if folder is not None else Path.cwd()
        self.row, self.setup, self.message, self.help = 0, first, "", False
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
        elif event.key in HELP_KEYS:
            self.do("help")
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
        elif name == "help":
            self.help = not self.help
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
        elif kind == pygame.MOUSEBUTTONDOWN and button == 1 and self.help:
            self.help = False
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
        draw_curve(surface, page, Rect(column.x, below, right, room), self.model)
        draw_slips(page, Rect(column.x, below + room + GAP, right, room), self.model)
        self._bar(page, Rect(0.0, whole.height - BAR, whole.width, BAR))
        if self.help:
            draw_bench_help(page, whole)
        surface.set_clip(None)

    def _plan(self, surface: pygame.Surface, page: PygamePen, rect: Rect) -> None:
        pose = self.model.pose()
        box(page, rect, CARD)
        scale = min(rect.width / PLAN_SPAN[0], (rect.height - 20) / PLAN_SPAN[1]) * (0.7 if self.model.kind == TURNTABLE else 1.0)
        self.plan_view = View.ground((rect.x + rect.width / 2, rect.y + 0.5 * rect.height), (0.0, 0.0), scale, self.point, 0.0)
        self.hand_centre = (rect.x + rect.width / 2, rect.y + rect.height - HAND_RADIUS - 14)
        draw_plan(PygamePen(surface, self.plan_view, rect), pose, self.body, self.model.kind == TURNTABLE,
                  self.held if isinstance(self.held, int) else None)  # fmt: skip
        draw_hand_wheel(page, self.hand_centre, HAND_RADIUS, pose.hand, self.held == "hand")
        side = "left" if pose.hand > 0 else "right" if pose.hand < 0 else ""
        beside = (self.hand_centre[0] + HAND_RADIUS + 14, self.hand_centre[1] + HAND_RADIUS - 8)
        PygamePen(surface, View.page(self.point), rect).text(beside, f"hand wheel {abs(degrees(pose.hand)):.0f}° {side}", BODY)
        words, colour = error_words(pose)
        y = self._lines(page, rect, rect.y + 20, words, Ink(colour, size=18.0, bold=True, fill=CARD))
        for words, colour in (
            (stop_words(self.model.built.steering, pose.hand), INK),
            (danger_words(self.model.built.dangers), BAD),
            (line_words(pose), BAD),
        ):
            y = self._lines(page, rect, y, words, Ink(colour, size=14.0, bold=True, fill=CARD))
        if pose.joints is not None:
            hint = wrapped("Drag a white joint to move the arms", SMALL, rect.width / 2 - HAND_RADIUS - 28, self.point)
            page.text((rect.x + 14, rect.y + rect.height - 16), hint, SMALL)
        note = self.model.problem or self.message
        if note:
            ink = Ink(BAD if self.model.problem else GOOD, size=15.0, bold=True, fill=CARD)
            self._lines(page, rect, y, note, ink)

    def _lines(self, page: PygamePen, rect: Rect, y: float, words: str, ink: Ink) -> float:
        """Words at the left of a panel, in as many lines as they need.  y : middle of the first.  Returns that of the next [points]."""
        for line in wrapped(words, ink, rect.width - 28, self.point).split("\n") if words else ():
            page.text((rect.x + 14, y), line, ink)
            y += 1.35 * ink.size
        return y

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
            words, colour = miss_words(abs(found[0] - found[1])), BAD
        self._lines(page, rect, rect.y + 17, words, TITLE._replace(colour=colour))
        other = rect._replace(x=rect.x + rect.width + GAP)
        box(page, other, CARD)
        points, edge, tips = model.support(pose)
        y = self._lines(page, other, other.y + 17, f"It stands on this; tips at {tips:.1f} m/s²", TITLE)
        top = self._lines(page, other, y, knock_words(model.built.hub_arm), Ink(BAD, size=14.0, bold=True)) - 8
        low = other.y + other.height
        scale = min((other.width - 16) / 2.0, (low - top - 8) / (car.wheelbase + 2.6 * car.wheel_radius))
        view = View.ground((other.x + other.width / 2, (top + low) / 2), (-car.wheelbase / 2, 0.0), scale, self.point, 0.0)
        draw_support(PygamePen(surface, view, other), pose, car, points, edge, model.kind == TURNTABLE)

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

    def _bar(self, page: PygamePen, rect: Rect) -> None:
        box(page, rect, "#D9D6CD")
        x = rect.x + rect.width - 8
        for label, action in (("Help H", "help"), ("Replay B", "bench"), ("Save S", "save")):
            wide = text_width(label, BODY, self.point) + 20
            x -= wide
            place = Rect(x, rect.y + 7, wide, rect.height - 14)
            box(page, place, CARD, SOFT)
            page.text((x + wide / 2, rect.y + rect.height / 2), label, BODY._replace(anchor="middle"))
            self.hits.append((place, action))
            x -= 6
        page.text((rect.x + 12, rect.y + rect.height / 2), shortened(HELP, SMALL, x - rect.x - 20, self.point), SMALL)
