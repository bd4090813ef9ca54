"""Figures within figures laid out as rows, for spreadsheets and data frames."""

from typing import Any

UNITS = ("J", "m", "deg")  # of inner tables that stand at the end of their key


def rows_of(setups: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The set-ups as rows; where one has no figures for what is a table elsewhere, its cells stay empty.

    setups : figures by key, some of them tables themselves
    """
    tables = {key for setup in setups for key, value in setup.items() if isinstance(value, dict)}
    return [flat({key: value for key, value in setup.items() if value is not None or key not in tables}) for setup in setups]


def flat(figures: dict[str, Any]) -> dict[str, Any]:
    """Nested figures as one row: the key of an inner table goes before its unit, as in lateral_front_left_J.

    figures : by key, some of them tables themselves; lists, which have no fixed length, are left out
    """
    row: dict[str, Any] = {}
    for key, value in figures.items():
        if isinstance(value, list | tuple):
            continue
        if isinstance(value, dict):
            stem, _, unit = key.rpartition("_")
            inner = flat(value)
            stem = "" if stem == "losses" else f"{stem or key}_"
            tail = f"_{unit}" if unit in UNITS else ""
            row |= {f"{stem}{name}{tail}": item for name, item in inner.items()}
        else:
            row[key] = value
    return {name.replace(" ", "_"): item for name, item in row.items()}
