"""The sheets for the readings: a table for each kind of reading of the plan, whose columns are those of the file."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from sim.bench.kinds import DIAL, KINDS, RIM, WHEEL_LEFT, WHEEL_RIGHT, place_of
from sim.bench.result import ItemFigures, PlanResult, plan_lines
from sim.template.plan import SheetPlan, rows_to_compare
from viz.shared.figures import folded, text_width
from viz.template.dial import Setting, settings_of
from viz.template.paper import FINE, HAIR, INCH, LEADING, NARROWEST, PAPERS, SMALL, Page
from viz.template.words import FROM_RIM, HOW_TO_FILE, LATH, compare_words, names_of, signed, stop_sentence

# Sizes on the narrowest paper, larger on larger paper. [pt], [mm]
TEXT, TITLE, CELL, SETTING = 9.5, 12.0, 12.0, 8.5
HEAD, ROW, AFTER = 7.0, 9.5, 4.0
NUMBER, SET, READ = 10.0, 37.0, 13.0  # [mm] columns for a line's number, its setting, and one end of a ruler
WHEELS = {KINDS[place].columns[0].name for place in (WHEEL_LEFT, WHEEL_RIGHT)}
DIAL_COLUMN = KINDS[DIAL].columns[0].name


@dataclass(frozen=True)
class Table:
    """Readings that are written under the same columns.

    title, words : above it; columns : heading and width [mm], with whether the file has it
    rows : the printed cells of each line; the rest is left to be filled in
    """

    title: str
    words: str
    columns: tuple[tuple[str, float, bool], ...]
    rows: tuple[tuple[str, ...], ...]


def plan_settings(readings: PlanResult) -> tuple[Setting, ...]:
    """Where the plan's wheel angles have the hand wheel.  readings : PlanResult."""
    hands = [item.hand_deg for item in readings.items if item.hand_deg is not None and WHEELS & set(item.columns)]
    return settings_of(list(dict.fromkeys(hands)))


def plan_tables(readings: PlanResult, plan: SheetPlan, width: float) -> list[Table]:
    """The tables of a plan, their lines numbered as `bench --type` asks for them.

    readings : PlanResult; plan : SheetPlan; width : of the sheet on the narrowest paper [mm]
    """
    lines = list(enumerate(plan_lines(readings), start=1))
    tables = []
    for columns in dict.fromkeys(item.columns for _, item in lines):
        own = [(number, item) for number, item in lines if item.columns == columns]
        tables.append(_angle_table(own, readings, plan, width) if WHEELS & set(columns) else _table(own, width))
    return tables


def _table(lines: Sequence[tuple[int, ItemFigures]], width: float) -> Table:
    item = lines[0][1]
    each = (width - NUMBER) / max(len(item.columns), 3)
    rim = f" {FROM_RIM}" if any(KINDS[place_of(column)].over_rim for column in item.columns) else ""
    columns = (("line", NUMBER, False), *((column, each, True) for column in item.columns))
    return Table(_title(item.name, len(lines)), f"{_sentence(item.doing)}{rim}", columns, tuple((f"{number}",) for number, _ in lines))


def _angle_table(lines: Sequence[tuple[int, ItemFigures]], readings: PlanResult, plan: SheetPlan, width: float) -> Table:
    """Each wheel's angle is the mean of what both ends of the ruler read, so that there is room for those too."""
    settings = {one.hand_deg: one for one in plan_settings(readings)}
    item = lines[0][1]
    dial = DIAL_COLUMN in item.columns
    each = (width - NUMBER - SET - 4 * READ) / len(item.columns)
    ends = (("front", READ, False), ("rear", READ, False))
    columns = [("line", NUMBER, False), ("hand wheel at" if plan.dials else "left wheel at", SET, False)]
    for column in item.columns:
        columns += [*(ends if column in WHEELS else ()), (column, each, True)]
    rows = tuple((f"{number}", settings[one.hand_deg or 0.0].words) for number, one in lines)
    where = "Turn the hand wheel until its dial shows the letter" if plan.dials else "Turn the hand wheel until the left wheel stands there"
    words = (
        f"{where}; never further. Both wheels on their sheets: front and rear are where the ruler crosses the two scales, and their mean "
        f"goes into the file. Left is positive, right is negative.{f' {DIAL_COLUMN} is what the dial shows.' if dial else ''}"
    )
    return Table(_title("wheel angles", len(lines)), words, tuple(columns), rows)


def _title(name: str, times: int) -> str:
    return f"{name[0].upper()}{name[1:]}: {times} {'lines' if times > 1 else 'line'}"


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."


def worksheets(plan: SheetPlan, readings: PlanResult | None, paper: str) -> list[Page]:
    """The sheets on which the readings are written.

    plan : SheetPlan; readings : the plan of readings, None where nothing is fitted and all is only compared; paper : a key of PAPERS
    """
    larger = PAPERS[paper][0] / NARROWEST
    if readings is None:
        tables = [_comparison(plan)]
        above = [stop_sentence(plan), compare_words(plan)]
    else:
        first = _blank_page(plan, paper, "")
        tables = plan_tables(readings, plan, first.window.width / larger)
        rim = f"Line 0: {RIM.name} (between the two places on each rim; left empty, {readings.rim_mm:.0f} is taken): ________ {LATH}"
        above = [stop_sentence(plan), HOW_TO_FILE, *([rim] if any(FROM_RIM in table.words for table in tables) else [])]
    parts = list(_shared_out(tables, above, plan, paper, larger))
    pages = []
    for number, part in enumerate(parts, start=1):
        page = _blank_page(plan, paper, f"Worksheet{f' {number} of {len(parts)}' if len(parts) > 1 else ''}: write the readings here")
        top = _above(page, [one for one in (above if number == 1 else above[:1]) if one], page.window.top, larger)
        for table in part:
            top = _draw(page, table, top, larger)
        pages.append(page)
    return pages


def _blank_page(plan: SheetPlan, paper: str, heading: str) -> Page:
    return Page(paper, heading, "", names=names_of(plan), true_size=False)


def _above(page: Page, paragraphs: Sequence[str], top: float, larger: float) -> float:
    for index, words in enumerate(paragraphs):
        weight = "bold" if index == 0 and words.startswith("Danger") else "normal"
        top = page.paragraph(page.window.left, top, words, page.window.width, size=TEXT * larger, weight=weight) - 1.5 * larger
    return top - 1.5 * larger


def _shared_out(tables: Sequence[Table], above: Sequence[str], plan: SheetPlan, paper: str, larger: float) -> Iterator[list[Table]]:
    """The tables page by page; one that does not fit goes on on the next."""
    probe = _blank_page(plan, paper, "")
    window = probe.window
    # The danger, which stands on every sheet, is bold.
    rest = _above(probe, [one for one in above[:1] if one], window.top, larger)
    top = _above(probe, [one for one in above if one], window.top, larger)
    part: list[Table] = []
    for table in tables:
        left = table
        while left.rows:
            room = int((top - window.bottom - _head(left, window.width, larger)) / (ROW * larger))
            if room < min(len(left.rows), 2):
                yield part
                part, top = [], rest
                continue
            taken = Table(left.title, left.words, left.columns, left.rows[:room])
            part.append(taken)
            top -= _head(taken, window.width, larger) + ROW * larger * len(taken.rows) + AFTER * larger
            title = table.title if "(continued)" in table.title else f"{table.title} (continued)"
            left = Table(title, table.words, table.columns, left.rows[room:])
    yield part


def _head(table: Table, width: float, larger: float) -> float:
    """Height of what stands above a table's first line.  width : of the sheet [mm]"""
    words = folded(table.words, width / INCH, TEXT * larger)
    return LEADING * larger * (TITLE + TEXT * len(words)) + (1.0 + HEAD) * larger


def _draw(page: Page, table: Table, top: float, larger: float) -> float:
    """A table below a height; returns the height below it [mm]."""
    left, width = page.window.left, page.window.width
    page.text(left, top, table.title, size=TITLE * larger, weight="bold", va="top")
    top = page.paragraph(left, top - LEADING * TITLE * larger, table.words, width, size=TEXT * larger) - 1.0 * larger
    edges = left + larger * np.concatenate([[0.0], np.cumsum([wide for _, wide, _ in table.columns])])
    middles = (edges[:-1] + edges[1:]) / 2
    high, head = ROW * larger, HEAD * larger
    for middle, (name, wide, filed) in zip(middles, table.columns, strict=True):
        # A long name of the file stands in two lines.
        for line, words in enumerate(lines := _two_lines(name, wide, filed)):
            at = top - head * (line + 0.5 + (2 - len(lines)) / 2) / 2 if len(lines) == 2 else top - head / 2
            page.text(middle, at, words, size=SMALL * larger, weight="bold" if filed else "normal", ha="center", va="center")
    for index, cells in enumerate(table.rows):
        for middle, cell in zip(middles, cells, strict=False):
            size = CELL if cell.isdigit() else SETTING
            page.text(middle, top - head - high * (index + 0.5), cell, size=size * larger, ha="center", va="center")
    foot = top - head - high * len(table.rows)
    levels = [top, *(top - head - high * index for index in range(len(table.rows) + 1))]
    page.lines([np.array([(edges[0], level), (edges[-1], level)]) for level in levels], HAIR)
    page.lines([np.array([(edge, foot), (edge, top)]) for edge in edges], HAIR)
    for first, last, (_, _, filed) in zip(edges[:-1], edges[1:], table.columns, strict=True):
        if filed:
            page.line((first, foot), (first, top), (last, top), (last, foot), (first, foot), width=2 * FINE)
    return foot - AFTER * larger


def _two_lines(name: str, wide: float, filed: bool) -> list[str]:
    """A heading in one line or, of words joined by signs, in two; on the narrowest paper."""

    def fits(words: str) -> bool:
        return text_width(words, SMALL, "bold" if filed else "normal") * INCH < wide - 1.0

    if fits(name):
        return [name]
    mark = "_" if "_" in name else " "
    parts = name.split(mark)
    for count in range(len(parts) - 1, 0, -1):
        first, second = mark.join(parts[:count]), mark.join(parts[count:])
        if fits(first + mark.strip()):
            return [first + mark.strip(), second]
    return [name]


def _comparison(plan: SheetPlan) -> Table:
    """The table of a set-up of which nothing is fitted: planned angles beside room for what is read."""
    planned = [("set", 18.0, False), ("hand, planned", 17.0, False), ("left, planned", 17.0, False), ("right, planned", 17.0, False),
               ("inner, ideal", 17.0, False)]  # fmt: skip
    ends = [("left end", 20.0, False), ("right end", 20.0, False), ("mean", 20.0, True)]
    wheels = [(f"{side}, {end}", 16.0, end == "mean") for side in ("left", "right") for end in ("front", "rear", "mean")]
    rows = []
    for row in rows_to_compare(plan):
        ideal = "" if row.ideal_inner_deg is None else signed(row.ideal_inner_deg)
        rows.append((row.name, signed(row.hand_deg), *map(signed, row.wheels_deg), ideal))
    columns = (*planned, *(ends if plan.turntable else wheels))
    return Table("Planned and read, in degrees", "To the left is positive, to the right is negative.", columns, tuple(rows))
