"""Where everything stands on the page, in points, for any size of window."""

from typing import NamedTuple

from viz.replay.view import Rect

BASE = (1280.0, 720.0)  # a window of this size has one pixel a point
GAP, SIDE, STRIP, BAR = 8.0, 308.0, 118.0, 44.0
ROW, CHIP = 50.0, 24.0  # heights on the score board
CARD_ASPECT = 1.75  # breadth by height that suits a close-up


class Layout(NamedTuple):
    """Places on the page [points], and the size of a point [px]."""

    point: float
    page: Rect
    head: Rect
    course: Rect
    board: Rect
    cards: tuple[Rect, ...]
    strip: Rect
    bar: Rect


def point_size(width: int, height: int) -> float:
    """Size of a layout point, so that a larger or a denser screen has larger letters, and a smaller one still readable ones.

    width, height : of the surface [px]
    Returns [px], at least 1.
    """
    return max(1.0, min(width / BASE[0], height / BASE[1]))


def lay_out(width: int, height: int, shown: int, others: int) -> Layout:
    """The replay's page.

    width, height : of the surface [px]; shown, others : set-ups that are shown, and that could be
    Returns Layout.
    """
    point = point_size(width, height)
    page = Rect(0.0, 0.0, width / point, height / point)
    bar = Rect(0.0, page.height - BAR, page.width, BAR)
    strip = Rect(GAP, bar.y - STRIP, page.width - 2 * GAP, STRIP)
    tall = strip.y - 2 * GAP
    head = Rect(GAP, GAP, SIDE, 86.0)
    board_height = min(ROW * shown + (CHIP * ((others + 1) // 2) + 6 if others else 0.0) + 6, tall - head.height - 80)
    board = Rect(GAP, strip.y - GAP - board_height, SIDE, board_height)
    course = Rect(GAP, head.y + head.height, SIDE, board.y - head.y - head.height - GAP)
    left = SIDE + 2 * GAP
    field = Rect(left, GAP, page.width - left - GAP, tall)
    return Layout(point, page, head, course, board, tuple(_cards(field, shown)), strip, bar)


def _cards(field: Rect, shown: int) -> list[Rect]:
    def size(columns: int) -> tuple[float, float]:
        rows = -(-shown // columns)
        return (field.width - GAP * (columns - 1)) / columns, (field.height - GAP * (rows - 1)) / rows

    def worth(columns: int) -> float:
        width, height = size(columns)
        return min(width / CARD_ASPECT, height)

    columns = max(range(1, shown + 1), key=worth)
    width, height = size(columns)
    return [Rect(field.x + (i % columns) * (width + GAP), field.y + (i // columns) * (height + GAP), width, height) for i in range(shown)]
