"""The page of the steering bench, and how it answers keys and mouse."""

from math import atan2, degrees, hypot, pi, radians, sin
from pathlib import Path

import numpy as np

from sim.errors import InputError
from viz.replay.bench.help import draw_bench_help
from viz.replay.bench.model import RADIUS, SPEED, TURNTABLE, BenchModel, Dial, Pose, tightest_bend
from viz.replay.bench.plots import LABEL, TITLE, draw_curve, draw_slips
from viz.replay.bench.scene import (
    CAPTION,
    DANGER,
    HANDLE,
    MEETING,
    TEXT,
    axle_views,
    bench_danger,
    bench_look,
    cost_words,
    crossings,
    draw_axles,
    draw_hand_wheel,
    draw_plan,
    draw_support,
    error_words,
    knock_words,
    line_words,
    stop_words,
    ticked,
    tip_words,
    turntable_words,
)  # fmt: skip
from viz.replay.costs import slight
from viz.replay.labels import MarkPen
from viz.replay.layout import BAR, BASE, GAP
from viz.replay.looks import CARD, INK, PAPER, SOFT, TEXT_SIZES
from viz.replay.panels import Hit, box, sign
from viz.replay.pens import Ink, PygamePen, shortened, text_width, wrapped
from viz.replay.quiet import pygame
from viz.replay.run_data import Replay
from viz.replay.scene import miss_words
from viz.replay.view import Rect, View
from viz.shared.dangers import stop_places

LINE, HEAD = 26.0, 34.0  # [points] of a dial, and of the button of the next linkage
COLUMN, NARROW_COLUMN, ROOMY = 470.0, 445.0, 1200.0  # breadth of the dials, where the page is narrower than ROOMY, and where not [points]
PLAN_SPAN, TIGHT_SPAN = (1.35, 0.86), 0.66  # [m] breadth and depth of ground in the plan, and its depth above the hand wheel
CURVE_SHARE = 0.41  # of the room for the two plots
HAND_RADIUS, TIGHT_RADIUS = 58.0, 42.0  # [points] of the hand wheel, and where letters are so large that they leave little room
LEAST_PAGE = (1000.0, 720.0)  # [points] that the bench needs
LARGE_PAGE = (853.0, 480.0)  # [points] ... with the largest letters, which leave out the curve and what the car stands on
TWO_PANELS = 500.0  # [points] of height and of breadth, from which there is room for a second picture under the plan
LEAST_SLIPS = 208.0  # [points] that slips and watts need
LEAST_SIZE = (800, 600)  # [px] of a window; in a smaller one letters could not be read
PULSE, PULSES = 1.2, 8.0  # [s] of one pulse of the joints that can be dragged, and after which they rest
HINT = "Drag a white joint, or the hand wheel"
STEADY_HINT, HINTED = "Drag the hand wheel", 5.0  # [deg] of the hand wheel up to which it is said
EXAMPLE = "not in this run: an example"
SIGN_ROOM = 22.0  # [points] of a set-up's sign before its name
HELP_KEYS = (pygame.K_h, pygame.K_F1, pygame.K_QUESTION)


def bench_point(width: int, height: int, text: float = 1.0) -> float:
    """Size of a layout point: larger windows have larger letters, smaller ones smaller letters.

    width, height : [px]; text : how much larger the letters should be, as far as there is room [-]
    Returns [px].
    """
    usual = min(max(1.0, min(width / BASE[0], height / BASE[1])), width / LEAST_PAGE[0], height / LEAST_PAGE[1])
    return min(usual * text, max(usual, min(width / LARGE_PAGE[0], height / LARGE_PAGE[1])))


class Bench:
    """The bench with what the mouse holds."""

    def __init__(self, replay: Replay, folder: Path | None = None, first: int | None = None, buttons: bool = True) -> None:
        """replay : Replay; folder : to save in; first : set-up to begin with, None for the first that has rods; buttons : whether there is
        somebody to press them.
        """
        self.buttons = buttons
        self.replay, self.model, self.body = replay, BenchModel(replay.scenario, tightest_bend(replay), first), replay.body
        self.folder = folder if folder is not None else Path.cwd()
        self.row, self.message, self.failed, self.help = 0, "", False, False
        self.held: int | str | None = None
        self.text = 1.0  # how much larger the letters should be [-]
        self.size = (int(BASE[0]), int(BASE[1]))  # of the page that was drawn last [px]
        self.grip = 0.0  # angle on the page at which the mouse holds the hand wheel [rad]
        self.wanted: tuple[int, tuple[float, float]] | None = None
        self.seen = 0.0  # [s] for which the joints have pulsed
        self.hits: list[Hit] = []
        self.least = slight(replay)  # power that tells nothing [W]
        self.point, self.hand_centre, self.hand_radius, self.plan_view = 1.0, (0.0, 0.0), HAND_RADIUS, View.page(1.0)

    @property
    def moving(self) -> bool:
        """Whether the picture changes by itself: the joints pulse until one is dragged, or for a while."""
        return self.buttons and self.seen < PULSES and self.model.built.setup.kind.rods and not self.help

    def advance(self, seconds: float) -> None:
        """Let the joints pulse on.  seconds : that have passed in front of the screen."""
        if self.moving:
            self.seen += seconds

    # --- Answers ---

    def key(self, event: pygame.event.Event) -> None:
        """Answer a key.  event : KEYDOWN."""
        many = 10.0 if event.mod & pygame.KMOD_SHIFT else 1.0
        model, dials = self.model, self.model.dials
        self._forget()
        if event.key in (pygame.K_LEFT, pygame.K_RIGHT):
            model.turn_hand((1 if event.key == pygame.K_LEFT else -1) * model.hand_step * (0.2 if many > 1 else 1.0))
        elif event.key in (pygame.K_UP, pygame.K_DOWN):
            self.row = (self.row + (1 if event.key == pygame.K_DOWN else -1)) % len(dials)
        elif event.key in (pygame.K_EQUALS, pygame.K_PLUS, pygame.K_KP_PLUS):
            model.turn_dial(dials[self.row], many)
        elif event.key in (pygame.K_MINUS, pygame.K_KP_MINUS):
            model.turn_dial(dials[self.row], -many)
        elif event.key in (pygame.K_0, pygame.K_HOME):
            self.do("straight")
        elif event.key == pygame.K_TAB:
            self.do("next kind" if many == 1 else "kind before")
        elif event.key == pygame.K_n:
            self.do("next setup")
        elif event.key == pygame.K_r:
            self.do("undo")
        elif event.key == pygame.K_s:
            self.do("save")
        elif event.key == pygame.K_t:
            self.do("text")
        elif event.key in HELP_KEYS:
            self.do("help")
        self.row = min(self.row, len(model.dials) - 1)

    def do(self, action: str) -> None:
        """Carry out a button's action.  action : its name."""
        model = self.model
        self._forget()
        name, _, rest = action.partition(":")
        if name in ("next kind", "kind before"):
            model.choose_kind(model.kind_beside(1 if name == "next kind" else -1))
        elif name == "next setup":
            model.choose_setup(model.index + 1)
        elif name == "undo":
            model.start_over()
        elif name == "straight":
            model.turn_hand(-model.hand)
        elif name == "save":
            try:
                self.message = f"Saved as {model.save(self.folder, self.replay.folder.name).name}"
            except InputError as error:
                self.message, self.failed = f"Not saved: {error}", True
        elif name == "text":
            # A size that the page has no room for is passed over: every press shows.
            now = bench_point(*self.size, self.text)
            self.text = next((one for one in TEXT_SIZES if bench_point(*self.size, one) > now + 1e-9), TEXT_SIZES[0])
        elif name == "help":
            self.help = not self.help
        elif name in ("row", "less", "more"):
            self.row = int(rest)
            if name != "row":
                model.turn_dial(model.dials[self.row], 1.0 if name == "more" else -1.0)
        self.row = min(self.row, len(model.dials) - 1)

    def _forget(self) -> None:
        """What was said is read when the next key is pressed."""
        self.message, self.failed, self.model.problem = "", False, ""

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
                self.held, self.seen = int(np.argmin(apart)), PULSES
                self._forget()
                return ""
        away = hypot(px - self.hand_centre[0], py - self.hand_centre[1])
        if away < self.hand_radius * 1.35:
            self.held, self.grip = "hand", atan2(py - self.hand_centre[1], px - self.hand_centre[0])
        return ""

    # --- The picture ---

    def draw(self, surface: pygame.Surface) -> None:
        """Draw the page.  surface : of any size."""
        if self.wanted is not None:
            self.model.arm_to(*self.wanted)
            self.wanted = None
        width, height = self.size = surface.get_size()
        surface.set_clip(None)
        surface.fill(PAPER)
        self.hits = []
        if width < LEAST_SIZE[0] or height < LEAST_SIZE[1]:
            draw_too_small(surface)
            return
        p = self.point = bench_point(width, height, self.text)
        page, whole, look = PygamePen(surface, View.page(p)), Rect(0.0, 0.0, width / p, height / p), bench_look(self.model)
        full = whole.width > LEAST_PAGE[0] - 1 and whole.height > LEAST_PAGE[1] - 1  # large letters leave no room for everything
        right = COLUMN if whole.width >= ROOMY else NARROW_COLUMN
        left = whole.width - right - 3 * GAP
        tall = whole.height - BAR - 2 * GAP
        both = min(tall, left) >= TWO_PANELS
        plan = Rect(GAP, GAP, left, (0.62 if full else 0.7) * tall if both else tall)
        below = Rect(GAP, plan.y + plan.height + GAP, left, tall - plan.height - GAP)
        self._plan(surface, page, plan, not full, not both)
        if full:
            half = below._replace(width=(left - GAP) / 2)
            self._axles(surface, page, half)
            self._support(surface, page, half._replace(x=half.x + half.width + GAP))
        elif both:
            self._axles(surface, page, below, tips=True)
        column = Rect(left + 2 * GAP, GAP, right, tall)
        under = self._dials(page, column, len(self.model.dials) if full else 0)
        room = column.y + column.height - under - GAP
        slips = Rect(column.x, under, right, room + GAP)
        if full:
            draw_curve(surface, page, Rect(column.x, under, right, CURVE_SHARE * room), self.model, look)
            slips = Rect(column.x, under + CURVE_SHARE * room + GAP, right, (1 - CURVE_SHARE) * room)
        draw_slips(page, slips, self.model, look)
        bar = Rect(0.0, whole.height - BAR, whole.width, BAR)
        if self.buttons:
            self._bar(page, bar)
        else:
            self._key(page, bar)
        self._notice(page, Rect(GAP, GAP, left, bar.y - 2 * GAP))
        if self.help:
            draw_bench_help(page, whole, p)
        surface.set_clip(None)

    def _plan(self, surface: pygame.Surface, page: PygamePen, rect: Rect, tight: bool, tips: bool) -> None:
        """tight : whether large letters leave little room; tips : whether the tip limit is told here."""
        model, pose, turntable = self.model, self.model.pose(), self.model.kind == TURNTABLE
        box(page, rect, CARD)
        dangers, left = model.built.dangers, pose.hand > 0 if pose.hand else pose.turns_left
        ends = dict(stop_places(dangers))
        stop = ends.get("left" if left else "right", "")
        words, good = error_words(pose, self.buttons)
        cost, little = cost_words(model.turn, self.least)
        if good is False and cost:  # an angle that is off is no fault of its own
            words, good = f"{words}, {cost}", None if little else False  # as the story's marks
        y = self._lines(page, rect, rect.y + 20, ticked(words, good), Ink(INK, size=CAPTION, bold=True, fill=CARD))
        caution, halt = line_words(pose), stop_words(model.built.steering, pose.hand)
        danger, reached = bench_danger(dangers)
        for said in (halt, caution or ("" if halt else danger)):
            colour = DANGER if said and (said == caution or (said == danger and reached)) else INK
            y = self._lines(page, rect, y, said, Ink(colour, size=TEXT, bold=True, fill=CARD))
        if turntable:
            said = turntable_words(model.built.hub_arm, model.stub_arm, model.support(pose))
            y = self._lines(page, rect, y, said, Ink(DANGER, size=TEXT, bold=True, fill=CARD))
        if tips:
            y = self._tips(page, rect, y, pose)
        low, span, share = rect.y + rect.height, PLAN_SPAN[1], 0.42
        top, wheel = (y - 4.0, TIGHT_RADIUS) if tight else (min(y - 10.0, rect.y + 0.3 * rect.height), HAND_RADIUS)
        room = low - top
        if tight:  # the hand wheel stands below the axle, not in it
            room, span, share = room - 2 * wheel, TIGHT_SPAN, 0.5
        scale = min(rect.width / PLAN_SPAN[0], room / span) * (0.8 if turntable else 1.0)
        # Where a wheel and what it points with would reach into the words above, the picture is smaller.
        foremost = float(pose.contacts[:, 0].max()) + 1.4 * self.body.wheel_radius
        scale = min(scale, (top + share * room - y + 0.4 * TEXT) / foremost)
        # The axle stands so that both ends of a straight wheel are seen, and the hand wheel has its room below.
        self.plan_view = View.ground((rect.x + rect.width / 2, top + share * room), (0.0, 0.0), scale, self.point, 0.0)
        self.hand_centre, self.hand_radius = (rect.x + rect.width / 2, low - wheel - 12), wheel
        pulse = sin(pi * (self.seen / PULSE % 1.0)) if self.moving else 0.0
        held = self.held if isinstance(self.held, int) else None
        pen = MarkPen(surface, self.plan_view, rect, dots=True)  # words that lie on no mark
        draw_plan(pen, pose, self.body, turntable, held, pulse, stop)
        hand = 2.4 * wheel
        for kept in (Rect(rect.x, rect.y, rect.width, y - rect.y - 6), Rect(self.hand_centre[0] - hand / 2, low - hand, hand, hand),
                     Rect(rect.x, low - 30, rect.width, 30)):  # fmt: skip
            pen.keep_free(pygame.Rect(*(round(side * self.point) for side in kept)))
        pen.place_words()
        stops = [radians(float(angle)) * (1 if end == "left" else -1) for end, angle in ends.items()]
        draw_hand_wheel(page, self.hand_centre, wheel, pose.hand, self.held == "hand", stops)
        side = "left" if pose.hand > 0 else "right" if pose.hand < 0 else ""
        within = PygamePen(surface, View.page(self.point), rect)
        beside = (self.hand_centre[0] + wheel + 14, low - 16)
        within.text(beside, f"{'' if tight else 'hand wheel '}{abs(degrees(pose.hand)):.0f}° {side}", LABEL)
        turned = abs(degrees(pose.hand)) > HINTED  # whoever has turned it knows; and a wheel's angle stands there then
        hint = HINT if pose.joints is not None else "" if turned else STEADY_HINT
        hint = hint if self.buttons and not tight else ""
        ink = Ink(SOFT, size=TEXT)
        hint = wrapped(hint, ink, rect.width / 2 - wheel - 28, self.point)
        page.text((rect.x + 14, low - 16 - 0.58 * TEXT * hint.count("\n")), hint, ink)

    def _lines(self, page: PygamePen, rect: Rect, y: float, words: str, ink: Ink) -> float:
        """Words at the left of a panel, in as many lines as they need.  y : middle of the first.  Returns that of the next [points]."""
        for line in wrapped(words, ink, rect.width - 28, self.point).split("\n") if words else ():
            page.text((rect.x + 14, y), line, ink)
            y += 1.25 * ink.size
        return y

    def _tips(self, page: PygamePen, rect: Rect, y: float, pose: Pose) -> float:
        """How near the turn comes to the tip limit.  y : middle of the first line.  Returns that of the next [points]."""
        words, good = tip_words(self.model.support(pose))
        return self._lines(page, rect, y, ticked(words, good), TITLE._replace(colour=DANGER if good is False else INK, fill=CARD))

    def _axles(self, surface: pygame.Surface, page: PygamePen, rect: Rect, tips: bool = False) -> None:
        """tips : whether the tip limit is told here."""
        pose, car = self.model.pose(), self.body
        box(page, rect, CARD)
        found = crossings(pose, car.wheelbase)
        aside = 0.0 if found is None else abs(found[0] + found[1]) / 2
        if found is None:
            words = "Nearly straight: the axle lines meet far away"
        elif abs(found[0] - found[1]) < MEETING:
            words = ticked(f"Axle lines meet {aside:.1f} m beside the car", True)
        else:
            _, little = cost_words(self.model.turn, self.least)
            words = ticked(miss_words(abs(found[0] - found[1])), None if little else False)  # as in the plan
        y = self._lines(page, rect, rect.y + 17, words, TITLE._replace(fill=CARD))
        y = (self._tips(page, rect, y, pose) if tips else y) - 6
        room = Rect(rect.x + 8, y, rect.width - 16, rect.y + rect.height - y - 6)
        view, inset, close = axle_views(room, pose, car, self.point)
        draw_axles(PygamePen(surface, view, room), pose, car)
        if inset is not None and close is not None:
            box(page, inset, CARD, INK, 1.5)
            drawn = Rect(inset.x + 2, inset.y + 28, inset.width - 4, inset.height - 30)
            draw_axles(PygamePen(surface, close, drawn), pose, car)
            side = "left" if sum(found or (0.0,)) > 0 else "right"
            page.text((inset.x + inset.width / 2, inset.y + 14), f"{aside:.0f} m {side}", LABEL._replace(anchor="middle"))

    def _support(self, surface: pygame.Surface, page: PygamePen, rect: Rect) -> None:
        model, pose, car = self.model, self.model.pose(), self.body
        box(page, rect, CARD)
        support = model.support(pose)
        wide = 0.42 * rect.width
        room = Rect(rect.x + rect.width - wide, rect.y + 8, wide - 8, rect.height - 16)
        words = rect._replace(width=rect.width - wide + 18)
        y = self._tips(page, words, rect.y + 17, pose)
        mass = (-car.front_arm, 0.0)
        reach = hypot(support.edge[0] - mass[0], support.edge[1] - mass[1])
        y = self._lines(page, words, y + 4, f"{reach * 1000:.0f} mm, mass to edge", LABEL)
        said, good = knock_words(model.built.hub_arm, model.stub_arm, model.kind == TURNTABLE)
        self._lines(page, words, y + 4, ticked(said, good), LABEL if good is None else TITLE._replace(colour=DANGER))
        scale = min(room.width / (car.front_track + 0.45), room.height / (car.wheelbase + 2.6 * car.wheel_radius))
        at = (room.x + room.width / 2, room.y + room.height / 2)
        view = View.ground(at, (-car.wheelbase / 2, 0.0), scale, self.point, 0.0)
        draw_support(PygamePen(surface, view, room), pose, car, support, model.kind == TURNTABLE)

    def _button(self, page: PygamePen, rect: Rect, words: str, action: str) -> None:
        if not self.buttons:
            return
        box(page, rect, PAPER, SOFT)
        page.text((rect.x + rect.width / 2, rect.y + rect.height / 2), words, LABEL._replace(anchor="middle"))
        self.hits.append((rect, action))

    def _dials(self, page: PygamePen, rect: Rect, seen: int) -> float:
        """The numbers that can be changed.

        rect : [points]; seen : how many of them, 0 for those around the chosen one that leave the slips their room
        Returns where the next panel begins [points].
        """
        model, p = self.model, self.point
        half = rect.width / 2 - 16 if self.buttons else rect.width - 32
        named = TITLE if model.example else LABEL  # as large as a danger: nobody should take it for the run's
        name = fitted(EXAMPLE if model.example else model.built.setup.name, half - SIGN_ROOM, p, named)
        following = fitted(f"N: {model.next_setup.name}", half - 12, p)
        deep = max(28.0, 21.0 * (1 + max(name.count("\n"), following.count("\n"))) + 6)
        count = len(model.dials)
        seen = seen or min(max(int((rect.height - LEAST_SLIPS - GAP - HEAD - deep - 14) / LINE), 1), count)
        first = min(max(self.row - seen // 2, 0), count - seen)
        high = HEAD + deep + 10 + LINE * seen + 4
        box(page, rect._replace(height=high), CARD)
        kind = TITLE._replace(size=CAPTION)
        page.text((rect.x + 12, rect.y + HEAD / 2 + 3), shortened(model.kind, kind, half, p), kind)
        beside, half = rect.x + rect.width / 2, rect.width / 2 - 16
        self._button(page, Rect(beside, rect.y + 5, half + 8, HEAD - 6), f"Tab: {model.kind_beside(1)}", "next kind")
        sign(page, bench_look(model), rect.x + 20, rect.y + HEAD + 2 + deep / 2, 7.0)
        page.text((rect.x + 12 + SIGN_ROOM, rect.y + HEAD + 2 + deep / 2), name, named)
        self._button(page, Rect(beside, rect.y + HEAD + 2, half + 8, deep), following, "next setup")
        for index, dial in list(enumerate(model.dials))[first : first + seen]:
            y = rect.y + HEAD + deep + 10 + LINE * (index - first)
            chosen = index == self.row
            if chosen and self.buttons:
                box(page, Rect(rect.x + 4, y, rect.width - 8, LINE), "#E3E9F0")
            page.text((rect.x + 12, y + LINE / 2), ("▸ " if chosen and self.buttons else "   ") + dial.label, LABEL)
            words = dial_words(dial, model.value(dial))
            if dial not in (RADIUS, SPEED):
                was = float(model.start.setup.value_of(dial.key) or 0.0)
                if dial_words(dial, was) != words:
                    words = f"{was:.{decimals(dial)}f} → {words}"
            page.text((rect.x + rect.width - 80, y + LINE / 2), words, LABEL._replace(anchor="right"))
            for label, place, action in (("−", rect.width - 70, "less"), ("+", rect.width - 38, "more")):
                knob = Rect(rect.x + place, y + 2, 28, LINE - 4)
                self._button(page, knob, label, f"{action}:{index}")
            self.hits.append((Rect(rect.x, y, rect.width - 74, LINE), f"row:{index}"))
        return rect.y + high + GAP

    def _bar(self, page: PygamePen, rect: Rect) -> None:
        box(page, rect, "#D9D6CD")
        x = rect.x + GAP
        away = ("Replay B", "bench"), ("Help H", "help")  # at the right end
        for label, action in (("Straight 0", "straight"), ("Undo R", "undo"), ("Save S", "save"), *away):
            wide = text_width(label, LABEL, self.point) + 24
            if (label, action) == away[0]:
                x = rect.x + rect.width - 2 * GAP - sum(text_width(one, LABEL, self.point) + 24 for one, _ in away)
            self._button(page, Rect(x, rect.y + 6, wide, rect.height - 12), label, action)
            x += wide + GAP

    def _key(self, page: PygamePen, rect: Rect) -> None:
        """What a picture shows, where there is nobody to ask."""
        words = f"{self.replay.title}: the turn that the hand wheel sets"
        page.text((rect.x + 14, rect.y + rect.height / 2), shortened(words, LABEL, rect.width - 28, self.point), LABEL)

    def _notice(self, page: PygamePen, rect: Rect) -> None:
        """What cannot be done, and what was saved, at the foot of the left column until the next key.  rect : [points]."""
        problem = self.model.problem
        words = ticked(problem or self.message, not (problem or self.failed)) if problem or self.message else ""
        if not words:
            return
        colour = DANGER if problem or self.failed else INK
        ink = Ink(colour, size=20.0, bold=True)
        words = wrapped(words, ink, rect.width - 40, self.point)
        high = 25.0 * (1 + words.count("\n")) + 16
        place = Rect(rect.x, rect.y + rect.height - high, rect.width, high)
        box(page, place, CARD, colour, 3.0)
        page.text((place.x + 20, place.y + high / 2), words, ink)


def fitted(name: str, width: float, point: float, ink: Ink = LABEL) -> str:
    """A name in as many lines as it needs; a word that fills more than a line is cut.

    width : [points]; point : [px]; ink : of its letters
    """
    return "\n".join(shortened(line, ink, width, point) for line in wrapped(name, ink, width, point).split("\n"))


def decimals(dial: Dial) -> int:
    """How many a dial's number is shown with.  dial : Dial."""
    return 0 if dial.step >= 1 else 2 if dial.step < 0.1 else 1


def dial_words(dial: Dial, value: float) -> str:
    """A dial's number with its unit.  dial : Dial; value : [its unit]."""
    if dial == RADIUS and value > 1000:
        return "straight"
    return f"{value:.{decimals(dial)}f}{'' if dial.unit == '°' else ' '}{dial.unit}"


def draw_too_small(surface: pygame.Surface) -> None:
    """Says how large the window has to be.  surface : smaller than LEAST_SIZE."""
    width, height = surface.get_size()
    page, ink = PygamePen(surface, View.page(1.0)), Ink(INK, size=16.0, anchor="middle")
    least = f"{LEAST_SIZE[0]} x {LEAST_SIZE[1]}"
    words = f"This window has {width} x {height} pixels. Make it at least {least}, or press F for the full screen."
    page.text((width / 2, height / 2), wrapped(words, ink, width - 20, 1.0), ink)
