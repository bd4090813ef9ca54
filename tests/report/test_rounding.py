"""Numbers as they are printed: their differences and sums are those of what is printed."""

from hypothesis import given
from hypothesis import strategies as st

from viz.shared.rounding import shown, shown_less, shown_sum, tenths

VALUES = st.floats(-1e6, 1e6)


@given(VALUES, VALUES, st.integers(0, 4))
def test_who_takes_one_printed_number_from_another_finds_the_printed_difference(more, less, digits):
    found = float(f"{more:.{digits}f}") - float(f"{less:.{digits}f}")
    assert f"{shown_less(more, less, digits):.{digits}f}" == f"{round(found, digits) + 0.0:.{digits}f}"


@given(st.lists(VALUES, max_size=6), st.integers(0, 3))
def test_who_adds_printed_numbers_up_finds_the_printed_sum(values, digits):
    printed = [int(f"{value:.{digits}f}".replace(".", "")) for value in values]
    assert round(shown_sum(values, digits) * 10**digits) == sum(printed)


def test_41_and_23_are_18_apart():
    """17 stood there once: 40.6 less 23.4, rounded afterwards."""
    assert (shown(40.6, 0), shown(23.4, 0), shown_less(40.6, 23.4, 0)) == (41, 23, 18)
    assert tenths(-0.04) == "0.0"
    assert shown_sum([0.34, 0.34, 0.34]) == 0.9
