"""The edge of the steering: what the user wrote of a car and a set-up becomes a front end in SI units, here and nowhere else."""

from sim.linkages.front_end import Arms, FrontEnd, RodEnds, Stance, in_si
from sim.linkages.pivots import FrontWheel, stub_axles, turntable_axle
from sim.scenario.car import CarTable
from sim.scenario.setup import SetupTable


def arms_of(setup: SetupTable) -> Arms:
    """The arm of each wheel.  setup : SetupTable with arms.  Returns Arms [m], [rad]."""
    return in_si(Arms, setup.value_of)


def front_end(setup: SetupTable, car: CarTable) -> FrontEnd:
    """Wheels on their axes, and all numbers of the linkage.

    setup, car : what the user wrote
    Returns FrontEnd [m], [rad]; without a linkage both wheels stand on one axle.
    """
    stance, kingpin_track = in_si(Stance, setup.value_of), car.kingpin_track
    wheels: tuple[FrontWheel, FrontWheel]
    if setup.kind.axle:
        wheels, kingpin_track = turntable_axle(car.front_track, car.wheel_radius, stance.caster, stance.toe_in), 0.0
    else:
        wheels = stub_axles(car.front_track, kingpin_track, car.wheel_radius, stance.inclination, stance.caster)
    arms = arms_of(setup)
    own: object = in_si(setup.kind.own, setup.value_of)
    return FrontEnd(wheels, kingpin_track, car.wheelbase, stance, (arms, arms), in_si(RodEnds, setup.value_of), own)
