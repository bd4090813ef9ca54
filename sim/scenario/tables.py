"""What every table of a scenario is made of: bounded numbers with their remedy, text, frozen models."""

from functools import cache
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from sim.errors import HIDDEN
from sim.keys import MILLIMETRE as MILLIMETRE  # for whoever reads tables in millimetres
from sim.keys import Instead, Key

HOUR = 3600.0  # [s]
LONGEST_SHOWN = 40  # signs of a name in a message


def number(
    low: float, high: float, remedy: str, default: Any = ..., common: tuple[float, float] | None = None, measure: str = "",
    usual: float | None = None,
) -> Any:  # fmt: skip
    """A bounded number.

    low, high : bounds [the key's unit]; remedy : ends the sentence of refusal, so it says what to write instead
    default : value of a key that is left out [the key's unit]; without one the key must be there; a function takes the table so far
    common, measure, usual : between what cars of this kind lie, what a person measures, where a scenario begins, as for `sim.keys.Key`
    """
    extra: dict[str, Any] = {"remedy": remedy} | ({"common": list(common)} if common else {})
    extra |= {"measure": measure, "usual": usual} if measure else {}
    given = {"default_factory": default} if callable(default) else {"default": default}
    return Field(**given, ge=low, le=high, allow_inf_nan=False, json_schema_extra=extra)


def millimetres(
    low: float, high: float, what: str, default: Any = ..., common: tuple[float, float] | None = None, measure: str = "",
    usual: float | None = None,
) -> Any:  # fmt: skip
    """A bounded length.  low, high, default, common, measure, usual : as for `number` [mm]; what : the length in words."""
    return number(low, high, f"give {what} in millimetres", default, common, measure, usual)


Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=80, pattern=f"^[^{HIDDEN}]*$")]


def setup_place(name: Any, index: int) -> str:
    """What messages call a set-up: by its name, or where it has none by its number from 1, as people count.

    name : as written, of any kind; index : its place in the file from 0 [-]
    """
    if isinstance(name, str) and name.strip():
        shown = "".join(sign if sign.isprintable() else "?" for sign in name.strip())
        return f'setup "{shown if len(shown) <= LONGEST_SHOWN else shown[: LONGEST_SHOWN - 3] + "..."}"'
    return f"setup[{index + 1}]"


class Table(BaseModel):
    """One table of a scenario: cannot be changed, knows its keys, takes no text or true/false for a number."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    @classmethod
    def instead(cls) -> tuple[Instead, ...]:
        """What a person may measure in place of its keys."""
        return ()


class TableError(ValueError):
    """What is wrong with a table whose keys are each fine: raised by a scenario's own checks, told with the file's name as InputError.

    key : inside the table; empty where the whole table is meant
    problem : what is wrong, in plain words
    remedy : what to do
    """

    def __init__(self, key: str, problem: str, remedy: str):
        super().__init__(": ".join(filter(None, [key, f"{problem}; {remedy}"])))
        self.key, self.problem, self.remedy = key, problem, remedy


@cache
def common_of(table: type[BaseModel]) -> dict[str, tuple[float, float]]:
    """Between what a table's numbers usually lie, by key, where that is said.

    table : a scenario's, such as CarTable
    Returns key to (low, high) [the key's unit].
    """
    extras = {key: field.json_schema_extra for key, field in table.model_fields.items()}
    return {key: tuple(extra["common"]) for key, extra in extras.items() if isinstance(extra, dict) and "common" in extra}  # type: ignore


def measured_keys(table: type[BaseModel]) -> tuple[Key, ...]:
    """The numbers of a table that a person measures, in their order.  table : a scenario's, such as CarTable."""
    found = []
    for name, field in table.model_fields.items():
        extra = field.json_schema_extra
        if isinstance(extra, dict) and extra.get("measure"):
            low, high = bounds_of(table)[name]
            default = field.default if isinstance(field.default, float) else None
            found.append(Key(name, low, high, str(extra["remedy"]), default, field.is_required(), extra["usual"],  # type: ignore[arg-type]
                             common=common_of(table).get(name), measure=str(extra["measure"])))  # fmt: skip
    return tuple(found)


@cache
def bounds_of(table: type[BaseModel]) -> dict[str, tuple[float, float]]:
    """Bounds of a table's numbers by key, without whole numbers.

    table : a scenario's, such as CarTable
    Returns key to (low, high) [the key's unit].
    """
    found = {}
    for key, schema in table.model_json_schema()["properties"].items():
        for kind in [schema, *schema.get("anyOf", ()), *schema.get("oneOf", ())]:
            if kind.get("type") == "number":
                found[key] = kind["minimum"], kind["maximum"]
    return found
