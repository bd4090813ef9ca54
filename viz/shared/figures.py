"""Sheets and text of the pictures.

Every figure is laid out in inches from its top left corner, so that names of any length find room before anything is
drawn. Text is never read as a formula, and only signs that the plotting library's own font holds are drawn, so that
the same result gives the same picture wherever it is made.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any, cast
from unicodedata import category

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.ticker import FuncFormatter

from viz.shared.rounding import TENTHS, shown

if TYPE_CHECKING:
    from sim.study.compare import Comparison

WIDTH, MARGIN, DPI = 10.0, 0.25, 110  # [in], [in], dots an inch
FONT, SMALL, NAME = "DejaVu Sans", 9.0, 10.0  # comes with the plotting library; sizes in points
LINE, NAME_LINE = 0.165, 0.19  # [in] from one line of text to the next
INK = "0.1"
WORDS: dict[str, Any] = {"fontsize": SMALL, "family": FONT, "color": INK, "parse_math": False}
LABEL: dict[str, Any] = {"fontsize": NAME, "family": FONT, "color": INK}
ROUND_STEPS = [1, 2, 5, 10]  # between ticks
MOST_POINTS = 1500  # of a curve; a picture is about 1000 dots wide
MOST_DRAWN = 6  # set-ups that still can be told apart on one page
HINTING = 1.05  # fitting letters to whole dots widens a line by up to 4 % at these sizes, measured
ANY_SIGN = "\N{WHITE SQUARE}"  # stands for a sign that the font lacks


def note_height(comparison: Comparison) -> float:
    return 0.25 if len(comparison.results) > MOST_DRAWN else 0.0


def write_note(figure: Figure, comparison: Comparison) -> None:
    """Say it where not every set-up is drawn."""
    count = len(comparison.results)
    if count > MOST_DRAWN:
        words = f"Drawn: {MOST_DRAWN} of {count} set-ups, from the one that loses least by slipping to the worst."
        write_lines(figure, MARGIN, figure.get_figheight() - 0.27, [words])


def new_sheet(height: float) -> Figure:
    """An empty figure of the common width.  height [in]."""
    return Figure(figsize=(WIDTH, height), dpi=DPI, facecolor="white")


def axes_at(figure: Figure, left: float, top: float, width: float, height: float) -> Axes:
    """Axes at a place in inches from the top left corner."""
    tall = figure.get_figheight()
    place = (left / WIDTH, 1.0 - (top + height) / tall, width / WIDTH, height / tall)
    return figure.add_axes(place, facecolor="none")


def font_of(size: float, weight: str = "normal", style: Any = "normal") -> FontProperties:
    return FontProperties(family=FONT, size=size, weight=weight, style=style)


def write_lines(
    figure: Figure, left: float, top: float, lines: list[str], *, step: float = LINE, size: float = SMALL,
    weight: str = "normal", style: Any = "normal", **looks: Any,
) -> None:  # fmt: skip
    """Lines of text at a place in inches from the top left corner."""
    looks = {"ha": "left", "va": "top", "color": INK} | looks
    for index, line in enumerate(lines):
        x, y = left / WIDTH, 1.0 - (top + step * index) / figure.get_figheight()
        figure.text(x, y, line, fontproperties=font_of(size, weight, style), parse_math=False, **looks)


def plain_ticks(axes: Axes) -> None:
    axes.tick_params(labelsize=SMALL, labelfontfamily=FONT, labelcolor=INK, color="0.5")
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(FuncFormatter(lambda value, _: grouped(value)))
    for spine in axes.spines.values():
        spine.set_edgecolor("0.5")


def grouped(value: float) -> str:
    """A number with its thousands set apart by a thin space."""
    return f"{value:,.10g}".replace(",", "\N{THIN SPACE}").replace("-", "\N{MINUS SIGN}")


def tenth_of_joules(value: float) -> str:
    """Energy in the tenths in which tables and sentences tell works.  value [J]."""
    return f"{shown(value):,.{TENTHS}f} J".replace(",", "\N{THIN SPACE}").replace("-", "\N{MINUS SIGN}")


def joules(value: float) -> str:
    """Energy with at least two digits, but none that say nothing."""
    digits = 0 if abs(value) >= 100 else 1 if abs(value) >= 10 else 2
    return f"{grouped(round(float(value), digits) + 0.0)} J"


@lru_cache(maxsize=1)
def _signs() -> frozenset[str]:
    """The signs that the font holds in every style used here, without those that have no shape, such as joiners."""
    fonts = [font_of(SMALL), font_of(SMALL, "bold"), font_of(SMALL, style="italic")]
    held = [set(get_font(findfont(font)).get_charmap()) for font in fonts]
    signs = map(chr, set.intersection(*held))
    return frozenset(sign for sign in signs if sign.isprintable() or category(sign) == "Zs")


def plain(words: str) -> str:
    """The words with a white square for each sign that can't be drawn, so that nothing warns.  words : any text."""
    return "".join(sign if sign in _signs() else ANY_SIGN for sign in words)


@lru_cache(maxsize=4096)
def _advance(sign: str, size: float, weight: str) -> float:
    """Width that one sign takes in a line [in]."""
    font = get_font(findfont(font_of(size, weight)))
    font.set_size(size, 72)
    return cast(float, font.load_char(ord(sign)).linearHoriAdvance) / 65536 / 72  # 16.16 fixed point, in points


def text_width(words: str, size: float, weight: str = "normal") -> float:
    """Width that one line of text needs at most [in].  words : as `plain` gives them; size [pt]; weight : of the font."""
    return HINTING * sum(_advance(sign, size, weight) for sign in words)


def folded(words: str, width: float, size: float, weight: str = "normal", most: int | None = None) -> list[str]:
    """Words, made drawable, in lines no wider than `width`; a word that is too long by itself is broken.

    words : any text; width [in]; size [pt]; weight : of the font
    most : lines to keep, the last of them then ends in an ellipsis; None for all
    Returns the lines, at least one.
    """
    lines = [""]
    for word in filter(None, plain(words).split(" ")):
        joined = f"{lines[-1]} {word}".lstrip()
        if text_width(joined, size, weight) <= width:
            lines[-1] = joined
            continue
        if lines[-1]:
            lines.append("")
        for sign in word:
            if lines[-1] and text_width(lines[-1] + sign, size, weight) > width:
                lines.append("")
            lines[-1] += sign
    if most is not None and len(lines) > most:
        last = f"{lines[most - 1]} {lines[most]}"
        while text_width(f"{last}…", size, weight) > width:
            last = last[:-1]
        lines = [*lines[: most - 1], f"{last.rstrip()}…"]
    return lines
