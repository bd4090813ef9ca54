"""`corner --map`: every set-up's steady turns over radius and speed, as a table, a CSV file and a picture."""

from __future__ import annotations

import csv
import textwrap
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
from viz.shared.words import plain_table

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.contour import ContourSet
    from matplotlib.figure import Figure

MOST_DRAWN = 5  # set-ups on one page
LABEL_HEIGHT = 20  # pixels between the middles of two labels
LETTER_SHARE = 0.018  # of a map's width that a letter takes
TABLE_WORDS = {"not enough grip": "no grip", "lock too small": "lock", "a driven wheel spins": "spins"}  # shorter, for the table's columns
ENDS = (State.NO_GRIP, State.SPINS, State.TIPS, State.LOCKED, State.TOO_TIGHT)
HATCHES = {State.NO_GRIP: "\\\\\\", State.SPINS: "///", State.TIPS: "xxx", State.LOCKED: "---", State.TOO_TIGHT: "|||"}
DASHES = {State.LIFTED: (0, (1, 1.5)), State.SLIDES: (0, (4, 2))}
# Lightness and hatching tell the areas apart without colour; colours after Okabe and Ito (2008).
AREAS = (("#F0E442", ""), ("#56B4E9", "///"), ("#E69F00", "..."), ("#009E73", "\\\\\\"), ("#CC79A7", "xxx"), ("#D55E00", "---"))


CAUTION = (
    "These are ends of a model, not speeds to try: near them tyres slip further than the tyre law is meant for, and they rest on the "
    "scenario's friction. Keep well below, on closed ground, by your event's rules and with a competent adult."
)


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
    """Write every turn of every set-up as a row.  path : a CSV file.  Raises OSError where it can't be written."""
    with open(path, "w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(("setup", "radius_m", "speed_m_per_s", "scrub_W", "drive_W", "state", "level_with_best"))
        for name, one, level in zip(made.names, made.maps, made.level, strict=True):
            for i, radius in enumerate(made.radii):
                for j, speed in enumerate(made.speeds):
                    figures = ("", "") if np.isnan(one.scrub[i, j]) else (f"{one.scrub[i, j]:.6g}", f"{one.drive[i, j]:.6g}")
                    state = STATE_WORDS[State(one.state[i, j])]
                    writer.writerow((name, f"{radius:.6g}", f"{speed:.6g}", *figures, state, int(level[i, j])))


def write_map_plot(made: Maps, path: Path) -> None:
    """Write the picture of `map_figure`.  path : a PNG file.  Raises OSError where it can't be written."""
    picture = BytesIO()
    map_figure(made).savefig(picture, format="png", metadata={"Software": None})
    path.write_bytes(picture.getvalue())


def map_figure(made: Maps) -> Figure:
    """Draw scrub power of each set-up, where its turns end, and which set-ups need least.  made : of `sim.study.maps.make_maps`."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    count = min(len(made.names), MOST_DRAWN)
    panels = count + (1 if len(made.names) > 1 else 0)
    columns = 1 if panels == 1 else 2
    rows = ceil(panels / columns)
    figure = Figure(figsize=(5.2 * columns, 0.9 + 3.7 * rows), dpi=110, layout="constrained", facecolor="white")
    FigureCanvasAgg(figure)
    axes = figure.subplots(rows, columns, squeeze=False)
    powers = np.concatenate([one.scrub[np.isfinite(one.scrub)] for one in made.maps[:count]] or [np.ones(1)])
    levels = [step * 10.0**power for power in range(-1, 5) for step in (1, 3) if step * 10.0**power <= powers.max(initial=1.0)] or [0.1]
    drawn = [
        _draw_scrub(place, made, name, one, levels)
        for place, (name, one) in zip(axes.flat, zip(made.names[:count], made.maps, strict=False), strict=False)
    ]
    if panels > count:
        _draw_best(axes.flat[count], made)
    for spare in axes.flat[panels:]:
        spare.set_axis_off()
    figure.suptitle("Power that the tyres lose by slipping in a steady turn [W]" + ("" if count == len(made.names) else
                    f"; the first {count} of {len(made.names)} set-ups"), fontsize=10.5, x=0.01, ha="left")  # fmt: skip
    figure.legend(handles=_signs(made, count), loc="outside lower left", fontsize=8.5, frameon=False, ncols=columns)
    figure.draw_without_rendering()  # places the axes, which the labels' places depend on
    for place, lines, one in zip(axes.flat, drawn, made.maps, strict=False):
        places = _label_places(place, made, one, levels)
        if places:
            place.clabel(lines, fmt=lambda value: f"{value:g} W", fontsize=8, inline_spacing=2, manual=places)
    return figure


def _signs(made: Maps, count: int) -> list[Any]:
    """What the signs mean that all maps share, as far as they occur."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    states = np.unique([one.state for one in made.maps[:count]])
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


def _label_places(axes: Axes, made: Maps, one: TurnMap, levels: list[float]) -> list[tuple[float, float]]:
    """Where the lines of equal power are labelled: one above the other at the radius that has room for most labels."""

    def pixels(radius: float, speed: float) -> np.ndarray:
        return np.asarray(axes.transData.transform((radius, speed)))

    best: list[tuple[float, float]] = []
    radii, asked = np.abs(made.radii), pixels(abs(made.asked[0]), made.asked[1])
    for share in (0.66, 0.78, 0.54, 0.88, 0.42):
        i = round(share * (len(radii) - 1))
        powers, places = one.scrub[i][np.isfinite(one.scrub[i])], []
        taken = [pixels(radii[i], edge)[1] for edge in (0.0, made.speeds[-1], one.grips_to[i], one.ends_at[i]) if np.isfinite(edge)]
        for level in levels:
            above = int(np.argmax(powers > level)) if np.any(powers > level) else 0
            if above == 0:
                continue
            part = (level - powers[above - 1]) / (powers[above] - powers[above - 1])
            speeds = made.speeds[np.isfinite(one.scrub[i])]
            speed = speeds[above - 1] + part * (speeds[above] - speeds[above - 1])
            at = pixels(radii[i], speed)
            free = min(abs(at[1] - edge) for edge in taken) > LABEL_HEIGHT
            if free and not (abs(at[0] - asked[0]) < 3 * LABEL_HEIGHT and abs(at[1] - asked[1]) < 1.5 * LABEL_HEIGHT):
                places.append((float(radii[i]), float(speed)))
                taken.append(at[1])
        best = max(best, places, key=len)
    return best


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


def _draw_scrub(axes: Axes, made: Maps, name: str, one: TurnMap, levels: list[float]) -> ContourSet:
    """One set-up's map; returns its lines of equal power."""
    from matplotlib.colors import LogNorm

    radii = _prepare(axes, made, name)
    # The grid's last turn stands for what is left up to the end, which the area without turns then covers to its own edge.
    ends = np.isfinite(one.scrub[:, :-1]) & ~np.isfinite(one.scrub[:, 1:])
    filled = np.maximum(one.scrub, 1e-3)
    filled[:, 1:][ends] = filled[:, :-1][ends]
    # Published as safe for colour-blind readers; reversed, so that much is dark on white paper, in grey too.
    norm = LogNorm(levels[0] / 3, levels[-1] * 3)
    shown = np.ma.masked_invalid(filled).T
    axes.pcolormesh(radii, made.speeds, shown, cmap="cividis_r", norm=norm, shading="nearest", rasterized=True, alpha=0.75)
    lines = axes.contour(radii, made.speeds, np.ma.masked_invalid(one.scrub).T, levels=levels, colors="black", linewidths=0.7)
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


def _draw_best(axes: Axes, made: Maps) -> None:
    """Areas by which set-ups need least drive power."""
    from matplotlib.patches import Patch

    grid = _prepare(axes, made, f"Least drive power (within {100 * TELL_APART:g} %)")
    radii, speeds, code = np.exp(finer(np.log(grid))), finer(made.speeds), best_areas(made.maps, made.speeds).T
    over = np.min([beyond_end(one, made.speeds) for one in made.maps], axis=0)
    none = finer(finer(over).T) > 0
    kinds, counts = np.unique(code[~none], return_counts=True)
    looks, handles = iter(zip(AREAS, "ABCDEF", strict=True)), []
    for kind in kinds[np.argsort(-counts)]:
        if kind == 0:
            continue
        where = (code == kind) & ~none
        (colour, hatch), letter = next(looks, (("#BBBBBB", "++"), ""))
        area = (code == kind).astype(float)
        axes.contourf(radii, speeds, area, levels=[0.5, 1.5], colors=[colour], hatches=[hatch], alpha=0.8)
        axes.contour(radii, speeds, area, levels=[0.5], colors="black", linewidths=1.0)
        _write_inside(axes, radii, speeds, where, letter, 10)
        words = f"{letter}  {_members(made.names, kind)}" if letter else "others"
        handles.append(Patch(facecolor=colour, hatch=hatch, edgecolor="black", label="\n    ".join(textwrap.wrap(words, 62))))
    if none.any():
        axes.contourf(grid, made.speeds, over.T, levels=[0, np.inf], colors="white", zorder=2)
        axes.contour(grid, made.speeds, over.T, levels=[0], colors="black", linewidths=1.8, zorder=3)
        _write_inside(axes, radii, speeds, none, "no turn", 9.5)
    legend = axes.legend(handles=handles[: len(AREAS) + 1], loc="upper left", bbox_to_anchor=(0, -0.16), fontsize=8.5, frameon=False)
    for text in legend.get_texts():
        text.set_parse_math(False)


def _members(names: tuple[str, ...], kind: int) -> str:
    """The set-ups of an area in the fewest words.  kind : a bit a set-up."""
    inside = [name for index, name in enumerate(names) if kind >> index & 1]
    outside = [name for name in names if name not in inside]
    if not outside:
        return "all alike"
    return f"all but {'; '.join(outside)}" if len(outside) < len(inside) else "; ".join(inside)
