"""`measure`: two sheets to take to the car with a tape: drawings with letters, and a blank for each number."""

from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from sim.keys import MILLIMETRE, Shown
from viz.new.measure import PAPERS, Plan, value_of
from viz.new.sketch import anchors_of, draw_behind, draw_corner, draw_plan, draw_rod, draw_side
from viz.new.text import setup_keys
from viz.shared.figures import FONT, INK, folded, plain

INCH, MARGIN = 25.4, 11.0  # [mm]
HEAD, BODY, CELL, KEY = 13.0, 9.0, 8.0, 7.0  # [pt]
MONO = 0.602  # width of a letter of DejaVu Sans Mono over its size [-]
ROD_HIGH = 30.0  # of the drawing of a rod and its end [mm]
WRITABLE = 6.4  # height of a row that a pencil can fill [mm]
BLANKS = f"Team: {'_' * 20}   Measured by: {'_' * 20}   Date: {'_' * 14}"
NEEDED = (
    "You need: a tape, chalk, two bathroom scales and boards as high as they are, a straight rod, a square, a phone that shows angles, "
    "two people."
)
HOW = "Driver on board, tyres at their pressure, wheels straight ahead, level floor. Measure each length twice. Half an hour."
# Where the steering can be turned to a place at which a rod and its arm come in line.
CAUTION = (
    "Turn the steering gently, hands off rods and arms: where a rod and its arm come in line it can snap over or jam. Turn back before "
    "they do; nobody sits in the car while wheels hang."
)
LAST = "scrubwise new my-car.toml --ask asks for them in this order. What is usual: common practice with cars of this kind, no source."


def write_sheets(path: Path, plan: Plan) -> int:
    """Write the sheets as a PDF, the same bytes for the same car; returns the count of pages."""
    with rc_context({"pdf.fonttype": 42, "text.usetex": False, "path.simplify": False, "figure.autolayout": False}):
        figures = figures_of(plan)
        about = {"Title": "What is this car?", "Creator": "Scrubwise", "Producer": None, "CreationDate": None}
        with BytesIO() as stream:  # a drive that is full in the middle of it ends in an error of the library's packer
            with PdfPages(stream, metadata=about) as pdf:
                for figure in figures:
                    pdf.savefig(figure)
            path.write_bytes(stream.getvalue())
    return len(figures)


def figures_of(plan: Plan) -> list[Figure]:
    """The sheets, in their order."""
    return [_drawings(plan), *_tables(plan)]


def _page(paper: str, heading: str, *below: str) -> tuple[Figure, Axes, float]:
    """An empty page in millimetres with its heading; the height below it [mm]."""
    width, height = PAPERS[paper]
    figure = Figure(figsize=(width / INCH, height / INCH), facecolor="white")
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set(xlim=(0.0, width), ylim=(0.0, height))
    axes.axis("off")
    top = height - MARGIN
    top = _words(axes, MARGIN, top, heading, width - 2 * MARGIN, HEAD, "bold")
    top = _words(axes, MARGIN, top - 2, BLANKS, width, BODY)
    for words in below:
        top = _words(axes, MARGIN, top - 1, words, width - 2 * MARGIN, BODY)
    return figure, axes, top


def _words(axes: Axes, left: float, top: float, words: str, width: float, size: float, weight: str = "normal") -> float:
    """Folded words; the height below them [mm]."""
    for line in folded(words, width / INCH, size, weight):
        axes.text(left, top, plain(line), size=size, weight=weight, family=FONT, color=INK, va="top", parse_math=False)
        top -= 1.32 * size / 72 * INCH
    return top


def _drawings(plan: Plan) -> Figure:
    """The first sheet: four views, each length with its letter."""
    setup, car, steering, paper = plan.setup, plan.scenario.car, plan.steering, plan.paper
    letters = {line.key: line.letter for line in plan.lines}
    lengths: dict[str, tuple[Shown, float]] = {}
    for key in setup_keys(setup.kind):
        if key.shown is not None:
            value = value_of(setup, key)
            lengths[key.name] = key.shown, (value or 0.0) * MILLIMETRE
            if value is None and key.shown.start == "ground":  # as high as what hangs from there reaches up from the level of the joints
                hung = sum(length for shown, length in lengths.values() if (shown.start, shown.way) == ("inner", "up"))
                lengths[key.name] = key.shown, anchors_of(steering, car)["inner"][2] + hung
    figure, axes, top = _page(
        paper, f"What is this car? Sheet 1: which length is which ({setup.kind.name})", NEEDED,
        f"{HOW} The drawings are not to scale; the numbers go on the next sheet.", *([CAUTION] if setup.kind.rods else []),
    )  # fmt: skip
    width, foot = PAPERS[paper][0], MARGIN
    middle, side, half = width * 0.42, foot + 62, (top + foot + 62) / 2
    draw_plan(axes, (MARGIN, side + 4, middle, top - 4), car, letters)
    draw_corner(axes, (middle + 4, half + 6, width - MARGIN, top - 4), steering, car, lengths, letters)
    rods = "rod_tube_length_mm" in letters
    low = side + 4 + (ROD_HIGH if rods else 0.0)
    draw_behind(axes, (middle + 4, low, width - MARGIN, half), steering, car, lengths, letters)
    if rods:
        draw_rod(axes, (middle + 4, side + 2, width - MARGIN, low - 2), letters)
    draw_side(axes, (MARGIN, foot, width - MARGIN, side - 2), car, letters)
    return figure


def _tables(plan: Plan) -> Iterator[Figure]:
    """The second sheet, and more where the numbers do not fit: letter, what to measure, value that is known, blank."""
    width, _ = PAPERS[plan.paper]
    columns = MARGIN, MARGIN + 8, width - MARGIN - 60, width - MARGIN - 38, width - MARGIN - 24  # letter, what, usual, known, blank
    wide = columns[2] - columns[1] - 3
    known = any(line.value is not None for line in plan.lines)
    of = f'Scenario "{plan.scenario.title}", set-up "{plan.setup.name}".' if known else ""
    left = list(plan.lines)
    number = 2
    while left:
        figure, axes, top = _page(plan.paper, f"What is this car? Sheet {number}: the numbers", *([of] if of else []))
        top -= 3
        for place, words in zip(columns[1:], ("what to measure, and its key", "usual", "known", "measured"), strict=True):
            _words(axes, place, top, words, width, BODY, "bold")
        top -= 5
        while left:
            line = left[0]
            what = folded(f"{line.what[0].upper()}{line.what[1:]}", wide / INCH, CELL)
            # A key stands beside a short line and below a long one.
            key_wide = len(line.key) * MONO * KEY / 72 * INCH + 3
            beside = len(folded(" ".join(what), (wide - key_wide) / INCH, CELL)) == 1
            high = max((len(what) * CELL + (0.0 if beside else KEY)) * 1.32 / 72 * INCH + 0.4, WRITABLE)
            if top - high < MARGIN + 8:
                break
            axes.plot((MARGIN, width - MARGIN), (top + 0.6, top + 0.6), color="0.7", linewidth=0.5)
            _words(axes, columns[0], top, line.letter, width, 11.0, "bold")
            below = _words(axes, columns[1], top, " ".join(what), wide, CELL)
            across, down = (columns[1] + wide, top - 0.3) if beside else (columns[1], below)
            axes.text(across, down, line.key, size=KEY, family="DejaVu Sans Mono", color="0.25", va="top", parse_math=False,
                      ha="right" if beside else "left")  # fmt: skip
            if line.usual is not None:
                _words(axes, columns[2], top, f"{line.usual[0]:g} to {line.usual[1]:g}", width, CELL)
            if line.value is not None:
                _words(axes, columns[3], top, f"{line.value:.4g}", width, CELL)
            axes.plot((columns[4], width - MARGIN), (top - high + 2.2, top - high + 2.2), color=INK, linewidth=0.8)
            left.pop(0)
            top -= high
        _words(axes, MARGIN, MARGIN + 6, LAST, width - 2 * MARGIN, BODY - 1)
        yield figure
        number += 1
