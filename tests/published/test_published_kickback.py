"""Kick-back against printed values: step force, lever arms."""

from math import cos, radians, sqrt, tan

import numpy as np
import pytest

from sim.linkages.pivots import stub_axles, turntable_axle
from sim.steering.kickback import levers, speed_kept, step_force, torque_arms


@pytest.mark.outside(
    "K2", what="Lever arms of a kingpin that leans 12 degrees: 26.861 mm at the ground, 78.252 mm at the hub",
    source="geometry, worked out; hub arm's formula: Reimpell et al., The Automotive Chassis (from memory)", how="worked",
)  # fmt: skip
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


STEPS = {  # wheel radius m: height mm and force over load
    0.25: [(5, 0.203059), (10, 0.291667), (20, 0.425998), (30, 0.539743), (50, 0.750000)],
    0.20: [(5, 0.227902), (10, 0.328684), (20, 0.484322), (30, 0.619744), (50, 0.881917)],
}


@pytest.mark.outside(
    "K1", what="Force of a step of 5 to 50 mm on wheels of 0.25 and 0.20 m, over their load",
    source="W sqrt(2 r h - h²) / (r - h), worked out", how="worked",
)  # fmt: skip
@pytest.mark.parametrize(("radius", "height_mm", "printed"), [(radius, *row) for radius, rows in STEPS.items() for row in rows])
def test_step_force_table(radius, height_mm, printed, within_published):
    """Published values K1."""
    within_published(step_force(1.0, radius, height_mm * 1e-3), printed, 0.5e-6)


@pytest.mark.outside(
    "K4", what="Speed and energy that a free wheel keeps when it meets a step of 20 mm: hoop 0.96, disc 0.946667; 7.84 and 10.38 % lost",
    source="angular momentum about the step's edge, classical mechanics, worked out", how="worked",
)  # fmt: skip
@pytest.mark.parametrize(("spin", "ratio", "lost_percent"), [(1.0, 0.96000, 7.84), (0.5, 0.946667, 10.38)])
def test_wheel_that_meets_a_step(spin, ratio, lost_percent, within_published):
    """Published values K4: r 0.25 m, h 20 mm."""
    kept = speed_kept(0.25, 0.020, spin)
    within_published(kept, ratio, 0.5e-6)
    within_published(100 * (1 - kept**2), lost_percent, 0.005)


@pytest.mark.outside(
    "K1", what="Force that lifts a wheel of 0.8 kg over half its radius: 13.6 N",
    source="Halliday, Resnick, Walker, Fundamentals of Physics, ch. 12, as coursehero.com/file/6255184 prints it", how="read",
)  # fmt: skip
def test_step_force_of_the_textbook(within_published):
    """Halliday, Resnick and Walker, ch. 12: 0.800 kg, r 6 cm, h 3 cm, g 9.80: 13.6 N (answer seen)."""
    ours = step_force(0.800 * 9.80, 0.06, 0.03)
    u_input = sqrt((ours * 0.0005 / 0.8) ** 2 + (ours * 0.005 / 9.8) ** 2)
    within_published(ours, 13.6, 0.05, u_input)


@pytest.mark.outside(
    "K2, K3", what="Torque of a 20 mm step about a kingpin 50 mm away and about a turntable: 8.358 and 66.86 N m",
    source="step force times arm, worked out", how="worked",
)  # fmt: skip
def test_tie_rod_of_the_worked_step(within_published):
    """Published values K2: 40 kg on the wheel, r 0.25 m, step 20 mm: 167.162 N, on 50 mm 8.3581 N m; K3: turntable of 0.80 m 66.86 N m."""
    force = step_force(40 * 9.81, 0.25, 0.020)
    within_published(force, 167.162, 0.0005)
    within_published(force * levers(stub_axles(0.8, 0.7, 0.25, 0.0, 0.0)[0]).hub, 8.3581, 0.00005)
    within_published(force * levers(turntable_axle(0.8, 0.25, 0.0, 0.0)[0]).hub, 66.86, 0.005)
