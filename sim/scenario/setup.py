"""One way to steer, as a person writes it."""

from math import radians
from typing import Literal, Self

from pydantic import model_validator

from sim.scenario.tables import Table, TableError, Text, millimetres, number


LINKAGES = ("ideal", "parallel", "fraction", "cross rod", "centre arm", "rack")
_ARMS = {"arm_length_mm", "arm_angle_deg", "arm_joint_height_mm", "rod_turns_left", "rod_turns_right", "thread_pitch_mm",
         "least_rod_angle_deg"}  # fmt: skip
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
    # A judgement: at 15 degrees half a millimetre of play turns a wheel on an arm of a hand's length by a degree, and its rod carries
    # four times what it does when square.  Textbooks ask 40 to 50 of machines (from memory); for a hand no published value was found.
    least_rod_angle_deg: float = number(1, 60, "give the least angle between a rod and its arm, in degrees", 15.0)

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
        for key in _NEEDS.get(self.linkage, ()):
            if getattr(self, key) is None:
                raise TableError(key, f"{owner} needs this key", "add it")
        return self

    @property
    def keys_read(self) -> set[str]:
        """The keys that mean something for this set-up's pivot and linkage."""
        return _ALWAYS | _READS[self.linkage]

    @property
    def toe_in(self) -> float:
        """Toe-in of each wheel [rad]."""
        return radians(self.toe_in_deg)

    @property
    def least_rod_angle(self) -> float:
        """Angle between a rod and its arm at which the usable lock ends [rad]."""
        return radians(self.least_rod_angle_deg)
