"""Scenario files: reading TOML into a checked scenario, and writing one back."""

import tomllib
from difflib import get_close_matches
from pathlib import Path
from typing import Any

import tomli_w
from pydantic import BaseModel, ValidationError

from sim.errors import InputError
from sim.scenario import Scenario

SCENARIO_BYTES = 2_000_000  # no scenario that a person writes is larger; a larger file is some other kind of file


def shipped_folder() -> Path:
    """Folder of the shipped scenarios: inside the installed package, or at the top of a checkout."""
    inside = Path(__file__).resolve().parent / "scenarios"
    return inside if inside.is_dir() else inside.parent.parent / "scenarios"


def shipped_names() -> list[str]:
    """Names under which the shipped scenarios can be run from any folder."""
    return sorted(file.stem for file in shipped_folder().glob("*.toml"))


def find_scenario(name: str) -> Path:
    """The file behind a path, or behind the name of a shipped scenario.

    Raises InputError where there is neither.
    """
    path = Path(name)
    try:
        if path.is_file():
            return path
        there = path.exists()
    except (OSError, ValueError):  # a name that no file system takes
        there = False
    if there:
        raise InputError(name, "", "this is not a file", "name a scenario file (.toml)")
    if name in shipped_names():
        return shipped_folder() / f"{name}.toml"
    near = get_close_matches(name, shipped_names(), n=1)
    hint = f"did you mean {near[0]}?" if near else f"give a path, or one of {', '.join(shipped_names())}"
    raise InputError(name, "", "no such file and no shipped scenario of that name", hint)


def load_scenario(path: Path, shown_as: str | None = None) -> Scenario:
    """Read and check a scenario file; `shown_as` is the file's name in messages.

    Raises InputError with the file, the key or line, what is wrong and what to do.
    """
    source = shown_as or str(path)
    try:
        if path.stat().st_size > SCENARIO_BYTES:
            raise InputError(source, "", "the file is far too large for a scenario", "name a scenario file (.toml)")
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(source, "", "the file is not text in UTF-8", "save it as UTF-8 text") from None
    except OSError as error:
        raise InputError(source, "", f"the file can't be read ({error.strerror})", "check its name and its rights") from None
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        problem, _, place = str(error).partition(" (at ")
        raise InputError(
            source, place.rstrip(")") or "whole file", f"this is not TOML: {problem[:120]}", "compare with `scrubwise new`"
        ) from None
    return check_scenario(data, source)


def check_scenario(data: dict[str, Any], source: str) -> Scenario:
    """Check what a TOML file held.  Raises InputError for the first thing that is wrong."""
    try:
        return Scenario.model_validate(data)
    except ValidationError as error:
        raise _refusal(error, source) from None


def dump_scenario(scenario: Scenario) -> str:
    """The scenario as TOML with every default written out; reading it back gives an equal scenario."""
    data = scenario.model_dump(mode="json", exclude_none=True)
    data["setup"] = [
        {key: value for key, value in table.items() if key in setup.keys_read}
        for table, setup in zip(data["setup"], scenario.setup, strict=True)
    ]
    return tomli_w.dumps(data)


def _place(parts: tuple[int | str, ...]) -> str:
    text = ""
    for part in parts:
        if isinstance(part, int):
            text += f"[{part}]"
        elif not part.startswith("<"):
            text += f".{part}" if text else part
    return text


def _models(annotation: Any) -> list[type[BaseModel]]:
    """The tables that an annotation can hold, however deep they are wrapped."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for inner in getattr(annotation, "__args__", ()) for model in _models(inner)]


def _table(parts: tuple[int | str, ...]) -> list[type[BaseModel]]:
    """The tables in which the last key of a place may stand."""
    tables: list[type[BaseModel]] = [Scenario]
    for part in parts[:-1]:
        if isinstance(part, str) and not part.startswith("<"):
            fields = [table.model_fields[part] for table in tables if part in table.model_fields]
            tables = [model for field in fields for model in _models(field.annotation)]
        elif isinstance(part, str):
            tables = [table for table in tables if table.__name__.lower().startswith(part.strip("<>"))]
    return tables


def _remedy(parts: tuple[int | str, ...]) -> str:
    for table in _table(parts):
        field = table.model_fields.get(str(parts[-1]))
        if field is not None and isinstance(field.json_schema_extra, dict):
            return str(field.json_schema_extra.get("remedy", ""))
    return ""


def _shown(value: Any) -> str:
    text = f"{value:g}" if isinstance(value, float) else str(value)
    return text if len(text) <= 40 else text[:37] + "..."


def _refusal(error: ValidationError, source: str) -> InputError:
    """The first fault as one line: unknown keys before missing ones, since the one is often the other misspelt."""
    faults = sorted(error.errors(), key=lambda fault: fault["type"] != "extra_forbidden")
    fault = faults[0]
    parts, kind, context = tuple(fault["loc"]), fault["type"], fault.get("ctx", {})
    place, value = _place(parts), fault.get("input")
    remedy = _remedy(parts) if parts else ""
    if kind == "extra_forbidden":
        known = [key for table in _table(parts) for key in table.model_fields]
        near = get_close_matches(str(parts[-1]), known, n=1)
        return InputError(source, place, "no such key", f"did you mean {near[0]}?" if near else f"known are {', '.join(known)}")
    if kind == "missing":
        return InputError(source, place, "this key is missing", remedy or "add it; `scrubwise new` shows an example")
    if kind == "value_error" and "|" in str(context.get("error")):
        key, problem, advice = str(context["error"]).split("|")
        return InputError(source, ".".join(filter(None, [place, key])), problem, advice)
    if kind in ("greater_than_equal", "less_than_equal"):
        low = kind == "greater_than_equal"
        limit = context["ge" if low else "le"]
        return InputError(source, place, f"{_shown(value)} is {'below' if low else 'above'} {limit:g}", remedy)
    if kind == "finite_number":
        return InputError(source, place, f"{_shown(value)} is not a finite number", remedy)
    if kind in ("float_type", "int_type", "int_from_float"):
        wanted = "whole number" if kind.startswith("int") else "number"
        return InputError(source, place, f"{_shown(value)!r} is not a {wanted}", remedy or "write a number without quotes")
    if kind == "literal_error":
        near = get_close_matches(str(value), [part.strip("'") for part in context["expected"].split("'")[1::2]], n=1)
        hint = f"did you mean {near[0]}?" if near else f"choose one of {context['expected']}"
        return InputError(source, place, f"{_shown(value)!r} is not known here", hint)
    if kind.startswith("union_tag"):
        return InputError(source, place, "no kind of segment has these keys",
                          "write {straight_m}, {radius_m, turn_deg} or {clothoid_m, to_radius_m}")  # fmt: skip
    return InputError(source, place or "whole file", fault["msg"], remedy or "compare with `scrubwise new`")
