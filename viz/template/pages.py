"""The pages of a template: how to use it, the scales, the sheet for the readings, the checks before driving."""

from collections.abc import Iterator
from dataclasses import dataclass

from sim.bench.result import PlanResult
from sim.template.plan import Protractor, SheetPlan
from viz.shared.checks import CAUTIONS, checks_of
from viz.shared.dangers import check_words, stop_line
from viz.shared.figures import folded
from viz.template.dial import dial_drawing
from viz.template.paper import (
    HAIR,
    INCH,
    LEADING,
    NARROWEST,
    NORMAL,
    PAPERS,
    Box,
    Page,
    Tile,
    Tiling,
    draw_joints,
    draw_tile,
    tile,
    word_box,
)  # fmt: skip
from viz.template.pictures import placing_picture, reading_picture, sighting_picture
from viz.template.scale import RING_AT_PIVOT, drawing
from viz.template.words import dial_words, names_of, needed_lines, sheet_words, steps, stop_sentence
from viz.template.worksheet import plan_settings, worksheets

# Of the guide's words, the largest that fit on one sheet of the narrowest paper; larger on larger paper. [pt]
GUIDE_SIZES = (12.0, 11.5, 11.0, 10.5, 10.0, 9.5, 9.0, 8.5, 8.0)
INDENT, PARTED, PICTURE_TEXT = 5.0, 1.5, 9.5  # [mm] of a step's words, between paragraphs; [pt]


@dataclass(frozen=True)
class Sheet:
    """A printed page with part of a scale: which scale, which page of the document, and its part."""

    scale: Protractor
    page: int
    tile: Tile
    tiling: Tiling


def build_pages(plan: SheetPlan, readings: PlanResult | None, paper: str) -> tuple[list[Page], list[Sheet], int | None]:
    """All pages of a template in the order in which they are used, where its scales are, and the dial's page.

    plan : SheetPlan; readings : which to take, None where nothing is fitted
    paper : a key of PAPERS
    """
    pages = _guide(plan, readings, paper)
    sheets, joints = [], 1
    for scale in plan.protractors:
        strokes, words, box = drawing(scale)
        pivot = Box(-RING_AT_PIVOT, -RING_AT_PIVOT, RING_AT_PIVOT, RING_AT_PIVOT)
        tiling = tile(box, [pivot, *map(word_box, words)], paper)
        for number, part in enumerate(tiling.tiles, start=1):
            heading = f"{_capital(scale.name)}: sheet {number} of {len(tiling.tiles)}{_where(tiling, part)}"
            page = Page(paper, heading, sheet_words(scale, plan), names=names_of(plan), landscape=tiling.landscape)
            draw_tile(page, part, strokes, words)
            draw_joints(page, tiling, part, strokes, words, joints)
            sheets.append(Sheet(scale, len(pages), part, tiling))
            pages.append(page)
        joints += tiling.joint_count
    dial = len(pages) if plan.dials else None
    if plan.dials:
        pages.append(_dial(plan, readings, paper))
    return [*pages, *worksheets(plan, readings, paper), _checks(plan, paper)], sheets, dial


def _capital(words: str) -> str:
    return words[0].upper() + words[1:]


def _where(tiling: Tiling, part: Tile) -> str:
    """Where a sheet lies among its neighbours, in words."""
    rows = [""] if tiling.rows == 1 else ["rear", *["middle"] * (tiling.rows - 2), "front"]
    columns = [""] if tiling.columns == 1 else ["left", *["middle"] * (tiling.columns - 2), "right"]
    named = " ".join(dict.fromkeys(filter(None, [rows[part.row], columns[part.column]])))
    return f" ({named})" if named else ""


# --- How to use it -----------------------------------------------------------------------------------------------------


def _guide(plan: SheetPlan, readings: PlanResult | None, paper: str) -> list[Page]:
    """What to do in words, as large as fits on a sheet, and in pictures."""
    larger = PAPERS[paper][0] / NARROWEST
    heading = "Floor template: are the wheels where you planned them?"
    words = Page(paper, heading, "", names=names_of(plan), true_size=False)
    for size in GUIDE_SIZES:
        blocks = list(_guide_lines(plan, readings, words.window.width, size * larger))
        if sum(height for *_, height in blocks) <= words.window.height or size == GUIDE_SIZES[-1]:
            break
    top = words.window.top
    for lines, weight, indent, height in blocks:
        for index, line in enumerate(lines):
            words.text(words.window.left + indent, top - LEADING * size * larger * index, line, size=size * larger, weight=weight, va="top")
        top -= height
    page = Page(paper, "Floor template: where things lie, and how to read", "", names=names_of(plan), true_size=False)
    window = page.window
    danger, size = stop_line(plan.dangers), PICTURE_TEXT * larger
    top = page.paragraph(window.left, window.top, danger, window.width, size=size, weight="bold") if danger else window.top
    half, upper = window.width / 2, (top - window.bottom) * 0.55
    placing_picture(page, plan, window.left, top - upper, half - 4.0, upper)
    reading_picture(page, plan, window.left + half + 4.0, top - upper, half - 4.0, upper)
    sighting_picture(page, plan, window.left, window.bottom, window.width, top - window.bottom - upper - 4.0)
    return [words, page]


def _guide_lines(
    plan: SheetPlan, readings: PlanResult | None, width: float, size: float
) -> Iterator[tuple[list[str], str, float, float]]:  # fmt: skip
    """Lines, weight, indent and height below of each block of the guide [mm]."""
    line = LEADING * size
    for words in needed_lines(plan, readings):
        lines = folded(words, width / INCH, size)
        yield lines, "normal", 0.0, line * (len(lines) + 0.4)
    for number, (heading, words) in enumerate(steps(plan, readings), start=1):
        yield [f"{number}. {heading}"], "bold", 0.0, line * 1.1
        lines = folded(words, (width - INDENT) / INCH, size)
        yield lines, "normal", INDENT, line * (len(lines) + 0.5)


def _dial(plan: SheetPlan, readings: PlanResult | None, paper: str) -> Page:
    """The hand wheel's dial, and how it is cut out."""
    page = Page(paper, "Dial for the hand wheel or its column, to cut out", "", names=names_of(plan))
    settings = plan_settings(readings) if readings is not None else ()
    strokes, words, box = dial_drawing(plan, settings)
    window = page.window
    middle = (window.left + window.right) / 2
    shown = Box(middle - window.width / 2, window.bottom, middle + window.width / 2, window.top)
    # As if the drawing were a sheet of its own, high up on the page.
    low = box.top - shown.height
    draw_tile(page, Tile(0, 0, Box(-shown.width / 2, low, shown.width / 2, box.top)), strokes, words)
    top = window.top - (box.top - box.bottom) - 4.0
    danger = stop_sentence(plan)
    told = [(danger, "bold")] if danger else []
    told += [(line, "normal") for line in dial_words(plan, [one.mark for one in settings])]
    for size in GUIDE_SIZES:
        parts = [(folded(line, window.width / INCH, size, weight), weight) for line, weight in told]
        high = sum(LEADING * size * len(lines) + PARTED for lines, _ in parts)
        if high <= top - window.bottom or size == GUIDE_SIZES[-1]:
            break
    for lines, weight in parts:
        for index, line in enumerate(lines):
            page.text(window.left, top - LEADING * size * index, line, size=size, weight=weight, va="top")
        top -= LEADING * size * len(lines) + PARTED
    return page


# --- The checks before driving -----------------------------------------------------------------------------------------

BOX = 6.0  # [mm] to tick in
CHECK_SIZE = 11.0  # [pt]


def _checks(plan: SheetPlan, paper: str) -> Page:
    below = "Work through the list each time the steering has been touched. Tick a box only for what you have seen and felt yourself."
    page = Page(paper, "Before anybody drives", below, names=names_of(plan), true_size=False)
    # On larger paper larger, but not on shorter paper.
    larger = PAPERS[paper][0] / NARROWEST
    size, box = CHECK_SIZE * larger, BOX * larger
    left, width, indent = page.window.left, page.window.width, box + 4.0
    top = page.window.top - 1.0
    for check in checks_of(plan.turntable):
        page.line((left, top), (left + box, top), (left + box, top - box), (left, top - box), (left, top))
        page.text(left + indent, top, _capital(check.part), size=size, weight="bold", va="top")
        page.text(left + width, top, check.ground, ha="right", va="top")
        top = (
            page.paragraph(left + indent, top - LEADING * size, check_words(check, plan.dangers), width - indent, size=size) - 2.5 * larger
        )
    top -= 2.0 * larger
    page.text(left, top, "Take care", size=size + 2.0, weight="bold", va="top")
    top -= LEADING * (size + 3.0)
    for caution in CAUTIONS:
        page.text(left + 1.5, top, "\N{BULLET}", size=size, va="top")
        top = page.paragraph(left + indent, top, caution, width - indent, size=size) - 1.0 * larger
    top -= 9.0 * larger
    half = width / 2
    for index, words in enumerate(("checked by", "and by an adult")):
        page.line((left + index * half, top), (left + (index + 1) * half - 6.0, top), width=HAIR)
        page.text(left + index * half, top - 1.5, words, size=NORMAL, va="top")
    return page
