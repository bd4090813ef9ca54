"""The picture of a search: the trade-off of two objectives, and the valley that each key makes around what is recommended."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.judgements import FLAT_SHARE, TELL_APART
from sim.search.judge import OBJECTIVES
from sim.search.result import FreeRow, SearchResult
from viz.search.report import front_spans
from viz.search.words import FIGURES, OBJECTIVE_WORDS, RECOMMENDED
from viz.shared.figures import folded, grouped, plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure

VALLEY, OWN, FLAT, EDGE = "#0072B2", "#D55E00", "0.85", "0.5"
LEAST_SPAN = 1e-3  # of the figures, that an axis shows at least: nobody measures less
ACROSS = 3  # pictures beside each other


def write_search_plot(result: SearchResult, path: Path) -> None:
    """Write the picture of a search.  result : SearchResult; path : a PNG file.  Raises OSError where it can't be written."""
    search_figure(result).savefig(path, metadata={"Software": None})


def search_figure(result: SearchResult) -> "Figure":
    """Draw the trade-off, where there is one, and each key's valley with its flat range.  result : SearchResult."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    traded = len(result.front) > 1
    count = len(result.free) + traded
    across = min(count, ACROSS)
    down = -(-count // across)
    figure = Figure(figsize=(0.8 + 4.4 * across, 0.5 + 3.7 * down), dpi=110, layout="constrained")
    FigureCanvasAgg(figure)
    places = list(figure.subplots(down, across, squeeze=False).flat)
    if traded:
        _draw_front(places[0], result)
    for axes, one in zip(places[traded:], result.free, strict=False):
        _draw_valley(axes, result, one)
    for axes in places[count:]:
        axes.set_axis_off()
    for axes in places[:count]:
        axes.spines[["top", "right"]].set_visible(False)
        axes.tick_params(labelsize=9)
    title = "\n".join(folded(f'{plain(result.title)}: "{plain(result.setup)}"', 4.0 * across, 11, "bold", most=2))
    figure.suptitle(title, fontsize=11, fontweight="bold", parse_math=False)
    return figure


def _draw_front(axes: Any, result: SearchResult) -> None:
    one, two = (FIGURES[name] for name in result.objectives)
    axes.plot([one(found) for found in result.front], [two(found) for found in result.front], color=VALLEY, marker="o", markersize=5)
    marked = ((result.best, VALLEY, "best", "D"), (result.own, OWN, "as it is", "s"))
    for found, colour, words, sign in marked:
        if one(found) is not None and two(found) is not None:
            axes.plot([one(found)], [two(found)], color=colour, marker=sign, markersize=9, linestyle="", label=words)
    axes.set_xlabel(_label(result.objectives[0]), fontsize=9)
    axes.set_ylabel(_label(result.objectives[1]), fontsize=9)
    level = [OBJECTIVE_WORDS[name] for name, span in zip(result.objectives, front_spans(result), strict=True) if span < TELL_APART]
    title = f"Along the line {' and '.join(level)} can't be told apart" if level else "Less of the one costs more of the other"
    axes.set_title(title, loc="left", fontsize=10)
    axes.legend(fontsize=8, frameon=False)
    _plain_numbers(axes.xaxis)
    _plain_numbers(axes.yaxis)


def _plain_numbers(axis: Any) -> None:
    """Ticks with whole numbers, none told as a small step beyond a large offset: what differs by less than can be seen is drawn flat."""
    low, high = axis.get_view_interval()
    least = LEAST_SPAN * max(abs(low), abs(high))
    if high - low < least:
        middle = (low + high) / 2
        axis.axes.set(**{f"{axis.axis_name}lim": (middle - least / 2, middle + least / 2)})
    axis.set_major_formatter(lambda value, _: grouped(round(value, 6)))


def _label(name: str) -> str:
    return f"{OBJECTIVE_WORDS[name]} [{OBJECTIVES[name]}]"


def _draw_valley(axes: Any, result: SearchResult, one: FreeRow) -> None:
    """What an objective does over a key's bounds; gaps where it does not get round or breaks a limit."""
    found = {"own": result.own, "best": result.best, "less_change": result.less_change}[result.recommended]
    assert found is not None  # what is recommended was found
    around = f"costs under {100 * FLAT_SHARE:g} % more\naround {RECOMMENDED[result.recommended]}"
    axes.axvspan(one.flat_low, one.flat_high, facecolor=FLAT, edgecolor=EDGE, linewidth=0.8, label=around)
    values = [value for value, _ in one.valley]
    axes.plot(values, [float("nan") if cost is None else cost for _, cost in one.valley], color=VALLEY)
    axes.axvline(found.values[one.key], color=VALLEY, linewidth=1.2, linestyle="--", label=RECOMMENDED[result.recommended])
    if one.low <= one.own <= one.high and result.recommended != "own":
        axes.axvline(one.own, color=OWN, linewidth=1.2, linestyle=":", label="as it is")
    axes.set_xlim(one.low, one.high)
    axes.set_xlabel(plain(one.key), fontsize=9, parse_math=False)
    axes.set_ylabel(f"{_label(result.objectives[0])},\nsum of steady turns", fontsize=8)
    # Below, on white ground: on the grey of the range its own sign could not be seen, and a frame there would hide the curve.
    axes.legend(fontsize=7, frameon=False, loc="upper center", bbox_to_anchor=(0.45, -0.17), ncols=3)
    _plain_numbers(axes.yaxis)
