"""Scenario files: reading TOML into a checked scenario, and writing one back."""

import re
import tomllib
from collections.abc import Iterator, Set
from difflib import get_close_matches
from pathlib import Path
from typing import Any

import tomli_w
from pydantic import ValidationError

from sim.errors import InputError, NotTomlError, told_together
from sim.files.text import TooLargeError, comma_slip, number_from, plain_bytes
from sim.keys import MILLIMETRES_IN
from sim.scenario.measured import kept, known_keys, measured_table
from sim.scenario.scenario import Scenario
from sim.scenario.tables import Table, TableError, setup_place
from sim.store.run_folder import MARKER

MARK = "MEASURE:"  # in a comment behind an example, before what to measure, as long as nobody has
_EXAMPLE_LINE = re.compile(rf"^[ \t]*\w+[ \t]*=[^#\n]*#[ \t]*{MARK}", re.M)
EXAMPLE = "compare with `scrubwise new`"
BEGIN = "scrubwise new my-car.toml"
SCENARIO_BYTES = 500_000  # no scenario that a person writes is larger; a larger file is some other kind of file
# The TOML reader's time and memory grow with the square of a dotted key's parts; no text within a scenario has so many.
_DEEP_KEY = re.compile(r"""(?<![\w"'-])(?:[\w"'-]++[ \t]*+\.[ \t]*+){50}""")
# How the TOML reader begins its commonest complaints, and the same in plain words with what to do.
_OPEN_QUOTE = ("a text has no closing quote on its line", 'close it, as in name = "parallel"')
_AFTER_VALUE = "Expected newline or end of document"
_TOML_FAULTS = {
    _AFTER_VALUE: ("something follows the value", "write decimals with a point, text in quotes, one key a line"),
    "Invalid value": ("the value can't be read", "write a number with a decimal point, true, false, or text in quotes"),
    "Cannot overwrite a value": ("the key stands twice", "keep one of them"),
    "Cannot declare": ("the table stands twice", "join the two; only [[setup]] may be repeated"),
    "Illegal character '\\n'": _OPEN_QUOTE,
    "Unterminated string": _OPEN_QUOTE,
    'Expected "\'"': _OPEN_QUOTE,
    "Unescaped '\\'": ("a text holds a backslash", "write / instead"),
    "Expected '=' after a key": ("a key has no value", "write key = value, such as mass_kg = 145"),
    "Expected ']' at the end of a table": ("the heading of a table is not closed", "write it like [car], a set-up's like [[setup]]"),
    "Invalid statement": ("the line does not begin with a key", "write key = value, or # before a remark"),
}
MOST_TOLD = 10  # mistakes of a file that are told together; the rest is counted
# Faults of one line, which leave the lines after it as they were meant.
_OF_ONE_LINE = (_AFTER_VALUE, "Invalid value", "Cannot overwrite a value", "Illegal character '\\n'",
                "Unterminated string", "Expected '\"'", "Unescaped '\\'")  # fmt: skip
_KEY_AND_VALUE = re.compile(r"\s*[\w.\"'-]+\s*=")
_WITH_UNIT = re.compile(_KEY_AND_VALUE.pattern + r"\s*([-+]?\d[\d_.]*(?:[eE][-+]?\d+)?)\s*([^\W\d_][\w/²]{0,9}|[°%])\s*(?:#.*)?$")
_RETRIED_SIGNS = 50_000  # of a text that is read again behind a fault; reading a longer one so often would take seconds
# What a word processor makes of plain signs while one types.
_FINE_QUOTES = dict.fromkeys(map(ord, "“”„‟«»″"), '"') | dict.fromkeys(map(ord, "‘’‚‛‹›′"), "'")
_FINE_DASHES, _FINE_BLANKS = dict.fromkeys(map(ord, "–—−"), "-"), dict.fromkeys(map(ord, "\u00a0\u2007\u202f"), " ")
_FINE_SIGNS = (
    ("the quotes are a word processor's", 'replace them by plain ones, "', _FINE_QUOTES),
    ("the minus sign is a word processor's dash", "replace it by a plain -", _FINE_DASHES),
    ("there is a word processor's blank that is no plain one", "replace it by a plain blank", _FINE_BLANKS),
)  # fmt: skip
_OWN_LINE = "begin each set-up with a line [[setup]]"
_SEGMENTS = "write a list such as segments = [{straight_m = 20}, {radius_m = 8, turn_deg = 90}]"


# Files that stand beside scenarios and are named in their place, by their ending.
_NO_SCENARIO = {".csv": "a table", ".gpx": "a recorded course", ".html": "a page", ".json": "a file of figures", ".png": "a picture",
                ".pdf": "sheets to print"}  # fmt: skip


def shipped_folder() -> Path:
    """Folder of the shipped scenarios: inside the installed package, or at the top of a checkout."""
    inside = Path(__file__).resolve().parents[1] / "scenarios"
    return inside if inside.is_dir() else inside.parent.parent / "scenarios"


def shipped_names() -> list[str]:
    """Names under which the shipped scenarios can be run from any folder."""
    return sorted(file.stem for file in shipped_folder().glob("*.toml"))


def find_scenario(name: str) -> Path:
    """The file behind a name, which is a path or the name of a shipped scenario; a folder of that name hides no scenario.

    Raises InputError where there is neither.
    """
    path = Path(name)
    try:
        is_file, there = path.is_file(), path.exists()
    except (OSError, ValueError):  # a name that no file system takes
        is_file = there = False
    if is_file and path.suffix.casefold() in _NO_SCENARIO:
        remedy = "name the scenario first (.toml), then what else the command takes"
        raise InputError(name, "", f"this is {_NO_SCENARIO[path.suffix.casefold()]}, not a scenario", remedy)
    if is_file:
        return path
    if name in shipped_names():
        return shipped_folder() / f"{name}.toml"
    if there and (path / MARKER).is_file():
        raise InputError(name, "", "this is the folder of a run", f"look at it with `scrubwise watch {name}`, or name its own file")
    if there:
        raise InputError(name, "", "this is not a file", "name a scenario file (.toml)")
    near = get_close_matches(name, shipped_names(), n=1)
    hint = f"did you mean {near[0]}?" if near else f"give a path, one of {', '.join(shipped_names())}, or begin your own with `{BEGIN}`"
    raise InputError(name, "", "no such file and no shipped scenario of that name", hint)


def file_or_shipped_table(path: Path) -> Path:
    """The file of a path, or the shipped table (.csv) of that bare name.  path : as the user wrote it."""
    shipped = [shipped_folder() / path.name, shipped_folder() / f"{path.name}.csv"]
    if not path.exists() and path.name == str(path):
        return next((file for file in shipped if file.suffix == ".csv" and file.is_file()), path)
    return path


def load_scenario(path: Path, shown_as: str | None = None) -> Scenario:
    """Read and check a scenario file.

    path : of the file; shown_as : its name in messages, the path where None

    Raises InputError with the file, the key or line, what is wrong and what to do.
    """
    source = shown_as or str(path)
    text = read_text(path, source)
    return check_scenario(parse_toml(text, source, EXAMPLE), source).with_examples(examples_in(text))


def examples_in(text: str) -> int:
    """How many numbers of a scenario's text are marked as to be measured still.  text : of the file.  Returns how many [-]."""
    return len(_EXAMPLE_LINE.findall(text))


def read_text(path: Path, source: str) -> str:
    """The text of a scenario file.

    path : of the file; source : its name in messages
    Raises InputError for what is no text that a person would write.
    """
    try:
        text = plain_bytes(path, SCENARIO_BYTES).decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    except TooLargeError:
        raise InputError(source, "", "the file is far too large for a scenario", "name a scenario file (.toml)") from None
    except UnicodeDecodeError:
        raise InputError(source, "", "the file is not text in UTF-8", "save it as UTF-8 text") from None
    except OSError as error:
        raise InputError(source, "", f"the file can't be read ({error.strerror})", "check its name and its rights") from None
    refuse_deep_key(text, source)
    return text


def refuse_deep_key(text: str, source: str) -> None:
    """Raise InputError for a key of so many dots that reading it would take for ever.  text : of a TOML file; source : its name."""
    line = line_of_deep_key(text)
    if line is not None:
        raise InputError(source, f"line {line}", "a key has far too many dots", EXAMPLE)


def line_of_deep_key(text: str) -> int | None:
    """Number of the first line with a key of so many dots that reading it would take for ever, or None.  text : of a TOML file [-]."""
    deep = _DEEP_KEY.search(text)
    return None if deep is None else text.count("\n", 0, deep.start()) + 1


def parse_toml(text: str, source: str, example: str) -> dict[str, Any]:
    """What TOML text holds.

    text : without deep keys, see `line_of_deep_key`; source : the file's name in messages; example : what to compare it with
    Raises InputError for what is no TOML, with the slips of other lines where they can be told.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        faults = [*_not_toml(str(error), source, text)]
        raise told_together(faults) from None
    except RecursionError:
        raise InputError(source, "", "lists or tables stand too deep inside each other", example) from None
    except ValueError:  # Python converts no whole number of more than some thousand digits
        raise InputError(source, "", "a number has thousands of digits", example) from None


def _not_toml(complaint: str, source: str, text: str) -> Iterator[NotTomlError]:
    """The TOML reader's complaint in plain words, and those about other lines that a line of its own gave rise to."""
    lines, told = text.splitlines(), set[str]()
    for _ in range(MOST_TOLD):
        problem, _, place = complaint.partition(" (at ")
        found = re.match(r"line (\d+)", place)
        at = int(found[1]) - 1 if found else len(lines)
        line = lines[at] if at < len(lines) else ""
        fault, mended = _fine_signs(line, lines)
        if fault is None:
            yield _plainly(problem, place, source, line)
            if not problem.startswith(_OF_ONE_LINE) or not _KEY_AND_VALUE.match(line) or line.count("[") != line.count("]"):
                return
            mended = [*lines[:at], "", *lines[at + 1 :]]
        elif fault[0] not in told:
            told.add(fault[0])
            yield NotTomlError(source, place.rstrip(")"), f"this is not TOML: {fault[0]}", fault[1])
        if len(text) > _RETRIED_SIGNS:
            return
        lines = mended
        try:
            tomllib.loads("\n".join(lines))
        except tomllib.TOMLDecodeError as error:
            complaint = str(error)
        except (RecursionError, ValueError):
            return
        else:
            return


def _fine_signs(line: str, lines: list[str]) -> tuple[tuple[str, str] | None, list[str]]:
    """What a word processor made of a line's signs, as (what is wrong, what to do), and the lines with plain signs; None for none."""
    bare = line.partition("#")[0]
    for problem, remedy, plain in _FINE_SIGNS:
        if bare != bare.translate(plain):
            hit = [index for index, one in enumerate(lines) if re.search(rf"^[^#\"']*[{''.join(map(chr, plain))}]", one) or one == line]
            more = f" (here and in {len(hit) - 1} more line{'s' if len(hit) > 2 else ''})" if len(hit) > 1 else ""
            return (problem + more, remedy), [one.translate(plain) if index in hit else one for index, one in enumerate(lines)]
    return None, lines


def _plainly(problem: str, place: str, source: str, line: str) -> NotTomlError:
    """One complaint in plain words; the rare ones are passed on.  line : about which it is."""
    if problem.startswith(_AFTER_VALUE) and (unit := _WITH_UNIT.match(line)):
        remedy = _in_unit_of_key(line.partition("=")[0].strip().strip("\"'"), *unit.groups())
        return NotTomlError(source, place.rstrip(")"), f'this is not TOML: "{_printable(unit[2])}" follows the number', remedy)
    value = _KEY_AND_VALUE.match(line)
    if problem.startswith(_AFTER_VALUE) and value and (slip := comma_slip(line[value.end() :].partition("#")[0])):
        return NotTomlError(source, place.rstrip(")"), f"this is not TOML: {slip[0]}", slip[1])
    if problem.startswith("Invalid value") and value and not line[value.end() :].partition("#")[0].strip():
        key = _printable(line.partition("=")[0].strip()[:80])
        return NotTomlError(source, place.partition(",")[0].rstrip(")"), f"{key} has no value yet", "write it behind the = sign")
    for beginning, (plain, remedy) in _TOML_FAULTS.items():
        if problem.startswith(beginning):
            return NotTomlError(source, place.rstrip(")"), f"this is not TOML: {plain}", remedy)
    return NotTomlError(source, place.rstrip(")"), f"this is not TOML: {_printable(problem[:120])}", EXAMPLE)


def _in_unit_of_key(key: str, number: str, unit: str) -> str:
    """What to do about a number with a unit behind it.  key, number, unit : as they were written."""
    wanted, given, value = key.rpartition("_")[2], unit.lower(), number_from(number.replace("_", ""))
    if value is not None and given != wanted:
        if given in MILLIMETRES_IN and wanted in MILLIMETRES_IN:
            return f"write {value * MILLIMETRES_IN[given] / MILLIMETRES_IN[wanted]:g}: {key} is in {wanted}"
        degrees = wanted == "deg" and (given == "°" or given.startswith("deg"))
        if not degrees and (given in MILLIMETRES_IN or wanted in ("mm", "m", "deg")):
            return f"{key} is in {wanted}: give it so, without the unit"
    return "leave the unit out, for it stands in the key's name"


def check_scenario(data: dict[str, Any], source: str) -> Scenario:
    """Check what a TOML file held.

    data : its tables, in which numbers may stand as people measure them; source : its name in messages
    Raises InputError with the things that are wrong, as many as can be told at once.
    """
    made = kept(data)
    faults = list(made.faults)
    try:
        scenario = Scenario.model_validate(made.data)
    except ValidationError as error:
        faults += [dict(fault) for fault in error.errors() if not _follows(fault, made.excused)]
        # A list whose entries are refused is counted as if it lacked them.
        within = {tuple(fault["loc"][:depth]) for fault in faults for depth in range(1, len(fault["loc"]))}
        faults = [fault for fault in faults if fault["type"] != "too_short" or tuple(fault["loc"]) not in within]
    if faults:
        raise _refusals(faults, source, data) from None
    return scenario.with_measured(made.measured)


def _follows(fault: Any, excused: Set[tuple[int | str, ...]]) -> bool:
    """Whether a fault is there only because of another one that is told."""
    own = fault.get("ctx", {}).get("error")
    place = (*fault["loc"], own.key) if isinstance(own, TableError) else tuple(fault["loc"])
    return fault["type"] == "default_factory_not_called" or place in excused


def dump_scenario(scenario: Scenario) -> str:
    """A scenario as TOML with every default written out; reading it back gives an equal scenario."""
    data = scenario.model_dump(mode="json", exclude_none=True)
    data["setup"] = [
        {key: value for key, value in table.items() if key in setup.keys_read}
        for table, setup in zip(data["setup"], scenario.setup, strict=True)
    ]
    return tomli_w.dumps(data)


def _place(parts: tuple[int | str, ...], data: Any) -> str:
    text = ""
    if len(parts) > 1 and parts[0] == "setup" and isinstance(parts[1], int):
        # Of a name that is wrong itself the number tells more.
        text, parts = setup_place(None, parts[1]) if parts[2:] == ("name",) else _setup_at(parts[1], data), parts[2:]
    for part in parts:
        if isinstance(part, int):
            text += f"[{part}]"
        elif not part.startswith("<"):
            shown = _short(part)
            text += f".{shown}" if text else shown
    return text


def _setup_at(index: int, data: Any) -> str:
    """What a message calls a set-up; two of one name are told apart by their numbers."""
    setups = data.get("setup") if isinstance(data, dict) else None
    names = [one.get("name") if isinstance(one, dict) else None for one in setups] if isinstance(setups, list | tuple) else []
    name = names[index] if index < len(names) else None
    return setup_place(name if names.count(name) == 1 else None, index)


def _models(annotation: Any) -> list[type[Table]]:
    """The tables that an annotation can hold, however deep they are wrapped."""
    if isinstance(annotation, type) and issubclass(annotation, Table):
        return [annotation]
    return [model for inner in getattr(annotation, "__args__", ()) for model in _models(inner)]


def _table(parts: tuple[int | str, ...]) -> list[type[Table]]:
    """The tables in which the last key of a place may stand."""
    tables: list[type[Table]] = [Scenario]
    for part in parts[:-1]:
        if isinstance(part, str) and not part.startswith("<"):
            fields = [table.model_fields[part] for table in tables if part in table.model_fields]
            tables = [model for field in fields for model in _models(field.annotation)]
        elif isinstance(part, str):
            tables = [table for table in tables if table.__name__.lower().startswith(part.strip("<>"))]
    return tables


def _remedy(parts: tuple[int | str, ...]) -> str:
    while isinstance(parts[-1], str) and parts[-1].startswith("<") and len(parts) > 1:
        parts = parts[:-1]
    if parts[0] == "uncertainty":  # its keys are paths
        parts = parts[:1]
    for table in _table(parts):
        field = (table.model_fields | measured_table(table).model_fields).get(str(parts[-1]))
        if field is not None and isinstance(field.json_schema_extra, dict):
            return str(field.json_schema_extra.get("remedy", ""))
    return ""


def _printable(text: str) -> str:
    return "".join(sign if sign.isprintable() else "?" for sign in text)


def _short(text: str) -> str:
    """A name or a value for a message: printable and short."""
    return _printable(text if len(text) <= 40 else text[:37] + "...")


def _shown(value: Any) -> str:
    """A value as TOML writes it."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict | list):  # their text could be of any depth
        return "a table" if isinstance(value, dict) else "a list"
    if isinstance(value, int) and value.bit_length() > 100:  # ... and its text of any length
        return "a number of many digits"
    return f'"{_short(value)}"' if isinstance(value, str) else str(value)


def _refusals(faults: list[dict[str, Any]], source: str, data: Any) -> InputError:
    """The faults as one line: unknown keys before missing ones, since the one is often the other misspelt and then told once."""
    faults = sorted(faults, key=lambda fault: fault["type"] != "extra_forbidden")
    unknown = [tuple(fault["loc"]) for fault in faults[:MOST_TOLD] if fault["type"] == "extra_forbidden"]
    meant = {(*place[:-1], key) for place in unknown if (near := _nearest(place)) for key in _stands_for(place, near)}
    faults = [fault for fault in faults if fault["type"] != "missing" or tuple(fault["loc"]) not in meant]
    told = [_refusal(fault, source, data) for fault in faults[:MOST_TOLD]]
    return told_together(told, len(faults) - len(told))


def _stands_for(place: tuple[int | str, ...], key: str) -> set[str]:
    """The keys that are not missing where this one is given: itself, and those in whose place it is measured."""
    parts = [one for table in _table(place) for one in table.instead() if key in [measured.name for measured in one.measured]]
    return {key, *(name for one in parts for name in one.kept)}


def _nearest(parts: tuple[int | str, ...]) -> str | None:
    """The known key that is most like the last one of a place, None where none is."""
    known = [key for table in _table(parts) for key in known_keys(table)]
    return next(iter(get_close_matches(str(parts[-1]), known, n=1)), None)


def _refusal(fault: dict[str, Any], source: str, data: Any) -> InputError:
    """One fault, plainly.  data : what the file held, for the names of its set-ups."""
    parts, kind, context = tuple(fault["loc"]), fault["type"], fault.get("ctx", {})
    place, value = _place(parts, data), fault.get("input")
    remedy = _remedy(parts) if parts else ""
    if kind == "extra_forbidden":
        near, known = _nearest(parts), ", ".join(key for table in _table(parts) for key in known_keys(table))
        return InputError(source, place, "no such key", f"did you mean {near}?" if near else f"known are {known}")
    if kind == "missing":
        return InputError(source, place, "this key is missing", remedy or "add it; `scrubwise new` shows an example")
    own = context.get("error")
    if isinstance(own, TableError):
        return InputError(source, ".".join(filter(None, [place, own.key])), own.problem, own.remedy)
    if kind in ("greater_than_equal", "less_than_equal"):
        low = kind == "greater_than_equal"
        limit = context["ge" if low else "le"]
        return InputError(source, place, f"{_shown(value)} is {'below' if low else 'above'} {limit:g}", remedy)
    if kind == "finite_number":
        return InputError(source, place, f"{_shown(value)} is not a finite number", remedy)
    if kind in ("float_type", "int_type", "int_from_float"):
        wanted = "whole number" if kind.startswith("int") else "number"
        if isinstance(value, str):
            remedy = "write a plain number without quotes"
        if isinstance(value, int) and not isinstance(value, bool):  # too long for a float
            return InputError(source, place, "the number is far too large", remedy)
        return InputError(source, place, f"{_shown(value)} is not a {wanted}", remedy)
    if kind == "literal_error":
        like = get_close_matches(str(value), [part.strip("'") for part in context["expected"].split("'")[1::2]], n=1)
        hint = f"did you mean {like[0]}?" if like else f"choose one of {context['expected']}"
        return InputError(source, place, f"{_shown(value)} is not known here", hint)
    if kind.startswith("union_tag"):
        return InputError(source, place, "no kind of segment has these keys",
                          "write {straight_m}, {radius_m, turn_deg} or {clothoid_m, to_radius_m}")  # fmt: skip
    if kind == "bool_type":
        return InputError(source, place, f"{_shown(value)} is neither true nor false", "write true or false, without quotes")
    if kind.startswith("string_"):
        problem = {
            "string_type": f"{_shown(value)} is not text", "string_too_short": "the text is empty",
            "string_too_long": f"the text is longer than {context.get('max_length')} signs",
        }.get(kind, "the text holds a line break, a control sign or one that turns the direction")  # fmt: skip
        return InputError(source, place, problem, "write a short text in quotes")
    if kind in ("too_short", "too_long"):
        few = kind == "too_short"
        limit = context["min_length" if few else "max_length"]
        problem = f"holds {context['actual_length']} entries, {'fewer' if few else 'more'} than {limit}"
        return InputError(source, place, problem, "add one" if few else "leave some out")
    if kind in ("tuple_type", "model_type", "dict_type"):
        wanted = "list" if kind == "tuple_type" else "table"
        remedy = _OWN_LINE if place.startswith("setup") else f"begin it with a line [{place}]" if wanted == "table" else _SEGMENTS
        return InputError(source, place, f"{_shown(value)} is not a {wanted}", remedy)
    return InputError(source, place, fault["msg"], remedy or EXAMPLE)
