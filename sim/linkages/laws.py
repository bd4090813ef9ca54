"""The law of two wheels whose angles differ by a share of the ideal difference: all of it is ideal steering, none of it parallel."""

from dataclasses import dataclass
from math import asin, atan2, hypot, pi, sqrt

import numpy as np

from sim.kernels.compiled import inlined, kernel
from sim.kernels.trigonometry import arc_tangent, sine_cosine

MOST_STEPS = 80  # halving alone comes to the last bit of an angle in 60
LAST_BIT = 4e-16  # [rad]
STRAIGHT = 1e-9  # below it mean and hand angle differ by their third power, far less than the last bit [rad]


@inlined
def half_difference(share, half_track, sine, cosine):
    """Half the difference of left and right angle, p D, at a mean angle M, and its rate with that.

    share : p; half_track : k, half the kingpin track by the wheelbase; sine, cosine : of M [-]
    Returns (p D [rad], p dD/dM [-]).  Source: derived here: cot(M - D) - cot(M + D) = 2 k is
    sin 2D - k cos 2D = -k cos 2M, so with sin e = k / hypot(1, k): 2 D = e - asin(sin e cos 2M).
    """
    tilt = half_track / sqrt(1.0 + half_track * half_track)
    level = tilt * (cosine - sine) * (cosine + sine)
    root = sqrt((1.0 - level) * (1.0 + level))
    half = 0.5 * share * (arc_tangent(tilt, sqrt((1.0 - tilt) * (1.0 + tilt))) - arc_tangent(level, root))
    return half, 2.0 * share * tilt * sine * cosine / root


@inlined
def hand_parts(share, half_track, mean):
    """The hand angle h that belongs to a mean angle M, cot h = (cot d_left + cot d_right) / 2, without an angle.

    share, half_track : as for `half_difference` [-]; mean : M, above 0 [rad]
    Returns (u, a, du/dM, da/dM) [-] with tan h = u / a.  Source: derived here: tan h = (sin^2 M - sin^2 pD) / (sin M cos M).
    """
    sine, cosine = sine_cosine(mean)
    half, rate = half_difference(share, half_track, sine, cosine)
    half_sine, half_cosine = sine_cosine(half)
    return (
        (sine - half_sine) * (sine + half_sine), sine * cosine,
        2.0 * (sine * cosine - half_sine * half_cosine * rate), (cosine - sine) * (cosine + sine),
    )  # fmt: skip


@inlined
def step_of_mean(share, half_track, sine, cosine, mean, low, high):
    """One step towards the mean angle that belongs to a hand angle; halved where it leaves its bracket.

    share, half_track : as for `half_difference` [-]; sine, cosine : of the hand angle h [-]; mean, low, high : M so far, its bracket [rad]
    Returns all three anew [rad].  Source: Newton's method for u cos h = a sin h, see `hand_parts`.
    """
    up, along, up_rate, along_rate = hand_parts(share, half_track, mean)
    miss, rate = up * cosine - along * sine, up_rate * cosine - along_rate * sine
    low, high = mean if miss <= 0.0 else low, mean if miss >= 0.0 else high
    there = mean - miss / rate
    return there if low <= there <= high else 0.5 * (low + high), low, high


@inlined
def rate_of_mean(share, half_track, mean):
    """Rate of the mean angle with the hand angle.  share, half_track, mean : as for `hand_parts` [-], [rad].  Returns it [-].

    Source: derivative of `hand_parts`.
    """
    up, along, up_rate, along_rate = hand_parts(share, half_track, mean)
    return (up * up + along * along) / (up_rate * along - up * along_rate)


@kernel
def most_hand(share, half_track, most):
    """The hand angle at the law's end.

    share, half_track : as for `half_difference` [-]; most : the mean angle there [rad]
    Returns it [rad].
    """
    up, along, _, _ = hand_parts(share, half_track, most)
    return atan2(up, along)


@dataclass(frozen=True)
class ShareLaw:
    """The law for the wheels' angles M + p D and M - p D, where D is ideal at the mean angle M.

    share : p [-]
    half_track : half the kingpin track by the wheelbase [-]
    """

    share: float
    half_track: float

    @property
    def most_mean(self) -> float:
        """The mean angle at which a wheel turns no further [rad].  Source: derived here: p dD/dM = 1."""
        tilt, share = self.half_track / hypot(1.0, self.half_track), abs(self.share)
        if tilt * share <= 1:
            return pi / 2
        return asin(sqrt((1 / tilt**2 - 1) / (share**2 - 1))) / 2

    @property
    def end(self) -> float:
        """The hand angle there [rad]; without end for all of the ideal difference and for none."""
        return np.inf if self.share in (0.0, 1.0) else float(most_hand(self.share, self.half_track, self.most_mean))
