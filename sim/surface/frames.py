"""What results have in common: a table of their figures, and how a notebook shows it."""

from __future__ import annotations

from abc import ABC, abstractmethod
from html import escape
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

MOST_NAMES, LONGEST_NAME, LONGEST_TITLE = 3, 24, 48  # of a result's one line in plain Python: names, and signs of a name and of a title
SHOWN_COLUMNS = 20  # of a table in a notebook; `table()` has all


class Framed(ABC):
    """What has a title, set-ups, a finding and a table."""

    @property
    @abstractmethod
    def title(self) -> str:
        """Of the scenario."""

    @property
    @abstractmethod
    def setups(self) -> list[str]:
        """Names of the set-ups, in the scenario's order."""

    @abstractmethod
    def finding(self) -> str:
        """What was found, in a few words with units; empty where nothing was asked."""

    def __repr__(self) -> str:
        names = [_cut(name, LONGEST_NAME) for name in self.setups]
        more = len(names) - MOST_NAMES
        listed = ", ".join(names[:MOST_NAMES]) + (f" and {more} more" if more > 0 else "")
        found = self.finding()
        count = f"{len(names)} set-up{'' if len(names) == 1 else 's'}"
        line = f'<{type(self).__name__} "{_cut(self.title, LONGEST_TITLE)}": {count}: {listed}{"; " + found if found else ""}>'
        return "".join(sign if sign.isprintable() else "?" for sign in line)

    @abstractmethod
    def table(self) -> pd.DataFrame:
        """Its figures, with the unit in each column's name; what has no figure is NaN or None."""

    def _repr_html_(self) -> str:
        told = self.table().dropna(axis="columns", how="all")
        return f"<p><strong>{escape(self.title)}</strong></p>\n{told.to_html(escape=True, max_cols=SHOWN_COLUMNS)}"


def quoted(name: str) -> str:
    """A set-up's name as a finding has it.  name : of any length."""
    return f'"{_cut(name, LONGEST_NAME)}"'


def few_digits(value: float) -> str:
    """A figure of a finding, four digits or all before the point.  value : of any unit [-]."""
    return f"{value:.0f}" if abs(value) >= 1000.0 else f"{value:.4g}"


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else f"{text[: most - 3]}..."


def frame(rows: list[dict[str, Any]], index: list[str]) -> pd.DataFrame:
    """Rows as a data frame.  rows : figures by name, the unit in each; index : the names that tell rows apart."""
    import pandas as pd

    return (pd.DataFrame(rows) if rows else pd.DataFrame(columns=index)).set_index(index)
