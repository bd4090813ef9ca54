"""The name and version of each JSON document, and the JSON Schema of one, made from the types of what it holds."""

import re
import types
from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from enum import Enum
from pathlib import Path
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints, is_typeddict

from viz.shared.plain import is_told, plain

# Of documents that have lost a key, or whose key has come to mean another thing, since they were first told; all others are version 1.
VERSIONS: dict[str, int] = {}
DIALECT = "https://json-schema.org/draft/2020-12/schema"
_ENTRY = re.compile(r"(?:^|; )((?:\w+, )*\w+) : ", re.M)  # of a docstring: "left_deg, right_deg : angles of both wheels [deg]"
_PLAIN = {bool: "boolean", int: "integer", float: "number", str: "string", Path: "string", type(None): "null"}


def schema_name(command: str) -> str:
    """Name and version of a command's document.  command : its name."""
    return f"scrubwise.{command}/{VERSIONS.get(command, 1)}"


def stamped(command: str, result: Any) -> dict[str, Any]:
    """A command's result as plain numbers, with the name and version of its document at its head.

    command : its name; result : of frozen types or plain, whose keys are known
    """
    return {"schema": schema_name(command), **plain(result)}


def json_schema(command: str, kinds: Sequence[Sequence[type]]) -> dict[str, Any]:
    """The JSON Schema of a command's document.

    command : its name
    kinds : one or more kinds of document, each with the types whose fields it holds side by side; frozen dataclasses and typed dictionaries
    """
    inner: dict[str, Any] = {}
    tops = []
    for parts in kinds:
        top = {"type": "object", "properties": {"schema": {"const": schema_name(command)}}, "required": ["schema"]}
        for part in parts:
            one = _object(part, inner)
            top["properties"] |= one["properties"]
            top["required"] += one["required"]
        tops.append(top | {"additionalProperties": False})
    whole = tops[0] if len(tops) == 1 else {"anyOf": tops}
    return {"$schema": DIALECT, "title": schema_name(command), **whole, "$defs": inner}


def _object(kind: type, inner: dict[str, Any]) -> dict[str, Any]:
    """The schema of what a type holds; the types within go to `inner`."""
    hints, told = get_type_hints(kind), _descriptions(kind)
    if is_typeddict(kind):
        names, needed = list(hints), [name for name in hints if name in kind.__required_keys__]  # type: ignore[attr-defined]
    else:
        names = needed = [field.name for field in fields(kind) if is_told(field)]
    properties = {name: _of(hints[name], inner) | ({"description": told[name]} if name in told else {}) for name in names}
    return {"type": "object", "properties": properties, "required": list(needed), "additionalProperties": False}


def _descriptions(kind: type) -> dict[str, str]:
    """What the docstrings of a type and of those that it extends say of its fields."""
    found: dict[str, str] = {}
    # A typed dictionary remembers what it extends under this name alone.
    for base in getattr(kind, "__orig_bases__", kind.__bases__):
        found |= _descriptions(base) if is_dataclass(base) or is_typeddict(base) else {}
    text = "\n".join(line.strip() for line in (kind.__doc__ or "").splitlines())
    entries = list(_ENTRY.finditer(text))
    for entry, after in zip(entries, [*entries[1:], None], strict=False):
        told = text[entry.end() : len(text) if after is None else after.start()]
        found |= dict.fromkeys(entry[1].split(", "), " ".join(told.split()))
    return found


def _of(hint: Any, inner: dict[str, Any]) -> dict[str, Any]:
    """The schema of a value.  hint : its annotation."""
    origin, args = get_origin(hint), get_args(hint)
    if hint is Any:
        return {}
    if hint in _PLAIN:
        return {"type": _PLAIN[hint]}
    if origin in (Union, types.UnionType):
        return {"anyOf": [_of(one, inner) for one in args]}
    if origin is Literal:
        return {"enum": list(args)}
    if origin is tuple and args[1:] != (...,):
        return {"type": "array", "prefixItems": [_of(one, inner) for one in args], "minItems": len(args), "maxItems": len(args)}
    if origin in (tuple, list):
        return {"type": "array", "items": _of(args[0], inner)}
    if origin is not None and issubclass(origin, Mapping):
        return {"type": "object", "additionalProperties": _of(args[1], inner)}
    if is_dataclass(hint) or is_typeddict(hint):
        # A result may be of a type that says more, which its own module then extends.
        more = [one for one in _extended(hint) if one.__module__ == hint.__module__]
        kinds = [_reference(one, inner) for one in (hint, *more)]
        return kinds[0] if len(kinds) == 1 else {"anyOf": kinds}
    if isinstance(hint, type) and issubclass(hint, Enum):
        return {"enum": [one.value for one in hint]}
    if getattr(hint, "__name__", "") == "ndarray":
        return {"type": "array"}
    raise TypeError(f"{hint} has no schema")


def _reference(kind: type, inner: dict[str, Any]) -> dict[str, Any]:
    taken = inner.get(kind.__name__, {}).get("$comment", kind.__module__) != kind.__module__  # by a type of the same name
    name = f"{kind.__module__}.{kind.__name__}" if taken else kind.__name__
    if name not in inner:
        inner[name] = {"$comment": kind.__module__}  # so that a type which holds itself ends here
        inner[name] = {"$comment": kind.__module__, **_object(kind, inner)}
    return {"$ref": f"#/$defs/{name}"}


def _extended(kind: Any) -> list[type]:
    found: list[type] = [] if is_typeddict(kind) else kind.__subclasses__()
    return [one for direct in found for one in (direct, *_extended(direct))]
