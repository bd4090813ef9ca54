"""The pages of a template: how to use it, the scales, the sheet for the readings, the checks before driving."""

from dataclasses import dataclass
from math import cos, radians, sin

import numpy as np

from sim.template.plan import Protractor, Row, SheetPlan
from viz.shared.checks import CAUTIONS, CHECKS
from viz.shared.dangers import check_words
from viz.shared.figures import folded, text_width
from viz.template.paper import (
    BOLD,
    FINE,
    HAIR,
    INCH,
    MARGIN,
    NORMAL,
    SIDE,
    SMALL,
    Box,
    Page,
    Tile,
    Tiling,
    draw_joints,
    draw_tile,
    tile,
    word_box,
)  # fmt: skip
from viz.template.scale import RING_AT_PIVOT, drawing
from viz.template.words import sheet_words, steps, stop_sentence, turns_words, worksheet_words

NOT_TO_SCALE = "This picture is not to scale."


@dataclass(frozen=True)
class Sheet:
    """A printed page with part of a scale: which scale, which page of the document, and its part."""

    scale: Protractor
    page: int
    tile: Tile
    tiling: Tiling


def build_pages(plan: SheetPlan, paper: str) -> tuple[list[Page], list[Sheet]]:
    """All pages of a template in the order in which they are used, and where its scales are.

    plan : SheetPlan
    paper : "a4" or "letter"
    """
    pages = [_guide(plan, paper)]
    sheets, joints = [], 1
    for scale in plan.protractors:
        strokes, words, box = drawing(scale)
        pivot = Box(-RING_AT_PIVOT, -RING_AT_PIVOT, RING_AT_PIVOT, RING_AT_PIVOT)
        tiling = tile(box, [pivot, *map(word_box, words)], paper)
        for number, part in enumerate(tiling.tiles, start=1):
            heading = f"{_capital(scale.name)}: sheet {number} of {len(tiling.tiles)}{_where(tiling, part)}"
            page = Page(paper, heading, sheet_words(scale, plan), f'set-up "{plan.setup}"', landscape=tiling.landscape)
            draw_tile(page, part, strokes, words)
            draw_joints(page, tiling, part, strokes, words, joints)
            sheets.append(Sheet(scale, len(pages), part, tiling))
            pages.append(page)
        joints += tiling.joint_count
    return [*pages, *_worksheets(plan, paper), _checks(plan, paper)], sheets


def _of(plan: SheetPlan) -> str:
    return f'Scenario "{plan.title}", set-up "{plan.setup}".'


def _capital(words: str) -> str:
    return words[0].upper() + words[1:]


def _where(tiling: Tiling, part: Tile) -> str:
    """Where a sheet lies among its neighbours, in words."""
    rows = [""] if tiling.rows == 1 else ["rear", *["middle"] * (tiling.rows - 2), "front"]
    columns = [""] if tiling.columns == 1 else ["left", *["middle"] * (tiling.columns - 2), "right"]
    named = " ".join(dict.fromkeys(filter(None, [rows[part.row], columns[part.column]])))
    return f" ({named})" if named else ""


# --- How to use it -----------------------------------------------------------------------------------------------------


def _guide(plan: SheetPlan, paper: str) -> Page:
    page = Page(paper, "Floor template: are the wheels where you planned them?", _of(plan))
    left, width = MARGIN, page.width - 2 * MARGIN - SIDE
    top = page.height - MARGIN - 16.0
    for number, (heading, words) in enumerate(steps(plan), start=1):
        page.text(left, top, f"{number}. {heading}", size=NORMAL, weight="bold", va="top")
        top = page.paragraph(left + 4.5, top - 4.4, words, width - 4.5) - 1.8
    bottom = page.window.bottom + 2.0
    half = width / 2
    _placing_picture(page, plan, left, bottom, half - 4.0, top - bottom)
    _reading_picture(page, plan, left + half + 4.0, bottom, half - 4.0, top - bottom)
    return page


def _placing_picture(page: Page, plan: SheetPlan, left: float, bottom: float, width: float, height: float) -> None:
    """The floor from above: pivots, rear tyres and the distances between them."""
    page.text(left, bottom + height - 3.0, "Where the sheets lie, seen from above", weight="bold", va="top")
    page.text(left, bottom + height - 7.0, NOT_TO_SCALE, va="top")
    middle, front, rear = left + width / 2, bottom + height - 24.0, bottom + 10.0
    near, far = (0.0, 0.0) if plan.turntable else (width * 0.26, -width * 0.26)
    rears = (width * 0.3, -width * 0.3)
    for x, name in zip(rears, ("rear left", "rear right"), strict=True):
        _tyre(page, middle - x, rear)
        page.text(middle - x, rear - 9.5, name, ha="center")
    for x in {near, far}:
        page.lines([np.array([(middle - x + 2 * cos(a), front + 2 * sin(a)) for a in np.radians(np.arange(0, 361, 15))])])
    page.line((middle, front + 3.0), (middle, front + 11.0))
    page.line((middle - 1.5, front + 8.0), (middle, front + 11.0), (middle + 1.5, front + 8.0))
    page.text(middle + 3.0, front + 8.0, "forward")
    placing = plan.placing

    def on_line(x: float, y: float, words: str) -> None:
        page.text(x, y, words, ha="center", va="center", cleared=True)

    if plan.turntable:
        for x in rears:
            page.line((middle, front), (middle - x, rear), width=HAIR, dash=(2.0, 1.5))
        page.text(middle + 4.0, front, "pivot", va="center")
        for aside in (-0.15, 0.15):
            on_line(middle + width * aside, (front + rear) / 2, f"{placing.to_rear_mm:.0f} mm")
        return
    page.line((middle - near, front), (middle - far, front), width=FINE)
    for start, end, dash in ((near, rears[0], None), (far, rears[1], None), (near, rears[1], (2.0, 1.5)), (far, rears[0], (2.0, 1.5))):
        page.line((middle - start, front), (middle - end, rear), width=HAIR, dash=dash)
    page.text(middle, front - 1.5, f"{placing.pivots_apart_mm:.0f} mm", ha="center", va="top")
    for pivot, tyre in zip((near, far), rears, strict=True):
        page.text(middle - pivot, front + 3.0, "kingpin", ha="center")
        on_line(middle - (pivot + tyre) / 2, (front + rear) / 2, f"{placing.to_rear_mm:.0f} mm")
    on_line(middle, front + (rear - front) * 0.72, f"{placing.diagonal_mm:.0f} mm, both diagonals")


def _reading_picture(page: Page, plan: SheetPlan, left: float, bottom: float, width: float, height: float) -> None:
    """A wheel from above with its straight edge, the ruler and the two scales."""
    what = "axle" if plan.turntable else "wheel"
    page.text(left, bottom + height - 3.0, f"How the {what} is read, seen from above", weight="bold", va="top")
    page.text(left, bottom + height - 7.0, NOT_TO_SCALE, va="top")
    turn = radians(90.0 + 15.0 if plan.turntable else 15.0)
    reach = min(width, height - 16.0) / 2 - 4.0
    middle_x, middle_y = left + width / 2 + (0.0 if plan.turntable else 12.0), bottom + (height - 10.0) / 2

    def at(ahead: float, aside: float, angle: float = turn) -> tuple[float, float]:
        return (middle_x - ahead * sin(angle) - aside * cos(angle), middle_y + ahead * cos(angle) - aside * sin(angle))

    beside = 0.0 if plan.turntable else reach * 0.45
    ring = [(middle_x + 1.5 * cos(a), middle_y + 1.5 * sin(a)) for a in np.radians(np.arange(0, 361, 15))]
    page.lines([np.array(ring)])
    if plan.turntable:
        page.text(middle_x, middle_y - 9.0, "pivot", ha="center", va="center")
    else:
        page.text(middle_x + 3.0, middle_y, "kingpin", va="center")
    page.line(at(-reach, beside), at(reach, beside), width=BOLD / 2)
    corners = [(0.62, 0.86), (0.62, 0.56), (-0.62, 0.56), (-0.62, 0.86), (0.62, 0.86)]
    if plan.turntable:
        corners = [(0.62, 0.12), (0.62, -0.12), (-0.62, -0.12), (-0.62, 0.12), (0.62, 0.12)]
    page.line(*(at(reach * ahead, beside * aside if not plan.turntable else reach * aside) for ahead, aside in corners), width=FINE)
    for end in (1.0, -1.0):
        arcs = [at(end * reach * 0.86, beside, turn + radians(step)) for step in range(-12, 13)]
        page.line(*arcs)
        for step in range(-10, 11, 5):
            mark = [at(end * reach * size, beside, turn + radians(step)) for size in (0.86, 0.94)]
            page.line(*mark, width=HAIR)
    if not plan.turntable:
        page.text(*at(0.0, beside + 2.0), "ruler", ha="right", va="center")
        page.text(*at(-0.3 * reach, beside * 0.4), "wheel", va="center")
    for end, number in ((1.0, "first reading"), (-1.0, "second reading")):
        x, y = at(end * reach * 0.9, beside)
        if plan.turntable:
            page.text(x - 4.0 * end, y + 12.0 * end, number, ha="left" if end > 0 else "right", va="center")
        else:
            page.text(x + 12.0, y, number, va="center")


def _tyre(page: Page, x: float, y: float) -> None:
    page.line((x - 2.0, y - 6.0), (x + 2.0, y - 6.0), (x + 2.0, y + 6.0), (x - 2.0, y + 6.0), (x - 2.0, y - 6.0))


# --- The sheet for the readings ----------------------------------------------------------------------------------------

Column = tuple[str, str, float]  # heading of its group, its own, and its width [mm]
LINE: Column = ("", "line", 8.0)
PLANNED: tuple[Column, ...] = (
    ("", "set", 16.0), ("planned", "hand", 12.0), ("planned", "left", 12.0), ("planned", "right", 12.0), ("ideal", "inner", 12.0),
)  # fmt: skip
READ: tuple[Column, ...] = (
    ("left wheel reads", "front", 15.0), ("left wheel reads", "rear", 15.0), ("right wheel reads", "front", 15.0),
    ("right wheel reads", "rear", 15.0),
)  # fmt: skip
READ_AXLE: tuple[Column, ...] = (("axle reads", "left end", 18.0), ("axle reads", "right end", 18.0))
MEANS: tuple[Column, ...] = (("means", "left", 16.0), ("means", "right", 16.0))
MEAN_AXLE: tuple[Column, ...] = (("", "mean", 18.0),)
FILED: tuple[Column, ...] = (("means, for the file", "left_deg", 16.0), ("means, for the file", "right_deg", 16.0), ("", "hand_deg", 16.0))
HEADS, TALLEST_ROW = 10.0, 9.0  # [mm]
FIRST_LINE = 2  # of a file, below the names of its columns
FIELD = 30.0  # [mm] to write the reading error in


def _worksheets(plan: SheetPlan, paper: str) -> list[Page]:
    """One sheet near straight ahead and one in turns where `bench` fits the readings, else one in all."""
    near, turns, first = list(plan.near_rows), list(plan.turn_rows), FIRST_LINE
    if not plan.has_rods:
        page, top = _worksheet(plan, paper, "Worksheet: write the readings here", worksheet_words(plan))
        _worksheet_table(page, top, _columns(plan), [_cells(row) for row in near + turns])
        return [page]
    sheets = [("near straight ahead", worksheet_words(plan), near)]
    if turns:
        sheets.append(("in turns", [turns_words(plan)], turns))
    pages = []
    for number, (where, words, rows) in enumerate(sheets, start=1):
        page, top = _worksheet(plan, paper, f"Worksheet {number} of {len(sheets)}: {where}", words)
        if number == 1:
            end = page.window.left + text_width(folded(words[-1], page.window.width / INCH, SMALL)[-1], SMALL) * INCH + 2.0
            page.line((end, top + 1.5), (end + FIELD, top + 1.5), width=HAIR)
        _worksheet_table(page, top, _columns(plan), [[f"{first + index}", *_cells(row)] for index, row in enumerate(rows)])
        first += len(rows)
        pages.append(page)
    return pages


def _worksheet(plan: SheetPlan, paper: str, heading: str, paragraphs: list[str]) -> tuple[Page, float]:
    """A page with its words, and the height below them [mm]."""
    below = f"{_of(plan)} All angles are in degrees; angles to the right are written with a minus sign."
    page = Page(paper, heading, below)
    top = page.window.top
    danger = stop_sentence(plan)
    if danger:
        top = page.paragraph(page.window.left, top, danger, page.window.width, weight="bold") - 1.0
    for words in paragraphs:
        top = page.paragraph(page.window.left, top, words, page.window.width) - 1.0
    return page, top - 1.0


def _columns(plan: SheetPlan) -> list[Column]:
    if plan.has_rods:
        return [LINE, *PLANNED, *READ, *FILED]
    return [*PLANNED, *READ_AXLE, *MEAN_AXLE] if plan.turntable else [*PLANNED, *READ, *MEANS]


def _worksheet_table(page: Page, top: float, columns: list[Column], rows: list[list[str]]) -> None:
    """The table below a height; cells that `rows` do not hold are left to be filled in."""
    window = page.window
    tall = min(TALLEST_ROW, (top - HEADS - window.bottom - 1.0) / len(rows))
    edges = window.left + np.concatenate([[0.0], np.cumsum([width for *_, width in columns])])
    middles = (edges[:-1] + edges[1:]) / 2
    for group in dict.fromkeys(name for name, *_ in columns if name):
        inside = [index for index, column in enumerate(columns) if column[0] == group]
        page.text((edges[inside[0]] + edges[inside[-1] + 1]) / 2, top - 2.6, group, ha="center", va="center", weight="bold")
    for middle, (_, name, _) in zip(middles, columns, strict=True):
        page.text(middle, top - 7.5, name, ha="center", va="center")
    foot = top - HEADS - tall * len(rows)
    for index, cells in enumerate(rows):
        for middle, cell in zip(middles, cells, strict=False):
            page.text(middle, top - HEADS - tall * (index + 0.5), cell, ha="center", va="center", size=NORMAL)
    levels = [top - HEADS - tall * index for index in range(len(rows) + 1)]
    page.lines([np.array([(edges[0], level), (edges[-1], level)]) for level in levels], HAIR)
    split = {index for index in range(1, len(columns)) if columns[index][0] and columns[index][0] == columns[index - 1][0]}
    page.lines([np.array([(edge, foot), (edge, top - HEADS / 2 if index in split else top)]) for index, edge in enumerate(edges)], HAIR)
    page.line((edges[0], top), (edges[-1], top), width=HAIR)
    groups = [name for name, *_ in columns]
    read = [index for index, name in enumerate(groups) if name.endswith("reads")]
    page.lines([np.array([(edge, foot), (edge, top)]) for edge in edges[[read[0], read[-1] + 1]]], 2 * FINE)


def _cells(row: Row) -> list[str]:
    """The printed cells of a row."""
    ideal = "" if row.ideal_inner_deg is None else _signed(row.ideal_inner_deg)
    hand = _signed(row.hand_deg) if abs(row.hand_deg) < 99.95 else _signed(row.hand_deg, 0)  # of a rack it can have four digits
    return [row.name, hand, *map(_signed, row.wheels_deg), ideal]


def _signed(angle_deg: float, places: int = 1) -> str:
    return f"{round(angle_deg, places) + 0.0:.{places}f}".replace("-", "\N{MINUS SIGN}")


# --- The checks before driving -----------------------------------------------------------------------------------------

BOX = 4.0  # [mm] to tick in


def _checks(plan: SheetPlan, paper: str) -> Page:
    below = "Work through the list each time the steering has been touched. Tick a box only for what you have seen and felt yourself."
    page = Page(paper, "Before anybody drives", below)
    left, width = page.window.left, page.window.width
    top = page.window.top - 4.0
    for check in CHECKS:
        page.line((left, top), (left + BOX, top), (left + BOX, top - BOX), (left, top - BOX), (left, top))
        page.text(left + BOX + 4.0, top, _capital(check.part), size=NORMAL, weight="bold", va="top")
        page.text(left + width - 2.0, top, check.ground, ha="right", va="top")
        top = page.paragraph(left + BOX + 4.0, top - 4.6, check_words(check, plan.dangers), width - BOX - 6.0, size=NORMAL) - 4.0
    top -= 4.0
    page.text(left, top, "Take care", size=NORMAL + 2.0, weight="bold", va="top")
    top -= 7.0
    for caution in CAUTIONS:
        page.text(left + 1.5, top, "\N{BULLET}", size=NORMAL, va="top")
        top = page.paragraph(left + BOX + 4.0, top, caution, width - BOX - 6.0, size=NORMAL) - 2.0
    top -= 12.0
    third = width / 3
    for index, words in enumerate(("date", "checked by", "and by an adult")):
        page.line((left + index * third, top), (left + (index + 1) * third - 6.0, top), width=HAIR)
        page.text(left + index * third, top - 1.5, words, va="top")
    return page
