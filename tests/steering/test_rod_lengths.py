"""Each rod's length from eye to eye, straight ahead with the planned toe, found a second time by a root search in space."""

from math import radians, tan

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.spatial.transform import Rotation

from sim.steering.threads import minor_diameter, pitch_diameter
from sim.study.dangers import rods_of

TRACK, RADIUS = 0.740, 0.203
ARM, KINK = 0.110, radians(13.9)
LEANING = {"kingpin_inclination_deg": 9.0, "caster_deg": 7.0, "toe_in_deg": 0.8, "arm_length_mm": 110.0, "arm_angle_deg": 13.9}
CENTRE_ARM = {"linkage": "centre arm", "drop_arm_length_mm": 70.0, "drop_arm_behind_front_axle_mm": 107.0,
              "drop_arm_joint_spacing_mm": 60.0, "arm_joint_height_mm": 180.0, "drop_arm_pivot_height_mm": 265.0}  # fmt: skip
RACK = {"linkage": "rack", "rack_behind_front_axle_mm": 140.0, "rack_length_mm": 320.0, "rack_mm_per_turn": 60.0}


def joint_at_toe(side, toe_deg, height):
    """The arm's joint (3,) [m] of a wheel whose line on the ground stands at its toe; side is 1 on the left, -1 on the right.

    The kingpin meets the ground at half its track and, seen from the side, the axle's line at the wheel's centre; the wheel stands upright
    at swing 0 and swings about the leaning axis until its spin axis points where the toe asks for.
    """
    inclination, caster = radians(9.0), radians(7.0)
    direction = np.array([-tan(caster), -side * tan(inclination), 1.0])

    def on_axis(z):
        return np.array([-(z - RADIUS) * tan(caster), side * (TRACK / 2 - z * tan(inclination)), z])

    def turned(vector, swing):
        return Rotation.from_rotvec(swing * direction / np.linalg.norm(direction)).apply(vector)

    wanted = -side * radians(toe_deg)  # toe-in turns the leading edge inwards

    def miss(swing):
        spin = turned(np.array([0.0, 1.0, 0.0]), swing)
        return np.arctan2(-spin[0], spin[1]) - wanted

    swing = brentq(miss, -0.5, 0.5, xtol=1e-15, rtol=1e-14)
    foot = on_axis(height)
    return foot + turned(ARM * np.array([-np.cos(KINK), -side * np.sin(KINK), 0.0]), swing)


def lengths(steering):
    return {rod.name: 1e-3 * rod.length_mm for rod in rods_of(steering)}


def test_cross_rod_with_leaning_kingpins(build):
    found = np.linalg.norm(joint_at_toe(1, 0.8, RADIUS) - joint_at_toe(-1, 0.8, RADIUS))
    assert lengths(build(linkage="cross rod", **LEANING)) == {"cross rod": pytest.approx(found, rel=0, abs=1e-9)}


def test_drop_arm_with_leaning_kingpins(build):
    """Rods from a drop arm's two joints, higher than those of the arms."""
    for side, name in ((1, "left rod"), (-1, "right rod")):
        end = np.array([-0.107, side * 0.030, 0.265 - 0.070])
        found = np.linalg.norm(joint_at_toe(side, 0.8, 0.180) - end)
        assert lengths(build(**CENTRE_ARM, **LEANING))[name] == pytest.approx(found, rel=0, abs=1e-9)


def test_rack_with_leaning_kingpins(build):
    for side, name in ((1, "left rod"), (-1, "right rod")):
        end = np.array([-0.140, side * 0.160, RADIUS])
        found = np.linalg.norm(joint_at_toe(side, 0.8, RADIUS) - end)
        assert lengths(build(**RACK, **LEANING))[name] == pytest.approx(found, rel=0, abs=1e-9)


def test_a_threads_triangle_has_angles_of_60_degrees():
    # Height H of a triangle on a base of one pitch: tan 60 = H / (P / 2); both diameters by the shares of it that the profile cuts.
    height = 1.25e-3 / 2 * np.tan(np.radians(60.0))
    assert pitch_diameter(8e-3, 1.25e-3) == pytest.approx(8e-3 - 2 * 3 / 8 * height, rel=1e-12, abs=0)
    assert minor_diameter(8e-3, 1.25e-3) == pytest.approx(8e-3 - 2 * 5 / 8 * height, rel=1e-12, abs=0)
