"""One set-up's picture: large with its name, watts and caption, or small on the board."""

from math import hypot

import numpy as np

from sim.car.chassis import GRAVITY
from sim.study.dangers import Dangers
from viz.replay import scene
from viz.replay.captions import CROSS, TICK, caption, pays, pays_most, watts, watts_apart, without_toe
from viz.replay.costs import slight
from viz.replay.labels import MarkPen, Placed
from viz.replay.layout import LINE, Type
from viz.replay.looks import CARD, INK, LABEL
from viz.replay.panels import SHADE, box, sign
from viz.replay.pens import Ink, Pen, PygamePen, text_width, wrapped
from viz.replay.player import Player
from viz.replay.quiet import pygame
from viz.replay.run_data import Body, Drive, Replay
from viz.replay.view import Rect, View
from viz.shared.axle_lines import length_words
from viz.shared.dangers import needs_stop

TALLEST_VIEW = 3.1  # [m] of ground that a close-up shows at least from front to back
USUAL_LOADS = 4.0  # wheels that share the weight
PAD = 12.0  # [points] between a card's edge and its words
FOOT_LINES = 2  # of a caption, for which there is always room, so that the picture does not jump
SMALL_TRAIL = 2.0  # [m] of trail in a small picture
SMALL_REACH = 1.35  # [m] that a small picture shows to each side of the car
INSET = (196.0, 74.0)  # breadth, and height of the picture, of the window on a meeting point that lies outside [points]
INSET_RIM = 8.0  # [points] between its edge and its words
MUCH = 2.0  # [m] lines that miss by more are no near miss but aim at two places, and the window shows both with the car.  A judgement.
CAR_SIGN = (9.0, 20.0)  # breadth and length of what stands for the car where it would be a speck [points]
LEAST_CROSS = 6.0  # [points] arm of a cross that can be seen
LEAST_TOE = np.radians(0.1)  # a tape measure shows no less
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
    told = caption(player.replay, index, row, player.chosen)
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
    picture = picture_of(rect, frame)
    box(page, rect._replace(height=head + 2), SHADE)  # the picture covers what lies between
    if rect.y + rect.height > picture.y + picture.height - 2:
        box(page, Rect(rect.x, picture.y + picture.height - 2, rect.width, rect.y + rect.height - picture.y - picture.height + 2), SHADE)
    draw_picture(surface, picture, player, place, row, reach, point, kind, placed)
    _draw_head(page, rect, player, index, drive.at(row), head, point, kind)
    box(page, Rect(rect.x, rect.y, 6, rect.height), player.looks[index].colour)
    mark, words, left = _told(rect, player, index, row, point, kind)
    middle = picture.y + picture.height + foot / 2
    verdict_sign(page, mark, rect.x + PAD + 0.45 * kind.caption, middle, 0.36 * kind.caption)
    page.text((rect.x + left, middle), words, Ink(INK, size=kind.caption, bold=True))
    return picture


def picture_of(rect: Rect, frame: tuple[float, float]) -> Rect:
    """The part of a card that shows the ground.  rect : of the card [points]; frame : of `frame_of`."""
    return Rect(rect.x + 6, rect.y + frame[0], rect.width - 6, max(rect.height - sum(frame), 40.0))


def draw_picture(
    surface: pygame.Surface, picture: Rect, player: Player, place: int, row: float, reach: tuple[float, float], point: float, kind: Type,
    placed: Placed | None = None,
) -> None:  # fmt: skip
    """The ground of a card alone.  picture : of `picture_of`; else as for `draw_card`."""
    page = PygamePen(surface, View.page(point))
    box(page, picture, CARD)
    placed = placed if placed is not None else Placed()
    if not _picture(surface, picture, player, place, row, reach, point, kind, placed):
        placed.known, placed.window = False, None  # there are others now
        placed.words.clear()
        box(page, picture, CARD)
        _picture(surface, picture, player, place, row, reach, point, kind, placed)
    if kind.label > LABEL and not placed.alike:
        placed.smaller()
        box(page, picture, CARD)
        _picture(surface, picture, player, place, row, reach, point, kind, placed)


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
    """What `limit_words` says, wrapped."""
    return wrapped(limit_words(drive.dangers), Ink(size=kind.label), rect.width - 2 * PAD, point)


def limit_words(setup: Dangers) -> str:
    """How far the hand wheel may turn, and that a stop belongs there where nothing stands before; empty where no rod comes in line.

    setup : whose dead centres
    """
    fit = "fit a stop; " if needs_stop(setup) else ""
    told = f"Danger: {fit}the {setup.hand_is} must not pass "
    return scene.danger_words(setup).replace(f"Danger: stop the {setup.hand_is} before ", told)


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
    more = _more_than_other(player, index)
    said = f"rubbing, {more} more" if more else "rubbing"
    page.text((right, middle + LINE * kind.watts / 2), said, Ink(INK, size=kind.label, anchor="right"))
    if danger:
        page.text((rect.x + PAD, rect.y + head - 2 - told / 2), danger, Ink(INK, size=kind.label))


def _more_than_other(player: Player, index: int) -> str:
    """By how much this one rubs more, of two pictures with a cross; empty in the other one, and where there are no two."""
    replay, rows = player.replay, player.rows
    if len(rows) < 2 or any(caption(replay, i, row, player.chosen).mark != CROSS for i, row in zip(player.chosen, rows, strict=True)):
        return ""
    own, other = (float(replay.drives[i].at(player.row(i)).power.sum()) for i in (index, *(i for i in player.chosen if i != index)))
    return watts_apart(own, other) if own - other > slight(replay) else ""


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
        _inset(surface, pen, rect, player, index, now, kind)
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
        wheel, words = pays_most(replay, index, now)
        scene.draw_payer(pen, now, wheel, words, replay.body.wheel_radius, kind.caption, pays(replay, index, now))
    if "numbers" in player.shows:
        scene.draw_numbers(pen, now, "loads" in player.shows, kind.label)
    share = _lines(player)
    if "lines" in player.shows and share > 0:
        scene.draw_axle_lines(pen, now, share, kind.label)


def _inset(surface: pygame.Surface, pen: MarkPen, rect: Rect, player: Player, index: int, now: scene.Instant, kind: Type) -> None:
    """A window on the places where the axle lines meet or miss, where those lie outside the picture; it never covers the car."""
    replay, p = player.replay, pen.view.point
    far = _far(pen, rect, now, replay.scenario.setup[index].toe_in)
    if far is None:
        return
    words, sides = far
    side = sides[0] if sides else 1.0
    if pen.looks or pen.placed.window is None:
        pen.placed.window = _window(pen, rect, car_box(pen.view, now, replay.body), words, side > 0, bool(sides), kind)
    if pen.placed.window is None:
        return  # the largest letters in a small window
    at, high, size = pen.placed.window
    ink = Ink(INK, size=size, bold=True, anchor="middle")
    pen.forget(scene.said_of_lines(now))  # the window says it
    pen.keep_free(_pixels(at, p))
    page = PygamePen(surface, View.page(p))
    box(page, at, CARD, INK, 1.5)
    if high:
        _miniature(surface, Rect(at.x + 2, at.y + 2, at.width - 4, high), replay, index, now, sides, p, pen.view.scale / p, size)
    words = wrapped(words, ink, at.width - 2 * INSET_RIM, p)
    page.text((at.x + at.width / 2, at.y + high + (at.height - high) / 2), words, ink)


def _far(pen: MarkPen, rect: Rect, now: scene.Instant, toe: float) -> tuple[str, tuple[float, ...]] | None:
    """What the front wheels' axle lines do outside the picture, in words, and how far to the left of the car they cross the rear one [m];
    None where all of it is seen."""
    found, p = scene.crossing(now), pen.view.point
    if found is None:
        if abs(toe) < LEAST_TOE:
            return None
        left, right = now.steer[:2].tolist()
        return f"toe: the front wheels aim at different centres, {'left and right' if left * right < 0 else 'far away'}", ()
    sides = (found.left, found.right)
    ends = [pen.view.screen(tuple(scene.to_ground(now, float(now.wheel_x[2]), side))) for side in sides]
    if all(rect.inset(EDGE).holds(x / p, y / p) for x, y in ends):
        return None
    where = "to the left" if sides[0] > 0 else "to the right"
    if found.miss < MUCH:
        return f"{scene.meeting_words(found)}, {length_words(abs(sum(sides)) / 2)} {where}", sides
    near, away = (length_words(min(abs(side), scene.FAR)) for side in sorted(sides, key=abs))
    over = "over " if max(map(abs, sides)) > scene.FAR else ""
    why = "toe: the front wheels aim" if abs(toe) >= LEAST_TOE and without_toe(now, toe) < found.miss / 2 else "the front wheels aim"
    return f"{why} at different centres, {near} and {over}{away} {where}", sides


def car_box(view: View, now: scene.Instant, body: Body) -> Rect:
    """The part of the page that the wheels and what is between them take, with the arrows at the wheels [points].

    view : of the picture; now : Instant; body : Body
    """
    reach = (1 + 2 * scene.ARROW) * body.wheel_radius
    ahead = [*(now.wheel_x + reach), *(now.wheel_x - body.wheel_radius)]
    left = [*(now.wheel_y + body.wheel_radius * np.sign(now.wheel_y)), *now.wheel_y]
    x, y = (view.screens(scene.to_ground(now, ahead, left)) / view.point).T
    return Rect(float(x.min()), float(y.min()), float(np.ptp(x)), float(np.ptp(y)))


def _window(
    pen: MarkPen, rect: Rect, car: Rect, words: str, left: bool, shown: bool, kind: Type
) -> tuple[Rect, float, float] | None:  # fmt: skip
    """Where the window on a meeting point stands, the height of the picture in it, and the size of its letters [points].

    rect : of the picture; car : the part that the car takes [points]; left : whether the point lies there; shown : whether it has a picture
    Beside the car, best on the side where the point lies; where it is too narrow there first the picture yields, then the letters.
    """
    p, most = pen.view.point, min(kind.label, pen.placed.most)
    sides = [(rect.x + 4, car.x - 4), (car.x + car.width + 4, rect.x + rect.width - 4)]
    for size, high in dict.fromkeys((size, high) for size in (most, min(most, LABEL)) for high in (INSET[1] * shown, 0.0)):
        ink = Ink(size=size, bold=True)
        for begin, end in sides if left else sides[::-1]:
            wide = min(end - begin, INSET[0] * max(size / LABEL, 1.0) + 20)
            least = max(text_width(word, ink, p) for word in words.split(" ")) + 2 * INSET_RIM
            tall = high + (wrapped(words, ink, wide - 2 * INSET_RIM, p).count("\n") + 1) * LINE * size + 8
            if wide < max(least, INSET[0] / 2 if high else 0.0) or tall > rect.height - 8:
                continue
            x = begin if begin == rect.x + 4 else end - wide
            corners = [Rect(x, rect.y + 4, wide, tall), Rect(x, rect.y + rect.height - tall - 4, wide, tall)]
            return min(corners, key=lambda one: pen.crowd(_pixels(one, p))), high, size
    return None


def _miniature(
    surface: pygame.Surface, rect: Rect, replay: Replay, index: int, now: scene.Instant, sides: tuple[float, ...], point: float,
    scale: float, size: float,
) -> None:  # fmt: skip
    """The picture in the window: the place where the lines meet or nearly do; where they miss by much, the car with both places.

    sides : how far to the left of the car the lines cross the rear one [m]
    scale : of the large picture [points/m]; size : of letters [points]
    """
    miss, farthest = abs(sides[0] - sides[1]), max(sides, key=abs)
    whole = miss >= MUCH
    if whole:
        farthest = max(min(farthest, scene.FAR), -scene.FAR)
        scale = (rect.width - 2 * INSET_RIM) / (abs(farthest) + 2.0)
    else:
        scale = min(scale, rect.width / (2.2 * max(miss, 0.5)))
    middle = scene.to_ground(now, float(now.wheel_x[2]), farthest / 2 if whole else sum(sides) / 2)
    view = View.ground((rect.x + rect.width / 2, rect.y + rect.height / 2), tuple(middle), scale, point, now.heading)
    pen = _Wordless(surface, view, rect)
    long = replay.body.wheelbase * scale
    if whole and long >= CAR_SIGN[1]:
        scene.draw_car(pen, replay.drives[index], now, replay.body)
    elif whole:
        page, (x, y) = PygamePen(surface, View.page(point), rect), view.screen((now.x, now.y))
        x, y = x / point, y / point
        box(page, Rect(x - CAR_SIGN[0] / 2, y - CAR_SIGN[1] / 2, *CAR_SIGN), INK)
        page.text((x, y - CAR_SIGN[1] / 2 - 0.6 * size), "car", Ink(INK, size=size, bold=True, anchor="middle"))
    scene.draw_axle_lines(pen, now, arm=max(scene.CROSS_ARM, LEAST_CROSS / scale), named=False)


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
        scene.draw_axle_lines(pen, now, named=False)
