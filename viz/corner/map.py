"""`corner --map`: the steady turns of chosen set-ups over radius and speed, as a table, a CSV file and a picture."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from io import BytesIO
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from rich.text import Text

from sim.judgements import TELL_APART
from sim.study.maps import STATE_WORDS, MapResult, Maps
from sim.turn.maps import LIMIT_STEP, State, TurnMap
from viz.corner.map_areas import best_areas, beyond_end, finer
from viz.corner.report import CAUTION
from viz.shared.cells import write_rows
from viz.shared.figures import folded, text_width
from viz.shared.words import plain_table

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.contour import ContourSet
    from matplotlib.figure import Figure

MAP_COLUMNS = ("setup", "radius_m", "speed_m_per_s", "scrub_W", "drive_W", "more_than_best_W", "state", "level_with_best")
MOST_DRAWN = 7  # set-ups on one page
MOST_LINES = 16  # set-ups that are listed in one column
HEAD_LINE, LEGEND_LINE, LIST_WIDTH = 0.4, 0.2, 4.9  # [in] of the legends
LABEL_HEIGHT = 18  # pixels from the middle of a label to an edge; two labels stand ...
LABEL_WIDTH = 30  # ... this many farther apart
TANGLE = 0.2  # [m/s] before the end of turns, where no line is drawn
LETTER_SHARE = 0.018  # of a map's width that a letter takes
TABLE_WORDS = {"not enough grip": "no grip", "lock too small": "lock", "a driven wheel spins": "spins"}  # shorter, for the table's columns
ENDS = (State.NO_GRIP, State.SPINS, State.TIPS, State.LOCKED, State.TOO_TIGHT)
HATCHES = {State.NO_GRIP: "\\\\\\", State.SPINS: "///", State.TIPS: "xxx", State.LOCKED: "---", State.TOO_TIGHT: "|||"}
DASHES = {State.LIFTED: (0, (1, 1.5)), State.SLIDES: (0, (4, 2))}
# Lightness and hatching tell the areas apart without colour; colours after Okabe and Ito (2008).
AREAS = (("#F0E442", ""), ("#56B4E9", "///"), ("#E69F00", "..."), ("#009E73", "\\\\\\"), ("#CC79A7", "xxx"), ("#D55E00", "---"))


def map_report(result: MapResult) -> list[Any]:
    """What `corner --map` adds.  result : of `sim.study.maps.map_result`."""
    beyond = f"over {result.fastest_m_per_s:g}"
    rows = [row for setup in result.setups for row in setup.rows]
    table = plain_table(("fastest turn, m/s", "left"), *((f"{abs(row.radius_m):g} m", "right") for row in result.setups[0].rows))
    for setup in result.setups:
        speeds = (row.holds_to_m_per_s for row in setup.rows)
        table.add_row(Text(setup.name), *(beyond if speed is None else f"{speed:.2f}" if speed else "none" for speed in speeds))
        table.add_row("", *("" if row.ends_by is None else TABLE_WORDS.get(row.ends_by, row.ends_by) for row in setup.rows))
    lines: list[Any] = [Text(""), table, Text(f"Rounded down to {LIMIT_STEP:g} m/s: at the speed shown the turn still holds.")]
    lines.append(Text(CAUTION))
    if any(row.holds_to_m_per_s is None for row in rows):
        lines.append(Text(f"{beyond}: no end within this map's speeds; faster was not tried."))
    return lines


def write_map_csv(made: Maps, path: Path) -> None:
    """Write every turn of every chosen set-up as a row.  path : a CSV file.  Raises OSError where it can't be written."""
    write_rows(path, MAP_COLUMNS, _map_rows(made))


def _map_rows(made: Maps) -> Iterator[tuple[Any, ...]]:
    for place in made.chosen:
        name, one, level, above = made.names[place], made.maps[place], made.level[place], made.above[place]
        for i, radius in enumerate(made.radii):
            for j, speed in enumerate(made.speeds):
                known = not np.isnan(one.scrub[i, j])
                figures = [_six(value[i, j]) if known else None for value in (one.scrub, one.drive, above)]
                state = STATE_WORDS[State(one.state[i, j])]
                yield name, _six(radius), _six(speed), *figures, state, int(level[i, j])


def _six(value: float) -> float:
    """Six digits, as many as a picture can be read to."""
    return float(f"{value:.6g}")


def write_map_plot(made: Maps, path: Path) -> None:
    """Write the picture of `map_figure`.  path : a PNG file.  Raises OSError where it can't be written."""
    picture = BytesIO()
    map_figure(made).savefig(picture, format="png", metadata={"Software": None})
    path.write_bytes(picture.getvalue())


def map_figure(made: Maps) -> Figure:
    """Draw how much more drive power each chosen set-up needs than the best, where its turns end, and which set-ups need least.

    made : of `sim.study.maps.make_maps`.  A set-up that is alone has nothing to be compared with; its scrub power is drawn.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    alone, drawn = len(made.names) == 1, made.chosen[:MOST_DRAWN]
    panels = len(drawn) + (0 if alone else 1)
    columns = 1 if panels == 1 else 2
    rows = ceil(panels / columns)
    areas = [] if alone else _areas(made)
    listed, signs = [] if alone else _set_ups(made), _signs(made, drawn)
    beside = [*(area.patch() for area in areas), *signs]
    list_columns = 1 if len(listed) <= MOST_LINES else 3
    foot = HEAD_LINE + LEGEND_LINE * (
        max(len(listed), len(beside)) if list_columns == 1 else ceil(len(listed) / list_columns) + ceil(len(beside) / 2) + 1
    )
    figure = Figure(figsize=(5.2 * columns, 0.6 + 3.7 * rows + foot), dpi=110, layout="constrained", facecolor="white")
    FigureCanvasAgg(figure)
    above, below = figure.subfigures(2, 1, squeeze=False, height_ratios=(0.6 + 3.7 * rows, foot))[:, 0]
    axes = above.subplots(rows, columns, squeeze=False)
    shown = made.maps[0].scrub[None] if alone else made.above
    most = np.max(shown[list(drawn)], where=np.isfinite(shown[list(drawn)]), initial=0.0)
    levels = [step * 10.0**power for power in range(-1, 5) for step in (1, 3) if step * 10.0**power <= most] or [0.1]
    lines = [_draw_power(place, made, setup, shown[setup], levels) for place, setup in zip(axes.flat, drawn, strict=False)]
    if not alone:
        _draw_best(axes.flat[len(drawn)], made, areas)
    for spare in axes.flat[panels:]:
        spare.set_axis_off()
    what = "Power that the tyres lose by slipping in a steady turn [W]" if alone else (
        "Drive power of each set-up above that of the best in the same steady turn [W]"
    )  # fmt: skip
    more = "" if len(drawn) == len(made.chosen) else f"; drawn are the first {len(drawn)} of {len(made.chosen)}, others by --setup"
    above.suptitle(what + more, fontsize=10.5, x=0.01, ha="left")
    look: dict[str, Any] = {"fontsize": 8.5, "frameon": False, "borderaxespad": 0.2}
    names = {"title": "All set-ups, in order", "title_fontsize": 8.5, "handlelength": 0.0, "handletextpad": 0.0}
    if list_columns == 1:
        _legend(below, listed, loc="upper left", bbox_to_anchor=(0.0, 1.0), **names, **look)
        _legend(below, beside, loc="upper left", bbox_to_anchor=(0.5 if listed and columns > 1 else 0.0, 1.0), **look)
    else:
        _legend(below, listed, loc="upper left", bbox_to_anchor=(0.0, 1.0), ncols=list_columns, **names, **look)
        _legend(below, beside, loc="lower left", bbox_to_anchor=(0.0, 0.0), ncols=2, **look)
    figure.draw_without_rendering()  # places the axes, which the labels' places depend on
    for place, setup, one in zip(axes.flat, drawn, lines, strict=False):
        _label(place, made, setup, shown[setup], one)
    return figure


def _legend(below: Any, handles: list[Any], **look: Any) -> None:
    if not handles:
        return
    legend = below.legend(handles=handles, **look)
    legend._legend_box.align = "left"
    for text in legend.get_texts():
        text.set_parse_math(False)


@dataclass(frozen=True)
class _Area:
    """Where some set-ups are level with the best: a number whose bits they are, its look, and which they are, by number."""

    kind: int
    colour: str
    hatch: str
    words: str

    def patch(self) -> Any:
        from matplotlib.patches import Patch

        return Patch(facecolor=self.colour, hatch=self.hatch, edgecolor="black", label=f"least drive power: {self.words}")


def _areas(made: Maps) -> list[_Area]:
    """The areas that are drawn, in the set-ups' order; what is left over of many is one area of others."""
    code = best_areas(made.maps, made.speeds)
    over = np.min([beyond_end(one, made.speeds) for one in made.maps], axis=0)
    kinds, counts = np.unique(code[finer(finer(over).T).T <= 0], return_counts=True)
    there = [int(kind) for kind in kinds[np.argsort(-counts, kind="stable")] if kind]
    largest = sorted(there[: len(AREAS)], key=lambda kind: _places(made, kind))
    areas = [_Area(kind, *look, _numbers(made, kind)) for kind, look in zip(largest, AREAS, strict=False)]
    return [*areas, *(_Area(kind, "#BBBBBB", "++", "others") for kind in there[len(AREAS) :])]


def _places(made: Maps, kind: int) -> list[int]:
    return [place for place in range(len(made.names)) if kind >> place & 1]


def _numbers(made: Maps, kind: int) -> str:
    """The set-ups of an area by their numbers from 1, in the fewest signs."""
    inside = _places(made, kind)
    outside = [place for place in range(len(made.names)) if place not in inside]
    if not outside:
        return "all alike"
    fewest, before = (outside, "all but ") if len(outside) < len(inside) else (inside, "")
    return before + ", ".join(str(place + 1) for place in fewest)


def _set_ups(made: Maps) -> list[Any]:
    """All set-ups with their numbers, in the scenario's order, and of each whether it is among the best anywhere."""
    from matplotlib.lines import Line2D

    width = LIST_WIDTH if len(made.names) <= MOST_LINES else LIST_WIDTH / 1.6
    found = []
    for place, (name, level) in enumerate(zip(made.names, made.level, strict=True)):
        note = "" if level.any() else " (nowhere among the best)"
        (words,) = folded(f"{place + 1} {name}", width - text_width(note, 8.5), 8.5, most=1)
        found.append(Line2D([], [], linestyle="none", label=words + note))
    return found


def _signs(made: Maps, drawn: Sequence[int]) -> list[Any]:
    """What the signs mean that all maps share, as far as they occur."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    states = np.unique([made.maps[place].state for place in drawn])
    asked = f"asked: {abs(made.asked[0]):g} m at {made.asked[1]:g} m/s"
    signs: list[Any] = [Line2D([], [], color="black", marker="+", markersize=9, markeredgewidth=1.6, linestyle="none", label=asked)]
    signs += [
        Line2D([], [], color="black", linestyle=dashes, linewidth=1.4, label=f"from here on {STATE_WORDS[state]}")
        for state, dashes in DASHES.items() if state in states
    ]  # fmt: skip
    signs += [
        Patch(facecolor="white", edgecolor="black", hatch=hatch, label=f"no turn: {STATE_WORDS[state]}")
        for state, hatch in HATCHES.items() if state in states
    ]  # fmt: skip
    return signs


def _label(axes: Axes, made: Maps, setup: int, power: np.ndarray, lines: ContourSet) -> None:
    """Write the power on each line of equal power, where it is farthest from edges, other labels and the turn that was asked for."""
    pixels = axes.transData.transform
    radii, left, right = np.abs(made.radii), *axes.get_xlim()
    ends = np.where(np.isfinite(made.maps[setup].ends_at), made.maps[setup].ends_at, 2 * made.speeds[-1])
    edge = np.concatenate([np.column_stack([radii, ends]), np.column_stack([radii, made.maps[setup].grips_to])])
    taken = pixels(np.concatenate([edge[np.isfinite(edge[:, 1])], [(abs(made.asked[0]), made.asked[1])]]))
    low, high = pixels((left, made.speeds[0])), pixels((right, made.speeds[-1]))
    places, written = [], np.empty((0, 2))
    for parts in lines.allsegs:
        line = np.concatenate([np.empty((0, 2)), *parts])
        if not len(line):
            continue
        at = pixels(line)
        room = np.minimum(np.abs(at[:, None] - taken).max(axis=2).min(axis=1), np.minimum(at - low, high - at).min(axis=1))
        room = np.minimum(room, np.abs(at[:, None] - written).max(axis=2, initial=0.0).min(axis=1, initial=np.inf) - LABEL_WIDTH)
        best = int(np.argmax(room))
        if room[best] > LABEL_HEIGHT:
            places.append(tuple(line[best]))
            written = np.concatenate([written, at[best : best + 1]])
    if places:
        axes.clabel(lines, fmt=lambda value: f"{value:g} W", fontsize=8, inline_spacing=2, manual=places)
    least = float(np.asarray(lines.levels)[0])
    if len(made.names) > 1 and least > np.max(power, where=np.isfinite(power), initial=0.0):
        _write_inside(axes, radii, made.speeds, np.isfinite(power).T, f"nowhere {least:g} W more than the best", 9.5)


def _prepare(axes: Axes, made: Maps, title: str) -> np.ndarray:
    """Labelled axes; returns the sizes of the radii."""
    radii = np.abs(made.radii)
    axes.set_xscale("log")
    axes.set_xlim(radii[0], radii[-1])
    axes.set_ylim(0, made.speeds[-1])
    ticks = [tick for tick in (1, 2, 3, 5, 8, 12, 20, 40, 80, 200, 500, 1000) if radii[0] <= tick <= radii[-1]]
    axes.set_xticks(ticks, [str(tick) for tick in ticks])
    axes.set_xticks([], minor=True)
    side = "to the left" if made.radii[0] > 0 else "to the right"
    axes.set_xlabel(f"radius {side} [m]", fontsize=9)
    axes.set_ylabel("speed [m/s]", fontsize=9)
    axes.tick_params(labelsize=9)
    axes.set_title(title if len(title) <= 44 else f"{title[:43]}…", loc="left", fontsize=10, fontweight="bold", parse_math=False)
    axes.plot([abs(made.asked[0])], [made.asked[1]], "+", color="black", markersize=11, markeredgewidth=2.4, zorder=6)
    axes.plot([abs(made.asked[0])], [made.asked[1]], "+", color="white", markersize=9, markeredgewidth=1.0, zorder=7)
    return radii


def _draw_power(axes: Axes, made: Maps, setup: int, power: np.ndarray, levels: list[float]) -> ContourSet:
    """One set-up's map; returns its lines of equal power.  power : (radii, speeds) NaN where there is no turn [W]."""
    from matplotlib.colors import LogNorm

    one, number = made.maps[setup], "" if len(made.names) == 1 else f"{setup + 1}  "
    radii = _prepare(axes, made, f"{number}{made.names[setup]}")
    # The grid's last turn stands for what is left up to the end, which the area without turns then covers to its own edge.
    ends = np.isfinite(power[:, :-1]) & ~np.isfinite(power[:, 1:])
    filled = np.maximum(power, 1e-3)
    filled[:, 1:][ends] = filled[:, :-1][ends]
    # Published as safe for colour-blind readers; reversed, so that much is dark on white paper, in grey too.
    norm = LogNorm(levels[0] / 3, levels[-1] * 3)
    shown = np.ma.masked_invalid(filled).T
    axes.pcolormesh(radii, made.speeds, shown, cmap="cividis_r", norm=norm, shading="nearest", rasterized=True, alpha=0.75)
    # A hair before the end the powers of two set-ups with ends of their own part wildly; the colour shows that, lines would be a tangle.
    inside = np.where(beyond_end(one, made.speeds) < -TANGLE, power, np.nan)
    lines = axes.contour(radii, made.speeds, np.ma.masked_invalid(inside).T, levels=levels, colors="black", linewidths=0.7)
    _draw_ends(axes, radii, made, one)
    beyond = np.array([[state for state in row if state in DASHES][:1] or [State.ROLLS] for row in one.state])[:, 0]
    for state, dashes in DASHES.items():
        edge = np.where((beyond == state) & np.isfinite(one.grips_to) & (one.grips_to > 0), one.grips_to, np.nan)
        axes.plot(radii, edge, color="black", linestyle=dashes, linewidth=1.4, zorder=4)
    return lines


def _draw_ends(axes: Axes, radii: np.ndarray, made: Maps, one: TurnMap) -> None:
    """Hatch where there is no turn, draw its edge and say why."""
    over, none, step = beyond_end(one, made.speeds), ~np.isfinite(one.scrub), made.speeds[1] - made.speeds[0]
    for state in ENDS:
        here = one.state == state
        if not here.any():
            continue
        level = np.where(here | ~none, over, -step).T
        axes.contourf(radii, made.speeds, level, levels=[0, np.inf], colors="white", zorder=2, hatches=[HATCHES[state]])
        _write_inside(axes, radii, made.speeds, here.T, STATE_WORDS[state], 9.5)
    if none.any():
        axes.contour(radii, made.speeds, over.T, levels=[0], colors="black", linewidths=1.8, zorder=3)


def _write_inside(axes: Axes, radii: np.ndarray, speeds: np.ndarray, where: np.ndarray, words: str, size: float) -> None:
    """Words near the middle of an area, where it is large enough to hold them.  where : (speeds, radii)."""
    if not where.any():
        return
    rows, columns = np.nonzero(where)
    # The cell of the area that is nearest to its middle, for an area can be bent round its middle; then the middle of its row there.
    nearest = np.argmin((rows - rows.mean()) ** 2 + (columns - columns.mean()) ** 2)
    row, column = rows[nearest], columns[nearest]
    gaps = np.flatnonzero(~where[row])
    left, right = np.max(gaps[gaps < column], initial=-1) + 1, np.min(gaps[gaps > column], initial=where.shape[1])
    if right - left < LETTER_SHARE * (len(words) + 0.5) * where.shape[1]:
        return
    axes.text(radii[(left + right - 1) // 2], speeds[row], words, ha="center", va="center", fontsize=size, parse_math=False, zorder=5,
              bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5})  # fmt: skip


def _draw_best(axes: Axes, made: Maps, areas: list[_Area]) -> None:
    """Areas by which set-ups need least drive power."""
    grid = _prepare(axes, made, f"Least drive power (within {100 * TELL_APART:g} %)")
    radii, speeds, code = np.exp(finer(np.log(grid))), finer(made.speeds), best_areas(made.maps, made.speeds).T
    over = np.min([beyond_end(one, made.speeds) for one in made.maps], axis=0)
    none = finer(finer(over).T) > 0
    for one in areas:
        area = (code == one.kind).astype(float)
        axes.contourf(radii, speeds, area, levels=[0.5, 1.5], colors=[one.colour], hatches=[one.hatch], alpha=0.8)
        axes.contour(radii, speeds, area, levels=[0.5], colors="black", linewidths=1.0)
        if one.words != "others":
            _write_inside(axes, radii, speeds, (code == one.kind) & ~none, one.words, 10)
    if none.any():
        axes.contourf(grid, made.speeds, over.T, levels=[0, np.inf], colors="white", zorder=2)
        axes.contour(grid, made.speeds, over.T, levels=[0], colors="black", linewidths=1.8, zorder=3)
        _write_inside(axes, radii, speeds, none, "no turn", 9.5)
