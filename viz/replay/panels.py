"""The parts of the replay's page beside the pictures: score board, head, what is said over them, bar of buttons, help."""

import numpy as np

from viz.replay.captions import joule_words
from viz.replay.costs import SLIGHT_BEND, bend_at, by_cost, places_of
from viz.replay.layout import GAP, LINE, Type
from viz.replay.looks import CARD, INK, SOFT, Look, shape_outline
from viz.replay.pens import Ink, Pen, PygamePen, text_width, wrapped
from viz.replay.player import ACTIONS, SHOWS, TIME, Player
from viz.replay.story import verdict_of
from viz.replay.view import Rect
from viz.shared.axle_lines import NARROW

SHADE = "#F7F6F2"  # behind a picture's name and caption
SMALL_PICTURE = (72.0, 64.0)  # breadth and height of a small picture on the board [points]
SIGN_ROOM = 28.0  # [points] for the sign before a name
BESIDE_PICTURE = SIGN_ROOM + SMALL_PICTURE[0] + 2
MORE_ROWS = 3  # lines that say that there are more rows, as high together as a row
NEAR_PLACE = 0.5  # [m] within which a numbered place is said to be here
TRACK = "#D9D6CD"  # of the bars on the board, and behind the buttons
PRESSED = "#3A3A3A"

SEEN = (
    "Each wheel's axle, drawn long: a car rolls freely only where all lines meet in one point. Where they miss, the front",
    "wheels want to go different ways. By how much they miss is geometry; what it costs is in the watts and the caption.",
    "Dashed: where a wheel points. Arrow: where it moves; the angle between is its slip. Trails: the darker and broader,",
    "the more power rubs there (broader than the tyre, which is drawn at its true width). A hue and its shape: one set-up.",
)
MOUSE = "Mouse: course and strip go there; a row of the board shows that set-up (right button: on the left); wheel: closer, or the board."
DIGITS = ("1 – 9", "show this set-up (Shift: left)")

Hit = tuple[Rect, str]  # a part of the page, and the action that a click on it means


def box(pen: Pen, rect: Rect, fill: str, rim: str = "", width: float = 1.0) -> None:
    """A filled rectangle of the page."""
    x, y, w, h = rect
    corners = np.array(((x, y), (x + w, y), (x + w, y + h), (x, y + h)))
    pen.path(corners, Ink(rim or fill, width if rim else 0.0, fill=fill))


def sign(pen: Pen, look: Look, x: float, y: float, size: float = 7.0, filled: bool = True) -> None:
    """A set-up's sign: its shape in its colour."""
    ink = Ink(look.colour if not filled else INK, 1.0, fill=look.colour if filled else CARD)
    if look.shape == "disc":
        pen.disc((x, y), size, ink)
    else:
        pen.path(shape_outline(look.shape, x, y, size), ink)


def head_words(player: Player, width: float, point: float, kind: Type) -> tuple[str, str]:
    """The title, and below it place, time and bend, wrapped.  width : [points]; point : [px]; kind : sizes of letters."""
    replay, lead = player.replay, player.lead
    now = lead.at(lead.row_at(lead.time, player.clock))
    title = wrapped(replay.title, Ink(size=kind.label, bold=True), width, point)
    side, radius = bend_at(replay, player.station)
    wide = "" if radius > 1 / SLIGHT_BEND else f", {radius:.1f}{NARROW}m radius"
    numbers = [number for number, place in enumerate(places_of(replay, player.chosen), 1) if abs(place - player.station) < NEAR_PLACE]
    if numbers:  # also where the strip with its numbers has given way
        bend = f"Place {numbers[0]}: {f'{side}{wide}' if side else 'on a straight'}"
    else:
        bend = f"{side} bend{wide}" if side else "on a straight"
    place = f"{player.station:.1f} of {replay.course.length:.0f}{NARROW}m, {now.speed:.1f}{NARROW}m/s, {player.clock:.1f}{NARROW}s"
    ink = Ink(size=kind.label)
    return title, f"{wrapped(place, ink, width, point)}\n{wrapped(bend, ink, width, point)}"


def draw_head(page: Pen, rect: Rect, player: Player, point: float, kind: Type) -> None:
    """Title, place and time.  rect : [points]; point : [px]; kind : sizes of letters."""
    title, words = head_words(player, rect.width, point, kind)
    line = LINE * kind.label
    high = (title.count("\n") + 1) * line
    page.text((rect.x, rect.y + high / 2), title, Ink(INK, size=kind.label, bold=True))
    page.text((rect.x, rect.y + high + (words.count("\n") + 1) * line / 2), words, Ink(INK, size=kind.label))


def board_rows(player: Player, width: float, point: float, kind: Type) -> list[tuple[int, str, float]]:
    """The rows of the score board, the costliest first: index of the set-up, its name wrapped, the row's height [points]."""
    rows = list[tuple[int, str, float]]()
    for index in by_cost(player.replay, [*player.within, *(i for i in player.chosen if i not in player.within)]):
        small = index not in player.chosen
        room = width - 30 - (SMALL_PICTURE[0] + 2 if small else 0)
        name = wrapped(player.replay.drives[index].name, Ink(size=kind.label), room, point)
        high = (name.count("\n") + 2) * LINE * kind.label + 24
        rows.append((index, name, max(high, SMALL_PICTURE[1] + 8) if small else high))
    return rows


def draw_board(
    page: Pen, rect: Rect, player: Player, point: float, kind: Type, live: bool = True
) -> tuple[list[Hit], list[tuple[Rect, int]]]:  # fmt: skip
    """The score board: what every set-up has rubbed away so far, and where its lap will end.

    rect : [points]; point : [px]; kind : sizes of letters; live : whether somebody can press the keys that it names
    Returns what a click on each part means, and where the small pictures of which set-ups belong [points].
    """
    replay = player.replay
    drives = replay.drives
    every = board_rows(player, rect.width, point, kind)
    most = max(max(float(drives[i].work[-1]) for i, _, _ in every), 1e-9)
    first = rect.x + BESIDE_PICTURE  # of every bar, beside a small picture or not: equal joules look equal
    line, label = LINE * kind.label, Ink(INK, size=kind.label)
    # The rows of both pictures always stay; where somebody can scroll, there is room for another beside them.
    room, others = rect.height - line, [high for index, _, high in every if index not in player.chosen]
    least = sum(high for _, _, high in every) - sum(others) + (min(others) + every[0][2] / MORE_ROWS if live and others else 0.0)
    for brief in (False, True):  # long names give way before the verdict does
        verdict = wrapped(verdict_of(replay, player.chosen, brief), label, rect.width - 6, point)
        told = (verdict.count("\n") + 1) * line if verdict else 0.0
        fits = room - told >= least
        if fits:
            break
    fewer = room - told if fits else room
    rows, hits, small = _seen_rows(every, player, fewer), list[Hit](), list[tuple[Rect, int]]()
    page.text((rect.x, rect.y + line / 2), "Rubber dragged" if player.rubber else "Rubbed away so far", label)
    y = rect.y + line
    for index, name, high in rows:
        drive, look = drives[index], player.looks[index]
        now = drive.at(player.row(index))
        hits.append((Rect(rect.x, y, rect.width, high - 4), f"choose {index}"))
        left = rect.x + SIGN_ROOM
        if index in player.chosen:
            box(page, Rect(rect.x - 4, y, rect.width + 4, high - 6), CARD)
        else:
            picture = Rect(rect.x, y, *SMALL_PICTURE)
            small.append((picture, index))
            left = rect.x + BESIDE_PICTURE
        sign(page, look, left - 17, y + 4 + line / 2, 8.0)
        lines = name.count("\n") + 1
        page.text((left, y + 4 + lines * line / 2), name, label)
        figures, bold = _figures(player, index, now.rub, now.work), label._replace(bold=True)
        page.text((left, y + 4 + (lines + 0.5) * line), figures, bold)
        used = text_width(figures, bold, point) + 8 + text_width("key 9", label, point)
        if live and index < 9 and left + used < rect.x + rect.width - 6:
            page.text((rect.x + rect.width - 6, y + 4 + (lines + 0.5) * line), f"key {index + 1}", label._replace(anchor="right"))
        bar = Rect(first, y + 9 + (lines + 1) * line, rect.x + rect.width - first - 6, 6.0)
        box(page, bar, TRACK)
        box(page, Rect(bar.x, bar.y, bar.width * min(now.work / most, 1.0), bar.height), look.colour)
        end = bar.x + bar.width * float(drive.work[-1]) / most
        page.line((end, bar.y - 3), (end, bar.y + bar.height + 3), Ink(INK, 2.5))  # where the lap will end
        y += high
    hidden = len(every) - len(rows)
    if verdict and y + told <= rect.y + rect.height - (line if hidden else 0):
        page.text((rect.x, y + told / 2), verdict, label)
    if hidden:
        more = f"{hidden} more: turn the wheel here"
        more = more if live and text_width(more, label, point) < rect.width else f"{hidden} more"
        page.text((rect.x, rect.y + rect.height - line / 2), more, label)
    return hits, small


def _figures(player: Player, index: int, rub: float, work: float) -> str:
    drive = player.replay.drives[index]
    if player.rubber:
        return f"{rub:.1f} of {float(drive.rub[-1]):.1f}{NARROW}m"
    end = f"{joule_words(float(drive.work[-1]))}" if not drive.reason else f"{joule_words(float(drive.work[-1]))}, ends there"
    return f"{work:.0f} of {end}"


def _seen_rows(every: list[tuple[int, str, float]], player: Player, room: float) -> list[tuple[int, str, float]]:
    """The whole rows that there is room for, from the one to which the board is scrolled [points]; both pictures' own if they fit."""
    if sum(high for _, _, high in every) <= room:
        player.scroll = 0
        return every
    room -= every[0][2] / MORE_ROWS
    fixed = [one for one in every if one[0] in player.chosen]
    rest = [one for one in every if one not in fixed]
    left = room - sum(high for _, _, high in fixed)
    seen = _scrolled(rest, player, left)
    if sum(high for _, _, high in seen) <= left:
        return [one for one in every if one in fixed or one in seen]
    if left >= 0 and player.scroll == 0:
        return fixed
    return _scrolled(every, player, room)


def _scrolled(every: list[tuple[int, str, float]], player: Player, room: float) -> list[tuple[int, str, float]]:
    """Of rows those from the one to which the board is scrolled that there is room for [points]."""
    last = len(every)
    while last > 1 and sum(high for _, _, high in every[last - 1 :]) <= room:
        last -= 1
    player.scroll = min(max(player.scroll, 0), last)
    rows, used = list[tuple[int, str, float]](), 0.0
    for one in every[player.scroll :]:
        if rows and used + one[2] > room:
            break
        rows.append(one)
        used += one[2]
    return rows


def banner_lines(player: Player, width: float, point: float, kind: Type) -> int:
    """How many lines what is said over the pictures takes; those of the longest scene, so that the pictures stay where they are."""
    if player.story is None:
        return 0
    ink = Ink(size=kind.caption, bold=True)
    return max(wrapped(one.words, ink, width - 24, point).count("\n") + 1 for one in player.story.scenes)


def draw_banner(page: Pen, rect: Rect, player: Player, point: float, kind: Type) -> None:
    """What the story says.  rect : [points]; point : [px]; kind : sizes of letters."""
    box(page, rect, INK)
    ink = Ink(CARD, size=kind.caption, bold=True)
    page.text((rect.x + 12, rect.y + rect.height / 2), wrapped(player.words, ink, rect.width - 24, point), ink)
    if player.story is not None and player.scene is not None:
        index, share = player.story.scene_at(player.told)
        part = rect.width / len(player.story.scenes)
        box(page, Rect(rect.x, rect.y + rect.height - 4, part * (index + share), 4), TRACK)


def buttons(player: Player) -> list[tuple[str, str, bool]]:
    """The buttons of the bar: action, label, whether it is on."""
    shows = [(name, ACTIONS[name].label, name in player.shows) for name in SHOWS]
    return [
        ("play", "Pause" if player.playing else "Play", False), ("slower", "−", False), ("", f"{player.speed:g} ×", False),
        ("faster", "+", False), ("in step", f"by {player.in_step}", player.in_step == TIME), ("telling", ACTIONS["telling"].label, False),
        ("story", ACTIONS["story"].label, player.story is not None), *shows, ("bench", ACTIONS["bench"].label, False),
        ("help", "Help H", player.help),
    ]  # fmt: skip


WIDEST = {"play": "Pause", "": "0.1 ×", "in step": "by distance"}  # labels that change


def bar_places(player: Player, width: float, point: float, kind: Type) -> list[tuple[float, int, float]]:
    """Where the buttons stand: left edge [points], row from 0, breadth [points]."""
    places, x, row = list[tuple[float, int, float]](), GAP, 0
    for action, label, _ in buttons(player):
        wide = text_width(WIDEST.get(action, f"✓ {label}" if action in SHOWS else label), Ink(size=kind.label), point) + 14
        if x + wide > width - GAP and x > GAP:
            x, row = GAP, row + 1
        places.append((x, row, wide))
        x += wide + 5
    return places


def draw_bar(page: Pen, rect: Rect, player: Player, point: float, kind: Type) -> list[Hit]:
    """Buttons, in as many rows as they need.  rect : [points]; point : [px]; kind : sizes of letters."""
    box(page, rect, TRACK)
    hits, places = list[Hit](), bar_places(player, rect.width, point, kind)
    high = rect.height / (places[-1][1] + 1)
    for (action, label, on), (x, row, wide) in zip(buttons(player), places, strict=True):
        middle = (x + wide / 2, rect.y + (row + 0.5) * high)
        place = Rect(x, rect.y + row * high + 5, wide, high - 10)
        if action:
            box(page, place, PRESSED if on else CARD, SOFT)
            hits.append((place, action))
        words = f"✓ {label}" if on and action in SHOWS else label
        page.text(middle, words, Ink(CARD if on else INK, size=kind.label, bold=not action, anchor="middle"))
    return hits


def key_words(player: Player, film: bool) -> str:
    """What a picture's marks and figures mean, where there is nobody to ask.  film : whether it moves, and how fast must be said."""
    larger = f"angle drawn {player.larger:g} times larger" if player.larger > 1 else "drawn true"
    pace = "" if not film else " Film: as fast as driven." if player.speed == 1 else f" Film: {player.speed:g} times as fast as driven."
    return (
        f"Degrees: slip, between where a wheel points (dashed) and where it moves (arrow, {larger}). "
        f"Trails: dark and broad where power rubs. Bars: so far; the stroke: at the end.{pace}"
    )


def draw_key(page: Pen, rect: Rect, player: Player, film: bool, point: float, kind: Type) -> None:
    """The key of a picture.  rect : [points]; film : as for `key_words`; point : [px]; kind : sizes of letters."""
    ink = Ink(INK, size=kind.label)
    words = wrapped(key_words(player, film), ink, rect.width - 2 * GAP, point)
    page.text((rect.x + GAP, rect.y + rect.height / 2), words, ink)


def draw_help(page: PygamePen, rect: Rect, point: float) -> None:
    """The overlay with every key, on one screen whatever the size of the page.  rect : of the page [points]; point : [px]."""
    entries = [(one.key, one.words) for one in ACTIONS.values() if one.words]
    entries[14:14] = [DIGITS]
    entries.append(("Esc", "back; then it asks to close"))
    columns = 3 if rect.width >= 1200 else 2
    long = -(-len(entries) // columns)
    ink, line = Ink(INK, size=18.0), 23.0
    lines = [part for words in SEEN for part in wrapped(words, ink, rect.width - 48, point).split("\n")]
    lines += wrapped(MOUSE, ink, rect.width - 48, point).split("\n")
    box(page, rect.inset(6), CARD, INK, 2.0)
    y = rect.y + 30
    for words in lines:
        page.text((rect.x + 24, y), words, ink)
        y += line
    step = min(line + 16, (rect.height - y - 30) / long)
    wide = (rect.width - 48) / columns
    for place, (key, words) in enumerate(entries):
        left, down = rect.x + 24 + place // long * wide, y + 18 + step * (place % long)
        page.text((left, down), key, ink._replace(bold=True))
        page.text((left + 84, down), words, ink)


def draw_question(page: PygamePen, rect: Rect, words: str, point: float, kind: Type) -> None:
    """Words in a frame in the middle of the page.  rect : of the page [points]; point : [px]; kind : sizes of letters."""
    ink = Ink(INK, size=kind.caption, bold=True, anchor="middle")
    shown = wrapped(words, ink, rect.width - 80, point)
    wide = max(text_width(one, ink, point) for one in shown.split("\n")) + 40
    high = (shown.count("\n") + 1) * LINE * kind.caption + 28
    box(page, Rect(rect.x + (rect.width - wide) / 2, rect.y + 60, wide, high), CARD, INK, 2.5)
    page.text((rect.x + rect.width / 2, rect.y + 60 + high / 2), shown, ink)
