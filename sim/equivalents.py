"""Everyday equivalents of a loss: what a team would have to change elsewhere to lose or gain the same."""

from dataclasses import dataclass
from math import degrees, sqrt

from sim.chassis import GRAVITY, Car, axle_loads
from sim.energy import Ledger
from sim.tyre import cornering_stiffness


@dataclass(frozen=True)
class Equivalents:
    """The same energy in other words.  Tyre pressure is not among them: no published relation for such tyres was found."""

    rolling_coefficient: float  # change of C_rr on all wheels [-]
    toe_deg: float  # toe of each front wheel [degrees]
    driver_kg: float  # mass on board [kg]


def equivalents(loss: float, car: Car, ledger: Ledger, length: float) -> Equivalents:
    """What a loss is worth.

    loss : of one lap [J], 0 or more; car : Car; ledger : of the lap; length : of the lap [m]
    Returns Equivalents.  Source: rolling m g L C_rr; toe drag 2 C e^2 (derived from the linear tyre; its square law was measured by
    Vander Wiel et al., RESNA 2016); mass: rolling, scrub, aligning and brake losses are in proportion to it.
    """
    front = axle_loads(car)[0] / 2
    stiffness = cornering_stiffness(car.front_tyre, front, car.mass * GRAVITY / 4)
    by_mass = ledger.rolling + ledger.scrub + ledger.aligning + ledger.brakes
    return Equivalents(
        rolling_coefficient=loss / (car.mass * GRAVITY * length),
        toe_deg=degrees(sqrt(loss / (2 * stiffness * length))),
        driver_kg=loss * car.mass / by_mass if by_mass > 0 else 0.0,
    )
