"""Ways to drive the same lap in the same time: which one takes the least energy."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sim.car.chassis import Car
from sim.course.centreline import Course
from sim.pace.driver import FASTEST, Pace, PacePlan, plan_pace

POLICIES = {
    "limits": "brake late, drive up to the speed again",
    "lift": "lift before a bend, coast downhill; brake only where a descent would pass a bend's limit",
    "steady speed": "one speed all round, that of the tightest bend at most",
    "steady current": "one motor current, braking where a bend asks for it",
}
TIME_SHARE = 1e-4  # to which a lap's planned time is met; a team's watch shows no less
HALVINGS = 50
SLOWEST = 0.3  # [m/s]; from it to FASTEST a target speed is sought, as in the scenario's bounds


@dataclass(frozen=True)
class PacedPlan:
    """One policy's plan for a lap time."""

    policy: str
    pace: Pace
    plan: PacePlan
    meets_time: bool  # False where the policy cannot be as fast


def plans_for_time(course: Course, car: Car, pace: Pace, lap_time: float) -> list[PacedPlan]:
    """A plan of each policy that takes a lap time.

    course : Course; car : Car; pace : Pace, whose limits all policies share; lap_time : to meet [s]
    Returns one PacedPlan a policy; without a motor there is no steady current.
    """
    found = []
    for policy in POLICIES:
        if policy == "steady current":
            if car.motor.torque_constant == 0:
                continue
            most = car.motor.current_limit
            make = _steady_current(pace)
            found.append(_met(course, car, policy, make, max(car.motor.no_load_current, 1e-3), most, lap_time))
        else:
            make = _target(pace, policy)
            found.append(_met(course, car, policy, make, SLOWEST, FASTEST, lap_time))
    return found


def _target(pace: Pace, policy: str) -> Callable[[float], Pace]:
    return lambda speed: replace(pace, policy=policy, target=speed, current=None)


def _steady_current(pace: Pace) -> Callable[[float], Pace]:
    return lambda current: replace(pace, policy="steady current", target=FASTEST, current=current)


def _met(course: Course, car: Car, policy: str, make: Callable[[float], Pace], low: float, high: float, lap_time: float) -> PacedPlan:
    """Halve the range until the plan takes the lap time; more speed or current takes less of it."""
    fastest = plan_pace(course, car, make(high))
    if fastest.time > lap_time * (1 + TIME_SHARE):
        return PacedPlan(policy, make(high), fastest, False)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        plan = plan_pace(course, car, make(middle))
        if np.abs(plan.time / lap_time - 1) <= TIME_SHARE:
            return PacedPlan(policy, make(middle), plan, True)
        low, high = (middle, high) if plan.time > lap_time else (low, middle)
    return PacedPlan(policy, make(high), plan_pace(course, car, make(high)), True)
