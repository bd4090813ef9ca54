"""The battery: a voltage behind a resistance, and a charge that shrinks with the current."""

from math import sqrt
from typing import NamedTuple

from sim.kernels.compiled import kernel


class Battery(NamedTuple):
    """All blocks in series, SI; a named tuple because kernels read its fields by name."""

    open_voltage: float  # V_0 [V]
    internal_resistance: float  # R_i [ohm]
    capacity: float  # C, at the rated time's current [A s]
    rated_time: float  # H [s]
    exponent: float  # of the rate law, k [-]
    usable_share: float  # of the charge [-]


NO_BATTERY = Battery(0.0, 0.0, 1.0, 1.0, 1.0, 1.0)


@kernel
def battery_current(battery, power):
    """Battery current for an electrical power, from V_0 I = P + R_i I^2.

    battery : Battery; power : below 0 when it is charged [W]
    Returns the current [A]; where the power is more than the battery has, V_0 / (2 R_i), its most.  Source: Kirchhoff's law.
    """
    if battery.internal_resistance == 0.0:
        return power / battery.open_voltage
    root = battery.open_voltage * battery.open_voltage - 4.0 * battery.internal_resistance * power
    return (battery.open_voltage - sqrt(max(root, 0.0))) / (2.0 * battery.internal_resistance)


@kernel
def charge_rate(battery, current):
    """Rate at which the rated charge is used up, I (I / I_H)^(k - 1) above the rated current I_H = C / H.

    battery : Battery; current [A]
    Returns the rate [A].  Source: Peukert's law in the form t = H (C / (I H))^k with C rated at H hours; at each moment's current,
    which is common practice, no source.  At or below the rated current, and when charged, charge counts as it is.
    """
    rated = battery.capacity / battery.rated_time
    return current * (current / rated) ** (battery.exponent - 1.0) if current > rated else current


def discharge_time(battery: Battery, current: float) -> float:
    """Time in which a constant current empties the battery, t = H (C / (I H))^k above the rated current.

    battery : Battery; current : above 0 [A]
    Returns the time [s].  Source: as for `charge_rate`.
    """
    return battery.capacity / charge_rate(battery, current)
