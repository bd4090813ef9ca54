"""`search`: its options, its answer as plain numbers, as words and as a piece of a scenario."""

from collections.abc import Sequence
from math import degrees
from typing import Any

import tomli_w
from rich.table import Table
from rich.text import Text

from sim.batch import COLUMNS
from sim.chassis import WHEELS
from sim.errors import InputError
from sim.race import TELL_APART
from sim.search import OBJECTIVES, Found, SearchResult
from sim.summary import known
from viz.tables import SMALL_SHARE, plain_table

OBJECTIVE_WORDS = {
    "drive_work": "drive work", "battery": "battery energy", "scrub": "scrub", "rub": "rub of the worst tyre", "error": "error from ideal",
}  # fmt: skip
LIMIT_WORDS = {
    "turning_circle_m": "turning circle at most {:g} m", "kick_back_mm": "kick-back lever at most {:g} mm",
    "lock_deg": "lock at least {:g} degrees",
}  # fmt: skip
PLAY_MM = 0.5  # of a worn joint, to show what short arms do with it; a judgement
# Rows of the comparison: words, where they stand (figures of the sum, or of the lap in time), key, decimals.
ROWS = (
    ("drive work, lap in time [J]", "lap", "drive_work_J", 1), ("drive work, steady turns [J]", "sum", "drive_work_J", 1),
    ("scrub, lap in time [J]", "lap", "scrub_J", 1), ("battery, lap in time [Wh]", "lap", "battery_Wh", 3),
    ("laps on a charge", "lap", "laps_per_charge", 2), ("rubber dragged, worst tyre [m]", "lap", "rub_m", 2),
    ("error from ideal [deg]", "sum", "error_deg", 3), ("turning circle, kerb [m]", "sum", "turning_circle_m", 2),
    ("lock, equivalent steer [deg]", "sum", "lock_deg", 1), ("kick-back lever [mm]", "sum", "kick_back_mm", 1),
)  # fmt: skip


def parse_free(options: Sequence[str]) -> dict[str, tuple[float, float]]:
    """Free keys from `--free KEY=LOW:HIGH`, in the key's unit.  Raises InputError where an option is not of that form."""
    found = {}
    for text in options:
        key, _, rest = text.partition("=")
        low, _, high = rest.partition(":")
        try:
            found[key.strip()] = float(low), float(high)
        except ValueError:
            raise InputError("--free", "", f"{text!r} is not KEY=LOW:HIGH", "write it like arm_angle_deg=5:30") from None
    return found


def parse_limits(options: Sequence[str]) -> dict[str, float]:
    """Limits from `--limit NAME=VALUE`.  Raises InputError where an option is not of that form."""
    found = {}
    for text in options:
        name, _, value = text.partition("=")
        try:
            found[name.strip()] = float(value)
        except ValueError:
            raise InputError("--limit", "", f"{text!r} is not NAME=VALUE", "write it like turning_circle_m=7") from None
    return found


def parse_objectives(options: Sequence[str]) -> tuple[str, ...]:
    """Objectives from `--objective NAME`, hyphens or underscores; drive work where none is named."""
    return tuple(name.strip().replace("-", "_").replace(" ", "_") for name in options) or ("drive_work",)


def search_fragment(result: SearchResult) -> str:
    """The best set-up as a piece of a scenario, to paste in place of what the team has or beside it."""
    data = result.best.setup.model_dump(mode="json", exclude_unset=True, exclude_none=True)
    # A thousandth of a millimetre, degree or turn: finer than anybody builds, and it reads well.
    shown = {key: round(value, 3) if isinstance(value, float) else value for key, value in data.items()}
    shown["name"] = f"{result.setup[:60]}, searched"
    aim = " and ".join(OBJECTIVE_WORDS[name] for name in result.objectives)
    heading = f"# Found by scrubwise search; least {aim}. Check the lock and the turning circle on the car.\n"
    return heading + tomli_w.dumps({"setup": [shown]})


def _found(one: Found, result: SearchResult) -> dict[str, Any]:
    lap, sums = dict(zip(COLUMNS, map(float, one.lap), strict=True)), one.figures
    return {
        "values": {key.key: value for key, value in zip(result.free, one.values, strict=True)},
        "sum": {
            "drive_work_J": known(sums.drive_work), "battery_Wh": known(sums.battery),
            "laps_per_charge": known(sums.laps_per_charge), "scrub_J": known(sums.scrub),
            "rub_m": known(sums.rub), "error_deg": known(sums.error),
            "turning_circle_m": known(sums.turning_circle_m), "kick_back_mm": known(sums.kick_back_mm),
            "lock_deg": known(sums.lock_deg),
        },
        "lap": {
            "finished": lap["finished"] > 0, "drive_work_J": known(lap["drive_work_J"]), "scrub_J": known(lap["scrub_J"]),
            "rolling_J": known(lap["rolling_J"]), "battery_Wh": known(lap["battery_Wh"]), "lap_time_s": known(lap["lap_time_s"]),
            "laps_per_charge": known(lap["laps_per_charge"]), "race_laps": known(lap["race_laps"]),
            "rub_m": known(max(lap[f"rub_{wheel}_m"] for wheel in WHEELS)), "ledger_residual": known(lap["ledger_residual"]),
        },
    }  # fmt: skip


def search_result(result: SearchResult) -> dict[str, Any]:
    """The answer as plain numbers for JSON.  result : of `sim.search.search`."""
    free = [
        {"key": key.key, "low": key.low, "high": key.high, "own": own, "best": best, "flat_low": flat.low, "flat_high": flat.high,
         "at_bound": edge}
        for key, own, best, flat, edge in zip(result.free, result.own.values, result.best.values, result.flat, result.at_bound, strict=True)
    ]  # fmt: skip
    return {
        "title": result.title, "setup": result.setup, "objectives": list(result.objectives), "limits": dict(result.limits),
        "target_m_per_s": result.target, "candidates": result.tried, "free": free,
        "own": _found(result.own, result), "best": _found(result.best, result),
        "gains": [
            {"cornering_stiffness_per_rad": stiffness, "drive_work_J": known(gain)}
            for stiffness, gain in zip(result.stiffness, result.gains, strict=True)
        ],
        "front": [_found(one, result) for one in result.front],
        "fragment": search_fragment(result),
    }  # fmt: skip


def search_report(result: dict[str, Any]) -> list[Any]:
    """What `search` prints.  result : of `search_result`."""
    lines: list[Any] = [Text(result["title"], style="bold"), Text(finding(result))]
    lines += [Text(line) for line in _warnings(result)]
    lines += [Text(""), _key_table(result), *(Text(line) for line in _bound_lines(result))]
    lines += [Text(""), _figure_table(result), Text(""), _gain_table(result), Text(_ground(result))]
    if len(result["objectives"]) == 2:
        lines += [Text(""), *_front_lines(result)]
    limits = ", ".join(LIMIT_WORDS[name].format(value) for name, value in result["limits"].items())
    lines.append(Text(f"Kept: it can be built, its lock is enough for the course{f', {limits}' if limits else ''}."))
    return [*lines, Text(""), Text(result["fragment"].rstrip())]


def finding(result: dict[str, Any]) -> str:
    """The answer in plain sentences: what it gains, how sure that is, and whether it is worth the work.  result : of `search_result`."""
    own, best, name = result["own"]["lap"], result["best"]["lap"], result["setup"]
    if not best["finished"]:
        return f'The sum of steady turns likes other values for "{name}", but in a lap in time they do not get round: do not build them.'
    if not own["finished"]:
        return f'"{name}" as it is does not get round this course at this pace; with the values below it does.'
    gain = own["drive_work_J"] - best["drive_work_J"]
    spread = [one["drive_work_J"] for one in result["gains"] if one["drive_work_J"] is not None]
    aim = result["objectives"][0]
    before, after = (_objective(result[who], aim) for who in ("own", "best"))
    text = ""
    if aim != "drive_work" and before is not None and after is not None:
        text = f"The {OBJECTIVE_WORDS[aim]} goes from {before:.3g} to {after:.3g} {OBJECTIVES[aim]}. "
    if gain <= 0 or min(spread) <= 0:
        return (
            f'{text}No gain in drive work over "{name}" as it is: {gain:+.2g} J a lap in time, {min(spread):+.2g} to {max(spread):+.2g} J '
            "over the range of tyres. Leave the axle as it is."
        )
    text += (
        f'With the best values "{name}" needs {_amount(gain)} less drive work a lap ({own["drive_work_J"]:.0f} J as it is); '
        f"{_amount(min(spread))} to {_amount(max(spread))} over the range of tyres."
    )
    share = gain / own["rolling_J"] if own["rolling_J"] else 0.0
    text += f" That is as much as {100 * share:.2g} % of the rolling resistance"
    if share < SMALL_SHARE:
        text += ", which is small: a soft tyre costs more. It is no reason to rebuild an axle; pump the tyres first."
    else:
        text += ", which is worth the work."
    if own["laps_per_charge"] and best["laps_per_charge"]:
        more = best["laps_per_charge"] - own["laps_per_charge"]
        text += f" On one charge it is {more:+.2f} laps of {own['laps_per_charge']:.1f}"
        level = abs(more) <= TELL_APART * own["laps_per_charge"]
        text += f", less than the {100 * TELL_APART:g} % that can be told apart." if level else "."
    return text


def _objective(found: dict[str, Any], name: str) -> float | None:
    """The objective of a set-up by the sum of steady turns."""
    key = {"drive_work": "drive_work_J", "battery": "battery_Wh", "scrub": "scrub_J", "rub": "rub_m", "error": "error_deg"}[name]
    return found["sum"][key]


def _amount(joules: float) -> str:
    return f"{joules:.0f} J" if joules >= 10 else f"{joules:.1f} J" if joules >= 0.1 else f"{joules:.2g} J"


def _warnings(result: dict[str, Any]) -> list[str]:
    """Where the sum and the lap in time do not say the same."""
    gains = _two_gains(result)
    if gains is not None and gains[0] * gains[1] < 0:
        return ["Warning: the sum of steady turns and the lap in time disagree about which is better; trust neither difference."]
    return []


def _two_gains(result: dict[str, Any]) -> tuple[float, float] | None:
    """Drive work saved by the sum of steady turns and by the lap in time [J]; None where one of the four figures is missing."""
    (own_sum, best_sum), (own_lap, best_lap) = (
        [result[who][part]["drive_work_J"] for who in ("own", "best")] for part in ("sum", "lap")
    )  # fmt: skip
    if own_sum is None or best_sum is None or own_lap is None or best_lap is None:
        return None
    return own_sum - best_sum, own_lap - best_lap


def _bound_lines(result: dict[str, Any]) -> list[str]:
    at = [one["key"] for one in result["free"] if one["at_bound"]]
    lines = []
    if at:
        lines.append(f"The best lies at the edge of the bounds of {', '.join(at)}; if the car has room, give wider ones with --free.")
    arms = [one for one in result["free"] if one["key"] == "arm_length_mm" and one["best"] < one["own"]]
    if arms:
        toe = [degrees(PLAY_MM / arms[0][which]) for which in ("own", "best")]
        lines.append(
            f"Shorter arms have a price that no lap shows: {PLAY_MM:g} mm of play in a joint turns a wheel by {toe[1]:.2f} degrees instead "
            f"of {toe[0]:.2f}, and the rods carry more."
        )
    return lines


def _key_table(result: dict[str, Any]) -> Table:
    aim = OBJECTIVE_WORDS[result["objectives"][0]]
    table = plain_table(
        ("key", "left"), ("as it is", "right"), ("best", "right"), (f"costs under 1 %\nmore {aim}", "right"), ("searched", "right"),
    )  # fmt: skip
    for one in result["free"]:
        whole = one["flat_low"] <= one["low"] and one["flat_high"] >= one["high"]
        flat = "all of it" if whole else f"{one['flat_low']:.2f} to {one['flat_high']:.2f}"
        table.add_row(one["key"], f"{one['own']:.2f}", f"{one['best']:.2f}", flat, f"{one['low']:g} to {one['high']:g}")
    return table


def _figure_table(result: dict[str, Any]) -> Table:
    table = plain_table(("", "left"), ("as it is", "right"), ("best", "right"))
    for words, part, key, decimals in ROWS:
        own, best = result["own"][part][key], result["best"][part][key]
        if own is not None or best is not None:
            table.add_row(words, *("" if value is None else f"{value:.{decimals}f}" for value in (own, best)))
    return table


def _gain_table(result: dict[str, Any]) -> Table:
    tyres = [(f"{one['cornering_stiffness_per_rad']:g}", "right") for one in result["gains"]]
    table = plain_table(("tyre's cornering stiffness [1/rad]", "left"), *tyres)
    cells = ["" if one["drive_work_J"] is None else f"{one['drive_work_J']:+z.1f}" for one in result["gains"]]
    table.add_row("drive work saved, laps in time [J]", *cells)
    return table


def _ground(result: dict[str, Any]) -> str:
    """What the figures rest on."""
    text = (
        f"About {round(result['candidates'], -2)} candidates by the sum of steady turns; the laps in time have the last word. The range "
        "of the gain rests on the range of bicycle-size tyres in the literature, other inputs as they stand; the best values are those "
        "for the scenario's own tyre."
    )
    gains = _two_gains(result)
    if gains is not None:
        text += f" The sum gives {gains[0]:+.1f} J of drive work saved where the lap gives {gains[1]:+.1f} J."
    return text


def _front_lines(result: dict[str, Any]) -> list[Any]:
    one, two = result["objectives"]
    if len(result["front"]) == 1:
        return [Text(f"There is nothing to trade: {OBJECTIVE_WORDS[one]} and {OBJECTIVE_WORDS[two]} are least together.")]
    heads = [f"{OBJECTIVE_WORDS[name]}\n{OBJECTIVES[name]}" for name in (one, two)]
    table = plain_table(*((head, "right") for head in heads), *((key["key"], "right") for key in result["free"]), ("gets round", "left"))
    for member in result["front"]:
        pair = [f"{_objective(member, name):.6g}" for name in (one, two)]
        values = [f"{value:.2f}" for value in member["values"].values()]
        table.add_row(*pair, *values, "yes" if member["lap"]["finished"] else "no, not in time")
    return [Text(f"Less of the one costs more of the other: {OBJECTIVE_WORDS[one]} against {OBJECTIVE_WORDS[two]}."), table]
