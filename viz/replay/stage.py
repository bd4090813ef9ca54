"""The whole page of the replay, drawn on any surface: window and export use the same."""

import numpy as np

from viz.replay.layout import Layout, lay_out
from viz.replay.looks import BAD, CARD, PAPER
from viz.replay.maps import CourseMap, Strip
from viz.replay.panels import Hit, box, draw_bar, draw_board, draw_card, draw_head, draw_help, draw_key
from viz.replay.pens import Ink, PygamePen, text_width
from viz.replay.player import Player
from viz.replay.quiet import pygame
from viz.replay.run_data import Replay
from viz.replay.scene import camera
from viz.replay.view import Rect, View

HALF_CAR = 1.5  # [m] seen to either side of the car at least


class Stage:
    """Draws a player's state; keeps the course and the strip between pictures.  A picture without buttons has a key."""

    def __init__(self, replay: Replay, buttons: bool = True, film: bool = False) -> None:
        self.replay, self.buttons, self.film = replay, buttons, film
        self.reach = camera(replay.course.curvature, replay.course.station, HALF_CAR)
        self.kept: tuple | None = None
        self.layout: Layout
        self.map: CourseMap
        self.strip: Strip
        self.hits: list[Hit] = []

    def draw(self, surface: pygame.Surface, player: Player) -> None:
        """Draw one picture.  surface : of any size; player : Player."""
        self._keep(surface.get_size(), player)
        layout, rows = self.layout, player.rows
        p = layout.point
        surface.set_clip(None)
        surface.fill(PAPER)
        page = PygamePen(surface, View.page(p))
        draw_head(page, layout.head, player, p)
        self.map.draw(surface, player, rows)
        self.hits = draw_board(page, layout.board, player, rows, p)
        for place, (rect, row) in enumerate(zip(layout.cards, rows, strict=True)):
            station = self.replay.drives[player.chosen[place]].at(row).station
            left, right = (float(np.interp(station, self.replay.course.station, side)) for side in self.reach.T)
            draw_card(surface, rect, player, place, row, (left, right), p)
        self.strip.draw(surface, player, rows)
        if self.buttons:
            self.hits += draw_bar(page, layout.bar, player, p)
        else:
            draw_key(page, layout.bar, player, self.film)
        if player.message:
            _notice(page, layout.page, player.message, p)
        if player.help:
            draw_help(page, layout.page)
        surface.set_clip(None)

    def _keep(self, size: tuple[int, int], player: Player) -> None:
        """Make the layers anew where the size or the choice has changed."""
        wanted = (size, tuple(player.chosen))
        if wanted != self.kept:
            shown = len(player.chosen)
            self.layout = lay_out(*size, shown, len(self.replay.drives) - shown)
            self.map = CourseMap.made(self.layout.course, player, self.layout.point)
            self.strip = Strip.made(self.layout.strip, player, self.layout.point)
            self.kept = wanted

    def clicked(self, x: float, y: float) -> tuple[str, float]:
        """What a click means.  x, y : on the surface [px].  Returns an action ("jump" with its station [m], or "")."""
        x, y = x / self.layout.point, y / self.layout.point
        for rect, action in self.hits:
            if rect.holds(x, y):
                return action, 0.0
        if self.layout.course.holds(x, y):
            return "jump", self.map.station_at(x, y)
        if self.layout.strip.holds(x, y):
            return "jump", self.strip.station_at(x, self.replay.course.length)
        return "", 0.0


def _notice(page: PygamePen, whole: Rect, words: str, point: float) -> None:
    ink = Ink(BAD, size=16.0, bold=True, anchor="middle")
    wide = text_width(words, ink, point) + 40
    box(page, Rect(whole.x + (whole.width - wide) / 2, 60, wide, 40), CARD, BAD, 2.0)
    page.text((whole.x + whole.width / 2, 80), words, ink)
