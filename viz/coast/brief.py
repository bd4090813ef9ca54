"""What `coast` prints without --explain."""

from collections.abc import Sequence
from typing import Any

from sim.coast.result import CircleCoast, CoastResult, StraightCoast
from viz.coast.report import CAUTION, UNSEEN, circle_sentences, drag_words, figures_words
from viz.shared.brief import Rows, brief

MOST_SPEEDS = 4  # columns of a circle's table
REST = "how well the curve fits, every run, what was left out"
DOUBT = "Doubt: +- holds 95 times in 100, but a wrong mass or air density, changing wind and an uneven road are not in it."


def coast_brief(result: CoastResult, written: Sequence[str]) -> list[Any]:
    """A coast in one screen.  written : the files that were."""
    warnings = [f"Warning: {one}" for one in result.warnings]
    if result.kind == "circle":
        finding, *others = circle_sentences(result)
        advice = ["What to do: measure rolling and air drag on a straight road first; here they are the scenario's.", DOUBT, CAUTION]
        return brief("", [finding], [*warnings, *others], _circle_rows(result), advice, REST, written)
    finding = figures_words(result)
    told = [f"{finding[0].upper()}{finding[1:]}.", drag_words(result).strip()]
    advice = ["What to do: `--fragment FILE.toml` writes the figures as lines for your scenario.", DOUBT, CAUTION]
    return brief("", [one for one in told if one], warnings, _straight_rows(result), advice, REST, written)


def _straight_rows(result: StraightCoast) -> Rows:
    near = "" if result.both_ways else " (taken as about 0)"
    rows = []
    for one, name, factor in (
        (result.rolling_resistance, "rolling coefficient", 1.0), (result.drag_area_m2, "drag area m2", 1.0),
        (result.slope, f"slope of the way there, % up{near}", 100.0), (result.headwind_m_per_s, f"headwind there m/s{near}", 1.0),
    ):  # fmt: skip
        half = one.half_width
        value = 0.0 if half is not None and abs(one.value) < UNSEEN * half else one.value
        rows.append([name, f"{factor * value:z.2g}", "not told" if half is None else f"{factor * half:z.2g}"])
    return Rows((("", "left"), ("value", "right"), ("+-", "right")), rows)


def _circle_rows(result: CircleCoast) -> Rows:
    """Measured and modelled drag at a few speeds, a row a set-up."""
    count = len(result.measured)
    places = range(count) if count <= MOST_SPEEDS else sorted({round(k * (count - 1) / (MOST_SPEEDS - 1)) for k in range(MOST_SPEEDS)})
    columns = [("drag of the bend N, at", "left"), *((f"{result.measured[k].speed_m_per_s:.1f} m/s", "right") for k in places)]
    rows = [["measured", *(f"{result.measured[k].cornering_drag_N:z.2f}" for k in places)],
            ["95 % +-", *(f"{result.measured[k].half_width_N:.2f}" for k in places)]]  # fmt: skip
    for setup in result.setups:
        modelled = (setup.cornering_drag_N[k] for k in places)
        rows.append([f'model of "{setup.name}"', *("no such turn" if value is None else f"{value:.2f}" for value in modelled)])
    return Rows(columns, rows)
