"""A result as plain tables, lists, numbers and words: what JSON can hold."""

from collections.abc import Mapping
from dataclasses import Field, fields, is_dataclass
from enum import Enum
from typing import Any


def is_told(field: Field[Any]) -> bool:
    """Whether a field is among a result's figures, and not only there for whoever goes on with it.  field : of a result type."""
    return field.metadata.get("told", True)


def plain(value: Any) -> Any:
    """A result type as a dictionary whose keys are its fields, in their order, and so on inwards; what is plain already stays.

    value : of frozen types, mappings, sequences, arrays, enumerations (told by their values), numbers, text and None
    """
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value) if is_told(field)}
    if isinstance(value, Mapping):
        return {plain(key): plain(one) for key, one in value.items()}
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, list | tuple):
        return [plain(one) for one in value]
    return value.tolist() if hasattr(value, "tolist") else value  # of an array; its library need not be loaded to know it
