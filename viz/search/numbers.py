"""`search`: its options, its answer as plain numbers and as a piece of a scenario."""

from collections.abc import Sequence
from typing import Any

import tomli_w

from sim.car.chassis import WHEELS
from sim.errors import InputError
from sim.scenario.setup import SetupTable
from sim.search.run import Found, SearchResult
from sim.study.jobs import COLUMNS
from sim.study.summary import known
from viz.search.words import NOTHING, fragment_heading


def parse_free(options: Sequence[str]) -> dict[str, tuple[float, float]]:
    """Free keys from `--free KEY=LOW:HIGH`, in the key's unit.  Raises InputError where an option is not of that form or repeats a key."""
    found: dict[str, tuple[float, float]] = {}
    for text in options:
        key, _, rest = text.partition("=")
        low, _, high = rest.partition(":")
        try:
            bounds = float(low), float(high)
        except ValueError:
            raise InputError("--free", "", f"{text!r} is not KEY=LOW:HIGH", "write it like arm_angle_deg=5:30") from None
        _add(found, "--free", key, bounds)
    return found


def parse_limits(options: Sequence[str]) -> dict[str, float]:
    """Limits from `--limit NAME=VALUE`.  Raises InputError where an option is not of that form or repeats a name."""
    found: dict[str, float] = {}
    for text in options:
        name, _, value = text.partition("=")
        try:
            limit = float(value)
        except ValueError:
            raise InputError("--limit", "", f"{text!r} is not NAME=VALUE", "write it like turning_circle_m=7") from None
        _add(found, "--limit", name, limit)
    return found


def _add(found: dict[str, Any], option: str, name: str, value: Any) -> None:
    if name.strip() in found:
        raise InputError(option, name.strip(), "it stands twice", "give it once")
    found[name.strip()] = value


def parse_objectives(options: Sequence[str]) -> tuple[str, ...]:
    """Objectives from `--objective NAME`, hyphens or underscores; drive work where none is named."""
    return tuple(name.strip().replace("-", "_").replace(" ", "_") for name in options) or ("drive_work",)


def search_fragment(result: dict[str, Any], setup: SetupTable) -> str:
    """A set-up as a piece of a scenario, to paste in place of what the team has or to add at its end.

    result : of `search_result`, for the heading; setup : best, or the smaller change
    """
    data = setup.model_dump(mode="json", exclude_unset=True, exclude_none=True)
    for one in result["free"]:
        # A thousandth of a millimetre, degree or turn: finer than anybody builds, and it reads well.
        value = round(data[one["key"]], 3)
        data[one["key"]] = value if abs(value) >= NOTHING else 0.0
    return f"{fragment_heading(result)}\n[[setup]]\n{tomli_w.dumps(data)}"


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
    """The answer as plain numbers for JSON.  result : of `sim.search.run.search`."""
    free = [
        {"key": key.key, "low": key.low, "high": key.high, "own": own, "best": best, "flat_low": flat.low, "flat_high": flat.high,
         "at_bound": edge}
        for key, own, best, flat, edge in zip(result.free, result.own.values, result.best.values, result.flat, result.at_bound, strict=True)
    ]  # fmt: skip
    numbers = {
        "title": result.title, "setup": result.setup, "linkage": result.linkage, "objectives": list(result.objectives),
        "limits": dict(result.limits), "target_m_per_s": result.target, "closed": result.closed, "candidates": result.tried, "free": free,
        "own": _found(result.own, result), "best": _found(result.best, result),
        "less_change": None if result.less_change is None else _found(result.less_change, result), "level": result.level,
        "gains": [
            {"cornering_stiffness_per_rad": stiffness, "drive_work_J": known(gain)}
            for stiffness, gain in zip(result.stiffness, result.gains, strict=True)
        ],
        "front": [_found(one, result) for one in result.front],
    }  # fmt: skip
    return numbers | {"fragment": search_fragment(numbers, (result.less_change or result.best).setup)}
