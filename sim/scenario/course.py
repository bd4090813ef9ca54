"""Where the car drives, as a person writes it: a file, or segments."""

from typing import Annotated, Any, Self

from pydantic import Discriminator, Field, Tag, model_validator

from sim.scenario.tables import Table, TableError, Text, number


class StraightTable(Table):
    """A straight of a written course."""

    straight_m: float = number(0.1, 20_000, "give the straight's length in metres")


class ArcTable(Table):
    """A bend of constant radius; a positive turn is to the left."""

    radius_m: float = number(0.5, 20_000, "give the bend's radius in metres, above 0; a bend to the right has a turn_deg below 0")
    turn_deg: float = number(-3600, 3600, "give the turn in degrees, positive to the left")

    @model_validator(mode="after")
    def _turns(self) -> Self:
        if self.turn_deg == 0:
            raise TableError("turn_deg", "a bend must turn", "write a straight instead")
        return self


class ClothoidTable(Table):
    """A bend that tightens or opens evenly, from the segment before to `to_radius_m` (left out: to straight)."""

    clothoid_m: float = number(0.1, 20_000, "give the clothoid's length in metres")
    to_radius_m: float | None = number(-20_000, 20_000, "give the radius at its end, positive to the left", None)

    @model_validator(mode="after")
    def _turns(self) -> Self:
        if self.to_radius_m is not None and abs(self.to_radius_m) < 0.5:
            raise TableError("to_radius_m", "the radius is below 0.5 m", "leave it out to end straight")
        return self


def _segment_kind(entry: Any) -> str | None:
    """The kind of a written segment, by its keys, so that a slip in one is named as that, not as three kinds at once."""
    keys = set(entry) if isinstance(entry, dict) else set(type(entry).model_fields) if isinstance(entry, Table) else set()
    for kind, marks in SEGMENT_KINDS.items():
        if keys & marks:
            return kind
    return None


# Tags are set in angle brackets so that they can be told from keys in an error's place.
SEGMENT_KINDS = {"<clothoid>": {"clothoid_m"}, "<arc>": {"radius_m", "turn_deg"}, "<straight>": {"straight_m"}}
Segment = Annotated[
    Annotated[StraightTable, Tag("<straight>")] | Annotated[ArcTable, Tag("<arc>")] | Annotated[ClothoidTable, Tag("<clothoid>")],
    Discriminator(_segment_kind),
]


class CourseTable(Table):
    """Where the car drives: a file, or segments written here."""

    file: Text | None = None
    segments: tuple[Segment, ...] | None = Field(None, min_length=1, max_length=1000, strict=False)
    closed: bool = False
    scale: float = number(0.001, 1000, "1 leaves the course as it was recorded", 1.0)
    line_tolerance_m: float | None = number(0, 20, "give the smoothing tolerance in metres; leave it out for the usual", None)
    height_tolerance_m: float | None = number(0, 20, "give how far smooth heights may lie off the file's; leave it out for the usual", None)
    air_density_kg_per_m3: float = number(0.5, 1.6, "1.225 is sea level at 15 degrees C", 1.225)
    wind_m_per_s: float = number(0, 30, "give the wind's speed at the car's height in metres per second", 0.0)
    # As every angle: counter-clockwise from x, which in a GPX file is east; 0 blows towards the east, 90 towards the north.
    wind_towards_deg: float = number(-360, 360, "give the direction in which the wind blows, counter-clockwise from x (east)", 0.0)

    @model_validator(mode="after")
    def _one_source(self) -> Self:
        if (self.file is None) == (self.segments is None):
            raise TableError("", "a course is either a file or segments", "write one of the two")
        if self.segments is not None and self.scale != 1.0:
            raise TableError("scale", "only a course from a file is scaled", "write the segments at the size you want")
        if self.segments is not None and self.line_tolerance_m is not None:
            raise TableError("line_tolerance_m", "only a course from a file is smoothed", "leave it out")
        if self.segments is not None and self.height_tolerance_m is not None:
            raise TableError("height_tolerance_m", "a written course is level", "leave it out")
        return self
