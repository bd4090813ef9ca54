"""The car with its driver, tyres, hands, kingpins, motor and battery, as a person writes them."""

from collections.abc import Mapping
from math import nan, pi
from typing import Any, Literal, Self

from pydantic import model_validator

from sim.car.chassis import DRIVES, Car
from sim.car.tyre import LAW_TYPES, Tyre
from sim.keys import Instead, Key
from sim.scenario.tables import MILLIMETRE, Table, TableError, millimetres, number

# A kingpin track wider than the front track is a negative kingpin offset; beyond this the keys have been mixed up.
KINGPIN_TRACK_EXCESS_MM = 100.0
# Yaw inertia of a small car with its driver over its mass: as if all of it stood half a metre from the middle.  A judgement. [m2]
YAW_INERTIA_PER_MASS = 0.26
# Keys of a car that can be each fine and not fit together.
FITTING = ("mass_centre_behind_front_axle_mm", "wheelbase_mm", "kingpin_track_mm", "front_track_mm")


# Fourteen bicycle tyres of this width, pressure and load: A. E. Dressel, Measuring and Modeling the Mechanical Properties of Bicycle
# Tires, dissertation, University of Wisconsin-Milwaukee, 2013 (abstract: normalised stiffness below 0.15 to over 0.35, camber stiffness
# below 0.0075 to over 0.015; of its unit, a degree, we are sure by the size).  The defaults are the middle. [1/rad]
MEASURED_STIFFNESS, MEASURED_CAMBER_STIFFNESS = (8.6, 20.0), (0.43, 0.86)


class RearTyreTable(Table):
    """Figures of an axle's tyres; they are coefficients, so one set serves wheels of any load."""

    cornering_stiffness_per_rad: float = number(1, 60, "bicycle tyres of this size lie at 8.6 to 20 per rad", 14.0, (5, 30))
    # Above 0.3 the stiffness of a wheel that carries the whole car would turn negative.
    load_sensitivity: float = number(0, 0.3, "0 is none; 0.3 is the most that keeps every stiffness positive", 0.0)
    # Common practice: the same order as the cornering stiffness; no measured figure was read.
    drive_stiffness_per_unit_slip: float = number(1, 100, "a bicycle-size tyre lies near 15", 15.0, (5, 40))
    relaxation_length_mm: float = millimetres(10, 2000, "the relaxation length (70 to 300 is usual)", 120.0, (40, 500))
    pneumatic_trail_mm: float = millimetres(0, 100, "the pneumatic trail (6 to 25 is usual)", 15.0, (0, 50))
    camber_stiffness_per_rad: float = number(0, 5, "0 leaves camber thrust out; 0.43 to 0.86 was measured", 0.64, (0, 2))
    # Accident logs of school electric race cars: 0.9 to 1.0 dry, 0.4 soaking (cauc-f24.org, B. Carter, seen).
    friction: float = number(0.05, 2, "0.9 is dry asphalt, 0.4 soaking wet", 0.9, (0.2, 1.2))
    # Bicycle tyres 0.003 to 0.010, small scooter tyres 0.008 to 0.015 (kb.shoelace.biz, scootify.eco, seen); 0.008 is a judgement.
    rolling_resistance: float = number(0, 0.1, "give a coefficient; 0.004 to 0.015 is usual", 0.008, (0.002, 0.03))

    def tyre(self, law: str) -> Tyre:
        """The same figures in SI units.  law : the law of the car's tyres, one of LAWS."""
        return Tyre(
            cornering_stiffness=self.cornering_stiffness_per_rad,
            load_sensitivity=self.load_sensitivity,
            drive_stiffness=self.drive_stiffness_per_unit_slip,
            relaxation_length=self.relaxation_length_mm * MILLIMETRE,
            pneumatic_trail=self.pneumatic_trail_mm * MILLIMETRE,
            camber_stiffness=self.camber_stiffness_per_rad,
            friction=self.friction,
            rolling_resistance=self.rolling_resistance,
            brush=LAW_TYPES[law],
        )


class TyreTable(RearTyreTable):
    """The tyres of all wheels, or of the front ones where the rear ones have figures of their own; the law is that of all of them."""

    law: Literal["linear", "brush"] = "linear"


class HandsTable(Table):
    """The driver's hands on the wheel: a spring and a damper.  Judgements; nobody publishes them for such cars."""

    stiffness_N_m_per_rad: float = number(0, 1000, "10 is a loose grip, 40 a firm one", 20.0)
    damping_N_m_s_per_rad: float = number(0, 100, "1 is a loose grip, 3 a firm one", 1.5)
    inertia_kg_m2: float = number(0.001, 10, "0.05 is a small hand wheel with two arms", 0.05)


class KingpinTable(Table):
    """The flat washer on which the car rests on its kingpins."""

    washer_outer_mm: float = millimetres(2, 300, "the washer's outer diameter", 34.0, (12, 90))
    washer_inner_mm: float = millimetres(1, 299, "the washer's inner diameter", 17.0, (5, 70))
    # Both frictions: common practice, no source.
    friction_dry: float = number(0, 1, "0.2 is dry steel on bronze", 0.2)
    friction_greased: float = number(0, 1, "0.1 is greased", 0.1)

    @model_validator(mode="after")
    def _ring(self) -> Self:
        if self.washer_inner_mm >= self.washer_outer_mm:
            raise TableError("washer_inner_mm", "the hole is as large as the washer", "give the inner diameter, then the outer one")
        return self


def _scale(place: str, usual: float, where: str) -> Key:
    return Key(f"{place}_load_kg", 1, 1000, f"give what the scale {where} shows, in kg, with the driver on board", usual=usual,
               common=(5.0, 200.0), measure=f"the scale {where}: level floor, driver on board")  # fmt: skip


FRONT_AXLE, REAR_AXLE = _scale("front_axle", 66.0, "under the front axle"), _scale("rear_axle", 79.0, "under the rear axle")
WHEEL_SCALES = tuple(
    _scale(f"{end}_{side}", usual, f"under the {end} {side} wheel")
    for end, usual in (("front", 33.0), ("rear", 39.5)) for side in ("left", "right")
)  # fmt: skip
THREE_TURNS = Key("three_wheel_turns_mm", 900, 9500, "give how far the car rolls in three turns of a wheel, in millimetres",
                  usual=3825.0, common=(2200.0, 6700.0),
                  measure="chalk a front tyre, roll the car with its driver for three turns, measure the way")  # fmt: skip


def _mass_and_place(front: float, rear: float, wheelbase: float) -> tuple[float, float]:
    """Mass [kg] and its place behind the front axle [mm] by both axles' loads; wheelbase [mm].  Source: moments about the front axle."""
    return front + rear, wheelbase * rear / (front + rear)


def _by_axles(values: Mapping[str, float]) -> tuple[float, float]:
    return _mass_and_place(values[FRONT_AXLE.name], values[REAR_AXLE.name], values["wheelbase_mm"])


def _by_wheels(values: Mapping[str, float]) -> tuple[float, float]:
    front, rear = (sum(values[key.name] for key in WHEEL_SCALES if key.name.startswith(end)) for end in ("front", "rear"))
    return _mass_and_place(front, rear, values["wheelbase_mm"])


def _axle_loads(values: Mapping[str, float]) -> tuple[float, float]:
    mass, place = (values[key] for key in _MASS_KEYS)
    rear = mass * place / values["wheelbase_mm"]
    return mass - rear, rear


def _wheel_loads(values: Mapping[str, float]) -> tuple[float, float, float, float]:
    front, rear = _axle_loads(values)  # the mass stands in the middle, so both sides carry alike
    return front / 2, front / 2, rear / 2, rear / 2


def _rolled_radius(values: Mapping[str, float]) -> tuple[float]:
    """The radius whose circumference was rolled three times [mm]; a tyre's loaded radius differs by a hundredth or two, a judgement."""
    return (values[THREE_TURNS.name] / (3 * 2 * pi),)


_MASS_KEYS = ("mass_kg", "mass_centre_behind_front_axle_mm")
AXLES = Instead((FRONT_AXLE, REAR_AXLE), _MASS_KEYS, _by_axles, _axle_loads, ("wheelbase_mm",))
WHEELS = Instead(WHEEL_SCALES, _MASS_KEYS, _by_wheels, _wheel_loads, ("wheelbase_mm",))
ROLL_OUT = Instead((THREE_TURNS,), ("wheel_radius_mm",), _rolled_radius, lambda values: (3 * 2 * pi * values["wheel_radius_mm"],))


def _usual_yaw_inertia(table: dict[str, Any]) -> float:
    return YAW_INERTIA_PER_MASS * table.get("mass_kg", nan)  # a car of lengths alone, as steering takes it, has no mass


class CarTable(Table):
    """The car with its driver on board."""

    mass_kg: float = number(40, 1000, "give the mass in kg with the driver", common=(80, 260))
    wheelbase_mm: float = millimetres(500, 4000, "the wheelbase", common=(800, 2300), usual=1500.0,
                                      measure="front axle to rear axle, along the car, wheels straight ahead")  # fmt: skip
    front_track_mm: float = millimetres(
        200, 2500, "the front track, between the contact points", common=(450, 1400), usual=900.0,
        measure="between the middles of both front tyres where they touch the ground, straight ahead",
    )  # fmt: skip
    rear_track_mm: float = millimetres(200, 2500, "the rear track, between the contact points", common=(200, 1400), usual=860.0,
                                       measure="between the middles of both rear tyres where they touch the ground")  # fmt: skip
    kingpin_track_mm: float = millimetres(
        0, 2500, "the distance between the kingpin axes at the ground", common=(300, 1300), usual=740.0,
        measure="between both kingpins' axes, carried on straight to the ground (a rod held along each bolt)",
    )  # fmt: skip
    mass_centre_behind_front_axle_mm: float = millimetres(1, 4000, "the mass centre's distance behind the front axle", common=(200, 1700))
    mass_centre_height_mm: float = millimetres(
        20, 2000, "the mass centre's height", common=(150, 700), usual=330.0,
        measure="ground to the middle of all weight with the driver: near the driver's belly button",
    )  # fmt: skip
    yaw_inertia_kg_m2: float = number(0.5, 2000, "about mass x 0.26 m2 for a small car with its driver", _usual_yaw_inertia, (10, 130))
    wheel_radius_mm: float = millimetres(50, 500, "the loaded wheel radius", common=(120, 360))
    tyre_width_mm: float = millimetres(5, 300, "the tyre's width", 50.0, (15, 130), "a tyre's width, across its tread")
    drag_area_m2: float = number(
        0, 3, "0.05 is a full fairing, 0.5 an upright rider", 0.20, (0.03, 0.9),
        "air drag: 0.05 is a full fairing, 0.2 a low open car, 0.5 an upright rider; `scrubwise coast` finds it",
    )  # fmt: skip
    drive: Literal["one wheel left", "one wheel right", "differential", "solid axle"]
    wheel_mass_kg: float = number(0.1, 50, "give the mass of one front wheel with its tyre", 2.0, (0.5, 10))
    hands: HandsTable = HandsTable()
    kingpin: KingpinTable = KingpinTable()
    tyre: TyreTable = TyreTable()
    rear_tyre: RearTyreTable | None = None

    @classmethod
    def instead(cls) -> tuple[Instead, ...]:
        return AXLES, WHEELS, ROLL_OUT

    @model_validator(mode="after")
    def _lengths_fit(self) -> Self:
        self.check_lengths()
        return self

    def check_lengths(self) -> None:
        """Raise TableError where the keys of FITTING, each fine by itself, do not fit together."""
        if self.mass_centre_behind_front_axle_mm >= self.wheelbase_mm:
            problem = (
                "the mass centre lies outside the wheelbase "
                f"({self.mass_centre_behind_front_axle_mm:g} of {self.wheelbase_mm:g} mm)"
            )  # fmt: skip
            raise TableError("mass_centre_behind_front_axle_mm", problem, "it must lie between the axles")
        if self.kingpin_track_mm > self.front_track_mm + KINGPIN_TRACK_EXCESS_MM:
            problem = f"the kingpin track ({self.kingpin_track_mm:g} mm) is wider than the front track ({self.front_track_mm:g} mm)"
            raise TableError("kingpin_track_mm", problem, "measure between the kingpin axes at the ground")

    @property
    def wheelbase(self) -> float:
        """The wheelbase [m]."""
        return self.wheelbase_mm * MILLIMETRE

    @property
    def front_track(self) -> float:
        """The front track, between the contact points [m]."""
        return self.front_track_mm * MILLIMETRE

    @property
    def rear_track(self) -> float:
        """The rear track, between the contact points [m]."""
        return self.rear_track_mm * MILLIMETRE

    @property
    def kingpin_track(self) -> float:
        """The distance between the kingpin axes at the ground [m]."""
        return self.kingpin_track_mm * MILLIMETRE

    @property
    def wheel_radius(self) -> float:
        """The loaded wheel radius [m]."""
        return self.wheel_radius_mm * MILLIMETRE

    @property
    def tyre_width(self) -> float:
        """The tyres' width [m]."""
        return self.tyre_width_mm * MILLIMETRE

    def car(self, air_density: float) -> Car:
        """The same figures in SI units; `air_density` [kg/m3] belongs to the course."""
        return Car(
            mass=self.mass_kg,
            wheelbase=self.wheelbase,
            front_track=self.front_track,
            rear_track=self.rear_track,
            front_arm=self.mass_centre_behind_front_axle_mm * MILLIMETRE,
            height=self.mass_centre_height_mm * MILLIMETRE,
            yaw_inertia=self.yaw_inertia_kg_m2,
            drag_area=self.drag_area_m2,
            air_density=air_density,
            drive=DRIVES.index(self.drive),
            front_tyre=self.tyre.tyre(self.tyre.law),
            rear_tyre=(self.rear_tyre or self.tyre).tyre(self.tyre.law),
        )


class MotorTable(Table):
    """A permanent-magnet direct-current motor with its gear and controller."""

    winding_resistance_ohm: float = number(
        1e-4, 100, "measure it between the motor's terminals, or from the maker's sheet", common=(0.005, 3)
    )
    torque_constant_N_m_per_A: float = number(1e-4, 10, "9.55 / (speed constant in rev/min per volt)", common=(0.01, 2))
    no_load_current_A: float = number(0, 200, "the current of the motor spinning free", common=(0.05, 15))
    gear_ratio: float = number(0.1, 200, "motor turns for one turn of the wheel", common=(0.8, 40))
    drive_efficiency: float = number(0.3, 1, "0.95 is one clean chain", 0.95, (0.7, 1))
    current_limit_A: float = number(0.5, 2000, "the controller's limit of the motor current", common=(5, 400))
    regenerates: bool = False
    freewheel: bool = True

    @model_validator(mode="before")
    @classmethod
    def _held_by_braking(cls, data: Any) -> Any:
        """A motor that brakes the wheels is never free of them: unless it is given, there is no freewheel then."""
        if isinstance(data, dict) and data.get("regenerates") is True and "freewheel" not in data:
            return data | {"freewheel": False}
        return data

    @model_validator(mode="after")
    def _brakes_or_rolls_free(self) -> Self:
        if self.regenerates and self.freewheel:
            problem = "a motor behind a freewheel cannot brake the wheels, so it cannot regenerate"
            raise TableError("freewheel", problem, "set freewheel = false, or regenerates = false")
        return self


class BatteryTable(Table):
    """One block; `in_series` says how many of them."""

    nominal_voltage_V: float = number(1, 500, "of one block", common=(2, 100))
    in_series: int = number(1, 200, "the number of blocks in series", 1)
    # A judgement; the block's maker prints its own.
    internal_resistance_ohm: float = number(0, 10, "of one block; 0.01 is a 12 V block of this size", 0.01)
    rated_capacity_Ah: float = number(0.1, 2000, "as printed on the block, at the rated time", common=(1, 250))
    rated_time_h: float = number(0.05, 200, "20 is usual for lead-acid blocks", 20.0)
    peukert_exponent: float = number(1, 2, "1.05 to 1.3 for sealed lead-acid, 1.0 to 1.05 for lithium", 1.12, (1, 1.4))
    usable_share: float = number(0.05, 1, "1 drains the block; 0.8 is kinder to it", 0.9, (0.3, 1))
