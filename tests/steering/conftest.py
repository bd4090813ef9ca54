"""What leans an axis, and a reader of tables, for the steering tests."""

import numpy as np
import pytest

LEANING = {"kingpin_inclination_deg": 9.0, "caster_deg": 7.0}


@pytest.fixture
def leaning():
    """Keys that lean an axis: all of them for kingpins, caster alone for a turntable."""
    return lambda keys: {"caster_deg": 7.0} if keys.get("pivot") == "turntable" else LEANING


@pytest.fixture
def read_table():
    """Read a table as the kernels do: (table, steer (n,)) to (n, columns)."""

    def read(table, steer):
        place = (np.asarray(steer) - table.first) / table.spacing
        cell = np.clip(np.floor(place).astype(int), 0, len(table.cells) - 1)
        t = (place - cell)[:, None]
        c = table.cells[cell]
        return c[..., 0] + t * (c[..., 1] + t * (c[..., 2] + t * c[..., 3]))

    return read
