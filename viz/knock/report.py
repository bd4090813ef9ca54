"""`knock`: lever arms, the kick of a wheel on a step, and how near the car is to tipping; figures, words and pictures."""

from math import asin, degrees, sqrt, tan
from pathlib import Path
from typing import Any

import numpy as np
from rich.table import Table
from rich.text import Text

from sim.car.chassis import GRAVITY, axle_loads, lift_limit, tip_limit
from sim.scenario.car import CarTable
from sim.scenario.scenario import Scenario
from sim.steering.angles import steering_ratio
from sim.steering.arrangement import Steering, build_steering
from sim.steering.kickback import HandModel, kick, levers, step_force, torque_arms
from sim.linkages.rolling import equivalent_steer
from sim.steering.table import hand_where
from sim.study.ready import car_of
from viz.shared.dangers import danger_figures, danger_lines
from viz.shared.words import plain_table

STEERS_DEG = (0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0)
WARNING = (
    "A wheel that meets a kerb can tear the hand wheel round and hurt thumbs; a car that lifts a wheel can tip over. Try steps and "
    "bends only at a walk, away from people, with a competent adult, and keep to your event's rules."
)


def knock_result(scenario: Scenario, source: str, step_mm: float, speed: float) -> dict[str, Any]:
    """Kick-back and tip margin of every set-up.

    step_mm : height of the step [mm]; speed : [m/s]
    Returns plain numbers for JSON.  Raises InputError for a set-up that cannot be built.
    """
    setups = []
    for index, setup in enumerate(scenario.setup):
        steering = build_steering(setup, scenario.car, source, f"setup[{index}]")
        setups.append({"name": setup.name, "pivot": setup.pivot, **_kick_figures(scenario, steering, step_mm * 1e-3, speed),
                       **danger_figures(steering), "tip_margin": _tip_rows(scenario, steering)})  # fmt: skip
    car = car_of(scenario)
    # Each axle carries its own part of the mass, so the axle that grips less slides first.
    grip = min(car.front_tyre.friction, car.rear_tyre.friction) * GRAVITY
    return {"title": scenario.title, "step_mm": step_mm, "speed_m_per_s": speed, "grip_m_per_s2": grip, "setups": setups}


def _kick_figures(scenario: Scenario, steering: Steering, height: float, speed: float) -> dict[str, Any]:
    car, table = car_of(scenario), scenario.car
    load = axle_loads(car)[0] / 2
    hands = HandModel(table.hands.stiffness_N_m_per_rad, table.hands.damping_N_m_s_per_rad, table.hands.inertia_kg_m2, table.wheel_mass_kg)
    ratio = steering_ratio(steering, table)
    kicked = kick(steering, ratio, hands, load, height, speed, car.wheelbase, car.wheelbase - car.front_arm)
    force = step_force(load, table.wheel_radius_mm * 1e-3, height)
    wheels = {}
    for side, wheel in zip(("front_left", "front_right"), steering.wheels, strict=True):
        arms = levers(wheel)
        about = float(torque_arms(wheel, np.zeros(1)).hub[0])
        wheels[side] = {"ground_arm_mm": arms.ground * 1e3, "hub_arm_mm": arms.hub * 1e3, "kingpin_torque_N_m": abs(about) * force}
    return {
        "wheels": wheels,
        "step_force_N": kicked.force,
        "hand_torque_N_m": abs(kicked.hand_torque),
        "impulse_N_s": kicked.impulse,
        "peak_hand_deg": abs(degrees(kicked.peak_hand)),
        "peak_steer_deg": abs(degrees(kicked.peak_steer)),
        "off_line_after_1_s_m": abs(kicked.off_line),
    }


def _tip_rows(scenario: Scenario, steering: Steering) -> list[dict[str, float | None]]:
    """Loads at rest and the limits of lateral acceleration at each equivalent steer of a left turn."""
    car, table = car_of(scenario), scenario.car

    def single_track(wheels) -> np.ndarray:
        return equivalent_steer(wheels.steer, steering.kingpin_y, car.wheelbase)

    steers = np.radians(STEERS_DEG)
    hand = hand_where(steering, single_track, steers)
    rows: list[dict[str, float | None]] = []
    for steer, angle in zip(steers, hand, strict=True):
        if not np.isfinite(angle):
            break
        x, y = contact_points(steering, table, float(angle))
        radius = sqrt((car.wheelbase - car.front_arm) ** 2 + (car.wheelbase / tan(steer)) ** 2) if steer > 0 else float("inf")
        # Both limits are those of an acceleration towards the turn's own centre, as the tip speed is.
        sideslip = asin((car.wheelbase - car.front_arm) / radius)
        lift, at_rest = lift_limit(x, y, car.mass, car.height, sideslip)
        tip = tip_limit(x, y, car.height, sideslip=sideslip)
        rows.append({
            "steer_deg": degrees(steer), "least_load_at_rest_N": float(at_rest.min()),
            "lift_m_per_s2": lift, "tip_m_per_s2": tip,
            "radius_m": radius if steer > 0 else None, "tip_speed_m_per_s": sqrt(tip * radius) if steer > 0 else None,
        })  # fmt: skip
    return rows


def contact_points(steering: Steering, car: CarTable, hand: float) -> tuple[np.ndarray, np.ndarray]:
    """The four contact points from the mass centre, (4,) each [m], at a hand angle [rad]."""
    wheels = steering.front_wheels(np.array([hand]))
    front_arm, rear = car.mass_centre_behind_front_axle_mm * 1e-3, car.rear_track_mm * 0.5e-3
    back = front_arm - car.wheelbase_mm * 1e-3
    return np.array([*(wheels.x[0] + front_arm), back, back]), np.array([*wheels.y[0], rear, -rear])


def knock_report(result: dict[str, Any]) -> list[Any]:
    """What `knock` prints."""
    lines: list[Any] = [Text(result["title"], style="bold"), Text(_finding(result)), Text("")]
    table = plain_table(
        ("set-up", "left"), ("ground\narm mm", "right"), ("hub\narm mm", "right"), ("torque at\nkingpin N m", "right"),
        ("at the\nhands N m", "right"), ("hand wheel\nkicks deg", "right"), ("steer\njumps deg", "right"),
        ("off line\nafter 1 s m", "right"),
    )  # fmt: skip
    for setup in result["setups"]:
        left = setup["wheels"]["front_left"]
        table.add_row(
            Text(setup["name"]), f"{left['ground_arm_mm']:.0f}", f"{left['hub_arm_mm']:.0f}", f"{left['kingpin_torque_N_m']:.1f}",
            f"{setup['hand_torque_N_m']:.1f}", f"{setup['peak_hand_deg']:.1f}", f"{setup['peak_steer_deg']:.1f}",
            f"{setup['off_line_after_1_s_m']:.2f}",
        )  # fmt: skip
    force = result["setups"][0]["step_force_N"]
    lines += [table, Text(
        f"One front wheel meets a step of {result['step_mm']:g} mm. Taken slowly it pushes back with {force:.0f} N through the hub: that "
        f"is the torque. The last three columns are at {result['speed_m_per_s']:g} m/s with the scenario's hands on the wheel. They "
        "are a worst case, up to the lock: a rigid wheel that does not bounce; a soft tyre gives way and kicks less."
    ), Text(""), _tip_table(result), Text(
        "Acceleration towards the centre of a left turn, tyres gripping, at which the first wheel lifts / the car tips over; and the speed "
        f"of the tipping on that steer's own radius. {_grip_words(result)}"
    ), Text(""), *_dangers(result), Text(WARNING),
        Text("No uncertainty is given; hands, wheel mass and the rigid wheel are judgements.")]  # fmt: skip
    return lines


def _grip_words(result: dict[str, Any]) -> str:
    """What comes first, sliding or tipping."""
    grip, tips = result["grip_m_per_s2"], [row["tip_m_per_s2"] for setup in result["setups"] for row in setup["tip_margin"]]
    holds = f"This scenario's tyres hold up to about {grip:.1f} m/s2"
    if grip < min(tips):
        return f"{holds}, so the car slides before it tips; a kerb or a groove that holds a sliding wheel can still tip it."
    if grip >= max(tips):
        return f"{holds}, so the car tips before it slides."
    return f"{holds}: where a figure is higher the car slides first, where it is lower it tips first."


def _dangers(result: dict[str, Any]) -> list[Text]:
    """Where each set-up's rods come in line, a line a set-up."""
    lines = [Text(f'"{setup["name"]}": {line}') for setup in result["setups"] for line in danger_lines(setup)]
    return [*lines, Text("")] if lines else []


def _finding(result: dict[str, Any]) -> str:
    softest, hardest = (pick(result["setups"], key=lambda one: one["hand_torque_N_m"]) for pick in (min, max))
    ratio = hardest["hand_torque_N_m"] / max(softest["hand_torque_N_m"], 1e-9)
    if len(result["setups"]) == 1 or ratio < 1.05:
        return f"A step of {result['step_mm']:g} mm asks for {hardest['hand_torque_N_m']:.0f} N m at the hands."
    times = f"{ratio:.1f} times the torque" if ratio < 100 else "many times the torque"
    text = f'The same step tears at the hands of "{hardest["name"]}" with {times} that it has on "{softest["name"]}".'
    turntables = [one for one in result["setups"] if one["pivot"] == "turntable"]
    stubs = [one for one in result["setups"] if one["pivot"] != "turntable"]
    if turntables and stubs:
        far = min(len(turntables[0]["tip_margin"]), len(stubs[0]["tip_margin"])) - 1
        one, other = turntables[0]["tip_margin"][far], stubs[0]["tip_margin"][far]
        less = 100 * (1 - one["tip_m_per_s2"] / other["tip_m_per_s2"])
        text += (
            f" Steered to {one['steer_deg']:.0f} degrees a turntable tips {less:.0f} % earlier than stub axles: at a walk nobody notices, "
            "at speed it matters."
        )
    return text


def _tip_table(result: dict[str, Any]) -> Table:
    longest = max((setup["tip_margin"] for setup in result["setups"]), key=len)
    columns = [(f"{row['steer_deg']:.0f} deg", "right") for row in longest[::2]]
    table = plain_table(("lifts / tips at m/s2", "left"), *columns)
    for setup in result["setups"]:
        rows = setup["tip_margin"][::2]
        cells = [f"{row['lift_m_per_s2']:.1f} / {row['tip_m_per_s2']:.1f}" for row in rows]
        table.add_row(Text(setup["name"]), *cells, *["lock"] * (len(longest[::2]) - len(rows)))
        speeds = ["" if row["tip_speed_m_per_s"] is None else f"{row['tip_speed_m_per_s']:.1f} m/s" for row in rows]
        table.add_row("", *speeds, *[""] * (len(longest[::2]) - len(rows)))
    return table


def write_knock_plot(result: dict[str, Any], path: Path) -> None:
    """Draw each set-up's kick and tip margin.  path : a PNG file.  Raises OSError where it can't be written."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    setups = result["setups"]
    figure = Figure(figsize=(9, 1.2 + 2.4 * len(setups)), dpi=110, layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.subplots(len(setups), 2, squeeze=False, width_ratios=(1, 1.3))
    most_torque = 1.15 * max(setup["hand_torque_N_m"] for setup in setups)
    most_accel = 1.1 * max(result["grip_m_per_s2"], *(row["tip_m_per_s2"] for setup in setups for row in setup["tip_margin"]))
    for (arms, margin), setup in zip(axes, setups, strict=True):
        left = setup["wheels"]["front_left"]
        values = (setup["hand_torque_N_m"], left["kingpin_torque_N_m"])
        bars = arms.barh(("at the hands", "at the kingpin"), values, color=("#0072B2", "#56B4E9"), hatch=("", "//"), edgecolor="white")
        arms.bar_label(bars, fmt="%.0f N m", padding=3, fontsize=9)
        arms.set_xlim(0, max(most_torque, 1.15 * max(one["wheels"]["front_left"]["kingpin_torque_N_m"] for one in setups)))
        arms.set_title(setup["name"], loc="left", fontsize=10, fontweight="bold", parse_math=False)
        arms.set_xlabel(f"torque of a {result['step_mm']:g} mm step, slowly [N m]", fontsize=9)
        steer = [row["steer_deg"] for row in setup["tip_margin"]]
        margin.plot(steer, [row["tip_m_per_s2"] for row in setup["tip_margin"]], color="#000000", label="tips over")
        lifts = [row["lift_m_per_s2"] for row in setup["tip_margin"]]
        margin.plot(steer, lifts, color="#D55E00", linestyle="--", label="first wheel lifts")
        margin.axhline(result["grip_m_per_s2"], color="#0072B2", linestyle=":", linewidth=2, label="tyres slide")
        margin.set_ylim(0, most_accel)
        margin.set_xlim(0, max(STEERS_DEG))
        margin.set_xlabel("steer [degrees]", fontsize=9)
        margin.set_ylabel("towards the centre [m/s²]", fontsize=9)
        margin.legend(fontsize=9, frameon=False, loc="lower left")
        for one in (arms, margin):
            one.spines[["top", "right"]].set_visible(False)
            one.tick_params(labelsize=9)
    figure.savefig(path, metadata={"Software": None})
