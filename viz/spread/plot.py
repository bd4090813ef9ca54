"""The picture of a study of uncertainty."""

from pathlib import Path
from typing import Any

from sim.spread.findings import best_pairs
from sim.spread.run import PairSpread, Spread
from sim.spread.statistics import Estimate
from viz.shared.figures import folded, plain
from viz.spread.report import number_words, three

TOLD = 0.005  # share of a variance below which an input is left out
BAR, LINE = "#0072B2", "0.1"


def write_spread_plot(spread: Spread, path: Path) -> None:
    """Draw the gains of the best set-up, and what decides the largest.

    spread : the study; path : a PNG file.  Raises OSError where it can't be written.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    best, pairs = best_pairs(spread)
    shares = pairs[-1].shares if pairs else spread.setups[max(best, 0)].shares
    counted = (shares.total or shares.alone) if shares else {}
    bars = sorted((one.value, index) for index, one in counted.items() if one.value >= TOLD)
    rows = max(len(pairs), len(bars), 2)
    figure = Figure(figsize=(10, 1.65 + 0.42 * rows), dpi=110, layout="constrained")
    FigureCanvasAgg(figure)
    left, right = figure.subplots(1, 2, width_ratios=(1.4, 1))
    _draw_gains(left, spread, best, pairs, rows)
    _draw_shares(right, spread, counted, bars, bool(pairs), rows)
    for axes in (left, right):
        axes.spines[["top", "right"]].set_visible(False)
        axes.tick_params(labelsize=9)
    figure.savefig(path, metadata={"Software": None})


def _draw_gains(axes: Any, spread: Spread, best: int, pairs: list[PairSpread], rows: int) -> None:
    for row, pair in enumerate(pairs):
        assert pair.gain is not None
        colour = BAR if pair.told_apart else "0.55"
        axes.plot([pair.gain.low.value, pair.gain.high.value], [row, row], color=colour, linewidth=5, solid_capstyle="butt")
        axes.plot([pair.gain.middle.value], [row], color=LINE, marker="|", markersize=13, markeredgewidth=2)
        axes.annotate(f"{three(pair.gain)[1]} J", (pair.gain.high.value, row), (8, 0), textcoords="offset points", va="center", fontsize=9)
    names = ["\n".join(folded(plain(spread.names[pair.second]), 2.4, 9, most=2)) for pair in pairs]
    axes.set_yticks(range(len(pairs)), names, parse_math=False)
    axes.set_ylim(len(pairs) - rows - 0.7, len(pairs) - 0.3)
    axes.margins(x=0.15)  # room for the figures beside the bars
    axes.axvline(0, color=LINE, linewidth=0.8)
    axes.set_xlabel("drive work saved [J]\nbar: 95 % of the draws, grey where it holds zero; mark: the middle", fontsize=8)
    title = f'Gain of "{plain(spread.names[best])}" against' if pairs else "Nothing to compare"
    axes.set_title("\n".join(folded(title, 5.0, 10, "bold", most=2)), loc="left", fontsize=10, fontweight="bold", parse_math=False)


def _draw_shares(axes: Any, spread: Spread, counted: dict[int, Estimate], bars: list[tuple[float, int]], of_gain: bool, rows: int) -> None:
    errors = [100 * counted[index].error for _, index in bars]
    axes.barh(range(len(bars)), [100 * min(value, 1.0) for value, _ in bars], color=BAR, height=0.6, xerr=errors, ecolor=LINE, capsize=3)
    names = ["\n".join(folded(plain(number_words(spread, index)), 2.2, 9, most=2)) for _, index in bars]
    axes.set_yticks(range(len(bars)), names, parse_math=False)
    axes.set_ylim(len(bars) - rows - 0.7, len(bars) - 0.3)
    axes.set_xlim(0, 100)
    if not bars:
        axes.text(50, 0.5 * (len(bars) - rows - 0.7 + len(bars) - 0.3), "too few draws to tell", ha="center", va="center", fontsize=9)
    axes.set_xlabel("share of the variance [%]\nline: sampling error, 95 %", fontsize=8)
    title = "What decides the largest gain" if of_gain else "What decides the drive work"
    axes.set_title(title, loc="left", fontsize=10, fontweight="bold")
