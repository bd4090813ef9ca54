"""The turn that a held hand wheel makes: the inverse of the steady turn, found from any hand angle, or refused with its cause."""

from math import radians

import numpy as np
import pytest

from sim.steering.table import SteerColumn
from sim.turn.held import held_turn
from sim.turn.steady import steady_turn

KINDS = {
    "cross rod": {"linkage": "cross rod", "arm_length_mm": 110, "arm_angle_deg": 13.9},
    "parallel": {"linkage": "parallel"},
    "rack": {"linkage": "rack", "arm_length_mm": 110, "arm_angle_deg": 13.9, "rack_behind_front_axle_mm": 107, "rack_length_mm": 240,
             "rack_mm_per_turn": 62},
}  # fmt: skip


def hands_of(table):
    """Hand angles at both ends of a table [rad]."""
    return float(table.cells[0, SteerColumn.HAND, 0]), float(table.cells[-1, SteerColumn.HAND].sum())


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("drive", ["one wheel left", "solid axle"])
def test_it_is_the_turn_whose_hand_angle_it_was_given(vehicle, kind, drive):
    car, table = vehicle("standard", car={"drive": drive}, **KINDS[kind])
    tried = 0
    for radius in (2.6, -3.0, 5.0, -8.0, 30.0, -300.0):
        for speed in (0.3, 1.5, 3.0):
            wanted = steady_turn(car, table, radius, speed)
            if not wanted.converged:
                continue
            tried += 1
            found = held_turn(car, table, wanted.hand, speed)
            assert found.curvature == pytest.approx(1 / radius, rel=1e-6, abs=1e-7)
            assert found.turn.slips == pytest.approx(wanted.slips, rel=1e-5, abs=1e-8)
            assert found.turn.drive_force == pytest.approx(wanted.drive_force, rel=1e-6, abs=0)
    assert tried > 12


def test_straight_ahead_with_one_driven_wheel_the_car_goes_round_a_wide_bend(vehicle):
    """The wheel at the left pushes the car to the right."""
    car, table = vehicle("standard", car={"drive": "one wheel left"}, **KINDS["parallel"])
    found = held_turn(car, table, 0.0, 11.7)
    assert found.turn.hand == pytest.approx(0.0, rel=0, abs=1e-7)
    assert -0.01 < found.curvature < 0


@pytest.mark.compiled
def test_any_hand_angle_at_any_speed_is_a_turn_or_a_cause(vehicle):
    """Where it says that there is none, no tighter or wider turn that the car can make has the hand wheel there."""
    car, table = vehicle("standard", **KINDS["cross rod"])
    low, high = hands_of(table)
    rng = np.random.default_rng(3)
    none = 0
    for _ in range(24):
        hand, speed = rng.uniform(low, high), rng.uniform(0.2, 9.0)
        found = held_turn(car, table, hand, speed)
        if found.turn.converged:
            assert found.turn.hand == pytest.approx(hand, rel=0, abs=1e-7)
            again = steady_turn(car, table, 1 / found.curvature, speed)
            assert again.hand == pytest.approx(hand, rel=0, abs=1e-6)
            continue
        none += 1
        assert found.turn.reason
        assert np.isnan(found.curvature)
        side = np.sign(hand)
        turns = [steady_turn(car, table, side / curvature, speed) for curvature in np.linspace(0.01, 0.8, 20)]
        assert all(side * (turn.hand - hand) < 0 for turn in turns if turn.converged)
    assert 3 < none < 21


@pytest.mark.compiled
def test_beyond_the_lock_the_hand_wheel_stands_at_it(vehicle):
    car, table = vehicle("standard", **KINDS["parallel"])
    for end in hands_of(table):
        found = held_turn(car, table, 3 * end, 0.8)
        assert found.turn.hand == pytest.approx(end, rel=0, abs=1e-7)


def test_no_turn_without_speed(vehicle):
    car, table = vehicle("standard", **KINDS["parallel"])
    with pytest.raises(ValueError, match="a speed above 0"):
        held_turn(car, table, radians(10), 0.0)
