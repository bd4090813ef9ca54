"""A result as plain numbers for `--json`: the names of its fields are the keys."""

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from typing import Any

import numpy as np


def plain(result: Any) -> Any:
    """A result of `sim` as JSON takes it: dataclasses and mappings as dictionaries, arrays and tuples as lists, None as it is."""
    if is_dataclass(result):
        return {one.name: plain(getattr(result, one.name)) for one in fields(result)}
    if isinstance(result, Mapping):
        return {key: plain(value) for key, value in result.items()}
    if isinstance(result, np.ndarray):
        return result.tolist()
    if isinstance(result, tuple | list):
        return [plain(value) for value in result]
    return result.value if isinstance(result, Enum) else result
