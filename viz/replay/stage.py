"""The whole page of the replay, drawn on any surface: window and export use the same."""

from dataclasses import dataclass
from math import ceil, floor

import numpy as np

from viz.replay.cards import draw_card, draw_picture, draw_small, frame_of, picture_of
from viz.replay.labels import Placed
from viz.replay.layout import GAP, SIDE, Layout, Type, lay_out, page_point
from viz.replay.looks import LABEL, PAPER, TEXT_SIZES
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
LEAST_GROUND = 150.0  # [points] height of the ground in a picture, for which letters are no larger than the window can hold
SCALE = 62.0  # [points] for a metre, below which a picture is not made for the sake of a distant turning centre
LONGEST_HEAD = 5  # lines
HELD, MOST_HELD = 0.1, 5  # [s] of a film, and pictures, for which words, board and buttons stay as they are; eyes follow no faster
ASK = "Close the window?  Enter or Q closes it, any other key goes back."


@dataclass
class Kept:
    """A part of the page as it was drawn, and what clicks on it mean."""

    surface: pygame.Surface
    at: tuple[int, int]  # [px]
    hits: list[Hit]

    @classmethod
    def of(cls, surface: pygame.Surface, rect: Rect, point: float, hits: list[Hit]) -> "Kept":
        """surface : of the page; rect : part of it [points]; point : [px]; hits : on it."""
        left, top = floor(rect.x * point), floor(rect.y * point)
        right, low = ceil((rect.x + rect.width) * point), ceil((rect.y + rect.height) * point)
        part = pygame.Rect(left, top, right - left, low - top).clip(surface.get_rect())
        surface.set_clip(None)
        return cls(surface.subsurface(part).copy(), part.topleft, hits)

    def put(self, surface: pygame.Surface) -> None:
        """Put it on the next picture.  surface : of the page."""
        surface.set_clip(None)
        surface.blit(self.surface, self.at)


class Stage:
    """Draws a player's state; keeps the course and the strip between pictures.  A picture without buttons has a key."""

    def __init__(self, replay: Replay, buttons: bool = True, film: bool = False) -> None:
        self.replay, self.buttons, self.film = replay, buttons, film
        self.kept: tuple | None = None
        self.reach: np.ndarray
        self.layout: Layout
        self.map: CourseMap | None = None
        self.strip: Strip | None = None  # neither where the letters need their room
        self.left: Kept  # head and board
        self.bar: Kept
        self.around: dict[int, list[Kept]] = {}  # name, watts and caption of the large pictures
        self.frame: tuple[float, float]  # heights of heads and feet of the large pictures [points]
        self.placed: dict[int, Placed] = {}  # words of the large pictures
        self.told: tuple | None = None  # what the watcher had chosen when these were made, at which clock, and how many pictures ago
        self.begun, self.count = 0.0, 0
        self.pictures: list[Rect] = []
        self.hits: list[Hit] = []

    def draw(self, surface: pygame.Surface, player: Player) -> None:
        """Draw one picture.  surface : of any size; player : Player."""
        self._keep(surface.get_size(), player)
        layout, rows = self.layout, player.rows
        p, kind = layout.point, layout.type
        surface.set_clip(None)
        page, quick = PygamePen(surface, View.page(p)), self._quick(player)
        for rect in self._bare() if quick else [layout.page]:
            surface.fill(PAPER, pygame.Rect(*(round(side * p) for side in rect)).inflate(2, 2))
        if player.board and quick:
            self.left.put(surface)
        elif player.board:
            draw_head(page, layout.head, player, p, kind)
            hits, small = draw_board(page, layout.board, player, p, kind, self.buttons)
            for rect, index in small:
                draw_small(surface, rect, player, index, player.row(index), p)
            self.left = Kept.of(surface, Rect(0.0, 0.0, layout.cards[0].x - GAP, layout.board.y + layout.board.height), p, hits)
        self.hits = list(self.left.hits) if player.board else []
        if self.map is not None:
            self.map.draw(surface, player, rows)
        self.pictures = []
        if not quick:
            self.frame = frame_of(layout.cards[0], player, rows, p, kind)
        for place, row in enumerate(rows):
            self._draw_card(surface, player, place, row, quick)
        smaller = [placed.most <= LABEL for placed in self.placed.values()]
        if any(smaller) and kind.label > LABEL:  # letters of one size in all pictures
            for place in (place for place, one in enumerate(smaller) if not one):
                self.placed[place].smaller()
                self._draw_card(surface, player, place, rows[place], quick)
        if player.words:
            draw_banner(page, layout.banner, player, p, kind)
        if self.strip is not None:
            self.strip.draw(surface, player)
        if self.buttons:
            if not quick:
                self.bar = Kept.of(surface, layout.bar, p, draw_bar(page, layout.bar, player, p, kind))
            self.bar.put(surface)
            self.hits += self.bar.hits
        else:
            draw_key(page, layout.bar, player, self.film, p, kind)
        if player.help:
            draw_help(page, layout.page, p)
        if player.message or player.asking:
            draw_question(page, layout.page, ASK if player.asking else player.message, p, kind)
        surface.set_clip(None)

    def _draw_card(self, surface: pygame.Surface, player: Player, place: int, row: float, quick: bool) -> None:
        """One of the large pictures, with what stands around it.  place : among them; row : at which its set-up stands."""
        rect, p, kind = self.layout.cards[place], self.layout.point, self.layout.type
        station = self.replay.drives[player.chosen[place]].at(row).station
        left, right = (float(np.interp(station, self.replay.course.station, side)) for side in self.reach.T)
        placed = self.placed.setdefault(place, Placed())
        self.pictures[place:] = [picture_of(rect, self.frame), *self.pictures[place + 1 :]]
        if quick:
            draw_picture(surface, self.pictures[place], player, place, row, (left, right), p, kind, placed)
            for one in self.around[place]:
                one.put(surface)
        else:
            draw_card(surface, rect, player, place, row, (left, right), self.frame, p, kind, placed)
            self.around[place] = [Kept.of(surface, part, p, []) for part in _around(rect, self.pictures[place])]

    def _bare(self) -> list[Rect]:
        """The parts of the page that no part of a picture covers whole."""
        page, cards, bar = self.layout.page, self.layout.cards, self.layout.bar
        first, last = cards[0], cards[-1]
        left, low = first.x - GAP, first.y + first.height
        above, below = Rect(left, 0.0, page.width - left, first.y), Rect(0.0, low, page.width, bar.y - low)
        return [above, below, *(Rect(one.x + one.width, one.y, GAP, one.height) for one in cards),
                Rect(left, first.y, GAP, last.height)]  # fmt: skip

    def _quick(self, player: Player) -> bool:
        """Whether a picture is one of a run of them that goes by in a tenth of a second: what need not move then stays where it was."""
        now = {name: value for name, value in vars(player).items() if name not in ("clock", "told")}
        now |= {"shows": set(player.shows), "chosen": list(player.chosen), "within": list(player.within), "scene": player.scene}
        since = player.clock - self.begun
        soon = player.playing and self.buttons and 0 <= since <= HELD * player.speed and self.count < MOST_HELD
        if soon and self.told == (self.kept, now):
            self.count += 1
            return True
        self.told, self.begun, self.count, self.placed = (self.kept, now), player.clock, 0, {}
        return False

    def _keep(self, size: tuple[int, int], player: Player) -> None:
        """Make the places and the layers anew where the size, the choice, the type or what is said has changed."""
        times = player.text
        wanted = (size, tuple(player.chosen), times, player.board, player.story)
        if wanted == self.kept:
            return
        for smaller in sorted({times, *(one for one in TEXT_SIZES if one < times)}, reverse=True):
            kind = self._lay_out(size, player, smaller)
            card = self.layout.cards[0]
            if card.height - sum(frame_of(card, player, player.rows, self.layout.point, kind)) >= LEAST_GROUND:
                break
        farthest = max(self.layout.cards[0].width / SCALE - HALF_CAR - 0.8, HALF_CAR)
        self.reach = camera(self.replay.course.curvature, self.replay.course.station, HALF_CAR, min(farthest, 9.0), BESIDE)
        self.map = self.strip = None
        if self.layout.strip.height > 0:
            self.map = CourseMap.made(self.layout.course, player, self.layout.point)
            self.strip = Strip.made(self.layout.strip, player, self.layout.point, kind, self.buttons)
        self.kept = wanted

    def _lay_out(self, size: tuple[int, int], player: Player, times: float) -> Type:
        """Make the places anew.  size : of the surface [px]; times : how much larger the letters are.  Returns their sizes."""
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
        return kind

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


def _around(rect: Rect, picture: Rect) -> list[Rect]:
    """What of a card is not its picture: above it, below it and beside it.  rect : of the card [points]; picture : in it."""
    low = picture.y + picture.height
    return [
        rect._replace(height=picture.y - rect.y), Rect(rect.x, low, rect.width, rect.y + rect.height - low),
        rect._replace(width=picture.x - rect.x),
    ]  # fmt: skip
