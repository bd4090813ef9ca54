"""What stands at the head of each sheet with a scale: two lines hold all of it, whatever stops the hand wheel; the end was cut off."""

from dataclasses import replace

import pytest

from sim.study.dangers import Dangers
from sim.template.plan import Mark, Protractor
from viz.shared.dangers import danger_lines
from viz.shared.figures import folded
from viz.template.paper import INCH, MARGIN, PAPERS, SMALL
from viz.template.words import sheet_words

DANGERS = Dangers(112.4, 121.7, "left", -109.6, -118.8, "right", danger_left_deg=112.4, danger_right_deg=-109.6)
SCALE = Protractor("right front wheel", "kingpin", -370.0, -80.0, 0.0, -40, 40, 300.0, (), (Mark("A", 1.0),))


class OnlyDangers:
    """As much of a plan as the words ask for."""

    def __init__(self, dangers):
        self.dangers = dangers


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("own", [None, 90.0, 111.0, 360.0])
def test_two_lines_hold_the_head_of_a_sheet(paper, own):
    words = sheet_words(SCALE, OnlyDangers(replace(DANGERS, own_stop_deg=own)))
    assert words.startswith("Stops, at the hand wheel: before 112.4 deg left, 109.6 deg right")
    late = {None: "", 90.0: "; yours at 90.0 is before that", 111.0: "; yours at 111.0 is too late: move it",
            360.0: "; yours at 360.0 is too late: move it"}  # fmt: skip
    assert words.partition(". Degrees")[0].endswith(f"right{late[own]}")
    assert len(folded(words, (PAPERS[paper][0] - 2 * MARGIN) / INCH, SMALL)) <= 2


def test_a_stop_that_is_late_to_one_side_says_which():
    one = replace(DANGERS, own_stop_deg=111.0)
    assert danger_lines(one)[0].endswith("; your stop at 111.0 deg stands past 109.6 right: move it before 109.6.")
    both = replace(DANGERS, own_stop_deg=115.0)
    assert danger_lines(both)[0].endswith("; your stop at 115.0 deg stands past 109.6: move it before 109.6.")
