"""Sine, cosine and arc tangent in plain arithmetic: a processor's lanes work them out side by side, bit for bit as one by one.

A library's functions would be called car by car, and differ in the last bit from one system to the next.
"""

from math import pi

from sim.kernels.compiled import inlined

# Adding and taking away this number rounds to a whole one: its last bit is worth 1.
ROUNDER = 6755399441055744.0
# A quarter turn in two parts: the first ends in zeros, so that its product with a count of quarter turns below a million is exact.
QUARTER_TURN = 1.5707963267341256
QUARTER_TURN_REST = 6.077100506506192e-11
EIGHTH_TANGENT = 0.41421356237309503  # tan(pi / 8)
STEEP_TANGENT = 2.414213562373095  # tan(3 pi / 8)


@inlined
def sine_cosine(angle):
    """Sine and cosine.

    angle : below a million in size [rad]
    Returns (sine, cosine) [-], both within 2e-16; exactly (0, 1) at 0.  Source: reduction to an eighth of a turn, there Chebyshev
    interpolation of sin(a)/a and cos(a) in a^2, derived here (what is left is below 2e-17).
    """
    count = (angle * (2.0 / pi) + ROUNDER) - ROUNDER
    a = (angle - count * QUARTER_TURN) - count * QUARTER_TURN_REST
    z = a * a
    sine = -2.5051131455427946e-08 + z * 1.591810123027412e-10
    sine = -0.0001984126983675497 + z * (2.755731610068303e-06 + z * sine)
    sine = a + a * z * (-0.16666666666666666 + z * (0.008333333333330946 + z * sine))
    cosine = 2.0876146024689747e-09 + z * -1.1382614868556325e-11
    cosine = 2.4801587298763433e-05 + z * (-2.7557317270560326e-07 + z * cosine)
    cosine = 1.0 - (0.5 * z - z * z * (0.041666666666666664 + z * (-0.0013888888888887395 + z * cosine)))
    quarter = count - 4.0 * ((count * 0.25 + ROUNDER) - ROUNDER)  # -2 to 2
    odd = quarter * quarter == 1.0
    first, second = (cosine, sine) if odd else (sine, cosine)
    return -first if quarter < 0.0 or quarter > 1.5 else first, -second if quarter > 0.5 or quarter < -1.5 else second


@inlined
def arc_tangent(height, base=1.0):
    """Arc tangent of height over base.

    height : of any size; base : above 0 [both in one unit]
    Returns the angle within 3e-16 [rad].  Source: atan t = pi/4 + atan((t - 1)/(t + 1)) = pi/2 - atan(1/t) brings t below tan(pi/8);
    there Chebyshev interpolation of atan(t)/t in t^2, derived here (what is left is below 4e-17).
    """
    size = abs(height)
    steep, middle = size > STEEP_TANGENT * base, size > EIGHTH_TANGENT * base
    over = -base if steep else (size - base if middle else size)
    under = size if steep else (size + base if middle else base)
    t = over / under
    z = t * t
    sum_ = 0.03922923713835943 + z * -0.01917392228554793
    sum_ = 0.05858132894427922 + z * (-0.05085365922344248 + z * sum_)
    sum_ = 0.07692183059894114 + z * (-0.06664509603255386 + z * sum_)
    sum_ = 0.11111111015117626 + z * (-0.09090904572487347 + z * sum_)
    sum_ = 0.19999999999995513 + z * (-0.1428571428466482 + z * sum_)
    angle = (pi / 2 if steep else (pi / 4 if middle else 0.0)) + (t + t * z * (-0.3333333333333333 + z * sum_))
    return -angle if height < 0.0 else angle
