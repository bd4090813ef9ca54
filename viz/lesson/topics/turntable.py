"""Lesson 4: the turntable axle's lever, its tip and its kick."""

from sim.car.chassis import GRAVITY
from sim.scenario.scenario import Scenario
from sim.study.knock import SetupKnock, TipRow, knock_result
from viz.lesson.catalogue import Told
from viz.lesson.charts import curves
from viz.lesson.ground import IDEAL, shipped, with_setups
from viz.lesson.say import GAP, degrees, figure, metres, millimetres, number, on_scale, percent, speed, times

SCENARIO = "first-bend"
STEP_MM, SPEED = 20.0, 3.0
STUB = IDEAL | {"name": "stub axles"}
TURNTABLE = {"name": "turntable axle", "pivot": "turntable"}
PULL_KG, HOLD_MM = 2.0, 300.0  # of the experiment: pulled with one scale, held at this distance with another
PLANK_SHARE = 1.2  # of the longer lever, so that the plank reaches beyond it
SAME = 0.02  # share by which two figures are called the same


def found() -> Told:
    """What lesson 4 shows, of the shipped car."""
    return found_of(shipped(SCENARIO))


def found_of(scenario: Scenario) -> Told:
    """What lesson 4 shows.  scenario : with a car."""
    made = with_setups(scenario, f"Lesson 4: turntable. {scenario.title}", (STUB, TURNTABLE))
    result = knock_result(made, "lesson", STEP_MM, SPEED)
    stub, table = result.setups
    last = min(len(stub.tip_margin), len(table.tip_margin)) - 1
    stub_tip, table_tip = stub.tip_margin[last], table.tip_margin[last]
    levers = [abs(one.wheels.front_left.hub_arm_mm) for one in (stub, table)]
    ratio = table.hand_torque_N_m / stub.hand_torque_N_m if stub.hand_torque_N_m > 0 else None
    words = {
        "file": "lesson-4.toml",
        "step": millimetres(STEP_MM),
        "step_number": f"{STEP_MM:g}",
        "speed": speed(SPEED),
        "speed_number": f"{SPEED:g}",
        "force": f"{number(stub.step_force_N, 1)}{GAP}N",
        "stub_lever": millimetres(levers[0]),
        "table_lever": millimetres(levers[1]),
        "stub_torque": f"{figure(stub.hand_torque_N_m, 3)}\N{NO-BREAK SPACE}N m",
        "table_torque": f"{figure(table.hand_torque_N_m, 3)}\N{NO-BREAK SPACE}N m",
        "ratio_words": lever_words(ratio),
        "half_track": millimetres(made.car.front_track_mm / 2),
        "stub_kick": degrees(stub.peak_hand_deg, 0),
        "table_kick": degrees(table.peak_hand_deg, 0),
        "stub_off": metres(stub.off_line_after_1_s_m),
        "table_off": metres(table.off_line_after_1_s_m),
        "kick_words": kick_words(stub, table),
        "steer": degrees(table_tip.steer_deg, 0),
        "tip_words": tip_words(1 - table_tip.tip_m_per_s2 / stub_tip.tip_m_per_s2),
        "stub_tip": tip_shown(stub_tip),
        "table_tip": tip_shown(table_tip),
        "grip": f"{number(result.grip_m_per_s2, 1)}\N{NO-BREAK SPACE}m/s²",
        "slides_words": slides_words(result.grip_m_per_s2, min(stub_tip.tip_m_per_s2, table_tip.tip_m_per_s2)),
        "rows": [
            {"steer": degrees(one.steer_deg, 0), "stub": number(one.tip_m_per_s2, 2), "table": number(other.tip_m_per_s2, 2)}
            for one, other in zip(stub.tip_margin[::2], table.tip_margin[::2], strict=False)
        ],
        "plank": millimetres(PLANK_SHARE * max(levers)),
        "pull": on_scale(PULL_KG * GRAVITY),
        "hold": millimetres(HOLD_MM),
        "hold_short": on_scale(PULL_KG * GRAVITY * levers[0] / HOLD_MM),
        "hold_long": on_scale(PULL_KG * GRAVITY * levers[1] / HOLD_MM),
    }
    label = "Sideways acceleration at which the car tips, over the steer, for stub axles and a turntable."
    lines = [(one.name, [(row.steer_deg, row.tip_m_per_s2) for row in one.tip_margin]) for one in (stub, table)]
    return Told(words, curves(lines, "steer [degrees]", "tips at [m/s²]", label), label, {"lesson-4.toml": made})


def tip_shown(row: TipRow) -> str:
    """Where a car tips, with the speed on that radius.  row : TipRow."""
    shown = f"{number(row.tip_m_per_s2, 2)}\N{NO-BREAK SPACE}m/s²"
    if row.tip_speed_m_per_s is None or row.radius_m is None:
        return shown
    return f"{shown} ({number(row.tip_speed_m_per_s, 1)}\N{NO-BREAK SPACE}m/s on {metres(row.radius_m)} radius)"


def lever_words(ratio: float | None) -> str:
    """Torque at the hands against that of stub axles.  ratio : of the two, None where stub axles have none."""
    if ratio is None:
        return "tears at the hands, where stub axles without a lever do not at all"
    if abs(ratio - 1) <= SAME:
        return "tears at the hands as hard as stub axles do"
    return f"tears at the hands with {times(ratio)} the torque that stub axles have"


def kick_words(stub: SetupKnock, table: SetupKnock) -> str:
    """Whose hand wheel kicks further.  stub, table : SetupKnock."""
    one, other = stub.off_line_after_1_s_m, table.off_line_after_1_s_m
    if abs(other - one) <= SAME * max(one, other):
        return "Both cars end up equally far beside their line."
    return f"After a second the {'turntable' if other > one else 'car on stub axles'} is further beside its line."


def tip_words(share: float) -> str:
    """How much sooner a turntable tips.  share : of the acceleration that stub axles stand."""
    if abs(share) < 0.005:
        return "tips just as late as stub axles"
    return f"tips {percent(abs(share))} {'earlier' if share > 0 else 'later'} than stub axles"


def slides_words(grip: float, tip: float) -> str:
    """Whether tyres give way first.  grip, tip [m/s2]."""
    if grip < tip:
        return "so on this floor the car slides before it tips; a kerb or a groove that holds a sliding wheel can still tip it"
    return "so this car tips before its tyres slide: that is dangerous"
