"""Threads and rods against printed values.

The labels (M1 ...) are those of the project's list of published values.  Figures that were worked out for the project from a
stated formula, and not printed elsewhere, are marked so; u is half a unit of their last digit all the same.
"""

from math import degrees

import numpy as np
import pytest

from sim.bench.advice import running_straight
from sim.bench.as_built import ERRORS, ROD_LEFT, ROD_RIGHT, make_plan
from sim.scenario.car import CarTable
from sim.scenario.setup import SetupTable
from sim.steering.threads import COARSE_MM, engagement_turns, minor_diameter, pitch_diameter

# M1: diameter, pitch, d_2, D_1 mm.  ISO 724 from memory; pitches, H = 0.866 P and 1.0825 P read in public tables of ISO 261 and 68-1.
DIAMETERS = [
    (6, 1.0, 5.350, 4.917), (6, 0.75, 5.513, 5.188), (8, 1.25, 7.188, 6.647), (8, 1.0, 7.350, 6.917), (10, 1.5, 9.026, 8.376),
    (10, 1.25, 9.188, 8.647), (10, 1.0, 9.350, 8.917), (12, 1.75, 10.863, 10.106), (12, 1.5, 11.026, 10.376), (12, 1.25, 11.188, 10.647),
]  # fmt: skip
# M1: pitch mm, toe change of one wheel for a turn of a single thread, and for a turn of a tube between a right- and a left-hand
# thread (two pitches), deg; at a 100 mm arm square to its rod.  Pitches: ISO 261, read in two public tables.  Angles: worked
# for the project.
M1 = [
    ("M6", 1.0, 0.573, 1.146), ("M6 x 0.75", 0.75, 0.430, 0.859), ("M8", 1.25, 0.716, 1.432), ("M8 x 1", 1.0, 0.573, 1.146),
    ("M10", 1.5, 0.859, 1.719), ("M10 x 1.25", 1.25, 0.716, 1.432), ("M10 x 1", 1.0, 0.573, 1.146), ("M12", 1.75, 1.003, 2.005),
    ("M12 x 1.5", 1.5, 0.859, 1.719), ("M12 x 1.25", 1.25, 0.716, 1.432),
]  # fmt: skip


def car_of(**keys):
    return CarTable(**{
        "mass_kg": 150.0, "wheelbase_mm": 1500.0, "front_track_mm": 800.0, "rear_track_mm": 700.0, "kingpin_track_mm": 800.0,
        "mass_centre_behind_front_axle_mm": 750.0, "mass_centre_height_mm": 350.0, "yaw_inertia_kg_m2": 38.0, "wheel_radius_mm": 203.0,
        "drive": "differential",
    } | keys)  # fmt: skip


def square_arms(pitch):
    """Arms of 100 mm straight back, the rods square to them."""
    setup = SetupTable(
        name="published", pivot="stub axles", linkage="centre arm", arm_length_mm=100.0, arm_angle_deg=0.0, drop_arm_length_mm=70.0,
        drop_arm_behind_front_axle_mm=100.0, thread_pitch_mm=pitch,
    )  # fmt: skip
    return make_plan(setup, car_of(), "published", "setup[0]")


@pytest.mark.outside(
    "M1", what="Pitch diameter and inner thread's least diameter of M6 to M12, coarse and fine", source="ISO 724", how="memory",
)  # fmt: skip
@pytest.mark.parametrize(("diameter", "pitch", "pitch_mm", "minor_mm"), DIAMETERS)
def test_m1_diameters(within_published, diameter, pitch, pitch_mm, minor_mm):
    within_published(1e3 * pitch_diameter(diameter * 1e-3, pitch * 1e-3), pitch_mm, 0.0005)
    within_published(1e3 * minor_diameter(diameter * 1e-3, pitch * 1e-3), minor_mm, 0.0005)


@pytest.mark.outside(
    "M1", what="Coarse pitches of M6 to M12 rod ends", source="ISO 261, as induspecs.com and diyproject.ai print it", how="read",
)  # fmt: skip
@pytest.mark.parametrize(("diameter", "pitch"), [(6, 1.0), (8, 1.25), (10, 1.5), (12, 1.75)])
def test_m1_coarse_pitches(within_published, diameter, pitch):
    (ours,) = (known for known, size in COARSE_MM.items() if size == diameter)
    within_published(ours, pitch, 0.005)


@pytest.mark.outside(
    "M1, M2", what="Toe of one wheel for a turn of a rod end, and of a tube between a right- and a left-hand thread",
    source="pitch over a 100 mm arm, worked out; two pitches a turn of the tube: ssprofab.com", how="worked",
)  # fmt: skip
@pytest.mark.parametrize(("thread", "pitch", "single", "tube"), M1, ids=[row[0] for row in M1])
def test_m1_toe_of_one_wheel_for_a_turn(within_published, thread, pitch, single, tube):
    """M1 and M2 (one turn of a tube moves two pitches; read in a builder's guide: M12 x 1.75 moves 3.5 mm)."""
    plan = square_arms(pitch)
    for turns, printed in ((1.0, single), (2.0, tube)):
        errors = np.zeros(ERRORS)
        errors[ROD_LEFT] = turns
        left, right = np.degrees(plan.built(errors).front_wheels(np.zeros(1)).steer[0])
        within_published(abs(left), printed, 0.0005)
        within_published(right, 0.0, 0.0)
        # Both rods: each wheel alike, and no more
        errors[ROD_RIGHT] = turns
        within_published(degrees(running_straight(plan, errors)[1]), printed, 0.0005)


@pytest.mark.outside("M1", what="A cross rod shares the turn's toe between both wheels", source="geometry, worked out", how="worked")
def test_m1_a_cross_rod_shares_the_turn(within_published):
    """ "A cross rod shares the change between both wheels": half of it each, running straight."""
    setup = SetupTable(
        name="published", pivot="stub axles", linkage="cross rod", arm_length_mm=100.0, arm_angle_deg=0.0, thread_pitch_mm=1.25,
    )  # fmt: skip
    errors = np.zeros(ERRORS)
    errors[ROD_LEFT] = 1.0
    plan = make_plan(setup, car_of(), "published", "setup[0]")
    within_published(degrees(running_straight(plan, errors)[1]), 0.716 / 2, 0.0005)


@pytest.mark.outside(
    "M3", what="Least thread in a rod end: 1.5 diameters, 21 mm of M14, 9.0 to 10.3 turns of the coarse threads",
    source="locostbuilders.co.uk, thread 53258 (builders' practice)", how="read",
)  # fmt: skip
@pytest.mark.parametrize(("diameter", "turns"), [(6, 9.0), (8, 9.6), (10, 10.0), (12, 10.3)])
def test_m3_least_engagement(within_published, diameter, turns):
    """1.5 d in turns of the coarse thread (worked for the project); 1.5 d and M14 -> 21 mm read in a builders' forum."""
    pitch = next(pitch for pitch, known in COARSE_MM.items() if known == diameter)
    within_published(engagement_turns(pitch * 1e-3, diameter * 1e-3), turns, 0.05)
    within_published(engagement_turns(1e-3, 14e-3), 21.0, 0.5)
