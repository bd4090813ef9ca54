"""Where everything stands on the page, in points, for any size of window and of type."""

from typing import NamedTuple

from viz.replay.looks import CAPTION, LABEL, WATTS
from viz.replay.view import Rect

BASE = (1280.0, 720.0)  # a window of this size has one pixel a point
LEAST_POINT = 0.78  # [px] of the replay's page, so that its smallest letters have 14 pixels in a small window
GAP, SIDE, BAR = 8.0, 316.0, 44.0
LEAST_PICTURE = 230.0  # [points] height of the ground in a picture, for which course and strip make room; more for larger type
LINE = 1.17  # from line to line, in sizes of letters


class Type(NamedTuple):
    """Sizes of letters [points]."""

    watts: float
    caption: float
    label: float

    @classmethod
    def enlarged(cls, times: float) -> "Type":
        """The usual sizes, larger.  times : by how much [-]."""
        return cls(WATTS * times, CAPTION * times, LABEL * times)


class Layout(NamedTuple):
    """Places on the page [points], and the size of a point [px]; without a board `head` and `board` have no breadth."""

    point: float
    type: Type
    page: Rect
    head: Rect
    board: Rect
    banner: Rect
    cards: tuple[Rect, ...]
    course: Rect
    strip: Rect
    bar: Rect


def page_point(width: int, height: int) -> float:
    """Size of a point of the replay's page, which shrinks with a small window.  width, height : of the surface [px].  Returns [px]."""
    return max(LEAST_POINT, min(width / BASE[0], height / BASE[1]))


def lay_out(
    size: tuple[int, int], shown: int, times: float = 1.0, board: bool = True, banner_lines: int = 0, head_lines: int = 4,
    bar_rows: int = 1, words: float = 0.0,
) -> Layout:  # fmt: skip
    """The replay's page.

    size : of the surface [px]; shown : pictures side by side; times : how much larger the type is; board : whether it is seen
    banner_lines, head_lines, bar_rows : of words over the pictures, of the title with place and time, of the buttons
    words : height of the words in a picture; where they leave it too little, course and strip have no height [points]
    """
    point, kind = page_point(*size), Type.enlarged(times)
    page = Rect(0.0, 0.0, size[0] / point, size[1] / point)
    row = max(BAR, kind.label + 24)
    bar = Rect(0.0, page.height - bar_rows * row, page.width, bar_rows * row)
    side = (SIDE + 130 * (times - 1)) if board else 0.0
    low = 92.0 + 3 * LINE * kind.label
    banner_height = banner_lines * LINE * kind.caption + 14 + GAP if banner_lines else 0.0
    if bar.y - low - 2 * GAP - banner_height - words < LEAST_PICTURE * times:
        low = GAP
    course = Rect(GAP, bar.y - low, SIDE - 40.0 + GAP, max(low - GAP, 0.0))
    strip = Rect(course.x + course.width + GAP, bar.y - low, page.width - course.x - course.width - 2 * GAP, low if low > GAP else 0.0)
    head = Rect(GAP, GAP, side, head_lines * LINE * kind.label + 4 if board else 0.0)
    below = head.y + head.height + GAP
    board_rect = Rect(GAP, below, side, strip.y - GAP - below)
    left = side + 2 * GAP if board else GAP
    banner = Rect(left, GAP, page.width - left - GAP, max(banner_height - GAP, 0.0))
    top = banner.y + banner_height
    field = Rect(left, top, banner.width, strip.y - GAP - top)
    wide = (field.width - GAP * (shown - 1)) / shown
    cards = tuple(Rect(field.x + i * (wide + GAP), field.y, wide, field.height) for i in range(shown))
    return Layout(point, kind, page, head, board_rect, banner, cards, course, strip, bar)
