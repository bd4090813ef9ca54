"""Kick-back against printed values: step force, lever arms."""

from math import cos, radians, sqrt, tan

import numpy as np
import pytest

from sim.steering.kickback import levers, step_force, torque_arms
from sim.steering.pivots import stub_axles, turntable_axle


def test_levers_of_inclined_kingpin(within_published):
    """Published values K2: hub offset 80 mm, inclination 12 degrees, r 0.25 m: 26.861 and 78.252 mm (geometry, recomputed there)."""
    wheel = stub_axles(2 * 0.5, 2 * (0.5 - 0.080 + 0.25 * tan(radians(12))), 0.25, radians(12), 0.0)[0]
    arms = levers(wheel)
    within_published(1e3 * arms.ground, 26.861, 0.0005)
    within_published(1e3 * arms.hub, 78.252, 0.0005)
    straight = torque_arms(wheel, np.zeros(1))
    # A force backwards outside the axis turns a left wheel to the left, so the arm of a forward force is the lever, negative.
    assert straight.hub[0] == pytest.approx(-arms.hub, rel=1e-12, abs=0)
    assert straight.ground[0] == pytest.approx(-arms.ground * cos(radians(12)), rel=1e-12, abs=0)


@pytest.mark.parametrize(("height_mm", "printed"), [(5, 0.203059), (10, 0.291667), (20, 0.425998), (30, 0.539743), (50, 0.75)])
def test_step_force_table(height_mm, printed, within_published):
    """Published values K1, r 0.25 m: force over load (recomputed there)."""
    within_published(step_force(1.0, 0.25, height_mm * 1e-3), printed, 0.5e-6)


def test_step_force_of_the_textbook(within_published):
    """Halliday, Resnick and Walker, ch. 12: 0.800 kg, r 6 cm, h 3 cm, g 9.80: 13.6 N (answer seen)."""
    ours = step_force(0.800 * 9.80, 0.06, 0.03)
    u_input = sqrt((ours * 0.0005 / 0.8) ** 2 + (ours * 0.005 / 9.8) ** 2)
    within_published(ours, 13.6, 0.05, u_input)


def test_tie_rod_of_the_worked_step(within_published):
    """Published values K2: 40 kg on the wheel, r 0.25 m, step 20 mm: 167.162 N, on 50 mm 8.3581 N m; K3: turntable of 0.80 m 66.86 N m."""
    force = step_force(40 * 9.81, 0.25, 0.020)
    within_published(force, 167.162, 0.0005)
    within_published(force * levers(stub_axles(0.8, 0.7, 0.25, 0.0, 0.0)[0]).hub, 8.3581, 0.00005)
    within_published(force * levers(turntable_axle(0.8, 0.25, 0.0, 0.0)[0]).hub, 66.86, 0.005)
