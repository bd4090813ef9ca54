"""Everyday equivalents of a loss: what, added to the car with ideal steering, costs it the same drive work when it is driven.

A formula for each would be wrong by up to a factor of two: mass costs less on a car that hardly scrubs, and what scrub takes in a
bend before which the car brakes need not be braked away.  So the ideal car is driven with more and more of each, and what a loss is worth
is read off these laps.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import degrees, nan, sqrt

import numpy as np

from sim.car.chassis import GRAVITY, Car, axle_stiffnesses
from sim.kernels.splines import monotone_pieces, value_at
from sim.lap.ledger import Ledger

# Of the largest loss that is asked for: each yardstick is driven at these shares of what a formula guesses for it.
SHARES = (1 / 64, 1 / 16, 1 / 4, 1 / 2, 1.0)
LONGER = 1.5  # a yardstick that turns out too short is lengthened by this ...
MOST_LONGER = 5  # ... so often


@dataclass(frozen=True)
class Yardstick:
    """Extra drive work of the ideal car for amounts of one thing added to it."""

    amount: np.ndarray  # (n,) from 0 on, growing [the thing's unit]
    extra: np.ndarray  # (n,) [J]
    power: int  # with which power of the amount the extra work grows, nearly [-]

    def worth(self, loss: float) -> float:
        """The amount that costs a loss [the thing's unit]; NaN where no amount that was driven does.

        loss : [J].  Source: monotone interpolation between driven laps, in the power of the amount that makes them nearly a line.
        """
        # Only as far as the work grows with the amount can it be told from the work.
        grows = int(np.argmin(np.append(np.diff(self.extra) > 0, False))) + 1
        if grows < 2 or not 0 <= loss <= self.extra[grows - 1]:
            return nan
        extra = self.extra[:grows]
        return value_at(monotone_pieces(extra, self.amount[:grows] ** self.power), extra, loss) ** (1 / self.power)


@dataclass(frozen=True)
class Equivalents:
    """The same energy in other words.  Tyre pressure is not among them: no published relation for such tyres was found."""

    rolling_coefficient: float  # change of C_rr on all wheels [-]
    toe_deg: float  # toe-in of each front wheel [degrees]
    driver_kg: float  # mass on board [kg]


@dataclass(frozen=True)
class Yardsticks:
    """What losses are held against; one without a length where the model knows none, as the rolling bicycle knows no toe."""

    rolling: Yardstick  # coefficient on all wheels [-]
    toe: Yardstick  # of each front wheel [rad]
    mass: Yardstick  # on board [kg]

    def equivalents(self, loss: float) -> Equivalents:
        """What a loss is worth.  loss : of one lap [J]."""
        return Equivalents(self.rolling.worth(loss), degrees(self.toe.worth(loss)), self.mass.worth(loss))


NO_YARDSTICKS = Yardsticks(*(Yardstick(np.zeros(1), np.zeros(1), 1) for _ in range(3)))


def guesses(loss: float, car: Car, ledger: Ledger, length: float) -> tuple[float, float, float]:
    """About what costs a loss: rolling coefficient [-], toe [rad] and mass [kg]; where the yardsticks begin to be driven.

    loss : of one lap [J], 0 or more; car : Car; ledger : of its lap; length : of the lap [m]
    Source: rolling m g L C_rr; toe drag 2 C e^2 (derived from the linear tyre; its square law was measured by Vander Wiel et al.,
    RESNA 2016); mass: rolling, scrub, aligning and brake losses are in proportion to it.
    """
    by_mass = max(ledger.rolling + ledger.scrub + ledger.aligning + ledger.brakes, 1e-9)
    toe = sqrt(loss / (axle_stiffnesses(car)[0] * length))
    return loss / (car.mass * GRAVITY * length), toe, loss * car.mass / by_mass


def drive_yardstick(work: Callable[[float], float], least: float, most: float, guess: float, power: int, limit: float) -> Yardstick:
    """Drive the ideal car with more and more of one thing.

    work : amount [the thing's unit] to drive work [J], NaN where such a car does not come round
    least : drive work of the ideal car [J]; most : largest loss that will be asked for [J]
    guess : amount that costs about that much; power : with which power of the amount the work grows, nearly [-]
    limit : largest amount that a car may have
    Returns a Yardstick.
    """
    amounts, extras = [0.0], [0.0]
    planned = [guess * share ** (1 / power) for share in SHARES] + [guess * LONGER**k for k in range(1, MOST_LONGER + 1)]
    for count, amount in enumerate(planned):
        if amount > limit or (count >= len(SHARES) and extras[-1] >= most):
            break
        extra = work(amount) - least
        if not extra > extras[-1]:
            break
        amounts.append(amount)
        extras.append(extra)
    return Yardstick(np.array(amounts), np.array(extras), power)
