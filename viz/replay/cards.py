"""One set-up's picture: large with its name, watts and caption, or small on the board."""

from math import hypot

import numpy as np

from sim.car.chassis import GRAVITY
from viz.replay import scene
from viz.replay.captions import CROSS, TICK, beside, caption, payer, watts
from viz.replay.labels import MarkPen, Placed
from viz.replay.layout import LINE, Type
from viz.replay.looks import CARD, INK
from viz.replay.panels import SHADE, box, sign
from viz.replay.pens import Ink, Pen, PygamePen, text_width, wrapped
from viz.replay.player import Player
from viz.replay.quiet import pygame
from viz.replay.run_data import Drive
from viz.replay.view import Rect, View
from viz.shared.axle_lines import length_words

TALLEST_VIEW = 3.1  # [m] of ground that a close-up shows at least from front to back
USUAL_LOADS = 4.0  # wheels that share the weight
PAD = 12.0  # [points] between a card's edge and its words
FOOT_LINES = 2  # of a caption, for which there is always room, so that the picture does not jump
SMALL_TRAIL = 2.0  # [m] of trail in a small picture
SMALL_REACH = 1.35  # [m] that a small picture shows to each side of the car
INSET = (196.0, 74.0)  # breadth and height of the window on a meeting point that lies outside [points]
EDGE = 14.0  # [points] a meeting point this near to the edge counts as outside


def close_up_view(rect: Rect, now: scene.Instant, reach: tuple[float, float], zoom: float, point: float) -> View:
    """The view of a close-up: the car points up the page, with room on the side to which it turns.

    rect : of the picture [points]; reach : to the left and to the right of the car that should be seen [m]
    zoom : closer by this factor; point : [px]
    """
    left, right = reach
    scale = zoom * min((rect.width - 20) / (left + right), rect.height / TALLEST_VIEW)
    shift = (left - right) / 2 / max(zoom, 1.0)
    middle = scene.to_ground(now, 0.0, shift)
    at = (rect.x + rect.width / 2, rect.y + 0.47 * rect.height)
    return View.ground(at, tuple(middle), scale, point, now.heading)


def frame_of(rect: Rect, player: Player, rows: list[float], point: float, kind: Type) -> tuple[float, float]:
    """Heights of the head and of the foot of all pictures, so that they are alike [points].

    rect : of one of them [points]; rows : at which the set-ups stand; point : [px]; kind : sizes of letters
    """
    heads = [_head_height(rect, player.replay.drives[index], point, kind) for index in player.chosen]
    lines = [_told(rect, player, index, row, point, kind)[1].count("\n") + 1 for index, row in zip(player.chosen, rows, strict=True)]
    return max(heads), max(*lines, FOOT_LINES) * LINE * kind.caption + 12


def _told(rect: Rect, player: Player, index: int, row: float, point: float, kind: Type) -> tuple[str, str, float]:
    """The caption's mark, its words wrapped, and how far they stand from the left edge [points]."""
    told = caption(player.replay, index, row)
    left = PAD + (kind.caption * 1.3 if told.mark else 0.0)
    return told.mark, wrapped(told.words, Ink(size=kind.caption, bold=True), rect.width - left - PAD, point), left


def draw_card(
    surface: pygame.Surface, rect: Rect, player: Player, place: int, row: float, reach: tuple[float, float], frame: tuple[float, float],
    point: float, kind: Type, placed: Placed | None = None,
) -> Rect:  # fmt: skip
    """One set-up's close-up.

    place : among those shown large; row : at which it stands; reach : as for `close_up_view`; frame : of `frame_of`
    point : [px]; kind : sizes of letters; placed : where its words were put; written, where they are not known; None to look
    Returns the part of it that shows the ground [points].
    """
    index, (head, foot) = player.chosen[place], frame
    drive, page = player.replay.drives[index], PygamePen(surface, View.page(point))
    box(page, rect, SHADE)
    picture = Rect(rect.x + 6, rect.y + head, rect.width - 6, max(rect.height - head - foot, 40.0))
    box(page, picture, CARD)
    placed = placed if placed is not None else Placed()
    if not _picture(surface, picture, player, place, row, reach, point, kind, placed):
        placed.known, placed.corner = False, -1  # there are others now
        placed.words.clear()
        box(page, picture, CARD)
        _picture(surface, picture, player, place, row, reach, point, kind, placed)
    _draw_head(page, rect, player, index, drive.at(row), head, point, kind)
    box(page, Rect(rect.x, rect.y, 6, rect.height), player.looks[index].colour)
    mark, words, left = _told(rect, player, index, row, point, kind)
    middle = picture.y + picture.height + foot / 2
    verdict_sign(page, mark, rect.x + PAD + 0.45 * kind.caption, middle, 0.36 * kind.caption)
    page.text((rect.x + left, middle), words, Ink(INK, size=kind.caption, bold=True))
    return picture


def verdict_sign(page: Pen, mark: str, x: float, y: float, size: float) -> None:
    """A tick or a cross.  mark : TICK or CROSS; x, y : middle; size : half its height [points]."""
    ink = Ink(INK, 3.5)
    if mark == TICK:
        page.line((x - size, y), (x - 0.25 * size, y + 0.8 * size), ink)
        page.line((x - 0.25 * size, y + 0.8 * size), (x + size, y - 0.9 * size), ink)
    elif mark == CROSS:
        page.line((x - size, y - size), (x + size, y + size), ink)
        page.line((x - size, y + size), (x + size, y - size), ink)


def _name(rect: Rect, drive: Drive, point: float, kind: Type) -> tuple[str, bool]:
    """The name, wrapped beside the watts; or above them, where a word of it is too long for that."""
    ink = Ink(size=kind.label, bold=True)
    room = rect.width - 2 * PAD - 26
    beside = room - text_width("000.0 W", Ink(size=kind.watts, bold=True), point) - 10
    above = max(text_width(word, ink, point) for word in drive.name.split(" ")) > beside
    return wrapped(drive.name, ink, room if above else beside, point), above


def _danger(rect: Rect, drive: Drive, point: float, kind: Type) -> str:
    danger = scene.danger_words(drive.dangers).replace(f"Danger: stop the {drive.dangers.hand_is} before", "Danger: stop at")
    return wrapped(danger, Ink(size=kind.label), rect.width - 2 * PAD, point) if danger else ""


def _head_height(rect: Rect, drive: Drive, point: float, kind: Type) -> float:
    """Height that a card's head needs [points]."""
    (name, above), danger = _name(rect, drive, point, kind), _danger(rect, drive, point, kind)
    named, power = (name.count("\n") + 1) * LINE * kind.label, LINE * (kind.watts + kind.label)
    high = (named + power if above else max(named, power)) + 4
    return high + ((danger.count("\n") + 1) * LINE * kind.label + 4 if danger else 0.0)


def _draw_head(page: Pen, rect: Rect, player: Player, index: int, now: scene.Instant, head: float, point: float, kind: Type) -> None:
    """Sign, name, watts, and where a stop belongs.  head : its height [points]."""
    drive, look = player.replay.drives[index], player.looks[index]
    (name, above), danger = _name(rect, drive, point, kind), _danger(rect, drive, point, kind)
    told = (danger.count("\n") + 1) * LINE * kind.label + 4 if danger else 0.0
    named = (name.count("\n") + 1) * LINE * kind.label
    right, middle = rect.x + rect.width - PAD, rect.y + (head - told + (named if above else 0.0)) / 2
    place = rect.y + 2 + named / 2 if above else middle
    sign(page, look, rect.x + PAD + 8, place, 9.0)
    page.text((rect.x + PAD + 26, place), name, Ink(INK, size=kind.label, bold=True))
    power = watts(float(now.power.sum()))
    page.text((right, middle - LINE * kind.label / 2), power, Ink(INK, size=kind.watts, bold=True, anchor="right"))
    page.text((right, middle + LINE * kind.watts / 2), "rubbing", Ink(INK, size=kind.label, anchor="right"))
    if danger:
        page.text((rect.x + PAD, rect.y + head - 2 - told / 2), danger, Ink(INK, size=kind.label))


def _picture(
    surface: pygame.Surface, rect: Rect, player: Player, place: int, row: float, reach: tuple[float, float], point: float, kind: Type,
    placed: Placed,
) -> bool:  # fmt: skip
    """The ground with the car on it, and the words that its marks need, unless the known places are those of others: then False."""
    replay, index = player.replay, player.chosen[place]
    drive = replay.drives[index]
    now = drive.at(row)
    view = close_up_view(rect, now, reach, player.zoom, point)
    middle = view.world((rect.x + rect.width / 2) * point, (rect.y + rect.height / 2) * point)
    scene.draw_ground(PygamePen(surface, view, rect), middle, hypot(rect.width, rect.height) / 2 * point / view.scale, replay.marks)
    pen = MarkPen(surface, view, rect, placed)
    draw_close_up(pen, player, index, row, kind)
    if "lines" in player.shows and _lines(player) >= 1.0:
        _inset(surface, pen, rect, now, kind)
    if not pen.fits:
        return False
    pen.place_words()
    return True


def _lines(player: Player) -> float:
    """Share of the axle lines that the story lets see."""
    told = player.scene
    if told is None or player.story is None:
        return 1.0
    if not told.lines:
        return 0.0
    return player.story.scene_at(player.told)[1] if told.name == "lines appear" else 1.0


def draw_close_up(pen: Pen, player: Player, index: int, row: float, kind: Type) -> None:
    """The marks on the ground of a close-up, and the words that they need.

    pen : Pen; index : of the set-up; row : at which it stands; kind : sizes of letters
    """
    replay, drive = player.replay, player.replay.drives[index]
    now, told = drive.at(row), player.scene
    if "trails" in player.shows:
        scene.draw_trails(pen, drive, row, replay.top, replay.body.tyre_width)
    if "loads" in player.shows:
        scene.draw_loads(pen, now, replay.scenario.car.mass_kg * GRAVITY / USUAL_LOADS)
    scene.draw_car(pen, drive, now, replay.body)
    if "slip" in player.shows:
        scene.draw_slips(pen, now, replay.body.wheel_radius, player.larger)
    # Words at the wheels come first: of those that find no room beside their marks it matters least where the centre's stand.
    if told is not None and told.pays:
        other = beside(replay, now)
        wheel = payer(now, other) if drive is not other and (now.power > other.power).any() else int(np.argmax(now.power))
        scene.draw_payer(pen, now, wheel, watts(float(now.power[wheel])), replay.body.wheel_radius, kind.caption)
    if "numbers" in player.shows:
        scene.draw_numbers(pen, now, "loads" in player.shows, kind.label)
    share = _lines(player)
    if "lines" in player.shows and share > 0:
        scene.draw_axle_lines(pen, now, share, kind.label)


def _inset(surface: pygame.Surface, pen: MarkPen, rect: Rect, now: scene.Instant, kind: Type) -> None:
    """A window on the place where the axle lines meet or miss, where that lies outside the picture."""
    found = scene.crossing(now)
    if found is None or abs(found.left) >= scene.FAR:
        return
    p, side = pen.view.point, (found.left + found.right) / 2
    place = tuple(scene.to_ground(now, float(now.wheel_x[2]), side))
    x, y = (one / p for one in pen.view.screen(place))
    if rect.inset(EDGE).holds(x, y):
        return
    words = f"{scene.meeting_words(found)},\n{length_words(abs(side))} to the {'left' if side > 0 else 'right'}"
    ink = Ink(INK, size=kind.label, bold=True, anchor="middle")
    high = INSET[1] + 2 * LINE * kind.label + 6
    wide = max(INSET[0], max(text_width(line, ink, p) for line in words.split("\n")) + 16)
    left, right = rect.x + 4, rect.x + rect.width - wide - 4
    near, far = (left, right) if side > 0 else (right, left)
    corners = [Rect(near, rect.y + 4, wide, high), Rect(near, rect.y + rect.height - high - 4, wide, high),
               Rect(far, rect.y + 4, wide, high), Rect(far, rect.y + rect.height - high - 4, wide, high)]  # fmt: skip
    if pen.looks or pen.placed.corner < 0:
        # On the side where it lies, unless that hides more.
        crowds = [pen.crowd(_pixels(one, p)) + (0.0 if one.x == near else 0.05) for one in corners]
        pen.placed.corner = crowds.index(min(crowds))
    at = corners[pen.placed.corner]
    pen.keep_free(_pixels(at, p))
    page = PygamePen(surface, View.page(p))
    box(page, at, CARD, INK, 1.5)
    window = Rect(at.x + 2, at.y + 2, at.width - 4, INSET[1])
    scale = min(pen.view.scale / p, window.width / (2.2 * max(found.miss, 0.5)))
    view = View.ground((window.x + window.width / 2, window.y + window.height / 2), place, scale, p, now.heading)
    note = _Wordless(surface, view, window)
    scene.draw_axle_lines(note, now)
    page.text((at.x + at.width / 2, at.y + INSET[1] + 2 + LINE * kind.label), words, ink)


class _Wordless(PygamePen):
    """A pen for a picture whose words stand elsewhere."""

    def text(self, place: tuple[float, float], words: str, ink: Ink) -> None:
        """No words."""


def _pixels(rect: Rect, point: float) -> pygame.Rect:
    return pygame.Rect(*(round(side * point) for side in rect))


def draw_small(surface: pygame.Surface, rect: Rect, player: Player, index: int, row: float, point: float) -> None:
    """A small picture of a set-up: its wheels, its axle lines and its trails.  rect : [points]; row : at which it stands; point : [px]."""
    replay, drive = player.replay, player.replay.drives[index]
    now = drive.at(row)
    box(PygamePen(surface, View.page(point)), rect, CARD)
    view = close_up_view(rect, now, (SMALL_REACH, SMALL_REACH), 1.0, point)
    pen = _Wordless(surface, view, rect)
    if "trails" in player.shows:
        scene.draw_trails(pen, drive, row, replay.top, replay.body.tyre_width, SMALL_TRAIL)
    scene.draw_car(pen, drive, now, replay.body)
    if "lines" in player.shows:
        scene.draw_axle_lines(pen, now)
