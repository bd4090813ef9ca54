"""The tyre against the literature."""

from math import atan, degrees, radians, sin, tan

import pytest

from sim.car.brush import ALL_SLIDES, kept, kept_moment, normalised_side_slip, slip_of_excess
from sim.car.tyre import BRUSH, Tyre, relaxation_rate


@pytest.mark.outside(
    "T4", what="Side force reaches 63.2, 86.5 and 95.0 % after one, two and three relaxation lengths",
    source="Pacejka 2006 p. 22, Cossalter 2006 p. 58, as review.clateway.com quotes them; digits worked out", how="worked",
)  # fmt: skip
@pytest.mark.parametrize(("lengths", "printed"), [(1, 0.632121), (2, 0.864665), (3, 0.950213)])
def test_response_to_a_step(within_published, lengths, printed):
    # Relaxation length: distance to 63 % of the steady force (Pacejka 2006 p. 22, Cossalter 2006 p. 58, as quoted at
    # review.clateway.com, Relaxation_length); six digits from the exponential.
    def rolled(steps):
        slip, step = 0.0, lengths * 0.12 / 5.0 / steps
        for _ in range(steps):
            one = relaxation_rate(slip, 5.0, -5.0, 0.12)
            two = relaxation_rate(slip + step / 2 * one, 5.0, -5.0, 0.12)
            three = relaxation_rate(slip + step / 2 * two, 5.0, -5.0, 0.12)
            slip += step / 6 * (one + 2 * two + 2 * three + relaxation_rate(slip + step * three, 5.0, -5.0, 0.12))
        return slip

    within_published(rolled(100), printed, 5e-7, u_numeric=abs(rolled(100) - rolled(200)))


# Brush tyre with a parabola of pressure; formulas of Pacejka, Tire and Vehicle Dynamics, ch. 3, from memory, so that the values are
# computed and no page is quoted: C 5000 N/rad, load 500 N, friction 0.8, half contact length 0.05 m.
BRUSH_LOAD = 500.0
BRUSH_TYRE = Tyre(5000.0 / BRUSH_LOAD, 0.0, 10.0, 0.12, 0.05 / 3, 0.0, 0.8, 0.0, BRUSH)


def brush(slip_deg):
    """(side force [N], aligning moment [N m], drag along the path [N]) at a slip angle."""
    across, full = normalised_side_slip(BRUSH_TYRE, BRUSH_LOAD, BRUSH_LOAD, tan(radians(slip_deg)), 0.0), 3 * 0.8 * BRUSH_LOAD
    force = full * across * kept(across)
    return force, -BRUSH_TYRE.pneumatic_trail * full * across * kept_moment(across), force * sin(radians(slip_deg))


@pytest.mark.outside(
    "T5", what="Brush tyre with a parabola of pressure: side force, aligning moment, trail and drag from 0.5 to 10 degrees",
    source="Pacejka, Tire and Vehicle Dynamics, ch. 3 (from memory; the values are worked out)", how="memory",
)  # fmt: skip
@pytest.mark.parametrize(("slip_deg", "side", "moment", "trail_mm", "drag"), [
    (0.5, 42.0669, -0.65076, 15.4696, 0.3671), (1, 81.0817, -1.15974, 14.3033, 1.4151), (2, 150.4306, -1.81566, 12.0697, 5.2500),
    (3, 208.9836, -2.08557, 9.9796, 10.9374), (5, 297.3562, -1.87087, 6.2917, 25.9163), (8, 371.5318, -0.83353, 2.2435, 51.7072),
    (10, 392.5305, -0.27439, 0.6990, 68.1622),
])  # fmt: skip
def test_brush_tyre_from_memory(within_published, slip_deg, side, moment, trail_mm, drag):
    ours = brush(slip_deg)
    within_published(ours[0], side, 5e-5)
    within_published(ours[1], moment, 5e-6)
    within_published(-1e3 * ours[1] / ours[0], trail_mm, 5e-5)
    within_published(ours[2], drag, 5e-5)


@pytest.mark.outside(
    "T5", what="The same tyre slides altogether from 13.4957 degrees on", source="Pacejka, ch. 3 (from memory; worked out)", how="memory",
)  # fmt: skip
def test_brush_tyre_slides_altogether_from_memory(within_published):
    # Full sliding at tan a = 1 / theta, 13.4957 degrees; beyond it the grip, 400 N, and no moment.
    within_published(degrees(atan(slip_of_excess(BRUSH_TYRE, ALL_SLIDES))), 13.4957, 5e-5)
    for slip_deg in (13.5, 20.0):
        within_published(brush(slip_deg)[0], 400.0, 5e-5)
        assert brush(slip_deg)[1] == 0.0
