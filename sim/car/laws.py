"""What the car's motion asks of its tyres' law: the linear one of `sim.car.tyre` and `sim.car.traction`, or the brush of `sim.car.brush`.

Each piece takes the law first, LINEAR or BRUSH; the other's text is dropped when a kernel is compiled.  `sides` is what the law carries
of the side slip through a pass: the linear side force before the limit [N], or a brush's normalised slip across [-].
"""

from sim.car.brush import STRAIGHT, normalised_side_slip
from sim.car.brush_traction import part_kept, share_brush
from sim.car.traction import FIRST, SLIDING, share_force, side_held
from sim.car.tyre import lateral_force
from sim.kernels.compiled import inlined


@inlined
def side_of(brush, tyre, load, nominal_load, slip, camber):
    """One wheel's `sides`.  brush : the law; tyre : Tyre; load, nominal_load [N]; slip, camber [rad]."""
    if brush is None:
        return lateral_force(tyre, load, nominal_load, slip, camber)
    return normalised_side_slip(tyre, load, nominal_load, slip, camber)


@inlined
def sliding_before(brush, sliding, sides, stage):
    """Shares of the contacts that slide, from which a pass goes on; in the first those of the side slip alone.

    brush : the law; sliding : (4,) of the pass before [-]; sides : (4,); stage : of `sim.car.traction.LoadPass`
    """
    if brush is None:
        return sliding
    if stage == FIRST:
        return (
            max(abs(sides[0]), STRAIGHT), max(abs(sides[1]), STRAIGHT), max(abs(sides[2]), STRAIGHT), max(abs(sides[3]), STRAIGHT)
        )  # fmt: skip
    return sliding


@inlined
def side_forces(brush, sides, limit, sliding, cases):
    """Side forces from which the driver's demand is reckoned, before it is known what each wheel drives or brakes with.

    brush : the law; sides : (4,); limit : (4,) mu N [N]; sliding : of `sliding_before` [-]; cases : as for `share_by_law`
    Returns (4,) [N].
    """
    if brush is None:
        if cases >= SLIDING:
            return (
                side_held(sides[0], limit[0]), side_held(sides[1], limit[1]), side_held(sides[2], limit[2]), side_held(sides[3], limit[3]),
            )  # fmt: skip
        return sides
    return (
        3.0 * limit[0] * sides[0] * part_kept(sliding[0], cases), 3.0 * limit[1] * sides[1] * part_kept(sliding[1], cases),
        3.0 * limit[2] * sides[2] * part_kept(sliding[2], cases), 3.0 * limit[3] * sides[3] * part_kept(sliding[3], cases),
    )  # fmt: skip


@inlined
def share_by_law(brush, car, drive, brake, loads, speed, sides, limit, before, cases):
    """Forces of the wheels for the wanted drive and brake force.

    brush : the law; sides : as above
    car, drive, brake, loads, speed, limit, before, cases : as for `sim.car.brush_traction.share_brush` [N], [-], [m/s]
    Returns Shared.
    """
    if brush is None:
        return share_force(car, drive, brake, loads, speed, sides, limit, cases)
    return share_brush(car, drive, brake, loads, speed, sides, limit, before, cases)
