"""What results have in common: a table of their figures, and how a notebook shows it."""

from __future__ import annotations

from abc import ABC, abstractmethod
from html import escape
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

SHOWN_COLUMNS = 20  # of a table in a notebook; `table()` has all


class Framed(ABC):
    """What has a title and a table."""

    @property
    @abstractmethod
    def title(self) -> str:
        """Of the scenario."""

    @abstractmethod
    def table(self) -> pd.DataFrame:
        """Its figures, with the unit in each column's name; what has no figure is NaN or None."""

    def _repr_html_(self) -> str:
        told = self.table().dropna(axis="columns", how="all")
        return f"<p><strong>{escape(self.title)}</strong></p>\n{told.to_html(escape=True, max_cols=SHOWN_COLUMNS)}"


def frame(rows: list[dict[str, Any]], index: list[str]) -> pd.DataFrame:
    """Rows as a data frame.  rows : figures by name, the unit in each; index : the names that tell rows apart."""
    import pandas as pd

    return (pd.DataFrame(rows) if rows else pd.DataFrame(columns=index)).set_index(index)
