"""The picture of a study of uncertainty."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.judgements import TELL_APART
from sim.spread.findings import best_pairs, lead_of, no_difference
from sim.spread.run import PairSpread, Spread
from sim.spread.statistics import Estimate
from viz.shared.figures import folded, grouped, plain
from viz.spread.report import number_words, three

if TYPE_CHECKING:
    from matplotlib.figure import Figure

TOLD = 0.005  # share of a variance below which an input is left out
BAR, LINE, UNSURE, BAND = "#0072B2", "0.1", "0.55", "0.9"  # dark blue and middle grey differ in grey too
SMALL = 0.12  # of the widest difference, below which a row is drawn once more, enlarged
MOST_ROWS = 30  # set-ups that find room on one page; the nearest to the best
ROW = 0.42  # [in] a row
# [in] that a title may take on the left beside the longest names, of a sentence there without any, and on the right from the edge on.
TITLE_WIDTH, WHOLE_WIDTH, SHARES_WIDTH = 4.5, 6.2, 3.6
HEAD = 1.35  # [in] title and words below of each part


def write_spread_plot(spread: Spread, path: Path) -> None:
    """Write the picture of a study.  spread : the study; path : a PNG file.  Raises OSError where it can't be written."""
    spread_figure(spread).savefig(path, metadata={"Software": None})


def spread_figure(spread: Spread) -> "Figure":
    """Draw how much more drive work each set-up needs than the one that all are compared with, and what decides the first difference.

    spread : the study
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    best, pairs = best_pairs(spread)
    differing = [pair for pair in pairs if not no_difference(spread, pair)]
    lead = lead_of(spread, differing) if differing else None
    shares = lead.shares if lead else spread.setups[max(best, 0)].shares
    counted = (shares.total or shares.alone) if shares else {}
    bars = sorted((one.value, index) for index, one in counted.items() if one.value >= TOLD)
    shown = sorted(pairs[:MOST_ROWS], key=lambda pair: pair.second)  # in the scenario's order, from the top down
    widest = max((_reach(pair) for pair in shown), default=0.0)
    near = [pair for pair in shown if pair in differing and _reach(pair) < SMALL * widest]
    parts = [max(len(shown), 2), *([len(near)] if near else [])]
    height = max(sum(HEAD + ROW * rows for rows in parts), HEAD + ROW * len(bars))
    figure = Figure(figsize=(11, height), dpi=110, layout="constrained", facecolor="white")
    FigureCanvasAgg(figure)
    left, right = figure.subfigures(1, 2, squeeze=False, width_ratios=(1.75, 1))[0]
    places = left.subplots(len(parts), 1, squeeze=False, height_ratios=[HEAD + ROW * rows for rows in parts])[:, 0]
    if differing:
        _draw_differences(places[0], spread, best, shown, len(pairs))
    else:
        _write_instead(places[0], _no_picture(spread, best, pairs))
    if near:
        _draw_differences(places[1], spread, best, near, len(near), enlarged=True)
    tall = HEAD + ROW * max(len(bars), 2)
    decides, below = right.subplots(2, 1, height_ratios=(tall, max(height - tall, 1e-3)))
    below.set_axis_off()
    _draw_shares(right, decides, spread, counted, bars, lead)
    for axes in (*places, decides):
        axes.spines[["top", "right"]].set_visible(False)
        axes.tick_params(labelsize=9)
    return figure


def _no_picture(spread: Spread, best: int, pairs: list[PairSpread]) -> str:
    """Why no differences are drawn, in a sentence."""
    if pairs:
        return f'The set-ups need the same drive work as "{spread.names[best]}" here: there is no difference to draw.'
    if len(spread.names) == 1:
        return "There is one set-up alone, and nothing to compare it with."
    if best < 0:
        return "No set-up gets round this course in enough tries for a comparison."
    return f'Nothing can be compared with "{spread.names[best]}": in too few tries two set-ups get round.'


def _write_instead(axes: Any, sentence: str) -> None:
    """A sentence in the place of axes that would be empty."""
    axes.set_axis_off()
    words = "\n".join(folded(plain(sentence), WHOLE_WIDTH, 10))
    axes.text(0, 1, words, transform=axes.transAxes, ha="left", va="top", fontsize=10, parse_math=False)


def _reach(pair: PairSpread) -> float:
    assert pair.gain is not None
    return max(abs(pair.gain.low.value), abs(pair.gain.high.value))


def _draw_differences(axes: Any, spread: Spread, best: int, pairs: list[PairSpread], of: int, enlarged: bool = False) -> None:
    """Differences with their intervals, a row a set-up, on one scale; the band is what no team can measure."""
    rows = max(len(pairs), 1 if enlarged else 2)
    for row, pair in enumerate(pairs):
        assert pair.gain is not None
        told = pair.told_apart
        low, middle, high = (one.value for one in (pair.gain.low, pair.gain.middle, pair.gain.high))
        axes.plot([low, high], [row, row], color=BAR if told else UNSURE, linewidth=6 if told else 3, solid_capstyle="butt", zorder=3)
        for end in (low, high):
            axes.plot([end], [row], color=BAR if told else UNSURE, marker="|", markersize=11, markeredgewidth=1.5, zorder=3)
        axes.plot([middle], [row], color=LINE, marker="o", markersize=6, markerfacecolor=LINE if told else "white", zorder=4)
        words = "{1} J ({0} to {2})".format(*(part.replace("-", "\N{MINUS SIGN}") for part in three(pair.gain)))
        axes.annotate(words, (1, row), (6, 0), ("axes fraction", "data"), "offset points", va="center", fontsize=9, annotation_clip=False)
    names = ["\n".join(folded(plain(spread.names[pair.second]), 2.2, 9, most=2)) for pair in pairs]
    axes.set_yticks(range(len(pairs)), names, parse_math=False)
    axes.set_ylim(rows - 0.4, -0.6)
    axes.axvline(0, color=LINE, linewidth=0.9)
    low, high = min(0.0, *_ends(pairs, "low")), max(0.0, *_ends(pairs, "high"))
    wide = (high - low) or 1.0
    axes.set_xlim(low - 0.06 * wide, high + 0.06 * wide)
    axes.xaxis.set_major_formatter(lambda value, _: grouped(round(value, 9)))
    work = spread.setups[best].figures[0]
    if work is not None:
        band = TELL_APART * work.middle.value
        axes.axvspan(-band, band, color=BAND, zorder=0)
    axes.set_xlabel("\N{LEFTWARDS ARROW} needs less     drive work [J]     needs more \N{RIGHTWARDS ARROW}", fontsize=9)
    name = plain(spread.names[best])
    if enlarged:
        title = "The smallest of these, enlarged"
    else:
        title = f'Drive work compared with "{name}"' + ("" if of == len(pairs) else f": the nearest {len(pairs)} of {of}")
    words = "\n".join(folded(plain(title), TITLE_WIDTH, 10, "bold", most=3))
    axes.set_title(words, loc="left", fontsize=10, fontweight="bold", parse_math=False)
    if not enlarged:
        key = (
            "Bar: 95 of 100 tries lie in it; dot: the middle. Thin, grey and hollow: less or more, nobody can say.\n"
            f"Grey band about 0: under {100 * TELL_APART:g} % of the drive work, which no team can measure."
        )
        axes.annotate(key, (0, 0), (-90, -38), "axes fraction", "offset points", va="top", fontsize=8, annotation_clip=False)


def _ends(pairs: list[PairSpread], end: str) -> list[float]:
    return [getattr(pair.gain, end).value for pair in pairs]


def _draw_shares(
    right: Any, axes: Any, spread: Spread, counted: dict[int, Estimate], bars: list[tuple[float, int]], lead: PairSpread | None
) -> None:  # fmt: skip
    rows = max(len(bars), 2)
    errors = [100 * counted[index].error for _, index in bars]
    axes.barh(range(len(bars)), [100 * min(value, 1.0) for value, _ in bars], color=BAR, height=0.6, xerr=errors, ecolor=LINE, capsize=3)
    names = ["\n".join(folded(plain(number_words(spread, index)), 1.7, 9, most=2)) for _, index in bars]
    axes.set_yticks(range(len(bars)), names, parse_math=False)
    axes.set_ylim(len(bars) - rows - 0.7, len(bars) - 0.3)
    axes.set_xlim(0, 100)
    if not bars:
        axes.text(50, 0.5 * (len(bars) - rows - 0.7 + len(bars) - 0.3), "too few tries to tell", ha="center", va="center", fontsize=9)
    axes.set_xlabel("share of the variance [%]\nline: sampling error, 95 %", fontsize=8)
    title = "What decides the drive work" if lead is None else f'What decides the difference to "{plain(spread.names[lead.second])}"'
    words = "\n".join(folded(plain(title), SHARES_WIDTH, 10, "bold", most=3))
    # Of the whole right half: beside the names of the numbers the axes are too narrow for it.
    right.suptitle(words, x=0.04, ha="left", fontsize=10, fontweight="bold", parse_math=False)
