"""`corner --map`: every set-up's steady turns over radius and speed, as a table, a CSV file and a picture."""

from __future__ import annotations

import csv
import textwrap
from dataclasses import dataclass
from io import BytesIO
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from rich.text import Text

from sim.maps import State, TurnMap, level_with_best, turn_map
from sim.race import TELL_APART
from sim.scenario import Scenario
from sim.study import Entry, car_of
from viz.tables import plain_table

if TYPE_CHECKING:
    from matplotlib.axes import Axes

POINTS = 100  # radii and speeds: 10,000 turns a set-up
TIGHTEST, WIDEST, SLOWEST, FASTEST = 2.5, 40.0, 0.25, 12.0  # [m], [m/s] of a map, wider where the asked turn lies outside
MOST_DRAWN = 5  # set-ups on one page
LEAST_AREA = 0.01  # of a map; smaller areas are specks of the grid
SHOWN_RADII = (3.0, 5.0, 8.0, 12.0, 20.0, 40.0)  # [m] of the table
STATE_WORDS = {
    State.ROLLS: "all wheels grip", State.LIFTED: "a wheel lifts", State.SLIDES: "a tyre slides", State.NO_GRIP: "slides off",
    State.TIPS: "tips over", State.LOCKED: "lock too small", State.UNKNOWN: "no turn found",
}  # fmt: skip
ENDS = (State.NO_GRIP, State.TIPS, State.LOCKED, State.UNKNOWN)
HATCHES = {State.NO_GRIP: "\\\\\\", State.TIPS: "xxx", State.LOCKED: "---", State.UNKNOWN: "..."}
# Lightness and hatching tell the areas apart without colour; colours after Okabe and Ito (2008).
AREAS = (("#F0E442", ""), ("#56B4E9", "///"), ("#E69F00", "..."), ("#009E73", "\\\\\\"), ("#CC79A7", "xxx"), ("#D55E00", "---"))


@dataclass(frozen=True)
class Maps:
    """All set-ups of a scenario over one grid."""

    title: str
    names: tuple[str, ...]
    radii: np.ndarray  # [m], positive to the left
    speeds: np.ndarray  # [m/s]
    maps: tuple[TurnMap, ...]
    level: np.ndarray  # (set-ups, radii, speeds), see `sim.maps.level_with_best`
    asked: tuple[float, float]  # the radius and speed that the command was asked for


def make_maps(scenario: Scenario, entries: list[Entry], radius: float, speed: float) -> Maps:
    """The steady turns of every set-up over a grid around a turn.

    radius : positive to the left [m]; speed [m/s]
    """
    car = car_of(scenario)
    # Inside the mass centre's distance from the rear axle no car can turn.
    tightest = max(min(TIGHTEST, 0.5 * abs(radius)), 1.05 * (car.wheelbase - car.front_arm))
    radii = np.copysign(np.geomspace(tightest, max(WIDEST, 2 * abs(radius)), POINTS), radius)
    speeds = np.linspace(min(SLOWEST, speed), max(FASTEST, 1.5 * speed), POINTS)
    maps = tuple(turn_map(car, entry.table, radii, speeds) for entry in entries)
    return Maps(scenario.title, tuple(entry.name for entry in entries), radii, speeds, maps, level_with_best(list(maps)), (radius, speed))


def map_result(made: Maps) -> dict[str, Any]:
    """Where the turns of a few radii end, as plain numbers for JSON; the whole grid goes to the CSV file.  made : of `make_maps`."""
    setups = []
    for name, one in zip(made.names, made.maps, strict=True):
        rows = []
        for wanted in SHOWN_RADII:
            i = int(np.argmin(np.abs(np.abs(made.radii) - wanted)))
            ends = np.flatnonzero(np.isin(one.state[i], ENDS))
            grips = int(np.argmin(np.append(one.state[i] == State.ROLLS, False)))
            rows.append({
                "radius_m": float(made.radii[i]),
                "grips_to_m_per_s": float(made.speeds[grips - 1]) if grips else None,
                "ends_at_m_per_s": float(made.speeds[ends[0]]) if len(ends) else None,
                "ends_by": STATE_WORDS[State(one.state[i, ends[0]])] if len(ends) else None,
            })  # fmt: skip
        setups.append({"name": name, "rows": rows})
    return {"points": len(made.radii) * len(made.speeds), "setups": setups}


def map_report(result: dict[str, Any]) -> list[Any]:
    """What `corner --map` adds.  result : of `map_result`."""
    table = plain_table(
        ("set-up: turns end at m/s", "left"), *((f"{abs(row['radius_m']):.0f} m", "right") for row in result["setups"][0]["rows"])
    )
    for setup in result["setups"]:
        speeds = ["no end" if row["ends_at_m_per_s"] is None else f"{row['ends_at_m_per_s']:.1f}" for row in setup["rows"]]
        table.add_row(Text(setup["name"]), *speeds)
        table.add_row("", *(row["ends_by"] or "" for row in setup["rows"]))
    return [Text(""), table]


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
    """Draw scrub power of each set-up, where its turns end, and which set-ups need least.  path : a PNG file.

    Raises OSError where it can't be written.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    count = min(len(made.names), MOST_DRAWN)
    panels = count + (1 if len(made.names) > 1 else 0)
    columns = 1 if panels == 1 else 2
    rows = ceil(panels / columns)
    figure = Figure(figsize=(5.2 * columns, 0.5 + 3.7 * rows), dpi=110, layout="constrained", facecolor="white")
    FigureCanvasAgg(figure)
    axes = figure.subplots(rows, columns, squeeze=False)
    powers = np.concatenate([one.scrub[np.isfinite(one.scrub)] for one in made.maps[:count]] or [np.ones(1)])
    levels = [step * 10.0**power for power in range(-1, 5) for step in (1, 3) if step * 10.0**power <= powers.max(initial=1.0)] or [0.1]
    for place, (name, one) in zip(axes.flat, zip(made.names[:count], made.maps, strict=False), strict=False):
        _draw_scrub(place, made, name, one, levels)
    if panels > count:
        _draw_best(axes.flat[count], made)
    for spare in axes.flat[panels:]:
        spare.set_axis_off()
    figure.suptitle("Power that the tyres lose by slipping in a steady turn [W]" + ("" if count == len(made.names) else
                    f"; the first {count} of {len(made.names)} set-ups"), fontsize=10.5, x=0.01, ha="left")  # fmt: skip
    picture = BytesIO()
    figure.savefig(picture, format="png", metadata={"Software": None})
    path.write_bytes(picture.getvalue())


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


def _draw_scrub(axes: Axes, made: Maps, name: str, one: TurnMap, levels: list[float]) -> None:
    from matplotlib.colors import LogNorm

    radii = _prepare(axes, made, name)
    shown = np.ma.masked_invalid(np.maximum(one.scrub, 1e-3)).T
    # Published as safe for colour-blind readers; reversed, so that much is dark on white paper, in grey too.
    norm = LogNorm(levels[0] / 3, levels[-1] * 3)
    axes.pcolormesh(radii, made.speeds, shown, cmap="cividis_r", norm=norm, shading="nearest", rasterized=True, alpha=0.75)
    lines = axes.contour(radii, made.speeds, shown, levels=levels, colors="black", linewidths=0.7)
    axes.clabel(lines, fmt=lambda value: f"{value:g} W", fontsize=8, inline_spacing=2)
    _draw_ends(axes, radii, made, one)
    lifted = np.isin(one.state, (State.LIFTED, State.SLIDES))
    if lifted.any():
        first = np.where(lifted.any(axis=1), made.speeds[lifted.argmax(axis=1)], np.nan)
        axes.plot(radii, first, color="black", linestyle=(0, (4, 2)), linewidth=1.4, zorder=4)
        states = one.state[lifted]
        words = STATE_WORDS[State(int(np.bincount(states).argmax()))]
        known = np.flatnonzero(np.isfinite(first))
        i = known[len(known) // 2]
        axes.annotate(f"above: {words}", (radii[i], first[i]), (20, -24), textcoords="offset points", fontsize=8.5,
                      arrowprops={"arrowstyle": "-", "color": "black", "linewidth": 0.8}, zorder=5,
                      bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5})  # fmt: skip


def _draw_ends(axes: Axes, radii: np.ndarray, made: Maps, one: TurnMap) -> None:
    """Hatch where there is no turn, draw its edge and say why."""
    for state in ENDS:
        where = (one.state == state).T
        if not where.any():
            continue
        axes.contourf(radii, made.speeds, where.astype(float), levels=[0.5, 1.5], colors="none", hatches=[HATCHES[state]])
        axes.contour(radii, made.speeds, where.astype(float), levels=[0.5], colors="black", linewidths=1.8)
        _write_inside(axes, radii, made.speeds, where, STATE_WORDS[state], 9.5)


def _write_inside(axes: Axes, radii: np.ndarray, speeds: np.ndarray, where: np.ndarray, words: str, size: float) -> None:
    """Words near the middle of an area, where it is large enough to hold them.  where : (speeds, radii)."""
    if where.mean() < 0.02:
        return
    rows, columns = np.nonzero(where)
    # The cell of the area that is nearest to its middle: an area can be bent round its middle.
    nearest = np.argmin((rows - rows.mean()) ** 2 + (columns - columns.mean()) ** 2)
    axes.text(radii[columns[nearest]], speeds[rows[nearest]], words, ha="center", va="center", fontsize=size, parse_math=False, zorder=5,
              bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5})  # fmt: skip


def _draw_best(axes: Axes, made: Maps) -> None:
    """Areas by which set-ups need least drive power."""
    from matplotlib.patches import Patch

    radii = _prepare(axes, made, f"Least drive power (within {100 * TELL_APART:g} %)")
    weights = 2 ** np.arange(len(made.names), dtype=np.int64)
    code = np.tensordot(weights, made.level.astype(np.int64), axes=1).T  # (speeds, radii)
    kinds, counts = np.unique(code, return_counts=True)
    looks, handles = iter(zip(AREAS, "ABCDEF", strict=True)), []
    for kind in kinds[np.argsort(-counts)]:
        where = code == kind
        if kind == 0:
            _write_inside(axes, radii, made.speeds, where, "no turn", 9.5)
            continue
        if where.mean() < LEAST_AREA:
            continue
        (colour, hatch), letter = next(looks, (("#BBBBBB", "++"), ""))
        axes.contourf(radii, made.speeds, where.astype(float), levels=[0.5, 1.5], colors=[colour], hatches=[hatch], alpha=0.8)
        axes.contour(radii, made.speeds, where.astype(float), levels=[0.5], colors="black", linewidths=1.0)
        _write_inside(axes, radii, made.speeds, where, letter, 10)
        words = f"{letter}  {_members(made.names, kind)}" if letter else "others"
        handles.append(Patch(facecolor=colour, hatch=hatch, edgecolor="black", label="\n    ".join(textwrap.wrap(words, 62))))
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
