"""Numbers that the program takes unless told otherwise, and the ranges that `spread --literature` draws, against what was measured."""

from math import pi

import pytest

from sim.coast.result import USUAL_DENSITY
from sim.scenario.car import BatteryTable, CarTable, TyreTable
from sim.scenario.course import CourseTable
from sim.spread.inputs import LITERATURE, WET_BELOW, WET_FRICTION

PER_RADIAN = 180 / pi
UNSET = TyreTable()


@pytest.mark.outside(
    "D3", what="Air density unless given, 15 degrees C at sea level: 1.225 kg/m³",
    source="ISA, as aerodynamics4students.com prints it", how="read",
)  # fmt: skip
def test_air_density(within_published):
    within_published(CourseTable.model_fields["air_density_kg_per_m3"].default, 1.225, 0.0005)
    within_published(USUAL_DENSITY, 1.225, 0.0005)


@pytest.mark.outside(
    "T1", what="Relaxation length: the range ends where the latest measurement does and reaches into the only earlier one",
    source="Hjort and Niska, VTI rapport 952, 2018 (abstract)", how="read", within="300 mm; 67 to 150 mm",
)  # fmt: skip
def test_relaxation_length(within_published):
    """200 to 300 mm, "2 to 3 times the only earlier study"."""
    low, high = LITERATURE["relaxation_length_mm"]
    within_published(high, 300.0, 0.5)
    assert 200 / 3 <= low <= 300 / 2
    assert low <= UNSET.relaxation_length_mm <= high


@pytest.mark.outside(
    "T6", what="Pneumatic trail: the range holds the estimates for a brush, 9.0 and 10.5 mm, and for a string, 21.4 mm",
    source="contact length 4 F / (pi p width), worked out; nobody's measurement", how="worked", within="inside 6 to 25 mm",
)  # fmt: skip
@pytest.mark.parametrize("estimate_mm", [9.0, 10.5, 21.4])
def test_pneumatic_trail(estimate_mm):
    low, high = LITERATURE["pneumatic_trail_mm"]
    assert low < estimate_mm < high
    assert 9.0 < UNSET.pneumatic_trail_mm < 21.4


@pytest.mark.outside(
    "T7", what="Grip of school electric race cars on the road: dry 0.9 to 1.0, soaking 0.4",
    source="cauc-f24.org, B. Carter, from accident logs", how="read", within="0.9 unless given; dry to 1.0; wet 0.3 to 0.6 holds 0.4",
)  # fmt: skip
def test_grip(within_published):
    """How far the dry range reaches down to 0.7, and how wide the wet one is, are judgements."""
    within_published(UNSET.friction, 0.9, 0.05)
    within_published(LITERATURE["friction"][1], 1.0, 0.05)
    assert WET_FRICTION[0] < 0.4 < WET_FRICTION[1] < WET_BELOW < LITERATURE["friction"][0] < 0.9


@pytest.mark.outside(
    "T8", what="Cornering stiffness of fourteen bicycle tyres, 22 to 50 mm wide: 0.15 to 0.35 of the load per degree, middle 14.3 per rad",
    source="A. E. Dressel, dissertation, Milwaukee, 2013 (abstract; the unit is taken to be per degree)", how="read",
)  # fmt: skip
def test_cornering_stiffness(within_published):
    low, high = LITERATURE["cornering_stiffness_per_rad"]
    within_published(low, 0.15 * PER_RADIAN, 0.005 * PER_RADIAN)
    within_published(high, 0.35 * PER_RADIAN, 0.005 * PER_RADIAN)
    within_published(UNSET.cornering_stiffness_per_rad, 0.25 * PER_RADIAN, 0.005 * PER_RADIAN)


@pytest.mark.outside(
    "T8", what="Camber stiffness of the same tyres: 0.0075 to 0.015 of the load per degree, middle 0.64 per rad",
    source="A. E. Dressel, dissertation, Milwaukee, 2013 (abstract; the unit is taken to be per degree)", how="read",
)  # fmt: skip
def test_camber_stiffness(within_published):
    within_published(UNSET.camber_stiffness_per_rad, 0.01125 * PER_RADIAN, 0.00005 * PER_RADIAN)


@pytest.mark.outside(
    "D1, T10", what="Rolling coefficient: from good bicycle tyres, 0.003 to 0.0042, to small scooter tyres, 0.015; pressure and "
    "temperature make a factor of two to three each",
    source="bikeforums.net, kb.shoelace.biz, scootify.eco; Rothhämel, Int. J. Vehicle Systems Modelling and Testing 17, 2023 (abstract)",
    how="read", within="0.015; 0.003 to 0.0042; the range is wider than a factor of 3",
)  # fmt: skip
def test_rolling_coefficient(within_published):
    low, high = LITERATURE["rolling_resistance"]
    within_published(high, 0.015, 0.0005)
    assert 0.003 <= low <= 0.0042
    assert high / low > 3.0
    assert low < UNSET.rolling_resistance < high


@pytest.mark.outside(
    "D2", what="Drag area: from less than a fully faired recumbent, 0.0466 m² within a tenth, to a cyclist at work, 0.473 m²",
    source="springer.com table of a climb (0.473, read); Gross, Kyle and Malewicki, 1983 (0.0466, from memory)", how="memory",
    within="0.05 to 0.45 lies inside; nobody's measurement of a car of this kind",
)  # fmt: skip
def test_drag_area():
    low, high = LITERATURE["drag_area_m2"]
    assert 0.0466 < low < CarTable.model_fields["drag_area_m2"].default < high < 0.473


@pytest.mark.outside(
    "B2", what="Exponent of the battery's rate law unless given: sealed lead-acid with glass mat, 1.05 to 1.15",
    source="fxsolver.com, Peukert's law", how="read", within="1.12 lies inside",
)  # fmt: skip
def test_rate_exponent():
    assert 1.05 < BatteryTable.model_fields["peukert_exponent"].default < 1.15
