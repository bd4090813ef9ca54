"""What `corner --explain` prints."""

from collections.abc import Sequence
from typing import Any

from rich.table import Table
from rich.text import Text

from sim.study.corner import CornerResult, CornerTurn, LadderTurn, RungTurn
from viz.shared.torque import torque_by_law
from viz.shared.words import WHEEL_WORDS, plain_table

CAUTION = (
    "These are ends of a model, not speeds to try: near them tyres slip further than the tyre law is meant for, and they rest on the "
    "scenario's friction. Keep well below, on closed ground, by your event's rules and with a competent adult."
)


def title(result: CornerResult) -> str:
    """Which turn it is."""
    side = "left" if result.radius_m > 0 else "right"
    speed, radius = result.speed_m_per_s, abs(result.radius_m)
    return f"Steady turn to the {side}: radius {radius:g} m at {speed:g} m/s, {speed * speed / radius:.2f} m/s2 sideways."


def corner_report(result: CornerResult, told: Sequence[str] = ()) -> list[Any]:
    """What `corner --explain` prints.  told : finding and warnings, below the title."""
    lines: list[Any] = [Text(title(result), style="bold"), *map(Text, told)]
    for setup in result.setups:
        lines += [Text(""), Text(setup.name, style="bold"), *_turn_lines(setup)]
        if isinstance(setup, LadderTurn):
            lines.append(_ladder_table(setup.ladder))
    return lines


def _turn_lines(setup: CornerTurn) -> list[Any]:
    if not setup.converged or setup.wheels is None:
        return [Text(f"There is no such turn: {setup.reason}.")]
    lines: list[Any] = [Text(
        f"scrub {setup.scrub_W:z.1f} W, aligning {setup.aligning_W:z.1f} W, drive force {setup.drive_force_N:z.1f} N, "
        f"hand {setup.hand_deg:z.2f} deg, sideslip {setup.sideslip_deg:z.2f} deg"
    )]  # fmt: skip
    if setup.hand_torque_by_law_N_m is not None:
        lines.append(Text(f"Hand torque: {torque_by_law(setup.hand_torque_by_law_N_m)}."))
    headings = ("steer\ndeg", "slip\ndeg", "load\nN", "side\nforce N", "drive\nforce N", "slip\nloss W")
    table = plain_table(("wheel", "left"), *((heading, "right") for heading in headings))
    for wheel, row in setup.wheels.items():
        table.add_row(WHEEL_WORDS[wheel], f"{row.steer_deg:z.2f}", f"{row.slip_deg:z.2f}", f"{row.load_N:.0f}",
                      f"{row.lateral_force_N:z.1f}", f"{row.longitudinal_force_N:z.1f}", f"{row.slip_loss_W:z.2f}")  # fmt: skip
    return [*lines, table]


def _ladder_table(rungs: Sequence[RungTurn]) -> Table:
    headings = ("left wheel\ndeg", "right wheel\ndeg", "sideslip\ndeg", "scrub\nW")
    table = plain_table(("rung of the ladder", "left"), *((heading, "right") for heading in headings))
    for rung in rungs:
        figures = (rung.steer_left_deg, rung.steer_right_deg, rung.sideslip_deg, rung.scrub_W)
        table.add_row(rung.model, *("no such turn" if value is None else f"{value:z.2f}" for value in figures))
    return table
