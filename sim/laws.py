"""What the car's motion asks of its tyres' law: the linear one of `sim.tyre` and `sim.sharing`, or the brush of `sim.brush`.

Each piece takes the law first, LINEAR or BRUSH; the other's text is dropped when a kernel is compiled.  `sides` is what the law carries
of the side slip through a pass: the linear side force before the limit [N], or a brush's reach across [-].
"""

from sim.brush import across_reach
from sim.brush_sharing import kept_before, share_brush
from sim.inlined import piece
from sim.sharing import SLIDING, share_force, side_held
from sim.tyre import lateral_force


@piece
def side_of(brush, tyre, load, nominal_load, slip, camber):
    """One wheel's `sides`.  brush : the law; tyre : Tyre; load, nominal_load [N]; slip, camber [rad]."""
    if brush is None:
        return lateral_force(tyre, load, nominal_load, slip, camber)
    return across_reach(tyre, load, nominal_load, slip, camber)


@piece
def kept_parts(brush, before, sides, stage, effort):
    """Parts of the linear force from which a pass goes on.

    brush : the law; before : (4,) of the pass before [-]; sides : (4,); stage, effort : as for `sim.brush_sharing.share_brush`
    """
    if brush is None:
        return before
    return (
        kept_before(before[0], sides[0], stage, effort), kept_before(before[1], sides[1], stage, effort),
        kept_before(before[2], sides[2], stage, effort), kept_before(before[3], sides[3], stage, effort),
    )  # fmt: skip


@piece
def side_forces(brush, sides, limit, before, effort):
    """Side forces from which the driver's wish is reckoned, before it is known what each wheel drives or brakes with.

    brush : the law; sides : (4,); limit : (4,) mu N [N]; before : of `kept_parts` [-]; effort : as there
    Returns (4,) [N].
    """
    if brush is None:
        if effort >= SLIDING:
            return (
                side_held(sides[0], limit[0]), side_held(sides[1], limit[1]), side_held(sides[2], limit[2]), side_held(sides[3], limit[3]),
            )  # fmt: skip
        return sides
    return (
        3.0 * limit[0] * sides[0] * before[0], 3.0 * limit[1] * sides[1] * before[1], 3.0 * limit[2] * sides[2] * before[2],
        3.0 * limit[3] * sides[3] * before[3],
    )  # fmt: skip


@piece
def share_by_law(brush, car, drive, brake, loads, speed, sides, limit, before, stage, effort):
    """Forces of the wheels for the wanted drive and brake force.

    brush : the law; sides, before : as above
    car, drive, brake, loads, speed, limit, stage, effort : as for `sim.brush_sharing.share_brush` [N], [-], [m/s]
    Returns Shared.
    """
    if brush is None:
        return share_force(car, drive, brake, loads, speed, sides, limit, effort)
    return share_brush(car, drive, brake, loads, speed, sides, limit, before, stage, effort)
