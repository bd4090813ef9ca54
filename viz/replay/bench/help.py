"""The words of the steering bench's help."""

from viz.replay.panels import draw_sheet
from viz.replay.pens import Pen
from viz.replay.view import Rect

KEYS = (
    ("← →", "hand wheel (Shift: a fifth as far)"), ("↑ ↓", "choose a number"), ("+ −", "change it (Shift: ten times as much)"),
    ("Tab", "next linkage (Shift: the one before)"), ("N", "next set-up of the run"), ("R", "undo all changes to it"),
    ("0", "hand wheel straight"), ("S", "save the set-up as a file"), ("B", "to the replay"), ("F", "full screen and back"),
    ("H", "this help"), ("Esc", "one step back"), ("Q", "close the window"),
)  # fmt: skip
SEEN = (
    "Top: the front end from above. Drag a white joint, or the hand wheel, and see what both wheels do.",
    "Axle lines: both should meet on the rear axle's line. How far they miss is geometry; the W stand at the lower right.",
    "The curve: how many degrees the inner wheel turns too much (+) or too little (−) for the outer wheel's angle.",
    "Rod and arm in line: the rod can turn the wheel no further, and a push may snap it over to the wrong side.",
)
SAVED = "S writes RUN-bench-01.toml, then 02 ..., where you started: a [[setup]] to paste into a scenario."


def draw_bench_help(page: Pen, rect: Rect) -> None:
    """The overlay with every key.  page : Pen of the page; rect : the whole page [points]."""
    draw_sheet(page, rect, "The steering bench", SEEN, list(KEYS), SAVED)
