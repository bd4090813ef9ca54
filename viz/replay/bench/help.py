"""The words of the steering bench's help."""

from viz.replay.bench.plots import LABEL, TITLE
from viz.replay.looks import CARD, INK
from viz.replay.panels import box
from viz.replay.pens import Pen, wrapped
from viz.replay.view import Rect

KEYS = (
    ("← →", "hand wheel (Shift: a fifth as far)"), ("↑ ↓", "choose a number"), ("+ −", "change it (Shift: ten times as much)"),
    ("Tab", "next linkage (Shift: the one before)"), ("N", "next set-up of the run"), ("R", "undo all changes to it"),
    ("0", "hand wheel straight"), ("S", "save the set-up as a file"), ("B", "to the replay"), ("F", "full screen and back"),
    ("H", "this help"), ("T", "size of the text"), ("Esc", "one step back"), ("Q", "close the window"),
)  # fmt: skip
SEEN = (
    "The hand wheel sets the turn: all figures are those of the turn that the car then makes at its speed. It begins in the tightest bend "
    "of the run.",
    "Top: the front end from above. Drag a white joint, or the hand wheel, and see what both wheels do. A red spot grows where a rod and "
    "its arm come in line: there a push can snap the steering over.",
    "Axle lines: a car rolls freely only if they meet in one point on the rear axle's line. How far they miss is geometry; what that costs "
    "are the W.",
    "The curve: by how many degrees the inner wheel turns too much (+) or too little (−) for the outer wheel's angle.",
    "The dark dot under the car: where its weight acts in this turn. At the edge the car tips over.",
)
SAVED = "S writes RUN-bench-01.toml, then 02 ..., where you started: a [[setup]] to paste into a scenario."
STEP, KEY_STEP, KEY_WIDE = 23.0, 26.0, 64.0  # [points]


def draw_bench_help(page: Pen, rect: Rect, point: float = 1.0) -> None:
    """The overlay with every key.  page : Pen of the page; rect : the whole page [points]; point : [px]."""
    sheet = rect.inset(14.0)
    box(page, sheet, CARD, INK, 2.0)
    left, wide = sheet.x + 22, sheet.width - 44
    y = sheet.y + 26
    page.text((left, y), "The steering bench", TITLE._replace(size=22.0))
    y += 10
    for words in SEEN:
        y += 9
        for line in wrapped(words, LABEL, wide, point).split("\n"):
            y += STEP
            page.text((left, y), line, LABEL)
    y += STEP + 16
    half = -(-len(KEYS) // 2)
    for index, (key, words) in enumerate(KEYS):
        across, down = left + (index // half) * wide / 2, y + KEY_STEP * (index % half)
        page.text((across, down), key, TITLE)
        page.text((across + KEY_WIDE, down), words, LABEL)
    y += KEY_STEP * half + 2
    for line in wrapped(SAVED, LABEL, wide, point).split("\n"):
        page.text((left, y), line, LABEL)
        y += STEP
