"""What mass is guessed to cost, against a heavier car in the same turn."""

from types import SimpleNamespace

import pytest

from sim.car.chassis import DIFFERENTIAL
from sim.car.motion import BodyColumn, WheelColumn
from sim.study.equivalents import guesses
from sim.turn.steady import steady_turn


def test_mass_is_guessed_by_what_a_heavier_car_loses(vehicle):
    """On tyres without load sensitivity a steady turn's rolling, scrub and aligning losses grow with the mass, and its air drag does not:
    the guess for the drive power that 10 kg more cost is 10 kg.  A trail of 25 mm makes the aligning loss a part that would be missed."""
    car, table = vehicle("K", tyre={"pneumatic_trail_mm": 25.0}, linkage="parallel")
    car = car._replace(drive=DIFFERENTIAL)
    plain, heavy = (steady_turn(car._replace(mass=mass), table, 6.0, 3.0) for mass in (150.0, 160.0))
    lost = SimpleNamespace(
        rolling=plain.body[BodyColumn.ROLLING_POWER], aligning=plain.body[BodyColumn.ALIGNING_POWER], brakes=0.0,
        scrub=plain.wheels[:, [WheelColumn.LATERAL_LOSS, WheelColumn.LONGITUDINAL_LOSS]].sum(),
    )  # fmt: skip
    assert lost.aligning > 0.02 * lost.scrub
    more = heavy.body[BodyColumn.DRIVE_POWER] - plain.body[BodyColumn.DRIVE_POWER]
    assert more > 0
    assert guesses(more, car, lost, 1.0)[2] == pytest.approx(10.0, rel=2e-3, abs=0)
