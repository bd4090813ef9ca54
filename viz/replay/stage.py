"""The whole page of the replay, drawn on any surface: window and export use the same."""

import numpy as np

from viz.replay.cards import draw_card, draw_small, frame_of
from viz.replay.layout import GAP, SIDE, Layout, Type, lay_out, page_point
from viz.replay.looks import PAPER
from viz.replay.maps import CourseMap, Strip
from viz.replay.panels import (
    Hit,
    banner_lines,
    bar_places,
    draw_banner,
    draw_bar,
    draw_board,
    draw_head,
    draw_help,
    draw_key,
    draw_question,
    head_words,
    key_words,
)
from viz.replay.pens import Ink, PygamePen, wrapped
from viz.replay.player import Player
from viz.replay.quiet import pygame
from viz.replay.run_data import Replay
from viz.replay.scene import camera
from viz.replay.view import Rect, View

HALF_CAR = 1.5  # [m] seen to either side of the car at least
BESIDE = 1.4  # [m] more to the side on which a window shows a meeting point that lies far away
SCALE = 75.0  # [points] for a metre, below which a picture is not made for the sake of a distant turning centre
LONGEST_HEAD = 5  # lines
ASK = "Close the window?  Enter or Q closes it, any other key goes back."


class Stage:
    """Draws a player's state; keeps the course and the strip between pictures.  A picture without buttons has a key."""

    def __init__(self, replay: Replay, buttons: bool = True, film: bool = False) -> None:
        self.replay, self.buttons, self.film = replay, buttons, film
        self.kept: tuple | None = None
        self.reach: np.ndarray
        self.layout: Layout
        self.map: CourseMap | None = None
        self.strip: Strip | None = None  # neither where the letters need their room
        self.pictures: list[Rect] = []
        self.hits: list[Hit] = []

    def draw(self, surface: pygame.Surface, player: Player) -> None:
        """Draw one picture.  surface : of any size; player : Player."""
        self._keep(surface.get_size(), player)
        layout, rows = self.layout, player.rows
        p, kind = layout.point, layout.type
        surface.set_clip(None)
        surface.fill(PAPER)
        page = PygamePen(surface, View.page(p))
        self.hits = []
        if player.board:
            draw_head(page, layout.head, player, p, kind)
            self.hits, small = draw_board(page, layout.board, player, p, kind)
            for rect, index in small:
                draw_small(surface, rect, player, index, player.row(index), p)
        if self.map is not None:
            self.map.draw(surface, player, rows)
        self.pictures, frame = [], frame_of(layout.cards[0], player, rows, p, kind)
        for place, (rect, row) in enumerate(zip(layout.cards, rows, strict=True)):
            station = self.replay.drives[player.chosen[place]].at(row).station
            left, right = (float(np.interp(station, self.replay.course.station, side)) for side in self.reach.T)
            self.pictures.append(draw_card(surface, rect, player, place, row, (left, right), frame, p, kind))
        if player.words:
            draw_banner(page, layout.banner, player, p, kind)
        if self.strip is not None:
            self.strip.draw(surface, player)
        if self.buttons:
            self.hits += draw_bar(page, layout.bar, player, p, kind)
        else:
            draw_key(page, layout.bar, player, self.film, p, kind)
        if player.help:
            draw_help(page, layout.page, p)
        if player.message or player.asking:
            draw_question(page, layout.page, ASK if player.asking else player.message, p, kind)
        surface.set_clip(None)

    def _keep(self, size: tuple[int, int], player: Player) -> None:
        """Make the places and the layers anew where the size, the choice, the type or what is said has changed."""
        times = player.text
        wanted = (size, tuple(player.chosen), times, player.board, player.story)
        if wanted == self.kept:
            return
        p, kind = page_point(*size), Type.enlarged(times)
        wide = size[0] / p
        side = (SIDE + 130 * (times - 1)) if player.board else 0.0
        rows = bar_places(player, wide, p, kind)[-1][1] + 1 if self.buttons else 1
        if not self.buttons:
            words = wrapped(key_words(player, self.film), Ink(size=kind.label), wide - 2 * GAP, p)
            rows = max(1, -(-(words.count("\n") + 1) // 2))
        title, _ = head_words(player, side, p, kind) if player.board else ("", "")
        said = banner_lines(player, wide - side - 3 * GAP, p, kind)
        head = min(title.count("\n") + 1, LONGEST_HEAD - 2) + 3
        card = Rect(0.0, 0.0, (wide - side - 3 * GAP) / len(player.chosen) - GAP, 0.0)
        needed = sum(frame_of(card, player, player.rows, p, kind))
        self.layout = lay_out(size, len(player.chosen), times, player.board, said, head, rows, needed)
        farthest = max(self.layout.cards[0].width / SCALE - HALF_CAR - 0.8, HALF_CAR)
        self.reach = camera(self.replay.course.curvature, self.replay.course.station, HALF_CAR, min(farthest, 9.0), BESIDE)
        self.map = self.strip = None
        if self.layout.strip.height > 0:
            self.map = CourseMap.made(self.layout.course, player, self.layout.point)
            self.strip = Strip.made(self.layout.strip, player, self.layout.point, kind)
        self.kept = wanted

    def clicked(self, x: float, y: float) -> tuple[str, float]:
        """What a click means.  x, y : on the surface [px].  Returns an action ("jump" with its station [m], or "")."""
        x, y = x / self.layout.point, y / self.layout.point
        for rect, action in self.hits:
            if rect.holds(x, y):
                return action, 0.0
        if self.map is not None and self.layout.course.holds(x, y):
            return "jump", self.map.station_at(x, y)
        if self.strip is not None and self.layout.strip.holds(x, y):
            return "jump", self.strip.station_at(x, self.replay.course.length)
        return "", 0.0

    def on_picture(self, x: float, y: float) -> bool:
        """Whether a place is on one of the large pictures.  x, y : on the surface [px]."""
        return any(rect.holds(x / self.layout.point, y / self.layout.point) for rect in self.pictures)

    def on_board(self, x: float, y: float) -> bool:
        """Whether a place is on the board.  x, y : on the surface [px]."""
        return self.layout.board.holds(x / self.layout.point, y / self.layout.point)
