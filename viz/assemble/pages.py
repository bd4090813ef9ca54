"""The sheets of the order of work: this car's numbers, then the steps with their drawings, as large as the paper allows."""

from typing import NamedTuple

from sim.assemble.figures import Assembly, FrontView
from sim.scenario.doubts import examples_words
from viz.assemble.drawings import DRAWINGS, HIGH, WIDE, Sketch, draw_plan
from viz.assemble.words import NEEDED, Step, number_lines, steps
from viz.shared.checks import CAUTIONS
from viz.shared.figures import folded, text_width
from viz.template.paper import HAIR, HEADER, INCH, LEADING, MARGIN, PAPERS, SMALL, Box, Page

# Sizes at scale 1; what fits on MOST_SHEETS is made as large as it can be, to be read standing. [pt], [mm]
TEXT, HEAD = 9.5, 11.5
TICK, BESIDE, GAP, FOOT, FILL = 6.0, 4.0, 4.0, 9.0, 9.0
PLAN_WIDE, PLAN_HIGH = 80.0, 40.0  # of the front end from above on the first sheet
SMALLEST_WIDTH = min(wide for wide, _ in PAPERS.values())  # [mm]
MOST_SHEETS = 4
LARGER = (1.3, 1.25, 1.2, 1.15, 1.1, 1.05)  # than TEXT on paper of the smallest width
FILL_IN = ("team", "date", "done by", "seen by an adult")
WAY_OUT = f"{CAUTIONS[3].replace('this list', 'this sheet')} Scrubwise computes; it never certifies a car as safe."


class _Sheet(NamedTuple):
    """Where on a page there is room.  page; room : Box [mm]; scale : how much larger than on the smallest paper [-]"""

    page: Page
    room: Box
    scale: float


class _Block(NamedTuple):
    """A step as it will stand: its lines in three weights, and how high it is [mm]."""

    number: int
    step: Step
    head: list[str]
    words: list[str]
    caution: list[str]
    ground: list[str]
    height: float


def build_pages(front: Assembly, view: FrontView, paper: str) -> list[Page]:
    """All sheets in their order.  front : Assembly; view : FrontView; paper : a key of PAPERS."""
    base = PAPERS[paper][0] / SMALLEST_WIDTH
    scale, groups = next(
        ((scale, groups) for scale in (base * larger for larger in LARGER) if len(groups := _groups(front, paper, scale)) <= MOST_SHEETS),
        (base, _groups(front, paper, base)),
    )
    pages = []
    for number, group in enumerate(groups, start=1):
        sheet = _blank(front, paper, scale, number, len(groups))
        top = _numbers(sheet, front, view) if number == 1 else sheet.room.top
        spare = top - sheet.room.bottom - sum(block.height for block in group)
        between = min(spare / len(group), 4.0 * scale)
        for block in group:
            _draw_step(sheet, block, front, view, top)
            top -= block.height + between
        pages.append(sheet.page)
    return pages


def _groups(front: Assembly, paper: str, scale: float) -> list[list[_Block]]:
    """The steps of each sheet at a scale."""
    width = PAPERS[paper][0] - 2 * MARGIN
    blocks = [_block(number, step, width, scale) for number, step in enumerate(steps(front), start=1)]
    high = PAPERS[paper][1] - 2 * MARGIN - HEADER - (FOOT + FILL) * scale
    return _share(blocks, high, _numbers_height(front, width, scale))


def _share(blocks: list[_Block], high: float, first: float) -> list[list[_Block]]:
    """The steps of each sheet: as few sheets as hold them, filled about alike.

    high : of the room on a sheet; first : of what stands above the steps on the first one [mm]
    """
    total = first + sum(block.height for block in blocks)
    least = max(1, -int(-total // high))
    for count in range(least, len(blocks) + 1):
        for share in (total / count * slack for slack in (1.0, 1.05, 1.1, 1.2, 1.4, 2.0)):
            groups = _filled(blocks, min(share, high), high, first)
            if len(groups) <= count:
                return groups
    return [[block] for block in blocks]


def _filled(blocks: list[_Block], wanted: float, high: float, first: float) -> list[list[_Block]]:
    """Steps sheet by sheet, each to about a wanted height and never above what there is [mm]."""
    groups: list[list[_Block]] = [[]]
    used = first
    for block in blocks:
        if groups[-1] and (used + block.height > high or used + block.height / 2 > wanted):
            groups.append([])
            used = 0.0
        groups[-1].append(block)
        used += block.height
    return groups


def _block(number: int, step: Step, width: float, scale: float) -> _Block:
    """A step's lines and height.  width : of the sheet's room [mm]"""
    beside = (TICK + BESIDE) * scale
    room = (width - beside - (WIDE + BESIDE) * scale * bool(step.picture)) / INCH
    text, small = TEXT * scale, SMALL * scale
    head = folded(f"{number}. {step.heading}", room, HEAD * scale, "bold")
    words, ground = folded(step.words, room, text), folded(f"({step.ground})", room, small)
    caution = folded(f"Caution: {step.caution}", room, text, "bold") if step.caution else []
    high = LEADING * (HEAD * scale * len(head) + text * (len(words) + len(caution)) + small * len(ground)) + 1.0 * scale
    return _Block(number, step, head, words, caution, ground, max(high, HIGH * scale if step.picture else 0.0) + GAP * scale)


def _draw_step(sheet: _Sheet, block: _Block, front: Assembly, view: FrontView, top: float) -> None:
    """A step below a height: a box to tick, its words, its drawing."""
    page, room, scale = sheet.page, sheet.room, sheet.scale
    page.line((room.left, top), (room.right, top), width=HAIR)
    top -= GAP / 2 * scale
    tick, x = TICK * scale, room.left + (TICK + BESIDE) * scale
    page.line(*((room.left + a * tick, top - b * tick) for a, b in ((0, 0), (1, 0), (1, 1), (0, 1), (0, 0))), width=0.4 * scale)
    at = top
    for lines, size, weight in (
        (block.head, HEAD, "bold"), (block.words, TEXT, "normal"), (block.caution, TEXT, "bold"), (block.ground, SMALL, "normal"),
    ):  # fmt: skip
        for line in lines:
            page.text(x, at, line, size=size * scale, weight=weight, va="top")
            at -= LEADING * size * scale
    if block.step.picture:
        sketch = Sketch(page, room.right - WIDE * scale, top - HIGH * scale, scale)
        DRAWINGS[block.step.picture](sketch, front, view)


def _blank(front: Assembly, paper: str, scale: float, number: int, count: int) -> _Sheet:
    """A sheet with its heading, the lines to fill in, and its foot."""
    warned = f"{examples_words(front.examples)}. " if front.examples else ""
    below = f'{warned}Scenario "{front.title}", set-up "{front.setup}".'
    page = Page(paper, f"Building the front end: sheet {number} of {count}", below, front.linkage, true_size=False)
    left, right = MARGIN, page.width - MARGIN
    foot = page.paragraph(left, MARGIN + (FOOT - 1.5) * scale, WAY_OUT, right - left, size=SMALL * scale, most=2)
    assert foot >= MARGIN - 1.0
    top = page.height - MARGIN - HEADER
    part = (right - left) / len(FILL_IN)
    for index, words in enumerate(FILL_IN):
        start = left + index * part
        page.text(start, top - 5.0 * scale, words, size=SMALL * scale)
        named = text_width(words, SMALL * scale) * INCH + 1.5
        page.line((start + named, top - 5.5 * scale), (start + part - 3.0, top - 5.5 * scale), width=HAIR)
    return _Sheet(page, Box(left, MARGIN + FOOT * scale, right, top - FILL * scale), scale)


def _number_lines(front: Assembly, width: float, scale: float) -> list[str]:
    """This car's numbers in lines beside the drawing.  width : of the sheet's room [mm]"""
    column = (width - (PLAN_WIDE + BESIDE) * scale) / INCH
    return [line for words in number_lines(front) for line in folded(words, column, TEXT * scale, "bold")]


def _numbers_height(front: Assembly, width: float, scale: float) -> float:
    """What stands above the first step [mm].  width : of the sheet's room [mm]"""
    needed = len(folded(f"You need: {NEEDED}", width / INCH, TEXT * scale))
    numbers = LEADING * scale * (1.5 * HEAD + TEXT * len(_number_lines(front, width, scale)))
    return LEADING * TEXT * scale * needed + 2.0 * scale + max(numbers, PLAN_HIGH * scale) + 2.0 * scale


def _numbers(sheet: _Sheet, front: Assembly, view: FrontView) -> float:
    """What is needed, this car's numbers and its front end from above; returns the height below [mm]."""
    page, room, scale = sheet.page, sheet.room, sheet.scale
    top = page.paragraph(room.left, room.top, f"You need: {NEEDED}", room.width, size=TEXT * scale) - 2.0 * scale
    page.text(
        room.left,
        top,
        "Numbers, not all this car's yet" if front.examples else "This car's numbers",
        size=HEAD * scale,
        weight="bold",
        va="top",
    )
    at = top - 1.5 * LEADING * HEAD * scale
    for line in _number_lines(front, room.width, scale):
        page.text(room.left, at, line, size=TEXT * scale, weight="bold", va="top")
        at -= LEADING * TEXT * scale
    sketch = Sketch(page, room.right - PLAN_WIDE * scale, top - PLAN_HIGH * scale, scale)
    draw_plan(sketch, view, Box(1.0, 1.0, PLAN_WIDE - 1.0, PLAN_HIGH - 5.0))
    sketch.label(PLAN_WIDE / 2, PLAN_HIGH - 1.5, "the front end from above; forward is up")
    return room.top - _numbers_height(front, room.width, scale)
