"""One way to steer, as a person writes it; the keys are those that the kinds of linkage declare."""

from math import radians
from typing import TYPE_CHECKING, Any, Literal, Self

from pydantic import create_model, model_validator

from sim.keys import Instead, Key
from sim.linkages.catalogue import KINDS, LINKAGES, all_keys, kind_of
from sim.linkages.front_end import LEAST_ROD_ANGLE, TOE_IN
from sim.linkages.kind import Kind
from sim.scenario.tables import Table, TableError, Text, number, setup_place

if TYPE_CHECKING:
    LinkageName = str
else:
    LinkageName = Literal[LINKAGES]

_ALWAYS = {"name", "pivot", "linkage"}


class _Setup(Table):
    """What every set-up has; the numbers come from the catalogue of linkages."""

    name: Text
    pivot: Literal["stub axles", "turntable"]
    linkage: LinkageName | None = None

    @model_validator(mode="after")
    def _keys_fit_the_linkage(self) -> Self:
        if self.pivot == "turntable" and self.linkage is not None:
            raise TableError("linkage", "a turntable axle has no linkage between its wheels", "leave the key out")
        if self.pivot == "stub axles" and self.linkage is None:
            raise TableError("linkage", "stub axles need a linkage", f"choose one of {', '.join(LINKAGES)}")
        owner = f'linkage "{self.linkage}"' if self.linkage else "a turntable axle"
        for key in type(self).model_fields:
            if key in self.model_fields_set and key not in self.keys_read:
                raise TableError(key, f"{owner} does not use this key", "leave it out")
        for needed in self.kind.needs:
            if self.value_of(needed.name) is None:
                raise TableError(needed.name, f"{owner} needs this key", "add it")
        return self

    @classmethod
    def instead(cls) -> tuple[Instead, ...]:
        return tuple(dict.fromkeys(one for kind in KINDS.values() for one in kind.instead))

    @property
    def place(self) -> str:
        """What messages call it."""
        return setup_place(self.name, 0)

    @property
    def kind(self) -> Kind:
        """The kind of its linkage."""
        return kind_of(self.linkage)

    @property
    def keys_read(self) -> set[str]:
        """The keys that mean something for this set-up's pivot and linkage."""
        return _ALWAYS | {key.name for key in self.kind.keys}

    def value_of(self, key: str) -> float | None:
        """The number of a key, None where there is none.  key : of the catalogue's.  Returns it [the key's unit]."""
        return getattr(self, key)

    @property
    def toe_in(self) -> float:
        """Toe-in of each wheel [rad]."""
        return radians(getattr(self, TOE_IN))

    @property
    def least_rod_angle(self) -> float:
        """Angle between a rod and its arm at which the usable lock ends [rad]."""
        return radians(getattr(self, LEAST_ROD_ANGLE))


def _field(key: Key) -> Any:
    """A key as a field of a table: its type, and its bounds with the remedy."""
    kind = float if key.default is not None else float | None
    return kind, number(key.low, key.high, key.remedy, key.default, key.common)


if TYPE_CHECKING:

    class SetupTable(_Setup):
        """One way to steer the same car."""

        def __getattr__(self, key: str) -> Any: ...
else:
    SetupTable = create_model(
        "SetupTable", __base__=_Setup, __module__=__name__, __doc__="One way to steer the same car.",
        **{name: _field(key) for name, key in all_keys().items()},
    )  # fmt: skip
