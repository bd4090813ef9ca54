"""The tyre: linear with a relaxation length, held inside the friction circle.  Floats in, floats out.  `sim.car.brush` is the other law.

Axes of a wheel (ISO 8855): x the way it points, y to its left.  `slip` is the lateral slip a, positive for a force to the left.
"""

from math import sqrt
from typing import NamedTuple

from sim.kernels.compiled import inlined

# The law of a car's tyres.  They are of unlike types, so that kernels are compiled for each law by itself, when a car first asks for it:
# neither waits for the other's compiler nor does the other's arithmetic.  The pieces look with `is None`, which drops the rest.
LINEAR, BRUSH = None, True
LAW_TYPES: dict[str, bool | None] = {"linear": LINEAR, "brush": BRUSH}
LAWS = tuple(LAW_TYPES)

# In the place of nothing at all, so that what is worked out and then thrown away divides by no 0 and takes no root below it; any number
# does whose inverse, squared, can still be multiplied by forces.  [N2], [N] or [-]
NOTHING = 1e-100


class Tyre(NamedTuple):
    """Figures of one axle's tyres, SI; a named tuple because kernels read its fields by name."""

    cornering_stiffness: float  # c, force per load and slip at the nominal load [1/rad]
    load_sensitivity: float  # k [-]
    drive_stiffness: float  # c_x, force per load and drive slip [-]
    relaxation_length: float  # s [m]
    pneumatic_trail: float  # [m]
    camber_stiffness: float  # force per load and camber [1/rad]
    friction: float  # mu [-]
    rolling_resistance: float  # C_rr [-]
    brush: bool | None  # LINEAR or BRUSH, the same on both axles


@inlined
def stiffness_law(tyre, nominal_load):
    """Cornering stiffness per load as steady - falling x load: what does not change with the load, (c (1 + k), c k / N_0).

    tyre, nominal_load : as for `cornering_stiffness` [N]
    Returns (steady [1/rad], falling [1/(N rad)]).  Source: as there, sorted by powers of the load.
    """
    return tyre.cornering_stiffness * (1.0 + tyre.load_sensitivity), tyre.cornering_stiffness * (tyre.load_sensitivity / nominal_load)


@inlined
def cornering_stiffness(tyre, load, nominal_load):
    """Cornering stiffness of one wheel, C = c N (1 - k (N/N_0 - 1)).

    tyre : Tyre
    load : wheel load N [N]
    nominal_load : N_0, a quarter of the car's weight [N]
    Returns C [N/rad].  Source: first-order load sensitivity about the nominal load, the common form; common practice, no source.
    """
    steady, falling = stiffness_law(tyre, nominal_load)
    return load * (steady - falling * load)


@inlined
def side_share(tyre, load, nominal_load, slip, camber):
    """Lateral force per load before the friction limit.

    tyre, load, nominal_load, slip, camber : as for `lateral_force` [N], [rad]
    Returns F_y / N [-].  Source: as there.
    """
    steady, falling = stiffness_law(tyre, nominal_load)
    # What the load does not change stands together, so that it is worked out once for all passes over the loads.
    return (steady * slip + tyre.camber_stiffness * camber) - falling * slip * load


@inlined
def lateral_force(tyre, load, nominal_load, slip, camber):
    """Lateral force before the friction limit, F_y = C a + C_g camber.

    tyre : Tyre
    load, nominal_load : [N]
    slip : lateral slip a [rad]
    camber : lean of the wheel's top to the left [rad]
    Returns F_y, positive to the left [N].  Holds below about 0.02 rad, where a brush gives a tenth less at the usual stiffness and dry
    grip (`sim.car.brush.slip_of_excess`).  Source: linear tyre, e.g. Pacejka, Tire and Vehicle Dynamics, ch. 1 (from memory).
    """
    return load * side_share(tyre, load, nominal_load, slip, camber)


@inlined
def relaxation_rate(slip, forward_speed, side_speed, relaxation_length):
    """Rate of the lateral slip, s da/dt = -v_y - |v_x| a.

    slip : lateral slip a [rad]
    forward_speed, side_speed : velocity of the contact point in wheel axes [m/s]
    relaxation_length : s, above 0 [m]
    Returns da/dt [rad/s]; finite at standstill.  Source: first-order relaxation, Pacejka, Tire and Vehicle Dynamics, ch. 7
    (from memory).
    """
    return (-side_speed - abs(forward_speed) * slip) * (1.0 / relaxation_length)


@inlined
def slides(longitudinal, lateral, limit):
    """Whether a force lies outside the friction circle.  longitudinal, lateral, limit : [N]."""
    return longitudinal * longitudinal + lateral * lateral > limit * limit


@inlined
def friction_scale(longitudinal, lateral, limit):
    """Factor that brings a force onto the friction circle: 1 inside, below 1 outside.

    longitudinal, lateral : wheel force before the limit [N]
    limit : mu N [N]
    Returns the factor for both parts [-].  Source: friction circle, textbook form; both parts scaled alike.
    """
    return limit / sqrt(longitudinal * longitudinal + lateral * lateral) if slides(longitudinal, lateral, limit) else 1.0


@inlined
def force_before_limit(longitudinal, lateral, limit):
    """The longitudinal force before the friction limit that leaves the wanted one after it.

    longitudinal : wanted force after the limit, smaller than `limit` in size; otherwise what comes out means nothing [N]
    lateral : lateral force before the limit [N]
    limit : mu N [N]
    Returns the force before the limit [N].  Source: derived here: scaling keeps the ratio of the two parts, and the wanted part
    F on the circle leaves sqrt(limit^2 - F^2) for the other.
    """
    if slides(longitudinal, lateral, limit):
        return longitudinal * abs(lateral) / sqrt(max(limit * limit - longitudinal * longitudinal, NOTHING))
    return longitudinal
