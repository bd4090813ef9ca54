"""What the user wrote, checked: frozen models, bounds with reasons, the unit in every key's name.

This is the edge of the program: millimetres and degrees come in here and leave as metres and radians.
Defaults and bounds stand here and nowhere else; the ground of each default is in the shipped scenarios' comments.
"""

from math import radians
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Discriminator, Field, StringConstraints, Tag, model_validator

from sim.battery import NO_BATTERY, Battery
from sim.chassis import DRIVES, Car
from sim.motor import NO_MOTOR, Motor
from sim.tyre import Tyre

MILLIMETRE = 1e-3  # [m]
HOUR = 3600.0  # [s]

# A kingpin track wider than the front track is a negative kingpin offset; beyond this the keys have been mixed up.
KINGPIN_TRACK_EXCESS_MM = 100.0


def number(low: float, high: float, remedy: str, default: Any = ...) -> Any:
    """A bounded number.

    low, high : bounds [the key's unit]; remedy : ends the sentence of refusal, so it says what to write instead
    default : value of a key that is left out [the key's unit]; without one the key must be there
    """
    return Field(default, ge=low, le=high, allow_inf_nan=False, json_schema_extra={"remedy": remedy})


def millimetres(low: float, high: float, what: str, default: Any = ...) -> Any:
    """A bounded length.  low, high, default : as for `number` [mm]; what : the length in words."""
    return number(low, high, f"give {what} in millimetres", default)


Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=80, pattern=r"^[^\x00-\x1f\x7f]*$")]


class Table(BaseModel):
    """One table of a scenario: cannot be changed, knows its keys, takes no text or true/false for a number."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class TyreTable(Table):
    """Tyre figures; they are coefficients, so one set serves wheels of any load."""

    cornering_stiffness_per_rad: float = number(1, 60, "bicycle-size tyres lie near 6 to 18 per rad", 12.0)
    # Above 0.3 the stiffness of a wheel that carries the whole car would turn negative.
    load_sensitivity: float = number(0, 0.3, "0 is none; 0.3 is the most that keeps every stiffness positive", 0.0)
    drive_stiffness_per_unit_slip: float = number(1, 100, "a bicycle-size tyre lies near 15", 15.0)
    relaxation_length_mm: float = millimetres(10, 2000, "the relaxation length (70 to 300 is usual)", 120.0)
    pneumatic_trail_mm: float = millimetres(0, 100, "the pneumatic trail (6 to 25 is usual)", 15.0)
    camber_stiffness_per_rad: float = number(0, 5, "0 leaves camber thrust out; 0.5 to 1.2 is usual", 0.0)
    friction: float = number(0.05, 2, "0.9 is dry asphalt, 0.4 soaking wet", 0.9)
    rolling_resistance: float = number(0, 0.1, "give a coefficient; 0.004 to 0.015 is usual", 0.008)

    def tyre(self) -> Tyre:
        """The same figures in SI units."""
        return Tyre(
            cornering_stiffness=self.cornering_stiffness_per_rad,
            load_sensitivity=self.load_sensitivity,
            drive_stiffness=self.drive_stiffness_per_unit_slip,
            relaxation_length=self.relaxation_length_mm * MILLIMETRE,
            pneumatic_trail=self.pneumatic_trail_mm * MILLIMETRE,
            camber_stiffness=self.camber_stiffness_per_rad,
            friction=self.friction,
            rolling_resistance=self.rolling_resistance,
        )


class HandsTable(Table):
    """The driver's hands on the wheel: a spring and a damper.  Judgements; nobody publishes them for such cars."""

    stiffness_N_m_per_rad: float = number(0, 1000, "10 is a loose grip, 40 a firm one", 20.0)
    damping_N_m_s_per_rad: float = number(0, 100, "1 is a loose grip, 3 a firm one", 1.5)
    inertia_kg_m2: float = number(0.001, 10, "0.05 is a small hand wheel with two arms", 0.05)


class KingpinTable(Table):
    """The flat washer on which the car rests on its kingpins."""

    washer_outer_mm: float = millimetres(2, 300, "the washer's outer diameter", 34.0)
    washer_inner_mm: float = millimetres(1, 299, "the washer's inner diameter", 17.0)
    friction_dry: float = number(0, 1, "0.2 is dry steel on bronze", 0.2)
    friction_greased: float = number(0, 1, "0.1 is greased", 0.1)

    @model_validator(mode="after")
    def _ring(self):
        if self.washer_inner_mm >= self.washer_outer_mm:
            raise ValueError("washer_inner_mm|the hole is as large as the washer|give the inner diameter, then the outer one")
        return self


class CarTable(Table):
    """The car with its driver on board."""

    mass_kg: float = number(40, 1000, "give the mass in kg with the driver")
    wheelbase_mm: float = millimetres(500, 4000, "the wheelbase")
    front_track_mm: float = millimetres(200, 2500, "the front track, between the contact points")
    rear_track_mm: float = millimetres(200, 2500, "the rear track, between the contact points")
    kingpin_track_mm: float = millimetres(0, 2500, "the distance between the kingpin axes at the ground")
    mass_centre_behind_front_axle_mm: float = millimetres(1, 4000, "the mass centre's distance behind the front axle")
    mass_centre_height_mm: float = millimetres(20, 2000, "the mass centre's height")
    yaw_inertia_kg_m2: float = number(0.5, 2000, "about mass x 0.26 m2 for a small car with its driver")
    wheel_radius_mm: float = millimetres(50, 500, "the loaded wheel radius")
    tyre_width_mm: float = millimetres(5, 300, "the tyre's width", 50.0)
    drag_area_m2: float = number(0, 3, "0.05 is a full fairing, 0.5 an upright rider", 0.20)
    drive: Literal["one wheel left", "one wheel right", "differential", "solid axle"]
    wheel_mass_kg: float = number(0.1, 50, "give the mass of one front wheel with its tyre", 2.0)
    hands: HandsTable = HandsTable()
    kingpin: KingpinTable = KingpinTable()
    tyre: TyreTable = TyreTable()
    rear_tyre: TyreTable | None = None

    @model_validator(mode="after")
    def _geometry(self):
        if self.mass_centre_behind_front_axle_mm >= self.wheelbase_mm:
            raise ValueError(
                "mass_centre_behind_front_axle_mm|the mass centre lies outside the wheelbase "
                f"({self.mass_centre_behind_front_axle_mm:g} of {self.wheelbase_mm:g} mm)|it must lie between the axles"
            )
        if self.kingpin_track_mm > self.front_track_mm + KINGPIN_TRACK_EXCESS_MM:
            raise ValueError(
                f"kingpin_track_mm|the kingpin track ({self.kingpin_track_mm:g} mm) is wider than the front track "
                f"({self.front_track_mm:g} mm)|measure between the kingpin axes at the ground"
            )
        return self

    def car(self, air_density: float) -> Car:
        """The same figures in SI units; `air_density` [kg/m3] belongs to the course."""
        return Car(
            mass=self.mass_kg,
            wheelbase=self.wheelbase_mm * MILLIMETRE,
            front_track=self.front_track_mm * MILLIMETRE,
            rear_track=self.rear_track_mm * MILLIMETRE,
            front_arm=self.mass_centre_behind_front_axle_mm * MILLIMETRE,
            height=self.mass_centre_height_mm * MILLIMETRE,
            yaw_inertia=self.yaw_inertia_kg_m2,
            drag_area=self.drag_area_m2,
            air_density=air_density,
            drive=DRIVES.index(self.drive),
            front_tyre=self.tyre.tyre(),
            rear_tyre=(self.rear_tyre or self.tyre).tyre(),
        )


class StraightTable(Table):
    """A straight of a written course."""

    straight_m: float = number(0.1, 20_000, "give the straight's length in metres")


class ArcTable(Table):
    """A bend of constant radius; a positive turn is to the left."""

    radius_m: float = number(0.5, 20_000, "give the bend's radius in metres, above 0")
    turn_deg: float = number(-3600, 3600, "give the turn in degrees, positive to the left")

    @model_validator(mode="after")
    def _turns(self):
        if self.turn_deg == 0:
            raise ValueError("turn_deg|a bend must turn|write a straight instead")
        return self


class ClothoidTable(Table):
    """A bend that tightens or opens evenly, from the segment before to `to_radius_m` (left out: to straight)."""

    clothoid_m: float = number(0.1, 20_000, "give the clothoid's length in metres")
    to_radius_m: float | None = number(-20_000, 20_000, "give the radius at its end, positive to the left", None)

    @model_validator(mode="after")
    def _turns(self):
        if self.to_radius_m is not None and abs(self.to_radius_m) < 0.5:
            raise ValueError("to_radius_m|the radius is below 0.5 m|leave it out to end straight")
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
    Annotated[StraightTable, Tag("<straight>")]
    | Annotated[ArcTable, Tag("<arc>")]
    | Annotated[ClothoidTable, Tag("<clothoid>")],
    Discriminator(_segment_kind),
]


class CourseTable(Table):
    """Where the car drives: a file, or segments written here."""

    file: Text | None = None
    segments: tuple[Segment, ...] | None = Field(None, min_length=1, max_length=1000, strict=False)
    closed: bool = False
    scale: float = number(0.001, 1000, "1 leaves the course as it was recorded", 1.0)
    line_tolerance_m: float | None = number(0, 20, "give the smoothing tolerance in metres; leave it out for the usual", None)
    air_density_kg_per_m3: float = number(0.5, 1.6, "1.225 is sea level at 15 degrees C", 1.225)
    wind_m_per_s: float = number(0, 30, "give the wind's speed at the car's height in metres per second", 0.0)
    # As every angle: counter-clockwise from x, which in a GPX file is east; 0 blows towards the east, 90 towards the north.
    wind_towards_deg: float = number(-360, 360, "give the direction in which the wind blows, counter-clockwise from x (east)", 0.0)

    @model_validator(mode="after")
    def _one_source(self):
        if (self.file is None) == (self.segments is None):
            raise ValueError("|a course is either a file or segments|write one of the two")
        if self.segments is not None and self.scale != 1.0:
            raise ValueError("scale|only a course from a file is scaled|write the segments at the size you want")
        if self.segments is not None and self.line_tolerance_m is not None:
            raise ValueError("line_tolerance_m|only a course from a file is smoothed|leave it out")
        return self


Target = Annotated[
    Annotated[float, Field(ge=0.3, le=20, allow_inf_nan=False), Tag("<number>")] | Annotated[Literal["furthest"], Tag("<word>")],
    Discriminator(lambda value: "<word>" if isinstance(value, str) else "<number>"),
]


class PaceTable(Table):
    """How fast: the same plan for every set-up, so that what differs is the steering."""

    target_m_per_s: Target = Field(
        json_schema_extra={"remedy": 'give the speed in metres per second (7 m/s is 25 km/h), or "furthest" for the best race pace'}
    )
    policy: Literal["limits", "lift", "steady speed", "steady current"] = "limits"
    current_A: float | None = number(0.1, 2000, "give the motor current in amperes", None)
    lateral_limit_m_per_s2: float = number(0.1, 15, "3 is a brisk bend in a small car", 3.0)
    braking_limit_m_per_s2: float = number(0.1, 10, "1.5 is gentle braking", 1.5)
    drive_power_W: float = number(10, 50_000, "give the power at the driven wheels in watts", 600.0)
    start_m_per_s: float | None = number(0, 20, "0 is a standing start; leave it out to start rolling", None)
    laps: int = number(1, 100, "give the number of timed laps", 1)

    @model_validator(mode="after")
    def _current(self):
        if (self.policy == "steady current") != (self.current_A is not None):
            raise ValueError('current_A|the key belongs to policy "steady current" and to no other|add or leave out')
        if self.policy == "steady current" and self.target_m_per_s == "furthest":
            raise ValueError('target_m_per_s|"furthest" seeks a speed, but a steady current sets it|give a speed, or another policy')
        return self


class MotorTable(Table):
    """A permanent-magnet direct-current motor with its gear and controller."""

    winding_resistance_ohm: float = number(1e-4, 100, "measure it between the motor's terminals, or from the maker's sheet")
    torque_constant_N_m_per_A: float = number(1e-4, 10, "9.55 / (speed constant in rev/min per volt)")
    no_load_current_A: float = number(0, 200, "the current of the motor spinning free")
    gear_ratio: float = number(0.1, 200, "motor turns for one turn of the wheel")
    drive_efficiency: float = number(0.3, 1, "0.95 is one clean chain", 0.95)
    current_limit_A: float = number(0.5, 2000, "the controller's limit of the motor current")
    regenerates: bool = False


class BatteryTable(Table):
    """One block; `in_series` says how many of them."""

    nominal_voltage_V: float = number(1, 500, "of one block")
    in_series: int = number(1, 200, "the number of blocks in series", 1)
    internal_resistance_ohm: float = number(0, 10, "of one block; 0.01 is a 12 V block of this size", 0.01)
    rated_capacity_Ah: float = number(0.1, 2000, "as printed on the block, at the rated time")
    rated_time_h: float = number(0.05, 200, "20 is usual for lead-acid blocks", 20.0)
    peukert_exponent: float = number(1, 2, "1.05 to 1.3 for sealed lead-acid, 1.0 to 1.05 for lithium", 1.12)
    usable_share: float = number(0.05, 1, "1 drains the block; 0.8 is kinder to it", 0.9)


class RaceTable(Table):
    """What ends the race: time, or a number of laps."""

    duration_min: float | None = number(0.1, 10_000, "give the race's time in minutes", None)
    laps: int | None = number(1, 100_000, "give the race's laps", None)

    @model_validator(mode="after")
    def _one_end(self):
        if (self.duration_min is None) == (self.laps is None):
            raise ValueError("|a race ends either after a time or after a number of laps|write duration_min or laps")
        return self


LINKAGES = ("ideal", "parallel", "fraction", "cross rod", "centre arm", "rack")
_ARMS = {"arm_length_mm", "arm_angle_deg", "arm_joint_height_mm", "rod_turns_left", "rod_turns_right", "thread_pitch_mm"}
_ALWAYS = {"name", "pivot", "linkage", "toe_in_deg", "caster_deg", "hand_wheel_limit_deg"}
# The keys that a linkage reads beside those of every set-up, and those of them that it cannot do without.
_READS: dict[str | None, set[str]] = {
    None: set(),
    "ideal": {"kingpin_inclination_deg"},
    "parallel": {"kingpin_inclination_deg"},
    "fraction": {"kingpin_inclination_deg", "fraction"},
    "cross rod": {"kingpin_inclination_deg"} | _ARMS,
    "centre arm": {"kingpin_inclination_deg", "drop_arm_length_mm", "drop_arm_behind_front_axle_mm",
                   "drop_arm_joint_spacing_mm", "drop_arm_pivot_height_mm"} | _ARMS,
    "rack": {"kingpin_inclination_deg", "rack_behind_front_axle_mm", "rack_length_mm", "rack_mm_per_turn"} | _ARMS,
}  # fmt: skip
_NEEDS: dict[str | None, tuple[str, ...]] = {
    "fraction": ("fraction",),
    "cross rod": ("arm_length_mm", "arm_angle_deg"),
    "centre arm": ("arm_length_mm", "arm_angle_deg", "drop_arm_length_mm", "drop_arm_behind_front_axle_mm"),
    "rack": ("arm_length_mm", "arm_angle_deg", "rack_behind_front_axle_mm", "rack_length_mm", "rack_mm_per_turn"),
}


class SetupTable(Table):
    """One way to steer the same car."""

    name: Text
    pivot: Literal["stub axles", "turntable"]
    linkage: Literal["ideal", "parallel", "fraction", "cross rod", "centre arm", "rack"] | None = None
    fraction: float | None = number(-2, 2, "0 is parallel, 1 ideal, below 0 reversed", None)
    toe_in_deg: float = number(-10, 10, "give each wheel's toe-in in degrees", 0.0)
    kingpin_inclination_deg: float = number(-30, 30, "give the lean of the kingpin's top inwards in degrees", 0.0)
    caster_deg: float = number(-30, 30, "give the lean of the kingpin's top backwards in degrees", 0.0)
    hand_wheel_limit_deg: float | None = number(1, 1080, "give the most that the hand wheel turns, in degrees", None)
    arm_length_mm: float | None = millimetres(10, 600, "the arm from kingpin axis to ball joint, in plan", None)
    arm_angle_deg: float | None = number(-180, 180, "give the kink from straight back towards the centre line, in degrees", None)
    arm_joint_height_mm: float | None = millimetres(1, 1500, "the height of the arm's ball joint", None)
    drop_arm_length_mm: float | None = millimetres(5, 800, "the drop arm from column axis to joint", None)
    drop_arm_behind_front_axle_mm: float | None = millimetres(-1500, 1500, "the drop arm's joint behind the front axle", None)
    drop_arm_joint_spacing_mm: float = millimetres(0, 1000, "the distance between the two rods' joints", 0.0)
    drop_arm_pivot_height_mm: float | None = millimetres(1, 2000, "the height of the drop arm's pivot", None)
    rack_behind_front_axle_mm: float | None = millimetres(-1500, 1500, "the rack's joints behind the front axle", None)
    rack_length_mm: float | None = millimetres(10, 2000, "the rack's length between its joints", None)
    rack_mm_per_turn: float | None = millimetres(1, 1000, "the rack's travel in one turn of the hand wheel", None)
    rod_turns_left: float = number(-40, 40, "give the turns of the left rod end; positive lengthens the rod", 0.0)
    rod_turns_right: float = number(-40, 40, "give the turns of the right rod end; positive lengthens the rod", 0.0)
    thread_pitch_mm: float = millimetres(0.2, 6, "the thread's pitch (M8: 1.25)", 1.25)

    @model_validator(mode="after")
    def _keys_fit_the_linkage(self):
        if self.pivot == "turntable" and self.linkage is not None:
            raise ValueError("linkage|a turntable axle has no linkage between its wheels|leave the key out")
        if self.pivot == "stub axles" and self.linkage is None:
            raise ValueError(f"linkage|stub axles need a linkage|choose one of {', '.join(LINKAGES)}")
        owner = f'linkage "{self.linkage}"' if self.linkage else "a turntable axle"
        for key in type(self).model_fields:
            if key in self.model_fields_set and key not in self.keys_read:
                raise ValueError(f"{key}|{owner} does not use this key|leave it out")
        for key in _NEEDS.get(self.linkage, ()):
            if getattr(self, key) is None:
                raise ValueError(f"{key}|{owner} needs this key|add it")
        return self

    @property
    def keys_read(self) -> set[str]:
        """The keys that mean something for this set-up's pivot and linkage."""
        return _ALWAYS | _READS[self.linkage]

    @property
    def toe_in(self) -> float:
        """Toe-in of each wheel [rad]."""
        return radians(self.toe_in_deg)


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

    @model_validator(mode="after")
    def _parts_fit(self):
        if (self.motor is None) != (self.battery is None):
            there, missing = ("battery", "motor") if self.motor is None else ("motor", "battery")
            raise ValueError(f"{missing}|there is a {there} but no {missing}|add the table [{missing}] or leave [{there}] out")
        if self.race is not None and self.motor is None:
            raise ValueError("race|a race needs a motor and a battery|add the tables [motor] and [battery]")
        if self.pace.policy == "steady current" and self.motor is None:
            raise ValueError("pace.policy|a steady current needs a motor and a battery|add the tables [motor] and [battery]")
        if self.pace.target_m_per_s == "furthest" and (self.race is None or self.race.duration_min is None):
            raise ValueError('pace.target_m_per_s|"furthest" needs a race with a duration|add [motor], [battery] and [race]')
        if (self.race is not None or self.pace.target_m_per_s == "furthest") and not self.course.closed:
            raise ValueError("course.closed|a race goes round a closed course|write closed = true, or leave [race] out")
        return self

    def parts(self) -> tuple[Motor, Battery]:
        """Motor and battery in SI units, or those that stand for none."""
        if self.motor is None or self.battery is None:
            return NO_MOTOR, NO_BATTERY
        motor, block = self.motor, self.battery
        return (
            Motor(motor.winding_resistance_ohm, motor.torque_constant_N_m_per_A, motor.no_load_current_A, motor.current_limit_A,
                  motor.gear_ratio / (self.car.wheel_radius_mm * MILLIMETRE), motor.drive_efficiency, motor.regenerates),
            Battery(block.nominal_voltage_V * block.in_series, block.internal_resistance_ohm * block.in_series,
                    block.rated_capacity_Ah * HOUR, block.rated_time_h * HOUR, block.peukert_exponent, block.usable_share),
        )  # fmt: skip

    @model_validator(mode="after")
    def _names_differ(self):
        seen: set[str] = set()
        for index, setup in enumerate(self.setup):
            if setup.name.casefold() in seen:
                raise ValueError(f'setup[{index}].name|"{setup.name}" is the name of two set-ups|give each its own name')
            seen.add(setup.name.casefold())
        return self
