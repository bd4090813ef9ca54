"""What `sim.car.traction` does, with tyres of the brush law: each wheel's slip for its part of the wanted force, and what comes of it.

The slip along a wheel that leaves a wanted force has no closed form while the contact holds in part.  The passes over the loads find it
on the way: each takes one Newton step from where the one before stood.  Up to 0.4 of the grip along the wheel the last meets the wanted
force within QUICK_MISS; where it does not, the wheel counts as rare and is solved to rounding.  The force along is the wanted one in either
case, so that what is missed is the slip.  On the shipped courses side forces are those of slips that are exact in every pass within
1e-6 N as a rule and 0.02 N (1e-4) at most; on a solid axle 0.5 N at most, which is what three passes leave open by themselves there.
"""

from sim.car.brush import (
    STRAIGHT,
    along_exactly,
    along_sliding,
    along_step,
    bent_along,
    kept,
    kept_gripping,
    kept_moment,
    slides_whole,
    sliding_share,
)  # fmt: skip
from sim.car.rear_axle import CRAWL, axle_peripheral_speed, per_speed
from sim.car.traction import ALL, FIRST, LAST, PLAIN, SLIDING, Shared, force_wants
from sim.kernels.compiled import inlined

QUICK_MISS = 1e-6  # [-] of the grip: what a wheel's slip may miss of the wanted force; no more than the passes leave the loads wrong by
QUICK_AXLE_MISS = 1e-10  # [-] of the axle's grip: on a solid axle the force itself misses, and the ledger would show it
NO_GRIP = 1e-9  # [N] in the place of no grip at all, so that a wheel in the air divides by no 0


@inlined
def part_kept(sliding, cases):
    """`sim.car.brush.kept` as far as the cases go.  sliding : x [-]; cases : as for `sim.car.traction.share_force`."""
    return kept(sliding) if cases >= SLIDING else kept_gripping(sliding)


@inlined
def along_wanted(want, across, full, along, sliding, stage, cases):
    """Reach along a wheel that has a torque of its own, for its part of the wanted force.

    want : that part [N]; across : normalised slip across [-]; full : 3 mu N [N]
    along, sliding : normalised slip along and share of the contact that slides from which the pass goes on [-]
    stage : of LoadPass; cases : of `share_brush`
    Returns (normalised slip along [-], whether it misses by more than QUICK_MISS).
    """
    full = max(full, NO_GRIP)
    if stage == LAST:
        sliding = max(sliding_share(along, across), STRAIGHT)
    along = along_step(want, full, along, sliding)
    if cases >= SLIDING:
        share = 3.0 * want / full
        along = along_sliding(share, across) if slides_whole(share, across) else along
    along, missed = 0.0 if want == 0.0 else along, False
    if stage == LAST:
        missed = not 3.0 * abs(full * along * part_kept(sliding_share(along, across), cases) - want) <= QUICK_MISS * full
        if cases == ALL and missed:
            along, missed = along_exactly(3.0 * want / full, across), False
    return along, missed


@inlined
def held_gripping(along, across, full):
    """Force along a gripping wheel, and how fast it grows with its slip.

    along, across : normalised slips [-]; full : 3 mu N [N]
    Returns (force, slope by the normalised slip along) [N].  Source: see `sim.car.brush.bent_along`.
    """
    sliding = max(sliding_share(along, across), STRAIGHT)
    part = kept_gripping(sliding)
    return full * along * part, full * (part - bent_along(along, sliding) / sliding)


@inlined
def axle_step(wanted, axle, rates, speed, full, across):
    """One Newton step to the peripheral speed of a solid axle whose wheels grip.

    wanted : force of both wheels [N]; axle : speed from which the step is taken [m/s]
    rates : (2,) normalised slip along by the slip's speed [s/m]; speed : (2,) forward [m/s]; full : (2,) 3 mu N [N]
    across : (2,) normalised slips [-]
    Returns the next speed [m/s].  Source: the balance of one spin speed.
    """
    left, left_slope = held_gripping((axle - speed[0]) * rates[0], across[0], full[0])
    right, right_slope = held_gripping((axle - speed[1]) * rates[1], across[1], full[1])
    return axle - (left + right - wanted) / (left_slope * rates[0] + right_slope * rates[1])


@inlined
def axle_speed_quickly(wanted, axle, rates, speed, full, across, stage):
    """Peripheral speed of a solid axle whose wheels grip, as far as the passes bring it.

    wanted, rates, speed, full, across : as for `axle_step` [N], [s/m], [m/s], [-]
    axle : what the pass before found [m/s]; stage : FIRST, BETWEEN or LAST
    Returns the speed [m/s].  Source: begun in the first pass with the wheels as stiff as the side slip leaves them; a step of Newton's
    method in each pass, in the last two.
    """
    if stage == FIRST:
        left, right = full[0] * rates[0] * kept_gripping(abs(across[0])), full[1] * rates[1] * kept_gripping(abs(across[1]))
        axle = (wanted + (left * speed[0] + right * speed[1])) / max(left + right, NO_GRIP)
    axle = axle_step(wanted, axle, rates, speed, full, across)
    if stage == LAST:
        axle = axle_step(wanted, axle, rates, speed, full, across)
    return axle


@inlined
def share_brush(car, drive, brake, loads, speed, across, limit, before, cases):
    """Forces of the wheels for the wanted drive and brake force; what `sim.car.traction.share_force` does for the linear law.

    car, drive, brake, loads, speed, limit, cases : as there [N], [-], [m/s]
    across : (4,) normalised slips across of `sim.car.brush.normalised_side_slip` [-]
    before : LoadPass
    Returns Shared.  Source: as there, with the law of `sim.car.brush`.
    """
    front, rear, along, sliding, stage = car.front_tyre, car.rear_tyre, before.along, before.sliding, before.stage
    wants = force_wants(car, drive, brake, loads, limit, cases)
    solid, want = wants.solid, wants.force
    full = 3.0 * limit[0], 3.0 * limit[1], 3.0 * limit[2], 3.0 * limit[3]
    g0, m0 = along_wanted(want[0], across[0], full[0], along[0], sliding[0], stage, cases)
    g1, m1 = along_wanted(want[1], across[1], full[1], along[1], sliding[1], stage, cases)
    g2, m2 = along_wanted(want[2], across[2], full[2], along[2], sliding[2], stage, cases)
    g3, m3 = along_wanted(want[3], across[3], full[3], along[3], sliding[3], stage, cases)
    front_slip, rear_slip = 3.0 * front.friction / front.drive_stiffness, 3.0 * rear.friction / rear.drive_stiffness
    s0, s1, s2, s3 = g0 * front_slip, g1 * front_slip, g2 * rear_slip, g3 * rear_slip
    x0, x1, x2, x3 = sliding_share(g0, across[0]), sliding_share(g1, across[1]), sliding_share(g2, across[2]), sliding_share(g3, across[3])
    missed = False
    if cases > PLAIN:
        # A solid axle also turns a wheel in the air.
        axle_full, both, speeds, sides = (max(full[2], NO_GRIP), max(full[3], NO_GRIP)), want[2] + want[3], speed[2:], across[2:]
        rates = per_speed(speed[2]) / rear_slip, per_speed(speed[3]) / rear_slip
        axle = axle_speed_quickly(both, speed[2] + along[2] / rates[0], rates, speeds, axle_full, sides, stage)
        a2, a3 = (axle - speed[2]) * rates[0], (axle - speed[3]) * rates[1]
        y2, y3 = sliding_share(a2, across[2]), sliding_share(a3, across[3])
        if stage == LAST:
            force = full[2] * a2 * kept_gripping(y2) + full[3] * a3 * kept_gripping(y3)
            missed = not 3.0 * abs(force - both) <= QUICK_AXLE_MISS * (full[2] + full[3])
        if cases >= SLIDING:
            missed = missed | (not (y2 < 1.0)) | (not (y3 < 1.0))
        if cases == ALL and solid and missed:
            axle = axle_peripheral_speed(
                rear.brush, both, rear.drive_stiffness, loads[2:], speeds, (full[2] * across[2], full[3] * across[3]), limit[2:]
            )
            a2, a3, missed = (axle - speed[2]) * rates[0], (axle - speed[3]) * rates[1], False
            y2, y3 = sliding_share(a2, across[2]), sliding_share(a3, across[3])
        g2, g3, x2, x3 = a2 if solid else g2, a3 if solid else g3, y2 if solid else x2, y3 if solid else x3
        s2 = (axle - speed[2]) * per_speed(speed[2]) if solid else s2
        s3 = (axle - speed[3]) * per_speed(speed[3]) if solid else s3
    k0, k1, k2, k3 = part_kept(x0, cases), part_kept(x1, cases), part_kept(x2, cases), part_kept(x3, cases)
    f2, f3 = full[2] * g2 * k2, full[3] * g3 * k3
    rare = m0 | m1 | (missed if solid else m2 | m3)
    if cases < SLIDING:
        rare = rare | (not (max(max(x0, x1), max(x2, x3)) < 1.0))
    c0, c1, c2, c3 = full[0] * across[0], full[1] * across[1], full[2] * across[2], full[3] * across[3]
    return Shared(
        wants.delivered, want, (want[0], want[1], f2 if solid else want[2], f3 if solid else want[3]),
        (c0 * k0, c1 * k1, c2 * k2, c3 * k3), (s0, s1, s2, s3),
        (
            speed[0] + s0 * max(abs(speed[0]), CRAWL), speed[1] + s1 * max(abs(speed[1]), CRAWL),
            speed[2] + s2 * max(abs(speed[2]), CRAWL), speed[3] + s3 * max(abs(speed[3]), CRAWL),
        ),
        rare, (c0 * kept_moment(x0), c1 * kept_moment(x1), c2 * kept_moment(x2), c3 * kept_moment(x3)), (g0, g1, g2, g3),
        (max(x0, STRAIGHT), max(x1, STRAIGHT), max(x2, STRAIGHT), max(x3, STRAIGHT)),
    )  # fmt: skip
