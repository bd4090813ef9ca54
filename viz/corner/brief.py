"""What `corner` prints without --explain."""

from collections.abc import Sequence
from math import radians, tan
from typing import Any

from sim.car.chassis import Car, characteristic_speed, understeer_gradient
from sim.judgements import TELL_APART
from sim.lap.ladder import Model
from sim.study.corner import CornerResult, CornerTurn, LadderTurn
from sim.study.maps import MapResult
from viz.corner.report import CAUTION, title
from viz.shared.brief import TO_DO, Rows, brief
from viz.shared.slips import large_slips

DOUBT = f"Doubt: trust no difference below {100 * TELL_APART:g} %: tyres move more. This is one turn that goes on for ever."
NEXT = "`scrubwise run` drives the whole course."


def corner_brief(result: CornerResult, car: Car, limits: MapResult | None = None, written: Sequence[str] = ()) -> list[Any]:
    """Steady turns in one screen.

    result : of `sim.study.corner.corner_result`; car : whose turns they are; limits : of the map, None without one
    written : the files that were
    """
    remarks = warnings(result, car)
    remarks += [f'"{one.name}": there is no such turn: {one.reason}.' for one in result.setups if one.drive_force_N is None]
    rest = "each turn wheel by wheel, hand torque"
    told, advice = [finding(result)], [DOUBT]
    if limits is not None:
        rows, rest = _map_rows(limits), f"{rest}, what ends the turns"
        told.append("The table: fastest turn in m/s, by radius.")
        advice = [CAUTION, DOUBT]
    elif any(isinstance(one, LadderTurn) for one in result.setups):
        rows = _ladder_rows(result)
        told.append("The table: what the tyres lose by slipping in W, on each rung of the ladder of models, the full one last.")
    else:
        rows = _rows(result)
    return brief(title(result), told, remarks, rows, [*advice, TO_DO + NEXT], rest, written)


def finding(result: CornerResult) -> str:
    """Who needs most drive force, and by how much."""
    figures = [(one.drive_force_N, one.scrub_W, one.name) for one in result.setups]
    done = [(force, scrub, name) for force, scrub, name in figures if force is not None and scrub is not None]
    if not done:
        return "No set-up can drive this turn; the reasons stand below."
    least, most = (choose(done, key=lambda one: one[0]) for choose in (min, max))
    missing = len(result.setups) - len(done)
    before = f"{len(done)} of {len(result.setups)} set-ups can drive this turn. " if missing else ""
    if len(done) == 1:
        return f'{before}"{most[2]}" needs {most[0]:z.1f} N of drive force; its tyres lose {most[1]:z.1f} W by slipping.'
    apart = most[0] - least[0]
    if apart < TELL_APART * abs(least[0]):
        who = "They" if missing else "All set-ups"
        same = f"{who} need the same drive force, {least[0]:z.1f} N, to within {100 * TELL_APART:g} %"
        return f"{before}{same}: too little to tell them apart."
    percent = 100 * apart / least[0] if least[0] > 0 else 0.0
    share = f", {percent:.{0 if percent >= 10 else 1}f} % more than" if percent else f", {apart:.1f} N more than"
    return (
        f'{before}"{most[2]}" needs most drive force: {most[0]:z.1f} N{share} "{least[2]}" with {least[0]:z.1f} N. By slipping its tyres '
        f"lose {most[1]:z.1f} W, those of the other {least[1]:z.1f} W."
    )


def warnings(result: CornerResult, car: Car) -> list[str]:
    """What to know before any figure is believed: tyres that slip far, and a car that nobody holds at this speed."""
    slips = [(one.name, [tan(radians(wheel.slip_deg)) for wheel in one.wheels.values()]) for one in result.setups if one.wheels is not None]
    lines = []
    critical = characteristic_speed(car)
    if understeer_gradient(car) < 0 and result.speed_m_per_s > critical:
        lines.append(
            f"Warning: this car's rear tyres give way sooner than the front ones, and from {critical:.1f} m/s on such a car "
            "spins by itself: nobody holds it in this turn. Give it stiffer rear tyres or go slower."
        )
    return lines + large_slips(slips, car)


def _rows(result: CornerResult) -> Rows:
    columns = (("set-up", "left"), ("drive\nforce N", "right"), ("scrub\nW", "right"), ("hand wheel\ndeg", "right"),
               ("largest\nslip deg", "right"))  # fmt: skip
    return Rows(columns, [[one.name, *_cells(one)] for one in result.setups])


def _cells(one: CornerTurn) -> list[str]:
    if one.drive_force_N is None or one.scrub_W is None or one.hand_deg is None or one.wheels is None:
        return ["no such turn", "", "", ""]
    slip = max(abs(wheel.slip_deg) for wheel in one.wheels.values())
    return [f"{one.drive_force_N:z.1f}", f"{one.scrub_W:z.1f}", f"{one.hand_deg:z.1f}", f"{slip:.1f}"]


def _ladder_rows(result: CornerResult) -> Rows:
    columns = [("set-up", "left"), *((rung.label.replace(" ", "\n", 1), "right") for rung in Model)]
    rows = []
    for one in result.setups:
        scrubs = {rung.model: rung.scrub_W for rung in one.ladder} if isinstance(one, LadderTurn) else {}
        found = [scrubs.get(rung.label) for rung in Model]
        rows.append([one.name, *("no turn" if scrub is None else f"{scrub:z.1f}" for scrub in found)])
    return Rows(columns, rows)


def _map_rows(limits: MapResult) -> Rows:
    beyond = f"over {limits.fastest_m_per_s:g}"
    columns = [("set-up", "left"), *((f"{abs(row.radius_m):g} m", "right") for row in limits.setups[0].rows)]
    rows = []
    for setup in limits.setups:
        speeds = [row.holds_to_m_per_s for row in setup.rows]
        rows.append([setup.name, *(beyond if speed is None else f"{speed:.2f}" if speed else "none" for speed in speeds)])
    return Rows(columns, rows)
