"""The ladder of models: from a rolling bicycle to the slipping car, one set of formulas.

The two slipping ones are driven by `sim.lap.drive`, the two rolling ones summed by `sim.lap.rolling`.
"""

from enum import IntEnum


class Model(IntEnum):
    """Models from simple to full."""

    ROLLING_BICYCLE = 1
    SLIPPING_BICYCLE = 2
    ROLLING_FOUR_WHEELS = 3
    SLIPPING_FOUR_WHEELS = 4

    @property
    def label(self) -> str:
        """The rung's name in words."""
        return self.name.lower().replace("_", " ")
