"""Who drives and who brakes: the wanted force shared among the wheels, and the friction circle."""

from typing import NamedTuple

from sim.chassis import DIFFERENTIAL, ONE_WHEEL_LEFT, ONE_WHEEL_RIGHT, SOLID_AXLE
from sim.inlined import piece
from sim.rear_axle import AXLE_MISS, CRAWL, axle_peripheral_speed, axle_speed_inside, axle_stiffness
from sim.tyre import force_before_limit, friction_scale, slides

# The part of a wheel's grip that the driver may ask for along the wheel; at the whole of it the drive slip would be unbounded.
GRIP_SHARE = 0.98

# How much of what is rare is worked out.  A processor's lanes run the common case side by side and are told where it did not hold.
COMMON, SLIDING, ALL = 0, 1, 2


class Shared(NamedTuple):
    """Longitudinal forces of the wheels; fours in the order of `chassis.WHEELS`."""

    delivered: float  # drive force [N]
    want: tuple  # each wheel's part of the drive or brake force, inside its grip [N]
    longitudinal: tuple  # after the friction limit [N]
    lateral: tuple  # [N]
    slip: tuple  # drive slip [-]
    peripheral: tuple  # speed of the tread [m/s]
    rare: bool  # something was not worked out


@piece
def limited(force, limit):
    """A force cut to a limit.  force : [N]; limit : its largest size [N]."""
    return min(max(force, -limit), limit)


@piece
def wheel_slip(axle, on_axle, want, stiff, speed, lateral, limit, effort):
    """One wheel's force along it, for its part of the wanted force.

    axle : peripheral speed of a solid axle [m/s]; on_axle : whether the wheel is on one
    want : its part of the wanted force [N]; stiff : force per drive slip [N]; speed : forward, of the contact point [m/s]
    lateral : before the limit [N]; limit : mu N [N]; effort : COMMON, SLIDING or ALL
    Returns (force before the limit [N], drive slip [-], factor of the friction limit [-], whether COMMON left it out).
    Source: drive slip is force over stiffness.
    """
    before = want
    if effort != COMMON:
        before = force_before_limit(want, lateral, limit)
    # A solid axle also turns a wheel in the air: it hangs on the same axle.
    slip = (axle - speed) / max(abs(speed), CRAWL) if on_axle else (0.0 if want == 0.0 else before / stiff)
    before = stiff * slip if on_axle else (0.0 if want == 0.0 else before)
    if effort != COMMON:
        return before, slip, friction_scale(before, lateral, limit), False
    return before, slip, 1.0, slides(before, lateral, limit)


@piece
def share_force(car, drive, brake, loads, speed, lateral, limit, effort):
    """Longitudinal forces of the wheels after the friction limit, for the wanted drive and brake force.

    car : Car
    drive : wanted force of the driven wheels, 0 or more [N]
    brake : wanted force of all brakes, 0 or less, shared by load [N]; one of the two is 0
    loads, speed, lateral : (4,) load [N], forward speed of the contact point [m/s], lateral force before the limit [N]
    limit : (4,) mu N [N]
    effort : COMMON leaves out a wheel that slides, SLIDING a solid axle with one; what was left out is told
    Returns Shared.  Source: equal torques of a differential and one spin speed of a solid axle are textbook statics.
    """
    brake_share = brake / (loads[0] + loads[1] + loads[2] + loads[3])
    front_left = limited(brake_share * loads[0], GRIP_SHARE * limit[0])
    front_right = limited(brake_share * loads[1], GRIP_SHARE * limit[1])
    rear_left = limited(brake_share * loads[2], GRIP_SHARE * limit[2])
    rear_right = limited(brake_share * loads[3], GRIP_SHARE * limit[3])
    solid, drives = car.drive == SOLID_AXLE, drive > 0.0
    one_left, one_right = car.drive == ONE_WHEEL_LEFT, car.drive == ONE_WHEEL_RIGHT
    both = 2.0 * min(limit[2], limit[3]) if car.drive == DIFFERENTIAL else limit[2] + limit[3]
    grip = limit[2] if one_left else (limit[3] if one_right else both)
    delivered = min(drive, GRIP_SHARE * grip) if drives else 0.0
    part = delivered if one_left or one_right else 0.5 * delivered
    rear_left = (0.0 if one_right else part) if drives else rear_left
    rear_right = (0.0 if one_left else part) if drives else rear_right
    rears, speeds, stiffness = (loads[2], loads[3]), (speed[2], speed[3]), car.rear_tyre.drive_stiffness
    axle, rare = 0.0, False
    if effort == ALL:
        if solid:
            axle = axle_peripheral_speed(
                rear_left + rear_right, stiffness, rears, speeds, (lateral[2], lateral[3]), (limit[2], limit[3])
            )
    else:
        # The first step of `axle_peripheral_speed`, and what that looks at before it ends there.
        axle, _ = axle_speed_inside(rear_left + rear_right, stiffness, rears, speeds)
        left = axle_stiffness(stiffness, loads[2], speed[2]) * (axle - speed[2])
        right = axle_stiffness(stiffness, loads[3], speed[3]) * (axle - speed[3])
        missed = abs(left + right - (rear_left + rear_right)) > AXLE_MISS * (limit[2] + limit[3])
        rare = solid & (missed | slides(left, lateral[2], limit[2]) | slides(right, lateral[3], limit[3]))
    front = car.front_tyre.drive_stiffness
    f0, s0, k0, r0 = wheel_slip(axle, False, front_left, front * loads[0], speed[0], lateral[0], limit[0], effort)
    f1, s1, k1, r1 = wheel_slip(axle, False, front_right, front * loads[1], speed[1], lateral[1], limit[1], effort)
    f2, s2, k2, r2 = wheel_slip(axle, solid, rear_left, stiffness * loads[2], speed[2], lateral[2], limit[2], effort)
    f3, s3, k3, r3 = wheel_slip(axle, solid, rear_right, stiffness * loads[3], speed[3], lateral[3], limit[3], effort)
    return Shared(
        delivered, (front_left, front_right, rear_left, rear_right), (f0 * k0, f1 * k1, f2 * k2, f3 * k3),
        (lateral[0] * k0, lateral[1] * k1, lateral[2] * k2, lateral[3] * k3), (s0, s1, s2, s3),
        (
            speed[0] + s0 * max(abs(speed[0]), CRAWL), speed[1] + s1 * max(abs(speed[1]), CRAWL),
            speed[2] + s2 * max(abs(speed[2]), CRAWL), speed[3] + s3 * max(abs(speed[3]), CRAWL),
        ),
        rare | r0 | r1 | r2 | r3,
    )  # fmt: skip
