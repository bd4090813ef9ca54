"""What the user wrote, checked: frozen models, bounds with reasons, the unit in every key's name.

This is the edge of the program: millimetres and degrees come in here and leave as metres and radians.
Defaults and bounds stand here and nowhere else; the ground of each default is in the shipped scenarios' comments.
"""

from collections.abc import Mapping
from types import SimpleNamespace
from typing import Annotated, Any, Self

from pydantic import Field, PrivateAttr, ValidationInfo, field_validator, model_validator

from sim.car.battery import NO_BATTERY, Battery
from sim.car.motor import NO_MOTOR, Motor
from sim.keys import Instead
from sim.scenario.car import BatteryTable, CarTable, MotorTable
from sim.scenario.course import CourseTable
from sim.scenario.pace import PaceTable, RaceTable
from sim.scenario.setup import SetupTable
from sim.scenario.tables import HOUR, MILLIMETRE, Table, TableError, Text
from sim.scenario.uncertainty import REMEDY, check_uncertainty, in_units, lifted


class _Aside(dict[tuple[int | str, ...], tuple[Instead, ...]]):
    """What is known of a scenario's file and is no part of the scenario: whatever theirs hold, two scenarios can be equal."""

    __hash__ = None  # type: ignore[assignment]

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Aside)


class Scenario(Table):
    """A car, a course, a pace and the set-ups to compare."""

    title: Text = "untitled"
    car: CarTable
    course: CourseTable
    pace: PaceTable
    motor: MotorTable | None = None
    battery: BatteryTable | None = None
    race: RaceTable | None = None
    setup: tuple[SetupTable, ...] = Field(min_length=1, max_length=60, strict=False)
    # Path of a number to its 95 % half width [the number's unit]; a number may also carry its own, see `scenario.uncertainty`.
    uncertainty: dict[str, Annotated[float, Field(allow_inf_nan=False)]] = Field({}, json_schema_extra={"remedy": REMEDY})

    _examples: int = PrivateAttr(0)
    _measured: _Aside = PrivateAttr(default_factory=_Aside)

    @property
    def examples(self) -> int:
        """How many numbers of its file are still marked as examples, for nobody has measured them [-]."""
        return self._examples

    def with_examples(self, count: int) -> Self:
        """The same scenario with that many numbers that nobody has measured.  count [-]."""
        told = self.model_copy()
        told._examples = count
        return told

    def measured(self, *place: int | str) -> tuple[Instead, ...]:
        """What its file gives as people measure it, in place of keys of a table.  place : "car", or "setup" and its place in the list."""
        return self._measured.get(place, ())

    def with_measured(self, measured: Mapping[tuple[int | str, ...], tuple[Instead, ...]]) -> Self:
        """The same scenario, knowing what was measured in its file.  measured : of each table's place."""
        told = self.model_copy()
        told._measured = _Aside(measured)
        return told

    @model_validator(mode="before")
    @classmethod
    def _uncertainty_lifted(cls, data: Any) -> Any:
        return lifted(data)

    @field_validator("uncertainty", mode="before")
    @classmethod
    def _shares_in_units(cls, value: Any, info: ValidationInfo) -> Any:
        # All other tables stand before this one; where one of them is wrong, that is told first.
        tables = cls.model_fields.keys() - {"uncertainty"}
        return in_units(value, SimpleNamespace(**info.data)) if tables <= info.data.keys() else {}

    @model_validator(mode="after")
    def _parts_fit(self) -> Self:
        if (self.motor is None) != (self.battery is None):
            there, missing = ("battery", "motor") if self.motor is None else ("motor", "battery")
            raise TableError(missing, f"there is a {there} but no {missing}", f"add the table [{missing}] or leave [{there}] out")
        if self.race is not None and self.motor is None:
            raise TableError("race", "a race needs a motor and a battery", "add the tables [motor] and [battery]")
        if self.pace.policy == "steady current" and self.motor is None:
            raise TableError("pace.policy", "a steady current needs a motor and a battery", "add the tables [motor] and [battery]")
        if self.pace.target_m_per_s == "furthest" and (self.race is None or self.race.duration_min is None):
            raise TableError("pace.target_m_per_s", '"furthest" needs a race with a duration', "add [motor], [battery] and [race]")
        if not self.course.closed and self.pace.laps > 1:
            problem = "an open course ends where it ends and is driven once"
            raise TableError("pace.laps", problem, "write laps = 1, or closed = true for a lap")
        if self.course.closed and self.pace.start_m_per_s is not None:
            problem = "a closed course is timed over a flying lap, which has no start speed"
            raise TableError("pace.start_m_per_s", problem, "leave it out, or write closed = false")
        if (self.race is not None or self.pace.target_m_per_s == "furthest") and not self.course.closed:
            raise TableError("course.closed", "a race goes round a closed course", "write closed = true, or leave [race] out")
        return self

    def parts(self) -> tuple[Motor, Battery]:
        """Motor and battery in SI units, or those that stand for none."""
        if self.motor is None or self.battery is None:
            return NO_MOTOR, NO_BATTERY
        motor, block = self.motor, self.battery
        return (
            Motor(motor.winding_resistance_ohm, motor.torque_constant_N_m_per_A, motor.no_load_current_A, motor.current_limit_A,
                  motor.gear_ratio / (self.car.wheel_radius_mm * MILLIMETRE), motor.drive_efficiency, motor.regenerates,
                  motor.freewheel),
            Battery(block.nominal_voltage_V * block.in_series, block.internal_resistance_ohm * block.in_series,
                    block.rated_capacity_Ah * HOUR, block.rated_time_h * HOUR, block.peukert_exponent, block.usable_share),
        )  # fmt: skip

    @model_validator(mode="after")
    def _names_differ(self) -> Self:
        seen: set[str] = set()
        for index, setup in enumerate(self.setup):
            if setup.name.casefold() in seen:
                raise TableError(f"setup[{index + 1}].name", f'"{setup.name}" is the name of two set-ups', "give each its own name")
            seen.add(setup.name.casefold())
        return self

    @model_validator(mode="after")
    def _uncertainty_fits(self) -> Self:
        check_uncertainty(self)
        return self
