"""How hard one pulls to turn a wheel on its greased or dry washer: what a luggage scale shows where nothing binds."""

from dataclasses import dataclass

import numpy as np

from sim.car.chassis import GRAVITY, axle_loads
from sim.linkages.pivots import LEFT, SIDES, FrontWheel
from sim.scenario.car import KingpinTable
from sim.scenario.scenario import Scenario
from sim.scenario.tables import MILLIMETRE
from sim.steering.arrangement import Steering
from sim.steering.kickback import washer_arm
from sim.study.ready import car_of


@dataclass(frozen=True)
class Pull:
    """The pull that just turns a wheel, or a turntable's axle, on its flat washer.

    load_N : that the washer carries [N]
    arm_mm : from the axis to the line of the pull [mm]
    greased_N, dry_N : pull with the washer's two frictions [N]
    """

    load_N: float
    arm_mm: float
    greased_N: float
    dry_N: float


def pull_arm(wheel: FrontWheel, place: np.ndarray, direction: np.ndarray) -> float:
    """Torque about a wheel's axis for each newton that pulls at a place.

    wheel : FrontWheel; place : (3,) in car axes [m]; direction : (3,) of the pull, of length one [-]
    Returns the arm's size [m].  Source: moment of a force about an axis, axis . ((place - point of the axis) x direction); mechanics.
    """
    return abs(float(wheel.axis @ np.cross(place - wheel.axis_point, direction)))


def washer_pull(wheel: FrontWheel, load: float, arm: float, kingpin: KingpinTable) -> Pull:
    """The pull that just overcomes a washer.

    wheel : whose axis it is; load : upright, that the washer carries [N]; arm : of the pull about the axis [m]; kingpin : its washer
    Returns Pull.  Source: flat collar under uniform pressure, torque = friction x load along the axis x `washer_arm`.  The washer alone:
    the bolt's side in its bush rubs too, and a nut that clamps adds to the load; both are what the measuring finds.
    """
    inner, outer = kingpin.washer_inner_mm * MILLIMETRE, kingpin.washer_outer_mm * MILLIMETRE
    rubbing = load * float(wheel.axis[2]) * washer_arm(inner, outer, worn=False)
    return Pull(load, arm / MILLIMETRE, kingpin.friction_greased * rubbing / arm, kingpin.friction_dry * rubbing / arm)


def pulls(scenario: Scenario, steering: Steering) -> tuple[Pull, Pull]:
    """The pull with the car on its wheels, driver on board, and with its front end on stands, the rods off or the ropes slack.

    scenario : the car; steering : Steering
    Returns (on its wheels, on stands): at the foremost point of one tyre as high as its hub, square to the wheel; of a turntable axle at
    one wheel's hub, along the car.  On the stands the washer carries the wheel alone, or both wheels [N].
    """
    car, kingpin, wheel = car_of(scenario), scenario.car.kingpin, steering.wheels[LEFT]
    on_wheels, hanging = axle_loads(car)[0], scenario.car.wheel_mass_kg * GRAVITY * len(SIDES)
    if steering.kind.axle:
        arm = pull_arm(wheel, wheel.centre, np.array([1.0, 0.0, 0.0]))
        shares = 1
    else:
        arm = pull_arm(wheel, wheel.centre + np.array([wheel.radius, 0.0, 0.0]), np.array([0.0, 1.0, 0.0]))
        shares = len(SIDES)
    return washer_pull(wheel, on_wheels / shares, arm, kingpin), washer_pull(wheel, hanging / shares, arm, kingpin)
