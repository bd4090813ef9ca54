"""Who drives and who brakes: the wanted force shared among the wheels, and the friction circle."""

from typing import NamedTuple

from sim.car.chassis import ONE_WHEEL_LEFT, ONE_WHEEL_RIGHT, SOLID_AXLE
from sim.car.rear_axle import CRAWL, axle_peripheral_speed, axle_speed_inside, axle_stiffness, per_speed
from sim.car.tyre import NOTHING, force_before_limit, friction_scale, slides
from sim.kernels.compiled import inlined

# The part of a wheel's grip that the driver may ask for along the wheel; at the whole of it the drive slip would be unbounded.
GRIP_SHARE = 0.98

# Which cases are worked out.  A processor's lanes run the common one side by side and mark where it did not hold; PLAIN is COMMON for
# cars of which none has a solid axle.
PLAIN, COMMON, SLIDING, ALL = range(4)


NONE = (0.0, 0.0, 0.0, 0.0)
# Which of the passes over the loads it is: the first has nothing to go on from, the last has to meet what is wanted.  Whole numbers would
# have the pieces compiled for each pass by itself; these are folded away all the same.
FIRST, BETWEEN, LAST = 0.0, 1.0, 2.0


class LoadPass(NamedTuple):
    """Which pass over the loads it is, and where the one before left a brush's contacts; fours in the order of `chassis.WHEELS`."""

    stage: float  # FIRST, BETWEEN or LAST
    along: tuple  # normalised slips along [-]
    sliding: tuple  # shares of the contacts that slide [-]


class Shared(NamedTuple):
    """Longitudinal forces of the wheels; fours in the order of `chassis.WHEELS`."""

    delivered: float  # drive force [N]
    want: tuple  # each wheel's part of the drive or brake force, inside its grip [N]
    longitudinal: tuple  # after the friction limit [N]
    lateral: tuple  # [N]
    slip: tuple  # drive slip [-]
    peripheral: tuple  # speed of the tread [m/s]
    rare: bool  # something was not worked out
    twisting: tuple  # what the pneumatic trail works on [N]
    along: tuple  # of a brush: its normalised slip along, and the share of the contact that slides, from which the next pass goes on [-]
    sliding: tuple


class Wants(NamedTuple):
    """The wanted force shared among the wheels; fours in the order of `chassis.WHEELS`."""

    delivered: float  # drive force [N]
    part: float  # of each driven wheel [N]
    front_brake: float  # force per load [-]
    rear_brake: float  # [-]
    drives: bool
    solid: bool  # a solid axle that is worked out
    force: tuple  # each wheel's part of the drive or brake force, inside its grip [N]


@inlined
def limited(force, limit):
    """A force cut to a limit.  force : [N]; limit : its largest size [N]."""
    return min(max(force, -limit), limit)


@inlined
def side_held(lateral, limit):
    """A lateral force cut to the wheel's grip.  lateral, limit : mu N [N]."""
    return limited(lateral, limit) if slides(0.0, lateral, limit) else lateral


@inlined
def wheel_slip(want, plain, stiff, lateral, limit, cases):
    """Force along a wheel that has a torque of its own, for its part of the wanted force.

    want : its part of the wanted force [N]; plain : drive slip that gives it to a wheel that does not slide [-]
    stiff : force per drive slip [N]
    lateral : before the limit [N]; limit : mu N [N]; cases : PLAIN, COMMON, SLIDING or ALL
    Returns (force before the limit [N], drive slip [-]).  Source: drive slip is force over stiffness.
    """
    before, slip = want, 0.0 if want == 0.0 else plain
    if cases >= SLIDING and slides(want, lateral, limit) and want != 0.0:
        before = force_before_limit(want, lateral, limit)
        slip = before / stiff
    return before, slip


@inlined
def axle_slip(solid, axle, force, slip, drive_stiffness, load, speed):
    """A rear wheel's force and slip on a solid axle, or else what it has of its own.

    solid : whether it is on one; axle : peripheral speed [m/s]; force, slip : of `wheel_slip` [N], [-]
    drive_stiffness [-]; load [N]; speed : forward, of the contact point [m/s]
    Returns (force before the limit [N], drive slip [-]).  A solid axle also turns a wheel in the air: it hangs on the same axle.
    """
    along = axle - speed
    return (
        axle_stiffness(drive_stiffness, load, speed) * along if solid else force,
        along * per_speed(speed) if solid else slip,
    )


@inlined
def held(force, lateral, limit, cases):
    """Factor of the friction limit, and whether it was left out.  force, lateral : before the limit [N]; limit [N]; cases : as there."""
    if cases >= SLIDING:
        return friction_scale(force, lateral, limit), False
    return 1.0, slides(force, lateral, limit)


@inlined
def force_wants(car, drive, brake, loads, limit, cases):
    """Which part of the wanted force each wheel is to give.

    car, drive, brake, loads, limit, cases : as for `share_force` [N], [-]
    Returns Wants.  Source: equal torques of a differential are textbook statics.
    """
    front_brake = limited(brake, GRIP_SHARE * car.front_tyre.friction)
    rear_brake = limited(brake, GRIP_SHARE * car.rear_tyre.friction)
    solid, drives = cases > PLAIN and car.drive == SOLID_AXLE, drive > 0.0
    one_left, one_right = car.drive == ONE_WHEEL_LEFT, car.drive == ONE_WHEEL_RIGHT
    both = limit[2] + limit[3] if solid else 2.0 * min(limit[2], limit[3])
    grip = limit[2] if one_left else (limit[3] if one_right else both)
    delivered = min(drive, GRIP_SHARE * grip) if drives else 0.0
    part = delivered if one_left or one_right else 0.5 * delivered
    front_left, front_right = front_brake * loads[0], front_brake * loads[1]
    rear_left = (0.0 if one_right else part) if drives else rear_brake * loads[2]
    rear_right = (0.0 if one_left else part) if drives else rear_brake * loads[3]
    return Wants(delivered, part, front_brake, rear_brake, drives, solid, (front_left, front_right, rear_left, rear_right))


@inlined
def share_force(car, drive, brake, loads, speed, lateral, limit, cases):
    """Longitudinal forces of the wheels after the friction limit, for the wanted drive and brake force.

    car : Car
    drive : wanted force of the driven wheels, 0 or more [N]
    brake : wanted force of each brake per load of its wheel, 0 or less [-]; one of the two is 0
    loads, speed, lateral : (4,) load [N], forward speed of the contact point [m/s], lateral force before the limit [N]
    limit : (4,) mu N [N]
    cases : PLAIN and COMMON leave out a wheel that slides, SLIDING a solid axle with one; what was left out makes it `rare`
    Returns Shared.  Source: equal torques of a differential and one spin speed of a solid axle are textbook statics.
    """
    front, stiffness = car.front_tyre.drive_stiffness, car.rear_tyre.drive_stiffness
    wants = force_wants(car, drive, brake, loads, limit, cases)
    front_left, front_right, rear_left, rear_right = wants.force
    front_brake, rear_brake, drives, solid = wants.front_brake, wants.rear_brake, wants.drives, wants.solid
    stiff2, stiff3 = stiffness * loads[2], stiffness * loads[3]
    if cases == ALL:  # a wheel in the air has none
        stiff2, stiff3 = max(stiff2, NOTHING), max(stiff3, NOTHING)
    # The slip of a braked wheel is the same whatever its load, so that one division does for both.
    over = wants.part if drives else rear_brake
    plain, plain2, plain3 = front_brake / front, over / (stiff2 if drives else stiffness), over / (stiff3 if drives else stiffness)
    axle, rare = 0.0, False
    if cases == ALL:
        if solid:
            axle = axle_peripheral_speed(
                car.rear_tyre.brush, rear_left + rear_right, stiffness, (loads[2], loads[3]), (speed[2], speed[3]),
                (lateral[2], lateral[3]), (limit[2], limit[3]),
            )  # fmt: skip
    elif cases > PLAIN:
        # What `axle_peripheral_speed` starts from, and leaves it at where neither wheel slides.
        axle, _ = axle_speed_inside(rear_left + rear_right, stiffness, (loads[2], loads[3]), (speed[2], speed[3]))
    f0, s0 = wheel_slip(front_left, plain, front * loads[0], lateral[0], limit[0], cases)
    f1, s1 = wheel_slip(front_right, plain, front * loads[1], lateral[1], limit[1], cases)
    f2, s2 = wheel_slip(rear_left, plain2, stiff2, lateral[2], limit[2], cases)
    f3, s3 = wheel_slip(rear_right, plain3, stiff3, lateral[3], limit[3], cases)
    f2, s2 = axle_slip(solid, axle, f2, s2, stiffness, loads[2], speed[2])
    f3, s3 = axle_slip(solid, axle, f3, s3, stiffness, loads[3], speed[3])
    k0, r0 = held(f0, lateral[0], limit[0], cases)
    k1, r1 = held(f1, lateral[1], limit[1], cases)
    k2, r2 = held(f2, lateral[2], limit[2], cases)
    k3, r3 = held(f3, lateral[3], limit[3], cases)
    if cases == SLIDING:
        rare = solid & (slides(f2, lateral[2], limit[2]) | slides(f3, lateral[3], limit[3]))
    held_sides = lateral[0] * k0, lateral[1] * k1, lateral[2] * k2, lateral[3] * k3
    return Shared(
        wants.delivered, wants.force, (f0 * k0, f1 * k1, f2 * k2, f3 * k3), held_sides, (s0, s1, s2, s3),
        (
            speed[0] + s0 * max(abs(speed[0]), CRAWL), speed[1] + s1 * max(abs(speed[1]), CRAWL),
            speed[2] + s2 * max(abs(speed[2]), CRAWL), speed[3] + s3 * max(abs(speed[3]), CRAWL),
        ),
        rare | r0 | r1 | r2 | r3, held_sides, NONE, NONE,
    )  # fmt: skip
