"""The tyre against the literature."""

import pytest

from sim.tyre import relaxation_rate


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
