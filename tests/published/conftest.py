"""The one rule by which a published value is met; what it compares goes onto the page of outside checks."""

from math import sqrt

import pytest


@pytest.fixture
def within_published(request):
    """Assert |S - D| <= 2 sqrt(u_D^2 + u_input^2 + u_num^2), after the usual practice of verification and validation."""

    def check(ours, printed, u_printed, u_input=0.0, u_numeric=1e-12):
        allowed = 2 * sqrt(u_printed**2 + u_input**2 + u_numeric**2)
        request.node.user_properties.append(("compared", (float(ours), float(printed), float(allowed))))
        assert abs(ours - printed) <= allowed, f"{ours} is {abs(ours - printed):.3g} from {printed}, allowed {allowed:.3g}"

    return check
