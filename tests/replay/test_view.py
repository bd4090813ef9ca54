"""World to screen: which way is up, and back again."""

from math import radians

import numpy as np
import pytest

from viz.replay.view import Rect, View


@pytest.mark.parametrize("heading", [0.0, 1.1, -2.5])
def test_ahead_goes_up_the_screen_and_left_goes_left(heading):
    view = View.ground((100.0, 80.0), (3.0, 4.0), 50.0, 2.0, heading)
    ahead = (3.0 + np.cos(heading), 4.0 + np.sin(heading))
    left = (3.0 - np.sin(heading), 4.0 + np.cos(heading))
    assert view.screen((3.0, 4.0)) == pytest.approx((200.0, 160.0), rel=1e-12, abs=0)
    assert view.screen(ahead) == pytest.approx((200.0, 60.0), rel=0, abs=1e-9)
    assert view.screen(left) == pytest.approx((100.0, 160.0), rel=0, abs=1e-9)
    assert view.scale == pytest.approx(100.0, rel=1e-12, abs=0)


def test_there_and_back():
    view = View.ground((10.0, 20.0), (1.0, -2.0), 37.0, 1.5, radians(33))
    assert view.world(*view.screen((5.0, 6.0))) == pytest.approx((5.0, 6.0), rel=0, abs=1e-9)
    places = np.array([(5.0, 6.0), (-1.0, 2.0)])
    assert view.screens(places) == pytest.approx(np.array([view.screen(tuple(one)) for one in places]), rel=0, abs=1e-9)


def test_plot_has_its_corners_in_the_rectangle():
    view = View.plot(Rect(10.0, 20.0, 200.0, 100.0), (0.0, 50.0), (-1.0, 1.0), 2.0)
    assert view.screen((0.0, -1.0)) == pytest.approx((20.0, 240.0), rel=1e-12, abs=0)
    assert view.screen((50.0, 1.0)) == pytest.approx((420.0, 40.0), rel=1e-12, abs=0)
