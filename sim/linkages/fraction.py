"""A share of ideal steering: the difference of the wheels' angles is p times the ideal one at the same mean angle."""

from dataclasses import dataclass
from math import asin, hypot, pi, sqrt

import numpy as np

from sim.keys import Dial, Span
from sim.linkages.front_end import FrontEnd, number
from sim.linkages.kind import Hand, Kind
from sim.linkages.parts import SteerLaw

MOST_STEPS = 80  # halving alone comes to the last bit of an angle in 60
LAST_BIT = 4e-16  # [rad]
STRAIGHT = 1e-9  # below it mean and hand angle differ by their third power, far less than the last bit [rad]


@dataclass(frozen=True)
class Share:
    """What is its own: the share of the ideal difference [-]."""

    share: float = number("fraction", -2, 2, "0 is parallel, 1 ideal, below 0 reversed", needed=True, usual=0.5, search=Span(-0.5, 1.5),
                          dial=Dial("share of ideal", "", 0.05))  # fmt: skip


@dataclass(frozen=True)
class Fraction:
    """The law for the wheels' angles M + p D and M - p D, where D is ideal at the mean angle M.

    share : p [-]
    half_track_over_wheelbase : half the kingpin track by the wheelbase [-]
    """

    share: float
    half_track_over_wheelbase: float

    @property
    def _tilt(self) -> float:
        k = self.half_track_over_wheelbase
        return k / hypot(1.0, k)

    @property
    def most_mean(self) -> float:
        """The mean angle at which a wheel turns no further [rad].  Source: derived here: p dD/dM = 1."""
        tilt, share = self._tilt, abs(self.share)
        if tilt * share <= 1:
            return pi / 2
        return asin(sqrt((1 / tilt**2 - 1) / (share**2 - 1))) / 2

    def half_difference(self, mean: np.ndarray) -> np.ndarray:
        """Half the difference of left and right angle, p D.

        mean : (n,) M, between 0 and a right angle [rad]
        Returns p D (n,) [rad].  Source: derived here: cot(M - D) - cot(M + D) = 2 k is
        sin 2D - k cos 2D = -k cos 2M, so with sin e = k / hypot(1, k): 2 D = e - asin(sin e cos 2M).
        """
        return self.share * (asin(self._tilt) - np.arcsin(self._tilt * np.cos(2 * mean))) / 2

    def half_rate(self, mean: np.ndarray) -> np.ndarray:
        """Rate of half the difference with the mean angle.

        mean : (n,) M, as there [rad]
        Returns p dD/dM (n,) [-].  Source: derivative of `half_difference`.
        """
        return self.share * self._tilt * np.sin(2 * mean) / np.sqrt(1 - (self._tilt * np.cos(2 * mean)) ** 2)

    def hand(self, mean: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The hand angle h, cot h = (cot d_left + cot d_right) / 2, and its rate with the mean angle.

        mean : (n,) M, above 0 [rad]
        Returns (h, dh/dM), (n,) each, [rad] and [-].
        Source: derived here: tan h = (sin^2 M - sin^2 pD) / (sin M cos M).
        """
        half, half_rate = self.half_difference(mean), self.half_rate(mean)
        up, along = np.sin(mean) ** 2 - np.sin(half) ** 2, np.sin(mean) * np.cos(mean)
        up_rate, along_rate = np.sin(2 * mean) - np.sin(2 * half) * half_rate, np.cos(2 * mean)
        return np.arctan2(up, along), (up_rate * along - up * along_rate) / (up**2 + along**2)

    def mean(self, hand: np.ndarray) -> np.ndarray:
        """The mean angle that belongs to a hand angle.

        hand : (n,) h, from 0 to the law's end [rad]
        Returns M (n,) [rad].  Source: Newton's steps, halved where they leave the bracket.
        """
        low, high = np.zeros_like(hand), np.full_like(hand, self.most_mean)
        mean, straight = hand, hand < STRAIGHT
        for _ in range(MOST_STEPS):
            busy = high - low > LAST_BIT
            mean = np.where(busy & (mean > low) & (mean < high), mean, (low + high) / 2)
            # Straight ahead is answered below; here it would only divide 0 by 0.
            value, rate = self.hand(np.where(straight, 1.0, mean))
            low, high = np.where(value <= hand, mean, low), np.where(value >= hand, mean, high)
            step = (hand - value) / np.where(rate > 0, rate, np.inf)
            if np.all((np.abs(step) <= LAST_BIT) & (rate > 0) | ~busy | straight):
                break
            mean = mean + step
        return np.where(straight, hand, mean)

    def __call__(self, hand: np.ndarray) -> np.ndarray:
        """Angles of both wheels before toe.

        hand : (n,) not beyond the law's end [rad]
        Returns (n, 2), left and right [rad].
        """
        return self._at(hand, self.mean(np.abs(hand)))

    def motion(self, hand: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Angles of both wheels, and their rate with the hand angle.

        hand : (n,) not beyond the law's end [rad]
        Returns both, (n, 2) each [rad], [-].  Source: derivatives of `hand` and of half the difference.
        """
        mean = self.mean(np.abs(hand))
        bent = mean > STRAIGHT
        rate = np.where(bent, 1 / self.hand(np.where(bent, mean, 1.0))[1], 1.0)
        apart = np.sign(hand) * self.half_rate(mean)
        return self._at(hand, mean), rate[:, None] * np.stack([1 + apart, 1 - apart], axis=1)

    def _at(self, hand: np.ndarray, mean: np.ndarray) -> np.ndarray:
        """Angles (n, 2) at hand angles (n,) whose sizes belong to mean angles (n,)."""
        half = self.half_difference(mean)
        mean = np.copysign(mean, hand)
        return np.stack([mean + half, mean - half], axis=1)


def build(front: FrontEnd) -> SteerLaw:
    """Wheels that follow a fraction of ideal steering.

    front : FrontEnd with a Share
    Returns the law; its hand angle is the equivalent single-track steer angle before toe [rad].
    """
    law = Fraction(front.own.share, front.kingpin_track / 2 / front.wheelbase)
    end = float(law.hand(np.array([law.most_mean]))[0][0])
    return SteerLaw(front.wheels, law, front.stance.toe_in, end, even=True)


KIND = Kind("fraction", build, Hand.STEER, own=Share, yardstick=True)
