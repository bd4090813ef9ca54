"""Tyres that slip beyond what their law is meant for, in words, alike in every command."""

from collections.abc import Sequence

import numpy as np

from sim.car.brush import ALL_SLIDES, slip_of_excess
from sim.car.chassis import Car
from sim.car.tyre import LAWS, LINEAR, Tyre

# The linear law is trusted up to the slip at which its side force lies by this share above that of a tyre that gives way; a judgement.
TRUSTED_EXCESS = 1 / 3


def trusted_slip(tyre: Tyre) -> float:
    """Slip up to which a tyre's law is trusted [rad]: the linear one to TRUSTED_EXCESS, the brush until all of its contact slides."""
    return slip_of_excess(tyre, TRUSTED_EXCESS if tyre.brush is LINEAR else ALL_SLIDES)


def large_slips(slips: Sequence[tuple[str, Sequence[float]]], car: Car) -> list[str]:
    """A warning where tyres slip beyond what the tyre law is meant for, else nothing.

    slips : name of each set-up and the slips of its four wheels, tangents of the angles [-]; car : whose tyres they are
    """
    if not slips:
        return []
    trusted = np.array([trusted_slip(tyre) for tyre in (car.front_tyre, car.front_tyre, car.rear_tyre, car.rear_tyre)])
    excess, slip, limit, name = max(
        (abs(peak) / most, abs(peak), most, name) for name, wheels in slips for peak, most in zip(wheels, trusted, strict=True)
    )
    if not excess > 1:
        return []
    linear = car.front_tyre.brush is LINEAR
    beyond = (
        f"its side force is {100 * TRUSTED_EXCESS:.0f} % and more above that of a tyre that gives way" if linear else
        "the whole contact slides, and how a sliding tyre's grip falls nobody has measured"
    )  # fmt: skip
    remedy = 'Compare with car.tyre.law = "brush"' if linear else "Do not trust differences between these set-ups"
    return [
        f'Warning: tyres slip up to {np.degrees(np.arctan(slip)):.1f} degrees ("{name}"). Beyond about '
        f"{np.degrees(np.arctan(limit)):.1f} degrees the {LAWS[0 if linear else 1]} law of the tyre is a guess: {beyond}. "
        f"{remedy}; less toe, wheels that agree, or a slower pace where the bend asks for the slip, lessen it."
    ]
