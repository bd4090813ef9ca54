"""Every input of a run with its unit, as rows of tables."""

from collections.abc import Mapping
from typing import Any, NamedTuple

from sim.scenario.scenario import Scenario

# Ends of keys and the unit that each means; the longest that fits counts.
UNITS = {
    "_N_m_s_per_rad": "N m s/rad", "_N_m_per_rad": "N m/rad", "_N_m_per_A": "N m/A", "_per_unit_slip": "per unit of slip",
    "_per_rad": "per rad", "_kg_per_m3": "kg/m³", "_m_per_s2": "m/s²", "_m_per_s": "m/s", "_kg_m2": "kg m²", "_mm_per_turn": "mm a turn",
    "_ohm": "Ω", "_min": "min", "_mm": "mm", "_deg": "degrees", "_kg": "kg", "_m2": "m²", "_m": "m", "_Ah": "Ah", "_A": "A", "_V": "V",
    "_W": "W", "_h": "h", "_turns_left": "turns", "_turns_right": "turns",
}  # fmt: skip
NO_UNIT = "(no unit)"
COUNTED = ("laps", "in_series")


class Row(NamedTuple):
    """One input.  key : as the scenario has it; value : in words; unit : of a number, empty of a word."""

    key: str
    value: str
    unit: str


class Group(NamedTuple):
    """Inputs that belong together.  title : the scenario's table, or a set-up's name; named : whether the title is such a name."""

    title: str
    named: bool
    rows: list[Row]


def unit_of(key: str) -> str:
    """The unit of a number, empty where it counts something.  key : of the scenario, or a path to one whose last part it is."""
    name = key.rpartition(".")[2]
    ends = [end for end in UNITS if name.endswith(end)]
    return UNITS[max(ends, key=len)] if ends else "" if name in COUNTED else NO_UNIT


def input_groups(scenario: Scenario) -> list[Group]:
    """All inputs of a scenario, those that were left out with what stands for them.  scenario : Scenario."""
    data = scenario.model_dump(mode="json", exclude_none=True)
    setups, unsure = data.pop("setup"), data.pop("uncertainty", {})
    groups = [Group(name, False, _rows(table)) for name, table in data.items() if isinstance(table, dict)]
    for table, setup in zip(setups, scenario.setup, strict=True):
        read = {key: value for key, value in table.items() if key in setup.keys_read and key != "name"}
        groups.append(Group(setup.name, True, _rows(read)))
    if unsure:
        # Paths may hold a set-up's name, so the unit is that of what follows its last dot.
        groups.append(
            Group("uncertainty, 95 % half width", False, [Row(path, f"{width:g}", unit_of(path)) for path, width in unsure.items()])
        )
    return groups


def _rows(table: Mapping[str, Any], path: str = "") -> list[Row]:
    rows = []
    for key, value in table.items():
        if isinstance(value, Mapping):
            rows += _rows(value, f"{path}{key}.")
        elif isinstance(value, list):
            for index, part in enumerate(value):
                rows += (
                    _rows(part, f"{path}{key}[{index + 1}].") if isinstance(part, Mapping) else [_row(f"{path}{key}[{index + 1}]", part)]
                )
        else:
            rows.append(_row(path + key, value))
    return rows


def _row(key: str, value: Any) -> Row:
    if isinstance(value, bool):
        return Row(key, "yes" if value else "no", "")
    return Row(key, f"{value:.10g}", unit_of(key)) if isinstance(value, int | float) else Row(key, str(value), "")
