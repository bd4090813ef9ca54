"""The energy ledger of a lap: where the drive work went, and what does not add up."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sim.car.chassis import Car
from sim.lap.state import State

if TYPE_CHECKING:
    from sim.lap.drive import Lap

WORST_RESIDUAL = 1e-4  # share of the drive work above which a lap has no figures, and a run says so in its first lines


@dataclass(frozen=True)
class Ledger:
    """Energies of one lap [J]; arrays are (4,) in the order of `chassis.WHEELS`."""

    drive_work: float
    hand_work: float  # what the driver's hands put in against the aligning torque
    kinetic: float  # gained
    air: float
    rolling: float
    brakes: float
    height: float
    lateral: np.ndarray
    longitudinal: np.ndarray
    aligning: float
    deflection: float  # gained in the tyres' side deflection
    rub: np.ndarray  # slip distance of each tyre [m]
    electric: "Electric | None" = None  # None where the car has no motor

    @property
    def scrub(self) -> float:
        """Lateral and longitudinal slip loss of all wheels [J]."""
        return float(self.lateral.sum() + self.longitudinal.sum())

    @property
    def residual(self) -> float:
        """What is left of the balance, as a share of the drive work, or of all that was lost where nothing drove."""
        regenerated = self.electric.regenerated if self.electric else 0.0
        out = self.air + self.rolling + self.brakes + regenerated + self.scrub + self.aligning
        left = self.drive_work + self.hand_work - self.kinetic - self.height - self.deflection - out
        return left / max(self.drive_work, abs(out), 1e-9)


@dataclass(frozen=True)
class Electric:
    """What motor and battery did in one lap [J]."""

    battery: float  # given by the battery's cells
    copper: float
    no_load: float
    gear: float
    battery_heat: float
    regenerated: float  # braked by the motor, at the treads
    charge: float  # [A s]
    used_charge: float  # the same by the rate law [A s]

    def residual(self, drive_work: float) -> float:
        """What is left of the electrical balance, as a share of what the battery gave.  drive_work [J]."""
        out = drive_work - self.regenerated + self.copper + self.no_load + self.gear + self.battery_heat
        return (self.battery - out) / max(abs(self.battery), 1e-9)


def kinetic_energy(car: Car, state: np.ndarray) -> float:
    """Kinetic energy m v^2 / 2 + I_z r^2 / 2.  car : Car; state : (STATES,) of a lap.  Returns [J].  Source: mechanics."""
    square = state[State.VX] ** 2 + state[State.VY] ** 2
    return float(0.5 * car.mass * square + 0.5 * car.yaw_inertia * state[State.YAW_RATE] ** 2)


def ledger_of(car: Car, lap: "Lap") -> Ledger:
    """The ledger of a lap.  car : Car; lap : Lap.  The sums were integrated with the state, in the same steps."""
    return ledger_between(car, lap.start, lap.end)


def ledger_between(car: Car, start: np.ndarray, end: np.ndarray) -> Ledger:
    """The ledger between two states of a lap.  car : Car; start, end : (STATES,) [SI]."""
    return Ledger(
        drive_work=float(end[State.DRIVE_WORK]),
        hand_work=float(end[State.HAND_WORK]),
        kinetic=kinetic_energy(car, end) - kinetic_energy(car, start),
        air=float(end[State.AIR]),
        rolling=float(end[State.ROLLING]),
        brakes=float(end[State.BRAKES]),
        height=float(end[State.HEIGHT]),
        lateral=end[State.LATERAL : State.LATERAL + 4].copy(),
        longitudinal=end[State.LONGITUDINAL : State.LONGITUDINAL + 4].copy(),
        aligning=float(end[State.ALIGNING]),
        deflection=float(end[State.STORED]),
        rub=end[State.RUB : State.RUB + 4].copy(),
        electric=_electric(end) if car.motor.torque_constant > 0 else None,
    )


def _electric(end: np.ndarray) -> Electric:
    return Electric(
        battery=float(end[State.BATTERY]), copper=float(end[State.COPPER]), no_load=float(end[State.NO_LOAD]), gear=float(end[State.GEAR]),
        battery_heat=float(end[State.BATTERY_WARMTH]), regenerated=float(end[State.REGENERATED]), charge=float(end[State.CHARGE]),
        used_charge=float(end[State.USED_CHARGE]),
    )  # fmt: skip


def causes(ledger: Ledger) -> dict[str, float]:
    """Losses of a lap by cause in plain words [J].  ledger : Ledger."""
    electric = ledger.electric
    return {
        "air drag": ledger.air,
        "rolling resistance": ledger.rolling,
        "brakes": ledger.brakes,
        "tyres twisting on the road": ledger.aligning,
        "front tyres slipping sideways": float(ledger.lateral[:2].sum()),
        "rear tyres slipping sideways": float(ledger.lateral[2:].sum()),
        "tyres slipping lengthways": float(ledger.longitudinal.sum()),
    } | ({"motor and gear": electric.copper + electric.no_load + electric.gear, "battery": electric.battery_heat} if electric else {})


def main_cause(worst: Ledger, best: Ledger) -> str:
    """Where most of the difference between two laps goes.  worst, best : Ledger.  Returns a name of `causes`."""
    high, low = causes(worst), causes(best)
    return max(high, key=lambda name: high[name] - low[name])
