"""What `angles` prints without --explain."""

from collections.abc import Sequence
from typing import Any

from rich.text import Text

from sim.study.angles import AngleRow, AnglesResult, SetupAngles
from sim.study.dangers import HAND_WHEEL
from viz.angles.report import ANGLES_WORDS, lock_line
from viz.shared.brief import MOST_LINES, Rows, brief, height
from viz.shared.dangers import danger_lines, own_stops_line, rod_lines, stop_words
from viz.shared.doubts import doubt_lines
from viz.shared.words import plain_table

CLOSE = 0.005  # deg; a smaller error is shown as 0
STEPS = (5, 10, 15, 20, 30, 45, 60, 90, 120, 180, 360)  # deg of the hand wheel from row to row, the finest that there is room for
REST = "every angle, causes of the lock, hand torque"


def angles_brief(result: AnglesResult, outer: bool, chosen: bool) -> list[Any]:
    """The angles in one screen.

    outer : rows at angles of the outer wheel were asked for; chosen : set-ups were chosen, so each gets its table
    """
    if outer:
        return _outer_lines(result)
    return _chosen_lines(result) if chosen else _side_by_side(result)


def _worst(setup: SetupAngles) -> AngleRow:
    return max(setup.rows, key=lambda row: abs(row.error_deg))


def _finding(result: AnglesResult) -> str:
    """Which steering follows ideal steering, and which is furthest from it."""
    errors = [(round(abs(_worst(setup).error_deg), 2), setup.name) for setup in result.setups if setup.rows]
    (least, best), (most, worst) = min(errors, key=lambda one: one[0]), max(errors, key=lambda one: one[0])
    if most < CLOSE:
        return "The inner wheel always turns as much as ideal steering asks for."
    text = f'"{worst}" is furthest from ideal steering: its inner wheel is up to {most:.1f} degrees off.'
    if len(errors) > 1:
        text += f' "{best}" is nearest, ' + ("with no error." if least < CLOSE else f"{least:.1f} degrees off at most.")
    return text


def _side_by_side(result: AnglesResult) -> list[Any]:
    """One table of all set-ups."""
    stops = [stop_words(setup) for setup in result.setups]
    columns = [("set-up", "left"), ("largest\nerror", "right"), ("at\nhand", "right"), ("lock left\n/ right", "right")]
    columns += [("circle\nkerb m", "right"), ("hands\nN m", "right")] + ([("stop left\n/ right", "right")] if any(stops) else [])
    rows = []
    for setup, stop in zip(result.setups, stops, strict=True):
        worst, torque = _worst(setup), setup.hand_torque
        rows.append([
            setup.name, f"{abs(worst.error_deg):.1f}", f"{worst.hand_deg:z.0f}" if abs(worst.error_deg) >= CLOSE else "",
            f"{setup.lock_left_deg:.1f} / {-setup.lock_right_deg:.1f}", f"{setup.turning_circle_kerb_m:.2f}",
            "no turn" if torque is None else f"{torque.total_N_m:+z.2f}", *([stop] if any(stops) else []),
        ])  # fmt: skip
    told = [*doubt_lines(result.doubts), _finding(result), *([
        'Danger: past the angle under "stop" a rod and its arm soon come in line; the steering can snap over or jam there. Fit a stop '
        f"before.{own_stops_line([(setup.name, setup) for setup in result.setups])}"
    ] if any(stops) else [])]  # fmt: skip
    advice = [
        "Degrees, positive to the left. Error: the inner wheel's angle less the ideal one. Hands: what holds a steady turn of "
        f"{result.radius_m:g} m at {result.speed_m_per_s:g} m/s.{_hand_words(result)}",
        "What to do: `--setup NAME` shows one set-up's angles and its rods' lengths.",
        "Doubt: these are the drawn car's angles; `bench` finds those of the built one.",
    ]
    return brief(result.title, told, result.assumed, Rows(columns, rows), advice, REST)


def _hand_words(result: AnglesResult) -> str:
    """What is meant by hand where it is not everywhere the hand wheel's angle; empty where it is."""
    named = [f'"{one.name}"' for one in result.setups if one.hand_is != HAND_WHEEL]
    if not named:
        return ""
    return f" Hand is the left wheel's own angle for {named[0] if len(named) == 1 else 'some of these'}: no hand wheel is modelled there."


def _cells(row: AngleRow) -> list[str]:
    return [f"{angle:z.2f}" for angle in (row.hand_deg, row.left_deg, row.right_deg, row.ideal_inner_deg, row.error_deg)]


HEADINGS = tuple((heading, "right") for heading in ("hand", "left", "right", "ideal inner", "error"))


def _outer_lines(result: AnglesResult) -> list[Any]:
    """The rows that were asked for, of all set-ups in one table."""
    table = plain_table(("set-up", "left"), *HEADINGS)
    for setup in result.setups:
        for place, row in enumerate(setup.rows):
            table.add_row(Text("" if place else setup.name), *_cells(row))
    beyond = [Text(f'"{one.name}": outer {angle:g} deg: beyond the lock') for one in result.setups for angle in one.beyond_lock_outer_deg]
    dangers = [Text(f'"{setup.name}": {line}') for setup in result.setups for line in danger_lines(setup)]
    head = [Text(result.title, style="bold"), *map(Text, doubt_lines(result.doubts)), Text(ANGLES_WORDS), Text(""), table, Text("")]
    return [*head, *beyond, *dangers, Text(f"More: {REST}: add --explain.")]


def _chosen_lines(result: AnglesResult) -> list[Any]:
    """A table for each chosen set-up, its rows as far apart as the screen asks for."""
    lines: list[Any] = [Text(result.title, style="bold"), *map(Text, doubt_lines(result.doubts)), Text(ANGLES_WORDS)]
    end = Text(f"More: {REST}: add --explain.")
    room = (MOST_LINES - sum(map(height, (*lines, end)))) // len(result.setups)
    for setup in result.setups:
        above = [Text(""), Text(setup.name, style="bold"), Text(lock_line(setup))]
        below = [Text(line) for line in (*rod_lines(setup.rods), *danger_lines(setup))]
        if setup.hand_torque is not None:
            turn = f"a steady turn of {result.radius_m:g} m at {result.speed_m_per_s:g} m/s"
            below.append(Text(f"Hands hold {turn} with {setup.hand_torque.total_N_m:+z.2f} N m."))
        table = plain_table(*HEADINGS)
        for row in _thinned(setup.rows, room - sum(map(height, (*above, *below))) - 1):
            table.add_row(*_cells(row))
        lines += [*above, table, *below]
    return [*lines, end]


def _thinned(rows: Sequence[AngleRow], most: int) -> list[AngleRow]:
    """The ends and the rows between them at the finest of STEPS that leaves at most so many rows, or at the coarsest."""
    kept = list(rows)
    for step in STEPS:
        kept = [row for row in rows if row in (rows[0], rows[-1]) or abs(row.hand_deg - step * round(row.hand_deg / step)) < CLOSE]
        if len(kept) <= most:
            break
    return kept
