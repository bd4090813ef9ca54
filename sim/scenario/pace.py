"""How fast and how long, as a person writes it."""

from typing import Annotated, Literal, Self

from pydantic import Discriminator, Field, Tag, model_validator

from sim.keys import Key
from sim.scenario.tables import Table, TableError, number

# The speed on the straights, where a scenario is begun by questions.
SPEED = Key(
    "target_m_per_s", 0.3, 20, "give the speed in metres per second (7 m/s is 25 km/h)", 6.0, common=(1.0, 12.0),
    measure="how fast you mean to drive on the straights (5 m/s is 18 km/h)",
)  # fmt: skip
Target = Annotated[
    Annotated[float, Field(ge=SPEED.low, le=SPEED.high, allow_inf_nan=False), Tag("<number>")]
    | Annotated[Literal["furthest"], Tag("<word>")],
    Discriminator(lambda value: "<word>" if isinstance(value, str) else "<number>"),
]


class PaceTable(Table):
    """How fast: the same plan for every set-up, so that what differs is the steering."""

    target_m_per_s: Target = Field(
        json_schema_extra={"remedy": 'give the speed in metres per second (7 m/s is 25 km/h), or "furthest" for the best race pace'}
    )
    policy: Literal["limits", "lift", "steady speed", "steady current"] = "limits"
    current_A: float | None = number(0.1, 2000, "give the motor current in amperes", None)
    lateral_limit_m_per_s2: float = number(0.1, 15, "3 is a brisk bend in a small car", 3.0, (0.5, 10))
    braking_limit_m_per_s2: float = number(0.1, 10, "1.5 is gentle braking", 1.5, (0.3, 7))
    drive_power_W: float = number(10, 50_000, "give the power at the driven wheels in watts", 600.0, (50, 5000))
    start_m_per_s: float | None = number(0, 20, "0 is a standing start; leave it out to start rolling", None)
    laps: int = number(1, 100, "give the number of timed laps", 1)

    @model_validator(mode="after")
    def _current(self) -> Self:
        if (self.policy == "steady current") != (self.current_A is not None):
            if self.current_A is None:
                problem = 'the key is missing, and policy "steady current" needs it'
                raise TableError("current_A", problem, "give the motor current in amperes")
            raise TableError("current_A", 'the key belongs to policy "steady current" and to no other', "leave it out")
        if self.policy == "steady current" and self.target_m_per_s == "furthest":
            raise TableError("target_m_per_s", '"furthest" seeks a speed, but a steady current sets it', "give a speed, or another policy")
        return self


class RaceTable(Table):
    """What ends the race: time, or a number of laps."""

    duration_min: float | None = number(0.1, 10_000, "give the race's time in minutes", None)
    laps: int | None = number(1, 100_000, "give the race's laps", None)

    @model_validator(mode="after")
    def _one_end(self) -> Self:
        if (self.duration_min is None) == (self.laps is None):
            raise TableError("", "a race ends either after a time or after a number of laps", "write duration_min or laps")
        return self
