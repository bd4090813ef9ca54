"""What `angles` prints."""

from collections.abc import Sequence
from typing import Any

from rich.table import Table
from rich.text import Text

from sim.steering.arrangement import HAND_LIMIT
from sim.study.angles import AngleRow, AnglesResult, SetupAngles
from sim.study.dangers import HAND_WHEEL
from sim.study.hand_torque import HeldTurn
from viz.shared.dangers import danger_lines, rod_lines
from viz.shared.doubts import doubt_lines
from viz.shared.torque import torque_by_law
from viz.shared.words import plain_table


def _lean_table(rows: Sequence[AngleRow]) -> Table:
    """Camber, contact point's travel and rise of each front wheel over the hand angle."""
    columns = [(f"{name}\n{what}", "right") for name in ("left", "right") for what in ("camber deg", "ahead mm", "outward mm", "car up mm")]
    table = plain_table(("hand\ndeg", "right"), *columns)
    for row in rows:
        cells = [f"{row.hand_deg:z.2f}"]
        for camber, ahead, outward, rise in (
            (row.left_camber_deg, row.left_contact_ahead_mm, row.left_contact_left_mm, row.left_rise_mm),
            (row.right_camber_deg, row.right_contact_ahead_mm, -row.right_contact_left_mm, row.right_rise_mm),
        ):
            cells += [f"{camber:z.2f}", *(f"{shift:z.1f}" for shift in (ahead, outward, rise))]
        table.add_row(*cells)
    return table


def _torque_line(torque: HeldTurn | None, result: AnglesResult) -> str:
    """What the hands feel in the steady turn, in one sentence."""
    turn = f"a steady turn of {result.radius_m:g} m at {result.speed_m_per_s:g} m/s"
    if torque is None:
        return f"There is no {turn[2:]}."
    parts = ", ".join(
        f"{part:+z.2f} {words}"
        for part, words in (
            (torque.side_force_N_m, "side force on the caster trail"), (torque.aligning_N_m, "aligning torque"),
            (torque.rolling_N_m, "rolling drag"), (torque.weight_N_m, "weight lifted"),
        )
    )  # fmt: skip
    return (
        f"Hands hold {turn} with {torque.total_N_m:+z.2f} N m ({parts}); kingpin washers stick until "
        f"{torque.washer_greased_N_m:.2f} N m greased, {torque.washer_dry_N_m:.2f} dry. "
        f"By the tyre's law: {torque_by_law(torque.total_by_law_N_m)}."
    )


ANGLES_WORDS = "Angles in degrees, positive to the left. The error is the inner wheel's angle less the ideal one for the outer."


ASSUMED = f"{HAND_LIMIT} assumed, not yours: hand_wheel_limit_deg is not given"


def lock_causes(setup: SetupAngles) -> tuple[str, str]:
    """What ends the usable range to the left and to the right, and where that is a limit that nobody chose.  setup : SetupAngles"""
    causes = setup.lock_left_cause, setup.lock_right_cause
    if setup.own_stop_deg is not None:
        return causes
    left, right = (ASSUMED if cause == HAND_LIMIT else cause for cause in causes)
    return left, "assumed too" if left == right == ASSUMED else right


def lock_line(setup: SetupAngles) -> str:
    """How far a set-up steers and what ends it, its turning circles, kingpin offset and ratio."""
    hand = "" if setup.hand_is == HAND_WHEEL else f"; hand is the {setup.hand_is}'s own angle, for no hand wheel is modelled"
    left, right = lock_causes(setup)
    return (
        f"lock {setup.lock_left_deg:.1f} deg left ({left}), {-setup.lock_right_deg:.1f} deg right "
        f"({right}); turning circle {setup.turning_circle_kerb_m:.2f} m kerb to kerb, "
        f"{setup.turning_circle_wall_m:.2f} m wall to wall; kingpin offset {setup.kingpin_offset_mm:.0f} mm; "
        f"steering ratio {setup.steering_ratio:.2f} to 1{hand}"
    )


def angles_report(result: AnglesResult) -> list[Any]:
    """What `angles --explain` prints."""
    lines: list[Any] = [Text(result.title, style="bold"), *map(Text, doubt_lines(result.doubts, every=True)), Text(ANGLES_WORDS)]
    lines += [Text(line) for line in result.assumed]
    for setup in result.setups:
        lines += [Text(""), Text(setup.name, style="bold"), Text(lock_line(setup))]
        table = plain_table(("hand", "right"), ("left", "right"), ("right", "right"), ("ideal inner", "right"), ("error", "right"))
        for row in setup.rows:
            angles = (row.hand_deg, row.left_deg, row.right_deg, row.ideal_inner_deg, row.error_deg)
            table.add_row(*(f"{angle:z.2f}" for angle in angles))
        lines.append(table)
        if any(abs(camber) > 0.005 for row in setup.rows for camber in (row.left_camber_deg, row.right_camber_deg)):
            lines += [Text("Leaning kingpins move the wheels as they turn:"), _lean_table(setup.rows)]
        lines += [Text(line) for line in (*rod_lines(setup.rods), *danger_lines(setup))]
        lines.append(Text(_torque_line(setup.hand_torque, result)))
        lines += [Text(f"outer {angle:g} deg: beyond the lock") for angle in setup.beyond_lock_outer_deg]
    return lines
