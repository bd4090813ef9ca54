"""A solid axle: one spin speed for both rear wheels, whose forces after the friction limit add up to what is wanted."""

from sim.car.brush import kept, sliding_share
from sim.car.tyre import friction_scale, slides
from sim.kernels.compiled import inlined, kernel

# Below this forward speed [m/s] rolling resistance and drive slip are taken as proportional to speed, so that both stay finite.
CRAWL = 0.02
AXLE_MISS = 1e-13  # [-] of the axle's grip, by which the sum of the two forces may miss: rounding alone makes a tenth of it
AXLE_SOLVE_STEPS = 60  # bisection would need 52 to reach the last bit; Newton's steps inside the bracket need far fewer


@inlined
def axle_stiffness(drive_stiffness, load, speed):
    """Force of one wheel per peripheral speed, before the limit.  drive_stiffness [-]; load [N]; speed : forward [m/s].

    Returns [N s/m].  Source: drive slip is the difference of speeds over the forward speed.
    """
    return drive_stiffness * load * per_speed(speed)


@inlined
def per_speed(speed):
    """One over a forward speed's size, held at that of CRAWL.  speed [m/s]."""
    return 1.0 / max(abs(speed), CRAWL)


@inlined
def axle_speed_inside(wanted, drive_stiffness, loads, speed):
    """Peripheral speed of a solid axle neither of whose wheels slides.

    wanted, drive_stiffness, loads, speed : as for `axle_peripheral_speed` [N], [-], [N], [m/s]
    Returns (speed [m/s], force of both wheels per peripheral speed [N s/m], 0 with both wheels in the air).  Source: as there.
    """
    left, right = axle_stiffness(drive_stiffness, loads[0], speed[0]), axle_stiffness(drive_stiffness, loads[1], speed[1])
    total = left + right
    rolling = left * speed[0] + right * speed[1]
    return 0.5 * (speed[0] + speed[1]) if total == 0.0 else (wanted + rolling) / total, total


@inlined
def wheel_hold(brush, before, lateral, limit):
    """Part of the linear force that one wheel holds, and by how much of a growth of the part along it grows.

    brush : LINEAR or BRUSH; before, lateral : linear forces along and across [N]; limit : mu N [N]
    Returns (part [-], slope [-]).  Source: on the circle d/dF (F m / hypot(F, L)) = m L^2 / hypot^3; the brush's as in
    `sim.car.brush.along_step` until all of the contact slides, on the circle from there on.
    """
    square = before * before + lateral * lateral
    if brush is None:
        scale = friction_scale(before, lateral, limit)
        return scale, scale if scale == 1.0 else scale * lateral * lateral / square
    sliding = sliding_share(before, lateral) / (3.0 * limit) if limit > 0.0 else 1.0
    scale = kept(sliding) if limit > 0.0 else 0.0
    if sliding >= 1.0:
        return scale, scale * lateral * lateral / max(square, 1e-300)
    return scale, scale - (sliding - sliding * sliding * (2.0 / 3.0)) * before * before / max(square, 1e-300)


@kernel
def axle_force(brush, peripheral, drive_stiffness, loads, speed, lateral, limit):
    """Force of a solid axle's two wheels after the friction limit, and how fast it grows.

    brush, drive_stiffness, loads, speed, lateral, limit : as for `axle_peripheral_speed`
    peripheral : speed V of both treads [m/s]
    Returns (force [N], slope by V [N s/m]).  Source: the sum of both wheels' forces.
    """
    force = slope = 0.0
    for i in range(2):
        stiffness = axle_stiffness(drive_stiffness, loads[i], speed[i])
        before = stiffness * (peripheral - speed[i])
        scale, grows = wheel_hold(brush, before, lateral[i], limit[i])
        force += before * scale
        slope += stiffness * grows
    return force, slope


@kernel
def axle_peripheral_speed(brush, wanted, drive_stiffness, loads, speed, lateral, limit):
    """Peripheral speed V of a solid axle whose wheels' forces after the friction limit add up to the wanted force.

    brush : the tyres' law, LINEAR or BRUSH; wanted : force of both wheels, inside what they can hold [N]
    drive_stiffness : force per load and drive slip [-]; loads : (2,) [N]
    speed : (2,) forward speeds of the contact points [m/s]
    lateral : (2,) lateral forces before the limit [N]
    limit : (2,) mu N [N]
    Returns V [m/s].  Source: balance of one spin speed, derived here.  Newton's method inside a bracket; the sum grows with V.
    """
    peripheral, total = axle_speed_inside(wanted, drive_stiffness, loads, speed)
    left = axle_stiffness(drive_stiffness, loads[0], speed[0]) * (peripheral - speed[0])
    right = axle_stiffness(drive_stiffness, loads[1], speed[1]) * (peripheral - speed[1])
    grips = brush is None and not (slides(left, lateral[0], limit[0]) or slides(right, lateral[1], limit[1]))
    if total == 0.0 or grips:
        return peripheral
    low = high = 0.0
    bracketed = False
    for _ in range(AXLE_SOLVE_STEPS):
        force, slope = axle_force(brush, peripheral, drive_stiffness, loads, speed, lateral, limit)
        miss = force - wanted
        if abs(miss) <= AXLE_MISS * (limit[0] + limit[1]):
            break
        if not bracketed:
            # Without the limits the sum moves by `total` a m/s; the limits only slow it, so the bracket grows until it holds.
            reach = abs(miss) / total
            low, high = peripheral - reach, peripheral + reach
            for _ in range(AXLE_SOLVE_STEPS):
                edge = high if miss < 0 else low
                there, _ = axle_force(brush, edge, drive_stiffness, loads, speed, lateral, limit)
                if (there - wanted) * miss <= 0:
                    break
                reach *= 2.0
                if miss < 0:
                    high = peripheral + reach
                else:
                    low = peripheral - reach
            bracketed = True
        if miss < 0:
            low = peripheral
        else:
            high = peripheral
        step = peripheral - miss / slope if slope > 0 else low
        peripheral = step if low < step < high else 0.5 * (low + high)
    return peripheral
