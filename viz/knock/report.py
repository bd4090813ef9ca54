"""`knock`: lever arms, the kick of a wheel on a step, and how near the car is to tipping; words and pictures."""

from pathlib import Path
from typing import Any

from rich.table import Table
from rich.text import Text

from sim.study.knock import STEERS_DEG, KnockResult
from viz.shared.dangers import danger_lines
from viz.shared.words import plain_table

WARNING = (
    "A wheel that meets a kerb can tear the hand wheel round and hurt thumbs; a car that lifts a wheel can tip over. Try steps and "
    "bends only at a walk, away from people, with a competent adult, and keep to your event's rules."
)


def knock_report(result: KnockResult) -> list[Any]:
    """What `knock --explain` prints."""
    lines: list[Any] = [Text(result.title, style="bold"), Text(finding(result)), Text("")]
    table = plain_table(
        ("set-up", "left"), ("ground\narm mm", "right"), ("hub\narm mm", "right"), ("torque at\nkingpin N m", "right"),
        ("at the\nhands N m", "right"), ("hand wheel\nkicks deg", "right"), ("steer\njumps deg", "right"),
        ("off line\nafter 1 s m", "right"),
    )  # fmt: skip
    for setup in result.setups:
        left = setup.wheels.front_left
        table.add_row(
            Text(setup.name), f"{left.ground_arm_mm:.0f}", f"{left.hub_arm_mm:.0f}", f"{left.kingpin_torque_N_m:.1f}",
            f"{setup.hand_torque_N_m:.1f}", f"{setup.peak_hand_deg:.1f}", f"{setup.peak_steer_deg:.1f}",
            f"{setup.off_line_after_1_s_m:.2f}",
        )  # fmt: skip
    force = result.setups[0].step_force_N
    lines += [table, Text(
        f"One front wheel meets a step of {result.step_mm:g} mm. Taken slowly it pushes back with {force:.0f} N through the hub: that "
        f"is the torque. The last three columns are at {result.speed_m_per_s:g} m/s with the scenario's hands on the wheel. They "
        "are a worst case, up to the lock: a rigid wheel that does not bounce; a soft tyre gives way and kicks less."
    ), Text(""), _tip_table(result), Text(
        "Acceleration towards the centre of a left turn, tyres gripping, at which the first wheel lifts / the car tips over; and the speed "
        f"of the tipping on that steer's own radius. {grip_words(result)}"
    ), Text(""), *_dangers(result), Text(WARNING),
        Text("No uncertainty is given; hands, wheel mass and the rigid wheel are judgements.")]  # fmt: skip
    return lines


def grip_words(result: KnockResult) -> str:
    """What comes first, sliding or tipping."""
    grip, tips = result.grip_m_per_s2, [row.tip_m_per_s2 for setup in result.setups for row in setup.tip_margin]
    holds = f"This scenario's tyres hold up to about {grip:.1f} m/s2"
    if grip < min(tips):
        return f"{holds}, so the car slides before it tips; a kerb or a groove that holds a sliding wheel can still tip it."
    if grip >= max(tips):
        return f"{holds}, so the car tips before it slides."
    return f"{holds}: where a figure is higher the car slides first, where it is lower it tips first."


def _dangers(result: KnockResult) -> list[Text]:
    """Where each set-up's rods come in line, a line a set-up."""
    lines = [Text(f'"{setup.name}": {line}') for setup in result.setups for line in danger_lines(setup)]
    return [*lines, Text("")] if lines else []


def finding(result: KnockResult) -> str:
    """Whose hands the step tears at most, and what a turntable does to tipping."""
    softest, hardest = (pick(result.setups, key=lambda one: one.hand_torque_N_m) for pick in (min, max))
    ratio = hardest.hand_torque_N_m / max(softest.hand_torque_N_m, 1e-9)
    if len(result.setups) == 1 or ratio < 1.05:
        return f"A step of {result.step_mm:g} mm asks for {hardest.hand_torque_N_m:.0f} N m at the hands."
    times = f"{ratio:.1f} times the torque" if ratio < 100 else "many times the torque"
    text = f'The same step tears at the hands of "{hardest.name}" with {times} that it has on "{softest.name}".'
    turntables = [one for one in result.setups if one.pivot == "turntable"]
    stubs = [one for one in result.setups if one.pivot != "turntable"]
    if turntables and stubs:
        far = min(len(turntables[0].tip_margin), len(stubs[0].tip_margin)) - 1
        one, other = turntables[0].tip_margin[far], stubs[0].tip_margin[far]
        less = 100 * (1 - one.tip_m_per_s2 / other.tip_m_per_s2)
        text += (
            f" Steered to {one.steer_deg:.0f} degrees a turntable tips {less:.0f} % earlier than stub axles: at a walk nobody notices, "
            "at speed it matters."
        )
    return text


def _tip_table(result: KnockResult) -> Table:
    longest = max((setup.tip_margin for setup in result.setups), key=len)
    columns = [(f"{row.steer_deg:.0f} deg", "right") for row in longest[::2]]
    table = plain_table(("lifts / tips at m/s2", "left"), *columns)
    for setup in result.setups:
        rows = setup.tip_margin[::2]
        cells = [f"{row.lift_m_per_s2:.1f} / {row.tip_m_per_s2:.1f}" for row in rows]
        table.add_row(Text(setup.name), *cells, *["lock"] * (len(longest[::2]) - len(rows)))
        speeds = ["" if row.tip_speed_m_per_s is None else f"{row.tip_speed_m_per_s:.1f} m/s" for row in rows]
        table.add_row("", *speeds, *[""] * (len(longest[::2]) - len(rows)))
    return table


def write_knock_plot(result: KnockResult, path: Path) -> None:
    """Draw each set-up's kick and tip margin.  path : a PNG file.  Raises OSError where it can't be written."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    setups = result.setups
    figure = Figure(figsize=(9, 1.2 + 2.4 * len(setups)), dpi=110, layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.subplots(len(setups), 2, squeeze=False, width_ratios=(1, 1.3))
    most_torque = 1.15 * max(setup.hand_torque_N_m for setup in setups)
    most_accel = 1.1 * max(result.grip_m_per_s2, *(row.tip_m_per_s2 for setup in setups for row in setup.tip_margin))
    for (arms, margin), setup in zip(axes, setups, strict=True):
        left = setup.wheels.front_left
        values = (setup.hand_torque_N_m, left.kingpin_torque_N_m)
        bars = arms.barh(("at the hands", "at the kingpin"), values, color=("#0072B2", "#56B4E9"), hatch=("", "//"), edgecolor="white")
        arms.bar_label(bars, fmt="%.0f N m", padding=3, fontsize=9)
        arms.set_xlim(0, max(most_torque, 1.15 * max(one.wheels.front_left.kingpin_torque_N_m for one in setups)))
        arms.set_title(setup.name, loc="left", fontsize=10, fontweight="bold", parse_math=False)
        arms.set_xlabel(f"torque of a {result.step_mm:g} mm step, slowly [N m]", fontsize=9)
        steer = [row.steer_deg for row in setup.tip_margin]
        margin.plot(steer, [row.tip_m_per_s2 for row in setup.tip_margin], color="#000000", label="tips over")
        lifts = [row.lift_m_per_s2 for row in setup.tip_margin]
        margin.plot(steer, lifts, color="#D55E00", linestyle="--", label="first wheel lifts")
        margin.axhline(result.grip_m_per_s2, color="#0072B2", linestyle=":", linewidth=2, label="tyres slide")
        margin.set_ylim(0, most_accel)
        margin.set_xlim(0, max(STEERS_DEG))
        margin.set_xlabel("steer [degrees]", fontsize=9)
        margin.set_ylabel("towards the centre [m/s²]", fontsize=9)
        margin.legend(fontsize=9, frameon=False, loc="lower left")
        for one in (arms, margin):
            one.spines[["top", "right"]].set_visible(False)
            one.tick_params(labelsize=9)
    figure.savefig(path, metadata={"Software": None})
