"""The brush tyre: bristles that stand in a parabola of pressure, hold at the front of the contact and slide at its end.

Beside the linear law of `sim.car.tyre`, with the same figures: what that law would give is what the bristles ask for, and the part `kept`
of it is what they hold.

Derived here.  A bristle that has come as far as z of the contact length 2 a_c behind its front is bent by z times the slip, so it
asks for a force per length that grows as z; the pressure, and with it the most it can hold, is that of a parabola, 3 mu N z (2 a_c -
z) / (4 a_c^3).  The two are equal at z = 2 a_c (1 - x), with

    x = hypot(c_x N kappa, C a + C_g camber) / (3 mu N),

the share of the contact that slides.  The sums over both parts are, times mu N, 1 - (1 - x)^3 = 3 x (1 - x + x^2 / 3) for the force and,
about the middle of the contact, x (1 - x)^3 a_c for the moment; at x = 1 all of it slides and mu N is left.  Both point the way in which
the bristles are bent; with unlike stiffnesses along and across that is not quite the way of the slip, and sliding bristles are taken to
keep it, as the friction circle of the linear law does.  At small slip the moment is a_c / 3 times the side force: the pneumatic trail is a
sixth of the contact length.  Slips are those over the forward speed, as in the linear law; taken over the rolling speed instead they
would differ by the share kappa of themselves, about 1 %.  The moment of a force along a tyre that is bent sideways is left out.

The force is smooth through full sliding, two derivatives included.  Source of the law: Pacejka, Tire and Vehicle Dynamics, ch. 3 (from
memory); combined slip as in M. Gafvert, J. Svendenius, TFRT-7606, Lund 2003, sect. 2 (its contents seen, its formulas not read).
"""

from math import sqrt

from sim.car.tyre import NOTHING, Tyre, side_share
from sim.kernels.compiled import inlined, kernel

# A wheel whose bristles are not bent at all: where a quotient would be 0 / 0, this makes it 0.  Any number does that squared still counts.
STRAIGHT = 1e-150
# Newton's steps from no slip at all: nine leave rounding alone up to 0.98 of the grip, whatever the side slip (tried), and fewer as a rule.
SLIP_STEPS, SETTLED = 12, 1e-15

ALL_SLIDES = 2.0  # [-] excess of the linear side force over the brush's where all of the contact slides: three times the grip


@inlined
def normalised_side_slip(tyre, load, nominal_load, slip, camber):
    """How far the side slip alone bends the bristles: linear side force over 3 mu N, with its sign.

    tyre : Tyre; load, nominal_load : [N]; slip : lateral slip a [rad]; camber : [rad]
    Returns the normalised slip across [-]; the contact slides altogether from a size of 1 on.  Source: the module's text.
    """
    return side_share(tyre, load, nominal_load, slip, camber) * (1.0 / (3.0 * tyre.friction))


@inlined
def kept_gripping(sliding):
    """Part of the linear force that a contact keeps which does not slide altogether, 1 - x + x^2 / 3.

    sliding : share x of the contact that slides, 0 to 1 [-]
    Returns the part [-].  Source: the module's text.
    """
    return 1.0 - sliding * (1.0 - sliding * (1.0 / 3.0))


@inlined
def kept(sliding):
    """Part of the linear force that the contact keeps; from x = 1 on the grip itself, 1 / (3 x).

    sliding : x, 0 or more [-]
    Returns the part [-].  Source: the module's text.
    """
    return kept_gripping(sliding) if sliding < 1.0 else 1.0 / (3.0 * max(sliding, 1.0))


@inlined
def kept_moment(sliding):
    """Part of the linear aligning moment that the contact keeps, (1 - x)^3, 0 where all of it slides.

    sliding : x, 0 or more [-]
    Returns the part [-].  Source: the module's text.
    """
    sticks = 1.0 - min(sliding, 1.0)
    return sticks * sticks * sticks


@inlined
def sliding_share(along, across):
    """Share x of the contact that slides.  along, across : linear forces over 3 mu N [-]."""
    return sqrt(along * along + across * across)


@inlined
def bent_along(along, sliding):
    """How much the force along a gripping wheel gives way as it grows, (1 - 2 x / 3) along^2, times 1 / x.

    along : normalised slip along [-]; sliding : share x of the contact that slides [-]
    Returns the product x times that [-].  Source: slope of along (1 - x + x^2 / 3) by the normalised slip along is
    (1 - x + x^2 / 3) less it over x.
    """
    return (1.0 - sliding * (2.0 / 3.0)) * along * along


@inlined
def along_step(wanted, full, along, sliding):
    """One Newton step to the normalised slip along the wheel that leaves a wanted force, while the contact does not slide altogether.

    wanted : force along [N]; full : 3 mu N, above 0 [N]; along : normalised slip along from which the step is taken [-]
    sliding : share x of the contact that slides there, at least STRAIGHT [-]
    Returns the next normalised slip along [-].  Source: full along (1 - x + x^2 / 3) = wanted, and its slope, see `bent_along`; one
    quotient.
    """
    bent = bent_along(along, sliding)
    return (wanted * sliding - full * bent * along) / (full * (kept_gripping(sliding) * sliding - bent))


@inlined
def slides_whole(share, across):
    """Whether a wheel that gives a wanted force slides altogether.  share : force along over mu N; across : normalised slip across [-]."""
    return across * across >= 1.0 - share * share


@inlined
def along_sliding(share, across):
    """Reach along a wheel that slides altogether and gives a wanted force.

    share : force along over mu N, below 1 in size; otherwise what comes out means nothing [-]; across : normalised slip across [-]
    Returns the normalised slip along [-].  Source: the two parts of the force are to each other as the slips.
    """
    return share * abs(across) / sqrt(max(1.0 - share * share, NOTHING))


@kernel
def along_exactly(share, across):
    """Reach along the wheel that leaves a wanted force, to rounding.

    share : force along over mu N, at most `sim.car.traction.GRIP_SHARE` in size [-]; across : normalised slip across [-]
    Returns the normalised slip along [-].  Source: Newton's method from no slip; the force is concave in the slip, so that no step goes
    too far.
    """
    if slides_whole(share, across):
        return along_sliding(share, across)
    along = 0.0
    for _ in range(SLIP_STEPS):
        before = along
        along = along_step(share, 3.0, along, max(sliding_share(along, across), STRAIGHT))
        if abs(along - before) <= SETTLED:
            break
    return along


def slip_of_excess(tyre: Tyre, excess: float) -> float:
    """Slip at which the linear law's side force lies above the brush's by a share of the latter, nothing being driven or leaning.

    tyre : Tyre, whose figures at the nominal load count; excess : the share, 0 or more [-]
    Returns the slip a [rad].  Source: 1 / (1 - x + x^2 / 3) = 1 + excess solved for x; past x = 1 the linear law meets the grip itself.
    """
    part = 1.0 / (1.0 + excess)
    sliding = 1.5 - sqrt(2.25 - 3.0 * (1.0 - part)) if part > 1.0 / 3.0 else 1.0
    return 3.0 * tyre.friction * sliding / tyre.cornering_stiffness
