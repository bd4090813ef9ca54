"""The parts of the replay's page: close-ups, score board, head, bar of buttons, help."""

from math import hypot

import numpy as np

from sim.car.chassis import GRAVITY
from viz.replay import scene
from viz.replay.layout import CHIP, ROW
from viz.replay.looks import BAD, CARD, FAINT, INK, MOST_SHOWN, SOFT, Look, shape_outline
from viz.replay.pens import Ink, Pen, PygamePen, shortened, text_width
from viz.replay.player import ACTIONS, SHOWS, TIME, Player
from viz.replay.quiet import pygame
from viz.replay.run_data import Drive
from viz.replay.view import Rect, View

HEAD, BODY, SMALL = Ink(INK, size=18.0, bold=True), Ink(INK, size=15.0), Ink(SOFT, size=14.0)
CARD_HEAD, CARD_FOOT = 30.0, 30.0  # heights of a card's name and of its sentence [points]
TALLEST_VIEW = 3.1  # [m] of ground that a close-up shows at least from front to back
SLIGHT_BEND = 1 / 60  # [1/m] what bends less is called straight
ROOMY = 1200.0  # [points] breadth from which buttons also say their keys
USUAL_LOADS = 4.0  # wheels that share the weight
KEY_NAMES = {"left": "←", "right": "→", "up": "↑", "down": "↓", "space": "Space", "home": "Home", "end": "End", "=": "+", "-": "−"}

SEEN = (
    "Each wheel's axle, drawn long. A car rolls freely only if all these lines meet in one point: the turning centre.",
    "Where they miss, the wheels want to go different ways, and the tyres are dragged: dark, broad trails.",
    "How far they miss is geometry (parallel wheels: always the distance of the kingpins); what it costs is in the W.",
    "Black line: where a wheel points. Orange arrow: where it moves. The angle between, in degrees, is the slip.",
    "Beside a set-up's name: rubber dragged, and energy lost to rubbing, from the start to here by all four wheels.",
)
MOUSE = "Mouse: click the course or the strip to go there, a set-up to show or hide it; turn the wheel to zoom."

Hit = tuple[Rect, str]  # a part of the page, and the action that a click on it means


def box(pen: Pen, rect: Rect, fill: str, rim: str = "", width: float = 1.0) -> None:
    """A filled rectangle of the page."""
    x, y, w, h = rect
    corners = np.array([(x, y), (x + w, y), (x + w, y + h), (x, y + h)])
    pen.path(corners, Ink(rim or fill, width if rim else 0.0, fill=fill))


def sign(pen: Pen, look: Look, x: float, y: float, size: float = 7.0, filled: bool = True) -> None:
    """A set-up's sign: its shape in its colour."""
    ink = Ink(look.colour if not filled else INK, 1.0, fill=look.colour if filled else CARD)
    if look.shape == "disc":
        pen.disc((x, y), size, ink)
    else:
        pen.path(shape_outline(look.shape, x, y, size), ink)


def close_up_view(rect: Rect, now: scene.Instant, reach: tuple[float, float], zoom: float, point: float) -> View:
    """The view of a close-up: the car points up the page, with room on the side to which it turns.

    reach : to the left and to the right of the car that should be seen [m]; zoom : closer by this factor
    """
    left, right = reach
    scale = zoom * min((rect.width - 20) / (left + right), (rect.height - CARD_HEAD - CARD_FOOT) / TALLEST_VIEW)
    shift = (left - right) / 2 / max(zoom, 1.0)
    middle = scene.to_ground(now, 0.0, shift)
    at = (rect.x + rect.width / 2, rect.y + CARD_HEAD + 0.47 * (rect.height - CARD_HEAD - CARD_FOOT))
    return View.ground(at, tuple(middle), scale, point, now.heading)


def draw_card(
    surface: pygame.Surface, rect: Rect, player: Player, place: int, row: float, reach: tuple[float, float], point: float
) -> None:  # fmt: skip
    """One set-up's close-up.

    place : among those shown; row : at which it stands; reach : as for `close_up_view`
    """
    replay, drive, look = player.replay, player.replay.drives[player.chosen[place]], player.looks[place]
    now, page = drive.at(row), PygamePen(surface, View.page(point))
    box(page, rect, CARD)
    view = close_up_view(rect, now, reach, player.zoom, point)
    pen = PygamePen(surface, view, rect)
    middle = view.world((rect.x + rect.width / 2) * point, (rect.y + rect.height / 2) * point)
    draw_close_up(pen, player, drive, row, middle, hypot(rect.width, rect.height) / 2 * point / view.scale)
    words, colour = scene.verdict(now)
    if replay.single_track:
        words, colour = "This model has no width: one wheel an axle", SOFT
    if drive.reason and row >= len(drive.time) - 1.5:
        words, colour = drive.reason[0].upper() + drive.reason[1:], BAD
    box(page, Rect(rect.x, rect.y, rect.width, CARD_HEAD), "#F7F6F2")
    box(page, Rect(rect.x, rect.y, 5, rect.height), look.colour)
    sign(page, look, rect.x + 19, rect.y + 15)
    power = f"{now.power.sum():.1f} W" if now.power.sum() < 99.95 else f"{now.power.sum():.0f} W"
    loud, name = Ink(INK, size=18.0, bold=True, anchor="right"), Ink(INK, size=16.0, bold=True)
    page.text((rect.x + rect.width - 10, rect.y + 15), f"rubbing {power}", loud)
    room = rect.width - 60 - text_width("rubbing 000.0 W", loud, point)
    page.text((rect.x + 33, rect.y + 15), shortened(drive.name, name, room, point), name)
    danger = scene.danger_words(drive.dangers)
    if danger:
        ink = Ink(BAD, size=14.0, fill=CARD)
        if text_width(danger, ink, point) > rect.width - 20:  # where there is no room for all of it
            danger = danger.replace(f"Danger: stop the {drive.dangers.hand_is}", "Stop")
        page.text((rect.x + 12, rect.y + CARD_HEAD + 12), shortened(danger, ink, rect.width - 20, point), ink)
    foot = Ink(colour, size=15.0, bold=True)
    for mark in (":", " ("):  # where there is no room for all of it
        if text_width(words, foot, point) > rect.width - 26:
            words = words.partition(mark)[0]
    words = shortened(words, foot, rect.width - 26, point)
    box(page, Rect(rect.x + 10, rect.y + rect.height - CARD_FOOT + 2, text_width(words, foot, point) + 10, 24), CARD)
    page.text((rect.x + 15, rect.y + rect.height - 17), words, foot)


def draw_close_up(pen: Pen, player: Player, drive: Drive, row: float, middle: tuple[float, float], reach: float) -> None:
    """What is drawn on the ground of a close-up.

    row : at which the drive stands; middle : of the picture [m]; reach : how far around it the ground is seen [m]
    """
    replay, now = player.replay, drive.at(row)
    scene.draw_ground(pen, middle, reach, replay.marks)
    if "trails" in player.shows:
        scene.draw_trails(pen, drive, row, replay.top, replay.body.tyre_width)
    if "loads" in player.shows:
        scene.draw_loads(pen, now, replay.scenario.car.mass_kg * GRAVITY / USUAL_LOADS)
    scene.draw_car(pen, drive, now, replay.body)
    if "lines" in player.shows:
        scene.draw_axle_lines(pen, now)
    if "slip" in player.shows:
        scene.draw_slips(pen, now, replay.body.wheel_radius, player.larger)
    if "numbers" in player.shows:
        scene.draw_numbers(pen, now, "loads" in player.shows)


def draw_board(page: Pen, rect: Rect, player: Player, rows: list[float], point: float) -> list[Hit]:
    """The score board: what every set-up has rubbed so far; below it the set-ups that are not shown."""
    replay = player.replay
    states = [replay.drives[i].at(row) for i, row in zip(player.chosen, rows, strict=True)]
    most = max(max(float(replay.drives[i].work[-1]) for i in player.chosen), 1e-9)
    hits: list[Hit] = []
    y = rect.y
    for place, (index, now) in enumerate(zip(player.chosen, states, strict=True)):
        drive, look = replay.drives[index], player.looks[place]
        hits.append((Rect(rect.x, y, rect.width, ROW - 2), f"choose {index}"))
        sign(page, look, rect.x + 9, y + 12)
        figures = f"{now.rub:.2f} m   {now.work:.0f} J"
        page.text((rect.x + rect.width, y + 12), figures, Ink(INK, size=15.0, bold=True, anchor="right"))
        room = rect.width - 28 - text_width(figures, Ink(size=15.0, bold=True), point) - 8
        page.text((rect.x + 24, y + 12), shortened(drive.name, BODY, room, point), BODY)
        bar = Rect(rect.x, y + 26, rect.width, 15)
        box(page, bar, "#DDDAD2")
        box(page, Rect(bar.x, bar.y, bar.width * min(now.work / most, 1.0), bar.height), look.colour)
        y += ROW
    others = [i for i in range(len(replay.drives)) if i not in player.chosen]
    y += 4
    for count, index in enumerate(others):
        chip = Rect(rect.x + (count % 2) * rect.width / 2, y + (count // 2) * CHIP, rect.width / 2 - 4, CHIP - 3)
        if chip.y + chip.height > rect.y + rect.height + 1:
            break
        box(page, chip, CARD, FAINT)
        key = f"{index + 1} " if index < 9 else ""
        words = shortened(f"{key}{replay.drives[index].name}", SMALL, chip.width - 12, point)
        page.text((chip.x + 6, chip.y + chip.height / 2), words, SMALL)
        hits.append((chip, f"choose {index}"))
    return hits


def draw_head(page: Pen, rect: Rect, player: Player, point: float) -> None:
    """Title, place and time."""
    replay, now = player.replay, player.lead.at(player.lead.row_at(player.lead.time, player.clock))
    title = HEAD._replace(size=16.0)
    first, rest = replay.title.split(), list[str]()
    while len(first) > 1 and text_width(" ".join(first), title, point) > rect.width:
        rest.insert(0, first.pop())
    page.text((rect.x, rect.y + 10), shortened(" ".join(first), title, rect.width, point), title)
    page.text((rect.x, rect.y + 30), shortened(" ".join(rest), title, rect.width, point), title)
    y = rect.y + (30 if not rest else 50)
    place = f"{player.station:.1f} m of {replay.course.length:.0f} m"
    page.text((rect.x, y + 4), f"{place}     {player.clock:.1f} s     {now.speed:.1f} m/s", BODY)
    curvature = float(np.interp(player.station, replay.course.station, replay.course.curvature))
    words = "on a straight of the course"
    if abs(curvature) > SLIGHT_BEND:
        words = f"{'left' if curvature > 0 else 'right'} bend of the course, {1 / abs(curvature):.1f} m radius"
    page.text((rect.x, y + 25), words, SMALL)


def draw_bar(page: Pen, rect: Rect, player: Player, point: float) -> list[Hit]:
    """Buttons; each says its key."""
    box(page, rect, "#D9D6CD")
    x, hits = rect.x + 8, []
    narrow = rect.width < ROOMY

    def button(action: str, label: str, on: bool = False, width: float = 0.0) -> None:
        nonlocal x
        ink = Ink("#FFFFFF" if on else INK, size=15.0, anchor="middle")
        wide = max(width, text_width(label, ink, point) + 16)
        place = Rect(x, rect.y + 7, wide, rect.height - 14)
        box(page, place, "#33506B" if on else CARD, SOFT)
        page.text((x + wide / 2, rect.y + rect.height / 2), label, ink)
        hits.append((place, action))
        x += wide + 6

    button("play", "Pause" if player.playing else "Play", width=66)
    button("slower", "−")
    page.text((x + 27, rect.y + rect.height / 2), f"{player.speed:g} ×", Ink(INK, size=15.0, bold=True, anchor="middle"))
    x += 60
    button("faster", "+")
    x += 8
    button("in step", f"{'' if narrow else 'in step '}by {player.in_step}", on=player.in_step == TIME)
    x += 8
    for name in SHOWS:
        shown = name in player.shows
        label = ("✓" if shown else "") + ACTIONS[name].label if narrow else ("✓ " if shown else "") + _with_key(name)
        button(name, label, on=shown)
    if not narrow:
        button("larger", f"angles × {player.larger:g} X")
        x = max(x, rect.x + rect.width - 174)
    for name in ("bench", "help"):
        button(name, ACTIONS[name].label if narrow else _with_key(name), on=name == "help" and player.help)
    return hits


def _with_key(action: str) -> str:
    return f"{ACTIONS[action].label} {ACTIONS[action].key.upper()}"


def draw_key(page: Pen, rect: Rect, player: Player, film: bool) -> None:
    """What a picture's marks and figures mean, where there is nobody to ask.  film : whether it moves, and how fast must be said."""
    larger = f"angle drawn {player.larger:g} times larger" if player.larger > 1 else "drawn true"
    pace = "" if not film else " Film: as fast as driven." if player.speed == 1 else f" Film: {player.speed:g} times as fast as driven."
    for row, words in enumerate((
        f"Degrees: slip, between where a wheel points (black line) and where it moves (orange arrow, {larger}).",
        f"On the left: rubber dragged, and energy lost to rubbing, from the start to here by all four wheels.{pace}",
    )):  # fmt: skip
        page.text((rect.x + 8, rect.y + 12 + 18 * row), words, SMALL._replace(colour=INK))


def draw_help(page: Pen, rect: Rect) -> None:
    """The overlay with every key."""
    entries = [(KEY_NAMES.get(one.key, one.key.upper()), one.words) for one in ACTIONS.values()]
    entries.insert(12, (f"1 – {9}", f"show or hide a set-up (up to {MOST_SHOWN})"))
    draw_sheet(page, rect, "What you see", SEEN, entries, MOUSE)


def draw_sheet(page: Pen, rect: Rect, title: str, lines: tuple[str, ...], entries: list[tuple[str, str]], last: str) -> None:
    """A sheet of explanation over the middle of a page.  entries : keys, and what each does; last : said below them."""
    half = -(-len(entries) // 2)
    wide, high = 840.0, 168.0 + 21 * len(lines) + 22 * half
    sheet = Rect(rect.x + (rect.width - wide) / 2, rect.y + (rect.height - high) / 2, wide, high)
    box(page, sheet, CARD, INK, 2.0)
    page.text((sheet.x + 24, sheet.y + 28), title, HEAD)
    ink = Ink(INK, size=14.0)
    for i, words in enumerate(lines):
        page.text((sheet.x + 24, sheet.y + 56 + 21 * i), words, ink)
    y = sheet.y + 76 + 21 * len(lines)
    page.text((sheet.x + 24, y), "Keys", HEAD)
    for i, (key, words) in enumerate(entries):
        left, down = sheet.x + 24 + (i // half) * 405, y + 26 + 22 * (i % half)
        page.text((left, down), key, ink._replace(bold=True))
        page.text((left + 66, down), words, ink)
    page.text((sheet.x + 24, sheet.y + high - 24), last, ink)
