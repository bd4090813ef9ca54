"""Threads, rods and the drag of toe against printed values.

The labels (M1 ...) are those of the project's list of published values.  Figures that were worked out for the project from a
stated formula, and not printed elsewhere, are marked so; u is half a unit of their last digit all the same.
"""

from math import degrees, radians

import numpy as np
import pytest

from sim.chassis import GRAVITY
from sim.ladder import rolling_turn
from sim.scenario import CarTable, SetupTable, TyreTable
from sim.steering import build_steering, steer_table
from sim.steering.advice import running_straight
from sim.steering.as_built import ERRORS, ROD_LEFT, ROD_RIGHT, make_plan
from sim.steering.threads import COARSE_MM, engagement_turns, minor_diameter, pitch_diameter

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


def test_m1_a_cross_rod_shares_the_turn(within_published):
    """"A cross rod shares the change between both wheels": half of it each, running straight."""
    setup = SetupTable(
        name="published", pivot="stub axles", linkage="cross rod", arm_length_mm=100.0, arm_angle_deg=0.0, thread_pitch_mm=1.25,
    )  # fmt: skip
    errors = np.zeros(ERRORS)
    errors[ROD_LEFT] = 1.0
    plan = make_plan(setup, car_of(), "published", "setup[0]")
    within_published(degrees(running_straight(plan, errors)[1]), 0.716 / 2, 0.0005)


@pytest.mark.parametrize(("diameter", "turns"), [(6, 9.0), (8, 9.6), (10, 10.0), (12, 10.3)])
def test_m3_least_engagement(within_published, diameter, turns):
    """1.5 d in turns of the coarse thread (worked for the project); 1.5 d and M14 -> 21 mm read in a builders' forum."""
    pitch = next(pitch for pitch, known in COARSE_MM.items() if known == diameter)
    within_published(engagement_turns(pitch * 1e-3, diameter * 1e-3), turns, 0.05)
    within_published(engagement_turns(1e-3, 14e-3), 21.0, 0.5)


def toe_drag(toe_deg, **keys):
    """Drag of toe on both front wheels at F_z = m g / 4 [N]."""
    table = car_of(tyre=TyreTable(cornering_stiffness_per_rad=12.0), **keys)
    setup = SetupTable(name="published", pivot="stub axles", linkage="ideal", toe_in_deg=toe_deg)
    car = table.car(1.225)
    return rolling_turn(car, steer_table(build_steering(setup, table, "published", "setup[0]"), car.wheelbase), 0.0).scrub


@pytest.mark.parametrize(("toe_deg", "coefficient"), [(0.25, 0.000228), (0.5, 0.000914), (1.0, 0.003655)])
def test_e2_toe_as_rolling_coefficient(within_published, toe_deg, coefficient):
    """c toe^2, worked for the project, a law for small angles.  The list goes on to 2 and 3 degrees, where the law's own next
    term, toe^2 / 6 of it, shows in the printed digits: see the next test."""
    within_published(toe_drag(toe_deg) / (2 * 150.0 * GRAVITY / 4), coefficient, 0.5e-6)


@pytest.mark.parametrize(("toe_deg", "coefficient"), [(2.0, 0.014622), (3.0, 0.032899)])
def test_e2_beyond_small_angles(within_published, toe_deg, coefficient):
    """Our drag C tan(toe)^2 cos(toe) is the printed c toe^2 times 1 + toe^2 / 6, to the fourth order."""
    ours = toe_drag(toe_deg) / (2 * 150.0 * GRAVITY / 4)
    within_published(ours / (1 + radians(toe_deg) ** 2 / 6), coefficient, 0.5e-6)


def test_e2_energy_of_a_kilometre(within_published):
    """Car K, 1 degree on both front wheels: 2689 J/km = 0.747 Wh/km; worked for the project."""
    within_published(toe_drag(1.0) * 1000, 2689.0, 0.5)
    within_published(toe_drag(1.0) * 1000 / 3600, 0.747, 0.0005)
